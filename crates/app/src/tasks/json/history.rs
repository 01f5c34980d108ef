//! The history as JSON.

use arcwright_model::project::Project;
use serde_json::{Value, json};

use super::{amount, head, num, with};
use crate::tasks::floor::time;
use crate::tasks::history::{Compared, Difference, Story, Turn};
use crate::tasks::history_words as words;

/// Method: more values than this are not put into words; all of them are there as values.
const MOST_NAMED: usize = 40;

fn difference(d: &Difference) -> Value {
    json!({ "key": d.key, "before": d.before, "after": d.after })
}

fn turn(t: &Turn) -> Value {
    let [before, after] = t
        .ends
        .map(|e| e.map(|(status, margin)| json!({ "status": status.word(), "margin": amount(&margin) })));
    json!({ "check": t.check, "subject": t.subject, "before": before, "after": after })
}

/// What differs between two states, and what it did; the words are those of the terminal.
fn change(project: &Project, c: &Compared) -> Value {
    json!({
        "differences": c.differences.iter().map(difference).collect::<Vec<_>>(),
        "turned": c.turned.iter().map(turn).collect::<Vec<_>>(),
        "moved": c.moved.iter().map(turn).collect::<Vec<_>>(),
        "setpoints": c.setpoints.iter().map(|(spot, [before, after])| json!({
            "spot": spot, "before_radps": before.map(num), "after_radps": after.map(num),
        })).collect::<Vec<_>>(),
        "unjudged": c.unjudged,
        "words": {
            "values": words::values(&c.differences, MOST_NAMED),
            "outcomes": words::outcomes(project, c),
            "turned": c.turned.iter().map(|t| words::turn_row(project, t)).collect::<Vec<_>>(),
            "moved": c.moved.iter().map(|t| words::turn_row(project, t)).collect::<Vec<_>>(),
            "setpoints": words::setpoint_rows(project, c),
        },
    })
}

/// `history --compare`.
pub fn compared(project: &Project, from: usize, to: Option<usize>, c: &Compared) -> Value {
    with(
        with(
            head("history-compare", project),
            json!({ "from": from, "to": to }),
        ),
        change(project, c),
    )
}

/// `history`.
pub fn history(project: &Project, story: &Story) -> Value {
    let all = &story.history;
    let states: Vec<Value> = all
        .states
        .iter()
        .skip(story.first)
        .zip(&story.changes)
        .map(|(s, c)| {
            json!({
                "state": s.number, "utc": time::utc(s.utc_ms), "tool": s.tool, "reason": s.reason,
                "change": c.as_ref().map(|c| change(project, c)),
            })
        })
        .collect();
    let fits: Vec<Value> = story
        .fits
        .iter()
        .map(|f| {
            json!({
                "utc": time::utc(f.made_utc_ms), "tool": f.tool, "shots": f.shot_count, "sessions": f.session_count,
                "confident": f.confident, "why_not": f.why_not,
                "setpoints": f.setpoints.iter().map(|s| json!({
                    "spot": s.spot, "distance_m": num(s.distance_m), "learned_radps": s.learned.map(|l| num(l[0])),
                })).collect::<Vec<_>>(),
                "words": words::fit(project, f),
            })
        })
        .collect();
    with(
        head("history", project),
        json!({
            "states": states, "earlier_states": story.first, "damaged_lines": all.damaged, "fits": fits,
            "present": {
                "kept": story.is_kept, "differences": story.unkept.iter().map(difference).collect::<Vec<_>>(),
                "words": words::unkept(story, MOST_NAMED),
            },
        }),
    )
}
