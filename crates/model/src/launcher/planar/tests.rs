use std::f64::consts::PI;

use proptest::prelude::*;

use super::side::DROP_SPEED_MPS;
use super::*;
use crate::launcher::outline::{Element, Outline, Shape, WheelCircle};

pub(super) fn body() -> Body {
    Body {
        diameter_m: 0.112,
        mass_kg: 0.061,
        inertia_coeff: 0.62,
        stiffness_npm: 3000.0,
        stiffness_exponent: 1.0,
        bounce_coeff: 0.6,
    }
}

pub(in super::super) fn guide() -> GuideShape {
    GuideShape {
        gap_m: 0.100,
        entry_relief_m: 0.0,
        wrap_rad: 110f64.to_radians(),
        end_angle_rad: 66f64.to_radians(),
        friction_coeff: 0.5,
        hood_bend_m: 0.08,
    }
}

pub(in super::super) fn launcher(layout: Layout) -> Launcher {
    Launcher {
        layout,
        wheel_radius_m: 0.048,
        wheel_friction_coeff: 0.9,
        axle_height_m: 0.3,
        wheel_inertia_kgm2: 4e-4,
        feed_speed_mps: 1.0,
        feed_push_n: 15.0,
        rolling_coeff: 0.0,
        speed_transfer_ratio: 1.0,
        exit_offset_rad: 0.0,
        guide_error: GuideError::None,
        bite: None,
    }
}

pub(super) const COASTING: TorqueLine = TorqueLine {
    stall_nm: 0.0,
    slope_nms: 0.0,
};
pub(super) const BARE: Setting = Setting {
    slide_m: 0.0,
    tilt_rad: 0.0,
    reach_m: 0.0,
};

pub(super) fn thrown(l: &Launcher, b: &Body, s: &Setting, rpm: f64, gravity: f64, step_s: f64) -> Release {
    let options = PassOptions { step_s, trace: false };
    match pass(l, b, s, rpm * PI / 30.0, &COASTING, gravity, &options) {
        Passage::Thrown(r) => r,
        Passage::Refused { why, .. } => panic!("refused: {why}"),
    }
}

pub(super) fn speed(r: &Release) -> f64 {
    r.velocity_mps[0].hypot(r.velocity_mps[1])
}

pub(super) fn angle(r: &Release) -> f64 {
    r.velocity_mps[1].atan2(r.velocity_mps[0])
}

/// Drops a piece on a flat plate and follows it until it has left.
fn bounce(e: f64, friction: f64, velocity: [f64; 2], spin: f64) -> Motion {
    let b = Body {
        bounce_coeff: e,
        ..body()
    };
    let l = launcher(Layout::Guide(guide()));
    let floor = Element {
        role: ElementRole::Ramp,
        shape: Shape::Line {
            from_m: [-10.0, 0.0],
            to_m: [10.0, 0.0],
        },
    };
    let shape = Outline {
        wheels: Vec::<WheelCircle>::new(),
        elements: vec![floor],
        start_m: [0.0, 1.0],
        feed_direction: [0.0, 1.0],
        feed_length_m: 0.0,
        exit_m: [0.0; 2],
        exit_direction: [0.0, 1.0],
    };
    let sim = Sim {
        launcher: &Launcher {
            feed_push_n: 0.0,
            ..l
        },
        walls: vec![(Wall::of(&floor), floor.role)],
        shape,
        side: Side::of(&b),
        r: 0.056,
        m: b.mass_kg,
        inertia: b.inertia_coeff * b.mass_kg * 0.056 * 0.056,
        j: 1.0,
        torque: COASTING,
        gravity: 0.0,
        surface: [0.0; 3],
        fixed_friction: friction,
        first_touch_rad: 0.0,
    };
    let h = 1e-6;
    let mut s = Motion {
        p: [0.0, 0.056 + 1e-4],
        v: velocity,
        w: spin,
        turned: 0.0,
        wheels: [0.0; 2],
    };
    let mut audit = EnergyAudit::default();
    let mut touches = [Touch::default(); MOST];
    for _ in 0..200_000 {
        s.p = [s.p[0] + 0.5 * h * s.v[0], s.p[1] + 0.5 * h * s.v[1]];
        let count = sim.touches(&s, &mut touches);
        step(&sim, &mut s, &mut touches[..count], h, &mut audit, false);
        s.p = [s.p[0] + 0.5 * h * s.v[0], s.p[1] + 0.5 * h * s.v[1]];
        if s.v[1] > 0.0 && count == 0 {
            break;
        }
    }
    s
}

