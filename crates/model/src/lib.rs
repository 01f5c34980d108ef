//! What is true of a wheeled ball thrower, computed from physics.
//!
//! Pure: no files, no clock, no environment, no printing, no ambient randomness.
//! Every number is SI and says so in its name (`_m`, `_mps`, `_radps` ...; see
//! ARCHITECTURE.md for the closed list). Text with units is turned into SI once,
//! by [`units`], and back once, by [`units::show`].
//!
//! The chain: [`project::Project`] → [`launcher`] (setting → exit) → [`flight`]
//! (exit → path) → [`target`] (path → outcome); [`aim`] runs it backwards.
#![warn(missing_docs)]

pub mod aim;
pub mod air;
pub mod feed;
pub mod finding;
pub mod flight;
pub mod floor;
pub mod frame;
pub mod launcher;
pub mod limits;
pub mod numerics;
pub mod project;
pub mod scatter;
pub mod season;
pub mod seek;
pub mod shot;
pub mod target;
pub mod units;
pub mod volley_run;
