//! The incomplete gamma function and the chi-square distribution.

use super::normal;
use super::root::bracketed_newton;

/// Shares of the gamma distribution of shape a below and above x: P(a, x) and Q(a, x) = 1 − P.
///
/// ```text
/// P(a, x) = xᵃ e⁻ˣ/Γ(a + 1) · (1 + x/(a + 1) + x²/((a + 1)(a + 2)) + …)     x < a + 1
/// Q(a, x) = xᵃ e⁻ˣ/Γ(a) · 1/(x + 1 − a − 1(1 − a)/(x + 3 − a − …))          otherwise
/// ```
///
/// [dlmf-nist] 8.11.4 and 8.9.2. The smaller of the two keeps its relative accuracy. Not a number for a shape that is not
/// positive, an x below zero, or a shape beyond about 1e9, where the sums get too long.
pub fn incomplete_gamma(a: f64, x: f64) -> (f64, f64) {
    if !(a > 0.0 && a.is_finite() && x >= 0.0) {
        return (f64::NAN, f64::NAN);
    }
    if x == 0.0 {
        return (0.0, 1.0);
    }
    if x == f64::INFINITY {
        return (1.0, 0.0);
    }
    // xᵃ e⁻ˣ/Γ(a + 1).
    let front = libm::exp(-deviance(a, x) - stirling_error(a)) / (std::f64::consts::TAU * a).sqrt();
    if x < a + 1.0 {
        let lower = front * series(a, x);
        (lower, 1.0 - lower)
    } else {
        let upper = front * a * fraction(a, x);
        (1.0 - upper, upper)
    }
}

fn series(a: f64, x: f64) -> f64 {
    let (mut term, mut sum) = (1.0, 1.0);
    for k in 1..MOST_TERMS {
        term *= x / (a + f64::from(k));
        sum += term;
        if term < sum * ROUNDING {
            return sum;
        }
    }
    f64::NAN
}

/// The continued fraction by the method of Lentz and Thompson [thompson-barnett-1986].
fn fraction(a: f64, x: f64) -> f64 {
    let mut b = x + 1.0 - a;
    let mut c = f64::INFINITY;
    let mut d = 1.0 / b;
    let mut value = d;
    for k in 1..MOST_TERMS {
        let k = f64::from(k);
        let numerator = -k * (k - a);
        b += 2.0;
        d = 1.0 / (numerator * d + b);
        c = numerator / c + b;
        let factor = c * d;
        value *= factor;
        if (factor - 1.0).abs() < ROUNDING {
            return value;
        }
    }
    f64::NAN
}

/// Rounding: a sum or product does not change any more.
const ROUNDING: f64 = f64::EPSILON;
/// Convergence: about six times the square root of the shape are needed.
const MOST_TERMS: u32 = 200_000;

/// The part a ln(a/x) + x − a of the logarithm of a gamma or Poisson density; zero where x = a [loader-2000].
pub(super) fn deviance(a: f64, x: f64) -> f64 {
    let v = (a - x) / (a + x);
    if v.abs() > NEAR {
        let ratio = a / x;
        let logarithm = if ratio > 0.0 && ratio.is_finite() {
            libm::log(ratio)
        } else {
            libm::log(a) - libm::log(x)
        };
        return a * logarithm + x - a;
    }
    // ln(a/x) = 2 artanh v; the first terms are taken together so that nothing cancels.
    let mut sum = (a - x) * v;
    let mut term = 2.0 * a * v;
    for k in 1..20 {
        term *= v * v;
        let next = sum + term / f64::from(2 * k + 1);
        if next == sum {
            break;
        }
        sum = next;
    }
    sum
}

/// Method: below this the series of the deviance ends in under ten terms, and above it the logarithm is exact enough.
const NEAR: f64 = 0.1;

