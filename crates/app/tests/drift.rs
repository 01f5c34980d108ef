//! What changed between matches, why throws differ, and readings brought to the shots: as a person runs it.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod folder;

use std::fs;
use std::io::Write;
use std::process::{Command, Stdio};

use arcwright_model::floor::Shot;
use arcwright_model::floor::rehearse::{Ask, Doubts, HiddenProject, Look};
use arcwright_model::numerics::random::Stream;
use arcwright_model::project::Project;
use folder::{Folder, Said, said};
use serde_json::Value;

const LANTERN: &str = include_str!("../../../examples/lantern/arcwright.toml");
const RPM: f64 = 30.0 / std::f64::consts::PI;

impl Folder {
    fn new() -> Folder {
        let folder = Folder::empty();
        fs::write(folder.0.join("arcwright.toml"), LANTERN).unwrap();
        folder
    }

    fn write(&self, name: &str, text: &str) {
        fs::write(self.0.join(name), text).unwrap();
    }

    /// Runs `floor WORDS`; standard output, standard error, exit code.
    fn run(&self, words: &[&str]) -> Said {
        self.piped(words, "")
    }

    fn piped(&self, words: &[&str], lines: &str) -> Said {
        let mut child = Command::new(env!("CARGO_BIN_EXE_arcwright"))
            .arg("floor")
            .args(words)
            .current_dir(&self.0)
            .env("TZ", "UTC")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let _ = child.stdin.take().unwrap().write_all(lines.as_bytes());
        let out = child.wait_with_output().unwrap();
        said(out)
    }

    fn fine(&self, words: &[&str]) -> String {
        let (out, err, code) = self.run(words);
        assert_eq!(code, 0, "{words:?}: {out}{err}");
        out
    }

    fn json(&self, words: &[&str]) -> Value {
        let (out, err, code) = self.run(&[words, &["--json"]].concat());
        assert!(code < 2, "{words:?}: {err}");
        serde_json::from_str(&out).unwrap()
    }

    /// Logs lines; all must be taken.
    fn log(&self, lines: &str) {
        let (out, err, code) = self.piped(&["log"], lines);
        assert_eq!(code, 0, "{lines}{out}{err}");
    }

    /// What shot `number` says now.
    fn shot(&self, number: i64) -> Value {
        let all = self.json(&["list"]);
        let sessions = all["sessions"].as_array().unwrap();
        let mut shots = sessions.iter().flat_map(|s| s["shots"].as_array().unwrap());
        shots.find(|s| s["shot"] == number).unwrap().clone()
    }
}

fn lantern() -> Project {
    arcwright::project::parse("lantern", LANTERN)
        .unwrap_or_else(|_| panic!("the demo is broken"))
        .project
}

/// Wheel speeds that reach about each spot, so that a tape finds the piece behind or before it.
const SPOTS: [(&str, f64, f64); 3] = [
    ("near", 1.1, 2900.0),
    ("middle", 2.2, 3300.0),
    ("far", 3.6, 3900.0),
];

/// Throws in turn from the spots and tapes where each lands: lines for the log.
fn taped(machine: &mut HiddenProject, project: &Project, count: usize, pieces: u32) -> String {
    let look = Look {
        tape: true,
        clock: true,
        ..Look::default()
    };
    let mut lines = String::new();
    let mut made = 0;
    // A throw that goes astray altogether is thrown again, as on the floor.
    for i in 0..4 * count {
        if made == count {
            break;
        }
        let (name, distance_m, rpm) = SPOTS[made % SPOTS.len()];
        let piece = (pieces > 0).then(|| 1 + (i as u32 * 5) % pieces);
        let ask = Ask {
            session_index: 0,
            distance_m,
            offset_m: 0.0,
            turned_rad: 0.0,
            setting: project.machine.setting,
            setpoint_radps: rpm / RPM,
            piece,
            place: 0,
            last: false,
        };
        let shot: Shot = machine.throw(&ask, &look).unwrap();
        let Some(at) = shot.seen.landing else { continue };
        if at.along_m < 0.3 {
            continue;
        }
        made += 1;
        let side = if at.across_m > 0.0 { "left" } else { "right" };
        let mark = piece.map_or(String::new(), |p| format!(" piece {p}"));
        lines.push_str(&format!(
            "{name} {rpm} land {:.3}m {:.1}cm {side} fall {:.3}s{mark}\n",
            at.along_m,
            100.0 * at.across_m.abs(),
            shot.seen.fall.unwrap().time_s
        ));
    }
    assert_eq!(made, count);
    lines
}

