//! What the shots taught, as every command uses it: practised on a machine with a hidden truth.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod folder;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::OnceLock;

use arcwright::project::parse;
use arcwright_model::aim::{ExitCurve, aim_spot};
use arcwright_model::floor::rehearse::{Doubts, HiddenProject};
use arcwright_model::limits::CURVE_POINTS;
use arcwright_model::shot::Chain;
use folder::Folder;
use rusqlite::Connection;
use serde_json::Value;

const LANTERN: &str = include_str!("../../../examples/lantern/arcwright.toml");
/// A machine that throws well away from its design.
const SEED: u64 = 14;

impl Folder {
    fn new() -> Folder {
        let folder = Folder::empty();
        fs::write(folder.0.join("arcwright.toml"), two_spots()).unwrap();
        folder
    }

    /// A folder whose log has nine rehearsed shots and a fit of them.
    fn taught() -> Folder {
        static FIRST: OnceLock<Vec<u8>> = OnceLock::new();
        let log = FIRST.get_or_init(|| {
            let f = Folder::new();
            f.text(&format!("floor rehearse --seed {SEED}"));
            for _ in 0..3 {
                for spot in ["near", "far", "far"] {
                    f.text(&format!("floor rehearse throw {spot} --see clock,eye"));
                }
            }
            assert!(f.text("floor fit --rehearsal").contains("go by it from now on"));
            // Nothing waits in a side file once the last program has closed it.
            fs::read(f.0.join("rehearsal.db")).unwrap()
        });
        let f = Folder::new();
        fs::write(f.log(), log).unwrap();
        f
    }

    fn log(&self) -> PathBuf {
        self.0.join("floor.db")
    }

    fn run(&self, line: &str) -> Output {
        let mut command = Command::new(env!("CARGO_BIN_EXE_arcwright"));
        let words = line.split(' ').filter(|w| !w.is_empty());
        command.args(words).current_dir(&self.0);
        command.output().unwrap()
    }

    fn text(&self, line: &str) -> String {
        let out = self.run(line);
        assert_ne!(
            out.status.code(),
            Some(70),
            "{}",
            String::from_utf8_lossy(&out.stderr)
        );
        String::from_utf8(out.stdout).unwrap()
    }

    fn json(&self, line: &str) -> Value {
        serde_json::from_str(&self.text(line)).unwrap_or_else(|e| panic!("{line}: {e}"))
    }

    /// Changes the project file.
    fn change(&self, from: &str, to: &str) {
        let file = self.0.join("arcwright.toml");
        let text = fs::read_to_string(&file).unwrap();
        assert!(text.contains(from), "{from}");
        fs::write(file, text.replace(from, to)).unwrap();
    }
}

/// The lantern without its middle spot.
fn two_spots() -> String {
    let (before, rest) = LANTERN.split_once("[[spot]]\nname = \"middle\"").unwrap();
    let (_, after) = rest.split_once("[[spot]]").unwrap();
    format!("{before}[[spot]]{after}")
}

fn number(v: &Value) -> f64 {
    v.as_f64().unwrap_or_else(|| panic!("{v} is no number"))
}

/// The setpoints that the hidden machine truly needs.
fn true_setpoints() -> Vec<f64> {
    let project = parse("lantern", &two_spots()).unwrap().project;
    let hidden = HiddenProject::drawn(&project, SEED, Doubts::default());
    let mut truth = hidden.truth.clone();
    truth.machine.exit_offset_rad += hidden.angle_error_rad;
    let chain = Chain::of(&truth);
    let setting = truth.machine.setting;
    let curve = ExitCurve::of(&chain, &setting, CURVE_POINTS);
    let aim = |spot| {
        aim_spot(&truth, &chain, &curve, &setting, spot)
            .best()
            .unwrap()
            .wheel_radps
    };
    truth.spots.iter().map(aim).collect()
}

#[test]
fn aim_after_a_fit_is_nearer_to_the_hidden_truth_than_the_design_and_as_sure_as_it_says() {
    let f = Folder::taught();
    let aim = f.json("aim --step 2m --json");
    assert_eq!(aim["shots"]["used"], true);
    assert_eq!(aim["shots"]["shots"], 9);
    for (spot, truth) in aim["spots"].as_array().unwrap().iter().zip(true_setpoints()) {
        let learned = number(&spot["learned"]["setpoint_radps"]);
        let sd = number(&spot["learned"]["setpoint_sd_radps"]);
        let design = number(&spot["design"]["setpoint_radps"]);
        let (now, before) = ((learned - truth).abs(), (design - truth).abs());
        assert!(now < 0.6 * before, "{}: {now} {before}", spot["spot"]);
        assert!(now < 3.0 * sd, "{}: {now} ± {sd}", spot["spot"]);
        let untested = number(&spot["design"]["setpoint_sd_radps"]);
        assert!(sd < 0.5 * untested, "{sd} {untested}");
    }
    let text = f.text("aim --step 2m");
    assert!(
        text.contains("Learned from 9 shots in 1 session, last 20"),
        "{text}"
    );
    assert!(
        text.contains("hits to expect") && text.contains("turn it"),
        "{text}"
    );
}

