//! When to move a knob, which, and by how much; and when to leave it alone.

use crate::numerics::minimum::bracketed_minimum;
use crate::numerics::normal;

/// Whether to move.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Move {
    /// Leave it alone: moving would not buy enough.
    Leave {
        /// Chance that the next throw hits as it stands.
        now_frac: f64,
        /// The same if moved by what is known of the offset.
        after_frac: f64,
        /// What moving would gain; the move must gain more than its cost.
        gain_frac: f64,
        /// Offset from which on moving would be worth it; infinite if none is.
        worth_from_m: f64,
    },
    /// Move the point of arrival.
    By {
        /// By how much, beyond positive: minus the offset.
        amount_m: f64,
        /// Hit chance that it gains.
        gain_frac: f64,
    },
}

/// Least gain of hit chance that is worth a move: one point.
pub const LEAST_GAIN_FRAC: f64 = 0.01;

/// Chance to hit a band of half width `half_room_m` at an offset that is only known by mean and standard deviation.
///
/// ```text
/// P = Φ((b − m)/s) − Φ((−b − m)/s)      s² = σ_shot² + σ_offset²
/// ```
///
/// Not a number for numbers that are none, or a negative deviation; with no spread at all it is 0 or 1.
pub fn hit_chance(offset_mean_m: f64, offset_sd_m: f64, shot_sd_m: f64, half_room_m: f64) -> f64 {
    let known = offset_sd_m >= 0.0 && shot_sd_m >= 0.0 && half_room_m >= 0.0 && offset_mean_m.is_finite();
    if !known {
        return f64::NAN;
    }
    let s = libm::hypot(offset_sd_m, shot_sd_m).max(f64::MIN_POSITIVE);
    // From the side where both shares are small.
    let m = offset_mean_m.abs();
    (normal::cdf((half_room_m - m) / s) - normal::cdf((-half_room_m - m) / s)).max(0.0)
}

/// Whether to move the point of arrival, from what is known of its offset after all shots so far.
///
/// ```text
/// move by −m when P(after) − P(now) ≥ cost
/// ```
///
/// with both chances of [`hit_chance`]. The mean m of the offset must come from all shots with their weights, never from
/// the last miss alone: correcting by each miss doubles the variance ([`variance_ratio`]). `cost_frac` is the least gain
/// that is worth it, [`LEAST_GAIN_FRAC`] by default. Numbers that are none leave it alone.
pub fn decide(
    offset_mean_m: f64,
    offset_sd_m: f64,
    shot_sd_m: f64,
    half_room_m: f64,
    cost_frac: f64,
) -> Move {
    let at = |offset_m: f64| hit_chance(offset_m, offset_sd_m, shot_sd_m, half_room_m);
    let (now_frac, after_frac) = (at(offset_mean_m), at(0.0));
    let gain_frac = after_frac - now_frac;
    if gain_frac >= cost_frac && offset_mean_m != 0.0 {
        return Move::By {
            amount_m: -offset_mean_m,
            gain_frac,
        };
    }
    // The chance falls with the offset, so halving finds the place.
    let worth_from_m = if after_frac >= cost_frac {
        let (mut low, mut high) = (0.0, half_room_m + FARTHEST * libm::hypot(offset_sd_m, shot_sd_m));
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            if after_frac - at(middle) >= cost_frac {
                high = middle;
            } else {
                low = middle;
            }
        }
        high
    } else {
        f64::INFINITY
    };
    Move::Leave {
        now_frac,
        after_frac,
        gain_frac,
        worth_from_m,
    }
}

/// Rounding: so many standard deviations outside the band nothing hits.
const FARTHEST: f64 = 40.0;
/// Convergence: to 1e-12 of the range.
const HALVINGS: u32 = 40;

/// The adjustment after deviation number `count`, from 1, when the setting was made afresh and does not drift.
///
/// ```text
/// adjust by −d/n
/// ```
///
/// Then the setting is minus the mean of all deviations from where it began, the best guess [grubbs-1954]. Zero for a
/// count of 0.
pub fn setup_adjustment_m(deviation_m: f64, count: u32) -> f64 {
    if count == 0 {
        return 0.0;
    }
    -deviation_m / f64::from(count)
}

