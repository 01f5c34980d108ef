//! What a user does, one file each. The command line calls these and nothing below them.

pub mod aim;
pub mod begin;
pub mod bench;
pub mod draw;
pub mod explain;
pub mod feed;
pub mod floor;
pub mod frame;
pub mod hand;
pub mod helps;
pub mod history;
pub mod json;
mod launcher_pictures;
pub mod new;
pub mod order;
pub mod pictures;
pub mod quantities;
mod room_pictures;
pub mod ruler;
pub mod safety;
mod scatter_pictures;
pub mod season;
pub mod seek;
pub mod throw;
pub mod volley;
pub mod wrap;
