//! The table `[free]`: what a search may change.
#![allow(clippy::unwrap_used, clippy::panic)] // helpers of tests are tests too

use arcwright::project::{DEMOS, Problem, parse, render};
use arcwright_model::project::{Choices, Freed, Project, default_free, get, set};

const NAME: &str = "arcwright.toml";

fn with(table: &str) -> String {
    format!("{}\n{table}\n", include_str!("fixtures/sound.toml"))
}

fn project(table: &str) -> Project {
    parse(NAME, &with(table))
        .unwrap_or_else(|p| panic!("{}", render(&p)))
        .project
}

fn problems(table: &str) -> Vec<Problem> {
    parse(NAME, &with(table)).err().unwrap_or_default()
}

fn values(project: &Project, key: &str) -> Vec<f64> {
    project.free.iter().find(|f| f.key == key).unwrap().values()
}

fn near(found: &[f64], wanted: &[f64]) {
    let is_near = |(a, b): (&f64, &f64)| (a - b).abs() <= 1e-12 * b.abs();
    assert!(
        found.len() == wanted.len() && found.iter().zip(wanted).all(is_near),
        "{found:?} {wanted:?}"
    );
}

#[test]
fn a_range_counts_its_steps_from_its_lower_end_and_ends_on_the_upper_where_one_falls_on_it() {
    let p = project("[free]\n\"wheel.diameter\" = { range = [\"80 mm\", \"120 mm\"], step = \"4 mm\" }");
    assert_eq!(values(&p, "wheel.diameter").len(), 11);
    near(&values(&p, "wheel.diameter")[9..], &[0.116, 0.12]);
    let p = project("[free]\n\"wheel.diameter\" = { range = [\"80 mm\", \"90 mm\"], step = \"4 mm\" }");
    near(&values(&p, "wheel.diameter"), &[0.08, 0.084, 0.088]);
    // An inch is 25.4 mm by definition.
    let p = project("[free]\n\"wheel.diameter\" = { range = [\"3 in\", \"4 in\"], step = \"1/4 in\" }");
    near(
        &values(&p, "wheel.diameter"),
        &[0.0762, 0.08255, 0.0889, 0.09525, 0.1016],
    );
}

#[test]
fn how_the_squeeze_grows_along_the_guide_can_be_free_beside_the_squeeze() {
    let p = project(
        "[free]\n\"launcher.squeeze\" = { choices = [\"10 mm\", \"12 mm\"] }\n\"launcher.entry_relief\" = { range = [\"-2 mm\", \"4 mm\"], step = \"2 mm\" }",
    );
    near(&values(&p, "launcher.entry_relief"), &[-0.002, 0.0, 0.002, 0.004]);
    // Each keeps what the other is set to.
    let mut moved = p.clone();
    assert!(set(&mut moved, "launcher.entry_relief", 0.004) && set(&mut moved, "launcher.squeeze", 0.010));
    assert_eq!(get(&moved, "launcher.entry_relief"), Some(0.004));
    assert!((get(&moved, "launcher.squeeze").unwrap() - 0.010).abs() < 1e-12);
}

#[test]
fn a_step_through_zero_gives_zero_and_not_what_rounding_leaves_of_it() {
    let freed = Freed {
        key: "setting.slide".to_string(),
        choices: Choices::Steps {
            low: -0.3,
            high: 0.3,
            step: 0.1,
        },
    };
    assert_eq!(freed.values()[3], 0.0);
    assert_eq!(freed.values().len(), 7);
}

#[test]
fn quotation_marks_and_nested_tables_free_the_same() {
    let quoted = project(
        "[free]\n\"wheel.count\" = { choices = [1, 2] }\n\"wheel.part[1].mass\" = { choices = [\"0.1 kg\"] }",
    );
    let nested =
        project("[free.wheel]\ncount = { choices = [1, 2] }\n\"part[1].mass\" = { choices = [\"100 g\"] }");
    let dotted =
        project("[free]\nwheel.count.choices = [1, 2]\nwheel.\"part[1].mass\" = { choices = [\"100 g\"] }");
    assert_eq!(quoted.free.len(), 2);
    assert_eq!(quoted.free, nested.free);
    assert_eq!(quoted.free, dotted.free);
    let heads = project("[free.wheel.count]\nchoices = [1, 2]");
    assert_eq!(heads.free[0], quoted.free[0]);
}

