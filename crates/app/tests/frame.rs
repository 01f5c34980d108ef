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

/// By hand: the hopper's top is 470 + 110 mm up and rises by 100 mm, the base's underside is 5 mm up: 675 mm.
#[test]
fn what_unfolds_is_held_to_the_limits_for_it() {
    let with = |limit: &str| {
        let text = near(&changed(
            "up = \"470 mm\"",
            "up = \"470 mm\"\nout_up = \"100 mm\"",
        ));
        let text = text.replacen(
            "[limits] ",
            &format!("[limits]\nunfolded_height = \"{limit}\" "),
            1,
        );
        assert!(text.contains("unfolded_height"));
        json(&["frame", "--json"], &File::of("unfolded", &text)).0
    };
    let (low, high) = (with("670 mm"), with("690 mm"));
    let found = verdict(&low, "parts-unfolded");
    assert_eq!(found["status"], "fails", "{found}");
    assert!(
        (found["margin"]["value"].as_f64().unwrap() + 0.005).abs() < 1e-9,
        "{found}"
    );
    assert_eq!(verdict(&high, "parts-unfolded")["status"], "holds");
    assert_eq!(verdict(&low, "parts-fit")["status"], "holds");
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

/// Everything that `frame` judges stands in `check` too, once, and counts for its exit code.
#[test]
fn check_holds_the_verdicts_of_the_frame_once() {
    let small = File::of(
        "check",
        &near(&changed("breaker = \"40 A\"", "breaker = \"8 A\"")),
    );
    let (whole, code) = json(&["check", "--json"], &small);
    assert_eq!(
        (verdict(&whole, "breaker")["status"].as_str(), code),
        (Some("fails"), 1)
    );
    let names = |v: &Value| -> Vec<String> {
        let all = v["verdicts"].as_array().unwrap().iter();
        all.map(|v| format!("{} {}", v["check"], v["subject"])).collect()
    };
    let (frame, _) = json(&["frame", "--json"], &small);
    let all = names(&whole);
    for name in names(&frame) {
        assert_eq!(all.iter().filter(|n| **n == name).count(), 1, "{name}");
    }
}

/// A tired battery: the chance is neither none nor all, lies in its range, and is what fails.
#[test]
fn a_weak_battery_browns_out_in_some_matches_with_a_range() {
    let chance = |ohm: &str| {
        let text = near(&changed(
            "resistance = \"18 mohm\"",
            &format!("resistance = \"{ohm}\""),
        ));
        let (answer, _) = json(&["frame", "--json"], &File::of("weak", &text));
        let found = &answer["power"]["brown_out"];
        let of = |k: &str| found[k].as_f64().unwrap();
        assert!(of("low_frac") <= of("frac") && of("frac") <= of("high_frac"));
        (
            of("frac"),
            verdict(&answer, "frame-brown-out")["status"]
                .as_str()
                .unwrap()
                .to_string(),
        )
    };
    assert_eq!(chance("18 mohm"), (0.0, "holds".into()));
    let (frac, status) = chance("100 mohm");
    assert!(
        (0.05..0.95).contains(&frac) && status == "fails",
        "{frac} {status}"
    );
}

/// Hoop stress at the bore of a disc and in a free ring by the closed forms of the handbooks [timoshenko-goodier]:
/// (3 + ν)/4 ρ ω² (ro² + (1 − ν)/(3 + ν) ri²) and ρ v².
#[test]
fn the_parts_of_the_wheel_are_stressed_as_the_closed_forms_say() {
    let (answer, _) = json(&["frame", "--json"], &File::of("rims", &near(LANTERN)));
    let w = answer["shaft"]["speed_radps"].as_f64().unwrap();
    let stress = |i: usize| answer["rims"][i]["stress_pa"].as_f64().unwrap();
    let (nu, rho, ro, ri): (f64, f64, f64, f64) = (0.36, 1240.0, 0.048, 0.004);
    let disc = (3.0 + nu) / 4.0 * rho * w * w * (ro * ro + (1.0 - nu) / (3.0 + nu) * ri * ri);
    assert!((stress(0) / disc - 1.0).abs() < 1e-9, "{} {disc}", stress(0));
    let ring = 7850.0 * (w * 0.040).powi(2);
    assert!((stress(1) / ring - 1.0).abs() < 1e-9, "{} {ring}", stress(1));
    let fast = near(LANTERN)
        .replacen("ratio = 1.0 ", "ratio = 0.5 ", 1)
        .replacen("rim_limit = \"40 m/s\"", "rim_limit = \"90 m/s\"", 1);
    let (answer, _) = json(&["frame", "--json"], &File::of("fast", &fast));
    assert_eq!(verdict(&answer, "rim-stress")["status"], "fails");
}

/// The give is fed into the gap: squeeze between ribs is the stiff one less what force and compliance make of it, a stiff sheet throws
/// as if there were none, and a soft one throws slower.
#[test]
fn the_sheet_that_gives_way_feeds_the_gap_along_the_arc() {
    let materials = |thickness: &str| {
        let text = near(&changed(
            "thickness = \"1.0 mm\"",
            &format!("thickness = \"{thickness}\""),
        ));
        json(&["frame", "--json"], &File::of("sheet", &text)).0["guide"].clone()
    };
    let thin = materials("0.6 mm");
    let m = &thin["materials"][0];
    let of = |v: &Value, k: &str| v[k].as_f64().unwrap();
    let give_m_per_n = of(m, "give_m") / of(&thin, "piece_n");
    let left = of(&m["giving"], "squeeze_at_rib_m") - give_m_per_n * of(&m["giving"], "force_n");
    assert!((of(&m["giving"], "squeeze_between_m") - left).abs() < 1e-12);
    let thick = materials("20 mm");
    let g = &thick["materials"][0]["giving"];
    assert!((of(g, "exit_mps") / of(g, "stiff_mps") - 1.0).abs() < 1e-4);
    // Two springs in a row where the piece's law is straight; less squeeze, and another exit speed, over a soft sheet.
    let soft = &thin["materials"][2]["giving"];
    let (rib, between) = (of(soft, "squeeze_at_rib_m"), of(soft, "squeeze_between_m"));
    assert!(0.0 < between && between < 0.8 * rib, "{soft}");
    assert!(of(soft, "force_n") < of(soft, "stiff_n"));
    assert!(
        (of(soft, "exit_mps") / of(soft, "stiff_mps") - 1.0).abs() > 1e-4,
        "{soft}"
    );
    // Give goes with 1/t³ (beam tables [roark]): 0.6 mm against 20 mm of the same material.
    let ratio = of(m, "give_m") / of(&thick["materials"][0], "give_m");
    assert!((ratio / (20.0f64 / 0.6).powi(3) - 1.0).abs() < 1e-9, "{ratio}");
}

/// Turning force m r ω² is twice as large with twice the lump, and so is the scatter it makes.
#[test]
fn twice_the_lump_scatters_twice_as_much() {
    let scatter = |lump: &str| {
        let text = near(&changed("lump = \"1 g\"", &format!("lump = \"{lump}\"")));
        let (answer, _) = json(&["frame", "--json"], &File::of("lump", &text));
        answer["imbalance"][0]["along_sd_m"].as_f64().unwrap()
    };
    assert!((scatter("2 g") / scatter("1 g") - 2.0).abs() < 1e-9);
}

#[test]
fn a_lead_thinner_than_its_breaker_is_found() {
    let thin = near(&changed("area = \"5.3 mm^2\"", "area = \"1.5 mm^2\""));
    let (answer, _) = json(&["frame", "--json"], &File::of("lead", &thin));
    let wire = verdict(&answer, "wires");
    assert_eq!(wire["status"], "fails");
    assert!(
        wire["why"].as_str().unwrap().contains("does not protect it"),
        "{wire}"
    );
}

#[test]
fn parts_and_free_room_are_drawn_and_the_opening_is_handed_over() {
    let file = File::of("parts", &near(LANTERN));
    let svg = file.0.with_extension("parts.svg");
    let out = run(
        &["frame", "--view", "parts", "--svg", svg.to_str().unwrap()],
        &file,
    );
    assert_eq!(out.status.code(), Some(0));
    let picture = std::fs::read_to_string(&svg).unwrap();
    std::fs::remove_file(&svg).unwrap();
    assert!(picture.contains("controller and radio") && picture.contains("from the front"));
    let (hand, _) = json(&["hand", "--json"], &file);
    let states: Vec<&str> = hand["opening"]["states"]
        .as_array()
        .unwrap()
        .iter()
        .map(|s| s["state"].as_str().unwrap())
        .collect();
    assert_eq!(states, ["SPIN_UP", "THROW", "THROW", "THROW", "DRIVE_OFF"]);
    assert_eq!(hand["constants"]["opening_s"], 20.0);
    assert_eq!(hand["constants"]["opening_throws_count"], 3.0);
}
