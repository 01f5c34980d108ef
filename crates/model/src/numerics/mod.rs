//! Numerical methods that the physics shares.

pub mod beta;
pub mod control;
pub mod difference;
pub mod gamma;
pub mod linear_fit;
pub mod minimum;
pub mod nonlinear;
pub mod normal;
pub mod ode;
pub mod polynomial;
pub mod proportion;
pub mod quadrature;
pub mod radial;
pub mod random;
pub mod root;
pub mod sensitivity;
pub mod sobol;
mod sobol_directions;
pub mod symmetric;
pub mod tolerance;
pub mod vector;

#[cfg(test)]
pub(crate) mod checks;
