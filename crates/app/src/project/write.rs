//! A chosen design back into the text of the project file: numbers change, all else stays.
//!
//! The text is cut at the bytes that the reader found, so remarks, order, blank lines and quotation
//! marks are not written again but left. The result is read back before anyone sees it.

use std::ops::Range;

use arcwright_model::finding::Finding;
use arcwright_model::project::change::change;
use arcwright_model::project::schema::{self, Entry, Key, Kind, TABLES, with_index};
use arcwright_model::project::{Project, get};
use arcwright_model::units::{Dimension, as_written, rewrite, shortest, show};
use toml::de::{DeTable, DeValue};

use super::edit::revive;
use super::mend::without_remark;
use super::problem::{Level, Problem};
use super::read::{FILE_NAME, look, parse};
use super::walk::{TWINS, Walked};

/// One quantity to change.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// Dotted key, such as `wheel.diameter` or `spot[1].distance`.
    pub key: String,
    /// New value, SI.
    pub value_si: f64,
}

/// One value as it stood and as it stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rewritten {
    /// Dotted key as the file has it: `launcher.gap` where the file writes the gap and the squeeze
    /// was changed.
    pub key: String,
    /// The value before, with its quotation marks; none if it was not written.
    pub before: Option<String>,
    /// The value now.
    pub after: String,
}

/// A changed text.
#[derive(Clone, Debug, PartialEq)]
pub struct Edited {
    /// The whole text.
    pub text: String,
    /// What was changed, in the order asked for.
    pub rewritten: Vec<Rewritten>,
    /// The project that the text stands for.
    pub project: Project,
}

/// Why nothing was written.
#[derive(Clone, Debug, PartialEq)]
pub struct WriteRefusal {
    /// What is wrong and how to mend it.
    pub problems: Vec<Problem>,
}

impl WriteRefusal {
    pub(super) fn of(finding: Finding) -> WriteRefusal {
        WriteRefusal {
            problems: vec![Problem {
                finding,
                place: None,
                level: Level::Wrong,
            }],
        }
    }
}

/// Rounding: how near a value that is read back must be to the one that was asked for.
const READS_BACK_RATIO: f64 = 1e-9;
/// Rounding: a value this small (SI) is what sums of steps leave of zero.
const NOTHING: f64 = 1e-15;

/// The text with some quantities changed.
///
/// A value keeps the unit and the spread it was written with; one that was not written is added in
/// its table, in the unit results are shown in. Where the file writes the twin of a key (`gap` for
/// `squeeze`), the twin changes.
///
/// # Errors
/// The problems of the text if it cannot be read; a finding for each change that makes no sense; the
/// problems that the changed text would have.
pub fn with_values(text: &str, changes: &[Change]) -> Result<Edited, WriteRefusal> {
    let mark = if text.starts_with('\u{feff}') {
        "\u{feff}"
    } else {
        ""
    };
    let text = text.strip_prefix(mark).unwrap_or(text);
    let wrong = |problems| WriteRefusal { problems };
    let before = parse(FILE_NAME, text).map_err(wrong)?.project;
    let changes: Vec<Change> = changes.iter().map(cleaned).collect();
    let wanted = changed_project(&before, &changes).map_err(|findings| WriteRefusal {
        problems: findings
            .into_iter()
            .flat_map(|f| WriteRefusal::of(f).problems)
            .collect(),
    })?;
    let mut new = text.to_string();
    let mut rewritten = Vec::new();
    for c in &changes {
        revive(&mut new, &c.key);
        let one = one(&mut new, &before, &wanted, c).map_err(WriteRefusal::of)?;
        rewritten.push(one);
    }
    let project = parse(FILE_NAME, &new).map_err(wrong)?.project;
    let touched: Vec<&str> = rewritten.iter().map(|r| r.key.as_str()).collect();
    if !only_these_changed(text, &new, &touched) || !reads_back(&project, &changes) {
        return Err(WriteRefusal::of(Finding::new(
            "not-written",
            touched.first().copied().unwrap_or(""),
            "the file is laid out in a way in which these values cannot be changed safely",
            "write the value into the file by hand, each table below a head of its own",
        )));
    }
    Ok(Edited {
        text: format!("{mark}{new}"),
        rewritten,
        project,
    })
}

fn cleaned(change: &Change) -> Change {
    let value_si = if change.value_si.abs() < NOTHING {
        0.0
    } else {
        change.value_si
    };
    Change {
        key: change.key.clone(),
        value_si,
    }
}

