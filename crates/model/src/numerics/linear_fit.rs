//! Linear least squares.

/// A linear fit: the coefficients b that make the sum of squares of y − X b least.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// One for each column of the design.
    pub coefficients: Vec<f64>,
    /// Standard error of each coefficient; not a number when no degree of freedom is left.
    pub standard_errors: Vec<f64>,
    /// y − X b, one for each row. In a weighted fit times the square root of the weight.
    pub residuals: Vec<f64>,
    /// Diagonal of the projection X (XᵀX)⁻¹ Xᵀ, one for each row, between 0 and 1.
    pub leverages: Vec<f64>,
    /// Square root of the residual sum of squares by the degrees of freedom; not a number when none is left.
    pub residual_sd: f64,
    /// Rows less columns.
    pub degrees_of_freedom: usize,
}

impl Fit {
    /// Residual of each row from the fit to all the other rows.
    ///
    /// ```text
    /// e₋ᵢ = eᵢ/(1 − hᵢ)
    /// ```
    ///
    /// with the residual e and the leverage h [cook-weisberg-1982]. Infinite or not a number for a row that
    /// alone decides a coefficient.
    pub fn leave_one_out_residuals(&self) -> Vec<f64> {
        let each = self.residuals.iter().zip(&self.leverages);
        each.map(|(residual, leverage)| residual / (1.0 - leverage))
            .collect()
    }
}

/// Fits `target` by the columns of `design`, which holds `rows` rows of `columns` numbers.
///
/// `None` as for [`Qr::new`], or when `target` has another length or a number that is not finite.
pub fn least_squares(rows: usize, columns: usize, design: &[f64], target: &[f64]) -> Option<Fit> {
    Qr::new(rows, columns, design)?.fit(target)
}

/// As [`least_squares`], with each squared residual multiplied by a weight.
///
/// `None` as well when a weight is not positive and finite, or there is not one for each row. Leave a row that
/// should not count out: it would pass for a degree of freedom.
pub fn weighted_least_squares(
    rows: usize,
    columns: usize,
    design: &[f64],
    target: &[f64],
    weights: &[f64],
) -> Option<Fit> {
    let usable = columns > 0 && Some(design.len()) == rows.checked_mul(columns);
    if !usable || target.len() != rows || weights.len() != rows || !weights.iter().all(|w| *w > 0.0) {
        return None;
    }
    let roots: Vec<f64> = weights.iter().map(|w| w.sqrt()).collect();
    let each = design.chunks(columns).zip(&roots);
    let scaled: Vec<f64> = each
        .flat_map(|(row, root)| row.iter().map(move |x| x * root))
        .collect();
    let scaled_target: Vec<f64> = target.iter().zip(&roots).map(|(y, root)| y * root).collect();
    least_squares(rows, columns, &scaled, &scaled_target)
}

/// A design matrix taken apart once, to fit several targets: X = Q R by Householder reflections
/// [golub-van-loan-2013] (5.2), after each column is scaled to unit length.
#[derive(Clone, Debug)]
pub struct Qr {
    rows: usize,
    columns: usize,
    /// Columns one after the other: the reflection vectors on and below the diagonal, R above it.
    packed: Vec<f64>,
    /// Diagonal of R.
    diagonal: Vec<f64>,
    /// Length of each column of the design.
    lengths: Vec<f64>,
    /// Length of each row of the inverse of R.
    inverse_lengths: Vec<f64>,
    leverages: Vec<f64>,
}

/// Rounding: a column of unit length nearer than this to the span of those before it cannot be told from
/// one in the span, as a reflection of a thousand rows rounds by about 1e-14.
const DEPENDENT: f64 = 1e-13;

