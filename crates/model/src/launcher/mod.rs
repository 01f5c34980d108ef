//! From a mechanical setting and a wheel speed to the exit: geometry, contact, wheel train, volley.
//!
//! Side plane of the launcher: x forward, z up, origin on the floor below the (lower) wheel axle.
//! Spin is positive for backspin (the lower side of the piece moves forward).

pub mod battery;
pub mod bite;
pub mod controller;
pub mod guide_quality;
pub mod hazard;
pub mod identify;
pub mod inertia;
pub mod motor;
pub mod outline;
pub mod path_contact;
pub mod planar;
pub mod plateau;
pub mod rolling;
pub mod sheet;
pub mod spin_up;
pub mod train;
mod types;
pub mod volley;
mod wheel_run;
pub mod wheel_stress;
pub use types::*;
