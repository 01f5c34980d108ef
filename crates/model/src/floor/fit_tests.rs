//! Fits of the reference model against the logs of `checks`.

use serde_json::Value;

use super::m1_tests::{model, number, shot, vector};
use super::*;
use crate::numerics::checks::{files, rows};

pub(super) struct Log {
    pub(super) case: Value,
    pub(super) model: M1,
    pub(super) shots: Vec<M1Shot>,
    pub(super) posterior: Posterior,
}

pub(super) fn logs() -> Vec<Log> {
    let mut out = Vec::new();
    for file in files("statistics") {
        for case in rows(&file, &["shot_logs"]) {
            let (model, rule) = model(&case["constants"]);
            let shots: Vec<M1Shot> = rows(case, &["shots"]).iter().map(shot).collect();
            let prior = Prior {
                mean: vector(&case["prior"]["mean"]),
                sd: vector(&case["prior"]["sd"]),
            };
            let options = FitOptions {
                rule,
                ..FitOptions::default()
            };
            let posterior = fit_with(&model, &prior, &shots, &options).unwrap();
            out.push(Log {
                case: case.clone(),
                model,
                shots,
                posterior,
            });
        }
    }
    assert!(!out.is_empty());
    out
}

#[test]
fn logs_of_the_reference_model_are_fitted_as_published() {
    for log in logs() {
        let (id, expected, tol) = (&log.case["id"], &log.case["expected"], &log.case["tol"]);
        let p = &log.posterior;
        assert!(p.converged && p.definite, "{id}: {p:?}");
        let (map, se) = (vector(&expected["map"]), vector(&expected["se"]));
        for (j, (m, s)) in map.iter().zip(&se).enumerate() {
            let allowed = number(tol, "map_abs").max(number(tol, "map_in_se") * s);
            assert!(
                (p.mean[j] - m).abs() <= allowed,
                "{id} {j}: {} not {m}",
                p.mean[j]
            );
            assert!(
                (p.sd(j) / s - 1.0).abs() <= number(tol, "se_rel"),
                "{id} {j}: sd {} not {s}",
                p.sd(j)
            );
        }
        let j = number(expected, "neg_log_posterior");
        assert!(
            (p.neg_log_posterior - j).abs() <= number(tol, "neg_log_posterior_abs"),
            "{id}: {} not {j}",
            p.neg_log_posterior
        );
        for (a, b, key) in [(0, 1, "corr_lnk_lncd"), (0, 3, "corr_lnk_dtheta")] {
            assert!(
                (p.correlation_coeff(a, b) - number(expected, key)).abs() < 1e-3,
                "{id} {key}"
            );
        }
        assert!(
            (p.ln_covariance - number(expected, "log_det_cov")).abs() < 5e-3,
            "{id}: {}",
            p.ln_covariance
        );
        for (i, f) in vector(&expected["flyer_prob"]).iter().enumerate() {
            assert!(
                (p.flyer_frac[i] - f).abs() <= number(tol, "flyer_abs"),
                "{id} shot {i}"
            );
        }
    }
}
