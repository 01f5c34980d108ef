//! Readings of a robot's log or a film brought to logged shots: a look first, then `--apply`.

use std::path::Path;

use arcwright_model::floor::film::Film;
use arcwright_model::project::Project;
use arcwright_model::units::Dimension as D;
use clap::Args;

use super::{Beside, Ground, Where};
use crate::cli::say::{columns, name};
use crate::cli::{Answer, FAILS, FINE, Refusal, source};
use crate::tasks::floor::attach::{
    Brought, Fate, HEAD, How, Plan, USUAL_WITHIN, bring, bring_film, exit_words,
};
use crate::tasks::floor::telemetry::Telemetry;
use crate::tasks::floor::{Floor, json_drift, time};

/// How a robot's log goes with the shots.
#[derive(Args, Clone, Debug)]
pub struct AttachArgs {
    /// Bring the throws to the logged shots: shows which goes with which
    #[arg(long, conflicts_with = "demo")]
    pub attach: bool,
    /// Write wheel speeds and battery voltage into the shots as the look shows
    #[arg(long, requires = "attach")]
    apply: bool,
    /// Only shots of this session
    #[arg(long, value_name = "N", requires = "attach")]
    session: Option<i64>,
    /// When the log's clock showed 0, such as "2026-05-02 18:42:10" [default: found from the shots]
    #[arg(long, value_name = "DAY TIME", requires = "attach")]
    zero_at: Option<String>,
    /// A throw and a shot farther apart than this are not one, such as "15 s"
    #[arg(long, value_name = "TIME", default_value = USUAL_WITHIN)]
    within: String,
    /// First throw with first shot and so on, whatever the times say
    #[arg(long, requires = "attach")]
    in_order: bool,
    /// Replace what a shot says already, and take what is unlikely
    #[arg(long, requires = "attach")]
    anyway: bool,
    /// The log of `floor rehearse` instead of the one of real shots
    #[arg(long, requires = "attach")]
    rehearsal: bool,
}

fn ground(beside: &Beside, rehearsal: bool) -> Result<Ground, Refusal> {
    Ground::load(&Where {
        project: beside.project.clone(),
        rehearsal,
    })
}

/// Brings the throws of a log to the shots.
pub fn run(
    args: &AttachArgs,
    beside: &Beside,
    file: &Path,
    telemetry: &Telemetry,
) -> Result<Answer, Refusal> {
    let ground = ground(beside, args.rehearsal)?;
    let how = How {
        session: args.session,
        zero_utc_ms: match &args.zero_at {
            Some(text) => Some(time::moment(None, text).map_err(|f| Refusal::finding(&f))?.utc_ms),
            None => None,
        },
        tolerance_s: source::positive("--within", &Some(args.within.clone()), D::Time)?.unwrap_or(0.0),
        in_order: args.in_order,
        anyway: args.anyway,
    };
    let floor = Floor::of(&ground.project);
    let shown = file
        .file_name()
        .map_or(String::new(), |n| n.to_string_lossy().into_owned());
    drop(ground.read()?);
    let (found, written) =
        bring(&floor, &ground.log, telemetry, &how, &shown, args.apply).map_err(|f| Refusal::finding(&f))?;
    let refused = found.rows.iter().any(|r| matches!(r.fate, Fate::Refuse(_)));
    let text = if beside.json {
        format!("{:#}\n", json_drift::attach(&ground.project, &found, written))
    } else {
        words(&ground.project, args.apply, &found, written)
    };
    Ok(Answer {
        text,
        code: if refused { FAILS } else { FINE },
    })
}

