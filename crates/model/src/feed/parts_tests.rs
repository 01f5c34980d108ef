//! What a hopper can have besides walls and stirrer: plates, a bent chute, a floor that leans to the sides, paddles, and
//! the ways in which pieces come.

use super::hopper::{Arrival, Hopper, Loading, RollerSpec};
use super::load::{Load, run};
use super::load_tests::{hopper, pieces};
use super::plate::{Plate, Plates};
use super::remedy::aside_m;
use super::shape::Wall;

const G: f64 = 9.80665;

/// One piece, let go on the middle line just above the floor.
fn gently(h: Hopper) -> Hopper {
    Hopper {
        rolling_coeff: 0.0,
        loading: Loading {
            spread_m: 0.0,
            height_m: 1e-4,
            ..h.loading
        },
        ..h
    }
}

fn one(h: &Hopper) -> Load {
    let load = run(h, &pieces(1), 1, 0);
    assert!(!load.invalid);
    load
}

/// Closed form: a ball that rolls from rest down a slope has v² = 2 a s with a = g sin θ/(1 + k), in the hopper with its
/// slope and behind the mouth with that of the chute besides.
#[test]
fn a_piece_comes_out_of_a_bent_chute_as_fast_as_both_slopes_make_it() {
    for bend_rad in [0.0, 0.15, 0.3] {
        let h = gently(Hopper {
            bend_rad,
            roller: None,
            ..hopper()
        });
        let out = *one(&h).entries.first().unwrap();
        let a = |slope: f64| G * libm::sin(slope) / 1.63;
        let past = h.chute_m + 0.3 * 0.112;
        let expected = (2.0 * (a(0.2) * 0.17 + a(0.2 + bend_rad) * past)).sqrt();
        assert!(
            (out.along_mps / expected - 1.0).abs() < 0.04,
            "bend {bend_rad}: {} for {expected}",
            out.along_mps
        );
        assert!(out.aside_m.abs() < 1e-6 && out.above_m.abs() < 0.01, "{out:?}");
    }
}

/// A chute that rises stops a piece that has not the speed for it, and a roller pulls it through.
#[test]
fn a_chute_that_rises_needs_the_roller() {
    let up = |roller| {
        gently(Hopper {
            bend_rad: -0.6,
            roller,
            chute_m: 0.045,
            loading: Loading {
                before_mouth_m: 0.1,
                ..hopper().loading
            },
            ..hopper()
        })
    };
    assert!(one(&up(None)).gaps_s.is_empty());
    let driven = Hopper {
        slope_rad: 0.5,
        ..up(hopper().roller)
    };
    let load = one(&driven);
    assert_eq!(load.gaps_s.len(), 1, "{load:?}");
}

#[test]
fn places_in_the_chute_go_there_and_back() {
    let h = Hopper {
        bend_rad: 0.4,
        ..hopper()
    };
    for at in [[0.01, 0.02, 0.05], [0.2, -0.03, 0.056]] {
        let back = h.in_chute_m(h.from_chute_m(at));
        assert!(
            back.iter().zip(at).all(|(a, b)| (a - b).abs() < 1e-12),
            "{back:?}"
        );
    }
    assert_eq!(h.in_chute_m([-0.1, 0.0, 0.056]), [-0.1, 0.0, 0.056]);
}

/// Without plates, bend, side slope and paddles nothing is different from a hopper that has them at zero.
#[test]
fn a_plate_out_of_reach_changes_no_bit() {
    let far = Hopper {
        plates: Plates::of(&[plate(-1.5, 1.0)]),
        ..hopper()
    };
    assert_eq!(run(&hopper(), &pieces(4), 3, 5), run(&far, &pieces(4), 3, 5));
}

fn plate(before_mouth_m: f64, height_m: f64) -> Plate {
    Plate {
        before_mouth_m,
        aside_m: 0.0,
        height_m,
        length_m: 0.2,
        width_m: 0.3,
        turn_rad: 0.0,
        tilt_rad: 0.0,
    }
}

/// Geometry: a plate tilted by 90° and turned by 45° is a corner cut off, and its corners lie where the drawing has them.
#[test]
fn a_plate_stands_where_its_numbers_say_and_pushes_from_both_sides() {
    let cut = Plate {
        aside_m: 0.1,
        turn_rad: std::f64::consts::FRAC_PI_4,
        tilt_rad: std::f64::consts::FRAC_PI_2,
        ..plate(0.3, 0.1)
    };
    let half = 0.15 * std::f64::consts::FRAC_1_SQRT_2;
    let expected = [
        [-0.3 + half, 0.1 - half, 0.0],
        [-0.3 + half, 0.1 - half, 0.2],
        [-0.3 - half, 0.1 + half, 0.2],
        [-0.3 - half, 0.1 + half, 0.0],
    ];
    for (c, e) in cut.corners_m().iter().zip(expected) {
        assert!(
            c.iter().zip(e).all(|(a, b)| (a - b).abs() < 1e-12),
            "{c:?} for {e:?}"
        );
    }
    assert!(!cut.lies_under() && plate(0.1, 0.0).lies_under());
    let wall = Wall::both_sides(&plate(0.3, 0.1).corners_m());
    for (z, up) in [(0.14, 1.0), (0.06, -1.0)] {
        let m = wall.meet([-0.3, 0.0, z], 0.05).unwrap();
        assert!(
            (m.normal[2] - up).abs() < 1e-12 && (m.overlap_m - 0.01).abs() < 1e-12,
            "{m:?}"
        );
    }
}

