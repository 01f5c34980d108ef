//! The objective of a fit and its derivatives, by central differences in the inputs of each shot.

use super::fit::Prior;
use super::forward::{Forward, Share, applied};
use super::likelihood::{Rule, Term, term};

/// Method: step of the differences in standard deviations of the prior; leaves about 1e-5 of a second derivative.
const STEP: f64 = 1e-3;

/// Minus the logarithm of the posterior, in whitened parameters.
pub(super) struct Objective<'a, F: Forward> {
    forward: &'a F,
    prior: &'a Prior,
    rule: Rule,
    shots: Vec<Mapped<'a, F::Shot>>,
}

/// A shot and how its inputs are made of whitened parameters.
struct Mapped<'a, S> {
    shot: &'a S,
    /// For each input the parameters that it is made of, times the prior's standard deviations.
    rows: Vec<Vec<(usize, f64)>>,
    /// For each input its value at the prior's mean.
    centre: Vec<f64>,
    /// For each input the step of its differences; zero when no parameter moves it.
    steps: Vec<f64>,
}

/// Value and derivatives by the whitened parameters; matrices row by row.
pub(super) struct Derivatives {
    pub(super) value: f64,
    pub(super) gradient: Vec<f64>,
    /// Expected information (Gauss-Newton with the scatter's part), plus the prior's.
    pub(super) information: Vec<f64>,
    /// Second derivatives; empty when not asked for.
    pub(super) hessian: Vec<f64>,
}

impl<'a, F: Forward> Objective<'a, F> {
    pub(super) fn new(
        forward: &'a F,
        prior: &'a Prior,
        shots: &'a [F::Shot],
        rule: Rule,
    ) -> Objective<'a, F> {
        let count = prior.mean.len();
        let shots = shots
            .iter()
            .map(|shot| {
                let shares = forward.design(shot);
                let inputs = if shares.is_some() {
                    forward.input_count()
                } else {
                    count
                };
                let own = |j: usize| Share {
                    input: j,
                    parameter: j,
                    share_coeff: 1.0,
                };
                let shares = shares.unwrap_or_else(|| (0..count).map(own).collect());
                let mut rows = vec![Vec::new(); inputs];
                for s in &shares {
                    if let (Some(row), Some(sd)) = (rows.get_mut(s.input), prior.sd.get(s.parameter)) {
                        row.push((s.parameter, s.share_coeff * sd));
                    }
                }
                let spread = |row: &Vec<(usize, f64)>| row.iter().map(|(_, a)| a * a).sum::<f64>().sqrt();
                Mapped {
                    shot,
                    centre: applied(&shares, inputs, &prior.mean),
                    steps: rows.iter().map(|r| STEP * spread(r)).collect(),
                    rows,
                }
            })
            .collect();
        Objective {
            forward,
            prior,
            rule,
            shots,
        }
    }

    /// Parameters in their own units.
    pub(super) fn parameters(&self, z: &[f64]) -> Vec<f64> {
        let both = self.prior.mean.iter().zip(&self.prior.sd);
        both.zip(z).map(|((m, sd), z)| m + sd * z).collect()
    }

    fn term(&self, inputs: &[f64], shot: &F::Shot) -> Option<Term> {
        term(&self.forward.predict(inputs, shot)?, &self.rule)
    }

    /// The first shot that the model has no answer for.
    pub(super) fn unanswered(&self, z: &[f64]) -> Option<usize> {
        self.shots
            .iter()
            .position(|m| self.term(&m.inputs(z), m.shot).is_none())
    }

    /// Shots with something measured.
    pub(super) fn measured_count(&self) -> usize {
        let centre = vec![0.0; self.prior.mean.len()];
        let measured = |m: &&Mapped<F::Shot>| {
            self.forward
                .predict(&m.inputs(&centre), m.shot)
                .is_some_and(|p| !p.channels.is_empty())
        };
        self.shots.iter().filter(measured).count()
    }

    /// The objective; infinite where some shot has no answer.
    pub(super) fn value(&self, z: &[f64]) -> f64 {
        let mut sum = 0.5 * z.iter().map(|z| z * z).sum::<f64>();
        for m in &self.shots {
            match self.term(&m.inputs(z), m.shot) {
                Some(t) => sum += t.neg_log,
                None => return f64::INFINITY,
            }
        }
        if sum.is_finite() { sum } else { f64::INFINITY }
    }

    /// Flyer probabilities and misfits.
    pub(super) fn flyers(&self, z: &[f64]) -> (Vec<f64>, Vec<f64>) {
        let each = self.shots.iter().map(|m| {
            let t = self.term(&m.inputs(z), m.shot);
            t.map_or((f64::NAN, f64::NAN), |t| {
                (t.flyer_frac(&self.rule), t.misfit_ratio())
            })
        });
        each.unzip()
    }

    /// Value, gradient, expected information, and on request the second derivatives.
    pub(super) fn derivatives(&self, z: &[f64], second: bool) -> Derivatives {
        let n = z.len();
        let mut out = Derivatives {
            value: 0.5 * z.iter().map(|z| z * z).sum::<f64>(),
            gradient: z.to_vec(),
            information: vec![0.0; n * n],
            hessian: if second { vec![0.0; n * n] } else { Vec::new() },
        };
        for j in 0..n {
            out.information[j * n + j] = 1.0;
            if second {
                out.hessian[j * n + j] = 1.0;
            }
        }
        for m in &self.shots {
            if self.add(m, z, second, &mut out).is_none() {
                out.value = f64::INFINITY;
                break;
            }
        }
        out
    }

    /// Adds one shot's part.
    fn add(&self, m: &Mapped<F::Shot>, z: &[f64], second: bool, out: &mut Derivatives) -> Option<()> {
        let n = z.len();
        let x = m.inputs(z);
        let moved = |moves: &[(usize, f64)]| {
            let mut moved = x.clone();
            for &(k, times) in moves {
                moved[k] += times * m.steps[k];
            }
            moved
        };
        // The middle, then both sides of each input, then on request the corners on the diagonal of each pair.
        let active: Vec<usize> = (0..x.len()).filter(|k| m.steps[*k] > 0.0).collect();
        let mut places = vec![x.clone()];
        for &k in &active {
            places.extend([moved(&[(k, 1.0)]), moved(&[(k, -1.0)])]);
        }
        let mut terms = self.terms(&places, m.shot)?.into_iter();
        let mid = terms.next()?;
        out.value += mid.neg_log;
        let weight = mid.weight(&self.rule);
        // Inputs that this shot depends on, with the terms on both sides.
        let mut sides: Vec<(usize, Term, Term)> = Vec::with_capacity(active.len());
        for &k in &active {
            let (above, below) = (terms.next()?, terms.next()?);
            if above != mid || below != mid {
                sides.push((k, above, below));
            }
        }
        let corners = if second {
            self.corners(&sides, moved, m.shot)?
        } else {
            Vec::new()
        };
        let mut corners = corners.iter();
        let slopes: Vec<Vec<f64>> = sides
            .iter()
            .map(|(k, a, b)| scores(&mid, a, b, m.steps[*k], weight))
            .collect();
        for (a, (k, above, below)) in sides.iter().enumerate() {
            let slope = (above.neg_log - below.neg_log) / (2.0 * m.steps[*k]);
            for &(p, c) in &m.rows[*k] {
                out.gradient[p] += c * slope;
            }
            for (b, (l, above_l, below_l)) in sides.iter().enumerate().take(a + 1) {
                let product: f64 = slopes[a].iter().zip(&slopes[b]).map(|(x, y)| x * y).sum();
                spread(&mut out.information, n, &m.rows[*k], &m.rows[*l], product, a == b);
                if !second {
                    continue;
                }
                let curve = if a == b {
                    (above.neg_log - 2.0 * mid.neg_log + below.neg_log) / (m.steps[*k] * m.steps[*k])
                } else {
                    let edges = above.neg_log + below.neg_log + above_l.neg_log + below_l.neg_log;
                    (corners.next()? - edges + 2.0 * mid.neg_log) / (2.0 * m.steps[*k] * m.steps[*l])
                };
                spread(&mut out.hessian, n, &m.rows[*k], &m.rows[*l], curve, a == b);
            }
        }
        Some(())
    }

    /// For each pair of inputs the sum of the two corners where both are moved the same way.
    fn corners(
        &self,
        sides: &[(usize, Term, Term)],
        moved: impl Fn(&[(usize, f64)]) -> Vec<f64>,
        shot: &F::Shot,
    ) -> Option<Vec<f64>> {
        let mut places = Vec::new();
        for (a, (k, ..)) in sides.iter().enumerate() {
            for (l, ..) in sides.iter().take(a) {
                places.extend([moved(&[(*k, 1.0), (*l, 1.0)]), moved(&[(*k, -1.0), (*l, -1.0)])]);
            }
        }
        let terms = self.terms(&places, shot)?;
        Some(
            terms
                .chunks(2)
                .map(|two| two.iter().map(|t| t.neg_log).sum())
                .collect(),
        )
    }

    fn terms(&self, places: &[Vec<f64>], shot: &F::Shot) -> Option<Vec<Term>> {
        let predicted = self.forward.predict_all(places, shot).into_iter();
        predicted.map(|p| term(&p?, &self.rule)).collect()
    }
}

