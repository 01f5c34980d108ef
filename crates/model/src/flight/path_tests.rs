//! Events on a path, its ends, and input that makes no sense.

use super::symmetries::{aimed, bare_ball, still_air, thrown};
use super::*;
use crate::numerics::vector::{norm, sub};
use proptest::prelude::*;

const G: f64 = 9.80665;
const LONG: Until = Until {
    time_s: 5.0,
    floor_m: -50.0,
};

fn at_height(z_m: f64) -> Plane {
    Plane {
        point_m: [0.0, 0.0, z_m],
        normal: [0.0, 0.0, 1.0],
    }
}

fn spinning() -> Ball {
    Ball {
        drag: Drag {
            law: DragLaw::CliftGauvin,
            scale_ratio: 1.0,
        },
        lift: Lift::Saturating {
            a_coeff: 0.4,
            b_coeff: 2.32,
            scale_ratio: 1.0,
        },
        spin_decay: SpinDecay::TimeConstant { tau_s: 10.0 },
        ..bare_ball()
    }
}

fn nominal() -> Path {
    fly(
        &spinning(),
        &still_air(),
        &thrown([0.0, 0.0, 0.5], aimed(9.0, 55.0), [3.0, -60.0, 2.0]),
        &LONG,
    )
}

#[test]
fn a_plane_just_below_the_top_is_crossed_up_and_down_within_a_step() {
    let path = nominal();
    let top = path.apex().unwrap();
    for below_m in [1e-3, 1e-6, 1e-9] {
        let plane = at_height(top.position_m[2] - below_m);
        let up = path.crossing(&plane).unwrap();
        let down = path.landing(top.position_m[2] - below_m).unwrap();
        assert!(up.time_s < top.time_s && top.time_s < down.time_s, "{below_m}");
        assert!((up.position_m[2] - plane.point_m[2]).abs() < 1e-12);
        assert!((down.position_m[2] - plane.point_m[2]).abs() < 1e-12);
    }
}

#[test]
fn a_plane_just_above_the_top_is_not_crossed() {
    let path = nominal();
    let top = path.apex().unwrap().position_m[2];
    for above_m in [1e-3, 1e-6, 1e-9] {
        assert_eq!(path.crossing(&at_height(top + above_m)), None, "{above_m}");
    }
}

#[test]
fn the_next_crossing_is_after_the_one_before() {
    // Lift beyond the weight flies a loop and crosses a plane ahead more than once.
    let ball = Ball {
        lift: Lift::Linear { slope_coeff: 4.0 },
        ..bare_ball()
    };
    let start = thrown([0.0, 0.0, 2.0], [8.0, 0.0, 0.0], [0.0, -90.0, 0.0]);
    let path = fly(&ball, &still_air(), &start, &LONG);
    let plane = Plane {
        point_m: [2.6, 0.0, 0.0],
        normal: [1.0, 0.0, 0.0],
    };
    let first = path.crossing(&plane).unwrap();
    let second = path.crossing_after(&plane, first.time_s).unwrap();
    assert!(
        second.time_s > first.time_s + 0.1,
        "{} {}",
        first.time_s,
        second.time_s
    );
    for state in [first, second] {
        assert!((state.position_m[0] - 2.6).abs() < 1e-12 && state.velocity_mps[0] > 0.0);
    }
    let before_second = path.crossing_after(&plane, first.time_s + 0.05).unwrap();
    assert!((before_second.time_s - second.time_s).abs() < 1e-12);
}

/// Whichever side of the plane rounding leaves the crossing on, it is not found again.
#[test]
fn a_crossing_is_not_its_own_next_one() {
    let path = nominal();
    for i in 1..300 {
        let plane = Plane {
            point_m: [0.01 * f64::from(i), 0.0, 0.0],
            normal: [1.0, 0.0, 0.0],
        };
        let first = path.crossing(&plane).unwrap();
        assert_eq!(path.crossing_after(&plane, first.time_s), None, "{i}");
    }
}

#[test]
fn leaving_a_plane_is_not_crossing_it() {
    let path = nominal();
    let leaving = Plane {
        point_m: [0.0, 0.0, 0.5],
        normal: [0.0, 0.0, 1.0],
    };
    assert_eq!(path.crossing(&leaving), None);
    assert!(path.landing(0.5).is_some());
}

#[test]
fn a_throw_downward_has_no_top() {
    let start = thrown([0.0, 0.0, 3.0], aimed(5.0, -20.0), [0.0; 3]);
    assert_eq!(fly(&bare_ball(), &still_air(), &start, &LONG).apex(), None);
}

