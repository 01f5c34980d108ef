//! Room to adjust on the demo machines: followed to the end, its advice must work.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use arcwright::project::{DEMOS, parse};
use arcwright_model::aim::{self, Depth, End, Knob, Room, RoomCase};
use arcwright_model::limits::{self, Status, Verdict, room_verdict, room_words};
use arcwright_model::project::{self, KnobTravel, Project, Spread};

fn demo(name: &str) -> Project {
    let d = DEMOS.iter().find(|d| d.name == name).unwrap();
    parse(d.name, d.text).unwrap().project
}

fn case<'a>(room: &'a Room, key: &str, end: End) -> &'a RoomCase {
    let found = room.cases.iter().find(|c| c.key == Some(key) && c.end == end);
    found.unwrap_or_else(|| panic!("no case {key} {end:?}"))
}

fn setpoint(case: &RoomCase, spot: usize) -> f64 {
    case.by_speed[spot].setpoint_radps.unwrap()
}

fn status(p: &Project) -> Status {
    room_verdict(p, &aim::room(p, Depth::All, None)).status
}

fn adjustability(p: &Project) -> Verdict {
    let all = limits::check(p).verdicts;
    all.into_iter().find(|v| v.check == "adjustability").unwrap()
}

/// Lantern with its knobs fixed.
fn without_knobs() -> Project {
    let mut p = demo("lantern");
    p.machine.knobs = Default::default();
    p
}

/// Only the spread of one key left.
fn only(mut p: Project, key: &str) -> Project {
    p.spreads.retain(|k, _| k == key);
    p
}

/// What brakes the piece must be answered with a faster wheel, what speeds it up with a slower one.
#[test]
fn more_drag_and_less_speed_transfer_need_a_faster_wheel_at_every_spot() {
    let room = aim::room(&demo("lantern"), Depth::All, None);
    let base = &room.cases[0];
    for spot in 0..3 {
        let at = |key, end| setpoint(case(&room, key, end), spot);
        let here = setpoint(base, spot);
        assert!(at("piece.drag", End::High) > here && here > at("piece.drag", End::Low));
        let transfer = "launcher.speed_transfer";
        assert!(at(transfer, End::Low) > here && here > at(transfer, End::High));
        // The same share of exit speed lost is asked back from the wheel, to first order.
        let value = case(&room, transfer, End::Low).values[0].1;
        let ratio = at(transfer, End::Low) / here * value;
        assert!((ratio - 1.0).abs() < 0.02, "spot {spot}: {ratio}");
    }
}

/// Root sum of squares of the single shifts: the 5 % end of a sum of independent normal quantities.
#[test]
fn all_together_shifts_the_setpoint_by_the_root_sum_of_squares_of_the_single_shifts() {
    let p = demo("lantern");
    let room = aim::room(&p, Depth::All, None);
    let far = 2;
    let shift: f64 = room
        .cases
        .iter()
        .filter(|c| c.end == End::Low)
        .map(|low| {
            let high = case(&room, low.key.unwrap(), End::High);
            (0.5 * (setpoint(high, far) - setpoint(low, far))).powi(2)
        })
        .sum::<f64>()
        .sqrt();
    let of = |end| {
        let c = room.cases.iter().find(|c| c.end == end).unwrap();
        setpoint(c, far) - setpoint(&room.cases[0], far)
    };
    // A throw that comes out short needs a faster wheel.
    for (end, sign) in [(End::Shorter, 1.0), (End::Longer, -1.0)] {
        let ratio = sign * of(end) / shift;
        assert!((ratio - 1.0).abs() < 0.15, "{end:?}: {ratio}");
    }
    let transfer = case(&room, "launcher.speed_transfer", End::Low);
    assert!(of(End::Shorter) > setpoint(transfer, far) - setpoint(&room.cases[0], far));
}

#[test]
fn the_demos_are_centred_by_wheel_speed_alone_wherever_the_unknowns_lie() {
    for name in ["lantern", "bramble", "pebble"] {
        let p = demo(name);
        let room = aim::room(&p, Depth::All, None);
        assert!(room.cases.iter().all(RoomCase::by_speed_alone), "{name}");
        assert_eq!(adjustability(&p).status, Status::Holds, "{name}");
        assert!(room_words(&p, &room)[0].contains("wheel speed alone still centres every spot"));
    }
}

/// The far spot just within reach as written, and no longer with more drag.
fn barely_fast_enough() -> Project {
    let mut p = only(without_knobs(), "piece.drag");
    let usable = |p: &Project| {
        let room = aim::room(p, Depth::All, None);
        (setpoint(&room.cases[0], 2), room.speed.unwrap().usable_radps)
    };
    let (needed, has) = usable(&p);
    p.machine.drive.gear_ratio *= has / needed / 1.01;
    p
}

