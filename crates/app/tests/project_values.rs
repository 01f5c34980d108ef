//! What a project file means: values, spreads, defaults, and reaching them by key.
#![allow(clippy::unwrap_used, clippy::panic)] // helpers of tests are tests too

use arcwright::project::{CODES, DEMOS, Loaded, json, parse, render};
use arcwright_model::launcher::{GuideError, Layout};
use arcwright_model::project::lower::header;
use arcwright_model::project::schema::{self, Entry, Kind, Need, When, with_index};
use arcwright_model::project::{Spread, get, set};
use proptest::prelude::*;

const NAME: &str = "arcwright.toml";

fn sound() -> &'static str {
    include_str!("fixtures/sound.toml")
}

fn changed(old: &str, new: &str) -> String {
    assert_eq!(
        sound().matches(old).count(),
        1,
        "`{old}` must stand once in the project"
    );
    sound().replacen(old, new, 1)
}

fn codes(text: &str) -> Vec<&'static str> {
    parse(NAME, text)
        .err()
        .unwrap_or_default()
        .iter()
        .map(|p| p.finding.code)
        .collect()
}

fn loaded(text: &str) -> Loaded {
    parse(NAME, text).unwrap_or_else(|p| panic!("{}", render(&p)))
}

#[test]
fn the_examples_of_the_schema_make_a_project_of_each_layout() {
    for layout in ["guide", "pair"] {
        let mut text = String::new();
        let fits = |when: When| !matches!((when, layout), (When::Guide, "pair") | (When::Pair, "guide"));
        let in_disc = |when: When| {
            !matches!(
                when,
                When::Annulus | When::Known | When::Tank | When::Rollers | When::Bushing
            )
        };
        let other = |e: &Entry| {
            matches!(
                e.key,
                "launcher.gap" | "launcher.gaps" | "target.centre_height" | "air.altitude"
            )
        };
        let wanted = |e: &&Entry| fits(e.when) && in_disc(e.when) && !other(e);
        for entry in schema::entries().filter(|e| e.table().is_empty()) {
            text.push_str(&format!("{} = {}\n", entry.key, entry.example));
        }
        for table in schema::TABLES {
            let rows: Vec<_> = schema::entries()
                .filter(|e| e.table() == table.pattern)
                .filter(wanted)
                .collect();
            if rows.is_empty() {
                continue;
            }
            text.push_str(&format!("{}\n", header(table)));
            for entry in rows {
                let is_layout = entry.key == "launcher.layout";
                let example = if is_layout {
                    format!("\"{layout}\"")
                } else {
                    entry.example.to_string()
                };
                text.push_str(&format!("{} = {example}\n", entry.name()));
            }
        }
        let project = loaded(&text).project;
        assert_eq!(
            matches!(project.machine.layout, Layout::Pair(_)),
            layout == "pair"
        );
    }
}

#[test]
fn an_uneven_guide_is_written_as_waves_or_as_measured_gaps() {
    let with = |lines: &str| changed("feed_push = \"15 N\"", &format!("feed_push = \"15 N\"\n{lines}"));
    let error = |lines: &str| loaded(&with(lines)).project.machine.guide_error;
    assert_eq!(loaded(sound()).project.machine.guide_error, GuideError::None);
    assert_eq!(
        error("guide_error = \"0.5 mm\"\nguide_wavelength = \"9 cm\""),
        GuideError::Wave {
            amplitude_m: 0.5e-3,
            wavelength_m: 0.09,
            phase_rad: 0.0
        }
    );
    // The squeeze of 12 mm on a piece of 112 mm means a gap of 100 mm, wherever it stands in the file.
    let GuideError::Gaps { count, added_m } = error("gaps = [\"100 mm\", \"100.6 mm\", \"99.5 mm\"]") else {
        panic!("no gaps");
    };
    assert_eq!(count, 3);
    for (found, wanted) in added_m.iter().zip([0.0, 0.6e-3, -0.5e-3, 0.0]) {
        assert!((found - wanted).abs() < 1e-12, "{found} {wanted}");
    }
    // On a guide that closes by 2 mm the gap meant is 102 mm at its start and 101 mm in the middle.
    let closing = "entry_relief = \"2 mm\"\ngaps = [\"102 mm\", \"101.6 mm\", \"99.5 mm\"]";
    let GuideError::Gaps { added_m, .. } = error(closing) else {
        panic!("no gaps");
    };
    for (found, wanted) in added_m.iter().zip([0.0, 0.6e-3, -0.5e-3, 0.0]) {
        assert!((found - wanted).abs() < 1e-12, "{found} {wanted}");
    }
    // A spread about nothing needs the length of the waves as well.
    let spread = with("guide_error = { value = \"0 mm\", sd = \"0.3 mm\" }");
    assert_eq!(codes(&spread), ["missing-key"]);
}

