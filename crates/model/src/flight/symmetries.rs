//! Symmetries of flight (moving air, compass direction, going on from any state) and the directions
//! and sizes of single forces.

use super::*;
use crate::numerics::vector::{cross, dot, norm, sub};
use proptest::prelude::*;

const G: f64 = 9.80665;

pub(super) fn bare_ball() -> Ball {
    Ball {
        mass_kg: 0.14,
        diameter_m: 0.178,
        inertia_coeff: 0.4,
        drag: Drag {
            law: DragLaw::None,
            scale_ratio: 1.0,
        },
        lift: Lift::None,
        spin_decay: SpinDecay::None,
        buoyancy: false,
        added_mass_coeff: 0.0,
    }
}

pub(super) fn still_air() -> Medium {
    Medium {
        density_kgpm3: 1.2,
        viscosity_pas: 1.81e-5,
        wind_mps: [0.0; 3],
        gravity_mps2: G,
    }
}

pub(super) fn thrown(position_m: [f64; 3], velocity_mps: [f64; 3], spin_radps: [f64; 3]) -> State {
    State {
        time_s: 0.0,
        position_m,
        velocity_mps,
        spin_radps,
    }
}

/// Speed and elevation in the plane of x and z.
pub(super) fn aimed(speed: f64, degrees: f64) -> [f64; 3] {
    let elevation = degrees.to_radians();
    [speed * elevation.cos(), 0.0, speed * elevation.sin()]
}

fn constant_drag(drag_coeff: f64) -> Drag {
    Drag {
        law: DragLaw::Constant { drag_coeff },
        scale_ratio: 1.0,
    }
}

fn at_x(x_m: f64) -> Plane {
    Plane {
        point_m: [x_m, 0.0, 0.0],
        normal: [1.0, 0.0, 0.0],
    }
}

const LONG: Until = Until {
    time_s: 5.0,
    floor_m: -100.0,
};

fn close(found: f64, wanted: f64, tolerance: f64) {
    assert!(
        (found - wanted).abs() <= tolerance * wanted.abs().max(1.0),
        "{found:.15} is not {wanted:.15}"
    );
}

/// Slowest throw through a point 4 m away and 2 m up: v² = g (h + √(h² + d²)), tan θ = that over d.
#[test]
fn the_slowest_vacuum_throw_through_a_point_hits_it_square_to_its_launch() {
    let reach = 2.0 + 20.0_f64.sqrt();
    let (speed, elevation) = ((G * reach).sqrt(), (reach / 4.0).atan());
    close(speed, 7.966804382, 1e-10);
    close(elevation.to_degrees(), 58.28252559, 1e-10);
    let start = thrown([0.0; 3], aimed(speed, elevation.to_degrees()), [0.0; 3]);
    let path = fly(&bare_ball(), &still_air(), &start, &LONG);
    let hit = path.crossing(&at_x(4.0)).unwrap();
    close(hit.position_m[2], 2.0, 1e-12);
    close(dot(hit.velocity_mps, start.velocity_mps), 0.0, 1e-10);
    close(norm(hit.velocity_mps), 4.923755890, 1e-9);
    let per_speed = dposition_dspeed(&bare_ball(), &still_air(), &start, &at_x(4.0), &LONG).unwrap();
    close(per_speed[2], 1.122692548, 1e-8);
    let per_angle = dposition_delevation(&bare_ball(), &still_air(), &start, &at_x(4.0), &LONG).unwrap();
    close(per_angle[2], 0.0, 1e-7);
}

/// The deceleration is along the velocity and depends on its whole size.
#[test]
fn drag_uses_the_whole_speed_and_points_against_the_motion() {
    let ball = Ball {
        drag: constant_drag(0.5),
        ..bare_ball()
    };
    let air = Medium {
        gravity_mps2: 0.0,
        ..still_air()
    };
    let straight = acceleration(&ball, &air, &thrown([0.0; 3], [7.0, 0.0, 0.0], [0.0; 3]))[0];
    let slanted = acceleration(&ball, &air, &thrown([0.0; 3], [2.0, 3.0, 6.0], [0.0; 3]));
    for (i, part) in [2.0, 3.0, 6.0].into_iter().enumerate() {
        close(slanted[i], straight * part / 7.0, 1e-14);
    }
}

