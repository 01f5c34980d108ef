//! `history`: what the project was before, why it was changed, and what that did.

use std::path::Path;

use arcwright_model::limits::{Amount, Status};
use arcwright_model::project::Project;
use arcwright_model::units::Dimension as D;
use clap::Args;

use super::say::{name, wrap};
use super::{Answer, FINE, Refusal, Which, source};
use crate::store::KeptFit;
use crate::tasks::floor::time;
use crate::tasks::history::{
    Compared, Difference, Judged, Kept, Turn, compare, compare_judged, differences, fits, judge, keep, read,
};
use crate::tasks::json;

#[derive(Args)]
pub struct HistoryArgs {
    #[command(flatten)]
    which: Which,
    /// Keep the project as it is now, with the reason why; or give the newest state its reason
    #[arg(long, value_name = "REASON", conflicts_with_all = ["compare", "show"])]
    because: Option<String>,
    /// Compare this state with another
    #[arg(long, value_name = "STATE", conflicts_with = "show")]
    compare: Option<usize>,
    /// The other one [default: the project as it is now]
    #[arg(long, value_name = "STATE", requires = "compare")]
    with: Option<usize>,
    /// Print the project file as it was in this state
    #[arg(long, value_name = "STATE")]
    show: Option<usize>,
    /// How many of the newest states are listed
    #[arg(long, value_name = "N", default_value_t = 20)]
    last: usize,
    /// Print JSON (SI, versioned; see docs/json.md) instead of text
    #[arg(long)]
    json: bool,
}

/// Width of running text in the terminal.
const WIDTH: usize = 100;
/// Most values that are named in a line of the list.
const MOST_NAMED: usize = 6;

pub fn run(args: &HistoryArgs) -> Result<Answer, Refusal> {
    let source = source::load(&args.which.common())?;
    let Some(file) = source.file() else {
        return Err(Refusal::input(
            "wrong input [no-history]: a demo has no history\n  fix make a project of it first: `arcwright new my-thrower`\n",
        ));
    };
    let finding = |f| Refusal::finding(&f);
    if let Some(reason) = &args.because {
        if reason.trim().is_empty() {
            return Err(Refusal::input(
                "wrong input [no-reason]: the reason is empty\n  fix say in a few words why the project was changed\n",
            ));
        }
        let said = reason.split_whitespace().collect::<Vec<_>>().join(" ");
        let text = match keep(file, &source.text, reason).map_err(finding)? {
            Kept::New(n) => format!("  State {n} is kept: {}\n", name(&said)),
            Kept::Same(n) => format!(
                "  Nothing has changed since state {n}; its reason is now: {}\n",
                name(&said)
            ),
        };
        return Ok(Answer { text, code: FINE });
    }
    let history = read(file).map_err(finding)?;
    if let Some(n) = args.show {
        let state = history.state(n).map_err(finding)?;
        return Ok(Answer {
            text: state.text.clone(),
            code: FINE,
        });
    }
    if let Some(n) = args.compare {
        let from = history.state(n).map_err(finding)?;
        let to = args.with.map(|n| history.state(n)).transpose().map_err(finding)?;
        let to_text = to.map_or(source.text.as_str(), |s| s.text.as_str());
        let found = compare(&from.text, to_text);
        let to_number = to.map(|s| s.number);
        let text = if args.json {
            format!("{:#}\n", json::compared(&source.project, n, to_number, &found))
        } else {
            let title = match to_number {
                Some(m) => format!("State {n} and state {m}\n"),
                None => format!("State {n} and the project as it is now\n"),
            };
            title + &compared_words(&source.project, &found)
        };
        return Ok(Answer { text, code: FINE });
    }
    list(args, &source, file)
}

