//! Where throws cross, and what became of them.

use rayon::prelude::*;

use super::lanes::Lanes;
use super::{Draw, SETPOINT_RANGE_FRAC, Thrower};
use crate::numerics::vector::{dot, norm};
use crate::target::{Arrival, Outcome, Passing, passing};

/// Physical: drag coefficient for the bend of a path within a radius of the rim; its error there is microns.
const TYPICAL_DRAG_COEFF: f64 = 0.47;
/// Throws handed to a thread at a time.
const CHUNK: usize = 1024;

/// Where throws cross the plane of the opening, in the order of the draws.
#[derive(Clone, Debug, Default)]
pub struct Crossings {
    /// Along, from the centre; not a number where a throw does not come down through the plane.
    pub along_m: Vec<f64>,
    /// Across, left positive.
    pub across_m: Vec<f64>,
    /// Velocity there in the target frame: along, across, outward.
    pub(super) velocity_mps: [Vec<f64>; 3],
}

impl Crossings {
    /// Deviations along and across over the throws that cross; not a number when none does.
    pub fn sd_m(&self) -> [f64; 2] {
        [&self.along_m, &self.across_m].map(|values| {
            let all: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
            let n = all.len() as f64;
            let mean = all.iter().sum::<f64>() / n;
            (all.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / n).sqrt()
        })
    }
}

impl Thrower {
    /// Where throws cross: columns of shares in (0, 1), at the setpoint times a ratio.
    ///
    /// Throws whose passage has no fitted response are run truly.
    pub fn crossings(&self, columns: &[Vec<f64>], speed_ratio: f64) -> Crossings {
        self.crossings_of(columns, speed_ratio, 1.0)
    }

    /// Share of throws that go in by the fitted response and their path near the opening, with every deviation
    /// times `wider_ratio`. For searches: a throw that a wall may decide counts by whether its centre comes through.
    pub fn quick_hits(&self, columns: &[Vec<f64>], speed_ratio: f64, wider_ratio: f64) -> f64 {
        let c = self.crossings_of(columns, speed_ratio, wider_ratio);
        let hits = (0..c.along_m.len())
            .filter(|&i| match self.near_opening(&c, i) {
                Some(p) => p.outcome == Outcome::In,
                None => self.chain.target.holds(c.along_m[i], c.across_m[i]),
            })
            .count();
        hits as f64 / c.along_m.len().max(1) as f64
    }

    /// How many throws go in, by the fitted response and their flight to its end where walls may decide.
    pub fn flown_hits(&self, columns: &[Vec<f64>], speed_ratio: f64) -> usize {
        let c = self.crossings(columns, speed_ratio);
        let count = c.along_m.len();
        (0..count)
            .into_par_iter()
            .filter(|&i| match self.near_opening(&c, i) {
                Some(p) if self.open_sky => p.outcome == Outcome::In,
                _ => {
                    let t = self.draw(columns, i, speed_ratio, 1.0);
                    self.predicted(&t)
                        .is_some_and(|exit| self.exact_arrival(&t, &exit).outcome == Outcome::In)
                }
            })
            .count()
    }

    /// What becomes of a throw by its path near the opening, where that is enough.
    fn near_opening(&self, c: &Crossings, i: usize) -> Option<Passing> {
        let velocity = [0, 1, 2].map(|k| c.velocity_mps[k][i]);
        let place = [c.along_m[i], c.across_m[i]];
        let radius_m = 0.5 * self.chain.ball.diameter_m;
        passing(&self.chain.target, radius_m, place, velocity, self.bend(velocity))
    }

    /// By what share the wheel speed may be off, either way, until the mean throw touches the near or far rim;
    /// straight from the slope of the crossing with speed, not beyond [`SETPOINT_RANGE_FRAC`] times ten.
    pub fn speed_tolerance_frac(&self, speed_ratio: f64) -> f64 {
        let columns = vec![vec![0.5]; self.dimension_count()];
        let at = |ratio: f64| {
            let c = self.crossings(&columns, ratio);
            (
                c.along_m.first().copied().unwrap_or(f64::NAN),
                [0, 1, 2].map(|k| c.velocity_mps[k].first().copied().unwrap_or(f64::NAN)),
            )
        };
        let ((a, velocity), (b, _)) = (at(speed_ratio), at(speed_ratio + 0.25 * SETPOINT_RANGE_FRAC));
        let slope_m = (b - a) / (0.25 * SETPOINT_RANGE_FRAC);
        let steep = -velocity[2] / norm(velocity);
        let free = 0.5 * self.chain.target.depth_m - 0.5 * self.chain.ball.diameter_m / steep - a.abs();
        let tolerance = free / slope_m.abs();
        if tolerance.is_finite() {
            tolerance.clamp(0.0, 10.0 * SETPOINT_RANGE_FRAC)
        } else {
            0.0
        }
    }

