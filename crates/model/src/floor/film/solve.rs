//! Levenberg-Marquardt on the flight.

use super::{Known, Point};
use crate::finding::Finding;
use crate::flight::{Accuracy, Ball, Medium, State, Until, drag_coeff, fly_to_accuracy, reynolds};
use crate::numerics::linear_fit::least_squares;

/// Convergence: a step that lowers the sum of squares by less than this share ends the search.
const SETTLED: f64 = 1e-8;
/// Method: steps before it is given up.
const MOST_STEPS: usize = 60;
/// Method: damping tried before a step is given up.
const MOST_DAMPING: f64 = 1e6;
/// Method: first guess of the scatter of the points.
const FIRST_SIGMA_M: f64 = 0.005;
/// Method: σ weighs what was known before against the film, so it is found by turns.
const SIGMA_TURNS: usize = 4;
/// Rounding: a fit better than this is exact; the scatter of real points is never below it.
const LEAST_SIGMA_M: f64 = 1e-7;
/// Method: half steps of the central differences, in the scale of each parameter: m, m, m/s, rad, -, -, m/s².
const DIFFERENCES: [f64; 7] = [1e-5, 1e-5, 1e-4, 1e-5, 1e-4, 1e-4, 1e-3];
/// Physical: no thrown piece is faster; the search stays below.
const FASTEST_MPS: f64 = 300.0;
/// Physical: how far down the flight is followed.
const DEEP_M: f64 = -1e4;

/// What is fitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Free {
    /// Start, drag, spin.
    Flight,
    /// Gravity as well.
    Gravity,
}

/// A fit.
#[derive(Clone, Debug)]
pub(super) struct Fitted {
    /// x0, z0, v, θ, drag ratio, S, and gravity if free.
    pub(super) values: Vec<f64>,
    /// Their standard errors.
    pub(super) sd: Vec<f64>,
    pub(super) degrees_of_freedom: f64,
    pub(super) rms_m: f64,
    /// Of every point, used or not.
    pub(super) residuals_m: Vec<[f64; 2]>,
    pub(super) path_m: Vec<[f64; 2]>,
}

/// The piece's own drag coefficient at a speed.
pub(super) fn drag_at(ball: &Ball, medium: &Medium, speed_mps: f64) -> f64 {
    let state = State {
        time_s: 0.0,
        position_m: [0.0; 3],
        velocity_mps: [speed_mps, 0.0, 0.0],
        spin_radps: [0.0; 3],
    };
    drag_coeff(&ball.drag, reynolds(ball, medium, &state))
}

struct Problem<'a> {
    points: &'a [Point],
    used: &'a [bool],
    ball: &'a Ball,
    medium: &'a Medium,
    known: &'a Known,
    duration_s: f64,
}

/// Fits the flight to the points in use.
pub(super) fn fit(
    points: &[Point],
    used: &[bool],
    ball: &Ball,
    medium: &Medium,
    known: &Known,
    free: Free,
) -> Result<Fitted, Finding> {
    let problem = Problem {
        points,
        used,
        ball,
        medium,
        known,
        duration_s: points.last().map_or(0.0, |p| p.time_s),
    };
    let mut values = start(points, used, medium, known)?;
    if free == Free::Gravity {
        values.push(medium.gravity_mps2);
    }
    let rows = 2 * used.iter().filter(|u| **u).count();
    // What was known before holds drag and spin; the film alone pays for the rest.
    let held = usize::from(known.drag_ratio.is_some()) + usize::from(known.spin_ratio.is_some());
    let degrees_of_freedom = (rows + held).saturating_sub(values.len()).max(1) as f64;
    let mut sigma_m = FIRST_SIGMA_M;
    let mut solved = None;
    for _ in 0..SIGMA_TURNS {
        values = problem.search(values, sigma_m)?;
        let left: f64 = problem.film_residuals(&values, true).iter().map(|r| r * r).sum();
        let next = (left / degrees_of_freedom).sqrt().max(LEAST_SIGMA_M);
        let design = problem.design(&values, next);
        let columns = values.len();
        let target = vec![1.0; design.len() / columns.max(1)];
        // Only the inverse of XᵀX is wanted, so the target does not matter as long as it leaves something.
        let Some(qr) = least_squares(target.len(), columns, &design, &target) else {
            return Err(unsettled());
        };
        let unit = qr.residual_sd;
        solved = Some(qr.standard_errors.iter().map(|e| e / unit).collect::<Vec<f64>>());
        let same = (next / sigma_m - 1.0).abs() < 1e-3;
        sigma_m = next;
        if same {
            break;
        }
    }
    let sd = solved.ok_or_else(unsettled)?;
    let flat = problem.film_residuals(&values, false);
    let residuals_m: Vec<[f64; 2]> = flat
        .chunks_exact(2)
        .map(|r| match r {
            [x, z] => [*x, *z],
            _ => [f64::NAN; 2],
        })
        .collect();
    let in_use: Vec<f64> = residuals_m
        .iter()
        .zip(used)
        .filter(|(_, u)| **u)
        .map(|(r, _)| r[0] * r[0] + r[1] * r[1])
        .collect();
    let rms_m = (in_use.iter().sum::<f64>() / in_use.len().max(1) as f64).sqrt();
    let path = problem.path(&values);
    let path_m = path
        .sample(120)
        .iter()
        .map(|s| [s.position_m[0], s.position_m[2]])
        .collect();
    if !(values.iter().chain(&sd).all(|v| v.is_finite()) && rms_m.is_finite()) {
        return Err(unsettled());
    }
    Ok(Fitted {
        values,
        sd,
        degrees_of_freedom,
        rms_m,
        residuals_m,
        path_m,
    })
}

