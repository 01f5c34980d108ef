//! The engineering notebook: everything the project knows, as blocks that become one HTML file and from it a PDF.
//!
//! Every number comes from the function that the terminal and JSON take it from. Nothing here reads the clock: the same
//! project, log, history and notes give the same bytes.

pub mod add;
mod design;
mod floor;
mod history;
pub mod html;
mod kept;
mod math;
pub mod notes;
mod photo;
pub mod print;
mod rest;

use std::path::Path;

use arcwright_model::finding::{Finding, nearest};
use arcwright_model::floor::Shot;
use arcwright_model::project::Project;
use arcwright_model::scatter::{SamplePlan, ScatterPlan, SpotReport, report};
use arcwright_model::volley_run::VolleyRun;

use super::aim::{Aimed, aimed};
use super::card::foot;
use super::floor::taught::{Learnt, Standing, learn};
use super::floor::time;
use super::history::{Story, story};
use super::tables::Table;
use super::volley;
use crate::project::{self, FILE_NAME, Problem};
use crate::store::{self, Logged, LoggedShot, NewestFit, Session};

pub use notes::{FOLDER as NOTES_FOLDER, Photo};

/// An equation with what its letters mean and where it is from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Equation {
    /// MathML, one element each.
    pub markup: Vec<String>,
    /// What the letters mean.
    pub legend: String,
    /// Sources in full.
    pub sources: Vec<String>,
}

/// A part of a section.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Block {
    /// A heading below that of the section.
    Heading(String),
    /// A paragraph.
    Text(String),
    /// A paragraph that is beside the point.
    Quiet(String),
    /// A list.
    List(Vec<String>),
    /// Names and what belongs to them.
    Pairs(Vec<[String; 2]>),
    /// A table with its caption.
    Table(String, Table),
    /// A picture (SVG) with its caption.
    Figure(String, String),
    /// A photo of the team.
    Photo(Photo),
    /// Equations.
    Equation(Equation),
    /// What a page does not break apart.
    Together(Vec<Block>),
}

/// A section.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Section {
    /// Its name in `--sections` and in the file.
    pub id: &'static str,
    /// Its heading.
    pub title: &'static str,
    /// What it holds.
    pub blocks: Vec<Block>,
}

/// The notebook.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Book {
    /// Name of the project.
    pub title: String,
    /// What the project is, in a line.
    pub about: String,
    /// State of the project: names and values.
    pub head: Vec<[String; 2]>,
    /// Which project and which program, for the foot of each page.
    pub foot: String,
    /// Its sections.
    pub sections: Vec<Section>,
    /// What took long and can be kept for the next one.
    pub fresh: Vec<kept::Fresh>,
}

impl Book {
    /// Keeps what took long beside the project, in `out/kept`.
    pub fn keep(&self) {
        self.fresh.iter().for_each(kept::Fresh::keep);
    }
}

