//! What is not known before the first test shots, and how far it moves the crossing.

use crate::launcher::Setting;
use crate::project::{self, Project, Spot};
use crate::shot::Chain;

use super::curve::exit_at;
use super::slopes::slopes_m;

/// Quantities that are the same from shot to shot but not well known until shots are logged.
/// Piece-to-piece variation of mass and size is scatter, not doubt, and is left out here.
pub const UNTESTED: &[&str] = &[
    "piece.drag",
    "piece.lift",
    "piece.stiffness",
    "piece.bounce",
    "wheel.friction",
    "launcher.guide_friction",
    "launcher.rolling_loss",
    "launcher.speed_transfer",
];

/// One-sigma doubt about where the piece crosses at a given wheel speed.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Doubt {
    /// Movement of the crossing along the opening, one standard deviation.
    pub along_sd_m: f64,
    /// The same as a wheel speed: how far the true setpoint may lie from the predicted one.
    pub setpoint_sd_radps: f64,
    /// Share of each quantity in the variance, largest first.
    pub shares: Vec<(&'static str, f64)>,
}

/// First-order propagation: sd² = Σ (∂along/∂q · sd_q)², each derivative by a one-sigma step
/// [jcgm-100] 5.1.2, uncorrelated inputs. After test shots gᵀΣg with what is known together, 5.2.2.
pub(super) fn doubt(
    project: &Project,
    setting: &Setting,
    spot: &Spot,
    lead_rad: f64,
    wheel_radps: f64,
    along_per_percent_m: f64,
) -> Doubt {
    let doubt_of = |along_sd_m: f64, shares| Doubt {
        along_sd_m,
        setpoint_sd_radps: along_sd_m / along_per_percent_m.abs() * wheel_radps / 100.0,
        shares,
    };
    if let Some(known) = &project.known {
        let chain = Chain::of(project);
        let slopes = exit_at(&chain, setting, wheel_radps)
            .ok()
            .and_then(|e| slopes_m(&chain, &e, &chain.stance_led(spot, lead_rad)));
        let sd_m = slopes.map_or(f64::NAN, |s| known.variance_along(&s).sqrt());
        return doubt_of(sd_m, Vec::new());
    }
    let along = |p: &Project| {
        let chain = Chain::of(p);
        let stance = chain.stance_led(spot, lead_rad);
        exit_at(&chain, setting, wheel_radps)
            .ok()
            .and_then(|e| chain.crossing(&e, &stance))
            .map(|c| c.along_m)
    };
    let Some(base) = along(project) else {
        return doubt_of(f64::NAN, Vec::new());
    };
    let mut parts: Vec<(&'static str, f64)> = Vec::new();
    for key in UNTESTED {
        let (Some(spread), Some(value)) = (project.spreads.get(*key), project::get(project, key)) else {
            continue;
        };
        let mut moved = project.clone();
        let sd = spread.sd();
        // Down where up does not come through: near the edge of reach one side may be missing.
        let shift = [sd, -sd].into_iter().find_map(|by| {
            project::set(&mut moved, key, value + by)
                .then(|| along(&moved))
                .flatten()
                .map(|a| a - base)
        });
        parts.push((key, shift.map_or(f64::NAN, |d| d * d)));
    }
    let variance: f64 = parts.iter().map(|p| p.1).sum();
    parts.sort_by(|a, b| b.1.total_cmp(&a.1));
    let share = |v: f64| if variance > 0.0 { v / variance } else { 0.0 };
    doubt_of(
        variance.sqrt(),
        parts.into_iter().map(|(k, v)| (k, share(v))).collect(),
    )
}
