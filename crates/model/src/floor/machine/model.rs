//! The project's own chain as a forward model.

use rayon::prelude::*;

use super::flights::{Answer, Ask, KNOBS, Lattice, Met, Plan};
use super::layout::{Parameters, input};
use super::prior::Before;
use crate::aim::ExitCurve;
use crate::finding::Finding;
use crate::flight::Plane;
use crate::floor::call::Edges;
use crate::floor::forward::{Forward, Share};
use crate::floor::likelihood::{Call, Channel, Prediction, Zone};
use crate::floor::shot::Shot;
use crate::launcher::{Passage, Setting};
use crate::limits::CURVE_POINTS;
use crate::project::Spot;
use crate::shot::{Chain, Exit};
use crate::target::{Outcome, Outline, Placement};

/// Standard deviations of the measuring itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measuring {
    /// Of a tape measure to the mark of a landing.
    pub tape_sd_m: f64,
    /// Of a time of flight.
    pub time_sd_s: f64,
    /// Of a height at a wall.
    pub wall_sd_m: f64,
    /// Of a wheel speed.
    pub wheel_sd_radps: f64,
    /// Of a miss judged by eye.
    pub eye_sd_m: f64,
    /// Of a speed from a film, as a share.
    pub film_speed_sd_frac: f64,
    /// Of an angle from a film.
    pub film_angle_sd_rad: f64,
}

/// Common practice, no source: a tape and a mark on the floor, a telephone at 60 frames a second, an eye at the target.
impl Default for Measuring {
    fn default() -> Measuring {
        Measuring {
            tape_sd_m: 0.03,
            time_sd_s: 0.02,
            wall_sd_m: 0.03,
            wheel_sd_radps: 1.0,
            eye_sd_m: 0.08,
            film_speed_sd_frac: 0.02,
            film_angle_sd_rad: 0.01,
        }
    }
}

/// The exit at a setting, worked out once.
struct Exits {
    setting: Setting,
    curve: ExitCurve,
    dip_coeff: f64,
}

/// One shot as the model needs it: what the project computes for it, and its flights near some throw.
pub struct LoggedShot {
    pub(super) shot: Shot,
    pub(super) exit: Exit,
    /// What a throw costs the wheel: drop of the squared speed by the square of the exit speed.
    dip_coeff: f64,
    /// Direction of the throw, and of the line to the centre of the opening.
    heading_rad: f64,
    sight_rad: f64,
    at: Placement,
    answers: Answers,
}

#[derive(Default)]
struct Answers {
    landing: Option<Answer>,
    fall: Option<Answer>,
    wall: Option<Answer>,
    opening: Option<Answer>,
}

/// The project's chain, the parameters of a log, and how things are measured.
pub struct Machine {
    pub(super) chain: Chain,
    pub(super) parameters: Parameters,
    pub(super) before: Before,
    pub(super) measuring: Measuring,
    plan: Plan,
}

impl Machine {
    pub(super) fn new(
        chain: Chain,
        parameters: Parameters,
        before: Before,
        measuring: Measuring,
    ) -> Option<Machine> {
        Some(Machine {
            chain,
            parameters,
            before,
            measuring,
            plan: Plan::new()?,
        })
    }
}

/// Works out the exits of all shots: one exit curve for each setting, one throw at its middle speed for the dip.
pub(super) fn work_out(chain: &Chain, shots: &[(usize, &Shot)]) -> Result<Vec<LoggedShot>, Finding> {
    let mut worked: Vec<Exits> = Vec::new();
    for (_, shot) in shots {
        if worked.iter().any(|w| w.setting == shot.setting) {
            continue;
        }
        let same = || shots.iter().filter(|(_, s)| s.setting == shot.setting);
        let mean = same().map(|(_, s)| wheel_of(s)).sum::<f64>() / same().count().max(1) as f64;
        let dip_coeff = match chain.release(&shot.setting, mean, false) {
            Passage::Thrown(r) => {
                let [x, z] = r.velocity_mps;
                let dropped = mean * mean - r.wheel_after_radps[0].powi(2);
                dropped / (x * x + z * z)
            }
            Passage::Refused { .. } => f64::NAN,
        };
        let curve = ExitCurve::of(chain, &shot.setting, CURVE_POINTS);
        worked.push(Exits {
            setting: shot.setting,
            curve,
            dip_coeff,
        });
    }
    shots
        .iter()
        .map(|(index, shot)| {
            let wheel_radps = wheel_of(shot);
            let entry = worked.iter().find(|w| w.setting == shot.setting);
            let exit = entry.and_then(|w| w.curve.at(wheel_radps)).filter(sound);
            let (Some(entry), Some(exit)) = (entry, exit) else {
                return Err(Finding::new(
                    "shot-not-thrown",
                    format!("shot[{index}]"),
                    format!(
                        "by the project nothing comes out at the wheel speed and setting of shot {}",
                        index + 1
                    ),
                    "check the wheel speed and the setting written for this shot, and the launcher's values in the project",
                ));
            };
            let spot = Spot {
                name: String::new(),
                distance_m: shot.distance_m,
                offset_m: shot.offset_m,
                heading_rad: 0.0,
            };
            let stance = chain.stance(&spot);
            Ok(LoggedShot {
                shot: (*shot).clone(),
                exit,
                dip_coeff: entry.dip_coeff,
                heading_rad: stance.heading_rad + shot.turned_rad,
                sight_rad: stance.sight_rad,
                at: stance.at,
                answers: Answers::default(),
            })
        })
        .collect()
}

