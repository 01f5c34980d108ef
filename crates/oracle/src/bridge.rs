//! Two discs that bridge a V: exact statics against both engines, over stiffness and step.

use arcwright_model::feed::hopper::Pieces;
use arcwright_model::feed::shape::Wall;
use arcwright_model::feed::world::{Ball, Surfaces, World};
use arcwright_model::units::STANDARD_GRAVITY_MPS2 as G;
use rayon::prelude::*;

use crate::rig::{Rig, Solver, Unknown};

/// Half angles of the V and tilts of the line of centres, degrees.
pub const HALF_ANGLES: [f64; 3] = [20.0, 30.0, 45.0];
/// Tilts that go with each.
pub const TILTS: [f64; 6] = [2.0, 5.0, 10.0, 15.0, 20.0, 30.0];

const RADIUS_M: f64 = 0.05;
const MASS_KG: f64 = 0.1;
/// Method: a bridge that has moved by this share of a radius in [`WATCHED_S`] falls.
const MOVED_RATIO: f64 = 0.02;
/// Method: the library's contacts sag from where the discs are put.
const MOVED_SAGGING_RATIO: f64 = 0.2;
const WATCHED_S: f64 = 1.0;
const SETTLE_S: f64 = 0.3;
/// Convergence: halvings of the friction between 0 and [`MOST_FRICTION`].
const HALVINGS: usize = 13;
const MOST_FRICTION: f64 = 0.5;
/// Method: friction in which it settles.
const PLENTY: f64 = 3.0;

/// A bridge, angles in radians.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bridge {
    /// Half the angle of the V.
    pub half_angle_rad: f64,
    /// Of the line of centres.
    pub tilt_rad: f64,
}

/// All 18.
pub fn bridges() -> Vec<Bridge> {
    HALF_ANGLES
        .iter()
        .flat_map(|h| {
            TILTS.map(|t| Bridge {
                half_angle_rad: h.to_radians(),
                tilt_rad: t.to_radians(),
            })
        })
        .collect()
}

impl Bridge {
    /// Least friction that holds it.
    ///
    /// No disc turns, so at all three contacts friction has one size T, and on each disc both pull the same way round. For a
    /// pull T of the pair on each disc the walls' forces follow from the balance of the two discs together and the pair's from one
    /// of them, all in proportion to the weight: with N from T = 0 and from T = 1 the moment about the lower disc decides T.
    ///
    /// ```text
    /// N₁ n₁ + N₃ n₃ = 2 W − T (t₁ + t₃)      both discs
    /// N₂ = u·(N₁ n₁ + T t₁ − W),  0 = w·(N₁ n₁ + T t₁ − W) + T     the first disc, along and across the line of centres
    /// μ = T/min N
    /// ```
    pub fn least_friction(&self) -> f64 {
        let ((sb, cb), (sp, cp)) = (self.half_angle_rad.sin_cos(), self.tilt_rad.sin_cos());
        let (n1, t1) = ([cb, sb], [-sb, cb]);
        let t3 = [-sb, -cb];
        let (u, w) = ([cp, sp], [-sp, cp]);
        let dot = |a: [f64; 2], b: [f64; 2]| a[0] * b[0] + a[1] * b[1];
        // Weight of one disc; T as a share of it.
        let at = |t: f64| {
            let (x, y) = (-t * (t1[0] + t3[0]), 2.0 - t * (t1[1] + t3[1]));
            let (a, b) = (0.5 * (y / sb + x / cb), 0.5 * (y / sb - x / cb));
            let first = [a * n1[0] + t * t1[0], a * n1[1] + t * t1[1] - 1.0];
            (a, b, dot(u, first), dot(w, first) + t)
        };
        let (off, slope) = (at(0.0).3, at(1.0).3 - at(0.0).3);
        let t = -off / slope;
        let (a, b, c, _) = at(t);
        t.abs() / a.min(b).min(c)
    }

