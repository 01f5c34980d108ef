//! The modelled causes of one spot brought to the scatter that test shots showed.

use super::inputs::Scope;
use super::thrower::{Detail, Thrower};
use crate::aim::{SpotAim, slopes_m};
use crate::numerics::sobol::Sobol;
use crate::project::{MatchedScatter, Project, ShownScatter, Spread};
use crate::shot::Chain;

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
    let chain = Chain::of(project);
    let slopes = slopes_m(&chain, &best.exit, &aim.stance);
    let (Ok(plain), Some([by_speed, by_angle, ..]), Some(crossing)) = (plain, slopes, best.arrival.crossing)
    else {
        return out;
    };
    let [x, y, _] = crossing.state.position_m;
    let range_m = libm::hypot(x, y);
    // What is not known of the setpoint, as large as it shows from this spot.
    if project.known.is_some() && by_speed != 0.0 {
        let sd = project.machine.speed_transfer_ratio * best.doubt.along_sd_m / by_speed.abs();
        if sd > 0.0 && sd.is_finite() {
            out.spreads
                .insert("launcher.speed_transfer".into(), Spread::Normal { sd });
        }
    }
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
