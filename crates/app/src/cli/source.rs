//! Where a command's project comes from: a path, the current folder, or a built-in demo.

use std::path::{Path, PathBuf};

use arcwright_model::project::Project;
use arcwright_model::units::{self, Dimension};

use clap::Args;

use super::floor::REHEARSAL;
use super::{Common, Refusal};
use crate::project::{self, Change, DEMOS, FILE_NAME, WriteRefusal, with_values};
use crate::store;
use crate::tasks::floor::taught::{Basis, Schooled, Standing};
use crate::tasks::history::{reason_of, rewrite};
use crate::tasks::{self, pictures::write_file};

/// A project and where it came from.
pub struct Source {
    /// The project; with what test shots taught in it after [`Source::learn`].
    pub project: Project,
    /// The design beside it and what was learned, where something was.
    pub learned: Option<Schooled>,
    /// What the shots are to it; nothing before [`Source::learn`].
    pub basis: Basis,
    /// A line that says which is used; empty where there is only the design.
    pub line: String,
    /// The project file's text.
    pub text: String,
    from: From,
}

/// Whether test shots count; the same for every command that throws.
#[derive(Args, Clone, Copy, Debug, Default)]
pub struct ByShots {
    /// The design alone, whatever the shots on the floor taught
    #[arg(long)]
    pub as_designed: bool,
    /// Go by the shots of `floor rehearse` instead of the real ones
    #[arg(long, conflicts_with = "as_designed")]
    pub rehearsal: bool,
}

enum From {
    File(PathBuf),
    Demo { name: &'static str, asked: bool },
}

impl Source {
    fn of(loaded: project::Loaded, from: From) -> Source {
        Source {
            project: loaded.project,
            text: loaded.text,
            learned: None,
            basis: Basis::Nothing,
            line: String::new(),
            from,
        }
    }

    /// Puts in what the kept fit of the log beside the file taught. A demo has no log.
    pub fn learn(&mut self, by: &ByShots) {
        let Some(file) = self.file().filter(|_| !by.as_designed) else {
            return;
        };
        let log = file.with_file_name(if by.rehearsal { REHEARSAL } else { store::FILE_NAME });
        let standing = Standing::of(self.project.clone(), &log);
        self.project = standing.project;
        self.learned = standing.learned;
        self.basis = standing.basis;
        self.line = standing.line;
    }

    /// In words, for the head of an answer.
    pub fn origin(&self) -> String {
        match &self.from {
            From::File(p) => p.display().to_string(),
            From::Demo { name, asked: true } => format!("built-in demo `{name}`"),
            From::Demo { name, asked: false } => {
                format!("no {FILE_NAME} in this folder, so this is the built-in demo `{name}`")
            }
        }
    }

    /// True for a built-in demo.
    pub fn is_demo(&self) -> bool {
        matches!(self.from, From::Demo { .. })
    }

    /// The project's file; none for a built-in demo.
    pub fn file(&self) -> Option<&Path> {
        match &self.from {
            From::File(p) => Some(p),
            From::Demo { .. } => None,
        }
    }

    /// Folder for everything generated: `out/` beside the project file, `out/NAME` for a demo.
    pub fn out_folder(&self) -> PathBuf {
        match &self.from {
            From::File(p) => p.parent().unwrap_or(Path::new("")).join("out"),
            From::Demo { name, .. } => Path::new("out").join(name),
        }
    }
}

/// Loads the project a command is about.
pub fn load(common: &Common) -> Result<Source, Refusal> {
    if let Some(name) = &common.demo {
        return demo(name, true);
    }
    let path = match &common.project {
        Some(p) if p.is_dir() => p.join(FILE_NAME),
        Some(p) => p.clone(),
        None if Path::new(FILE_NAME).exists() => PathBuf::from(FILE_NAME),
        None => return demo(DEMOS[0].name, false),
    };
    let loaded = project::read(&path).map_err(|problems| Refusal::input(project::render(&problems)))?;
    Ok(Source::of(loaded, From::File(path)))
}

fn demo(name: &str, asked: bool) -> Result<Source, Refusal> {
    let found = tasks::new::find_demo(name).map_err(|f| Refusal::finding(&f))?;
    let loaded = project::parse(found.name, found.text).map_err(|problems| Refusal {
        text: format!("the built-in demo is broken:\n{}", project::render(&problems)),
        code: super::OUR_FAULT,
    })?;
    Ok(Source::of(
        loaded,
        From::Demo {
            name: found.name,
            asked,
        },
    ))
}

/// Writes values into a project file and keeps the change in its history; what was written, in words.
pub fn write_values(path: &Path, changes: &[Change], who: &str) -> Result<String, Refusal> {
    let old = std::fs::read_to_string(path)
        .map_err(|e| Refusal::input(format!("wrong input [unreadable]: {}: {e}\n", path.display())))?;
    let refused = |r: WriteRefusal| Refusal::input(project::render(&r.problems));
    let edited = with_values(&old, changes).map_err(refused)?;
    rewrite(path, &old, &edited.text, &reason_of(who, &edited.rewritten)).map_err(refused)?;
    let mut text = format!(
        "  Written to {} (the text before: {}.before)\n",
        path.display(),
        path.display()
    );
    for r in &edited.rewritten {
        text.push_str(&format!(
            "    {}: {} -> {}\n",
            r.key,
            r.before.as_deref().unwrap_or("not written"),
            r.after
        ));
    }
    Ok(text)
}

/// Reads a quantity given as an argument.
pub fn quantity(argument: &str, text: &str, dimension: Dimension) -> Result<f64, Refusal> {
    units::parse(text, dimension).map_err(|e| {
        Refusal::input(format!(
            "wrong input: {argument} \"{text}\": {}\n  fix {}\n",
            e.what, e.fix
        ))
    })
}

/// Reads a wheel speed or a time, which must be above zero.
pub fn positive(argument: &str, text: &Option<String>, dimension: Dimension) -> Result<Option<f64>, Refusal> {
    let Some(text) = text else { return Ok(None) };
    let value = quantity(argument, text, dimension)?;
    if value > 0.0 {
        return Ok(Some(value));
    }
    Err(Refusal::input(format!(
        "wrong input [out-of-range]: {argument} is \"{text}\", and must be above zero\n  fix write it without the minus sign, or leave {argument} out\n"
    )))
}

/// Writes the picture if one was asked for; drawn only then.
pub fn write_picture(common: &Common, draw: impl FnOnce() -> String) -> Result<(), Refusal> {
    match &common.svg {
        Some(path) => write_file(path, &draw()).map_err(|f| Refusal::finding(&f)),
        None => Ok(()),
    }
}