/// The error ln Γ(a + 1) − (a + ½) ln a + a − ½ ln 2π of Stirling's formula [loader-2000].
pub(super) fn stirling_error(mut a: f64) -> f64 {
    // Steps up to where the series below is exact, by Γ(a + 1) = a Γ(a).
    let mut steps = 0.0;
    while a < ASYMPTOTIC {
        steps += (a + 0.5) * libm::log1p(1.0 / a) - 1.0;
        a += 1.0;
    }
    // Bernoulli numbers B₂ₖ/(2k(2k − 1)) [dlmf-nist] 5.11.1.
    const TERMS: [f64; 7] = [
        1.0 / 12.0,
        -1.0 / 360.0,
        1.0 / 1260.0,
        -1.0 / 1680.0,
        1.0 / 1188.0,
        -691.0 / 360_360.0,
        1.0 / 156.0,
    ];
    let inverse_square = 1.0 / (a * a);
    TERMS
        .iter()
        .rev()
        .fold(0.0, |sum, term| sum * inverse_square + term)
        / a
        + steps
}

/// Method: from here on the first term left out, 3617/122400/a¹⁵, is below rounding.
const ASYMPTOTIC: f64 = 16.0;

/// Shares of the chi-square distribution below and above x, for degrees of freedom ν.
pub fn chi_square(nu: f64, x: f64) -> (f64, f64) {
    incomplete_gamma(0.5 * nu, 0.5 * x)
}

/// Density of the chi-square distribution; zero for x not above zero.
pub fn chi_square_density(nu: f64, x: f64) -> f64 {
    if x.is_nan() || !(nu > 0.0) {
        return f64::NAN;
    }
    if x <= 0.0 || x == f64::INFINITY {
        return 0.0;
    }
    let (a, half) = (0.5 * nu, 0.5 * x);
    let front = libm::exp(-deviance(a, half) - stirling_error(a)) / (std::f64::consts::TAU * a).sqrt();
    front * a / x
}

