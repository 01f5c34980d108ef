//! The setpoint for one spot: every wheel speed that centres the crossing.

use rayon::prelude::*;

use super::curve::{ExitCurve, exit_at};
use super::doubt::{Doubt, doubt};
use super::lead::{Moved, MovingSd, lead, led, moved};
use crate::launcher::{Layout, Setting};
use crate::project::{Project, Spot};
use crate::shot::{Chain, Exit, Stance};
use crate::target::{Arrival, Outcome};

/// Convergence: a crossing this close to the centre is centred; a tape measure shows 1 mm.
const CENTRED_M: f64 = 1e-4;
/// Method: jumps of the crossing from the contact simulation's time step stay below this.
const STEP_SHOWS_M: f64 = 2e-3;
/// Convergence: most evaluations of the exact chain in one root.
const MOST_STEPS: usize = 40;
/// Method: half width of the speed difference behind "per 1 % of speed".
const SPEED_NUDGE_FRAC: f64 = 0.005;
/// Method: half width of the tilt difference behind "per degree of tilt".
const TILT_NUDGE_RAD: f64 = 0.5 * std::f64::consts::PI / 180.0;

/// Which of the two arcs through the centre of the opening a throw is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Arc {
    /// The flatter one.
    Low,
    /// The steeper one.
    High,
    /// Only one exists at this exit speed.
    Only,
}

impl Arc {
    /// The word shown.
    pub fn word(self) -> &'static str {
        match self {
            Arc::Low => "low",
            Arc::High => "high",
            Arc::Only => "only",
        }
    }
}

/// The other exit angle that would centre the crossing at the same exit speed and spin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Companion {
    /// Its elevation at the exit.
    pub angle_rad: f64,
    /// Its angle into the opening.
    pub entry_rad: f64,
}

/// One wheel speed that centres the crossing.
#[derive(Clone, Debug)]
pub struct Solution {
    /// Setpoint.
    pub wheel_radps: f64,
    /// Exit.
    pub exit: Exit,
    /// Flight and outcome.
    pub arrival: Arrival,
    /// Low, high or only arc.
    pub arc: Arc,
    /// The other arc at the same exit speed, if there is one.
    pub companion: Option<Companion>,
    /// Share of the top speed left above the setpoint.
    pub reserve_frac: f64,
    /// Movement of the crossing along the opening per +1 % of wheel speed.
    pub along_per_percent_m: f64,
    /// Movement of the crossing along the opening per +1° of tilt; `None` without a tilt knob.
    pub along_per_degree_m: Option<f64>,
    /// What is not known before the first test shots.
    pub doubt: Doubt,
    /// Angle from the line to the centre of the opening to the launcher's heading, left positive;
    /// 0 for a robot that stands.
    pub lead_rad: f64,
    /// Scatter that the robot's motion adds, one standard deviation; zero for one that stands.
    pub moving_sd: MovingSd,
    /// What the motion changes; `None` for a robot that stands.
    pub moved: Option<Moved>,
}

/// How far a spot is missed when no wheel speed centres it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Miss {
    /// The piece does not come through the launcher.
    Refused(&'static str),
    /// At the top speed the path stays below the rim.
    BelowRim,
    /// At the top speed it still comes down this far before the centre.
    Short {
        /// Distance short of the centre.
        by_m: f64,
    },
    /// At the lowest speed that reaches the rim it already comes down this far beyond the centre.
    Beyond {
        /// Distance beyond the centre.
        by_m: f64,
    },
}

/// What aiming found for one spot.
#[derive(Clone, Debug)]
pub struct SpotAim {
    /// The spot.
    pub spot: Spot,
    /// How it stands to the target, with the lead of the solution to use.
    pub stance: Stance,
    /// Solutions in order of wheel speed.
    pub solutions: Vec<Solution>,
    /// Index of the one to use.
    pub chosen: Option<usize>,
    /// Why there is none.
    pub miss: Option<Miss>,
}

impl SpotAim {
    /// The solution to use.
    pub fn best(&self) -> Option<&Solution> {
        self.chosen.and_then(|i| self.solutions.get(i))
    }
}

/// One line of the setpoint table.
#[derive(Clone, Debug)]
pub struct TableRow {
    /// Distance from the axle's plumb line to the near rim.
    pub distance_m: f64,
    /// What aiming found there, straight ahead.
    pub aim: SpotAim,
}

