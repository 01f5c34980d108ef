//! What the commands on a robot's log and a film share.

use std::path::{Path, PathBuf};

use arcwright_model::project::Project;
use clap::Args;

use super::super::{Common, Refusal, say, source};
use crate::project::FILE_NAME;
use crate::tasks::floor::record_columns::Found;

/// The machine that a file belongs to, and what goes out.
#[derive(Args, Clone, Debug, Default)]
pub struct Beside {
    /// Project folder or file [default: the current folder, where it has an arcwright.toml]
    #[arg(long, value_name = "PROJECT")]
    pub project: Option<PathBuf>,
    /// Compare with a built-in demo: lantern, bramble or pebble
    #[arg(long, value_name = "NAME", conflicts_with = "project")]
    pub demo: Option<String>,
    /// Which column is which: "THEIRS=OURS" or "THEIRS=OURS UNIT"; may be given several times
    #[arg(long, value_name = "THEIRS=OURS")]
    pub map: Vec<String>,
    /// Print JSON (SI, versioned; see docs/json.md) instead of text
    #[arg(long)]
    pub json: bool,
    /// Write the picture to this file
    #[arg(long, value_name = "FILE")]
    pub svg: Option<PathBuf>,
}

impl Beside {
    /// The project, if one is named or stands in the current folder; a demo only when asked for.
    pub fn project(&self) -> Result<Option<Project>, Refusal> {
        if self.project.is_none() && self.demo.is_none() && !Path::new(FILE_NAME).exists() {
            return Ok(None);
        }
        Ok(Some(source::load(&self.common())?.project))
    }

    pub fn common(&self) -> Common {
        Common {
            project: self.project.clone(),
            demo: self.demo.clone(),
            json: self.json,
            svg: self.svg.clone(),
        }
    }
}

/// Which column was taken for what, and what was left out.
pub fn columns_words(found: &[Found], notes: &[String]) -> String {
    let mut text = String::from("Columns\n");
    let rows: Vec<Vec<String>> = found
        .iter()
        .map(|f| {
            let unit = match (f.unit.as_str(), f.unit_stated) {
                ("", _) => "-".to_string(),
                (u, true) => u.to_string(),
                (u, false) => format!("{u}, assumed"),
            };
            vec![say::name(&f.theirs), f.name.to_string(), unit]
        })
        .collect();
    text.push_str(&say::columns(&["in the file", "taken for", "unit"], &rows));
    text.push_str("  Wrong? Say it with --map \"their name=ours unit\".\n");
    for note in notes {
        text.push_str(&format!("  note: {note}\n"));
    }
    text
}
