//! The rest of the machine and the season, as a user meets them.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::path::PathBuf;
use std::process::{Command, Output};

use serde_json::Value;

const LANTERN: &str = include_str!("../../../examples/lantern/arcwright.toml");

/// A file of a text that is gone when the test is.
struct File(PathBuf);

impl File {
    fn of(name: &str, text: &str) -> File {
        let path = std::env::temp_dir().join(format!("arcwright-frame-{}-{name}.toml", std::process::id()));
        std::fs::write(&path, text).unwrap();
        File(path)
    }
}

impl Drop for File {
    fn drop(&mut self) {
        let _ = std::fs::remove_file(&self.0);
    }
}

fn run(arguments: &[&str], file: &File) -> Output {
    Command::new(env!("CARGO_BIN_EXE_arcwright"))
        .args(arguments)
        .arg(&file.0)
        .output()
        .unwrap()
}

fn json(arguments: &[&str], file: &File) -> (Value, i32) {
    let done = run(arguments, file);
    let text = String::from_utf8(done.stdout).unwrap();
    let value = serde_json::from_str(&text)
        .unwrap_or_else(|e| panic!("{e}: {}", String::from_utf8_lossy(&done.stderr)));
    (value, done.status.code().unwrap())
}

/// The demo with one passage in place of another.
fn changed(from: &str, to: &str) -> String {
    assert!(LANTERN.contains(from), "the demo has no `{from}`");
    LANTERN.replacen(from, to, 1)
}

/// The demo with the near spot alone, so that a test is quick.
fn near(text: &str) -> String {
    let (head, rest) = text.split_once("[[spot]]\nname = \"middle\"").unwrap();
    let (_, tail) = rest.split_once("[limits]").unwrap();
    format!("{head}[limits]{tail}").replacen("spot = \"middle\"", "spot = \"near\"", 1)
}

fn verdict<'a>(answer: &'a Value, check: &str) -> &'a Value {
    answer["verdicts"]
        .as_array()
        .unwrap()
        .iter()
        .find(|v| v["check"] == check)
        .unwrap_or_else(|| panic!("no verdict on {check}"))
}

#[test]
fn a_ball_bearing_holds_and_a_plain_plastic_bushing_fails_with_the_number_that_fails() {
    let ball = File::of("ball", &near(LANTERN));
    let (answer, code) = json(&["frame", "--json"], &ball);
    assert_eq!(
        (verdict(&answer, "support")["status"].as_str(), code),
        (Some("holds"), 0)
    );
    let text = near(LANTERN)
        .replacen(
            "support = \"ball\"",
            "support = \"bushing\"\nbushing = \"acetal\"\nbushing_length = \"8 mm\"",
            1,
        )
        .replacen("rating = \"3300 N\"", "", 1)
        .replacen("outer_diameter = \"22 mm\"", "", 1);
    let (answer, code) = json(&["frame", "--json"], &File::of("bushing", &text));
    let support = verdict(&answer, "support");
    assert_eq!((support["status"].as_str(), code), (Some("fails"), 1));
    let why = support["why"].as_str().unwrap();
    assert!(why.contains("MPa m/s") && why.contains("acetal"), "{why}");
    // The product of pressure and speed by hand: load over bore and length, times half the bore and the speed.
    let shaft = &answer["shaft"];
    let of = |k: &str| shaft[k].as_f64().unwrap();
    let product = of("steady_n") / (0.008 * 0.008) * 0.5 * 0.008 * of("speed_radps");
    let found = shaft["support"]["product_pa_mps"].as_f64().unwrap();
    assert!((found / product - 1.0).abs() < 1e-9);
    assert!(support["found"]["value"].as_f64().unwrap() > 2.0);
}

#[test]
fn a_breaker_too_small_is_found_and_one_that_is_large_enough_holds() {
    let small = File::of(
        "breaker",
        &near(&changed("breaker = \"40 A\"", "breaker = \"8 A\"")),
    );
    let (answer, code) = json(&["frame", "--json"], &small);
    assert_eq!(
        (verdict(&answer, "breaker")["status"].as_str(), code),
        (Some("fails"), 1)
    );
    assert!(answer["power"]["breaker_trips_s"].as_f64().unwrap() > 0.0);
    let whole = File::of("whole", &near(LANTERN));
    assert_ne!(
        verdict(&json(&["frame", "--json"], &whole).0, "breaker")["status"],
        "fails"
    );
}

