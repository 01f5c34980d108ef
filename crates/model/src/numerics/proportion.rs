//! Confidence intervals of a share from hits out of a count.

use super::beta::beta_quantile;
use super::normal;

/// Score interval of Wilson [wilson-1927].
///
/// ```text
/// (p̂ + z²/2n ± z √(p̂(1 − p̂)/n + z²/4n²))/(1 + z²/n)
/// ```
///
/// with the share p̂ of hits, the count n and the quantile z of (1 + confidence)/2. Covers close to the confidence on
/// average. All intervals here are [0, 1] for a count of zero, and not a number for hits or a confidence out of range.
pub fn wilson(hits: u64, count: u64, confidence: f64) -> [f64; 2] {
    within(hits, count, confidence, |x, n, tail| {
        let z = -normal::quantile(tail);
        // Both ends solve n (p̂ − p)² = z² p (1 − p); written with misses as well, so neither end cancels.
        let misses = n - x;
        let half = z * (x * misses / n + 0.25 * z * z).sqrt();
        let low = x * x / n / (x + 0.5 * z * z + half);
        let high = 1.0 - misses * misses / n / (misses + 0.5 * z * z + half);
        [low, high]
    })
}

/// Exact interval of Clopper and Pearson [clopper-pearson-1934]: covers at least the confidence.
///
/// ```text
/// low  = the quantile of α/2 of the beta distribution (x, n − x + 1)
/// high = the quantile of 1 − α/2 of the beta distribution (x + 1, n − x)
/// ```
///
/// with x hits, the count n and α = 1 − confidence; 0 for no hits and 1 for no misses.
pub fn clopper_pearson(hits: u64, count: u64, confidence: f64) -> [f64; 2] {
    within(hits, count, confidence, |x, n, tail| {
        ends(x, n, tail, [x, n - x + 1.0], [x + 1.0, n - x])
    })
}

/// Interval of equal tails of the posterior from the prior of Jeffreys [brown-2001].
///
/// ```text
/// the quantiles of α/2 and 1 − α/2 of the beta distribution (x + ½, n − x + ½)
/// ```
///
/// with x hits, the count n and α = 1 − confidence; 0 for no hits and 1 for no misses.
pub fn jeffreys(hits: u64, count: u64, confidence: f64) -> [f64; 2] {
    within(hits, count, confidence, |x, n, tail| {
        let both = [x + 0.5, n - x + 0.5];
        ends(x, n, tail, both, both)
    })
}

fn within(hits: u64, count: u64, confidence: f64, interval: impl Fn(f64, f64, f64) -> [f64; 2]) -> [f64; 2] {
    if hits > count || !(confidence > 0.0 && confidence < 1.0) {
        return [f64::NAN; 2];
    }
    if count == 0 {
        return [0.0, 1.0];
    }
    interval(hits as f64, count as f64, 0.5 * (1.0 - confidence))
}

fn ends(x: f64, n: f64, tail: f64, [a, b]: [f64; 2], [c, d]: [f64; 2]) -> [f64; 2] {
    let low = if x == 0.0 { 0.0 } else { beta_quantile(a, b, tail) };
    // From the upper tail: the mirror image of the quantile of a small share.
    let high = if x == n {
        1.0
    } else {
        1.0 - beta_quantile(d, c, tail)
    };
    [low, high]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numerics::checks;

    /// Source: published worked examples (Newcombe 1998 and others) and a general library, in the checks.
    #[test]
    fn intervals_are_those_of_the_worked_examples() {
        let mut seen = 0;
        for file in checks::files("statistics") {
            let tolerance = file["statistics"]["proportion_ci_95"]["tol_abs"]
                .as_f64()
                .unwrap();
            for row in checks::rows(&file, &["statistics", "proportion_ci_95", "cases"]) {
                let (x, n) = (row["x"].as_u64().unwrap(), row["n"].as_u64().unwrap());
                for (name, got) in [
                    ("wilson", wilson(x, n, 0.95)),
                    ("clopper_pearson", clopper_pearson(x, n, 0.95)),
                    ("jeffreys", jeffreys(x, n, 0.95)),
                ] {
                    for (end, got) in got.into_iter().enumerate() {
                        let expected = row[name][end].as_f64().unwrap();
                        assert!(
                            (got - expected).abs() < tolerance,
                            "{name} {x}/{n}: {got} {expected}"
                        );
                    }
                    seen += 1;
                }
            }
        }
        assert!(seen > 0);
    }

    const ALL: [fn(u64, u64, f64) -> [f64; 2]; 3] = [wilson, clopper_pearson, jeffreys];

    #[test]
    fn misses_for_hits_mirror_the_interval() {
        for interval in ALL {
            for (x, n) in [(0, 5), (1, 1), (3, 11), (65000, 65536)] {
                let (a, b) = (interval(x, n, 0.9), interval(n - x, n, 0.9));
                assert!(
                    (a[0] + b[1] - 1.0).abs() < 1e-12 && (a[1] + b[0] - 1.0).abs() < 1e-12,
                    "{a:?} {b:?}"
                );
                assert!(0.0 <= a[0] && a[0] < a[1] && a[1] <= 1.0, "{a:?}");
            }
        }
    }

    #[test]
    fn more_confidence_widens_and_more_shots_narrow_it() {
        for interval in ALL {
            let width = |x, n, confidence| interval(x, n, confidence)[1] - interval(x, n, confidence)[0];
            assert!(width(7, 20, 0.99) > 1.2 * width(7, 20, 0.95));
            let ratio = width(70_000, 200_000, 0.95) / width(700, 2000, 0.95);
            assert!((ratio - 0.1).abs() < 0.002, "{ratio}");
        }
    }

    #[test]
    fn no_shots_say_nothing_and_impossible_counts_give_no_number() {
        for interval in ALL {
            assert_eq!(interval(0, 0, 0.95), [0.0, 1.0]);
            assert!(interval(3, 2, 0.95)[0].is_nan());
            assert!(
                [0.0, 1.0, -1.0, f64::NAN]
                    .iter()
                    .all(|&c| interval(1, 2, c)[1].is_nan())
            );
        }
    }
}