/// The restitution relation of the force law is exact [hunt-crossley-1975]; the drop is from 1 m.
#[test]
fn a_drop_from_one_metre_rebounds_with_the_stated_restitution() {
    for e in [0.3, 0.6, 0.85, 1.0] {
        let s = bounce(e, 0.5, [0.0, -DROP_SPEED_MPS], 0.0);
        assert!(
            (s.v[1] / DROP_SPEED_MPS - e).abs() < 2e-4,
            "e {e}: {}",
            s.v[1] / DROP_SPEED_MPS
        );
        assert!(s.v[0].abs() < 1e-12 && s.w.abs() < 1e-9);
    }
}

/// Oblique impact of a sphere [cross-2002]: sliding throughout takes μ(1+e)v_n from the tangential
/// speed; gripping a spinless piece leaves v_t/(1+k), rolling. The arm shrinks with the depth here,
/// so the rolling rule is met as stiffness grows; 1 % at this one.
#[test]
fn an_oblique_bounce_slides_or_ends_rolling_as_a_sphere_does() {
    let (e, mu, k) = (0.6, 0.2, 0.62);
    let v = DROP_SPEED_MPS;
    let slides = bounce(e, mu, [8.0, -v], 0.0);
    let change = mu * (1.0 + slides.v[1] / v) * v;
    assert!(
        (8.0 - slides.v[0] - change).abs() < 1e-3,
        "{} {change}",
        slides.v[0]
    );
    let rolls = bounce(e, 1.0, [2.0, -v], 0.0);
    assert!(
        (rolls.v[0] - 2.0 / (1.0 + k)).abs() < 0.02 * 2.0,
        "{}",
        rolls.v[0]
    );
    // Forward on a floor below is topspin, which is negative here.
    assert!(
        (rolls.v[0] + rolls.w * 0.056).abs() < 0.06,
        "{} {}",
        rolls.v[0],
        rolls.w
    );
}

/// Momentum of piece and wheel, any friction law (docs/theory/contact.md, derived): eliminating the friction
/// impulses for a concentric guide without slip at the end gives W₁ and v = R W₁/2.
#[test]
fn on_the_plateau_speed_and_dip_follow_the_closed_form() {
    let mut l = launcher(Layout::Guide(guide()));
    l.feed_speed_mps = 0.2;
    l.feed_push_n = 1.0;
    // Stiff and barely squeezed: arms near the free radius, little elastic push at the end.
    let b = Body {
        stiffness_npm: 60_000.0,
        bounce_coeff: 1.0,
        ..body()
    };
    let gap_m = 0.1113;
    l.layout = Layout::Guide(GuideShape {
        gap_m,
        friction_coeff: 0.9,
        ..guide()
    });
    let r = thrown(&l, &b, &BARE, 3000.0, 0.0, 5e-6);
    let (radius, arm): (f64, f64) = (0.048, 0.5 * gap_m);
    let inertia = b.inertia_coeff * b.mass_kg * 0.056f64.powi(2);
    let jb = (0.5 * radius).powi(2) * (b.mass_kg + inertia / (arm * arm));
    let w0 = 3000.0 * PI / 30.0;
    let w1 = w0 * l.wheel_inertia_kgm2 / (l.wheel_inertia_kgm2 + jb);
    let w_now = r.wheel_after_radps[0];
    assert!((w_now / w1 - 1.0).abs() < 0.01, "wheel {w_now} closed form {w1}");
    // What the squeeze stored comes back as speed at the end, at most.
    let stored = 0.5 * b.stiffness_npm * (b.diameter_m - gap_m).powi(2);
    let gain = speed(&r) / (0.5 * radius * w_now) - 1.0;
    let most = stored / (b.mass_kg * speed(&r).powi(2));
    assert!(gain > -0.003 && gain < most + 0.003, "{gain} {most}");
    assert!((r.spin_radps * arm / speed(&r) - 1.0).abs() < 0.02);
}

