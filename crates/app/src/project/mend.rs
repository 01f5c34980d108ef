//! Slips of someone who does not know TOML: told in our words, and read on as if they were mended.
//!
//! TOML itself has no words for them (two `[spot]` tables are to it a key written twice), and what it
//! leaves out of a broken line would be told as missing. So the text is mended before it is parsed,
//! and every place is found in the text as it was written.

use std::ops::Range;

use arcwright_model::finding::Finding;
use arcwright_model::project::lower::clip;
use arcwright_model::project::schema::{self, Entry, Kind};
use arcwright_model::units::TYPOGRAPHIC_MARKS;
use toml::de::DeTable;

use super::place::Place;
use super::problem::{Level, Problem};
use super::walk::{Child, child, join, names_in};

/// A text read as if its slips were mended.
pub(super) struct Mended<'a> {
    name: &'a str,
    written: &'a str,
    /// What to parse.
    pub text: String,
    /// What was mended.
    pub problems: Vec<Problem>,
    edits: Vec<Edit>,
}

/// Bytes of the written text and the bytes that stand for them in the mended one.
struct Edit {
    written: Range<usize>,
    mended: Range<usize>,
}

/// Slips of one sort shown; the rest are usually one habit.
const MOST_SHOWN_COUNT: usize = 20;
/// A longer line, name or value is not repeated in a message.
const LONGEST_SHOWN_COUNT: usize = 80;

impl Mended<'_> {
    /// The place of some bytes of the mended text in the written one.
    pub fn place(&self, bytes: &Range<usize>) -> Place {
        let place = self.back(bytes.start, false)..self.back(bytes.end, true);
        Place::of(self.name, self.written, &place)
    }

    fn back(&self, byte: usize, is_end: bool) -> usize {
        let before = self
            .edits
            .partition_point(|e| e.mended.start < byte || (!is_end && e.mended.start == byte));
        match before.checked_sub(1).and_then(|i| self.edits.get(i)) {
            Some(edit) if byte < edit.mended.end && is_end => edit.written.end,
            Some(edit) if byte < edit.mended.end => edit.written.start,
            Some(edit) => edit.written.end + (byte - edit.mended.end),
            None => byte,
        }
    }
}

/// One slip: what it is, and the parts of the line to exchange.
struct Slip {
    code: &'static str,
    key: &'static str,
    what: String,
    fix: String,
    /// In bytes of the line, from left to right.
    exchange: Vec<(Range<usize>, String)>,
}

/// Mends a text.
pub(super) fn mend<'a>(name: &'a str, written: &'a str) -> Mended<'a> {
    let mut mended = Mended {
        name,
        written,
        text: String::with_capacity(written.len()),
        problems: Vec::new(),
        edits: Vec::new(),
    };
    let mut heads: Vec<WrongHead> = Vec::new();
    let mut table = String::new();
    let mut closing = None;
    let mut at = 0;
    for line in written.split_inclusive('\n') {
        let is_inside = closing.is_some();
        closing = long_text(line, closing);
        let exchange = if is_inside || closing.is_some() {
            Vec::new()
        } else if let Some(head) = Head::read(line) {
            let (pattern, right) = head.meaning();
            table = pattern;
            match right {
                Some(right) => {
                    let bytes = head.start..head.start + head.text.len();
                    wrong_head(&mut heads, &head, &right, at, written);
                    vec![(bytes, right)]
                }
                None => Vec::new(),
            }
        } else {
            match flag(line, &table).or_else(|| marks(line, &table)) {
                Some(slip) => {
                    if mended.problems.len() < MOST_SHOWN_COUNT {
                        let first = slip.exchange.first().map_or(0, |e| e.0.start);
                        let last = slip.exchange.last().map_or(0, |e| e.0.end);
                        mended.problems.push(Problem {
                            finding: Finding::new(slip.code, slip.key, slip.what, slip.fix),
                            place: Some(Place::of(name, written, &(at + first..at + last))),
                            level: Level::Wrong,
                        });
                    }
                    slip.exchange
                }
                None => Vec::new(),
            }
        };
        let mut done = 0;
        for (bytes, new) in exchange {
            mended.text.push_str(line.get(done..bytes.start).unwrap_or(""));
            let start = mended.text.len();
            mended.text.push_str(&new);
            done = bytes.end;
            mended.edits.push(Edit {
                written: at + bytes.start..at + bytes.end,
                mended: start..mended.text.len(),
            });
        }
        mended.text.push_str(line.get(done..).unwrap_or(""));
        at += line.len();
    }
    let told = heads.iter().map(|h| h.problem(name, written));
    mended.problems.extend(told);
    mended
}

