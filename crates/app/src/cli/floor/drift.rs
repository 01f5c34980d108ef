//! `floor drift`: has anything changed since it last worked?

use std::path::PathBuf;

use arcwright_model::floor::drift::{Chart, DriftCheck, run_lengths};
use arcwright_model::floor::telemetry::{Dip, Dips, Shift, between};
use arcwright_model::project::Project;
use arcwright_model::units::Dimension as D;
use clap::Args;

use super::{Ground, Where};
use crate::cli::say::columns;
use crate::cli::{Answer, FINE, Refusal};
use crate::store::{LoggedShot, shots};
use crate::tasks::floor::drift::{
    Drift, From, Misses, Verdict, WORTH_FRAC, change_words, chart_name, compare, in_ten, look_at, numbers,
    ordinary, picture, to_do,
};
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
        format!("{:#}\n", json_drift::shifts(project, &than, &shifts))
    } else {
        shift_words(project, &file.display().to_string(), &than, &shifts)
    };
    Ok(Answer { text, code: FINE })
}

/// The throws of the log whose wheel speed was measured before and after.
fn dips_of(logged: &[LoggedShot]) -> Dips {
    let dips = logged.iter().filter_map(|l| {
        let (before_radps, after_radps) = (l.shot.before_radps?, l.shot.after_radps?);
        Some(Dip {
            time_s: f64::NAN,
            before_radps,
            before_sd_radps: 0.0,
            after_radps,
            after_sd_radps: 0.0,
            dip_frac: 1.0 - after_radps / before_radps,
            recovery_s: None,
            battery_v: l.shot.battery_v,
            lowest_v: None,
        })
    });
    Dips {
        dips: dips.collect(),
        noise_radps: 0.0,
        step_radps: 0.0,
        smallest_radps: 0.0,
    }
}

fn shift_words(project: &Project, file: &str, than: &str, shifts: &[Shift]) -> String {
    if shifts.is_empty() {
        return format!(
            "Too little to say: {file} and {than} have nothing in common that can be compared.\n  Log duty and battery voltage beside the wheel speed, spin up from rest, and throw three times at least.\n"
        );
    }
    let changed: Vec<&Shift> = shifts.iter().filter(|s| s.changed).collect();
    let mut text = if changed.is_empty() {
        format!("No change shown: {file} against {than}.\n")
    } else {
        format!("Something has changed: {file} against {than}.\n")
    };
    let say = |v: f64, s: &Shift| match s.dimension {
        D::Number => format!("{v:.4}"),
        d => project.say(v, d),
    };
    let more = |ratio: f64| format!("{:+.0} %", 100.0 * (ratio - 1.0));
    let rows: Vec<Vec<String>> = shifts
        .iter()
        .map(|s| {
            vec![
                s.noun.to_string(),
                say(s.earlier.value, s),
                say(s.later.value, s),
                format!(
                    "{} ({} to {})",
                    more(s.ratio.value),
                    more(s.ratio.low),
                    more(s.ratio.high)
                ),
                if s.changed { "changed" } else { "not shown" }.into(),
            ]
        })
        .collect();
    text.push_str(&columns(
        &["", "then", "now", "change, 95 of 100 such pairs", ""],
        &rows,
    ));
    for s in &changed {
        text.push_str(&format!("  {}: look at {}.\n", s.noun, s.look_at));
    }
    text.push_str(
        "  All are looked at at once: with nothing changed, one such pair of logs in twenty would still call.\n",
    );
    if !changed.is_empty() {
        text.push_str("  Battery off before hands go near the wheel.\n");
    }
    text
}

