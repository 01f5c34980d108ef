//! The floor: what test shots teach, what to move next, when to stop.

pub mod next;
pub mod rehearse;
mod shot;

pub use shot::{Landing, Seen, Shot, TimedFall, WallHeight};