/// A machine without flyers, so that one seed says something.
fn machine(project: &Project, seed: u64, piece_frac: f64) -> HiddenProject {
    let doubts = Doubts {
        flyer_frac: 0.0,
        piece_frac,
        ..Doubts::default()
    };
    HiddenProject::drawn(project, seed, doubts)
}

/// Twelve shots, then five of a machine that was changed: the answer of `floor drift`.
fn after(change: impl Fn(&mut HiddenProject), seed: u64) -> (Folder, Value) {
    let project = lantern();
    let folder = Folder::new();
    let mut it = machine(&project, seed, 0.0);
    folder.log(&taped(&mut it, &project, 12, 0));
    folder.fine(&["session", "before the match"]);
    change(&mut it);
    folder.log(&taped(&mut it, &project, 6, 0));
    let answer = folder.json(&["drift"]);
    assert_eq!(answer["schema"], "arcwright/floor-drift/1");
    assert_eq!(answer["later"][0], 13, "{answer:#}");
    (folder, answer)
}

#[test]
fn a_machine_that_is_as_it_was_shows_no_change_and_says_what_would_have_shown() {
    let (folder, answer) = after(|_| {}, 7);
    assert_eq!(answer["verdict"], "not shown", "{answer:#}");
    assert!(answer["to_do"].as_array().unwrap().is_empty());
    let found = answer["check"]["findable"]["speed_frac"].as_f64().unwrap();
    assert!((0.003..0.1).contains(&found), "{found}");
    let false_alarm = answer["check"]["false_alarm_frac"].as_f64().unwrap();
    assert!((0.0..=0.13).contains(&false_alarm), "{false_alarm}");
    let text = folder.fine(&["drift", "--svg", "it.svg"]);
    for part in [
        "No change shown",
        "four times out of five",
        "With nothing changed",
        "one sd after",
    ] {
        assert!(text.contains(part), "{part}: {text}");
    }
    let svg = fs::read_to_string(folder.0.join("it.svg")).unwrap();
    assert!(svg.contains("no change shown") && svg.contains("place along"));
}

#[test]
fn a_slower_wheel_a_moved_guide_and_a_turned_robot_are_called_by_name() {
    type Deed = fn(&mut HiddenProject);
    let cases: [(&str, f64, Deed); 3] = [
        ("speed", -1.0, |m| m.truth.machine.speed_transfer_ratio *= 0.93),
        ("angle", -1.0, |m| m.angle_error_rad -= 0.1),
        ("heading", 1.0, |m| m.aim_error_rad += 0.07),
    ];
    for (name, sign, deed) in cases {
        let (folder, answer) = after(deed, 7);
        assert_eq!(answer["verdict"], "changed", "{name}: {answer:#}");
        let first = &answer["check"]["explanations"][0];
        assert_eq!(first["change"], name, "{answer:#}");
        assert!(first["share_frac"].as_f64().unwrap() > 0.5, "{first:#}");
        assert!(first["value"].as_f64().unwrap() * sign > 0.0, "{first:#}");
        assert!(!answer["to_do"].as_array().unwrap().is_empty());
        let text = folder.fine(&["drift"]);
        assert!(
            text.contains("Something has changed") && text.contains("in 10:"),
            "{text}"
        );
        assert!(
            text.contains("least work first") && text.contains("Battery off"),
            "{text}"
        );
    }
}

