//! Writing a chosen design back into the project file.
#![allow(clippy::unwrap_used, clippy::panic)] // helpers of tests are tests too

use std::fs;
use std::path::PathBuf;

use arcwright::project::{
    BROKEN, Change, DEMOS, Edited, FILE_NAME, WriteRefusal, parse, read, render, replace_file, with_values,
};
use arcwright_model::project::change::{admitted, keys, quantity};
use arcwright_model::project::schema::{self, Key, Kind, Need};
use arcwright_model::project::{Project, get};
use proptest::prelude::*;

const INCH_M: f64 = 0.0254; // by definition

fn sound() -> &'static str {
    include_str!("fixtures/sound.toml")
}

fn changes(list: &[(&str, f64)]) -> Vec<Change> {
    let one = |(key, value_si): &(&str, f64)| Change {
        key: (*key).to_string(),
        value_si: *value_si,
    };
    list.iter().map(one).collect()
}

fn edited(text: &str, list: &[(&str, f64)]) -> Edited {
    with_values(text, &changes(list)).unwrap_or_else(|r| panic!("{}", render(&r.problems)))
}

fn refused(text: &str, list: &[(&str, f64)]) -> WriteRefusal {
    match with_values(text, &changes(list)) {
        Err(refusal) => refusal,
        Ok(e) => panic!("{:?}", e.rewritten),
    }
}

/// Lines that are in one text and not in the other, in pairs.
fn differences(old: &str, new: &str) -> Vec<(String, String)> {
    assert_eq!(old.lines().count(), new.lines().count());
    let both = old.lines().zip(new.lines()).filter(|(a, b)| a != b);
    both.map(|(a, b)| (a.to_string(), b.to_string())).collect()
}

/// Lines that only the new text has; all others are those of the old one, in their order.
fn new_lines(old: &str, new: &str) -> Vec<String> {
    let mut rest = old.lines().peekable();
    let mut out = Vec::new();
    for line in new.lines() {
        if rest.peek() == Some(&line) {
            rest.next();
        } else {
            out.push(line.to_string());
        }
    }
    assert_eq!(rest.count(), 0, "a line was lost");
    out
}

fn with(old: &str, new: &str) -> String {
    assert_eq!(sound().matches(old).count(), 1, "{old}");
    sound().replacen(old, new, 1)
}

#[test]
fn one_number_changes_on_its_line_and_the_remark_stays_in_its_column() {
    let new = edited(sound(), &[("motor.ratio", 0.75)]).text;
    assert_eq!(
        differences(sound(), &new),
        [(
            "ratio = 1.0                   # motor speed over wheel speed".to_string(),
            "ratio = 0.75                  # motor speed over wheel speed".to_string()
        )]
    );
}

#[test]
fn the_unit_that_was_written_is_kept() {
    let text = with(
        "diameter = \"96 mm\"\nwidth",
        "diameter = \"3.8 in\" # hub\nwidth",
    );
    let new = edited(
        &text,
        &[("wheel.diameter", 4.25 * INCH_M), ("wheel.width", 0.045)],
    )
    .text;
    assert!(
        new.contains("diameter = \"4.25 in\" # hub\nwidth = \"45 mm\""),
        "{new}"
    );
    let single = with("diameter = \"96 mm\"\nwidth", "diameter = '4\"'\nwidth");
    let new = edited(&single, &[("wheel.diameter", 5.0 * INCH_M)]);
    assert_eq!(new.rewritten[0].after, "\"5\\\"\"");
    let literal = with("diameter = \"96 mm\"\nwidth", "diameter = '96 mm'\nwidth");
    assert!(
        edited(&literal, &[("wheel.diameter", 0.1)])
            .text
            .contains("diameter = '100 mm'\n")
    );
    // A share written for a plain number stays one.
    let share = with("value = 0.9, sd = 0.1", "value = \"90 %\", sd = 0.1");
    assert!(
        edited(&share, &[("wheel.friction", 0.75)])
            .text
            .contains("value = \"75 %\", sd = 0.1")
    );
}

