//! A season: what a match pays, what it depends on, and what to improve next.

pub mod opening;
pub mod play;
pub mod rank;
pub mod rates;
