//! `draw`: cutting and forming templates at full size.

use arcwright_model::units::Dimension as D;
use arcwright_model::units::show::{Scale, text as text_of};
use arcwright_paper::templates::CAUTIONS;
use clap::Args;

use super::say::{columns, wrap};
use super::{Answer, FINE, Refusal, Which, check, source};
use crate::tasks::draw::{Paper, draw, left_out};
use crate::tasks::hand::fingerprint;
use crate::tasks::{json, pictures};

#[derive(Args)]
pub struct DrawArgs {
    #[command(flatten)]
    which: Which,
    /// Paper that the PDF is spread over
    #[arg(long, value_name = "PAPER", default_value = "a4", value_parser = ["a4", "letter"])]
    paper: String,
    /// Print JSON (SI, versioned; see docs/json.md) beside writing the files
    #[arg(long)]
    json: bool,
}

pub fn run(args: &DrawArgs) -> Result<Answer, Refusal> {
    let source = source::load(&args.which.common())?;
    let project = &source.project;
    let paper = match args.paper.as_str() {
        "letter" => Paper::Letter,
        _ => Paper::A4,
    };
    let foot = format!(
        "{}, {}, arcwright {}",
        project.name,
        fingerprint(&source.text),
        env!("CARGO_PKG_VERSION")
    );
    let parts = draw(project, paper, &foot).map_err(|f| Refusal::finding(&f))?;
    let folder = source.out_folder().join("draw");
    pictures::write_file_folder(&folder).map_err(|f| Refusal::finding(&f))?;
    for (name, bytes) in parts.iter().flat_map(|p| &p.files) {
        pictures::write_bytes(&folder.join(name), bytes).map_err(|f| Refusal::finding(&f))?;
    }
    if args.json {
        let text = format!(
            "{:#}\n",
            json::draw(project, &parts, &folder, args.paper.as_str())
        );
        return Ok(Answer { text, code: FINE });
    }
    let mut text = check::title(&source);
    text.push_str(&format!("Templates at full size, in {}\n", folder.display()));
    // One unit for both sides of a part, however large it is.
    let say = |mm: f64| text_of(mm * 1e-3, D::Length, Scale::Small, project.units);
    let rows: Vec<Vec<String>> = parts
        .iter()
        .map(|p| {
            let [low, high] = p.sheet.extent();
            vec![
                p.sheet.name.to_string(),
                format!("{} x {}", say(high[0] - low[0]), say(high[1] - low[1])),
                p.sheet.title.clone(),
            ]
        })
        .collect();
    text.push_str(&columns(&["part", "size", ""], &rows));
    text.push_str("  Each as .dxf (layers CUT, BEND, MARK), .svg (millimetres) and .pdf (pages with crosses and a ruler).\n");
    for what in left_out(project) {
        text.push_str(&format!(
            "  Left out: {}.\n",
            wrap(&what, 100 - "  Left out: .".len(), "    ")
        ));
    }
    for caution in CAUTIONS {
        text.push_str(&format!("  - {}\n", wrap(caution, 100, "    ")));
    }
    Ok(Answer { text, code: FINE })
}
