//! What the program says about project files, right and wrong.
#![allow(clippy::unwrap_used, clippy::panic)] // helpers of tests are tests too

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use arcwright::project::{BROKEN, CODES, DEMOS, Loaded, Problem, json, parse, read, render};
use arcwright::tasks::{feed, order, pictures, season};
use arcwright_model::season::rank::SeasonPlan;

const NAME: &str = "arcwright.toml";

fn sound() -> &'static str {
    include_str!("fixtures/sound.toml")
}

/// The sound project with one passage changed.
fn changed(old: &str, new: &str) -> String {
    assert_eq!(
        sound().matches(old).count(),
        1,
        "`{old}` must stand once in the project"
    );
    sound().replacen(old, new, 1)
}

fn problems(text: &str) -> Vec<Problem> {
    parse(NAME, text).err().unwrap_or_default()
}

fn codes(found: &[Problem]) -> Vec<&'static str> {
    found.iter().map(|p| p.finding.code).collect()
}

fn loaded(text: &str) -> Loaded {
    parse(NAME, text).unwrap_or_else(|p| panic!("{}", render(&p)))
}

/// One mistake each: code, passage of the sound project, what stands there instead, and whether the
/// message offers a text that can be put in place as it is.
const MISTAKES: &[(&str, &str, &str, bool)] = &[
    (
        "not-toml",
        "stall_current = \"60 A\"",
        "stall_current = 60 A",
        true,
    ),
    (
        "not-toml",
        "stall_current = \"60 A\"",
        "stall_current = \"60 A",
        false,
    ),
    ("not-toml", "[motor] ", "[motor ", false),
    ("not-toml", "stall_current = \"60 A\"", "stall_current", false),
    (
        "written-twice",
        "nominal = \"12 V\"",
        "nominal = \"12 V\"\nnominal = \"11 V\"",
        false,
    ),
    ("written-twice", "[battery]", "[wheel]\n[battery]", false),
    ("newer-format", "format = 1", "format = 7", true),
    ("out-of-range", "format = 1", "format = 0", true),
    (
        "unknown-key",
        "diameter = { value = \"112 mm\"",
        "diamter = { value = \"112 mm\"",
        false,
    ),
    ("unknown-key", "[battery]", "[batery]", false),
    ("unknown-key", "[wheel]", "[weel]", false),
    ("unknown-key", "brakes = false", "wrap = \"110 deg\"", false),
    ("unknown-key", "sd = \"0.8 g\"", "dev = \"0.8 g\"", false),
    ("missing-key", "layout = \"guide\"", "# no layout", false),
    ("missing-key", "squeeze = \"12 mm\"", "# no squeeze", false),
    (
        "missing-key",
        "{ value = \"61 g\", sd = \"0.8 g\" }",
        "{ sd = \"0.8 g\" }",
        false,
    ),
    ("wrong-type", "motors = 7", "motors = \"7\"", true),
    ("wrong-type", "motors = 7", "motors = 7.5", true),
    ("wrong-type", "brakes = false", "brakes = no", true),
    ("wrong-type", "brakes = false", "brakes = On", true),
    ("wrong-type", "brakes = false", "brakes = maybe", true),
    ("wrong-type", "brakes = false", "brakes = “yes”", true),
    ("wrong-type", "motors = 7", "motors = “7”", true),
    ("not-toml", "wrap = \"110 deg\"", "wrap = ”110 deg”", true),
    ("not-toml", "wrap = \"110 deg\"", "wrap = \"110 deg”", true),
    ("not-toml", "wrap = \"110 deg\"", "wrap = „110 deg", true),
    ("not-toml", "wrap = \"110 deg\"", "wrap = `110 deg`", true),
    ("bad-number", "wrap = \"110 deg\"", "wrap = \"”110 deg”\"", true),
    ("bad-number", "wrap = \"110 deg\"", "wrap = \"110 deg”\"", true),
    ("not-toml", "name = \"near\"", "name = “driver’s near”", true),
    (
        "not-toml",
        "range = [\"0 deg\", \"25 deg\"]",
        "range = [“0 deg”, “25 deg”]",
        true,
    ),
    (
        "not-toml",
        "mass = { value = \"61 g\", sd = \"0.8 g\" }",
        "mass = { value = “61 g”, sd = “0.8 g” }",
        true,
    ),
    ("not-toml", "kind = \"disc\" ", "kind = disc ", true),
    ("not-toml", "name = \"far\"", "name = farthest", true),
    ("not-toml", "distance = \"2.2 m\"", "distance = 2.2m", true),
    ("wrong-type", "brakes = false", "brakes = \"no\"", true),
    ("wrong-type", "name = \"Lantern Night\"", "name = 3", true),
    (
        "wrong-type",
        "range = [\"0 deg\", \"25 deg\"]",
        "range = \"25 deg\"",
        false,
    ),
    (
        "wrong-type",
        "range = [\"0 deg\", \"25 deg\"]",
        "range = [\"25 deg\"]",
        false,
    ),
    (
        "not-here",
        "wrap = \"110 deg\"",
        "wrap = \"110 deg\"\nupper_speed = \"80 %\"",
        false,
    ),
    (
        "both-written",
        "squeeze = \"12 mm\"",
        "squeeze = \"12 mm\"\ngap = \"100 mm\"",
        false,
    ),
    (
        "both-written",
        "rim_height = \"1.14 m\"",
        "rim_height = \"1.14 m\"\ncentre_height = \"1.14 m\"",
        false,
    ),
    (
        "both-written",
        "pressure = \"1013 hPa\"",
        "pressure = \"1013 hPa\"\naltitude = \"5 m\"",
        false,
    ),
    (
        "both-written",
        "sd = \"0.8 g\"",
        "sd = \"0.8 g\", range = [\"60 g\", \"62 g\"]",
        false,
    ),
    (
        "not-a-choice",
        "kind = \"perforated\" ",
        "kind = \"perforatd\" ",
        true,
    ),
    ("empty-text", "name = \"near\"", "name = \" \"", true),
    ("no-unit", "hole_diameter = \"14 mm\"", "hole_diameter = 14", true),
    (
        "no-unit",
        "hole_diameter = \"14 mm\"",
        "hole_diameter = \"14\"",
        true,
    ),
    ("no-unit", "efficiency = \"95 %\"", "efficiency = 0.95", true),
    (
        "bad-number",
        "rim_height = \"1.14 m\"",
        "rim_height = \"1,14 m\"",
        true,
    ),
    (
        "bad-number",
        "bounce = { value = 0.6, sd = 0.06 }",
        "bounce = nan",
        true,
    ),
    (
        "unknown-unit",
        "free_speed = \"6000 rpm\"",
        "free_speed = \"6000 rmp\"",
        true,
    ),
    (
        "wrong-unit",
        "stall_torque = \"1.1 N m\"",
        "stall_torque = \"11.2 kg cm\"",
        true,
    ),
    (
        "wrong-unit",
        "hole_diameter = \"14 mm\"",
        "hole_diameter = \"0.55 min\"",
        true,
    ),
    (
        "wrong-unit",
        "hole_diameter = \"14 mm\"",
        "hole_diameter = \"14 V\"",
        false,
    ),
    ("out-of-range", "value = \"61 g\"", "value = \"-61 g\"", false),
    (
        "out-of-range",
        "rim_height = \"1.14 m\"",
        "rim_height = \"1140 m\"",
        false,
    ),
    ("bad-spread", "sd = \"0.8 g\"", "sd = \"-0.8 g\"", false),
    ("bad-spread", "sd = \"0.8 g\"", "sd = \"70 g\"", false),
    (
        "bad-spread",
        "sd = \"0.8 g\"",
        "range = [\"62 g\", \"60 g\"]",
        false,
    ),
    (
        "bad-spread",
        "sd = \"0.8 g\"",
        "range = [\"62 g\", \"63 g\"]",
        false,
    ),
    (
        "no-spread",
        "fuse = \"40 A\"",
        "fuse = { value = \"40 A\", sd = \"1 A\" }",
        false,
    ),
    (
        "too-few",
        "feed_push = \"15 N\"",
        "feed_push = \"15 N\"\ngaps = [\"100 mm\"]",
        true,
    ),
    (
        "too-many",
        "feed_push = \"15 N\"",
        "feed_push = \"15 N\"\ngaps = [\"100 mm\", \"100 mm\", \"100 mm\", \"100 mm\", \"100 mm\", \"100 mm\", \"100 mm\", \"100 mm\", \"100 mm\", \"100 mm\", \"100 mm\", \"100 mm\", \"100 mm\", \"100 mm\", \"100 mm\", \"100 mm\", \"100 mm\", \"100 mm\", \"100 mm\", \"100 mm\", \"100 mm\", \"100 mm\", \"100 mm\", \"100 mm\", \"100 mm\"]",
        false,
    ),
    (
        "no-unit",
        "feed_push = \"15 N\"",
        "feed_push = \"15 N\"\ngaps = [\"100 mm\", 101]",
        false,
    ),
    (
        "wrong-unit",
        "feed_push = \"15 N\"",
        "feed_push = \"15 N\"\ngaps = [\"100 mm\", \"101 g\"]",
        false,
    ),
    (
        "wrong-type",
        "feed_push = \"15 N\"",
        "feed_push = \"15 N\"\ngaps = \"100 mm\"",
        true,
    ),
    (
        "wrong-type",
        "feed_push = \"15 N\"",
        "feed_push = \"15 N\"\ngaps = [\"100 mm\", true]",
        true,
    ),
    (
        "out-of-range",
        "feed_push = \"15 N\"",
        "feed_push = \"15 N\"\ngaps = [\"100 mm\", \"3 m\"]",
        false,
    ),
    (
        "gap-too-wide",
        "feed_push = \"15 N\"",
        "feed_push = \"15 N\"\ngaps = [\"100 mm\", \"118 mm\", \"100 mm\"]",
        false,
    ),
    (
        "both-written",
        "feed_push = \"15 N\"",
        "feed_push = \"15 N\"\nguide_error = \"0.5 mm\"\nguide_wavelength = \"90 mm\"\ngaps = [\"100 mm\", \"101 mm\"]",
        false,
    ),
    (
        "missing-key",
        "feed_push = \"15 N\"",
        "feed_push = \"15 N\"\nguide_error = \"0.5 mm\"",
        false,
    ),
    (
        "out-of-range",
        "feed_push = \"15 N\"",
        "feed_push = \"15 N\"\nguide_error = \"60 mm\"\nguide_wavelength = \"90 mm\"",
        false,
    ),
    ("gap-too-wide", "squeeze = \"12 mm\"", "gap = \"118 mm\"", true),
    (
        "gap-too-wide",
        "squeeze = \"12 mm\"",
        "squeeze = \"12 mm\"\nentry_relief = \"13 mm\"",
        false,
    ),
    (
        "squeeze-too-deep",
        "squeeze = \"12 mm\"",
        "squeeze = \"12 mm\"\nentry_relief = \"-60 mm\"",
        false,
    ),
    (
        "squeeze-too-deep",
        "squeeze = \"12 mm\"",
        "squeeze = \"80 mm\"",
        true,
    ),
    (
        "holes-too-large",
        "hole_diameter = \"14 mm\"",
        "hole_diameter = \"140 mm\"",
        false,
    ),
    ("holes-too-large", "holes = 38", "holes = 300", false),
    (
        "half-a-seam",
        "holes = 38",
        "holes = 38\nseam_width = \"2 mm\"",
        false,
    ),
    (
        "seam-too-large",
        "holes = 38",
        "holes = 38\nseam_depth = \"60 mm\"\nseam_width = \"2 mm\"",
        false,
    ),
    (
        "opening-too-small",
        "depth = \"390 mm\"",
        "depth = \"39 mm\"",
        false,
    ),
    (
        "rim-above-ceiling",
        "wall_bounce = 0.3",
        "ceiling = \"1.1 m\"",
        false,
    ),
    ("rim-out-of-reach", "ratio = 1.0  ", "ratio = 6.0  ", false),
    (
        "spot-behind-target",
        "distance = \"2.2 m\"",
        "distance = \"-2.2 m\"",
        false,
    ),
    ("twin-spots", "name = \"middle\"", "name = \"near\"", false),
    (
        "bore-too-large",
        "kind = \"ring\"                 # extra mass at the rim\nmass = \"180 g\"\ndiameter = \"80 mm\"",
        "kind = \"annulus\"\nmass = \"180 g\"\nouter_diameter = \"60 mm\"\ninner_diameter = \"80 mm\"",
        false,
    ),
    (
        "travel-reversed",
        "range = [\"0 deg\", \"25 deg\"]",
        "range = [\"25 deg\", \"0 deg\"]",
        true,
    ),
    (
        "travel-reversed",
        "range = [\"0 deg\", \"25 deg\"]",
        "range = [\"8 deg\", \"8 deg\"]",
        false,
    ),
    (
        "setting-outside-travel",
        "tilt = \"8 deg\"",
        "tilt = \"28 deg\"",
        true,
    ),
    ("setting-off-step", "tilt = \"8 deg\"", "tilt = \"8.4 deg\"", true),
    (
        "free-above-stall",
        "free_current = \"1.2 A\"",
        "free_current = \"62 A\"",
        false,
    ),
    (
        "sheet-contradicts",
        "free_speed = \"6000 rpm\"",
        "free_speed = \"6000 rad/s\"",
        false,
    ),
    (
        "battery-below-reset",
        "open_voltage = \"12.7 V\"",
        "open_voltage = \"6.4 V\"",
        false,
    ),
];