#[test]
fn sums_of_steps_are_written_as_clean_decimals() {
    let value = 0.08 + 7.0 * 0.004; // 0.10800000000000001
    let e = edited(
        sound(),
        &[("wheel.diameter", value), ("setting.tilt", 11f64.to_radians())],
    );
    assert_eq!(e.rewritten[0].after, "\"108 mm\"");
    assert_eq!(e.rewritten[1].after, "\"11 deg\"");
    // What a sum of steps leaves of zero is zero.
    let zero = edited(sound(), &[("setting.slide", 1.7e-18)]);
    assert_eq!(zero.rewritten[0].after, "\"0 mm\"");
}

#[test]
fn a_spread_stays_as_it_was_written() {
    let new = edited(sound(), &[("piece.mass", 0.07), ("wheel.friction", 1.0)]).text;
    assert!(
        new.contains("mass = { value = \"70 g\", sd = \"0.8 g\" }"),
        "{new}"
    );
    assert!(new.contains("friction = { value = 1.0, sd = 0.1 }"), "{new}");
    let share = with("sd = \"0.8 g\" }", "sd = \"2 %\" }");
    let changed = edited(&share, &[("piece.mass", 0.07)]);
    assert!(changed.text.contains("mass = { value = \"70 g\", sd = \"2 %\" }"));
    // Two per cent of the new value.
    assert!((changed.project.spreads["piece.mass"].sd() - 0.02 * 0.07).abs() < 1e-15);
}

#[test]
fn squeeze_and_gap_change_whichever_of_them_the_file_writes() {
    // The sound project writes the squeeze, 12 mm of a piece of 112 mm.
    let by_gap = edited(sound(), &[("launcher.gap", 0.097)]);
    assert_eq!(
        (
            by_gap.rewritten[0].key.as_str(),
            by_gap.rewritten[0].after.as_str()
        ),
        ("launcher.squeeze", "\"15 mm\"")
    );
    let text = with("squeeze = \"12 mm\"", "gap = \"100 mm\"");
    let by_squeeze = edited(&text, &[("launcher.squeeze", 0.0145)]);
    assert_eq!(by_squeeze.rewritten[0].after, "\"97.5 mm\"");
    assert!((get(&by_squeeze.project, "launcher.squeeze").unwrap() - 0.0145).abs() < 1e-12);
    // With another piece, the gap is that of the other piece, in whatever order they come.
    for order in [[0, 1], [1, 0]] {
        let all = [("launcher.squeeze", 0.01), ("piece.diameter", 0.12)];
        let e = edited(&text, &order.map(|i| all[i]));
        assert!(e.text.contains("gap = \"110 mm\""), "{:?}", e.rewritten);
    }
    let both = refused(&text, &[("launcher.squeeze", 0.01), ("launcher.gap", 0.1)]);
    assert_eq!(both.problems[0].finding.code, "both-written");
}