#[test]
fn backspin_lifts_and_sidespin_bends_by_the_right_hand() {
    let ball = Ball {
        lift: Lift::Linear { slope_coeff: 0.3 },
        ..bare_ball()
    };
    let air = Medium {
        gravity_mps2: 0.0,
        ..still_air()
    };
    let pushed = |spin| acceleration(&ball, &air, &thrown([0.0; 3], [9.0, 0.0, 0.0], spin));
    assert!(pushed([0.0, -50.0, 0.0])[2] > 0.1, "backspin");
    assert!(pushed([0.0, 50.0, 0.0])[2] < -0.1, "topspin");
    assert!(
        pushed([0.0, 0.0, 50.0])[1] > 0.1,
        "counterclockwise from above bends to the left"
    );
    assert_eq!(pushed([50.0, 0.0, 0.0]), [0.0; 3], "spin along the motion");
}

/// Only the spin across the motion counts, in S too; with the whole-spin law a lean shortens the force.
#[test]
fn a_leaning_spin_axis_lifts_by_its_part_across_the_motion() {
    let air = Medium {
        gravity_mps2: 0.0,
        ..still_air()
    };
    let (a_coeff, b_coeff, scale_ratio) = (0.4, 2.32, 1.0);
    let across = Ball {
        lift: Lift::Saturating {
            a_coeff,
            b_coeff,
            scale_ratio,
        },
        ..bare_ball()
    };
    let whole = Ball {
        lift: Lift::SaturatingWholeSpin {
            a_coeff,
            b_coeff,
            scale_ratio,
        },
        ..bare_ball()
    };
    let lift = |ball: &Ball, spin| acceleration(ball, &air, &thrown([0.0; 3], [9.0, 0.0, 0.0], spin))[2];
    let (leaning, upright) = ([30.0, -40.0, 0.0], [0.0, -40.0, 0.0]);
    close(lift(&across, leaning), lift(&across, upright), 1e-13);
    close(lift(&whole, upright), lift(&across, upright), 1e-13);
    let cl = |spin: f64| lift_coeff(&across.lift, 0.089 * spin / 9.0);
    close(
        lift(&whole, leaning) / lift(&whole, upright),
        cl(50.0) * 0.8 / cl(40.0),
        1e-13,
    );
}

/// A uniform wind is a moving frame: fly in it without wind, then add its way.
#[test]
fn wind_enters_as_the_velocity_relative_to_the_air() {
    let (a_coeff, b_coeff, scale_ratio) = (0.4, 2.32, 1.0);
    let ball = Ball {
        drag: Drag {
            law: DragLaw::CliftGauvin,
            scale_ratio: 1.1,
        },
        lift: Lift::Saturating {
            a_coeff,
            b_coeff,
            scale_ratio,
        },
        spin_decay: SpinDecay::Aero { torque_coeff: 0.02 },
        ..bare_ball()
    };
    let wind = [1.5, -2.0, 0.4];
    let (velocity, spin) = (aimed(9.0, 55.0), [5.0, -60.0, 8.0]);
    let windy = fly(
        &ball,
        &Medium {
            wind_mps: wind,
            ..still_air()
        },
        &thrown([0.0; 3], velocity, spin),
        &LONG,
    );
    let calm = fly(
        &ball,
        &still_air(),
        &thrown([0.0; 3], sub(velocity, wind), spin),
        &LONG,
    );
    for t in [0.2, 0.9, 1.8] {
        let (windy, calm) = (windy.at(t), calm.at(t));
        for (i, wind) in wind.into_iter().enumerate() {
            close(windy.position_m[i], calm.position_m[i] + wind * t, 1e-11);
            close(windy.velocity_mps[i], calm.velocity_mps[i] + wind, 1e-11);
            close(windy.spin_radps[i], calm.spin_radps[i], 1e-11);
        }
    }
}

