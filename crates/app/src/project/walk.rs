//! Walks the parsed file along the schema: what is known is read, what is not is reported.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

use arcwright_model::finding::{Finding, nearest};
use arcwright_model::project::lower::{Value, Written, clip};
use arcwright_model::project::schema::{self, LONGEST_LIST_COUNT};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::free;
use super::mend::Mended;
use super::problem::{Level, Problem};
use super::value;

/// Bytes of every key's name and value, every spread and every table's head.
#[derive(Debug, Default)]
pub(super) struct Places {
    values: BTreeMap<String, Range<usize>>,
    wholes: BTreeMap<String, Range<usize>>,
    keys: BTreeMap<String, Range<usize>>,
    spreads: BTreeMap<String, Range<usize>>,
    tables: BTreeMap<String, Range<usize>>,
}

/// Keys that stand for one another.
pub(super) const TWINS: &[(&str, &str)] = &[
    ("launcher.gap", "launcher.squeeze"),
    ("launcher.squeeze", "launcher.gap"),
    ("target.rim_height", "target.centre_height"),
    ("target.centre_height", "target.rim_height"),
    ("air.pressure", "air.altitude"),
    ("air.altitude", "air.pressure"),
];

impl Places {
    /// The best place for a finding about a key.
    pub fn find(&self, key: &str, code: &str) -> Option<Range<usize>> {
        let by_name = matches!(code, "not-here" | "both-written");
        let first = match code {
            "bad-spread" | "no-spread" => self.spreads.get(key),
            _ if by_name => self.keys.get(key),
            _ => None,
        };
        let twin = TWINS
            .iter()
            .find(|(k, _)| *k == key)
            .and_then(|(_, t)| self.values.get(*t));
        let table = || key.rsplit_once('.').and_then(|(table, _)| self.tables.get(table));
        first
            .or_else(|| self.values.get(key))
            .or_else(|| self.tables.get(key))
            .or(twin)
            .or_else(table)
            .cloned()
    }

    /// Bytes of a value without its spread.
    pub fn value(&self, key: &str) -> Option<Range<usize>> {
        self.values.get(key).cloned()
    }

    /// Bytes of a value with its spread.
    pub fn whole(&self, key: &str) -> Option<Range<usize>> {
        self.wholes.get(key).cloned()
    }

    /// Bytes of a key's name.
    pub fn name(&self, key: &str) -> Option<Range<usize>> {
        self.keys.get(key).cloned()
    }

    /// Bytes of a table: its head, or all of it where it stands in braces.
    pub fn table(&self, path: &str) -> Option<Range<usize>> {
        self.tables.get(path).cloned()
    }

    pub fn put_spread(&mut self, key: &str, bytes: Range<usize>) {
        self.spreads.insert(key.to_string(), bytes);
    }

    pub fn put_value(&mut self, key: &str, bytes: Range<usize>) {
        self.values.insert(key.to_string(), bytes);
    }
}

/// What the file says.
pub(super) struct Walked {
    pub written: Written,
    pub places: Places,
    pub problems: Vec<Problem>,
}

/// State of the walk.
pub(super) struct Walk<'a> {
    read: &'a Mended<'a>,
    pub written: Written,
    pub places: Places,
    problems: Vec<Problem>,
}

pub(super) fn walk(read: &Mended, document: &DeTable) -> Walked {
    let mut walk = Walk {
        read,
        written: Written::default(),
        places: Places::default(),
        problems: Vec::new(),
    };
    walk.table("", "", document);
    Walked {
        written: walk.written,
        places: walk.places,
        problems: walk.problems,
    }
}

/// What may stand under a name in a table.
#[derive(Clone, Copy)]
pub(super) enum Child {
    Leaf(&'static schema::Entry),
    Table,
    List,
    Free,
}

pub(super) fn join(path: &str, name: &str) -> String {
    if path.is_empty() {
        name.to_string()
    } else {
        format!("{path}.{name}")
    }
}

pub(super) fn child(pattern: &str) -> Option<Child> {
    if let Some(entry) = schema::entry(pattern) {
        return Some(Child::Leaf(entry));
    }
    if pattern == free::TABLE {
        return Some(Child::Free);
    }
    if schema::table(pattern).is_some() {
        return Some(Child::Table);
    }
    schema::table(&format!("{pattern}[]")).map(|_| Child::List)
}

/// Names that may stand in a table, keys first, in the order of the file.
pub(super) fn names_in(pattern: &str) -> Vec<&'static str> {
    let prefix = if pattern.is_empty() {
        String::new()
    } else {
        format!("{pattern}.")
    };
    let direct = |p: &'static str| {
        let name = p.strip_prefix(prefix.as_str())?;
        let name = name.strip_suffix("[]").unwrap_or(name);
        (!name.is_empty() && !name.contains('.')).then_some(name)
    };
    let mut seen = BTreeSet::new();
    schema::entries()
        .map(|e| e.key)
        .chain(schema::TABLES.iter().map(|t| t.pattern))
        .filter_map(direct)
        .chain(pattern.is_empty().then_some(free::TABLE))
        .filter(|n| seen.insert(*n))
        .collect()
}