#[test]
fn a_missing_key_is_added_where_it_belongs_and_a_missing_table_too() {
    let added = |list: &[(&str, f64)]| new_lines(sound(), &edited(sound(), list).text);
    assert_eq!(added(&[("wheel.count", 2.0)]), ["count = 2"]);
    let text = edited(sound(), &[("wheel.count", 2.0)]).text;
    assert!(text.contains("width = \"40 mm\"\ncount = 2\nfriction"), "{text}");
    // Below the head, above a remark on the next key.
    let head = with(
        "[setting]                     # where the knobs stand\nslide = \"0 mm\"\n",
        "[setting]  # now\n  # marks\n",
    );
    let new = edited(&head, &[("setting.slide", 0.005)]).text;
    assert!(
        new.contains("[setting]  # now\nslide = \"5 mm\"\n  # marks\n"),
        "{new}"
    );
    // The third part of the list, not the first.
    assert!(
        edited(sound(), &[("wheel.part[1].count", 3.0)])
            .text
            .contains("diameter = \"80 mm\"\ncount = 3")
    );
    // A table between its neighbours, once for two keys.
    let (before, rest) = sound().split_once("[controller]").unwrap();
    let bare = format!("{before}{}", &rest[rest.find("[robot]").unwrap()..]);
    let new = edited(
        &bare,
        &[
            ("controller.kp", 0.05),
            ("controller.ki", 0.02),
            ("controller.average", 4.0),
        ],
    )
    .text;
    let wanted = "\n\n[controller]\naverage = 4\nkp = \"0.05 V s/rad\"\nki = \"0.02 V/rad\"\n\n[robot]";
    assert!(new.contains(wanted), "{new}");
}

#[test]
fn a_table_in_braces_or_in_dots_takes_a_key_in_its_own_way() {
    let table = "[setting]                     # where the knobs stand\nslide = \"0 mm\"\ntilt = \"8 deg\"\nreach = \"60 mm\"\n";
    let bare = with(table, "");
    let top = |line: &str| bare.replacen("units = ", &format!("{line}\nunits = "), 1);
    let braces = top("setting = { slide = \"0 mm\", reach = \"60 mm\" } # now");
    let new = edited(&braces, &[("setting.tilt", 9f64.to_radians())]).text;
    assert!(
        new.contains("setting = { slide = \"0 mm\", tilt = \"9 deg\", reach = \"60 mm\" } # now"),
        "{new}"
    );
    let first = top("setting = { reach = \"60 mm\" }");
    let new = edited(&first, &[("setting.slide", 0.001)]).text;
    assert!(
        new.contains("setting = { slide = \"1 mm\", reach = \"60 mm\" }"),
        "{new}"
    );
    let dots = top("setting.reach = \"60 mm\"");
    let new = edited(&dots, &[("setting.slide", 0.001)]).text;
    assert!(
        new.contains("setting.reach = \"60 mm\"\nsetting.slide = \"1 mm\"\n"),
        "{new}"
    );
}

#[test]
fn line_ends_of_other_systems_and_a_mark_before_the_text_stay() {
    let text = format!("\u{feff}{}", sound().replace('\n', "\r\n"));
    let new = edited(&text, &[("wheel.count", 2.0), ("wheel.diameter", 0.1)]).text;
    assert!(new.starts_with('\u{feff}') && new.contains("\r\ncount = 2\r\n"));
    assert_eq!(new.matches('\n').count(), new.matches("\r\n").count());
    assert_eq!(new.matches("\r\n").count(), text.matches("\r\n").count() + 1);
}

#[test]
fn a_design_that_would_have_a_problem_is_refused_with_that_problem() {
    let code = |text: &str, list: &[(&str, f64)]| refused(text, list).problems[0].finding.code;
    assert_eq!(code(sound(), &[("setting.tilt", 0.6)]), "setting-outside-travel");
    assert_eq!(code(sound(), &[("launcher.squeeze", 0.1)]), "squeeze-too-deep");
    assert_eq!(code(sound(), &[("wheel.diameter", 5.0)]), "out-of-range");
    assert_eq!(code(sound(), &[("wheel.diameter", f64::NAN)]), "out-of-range");
    assert_eq!(code(sound(), &[("wheel.count", 1.5)]), "wrong-type");
    assert_eq!(code(sound(), &[("wheel.diamter", 0.1)]), "unknown-key");
    assert_eq!(code(sound(), &[("spot[7].distance", 1.0)]), "not-here");
    assert_eq!(code(sound(), &[("launcher.upper_speed", 1.0)]), "not-here");
    assert_eq!(
        code(sound(), &[("wheel.diameter", 0.1), ("wheel.diameter", 0.2)]),
        "both-written"
    );
    assert_eq!(code(BROKEN[0].text, &[("wheel.diameter", 0.1)]), "wrong-unit");
    let smooth = with("shell = 0.95 ", "drag = \"smooth\"\nshell = 0.95 ");
    assert_eq!(code(&smooth, &[("piece.drag", 0.5)]), "not-written");
    let range = with("value = 0.9, sd = 0.1", "value = 0.9, range = [0.8, 1.0]");
    assert_eq!(code(&range, &[("wheel.friction", 1.2)]), "bad-spread");
    let high = with("pressure = \"1013 hPa\"", "altitude = \"450 m\"");
    assert_eq!(code(&high, &[("air.pressure", 1e5)]), "not-written");
    // Two wrong ones are both told.
    assert_eq!(
        refused(sound(), &[("wheel.count", 0.0), ("x", 1.0)])
            .problems
            .len(),
        2
    );
}

