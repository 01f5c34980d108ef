//! Bite: a wheel's rim dropping into a hole or a seam of the piece. Narrow wheels bite, wide ones bridge.
//!
//! Geometry only; `docs/theory/bite.md` derives it and says where it ends. Frame: the plane of the wheel is
//! x, y, the shaft points along z; direction k around the piece is at azimuth 2π k/48.

mod footprint;
mod search;
mod skin;
mod study;
mod surface;
#[cfg(test)]
mod tests;

pub use footprint::{Footprint, Imprint, WheelSet};
pub use search::{bridging_gap_m, bridging_width_m};
pub use study::{BiteStudy, OVER_RATIO, study, study_around};
pub use surface::{Seam, Surface, even_directions, random_orientation, turned};

use super::Bite;

/// How deep the rim drops at evenly spaced directions around the piece, against a piece that carries
/// everywhere as it does on average: what the press test measured. Negative where the patch holds more skin
/// than that, so the piece stands out by as much.
///
/// ```text
/// depth = p − p₀   where   m S(p₀) = S(p) less what holes and seam take of it        m = mean share
/// ```
/// `squeeze_m` is that of both sides together; `orientation` a unit quaternion (x, y, z, w) that turns the
/// piece into the frame of the wheel; `offset_m` how far the wheel set's middle lies beside the piece's.
/// S and p as in [`Footprint::of`]. Where nothing in the patch carries, the depth is the geometric one: how
/// much nearer than on a whole piece the wheel first meets skin. Exactly 0 for a piece without holes and
/// seam. For many orientations of one piece make the [`Footprint`] once.
pub fn bite(
    surface: &Surface,
    wheels: &WheelSet,
    squeeze_m: f64,
    orientation: [f64; 4],
    offset_m: f64,
) -> Bite {
    let foot = Footprint::of(surface, wheels, squeeze_m, offset_m);
    Bite {
        depth_m: foot.imprint(surface, orientation).depth_m,
    }
}
