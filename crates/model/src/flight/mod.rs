//! Flight of the piece through air: gravity, drag, lift, spin decay, wind, in three dimensions.
//!
//! Field frame: x forward, y left, z up, right-handed; origin on the floor below the wheel axle.
//!
//! [`fly`] integrates one flight and returns a [`Path`], which answers questions about it:
//! where it crosses a plane, where it is highest, how near it comes to something. [`batch`]
//! flies thousands to a plane at once.

pub mod batch;
mod drag;
mod force;
mod lift;
mod path;
mod sensitivity;
mod solve;
mod types;

#[cfg(test)]
pub(crate) mod checks;
#[cfg(test)]
mod laws;
#[cfg(test)]
mod path_tests;
#[cfg(test)]
mod symmetries;

pub use drag::drag_coeff;
pub use force::{acceleration, reynolds, spin_parameter};
pub use lift::lift_coeff;
pub use path::{Ended, Path};
pub use sensitivity::{dposition_delevation, dposition_dspeed};
pub use solve::{Accuracy, Until, fly, fly_to_accuracy};
pub use types::*;
