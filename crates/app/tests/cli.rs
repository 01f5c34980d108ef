//! The program as a person runs it: standard output, standard error, exit code, files.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout)]

mod folder;

use std::fs;
use std::path::Path;
use std::process::Command;

use folder::Folder;
use serde_json::Value;

const LANTERN: &str = include_str!("../../../examples/lantern/arcwright.toml");

impl Folder {
    fn new() -> Folder {
        Folder::empty()
    }

    /// A folder with a changed Lantern Night: each pair must occur, so that no test drifts.
    fn with(changes: &[(&str, &str)]) -> Folder {
        let folder = Folder::new();
        folder.write(changes);
        folder
    }

    fn write(&self, changes: &[(&str, &str)]) {
        let mut text = LANTERN.to_string();
        for (from, to) in changes {
            assert!(text.contains(from), "the demo no longer has {from:?}");
            text = text.replacen(from, to, 1);
        }
        fs::write(self.0.join("arcwright.toml"), text).unwrap();
    }

    fn run(&self, arguments: &[&str]) -> Run {
        self.run_on(arguments, None)
    }

    fn run_on(&self, arguments: &[&str], threads: Option<&str>) -> Run {
        let mut command = Command::new(env!("CARGO_BIN_EXE_arcwright"));
        command.args(arguments).current_dir(&self.0);
        if let Some(n) = threads {
            command.env("RAYON_NUM_THREADS", n);
        }
        let out = command.output().unwrap();
        Run {
            out: String::from_utf8(out.stdout).unwrap(),
            err: String::from_utf8(out.stderr).unwrap(),
            code: out.status.code().unwrap(),
        }
    }

    fn files(&self) -> Vec<String> {
        fn walk(dir: &Path, root: &Path, out: &mut Vec<String>) {
            for e in fs::read_dir(dir).unwrap() {
                let p = e.unwrap().path();
                if p.is_dir() {
                    walk(&p, root, out);
                } else {
                    out.push(p.strip_prefix(root).unwrap().display().to_string());
                }
            }
        }
        let mut out = Vec::new();
        walk(&self.0, &self.0, &mut out);
        out.sort();
        out
    }
}

struct Run {
    out: String,
    err: String,
    code: i32,
}

impl Run {
    #[track_caller]
    fn ends(self, code: i32) -> Run {
        assert_eq!(self.code, code, "out:\n{}\nerr:\n{}", self.out, self.err);
        self
    }

    #[track_caller]
    fn says(self, what: &str) -> Run {
        assert!(self.out.contains(what), "no {what:?} in\n{}", self.out);
        self
    }

    #[track_caller]
    fn complains(self, what: &str) -> Run {
        assert!(
            self.out.is_empty(),
            "a refusal goes to standard error only:\n{}",
            self.out
        );
        assert!(self.err.contains(what), "no {what:?} in\n{}", self.err);
        self
    }

    fn json(&self) -> Value {
        serde_json::from_str(&self.out).unwrap()
    }
}

fn verdict<'a>(report: &'a Value, check: &str, subject: &str) -> &'a Value {
    report["verdicts"]
        .as_array()
        .unwrap()
        .iter()
        .find(|v| v["check"] == check && v["subject"] == subject)
        .unwrap_or_else(|| panic!("no verdict {check} {subject}"))
}

#[test]
fn without_a_project_summary_gives_the_demo_with_verdicts_setpoints_and_pictures() {
    let f = Folder::new();
    f.run(&["summary"])
        .ends(0)
        .says("Lantern Night")
        .says("no arcwright.toml in this folder")
        .says("Verdicts: ")
        .says("One setting serves every spot by wheel speed alone: yes.")
        .says("out/lantern/flights.svg")
        .says("eye protection")
        .says("they govern");
    let files = f.files();
    assert_eq!(
        files,
        [
            "base",
            "bite",
            "flights",
            "guide-force",
            "launcher",
            "parts",
            "setpoints",
            "volley"
        ]
        .map(|n| format!("out/lantern/{n}.svg"))
    );
    for file in files {
        let svg = fs::read_to_string(f.0.join(&file)).unwrap();
        assert!(
            svg.starts_with("<svg ") && svg.trim_end().ends_with("</svg>"),
            "{file}"
        );
        assert!(
            svg.contains("<title") && svg.contains("<desc") && !svg.contains("NaN"),
            "{file}"
        );
    }
    let found = f.run(&["summary", "--json"]).ends(0).json();
    let checked = f.run(&["check", "--json"]).json();
    assert_eq!(found["schema"], "arcwright/summary/1");
    assert_eq!(found["verdicts"], checked["verdicts"]);
    let pictures = found["pictures"].as_array().unwrap();
    assert!(pictures.len() > 3, "{found:#}");
    for picture in pictures {
        assert!(f.0.join(picture["file"].as_str().unwrap()).exists());
    }
}

