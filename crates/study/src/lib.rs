//! What test shots are worth: machines whose truth is hidden, tuned by the model and by rules by hand.
//!
//! Not among the default members. Run `cargo run --release -p arcwright-study -- --short`, and see `docs/study.md`.

pub mod hand;
pub mod play;
pub mod robot;
pub mod table;
pub mod tuner;
