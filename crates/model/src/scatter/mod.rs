//! Why throws differ: what varies from throw to throw, sent through the whole chain.

pub mod inputs;
mod response;
mod speed;
mod summary;
mod thrower;
pub use summary::{
    Chance, Figure, OUTCOMES, PlaceInVolley, REPLICATE_COUNT, SamplePlan, SpotScatter, centred,
    centring_ratio, sample,
};
pub use thrower::{Crossings, Detail, SETPOINT_RANGE, Thrower};
//mod budget;
//pub use budget::{Budget, CauseShare, Share, alone, budget};
