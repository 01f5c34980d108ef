//! One test shot: how the machine was set, and whatever was seen of it.

use crate::launcher::Setting;
use crate::target::Outcome;

/// Where a piece came down, by tape.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Landing {
    /// Along the target's axis from the plumb line of the wheel axle.
    pub along_m: f64,
    /// To the left of the line from the axle to the target's centre.
    pub across_m: f64,
    /// Height of the piece's centre there: half its diameter on the floor.
    pub height_m: f64,
}

/// Height of the piece's centre at a wall that it met.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WallHeight {
    /// Horizontal distance of the wall from the axle, less the piece's radius.
    pub distance_m: f64,
    /// Height.
    pub height_m: f64,
}

/// Time from release until the piece's centre came down through a height; with the height of the centre of the opening,
/// until it came through the plane of the opening.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TimedFall {
    /// Time.
    pub time_s: f64,
    /// Height.
    pub height_m: f64,
}

/// What was seen of a shot: any mix of these, or nothing.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Seen {
    /// Landing by tape.
    pub landing: Option<Landing>,
    /// Height at a wall.
    pub wall: Option<WallHeight>,
    /// Time of flight.
    pub fall: Option<TimedFall>,
    /// By how much it missed the centre of the opening, by eye: beyond it, and to the left of it.
    pub miss_m: Option<[f64; 2]>,
    /// What became of it.
    pub outcome: Option<Outcome>,
    /// Speed at the exit, from a film.
    pub exit_speed_mps: Option<f64>,
    /// Direction at the exit above the level, from a film.
    pub exit_angle_rad: Option<f64>,
}

/// One test shot as logged.
#[derive(Clone, Debug, PartialEq)]
pub struct Shot {
    /// Which session, counted from the first in the log.
    pub session_index: usize,
    /// Horizontal distance from the plumb line of the axle to the near rim.
    pub distance_m: f64,
    /// Sideways distance of the spot from the target's axis, left positive.
    pub offset_m: f64,
    /// How far the launcher was turned from the line to the target's centre on purpose, left positive.
    pub turned_rad: f64,
    /// Where the mechanical knobs stood.
    pub setting: Setting,
    /// Wheel speed asked for.
    pub setpoint_radps: f64,
    /// Measured speed just before the piece touched the wheel.
    pub before_radps: Option<f64>,
    /// Measured speed just after it left.
    pub after_radps: Option<f64>,
    /// Battery voltage before the throw.
    pub battery_v: Option<f64>,
    /// Which piece it was, where pieces carry a mark.
    pub piece: Option<u32>,
    /// Place in its volley, from 0.
    pub place: u32,
    /// It was the last of its volley.
    pub last: bool,
    /// What was seen.
    pub seen: Seen,
    /// The piece jammed: it says something about the feed and nothing about the aim.
    pub jammed: bool,
    /// Somebody had a reason to leave it out of the fit.
    pub left_out: bool,
}
