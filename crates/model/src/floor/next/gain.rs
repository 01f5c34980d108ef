//! What a shot would teach about the setpoints, before it is thrown.

use super::{Matrix, SpotView, plugin_frac, predictive_frac, quadratic};
use crate::numerics::normal::{cdf, density};

/// A shot that could be thrown, and what it would be seen by.
#[derive(Clone, Debug, PartialEq)]
pub struct Candidate {
    /// Which spot it is thrown from.
    pub spot_index: usize,
    /// Derivatives of each reading by each parameter.
    pub readings_by: Matrix,
    /// Covariance of the readings for known parameters: throw-to-throw scatter and reading errors together.
    pub noise: Matrix,
}

/// What is needed to know how much an outcome alone tells.
#[derive(Clone, Debug, PartialEq)]
pub struct Glance {
    /// Mean crossing less the centre.
    pub offset_m: [f64; 2],
    /// Throw-to-throw standard deviation along and across, given the readings of the same shot.
    pub throw_sd_m: [f64; 2],
    /// Between these it is in, along and across.
    pub in_m: [[f64; 2]; 2],
    /// Beyond these it is a clean miss, along and across.
    pub out_m: [[f64; 2]; 2],
}

/// The shot that helps most.
#[derive(Clone, Debug, PartialEq)]
pub struct Choice {
    /// Which of the candidates.
    pub index: usize,
    /// What doubt costs in hits, mean over the spots, before and after.
    pub loss_frac: [f64; 2],
    /// By how much it raises the hits to expect, as a share, mean over the spots.
    pub gain_frac: f64,
    /// Information about all parameters, in nats.
    pub information: f64,
}

/// What doubt about the parameters costs in hits, mean over the spots and at the worst one.
pub fn losses(spots: &[SpotView], covariance: &Matrix) -> [f64; 2] {
    let each = spots
        .iter()
        .map(|s| plugin_frac(s) - predictive_frac(s, covariance, [0.0; 2]));
    let [sum, worst] = each.fold([0.0, f64::NEG_INFINITY], |[sum, worst], loss| {
        [sum + loss, if loss.is_nan() { loss } else { worst.max(loss) }]
    });
    [sum / spots.len().max(1) as f64, worst]
}

/// Covariance of the parameters after a shot, for readings linear in the parameters.
///
/// ```text
/// Σ' = Σ − Σ Jᵀ (J Σ Jᵀ + C)⁻¹ J Σ
/// ```
///
/// One reading after the other, each decorrelated from those before it by the Cholesky factor of C. `None` when C
/// is not a covariance.
pub fn updated(covariance: &Matrix, candidate: &Candidate) -> Option<Matrix> {
    let mut out = covariance.clone();
    for (row, variance) in whitened(&candidate.readings_by, &candidate.noise)? {
        absorb(&mut out, &row, variance);
    }
    Some(out)
}

/// What a shot tells about all parameters together, in nats.
///
/// ```text
/// ½ ln det(I + C⁻¹ J Σ Jᵀ)
/// ```
///
/// the expected gain of information [lindley-1956] of a linear reading. `None` when C is not a covariance.
pub fn information_gain(covariance: &Matrix, candidate: &Candidate) -> Option<f64> {
    let mut left = covariance.clone();
    let mut sum = 0.0;
    for (row, variance) in whitened(&candidate.readings_by, &candidate.noise)? {
        sum += 0.5 * libm::log1p(quadratic(&row, &left).max(0.0) / variance);
        absorb(&mut left, &row, variance);
    }
    Some(sum)
}

/// Rows decorrelated: L⁻¹ J with C = L Lᵀ, each with variance 1.
fn whitened(rows: &Matrix, noise: &Matrix) -> Option<Vec<(Vec<f64>, f64)>> {
    let n = rows.len();
    let mut lower: Matrix = vec![vec![0.0; n]; n];
    let mut out: Vec<(Vec<f64>, f64)> = Vec::with_capacity(n);
    for (i, row) in rows.iter().enumerate() {
        let mut white = row.clone();
        for j in 0..=i {
            let mut s = *noise.get(i)?.get(j)?;
            for (a, b) in lower.get(i)?.iter().zip(lower.get(j)?).take(j) {
                s -= a * b;
            }
            if j == i {
                // Also false for what is not a number.
                if !(s > 0.0 && s.is_finite()) {
                    return None;
                }
                let diagonal = s.sqrt();
                *lower.get_mut(i)?.get_mut(i)? = diagonal;
                white.iter_mut().for_each(|w| *w /= diagonal);
            } else {
                let l = s / lower.get(j)?.get(j)?;
                *lower.get_mut(i)?.get_mut(j)? = l;
                for (w, p) in white.iter_mut().zip(&out.get(j)?.0) {
                    *w -= l * p;
                }
            }
        }
        out.push((white, 1.0));
    }
    Some(out)
}

/// One scalar reading taken into the covariance.
pub(super) fn absorb(covariance: &mut Matrix, row: &[f64], variance: f64) {
    let toward: Vec<f64> = covariance
        .iter()
        .map(|r| r.iter().zip(row).map(|(a, b)| a * b).sum())
        .collect();
    let total: f64 = row.iter().zip(&toward).map(|(a, b)| a * b).sum::<f64>() + variance;
    if !(total > 0.0 && total.is_finite()) {
        return;
    }
    for (r, ti) in covariance.iter_mut().zip(&toward) {
        for (c, tj) in r.iter_mut().zip(&toward) {
            *c -= ti * tj / total;
        }
    }
}