/// Aims from every spot of the project at a setting.
pub fn aim_all(project: &Project, chain: &Chain, curve: &ExitCurve, setting: &Setting) -> Vec<SpotAim> {
    project
        .spots
        .par_iter()
        .map(|spot| aim_spot(project, chain, curve, setting, spot))
        .collect()
}

/// Setpoints by distance, straight ahead of the target, from the first to the last spot.
pub fn table(
    project: &Project,
    chain: &Chain,
    curve: &ExitCurve,
    setting: &Setting,
    step_m: f64,
) -> Vec<TableRow> {
    /// Physical: nobody carries a longer table.
    const MOST_ROWS: f64 = 200.0;
    let Some((near, far)) = project
        .spot_range()
        .filter(|(near, far)| step_m > 0.0 && far >= near)
    else {
        return Vec::new();
    };
    let step_m = step_m.max((far - near) / MOST_ROWS);
    let first = (near / step_m).floor();
    let count = ((far / step_m).ceil() - first) as usize + 1;
    (0..count)
        .into_par_iter()
        .map(|i| (first + i as f64) * step_m)
        .filter(|d| *d > 0.0)
        .map(|distance_m| {
            let spot = Spot {
                name: String::new(),
                distance_m,
                offset_m: 0.0,
                heading_rad: 0.0,
            };
            TableRow {
                distance_m,
                aim: aim_spot(project, chain, curve, setting, &spot),
            }
        })
        .collect()
}

/// Aims from one spot: finds every wheel speed that centres the crossing along the opening.
pub fn aim_spot(
    project: &Project,
    chain: &Chain,
    curve: &ExitCurve,
    setting: &Setting,
    spot: &Spot,
) -> SpotAim {
    let roots = centring_speeds(chain, curve, setting, spot);
    let standing = if chain.moving.moves() {
        centring_speeds(&chain.standing(), curve, setting, spot)
    } else {
        Vec::new()
    };
    let solutions: Vec<Solution> = roots
        .iter()
        .filter_map(|&wheel| solution(project, chain, setting, spot, wheel, &standing))
        .collect();
    let limits = &project.limits;
    let merit = |s: &Solution| {
        let clear = s
            .arrival
            .clearance
            .map_or(f64::NEG_INFINITY, |c| c.least_m() - limits.clearance_m);
        let steep = match (limits.entry_angle_rad, &s.arrival.crossing) {
            (Some(asked), Some(c)) => (c.entry_rad - asked) * spot.distance_m.max(1.0),
            (Some(_), None) => f64::NEG_INFINITY,
            (None, _) => 0.0,
        };
        let spare = if s.reserve_frac < limits.speed_reserve_frac {
            -1.0
        } else {
            0.0
        };
        let inside = if s.arrival.outcome == Outcome::In {
            0.0
        } else {
            -1.0
        };
        clear.min(0.0) + steep.min(0.0) + spare + inside + 1e-3 * clear.clamp(-1.0, 1.0)
    };
    let chosen = (0..solutions.len()).max_by(|&a, &b| {
        let (x, y) = (merit(&solutions[a]), merit(&solutions[b]));
        x.total_cmp(&y)
    });
    let miss = if chosen.is_none() {
        Some(miss_at(chain, curve, spot))
    } else {
        None
    };
    let lead_rad = chosen.and_then(|i| solutions.get(i)).map_or(0.0, |s| s.lead_rad);
    SpotAim {
        spot: spot.clone(),
        stance: chain.stance_led(spot, lead_rad),
        solutions,
        chosen,
        miss,
    }
}

/// Along-error of the crossing for an exit; −∞ when it never comes to the opening from outside.
/// The launcher of a moving robot leads each exit so that it crosses on the centre line.
fn along_of(chain: &Chain, exit: Option<Exit>, spot: &Spot) -> f64 {
    exit.and_then(|e| led(chain, spot, &e))
        .map_or(f64::NEG_INFINITY, |(_, c)| c.along_m)
}