fn unsettled() -> Finding {
    Finding::new(
        "film-unsettled",
        "film",
        "no flight of this piece passes near these points",
        "check that the points are of one flight without a bounce, the columns and their units, and the scale",
    )
}

/// A parabola through the points by least squares, and what was known before.
fn start(points: &[Point], used: &[bool], medium: &Medium, known: &Known) -> Result<Vec<f64>, Finding> {
    let own: Vec<&Point> = points
        .iter()
        .zip(used)
        .filter(|(_, u)| **u)
        .map(|(p, _)| p)
        .collect();
    let line: Vec<f64> = own.iter().flat_map(|p| [1.0, p.time_s]).collect();
    let g = medium.gravity_mps2;
    let along: Vec<f64> = own.iter().map(|p| p.x_m).collect();
    let up: Vec<f64> = own
        .iter()
        .map(|p| p.z_m + 0.5 * g * p.time_s * p.time_s)
        .collect();
    let (Some(x), Some(z)) = (
        least_squares(own.len(), 2, &line, &along),
        least_squares(own.len(), 2, &line, &up),
    ) else {
        return Err(unsettled());
    };
    if own.len() >= 4 {
        let bend: Vec<f64> = own
            .iter()
            .flat_map(|p| [1.0, p.time_s, p.time_s * p.time_s])
            .collect();
        let height: Vec<f64> = own.iter().map(|p| p.z_m).collect();
        // Falls upward, and surely so.
        if let Some(f) = least_squares(own.len(), 3, &bend, &height)
            && let (Some(curve), Some(se)) = (f.coefficients.get(2), f.standard_errors.get(2))
            && *curve > 4.0 * se
            && *curve > 0.1 * g
        {
            return Err(Finding::new(
                "film-upside-down",
                "film",
                "the piece falls upward: the second coordinate grows downward in this film",
                "say so with `--y down` (or `--y up` if it was said)",
            ));
        }
    }
    let get = |f: &crate::numerics::linear_fit::Fit, i: usize| f.coefficients.get(i).copied().unwrap_or(0.0);
    let (vx, vz) = (get(&x, 1), get(&z, 1));
    Ok(vec![
        get(&x, 0),
        get(&z, 0),
        vx.hypot(vz).clamp(0.01, FASTEST_MPS),
        vz.atan2(vx),
        known.drag_ratio.map_or(1.0, |k| k[0]),
        known.spin_ratio.map_or(0.0, |k| k[0]),
    ])
}

