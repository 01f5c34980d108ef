//! Closed forms, symmetries and conservation: for each term of the equation of motion one test in which
//! that term decides the answer.

use proptest::prelude::*;

use super::*;

const G: f64 = 9.806_65;

fn ball(drag: DragLaw, lift: Lift) -> Ball {
    Ball {
        mass_kg: 0.14,
        diameter_m: 0.178,
        inertia_coeff: 0.4,
        drag: Drag {
            law: drag,
            scale_ratio: 1.0,
        },
        lift,
        spin_decay: SpinDecay::None,
        buoyancy: false,
        added_mass_coeff: 0.0,
    }
}

fn medium(gravity_mps2: f64) -> Medium {
    Medium {
        density_kgpm3: 1.2,
        viscosity_pas: 1.81e-5,
        wind_mps: [0.0; 3],
        gravity_mps2,
    }
}

fn start(velocity_mps: [f64; 3], spin_radps: [f64; 3]) -> State {
    State {
        time_s: 0.0,
        position_m: [0.0, 0.0, 0.5],
        velocity_mps,
        spin_radps,
    }
}

fn until(time_s: f64) -> Until {
    Until {
        time_s,
        floor_m: f64::NEG_INFINITY,
    }
}

const CONSTANT: DragLaw = DragLaw::Constant { drag_coeff: 0.47 };

fn terminal_mps(b: &Ball, m: &Medium) -> f64 {
    let area = std::f64::consts::PI * b.diameter_m.powi(2) / 4.0;
    (2.0 * b.mass_kg * G / (m.density_kgpm3 * area * 0.47)).sqrt()
}

/// Dropped from rest with constant drag: v = v_t tanh(g t/v_t), fallen (v_t²/g) ln cosh(g t/v_t).
#[test]
fn a_dropped_ball_follows_the_hyperbolic_tangent() {
    let (b, m) = (ball(CONSTANT, Lift::None), medium(G));
    let vt = terminal_mps(&b, &m);
    let path = fly(&b, &m, &start([0.0; 3], [0.0; 3]), &until(3.0));
    for t in [0.1, 0.7, 1.6, 2.9] {
        let s = path.at(t);
        let x = G * t / vt;
        assert!((s.velocity_mps[2] + vt * x.tanh()).abs() < 1e-9, "{t}");
        assert!(
            (0.5 - s.position_m[2] - vt * vt / G * x.cosh().ln()).abs() < 1e-9,
            "{t}"
        );
    }
}

/// Straight up with constant drag: apex (v_t²/2g) ln(1 + v₀²/v_t²) after (v_t/g) atan(v₀/v_t).
/// The figures are those of docs/theory/flight.md: 3.455714587 m, 0.8154923174 s.
#[test]
fn thrown_straight_up_it_turns_where_the_logarithm_says() {
    let (b, m) = (ball(CONSTANT, Lift::None), medium(G));
    let apex = fly(&b, &m, &start([0.0, 0.0, 9.0], [0.0; 3]), &until(2.0))
        .apex()
        .unwrap();
    assert!(
        (apex.position_m[2] - 0.5 - 3.455_714_587).abs() < 1e-9,
        "{apex:?}"
    );
    assert!((apex.time_s - 0.815_492_317_4).abs() < 1e-10);
    let vt = terminal_mps(&b, &m);
    assert!((apex.time_s - vt / G * (9.0 / vt).atan()).abs() < 1e-11);
}

/// Without gravity, constant drag alone: x = ℓ ln(1 + v₀ t/ℓ), ℓ = 2 m/(ρ A C_d). The drag uses the whole
/// speed: thrown along a diagonal each component falls alike.
#[test]
fn drag_alone_slows_along_the_path_by_the_logarithm_whatever_its_direction() {
    let (b, m) = (ball(CONSTANT, Lift::None), medium(0.0));
    let area = std::f64::consts::PI * b.diameter_m.powi(2) / 4.0;
    let ell = 2.0 * b.mass_kg / (m.density_kgpm3 * area * 0.47);
    let n = [0.6, -0.48, 0.64];
    let s = fly(&b, &m, &start(n.map(|x| 11.0 * x), [0.0; 3]), &until(1.5)).at(1.4);
    let way = ell * (1.0f64 + 11.0 * 1.4 / ell).ln();
    for i in 0..3 {
        let from = [0.0, 0.0, 0.5][i];
        assert!((s.position_m[i] - from - way * n[i]).abs() < 1e-10, "{s:?}");
    }
}

