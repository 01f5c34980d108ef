//! Changes of the project file beyond a number: words, lines that come and go, spots, a usual piece or target.
//!
//! As with numbers the text is cut at the bytes that the reader found; nothing else is written again. A line that is
//! taken out stays as a remark, and comes back when its key is set again.

use std::collections::BTreeMap;
use std::ops::Range;

use arcwright_model::finding::Finding;
use arcwright_model::project::Project;
use arcwright_model::project::lower::Value;
use arcwright_model::project::schema::{self, Key, Kind, with_index};
use toml::de::DeTable;

use super::kinds::{usual_piece, usual_target};
use super::read::{FILE_NAME, look, parse};
use super::walk::Walked;
use super::write::{
    Change, Edited, Rewritten, WriteRefusal, added, line_break, line_end, line_start, only_these_changed,
    quoted, replace, with_values,
};

/// One change.
#[derive(Clone, Debug, PartialEq)]
pub enum Edit {
    /// A number.
    Value(Change),
    /// A text, or one of the few words that a key can have.
    Word {
        /// Dotted key.
        key: String,
        /// The new word.
        word: String,
    },
    /// Yes or no.
    Flag {
        /// Dotted key.
        key: String,
        /// The new answer.
        yes: bool,
    },
    /// A table that is not there, with its values.
    AddTable {
        /// Its name, such as `feed.bands`.
        table: String,
        /// Quantities below it, by their whole keys.
        values: Vec<Change>,
        /// Answers below it that are yes.
        flags: Vec<String>,
    },
    /// Takes a table out that the file can do without; its lines stay as remarks.
    RetireTable {
        /// Its name.
        table: String,
    },
    /// Takes a line out that the file can do without; it stays as a remark.
    Unset {
        /// Dotted key.
        key: String,
    },
    /// A new spot behind another, with all that is written of that one.
    AddSpot {
        /// Place of the other, from 0.
        like: usize,
        /// Name; one that is free if not given.
        name: Option<String>,
        /// Distance; a little farther than the other if not given.
        distance_m: Option<f64>,
    },
    /// Takes a spot out, with the remarks that belong to it alone.
    RemoveSpot {
        /// Its place, from 0.
        spot: usize,
    },
    /// The usual piece of a kind in place of what is written, which stays as remarks.
    Piece {
        /// One of [`PIECES`](arcwright_model::project::usual::PIECES).
        kind: String,
    },
    /// A table of the frame or the season with what it must have, or one more of a list.
    Table {
        /// Its name, `[]` behind that of a list.
        table: String,
    },
    /// Outline and tilt of a kind of target; sizes stay.
    Target {
        /// One of [`TARGETS`](arcwright_model::project::usual::TARGETS).
        kind: String,
    },
}

/// Begins a line that was taken out.
const OUT: &str = "# ";
/// Method: a new spot is this much farther away than the one it is like.
const FARTHER_M: f64 = 0.5;

/// What an edit concerns: a key, or all below a name that ends in a dot or bracket.
pub fn concerns(edit: &Edit) -> String {
    match edit {
        Edit::Value(Change { key, .. })
        | Edit::Word { key, .. }
        | Edit::Flag { key, .. }
        | Edit::Unset { key } => {
            match key.split_once("].") {
                // Which spot it is shows only in its whole.
                Some((list, _)) => format!("{list}]."),
                None => key.clone(),
            }
        }
        Edit::AddTable { table, .. } | Edit::RetireTable { table } => format!("{table}."),
        Edit::AddSpot { .. } | Edit::RemoveSpot { .. } => "spot[".into(),
        Edit::Piece { .. } => "piece.".into(),
        Edit::Target { .. } => "target.".into(),
        Edit::Table { table } => table
            .strip_suffix("[]")
            .map_or_else(|| format!("{table}."), |list| format!("{list}[")),
    }
}

/// What the text says, by key; `None` for one with a slip in its TOML.
pub fn written(text: &str) -> Option<BTreeMap<String, Value>> {
    look(text.trim_start_matches('\u{feff}')).map(|w| w.written.values)
}

