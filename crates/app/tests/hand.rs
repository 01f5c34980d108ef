//! Hand-over to the robot's code: every generated source is compiled, run and compared with the table it was made from.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout)]

mod folder;

use std::fs;
use std::io::Write;
use std::path::Path;
use std::process::Command;
use std::sync::OnceLock;

use arcwright::project::{demo, parse};
use arcwright::tasks::floor::taught::Basis;
use arcwright::tasks::hand::{Form, From, Hand, hand, text, verify};
use arcwright_model::aim::Within;
use folder::Folder;
use serde_json::Value;

const LANTERN: &str = include_str!("../../../examples/lantern/arcwright.toml");

impl Folder {
    fn new() -> Folder {
        let folder = Folder::empty();
        fs::write(folder.0.join("arcwright.toml"), LANTERN).unwrap();
        folder
    }

    fn write(&self, name: &str, text: &str) {
        fs::write(self.0.join(name), text).unwrap();
    }

    fn run(&self, arguments: &[&str]) -> (String, String, i32) {
        run(env!("CARGO_BIN_EXE_arcwright"), arguments, &self.0)
    }
}

fn run(program: &str, arguments: &[&str], folder: &Path) -> (String, String, i32) {
    let done = Command::new(program).args(arguments).current_dir(folder).output();
    let done = done.unwrap_or_else(|e| panic!("{program}: {e}"));
    (
        String::from_utf8_lossy(&done.stdout).into_owned(),
        String::from_utf8_lossy(&done.stderr).into_owned(),
        done.status.code().unwrap(),
    )
}

/// What our own table says of Lantern Night, unrounded.
fn ours() -> &'static Hand {
    static OURS: OnceLock<Hand> = OnceLock::new();
    OURS.get_or_init(|| {
        let text = demo("lantern").unwrap().text;
        let project = parse("lantern", text).unwrap().project;
        let from = From {
            project: &project,
            learned: None,
            basis: &Basis::Nothing,
            line: "",
            turned: "",
            text,
        };
        hand(&from, None).unwrap()
    })
}

/// Distances to ask about: from well short of the table to well beyond it, rows and places between them.
fn asked() -> Vec<f64> {
    let mut out: Vec<f64> = (0..=120).map(|i| 0.05 * f64::from(i)).collect();
    out.extend(
        ours()
            .lookup
            .rows
            .iter()
            .map(|r| (r.distance_m * 1e6).round() / 1e6),
    );
    out
}

/// Said past the test harness, which keeps back what a passing test prints.
fn announce(text: &str) {
    let _ = std::io::stderr().write_all(format!("\nSKIPPED, generated source: {text}\n").as_bytes());
}

/// Is there such a program? Where changes are checked there must be.
fn has(program: &str, argument: &str) -> bool {
    if Command::new(program).arg(argument).output().is_ok() {
        return true;
    }
    assert!(
        std::env::var_os("CI").is_none(),
        "`{program}` is needed to check the generated source"
    );
    announce(&format!("no `{program}` here"));
    false
}

/// Lines `distance speed sd lead range`, then `ready`, `volts`, as a program in each language prints them.
fn compare(language: &str, printed: &str) {
    /// Rounding: rows are written to 1e-6, so that a line between two of them is off by no more.
    const ROUNDING: f64 = 1.1e-6;
    let asked = asked();
    let lines: Vec<Vec<&str>> = printed.lines().map(|l| l.split_whitespace().collect()).collect();
    assert_eq!(lines.len(), asked.len() + 3, "{language}: {printed}");
    let mut seen = [0; 4];
    for (d, line) in asked.iter().zip(&lines) {
        let (row, within) = ours().lookup.at(*d).unwrap();
        let code = match within {
            Within::Range => 0,
            Within::TooNear => 1,
            Within::TooFar => 2,
            Within::NoDistance => 3,
        };
        // At a written end of the table rounding may decide either way.
        let ends = [
            ours().lookup.rows.first().unwrap(),
            ours().lookup.rows.last().unwrap(),
        ];
        if ends.iter().all(|e| (e.distance_m - d).abs() > 1e-6) {
            assert_eq!(line[4], code.to_string(), "{language} at {d}: {line:?}");
            seen[code] += 1;
        }
        for (ours, theirs) in [row.wheel_radps, row.wheel_sd_radps, row.lead_rad]
            .iter()
            .zip(&line[1..])
        {
            let theirs: f64 = theirs.parse().unwrap();
            // A slope of at most 200 rad/s per metre turns a rounded distance into 2e-4.
            let slope = 200.0 * 0.5e-6;
            assert!(
                (ours - theirs).abs() < ROUNDING + slope,
                "{language} at {d}: {ours} against {theirs}"
            );
        }
    }
    assert!(seen[0] > 20 && seen[1] > 5 && seen[2] > 5, "{seen:?}");
    // Not a number: no speed, and said so.
    let nan = &lines[asked.len()];
    assert_eq!(
        (nan[1].parse::<f64>().unwrap(), nan[4]),
        (0.0, "3"),
        "{language}: {nan:?}"
    );
    // 300 rad/s asked: 1 % is ready, a little more is not; a setpoint of 0 never is.
    assert_eq!(lines[asked.len() + 1], ["1", "1", "0", "0", "0"], "{language}");
    let volts: f64 = lines[asked.len() + 2][0].parse().unwrap();
    let of = |name: &str| ours().constants.iter().find(|c| c.name == name).unwrap().value;
    let wanted = of("FEED_FORWARD_RATIO") * (of("HOLD_AT_REST_V") + of("HOLD_V_PER_RADPS") * 300.0);
    assert!(
        (volts - wanted).abs() < 1e-6,
        "{language}: {volts} against {wanted}"
    );
}