/// Linear lift CL = c S at constant spin across the motion, no drag: v_x − g/B and v_z turn at the rate
/// B = ρ A c r w/(2m), so the path is a trochoid. Figures: x = 4 m at 0.7434166958 s, z = 3.260801878 m.
#[test]
fn linear_lift_without_drag_draws_a_trochoid() {
    let b = ball(DragLaw::None, Lift::Linear { slope_coeff: 0.3 });
    let (v, e) = (9.0, 50f64.to_radians());
    let path = fly(
        &b,
        &medium(G),
        &start([v * e.cos(), 0.0, v * e.sin()], [0.0, -80.0, 0.0]),
        &until(2.0),
    );
    let plane = Plane {
        point_m: [4.0, 0.0, 0.0],
        normal: [1.0, 0.0, 0.0],
    };
    let s = path.crossing(&plane).unwrap();
    assert!((s.time_s - 0.743_416_695_8).abs() < 5e-11, "{s:?}");
    assert!((s.position_m[2] - 3.260_801_878).abs() < 5e-10, "{s:?}");
    let area = std::f64::consts::PI * b.diameter_m.powi(2) / 4.0;
    let rate = 1.2 * area * 0.3 * 0.5 * b.diameter_m * 80.0 / (2.0 * b.mass_kg);
    let (a, z) = (v * e.cos() - G / rate, v * e.sin());
    let (c, ph) = (a.hypot(z), z.atan2(a));
    let t = 1.1;
    let x = G / rate * t + c / rate * ((rate * t + ph).sin() - ph.sin());
    assert!((path.at(t).position_m[0] - x).abs() < 1e-10);
}

#[test]
fn backspin_lifts_and_spin_along_the_motion_does_nothing() {
    let b = ball(
        DragLaw::None,
        Lift::Saturating {
            a_coeff: 0.4,
            b_coeff: 2.32,
            scale_ratio: 1.0,
        },
    );
    let z_at = |spin: [f64; 3]| {
        fly(&b, &medium(G), &start([8.0, 0.0, 0.0], spin), &until(0.2))
            .at(0.1)
            .position_m[2]
    };
    let none = z_at([0.0; 3]);
    assert!(z_at([0.0, -60.0, 0.0]) > none + 1e-3 && z_at([0.0, 60.0, 0.0]) < none - 1e-3);
    // At the first moment the motion lies along x, so spin about x gives no force there.
    let gyro = acceleration(&b, &medium(G), &start([8.0, 0.0, 0.0], [60.0, 0.0, 0.0]));
    assert_eq!(gyro, [0.0, 0.0, -G]);
}

#[test]
fn a_ball_that_moves_with_the_wind_feels_none() {
    let b = ball(CONSTANT, Lift::None);
    let windy = Medium {
        wind_mps: [3.0, -1.0, 0.0],
        ..medium(0.0)
    };
    let s = fly(&b, &windy, &start([3.0, -1.0, 0.0], [0.0; 3]), &until(1.0)).at(0.9);
    assert!((s.velocity_mps[0] - 3.0).abs() < 1e-12 && (s.velocity_mps[1] + 1.0).abs() < 1e-12);
    let head = Medium {
        wind_mps: [-3.0, 0.0, 0.0],
        ..medium(0.0)
    };
    let slowed = fly(&b, &head, &start([8.0, 0.0, 0.0], [0.0; 3]), &until(1.0))
        .at(0.9)
        .velocity_mps[0];
    let calm = fly(&b, &medium(0.0), &start([8.0, 0.0, 0.0], [0.0; 3]), &until(1.0))
        .at(0.9)
        .velocity_mps[0];
    assert!(slowed < calm - 0.3, "{slowed} {calm}");
}