fn sound(exit: &Exit) -> bool {
    let e = exit;
    let all = [e.speed_mps, e.angle_rad, e.spin_radps, e.forward_m, e.height_m];
    all.iter().all(|x| x.is_finite()) && e.speed_mps > 0.0
}

/// Speed of the wheel as the piece met it: measured, or else the one asked for.
fn wheel_of(shot: &Shot) -> f64 {
    shot.before_radps.unwrap_or(shot.setpoint_radps)
}

/// The vertical plane across the frame at a distance, and the level one at a height; both crossed on the way out or down.
fn upright(distance_m: f64) -> Plane {
    Plane {
        point_m: [distance_m, 0.0, 0.0],
        normal: [1.0, 0.0, 0.0],
    }
}

fn level(height_m: f64) -> Plane {
    Plane {
        point_m: [0.0, 0.0, height_m],
        normal: [0.0, 0.0, -1.0],
    }
}

/// A vector turned to the left about the vertical.
fn turned([x, y, z]: [f64; 3], by_rad: f64) -> [f64; 3] {
    let (s, c) = by_rad.sin_cos();
    [x * c - y * s, x * s + y * c, z]
}

/// A plane of the field in the frame of a launcher that throws in a direction.
fn seen_from(plane: &Plane, heading_rad: f64) -> Plane {
    Plane {
        point_m: turned(plane.point_m, -heading_rad),
        normal: turned(plane.normal, -heading_rad),
    }
}

impl Machine {
    /// Flies the lattice of every shot about its inputs at these parameters. The index of a shot whose flights
    /// give no number otherwise.
    pub(super) fn anchor(
        &self,
        shots: &mut [LoggedShot],
        parameters: &[f64],
        unit: [f64; KNOBS],
    ) -> Result<(), usize> {
        let done: Vec<Option<Answers>> = shots
            .par_iter()
            .map(|s| {
                let inputs = crate::floor::forward::inputs_of(self, parameters, s);
                let centre = [input::SPEED, input::ANGLE, input::DRAG, input::LIFT].map(|k| inputs[k]);
                self.answers(s, Lattice { centre, unit })
            })
            .collect();
        for (i, (shot, answers)) in shots.iter_mut().zip(done).enumerate() {
            shot.answers = answers.ok_or(i)?;
        }
        Ok(())
    }

    /// Where a clock stops that is said to stop at a height: in the opening, if that is the height of its centre. The
    /// piece comes through an upright opening above or below the centre, and may still rise there.
    fn clocked(&self, s: &LoggedShot, height_m: f64) -> Plane {
        /// Rounding: a height that was written out and read again.
        const SAME_M: f64 = 1e-4;
        let target = &self.chain.target;
        if (height_m - target.centre_height_m()).abs() < SAME_M {
            target.plane(&s.at)
        } else {
            level(height_m)
        }
    }

    fn answers(&self, s: &LoggedShot, lattice: Lattice) -> Option<Answers> {
        let seen = &s.shot.seen;
        let asked = |plane: Plane, from_above: bool| Ask { plane, from_above };
        let heading = s.heading_rad;
        let asks = [
            seen.landing.map(|l| asked(level(l.height_m), true)),
            seen.fall
                .map(|f| asked(seen_from(&self.clocked(s, f.height_m), heading), true)),
            seen.wall
                .map(|w| asked(seen_from(&upright(w.distance_m), heading), false)),
            (seen.miss_m.is_some() || zone(seen.outcome).is_some())
                .then(|| asked(seen_from(&self.chain.target.plane(&s.at), heading), true)),
        ];
        let given: Vec<Ask> = asks.iter().flatten().copied().collect();
        // Wind blows over the field; the frame is that of the launcher.
        let mut medium = self.chain.medium;
        medium.wind_mps = turned(medium.wind_mps, -heading);
        let mut found = self
            .plan
            .answers(&s.exit, &self.chain.ball, &medium, &given, lattice)?
            .into_iter();
        let mut next = |ask: &Option<Ask>| ask.and_then(|_| found.next());
        Some(Answers {
            landing: next(&asks[0]),
            fall: next(&asks[1]),
            wall: next(&asks[2]),
            opening: next(&asks[3]),
        })
    }
}

