//! The floor: what test shots teach, what to move next, when to stop.

pub mod adjust;
pub mod components;
pub mod drift;
mod shot;

pub use shot::{Landing, Seen, Shot, TimedFall, WallHeight};