fn list(open: &str, close: &str) -> String {
    let each: Vec<String> = asked().iter().map(|d| format!("{d:.6}")).collect();
    format!("{open}{}{close}", each.join(", "))
}

#[test]
fn the_table_in_c_compiles_without_a_warning_and_gives_our_setpoints() {
    if !has("cc", "--version") {
        return;
    }
    let folder = Folder::new();
    folder.write("thrower_setpoints.h", &folder.run(&["hand", "--form", "c"]).0);
    let main = format!(
        "#include <stdio.h>\n#include <math.h>\n#include \"thrower_setpoints.h\"\nstatic void say(double d) {{\n\
         struct thrower_setpoint s = thrower_setpoint_at(d);\n\
         printf(\"%.9f %.9f %.9f %.9f %d\\n\", d, s.wheel_radps, s.wheel_sd_radps, s.lead_rad, (int)s.range);\n}}\n\
         int main(void) {{\n{}\nunsigned i;\nfor (i = 0; i < sizeof ds / sizeof *ds; i++) say(ds[i]);\nsay(NAN);\n\
         printf(\"%d %d %d %d %d\\n\", thrower_is_ready(300, 297), thrower_is_ready(300, 302.9), thrower_is_ready(300, 296.9),\n\
         thrower_is_ready(300, 303.1), thrower_is_ready(0, 0));\n\
         printf(\"%.9f\\n\", thrower_feed_forward_v(300));\nreturn thrower_rpm(1) > 9.54 ? 0 : 1;\n}}\n",
        list("static const double ds[] = {", "};")
    );
    folder.write("main.c", &main);
    let flags = [
        "-std=c99",
        "-Wall",
        "-Wextra",
        "-Wpedantic",
        "-Werror",
        "-o",
        "main",
        "main.c",
        "-lm",
    ];
    let (_, err, code) = run("cc", &flags, &folder.0);
    assert_eq!(code, 0, "{err}");
    let (out, _, code) = run(folder.0.join("main").to_str().unwrap(), &[], &folder.0);
    assert_eq!(code, 0);
    compare("C", &out);
}

#[test]
fn the_table_in_java_compiles_and_gives_our_setpoints() {
    if !has("javac", "-version") || !has("java", "-version") {
        return;
    }
    let folder = Folder::new();
    folder.write(
        "ThrowerSetpoints.java",
        &folder.run(&["hand", "--form", "java"]).0,
    );
    let main = format!(
        "import java.util.Locale;\npublic class Main {{\nstatic void say(double d) {{\n\
         ThrowerSetpoints.Setpoint s = ThrowerSetpoints.at(d);\n\
         System.out.println(String.format(Locale.ROOT, \"%.9f %.9f %.9f %.9f %d\", d, s.wheelRadps, s.wheelSdRadps, s.leadRad, \
         s.range.ordinal()));\n}}\nstatic int r(double a, double b) {{ return ThrowerSetpoints.isReady(a, b) ? 1 : 0; }}\n\
         public static void main(String[] a) {{\n{}\nfor (double d : ds) say(d);\nsay(Double.NaN);\n\
         System.out.println(r(300, 297) + \" \" + r(300, 302.9) + \" \" + r(300, 296.9) + \" \" + r(300, 303.1) + \" \" + r(0, 0));\n\
         System.out.println(String.format(Locale.ROOT, \"%.9f\", ThrowerSetpoints.feedForwardV(300)));\n}}\n}}\n",
        list("double[] ds = {", "};")
    );
    folder.write("Main.java", &main);
    let (_, err, code) = run(
        "javac",
        &[
            "-encoding",
            "US-ASCII",
            "-Xlint:all",
            "-Werror",
            "Main.java",
            "ThrowerSetpoints.java",
        ],
        &folder.0,
    );
    assert_eq!(code, 0, "{err}");
    let (out, err, code) = run("java", &["-cp", ".", "Main"], &folder.0);
    assert_eq!(code, 0, "{err}");
    compare("Java", &out);
}

