//! Every numeric case of the machine files in `checks/`, dispatched by its function name. The source stands in each case.

#![allow(clippy::expect_used, clippy::unwrap_used, clippy::panic, clippy::print_stdout)]

use arcwright_model::launcher::battery::{battery_sag, brown_out};
use arcwright_model::launcher::controller::{
    SpeedPlant, averaged_gain_limit, droop, gain_limits, held_plant, one_pole, sensor_grain, simc_pi,
};
use arcwright_model::launcher::hazard::{coast_down, piece_energy};
use arcwright_model::launcher::identify::{identify_continuous, identify_sampled};
use arcwright_model::launcher::inertia::{
    HollowCylinder, SpokedWheel, hollow_cylinder, parallel_axis, reflected_rotors, spoked_wheel,
    stored_energy, train_inertia,
};
use arcwright_model::launcher::motor::{
    MotorConstants, Winding, motor_constants, motor_peaks, motor_point, winding_first_order,
    winding_heat_times,
};
use arcwright_model::launcher::sheet::{
    CurvedStrip, GuideLayout, cold_bend, cut_width, gauge_radius, guide_arc, metal_springback, offset_gap,
};
use arcwright_model::launcher::spin_up::{Shot, shot_recovery, spin_up, spin_up_time};
use arcwright_model::launcher::train::WheelTrain;
use arcwright_model::launcher::wheel_stress::{Disc, allowable_speed, ring_growth, rotating_disc, unbalance};
use arcwright_model::launcher::{Battery, Drive, MotorSheet, PartShape, TurningPart};
use serde_json::Value;

mod frame_answers;

/// Topics checked here, by the digit they start with.
const TOPICS: [char; 9] = ['1', '2', '3', '4', '5', '6', '7', '8', '9'];

/// How the case files write a value that does not exist (no steady state, out of reach).
const NONE: f64 = -1.0;

struct Inputs<'a>(&'a Value);

impl Inputs<'_> {
    fn n(&self, key: &str) -> f64 {
        self.0[key]
            .as_f64()
            .unwrap_or_else(|| panic!("input {key} is missing or no number"))
    }

    fn count(&self, key: &str) -> u32 {
        self.n(key) as u32
    }

    fn list(&self, key: &str) -> Vec<f64> {
        let values = self.0[key]
            .as_array()
            .unwrap_or_else(|| panic!("input {key} is missing or no list"));
        values.iter().map(|v| v.as_f64().expect("a number")).collect()
    }

    fn sheet(&self) -> MotorSheet {
        MotorSheet {
            nominal_v: self.n("V"),
            free_radps: self.n("w0"),
            free_a: self.n("I0"),
            stall_nm: self.n("Ts"),
            stall_a: self.n("Is"),
            rotor_kgm2: 0.0,
        }
    }

    /// A train whose motor sheet has the case's constants.
    fn train(&self, open_v: &str, motors: &str, limit_a: f64) -> WheelTrain {
        let (nominal_v, ohm, free_a) = (self.n(open_v), self.n("R"), self.n("I0"));
        let stall_a = nominal_v / ohm;
        let free_radps = (nominal_v - free_a * ohm) / self.n("kE");
        let stall_nm = self.n("kT") * (stall_a - free_a);
        let motor = MotorSheet {
            nominal_v,
            free_radps,
            free_a,
            stall_nm,
            stall_a,
            rotor_kgm2: 0.0,
        };
        WheelTrain {
            drive: Drive {
                motor,
                motor_count: self.count(motors),
                gear_ratio: self.n("G"),
                gear_efficiency_frac: self.n("eta"),
                limit_a,
            },
            inertia_kgm2: self.n("J"),
            shaft_count: 1,
        }
    }

    fn battery(&self) -> Battery {
        Battery {
            open_v: self.n("Voc"),
            resistance_ohm: self.n("Rb"),
            brown_out_v: 6.8,
        }
    }

    fn stiff_battery(&self) -> Battery {
        Battery {
            open_v: self.n("V"),
            resistance_ohm: 0.0,
            brown_out_v: 0.0,
        }
    }

    fn plant(&self) -> SpeedPlant {
        SpeedPlant {
            gain_radps_per_v: self.n("K"),
            tau_s: self.n("tau"),
        }
    }

    fn winding(&self, thermal_k_per_w: f64) -> Winding {
        Winding {
            resistance_ohm: self.n("R0"),
            alpha_per_k: self.n("alpha"),
            heat_capacity_j_per_k: self.n("Cth"),
            thermal_k_per_w,
        }
    }

    fn disc(&self) -> Disc {
        Disc {
            density_kgpm3: self.n("rho"),
            poisson_ratio: self.n("nu"),
            outer_m: self.n("ro"),
            bore_m: self.n("ri"),
        }
    }
}