fn twin(key: &str) -> Option<&'static str> {
    TWINS.iter().find(|(k, _)| *k == key).map(|(_, t)| *t)
}

/// The project with all changes, or everything wrong with them.
fn changed_project(before: &Project, changes: &[Change]) -> Result<Project, Vec<Finding>> {
    let mut project = before.clone();
    let mut findings = Vec::new();
    // What follows from others (the gap of a squeeze) comes after them.
    let (last, first): (Vec<&Change>, Vec<&Change>) = changes.iter().partition(|c| twin(&c.key).is_some());
    for (i, c) in first.iter().chain(&last).enumerate() {
        let rival = first
            .iter()
            .chain(&last)
            .take(i)
            .find(|o| o.key == c.key || twin(&o.key) == Some(&c.key));
        if let Some(rival) = rival {
            findings.push(Finding::new(
                "both-written",
                &c.key,
                format!(
                    "`{}` and `{}` are both to be changed, and only one can count",
                    rival.key, c.key
                ),
                "name one of them, once",
            ));
            continue;
        }
        if let Err(f) = change(&mut project, &c.key, c.value_si) {
            findings.push(f);
        }
    }
    if findings.is_empty() {
        Ok(project)
    } else {
        Err(findings)
    }
}

/// Makes one change in the text.
pub(super) fn one(
    text: &mut String,
    before: &Project,
    wanted: &Project,
    change: &Change,
) -> Result<Rewritten, Finding> {
    let cannot = || {
        Finding::new(
            "not-written",
            &change.key,
            format!("`{}` cannot be changed where it stands in the file", change.key),
            "write the value into the file by hand",
        )
    };
    let walked = look(text).ok_or_else(cannot)?;
    let places = &walked.places;
    let (key, value) = match twin(&change.key) {
        Some(twin) if places.whole(&change.key).is_none() && places.whole(twin).is_some() => (
            twin.to_string(),
            get(wanted, twin).ok_or_else(|| by_twin(&change.key, twin))?,
        ),
        _ => (change.key.clone(), change.value_si),
    };
    let parsed = Key::parse(&key).ok_or_else(cannot)?;
    let entry = schema::entry(&parsed.pattern).ok_or_else(cannot)?;
    let (dimension, _) = entry.measure().ok_or_else(cannot)?;
    let within = match twin(&key) {
        // Both ends of a difference must be right to the same length.
        Some(_) if key != change.key => READS_BACK_RATIO * change.value_si.abs().min(value.abs()),
        _ => READS_BACK_RATIO * value.abs(),
    };
    let wanted_value = Wanted {
        value,
        within,
        dimension,
        is_count: matches!(entry.kind, Kind::Count),
    };
    match places.value(&key) {
        Some(bytes) => {
            let raw = text.get(bytes.clone()).ok_or_else(cannot)?.to_string();
            if matches!(entry.kind, Kind::Drag) && raw.contains("smooth") {
                return Err(smooth(&key));
            }
            let token = wanted_value.in_place_of(&raw).ok_or_else(cannot)?;
            replace(text, bytes, &token);
            Ok(Rewritten {
                key,
                before: Some(raw),
                after: token,
            })
        }
        None => {
            let is_smooth = !matches!(
                before.piece.drag.law,
                arcwright_model::flight::DragLaw::Constant { .. }
            );
            if matches!(entry.kind, Kind::Drag) && is_smooth {
                return Err(smooth(&key));
            }
            let token = wanted_value.fresh(entry, before).ok_or_else(cannot)?;
            let (at, passage) = added(text, &walked, entry, parsed.index, &token).ok_or_else(cannot)?;
            text.insert_str(at, &passage);
            Ok(Rewritten {
                key,
                before: None,
                after: token,
            })
        }
    }
}

fn by_twin(key: &str, twin: &str) -> Finding {
    Finding::new(
        "not-written",
        key,
        format!("the file writes `{twin}` in place of `{key}`"),
        format!("change `{twin}`, or write `{key}` in its place"),
    )
}

fn smooth(key: &str) -> Finding {
    Finding::new(
        "not-written",
        key,
        format!("`{key}` is the curve of a smooth sphere, and a number would put an end to the curve"),
        format!("write the drag coefficient you mean into the file, such as `{key} = 0.45`"),
    )
}