/// Centred flights by the interpolated curve alone: quick, for searches.
pub(super) fn curve_solution(chain: &Chain, curve: &ExitCurve, spot: &Spot) -> Vec<(f64, Arrival)> {
    let quick = |w: f64| along_of(chain, curve.at(w), spot);
    brackets(chain, curve, spot)
        .into_iter()
        .filter_map(|(lo, hi)| {
            let wheel = find_root(quick, lo, hi)?;
            let exit = curve.at(wheel)?;
            let (stance, _) = led(chain, spot, &exit)?;
            Some((wheel, chain.fly(&exit, &stance)))
        })
        .collect()
}

/// Neighbouring points of the curve between which the crossing passes the centre.
fn brackets(chain: &Chain, curve: &ExitCurve, spot: &Spot) -> Vec<(f64, f64)> {
    let along: Vec<f64> = curve
        .points
        .iter()
        .map(|p| along_of(chain, p.exit.as_ref().ok().copied(), spot))
        .collect();
    let mut brackets = Vec::new();
    for (p, a) in curve.points.windows(2).zip(along.windows(2)) {
        let refused = p[0].exit.is_err() || p[1].exit.is_err();
        if !refused && (a[0] < 0.0) != (a[1] < 0.0) {
            brackets.push((p[0].wheel_radps, p[1].wheel_radps));
        }
    }
    brackets
}

/// Every wheel speed that centres the crossing, by the exact chain.
fn centring_speeds(chain: &Chain, curve: &ExitCurve, setting: &Setting, spot: &Spot) -> Vec<f64> {
    let exact = |w: f64| along_of(chain, exit_at(chain, setting, w).ok(), spot);
    let quick = |w: f64| along_of(chain, curve.at(w), spot);
    brackets(chain, curve, spot)
        .into_iter()
        .filter_map(|(lo, hi)| {
            // The interpolated curve gives the neighbourhood; the exact chain decides.
            let guess = find_root(quick, lo, hi)?;
            let pad = 0.02 * (hi - lo);
            let (a, b) = ((guess - pad).max(lo), (guess + pad).min(hi));
            find_root(exact, a, b).or_else(|| find_root(exact, lo, hi))
        })
        .collect()
}

/// Root of an increasing-or-decreasing function that may be −∞ on one side: regula falsi
/// (Illinois) inside a bracket, bisection where a value is not finite.
fn find_root(f: impl Fn(f64) -> f64, lo: f64, hi: f64) -> Option<f64> {
    let (mut a, mut b) = (lo, hi);
    let (mut fa, mut fb) = (f(a), f(b));
    if (fa < 0.0) == (fb < 0.0) {
        return None;
    }
    let mut side = 0;
    for _ in 0..MOST_STEPS {
        let m = if fa.is_finite() && fb.is_finite() {
            b - fb * (b - a) / (fb - fa)
        } else {
            0.5 * (a + b)
        };
        let fm = f(m);
        if fm.abs() < CENTRED_M {
            return Some(m);
        }
        if (fm < 0.0) == (fa < 0.0) {
            (a, fa) = (m, fm);
            if side == -1 {
                fb *= 0.5;
            }
            side = -1;
        } else {
            (b, fb) = (m, fm);
            if side == 1 {
                fa *= 0.5;
            }
            side = 1;
        }
    }
    // The bracket has closed. Either the contact simulation's own step shows through, a fraction of a
    // millimetre, or the crossing leaps over the centre (the apex meets the rim) and there is no root.
    let (m, fm) = if fa.abs() < fb.abs() { (a, fa) } else { (b, fb) };
    (f(m).abs() < STEP_SHOWS_M && fm.is_finite()).then_some(m)
}