/// Keys of a demo with a number, and whether the file writes them.
fn numeric(project: &Project) -> Vec<String> {
    keys(project).into_iter().filter(|k| k != "piece.drag").collect()
}

/// Values by key, as bits; what follows from others is told by what it follows from.
fn bits(project: &Project) -> Vec<(String, Option<u64>)> {
    let derived = ["launcher.squeeze", "target.centre_height", "air.altitude"];
    let all = numeric(project)
        .into_iter()
        .filter(|k| !derived.contains(&k.as_str()));
    all.map(|k| (k.clone(), get(project, &k).map(f64::to_bits)))
        .collect()
}

/// Keys that a file writes, without places in lists: `spot.name`.
fn written(text: &str) -> Vec<String> {
    let mut table = String::new();
    let mut out = Vec::new();
    for line in text.lines().map(str::trim_start) {
        if let Some(head) = line.strip_prefix('[') {
            let name = head.trim_start_matches('[').split(']').next().unwrap_or("");
            table = if name.is_empty() {
                String::new()
            } else {
                format!("{name}.")
            };
        } else if let Some((name, _)) = line.split_once(" =").filter(|_| !line.starts_with('#')) {
            out.push(format!("{table}{name}"));
        }
    }
    out
}

/// Is it worked out from other values, as the file does not write it?
fn is_assumed(key: &str, written: &[String]) -> bool {
    let pattern = Key::parse(key).unwrap().pattern;
    let from = schema::entry(&pattern).is_some_and(|e| matches!(e.need, Need::From(..)));
    from && !written.contains(&pattern.replace("[]", ""))
}

