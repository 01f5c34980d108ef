//! When to stop tuning.

use super::{Matrix, SpotView, plugin_frac, predictive_frac};
use crate::floor::fit::Posterior;
use crate::numerics::proportion::wilson;

/// How many shots that count were thrown at a distance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tally {
    /// Horizontal distance from the axle to the near rim.
    pub distance_m: f64,
    /// Shots with anything seen of them, neither jammed nor left out.
    pub shot_count: usize,
}

/// Method: shots in all before anybody stops. From fewer the scatter is a guess: on machines drawn from the prior, to
/// ask for a dozen cut what one machine in ten lacked at the sign from four hits in 100 to below three.
pub const FEWEST_TO_STOP: usize = 12;
/// Method: what doubt about the parameters may cost in hits at any one spot.
pub const LOSS_FRAC: f64 = 0.02;
/// Method: what it may cost on average over the spots. 1.0 to 1.5 points were truly lacking at the sign on machines drawn
/// from the prior (`docs/study.md`); to ask for half of it doubles the shots and wins next to nothing.
pub const MEAN_LOSS_FRAC: f64 = 0.011;
/// Method: what it may cost on average once shots have almost ceased to help.
pub const PATIENT_MEAN_LOSS_FRAC: f64 = 0.015;
/// Method: a shot that raises the hits by less than this has almost ceased to help: a dozen more win a third of a point.
pub const SLOW_GAIN_FRAC: f64 = 0.0003;
/// Method: a shot that raises the hits by less is better spent on proof.
pub const NEXT_GAIN_FRAC: f64 = 0.003;
/// Method: shots at a distance before it counts as tested; one alone cannot be told from a flyer.
pub const SHOTS_EACH: usize = 2;
/// Method: distances tested before the speed law between them is; all of them where there are fewer.
pub const TESTED_DISTANCES: usize = 3;

/// How far a fit may be trusted with the sign to stop.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Trust {
    /// It settled, nothing in the log forbids it, and half of its shots or more were measured.
    Full,
    /// Most of its shots are calls alone, which leave the scatter of a few machines far too small: in simulation those
    /// that had the sign lacked five hits in 100 where the fit thought half a one.
    Called,
    /// Not at all yet.
    None,
}

impl Trust {
    /// Of a fit that is sound or not, by how many of its shots were measured.
    pub fn of(sound: bool, posterior: &Posterior) -> Trust {
        match sound {
            false => Trust::None,
            true if 2 * posterior.measured_count < posterior.shot_count => Trust::Called,
            true => Trust::Full,
        }
    }
}

/// A reason to go on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Still {
    /// Too few distances have been tested twice.
    TooFewShots {
        /// Distances with two shots.
        tested_count: usize,
        /// Distances that need them.
        wanted_count: usize,
    },
    /// Too few shots in all to know the scatter.
    TooFewInAll {
        /// Shots.
        shot_count: usize,
    },
    /// The fit itself is not to be trusted yet.
    Untrusted,
    /// Most shots are calls alone.
    CallsAlone,
    /// Doubt still costs hits at a spot.
    Doubt {
        /// Which spot.
        spot_index: usize,
        /// What it costs there.
        loss_frac: f64,
    },
    /// Doubt still costs hits on average.
    DoubtAllRound {
        /// What it costs, mean over the spots.
        loss_frac: f64,
    },
    /// The next shot still pays.
    NextPays {
        /// What it brings.
        gain_frac: f64,
    },
}

/// Whether to stop, and on what grounds.
#[derive(Clone, Debug, PartialEq)]
pub struct Stop {
    /// Reasons to go on; none means stop.
    pub still: Vec<Still>,
    /// What doubt costs in hits at the worst spot.
    pub worst_loss_frac: f64,
    /// What it costs on average over the spots.
    pub mean_loss_frac: f64,
    /// What the best next shot would bring.
    pub next_gain_frac: f64,
}

impl Stop {
    /// Stop now?
    pub fn now(&self) -> bool {
        self.still.is_empty()
    }

