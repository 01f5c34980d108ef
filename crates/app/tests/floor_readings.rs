//! Logs and films as files: names guessed, units read, cut lines, and everything that is wrong said in words.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod folder;

use std::fs;
use std::process::Command;

use arcwright_model::flight::{Ball, Drag, DragLaw, Lift, Medium, SpinDecay, State, Until, fly};
use arcwright_model::launcher::volley::{ThrowResult, Trigger, VolleyPlan, volley};
use arcwright_model::project::Project;
use arcwright_model::shot::Chain;
use folder::{Folder, Said, said};
use serde_json::Value;

impl Folder {
    fn new() -> Folder {
        Folder::empty()
    }

    /// Writes the file and runs `floor COMMAND it ...`; standard output, standard error, exit code.
    fn run(&self, command: &str, text: impl AsRef<[u8]>, more: &[&str]) -> Said {
        fs::write(self.0.join("it.csv"), text).unwrap();
        let out = Command::new(env!("CARGO_BIN_EXE_arcwright"))
            .args(["floor", command, "it.csv"])
            .args(more)
            .current_dir(&self.0)
            .output()
            .unwrap();
        said(out)
    }

    fn json(&self, command: &str, text: &str, more: &[&str]) -> Value {
        let (out, err, code) = self.run(command, text, &[more, &["--json"]].concat());
        assert!(code < 2, "{err}");
        serde_json::from_str(&out).unwrap()
    }
}

fn lantern() -> Project {
    let text = include_str!("../../../examples/lantern/arcwright.toml");
    arcwright::project::parse("lantern", text)
        .unwrap_or_else(|_| panic!("the demo is broken"))
        .project
}

/// Rows of a spin-up and five throws of the demo's machine: time, wheel, setpoint, duty, battery V, battery A.
fn rows() -> Vec<[f64; 6]> {
    let project = lantern();
    let chain = Chain::of(&project);
    let plan = VolleyPlan {
        setpoint_radps: 0.6 * chain.top_radps,
        start_radps: 0.0,
        throw_count: 5,
        interval_s: 1.0,
        trigger: Trigger::Interval,
        earliest_s: 4.0,
        patience_s: 8.0,
        other_current_a: project.machine.other_current_a,
        counts_per_turn: 0,
        with_samples: true,
    };
    let controller = project.machine.controller;
    let run = volley(&chain.train, &project.machine.battery, &controller, &plan, |r| {
        ThrowResult {
            wheel_after_radps: 0.93 * r.wheel_radps,
            duration_s: 0.03,
        }
    });
    assert_eq!(run.throws.len(), 5);
    run.samples
        .iter()
        .filter(|s| {
            let ticks = s.time_s / controller.period_s;
            (ticks - ticks.round()).abs() < 1e-6
        })
        .map(|s| {
            [
                s.time_s,
                s.wheel_radps,
                plan.setpoint_radps,
                s.duty_frac,
                s.battery_v,
                s.battery_a,
            ]
        })
        .collect()
}

const RPM: f64 = 30.0 / std::f64::consts::PI;

fn log(head: &str, line: impl Fn(&[f64; 6]) -> String) -> String {
    let mut text = format!("{head}\n");
    for r in rows() {
        text.push_str(&line(&r));
        text.push('\n');
    }
    text
}

fn usual() -> String {
    log("t_ms,flywheel_rpm,target rpm,output,batt (V),current (A)", |r| {
        format!(
            "{:.1},{:.2},{:.0},{:.4},{:.3},{:.3}",
            1000.0 * r[0],
            RPM * r[1],
            RPM * r[2],
            r[3],
            r[4],
            r[5]
        )
    })
}

fn ours(json: &Value) -> Vec<(String, String, String)> {
    let text = |v: &Value| v.as_str().unwrap().to_string();
    let columns = json["columns"].as_array().unwrap();
    let mut all: Vec<_> = columns
        .iter()
        .map(|c| (text(&c["theirs"]), text(&c["ours"]), text(&c["unit"])))
        .collect();
    all.sort();
    all
}

