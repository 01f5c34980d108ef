//! One-way analysis of variance with groups drawn at random: how much of the spread lies between them.

use super::beta::{beta_quantile, incomplete_beta};
use super::moments::moments;
use super::root::bracketed_newton;

/// Analysis of variance of values in groups.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OneWay {
    /// Mean of all values.
    pub mean: f64,
    /// Degrees of freedom between groups: groups less one.
    pub df_between: f64,
    /// Degrees of freedom within groups: values less groups.
    pub df_within: f64,
    /// Sum of squares between groups.
    pub ss_between: f64,
    /// Sum of squares within groups.
    pub ss_within: f64,
    /// Mean square between groups.
    pub ms_between: f64,
    /// Mean square within groups: estimate of σ².
    pub ms_within: f64,
    /// Ratio of the mean squares.
    pub f: f64,
    /// Chance of a ratio this large when the groups do not differ.
    pub p: f64,
    /// Share of the sum of squares that lies between groups.
    pub r_squared: f64,
    /// Mean size of the groups as far as the estimate between them goes.
    pub n0: f64,
    /// Estimate of τ² as it comes out, which may be negative.
    pub tau2_raw: f64,
    /// The same, or zero.
    pub tau2: f64,
    /// 95 % interval of τ²/σ², both ends cut at zero.
    pub ratio_interval: [f64; 2],
}

/// Analysis of variance of `groups`; empty groups are left out.
///
/// ```text
/// y = μ + a + e,  a ~ N(0, τ²) for each group,  e ~ N(0, σ²)
/// τ̂² = (MSB − MSW)/n0,  n0 = (N − Σ nᵢ²/N)/(k − 1)                    [searle-1992]
/// W(ρ) = Σ wᵢ (ȳᵢ − ȳ_w)²/((k − 1) MSW),  wᵢ = nᵢ/(1 + nᵢ ρ)             [wald-1940]
/// ```
///
/// W(τ²/σ²) has the F distribution exactly, whatever the sizes, and falls with ρ, so the interval is where it passes the
/// quantiles. `None` for fewer than two groups, no group of two, or a value that is not finite. When all values within
/// groups agree, F is infinite or not a number and the interval is not a number.
pub fn one_way(groups: &[Vec<f64>]) -> Option<OneWay> {
    let each: Vec<_> = groups.iter().filter(|g| !g.is_empty()).collect();
    let all: Vec<f64> = each.iter().flat_map(|g| g.iter().copied()).collect();
    let total = moments(&all)?;
    let means = each.iter().map(|g| moments(g)).collect::<Option<Vec<_>>>()?;
    let (n, k) = (all.len() as f64, each.len() as f64);
    if !(k >= 2.0 && n > k) {
        return None;
    }
    let (df_between, df_within) = (k - 1.0, n - k);
    let size = |m: &super::moments::Moments| m.count as f64;
    let ss_between: f64 = means
        .iter()
        .map(|m| size(m) * (m.mean - total.mean).powi(2))
        .sum();
    let ss_within: f64 = means
        .iter()
        .filter(|m| m.count > 1)
        .map(|m| m.sd * m.sd * (size(m) - 1.0))
        .sum();
    let (ms_between, ms_within) = (ss_between / df_between, ss_within / df_within);
    let n0 = (n - means.iter().map(|m| size(m) * size(m)).sum::<f64>() / n) / df_between;
    let tau2_raw = (ms_between - ms_within) / n0;
    let f = ms_between / ms_within;
    let sizes: Vec<(f64, f64)> = means.iter().map(|m| (size(m), m.mean - total.mean)).collect();
    let end = |share| ratio_at(&sizes, ms_within, f_quantile(df_between, df_within, share));
    Some(OneWay {
        mean: total.mean,
        df_between,
        df_within,
        ss_between,
        ss_within,
        ms_between,
        ms_within,
        f,
        p: f_shares(df_between, df_within, f).1,
        r_squared: ss_between / (ss_between + ss_within),
        n0,
        tau2_raw,
        tau2: tau2_raw.max(0.0),
        ratio_interval: [end(0.975), end(0.025)],
    })
}

