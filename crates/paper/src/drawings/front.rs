//! Two goals against each other: every design tried, and those that no other beats in both.

use arcwright_model::project::UnitSystem;

use super::Better;
use crate::units::Measure;

/// What the picture shows. All values are SI.
#[derive(Clone, Debug, PartialEq)]
pub struct FrontPicture {
    /// Heading.
    pub title: String,
    /// Units shown.
    pub units: UnitSystem,
    /// The goal along the foot.
    pub x: Goal,
    /// The goal up the side.
    pub y: Goal,
    /// Every design tried.
    pub tried: Vec<[f64; 2]>,
    /// Those that no other beats in both goals, in any order.
    pub front: Vec<FrontPoint>,
    /// The design as it is now.
    pub present: Option<[f64; 2]>,
    /// The chosen one of `front`, by index.
    pub chosen: Option<usize>,
}

/// One of the two goals.
#[derive(Clone, Debug, PartialEq)]
pub struct Goal {
    /// What it is, e.g. "volley time".
    pub name: String,
    /// What its values measure.
    pub measure: Measure,
    /// Which way is better.
    pub better: Better,
}

/// A design on the front.
#[derive(Clone, Debug, PartialEq)]
pub struct FrontPoint {
    /// Its two results.
    pub at: [f64; 2],
    /// What it is, e.g. "96 mm gap, 2.4 kg cm² flywheel".
    pub label: String,
}