#[test]
fn the_demos_load_without_a_problem() {
    for demo in DEMOS {
        let project = loaded(demo.text).project;
        assert!(
            !project.name.is_empty() && project.spots.len() == 3,
            "{}",
            demo.name
        );
    }
}

#[test]
fn each_broken_project_has_one_problem_and_it_is_the_one_meant() {
    let wanted = ["wrong-unit", "gap-too-wide", "rim-out-of-reach"];
    for (broken, code) in BROKEN.iter().zip(wanted) {
        assert_eq!(codes(&problems(broken.text)), [code], "{}", broken.name);
    }
}

#[test]
fn each_mistake_is_found_once_at_its_line() {
    for (code, old, new, _) in MISTAKES {
        let text = changed(old, new);
        let found = problems(&text);
        assert_eq!(codes(&found), [*code], "`{new}` gave\n{}", render(&found));
        let place = found[0]
            .place
            .as_ref()
            .unwrap_or_else(|| panic!("{new} has no place"));
        assert!(!found[0].finding.what.is_empty() && !found[0].finding.fix.is_empty());
        assert!(place.line <= text.lines().count() + 1);
    }
}

/// What a message offers, put in place: an assignment in backquotes replaces the line, a quoted text
/// the value.
fn mended(text: &str, problem: &Problem) -> Option<String> {
    let fix = &problem.finding.fix;
    let place = problem.place.as_ref()?;
    let mut lines: Vec<String> = text.lines().map(str::to_string).collect();
    let line = lines.get_mut(place.line - 1)?;
    let assignment = fix.split('`').skip(1).step_by(2).find(|t| t.contains(" = "));
    *line = match assignment {
        Some(assignment) => assignment.to_string(),
        None => {
            let value = fix.split('"').nth(1)?;
            let (key, _) = line.split_once('=')?;
            format!("{key}= \"{value}\"")
        }
    };
    Some(lines.join("\n"))
}

