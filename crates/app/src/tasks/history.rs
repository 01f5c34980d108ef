//! What a project was before: every state of its file with a reason, in `history.jsonl` beside it. Lines are only ever added.

use std::collections::VecDeque;
use std::fs::{self, File, OpenOptions};
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use arcwright_model::aim::SpotAim;
use arcwright_model::finding::Finding;
use arcwright_model::limits::{self, Amount, Status};
use serde_json::{Value, json};

use super::floor::time;
use crate::project::{self, FILE_NAME as PROJECT_NAME, Rewritten, WriteRefusal, flat, replace_file};
use crate::store::{self, KeptFit};

/// Name of the history, beside the project file.
pub const FILE_NAME: &str = "history.jsonl";
/// What the lines mean; rises when they come to mean something else.
const FORMAT: u64 = 1;
/// Reason of the first state, where a change was the first thing seen of a project.
const BEFORE: &str = "as it was before";

/// A state of the project.
#[derive(Clone, Debug, PartialEq)]
pub struct State {
    /// From 1, in the order in which they were kept.
    pub number: usize,
    /// When it was kept, milliseconds UTC.
    pub utc_ms: i64,
    /// Version of the program that kept it.
    pub tool: String,
    /// Why; empty where nobody said.
    pub reason: String,
    /// The project file.
    pub text: String,
}

/// All states of a project.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct History {
    /// In order.
    pub states: Vec<State>,
    /// Lines that cannot be read, from 1.
    pub damaged: Vec<usize>,
}

impl History {
    /// The state with a number.
    ///
    /// # Errors
    /// `no-such-state`.
    pub fn state(&self, number: usize) -> Result<&State, Finding> {
        let found = number.checked_sub(1).and_then(|i| self.states.get(i));
        found.ok_or_else(|| {
            Finding::new(
                "no-such-state",
                number.to_string(),
                match self.states.len() {
                    0 => "no state of this project was kept yet".to_string(),
                    n => format!("there is no state {number}: they go from 1 to {n}"),
                },
                "`arcwright history` lists them",
            )
        })
    }
}

/// What became of a wish to keep a state.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kept {
    /// A new state, with its number.
    New(usize),
    /// Nothing has changed since the state with this number; the reason, if one was given, is now its reason.
    Same(usize),
}

fn beside(file: &Path) -> PathBuf {
    file.with_file_name(FILE_NAME)
}

fn trouble(path: &Path, e: &std::io::Error) -> Finding {
    Finding::new(
        "history-unusable",
        path.display().to_string(),
        format!("the history cannot be read or written: {e}"),
        "give yourself the right to read and write it, or make room on the disk; the project file itself is not touched",
    )
}

/// The history of the project with this file; empty where none was kept.
///
/// # Errors
/// `history-unusable`, `newer-history`.
pub fn read(file: &Path) -> Result<History, Finding> {
    let path = beside(file);
    let text = match fs::read_to_string(&path) {
        Ok(text) => text,
        Err(e) if e.kind() == ErrorKind::NotFound => return Ok(History::default()),
        Err(e) => return Err(trouble(&path, &e)),
    };
    let mut all = History::default();
    for (i, line) in text.lines().enumerate().filter(|(_, l)| !l.trim().is_empty()) {
        let Ok(said) = serde_json::from_str::<Value>(line) else {
            all.damaged.push(i + 1);
            continue;
        };
        if said["format"].as_u64().is_some_and(|f| f > FORMAT) {
            return Err(Finding::new(
                "newer-history",
                path.display().to_string(),
                format!("line {} was written by a newer program", i + 1),
                "use that version of the program, or a newer one",
            ));
        }
        let (reason, utc_ms) = (said["reason"].as_str(), said["utc_ms"].as_i64());
        let about = said["about"].as_u64().and_then(|n| (n as usize).checked_sub(1));
        match (reason, utc_ms, said["text"].as_str(), about) {
            (Some(reason), Some(utc_ms), Some(text), None) => all.states.push(State {
                number: all.states.len() + 1,
                utc_ms,
                tool: said["tool"].as_str().unwrap_or("").to_string(),
                reason: reason.to_string(),
                text: text.to_string(),
            }),
            (Some(reason), _, None, Some(i)) if i < all.states.len() => {
                if let Some(state) = all.states.get_mut(i) {
                    state.reason = reason.to_string();
                }
            }
            _ => all.damaged.push(i + 1),
        }
    }
    Ok(all)
}