/// w = w₀ exp(−t/τ); and for the aerodynamic torque at constant speed w = w₀ exp(−λ |V| t),
/// λ = c_T ρ A r/(2 k m r).
#[test]
fn spin_decays_by_its_law() {
    let mut b = ball(DragLaw::None, Lift::None);
    let path = |b: &Ball| {
        fly(
            b,
            &medium(0.0),
            &start([8.0, 0.0, 0.0], [0.0, -50.0, 5.0]),
            &until(1.0),
        )
        .at(0.8)
    };
    b.spin_decay = SpinDecay::TimeConstant { tau_s: 3.0 };
    assert!((path(&b).spin_radps[1] + 50.0 * (-0.8f64 / 3.0).exp()).abs() < 1e-9);
    b.spin_decay = SpinDecay::Aero { torque_coeff: 0.02 };
    let r = 0.5 * b.diameter_m;
    let rate = 0.02 * 1.2 * std::f64::consts::PI * r * r / (2.0 * b.inertia_coeff * b.mass_kg);
    assert!((path(&b).spin_radps[1] + 50.0 * (-rate * 8.0 * 0.8).exp()).abs() < 1e-9);
}

/// (m + C_a ρ V) a = (m − ρ V) g: buoyancy takes weight, carried air adds inertia.
#[test]
fn buoyancy_and_carried_air_slow_the_fall() {
    let volume = std::f64::consts::PI / 6.0 * 0.178f64.powi(3);
    let mut b = ball(DragLaw::None, Lift::None);
    b.buoyancy = true;
    let a = acceleration(&b, &medium(G), &start([0.0; 3], [0.0; 3]))[2];
    assert!((a + G * (0.14 - 1.2 * volume) / 0.14).abs() < 1e-12);
    b.added_mass_coeff = 0.5;
    let a = acceleration(&b, &medium(G), &start([0.0; 3], [0.0; 3]))[2];
    assert!((a + G * (0.14 - 1.2 * volume) / (0.14 + 0.6 * volume)).abs() < 1e-12);
}

/// The thinner the tolerance the nearer the answer, and the quick mode keeps what it states.
#[test]
fn a_coarser_accuracy_stays_within_what_it_states() {
    let b = ball(
        DragLaw::CliftGauvin,
        Lift::Saturating {
            a_coeff: 0.4,
            b_coeff: 2.32,
            scale_ratio: 1.0,
        },
    );
    let s = start([6.0, 0.3, 7.0], [2.0, -70.0, 0.0]);
    let at = |a: Accuracy| {
        fly_to_accuracy(&b, &medium(G), &s, &until(1.5), a)
            .at(1.4)
            .position_m
    };
    let (tight, quick) = (at(Accuracy::Tight), at(Accuracy::Quick));
    let off = (0..3).map(|i| (tight[i] - quick[i]).abs()).fold(0.0, f64::max);
    assert!(off < 1e-7 && off > 0.0, "{off}");
}