#[test]
fn doing_what_the_message_says_removes_the_problem() {
    let mut tried = 0;
    for (_, old, new, _) in MISTAKES.iter().filter(|m| m.3) {
        let text = changed(old, new);
        let problem = &problems(&text)[0];
        let better =
            mended(&text, problem).unwrap_or_else(|| panic!("no fix to apply in `{}`", problem.finding.fix));
        let left = problems(&better);
        assert!(
            left.is_empty(),
            "`{}` left\n{}",
            problem.finding.fix,
            render(&left)
        );
        tried += 1;
    }
    assert!(tried >= 20);
}

/// Fixes that name a number rather than a line: the number does it, and a little less does not.
#[test]
fn the_numbers_in_a_message_are_the_ones_that_help() {
    let fix = |text: &str| problems(text)[0].finding.fix.clone();
    let left = |text: &str| codes(&problems(text));

    let contradiction = changed("free_speed = \"6000 rpm\"", "free_speed = \"6000 rad/s\"");
    let fix_text = fix(&contradiction);
    let torque = fix_text
        .split("would be ")
        .nth(1)
        .and_then(|t| t.split(" or ").next())
        .unwrap();
    let speed = fix_text.split("free speed ").nth(1).unwrap();
    let by_torque = contradiction.replace(
        "stall_torque = \"1.1 N m\"",
        &format!("stall_torque = \"{torque}\""),
    );
    assert!(left(&by_torque).is_empty(), "{fix_text}");
    let by_speed = contradiction.replace("\"6000 rad/s\"", &format!("\"{speed}\""));
    assert!(left(&by_speed).is_empty(), "{fix_text}");

    assert!(fix(&changed("holes = 38", "holes = 300")).contains("at most 255 of this size"));
    assert!(left(&changed("holes = 38", "holes = 255")).is_empty());
    assert_eq!(left(&changed("holes = 38", "holes = 256")), ["holes-too-large"]);

    assert!(fix(&changed("name = \"middle\"", "name = \"near\"")).contains("\"near 2\""));

    assert!(fix(&changed("ratio = 1.0  ", "ratio = 6.0  ")).contains("well below 4.58"));
    assert!(left(&changed("ratio = 1.0  ", "ratio = 4.58  ")).is_empty());
    assert_eq!(
        left(&changed("ratio = 1.0  ", "ratio = 4.59  ")),
        ["rim-out-of-reach"]
    );
}

