//! The project on the desk: what the page shows and edits, its history, and the file it came from.

use std::collections::{BTreeMap, HashMap};
use std::hash::{DefaultHasher, Hash, Hasher};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use arcwright_model::finding::Finding;
use arcwright_model::project::lower::Value;
use arcwright_model::project::schema::{self, Key};
use arcwright_model::project::{Project, get};
use arcwright_model::units;
use tokio::sync::watch;

use super::place::Place;
use crate::project::{self, Change, DEMOS, Edit, FILE_NAME, Level, Problem, Rewritten};
use crate::store;
use crate::tasks;
use crate::tasks::floor::rehearse;
use crate::tasks::floor::taught::Standing;
use crate::tasks::history;

/// Why something was not done.
#[derive(Debug)]
pub enum Refused {
    /// What was sent makes no sense.
    Wrong(Vec<Problem>),
    /// The project was changed by someone else in the meantime; the keys that are in conflict.
    Changed(Vec<String>),
    /// It is meant for another project than the one that is served here.
    Elsewhere,
    /// A newer request of the same kind has come.
    Stale,
}

impl From<Finding> for Refused {
    fn from(finding: Finding) -> Refused {
        Refused::Wrong(vec![Problem {
            finding,
            place: None,
            level: Level::Wrong,
        }])
    }
}

/// One value to be changed, as it was sent.
#[derive(Clone, Debug, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Wish {
    /// Dotted key.
    pub key: String,
    /// New value, SI.
    pub value: Option<f64>,
    /// New value as text with a unit, in place of `value`.
    pub text: Option<String>,
}

/// What the page is told about the project.
#[derive(Clone)]
pub struct View {
    /// Where it lies.
    pub place: Place,
    /// Its text.
    pub text: String,
    /// Fingerprint of the text.
    pub revision: String,
    /// The last project that could be read.
    pub project: Arc<Project>,
    /// What is wrong with the text now; empty when `project` is what the text says.
    pub problems: Vec<Problem>,
    /// What is worth knowing.
    pub notes: Vec<Problem>,
    /// Is there something to undo?
    pub can_undo: bool,
    /// Is there something to do again?
    pub can_redo: bool,
}

struct Held {
    place: Place,
    text: String,
    project: Arc<Project>,
    problems: Vec<Problem>,
    notes: Vec<Problem>,
    /// Texts before, the latest last.
    undo: Vec<String>,
    redo: Vec<String>,
    /// Folder of what does not outlive the program.
    passing: Option<PathBuf>,
    /// Texts by fingerprint, so that an edit made on an older one can be told apart from a conflict.
    known: HashMap<String, String>,
}

/// The project that is served, shared by everyone who looks at it.
pub struct Desk {
    held: Mutex<Held>,
    /// Rises with every change of project or log.
    news: watch::Sender<u64>,
    /// The newest number of each line of requests.
    newest: Mutex<HashMap<String, u64>>,
}

/// Physical: nobody undoes more steps than this in one sitting.
const MOST_STEPS: usize = 200;

