//! Loads, surveys, remedies and faults of a hopper for large light pieces.

use super::hopper::{Arrival, BandSpec, Hopper, Loading, Pieces, RollerSpec, Side, StirrerSpec};
use super::lint::{Fault, lints};
use super::load::{Load, Stuck, WedgeKind, run};
use super::plate::{Plate, Plates};
use super::remedy::{Ranked, before_and_after, doubts, paired, rank, remedies};
use super::replay::{Against, replay};
use super::survey::{SurveyPlan, flowed, judged_s, many, patience_s, stuck_for, survey, worst_first};

pub(super) fn hopper() -> Hopper {
    Hopper {
        length_m: 0.34,
        width_m: 0.30,
        chute_width_m: 0.12,
        slope_rad: 0.2,
        side_slope_rad: 0.0,
        bend_rad: 0.0,
        plates: Plates::default(),
        wall_m: 0.17,
        funnel_rad: 0.8,
        fillet_m: 0.0,
        chute_m: 0.17,
        rail_gap_m: 0.0,
        friction_coeff: 0.3,
        piece_friction_coeff: 0.3,
        rolling_coeff: 0.01,
        loading: Loading {
            arrival: Arrival::Dropped,
            intake_mps: 0.0,
            aside_m: 0.0,
            before_mouth_m: 0.17,
            spread_m: 0.028,
            height_m: 0.112,
            every_s: 0.5,
        },
        roller: Some(RollerSpec {
            diameter_m: 0.05,
            width_m: 0.09,
            rim_mps: 0.8,
            squeeze_m: 0.008,
            torque_nm: 0.8,
            friction_coeff: 0.8,
            paddle_count: 0,
            paddle_m: 0.0,
        }),
        stirrer: None,
        bands: None,
    }
}

fn stirrer() -> StirrerSpec {
    StirrerSpec {
        length_m: 0.08,
        before_mouth_m: 0.16,
        offset_m: 0.04,
        height_m: 0.056,
        thickness_m: 0.012,
        speed_radps: 5.0,
        torque_nm: 1.0,
        reverses: true,
        swing_rad: 0.0,
        middle_rad: std::f64::consts::PI,
    }
}

pub(super) fn pieces(count: u32) -> Pieces {
    Pieces {
        count,
        diameter_m: 0.112,
        diameter_sd_m: 0.0004,
        mass_kg: 0.061,
        mass_sd_kg: 0.0008,
        inertia_coeff: 0.63,
        press_npm: 3000.0,
        bounce_coeff: 0.6,
    }
}

fn stuck(hopper: &Hopper, count: u32, loads: usize) -> usize {
    let all = many(hopper, &pieces(count), 1, 0..loads);
    assert!(all.iter().all(|l| !l.invalid));
    all.iter().filter(|l| stuck_for(l, 1)).count()
}

/// Common practice, no source: active stirring beats passive bands, and bands beat nothing. From the physics alone.
#[test]
fn a_stirrer_that_turns_back_beats_bands_and_bands_beat_nothing() {
    let h = hopper();
    let bands = Hopper {
        bands: Some(BandSpec {
            tension_n: 6.0,
            stiffness_npm: 60.0,
            reach_m: h.usual_reach_m(),
            height_m: 0.056,
        }),
        ..h
    };
    let active = Hopper {
        stirrer: Some(stirrer()),
        ..h
    };
    let [nothing, passive, stirred] = [&h, &bands, &active].map(|h| stuck(h, 4, 30));
    assert!(
        nothing > 2 * passive && passive > stirred,
        "{nothing} {passive} {stirred}"
    );
}

/// Fewer pieces wedge less [longjas-2009], and so do wedges with less friction to hold them.
#[test]
fn one_piece_never_wedges_and_six_wedge_more_than_three() {
    let h = hopper();
    let [one, three, six] = [1, 3, 6].map(|n| stuck(&h, n, 12));
    assert!(one == 0 && three < six, "{one} {three} {six}");
}

