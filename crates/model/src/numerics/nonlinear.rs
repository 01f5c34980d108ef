//! Nonlinear least squares.

use super::linear_fit::least_squares;

/// A nonlinear fit.
#[derive(Clone, Debug, PartialEq)]
pub struct NonlinearFit {
    /// Parameters that make the sum of squares least, as far as the descent came.
    pub parameters: Vec<f64>,
    /// Standard error of each, from the derivatives there; not a number when no degree of freedom is left.
    pub standard_errors: Vec<f64>,
    /// Sum of squares of the residuals.
    pub sum_of_squares: f64,
    /// Square root of it by the degrees of freedom.
    pub residual_sd: f64,
    /// Residuals less parameters.
    pub degrees_of_freedom: usize,
    /// Steps taken or refused.
    pub step_count: usize,
    /// The descent ended at a minimum: no direction leads down by more than rounding.
    pub converged: bool,
}

/// Rounding: steps below this part of every parameter change nothing.
const SMALL_STEP: f64 = 1e-13;
/// Convergence: cosine between the residuals and each direction in which they can be changed, at a minimum.
const FLAT_COSINE: f64 = 1e-7;
/// Method: step of the differences, as a part of the parameter; with the extrapolation the error is about 1e-13.
const DIFFERENCE: f64 = 1e-3;
/// Method: part of the reduction that the linear model promised below which a step is refused.
const LEAST_GAIN: f64 = 1e-4;
/// Method: damping beyond which nothing is left of a step.
const MOST_DAMPING: f64 = 1e30;
/// Rounding of a sum of squares.
const ROUNDING: f64 = 1e-15;

/// Fits parameters by the method of Levenberg and Marquardt [marquardt-1963], the damping scaled by the longest
/// column that each parameter has had [more-1978] and changed by the gain [nielsen-1999].
///
/// ```text
/// min |r(b)|²       (JᵀJ + λ D²) δ = −Jᵀr      gain = (|r|² − |r(b + δ)|²)/(|r|² − |r + J δ|²)
/// λ ← λ max(1/3, 1 − (2 gain − 1)³) when the gain is positive, else λ ← λ ν, ν ← 2 ν
/// ```
///
/// The step is solved by reflections of J over √λ D, not through JᵀJ; J comes from differences of fourth order, with standard
/// errors from J at the result. `None` when the residuals are fewer than the parameters, not finite
/// at the start, or there is nothing to fit.
pub fn nonlinear_least_squares(
    mut residuals: impl FnMut(&[f64]) -> Option<Vec<f64>>,
    start: &[f64],
    most_steps: usize,
) -> Option<NonlinearFit> {
    let mut finite = |b: &[f64]| residuals(b).filter(|r| r.iter().all(|x| x.is_finite()));
    let n = start.len();
    let mut at = start.to_vec();
    let mut r = finite(&at)?;
    let rows = r.len();
    if n == 0 || rows < n || !at.iter().all(|x| x.is_finite()) {
        return None;
    }
    let mut jacobian = differences(&mut finite, &at, rows)?;
    let mut scale = vec![0.0_f64; n];
    let (mut lambda, mut grows) = (1e-3, 2.0);
    let mut step_count = 0;
    while step_count < most_steps && lambda < MOST_DAMPING {
        step_count += 1;
        for (s, length) in scale.iter_mut().zip(lengths(&jacobian, n)) {
            *s = s.max(length);
        }
        let Some(step) = damped(&jacobian, &r, &scale, lambda, n) else {
            lambda *= grows;
            grows *= 2.0;
            continue;
        };
        let next: Vec<f64> = at.iter().zip(&step).map(|(b, d)| b + d).collect();
        let small = |(b, d): (&f64, &f64)| d.abs() <= SMALL_STEP * b.abs();
        if at.iter().zip(&step).all(small) {
            break;
        }
        let squares = |r: &[f64]| r.iter().map(|x| x * x).sum::<f64>();
        let promised: f64 = squares(&r) - squares(&moved(&jacobian, &r, &step));
        let tried = finite(&next);
        let gain = tried
            .as_ref()
            .map_or(-1.0, |t| (squares(&r) - squares(t)) / promised);
        let derivatives = if gain > LEAST_GAIN {
            differences(&mut finite, &next, rows)
        } else {
            None
        };
        if let (Some(t), Some(j)) = (tried, derivatives) {
            (at, r, jacobian) = (next, t, j);
            lambda *= (1.0 - (2.0 * gain - 1.0).powi(3)).max(1.0 / 3.0);
            grows = 2.0;
        } else if promised <= ROUNDING * squares(&r) {
            break;
        } else {
            lambda *= grows;
            grows *= 2.0;
        }
    }
    let sum_of_squares: f64 = r.iter().map(|x| x * x).sum();
    let last = least_squares(rows, n, &jacobian, &r);
    let flat = steepest(&jacobian, &r, n) < FLAT_COSINE;
    let degrees_of_freedom = rows - n;
    Some(NonlinearFit {
        standard_errors: standard_errors(&jacobian, &r, n, last.is_some()),
        parameters: at,
        sum_of_squares,
        residual_sd: (sum_of_squares / degrees_of_freedom as f64).sqrt(),
        degrees_of_freedom,
        step_count,
        converged: flat && last.is_some(),
    })
}

