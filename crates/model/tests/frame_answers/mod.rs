//! What the frame's kernels say, under the names of the case file: topics 3 to 7.

use arcwright_model::frame::base::{
    BaseDrive, Motion, RollerBase, WheelSpeeds, push, roller_force, roller_motion, roller_wheels, scrub,
    skid_motion,
};
use arcwright_model::frame::bearing::{LifeDemand, bearing_life, rating_needed, speed_factor, system_life_s};
use arcwright_model::frame::bushing::{Bushing, bushing_load};
use arcwright_model::frame::dash::{Runner, dash};
use arcwright_model::frame::mass::{Lump, Stance, rollup, stack, tipping};
use arcwright_model::frame::power::{Breaker, Stretch, breaker_s, budget, discharge, fuse_s, rms_a};
use arcwright_model::frame::shaft::{
    Section, Shaft, critical, critical_bare_radps, middle_mass, overhung_mass, shaft_stress,
};
use arcwright_model::frame::transmission::{
    BeltPair, ChainPair, belt_centre_m, belt_run, chain_centre_m, chain_links_count, chain_ripple_frac,
    gear_centre_m, gear_train, sprocket_m,
};
use arcwright_model::launcher::MotorSheet;

use super::{Inputs, NONE, Named};

/// Seconds of an hour: the cases print lives and charges in hours.
const HOUR_S: f64 = 3600.0;
/// One turn a minute in rad/s.
const RPM: f64 = std::f64::consts::PI / 30.0;

pub fn answer(function: &str, i: &Inputs) -> Option<Named> {
    bearing_answer(function, i)
        .or_else(|| shaft_answer(function, i))
        .or_else(|| transmission_answer(function, i))
        .or_else(|| base_answer(function, i))
        .or_else(|| power_answer(function, i))
        .or_else(|| mass_answer(function, i))
}

fn bearing_answer(function: &str, i: &Inputs) -> Option<Named> {
    Some(match function {
        "bearing_life" => {
            let l = bearing_life(i.n("C"), i.n("P"), i.n("p"), i.n("rpm") * RPM);
            vec![("L10_Mrev", l.turns_count / 1e6), ("L10h", l.life_s / HOUR_S)]
        }
        "bearing_C_required" => {
            let r = rating_needed(&LifeDemand {
                load_n: i.n("P"),
                shock_ratio: i.n("af"),
                speed_radps: i.n("rpm") * RPM,
                life_s: i.n("hours") * HOUR_S,
                survive_frac: i.n("Rel"),
                life_exponent: i.n("a"),
                least_ratio: i.n("x0"),
                scale_ratio: i.n("th"),
                weibull_exponent: i.n("b"),
            });
            vec![("xD", r.life_ratio), ("C10", r.rating_n)]
        }
        "system_life" => {
            let life_s = system_life_s(&[i.n("L1") * HOUR_S, i.n("L2") * HOUR_S], i.n("e"));
            vec![("L_sys", life_s / HOUR_S)]
        }
        "speed_factor" => {
            let f = speed_factor(i.n("d"), i.n("D"), i.n("rpm") * RPM);
            vec![("dm_mm", f.mean_m * 1e3), ("ndm", f.printed_ratio)]
        }
        "bushing_pv" => {
            let b = bushing_load(&Bushing {
                load_n: i.n("W"),
                bore_m: i.n("d"),
                length_m: i.n("L"),
                speed_radps: i.n("rpm") * RPM,
                friction_coeff: i.n("mu"),
                thermal_k_per_w: i.n("Rth"),
                limit_pa_mps: i.n("PV_lim"),
            });
            vec![
                ("P", b.pressure_pa),
                ("V", b.rub_mps),
                ("PV", b.product_pa_mps),
                ("ratio", b.limit_ratio),
                ("W_max", b.most_n),
                ("Q", b.heat_w),
                ("dT", b.rise_k),
            ]
        }
        _ => return None,
    })
}