/// Fingerprint of a text.
pub fn revision(text: &str) -> String {
    let mut hasher = DefaultHasher::new();
    text.hash(&mut hasher);
    format!("{:016x}", hasher.finish())
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    // What is held is replaced whole, so a panic of another thread leaves nothing half done.
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Desk {
    /// Puts a project on the desk: a file or folder, or a demo.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn open(place: Place) -> Result<Desk, Vec<Problem>> {
        let loaded = match &place {
            Place::File(path) => project::read(path)?,
            Place::Demo(name) => project::parse(name, demo_text(name))?,
        };
        Ok(Desk {
            held: Mutex::new(Held {
                place,
                known: HashMap::from([(revision(&loaded.text), loaded.text.clone())]),
                text: loaded.text,
                project: Arc::new(loaded.project),
                problems: Vec::new(),
                notes: loaded.notes,
                undo: Vec::new(),
                redo: Vec::new(),
                passing: None,
            }),
            news: watch::Sender::new(0),
            newest: Mutex::new(HashMap::new()),
        })
    }

    /// The project as it stands, after a look at the file.
    pub fn view(&self) -> View {
        let mut held = lock(&self.held);
        if held.look_again() {
            self.tell();
        }
        held.view()
    }

    /// The log of shots beside the project; a demo has none.
    ///
    /// # Errors
    /// `no-folder` for a demo.
    pub fn log_path(&self) -> Result<PathBuf, Finding> {
        match &lock(&self.held).place {
            Place::File(path) => Ok(path.with_file_name(store::FILE_NAME)),
            Place::Demo(_) => Err(Finding::new(
                "no-folder",
                "project",
                "a built-in demo has no folder, and the log of shots lies beside the project",
                "keep the demo as a project of your own first",
            )),
        }
    }

    /// The log of rehearsals: beside the project, or for a demo in a folder that goes when the program ends.
    ///
    /// # Errors
    /// A refusal of the system.
    pub fn rehearsal_path(&self) -> Result<PathBuf, Finding> {
        let mut held = lock(&self.held);
        let name = match &held.place {
            Place::File(path) => return Ok(path.with_file_name(rehearse::FILE_NAME)),
            Place::Demo(name) => *name,
        };
        let folder = match &held.passing {
            Some(folder) => folder.clone(),
            None => {
                let made = passing_folder()?;
                held.passing = Some(made.clone());
                made
            }
        };
        Ok(folder.join(format!("{name}-{}", rehearse::FILE_NAME)))
    }

    /// Is there a place for rehearsals already? A demo gets one only when a rehearsal begins.
    pub fn has_rehearsal_place(&self) -> bool {
        let held = lock(&self.held);
        matches!(held.place, Place::File(_)) || held.passing.is_some()
    }

    /// Removes what is not to outlive the program.
    pub fn clear(&self) {
        if let Some(folder) = lock(&self.held).passing.take() {
            let _ = std::fs::remove_dir_all(folder);
        }
    }

    /// A project with what the log beside the one on the desk taught.
    pub fn standing(&self, project: &Project) -> Standing {
        match self.log_path() {
            Ok(log) => Standing::of(project.clone(), &log),
            Err(_) => Standing::design(project.clone()),
        }
    }

    /// Listens for changes: the number rises with each.
    pub fn listen(&self) -> watch::Receiver<u64> {
        self.news.subscribe()
    }

    /// Says that something has changed.
    pub fn tell(&self) {
        self.news.send_modify(|n| *n += 1);
    }

    /// Marks a numbered request as the newest of its line.
    pub fn arrives(&self, line: &str, number: u64) {
        /// Physical: more browsers than this do not look at one project.
        const MOST_LINES: usize = 1000;
        let mut newest = lock(&self.newest);
        if newest.len() >= MOST_LINES && !newest.contains_key(line) {
            newest.clear();
        }
        let entry = newest.entry(line.to_string()).or_insert(number);
        *entry = (*entry).max(number);
    }

    /// Has a newer request of the same line come?
    pub fn is_stale(&self, line: &str, number: u64) -> bool {
        lock(&self.newest).get(line).is_some_and(|n| *n > number)
    }

    /// The project with wishes applied, without keeping them.
    ///
    /// # Errors
    /// What is wrong with them.
    pub fn with(&self, wishes: &[Wish]) -> Result<Arc<Project>, Refused> {
        let view = self.view();
        if wishes.is_empty() {
            return Ok(view.project);
        }
        let changes = changes(wishes)?;
        let edited = project::with_values(&view.text, &changes).map_err(|r| Refused::Wrong(r.problems))?;
        Ok(Arc::new(edited.project))
    }

    /// Writes wishes, then edits into the file. What was made on an older text goes on top of the newer one where
    /// nothing that it concerns was changed there; else the conflict is told.
    ///
    /// # Errors
    /// What is wrong with them, `Refused::Changed`, or a refusal of the system; the file is then as it was.
    pub fn edit(
        &self,
        wishes: &[Wish],
        edits: &[Edit],
        base: &str,
    ) -> Result<(View, Vec<Rewritten>), Refused> {
        let changes = changes(wishes)?;
        let mut held = lock(&self.held);
        held.look_again();
        if revision(&held.text) != base {
            let conflicts = held.conflicts(&changes, edits, base);
            if !conflicts.is_empty() {
                return Err(Refused::Changed(conflicts));
            }
        }
        let wrong = |r: project::WriteRefusal| Refused::Wrong(r.problems);
        let valued = project::with_values(&held.text, &changes).map_err(wrong)?;
        let edited = project::with_edits(&valued.text, edits).map_err(wrong)?;
        let rewritten = [valued.rewritten, edited.rewritten].concat();
        held.put(
            edited.text,
            History::New,
            &history::reason_of("on the page", &rewritten),
        )?;
        self.tell();
        Ok((held.view(), rewritten))
    }

    /// Puts a whole text in place of the one with the fingerprint `base`; the history tells `why`.
    ///
    /// # Errors
    /// What is wrong with the text, `Refused::Changed`, or a refusal of the system; the file is then as it was.
    pub fn put_text(&self, text: &str, base: &str, why: &str) -> Result<View, Refused> {
        let mut held = lock(&self.held);
        held.look_again();
        if revision(&held.text) != base {
            return Err(Refused::Changed(Vec::new()));
        }
        held.put(text.to_string(), History::New, why)?;
        self.tell();
        Ok(held.view())
    }

    /// Takes the last change of the text back, or does it again.
    ///
    /// # Errors
    /// `nothing-to-undo`, or a refusal of the system.
    pub fn step(&self, back: bool) -> Result<View, Refused> {
        let mut held = lock(&self.held);
        held.look_again();
        let from = if back { &held.undo } else { &held.redo };
        let Some(text) = from.last().cloned() else {
            return Err(Finding::new(
                "nothing-to-undo",
                "project",
                if back {
                    "there is nothing to undo"
                } else {
                    "there is nothing to do again"
                },
                "change something first",
            )
            .into());
        };
        let (how, why) = if back {
            (History::Back, "the last change taken back")
        } else {
            (History::Forth, "a change done again")
        };
        held.put(text, how, why)?;
        self.tell();
        Ok(held.view())
    }

    /// Puts another demo on the desk in place of one.
    ///
    /// # Errors
    /// `no-such-demo`, or `own-project` where a project of someone's own lies there.
    pub fn show_demo(&self, name: &str) -> Result<View, Refused> {
        let found = tasks::new::find_demo(name)?;
        let mut held = lock(&self.held);
        if let Place::File(path) = &held.place {
            return Err(Finding::new(
                "own-project",
                "demo",
                format!("`{}` lies on the desk", path.display()),
                "start the page again with --demo to look at a demo",
            )
            .into());
        }
        held.put(found.text.to_string(), History::New, "")?;
        held.forget();
        held.place = Place::Demo(found.name);
        self.tell();
        Ok(held.view())
    }

    /// Keeps the project on the desk as a new folder and goes on there.
    ///
    /// # Errors
    /// `already-there`, or a refusal of the system.
    pub fn keep(&self, folder: &Path) -> Result<View, Refused> {
        let mut held = lock(&self.held);
        let file = tasks::new::make_of(folder, &held.text)?;
        held.place = Place::File(file);
        self.tell();
        Ok(held.view())
    }
}

