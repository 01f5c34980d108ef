//! The incomplete beta function and the quantiles of the beta distribution.

use super::gamma::{deviance, stirling_error};
use super::root::bracketed_newton;

/// Shares of the beta distribution with exponents a and b below and above x, where y = 1 − x is given as well
/// so that neither end loses digits.
///
/// ```text
/// I_x(a, b) = xᵃ yᵇ/(a B(a, b)) · 1/(1 + d₁/(1 + d₂/(1 + …)))     x < (a + 1)/(a + b + 2)
/// ```
///
/// with d of [dlmf-nist] 8.17.22, and the mirror image otherwise. Not a number for exponents that are not positive
/// and finite, and beyond about 1e9.
pub fn incomplete_beta(a: f64, b: f64, x: f64, y: f64) -> (f64, f64) {
    if !(a > 0.0 && b > 0.0 && a.is_finite() && b.is_finite() && x >= 0.0 && y >= 0.0) {
        return (f64::NAN, f64::NAN);
    }
    if x == 0.0 {
        return (0.0, 1.0);
    }
    if y == 0.0 {
        return (1.0, 0.0);
    }
    let front = front(a, b, x, y);
    if x * (a + b + 2.0) < a + 1.0 {
        let lower = front / a * fraction(a, b, x);
        (lower, 1.0 - lower)
    } else {
        let upper = front / b * fraction(b, a, y);
        (1.0 - upper, upper)
    }
}

/// xᵃ yᵇ/B(a, b), with the powers measured from their maximum [loader-2000].
fn front(a: f64, b: f64, x: f64, y: f64) -> f64 {
    let n = a + b;
    let exponent =
        stirling_error(n) - stirling_error(a) - stirling_error(b) - deviance(a, n * x) - deviance(b, n * y);
    libm::exp(exponent) * (a / n * b / std::f64::consts::TAU).sqrt()
}

/// The continued fraction by the method of Lentz and Thompson [thompson-barnett-1986].
fn fraction(a: f64, b: f64, x: f64) -> f64 {
    let (mut c, mut d) = (1.0, 1.0 / away_from_zero(1.0 - (a + b) * x / (a + 1.0)));
    let mut value = d;
    for m in 1..MOST_TERMS {
        let m = f64::from(m);
        let mut change = 1.0;
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        for numerator in [even, odd] {
            d = 1.0 / away_from_zero(1.0 + numerator * d);
            c = away_from_zero(1.0 + numerator / c);
            change = c * d;
            value *= change;
        }
        if (change - 1.0).abs() < f64::EPSILON {
            return value;
        }
    }
    f64::NAN
}

/// Convergence: about the square root of the larger exponent is needed.
const MOST_TERMS: u32 = 200_000;

fn away_from_zero(x: f64) -> f64 {
    if x.abs() < SMALLEST { SMALLEST } else { x }
}

/// Rounding: a denominator that happens to vanish is replaced by one too small to matter.
const SMALLEST: f64 = 1e-290;

/// The x below which a share of the beta distribution with exponents a and b lies.
///
/// Not a number for a share outside [0, 1] or exponents that are not positive.
pub fn beta_quantile(a: f64, b: f64, share: f64) -> f64 {
    if !(a > 0.0 && b > 0.0 && a.is_finite() && b.is_finite() && (0.0..=1.0).contains(&share)) {
        return f64::NAN;
    }
    if share == 0.0 || share == 1.0 {
        return share;
    }
    // In t = ln(x/y), so that both ends are as exact as the middle.
    let ends = |t: f64| (1.0 / (1.0 + libm::exp(-t)), 1.0 / (1.0 + libm::exp(t)));
    let residual = |t: f64| {
        let (x, y) = ends(t);
        let (lower, upper) = incomplete_beta(a, b, x, y);
        let value = if share < 0.5 {
            lower - share
        } else {
            (1.0 - share) - upper
        };
        (value, front(a, b, x, y))
    };
    let first = libm::log(a) - libm::log(b);
    ends(bracketed_newton(residual, (-WIDEST, -1.0), WIDEST, first, f64::EPSILON).0).0
}

/// Rounding: beyond this the smaller of x and y leaves the range of a double.
const WIDEST: f64 = 700.0;

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: mpmath 1.3 to 40 digits. Exponents a and b, x, share below, share above.
    const SHARES: &[(f64, f64, f64, f64, f64)] = &[
        (0.5, 20.5, 0.001, 0.15953930304016503, 0.8404606969598349),
        (1.0, 20.0, 0.168, 0.9747380700915502, 0.025261929908449728),
        (2.0, 28.0, 0.1, 0.801127899449603, 0.19887210055039697),
        (81.0, 183.0, 0.2527, 0.024918160405309756, 0.9750818395946902),
        (82.0, 182.0, 0.3676, 0.9749573639514828, 0.025042636048517163),
        (15.5, 133.5, 0.06, 0.023564771361549365, 0.9764352286384507),
        (0.5, 0.5, 0.9, 0.7951672353008665, 0.20483276469913342),
        (3.0, 2.0, 0.4, 0.17920000000000003, 0.8208),
        (300.0, 5.0, 0.97, 0.0486271005384729, 0.9513728994615271),
        (6000.0, 4000.0, 0.61, 0.979609084509218, 0.020390915490781952),
    ];

    #[test]
    fn shares_below_and_above_are_those_of_a_general_library() {
        for &(a, b, x, below, above) in SHARES {
            let (lower, upper) = incomplete_beta(a, b, x, 1.0 - x);
            let (smaller, expected) = if below < above {
                (lower, below)
            } else {
                (upper, above)
            };
            assert!(
                (smaller / expected - 1.0).abs() < 2e-12,
                "{a} {b} {x}: {smaller} {expected}"
            );
            assert!((lower + upper - 1.0).abs() < 1e-15);
        }
    }

    #[test]
    fn the_quantile_of_a_share_is_where_it_was_taken() {
        for &(a, b, x, below, above) in SHARES {
            // The share says nothing more about the place where it is rounded to one.
            if above > 1e-3 {
                let got = beta_quantile(a, b, below);
                assert!((got / x - 1.0).abs() < 1e-11, "{a} {b} {below}: {got} {x}");
            }
        }
    }

    #[test]
    fn arguments_without_meaning_give_no_number() {
        for (a, b) in [(0.0, 1.0), (1.0, -1.0), (f64::NAN, 1.0), (1.0, f64::INFINITY)] {
            assert!(incomplete_beta(a, b, 0.5, 0.5).0.is_nan() && beta_quantile(a, b, 0.5).is_nan());
        }
        assert!(
            incomplete_beta(1.0, 1.0, -0.5, 1.5).0.is_nan()
                && incomplete_beta(1.0, 1.0, f64::NAN, 0.5).0.is_nan()
        );
        assert!(beta_quantile(1.0, 1.0, 1.1).is_nan() && beta_quantile(1.0, 1.0, f64::NAN).is_nan());
        assert_eq!(
            (beta_quantile(2.0, 3.0, 0.0), beta_quantile(2.0, 3.0, 1.0)),
            (0.0, 1.0)
        );
        assert_eq!(incomplete_beta(2.0, 3.0, 0.0, 1.0), (0.0, 1.0));
        assert_eq!(incomplete_beta(2.0, 3.0, 1.0, 0.0), (1.0, 0.0));
        assert!((0.0..=1.0).contains(&beta_quantile(1e-300, 1e300, 0.3)));
    }
}
