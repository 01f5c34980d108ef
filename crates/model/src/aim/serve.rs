//! Whether one mechanical setting serves every spot, and the setting that serves them best.

use rayon::prelude::*;

use super::curve::ExitCurve;
use super::solve::{Miss, SpotAim, curve_solution, miss_at};
use crate::launcher::Setting;
use crate::launcher::planar::SEARCH_STEP_S;
use crate::project::{KnobTravel, Limits, Project, Spot};
use crate::shot::Chain;
use crate::target::{Arrival, Outcome};

/// What a spot lacks at a setting, worst first; empty when the spot is served.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shortfall {
    /// No wheel speed centres the crossing.
    OutOfReach(Miss),
    /// The piece touches or misses: the outcome at the centred crossing.
    NotIn(Outcome),
    /// Rim clearance below the one asked.
    Clearance {
        /// Found.
        found_m: f64,
        /// Asked.
        asked_m: f64,
    },
    /// Entry angle below the one asked.
    EntryAngle {
        /// Found.
        found_rad: f64,
        /// Asked.
        asked_rad: f64,
    },
    /// Less of the top speed left than asked.
    Reserve {
        /// Found.
        found_frac: f64,
        /// Asked.
        asked_frac: f64,
    },
}

/// What one spot lacks at the aimed setting.
pub fn shortfall(project: &Project, aim: &SpotAim) -> Vec<Shortfall> {
    match aim.best() {
        Some(s) => lacks(&project.limits, &s.arrival, s.reserve_frac),
        None => vec![Shortfall::OutOfReach(aim.miss.unwrap_or(Miss::BelowRim))],
    }
}

/// What a centred throw lacks of what is asked.
pub(super) fn lacks(limits: &Limits, arrival: &Arrival, reserve_frac: f64) -> Vec<Shortfall> {
    let mut out = Vec::new();
    if arrival.outcome != Outcome::In {
        out.push(Shortfall::NotIn(arrival.outcome));
    }
    if let Some(c) = arrival.clearance
        && c.least_m() < limits.clearance_m
    {
        out.push(Shortfall::Clearance {
            found_m: c.least_m(),
            asked_m: limits.clearance_m,
        });
    }
    if let (Some(asked), Some(c)) = (limits.entry_angle_rad, arrival.crossing)
        && c.entry_rad < asked
    {
        out.push(Shortfall::EntryAngle {
            found_rad: c.entry_rad,
            asked_rad: asked,
        });
    }
    if reserve_frac < limits.speed_reserve_frac {
        out.push(Shortfall::Reserve {
            found_frac: reserve_frac,
            asked_frac: limits.speed_reserve_frac,
        });
    }
    out
}

/// The setting with the best worst spot that a search over the knobs found.
#[derive(Clone, Debug, PartialEq)]
pub struct BestSetting {
    /// The setting.
    pub setting: Setting,
    /// Its merit: the worst spot's smallest margin, in the units of [`merit`]; not negative means
    /// that it serves every spot.
    pub merit: f64,
    /// Merit of the present setting.
    pub present_merit: f64,
    /// Settings tried.
    pub tried_count: usize,
}

impl BestSetting {
    /// Does it serve every spot?
    pub fn serves(&self) -> bool {
        self.merit >= 0.0
    }
}

/// Method: points of the exit curve during the search; the answer is checked by the full chain.
pub(super) const SEARCH_POINTS: usize = 12;
/// Method: places along each knob in the first sweep.
const SWEEP: usize = 6;
/// Method: halvings of the pattern around the best after the sweep.
const HALVINGS: usize = 5;
/// Scales that make margins of different kinds comparable: a margin of 1 is one piece radius of
/// clearance, ten degrees of entry angle, or a tenth of the top speed.
const ENTRY_SCALE_RAD: f64 = 10.0 * std::f64::consts::PI / 180.0;
const RESERVE_SCALE_FRAC: f64 = 0.1;
/// Merit of a spot out of reach starts here and falls with the miss in metres.
const OUT_OF_REACH: f64 = -10.0;

/// The worst spot's smallest margin at a setting (clearance over the piece's radius, entry angle
/// over 10°, speed reserve over 10 %), each less what is asked.
pub fn merit(project: &Project, chain: &Chain, setting: &Setting) -> f64 {
    let curve = ExitCurve::of(chain, setting, SEARCH_POINTS);
    project
        .spots
        .iter()
        .map(|spot| spot_merit(project, chain, &curve, spot))
        .min_by(f64::total_cmp)
        .unwrap_or(f64::NEG_INFINITY)
}