#[test]
fn the_later_shots_can_be_named_and_too_few_are_refused_with_words() {
    let (folder, _) = after(|_| {}, 9);
    let from = |words: &[&str]| folder.json(&[&["drift"], words].concat());
    assert_eq!(from(&["--from-shot", "10"])["later"][0], 10);
    assert_eq!(from(&["--from-session", "2"])["later"][0], 13);
    let two = from(&["--last", "2"]);
    assert_eq!(two["later"].as_array().unwrap().len(), 2);
    assert_ne!(two["verdict"], "not shown", "two shots are too few: {two:#}");
    for (words, what) in [
        (vec!["drift", "--from-shot", "2"], "too-few-shots"),
        (vec!["drift", "--from-shot", "99"], "no-such-split"),
        (vec!["drift", "--from-session", "5"], "no-such-split"),
    ] {
        let (_, err, code) = folder.run(&words);
        assert!(code == 2 && err.contains(what), "{words:?}: {err}");
    }
    let empty = Folder::new();
    let (_, err, code) = empty.run(&["drift"]);
    assert!(code == 2 && err.contains("no-log"), "{err}");
}

#[test]
fn hits_and_misses_alone_are_watched_and_it_says_how_slow_that_is() {
    let project = lantern();
    let folder = Folder::new();
    folder.log(&taped(&mut machine(&project, 7, 0.0), &project, 12, 0));
    folder.fine(&["session", "called only"]);
    // By what was learned most of these hit.
    let learned = folder.json(&["fit"])["setpoints"][1]["setpoint_radps"]
        .as_f64()
        .unwrap();
    let middle = format!("middle {:.0}", learned * RPM);
    folder.log(&format!("{middle} short\n").repeat(8));
    let answer = folder.json(&["drift"]);
    assert!(
        answer["check"].is_null() && answer["misses"]["missed"] == 8,
        "{answer:#}"
    );
    assert!(
        answer["misses"]["usual_frac"].as_f64().unwrap() < 0.5,
        "{answer:#}"
    );
    assert_eq!(answer["verdict"], "changed");
    let text = folder.fine(&["drift"]);
    assert!(
        text.contains("Only hits and misses are known") && text.contains("most misses are short"),
        "{text}"
    );
    // As it was; and then far too fast to hit anyway, where misses say nothing.
    let beyond = Folder::new();
    beyond.log(&taped(&mut machine(&project, 7, 0.0), &project, 12, 0));
    beyond.fine(&["session", "called only"]);
    beyond.log(&format!("{middle} in\n").repeat(6));
    let answer = beyond.json(&["drift"]);
    assert_eq!(answer["misses"]["missed"], 0);
    assert_eq!(answer["verdict"], "not shown", "{answer:#}");
    beyond.fine(&["session", "too fast"]);
    beyond.log(&"middle 3900 long\n".repeat(6));
    let answer = beyond.json(&["drift"]);
    assert!(
        answer["misses"].is_null() && answer["verdict"] == "too little",
        "{answer:#}"
    );
}

#[test]
fn pieces_that_differ_are_the_first_suspect_and_the_trial_names_two() {
    let project = lantern();
    let folder = Folder::new();
    folder.log(&taped(&mut machine(&project, 3, 0.05), &project, 36, 6));
    let answer = folder.json(&["wander"]);
    assert_eq!(answer["schema"], "arcwright/floor-wander/1");
    let first = &answer["suspects"][0];
    assert_eq!(
        (first["cause"].as_str(), first["finding"].as_str()),
        (Some("piece"), Some("shown")),
        "{answer:#}"
    );
    // Drawn with a deviation of 5 % from piece to piece.
    let [low, high] = ["low", "high"].map(|k| first[k].as_f64().unwrap());
    assert!(low < 0.05 && 0.05 < high, "{first:#}");
    let text = folder.fine(&["wander", "--svg", "it.svg"]);
    for part in [
        "the pieces: shown",
        "alternating",
        "reading the shots",
        "Slowest seems piece",
    ] {
        assert!(text.contains(part), "{part}: {text}");
    }
    assert!(
        fs::read_to_string(folder.0.join("it.svg"))
            .unwrap()
            .contains("the pieces")
    );
    let sideways = folder.json(&["wander", "--sideways"]);
    assert_eq!(sideways["sideways"], true);
}