/// Two equal wheels, piece from rest: W₁/W₀ = 2J/(2J + m R²), v = R W₁ (docs/theory/contact.md, derived).
#[test]
fn an_equal_pair_throws_at_rim_speed_without_spin() {
    let pair = PairShape {
        gap_m: 0.104,
        direction_rad: 50f64.to_radians(),
        upper_speed_ratio: 1.0,
    };
    let mut l = launcher(Layout::Pair(pair));
    l.feed_speed_mps = 0.5;
    let b = Body {
        bounce_coeff: 1.0,
        stiffness_npm: 6000.0,
        ..body()
    };
    let r = thrown(&l, &b, &BARE, 2000.0, 0.0, STEP_S);
    let w0 = 2000.0 * PI / 30.0;
    let radius = l.wheel_radius_m;
    let want = w0 * 2.0 * l.wheel_inertia_kgm2 / (2.0 * l.wheel_inertia_kgm2 + b.mass_kg * radius * radius);
    assert!(
        (r.wheel_after_radps[0] / want - 1.0).abs() < 0.03,
        "{} {want}",
        r.wheel_after_radps[0]
    );
    assert!(
        (speed(&r) / (radius * r.wheel_after_radps[0]) - 1.0).abs() < 0.06,
        "{}",
        speed(&r)
    );
    assert!(
        (angle(&r) - 50f64.to_radians()).abs() < 1e-3,
        "{}",
        angle(&r).to_degrees()
    );
    assert!(r.spin_radps.abs() < 1e-6);
    assert!((r.wheel_after_radps[0] - r.wheel_after_radps[1]).abs() < 1e-9);
}

#[test]
fn mirrored_wheel_speeds_throw_mirrored() {
    let with = |ratio: f64, rpm: f64| {
        let p = PairShape {
            gap_m: 0.100,
            direction_rad: 0.0,
            upper_speed_ratio: ratio,
        };
        let mut l = launcher(Layout::Pair(p));
        // No ramp friction or feed asymmetry: the channel floor only touches from below.
        l.feed_push_n = 0.0;
        l.feed_speed_mps = 1.5;
        thrown(&l, &body(), &BARE, rpm, 0.0, STEP_S)
    };
    let (a, b) = (with(0.8, 2500.0), with(1.25, 2000.0));
    assert!(
        (speed(&a) - speed(&b)).abs() < 0.02 * speed(&a),
        "{} {}",
        speed(&a),
        speed(&b)
    );
    assert!(
        (a.spin_radps + b.spin_radps).abs() < 0.03 * a.spin_radps.abs(),
        "{} {}",
        a.spin_radps,
        b.spin_radps
    );
    assert!(
        a.spin_radps > 5.0,
        "a faster lower wheel gives backspin: {}",
        a.spin_radps
    );
}

#[test]
fn energy_is_accounted_for_and_the_rest_falls_with_the_step() {
    let l = launcher(Layout::Guide(guide()));
    let s = Setting {
        slide_m: 0.0,
        tilt_rad: 10f64.to_radians(),
        reach_m: 0.06,
    };
    let at = |h: f64| {
        let a = thrown(&l, &body(), &s, 3000.0, 9.80665, h).audit;
        a.residual_j.abs() / (a.slip_heat_j + a.damping_heat_j)
    };
    assert!(at(STEP_S) < 1e-4, "{}", at(STEP_S));
    assert!(
        at(16.0 * STEP_S) > 8.0 * at(STEP_S),
        "{} {}",
        at(16.0 * STEP_S),
        at(STEP_S)
    );
    let a = thrown(&l, &body(), &s, 3000.0, 9.80665, STEP_S).audit;
    assert!(
        a.slip_heat_j > 0.5 && a.damping_heat_j > 0.05 && a.gravity_j < 0.0,
        "{a:?}"
    );
}

#[test]
fn a_wheel_without_motor_never_gains_energy() {
    let l = launcher(Layout::Guide(guide()));
    let r = thrown(&l, &body(), &BARE, 3000.0, 0.0, STEP_S);
    let a = r.audit;
    // The feed's push is the only input.
    assert!(a.kinetic_after_j < a.kinetic_before_j + a.input_j, "{a:?}");
    assert!(a.input_j < l.feed_push_n * 0.2, "{a:?}");
}

/// A push of the feed that acted again at the exit once made the exit depend on where the last step fell.
#[test]
fn the_exit_changes_smoothly_with_wheel_speed() {
    let l = launcher(Layout::Guide(guide()));
    let s = Setting {
        slide_m: 0.0,
        tilt_rad: 8f64.to_radians(),
        reach_m: 0.06,
    };
    let at: Vec<(f64, f64)> = (0..60)
        .map(|i| {
            let r = thrown(&l, &body(), &s, 2600.0 + 0.2 * f64::from(i), 9.80665, STEP_S);
            (speed(&r), angle(&r))
        })
        .collect();
    let mean = (at[59].0 - at[0].0) / 59.0;
    for p in at.windows(2) {
        assert!((p[1].0 - p[0].0 - mean).abs() < 2e-4 * p[0].0, "{p:?}");
        assert!((p[1].1 - p[0].1).abs() < 0.01f64.to_radians(), "{p:?}");
    }
}