const MANY: &[(&str, &str)] = &[
    ("hole_diameter = \"14 mm\"", "hole_diameter = 14"),
    ("rim_height = \"1.14 m\"", "rim_height = \"1,14 m\""),
    ("depth = \"390 mm\"", "depth = \"39 mm\""),
    ("width = \"480 mm\"", "widht = \"480 mm\""),
    ("layout = \"guide\"", "layout = \"gude\""),
    ("axle_height = \"300 mm\"", "axle_height = 300 mm"),
    ("squeeze = \"12 mm\"", "gap = \"118 mm\""),
    ("tilt = \"8 deg\"", "tilt = \"28 deg\""),
    ("stall_torque = \"1.1 N m\"", "stall_torque = \"11.2 kg cm\""),
    ("open_voltage = \"12.7 V\"", "open_voltage = \"6.4 V\""),
    ("period = \"20 ms\"", "period = true"),
];

#[test]
fn many_mistakes_are_all_told_at_once_in_the_order_of_the_file() {
    let mut text = sound().to_string();
    for (old, new) in MANY {
        assert_eq!(text.matches(old).count(), 1, "{old}");
        text = text.replacen(old, new, 1);
    }
    let found = problems(&text);
    let wanted = [
        "no-unit",
        "bad-number",
        "opening-too-small",
        "unknown-key",
        "not-a-choice",
        "not-toml",
        "gap-too-wide",
        "setting-outside-travel",
        "wrong-unit",
        "battery-below-reset",
        "wrong-type",
    ];
    assert_eq!(codes(&found), wanted);
    golden("many", &render(&found));
}

