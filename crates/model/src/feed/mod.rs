//! The feed: pieces in a hopper, on their way one by one into the launcher.
//!
//! [`world`] is the physics of soft balls in contact, [`shape`] what they touch. `docs/theory/feed.md` has the laws, what
//! checks them, and why the engine is our own.

pub mod band;
pub mod hopper;
pub mod lint;
pub mod load;
#[cfg(test)]
mod load_tests;
pub mod measure;
mod near;
pub mod order;
#[cfg(test)]
mod parts_tests;
pub mod plate;
pub mod remedy;
pub mod replay;
pub mod shape;
pub mod survey;
mod touch;
#[cfg(test)]
mod trend_tests;
pub mod world;
#[cfg(test)]
mod world_tests;

pub use touch::{bounce_of, damping_for};
