//! `hand`: setpoints, gains and tolerance for the robot's code, and whether what is on the robot still matches.

use std::fs;
use std::path::{Path, PathBuf};

use arcwright_model::finding::Finding;
use arcwright_model::units::Dimension as D;
use clap::Args;

use super::say::{columns, wrap};
use super::source::{ByShots, Source};
use super::{Answer, FAILS, FINE, Refusal, Which, check, learned, source};
use crate::tasks::hand::{self, Checked, Form, Hand};
use crate::tasks::{json, pictures};

#[derive(Args)]
pub struct HandArgs {
    #[command(flatten)]
    which: Which,
    #[command(flatten)]
    by: ByShots,
    /// Print JSON (SI, versioned; see docs/json.md) and write nothing
    #[arg(long)]
    json: bool,
    /// Print one form and write nothing
    #[arg(long, value_name = "FORM", value_parser = ["csv", "c", "java", "python", "kotlin", "note"], conflicts_with_all = ["json", "verify"])]
    form: Option<String>,
    /// Rows every so far [default: as far apart as straight lines between them allow]
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    step: Option<String>,
    /// Does this file, once handed over, match the project today? Exit code 1 if not
    #[arg(long, value_name = "FILE")]
    verify: Option<PathBuf>,
}

pub fn run(args: &HandArgs) -> Result<Answer, Refusal> {
    let mut source = source::load(&args.which.common())?;
    source.learn(&args.by);
    let source = source;
    let step_m = source::positive("--step", &args.step, D::Length)?;
    let made = worked_out(&source, step_m)?;
    if let Some(file) = &args.verify {
        return verified(args, &source, &made, file);
    }
    let code = if made.left_out.is_empty() && made.not_served.is_empty() {
        FINE
    } else {
        FAILS
    };
    if args.json {
        let text = format!("{:#}\n", json::hand(&source.project, &made, &source.basis));
        return Ok(Answer { text, code });
    }
    let form_text = |form: Form| hand::text(&made, form).map_err(|f| Refusal::finding(&f));
    let note = hand::note(&source.project, &made);
    if let Some(word) = &args.form {
        let text = match Form::named(word) {
            Some(form) => form_text(form)?,
            None => note,
        };
        return Ok(Answer { text, code });
    }
    let mut files: Vec<(&str, String)> = Vec::new();
    for form in Form::ALL {
        files.push((form.file(), form_text(form)?));
    }
    let whole = format!("{:#}\n", json::hand(&source.project, &made, &source.basis));
    files.push(("hand.json", whole));
    files.push((hand::NOTE_FILE, note));
    let folder = source.out_folder().join("hand");
    pictures::write_file_folder(&folder).map_err(|f| Refusal::finding(&f))?;
    let mut rows = Vec::new();
    for (name, text) in &files {
        let path = folder.join(name);
        pictures::write_file(&path, text).map_err(|f| Refusal::finding(&f))?;
        rows.push(vec![path.display().to_string(), what(name).to_string()]);
    }
    let mut text = check::title(&source);
    text.push_str(&summary(&source, &made));
    text.push_str("\nWritten\n");
    text.push_str(&columns(&["", ""], &rows));
    Ok(Answer { text, code })
}

fn worked_out(source: &Source, step_m: Option<f64>) -> Result<Hand, Refusal> {
    let turned = learned::turned_words(source);
    let from = hand::From {
        project: &source.project,
        learned: source.learned.as_ref(),
        basis: &source.basis,
        line: &source.line,
        turned: &turned,
        text: &source.text,
    };
    hand::hand(&from, step_m).map_err(|f| Refusal::finding(&f))
}

fn what(name: &str) -> &'static str {
    match name.rsplit('.').next() {
        Some("csv") => "the table",
        Some("h") => "C and C++",
        Some("java") => "Java",
        Some("py") => "Python",
        Some("kt") => "Kotlin",
        Some("json") => "everything, for programs",
        _ => "a note for the programmer: rules, gains, cautions",
    }
}

