//! `frame`: the rest of the machine.

use arcwright_model::limits::{BaseChoice, BaseFigures, FrameReport, frame_report, worst};
use arcwright_model::project::{BaseKind, Frame, Project};
use arcwright_model::units::Dimension as D;
use clap::Args;

use super::say::{table, wrap};
use super::{Answer, Common, Refusal, check, code_of, source};
use crate::tasks::frame::{base_table, base_words, figure_lines, polar};
use crate::tasks::{json, safety};

#[derive(Args)]
pub struct FrameArgs {
    #[command(flatten)]
    common: Common,
    /// Beside the base in the file, another one: four, six or sideways
    #[arg(long, value_name = "BASE")]
    compare: Option<String>,
    /// Motors of the other base [default: as many as in the file]
    #[arg(long, value_name = "N", requires = "compare", value_parser = clap::value_parser!(u32).range(1..=12))]
    motors: Option<u32>,
}

pub fn run(args: &FrameArgs) -> Result<Answer, Refusal> {
    let source = source::load(&args.common)?;
    let project = &source.project;
    let (Some(frame), Some(report)) = (&project.frame, frame_report(project)) else {
        return Err(Refusal::input(
            "this project has no [frame]: nothing is known of the drive base\n  fix add the tables [frame] and [frame.motor]; docs/project-file.md lists their keys, and `arcwright new NAME --from lantern` shows them filled in\n",
        ));
    };
    let other = other(args, project, frame)?;
    source::write_picture(&args.common, || polar(project, report.base.iter().chain(&other)))?;
    let code = code_of(worst(&report.verdicts));
    if args.common.json {
        return Ok(Answer {
            text: format!("{:#}\n", json::frame(project, &report, other.as_ref())),
            code,
        });
    }
    let mut text = check::title(&source);
    text.push_str(&check::verdict_text(&report.verdicts));
    if let Some(base) = &report.base {
        text.push_str(&bases(project, frame, base, other.as_ref()));
    }
    text.push_str(&figures(project, &report));
    text.push_str(&check::safety_text(project, &report.report));
    for g in safety::GUARDS {
        text.push_str(&format!("  - {}\n", wrap(g, 92, "    ")));
    }
    Ok(Answer { text, code })
}

/// The other base of `--compare`.
fn other(args: &FrameArgs, project: &Project, frame: &Frame) -> Result<Option<BaseFigures>, Refusal> {
    let Some(word) = &args.compare else {
        return Ok(None);
    };
    let Some(kind) = BaseKind::of(word) else {
        return Err(Refusal::input(format!(
            "wrong input [not-a-choice]: there is no base \"{word}\"\n  at  --compare\n  fix write four, six or sideways\n"
        )));
    };
    let choice = BaseChoice {
        kind,
        motor_count: args.motors.unwrap_or(frame.motor_count),
    };
    match BaseFigures::with(project, choice) {
        Some(figures) => Ok(Some(figures)),
        None => Err(Refusal::input(
            "wrong input [missing-table]: two bases cannot be compared without the motor and the mass\n  at  frame.motor\n  fix add [frame.motor], and `mass` under [robot] or the parts\n",
        )),
    }
}

fn bases(project: &Project, frame: &Frame, base: &BaseFigures, other: Option<&BaseFigures>) -> String {
    let say = |v: f64, d| project.say(v, d);
    let all: Vec<&BaseFigures> = std::iter::once(base).chain(other).collect();
    let mut text = format!(
        "\nDrive base, {}\n{}",
        say(base.mass_kg, D::Mass),
        table(&base_table(project, frame, &all))
    );
    text.push_str("  Times from rest to rest at full power, with coming to rest on the heading after each turn. Speeds are without losses on the floor.\n");
    if let Some(o) = other {
        text.push_str(&format!("  {}\n", wrap(&bought(project, base, o), 94, "  ")));
    }
    text
}

/// What the other base buys, in a few sentences.
fn bought(project: &Project, base: &BaseFigures, other: &BaseFigures) -> String {
    let say = |v: f64, d| project.say(v, d);
    let mut out = Vec::new();
    if let (Some(a), Some(b)) = (base.side_s, other.side_s) {
        let (word, by) = if b < a { ("saves", a - b) } else { ("costs", b - a) };
        out.push(format!(
            "{} {word} {} on every drive to the side",
            base_words(other),
            say(by, D::Time)
        ));
    }
    if let (Some(a), Some(b)) = (base.shift_s, other.shift_s) {
        let (word, by) = if b < a { ("saves", a - b) } else { ("costs", b - a) };
        out.push(format!("{word} {} on each small shift", say(by, D::Time)));
    }
    let push = other.push_n / base.push_n - 1.0;
    out.push(format!(
        "pushes {} {}",
        say(push.abs(), D::Ratio),
        if push < 0.0 { "less" } else { "more" }
    ));
    let total = |b: &BaseFigures| {
        let m = &project.machine;
        m.other_motor_count.map(|n| {
            let base_now = project.frame.as_ref().map_or(0, |f| f.motor_count);
            n.saturating_sub(base_now) + b.motor_count + m.drive.motor_count
        })
    };
    let mut text = format!("{}.", out.join(", "));
    if let (Some(n), Some(most)) = (total(other), project.limits.motor_count)
        && other.motor_count != base.motor_count
    {
        text.push_str(&format!(" The machine then has {n} motors of {most} allowed."));
    }
    text
}

fn figures(project: &Project, r: &FrameReport) -> String {
    let lines = figure_lines(project, r);
    if lines.is_empty() {
        return String::new();
    }
    let mut text = String::from("\nFigures\n");
    for line in lines {
        text.push_str(&format!("  {}.\n", wrap(&line, 94, "    ")));
    }
    text
}
