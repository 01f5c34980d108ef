//! The only crate that touches disk, network, clock and terminal.

pub mod cli;
pub mod project;
pub mod store;
pub mod tasks;
pub mod web;
