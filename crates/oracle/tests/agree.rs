//! Both engines on the same five designs; what the other engine is given is what it does.

use arcwright_model::feed::hopper::Hopper;
use arcwright_model::feed::hopper::{BandSpec, RollerSpec};
use arcwright_model::feed::lint::lints;
use arcwright_model::feed::world::{Arm, Ball, CONTACT_STEPS_COUNT, Rotor, Surfaces, World};
use arcwright_oracle::agree::{Design, by_model, by_other, designs, difference, pieces};
use arcwright_oracle::bridge::bridges;
use arcwright_oracle::load::play;
use arcwright_oracle::rig::{Rig, SOFT, Solver, Unknown};

/// Loads of each design: a difference of 25 points at shares about a fifth is seen, and the test takes about half a minute of
/// one core.
const LOADS: u64 = 120;
/// With contacts as soft as the pieces the library takes several times as long.
const SOFT_LOADS: u64 = 60;

/// The shares of loads that wait above 4 s agree: the interval of their difference [newcombe-1998] holds zero, at 95 % for all
/// five designs together [bonferroni-1936]. The shares of the model's engine.
fn agree(with_roller: bool, loads: u64, solver: &Solver) -> Result<Vec<f64>, Unknown> {
    let p = pieces();
    let each = 1.0 - 0.05 / 5.0;
    let share = |d: &Design| {
        assert!(
            lints(&d.hopper, &p).iter().all(|l| !l.fault.refused()),
            "{}: cannot be built",
            d.name
        );
        let own = by_model(&d.hopper, &p, 1, loads);
        let other = by_other(&d.hopper, &p, 1, loads, 4.0, solver)?;
        assert_eq!(own.invalid + other.invalid, 0, "{}", d.name);
        let [low, high] = difference(&own, &other, 1, each);
        assert!(low <= 0.0 && high >= 0.0, "{}: {own:?} {other:?}", d.name);
        Ok(own.share(1))
    };
    designs(with_roller).iter().map(share).collect()
}

#[test]
fn five_designs_keep_somebody_waiting_as_often_in_both_engines() {
    let shares = agree(false, LOADS, &Solver::default()).unwrap();
    // Else the five would show nothing: they differ among themselves by more than the test can see.
    assert!(
        shares.iter().any(|s| *s < 0.05) && shares.iter().any(|s| *s > 0.25),
        "{shares:?}"
    );
}

/// With a roller, too, when the library's contacts are as soft as the pieces: what hard ones make of a nip is another machine.
#[test]
fn five_designs_with_a_roller_agree_when_contacts_are_as_soft_as_the_pieces() {
    let shares = agree(true, SOFT_LOADS, &SOFT).unwrap();
    assert!(
        shares.iter().any(|s| *s < 0.35) && shares.iter().any(|s| *s > 0.75),
        "{shares:?}"
    );
}

#[test]
fn a_load_is_the_same_to_the_last_bit_when_played_again() {
    let (d, p) = (designs(false)[3], pieces());
    let played = || play(&d.hopper, &p, 1, 3, 4.0, &Solver::default()).unwrap();
    assert_eq!(played(), played());
}

#[test]
fn what_the_library_does_not_know_is_refused() {
    let h = designs(false)[0].hopper;
    let bands = Some(BandSpec {
        tension_n: 6.0,
        stiffness_npm: 60.0,
        reach_m: h.usual_reach_m(),
        height_m: 0.075,
    });
    let banded = Hopper { bands, ..h };
    let rolling = Hopper {
        rolling_coeff: 0.01,
        ..h
    };
    let why = |h: &Hopper| play(h, &pieces(), 1, 0, 4.0, &Solver::default()).unwrap_err();
    assert_eq!(why(&banded), Unknown::Bands);
    assert_eq!(why(&rolling), Unknown::Rolling);
    let bent = Hopper { bend_rad: 0.1, ..h };
    assert_eq!(why(&bent), Unknown::Hopper);
    let roller = designs(true)[0]
        .hopper
        .roller
        .map(|r| RollerSpec { paddle_count: 2, ..r });
    assert!(roller.is_some());
    assert_eq!(why(&Hopper { roller, ..h }), Unknown::Paddles);
}

