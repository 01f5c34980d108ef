//! Setpoints of the reference model after a fit.

use super::fit::Posterior;
use super::m1::M1;
use super::m1_flight::Met;
use crate::numerics::radial::{circular_error, hit_circle};

/// The wheel speed that centres the crossing, how sure it is, and the chance of a hit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct M1Setpoint {
    /// Wheel speed.
    pub wheel_radps: f64,
    /// Its standard deviation.
    pub wheel_sd_radps: f64,
    /// Standard deviation of the mean range at that wheel speed.
    pub range_sd_m: f64,
    /// Movement of the range by wheel speed, metres for each rad/s.
    pub by_wheel_coeff: f64,
    /// Movement of the range by angle, metres for each radian.
    pub by_angle_coeff: f64,
    /// Scatter along, from shot to shot.
    pub along_scatter_m: f64,
    /// Scatter across.
    pub across_scatter_m: f64,
    /// Chance of a hit with the parameters taken as exact.
    pub hit_frac: f64,
    /// Chance of a hit with what is not known of them on top.
    pub expected_hit_frac: f64,
    /// Radius that holds half of the shots.
    pub half_radius_m: f64,
}

/// Method: longest step in ln wheel speed on the way to the setpoint.
const LONGEST_STEP: f64 = 0.1;
/// Convergence of the setpoint in ln wheel speed.
const SETTLED: f64 = 1e-12;
/// Convergence: Newton's method needs ten steps from anywhere.
const MOST_STEPS: usize = 60;
/// Method: step of the differences in ln drag and lift.
const STEP: f64 = 1e-4;

/// The setpoint for a distance at an angle.
///
/// ```text
/// r(ω*) = d     g = ∂r/∂(ln k, ln Cd, Cl, Δθ)     sd_r = √(gᵀΣg)     sd(ω*) = ω* sd_r/(∂r/∂ln k)
/// sx² = r_v² σv² + r_θ² σθ²,   sy = r σψ          expected: sx² + sd_r²,   sy² + r² Var ψ0
/// ```
///
/// `None` when no wheel speed is found, or the posterior is not of this model.
pub fn m1_setpoint(model: &M1, posterior: &Posterior, distance_m: f64, angle_rad: f64) -> Option<M1Setpoint> {
    let p: [f64; 9] = posterior.mean.as_slice().try_into().ok()?;
    let range = |p: &[f64; 9], wheel_radps: f64| -> Option<Met> {
        let track = model
            .throw(p, wheel_radps, angle_rad)
            .track(model.ring_height_m, f64::NEG_INFINITY)?;
        track.down_through(model.ring_height_m)
    };
    // Where the speed is that of a throw of twice the distance in still vacuum.
    let guess_mps = (2.0 * model.gravity_mps2 * distance_m).sqrt();
    let mut ln_wheel = (guess_mps / (p[0].exp() * model.wheel_radius_m)).ln();
    let mut here = range(&p, ln_wheel.exp())?;
    for _ in 0..MOST_STEPS {
        let step = (distance_m - here.along.value) / here.along.by[0];
        if !step.is_finite() {
            return None;
        }
        ln_wheel += step.clamp(-LONGEST_STEP, LONGEST_STEP);
        here = range(&p, ln_wheel.exp())?;
        if step.abs() < SETTLED {
            break;
        }
    }
    if !((here.along.value - distance_m).abs() < 1e-6) {
        return None;
    }
    let wheel_radps = ln_wheel.exp();
    let by = |k: usize| -> Option<f64> {
        let (mut above, mut below) = (p, p);
        above[k] += STEP;
        below[k] -= STEP;
        Some(
            (range(&above, wheel_radps)?.along.value - range(&below, wheel_radps)?.along.value)
                / (2.0 * STEP),
        )
    };
    let [by_speed, by_angle] = here.along.by;
    let gradient = [by_speed, by(1)?, by(2)?, by_angle, 0.0, 0.0, 0.0, 0.0, 0.0];
    let range_sd_m = posterior.variance_along(&gradient).sqrt();
    let scatter = |j: usize| p[j].exp();
    let along = (by_speed * scatter(5)).hypot(by_angle * scatter(6));
    let across = distance_m * scatter(7);
    let hit = |sd: [f64; 2]| hit_circle(model.inner_radius_m, [0.0; 2], sd);
    Some(M1Setpoint {
        wheel_radps,
        wheel_sd_radps: wheel_radps * range_sd_m / by_speed.abs(),
        range_sd_m,
        by_wheel_coeff: by_speed / wheel_radps,
        by_angle_coeff: by_angle,
        along_scatter_m: along,
        across_scatter_m: across,
        hit_frac: hit([along, across]),
        expected_hit_frac: hit([
            along.hypot(range_sd_m),
            across.hypot(distance_m * posterior.sd(4)),
        ]),
        half_radius_m: circular_error(along, across, 0.5)?,
    })
}
