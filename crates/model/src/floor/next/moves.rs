//! Whether to move a knob that costs nothing, and what the others must win.

use super::{Matrix, SpotView, predictive_frac};

/// What a change costs the people on the floor, cheapest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Effort {
    /// A number typed in, or the robot turned: wheel speed, direction.
    Free,
    /// A spanner and a minute: tilt, slide, reach.
    Spanner,
    /// An evening: a new guide, another wheel.
    Evening,
}

impl Effort {
    /// The words shown.
    pub fn words(self) -> &'static str {
        match self {
            Effort::Free => "costs nothing",
            Effort::Spanner => "a spanner and a minute",
            Effort::Evening => "an evening",
        }
    }

    /// By how much it must raise the hits over what is cheaper, as a share.
    ///
    /// One point for what is free; more where the change itself costs throws and time. Method.
    pub fn must_gain_frac(self) -> f64 {
        match self {
            Effort::Free => LEAST_GAIN_FRAC,
            Effort::Spanner => 0.03,
            Effort::Evening => 0.10,
        }
    }
}

/// Method: a move pays when it raises the hits to expect by one point. Below that, which is about a third of the
/// throw-to-throw scatter off the centre for an opening of four times the scatter, what was seen is ordinary scatter.
pub const LEAST_GAIN_FRAC: f64 = 0.01;

/// One change of a free knob and what it would do at a spot.
#[derive(Clone, Debug, PartialEq)]
pub struct KnobChange {
    /// Key of the knob: `speed` or `turn`.
    pub knob: &'static str,
    /// By how much: ln of the speed, radians for `turn`.
    pub by: f64,
    /// Hits to expect before and after.
    pub hit_frac: [f64; 2],
}

/// Whether to move at a spot.
#[derive(Clone, Debug, PartialEq)]
pub enum Move {
    /// Where it stands is as good as anybody can tell.
    LeaveAlone {
        /// What the best free move would have gained.
        gain_frac: f64,
    },
    /// Move this.
    Change(KnobChange),
}

/// The move that pays at a spot, or none.
///
/// ```text
/// P(after) − P(now) ≥ 1 point        both with the doubt about the parameters
/// ```
///
/// The free moves are the whole way back: crossing along by wheel speed within `speed_range_ratio` (shares of the present
/// speed), across by turning. That is the posterior mean held in a deadband; to move by the last miss instead
/// doubles the variance of a steady machine (the funnel of [deming-1986]), and with no opinion beforehand the posterior
/// mean takes back one over the number of shots of each miss, the rule of [grubbs-1954].
pub fn recommend(spot: &SpotView, covariance: &Matrix, speed_range_ratio: [f64; 2]) -> Move {
    let now = predictive_frac(spot, covariance, spot.offset_m);
    let [along_m, across_m] = spot.offset_m;
    let bounded = |per: f64, off: f64| if per == 0.0 { 0.0 } else { -off / per };
    let by_ln = bounded(spot.along_per_ln_speed_m, along_m).clamp(
        libm::log(speed_range_ratio[0].max(f64::MIN_POSITIVE)),
        libm::log(speed_range_ratio[1]),
    );
    let by_rad = bounded(spot.across_per_turn_m, across_m);
    let left_along = along_m + spot.along_per_ln_speed_m * by_ln;
    let free = |knob: &'static str, by: f64, off: [f64; 2]| KnobChange {
        knob,
        by,
        hit_frac: [now, predictive_frac(spot, covariance, off)],
    };
    let gain = |c: &KnobChange| c.hit_frac[1] - c.hit_frac[0];
    let speed = free("speed", by_ln, [left_along, across_m]);
    let turn = free("turn", by_rad, [along_m, 0.0]);
    // The larger of the two first; the other is asked for again once this one is set.
    let best = if gain(&speed) >= gain(&turn) { speed } else { turn };
    let best_gain = gain(&best);
    if best_gain >= LEAST_GAIN_FRAC {
        Move::Change(best)
    } else {
        Move::LeaveAlone {
            gain_frac: best_gain.max(0.0),
        }
    }
}
