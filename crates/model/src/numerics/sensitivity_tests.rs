use super::*;
use crate::numerics::{checks, normal};

fn each_alone(count: usize) -> Vec<Vec<usize>> {
    (0..count).map(|d| vec![d]).collect()
}

/// An evaluator of one output from a function of a point.
fn of_point(f: impl Fn(&[f64]) -> f64) -> impl Fn(&[Vec<f64>]) -> Vec<Vec<f64>> {
    move |columns| {
        let row = |i: usize| columns.iter().map(|column| column[i]).collect::<Vec<_>>();
        vec![(0..columns[0].len()).map(|i| f(&row(i))).collect()]
    }
}

fn assert_near(got: &[f64], expected: &[f64], tolerance: f64) {
    assert_eq!(got.len(), expected.len());
    for (a, b) in got.iter().zip(expected) {
        assert!((a - b).abs() < tolerance, "{got:?} instead of {expected:?}");
    }
}

fn numbers(value: &serde_json::Value) -> Vec<f64> {
    value
        .as_array()
        .unwrap()
        .iter()
        .map(|x| x.as_f64().unwrap())
        .collect()
}

/// Source: closed form of the function of Ishigami and Homma (1990), in the checks.
#[test]
fn the_ishigami_function_has_the_indices_of_its_closed_form() {
    let mut seen = 0;
    for file in checks::files("statistics") {
        let case = &file["statistics"]["sobol_ishigami"];
        if case.is_null() {
            continue;
        }
        let number = |key: &str| case[key].as_f64().unwrap();
        let (a, b) = (number("a"), number("b"));
        let f = |u: &[f64]| {
            let x = |d: usize| std::f64::consts::PI * (2.0 * u[d] - 1.0);
            x(0).sin() + a * x(1).sin().powi(2) + b * x(2).powi(4) * x(0).sin()
        };
        let got = &indices(&each_alone(3), 3, 8192, 8, 1, of_point(f))[0];
        let tolerance = number("tol_abs_N65536");
        assert_near(&got.first, &numbers(&case["S"]), tolerance);
        assert_near(&got.total, &numbers(&case["ST"]), tolerance);
        assert!((got.mean - number("mean")).abs() < 1e-3 && (got.variance / number("V") - 1.0).abs() < 1e-3);
        // The first and the third input act together: as a group they explain all but the second input.
        let pair = &indices(&[vec![0, 2], vec![1]], 3, 8192, 8, 1, of_point(f))[0];
        let rest = 1.0 - numbers(&case["S"])[1];
        assert_near(&[pair.first[0], pair.total[0]], &[rest, rest], tolerance);
        seen += 1;
    }
    assert!(seen > 0);
}

/// Sobol's g-function, the product of (|4u − 2| + a)/(1 + a): V_i = 1/(3(1 + a)²), V = Π(1 + V_i) − 1, and
/// S_i = V_i/V, T_i = V_i Π_(j≠i)(1 + V_j)/V (Saltelli et al. 2010).
#[test]
fn the_g_function_has_the_indices_of_its_closed_form() {
    let a = [0.0, 0.5, 3.0, 9.0, 99.0];
    let f = |u: &[f64]| {
        u.iter()
            .zip(a)
            .map(|(u, a)| ((4.0 * u - 2.0).abs() + a) / (1.0 + a))
            .product()
    };
    let got = &indices(&each_alone(5), 5, 4096, 8, 3, of_point(f))[0];
    let parts = a.map(|a| 1.0 / (3.0 * (1.0 + a) * (1.0 + a)));
    let product: f64 = parts.iter().map(|v| 1.0 + v).product();
    assert_near(&got.first, &parts.map(|v| v / (product - 1.0)), 0.004);
    assert_near(
        &got.total,
        &parts.map(|v| v * product / (1.0 + v) / (product - 1.0)),
        0.004,
    );
}

/// S_i = T_i = c_i² σ_i²/V.
#[test]
fn a_sum_of_normal_inputs_shares_its_variance_by_the_squares() {
    let spreads = [3.0, -2.0, 1.0, 0.0];
    let f = |u: &[f64]| u.iter().zip(spreads).map(|(u, c)| c * normal::quantile(*u)).sum();
    let got = &indices(&each_alone(4), 4, 1024, 8, 5, of_point(f))[0];
    let expected = spreads.map(|c| c * c / 14.0);
    assert_near(&got.first, &expected, 0.005);
    assert_near(&got.total, &expected, 0.005);
    assert_eq!((got.first[3], got.total[3]), (0.0, 0.0));
}

