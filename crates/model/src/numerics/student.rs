//! Student's distribution.

use super::beta::beta_quantile;

/// The t that a Student variable with `nu` degrees of freedom exceeds in size with chance 1 − `confidence`.
///
/// ```text
/// P(|T| > t) = I_x(ν/2, ½),  x = ν/(ν + t²)
/// ```
///
/// [dlmf-nist] 8.17 with the density of T. Not a number for `nu` or `confidence` out of range.
pub fn two_sided(nu: f64, confidence: f64) -> f64 {
    let x = beta_quantile(0.5 * nu, 0.5, 1.0 - confidence);
    (nu * (1.0 - x) / x).sqrt()
}

#[cfg(test)]
mod tests {
    use super::two_sided;

    /// Critical values of Student's t at 95 % and 99 %, two-sided [nist-handbook] 1.3.6.7.2 (from memory).
    #[test]
    fn critical_values_are_those_of_the_printed_table() {
        for (nu, t95, t99) in [(1.0, 12.706, 63.657), (5.0, 2.571, 4.032), (30.0, 2.042, 2.750)] {
            assert!(
                (two_sided(nu, 0.95) - t95).abs() < 6e-4,
                "{nu} {}",
                two_sided(nu, 0.95)
            );
            assert!((two_sided(nu, 0.99) - t99).abs() < 6e-4, "{nu}");
        }
        assert!(two_sided(-1.0, 0.95).is_nan() && two_sided(f64::NAN, 0.95).is_nan());
    }
}