/// The text with some things changed, one after the other.
///
/// # Errors
/// What is wrong with the text, with an edit, or with what would come of it; nothing is then changed.
pub fn with_edits(text: &str, edits: &[Edit]) -> Result<Edited, WriteRefusal> {
    let mark = if text.starts_with('\u{feff}') {
        "\u{feff}"
    } else {
        ""
    };
    let mut text = text.strip_prefix(mark).unwrap_or(text).to_string();
    let wrong = |problems| WriteRefusal { problems };
    let mut project = parse(FILE_NAME, &text).map_err(wrong)?.project;
    let mut rewritten = Vec::new();
    for edit in edits {
        if let Edit::Value(change) = edit {
            let done = with_values(&text, std::slice::from_ref(change))?;
            (text, project) = (done.text, done.project);
            rewritten.extend(done.rewritten);
            continue;
        }
        let mut work = Work {
            text: text.clone(),
            project: &project,
            touched: vec![concerns(edit)],
            rewritten: Vec::new(),
        };
        work.apply(edit).map_err(WriteRefusal::of)?;
        let (new, touched, mut more) = (work.text, work.touched, work.rewritten);
        let next = parse(FILE_NAME, &new).map_err(wrong)?.project;
        let touched: Vec<&str> = touched.iter().map(String::as_str).collect();
        if !only_these_changed(&text, &new, &touched) || !is_done(edit, &project, &next) {
            return Err(WriteRefusal::of(by_hand(&concerns(edit))));
        }
        (text, project) = (new, next);
        if let Edit::AddSpot { like, distance_m, .. } = edit {
            let far =
                distance_m.unwrap_or(project.spots.get(*like).map_or(0.0, |s| s.distance_m) + FARTHER_M);
            let change = Change {
                key: format!("spot[{}].distance", like + 1),
                value_si: far,
            };
            let done = with_values(&text, &[change])?;
            (text, project) = (done.text, done.project);
        }
        rewritten.append(&mut more);
    }
    Ok(Edited {
        text: format!("{mark}{text}"),
        rewritten,
        project,
    })
}

/// Did the spots become what they should?
fn is_done(edit: &Edit, before: &Project, after: &Project) -> bool {
    let mut wanted = before.spots.clone();
    match edit {
        Edit::AddSpot { like, .. } => {
            let (Some(old), Some(new)) = (before.spots.get(*like), after.spots.get(like + 1)) else {
                return false;
            };
            let mut copy = old.clone();
            copy.name.clone_from(&new.name);
            wanted.insert(like + 1, copy);
        }
        Edit::RemoveSpot { spot } => {
            wanted.remove(*spot);
        }
        Edit::Word { key, word } => match Key::parse(key).filter(|k| k.pattern == "spot[].name") {
            Some(k) => {
                if let Some(s) = wanted.get_mut(k.index) {
                    s.name.clone_from(word);
                }
            }
            None => return true,
        },
        _ => {}
    }
    wanted == after.spots
}

pub(super) fn by_hand(key: &str) -> Finding {
    Finding::new(
        "not-written",
        key.trim_end_matches(['.', '[']),
        "the file is laid out in a way in which this cannot be changed safely",
        "change it in the text (room Book, or any editor): each table below a head of its own, one key a line",
    )
}

pub(super) fn not_there(key: &str) -> Finding {
    Finding::new(
        "not-here",
        key,
        format!("`{key}` does not stand in the file"),
        "look at the file as it is now, then do it again",
    )
}

/// A text with an edit in progress.
pub(super) struct Work<'a> {
    pub text: String,
    pub project: &'a Project,
    /// What may differ afterwards.
    pub touched: Vec<String>,
    pub rewritten: Vec<Rewritten>,
}