/// Derivatives of every residual by every parameter, row by row.
fn differences(
    residuals: &mut impl FnMut(&[f64]) -> Option<Vec<f64>>,
    at: &[f64],
    rows: usize,
) -> Option<Vec<f64>> {
    let n = at.len();
    let mut out = vec![0.0; rows * n];
    for k in 0..n {
        let h = DIFFERENCE * if at[k] == 0.0 { 1.0 } else { at[k].abs() };
        let mut quotient = |h: f64| -> Option<Vec<f64>> {
            let mut b = at.to_vec();
            b[k] = at[k] + h;
            let up = b[k];
            let above = residuals(&b)?;
            b[k] = at[k] - h;
            // The step as it is after rounding.
            let width = up - b[k];
            let below = residuals(&b)?;
            Some(above.iter().zip(&below).map(|(x, y)| (x - y) / width).collect())
        };
        let (coarse, fine) = (quotient(h)?, quotient(0.5 * h)?);
        for (i, (c, f)) in coarse.iter().zip(&fine).enumerate() {
            *out.get_mut(i * n + k)? = (4.0 * f - c) / 3.0;
        }
    }
    out.iter().all(|x| x.is_finite()).then_some(out)
}

fn lengths(jacobian: &[f64], n: usize) -> Vec<f64> {
    let mut out = vec![0.0; n];
    for row in jacobian.chunks_exact(n) {
        for (o, x) in out.iter_mut().zip(row) {
            *o += x * x;
        }
    }
    out.iter().map(|x: &f64| x.sqrt()).collect()
}

/// The step of the damped problem.
fn damped(jacobian: &[f64], r: &[f64], scale: &[f64], lambda: f64, n: usize) -> Option<Vec<f64>> {
    let mut design = jacobian.to_vec();
    let mut target: Vec<f64> = r.iter().map(|x| -x).collect();
    for (k, s) in scale.iter().enumerate() {
        design.extend((0..n).map(|j| if j == k { lambda.sqrt() * s } else { 0.0 }));
        target.push(0.0);
    }
    Some(least_squares(target.len(), n, &design, &target)?.coefficients)
}

/// r + J δ.
fn moved(jacobian: &[f64], r: &[f64], step: &[f64]) -> Vec<f64> {
    let row = |j: &[f64]| j.iter().zip(step).map(|(x, d)| x * d).sum::<f64>();
    let each = jacobian.chunks_exact(step.len()).zip(r);
    each.map(|(j, r)| r + row(j)).collect()
}

/// Greatest cosine between the residuals and a column.
fn steepest(jacobian: &[f64], r: &[f64], n: usize) -> f64 {
    let length = r.iter().map(|x| x * x).sum::<f64>().sqrt();
    let mut dots = vec![0.0; n];
    for (row, r) in jacobian.chunks_exact(n).zip(r) {
        for (d, x) in dots.iter_mut().zip(row) {
            *d += x * r;
        }
    }
    let each = dots.iter().zip(lengths(jacobian, n));
    each.fold(0.0, |m: f64, (d, l)| {
        let cosine = (d / (l * length)).abs();
        if cosine.is_nan() { m } else { m.max(cosine) }
    })
}

/// From the linear problem with these residuals: those of a linear fit, corrected for what it would still remove.
fn standard_errors(jacobian: &[f64], r: &[f64], n: usize, usable: bool) -> Vec<f64> {
    let fit = if usable {
        least_squares(r.len(), n, jacobian, r)
    } else {
        None
    };
    let Some(fit) = fit else { return vec![f64::NAN; n] };
    let left = (r.len() - n) as f64;
    let own = (r.iter().map(|x| x * x).sum::<f64>() / left).sqrt();
    fit.standard_errors
        .iter()
        .map(|se| se / fit.residual_sd * own)
        .collect()
}

#[cfg(test)]
#[path = "nonlinear_tests.rs"]
mod tests;