/// The mark that closes a text over several lines, if one is open behind this line.
fn long_text(line: &str, open: Option<&'static str>) -> Option<&'static str> {
    let mut open = open;
    let mut rest = line;
    loop {
        let Some(mark) = open else {
            // A remark opens nothing.
            let code = rest.split('#').next().unwrap_or("");
            let first = ["\"\"\"", "'''"]
                .into_iter()
                .filter_map(|m| Some((code.find(m)?, m)))
                .min();
            let (at, mark) = first?;
            rest = rest.get(at + mark.len()..).unwrap_or("");
            open = Some(mark);
            continue;
        };
        let Some(at) = rest.find(mark) else {
            return Some(mark);
        };
        rest = rest.get(at + mark.len()..).unwrap_or("");
        open = None;
    }
}

/// The head of a table: `[wheel]`, or what was meant to be one.
struct Head<'a> {
    /// From the first bracket to the last.
    text: &'a str,
    /// Where it begins in its line.
    start: usize,
    name: &'a str,
}

impl<'a> Head<'a> {
    fn read(line: &'a str) -> Option<Head<'a>> {
        let code = line.split('#').next().unwrap_or("");
        let text = code.trim();
        let inner = text.trim_start_matches('[').trim_end_matches(']');
        let name = inner.trim();
        let is_name = |c: char| c.is_alphanumeric() || matches!(c, '_' | '-' | '.');
        let is_head = text.starts_with('[') && text.ends_with(']') && text.len() - inner.len() <= 4;
        (is_head && !name.is_empty() && name.chars().all(is_name)).then_some(Head {
            text,
            start: code.len() - code.trim_start().len(),
            name,
        })
    }

    /// The pattern of the table, and the head as it should be written if the brackets are wrong.
    fn meaning(&self) -> (String, Option<String>) {
        if self.name.len() > LONGEST_SHOWN_COUNT {
            // No table of ours, whatever its brackets.
            return ("-".to_string(), None);
        }
        let (mut pattern, mut path, mut last) = (String::new(), String::new(), None);
        for word in self.name.split('.') {
            let bare = |w: &str| w.to_lowercase().trim_end_matches('s').to_string();
            let here = names_in(&pattern);
            // Many call a list by its plural.
            let near = here.iter().find(|n| bare(n) == bare(word)).copied();
            let known = if here.contains(&word) {
                word
            } else {
                near.unwrap_or(word)
            };
            pattern = join(&pattern, known);
            path = join(&path, known);
            last = child(&pattern);
            if matches!(last, Some(Child::List)) {
                pattern.push_str("[]");
            }
        }
        let brackets = |side: char| self.text.matches(side).count();
        let count = (brackets('['), brackets(']'));
        let right = match last {
            Some(Child::List) if count != (2, 2) => Some(format!("[[{path}]]")),
            Some(Child::Table | Child::Free) if count != (1, 1) => Some(format!("[{path}]")),
            _ => None,
        };
        (pattern, right)
    }
}

/// Heads with the wrong brackets that should all read the same: one slip, however often.
struct WrongHead {
    right: String,
    first: Range<usize>,
    lines: Vec<usize>,
}

fn wrong_head(heads: &mut Vec<WrongHead>, head: &Head, right: &str, at: usize, written: &str) {
    let start = at + head.start;
    let line = || written.get(..start).unwrap_or("").matches('\n').count() + 1;
    match heads.iter_mut().find(|h| h.right == right) {
        Some(known) if known.lines.len() <= MOST_SHOWN_COUNT => known.lines.push(line()),
        Some(_) => {}
        None => heads.push(WrongHead {
            right: right.to_string(),
            first: start..start + head.text.len(),
            lines: vec![line()],
        }),
    }
}

impl WrongHead {
    fn problem(&self, name: &str, written: &str) -> Problem {
        let found = clip(written.get(self.first.clone()).unwrap_or(""));
        let right = &self.right;
        let path = right.trim_matches(['[', ']']);
        let lines: Vec<String> = self.lines.iter().map(usize::to_string).collect();
        let lines = match lines.as_slice() {
            [] | [_] => String::new(),
            _ if lines.len() > MOST_SHOWN_COUNT => " wherever it stands".to_string(),
            [first @ .., last] => format!(" on lines {} and {last}", first.join(", ")),
        };
        let each = path.rsplit('.').next().unwrap_or(path);
        let (key, what, fix) = if right.starts_with("[[") {
            (
                format!("{path}[0]"),
                format!("there can be several `{path}` tables, so each of them has double brackets"),
                format!(
                    "write `{right}` with double brackets in place of `{found}`{lines}, once for each {each}"
                ),
            )
        } else {
            (
                path.to_string(),
                format!("there is only one `{path}` table, so it has single brackets"),
                format!("write `{right}` with single brackets in place of `{found}`{lines}"),
            )
        };
        Problem {
            finding: Finding::new("wrong-type", key, what, fix),
            place: Some(Place::of(name, written, &self.first)),
            level: Level::Wrong,
        }
    }
}

/// Key, place of the value up to a remark, and schema entry of a line `key = value`.
fn assignment<'a>(line: &'a str, table: &str) -> Option<(&'a str, Range<usize>, Option<&'static Entry>)> {
    let (key, value) = line.split_once('=')?;
    let code = value.split('#').next().unwrap_or("");
    let start = key.len() + 1 + (code.len() - code.trim_start().len());
    let key = key.trim();
    let is_name = |c: char| c.is_alphanumeric() || matches!(c, '_' | '-' | '.');
    let value = start..start + code.trim().len();
    let is_line = !key.is_empty() && key.chars().all(is_name) && !value.is_empty();
    is_line.then(|| (key, value, schema::entry(&join(table, key))))
}