/// A roller that takes longer than the judged wait for a piece is slow and no wedge. With a usual one the wait is the judged one.
#[test]
fn a_slow_roller_is_no_wedge() {
    let slow = |rim_mps| Hopper {
        roller: hopper().roller.map(|r| RollerSpec { rim_mps, ..r }),
        stirrer: Some(stirrer()),
        ..hopper()
    };
    let (h, p) = (slow(0.03), pieces(3));
    assert_eq!(patience_s(&hopper(), &p), judged_s());
    // Pressed by 8 mm between 56 and 25 mm of radius: 36 mm before and behind the middle, at 15 mm/s.
    let own = 2.0 * 0.036 / 0.015;
    let patience = patience_s(&h, &p);
    assert!((patience - 2.0 * own).abs() < 1e-9, "{patience}");
    let all = many(&h, &p, 1, 0..6);
    let through = all.iter().filter(|l| flowed(l, patience)).count();
    let called_wedged = all.iter().filter(|l| stuck_for(l, 1)).count();
    assert!(through >= 4 && called_wedged >= 4, "{through} {called_wedged}");
}

/// The same load is the same to the last bit, whatever the threads.
#[test]
fn a_survey_is_the_same_on_one_thread_and_on_eight() {
    let h = Hopper {
        stirrer: Some(stirrer()),
        ..hopper()
    };
    let plan = SurveyPlan {
        seed: 7,
        most_count: 16,
        least_count: 0,
        within_frac: 0.01,
    };
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        pool.install(|| survey(&h, &pieces(3), &plan, &mut |_| true))
            .unwrap()
    };
    let (one, eight) = (on(1), on(8));
    assert_eq!(one, eight);
    assert_eq!(one.load_count, 16);
    assert!(!one.settled && one.looks == [1, 1], "{:?}", one.looks);
}

#[test]
fn a_piece_that_goes_through_the_floor_makes_the_load_invalid_and_there_is_no_result() {
    // So soft that the floor does not carry it.
    let jelly = Pieces {
        press_npm: 4.0,
        ..pieces(2)
    };
    let load = run(&hopper(), &jelly, 1, 0);
    assert!(load.invalid, "{load:?}");
    let plan = SurveyPlan {
        seed: 1,
        most_count: 4,
        least_count: 0,
        within_frac: 0.1,
    };
    let why = survey(&hopper(), &jelly, &plan, &mut |_| true).unwrap_err();
    assert!(why.count > 0 && why.of_count == 4, "{why:?}");
}

/// What comes out was loaded, once each, and waits add up.
#[test]
fn every_piece_comes_out_once_or_is_accounted_for() {
    let h = hopper();
    for load in many(&h, &pieces(4), 3, 0..12) {
        let mut order = load.order.clone();
        order.sort_unstable();
        order.dedup();
        assert_eq!(order.len(), load.gaps_s.len());
        let missing = load.loaded_count - order.len() - load.thrown_out_count;
        assert_eq!(
            missing > 0,
            load.stuck[3].is_some_and(|s| s != Stuck::ThrownOut),
            "{load:?}"
        );
        assert_eq!(load.wedge.is_some(), missing > 0, "{load:?}");
        if let Some(w) = load.wedge {
            assert_eq!(w.kind, WedgeKind::Bridge, "{load:?}");
            assert!(w.used_frac > 0.0 && w.used_frac <= 1.0, "{w:?}");
        }
        let by_longer = load.stuck.windows(2).all(|w| w[0].is_some() || w[1].is_none());
        assert!(by_longer && load.pressed_frac < 0.2, "{load:?}");
    }
}

/// A roller that presses moves a piece at half its rim speed, and takes one at a time.
#[test]
fn pieces_leave_at_half_the_rim_speed_one_by_one() {
    let narrow = Hopper {
        width_m: 0.12,
        length_m: 0.5,
        ..hopper()
    };
    let loads: Vec<Load> = many(&narrow, &pieces(3), 1, 0..6);
    for load in &loads {
        assert_eq!(load.gaps_s.len(), 3, "{load:?}");
        assert_eq!(load.double_count, 0, "{load:?}");
        for gap in &load.gaps_s[1..] {
            assert!(*gap > 0.9 * 0.112 / 0.4 && *gap < 3.0 * 0.112 / 0.4, "{load:?}");
        }
        for e in &load.entries {
            assert!(
                (e.along_mps / 0.4 - 1.0).abs() < 0.06 && e.aside_m.abs() < 0.005,
                "{load:?}"
            );
        }
    }
}