#[test]
fn columns_are_guessed_from_name_and_unit_whatever_they_are_called() {
    let folder = Folder::new();
    let json = folder.json("telemetry", &usual(), &[]);
    let row = |a: &str, b: &str, c: &str| (a.to_string(), b.to_string(), c.to_string());
    assert_eq!(
        ours(&json),
        [
            row("batt (V)", "battery voltage", "V"),
            row("current (A)", "battery current", "A"),
            row("flywheel_rpm", "wheel", "rpm"),
            row("output", "duty", "of one"),
            row("t_ms", "time", "ms"),
            row("target rpm", "setpoint", "rpm"),
        ]
    );
    assert_eq!(json["throws"].as_array().unwrap().len(), 5);
    // Semicolons, decimal commas, other names, other units, a byte order mark: the same throws.
    let other = log(
        "Timestamp [s];shooterVelocity (rad/s);setpoint (rad/s);Duty (%);BatteryVoltage",
        |r| {
            format!(
                "{:.4};{:.3};{:.2};{:.2};{:.3}",
                r[0],
                r[1],
                r[2],
                100.0 * r[3],
                r[4]
            )
            .replace('.', ",")
        },
    );
    let again = folder.json("telemetry", &format!("\u{feff}{other}"), &[]);
    assert_eq!(ours(&again).len(), 5, "{:?}", ours(&again));
    for (a, b) in json["throws"]
        .as_array()
        .unwrap()
        .iter()
        .zip(again["throws"].as_array().unwrap())
    {
        for key in ["time_s", "before_radps", "after_radps"] {
            let (a, b) = (a[key].as_f64().unwrap(), b[key].as_f64().unwrap());
            assert!((a - b).abs() < 0.1, "{key}: {a} {b}");
        }
    }
}

#[test]
fn the_demo_machine_logged_by_itself_agrees_with_its_parts_list() {
    let folder = Folder::new();
    let json = folder.json("telemetry", &usual(), &["--demo", "lantern"]);
    let beside = json["beside_parts"].as_array().unwrap();
    for name in [
        "inertia",
        "speed-constant",
        "motor-resistance",
        "battery-resistance",
    ] {
        let row = beside
            .iter()
            .find(|l| l["name"] == name)
            .unwrap_or_else(|| panic!("{json:#}"));
        assert_eq!(row["established"], false, "{row}");
        assert!(
            (row["ratio"]["value"].as_f64().unwrap() - 1.0).abs() < 0.08,
            "{row}"
        );
    }
    let (text, _, code) = folder.run("telemetry", usual(), &["--demo", "lantern", "--svg", "it.svg"]);
    assert_eq!(code, 0);
    assert!(text.contains("inertia agrees with the parts list"), "{text}");
    let svg = fs::read_to_string(folder.0.join("it.svg")).unwrap();
    assert!(svg.contains("5 throws found") && !svg.contains("NaN"));
}

#[test]
fn a_file_cut_within_its_last_line_gives_all_that_is_whole_and_says_so() {
    let folder = Folder::new();
    let whole = usual();
    let rows_count = folder.json("telemetry", &whole, &[])["rows_count"]
        .as_u64()
        .unwrap();
    for cut in [3, 9, 20] {
        let json = folder.json("telemetry", &whole[..whole.len() - cut], &[]);
        assert_eq!(
            json["rows_count"].as_u64().unwrap(),
            rows_count - 1,
            "cut by {cut}"
        );
        assert!(
            json["notes"][0].as_str().unwrap().contains("cut off"),
            "{}",
            json["notes"]
        );
    }
}