#[test]
fn the_table_in_python_runs_and_gives_our_setpoints() {
    if !has("python3", "--version") {
        return;
    }
    let folder = Folder::new();
    folder.write(
        "thrower_setpoints.py",
        &folder.run(&["hand", "--form", "python"]).0,
    );
    let main = format!(
        "import thrower_setpoints as t\n{}\nranges = [t.IN_RANGE, t.TOO_NEAR, t.TOO_FAR, t.NO_DISTANCE]\n\
         for d in ds + [float('nan')]:\n    s = t.setpoint_at(d)\n    print('%.9f %.9f %.9f %.9f %d' % (d, s.wheel_radps, s.wheel_sd_radps, \
         s.lead_rad, ranges.index(s.range)))\n\
         print(*(int(t.is_ready(a, b)) for a, b in [(300, 297), (300, 302.9), (300, 296.9), (300, 303.1), (0, 0)]))\n\
         print('%.9f' % t.feed_forward_v(300))\n",
        list("ds = [", "]")
    );
    folder.write("main.py", &main);
    let (out, err, code) = run("python3", &["-W", "error", "main.py"], &folder.0);
    assert_eq!(code, 0, "{err}");
    compare("Python", &out);
}

#[test]
fn the_table_in_kotlin_compiles_and_gives_our_setpoints() {
    if !has("kotlinc", "-version") || !has("java", "-version") {
        return;
    }
    let folder = Folder::new();
    folder.write(
        "ThrowerSetpoints.kt",
        &folder.run(&["hand", "--form", "kotlin"]).0,
    );
    let main = format!(
        "import java.util.Locale\nfun say(d: Double) {{\nval s = ThrowerSetpoints.at(d)\n\
         println(String.format(Locale.ROOT, \"%.9f %.9f %.9f %.9f %d\", d, s.wheelRadps, s.wheelSdRadps, s.leadRad, s.range.ordinal))\n}}\n\
         fun r(a: Double, b: Double) = if (ThrowerSetpoints.isReady(a, b)) 1 else 0\nfun main() {{\n{}\nfor (d in ds) say(d)\n\
         say(Double.NaN)\nprintln(\"${{r(300.0, 297.0)}} ${{r(300.0, 302.9)}} ${{r(300.0, 296.9)}} ${{r(300.0, 303.1)}} ${{r(0.0, 0.0)}}\")\n\
         println(String.format(Locale.ROOT, \"%.9f\", ThrowerSetpoints.feedForwardV(300.0)))\n}}\n",
        list("val ds = doubleArrayOf(", ")")
    );
    folder.write("Main.kt", &main);
    // A warning counts as an error.
    let (_, err, code) = run(
        "kotlinc",
        &[
            "-Werror",
            "Main.kt",
            "ThrowerSetpoints.kt",
            "-include-runtime",
            "-d",
            "m.jar",
        ],
        &folder.0,
    );
    assert_eq!(code, 0, "{err}");
    let (out, _, code) = run("java", &["-jar", "m.jar"], &folder.0);
    assert_eq!(code, 0);
    compare("Kotlin", &out);
}

#[test]
fn rows_are_those_of_aim_and_lines_between_them_are_as_near_as_said() {
    let folder = Folder::new();
    let (text, err, code) = folder.run(&["hand", "--json"]);
    assert_eq!(code, 0, "{err}");
    let hand: Value = serde_json::from_str(&text).unwrap();
    let (aim, _, _) = folder.run(&["aim", "--json", "--step", "0.05 m"]);
    let aim: Value = serde_json::from_str(&aim).unwrap();
    let said = hand["constants"]["between_rows_radps"].as_f64().unwrap();
    let (mut at_rows, mut between) = (0, 0);
    for row in aim["table"].as_array().unwrap() {
        let d = row["distance_m"].as_f64().unwrap();
        let best = &row["solutions"][row["chosen"].as_u64().unwrap() as usize];
        let wheel = best["setpoint_radps"].as_f64().unwrap();
        let (ours, within) = ours().lookup.at(d).unwrap();
        if within != Within::Range {
            continue;
        }
        let is_row = hand["rows"]
            .as_array()
            .unwrap()
            .iter()
            .find(|r| (r["distance_m"].as_f64().unwrap() - d).abs() < 1e-9);
        match is_row {
            Some(r) => {
                assert!(
                    (r["wheel_radps"].as_f64().unwrap() - wheel).abs() < 1e-6,
                    "at {d}"
                );
                at_rows += 1;
            }
            None => {
                // Looked at more closely than the table was made: half as much again at most.
                assert!(
                    (ours.wheel_radps - wheel).abs() < 1.5 * said + 1e-6,
                    "at {d}: {} against {wheel}",
                    ours.wheel_radps
                );
                between += 1;
            }
        }
    }
    assert!(at_rows >= 3 && between >= 10, "{at_rows} {between}");
    // A tenth of the band that counts as ready.
    assert!(said < 0.001 * 400.0, "{said}");
}