/// Exact statics in both engines: two hundredths less friction and a bridge of two discs falls, two hundredths more and it holds. The
/// model alone is held to a thousandth by its own tests.
#[test]
fn both_engines_hold_a_bridge_from_the_friction_that_exact_statics_asks_for() {
    for b in bridges() {
        let exact = b.least_friction();
        for (friction, holds) in [((exact - 0.02).max(0.0), false), (exact + 0.02, true)] {
            assert_eq!(b.holds(friction, 1e5, 15.0), holds, "{b:?} {exact}");
            let other = b.holds_in_other(friction, &Solver::default()).unwrap();
            assert_eq!(other, holds, "library: {b:?} {exact}");
        }
    }
}

fn surfaces() -> Surfaces {
    Surfaces {
        press_npm: 1e4,
        bounce_coeff: 0.5,
        friction_coeff: 0.3,
        piece_friction_coeff: 0.2,
        roller_friction_coeff: 0.8,
        rolling_coeff: 0.0,
    }
}

fn ball(at_m: [f64; 3]) -> Ball {
    Ball {
        radius_m: 0.075,
        mass_kg: 0.12,
        inertia_coeff: 0.4,
        at_m,
        velocity_mps: [0.0; 3],
        spin_radps: [0.0; 3],
        number: 0,
    }
}

fn floor() -> arcwright_model::feed::shape::Wall {
    let a = 9.0;
    arcwright_model::feed::shape::Wall::new(&[[-a, -a, 0.0], [a, -a, 0.0], [a, a, 0.0], [-a, a, 0.0]])
}

/// Friction reaches the library as meant: g sin θ/(1 + k) rolling, g (sin θ − μ cos θ) sliding [meriam-dynamics].
#[test]
fn a_ball_on_a_slope_rolls_or_slides_in_the_library_as_the_textbook_says() {
    let g = 9.80665;
    for (slope, expected) in [
        (0.2_f64, g * 0.2_f64.sin() / 1.4),
        (0.9, g * (0.9_f64.sin() - 0.3 * 0.9_f64.cos())),
    ] {
        let mut w = World::new(surfaces(), 0.12, CONTACT_STEPS_COUNT);
        w.walls.push(floor());
        w.gravity_mps2 = [g * slope.sin(), 0.0, -g * slope.cos()];
        let mut rig = Rig::new(&w, &pieces(), &Solver::default()).unwrap();
        rig.add(&ball([0.0, 0.0, 0.075]));
        for _ in 0..240 {
            rig.step();
        }
        let v = rig.velocity_mps(0)[0];
        assert!((v / expected - 1.0).abs() < 0.01, "{slope}: {v} {expected}");
    }
}

/// The motor's line reaches the library: free speed without load, and stalled it pushes with M₀ over the lever. The arm turns about
/// its hub, not about its middle.
#[test]
fn the_librarys_stirrer_turns_at_its_free_speed_and_stalls_with_its_torque() {
    let mut w = World::new(surfaces(), 0.12, CONTACT_STEPS_COUNT);
    w.walls.push(floor());
    w.walls.push(arcwright_model::feed::shape::Wall::new(&[
        [-1.0, 0.2, 0.0],
        [1.0, 0.2, 0.0],
        [1.0, 0.2, 1.0],
        [-1.0, 0.2, 1.0],
    ]));
    w.gravity_mps2 = [0.0, 0.0, -9.80665];
    w.stirrer = Some(Arm {
        hub_m: [0.0, 0.0, 0.075],
        length_m: 0.15,
        radius_m: 0.008,
        rotor: Rotor::new(1.0, 5.0, 6e-4),
    });
    let mut rig = Rig::new(&w, &pieces(), &Solver::default()).unwrap();
    for _ in 0..60 {
        rig.step();
    }
    assert!(rig.stirrer_radps().unwrap().abs() < 0.01, "held");
    rig.command(1.0, 0.0);
    for _ in 0..240 {
        rig.step();
    }
    let free = rig.stirrer_radps().unwrap();
    assert!((free / 5.0 - 1.0).abs() < 0.01, "{free}");
    let mut rig = Rig::new(&w, &pieces(), &Solver::default()).unwrap();
    rig.add(&ball([0.12, 0.12, 0.075]));
    rig.command(1.0, 0.0);
    for _ in 0..720 {
        rig.step();
    }
    assert!(rig.stirrer_radps().unwrap().abs() < 1e-3, "stalled");
    let push = rig.stirrer_push_n();
    // The arm's line touches the piece at the foot of its centre on the line.
    let (at, _) = rig.pieces().next().unwrap();
    let both = 0.075 + 0.008;
    let lever = (at[0] * at[0] + at[1] * at[1] - both * both).sqrt();
    // Friction adds half the thickness of the arm as a lever, at most.
    assert!((push * lever - 1.0).abs() < 0.06, "{push} {lever}");
}