#[test]
fn teeth_give_the_ratio_of_the_wheel_to_the_motor() {
    let p = project("[free]\n\"motor.ratio\" = { teeth = [[16, 40], [18, 36]] }");
    assert_eq!(values(&p, "motor.ratio"), [2.5, 2.0]);
}

#[test]
fn the_present_value_need_not_be_among_those_that_are_free() {
    let p = project("[free]\n\"wheel.diameter\" = { choices = [\"80 mm\"] }");
    assert_eq!(p.machine.wheel.diameter_m, 0.096);
}

/// What stands in `[free]`, its one code, and what the words must say.
const MISTAKES: &[(&str, &str, &str)] = &[
    (
        "\"wheel.diamter\" = { choices = [\"80 mm\"] }",
        "unknown-key",
        "`wheel.diameter`",
    ),
    (
        "\"diameter\" = { choices = [\"80 mm\"] }",
        "unknown-key",
        "wheel.diameter",
    ),
    (
        "wheel.part.mass = { choices = [\"80 g\"] }",
        "unknown-key",
        "wheel.part[0].mass",
    ),
    (
        "\"wheel.part[7].mass\" = { choices = [\"80 g\"] }",
        "not-here",
        "wheel.part[1]",
    ),
    (
        "\"launcher.upper_speed\" = { choices = [\"80 %\"] }",
        "not-here",
        "pair",
    ),
    (
        "\"wheel.part[1].outer_diameter\" = { choices = [\"80 mm\"] }",
        "not-here",
        "annulus",
    ),
    (
        "\"launcher.layout\" = { choices = [\"pair\"] }",
        "wrong-type",
        "not one number",
    ),
    (
        "\"knobs.tilt.range\" = { choices = [\"8 deg\"] }",
        "wrong-type",
        "not one number",
    ),
    (
        "\"target.width\" = { choices = [\"600 mm\"] }",
        "not-to-free",
        "not yours to free",
    ),
    (
        "\"spot[1].distance\" = { choices = [\"2 m\"] }",
        "not-to-free",
        "not yours to free",
    ),
    (
        "\"piece.mass\" = { choices = [\"60 g\"] }",
        "not-to-free",
        "not yours to free",
    ),
    (
        "\"air.humidity\" = { choices = [\"60 %\"] }",
        "not-to-free",
        "not yours to free",
    ),
    (
        "\"limits.mass\" = { choices = [\"9 kg\"] }",
        "not-to-free",
        "limits.throw_interval",
    ),
    ("\"wheel.diameter\" = \"96 mm\"", "wrong-type", "range"),
    (
        "\"wheel.diameter\" = { choices = \"96 mm\" }",
        "wrong-type",
        "list",
    ),
    (
        "\"wheel.diameter\" = { choices = [true] }",
        "wrong-type",
        "single value",
    ),
    ("\"wheel.diameter\" = { choices = [] }", "no-choices", "96 mm"),
    (
        "\"wheel.diameter\" = { choises = [\"96 mm\"] }",
        "unknown-key",
        "choices",
    ),
    ("\"wheel.diameter\" = { }", "missing-key", "range"),
    (
        "\"wheel.diameter\" = { range = [\"80 mm\", \"90 mm\"] }",
        "missing-key",
        "step",
    ),
    ("\"wheel.diameter\" = { step = \"1 mm\" }", "missing-key", "range"),
    (
        "\"wheel.diameter\" = { range = [\"80 mm\"], step = \"1 mm\" }",
        "wrong-type",
        "two",
    ),
    (
        "\"wheel.diameter\" = { range = [\"80 mm\", \"90 mm\"], step = \"1 mm\", choices = [\"80 mm\"] }",
        "both-written",
        "keep",
    ),
    (
        "\"wheel.diameter\" = { range = [\"90 mm\", \"80 mm\"], step = \"1 mm\" }",
        "bad-range",
        "backwards",
    ),
    (
        "\"wheel.diameter\" = { range = [\"80 mm\", \"80 mm\"], step = \"1 mm\" }",
        "bad-range",
        "no length",
    ),
    (
        "\"wheel.diameter\" = { range = [\"80 mm\", \"90 mm\"], step = \"0 mm\" }",
        "bad-step",
        "above zero",
    ),
    (
        "\"wheel.diameter\" = { range = [\"80 mm\", \"90 mm\"], step = \"-1 mm\" }",
        "bad-step",
        "above zero",
    ),
    (
        "\"wheel.diameter\" = { range = [\"80 mm\", \"90 mm\"], step = \"11 mm\" }",
        "bad-step",
        "at most 10 mm",
    ),
    (
        "\"wheel.diameter\" = { range = [\"80 mm\", \"90 mm\"], step = \"0.1 um\" }",
        "bad-step",
        "10000",
    ),
    (
        "\"wheel.count\" = { range = [1, 3], step = 0.5 }",
        "bad-step",
        "whole",
    ),
    ("\"wheel.count\" = { choices = [1, 1.5] }", "wrong-type", "whole"),
    (
        "\"wheel.diameter\" = { range = [\"80 g\", \"90 mm\"], step = \"1 mm\" }",
        "wrong-unit",
        "mm",
    ),
    (
        "\"wheel.diameter\" = { range = [\"80 mm\", \"90 mm\"], step = 1 }",
        "no-unit",
        "mm",
    ),
    ("\"wheel.diameter\" = { choices = [96] }", "no-unit", "mm"),
    (
        "\"wheel.diameter\" = { choices = [\"96 m\"] }",
        "out-of-range",
        "2 m",
    ),
    (
        "\"wheel.diameter\" = { range = [\"1 mm\", \"90 mm\"], step = \"1 mm\" }",
        "out-of-range",
        "5 mm",
    ),
    (
        "\"motor.ratio\" = { teeth = [[16, 40, 3]] }",
        "wrong-type",
        "pair of gears",
    ),
    (
        "\"motor.ratio\" = { teeth = [[0, 40]] }",
        "wrong-type",
        "pair of gears",
    ),
    ("\"motor.ratio\" = { teeth = 3 }", "wrong-type", "teeth"),
    (
        "\"wheel.diameter\" = { teeth = [[16, 40]] }",
        "not-here",
        "motor.ratio",
    ),
    (
        "\"setting.tilt\" = { range = [\"0 deg\", \"30 deg\"], step = \"1 deg\" }",
        "setting-outside-travel",
        "[knobs.tilt]",
    ),
    (
        "\"setting.tilt\" = { range = [\"0 deg\", \"20 deg\"], step = \"0.5 deg\" }",
        "setting-off-step",
        "[knobs.tilt]",
    ),
    (
        "\"launcher.squeeze\" = { range = [\"6 mm\", \"80 mm\"], step = \"1 mm\" }",
        "squeeze-too-deep",
        "less of it",
    ),
    (
        "\"launcher.squeeze\" = { choices = [\"9 mm\"] }\n\"launcher.gap\" = { choices = [\"99 mm\"] }",
        "both-written",
        "one of them",
    ),
    (
        "\"wheel.count\" = { choices = [1, 2] }\nwheel.count = { choices = [2] }",
        "written-twice",
        "take the other out",
    ),
];