fn summary(source: &Source, made: &Hand) -> String {
    let say = |x, d| source.project.say(x, d);
    let ends = made.lookup.rows.first().zip(made.lookup.rows.last());
    let mut text = String::from("Hand-over to the robot's code\n");
    if let Some((first, last)) = ends {
        let line = format!(
            "{} rows from {} to {}, straight lines between them: at most {} off. Outside, the nearest row is given and told.",
            made.lookup.rows.len(),
            say(first.distance_m, D::Length),
            say(last.distance_m, D::Length),
            say(made.lookup.worst_between_radps, D::AngularSpeed)
        );
        text.push_str(&format!("  {}\n", wrap(&line, 112, "  ")));
    }
    text.push_str(&format!(
        "  Ready within {} of the setpoint. Project {}, fit {}.\n",
        say(source.project.machine.controller.ready_frac, D::Ratio),
        made.stamp.fingerprint,
        made.stamp.fit
    ));
    for warning in hand::warnings(made) {
        text.push_str(&format!("  {}\n", wrap(&warning, 112, "  ")));
    }
    text
}

/// Larger files are no hand-over. Physical: a table of 200 rows has 20 kB.
const LARGEST_FILE_COUNT: u64 = 1 << 20;

fn verified(args: &HandArgs, source: &Source, made: &Hand, file: &Path) -> Result<Answer, Refusal> {
    let name = file.display().to_string();
    let unread = |why: String| {
        Refusal::finding(&Finding::new(
            "not-read",
            name.clone(),
            format!("could not read it: {why}"),
            "give the file that is on the robot",
        ))
    };
    let size = fs::metadata(file).map_err(|e| unread(e.to_string()))?.len();
    if size > LARGEST_FILE_COUNT {
        return Err(unread(format!(
            "it has {size} bytes, and no hand-over is that large"
        )));
    }
    let bytes = fs::read(file).map_err(|e| unread(e.to_string()))?;
    let checked =
        hand::verify(&String::from_utf8_lossy(&bytes), &name, made).map_err(|f| Refusal::finding(&f))?;
    let code = if checked.matches { FINE } else { FAILS };
    let text = if args.json {
        format!("{:#}\n", json::hand_verify(&source.project, &name, &checked))
    } else {
        words(source, &name, &checked)
    };
    Ok(Answer { text, code })
}

fn words(source: &Source, name: &str, c: &Checked) -> String {
    let say = |x, d| source.project.say(x, d);
    let mut text = if c.matches && c.changed.is_empty() {
        format!("{name} matches the project today (made {}).\n", c.made)
    } else if c.matches {
        format!(
            "{name} (made {}) matches: its numbers are those of today, although this has changed since:\n",
            c.made
        )
    } else {
        format!("{name} (made {}) does NOT match the project today.\n", c.made)
    };
    for change in &c.changed {
        text.push_str(&format!(
            "  {}: then {}, now {}\n",
            change.key, change.then, change.now
        ));
    }
    if c.matches {
        return text;
    }
    match c.most_off {
        Some(off) if off.by_radps() != 0.0 => text.push_str(&format!(
            "  Wheel speeds differ most at {}: {} there, {} today.\n",
            say(off.distance_m, D::Length),
            say(off.then_radps, D::AngularSpeed),
            say(off.now_radps, D::AngularSpeed)
        )),
        Some(_) => {
            text.push_str("  The wheel speeds are the same at every row of today; something else differs.\n")
        }
        None => text.push_str("  No rows of setpoints were found in it.\n"),
    }
    if let Some((line, there, here)) = &c.first_difference {
        text.push_str(&format!(
            "  First line that differs: {line}\n    there  {there}\n    today  {here}\n"
        ));
    }
    if c.changed.is_empty() {
        text.push_str(
            "  Its head is that of today, so it was edited by hand, or made with another --step.\n",
        );
    }
    text.push_str("  fix run `arcwright hand` and put the new file on the robot.\n");
    text
}