#[test]
fn every_demo_holds_and_its_json_says_what_its_text_says() {
    let f = Folder::new();
    for demo in ["lantern", "bramble", "pebble"] {
        let text = f.run(&["check", "--demo", demo]).ends(0);
        let report = f.run(&["check", "--demo", demo, "--json"]).ends(0).json();
        assert_eq!(report["schema"], "arcwright/check/1");
        let verdicts = report["verdicts"].as_array().unwrap();
        for v in verdicts {
            assert_ne!(v["status"], "fails", "{v}");
            assert!(
                text.out.contains(
                    v["why"]
                        .as_str()
                        .unwrap()
                        .split(';')
                        .next()
                        .unwrap()
                        .get(..20)
                        .unwrap_or("")
                )
            );
        }
        for word in ["holds", "tight"] {
            let count = verdicts.iter().filter(|v| v["status"] == word).count();
            let said = if word == "holds" {
                format!("{count} hold,")
            } else {
                format!(" {count} tight,")
            };
            assert!(text.out.contains(&said), "{said} {}", text.out);
        }
        assert!(
            report["spots"]
                .as_array()
                .unwrap()
                .iter()
                .all(|s| !s["chosen"].is_null())
        );
    }
}

#[test]
fn aim_prints_the_setpoints_that_its_json_holds_and_that_throw_then_uses() {
    let f = Folder::new();
    let text = f.run(&["aim"]).ends(0);
    let report = f.run(&["aim", "--json"]).ends(0).json();
    for spot in report["spots"].as_array().unwrap() {
        let s = &spot["solutions"][spot["chosen"].as_u64().unwrap() as usize];
        let rpm = s["setpoint_radps"].as_f64().unwrap() * 30.0 / std::f64::consts::PI;
        assert!(
            text.out.contains(&format!("{} rpm", rpm.round())),
            "{rpm} {}",
            text.out
        );
        let name = spot["spot"].as_str().unwrap();
        let throw = f.run(&["throw", "--spot", name, "--json"]).ends(0).json();
        assert_eq!(throw["wheel_radps"], s["setpoint_radps"]);
        assert_eq!(throw["exit"]["speed_mps"], s["exit"]["speed_mps"]);
        assert_eq!(throw["arrival"]["outcome"], "in");
        // Centred: the crossing lies within a tenth of a millimetre or the step of the simulation.
        assert!(throw["arrival"]["crossing"]["along_m"].as_f64().unwrap().abs() < 2e-3);
    }
    let table = report["table"].as_array().unwrap();
    assert!(table.len() >= 5);
    let speeds: Vec<f64> = table
        .iter()
        .filter_map(|t| t["solutions"][t["chosen"].as_u64()? as usize]["setpoint_radps"].as_f64())
        .collect();
    assert!(
        speeds.windows(2).all(|p| p[1] > p[0]),
        "farther needs faster: {speeds:?}"
    );
}

#[test]
fn a_step_makes_the_table_and_a_bad_step_is_refused() {
    let f = Folder::new();
    let rows = |step: &str| {
        f.run(&["aim", "--step", step, "--json"]).ends(0).json()["table"]
            .as_array()
            .unwrap()
            .len()
    };
    assert_eq!(rows("0.5 m"), 7);
    assert_eq!(rows("50 cm"), 7);
    f.run(&["aim", "--step", "0 m"])
        .ends(2)
        .complains("longer than nothing");
    f.run(&["aim", "--step", "3 kg"]).ends(2).complains("length");
    f.run(&["aim", "--step", "half"]).ends(2).complains("--step");
}