/// The smallest margin of one spot at the setting of a curve.
fn spot_merit(project: &Project, chain: &Chain, curve: &ExitCurve, spot: &Spot) -> f64 {
    spot_best(project, chain, curve, spot).0
}

/// The same, with the wheel speed and the arrival of the solution it belongs to; `None` out of reach.
pub(super) fn spot_best(
    project: &Project,
    chain: &Chain,
    curve: &ExitCurve,
    spot: &Spot,
) -> (f64, Option<(f64, Arrival)>) {
    let limits = &project.limits;
    let radius = 0.5 * chain.ball.diameter_m;
    curve_solution(chain, curve, spot)
        .into_iter()
        .map(|(wheel, arrival)| {
            let clear = arrival
                .clearance
                .map_or(-1.0, |c| (c.least_m() - limits.clearance_m) / radius);
            let steep = match (limits.entry_angle_rad, arrival.crossing) {
                (Some(asked), Some(c)) => (c.entry_rad - asked) / ENTRY_SCALE_RAD,
                (Some(_), None) => -1.0,
                (None, _) => f64::INFINITY,
            };
            let left = 1.0 - wheel / chain.top_radps - limits.speed_reserve_frac;
            let inside = if arrival.outcome == Outcome::In {
                f64::INFINITY
            } else {
                -0.01
            };
            let least = clear.min(steep).min(left / RESERVE_SCALE_FRAC).min(inside);
            (least, Some((wheel, arrival)))
        })
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .unwrap_or_else(|| {
            let by = match miss_at(chain, curve, spot) {
                Miss::Refused(_) => 10.0,
                Miss::BelowRim => 5.0,
                Miss::Short { by_m } | Miss::Beyond { by_m } => by_m.clamp(0.0, 5.0),
            };
            (OUT_OF_REACH - by, None)
        })
}

/// The distance nearest to the one asked at which a spot is served at the setting of a curve, all
/// other limits unchanged; `None` when there is none from a quarter to four times as far.
pub fn nearest_served(project: &Project, chain: &Chain, curve: &ExitCurve, spot: &Spot) -> Option<f64> {
    /// Method: step of the outward scan, as a share of the distance.
    const STEP: f64 = 0.05;
    /// Convergence: halvings of the last step; leaves a millimetre at a few metres.
    const HALVINGS: usize = 7;
    let served = |distance_m: f64| {
        spot_merit(
            project,
            chain,
            curve,
            &Spot {
                distance_m,
                ..spot.clone()
            },
        ) >= 0.0
    };
    let asked = spot.distance_m;
    let reach = |k: usize, sign: f64| asked * (1.0 + sign * STEP * k as f64);
    let (inside, outside) = (1..=60).find_map(|k| {
        [1.0, -1.0].into_iter().find_map(|sign| {
            let d = reach(k, sign);
            (d >= 0.25 * asked && served(d)).then(|| (d, reach(k - 1, sign)))
        })
    })?;
    let (mut good, mut bad) = (inside, outside);
    for _ in 0..HALVINGS {
        let middle = 0.5 * (good + bad);
        if served(middle) {
            good = middle
        } else {
            bad = middle
        }
    }
    Some(good)
}

/// Searches slide, tilt and reach within their travel and step for the setting whose worst spot
/// is best: a sweep, then a halving pattern around the best.
///
/// `None` when the machine has no knob to move.
pub fn best_setting(project: &Project, chain: &Chain) -> Option<BestSetting> {
    search(project, &chain.with_step(SEARCH_STEP_S), chain, SWEEP)
}

