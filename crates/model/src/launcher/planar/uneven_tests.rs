//! An uneven guide and a piece that is not round, against what they must equal.

use std::f64::consts::PI;

use super::tests::*;
use super::*;
use crate::launcher::rolling::{Held, rolling};

fn with_error(error: GuideError) -> Launcher {
    Launcher {
        guide_error: error,
        ..launcher(Layout::Guide(guide()))
    }
}

fn gaps(values: &[f64]) -> GuideError {
    let mut added_m = [0.0; MOST_GAPS];
    added_m[..values.len()].copy_from_slice(values);
    GuideError::Gaps {
        count: values.len(),
        added_m,
    }
}

fn wave(amplitude_m: f64, wavelength_m: f64, phase_rad: f64) -> GuideError {
    GuideError::Wave {
        amplitude_m,
        wavelength_m,
        phase_rad,
    }
}

fn hood() -> Setting {
    Setting {
        slide_m: 0.0,
        tilt_rad: 10f64.to_radians(),
        reach_m: 0.06,
    }
}

fn traced(l: &Launcher, b: &Body, step_s: f64) -> Vec<PassageSample> {
    let options = PassOptions { step_s, trace: true };
    match pass(l, b, &BARE, 3000.0 * PI / 30.0, &COASTING, 0.0, &options) {
        Passage::Thrown(r) => r.trace,
        Passage::Refused { why, .. } => panic!("{why}"),
    }
}

/// Polar angle about the axle.
fn polar(p: &PassageSample) -> f64 {
    (p.centre_m[1] - 0.3).atan2(p.centre_m[0]).rem_euclid(2.0 * PI)
}

/// The samples in the middle of the guide, where ends no longer matter.
fn middle(trace: &[PassageSample]) -> Vec<PassageSample> {
    let end = 0.5 * PI + guide().end_angle_rad;
    let range = (end + 0.15 * guide().wrap_rad)..(end + 0.45 * guide().wrap_rad);
    trace
        .iter()
        .filter(|p| range.contains(&polar(p)))
        .copied()
        .collect()
}

#[test]
fn no_amplitude_and_level_gaps_change_no_bit() {
    let plain = launcher(Layout::Guide(guide()));
    let want = thrown(&plain, &body(), &hood(), 3000.0, 9.8, STEP_S);
    for error in [wave(0.0, 0.08, 1.0), wave(0.0, 0.0, f64::NAN), gaps(&[0.0; 7])] {
        assert_eq!(
            thrown(&with_error(error), &body(), &hood(), 3000.0, 9.8, STEP_S),
            want
        );
    }
    let smooth = Launcher {
        bite: Some(Bite {
            depth_m: [0.0; BITE_COUNT],
        }),
        ..plain
    };
    assert_eq!(thrown(&smooth, &body(), &hood(), 3000.0, 9.8, STEP_S), want);
}

/// The curve made of spans lies on the arc it stands for: an error too small to matter changes nothing.
#[test]
fn a_vanishing_error_gives_the_throw_of_the_even_guide() {
    let want = thrown(
        &launcher(Layout::Guide(guide())),
        &body(),
        &hood(),
        3000.0,
        9.8,
        STEP_S,
    );
    let r = thrown(
        &with_error(gaps(&[1e-12, 1e-12])),
        &body(),
        &hood(),
        3000.0,
        9.8,
        STEP_S,
    );
    assert!(
        (speed(&r) / speed(&want) - 1.0).abs() < 1e-7,
        "{} {}",
        speed(&r),
        speed(&want)
    );
    assert!((angle(&r) - angle(&want)).abs() < 1e-7);
}

