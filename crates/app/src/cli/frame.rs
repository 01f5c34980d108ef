//! `frame`: the rest of the machine.

use arcwright_model::limits::{BaseFigures, check_unsearched, worst};
use arcwright_model::project::{Frame, Project};
use arcwright_model::units::Dimension as D;
use clap::Args;

use super::say::{table, wrap};
use super::{Answer, Common, Refusal, check, code_of, source};
use crate::tasks::frame::{
    BASE_NOTE, base_table, bought, figures, free_room, no_frame, other_base, polar, sheet_table,
};
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
    /// What --svg draws: speed and push by direction (base), or the parts with the free room (parts)
    #[arg(long, value_name = "VIEW", default_value = "base", value_parser = ["base", "parts"])]
    view: String,
}

pub fn run(args: &FrameArgs) -> Result<Answer, Refusal> {
    let source = source::load(&args.common)?;
    let project = &source.project;
    let whole = check_unsearched(project);
    let (Some(frame), Some(report)) = (&project.frame, &whole.frame) else {
        return Err(Refusal::finding(&no_frame()));
    };
    let other = args
        .compare
        .as_ref()
        .map(|word| other_base(project, word, args.motors))
        .transpose()
        .map_err(|f| Refusal::finding(&f))?;
    if args.view == "parts" && args.common.svg.is_some() {
        let drawn = free_room(project).ok_or_else(|| Refusal::input(
            "no picture of the free room: parts or size limits are missing\n  fix list parts as [[frame.part]], and write `length`, `width` and `height` under [limits]\n",
        ))?;
        source::write_picture(&args.common, || drawn)?;
    } else {
        source::write_picture(&args.common, || polar(project, report.base.iter().chain(&other)))?;
    }
    let code = code_of(worst(&report.verdicts));
    if args.common.json {
        return Ok(Answer {
            text: format!("{:#}\n", json::frame(project, &whole, report, other.as_ref())),
            code,
        });
    }
    let mut text = check::title(&source);
    text.push_str(&check::verdict_text(&report.verdicts));
    if let Some(base) = &report.base {
        text.push_str(&bases(project, frame, base, other.as_ref()));
    }
    if let Some((sheets, note)) = sheet_table(project, &whole) {
        text.push_str(&format!(
            "\nGuide sheet, materials by the same numbers\n{}  {}.\n",
            table(&sheets),
            wrap(&note, 94, "  ")
        ));
    }
    let lines = figures(project, &whole, report);
    if !lines.is_empty() {
        text.push_str("\nFigures\n");
    }
    for (_, line) in lines {
        text.push_str(&format!("  {}.\n", wrap(&line, 94, "    ")));
    }
    text.push_str(&check::safety_text(project, &whole));
    for g in safety::GUARDS {
        text.push_str(&format!("  - {}\n", wrap(g, 92, "    ")));
    }
    Ok(Answer { text, code })
}

fn bases(project: &Project, frame: &Frame, base: &BaseFigures, other: Option<&BaseFigures>) -> String {
    let all: Vec<&BaseFigures> = std::iter::once(base).chain(other).collect();
    let mut text = format!(
        "\nDrive base, {}\n{}",
        project.say(base.mass_kg, D::Mass),
        table(&base_table(project, frame, &all))
    );
    text.push_str(&format!("  {}\n", wrap(BASE_NOTE, 94, "  ")));
    if let Some(o) = other {
        text.push_str(&format!("  {}\n", wrap(&bought(project, base, o), 94, "  ")));
    }
    text
}
