//! Text with a unit to SI, and SI to text.
//!
//! A quantity is a number and a unit: `"96 mm"`, `"3 1/2 in"`, `"0.4 kg cm^2"`, `"65 degF"`.
//! [`parse`] turns it into SI and compares dimensions; [`show`] turns SI back into text that
//! [`parse`] reads. Nothing else in the project converts.

mod dimension;
mod expression;
mod number;
mod parse;
mod rewrite;
pub mod show;
mod table;

pub use dimension::Dimension;
pub use parse::{TYPOGRAPHIC_MARKS, UnitError, no_unit, parse, parse_difference};
pub use rewrite::{as_written, rewrite, shortest};
pub use table::STANDARD_GRAVITY_MPS2;

/// Which units are shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum UnitSystem {
    /// mm, m, kg, m/s.
    #[default]
    Metric,
    /// in, ft, lb, ft/s.
    Us,
}