#[test]
fn a_top_speed_that_barely_reaches_the_far_spot_fails_at_high_drag_and_its_remedies_mend_it() {
    let p = barely_fast_enough();
    let room = aim::room(&p, Depth::All, None);
    assert!(room.cases[0].by_speed_alone());
    assert!(case(&room, "piece.drag", End::Low).by_speed_alone());
    assert!(!case(&room, "piece.drag", End::High).served());
    assert_eq!(status(&p), Status::Fails);
    let verdict = adjustability(&p);
    assert_eq!(verdict.status, Status::Fails);
    assert!(
        verdict.why.contains("drag at") && verdict.why.contains("far"),
        "{}",
        verdict.why
    );
    assert!(verdict.margin.unwrap().value < 0.0);
    let need = room.faster.unwrap();
    let ratio = need.gear_ratio.unwrap();
    let diameter = need.wheel_diameter_m.unwrap();
    assert!(ratio < p.machine.drive.gear_ratio && diameter > p.machine.wheel.diameter_m);
    // Not far more than the bare need either.
    assert!(ratio > 0.9 * p.machine.drive.gear_ratio && diameter < 1.15 * p.machine.wheel.diameter_m);
    for (key, value) in [("motor.ratio", ratio), ("wheel.diameter", diameter)] {
        let mut mended = p.clone();
        assert!(project::set(&mut mended, key, value));
        assert_eq!(adjustability(&mended).status, Status::Holds, "{key}");
        assert_eq!(status(&mended), Status::Holds, "{key}");
    }
}

/// Entry angle asked so high that a slow lift needs more tilt down than there is.
fn too_little_tilt() -> Project {
    let mut p = only(without_knobs(), "piece.lift");
    p.limits.entry_angle_rad = Some(47f64.to_radians());
    p.machine.knobs.tilt = Some(KnobTravel {
        low: 8f64.to_radians(),
        high: 20f64.to_radians(),
        step: 1f64.to_radians(),
        repeat: 0.0,
    });
    p
}

#[test]
fn a_tilt_with_too_little_travel_is_named_with_the_degrees_it_lacks_and_holds_with_them() {
    let p = too_little_tilt();
    let room = aim::room(&p, Depth::All, None);
    assert_eq!(status(&p), Status::Fails);
    let need = room.travel.iter().find(|n| n.knob == Knob::Tilt).expect("tilt");
    let [below, above] = need.extra().map(f64::to_degrees);
    assert!(below > 0.5 && below < 6.0 && above == 0.0, "{below} {above}");
    assert!((below - below.round()).abs() < 1e-6, "whole steps: {below}");
    // The bare need is less: a tenth of the travel stays in hand.
    let bare = case(&room, "piece.lift", End::Low).needs[0].extra()[0].to_degrees();
    assert!(bare < below, "{bare} {below}");
    let mend = adjustability(&p).mend;
    assert!(
        mend.contains(&format!("tilt needs {} deg below", below.round())) && mend.contains("[knobs.tilt]"),
        "{mend}"
    );
    let widened = |to: f64| {
        let mut q = p.clone();
        let mut travel = need.present;
        travel.low -= to.to_radians();
        Knob::Tilt.set_travel(&mut q, travel);
        q
    };
    assert_eq!(status(&widened(below)), Status::Holds);
    assert_eq!(adjustability(&widened(below)).status, Status::Holds);
    assert_eq!(status(&widened(bare)), Status::Tight);
    if bare > 1.5 {
        assert_eq!(status(&widened(bare - 1.0)), Status::Fails);
    }
}

#[test]
fn within_its_travel_the_knob_moves_no_farther_than_it_must() {
    let mut p = too_little_tilt();
    let mut travel = p.machine.knobs.tilt.unwrap();
    travel.low = 0.0;
    Knob::Tilt.set_travel(&mut p, travel);
    let room = aim::room(&p, Depth::All, None);
    let low = case(&room, "piece.lift", End::Low);
    assert!(!low.by_speed_alone() && low.served());
    let tilt = low.by_knobs.as_ref().unwrap().setting.tilt_rad;
    // One step nearer to where it stands no longer serves.
    let mut q = p.clone();
    project::set(&mut q, "piece.lift", low.values[0].1);
    let chain = arcwright_model::shot::Chain::of(&q);
    let merit = |degrees: f64| {
        let mut s = q.machine.setting;
        s.tilt_rad = tilt + degrees.to_radians();
        aim::merit(&q, &chain, &s)
    };
    assert!(
        merit(0.0) > -0.01 && merit(1.0) < 0.0,
        "{} {}",
        merit(0.0),
        merit(1.0)
    );
    let used = room.knobs.iter().find(|k| k.knob == Knob::Tilt).unwrap();
    assert_eq!(used.range, [tilt, p.machine.setting.tilt_rad]);
}

