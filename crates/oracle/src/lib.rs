//! The model's feed in a general-purpose rigid-body library, to hold one engine against the other.
//!
//! Not among the default members: the library takes longer to compile than the model. Run `cargo test -p arcwright-oracle`,
//! and `cargo run -p arcwright-oracle` for the tables of `docs/theory/feed.md`.
//!
//! The same hopper, the same draws, the same rules of a load; bodies, contacts and motors are the library's. What it has
//! no idea of is refused ([`rig::Unknown`]): bands, and rolling resistance.

pub mod agree;
pub mod arch;
pub mod bridge;
mod disc;
pub mod funnel;
pub mod load;
pub mod nip;
pub mod pipe;
pub mod rig;
