//! A flat hopper of many discs: two slopes with an opening between them, in a plane.
//!
//! The model's engine alone; discs are balls whose centres share one plane. What is published: the share J of runs that clog falls
//! with the opening and with the steepness of the slopes [to-2002], over a range of openings and not at one; in two dimensions there is no
//! opening from which nothing clogs any more [janda-2008]; the share of states that clog decays exponentially in the opening's width to
//! the power of the dimension, here squared [thomas-2014].

use arcwright_model::feed::shape::Wall;
use arcwright_model::numerics::proportion::wilson;
use arcwright_model::numerics::random::Stream;
use arcwright_model::units::STANDARD_GRAVITY_MPS2 as G;
use rayon::prelude::*;

use super::disc::{DIAMETER_M, DISC_KG, disc, plate, world};

/// A hopper and what is in it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Funnel {
    /// Opening over the discs' diameter.
    pub opening_ratio: f64,
    /// Slopes above the level.
    pub steep_rad: f64,
    /// Friction of disc on disc and on the slopes.
    pub friction_coeff: f64,
    /// Discs.
    pub discs: usize,
}

/// The hopper of the table, but for its opening.
pub const FUNNEL: Funnel = Funnel {
    opening_ratio: 3.0,
    steep_rad: 34.0 * std::f64::consts::PI / 180.0,
    friction_coeff: 0.5,
    discs: 120,
};

/// Method: stiffness over m g/d, so that a disc sinks in by a thousandth of itself under its own weight.
const STIFF_RATIO: f64 = 1e3;
/// Method: heights between rows and ways between discs as they are poured, in diameters, and how far a disc is put off at random, in radii:
/// so much that they fall through each other's order. From even rows a crystal lies there, whose first arch is the same in every run.
const ROW_RATIO: f64 = 1.7;
const OFF_RATIO: f64 = 0.68;
/// Method: times in √(d/g): discs have come to rest; nothing has come out for so long, so that they hang; all have been still for so
/// long, so that they hang for good.
const REST_RATIO: f64 = 25.0;
const WAIT_RATIO: f64 = 60.0;
const STILL_RATIO: f64 = 4.0;
/// Method: still is slower than this share of √(g d).
const SLOW_RATIO: f64 = 1e-3;
/// Method: a disc has come out when it is this many diameters below the opening.
const OUT_RATIO: f64 = 1.5;
/// Method: steps between two looks.
const LOOK_STEPS: usize = 50;

/// Where discs are poured in: rows from the opening up, each from slope to slope.
fn places(f: &Funnel, stream: &mut Stream) -> Vec<[f64; 2]> {
    let radius = 0.5 * DIAMETER_M;
    let row = ROW_RATIO * DIAMETER_M;
    let off = OFF_RATIO * radius;
    let mut all = Vec::new();
    let mut height = radius + off;
    while all.len() < f.discs {
        // Room for centres at this height, the lowest that a disc of the row can have.
        let half = 0.5 * f.opening_ratio * DIAMETER_M + (height - off) / f.steep_rad.tan()
            - radius / f.steep_rad.sin();
        let count = (2.0 * (half - off) / row).floor().max(0.0) as usize + 1;
        for i in 0..count {
            if half < off || all.len() == f.discs {
                break;
            }
            let mut jitter = || off * (2.0 * stream.uniform() - 1.0);
            let x = (i as f64 - 0.5 * (count - 1) as f64) * row;
            all.push([x + jitter(), height + jitter()]);
        }
        height += row;
    }
    all
}

/// Discs that came out before the others hung; `None` when all came out.
pub fn out_before_it_clogs(f: &Funnel, seed: u64, index: u64) -> Option<usize> {
    let mut w = world(
        STIFF_RATIO * DISC_KG * G / DIAMETER_M,
        0.3,
        f.friction_coeff,
        DISC_KG,
    );
    let half = 0.5 * f.opening_ratio * DIAMETER_M;
    w.walls.push(plate(2.0 * half, 0.0));
    let (far, a) = (f.discs as f64 * DIAMETER_M, 1.0);
    for s in [1.0, -1.0] {
        let (x, top) = (s * half, far * f.steep_rad.sin());
        let out = x + s * far * f.steep_rad.cos();
        w.walls.push(Wall::new(&[
            [x, -s * a, 0.0],
            [out, -s * a, top],
            [out, s * a, top],
            [x, s * a, 0.0],
        ]));
    }
    let mut stream = Stream::new(seed, index);
    for (number, [x, z]) in places(f, &mut stream).into_iter().enumerate() {
        w.add(disc(number, DISC_KG, [x, z]));
    }
    let unit = (DIAMETER_M / G).sqrt();
    for _ in 0..(REST_RATIO * unit / w.step_s()) as usize {
        w.step();
    }
    // The floor goes far down: from now on it holds nothing.
    if let Some(floor) = w.walls.first_mut() {
        *floor = plate(2.0 * half, -2.0 * far);
    }
    let look_s = LOOK_STEPS as f64 * w.step_s();
    let slow = SLOW_RATIO * (G * DIAMETER_M).sqrt();
    let (mut out, mut waited, mut still) = (0, 0.0, 0.0);
    while out < f.discs {
        for _ in 0..LOOK_STEPS {
            w.step();
        }
        let (mut now, mut fastest) = (0, 0.0_f64);
        for b in &mut w.balls {
            if b.at_m[2] < -OUT_RATIO * DIAMETER_M {
                // Out of the way, and held there: it touches nothing any more.
                b.at_m = [3.0 * far + 2.0 * DIAMETER_M * b.number as f64, 0.0, -far];
                b.velocity_mps = [0.0; 3];
                now += 1;
            } else {
                let v = b.velocity_mps;
                fastest = fastest.max((v[0] * v[0] + v[2] * v[2]).sqrt());
            }
        }
        waited = if now > out { 0.0 } else { waited + look_s };
        still = if fastest < slow { still + look_s } else { 0.0 };
        out = now;
        if waited > WAIT_RATIO * unit || waited.min(still) > STILL_RATIO * unit {
            return (out < f.discs).then_some(out);
        }
    }
    None
}

