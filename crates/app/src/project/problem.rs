//! A finding with its place, and how it is shown.

use arcwright_model::finding::Finding;
use serde_json::{Value, json as object};

use super::place::Place;

/// Does it stop the work?
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Level {
    /// It does.
    Wrong,
    /// It is worth knowing.
    Note,
}

/// Something wrong with the project file, where, and how to mend it.
#[derive(Clone, Debug, PartialEq)]
pub struct Problem {
    /// What and how.
    pub finding: Finding,
    /// Where; none for a file that cannot be read.
    pub place: Option<Place>,
    /// Does it stop the work?
    pub level: Level,
}

/// Every code that a project can give, in the order of `docs/problems.md`.
pub const CODES: &[&str] = &[
    "no-file",
    "is-folder",
    "no-permission",
    "unreadable",
    "too-large",
    "not-text",
    "empty-file",
    "not-toml",
    "written-twice",
    "too-deep",
    "newer-format",
    "unknown-key",
    "missing-key",
    "missing-table",
    "wrong-type",
    "too-many",
    "too-few",
    "not-here",
    "both-written",
    "not-a-choice",
    "empty-text",
    "no-unit",
    "bad-number",
    "unknown-unit",
    "wrong-unit",
    "out-of-range",
    "bad-spread",
    "no-spread",
    "gap-too-wide",
    "squeeze-too-deep",
    "holes-too-large",
    "half-a-seam",
    "seam-too-large",
    "opening-too-small",
    "rim-above-ceiling",
    "rim-out-of-reach",
    "spot-behind-target",
    "twin-spots",
    "bore-too-large",
    "travel-reversed",
    "setting-outside-travel",
    "setting-off-step",
    "free-above-stall",
    "sheet-contradicts",
    "battery-below-reset",
    "bad-stock",
    "unknown-colour",
    "not-to-free",
    "bad-range",
    "bad-step",
    "no-choices",
    "changed-meanwhile",
    "read-only",
    "disk-full",
    "not-written",
    "no-feed",
    "feed-stuck",
    "no-order",
    "no-season",
    "no-map",
    "no-shots",
    "bad-shot",
    "shot-not-thrown",
    "not-fitted",
    "assumed",
];

/// Problems shown in full; of the rest only the number is told.
const MOST_SHOWN_COUNT: usize = 40;
/// Width of the text, in characters: fits a terminal of 100 and a narrow print.
const WIDTH: usize = 92;
/// Indent of the quoted line.
const QUOTE: &str = "      ";
/// Width of a quoted line.
const QUOTE_WIDTH: usize = 84;
/// A longer word behind a number is no unit.
const LONGEST_UNIT_COUNT: usize = 5;

/// The problems as plain text for a terminal, the order kept. No colour.
pub fn render(problems: &[Problem]) -> String {
    let mut out = String::new();
    let wrong = problems.iter().filter(|p| p.level == Level::Wrong).count();
    let mut number = 0;
    for problem in problems.iter().take(MOST_SHOWN_COUNT) {
        let title = match problem.level {
            Level::Wrong if wrong == 1 => "Problem".to_string(),
            Level::Wrong => {
                number += 1;
                format!("Problem {number} of {wrong}")
            }
            Level::Note => "Note".to_string(),
        };
        one(&mut out, &title, problem);
    }
    if problems.len() > MOST_SHOWN_COUNT {
        out.push_str(&format!(
            "And {} more; mend these first.\n\n",
            problems.len() - MOST_SHOWN_COUNT
        ));
    }
    out
}

fn one(out: &mut String, title: &str, problem: &Problem) {
    let finding = &problem.finding;
    out.push_str(&format!("{title}: {}", finding.code));
    match &problem.place {
        Some(place) => {
            out.push_str(&format!(
                " in {}, line {}, column {}\n\n",
                plain(&place.file),
                place.line,
                place.column
            ));
            if place.length > 0 || place.column > 1 {
                quote(out, place);
                out.push('\n');
            }
        }
        None => out.push_str("\n\n"),
    }
    field(out, "  what  ", &finding.what);
    field(out, "  mend  ", &finding.fix);
    out.push('\n');
}

