//! Integration of one flight.

use super::force::{Branch, Force, Moving, moving, velocity};
use super::lift::BILINEAR_CORNER;
use super::path::{Ended, Node, Path};
use super::{Ball, Medium, State};
use crate::numerics::ode::{dop853, step_factor};
use crate::numerics::root::bracketed_newton;
use crate::numerics::vector::norm;

/// When a flight ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Until {
    /// Give up this long after the start.
    pub time_s: f64,
    /// Stop when the centre falls below this height going down.
    pub floor_m: f64,
}

/// How closely a flight is integrated.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Accuracy {
    /// Errors below 1e-10 m over a throw: for anything reported or differentiated.
    Tight,
    /// Errors below 1e-7 m over a throw, several times faster: for pictures and the inner loops of aiming.
    Quick,
}

impl Accuracy {
    /// Method: error allowed in one step, relative to speed and in metres for a path of a metre.
    /// Tight is near rounding; Quick leaves under 1e-7 m at the end of a throw (tested).
    fn tolerance(self) -> f64 {
        match self {
            Accuracy::Tight => 1e-13,
            Accuracy::Quick => 3e-9,
        }
    }
}

/// Flies a piece from a start until it falls below the floor or time is up, at [`Accuracy::Tight`].
///
/// Any input gives a path; one that is not finite gives a path that ends where it starts
/// being so, with [`Ended::NotFinite`].
pub fn fly(ball: &Ball, medium: &Medium, start: &State, until: &Until) -> Path {
    fly_to_accuracy(ball, medium, start, until, Accuracy::Tight)
}

/// As [`fly`], with the accuracy chosen.
pub fn fly_to_accuracy(
    ball: &Ball,
    medium: &Medium,
    start: &State,
    until: &Until,
    accuracy: Accuracy,
) -> Path {
    let mut force = Force::new(ball, medium, start);
    let y = moving(start);
    let first = Node::new(&force, start.time_s, start.position_m, y);
    let mut path = Path::begin(force, *until, first);
    if !first.is_finite() {
        path.ended = Ended::NotFinite;
        return path;
    }
    if path.is_below_floor(&first) {
        path.ended = Ended::Floor;
        return path;
    }
    let end_s = start.time_s + until.time_s;
    let tolerance = accuracy.tolerance();
    let mut step_s = first_step(&first);
    path.ended = Ended::Time;
    for _ in 0..MOST_STEPS {
        let node = *path.last();
        let left_s = end_s - node.time_s;
        if left_s.is_nan() || left_s <= node.time_s.abs() * f64::EPSILON {
            break;
        }
        let last = step_s >= left_s;
        let h = if last { left_s } else { step_s };
        let rates = (node.rate, velocity(&node.y));
        let step = dop853(&node.y, &rates, h, |y| (force.rate(y), velocity(y)));
        let (scale_y, scale_q) = scales(&node, tolerance);
        let error = step.error_ratio(&scale_y, &scale_q);
        if error > 1.0 || error.is_nan() {
            step_s = h * step_factor(error).min(1.0);
            if step_s < LEAST_STEP_S {
                path.ended = Ended::NotFinite;
                break;
            }
            continue;
        }
        let time_s = if last { end_s } else { node.time_s + h };
        let mut next = Node::new(&force, time_s, add(node.position_m, step.gain), step.y);
        if !next.is_finite() {
            path.ended = Ended::NotFinite;
            break;
        }
        step_s = (h * step_factor(error)).min(LONGEST_STEP_S);
        if let Some(corner_s) = corner(&force, &node, &next) {
            next = node.advance(&force, corner_s);
            force = force.with_branch(force.branch_at(&next.y));
            next = next.on_branch(&force);
        }
        path.push(next);
        if path.cut_at_floor() {
            path.ended = Ended::Floor;
            break;
        }
    }
    path
}