#[test]
fn the_three_broken_projects_are_refused_with_place_and_remedy() {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples");
    let f = Folder::new();
    for (name, code, place, remedy) in [
        ("broken-units", "wrong-unit", "stall_torque", "kgf cm"),
        ("broken-gap", "gap-too-wide", "gap = \"118 mm\"", "squeeze"),
        ("broken-reach", "rim-out-of-reach", "rim_height", "ratio"),
    ] {
        let r = f
            .run(&["check", &format!("{root}/{name}")])
            .ends(2)
            .complains(code);
        assert!(
            r.err.contains(place) && r.err.contains(remedy) && r.err.contains("line "),
            "{}",
            r.err
        );
    }
    assert!(f.files().is_empty(), "nothing is written");
}

#[test]
fn another_ball_in_a_guide_cut_for_the_old_one_breaks_and_says_why_and_then_works_as_told() {
    let ball = [
        (
            "diameter = { value = \"112 mm\", sd = \"0.4 mm\" }",
            "diameter = \"100 mm\"",
        ),
        ("mass = { value = \"61 g\", sd = \"0.8 g\" }", "mass = \"40 g\""),
    ];
    let f = Folder::with(&ball);
    f.run(&[])
        .ends(2)
        .complains("gap-too-wide")
        .complains("`gap = \"90 mm\"`");
    let mended = [ball[0], ball[1], ("gap = \"100 mm\"", "gap = \"90 mm\"")];
    f.write(&mended);
    f.run(&["check"]).ends(0).says("piece of 100 mm and 40 g");
}

#[test]
fn new_makes_a_folder_that_checks_and_never_overwrites() {
    let f = Folder::new();
    f.run(&["new", "mine", "--from", "pebble"])
        .ends(0)
        .says("arcwright.toml");
    f.run(&["check", "mine"]).ends(0).says("Pebble Well");
    let file = f.0.join("mine/arcwright.toml");
    fs::write(&file, "my own work").unwrap();
    f.run(&["new", "mine"]).ends(2).complains("already-there");
    assert_eq!(fs::read_to_string(&file).unwrap(), "my own work");
    f.run(&["new", "other", "--from", "pebbel"])
        .ends(2)
        .complains("did you mean `pebble`?");
    assert!(!f.0.join("other").exists());
    let made = f.run(&["new", "third", "--json"]).ends(0).json();
    assert_eq!(made["schema"], "arcwright/new/1");
    assert!(f.0.join(made["file"].as_str().unwrap()).exists());
    fs::write(f.0.join("taken"), "").unwrap();
    f.run(&["new", "taken"])
        .ends(2)
        .complains("a file stands in the way");
}

#[test]
fn a_setting_that_does_not_serve_is_answered_with_one_that_does() {
    // The hood turned far over: the flat exit cannot come down steeply on the near spot.
    let f = Folder::with(&[("tilt = \"8 deg\"", "tilt = \"25 deg\"")]);
    let report = f.run(&["check", "--json"]).ends(1).json();
    assert_eq!(verdict(&report, "one-setting", "")["status"], "fails");
    let best = &report["best_setting"];
    assert_eq!(best["serves_all"], true);
    let s = &best["setting"];
    let mm = |k: &str| format!("\"{:.3} mm\"", 1e3 * s[k].as_f64().unwrap());
    f.write(&[
        ("slide = \"0 mm\"", &format!("slide = {}", mm("slide_m"))),
        (
            "tilt = \"8 deg\"",
            &format!(
                "tilt = \"{:.3} deg\"",
                s["tilt_rad"].as_f64().unwrap().to_degrees()
            ),
        ),
        ("reach = \"60 mm\"", &format!("reach = {}", mm("reach_m"))),
    ]);
    let report = f.run(&["check", "--json"]).ends(0).json();
    assert_eq!(verdict(&report, "one-setting", "")["status"], "holds");
}

#[test]
fn room_to_adjust_comes_as_json_with_every_end_of_every_quantity() {
    let f = Folder::with(&[]);
    let report = f.run(&["aim", "--room", "--json"]).ends(0).json();
    assert_eq!(report["schema"], "arcwright/aim-room/1");
    assert_eq!(report["verdict"]["status"], "holds");
    let cases = report["cases"].as_array().unwrap();
    let ends = |end: &str| cases.iter().filter(|c| c["end"] == end).count();
    assert_eq!((ends("low"), ends("high")), (8, 8));
    assert_eq!((ends("as written"), ends("shorter"), ends("longer")), (1, 1, 1));
    assert!(cases.iter().all(|c| c["spots"].as_array().unwrap().len() == 3));
}