fn shaft(i: &Inputs) -> Shaft {
    Shaft {
        modulus_pa: i.n("E"),
        section: Section::Round { diameter_m: i.n("d") },
        span_m: i.n("L"),
    }
}

fn shaft_answer(function: &str, i: &Inputs) -> Option<Named> {
    Some(match function {
        "critical_two_mass" => {
            let (s, a1, a2) = (shaft(i), i.n("a1"), i.n("a2"));
            let c = critical(&s, &[(a1, i.n("m1")), (a2, i.n("m2"))]);
            vec![
                ("d11", s.influence_m_per_n(a1, a1)),
                ("d22", s.influence_m_per_n(a2, a2)),
                ("d12", s.influence_m_per_n(a1, a2)),
                ("w_rayleigh", c.rayleigh_radps),
                ("w_dunkerley", c.dunkerley_radps),
                ("w_exact", c.exact_radps),
            ]
        }
        "critical_bare" => {
            let w = critical_bare_radps(&shaft(i), i.n("rho"));
            vec![("w", w), ("rpm", w / RPM)]
        }
        "critical_overhung" => {
            let m = overhung_mass(&shaft(i), i.n("a"), i.n("m"));
            let lumped = critical(&shaft(i), &[(i.n("L") + i.n("a"), i.n("m"))]).exact_radps;
            assert!(
                (lumped / m.massless_radps - 1.0).abs() < 1e-9,
                "general and closed form differ"
            );
            vec![
                ("k", m.stiffness_npm),
                ("w", m.massless_radps),
                ("rpm", m.massless_radps / RPM),
            ]
        }
        "critical_mid_mass" => {
            let m = middle_mass(&shaft(i), i.n("rho"), i.n("m"));
            vec![
                ("k", m.stiffness_npm),
                ("w_massless", m.massless_radps),
                ("w_17_35", m.with_shaft_radps),
            ]
        }
        "shaft_stress" => {
            let s = shaft_stress(i.n("M"), i.n("T"), i.n("d"));
            vec![
                ("sigma", s.bending_pa),
                ("tau", s.torsion_pa),
                ("von_mises", s.equivalent_pa),
            ]
        }
        "hex_section" => {
            let section = Section::Hex { flats_m: i.n("f") };
            let f = section.figures();
            let beam = Shaft {
                modulus_pa: i.n("E"),
                section,
                span_m: i.n("L"),
            };
            let middle = 0.5 * i.n("L");
            vec![
                ("A", f.area_m2),
                ("I", f.second_m4),
                ("Z_min", f.modulus_m3),
                (
                    "I_round",
                    Section::Round { diameter_m: i.n("f") }.figures().second_m4,
                ),
                ("defl_mid", beam.deflection_m(middle, &[(middle, i.n("F"))])),
            ]
        }
        _ => return None,
    })
}

fn transmission_answer(function: &str, i: &Inputs) -> Option<Named> {
    Some(match function {
        "chain" => {
            let pair = ChainPair {
                pitch_m: i.n("p"),
                teeth_a_count: i.n("N1"),
                teeth_b_count: i.n("N2"),
            };
            vec![
                ("links", chain_links_count(&pair, i.n("C"))),
                (
                    "C_for_links",
                    chain_centre_m(&pair, i.n("L_links")).unwrap_or(NONE),
                ),
                ("D1", sprocket_m(i.n("p"), i.n("N1"))),
                ("D2", sprocket_m(i.n("p"), i.n("N2"))),
                ("chordal", chain_ripple_frac(i.n("N1"))),
            ]
        }
        "sync_belt" => {
            let pair = BeltPair {
                pitch_m: i.n("p"),
                small_count: i.n("z1"),
                large_count: i.n("z2"),
            };
            let run = belt_run(&pair, i.n("C")).expect("pulleys that do not overlap");
            vec![
                ("L_exact", run.length_m),
                ("L_approx", run.rough_m),
                ("C_for_belt", belt_centre_m(&pair, i.n("zb")).unwrap_or(NONE)),
                ("wrap_small", run.wrap_rad),
                ("teeth_in_mesh", run.engaged_count),
            ]
        }
        "gear_train" => {
            let z = i.list("z");
            let t = gear_train(&z, i.n("eta_stage"), i.n("w_in"), i.n("T_in")).expect("pairs of gears");
            vec![
                ("G", t.gear_ratio),
                ("w_out", t.out_radps),
                ("T_out", t.out_nm),
                // The case prints millimetres.
                ("a1", gear_centre_m(i.n("module"), z[0], z[1])),
            ]
        }
        _ => return None,
    })
}