/// The list: states and fits by time, and the present where it was not kept yet.
fn list(args: &HistoryArgs, source: &source::Source, file: &Path) -> Result<Answer, Refusal> {
    let finding = |f| Refusal::finding(&f);
    let history = read(file).map_err(finding)?;
    let fits = fits(file).map_err(finding)?;
    let first = history.states.len().saturating_sub(args.last.max(1));
    let before = first.checked_sub(1).and_then(|i| history.states.get(i));
    let shown = history.states.get(first..).unwrap_or_default();
    let judged: Vec<Judged> = before
        .iter()
        .copied()
        .chain(shown)
        .map(|s| judge(&s.text))
        .collect();
    let texts: Vec<&str> = before
        .iter()
        .copied()
        .chain(shown)
        .map(|s| s.text.as_str())
        .collect();
    let skip = usize::from(before.is_some());
    let changes: Vec<Option<Compared>> = (0..shown.len())
        .map(|i| {
            let at = i + skip;
            let earlier = at.checked_sub(1)?;
            Some(compare_judged(
                [texts.get(earlier)?, texts.get(at)?],
                [judged.get(earlier)?, judged.get(at)?],
            ))
        })
        .collect();
    let last = history.states.last();
    let unkept = last
        .map(|s| differences(&s.text, &source.text))
        .unwrap_or_default();
    let is_kept = last.is_some_and(|s| s.text == source.text);
    if args.json {
        let value = json::history(
            &source.project,
            &history,
            first,
            &changes,
            &fits,
            is_kept,
            &unkept,
        );
        return Ok(Answer {
            text: format!("{value:#}\n"),
            code: FINE,
        });
    }
    let project = &source.project;
    let mut text = format!("{}  ({})\n", project.name, source.origin());
    if first > 0 {
        text.push_str(&format!(
            "\n  {first} earlier states: `--last {}` lists them too\n",
            history.states.len()
        ));
    }
    let mut entries: Vec<(i64, String)> = shown
        .iter()
        .zip(&changes)
        .map(|(s, change)| {
            let mut words = format!("\n  state {}, {}", s.number, time::day_and_time(s.utc_ms));
            words.push_str(&if s.reason.is_empty() {
                ": no reason given\n".to_string()
            } else {
                format!(": {}\n", name(&s.reason))
            });
            if let Some(c) = change {
                words.push_str(&line(&named(&c.differences)));
                for l in outcome_lines(project, c) {
                    words.push_str(&line(&l));
                }
            }
            (s.utc_ms, words)
        })
        .collect();
    let since = shown.first().map_or(i64::MIN, |s| s.utc_ms);
    let told = fits.iter().filter(|f| first == 0 || f.made_utc_ms >= since);
    entries.extend(told.map(|f| (f.made_utc_ms, fit_words(project, f))));
    entries.sort_by_key(|(t, _)| *t);
    text.extend(entries.into_iter().map(|(_, words)| words));
    text.push('\n');
    for n in &history.damaged {
        text.push_str(&line(&format!(
            "Line {n} of history.jsonl cannot be read and is left out; the others stand."
        )));
    }
    text.push_str(&line(&match (last, is_kept) {
        (None, _) => "Nothing was kept yet. `arcwright history --because \"the first idea\"` keeps the project as it is; what is changed on the page is kept by itself.".to_string(),
        (Some(s), true) => format!("The project is as in state {}. `--compare 1` says what has changed since state 1; `--show 1` prints it.", s.number),
        (Some(s), false) => format!(
            "Now, not kept yet, against state {}: {}. `arcwright history --because \"why\"` keeps it.",
            s.number,
            if unkept.is_empty() { "remarks only".to_string() } else { named(&unkept) }
        ),
    }));
    Ok(Answer { text, code: FINE })
}

fn line(text: &str) -> String {
    wrap(text, WIDTH, "    ") + "\n"
}

fn one(d: &Difference) -> String {
    match (&d.before, &d.after) {
        (Some(a), Some(b)) => format!("{} {} -> {}", name(&d.key), name(a), name(b)),
        (None, Some(b)) => format!("{} {} (new)", name(&d.key), name(b)),
        (Some(a), None) => format!("{} {} (gone)", name(&d.key), name(a)),
        (None, None) => name(&d.key),
    }
}

fn named(all: &[Difference]) -> String {
    let mut parts: Vec<String> = all.iter().take(MOST_NAMED).map(one).collect();
    if all.len() > MOST_NAMED {
        parts.push(format!("{} more", all.len() - MOST_NAMED));
    }
    if parts.is_empty() {
        "remarks only".to_string()
    } else {
        parts.join("; ")
    }
}

fn fit_words(project: &Project, f: &KeptFit) -> String {
    let speeds: Vec<String> = f
        .setpoints
        .iter()
        .filter_map(|s| {
            Some(format!(
                "{} {}",
                name(&s.spot),
                project.say(s.learned?[0], D::AngularSpeed)
            ))
        })
        .collect();
    let sure = if f.confident {
        String::new()
    } else {
        format!(" Not sure yet: {}.", f.why_not)
    };
    format!(
        "\n  fit, {}: {} shots of {} sessions\n{}",
        time::day_and_time(f.made_utc_ms),
        f.shot_count,
        f.session_count,
        line(&format!("{}.{sure}", speeds.join(", ")))
    )
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

fn turn_words(project: &Project, t: &Turn) -> String {
    let what = if t.subject.is_empty() {
        t.check.to_string()
    } else {
        format!("{} {}", t.check, name(&t.subject))
    };
    format!(
        "{what}: {} -> {}",
        end(project, t.ends[0]),
        end(project, t.ends[1])
    )
}

/// What a change did, in as few lines as tell it.
fn outcome_lines(project: &Project, c: &Compared) -> Vec<String> {
    let mut lines: Vec<String> = c.turned.iter().map(|t| turn_words(project, t)).collect();
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

fn compared_words(project: &Project, c: &Compared) -> String {
    let mut text = String::from("\n  What changed\n");
    if c.differences.is_empty() {
        text.push_str(&line("remarks only, or nothing"));
    }
    for d in &c.differences {
        text.push_str(&line(&one(d)));
    }
    text.push_str("\n  What it did to the verdicts, both judged by this program as designed\n");
    for l in outcome_lines(project, c) {
        text.push_str(&line(&l));
    }
    if !c.moved.is_empty() {
        text.push_str("\n  The same verdict with another margin\n");
        for t in &c.moved {
            text.push_str(&line(&turn_words(project, t)));
        }
    }
    text.push_str("\n  Setpoints\n");
    for (spot, ends) in &c.setpoints {
        let speed = |v: &Option<f64>| v.map_or("none".to_string(), |v| project.say(v, D::AngularSpeed));
        text.push_str(&line(&format!(
            "{}: {} -> {}",
            name(spot),
            speed(&ends[0]),
            speed(&ends[1])
        )));
    }
    text
}
