//! A remedy into the project file.

use arcwright_model::feed::hopper::Hopper;
use arcwright_model::feed::remedy::{Remedy, remedies};
use arcwright_model::finding::{Finding, nearest};
use arcwright_model::project::schema;
use arcwright_model::project::{Project, get};

use super::parts;
use crate::project::{Change, Edit, Edited, WriteRefusal, with_edits};

/// Rounding: values nearer than this are the same.
const SAME_RATIO: f64 = 1e-9;
const REVERSE: &str = "feed.stirrer.reverse";

/// The remedy of a project by its code.
///
/// # Errors
/// `no-feed`, or `no-such-remedy` for a code that is none or does not fit this hopper.
pub fn remedy(project: &Project, code: &str) -> Result<Remedy, Finding> {
    let (hopper, pieces) = parts(project)?;
    let all = remedies(&hopper, &pieces);
    all.iter().find(|r| r.code == code).copied().ok_or_else(|| {
        let near = nearest(code, all.iter().map(|r| r.code))
            .map_or(String::new(), |n| format!("did you mean `{n}`? "));
        let codes: Vec<&str> = all.iter().map(|r| r.code).collect();
        Finding::new(
            "no-such-remedy",
            "remedy",
            format!("`{code}` is no change that fits this hopper"),
            format!("{near}there are {}", codes.join(", ")),
        )
    })
}

/// The text of the project with a remedy in it: what was played is what is written.
///
/// # Errors
/// What stands in the way in the file; nothing is then changed.
pub fn applied(text: &str, project: &Project, remedy: &Remedy) -> Result<Edited, WriteRefusal> {
    let mut wanted = project.clone();
    if let Some(feed) = &mut wanted.feed {
        feed.hopper = remedy.hopper;
    }
    let mut edited = with_edits(text, &edits(project, &wanted))?;
    // What the file leaves to a default that goes by a changed value (a roller by the chute) stays as it was played.
    let more = edits(&edited.project, &wanted);
    if !more.is_empty() {
        let again = with_edits(&edited.text, &more)?;
        edited = Edited {
            rewritten: [edited.rewritten, again.rewritten].concat(),
            ..again
        };
    }
    Ok(edited)
}

fn differs(a: f64, b: f64) -> bool {
    (a - b).abs() > SAME_RATIO * a.abs().max(b.abs())
}

/// What makes the feed of one project that of another.
fn edits(now: &Project, wanted: &Project) -> Vec<Edit> {
    let (Some(from), Some(to)) = (now.feed, wanted.feed) else {
        return Vec::new();
    };
    let has = |h: &Hopper| [h.roller.is_some(), h.stirrer.is_some(), h.bands.is_some()];
    let (before, after) = (has(&from.hopper), has(&to.hopper));
    let tables = ["feed.roller", "feed.stirrer", "feed.bands"];
    let mut all = Vec::new();
    for ((table, was), is) in tables.iter().zip(before).zip(after) {
        let entries = || schema::entries().filter(|e| e.table() == *table);
        let reverses = to.hopper.stirrer.is_some_and(|s| s.reverses);
        match (was, is) {
            (true, false) => all.push(Edit::RetireTable {
                table: (*table).to_string(),
            }),
            (false, true) => all.push(Edit::AddTable {
                table: (*table).to_string(),
                values: entries()
                    .filter_map(|e| {
                        let value_si = get(wanted, e.key)?;
                        // What a reader assumes anyway need not stand there.
                        let assumed = e.need.assumed(wanted).is_some_and(|(v, _)| !differs(v, value_si));
                        (!assumed).then(|| Change {
                            key: e.key.to_string(),
                            value_si,
                        })
                    })
                    .collect(),
                flags: (REVERSE.starts_with(table) && reverses)
                    .then(|| REVERSE.to_string())
                    .into_iter()
                    .collect(),
            }),
            _ => {}
        }
    }
    for e in schema::entries().filter(|e| e.key.starts_with("feed.")) {
        if let (Some(a), Some(b)) = (get(now, e.key), get(wanted, e.key))
            && differs(a, b)
        {
            all.push(Edit::Value(Change {
                key: e.key.to_string(),
                value_si: b,
            }));
        }
    }
    if let (Some(a), Some(b)) = (from.hopper.stirrer, to.hopper.stirrer)
        && a.reverses != b.reverses
    {
        all.push(Edit::Flag {
            key: REVERSE.to_string(),
            yes: b.reverses,
        });
    }
    all
}