/// Compares with a file that was read by eye once; `UPDATE=1 cargo test` rewrites it.
fn golden(name: &str, text: &str) {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("tests/golden/problems")
        .join(format!("{name}.txt"));
    if std::env::var_os("UPDATE").is_some() {
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(&path, text).unwrap();
        return;
    }
    let wanted = std::fs::read_to_string(&path).unwrap_or_default();
    assert_eq!(text, wanted, "{name}: run with UPDATE=1 and read the difference");
}

#[test]
fn the_messages_read_as_they_were_approved() {
    for broken in BROKEN {
        golden(broken.name, &render(&problems(broken.text)));
    }
    let mut all = String::new();
    for (code, old, new, _) in MISTAKES {
        all.push_str(&format!("==== {code}: {}\n\n", new.lines().last().unwrap()));
        all.push_str(&render(&problems(&changed(old, new))));
    }
    golden("each", &all);
    let notes: String = DEMOS.iter().map(|d| render(&loaded(d.text).notes)).collect();
    golden("notes", &notes);
    golden("nothing-but-a-format", &render(&problems("format = 1\n")));
}

#[test]
fn every_code_is_made_by_some_file() {
    let mut seen: BTreeSet<&str> = MISTAKES.iter().map(|m| m.0).collect();
    let mut see = |text: &str| seen.extend(codes(&problems(text)));
    see("");
    see("format = 1\n");
    see(&format!("a = {}", "[".repeat(500)));
    see(&"# long\n".repeat(200_000));
    see(&format!(
        "{}{}",
        sound(),
        "[[spot]]\nname = \"x\"\ndistance = \"1 m\"\n".repeat(300)
    ));
    seen.extend(loaded(sound()).notes.iter().map(|n| n.finding.code));
    // Files that cannot be read have tests of their own.
    seen.extend(["no-file", "is-folder", "no-permission", "unreadable", "not-text"]);
    // So have files that cannot be written (project_write.rs).
    seen.extend(["changed-meanwhile", "read-only", "disk-full", "not-written"]);
    // And logs of test shots (learned.rs).
    seen.extend(["no-shots", "bad-shot", "shot-not-thrown", "not-fitted"]);
    for free in [
        "\"target.width\" = { choices = [\"1 m\"] }",
        "\"motor.ratio\" = { range = [2, 1], step = 1 }",
        "\"motor.ratio\" = { range = [1, 2], step = 0 }",
        "\"motor.ratio\" = { choices = [] }",
    ] {
        seen.extend(codes(&problems(&format!("{}\n[free]\n{free}\n", sound()))));
    }
    for (stock, wanted) in [("8 amber, teal", "amber"), ("8 amber, 8 teal", "ambre")] {
        let order = format!("[order]\nstock = \"{stock}\"\nwanted = \"{wanted}\"\n");
        seen.extend(codes(&problems(&format!("{}\n{order}", sound()))));
    }
    // What a command needs and a small file has not.
    let small = loaded(sound()).project;
    let plan = SeasonPlan::default();
    // One piece alone follows none.
    let mut single = loaded(DEMOS[0].text).project;
    single.feed.as_mut().unwrap().piece_count = 1;
    let lacking = [
        feed::parts(&small).err(),
        order::ordered(&small, 1).err(),
        season::season(&small, &plan, None, &mut |_| true).err(),
        pictures::map_plan(&small, 0, 1).err(),
        feed::pace(&single).err(),
    ];
    seen.extend(lacking.into_iter().flatten().map(|f| f.code));
    assert_eq!(seen, CODES.iter().copied().collect());
}

