//! `floor drift`: has anything changed since it last worked?

use std::path::PathBuf;

use arcwright_model::floor::drift::DriftCheck;
use arcwright_model::floor::telemetry::{Shift, between};
use arcwright_model::project::Project;
use clap::Args;

use super::{Ground, Where};
use crate::cli::say::columns;
use crate::cli::{Answer, FINE, Refusal};
use crate::store::shots;
use crate::tasks::floor::drift::{Drift, From, chart_name, compare, picture};
use crate::tasks::floor::drift_words::{SHIFTS_HEAD, dips_of, says, shift_rows, shift_says};
use crate::tasks::floor::{json_drift, telemetry};
use crate::tasks::pictures::write_file;

#[derive(Args)]
pub struct DriftArgs {
    /// The later shots are those from this session on [default: the last session, or the last few shots]
    #[arg(long, value_name = "N", group = "from")]
    from_session: Option<i64>,
    /// The later shots are those from this shot on
    #[arg(long, value_name = "SHOT", group = "from")]
    from_shot: Option<i64>,
    /// The later shots are the last so many
    #[arg(long, value_name = "COUNT", group = "from")]
    last: Option<usize>,
    /// Compare a robot's log instead: its throws and wheel train against another log or the shots
    #[arg(long, value_name = "FILE.csv", conflicts_with = "from")]
    telemetry: Option<PathBuf>,
    /// The earlier log [default: the wheel speeds of the logged shots]
    #[arg(long, value_name = "FILE.csv", requires = "telemetry")]
    against: Option<PathBuf>,
    /// Which column of the robot's logs is which: "THEIRS=OURS" or "THEIRS=OURS UNIT"
    #[arg(long, value_name = "THEIRS=OURS", requires = "telemetry")]
    map: Vec<String>,
    /// Print JSON (SI, versioned; see docs/json.md) instead of text
    #[arg(long)]
    json: bool,
    /// Write the picture to this file
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
    #[command(flatten)]
    place: Where,
}

pub fn run(args: &DriftArgs) -> Result<Answer, Refusal> {
    let ground = Ground::load(&args.place)?;
    let project = &ground.project;
    if let Some(file) = &args.telemetry {
        return of_telemetry(args, &ground, file);
    }
    let from = match (args.from_session, args.from_shot, args.last) {
        (Some(n), _, _) => From::Session(n),
        (_, Some(n), _) => From::Shot(n),
        (_, _, Some(n)) => From::Last(n),
        _ => From::Usual,
    };
    let store = ground.read()?;
    let found = shots(&store, project)
        .and_then(|all| compare(project, all, from))
        .map_err(|f| Refusal::finding(&f))?;
    if let Some(path) = &args.svg {
        write_file(path, &picture(&found)).map_err(|f| Refusal::finding(&f))?;
    }
    let text = if args.json {
        format!("{:#}\n", json_drift::drift(project, &found))
    } else {
        words(project, &found)
    };
    Ok(Answer { text, code: FINE })
}

/// A robot's log against an earlier one, or against the wheel speeds of the logged shots.
fn of_telemetry(args: &DriftArgs, ground: &Ground, file: &PathBuf) -> Result<Answer, Refusal> {
    let project = &ground.project;
    let read = |path: &PathBuf| {
        telemetry::read(path, &args.map, Some(project), None).map_err(|f| Refusal::finding(&f))
    };
    let later = read(file)?;
    let (earlier, than) = match &args.against {
        Some(path) => (Some(read(path)?), path.display().to_string()),
        None => (None, "the logged shots".to_string()),
    };
    let logged = match &earlier {
        Some(_) => Vec::new(),
        None => {
            let store = ground.read()?;
            shots(&store, project).map_err(|f| Refusal::finding(&f))?
        }
    };
    let from_shots = dips_of(&logged);
    let before = match &earlier {
        Some(t) => (&t.dips, t.train.as_ref().ok()),
        None => (&from_shots, None),
    };
    let shifts = between(before, (&later.dips, later.train.as_ref().ok()));
    if let Some(path) = &args.svg {
        write_file(path, &telemetry::picture(&later, project.units)).map_err(|f| Refusal::finding(&f))?;
    }
    let text = if args.json {
        format!(
            "{:#}\n",
            json_drift::shifts(project, &file.display().to_string(), &than, &shifts)
        )
    } else {
        shift_words(project, &file.display().to_string(), &than, &shifts)
    };
    Ok(Answer { text, code: FINE })
}

fn shift_words(project: &Project, file: &str, than: &str, shifts: &[Shift]) -> String {
    let says = shift_says(file, than, shifts);
    let mut text = says.verdict;
    let rows = shift_rows(project, shifts);
    if !rows.is_empty() {
        text.push_str(&columns(&SHIFTS_HEAD, &rows));
    }
    text.push_str(&says.likely);
    text.push_str(&says.to_do);
    text
}

/// Everything in plain words.
fn words(project: &Project, d: &Drift) -> String {
    let says = says(project, d);
    let mut text = says.verdict;
    if let Some(c) = &d.check {
        let head = ["", "shots", "mean miss, in sd", "largest sum, limit", ""];
        text.push_str(&columns(&head, &chart_rows(d, c)));
    }
    text.push_str(&says.basis);
    text.push_str(&says.likely);
    text.push_str(&says.to_do);
    text
}

fn chart_rows(d: &Drift, c: &DriftCheck) -> Vec<Vec<String>> {
    let each = c.charts.iter();
    each.map(|run| {
        let mean = run.z.iter().sum::<f64>() / run.z.len().max(1) as f64;
        let high = run
            .run
            .upper
            .iter()
            .chain(&run.run.lower)
            .fold(0.0_f64, |m, v| m.max(*v));
        let called = c.alarms.iter().find(|a| a.chart == run.chart).and_then(|a| a.at);
        vec![
            chart_name(run.chart).to_string(),
            run.z.len().to_string(),
            format!("{mean:+.1}"),
            format!("{high:.1} of {:.1}", c.watch.limit_ratio),
            called
                .and_then(|i| d.later.get(i))
                .map_or("quiet".into(), |id| format!("calls at shot {id}")),
        ]
    })
    .collect()
}