/// The x below which a share of the chi-square distribution of ν degrees of freedom lies.
///
/// Solved to rounding for the smaller of the shares on both sides, from the start of Wilson and Hilferty
/// [wilson-hilferty-1931]. Not a number for a share outside [0, 1] or degrees of freedom not positive.
pub fn chi_square_quantile(nu: f64, share: f64) -> f64 {
    if !(nu > 0.0 && nu.is_finite() && (0.0..=1.0).contains(&share)) {
        return f64::NAN;
    }
    if share == 0.0 {
        return 0.0;
    }
    if share == 1.0 {
        return f64::INFINITY;
    }
    let third = 2.0 / (9.0 * nu);
    let root = 1.0 - third + normal::quantile(share) * third.sqrt();
    // The tail near zero is a power, P ≈ (x/2)ᵃ/Γ(a + 1).
    let a = 0.5 * nu;
    let power = std::f64::consts::LN_2 + (libm::log(share) + libm::lgamma(a + 1.0)) / a;
    let first = if root > 0.2 {
        libm::log(nu) + 3.0 * libm::log(root)
    } else {
        power
    };
    // In ln x, so that the smallest quantile is as exact as the others.
    let residual = |t: f64| {
        let x = libm::exp(t);
        let (lower, upper) = chi_square(nu, x);
        let value = if share < 0.5 {
            lower - share
        } else {
            (1.0 - share) - upper
        };
        (value, chi_square_density(nu, x) * x)
    };
    let (lo, hi) = (power.min(first) - 1.0, libm::log(nu + 1500.0 + 80.0 * nu.sqrt()));
    libm::exp(bracketed_newton(residual, (lo, -1.0), hi.max(first + 1.0), first, ROUNDING).0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: mpmath 1.3 to 40 digits. Shape, x, share below, share above.
    const SHARES: &[(f64, f64, f64, f64)] = &[
        (0.5, 0.001, 0.03567059172967989, 0.9643294082703201),
        (0.5, 3.0, 0.9856941215645704, 0.01430587843542964),
        (1.0, 2.0, 0.8646647167633873, 0.1353352832366127),
        (2.5, 0.1, 0.0008861387888124426, 0.9991138612111875),
        (5.0, 5.0, 0.5595067149347875, 0.4404932850652124),
        (9.0, 30.0, 0.9999979539240957, 2.0460759042705716e-06),
        (15.9, 20.0, 0.8492444200629012, 0.1507555799370987),
        (16.1, 20.0, 0.8375988992318933, 0.16240110076810668),
        (100.0, 70.0, 0.00043037259497989087, 0.9995696274050201),
        (100.0, 112.0, 0.8826075487807755, 0.11739245121922451),
        (20000.0, 19900.0, 0.24011560718543098, 0.759884392814569),
        (20000.0, 20500.0, 0.9997749719643576, 0.0002250280356423413),
        (20000.0, 23000.0, 1.0, 2.2210592257016904e-91),
    ];

    #[test]
    fn shares_below_and_above_are_those_of_a_general_library() {
        for &(a, x, below, above) in SHARES {
            let (lower, upper) = incomplete_gamma(a, x);
            assert!(
                (lower - below).abs() <= 4e-15 * below.max(0.05),
                "{a} {x}: {lower} {below}"
            );
            assert!(
                (upper - above).abs() <= 4e-15 * above.max(0.05),
                "{a} {x}: {upper} {above}"
            );
            let (smaller, expected) = if below < above {
                (lower, below)
            } else {
                (upper, above)
            };
            assert!(
                (smaller / expected - 1.0).abs() < 2e-13,
                "{a} {x}: {smaller} {expected}"
            );
        }
    }

    /// Source: mpmath 1.3 to 40 digits. Degrees of freedom, share, quantile.
    const QUANTILES: &[(f64, f64, f64)] = &[
        (1.0, 1e-06, 1.5707963267957189e-12),
        (1.0, 0.95, 3.8414588206941245),
        (2.0, 0.5, 1.3862943611198906),
        (18.0, 0.025, 8.230746194756666),
        (18.0, 0.975, 31.526378440386626),
        (19.0, 1e-09, 1.0284493122770968),
        (3.0, 0.999999, 30.664849706154268),
        (200.0, 0.1, 174.8352729991873),
        (5000.0, 0.975, 5197.883771923797),
    ];

    #[test]
    fn quantiles_of_chi_square_are_those_of_a_general_library() {
        for &(nu, share, x) in QUANTILES {
            let got = chi_square_quantile(nu, share);
            assert!((got / x - 1.0).abs() < 1e-12, "{nu} {share}: {got} {x}");
        }
    }

    #[test]
    fn the_density_is_the_slope_of_the_share() {
        for (nu, x) in [(1.0, 0.3), (5.0, 3.0), (60.0, 71.0)] {
            let h = 1e-5;
            let slope = (chi_square(nu, x + h).0 - chi_square(nu, x - h).0) / (2.0 * h);
            assert!((slope - chi_square_density(nu, x)).abs() < 1e-8);
        }
    }

    #[test]
    fn arguments_without_meaning_give_no_number() {
        for (a, x) in [
            (0.0, 1.0),
            (-1.0, 1.0),
            (1.0, -1.0),
            (f64::NAN, 1.0),
            (1.0, f64::NAN),
            (f64::INFINITY, 1.0),
        ] {
            assert!(incomplete_gamma(a, x).0.is_nan(), "{a} {x}");
        }
        assert_eq!(incomplete_gamma(3.0, 0.0), (0.0, 1.0));
        assert_eq!(incomplete_gamma(3.0, f64::INFINITY), (1.0, 0.0));
        assert!(incomplete_gamma(1e300, 1e300).0.is_nan());
        assert!(incomplete_gamma(1e-300, 1e300).1 == 0.0);
        assert_eq!(
            (chi_square_quantile(4.0, 0.0), chi_square_quantile(4.0, 1.0)),
            (0.0, f64::INFINITY)
        );
        assert!(
            [(0.0, 0.5), (4.0, 1.5), (4.0, f64::NAN)]
                .iter()
                .all(|&(n, p)| chi_square_quantile(n, p).is_nan())
        );
    }
}
