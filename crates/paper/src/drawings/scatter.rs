//! Where throws cross the opening: the cloud, its ellipses, and the hit chance, for each spot.

use arcwright_model::project::UnitSystem;
use arcwright_model::target::{Outcome, Outline};

/// What the picture shows.
///
/// Places are in the target's frame: `along` from the near to the far rim (up, for an upright
/// opening), `across` to the left of the thrower, both from the centre of the opening.
#[derive(Clone, Debug, PartialEq)]
pub struct ScatterPicture {
    /// Heading.
    pub title: String,
    /// Units shown.
    pub units: UnitSystem,
    /// The opening.
    pub opening: Opening,
    /// Diameter of the piece.
    pub piece_diameter_m: f64,
    /// One for each spot.
    pub panels: Vec<ScatterPanel>,
}

/// The opening in its own plane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Opening {
    /// Its outline.
    pub outline: Outline,
    /// Size across.
    pub width_m: f64,
    /// Size along.
    pub depth_m: f64,
    /// An upright opening is seen from the thrower, any other from above.
    pub upright: bool,
    /// There is a wall behind the far rim.
    pub back_wall: bool,
}

/// The throws from one spot.
#[derive(Clone, Debug, PartialEq)]
pub struct ScatterPanel {
    /// The spot.
    pub name: String,
    /// The simulated throws.
    pub crossings: Vec<ScatterCrossing>,
    /// Mean of along and across.
    pub mean_m: [f64; 2],
    /// Standard deviation of along and across.
    pub sd_m: [f64; 2],
    /// Correlation of along with across.
    pub correlation_coeff: f64,
    /// Half of the crossings lie within this distance of their mean.
    pub r50_m: f64,
    /// 95 % of the crossings lie within this distance of their mean.
    pub r95_m: f64,
    /// Hit chance.
    pub hit: HitChance,
    /// Share of each fate.
    pub fates: Vec<(Outcome, f64)>,
    /// Hit chance when what has not been tested on the floor counts as well.
    pub hit_untested_frac: Option<f64>,
}

/// One throw that reached the plane of the opening; not finite where it never did.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ScatterCrossing {
    /// Along, from the centre.
    pub along_m: f64,
    /// Across, to the left of the thrower, from the centre.
    pub across_m: f64,
    /// What became of it.
    pub fate: Outcome,
}

/// A chance and the interval it lies in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HitChance {
    /// Best estimate.
    pub frac: f64,
    /// Lower end of its interval.
    pub low_frac: f64,
    /// Upper end of its interval.
    pub high_frac: f64,
}
