//! The reference flights of the checks folder: integrated independently (an adaptive method of
//! order eight at 1e-12 with polished events, confirmed by a fixed-step method of order four).

use super::*;
use crate::numerics::checks::{files, rows};
use crate::numerics::vector::{dot, norm};
use serde_json::Value;

fn number(value: &Value, key: &str) -> f64 {
    value
        .get(key)
        .and_then(Value::as_f64)
        .unwrap_or_else(|| panic!("{key} is missing in {value}"))
}

fn optional(value: &Value, key: &str, default: f64) -> f64 {
    value.get(key).and_then(Value::as_f64).unwrap_or(default)
}

fn vector(value: &Value, key: &str) -> [f64; 3] {
    std::array::from_fn(|i| {
        value[key][i]
            .as_f64()
            .unwrap_or_else(|| panic!("{key} is missing in {value}"))
    })
}

fn model(value: &Value) -> &str {
    value["model"].as_str().unwrap_or("none")
}

fn drag(value: &Value) -> Drag {
    let law = match model(value) {
        "none" => DragLaw::None,
        "constant" => DragLaw::Constant {
            drag_coeff: number(value, "cd"),
        },
        "clift_gauvin" => DragLaw::CliftGauvin,
        "brown_lawler" => DragLaw::BrownLawler,
        "haider_levenspiel" => DragLaw::HaiderLevenspiel,
        "morrison" => DragLaw::Morrison,
        "logistic" => DragLaw::Logistic {
            low_re_coeff: number(value, "cd_low_re"),
            high_re_coeff: number(value, "cd_high_re"),
            critical_re_count: number(value, "re_crit"),
            width_ratio: number(value, "width"),
        },
        other => panic!("unknown drag model {other}"),
    };
    Drag {
        law,
        scale_ratio: optional(value, "scale", 1.0),
    }
}

fn lift(value: &Value) -> Lift {
    match model(value) {
        "none" => Lift::None,
        "linear" => Lift::Linear {
            slope_coeff: number(value, "slope"),
        },
        "bilinear" => Lift::Bilinear,
        "saturating" => Lift::Saturating {
            a_coeff: number(value, "a"),
            b_coeff: number(value, "b"),
            scale_ratio: optional(value, "scale", 1.0),
        },
        other => panic!("unknown lift model {other}"),
    }
}

fn spin_decay(value: &Value) -> SpinDecay {
    match model(value) {
        "none" => SpinDecay::None,
        "time_constant" => SpinDecay::TimeConstant {
            tau_s: number(value, "tau"),
        },
        "aero" => SpinDecay::Aero {
            torque_coeff: number(value, "ct"),
        },
        other => panic!("unknown spin decay model {other}"),
    }
}

pub(crate) struct Case {
    pub(crate) id: String,
    pub(crate) ball: Ball,
    pub(crate) medium: Medium,
    pub(crate) start: State,
    pub(crate) plane: Plane,
    pub(crate) until: Until,
    landing_height_m: f64,
    outputs: Value,
    tolerance: f64,
    tolerance_derivatives: f64,
}

pub(crate) fn cases() -> Vec<Case> {
    let mut cases = Vec::new();
    for file in files("flight") {
        let tolerance = &file["tolerance"];
        for row in rows(&file, &["flight"]) {
            let inputs = &row["inputs"];
            let (ball, air, initial) = (&inputs["ball"], &inputs["air"], &inputs["initial"]);
            cases.push(Case {
                id: row["id"].as_str().unwrap_or("?").to_owned(),
                ball: Ball {
                    mass_kg: number(ball, "mass"),
                    diameter_m: number(ball, "diameter"),
                    inertia_coeff: number(ball, "inertia_factor"),
                    drag: drag(&inputs["drag"]),
                    lift: lift(&inputs["lift"]),
                    spin_decay: spin_decay(&inputs["spin_decay"]),
                    buoyancy: inputs["buoyancy"].as_bool().unwrap_or(false),
                    added_mass_coeff: optional(inputs, "added_mass_coeff", 0.0),
                },
                medium: Medium {
                    density_kgpm3: number(air, "density"),
                    viscosity_pas: number(air, "viscosity"),
                    wind_mps: vector(inputs, "wind"),
                    gravity_mps2: number(inputs, "g"),
                },
                start: State {
                    time_s: 0.0,
                    position_m: vector(initial, "position"),
                    velocity_mps: vector(initial, "velocity"),
                    spin_radps: vector(initial, "spin"),
                },
                plane: Plane {
                    point_m: vector(&inputs["target_plane"], "point"),
                    normal: vector(&inputs["target_plane"], "normal"),
                },
                until: Until {
                    time_s: 20.0,
                    floor_m: number(inputs, "landing_height") - 100.0,
                },
                landing_height_m: number(inputs, "landing_height"),
                outputs: row["outputs"].clone(),
                tolerance: number(tolerance, "default"),
                tolerance_derivatives: number(tolerance, "derivatives"),
            });
        }
    }
    assert!(!cases.is_empty(), "no flight cases were found");
    cases
}

/// Collects every disagreement, so that one run shows them all.
struct Report {
    faults: Vec<String>,
    compared: usize,
}

impl Report {
    fn number(&mut self, name: &str, found: f64, wanted: f64, tolerance: f64) {
        self.compared += 1;
        let error = (found - wanted).abs();
        if error.is_nan() || error > tolerance * wanted.abs().max(1.0) {
            self.faults
                .push(format!("{name}: {found:e}, not {wanted:e} (off by {error:e})"));
        }
    }