/// A section that can be chosen.
pub struct Chapter {
    /// Its name.
    pub id: &'static str,
    /// Its heading.
    pub title: &'static str,
    make: fn(&Given<'_>) -> Vec<Block>,
    /// It takes long, and comes from the project and what was learned alone.
    is_long: bool,
}

const fn long(id: &'static str, title: &'static str, make: fn(&Given<'_>) -> Vec<Block>) -> Chapter {
    Chapter {
        id,
        title,
        make,
        is_long: true,
    }
}

const fn chapter(id: &'static str, title: &'static str, make: fn(&Given<'_>) -> Vec<Block>) -> Chapter {
    Chapter {
        id,
        title,
        make,
        is_long: false,
    }
}

/// Every section, in order. One without anything to say is left out of a notebook.
pub const CHAPTERS: &[Chapter] = &[
    chapter("brief", "The brief", design::brief),
    long("design", "Design choices", design::design),
    chapter("verdicts", "What holds and what does not", design::verdicts),
    long("pictures", "Pictures", design::pictures),
    chapter("calculations", "Calculations", design::calculations),
    long("feed", "Feed", rest::feed),
    chapter("frame", "Frame", rest::frame),
    long("season", "Season", rest::season),
    chapter("measured", "Predicted against measured", floor::measured),
    chapter("log", "Test log and fits", floor::log),
    chapter("drift", "Has it changed?", floor::drift),
    chapter("history", "What changed and why", history::history),
    chapter("decisions", "Decisions and alternatives", rest::decisions),
    chapter("notes", "Notes and photos", rest::notes),
    chapter("safety", "Safety", rest::safety),
    chapter("parts", "Parts", rest::parts),
    chapter("open", "Open questions", rest::open),
];

/// Which sections are wanted.
///
/// # Errors
/// `no-such-section`.
pub fn chosen(only: &[String], without: &[String]) -> Result<Vec<&'static Chapter>, Finding> {
    for name in only.iter().chain(without) {
        if !CHAPTERS.iter().any(|c| c.id == name) {
            let near = nearest(name, CHAPTERS.iter().map(|c| c.id))
                .map_or(String::new(), |n| format!("did you mean `{n}`? "));
            let all: Vec<&str> = CHAPTERS.iter().map(|c| c.id).collect();
            return Err(Finding::new(
                "no-such-section",
                "sections",
                format!("the notebook has no section called `{name}`"),
                format!("{near}the sections are {}", all.join(", ")),
            ));
        }
    }
    let has = |list: &[String], c: &Chapter| list.iter().any(|n| n == c.id);
    let all: Vec<&Chapter> = CHAPTERS
        .iter()
        .filter(|c| (only.is_empty() || has(only, c)) && !has(without, c))
        .collect();
    if all.is_empty() {
        return Err(Finding::new(
            "no-such-section",
            "sections",
            "no section is left",
            "ask for one at least",
        ));
    }
    Ok(all)
}

/// Where a notebook comes from.
#[derive(Clone, Debug, Default)]
pub struct From<'a> {
    /// The project file's text.
    pub text: &'a str,
    /// The project file; none for a demo, which has neither log nor notes.
    pub file: Option<&'a Path>,
}

/// What the log says.
struct Log {
    sessions: Vec<Session>,
    entries: Vec<Logged>,
    shots: Vec<LoggedShot>,
    newest: NewestFit,
    /// The fit of today's log, and why there is none.
    learnt: Result<Learnt, Finding>,
}

/// Everything the sections are made of.
struct Given<'a> {
    /// As written.
    design: Project,
    text: &'a str,
    /// What the reader of the file assumed.
    assumed: Vec<Problem>,
    /// The project to go by, and why.
    standing: Standing,
    aimed: Aimed,
    scatter: Option<Vec<SpotReport>>,
    /// As `volley` runs it where nothing is said.
    volley: Option<VolleyRun>,
    log: Option<Log>,
    history: Option<Story>,
    notes: Vec<notes::Note>,
}

impl Given<'_> {
    /// With what was learned, where something was.
    fn project(&self) -> &Project {
        &self.standing.project
    }

    fn learnt(&self) -> Option<&Learnt> {
        self.log.as_ref()?.learnt.as_ref().ok()
    }
}

fn read_log(project: &Project, path: &Path) -> Result<Option<Log>, Finding> {
    let Some(store) = store::open_to_read(path)? else {
        return Ok(None);
    };
    let entries = store.current()?;
    if entries.is_empty() {
        return Ok(None);
    }
    Ok(Some(Log {
        sessions: store.sessions()?,
        shots: store::shots(&store, project)?,
        newest: store.newest_fit()?,
        learnt: learn(project, path, false),
        entries,
    }))
}

/// Method: throws for the scatter and how well it is to be known, as `scatter` takes them where nothing is said.
pub const SCATTER: SamplePlan = SamplePlan {
    seed: 1,
    most_count: 65_536,
    until_frac: 1e-3,
};

