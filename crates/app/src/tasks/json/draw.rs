//! JSON of the templates.

use std::path::Path;

use arcwright_model::project::Project;
use serde_json::{Value, json};

use super::{head, num, with};
use crate::tasks::draw::{Drawn, left_out};

/// `draw`.
pub fn draw(project: &Project, parts: &[Drawn], folder: &Path, paper: &str) -> Value {
    let each: Vec<Value> = parts
        .iter()
        .map(|p| {
            let [low, high] = p.sheet.extent();
            json!({
                "part": p.sheet.name,
                "title": p.sheet.title,
                "notes": p.sheet.notes,
                "width_m": num((high[0] - low[0]) * 1e-3),
                "height_m": num((high[1] - low[1]) * 1e-3),
                "files": p.files.iter().map(|(name, _)| folder.join(name).display().to_string()).collect::<Vec<_>>(),
            })
        })
        .collect();
    with(
        head("draw", project),
        json!({
            "folder": folder.display().to_string(),
            "paper": paper,
            "parts": each,
            "left_out": left_out(project),
            "cautions": arcwright_paper::templates::CAUTIONS,
        }),
    )
}