#[test]
fn one_slip_that_hides_many_keys_is_not_told_as_many() {
    // Another kind of piece: the two lines about holes are the only thing wrong.
    let foam = problems(&changed("kind = \"perforated\" ", "kind = \"foam\" "));
    assert_eq!(codes(&foam), ["not-here", "not-here"]);
    // A table that is there already: not each of its keys as well.
    let again = "[piece]\nkind = \"perforated\"\nholes = 38\n\n[target]  ";
    let table = problems(&changed("[target]  ", again));
    assert_eq!(codes(&table), ["written-twice"], "{}", render(&table));
    // A table of each spot's own: not also that it has no name and no distance.
    let spots = sound()
        .replacen("[[spot]]", "[spot.near]", 1)
        .replacen("[[spot]]", "[spot.middle]", 1);
    let named = problems(&spots.replacen("[[spot]]", "[spot.far]", 1));
    assert_eq!(codes(&named), ["wrong-type"], "{}", render(&named));
    assert!(
        named[0].finding.fix.contains("[[spot]]"),
        "{}",
        named[0].finding.fix
    );
    let open = problems(&changed("[[spot]]                      #", "[spot  #"));
    assert_eq!(codes(&open), ["not-toml"], "{}", render(&open));
    let knobs = problems(&changed("layout = \"guide\"", "layout = \"pair\""));
    let about_slide = knobs
        .iter()
        .filter(|p| p.finding.key.starts_with("knobs.slide"))
        .count();
    assert_eq!(about_slide, 1, "{}", render(&knobs));
}

/// The sound project with one kind of head written otherwise, in all places or the first few.
fn heads(right: &str, wrong: &str, count: usize) -> String {
    assert!(sound().contains(right), "{right}");
    sound().replacen(right, wrong, count)
}

#[test]
fn wrong_brackets_around_a_table_are_one_problem_that_says_what_to_write() {
    let mut said = String::new();
    for (right, wrong, count) in [
        ("[[spot]]", "[spot]", 1),
        ("[[spot]]", "[spot]", 2),
        ("[[spot]]", "[spot]", 3),
        ("[[spot]]", "[ spots ]", 3),
        ("[[spot]]", "[Spot]", 3),
        ("[[spot]]", "[[spot]", 1),
        ("[[spot]]", "[spot]]", 3),
        ("[[wheel.part]]", "[wheel.part]", 1),
        ("[[wheel.part]]", "[wheel.part]", 2),
        ("[[wheel.part]]", "[wheel.parts]", 1),
        ("[piece]", "[[piece]]", 1),
        ("[wheel]", "[[wheel]]", 1),
        ("[knobs.tilt]", "[[knobs.tilt]]", 1),
    ] {
        let text = heads(right, wrong, count);
        let found = problems(&text);
        assert_eq!(codes(&found), ["wrong-type"], "{wrong}\n{}", render(&found));
        let place = found[0].place.as_ref().unwrap();
        let first = text.lines().position(|l| l.starts_with(wrong)).unwrap();
        assert_eq!((place.line, place.length), (first + 1, wrong.len()), "{wrong}");
        // The message names what to write, what for, and every line; doing it is all there is to do.
        let fix = &found[0].finding.fix;
        let mut quoted = fix.split('`').skip(1).step_by(2);
        let (write, instead) = (quoted.next().unwrap(), quoted.next().unwrap());
        assert_eq!((write, instead), (right, wrong), "{fix}");
        for (at, _) in text
            .lines()
            .enumerate()
            .filter(|(_, l)| count > 1 && l.starts_with(wrong))
        {
            assert!(fix.contains(&format!("{}", at + 1)), "{fix}");
        }
        let better: Vec<String> = text
            .lines()
            .map(|l| match l.strip_prefix(instead) {
                Some(rest) if !l.starts_with(right) => format!("{write}{rest}"),
                _ => l.to_string(),
            })
            .collect();
        assert_eq!(loaded(&better.join("\n")).project, loaded(sound()).project);
        said.push_str(&render(&found));
    }
    golden("brackets", &said);
}

