//! A trade: what one knob does to several results, with the limits asked for.

use arcwright_model::project::UnitSystem;

use super::Better;
use crate::units::Measure;

/// What the picture shows.
#[derive(Clone, Debug, PartialEq)]
pub struct TradePicture {
    /// Heading.
    pub title: String,
    /// Units shown.
    pub units: UnitSystem,
    /// What is varied, e.g. "inertia at the wheel".
    pub knob: String,
    /// What its values measure.
    pub knob_measure: Measure,
    /// Its values, SI, in any order.
    pub values: Vec<f64>,
    /// A text for each value, where the value with its unit would not do; may be shorter than `values`.
    pub labels: Vec<String>,
    /// The results, top to bottom.
    pub rows: Vec<TradeRow>,
    /// Value of the knob now, SI.
    pub present: Option<f64>,
    /// The recommended one of `values`, by index.
    pub recommended: Option<usize>,
    /// Why that one; wrapped under the picture.
    pub why: String,
}

/// One result.
#[derive(Clone, Debug, PartialEq)]
pub struct TradeRow {
    /// What it is, e.g. "spin-up time".
    pub name: String,
    /// What its values measure.
    pub measure: Measure,
    /// One for each value of the knob, SI; not finite where there is none.
    pub values: Vec<f64>,
    /// The limit asked for, SI.
    pub asked: Option<f64>,
    /// Which way is better, and so which side of the limit is forbidden.
    pub better: Better,
}