fn remarks(text: &str) -> Vec<&str> {
    text.lines()
        .filter_map(|l| l.find('#').map(|at| &l[at..]))
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, ..ProptestConfig::default() })]

    #[test]
    fn any_number_of_any_demo_can_be_changed_and_nothing_else_changes(
        demo in 0..DEMOS.len(), pick in any::<prop::sample::Index>(), share in 0.0..1.0f64, near in any::<bool>(),
    ) {
        let text = DEMOS[demo].text;
        let before = parse("demo", text).unwrap().project;
        let all = numeric(&before);
        let key = &all[pick.index(all.len())];
        let (entry, _) = quantity(&before, key).unwrap();
        let present = get(&before, key);
        let mut value_si = match present {
            Some(v) if near => v * (0.9 + 0.2 * share),
            _ => entry.low + share * (entry.high - entry.low),
        };
        if matches!(entry.kind, Kind::Count) {
            value_si = value_si.round();
        }
        prop_assume!(admitted(&before, entry, key, value_si).is_ok());
        match with_values(text, &[Change { key: key.clone(), value_si }]) {
            Ok(edited) => {
                let after = parse("demo", &edited.text).unwrap().project;
                if let Some(v) = get(&after, key) {
                    // A shell is found by halving an interval, to rounding of 1.
                    prop_assert!((v - value_si).abs() <= 1e-9 * value_si.abs() + 1e-15, "{key}: {v} for {value_si}");
                } else {
                    prop_assert_eq!(key, "air.altitude");
                }
                prop_assert_eq!(remarks(text), remarks(&edited.text));
                // What follows from the changed one may change with it.
                let follows: &[&str] = match key.as_str() {
                    "launcher.squeeze" => &["launcher.gap"],
                    "air.altitude" => &["air.pressure"],
                    "target.centre_height" => &["target.rim_height"],
                    "piece.diameter" => &["launcher.gap"],
                    "target.width" | "target.depth" | "target.tilt" => &["target.rim_height"],
                    _ => &[],
                };
                let written = written(text);
                for ((a, old), (b, new)) in bits(&before).iter().zip(&bits(&after)) {
                    prop_assert_eq!(a, b);
                    if a != key && !follows.contains(&a.as_str()) && !is_assumed(a, &written) {
                        prop_assert_eq!(old, new, "{} changed with {}", a, key);
                    }
                }
                let old_lines: Vec<&str> = text.lines().collect();
                let kept = edited.text.lines().filter(|l| old_lines.contains(l)).count();
                prop_assert!(kept + 1 >= old_lines.len(), "more than one line changed");
            }
            Err(refusal) => {
                // A value that is admitted alone may not fit the rest; then the reader says so.
                prop_assert!(
                    refusal.problems.iter().all(|p| schema::entry(&Key::parse(&p.finding.key).unwrap().pattern).is_some()
                        || p.finding.key.starts_with("free.")),
                    "{}", render(&refusal.problems)
                );
                prop_assert!(refusal.problems.iter().all(|p| p.finding.code != "not-written" || key == "air.pressure"));
            }
        }
    }
}