impl<S> Mapped<'_, S> {
    fn inputs(&self, z: &[f64]) -> Vec<f64> {
        let value = |(row, centre): (&Vec<(usize, f64)>, &f64)| {
            centre + row.iter().map(|(p, a)| a * z[*p]).sum::<f64>()
        };
        self.rows.iter().zip(&self.centre).map(value).collect()
    }
}

/// Roots of the expected information along one input, one for each number that was seen: the information of a normal
/// number is (∂ν)²/s + ½(∂ ln s)², that of a call the square of the slope of its ln probability.
fn scores(mid: &Term, above: &Term, below: &Term, step: f64, weight: f64) -> Vec<f64> {
    let mut out = Vec::with_capacity(2 * mid.innovations.len() + 1);
    let root = weight.max(0.0).sqrt();
    for ((m, a), b) in mid
        .innovations
        .iter()
        .zip(&above.innovations)
        .zip(&below.innovations)
    {
        out.push(root * (a[0] - b[0]) / (2.0 * step * m[1].sqrt()));
        out.push(std::f64::consts::FRAC_1_SQRT_2 * (a[1] - b[1]) / (2.0 * step * m[1]));
    }
    out.push((above.call_neg_log - below.call_neg_log) / (2.0 * step));
    out
}

/// Adds a number of two inputs to a matrix of the parameters: both triangles.
fn spread(matrix: &mut [f64], n: usize, k: &[(usize, f64)], l: &[(usize, f64)], value: f64, same: bool) {
    for &(p, a) in k {
        for &(q, b) in l {
            matrix[p * n + q] += a * b * value;
            if !same {
                matrix[q * n + p] += a * b * value;
            }
        }
    }
}
