//! From a path or a text to a project.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use arcwright_model::finding::Finding;
use arcwright_model::flight::DragLaw;
use arcwright_model::project::Project;
use arcwright_model::project::lower::{Lowered, lower};
use arcwright_model::project::schema::{self, Key, Kind};
use arcwright_model::units::{Dimension, show};
use toml::de::DeTable;

use super::mend::{self, Mended};
use super::place::Place;
use super::problem::{Level, Problem};
use super::syntax;
use super::walk::{Places, Walked, walk};

/// Name of the project file in its folder.
pub const FILE_NAME: &str = "arcwright.toml";

/// A project that can be computed.
#[derive(Clone, Debug, PartialEq)]
pub struct Loaded {
    /// The project.
    pub project: Project,
    /// What is worth knowing about it.
    pub notes: Vec<Problem>,
    /// The file's text.
    pub text: String,
}

/// A larger file is no project. Physical: the demos have 5 kB.
const LARGEST_FILE_COUNT: u64 = 1 << 20;

/// Reads a project file, or the one in a folder.
///
/// # Errors
/// Everything that is wrong with it, at once.
pub fn read(path: &Path) -> Result<Loaded, Vec<Problem>> {
    let file = if path.is_dir() {
        path.join(FILE_NAME)
    } else {
        path.to_path_buf()
    };
    let name = file.display().to_string();
    let bytes = load(&file).map_err(|trouble| {
        vec![match trouble {
            Trouble::TooLarge(size) => too_large(&name, size),
            Trouble::Io(e) => unread(&name, &e),
        }]
    })?;
    let text = decode(&name, &bytes).map_err(|p| vec![*p])?;
    parse(&name, &text)
}

enum Trouble {
    TooLarge(u64),
    Io(std::io::Error),
}

fn load(file: &PathBuf) -> Result<Vec<u8>, Trouble> {
    let about = std::fs::metadata(file).map_err(Trouble::Io)?;
    if about.is_dir() {
        return Err(Trouble::Io(ErrorKind::IsADirectory.into()));
    }
    if about.len() > LARGEST_FILE_COUNT {
        return Err(Trouble::TooLarge(about.len()));
    }
    std::fs::read(file).map_err(Trouble::Io)
}

fn too_large(name: &str, size: u64) -> Problem {
    let what = format!("`{name}` has {size} bytes; a project file has less than {LARGEST_FILE_COUNT}");
    unplaced(
        "too-large",
        what,
        "give the path of an arcwright.toml".to_string(),
    )
}

/// Why a file could not be read, and what to do.
fn unread(name: &str, error: &std::io::Error) -> Problem {
    let (code, why, fix) = match error.kind() {
        ErrorKind::NotFound => (
            "no-file",
            "there is no such file".to_string(),
            "check the path, or make a project with `arcwright new NAME`",
        ),
        ErrorKind::PermissionDenied => (
            "no-permission",
            "this user may not read it".to_string(),
            "give yourself the right to read the file, or copy it to a folder of your own",
        ),
        ErrorKind::IsADirectory => (
            "is-folder",
            "it is a folder, not a file".to_string(),
            "move the folder away and put the project file in its place",
        ),
        _ => (
            "unreadable",
            error.to_string(),
            "check the path, that the disk is there, and that the file opens in a text editor",
        ),
    };
    unplaced(code, format!("could not read `{name}`: {why}"), fix.to_string())
}

fn unplaced(code: &'static str, what: String, fix: String) -> Problem {
    Problem {
        finding: Finding::new(code, "", what, fix),
        place: None,
        level: Level::Wrong,
    }
}

fn decode(name: &str, bytes: &[u8]) -> Result<String, Box<Problem>> {
    let wide = bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]);
    match std::str::from_utf8(bytes) {
        Ok(text) => Ok(text.to_string()),
        Err(e) => {
            let good = String::from_utf8_lossy(bytes.get(..e.valid_up_to()).unwrap_or(&[])).into_owned();
            let place = Place::of(name, &good, &(good.len()..good.len()));
            let what = if wide {
                "the file is saved as UTF-16".to_string()
            } else {
                format!("line {} holds a character that is not UTF-8", place.line)
            };
            Err(Box::new(Problem {
                finding: Finding::new("not-text", "", what, "save the file as UTF-8 in your text editor"),
                place: (!wide).then_some(place),
                level: Level::Wrong,
            }))
        }
    }
}

