//! A new project folder from a demo.

use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use super::pictures::write_file;
use crate::project::{DEMOS, nearest};

/// Makes the folder and its `arcwright.toml`; refuses to touch anything that exists.
pub fn make(folder: &Path, from: &str) -> Result<PathBuf, String> {
    let demo = DEMOS.iter().find(|d| d.name.eq_ignore_ascii_case(from)).ok_or_else(|| {
        let names: Vec<&str> = DEMOS.iter().map(|d| d.name).collect();
        let near = nearest(from, &names).map_or(String::new(), |n| format!("did you mean `{n}`? "));
        format!("wrong input [no-such-demo]: there is no demo called `{from}`\n  fix {near}the demos are {}\n", names.join(", "))
    })?;
    let file = folder.join("arcwright.toml");
    if file.exists() {
        return Err(format!(
            "wrong input [already-there]: `{}` exists and is left as it is\n  fix choose another name, or edit that file\n",
            file.display()
        ));
    }
    fs::create_dir_all(folder).map_err(|e| {
        let fix = match e.kind() {
            ErrorKind::PermissionDenied => "choose a folder you may write to",
            ErrorKind::AlreadyExists | ErrorKind::NotADirectory => "a file stands in the way: choose another name",
            _ => "choose another name",
        };
        format!("could not make the folder `{}`: {e}\n  fix {fix}\n", folder.display())
    })?;
    write_file(&file, demo.text)?;
    Ok(file)
}
