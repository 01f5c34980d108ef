//! The only crate that touches disk, network, clock and terminal.

pub mod project;
