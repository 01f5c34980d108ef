//! From what was written to a [`Project`], with everything that is wrong with it.

use std::collections::{BTreeMap, BTreeSet};

use super::blank::{self, Outfit};
use super::schema::{self, Entry, Key, Kind, Need, TABLES, Table, When, with_index};
use super::{Choices, PieceKind, Project, Spread, check, free};
use crate::finding::{Finding, nearest};
use crate::flight::DragLaw;
use crate::units::Dimension;
use crate::units::show::{self, Scale};

/// A spread as written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum WrittenSpread {
    /// A standard deviation, SI.
    Sd(f64),
    /// A standard deviation as a share of the value: `sd = "2 %"`.
    Share(f64),
    /// A range, SI.
    Range([f64; 2]),
}

/// One value as written, with its unit worked out.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// A number, SI.
    Number(f64, Option<WrittenSpread>),
    /// A pair of numbers, SI.
    Pair([f64; 2]),
    /// A list of numbers, SI.
    List(Vec<f64>),
    /// A word or a text.
    Word(String),
    /// `true` or `false`.
    Flag(bool),
    /// `smooth` for drag.
    Smooth(Option<WrittenSpread>),
    /// Something that could not be read and has been reported.
    Unreadable,
}

/// What a project file says, by dotted key.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Written {
    /// Values: `piece.mass`, `spot[0].name`.
    pub values: BTreeMap<String, Value>,
    /// Tables that are there: `piece`, `spot[0]`.
    pub tables: BTreeSet<String>,
    /// Quantities to free, in the order of the file.
    pub free: Vec<WrittenFree>,
}

/// A quantity to free, as written.
#[derive(Clone, Debug, PartialEq)]
pub struct WrittenFree {
    /// Dotted key of the quantity.
    pub key: String,
    /// What it may be, SI; none if that could not be read.
    pub choices: Option<Choices>,
}

/// A project and what is wrong with it.
#[derive(Clone, Debug, PartialEq)]
pub struct Lowered {
    /// The project. Meaningless where there are findings: missing numbers are NaN.
    pub project: Project,
    /// Everything wrong, in the order of the schema.
    pub findings: Vec<Finding>,
    /// Keys whose value was assumed by judgement, not written and not measured.
    pub assumed: Vec<String>,
}

/// Builds the project and reports everything wrong at once.
pub fn lower(written: &Written) -> Lowered {
    let outfit = Outfit {
        spots: count(written, "spot[]"),
        parts: count(written, "wheel.part[]"),
        sheet: written.tables.contains("launcher.sheet"),
        knobs: ["knobs.slide", "knobs.tilt", "knobs.reach"].map(|k| written.tables.contains(k)),
        rest: super::rest::Rest {
            frame: written.tables.contains("frame"),
            motor: written.tables.contains("frame.motor"),
            shaft: written.tables.contains("frame.shaft"),
            power: written.tables.contains("frame.power"),
            wires: count(written, "frame.wire[]"),
            links: count(written, "frame.link[]"),
            parts: count(written, "frame.part[]"),
            season: written.tables.contains("season"),
            changes: count(written, "season.change[]"),
        },
        feed: written.tables.contains("feed"),
        feed_parts: ["feed.roller", "feed.stirrer", "feed.bands"].map(|k| written.tables.contains(k)),
        plates: count(written, "feed.plate[]"),
    };
    let mut work = Work {
        written,
        project: blank::project(&outfit),
        findings: super::feed::too_many(outfit.plates).into_iter().collect(),
        assumed: Vec::new(),
    };
    work.choices();
    work.tables();
    let (derived, plain): (Vec<&Entry>, Vec<&Entry>) =
        schema::entries().partition(|e| matches!(e.need, Need::OneOf(_) | Need::InsteadOf(_)));
    for entry in plain.into_iter().chain(derived) {
        for index in 0..work.instances(entry) {
            work.take(entry, index);
        }
    }
    if work.project.piece.kind != PieceKind::Perforated {
        work.project.piece.holes = None;
    }
    work.move_derived_spreads();
    work.free();
    let mut findings = work.findings;
    findings.extend(check::findings(&work.project));
    Lowered {
        project: work.project,
        findings,
        assumed: work.assumed,
    }
}

