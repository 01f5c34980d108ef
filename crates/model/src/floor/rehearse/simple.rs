//! The plain model of a launcher with its truth hidden: one factor for speed, a constant drag and lift.

use super::{Ask, Happened, Look, ReadingSd, watch};
use crate::flight::{
    Accuracy, Ball, Drag, DragLaw, Lift, Medium, Plane, SpinDecay, State, Until, fly_to_accuracy,
};
use crate::floor::shot::{Landing, Shot, TimedFall, WallHeight};
use crate::numerics::random::{Stream, hash};
use crate::target::Outcome;

/// What is the same for every throw of a machine and nobody knows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SimpleTruth {
    /// ln of exit speed over rim speed.
    pub ln_speed_ratio: f64,
    /// ln of the drag coefficient.
    pub ln_drag_coeff: f64,
    /// Lift coefficient.
    pub lift_coeff: f64,
    /// Exit angle less the one asked for.
    pub angle_error_rad: f64,
    /// Direction in which it throws when turned to the target, left positive.
    pub aim_error_rad: f64,
    /// ln of the standard deviation of ln speed from throw to throw.
    pub ln_speed_sd: f64,
    /// ln of the standard deviation of the exit angle, in radians.
    pub ln_angle_sd: f64,
    /// ln of the standard deviation of the direction, in radians.
    pub ln_aim_sd: f64,
    /// ln of κ in ω₂² = ω² − κ v², in 1/m².
    pub ln_kappa: f64,
}

/// Where a truth is drawn from: mean and standard deviation of each entry in the order of [`SimpleTruth`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SimplePrior {
    /// Means.
    pub mean: [f64; 9],
    /// Standard deviations.
    pub sd: [f64; 9],
}

impl Default for SimplePrior {
    /// A machine of the kind drawn in the examples as its designer would expect it: common practice, no source.
    fn default() -> SimplePrior {
        let ln = |x: f64| libm::log(x);
        SimplePrior {
            mean: [
                ln(0.45),
                ln(0.50),
                0.10,
                0.0,
                0.0,
                ln(0.015),
                ln(0.008),
                ln(0.010),
                ln(467.0),
            ],
            sd: [0.10, 0.25, 0.08, 0.035, 0.020, 0.40, 0.40, 0.40, 0.15],
        }
    }
}

impl SimplePrior {
    /// A truth at standardised deviations from the means.
    pub fn at(&self, z: &[f64; 9]) -> SimpleTruth {
        let b: Vec<f64> = (0..9).map(|i| self.mean[i] + self.sd[i] * z[i]).collect();
        SimpleTruth {
            ln_speed_ratio: b[0],
            ln_drag_coeff: b[1],
            lift_coeff: b[2],
            angle_error_rad: b[3],
            aim_error_rad: b[4],
            ln_speed_sd: b[5],
            ln_angle_sd: b[6],
            ln_aim_sd: b[7],
            ln_kappa: b[8],
        }
    }
}

impl SimpleTruth {
    /// The entries in the order of [`SimplePrior`].
    pub fn values(&self) -> [f64; 9] {
        [
            self.ln_speed_ratio,
            self.ln_drag_coeff,
            self.lift_coeff,
            self.angle_error_rad,
            self.aim_error_rad,
            self.ln_speed_sd,
            self.ln_angle_sd,
            self.ln_aim_sd,
            self.ln_kappa,
        ]
    }
}

/// A round opening that lies level, and what is thrown at it: known to everybody.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SimpleRing {
    /// Density of the air.
    pub density_kgpm3: f64,
    /// Acceleration of gravity.
    pub gravity_mps2: f64,
    /// Mass of the piece.
    pub mass_kg: f64,
    /// Diameter of the piece.
    pub diameter_m: f64,
    /// Radius of the wheel.
    pub wheel_radius_m: f64,
    /// Height of the exit above the plumb point of the axle, where the flight starts.
    pub exit_height_m: f64,
    /// Height of the opening.
    pub ring_height_m: f64,
    /// A centre nearer than this to the middle goes in untouched.
    pub in_radius_m: f64,
    /// A centre farther than this from the middle misses untouched.
    pub out_radius_m: f64,
}

impl Default for SimpleRing {
    /// A piece of 200 g and 150 mm, a ring of 800 mm at 2.2 m.
    fn default() -> SimpleRing {
        SimpleRing {
            density_kgpm3: 1.20,
            gravity_mps2: 9.80665,
            mass_kg: 0.200,
            diameter_m: 0.150,
            wheel_radius_m: 0.050,
            exit_height_m: 0.60,
            ring_height_m: 2.20,
            in_radius_m: 0.325,
            out_radius_m: 0.475,
        }
    }
}

