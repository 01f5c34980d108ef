//! Symmetric positive definite matrices, rows one after the other.

/// The factor L of A = L Lᵀ, lower triangular, by Cholesky's method [golub-van-loan-2013] (4.2).
#[derive(Clone, Debug, PartialEq)]
pub struct Cholesky {
    size: usize,
    lower: Vec<f64>,
}

/// Rounding: a pivot below this share of its diagonal element is rounding of a singular matrix.
const LEAST_PIVOT: f64 = 1e-14;

impl Cholesky {
    /// Factors a matrix of `size` rows, of which the lower triangle is read.
    ///
    /// `None` when it is not positive definite, holds a number that is not finite, or another count of numbers.
    pub fn new(size: usize, matrix: &[f64]) -> Option<Cholesky> {
        if size.checked_mul(size) != Some(matrix.len()) {
            return None;
        }
        let mut lower = vec![0.0; matrix.len()];
        for i in 0..size {
            for j in 0..=i {
                let dot: f64 = (0..j).map(|k| lower[i * size + k] * lower[j * size + k]).sum();
                let left = matrix[i * size + j] - dot;
                if i == j {
                    let definite = left > LEAST_PIVOT * matrix[i * size + i].abs();
                    if !(definite && left.is_finite()) {
                        return None;
                    }
                    lower[i * size + i] = left.sqrt();
                } else {
                    lower[i * size + j] = left / lower[j * size + j];
                }
            }
        }
        lower
            .iter()
            .all(|x| x.is_finite())
            .then_some(Cholesky { size, lower })
    }

    /// Rows.
    pub fn size(&self) -> usize {
        self.size
    }

    /// Solves A x = b; a shorter `b` counts as followed by zeros.
    pub fn solve(&self, b: &[f64]) -> Vec<f64> {
        let mut x = self.solve_lower(b);
        for i in (0..self.size).rev() {
            let dot: f64 = (i + 1..self.size)
                .map(|k| self.lower[k * self.size + i] * x[k])
                .sum();
            x[i] = (x[i] - dot) / self.lower[i * self.size + i];
        }
        x
    }

    /// Solves L x = b.
    pub fn solve_lower(&self, b: &[f64]) -> Vec<f64> {
        let mut x = vec![0.0; self.size];
        for i in 0..self.size {
            let dot: f64 = (0..i).map(|k| self.lower[i * self.size + k] * x[k]).sum();
            x[i] = (b.get(i).copied().unwrap_or(0.0) - dot) / self.lower[i * self.size + i];
        }
        x
    }

    /// The product L t: of independent standard normal numbers it makes numbers with covariance A.
    pub fn times_lower(&self, t: &[f64]) -> Vec<f64> {
        let row = |i: usize| &self.lower[i * self.size..i * self.size + i + 1];
        (0..self.size)
            .map(|i| row(i).iter().zip(t).map(|(l, t)| l * t).sum())
            .collect()
    }

    /// The inverse of A.
    pub fn inverse(&self) -> Vec<f64> {
        let mut inverse = vec![0.0; self.lower.len()];
        for j in 0..self.size {
            let mut unit = vec![0.0; self.size];
            unit[j] = 1.0;
            for (i, x) in self.solve(&unit).into_iter().enumerate() {
                inverse[i * self.size + j] = x;
            }
        }
        // Rounding leaves the two halves unequal.
        for i in 0..self.size {
            for j in 0..i {
                let both = 0.5 * (inverse[i * self.size + j] + inverse[j * self.size + i]);
                inverse[i * self.size + j] = both;
                inverse[j * self.size + i] = both;
            }
        }
        inverse
    }

    /// Natural logarithm of the determinant of A.
    pub fn ln_determinant(&self) -> f64 {
        (0..self.size)
            .map(|i| 2.0 * self.lower[i * self.size + i].ln())
            .sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked by hand: L = ((2, 0), (1, 3)), A = ((4, 2), (2, 10)), det A = 36.
    #[test]
    fn a_matrix_of_two_rows_comes_out_as_by_hand() {
        let a = Cholesky::new(2, &[4.0, 99.0, 2.0, 10.0]).unwrap();
        assert_eq!(a.times_lower(&[1.0, 1.0]), [2.0, 4.0]);
        assert_eq!(a.solve(&[8.0, 22.0]), [1.0, 2.0]);
        assert_eq!(a.solve_lower(&[4.0, 8.0]), [2.0, 2.0]);
        assert!((a.ln_determinant() - 36.0_f64.ln()).abs() < 1e-15);
        let inverse = a.inverse();
        let exact = [10.0 / 36.0, -2.0 / 36.0, -2.0 / 36.0, 4.0 / 36.0];
        assert!(inverse.iter().zip(exact).all(|(x, y)| (x - y).abs() < 1e-16));
    }

    #[test]
    fn what_is_not_positive_definite_is_refused() {
        for bad in [
            [1.0, 2.0, 2.0, 4.0],
            [-1.0, 0.0, 0.0, 1.0],
            [f64::NAN, 0.0, 0.0, 1.0],
            [1.0, 0.0, f64::INFINITY, 1.0],
        ] {
            assert_eq!(Cholesky::new(2, &bad), None, "{bad:?}");
        }
        assert_eq!(Cholesky::new(2, &[1.0]), None);
        assert_eq!(Cholesky::new(usize::MAX, &[]), None);
    }
}