/// Adds a line, on the disk before it counts as kept. A last line that was torn off by a power cut is closed first.
fn add(path: &Path, line: &Value) -> Result<(), Finding> {
    let work = || -> std::io::Result<()> {
        let torn = match fs::read(path) {
            Ok(bytes) => bytes.last().is_some_and(|b| *b != b'\n'),
            Err(e) if e.kind() == ErrorKind::NotFound => false,
            Err(e) => return Err(e),
        };
        let mut file: File = OpenOptions::new().create(true).append(true).open(path)?;
        let line = format!("{}{line}\n", if torn { "\n" } else { "" });
        file.write_all(line.as_bytes())?;
        file.sync_all()
    };
    work().map_err(|e| trouble(path, &e))
}

/// A reason as it is kept: one line, and nothing in it that steers a terminal.
pub fn one_line(reason: &str) -> String {
    let parts = reason.split(|c: char| c.is_whitespace() || c.is_control());
    parts.filter(|p| !p.is_empty()).collect::<Vec<_>>().join(" ")
}

/// Keeps a state because somebody gives the reason for it.
///
/// # Errors
/// `no-reason`; else those of [`keep`].
pub fn because(file: &Path, text: &str, reason: &str) -> Result<Kept, Finding> {
    if one_line(reason).is_empty() {
        return Err(Finding::new(
            "no-reason",
            "reason",
            "the reason is empty",
            "say in a few words why the project was changed",
        ));
    }
    keep(file, text, reason)
}

/// What is said where a demo is asked for its history.
pub fn demo_has_none() -> Finding {
    Finding::new(
        "no-history",
        "project",
        "a demo has no history",
        "make a project of it first: `arcwright new my-thrower`, or keep it as a project on the page",
    )
}

/// Keeps a state of a project, with the reason why it is so.
///
/// # Errors
/// `history-unusable`, `newer-history`.
pub fn keep(file: &Path, text: &str, reason: &str) -> Result<Kept, Finding> {
    let all = read(file)?;
    let path = beside(file);
    let reason = one_line(reason);
    let now = time::now_ms();
    if let Some(last) = all.states.last().filter(|s| s.text == text) {
        if !reason.is_empty() {
            add(
                &path,
                &json!({ "format": FORMAT, "utc_ms": now, "about": last.number, "reason": reason }),
            )?;
        }
        return Ok(Kept::Same(last.number));
    }
    add(
        &path,
        &json!({ "format": FORMAT, "utc_ms": now, "tool": env!("CARGO_PKG_VERSION"), "reason": reason, "text": text }),
    )?;
    Ok(Kept::New(all.states.len() + 1))
}

/// Notes a change of the project file that has been made, with the state before where that was not kept yet. What cannot be
/// noted stands in the file all the same, and is shown as not kept until it is.
pub fn note(file: &Path, old: &str, new: &str, reason: &str) {
    let first = match read(file) {
        Ok(all) => all.states.last().is_none_or(|s| s.text != old),
        Err(_) => return,
    };
    let before = if first {
        keep(file, old, BEFORE)
    } else {
        Ok(Kept::Same(0))
    };
    if before.is_ok() {
        // Not kept is told by whoever reads the history next.
        let _ = keep(file, new, reason);
    }
}

/// Keeps a state that someone else has written into the file, where a history is kept already.
///
/// # Errors
/// `history-unusable`, `newer-history`.
pub fn notice(file: &Path, text: &str) -> Result<(), Finding> {
    let all = read(file)?;
    if all.states.last().is_some_and(|s| s.text != text) {
        keep(file, text, "")?;
    }
    Ok(())
}

