//! A written project with its truth hidden: what is not known drawn once, what differs from throw to throw drawn
//! each time, every throw through launcher and air.

use super::{Ask, Happened, Look, ReadingSd, watch};
use crate::flight::{Accuracy, Plane, Until, fly_to_accuracy};
use crate::floor::shot::{Landing, Shot, TimedFall, WallHeight};
use crate::launcher::bite::{Footprint, random_orientation};
use crate::launcher::guide_quality::with_phase;
use crate::launcher::{Bite, Passage};
use crate::numerics::random::{Stream, hash};
use crate::project::{Project, Spot};
use crate::scatter::inputs::{Input, inputs, sideways, varied};
use crate::scatter::{Cause, Scope};
use crate::shot::{Chain, Exit};
use crate::target::Outcome;

/// How wide that is drawn which no key of the project file has a spread for; one standard deviation each.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Doubts {
    /// Exit angle against the one computed.
    pub angle_rad: f64,
    /// Direction against the line to the target.
    pub aim_rad: f64,
    /// Speed from piece to piece.
    pub piece_frac: f64,
    /// Speed with each place in the volley.
    pub per_place_frac: f64,
    /// Speed at the last place besides.
    pub last_frac: f64,
    /// Wheel speed at release, from throw to throw.
    pub wheel_frac: f64,
    /// Share of throws that are much wilder.
    pub flyer_frac: f64,
}

impl Default for Doubts {
    /// Half of one per cent to one per cent and a degree or two: common practice, no source.
    fn default() -> Doubts {
        Doubts {
            angle_rad: 1.5 * std::f64::consts::PI / 180.0,
            aim_rad: std::f64::consts::PI / 180.0,
            piece_frac: 0.006,
            per_place_frac: 0.004,
            last_frac: 0.005,
            wheel_frac: 0.005,
            flyer_frac: 0.03,
        }
    }
}

/// Why a machine does not throw.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NoThrow {
    /// The piece does not come through; why, in plain words.
    Refused(&'static str),
    /// A number asked for is not one that makes sense.
    Senseless(&'static str),
}

impl NoThrow {
    /// In plain words.
    pub fn words(&self) -> &'static str {
        match self {
            NoThrow::Refused(why) | NoThrow::Senseless(why) => why,
        }
    }
}

/// A robot as built: its project with everything untested drawn once.
#[derive(Clone, Debug)]
pub struct HiddenProject {
    /// The truth, to be looked at afterwards.
    pub truth: Project,
    /// Exit angle less the one computed.
    pub angle_error_rad: f64,
    /// Direction less the line to the target, left positive.
    pub aim_error_rad: f64,
    /// Change of ln exit speed with each place in the volley.
    pub per_place: f64,
    /// Change of ln exit speed at the last place besides.
    pub at_last: f64,
    /// How far readings are off.
    pub reading: ReadingSd,
    doubts: Doubts,
    seed: u64,
    thrown_count: u64,
}

/// Streams of one seed: truth, pieces, throws.
const TRUTH_STREAM: u64 = 0x6875_6c6c;
const PIECE_STREAM: u64 = 0x6d61_726b;
const THROW_STREAM: u64 = 0x746f_7373;
/// Method: how much wilder a flyer is than other throws.
const FLYER_SCALE: f64 = 5.0;
/// Method: time limit of a flight.
const LONGEST_S: f64 = 12.0;

impl HiddenProject {
    /// Builds the robot of a project: the same robot for the same project and seed.
    pub fn drawn(project: &Project, seed: u64, doubts: Doubts) -> HiddenProject {
        let unknown: Vec<Input> = inputs(project, 0, Scope::Untested)
            .into_iter()
            .filter(|i| i.cause == Cause::Untested && !i_is_repeat(i))
            .collect();
        let mut stream = Stream::new(seed, TRUTH_STREAM);
        let z: Vec<f64> = unknown.iter().map(|i| i.deviate(stream.uniform())).collect();
        let mut normal = |sd: f64| sd * stream.normal();
        HiddenProject {
            truth: varied(project, &unknown, &z),
            angle_error_rad: normal(doubts.angle_rad),
            aim_error_rad: normal(doubts.aim_rad),
            per_place: normal(doubts.per_place_frac),
            at_last: normal(doubts.last_frac),
            reading: ReadingSd::default(),
            doubts,
            seed,
            thrown_count: 0,
        }
    }

    /// The same robot after a number of throws, so that a practice session can be put down and taken up again.
    pub fn after(mut self, thrown_count: u64) -> HiddenProject {
        self.thrown_count = thrown_count;
        self
    }

    /// How often it threw.
    pub fn thrown_count(&self) -> u64 {
        self.thrown_count
    }

    /// Throws once; what is seen depends on the seed, on how often it threw before, and on what is asked.
    ///
    /// # Errors
    /// Why it does not throw, in plain words; the count of throws goes up all the same.
    pub fn throw(&mut self, ask: &Ask, look: &Look) -> Result<Shot, NoThrow> {
        let mut stream = Stream::new(hash(self.seed, THROW_STREAM), self.thrown_count);
        self.thrown_count += 1;
        let happened = self.happens(ask, look, &mut stream)?;
        let (seen, before, after) = watch(&happened, look, &self.reading, &mut stream);
        Ok(ask.shot(seen, before, after))
    }