impl SimpleRing {
    /// From the near rim to the middle.
    pub fn rim_radius_m(&self) -> f64 {
        0.5 * (self.in_radius_m + self.out_radius_m)
    }
}

/// What a real floor does that the model fitted to it leaves out, and what people get wrong.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Trouble {
    /// Share of throws that are much wilder than the others.
    pub flyer_frac: f64,
    /// How much wilder.
    pub flyer_scale_ratio: f64,
    /// Standard deviation of ln speed from piece to piece, the same for every throw of a piece.
    pub piece_frac: f64,
    /// Change of ln speed with each place in the volley.
    pub per_place_frac: f64,
    /// Change of ln speed at the last place besides.
    pub last_frac: f64,
    /// Share of shots of which the outcome is written down wrong.
    pub miscall_frac: f64,
    /// Misses are called by the larger share instead of range first.
    pub calls_larger_share: bool,
}

/// A machine of the plain model.
#[derive(Clone, Debug)]
pub struct HiddenSimple {
    /// Its truth, to be looked at afterwards.
    pub truth: SimpleTruth,
    /// What everybody knows.
    pub ring: SimpleRing,
    /// What goes wrong on its floor.
    pub trouble: Trouble,
    /// How far readings are off.
    pub reading: ReadingSd,
    seed: u64,
    thrown_count: u64,
}

/// Streams of one seed: truth, pieces, throws.
const TRUTH_STREAM: u64 = 0x7472_7574;
const PIECE_STREAM: u64 = 0x7069_6563;
const THROW_STREAM: u64 = 0x7468_726f;
/// Method: time limit of a flight, far beyond any that comes down near the target.
const LONGEST_S: f64 = 12.0;
/// Outcomes that a slip of the pen can turn one into.
const CALLS: [Outcome; 6] = [
    Outcome::Short,
    Outcome::Long,
    Outcome::Left,
    Outcome::Right,
    Outcome::Rim,
    Outcome::In,
];

impl HiddenSimple {
    /// Draws a machine from a prior.
    pub fn drawn(seed: u64, prior: &SimplePrior, ring: SimpleRing, trouble: Trouble) -> HiddenSimple {
        let mut stream = Stream::new(seed, TRUTH_STREAM);
        let z = [0; 9].map(|_| stream.normal());
        HiddenSimple::of(seed, prior.at(&z), ring, trouble)
    }

    /// A machine with a truth that is given.
    pub fn of(seed: u64, truth: SimpleTruth, ring: SimpleRing, trouble: Trouble) -> HiddenSimple {
        HiddenSimple {
            truth,
            ring,
            trouble,
            reading: ReadingSd::default(),
            seed,
            thrown_count: 0,
        }
    }

    /// Throws once; what is seen depends on the seed, on how often it threw before, and on what is asked.
    pub fn throw(&mut self, ask: &Ask, look: &Look) -> Shot {
        let mut stream = Stream::new(hash(self.seed, THROW_STREAM), self.thrown_count);
        self.thrown_count += 1;
        let wild = if stream.uniform() < self.trouble.flyer_frac {
            self.trouble.flyer_scale_ratio
        } else {
            1.0
        };
        let t = &self.truth;
        let sd = [t.ln_speed_sd, t.ln_angle_sd, t.ln_aim_sd].map(libm::exp);
        let eps = sd.map(|sd| sd * wild * stream.normal());
        let (slip, other) = (stream.uniform(), stream.uniform());
        let happened = self.happens(ask, look, eps);
        let (mut seen, before, after) = watch(&happened, look, &self.reading, &mut stream);
        if slip < self.trouble.miscall_frac && seen.outcome.is_some() {
            seen.outcome = CALLS.get((other * CALLS.len() as f64) as usize).copied();
        }
        ask.shot(seen, before, after)
    }

    /// What ln speed is off by at a place in the volley and for a piece.
    fn unmodelled(&self, ask: &Ask) -> f64 {
        let piece = ask.piece.map_or(0.0, |p| {
            Stream::new(hash(self.seed, PIECE_STREAM), u64::from(p)).normal()
        });
        self.trouble.piece_frac * piece
            + self.trouble.per_place_frac * f64::from(ask.place)
            + if ask.last { self.trouble.last_frac } else { 0.0 }
    }