/// Puts a new text in place of a project file, as [`replace_file`] does, and notes the change.
///
/// # Errors
/// Those of [`replace_file`]; nothing is noted then.
pub fn rewrite(file: &Path, old: &str, new: &str, reason: &str) -> Result<(), WriteRefusal> {
    replace_file(file, old, new)?;
    let file = if file.is_dir() {
        file.join(PROJECT_NAME)
    } else {
        file.to_path_buf()
    };
    note(&file, old, new, reason);
    Ok(())
}

/// A reason for a change from what was rewritten: `launcher.gap from "96 mm" to "94 mm"`.
pub fn reason_of(who: &str, rewritten: &[Rewritten]) -> String {
    /// Most changes that are named in a line.
    const MOST: usize = 3;
    let mut parts: Vec<String> = rewritten
        .iter()
        .take(MOST)
        .map(|r| match &r.before {
            Some(before) => format!("{} from {before} to {}", r.key, r.after),
            None => format!("{} set to {}", r.key, r.after),
        })
        .collect();
    if rewritten.len() > MOST {
        parts.push(format!("{} more", rewritten.len() - MOST));
    }
    if parts.is_empty() {
        who.to_string()
    } else {
        format!("{who}: {}", parts.join(", "))
    }
}

/// One value that differs between two states.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Difference {
    /// Its key; what stands in a list goes by its name, `spot "far".distance`, so that a new one before it moves nothing.
    pub key: String,
    /// What it was; `None` where it was not written.
    pub before: Option<String>,
    /// What it is.
    pub after: Option<String>,
}

/// Keys and values with the places of lists in words.
fn named(text: &str) -> Vec<(String, String)> {
    let all = flat(text).unwrap_or_default();
    let named = |place: &str| {
        let name = format!("{place}.name");
        all.iter().find(|(k, _)| *k == name).map(|(_, v)| v.clone())
    };
    all.iter()
        .map(|(key, value)| {
            let mut key = key.clone();
            if let Some((list, rest)) = key.split_once('[')
                && let Some((place, tail)) = rest.split_once(']')
                && let Some(name) = named(&format!("{list}[{place}]"))
            {
                key = format!("{list} \"{name}\"{tail}");
            }
            (key, value.clone())
        })
        .collect()
}

/// What differs between two texts, in the order of the second; what is gone comes last.
pub fn differences(before: &str, after: &str) -> Vec<Difference> {
    let (old, new) = (named(before), named(after));
    let find =
        |all: &[(String, String)], key: &str| all.iter().find(|(k, _)| k == key).map(|(_, v)| v.clone());
    let changed = new.iter().filter_map(|(key, value)| {
        let before = find(&old, key);
        (before.as_ref() != Some(value)).then(|| Difference {
            key: key.clone(),
            before,
            after: Some(value.clone()),
        })
    });
    let gone = old.iter().filter(|(key, _)| find(&new, key).is_none());
    changed
        .chain(gone.map(|(key, value)| Difference {
            key: key.clone(),
            before: Some(value.clone()),
            after: None,
        }))
        .collect()
}

/// What a change did to one verdict.
#[derive(Clone, Debug, PartialEq)]
pub struct Turn {
    /// Id of the check.
    pub check: &'static str,
    /// What it is about; empty for the whole machine.
    pub subject: String,
    /// How it ended before and after, with the margin; `None` where the check did not apply.
    pub ends: [Option<(Status, Option<Amount>)>; 2],
}

/// Two states side by side, both judged by this program, as designed.
#[derive(Clone, Debug, PartialEq)]
pub struct Compared {
    /// Values that differ.
    pub differences: Vec<Difference>,
    /// Verdicts that ended otherwise, the worst end first.
    pub turned: Vec<Turn>,
    /// Verdicts that ended the same with another margin.
    pub moved: Vec<Turn>,
    /// Setpoints by spot, before and after.
    pub setpoints: Vec<(String, [Option<f64>; 2])>,
    /// Why a state cannot be judged: what this program finds wrong with its text.
    pub unjudged: [Option<String>; 2],
}