/// Puts a notebook together.
///
/// # Errors
/// Everything that is wrong with the project file, the log, the history or the notes.
pub fn book(from: &From<'_>, chapters: &[&Chapter]) -> Result<Book, Vec<Finding>> {
    let loaded = project::parse(FILE_NAME, from.text)
        .map_err(|problems| problems.into_iter().map(|p| p.finding).collect::<Vec<_>>())?;
    let design = loaded.project;
    let beside = |name: &str| from.file.map(|f| f.with_file_name(name));
    let log_path = beside(store::FILE_NAME);
    let notes = match beside(notes::FOLDER) {
        Some(folder) => notes::read(&folder)?,
        None => Vec::new(),
    };
    let log = match &log_path {
        Some(path) => read_log(&design, path).map_err(|f| vec![f])?,
        None => None,
    };
    let standing = match &log_path {
        Some(path) => Standing::of(design.clone(), path),
        None => Standing::design(design.clone()),
    };
    let aimed = aimed(&standing.project, standing.learned.as_ref(), None);
    let wants = |ids: &[&str]| chapters.iter().any(|c| ids.contains(&c.id));
    let history = match from.file.filter(|_| wants(&["history"])) {
        Some(file) => Some(story(file, from.text, history::MOST_STATES).map_err(|f| vec![f])?),
        None => None,
    };
    let inputs = format!("{}\n{standing:?}", from.text);
    let shelf = from.file.and_then(|f| kept::Shelf::of(f, &inputs));
    let known: Vec<Option<Vec<Block>>> = (chapters.iter())
        .map(|c| shelf.as_ref().filter(|_| c.is_long)?.take(c.id))
        .collect();
    let missing = |id: &str| {
        chapters
            .iter()
            .zip(&known)
            .any(|(c, k)| c.id == id && k.is_none())
    };
    let scatter = (missing("design") || missing("pictures")).then(|| {
        let plan = ScatterPlan {
            sample: SCATTER,
            with_untested: true,
            with_budget: true,
            with_remedies: false,
        };
        report(&standing.project, &plan)
    });
    let given = Given {
        text: from.text,
        assumed: loaded.notes,
        aimed,
        scatter,
        volley: volley::volley(&standing.project, &volley::Plan::default()).ok(),
        log,
        history,
        notes,
        standing,
        design,
    };
    let mut fresh = Vec::new();
    let mut sections = Vec::new();
    for (c, known) in chapters.iter().zip(known) {
        let blocks = known.unwrap_or_else(|| {
            let made = (c.make)(&given);
            fresh.extend(
                shelf
                    .as_ref()
                    .filter(|_| c.is_long)
                    .and_then(|s| s.fresh(c.id, &made)),
            );
            made
        });
        if !blocks.is_empty() {
            sections.push(Section {
                id: c.id,
                title: c.title,
                blocks,
            });
        }
    }
    Ok(Book {
        title: given.design.name.clone(),
        about: given.design.brief_words(),
        head: head(&given),
        foot: foot(&given.design, from.text),
        sections,
        fresh,
    })
}

/// The state of the project; days only from its own data.
fn head(given: &Given<'_>) -> Vec<[String; 2]> {
    let pair = |a: &str, b: String| [a.to_string(), b];
    let rests = match given.standing.line.as_str() {
        "" => "the design alone, no test shots".to_string(),
        line => line.to_string(),
    };
    let mut rows = vec![
        pair("Numbers rest on", rests),
        pair(
            "Setting",
            given.project().setting_words(&given.project().machine.setting),
        ),
    ];
    let shots = given
        .log
        .iter()
        .flat_map(|l| &l.entries)
        .map(|e| time::day(e.thrown_utc_ms));
    let days = shots.chain(given.notes.iter().map(|n| n.day.clone()));
    if let Some(last) = days.max() {
        rows.push(pair("Last entry", last));
    }
    rows.push(pair(
        "Fingerprint of the project file",
        super::hand::fingerprint(given.text),
    ));
    rows.push(pair(
        "Made with",
        format!("arcwright {}", env!("CARGO_PKG_VERSION")),
    ));
    rows
}

/// The model's view of some shots.
fn views(shots: &[LoggedShot]) -> Vec<Shot> {
    super::floor::taught::views(shots)
}
