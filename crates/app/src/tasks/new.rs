//! A new project folder from a demo.

use std::fs::{self, OpenOptions};
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

use arcwright_model::finding::{Finding, nearest};

use crate::project::{DEMOS, Demo, FILE_NAME, demo};

/// The demo with a name; the finding names those that exist.
pub fn find_demo(name: &str) -> Result<&'static Demo, Finding> {
    demo(name).ok_or_else(|| {
        let names: Vec<&str> = DEMOS.iter().map(|d| d.name).collect();
        let near =
            nearest(name, names.iter().copied()).map_or(String::new(), |n| format!("did you mean `{n}`? "));
        Finding {
            code: "no-such-demo",
            key: name.to_string(),
            what: format!("there is no demo called `{name}`"),
            fix: format!("{near}the demos are {}", names.join(", ")),
        }
    })
}

/// Makes the folder and its `arcwright.toml` from a demo; refuses to touch anything that exists.
///
/// # Errors
/// `no-such-demo`, `already-there`, `no-folder`, or a refusal of the system.
pub fn make(folder: &Path, from: &str) -> Result<PathBuf, Finding> {
    make_of(folder, find_demo(from)?.text)
}

/// Makes the folder and its `arcwright.toml` with this text; refuses to touch anything that exists.
///
/// # Errors
/// `already-there`, `no-folder`, or a refusal of the system.
pub fn make_of(folder: &Path, text: &str) -> Result<PathBuf, Finding> {
    let file = folder.join(FILE_NAME);
    let there = || Finding {
        code: "already-there",
        key: folder.display().to_string(),
        what: format!("`{}` exists and is left as it is", file.display()),
        fix: "choose another name, or edit that file".into(),
    };
    if file.exists() {
        return Err(there());
    }
    fs::create_dir_all(folder).map_err(|e| Finding {
        code: "no-folder",
        key: folder.display().to_string(),
        what: format!("could not make the folder: {e}"),
        fix: match e.kind() {
            ErrorKind::PermissionDenied => "choose a folder you may write to",
            ErrorKind::AlreadyExists | ErrorKind::NotADirectory => {
                "a file stands in the way: choose another name"
            }
            _ => "choose another name",
        }
        .into(),
    })?;
    let not_written = |e: std::io::Error| match e.kind() {
        // Made by someone else a moment ago, or a link that leads nowhere.
        ErrorKind::AlreadyExists => there(),
        _ => Finding {
            code: "not-written",
            key: file.display().to_string(),
            what: format!("could not write it: {e}"),
            fix: "choose a folder that you may write to, on a disk with room".into(),
        },
    };
    OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(&file)
        .and_then(|mut f| f.write_all(text.as_bytes()))
        .map_err(not_written)?;
    Ok(file)
}