#[test]
fn every_command_says_the_same_numbers() {
    let f = Folder::taught();
    let fit = f.json("floor fit --look --json");
    assert_eq!(fit["kept"], false);
    let (aim, throw) = (f.json("aim --step 2m --json"), f.json("throw --spot far --json"));
    let close = |a: &Value, b: &Value| {
        let (a, b) = (number(a), number(b));
        assert!((a - b).abs() <= 1e-7 * a.abs(), "{a} {b}");
    };
    for (i, spot) in aim["spots"].as_array().unwrap().iter().enumerate() {
        let of_fit = &fit["setpoints"][i];
        close(&of_fit["setpoint_radps"], &spot["learned"]["setpoint_radps"]);
        close(
            &of_fit["setpoint_sd_radps"],
            &spot["learned"]["setpoint_sd_radps"],
        );
        close(
            &of_fit["hit_expected_frac"],
            &spot["learned"]["hit_expected_frac"],
        );
        close(&of_fit["design_radps"], &spot["design"]["setpoint_radps"]);
        close(
            &spot["solutions"][spot["chosen"].as_u64().unwrap() as usize]["setpoint_sd_radps"],
            &spot["learned"]["setpoint_sd_radps"],
        );
    }
    close(
        &throw["wheel_radps"],
        &aim["spots"][1]["learned"]["setpoint_radps"],
    );
    let volley = f.json("volley --spot far --json");
    close(&volley["setpoint_radps"], &throw["wheel_radps"]);
    assert_eq!(throw["arrival"]["outcome"], "in");
    let design = f.json("aim --step 2m --as-designed --json");
    close(
        &design["spots"][1]["solutions"][0]["setpoint_radps"],
        &aim["spots"][1]["design"]["setpoint_radps"],
    );
    // What is logged without a speed is taken for thrown as aimed.
    let other = Folder::taught();
    other.change("name = \"far\"", "name = \"distant\"");
    let said = other.text("floor log distant in");
    let rpm = (number(&throw["wheel_radps"]) / (std::f64::consts::PI / 30.0)).round();
    assert!(said.contains(&format!("{rpm} rpm as aimed")), "{said}");
}

#[test]
fn the_flag_shows_the_design_to_the_last_byte() {
    let (taught, bare) = (Folder::taught(), Folder::new());
    for line in [
        "aim --step 2m",
        "aim --step 2m --json",
        "aim --step 2m --csv -",
        "throw --json",
        "volley",
        "check",
    ] {
        let flagged = taught.text(&format!("{line} --as-designed"));
        assert_eq!(flagged, bare.text(line), "{line}");
        assert!(!flagged.contains("Learned"), "{line}");
    }
    assert!(taught.text("check").contains("Learned from 9 shots"));
}

#[test]
fn scatter_uses_what_the_shots_showed_and_agrees_with_aim() {
    let f = Folder::taught();
    // A spot that goes is no reason to fit again.
    let text = two_spots();
    let parts: Vec<&str> = text.split("[[spot]]").collect();
    assert_eq!(parts.len(), 3);
    fs::write(
        f.0.join("arcwright.toml"),
        format!("{}[[spot]]{}", parts[0], parts[2]),
    )
    .unwrap();
    let scatter = f.json("scatter --throws 2048 --no-remedies --json");
    let spot = &scatter["spots"][0];
    assert_eq!(scatter["shots"]["used"], true);
    assert!(spot["untested_hit"].is_null());
    let aim = f.json("aim --step 2m --json");
    let (a, b) = (
        number(&spot["after_shots_hit"]["frac"]),
        number(&aim["spots"][0]["learned"]["hit_expected_frac"]),
    );
    assert!((a - b).abs() < 0.05, "{a} {b}");
    let along = number(&aim["spots"][0]["learned"]["along_scatter_m"]);
    let found = number(&spot["at_aimed"]["along_sd_m"]["value"]);
    assert!((found / along - 1.0).abs() < 0.15, "{found} {along}");
    let causes = spot["budget"].as_array().unwrap();
    assert!(causes.iter().any(|c| c["cause"] == "beyond"), "{causes:?}");
}

