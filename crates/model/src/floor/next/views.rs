//! From a fitted forward model to what the choice of the next step needs.

use super::gain::{absorb, class_information};
use super::{Candidate, Glance, Matrix, Opening, SpotView, quadratic};
use crate::floor::fit::Posterior;
use crate::floor::forward::{Forward, inputs_of};
use crate::floor::likelihood::{ACCIDENTS, Prediction};

/// Method: half width of the differences by a parameter, in its standard deviations after the fit.
const STEP: f64 = 1e-2;

/// What is expected of a shot at these parameters.
fn expected<F: Forward>(forward: &F, parameters: &[f64], shot: &F::Shot) -> Option<Prediction> {
    forward.predict(&inputs_of(forward, parameters, shot), shot)
}

/// The expected numbers of a shot: every reading, then the crossing along and across where there is a call.
fn numbers(p: &Prediction) -> Vec<f64> {
    let mut out: Vec<f64> = p.channels.iter().map(|c| c.predicted).collect();
    if let Some(call) = &p.call {
        out.extend(call.predicted_m);
    }
    out
}

/// Derivatives of the expected numbers by the parameters, by central differences; one row for each number.
fn by_parameters<F: Forward>(forward: &F, posterior: &Posterior, shot: &F::Shot) -> Option<Matrix> {
    let mut columns = Vec::with_capacity(posterior.mean.len());
    let mut at = posterior.mean.clone();
    for (j, middle) in posterior.mean.iter().enumerate() {
        let h = STEP * posterior.sd(j);
        if !(h > 0.0 && h.is_finite()) {
            return None;
        }
        let mut side = |by: f64| {
            if let Some(x) = at.get_mut(j) {
                *x = middle + by;
            }
            expected(forward, &at, shot).map(|p| numbers(&p))
        };
        let (up, down) = (side(h)?, side(-h)?);
        if let Some(x) = at.get_mut(j) {
            *x = *middle;
        }
        if up.len() != down.len() {
            return None;
        }
        columns.push(
            up.iter()
                .zip(&down)
                .map(|(a, b)| (a - b) / (2.0 * h))
                .collect::<Vec<f64>>(),
        );
    }
    let rows = columns.first().map_or(0, Vec::len);
    Some(
        (0..rows)
            .map(|i| columns.iter().filter_map(|c| c.get(i).copied()).collect())
            .collect(),
    )
}

/// A spot as a fit sees it. `called` is a shot from there, at the setpoint and turn in use, of which the outcome is
/// seen and nothing else; its call says where it crosses.
///
/// `None` when the model says nothing about such a shot.
pub fn spot_view<F: Forward>(
    forward: &F,
    posterior: &Posterior,
    called: &F::Shot,
    distance_m: f64,
    opening: Opening,
) -> Option<SpotView> {
    let prediction = expected(forward, &posterior.mean, called)?;
    let call = prediction.call?;
    let mut rows = by_parameters(forward, posterior, called)?;
    let (across_by, along_by) = (rows.pop()?, rows.pop()?);
    let sd = |axis: usize| -> f64 {
        let each = call.sensitivity[axis].iter().zip(&prediction.accident_variance);
        each.map(|(g, v)| g * g * v).sum::<f64>().sqrt()
    };
    Some(SpotView {
        distance_m,
        opening,
        offset_m: call.predicted_m,
        throw_sd_m: [sd(0), sd(1)],
        along_by,
        across_by,
        // Speed at the exit goes with speed of the wheel.
        along_per_ln_speed_m: call.sensitivity[0][0],
        across_per_turn_m: call.sensitivity[1][2],
    })
}