/// A number with its derivatives by the accidents.
type Number = (f64, [f64; 3]);

/// Crossing of a plane when the whole throw is turned by a small angle about the vertical through the axle:
/// the place turns with it, and what it then lies off the plane is made up along the velocity.
struct Turned {
    place: [Number; 3],
    time: Number,
}

fn crossing(met: &Met, by_rad: f64, heading_rad: f64, plane: &Plane) -> Turned {
    let all = heading_rad + by_rad;
    let component = |k: usize| -> [f64; 3] { std::array::from_fn(|i| met.place_m[i][k]) };
    let (place, by_speed, by_angle) = (
        turned(component(0), all),
        turned(component(1), all),
        turned(component(2), all),
    );
    let by_aside = [-place[1], place[0], 0.0];
    let velocity = turned(met.velocity_mps, all);
    let dot = |a: [f64; 3]| a[0] * plane.normal[0] + a[1] * plane.normal[1] + a[2] * plane.normal[2];
    let through = dot(velocity);
    // A level plane is not left by turning; the others are left by little.
    let level = plane.normal[0] == 0.0 && plane.normal[1] == 0.0;
    let later = |v: [f64; 3]| {
        if level || through.abs() < LEAST_THROUGH_MPS {
            0.0
        } else {
            -dot(v) / through
        }
    };
    // Along the path to the plane. For a place that was moved back, nothing more is done.
    let off: [f64; 3] = std::array::from_fn(|i| place[i] - plane.point_m[i]);
    let missing = if level { 0.0 } else { later(off) };
    let delay = if missing.abs() < LONGEST_DELAY_S {
        missing
    } else {
        0.0
    };
    let by_aside_s = later(by_aside);
    Turned {
        place: std::array::from_fn(|i| {
            let v = velocity[i];
            (
                place[i] + v * delay,
                [by_speed[i], by_angle[i], by_aside[i] + v * by_aside_s],
            )
        }),
        time: (met.time_s[0] + delay, [met.time_s[1], met.time_s[2], by_aside_s]),
    }
}

/// Physical: a piece that crosses a plane slower than this slides along it.
const LEAST_THROUGH_MPS: f64 = 0.05;
/// Physical: turning by what a fit considers changes the time of a crossing by no more.
const LONGEST_DELAY_S: f64 = 0.1;

impl Forward for Machine {
    type Shot = LoggedShot;

    fn predict(&self, inputs: &[f64], shot: &LoggedShot) -> Option<Prediction> {
        let inputs: &[f64; input::COUNT] = inputs.try_into().ok()?;
        self.expected(inputs, shot, &shot.answers.at(&knobs_of(inputs)))
    }

    /// Scatter, direction and dip need no new flights.
    fn predict_all(&self, inputs: &[Vec<f64>], shot: &LoggedShot) -> Vec<Option<Prediction>> {
        let mut known: Vec<([u64; KNOBS], Mets)> = Vec::new();
        let mut one = |inputs: &Vec<f64>| {
            let inputs: &[f64; input::COUNT] = inputs.as_slice().try_into().ok()?;
            let knobs = knobs_of(inputs);
            let key = knobs.map(f64::to_bits);
            let mets = match known.iter().find(|(k, _)| *k == key) {
                Some((_, mets)) => *mets,
                None => {
                    let mets = shot.answers.at(&knobs);
                    known.push((key, mets));
                    mets
                }
            };
            self.expected(inputs, shot, &mets)
        };
        inputs.iter().map(&mut one).collect()
    }

    fn design(&self, shot: &LoggedShot) -> Option<Vec<Share>> {
        Some(self.parameters.design(&shot.shot))
    }

    fn input_count(&self) -> usize {
        input::COUNT
    }

    fn leading(&self) -> &[usize] {
        &[0, 1]
    }
}

/// The inputs that change a flight.
fn knobs_of(inputs: &[f64; input::COUNT]) -> [f64; KNOBS] {
    [input::SPEED, input::ANGLE, input::DRAG, input::LIFT].map(|k| inputs[k])
}