#[test]
fn a_changed_machine_is_named_and_a_changed_knob_spot_or_target_is_none() {
    let f = Folder::taught();
    for (from, to) in [
        ("tilt = \"8 deg\"", "tilt = \"9 deg\""),
        ("distance = \"3.6 m\"", "distance = \"3.4 m\""),
        ("rim_height = \"1.14 m\"", "rim_height = \"1.2 m\""),
    ] {
        f.change(from, to);
        let text = f.text("aim --step 2m");
        assert!(text.contains("Learned from 9 shots"), "{to}: {text}");
    }
    f.change("[wheel]\ndiameter = \"96 mm\"", "[wheel]\ndiameter = \"97 mm\"");
    f.change("value = \"3 N/mm\"", "value = \"3.5 N/mm\"");
    let text = f.text("aim --step 2m");
    assert!(text.contains("By the design: since the fit of"), "{text}");
    let whole = text.replace('\n', " ");
    assert!(whole.contains("`wheel.diameter` was 96 mm, is 97 mm"), "{text}");
    assert!(whole.contains("`piece.stiffness` was"), "{text}");
    assert!(whole.contains("± untested"), "{text}");
    let json = f.json("throw --json");
    assert_eq!(json["shots"]["why"], "project-changed");
    let keys: Vec<&Value> = json["shots"]["changed"]
        .as_array()
        .unwrap()
        .iter()
        .map(|k| &k["key"])
        .collect();
    assert_eq!(keys, ["piece.stiffness", "wheel.diameter"]);
    let bare = Folder::new();
    fs::copy(f.0.join("arcwright.toml"), bare.0.join("arcwright.toml")).unwrap();
    assert_eq!(json["wheel_radps"], bare.json("throw --json")["wheel_radps"]);
    // A fit of the changed file counts again.
    f.text("floor fit");
    assert!(f.text("aim --step 2m").contains("Learned from 9 shots"));
}

#[test]
fn shots_since_the_fit_are_counted_and_a_fit_of_two_is_not_used() {
    let f = Folder::taught();
    f.text("floor log far 3490 in");
    f.text("floor log far 3490 short");
    f.text("floor edit 3 long 10cm");
    let text = f.text("throw").replace('\n', " ");
    assert!(
        text.contains("; 2 shots since, 1 shot changed since: run `arcwright floor fit`."),
        "{text}"
    );
    let few = Folder::new();
    few.text("floor log far 3490 in");
    let text = few.text("throw");
    assert!(
        text.contains("By the design: 1 shot is logged, but not fitted yet"),
        "{text}"
    );
    few.text("floor log near 2100 in");
    let fit = few.text("floor fit");
    assert!(
        fit.contains("not sure enough to be used") && fit.contains("not known"),
        "{fit}"
    );
    let text = few.text("throw").replace('\n', " ");
    assert!(
        text.contains("By the design: the fit of 2 shots is not sure enough to be used (2 of 3 shots"),
        "{text}"
    );
    assert_eq!(few.json("throw --json")["shots"]["why"], "not-confident");
}

#[test]
fn a_log_that_cannot_be_used_is_said_and_never_stops_a_design_command() {
    let f = Folder::taught();
    let whole = fs::read(f.log()).unwrap();
    let design = Folder::new().json("throw --json")["wheel_radps"].clone();
    let by_design = |f: &Folder, what: &str| {
        let bytes = fs::read(f.log()).unwrap();
        let out = f.text("throw").replace('\n', " ");
        assert!(
            out.contains("By the design:") && out.contains(what),
            "{what}: {out}"
        );
        assert_eq!(f.json("throw --json")["wheel_radps"], design, "{what}");
        assert_eq!(fs::read(f.log()).unwrap(), bytes, "{what}: written to");
    };
    {
        let db = Connection::open(f.log()).unwrap();
        db.pragma_update(None, "user_version", 99).unwrap();
    }
    by_design(&f, "newer arcwright (version 99");
    fs::write(f.log(), &whole[..5000]).unwrap();
    by_design(&f, "cut short");
    fs::write(f.log(), "shopping: bread, milk").unwrap();
    by_design(&f, "no shot log");
    fs::write(f.log(), &whole).unwrap();
    {
        let db = Connection::open(f.log()).unwrap();
        let names: Vec<String> = db
            .prepare("SELECT name FROM pragma_table_info('fit') WHERE name NOT IN ('id', 'meaning', 'tool')")
            .unwrap()
            .query_map([], |r| r.get(0))
            .unwrap()
            .map(Result::unwrap)
            .collect();
        let names = names.join(", ");
        let sql = format!("INSERT INTO fit (tool, meaning, {names}) SELECT '9.1.0', 99, {names} FROM fit");
        db.execute(&sql, []).unwrap();
    }
    by_design(&f, "made by a newer arcwright (9.1.0)");
}

