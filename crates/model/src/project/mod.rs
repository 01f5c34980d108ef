//! A brief and a machine, in SI, as every other module reads them.

mod types;
pub use types::*;
