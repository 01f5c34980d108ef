//! The modelled causes of one spot brought to the scatter that test shots showed.

use super::inputs::Scope;
use super::thrower::{Detail, Thrower};
use crate::aim::SpotAim;
use crate::numerics::sobol::Sobol;
use crate::project::{MatchedScatter, Project, ShownScatter};
use crate::shot::{Chain, Exit};

/// Method: half widths of the differences by ln speed and by angle.
const STEP: [f64; 2] = [2e-3, 2e-3];
/// Method: throws behind the scatter of the model; two per cent of a deviation.
const COUNT: usize = 1024;

/// The project with its causes matched to what test shots showed, for throws from one spot; a project without
/// such shots as it is.
///
/// ```text
/// shown: s² = (∂along/∂ln v)² (σv² + σpiece²) + (∂along/∂θ)² σθ²     across: r σψ
/// s > m: a cause is added with √(1 − m²/s²) of the shown scatter     s < m: every cause times s/m
/// ```
///
/// m is the scatter of the modelled causes in throws such as were logged: first throws, with the wheel held where
/// it was measured. Variances of independent causes add up [jcgm-100].
pub(super) fn matched(project: &Project, spot_index: usize, aim: &SpotAim, seed: u64) -> Project {
    let mut out = project.clone();
    let (Some(shown), Some(best)) = (project.throws.shown, aim.best()) else {
        return out;
    };
    let (w, lead) = (best.wheel_radps, best.lead_rad);
    let plain = Thrower::of(project, spot_index, w, lead, Scope::Throws, Detail::Coarse, seed);
    let slopes = slopes(project, &best.exit, aim);
    let (Ok(plain), Some([by_speed, by_angle, range_m])) = (plain, slopes) else {
        return out;
    };
    let speed_frac = shown.speed_frac.hypot(shown.piece_frac);
    let along_m = (by_speed * speed_frac).hypot(by_angle * shown.angle_rad);
    let across_m = range_m * shown.aside_rad;
    let [model_along_m, model_across_m] = as_logged(&plain, &shown, seed);
    let (along, across) = (share(along_m, model_along_m), share(across_m, model_across_m));
    out.throws.matched = Some(MatchedScatter {
        along_ratio: along.kept,
        across_ratio: across.kept,
        speed_frac: along.added * speed_frac,
        angle_rad: along.added * shown.angle_rad,
        aside_rad: across.added * shown.aside_rad,
    });
    out
}

/// What of the model is kept, and what of the shown scatter comes on top; shares of each.
struct Share {
    kept: f64,
    added: f64,
}

fn share(shown_m: f64, model_m: f64) -> Share {
    let ratio = model_m / shown_m;
    if !(shown_m > 0.0 && ratio.is_finite()) {
        Share {
            kept: 1.0,
            added: 0.0,
        }
    } else if ratio <= 1.0 {
        Share {
            kept: 1.0,
            added: (1.0 - ratio * ratio).sqrt(),
        }
    } else {
        Share {
            kept: 1.0 / ratio,
            added: 0.0,
        }
    }
}

/// Movement of the crossing along by ln speed and by angle, and the distance to it.
fn slopes(project: &Project, exit: &Exit, aim: &SpotAim) -> Option<[f64; 3]> {
    let chain = Chain::of(project);
    let along = |by: [f64; 2]| {
        let exit = Exit {
            speed_mps: exit.speed_mps * libm::exp(by[0]),
            spin_radps: exit.spin_radps * libm::exp(by[0]),
            angle_rad: exit.angle_rad + by[1],
            ..*exit
        };
        chain.crossing(&exit, &aim.stance)
    };
    let [x, y, _] = along([0.0; 2])?.state.position_m;
    let slope = |k: usize| {
        let mut by = [0.0; 2];
        by[k] = STEP[k];
        let above = along(by)?.along_m;
        by[k] = -STEP[k];
        Some((above - along(by)?.along_m) / (2.0 * STEP[k]))
    };
    Some([slope(0)?, slope(1)?, libm::hypot(x, y)])
}

/// Deviations along and across of throws such as were logged.
fn as_logged(thrower: &Thrower, shown: &ShownScatter, seed: u64) -> [f64; 2] {
    let count = thrower.dimension_count();
    let Some(s) = Sobol::new(count, seed, 0) else {
        return [f64::NAN; 2];
    };
    let mut columns = vec![Vec::new(); count];
    s.block(0, COUNT, &mut columns);
    let place = thrower.inputs.len();
    // The place in the volley, the rest of the wheel speed, the battery.
    let held = if shown.wheel_measured {
        vec![(place, 0.0), (place + 1, 0.5), (place + 2, 0.5)]
    } else {
        vec![(place, 0.0)]
    };
    for (k, at) in held {
        if let Some(column) = columns.get_mut(k) {
            column.fill(at);
        }
    }
    thrower.crossings(&columns, 1.0).sd_m()
}