#[test]
fn a_small_log_cannot_tell_and_says_so() {
    let project = lantern();
    let folder = Folder::new();
    folder.log(&taped(&mut machine(&project, 5, 0.0), &project, 8, 3));
    let text = folder.fine(&["wander"]);
    assert!(text.contains("this log cannot tell. To find out,"), "{text}");
    let few = Folder::new();
    few.log("near 2900 in\nmiddle 3300 short\nfar 3900 long\n");
    let (_, err, code) = few.run(&["wander"]);
    assert!(code == 2 && err.contains("too-few-shots"), "{err}");
}

/// A robot's log: wheel at the speeds asked for, throws at these times, rows every 20 ms.
fn robot(throws: &[(f64, f64)], friction: f64, seed: u64) -> String {
    let mut noise = Stream::new(seed, 5);
    let mut text = String::from("t (s),wheel (rpm),battery (V)\n");
    let end = throws.last().map_or(5.0, |t| t.0 + 5.0);
    let first = throws.first().map_or(0.0, |t| t.0 - 4.0);
    let (mut t, mut base) = (first, throws.first().map_or(3000.0, |x| x.1));
    while t < end {
        let next = throws.iter().find(|x| x.0 > t - 3.0).or(throws.last()).unwrap();
        // It runs up and down between speeds slower than a throw takes speed from it.
        base += (next.1 - base).clamp(-6.0, 12.0);
        let mut rpm = base;
        for (at, asked) in throws {
            if t >= *at {
                let fall = ((t - at) / 0.03).min(1.0);
                rpm -= 0.08 * friction * asked * fall * (-((t - at - 0.03).max(0.0)) / 0.25).exp();
            }
        }
        text.push_str(&format!(
            "{t:.3},{:.1},{:.2}\n",
            rpm + 3.0 * noise.normal(),
            12.4 + 0.01 * noise.normal()
        ));
        t += 0.02;
    }
    text
}

/// Five shots at known times, and the robot's log of that practice on its own clock: at 0 at 18:40:00.
fn practice() -> (Folder, String) {
    let folder = Folder::new();
    folder.write(
        "shots.csv",
        "time,spot,rpm,outcome,landing (m)\n\
         2026-05-02T18:42:10Z,near,2900,,1.8\n\
         2026-05-02T18:42:41Z,middle,3300,,2.9\n\
         2026-05-02T18:43:20Z,far,3900,,4.0\n\
         2026-05-02T18:44:35Z,near,2900,,1.7\n\
         2026-05-02T18:45:01Z,middle,3300,,2.8\n",
    );
    let (out, err, code) = folder.run(&["import", "shots.csv", "--apply", "--anyway"]);
    assert_eq!(code, 0, "{out}{err}");
    // Logged 5 to 9 s after each throw; nobody logged the throw at 230.
    let throws = [
        (125.0, 2900.0),
        (154.0, 3300.0),
        (194.0, 3900.0),
        (230.0, 3900.0),
        (269.0, 2900.0),
        (295.0, 3300.0),
    ];
    (folder, robot(&throws, 1.0, 1))
}

