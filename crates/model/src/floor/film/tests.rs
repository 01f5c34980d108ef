//! Films of flights that are known.

use super::*;
use crate::flight::checks::cases;
use crate::flight::{Drag, DragLaw, SpinDecay, State, Until, fly};
use crate::numerics::random::Stream;

const AIR: Medium = Medium {
    density_kgpm3: 1.2,
    viscosity_pas: 1.81e-5,
    wind_mps: [0.0; 3],
    gravity_mps2: 9.806_65,
};

fn ball() -> Ball {
    Ball {
        mass_kg: 0.14,
        diameter_m: 0.178,
        inertia_coeff: 0.4,
        drag: Drag {
            law: DragLaw::Constant { drag_coeff: 0.5 },
            scale_ratio: 1.0,
        },
        lift: Lift::Linear { slope_coeff: 0.8 },
        spin_decay: SpinDecay::None,
        buoyancy: false,
        added_mass_coeff: 0.0,
    }
}

/// Points of a throw at 8 m/s and 60°, with drag times `drag` and a spin parameter.
fn film(drag: f64, spin_ratio: f64, frames: u32, fps: f64, noise_m: f64, seed: u64) -> Vec<Point> {
    let mut ball = ball();
    ball.drag.scale_ratio = drag;
    let (v, angle) = (8.0, 60f64.to_radians());
    let start = State {
        time_s: 0.0,
        position_m: [0.0, 0.0, 0.6],
        velocity_mps: [v * angle.cos(), 0.0, v * angle.sin()],
        spin_radps: [0.0, -spin_ratio * v / 0.089, 0.0],
    };
    let until = Until {
        time_s: 10.0,
        floor_m: -50.0,
    };
    let path = fly(&ball, &AIR, &start, &until);
    let mut random = Stream::new(seed, 5);
    (0..frames)
        .map(|i| {
            let time_s = f64::from(i) / fps;
            let p = path.at(time_s).position_m;
            Point {
                time_s: 3.0 + time_s,
                x_m: 1.0 + p[0] + noise_m * random.normal(),
                z_m: p[2] + noise_m * random.normal(),
            }
        })
        .collect()
}

const NOTHING_KNOWN: Known = Known {
    drag_ratio: Some([1.0, 20.0]),
    spin_ratio: Some([0.0, 20.0]),
};

/// The flights of the checks folder that stay in one plane, filmed without noise.
#[test]
fn a_film_of_a_reference_flight_gives_its_parameters_back() {
    let mut done = 0;
    for case in cases() {
        let s = case.start;
        let flat = s.position_m[1] == 0.0
            && s.velocity_mps[1] == 0.0
            && case.medium.wind_mps[1] == 0.0
            && s.spin_radps[0] == 0.0
            && s.spin_radps[2] == 0.0
            && case.medium.gravity_mps2 > 0.0;
        if !flat {
            continue;
        }
        let path = fly(&case.ball, &case.medium, &s, &case.until);
        let last_s = path.end().time_s.min(1.5);
        let points: Vec<Point> = (0..60)
            .map(|i| {
                let time_s = s.time_s + (last_s - s.time_s) * f64::from(i) / 59.0;
                let p = path.at(time_s).position_m;
                Point {
                    time_s,
                    x_m: p[0],
                    z_m: p[2],
                }
            })
            .collect();
        let got = learn_film(&points, &case.ball, &case.medium, &NOTHING_KNOWN)
            .unwrap_or_else(|e| panic!("{}: {}", case.id, e.what));
        done += 1;
        let speed = s.velocity_mps[0].hypot(s.velocity_mps[2]);
        let angle = s.velocity_mps[2].atan2(s.velocity_mps[0].abs());
        assert!(
            (got.speed_mps.value / speed - 1.0).abs() < 1e-4,
            "{}: {:?} {speed}",
            case.id,
            got.speed_mps
        );
        assert!(
            (got.angle_rad.value - angle).abs() < 1e-4,
            "{}: {:?} {angle}",
            case.id,
            got.angle_rad
        );
        assert!(got.residual_rms_m < 1e-5, "{}: {}", case.id, got.residual_rms_m);
        if !matches!(case.ball.drag.law, DragLaw::None) && case.medium.density_kgpm3 > 0.0 {
            assert!(
                (got.drag_ratio.value - 1.0).abs() < 0.02,
                "{}: {:?}",
                case.id,
                got.drag_ratio
            );
        }
    }
    assert!(done >= 5, "only {done} flights lie in a plane");
}