#[test]
fn each_mistake_is_told_once_at_its_line_with_the_way_out() {
    let first = with("").lines().count();
    for (line, code, says) in MISTAKES {
        let found = problems(&format!("[free]\n{line}"));
        let codes: Vec<&str> = found.iter().map(|p| p.finding.code).collect();
        assert_eq!(codes, [*code], "{line}\n{}", render(&found));
        let finding = &found[0].finding;
        let words = format!("{} {}", finding.what, finding.fix);
        assert!(words.contains(says), "{line}: `{says}` is not in `{words}`");
        assert!(
            found[0].place.as_ref().unwrap().line > first,
            "{line}\n{}",
            render(&found)
        );
    }
}

#[test]
fn the_table_itself_has_single_brackets_and_is_no_value() {
    let codes = |t: &str| -> Vec<&str> { problems(t).iter().map(|p| p.finding.code).collect() };
    assert_eq!(
        codes("[[free]]\n\"wheel.count\" = { choices = [1, 2] }"),
        ["wrong-type"]
    );
    assert_eq!(
        codes("[fre]\n\"wheel.count\" = { choices = [1, 2] }"),
        ["unknown-key"]
    );
    let top = include_str!("fixtures/sound.toml").replacen("format = 1", "format = 1\nfree = 3", 1);
    let found = parse(NAME, &top).err().unwrap();
    assert_eq!(found[0].finding.code, "wrong-type", "{}", render(&found));
}