#[test]
fn an_infeasible_brief_is_a_verdict_and_the_nearest_brief_holds() {
    let no_knobs = [
        (
            "[knobs.slide]\nrange = [\"-10 mm\", \"10 mm\"]\nstep = \"1 mm\"\nrepeat = \"0.3 mm\"\n",
            "",
        ),
        ("distance = \"3.6 m\"", "distance = \"14 m\""),
    ];
    let f = Folder::with(&no_knobs);
    let report = f.run(&["check", "--json"]).ends(1).json();
    assert_eq!(verdict(&report, "reach", "far")["status"], "fails");
    let change = verdict(&report, "one-setting", "")["nearest_brief"]
        .as_array()
        .unwrap()
        .iter()
        .find(|c| c["key"] == "spot[2].distance")
        .expect("a nearer place for the far spot")
        .clone();
    let metres = change["value"].as_f64().unwrap();
    assert!(metres > 3.6 && metres < 14.0, "{metres}");
    // A centimetre nearer than the edge itself.
    f.write(&[
        no_knobs[0],
        (
            "distance = \"3.6 m\"",
            &format!("distance = \"{:.3} m\"", metres - 0.01),
        ),
    ]);
    let report = f.run(&["check", "--json"]).json();
    assert_ne!(verdict(&report, "reach", "far")["status"], "fails");
    assert_eq!(verdict(&report, "one-setting", "")["status"], "holds");
}

#[test]
fn each_limit_fails_for_its_own_reason() {
    for (check, subject, from, to) in [
        (
            "entry",
            "near",
            "entry_angle = \"35 deg\"",
            "entry_angle = \"80 deg\"",
        ),
        (
            "clearance",
            "near",
            "clearance = \"20 mm\"",
            "clearance = \"150 mm\"",
        ),
        (
            "reach",
            "far",
            "speed_reserve = \"10 %\"",
            "speed_reserve = \"60 %\"",
        ),
        ("spin-up", "", "spin_up = \"3 s\"", "spin_up = \"0.2 s\""),
        (
            "recovery",
            "",
            "throw_interval = \"0.8 s\"",
            "throw_interval = \"0.08 s\"",
        ),
        ("current", "", "fuse = \"40 A\"", "fuse = \"20 A\""),
        ("brown-out", "", "brown_out = \"6.8 V\"", "brown_out = \"12.4 V\""),
        ("size", "width", "width = \"460 mm\"", "width = \"490 mm\""),
        ("mass", "", "mass = \"13.6 kg\"", "mass = \"15.4 kg\""),
        ("motors", "", "other_motors = 6", "other_motors = 7"),
        (
            "exit-speed",
            "",
            "exit_speed = \"12 m/s\"",
            "exit_speed = \"7 m/s\"",
        ),
        (
            "rim-speed",
            "",
            "rim_limit = \"40 m/s\"",
            "rim_limit = \"25 m/s\"",
        ),
        (
            "guide-bend",
            "",
            "thickness = \"1.0 mm\"",
            "thickness = \"2.0 mm\"",
        ),
        (
            "guide",
            "",
            "feed_push = \"15 N\"",
            "feed_push = \"15 N\"\ngaps = [\"100 mm\", \"100 mm\", \"106 mm\", \"100 mm\", \"100 mm\"]",
        ),
    ] {
        let f = Folder::with(&[(from, to)]);
        let report = f.run(&["check", "--json"]).ends(1).json();
        let v = verdict(&report, check, subject);
        assert_eq!(v["status"], "fails", "{check} {v}");
        assert!(
            !v["mend"].as_str().unwrap().is_empty() && !v["why"].as_str().unwrap().is_empty(),
            "{v}"
        );
        if !v["margin"].is_null() {
            assert!(v["margin"]["value"].as_f64().unwrap() < 0.0, "{v}");
        }
    }
}

#[test]
fn a_short_light_squeeze_slips_to_the_end_and_grip_says_so() {
    let f = Folder::with(&[
        ("gap = \"100 mm\"", "gap = \"109 mm\""),
        ("wrap = \"110 deg\"", "wrap = \"50 deg\""),
        ("friction = { value = 0.9, sd = 0.1 }", "friction = 0.5"),
    ]);
    let report = f.run(&["check", "--json"]).ends(1).json();
    let v = verdict(&report, "grip", "");
    assert_eq!(v["status"], "fails", "{v}");
    assert!(
        v["why"].as_str().unwrap().contains("still slips") && v["mend"].as_str().unwrap().contains("squeeze")
    );
    assert!(report["plateau"]["friction_sensitivity"].as_f64().unwrap() > 0.1);
}

