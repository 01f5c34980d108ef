//! Many throws of one piece in random orientations: how deep, how often, how uneven.

use super::footprint::{Footprint, WheelSet};
use super::surface::{Surface, random_orientation};
use crate::launcher::BITE_COUNT;

/// What many throws found. Depths count from the piece's mean support, as in [`super::bite`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BiteStudy {
    /// Throws looked at.
    pub throw_count: usize,
    /// Share of all places around all pieces where the rim drops deeper than 5 % of the squeeze.
    pub share_over_frac: f64,
    /// Mean depth over all places; near 0, since the mean support is the reference.
    pub mean_depth_m: f64,
    /// Standard deviation, throw to throw, of the mean depth over one turn of the piece.
    pub sd_depth_m: f64,
    /// Standard deviation of the depth over all places of all throws.
    pub sd_place_m: f64,
    /// Median over throws of the deepest place of a throw.
    pub median_m: f64,
    /// The deepest place of a throw is no deeper than this in 95 of 100 throws.
    pub p95_m: f64,
    /// Deepest of all.
    pub deepest_m: f64,
    /// Standard deviation, throw to throw, of the mean sideways lean over one turn of the piece.
    pub lean_sd_rad: f64,
}

/// Depths above this share of the squeeze are counted. Judgement: force and grip follow the squeeze, and a
/// twentieth of it is about what a careful build holds its gap to.
pub const OVER_RATIO: f64 = 0.05;

/// Root of x⁴ = x + 1, from which the even sequence in three dimensions comes.
const PLASTIC_4: f64 = 1.220_744_084_605_759_6;

/// The study over orientations that fill all orientations evenly, with no chance and no seed in it.
///
/// ```text
/// u_i = fraction of (i/g, i/g², i/g³),   g⁴ = g + 1                 (additive sequence [weyl-1916])
/// ```
/// then [`random_orientation`]. Wheel set centred on the piece.
pub fn study(surface: &Surface, wheels: &WheelSet, squeeze_m: f64, throw_count: usize) -> BiteStudy {
    let mut at = 0u32;
    let orientations = std::iter::from_fn(|| {
        at += 1;
        let i = f64::from(at);
        let u = [1, 2, 3].map(|n| (i / PLASTIC_4.powi(n)).fract());
        Some(random_orientation(u))
    });
    study_around(surface, wheels, squeeze_m, orientations.take(throw_count))
}

/// The study over given orientations.
pub fn study_around(
    surface: &Surface,
    wheels: &WheelSet,
    squeeze_m: f64,
    orientations: impl IntoIterator<Item = [f64; 4]>,
) -> BiteStudy {
    let foot = Footprint::of(surface, wheels, squeeze_m, 0.0);
    let limit = OVER_RATIO * squeeze_m;
    let (mut over, mut squares) = (0usize, 0.0);
    let (mut means, mut leans, mut deepest) = (Vec::new(), Vec::new(), Vec::new());
    for orientation in orientations {
        let imprint = foot.imprint(surface, orientation);
        let count = BITE_COUNT as f64;
        over += imprint.depth_m.iter().filter(|d| **d > limit).count();
        squares += imprint.depth_m.iter().map(|d| d * d).sum::<f64>() / count;
        means.push(imprint.depth_m.iter().sum::<f64>() / count);
        leans.push(imprint.lean_rad.iter().sum::<f64>() / count);
        deepest.push(imprint.depth_m.iter().copied().fold(f64::NEG_INFINITY, f64::max));
    }
    deepest.sort_by(f64::total_cmp);
    let throws = means.len();
    let (mean_depth_m, sd_depth_m) = mean_and_sd(&means);
    let (_, lean_sd_rad) = mean_and_sd(&leans);
    let n = throws.max(1) as f64;
    let at = |share: f64| {
        let place = (share * throws as f64).ceil() as usize;
        deepest.get(place.saturating_sub(1)).copied().unwrap_or(0.0)
    };
    BiteStudy {
        throw_count: throws,
        share_over_frac: over as f64 / (n * BITE_COUNT as f64),
        mean_depth_m,
        sd_depth_m,
        sd_place_m: (squares / n - mean_depth_m * mean_depth_m).max(0.0).sqrt(),
        median_m: at(0.5),
        p95_m: at(0.95),
        deepest_m: at(1.0),
        lean_sd_rad,
    }
}

fn mean_and_sd(values: &[f64]) -> (f64, f64) {
    let n = values.len().max(1) as f64;
    let mean = values.iter().sum::<f64>() / n;
    let square = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / n;
    (mean, square.sqrt())
}