    pub(super) fn crossings_of(&self, columns: &[Vec<f64>], speed_ratio: f64, wider_ratio: f64) -> Crossings {
        let count = columns.first().map_or(0, Vec::len);
        let chunks: Vec<Crossings> = (0..count.div_ceil(CHUNK))
            .into_par_iter()
            .map(|c| {
                let range = c * CHUNK..((c + 1) * CHUNK).min(count);
                let mut lanes = Lanes::new(range.len());
                for i in range {
                    let t = self.draw(columns, i, speed_ratio, wider_ratio);
                    match self
                        .predicted(&t)
                        .or_else(|| self.passage(&t.z, t.wheel_radps, &t.torque, &t.rows))
                    {
                        Some(exit) => lanes.push(self, &t, &exit),
                        None => lanes.push_nothing(),
                    }
                }
                let mut out = Crossings::default();
                lanes.fly(self, &mut out);
                out
            })
            .collect();
        let mut all = Crossings::default();
        for c in chunks {
            all.along_m.extend(c.along_m);
            all.across_m.extend(c.across_m);
            for (list, more) in all.velocity_mps.iter_mut().zip(c.velocity_mps) {
                list.extend(more);
            }
        }
        all
    }

    /// What became of a throw, and whether the true passage had to be run.
    pub fn fate(
        &self,
        columns: &[Vec<f64>],
        i: usize,
        speed_ratio: f64,
        c: &Crossings,
        guard_m: f64,
    ) -> (Outcome, bool) {
        if self.open_sky
            && guard_m.is_finite()
            && let Some(p) = self.near_opening(c, i)
            && p.margin_m > guard_m
        {
            return (p.outcome, false);
        }
        let t = self.draw(columns, i, speed_ratio, 1.0);
        if let Some(exit) = self.predicted(&t) {
            let arrival = self.exact_arrival(&t, &exit);
            if self.settled(&arrival, guard_m) {
                return (arrival.outcome, false);
            }
        }
        (self.true_fate(&t), true)
    }

    /// Acceleration of the mean piece at a velocity in the target frame: gravity and drag. Lift bends the path
    /// within a radius of the rim by less than the least guard.
    pub(super) fn bend(&self, velocity: [f64; 3]) -> [f64; 3] {
        let (along, inward) = (self.chain.target.along_axis(), self.chain.target.inward());
        let down = [0.0, 0.0, -self.chain.medium.gravity_mps2];
        let b = &self.chain.ball;
        let area = 0.25 * std::f64::consts::PI * b.diameter_m.powi(2);
        let speed = norm(velocity);
        let drag = 0.5 * self.chain.medium.density_kgpm3 * area * TYPICAL_DRAG_COEFF * speed / b.mass_kg;
        let gravity = [dot(down, along), 0.0, -dot(down, inward)];
        std::array::from_fn(|k| gravity[k] - drag * velocity[k])
    }

    pub(super) fn true_fate(&self, t: &Draw) -> Outcome {
        match self.passage(&t.z, t.wheel_radps, &t.torque, &t.rows) {
            Some(exit) => self.exact_arrival(t, &exit).outcome,
            None => Outcome::None,
        }
    }

    /// What became of a throw by the true passage.
    pub fn true_outcome(&self, columns: &[Vec<f64>], i: usize, speed_ratio: f64) -> Outcome {
        self.true_fate(&self.draw(columns, i, speed_ratio, 1.0))
    }

    /// Place in the volley of a draw.
    pub fn throw_of(&self, columns: &[Vec<f64>], i: usize) -> usize {
        columns
            .get(self.inputs.len())
            .map_or(0, |c| self.release.throw_at(c[i]))
    }

    /// True where an error of the guard could not have led to another fate.
    pub(super) fn settled(&self, a: &Arrival, guard_m: f64) -> bool {
        let target = &self.chain.target;
        let near = |x: f64, edge: f64| (x.abs() - edge).abs() <= 2.0 * guard_m;
        let Some(c) = a.crossing else {
            // Short of the target by more than the guard can only be seen from where it landed.
            return a.flights.last().is_some_and(|p| {
                let end = p.end().position_m;
                a.outcome == Outcome::Short && end[0] < self.stance.at.near_rim_m - 0.1 - 4.0 * guard_m
            });
        };
        if near(c.along_m, 0.5 * target.depth_m) || near(c.across_m, 0.5 * target.width_m) {
            return false;
        }
        match a.clearance {
            // A wall turns small errors into large ones: the true passage decides on bounced throws.
            Some(k) => a.wall_touches == 0 && k.least_m().abs() > 2.0 * guard_m,
            None => false,
        }
    }
}
