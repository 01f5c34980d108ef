//! What a user does, one file each. The command line calls these and nothing below them.

pub mod json;
pub mod new;
pub mod pictures;
pub mod safety;
pub mod throw;
pub mod volley;
