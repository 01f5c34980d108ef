//! The standard normal distribution.

use std::f64::consts::FRAC_1_SQRT_2;

/// Density φ(x) = exp(−x²/2)/√(2π).
pub fn density(x: f64) -> f64 {
    INV_SQRT_TAU * libm::exp(-0.5 * x * x)
}

/// 1/√(2π).
const INV_SQRT_TAU: f64 = 0.398_942_280_401_432_7;

/// Share Φ(x) of the distribution below x.
///
/// ```text
/// Φ(x) = erfc(−x/√2)/2
/// ```
///
/// The lower tail keeps its relative accuracy, to about x² roundings, down to x = −38.
pub fn cdf(x: f64) -> f64 {
    0.5 * libm::erfc(-x * FRAC_1_SQRT_2)
}

/// The x below which the share u of the distribution lies: Φ(x) = u.
///
/// Rational approximations of Wichura's algorithm AS 241 (PPND16) [wichura-1988]: relative error about 1e-16
/// besides rounding. −∞ at 0, +∞ at 1, not a number outside [0, 1]. The bits are the same on every machine.
#[inline]
pub fn quantile(u: f64) -> f64 {
    let q = u - 0.5;
    if q.abs() <= CENTRAL { central(q) } else { tail(u) }
}

/// The quantile of each entry of `u`, with the same bits as [`quantile`] gives; as many as both slices hold.
///
/// The middle 85 % is done without a branch, many entries at a time.
pub fn quantile_into(u: &[f64], out: &mut [f64]) {
    for (u, out) in u.chunks(CHUNK).zip(out.chunks_mut(CHUNK)) {
        for (&u, out) in u.iter().zip(out.iter_mut()) {
            *out = central(u - 0.5);
        }
        for (&u, out) in u.iter().zip(out.iter_mut()) {
            if !((u - 0.5).abs() <= CENTRAL) {
                *out = tail(u);
            }
        }
    }
}

/// Entries that stay in the nearest cache between the two passes.
const CHUNK: usize = 512;

/// Half the share that the central approximation serves.
const CENTRAL: f64 = 0.425;

#[inline]
fn central(q: f64) -> f64 {
    let r = CENTRAL * CENTRAL - q * q;
    q * polynomial(&CENTRAL_ABOVE, r) / polynomial(&CENTRAL_BELOW, r)
}

#[inline]
fn tail(u: f64) -> f64 {
    let upper = u > 0.5;
    let beyond = if upper { 1.0 - u } else { u };
    if !(beyond > 0.0) {
        return match (beyond == 0.0, upper) {
            (true, true) => f64::INFINITY,
            (true, false) => f64::NEG_INFINITY,
            (false, _) => f64::NAN,
        };
    }
    let r = (-libm::log(beyond)).sqrt();
    let x = if r <= 5.0 {
        polynomial(&NEAR_ABOVE, r - 1.6) / polynomial(&NEAR_BELOW, r - 1.6)
    } else {
        polynomial(&FAR_ABOVE, r - 5.0) / polynomial(&FAR_BELOW, r - 5.0)
    };
    if upper { x } else { -x }
}

/// Value of a polynomial, coefficients from the constant up (Horner).
#[inline]
fn polynomial(coefficients: &[f64; 8], x: f64) -> f64 {
    let [a, b, c, d, e, f, g, h] = coefficients;
    ((((((h * x + g) * x + f) * x + e) * x + d) * x + c) * x + b) * x + a
}

// Coefficients of AS 241 [wichura-1988], numerators above, denominators below, with all digits printed there.

#[allow(clippy::excessive_precision)]
mod coefficients {
    pub(super) const CENTRAL_ABOVE: [f64; 8] = [
        3.387_132_872_796_366_608_0,
        1.331_416_678_917_843_774_5e2,
        1.971_590_950_306_551_442_7e3,
        1.373_169_376_550_946_112_5e4,
        4.592_195_393_154_987_145_7e4,
        6.726_577_092_700_870_085_3e4,
        3.343_057_558_358_812_810_5e4,
        2.509_080_928_730_122_672_7e3,
    ];
    pub(super) const CENTRAL_BELOW: [f64; 8] = [
        1.0,
        4.231_333_070_160_091_125_2e1,
        6.871_870_074_920_579_083_0e2,
        5.394_196_021_424_751_107_7e3,
        2.121_379_430_158_659_586_7e4,
        3.930_789_580_009_271_061_0e4,
        2.872_908_573_572_194_267_4e4,
        5.226_495_278_852_854_561_0e3,
    ];
    pub(super) const NEAR_ABOVE: [f64; 8] = [
        1.423_437_110_749_683_577_34,
        4.630_337_846_156_545_295_90,
        5.769_497_221_460_691_405_50,
        3.647_848_324_763_204_605_04,
        1.270_458_252_452_368_382_58,
        2.417_807_251_774_506_117_70e-1,
        2.272_384_498_926_918_458_33e-2,
        7.745_450_142_783_414_076_40e-4,
    ];
    pub(super) const NEAR_BELOW: [f64; 8] = [
        1.0,
        2.053_191_626_637_758_821_87,
        1.676_384_830_183_803_849_40,
        6.897_673_349_851_000_045_50e-1,
        1.481_039_764_274_800_745_90e-1,
        1.519_866_656_361_645_719_66e-2,
        5.475_938_084_995_344_946_00e-4,
        1.050_750_071_644_416_843_24e-9,
    ];
    pub(super) const FAR_ABOVE: [f64; 8] = [
        6.657_904_643_501_103_777_20,
        5.463_784_911_164_114_369_90,
        1.784_826_539_917_291_335_80,
        2.965_605_718_285_048_912_30e-1,
        2.653_218_952_657_612_309_30e-2,
        1.242_660_947_388_078_438_60e-3,
        2.711_555_568_743_487_578_15e-5,
        2.010_334_399_292_288_132_65e-7,
    ];
    pub(super) const FAR_BELOW: [f64; 8] = [
        1.0,
        5.998_322_065_558_879_376_90e-1,
        1.369_298_809_227_358_053_10e-1,
        1.487_536_129_085_061_485_25e-2,
        7.868_691_311_456_132_591_00e-4,
        1.846_318_317_510_054_681_80e-5,
        1.421_511_758_316_445_888_70e-7,
        2.044_263_103_389_939_785_64e-15,
    ];
}
use coefficients::*;