impl Work<'_> {
    fn apply(&mut self, edit: &Edit) -> Result<(), Finding> {
        match edit {
            Edit::Value(_) => Ok(()),
            Edit::Word { key, word } => self.word(key, word),
            Edit::Flag { key, yes } => self.flag(key, *yes),
            Edit::AddTable { table, values, flags } => self.add_table(table, values, flags),
            Edit::RetireTable { table } => self.retire_table(table),
            Edit::Unset { key } => self.unset(key),
            Edit::AddSpot { like, name, .. } => self.add_spot(*like, name.as_deref()),
            Edit::RemoveSpot { spot } => self.remove_spot(*spot),
            Edit::Piece { kind } => self.piece(usual_piece(kind)?),
            Edit::Target { kind } => self.target(usual_target(kind)?),
            Edit::Table { table } => self.begin_table(table),
        }
    }

    pub(super) fn look(&self, key: &str) -> Result<Walked, Finding> {
        look(&self.text).ok_or_else(|| by_hand(key))
    }

    pub(super) fn line_break(&self) -> &'static str {
        line_break(&self.text)
    }

    /// A text or word, where it stands or as a new line.
    pub(super) fn word(&mut self, key: &str, word: &str) -> Result<(), Finding> {
        let parsed = Key::parse(key);
        let entry = parsed.as_ref().and_then(|k| schema::entry(&k.pattern));
        let (Some(parsed), Some(entry)) = (parsed, entry) else {
            return Err(Finding::new(
                "unknown-key",
                key,
                format!("no key is called `{key}`"),
                "docs/project-file.md lists them",
            ));
        };
        if !matches!(entry.kind, Kind::Text(_) | Kind::Choice(..)) {
            return Err(Finding::new(
                "wrong-type",
                key,
                format!("`{key}` is not a text"),
                "send a value with its unit",
            ));
        }
        let plain: String = word
            .trim()
            .chars()
            .map(|c| if c.is_control() { ' ' } else { c })
            .collect();
        let token = quoted(&plain);
        revive(&mut self.text, key);
        let walked = self.look(key)?;
        let before = walked.places.value(key);
        let raw = before.clone().and_then(|b| Some(self.text.get(b)?.to_string()));
        match before {
            Some(bytes) => replace(&mut self.text, bytes, &token),
            // At the top of the file, below the name.
            None if entry.table().is_empty() => {
                let name = self.lines(&walked, "name")?;
                let passage = format!("{}{} = {token}", self.line_break(), entry.name());
                self.text.insert_str(name.end, &passage);
            }
            None => {
                let (at, passage) =
                    added(&self.text, &walked, entry, parsed.index, &token).ok_or_else(|| by_hand(key))?;
                self.text.insert_str(at, &passage);
            }
        }
        self.rewritten.push(Rewritten {
            key: key.to_string(),
            before: raw,
            after: token,
        });
        self.follow(entry, parsed.index, &plain)
    }

    /// What a word of the frame brings with it: keys of its table that do not go with it become remarks; those that were
    /// remarks come back; those that it asks for are written with the example of the schema.
    fn follow(&mut self, chosen: &'static schema::Entry, index: usize, word: &str) -> Result<(), Finding> {
        let Kind::Choice(_, set) = chosen.kind else {
            return Ok(());
        };
        let mut after = self.project.clone();
        if !chosen.table().starts_with("frame") || !set(&mut after, index, word) {
            return Ok(());
        }
        let beside = schema::entries().filter(|e| e.table() == chosen.table());
        for entry in beside.filter(|e| e.when.holds(&after, index) != e.when.holds(self.project, index)) {
            let key = with_index(entry.key, index);
            self.touched.push(key.clone());
            let is_there = self.look(&key)?.places.whole(&key).is_some();
            if !entry.when.holds(&after, index) {
                if is_there {
                    self.unset(&key)?;
                }
            } else if !is_there
                && !revive(&mut self.text, &key)
                && matches!(entry.need, schema::Need::Required)
            {
                let walked = self.look(&key)?;
                let (at, passage) =
                    added(&self.text, &walked, entry, index, entry.example).ok_or_else(|| by_hand(&key))?;
                self.text.insert_str(at, &passage);
                self.rewritten.push(Rewritten {
                    key,
                    before: None,
                    after: entry.example.to_string(),
                });
            }
        }
        Ok(())
    }

    /// Whole lines of a key that has them for itself.
    pub(super) fn lines(&self, walked: &Walked, key: &str) -> Result<Range<usize>, Finding> {
        let (Some(name), Some(whole)) = (walked.places.name(key), walked.places.whole(key)) else {
            return Err(not_there(key));
        };
        let (start, end) = (
            line_start(&self.text, name.start),
            line_end(&self.text, whole.end),
        );
        let is_blank = |t: &str| t.trim().is_empty();
        let lead = self.text.get(start..name.start).unwrap_or("x");
        let rest = self.text.get(whole.end..end).unwrap_or("x").trim_start();
        if is_blank(lead) && (is_blank(rest) || rest.starts_with('#')) {
            Ok(start..end)
        } else {
            Err(by_hand(key))
        }
    }

    pub(super) fn unset(&mut self, key: &str) -> Result<(), Finding> {
        let walked = self.look(key)?;
        let lines = self.lines(&walked, key)?;
        let raw = walked
            .places
            .whole(key)
            .and_then(|b| self.text.get(b))
            .map(str::to_string);
        self.retire(lines, OUT);
        self.rewritten.push(Rewritten {
            key: key.to_string(),
            before: raw,
            after: String::new(),
        });
        Ok(())
    }

    /// Lines become remarks.
    pub(super) fn retire(&mut self, lines: Range<usize>, mark: &str) {
        let old = self.text.get(lines.clone()).unwrap_or("").to_string();
        let new: Vec<String> = old
            .split('\n')
            .map(|line| {
                let lead = line.len() - line.trim_start_matches([' ', '\t']).len();
                let (blank, code) = line.split_at(lead);
                format!("{blank}{mark}{code}")
            })
            .collect();
        self.text.replace_range(lines, &new.join("\n"));
    }

    /// Lines go, with their line break.
    pub(super) fn drop_lines(&mut self, lines: Range<usize>) {
        let mut end = lines.end;
        for mark in ["\r", "\n"] {
            if self.text.get(end..).is_some_and(|t| t.starts_with(mark)) {
                end += mark.len();
            }
        }
        self.text.replace_range(lines.start..end, "");
    }

    /// Keys of a spot as they stand: name and bytes of the value.
    fn spot_keys(&self, walked: &Walked, spot: usize) -> Vec<(&'static str, Range<usize>)> {
        let mut keys: Vec<(&'static str, Range<usize>)> = schema::entries()
            .filter(|e| e.table() == "spot[]")
            .filter_map(|e| Some((e.name(), walked.places.whole(&with_index(e.key, spot))?)))
            .collect();
        keys.sort_by_key(|(_, bytes)| bytes.start);
        keys
    }

    /// Head of a spot that stands on a line of its own.
    fn spot_head(&self, walked: &Walked, spot: usize) -> Result<Range<usize>, Finding> {
        let path = format!("spot[{spot}]");
        let head = walked.places.table(&path).ok_or_else(|| not_there(&path))?;
        let is_own = self.text.get(head.clone()).is_some_and(|t| t.starts_with("[["));
        if is_own { Ok(head) } else { Err(by_hand(&path)) }
    }

    fn add_spot(&mut self, like: usize, name: Option<&str>) -> Result<(), Finding> {
        let key = format!("spot[{like}]");
        let walked = self.look(&key)?;
        self.spot_head(&walked, like)?;
        let free = |n: &usize| !self.project.spots.iter().any(|s| s.name == format!("spot {n}"));
        let own = name.map(str::trim).filter(|n| !n.is_empty()).map(str::to_string);
        let name = own.unwrap_or_else(|| {
            let first = self.project.spots.len() + 1;
            format!("spot {}", (first..).find(free).unwrap_or(first))
        });
        let plain: String = name
            .chars()
            .map(|c| if c.is_control() { ' ' } else { c })
            .collect();
        let nl = self.line_break();
        let mut block = format!("{nl}{nl}[[spot]]");
        for (name, bytes) in self.spot_keys(&walked, like) {
            let token = match name {
                "name" => quoted(&plain),
                _ => self.text.get(bytes).ok_or_else(|| by_hand(&key))?.to_string(),
            };
            block.push_str(&format!("{nl}{name} = {token}"));
        }
        let at = self.spot_end(&walked, like)?;
        self.text.insert_str(at, &block);
        self.rewritten.push(Rewritten {
            key: format!("spot[{}].name", like + 1),
            before: None,
            after: quoted(&plain),
        });
        Ok(())
    }

    /// End of a spot: of its last key with the remarks that follow at once.
    fn spot_end(&self, walked: &Walked, spot: usize) -> Result<usize, Finding> {
        let head = self.spot_head(walked, spot)?;
        let last = self
            .spot_keys(walked, spot)
            .last()
            .map_or(head.end, |(_, bytes)| bytes.end);
        let mut at = line_end(&self.text, last.max(head.end));
        while let Some(next) = self
            .text
            .get(at..)
            .and_then(|t| t.trim_start_matches('\r').strip_prefix('\n'))
            .filter(|next| next.trim_start_matches([' ', '\t']).starts_with('#'))
        {
            at = line_end(&self.text, self.text.len() - next.len());
        }
        Ok(at)
    }

    fn remove_spot(&mut self, spot: usize) -> Result<(), Finding> {
        let key = format!("spot[{spot}]");
        let walked = self.look(&key)?;
        let head = self.spot_head(&walked, spot)?;
        let end = self.spot_end(&walked, spot)?;
        let name = self.project.spots.get(spot).map(|s| quoted(&s.name));
        // What is said beside the first head is said of all of them.
        let beside = self
            .text
            .get(head.end..line_end(&self.text, head.end))
            .unwrap_or("")
            .to_string();
        let mut start = line_start(&self.text, head.start);
        let above = |text: &str, start: usize| {
            let line = line_start(text, start.checked_sub(1)?);
            Some((line, text.get(line..start)?.trim().to_string()))
        };
        while let Some((line, words)) = above(&self.text, start) {
            // Remarks right above the first may be about all of them and stay.
            let goes = words.is_empty() || (spot > 0 && words.starts_with('#'));
            if !goes {
                break;
            }
            start = line;
            if words.is_empty() {
                // One run of blank lines, not the remarks beyond it.
                while let Some((line, words)) = above(&self.text, start) {
                    if !words.is_empty() {
                        break;
                    }
                    start = line;
                }
                break;
            }
        }
        // The break before the passage goes with it, so that what follows stands as it stood.
        let from = self
            .text
            .get(..start)
            .map_or(start, |t| t.trim_end_matches(['\n', '\r']).len());
        let is_top = from == 0;
        if is_top {
            self.drop_lines(0..end);
        } else {
            self.text.replace_range(from..end, "");
        }
        if spot == 0
            && beside.trim_start().starts_with('#')
            && let Ok(next) = self.look(&key).and_then(|w| self.spot_head(&w, 0))
        {
            let has_own = line_end(&self.text, next.end) > next.end;
            if !has_own {
                self.text.insert_str(next.end, &beside);
            }
        }
        self.rewritten.push(Rewritten {
            key,
            before: name,
            after: String::new(),
        });
        Ok(())
    }
}

