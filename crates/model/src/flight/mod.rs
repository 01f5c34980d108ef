//! Flight of the piece through air: gravity, drag, lift, spin decay, wind, in three dimensions.
//!
//! Field frame: x forward, y left, z up, right-handed; origin on the floor below the wheel axle.

mod types;
pub use types::*;