    /// What happens to a throw with deviations of ln speed, angle and direction.
    pub fn happens(&self, ask: &Ask, look: &Look, eps: [f64; 3]) -> Happened {
        let (t, ring) = (&self.truth, &self.ring);
        let ln_speed = t.ln_speed_ratio + self.unmodelled(ask) + eps[0];
        let speed_mps = libm::exp(ln_speed) * ring.wheel_radius_m * ask.setpoint_radps;
        let angle_rad = ask.setting.tilt_rad + t.angle_error_rad + eps[1];
        let aim_rad = t.aim_error_rad + ask.turned_rad + eps[2];
        let kappa = libm::exp(t.ln_kappa);
        let after = (ask.setpoint_radps.powi(2) - kappa * speed_mps.powi(2)).sqrt();
        let ball = Ball {
            mass_kg: ring.mass_kg,
            diameter_m: ring.diameter_m,
            inertia_coeff: 0.4,
            drag: Drag {
                law: DragLaw::Constant {
                    drag_coeff: libm::exp(t.ln_drag_coeff),
                },
                scale_ratio: 1.0,
            },
            // The same lift whatever the spin.
            lift: Lift::Saturating {
                a_coeff: 0.0,
                b_coeff: 1.0,
                scale_ratio: t.lift_coeff,
            },
            spin_decay: SpinDecay::None,
            buoyancy: false,
            added_mass_coeff: 0.0,
        };
        let medium = Medium {
            density_kgpm3: ring.density_kgpm3,
            viscosity_pas: 1.8e-5,
            wind_mps: [0.0; 3],
            gravity_mps2: ring.gravity_mps2,
        };
        let (s, c) = (libm::sin(angle_rad), libm::cos(angle_rad));
        let start = State {
            time_s: 0.0,
            position_m: [0.0, 0.0, ring.exit_height_m],
            velocity_mps: [speed_mps * c, 0.0, speed_mps * s],
            spin_radps: [0.0, -1.0, 0.0],
        };
        let until = Until {
            time_s: LONGEST_S,
            floor_m: 0.0,
        };
        let path = fly_to_accuracy(&ball, &medium, &start, &until, Accuracy::Quick);
        let (sy, cy) = (libm::sin(aim_rad), libm::cos(aim_rad));
        let floor = path.landing(0.5 * ring.diameter_m).map(|p| {
            (
                Landing {
                    along_m: p.position_m[0] * cy,
                    across_m: p.position_m[0] * sy,
                    height_m: 0.5 * ring.diameter_m,
                },
                p.time_s,
            )
        });
        let wall = look.wall_at_m.and_then(|distance_m| {
            let plane = Plane {
                point_m: [distance_m, 0.0, 0.0],
                normal: [1.0, 0.0, 0.0],
            };
            path.crossing(&plane).map(|p| WallHeight {
                distance_m,
                height_m: p.position_m[2],
            })
        });
        let centre_m = ask.distance_m + ring.rim_radius_m();
        let crossing = path.landing(ring.ring_height_m).map(|p| {
            (
                [p.position_m[0] * cy - centre_m, p.position_m[0] * sy],
                TimedFall {
                    time_s: p.time_s,
                    height_m: ring.ring_height_m,
                },
            )
        });
        let outcome = crossing.map_or(Outcome::Short, |(miss, _)| self.call(miss));
        Happened {
            exit_speed_mps: speed_mps,
            exit_angle_rad: angle_rad,
            floor,
            wall,
            crossing,
            outcome,
            wheel_radps: [ask.setpoint_radps, after],
        }
    }

    /// The outcome of a centre that comes through the plane of the ring beside the middle.
    fn call(&self, [along_m, across_m]: [f64; 2]) -> Outcome {
        let out = self.ring.out_radius_m;
        let beside = along_m.hypot(across_m);
        if beside <= self.ring.in_radius_m {
            return Outcome::In;
        }
        if beside <= out {
            return Outcome::Rim;
        }
        let larger = along_m.abs() >= across_m.abs();
        let in_range = if self.trouble.calls_larger_share {
            larger
        } else {
            along_m.abs() > out || (across_m.abs() <= out && larger)
        };
        match (in_range, along_m < 0.0, across_m > 0.0) {
            (true, true, _) => Outcome::Short,
            (true, false, _) => Outcome::Long,
            (false, _, true) => Outcome::Left,
            (false, _, false) => Outcome::Right,
        }
    }
}