    fn event(&mut self, case: &Case, name: &str, found: Option<State>) {
        let name = format!("{} {name}", case.id);
        let wanted = &case.outputs[name.split(' ').next_back().unwrap_or("")];
        let (state, wanted) = match (found, wanted.is_null()) {
            (None, true) => return self.compared += 1,
            (Some(state), false) => (state, wanted),
            (found, _) => return self.faults.push(format!("{name}: {found:?}, not {wanted}")),
        };
        let velocity = state.velocity_mps;
        let speed = norm(velocity);
        let mut check = |key: &str, found: &[f64], tolerance: f64| {
            let wanted = match &wanted[key] {
                Value::Null => return,
                Value::Array(list) => list.iter().map(|x| x.as_f64().unwrap()).collect(),
                single => vec![single.as_f64().unwrap()],
            };
            assert_eq!(found.len(), wanted.len(), "{name} {key}");
            for (i, (found, wanted)) in found.iter().zip(wanted).enumerate() {
                self.number(&format!("{name} {key} {i}"), *found, wanted, tolerance);
            }
        };
        let t = case.tolerance;
        check("time", &[state.time_s], t);
        check("position", &state.position_m, t);
        check("velocity", &velocity, t);
        check("spin", &state.spin_radps, t);
        check("speed", &[speed], t);
        check(
            "elevation_angle",
            &[velocity[2].atan2(velocity[0].hypot(velocity[1]))],
            t,
        );
        let n = case.plane.normal;
        check(
            "angle_to_normal",
            &[(dot(velocity, n) / (speed * norm(n))).acos()],
            t,
        );
        check("reynolds", &[reynolds(&case.ball, &case.medium, &state)], t);
        check(
            "spin_parameter",
            &[spin_parameter(&case.ball, &case.medium, &state)],
            t,
        );
        let (ball, medium, start) = (&case.ball, &case.medium, &case.start);
        for key in ["dposition_dspeed", "dposition_delevation"] {
            if wanted.get(key).is_some_and(|w| !w.is_null()) {
                let derivative = if key == "dposition_dspeed" {
                    dposition_dspeed
                } else {
                    dposition_delevation
                };
                match derivative(ball, medium, start, &case.plane, &case.until) {
                    Some(found) => check(key, &found, case.tolerance_derivatives),
                    None => panic!("{name} {key} is missing"),
                }
            }
        }
    }
}

#[test]
fn every_reference_flight_is_met_at_its_tolerance() {
    let mut report = Report {
        faults: Vec::new(),
        compared: 0,
    };
    for case in cases() {
        let path = fly(&case.ball, &case.medium, &case.start, &case.until);
        report.event(&case, "target", path.crossing(&case.plane));
        report.event(&case, "apex", path.apex());
        report.event(&case, "landing", path.landing(case.landing_height_m));
    }
    assert!(report.faults.is_empty(), "{}", report.faults.join("\n"));
    assert!(
        report.compared > 100,
        "only {} numbers were compared",
        report.compared
    );
}

#[test]
fn quick_flights_land_within_a_tenth_of_a_micrometre_of_tight_ones() {
    for case in cases() {
        let crossing = |accuracy| {
            let path = fly_to_accuracy(&case.ball, &case.medium, &case.start, &case.until, accuracy);
            (
                path.crossing(&case.plane).map(|s| s.position_m),
                path.landing(case.landing_height_m).map(|s| s.position_m),
            )
        };
        let (quick, tight) = (crossing(Accuracy::Quick), crossing(Accuracy::Tight));
        for (quick, tight) in [(quick.0, tight.0), (quick.1, tight.1)] {
            let (Some(quick), Some(tight)) = (quick, tight) else {
                assert_eq!(quick, tight);
                continue;
            };
            let error = norm(std::array::from_fn(|i| quick[i] - tight[i]));
            assert!(error < 1e-7, "{}: {error:e} m", case.id);
        }
    }
}

/// Target crossings of the reference flights as printed in the derivation, ten digits.
#[test]
fn the_printed_table_of_target_crossings_is_met() {
    let table = [
        ("FV01", 0.7748652425, [4.0, 0.0, 3.268556538]),
        ("FV02", 0.8533669342, [4.5, 0.0, 2.579759603]),
        ("FV03", 0.8006720271, [4.0, 0.0, 2.381653506]),
        ("FV04", 0.6345033381, [5.0, 0.0, 2.895058325]),
        ("FV05", 0.8946833856, [4.5, 0.0, 2.472311424]),
        ("FV06", 1.0650203653, [4.5, 0.0, 2.391932670]),
        ("FV07", 0.9161267904, [7.0, 0.0, 5.613993295]),
        ("FV08", 0.9550923937, [5.0, -0.021795836, 3.112208278]),
        ("FV09", 0.9069509434, [5.0, 0.246584470, 3.552275377]),
        ("FV10", 1.4435945825, [2.5, 0.0, 1.872260656]),
        ("FV11", 1.6133293436, [9.913385363, 0.0, 2.5]),
        ("FV12", 1.0760132435, [8.681607627, 0.268910602, 5.575476836]),
    ];
    let cases = cases();
    for (id, time_s, position_m) in table {
        let case = cases.iter().find(|c| c.id == id).unwrap();
        let state = fly(&case.ball, &case.medium, &case.start, &case.until)
            .crossing(&case.plane)
            .unwrap();
        assert!((state.time_s - time_s).abs() <= 0.6e-10, "{id}");
        for (found, wanted) in state.position_m.iter().zip(position_m) {
            assert!((found - wanted).abs() <= 0.6e-9, "{id}: {found}, not {wanted}");
        }
    }
}
