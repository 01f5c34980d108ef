//! `arcwright`: from a brief to a proven thrower.

fn main() {}