#[test]
fn a_pair_has_no_guide_to_be_uneven() {
    let pair = DEMOS
        .iter()
        .map(|d| d.text)
        .find(|t| matches!(loaded(t).project.machine.layout, Layout::Pair(_)))
        .unwrap();
    for line in ["guide_error = \"1 mm\"", "gaps = [\"100 mm\", \"101 mm\"]"] {
        let text = pair.replacen("[launcher]", &format!("[launcher]\n{line}"), 1);
        assert_eq!(codes(&text), ["not-here"], "{line}");
    }
}

#[test]
fn every_number_of_a_project_can_be_read_and_moved_by_its_key() {
    let mut moved = 0;
    for demo in DEMOS {
        let project = loaded(demo.text).project;
        for entry in schema::entries() {
            for index in 0..2 {
                let key = with_index(entry.key, index);
                let Some(value) = get(&project, &key) else {
                    continue;
                };
                let step = if matches!(entry.kind, Kind::Count) {
                    1.0
                } else {
                    0.01 * value.abs().max(0.001)
                };
                let new = if entry.admits(value + step) {
                    value + step
                } else {
                    value - step
                };
                let mut other = project.clone();
                assert!(set(&mut other, &key, new), "{key} to {new}");
                let read = get(&other, &key).unwrap();
                // The inertia hardly changes with a small hollow, so its inverse is no better than this.
                let close = if key == "piece.shell" { 1e-6 } else { 1e-12 };
                assert!(
                    (read - new).abs() <= close * new.abs().max(1.0),
                    "{key}: {read} not {new}"
                );
                assert_ne!(other, project, "{key}");
                moved += 1;
            }
        }
    }
    assert!(moved > 180, "{moved}");
}

#[test]
fn set_refuses_what_the_file_would_refuse() {
    let mut project = loaded(sound()).project;
    let before = project.clone();
    for (key, value) in [
        ("piece.mass", -1.0),
        ("piece.mass", f64::NAN),
        ("piece.mass", f64::INFINITY),
        ("piece.mas", 0.06),
        ("spot[7].distance", 1.0),
        ("spot[x].distance", 1.0),
        ("motor.count", 1.5),
        ("launcher.direction", 1.0),
        ("piece.kind", 1.0),
    ] {
        assert!(!set(&mut project, key, value), "{key} = {value}");
    }
    assert_eq!(project, before);
    assert_eq!(get(&project, "target.ceiling"), None);
}

#[test]
fn squeeze_and_gap_centre_and_rim_altitude_and_pressure_say_the_same() {
    let by_gap = loaded(&changed("squeeze = \"12 mm\"", "gap = \"100 mm\"")).project;
    assert!((get(&by_gap, "launcher.squeeze").unwrap() - 0.012).abs() < 1e-12);
    let bramble = loaded(DEMOS[1].text).project;
    // An upright hoop of 560 mm with its centre at 1.6 m has its lowest point at 1.32 m.
    assert!((bramble.target.rim_height_m - 1.32).abs() < 1e-12);
    assert!((get(&bramble, "target.centre_height").unwrap() - 1.6).abs() < 1e-12);
    // Leaning back by 30 degrees, the centre of 390 mm is half of half of that above the rim.
    let leaning = changed(
        "rim_height = \"1.14 m\"",
        "tilt = \"30 deg\"\ncentre_height = \"1.14 m\"",
    );
    assert!((loaded(&leaning).project.target.rim_height_m - (1.14 - 0.25 * 0.39)).abs() < 1e-12);
    // 898.746 hPa at 1000 m geopotential [iso-2533] (from memory); 1000 m above the sea is 0.16 m
    // less, 11 Pa a metre.
    let high = loaded(&changed("pressure = \"1013 hPa\"", "altitude = \"1000 m\"")).project;
    assert!(
        (high.site.pressure_pa - 89_874.6 - 1.7).abs() < 0.2,
        "{}",
        high.site.pressure_pa
    );
}

/// Moments of inertia of a sphere: solid 2/5, thin shell 2/3, and 0.604 at nine tenths.
#[test]
fn a_shell_has_the_inertia_of_the_handbook() {
    let k = |x: &str| {
        loaded(&changed("shell = 0.95", &format!("shell = {x}")))
            .project
            .piece
            .inertia_coeff
    };
    assert!((k("0") - 0.4).abs() < 1e-15);
    assert!((k("0.9") - 0.604).abs() < 5e-4);
    assert!((k("0.999") - 2.0 / 3.0).abs() < 1e-3);
    let project = loaded(&changed("shell = 0.95", "shell = 0.73")).project;
    assert!((get(&project, "piece.shell").unwrap() - 0.73).abs() < 1e-12);
}

fn sd(text: &str, key: &str) -> f64 {
    loaded(text).project.spreads.get(key).map_or(0.0, Spread::sd)
}

