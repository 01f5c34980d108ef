//! A project from a few answers.
#![allow(clippy::unwrap_used, clippy::panic)] // helpers of tests are tests too

use arcwright::project::{FILE_NAME, parse, render};
use arcwright::tasks::begin::{Start, StartSpot, begin};
use arcwright_model::limits::{Status, check_unsearched};
use arcwright_model::project::Project;
use serde_json::json;

fn start(piece: &str, target: &str, wheels: u8) -> Start {
    serde_json::from_value(json!({
        "name": "Quay \"Night\"", "piece": piece, "target": target, "rim_height": "1.1 m", "width": "600 mm", "wheels": wheels,
        "spots": [{ "name": "near", "distance": "1.2 m" }, { "name": "far", "distance": "2.6 m" }],
    }))
    .unwrap()
}

fn text(start: &Start) -> String {
    begin(start).unwrap_or_else(|p| panic!("{}", render(&p)))
}

fn project(start: &Start) -> Project {
    let text = text(start);
    parse(FILE_NAME, &text)
        .unwrap_or_else(|p| panic!("{}\n{text}", render(&p)))
        .project
}

#[test]
fn every_kind_of_piece_and_target_with_one_wheel_or_two_begins_with_every_spot_in_reach() {
    let mut out = Vec::new();
    for (piece, target, wheels) in [
        ("foam", "hoop", 2),
        ("foam", "box", 1),
        ("hollow", "well", 2),
        ("hollow", "hoop", 1),
        ("perforated", "box", 1),
        ("perforated", "hoop", 2),
        ("solid", "well", 1),
        ("solid", "box", 2),
    ] {
        let p = project(&start(piece, target, wheels));
        let report = check_unsearched(&p);
        for v in report.verdicts.iter().filter(|v| v.status == Status::Fails) {
            out.push(format!(
                "{piece} {target} {wheels}: {} {} {} | {:?} ratio {} wheel {}",
                v.check,
                v.subject,
                v.why,
                p.machine.layout,
                p.machine.drive.gear_ratio,
                p.machine.wheel.diameter_m
            ));
        }
    }
    assert!(out.is_empty(), "{}", out.join("\n"));
}

#[test]
fn what_was_answered_stands_in_the_file_as_it_was_answered() {
    let mut s = start("foam", "box", 2);
    s.units = "us".into();
    s.rim_height = "4 ft".into();
    s.diameter = "7 in".into();
    s.mass = "5 oz".into();
    s.depth = "20 in".into();
    s.highest = "24 in".into();
    let text = text(&s);
    for part in [
        "rim_height = \"4 ft\"",
        "value = \"7 in\", sd = \"1 %\"",
        "depth = \"20 in\"",
        "height = \"24 in\"",
        "\n# mass = ",
        "name = \"Quay \\\"Night\\\"\"",
        "units = \"us\"",
        "eye protection",
        "layout = \"pair\"",
    ] {
        assert!(text.contains(part), "{part}\n{text}");
    }
    let p = project(&s);
    assert!(p.machine.axle_height_m < 0.5 * 24.0 * 0.0254);
    assert_eq!(p.limits.mass_kg, None);
}

#[test]
fn answers_that_make_no_sense_are_told_all_at_once() {
    let mut s = start("foarm", "hole", 3);
    s.rim_height = "1.1".into();
    s.width = String::new();
    s.spots.push(StartSpot {
        name: "x".into(),
        distance: "3 kg".into(),
    });
    let problems = begin(&s).unwrap_err();
    let codes: Vec<&str> = problems.iter().map(|p| p.finding.code).collect();
    for code in [
        "no-such-kind",
        "no-unit",
        "wrong-unit",
        "missing-key",
        "not-a-choice",
    ] {
        assert!(codes.contains(&code), "{code} of {codes:?}");
    }
    assert!(problems.iter().all(|p| !p.finding.fix.is_empty()));
    // What only the whole shows is told as by `check`.
    let mut s = start("foam", "box", 1);
    s.width = "100 mm".into();
    assert_eq!(begin(&s).unwrap_err()[0].finding.code, "opening-too-small");
    let mut s = start("foam", "box", 1);
    s.spots[1].name = "near".into();
    assert_eq!(begin(&s).unwrap_err()[0].finding.code, "twin-spots");
}