impl Problem<'_> {
    fn path(&self, values: &[f64]) -> crate::flight::Path {
        let v = |i: usize| values.get(i).copied().unwrap_or(f64::NAN);
        let (speed, angle) = (v(2), v(3));
        let mut ball = *self.ball;
        ball.drag.scale_ratio *= v(4);
        let mut medium = *self.medium;
        if values.len() > 6 {
            medium.gravity_mps2 = v(6);
        }
        let state = State {
            time_s: 0.0,
            position_m: [v(0), 0.0, v(1)],
            velocity_mps: [speed * angle.cos(), 0.0, speed * angle.sin()],
            spin_radps: [0.0, -v(5) * speed / (0.5 * ball.diameter_m), 0.0],
        };
        let until = Until {
            time_s: self.duration_s,
            floor_m: DEEP_M,
        };
        fly_to_accuracy(&ball, &medium, &state, &until, Accuracy::Tight)
    }

    /// Point less path, along and up, of the points in use or of all.
    fn film_residuals(&self, values: &[f64], only_used: bool) -> Vec<f64> {
        let path = self.path(values);
        let each = self.points.iter().zip(self.used);
        each.filter(|(_, used)| **used || !only_used)
            .flat_map(|(p, _)| {
                let at = path.at(p.time_s).position_m;
                [p.x_m - at[0], p.z_m - at[2]]
            })
            .collect()
    }

    /// All residuals over their standard deviations: the film's, then what was known before.
    fn residuals(&self, values: &[f64], sigma_m: f64) -> Vec<f64> {
        let mut out: Vec<f64> = self
            .film_residuals(values, true)
            .into_iter()
            .map(|r| r / sigma_m)
            .collect();
        for (i, known) in [(4, self.known.drag_ratio), (5, self.known.spin_ratio)] {
            if let (Some([mean, sd]), Some(value)) = (known, values.get(i)) {
                out.push((mean - value) / sd);
            }
        }
        out
    }

    /// Derivatives of what is predicted, row by row.
    fn design(&self, values: &[f64], sigma_m: f64) -> Vec<f64> {
        let columns: Vec<Vec<f64>> = (0..values.len())
            .map(|j| {
                let h = DIFFERENCES.get(j).copied().unwrap_or(1e-5);
                let moved = |by: f64| {
                    let mut v = values.to_vec();
                    if let Some(x) = v.get_mut(j) {
                        *x += by;
                    }
                    self.residuals(&v, sigma_m)
                };
                let (low, high) = (moved(-h), moved(h));
                low.iter().zip(&high).map(|(a, b)| (a - b) / (2.0 * h)).collect()
            })
            .collect();
        let rows = columns.first().map_or(0, Vec::len);
        (0..rows)
            .flat_map(|i| columns.iter().map(move |c| c.get(i).copied().unwrap_or(f64::NAN)))
            .collect()
    }

    fn search(&self, start: Vec<f64>, sigma_m: f64) -> Result<Vec<f64>, Finding> {
        let square = |r: &[f64]| r.iter().map(|x| x * x).sum::<f64>();
        let mut values = start;
        let mut residuals = self.residuals(&values, sigma_m);
        let mut now = square(&residuals);
        if !now.is_finite() {
            return Err(unsettled());
        }
        let columns = values.len();
        let mut damping = 1e-3;
        for _ in 0..MOST_STEPS {
            let design = self.design(&values, sigma_m);
            let lengths: Vec<f64> = (0..columns)
                .map(|j| {
                    let own = design.iter().skip(j).step_by(columns);
                    own.map(|x| x * x).sum::<f64>().sqrt()
                })
                .collect();
            let mut settled = false;
            let mut stepped = false;
            while damping < MOST_DAMPING {
                let mut rows = design.clone();
                let mut target = residuals.clone();
                let root = damping.sqrt();
                for (j, length) in lengths.iter().enumerate() {
                    rows.extend((0..columns).map(|k| if k == j { root * length } else { 0.0 }));
                    target.push(0.0);
                }
                let Some(step) = least_squares(target.len(), columns, &rows, &target) else {
                    damping *= 10.0;
                    continue;
                };
                let tried: Vec<f64> = values
                    .iter()
                    .zip(&step.coefficients)
                    .map(|(v, d)| v + d)
                    .collect();
                let fast = tried.get(2).is_some_and(|v| *v > 0.0 && *v < FASTEST_MPS);
                let next = self.residuals(&tried, sigma_m);
                let after = square(&next);
                if fast && after <= now {
                    settled = now - after <= SETTLED * now;
                    (values, residuals, now) = (tried, next, after);
                    damping = (damping / 5.0).max(1e-12);
                    stepped = true;
                    break;
                }
                damping *= 4.0;
            }
            if settled || !stepped {
                return Ok(values);
            }
        }
        Ok(values)
    }
}
