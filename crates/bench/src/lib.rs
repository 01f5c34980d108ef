//! Speed of the kernels against plain code and general-purpose libraries, in one run.
//!
//! Not among the default members: the libraries compared with take longer to compile than
//! the project's own model. Run `cargo bench -p arcwright-bench`.

pub mod kernel;
pub mod peak;
pub mod random;
pub mod rival;
pub mod sets;
pub mod timing;