#[test]
fn spreads_are_kept_by_key_and_follow_what_they_were_turned_into() {
    let close = |a: f64, b: f64| assert!((a - b).abs() < 1e-9 * b.abs().max(1e-6), "{a} not {b}");
    close(sd(sound(), "piece.mass"), 0.8e-3);
    close(sd(sound(), "spot[1].heading"), 1f64.to_radians());
    close(
        sd(&changed("sd = \"0.8 g\"", "sd = \"2 %\""), "piece.mass"),
        0.02 * 0.061,
    );
    let range = changed(
        "{ value = \"61 g\", sd = \"0.8 g\" }",
        "{ value = \"61 g\", range = [\"59 g\", \"65 g\"] }",
    );
    assert_eq!(
        loaded(&range).project.spreads["piece.mass"],
        Spread::Range {
            low: 0.059,
            high: 0.065
        }
    );
    // A share of something in per cent is in points.
    let points = changed(
        "efficiency = \"95 %\"",
        "efficiency = { value = \"95 %\", sd = \"2 %\" }",
    );
    close(sd(&points, "motor.efficiency"), 0.02);
    // The machine has the gap; the squeeze is what is left of the piece.
    let squeeze = changed(
        "squeeze = \"12 mm\"",
        "squeeze = { value = \"12 mm\", range = [\"11 mm\", \"14 mm\"] }",
    );
    let spreads = loaded(&squeeze).project.spreads;
    assert!(!spreads.contains_key("launcher.squeeze"));
    let Spread::Range { low, high } = spreads["launcher.gap"] else {
        panic!("a range stays one")
    };
    close(low, 0.098);
    close(high, 0.101);
    // dp = rho g dh with the standard air of 1.167 kg/m3 at 500 m [iso-2533] (from memory).
    let high = changed(
        "pressure = \"1013 hPa\"",
        "altitude = { value = \"500 m\", sd = \"10 m\" }",
    );
    assert!((sd(&high, "air.pressure") - 1.167 * 9.807 * 10.0).abs() < 0.2);
    let warm = changed(
        "temperature = \"18 degC\"",
        "temperature = { value = \"64 degF\", sd = \"9 degF\" }",
    );
    close(sd(&warm, "air.temperature"), 5.0);
}

#[test]
fn what_nobody_measured_keeps_an_assumed_spread_until_one_is_written() {
    let with = |line: &str| changed("shell = 0.95 ", &format!("{line}\nshell = 0.95 "));
    let close = |a: f64, b: f64| assert!((a - b).abs() < 1e-12, "{a} not {b}");
    close(sd(sound(), "piece.drag"), 0.15 * 0.45);
    close(sd(&with("drag = 0.5"), "piece.drag"), 0.15 * 0.5);
    close(sd(&with("drag = { value = 0.5, sd = 0.01 }"), "piece.drag"), 0.01);
    close(sd(&with("drag = { value = 0.5, sd = 0 }"), "piece.drag"), 0.0);
    let smooth = with("drag = { value = \"smooth\", sd = \"7 %\" }");
    close(sd(&smooth, "piece.drag"), 0.07);
    assert_eq!(get(&loaded(&smooth).project, "piece.drag"), Some(1.0));
    let told = loaded(sound()).notes[0].finding.what.clone();
    assert!(
        told.contains("piece.drag") && !told.contains("piece.bounce"),
        "{told}"
    );
}

/// Any one key taken out is at most one complaint: nothing else is dragged along.
#[test]
fn a_line_taken_out_gives_no_more_than_one_problem() {
    for demo in DEMOS {
        let lines: Vec<&str> = demo.text.lines().collect();
        for (i, line) in lines.iter().enumerate() {
            if !line.contains(" = ") || line.trim_start().starts_with('#') {
                continue;
            }
            let rest: Vec<&str> = lines
                .iter()
                .enumerate()
                .filter(|(j, _)| *j != i)
                .map(|(_, l)| *l)
                .collect();
            let found = codes(&rest.join("\n"));
            assert!(found.len() <= 1, "without `{line}`: {found:?}");
            // A knob that nobody set stands at 0, and 0 may be outside its travel.
            let fair = |c: &&str| {
                *c == "missing-key" || (*c == "setting-outside-travel" && line.starts_with("reach"))
            };
            assert!(found.iter().all(fair), "without `{line}`: {found:?}");
        }
    }
}

#[test]
fn a_required_key_is_missed_and_an_optional_one_is_not() {
    for entry in schema::entries().filter(|e| e.when == When::Always && !e.key.contains("[]")) {
        let table = entry.table();
        let mut inside = table.is_empty();
        let mut dropped = false;
        let text: Vec<&str> = sound()
            .lines()
            .filter(|l| {
                if l.starts_with('[') {
                    inside = l.starts_with(&format!("[{table}]"));
                }
                let hit = inside && l.split(" = ").next() == Some(entry.name());
                dropped |= hit;
                !hit
            })
            .collect();
        let wanted: &[&str] = match entry.need {
            Need::Required | Need::OneOf(_) if dropped => &["missing-key"],
            _ => &[],
        };
        assert_eq!(codes(&text.join("\n")), wanted, "{}", entry.key);
    }
}