/// (u − ½)(v − ½): neither acts alone, S = 0 and T = 1, and the two as a group explain everything.
#[test]
fn a_pure_interaction_has_no_first_order_share() {
    let f = |u: &[f64]| (u[0] - 0.5) * (u[1] - 0.5);
    let groups = [vec![0], vec![1], vec![0, 1]];
    let got = &indices(&groups, 2, 4096, 8, 7, of_point(f))[0];
    assert_near(&got.first, &[0.0, 0.0, 1.0], 0.01);
    assert_near(&got.total, &[1.0; 3], 0.01);
}

/// The error that the spread of the replicates claims is the one there is: over 40 seeds its mean square ratio is near 1.
#[test]
fn standard_errors_match_the_errors_against_the_closed_form() {
    let f = |u: &[f64]| u[0] + 2.0 * u[0] * u[1];
    // V_1 = 1/3, V_2 = 1/12, V_12 = 1/36.
    let (first, total) = (3.0 / 4.0, 13.0 / 16.0);
    let mut squares = [0.0; 2];
    for seed in 0..40 {
        let got = &indices(&each_alone(2), 2, 128, 8, seed, of_point(f))[0];
        squares[0] += ((got.first[0] - first) / got.first_standard_errors[0]).powi(2) / 40.0;
        squares[1] += ((got.total[0] - total) / got.total_standard_errors[0]).powi(2) / 40.0;
    }
    assert!(squares.iter().all(|s| (0.4..2.6).contains(s)), "{squares:?}");
}

/// Rows without a value leave the function on the rest; here it does not depend on the input that decides.
#[test]
fn rows_without_a_value_are_left_out_of_everything_and_counted() {
    let f = |u: &[f64]| if u[2] < 0.25 { f64::NAN } else { u[0] + u[1] };
    let got = &indices(&each_alone(2), 3, 4096, 4, 9, of_point(f))[0];
    assert_near(&got.first, &[0.5; 2], 0.02);
    assert_eq!(got.used_count + got.dropped_count, 4 * 4096);
    // A row counts when the third input is above a quarter in both sets.
    assert!(
        (got.used_count as f64 / (4.0 * 4096.0) - 9.0 / 16.0).abs() < 0.005,
        "{}",
        got.used_count
    );
}

#[test]
fn each_output_has_its_own_indices() {
    let both = |columns: &[Vec<f64>]| vec![columns[0].clone(), columns[1].clone()];
    let got = indices(&each_alone(2), 2, 256, 2, 1, both);
    assert_eq!(got.len(), 2);
    assert_near(&got[0].total, &[1.0, 0.0], 0.02);
    assert_near(&got[1].total, &[0.0, 1.0], 0.02);
}

#[test]
fn more_inputs_than_the_sequence_has_dimensions_still_work() {
    let f = |u: &[f64]| u[0] + u[149];
    let got = &indices(
        &[vec![0], vec![149], (1..149).collect()],
        150,
        1024,
        4,
        1,
        of_point(f),
    )[0];
    assert_near(&got.total, &[0.5, 0.5, 0.0], 0.05);
}

#[test]
fn nothing_to_learn_from_gives_zeros_or_no_numbers_but_never_ends_the_program() {
    let constant = &indices(&each_alone(2), 2, 64, 2, 1, of_point(|_| 0.3))[0];
    assert_eq!(
        (constant.first.as_slice(), constant.total.as_slice()),
        (&[0.0, 0.0][..], &[0.0, 0.0][..])
    );
    let never = &indices(&each_alone(2), 2, 64, 2, 1, of_point(|_| f64::INFINITY))[0];
    assert!(never.first[0].is_nan() && never.mean.is_nan() && never.dropped_count == 128);
    let short = &indices(&each_alone(2), 2, 64, 1, 1, |columns| {
        vec![columns[0][..10].to_vec()]
    })[0];
    assert_eq!((short.used_count, short.dropped_count), (10, 54));
    assert!(short.first_standard_errors[0].is_nan());
    assert!(indices(&each_alone(2), 2, 64, 0, 1, of_point(|_| 1.0)).is_empty());
    assert!(indices(&[], 0, 64, 2, 1, |_| Vec::new()).is_empty());
    let beyond = &indices(&[vec![7]], 1, 64, 2, 1, of_point(|u| u[0]))[0];
    assert_eq!((beyond.first[0], beyond.total[0]), (0.0, 0.0));
}

#[test]
fn the_same_seed_gives_the_same_bits() {
    let run = |seed| indices(&each_alone(2), 2, 64, 2, seed, of_point(|u| u[0] * u[1]));
    assert_eq!(run(4), run(4));
    assert_ne!(run(4), run(5));
}