/// A guide that stands off by the same everywhere is a guide of that gap. Only the way in is its own.
#[test]
fn a_level_profile_of_gaps_is_a_changed_gap() {
    let by = 2e-3;
    let wide = launcher(Layout::Guide(GuideShape {
        gap_m: guide().gap_m + by,
        ..guide()
    }));
    let even = thrown(
        &launcher(Layout::Guide(guide())),
        &body(),
        &BARE,
        3000.0,
        0.0,
        STEP_S,
    );
    let want = thrown(&wide, &body(), &BARE, 3000.0, 0.0, STEP_S);
    let long = wave(by, 1e4, 0.5 * PI);
    for error in [gaps(&[by; 5]), long] {
        let r = thrown(&with_error(error), &body(), &BARE, 3000.0, 0.0, STEP_S);
        let (moved, off) = (
            (speed(&want) - speed(&even)).abs(),
            (speed(&r) - speed(&want)).abs(),
        );
        assert!(off < 0.1 * moved && off < 2e-3 * speed(&want), "{off} of {moved}");
        let (moved, off) = (angle(&want) - angle(&even), angle(&r) - angle(&want));
        assert!(off.abs() < 0.05 * moved.abs(), "{off} of {moved}");
        let force = |l: &Launcher| {
            let t = middle(&traced(l, &body(), STEP_S));
            t.iter().map(|p| p.guide_normal_n).sum::<f64>() / t.len() as f64
        };
        let (there, here) = (force(&wide), force(&with_error(error)));
        assert!((here / there - 1.0).abs() < 0.005, "{here} {there}");
    }
}

/// Where a frictionless guide widens at slope dg/ds, its force leans forward by that slope and gives back what
/// the squeeze had stored. Without the tilt of the normal there is no such push.
#[test]
fn a_widening_guide_squeezes_the_piece_forward() {
    let slope = 0.02;
    let arc = (0.048 + guide().gap_m) * guide().wrap_rad;
    let l = Launcher {
        wheel_friction_coeff: 0.0,
        layout: Layout::Guide(GuideShape {
            friction_coeff: 0.0,
            ..guide()
        }),
        ..with_error(gaps(&[-0.5 * slope * arc, 0.5 * slope * arc]))
    };
    let b = Body {
        bounce_coeff: 1.0,
        ..body()
    };
    // Pushed in hard, it passes; what the squeeze gives back along the way is kinetic energy.
    let l = Launcher {
        feed_speed_mps: 6.0,
        feed_push_n: 400.0,
        ..l
    };
    let t = middle(&traced(&l, &b, 2e-5));
    let (first, last) = (t[0], t[t.len() - 1]);
    let v2 = |p: &PassageSample| p.velocity_mps[0].powi(2) + p.velocity_mps[1].powi(2);
    let gained = 0.5 * b.mass_kg * (v2(&last) - v2(&first));
    // Stored: each side presses with N = 2K d over depth d.
    let stored = |p: &PassageSample| {
        (p.guide_normal_n.powi(2) + p.wheel_normal_n.powi(2)) / (2.0 * 2.0 * b.stiffness_npm)
    };
    let released = stored(&first) - stored(&last);
    assert!(released > 0.02, "{released}");
    assert!((gained / released - 1.0).abs() < 0.02, "{gained} {released}");
    // And by the moment of the leaning force about the axle: d(m r v)/dt = N · slope · radius of the guide.
    let momentum = |p: &PassageSample| {
        let [x, z] = [p.centre_m[0], p.centre_m[1] - 0.3];
        b.mass_kg * (z * p.velocity_mps[0] - x * p.velocity_mps[1])
    };
    let impulse: f64 = t
        .windows(2)
        .map(|p| 0.5 * (p[0].guide_normal_n + p[1].guide_normal_n) * (p[1].time_s - p[0].time_s))
        .sum();
    let (found, want) = (
        momentum(&last) - momentum(&first),
        impulse * slope * (0.048 + guide().gap_m),
    );
    assert!((found / want - 1.0).abs() < 0.03, "{found} {want}");
}

