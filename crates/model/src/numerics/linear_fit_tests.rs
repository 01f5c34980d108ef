use super::*;
use crate::numerics::checks;

fn numbers(value: &serde_json::Value) -> Vec<f64> {
    value
        .as_array()
        .unwrap()
        .iter()
        .map(|x| x.as_f64().unwrap())
        .collect()
}

fn assert_close(got: &[f64], expected: &[f64], relative: f64) {
    assert_eq!(got.len(), expected.len());
    for (got, expected) in got.iter().zip(expected) {
        let error = (got - expected).abs();
        assert!(error <= relative * expected.abs(), "{got} instead of {expected}");
    }
}

/// Source: NIST StRD, linear least squares, certified values (every `linear_…` set of the checks).
#[test]
fn straight_lines_have_the_certified_coefficients_and_errors() {
    let mut seen = 0;
    for file in checks::files("statistics") {
        let sets = file["nist"].as_object().unwrap();
        for (_, set) in sets.iter().filter(|(name, _)| name.starts_with("linear_")) {
            let (x, y, b) = (numbers(&set["x"]), numbers(&set["y"]), numbers(&set["b"]));
            let design: Vec<f64> = x
                .iter()
                .flat_map(|x| (0..b.len()).map(move |power| x.powi(power as i32)))
                .collect();
            let fit = least_squares(y.len(), b.len(), &design, &y).unwrap();
            let tolerance = set["tol_rel"].as_f64().unwrap();
            assert_close(&fit.coefficients, &b, tolerance);
            assert_close(&fit.standard_errors, &numbers(&set["se"]), tolerance);
            assert_close(
                &[fit.residual_sd],
                &[set["resid_sd"].as_f64().unwrap()],
                tolerance,
            );
            seen += 1;
        }
    }
    assert!(seen > 0);
}

/// Source: NIST StRD, Longley (1967), six nearly dependent columns. Data and certified values from memory; a
/// solution of the normal equations in 60 digits gives the same certified values.
const LONGLEY: [[f64; 7]; 16] = [
    [60323.0, 83.0, 234289.0, 2356.0, 1590.0, 107608.0, 1947.0],
    [61122.0, 88.5, 259426.0, 2325.0, 1456.0, 108632.0, 1948.0],
    [60171.0, 88.2, 258054.0, 3682.0, 1616.0, 109773.0, 1949.0],
    [61187.0, 89.5, 284599.0, 3351.0, 1650.0, 110929.0, 1950.0],
    [63221.0, 96.2, 328975.0, 2099.0, 3099.0, 112075.0, 1951.0],
    [63639.0, 98.1, 346999.0, 1932.0, 3594.0, 113270.0, 1952.0],
    [64989.0, 99.0, 365385.0, 1870.0, 3547.0, 115094.0, 1953.0],
    [63761.0, 100.0, 363112.0, 3578.0, 3350.0, 116219.0, 1954.0],
    [66019.0, 101.2, 397469.0, 2904.0, 3048.0, 117388.0, 1955.0],
    [67857.0, 104.6, 419180.0, 2822.0, 2857.0, 118734.0, 1956.0],
    [68169.0, 108.4, 442769.0, 2936.0, 2798.0, 120445.0, 1957.0],
    [66513.0, 110.8, 444546.0, 4681.0, 2637.0, 121950.0, 1958.0],
    [68655.0, 112.6, 482704.0, 3813.0, 2552.0, 123366.0, 1959.0],
    [69564.0, 114.2, 502601.0, 3931.0, 2514.0, 125368.0, 1960.0],
    [69331.0, 115.7, 518173.0, 4806.0, 2572.0, 127852.0, 1961.0],
    [70551.0, 116.9, 554894.0, 4007.0, 2827.0, 130081.0, 1962.0],
];

#[test]
fn nearly_dependent_columns_keep_seven_digits() {
    let y = LONGLEY.map(|row| row[0]);
    let design = LONGLEY.map(|row| [1.0, row[1], row[2], row[3], row[4], row[5], row[6]]);
    let fit = least_squares(16, 7, design.as_flattened(), &y).unwrap();
    let coefficients = [
        -3482258.63459582,
        15.0618722713733,
        -0.358191792925910e-1,
        -2.02022980381683,
        -1.03322686717359,
        -0.511041056535807e-1,
        1829.15146461355,
    ];
    let errors = [
        890420.383607373,
        84.9149257747669,
        0.334910077722432e-1,
        0.488399681651699,
        0.214274163161675,
        0.226073200069370,
        455.478499142212,
    ];
    assert_close(&fit.coefficients, &coefficients, 1e-7);
    assert_close(&fit.standard_errors, &errors, 1e-7);
    assert_close(&[fit.residual_sd], &[304.854073561965], 1e-9);
}

const PLANE: [[f64; 3]; 6] = [
    [1.0, 0.2, 1.1],
    [1.0, -0.4, 0.3],
    [1.0, 1.5, -0.7],
    [1.0, 0.9, 2.0],
    [1.0, -1.1, 0.4],
    [1.0, 0.3, -0.2],
];
const HEIGHTS: [f64; 6] = [1.0, 0.2, 3.1, 2.4, -0.9, 1.3];

