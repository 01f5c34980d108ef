//! Mean, standard deviation and autocorrelation of a row of numbers.

/// What a row of numbers is like.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moments {
    /// How many numbers.
    pub count: usize,
    /// Mean.
    pub mean: f64,
    /// Standard deviation with n − 1 below; not a number for a single number.
    pub sd: f64,
    /// Correlation of each number with the next one; not a number when all are equal.
    pub lag_one: f64,
}

/// Moments of `values`; `None` when there are none, or one is not finite.
///
/// ```text
/// x̄ = Σ x/n      s² = (Σ (x − x̄)² − (Σ (x − x̄))²/n)/(n − 1)      r₁ = Σ (xᵢ − x̄)(xᵢ₊₁ − x̄)/Σ (x − x̄)²
/// ```
///
/// The second term of s² would be zero in exact numbers and takes the rounding of the mean away [chan-1983]. All is
/// measured from the first number, so that a large common part costs no digits.
pub fn moments(values: &[f64]) -> Option<Moments> {
    let origin = *values.first()?;
    if !values.iter().all(|x| x.is_finite()) {
        return None;
    }
    let n = values.len() as f64;
    let shift = values.iter().map(|x| x - origin).sum::<f64>() / n;
    let from_mean = |x: &f64| (x - origin) - shift;
    let squares: f64 = values.iter().map(|x| from_mean(x).powi(2)).sum();
    let rest: f64 = values.iter().map(from_mean).sum();
    let squares = (squares - rest * rest / n).max(0.0);
    let products: f64 = values
        .windows(2)
        .map(|pair| pair.iter().map(from_mean).product::<f64>())
        .sum();
    Some(Moments {
        count: values.len(),
        mean: origin + shift,
        sd: (squares / (n - 1.0)).sqrt(),
        lag_one: products / squares,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numerics::checks;
    use serde_json::Value;

    fn numbers_in(text: &str) -> Vec<f64> {
        text.split(|c: char| !(c.is_ascii_digit() || c == '.'))
            .filter_map(|word| word.parse().ok())
            .collect()
    }

    /// The values themselves, or "first a, then alternating b, c (n pairs)".
    fn data(case: &Value) -> Option<Vec<f64>> {
        if let Some(x) = case["x"].as_array() {
            return Some(x.iter().map(|x| x.as_f64().unwrap()).collect());
        }
        let [first, low, high, pairs, ..] = numbers_in(case["rule"].as_str()?)[..] else {
            return None;
        };
        let mut values = vec![first];
        for _ in 0..pairs as usize {
            values.extend([low, high]);
        }
        Some(values)
    }

    fn compare(case: &Value, tolerance: f64) -> usize {
        let Some(values) = data(case) else { return 0 };
        let got = moments(&values).unwrap();
        for (name, got) in [("mean", got.mean), ("sd", got.sd), ("r1", got.lag_one)] {
            let expected = case[name].as_f64().unwrap();
            assert!(
                (got - expected).abs() <= tolerance * expected.abs(),
                "{name}: {got} {expected}"
            );
        }
        1
    }

    /// Source: certified values of the NIST Statistical Reference Datasets, univariate (Mavro, NumAcc1, NumAcc3).
    #[test]
    fn moments_are_the_certified_ones() {
        let mut seen = 0;
        for file in checks::files("statistics") {
            for (name, case) in file["nist"].as_object().unwrap() {
                if !name.starts_with("univariate_") {
                    continue;
                }
                let tolerance = case["tol_rel"].as_f64().unwrap();
                seen += compare(case, tolerance);
                for inner in case.as_object().unwrap().values() {
                    seen += compare(inner, tolerance);
                }
            }
        }
        assert!(seen >= 3, "{seen}");
    }

    /// Source: NIST Statistical Reference Datasets, NumAcc2 and NumAcc4 (from memory): a first value and 500 pairs a
    /// tenth below and above it, sd 0.1, autocorrelation −0.999, on 1.2 and on 10000000.2.
    #[test]
    fn a_large_common_part_costs_no_digits_of_the_spread() {
        for (base, tolerance) in [(1.2, 1e-14), (10_000_000.2, 1e-8)] {
            let mut values = vec![base];
            for _ in 0..500 {
                values.extend([base - 0.1, base + 0.1]);
            }
            let got = moments(&values).unwrap();
            assert!((got.mean - base).abs() < tolerance, "{got:?}");
            assert!((got.sd - 0.1).abs() < tolerance, "{got:?}");
            assert!((got.lag_one + 0.999).abs() < 10.0 * tolerance, "{got:?}");
        }
    }

    #[test]
    fn one_number_has_a_mean_and_no_spread() {
        let one = moments(&[3.5]).unwrap();
        assert!(one.mean == 3.5 && one.sd.is_nan() && one.lag_one.is_nan());
        assert!(moments(&[]).is_none() && moments(&[1.0, f64::NAN]).is_none());
        assert_eq!(moments(&[2.0; 4]).unwrap().sd, 0.0);
    }
}
