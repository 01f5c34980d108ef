//! Discs in a pipe with two parallel walls, lowered on a plate: how often do they hang?
//!
//! The model's engine alone, in a plane: discs are balls whose centres share one plane. What is published of such a pipe
//! between two and three discs wide [zhou-2025]: three discs arch across it, and clogging does not fall evenly with the width but
//! drops near 1 + √3 = 2.73 and once more near 2.9 diameters.

use arcwright_model::feed::shape::Wall;
use arcwright_model::numerics::proportion::wilson;
use arcwright_model::numerics::random::Stream;
use arcwright_model::units::STANDARD_GRAVITY_MPS2 as G;
use rayon::prelude::*;

use super::disc::{DIAMETER_M, DISC_KG, disc, plate, world};

/// A pipe and what is in it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pipe {
    /// Width over the discs' diameter.
    pub width_ratio: f64,
    /// Friction of disc on disc and on wall.
    pub friction_coeff: f64,
    /// Discs.
    pub discs: usize,
    /// How far the plate goes down, over the diameter.
    pub way_ratio: f64,
}

/// The pipe of the table, but for its width.
pub const PIPE: Pipe = Pipe {
    width_ratio: 2.5,
    friction_coeff: 0.3,
    discs: 24,
    way_ratio: 8.0,
};

/// Method: stiffness over m g/d, so that a disc sinks in by hundredths of a per cent under its own weight.
const STIFF_RATIO: f64 = 1e4;
/// Method: speed of the plate over √(g d): slow against falling.
const PLATE_RATIO: f64 = 0.1;
/// Method: a gap of this many diameters above the plate or between two discs is one that only discs that hang leave.
const GAP_RATIO: f64 = 2.0;
/// Method: heights between discs as they are poured, and the time in √(d/g) in which they come to rest.
const POUR_RATIO: f64 = 1.02;
const REST_RATIO: f64 = 25.0;
/// Method: steps between two looks.
const LOOK_STEPS: usize = 50;

/// How far the plate had gone, over the diameter, when discs began to hang; `None` if they never did.
pub fn hangs_after(pipe: &Pipe, seed: u64, index: u64) -> Option<f64> {
    let mut w = world(
        STIFF_RATIO * DISC_KG * G / DIAMETER_M,
        0.3,
        pipe.friction_coeff,
        DISC_KG,
    );
    let (width, radius) = (pipe.width_ratio * DIAMETER_M, 0.5 * DIAMETER_M);
    let (low, high) = (
        -2.0 * pipe.way_ratio * DIAMETER_M,
        2.0 * pipe.discs as f64 * DIAMETER_M,
    );
    w.walls.push(plate(width, 0.0));
    for s in [1.0, -1.0] {
        let x = 0.5 * s * width;
        w.walls.push(Wall::new(&[
            [x, -s, low],
            [x, -s, high],
            [x, s, high],
            [x, s, low],
        ]));
    }
    let mut stream = Stream::new(seed, index);
    for number in 0..pipe.discs {
        let x = (stream.uniform() - 0.5) * (width - DIAMETER_M);
        w.add(disc(
            number,
            DISC_KG,
            [x, radius + POUR_RATIO * DIAMETER_M * number as f64],
        ));
    }
    let unit = (DIAMETER_M / G).sqrt();
    for _ in 0..(REST_RATIO * unit / w.step_s()) as usize {
        w.step();
    }
    let speed = PLATE_RATIO * DIAMETER_M / unit;
    let mut gone = 0.0;
    while gone < pipe.way_ratio * DIAMETER_M {
        for _ in 0..LOOK_STEPS {
            gone += speed * w.step_s();
            if let Some(floor) = w.walls.first_mut() {
                *floor = plate(width, -gone);
            }
            w.step();
        }
        let mut heights: Vec<f64> = w.balls.iter().map(|b| b.at_m[2] - radius).collect();
        heights.push(-gone);
        heights.sort_by(f64::total_cmp);
        let gap = heights.windows(2).map(|h| h[1] - h[0]).fold(0.0, f64::max);
        if gap > GAP_RATIO * DIAMETER_M {
            return Some(gone / DIAMETER_M - GAP_RATIO);
        }
    }
    None
}

/// Runs in which discs hung, of how many, and the interval of Wilson.
pub fn share(pipe: &Pipe, seed: u64, runs: u64, confidence: f64) -> (u64, [f64; 2]) {
    let hung = (0..runs)
        .into_par_iter()
        .filter(|i| hangs_after(pipe, seed, *i).is_some())
        .count() as u64;
    (hung, wilson(hung, runs, confidence))
}