/// Everything in plain words.
fn words(project: &Project, d: &Drift) -> String {
    let which = format!(
        "shot{} {} against what the {} before taught",
        if d.later.len() == 1 { "" } else { "s" },
        numbers(&d.later),
        d.earlier.len()
    );
    let mut text = match d.verdict {
        Verdict::Changed => format!("Something has changed: {which}.\n"),
        Verdict::NotShown => format!("No change shown: {which}.\n"),
        Verdict::TooLittle => format!("Too little to say: {which}.\n"),
    };
    if !d.fitted.confident {
        for note in d.fitted.diagnostics.iter().filter(|n| n.forbids_confidence) {
            text.push_str(&format!("  {}\n  fix {}\n", note.what, note.fix));
        }
    }
    match (&d.check, &d.misses) {
        (Some(c), _) => measured_words(project, d, c, &mut text),
        (None, Some(m)) => miss_words(project, m, d.later.len(), &mut text),
        (None, None) => text.push_str(
            "  Nothing was measured, and by what was learned hits and misses say nothing here: say how far each misses, such as `long 12cm`.\n",
        ),
    }
    if d.verdict == Verdict::Changed {
        text.push_str("\nWhat to do, the least work first\n");
        for (i, line) in to_do(d, project).iter().enumerate() {
            text.push_str(&format!("  {}. {line}.\n", i + 1));
        }
        text.push_str(
            "  Battery off before hands go near the wheel; eye protection on; nobody in line with it.\n",
        );
    } else if d.verdict == Verdict::TooLittle {
        text.push_str("  Throw five, and say how far each misses.\n");
    }
    text
}

fn measured_words(project: &Project, d: &Drift, c: &DriftCheck, text: &mut String) {
    let say = |v: f64, dim: D| project.say(v, dim);
    let rows: Vec<Vec<String>> = c
        .charts
        .iter()
        .map(|run| {
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
        .collect();
    let head = ["", "shots", "mean miss, in sd", "largest sum, limit", ""];
    text.push_str(&columns(&head, &rows));
    text.push_str("  Sd is one standard deviation: scatter, reading and doubt of what was learned together");
    text.push_str(&if d.seen.along_sd_m.is_finite() {
        format!("; along about {}.\n", say(d.seen.along_sd_m, D::Length))
    } else {
        ".\n".into()
    });
    if c.alarms.iter().any(|a| a.chart == Chart::Spread) {
        text.push_str("  They scatter more than the earlier ones did.\n");
    }
    let [quiet, one, two] = run_lengths(c.watch);
    text.push_str(&format!(
        "  With nothing changed, a check like this calls in about {:.0} of 100. Left running, one chart with this limit calls falsely once in {quiet:.0} shots; it finds a shift of one sd after {one:.1} shots, of two after {two:.1}.\n",
        (100.0 * c.false_alarm_frac).round()
    ));
    if d.verdict == Verdict::Changed {
        text.push_str("\nMost likely\n");
        for e in c.ranked.iter().filter(|e| e.share_frac >= WORTH_FRAC) {
            text.push_str(&format!(
                "  {}: {}; look at {}.\n",
                in_ten(e.share_frac),
                change_words(project, e),
                look_at(e).join(", ")
            ));
        }
        if c.ranked.first().is_some_and(|e| ordinary(&d.fitted, e)) {
            text.push_str("  That is no more than one day differs from the next: nothing need be broken.\n");
        }
    } else {
        text.push_str(&findable_words(project, c));
    }
}

fn findable_words(project: &Project, c: &DriftCheck) -> String {
    let f = &c.findable;
    let mut parts = Vec::new();
    if let Some(x) = f.speed_frac {
        parts.push(format!("of speed by {}", project.say(x, D::Ratio)));
    }
    if let Some(x) = f.angle_rad {
        parts.push(format!("of the angle by {}", project.say(x, D::Angle)));
    }
    if let Some(x) = f.heading_rad {
        parts.push(format!("of the heading by {}", project.say(x, D::Angle)));
    }
    let count = c.shots;
    if parts.is_empty() {
        return format!(
            "  {count} such shots find no lasting change four times out of five, however large: throw more.\n"
        );
    }
    format!(
        "  {count} such shots find a change four times out of five from this size on: {}. A smaller one may be there.\n",
        parts.join(", ")
    )
}

fn miss_words(project: &Project, m: &Misses, shots: usize, text: &mut String) {
    let say = |v: f64| project.say(v, D::Ratio);
    let [usual, feared] = m.rates_frac;
    text.push_str(&format!(
        "  {} of {shots} missed; by what was learned {} of throws do. It is watched for {}.\n",
        m.missed,
        say(usual),
        say(feared)
    ));
    text.push_str(&format!(
        "  Only hits and misses are known. Such a watch calls falsely once in {:.0} shots and needs {:.0} to find the change; with every miss measured it takes {:.0}.\n",
        m.watch.false_alarm_every_count, m.watch.found_after_count, m.watch.measured_found_after_count
    ));
}