#[test]
fn a_path_ends_on_its_floor_and_landing_there_is_found() {
    for floor_m in [0.0, -0.3, 0.49, 2.0] {
        let start = thrown([0.0, 0.0, 0.5], aimed(9.0, 55.0), [3.0, -60.0, 2.0]);
        let path = fly(
            &spinning(),
            &still_air(),
            &start,
            &Until {
                time_s: 10.0,
                floor_m,
            },
        );
        assert_eq!(path.ended, Ended::Floor, "{floor_m}");
        assert!((path.end().position_m[2] - floor_m).abs() < 1e-12, "{floor_m}");
        let landing = path.landing(floor_m).unwrap();
        let gap = (landing.time_s - path.end().time_s).abs();
        assert!(gap < 1e-12, "{floor_m}: {gap:e}");
    }
}

#[test]
fn a_throw_from_below_the_floor_that_stays_there_ends_at_its_top() {
    let start = thrown([0.0, 0.0, -3.0], [1.0, 0.0, 2.0], [0.0; 3]);
    let path = fly(
        &bare_ball(),
        &still_air(),
        &start,
        &Until {
            time_s: 10.0,
            floor_m: 0.0,
        },
    );
    assert_eq!(path.ended, Ended::Floor);
    assert!(
        (path.end().time_s - 2.0 / G).abs() < 1e-9,
        "{}",
        path.end().time_s
    );
    let falling = thrown([0.0, 0.0, -3.0], [1.0, 0.0, -2.0], [0.0; 3]);
    let none = fly(
        &bare_ball(),
        &still_air(),
        &falling,
        &Until {
            time_s: 10.0,
            floor_m: 0.0,
        },
    );
    assert_eq!((none.ended, none.end()), (Ended::Floor, none.start()));
}

#[test]
fn time_runs_out_exactly() {
    let start = State {
        time_s: 2.0,
        ..thrown([0.0; 3], aimed(9.0, 55.0), [0.0; 3])
    };
    let path = fly(
        &spinning(),
        &still_air(),
        &start,
        &Until {
            time_s: 0.7,
            floor_m: -50.0,
        },
    );
    assert_eq!(path.ended, Ended::Time);
    assert_eq!(path.end().time_s, 2.7);
    let none = fly(
        &spinning(),
        &still_air(),
        &start,
        &Until {
            time_s: 0.0,
            floor_m: -50.0,
        },
    );
    assert_eq!((none.ended, none.end()), (Ended::Time, none.start()));
}

#[test]
fn a_state_asked_for_outside_the_path_is_the_nearer_end() {
    let path = nominal();
    assert_eq!(path.at(-1.0), path.start());
    assert_eq!(path.at(1e9), path.end());
    assert_eq!(path.at(f64::NAN), path.start());
}

#[test]
fn samples_are_evenly_spaced_from_end_to_end() {
    let path = nominal();
    let states = path.sample(33);
    assert_eq!(states.len(), 33);
    assert_eq!((states[0], states[32]), (path.start(), path.end()));
    let gap = path.end().time_s / 32.0;
    for pair in states.windows(2) {
        assert!((pair[1].time_s - pair[0].time_s - gap).abs() < 1e-12);
    }
    assert_eq!(path.sample(0).len(), 2);
}

#[test]
fn the_nearest_approach_matches_a_fine_search() {
    let path = nominal();
    for point in [
        [2.0, 0.1, 3.0],
        [4.0, 0.0, 2.5],
        [0.5, -0.2, 0.2],
        [3.0, 0.0, 0.0],
        [9.0, 0.0, 1.0],
    ] {
        let distance = |p: [f64; 3]| norm(sub(p, point));
        let end = path.end().time_s;
        let (value, state) = path.nearest(distance, 0.0, end);
        let fine = (0..=4000).map(|i| distance(path.at(end * f64::from(i) / 4000.0).position_m));
        let fine = fine.fold(f64::INFINITY, f64::min);
        assert!(value <= fine + 1e-12, "{point:?}: {value} is above {fine}");
        assert!(fine - value < 1e-4, "{point:?}");
        assert!((distance(state.position_m) - value).abs() < 1e-12);
        let square = |p: [f64; 3]| distance(p) * distance(p);
        assert!((path.nearest(square, 0.0, end).0.sqrt() - value).abs() < 1e-7);
    }
}

