//! The most probable parameters of a forward model, given a log of shots and what was believed before.
//!
//! ```text
//! fit_with(forward, prior, shots, options) -> Result<Posterior, FitRefused>
//! ```

use super::derivatives::{Derivatives, Objective};
use super::forward::Forward;
use super::likelihood::Rule;
use crate::numerics::symmetric::Cholesky;

/// What is believed of each parameter before the log: independent normal distributions.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Prior {
    /// Means.
    pub mean: Vec<f64>,
    /// Standard deviations, positive.
    pub sd: Vec<f64>,
}

/// How to fit.
#[derive(Clone, Debug, PartialEq)]
pub struct FitOptions {
    /// How outliers are thought of.
    pub rule: Rule,
    /// Most Newton steps from each start.
    pub most_steps: usize,
    /// Where to start, when a better place is known than the prior's mean.
    pub start: Option<Vec<f64>>,
}

impl Default for FitOptions {
    fn default() -> FitOptions {
        FitOptions {
            rule: Rule::default(),
            most_steps: 100,
            start: None,
        }
    }
}

/// Why no fit was made.
#[derive(Clone, Debug, PartialEq)]
pub enum FitRefused {
    /// Means and standard deviations of the prior are not of one number, not finite, or not positive.
    Prior,
    /// The model has no answer for some shot at the prior's mean, counted from 0.
    Shot(usize),
}

/// What is believed after the log: the most probable parameters, and a normal distribution about them.
#[derive(Clone, Debug, PartialEq)]
pub struct Posterior {
    /// Most probable parameters.
    pub mean: Vec<f64>,
    /// Inverse of the second derivatives there, row by row.
    pub covariance: Vec<Vec<f64>>,
    /// Minus the logarithm of likelihood times exp(−½Σ((b − mean)/sd)²) there.
    pub neg_log_posterior: f64,
    /// Logarithm of the determinant of the covariance.
    pub ln_covariance: f64,
    /// For each shot the probability that it is a flyer.
    pub flyer_frac: Vec<f64>,
    /// For each shot how far off it lies, in standard deviations; 0 when nothing was measured.
    pub misfit_ratio: Vec<f64>,
    /// Newton steps from the better start.
    pub step_count: usize,
    /// The last step was negligible.
    pub converged: bool,
    /// The second derivatives make a positive definite matrix; if not, the covariance is that of the
    /// expected information instead and too small.
    pub definite: bool,
    /// The prior that went in.
    pub prior: Prior,
    /// Shots that went in.
    pub shot_count: usize,
    /// How many of them had something measured besides what became of them.
    pub measured_count: usize,
}

impl Posterior {
    /// Standard deviation of a parameter; not a number when there is none of that index.
    pub fn sd(&self, index: usize) -> f64 {
        self.entry(index, index).sqrt()
    }

    /// Correlation of two parameters.
    pub fn correlation_coeff(&self, a: usize, b: usize) -> f64 {
        self.entry(a, b) / (self.sd(a) * self.sd(b))
    }

    /// Standard deviation after the log by that before.
    pub fn sd_by_prior_ratio(&self, index: usize) -> f64 {
        self.sd(index) / self.prior.sd.get(index).copied().unwrap_or(f64::NAN)
    }

    fn entry(&self, a: usize, b: usize) -> f64 {
        let row = self.covariance.get(a);
        row.and_then(|r| r.get(b)).copied().unwrap_or(f64::NAN)
    }

    /// Variance of a linear function of the parameters.
    ///
    /// ```text
    /// gᵀ Σ g
    /// ```
    pub fn variance_along(&self, gradient: &[f64]) -> f64 {
        let row = |r: &Vec<f64>| -> f64 { r.iter().zip(gradient).map(|(s, g)| s * g).sum() };
        self.covariance
            .iter()
            .zip(gradient)
            .map(|(r, g)| g * row(r))
            .sum::<f64>()
            .max(0.0)
    }

    /// Factor on intervals because the scatter itself was learned from few shots, and because calls alone make the
    /// posterior less normal than its curvature says.
    ///
    /// ```text
    /// √(N/(N − 5)) (1 + ¼ share of shots with a call and nothing measured)
    /// ```
    ///
    /// for 5 shots or fewer that of 6. Both parts covered as often as they say in simulation.
    pub fn small_sample_ratio(&self) -> f64 {
        let n = self.shot_count.max(6) as f64;
        (n / (n - 5.0)).sqrt() * self.calls_ratio()
    }

