//! JSON of a hand-over to the robot's code.

use arcwright_model::project::Project;
use serde_json::{Map, Value, json};

use super::{head, num, taught, with};
use crate::tasks::floor::taught::Basis;
use crate::tasks::hand::{Checked, Hand, warnings};

/// `hand`.
pub fn hand(project: &Project, h: &Hand, basis: &Basis) -> Value {
    let stamp: Map<String, Value> = h
        .stamp
        .lines()
        .into_iter()
        .map(|(key, value)| (key.to_string(), json!(value)))
        .collect();
    let constants: Map<String, Value> = h
        .constants
        .iter()
        .map(|c| (c.name.to_lowercase(), num(c.value)))
        .collect();
    let rows: Vec<Value> = h
        .lookup
        .rows
        .iter()
        .map(|r| {
            json!({
                "distance_m": num(r.distance_m),
                "wheel_radps": num(r.wheel_radps),
                "wheel_sd_radps": num(r.wheel_sd_radps),
                "lead_rad": num(r.lead_rad),
            })
        })
        .collect();
    with(
        taught::head_with("hand", project, basis),
        json!({
            "stamp": stamp,
            "setting": super::setting(&project.machine.setting),
            "rule": "linear",
            "outside": "nearest-row",
            "rows": rows,
            "constants": constants,
            "opening": h.opening.as_ref().map(|o| json!({
                "states": o.steps.iter().map(|s| json!({
                    "state": s.state, "does": s.what, "until": s.until, "start_s": num(s.start_s), "time_s": num(s.time_s),
                })).collect::<Vec<_>>(),
                "left_s": num(o.left_s),
                "fits": o.fits_count,
            })),
            "brakes": project.machine.controller.brakes,
            "shots_speak_m": h.shots_speak_m.map(|ends| ends.map(num)),
            "warnings": warnings(h),
        }),
    )
}

/// `hand --verify`.
pub fn hand_verify(project: &Project, file: &str, c: &Checked) -> Value {
    let changed: Vec<Value> = c
        .changed
        .iter()
        .map(|c| json!({ "key": c.key, "then": c.then, "now": c.now }))
        .collect();
    with(
        head("hand-verify", project),
        json!({
            "file": file,
            "form": c.form.word(),
            "matches": c.matches,
            "made": c.made,
            "changed": changed,
            "most_off": c.most_off.map(|m| json!({
                "distance_m": num(m.distance_m), "then_radps": num(m.then_radps), "now_radps": num(m.now_radps),
            })),
            "first_difference": c.first_difference.as_ref().map(|(line, then, now)| json!({
                "line": line, "then": then, "now": now,
            })),
        }),
    )
}