    fn happens(&self, ask: &Ask, look: &Look, stream: &mut Stream) -> Result<Happened, NoThrow> {
        if !(ask.setpoint_radps > 0.0 && ask.setpoint_radps.is_finite()) {
            return Err(NoThrow::Senseless("the wheel speed must be more than zero"));
        }
        if !(ask.distance_m.is_finite() && ask.offset_m.is_finite() && ask.turned_rad.is_finite()) {
            return Err(NoThrow::Senseless(
                "the spot needs a distance, an offset and a turn",
            ));
        }
        // The spot of the throw stands alone, so that its own spreads are the only ones of a spot.
        let mut project = self.truth.clone();
        let spot = Spot {
            name: String::new(),
            distance_m: ask.distance_m,
            offset_m: ask.offset_m,
            heading_rad: 0.0,
        };
        let index = project
            .spots
            .iter()
            .position(|s| s.distance_m == ask.distance_m && s.offset_m == ask.offset_m);
        let index = match index {
            Some(index) => index,
            None => {
                project.spots.push(spot);
                project.spots.len() - 1
            }
        };
        let wild = if stream.uniform() < self.doubts.flyer_frac {
            FLYER_SCALE
        } else {
            1.0
        };
        let each = inputs(&project, index, Scope::Throws);
        let z: Vec<f64> = each.iter().map(|i| wild * i.deviate(stream.uniform())).collect();
        let wheel = wild * self.doubts.wheel_frac * stream.normal();
        let turns = [stream.uniform(), stream.uniform(), stream.uniform()];
        let phase_rad = std::f64::consts::TAU * stream.uniform();
        let thrown = varied(&project, &each, &z);
        let (shift_m, turn_rad) = sideways(&each, &z);
        let mut chain = Chain::of(&thrown);
        chain.launcher = with_phase(&chain.launcher, phase_rad);
        let mut bitten_rad = 0.0;
        if let Some(skin) = thrown.skin() {
            let foot = Footprint::of(&skin, &thrown.wheel_set(), thrown.squeeze_m(), 0.0);
            let imprint = foot.imprint(&skin, random_orientation(turns));
            bitten_rad = imprint.lean_rad.iter().sum::<f64>() / imprint.lean_rad.len() as f64;
            chain.launcher.bite = Some(Bite {
                depth_m: imprint.depth_m,
            });
        }
        let piece = ask.piece.map_or(0.0, |p| {
            Stream::new(hash(self.seed, PIECE_STREAM), u64::from(p)).normal()
        });
        let volley = self.per_place * f64::from(ask.place) + if ask.last { self.at_last } else { 0.0 };
        // What the volley leaves of the wheel speed is read by the sensor; what the piece does is not.
        let before_radps = ask.setpoint_radps * libm::exp(wheel + volley);
        let release = match chain.release(&ask.setting, before_radps, false) {
            Passage::Thrown(r) => r,
            Passage::Refused { why, .. } => return Err(NoThrow::Refused(why)),
        };
        let mut exit = Exit::of(&release);
        exit.speed_mps *= libm::exp(self.doubts.piece_frac * piece);
        exit.angle_rad += self.angle_error_rad;
        let here = thrown
            .spots
            .get(index)
            .ok_or(NoThrow::Senseless("there is no such spot"))?;
        let turned_rad = ask.turned_rad + self.aim_error_rad + turn_rad + bitten_rad;
        let mut stance = chain.stance_led(here, turned_rad);
        // A release beside the middle of the wheel is a target beside the line.
        stance.at.centre_line_m -= shift_m;
        let arrival = chain.fly(&exit, &stance);
        let until = Until {
            time_s: LONGEST_S,
            floor_m: 0.0,
        };
        let start = exit.state(&stance);
        let free = fly_to_accuracy(&chain.ball, &chain.medium, &start, &until, Accuracy::Quick);
        let sight = |p: [f64; 3]| {
            let (s, c) = (libm::sin(stance.sight_rad), libm::cos(stance.sight_rad));
            [p[0], p[1] * c - p[0] * s]
        };
        let radius_m = 0.5 * chain.ball.diameter_m;
        let floor = free.landing(radius_m).map(|p| {
            let [along_m, across_m] = sight(p.position_m);
            (
                Landing {
                    along_m,
                    across_m: across_m + shift_m,
                    height_m: radius_m,
                },
                p.time_s,
            )
        });
        let wall = look.wall_at_m.and_then(|distance_m| {
            let distance_m = distance_m - radius_m;
            let plane = Plane {
                point_m: [distance_m, 0.0, 0.0],
                normal: [1.0, 0.0, 0.0],
            };
            free.crossing(&plane).map(|p| WallHeight {
                distance_m,
                height_m: p.position_m[2],
            })
        });
        let crossing = chain.crossing(&exit, &stance).map(|c| {
            (
                [c.along_m, c.across_m],
                TimedFall {
                    time_s: c.state.time_s,
                    height_m: self.truth.target.centre_height_m(),
                },
            )
        });
        let outcome = match arrival.outcome {
            // A helper at the target calls what never came to it by where it fell.
            Outcome::None if crossing.is_none() => Outcome::Short,
            other => other,
        };
        Ok(Happened {
            exit_speed_mps: exit.speed_mps,
            exit_angle_rad: exit.angle_rad,
            floor,
            wall,
            crossing,
            outcome,
            wheel_radps: [before_radps, release.wheel_after_radps[0]],
        })
    }
}

/// How well a knob comes back is drawn anew whenever it is set, not with the robot.
fn i_is_repeat(input: &Input) -> bool {
    matches!(&input.acts, crate::scatter::inputs::Acts::Adds(key) if key.starts_with("setting."))
}
