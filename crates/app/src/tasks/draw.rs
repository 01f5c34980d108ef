//! Cutting and forming templates of launcher and hopper at full size, as files.

use arcwright_model::finding::Finding;
use arcwright_model::project::Project;
use arcwright_model::shot::Chain;
use arcwright_paper::templates::{self, Sheet, dxf, pdf, svg};

pub use arcwright_paper::templates::pdf::Paper;

/// One part with its files.
pub struct Drawn {
    /// The part.
    pub sheet: Sheet,
    /// Names and contents of its files.
    pub files: Vec<(String, Vec<u8>)>,
}

/// What is left out of the templates, and why, in words.
pub fn left_out(project: &Project) -> Vec<String> {
    templates::left_out(project, &Chain::of(project).launcher)
}

/// Every part of a project's launcher and hopper; `foot` stands on every printed page.
///
/// # Errors
/// `not-to-be-cut` when cutter, sheet and shape do not go together.
pub fn draw(project: &Project, paper: Paper, foot: &str) -> Result<Vec<Drawn>, Finding> {
    let chain = Chain::of(project);
    let sheets = templates::sheets(project, &chain.launcher).map_err(|what| {
        Finding::new(
            "not-to-be-cut",
            "cut",
            what,
            "look at `kerf`, `hole_diameter` and `margin` under [cut], and at `thickness` under [launcher.sheet]",
        )
    })?;
    Ok(sheets
        .into_iter()
        .map(|sheet| {
            let name = sheet.name;
            let files = vec![
                (format!("{name}.dxf"), dxf::text(&sheet).into_bytes()),
                (format!("{name}.svg"), svg::text(&sheet).into_bytes()),
                (format!("{name}.pdf"), pdf::bytes(&sheet, paper, foot)),
            ];
            Drawn { sheet, files }
        })
        .collect())
}