/// Variance of the deviations, by that of leaving it alone, when each is corrected by a constant share of it.
///
/// ```text
/// 2/(2 − G)
/// ```
///
/// for independent deviations [deming-1986]: 1 for G = 0, 2 for full correction. Infinite from G = 2 on, not a number
/// below 0.
pub fn variance_ratio(gain_ratio: f64) -> f64 {
    if !(gain_ratio >= 0.0) {
        f64::NAN
    } else if gain_ratio >= 2.0 {
        f64::INFINITY
    } else {
        2.0 / (2.0 - gain_ratio)
    }
}

/// What is known of an offset, updated shot by shot.
///
/// ```text
/// k = v/(v + s²)      m ← m + k (d − m)      v ← (1 − k) v
/// ```
///
/// with the variance s² of one deviation d, scatter and measurement together. The Kalman filter of a constant; with no
/// prior knowledge k = 1/n, the rule of [`setup_adjustment_m`] [grubbs-1954].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Offset {
    /// Mean.
    pub mean_m: f64,
    /// Standard deviation.
    pub sd_m: f64,
}

impl Offset {
    /// After one more deviation with standard deviation `deviation_sd_m`; unchanged by numbers that are none.
    pub fn after(self, deviation_m: f64, deviation_sd_m: f64) -> Offset {
        let v = self.sd_m * self.sd_m;
        let k = v / (v + deviation_sd_m * deviation_sd_m);
        let mean_m = self.mean_m + k * (deviation_m - self.mean_m);
        if !(mean_m.is_finite() && (0.0..=1.0).contains(&k)) {
            return self;
        }
        // Not by 1 − k, which keeps no digit when little was known.
        Offset {
            mean_m,
            sd_m: self.sd_m * (deviation_sd_m / libm::hypot(self.sd_m, deviation_sd_m)),
        }
    }

    /// After the setting was moved so that the point of arrival shifts by `amount_m`.
    pub fn moved(self, amount_m: f64) -> Offset {
        Offset {
            mean_m: self.mean_m + amount_m,
            ..self
        }
    }

    /// After a while in which it may have drifted by a walk of standard deviation `drift_m`.
    pub fn drifted(self, drift_m: f64) -> Offset {
        Offset {
            sd_m: libm::hypot(self.sd_m, drift_m),
            ..self
        }
    }
}

/// One spot as it stands: offset along, its doubt, scatter and room.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpotNow {
    /// Mean of the offset.
    pub offset_mean_m: f64,
    /// Standard deviation of the offset.
    pub offset_sd_m: f64,
    /// Scatter from shot to shot.
    pub shot_sd_m: f64,
    /// Half of the room.
    pub half_room_m: f64,
}

/// A knob that could be moved.
#[derive(Clone, Debug, PartialEq)]
pub struct KnobOption {
    /// Its name.
    pub name: String,
    /// Shift of the point of arrival for one unit of the knob, at each spot.
    pub effects_m: Vec<f64>,
    /// Farthest move down, in units of the knob, zero or less.
    pub low: f64,
    /// Farthest move up, zero or more.
    pub high: f64,
    /// Smallest move that can be made; 0 if any can.
    pub step: f64,
    /// Work of one move: 0 for a speed, a minute for a tilt, slide or reach, an evening for a new guide.
    pub work_s: f64,
    /// Relative change of the scatter for one unit of the knob: the scatter is multiplied by exp of this times the move.
    pub scatter_frac: f64,
}

/// What a knob can do.
#[derive(Clone, Debug, PartialEq)]
pub struct KnobPlan {
    /// Place among the options.
    pub option: usize,
    /// Best move in units of the knob; 0 when none helps.
    pub value: f64,
    /// Mean hit chance over the spots after it.
    pub after_frac: f64,
    /// Its gain.
    pub gain_frac: f64,
    /// Gain less what the move and its work cost.
    pub net_frac: f64,
    /// The best move ends at the end of the knob's range.
    pub at_end: bool,
}

/// The answer over all knobs.
#[derive(Clone, Debug, PartialEq)]
pub struct KnobChoice {
    /// Mean hit chance over the spots as it stands.
    pub now_frac: f64,
    /// The best knob, if any is worth a move.
    pub best: Option<KnobPlan>,
    /// All that could be worked out, best first; equals in the order given.
    pub ranked: Vec<KnobPlan>,
}

