//! The chain run backwards: which wheel speed centres the crossing from each spot, and whether
//! one mechanical setting serves them all.

mod curve;
mod doubt;
mod lead;
mod lookup;
mod needed;
mod room;
mod serve;
mod slopes;
mod solve;

pub use curve::{ExitCurve, ExitPoint};
pub use doubt::{Doubt, UNTESTED};
pub use lead::{Moved, MovingSd, lead, moved};
pub use lookup::{Lookup, LookupRow, Within};
pub use needed::{Needed, needed};
pub use room::{Depth, End, FasterNeed, Knob, KnobUse, Room, RoomCase, SpeedUse, SpotRoom, TravelNeed, room};
pub use serve::{
    BestSetting, SEARCH_POINTS, Shortfall, best_setting, merit, nearest_served, shortfall, snap, spot_best,
};
pub use slopes::{changed, slopes_m};
pub use solve::{Arc, Companion, Miss, Solution, SpotAim, TableRow, aim_all, aim_spot, table};
