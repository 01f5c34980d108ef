//! Mistakes in the TOML itself, in words for someone who has never heard of TOML.

use std::ops::Range;

use arcwright_model::finding::Finding;
use arcwright_model::project::lower::clip;

use super::place::Place;
use super::problem::{Level, Problem};

/// What the parser complained about.
pub(super) struct Syntax {
    /// In words.
    pub problems: Vec<Problem>,
    /// Did it leave lines out, so that what stands there seems to be missing?
    pub loses_lines: bool,
}

/// Mistakes shown from the parser; the rest are usually echoes of the first.
const MOST_SHOWN_COUNT: usize = 20;

struct Said {
    code: &'static str,
    what: String,
    fix: String,
    loses_lines: bool,
}

pub(super) fn problems(name: &str, text: &str, errors: &[toml::de::Error]) -> Syntax {
    let mut out = Syntax {
        problems: Vec::new(),
        loses_lines: false,
    };
    for error in errors {
        let bytes = error.span().unwrap_or(0..0);
        let said = say(error.message(), text, &bytes);
        out.loses_lines |= said.loses_lines;
        let place = Place::of(name, text, &bytes);
        // One line, one complaint: the parser stumbles over the rest of a broken line too.
        let same_line = |p: &Problem| {
            p.place.as_ref().is_some_and(|q| q.line == place.line) && p.finding.code == said.code
        };
        if out.problems.len() >= MOST_SHOWN_COUNT || out.problems.iter().any(same_line) {
            continue;
        }
        out.problems.push(Problem {
            finding: Finding::new(said.code, "", said.what, said.fix),
            place: Some(place),
            level: Level::Wrong,
        });
    }
    out
}

fn say(message: &str, text: &str, bytes: &Range<usize>) -> Said {
    let at_fault = clip(text.get(bytes.clone()).unwrap_or("").lines().next().unwrap_or(""));
    let said = |what: String, fix: String, loses_lines| Said {
        code: "not-toml",
        what,
        fix,
        loses_lines,
    };
    if message.contains("duplicate key") {
        return Said {
            code: "written-twice",
            what: format!("`{at_fault}` is written twice"),
            fix: "keep the line that is right and take the other out".to_string(),
            loses_lines: false,
        };
    }
    if message.contains("recurs") {
        return Said {
            code: "too-deep",
            what: "brackets are nested too deep".to_string(),
            fix: "a project file needs at most two brackets within one another: take the others out"
                .to_string(),
            loses_lines: true,
        };
    }
    if message.contains("must be quoted") {
        return said(
            format!("`{at_fault}` stands without quotation marks"),
            format!("write \"{at_fault}\""),
            false,
        );
    }
    if message.contains("string") {
        return said(
            "a text is not closed on its line".to_string(),
            "end it with the quotation mark it began with".to_string(),
            true,
        );
    }
    if message.contains("unclosed table") || message.contains("unclosed array of tables") {
        return said(
            "the name of a table is not closed".to_string(),
            "end it with as many `]` as it began with `[`".to_string(),
            true,
        );
    }
    if message.contains("expected `=`") {
        return said(
            "this line has no `=`".to_string(),
            "write `name = value`, or put `#` before a remark".to_string(),
            true,
        );
    }
    said(
        format!("this line cannot be read: {message}"),
        "write `name = value` with texts and quantities in quotation marks, or `[table]`".to_string(),
        true,
    )
}
