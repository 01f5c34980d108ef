//! `floor list --json`; described in `docs/json.md`.

use arcwright_model::project::Project;
use serde_json::{Value, json};

use super::practice::{Trial, Went};
use super::time;
use crate::store::{Entry, Logged, Session, Version};
use crate::tasks::json::{head, num, with};

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

/// `floor next`.
pub fn next(project: &Project, outlook: &super::next::Outlook) -> Value {
    let name = |i: usize| project.spots.get(i).map(|s| s.name.clone());
    let spots: Vec<Value> = outlook
        .spots
        .iter()
        .enumerate()
        .map(|(i, s)| match s {
            Some(s) => json!({
                "spot": name(i),
                "shots": s.shot_count,
                "setpoint_radps": s.in_use.setpoint_radps,
                "turned_rad": s.in_use.turned_rad,
                "hit_now_frac": num(s.now_frac),
                "hit_best_frac": num(s.best_frac),
                "hit_known_frac": num(s.known_frac),
            }),
            None => json!({ "spot": name(i) }),
        })
        .collect();
    let moves: Vec<Value> = outlook
        .moves
        .iter()
        .map(|m| {
            json!({
                "spot": name(m.spot_index),
                "knob": m.change.knob,
                "by": num(m.change.by),
                "to": num(m.to),
                "hit_before_frac": num(m.change.hit_frac[0]),
                "hit_after_frac": num(m.change.hit_frac[1]),
                "effort": arcwright_model::floor::next::Effort::Free.words(),
            })
        })
        .collect();
    let stop = outlook.stop.as_ref();
    with(
        head("floor-next", project),
        json!({
            "spots": spots,
            "moves": moves,
            "mechanical": outlook.mechanical.as_ref().map(|m| json!({
                "knob": m.knob,
                "from": num(m.from),
                "to": num(m.to),
                "effort": m.effort.words(),
                "spots": m.now.spots.iter().zip(&m.then.spots).enumerate().map(|(i, (a, b))| json!({
                    "spot": name(i),
                    "served_before": a.served(),
                    "served_after": b.served(),
                    "hit_before_frac": num(a.hit_frac),
                    "hit_after_frac": num(b.hit_frac),
                    "setpoint_radps": b.wheel_radps.map(num),
                })).collect::<Vec<_>>(),
            })),
            "stop": outlook.ends(),
            "worst_loss_frac": stop.map(|s| num(s.worst_loss_frac)),
            "mean_loss_frac": stop.map(|s| num(s.mean_loss_frac)),
            "next_gain_frac": stop.map(|s| num(s.next_gain_frac)),
            "shot": outlook.shot.as_ref().map(|s| json!({
                "spot": name(s.spot_index),
                "setpoint_radps": s.setpoint_radps,
                "turned_rad": s.turned_rad,
                "gain_frac": num(s.gain_frac),
            })),
            "says": super::next::words(project, outlook).lines().collect::<Vec<_>>(),
        }),
    )
}

/// `floor fit`.
pub fn fit(
    project: &Project,
    fitted: &arcwright_model::floor::Fitted,
    table: &[arcwright_model::floor::Setpoint],
    kept: bool,
) -> Value {
    let estimates: Vec<Value> = fitted
        .estimates
        .iter()
        .map(|e| {
            json!({
                "name": e.name,
                "words": e.words,
                "unit": e.unit,
                "before": { "mean": num(e.prior_mean), "sd": num(e.prior_sd) },
                "now": { "mean": num(e.mean), "sd": num(e.sd) },
                "ratio": num(e.ratio),
                "learned": e.is_learned(),
            })
        })
        .collect();
    let setpoints: Vec<Value> = project
        .spots
        .iter()
        .zip(table)
        .map(|(spot, s)| {
            json!({
                "spot": spot.name,
                "distance_m": s.distance_m,
                "setpoint_radps": s.wheel.map(|w| num(w.wheel_radps)),
                "setpoint_sd_radps": s.wheel.map(|w| num(w.wheel_sd_radps)),
                "hit_frac": s.wheel.map(|w| num(w.hit_frac)),
                "hit_expected_frac": s.wheel.map(|w| num(w.expected_hit_frac)),
                "along_sd_m": s.wheel.map(|w| num(w.along_sd_m)),
                "across_sd_m": s.wheel.map(|w| num(w.across_sd_m)),
                "along_scatter_m": s.wheel.map(|w| num(w.along_scatter_m)),
                "across_scatter_m": s.wheel.map(|w| num(w.across_scatter_m)),
                "design_radps": s.design.map(|d| num(d.wheel_radps)),
                "design_sd_radps": s.design.map(|d| num(d.wheel_sd_radps)),
                "beyond_the_log": s.beyond_the_log,
            })
        })
        .collect();
    with(
        head("floor-fit", project),
        json!({
            "shots": fitted.used.len(),
            "confident": fitted.confident,
            "kept": kept,
            "estimates": estimates,
            "setpoints": setpoints,
            "notes": fitted.diagnostics.iter().map(|n| json!({ "code": n.code, "what": n.what, "fix": n.fix })).collect::<Vec<_>>(),
            "apart": fitted.apart.iter().map(|a| json!({ "what": a.what, "shots": a.shots })).collect::<Vec<_>>(),
        }),
    )
}

/// `floor rehearse`.
pub fn rehearse(project: &Project, steps: Vec<Value>) -> Value {
    with(head("floor-rehearse", project), json!({ "steps": steps }))
}

/// One machine of `floor rehearse --machines`.
pub fn trial(trial: &Trial) -> Value {
    let went = |w: &Went| {
        json!({
            "right_after": w.right_after,
            "stopped_after": w.stopped_after,
            "hit_frac": w.hit_frac,
        })
    };
    json!({
        "step": "machine",
        "seed": trial.seed,
        "wanted_frac": trial.wanted_frac,
        "by_next": went(&trial.by_next),
        "by_hand": went(&trial.by_hand),
    })
}
