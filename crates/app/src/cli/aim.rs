//! `aim`: setpoints for every spot, a table by distance, one setting for all.

use std::path::PathBuf;

use arcwright_model::aim::{self, shortfall};
use arcwright_model::limits::{self, shortfall_words};
use arcwright_model::project::Project;
use arcwright_model::units::Dimension as D;
use clap::Args;

use super::floor::{refuse_existing, write_new};
use super::moving::{self, MovingArgs};
use super::say::{columns, name};
use super::source::{ByShots, Source};
use super::{Answer, Common, FAILS, FINE, Refusal, check, learned, room, source};
use crate::tasks::aim::{Aimed, aimed, table, usual_step_m};
use crate::tasks::tables::{aim_head, aim_row, compared};
use crate::tasks::{json, pictures};

#[derive(Args)]
pub struct AimArgs {
    #[command(flatten)]
    common: Common,
    #[command(flatten)]
    by: ByShots,
    #[command(flatten)]
    moving: MovingArgs,
    /// Step of the setpoint table, such as "0.25 m" or "1 ft"
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    step: Option<String>,
    /// Search for the best setting even when the present one serves every spot
    #[arg(long)]
    search: bool,
    /// Room to adjust: do speed and knobs still centre every spot wherever drag, friction and the rest turn out?
    #[arg(long, conflicts_with_all = ["step", "search", "view", "csv"])]
    room: bool,
    /// Write the setpoints of the spots and of the table to this file (CSV), or - for standard output alone
    #[arg(long, value_name = "FILE", conflicts_with = "json")]
    csv: Option<PathBuf>,
    /// Put the table of --csv in place of a file that is there
    #[arg(long, requires = "csv")]
    replace: bool,
    /// What --svg draws: the flights (fan) or the setpoint curve (curve)
    #[arg(long, value_name = "VIEW", default_value = "fan", value_parser = ["fan", "curve"])]
    view: String,
}

pub fn run(args: &AimArgs) -> Result<Answer, Refusal> {
    let mut source = source::load(&args.common)?;
    moving::apply(&args.moving, &mut source.project)?;
    source.learn(&args.by);
    let source = source;
    let project = &source.project;
    let to_file = args.csv.as_deref().filter(|p| p.as_os_str() != "-");
    if let Some(file) = to_file {
        refuse_existing(file, args.replace).map_err(|f| Refusal::finding(&f))?;
    }
    if args.room {
        return room_answer(args, &source);
    }
    let step_m = match &args.step {
        Some(text) => source::quantity("--step", text, D::Length)?,
        None => usual_step_m(project),
    };
    if !(step_m > 0.0) {
        return Err(Refusal::input(format!(
            "wrong input [step]: --step is {}, and a step must be longer than nothing\n  fix write --step \"0.25 m\"\n",
            args.step.as_deref().unwrap_or("")
        )));
    }
    let mut aimed = aimed(project, source.learned.as_ref(), Some(step_m));
    if args.search && aimed.report.best.is_none() {
        aimed.report.best = aim::best_setting(project, &aimed.report.chain);
    }
    let report = &aimed.report;
    source::write_picture(&args.common, || match args.view.as_str() {
        "curve" => pictures::setpoints(project, report, source.learned.as_ref().map(|l| &l.design)),
        _ => pictures::fan(project, report),
    })?;
    let all = report.aims.iter().all(|a| shortfall(project, a).is_empty());
    let code = if all { FINE } else { FAILS };
    let turned = learned::turned_words(&source);
    let mut written = String::new();
    if args.csv.is_some() {
        let from = if source.line.is_empty() {
            "the design alone"
        } else {
            &source.line
        };
        let text = table(project, from, &turned, &aimed).map_err(|f| Refusal::finding(&f))?;
        let Some(file) = to_file else {
            return Ok(Answer { text, code });
        };
        write_new(file, args.replace, &text).map_err(|f| Refusal::finding(&f))?;
        written = format!("\nSetpoints written to {}\n", file.display());
    }
    if args.common.json {
        return Ok(Answer {
            text: format!("{:#}\n", json::aim(project, &aimed, &source.basis)),
            code,
        });
    }
    let mut text = check::title(&source);
    text.push_str(&spots_text(&source, &aimed));
    text.push_str("\nSetpoints by distance, straight ahead\n");
    let lines: Vec<Vec<String>> = aimed
        .rows
        .iter()
        .enumerate()
        .map(|(i, r)| aim_row(project, &r.aim, None, compared(&aimed, |b| &b.rows, i)))
        .collect();
    text.push_str(&columns(&aim_head(project, &aimed)[1..], &lines));
    text.push_str(&learned::legend(&aimed));
    text.push_str(&details(project, &aimed));
    text.push_str(&written);
    Ok(Answer { text, code })
}