#[test]
fn what_is_free_by_default_can_all_be_set_and_holds_the_present_design() {
    for demo in DEMOS {
        let p = parse(demo.name, demo.text).unwrap().project;
        let all = default_free(&p);
        assert!(all.len() >= 7, "{}: {all:?}", demo.name);
        for freed in &all {
            let values = freed.values();
            assert!((2..=400).contains(&values.len()), "{}: {freed:?}", demo.name);
            for value in &values {
                assert!(set(&mut p.clone(), &freed.key, *value), "{} {value}", freed.key);
            }
            let present = get(&p, &freed.key).unwrap();
            let holds = values.iter().any(|v| (v - present).abs() <= 1e-9 * present.abs());
            assert!(
                holds || freed.key == "wheel.width",
                "{}: {freed:?} {present}",
                demo.name
            );
        }
        assert!(!all.iter().any(|f| f.key.starts_with("limits")));
    }
}

#[test]
fn the_defaults_follow_the_layout() {
    let keys = |name: &str| -> Vec<String> {
        let demo = DEMOS.iter().find(|d| d.name == name).unwrap();
        let p = parse(name, demo.text).unwrap().project;
        default_free(&p).into_iter().map(|f| f.key).collect()
    };
    let (guide, pair) = (keys("lantern"), keys("bramble"));
    assert!(guide.contains(&"launcher.wrap".to_string()) && guide.contains(&"setting.reach".to_string()));
    assert!(
        pair.contains(&"launcher.upper_speed".to_string()) && !pair.contains(&"launcher.wrap".to_string())
    );
    // The ring is the lantern's last part, a disc the bramble's last but one.
    assert!(guide.contains(&"wheel.part[1].mass".to_string()));
    assert!(pair.contains(&"wheel.part[0].mass".to_string()));
}

#[test]
fn the_default_squeeze_of_twelve_millimetres_is_six_to_eighteen_in_steps_of_one() {
    let p = project("");
    let squeeze = default_free(&p)
        .into_iter()
        .find(|f| f.key == "launcher.squeeze")
        .unwrap();
    let wanted: Vec<f64> = (6..=18).map(|mm| f64::from(mm) * 0.001).collect();
    near(&squeeze.values(), &wanted);
}

/// Every block of the section in the page is a table that can be added to a sound file.
#[test]
fn what_the_page_shows_can_be_written_and_its_numbers_are_right() {
    let page = include_str!("../../../docs/project-file.md");
    let section = page
        .split("## What a search may change")
        .nth(1)
        .unwrap()
        .split("\n## ")
        .next()
        .unwrap();
    let blocks: Vec<&str> = section
        .split("```toml\n")
        .skip(1)
        .map(|b| b.split("```").next().unwrap())
        .collect();
    let [first, nested, teeth] = blocks.as_slice() else {
        panic!("{blocks:?}")
    };
    assert_eq!(project(first).free.len(), 5);
    assert_eq!(project(nested).free.len(), 3);
    assert_eq!(values(&project(teeth), "motor.ratio"), [2.5, 2.0]);
    assert_eq!(arcwright_model::project::free::MOST_VALUES_COUNT, 10_000);
    assert!(section.contains("10 000"));
}