#[test]
fn faults_of_a_hopper_are_found_before_anything_is_played() {
    let p = pieces(4);
    let faults = |h: &Hopper| lints(h, &p).into_iter().map(|l| l.fault).collect::<Vec<_>>();
    let h = hopper();
    assert_eq!(faults(&h), []);
    let with = |s: StirrerSpec| Hopper {
        stirrer: Some(s),
        ..h
    };
    let cases: [(Hopper, Fault); 14] = [
        (
            Hopper {
                chute_width_m: 0.11,
                ..h
            },
            Fault::ChuteNarrow,
        ),
        (
            Hopper {
                chute_width_m: 0.17,
                ..h
            },
            Fault::ChuteWide,
        ),
        (Hopper { width_m: 0.118, ..h }, Fault::ChuteOverHopper),
        (Hopper { funnel_rad: 0.2, ..h }, Fault::FunnelLong),
        (Hopper { fillet_m: 0.5, ..h }, Fault::FilletLarge),
        (Hopper { wall_m: 0.1, ..h }, Fault::WallLow),
        (
            with(StirrerSpec {
                length_m: 0.115,
                ..stirrer()
            }),
            Fault::SweepThroughWall,
        ),
        (with(stirrer()), Fault::TipGap),
        (
            // Room to every wall, and a plate that stands in the way of the arm.
            Hopper {
                plates: Plates::of(&[Plate {
                    before_mouth_m: 0.2,
                    aside_m: 0.0,
                    height_m: 0.06,
                    length_m: 0.12,
                    width_m: 0.06,
                    turn_rad: 0.0,
                    tilt_rad: 1.57,
                }]),
                ..with(stirrer())
            },
            Fault::SweepThroughWall,
        ),
        (
            Hopper {
                loading: Loading {
                    before_mouth_m: 0.32,
                    ..h.loading
                },
                ..h
            },
            Fault::DropBlocked,
        ),
        (
            Hopper {
                roller: h.roller.map(|r| RollerSpec {
                    squeeze_m: -0.001,
                    ..r
                }),
                ..h
            },
            Fault::RollerMisses,
        ),
        (
            Hopper {
                roller: h.roller.map(|r| RollerSpec { width_m: 0.13, ..r }),
                ..h
            },
            Fault::RollerWide,
        ),
        (Hopper { rail_gap_m: 0.1, ..h }, Fault::RailsIdle),
        (
            Hopper {
                plates: Plates::of(&[Plate {
                    before_mouth_m: -0.05,
                    aside_m: 0.05,
                    height_m: 0.06,
                    length_m: 0.12,
                    width_m: 0.06,
                    turn_rad: 0.0,
                    tilt_rad: 1.57,
                }]),
                ..h
            },
            Fault::PlateBlocks,
        ),
    ];
    for (bad, fault) in cases {
        let found = faults(&bad);
        assert!(found.contains(&fault), "{fault:?}: {found:?}");
    }
    assert!(lints(&h, &pieces(9)).iter().any(|l| l.fault == Fault::Piled));
    // The length named as the limit is one that fits.
    let long = with(StirrerSpec {
        length_m: 0.2,
        ..stirrer()
    });
    let lint = lints(&long, &p)
        .into_iter()
        .find(|l| l.fault == Fault::SweepThroughWall)
        .unwrap();
    let mended = with(StirrerSpec {
        length_m: lint.allowed_m,
        ..stirrer()
    });
    assert!(!faults(&mended).contains(&Fault::SweepThroughWall), "{lint:?}");
    // A swing that keeps clear of the wall behind the shaft.
    let swung = with(StirrerSpec {
        offset_m: 0.1,
        length_m: 0.09,
        swing_rad: 1.6,
        middle_rad: -1.57,
        ..stirrer()
    });
    assert!(!faults(&swung).contains(&Fault::SweepThroughWall));
}

