//! The reference model of a thrower: a wheel, a fixed angle, drag and lift with constant coefficients, a round
//! opening. For tests, and for the study of how well the method itself does.

use std::f64::consts::PI;

use super::call::Edges;
use super::forward::Forward;
use super::likelihood::{Call, Channel, Prediction, Zone};
use super::m1_flight::{Jet, Throw};
use super::shot::{Landing, TimedFall, WallHeight};

/// Parameters of the model, in their order.
pub const M1_NAMES: [&str; 9] = [
    "ln_k", "ln_cd", "cl", "dtheta", "psi0", "ln_sv", "ln_sth", "ln_spsi", "ln_kap",
];

/// What is known of the thrower and of how its shots are measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct M1 {
    /// Gravity.
    pub gravity_mps2: f64,
    /// Density of the air times cross-section by twice the mass.
    pub air_pm: f64,
    /// Wheel radius.
    pub wheel_radius_m: f64,
    /// Release height.
    pub release_height_m: f64,
    /// Height of the opening.
    pub ring_height_m: f64,
    /// Radius within which the piece's centre goes in.
    pub inner_radius_m: f64,
    /// Radius beyond which it misses the rim.
    pub outer_radius_m: f64,
    /// Standard deviation of a tape measure.
    pub tape_sd_m: f64,
    /// Of a time of flight.
    pub time_sd_s: f64,
    /// Of a height at a wall.
    pub wall_sd_m: f64,
    /// Of a wheel speed.
    pub wheel_sd_radps: f64,
    /// Of a miss judged by eye.
    pub eye_sd_m: f64,
}

/// One shot of the reference model.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct M1Shot {
    /// Wheel speed.
    pub wheel_radps: f64,
    /// Angle that was set.
    pub angle_rad: f64,
    /// Distance to the centre of the opening.
    pub distance_m: f64,
    /// Correction of aim that was dialled in, to the right.
    pub aim_rad: f64,
    /// Landing by tape: along, left, height.
    pub landing: Option<Landing>,
    /// Time of flight down to a height.
    pub fall: Option<TimedFall>,
    /// Height at a wall.
    pub wall: Option<WallHeight>,
    /// Wheel speed after the piece left.
    pub after_radps: Option<f64>,
    /// Miss by eye: beyond the centre and left of it.
    pub miss_m: Option<[f64; 2]>,
    /// What was called.
    pub zone: Option<Zone>,
}

impl M1 {
    /// The throw of a wheel speed at a set angle.
    pub(super) fn throw(&self, parameters: &[f64; 9], wheel_radps: f64, angle_rad: f64) -> Throw {
        Throw {
            speed_mps: parameters[0].exp() * self.wheel_radius_m * wheel_radps,
            angle_rad: angle_rad + parameters[3],
            height_m: self.release_height_m,
            gravity_mps2: self.gravity_mps2,
            air_pm: self.air_pm,
            drag_coeff: parameters[1].exp(),
            lift_coeff: parameters[2],
        }
    }
}

/// A point `r` away in the direction ψ: along and left, with derivatives by the accidents.
fn turned(r: Jet, psi_rad: f64) -> [(f64, [f64; 3]); 2] {
    let (s, c) = psi_rad.sin_cos();
    let [v, th] = r.by;
    [
        (r.value * c, [v * c, th * c, -r.value * s]),
        (r.value * s, [v * s, th * s, r.value * c]),
    ]
}

fn channel(observed: f64, (predicted, sensitivity): (f64, [f64; 3]), sd: f64) -> Channel {
    Channel {
        observed,
        predicted,
        sensitivity,
        variance: sd * sd,
    }
}

fn upright(jet: Jet) -> (f64, [f64; 3]) {
    (jet.value, [jet.by[0], jet.by[1], 0.0])
}

/// What a flight tells of a shot; `None` for what was not looked for.
#[derive(Clone, Copy, Debug, Default)]
struct Flown {
    speed_mps: f64,
    landing: Option<Jet>,
    fall: Option<Jet>,
    wall: Option<Jet>,
    ring: Option<Jet>,
}

