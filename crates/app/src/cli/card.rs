//! `card`: the pit card on one page.

use std::path::PathBuf;

use clap::Args;

use super::book::{PrintArgs, Printed};
use super::say::{table, wrap};
use super::{Answer, FINE, Refusal, Which, check, source};
use crate::store;
use crate::tasks::book::html;
use crate::tasks::card::{self, Card};
use crate::tasks::pictures;

#[derive(Args)]
pub struct CardArgs {
    #[command(flatten)]
    which: Which,
    #[command(flatten)]
    print: PrintArgs,
    /// Print JSON (SI, versioned; see docs/json.md) and write nothing
    #[arg(long)]
    json: bool,
    /// The HTML file [default: out/card.html]; the PDF beside it
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
}

pub fn run(args: &CardArgs) -> Result<Answer, Refusal> {
    let source = source::load(&args.which.common())?;
    let project = &source.project;
    let printer = args.print.printer()?;
    let log = source.file().map(|f| f.with_file_name(store::FILE_NAME));
    let card = card::card(project, log.as_deref(), false, &source.text).map_err(|f| Refusal::finding(&f))?;
    if args.json {
        let text = format!("{:#}\n", card::json(project, &card));
        return Ok(Answer { text, code: FINE });
    }
    let file = args
        .html
        .clone()
        .unwrap_or_else(|| source.out_folder().join("card.html"));
    if args.html.is_none() {
        pictures::write_file_folder(&source.out_folder()).map_err(|f| Refusal::finding(&f))?;
    }
    pictures::write_file(&file, &html::card(&card, args.print.paper())).map_err(|f| Refusal::finding(&f))?;
    let printed = Printed::of(printer.as_ref(), &file);
    let text = format!(
        "{}{}\n{}",
        check::title(&source),
        words(&card),
        printed.words(&file)
    );
    Ok(Answer {
        text,
        code: printed.code(),
    })
}

fn words(card: &Card) -> String {
    let mut setpoints = card.setpoints.clone();
    // The last column is for a pencil.
    setpoints.head.pop();
    for row in &mut setpoints.rows {
        row.pop();
    }
    let mut text = format!("{}\n", wrap(&card.basis, 96, ""));
    text.push_str(&table(&setpoints));
    for (what, rows) in [
        ("Ruler, battery off", &card.ruler),
        ("Wheel and battery", &card.battery),
    ] {
        text.push_str(&format!("{what}\n"));
        text.push_str(&super::say::columns(
            &["", ""],
            &rows.iter().map(|r| r.to_vec()).collect::<Vec<_>>(),
        ));
    }
    text.push_str(&format!("Marks: {}\n", card.marks));
    text
}