/// Which knob to move and by how much, so that the mean hit chance over the spots is highest for the work.
///
/// ```text
/// net = P(after) − P(now) − cost − 0.01 · work/point          P by hit_chance, averaged over the spots
/// ```
///
/// `point_s` is the work that one point of hit chance is worth; at zero or less no work is worth it.
/// A knob with another count of effects than spots, or a number that is not finite, is left out.
pub fn which_knob(options: &[KnobOption], spots: &[SpotNow], point_s: f64, cost_frac: f64) -> KnobChoice {
    let mean = |shift: &dyn Fn(usize) -> f64, factor: f64| {
        let sum: f64 = spots
            .iter()
            .enumerate()
            .map(|(i, s)| {
                hit_chance(
                    s.offset_mean_m + shift(i),
                    s.offset_sd_m,
                    s.shot_sd_m * factor,
                    s.half_room_m,
                )
            })
            .sum();
        sum / spots.len() as f64
    };
    let now_frac = mean(&|_| 0.0, 1.0);
    let mut ranked: Vec<KnobPlan> = options
        .iter()
        .enumerate()
        .filter(|(_, o)| usable(o, spots.len()))
        .filter_map(|(i, option)| {
            let chance = |value: f64| {
                let effect = |spot: usize| option.effects_m.get(spot).map_or(0.0, |e| e * value);
                mean(&effect, libm::exp(option.scatter_frac * value))
            };
            let value = best_move(option, chance);
            let after_frac = chance(value);
            let gain_frac = after_frac - now_frac;
            let work_frac = if option.work_s > 0.0 {
                0.01 * option.work_s / point_s.max(f64::MIN_POSITIVE)
            } else {
                0.0
            };
            let reach = REACHED * (option.high - option.low);
            gain_frac.is_finite().then_some(KnobPlan {
                option: i,
                value,
                after_frac,
                gain_frac,
                net_frac: gain_frac - work_frac - cost_frac,
                at_end: value != 0.0
                    && (value - option.low <= option.step.max(reach)
                        || option.high - value <= option.step.max(reach)),
            })
        })
        .collect();
    ranked.sort_by(|a, b| b.net_frac.total_cmp(&a.net_frac));
    let best = ranked
        .first()
        .filter(|plan| plan.net_frac >= 0.0 && plan.value != 0.0)
        .cloned();
    KnobChoice {
        now_frac,
        best,
        ranked,
    }
}

fn usable(option: &KnobOption, spots: usize) -> bool {
    let numbers = [
        option.low,
        option.high,
        option.step,
        option.work_s,
        option.scatter_frac,
    ];
    let finite = numbers.iter().chain(&option.effects_m).all(|x| x.is_finite());
    finite && option.effects_m.len() == spots && option.low <= 0.0 && option.high >= 0.0 && option.step >= 0.0
}

/// The move with the highest chance, a whole number of steps inside the range; 0 when nothing beats it.
fn best_move(option: &KnobOption, chance: impl Fn(f64) -> f64) -> f64 {
    let width = (option.high - option.low) / f64::from(SCAN);
    let grid: Vec<f64> = (0..=SCAN).map(|i| option.low + f64::from(i) * width).collect();
    let better = |a: f64, b: f64| if chance(b) > chance(a) { b } else { a };
    let coarse = grid.iter().copied().fold(0.0, better);
    let (low, high) = (
        (coarse - width).max(option.low),
        (coarse + width).min(option.high),
    );
    let fine = bracketed_minimum(|x| -chance(x), low, coarse, high, 1e-3 * width).0;
    let fine = better(coarse, fine);
    if option.step > 0.0 {
        let whole = |x: f64| x * option.step;
        let inside = |x: &f64| *x >= option.low && *x <= option.high;
        let steps = fine / option.step;
        [whole(steps.floor()), whole(steps.ceil())]
            .into_iter()
            .filter(inside)
            .fold(0.0, better)
    } else {
        fine
    }
}

/// Method: looks along the range before refining, so that a narrow band is not missed.
const SCAN: u32 = 80;
/// Method: this near the end of the range counts as at it.
const REACHED: f64 = 1e-3;

#[cfg(test)]
#[path = "adjust_tests.rs"]
mod tests;