/// `--room`: fails where a single quantity's end cannot be answered.
fn room_answer(args: &AimArgs, source: &source::Source) -> Result<Answer, Refusal> {
    let project = &source.project;
    let found = aim::room(project, aim::Depth::All, None);
    source::write_picture(&args.common, || pictures::room(project, &found))?;
    let code = super::code_of(limits::room_verdict(project, &found).status);
    let text = if args.common.json {
        format!("{:#}\n", json::room(project, &found))
    } else {
        format!("{}{}", check::title(source), room::text(project, &found))
    };
    Ok(Answer { text, code })
}

/// The table of spots and the one-setting line.
pub fn spots_text(source: &Source, aimed: &Aimed) -> String {
    let (project, report) = (&source.project, &aimed.report);
    let mut text = format!(
        "Setpoints at {}\n",
        project.setting_words(&project.machine.setting)
    );
    let rows: Vec<Vec<String>> = report
        .aims
        .iter()
        .enumerate()
        .map(|(i, a)| {
            let beside = compared(aimed, |b| &b.spots, i);
            aim_row(project, a, Some(&name(&a.spot.name)), beside)
        })
        .collect();
    text.push_str(&columns(&aim_head(project, aimed), &rows));
    let turned = learned::turned_words(source);
    if !turned.is_empty() {
        text.push_str(&format!("{turned}\n"));
    }
    for a in &report.aims {
        for lack in shortfall(project, a) {
            text.push_str(&format!(
                "  {}: {}\n",
                a.spot.name,
                shortfall_words(project, &lack)
            ));
        }
    }
    let all = report.aims.iter().all(|a| shortfall(project, a).is_empty());
    text.push_str(if all {
        "One setting serves every spot by wheel speed alone: yes.\n"
    } else {
        "One setting serves every spot by wheel speed alone: no, not at this setting.\n"
    });
    if let Some(b) = &report.best {
        let words = project.setting_words(&b.setting);
        text.push_str(&if b.serves() && !all {
            format!("This one does: {words}. Write it under [setting] and check again.\n")
        } else if b.serves() {
            format!("Roomiest setting found: {words}.\n")
        } else if b.merit > b.present_merit {
            format!("Best setting within the knobs' travel: {words}; it serves more, but not all.\n")
        } else {
            "No better setting lies within the knobs' travel.\n".to_string()
        });
    }
    text.push_str(&moving::aim_text(project, report));
    text
}

/// Arcs, sensitivities and what the doubt comes from, for each spot.
fn details(project: &Project, aimed: &Aimed) -> String {
    let report = &aimed.report;
    let say = |v, d| project.say(v, d);
    let mut text = String::from("\nWhat moves the crossing\n");
    let mut rows = Vec::new();
    for a in &report.aims {
        let Some(s) = a.best() else { continue };
        let clear = s.arrival.clearance;
        let side = |v: f64| {
            if v.is_finite() {
                say(v, D::Length)
            } else {
                "wall".into()
            }
        };
        rows.push(vec![
            name(&a.spot.name),
            say(s.along_per_percent_m, D::Length),
            s.along_per_degree_m
                .map_or("no knob".into(), |v| say(v, D::Length)),
            s.arc.word().into(),
            s.companion.map_or("-".into(), |c| {
                format!(
                    "{} (enters {})",
                    say(c.angle_rad, D::Angle),
                    say(c.entry_rad, D::Angle)
                )
            }),
            clear.map_or("-".into(), |c| format!("{} / {}", side(c.near_m), side(c.far_m))),
            clear.map_or("-".into(), |c| {
                format!("{} / {}", side(c.left_m), side(c.right_m))
            }),
            say(s.reserve_frac, D::Ratio),
        ]);
    }
    text.push_str(&columns(
        &[
            "spot",
            "per 1 % speed",
            "per 1° tilt",
            "arc",
            "other arc",
            "near / far rim",
            "left / right",
            "top speed left",
        ],
        &rows,
    ));
    if aimed.beside.is_none()
        && let Some(s) = limits::fastest(&report.aims).and_then(|a| a.best())
    {
        let parts: Vec<String> = s
            .doubt
            .shares
            .iter()
            .filter(|(_, v)| *v >= 0.05)
            .map(|(k, v)| format!("{k} {}", say(*v, D::Ratio)))
            .collect();
        if !parts.is_empty() {
            text.push_str(&format!(
                "  The ± is one standard deviation before any test shot; at the farthest spot it comes from {}.\n",
                parts.join(", ")
            ));
        }
    }
    text
}
