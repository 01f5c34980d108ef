//! Linear mixed models: sources of variance estimated from a log that is not balanced.

use super::minimum::bracketed_minimum;

/// Columns whose coefficients are drawn from one normal distribution around zero.
#[derive(Clone, Debug, PartialEq)]
pub struct Block {
    /// Columns of the design: for each, one number for each row.
    pub columns: Vec<Vec<f64>>,
    /// Standard deviation of the coefficients where it is known beforehand; else it is estimated.
    pub known_sd: Option<f64>,
}

impl Block {
    /// One column for each of `levels` groups: which group each row belongs to; a row may belong to none.
    pub fn groups(levels: usize, of: &[Option<usize>]) -> Block {
        let column = |level| {
            let belongs = |row: &Option<usize>| f64::from(u8::from(*row == Some(level)));
            of.iter().map(belongs).collect()
        };
        Block {
            columns: (0..levels).map(column).collect(),
            known_sd: None,
        }
    }
}

/// A model taken apart once, to be tried with many standard deviations.
///
/// ```text
/// y = μ + Σ Z_b u_b + e,   u_b ~ N(0, τ_b²),   e ~ N(0, σ²)
/// ```
#[derive(Clone, Debug)]
pub struct MixedModel {
    rows: f64,
    /// Mean of the target, taken off before anything else.
    origin: f64,
    /// For each column, the last one constant: its block, none for the constant.
    block_of: Vec<Option<usize>>,
    known: Vec<Option<f64>>,
    /// AᵀA, row by row, with A all columns.
    products: Vec<f64>,
    /// Aᵀy.
    with_target: Vec<f64>,
    /// yᵀy.
    target_square: f64,
}

/// What the model says at one set of standard deviations.
#[derive(Clone, Debug, PartialEq)]
pub struct MixedFit {
    /// Standard deviation σ within.
    pub sigma: f64,
    /// Standard deviation of each block.
    pub taus: Vec<f64>,
    /// Logarithm of the restricted likelihood.
    pub log_likelihood: f64,
    /// Constant μ.
    pub mean: f64,
    /// Best guess of each coefficient, block by block.
    pub effects: Vec<Vec<f64>>,
    /// Standard deviation of each coefficient as far as the log leaves it open.
    pub effect_sds: Vec<Vec<f64>>,
}

impl MixedModel {
    /// Takes a model apart. `None` for fewer than two rows, a column of another length, or a number that is not finite.
    pub fn new(target: &[f64], blocks: &[Block]) -> Option<MixedModel> {
        let rows = target.len();
        let fits = blocks.iter().flat_map(|b| &b.columns).all(|c| c.len() == rows);
        if rows < 2 || !fits {
            return None;
        }
        let origin = target.iter().sum::<f64>() / rows as f64;
        let centred: Vec<f64> = target.iter().map(|y| y - origin).collect();
        let constant = vec![1.0; rows];
        let mut columns: Vec<&[f64]> = Vec::new();
        let mut block_of = Vec::new();
        for (b, block) in blocks.iter().enumerate() {
            columns.extend(block.columns.iter().map(Vec::as_slice));
            block_of.extend(block.columns.iter().map(|_| Some(b)));
        }
        columns.push(&constant);
        block_of.push(None);
        let products: Vec<f64> = columns
            .iter()
            .flat_map(|a| columns.iter().map(|b| dot(a, b)))
            .collect();
        let with_target: Vec<f64> = columns.iter().map(|a| dot(a, &centred)).collect();
        let target_square = dot(&centred, &centred);
        let all = products
            .iter()
            .chain(&with_target)
            .chain([&target_square, &origin]);
        if !all.into_iter().all(|x: &f64| x.is_finite()) {
            return None;
        }
        Some(MixedModel {
            rows: rows as f64,
            origin,
            block_of,
            known: blocks.iter().map(|b| b.known_sd).collect(),
            products,
            with_target,
            target_square,
        })
    }

    /// Factors the scaled normal equations; the factor, the solved right side and what remains of yᵀy.
    fn factor(&self, sigma: f64, taus: &[f64]) -> Option<(Vec<f64>, Vec<f64>, f64)> {
        let q = self.block_of.len();
        let scale: Vec<f64> = self
            .block_of
            .iter()
            .map(|b| self.scale(*b, sigma, taus))
            .collect();
        let mut lower = vec![0.0; q * q];
        let mut right = vec![0.0; q];
        for i in 0..q {
            for j in 0..=i {
                let mut x = scale[i] * self.products[i * q + j] * scale[j];
                if i == j && self.block_of[i].is_some() {
                    x += 1.0;
                }
                x -= dot(&lower[i * q..i * q + j], &lower[j * q..j * q + j]);
                lower[i * q + j] = if i == j {
                    if !(x > 0.0) {
                        return None;
                    }
                    x.sqrt()
                } else {
                    x / lower[j * q + j]
                };
            }
            let known = dot(&lower[i * q..i * q + i], &right[..i]);
            right[i] = (scale[i] * self.with_target[i] - known) / lower[i * q + i];
        }
        let rest = self.target_square - dot(&right, &right);
        Some((lower, right, rest))
    }

