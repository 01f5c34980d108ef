//! Numerical methods that the physics shares.

pub mod difference;
pub mod minimum;
pub mod ode;
pub mod polynomial;
pub mod root;
pub mod vector;

#[cfg(test)]
pub(crate) mod checks;