/// The ρ at which Wald's ratio has a value: 0 when it has less there already.
fn ratio_at(sizes: &[(f64, f64)], ms_within: f64, value: f64) -> f64 {
    let wald = |ratio: f64| {
        let weight = |n: f64| n / (1.0 + n * ratio);
        let sum: f64 = sizes.iter().map(|(n, _)| weight(*n)).sum();
        let mean = sizes.iter().map(|(n, y)| weight(*n) * y).sum::<f64>() / sum;
        // The mean minimises the sum, so its own slope does not count.
        let (mut squares, mut slope) = (0.0, 0.0);
        for (n, y) in sizes {
            let w = weight(*n);
            squares += w * (y - mean).powi(2);
            slope -= (w * (y - mean)).powi(2);
        }
        let scale = (sizes.len() as f64 - 1.0) * ms_within;
        (squares / scale - value, slope / scale)
    };
    let at_zero = wald(0.0).0;
    if !at_zero.is_finite() {
        return f64::NAN;
    }
    if at_zero <= 0.0 {
        return 0.0;
    }
    let mut high = 1.0;
    while wald(high).0 > 0.0 && high < LARGEST_RATIO {
        high *= 8.0;
    }
    // The ratio is convex in ρ and near a hyperbola; Newton from below needs a few steps.
    bracketed_newton(wald, (0.0, at_zero), high, 0.0, f64::EPSILON * high).0
}

/// Rounding: groups that differ this much more than their values leave no digits within them.
const LARGEST_RATIO: f64 = 1e15;

/// Shares of the F distribution below and above x.
///
/// ```text
/// P(F > x) = I_y(d₂/2, d₁/2),  y = d₂/(d₂ + d₁ x)
/// ```
///
/// [abramowitz-stegun] 26.6.2.
pub fn f_shares(d1: f64, d2: f64, x: f64) -> (f64, f64) {
    if x == f64::INFINITY {
        return (1.0, 0.0);
    }
    let sum = d2 + d1 * x;
    incomplete_beta(0.5 * d1, 0.5 * d2, d1 * x / sum, d2 / sum)
}

/// The x below which a share of the F distribution lies.
pub fn f_quantile(d1: f64, d2: f64, share: f64) -> f64 {
    // From the end that is the smaller, so that neither loses digits.
    let x = beta_quantile(0.5 * d1, 0.5 * d2, share);
    let y = beta_quantile(0.5 * d2, 0.5 * d1, 1.0 - share);
    d2 * x / (d1 * y)
}

/// Chance that the test of [`one_way`] finds a difference between `groups` groups of `size` values each.
///
/// ```text
/// power = P(F > F_{1−α}/(1 + n τ²/σ²))
/// ```
///
/// exactly, as the groups are drawn at random [searle-1992]; `ratio` is τ/σ, `size` need not be whole. Not a number for
/// fewer than two groups or values.
pub fn power(groups: f64, size: f64, ratio: f64, alpha: f64) -> f64 {
    if !(groups >= 2.0 && size > 1.0 && ratio >= 0.0) {
        return f64::NAN;
    }
    let (d1, d2) = (groups - 1.0, groups * (size - 1.0));
    f_shares(
        d1,
        d2,
        f_quantile(d1, d2, 1.0 - alpha) / (1.0 + size * ratio * ratio),
    )
    .1
}

