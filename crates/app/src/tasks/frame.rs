//! The rest of the machine: names and pictures.

use arcwright_model::limits::BaseFigures;
use arcwright_model::project::{BaseKind, Project};
use arcwright_paper::drawings::polar as polar_view;

/// A base in a few words.
pub fn base_words(base: &BaseFigures) -> String {
    let motors = format!(
        "{} motor{}",
        base.motor_count,
        if base.motor_count == 1 { "" } else { "s" }
    );
    match base.kind {
        BaseKind::Four => format!("four wheels, {motors}"),
        BaseKind::Six => format!("six wheels, {motors}"),
        BaseKind::Sideways => format!("sideways, {motors}"),
    }
}

/// Speed and push by direction.
pub fn polar<'a>(project: &Project, bases: impl Iterator<Item = &'a BaseFigures>) -> String {
    polar_view::draw(&polar_view::PolarPicture {
        units: project.units,
        bases: bases
            .map(|b| polar_view::PolarBase {
                name: base_words(b),
                speed_mps: b.directions.iter().map(|d| d.speed_mps).collect(),
                force_n: b.directions.iter().map(|d| d.force_n).collect(),
            })
            .collect(),
    })
}
