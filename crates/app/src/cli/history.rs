//! `history`: what the project was before, why it was changed, and what that did.

use arcwright_model::project::Project;
use clap::Args;

use super::say::wrap;
use super::{Answer, FINE, Refusal, Which, source};
use crate::tasks::floor::time;
use crate::tasks::history::{
    Compared, Event, Kept, Story, because, compare_states, demo_has_none, one_line, read, story,
};
use crate::tasks::{history_words as words, json};

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
    let finding = |f| Refusal::finding(&f);
    let Some(file) = source.file() else {
        return Err(Refusal::finding(&demo_has_none()));
    };
    if let Some(reason) = &args.because {
        let said = one_line(reason);
        let text = match because(file, &source.text, reason).map_err(finding)? {
            Kept::New(n) => format!("  State {n} is kept: {said}\n"),
            Kept::Same(n) => format!("  Nothing has changed since state {n}; its reason is now: {said}\n"),
        };
        return Ok(Answer { text, code: FINE });
    }
    if let Some(n) = args.show {
        let history = read(file).map_err(finding)?;
        let state = history.state(n).map_err(finding)?;
        return Ok(Answer {
            text: state.text.clone(),
            code: FINE,
        });
    }
    if let Some(n) = args.compare {
        let found = compare_states(file, &source.text, n, args.with).map_err(finding)?;
        let text = if args.json {
            format!("{:#}\n", json::compared(&source.project, n, args.with, &found))
        } else {
            let title = match args.with {
                Some(m) => format!("State {n} and state {m}\n"),
                None => format!("State {n} and the project as it is now\n"),
            };
            title + &compared_words(&source.project, &found)
        };
        return Ok(Answer { text, code: FINE });
    }
    let story = story(file, &source.text, args.last).map_err(finding)?;
    let text = if args.json {
        format!("{:#}\n", json::history(&source.project, &story))
    } else {
        list(&source, &story)
    };
    Ok(Answer { text, code: FINE })
}

/// The list: states and fits by time, and the present where it was not kept yet.
fn list(source: &source::Source, story: &Story) -> String {
    let project = &source.project;
    let mut text = format!("{}  ({})\n", project.name, source.origin());
    if story.first > 0 {
        text.push_str(&format!(
            "\n  {} earlier states: `--last {}` lists them too\n",
            story.first,
            story.history.states.len()
        ));
    }
    for event in story.events() {
        match event {
            Event::State(s, change) => {
                let when = time::day_and_time(s.utc_ms);
                let said = format!("state {}, {when}: {}", s.number, words::reason(&s.reason));
                text.push_str(&format!("\n  {}\n", wrap(&said, WIDTH, "    ")));
                if let Some(c) = change {
                    text.push_str(&line(&words::values(&c.differences, MOST_NAMED)));
                    for l in words::outcomes(project, c) {
                        text.push_str(&line(&l));
                    }
                }
            }
            Event::Fit(f) => {
                let [made, speeds] = words::fit(project, f);
                text.push_str(&format!("\n  {made}\n{}", line(&speeds)));
            }
        }
    }
    text.push('\n');
    for n in &story.history.damaged {
        text.push_str(&line(&words::damaged(*n)));
    }
    let last = story.history.states.last();
    text.push_str(&line(&match (last, words::unkept(story, MOST_NAMED)) {
        (None, _) => "Nothing was kept yet. `arcwright history --because \"the first idea\"` keeps the project as it is; what is changed on the page is kept by itself.".to_string(),
        (Some(s), None) => format!("The project is as in state {}. `--compare 1` says what has changed since state 1; `--show 1` prints it.", s.number),
        (Some(_), Some(unkept)) => format!("{unkept} `arcwright history --because \"why\"` keeps it."),
    }));
    text
}

fn line(text: &str) -> String {
    format!("    {}\n", wrap(text, WIDTH, "    "))
}

fn compared_words(project: &Project, c: &Compared) -> String {
    let mut text = String::from("\n  What changed\n");
    if c.differences.is_empty() {
        text.push_str(&line("remarks only, or nothing"));
    }
    for d in &c.differences {
        text.push_str(&line(&words::one(d)));
    }
    text.push_str(&format!("\n  What it did to the verdicts, {}\n", words::JUDGED));
    for l in words::outcomes(project, c) {
        text.push_str(&line(&l));
    }
    if !c.moved.is_empty() {
        text.push_str("\n  The same verdict with another margin\n");
        for t in &c.moved {
            text.push_str(&line(&words::turn(project, t)));
        }
    }
    text.push_str("\n  Setpoints\n");
    for [spot, before, after] in words::setpoint_rows(project, c) {
        text.push_str(&line(&format!("{spot}: {before} -> {after}")));
    }
    text
}
