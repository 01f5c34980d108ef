//! The search over what a designer frees, for the machine whose worst spot hits most often.
//!
//! Every candidate is a whole project: it is aimed, its volley is played, and the same draws of everything that
//! varies are thrown from every spot (common random numbers), so that two candidates differ by their design alone.
//! A candidate that breaks a limit of the brief never becomes the answer while there is one that does not.

mod design;
mod front;
mod search;
mod trade;

pub use design::{CLOSE_COUNT, Design, QUICK_COUNT, Score, judge};
pub use front::{Goal, front};
pub use search::{Buys, Found, Progress, SeekPlan, seek};
pub use trade::{Trade, TradePoint, inertia_trade};