#[test]
fn noisy_films_hold_the_truth_in_their_intervals_about_as_often_as_stated() {
    let runs = 120;
    let (mut speed, mut angle, mut drag, mut gravity) = (0, 0, 0, 0);
    for seed in 0..runs {
        let got = learn_film(
            &film(1.1, 0.15, 40, 40.0, 0.008, seed),
            &ball(),
            &AIR,
            &USUALLY_KNOWN,
        )
        .unwrap();
        let inside = |e: &Estimate, truth: f64| usize::from(e.low <= truth && truth <= e.high);
        speed += inside(&got.speed_mps, 8.0);
        angle += inside(&got.angle_rad, 60f64.to_radians());
        drag += inside(&got.drag_ratio, 1.1);
        gravity += inside(&got.gravity_mps2.unwrap(), 9.806_65);
        assert!((got.residual_rms_m - 0.008 * 2f64.sqrt()).abs() < 0.004);
        assert!(got.drag_learned);
    }
    // 95 % of 120 are 114; below 107 or with all inside on every count, chance does not explain it.
    for (name, inside) in [
        ("speed", speed),
        ("angle", angle),
        ("drag", drag),
        ("gravity", gravity),
    ] {
        assert!((107..=120).contains(&inside), "{name}: {inside} of {runs}");
    }
    assert!(speed + angle + drag + gravity < 478);
}

#[test]
fn a_wrong_scale_and_a_wrong_frame_rate_are_called_out_with_their_size() {
    let right = film(1.0, 0.1, 60, 60.0, 0.004, 1);
    let scale = |d: &Film| d.doubts.iter().find(|d| d.name == "scale").cloned();
    let got = learn_film(&right, &ball(), &AIR, &USUALLY_KNOWN).unwrap();
    assert_eq!(scale(&got), None, "{:?}", got.gravity_mps2);
    let short: Vec<Point> = right
        .iter()
        .map(|p| Point {
            x_m: 0.8 * p.x_m,
            z_m: 0.8 * p.z_m,
            ..*p
        })
        .collect();
    let got = learn_film(&short, &ball(), &AIR, &USUALLY_KNOWN).unwrap();
    let doubt = scale(&got).unwrap();
    assert!(
        doubt.serious && doubt.words.contains("too short") && doubt.words.contains("g = 7."),
        "{}",
        doubt.words
    );
    let slow: Vec<Point> = right
        .iter()
        .map(|p| Point {
            time_s: 0.9 * p.time_s,
            ..*p
        })
        .collect();
    let got = learn_film(&slow, &ball(), &AIR, &USUALLY_KNOWN).unwrap();
    let doubt = scale(&got).unwrap();
    assert!(
        doubt.words.contains("g = 12.") && doubt.words.contains("too high"),
        "{}",
        doubt.words
    );
}

#[test]
fn a_short_arc_says_that_it_does_not_know_drag() {
    let got = learn_film(
        &film(1.0, 0.1, 12, 120.0, 0.004, 2),
        &ball(),
        &AIR,
        &USUALLY_KNOWN,
    )
    .unwrap();
    assert!(!got.drag_learned && got.doubts.iter().any(|d| d.name == "drag"));
    assert!(got.doubts.iter().any(|d| d.name == "gravity"));
    assert!((got.speed_mps.value - 8.0).abs() < 0.3);
}

#[test]
fn a_bending_lens_shows_as_waves_and_a_slip_is_left_out() {
    let right = film(1.0, 0.1, 60, 60.0, 0.002, 3);
    let middle = [2.5, 2.0];
    let bent: Vec<Point> = right
        .iter()
        .map(|p| {
            let (dx, dz) = (p.x_m - middle[0], p.z_m - middle[1]);
            let k = 1.0 - 0.04 * (dx * dx + dz * dz);
            Point {
                x_m: middle[0] + k * dx,
                z_m: middle[1] + k * dz,
                ..*p
            }
        })
        .collect();
    let named = |f: &Film, name: &str| f.doubts.iter().any(|d| d.name == name);
    let straight = learn_film(&right, &ball(), &AIR, &USUALLY_KNOWN).unwrap();
    assert!(
        !named(&straight, "pattern") && !named(&straight, "slips"),
        "{:?}",
        straight.doubts
    );
    assert!(named(
        &learn_film(&bent, &ball(), &AIR, &USUALLY_KNOWN).unwrap(),
        "pattern"
    ));
    let mut slipped = right.clone();
    slipped[20].z_m += 0.4;
    let got = learn_film(&slipped, &ball(), &AIR, &USUALLY_KNOWN).unwrap();
    assert!(named(&got, "slips") && got.residuals_m[20].is_none());
    assert!((got.speed_mps.value - 8.0).abs() < 0.05);
}

