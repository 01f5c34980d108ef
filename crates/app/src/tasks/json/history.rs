//! The history as JSON.

use arcwright_model::project::Project;
use serde_json::{Value, json};

use super::{amount, head, num, with};
use crate::store::KeptFit;
use crate::tasks::floor::time;
use crate::tasks::history::{Compared, Difference, History, Turn};

fn difference(d: &Difference) -> Value {
    json!({ "key": d.key, "before": d.before, "after": d.after })
}

fn turn(t: &Turn) -> Value {
    let [before, after] = t
        .ends
        .map(|e| e.map(|(status, margin)| json!({ "status": status.word(), "margin": amount(&margin) })));
    json!({ "check": t.check, "subject": t.subject, "before": before, "after": after })
}

/// What differs between two states, and what it did.
fn change(c: &Compared) -> Value {
    json!({
        "differences": c.differences.iter().map(difference).collect::<Vec<_>>(),
        "turned": c.turned.iter().map(turn).collect::<Vec<_>>(),
        "moved": c.moved.iter().map(turn).collect::<Vec<_>>(),
        "setpoints": c.setpoints.iter().map(|(spot, [before, after])| json!({
            "spot": spot, "before_radps": before.map(num), "after_radps": after.map(num),
        })).collect::<Vec<_>>(),
        "unjudged": c.unjudged,
    })
}

/// `history --compare`.
pub fn compared(project: &Project, from: usize, to: Option<usize>, c: &Compared) -> Value {
    with(
        with(
            head("history-compare", project),
            json!({ "from": from, "to": to }),
        ),
        change(c),
    )
}

/// `history`.
pub fn history(
    project: &Project,
    all: &History,
    first: usize,
    changes: &[Option<Compared>],
    fits: &[KeptFit],
    is_kept: bool,
    unkept: &[Difference],
) -> Value {
    let states: Vec<Value> = all
        .states
        .iter()
        .skip(first)
        .zip(changes)
        .map(|(s, c)| {
            json!({
                "state": s.number, "utc": time::utc(s.utc_ms), "tool": s.tool, "reason": s.reason,
                "change": c.as_ref().map(change),
            })
        })
        .collect();
    let fits: Vec<Value> = fits
        .iter()
        .map(|f| {
            json!({
                "utc": time::utc(f.made_utc_ms), "tool": f.tool, "shots": f.shot_count, "sessions": f.session_count,
                "confident": f.confident, "why_not": f.why_not,
                "setpoints": f.setpoints.iter().map(|s| json!({
                    "spot": s.spot, "distance_m": num(s.distance_m), "learned_radps": s.learned.map(|l| num(l[0])),
                })).collect::<Vec<_>>(),
            })
        })
        .collect();
    with(
        head("history", project),
        json!({
            "states": states, "earlier_states": first, "damaged_lines": all.damaged, "fits": fits,
            "present": { "kept": is_kept, "differences": unkept.iter().map(difference).collect::<Vec<_>>() },
        }),
    )
}
