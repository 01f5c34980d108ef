//! Why throws differ: what varies from throw to throw, sent through the whole chain.

pub mod inputs;
mod response;
mod speed;
mod thrower;