    fn world(&self, friction_coeff: f64, press_npm: f64, steps: f64) -> World {
        let (sb, cb) = self.half_angle_rad.sin_cos();
        let surfaces = Surfaces {
            press_npm,
            bounce_coeff: 0.2,
            friction_coeff,
            piece_friction_coeff: friction_coeff,
            roller_friction_coeff: 0.0,
            rolling_coeff: 0.0,
        };
        let mut w = World::new(surfaces, MASS_KG, steps);
        w.gravity_mps2 = [0.0, 0.0, -G];
        for s in [-1.0, 1.0] {
            let (x, z) = (2.0 * s * sb, 2.0 * cb);
            w.walls
                .push(Wall::new(&[[x, s, z], [0.0, s, 0.0], [0.0, -s, 0.0], [x, -s, z]]));
        }
        w
    }

    fn balls(&self) -> [Ball; 2] {
        let ((sb, cb), (sp, cp)) = (self.half_angle_rad.sin_cos(), self.tilt_rad.sin_cos());
        let other = RADIUS_M + 2.0 * RADIUS_M * (self.half_angle_rad + self.tilt_rad).cos();
        let (x, z) = (0.5 * (RADIUS_M - other) / cb, 0.5 * (RADIUS_M + other) / sb);
        let far = 2.0 * RADIUS_M;
        [[x, 0.0, z], [x + far * cp, 0.0, z + far * sp]].map(|at_m| Ball {
            radius_m: RADIUS_M,
            mass_kg: MASS_KG,
            inertia_coeff: 0.4,
            at_m,
            velocity_mps: [0.0; 3],
            spin_radps: [0.0; 3],
            number: 0,
        })
    }

    /// Does it hold in the model's engine, having settled with friction to spare?
    pub fn holds(&self, friction_coeff: f64, press_npm: f64, steps: f64) -> bool {
        let mut w = self.world(friction_coeff, press_npm, steps);
        for ball in self.balls() {
            w.add(ball);
        }
        let asked = w.surfaces;
        w.surfaces.friction_coeff = PLENTY;
        w.surfaces.piece_friction_coeff = PLENTY;
        for _ in 0..(SETTLE_S / w.step_s()) as usize {
            w.step();
        }
        w.surfaces = asked;
        let starts: Vec<_> = w.balls.iter().map(|b| b.at_m).collect();
        for _ in 0..(WATCHED_S / w.step_s()) as usize {
            w.step();
        }
        !w.balls
            .iter()
            .zip(starts)
            .any(|(b, s)| far(b.at_m, s, MOVED_RATIO))
    }

    /// And in the library?
    pub fn holds_in_other(&self, friction_coeff: f64, solver: &Solver) -> Result<bool, Unknown> {
        let pieces = Pieces {
            count: 2,
            diameter_m: 2.0 * RADIUS_M,
            diameter_sd_m: 0.0,
            mass_kg: MASS_KG,
            mass_sd_kg: 0.0,
            inertia_coeff: 0.4,
            press_npm: 1e5,
            bounce_coeff: 0.2,
        };
        let mut rig = Rig::new(&self.world(friction_coeff, 1e5, 15.0), &pieces, solver)?;
        let balls = self.balls();
        for ball in &balls {
            rig.add(ball);
        }
        for _ in 0..(WATCHED_S / solver.step_s) as usize {
            rig.step();
        }
        Ok(!rig
            .pieces()
            .zip(balls)
            .any(|((at, _), b)| far(at, b.at_m, MOVED_SAGGING_RATIO)))
    }

    fn threshold(&self, press_npm: f64, steps: f64) -> f64 {
        let (mut falls, mut holds) = (0.0, MOST_FRICTION);
        for _ in 0..HALVINGS {
            let middle = 0.5 * (falls + holds);
            if self.holds(middle, press_npm, steps) {
                holds = middle;
            } else {
                falls = middle;
            }
        }
        holds
    }
}

fn far(a: [f64; 3], b: [f64; 3], ratio: f64) -> bool {
    let d = [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
    (d[0] * d[0] + d[1] * d[1] + d[2] * d[2]).sqrt() > ratio * RADIUS_M
}

/// Worst error over all bridges of the friction at which they begin to hold.
pub fn worst_error(press_npm: f64, steps: f64) -> f64 {
    bridges()
        .into_par_iter()
        .map(|b| (b.threshold(press_npm, steps) - b.least_friction()).abs())
        .reduce(|| 0.0, f64::max)
}