fn token() -> impl Strategy<Value = String> {
    const TOKENS: &[&str] = &[
        "nan",
        "inf",
        "-inf",
        "1e400",
        "-1e400",
        "0",
        "-0.0",
        "1e-320",
        "9223372036854775807",
        "\"\"",
        "\"é µ²\"",
        "[",
        "]",
        "[[",
        "{",
        "}",
        "=",
        "\"",
        "'",
        "\\",
        "\n",
        "\r",
        "\u{0}",
        "\u{2028}",
        "#",
        ".",
        ",",
        "true",
        "1979-05-27",
        "[piece]",
        "[[spot]]",
        "[wheel.part]",
        "[[knobs]]",
        "value",
        "sd",
        "\"96 mm\"",
        "\"-1 kg\"",
        "\"0 m\"",
        "\"1e308 m\"",
        "\"1e-308 s\"",
        "{ value = \"1 m\" }",
        "{ range = [1, 2, 3] }",
        "[[[]]]",
    ];
    proptest::sample::select(TOKENS).prop_map(str::to_string)
}

/// Cuts a text into words, numbers and signs.
fn pieces(text: &str) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    let word = |c: char| c.is_alphanumeric() || c == '_' || c == '.';
    for c in text.chars() {
        match out.last_mut() {
            Some(last) if word(c) && last.chars().all(word) => last.push(c),
            _ => out.push(c.to_string()),
        }
    }
    out
}

/// A number that every project has, in tables that every project has.
fn always_there(e: &Entry) -> bool {
    let is_number = e.measure().is_some() && !matches!(e.kind, Kind::Pair(..)) && e.key != "format";
    let is_needed = matches!(
        e.need,
        Need::Required | Need::Default(..) | Need::ByKind(_) | Need::From(..)
    );
    let of_a_part = ["knobs", "frame", "season", "feed.plate"]
        .iter()
        .any(|t| e.key.starts_with(t))
        || e.key.contains("sheet");
    is_number && is_needed && !of_a_part
}

fn sane(text: &str) {
    match parse(NAME, text) {
        // What loads is finite wherever a number is always there.
        Ok(loaded) => {
            for entry in schema::entries().filter(|e| always_there(e) && e.when.holds(&loaded.project, 0)) {
                let value = get(&loaded.project, &with_index(entry.key, 0));
                assert!(value.is_some_and(f64::is_finite), "{} is {value:?}", entry.key);
            }
        }
        Err(found) => {
            assert!(!found.is_empty());
            for problem in &found {
                assert!(CODES.contains(&problem.finding.code), "{}", problem.finding.code);
                assert!(!problem.finding.fix.is_empty() && !problem.finding.what.is_empty());
                assert!(
                    !problem.finding.what.contains("unknown"),
                    "{}",
                    problem.finding.what
                );
            }
            assert!(!render(&found).is_empty() && json(&found).is_array());
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_bytes_make_the_reader_fall_over(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
        sane(&String::from_utf8_lossy(&bytes));
    }

    #[test]
    fn no_damage_to_a_project_does_either(
        demo in 0usize..3,
        cuts in proptest::collection::vec((any::<proptest::sample::Index>(), 0u8..4, token()), 1..6),
    ) {
        let mut parts = pieces(DEMOS[demo].text);
        for (at, act, new) in cuts {
            let i = at.index(parts.len());
            match act {
                0 => { parts.remove(i); }
                1 => { let p = parts[i].clone(); parts.insert(i, p); }
                2 => { let j = (i + 7) % parts.len(); parts.swap(i, j); }
                _ => parts[i] = new,
            }
        }
        sane(&parts.concat());
    }

    #[test]
    fn no_number_in_a_project_does_either(
        demo in 0usize..3, at in any::<proptest::sample::Index>(),
        number in prop_oneof![
            Just("nan".to_string()), Just("1e400".to_string()), Just("-1".to_string()), Just("0".to_string()),
            Just("1e-300".to_string()), Just("1e300".to_string()), any::<f64>().prop_map(|x| format!("{x}")),
            any::<i64>().prop_map(|x| format!("{x}")),
        ],
    ) {
        let mut parts = pieces(DEMOS[demo].text);
        let numbers: Vec<usize> =
            (0..parts.len()).filter(|i| parts[*i].starts_with(|c: char| c.is_ascii_digit())).collect();
        parts[numbers[at.index(numbers.len())]] = number;
        sane(&parts.concat());
    }
}
