//! Mistakes in the TOML itself, in words for someone who has never heard of TOML.

use std::ops::Range;

use arcwright_model::finding::Finding;
use arcwright_model::project::lower::clip;

use super::mend::{Mended, is_mark};
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

pub(super) fn problems(read: &Mended, errors: &[toml::de::Error]) -> Syntax {
    let mut out = Syntax {
        problems: Vec::new(),
        loses_lines: false,
    };
    let text = read.text.as_str();
    let mut twice = None;
    for error in errors {
        let bytes = error.span().unwrap_or(0..0);
        let bytes = if minds_a_word(error.message()) {
            whole_word(text, &bytes)
        } else {
            bytes
        };
        if error.message().contains("duplicate key") {
            if twice.is_some_and(|head: usize| is_below(text, head, bytes.start)) {
                twice = Some(bytes.start);
                continue;
            }
            let head = head_around(text, &bytes);
            twice = head.map(|_| bytes.start);
            // The parser took a broken head above for the first of the list.
            if out.loses_lines && head.is_some_and(|h| h.starts_with("[[")) {
                continue;
            }
        }
        let said = say(error.message(), text, &bytes);
        out.loses_lines |= said.loses_lines;
        if out.problems.len() >= MOST_SHOWN_COUNT {
            continue;
        }
        let place = read.place(&bytes);
        // One line, one complaint: the parser stumbles over the rest of a broken line too.
        let same_line = |p: &Problem| {
            p.place.as_ref().is_some_and(|q| q.line == place.line) && p.finding.code == said.code
        };
        if out.problems.iter().any(same_line) {
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

/// The head of a table that the bytes stand in.
fn head_around<'a>(text: &'a str, bytes: &Range<usize>) -> Option<&'a str> {
    let before = text.get(..bytes.start)?;
    let start = before.rfind('\n').map_or(0, |n| n + 1);
    let code = text.get(start..)?.lines().next()?.split('#').next()?.trim();
    (before.get(start..)?.trim_start().starts_with('[') && code.ends_with(']')).then_some(code)
}

/// Is no other head between a head and a key? The keys of a table that is there already are then
/// written twice with it, and that is one mistake.
fn is_below(text: &str, head: usize, key: usize) -> bool {
    let between = text.get(head..key).unwrap_or("");
    between.contains('\n') && !between.lines().skip(1).any(|l| l.trim_start().starts_with('['))
}

/// A bare word that begins like `true`, `nan` or a number is to the parser a bad one of those.
fn minds_a_word(message: &str) -> bool {
    ["float", "boolean", "integer", "date"]
        .iter()
        .any(|kind| message.starts_with(&format!("invalid {kind}")))
}

/// The bytes from the start of their word on: of `2.2m` the parser minds the `m` alone.
fn whole_word(text: &str, bytes: &Range<usize>) -> Range<usize> {
    let before = text.get(..bytes.start).unwrap_or("");
    let in_number = |c: char| c.is_ascii_digit() || matches!(c, '.' | '_' | '+' | '-');
    before.trim_end_matches(in_number).len()..bytes.end
}

fn say(message: &str, text: &str, bytes: &Range<usize>) -> Said {
    let at_fault = clip(text.get(bytes.clone()).unwrap_or("").lines().next().unwrap_or(""));
    let said = |what: String, fix: String, loses_lines| Said {
        code: "not-toml",
        what,
        fix,
        loses_lines,
    };
    if let Some(head) = head_around(text, bytes).filter(|_| message.contains("duplicate key")) {
        let head = clip(head);
        if head.starts_with("[[") {
            let name = head.trim_matches(['[', ']']);
            return Said {
                code: "written-twice",
                what: format!("`{name}` is written in another way above this `{head}`"),
                fix: format!("write each {name} below a `{head}` of its own, and take the other out"),
                loses_lines: false,
            };
        }
        return Said {
            code: "written-twice",
            what: format!("the table `{head}` is written twice"),
            fix: format!("put all its keys below one `{head}`, each of them once, and take the other out"),
            loses_lines: false,
        };
    }
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
    let is_word = minds_a_word(message) && at_fault.contains(char::is_alphabetic);
    if is_word || message.contains("must be quoted") {
        let inner = at_fault.trim_matches(|c| is_mark(c) || c == '"').trim();
        return said(
            if at_fault.contains(is_mark) {
                format!("`{at_fault}` has typographic quotation marks where straight ones belong")
            } else {
                format!("`{at_fault}` stands without quotation marks")
            },
            format!("write \"{inner}\""),
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