impl Desk {
    /// Begins a project in a folder with a text, and goes on there.
    ///
    /// # Errors
    /// What is wrong with the text, `own-project` where a project of someone's own lies on the desk, `already-there`,
    /// or a refusal of the system.
    pub fn begin(&self, folder: &Path, text: &str) -> Result<View, Refused> {
        let mut held = lock(&self.held);
        if let Place::File(path) = &held.place {
            return Err(Finding::new(
                "own-project",
                "folder",
                format!("`{}` lies on the desk", path.display()),
                "start the page in an empty folder to begin another project",
            )
            .into());
        }
        project::parse(FILE_NAME, text).map_err(Refused::Wrong)?;
        let file = tasks::new::make_of(folder, text)?;
        held.put(text.to_string(), History::New, "")?;
        held.forget();
        held.place = Place::File(file);
        self.tell();
        Ok(held.view())
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum History {
    New,
    Back,
    Forth,
}

impl Held {
    fn view(&self) -> View {
        View {
            place: self.place.clone(),
            text: self.text.clone(),
            revision: revision(&self.text),
            project: self.project.clone(),
            problems: self.problems.clone(),
            notes: self.notes.clone(),
            can_undo: !self.undo.is_empty(),
            can_redo: !self.redo.is_empty(),
        }
    }

    /// Reads the file where another program has changed it; true if it did.
    fn look_again(&mut self) -> bool {
        let Place::File(path) = self.place.clone() else {
            return false;
        };
        match project::read(&path) {
            Ok(loaded) if loaded.text != self.text => {
                self.remember(History::New);
                self.text = loaded.text;
                self.project = Arc::new(loaded.project);
                self.notes = loaded.notes;
                self.problems = Vec::new();
                self.learn_text();
                // What cannot be kept now is shown as not kept.
                let _ = history::notice(&path, &self.text);
                true
            }
            Ok(_) => !std::mem::take(&mut self.problems).is_empty(),
            Err(problems) => {
                let new = problems != self.problems;
                self.problems = problems;
                new
            }
        }
    }

    /// Another project: what was before is no step back from it.
    fn forget(&mut self) {
        self.undo.clear();
        self.redo.clear();
    }

    fn learn_text(&mut self) {
        if self.known.len() >= MOST_STEPS {
            self.known.clear();
        }
        self.known.insert(revision(&self.text), self.text.clone());
    }

    fn remember(&mut self, how: History) {
        let text = self.text.clone();
        match how {
            History::New => {
                self.undo.push(text);
                self.redo.clear();
            }
            History::Back => {
                self.undo.pop();
                self.redo.push(text);
            }
            History::Forth => {
                self.redo.pop();
                self.undo.push(text);
            }
        }
        if self.undo.len() > MOST_STEPS {
            self.undo.remove(0);
        }
    }

    /// Checks a text, writes it to the file if there is one, and goes on with it.
    fn put(&mut self, text: String, how: History, why: &str) -> Result<(), Refused> {
        let loaded = project::parse(FILE_NAME, &text).map_err(Refused::Wrong)?;
        if let Place::File(path) = &self.place {
            history::rewrite(path, &self.text, &text, why).map_err(|r| Refused::Wrong(r.problems))?;
        }
        self.remember(how);
        self.text = loaded.text;
        self.project = Arc::new(loaded.project);
        self.notes = loaded.notes;
        self.problems = Vec::new();
        self.learn_text();
        Ok(())
    }

    /// What changes and edits concern and someone else has changed since the text with the fingerprint `base`.
    fn conflicts(&self, changes: &[Change], edits: &[Edit], base: &str) -> Vec<String> {
        let named = |edit: &Edit| project::concerns(edit).trim_end_matches(['.', '[']).to_string();
        let values: Vec<Edit> = changes.iter().cloned().map(Edit::Value).collect();
        let all = || {
            let keys = changes.iter().map(|c| c.key.clone());
            keys.chain(edits.iter().map(named)).collect()
        };
        let Some(old_text) = self.known.get(base) else {
            return all();
        };
        let (Ok(old), Some(was), Some(is)) = (
            project::parse(FILE_NAME, old_text),
            project::written(old_text),
            project::written(&self.text),
        ) else {
            return all();
        };
        let differs = |edit: &Edit| {
            let what = project::concerns(edit);
            let is_part = |key: &str| key == what || (what.ends_with(['.', '[']) && key.starts_with(&what));
            let part = |all: &BTreeMap<String, Value>| -> Vec<(String, Value)> {
                let own = all.iter().filter(|(k, _)| is_part(k));
                own.map(|(k, v)| (k.clone(), v.clone())).collect()
            };
            part(&was) != part(&is)
        };
        let changed = changes.iter().zip(&values).filter(|(c, edit)| {
            // One of a list: a number says nothing where another has moved into its place.
            let is_listed = c.key.contains('[');
            get(&old.project, &c.key) != get(&self.project, &c.key) || (is_listed && differs(edit))
        });
        let keys = changed.map(|(c, _)| c.key.clone());
        keys.chain(edits.iter().filter(|e| differs(e)).map(named))
            .collect()
    }
}

/// A new folder for what does not outlive the program. That its name cannot be foreseen, and that it is new, keeps
/// another user of this machine from putting one there first.
pub fn passing_folder() -> Result<PathBuf, Finding> {
    let trouble = |what: String| {
        Finding::new(
            "no-folder",
            "rehearsal",
            format!("no passing folder can be made for the rehearsal: {what}"),
            "keep the demo as a project of your own first",
        )
    };
    let mut bytes = [0; 8];
    getrandom::fill(&mut bytes).map_err(|e| trouble(e.to_string()))?;
    let at = std::env::temp_dir().join(format!("arcwright-{:016x}", u64::from_le_bytes(bytes)));
    std::fs::create_dir(&at).map_err(|e| trouble(e.to_string()))?;
    Ok(at)
}

impl Drop for Desk {
    fn drop(&mut self) {
        self.clear();
    }
}

fn demo_text(name: &str) -> &'static str {
    DEMOS.iter().find(|d| d.name == name).map_or("", |d| d.text)
}

/// Wishes as changes in SI.
fn changes(wishes: &[Wish]) -> Result<Vec<Change>, Refused> {
    wishes
        .iter()
        .map(|w| {
            let finding =
                |code, what: String, fix: &str| Refused::from(Finding::new(code, &w.key, what, fix));
            let value_si = match (&w.value, &w.text) {
                (Some(v), None) => *v,
                (None, Some(text)) => {
                    let entry = Key::parse(&w.key).and_then(|k| schema::entry(&k.pattern));
                    let dimension = entry.and_then(|e| e.measure()).map(|(d, _)| d).ok_or_else(|| {
                        finding(
                            "unknown-key",
                            format!("`{}` is not a quantity", w.key),
                            "name a quantity, such as wheel.diameter",
                        )
                    })?;
                    units::parse(text, dimension).map_err(|e| finding(e.code, e.what, &e.fix))?
                }
                _ => {
                    return Err(finding(
                        "missing-key",
                        format!("`{}` needs either a value or a text", w.key),
                        "send one of the two",
                    ));
                }
            };
            Ok(Change {
                key: w.key.clone(),
                value_si,
            })
        })
        .collect()
}
