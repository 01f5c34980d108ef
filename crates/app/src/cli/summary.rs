//! `summary`: verdicts and setpoints, and every picture in `out/`.

use arcwright_model::limits::worst;
use clap::Args;

use super::check::{nearest_brief, safety_text, title, verdict_text};
use super::say::columns;
use super::source::ByShots;
use super::{Answer, Refusal, Which, aim, code_of, source};
use crate::tasks::aim::aimed;
use crate::tasks::{json, pictures};

#[derive(Args)]
pub struct SummaryArgs {
    #[command(flatten)]
    which: Which,
    #[command(flatten)]
    by: ByShots,
    /// Print JSON (SI, versioned; see docs/json.md) instead of text
    #[arg(long)]
    json: bool,
}

pub fn run(args: &SummaryArgs) -> Result<Answer, Refusal> {
    let mut source = source::load(&args.which.common())?;
    source.learn(&args.by);
    let source = source;
    let aimed = aimed(&source.project, source.learned.as_ref(), None);
    let report = &aimed.report;
    let mut text = title(&source);
    text.push_str(&verdict_text(&report.verdicts));
    text.push_str(&nearest_brief(&source.project, report));
    text.push('\n');
    text.push_str(&aim::spots_text(&source, &aimed));
    text.push('\n');
    let folder = source.out_folder();
    let design = source.learned.as_ref().map(|l| &l.design);
    let written =
        pictures::write_all(&source.project, design, report, &folder).map_err(|f| Refusal::finding(&f))?;
    if args.json {
        let said = json::summary(&source.project, report, &source.basis, &written);
        return Ok(Answer {
            text: format!("{said:#}\n"),
            code: code_of(worst(&report.verdicts)),
        });
    }
    text.push_str("Pictures\n");
    let rows: Vec<Vec<String>> = written
        .iter()
        .map(|(path, what)| vec![path.display().to_string(), what.clone()])
        .collect();
    text.push_str(&columns(&["", ""], &rows));
    text.push('\n');
    if source.is_demo() {
        text.push_str("Next: `arcwright new my-thrower` makes a project folder of your own; `arcwright --help` lists the commands.\n");
    }
    text.push_str(&safety_text(&source.project, report));
    Ok(Answer {
        text,
        code: code_of(worst(&report.verdicts)),
    })
}