#[test]
fn what_cannot_be_read_is_refused_with_code_two_and_how_to_mend_it() {
    let folder = Folder::new();
    let plain = |head: &str| log(head, |r| format!("{:.3},{:.2}", r[0], r[1]));
    for (text, code, fix) in [
        (String::new(), "table-empty", "CSV"),
        (
            "just one line of text\n".into(),
            "table-one-column",
            "separate the columns",
        ),
        ("rpm\n1\n2\n".into(), "table-one-column", "export the time"),
        ("1,2\n3,4\n".into(), "table-no-header", "names and units"),
        ("time,wheel rpm\na,b\nc,d\n".into(), "table-no-numbers", "CSV"),
        (plain("colour,wheel (rpm)"), "column-no-time", "--map"),
        (plain("time,colour"), "column-no-wheel", "--map"),
        (plain("time (s),wheel"), "column-no-unit", "rpm"),
        (
            "time (s),wheel (rpm)\n0,1\n0.1,2\n0.2,3\n".into(),
            "log-short",
            "log a whole volley",
        ),
        (
            log("time (s),wheel (rpm)", |r| {
                format!("{:.3},{:.2}", if r[0] < 4.0 { r[0] } else { r[0] - 3.5 }, r[1])
            }),
            "log-goes-back",
            "Split it",
        ),
        (
            log("time (s),wheel (rpm)", |r| format!("7,{:.2}", r[1])),
            "log-still",
            "--map",
        ),
        (
            log("time (s),wheel (rpm)", |r| format!("{:.3},NaN", r[0])),
            "log-short",
            "log a whole volley",
        ),
    ] {
        let (out, err, exit) = folder.run("telemetry", &text, &[]);
        assert_eq!((out.as_str(), exit), ("", 2), "{code}: {err}");
        assert!(
            err.contains(&format!("[{code}]")) && err.contains(fix),
            "{code}: {err}"
        );
    }
    let (_, err, exit) = folder.run("telemetry", [0u8, 159, 146, 150, 0, 7], &[]);
    assert!(exit == 2 && err.contains("table-not-text"), "{err}");
    for (map, code) in [
        ("spd", "map-shape"),
        ("spd=wheel rpm", "map-theirs"),
        ("flywheel_rpm=weel rpm", "map-ours"),
        ("flywheel_rpm=wheel kg", "column-unit"),
    ] {
        let (_, err, exit) = folder.run("telemetry", usual(), &["--map", map]);
        assert!(exit == 2 && err.contains(&format!("[{code}]")), "{map}: {err}");
    }
}

#[test]
fn a_map_comes_before_the_guess() {
    let folder = Folder::new();
    let text = log("clk,spd,x", |r| {
        format!("{:.0},{:.2},{:.3}", 1e6 * r[0], r[1], r[4])
    });
    let maps = [
        "--map",
        "clk=time us",
        "--map",
        "spd=wheel rad/s",
        "--map",
        "x=battery voltage",
    ];
    let json = folder.json("telemetry", &text, &maps);
    assert_eq!(json["throws"].as_array().unwrap().len(), 5);
    assert!(json["throws"][0]["battery_v"].as_f64().unwrap() > 9.0);
    assert_eq!(json["train"], Value::Null);
    assert_eq!(json["train_not_learned"]["code"], "log-no-voltage");
}

/// Pixels of a throw at 7 m/s and 55°, at 240 frames a second and 400 px a metre, to a tenth of a pixel.
fn film(frames: u32) -> String {
    let ball = Ball {
        mass_kg: 0.061,
        diameter_m: 0.112,
        inertia_coeff: 0.5,
        drag: Drag {
            law: DragLaw::Constant { drag_coeff: 0.45 },
            scale_ratio: 1.0,
        },
        lift: Lift::None,
        spin_decay: SpinDecay::None,
        buoyancy: false,
        added_mass_coeff: 0.0,
    };
    let medium = Medium {
        density_kgpm3: 1.2,
        viscosity_pas: 1.81e-5,
        wind_mps: [0.0; 3],
        gravity_mps2: 9.806_65,
    };
    let angle = 55f64.to_radians();
    let start = State {
        time_s: 0.0,
        position_m: [0.0, 0.0, 0.62],
        velocity_mps: [7.0 * angle.cos(), 0.0, 7.0 * angle.sin()],
        spin_radps: [0.0; 3],
    };
    let path = fly(
        &ball,
        &medium,
        &start,
        &Until {
            time_s: 5.0,
            floor_m: -5.0,
        },
    );
    let mut text = String::from("frame,x (px),y (px)\n");
    for i in 0..frames {
        let [x, _, z] = path.at(f64::from(i) / 240.0).position_m;
        text.push_str(&format!(
            "{i},{:.1},{:.1}\n",
            80.0 + 400.0 * x,
            1500.0 - 400.0 * z
        ));
    }
    text
}