/// A folder of its own for a test, gone when it ends.
struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Folder {
        let path = std::env::temp_dir().join(format!("arcwright-{name}-{}", std::process::id()));
        let _ = fs::remove_dir_all(&path);
        fs::create_dir_all(&path).unwrap();
        fs::write(path.join(FILE_NAME), sound()).unwrap();
        Folder(path)
    }

    fn file(&self) -> PathBuf {
        self.0.join(FILE_NAME)
    }

    fn names(&self) -> Vec<String> {
        let entries = fs::read_dir(&self.0).unwrap();
        let mut names: Vec<String> = entries
            .map(|e| e.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

fn code(result: Result<(), WriteRefusal>) -> &'static str {
    result.unwrap_err().problems[0].finding.code
}

#[test]
fn a_file_is_replaced_as_a_whole_and_the_text_before_is_kept_beside_it() {
    let folder = Folder::new("replaced");
    let new = edited(sound(), &[("wheel.diameter", 0.1)]).text;
    replace_file(&folder.0, sound(), &new).unwrap();
    assert_eq!(fs::read_to_string(folder.file()).unwrap(), new);
    assert_eq!(
        fs::read_to_string(folder.0.join("arcwright.toml.before")).unwrap(),
        sound()
    );
    // Once more: one text before, the last.
    let newer = edited(&new, &[("wheel.diameter", 0.104)]).text;
    replace_file(&folder.file(), &new, &newer).unwrap();
    assert_eq!(
        fs::read_to_string(folder.0.join("arcwright.toml.before")).unwrap(),
        new
    );
    assert_eq!(folder.names(), [FILE_NAME, "arcwright.toml.before"]);
}

#[test]
fn a_file_that_was_changed_meanwhile_is_left_as_it_is() {
    let folder = Folder::new("changed");
    let theirs = format!("{}# mine\n", sound());
    fs::write(folder.file(), &theirs).unwrap();
    assert_eq!(
        code(replace_file(&folder.file(), sound(), "x")),
        "changed-meanwhile"
    );
    assert_eq!(fs::read_to_string(folder.file()).unwrap(), theirs);
    assert_eq!(folder.names(), [FILE_NAME]);
}

#[test]
fn a_mark_before_the_text_is_no_change_and_stays() {
    let folder = Folder::new("mark");
    fs::write(folder.file(), format!("\u{feff}{}", sound())).unwrap();
    let loaded = read(&folder.file()).unwrap();
    let new = edited(&loaded.text, &[("wheel.diameter", 0.1)]).text;
    replace_file(&folder.file(), &loaded.text, &new).unwrap();
    assert_eq!(
        fs::read_to_string(folder.file()).unwrap(),
        format!("\u{feff}{new}")
    );
}

#[cfg(unix)]
#[test]
fn a_file_or_folder_that_may_only_be_read_is_left_alone_and_named() {
    use std::os::unix::fs::PermissionsExt;
    let mode = |path: &PathBuf, mode| fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
    let folder = Folder::new("read-only");
    mode(&folder.file(), 0o444);
    assert_eq!(code(replace_file(&folder.file(), sound(), "x")), "read-only");
    mode(&folder.file(), 0o644);
    mode(&folder.0, 0o555);
    let result = replace_file(&folder.file(), sound(), "x");
    mode(&folder.0, 0o755);
    assert_eq!(code(result), "read-only");
    assert_eq!(fs::read_to_string(folder.file()).unwrap(), sound());
    assert_eq!(folder.names(), [FILE_NAME]);
}

#[cfg(unix)]
#[test]
fn rights_are_kept_and_a_link_stays_a_link() {
    use std::os::unix::fs::{PermissionsExt, symlink};
    let folder = Folder::new("link");
    fs::set_permissions(folder.file(), fs::Permissions::from_mode(0o640)).unwrap();
    let elsewhere = Folder::new("link-from");
    fs::remove_file(elsewhere.file()).unwrap();
    symlink(folder.file(), elsewhere.file()).unwrap();
    replace_file(&elsewhere.file(), sound(), "new").unwrap();
    assert!(fs::symlink_metadata(elsewhere.file()).unwrap().is_symlink());
    assert_eq!(fs::read_to_string(folder.file()).unwrap(), "new");
    assert_eq!(
        fs::metadata(folder.file()).unwrap().permissions().mode() & 0o777,
        0o640
    );
    assert_eq!(folder.names(), [FILE_NAME, "arcwright.toml.before"]);
}

#[test]
fn a_file_that_went_away_and_a_folder_in_the_way_lose_nothing() {
    let folder = Folder::new("gone");
    fs::create_dir(folder.0.join("arcwright.toml.before")).unwrap();
    assert_eq!(code(replace_file(&folder.file(), sound(), "x")), "not-written");
    assert_eq!(fs::read_to_string(folder.file()).unwrap(), sound());
    assert_eq!(folder.names(), [FILE_NAME, "arcwright.toml.before"]);
    fs::remove_file(folder.file()).unwrap();
    assert_eq!(code(replace_file(&folder.file(), sound(), "x")), "no-file");
}

#[test]
fn a_hoop_made_wider_and_higher_at_once_is_as_high_as_it_was_asked() {
    let demo = DEMOS.iter().find(|d| d.name == "bramble").unwrap();
    // The file says the width alone, and the height of the middle.
    let done = edited(demo.text, &[("target.rim_height", 1.4), ("target.width", 0.66)]);
    let target = &done.project.target;
    assert!(
        (target.rim_height_m - 1.4).abs() < 1e-9 && target.depth_m == 0.66,
        "{target:?}"
    );
    let lines = differences(demo.text, &done.text);
    assert_eq!(lines.len(), 2, "{lines:?}");
    // What is shown before it is kept is what is kept.
    let mut shown = parse(FILE_NAME, demo.text).unwrap().project;
    arcwright_model::project::change::change(&mut shown, "target.width", 0.66).unwrap();
    assert_eq!(shown.target.depth_m, 0.66);
}
