//! JSON of what test shots are to an answer.

use arcwright_model::floor::{Design, Learned};
use arcwright_model::project::Project;
use serde_json::{Value, json};

use super::{head, num, with};
use crate::store::ProjectValue;
use crate::tasks::aim::Compared;
use crate::tasks::floor::taught::{Basis, WhyDesign, line};
use crate::tasks::floor::time;

/// The head of an answer, with `shots` where the project's folder has a log with shots in it.
pub fn head_with(command: &str, project: &Project, basis: &Basis) -> Value {
    match shots(project, basis) {
        Value::Null => head(command, project),
        shots => with(head(command, project), json!({ "shots": shots })),
    }
}

fn shots(project: &Project, basis: &Basis) -> Value {
    let said = match basis {
        Basis::Nothing => return Value::Null,
        Basis::Learned(fit, since) => json!({
            "used": true,
            "shots": fit.shot_count,
            "sessions": fit.session_count,
            "last": time::utc(fit.last_thrown_utc_ms),
            "fitted": time::utc(fit.made_utc_ms),
            "new_since": since.new_count,
            "changed_since": since.changed_count,
        }),
        Basis::Design(why) => {
            let (code, changed) = match why {
                WhyDesign::NotFitted { .. } => ("not-fitted", Value::Null),
                WhyDesign::NotConfident(_) => ("not-confident", Value::Null),
                WhyDesign::Newer { .. } => ("newer-fit", Value::Null),
                WhyDesign::Unread(_) => ("not-read", Value::Null),
                WhyDesign::Changed { keys, .. } => (
                    "project-changed",
                    keys.iter()
                        .map(|k| json!({ "key": k.key, "then": value(&k.then), "now": value(&k.now) }))
                        .collect(),
                ),
            };
            json!({ "used": false, "why": code, "changed": changed })
        }
    };
    with(said, json!({ "says": line(project, basis) }))
}

fn value(v: &Option<ProjectValue>) -> Value {
    match v {
        None => Value::Null,
        Some(ProjectValue::Number(x)) => num(*x),
        Some(ProjectValue::Word(w)) => json!(w),
    }
}

/// A setpoint after the shots.
pub fn learned(l: &Learned) -> Value {
    json!({
        "setpoint_radps": num(l.wheel_radps),
        "setpoint_sd_radps": num(l.wheel_sd_radps),
        "along_sd_m": num(l.along_sd_m),
        "across_sd_m": num(l.across_sd_m),
        "along_scatter_m": num(l.along_scatter_m),
        "across_scatter_m": num(l.across_scatter_m),
        "hit_frac": num(l.hit_frac),
        "hit_expected_frac": num(l.expected_hit_frac),
    })
}

fn design(d: &Design) -> Value {
    json!({ "setpoint_radps": num(d.wheel_radps), "setpoint_sd_radps": num(d.wheel_sd_radps) })
}

/// Learned and designed setpoints beside each other.
pub fn compared(c: &Compared) -> Value {
    json!({
        "learned": c.learned.as_ref().map(learned),
        "design": c.design.as_ref().map(design),
        "change_radps": c.change_radps().map(num),
        "beyond_the_log": c.beyond_the_log,
    })
}
