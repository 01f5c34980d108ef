//! `floor list --json`; described in `docs/json.md`.

use arcwright_model::project::Project;
use serde_json::{Value, json};

use super::time;
use crate::store::{Entry, Logged, Session, Version};
use crate::tasks::json::{head, with};

/// `floor list`.
pub fn list(project: &Project, sessions: &[Session], shots: &[Logged]) -> Value {
    let sessions: Vec<Value> = sessions
        .iter()
        .map(|s| {
            let own: Vec<Value> = shots
                .iter()
                .filter(|l| l.session == s.id && !l.entry.taken_back)
                .map(|l| {
                    with(
                        json!({
                            "shot": l.id,
                            "time": l.time_known.then(|| time::utc(l.thrown_utc_ms)),
                            "source": l.source,
                            "words": l.words,
                            "versions": l.versions,
                        }),
                        entry(&l.entry),
                    )
                })
                .collect();
            json!({
                "session": s.id,
                "began": time::utc(s.started_utc_ms),
                "name": s.name,
                "remarks": s.remarks,
                "shots": own,
            })
        })
        .collect();
    with(head("floor-list", project), json!({ "sessions": sessions }))
}

/// `floor list --history`.
pub fn history(project: &Project, shot: i64, versions: &[Version]) -> Value {
    let versions: Vec<Value> = versions
        .iter()
        .map(|v| {
            with(
                json!({
                    "version": v.number,
                    "written": time::utc(v.written_utc_ms),
                    "done": v.done,
                    "words": v.words,
                }),
                entry(&v.entry),
            )
        })
        .collect();
    with(
        head("floor-history", project),
        json!({ "shot": shot, "versions": versions }),
    )
}

fn entry(e: &Entry) -> Value {
    json!({
        "taken_back": e.taken_back,
        "left_out_because": e.left_out_because,
        "spot": e.spot,
        "distance_m": e.distance_m,
        "offset_m": e.offset_m,
        "turned_rad": e.turned_rad,
        "setting": { "slide_m": e.slide_m, "tilt_rad": e.tilt_rad, "reach_m": e.reach_m },
        "setpoint_radps": e.setpoint_radps,
        "before_radps": e.before_radps,
        "after_radps": e.after_radps,
        "battery_v": e.battery_v,
        "piece": e.piece,
        "place": e.place,
        "volley_count": e.volley_count,
        "landing": e.landing_m.map(|[a, b, c]| json!({ "along_m": a, "across_m": b, "height_m": c })),
        "wall": e.wall_m.map(|[a, b]| json!({ "distance_m": a, "height_m": b })),
        "fall": e.fall.map(|(a, b)| json!({ "time_s": a, "height_m": b })),
        "miss": e.miss_m.map(|[a, b]| json!({ "along_m": a, "across_m": b })),
        "outcome": e.outcome.map(|o| o.word()),
        "exit_speed_mps": e.exit_speed_mps,
        "exit_angle_rad": e.exit_angle_rad,
        "jammed": e.jammed,
        "note": e.note,
    })
}