fn count(written: &Written, pattern: &str) -> usize {
    (0..schema::LONGEST_LIST_COUNT)
        .take_while(|i| written.tables.contains(&with_index(pattern, *i)))
        .count()
}

/// State of the work.
pub(super) struct Work<'a> {
    pub(super) written: &'a Written,
    pub(super) project: Project,
    findings: Vec<Finding>,
    assumed: Vec<String>,
}

/// Drops the place in a list: `wheel.part[2]` is table `wheel.part[]`.
fn table_pattern(table: &str) -> String {
    Key::parse(table).map_or_else(|| table.to_string(), |k| k.pattern)
}

impl Work<'_> {
    pub(super) fn report(&mut self, code: &'static str, key: &str, what: String, fix: String) {
        self.findings.push(Finding::new(code, key, what, fix));
    }

    fn instances(&self, entry: &Entry) -> usize {
        schema::places(&self.project, entry.table())
    }

    fn say(&self, value: f64, dimension: Dimension) -> String {
        show::text(value, dimension, Scale::Auto, self.project.units)
    }

    /// The words that decide the rest: kind, shape, layout, material, units.
    fn choices(&mut self) {
        for entry in schema::entries() {
            let Kind::Choice(words, set) = entry.kind else {
                continue;
            };
            for index in 0..self.instances(entry) {
                let key = with_index(entry.key, index);
                let Some(Value::Word(word)) = self.written.values.get(&key) else {
                    continue;
                };
                let word = word.clone();
                if set(&mut self.project, index, &word) {
                    continue;
                }
                let all: Vec<String> = words.iter().map(|w| format!("\"{w}\"")).collect();
                let all = all.join(", ");
                let fix = match nearest(&word, words.iter().copied()) {
                    Some(near) => format!("did you mean \"{near}\"? It can be {all}"),
                    None => format!("write one of {all}"),
                };
                self.report(
                    "not-a-choice",
                    &key,
                    format!("`{key}` cannot be \"{}\"", clip(&word)),
                    fix,
                );
            }
        }
    }

    /// Is the word that decides about a key known?
    fn decided(&self, when: When, index: usize) -> bool {
        let Some((decider, _)) = when.decided_by() else {
            return true;
        };
        let key = with_index(decider, index);
        let bad = self.findings.iter().any(|f| f.key == key);
        matches!(self.written.values.get(&key), Some(Value::Word(_))) && !bad
    }

    /// Tables that must be there and are not.
    fn tables(&mut self) {
        for table in TABLES.iter().filter(|t| t.required) {
            let first = with_index(table.pattern, 0);
            if self.written.tables.contains(&first)
                || self.written.values.get(&first) == Some(&Value::Unreadable)
            {
                continue;
            }
            let header = header(table);
            self.report(
                "missing-table",
                &first,
                format!("the table {header} is missing: {}", lower_first(table.doc)),
                format!("add it, with your own values:\n{}", self.block(table)),
            );
        }
    }

    /// A table as one would write it, with the keys it must have.
    fn block(&self, table: &Table) -> String {
        let mut lines = vec![header(table)];
        for entry in schema::entries().filter(|e| e.table() == table.pattern) {
            let of_kind = match entry.when {
                When::Always | When::Weighed | When::DiscOrRing => true,
                when => self.decided(when, 0) && when.holds(&self.project, 0),
            };
            let needed = match entry.need {
                Need::Required => true,
                // The first of two is proposed.
                Need::OneOf(other) => schema::stands_before(entry.key, other),
                _ => false,
            };
            if of_kind && needed {
                lines.push(format!("{} = {}", entry.name(), entry.example));
            }
        }
        lines.join("\n")
    }

    /// One key: read it, or find its default, or report that it is missing.
    fn take(&mut self, entry: &'static Entry, index: usize) {
        let key = with_index(entry.key, index);
        let decided = self.decided(entry.when, index);
        let means_something = entry.when.holds(&self.project, index);
        match self.written.values.get(&key).cloned() {
            None if !decided || !means_something => {}
            None => self.absent(entry, index, &key),
            Some(_) if decided && !means_something => self.out_of_place(entry, index, &key),
            Some(value) => {
                self.rivals(entry, &key);
                self.present(entry, index, &key, value);
            }
        }
    }

    fn absent(&mut self, entry: &'static Entry, index: usize, key: &str) {
        let table = with_index(entry.table(), index);
        let table_there = table.is_empty() || self.written.tables.contains(&table);
        match entry.need {
            Need::Required if table_there => self.report(
                "missing-key",
                key,
                format!("`{key}` is missing: {}", lower_first(entry.doc)),
                format!(
                    "add `{} = {}` with your own value{}",
                    entry.name(),
                    entry.example,
                    under(&table)
                ),
            ),
            Need::OneOf(other) if table_there && !self.written.values.contains_key(other) => {
                let is_first = schema::stands_before(entry.key, other);
                if is_first {
                    let other = schema::entry(other).map_or(other, |e| e.name());
                    self.report(
                        "missing-key",
                        key,
                        format!("`{key}` is missing, and so is `{other}`: one of the two is needed"),
                        format!(
                            "add `{} = {}` with your own value{}",
                            entry.name(),
                            entry.example,
                            under(&table)
                        ),
                    );
                }
            }
            Need::Default(..) | Need::ByKind(_) | Need::From(..) => self.assume(entry, index, key),
            Need::Required | Need::Optional | Need::OneOf(_) | Need::InsteadOf(_) => {}
        }
    }

    fn assume(&mut self, entry: &'static Entry, index: usize, key: &str) {
        if matches!(entry.kind, Kind::Drag) && schema::default_drag_is_smooth(self.project.piece.kind) {
            self.project.piece.drag.law = DragLaw::CliftGauvin;
        }
        let Some((value, share)) = entry.need.assumed(&self.project) else {
            return;
        };
        (entry.access.set)(&mut self.project, index, value);
        if share > 0.0 {
            self.project
                .spreads
                .insert(key.to_string(), Spread::Normal { sd: share * value });
            self.assumed.push(key.to_string());
        }
    }

    /// A key that belongs to another layout or kind.
    fn out_of_place(&mut self, entry: &'static Entry, index: usize, key: &str) {
        let Some((decider, words)) = entry.when.decided_by() else {
            return;
        };
        let decider = with_index(decider, index);
        let words: Vec<String> = words.iter().map(|w| format!("\"{w}\"")).collect();
        // A knob that is not there is one mistake, however many lines describe it.
        let key = if entry.key.starts_with("knobs.") {
            entry.table()
        } else {
            key
        };
        if self.findings.iter().any(|f| f.code == "not-here" && f.key == key) {
            return;
        }
        let found = match self.written.values.get(&decider) {
            Some(Value::Word(word)) => format!(", and this one is \"{}\"", clip(word)),
            _ => String::new(),
        };
        let words = words.join(" or ");
        self.report(
            "not-here",
            key,
            format!("`{key}` belongs to `{decider}` {words}{found}"),
            format!("take it out, or change `{decider}` to {words}"),
        );
    }

    /// Two keys that say the same thing in two ways.
    fn rivals(&mut self, entry: &Entry, key: &str) {
        let (Need::OneOf(other) | Need::InsteadOf(other)) = entry.need else {
            return;
        };
        let second = schema::stands_before(other, entry.key);
        if second && self.written.values.contains_key(other) {
            let other = schema::entry(other).map_or(other, |e| e.name());
            let name = entry.name();
            self.report(
                "both-written",
                key,
                format!("`{name}` and `{other}` are both written, and say the same thing in two ways"),
                format!("keep the one you measure and take the other out, for example `{name}`"),
            );
        }
    }

    fn present(&mut self, entry: &'static Entry, index: usize, key: &str, value: Value) {
        match (entry.kind, value) {
            (Kind::Text(_), Value::Word(word)) if word.trim().is_empty() => self.report(
                "empty-text",
                key,
                format!("`{key}` is empty"),
                format!("write a text, such as `{} = {}`", entry.name(), entry.example),
            ),
            (Kind::Text(set), Value::Word(word)) => set(&mut self.project, index, &word),
            (Kind::Flag(set), Value::Flag(yes)) => set(&mut self.project, yes),
            (Kind::Pair(dimension, scale, set), Value::Pair(ends)) => {
                // Both ends are looked at, so that both are reported.
                let fit = ends.map(|v| self.admitted(entry, key, v, (dimension, scale)));
                if fit == [true; 2] {
                    set(&mut self.project, ends);
                }
            }
            (Kind::List(dimension, scale, length, set), Value::List(values)) => {
                let right_length = self.right_length(entry, key, values.len(), length);
                let mut sound = right_length;
                for (i, v) in values.iter().enumerate() {
                    let name = format!("{key}[{i}]");
                    sound &= self.admitted_as(entry, key, &name, *v, (dimension, scale));
                }
                if sound {
                    set(&mut self.project, &values);
                }
            }
            (Kind::Drag, Value::Smooth(spread)) => {
                self.project.piece.drag.law = DragLaw::CliftGauvin;
                self.number(entry, index, key, 1.0, spread);
            }
            (Kind::Quantity(..) | Kind::Count | Kind::Drag, Value::Number(value, spread)) => {
                self.number(entry, index, key, value, spread);
            }
            _ => {}
        }
    }

    fn number(
        &mut self,
        entry: &'static Entry,
        index: usize,
        key: &str,
        value: f64,
        spread: Option<WrittenSpread>,
    ) {
        let Some(measure) = entry.measure() else { return };
        if entry.key == "format" {
            self.format(value);
            return;
        }
        if !self.admitted(entry, key, value, measure) {
            return;
        }
        (entry.access.set)(&mut self.project, index, value);
        let Some(spread) = spread else {
            // A judged spread stays until the writer gives one: a value alone is not certainty.
            let share = entry.need.assumed(&self.project).map_or(0.0, |(_, share)| share);
            if share > 0.0 && value != 0.0 {
                self.project.spreads.insert(
                    key.to_string(),
                    Spread::Normal {
                        sd: (share * value).abs(),
                    },
                );
            }
            return;
        };
        if let Some(spread) = self.spread(entry, key, value, spread, measure) {
            self.project.spreads.insert(key.to_string(), spread);
        }
    }

    /// What a search may change. Findings are about `free.KEY` and its `range`, `step` or `choices`.
    fn free(&mut self) {
        for WrittenFree { key, choices } in &self.written.free {
            let path = format!("free.{key}");
            let entry = Key::parse(key).and_then(|k| Some((schema::entry(&k.pattern)?, k.index)));
            if entry.is_some_and(|(e, index)| index < self.instances(e) && !self.decided(e.when, index)) {
                // That the word which decides is missing has been told.
                continue;
            }
            let rival = match key.as_str() {
                "launcher.gap" => "launcher.squeeze",
                "launcher.squeeze" => "launcher.gap",
                _ => "",
            };
            if self.project.free.iter().any(|f| f.key == rival) {
                self.report(
                    "both-written",
                    &path,
                    format!("`{key}` and `{rival}` are both free, and each follows from the other"),
                    "free one of them".to_string(),
                );
                continue;
            }
            let found = match choices {
                Some(choices) => free::free(&self.project, key, choices.clone()),
                None => match free::may_free(&self.project, key) {
                    Ok(_) => continue,
                    Err(finding) => Err(vec![("", finding)]),
                },
            };
            match found {
                Ok(freed) => self.project.free.push(freed),
                Err(found) => {
                    for (part, finding) in found {
                        let key = if part.is_empty() {
                            path.clone()
                        } else {
                            format!("{path}.{part}")
                        };
                        self.findings.push(Finding { key, ..finding });
                    }
                }
            }
        }
    }

    fn format(&mut self, value: f64) {
        let newest = schema::NEWEST_FORMAT;
        if value > newest {
            self.report(
                "newer-format",
                "format",
                format!("the file has format {value}, and this program reads up to {newest}"),
                format!(
                    "open it with a newer arcwright, or write `format = {newest}` if the file was written for this one"
                ),
            );
        } else if value != newest {
            self.report(
                "out-of-range",
                "format",
                format!("there is no format {value}"),
                format!("write `format = {newest}`"),
            );
        }
    }

    /// Has the list a length that can be used? Reports it if not.
    fn right_length(&mut self, entry: &Entry, key: &str, count: usize, length: [usize; 2]) -> bool {
        let [least, most] = length;
        let values = if count == 1 { "value" } else { "values" };
        let (code, what, fix) = if count < least {
            (
                "too-few",
                format!("`{key}` has {count} {values}, and must have {least} or more"),
                format!(
                    "give at least one for each end, or take `{}` out: `{} = {}`",
                    entry.name(),
                    entry.name(),
                    entry.example
                ),
            )
        } else if count > most {
            (
                "too-many",
                format!("`{key}` has {count} {values}; at most {most} fit"),
                format!("keep {most} or fewer, evenly spaced and both ends among them"),
            )
        } else {
            return true;
        };
        self.report(code, key, what, fix);
        false
    }

    /// Is the value within the range? Reports it if not.
    pub(super) fn admitted(
        &mut self,
        entry: &Entry,
        key: &str,
        value: f64,
        measure: (Dimension, Scale),
    ) -> bool {
        self.admitted_as(entry, key, key, value, measure)
    }

    /// The same for a value called by another name than its key, such as one of a list.
    fn admitted_as(
        &mut self,
        entry: &Entry,
        key: &str,
        name: &str,
        value: f64,
        measure: (Dimension, Scale),
    ) -> bool {
        if entry.admits(value) {
            return true;
        }
        let (low, high) = (entry.low, entry.high);
        let (dimension, scale) = measure;
        let (limit, side) = if value < low {
            (low, "below")
        } else {
            (high, "above")
        };
        let [found, allowed] = show::pair(value, limit, dimension, scale, self.project.units);
        let which = if value < low { "least" } else { "most" };
        self.report(
            "out-of-range",
            key,
            format!("`{name}` is {found}, {side} the {allowed} that makes sense at the {which}"),
            format!(
                "check the number, its sign and its unit: it can be from {} to {}",
                self.say(low, dimension),
                self.say(high, dimension)
            ),
        );
        false
    }
}

/// `[wheel]`, `[[spot]]`.
pub fn header(table: &Table) -> String {
    match table.pattern.strip_suffix("[]") {
        Some(list) => format!("[[{list}]]"),
        None => format!("[{}]", table.pattern),
    }
}

/// ` under [wheel]`, or nothing at the top of the file.
fn under(table: &str) -> String {
    match schema::table(&table_pattern(table)) {
        Some(t) => format!(" under {}", header(t)),
        None => " at the top of the file".to_string(),
    }
}

fn lower_first(text: &str) -> String {
    let mut letters = text.trim_end_matches('.').chars();
    match letters.next() {
        Some(first) => first.to_lowercase().chain(letters).collect(),
        None => String::new(),
    }
}

/// A foreign text short enough for a message.
pub fn clip(text: &str) -> String {
    const LONGEST_COUNT: usize = 40;
    if text.chars().count() <= LONGEST_COUNT {
        return text.to_string();
    }
    text.chars().take(LONGEST_COUNT).chain("...".chars()).collect()
}