/// A quantity as TOML where none stood, in the unit that results are shown in.
pub(super) fn fresh_token(entry: &Entry, value_si: f64, project: &Project) -> Option<String> {
    let (dimension, _) = entry.measure()?;
    let wanted = Wanted {
        value: value_si,
        within: READS_BACK_RATIO * value_si.abs(),
        dimension,
        is_count: matches!(entry.kind, Kind::Count),
    };
    wanted.fresh(entry, project)
}

/// A value to be written.
struct Wanted {
    value: f64,
    within: f64,
    dimension: Dimension,
    is_count: bool,
}

impl Wanted {
    /// The value as TOML, written the way `raw` is.
    fn in_place_of(&self, raw: &str) -> Option<String> {
        if !raw.starts_with(['"', '\'']) {
            return self.plain(raw.contains(['.', 'e', 'E']));
        }
        let quote = raw.get(..1)?;
        let inner = raw.strip_prefix(quote)?.strip_suffix(quote)?;
        if inner.contains(['\\', '"', '\'', '\n']) {
            // An inch mark, most likely: what it says counts, not how it is spelt.
            return self.text(&decoded(raw)?).map(|t| quoted(&t));
        }
        self.text(inner).map(|t| format!("{quote}{t}{quote}"))
    }

    fn text(&self, old: &str) -> Option<String> {
        rewrite(old, as_written(old, self.dimension), self.value, self.within)
    }

    /// A number without quotation marks.
    fn plain(&self, with_point: bool) -> Option<String> {
        let fits = |t: &str| {
            t.parse::<f64>()
                .is_ok_and(|v| (v - self.value).abs() <= self.within)
        };
        let number = shortest(self.value, fits)?;
        if self.is_count || !with_point || number.contains(['.', 'e']) {
            Some(number)
        } else {
            Some(format!("{number}.0"))
        }
    }

    /// The value as TOML where none stood.
    fn fresh(&self, entry: &Entry, project: &Project) -> Option<String> {
        if self.dimension.is_plain() {
            return self.plain(entry.example.contains('.'));
        }
        let (dimension, scale) = entry.measure()?;
        let unit = show::unit(self.value, dimension, scale, project.units);
        self.text(&format!("1 {}", unit.symbol)).map(|t| quoted(&t))
    }
}

fn decoded(raw: &str) -> Option<String> {
    let line = format!("a = {raw}");
    let table = DeTable::parse(&line).ok()?;
    match table.get_ref().get("a")?.get_ref() {
        DeValue::String(text) => Some(text.to_string()),
        _ => None,
    }
}

/// A text of one line as TOML.
pub(super) fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\""))
}

/// Puts a token in place of another; a remark that stands apart on that line keeps its column.
pub(super) fn replace(text: &mut String, bytes: Range<usize>, token: &str) {
    let change =
        token.chars().count() as isize - text.get(bytes.clone()).map_or(0, |t| t.chars().count()) as isize;
    let end = bytes.start + token.len();
    text.replace_range(bytes, token);
    let start = text.get(..end).and_then(|t| t.rfind('\n')).map_or(0, |n| n + 1);
    let line = text.get(start..).and_then(|t| t.split('\n').next()).unwrap_or("");
    let code = without_remark(line);
    let blanks = code.len() - code.trim_end_matches(' ').len();
    // One blank is no column.
    if code.len() < line.trim_end().len() && blanks >= 2 && start + code.len() >= end {
        let left = (blanks as isize - change).max(1) as usize;
        let to = start + code.len();
        text.replace_range(to - blanks..to, &" ".repeat(left));
    }
}

pub(super) fn line_start(text: &str, at: usize) -> usize {
    text.get(..at).and_then(|t| t.rfind('\n')).map_or(0, |n| n + 1)
}

/// End of the line, before its line break.
pub(super) fn line_end(text: &str, at: usize) -> usize {
    let rest = text.get(at..).unwrap_or("");
    let line = rest.split('\n').next().unwrap_or("");
    at + line.strip_suffix('\r').unwrap_or(line).len()
}

pub(super) fn line_break(text: &str) -> &'static str {
    if text.contains("\r\n") { "\r\n" } else { "\n" }
}