    fn scale(&self, block: Option<usize>, sigma: f64, taus: &[f64]) -> f64 {
        block.map_or(1.0, |b| taus.get(b).map_or(0.0, |tau| tau / sigma))
    }

    /// Minus twice the logarithm of the restricted likelihood [patterson-thompson-1971]; infinite where there is none.
    ///
    /// ```text
    /// ln|V| + ln|XᵀV⁻¹X| + rᵀV⁻¹r + (N − 1) ln 2π  =  (N − 1) ln(2π σ²) + ln|M| + (yᵀy − |x|²)/σ²
    /// M = D AᵀA D + I (no 1 for the constant) = L Lᵀ,   D = τ_b/σ for columns of block b, 1 for the constant,   L x = D Aᵀy
    /// ```
    ///
    /// The right side [bates-2015] has the size of the columns, not of the log, and is smooth at τ = 0.
    pub fn minus_two_log_likelihood(&self, sigma: f64, taus: &[f64]) -> f64 {
        if !(sigma > 0.0) {
            return f64::INFINITY;
        }
        let Some((lower, _, rest)) = self.factor(sigma, taus) else {
            return f64::INFINITY;
        };
        let q = self.block_of.len();
        let log_determinant: f64 = (0..q).map(|i| 2.0 * libm::log(lower[i * q + i])).sum();
        let value = (self.rows - 1.0) * libm::log(std::f64::consts::TAU * sigma * sigma)
            + log_determinant
            + rest.max(0.0) / (sigma * sigma);
        if value.is_nan() { f64::INFINITY } else { value }
    }

    /// The most likely standard deviations, with those of `fixed` held, by one-dimensional searches in turn.
    ///
    /// `None` when the target does not vary. A block without columns gets zero.
    pub fn reml(&self, fixed: &[Option<f64>]) -> Option<MixedFit> {
        let spread = (self.target_square / (self.rows - 1.0)).sqrt();
        if !(spread > 0.0) {
            return None;
        }
        let held = |b: usize| self.known[b].or_else(|| fixed.get(b).copied().flatten());
        let blocks = self.known.len();
        let lonely = |b: usize| !self.block_of.contains(&Some(b));
        let free: Vec<usize> = (0..blocks)
            .filter(|b| held(*b).is_none() && !lonely(*b))
            .collect();
        let mut taus: Vec<f64> = (0..blocks)
            .map(|b| held(b).unwrap_or(if lonely(b) { 0.0 } else { 0.5 * spread }))
            .collect();
        let mut sigma = 0.7 * spread;
        let mut best = self.minus_two_log_likelihood(sigma, &taus);
        for _ in 0..MOST_SWEEPS {
            let start = (sigma, taus.clone());
            for b in &free {
                let mut tried = taus.clone();
                let mut at = |tau: f64| {
                    tried[*b] = tau.abs();
                    self.minus_two_log_likelihood(sigma, &tried)
                };
                // Even in τ: the lowest place may be zero itself.
                let grid: Vec<f64> = GRID.iter().map(|share| share * spread).collect();
                let lowest = lowest_of(&grid, &mut at);
                let low = if lowest == 0 { -grid[1] } else { grid[lowest - 1] };
                let high = grid.get(lowest + 1).copied().unwrap_or(4.0 * spread);
                taus[*b] = bracketed_minimum(at, low, grid[lowest], high, CLOSE * spread)
                    .0
                    .abs();
                if taus[*b] <= ZERO * spread {
                    taus[*b] = 0.0;
                }
            }
            let at = |log_sigma: f64| self.minus_two_log_likelihood(libm::exp(log_sigma), &taus);
            let grid: Vec<f64> = (0..=SIGMA_STEPS)
                .map(|i| libm::log(spread) + SIGMA_LOW + f64::from(i) * SIGMA_STEP)
                .collect();
            let lowest = lowest_of(&grid, at).clamp(1, grid.len() - 2);
            let (found, value) =
                bracketed_minimum(at, grid[lowest - 1], grid[lowest], grid[lowest + 1], CLOSE);
            sigma = libm::exp(found);
            let moved =
                (start.0 - sigma).abs() + start.1.iter().zip(&taus).map(|(a, b)| (a - b).abs()).sum::<f64>();
            best = value;
            if moved <= SETTLED * spread {
                break;
            }
        }
        self.at(sigma, &taus, -0.5 * best)
    }