/// Errors allowed in the moving state and in the position over one step.
fn scales(node: &Node, tolerance: f64) -> ([f64; 4], [f64; 3]) {
    let speed = SLOW_MPS + norm(velocity(&node.y));
    (
        [tolerance * speed, tolerance * speed, tolerance * speed, tolerance],
        [tolerance; 3],
    )
}

/// Method: below this speed an error in velocity no longer matters in proportion; a throw is ten times faster.
const SLOW_MPS: f64 = 1.0;

/// A tenth of the time in which the velocity changes by itself.
fn first_step(node: &Node) -> f64 {
    let (speed, accel) = (norm(velocity(&node.y)), norm(velocity(&node.rate)));
    let step_s = FIRST_STEP * (SLOW_MPS + speed) / accel;
    if step_s.is_finite() {
        step_s.clamp(LEAST_STEP_S, FIRST_STEP)
    } else {
        FIRST_STEP
    }
}

/// Method: a cautious first step; the controller lengthens it at once.
const FIRST_STEP: f64 = 0.1;
/// Rounding: a step this short that still fails is not finite in truth.
const LEAST_STEP_S: f64 = 1e-10;
/// Method: a longer step would let the interpolation that isolates events grow wrong by more than a
/// hundredth of a millimetre.
const LONGEST_STEP_S: f64 = 0.4;
/// Method: a throw takes 5 to 40 steps; a fall of an hour 9000.
const MOST_STEPS: usize = 10_000;

/// First time in a step at which S crosses the corner of the bilinear law, if it does.
///
/// S is sampled along the step, because it may rise above the corner and fall back within it.
fn corner(force: &Force, from: &Node, to: &Node) -> Option<f64> {
    if force.branch() == Branch::Whole {
        return None;
    }
    let h = to.time_s - from.time_s;
    let above = |y: &Moving| {
        let s = force.spin_parameter(y) - BILINEAR_CORNER;
        if force.branch() == Branch::Above { -s } else { s }
    };
    // Cubic through velocity and rate at both ends: enough to see a crossing.
    let between = |u: f64| -> Moving {
        std::array::from_fn(|i| {
            let (y0, y1, d0, d1) = (from.y[i], to.y[i], h * from.rate[i], h * to.rate[i]);
            let rise = y1 - y0;
            y0 + u * (d0 + u * ((3.0 * rise - 2.0 * d0 - d1) + u * (d0 + d1 - 2.0 * rise)))
        })
    };
    let samples = (1..=CORNER_SAMPLES).map(|i| i as f64 / CORNER_SAMPLES as f64);
    let mut before = 0.0;
    for u in samples {
        let wrong = if u == 1.0 {
            above(&to.y)
        } else {
            above(&between(u))
        };
        if wrong > CORNER_SLACK {
            let exact = |t: f64| {
                let value = above(&from.advance(force, t).y);
                let ahead = above(&from.advance(force, t + CORNER_SLOPE_S).y);
                (value, (ahead - value) / CORNER_SLOPE_S)
            };
            let lo = before * h;
            let value_lo = if before == 0.0 { -1.0 } else { exact(lo).0 };
            if value_lo >= 0.0 {
                return Some(lo);
            }
            return Some(
                bracketed_newton(
                    exact,
                    (lo, value_lo),
                    u * h,
                    0.5 * (before + u) * h,
                    CORNER_CLOSE_S,
                )
                .0,
            );
        }
        before = u;
    }
    None
}

/// Method: a step is at most 0.4 s and S has one hump a flight; sixteen samples see any that matters.
const CORNER_SAMPLES: usize = 16;
/// Rounding: S this far past the corner is still on it.
const CORNER_SLACK: f64 = 1e-12;
/// Method: interval of the one-sided slope of S; only steers Newton's method.
const CORNER_SLOPE_S: f64 = 1e-6;
/// Convergence: an error dt in the time of the corner changes the path by 0.1 S m/s² dt² or less.
const CORNER_CLOSE_S: f64 = 1e-10;

#[inline]
fn add(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[0] + b[0], a[1] + b[1], a[2] + b[2]]
}