const PIECE: [&str; 4] = ["--mass", "61 g", "--diameter", "112 mm"];

#[test]
fn a_film_in_pixels_gives_speed_and_angle_back() {
    let folder = Folder::new();
    let how = [
        &PIECE[..],
        &["--fps", "240", "--scale", "1 m = 400 px", "--height", "0.62 m"],
    ]
    .concat();
    let json = folder.json("film", &film(200), &how);
    let inside = |key: &str, truth: f64| {
        let e = &json[key];
        let (low, high) = (e["low"].as_f64().unwrap(), e["high"].as_f64().unwrap());
        assert!(low <= truth && truth <= high && high - low < 0.2, "{key}: {e}");
    };
    inside("speed_mps", 7.0);
    inside("angle_rad", 55f64.to_radians());
    inside("drag_coeff", 0.45);
    assert!((json["points"][0]["height_m"].as_f64().unwrap() - 0.62).abs() < 1e-9);
    let (text, _, code) = folder.run("film", film(200), &[&how[..], &["--svg", "it.svg"]].concat());
    assert_eq!(code, 0, "{text}");
    assert!(
        text.contains("Nothing in the film speaks against") && text.contains("Nobody stands in the lane")
    );
    assert!(
        !fs::read_to_string(folder.0.join("it.svg"))
            .unwrap()
            .contains("NaN")
    );
}

#[test]
fn a_wrong_scale_gives_exit_code_one_and_the_gravity_the_film_shows() {
    let folder = Folder::new();
    let how = [&PIECE[..], &["--fps", "240", "--scale", "1 m = 500 px"]].concat();
    let (text, _, code) = folder.run("film", film(200), &how);
    assert!(
        code == 1 && text.contains("the film says g = 7.") && text.contains("too short"),
        "{text}"
    );
}

#[test]
fn films_that_cannot_be_read_are_refused_with_how_to_mend_them() {
    let folder = Folder::new();
    let base = [&PIECE[..], &["--fps", "240", "--scale", "1 m = 400 px"]].concat();
    let short = film(3);
    let still = "frame,x,y\n0,5,5\n1,5,5\n2,5,5\n3,5,5\n4,5,5\n".to_string();
    let back = "frame,x,y\n0,5,5\n2,6,6\n1,7,7\n3,8,8\n4,9,9\n".to_string();
    for (text, more, code) in [
        (&short, base.clone(), "film-short"),
        (&still, base.clone(), "film-still"),
        (&back, base.clone(), "film-goes-back"),
        (
            &film(60),
            [&PIECE[..], &["--fps", "240", "--scale", "1 m = 0 px"]].concat(),
            "film-scale",
        ),
        (
            &film(60),
            [&PIECE[..], &["--fps", "240", "--scale", "412"]].concat(),
            "film-scale",
        ),
        (
            &film(60),
            [&PIECE[..], &["--fps", "0", "--scale", "1 m = 400 px"]].concat(),
            "film-frames",
        ),
        (
            &film(60),
            [&PIECE[..], &["--scale", "1 m = 400 px"]].concat(),
            "column-no-time",
        ),
        (
            &film(60),
            vec!["--fps", "240", "--scale", "1 m = 400 px"],
            "film-piece",
        ),
        (
            &film(200),
            [&base[..], &["--y", "up"]].concat(),
            "film-upside-down",
        ),
        (
            &film(60),
            [&PIECE[..], &["--fps", "240"]].concat(),
            "column-no-unit",
        ),
    ] {
        let (out, err, exit) = folder.run("film", text, &more);
        assert_eq!((out.as_str(), exit), ("", 2), "{code}: {err}");
        assert!(
            err.contains(&format!("[{code}]")) && err.contains("fix "),
            "{code}: {err}"
        );
    }
}
