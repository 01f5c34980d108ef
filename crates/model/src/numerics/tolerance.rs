//! Tolerance factors: how many sample standard deviations hold a share of a normal distribution.

use super::gamma::{chi_square, chi_square_density, chi_square_quantile};
use super::normal;
use super::quadrature::integral;
use super::root::bracketed_newton;

/// Factor k such that mean ± k·s of a sample of `count` holds at least `share` of the distribution, with `confidence`.
///
/// ```text
/// ∫ φ(z) P(χ²_ν ≥ ν r(z)²/k²) dz = confidence      Φ(z/√n + r) − Φ(z/√n − r) = share
/// ```
///
/// exact for the normal distribution [krishnamoorthy-mathew-2009] (2.3), with ν = n − 1. `None` for fewer than two
/// values, or a share or confidence that is not strictly between 0 and 1.
pub fn two_sided_factor(count: u64, share: f64, confidence: f64) -> Option<f64> {
    if !possible(count, share, confidence) {
        return None;
    }
    let n = count as f64;
    let reach = |z: f64| half_width(z.abs() / n.sqrt(), share);
    solve(
        n,
        confidence,
        -FARTHEST,
        0.0,
        reach,
        howe_factor(count, share, confidence)?,
    )
}

/// Factor k such that at least `share` of the distribution lies below mean + k·s, with `confidence`.
///
/// ```text
/// P(t' ≤ k √n) = confidence, t' noncentral Student with ν = n − 1 and shift z √n, Φ(z) = share
/// ```
///
/// exact for the normal distribution [krishnamoorthy-mathew-2009] (2.2). `None` as for [`two_sided_factor`].
pub fn one_sided_factor(count: u64, share: f64, confidence: f64) -> Option<f64> {
    if !possible(count, share, confidence) {
        return None;
    }
    let root = (count as f64).sqrt();
    let z_share = normal::quantile(share);
    // The share of samples whose mean alone lies far enough: no factor above zero can have less confidence.
    if normal::cdf(-z_share * root) >= confidence {
        return one_sided_factor(count, 1.0 - share, 1.0 - confidence).map(|k| -k);
    }
    // Where the reach is below zero any factor does, so the integral starts where it is zero.
    let reach = |z: f64| z_share + z / root;
    let first = (z_share + normal::quantile(confidence) / root).max(0.1);
    solve(count as f64, confidence, -z_share * root, FARTHEST, reach, first)
}

/// Howe's approximation to [`two_sided_factor`] [howe-1969].
///
/// ```text
/// k = z √(ν (1 + 1/n)/χ²)      z the quantile of (1 + share)/2, χ² the quantile of 1 − confidence for ν = n − 1
/// ```
///
/// `None` as for [`two_sided_factor`].
pub fn howe_factor(count: u64, share: f64, confidence: f64) -> Option<f64> {
    if !possible(count, share, confidence) {
        return None;
    }
    let n = count as f64;
    let chi_square = chi_square_quantile(n - 1.0, 1.0 - confidence);
    Some(-normal::quantile(0.5 * (1.0 - share)) * ((n - 1.0) * (1.0 + 1.0 / n) / chi_square).sqrt())
}

fn possible(count: u64, share: f64, confidence: f64) -> bool {
    let inside = |p: f64| p > 0.0 && p < 1.0;
    count >= 2 && inside(share) && inside(confidence)
}

/// The r for which an interval of ± r around a place `off` the mean holds a share of the standard normal distribution.
fn half_width(off: f64, share: f64) -> f64 {
    let residual = |r: f64| {
        let inside = normal::cdf(r - off) - normal::cdf(-r - off);
        (
            inside - share,
            normal::density(r - off) + normal::density(r + off),
        )
    };
    let widest = off + FARTHEST;
    let first = off.max(-normal::quantile(0.5 * (1.0 - share)));
    bracketed_newton(residual, (0.0, -share), widest, first, ACCURACY).0
}