#[test]
fn without_spreads_it_is_unknown_and_says_of_what() {
    let mut p = demo("lantern");
    p.spreads.clear();
    let verdict = adjustability(&p);
    assert_eq!(verdict.status, Status::Unknown);
    assert!(
        verdict.why.contains("drag") && verdict.why.contains("speed transfer"),
        "{}",
        verdict.why
    );
    assert!(verdict.mend.contains("sd ="), "{}", verdict.mend);
    // One spread is enough for an answer, and the others are said to be exact.
    let p = only(demo("lantern"), "piece.drag");
    let room = aim::room(&p, Depth::All, None);
    assert_eq!(room.cases.len(), 3);
    assert!(room.missing.contains(&"piece.bounce") && !room.missing.contains(&"piece.drag"));
    assert!(
        room_words(&p, &room)
            .last()
            .unwrap()
            .starts_with("Taken as exact")
    );
}

/// 5 % of a range lies below its lower end point; a normal quantity stays within what the file admits.
#[test]
fn ends_are_the_five_and_ninety_five_per_cent_points_within_what_the_file_admits() {
    let mut p = demo("lantern");
    p.spreads
        .insert("piece.drag".into(), Spread::Range { low: 0.4, high: 0.6 });
    p.spreads.insert("piece.lift".into(), Spread::Normal { sd: 0.1 });
    p.spreads
        .insert("launcher.rolling_loss".into(), Spread::Normal { sd: 0.05 });
    let room = aim::room(&p, Depth::All, None);
    let at = |key, end| case(&room, key, end).values[0].1;
    let close = |a: f64, b: f64| assert!((a - b).abs() < 1e-9, "{a} {b}");
    close(at("piece.drag", End::Low), 0.41);
    close(at("piece.drag", End::High), 0.59);
    let lift = project::get(&p, "piece.lift").unwrap();
    close(at("piece.lift", End::High), lift + 0.1645);
    close(at("launcher.rolling_loss", End::Low), 0.0);
}

#[test]
fn when_only_all_together_is_too_much_it_is_tight() {
    let mut p = without_knobs();
    let room = aim::room(&p, Depth::All, None);
    let worst_single = setpoint(case(&room, "launcher.speed_transfer", End::Low), 2);
    let together = room.cases.iter().find(|c| c.end == End::Shorter).unwrap();
    let limit = 0.5 * (worst_single + setpoint(together, 2));
    // The reserve set so that the usable speed lies between the two.
    p.limits.speed_reserve_frac = 1.0 - limit / room.speed.unwrap().top_radps;
    assert_eq!(status(&p), Status::Tight);
    assert_eq!(adjustability(&p).status, Status::Tight);
}

#[test]
fn absurd_and_unwritten_projects_answer_without_a_fault() {
    use arcwright_model::project::blank::{Outfit, project as blank};
    let outfit = Outfit {
        spots: 2,
        parts: 1,
        sheet: true,
        knobs: [false, true, false],
        ..Outfit::default()
    };
    let mut all = vec![blank(&outfit), blank(&Outfit::default())];
    for (key, value) in [
        ("piece.mass", f64::INFINITY),
        ("motor.ratio", f64::NAN),
        ("motor.ratio", 1e9),
        ("target.rim_height", -1e12),
        ("spot[2].distance", 1e9),
        ("wheel.diameter", 1e-9),
        ("knobs.tilt.step", f64::NAN),
    ] {
        let mut p = demo("pebble");
        match key {
            "piece.mass" => p.piece.mass_kg = value,
            "motor.ratio" => p.machine.drive.gear_ratio = value,
            "target.rim_height" => p.target.rim_height_m = value,
            "wheel.diameter" => p.machine.wheel.diameter_m = value,
            "knobs.tilt.step" => {
                let t = p.machine.knobs.tilt.as_mut().unwrap();
                (t.step, t.low, t.high) = (value, f64::INFINITY, value);
            }
            _ => p.spots[2].distance_m = value,
        }
        // A few quantities and one knob are enough, and keep the test short.
        p.machine.knobs.slide = None;
        p.machine.knobs.reach = None;
        p.spreads
            .retain(|k, _| k == "piece.drag" || k == "wheel.friction");
        all.push(p);
    }
    let mut wild = demo("lantern");
    wild.machine.knobs = Default::default();
    wild.spreads
        .insert("piece.drag".into(), Spread::Normal { sd: f64::NAN });
    wild.spreads
        .insert("piece.lift".into(), Spread::Range { low: 5.0, high: -5.0 });
    wild.spreads
        .insert("piece.bounce".into(), Spread::Normal { sd: 1e300 });
    all.push(wild);
    for p in &all {
        let room = aim::room(p, Depth::First, None);
        let words = room_words(p, &room);
        assert!(words.len() < 100);
        assert_ne!(room_verdict(p, &room).why, "");
    }
}
