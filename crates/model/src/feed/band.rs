//! Stretched elastics that pieces lean on.

use super::shape::{Meet, Rod};
use super::world::Ball;
use crate::numerics::vector::{norm, scale, sub};

/// Method: how far from its ends, as a share of the piece's radius, a band is leant on at the least.
const BAND_END_RATIO: f64 = 0.5;
/// Judgement: damping ratio of rubber cord.
pub(super) const BAND_DAMPING: f64 = 0.2;

/// A stretched elastic between two points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Band {
    /// One end.
    pub from_m: [f64; 3],
    /// The other.
    pub to_m: [f64; 3],
    /// Pull when nothing leans on it.
    pub tension_n: f64,
    /// Its pull grows by this for each metre that it gets longer.
    pub stiffness_npm: f64,
}

impl Band {
    /// Where a piece leans on it, and how stiff it is there.
    ///
    /// ```text
    /// F = T (δ/a + δ/b),   T = T₀ + k δ²/2 (1/a + 1/b)
    /// ```
    ///
    /// with the depth δ of the kink and the lengths a and b to the ends: the balance of a taut string, small angles.
    pub(super) fn lean(&self, ball: &Ball) -> Option<(Meet, f64)> {
        let d = sub(self.to_m, self.from_m);
        let length = norm(d);
        let rod = Rod {
            start: self.from_m,
            along: scale(d, 1.0 / length.max(f64::MIN_POSITIVE)),
            length_m: length,
            radius_m: 0.0,
        };
        let meet = rod.meet(ball.at_m, ball.radius_m)?;
        let end = (BAND_END_RATIO * ball.radius_m).min(0.5 * length);
        let a = norm(sub(meet.point, self.from_m)).clamp(end, length - end);
        let bend = 1.0 / a + 1.0 / (length - a);
        let tension = self.tension_n + 0.5 * self.stiffness_npm * meet.overlap_m * meet.overlap_m * bend;
        Some((meet, tension * bend))
    }
}
