//! Numerical methods that the physics shares.