    /// One sentence that says why; `names` are those of the spots.
    pub fn sentence(&self, names: &[String]) -> String {
        let points = |x: f64| format!("{:.1}", 100.0 * x);
        let nameless = String::from("one spot");
        match self.still.first() {
            None => format!(
                "Stop: what is not known yet costs {} hits in 100 on average and {} at the worst spot, and the best next shot would win back {:.2}.",
                points(self.mean_loss_frac.max(0.0)),
                points(self.worst_loss_frac.max(0.0)),
                100.0 * self.next_gain_frac.max(0.0)
            ),
            Some(Still::TooFewShots {
                tested_count,
                wanted_count,
            }) => format!(
                "Go on: {tested_count} of {wanted_count} distances have been thrown from twice, and one shot alone cannot be told from a freak."
            ),
            Some(Still::Untrusted) => "Go on: the fit is not to be trusted yet; `floor fit` says why.".into(),
            Some(Still::CallsAlone) => {
                "Go on: fewer than half of the shots were measured, and what became of a shot alone cannot tell how much the machine scatters; say the miss by eye as well (`long 12cm left 5cm`), or a time or a landing.".into()
            }
            Some(Still::TooFewInAll { shot_count }) => format!(
                "Go on: {shot_count} shot{} cannot tell how much the machine scatters; {FEWEST_TO_STOP} begin to.",
                if *shot_count == 1 { "" } else { "s" }
            ),
            Some(Still::Doubt {
                spot_index,
                loss_frac,
            }) => format!(
                "Go on: at {} what is not known yet still costs {} hits in 100.",
                names.get(*spot_index).unwrap_or(&nameless),
                points(*loss_frac)
            ),
            Some(Still::DoubtAllRound { loss_frac }) => format!(
                "Go on: what is not known yet still costs {} hits in 100 on average.",
                points(*loss_frac)
            ),
            Some(Still::NextPays { gain_frac }) => {
                format!(
                    "Go on: the best next shot still wins {} hits in 100.",
                    points(*gain_frac)
                )
            }
        }
    }
}

/// Whether a session has taught what it can.
///
/// ```text
/// 12 shots, and two at three distances or at every one where there are fewer
/// P_plugin − P_predictive < 0.02 at every spot
/// and   < 0.011 on average, or < 0.015 when the next shot gains < 0.0003
/// and   gain of the next shot < 0.003
/// ```
///
/// and a fit with [`Trust::Full`]. What is not a number counts as a reason to
/// go on. Afterwards the setpoints are frozen and proved by a volley
/// counted apart: the hits of the tuning shots say nothing, their setpoints moved.
pub fn stop(
    spots: &[SpotView],
    covariance: &Matrix,
    tallies: &[Tally],
    next_gain_frac: f64,
    trust: Trust,
) -> Stop {
    let mut still = Vec::new();
    let mut distances: Vec<f64> = spots.iter().map(|s| s.distance_m).collect();
    distances.sort_by(f64::total_cmp);
    distances.dedup();
    let wanted_count = distances.len().clamp(1, TESTED_DISTANCES);
    let tested_count = tested(tallies);
    if tested_count < wanted_count {
        still.push(Still::TooFewShots {
            tested_count,
            wanted_count,
        });
    }
    let shot_count = tallies.iter().map(|t| t.shot_count).sum();
    if shot_count < FEWEST_TO_STOP {
        still.push(Still::TooFewInAll { shot_count });
    }
    match trust {
        Trust::None => still.push(Still::Untrusted),
        Trust::Called => still.push(Still::CallsAlone),
        Trust::Full => {}
    }
    let mut worst = (0, f64::NEG_INFINITY);
    let mut sum = 0.0;
    for (i, spot) in spots.iter().enumerate() {
        let loss = plugin_frac(spot) - predictive_frac(spot, covariance, [0.0; 2]);
        sum += loss;
        if loss.is_nan() || loss > worst.1 {
            worst = (i, loss);
        }
        if loss.is_nan() {
            break;
        }
    }
    if !(worst.1 < LOSS_FRAC) {
        still.push(Still::Doubt {
            spot_index: worst.0,
            loss_frac: worst.1,
        });
    }
    let mean_loss_frac = sum / spots.len().max(1) as f64;
    let patient = mean_loss_frac < PATIENT_MEAN_LOSS_FRAC && next_gain_frac < SLOW_GAIN_FRAC;
    if !(mean_loss_frac < MEAN_LOSS_FRAC || patient) {
        still.push(Still::DoubtAllRound {
            loss_frac: mean_loss_frac,
        });
    }
    if !(next_gain_frac < NEXT_GAIN_FRAC) {
        still.push(Still::NextPays {
            gain_frac: next_gain_frac,
        });
    }
    Stop {
        still,
        worst_loss_frac: worst.1,
        mean_loss_frac,
        next_gain_frac,
    }
}

/// Distances with [`SHOTS_EACH`] shots, tallies of one distance added up.
fn tested(tallies: &[Tally]) -> usize {
    let mut sorted: Vec<&Tally> = tallies.iter().collect();
    sorted.sort_by(|a, b| a.distance_m.total_cmp(&b.distance_m));
    let mut count = 0;
    let mut at: Option<(f64, usize)> = None;
    for t in sorted {
        let before = match at {
            Some((d, n)) if d == t.distance_m => n,
            _ => 0,
        };
        let n = before + t.shot_count;
        if before < SHOTS_EACH && n >= SHOTS_EACH {
            count += 1;
        }
        at = Some((t.distance_m, n));
    }
    count
}

/// What a proof of `count` throws, all of them hits, says at least about the share of hits, with 95 % confidence
/// in both directions: 20 throws say 84 %, 30 say 89 % (Wilson's interval, [wilson-1927]).
pub fn wilson_lower_if_all_hit(count: u64) -> f64 {
    wilson(count, count, 0.95)[0]
}
