//! The posterior by weighted draws: how far it is from normal, and means where it is not.

use super::derivatives::Objective;
use super::fit::{FitOptions, Posterior};
use super::forward::Forward;
use crate::numerics::random::Stream;
use crate::numerics::symmetric::Cholesky;

/// Draws with weights that add up to one.
#[derive(Clone, Debug, PartialEq)]
pub struct Weighted {
    /// Parameters, draw by draw.
    pub draws: Vec<Vec<f64>>,
    /// Weight of each draw.
    pub weight_frac: Vec<f64>,
    /// Equally weighted draws that would say as much, by all draws. Below a tenth do not trust the fit.
    pub effective_frac: f64,
}

/// Method: the proposal has heavier ends than the posterior ...
const FREEDOM: usize = 5;
/// ... and is this much wider in variance.
const WIDER_RATIO: f64 = 1.2;
/// Method: below this effective share the normal distribution about the most probable parameters misleads.
pub const FEWEST_EFFECTIVE_FRAC: f64 = 0.1;

/// Weighted draws from the posterior.
///
/// ```text
/// b = b̂ + L t, t multivariate Student (5), LLᵀ = 1.2 Σ      ln w = −J(b) − ln q(b)
/// w ← min(w, w̄ √n), divided by their sum                    ESS = 1/Σw²
/// ```
///
/// Truncated weights after [ionides-2008]. `None` when the posterior has no covariance, or no draw has an answer.
pub fn importance<F: Forward>(
    forward: &F,
    shots: &[F::Shot],
    options: &FitOptions,
    posterior: &Posterior,
    count: usize,
    seed: u64,
) -> Option<Weighted> {
    let size = posterior.mean.len();
    let prior = &posterior.prior;
    let whitened: Vec<f64> = (0..size * size)
        .map(|k| {
            let (i, j) = (k / size, k % size);
            WIDER_RATIO * posterior.covariance[i][j] / (prior.sd[i] * prior.sd[j])
        })
        .collect();
    let cholesky = Cholesky::new(size, &whitened)?;
    let both = posterior.mean.iter().zip(&prior.mean).zip(&prior.sd);
    let centre: Vec<f64> = both.map(|((b, m), sd)| (b - m) / sd).collect();
    let objective = Objective::new(forward, prior, shots, options.rule);
    let (mut draws, mut logs) = (Vec::with_capacity(count), Vec::with_capacity(count));
    for i in 0..count {
        let mut stream = Stream::new(seed, i as u64);
        let chi: f64 = (0..FREEDOM).map(|_| stream.normal().powi(2)).sum();
        let stretch = (FREEDOM as f64 / chi).sqrt();
        let t: Vec<f64> = (0..size).map(|_| stretch * stream.normal()).collect();
        let squares: f64 = t.iter().map(|x| x * x).sum();
        let z: Vec<f64> = centre
            .iter()
            .zip(cholesky.times_lower(&t))
            .map(|(c, d)| c + d)
            .collect();
        let ln_q = -0.5 * (FREEDOM + size) as f64 * libm::log1p(squares / FREEDOM as f64);
        logs.push(-objective.value(&z) - ln_q);
        draws.push(objective.parameters(&z));
    }
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if !most.is_finite() {
        return None;
    }
    let mut weights: Vec<f64> = logs.iter().map(|l| (l - most).exp()).collect();
    let cap = weights.iter().sum::<f64>() / count as f64 * (count as f64).sqrt();
    weights.iter_mut().for_each(|w| *w = w.min(cap));
    let sum: f64 = weights.iter().sum();
    weights.iter_mut().for_each(|w| *w /= sum);
    let effective = 1.0 / weights.iter().map(|w| w * w).sum::<f64>();
    Some(Weighted {
        draws,
        weight_frac: weights,
        effective_frac: effective / count as f64,
    })
}

impl Weighted {
    /// Weighted mean and standard deviation of a function of the parameters.
    pub fn moments(&self, f: impl Fn(&[f64]) -> f64) -> [f64; 2] {
        let values: Vec<f64> = self.draws.iter().map(|d| f(d)).collect();
        let each = || values.iter().zip(&self.weight_frac);
        let mean: f64 = each().map(|(x, w)| w * x).sum();
        let variance: f64 = each().map(|(x, w)| w * (x - mean) * (x - mean)).sum();
        [mean, variance.sqrt()]
    }
}