    fn at(&self, sigma: f64, taus: &[f64], log_likelihood: f64) -> Option<MixedFit> {
        let q = self.block_of.len();
        let (lower, mut x, _) = self.factor(sigma, taus)?;
        solve_transposed(&lower, &mut x);
        let mut effects = vec![Vec::new(); taus.len()];
        let mut effect_sds = vec![Vec::new(); taus.len()];
        let mut mean = self.origin;
        for (i, block) in self.block_of.iter().enumerate() {
            // Row i of the inverse of M from L⁻¹.
            let mut unit = vec![0.0; q];
            for k in i..q {
                let known = dot(&lower[k * q..k * q + k], &unit[..k]);
                unit[k] = (f64::from(u8::from(k == i)) - known) / lower[k * q + k];
            }
            match block {
                None => mean += x[i],
                Some(b) => {
                    let scale = self.scale(Some(*b), sigma, taus);
                    effects[*b].push(scale * x[i]);
                    effect_sds[*b].push(scale * sigma * dot(&unit, &unit).sqrt());
                }
            }
        }
        Some(MixedFit {
            sigma,
            taus: taus.to_vec(),
            log_likelihood,
            mean,
            effects,
            effect_sds,
        })
    }

    /// Interval of the standard deviation of one block from the profile of the likelihood, within `drop` of the best.
    ///
    /// The set of τ whose −2 ln likelihood, with all else refitted, lies less than `drop` above that of `best`; 3.84 for
    /// 95 % [bates-2015]. The low end is 0 when zero is in it. Cut at forty times the spread.
    pub fn profile_interval(&self, best: &MixedFit, block: usize, drop: f64) -> [f64; 2] {
        let Some(tau) = best.taus.get(block).copied() else {
            return [f64::NAN; 2];
        };
        let spread = (self.target_square / (self.rows - 1.0)).sqrt();
        let above = |tau: f64| {
            let mut fixed = vec![None; self.known.len()];
            fixed[block] = Some(tau);
            self.reml(&fixed).map_or(f64::INFINITY, |fit| {
                2.0 * (best.log_likelihood - fit.log_likelihood) - drop
            })
        };
        let mut high = tau.max(0.1 * spread);
        while above(high) < 0.0 && high < FARTHEST * spread {
            high *= 2.0;
        }
        let bisect = |mut inside: f64, mut outside: f64| {
            for _ in 0..BISECTIONS {
                let middle = 0.5 * (inside + outside);
                if above(middle) < 0.0 {
                    inside = middle;
                } else {
                    outside = middle;
                }
            }
            0.5 * (inside + outside)
        };
        let low = if above(0.0) < 0.0 { 0.0 } else { bisect(tau, 0.0) };
        [low, bisect(tau, high)]
    }
}

/// Method: shares of the spread at which the likelihood is looked at first.
const GRID: [f64; 9] = [0.0, 0.05, 0.12, 0.25, 0.5, 0.8, 1.2, 1.8, 2.6];
/// Method: σ is sought from e⁻⁵ of the spread upward.
const SIGMA_LOW: f64 = -5.0;
const SIGMA_STEP: f64 = 0.35;
const SIGMA_STEPS: u32 = 16;
/// Convergence: the likelihood is flat to rounding within this share of the spread.
const CLOSE: f64 = 1e-7;
/// Rounding: a deviation this small cannot be told from zero by the likelihood.
const ZERO: f64 = 1e-5;
/// Convergence: the sweeps have settled; nearer than a search can place one of them.
const SETTLED: f64 = 1e-6;
const MOST_SWEEPS: u32 = 60;
/// Method: ends of an interval to a thousandth of its length.
const BISECTIONS: u32 = 12;
/// Method: beyond this an interval is as good as open.
const FARTHEST: f64 = 40.0;

fn lowest_of(grid: &[f64], mut f: impl FnMut(f64) -> f64) -> usize {
    let (mut lowest, mut least) = (0, f64::INFINITY);
    for (i, x) in grid.iter().enumerate() {
        let value = f(*x);
        if value < least {
            (lowest, least) = (i, value);
        }
    }
    lowest
}

/// Lᵀ x = b, in place, L row by row.
fn solve_transposed(lower: &[f64], x: &mut [f64]) {
    let q = x.len();
    for i in (0..q).rev() {
        x[i] /= lower[i * q + i];
        let value = x[i];
        for (j, x) in x[..i].iter_mut().enumerate() {
            *x -= lower[i * q + j] * value;
        }
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

#[cfg(test)]
#[path = "mixed_model_tests.rs"]
mod tests;