fn any_law() -> impl Strategy<Value = (DragLaw, Lift)> {
    let drag = prop_oneof![
        Just(DragLaw::None),
        (0.1..0.8f64).prop_map(|drag_coeff| DragLaw::Constant { drag_coeff }),
        Just(DragLaw::CliftGauvin),
        Just(DragLaw::HaiderLevenspiel),
        Just(DragLaw::Morrison),
    ];
    let lift = prop_oneof![
        Just(Lift::None),
        (0.1..0.5f64).prop_map(|slope_coeff| Lift::Linear { slope_coeff }),
        Just(Lift::Bilinear),
        Just(Lift::Saturating {
            a_coeff: 0.4,
            b_coeff: 2.32,
            scale_ratio: 1.0
        }),
    ];
    (drag, lift)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Without air the path is the parabola, whatever the spin.
    #[test]
    fn without_air_every_flight_is_a_parabola(
        v in proptest::array::uniform3(-12.0..12.0f64), w in proptest::array::uniform3(-90.0..90.0f64), t in 0.05..1.4f64,
    ) {
        let s = fly(&ball(DragLaw::None, Lift::None), &medium(G), &start(v, w), &until(1.5)).at(t);
        let want = [v[0] * t, v[1] * t, 0.5 + v[2] * t - 0.5 * G * t * t];
        for (ours, want) in s.position_m.iter().zip(want) {
            prop_assert!((ours - want).abs() < 1e-10, "{ours} {want}");
        }
    }

    /// Air only takes energy: kinetic and potential energy together never grow in still air.
    #[test]
    fn energy_never_grows_in_still_air(
        (drag, lift) in any_law(), v in proptest::array::uniform3(-12.0..12.0f64), w in proptest::array::uniform3(-90.0..90.0f64),
    ) {
        let b = ball(drag, lift);
        let path = fly(&b, &medium(G), &start(v, w), &until(1.5));
        let energy = |s: &State| {
            let v2: f64 = s.velocity_mps.iter().map(|x| x * x).sum();
            b.mass_kg * (0.5 * v2 + G * s.position_m[2])
        };
        let all: Vec<f64> = path.sample(40).iter().map(energy).collect();
        for p in all.windows(2) {
            prop_assert!(p[1] <= p[0] + 1e-10 * p[0].abs().max(1.0), "{p:?}");
        }
    }

    /// Left and right are alike: y, v_y, wind across and the spin about x and z change sign together.
    #[test]
    fn a_mirrored_throw_flies_a_mirrored_path(
        (drag, lift) in any_law(), v in proptest::array::uniform3(-12.0..12.0f64), w in proptest::array::uniform3(-90.0..90.0f64),
        wind in proptest::array::uniform3(-3.0..3.0f64),
    ) {
        let b = ball(drag, lift);
        let at = |v, w, wind_mps| {
            let m = Medium { wind_mps, ..medium(G) };
            fly(&b, &m, &start(v, w), &until(1.2)).at(1.1)
        };
        let a = at(v, w, wind);
        let m = at([v[0], -v[1], v[2]], [-w[0], w[1], -w[2]], [wind[0], -wind[1], wind[2]]);
        prop_assert!((a.position_m[0] - m.position_m[0]).abs() < 1e-9);
        prop_assert!((a.position_m[1] + m.position_m[1]).abs() < 1e-9);
        prop_assert!((a.position_m[2] - m.position_m[2]).abs() < 1e-9);
    }

    /// Whatever the numbers, a flight ends.
    #[test]
    fn no_number_makes_a_flight_panic_or_hang(
        x in proptest::array::uniform12(prop_oneof![
            4 => -20.0..20.0f64, 1 => Just(f64::NAN), 1 => Just(f64::INFINITY), 1 => Just(0.0), 1 => Just(1e300), 1 => Just(-1e-300),
        ]),
        (drag, lift) in any_law(),
    ) {
        let mut b = ball(drag, lift);
        (b.mass_kg, b.diameter_m) = (x[0], x[1]);
        let m = Medium { density_kgpm3: x[2], wind_mps: [x[3], 0.0, 0.0], ..medium(x[4]) };
        let s = State { time_s: 0.0, position_m: [0.0, 0.0, x[5]], velocity_mps: [x[6], x[7], x[8]], spin_radps: [x[9], x[10], x[11]] };
        let path = fly_to_accuracy(&b, &m, &s, &Until { time_s: 2.0, floor_m: 0.0 }, Accuracy::Quick);
        let plane = Plane { point_m: [x[1], 0.0, x[2]], normal: [0.0, 0.0, -1.0] };
        let _ = (path.crossing(&plane), path.apex(), path.landing(x[5]), path.nearest(|p| p[0], 0.0, x[3]));
    }
}