/// The word after `before` in a remedy.
fn told(v: &Value, before: &str) -> String {
    let mend = v["mend"].as_str().unwrap();
    let rest = mend
        .split(before)
        .nth(1)
        .unwrap_or_else(|| panic!("no {before:?} in {mend:?}"));
    rest.split_whitespace()
        .next()
        .unwrap()
        .trim_end_matches([',', ';', ':'])
        .to_string()
}

#[test]
fn doing_what_the_remedy_says_makes_the_verdict_hold() {
    let reserve = ("speed_reserve = \"10 %\"", "speed_reserve = \"60 %\"");
    let f = Folder::with(&[reserve]);
    let report = f.run(&["check", "--json"]).ends(1).json();
    let ratio = told(verdict(&report, "reach", "far"), "gear ratio ");
    f.write(&[reserve, ("ratio = 1.0", &format!("ratio = {ratio}"))]);
    let report = f.run(&["check", "--json"]).json();
    let far = verdict(&report, "reach", "far");
    assert_ne!(far["status"], "fails", "{far}");

    let fuse = ("fuse = \"40 A\"", "fuse = \"20 A\"");
    let f = Folder::with(&[fuse]);
    let report = f.run(&["check", "--json"]).ends(1).json();
    let limit = told(verdict(&report, "current", ""), "limit the motor current to ");
    f.write(&[
        fuse,
        (
            "current_limit = \"28 A\"",
            &format!("current_limit = \"{limit} A\""),
        ),
    ]);
    let report = f.run(&["check", "--json"]).json();
    assert_ne!(verdict(&report, "current", "")["status"], "fails");

    let bend = ("thickness = \"1.0 mm\"", "thickness = \"2.0 mm\"");
    let f = Folder::with(&[bend]);
    let report = f.run(&["check", "--json"]).ends(1).json();
    let sheet = told(verdict(&report, "guide-bend", ""), "use sheet of ");
    f.write(&[(bend.0, &format!("thickness = \"{sheet} mm\""))]);
    let report = f.run(&["check", "--json"]).ends(0).json();
    assert_ne!(verdict(&report, "guide-bend", "")["status"], "fails");
}

#[test]
fn a_missing_measure_makes_a_verdict_unknown_and_says_which() {
    let f = Folder::with(&[("mass = \"13.6 kg\"", ""), ("rim_limit = \"40 m/s\"", "")]);
    let report = f.run(&["check", "--json"]).ends(0).json();
    assert_eq!(verdict(&report, "mass", "")["status"], "unknown");
    assert!(
        verdict(&report, "mass", "")["why"]
            .as_str()
            .unwrap()
            .contains("robot.mass")
    );
    assert!(
        verdict(&report, "rim-speed", "")["mend"]
            .as_str()
            .unwrap()
            .contains("rim_limit")
    );
    assert_eq!(report["status"], "unknown");
}

#[test]
fn throw_follows_its_arguments_and_names_the_spots_it_knows() {
    let f = Folder::new();
    f.run(&["throw", "--speed", "2200 rpm", "--spot", "far"])
        .ends(1)
        .says("short");
    f.run(&["throw", "--spot", "faar"])
        .ends(2)
        .complains("near, middle, far");
    let angle = |tilt: &str| {
        let j = f
            .run(&["throw", "--speed", "3000 rpm", "--tilt", tilt, "--json"])
            .json();
        j["exit"]["angle_rad"].as_f64().unwrap()
    };
    assert!(angle("2 deg") > angle("10 deg") && angle("10 deg") > angle("18 deg"));
    f.run(&["throw", "--speed", "3000"]).ends(2).complains("rpm");
    f.run(&["throw", "--speed", "-5rpm"])
        .ends(2)
        .complains("above zero");
    f.run(&["volley", "--interval", "-1 s"])
        .ends(2)
        .complains("above zero");
    f.run(&["throw", "--speed", "3000 mm"])
        .ends(2)
        .complains("--speed");
}