#[test]
fn each_doubt_changes_one_thing() {
    let (h, p) = (hopper(), pieces(4));
    let all = doubts(&h, &p);
    assert_eq!(all.len(), 8);
    for d in &all {
        assert!((d.hopper != h) != (d.pieces != p), "{}", d.code);
    }
}

/// On a floor without friction the roller spins the piece and does not move it: v = u/2 needs something to roll on.
#[test]
fn a_roller_takes_nothing_from_a_floor_without_friction() {
    let smooth = Hopper {
        friction_coeff: 0.0,
        piece_friction_coeff: 0.0,
        ..hopper()
    };
    assert_eq!(stuck(&smooth, 1, 2), 2);
    assert_eq!(stuck(&hopper(), 1, 2), 0);
}

#[test]
fn no_remedy_on_offer_is_impossible() {
    for h in [
        hopper(),
        Hopper {
            stirrer: Some(stirrer()),
            ..hopper()
        },
    ] {
        let all = remedies(&h, &pieces(4));
        assert!(all.len() >= 6, "{}", all.len());
        for r in &all {
            assert!(
                lints(&r.hopper, &pieces(4)).iter().all(|l| !l.fault.refused()),
                "{}",
                r.code
            );
            assert!(r.hopper != h, "{}", r.code);
        }
    }
}

/// Source: the formula worked by hand: 20 and 5 of 100, z = 1.959964: (21 − 6)/102 ± z √((27/102 − (15/102)²)/102).
#[test]
fn the_interval_of_a_paired_difference_is_that_of_its_formula() {
    let s = paired(20, 5, 100, 0.95);
    assert!((s.frac - 0.15).abs() < 1e-12, "{s:?}");
    assert!(
        (s.low_frac - 0.051_41).abs() < 1e-4 && (s.high_frac - 0.242_70).abs() < 1e-4,
        "{s:?}"
    );
    let nothing = paired(0, 0, 100, 0.95);
    assert!(nothing.low_frac < 0.0 && nothing.high_frac > 0.0, "{nothing:?}");
}

#[test]
fn remedies_are_ranked_on_the_same_loads_and_bands_are_established_to_help() {
    let p = pieces(4);
    let all: Vec<_> = remedies(&hopper(), &p)
        .into_iter()
        .filter(|r| ["bands", "wider-chute"].contains(&r.code))
        .collect();
    let r = rank(&hopper(), &p, &all, 1, 16, &mut |_| true).unwrap();
    let bands = r.compared.iter().find(|c| c.remedy.code == "bands").unwrap();
    assert!(bands.established && bands.removed.frac > 0.2, "{bands:?}");
    assert!((r.now.frac - bands.stuck.frac - bands.removed.frac).abs() < 1e-12);
    assert!(r.compared[0].established && r.compared[0].removed.frac > 0.0);
}

#[test]
fn what_stands_first_by_its_effort_need_not_be_what_removes_most_and_that_is_named_too() {
    let h = Hopper {
        stirrer: Some(StirrerSpec {
            reverses: false,
            ..stirrer()
        }),
        ..hopper()
    };
    let p = pieces(4);
    let both: Vec<_> = remedies(&h, &p)
        .into_iter()
        .filter(|r| ["drop-at-back", "stirrer-reverses"].contains(&r.code))
        .collect();
    let r = rank(&h, &p, &both, 1, 64, &mut |_| true).unwrap();
    let [first, second] = &r.compared[..] else {
        panic!("{r:?}");
    };
    assert_eq!(first.remedy.code, "drop-at-back");
    assert!(second.removed.frac > first.removed.frac, "{r:?}");
    let most = r.most.unwrap();
    assert!(most.index == 1 && most.beats_first, "{r:?}");
    // Nothing that helps, nothing named.
    assert_eq!(rank(&h, &p, &[], 1, 8, &mut |_| true).unwrap().most, None);
}