#[cfg(test)]
mod tests {
    use super::*;

    const ROUNDINGS: f64 = 4.0 * f64::EPSILON;

    /// Source: erfc of mpmath 1.3 to 60 digits, solved for x by Newton's method.
    const QUANTILES: &[(f64, f64)] = &[
        (1e-300, -37.0470962993612),
        (1e-20, -9.262340089798407),
        (1e-12, -7.034483825301132),
        (1.3e-11, -6.667611456510741),
        (1e-05, -4.264890793922825),
        (0.001, -3.0902323061678136),
        (0.0749999, -1.4395321773759007),
        (0.0750001, -1.4395307645017297),
        (0.2, -0.8416212335729142),
        (0.4999999999, -2.506628482030354e-10),
        (0.5000001, 2.506628273311648e-07),
        (0.7, 0.5244005127080407),
        (0.9, 1.2815515655446006),
        (0.975, 1.9599639845400538),
        (0.9999, 3.7190164854557084),
        (0.9999999999, 6.361340889697422),
        (0.9999999999999999, 8.209536151601387),
        (1.1102230246251565e-16, -8.209536151601387),
    ];

    /// Source: erfc and exp of mpmath 1.3 to 60 digits. x, Φ(x), φ(x).
    const VALUES: &[(f64, f64, f64)] = &[
        (-38.0, 2.88542835e-316, 1.097221052e-314),
        (-20.0, 2.7536241186062337e-89, 5.520948362159764e-88),
        (-8.3, 5.205569744890254e-17, 4.3816394355093325e-16),
        (-3.0, 0.0013498980316300946, 0.0044318484119380075),
        (-1.2, 0.11506967022170828, 0.19418605498321295),
        (-0.1, 0.460172162722971, 0.39695254747701175),
        (0.0, 0.5, 0.3989422804014327),
        (0.5, 0.6914624612740131, 0.35206532676429947),
        (1.96, 0.9750021048517795, 0.05844094433345146),
        (4.0, 0.9999683287581669, 0.00013383022576488534),
    ];

    #[test]
    fn quantiles_are_exact_to_rounding() {
        for &(u, x) in QUANTILES {
            let got = quantile(u);
            assert!(
                (got - x).abs() <= ROUNDINGS * x.abs(),
                "{u}: {got} instead of {x}"
            );
        }
    }

    #[test]
    fn shares_and_densities_are_exact_to_rounding_times_the_square_of_the_place() {
        for &(x, share, height) in VALUES {
            let tolerance = ROUNDINGS * (1.0 + x * x);
            assert!((cdf(x) - share).abs() <= tolerance * share, "{x}");
            assert!((density(x) - height).abs() <= tolerance * height, "{x}");
        }
    }

    #[test]
    fn the_quantile_of_a_share_is_where_it_was_taken() {
        for i in -370..=80 {
            let x = f64::from(i) * 0.1;
            // Above the middle the share itself is rounded.
            let tolerance = 1e-13 * (1.0 + x.abs()) + f64::EPSILON / density(x.max(0.0));
            assert!((quantile(cdf(x)) - x).abs() < tolerance, "{x}");
        }
    }

    #[test]
    fn a_column_of_quantiles_has_the_bits_of_each_alone() {
        let mut u: Vec<f64> = (0..1500).map(|i| (f64::from(i) + 0.5) / 1500.0).collect();
        u.extend([0.0, 1.0, -0.1, 1.1, f64::NAN, 1e-310, 0.075, 0.925]);
        let mut out = vec![0.0; u.len()];
        quantile_into(&u, &mut out);
        for (u, x) in u.iter().zip(out) {
            assert_eq!(x.to_bits(), quantile(*u).to_bits(), "{u}");
        }
    }

    #[test]
    fn outside_its_range_the_quantile_is_infinite_or_not_a_number() {
        assert_eq!(quantile(0.0), f64::NEG_INFINITY);
        assert_eq!(quantile(1.0), f64::INFINITY);
        assert!(
            [-0.1, 1.1, f64::NAN, f64::INFINITY, -f64::INFINITY]
                .iter()
                .all(|&u| quantile(u).is_nan())
        );
        assert!(quantile(f64::from_bits(1)) < -38.4 && quantile(f64::from_bits(1)) > -38.5);
    }
}