/// The k for which the samples that reach far enough are the share `confidence` of all.
///
/// `reach` is needed for a mean `z` standard errors off, z from `lo` to `hi`; for z below that any factor does, unless
/// `hi` is the middle and the other half is its mirror image.
fn solve(n: f64, confidence: f64, lo: f64, hi: f64, reach: impl Fn(f64) -> f64, first: f64) -> Option<f64> {
    let nu = n - 1.0;
    let (mirror, always) = if hi == 0.0 {
        (2.0, 0.0)
    } else {
        (1.0, normal::cdf(lo))
    };
    let lo = lo.max(-FARTHEST);
    let share = |k: f64, z: f64| nu * (reach(z) / k).powi(2);
    let residual = |log_k: f64| {
        let k = libm::exp(log_k);
        let value = integral(
            |z| normal::density(z) * chi_square(nu, share(k, z)).1,
            lo,
            hi,
            ACCURACY,
        );
        let slope = |z: f64| {
            let x = share(k, z);
            normal::density(z) * chi_square_density(nu, x) * 2.0 * x
        };
        let slope = integral(slope, lo, hi, SLOPE_ACCURACY);
        (always + mirror * value - confidence, mirror * slope)
    };
    let (log_k, value) = bracketed_newton(residual, (SMALLEST, -1.0), LARGEST, libm::log(first), ACCURACY);
    (value.abs() < WORST).then(|| libm::exp(log_k))
}

/// Method: beyond nine standard errors lies 1e-19 of the distribution.
const FARTHEST: f64 = 9.0;
/// Method: printed tables have four digits; this leaves several to spare.
const ACCURACY: f64 = 1e-10;
/// Convergence: the slope only guides the steps.
const SLOPE_ACCURACY: f64 = 1e-4;
/// Method: logarithms of the factors searched. Two values and a confidence of 1 − 1e-9 need about ln 1e10.
const SMALLEST: f64 = -30.0;
const LARGEST: f64 = 40.0;
/// Convergence: a residual above this is no solution.
const WORST: f64 = 1e-6;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numerics::checks;

    /// Source: tables of exact factors (as in ISO 16269-6), and Howe (1969), in the checks.
    #[test]
    fn factors_are_those_of_the_tables() {
        type Factor = fn(u64, f64, f64) -> Option<f64>;
        let kinds: [(&str, Factor); 3] = [
            ("two_sided_exact", two_sided_factor),
            ("one_sided_exact", one_sided_factor),
            ("howe_approx", howe_factor),
        ];
        let mut seen = 0;
        for file in checks::files("statistics") {
            let tolerance = file["statistics"]["tolerance_factor"]["tol_abs"]
                .as_f64()
                .unwrap();
            for (name, factor) in kinds {
                for row in checks::rows(&file, &["statistics", "tolerance_factor", name]) {
                    let number = |key: &str| row[key].as_f64().unwrap();
                    let got = factor(number("n") as u64, number("p"), number("conf")).unwrap();
                    assert!((got - number("k")).abs() < tolerance, "{name} {row}: {got}");
                    seen += 1;
                }
            }
        }
        assert!(seen > 0);
    }

    /// Two values, one-sided, half of the distribution: mean + k·s above the true mean. t of one degree of freedom is
    /// the Cauchy distribution, so k √2 = tan(π(confidence − ½)).
    #[test]
    fn half_of_the_distribution_from_two_values_follows_from_the_cauchy_distribution() {
        for confidence in [0.55, 0.9, 0.999] {
            let exact = (std::f64::consts::PI * (confidence - 0.5)).tan() / 2.0_f64.sqrt();
            let got = one_sided_factor(2, 0.5, confidence).unwrap();
            assert!((got / exact - 1.0).abs() < 1e-6, "{confidence}: {got} {exact}");
        }
    }

    #[test]
    fn a_small_share_with_little_confidence_lies_below_the_mean() {
        let k = one_sided_factor(30, 0.1, 0.05).unwrap();
        assert!((k + one_sided_factor(30, 0.9, 0.95).unwrap()).abs() < 1e-9 && k < -1.0);
        assert!(one_sided_factor(30, 0.1, 0.95).unwrap() < 0.0);
    }

    #[test]
    fn many_values_leave_the_quantile_of_the_distribution() {
        let (two, one) = (
            two_sided_factor(1_000_000, 0.95, 0.5),
            one_sided_factor(1_000_000, 0.95, 0.5),
        );
        assert!((two.unwrap() - 1.959964).abs() < 1e-5, "{two:?}");
        assert!((one.unwrap() - 1.644854).abs() < 1e-5, "{one:?}");
    }

    #[test]
    fn impossible_demands_have_no_factor() {
        for factor in [two_sided_factor, one_sided_factor, howe_factor] {
            assert!(factor(1, 0.9, 0.9).is_none() && factor(0, 0.9, 0.9).is_none());
            for p in [0.0, 1.0, -0.5, f64::NAN, f64::INFINITY] {
                assert!(
                    factor(10, p, 0.9).is_none() && factor(10, 0.9, p).is_none(),
                    "{p}"
                );
            }
        }
    }
}