/// Where a key that is not there goes, and the passage to put there.
pub(super) fn added(
    text: &str,
    walked: &Walked,
    entry: &Entry,
    index: usize,
    token: &str,
) -> Option<(usize, String)> {
    let path = with_index(entry.table(), index);
    let name = entry.name();
    let Some(head) = walked.places.table(&path) else {
        return with_table(text, walked, entry, token);
    };
    let there = |e: &&'static Entry| walked.places.whole(&with_index(e.key, index)).is_some();
    let beside = || schema::entries().filter(|e| e.table() == entry.table());
    let before = beside()
        .filter(|e| schema::stands_before(e.key, entry.key))
        .filter(there)
        .last();
    let after = beside().find(there);
    let in_braces = text.get(head.clone())?.starts_with('{');
    let neighbour = before.or(after).map(|e| with_index(e.key, index));
    let bytes = neighbour
        .as_ref()
        .and_then(|k| Some((walked.places.name(k)?, walked.places.whole(k)?)));
    match (bytes, in_braces) {
        (Some((_, whole)), true) if before.is_some() => Some((whole.end, format!(", {name} = {token}"))),
        (Some((key, _)), true) => Some((key.start, format!("{name} = {token}, "))),
        (None, true) => Some((head.start + 1, format!(" {name} = {token} "))),
        (Some((key, whole)), false) => {
            let lead = text.get(line_start(text, key.start)..key.start)?;
            let is_head = text.get(head.clone())?.starts_with('[');
            // The first key of a table goes right below its head, above remarks on the next.
            let at = if before.is_none() && is_head {
                head.end
            } else {
                whole.end
            };
            Some((
                line_end(text, at),
                format!("{}{lead}{name} = {token}", line_break(text)),
            ))
        }
        (None, false) => Some((
            line_end(text, head.end),
            format!("{}{name} = {token}", line_break(text)),
        )),
    }
}

/// A new table with one key, behind the last of the tables that come before it.
pub(super) fn with_table(text: &str, walked: &Walked, entry: &Entry, token: &str) -> Option<(usize, String)> {
    let nl = line_break(text);
    let order = TABLES.iter().position(|t| t.pattern == entry.table())?;
    let table = TABLES.get(order)?;
    let passage = format!(
        "{}{nl}{} = {token}",
        arcwright_model::project::lower::header(table),
        entry.name()
    );
    let end = TABLES
        .iter()
        .take(order)
        .rev()
        .find_map(|t| end_of(text, walked, t.pattern));
    match end {
        Some(at) => Some((at, format!("{nl}{nl}{passage}"))),
        None => {
            let gap = if text.ends_with('\n') {
                nl.to_string()
            } else {
                format!("{nl}{nl}")
            };
            Some((text.len(), format!("{gap}{passage}{nl}")))
        }
    }
}

/// End of the last line of a table with a head of its own, with the remarks that follow at once.
pub(super) fn end_of(text: &str, walked: &Walked, pattern: &str) -> Option<usize> {
    let index = (0..schema::LONGEST_LIST_COUNT)
        .take_while(|i| walked.places.table(&with_index(pattern, *i)).is_some())
        .take(if pattern.contains("[]") { usize::MAX } else { 1 })
        .last()?;
    let head = walked.places.table(&with_index(pattern, index))?;
    if !text.get(head.clone())?.starts_with('[') {
        return None;
    }
    let last = schema::entries()
        .filter(|e| e.table() == pattern)
        .filter_map(|e| walked.places.whole(&with_index(e.key, index)))
        .map(|w| w.end)
        .max()
        .map_or(head.end, |end| end.max(head.end));
    let mut at = line_end(text, last);
    loop {
        let next = text.get(at..)?.trim_start_matches('\r').strip_prefix('\n');
        match next {
            Some(next) if next.trim_start_matches([' ', '\t']).starts_with('#') => {
                at = line_end(text, text.len() - next.len());
            }
            _ => return Some(at),
        }
    }
}

/// Does every value but these stand as it stood? A name that ends in a dot or bracket stands for all below it.
pub(super) fn only_these_changed(before: &str, after: &str, touched: &[&str]) -> bool {
    let is_touched = |key: &str| {
        touched
            .iter()
            .any(|t| key == *t || (t.ends_with(['.', '[']) && key.starts_with(t)))
    };
    let rest = |text: &str| {
        look(text).map(|w| {
            let mut values = w.written.values;
            values.retain(|k, _| !is_touched(k));
            values
        })
    };
    matches!((rest(before), rest(after)), (Some(a), Some(b)) if a == b)
}

fn reads_back(project: &Project, changes: &[Change]) -> bool {
    changes.iter().all(|c| match get(project, &c.key) {
        Some(v) => (v - c.value_si).abs() <= 2.0 * READS_BACK_RATIO * c.value_si.abs() + NOTHING,
        // An altitude becomes a pressure.
        None => c.key == "air.altitude",
    })
}