fn roller_base(i: &Inputs) -> RollerBase {
    RollerBase {
        radius_m: i.n("r"),
        half_base_m: i.n("lx"),
        half_track_m: i.n("ly"),
    }
}

fn base_answer(function: &str, i: &Inputs) -> Option<Named> {
    Some(match function {
        "mecanum" => {
            let w = roller_wheels(
                &roller_base(i),
                &Motion {
                    ahead_mps: i.n("vx"),
                    left_mps: i.n("vy"),
                    turn_radps: i.n("wz"),
                },
            );
            vec![
                ("w_fl", w.front_left_radps),
                ("w_fr", w.front_right_radps),
                ("w_rl", w.rear_left_radps),
                ("w_rr", w.rear_right_radps),
            ]
        }
        "mecanum_forward" => {
            let m = roller_motion(
                &roller_base(i),
                &WheelSpeeds {
                    front_left_radps: i.n("w_fl"),
                    front_right_radps: i.n("w_fr"),
                    rear_left_radps: i.n("w_rl"),
                    rear_right_radps: i.n("w_rr"),
                },
            );
            vec![
                ("vx", m.motion.ahead_mps),
                ("vy", m.motion.left_mps),
                ("wz", m.motion.turn_radps),
                ("incompat", m.fight_mps),
            ]
        }
        "mecanum_force" => {
            let f = roller_force(i.n("mu"), i.n("W"), i.count("Nw"), i.n("T"), i.n("r"));
            vec![
                ("F_motor", f.motor_n),
                ("F_trac_fwd", f.traction_n),
                ("F_plain", f.plain_n),
                ("v_diag_over_v", f.diagonal_ratio),
            ]
        }
        "skid_steer" => {
            let m = skid_motion(i.n("r"), i.n("Bt"), i.n("w_l"), i.n("w_r"));
            vec![("v", m.ahead_mps), ("wz", m.turn_radps), ("R_turn", m.curve_m)]
        }
        "skid_scrub" => {
            let s = scrub(i.n("mu"), i.n("W"), i.n("Lw"), i.n("Bt"), i.n("wz"));
            vec![
                ("M_track", s.track_nm),
                ("M_4w_lateral", s.lateral_nm),
                ("Fx_wheel", s.wheel_n),
                ("M_4w_coulomb", s.wheels_nm),
                ("v_wheel", s.wheel_mps),
                ("B_eff", s.effective_track_m),
            ]
        }
        "push" => {
            let drive = BaseDrive {
                motor: MotorSheet {
                    nominal_v: 12.0,
                    free_radps: i.n("w0"),
                    free_a: i.n("I0"),
                    stall_nm: i.n("Ts"),
                    stall_a: i.n("Is"),
                    rotor_kgm2: 0.0,
                },
                motor_count: i.count("Nm"),
                gear_ratio: i.n("G"),
                efficiency_frac: i.n("eta"),
                limit_a: f64::INFINITY,
                radius_m: i.n("r"),
            };
            let p = push(&drive, i.n("m"), i.n("mu"));
            vec![
                ("F_traction", p.traction_n),
                ("F_motor_stall", p.motor_n),
                ("v_free", p.free_mps),
                ("I_at_slip", p.slip_a),
                ("F_push", p.push_n),
            ]
        }
        "sprint" => {
            let runner = Runner {
                mass_kg: i.n("m_eff"),
                cap_n: i.n("F_trac"),
                stall_n: i.n("F_stall"),
                free_mps: i.n("v_free"),
            };
            let d = dash(&runner, i.n("x")).expect("a dash");
            vec![
                ("t", d.time_s),
                ("v", d.end_mps),
                ("t1", d.knee_s),
                ("x1", d.knee_m),
                ("tau", d.tau_s),
            ]
        }
        _ => return None,
    })
}

