//! How likely what was seen of one shot is, given what was to be expected.
//!
//! Everything seen of one shot hangs on the same three accidents of that shot (speed, elevation,
//! azimuth), so it is judged together: channels of one shot are never independent.

use std::f64::consts::TAU;

use super::call::{Edges, chance};

/// The accidents of one shot: change of ln speed, of elevation, of azimuth (left positive).
pub const ACCIDENTS: usize = 3;

/// One measured number beside what was to be expected, in any one unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Channel {
    /// Measured.
    pub observed: f64,
    /// Expected.
    pub predicted: f64,
    /// Derivatives of the expected number by the accidents.
    pub sensitivity: [f64; ACCIDENTS],
    /// Variance of the measuring itself.
    pub variance: f64,
}

/// What was called out instead of measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Zone {
    /// Short of the opening and its rim.
    Short,
    /// Beyond the opening and its rim.
    Long,
    /// Past it on the left.
    Left,
    /// Past it on the right.
    Right,
    /// On the rim.
    Rim,
    /// In.
    In,
}

/// A call, and where the piece was to be expected in the plane of the opening.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Call {
    /// What was called.
    pub zone: Zone,
    /// Expected beyond the centre of the opening, and left of it.
    pub predicted_m: [f64; 2],
    /// Derivatives of both by the accidents.
    pub sensitivity: [[f64; ACCIDENTS]; 2],
    /// Where the calls change.
    pub edges: Edges,
}

/// All that a shot's data are compared with.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Prediction {
    /// Measured numbers.
    pub channels: Vec<Channel>,
    /// Variances of the accidents from shot to shot.
    pub accident_variance: [f64; ACCIDENTS],
    /// A call, if there was one.
    pub call: Option<Call>,
}

/// How outliers are thought of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rule {
    /// Share of shots that fly off for reasons of their own.
    pub flyer_frac: f64,
    /// How many times as far these scatter.
    pub flyer_scale_ratio: f64,
    /// Degrees of freedom of a Student distribution in place of core and flyers; none when zero.
    pub freedom_count: f64,
}

impl Default for Rule {
    fn default() -> Rule {
        Rule {
            flyer_frac: 0.05,
            flyer_scale_ratio: 5.0,
            freedom_count: 0.0,
        }
    }
}

/// The likelihood of one shot taken apart.
#[derive(Clone, Debug, PartialEq)]
pub struct Term {
    /// Minus the natural logarithm of the likelihood of everything seen.
    pub neg_log: f64,
    /// Part of it that the call contributes.
    pub call_neg_log: f64,
    /// For each channel the part of the residual that the channels before it do not explain, and its variance.
    pub(super) innovations: Vec<[f64; 2]>,
    /// Sum of squares of the innovations by their variances: eᵀC⁻¹e.
    pub distance_coeff: f64,
}

/// Physical: the edge of a square is no sharper than this, as the balls are round and the eye is slow.
const EDGE_VARIANCE: f64 = 1e-8;
/// Zones that can be called.
const ZONES: f64 = 6.0;
/// Rounding: keeps the logarithm of a probability finite.
const LEAST_PROBABILITY: f64 = 1e-300;

/// The likelihood of everything seen of one shot.
///
/// ```text
/// e = observed − predicted       C = G S Gᵀ + R       q = eᵀC⁻¹e
/// p = (2π)^(−n/2) |C|^(−1/2) ((1−ε) exp(−q/2) + ε g^(−n) exp(−q/(2g²)))      core and flyers, or
/// p = Γ((ν+n)/2)/Γ(ν/2) (νπ)^(−n/2) |C|^(−1/2) (1 + q/ν)^(−(ν+n)/2)          Student
/// ```
///
/// Channels are taken one after the other, each updating what is known of the accidents (mean m, covariance
/// V) as in a Kalman filter with one scalar measurement at a time [anderson-moore-1979]; this gives |C| and q without a matrix and
/// leaves m and V for the call: with mean μ + G m, variance G V Gᵀ + 10⁻⁸ and the chance p of what was called
/// (`floor::call`),
///
/// ```text
/// p ← (1−ε) p + ε/6
/// ```
///
/// The contaminated normal distribution is that of Tukey [tukey-1960], the Student alternative that of
/// [lange-1989]. `None` when a variance is not positive or a number not finite.
pub fn term(prediction: &Prediction, rule: &Rule) -> Option<Term> {
    let [a, b, c] = prediction.accident_variance;
    let mut covariance = [[a, 0.0, 0.0], [0.0, b, 0.0], [0.0, 0.0, c]];
    let mut mean = [0.0; ACCIDENTS];
    let mut innovations = Vec::with_capacity(prediction.channels.len());
    let (mut q, mut ln_det) = (0.0, 0.0);
    for channel in &prediction.channels {
        let g = &channel.sensitivity;
        let vg = times(&covariance, g);
        let variance = dot(g, &vg) + channel.variance;
        if !(variance > 0.0) {
            return None;
        }
        let innovation = channel.observed - channel.predicted - dot(g, &mean);
        q += innovation * innovation / variance;
        ln_det += variance.ln();
        for i in 0..ACCIDENTS {
            mean[i] += vg[i] * innovation / variance;
            for j in 0..ACCIDENTS {
                covariance[i][j] -= vg[i] * vg[j] / variance;
            }
        }
        innovations.push([innovation, variance]);
    }
    let measured = if innovations.is_empty() {
        0.0
    } else {
        0.5 * ln_det + tail(q, innovations.len() as f64, rule)
    };
    let called = prediction
        .call
        .map_or(0.0, |call| call_neg_log(&call, &mean, &covariance, rule));
    let neg_log = measured + called;
    (neg_log.is_finite() && q.is_finite()).then_some(Term {
        neg_log,
        call_neg_log: called,
        innovations,
        distance_coeff: q,
    })
}