/// The search of [`best_setting`]: `sweep_count` places along each knob by a quick chain, the rest by a
/// fine one.
pub(super) fn search(
    project: &Project,
    quick: &Chain,
    chain: &Chain,
    sweep_count: usize,
) -> Option<BestSetting> {
    let sweep_count = sweep_count.max(2);
    let knobs = [
        project.machine.knobs.slide,
        project.machine.knobs.tilt,
        project.machine.knobs.reach,
    ];
    if knobs.iter().all(Option::is_none) {
        return None;
    }
    let present = project.machine.setting;
    let here = [present.slide_m, present.tilt_rad, present.reach_m];
    let choices: Vec<Vec<f64>> = knobs
        .iter()
        .zip(here)
        .map(|(k, x)| sweep(k.as_ref(), x, sweep_count))
        .collect();
    let mut grid = Vec::new();
    for &slide_m in &choices[0] {
        for &tilt_rad in &choices[1] {
            for &reach_m in &choices[2] {
                grid.push([slide_m, tilt_rad, reach_m]);
            }
        }
    }
    grid.push(here);
    let score = |chain: &Chain, x: &[f64; 3]| {
        let setting = Setting {
            slide_m: x[0],
            tilt_rad: x[1],
            reach_m: x[2],
        };
        merit(project, chain, &setting)
    };
    let scores: Vec<f64> = grid.par_iter().map(|x| score(quick, x)).collect();
    let mut tried_count = grid.len();
    // First of equals, so that the answer does not depend on how the work was shared out.
    let (mut best, mut best_merit) = (here, scores.last().copied().unwrap_or(f64::NEG_INFINITY));
    for (x, m) in grid.iter().zip(&scores) {
        if *m > best_merit {
            (best, best_merit) = (*x, *m);
        }
    }
    // From here on with the full simulation: the answer must hold there.
    let present_merit = score(chain, &here);
    best_merit = if best == here {
        present_merit
    } else {
        score(chain, &best)
    };
    if best_merit < present_merit {
        (best, best_merit) = (here, present_merit);
    }
    let mut span: Vec<f64> = knobs
        .iter()
        .map(|k| k.map_or(0.0, |k| 0.5 * (k.high - k.low) / (sweep_count - 1) as f64))
        .collect();
    for _ in 0..HALVINGS {
        let around: Vec<[f64; 3]> = (0..3)
            .flat_map(|i| [1.0, -1.0].map(|sign| (i, sign)))
            .filter_map(|(i, sign)| {
                let k = knobs[i]?;
                let mut x = best;
                x[i] = snap(&k, best[i] + sign * span[i]);
                (x[i] != best[i]).then_some(x)
            })
            .collect();
        let scores: Vec<f64> = around.par_iter().map(|x| score(chain, x)).collect();
        tried_count += around.len();
        let mut moved = false;
        for (x, m) in around.iter().zip(&scores) {
            if *m > best_merit {
                (best, best_merit, moved) = (*x, *m, true);
            }
        }
        if !moved {
            span.iter_mut().for_each(|s| *s *= 0.5);
        }
    }
    Some(BestSetting {
        setting: Setting {
            slide_m: best[0],
            tilt_rad: best[1],
            reach_m: best[2],
        },
        merit: best_merit,
        present_merit,
        tried_count,
    })
}

/// Evenly spread places along a knob's travel, each on its step; the present one without a knob.
pub(super) fn sweep(knob: Option<&KnobTravel>, here: f64, count: usize) -> Vec<f64> {
    let Some(k) = knob else { return vec![here] };
    let mut out: Vec<f64> = (0..count)
        .map(|i| snap(k, k.low + (k.high - k.low) * i as f64 / (count - 1).max(1) as f64))
        .collect();
    out.dedup();
    out
}

/// The nearest value the knob can be set to: on a step counted from the low end, within the travel.
pub fn snap(knob: &KnobTravel, value: f64) -> f64 {
    /// Rounding: a travel of whole steps keeps its last one.
    const WHOLE: f64 = 1e-9;
    let travel = (knob.high - knob.low).max(0.0);
    if !(knob.step > 0.0) {
        return value.max(knob.low).min(knob.low + travel);
    }
    let last = (travel / knob.step + WHOLE).floor();
    knob.low + ((value - knob.low) / knob.step).round().clamp(0.0, last) * knob.step
}

#[cfg(test)]
mod tests {
    use super::*;

    fn knob(low: f64, high: f64, step: f64) -> KnobTravel {
        KnobTravel {
            low,
            high,
            step,
            repeat: 0.0,
        }
    }

    #[test]
    fn a_knob_never_snaps_beyond_its_travel() {
        let k = knob(-0.01, 0.01, 0.001);
        assert!((snap(&k, 0.018) - 0.01).abs() < 1e-12, "{}", snap(&k, 0.018));
        assert!((snap(&k, -0.018) + 0.01).abs() < 1e-12, "{}", snap(&k, -0.018));
        assert!((snap(&knob(0.0, 0.25, 0.1), 0.9) - 0.2).abs() < 1e-12);
        assert_eq!(snap(&knob(0.0, 0.25, 0.0), 0.9), 0.25);
        assert_eq!(snap(&knob(0.0, 0.05, 0.1), 0.9), 0.0);
    }

    #[test]
    fn a_knob_snaps_to_the_nearest_step_from_its_low_end() {
        let k = knob(-0.01, 0.01, 0.004);
        assert!((snap(&k, 0.0) + 0.002).abs() < 1e-12 || (snap(&k, 0.0) - 0.002).abs() < 1e-12);
        assert!((snap(&k, 0.0011) - 0.002).abs() < 1e-12);
    }
}
