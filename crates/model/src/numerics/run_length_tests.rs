use super::*;
use crate::numerics::checks;
use crate::numerics::random::Stream;
use serde_json::Value;

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

/// Compares one quantity of every row of a table of the checks; the count of rows.
fn compare(table: &str, name: &str, of: impl Fn(&Value) -> f64) -> usize {
    let mut seen = 0;
    for file in checks::files("statistics") {
        for row in checks::rows(&file, &["statistics", table, "rows"]) {
            let (got, expected) = (of(row), number(&row[name]));
            let tolerance = number(&file["statistics"][table]["tol_rel"]);
            assert!(
                (got - expected).abs() <= tolerance * expected.abs(),
                "{table} {name} {row}: {got}"
            );
            seen += 1;
        }
    }
    seen
}

/// Source: tables in Montgomery, Introduction to Statistical Quality Control (ARL of the tabular CUSUM with k = 0.5).
#[test]
fn run_lengths_of_cumulated_sums_are_those_of_the_tables() {
    let seen = compare("cusum_arl_two_sided", "arl", |row| {
        cusum_run_length(number(&row["k"]), number(&row["h"]), number(&row["shift"]))
    });
    assert!(seen > 0);
}

/// Source: tables of Lucas and Saccucci 1990.
#[test]
fn run_lengths_of_weighted_averages_are_those_of_the_tables() {
    let seen = compare("ewma_arl_two_sided_asymptotic_limits", "arl", |row| {
        ewma_run_length(number(&row["lam"]), number(&row["L"]), number(&row["shift"]))
    });
    assert!(seen > 0);
}

/// Source: Markov chain of Brook and Evans 1972, solved outside, in the checks.
#[test]
fn run_lengths_on_hits_and_misses_are_those_of_the_markov_chain() {
    let seen = compare("bernoulli_cusum_arl_lattice", "arl", |row| {
        let m = bernoulli_lattice(number(&row["p0"]), number(&row["p1"])).unwrap();
        assert_eq!(u64::from(m), row["m"].as_u64().unwrap());
        bernoulli_run_length(number(&row["p"]), m, number(&row["h"]))
    });
    assert!(seen > 0);
}

/// Source: Box and Luceno 1997, exact values and closed approximation, in the checks.
#[test]
fn bounded_adjustment_costs_what_the_integral_equation_says() {
    let table = "bounded_adjustment";
    let b = |row: &Value| number(&row["L_over_lambda_sigma"]);
    let seen = compare(table, "AAI", |row| bounded_adjustment(b(row)).interval)
        + compare(table, "g", |row| bounded_adjustment(b(row)).excess)
        + compare(table, "AAI_boxluceno_approx", |row| {
            bounded_adjustment_approximate(b(row)).interval
        })
        + compare(table, "g_boxluceno_approx", |row| {
            bounded_adjustment_approximate(b(row)).excess
        });
    assert!(seen > 0);
}

/// Without memory the chart calls on one value alone: a known answer, 1/(2 Φ(−3)) = 370.4.
#[test]
fn charts_without_memory_run_as_long_as_single_values_do() {
    let expected = 1.0 / (2.0 * normal::cdf(-3.0));
    assert!((ewma_run_length(1.0, 3.0, 0.0) / expected - 1.0).abs() < 1e-9);
    let both = 1.0 / (2.0 * normal::cdf(-3.0));
    assert!((cusum_run_length(3.0, 0.0, 0.0) / both - 1.0).abs() < 1e-9);
    // A miss that weighs as much as the limit calls at once: mean 1/p.
    assert!((bernoulli_run_length(0.02, 6, 0.5) - 50.0).abs() < 1e-9);
    // Two misses in a row are needed when one hit undoes one miss: (1 + p)/p².
    assert!((bernoulli_run_length(0.3, 2, 1.0) - 1.3 / 0.09).abs() < 1e-9);
}

/// The chance of a call within n values against simulated charts that run both sides together.
#[test]
fn the_chance_of_a_call_within_a_session_is_that_of_simulated_charts() {
    let (runs, mut calls) = (20_000, [0_u32; 2]);
    for (case, (h, count)) in [(4.0, 40), (4.0, 10)].into_iter().enumerate() {
        let mut random = Stream::new(3, case as u64);
        for _ in 0..runs {
            let (mut up, mut down): (f64, f64) = (0.0, 0.0);
            for _ in 0..count {
                let z = random.normal();
                up = (up + z - 0.5).max(0.0);
                down = (down - z - 0.5).max(0.0);
                if up > h || down > h {
                    calls[case] += 1;
                    break;
                }
            }
        }
        let share = f64::from(calls[case]) / f64::from(runs);
        let got = cusum_alarm_within(0.5, h, 0.0, count);
        let three_sigma = 3.0 * (share * (1.0 - share) / f64::from(runs)).sqrt();
        assert!((got - share).abs() < three_sigma + 0.02 * share, "{got} {share}");
    }
}

/// Followed step by step, or by the share that it settles at; and the mean of the runs is the sum of the chances.
#[test]
fn the_chance_of_a_call_goes_on_smoothly_beyond_the_steps_that_are_followed() {
    let quiet = |count| 1.0 - cusum_alarm_within(0.5, 5.0, 0.0, count);
    // By the trapezoidal rule, which adds 1.5 % for this step.
    let sum = (0..6000).step_by(200).map(quiet).sum::<f64>() * 200.0 - 100.0;
    let run_length = cusum_run_length(0.5, 5.0, 0.0);
    assert!((sum / run_length - 1.015).abs() < 0.01, "{sum} {run_length}");
    assert!(cusum_alarm_within(0.5, 4.0, 0.0, u32::MAX) == 1.0);
}

#[test]
fn charts_that_are_none_have_no_run_length() {
    for bad in [f64::NAN, f64::INFINITY, -1.0] {
        assert!(cusum_run_length(0.5, bad, 0.0).is_nan());
        assert!(cusum_alarm_within(0.5, bad, 0.0, 10).is_nan());
        assert!(ewma_run_length(bad, 3.0, 0.0).is_nan());
        assert!(bounded_adjustment(bad).interval.is_nan());
        assert!(bernoulli_run_length(bad, 6, 3.0).is_nan());
        assert!(bernoulli_run_length(0.1, 6, bad).is_nan());
        assert!(bounded_adjustment_approximate(-1.0).excess.is_nan());
        assert!(bernoulli_lattice(bad, 0.5).is_none());
    }
    assert!(ewma_run_length(1e-9, 3.0, 0.0).is_nan());
    assert!(bernoulli_run_length(0.1, 0, 3.0).is_nan() && bernoulli_run_length(0.1, 100_000, 3.0).is_nan());
    assert_eq!(bernoulli_run_length(0.0, 6, 3.0), f64::INFINITY);
    assert_eq!(bernoulli_run_length(1.0, 6, 1.0), 2.0);
    assert_eq!(
        cusum_run_length(0.5, 12.0, -8.0),
        cusum_run_length(0.5, 12.0, 8.0)
    );
    assert_eq!(cusum_run_length(5.0, 20.0, 0.0), f64::INFINITY);
}