#[test]
fn halving_the_step_cuts_the_error_of_the_spin_about_fourfold() {
    let l = launcher(Layout::Guide(guide()));
    let s = Setting {
        slide_m: 0.0,
        tilt_rad: 10f64.to_radians(),
        reach_m: 0.06,
    };
    let spin = |rpm: f64, h: f64| thrown(&l, &body(), &s, rpm, 9.80665, h).spin_radps;
    let rms = |h: f64| {
        let squares = (0..8).map(|i| {
            let rpm = 2800.0 + 53.0 * f64::from(i);
            (spin(rpm, h) - spin(rpm, 4e-6)).powi(2)
        });
        (squares.sum::<f64>() / 8.0).sqrt()
    };
    let ratio = rms(3.2e-4) / rms(1.6e-4);
    assert!(ratio > 2.8 && ratio < 8.0, "{ratio}");
}

#[test]
fn halving_the_step_stays_within_the_stated_tolerance() {
    for (tilt, friction) in [(0.0f64, 0.9), (10.0, 0.9), (10.0, 0.4), (20.0, 0.6)] {
        let mut l = launcher(Layout::Guide(guide()));
        l.wheel_friction_coeff = friction;
        let s = Setting {
            slide_m: 0.002,
            tilt_rad: tilt.to_radians(),
            reach_m: 0.06,
        };
        let (a, b) = (
            thrown(&l, &body(), &s, 3000.0, 9.80665, STEP_S),
            thrown(&l, &body(), &s, 3000.0, 9.80665, 0.5 * STEP_S),
        );
        assert!(
            (speed(&a) / speed(&b) - 1.0).abs() < 2e-4,
            "{tilt}: {} {}",
            speed(&a),
            speed(&b)
        );
        assert!(
            (angle(&a) - angle(&b)).abs() < 0.03f64.to_radians(),
            "{tilt}: {} {}",
            angle(&a),
            angle(&b)
        );
    }
}

/// Below the plateau friction decides the speed, on it friction does not; more squeeze takes more
/// from the wheel (common practice, no source; the trend in docs/theory/contact.md).
#[test]
fn friction_matters_below_the_plateau_and_not_on_it() {
    let at = |squeeze: f64, wrap: f64, mu: f64| {
        let g = GuideShape {
            gap_m: 0.112 - squeeze,
            wrap_rad: wrap.to_radians(),
            friction_coeff: 0.6 * mu,
            ..guide()
        };
        let mut l = launcher(Layout::Guide(g));
        l.wheel_friction_coeff = mu;
        thrown(&l, &body(), &BARE, 3500.0, 9.80665, STEP_S)
    };
    let spread = |squeeze, wrap| speed(&at(squeeze, wrap, 1.0)) / speed(&at(squeeze, wrap, 0.5)) - 1.0;
    assert!(spread(4.0e-3, 60.0) > 0.15, "{}", spread(4.0e-3, 60.0));
    assert!(spread(14.0e-3, 120.0).abs() < 0.03, "{}", spread(14.0e-3, 120.0));
    let dip = |squeeze| at(squeeze, 120.0, 0.9).wheel_after_radps[0];
    assert!(dip(16e-3) < dip(10e-3), "{} {}", dip(16e-3), dip(10e-3));
}

#[test]
fn each_hood_knob_acts_through_geometry() {
    let l = launcher(Layout::Guide(guide()));
    let at = |slide_mm: f64, tilt: f64, reach_mm: f64| {
        let s = Setting {
            slide_m: 1e-3 * slide_mm,
            tilt_rad: tilt.to_radians(),
            reach_m: 1e-3 * reach_mm,
        };
        angle(&thrown(&l, &body(), &s, 3000.0, 9.80665, STEP_S)).to_degrees()
    };
    // Tilting the plate toward the piece lowers the exit, step by step.
    let tilts: Vec<f64> = [0.0, 5.0, 10.0, 15.0, 20.0]
        .iter()
        .map(|t| at(0.0, *t, 60.0))
        .collect();
    assert!(tilts.windows(2).all(|p| p[1] < p[0] - 0.5), "{tilts:?}");
    // In line with the guide, a plate slid back no longer touches; closed up it holds the piece down.
    let bare = angle(&thrown(&l, &body(), &BARE, 3000.0, 9.80665, STEP_S)).to_degrees();
    assert!(
        (at(-12.0, 0.0, 60.0) - bare).abs() < 1e-6,
        "{} {bare}",
        at(-12.0, 0.0, 60.0)
    );
    let slides: Vec<f64> = [-8.0, -6.0, -4.0, -2.0, 0.0]
        .iter()
        .map(|s| at(*s, 0.0, 60.0))
        .collect();
    assert!(slides.windows(2).all(|p| p[1] < p[0] - 0.5), "{slides:?}");
    // No jump where the plate is flush.
    let near: Vec<f64> = [-0.02, 0.0, 0.02].iter().map(|s| at(*s, 10.0, 60.0)).collect();
    assert!(
        (near[0] - near[1]).abs() < 0.1 && (near[2] - near[1]).abs() < 0.5,
        "{near:?}"
    );
    // A plate too short to touch changes nothing against none; a longer one does.
    assert!((at(0.0, 10.0, 60.0) - at(0.0, 10.0, 20.0)).abs() > 0.3);
}

