//! Five designs, played in both engines.

use arcwright_model::feed::hopper::{Arrival, Hopper, Loading, Pieces, RollerSpec, StirrerSpec};
use arcwright_model::feed::load::run;
use arcwright_model::feed::plate::Plates;
use arcwright_model::numerics::normal::cdf;
use arcwright_model::numerics::proportion::wilson;
use rayon::prelude::*;

use crate::load::play;
use crate::rig::{Solver, Unknown};

/// A hopper with a name.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Design {
    /// Name.
    pub name: &'static str,
    /// The hopper.
    pub hopper: Hopper,
}

/// Five pieces of 150 mm.
pub fn pieces() -> Pieces {
    Pieces {
        count: 5,
        diameter_m: 0.15,
        diameter_sd_m: 0.0005,
        mass_kg: 0.12,
        mass_sd_kg: 0.001,
        inertia_coeff: 0.4,
        press_npm: 10_000.0,
        bounce_coeff: 0.5,
    }
}

fn hopper() -> Hopper {
    Hopper {
        length_m: 0.48,
        width_m: 0.42,
        chute_width_m: 0.16,
        slope_rad: 0.2,
        side_slope_rad: 0.0,
        bend_rad: 0.0,
        plates: Plates::default(),
        wall_m: 0.24,
        funnel_rad: 0.8,
        fillet_m: 0.01,
        chute_m: 0.22,
        rail_gap_m: 0.0,
        friction_coeff: 0.3,
        piece_friction_coeff: 0.3,
        rolling_coeff: 0.0,
        loading: Loading {
            arrival: Arrival::Dropped,
            intake_mps: 0.0,
            aside_m: 0.0,
            before_mouth_m: 0.24,
            spread_m: 0.04,
            height_m: 0.15,
            every_s: 0.4,
        },
        roller: Some(RollerSpec {
            diameter_m: 0.05,
            width_m: 0.1,
            rim_mps: 1.0,
            squeeze_m: 0.006,
            torque_nm: 1.5,
            friction_coeff: 0.8,
            paddle_count: 0,
            paddle_m: 0.0,
        }),
        stirrer: None,
        bands: None,
    }
}

fn stirrer() -> StirrerSpec {
    StirrerSpec {
        length_m: 0.08,
        before_mouth_m: 0.14,
        offset_m: 0.09,
        height_m: 0.075,
        thickness_m: 0.016,
        speed_radps: 5.0,
        torque_nm: 1.0,
        reverses: false,
        swing_rad: 0.0,
        middle_rad: std::f64::consts::PI,
    }
}

/// Nothing; a longer funnel; a stirrer off the middle; another place of it; the same with a weak motor.
///
/// Without a roller pieces roll out of the open chute. With one the engines are compared with contacts as soft as the pieces: the
/// library's own do not press as the model's do ([`crate::nip`]).
pub fn designs(with_roller: bool) -> [Design; 5] {
    let mut h = hopper();
    if !with_roller {
        h.roller = None;
    }
    let with = |s| Hopper {
        stirrer: Some(s),
        ..h
    };
    let other = StirrerSpec {
        before_mouth_m: 0.17,
        offset_m: 0.12,
        ..stirrer()
    };
    [
        Design {
            name: "nothing",
            hopper: h,
        },
        Design {
            name: "longer funnel",
            hopper: Hopper {
                funnel_rad: 0.28,
                ..h
            },
        },
        Design {
            name: "stirrer A",
            hopper: with(stirrer()),
        },
        Design {
            name: "stirrer B",
            hopper: with(other),
        },
        Design {
            name: "stirrer B, weak",
            hopper: with(StirrerSpec {
                torque_nm: 0.3,
                ..other
            }),
        },
    ]
}

/// Loads that waited longer than each of the waits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tally {
    /// Loads played.
    pub of: usize,
    /// For each wait, those with a longer one.
    pub stuck: [usize; 4],
    /// Loads that say nothing.
    pub invalid: usize,
}

impl Tally {
    fn of(all: impl Iterator<Item = ([bool; 4], bool)>) -> Tally {
        let mut t = Tally {
            of: 0,
            stuck: [0; 4],
            invalid: 0,
        };
        for (stuck, invalid) in all {
            t.of += 1;
            t.invalid += usize::from(invalid);
            for (n, s) in t.stuck.iter_mut().zip(stuck) {
                *n += usize::from(s);
            }
        }
        t
    }

    /// Share that waited longer than one of the waits.
    pub fn share(&self, wait: usize) -> f64 {
        self.stuck.get(wait).copied().unwrap_or(0) as f64 / self.of.max(1) as f64
    }

    /// Its interval of Wilson.
    pub fn interval(&self, wait: usize, confidence: f64) -> [f64; 2] {
        let hits = self.stuck.get(wait).copied().unwrap_or(0);
        wilson(hits as u64, self.of as u64, confidence)
    }
}

/// Loads in the model's engine.
pub fn by_model(hopper: &Hopper, pieces: &Pieces, seed: u64, loads: u64) -> Tally {
    let all: Vec<_> = (0..loads)
        .into_par_iter()
        .map(|i| run(hopper, pieces, seed, i))
        .map(|l| (l.stuck.map(|s| s.is_some()), l.invalid))
        .collect();
    Tally::of(all.into_iter())
}

/// Loads in the other engine, to a wait of `longest_s`.
pub fn by_other(
    hopper: &Hopper,
    pieces: &Pieces,
    seed: u64,
    loads: u64,
    longest_s: f64,
    solver: &Solver,
) -> Result<Tally, Unknown> {
    let all: Vec<_> = (0..loads)
        .into_par_iter()
        .map(|i| play(hopper, pieces, seed, i, longest_s, solver).map(|p| (p.stuck, p.invalid)))
        .collect::<Result<_, _>>()?;
    Ok(Tally::of(all.into_iter()))
}

/// Interval of the difference of two independent shares, by the hybrid of Wilson's intervals [newcombe-1998].
pub fn difference(a: &Tally, b: &Tally, wait: usize, confidence: f64) -> [f64; 2] {
    let (p, q) = (a.share(wait), b.share(wait));
    let ([pl, ph], [ql, qh]) = (a.interval(wait, confidence), b.interval(wait, confidence));
    let root = |x: f64, y: f64| (x * x + y * y).sqrt();
    [p - q - root(p - pl, qh - q), p - q + root(ph - p, q - ql)]
}

/// Chance of a difference this large or larger if both engines had the same share: pooled, two-sided.
pub fn chance_of(a: &Tally, b: &Tally, wait: usize) -> f64 {
    let (n, m) = (a.of as f64, b.of as f64);
    let pool = (a.share(wait) * n + b.share(wait) * m) / (n + m);
    let sd = (pool * (1.0 - pool) * (1.0 / n + 1.0 / m)).sqrt();
    if sd == 0.0 {
        return 1.0;
    }
    let z = (a.share(wait) - b.share(wait)).abs() / sd;
    2.0 * cdf(-z)
}