#[test]
fn a_volley_dips_recovers_and_counts_as_asked() {
    let f = Folder::new();
    let j = f
        .run(&["volley", "--count", "3", "--interval", "0.5 s", "--json"])
        .ends(0)
        .json();
    let throws = j["throws"].as_array().unwrap();
    assert_eq!(throws.len(), 3);
    for t in throws {
        assert!(t["dip_frac"].as_f64().unwrap() > 0.02 && t["outcome"].is_string());
        assert!(t["wheel_after_radps"].as_f64().unwrap() < t["wheel_before_radps"].as_f64().unwrap());
    }
    let gap = throws[1]["time_s"].as_f64().unwrap() - throws[0]["time_s"].as_f64().unwrap();
    assert!((gap - 0.5).abs() < 0.021, "{gap}");
    f.run(&["volley", "--when-ready"])
        .says("each as soon as the wheel is ready");
    f.run(&["volley", "--speed", "9000 rpm"])
        .ends(1)
        .says("never ready");
    f.run(&["volley", "--count", "two"]).ends(2);
}

#[test]
fn each_command_draws_its_pictures() {
    let f = Folder::new();
    for (i, arguments) in [
        vec!["check"],
        vec!["aim"],
        vec!["aim", "--view", "curve"],
        vec!["throw"],
        vec!["throw", "--view", "fan"],
        vec!["throw", "--view", "force"],
        vec!["volley"],
        vec!["throw", "--demo", "bramble"],
        vec!["throw", "--demo", "bramble", "--view", "force"],
    ]
    .into_iter()
    .enumerate()
    {
        let file = format!("{i}.svg");
        let mut all = arguments.clone();
        all.extend(["--svg", &file]);
        f.run(&all).ends(0);
        let svg = fs::read_to_string(f.0.join(&file)).unwrap();
        assert!(
            svg.contains("<desc") && svg.len() > 3000 && !svg.contains("NaN"),
            "{arguments:?}"
        );
    }
    f.run(&["check", "--svg", "no/such/folder/x.svg"])
        .ends(2)
        .complains("not-written");
}

#[test]
fn results_do_not_depend_on_the_number_of_threads() {
    let f = Folder::with(&[("tilt = \"8 deg\"", "tilt = \"25 deg\"")]);
    for arguments in [["check", "--json"], ["aim", "--json"], ["volley", "--json"]] {
        let one = f.run_on(&arguments, Some("1"));
        let two = f.run_on(&arguments, Some("4"));
        assert!(one.out == two.out, "{arguments:?} differs");
    }
}

#[test]
fn us_units_are_shown_when_the_file_asks_for_them() {
    let f = Folder::with(&[("units = \"metric\"", "units = \"us\"")]);
    f.run(&["aim"]).ends(0).says(" in").says(" ft").says("ft/s");
    let metric = Folder::new().run(&["aim", "--json"]).json();
    let us = f.run(&["aim", "--json"]).json();
    assert_eq!(
        metric["spots"][0]["solutions"][0]["setpoint_radps"],
        us["spots"][0]["solutions"][0]["setpoint_radps"]
    );
}

#[test]
fn what_is_not_there_is_refused_by_name() {
    let f = Folder::new();
    f.run(&["check", "nowhere"]).ends(2).complains("nowhere");
    f.run(&["check", "--demo", "lantrn"])
        .ends(2)
        .complains("did you mean `lantern`?");
    f.run(&["chek"]).ends(2);
    f.run(&["--help"]).ends(0).says("Exit codes");
    f.run(&["--version"]).ends(0).says("arcwright");
}

#[test]
fn a_project_where_a_command_belongs_is_answered_with_the_command_to_write() {
    let folder = Folder::with(&[]);
    let run = folder.run(&["arcwright.toml"]);
    assert_eq!(run.code, 2);
    assert!(run.err.contains("arcwright check arcwright.toml"), "{}", run.err);
    let other = folder.run(&["chekc"]);
    assert!(!other.err.contains("is a project"), "{}", other.err);
}