/// How much the outcome of a shot tells about the mean crossing along and across: Fisher information in 1/m².
///
/// ```text
/// I = Σ_c (∂p_c/∂μ)²/p_c        c: in, rim, short, long, left, right as in the fit
/// ```
///
/// Aimed at the middle an outcome that is always "in" tells next to nothing; at the edge it tells most.
pub fn class_information(glance: &Glance) -> [f64; 2] {
    let axis = |i: usize| {
        let (mu, sd) = (glance.offset_m[i], glance.throw_sd_m[i]);
        let edge = |x: f64| {
            let u = (x - mu) / sd;
            (cdf(u), density(u) / sd)
        };
        Bands {
            out_low: edge(glance.out_m[i][0]),
            in_low: edge(glance.in_m[i][0]),
            in_high: edge(glance.in_m[i][1]),
            out_high: edge(glance.out_m[i][1]),
        }
    };
    if !(glance.throw_sd_m[0] > 0.0 && glance.throw_sd_m[1] > 0.0) {
        return [0.0; 2];
    }
    let (x, y) = (axis(0), axis(1));
    let classes = |p: &dyn Fn(&Bands, &Bands) -> [f64; 6]| p(&x, &y);
    let p = classes(&|x, y| {
        let (xo, xi) = (x.outer(), x.inner());
        let (yo, yi) = (y.outer(), y.inner());
        [
            x.below(),
            x.above(),
            xo * y.above(),
            xo * y.below(),
            xo * yo - xi * yi,
            xi * yi,
        ]
    });
    let by_x = classes(&|x, y| {
        let (dxo, dxi) = (x.outer_slope(), x.inner_slope());
        [
            -x.out_low.1,
            x.out_high.1,
            dxo * y.above(),
            dxo * y.below(),
            dxo * y.outer() - dxi * y.inner(),
            dxi * y.inner(),
        ]
    });
    let by_y = classes(&|x, y| {
        let (dyo, dyi) = (y.outer_slope(), y.inner_slope());
        [
            0.0,
            0.0,
            x.outer() * y.out_high.1,
            -x.outer() * y.out_low.1,
            x.outer() * dyo - x.inner() * dyi,
            x.inner() * dyi,
        ]
    });
    [by_x, by_y].map(|slopes| {
        slopes
            .iter()
            .zip(&p)
            .map(|(d, p)| if *p > LEAST_CHANCE { d * d / p } else { 0.0 })
            .sum()
    })
}

/// Method: an outcome rarer than this may be a slip of the pen and tells nothing.
const LEAST_CHANCE: f64 = 1e-3;

/// Shares and slopes at the four edges along one axis.
struct Bands {
    out_low: (f64, f64),
    in_low: (f64, f64),
    in_high: (f64, f64),
    out_high: (f64, f64),
}

impl Bands {
    fn below(&self) -> f64 {
        self.out_low.0
    }
    fn above(&self) -> f64 {
        1.0 - self.out_high.0
    }
    fn outer(&self) -> f64 {
        self.out_high.0 - self.out_low.0
    }
    fn inner(&self) -> f64 {
        self.in_high.0 - self.in_low.0
    }
    /// By the mean: the share above grows with it.
    fn outer_slope(&self) -> f64 {
        self.out_low.1 - self.out_high.1
    }
    fn inner_slope(&self) -> f64 {
        self.in_low.1 - self.in_high.1
    }
}

/// Method: shots that bring at least this part of what the best would bring count as good; the first offered is
/// taken. The gain of a shot is worked out on straight lines about a fit that may be off, and shots spread over the
/// spots show it; on machines drawn from the prior the very best each time left intervals too narrow.
const AS_GOOD: f64 = 0.7;

/// The candidate after which doubt costs least, and what it is worth.
///
/// ```text
/// L(Σ) = ½ (mean + worst of P_plugin − P_predictive over the spots)        least L(Σ')
/// ```
///
/// the two that the sign to stop asks for. For narrow doubt it is the V-optimality of [atkinson-donev-2007], the variances of
/// the crossing along and across weighed by what they cost. Candidates go in the order in which people would throw them
/// anyway, the spot with the fewest shots first: the
/// first that brings seven tenths of what the best would is chosen. `None` without a candidate whose noise is a covariance.
pub fn best_shot(spots: &[SpotView], covariance: &Matrix, candidates: &[Candidate]) -> Option<Choice> {
    let both = |[mean, worst]: [f64; 2]| 0.5 * (mean + worst);
    let before = losses(spots, covariance);
    let tried: Vec<(usize, Matrix, [f64; 2])> = candidates
        .iter()
        .enumerate()
        .filter_map(|(i, c)| {
            let after = updated(covariance, c)?;
            let left = losses(spots, &after);
            both(left).is_finite().then_some((i, after, left))
        })
        .collect();
    let least = tried.iter().map(|t| both(t.2)).fold(f64::INFINITY, f64::min);
    let enough = AS_GOOD * (both(before) - least);
    let (index, _, after) = tried.into_iter().find(|t| both(before) - both(t.2) >= enough)?;
    Some(Choice {
        index,
        loss_frac: [before[0], after[0]],
        gain_frac: before[0] - after[0],
        information: information_gain(covariance, candidates.get(index)?)?,
    })
}
