//! The history in words: the same in the terminal, in the notebook and on the page.

use arcwright_model::limits::{Amount, Status};
use arcwright_model::project::Project;
use arcwright_model::units::Dimension as D;

use super::floor::time;
use super::history::{Compared, Difference, Story, Turn};
use crate::store::KeptFit;

/// What stands for differences where no value differs.
const REMARKS_ONLY: &str = "remarks only";
/// Under what the verdicts of states are worked out.
pub const JUDGED: &str = "both judged by this program as designed";

/// A name or value that does not fill a page: a long one ends in an ellipsis.
fn short(text: &str) -> String {
    const MOST: usize = 60;
    if text.chars().count() <= MOST {
        return text.to_string();
    }
    text.chars().take(MOST - 1).chain(['…']).collect()
}

/// A reason, or that there is none.
pub fn reason(said: &str) -> &str {
    if said.is_empty() { "no reason given" } else { said }
}

/// One value that differs.
pub fn one(d: &Difference) -> String {
    match (&d.before, &d.after) {
        (Some(a), Some(b)) => format!("{} {} -> {}", short(&d.key), short(a), short(b)),
        (None, Some(b)) => format!("{} {} (new)", short(&d.key), short(b)),
        (Some(a), None) => format!("{} {} (gone)", short(&d.key), short(a)),
        (None, None) => short(&d.key),
    }
}

/// Values that differ, in a line that names so many of them.
pub fn values(all: &[Difference], most: usize) -> String {
    let mut parts: Vec<String> = all.iter().take(most).map(one).collect();
    if all.len() > most {
        parts.push(format!("{} more", all.len() - most));
    }
    if parts.is_empty() {
        REMARKS_ONLY.to_string()
    } else {
        parts.join("; ")
    }
}

fn end(project: &Project, e: Option<(Status, Option<Amount>)>) -> String {
    match e {
        None => "not asked".to_string(),
        Some((status, margin)) => {
            let margin = margin.filter(|m| m.value.is_finite());
            let margin = margin.map_or(String::new(), |m| {
                format!(" by {}", project.say(m.value.abs(), m.dimension))
            });
            format!("{}{margin}", status.word())
        }
    }
}

/// What a verdict is about, how it ended before, and how it ends.
pub fn turn_row(project: &Project, t: &Turn) -> [String; 3] {
    let what = if t.subject.is_empty() {
        t.check.to_string()
    } else {
        format!("{} {}", t.check, short(&t.subject))
    };
    [what, end(project, t.ends[0]), end(project, t.ends[1])]
}

/// The same in a line.
pub fn turn(project: &Project, t: &Turn) -> String {
    let [what, before, after] = turn_row(project, t);
    format!("{what}: {before} -> {after}")
}

/// What a change did to the verdicts, in as few lines as tell it.
pub fn outcomes(project: &Project, c: &Compared) -> Vec<String> {
    let mut lines: Vec<String> = c.turned.iter().map(|t| turn(project, t)).collect();
    for (which, why) in ["before", "now"].iter().zip(&c.unjudged) {
        if let Some(why) = why {
            lines.push(format!("this program cannot judge it {which}: {why}"));
        }
    }
    if lines.is_empty() {
        lines.push("no verdict turned".to_string());
    }
    lines
}

/// Spot, setpoint before, setpoint after.
pub fn setpoint_rows(project: &Project, c: &Compared) -> Vec<[String; 3]> {
    let speed = |v: Option<f64>| v.map_or("none".to_string(), |v| project.say(v, D::AngularSpeed));
    let rows = c.setpoints.iter();
    rows.map(|(spot, [before, after])| [short(spot), speed(*before), speed(*after)])
        .collect()
}

/// A fit: what it was made from, and the setpoints that it learned.
pub fn fit(project: &Project, f: &KeptFit) -> [String; 2] {
    let speeds: Vec<String> = f
        .setpoints
        .iter()
        .filter_map(|s| {
            let speed = project.say(s.learned?[0], D::AngularSpeed);
            Some(format!("{} {speed}", short(&s.spot)))
        })
        .collect();
    let sure = if f.confident {
        String::new()
    } else {
        format!(" Not sure yet: {}.", f.why_not)
    };
    [
        format!(
            "fit, {}: {} shots of {} sessions",
            time::day_and_time(f.made_utc_ms),
            f.shot_count,
            f.session_count
        ),
        format!("{}.{sure}", speeds.join(", ")),
    ]
}

/// What the project is now against the newest state, where it is not that; `None` where nothing was kept or nothing changed.
pub fn unkept(story: &Story, most: usize) -> Option<String> {
    let last = story.history.states.last().filter(|_| !story.is_kept)?;
    Some(format!(
        "Now, not kept yet, against state {}: {}.",
        last.number,
        values(&story.unkept, most)
    ))
}

/// A line that cannot be read.
pub fn damaged(line: usize) -> String {
    format!("Line {line} of history.jsonl cannot be read and is left out; the others stand.")
}
