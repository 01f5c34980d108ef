//! What to do next on the floor: move a knob, throw again and where, or stop.
//!
//! Everything here works on what a fit leaves behind, linearised: for each spot how the crossing depends on the
//! parameters ([`SpotView`]), the covariance of the parameters, and for each shot that could be thrown what it
//! would be seen by ([`Candidate`]). The questions go in the order in which they cost: what is free is moved first
//! ([`recommend`]), a session that has nothing left to learn ends, else the shot that helps most ([`best_for`]); and
//! whether a spanner would pay ([`mechanical`]).

mod gain;
mod hood;
mod moves;
mod stop;
#[cfg(test)]
mod tests;
mod views;

pub use gain::{Candidate, Choice, Glance, best_shot, class_information, information_gain, losses, updated};
pub use hood::{Hood, HoodSpot, KnobMove, mechanical, present_hood};
pub use moves::{Effort, KnobChange, LEAST_GAIN_FRAC, Move, recommend};
pub use stop::{
    FEWEST_TO_STOP, LOSS_FRAC, MEAN_LOSS_FRAC, NEXT_GAIN_FRAC, PATIENT_MEAN_LOSS_FRAC, SHOTS_EACH,
    SLOW_GAIN_FRAC, Still, Stop, TESTED_DISTANCES, Tally, Trust, stop, wilson_lower_if_all_hit,
};

pub use views::{candidate, centred_setpoint, setpoint_sd_radps, spot_view};

use crate::numerics::normal::cdf;
use crate::numerics::radial::hit_circle;

/// Where a centre must pass for a hit: the opening less the piece's radius.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Opening {
    /// An ellipse, by its half axes along and across.
    Round {
        /// Along.
        along_m: f64,
        /// Across.
        across_m: f64,
    },
    /// A rectangle, by its half sides along and across.
    Rectangle {
        /// Along.
        along_m: f64,
        /// Across.
        across_m: f64,
    },
}

/// A matrix by rows.
pub type Matrix = Vec<Vec<f64>>;

/// One spot as the fit sees it, at the setpoint and the turn in use.
#[derive(Clone, Debug, PartialEq)]
pub struct SpotView {
    /// Horizontal distance from the axle to the near rim.
    pub distance_m: f64,
    /// What a hit is.
    pub opening: Opening,
    /// Mean crossing less the centre, along and across.
    pub offset_m: [f64; 2],
    /// Standard deviation from throw to throw, along and across.
    pub throw_sd_m: [f64; 2],
    /// Derivative of the crossing along by each parameter.
    pub along_by: Vec<f64>,
    /// Derivative of the crossing across by each parameter.
    pub across_by: Vec<f64>,
    /// Derivative of the crossing along by ln of the wheel speed.
    pub along_per_ln_speed_m: f64,
    /// Derivative of the crossing across by the turn of the launcher.
    pub across_per_turn_m: f64,
}

/// Share of throws that hit, for normal scatter about a mean.
///
/// ```text
/// ellipse     P of [`hit_circle`] with both axes scaled to a circle of radius 1
/// rectangle   (Φ((h_x − a)/s_x) − Φ((−h_x − a)/s_x)) (Φ((h_y − b)/s_y) − Φ((−h_y − b)/s_y))
/// ```
///
/// `0` for an opening without room; not a number for what is none.
pub fn hit_frac(opening: &Opening, offset_m: [f64; 2], sd_m: [f64; 2]) -> f64 {
    match *opening {
        Opening::Round { along_m, across_m } => {
            if along_m <= 0.0 || across_m <= 0.0 {
                return 0.0;
            }
            hit_circle(
                1.0,
                [offset_m[0] / along_m, offset_m[1] / across_m],
                [sd_m[0] / along_m, sd_m[1] / across_m],
            )
        }
        Opening::Rectangle { along_m, across_m } => {
            if along_m <= 0.0 || across_m <= 0.0 {
                return 0.0;
            }
            within(along_m, offset_m[0], sd_m[0]) * within(across_m, offset_m[1], sd_m[1])
        }
    }
}

/// Share of a normal distribution within `half` of 0.
fn within(half: f64, mean: f64, sd: f64) -> f64 {
    // No scatter at all: in or out.
    if sd == 0.0 {
        return if mean.abs() <= half { 1.0 } else { 0.0 };
    }
    cdf((half - mean) / sd) - cdf((-half - mean) / sd)
}

/// Hits at a spot if the parameters were exactly the fitted ones and the knobs stood where those want them.
pub fn plugin_frac(spot: &SpotView) -> f64 {
    hit_frac(&spot.opening, [0.0; 2], spot.throw_sd_m)
}

/// Hits to expect at a spot with the crossing `offset_m` off the centre, doubt about the parameters included.
///
/// ```text
/// s² = s_throw² + gᵀ Σ g        along and across each; g = ∂ crossing/∂ parameters
/// ```
pub fn predictive_frac(spot: &SpotView, covariance: &Matrix, offset_m: [f64; 2]) -> f64 {
    let wider = [
        (spot.throw_sd_m[0], quadratic(&spot.along_by, covariance)),
        (spot.throw_sd_m[1], quadratic(&spot.across_by, covariance)),
    ]
    // A negative variance is rounding; what is not a number stays one.
    .map(|(sd, more)| (sd * sd + if more < 0.0 { 0.0 } else { more }).sqrt());
    hit_frac(&spot.opening, offset_m, wider)
}

/// gᵀ Σ g; entries beyond the shorter of the two do not count.
pub fn quadratic(g: &[f64], covariance: &Matrix) -> f64 {
    g.iter()
        .zip(covariance)
        .map(|(gi, row)| gi * g.iter().zip(row).map(|(gj, s)| gj * s).sum::<f64>())
        .sum()
}

/// The shot that helps most and whether it is still worth it; from a distance that lacks shots when that is the only
/// reason left to go on. `None` without a shot to choose.
pub fn best_for(
    spots: &[SpotView],
    covariance: &Matrix,
    candidates: &[Candidate],
    tallies: &[Tally],
    trust: Trust,
) -> Option<(Choice, Stop)> {
    let choice = best_shot(spots, covariance, candidates)?;
    let verdict = stop(spots, covariance, tallies, choice.gain_frac, trust);
    let only_too_few = matches!(
        verdict.still[..],
        [Still::TooFewShots { .. }] | [Still::TooFewShots { .. }, Still::TooFewInAll { .. }]
    );
    let instead = only_too_few
        .then(|| from_untested(spots, covariance, candidates, tallies))
        .flatten();
    Some((instead.unwrap_or(choice), verdict))
}

/// The best of the shots from distances that lack them.
fn from_untested(
    spots: &[SpotView],
    covariance: &Matrix,
    candidates: &[Candidate],
    tallies: &[Tally],
) -> Option<Choice> {
    let thrown = |distance_m: f64| -> usize {
        let here = tallies.iter().filter(|t| t.distance_m == distance_m);
        here.map(|t| t.shot_count).sum()
    };
    let lacking: Vec<usize> = (0..candidates.len())
        .filter(|i| {
            let spot = candidates.get(*i).and_then(|c| spots.get(c.spot_index));
            spot.is_some_and(|s| thrown(s.distance_m) < SHOTS_EACH)
        })
        .collect();
    let few: Vec<Candidate> = lacking
        .iter()
        .filter_map(|i| candidates.get(*i).cloned())
        .collect();
    let choice = best_shot(spots, covariance, &few)?;
    Some(Choice {
        index: *lacking.get(choice.index)?,
        ..choice
    })
}