/// What someone means who answers a yes-or-no question.
pub(super) fn yes_or_no(word: &str) -> Option<bool> {
    match word.to_lowercase().as_str() {
        "true" | "yes" | "on" | "y" | "t" | "1" => Some(true),
        "false" | "no" | "off" | "n" | "f" | "0" | "none" => Some(false),
        _ => None,
    }
}

/// `brakes = no`, and a whole number or a flag in typographic marks: neither takes any.
fn flag(line: &str, table: &str) -> Option<Slip> {
    let (key, bytes, entry) = assignment(line, table)?;
    let entry = entry?;
    let value = line
        .get(bytes.clone())
        .filter(|v| v.len() <= LONGEST_SHOWN_COUNT)?;
    let word = value.trim_matches(|c| is_mark(c) || c == '"');
    let is_marked = value.contains(is_mark);
    let (what, new, fix) = match entry.kind {
        Kind::Flag(_) if word.chars().all(char::is_alphabetic) && !word.is_empty() => {
            if !is_marked && (value != word || matches!(word, "true" | "false")) {
                return None;
            }
            let (new, fix) = match yes_or_no(word) {
                Some(yes) => (yes, format!("write `{key} = {yes}`")),
                None => (false, format!("write `{key} = true` or `{key} = false`")),
            };
            (
                format!("`{value}` is neither `true` nor `false`"),
                new.to_string(),
                fix,
            )
        }
        Kind::Count if is_marked && word.parse::<u32>().is_ok() => (
            format!("`{value}` is a text, and must be a whole number without quotation marks"),
            word.to_string(),
            format!("write `{key} = {word}`"),
        ),
        _ => return None,
    };
    Some(Slip {
        code: "wrong-type",
        key: entry.key,
        what,
        fix,
        exchange: vec![(bytes, new)],
    })
}

/// Does it only look like a quotation mark?
pub(super) fn is_mark(c: char) -> bool {
    TYPOGRAPHIC_MARKS.contains(&c)
}

/// `wrap = “110 deg”`: marks that only look like quotation marks.
fn marks(line: &str, table: &str) -> Option<Slip> {
    if !line.contains(is_mark) || is_toml(line) {
        return None;
    }
    assignment(line, table)?;
    let is_single = |c: char| matches!(c, '‘' | '’' | '‚' | '‛' | '‹' | '›' | '`' | '´');
    // An apostrophe within a text is none of the marks around it, so those come second.
    let (exchange, code) = [false, true].into_iter().find_map(|also_single| {
        let mut better = String::new();
        let mut exchange = Vec::new();
        for (at, c) in line.char_indices() {
            if is_mark(c) && (also_single || !is_single(c)) {
                exchange.push((better.len(), at..at + c.len_utf8()));
                better.push('"');
            } else {
                better.push(c);
            }
        }
        let code = without_remark(&better);
        // Those of the remark may stay.
        exchange.retain(|(start, _)| *start < code.len());
        let code = code.trim().to_string();
        (!exchange.is_empty() && is_toml(&better)).then_some((exchange, code))
    })?;
    let is_back = |(_, bytes): &(usize, Range<usize>)| line.get(bytes.clone()) == Some("`");
    let found = if exchange.iter().all(is_back) {
        "backquotes stand"
    } else {
        "typographic quotation marks stand"
    };
    let fix = if code.chars().count() <= LONGEST_SHOWN_COUNT {
        format!("write `{code}` with straight ones")
    } else {
        "write straight ones in their place".to_string()
    };
    Some(Slip {
        code: "not-toml",
        key: "",
        what: format!("{found} where straight ones belong"),
        fix,
        exchange: exchange
            .into_iter()
            .map(|(_, bytes)| (bytes, "\"".to_string()))
            .collect(),
    })
}

fn is_toml(line: &str) -> bool {
    DeTable::parse(line).is_ok()
}

/// A line up to its remark.
pub(super) fn without_remark(line: &str) -> &str {
    let mut open = None;
    for (at, c) in line.char_indices() {
        match (c, open) {
            ('#', None) => return line.get(..at).unwrap_or(line),
            ('"' | '\'', None) => open = Some(c),
            (_, Some(mark)) if mark == c => open = None,
            _ => {}
        }
    }
    line
}