/// The crossings of one shot's flight.
#[derive(Clone, Copy, Debug)]
struct Mets {
    landing: Option<Met>,
    fall: Option<Met>,
    wall: Option<Met>,
    opening: Option<Met>,
}

impl Answers {
    fn at(&self, knobs: &[f64; KNOBS]) -> Mets {
        let met = |answer: &Option<Answer>| answer.as_ref().map(|a| a.at(knobs));
        Mets {
            landing: met(&self.landing),
            fall: met(&self.fall),
            wall: met(&self.wall),
            opening: met(&self.opening),
        }
    }
}

impl Machine {
    fn expected(&self, inputs: &[f64; input::COUNT], shot: &LoggedShot, mets: &Mets) -> Option<Prediction> {
        let knobs = knobs_of(inputs);
        let aside = inputs[input::ASIDE];
        let m = &self.measuring;
        let seen = &shot.shot.seen;
        let speed_mps = shot.exit.speed_mps * knobs[0].exp();
        let mut channels = Vec::with_capacity(9);
        let meet = |met: &Met, plane: &Plane| crossing(met, aside, shot.heading_rad, plane);
        if let (Some(landing), Some(answer)) = (seen.landing, &mets.landing) {
            let met = meet(answer, &level(landing.height_m));
            let ([x, y, _], (s, c)) = (met.place, shot.sight_rad.sin_cos());
            channels.push(channel(landing.along_m, x, m.tape_sd_m));
            channels.push(channel(landing.across_m, mixed(x, -s, y, c), m.tape_sd_m));
        }
        if let (Some(fall), Some(answer)) = (seen.fall, &mets.fall) {
            let met = meet(answer, &self.clocked(shot, fall.height_m));
            channels.push(channel(fall.time_s, met.time, m.time_sd_s));
        }
        if let (Some(wall), Some(answer)) = (seen.wall, &mets.wall) {
            let met = meet(answer, &upright(wall.distance_m));
            channels.push(channel(wall.height_m, met.place[2], m.wall_sd_m));
        }
        if let (Some(before), Some(after)) = (shot.shot.before_radps, shot.shot.after_radps)
            && shot.dip_coeff > 0.0
        {
            let taken = shot.dip_coeff * inputs[input::DIP].exp() * speed_mps * speed_mps;
            let left = (before * before - taken).max(LEAST_LEFT * before * before).sqrt();
            channels.push(channel(
                after,
                (left, [-taken / left, 0.0, 0.0]),
                m.wheel_sd_radps,
            ));
        }
        if let Some(speed) = seen.exit_speed_mps {
            let expected = (speed_mps, [speed_mps, 0.0, 0.0]);
            channels.push(channel(
                speed,
                expected,
                m.film_speed_sd_frac * shot.exit.speed_mps,
            ));
        }
        if let Some(angle) = seen.exit_angle_rad {
            let expected = (shot.exit.angle_rad + knobs[1], [0.0, 1.0, 0.0]);
            channels.push(channel(angle, expected, m.film_angle_sd_rad));
        }
        let mut call = None;
        if let Some(answer) = &mets.opening {
            let target = &self.chain.target;
            let plane = target.plane(&shot.at);
            let met = meet(answer, &plane);
            let axis = target.along_axis();
            let beyond = (0..3).fold((0.0, [0.0; 3]), |sum, i| {
                let (value, slopes) = met.place[i];
                mixed(sum, 1.0, (value - plane.point_m[i], slopes), axis[i])
            });
            let (y, y_slopes) = met.place[1];
            let left = (y - plane.point_m[1], y_slopes);
            if let Some([by, aside]) = seen.miss_m {
                channels.push(channel(by, beyond, m.eye_sd_m));
                channels.push(channel(aside, left, m.eye_sd_m));
            }
            call = zone(seen.outcome).map(|zone| Call {
                zone,
                predicted_m: [beyond.0, left.0],
                sensitivity: [beyond.1, left.1],
                edges: self.edges(&answer.velocity_mps, shot),
            });
        }
        let b = &self.before;
        let scatter = [
            (b.speed_scatter_frac, input::SPEED_SD),
            (b.angle_scatter_rad, input::ANGLE_SD),
            (b.aside_scatter_rad, input::ASIDE_SD),
        ];
        Some(Prediction {
            channels,
            accident_variance: scatter.map(|(sd, k)| (sd * inputs[k].exp()).powi(2)),
            call,
        })
    }
}

