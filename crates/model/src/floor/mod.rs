//! The floor: what test shots teach, what to move next, when to stop.

pub mod film;
mod shot;
pub mod telemetry;

pub use shot::{Landing, Seen, Shot, TimedFall, WallHeight};
