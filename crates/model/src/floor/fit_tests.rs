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

#[test]
fn setpoints_of_the_reference_model_are_the_published_ones() {
    for log in logs() {
        let tol = &log.case["tol"];
        for row in rows(&log.case, &["expected", "setpoints"]) {
            let n = |k: &str| number(row, k);
            let s = m1_setpoint(&log.model, &log.posterior, n("distance"), n("theta_cmd")).unwrap();
            let close = |got: f64, key: &str, allowed: f64| {
                assert!(
                    (got - n(key)).abs() <= allowed,
                    "{} {key}: {got} not {}",
                    log.case["id"],
                    n(key)
                );
            };
            close(s.wheel_radps, "omega", number(tol, "omega_rel") * n("omega"));
            close(
                s.wheel_sd_radps,
                "sd_omega",
                number(tol, "sd_omega_rel") * n("sd_omega"),
            );
            close(
                s.range_sd_m,
                "sd_range_m",
                number(tol, "sd_omega_rel") * n("sd_range_m"),
            );
            close(s.hit_frac, "hit_plugin", number(tol, "hit_abs"));
            close(s.expected_hit_frac, "hit_predictive", number(tol, "hit_abs"));
            for (got, key) in [
                (s.by_wheel_coeff, "dr_domega"),
                (s.by_angle_coeff, "dr_dtheta"),
                (s.along_scatter_m, "sd_shot_x"),
                (s.across_scatter_m, "sd_shot_y"),
                (s.half_radius_m, "cep_plugin"),
            ] {
                close(got, key, 2e-3 * n(key).abs());
            }
        }
    }
}

/// On simulated logs of this kind the published study found 600 to 1150 of 2000 draws effective, means
/// moved by at most 0.41 standard deviations and deviations between 0.97 and 1.25 of those fitted.
#[test]
fn weighted_draws_agree_with_the_normal_distribution_about_the_peak() {
    for log in logs() {
        let rule = model(&log.case["constants"]).1;
        let options = FitOptions {
            rule,
            ..FitOptions::default()
        };
        let w = importance(&log.model, &log.shots, &options, &log.posterior, 300, 11).unwrap();
        let id = &log.case["id"];
        assert!(w.effective_frac > 0.2, "{id}: {}", w.effective_frac);
        assert!((w.weight_frac.iter().sum::<f64>() - 1.0).abs() < 1e-12);
        for j in 0..9 {
            let [mean, sd] = w.moments(|b| b[j]);
            let shift = (mean - log.posterior.mean[j]) / log.posterior.sd(j);
            // 0.41, and three standard errors of sixty effective draws.
            assert!(shift.abs() < 0.41 + 0.4, "{id} {j}: {shift}");
            let ratio = sd / log.posterior.sd(j);
            assert!((0.65..1.65).contains(&ratio), "{id} {j}: {ratio}");
        }
    }
}
