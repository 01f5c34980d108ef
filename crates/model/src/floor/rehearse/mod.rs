//! Rehearsal: a machine whose truth is hidden, to practise a session of test shots on before the real one, and to
//! measure rules for tuning against a truth that is known afterwards.
//!
//! [`HiddenProject`] is a written project with its doubts drawn once; [`HiddenSimple`] the plain model of the
//! theory text, fast enough to play tens of thousands of shots. Both answer a throw as a helper on the floor would
//! note it: [`watch`] turns what happened into what is seen, with the reading errors of people and tools.

mod machine;
mod simple;

pub use machine::{Doubts, HiddenProject, NoThrow};
pub use simple::{HiddenSimple, SimplePrior, SimpleRing, SimpleTruth, Trouble};

use super::shot::{Landing, Seen, Shot, TimedFall, WallHeight};
use crate::launcher::Setting;
use crate::numerics::random::Stream;
use crate::target::Outcome;

/// What is asked of the machine for one shot.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ask {
    /// Which session, counted from the first.
    pub session_index: usize,
    /// Horizontal distance from the plumb line of the axle to the near rim.
    pub distance_m: f64,
    /// Sideways distance of the spot from the target's axis, left positive.
    pub offset_m: f64,
    /// How far the launcher is turned from the line to the target's centre on purpose, left positive.
    pub turned_rad: f64,
    /// Where the mechanical knobs stand.
    pub setting: Setting,
    /// Wheel speed asked for.
    pub setpoint_radps: f64,
    /// Number on the piece, where pieces carry one.
    pub piece: Option<u32>,
    /// Place in its volley, from 0.
    pub place: u32,
    /// It is the last of its volley.
    pub last: bool,
}

impl Ask {
    /// The shot as a helper logs it.
    fn shot(&self, seen: Seen, before_radps: Option<f64>, after_radps: Option<f64>) -> Shot {
        Shot {
            session_index: self.session_index,
            distance_m: self.distance_m,
            offset_m: self.offset_m,
            turned_rad: self.turned_rad,
            setting: self.setting,
            setpoint_radps: self.setpoint_radps,
            before_radps,
            after_radps,
            battery_v: None,
            piece: self.piece,
            place: self.place,
            last: self.last,
            seen,
            jammed: false,
            left_out: false,
        }
    }
}

/// What the people on the floor look at.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Look {
    /// Tape to where it comes down on a clear floor; nothing is then seen at the target.
    pub tape: bool,
    /// Mark on a wall at this horizontal distance from the axle.
    pub wall_at_m: Option<f64>,
    /// A clock: until it is through the height of the opening, or down on the floor where tape is used.
    pub clock: bool,
    /// How far beside the centre it passed, by eye.
    pub eye: bool,
    /// What became of it.
    pub outcome: bool,
    /// Wheel speed before.
    pub before: bool,
    /// Wheel speed after.
    pub after: bool,
    /// A film of the exit.
    pub film: bool,
}

/// How far readings are off, one standard deviation each.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReadingSd {
    /// Tape on the floor, each way.
    pub tape_m: f64,
    /// Mark on a wall.
    pub wall_m: f64,
    /// Clock.
    pub clock_s: f64,
    /// Miss by eye, each way.
    pub eye_m: f64,
    /// Wheel speed.
    pub wheel_radps: f64,
    /// Exit speed from a film, as a share.
    pub film_speed_frac: f64,
    /// Exit angle from a film.
    pub film_angle_rad: f64,
}

impl Default for ReadingSd {
    /// A tape and a mark within 3 cm, a phone's film for time within 0.02 s, an eye within 8 cm, a wheel sensor
    /// within 1 rad/s, a film of the exit within 2 % and 1°: common practice, no source.
    fn default() -> ReadingSd {
        ReadingSd {
            tape_m: 0.03,
            wall_m: 0.03,
            clock_s: 0.02,
            eye_m: 0.08,
            wheel_radps: 1.0,
            film_speed_frac: 0.02,
            film_angle_rad: std::f64::consts::PI / 180.0,
        }
    }
}

/// What truly happened in one throw, as far as anybody could see any of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Happened {
    /// Exit speed.
    pub exit_speed_mps: f64,
    /// Exit angle above the level.
    pub exit_angle_rad: f64,
    /// Down on the clear floor: along, across, height, time.
    pub floor: Option<(Landing, f64)>,
    /// Height of the centre at the wall asked for.
    pub wall: Option<WallHeight>,
    /// Miss of the centre in the plane of the opening, along and across, and when.
    pub crossing: Option<([f64; 2], TimedFall)>,
    /// What became of it.
    pub outcome: Outcome,
    /// Wheel speed before and after.
    pub wheel_radps: [f64; 2],
}

/// What is seen of a throw, and the wheel speeds read before and after.
pub fn watch(
    happened: &Happened,
    look: &Look,
    sd: &ReadingSd,
    stream: &mut Stream,
) -> (Seen, Option<f64>, Option<f64>) {
    // Every reading is drawn whether it is taken or not, so that the throws that follow do not depend on it.
    let z = [0; 10].map(|_| stream.normal());
    let mut seen = Seen::default();
    if look.tape
        && let Some((at, time_s)) = happened.floor
    {
        seen.landing = Some(Landing {
            along_m: at.along_m + sd.tape_m * z[0],
            across_m: at.across_m + sd.tape_m * z[1],
            height_m: at.height_m,
        });
        if look.clock {
            seen.fall = Some(TimedFall {
                time_s: time_s + sd.clock_s * z[2],
                height_m: at.height_m,
            });
        }
    }
    if let (Some(_), Some(w)) = (look.wall_at_m, happened.wall) {
        seen.wall = Some(WallHeight {
            distance_m: w.distance_m,
            height_m: w.height_m + sd.wall_m * z[3],
        });
    }
    if !look.tape {
        if look.outcome {
            seen.outcome = Some(happened.outcome);
        }
        if let Some((miss, fall)) = happened.crossing {
            if look.eye {
                seen.miss_m = Some([miss[0] + sd.eye_m * z[4], miss[1] + sd.eye_m * z[5]]);
            }
            if look.clock {
                seen.fall = Some(TimedFall {
                    time_s: fall.time_s + sd.clock_s * z[2],
                    height_m: fall.height_m,
                });
            }
        }
    }
    if look.film {
        seen.exit_speed_mps = Some(happened.exit_speed_mps * (1.0 + sd.film_speed_frac * z[6]));
        seen.exit_angle_rad = Some(happened.exit_angle_rad + sd.film_angle_rad * z[7]);
    }
    let read = |wanted: bool, true_radps: f64, z: f64| {
        (wanted && true_radps.is_finite()).then_some(true_radps + sd.wheel_radps * z)
    };
    let [before, after] = happened.wheel_radps;
    (
        seen,
        read(look.before, before, z[8]),
        read(look.after, after, z[9]),
    )
}

#[cfg(test)]
mod tests;
