//! The reference model and the likelihood against the cases of `checks`.

use serde_json::Value;

use super::m1_flight::Throw;
use super::*;
use crate::numerics::checks::{files, rows};

pub(super) fn number(v: &Value, key: &str) -> f64 {
    v[key]
        .as_f64()
        .unwrap_or_else(|| panic!("no number {key} in {v}"))
}

pub(super) fn model(c: &Value) -> (M1, Rule) {
    let n = |k: &str| number(c, k);
    let model = M1 {
        gravity_mps2: n("g"),
        air_pm: n("K"),
        wheel_radius_m: n("wheel_radius"),
        release_height_m: n("h0"),
        ring_height_m: n("z_ring"),
        inner_radius_m: n("r_in"),
        outer_radius_m: n("r_out"),
        tape_sd_m: n("sd_tape"),
        time_sd_s: n("sd_tof"),
        wall_sd_m: n("sd_wall"),
        wheel_sd_radps: n("sd_wheel"),
        eye_sd_m: n("sd_eye"),
    };
    let rule = Rule {
        flyer_frac: n("eps"),
        flyer_scale_ratio: n("flyer_scale"),
        freedom_count: n("nu"),
    };
    (model, rule)
}

pub(super) fn shot(s: &Value) -> M1Shot {
    let some = |k: &str| s.get(k).filter(|v| !v.is_null());
    M1Shot {
        wheel_radps: number(s, "omega"),
        angle_rad: number(s, "theta_cmd"),
        distance_m: number(s, "target_d"),
        aim_rad: number(s, "psi_aim"),
        landing: some("land").map(|l| Landing {
            along_m: number(l, "x"),
            across_m: number(l, "y"),
            height_m: number(l, "z_plane"),
        }),
        fall: some("tof").map(|f| TimedFall {
            time_s: number(f, "t"),
            height_m: number(f, "z_plane"),
        }),
        wall: some("wall").map(|w| WallHeight {
            distance_m: number(w, "r"),
            height_m: number(w, "z"),
        }),
        after_radps: some("wheel_after").and_then(Value::as_f64),
        miss_m: some("eye").map(|e| [number(e, "dx"), number(e, "dy")]),
        zone: some("class").map(|c| match c.as_str().unwrap() {
            "short" => Zone::Short,
            "long" => Zone::Long,
            "left" => Zone::Left,
            "right" => Zone::Right,
            "rim" => Zone::Rim,
            "in" => Zone::In,
            other => panic!("zone {other}"),
        }),
    }
}

pub(super) fn vector(v: &Value) -> Vec<f64> {
    v.as_array()
        .unwrap()
        .iter()
        .map(|x| x.as_f64().unwrap())
        .collect()
}

#[test]
fn flights_of_the_reference_model_meet_the_published_crossings() {
    let mut seen = 0;
    for file in files("statistics") {
        let tolerance = file["forward"]["tol_abs"].as_f64().unwrap_or(0.0);
        for c in rows(&file, &["forward", "cases"]) {
            let n = |k: &str| number(c, k);
            let throw = Throw {
                speed_mps: n("v0"),
                angle_rad: n("theta"),
                height_m: n("h0"),
                gravity_mps2: n("g"),
                air_pm: n("K"),
                drag_coeff: n("cd"),
                lift_coeff: n("cl"),
            };
            let track = throw.track(n("z_plane"), n("r_wall")).unwrap();
            let met = track.down_through(n("z_plane")).unwrap();
            let wall = track.height_at(n("r_wall")).unwrap();
            for (got, key) in [
                (met.along.value, "r_cross"),
                (met.time.value, "t_cross"),
                (wall.value, "z_wall"),
            ] {
                assert!((got - n(key)).abs() <= tolerance, "{c}: {key} {got}");
            }
            seen += 1;
        }
    }
    assert!(seen > 0);
}

#[test]
fn derivatives_of_a_flight_are_those_of_differences() {
    let throw = |lnv: f64, dth: f64| Throw {
        speed_mps: 8.3 * lnv.exp(),
        angle_rad: 1.0 + dth,
        height_m: 0.6,
        gravity_mps2: 9.81,
        air_pm: 0.053,
        drag_coeff: 0.5,
        lift_coeff: 0.2,
    };
    let all = |lnv: f64, dth: f64, plane: f64| {
        let track = throw(lnv, dth).track(plane.min(0.1), 3.0).unwrap();
        let met = track.down_through(plane).unwrap();
        [met.along, met.time, track.height_at(3.0).unwrap()]
    };
    // A floor, a ring, and a plane above the apex.
    for plane in [0.1, 2.2, 4.0] {
        let mid = all(0.0, 0.0, plane);
        let h = 1e-4;
        for (i, jet) in mid.iter().enumerate() {
            let by_v = (all(h, 0.0, plane)[i].value - all(-h, 0.0, plane)[i].value) / (2.0 * h);
            let by_th = (all(0.0, h, plane)[i].value - all(0.0, -h, plane)[i].value) / (2.0 * h);
            assert!((jet.by[0] - by_v).abs() < 1e-5, "{plane} {i} {jet:?} {by_v}");
            assert!((jet.by[1] - by_th).abs() < 1e-5, "{plane} {i} {jet:?} {by_th}");
        }
    }
}

#[test]
fn likelihoods_of_one_shot_are_the_published_ones() {
    let mut seen = 0;
    for file in files("statistics") {
        let group = &file["single_shot_likelihood"];
        let Some(beta) = group.get("beta").map(vector) else {
            continue;
        };
        let tolerance = number(group, "tol_abs");
        let (model, rule) = model(&group["constants"]);
        for c in rows(&file, &["single_shot_likelihood", "cases"]) {
            let prediction = model.predict(&beta, &shot(&c["shot"])).unwrap();
            let student = Rule {
                freedom_count: 4.0,
                ..rule
            };
            for (key, rule) in [("neg_log_lik", rule), ("neg_log_lik_student_nu4", student)] {
                let got = term(&prediction, &rule).unwrap().neg_log;
                assert!(
                    (got - number(c, key)).abs() <= tolerance,
                    "{}: {key} {got}",
                    c["name"]
                );
            }
            seen += 1;
        }
    }
    assert!(seen > 0);
}