impl Walk<'_> {
    pub fn report(&mut self, code: &'static str, key: &str, what: String, fix: String, bytes: Range<usize>) {
        self.problems.push(Problem {
            finding: Finding::new(code, key, what, fix),
            place: Some(self.read.place(&bytes)),
            level: Level::Wrong,
        });
    }

    /// The text of some bytes.
    pub fn raw(&self, bytes: &Range<usize>) -> &str {
        self.read.text.get(bytes.clone()).unwrap_or("")
    }

    fn table(&mut self, path: &str, pattern: &str, table: &DeTable) {
        for (name, value) in table.iter() {
            let word: &str = name.get_ref();
            match child(&join(pattern, word)) {
                Some(found) => self.take(path, pattern, word, found, name.span(), value),
                None => self.stranger(path, pattern, word, name.span(), value, table),
            }
        }
    }

    fn take(
        &mut self,
        path: &str,
        pattern: &str,
        name: &str,
        found: Child,
        name_bytes: Range<usize>,
        value: &Spanned<DeValue>,
    ) {
        let (path, pattern) = (join(path, name), join(pattern, name));
        self.places.keys.insert(path.clone(), name_bytes);
        match (found, value.get_ref()) {
            (Child::Leaf(entry), _) => {
                self.places.put_value(&path, value.span());
                self.places.wholes.insert(path.clone(), value.span());
                let read = value::read(self, entry, &path, value);
                self.written.values.insert(path, read);
            }
            (Child::Table, DeValue::Table(inner)) => self.enter(&path, &pattern, inner, value.span()),
            (Child::Free, DeValue::Table(inner)) => free::read(self, "", inner),
            (Child::List, DeValue::Array(list)) => {
                for (index, item) in list.iter().enumerate() {
                    if index >= LONGEST_LIST_COUNT {
                        let what = format!(
                            "there are {} [[{path}]] tables; at most {LONGEST_LIST_COUNT} fit",
                            list.len()
                        );
                        self.report(
                            "too-many",
                            &path,
                            what,
                            "keep those that matter".to_string(),
                            item.span(),
                        );
                        break;
                    }
                    let path = format!("{path}[{index}]");
                    match item.get_ref() {
                        DeValue::Table(inner) => {
                            self.enter(&path, &format!("{pattern}[]"), inner, item.span())
                        }
                        other => self.not_a_table(&path, &format!("[[{name}]]"), other, item.span()),
                    }
                }
            }
            (Child::List, DeValue::Table(inner)) => {
                let (first, pattern) = (format!("{path}[0]"), format!("{pattern}[]"));
                self.not_a_table(&first, &format!("[[{path}]]"), value.get_ref(), value.span());
                let is_known = |key: &str| child(&join(&pattern, key)).is_some();
                if inner.keys().any(|k| is_known(k.get_ref())) {
                    self.enter(&first, &pattern, inner, value.span());
                }
            }
            (Child::List, other) => {
                self.not_a_table(&format!("{path}[0]"), &format!("[[{path}]]"), other, value.span())
            }
            (Child::Table | Child::Free, other) => {
                self.not_a_table(&path, &format!("[{path}]"), other, value.span())
            }
        }
    }

    fn enter(&mut self, path: &str, pattern: &str, inner: &DeTable, bytes: Range<usize>) {
        self.written.tables.insert(path.to_string());
        self.places.tables.insert(path.to_string(), bytes);
        self.table(path, pattern, inner);
    }

    fn not_a_table(&mut self, path: &str, header: &str, found: &DeValue, bytes: Range<usize>) {
        self.written.values.insert(path.to_string(), Value::Unreadable);
        let (wanted, each) = if header.starts_with("[[") {
            ("a list of tables", ", once for each")
        } else {
            ("a table", "")
        };
        let name = path.strip_suffix("[0]").unwrap_or(path);
        self.report(
            "wrong-type",
            path,
            format!("`{name}` is {}, and must be {wanted}", value::type_name(found)),
            format!("write {header} on a line of its own and its keys below it{each}"),
            bytes,
        );
    }

    /// A name that the schema does not have here.
    fn stranger(
        &mut self,
        path: &str,
        pattern: &str,
        name: &str,
        name_bytes: Range<usize>,
        value: &Spanned<DeValue>,
        beside: &DeTable,
    ) {
        let is_table = matches!(value.get_ref(), DeValue::Table(_))
            && !matches!(self.raw(&value.span()).chars().next(), Some('{'));
        let full = join(path, name);
        let what = if is_table {
            format!("no table is called [{}]", clip(&full))
        } else if path.is_empty() {
            format!("no key at the top of the file is called `{}`", clip(name))
        } else {
            format!("`{}` is not a key of [{}]", clip(name), clip(path))
        };
        let here = names_in(pattern);
        let elsewhere: Vec<String> = schema::entries()
            .filter(|e| e.name() == name && e.table() != pattern)
            .filter_map(|e| schema::table(e.table()))
            .map(arcwright_model::project::lower::header)
            .collect();
        let near = nearest(name, here.iter().copied());
        let fix = match (near, elsewhere.as_slice()) {
            (_, [_, ..]) if !is_table => format!("move it: `{name}` belongs under {}", elsewhere.join(", ")),
            (Some(near), _) => format!("did you mean `{}`?", join(path, near)),
            (None, _) => format!("take it out; here can stand: {}", here.join(", ")),
        };
        self.report("unknown-key", &full, what, fix, name_bytes.clone());
        // Read on as if the near name had been written, so that what is wrong inside shows now.
        let free =
            near.filter(|n| (elsewhere.is_empty() || is_table) && !collides(beside, n, value.get_ref()));
        if let Some((near, found)) = free.and_then(|n| Some((n, child(&join(pattern, n))?))) {
            self.take(path, pattern, near, found, name_bytes, value);
        }
    }
}

/// Is the name taken already? A table that shares no key with the other is not in the way.
fn collides(beside: &DeTable, name: &str, value: &DeValue) -> bool {
    match (beside.get(name).map(Spanned::get_ref), value) {
        (None, _) => false,
        (Some(DeValue::Table(there)), DeValue::Table(new)) => {
            new.keys().any(|k| there.contains_key::<str>(k.get_ref()))
        }
        (Some(_), _) => true,
    }
}
