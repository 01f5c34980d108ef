//! `check`.

use arcwright_model::limits::{self, Report, Status, Verdict, worst};
use arcwright_model::project::Project;
use clap::Args;

use super::say::{columns, name, wrap};
use super::source::{self, ByShots, Source};
use super::{Answer, Common, Refusal, code_of};
use crate::tasks::{json, pictures, safety, tables};

#[derive(Args)]
pub struct CheckArgs {
    #[command(flatten)]
    common: Common,
    #[command(flatten)]
    by: ByShots,
}

/// Width of running text in the terminal.
const WIDTH: usize = 96;

pub fn run(args: &CheckArgs) -> Result<Answer, Refusal> {
    let mut source = source::load(&args.common)?;
    source.learn(&args.by);
    let report = limits::check(&source.project);
    source::write_picture(&args.common, || pictures::fan(&source.project, &report))?;
    let code = code_of(worst(&report.verdicts));
    if args.common.json {
        return Ok(Answer {
            text: format!("{:#}\n", json::check(&source.project, &report, &source.basis)),
            code,
        });
    }
    let mut text = title(&source);
    text.push_str(&verdict_text(&report.verdicts));
    text.push_str(&nearest_brief(&source.project, &report));
    text.push_str(&safety_text(&source.project, &report));
    Ok(Answer { text, code })
}

/// Name and source of the project, one line on what it is, and what test shots are to it.
pub fn title(source: &Source) -> String {
    let mut line = wrap(&source.line, WIDTH, "");
    if !line.is_empty() {
        line.push('\n');
    }
    format!(
        "{}  ({})\n{}\n{line}\n",
        source.project.name,
        source.origin(),
        source.project.brief_words()
    )
}

fn line(v: &Verdict) -> Vec<String> {
    let what = if v.subject.is_empty() {
        v.check.to_string()
    } else {
        format!("{}: {}", v.check, name(&v.subject))
    };
    vec![v.status.word().to_string(), what, v.why.clone()]
}

/// Verdicts, worst first; what does not hold with its remedy.
pub(super) fn verdict_text(verdicts: &[Verdict]) -> String {
    let count = |s: Status| verdicts.iter().filter(|v| v.status == s).count();
    let mut text = format!(
        "Verdicts: {} hold, {} tight, {} fail, {} unknown\n",
        count(Status::Holds),
        count(Status::Tight),
        count(Status::Fails),
        count(Status::Unknown)
    );
    let mut order: Vec<&Verdict> = verdicts.iter().collect();
    order.sort_by_key(|v| std::cmp::Reverse(v.status));
    let heads: Vec<Vec<String>> = order.iter().map(|v| line(v)).collect();
    let widest = |i: usize| heads.iter().map(|r| r[i].chars().count()).max().unwrap_or(0);
    let (w0, w1) = (widest(0), widest(1));
    for (v, head) in order.iter().zip(&heads) {
        let indent = " ".repeat(w0 + w1 + 6);
        let why = wrap(&head[2], WIDTH.saturating_sub(indent.len()).max(40), &indent);
        text.push_str(&format!("  {:w0$}  {:w1$}  {}\n", head[0], head[1], why));
        if !v.mend.is_empty() {
            let indent = " ".repeat(w0 + 4);
            text.push_str(&format!(
                "{indent}mend: {}\n",
                wrap(
                    &v.mend,
                    WIDTH.saturating_sub(indent.len() + 6).max(40),
                    &format!("{indent}      ")
                )
            ));
        }
    }
    text
}

/// What the brief would have to say for this machine to hold.
pub(super) fn nearest_brief(project: &Project, report: &Report) -> String {
    let rows = tables::nearest_brief(project, report);
    if rows.is_empty() {
        return String::new();
    }
    format!(
        "\nNearest brief that this machine meets, if the machine is not changed\n{}",
        columns(&["", "", ""], &rows)
    )
}

/// The cautions and who governs.
pub fn safety_text(project: &Project, report: &Report) -> String {
    let mut text = String::from("\nSafety\n");
    let numbers = safety::hazards(project, report);
    text.push_str(&format!("  {}\n", wrap(&numbers, WIDTH - 2, "  ")));
    for c in safety::CAUTIONS {
        text.push_str(&format!("  - {}\n", wrap(c, WIDTH - 4, "    ")));
    }
    text.push_str(&format!("  {}\n", wrap(safety::DEFERS, WIDTH - 2, "  ")));
    text
}
