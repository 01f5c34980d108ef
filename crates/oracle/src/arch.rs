//! Three discs that arch across a pipe: exact statics against the model's engine.

use arcwright_model::feed::shape::Wall;
use arcwright_model::feed::world::{Ball, World};
use arcwright_model::units::STANDARD_GRAVITY_MPS2 as G;

use super::disc::{DIAMETER_M, DISC_KG, disc, world};

/// Method: so stiff that the arch does not sag.
const PRESS_NPM: f64 = 1e6;
/// Method: friction in which it settles, for how long, how long it is watched then, and from which share of a radius on it has fallen.
const PLENTY: f64 = 3.0;
const SETTLE_S: f64 = 0.3;
const WATCHED_S: f64 = 0.6;
const MOVED_RATIO: f64 = 0.05;

/// An arch, level and even: a disc at each wall, one between and above them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Arch {
    /// Width of the pipe over the diameter, between 2 and 3.
    pub width_ratio: f64,
    /// What the middle one carries with its own weight, over what an outer one does.
    pub load_ratio: f64,
}

impl Arch {
    /// Angle of the line from an outer to the middle disc above the level: cos α = (w − 1)/2.
    pub fn angle_rad(&self) -> f64 {
        (0.5 * (self.width_ratio - 1.0)).acos()
    }

    /// Least friction that holds it.
    ///
    /// An outer disc does not turn, so that friction T has one size at the wall and at the middle disc. At the wall it carries what
    /// the outer disc does (1) and half of what the middle one does (L/2); the middle disc's balance gives N between the two, and the level
    /// one the wall's force, which is not the lesser of the two.
    ///
    /// ```text
    /// T = 1 + L/2         N sin α − T cos α = L/2         N_wall = N cos α + T sin α ≥ N
    /// μ = T/N = T sin α/(L/2 + T cos α)
    /// ```
    ///
    /// From tan(α/2), all the weight on the middle, to tan α, all of it on the outer ones.
    pub fn least_friction(&self) -> f64 {
        let [pair, _, pull] = self.forces_ratio();
        pull / pair
    }

    /// N, N_wall and T over the weight of an outer disc.
    fn forces_ratio(&self) -> [f64; 3] {
        let (sin, cos) = self.angle_rad().sin_cos();
        let half = 0.5 * self.load_ratio;
        let pull = 1.0 + half;
        let pair = (half + pull * cos) / sin;
        [pair, pair * cos + pull * sin, pull]
    }

    /// Does it hold in the model's engine, having settled with friction to spare?
    pub fn holds(&self, friction_coeff: f64) -> bool {
        let middle_kg = self.load_ratio * DISC_KG;
        let mut w = world(PRESS_NPM, 0.2, PLENTY, DISC_KG.min(middle_kg));
        for s in [1.0, -1.0] {
            let x = 0.5 * s * self.width_ratio * DIAMETER_M;
            w.walls.push(Wall::new(&[
                [x, -s, -1.0],
                [x, -s, 1.0],
                [x, s, 1.0],
                [x, s, -1.0],
            ]));
        }
        // Pressed in as they carry: discs that only just touch would fall together and never press.
        let [pair, wall, _] = self.forces_ratio().map(|n| n * DISC_KG * G / PRESS_NPM);
        let out = 0.5 * (self.width_ratio - 1.0) * DIAMETER_M + 0.5 * wall;
        let far = DIAMETER_M - pair;
        let up = (far * far - out * out).max(0.0).sqrt();
        let discs = [(-out, 0.0, DISC_KG), (0.0, up, middle_kg), (out, 0.0, DISC_KG)];
        for (number, (x, z, mass_kg)) in discs.into_iter().enumerate() {
            w.add(disc(number, mass_kg, [x, z]));
        }
        let run = |w: &mut World, time_s: f64| {
            for _ in 0..(time_s / w.step_s()) as usize {
                w.step();
            }
        };
        run(&mut w, SETTLE_S);
        w.surfaces.friction_coeff = friction_coeff;
        w.surfaces.piece_friction_coeff = friction_coeff;
        let starts: Vec<f64> = w.balls.iter().map(|b| b.at_m[2]).collect();
        run(&mut w, WATCHED_S);
        let moved = |(b, s): (&Ball, f64)| (b.at_m[2] - s).abs() > 0.5 * MOVED_RATIO * DIAMETER_M;
        !w.balls.iter().zip(starts).any(moved)
    }
}

/// Least widths of a pipe in which this friction holds an arch: with all the weight on the middle disc, with as much on each, and with
/// none on the middle, which is however it lies.
///
/// ```text
/// tan(α/2) = μ:  w = 1 + 2 (1 − μ²)/(1 + μ²)      tan α = μ:  w = 1 + 2/√(1 + μ²)
/// as much on each:  3 sin α/(1 + 3 cos α) = μ,  α = atan μ + asin(μ/(3 √(1 + μ²)))
/// ```
pub fn least_widths(friction_coeff: f64) -> [f64; 3] {
    let mu = friction_coeff;
    let root = (1.0 + mu * mu).sqrt();
    let even = mu.atan() + (mu / (3.0 * root)).asin();
    [2.0 * mu.atan(), even, mu.atan()].map(|a| 1.0 + 2.0 * a.cos())
}