#[test]
fn the_nearest_approach_keeps_to_its_times() {
    let path = nominal();
    let height = |p: [f64; 3]| p[2];
    let (value, state) = path.nearest(height, 0.2, 0.5);
    assert_eq!((value, state.time_s), (path.at(0.2).position_m[2], 0.2));
    let top = path.apex().unwrap();
    let (value, state) = path.nearest(|p| -p[2], 0.0, 9.0);
    assert!((value + top.position_m[2]).abs() < 1e-12 && (state.time_s - top.time_s).abs() < 1e-6);
}

#[test]
fn input_that_is_not_finite_ends_where_it_starts() {
    let start = thrown([0.0; 3], [f64::NAN, 0.0, 1.0], [0.0; 3]);
    let path = fly(&spinning(), &still_air(), &start, &LONG);
    assert_eq!(path.ended, Ended::NotFinite);
    assert_eq!(path.crossing(&at_height(1.0)), None);
    let massless = Ball {
        mass_kg: 0.0,
        ..spinning()
    };
    let start = thrown([0.0; 3], aimed(9.0, 45.0), [0.0, -10.0, 0.0]);
    assert_eq!(
        fly(&massless, &still_air(), &start, &LONG).ended,
        Ended::NotFinite
    );
}

#[test]
fn a_fall_without_floor_or_time_still_ends() {
    let until = Until {
        time_s: f64::INFINITY,
        floor_m: f64::NEG_INFINITY,
    };
    let path = fly(
        &spinning(),
        &still_air(),
        &thrown([0.0; 3], aimed(9.0, 45.0), [0.0; 3]),
        &until,
    );
    assert_eq!(path.ended, Ended::Time);
}

fn wild() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => -20.0..20.0,
        1 => proptest::num::f64::ANY,
        1 => prop_oneof![Just(0.0), Just(f64::NAN), Just(f64::INFINITY), Just(1e300), Just(-1e-300)],
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn no_input_panics_or_hangs(n in proptest::collection::vec(wild(), 32), law in 0..7_usize, lift in 0..5_usize) {
        let n = |i: usize| n.get(i).copied().unwrap_or(0.0);
        let laws = [
            DragLaw::None,
            DragLaw::Constant { drag_coeff: n(0) },
            DragLaw::CliftGauvin,
            DragLaw::BrownLawler,
            DragLaw::HaiderLevenspiel,
            DragLaw::Morrison,
            DragLaw::Logistic {
                low_re_coeff: n(0),
                high_re_coeff: n(1),
                critical_re_count: n(2),
                width_ratio: n(3),
            },
        ];
        let lifts = [
            Lift::None,
            Lift::Linear { slope_coeff: n(4) },
            Lift::Bilinear,
            Lift::Saturating { a_coeff: n(4), b_coeff: n(5), scale_ratio: n(6) },
            Lift::SaturatingWholeSpin { a_coeff: n(4), b_coeff: n(5), scale_ratio: n(6) },
        ];
        let ball = Ball {
            mass_kg: n(7),
            diameter_m: n(8),
            inertia_coeff: n(9),
            drag: Drag { law: laws[law], scale_ratio: n(10) },
            lift: lifts[lift],
            spin_decay: if n(11) > 0.0 {
                SpinDecay::TimeConstant { tau_s: n(12) }
            } else {
                SpinDecay::Aero { torque_coeff: n(12) }
            },
            buoyancy: n(13) > 0.0,
            added_mass_coeff: n(13),
        };
        let medium = Medium {
            density_kgpm3: n(14),
            viscosity_pas: n(15),
            wind_mps: [n(16), n(17), n(18)],
            gravity_mps2: n(19),
        };
        let start = thrown([n(20), n(21), n(22)], [n(23), n(24), n(25)], [n(26), n(27), n(28)]);
        let plane = Plane { point_m: [n(1), n(2), n(3)], normal: [n(29), n(30), n(31)] };
        // Ten thousand steps are the limit; a limit in time keeps this test quick.
        let until = Until { time_s: n(29).clamp(-1.0, 2.0), floor_m: n(30) };
        let path = fly_to_accuracy(&ball, &medium, &start, &until, Accuracy::Quick);
        path.crossing(&plane);
        path.crossing_after(&plane, n(0));
        path.apex();
        path.landing(n(31));
        path.at(n(0));
        path.nearest(|p| p[0] * n(1) + p[1], n(2), n(3));
        prop_assert!(path.end().time_s >= path.start().time_s || path.ended == Ended::NotFinite);
        prop_assert!(path.sample(5).len() == 5);
    }
}
