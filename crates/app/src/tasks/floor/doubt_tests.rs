#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use crate::project::{DEMOS, parse};
use arcwright_model::project::Project;

const RPM: f64 = std::f64::consts::PI / 30.0;

fn lantern() -> Project {
    parse("lantern", DEMOS[0].text).unwrap().project
}

fn sound() -> Entry {
    Entry {
        spot: "far".into(),
        distance_m: 3.6,
        setpoint_radps: 3490.0 * RPM,
        tilt_rad: 8_f64.to_radians(),
        reach_m: 0.06,
        place: 1,
        ..Entry::default()
    }
}

/// The doubts about a changed shot: whether impossible, and in which words.
fn doubted(change: impl FnOnce(&mut Entry)) -> Vec<(bool, String)> {
    let project = lantern();
    let mut entry = sound();
    change(&mut entry);
    doubts(&Floor::of(&project), &entry)
        .into_iter()
        .map(|d| (d.impossible, d.finding.what))
        .collect()
}

#[track_caller]
fn impossible(says: &str, change: impl FnOnce(&mut Entry)) {
    let found = doubted(change);
    assert!(
        found.iter().any(|(sure, what)| *sure && what.contains(says)),
        "no impossible {says:?} in {found:?}"
    );
}

#[track_caller]
fn unlikely(says: &str, change: impl FnOnce(&mut Entry)) {
    let found = doubted(change);
    assert!(
        !found.is_empty()
            && found.iter().all(|(sure, _)| !sure)
            && found.iter().any(|(_, w)| w.contains(says)),
        "not only unlikely with {says:?}: {found:?}"
    );
}

#[test]
fn ordinary_shots_raise_no_doubt() {
    assert_eq!(doubted(|_| {}), []);
    assert_eq!(
        doubted(|e| {
            e.before_radps = Some(3490.0 * RPM);
            e.after_radps = Some(3200.0 * RPM);
            e.battery_v = Some(12.9);
            e.landing_m = Some([4.21, 0.03, 0.056]);
            e.fall = Some((1.24, 0.056));
            e.wall_m = Some([5.0, 1.35]);
            e.exit_speed_mps = Some(7.9);
            e.place = 4;
        }),
        []
    );
}

#[test]
fn what_cannot_be_is_said_to_be_impossible() {
    impossible("behind the wheel axle", |e| {
        e.landing_m = Some([-1.0, 0.0, 0.056])
    });
    impossible("no piece flies farther", |e| {
        e.landing_m = Some([4200.0, 0.0, 0.056])
    });
    impossible("rim speed of 40 m/s", |e| e.setpoint_radps = 40.0 / 0.048);
    impossible("no piece rises above", |e| e.wall_m = Some([5.0, 40.0]));
    impossible("half a piece", |e| e.wall_m = Some([5.0, 0.01]));
    impossible("120 V", |e| e.battery_v = Some(120.0));
    impossible("faster after the throw", |e| {
        e.before_radps = Some(3000.0 * RPM);
        e.after_radps = Some(3100.0 * RPM);
    });
    impossible("no throw 5 in a volley of 4", |e| {
        e.place = 5;
        e.volley_count = Some(4);
    });
    impossible("left at 60 m/s", |e| e.exit_speed_mps = Some(60.0));
    impossible("stays up longer", |e| e.fall = Some((12.4, 1.14)));
    impossible("jammed and was thrown", |e| {
        e.jammed = true;
        e.outcome = Some(Outcome::In);
    });
    impossible("contradict", |e| {
        e.outcome = Some(Outcome::Short);
        e.miss_m = Some([0.1, 0.0]);
    });
    impossible("behind the robot", |e| e.miss_m = Some([-6.0, 0.0]));
}

/// Free fall, t = sqrt(2 h / g): a trade fact, common practice, no source.
#[test]
fn a_time_of_flight_below_free_fall_is_impossible_and_just_above_it_is_not() {
    // Up to the rim at 1.14 m: the highest exit of this launcher is 0.3 + 0.096 + 0.1 + 0.06 = 0.556 m.
    let free_s = (2.0 * (1.14 - 0.556) / 9.80665_f64).sqrt();
    impossible("free fall", |e| e.fall = Some((free_s * 0.75, 1.14)));
    assert_eq!(doubted(|e| e.fall = Some((free_s * 1.05, 1.14))), []);
}

#[test]
fn what_hardly_can_be_is_taken_when_it_is_meant() {
    unlikely("brief allows 4", |e| e.place = 6);
    unlikely("its travel is", |e| e.tilt_rad = 40_f64.to_radians());
    unlikely("reset at", |e| e.battery_v = Some(5.0));
    unlikely("was asked for", |e| e.before_radps = Some(2000.0 * RPM));
    let project = lantern();
    let floor = Floor::of(&project);
    let odd = Entry { place: 6, ..sound() };
    let refused = refuse(&floor, &odd, false).unwrap_err();
    assert!(refused.fix.contains("--anyway"), "{}", refused.fix);
    assert!(refuse(&floor, &odd, true).is_ok());
    let never = Entry {
        battery_v: Some(120.0),
        ..sound()
    };
    assert!(
        refuse(&floor, &never, true).is_err(),
        "--anyway does not take the impossible"
    );
}

#[test]
fn numbers_that_are_none_are_refused_before_anything_is_computed() {
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        impossible("not finite", |e| e.landing_m = Some([bad, 0.0, 0.0]));
        impossible("not finite", |e| e.setpoint_radps = bad);
        impossible("not finite", |e| e.fall = Some((bad, 1.0)));
    }
    for bad in [0.0, -1.0] {
        impossible("not above zero", |e| e.distance_m = bad);
        impossible("not above zero", |e| e.fall = Some((bad, 1.0)));
    }
    for huge in [1e300, f64::MAX] {
        assert!(!doubted(|e| e.setpoint_radps = huge).is_empty());
        assert!(!doubted(|e| e.landing_m = Some([huge, huge, huge])).is_empty());
    }
}

/// A piece may still rise where it comes through an upright hoop, so free fall says nothing there; its speed does.
#[test]
fn a_time_to_an_upright_opening_may_be_shorter_than_free_fall_but_not_than_straight_there() {
    let demo = DEMOS.iter().find(|d| d.name == "bramble").unwrap();
    let project = parse("bramble", demo.text).unwrap().project;
    let says = |time_s: f64| {
        let entry = Entry {
            spot: "path".into(),
            distance_m: 1.4,
            setpoint_radps: 1980.0 * RPM,
            tilt_rad: project.machine.setting.tilt_rad,
            place: 1,
            fall: Some((time_s, project.target.centre_height_m())),
            ..Entry::default()
        };
        doubts(&Floor::of(&project), &entry)
    };
    // Free fall alone asks for 0.4 s to 1.6 m.
    assert!(
        says(0.22).is_empty(),
        "{:?}",
        says(0.22).first().map(|d| &d.finding.what)
    );
    let sure = says(0.02);
    assert!(
        sure.iter()
            .any(|d| d.impossible && d.finding.what.contains("to the opening"))
    );
}