fn power_answer(function: &str, i: &Inputs) -> Option<Named> {
    Some(match function {
        "protection" => {
            let breaker = Breaker {
                trip_a: i.n("I_trip"),
                tau_s: i.n("tau_b"),
            };
            let stretch = |current: &str, time: &str| Stretch {
                current_a: i.n(current),
                time_s: i.n(time),
            };
            vec![
                ("t_fuse", fuse_s(i.n("I2t"), i.n("I"))),
                ("t_breaker", breaker_s(&breaker, i.n("I"))),
                (
                    "I_rms",
                    rms_a(&[stretch("I_on", "t_on"), stretch("I_off", "t_off")]),
                ),
            ]
        }
        "peukert" => {
            let of = |rated_h: f64| discharge(i.n("C_Ah") * HOUR_S, rated_h * HOUR_S, i.n("I"), i.n("k"));
            let d = of(i.n("H_h"));
            vec![
                ("t_h", d.time_s / HOUR_S),
                ("Ah_delivered", d.given_a_s / HOUR_S),
                ("t_naive_h", d.plain_s / HOUR_S),
                // The unit trap: the rated capacity taken for that at one ampere, which lasts C hours.
                ("t_wrong_unit_h", of(i.n("C_Ah")).time_s / HOUR_S),
            ]
        }
        "energy_budget" => {
            let cycle: Vec<Stretch> = i
                .list("I_list")
                .iter()
                .zip(i.list("t_list"))
                .map(|(current_a, time_s)| Stretch {
                    current_a: *current_a,
                    time_s,
                })
                .collect();
            let b = budget(i.n("Voc"), i.n("Rb"), &cycle);
            vec![
                ("Ah", b.charge_a_s / HOUR_S),
                ("E_source_Wh", b.source_j / HOUR_S),
                ("E_loss_Wh", b.loss_j / HOUR_S),
                ("E_load_Wh", b.load_j / HOUR_S),
                ("V_min", b.lowest_v),
            ]
        }
        _ => return None,
    })
}

fn mass_answer(function: &str, i: &Inputs) -> Option<Named> {
    Some(match function {
        "mass_rollup" => {
            let [m, x, y, z] = ["m", "x", "y", "z"].map(|k| i.list(k));
            let lumps: Vec<Lump> = (0..m.len())
                .map(|k| Lump {
                    mass_kg: m[k],
                    at_m: [x[k], y[k], z[k]],
                })
                .collect();
            let r = rollup(&lumps);
            vec![
                ("M", r.mass_kg),
                ("xc", r.centre_m[0]),
                ("yc", r.centre_m[1]),
                ("zc", r.centre_m[2]),
            ]
        }
        "tipping" => {
            let s = Stance {
                mass_kg: i.n("m"),
                height_m: i.n("h"),
                front_m: i.n("b_front"),
                rear_m: i.n("b_rear"),
            };
            let t = tipping(&s, i.n("a_dec"), i.n("h_push"));
            vec![
                ("angle_fwd", t.ahead_rad),
                ("a_tip_fwd", t.ahead_mps2),
                ("a_tip_back", t.back_mps2),
                ("N_front", t.front_n),
                ("N_rear", t.rear_n),
                ("F_push_tip", t.push_n),
            ]
        }
        "tol_stack" => {
            let s = stack(&i.list("tols"));
            vec![("worst", s.worst_m), ("rss", s.usual_m)]
        }
        _ => return None,
    })
}