/// v/w of a piece that rolls on both sides is its distance from the guide: (gap + b)/2, as a piece whose
/// wheel side is shallower by b sits that much nearer the wheel.
#[test]
fn a_level_outline_rolls_on_a_shorter_arm() {
    let depth = 5e-3;
    let stiff = Body {
        stiffness_npm: 20_000.0,
        ..body()
    };
    let l = Launcher {
        bite: Some(Bite {
            depth_m: [depth; BITE_COUNT],
        }),
        wheel_inertia_kgm2: 1.0,
        feed_push_n: 60.0,
        ..launcher(Layout::Guide(guide()))
    };
    let gap = guide().gap_m;
    let ratios = [(Launcher { bite: None, ..l }, 0.0), (l, depth)].map(|(l, b)| {
        let t = middle(&traced(&l, &stiff, 2e-5));
        assert!(
            t.iter()
                .all(|p| p.wheel_slip_mps == 0.0 && p.guide_slip_mps == 0.0)
        );
        let p = t[t.len() - 1];
        let want = rolling(
            &Held {
                mass_kg: stiff.mass_kg,
                inertia_kgm2: 1.0,
                arm_1_m: 0.5 * (gap - b),
                arm_2_m: 0.5 * (gap + b),
            },
            0.048 * p.wheel_radps,
            0.0,
        );
        let v = p.velocity_mps[0].hypot(p.velocity_mps[1]);
        assert!((p.spin_radps / want.spin_radps - 1.0).abs() < 0.01);
        (v, want.speed_mps)
    });
    // The centripetal push toward the guide is common to both and drops out of the ratio.
    let (found, want) = (ratios[1].0 / ratios[0].0, ratios[1].1 / ratios[0].1);
    assert!(want > 1.04 && (found - want).abs() < 0.003, "{found} {want}");
}

/// A level outline takes its depth from the squeeze: same force as with a gap that much wider.
#[test]
fn a_level_outline_takes_its_depth_from_the_squeeze() {
    let force = |depth: f64, gap: f64| {
        let l = Launcher {
            bite: Some(Bite {
                depth_m: [depth; BITE_COUNT],
            }),
            ..launcher(Layout::Guide(GuideShape {
                gap_m: gap,
                ..guide()
            }))
        };
        let t = middle(&traced(&l, &body(), STEP_S));
        t.iter().map(|p| p.guide_normal_n + p.wheel_normal_n).sum::<f64>() / t.len() as f64
    };
    let (bitten, wider, plain) = (force(3e-3, 0.100), force(0.0, 0.103), force(0.0, 0.100));
    assert!(plain / bitten > 1.2, "{plain} {bitten}");
    assert!((bitten / wider - 1.0).abs() < 0.02, "{bitten} {wider}");
}

/// Only the direction that faces the wheel counts, turned with the piece.
#[test]
fn a_bite_acts_where_the_piece_has_turned_to() {
    let l = launcher(Layout::Guide(guide()));
    let plain = traced(&l, &body(), STEP_S);
    let start = plain[0];
    let facing = |p: &PassageSample| (polar(p) - polar(&start) - p.turned_rad).rem_euclid(2.0 * PI);
    // A smooth dip centred where it faces the wheel half-way through.
    let mid = middle(&plain);
    let centre = facing(&mid[mid.len() / 2]);
    let mut depth_m = [0.0; BITE_COUNT];
    for (i, d) in depth_m.iter_mut().enumerate() {
        let away = (2.0 * PI * i as f64 / BITE_COUNT as f64 - centre + PI).rem_euclid(2.0 * PI) - PI;
        *d = 2e-3 * (-(away / 0.3).powi(2)).exp();
    }
    let bitten = traced(
        &Launcher {
            bite: Some(Bite { depth_m }),
            ..l
        },
        &body(),
        STEP_S,
    );
    let (at, lost) = plain
        .iter()
        .zip(&bitten)
        .filter(|(p, _)| p.wheel_normal_n > 5.0)
        .map(|(p, q)| (p, p.wheel_normal_n - q.wheel_normal_n))
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .unwrap();
    assert!(lost > 2.0, "{lost}");
    let off = (facing(at) - centre + PI).rem_euclid(2.0 * PI) - PI;
    assert!(off.abs() < 0.25, "{off}");
}