    /// The part of it that is due to calls without anything measured.
    fn calls_ratio(&self) -> f64 {
        let measured = self.measured_count.min(self.shot_count) as f64;
        1.0 + CALLS_ALONE * (1.0 - measured / self.shot_count.max(1) as f64)
    }

    /// The covariance by which to say what doubt costs: wider by the part of [`Posterior::small_sample_ratio`] that is
    /// due to calls alone.
    pub fn doubt(&self) -> Vec<Vec<f64>> {
        let factor = self.calls_ratio().powi(2);
        let wider = |row: &Vec<f64>| row.iter().map(|x| factor * x).collect();
        self.covariance.iter().map(wider).collect()
    }
}

/// Method: how much wider an interval from calls alone must be; without it 85 to 90 of 100 held the truth instead of 95.
const CALLS_ALONE: f64 = 0.25;

/// Convergence: a step of this part of the prior's standard deviation changes nothing that is printed.
const SMALL_STEP: f64 = 1e-8;
/// Convergence: when no shorter step is better, the differences have reached their rounding, if the step was this small.
const ROUNDED_STEP: f64 = 1e-5;
/// Convergence: below this step the second derivatives themselves lead.
const NEAR_STEP: f64 = 0.3;
/// Convergence: second derivatives are good until the parameters have moved this far.
const STALE_STEP: f64 = 0.02;
/// Method: no step is longer than this many prior standard deviations.
const LONGEST_STEP: f64 = 1.0;
/// Rounding of the objective.
const ROUNDING: f64 = 1e-12;
/// Method: damping beyond which a step cannot be told from none.
const MOST_DAMPING: f64 = 1e12;

/// Finds the most probable parameters.
///
/// ```text
/// J(β) = Σ_i −ln p_i(β) + Σ_j ½((β_j − μ_j)/sd_j)²        z = (β − μ)/sd
/// (H + λI) δ = −∇J       λ ← λ/3 after a step downhill, 10 λ after a refused one       |δ|∞ ≤ 1
/// ```
///
/// H is the expected information first (always positive definite), the matrix of second derivatives near the
/// end, which alone gives the covariance. Damped steps after [marquardt-1963]. Starts from the prior's mean
/// or, with four measured shots or more and where that is better, from the fit of the leading parameters alone.
pub fn fit_with<F: Forward>(
    forward: &F,
    prior: &Prior,
    shots: &[F::Shot],
    options: &FitOptions,
) -> Result<Posterior, FitRefused> {
    let count = prior.mean.len();
    let usable = |m: &f64, sd: &f64| m.is_finite() && *sd > 0.0 && sd.is_finite();
    if prior.sd.len() != count || !prior.mean.iter().zip(&prior.sd).all(|(m, sd)| usable(m, sd)) {
        return Err(FitRefused::Prior);
    }
    let objective = Objective::new(forward, prior, shots, options.rule);
    let centre = vec![0.0; count];
    if let Some(bad) = objective.unanswered(&centre) {
        return Err(FitRefused::Shot(bad));
    }
    let mut starts = vec![centre.clone()];
    let given = options.start.as_ref().filter(|s| s.len() == count);
    if let Some(start) = given {
        let whitened = start.iter().zip(&prior.mean).zip(&prior.sd);
        starts = vec![whitened.map(|((b, m), sd)| (b - m) / sd).collect()];
    }
    let leading = forward.leading();
    if given.is_none() && !leading.is_empty() && objective.measured_count() >= 4 {
        let plain = Rule {
            flyer_frac: 0.0,
            freedom_count: 0.0,
            ..options.rule
        };
        let few = Objective::new(forward, prior, shots, plain);
        starts.push(descend(&few, centre, Some(leading), options.most_steps).at);
    }
    // The first is kept unless another is better.
    let values: Vec<f64> = starts.iter().map(|s| objective.value(s)).collect();
    let best = (0..starts.len()).fold(0, |b, i| if values[i] < values[b] { i } else { b });
    let found = descend(&objective, starts.swap_remove(best), None, options.most_steps);
    Ok(posterior(&objective, prior, shots.len(), found))
}

/// Where a descent ended.
struct Descent {
    at: Vec<f64>,
    value: f64,
    steps: usize,
    converged: bool,
}