/// Minus the logarithm of the density of n numbers at the distance q, without |C|.
fn tail(q: f64, n: f64, rule: &Rule) -> f64 {
    let nu = rule.freedom_count;
    if nu > 0.0 {
        return libm::lgamma(0.5 * nu) - libm::lgamma(0.5 * (nu + n))
            + 0.5 * n * (0.5 * TAU * nu).ln()
            + 0.5 * (nu + n) * libm::log1p(q / nu);
    }
    0.5 * n * TAU.ln() - flyer_sum(q, n, rule)
}

/// Logarithms of the parts of core and flyers in the density.
fn flyer_parts(q: f64, n: f64, rule: &Rule) -> [f64; 2] {
    let g = rule.flyer_scale_ratio;
    [
        libm::log1p(-rule.flyer_frac) - 0.5 * q,
        rule.flyer_frac.ln() - 0.5 * q / (g * g) - n * g.ln(),
    ]
}

fn flyer_sum(q: f64, n: f64, rule: &Rule) -> f64 {
    let [core, flyer] = flyer_parts(q, n, rule);
    let most = core.max(flyer);
    most + ((core - most).exp() + (flyer - most).exp()).ln()
}

impl Term {
    /// Probability that the shot is a flyer, judged by what was measured; zero when nothing was.
    ///
    /// ```text
    /// 1/(1 + exp(ln(1−ε) − q/2 − ln ε + q/(2g²) + n ln g))
    /// ```
    pub fn flyer_frac(&self, rule: &Rule) -> f64 {
        if self.innovations.is_empty() || !(rule.flyer_frac > 0.0) {
            return 0.0;
        }
        let [core, flyer] = flyer_parts(self.distance_coeff, self.innovations.len() as f64, rule);
        1.0 / (1.0 + (core - flyer).exp())
    }

    /// How much a squared residual of this shot still counts: one in the core, little for a flyer.
    pub(super) fn weight(&self, rule: &Rule) -> f64 {
        let (q, n) = (self.distance_coeff, self.innovations.len() as f64);
        if rule.freedom_count > 0.0 {
            return (rule.freedom_count + n) / (rule.freedom_count + q);
        }
        let flyer = self.flyer_frac(rule);
        1.0 - flyer + flyer / (rule.flyer_scale_ratio * rule.flyer_scale_ratio)
    }

    /// How far the shot lies from what was expected, as a standard normal number would; none measured: 0.
    pub fn misfit_ratio(&self) -> f64 {
        let n = self.innovations.len() as f64;
        if n > 0.0 {
            (self.distance_coeff / n).sqrt()
        } else {
            0.0
        }
    }
}

fn call_neg_log(
    call: &Call,
    mean: &[f64; ACCIDENTS],
    covariance: &[[f64; ACCIDENTS]; ACCIDENTS],
    rule: &Rule,
) -> f64 {
    let place = |axis: usize| {
        let g = &call.sensitivity[axis];
        let sd = (dot(g, &times(covariance, g)).max(0.0) + EDGE_VARIANCE).sqrt();
        (call.predicted_m[axis] + dot(g, mean), sd)
    };
    let p = chance(call.zone, place(0), place(1), &call.edges);
    let eps = rule.flyer_frac;
    -((1.0 - eps) * p + eps / ZONES).max(LEAST_PROBABILITY).ln()
}

fn dot(a: &[f64; ACCIDENTS], b: &[f64; ACCIDENTS]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn times(m: &[[f64; ACCIDENTS]; ACCIDENTS], g: &[f64; ACCIDENTS]) -> [f64; ACCIDENTS] {
    [dot(&m[0], g), dot(&m[1], g), dot(&m[2], g)]
}