/// The line and a row of marks under what is at fault.
fn quote(out: &mut String, place: &Place) {
    let letters: Vec<char> = place.line_text.chars().collect();
    let first = place.column.saturating_sub(1 + place.skipped).min(letters.len());
    let last = (first + place.length).min(letters.len());
    // A line too long for the page is shown from a little before the fault on.
    let start = if last > QUOTE_WIDTH {
        first.saturating_sub(QUOTE_WIDTH / 4)
    } else {
        0
    };
    let cell = |c: &char| if *c == '\t' || c.is_control() { ' ' } else { *c };
    let shown: String = letters.iter().skip(start).take(QUOTE_WIDTH).map(cell).collect();
    let head = if start + place.skipped > 0 { "... " } else { "" };
    let tail = if letters.len() > start + QUOTE_WIDTH {
        " ..."
    } else {
        ""
    };
    let marks = (last - first).clamp(1, QUOTE_WIDTH - (first - start).min(QUOTE_WIDTH - 1));
    out.push_str(&format!("{QUOTE}{head}{}{tail}\n", shown.trim_end()));
    let offset = head.chars().count() + first - start;
    out.push_str(&format!("{QUOTE}{}{}\n", " ".repeat(offset), "~".repeat(marks)));
}

/// A label and a text wrapped beside it; lines of the text after the first are kept as they are.
fn field(out: &mut String, label: &str, text: &str) {
    let indent = " ".repeat(label.chars().count());
    for (i, line) in text.lines().enumerate() {
        let lead = if i == 0 { label } else { &indent };
        let extra = if i == 0 { "" } else { "  " };
        let mut row = format!("{lead}{extra}");
        let mut used = row.chars().count();
        let mut fresh = true;
        for word in words(line) {
            let width = word.chars().count();
            if !fresh && used + 1 + width > WIDTH {
                out.push_str(row.trim_end());
                out.push('\n');
                row = indent.clone();
                used = row.chars().count();
                fresh = true;
            }
            if !fresh {
                row.push(' ');
                used += 1;
            }
            row.extend(word.chars().map(|c| if c.is_control() { '?' } else { c }));
            used += width;
            fresh = false;
        }
        out.push_str(row.trim_end());
        out.push('\n');
    }
}

/// Words of a line; what stands in backquotes or quotation marks stays together, and a number with
/// its unit.
fn words(line: &str) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    let mut open = false;
    for word in line.split(' ') {
        let marks = word.matches(['`', '"']).count();
        let is_unit =
            word.chars().count() <= LONGEST_UNIT_COUNT && !word.starts_with(|c: char| c.is_ascii_digit());
        match out.last_mut() {
            Some(last) if open || (is_unit && last.ends_with(|c: char| c.is_ascii_digit())) => {
                last.push(' ');
                last.push_str(word);
            }
            _ => out.push(word.to_string()),
        }
        // A quotation inside backquotes opens and closes within them.
        let so_far = out.last().map_or("", String::as_str);
        let ticks = so_far.matches('`').count() % 2 == 1;
        let quotes = so_far.matches('"').count() % 2 == 1;
        open = if marks > 0 || open { ticks || quotes } else { false };
        // A lone mark (an inch, a slip) must not glue a paragraph together.
        if so_far.chars().count() > WIDTH / 2 {
            open = false;
        }
    }
    out
}

/// A text without control characters.
fn plain(text: &str) -> String {
    text.chars()
        .map(|c| if c.is_control() { '?' } else { c })
        .collect()
}

/// The problems as JSON: code, level, key, what, fix and place (file, line,
/// column, length, and the line's text, which begins at `text_column`).
pub fn json(problems: &[Problem]) -> Value {
    let place = |p: &Place| {
        object!({
            "file": p.file, "line": p.line, "column": p.column, "length": p.length, "text": p.line_text,
            "text_column": p.skipped + 1,
        })
    };
    problems
        .iter()
        .map(|p| {
            object!({
                "code": p.finding.code,
                "level": match p.level { Level::Wrong => "wrong", Level::Note => "note" },
                "key": p.finding.key,
                "what": p.finding.what,
                "fix": p.finding.fix,
                "place": p.place.as_ref().map(place),
            })
        })
        .collect()
}
