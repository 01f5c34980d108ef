//! `floor export`: the log as a table.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use arcwright_model::finding::Finding;
use clap::Args;

use super::{Ground, Where};
use crate::cli::{Answer, FINE, Refusal};
use crate::tasks::floor::export;

#[derive(Args)]
pub struct ExportArgs {
    /// File to write (CSV), or - for standard output
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Put it in place of a file that is there
    #[arg(long)]
    replace: bool,
    #[command(flatten)]
    place: Where,
}

pub fn run(args: &ExportArgs) -> Result<Answer, Refusal> {
    let ground = Ground::load(&args.place)?;
    let store = ground.read()?;
    let (text, count) = export::table(&ground.project, &store).map_err(|f| Refusal::finding(&f))?;
    if args.file.as_os_str() == "-" {
        return Ok(Answer { text, code: FINE });
    }
    write_new(&args.file, args.replace, &text).map_err(|f| Refusal::finding(&f))?;
    let shots = if count == 1 { "shot" } else { "shots" };
    Ok(Answer {
        text: format!("{count} {shots} written to {}\n", args.file.display()),
        code: FINE,
    })
}

/// Refuses a file that is there, unless it may be replaced.
pub fn refuse_existing(file: &Path, replace: bool) -> Result<(), Finding> {
    if file.exists() && !replace {
        return Err(Finding::new(
            "already-there",
            file.display().to_string(),
            "this file exists and is left as it is",
            "choose another name, or say --replace",
        ));
    }
    Ok(())
}

/// Writes a file whole or not at all: beside it first, then in its place.
pub fn write_new(file: &Path, replace: bool, text: &str) -> Result<(), Finding> {
    refuse_existing(file, replace)?;
    let mut beside = file.as_os_str().to_os_string();
    beside.push(format!(".{}", std::process::id()));
    let beside = PathBuf::from(beside);
    let made = fs::File::create(&beside).and_then(|mut f| {
        f.write_all(text.as_bytes())?;
        f.sync_all()
    });
    made.and_then(|()| fs::rename(&beside, file)).map_err(|e| {
        let _ = fs::remove_file(&beside);
        Finding::new(
            "not-written",
            file.display().to_string(),
            format!("could not write it: {e}"),
            "choose a file in a folder that exists and is writable, on a disk with room",
        )
    })
}
