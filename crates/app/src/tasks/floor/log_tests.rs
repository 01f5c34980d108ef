#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use crate::project::{DEMOS, parse};
use crate::store;

const RPM: f64 = std::f64::consts::PI / 30.0;

/// Runs lines one after another on a log of their own; what each gave.
fn run(name: &str, lines: &[&str]) -> Vec<Result<Done, Finding>> {
    let folder = std::env::temp_dir().join(format!("arcwright-log-{}-{name}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let project = parse("lantern", DEMOS[0].text).unwrap().project;
    let floor = Floor::of(&project);
    let mut store = store::open(&folder.join("floor.db")).unwrap();
    let out = lines
        .iter()
        .enumerate()
        .map(|(i, l)| log(&floor, &mut store, l, false, 1000 * i as i64))
        .collect();
    drop(store);
    std::fs::remove_dir_all(&folder).unwrap();
    out
}

fn rpm(done: &Done) -> f64 {
    (done.entry.setpoint_radps / RPM).round()
}

#[test]
fn an_unsaid_speed_is_the_last_of_the_spot_and_before_that_the_aimed_one() {
    let all: Vec<Done> = run(
        "speed",
        &["far in", "near 2000 in", "far 3490 in", "far in", "near in"],
    )
    .into_iter()
    .map(Result::unwrap)
    .collect();
    assert!(all[0].unsaid.aimed_speed);
    let project = parse("lantern", DEMOS[0].text).unwrap().project;
    let aimed = Floor::of(&project)
        .aimed(&project.spots[2], &project.machine.setting)
        .unwrap();
    assert_eq!(rpm(&all[0]), (aimed / RPM).round());
    assert_eq!((rpm(&all[3]), rpm(&all[4])), (3490.0, 2000.0));
    assert!(all[3].unsaid.last_speed && !all[2].unsaid.last_speed);
}

#[test]
fn an_unsaid_spot_is_the_last_of_the_session_and_without_one_it_is_asked_for() {
    let all = run("spot", &["3490 in", "far 3490 in", "short"]);
    assert_eq!(all[0].as_ref().unwrap_err().code, "no-spot");
    let third = all[2].as_ref().unwrap();
    assert_eq!(third.entry.spot, "far");
    assert!(third.unsaid.spot);
}

#[test]
fn a_wall_said_once_goes_on_at_the_same_place_in_the_room() {
    let all = run(
        "wall",
        &[
            "far 3490 wall 1.8m",
            "far 3490 wall 1.8m at 5.2m",
            "near 2100 wall 1.7m",
        ],
    );
    assert_eq!(all[0].as_ref().unwrap_err().code, "half-said");
    // 5.2 m from the far spot (3.6 m to the rim) is 2.7 m from the near one (1.1 m).
    let wall = all[2].as_ref().unwrap().entry.wall_m.unwrap();
    assert!((wall[0] - 2.7).abs() < 1e-12, "{wall:?}");
    // On the target's own back wall nothing need be said: 1.1 m and 390 mm of opening.
    let own = run("own-wall", &["near 2100 wall 1.3m"]);
    let wall = own[0].as_ref().unwrap().entry.wall_m.unwrap();
    assert!((wall[0] - 1.49).abs() < 1e-12);
}

#[test]
fn where_a_time_of_flight_ended_follows_from_what_was_seen_or_is_asked_for() {
    let all = run(
        "fall",
        &[
            "far 3490 in fall 1.2s",
            "far 3490 land 4.2m fall 1.3s",
            "far 3490 fall 1.3s",
            "far 3490 short fall 1.3s to 1m",
        ],
    );
    let height = |i: usize| all[i].as_ref().unwrap().entry.fall.unwrap().1;
    assert_eq!((height(0), height(1), height(3)), (1.14, 0.056, 1.0));
    assert_eq!(all[2].as_ref().unwrap_err().code, "half-said");
}

#[test]
fn a_miss_by_eye_outside_the_opening_is_an_outcome_and_one_inside_is_not() {
    let all = run(
        "miss",
        &[
            "far 3490 long 12cm left 5cm",
            "far 3490 long 40cm left 5cm",
            "far 3490 short 25cm",
            "far 3490 long 1cm right 50cm",
            "far 3490 in long 10cm",
        ],
    );
    let outcome = |i: usize| all[i].as_ref().unwrap().entry.outcome;
    assert_eq!(outcome(0), None);
    assert_eq!(outcome(1), Some(Outcome::Long));
    assert_eq!(outcome(2), Some(Outcome::Short));
    assert_eq!(outcome(3), Some(Outcome::Right));
    assert_eq!(outcome(4), Some(Outcome::In));
}
