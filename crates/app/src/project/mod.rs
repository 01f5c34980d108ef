//! The project file: reading it, and saying everything that is wrong with it at once.

mod demos;
mod mend;
mod place;
mod problem;
mod read;
mod syntax;
mod value;
mod walk;

pub use demos::{BROKEN, DEMOS, Demo, demo};
pub use place::Place;
pub use problem::{CODES, Level, Problem, json, render};
pub use read::{FILE_NAME, Loaded, parse, read};