impl M1 {
    fn flown(&self, p: &[f64; 9], shot: &M1Shot) -> Option<Flown> {
        let throw = self.throw(p, shot.wheel_radps, shot.angle_rad);
        let ring = (shot.miss_m.is_some() || shot.zone.is_some()).then_some(self.ring_height_m);
        let heights = [
            shot.landing.map(|l| l.height_m),
            shot.fall.map(|f| f.height_m),
            ring,
        ];
        let lowest_m = heights.iter().flatten().copied().fold(f64::INFINITY, f64::min);
        let mut out = Flown {
            speed_mps: throw.speed_mps,
            ..Flown::default()
        };
        if shot.wall.is_none() && !lowest_m.is_finite() {
            return Some(out);
        }
        let track = throw.track(lowest_m, shot.wall.map_or(f64::NEG_INFINITY, |w| w.distance_m))?;
        if let Some(landing) = shot.landing {
            out.landing = Some(track.down_through(landing.height_m)?.along);
        }
        if let Some(fall) = shot.fall {
            out.fall = Some(track.down_through(fall.height_m)?.time);
        }
        if let Some(wall) = shot.wall {
            out.wall = Some(track.height_at(wall.distance_m)?);
        }
        if let Some(height_m) = ring {
            out.ring = Some(track.down_through(height_m)?.along);
        }
        Some(out)
    }

    fn expected(&self, p: &[f64; 9], shot: &M1Shot, flown: &Flown) -> Option<Prediction> {
        let psi = p[4] - shot.aim_rad;
        let mut channels = Vec::with_capacity(7);
        if let (Some(landing), Some(r)) = (shot.landing, flown.landing) {
            let [x, y] = turned(r, psi);
            channels.push(channel(landing.along_m, x, self.tape_sd_m));
            channels.push(channel(landing.across_m, y, self.tape_sd_m));
        }
        if let (Some(fall), Some(time)) = (shot.fall, flown.fall) {
            channels.push(channel(fall.time_s, upright(time), self.time_sd_s));
        }
        if let (Some(wall), Some(height)) = (shot.wall, flown.wall) {
            channels.push(channel(wall.height_m, upright(height), self.wall_sd_m));
        }
        if let Some(after_radps) = shot.after_radps {
            // Energy of the wheel before, after and in the piece: w₂² = w² − κ v².
            let taken = p[8].exp() * flown.speed_mps * flown.speed_mps;
            let left = (shot.wheel_radps * shot.wheel_radps - taken).sqrt();
            let expected = (left, [-taken / left, 0.0, 0.0]);
            channels.push(channel(after_radps, expected, self.wheel_sd_radps));
        }
        let mut call = None;
        if let Some(r) = flown.ring {
            let [x, y] = turned(r, psi);
            let x = (x.0 - shot.distance_m, x.1);
            if let Some([beyond, left]) = shot.miss_m {
                channels.push(channel(beyond, x, self.eye_sd_m));
                channels.push(channel(left, y, self.eye_sd_m));
            }
            call = shot.zone.map(|zone| Call {
                zone,
                predicted_m: [x.0, y.0],
                sensitivity: [x.1, y.1],
                edges: Edges {
                    in_m: [square(self.inner_radius_m); 2],
                    out_m: [square(self.outer_radius_m); 2],
                    round: false,
                },
            });
        }
        Some(Prediction {
            channels,
            accident_variance: [5, 6, 7].map(|i: usize| (2.0 * p[i]).exp()),
            call,
        })
    }
}

impl Forward for M1 {
    type Shot = M1Shot;

    fn predict(&self, inputs: &[f64], shot: &M1Shot) -> Option<Prediction> {
        let p: &[f64; 9] = inputs.try_into().ok()?;
        let flown = self.flown(p, shot)?;
        self.expected(p, shot, &flown)
    }

    /// Scatter, direction and dip need no new flights.
    fn predict_all(&self, inputs: &[Vec<f64>], shot: &M1Shot) -> Vec<Option<Prediction>> {
        let mut known: Vec<([u64; 4], Option<Flown>)> = Vec::new();
        let mut one = |inputs: &Vec<f64>| {
            let p: &[f64; 9] = inputs.as_slice().try_into().ok()?;
            let key = [0, 1, 2, 3].map(|k: usize| p[k].to_bits());
            let flown = match known.iter().find(|(k, _)| *k == key) {
                Some((_, flown)) => *flown,
                None => {
                    let flown = self.flown(p, shot);
                    known.push((key, flown));
                    flown
                }
            };
            self.expected(p, shot, &flown?)
        };
        inputs.iter().map(&mut one).collect()
    }

    fn leading(&self) -> &[usize] {
        &[0, 3]
    }
}

/// From where to where a square with the area of a circle reaches.
fn square(radius_m: f64) -> [f64; 2] {
    let half_m = 0.5 * radius_m * PI.sqrt();
    [-half_m, half_m]
}
