//! The project file: reading it, saying everything that is wrong with it at once,
//! and writing a chosen design back into it.

mod begin_table;
mod demos;
mod edit;
mod flat;
mod free;
mod kinds;
mod mend;
mod place;
mod problem;
mod read;
mod replace;
mod syntax;
mod tables;
mod value;
mod walk;
mod write;

pub use demos::{BROKEN, DEMOS, Demo, demo};
pub use edit::{Edit, concerns, with_edits, written};
pub use flat::flat;
pub use kinds::usual_line;
pub(crate) use kinds::{usual_piece, usual_target};
pub use place::Place;
pub use problem::{CODES, Level, Problem, json, render};
pub use read::{FILE_NAME, Loaded, parse, read};
pub use replace::replace_file;
pub use write::{Change, Edited, Rewritten, WriteRefusal, with_values};