/// Physical: the least part of its energy that a wheel keeps in a throw, far below any real one.
const LEAST_LEFT: f64 = 0.01;

fn channel(observed: f64, (predicted, sensitivity): Number, sd: f64) -> Channel {
    Channel {
        observed,
        predicted,
        sensitivity,
        variance: sd * sd,
    }
}

/// a x + b y of two numbers with derivatives.
fn mixed(x: Number, a: f64, y: Number, b: f64) -> Number {
    (
        a * x.0 + b * y.0,
        std::array::from_fn(|i| a * x.1[i] + b * y.1[i]),
    )
}

/// A call as a zone about the opening; one that says nothing about where it went is none.
pub(super) fn zone(outcome: Option<Outcome>) -> Option<Zone> {
    Some(match outcome? {
        Outcome::In => Zone::In,
        Outcome::Rim => Zone::Rim,
        // Under the near rim of an upright opening is short of it along its plane.
        Outcome::Short | Outcome::Under => Zone::Short,
        Outcome::Long => Zone::Long,
        Outcome::Left => Zone::Left,
        Outcome::Right => Zone::Right,
        Outcome::None => return None,
    })
}

impl Machine {
    /// What counts as in and as rim. A piece that comes in at the angle γ to the plane needs r/sin γ beside its centre; a
    /// back wall catches what passes above the far rim.
    fn edges(&self, velocity_mps: &[f64; 3], shot: &LoggedShot) -> Edges {
        let target = &self.chain.target;
        let radius_m = 0.5 * self.chain.ball.diameter_m;
        let v = turned(*velocity_mps, shot.heading_rad);
        let inward = target.inward();
        let along = target.along_axis();
        let dot = |a: [f64; 3], b: [f64; 3]| a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
        let (into, forward) = (dot(v, inward), dot(v, along));
        let speed = dot(v, v).sqrt();
        let sine = if speed > 0.0 {
            (into / speed).clamp(LEAST_SINE, 1.0)
        } else {
            1.0
        };
        let (depth, width) = (0.5 * target.depth_m, 0.5 * target.width_m);
        let shadow = radius_m / sine;
        let behind = if target.back_wall_m > 0.0 && into > 0.0 {
            target.back_wall_m * (forward / into).max(0.0)
        } else {
            0.0
        };
        let zone = |by: f64, beside: f64| {
            [
                [-depth + by, depth + behind - by],
                [-width + beside, width - beside],
            ]
        };
        Edges {
            in_m: zone(shadow, radius_m),
            out_m: zone(-shadow, -radius_m),
            round: target.outline == Outline::Round,
        }
    }
}

/// Physical: a flatter entry than this is none.
const LEAST_SINE: f64 = 0.1;

#[cfg(test)]
mod tests {
    use super::*;

    const MET: Met = Met {
        time_s: [1.2, 0.1, 0.2],
        place_m: [[3.0, 5.0, -1.0], [0.2, 0.1, 0.0], [1.0, 0.0, 0.0]],
        velocity_mps: [3.5, 0.2, -4.0],
    };

    #[test]
    fn the_slope_by_direction_is_that_of_the_turned_throw() {
        let heading = 0.3;
        for plane in [level(1.0), upright(turned([3.0, 0.2, 0.0], heading)[0])] {
            let at = |by: f64| crossing(&MET, by, heading, &plane);
            let h = 1e-4;
            let (above, below, here) = (at(h), at(-h), at(0.0));
            for k in 0..3 {
                let slope = (above.place[k].0 - below.place[k].0) / (2.0 * h);
                assert!(
                    (here.place[k].1[2] - slope).abs() < 1e-5,
                    "{k} {slope} {:?}",
                    here.place[k]
                );
            }
            let slope = (above.time.0 - below.time.0) / (2.0 * h);
            assert!((here.time.1[2] - slope).abs() < 1e-5, "{slope} {:?}", here.time);
        }
    }

    #[test]
    fn turning_a_throw_keeps_it_in_the_plane_and_its_distance_on_the_level() {
        let on_floor = crossing(&MET, 0.05, 0.0, &level(1.0)).place;
        let distance = on_floor[0].0.hypot(on_floor[1].0);
        assert!((distance - 3.0_f64.hypot(0.2)).abs() < 1e-12 && on_floor[2].0 == 1.0);
        assert!(on_floor[1].0 > 0.3, "left is positive");
        let at_wall = crossing(&MET, 0.05, 0.0, &upright(3.0)).place;
        assert!((at_wall[0].0 - 3.0).abs() < 1e-12);
        assert!(at_wall[2].0 < 1.0, "it comes later, so lower");
    }
}