/// Runs at one opening.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Clogs {
    /// Opening over the diameter.
    pub opening_ratio: f64,
    /// Discs in a run.
    pub discs: usize,
    /// Runs, without those in which no more came out than the row on the plate: they tell how discs were poured, not how they flow.
    pub of: u64,
    /// Runs in which discs hung.
    pub hung: u64,
}

/// Plays runs of a seed.
pub fn clogs(f: &Funnel, seed: u64, runs: u64) -> Clogs {
    let ends: Vec<_> = (0..runs)
        .into_par_iter()
        .map(|i| out_before_it_clogs(f, seed, i))
        .filter(|out| out.is_none_or(|n| n as f64 > f.opening_ratio))
        .collect();
    Clogs {
        opening_ratio: f.opening_ratio,
        discs: f.discs,
        of: ends.len() as u64,
        hung: ends.iter().flatten().count() as u64,
    }
}

impl Clogs {
    /// J, share of runs that clog.
    pub fn share(&self) -> f64 {
        self.hung as f64 / self.of.max(1) as f64
    }

    /// Its interval of Wilson.
    pub fn interval(&self, confidence: f64) -> [f64; 2] {
        wilson(self.hung, self.of, confidence)
    }

    /// −ln F, from J = 1 − (1 − F)^N: each of the N discs that pass finds the opening in a state that clogs with the chance F.
    pub fn rarity(&self, share: f64) -> f64 {
        // Not less than zero: F is no more than one.
        (-(1.0 - (1.0 - share).powf(1.0 / self.discs as f64)).ln()).max(0.0)
    }
}

/// −ln F = a + b d²: the straight line of likeliest runs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// a.
    pub start: f64,
    /// b.
    pub slope: f64,
}

impl Line {
    /// J that it gives at an opening.
    pub fn share(&self, opening_ratio: f64, discs: usize) -> f64 {
        let rare = self.start + self.slope * opening_ratio * opening_ratio;
        1.0 - (1.0 - (-rare).exp().min(1.0)).powi(discs as i32)
    }

    /// Log of the chance of the runs, but for a constant.
    fn likelihood(&self, all: &[Clogs]) -> f64 {
        all.iter()
            .map(|c| {
                let j = self
                    .share(c.opening_ratio, c.discs)
                    .clamp(f64::MIN_POSITIVE, 1.0 - f64::EPSILON);
                c.hung as f64 * j.ln() + (c.of - c.hung) as f64 * (1.0 - j).ln()
            })
            .sum()
    }

    /// The likeliest line, by steps along each of the two that are halved when none helps.
    pub fn through(all: &[Clogs]) -> Line {
        /// Convergence: least step.
        const LEAST: f64 = 1e-5;
        // The value at the middle and the slope pull less at each other than the value at zero and the slope.
        let middle =
            all.iter().map(|c| c.opening_ratio * c.opening_ratio).sum::<f64>() / all.len().max(1) as f64;
        let line = |at: [f64; 2]| Line {
            start: at[0] - at[1] * middle,
            slope: at[1],
        };
        let (mut at, mut step) = ([4.0, 0.4], 0.5);
        while step > LEAST {
            let best = line(at).likelihood(all);
            let tries =
                [[step, 0.0], [-step, 0.0], [0.0, step], [0.0, -step]].map(|d| [at[0] + d[0], at[1] + d[1]]);
            match tries.into_iter().find(|t| line(*t).likelihood(all) > best) {
                Some(t) => at = t,
                None => step *= 0.5,
            }
        }
        line(at)
    }
}