/// Chance that the estimate of τ² comes out as zero.
///
/// ```text
/// P(MSB < MSW) = P(F < 1/(1 + n τ²/σ²))
/// ```
pub fn chance_of_zero(groups: f64, size: f64, ratio: f64) -> f64 {
    if !(groups >= 2.0 && size > 1.0 && ratio >= 0.0) {
        return f64::NAN;
    }
    f_shares(
        groups - 1.0,
        groups * (size - 1.0),
        1.0 / (1.0 + size * ratio * ratio),
    )
    .0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numerics::checks;
    use crate::numerics::random::Stream;
    use serde_json::Value;

    fn groups(value: &Value) -> Vec<Vec<f64>> {
        let numbers = |v: &Value| {
            v.as_array()
                .unwrap()
                .iter()
                .map(|x| x.as_f64().unwrap())
                .collect()
        };
        value.as_array().unwrap().iter().map(numbers).collect()
    }

    fn compare(data: &Value, expected: &Value, tolerance: f64) -> usize {
        let got = one_way(&groups(data)).unwrap();
        let mut seen = 0;
        for (name, got) in [
            ("df_b", got.df_between),
            ("df_w", got.df_within),
            ("ssb", got.ss_between),
            ("ssw", got.ss_within),
            ("msb", got.ms_between),
            ("msw", got.ms_within),
            ("F", got.f),
            ("p", got.p),
            ("resid_sd", got.ms_within.sqrt()),
            ("R2", got.r_squared),
            ("n0", got.n0),
            ("tau2_anova", got.tau2),
            ("tau2_raw", got.tau2_raw),
        ] {
            if let Some(expected) = expected[name].as_f64() {
                assert!(
                    (got - expected).abs() <= tolerance * expected.abs(),
                    "{name}: {got} {expected}"
                );
                seen += 1;
            }
        }
        seen
    }

    /// Source: certified values of the NIST Statistical Reference Datasets (SiRstv), and cases solved outside.
    #[test]
    fn the_analysis_of_variance_is_the_certified_one() {
        let mut seen = 0;
        for file in checks::files("statistics") {
            for (name, case) in file["nist"].as_object().unwrap() {
                if name.starts_with("anova_") {
                    seen += compare(&case["groups"], case, case["tol_rel"].as_f64().unwrap());
                }
            }
            let components = &file["statistics"]["variance_components"];
            let tolerance = components["tol_rel"].as_f64().unwrap();
            for case in components.as_object().unwrap().values() {
                if !case["anova"].is_null() {
                    seen += compare(&case["groups"], &case["anova"], tolerance);
                }
            }
        }
        assert!(seen > 20, "{seen}");
    }

    /// Known form for groups of one size: τ²/σ² between (F/F₀.₉₇₅ − 1)/n and (F/F₀.₀₂₅ − 1)/n [searle-1992].
    #[test]
    fn the_interval_is_the_closed_one_when_groups_have_one_size() {
        let data = vec![
            vec![1.0, 1.3, 0.8],
            vec![2.5, 2.2, 2.9],
            vec![1.6, 1.1, 1.5],
            vec![0.2, 0.5, 0.1],
        ];
        let got = one_way(&data).unwrap();
        for (end, share) in got.ratio_interval.into_iter().zip([0.975, 0.025]) {
            let expected = (got.f / f_quantile(3.0, 8.0, share) - 1.0) / 3.0;
            assert!((end / expected - 1.0).abs() < 1e-9, "{end} {expected}");
        }
    }

    /// The exact interval must cover 95 % with groups of 1 to 9 values.
    #[test]
    fn the_interval_covers_as_often_as_it_says_with_unequal_groups() {
        let (mut random, runs, mut covered) = (Stream::new(5, 1), 2000, 0);
        for _ in 0..runs {
            let data: Vec<Vec<f64>> = [1, 2, 9, 3, 6]
                .map(|size| {
                    let level = 0.7 * random.normal();
                    (0..size).map(|_| level + random.normal()).collect()
                })
                .to_vec();
            let [low, high] = one_way(&data).unwrap().ratio_interval;
            covered += u32::from(low <= 0.49 && 0.49 <= high);
        }
        let share = f64::from(covered) / f64::from(runs);
        assert!(
            (share - 0.95).abs() < 3.0 * (0.05 * 0.95 / f64::from(runs)).sqrt(),
            "{share}"
        );
    }

    /// Source: 4000 simulated logs for each row, in the design notes of the project: power for τ/σ = ½ and 1, chance of zero.
    #[test]
    fn the_power_is_that_of_simulated_logs() {
        for (groups, size, half, one, zero) in [
            (3.0, 4.0, 0.17, 0.47, 0.36),
            (4.0, 6.0, 0.32, 0.72, 0.24),
            (6.0, 4.0, 0.29, 0.73, 0.22),
            (6.0, 8.0, 0.55, 0.93, 0.11),
            (8.0, 6.0, 0.52, 0.94, 0.11),
        ] {
            // Three standard errors of 4000 runs, and half a unit of the last digit printed.
            assert!(
                (power(groups, size, 0.5, 0.05) - half).abs() < 0.028,
                "{groups} {size}"
            );
            assert!(
                (power(groups, size, 1.0, 0.05) - one).abs() < 0.028,
                "{groups} {size}"
            );
            assert!(
                (chance_of_zero(groups, size, 0.5) - zero).abs() < 0.028,
                "{groups} {size}"
            );
        }
        assert!((power(5.0, 4.0, 0.0, 0.05) - 0.05).abs() < 1e-12);
    }

    /// Source: tables of the F distribution (from memory): F₀.₉₅(1, 10) = 4.965, F₀.₉₅(4, 20) = 2.866.
    #[test]
    fn quantiles_of_f_are_those_of_the_tables() {
        assert!((f_quantile(1.0, 10.0, 0.95) - 4.965).abs() < 5e-4);
        assert!((f_quantile(4.0, 20.0, 0.95) - 2.866).abs() < 5e-4);
        assert!((f_quantile(4.0, 20.0, 0.05) * f_quantile(20.0, 4.0, 0.95) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn groups_that_cannot_be_analysed_are_refused() {
        assert!(one_way(&[]).is_none() && one_way(&[vec![1.0, 2.0]]).is_none());
        assert!(one_way(&[vec![1.0], vec![2.0]]).is_none());
        assert!(one_way(&[vec![1.0, f64::NAN], vec![2.0, 3.0]]).is_none());
        let equal = one_way(&[vec![1.0, 1.0], vec![2.0, 2.0], vec![]]).unwrap();
        assert!(equal.f == f64::INFINITY && equal.p == 0.0);
        assert!(power(1.0, 5.0, 1.0, 0.05).is_nan());
    }
}