#[test]
fn buoyancy_takes_the_weight_of_the_air_displaced_and_carried_air_adds_inertia() {
    let volume = 4.0 / 3.0 * std::f64::consts::PI * 0.089_f64.powi(3);
    let air_kg = 1.2 * volume;
    let fall = |buoyancy, added_mass_coeff| {
        let ball = Ball {
            buoyancy,
            added_mass_coeff,
            ..bare_ball()
        };
        -acceleration(&ball, &still_air(), &thrown([0.0; 3], [0.0; 3], [0.0; 3]))[2]
    };
    close(fall(false, 0.0), G, 1e-15);
    close(fall(true, 0.0), G * (0.14 - air_kg) / 0.14, 1e-14);
    close(fall(false, 0.5), G * 0.14 / (0.14 + 0.5 * air_kg), 1e-14);
    // On a scale in air the weight shows as it is and only the inertia is left to add, 1.5 times the air.
    let scale_kg = 0.14 - air_kg;
    let ball = Ball {
        mass_kg: scale_kg,
        added_mass_coeff: 1.5,
        ..bare_ball()
    };
    let by_scale = -acceleration(&ball, &still_air(), &thrown([0.0; 3], [0.0; 3], [0.0; 3]))[2];
    close(by_scale, fall(true, 0.5), 1e-14);
}

#[test]
fn carried_air_weakens_drag_and_lift_alike() {
    let dragged = |added_mass_coeff| {
        let ball = Ball {
            drag: constant_drag(0.5),
            added_mass_coeff,
            ..bare_ball()
        };
        let air = Medium {
            gravity_mps2: 0.0,
            ..still_air()
        };
        acceleration(&ball, &air, &thrown([0.0; 3], [9.0, 0.0, 0.0], [0.0; 3]))[0]
    };
    let air_kg = 1.2 * 4.0 / 3.0 * std::f64::consts::PI * 0.089_f64.powi(3);
    close(dragged(0.5) / dragged(0.0), 0.14 / (0.14 + 0.5 * air_kg), 1e-14);
}

#[test]
fn the_spin_parameter_and_the_reynolds_number_use_the_speed_through_the_air() {
    let air = Medium {
        wind_mps: [-3.0, 0.0, 0.0],
        ..still_air()
    };
    let state = thrown([0.0; 3], [6.0, 0.0, 0.0], [0.0, -40.0, 30.0]);
    close(
        reynolds(&bare_ball(), &air, &state),
        1.2 * 9.0 * 0.178 / 1.81e-5,
        1e-14,
    );
    close(
        spin_parameter(&bare_ball(), &air, &state),
        0.089 * 50.0 / 9.0,
        1e-14,
    );
}

/// A ball that any maker could sell, in one of the laws that have one formula.
fn any_ball() -> impl Strategy<Value = Ball> {
    let drag = prop_oneof![
        Just(DragLaw::None),
        (0.2..0.7).prop_map(|drag_coeff| DragLaw::Constant { drag_coeff }),
        Just(DragLaw::CliftGauvin),
        Just(DragLaw::BrownLawler),
        Just(DragLaw::HaiderLevenspiel),
        Just(DragLaw::Morrison),
    ];
    let lift = prop_oneof![
        Just(Lift::None),
        (0.1..0.5).prop_map(|slope_coeff| Lift::Linear { slope_coeff }),
        Just(Lift::Bilinear),
        (0.3..1.2).prop_map(|scale_ratio| Lift::Saturating {
            a_coeff: 0.4,
            b_coeff: 2.32,
            scale_ratio
        }),
        (0.3..1.2).prop_map(|scale_ratio| Lift::SaturatingWholeSpin {
            a_coeff: 0.4,
            b_coeff: 2.32,
            scale_ratio
        }),
    ];
    let decay = prop_oneof![
        Just(SpinDecay::None),
        (2.0..20.0).prop_map(|tau_s| SpinDecay::TimeConstant { tau_s }),
        (0.01..0.05).prop_map(|torque_coeff| SpinDecay::Aero { torque_coeff }),
    ];
    (drag, lift, decay, 0.075..0.25, 0.02..0.3, 0.9..1.1).prop_map(
        |(law, lift, spin_decay, diameter_m, mass_kg, scale_ratio)| Ball {
            mass_kg,
            diameter_m,
            drag: Drag { law, scale_ratio },
            lift,
            spin_decay,
            ..bare_ball()
        },
    )
}

