//! `floor`: test shots on the practice floor.

mod attach;
mod beside;
mod drift;
mod edit;
mod export;
mod film;
mod fit;
mod import;
mod leave_out;
mod list;
mod log;
mod next;
mod rehearse;
mod session;
mod telemetry;
mod undo;
mod wander;

use self::beside::{Beside, columns_words};
pub use self::export::{refuse_existing, write_new};
pub use self::rehearse::FILE_NAME as REHEARSAL;

use std::path::PathBuf;

use arcwright_model::finding::Finding;
use arcwright_model::project::Project;
use clap::{Args, Subcommand};

use super::{Answer, Refusal};
use crate::project::{self, FILE_NAME};
use crate::store::{self, Store};

#[derive(Args)]
pub struct FloorArgs {
    #[command(subcommand)]
    command: FloorCommand,
}

#[derive(Subcommand)]
enum FloorCommand {
    /// Log a shot in a line (`far long 12cm left 5cm`), or line after line without one
    Log(log::LogArgs),
    /// The shots by session, or the history of one
    List(list::ListArgs),
    /// Take back the last thing done: a shot, a change, an import
    Undo(undo::UndoArgs),
    /// Change a shot; what it said before is kept
    Edit(edit::EditArgs),
    /// Leave a shot out of the fit, with the reason
    LeaveOut(leave_out::LeaveOutArgs),
    /// Take a shot into the fit again
    TakeIn(leave_out::TakeInArgs),
    /// Bring in a table (CSV): shows what would be taken, takes it with --apply
    Import(import::ImportArgs),
    /// Write the log as a table (CSV)
    Export(export::ExportArgs),
    /// Begin a session with a name, add a remark to one, or list them
    Session(session::SessionArgs),
    /// Find the throws in a robot's log and learn the wheel train from it
    Telemetry(telemetry::TelemetryArgs),
    /// Speed, angle, drag and lift from points of a filmed flight
    Film(film::FilmArgs),
    /// What the shots taught, what they cannot tell apart, and the setpoints beside the design's
    Fit(fit::FitArgs),
    /// What to move, where to throw from next, or the sign to stop
    Next(next::NextArgs),
    /// Between matches: has anything changed since it last worked, what most likely, and what to do
    Drift(drift::DriftArgs),
    /// Why throws differ: pieces, day, volley, battery, and the throws that would tell
    Wander(wander::WanderArgs),
    /// Practise on a machine whose truth is hidden: prepare it, throw once, or play a whole session
    Rehearse(rehearse::RehearseArgs),
}

/// The project whose log it is.
#[derive(Args, Clone, Debug, Default)]
pub struct Where {
    /// Project folder or file [default: the current folder]
    #[arg(long = "in", value_name = "PROJECT")]
    project: Option<PathBuf>,
    /// The log of `floor rehearse` instead of the one of real shots
    #[arg(long)]
    rehearsal: bool,
}

/// Runs a `floor` command.
pub fn run(args: &FloorArgs) -> Result<Answer, Refusal> {
    match &args.command {
        FloorCommand::Log(a) => log::run(a),
        FloorCommand::List(a) => list::run(a),
        FloorCommand::Undo(a) => undo::run(a),
        FloorCommand::Edit(a) => edit::run(a),
        FloorCommand::LeaveOut(a) => leave_out::leave_out(a),
        FloorCommand::TakeIn(a) => leave_out::take_in(a),
        FloorCommand::Import(a) => import::run(a),
        FloorCommand::Export(a) => export::run(a),
        FloorCommand::Session(a) => session::run(a),
        FloorCommand::Telemetry(a) => telemetry::run(a),
        FloorCommand::Film(a) => film::run(a),
        FloorCommand::Fit(a) => fit::run(a),
        FloorCommand::Next(a) => next::run(a),
        FloorCommand::Drift(a) => drift::run(a),
        FloorCommand::Wander(a) => wander::run(a),
        FloorCommand::Rehearse(a) => rehearse::run(a),
    }
}

/// A project with a folder of its own, and the path of its log.
pub struct Ground {
    /// The project.
    pub project: Project,
    /// Path of the log, which may not be there yet.
    pub log: PathBuf,
}

impl Ground {
    /// Loads the project; a demo has no folder and so no log.
    pub fn load(place: &Where) -> Result<Ground, Refusal> {
        let file = match &place.project {
            Some(p) if p.is_dir() => p.join(FILE_NAME),
            Some(p) => p.clone(),
            None => PathBuf::from(FILE_NAME),
        };
        if place.project.is_none() && !file.exists() {
            return Err(Refusal::finding(&Finding::new(
                "no-project",
                FILE_NAME,
                format!("there is no {FILE_NAME} in this folder, and the log of shots lies beside it"),
                "change into your project's folder, name it with --in FOLDER, or make one with `arcwright new NAME`",
            )));
        }
        let loaded = project::read(&file).map_err(|p| Refusal::input(project::render(&p)))?;
        Ok(Ground {
            project: loaded.project,
            log: file.with_file_name(if place.rehearsal {
                rehearse::FILE_NAME
            } else {
                store::FILE_NAME
            }),
        })
    }

    /// Opens the log to write.
    pub fn open(&self) -> Result<Store, Refusal> {
        store::open(&self.log).map_err(|f| Refusal::finding(&f))
    }

    /// Opens the log to read; the refusal says that there is none yet.
    pub fn read(&self) -> Result<Store, Refusal> {
        let found = store::open_to_read(&self.log).map_err(|f| Refusal::finding(&f))?;
        found.ok_or_else(|| {
            Refusal::finding(&Finding::new(
                "no-log",
                self.log.display().to_string(),
                "no shot has been logged yet",
                "log one, such as `arcwright floor log far in`",
            ))
        })
    }

    /// Opens a log that must be there, to write.
    pub fn reopen(&self) -> Result<Store, Refusal> {
        drop(self.read()?);
        self.open()
    }
}

/// The words of a command line as one line.
fn joined(words: &[String]) -> String {
    words.join(" ")
}
