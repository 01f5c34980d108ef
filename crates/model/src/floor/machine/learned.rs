//! From deviations back to the quantities of the project.

use super::layout::Effect;
use super::model::Machine;
use super::prior::{Before, THROUGH_THE_EXIT};
use super::{Estimate, Fitted};
use crate::flight::Lift;
use crate::floor::fit::Posterior;
use crate::project::{self, Project, Spot, Spread};
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

/// The project with what was learned put in: speed transfer, offsets, drag and lift as they were in the last session
/// of the log, for the first throw of a volley with an average piece and a battery as written.
///
/// Drag, lift, angle and speed are known together far better than one by one. So that nothing that reads the
/// project takes them for independent, the whole spread is put on speed transfer, as large as it shows at the
/// target from the distances that were thrown from; the other spreads that the log has absorbed are taken out.
/// Fit the next log with the project as first written and all shots, not with this one.
pub fn fitted_project(project: &Project, fitted: &Fitted) -> Project {
    let mut out = project.clone();
    let value = |e: Effect| fitted.deviation(e);
    let session = fitted.session_index;
    let ln_speed = value(Effect::Speed) + value(Effect::SessionSpeed(session));
    let m = &mut out.machine;
    let transfer = m.speed_transfer_ratio * ln_speed.exp();
    m.speed_transfer_ratio = transfer;
    m.exit_offset_rad += value(Effect::Angle) + value(Effect::SessionAngle(session));
    m.aim_offset_rad += value(Effect::Aside);
    for (key, factor) in [
        ("piece.drag", value(Effect::Drag).exp()),
        ("piece.lift", 1.0 + value(Effect::Lift)),
    ] {
        if let Some(v) = project::get(project, key) {
            project::set(&mut out, key, v * factor);
        }
    }
    for key in THROUGH_THE_EXIT
        .iter()
        .chain(&["piece.drag", "piece.lift", "launcher.exit_offset"])
    {
        out.spreads.remove(*key);
    }
    let factor = fitted.posterior.small_sample_ratio();
    let sd = transfer * factor * fitted.speed_sd_at_target();
    if sd.is_finite() {
        out.spreads
            .insert("launcher.speed_transfer".into(), Spread::Normal { sd });
    }
    if let Some(j) = fitted.index(Effect::Aside) {
        let sd = factor * fitted.posterior.sd(j);
        out.spreads
            .insert("launcher.aim_offset".into(), Spread::Normal { sd });
    }
    out
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
