//! `book`: the engineering notebook as one HTML file, and from it a PDF.

use std::path::{Path, PathBuf};

use arcwright_model::finding::Finding;
use clap::Args;
use serde_json::{Value, json};

use super::say::wrap;
use super::{Answer, FAILS, FINE, Refusal, Which, check, source};
use crate::tasks::book::html::{self, Paper};
use crate::tasks::book::{self, Book, From, print};
use crate::tasks::json::{head, with};
use crate::tasks::pictures;

/// How something is printed; the same for every command that prints.
#[derive(Args, Clone, Debug, Default)]
pub struct PrintArgs {
    /// Paper of the PDF
    #[arg(long, value_name = "PAPER", default_value = "a4", value_parser = ["a4", "letter"])]
    paper: String,
    /// Print with this browser of the Chromium family [default: ARCWRIGHT_BROWSER, or one that is found]
    #[arg(long, value_name = "PATH", conflicts_with = "no_pdf")]
    browser: Option<PathBuf>,
    /// Write the HTML alone
    #[arg(long)]
    no_pdf: bool,
}

/// What a PDF is printed with.
pub enum Printer {
    /// A browser.
    Browser(PathBuf),
    /// None is there.
    None,
}

impl PrintArgs {
    /// The paper.
    pub fn paper(&self) -> Paper {
        Paper::named(&self.paper).unwrap_or(Paper::A4)
    }

    /// What to print with; nothing where no PDF is wanted.
    pub fn printer(&self) -> Result<Option<Printer>, Refusal> {
        if self.no_pdf {
            return Ok(None);
        }
        let found = print::browser(self.browser.as_deref()).map_err(|f| Refusal::finding(&f))?;
        Ok(Some(found.map_or(Printer::None, Printer::Browser)))
    }
}

/// What became of the PDF.
pub enum Printed {
    /// None was asked for.
    NotAsked,
    /// It is there.
    Pdf(PathBuf),
    /// No browser was found.
    NoBrowser,
    /// The browser did not do it.
    Refused(Finding),
}

impl Printed {
    /// Prints a file, if asked to.
    pub fn of(printer: Option<&Printer>, html: &Path) -> Printed {
        match printer {
            None => Printed::NotAsked,
            Some(Printer::None) => Printed::NoBrowser,
            Some(Printer::Browser(browser)) => {
                let pdf = html.with_extension("pdf");
                match print::print(browser, html, &pdf) {
                    Ok(()) => Printed::Pdf(pdf),
                    Err(f) => Printed::Refused(f),
                }
            }
        }
    }

    /// A PDF that was asked for and is not there counts as a failure.
    pub fn code(&self) -> u8 {
        match self {
            Printed::NotAsked | Printed::Pdf(_) => FINE,
            Printed::NoBrowser | Printed::Refused(_) => FAILS,
        }
    }

    /// What was written, and what to do where the PDF is missing.
    pub fn words(&self, html: &Path) -> String {
        let mut text = format!("Written  {}\n", html.display());
        let why = match self {
            Printed::NotAsked => return text,
            Printed::Pdf(pdf) => {
                text.push_str(&format!("         {}\n", pdf.display()));
                return text;
            }
            Printed::NoBrowser => {
                "No PDF: no browser of the Chromium family was found on this machine".to_string()
            }
            Printed::Refused(f) => format!("No PDF: {} did not print it: {}", f.key, f.what),
        };
        let fix = print::BY_HAND;
        text.push_str(&format!(
            "{}\n",
            wrap(
                &format!("{why}. To have one, {fix}. `--no-pdf` asks for none."),
                96,
                "  "
            )
        ));
        text
    }

    fn json(&self) -> Value {
        match self {
            Printed::NotAsked => Value::Null,
            Printed::Pdf(pdf) => json!({ "file": pdf.display().to_string() }),
            Printed::NoBrowser => {
                json!({ "refused": { "code": "no-browser", "what": "no browser of the Chromium family was found", "fix": print::BY_HAND } })
            }
            Printed::Refused(f) => json!({ "refused": { "code": f.code, "what": f.what, "fix": f.fix } }),
        }
    }
}

#[derive(Args)]
pub struct BookArgs {
    #[command(flatten)]
    which: Which,
    #[command(flatten)]
    print: PrintArgs,
    /// Only these sections, such as brief,log
    #[arg(long, value_name = "NAMES", value_delimiter = ',')]
    sections: Vec<String>,
    /// Leave these sections out
    #[arg(long, value_name = "NAMES", value_delimiter = ',')]
    without: Vec<String>,
    /// The HTML file [default: out/notebook.html]; the PDF beside it
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
    /// Print JSON (versioned; see docs/json.md) about what was written
    #[arg(long)]
    json: bool,
}

pub fn run(args: &BookArgs) -> Result<Answer, Refusal> {
    let source = source::load(&args.which.common())?;
    let chapters = book::chosen(&args.sections, &args.without).map_err(|f| Refusal::finding(&f))?;
    let printer = args.print.printer()?;
    let from = From {
        text: &source.text,
        file: source.file(),
    };
    let made = book::book(&from, &chapters).map_err(|all| Refusal::findings(&all))?;
    let file = args
        .html
        .clone()
        .unwrap_or_else(|| source.out_folder().join("notebook.html"));
    if args.html.is_none() {
        pictures::write_file_folder(&source.out_folder()).map_err(|f| Refusal::finding(&f))?;
    }
    pictures::write_file(&file, &html::book(&made, args.print.paper())).map_err(|f| Refusal::finding(&f))?;
    made.keep();
    let printed = Printed::of(printer.as_ref(), &file);
    let code = printed.code();
    let text = if args.json {
        let sections: Vec<Value> = made
            .sections
            .iter()
            .map(|s| json!({ "name": s.id, "title": s.title }))
            .collect();
        let more = json!({ "html": file.display().to_string(), "pdf": printed.json(), "sections": sections });
        format!("{:#}\n", with(head("book", &source.project), more))
    } else {
        format!(
            "{}{}\n{}",
            check::title(&source),
            words(&made),
            printed.words(&file)
        )
    };
    Ok(Answer { text, code })
}

fn words(made: &Book) -> String {
    let names: Vec<&str> = made.sections.iter().map(|s| s.id).collect();
    format!(
        "Engineering notebook with {} sections: {}\n",
        names.len(),
        wrap(&names.join(", "), 96, "  ")
    )
}