#[test]
fn a_robots_log_is_looked_at_first_then_written_and_taken_back_as_one() {
    let (folder, log) = practice();
    folder.write("run.csv", &log);
    let look = folder.fine(&["telemetry", "run.csv", "--attach"]);
    assert!(look.contains("5 to write") && look.contains("--apply"), "{look}");
    assert!(look.contains("no shot was logged for: 4"), "{look}");
    assert!(folder.shot(1)["before_radps"].is_null(), "a look writes nothing");
    let done = folder.json(&["telemetry", "run.csv", "--attach", "--apply"]);
    assert_eq!(done["written"], 5, "{done:#}");
    let pairs: Vec<(u64, u64)> = done["pairs"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| (p["throw"].as_u64().unwrap(), p["shot"].as_u64().unwrap()))
        .collect();
    assert_eq!(pairs, [(1, 1), (2, 2), (3, 3), (5, 4), (6, 5)]);
    let shot = folder.shot(3);
    let [before, after] = ["before_radps", "after_radps"].map(|k| shot[k].as_f64().unwrap() * RPM);
    assert!((before - 3900.0).abs() < 8.0, "{before}");
    assert!((after - 0.92 * 3900.0).abs() < 40.0, "{after}");
    assert!((shot["battery_v"].as_f64().unwrap() - 12.4).abs() < 0.05);
    assert_eq!(shot["landing"]["along_m"], 4.0, "what was seen stays");
    let history = folder.fine(&["list", "--history", "3"]);
    assert!(
        history.contains("measured by run.csv") && history.contains("throw 3 of run.csv"),
        "{history}"
    );
    let again = folder.fine(&["telemetry", "run.csv", "--attach", "--apply"]);
    assert!(again.contains("Nothing to write, 5 there already"), "{again}");
    let undone = folder.fine(&["undo"]);
    assert!(
        undone.contains("5 shots, measured by run.csv: as they were before"),
        "{undone}"
    );
    assert!(folder.shot(3)["before_radps"].is_null());
}

#[test]
fn a_shot_that_says_another_speed_is_refused_unless_told() {
    let (folder, log) = practice();
    folder.write("run.csv", &log);
    folder.fine(&["edit", "2", "before", "3100", "after", "2900"]);
    let (out, err, code) = folder.run(&["telemetry", "run.csv", "--attach", "--apply"]);
    assert_eq!(code, 1, "{out}{err}");
    assert!(
        out.contains("[disagrees] the shot says 3100 rpm before") && out.contains("4 shots written"),
        "{out}"
    );
    assert!((folder.shot(2)["before_radps"].as_f64().unwrap() * RPM - 3100.0).abs() < 1.0);
    let told = folder.fine(&["telemetry", "run.csv", "--attach", "--apply", "--anyway"]);
    assert!(told.contains("in place of 3100 rpm"), "{told}");
    assert!((folder.shot(2)["before_radps"].as_f64().unwrap() * RPM - 3300.0).abs() < 8.0);
}

#[test]
fn a_clock_that_is_told_is_kept_and_what_fits_nothing_is_refused() {
    let (folder, log) = practice();
    folder.write("run.csv", &log);
    let told = folder.fine(&[
        "telemetry",
        "run.csv",
        "--attach",
        "--zero-at",
        "2026-05-02 18:40:00",
    ]);
    assert!(
        told.contains("5 to write") && told.contains("5 s later"),
        "{told}"
    );
    let (_, err, code) = folder.run(&[
        "telemetry",
        "run.csv",
        "--attach",
        "--zero-at",
        "2026-05-03 18:40:00",
    ]);
    assert!(code == 2 && err.contains("no-pairs"), "{err}");
    let ordered = folder.json(&["telemetry", "run.csv", "--attach", "--in-order"]);
    assert!(ordered["pairs"].as_array().unwrap().len() >= 3, "{ordered:#}");
    assert!(ordered["log_zero"].is_null());
    // Two shots among equal throws at equal times.
    let alike = Folder::new();
    alike.write(
        "shots.csv",
        "time,spot,rpm,outcome\n2026-05-02T18:42:10Z,far,3900,in\n2026-05-02T18:42:40Z,far,3900,in\n",
    );
    let (out, err, code) = alike.run(&["import", "shots.csv", "--apply", "--anyway"]);
    assert_eq!(code, 0, "{out}{err}");
    let throws: Vec<(f64, f64)> = (0..4).map(|i| (10.0 + 30.0 * f64::from(i), 3900.0)).collect();
    alike.write("run.csv", &robot(&throws, 1.0, 2));
    let (_, err, code) = alike.run(&["telemetry", "run.csv", "--attach"]);
    assert!(
        code == 2 && err.contains("two-ways") && err.contains("--zero-at"),
        "{err}"
    );
}