/// A shot that could be thrown, as its forward model expects it. Its observed values are not looked at: only which
/// there would be.
///
/// ```text
/// noise C = G S Gᵀ + R
/// ```
///
/// A call counts as a reading of the crossing with an error that shrinks the doubt as much as the outcomes do on
/// average. With v = gᵀ Σ g the doubt about the crossing, V the throw-to-throw variance that the other readings of
/// the shot leave, T = v + V and I(T) the information of [`class_information`] for scatter √T,
///
/// ```text
/// E[v after] = v − v² I(T)        so as a reading with r = 1/I(T) − T besides V
/// ```
///
/// exact for one normal crossing seen through fixed zones; to take the fitted crossing for the true one instead
/// would send every shot to an edge that is not there. `None` when the model says nothing about such a shot.
pub fn candidate<F: Forward>(
    forward: &F,
    posterior: &Posterior,
    shot: &F::Shot,
    spot_index: usize,
) -> Option<Candidate> {
    let prediction = expected(forward, &posterior.mean, shot)?;
    let mut readings_by = by_parameters(forward, posterior, shot)?;
    // Sensitivity to the accidents and own error of each row kept.
    let mut made: Vec<([f64; ACCIDENTS], f64)> = prediction
        .channels
        .iter()
        .map(|c| (c.sensitivity, c.variance))
        .collect();
    if let Some(call) = &prediction.call {
        let mut left: Matrix = (0..ACCIDENTS)
            .map(|i| {
                (0..ACCIDENTS)
                    .map(|j| {
                        if i == j {
                            prediction.accident_variance[i]
                        } else {
                            0.0
                        }
                    })
                    .collect()
            })
            .collect();
        for (g, variance) in &made {
            absorb(&mut left, g, *variance);
        }
        let first = made.len();
        let variance = [0, 1].map(|axis: usize| {
            let doubt = readings_by
                .get(first + axis)
                .map_or(0.0, |g| quadratic(g, &posterior.covariance));
            quadratic(&call.sensitivity[axis], &left).max(0.0) + doubt.max(0.0)
        });
        let edges = call.edges.squared();
        let information = class_information(&Glance {
            offset_m: call.predicted_m,
            throw_sd_m: variance.map(f64::sqrt),
            in_m: edges.in_m,
            out_m: edges.out_m,
        });
        for axis in (0..2).rev() {
            if information[axis] > 0.0 && variance[axis] > 0.0 {
                let error = (1.0 / information[axis] - variance[axis]).max(0.0);
                made.insert(first, (call.sensitivity[axis], error));
            } else {
                readings_by.remove(first + axis);
            }
        }
    }
    let noise = made
        .iter()
        .enumerate()
        .map(|(i, (a, own))| {
            made.iter()
                .enumerate()
                .map(|(j, (b, _))| {
                    let shared: f64 = (0..ACCIDENTS)
                        .map(|k| a[k] * prediction.accident_variance[k] * b[k])
                        .sum();
                    shared + if i == j { *own } else { 0.0 }
                })
                .collect()
        })
        .collect();
    Some(Candidate {
        spot_index,
        readings_by,
        noise,
    })
}

/// Convergence: within a hundredth of a millimetre the crossing is centred.
const CENTRED_M: f64 = 1e-5;
/// Method: most change of ln speed in one step, so that a start far off does not leave the model.
const LONGEST_STEP: f64 = 0.15;
/// Convergence: Newton needs five or six steps from near, more from far.
const MOST_STEPS: usize = 60;

/// The wheel speed that centres the mean crossing along; `called` makes the shot at a wheel speed.
///
/// Newton's method in ln of the speed. `None` when it does not settle.
pub fn centred_setpoint<F: Forward>(
    forward: &F,
    parameters: &[f64],
    start_radps: f64,
    called: impl Fn(f64) -> F::Shot,
) -> Option<f64> {
    let mut ln = libm::log(start_radps);
    for _ in 0..MOST_STEPS {
        let call = expected(forward, parameters, &called(libm::exp(ln)))?.call?;
        let (off, per) = (call.predicted_m[0], call.sensitivity[0][0]);
        if off.abs() < CENTRED_M {
            return Some(libm::exp(ln));
        }
        // Short means faster, whatever the slope says near the top of an arc.
        let step = if per > 0.0 {
            -off / per
        } else {
            -off.signum() * LONGEST_STEP
        };
        if !step.is_finite() {
            return None;
        }
        ln += step.clamp(-LONGEST_STEP, LONGEST_STEP);
    }
    None
}

/// Standard deviation of the setpoint of a spot, what the small log leaves of it included.
///
/// ```text
/// ω √(gᵀ Σ g)/(∂ along/∂ ln ω) √(N/(N − 5))
/// ```
pub fn setpoint_sd_radps(view: &SpotView, posterior: &Posterior, setpoint_radps: f64) -> f64 {
    let sd = posterior.variance_along(&view.along_by).sqrt();
    setpoint_radps * sd / view.along_per_ln_speed_m.abs() * posterior.small_sample_ratio()
}