#[test]
fn an_uneven_guide_is_told_with_its_place_and_an_even_one_is_not_told_at_all() {
    let with = |lines: &str| {
        let push = "feed_push = \"15 N\"";
        Folder::with(&[(push, &format!("{push}\n{lines}"))])
    };
    let plain = Folder::new();
    assert!(!plain.run(&["throw"]).out.contains("  guide "));
    assert!(plain.run(&["throw", "--json"]).json()["guide"].is_null());
    let checks = |f: &Folder| {
        let report = f.run(&["check", "--json"]).json();
        let all = report["verdicts"].as_array().unwrap().clone();
        all.into_iter().find(|v| v["check"] == "guide")
    };
    assert_eq!(checks(&plain), None);

    // The gap 3 mm too wide in the middle of 110 degrees at a radius of 148 mm: 142 mm from the start.
    let out = with("gaps = [\"100 mm\", \"100 mm\", \"103 mm\", \"100 mm\", \"100 mm\"]");
    out.run(&["throw"])
        .says("at 142 mm along the guide from its start")
        .says("less");
    let guide = &out.run(&["throw", "--json"]).json()["guide"];
    let n = |key: &str| guide[key].as_f64().unwrap();
    assert!((n("worst_along_m") - 0.148 * 55f64.to_radians()).abs() < 1e-9);
    // A triangle over half of the arc: its mean is a quarter of its height.
    assert!((n("worst_by_m") + 0.75 * 3e-3).abs() < 1e-6, "{guide}");
    assert!(n("force_least_n") < n("force_mean_n") && n("force_mean_n") < n("force_peak_n"));
    let v = checks(&out).unwrap();
    assert_eq!(v["status"], "tight", "{v}");
    assert!(
        v["mend"]
            .as_str()
            .unwrap()
            .contains("toward the wheel by 2.2 mm at 142 mm")
            || v["mend"]
                .as_str()
                .unwrap()
                .contains("toward the wheel by 2.3 mm at 142 mm"),
        "{v}"
    );

    let narrow = with("gaps = [\"100 mm\", \"97 mm\", \"100 mm\", \"100 mm\"]");
    assert!(
        checks(&narrow).unwrap()["mend"]
            .as_str()
            .unwrap()
            .contains("away from the wheel")
    );
    let level = with("gaps = [\"101 mm\", \"101 mm\"]");
    assert_eq!(checks(&level).unwrap()["status"], "holds");
    // Of an amplitude the worst phase counts: 2 mm of a squeeze of 12 mm, wherever it lies.
    let waves = checks(&with("guide_error = \"2 mm\"\nguide_wavelength = \"2 m\"")).unwrap();
    assert_eq!(waves["status"], "holds", "long waves are another gap: {waves}");
    let waves = checks(&with("guide_error = \"2 mm\"\nguide_wavelength = \"95 mm\"")).unwrap();
    assert_eq!(waves["status"], "tight", "{waves}");
    assert!(waves["mend"].as_str().unwrap().contains("write them as `gaps`"));
    let svg = out.0.join("force.svg");
    out.run(&["throw", "--view", "force", "--svg", svg.to_str().unwrap()]);
    assert!(
        fs::read_to_string(svg)
            .unwrap()
            .contains("squeeze along the guide, as measured")
    );
}

#[test]
fn a_throw_faster_than_the_machine_can_turn_says_so() {
    let folder = Folder::with(&[]);
    let fast = folder.run(&["throw", "--speed", "9000 rpm"]);
    assert!(fast.out.contains("beyond this machine"), "{}", fast.out);
    let usual = folder.run(&["throw", "--speed", "3000 rpm"]);
    assert!(!usual.out.contains("beyond this machine"), "{}", usual.out);
}

#[test]
fn an_order_of_colours_is_counted_for_every_sorter_and_its_texts_are_checked() {
    let folder = Folder::with(&[]);
    let run = folder.run(&["order", "--json"]);
    assert_eq!(run.code, 0, "{}", run.err);
    let found: Value = serde_json::from_str(&run.out).unwrap();
    let of = |i: usize, field: &str| found["sorters"][i][field].as_f64().unwrap();
    // 8·8·8·7 / (24·23·22·21), the draw without putting back.
    assert!((of(0, "whole_frac") - 3584.0 / 255_024.0).abs() < 1e-12);
    assert!(
        (1..4).all(|i| of(i, "whole_frac") > of(i - 1, "whole_frac")),
        "{found:#}"
    );
    assert!(of(3, "time_s") > 0.0 && of(0, "time_s") == 0.0);
    let wrong = [
        (
            "wanted = \"amber, teal, plum, teal\"",
            "wanted = \"ambre, teal\"",
            "did you mean `amber`",
        ),
        (
            "stock = \"8 amber, 8 teal, 8 plum\"",
            "stock = \"8 amber, teal, 8 plum\"",
            "`teal` in `order.stock`",
        ),
        (
            "wanted = \"amber, teal, plum, teal\"",
            "wanted = \"amber, teal, plum, teal, amber, plum, teal, teal\"",
            "order-too-long",
        ),
    ];
    for (from, to, says) in wrong {
        let run = Folder::with(&[(from, to)]).run(&["order"]);
        assert_eq!((run.code, run.out.as_str()), (2, ""), "{to}");
        assert!(run.err.contains(says), "{}", run.err);
    }
}

