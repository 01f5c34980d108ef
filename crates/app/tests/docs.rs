//! The reference pages say what the program does.
#![allow(clippy::unwrap_used, clippy::panic)] // helpers of tests are tests too

use std::path::PathBuf;

use arcwright::project::CODES;
use arcwright_model::project::PieceKind;
use arcwright_model::project::lower::header;
use arcwright_model::project::schema::{Entry, Kind, Need, TABLES, default_drag_is_smooth, entries};
use arcwright_model::units::{Dimension, UnitSystem, show};

fn page(name: &str) -> (PathBuf, String) {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("../../docs")
        .join(name);
    let text = std::fs::read_to_string(&path).unwrap();
    (path, text)
}

#[test]
fn every_problem_code_has_its_heading_and_no_heading_is_left_over() {
    let (_, text) = page("problems.md");
    let headings: Vec<&str> = text.lines().filter_map(|l| l.strip_prefix("### ")).collect();
    assert_eq!(headings, CODES);
}

const BEGIN: &str = "<!-- table: made from the schema, do not edit -->\n";
const END: &str = "<!-- end of table -->\n";

/// `UPDATE=1 cargo test` rewrites the table.
#[test]
fn the_table_of_keys_is_the_schema() {
    let (path, text) = page("project-file.md");
    let (before, rest) = text.split_once(BEGIN).unwrap();
    let (_, after) = rest.split_once(END).unwrap();
    let wanted = format!("{before}{BEGIN}{}{END}{after}", tables());
    if std::env::var_os("UPDATE").is_some() {
        std::fs::write(path, &wanted).unwrap();
        return;
    }
    assert_eq!(text, wanted, "run with UPDATE=1 and read the difference");
}

fn tables() -> String {
    let mut out = String::new();
    let top: Vec<&Entry> = entries().filter(|e| e.table().is_empty()).collect();
    section(&mut out, "At the top", "", &top);
    for table in TABLES {
        let rows: Vec<&Entry> = entries().filter(|e| e.table() == table.pattern).collect();
        if !rows.is_empty() {
            let need = if table.required {
                "Needed. "
            } else {
                "May be left out. "
            };
            section(
                &mut out,
                &format!("`{}`", header(table)),
                &format!("{need}{}", table.doc),
                &rows,
            );
        }
    }
    out
}

fn section(out: &mut String, title: &str, about: &str, rows: &[&Entry]) {
    out.push_str(&format!("\n### {title}\n\n"));
    if !about.is_empty() {
        out.push_str(&format!("{about}\n\n"));
    }
    out.push_str(
        "| key | such as | if not written | allowed | what it is |\n| --- | --- | --- | --- | --- |\n",
    );
    for e in rows {
        let only = match e.when.decided_by() {
            Some((key, words)) => format!(
                " Only with `{} = {}`.",
                key.rsplit('.').next().unwrap(),
                words.join(" / ")
            ),
            None => String::new(),
        };
        let spread = if e.spread { " ±" } else { "" };
        out.push_str(&format!(
            "| `{}`{spread} | `{}` | {} | {} | {}{only} |\n",
            e.name(),
            e.example,
            absent(e),
            allowed(e),
            e.doc
        ));
    }
    if rows.iter().any(|e| e.spread) {
        out.push_str("\n± may carry a spread.\n");
    }
}

fn say(e: &Entry, value: f64) -> String {
    let (dimension, _) = e.measure().unwrap();
    show::text(value, dimension, show::Scale::Auto, UnitSystem::Metric)
}

fn percent(share: f64) -> String {
    show::text(share, Dimension::Ratio, show::Scale::Auto, UnitSystem::Metric)
}

fn absent(e: &Entry) -> String {
    match e.need {
        Need::Required => "needed".to_string(),
        Need::Optional => "-".to_string(),
        Need::Default(v, share) if share > 0.0 => format!("{} ± {}, assumed", say(e, v), percent(share)),
        Need::Default(v, _) => say(e, v),
        Need::ByKind(by_kind) => of_each_kind(e, by_kind),
        Need::From(_, words) => words.to_string(),
        Need::OneOf(other) => format!("this or `{}`", other.rsplit('.').next().unwrap()),
        Need::InsteadOf(other) => format!("this, `{}` or neither", other.rsplit('.').next().unwrap()),
    }
}

fn of_each_kind(e: &Entry, by_kind: fn(PieceKind) -> (f64, f64)) -> String {
    let one = |(word, kind): (&str, PieceKind)| {
        let (value, share) = by_kind(kind);
        let is_curve = matches!(e.kind, Kind::Drag) && default_drag_is_smooth(kind);
        let value = if is_curve {
            "\"smooth\"".to_string()
        } else {
            say(e, value)
        };
        if share > 0.0 {
            format!("{word} {value} ± {}", percent(share))
        } else {
            format!("{word} {value}")
        }
    };
    let kinds = [
        ("foam", PieceKind::Foam),
        ("hollow", PieceKind::Hollow),
        ("perforated", PieceKind::Perforated),
        ("solid", PieceKind::Solid),
    ];
    format!("{}, assumed", kinds.map(one).join(", "))
}

fn allowed(e: &Entry) -> String {
    match e.kind {
        Kind::Choice(words, _) => words.join(", "),
        Kind::Flag(_) => "true, false".to_string(),
        Kind::Text(_) => "any text".to_string(),
        Kind::Drag => format!("\"smooth\", or {} to {}", say(e, e.low), say(e, e.high)),
        Kind::List(_, _, [least, most], _) => {
            format!(
                "list of {least} to {most}, each {} to {}",
                say(e, e.low),
                say(e, e.high)
            )
        }
        _ if e.low == e.high => say(e, e.low),
        _ => format!("{} to {}", say(e, e.low), say(e, e.high)),
    }
}