/// A state as this program judges it, as designed.
#[derive(Clone, Debug, Default)]
pub struct Judged {
    verdicts: Vec<limits::Verdict>,
    setpoints: Vec<(String, Option<f64>)>,
    unjudged: Option<String>,
}

/// Texts that were judged last, newest first: a failing design takes seconds, and the page asks again with every change.
static LATELY: Mutex<VecDeque<(String, Judged)>> = Mutex::new(VecDeque::new());

/// Judges the text of a state.
pub fn judge(text: &str) -> Judged {
    /// Physical: more than are listed at a time, and little memory.
    const MOST_KEPT: usize = 100;
    // What is held is whole at any moment.
    let lately = || LATELY.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some((_, known)) = lately().iter().find(|(t, _)| t == text) {
        return known.clone();
    }
    let judged = judge_afresh(text);
    let mut all = lately();
    all.push_front((text.to_string(), judged.clone()));
    all.truncate(MOST_KEPT);
    judged
}

fn judge_afresh(text: &str) -> Judged {
    match project::parse(PROJECT_NAME, text) {
        Ok(loaded) => {
            let report = limits::check(&loaded.project);
            let speed = |a: &SpotAim| (a.spot.name.clone(), a.best().map(|s| s.wheel_radps));
            Judged {
                setpoints: report.aims.iter().map(speed).collect(),
                verdicts: report.verdicts,
                unjudged: None,
            }
        }
        Err(problems) => Judged {
            unjudged: Some(problems.first().map_or(String::new(), |p| p.finding.what.clone())),
            ..Judged::default()
        },
    }
}

/// Compares two texts of a project.
pub fn compare(before: &str, after: &str) -> Compared {
    compare_judged([before, after], [&judge(before), &judge(after)])
}