#[test]
fn a_file_on_the_robot_is_told_from_the_project_of_today() {
    // As it was written; in other line ends and indents, with a package line above: the same code.
    for form in Form::ALL {
        let text = text(ours(), form).unwrap();
        let moved = format!(
            "package robot;\r\n\r\n{}",
            text.replace('\n', "\r\n").replace("    ", "\t")
        );
        for text in [&text, &moved] {
            let checked = verify(text, "file", ours()).unwrap();
            assert!(
                checked.matches && checked.changed.is_empty(),
                "{form:?}: {checked:?}"
            );
            assert!(!checked.made.is_empty());
        }
    }
    let java = text(ours(), Form::Java).unwrap();
    // A row changed by hand.
    let line = java.lines().find(|l| l.trim_start().starts_with("{1.")).unwrap();
    let cells: Vec<&str> = line.split(", ").collect();
    let other = line.replacen(cells[1], "123.000000", 1);
    let checked = verify(&java.replace(line, &other), "file", ours()).unwrap();
    assert!(!checked.matches && checked.changed.is_empty(), "{checked:?}");
    assert!(checked.most_off.unwrap().by_radps() < -50.0, "{checked:?}");
    assert!(checked.first_difference.unwrap().1.contains("123.000000"));
    let cut = verify(java.split("TOO_FAR").next().unwrap(), "file", ours()).unwrap_err();
    assert!(cut.what.contains("cut short"), "{cut:?}");
    let folder = Folder::new();
    let (_, err, code) = folder.run(&["hand"]);
    assert_eq!(code, 0, "{err}");
    let at = |name: &str| format!("out/hand/{name}");
    // A remark in the project changes nothing; a limit that no setpoint rests on changes the fingerprint alone.
    folder.write(
        "arcwright.toml",
        &LANTERN.replace("# calipers on ten of them", "# another remark"),
    );
    assert!(
        folder
            .run(&["hand", "--verify", &at("setpoints.csv")])
            .0
            .contains("matches the project today")
    );
    folder.write(
        "arcwright.toml",
        &LANTERN.replace("other_motors = 6", "other_motors = 5"),
    );
    let (out, _, code) = folder.run(&["hand", "--verify", &at("setpoints.csv")]);
    assert_eq!(code, 0, "{out}");
    assert!(
        out.contains("numbers are those of today") && out.contains("fingerprint: then"),
        "{out}"
    );
    // Another setting: other numbers.
    folder.write(
        "arcwright.toml",
        &LANTERN.replace("tilt = \"8 deg\"", "tilt = \"10 deg\""),
    );
    let (out, _, code) = folder.run(&["hand", "--json", "--verify", &at("ThrowerSetpoints.kt")]);
    assert_eq!(code, 1, "{out}");
    let said: Value = serde_json::from_str(&out).unwrap();
    assert_eq!(said["matches"], false);
    let off = &said["most_off"];
    assert!(
        (off["then_radps"].as_f64().unwrap() - off["now_radps"].as_f64().unwrap()).abs() > 0.5,
        "{off}"
    );
    let (out, err, code) = folder.run(&["hand", "--verify", "arcwright.toml"]);
    assert_eq!((code, out.as_str()), (2, ""));
    assert!(err.contains("not-a-hand-over") && err.contains("fix "), "{err}");
}

#[test]
fn what_cannot_be_thrown_is_left_out_and_told() {
    let folder = Folder::new();
    folder.write(
        "arcwright.toml",
        &LANTERN.replace("distance = \"3.6 m\"", "distance = \"36 m\""),
    );
    let (out, err, code) = folder.run(&["hand"]);
    assert_eq!(code, 1, "{err}");
    assert!(out.contains("Outside the table") && out.contains("far"), "{out}");
    let far_off = LANTERN
        .replace("distance = \"1.1 m\"", "distance = \"31 m\"")
        .replace("distance = \"2.2 m\"", "distance = \"32 m\"")
        .replace("distance = \"3.6 m\"", "distance = \"33 m\"");
    folder.write("arcwright.toml", &far_off);
    let (out, err, code) = folder.run(&["hand"]);
    assert_eq!((code, out.as_str()), (2, ""), "{err}");
    assert!(err.contains("out-of-reach") && err.contains("fix "), "{err}");
}