/// Makes a line that was taken out, and stands as a remark in its table, one of the file again; false if there is none.
pub(super) fn revive(text: &mut String, key: &str) -> bool {
    let Some(parsed) = Key::parse(key) else {
        return false;
    };
    let Some(entry) = schema::entry(&parsed.pattern) else {
        return false;
    };
    let Some(walked) = look(text).filter(|w| w.places.whole(key).is_none()) else {
        return false;
    };
    let from = match entry.table() {
        "" => 0,
        table => match walked.places.table(&with_index(table, parsed.index)) {
            Some(head) => line_end(text, head.end),
            None => return false,
        },
    };
    let mut at = from;
    let mut found = None;
    for line in text.get(from..).unwrap_or("").split_inclusive('\n') {
        let code = line.trim_start_matches([' ', '\t']);
        if code.starts_with('[') {
            break;
        }
        let is_it = code.strip_prefix(OUT).is_some_and(|code| {
            let rest = code.strip_prefix(entry.name()).unwrap_or("");
            rest.trim_start().starts_with('=') && DeTable::parse(code.trim_end()).is_ok()
        });
        if is_it {
            found = Some(at + line.len() - code.len());
        }
        at += line.len();
    }
    let Some(at) = found else { return false };
    let mut new = text.clone();
    new.replace_range(at..at + OUT.len(), "");
    if look(&new).is_some_and(|w| w.places.value(key).is_some() && w.problems.is_empty()) {
        *text = new;
        return true;
    }
    false
}
