//! From deviations back to the quantities of the project.

use super::layout::Effect;
use super::model::Machine;
use super::prior::Before;
use super::{Estimate, Fitted};
use crate::flight::Lift;
use crate::floor::fit::Posterior;
use crate::floor::taught::Taught;
use crate::project::{self, Project, Spot};
use crate::shot::{Chain, Exit, Stance};

/// Estimates in the units that people speak of: ratios, coefficients, angles, scatter as shares and angles.
pub(super) fn estimates(project: &Project, machine: &Machine, posterior: &Posterior) -> Vec<Estimate> {
    let factor = posterior.small_sample_ratio();
    let each = machine.parameters.effects.iter().enumerate();
    each.map(|(j, effect)| {
        let (shift, sd) = (
            posterior.mean.get(j).copied().unwrap_or(0.0),
            factor * posterior.sd(j),
        );
        let prior_sd = posterior.prior.sd.get(j).copied().unwrap_or(f64::NAN);
        let (base, unit, grows) = scale(project, machine, *effect);
        // What is fitted as a logarithm is shown as what it multiplies.
        let (mean, sd, prior_mean, prior_sd) = match grows {
            Grows::Exponentially => (base * shift.exp(), base * shift.exp() * sd, base, base * prior_sd),
            Grows::InShares => (base * (1.0 + shift), base.abs() * sd, base, base.abs() * prior_sd),
            Grows::Plainly => (base + shift, sd, base, prior_sd),
        };
        Estimate {
            effect: *effect,
            name: effect.name(),
            words: effect.words(),
            unit,
            prior_mean,
            prior_sd,
            mean,
            sd,
            ratio: posterior.sd_by_prior_ratio(j),
        }
    })
    .collect()
}

enum Grows {
    Exponentially,
    InShares,
    Plainly,
}

/// Value before, unit, and how the deviation acts.
fn scale(project: &Project, machine: &Machine, effect: Effect) -> (f64, &'static str, Grows) {
    let key = |k: &str| project::get(project, k).unwrap_or(1.0);
    let b = &machine.before;
    match effect {
        Effect::Speed => (project.machine.speed_transfer_ratio, "1", Grows::Exponentially),
        Effect::Angle => (project.machine.exit_offset_rad, "rad", Grows::Plainly),
        Effect::Aside => (project.machine.aim_offset_rad, "rad", Grows::Plainly),
        Effect::Drag => (key("piece.drag"), "1", Grows::Exponentially),
        Effect::Lift => (key("piece.lift"), "1", Grows::InShares),
        Effect::SpeedScatter => (b.speed_scatter_frac, "1", Grows::Exponentially),
        Effect::AngleScatter => (b.angle_scatter_rad, "rad", Grows::Exponentially),
        Effect::AsideScatter => (b.aside_scatter_rad, "rad", Grows::Exponentially),
        Effect::Dip => (1.0, "1", Grows::Exponentially),
        Effect::SessionAngle(_) => (0.0, "rad", Grows::Plainly),
        _ => (0.0, "1", Grows::Plainly),
    }
}

/// Standard deviation of ln speed that moves the crossing as much as all that is not known, over the log's distances.
pub(in crate::floor) fn speed_sd_at_target(fitted: &Fitted, taught: &Taught) -> f64 {
    let known = taught.known();
    let ratios: Vec<f64> = fitted
        .centring_slopes()
        .iter()
        .map(|s| known.variance_along(s) / (s[0] * s[0]))
        .filter(|r| r.is_finite())
        .collect();
    if ratios.is_empty() {
        return known.variance_along(&[1.0, 0.0, 0.0, 0.0]).sqrt();
    }
    (ratios.iter().sum::<f64>() / ratios.len() as f64).sqrt()
}

impl Fitted {
    /// Place of an effect among the parameters.
    pub fn index(&self, effect: Effect) -> Option<usize> {
        self.machine.parameters.index(effect)
    }

    /// What was believed before.
    pub fn before(&self) -> &Before {
        &self.machine.before
    }

    /// Shots that took part with the wheel measured before the throw.
    pub(in crate::floor) fn measured_count(&self) -> usize {
        let measured = |s: &&super::LoggedShot| s.shot.before_radps.is_some();
        self.shots.iter().filter(measured).count()
    }

    /// One throw from each distance of the log, with what was learned put in.
    pub(in crate::floor) fn throws(&self) -> Vec<(Chain, Exit, Stance)> {
        let value = |e: Effect| self.deviation(e);
        let s = self.session_index;
        let mut chain = self.machine.chain.clone();
        chain.ball.drag.scale_ratio *= value(Effect::Drag).exp();
        if let Lift::Saturating { scale_ratio, .. } = &mut chain.ball.lift {
            *scale_ratio *= 1.0 + value(Effect::Lift);
        }
        let faster = (value(Effect::Speed) + value(Effect::SessionSpeed(s))).exp();
        let steeper = value(Effect::Angle) + value(Effect::SessionAngle(s));
        let mut seen: Vec<f64> = Vec::new();
        let mut out = Vec::new();
        for shot in &self.shots {
            let distance_m = shot.shot.distance_m;
            if seen.contains(&distance_m) {
                continue;
            }
            seen.push(distance_m);
            let exit = Exit {
                speed_mps: shot.exit.speed_mps * faster,
                spin_radps: shot.exit.spin_radps * faster,
                angle_rad: shot.exit.angle_rad + steeper,
                ..shot.exit
            };
            let spot = Spot {
                name: String::new(),
                distance_m,
                offset_m: 0.0,
                heading_rad: 0.0,
            };
            out.push((chain.clone(), exit, chain.stance(&spot)));
        }
        out
    }

    /// Most probable deviation of one effect; 0 when the log says nothing of it.
    pub fn deviation(&self, effect: Effect) -> f64 {
        self.index(effect)
            .and_then(|j| self.posterior.mean.get(j).copied())
            .unwrap_or(0.0)
    }
}