#[test]
fn energy_is_accounted_for_over_lumps_and_holes() {
    let rough = with_error(wave(0.8e-3, 0.09, 1.0));
    let mut depth_m = [0.0; BITE_COUNT];
    for (i, d) in depth_m.iter_mut().enumerate() {
        *d = 1e-3 * (1.0 + (6.0 * PI * i as f64 / BITE_COUNT as f64).cos());
    }
    let holed = Launcher {
        bite: Some(Bite { depth_m }),
        ..rough
    };
    for l in [rough, holed, with_error(gaps(&[0.5e-3, -0.5e-3, 0.8e-3, 0.0]))] {
        let share = |h: f64| {
            let a = thrown(&l, &body(), &hood(), 3000.0, 9.80665, h).audit;
            a.residual_j.abs() / (a.slip_heat_j + a.damping_heat_j)
        };
        assert!(share(STEP_S) < 1e-3, "{}", share(STEP_S));
        assert!(share(STEP_S / 16.0) < 4e-5, "{}", share(STEP_S / 16.0));
    }
}

#[test]
fn halving_the_step_on_a_wave_cuts_the_error_of_the_spin_about_fourfold() {
    let l = with_error(wave(0.8e-3, 0.12, 1.0));
    let spin = |rpm: f64, h: f64| thrown(&l, &body(), &hood(), rpm, 9.80665, h).spin_radps;
    let rms = |h: f64| {
        let squares = (0..8).map(|i| {
            let rpm = 2800.0 + 53.0 * f64::from(i);
            (spin(rpm, h) - spin(rpm, 1e-5)).powi(2)
        });
        (squares.sum::<f64>() / 8.0).sqrt()
    };
    let ratio = rms(3.2e-4) / rms(1.6e-4);
    assert!(ratio > 2.8 && ratio < 8.0, "{ratio}");
}

#[test]
fn a_pair_knows_no_guide_error() {
    let pair = launcher(Layout::Pair(PairShape {
        gap_m: 0.104,
        direction_rad: 0.9,
        upper_speed_ratio: 0.8,
    }));
    let want = thrown(&pair, &body(), &BARE, 2000.0, 9.8, STEP_S);
    let with = Launcher {
        guide_error: wave(2e-3, 0.05, 0.0),
        ..pair
    };
    assert_eq!(thrown(&with, &body(), &BARE, 2000.0, 9.8, STEP_S), want);
}

#[test]
fn senseless_errors_and_outlines_are_refused() {
    let bad = [
        wave(1e-3, 0.0, 0.0),
        wave(1e-3, 1e-9, 0.0),
        wave(f64::NAN, 0.1, 0.0),
        wave(1e-3, 0.1, f64::INFINITY),
        gaps(&[1e-3]),
        gaps(&[f64::NAN, 1e-3]),
        GuideError::Gaps {
            count: 99,
            added_m: [1e-3; MOST_GAPS],
        },
    ];
    let refused = |l: &Launcher| {
        let p = pass(l, &body(), &BARE, 300.0, &COASTING, 9.8, &PassOptions::default());
        matches!(p, Passage::Refused { .. })
    };
    assert!(bad.iter().all(|e| refused(&with_error(*e))));
    let nan = Launcher {
        bite: Some(Bite {
            depth_m: [f64::NAN; BITE_COUNT],
        }),
        ..launcher(Layout::Guide(guide()))
    };
    assert!(refused(&nan));
}

/// The nearest point of a curve of spans against the closest of many points of it.
#[test]
fn the_nearest_point_of_a_lumpy_guide_is_the_nearest() {
    let l = with_error(wave(1.5e-3, 0.05, 0.3));
    let shape = outline(&l, &hood(), 0.112);
    let walls = uneven::walls(&shape.elements, &l.guide_error, 0.056);
    let arc = (0.048 + guide().gap_m) * guide().wrap_rad;
    let start = 0.5 * PI + guide().end_angle_rad + guide().wrap_rad;
    let points: Vec<[f64; 2]> = (0..=20_000)
        .map(|i| {
            let s = arc * f64::from(i) / 20_000.0;
            let rho = 0.048 + guide().gap_m + uneven::error_at(&l.guide_error, s, arc);
            let phi = start - s / (0.048 + guide().gap_m);
            [rho * phi.cos(), 0.3 + rho * phi.sin()]
        })
        .collect();
    for i in 0..60 {
        let phi = start - 0.1 - (guide().wrap_rad - 0.2) * f64::from(i) / 60.0;
        let p = [0.095 * phi.cos(), 0.3 + 0.095 * phi.sin()];
        let far = walls
            .iter()
            .map(|(w, _)| w.nearest(p).1)
            .fold(f64::INFINITY, f64::min);
        let want = points
            .iter()
            .map(|q| (q[0] - p[0]).hypot(q[1] - p[1]))
            .fold(f64::INFINITY, f64::min);
        assert!((far - want).abs() < 1e-6, "{far} {want}");
    }
}