#[test]
fn a_map_covers_the_floor_and_refuses_too_few_places() {
    let folder = Folder::with(&[]);
    let run = folder.run(&["map", "--json", "--places", "30", "--svg", "map.svg"]);
    assert_eq!(run.code, 0, "{}", run.err);
    let found: Value = serde_json::from_str(&run.out).unwrap();
    let count = |field: &str| found[field].as_array().unwrap().len();
    assert_eq!(count("places"), count("distances_m") * count("offsets_m"));
    assert!(count("places") <= 30 && count("places") > 9);
    assert!(folder.0.join("map.svg").exists());
    let far = Folder::with(&[("distance = \"3.6 m\"", "distance = \"2 km\"")]);
    let run = far.run(&["map", "--places", "9"]);
    assert_eq!(run.code, 2, "{}", run.out);
}

#[test]
fn a_search_writes_its_design_into_the_file_and_keeps_remarks_and_the_text_before() {
    let f = Folder::with(&[("tilt = \"8 deg\"", "tilt = \"25 deg\"")]);
    let file = f.0.join("arcwright.toml");
    // One spot is enough and takes a third of the time.
    let whole = fs::read_to_string(&file).unwrap();
    let spots: Vec<usize> = whole.match_indices("\n[[spot]]").map(|m| m.0).collect();
    let last = spots[2] + 1;
    let end = last + whole[last..].find("\n[limits]").unwrap();
    let before = format!("{}{}", &whole[..spots[1]], &whole[end..]);
    fs::write(&file, &before).unwrap();
    let run = f
        .run(&[
            "seek",
            "--free",
            "setting.tilt=8deg,9deg",
            "--designs",
            "8",
            "--write",
        ])
        .says("Written to arcwright.toml");
    let after = fs::read_to_string(f.0.join("arcwright.toml")).unwrap();
    assert_eq!(
        fs::read_to_string(f.0.join("arcwright.toml.before")).unwrap(),
        before
    );
    let changed: Vec<(&str, &str)> = before
        .lines()
        .zip(after.lines())
        .filter(|(a, b)| a != b)
        .collect();
    assert!(
        changed.len() == 1 && changed[0].0.starts_with("tilt = \"25 deg\""),
        "{changed:?}"
    );
    let new = changed[0].1.split('"').nth(1).unwrap();
    assert!(
        run.out
            .contains(&format!("setting.tilt: \"25 deg\" -> \"{new}\"")),
        "{}",
        run.out
    );
    let kept = fs::read_to_string(f.0.join("history.jsonl")).unwrap();
    assert!(
        kept.lines().count() == 2 && kept.contains("seek: setting.tilt"),
        "{kept}"
    );
    let demo = Folder::new().run(&["seek", "--write"]).ends(2);
    demo.complains("arcwright new NAME");
}

#[test]
fn an_answer_that_cannot_be_written_is_told() {
    let Ok(full) = fs::OpenOptions::new().write(true).open("/dev/full") else {
        println!("skipped: no /dev/full on this system");
        return;
    };
    let mut command = Command::new(env!("CARGO_BIN_EXE_arcwright"));
    let done = command.arg("explain").stdout(full).output().unwrap();
    let err = String::from_utf8(done.stderr).unwrap();
    assert!(
        done.status.code() == Some(1) && err.contains("standard output"),
        "{err}"
    );
}

#[test]
fn options_that_are_not_there_and_numbers_that_are_none_say_how_to_mend_them() {
    let f = Folder::new();
    for (arguments, says) in [
        (&["scatter", "--throws", "0"][..], "a whole number from 2048 to"),
        (&["scatter", "--throws", "1e9"], "--throws is \"1e9\""),
        (&["scatter", "--seed", "-1"], "without a sign"),
        (&["summary", "--jsn"], "did you mean `--json`"),
        (&["floor", "fit", "--lok"], "did you mean `--look`"),
        (&["check", "a", "b"], "`b` is one word too many"),
    ] {
        f.run(arguments).ends(2).complains(says);
    }
}
