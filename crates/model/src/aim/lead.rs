//! Throwing on the move: the lead, and what the motion adds to the scatter.
//!
//! At one wheel speed the exit is fixed, and the lead is the one unknown that puts the crossing on
//! the centre line. The wheel speed is then found as for a robot that stands, along the opening.

use crate::project::{Project, Spot};
use crate::shot::{Chain, Exit, Stance};
use crate::target::Crossing;

/// Convergence: a crossing this close to the centre line is on it.
const LED_M: f64 = 1e-6;
/// Convergence: the secant needs three to five steps.
const MOST_STEPS: usize = 20;
/// Physical: a launcher that must face further away than this does not throw at the target.
const WIDEST_LEAD_RAD: f64 = 85.0 * std::f64::consts::PI / 180.0;

/// Scatter that the motion adds where the piece crosses, one standard deviation.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct MovingSd {
    /// Along the opening.
    pub along_m: f64,
    /// Across it.
    pub across_m: f64,
}

/// What the motion of the robot changes in one solution. The pairs are movements of the crossing,
/// along and across the opening, at the same wheel speed and lead.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moved {
    /// Setpoint of the same spot for a robot that stands; `None` when there is none.
    pub standing_radps: Option<f64>,
    /// Per speed more along.
    pub per_along_s: [f64; 2],
    /// Per speed more across; zero for a tank.
    pub per_across_s: [f64; 2],
    /// Per turn rate more.
    pub per_turn_m_per_radps: [f64; 2],
    /// Per time of a late release.
    pub per_late_mps: [f64; 2],
}

impl Moved {
    /// First-order scatter from the spreads of the motion, [jcgm-100] 5.1.2, uncorrelated inputs.
    ///
    /// ```text
    /// sd² = Σ (∂crossing/∂q · sd_q)²        q: along, across, turn_rate, late
    /// ```
    pub fn sd(&self, project: &Project) -> MovingSd {
        let of = |axis: usize| {
            self.parts(project)
                .iter()
                .filter_map(|(_, shift)| shift.get(axis))
                .map(|s| s * s)
                .sum::<f64>()
                .sqrt()
        };
        MovingSd {
            along_m: of(0),
            across_m: of(1),
        }
    }

    /// Movement of the crossing by one standard deviation of each quantity of the motion that has a
    /// spread, by key.
    pub fn parts(&self, project: &Project) -> Vec<(&'static str, [f64; 2])> {
        [
            ("moving.along", self.per_along_s),
            ("moving.across", self.per_across_s),
            ("moving.turn_rate", self.per_turn_m_per_radps),
            ("moving.late", self.per_late_mps),
        ]
        .into_iter()
        .filter_map(|(key, slope)| {
            let sd = project.spreads.get(key)?.sd();
            (sd > 0.0).then(|| (key, slope.map(|s| s * sd)))
        })
        .collect()
    }
}

/// The lead at which an exit from a spot crosses on the centre line; 0 for a robot that stands.
///
/// It is planned for a launcher without error of heading that releases on the moment, and it meets
/// a cross wind too. `None` where the exit does not come to the opening, or where the robot is faster
/// across than the throw.
///
/// Without air and with the release above the turning centre the throw in the field points straight
/// at the target where
///
/// ```text
/// v_h sin(lead) = −V_across        v_h: horizontal exit speed
/// ```
///
/// Elsewhere the secant on `across(lead) = 0` starts from there.
pub fn lead(chain: &Chain, spot: &Spot, exit: &Exit) -> Option<f64> {
    if !chain.moving.moves() {
        return Some(0.0);
    }
    let across = |lead_rad: f64| {
        let stance = chain.stance_planned(spot, lead_rad);
        chain.crossing(exit, &stance).map(|c| c.across_m)
    };
    let guess = first_guess(chain, spot, exit)?;
    let centre = {
        let stance = chain.stance_planned(spot, 0.0);
        chain.target.centre_m(&stance.at)
    };
    let range_m = centre[0].hypot(centre[1]);
    let (mut a, mut fa) = (guess, across(guess)?);
    if fa.abs() < LED_M {
        return Some(a);
    }
    let mut b = a - fa / range_m;
    for _ in 0..MOST_STEPS {
        if !(b.abs() < WIDEST_LEAD_RAD) {
            return None;
        }
        let fb = across(b)?;
        if fb.abs() < LED_M {
            return Some(b);
        }
        let step = fb * (b - a) / (fb - fa);
        (a, fa) = (b, fb);
        b -= step;
    }
    None
}

/// The lead that points the horizontal velocity in the field at the centre of the opening.
fn first_guess(chain: &Chain, spot: &Spot, exit: &Exit) -> Option<f64> {
    let stance = chain.stance_planned(spot, 0.0);
    let level_mps = exit.speed_mps * exit.angle_rad.cos();
    let [x, y] = stance.carried_mps(exit.forward_m);
    let (s, c) = stance.sight_rad.sin_cos();
    let sine = -(y * c - x * s) / level_mps;
    (sine.abs() < 1.0).then(|| sine.asin())
}

/// How an exit from a spot crosses, with the lead it needs.
pub(super) fn led(chain: &Chain, spot: &Spot, exit: &Exit) -> Option<(Stance, Crossing)> {
    let stance = chain.stance_led(spot, lead(chain, spot, exit)?);
    Some((stance, chain.crossing(exit, &stance)?))
}

/// Method: half widths of the differences behind the slopes; small against any real motion, large
/// against the rounding of a flight.
const SPEED_NUDGE_MPS: f64 = 0.02;
const TURN_NUDGE_RADPS: f64 = 0.02;
const LATE_NUDGE_S: f64 = 0.005;

/// What the motion changes for an exit from a spot at a lead, by central differences; `None` for a
/// robot that stands. `standing_radps` is handed on.
pub fn moved(
    chain: &Chain,
    spot: &Spot,
    exit: &Exit,
    lead_rad: f64,
    standing_radps: Option<f64>,
) -> Option<Moved> {
    if !chain.moving.moves() {
        return None;
    }
    let mut work = chain.clone();
    let mut slope = |half: f64, change: fn(&mut Chain, f64)| {
        let mut crossing = |by: f64| {
            change(&mut work, by);
            let stance = work.stance_led(spot, lead_rad);
            let c = work.crossing(exit, &stance);
            work.moving = chain.moving;
            c.map_or([f64::NAN; 2], |c| [c.along_m, c.across_m])
        };
        let ([a0, c0], [a1, c1]) = (crossing(-half), crossing(half));
        [(a1 - a0) / (2.0 * half), (c1 - c0) / (2.0 * half)]
    };
    Some(Moved {
        standing_radps,
        per_along_s: slope(SPEED_NUDGE_MPS, |c, by| c.moving.along_mps += by),
        // A tank ignores it, so the slope is zero there.
        per_across_s: slope(SPEED_NUDGE_MPS, |c, by| c.moving.across_mps += by),
        per_turn_m_per_radps: slope(TURN_NUDGE_RADPS, |c, by| c.moving.turn_radps += by),
        per_late_mps: slope(LATE_NUDGE_S, |c, by| c.moving.late_s += by),
    })
}