fn relieved(relief_m: f64) -> Launcher {
    launcher(Layout::Guide(GuideShape {
        entry_relief_m: relief_m,
        ..guide()
    }))
}

/// Closed form: two sides of one spring each, pressed together by the squeeze at that place, give the force of the press
/// test as their mean, however the piece is pulled outward.
#[test]
fn a_guide_that_closes_evenly_presses_by_the_squeeze_at_each_place() {
    let l = relieved(0.004);
    let soft = Body {
        bounce_coeff: 1.0,
        ..body()
    };
    let start = 0.5 * PI + guide().end_angle_rad + guide().wrap_rad;
    let mut seen = 0;
    for p in traced(&l, &soft, STEP_S) {
        let share = (start - polar(&p)) / guide().wrap_rad;
        if !(0.15..0.85).contains(&share) {
            continue;
        }
        let found = 0.5 * (p.wheel_normal_n + p.guide_normal_n);
        let wanted = press_force(&soft, 0.012 - 0.004 * (1.0 - share));
        assert!((found / wanted - 1.0).abs() < 0.01, "{share}: {found} {wanted}");
        seen += 1;
    }
    assert!(seen > 20, "{seen}");
}

/// The same shape by the other way: a concentric guide whose measured gaps are wider toward its start.
#[test]
fn an_entry_relief_is_a_list_of_gaps_that_close_evenly() {
    let listed: Vec<f64> = (0..24).map(|i| 0.008 * (1.0 - f64::from(i) / 23.0)).collect();
    let run = |l: &Launcher| thrown(l, &body(), &hood(), 3000.0, 9.80665, STEP_S);
    let (a, b) = (run(&relieved(0.008)), run(&with_error(gaps(&listed))));
    // In the middle of the arc; before and behind it the one goes on straight where the other eases out.
    let force = |l: &Launcher| {
        let there = middle(&traced(l, &body(), STEP_S));
        there.iter().map(|p| p.guide_normal_n).sum::<f64>() / there.len() as f64
    };
    let [x, y, z] = [relieved(0.008), with_error(gaps(&listed)), relieved(0.0)].map(|l| force(&l));
    assert!((x - y).abs() < 0.2 * (y - z).abs(), "{x} {y} {z}");
    assert!(
        (speed(&a) / speed(&b) - 1.0).abs() < 2e-3,
        "{} {}",
        speed(&a),
        speed(&b)
    );
    // Both close the energy.
    for r in [&a, &b] {
        assert!(
            r.audit.residual_j.abs() < 2e-3 * r.audit.kinetic_after_j,
            "{:?}",
            r.audit
        );
    }
}

/// Waves and measured gaps lie on the closing guide as on an even one.
#[test]
fn an_error_adds_to_the_relief() {
    let both = Launcher {
        guide_error: gaps(&[0.0, 0.001, 0.0, -0.001, 0.0]),
        ..relieved(0.003)
    };
    let listed: Vec<f64> = (0..21)
        .map(|i| {
            let s = f64::from(i) / 20.0;
            let tooth = [0.0, 0.001, 0.0, -0.001, 0.0];
            let k = ((4.0 * s).floor() as usize).min(3);
            let t = 4.0 * s - k as f64;
            0.003 * (1.0 - s) + tooth[k] + t * (tooth[k + 1] - tooth[k])
        })
        .collect();
    let run = |l: &Launcher| thrown(l, &body(), &hood(), 3000.0, 9.80665, STEP_S);
    let (a, b) = (run(&both), run(&with_error(gaps(&listed))));
    assert!(
        (speed(&a) / speed(&b) - 1.0).abs() < 2e-3,
        "{} {}",
        speed(&a),
        speed(&b)
    );
    assert!(
        (angle(&a) - angle(&b)).abs() < 3e-3,
        "{} {}",
        angle(&a),
        angle(&b)
    );
}