#[test]
fn a_row_left_out_misses_its_own_value_by_the_residual_enlarged_by_leverage() {
    let all = least_squares(6, 3, PLANE.as_flattened(), &HEIGHTS).unwrap();
    for (left_out, expected) in all.leave_one_out_residuals().into_iter().enumerate() {
        let rest = |i: &usize| *i != left_out;
        let design: Vec<f64> = (0..6).filter(rest).flat_map(|i| PLANE[i]).collect();
        let target: Vec<f64> = (0..6).filter(rest).map(|i| HEIGHTS[i]).collect();
        let fit = least_squares(5, 3, &design, &target).unwrap();
        let there: f64 = fit
            .coefficients
            .iter()
            .zip(PLANE[left_out])
            .map(|(b, x)| b * x)
            .sum();
        assert!((HEIGHTS[left_out] - there - expected).abs() < 1e-13);
    }
}

#[test]
fn residuals_are_at_right_angles_to_each_column_and_leverages_add_up_to_the_columns() {
    let fit = least_squares(6, 3, PLANE.as_flattened(), &HEIGHTS).unwrap();
    for j in 0..3 {
        let along: f64 = PLANE.iter().zip(&fit.residuals).map(|(row, e)| row[j] * e).sum();
        assert!(along.abs() < 1e-14);
    }
    assert!((fit.leverages.iter().sum::<f64>() - 3.0).abs() < 1e-14);
    assert_eq!(fit.degrees_of_freedom, 3);
    for (row, (y, e)) in PLANE.iter().zip(HEIGHTS.iter().zip(&fit.residuals)) {
        let there: f64 = fit.coefficients.iter().zip(row).map(|(b, x)| b * x).sum();
        assert!((y - there - e).abs() < 1e-14);
    }
}

#[test]
fn a_whole_weight_acts_as_repeated_rows() {
    let weights = [1.0, 3.0, 2.0, 1.0, 4.0, 1.0];
    let weighted = weighted_least_squares(6, 3, PLANE.as_flattened(), &HEIGHTS, &weights).unwrap();
    let repeated = |i: usize| std::iter::repeat_n(i, weights[i] as usize);
    let order: Vec<usize> = (0..6).flat_map(repeated).collect();
    let design: Vec<f64> = order.iter().flat_map(|&i| PLANE[i]).collect();
    let target: Vec<f64> = order.iter().map(|&i| HEIGHTS[i]).collect();
    let plain = least_squares(order.len(), 3, &design, &target).unwrap();
    for (a, b) in weighted.coefficients.iter().zip(&plain.coefficients) {
        assert!((a - b).abs() < 1e-13);
    }
    assert!(weighted_least_squares(6, 3, PLANE.as_flattened(), &HEIGHTS, &[0.0; 6]).is_none());
    assert!(weighted_least_squares(6, 3, PLANE.as_flattened(), &HEIGHTS, &[f64::NAN; 6]).is_none());
    assert!(weighted_least_squares(6, 0, &[], &HEIGHTS, &[1.0; 6]).is_none());
}

#[test]
fn a_column_a_billion_times_larger_changes_nothing_else() {
    let plain = least_squares(6, 3, PLANE.as_flattened(), &HEIGHTS).unwrap();
    let large = PLANE.map(|row| [row[0], row[1] * 1e9, row[2]]);
    let fit = least_squares(6, 3, large.as_flattened(), &HEIGHTS).unwrap();
    assert!((fit.coefficients[1] * 1e9 - plain.coefficients[1]).abs() < 1e-14);
    assert!((fit.coefficients[2] - plain.coefficients[2]).abs() < 1e-14);
}

#[test]
fn one_design_serves_several_targets() {
    let qr = Qr::new(6, 3, PLANE.as_flattened()).unwrap();
    for target in [HEIGHTS, [0.0, 1.0, 0.0, 0.0, 2.0, 0.0]] {
        assert_eq!(
            qr.fit(&target),
            least_squares(6, 3, PLANE.as_flattened(), &target)
        );
    }
}

#[test]
fn as_many_columns_as_rows_leave_no_residual_and_no_error_estimate() {
    let fit = least_squares(3, 3, &PLANE.as_flattened()[..9], &HEIGHTS[..3]).unwrap();
    assert!(fit.residuals.iter().all(|e| e.abs() < 1e-14));
    assert!(fit.residual_sd.is_nan() && fit.standard_errors.iter().all(|e| e.is_nan()));
}

#[test]
fn a_design_that_settles_nothing_is_refused() {
    let twice = PLANE.map(|row| [row[0], row[1], 0.1 * row[1] - 3.0 * row[0]]);
    assert!(Qr::new(6, 3, twice.as_flattened()).is_none());
    assert!(Qr::new(6, 3, PLANE.map(|row| [row[0], 0.0, row[2]]).as_flattened()).is_none());
    assert!(Qr::new(6, 3, PLANE.map(|row| [row[0], f64::NAN, row[2]]).as_flattened()).is_none());
    assert!(
        Qr::new(
            6,
            3,
            PLANE.map(|row| [row[0], f64::INFINITY, row[2]]).as_flattened()
        )
        .is_none()
    );
    assert!(Qr::new(2, 3, &PLANE.as_flattened()[..6]).is_none());
    assert!(Qr::new(0, 0, &[]).is_none());
    assert!(Qr::new(6, 2, PLANE.as_flattened()).is_none());
    assert!(Qr::new(usize::MAX, 3, PLANE.as_flattened()).is_none());
    let qr = Qr::new(6, 3, PLANE.as_flattened()).unwrap();
    assert!(qr.fit(&HEIGHTS[..5]).is_none());
    assert!(qr.fit(&[f64::NAN; 6]).is_none());
}