#[test]
fn what_else_is_wrong_is_told_at_its_own_place_below_a_mended_slip() {
    let text = heads("[[spot]]", "[spot]", 3)
        .replace("name = \"far\"", "name = “far”")
        .replace("distance = \"3.6 m\"", "distance = \"3.6 mn\"")
        .replace("wrap = \"110 deg\"", "wrap = “110 dog”")
        .replace("brakes = false", "brakes = no\nbreaks = 1");
    let found = problems(&text);
    let told: Vec<(&str, String)> = found
        .iter()
        .map(|p| {
            let place = p.place.as_ref().unwrap();
            let line = text.lines().nth(place.line - 1).unwrap();
            let marked = line.chars().skip(place.column - 1).take(place.length).collect();
            assert_eq!(line, place.line_text);
            (p.finding.code, marked)
        })
        .collect();
    let wanted = [
        ("wrong-type", "[spot]"),
        ("not-toml", "“far”"),
        ("unknown-unit", "mn"),
        ("not-toml", "“110 dog”"),
        ("unknown-unit", "dog"),
        ("wrong-type", "no"),
        ("unknown-key", "breaks"),
    ];
    assert_eq!(
        told,
        wanted.map(|(c, t)| (c, t.to_string())),
        "{}",
        render(&found)
    );
    // A key that is missing from a table with wrong brackets is told at its head.
    let missing = heads("[[spot]]", "[spot]", 3).replace("distance = \"2.2 m\"\n", "");
    let found = problems(&missing);
    assert_eq!(codes(&found), ["wrong-type", "missing-key"]);
    assert_eq!(
        found[1].place.as_ref().map(|p| (p.line, p.column, p.length)),
        Some((32, 1, 6))
    );
}

#[test]
fn what_only_looks_like_a_slip_is_left_alone() {
    let quoted = loaded(&changed("name = \"near\"", "name = \"the “near” one\""));
    assert_eq!(quoted.project.spots[0].name, "the “near” one");
    let single = loaded(&changed("name = \"near\"", "name = '“near”'"));
    assert_eq!(single.project.spots[0].name, "“near”");
    let long = "name = \"\"\"\n[spot]\nbrakes = no\n\"\"\"";
    let long = loaded(&changed("name = \"near\"", long));
    assert_eq!(long.project.spots[0].name, "[spot]\nbrakes = no\n");
    let remark = "brakes = true  # “no” ``` \"\"\"\n# [spot]\n# brakes = no";
    assert!(
        loaded(&changed("brakes = false", remark))
            .project
            .machine
            .controller
            .brakes
    );
}

#[test]
fn a_flag_is_mended_to_what_was_meant() {
    for (word, meant) in [
        ("no", "false"),
        ("off", "false"),
        ("False", "false"),
        ("\"no\"", "false"),
        ("0", "false"),
        ("yes", "true"),
        ("on", "true"),
        ("TRUE", "true"),
        ("‘true’", "true"),
        ("\"Yes\"", "true"),
        ("1", "true"),
    ] {
        let found = problems(&changed("brakes = false", &format!("brakes = {word}")));
        assert_eq!(codes(&found), ["wrong-type"], "{word}");
        assert_eq!(
            found[0].finding.fix,
            format!("write `brakes = {meant}`"),
            "{word}"
        );
    }
}

fn folder(name: &str) -> PathBuf {
    let path = std::env::temp_dir().join(format!("arcwright-{}-{name}", std::process::id()));
    std::fs::create_dir_all(&path).unwrap();
    path
}