impl Qr {
    /// Takes a design of `rows` rows of `columns` numbers apart.
    ///
    /// `None` when there are fewer rows than columns, no columns, another count of numbers, a number that is
    /// not finite, or a column that the columns before it add up to (within rounding).
    pub fn new(rows: usize, columns: usize, design: &[f64]) -> Option<Qr> {
        if columns == 0 || rows < columns || Some(design.len()) != rows.checked_mul(columns) {
            return None;
        }
        let mut packed = vec![0.0; design.len()];
        for (i, row) in design.chunks_exact(columns).enumerate() {
            for (j, x) in row.iter().enumerate() {
                packed[j * rows + i] = *x;
            }
        }
        let mut lengths = vec![0.0; columns];
        for (column, length) in packed.chunks_exact_mut(rows).zip(&mut lengths) {
            *length = norm(column);
            if !(*length > 0.0 && length.is_finite()) {
                return None;
            }
            column.iter_mut().for_each(|x| *x /= *length);
        }
        let mut diagonal = vec![0.0; columns];
        for k in 0..columns {
            let (done, later) = packed.split_at_mut((k + 1) * rows);
            let v = &mut done[k * rows + k..];
            let length = norm(v);
            if !(length > DEPENDENT) {
                return None;
            }
            // The sign that adds, so that nothing cancels; then v is scaled to length √2.
            diagonal[k] = -length.copysign(v[0]);
            v[0] -= diagonal[k];
            let scale = (v[0].abs() * length).sqrt();
            v.iter_mut().for_each(|x| *x /= scale);
            for column in later.chunks_exact_mut(rows) {
                reflect(v, &mut column[k..]);
            }
        }
        let mut qr = Qr {
            rows,
            columns,
            packed,
            diagonal,
            lengths,
            inverse_lengths: Vec::new(),
            leverages: Vec::new(),
        };
        qr.inverse_lengths = qr.lengths_of_the_inverse();
        qr.leverages = qr.projection_diagonal();
        Some(qr)
    }

    /// Fits a target; `None` when it has another length or a number that is not finite.
    pub fn fit(&self, target: &[f64]) -> Option<Fit> {
        let (rows, columns) = (self.rows, self.columns);
        if target.len() != rows || !target.iter().all(|y| y.is_finite()) {
            return None;
        }
        let mut rotated = target.to_vec();
        for k in 0..columns {
            reflect(self.reflection(k), &mut rotated[k..]);
        }
        let mut coefficients = rotated[..columns].to_vec();
        self.solve_upper(&mut coefficients);
        for (b, length) in coefficients.iter_mut().zip(&self.lengths) {
            *b /= length;
        }
        let degrees_of_freedom = rows - columns;
        let residual_sd = if degrees_of_freedom > 0 {
            norm(&rotated[columns..]) / (degrees_of_freedom as f64).sqrt()
        } else {
            f64::NAN
        };
        // The residual is what is left of the rotated target without the part the columns reach, turned back.
        rotated[..columns].fill(0.0);
        for k in (0..columns).rev() {
            reflect(self.reflection(k), &mut rotated[k..]);
        }
        let each = self.inverse_lengths.iter().zip(&self.lengths);
        let standard_errors = each
            .map(|(inverse, length)| residual_sd * inverse / length)
            .collect();
        let fit = Fit {
            coefficients,
            standard_errors,
            residuals: rotated,
            leverages: self.leverages.clone(),
            residual_sd,
            degrees_of_freedom,
        };
        fit.coefficients.iter().all(|b| b.is_finite()).then_some(fit)
    }

    fn reflection(&self, k: usize) -> &[f64] {
        &self.packed[k * self.rows + k..(k + 1) * self.rows]
    }

    /// R x = b by back substitution, in place.
    fn solve_upper(&self, x: &mut [f64]) {
        for j in (0..x.len()).rev() {
            x[j] /= self.diagonal[j];
            let value = x[j];
            for (i, x) in x[..j].iter_mut().enumerate() {
                *x -= self.packed[j * self.rows + i] * value;
            }
        }
    }

    fn lengths_of_the_inverse(&self) -> Vec<f64> {
        let mut squares = vec![0.0; self.columns];
        for j in 0..self.columns {
            // Column j of the inverse ends at its diagonal.
            let mut column = vec![0.0; j + 1];
            column[j] = 1.0;
            self.solve_upper(&mut column);
            for (square, x) in squares.iter_mut().zip(&column) {
                *square += x * x;
            }
        }
        squares.into_iter().map(f64::sqrt).collect()
    }

    fn projection_diagonal(&self) -> Vec<f64> {
        let mut leverages = vec![0.0; self.rows];
        let mut column = vec![0.0; self.rows];
        for j in 0..self.columns {
            column.fill(0.0);
            column[j] = 1.0;
            for k in (0..=j).rev() {
                reflect(self.reflection(k), &mut column[k..]);
            }
            for (leverage, q) in leverages.iter_mut().zip(&column) {
                *leverage += q * q;
            }
        }
        leverages
    }
}

/// x − v (v·x), the reflection for a v of length √2.
fn reflect(v: &[f64], x: &mut [f64]) {
    let along: f64 = v.iter().zip(x.iter()).map(|(v, x)| v * x).sum();
    for (v, x) in v.iter().zip(x) {
        *x -= along * v;
    }
}

fn norm(x: &[f64]) -> f64 {
    x.iter().map(|x| x * x).sum::<f64>().sqrt()
}

#[cfg(test)]
#[path = "linear_fit_tests.rs"]
mod tests;