fn words(project: &Project, apply: bool, p: &Plan, written: usize) -> String {
    let mut text = match p.zero_utc_ms {
        Some(zero) => format!(
            "Throws and shots, with the log's clock at 0 on {}{}\n",
            time::day_and_time(zero),
            time::clock(zero).split_off(5)
        ),
        None => "Throws and shots in order\n".to_string(),
    };
    let rows: Vec<Vec<String>> = p
        .rows
        .iter()
        .map(|r| r.cells(project).iter().map(|c| name(c)).collect())
        .collect();
    text.push_str(&columns(&HEAD, &rows));
    for r in &p.rows {
        if let Fate::Refuse(f) = &r.fate {
            text.push_str(&format!(
                "  shot {}: [{}] {}\n    fix {}\n",
                r.shot, f.code, f.what, f.fix
            ));
        }
        if let Fate::Take(entry) = &r.fate {
            for (what, old, new, d) in [
                ("before", r.was.before_radps, entry.before_radps, D::AngularSpeed),
                ("after", r.was.after_radps, entry.after_radps, D::AngularSpeed),
                ("battery", r.was.battery_v, entry.battery_v, D::Voltage),
            ] {
                if let (Some(old), Some(new)) = (old, new)
                    && old != new
                {
                    text.push_str(&format!(
                        "  shot {}: {what} {} in place of {}\n",
                        r.shot,
                        project.say(new, d),
                        project.say(old, d)
                    ));
                }
            }
        }
    }
    let list = |all: &[String]| all.join(", ");
    if !p.throws_alone.is_empty() {
        let all: Vec<String> = p.throws_alone.iter().map(usize::to_string).collect();
        text.push_str(&format!(
            "  Throws that no shot was logged for: {}.\n",
            list(&all)
        ));
    }
    if !p.shots_alone.is_empty() {
        let all: Vec<String> = p.shots_alone.iter().map(i64::to_string).collect();
        text.push_str(&format!(
            "  Shots that the log shows no throw for: {}.\n",
            list(&all)
        ));
    }
    let count = |of: fn(&Fate) -> bool| p.rows.iter().filter(|r| of(&r.fate)).count();
    let take = count(|f| matches!(f, Fate::Take(_)));
    let rest = format!(
        "{} there already, {} refused",
        count(|f| *f == Fate::Same),
        count(|f| matches!(f, Fate::Refuse(_)))
    );
    text.push_str(&if written > 0 {
        format!(
            "{written} {} written, {rest}. `arcwright floor undo` takes them back.\n",
            if written == 1 { "shot" } else { "shots" }
        )
    } else if take > 0 && !apply {
        format!("{take} to write, {rest}. Nothing is written yet: say --apply to write them.\n")
    } else {
        format!("Nothing to write, {rest}.\n")
    });
    text
}

/// Which shot a film is of.
#[derive(Args, Clone, Debug)]
pub struct FilmedArgs {
    /// The shot that was filmed: shows what it would say
    #[arg(long, value_name = "SHOT", conflicts_with = "demo")]
    pub shot: Option<i64>,
    /// Write speed and angle at the first point into the shot
    #[arg(long, requires = "shot")]
    apply: bool,
    /// Replace what the shot says already, and take a film that doubts itself
    #[arg(long, requires = "shot")]
    anyway: bool,
}

/// Brings a film to its shot; in words, empty where no shot was named.
pub fn film(args: &FilmedArgs, beside: &Beside, file: &Path, film: &Film) -> Result<String, Refusal> {
    let Some(number) = args.shot else {
        return Ok(String::new());
    };
    let ground = ground(beside, false)?;
    let project = &ground.project;
    let floor = Floor::of(project);
    let shown = file
        .file_name()
        .map_or(String::new(), |n| n.to_string_lossy().into_owned());
    let exit = exit_words(project, film);
    let brought = bring_film(&floor, &ground.log, film, number, &shown, args.apply, args.anyway);
    Ok(match brought.map_err(|f| Refusal::finding(&f))? {
        Brought::Would => {
            format!("\nShot {number} would say {exit}. Nothing is written yet: say --apply to write it.\n")
        }
        Brought::Same => format!("\nShot {number} says an exit already, and the film agrees.\n"),
        Brought::Written => {
            format!("\nShot {number} says {exit} now. `arcwright floor undo` takes it back.\n")
        }
    })
}