/// Compares two texts that were judged before.
pub fn compare_judged([before, after]: [&str; 2], judged: [&Judged; 2]) -> Compared {
    let unjudged = judged.map(|j| j.unjudged.clone());
    let [old, new] = judged.map(|j| &j.verdicts);
    let end = |all: &[limits::Verdict], check: &str, subject: &str| {
        all.iter()
            .find(|v| v.check == check && v.subject == subject)
            .map(|v| (v.status, v.margin))
    };
    let mut keys: Vec<(&'static str, String)> = Vec::new();
    for v in new.iter().chain(old) {
        if !keys.iter().any(|(c, s)| *c == v.check && *s == v.subject) {
            keys.push((v.check, v.subject.clone()));
        }
    }
    let both = unjudged.iter().all(Option::is_none);
    let (mut turned, mut moved) = (Vec::new(), Vec::new());
    for (check, subject) in keys.into_iter().filter(|_| both) {
        let ends = [end(old, check, &subject), end(new, check, &subject)];
        let turn = Turn { check, subject, ends };
        if ends[0].map(|e| e.0) != ends[1].map(|e| e.0) {
            turned.push(turn);
        } else if ends[0] != ends[1] {
            moved.push(turn);
        }
    }
    turned.sort_by_key(|t| std::cmp::Reverse(t.ends[1].map(|e| e.0)));
    let [old, new] = judged.map(|j| &j.setpoints);
    let mut setpoints: Vec<(String, [Option<f64>; 2])> = Vec::new();
    for (spot, after) in new {
        let before = old.iter().find(|(s, _)| s == spot).and_then(|(_, v)| *v);
        setpoints.push((spot.clone(), [before, *after]));
    }
    for (spot, before) in old.iter().filter(|(s, _)| !new.iter().any(|(n, _)| n == s)) {
        setpoints.push((spot.clone(), [*before, None]));
    }
    Compared {
        differences: differences(before, after),
        turned,
        moved,
        setpoints,
        unjudged,
    }
}

/// Every fit that was kept in the log beside a project, oldest first; none where there is no log.
///
/// # Errors
/// A finding when the log cannot be read.
pub fn fits(file: &Path) -> Result<Vec<KeptFit>, Finding> {
    let log = file.with_file_name(store::FILE_NAME);
    if !log.exists() {
        return Ok(Vec::new());
    }
    store::open_to_read(&log)?.map_or(Ok(Vec::new()), |s| s.every_fit())
}

/// The history of a project as it is told: the newest states, what each change did, and the fits between them.
#[derive(Clone, Debug)]
pub struct Story {
    /// Every state.
    pub history: History,
    /// So many states at the beginning are not told.
    pub first: usize,
    /// For each state told: what differs from the one before; `None` for the very first.
    pub changes: Vec<Option<Compared>>,
    /// Every fit that was kept, oldest first.
    pub fits: Vec<KeptFit>,
    /// Is the project as in the newest state?
    pub is_kept: bool,
    /// Values that differ between the newest state and the project.
    pub unkept: Vec<Difference>,
}

/// Something that happened to a project.
#[derive(Clone, Copy, Debug)]
pub enum Event<'a> {
    /// A state was kept.
    State(&'a State, Option<&'a Compared>),
    /// A fit was kept.
    Fit(&'a KeptFit),
}

impl Story {
    /// States told and the fits since the first of them, by time.
    pub fn events(&self) -> Vec<Event<'_>> {
        let told = self.history.states.get(self.first..).unwrap_or_default();
        let since = told.first().map_or(i64::MIN, |s| s.utc_ms);
        let states = told.iter().zip(&self.changes);
        let mut all: Vec<(i64, Event<'_>)> = states
            .map(|(s, c)| (s.utc_ms, Event::State(s, c.as_ref())))
            .collect();
        let fits = self.fits.iter();
        let fits = fits.filter(|f| self.first == 0 || f.made_utc_ms >= since);
        all.extend(fits.map(|f| (f.made_utc_ms, Event::Fit(f))));
        all.sort_by_key(|(t, _)| *t);
        all.into_iter().map(|(_, e)| e).collect()
    }
}

/// Tells the history of the project with this file and text: the newest `last` states, at least one.
///
/// # Errors
/// `history-unusable`, `newer-history`, or a finding about the log.
pub fn story(file: &Path, text: &str, last: usize) -> Result<Story, Finding> {
    let history = read(file)?;
    let fits = fits(file)?;
    let first = history.states.len().saturating_sub(last.max(1));
    // With the one before, which the first one told is compared with.
    let states = history.states.get(first.saturating_sub(1)..).unwrap_or_default();
    let judged: Vec<Judged> = states.iter().map(|s| judge(&s.text)).collect();
    let pairs = states.windows(2).zip(judged.windows(2));
    let compared = pairs.filter_map(|(s, j)| match (s, j) {
        ([a, b], [x, y]) => Some(compare_judged([&a.text, &b.text], [x, y])),
        _ => None,
    });
    let opening = (first == 0 && !states.is_empty()).then_some(None);
    let changes = opening.into_iter().chain(compared.map(Some)).collect();
    let newest = history.states.last();
    Ok(Story {
        is_kept: newest.is_some_and(|s| s.text == text),
        unkept: newest.map(|s| differences(&s.text, text)).unwrap_or_default(),
        changes,
        first,
        fits,
        history,
    })
}

/// Two states of the project side by side; the project as it is now where `to` is not given.
///
/// # Errors
/// `no-such-state`, or those of [`read`].
pub fn compare_states(file: &Path, text: &str, from: usize, to: Option<usize>) -> Result<Compared, Finding> {
    let history = read(file)?;
    let from = history.state(from)?;
    let to = to.map(|n| history.state(n)).transpose()?;
    Ok(compare(&from.text, to.map_or(text, |s| s.text.as_str())))
}
