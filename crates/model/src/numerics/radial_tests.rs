use super::*;
use crate::numerics::checks;
use serde_json::Value;

fn number(value: &Value, key: &str) -> f64 {
    value[key].as_f64().unwrap()
}

fn pair(value: &Value) -> [f64; 2] {
    [0, 1].map(|i| value[i].as_f64().unwrap())
}

/// Source: chi-square quantiles and gamma function of a general library, in the checks.
#[test]
fn circular_scatter_of_measured_points_is_that_of_the_checks() {
    let mut seen = 0;
    for file in checks::files("statistics") {
        let case = &file["statistics"]["rayleigh"];
        let points: Vec<[f64; 2]> = checks::rows(case, &["xy"]).iter().map(pair).collect();
        for (name, centre) in [("unknown_center", None), ("known_center_origin", Some([0.0; 2]))] {
            let expected = &case[name];
            let got = circular_scatter(&points, centre, 0.95).unwrap();
            assert_eq!(got.count as u64, expected["n"].as_u64().unwrap());
            assert_eq!(got.degrees_of_freedom as u64, expected["nu"].as_u64().unwrap());
            let ([ci, cep_ci], tolerance) = (
                [&expected["ci"], &expected["cep_ci"]].map(pair),
                number(case, "tol_rel"),
            );
            for (got, expected) in [
                (got.sum_of_squares, number(expected, "q")),
                (got.sigma_rms, number(expected, "sigma_rms")),
                (got.sigma, number(expected, "sigma_unbiased")),
                (got.sigma_interval[0], ci[0]),
                (got.sigma_interval[1], ci[1]),
                (got.r50, number(expected, "cep")),
                (got.r50_interval[0], cep_ci[0]),
                (got.r50_interval[1], cep_ci[1]),
                (got.r90, number(expected, "r90")),
                (got.r95, number(expected, "r95")),
                (got.mean_radius, number(expected, "mean_radius")),
            ] {
                assert!(
                    (got / expected - 1.0).abs() < tolerance,
                    "{name}: {got} {expected}"
                );
                seen += 1;
            }
        }
    }
    assert!(seen > 0);
}

/// Source: two-dimensional integration by a general library, in the checks.
#[test]
fn shares_in_a_circle_are_those_of_the_checks() {
    let mut seen = 0;
    for file in checks::files("statistics") {
        let tolerance = number(&file["statistics"]["hit_circle"], "tol_abs");
        for row in checks::rows(&file, &["statistics", "hit_circle", "cases"]) {
            let n = |key| number(row, key);
            let got = hit_circle(n("R"), [n("mx"), n("my")], [n("sx"), n("sy")]);
            assert!((got - n("p")).abs() < tolerance, "{row}: {got}");
            seen += 1;
        }
    }
    assert!(seen > 0);
}

/// Source: as above.
#[test]
fn circular_errors_are_those_of_the_checks() {
    let mut seen = 0;
    for file in checks::files("statistics") {
        let tolerance = number(&file["statistics"]["cep"], "tol_rel");
        for row in checks::rows(&file, &["statistics", "cep", "cases"]) {
            let got = circular_error(number(row, "sx"), number(row, "sy"), number(row, "p")).unwrap();
            assert!((got / number(row, "R") - 1.0).abs() < tolerance, "{row}: {got}");
            seen += 1;
        }
    }
    assert!(seen > 0);
}

/// The Rayleigh distribution in closed form, and the line that an ellipse without width is.
#[test]
fn round_and_flat_scatter_follow_their_closed_forms() {
    for r in [1e-3_f64, 0.3, 1.0, 4.0, 30.0] {
        let round = 1.0 - (-0.5 * r * r / 0.49).exp();
        assert!((hit_circle(r, [0.0; 2], [0.7; 2]) - round).abs() < 1e-12, "{r}");
        let flat = 1.0 - 2.0 * normal::cdf(-r);
        for narrow in [0.0, 1e-12] {
            assert!(
                (hit_circle(r, [0.0; 2], [1.0, narrow]) - flat).abs() < 1e-11,
                "{r} {narrow}"
            );
        }
    }
    for share in [0.01, 0.5, 0.999] {
        let round = circular_error(2.0, 2.0, share).unwrap();
        assert!(
            (round / rayleigh_quantile(2.0, share) - 1.0).abs() < 1e-10,
            "{share}"
        );
        for narrow in [0.0, 1e-9] {
            let flat = circular_error(narrow, 2.0, share).unwrap();
            assert!(
                (flat / (-2.0 * normal::quantile(0.5 - 0.5 * share)) - 1.0).abs() < 1e-8,
                "{share} {narrow}"
            );
        }
    }
}

