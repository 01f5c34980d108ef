//! Rules by hand: how people tune without a model.

use arcwright_model::floor::rehearse::{HiddenSimple, Look};
use arcwright_model::numerics::linear_fit::least_squares;
use arcwright_model::target::Outcome;

use crate::robot::{JUDGED_M, TUNED_M, Table, ask};

/// A rule by hand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hand {
    /// Between the last too short and the last too long, halfway; straight lines between distances.
    Bisect,
    /// A step up when short and down when long, halved whenever it turns; straight lines between distances.
    Halving,
    /// The miss by eye, taken back by one over the number of shots; a parabola through the distances.
    OneOverT,
}

impl Hand {
    /// What is printed.
    pub fn words(self) -> &'static str {
        match self {
            Hand::Bisect => "by hand: bisect on short and long",
            Hand::Halving => "by hand: halve the step when it turns",
            Hand::OneOverT => "by hand: miss by eye, weight 1/t, parabola",
        }
    }
}

/// Share of the design's speed that the first step is.
const FIRST_STEP: f64 = 0.08;
/// First turn when something passes beside.
const FIRST_TURN_RAD: f64 = 0.02;

/// What the person keeps in mind for one distance.
#[derive(Clone, Copy, Debug)]
struct Mark {
    setpoint: f64,
    low: Option<f64>,
    high: Option<f64>,
    step: f64,
    last_up: Option<bool>,
    count: f64,
}

/// Tunes by hand with `shots` shots, distance after distance; the table after each shot.
///
/// `design` are the design's setpoints at the four distances and `per_ln_m` by how much the crossing moves there for
/// a change of ln speed, which only the rule that sees distances uses.
pub fn tune(
    rule: Hand,
    machine: &mut HiddenSimple,
    design: [f64; 4],
    per_ln_m: [f64; 4],
    shots: usize,
) -> Vec<Table> {
    let mut marks = design.map(|setpoint| Mark {
        setpoint,
        low: None,
        high: None,
        step: FIRST_STEP,
        last_up: None,
        count: 0.0,
    });
    let (mut turned, mut turn_step, mut last_left) = (0.0, FIRST_TURN_RAD, None);
    let (mut aside_sum, mut aside_count) = (0.0, 0.0);
    let mut out = Vec::with_capacity(shots);
    for i in 0..shots {
        let k = i % TUNED_M.len();
        let (distance_m, mark) = (TUNED_M[k], &mut marks[k]);
        let look = Look {
            outcome: true,
            eye: rule == Hand::OneOverT,
            ..Look::default()
        };
        let shot = machine.throw(&ask(machine, distance_m, mark.setpoint, turned), &look);
        mark.count += 1.0;
        let up = match shot.seen.outcome {
            Some(Outcome::Short) => Some(true),
            Some(Outcome::Long) => Some(false),
            _ => None,
        };
        match (rule, up) {
            (Hand::OneOverT, _) => {
                if let Some([along, across]) = shot.seen.miss_m {
                    let weight = 1.0 / mark.count;
                    mark.setpoint *= libm::exp((-along / per_ln_m[k] * weight).clamp(-0.2, 0.2));
                    aside_sum += across / distance_m - turned;
                    aside_count += 1.0;
                    turned = -aside_sum / aside_count;
                } else {
                    // It never came to the ring: faster, as anybody would.
                    mark.setpoint *= 1.0 + FIRST_STEP;
                    mark.count -= 1.0;
                }
            }
            (Hand::Bisect, Some(up)) => {
                if up {
                    mark.low = Some(mark.setpoint);
                    // A bound that was passed was a freak.
                    mark.high = mark.high.filter(|h| *h > mark.setpoint);
                } else {
                    mark.high = Some(mark.setpoint);
                    mark.low = mark.low.filter(|l| *l < mark.setpoint);
                }
                mark.setpoint = match (mark.low, mark.high) {
                    (Some(l), Some(h)) => 0.5 * (l + h),
                    _ if up => mark.setpoint * (1.0 + FIRST_STEP),
                    _ => mark.setpoint * (1.0 - FIRST_STEP),
                };
            }
            (Hand::Halving, Some(up)) => {
                if mark.last_up.is_some_and(|l| l != up) {
                    mark.step *= 0.5;
                }
                mark.last_up = Some(up);
                mark.setpoint *= 1.0 + if up { mark.step } else { -mark.step };
            }
            (_, None) => {}
        }
        if rule != Hand::OneOverT {
            let left = match shot.seen.outcome {
                Some(Outcome::Left) => Some(true),
                Some(Outcome::Right) => Some(false),
                _ => None,
            };
            if let Some(left) = left {
                if last_left.is_some_and(|l: bool| l != left) {
                    turn_step *= 0.5;
                }
                last_left = Some(left);
                turned += if left { -turn_step } else { turn_step };
            }
        }
        let at = marks.map(|m| m.setpoint);
        let setpoint_radps = match rule {
            Hand::OneOverT => parabola(&at),
            Hand::Bisect | Hand::Halving => lines(&at),
        };
        out.push(Table {
            setpoint_radps,
            turned_rad: turned,
        });
    }
    out
}

/// Straight lines between the tuned distances.
fn lines(at: &[f64; 4]) -> Vec<f64> {
    JUDGED_M
        .iter()
        .map(|d| {
            let k = TUNED_M.partition_point(|t| t <= d).clamp(1, 3) - 1;
            let share = (d - TUNED_M[k]) / (TUNED_M[k + 1] - TUNED_M[k]);
            at[k] + share * (at[k + 1] - at[k])
        })
        .collect()
}

/// The parabola of least squares through the tuned distances.
fn parabola(at: &[f64; 4]) -> Vec<f64> {
    let row = |d: f64| [1.0, d - 4.0, (d - 4.0).powi(2)];
    let design: Vec<f64> = TUNED_M.iter().flat_map(|d| row(*d)).collect();
    match least_squares(4, 3, &design, at) {
        Some(fit) => JUDGED_M
            .iter()
            .map(|d| row(*d).iter().zip(&fit.coefficients).map(|(x, c)| x * c).sum())
            .collect(),
        None => lines(at),
    }
}
