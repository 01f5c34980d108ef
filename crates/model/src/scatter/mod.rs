//! Why throws differ: what varies from throw to throw, sent through the whole chain.
//!
//! [`inputs`] lists what varies. A [`Thrower`] draws it and sends it through launcher and air; [`sample`] counts
//! what becomes of the throws, [`budget`] says which cause makes how much of the variance, [`remedies`] what would
//! help, and [`report`] does all of it for every spot.

mod budget;
pub mod inputs;
mod map;
mod remedy;
mod report;
mod response;
mod shown;
pub mod speed;
mod summary;
mod thrower;

pub use budget::{Budget, CauseShare, Share, alone, budget};
pub use inputs::{Cause, Scope, is_doubt};
pub use map::{MAP_THROWS, MapPlace, MapPlan, PlaceHit, hit_map};
pub use remedy::{Lever, Remedy, ready_s, remedies, with_inertia};
pub use report::{NoScatter, ScatterPlan, SpotReport, SpotResult, report, report_until};
pub use summary::{
    Chance, Figure, OUTCOMES, PlaceInVolley, REPLICATE_COUNT, SamplePlan, SpotScatter, centred,
    centring_ratio, sample,
};
pub use thrower::{Crossings, Detail, SETPOINT_RANGE_FRAC, Thrower};