fn only(found: Result<Loaded, Vec<Problem>>) -> Problem {
    let mut found = found.unwrap_err();
    assert_eq!(found.len(), 1, "{}", render(&found));
    found.remove(0)
}

#[test]
fn files_that_cannot_be_read_say_so_with_their_path() {
    let dir = folder("read");
    let at = |p: &Path| only(read(p));
    let missing = at(&dir);
    assert_eq!(missing.finding.code, "no-file");
    assert!(
        missing.finding.what.contains("arcwright.toml"),
        "{}",
        missing.finding.what
    );
    assert_eq!(at(Path::new("a\0b")).finding.code, "unreadable");

    let file = dir.join("odd.toml");
    std::fs::write(&file, b"format = 1\nname = \"L\xffntern\"\n").unwrap();
    let odd = at(&file);
    assert_eq!(odd.finding.code, "not-text");
    assert_eq!(odd.place.as_ref().map(|p| (p.line, p.column)), Some((2, 10)));
    std::fs::write(&file, b"\xff\xfef\0o\0r\0").unwrap();
    assert!(at(&file).finding.what.contains("UTF-16"));
    std::fs::write(&file, vec![b'#'; 2 << 20]).unwrap();
    assert_eq!(at(&file).finding.code, "too-large");
    std::fs::write(&file, format!("\u{feff}{}", sound())).unwrap();
    assert_eq!(read(&file).unwrap().project.name, "Lantern Night");
    std::fs::write(&file, "\u{feff}format = 7\n").unwrap();
    let seven = read(&file).unwrap_err().remove(0).place.unwrap();
    assert_eq!(
        (seven.line, seven.column, seven.line_text.as_str()),
        (1, 10, "format = 7")
    );
    std::fs::write(&file, sound().replace('\n', "\r\n")).unwrap();
    assert_eq!(read(&file).unwrap().project, loaded(sound()).project);

    std::fs::create_dir_all(dir.join(NAME)).unwrap();
    assert_eq!(at(&dir).finding.code, "is-folder");
    std::fs::remove_dir_all(&dir).unwrap();
}

#[test]
fn a_file_takes_its_units_as_written_and_answers_in_those_it_asks_for() {
    let us =
        changed("units = \"metric\"", "units = \"us\"").replace("squeeze = \"12 mm\"", "gap = \"4.7 in\"");
    let found = problems(&us);
    assert_eq!(codes(&found), ["gap-too-wide"]);
    let what = &found[0].finding.what;
    assert!(what.contains("4.7 in") && what.contains("4.41 in"), "{what}");
}

#[test]
fn the_json_of_a_problem_has_everything_the_text_has() {
    let found = problems(BROKEN[1].text);
    let value = json(&found);
    let first = &value[0];
    assert_eq!(first["code"], "gap-too-wide");
    assert_eq!(first["level"], "wrong");
    assert_eq!(first["key"], "launcher.gap");
    assert_eq!(first["place"]["line"], 63);
    assert_eq!(first["place"]["column"], 7);
    assert_eq!(first["place"]["length"], 8);
    assert!(first["fix"].as_str().unwrap().contains("squeeze"));
}

/// The quoted line and the marks below it.
fn quoted(said: &str) -> (&str, &str) {
    let lines: Vec<&str> = said.lines().collect();
    let marks = lines
        .iter()
        .position(|l| l.trim_start().starts_with('~'))
        .unwrap();
    (lines[marks - 1], lines[marks])
}

#[test]
fn the_marks_stand_below_the_fault_however_long_the_line() {
    for (before, after) in [
        (0, 0),
        (60, 60),
        (100, 0),
        (399, 0),
        (500, 500_000),
        (500_000, 500),
    ] {
        let new = format!(
            "mass = {{ value = \"61 g\", {}dev\t= \"{}\", sd",
            " ".repeat(before),
            "é".repeat(after)
        );
        let text = changed("mass = { value = \"61 g\", sd", &new);
        let said = render(&problems(&text));
        let (line, marks) = quoted(&said);
        let column = marks.chars().position(|c| c == '~').unwrap();
        let marked: String = line.chars().skip(column).take(marks.trim().len()).collect();
        assert_eq!(marked, "dev", "{said}");
        assert!(said.lines().all(|l| l.chars().count() < 110), "lines stay short");
        assert!(json(&problems(&text)).to_string().len() < 3000);
    }
}