#[test]
fn frames_missed_copied_and_uneven_are_told_apart() {
    let right = film(1.0, 0.1, 60, 60.0, 0.002, 4);
    let named = |p: &[Point], name: &str| {
        learn_film(p, &ball(), &AIR, &USUALLY_KNOWN)
            .unwrap()
            .doubts
            .iter()
            .any(|d| d.name == name && d.serious)
    };
    let mut missed = right.clone();
    missed.remove(30);
    assert!(!named(&missed, "frames"));
    let mut copied = right.clone();
    for i in [11, 21, 31] {
        (copied[i].x_m, copied[i].z_m) = (copied[i - 1].x_m, copied[i - 1].z_m);
    }
    assert!(named(&copied, "repeats"));
    let uneven: Vec<Point> = right
        .iter()
        .enumerate()
        .map(|(i, p)| Point {
            time_s: p.time_s + if i % 2 == 0 { 0.004 } else { 0.0 },
            ..*p
        })
        .collect();
    assert!(named(&uneven, "frames"));
}

#[test]
fn a_throw_to_the_left_gives_the_same_speed_and_angle() {
    let right = film(1.0, 0.1, 60, 60.0, 0.002, 6);
    let left: Vec<Point> = right
        .iter()
        .map(|p| Point {
            x_m: 9.0 - p.x_m,
            ..*p
        })
        .collect();
    let (a, b) = (
        learn_film(&right, &ball(), &AIR, &USUALLY_KNOWN).unwrap(),
        learn_film(&left, &ball(), &AIR, &USUALLY_KNOWN).unwrap(),
    );
    assert!(b.mirrored && !a.mirrored);
    assert!((a.speed_mps.value - b.speed_mps.value).abs() < 1e-6);
}

#[test]
fn pixels_become_metres_by_the_known_length_and_height() {
    let scale = PictureScale {
        length_m: 1.0,
        length_px: 400.0,
        y_down: true,
        first_height_m: 0.6,
    };
    let got = from_picture(&[[0.0, 100.0, 900.0], [0.1, 300.0, 700.0]], &scale).unwrap();
    assert!((got[1].x_m - 0.75).abs() < 1e-12 && (got[1].z_m - 1.1).abs() < 1e-12 && got[0].z_m == 0.6);
    for length_px in [0.0, -3.0, f64::NAN, f64::INFINITY] {
        let e = from_picture(&[], &PictureScale { length_px, ..scale }).unwrap_err();
        assert_eq!(e.code, "film-scale");
    }
}

#[test]
fn films_that_cannot_be_fitted_are_refused_with_the_reason() {
    let good = film(1.0, 0.1, 30, 60.0, 0.002, 8);
    let code = |p: &[Point]| learn_film(p, &ball(), &AIR, &USUALLY_KNOWN).unwrap_err().code;
    assert_eq!(code(&good[..3]), "film-short");
    assert_eq!(code(&[]), "film-short");
    let change = |f: &dyn Fn(usize, Point) -> Point| -> Vec<Point> {
        good.iter().enumerate().map(|(i, p)| f(i, *p)).collect()
    };
    assert_eq!(
        code(&change(&|_, p| Point {
            x_m: 1.0,
            z_m: 1.0,
            ..p
        })),
        "film-still"
    );
    assert_eq!(
        code(&change(&|_, p| Point { z_m: -p.z_m, ..p })),
        "film-upside-down"
    );
    assert_eq!(
        code(&change(&|_, p| Point {
            time_s: -p.time_s,
            ..p
        })),
        "film-goes-back"
    );
    assert_eq!(
        code(&change(&|i, p| Point {
            x_m: if i == 4 { f64::NAN } else { p.x_m },
            ..p
        })),
        "film-not-a-number"
    );
    let weightless = Ball {
        mass_kg: 0.0,
        ..ball()
    };
    assert_eq!(
        learn_film(&good, &weightless, &AIR, &USUALLY_KNOWN)
            .unwrap_err()
            .code,
        "film-piece"
    );
    for huge in [1e6, 1e300, 1e-9] {
        let _ = learn_film(
            &change(&|_, p| Point {
                x_m: huge * p.x_m,
                ..p
            }),
            &ball(),
            &AIR,
            &USUALLY_KNOWN,
        );
        let _ = learn_film(
            &change(&|_, p| Point {
                time_s: huge * p.time_s,
                ..p
            }),
            &ball(),
            &AIR,
            &USUALLY_KNOWN,
        );
    }
}