/// A filmed load is the load, and its moments fit together.
#[test]
fn a_replay_is_the_load_itself_and_shows_what_wedges_it() {
    let (h, p) = (hopper(), pieces(4));
    let index = (0..64).find(|i| run(&h, &p, 1, *i).wedge.is_some()).unwrap();
    let r = replay(&h, &p, 1, index, 1.0 / 60.0);
    assert_eq!(r.load, run(&h, &p, 1, index));
    let first = r.frames.first().unwrap();
    let last = r.frames.last().unwrap();
    assert!(first.time_s < 0.0 && first.wait_s == 0.0, "{first:?}");
    // Nothing moves in a lock, so the weight of all is carried by walls and floor.
    assert_eq!(last.poses.len(), p.count as usize - r.load.gaps_s.len());
    let g = crate::units::STANDARD_GRAVITY_MPS2;
    let floor: f64 = last
        .touches
        .iter()
        .filter(|t| t.against == Against::Side(Side::Under))
        .map(|t| t.normal_n)
        .sum();
    let weight = last.poses.len() as f64 * p.mass_kg * g * libm::cos(h.slope_rad);
    assert!((floor / weight - 1.0).abs() < 0.35, "{floor} of {weight}");
    for pair in r.frames.windows(2) {
        let step = pair[1].time_s - pair[0].time_s;
        assert!(step > 0.0 && step < 0.02, "{step}");
    }
    // The wedge is in the picture: somebody presses on both side walls.
    let on = |side| last.touches.iter().any(|t| t.against == Against::Side(side));
    assert!(on(Side::Left) && on(Side::Right), "{:?}", last.touches);
}

/// Broken off, a survey gives the loads that were played, and so does a ranking.
#[test]
fn what_is_broken_off_is_summed_up() {
    let (h, p) = (hopper(), pieces(4));
    let plan = SurveyPlan {
        seed: 1,
        most_count: 4096,
        least_count: 0,
        within_frac: 1e-6,
    };
    let s = survey(&h, &p, &plan, &mut |_| false).unwrap();
    assert!(
        s.stopped && !s.settled && s.load_count >= 8 && s.load_count < 64,
        "{}",
        s.load_count
    );
    let all = remedies(&h, &p);
    let r = rank(&h, &p, &all, 1, 4096, &mut |_| false).unwrap();
    assert_eq!(r.left.len(), all.len());
    assert!(r.compared.is_empty() && r.load_count == s.load_count);
    assert_eq!(r.now.frac, s.waits[1].loads.frac);
    // One change is played to the end, the second is not begun.
    let mut go_on = |x: &Ranked| x.done_count < 1;
    let r = rank(&h, &p, &all, 1, 8, &mut go_on).unwrap();
    assert_eq!([r.compared.len(), r.left.len()], [1, all.len() - 1]);
}

/// Before and after over the same loads is the difference of the shares, and the worst list begins with the worst.
#[test]
fn a_change_is_compared_load_by_load_with_what_was() {
    let (h, p) = (hopper(), pieces(4));
    let banded = remedies(&h, &p).into_iter().find(|r| r.code == "bands").unwrap();
    let plan = SurveyPlan {
        seed: 1,
        most_count: 24,
        least_count: 24,
        within_frac: 0.4,
    };
    let before = survey(&h, &p, &plan, &mut |_| true).unwrap();
    let after = survey(&banded.hopper, &p, &plan, &mut |_| true).unwrap();
    let gone = before_and_after(&before.lines, &after.lines);
    let told = before.waits[1].loads.frac - after.waits[1].loads.frac;
    assert!(
        (gone[1].frac - told).abs() < 1e-12 && gone[1].low_frac > 0.0,
        "{gone:?}"
    );
    let worst = worst_first(&before.lines);
    let first = before.worst.unwrap().index;
    assert_eq!(worst[0].index, first);
    assert!(worst.windows(2).all(|w| w[0].longest_s >= w[1].longest_s));
}