#[test]
fn a_top_heavy_machine_tips_and_soft_sheet_gives_way() {
    let tall = near(&changed(
        "slope = \"10 deg\"",
        "slope = \"10 deg\"\nmass_height = \"450 mm\"",
    ));
    let tall = tall.replacen("guide_ribs = \"24 mm\"", "guide_ribs = \"80 mm\"", 1);
    let (answer, _) = json(&["frame", "--json"], &File::of("tall", &tall));
    assert_eq!(verdict(&answer, "tip-over")["status"], "fails");
    assert_eq!(verdict(&answer, "guide-give")["status"], "fails");
}

#[test]
fn the_other_base_drives_sideways_pushes_less_and_is_drawn() {
    let file = File::of("compare", &near(LANTERN));
    let svg = file.0.with_extension("svg");
    let (answer, code) = json(
        &[
            "frame",
            "--json",
            "--compare",
            "sideways",
            "--svg",
            svg.to_str().unwrap(),
        ],
        &file,
    );
    assert_eq!(code, 0);
    let (a, b) = (&answer["base"], &answer["compared"]);
    let of = |v: &Value, k: &str| v[k].as_f64().unwrap();
    assert!(of(b, "side_s") < of(a, "side_s") && of(b, "push_n") < of(a, "push_n"));
    // cos 45° of the same weight's friction, both limited by the floor.
    assert!((of(b, "push_n") / of(a, "push_n") - 0.5f64.sqrt()).abs() < 1e-9);
    let picture = std::fs::read_to_string(&svg).unwrap();
    std::fs::remove_file(&svg).unwrap();
    assert!(picture.contains("sideways, 4 motors"));
    let wrong = run(&["frame", "--compare", "hover"], &file);
    assert_eq!(wrong.status.code(), Some(2));
    assert!(
        wrong.stdout.is_empty() && String::from_utf8_lossy(&wrong.stderr).contains("four, six or sideways")
    );
}

#[test]
fn a_project_without_the_tables_is_told_what_to_add() {
    let (head, rest) = LANTERN.split_once("# ---- The rest of the machine").unwrap();
    let (_, tail) = rest.split_once("# ---- What may change").unwrap();
    let file = File::of("bare", &format!("{head}# ---- What may change{tail}"));
    for (command, table) in [("frame", "[frame]"), ("season", "[season]")] {
        let done = run(&[command], &file);
        assert_eq!(done.status.code(), Some(2), "{command}");
        assert!(done.stdout.is_empty() && String::from_utf8_lossy(&done.stderr).contains(table));
    }
}

#[test]
fn the_season_ranks_the_changes_with_ranges_and_repeats_exactly() {
    let file = File::of("season", &near(LANTERN));
    let (answer, code) = json(&["season", "--json", "--worlds", "40"], &file);
    assert_eq!(code, 0);
    let changes = answer["changes"].as_array().unwrap();
    assert_eq!(changes.len(), 6);
    let per_day: Vec<f64> = changes.iter().map(|c| c["per_day"].as_f64().unwrap()).collect();
    assert!(per_day.windows(2).all(|w| w[0] >= w[1]));
    let of = |name: &str| changes.iter().find(|c| c["change"] == name).unwrap();
    for name in ["sideways drive", "floor intake"] {
        let range = &of(name)["per_day_range"];
        assert!(range["low"].as_f64() < range["high"].as_f64(), "{name}");
        assert!(
            of(name)["rates"]["round_s"].as_f64() < answer["rates"]["round_s"].as_f64(),
            "{name}"
        );
    }
    let best: f64 = changes.iter().map(|c| c["best_frac"].as_f64().unwrap()).sum();
    assert!(best <= 1.0 + 1e-9 && best > 0.9, "{best}");
    assert_eq!(json(&["season", "--json", "--worlds", "40"], &file).0, answer);
}

#[test]
fn a_spot_that_is_not_there_is_named_with_those_that_are() {
    let file = File::of(
        "spot",
        &near(LANTERN).replacen("spot = \"near\"", "spot = \"moon\"", 1),
    );
    let done = run(&["season"], &file);
    assert_eq!(done.status.code(), Some(2));
    let text = String::from_utf8_lossy(&done.stderr).into_owned();
    assert!(text.contains("moon") && text.contains("\"near\""), "{text}");
}