/// A ramp at the back: the piece that is dropped on it has rolled down its height as well (energy).
#[test]
fn a_ramp_gives_the_speed_of_its_height() {
    let ramp = Plate {
        tilt_rad: -0.3,
        ..plate(0.24, 0.032)
    };
    let h = |plates| {
        gently(Hopper {
            plates,
            roller: None,
            loading: Loading {
                before_mouth_m: 0.24,
                ..hopper().loading
            },
            ..hopper()
        })
    };
    let speed = |h: &Hopper| one(h).entries.first().unwrap().along_mps;
    let [flat, ramped] = [Plates::default(), Plates::of(&[ramp])].map(|p| speed(&h(p)));
    assert!(ramped > 1.03 * flat, "{flat} {ramped}");
}

/// A drum that does not reach the piece feeds nothing on a level floor; paddles on it do, and one paddle lets one by at a
/// time.
#[test]
fn paddles_reach_what_the_drum_does_not() {
    let with = |paddle_count| {
        gently(Hopper {
            slope_rad: 0.0,
            bend_rad: -0.02,
            loading: Loading {
                arrival: Arrival::Intake,
                intake_mps: 0.8,
                ..hopper().loading
            },
            roller: hopper().roller.map(|r| RollerSpec {
                squeeze_m: -0.006,
                paddle_count,
                paddle_m: 0.014,
                rim_mps: 0.3,
                ..r
            }),
            chute_m: 0.12,
            ..hopper()
        })
    };
    let slow = |h: Hopper| Hopper {
        rolling_coeff: 0.05,
        ..h
    };
    assert!(one(&slow(with(0))).gaps_s.is_empty());
    assert_eq!(one(&slow(with(3))).gaps_s.len(), 1);
}

/// An intake brings pieces with speed: they reach the chute of a level hopper, and those that are only dropped do not.
#[test]
fn an_intake_brings_its_speed() {
    let h = |arrival| {
        gently(Hopper {
            slope_rad: 0.0,
            roller: None,
            loading: Loading {
                arrival,
                intake_mps: 1.0,
                ..hopper().loading
            },
            ..hopper()
        })
    };
    // What rolls out while loading has left by then.
    let by_hand = one(&h(Arrival::Dropped));
    let brought = one(&h(Arrival::Intake));
    assert!(
        by_hand.gaps_s.is_empty() && brought.gaps_s.len() == 1,
        "{by_hand:?}\n{brought:?}"
    );
}

/// Poured, all are in the hopper at once: loading takes no longer than falling, whatever the time between two drops.
#[test]
fn poured_pieces_come_at_once_and_stay_inside() {
    let h = |arrival, every_s| Hopper {
        loading: Loading {
            arrival,
            every_s,
            ..hopper().loading
        },
        ..hopper()
    };
    let [fast, slow] = [0.1, 2.0].map(|every| run(&h(Arrival::Poured, every), &pieces(5), 1, 3));
    assert_eq!(fast, slow);
    assert!(!fast.invalid);
    let [fast, slow] = [0.1, 2.0].map(|every| run(&h(Arrival::Dropped, every), &pieces(5), 1, 3));
    assert_ne!(fast, slow);
}

/// Geometry: on a floor that leans to the sides the piece comes to the middle line, on a flat one it stays where it was.
#[test]
fn a_floor_that_leans_to_the_sides_brings_pieces_to_the_middle() {
    let aside = |side_slope_rad| {
        let h = gently(Hopper {
            side_slope_rad,
            funnel_rad: 1.5,
            length_m: 0.6,
            chute_width_m: 0.29,
            roller: None,
            rolling_coeff: 0.02,
            loading: Loading {
                before_mouth_m: 0.5,
                aside_m: 0.08,
                ..hopper().loading
            },
            ..hopper()
        });
        let h = Hopper {
            rolling_coeff: 0.02,
            ..h
        };
        one(&h).entries.first().unwrap().aside_m
    };
    let [flat, leaning] = [0.0, 0.2].map(aside);
    assert!((flat - 0.08).abs() < 1e-3, "{flat}");
    assert!(leaning.abs() < 0.06, "{leaning}");
}

/// Common practice, no source: rails centre the piece sideways before the launcher. From the physics alone, on the same loads.
#[test]
fn rails_bring_pieces_to_the_middle() {
    let aside = |rail_gap_m| {
        let h = Hopper {
            rail_gap_m,
            ..hopper()
        };
        let loads: Vec<Load> = (0..24).map(|i| run(&h, &pieces(2), 1, i)).collect();
        aside_m(&loads).unwrap()
    };
    let [bare, railed] = [0.0, 0.028].map(aside);
    assert!(railed < 0.6 * bare, "{bare} {railed}");
}