fn any_throw() -> impl Strategy<Value = State> {
    let spin = [-60.0..60.0, -100.0..100.0, -60.0..60.0_f64];
    (3.0..15.0, 10.0..80.0, -0.3..0.3_f64, spin).prop_map(|(speed, degrees, azimuth, spin)| {
        let [level, _, up] = aimed(speed, degrees);
        thrown(
            [0.0, 0.0, 0.5],
            [level * azimuth.cos(), level * azimuth.sin(), up],
            spin,
        )
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn a_quick_flight_stays_within_half_a_micrometre_of_a_tight_one(ball in any_ball(), start in any_throw()) {
        let until = Until { time_s: 3.0, floor_m: 0.0 };
        let tight = fly(&ball, &still_air(), &start, &until);
        let quick = fly_to_accuracy(&ball, &still_air(), &start, &until, Accuracy::Quick);
        for t in [0.3, 0.8, tight.end().time_s] {
            let gap = norm(sub(tight.at(t).position_m, quick.at(t).position_m));
            prop_assert!(gap < 5e-7, "{gap:e} m at {t}");
        }
    }

    /// Restarting from any state of a path continues the path.
    #[test]
    fn a_flight_goes_on_from_any_of_its_states(ball in any_ball(), start in any_throw(), t in 0.05..1.0) {
        let whole = fly(&ball, &still_air(), &start, &LONG);
        let rest = fly(&ball, &still_air(), &whole.at(t), &LONG);
        let (a, b) = (whole.at(t + 0.8), rest.at(t + 0.8));
        prop_assert!(norm(sub(a.position_m, b.position_m)) < 1e-10);
    }

    /// Rotating throw and wind about the vertical rotates the path.
    #[test]
    fn no_compass_direction_is_special(ball in any_ball(), start in any_throw(), turn in 0.0..6.0_f64) {
        let about_z = |v: [f64; 3]| {
            let [x, y, z] = v;
            [x * turn.cos() - y * turn.sin(), x * turn.sin() + y * turn.cos(), z]
        };
        let windy = |wind_mps| Medium { wind_mps, ..still_air() };
        let wind = [1.0, -0.5, 0.2];
        let path = fly(&ball, &windy(wind), &start, &LONG);
        let turned = thrown(about_z(start.position_m), about_z(start.velocity_mps), about_z(start.spin_radps));
        let image = fly(&ball, &windy(about_z(wind)), &turned, &LONG);
        let gap = norm(sub(about_z(path.at(1.1).position_m), image.at(1.1).position_m));
        prop_assert!(gap < 1e-11, "{gap:e}");
    }
}

/// The force of lift is across both spin and motion.
#[test]
fn lift_is_square_to_spin_and_motion() {
    let ball = Ball {
        lift: Lift::Bilinear,
        ..bare_ball()
    };
    let air = Medium {
        gravity_mps2: 0.0,
        ..still_air()
    };
    let (velocity, spin) = ([5.0, 1.0, 6.0], [7.0, -50.0, 12.0]);
    let lift = acceleration(&ball, &air, &thrown([0.0; 3], velocity, spin));
    close(dot(lift, velocity), 0.0, 1e-13);
    close(dot(lift, spin), 0.0, 1e-12);
    assert!(dot(lift, cross(spin, velocity)) > 0.0);
}
