//! A brief and a machine, in SI, as every other module reads them.
//!
//! [`schema`] lists every key of the project file once; [`lower`] turns what was written into a
//! [`Project`] with [`check`]s; [`get`] and [`set`] reach any quantity by its key.

pub mod blank;
pub mod change;
pub mod check;
pub mod feed;
pub mod free;
pub mod lower;
mod order;
mod rest;
pub mod schema;
mod spread;
mod types;
pub mod usual;
mod words;

pub use feed::HopperFault;
pub use free::{Choices, Freed, default_free};
pub use rest::*;
pub use types::*;
pub use words::Way;

use crate::launcher::Layout;
use crate::launcher::bite::{Seam, Surface, WheelSet, even_directions};
use crate::units::{Dimension, show};
use schema::Key;

/// Value of the quantity with a dotted key such as `piece.mass` or `spot[1].distance`; SI.
///
/// `None` for an unknown key, for a text or flag, and for a quantity this project does not have.
pub fn get(project: &Project, key: &str) -> Option<f64> {
    let key = Key::parse(key)?;
    (schema::entry(&key.pattern)?.access.get)(project, key.index).filter(|v| v.is_finite())
}

/// Sets the quantity with a dotted key; SI.
///
/// False, and nothing changed, for an unknown key, for a quantity this project does not have, and
/// for a value outside the range the project file may have.
pub fn set(project: &mut Project, key: &str, value: f64) -> bool {
    let Some(key) = Key::parse(key) else { return false };
    let Some(entry) = schema::entry(&key.pattern) else {
        return false;
    };
    let whole_where_counted = !matches!(entry.kind, schema::Kind::Count) || value.fract() == 0.0;
    entry.admits(value) && whole_where_counted && (entry.access.set)(project, key.index, value)
}

/// Gap between wheel and guide, or between two wheels.
fn gap_m(project: &Project) -> f64 {
    match project.machine.layout {
        Layout::Guide(g) => g.gap_m,
        Layout::Pair(p) => p.gap_m,
    }
}

/// Gap at a share of the guide's arc, 0 at its start; between two wheels the same all along.
fn gap_at_m(project: &Project, share_frac: f64) -> f64 {
    match project.machine.layout {
        Layout::Guide(g) => g.gap_at_m(share_frac),
        Layout::Pair(p) => p.gap_m,
    }
}

impl Project {
    /// By how much the piece is pressed together at the end of the guide: its diameter less the gap.
    pub fn squeeze_m(&self) -> f64 {
        self.piece.diameter_m - gap_m(self)
    }

    /// The skin of the piece; `None` where it has neither holes nor a seam. Holes are taken as evenly spread.
    pub fn skin(&self) -> Option<Surface> {
        let piece = &self.piece;
        let seam = piece
            .seam
            .filter(|s| s.width_m > 0.0 && s.depth_m > 0.0)
            .map(|s| Seam {
                normal: [0.0, 0.0, 1.0],
                width_m: s.width_m,
                depth_m: s.depth_m,
            });
        let holes = piece.holes.filter(|h| h.count > 0 && h.diameter_m > 0.0);
        if holes.is_none() && seam.is_none() {
            return None;
        }
        Some(Surface {
            radius_m: 0.5 * piece.diameter_m,
            holes: holes.map_or_else(Vec::new, |h| even_directions(h.count as usize)),
            hole_radius_m: holes.map_or(0.0, |h| 0.5 * h.diameter_m),
            seam,
        })
    }

    /// The wheels on one shaft, as they press on the piece.
    pub fn wheel_set(&self) -> WheelSet {
        let wheel = &self.machine.wheel;
        WheelSet {
            radius_m: 0.5 * wheel.diameter_m,
            width_m: wheel.width_m,
            count: wheel.count,
            gap_m: wheel.gap_m,
        }
    }

    /// A value in this project's units, the unit chosen by size: `96 mm`, `3.6 m`, `4500 rpm`.
    pub fn say(&self, value: f64, dimension: Dimension) -> String {
        show::text(value, dimension, show::Scale::Auto, self.units)
    }
}