type Named = Vec<(&'static str, f64)>;

/// What the model says, under the names of the case file; `None` for a function it does not know.
fn answer(function: &str, i: &Inputs) -> Option<Named> {
    motor_answer(function, i)
        .or_else(|| spin_answer(function, i))
        .or_else(|| loop_answer(function, i))
        .or_else(|| wheel_answer(function, i))
        .or_else(|| hazard_answer(function, i))
        .or_else(|| guide_answer(function, i))
        .or_else(|| frame_answers::answer(function, i))
}

fn motor_answer(function: &str, i: &Inputs) -> Option<Named> {
    Some(match function {
        "motor_constants" => {
            let m = motor_constants(&i.sheet());
            vec![
                ("R", m.resistance_ohm),
                ("kE", m.ke_v_per_radps),
                ("kT", m.kt_nm_per_a),
                ("tau_f", m.friction_nm),
                ("kappa", m.kappa_ratio),
            ]
        }
        "motor_point" => {
            let p = motor_point(&i.sheet(), i.n("Vapp"), i.n("w"));
            vec![
                ("I", p.current_a),
                ("tau", p.torque_nm),
                ("P_in", p.input_w),
                ("P_out", p.output_w),
                ("eta", p.efficiency_frac),
                ("P_cu", p.copper_w),
            ]
        }
        "motor_peaks" => {
            let p = motor_peaks(&i.sheet());
            vec![
                ("P_max", p.power_w),
                ("w_Pmax", p.power_radps),
                ("I_Pmax", p.power_a),
                ("I_eta", p.efficient_a),
                ("w_eta", p.efficient_radps),
                ("eta_ideal", p.efficiency_ideal_frac),
                ("eta_data", p.efficiency_frac),
            ]
        }
        "winding_heat_times" => {
            let t = winding_heat_times(&i.winding(f64::INFINITY), i.n("dT"), i.n("I"), i.n("V"));
            vec![
                ("t_constR", t.cold_resistance_s),
                ("t_constI", t.constant_current_s),
                ("t_constV", t.constant_voltage_s),
            ]
        }
        "winding_first_order" => {
            let h = winding_first_order(&i.winding(i.n("Rth")), i.n("I"), i.n("dTmax"));
            vec![
                ("th_ss", h.steady_rise_k.unwrap_or(NONE)),
                ("t_to_dTmax", h.time_s.unwrap_or(NONE)),
                ("I_runaway", h.runaway_a),
                ("I_cont", h.continuous_a),
            ]
        }
        "battery_sag" => {
            let motor = MotorConstants {
                resistance_ohm: i.n("R"),
                ke_v_per_radps: i.n("kE"),
                kt_nm_per_a: i.n("kE"),
                free_a: 0.0,
                friction_nm: 0.0,
                kappa_ratio: 1.0,
            };
            let sag = battery_sag(&i.battery(), &motor, i.n("w"), i.n("D"), i.count("n"));
            vec![
                ("V_batt", sag.battery_v),
                ("I_motor", sag.motor_a),
                ("I_batt", sag.battery_a),
            ]
        }
        "brownout" => {
            let b = brown_out(&Battery {
                brown_out_v: i.n("Vmin"),
                ..i.battery()
            });
            vec![
                ("I_brown", b.current_a),
                ("P_at_brown", b.power_w),
                ("P_max", b.peak_power_w),
                ("I_short", b.short_a),
            ]
        }
        _ => return None,
    })
}

fn spin_answer(function: &str, i: &Inputs) -> Option<Named> {
    Some(match function {
        "spinup" => {
            let up = spin_up(&i.train("V", "Nm", f64::INFINITY), &i.stiff_battery());
            let time_s = spin_up_time(&up, i.n("frac") * up.top_radps).unwrap_or(NONE);
            vec![
                ("B", up.drag_nms),
                ("tau", up.tau_s),
                ("w_ss", up.top_radps),
                ("t_frac", time_s),
                ("T0", up.start_nm),
            ]
        }
        "spinup_current_limited" => {
            let up = spin_up(&i.train("V", "Nm", i.n("I_lim")), &i.stiff_battery());
            let time_s = spin_up_time(&up, i.n("w_target")).unwrap_or(NONE);
            vec![
                ("w_knee", up.knee_radps),
                ("t_knee", up.knee_s),
                ("t_total", time_s),
            ]
        }
        "spinup_sag" => {
            let up = spin_up(&i.train("Voc", "n", f64::INFINITY), &i.battery());
            let time_s = spin_up_time(&up, i.n("frac") * up.top_radps).unwrap_or(NONE);
            vec![
                ("R_eff", up.effective_ohm),
                ("tau", up.tau_s),
                ("w_ss", up.top_radps),
                ("t_frac", time_s),
                ("I_batt_start", up.start_battery_a),
                ("V_batt_start", up.start_battery_v),
            ]
        }
        "shot_recovery" => {
            let shot = shot_recovery(&Shot {
                inertia_kgm2: i.n("J"),
                before_radps: i.n("w1"),
                taken_j: i.n("E_out"),
                tau_s: i.n("tau"),
                top_radps: i.n("w_ss"),
                band_frac: i.n("tol"),
            });
            let time_s = shot.recovery_s.unwrap_or(NONE);
            vec![
                ("w2", shot.after_radps),
                ("drop", shot.dip_frac),
                ("t_rec", time_s),
            ]
        }
        _ => return None,
    })
}

fn loop_answer(function: &str, i: &Inputs) -> Option<Named> {
    Some(match function {
        "discrete_p" => {
            let (held, limits) = (
                held_plant(&i.plant(), i.n("T")),
                gain_limits(&i.plant(), i.n("T")),
            );
            vec![
                ("a", held.keep_frac),
                ("b", held.gain_radps_per_v),
                ("Kp_max", limits.limit_vs),
                ("Kp_deadbeat", limits.deadbeat_vs),
                ("Kp_max_delay1", limits.limit_delayed_vs),
                ("Kp_crit_delay1", limits.critical_delayed_vs),
            ]
        }
        "p_loop_avg_crit" => {
            let limit = averaged_gain_limit(&i.plant(), i.n("T"), i.count("N"), i.n("d"));
            vec![("Kp_crit", limit.unwrap_or(NONE))]
        }
        "simc_pi" => {
            let gains = simc_pi(&i.plant(), i.n("theta"), i.n("tau_c"));
            vec![
                ("Kc", gains.kp_vs),
                ("tau_I", gains.integral_s),
                ("Ki", gains.ki_v),
            ]
        }
        "p_ff_droop" => {
            let plant = SpeedPlant {
                gain_radps_per_v: i.n("K"),
                tau_s: 1.0,
            };
            vec![("dw", droop(&plant, i.n("Kp"), i.n("V_dist")))]
        }
        "encoder" => {
            let grain = sensor_grain(i.n("counts"), i.n("T"), i.count("M"));
            let pole = one_pole(i.n("alpha"), i.n("T"));
            vec![
                ("dw_1count", grain.count_radps),
                ("dw_avgM", grain.averaged_radps),
                ("delay_iir", pole.delay_s),
                ("var_iir", pole.noise_ratio),
                ("delay_avgM", grain.average_delay_s),
                ("delay_total_avgM", grain.total_delay_s),
            ]
        }
        "regress_continuous" => {
            let got = identify_continuous(&i.list("V"), &i.list("w"), &i.list("dw")).expect("a usable log");
            vec![
                ("Vs", got.line.static_v),
                ("Kv", got.line.speed_v_per_radps),
                ("Ka", got.line.accel_v_per_radps2),
                ("tau", got.tau_s),
                ("rms", got.residual_rms),
            ]
        }
        "regress_discrete" => {
            let got = identify_sampled(&i.list("V"), &i.list("w"), i.n("T")).expect("a usable log");
            vec![
                ("a", got.keep_frac.unwrap_or(NONE)),
                ("Vs", got.line.static_v),
                ("Kv", got.line.speed_v_per_radps),
                ("Ka", got.line.accel_v_per_radps2),
                ("tau", got.tau_s),
            ]
        }
        _ => return None,
    })
}

fn wheel_answer(function: &str, i: &Inputs) -> Option<Named> {
    Some(match function {
        "annulus" => {
            let body = hollow_cylinder(&HollowCylinder {
                density_kgpm3: i.n("rho"),
                outer_m: i.n("ro"),
                inner_m: i.n("ri"),
                length_m: i.n("t"),
            });
            vec![
                ("m", body.mass_kg),
                ("J", body.axial_kgm2),
                (
                    "J_parallel",
                    parallel_axis(body.axial_kgm2, body.mass_kg, i.n("d_offset")),
                ),
                ("J_diametral", body.diametral_kgm2),
            ]
        }
        "spoked_wheel" => {
            let wheel = spoked_wheel(&SpokedWheel {
                density_kgpm3: i.n("rho"),
                outer_m: i.n("ro"),
                rim_inner_m: i.n("ri"),
                rim_width_m: i.n("width"),
                spoke_count: i.count("n"),
                spoke_m2: i.n("A_spoke"),
                hub_outer_m: i.n("rh"),
                bore_m: i.n("rb"),
                hub_width_m: i.n("w_hub"),
            });
            vec![
                ("m", wheel.mass_kg),
                ("J", wheel.axial_kgm2),
                ("rim_share", wheel.rim_frac),
            ]
        }
        "reflected" => {
            let motor = MotorSheet {
                nominal_v: 12.0,
                free_radps: 1.0,
                free_a: 0.0,
                stall_nm: 1.0,
                stall_a: 1.0,
                rotor_kgm2: i.n("J_rotor"),
            };
            let drive = Drive {
                motor,
                motor_count: i.count("Nm"),
                gear_ratio: i.n("G"),
                gear_efficiency_frac: 1.0,
                limit_a: f64::INFINITY,
            };
            let shape = PartShape::Known {
                inertia_kgm2: i.n("J_wheel"),
            };
            let total = train_inertia(
                &[TurningPart {
                    shape,
                    count: 1,
                    speed_ratio: 1.0,
                    material: None,
                }],
                &drive,
            );
            vec![
                ("J_total", total),
                ("E", stored_energy(total, i.n("w"))),
                ("rotor_share", reflected_rotors(&drive) / total),
            ]
        }
        "rotating_disc" => {
            let s = rotating_disc(&i.disc(), i.n("w"));
            vec![
                ("sigma_solid", s.solid_centre_pa),
                ("sigma_hoop_bore", s.bore_hoop_pa),
                ("sigma_r_max", s.radial_pa),
                ("sigma_hoop_rim", s.rim_hoop_pa),
                ("sigma_thin_ring", s.thin_ring_pa),
                ("v_tip", s.rim_mps),
            ]
        }
        "allowable_speed" => {
            let limit = allowable_speed(&i.disc(), i.n("sigma_allow"));
            let rpm = limit.speed_radps * 30.0 / std::f64::consts::PI;
            vec![
                ("w_allow", limit.speed_radps),
                ("rpm_allow", rpm),
                ("v_tip", limit.rim_mps),
            ]
        }
        "unbalance" => {
            // Grades are printed in mm/s.
            let u = unbalance(i.n("Gmm") / 1000.0, i.n("m"), i.n("w"), i.n("m_u"), i.n("r_u"));
            vec![
                ("e_per", u.permitted_m),
                ("U_per", u.permitted_kg_m),
                ("F_residual", u.permitted_n),
                ("F_unbalance", u.lump_n),
            ]
        }
        "ring_growth" => {
            let g = ring_growth(i.n("rho"), i.n("E"), i.n("r"), i.n("v"));
            vec![
                ("hoop_stress", g.hoop_pa),
                ("strain", g.strain_frac),
                ("dr", g.growth_m),
            ]
        }
        _ => return None,
    })
}

fn hazard_answer(function: &str, i: &Inputs) -> Option<Named> {
    Some(match function {
        "coast_down" => {
            let c = coast_down(i.n("J"), i.n("w"), i.n("tau_c"), i.n("b"));
            vec![
                ("E", c.energy_j),
                ("t_stop", c.stop_s),
                ("t_stop_coulomb_only", c.coulomb_stop_s),
            ]
        }
        "ball_energy" => {
            let e = piece_energy(i.n("m"), i.n("d"), i.n("v"));
            vec![
                ("KE", e.kinetic_j),
                ("area", e.area_m2),
                ("KE_per_area", e.per_area_jpm2),
                ("frac_of_2500", e.toy_limit_ratio),
                ("frac_of_1503", e.abrasion_ratio),
            ]
        }
        _ => return None,
    })
}

fn guide_answer(function: &str, i: &Inputs) -> Option<Named> {
    Some(match function {
        "cold_bend" => {
            let strip = CurvedStrip {
                thickness_m: i.n("t"),
                inside_radius_m: i.n("R"),
                width_m: i.n("width"),
                modulus_pa: i.n("E"),
                poisson_ratio: i.n("nu"),
            };
            let bend = cold_bend(&strip, i.n("k"));
            vec![
                ("R_min", bend.least_radius_m),
                ("strain", bend.strain_frac),
                ("sigma", bend.stress_pa),
                ("M_hold", bend.holding_nm),
                ("t_max", bend.thickest_m),
            ]
        }
        "guide_arc" => {
            let guide = GuideLayout {
                wheel_radius_m: i.n("r_w"),
                piece_m: i.n("d_ball"),
                squeeze_m: i.n("c"),
                wrap_rad: i.n("theta"),
                thickness_m: i.n("t"),
                neutral_frac: i.n("K"),
            };
            let arc = guide_arc(&guide, i.n("w"));
            vec![
                ("gap", arc.gap_m),
                ("R_guide", arc.guide_radius_m),
                ("L_inner", arc.inner_m),
                ("L_flat", arc.flat_m),
                ("L_outer", arc.outer_m),
                ("L_path", arc.path_m),
                ("v_ball", arc.piece_mps),
                ("spin", arc.spin_radps),
                ("wheel_turn", arc.wheel_turn_rad),
            ]
        }
        "template" => {
            let gauged = gauge_radius(i.n("chord"), i.n("sag"), i.n("dsag"));
            vec![("R", gauged.radius_m), ("dR", gauged.error_m)]
        }
        "guide_offset" => {
            let gap = offset_gap(i.n("R_guide"), i.n("r_w"), i.n("e"), i.n("phi"));
            vec![
                ("gap", gap.gap_m),
                ("gap_max", gap.widest_m),
                ("gap_min", gap.narrowest_m),
            ]
        }
        "kerf" => {
            let cut = cut_width(i.n("t_sheet"), i.n("clearance"), i.n("kerf_w"));
            vec![
                ("offset", cut.offset_m),
                ("slot_drawn_uncomp", cut.slot_drawn_m),
                ("slot_result_uncomp_if_nominal", cut.slot_uncorrected_m),
                ("tab_result_uncomp_if_nominal", cut.tab_uncorrected_m),
            ]
        }
        "springback_metal" => {
            let back = metal_springback(i.n("Ri"), i.n("t"), i.n("Y"), i.n("E"));
            vec![("Ri_over_Rf", back.formed_ratio), ("Rf", back.final_radius_m)]
        }
        _ => return None,
    })
}

/// Compares one case with the model; says each thing that is off.
fn faults(case: &Value) -> Vec<String> {
    let (id, function) = (
        case["id"].as_str().unwrap_or("?"),
        case["fn"].as_str().unwrap_or("?"),
    );
    let Some(got) = answer(function, &Inputs(&case["inputs"])) else {
        return vec![format!("{id}: no function of the model is tied to `{function}`")];
    };
    let (rel, abs) = (
        case["rel_tol"].as_f64().unwrap_or(0.0),
        case["abs_tol"].as_f64().unwrap_or(0.0),
    );
    let mut found = Vec::new();
    for (name, value) in case["expected"].as_object().expect("expected values") {
        let expected = value.as_f64().expect("a number");
        match got.iter().find(|(known, _)| known == name) {
            None => found.push(format!("{id}: `{function}` has no result `{name}`")),
            Some((_, got)) if (got - expected).abs() <= abs + rel * expected.abs() => {}
            Some((_, got)) => found.push(format!("{id}: {name} is {got}, expected {expected}")),
        }
    }
    found
}

#[test]
fn every_case_of_the_machine_files_is_met() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../checks");
    let mut found = Vec::new();
    let mut met = 0;
    let mut paths: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    paths.sort();
    for path in paths {
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if !(name.starts_with("machine") && name.ends_with(".json")) {
            continue;
        }
        let file: Value = serde_json::from_str(&std::fs::read_to_string(&path).unwrap()).unwrap();
        for case in file["checks"].as_array().expect("a list of checks") {
            let (topic, function) = (case["topic"].as_str().unwrap(), case["fn"].as_str().unwrap());
            if topic.starts_with(TOPICS) {
                found.extend(faults(case));
                met += 1;
            } else {
                found.push(format!(
                    "{}: unknown function `{function}` of topic `{topic}`",
                    case["id"]
                ));
            }
        }
    }
    println!("{met} cases compared");
    assert!(met > 0, "no machine file in {folder}");
    assert!(found.is_empty(), "{} faults:\n{}", found.len(), found.join("\n"));
}

/// The comparison itself must be able to fail.
#[test]
fn a_wrong_value_a_missing_result_and_an_unknown_function_are_each_a_fault() {
    let case = |function: &str, name: &str, value: f64| {
        serde_json::json!({
            "id": "X", "fn": function, "rel_tol": 1e-6, "abs_tol": 1e-12,
            "inputs": { "K": 50.0, "Kp": 0.06, "V_dist": 0.8 }, "expected": { name: value },
        })
    };
    assert!(faults(&case("p_ff_droop", "dw", 10.0)).is_empty());
    assert_eq!(faults(&case("p_ff_droop", "dw", 10.001)).len(), 1);
    assert_eq!(faults(&case("p_ff_droop", "other", 10.0)).len(), 1);
    assert_eq!(faults(&case("nobody_knows", "dw", 10.0)).len(), 1);
}
