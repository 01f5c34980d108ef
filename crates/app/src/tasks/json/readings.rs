//! JSON of what comes from the practice floor.

use arcwright_model::floor::telemetry::Estimate;
use serde_json::{Value, json};

use super::{VERSION, num};
use crate::tasks::floor::film::Filmed;
use crate::tasks::floor::record_columns::Found;
use crate::tasks::floor::telemetry::Telemetry;

fn estimate(e: &Estimate) -> Value {
    json!({ "value": num(e.value), "low": num(e.low), "high": num(e.high) })
}

fn optional(e: &Option<Estimate>) -> Value {
    e.as_ref().map_or(Value::Null, estimate)
}

fn columns(found: &[Found]) -> Value {
    found
        .iter()
        .map(|f| json!({ "theirs": f.theirs, "ours": f.name, "unit": f.unit, "unit_stated": f.unit_stated }))
        .collect()
}

fn maybe(x: Option<f64>) -> Value {
    x.map_or(Value::Null, num)
}

/// `floor telemetry`.
pub fn telemetry(t: &Telemetry) -> Value {
    let train = match &t.train {
        Ok(l) => json!({
            "tau_s": estimate(&l.tau_s),
            "speed_v_per_radps": estimate(&l.speed_v_per_radps),
            "static_v": estimate(&l.static_v),
            "accel_v_per_radps2": estimate(&l.accel_v_per_radps2),
            "inertia_kgm2": optional(&l.inertia_kgm2),
            "inertia_from_current": l.inertia_from_current,
            "free_a": optional(&l.free_a),
            "resistance_ohm": optional(&l.resistance_ohm),
            "battery_open_v": optional(&l.open_v),
            "battery_ohm": optional(&l.battery_ohm),
            "condition_ratio": num(l.line.condition_ratio),
            "window_count": l.window_count,
            "notes": l.notes,
        }),
        Err(_) => Value::Null,
    };
    let why = t
        .train
        .as_ref()
        .err()
        .map(|f| json!({ "code": f.code, "what": f.what, "fix": f.fix }));
    json!({
        "schema": format!("arcwright/floor-telemetry/{VERSION}"),
        "tool": env!("CARGO_PKG_VERSION"),
        "columns": columns(&t.found),
        "notes": t.notes.iter().cloned().chain(t.repaired.repairs.iter().map(|r| r.words())).collect::<Vec<_>>(),
        "rows_count": t.repaired.log.time_s.len(),
        "step_s": num(t.repaired.step_s),
        "noise_radps": num(t.dips.noise_radps),
        "smallest_radps": num(t.dips.smallest_radps),
        "band_frac": num(t.band_frac),
        "throws": t.dips.dips.iter().map(|d| json!({
            "time_s": num(d.time_s),
            "before_radps": num(d.before_radps),
            "before_sd_radps": num(d.before_sd_radps),
            "after_radps": num(d.after_radps),
            "after_sd_radps": num(d.after_sd_radps),
            "dip_frac": num(d.dip_frac),
            "recovery_s": maybe(d.recovery_s),
            "battery_v": maybe(d.battery_v),
            "lowest_v": maybe(d.lowest_v),
        })).collect::<Vec<_>>(),
        "train": train,
        "train_not_learned": why,
        "beside_parts": t.likenesses.iter().map(|l| json!({
            "name": l.name,
            "ratio": estimate(&l.ratio),
            "found": estimate(&l.found),
            "listed": num(l.value),
            "established": l.established,
            "words": l.words,
        })).collect::<Vec<_>>(),
    })
}

/// `floor film`.
pub fn film(filmed: &Filmed) -> Value {
    let f = &filmed.film;
    json!({
        "schema": format!("arcwright/floor-film/{VERSION}"),
        "tool": env!("CARGO_PKG_VERSION"),
        "columns": columns(&filmed.found),
        "notes": filmed.notes,
        "speed_mps": estimate(&f.speed_mps),
        "angle_rad": estimate(&f.angle_rad),
        "drag_coeff": estimate(&f.drag_coeff),
        "drag_ratio": estimate(&f.drag_ratio),
        "drag_learned": f.drag_learned,
        "lift_coeff": estimate(&f.lift_coeff),
        "lift_learned": f.lift_learned,
        "gravity_mps2": optional(&f.gravity_mps2),
        "residual_rms_m": num(f.residual_rms_m),
        "mirrored": f.mirrored,
        "points": f.points.iter().zip(&f.residuals_m).map(|(p, r)| json!({
            "time_s": num(p.time_s),
            "along_m": num(p.x_m),
            "height_m": num(p.z_m),
            "off_m": r.map(|r| json!([num(r[0]), num(r[1])])),
        })).collect::<Vec<_>>(),
        "doubts": f.doubts.iter().map(|d| json!({
            "name": d.name, "serious": d.serious, "words": d.words,
        })).collect::<Vec<_>>(),
    })
}
