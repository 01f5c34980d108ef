//! The shot log: `floor.db` beside the project file. SQLite, only ever added to.
//!
//! An edit adds a version of a shot, an undo another; the highest counts. Every write is one
//! transaction that is on the disk before it is acknowledged.

mod entry;
mod fits;
mod open;
mod sessions;
mod shots;
mod trouble;
mod undo;

use std::path::{Path, PathBuf};

pub use entry::{Entry, outcome_of};
pub use fits::{KeptEstimate, KeptFit, KeptSetpoint, NewestFit, ProjectValue, Since};
pub use open::{open, open_as_it_is, open_to_read};
pub use sessions::{SESSION_GAP_MS, Session};
pub use shots::{Amendment, Batch, Logged, LoggedShot, NewShot, Undone, Version, shots};

/// Name of the log, beside the project file.
pub const FILE_NAME: &str = "floor.db";

/// An open log.
#[derive(Debug)]
pub struct Store {
    db: rusqlite::Connection,
    path: PathBuf,
}

impl Store {
    /// Its file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Writes a copy of the log as it is at this moment, also while another program adds to it.
    ///
    /// # Errors
    /// A finding when it cannot be read, or the copy not be written.
    pub fn copy_to(&self, path: &Path) -> Result<(), arcwright_model::finding::Finding> {
        let to = path.display().to_string();
        self.db
            .execute("VACUUM INTO ?1", [to])
            .map(|_| ())
            .map_err(|e| self.trouble(&e))
    }

    fn trouble(&self, e: &rusqlite::Error) -> arcwright_model::finding::Finding {
        trouble::finding(&self.path, e)
    }
}