fn descend<F: Forward>(
    objective: &Objective<F>,
    start: Vec<f64>,
    only: Option<&[usize]>,
    most_steps: usize,
) -> Descent {
    let mut at = start;
    let mut here = objective.derivatives(&at, false);
    let mut lambda: f64 = 1e-3;
    let (mut converged, mut steps) = (false, 0);
    // Second derivatives, and where they were taken.
    let mut exact: Option<(Cholesky, Vec<f64>)> = None;
    let mut near = false;
    while steps < most_steps && here.value.is_finite() {
        steps += 1;
        let stale = |(_, place): &(Cholesky, Vec<f64>)| distance(place, &at) > STALE_STEP;
        if near && exact.as_ref().is_none_or(stale) {
            let full = objective.derivatives(&at, true);
            exact = factor(&full.hessian, 0.0, at.len(), only).map(|c| (c, at.clone()));
        }
        let newton = if near {
            exact.as_ref().filter(|e| !stale(e))
        } else {
            None
        };
        let mut step = match newton {
            Some((cholesky, _)) => negative(cholesky.solve(&masked(&here.gradient, only))),
            None => match factor(&here.information, lambda, at.len(), only) {
                Some(c) => negative(c.solve(&masked(&here.gradient, only))),
                None => break,
            },
        };
        let longest = step.iter().fold(0.0, |a: f64, d| a.max(d.abs()));
        if longest > LONGEST_STEP {
            step.iter_mut().for_each(|d| *d *= LONGEST_STEP / longest);
        }
        let next: Vec<f64> = at.iter().zip(&step).map(|(z, d)| z + d).collect();
        let value = objective.value(&next);
        if value <= here.value + ROUNDING * (1.0 + here.value.abs()) {
            at = next;
            lambda = (lambda / 3.0).max(1e-9);
            near = longest < NEAR_STEP;
            if longest < SMALL_STEP {
                converged = true;
                break;
            }
            here = objective.derivatives(&at, false);
        } else if newton.is_some() {
            // A full step of exact second derivatives failed: rounding, or not near after all.
            if longest < ROUNDED_STEP {
                converged = true;
                break;
            }
            near = false;
            exact = None;
        } else {
            lambda *= 10.0;
            if longest < SMALL_STEP || lambda > MOST_DAMPING {
                converged = longest < ROUNDED_STEP;
                break;
            }
        }
    }
    Descent {
        value: objective.value(&at),
        at,
        steps,
        converged,
    }
}

fn distance(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).fold(0.0, |m, (x, y)| m.max((x - y).abs()))
}

fn negative(mut v: Vec<f64>) -> Vec<f64> {
    v.iter_mut().for_each(|x| *x = -*x);
    v
}

fn masked(gradient: &[f64], only: Option<&[usize]>) -> Vec<f64> {
    let kept = |j: &usize| only.is_none_or(|o| o.contains(j));
    let each = gradient.iter().enumerate();
    each.map(|(j, g)| if kept(&j) { *g } else { 0.0 }).collect()
}

/// The factor of a matrix plus λ on its diagonal; parameters left out become rows of the unit matrix.
fn factor(matrix: &[f64], lambda: f64, size: usize, only: Option<&[usize]>) -> Option<Cholesky> {
    let kept = |j: usize| only.is_none_or(|o| o.contains(&j));
    let mut damped = matrix.to_vec();
    for (k, x) in damped.iter_mut().enumerate() {
        let (i, j) = (k / size, k % size);
        if i == j {
            *x = if kept(i) { *x + lambda } else { 1.0 };
        } else if !(kept(i) && kept(j)) {
            *x = 0.0;
        }
    }
    Cholesky::new(size, &damped)
}

fn posterior<F: Forward>(
    objective: &Objective<F>,
    prior: &Prior,
    shot_count: usize,
    found: Descent,
) -> Posterior {
    let size = found.at.len();
    let Derivatives {
        hessian, information, ..
    } = objective.derivatives(&found.at, true);
    let exact = Cholesky::new(size, &hessian);
    let definite = exact.is_some();
    let cholesky = exact.or_else(|| Cholesky::new(size, &information));
    let whitened = cholesky
        .as_ref()
        .map_or(vec![f64::NAN; size * size], Cholesky::inverse);
    let covariance = (0..size)
        .map(|i| {
            (0..size)
                .map(|j| whitened[i * size + j] * prior.sd[i] * prior.sd[j])
                .collect()
        })
        .collect();
    let scale: f64 = prior.sd.iter().map(|sd| 2.0 * sd.ln()).sum();
    let (flyer_frac, misfit_ratio) = objective.flyers(&found.at);
    Posterior {
        mean: objective.parameters(&found.at),
        covariance,
        neg_log_posterior: found.value,
        ln_covariance: scale - cholesky.map_or(f64::NAN, |c| c.ln_determinant()),
        flyer_frac,
        misfit_ratio,
        step_count: found.steps,
        converged: found.converged,
        definite,
        prior: prior.clone(),
        shot_count,
        measured_count: objective.measured_count(),
    }
}
