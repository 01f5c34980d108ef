//! Constants that turn ranges and standard deviations of small samples into estimates of sigma.

use super::gamma::stirling_error;
use super::normal;
use super::quadrature::integral;

/// Constants of control charts for samples of one size [montgomery-2013].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ControlConstants {
    /// c4: mean of the sample standard deviation, in units of sigma.
    pub c4: f64,
    /// d2: mean of the sample range, in units of sigma.
    pub d2: f64,
    /// d3: standard deviation of the sample range, in units of sigma.
    pub d3: f64,
    /// A2 = 3/(d2 √n): limits of the mean chart, in units of the mean range.
    pub mean_limit: f64,
    /// D3 = 1 − 3 d3/d2 or zero: lower limit of the range chart, in units of the mean range.
    pub range_low: f64,
    /// D4 = 1 + 3 d3/d2: upper limit of the range chart, in units of the mean range.
    pub range_high: f64,
}

/// Mean of the standard deviation of a sample of n from a normal distribution, in units of its sigma.
///
/// ```text
/// c4 = √(2/(n − 1)) Γ(n/2)/Γ((n − 1)/2)
/// ```
///
/// [montgomery-2013]. Not a number for n below 2, which need not be whole.
pub fn c4(n: f64) -> f64 {
    if !(n >= 2.0) {
        return f64::NAN;
    }
    // By Stirling's formula and its error, so that large n do not cancel.
    let a = 0.5 * (n - 1.0);
    let exponent = a * libm::log1p(0.5 / a) - 0.5 + stirling_error(a + 0.5) - stirling_error(a);
    if a == f64::INFINITY {
        1.0
    } else {
        libm::exp(exponent)
    }
}

/// The constants for samples of n values; `None` for n below 2.
///
/// ```text
/// F(r) = n ∫ φ(x) (Φ(x + r) − Φ(x))ⁿ⁻¹ dx          share of ranges below r [tippett-1925]
/// d2   = ∫ (1 − F) dr      d2² + d3² = 2 ∫ r (1 − F) dr
/// ```
pub fn control_constants(n: u32) -> Option<ControlConstants> {
    if n < 2 {
        return None;
    }
    let size = f64::from(n);
    let above = |r: f64| {
        let density = |x: f64| {
            let inside = if x > 0.0 {
                normal::cdf(-x) - normal::cdf(-x - r)
            } else {
                normal::cdf(x + r) - normal::cdf(x)
            };
            size * normal::density(x) * inside.powf(size - 1.0)
        };
        // The lowest value of a sample that spans r lies near −r/2.
        let middle = -0.5 * r;
        1.0 - integral(density, -FARTHEST, middle, ACCURACY) - integral(density, middle, FARTHEST, ACCURACY)
    };
    let d2 = integral(above, 0.0, 2.0 * FARTHEST, ACCURACY);
    let square = 2.0 * integral(|r| r * above(r), 0.0, 2.0 * FARTHEST, ACCURACY);
    let d3 = (square - d2 * d2).max(0.0).sqrt();
    Some(ControlConstants {
        c4: c4(size),
        d2,
        d3,
        mean_limit: 3.0 / (d2 * size.sqrt()),
        range_low: (1.0 - 3.0 * d3 / d2).max(0.0),
        range_high: 1.0 + 3.0 * d3 / d2,
    })
}

/// Method: beyond nine sigma lies 1e-19 of the distribution, too little to be seen even in a sample of a billion.
const FARTHEST: f64 = 9.0;
/// Method: error of the integrals, four digits finer than printed tables.
const ACCURACY: f64 = 1e-9;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numerics::checks;

    /// Source: tables of control chart constants as in Montgomery, Introduction to Statistical Quality Control.
    #[test]
    fn constants_are_those_of_the_tables() {
        let mut seen = 0;
        for file in checks::files("statistics") {
            let tolerance = file["statistics"]["control_constants"]["tol_abs"]
                .as_f64()
                .unwrap();
            for row in checks::rows(&file, &["statistics", "control_constants", "rows"]) {
                let n = row["n"].as_u64().unwrap() as u32;
                let got = control_constants(n).unwrap();
                for (name, got) in [
                    ("c4", got.c4),
                    ("d2", got.d2),
                    ("d3", got.d3),
                    ("A2", got.mean_limit),
                    ("D3", got.range_low),
                    ("D4", got.range_high),
                ] {
                    let expected = row[name].as_f64().unwrap();
                    assert!((got - expected).abs() < tolerance, "{name} {n}: {got} {expected}");
                    seen += 1;
                }
            }
        }
        assert!(seen > 0);
    }

    /// Two values: the range is √2 times a half-normal variable, so d2 = 2/√π and d2² + d3² = 2; the deviation is
    /// the range by √2.
    #[test]
    fn constants_of_two_values_follow_from_the_half_normal_distribution() {
        let two = control_constants(2).unwrap();
        let d2 = 2.0 / std::f64::consts::PI.sqrt();
        assert!(
            (two.d2 - d2).abs() < 1e-9 && (two.d3 - (2.0 - d2 * d2).sqrt()).abs() < 1e-9,
            "{two:?}"
        );
        assert!((two.c4 - d2 / 2.0_f64.sqrt()).abs() < 1e-15);
    }

    /// Known asymptote 1 − 1/(4n) − 7/(32n²) − 19/(128n³) (from memory).
    #[test]
    fn the_bias_of_the_standard_deviation_fades_as_a_quarter_of_the_count() {
        for n in [100.0_f64, 1e6, 1e12] {
            let expected = 1.0 - 0.25 / n - 7.0 / 32.0 / n.powi(2) - 19.0 / 128.0 / n.powi(3);
            assert!((c4(n) - expected).abs() < 0.2 / n.powi(4) + 1e-15, "{n}");
        }
        assert_eq!(c4(f64::INFINITY), 1.0);
    }

    #[test]
    fn one_value_has_no_spread() {
        assert!(control_constants(1).is_none() && control_constants(0).is_none());
        assert!(c4(1.0).is_nan() && c4(f64::NAN).is_nan());
    }
}
