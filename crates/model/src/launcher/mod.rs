//! From a mechanical setting and a wheel speed to the exit: geometry, contact, wheel train, volley.
//!
//! Side plane of the launcher: x forward, z up, origin on the floor below the (lower) wheel axle.
//! Spin is positive for backspin (the lower side of the piece moves forward).

mod types;
pub use types::*;
