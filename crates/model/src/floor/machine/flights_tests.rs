//! Polynomials against the flights they stand for.

use super::*;
use crate::flight::{Drag, DragLaw, SpinDecay};
use crate::numerics::random::Stream;

fn ball() -> Ball {
    Ball {
        mass_kg: 0.061,
        diameter_m: 0.112,
        inertia_coeff: 0.6,
        drag: Drag {
            law: DragLaw::Constant { drag_coeff: 0.45 },
            scale_ratio: 1.0,
        },
        lift: Lift::Saturating {
            a_coeff: 0.4,
            b_coeff: 2.3,
            scale_ratio: 1.0,
        },
        spin_decay: SpinDecay::None,
        buoyancy: false,
        added_mass_coeff: 0.0,
    }
}

const AIR: Medium = Medium {
    density_kgpm3: 1.19,
    viscosity_pas: 1.8e-5,
    wind_mps: [0.5, 0.3, 0.0],
    gravity_mps2: 9.81,
};

const EXIT: Exit = Exit {
    speed_mps: 7.2,
    angle_rad: 1.0,
    spin_radps: 40.0,
    forward_m: 0.1,
    height_m: 0.7,
};

fn asks() -> [Ask; 3] {
    let ask = |point_m, normal, from_above| Ask {
        plane: Plane { point_m, normal },
        from_above,
    };
    [
        ask([0.0, 0.0, 0.05], [0.0, 0.0, -1.0], true),
        ask([2.0, 0.0, 0.0], [1.0, 0.0, 0.0], false),
        ask([3.0, 0.0, 1.2], [0.5_f64.sqrt(), 0.0, -(0.5_f64.sqrt())], true),
    ]
}

#[test]
fn polynomials_are_the_flights_to_twenty_micrometres_within_the_lattice() {
    let lattice = Lattice {
        centre: [0.02, -0.01, 0.1, 0.2],
        unit: [0.015, 0.015, 0.1, 0.2],
    };
    let answers = Plan::new()
        .unwrap()
        .answers(&EXIT, &ball(), &AIR, &asks(), lattice)
        .unwrap();
    // Within a unit, and out to two: the neglected terms are of the fourth degree, so about sixteen times as large.
    let worst = |reach: f64| {
        let mut stream = Stream::new(4, 4);
        let mut worst_m: f64 = 0.0;
        for _ in 0..60 {
            let knobs: [f64; KNOBS] = std::array::from_fn(|k| {
                lattice.centre[k] + reach * (2.0 * stream.uniform() - 1.0) * lattice.unit[k]
            });
            let path = flight(&EXIT, &ball(), &AIR, &knobs, -20.0);
            for (answer, ask) in answers.iter().zip(asks()) {
                let exact = crossing(&path, &ask).unwrap();
                let met = answer.at(&knobs);
                for k in 0..3 {
                    worst_m = worst_m.max((met.place_m[k][0] - exact[k + 1]).abs());
                    assert!((met.velocity_mps[k] - exact[k + 4]).abs() < 0.02);
                }
                assert!((met.time_s[0] - exact[0]).abs() < 1e-3);
            }
        }
        worst_m
    };
    let (near, far) = (worst(1.0), worst(2.0));
    assert!(near < 2e-5, "{near}");
    assert!(far < 4e-4, "{far}");
}

#[test]
fn slopes_of_a_polynomial_are_those_of_its_values() {
    let lattice = Lattice {
        centre: [0.0; KNOBS],
        unit: [0.03, 0.03, 0.15, 0.3],
    };
    let answers = Plan::new()
        .unwrap()
        .answers(&EXIT, &ball(), &AIR, &asks(), lattice)
        .unwrap();
    let knobs = [0.011, -0.017, 0.07, -0.2];
    for answer in &answers {
        for axis in 0..2 {
            let h = 1e-5;
            let at = |by: f64| {
                let mut moved = knobs;
                moved[axis] += by;
                answer.at(&moved)
            };
            let (above, below, here) = (at(h), at(-h), at(0.0));
            for k in 0..3 {
                let slope = (above.place_m[k][0] - below.place_m[k][0]) / (2.0 * h);
                assert!((here.place_m[k][axis + 1] - slope).abs() < 1e-5, "{axis} {k}");
            }
            let slope = (above.time_s[0] - below.time_s[0]) / (2.0 * h);
            assert!((here.time_s[axis + 1] - slope).abs() < 1e-5);
        }
    }
}

#[test]
fn a_throw_that_stays_below_a_level_plane_is_short_by_twice_what_is_missing() {
    let path = flight(&EXIT, &ball(), &AIR, &[0.0; KNOBS], -20.0);
    let top = path.apex().unwrap().position_m;
    let ask = Ask {
        plane: Plane {
            point_m: [0.0, 0.0, top[2] + 0.3],
            normal: [0.0, 0.0, -1.0],
        },
        from_above: true,
    };
    let met = crossing(&path, &ask).unwrap();
    assert!((met[1] - (top[0] - 0.6)).abs() < 1e-5, "{met:?} {top:?}");
    assert_eq!(
        crossing(
            &path,
            &Ask {
                from_above: false,
                ..ask
            }
        ),
        None
    );
}