#[test]
fn a_slick_wheel_does_not_take_the_piece_in() {
    let mut l = launcher(Layout::Guide(GuideShape {
        gap_m: 0.07,
        friction_coeff: 1.2,
        ..guide()
    }));
    l.wheel_friction_coeff = 0.05;
    l.feed_push_n = 1.0;
    let p = pass(
        &l,
        &body(),
        &BARE,
        300.0,
        &COASTING,
        9.80665,
        &PassOptions::default(),
    );
    assert!(matches!(p, Passage::Refused { .. }), "{p:?}");
}

#[test]
fn motor_torque_and_rolling_loss_each_move_the_wheel() {
    let l = launcher(Layout::Guide(guide()));
    let driven = TorqueLine {
        stall_nm: 2.0,
        slope_nms: 0.004,
    };
    let run = |l: &Launcher, t: &TorqueLine| match pass(
        l,
        &body(),
        &BARE,
        314.0,
        t,
        0.0,
        &PassOptions::default(),
    ) {
        Passage::Thrown(r) => r,
        Passage::Refused { why, .. } => panic!("{why}"),
    };
    let (coast, drive) = (run(&l, &COASTING), run(&l, &driven));
    assert!(drive.wheel_after_radps[0] > coast.wheel_after_radps[0] + 20.0);
    let lossy = run(
        &Launcher {
            rolling_coeff: 0.05,
            ..l
        },
        &COASTING,
    );
    assert!(lossy.wheel_after_radps[0] < coast.wheel_after_radps[0] - 0.5);
}

#[test]
fn the_trace_follows_the_piece_from_feed_to_exit() {
    let l = launcher(Layout::Guide(guide()));
    let s = Setting {
        slide_m: 0.0,
        tilt_rad: 10f64.to_radians(),
        reach_m: 0.06,
    };
    let options = PassOptions {
        trace: true,
        ..PassOptions::default()
    };
    let Passage::Thrown(r) = pass(&l, &body(), &s, 314.0, &COASTING, 9.80665, &options) else {
        panic!()
    };
    assert!(r.trace.len() > 100);
    assert!(
        r.trace
            .windows(2)
            .all(|p| p[1].time_s > p[0].time_s && p[1].path_m >= p[0].path_m)
    );
    assert!(r.trace.iter().any(|p| p.on_hood) && r.trace.iter().any(|p| p.wheel_normal_n > 10.0));
    // Gripping shows as no slip.
    assert!(
        r.trace
            .iter()
            .any(|p| p.wheel_normal_n > 10.0 && p.wheel_slip_mps == 0.0)
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    #[test]
    fn no_input_panics_or_hangs(
        sizes in proptest::array::uniform6(prop_oneof![
            4 => 0.0..2.0f64, 1 => Just(0.0), 1 => Just(f64::NAN), 1 => Just(f64::INFINITY), 1 => Just(-1.0), 1 => Just(1e12),
        ]),
        rpm in prop_oneof![-1e4..1e4f64, Just(f64::NAN), Just(1e300)],
        pair: bool,
    ) {
        let [a, b, c, d, e, f] = sizes;
        let layout = if pair {
            Layout::Pair(PairShape { gap_m: a * 0.1, direction_rad: b, upper_speed_ratio: c })
        } else {
            Layout::Guide(GuideShape { gap_m: a * 0.1, entry_relief_m: 0.1 * e, wrap_rad: b, end_angle_rad: c, friction_coeff: d, hood_bend_m: 0.1 * e })
        };
        let l = Launcher { wheel_inertia_kgm2: 1e-3 * f, feed_push_n: d * 10.0, ..launcher(layout) };
        let body = Body { stiffness_npm: 3000.0 * e, ..body() };
        let s = Setting { slide_m: 0.01 * a, tilt_rad: b, reach_m: 0.1 * c };
        let options = PassOptions { step_s: 2e-4, trace: false };
        let _ = pass(&l, &body, &s, rpm, &COASTING, 9.8, &options);
    }
}
