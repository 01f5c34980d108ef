//! Where the project that is served lies.

use std::path::PathBuf;

/// Where the project lies.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Place {
    /// A file.
    File(PathBuf),
    /// A built-in demo, changed in memory only until it is kept.
    Demo(&'static str),
}

impl Place {
    /// Whole path of the file, or name of the demo: what a device knows the project by.
    pub fn at(&self) -> String {
        match self {
            Place::File(path) => std::path::absolute(path)
                .unwrap_or_else(|_| path.clone())
                .display()
                .to_string(),
            Place::Demo(name) => (*name).to_string(),
        }
    }
}