#[test]
fn a_table_of_setpoints_says_what_it_is_and_replaces_nothing_unasked() {
    let f = Folder::taught();
    let said = f.text("aim --step 0.5m --csv speeds.csv");
    assert!(said.contains("Setpoints written to speeds.csv"), "{said}");
    let text = fs::read_to_string(f.0.join("speeds.csv")).unwrap();
    let remarks: Vec<&str> = text.lines().filter(|l| l.starts_with('#')).collect();
    assert!(
        remarks[0].contains("Lantern Night") && remarks[1].contains("Learned from 9 shots"),
        "{text}"
    );
    assert!(remarks.iter().any(|r| r.contains("units:")), "{text}");
    let body: String = text
        .lines()
        .filter(|l| !l.starts_with('#'))
        .map(|l| format!("{l}\n"))
        .collect();
    let mut reader = csv::Reader::from_reader(body.as_bytes());
    let heads = reader.headers().unwrap().clone();
    let column = |name: &str| heads.iter().position(|h| h == name).unwrap();
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    let aim = f.json("aim --step 2m --json");
    let far = &rows[1];
    assert_eq!(&far[column("spot")], "far");
    assert_eq!(&far[column("source")], "learned");
    let value = |row: &csv::StringRecord, name: &str| row[column(name)].parse::<f64>().unwrap();
    let learned = &aim["spots"][1]["learned"];
    for (name, json) in [
        ("wheel_radps", &learned["setpoint_radps"]),
        ("wheel_sd_radps", &learned["setpoint_sd_radps"]),
        ("hit_expected_frac", &learned["hit_expected_frac"]),
        ("design_radps", &aim["spots"][1]["design"]["setpoint_radps"]),
    ] {
        assert!((value(far, name) - number(json)).abs() < 1e-6, "{name}");
    }
    let rpm = value(far, "wheel_rpm") / value(far, "wheel_radps");
    assert!((rpm - 60.0 / std::f64::consts::TAU).abs() < 1e-6, "{rpm}");
    let distances: Vec<f64> = rows[2..].iter().map(|r| value(r, "distance_m")).collect();
    assert!(
        distances.len() > 5 && distances.windows(2).all(|w| w[1] > w[0]),
        "{distances:?}"
    );
    let refused = f.run("aim --csv speeds.csv --as-designed");
    assert_eq!(refused.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&refused.stderr).contains("already-there"));
    assert_eq!(fs::read_to_string(f.0.join("speeds.csv")).unwrap(), text);
    f.text("aim --csv speeds.csv --as-designed --replace");
    let text = fs::read_to_string(f.0.join("speeds.csv")).unwrap();
    assert!(
        text.contains("# from: the design alone") && text.contains(",design,"),
        "{text}"
    );
}

#[test]
fn a_log_of_an_older_version_is_read_untouched_and_fitted_with_a_copy_beside_it() {
    let f = Folder::new();
    {
        let db = Connection::open(f.log()).unwrap();
        db.execute_batch(include_str!("../src/store/schema/0001_start.sql"))
            .unwrap();
        db.pragma_update(None, "user_version", 1).unwrap();
        db.pragma_update(None, "application_id", 0x4172_6377).unwrap();
        db.execute_batch(
            "INSERT INTO session VALUES (1, 0, '');
             INSERT INTO shot VALUES (1, 1, 0, 1, 'typed');
             INSERT INTO shot_version (shot_id, number, act, written_utc_ms, done, words, taken_back, spot, distance_m,
                offset_m, turned_rad, slide_m, tilt_rad, reach_m, setpoint_radps, place, outcome, jammed, note)
             VALUES (1, 1, 1, 0, 'logged', '', 0, 'far', 3.6, 0, 0, 0, 0.13962634, 0.06, 366, 1, 'in', 0, '');",
        )
        .unwrap();
    }
    let bytes = fs::read(f.log()).unwrap();
    assert!(f.text("throw").contains("1 shot is logged, but not fitted yet"));
    assert_eq!(fs::read(f.log()).unwrap(), bytes);
    assert!(!Path::new(&f.0.join("floor.db.before-2")).exists());
    assert!(f.text("floor fit").contains("not sure enough"));
    assert!(f.0.join("floor.db.before-2").exists());
}