fn solution(
    project: &Project,
    chain: &Chain,
    setting: &Setting,
    spot: &Spot,
    wheel_radps: f64,
    standing_radps: &[f64],
) -> Option<Solution> {
    let exit = exit_at(chain, setting, wheel_radps).ok()?;
    let lead_rad = lead(chain, spot, &exit)?;
    let stance = chain.stance_led(spot, lead_rad);
    let stance = &stance;
    let along = |w: f64, s: &Setting| {
        exit_at(chain, s, w)
            .ok()
            .and_then(|e| chain.crossing(&e, stance))
            .map(|c| c.along_m)
    };
    let slope = |a: Option<f64>, b: Option<f64>, span: f64| match (a, b) {
        (Some(a), Some(b)) => (b - a) / span,
        _ => f64::NAN,
    };
    let d = SPEED_NUDGE_FRAC;
    let along_per_percent_m = slope(
        along(wheel_radps * (1.0 - d), setting),
        along(wheel_radps * (1.0 + d), setting),
        2.0 * d * 100.0,
    );
    let tilts = matches!(chain.launcher.layout, Layout::Pair(_)) || setting.reach_m > 0.0;
    let along_per_degree_m = (tilts && project.machine.knobs.tilt.is_some()).then(|| {
        let turned = |by: f64| Setting {
            tilt_rad: setting.tilt_rad + by,
            ..*setting
        };
        slope(
            along(wheel_radps, &turned(-TILT_NUDGE_RAD)),
            along(wheel_radps, &turned(TILT_NUDGE_RAD)),
            2.0 * TILT_NUDGE_RAD.to_degrees(),
        )
    });
    let nearest = |a: &f64, b: &f64| (a - wheel_radps).abs().total_cmp(&(b - wheel_radps).abs());
    let standing_radps = standing_radps.iter().copied().min_by(nearest);
    let moved = moved(chain, spot, &exit, lead_rad, standing_radps);
    let (arc, companion) = companion(chain, &exit, spot);
    Some(Solution {
        wheel_radps,
        exit,
        arrival: chain.fly(&exit, stance),
        arc,
        companion,
        reserve_frac: 1.0 - wheel_radps / chain.top_radps,
        along_per_percent_m,
        along_per_degree_m,
        doubt: doubt(project, setting, spot, lead_rad, wheel_radps, along_per_percent_m),
        lead_rad,
        moving_sd: moved.as_ref().map_or_else(MovingSd::default, |m| m.sd(project)),
        moved,
    })
}

/// The other elevation that centres the crossing at the same speed and spin.
fn companion(chain: &Chain, exit: &Exit, spot: &Spot) -> (Arc, Option<Companion>) {
    /// Method: scan step; the two arcs of a useful throw are further apart.
    const STEP_RAD: f64 = 2.0 * std::f64::consts::PI / 180.0;
    /// Physical: closer than this the two arcs are one.
    const SAME_RAD: f64 = 0.2 * std::f64::consts::PI / 180.0;
    let along = |angle_rad: f64| along_of(chain, Some(Exit { angle_rad, ..*exit }), spot);
    let mut found: Option<f64> = None;
    let mut angle = -10f64.to_radians();
    let mut before = along(angle);
    while angle < 88f64.to_radians() {
        let next = angle + STEP_RAD;
        let after = along(next);
        if (before < 0.0) != (after < 0.0)
            && let Some(root) = find_root(along, angle, next)
            && (root - exit.angle_rad).abs() > SAME_RAD
            && found.is_none_or(|f: f64| (root - exit.angle_rad).abs() < (f - exit.angle_rad).abs())
        {
            found = Some(root);
        }
        (angle, before) = (next, after);
    }
    match found {
        None => (Arc::Only, None),
        Some(angle_rad) => {
            let entry_rad =
                led(chain, spot, &Exit { angle_rad, ..*exit }).map_or(f64::NAN, |(_, c)| c.entry_rad);
            let arc = if exit.angle_rad < angle_rad {
                Arc::Low
            } else {
                Arc::High
            };
            (arc, Some(Companion { angle_rad, entry_rad }))
        }
    }
}

pub(super) fn miss_at(chain: &Chain, curve: &ExitCurve, spot: &Spot) -> Miss {
    if let Some(why) = curve.refused_at_top() {
        return Miss::Refused(why);
    }
    let top = curve.points.last().and_then(|p| p.exit.as_ref().ok().copied());
    match top.and_then(|e| led(chain, spot, &e)) {
        None => Miss::BelowRim,
        Some((_, c)) if c.along_m < 0.0 => Miss::Short { by_m: -c.along_m },
        Some(_) => {
            // The lowest speed that comes to the opening at all; below it the path stays under the rim.
            let least = curve
                .points
                .iter()
                .filter_map(|p| p.exit.as_ref().ok())
                .filter_map(|e| led(chain, spot, e))
                .map(|(_, c)| c.along_m)
                .filter(|a| *a > 0.0)
                .fold(f64::INFINITY, f64::min);
            Miss::Beyond { by_m: least }
        }
    }
}