/// Source: scipy 1.17 `quad` over the chord and, for the round case, the noncentral chi-square distribution `ncx2.cdf` (2 degrees
/// of freedom).
#[test]
fn a_mean_off_the_circle_and_spreads_of_any_ratio_agree_with_a_general_library() {
    let cases: [(f64, [f64; 2], [f64; 2], f64); 4] = [
        (0.4, [0.3, -0.4], [0.2, 0.2], 0.23212972590194852),
        (0.325, [0.2, 0.3], [0.15, 0.04], 0.26538644127141875),
        (1.0, [1.5, 0.2], [0.3, 0.9], 0.01675049469437999),
        (2.0, [-1.0, 0.5], [0.02, 0.9], 0.9078724392437991),
    ];
    for (radius, mean, sd, expected) in cases {
        let got = hit_circle(radius, mean, sd);
        assert!(
            (got - expected).abs() < 1e-10,
            "{mean:?} {sd:?}: {got} {expected}"
        );
        // The axes may change places, and the mean its sign.
        let turned = hit_circle(radius, [-mean[1], mean[0]], [sd[1], sd[0]]);
        assert!((got - turned).abs() < 1e-12, "{got} {turned}");
    }
}

#[test]
fn a_tiny_spread_is_all_in_or_all_out_and_half_on_the_edge() {
    for s in [1e-4, 1e-9, 1e-11] {
        assert!((hit_circle(1.0, [0.5, 0.5], [s, s]) - 1.0).abs() < 1e-10, "{s}");
        assert!(hit_circle(1.0, [0.9, 0.9], [s, s]) < 1e-10, "{s}");
        let edge = hit_circle(1.0, [1.0, 0.0], [s, 0.1 * s]);
        assert!((edge - 0.5).abs() < 1e-4, "{s}: {edge}");
    }
    for s in [0.0, 1e-15] {
        assert_eq!(hit_circle(1.0, [0.5, 0.5], [s; 2]), 1.0);
        assert_eq!(hit_circle(1.0, [0.9, 0.9], [s; 2]), 0.0);
    }
    assert_eq!(hit_circle(1.0, [0.0, 1.5], [2.0, 0.0]), 0.0);
    assert_eq!(hit_circle(1.0, [1.5, 0.0], [0.0, 0.0]), 0.0);
}

#[test]
fn bad_figures_give_no_number() {
    assert_eq!(
        (
            hit_circle(0.0, [0.0; 2], [1.0; 2]),
            hit_circle(f64::INFINITY, [0.0; 2], [1.0; 2])
        ),
        (0.0, 1.0)
    );
    assert!(hit_circle(f64::NAN, [0.0; 2], [1.0; 2]).is_nan());
    assert!(hit_circle(1.0, [f64::INFINITY, 0.0], [1.0; 2]).is_nan());
    assert!(hit_circle(1.0, [0.0; 2], [1.0, -1.0]).is_nan());
    assert!((0.0..=1.0).contains(&hit_circle(1.0, [1e300, -1e300], [1e300, 1e-300])));
    assert!((0.0..=1e-9).contains(&hit_circle(1.0, [0.0; 2], [f64::INFINITY; 2])));
    for (x, y, share) in [
        (0.0, 0.0, 0.5),
        (-1.0, 1.0, 0.5),
        (f64::NAN, 1.0, 0.5),
        (1.0, f64::NAN, 0.5),
    ] {
        assert!(circular_error(x, y, share).is_none());
    }
    assert!(
        [0.0, 1.0, f64::NAN]
            .iter()
            .all(|&share| circular_error(1.0, 1.0, share).is_none())
    );
    assert!(circular_error(f64::INFINITY, 1.0, 0.5).is_none());
    let points = [[0.0, 1.0], [1.0, 0.0]];
    assert!(
        circular_scatter(&points[..1], None, 0.95).is_none()
            && circular_scatter(&[], Some([0.0; 2]), 0.95).is_none()
    );
    assert!(
        circular_scatter(&points, None, 1.0).is_none()
            && circular_scatter(&[[f64::NAN; 2]; 2], None, 0.9).is_none()
    );
    assert!(circular_scatter(&points[..1], Some([0.0; 2]), 0.95).is_some());
}

/// Source: `numpy.quantile(radii, share, method="median_unbiased")`.
#[test]
fn quantiles_of_radii_are_those_of_a_general_library() {
    let radii = [0.31, 0.05, 0.22, 0.18, 0.27, 0.09, 0.4];
    for (share, expected) in [
        (0.03, 0.05),
        (0.5, 0.22),
        (0.63, 0.26766666666666666),
        (0.9, 0.394),
        (0.97, 0.4),
    ] {
        assert!(
            (quantile_of_radii(&radii, share).unwrap() - expected).abs() < 1e-15,
            "{share}"
        );
    }
    assert_eq!(quantile_of_radii(&radii, 0.0), Some(0.05));
    assert_eq!(quantile_of_radii(&[0.3], 0.5), Some(0.3));
    assert_eq!(quantile_of_radii(&[0.3, f64::INFINITY], 1.0), Some(f64::INFINITY));
    assert_eq!(quantile_of_radii(&[], 0.5), None);
    assert_eq!(quantile_of_radii(&[f64::NAN], 0.5), None);
    assert_eq!(quantile_of_radii(&radii, 1.5), None);
    assert_eq!(quantile_of_radii(&radii, f64::NAN), None);
}