#[test]
fn two_robots_logs_are_compared_and_a_log_with_the_shots() {
    let (folder, log) = practice();
    folder.write("old.csv", &log);
    let throws: Vec<(f64, f64)> = (0..6).map(|i| (10.0 + 9.0 * f64::from(i), 3300.0)).collect();
    folder.write("same.csv", &robot(&throws, 1.0, 8));
    folder.write("slips.csv", &robot(&throws, 0.8, 9));
    let same = folder.json(&["drift", "--telemetry", "same.csv", "--against", "old.csv"]);
    assert_eq!(same["verdict"], "not shown", "{same:#}");
    let slips = folder.json(&["drift", "--telemetry", "slips.csv", "--against", "old.csv"]);
    assert_eq!(slips["verdict"], "changed", "{slips:#}");
    let all = slips["quantities"].as_array().unwrap();
    let dip = all.iter().find(|q| q["name"] == "dip").unwrap();
    assert_eq!(dip["changed"], true, "{slips:#}");
    assert!(
        (dip["ratio"]["value"].as_f64().unwrap() - 0.8).abs() < 0.05,
        "{dip:#}"
    );
    let text = folder.fine(&["drift", "--telemetry", "slips.csv", "--against", "old.csv"]);
    assert!(text.contains("slip: wipe the tread"), "{text}");
    // Without another log: the shots, once they have wheel speeds.
    let none = folder.json(&["drift", "--telemetry", "slips.csv"]);
    assert_eq!(none["verdict"], "too little", "{none:#}");
    folder.fine(&["telemetry", "old.csv", "--attach", "--apply"]);
    let shots = folder.json(&["drift", "--telemetry", "slips.csv"]);
    assert_eq!(shots["verdict"], "changed", "{shots:#}");
}

#[test]
fn a_film_is_written_into_its_shot_when_asked() {
    let (folder, _) = practice();
    // A flight without air but what the fit knows: 7 m/s at 60 degrees, 240 frames a second.
    let (vx, vz) = (7.0 * 60_f64.to_radians().cos(), 7.0 * 60_f64.to_radians().sin());
    let mut points = String::from("t (s),x (m),y (m)\n");
    for i in 0..200 {
        let t = f64::from(i) / 240.0;
        points.push_str(&format!(
            "{t:.5},{:.4},{:.4}\n",
            vx * t,
            0.6 + vz * t - 4.903 * t * t
        ));
    }
    folder.write("film.csv", &points);
    let (look, err, code) = folder.run(&["film", "film.csv", "--shot", "3"]);
    assert!(code < 2 && look.contains("Shot 3 would say exit"), "{look}{err}");
    assert!(folder.shot(3)["exit_speed_mps"].is_null());
    let (out, err, code) = folder.run(&["film", "film.csv", "--shot", "3", "--apply", "--anyway"]);
    assert!(code < 2 && out.contains("floor undo"), "{out}{err}");
    let shot = folder.shot(3);
    assert!(
        (shot["exit_speed_mps"].as_f64().unwrap() - 7.0).abs() < 0.15,
        "{shot:#}"
    );
    assert!(
        (shot["exit_angle_rad"].as_f64().unwrap() - 60_f64.to_radians()).abs() < 0.02,
        "{shot:#}"
    );
    folder.fine(&["edit", "3", "exit", "5.0m/s"]);
    let (_, err, code) = folder.run(&["film", "film.csv", "--shot", "3", "--apply"]);
    assert!(
        code == 2 && (err.contains("disagrees") || err.contains("film-doubtful")),
        "{err}"
    );
    let (_, err, code) = folder.run(&["film", "film.csv", "--shot", "99"]);
    assert!(code == 2 && err.contains("no-such-shot"), "{err}");
}
