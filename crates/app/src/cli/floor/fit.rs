//! `floor fit`: what the shots taught, kept for the commands that go by it.

use arcwright_model::floor::{Fitted, Setpoint};
use arcwright_model::project::Project;
use clap::Args;

use super::{Ground, Where};
use crate::cli::say::{columns, name, table, wrap};
use crate::cli::{Answer, FINE, Refusal};
use crate::tasks::floor::json;
use crate::tasks::floor::taught::{self, Kept, Learnt};
use crate::tasks::tables::{estimates as estimates_table, fitted_setpoints, turned_by};

#[derive(Args)]
pub struct FitArgs {
    /// Only look: do not keep the result for `aim`, `scatter`, `throw` and `volley`
    #[arg(long)]
    look: bool,
    /// Print JSON (SI, versioned; see docs/json.md) instead of text
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    place: Where,
}

pub fn run(args: &FitArgs) -> Result<Answer, Refusal> {
    let ground = Ground::load(&args.place)?;
    let project = &ground.project;
    let Learnt { fitted, table, kept } =
        taught::learn(project, &ground.log, !args.look).map_err(|f| Refusal::finding(&f))?;
    let text = if args.json {
        let kept = matches!(kept, Kept::Yes | Kept::NotToBeUsed);
        format!("{:#}\n", json::fit(project, &fitted, &table, kept))
    } else {
        words(project, &fitted, &table, &kept)
    };
    Ok(Answer { text, code: FINE })
}

/// Width of running text.
const WIDTH: usize = 112;
/// Width of the words beside a value.
const BESIDE: usize = 52;

fn words(project: &Project, fitted: &Fitted, found: &[Setpoint], kept: &Kept) -> String {
    let n = fitted.used.len();
    let mut text = format!("What {n} {} taught\n\n", if n == 1 { "shot" } else { "shots" });
    text.push_str(&format!(
        "Setpoints at {}\n",
        project.setting_words(&project.machine.setting)
    ));
    text.push_str(&setpoint_table(project, fitted, found));
    let taught = fitted.taught();
    let mut learned_project = taught.project(project);
    let by = arcwright_model::floor::turned_back(&mut learned_project);
    let turned = turned_by(project, by);
    if !turned.is_empty() {
        text.push_str(&format!("  {}\n", wrap(&turned, WIDTH, "  ")));
    }
    text.push_str("\nWhat was learned\n");
    text.push_str(&estimates(project, fitted));
    // What only the assumption speaks of is marked in the table above.
    let notes: Vec<_> = fitted
        .diagnostics
        .iter()
        .filter(|n| n.code != "prior-only")
        .collect();
    if !notes.is_empty() {
        text.push_str("\nWhat to know\n");
    }
    for note in notes {
        text.push_str(&point(&note.what));
        text.push_str(&format!("    fix {}\n", wrap(&note.fix, WIDTH - 4, "        ")));
    }
    if !fitted.apart.is_empty() {
        text.push_str("\nWhat cannot be told apart\n");
    }
    for apart in &fitted.apart {
        text.push_str(&point(&apart.what));
        text.push_str(&format!(
            "    to tell them apart: {}\n",
            wrap(&apart.shots, WIDTH - 4, "        ")
        ));
    }
    text.push('\n');
    let said = match kept {
        Kept::Yes => {
            "Kept: `aim`, `scatter`, `throw`, `volley` and `check` go by it from now on; `--as-designed` shows the design alone."
                .to_string()
        }
        Kept::NotToBeUsed => {
            "Kept, but not sure enough to be used: `aim` and the others stay with the design until a fit is.".to_string()
        }
        Kept::LookedOnly => "Not kept, as asked for with --look.".to_string(),
        Kept::Refused(why) => format!("Not kept, so `aim` and the others do not go by it: {why}."),
    };
    text.push_str(&format!("{}\n", wrap(&said, WIDTH, "")));
    text
}

fn point(what: &str) -> String {
    format!("  - {}\n", wrap(what, WIDTH - 4, "    "))
}

fn setpoint_table(project: &Project, fitted: &Fitted, found: &[Setpoint]) -> String {
    let mut text = table(&fitted_setpoints(project, fitted, found).named(name));
    if found.iter().any(|s| s.beyond_the_log) && fitted.confident {
        text.push_str("  * more than half a metre beyond the shots\n");
    }
    text
}

/// Before and now, long words on lines of their own.
fn estimates(project: &Project, fitted: &Fitted) -> String {
    let all = estimates_table(project, fitted);
    let mut rows: Vec<Vec<String>> = Vec::new();
    for mut row in all.rows {
        let words = wrap(&row[0], BESIDE, "");
        let mut lines = words.lines();
        row[0] = lines.next().unwrap_or("").to_string();
        rows.push(row);
        rows.extend(lines.map(|l| vec![format!("  {l}"), String::new(), String::new(), String::new()]));
    }
    let mut text = columns(&["", "before", "now", ""], &rows);
    if fitted.estimates.iter().any(|e| !e.is_learned()) {
        text.push_str("  as assumed: the shots say next to nothing of it\n");
    }
    text
}
