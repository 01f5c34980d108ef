//! Numerical methods that the physics shares.

pub mod beta;
pub mod difference;
pub mod gamma;
pub mod linear_fit;
pub mod minimum;
pub mod normal;
pub mod ode;
pub mod polynomial;
pub mod random;
pub mod root;
pub mod sobol;
mod sobol_directions;
pub mod vector;

#[cfg(test)]
pub(crate) mod checks;