/// Reads the text of a project file; `name` is for the messages.
///
/// # Errors
/// Everything that is wrong with it, at once, in the order of the file.
pub fn parse(name: &str, text: &str) -> Result<Loaded, Vec<Problem>> {
    // A mark that some editors put before UTF-8.
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    if text.len() as u64 > LARGEST_FILE_COUNT {
        return Err(vec![too_large(name, text.len() as u64)]);
    }
    let is_blank = |line: &str| line.trim().is_empty() || line.trim_start().starts_with('#');
    if text.lines().all(is_blank) {
        return Err(vec![unplaced(
            "empty-file",
            format!("`{name}` has nothing in it"),
            "make a project to start from with `arcwright new NAME`".to_string(),
        )]);
    }
    let mended = mend::mend(name, text);
    let (document, errors) = DeTable::parse_recoverable(&mended.text);
    let syntax = syntax::problems(&mended, &errors);
    let walked = walk(&mended, document.get_ref());
    let lowered = lower(&walked.written);
    let mut problems = syntax.problems;
    let broken_lines: Vec<usize> = problems
        .iter()
        .filter_map(|p| p.place.as_ref())
        .map(|p| p.line)
        .collect();
    let found = lowered
        .findings
        .iter()
        .map(|f| placed(&mended, f, &walked.places));
    for problem in walked.problems.into_iter().chain(found) {
        let on_broken_line = problem
            .place
            .as_ref()
            .is_some_and(|p| broken_lines.contains(&p.line));
        // What stands behind a broken line was not read: that it is missing would be a second
        // complaint about one mistake.
        let echo = syntax.loses_lines && problem.finding.code.starts_with("missing");
        if !on_broken_line && !echo {
            problems.push(problem);
        }
    }
    problems.extend(mended.problems.iter().cloned());
    if let Some(newer) = problems.iter().find(|p| p.finding.code == "newer-format") {
        // What is wrong by this format may be right by that one.
        return Err(vec![newer.clone()]);
    }
    if problems.is_empty() {
        let notes = assumed(&lowered).into_iter().collect();
        return Ok(Loaded {
            project: lowered.project,
            notes,
            text: text.to_string(),
        });
    }
    problems.sort_by_key(|p| p.place.as_ref().map_or((usize::MAX, 0), |p| (p.line, p.column)));
    Err(problems)
}

/// What a text without a slip in its TOML says and where; `None` for any other.
pub(super) fn look(text: &str) -> Option<Walked> {
    let mended = mend::mend(FILE_NAME, text);
    let (document, errors) = DeTable::parse_recoverable(&mended.text);
    let is_sound = errors.is_empty() && mended.problems.is_empty();
    is_sound.then(|| walk(&mended, document.get_ref()))
}

/// Gives a finding the place of its key, of what stands in its place, or of its table.
fn placed(read: &Mended, finding: &Finding, places: &Places) -> Problem {
    let bytes = places.find(&finding.key, finding.code).or(match finding.code {
        // Where one would add it.
        "missing-table" => Some(read.text.len()..read.text.len()),
        "missing-key" => Some(0..0),
        _ => None,
    });
    Problem {
        finding: finding.clone(),
        place: bytes.map(|b| read.place(&b)),
        level: Level::Wrong,
    }
}

/// One note about everything that was assumed.
fn assumed(lowered: &Lowered) -> Option<Problem> {
    let project = &lowered.project;
    let texts: Vec<String> = lowered
        .assumed
        .iter()
        .filter_map(|key| {
            let entry = schema::entry(&Key::parse(key)?.pattern)?;
            let (dimension, scale) = entry.measure()?;
            let value = arcwright_model::project::get(project, key)?;
            let sd = project.spreads.get(key)?.sd();
            if matches!(
                (entry.kind, project.piece.drag.law),
                (Kind::Drag, DragLaw::CliftGauvin)
            ) {
                let share = show::text(sd, Dimension::Ratio, scale, project.units);
                return Some(format!("{key} \"smooth\" ± {share}"));
            }
            let say = |v| show::text(v, dimension, scale, project.units);
            Some(format!("{key} {} ± {}", say(value), say(sd)))
        })
        .collect();
    (!texts.is_empty()).then(|| Problem {
        finding: Finding::new(
            "assumed",
            "",
            format!("assumed, because the file does not say: {}", texts.join(", ")),
            "measure what you can and write it with its spread; until then the predictions stay wide"
                .to_string(),
        ),
        place: None,
        level: Level::Note,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The super user may read everything, so the case cannot be made with a real file.
    #[test]
    fn a_file_one_may_not_read_is_named_with_the_act_and_the_way_out() {
        let problem = unread("a/arcwright.toml", &ErrorKind::PermissionDenied.into());
        assert_eq!(problem.finding.code, "no-permission");
        assert!(
            problem
                .finding
                .what
                .starts_with("could not read `a/arcwright.toml`")
        );
        assert!(problem.finding.fix.contains("right to read"));
    }
}
