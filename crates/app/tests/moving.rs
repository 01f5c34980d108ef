//! Throwing on the move: the lead, the setpoint and the added scatter against closed forms, changes of
//! frame and flights flown again; and what the program says about it.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout)]

use std::process::Command;

use arcwright::project::{DEMOS, parse};
use arcwright_model::aim::{self, ExitCurve, SpotAim, aim_spot};
use arcwright_model::flight::{DragLaw, Lift, SpinDecay};
use arcwright_model::limits::CURVE_POINTS;
use arcwright_model::project::{self, DriveBase, Moving, Project, Spot, Spread};
use arcwright_model::shot::{Chain, Stance};
use arcwright_model::target::{Crossing, Placement};

/// Convergence of the setpoint: a tenth of a millimetre, or the contact's own step, below 2 mm.
const CENTRED_M: f64 = 2e-3;

fn demo(name: &str) -> Project {
    let d = DEMOS.iter().find(|d| d.name == name).unwrap();
    parse(d.name, d.text).unwrap().project
}

fn moving(name: &str, along_mps: f64, across_mps: f64, turn_radps: f64) -> Project {
    let mut p = demo(name);
    p.moving = Moving {
        along_mps,
        across_mps,
        turn_radps,
        ..Moving::default()
    };
    p
}

fn in_vacuum(mut p: Project) -> Project {
    p.piece.drag.law = DragLaw::None;
    p.piece.lift = Lift::None;
    p.piece.spin_decay = SpinDecay::None;
    p.piece.carried_air = false;
    p.target.back_wall_m = 0.0;
    p
}

fn aim_at(project: &Project, spot: &Spot) -> SpotAim {
    let chain = Chain::of(project);
    let curve = ExitCurve::of(&chain, &project.machine.setting, CURVE_POINTS);
    aim_spot(project, &chain, &curve, &project.machine.setting, spot)
}

fn far(project: &Project) -> SpotAim {
    aim_at(project, project.spots.last().unwrap())
}

fn lead(project: &Project) -> f64 {
    far(project).best().unwrap().lead_rad
}

fn setpoint(project: &Project) -> f64 {
    far(project).best().unwrap().wheel_radps
}

/// The exit of a solution flown again on another chain at the same lead.
fn again(project: &Project, a: &SpotAim) -> Crossing {
    let s = a.best().unwrap();
    let chain = Chain::of(project);
    chain
        .crossing(&s.exit, &chain.stance_led(&a.spot, s.lead_rad))
        .unwrap()
}

/// Galilean relativity, textbook: seen from the robot, a target that stands is a target that comes
/// nearer. Without air the same exit from a standing robot meets a target displaced by −V t.
#[test]
fn without_air_a_moving_throw_is_a_standing_throw_at_a_displaced_target() {
    for (name, along, across) in [
        ("lantern", 0.9, -0.6),
        ("bramble", -0.7, 0.4),
        ("pebble", 0.5, 0.8),
    ] {
        let p = in_vacuum(moving(name, along, across, 0.0));
        let a = far(&p);
        let s = a.best().unwrap_or_else(|| panic!("{name}: {:?}", a.miss));
        let c = s.arrival.crossing.unwrap();
        let [vx, vy] = a.stance.platform_mps;
        let displaced = Stance {
            at: Placement {
                near_rim_m: a.stance.at.near_rim_m - vx * c.state.time_s,
                centre_line_m: a.stance.at.centre_line_m - vy * c.state.time_s,
            },
            platform_mps: [0.0; 2],
            ..a.stance
        };
        // An upright opening is met when the piece gets there, a level one when it comes down; the
        // level ones here make the time the same in both frames.
        let still = Chain::of(&p).standing().crossing(&s.exit, &displaced).unwrap();
        assert!((still.along_m - c.along_m).abs() < 1e-9, "{name}");
        assert!((still.across_m - c.across_m).abs() < 1e-9, "{name}");
        assert!(
            c.along_m.abs() < CENTRED_M && c.across_m.abs() < 1e-5,
            "{name} {c:?}"
        );
    }
}

/// Sideways motion without air: the path from above is a straight line from the release point, so
/// `sin(lead) = −V t/(v_h t + forward)`, derived from the parabola.
#[test]
fn without_air_the_sine_of_the_lead_is_the_sideways_speed_over_the_level_speed() {
    for across in [0.05, -0.4, 1.5] {
        let p = in_vacuum(moving("lantern", 0.0, across, 0.0));
        let a = far(&p);
        let s = a.best().unwrap();
        let level = s.exit.speed_mps * s.exit.angle_rad.cos();
        let t = s.arrival.crossing.unwrap().state.time_s;
        let sine = -across * t / (level * t + s.exit.forward_m);
        assert!(
            (s.lead_rad.sin() - sine).abs() < 1e-6,
            "{} {sine}",
            s.lead_rad.sin()
        );
        // First order in the speed, with the release point near the axle.
        if across.abs() < 0.5 {
            assert!((s.lead_rad + across / level).abs() < 0.05 * (across / level).abs());
        }
    }
}

#[test]
fn each_motion_leads_and_corrects_to_its_own_side() {
    let standing = setpoint(&demo("lantern"));
    let (left, right) = (
        moving("lantern", 0.0, 0.6, 0.0),
        moving("lantern", 0.0, -0.6, 0.0),
    );
    assert!(lead(&left) < -0.1, "to the left: face to the right");
    assert!((lead(&left) + lead(&right)).abs() < 1e-6, "a mirror");
    assert!((setpoint(&left) / setpoint(&right) - 1.0).abs() < 1e-6);
    let (toward, away) = (
        moving("lantern", 0.8, 0.0, 0.0),
        moving("lantern", -0.8, 0.0, 0.0),
    );
    for p in [&toward, &away] {
        assert!(lead(p).abs() < 1e-6, "head-on motion needs no lead");
    }
    assert!(setpoint(&toward) < standing - 10.0 && setpoint(&away) > standing + 10.0);
    // The release point swings to the left when it is ahead of the turning centre.
    let mut turning = moving("lantern", 0.0, 0.0, 1.0);
    turning.moving.ahead_of_centre_m = 0.4;
    let ahead = lead(&turning);
    turning.moving.ahead_of_centre_m = -0.4;
    let behind = lead(&turning);
    assert!(ahead < -0.05 && behind > 0.05, "{ahead} {behind}");
}

#[test]
fn with_air_and_wind_the_piece_flown_again_crosses_at_the_centre() {
    for name in ["lantern", "bramble", "pebble"] {
        let mut p = moving(name, 0.7, 0.5, 0.8);
        p.moving.ahead_of_centre_m = 0.1;
        p.site.wind_across_mps = -1.0;
        for spot in &p.spots {
            let a = aim_at(&p, spot);
            let Some(_) = a.best() else { continue };
            let c = again(&p, &a);
            assert!(c.along_m.abs() < CENTRED_M, "{name} {}: {}", spot.name, c.along_m);
            assert!(c.across_m.abs() < 1e-5, "{name} {}: {}", spot.name, c.across_m);
        }
        assert!(far(&p).best().is_some(), "{name}");
    }
}

#[test]
fn a_spot_to_the_side_leads_from_its_own_line_of_sight() {
    let p = moving("lantern", 0.9, 0.0, 0.0);
    let mut spot = p.spots[2].clone();
    spot.offset_m = 0.7;
    let a = aim_at(&p, &spot);
    let [vx, vy] = a.stance.platform_mps;
    assert!(
        (vy.atan2(vx) - a.stance.sight_rad).abs() < 1e-12,
        "toward the centre"
    );
    assert!(a.best().unwrap().lead_rad.abs() < 1e-4);
    assert!(again(&p, &a).across_m.abs() < 1e-5);
}

#[test]
fn a_robot_that_stands_is_not_touched_by_its_delay_or_its_axle() {
    let plain = demo("lantern");
    let mut still = plain.clone();
    still.moving = Moving {
        drive: DriveBase::Tank,
        launcher_heading_rad: 1.0,
        ahead_of_centre_m: 0.3,
        delay_s: 0.2,
        late_s: 0.1,
        ..Moving::default()
    };
    let (a, b) = (far(&plain), far(&still));
    let (s, t) = (a.best().unwrap(), b.best().unwrap());
    assert_eq!(s.wheel_radps, t.wheel_radps);
    assert_eq!(s.arrival.crossing, t.arrival.crossing);
    assert_eq!((s.lead_rad, s.moved), (0.0, None));
    assert_eq!((t.lead_rad, t.moved), (0.0, None));
}

#[test]
fn a_motion_that_dies_away_leaves_the_standing_setpoint() {
    let slow = far(&moving("lantern", 1e-6, -1e-6, 0.0));
    let s = slow.best().unwrap();
    let standing = s.moved.unwrap().standing_radps.unwrap();
    assert!(s.lead_rad.abs() < 1e-5);
    assert!((s.wheel_radps / standing - 1.0).abs() < 1e-3);
    assert_eq!(standing, setpoint(&demo("lantern")));
}

#[test]
fn a_tank_whose_launcher_looks_sideways_is_a_robot_that_moves_sideways() {
    let mut tank = moving("lantern", 1.1, 0.0, 0.0);
    tank.moving.drive = DriveBase::Tank;
    assert!(lead(&tank).abs() < 1e-6, "forward: no lead");
    tank.moving.launcher_heading_rad = 80f64.to_radians();
    let a = far(&tank);
    let s = a.best().unwrap();
    assert!(
        s.lead_rad > 0.05,
        "it drives to the right of the throw: {}",
        s.lead_rad
    );
    let [vx, vy] = a.stance.platform_mps;
    assert!((vx.hypot(vy) - 1.1).abs() < 1e-12);
    let axis = a.stance.heading_rad - 80f64.to_radians();
    assert!((vy.atan2(vx) - axis).abs() < 1e-12);
    let same = far(&moving("lantern", vx, vy, 0.0));
    let t = same.best().unwrap();
    assert!((s.lead_rad - t.lead_rad).abs() < 1e-6);
    assert!((s.wheel_radps / t.wheel_radps - 1.0).abs() < 1e-6);
}

/// v = V + Ω × r, and the piece turns with the robot.
#[test]
fn turning_adds_the_speed_of_the_lever_and_the_spin_of_the_robot() {
    let mut p = moving("lantern", 0.0, 0.0, 2.0);
    p.moving.ahead_of_centre_m = 0.25;
    let chain = Chain::of(&p);
    let spot = &p.spots[0];
    let s = far(&p).best().unwrap().exit;
    let (turned, still) = (
        s.state(&chain.stance(spot)),
        s.state(&chain.standing().stance(spot)),
    );
    let lever = 0.25 + s.forward_m;
    assert!((turned.velocity_mps[1] - still.velocity_mps[1] - 2.0 * lever).abs() < 1e-12);
    assert!((turned.velocity_mps[0] - still.velocity_mps[0]).abs() < 1e-12);
    assert!((turned.spin_radps[2] - 2.0).abs() < 1e-12);
    assert_eq!(turned.position_m, still.position_m);
}

#[test]
fn a_late_release_is_a_release_from_further_on() {
    let mut p = moving("lantern", 1.0, 0.0, 0.0);
    let a = far(&p);
    p.moving.late_s = 0.1;
    let late = again(&p, &a);
    p.moving.late_s = 0.0;
    let mut nearer = a.clone();
    nearer.spot.distance_m -= 0.1;
    let nearer = again(&p, &nearer);
    assert!((late.along_m - nearer.along_m).abs() < 1e-9);
    assert!((late.along_m - 0.1).abs() < 0.01, "{}", late.along_m);
    // Turning meanwhile swings the launcher.
    let mut q = moving("lantern", 0.0, 0.0, 0.5);
    let a = far(&q);
    q.moving.late_s = 0.1;
    assert!((again(&q, &a).across_m - 0.05 * 3.8).abs() < 0.02);
}

#[test]
fn an_error_of_heading_stays_an_error_on_the_move() {
    let p = moving("lantern", 0.0, 0.6, 0.0);
    let mut spot = p.spots[2].clone();
    spot.heading_rad = 0.05;
    let a = aim_at(&p, &spot);
    let s = a.best().unwrap();
    let across = s.arrival.crossing.unwrap().across_m;
    assert!((across - 0.05 * 3.8).abs() < 0.03, "{across}");
    assert!(
        (s.lead_rad - lead(&p)).abs() < 3e-3,
        "the lead is planned without it"
    );
}

/// Each spread alone against the crossing flown again with the quantity moved by one deviation, through
/// the same `set` that a Monte Carlo run uses.
#[test]
fn the_added_scatter_is_what_a_flight_with_the_error_misses_by() {
    let mut base = moving("lantern", 0.8, 0.4, 0.6);
    base.moving.ahead_of_centre_m = 0.5;
    let mut squares = [0.0; 2];
    let sds = [
        ("moving.along", 0.05),
        ("moving.across", 0.04),
        ("moving.turn_rate", 0.08),
        ("moving.late", 0.01),
    ];
    for (key, sd) in sds {
        let mut p = base.clone();
        p.spreads.insert(key.into(), Spread::Normal { sd });
        let a = far(&p);
        let s = a.best().unwrap();
        let at = |by: f64| {
            let mut q = p.clone();
            assert!(project::set(&mut q, key, project::get(&p, key).unwrap() + by));
            again(&q, &a)
        };
        let (low, high) = (at(-sd), at(sd));
        let miss = [
            0.5 * (high.along_m - low.along_m).abs(),
            0.5 * (high.across_m - low.across_m).abs(),
        ];
        let told = [s.moving_sd.along_m, s.moving_sd.across_m];
        assert!(told[0].max(told[1]) > 5e-3, "{key} decides: {told:?}");
        for (m, t) in miss.iter().zip(told) {
            assert!((m - t).abs() < 0.01 * t + 2e-5, "{key}: {m} {t}");
        }
        squares = [squares[0] + told[0].powi(2), squares[1] + told[1].powi(2)];
    }
    let mut all = base.clone();
    for (key, sd) in sds {
        all.spreads.insert(key.into(), Spread::Normal { sd });
    }
    let s = far(&all).best().unwrap().moving_sd;
    assert!((s.along_m.powi(2) / squares[0] - 1.0).abs() < 1e-6);
    assert!((s.across_m.powi(2) / squares[1] - 1.0).abs() < 1e-6);
}

#[test]
fn a_robot_faster_sideways_than_its_throw_has_no_lead_and_says_out_of_reach() {
    let p = moving("lantern", 0.0, 14.0, 0.0);
    let a = far(&p);
    assert!(a.best().is_none() && a.miss.is_some());
    for v in [15.0, -15.0] {
        for turn in [30.0, -30.0] {
            let mut p = moving("lantern", v, v, turn);
            p.moving.ahead_of_centre_m = 3.0;
            let _ = far(&p);
            let chain = Chain::of(&p);
            let exit = far(&demo("lantern")).best().unwrap().exit;
            assert!(aim::lead(&chain, &p.spots[0], &exit).is_none_or(f64::is_finite));
        }
    }
}

const LANTERN: &str = include_str!("../../../examples/lantern/arcwright.toml");

/// Runs the program in a folder of its own with a table added; standard output, error, exit code, and
/// whether `out/plan.svg` is there.
fn run(name: &str, table: &str, arguments: &[&str]) -> (String, String, i32, bool) {
    let folder = std::env::temp_dir().join(format!("arcwright-moving-{}-{name}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join("arcwright.toml"), format!("{LANTERN}\n{table}")).unwrap();
    let out = Command::new(env!("CARGO_BIN_EXE_arcwright"))
        .args(arguments)
        .current_dir(&folder)
        .output()
        .unwrap();
    let plan = folder.join("out/plan.svg").exists();
    std::fs::remove_dir_all(&folder).unwrap();
    (
        String::from_utf8(out.stdout).unwrap(),
        String::from_utf8(out.stderr).unwrap(),
        out.status.code().unwrap(),
        plan,
    )
}

const SIDEWAYS: &str = "[moving]\ndrive = \"sideways\"\nalong = \"0.4 m/s\"\n\
    across = { value = \"0.5 m/s\", sd = \"0.05 m/s\" }\ndelay = \"200 ms\"\n";

#[test]
fn aim_tells_lead_setpoint_scatter_and_where_to_give_the_command() {
    let (out, _, code, _) = run("aim", SIDEWAYS, &["aim"]);
    assert_eq!(code, 0, "{out}");
    for said in [
        "On the move: 0.4 m/s toward the target, 0.5 m/s to the left",
        "deg right of the target",
        "Give the command 128.1 mm before the spot: the piece leaves 0.2 s later.",
        "mm across",
        "keep it clear",
    ] {
        assert!(out.contains(said), "no {said:?} in\n{out}");
    }
    let (out, _, _, _) = run("throw", SIDEWAYS, &["throw", "--across", "0 m/s"]);
    assert!(
        out.contains("straight at the target") && out.contains("0.4 m/s toward the target"),
        "{out}"
    );
    let (out, _, _, _) = run("still", "", &["aim"]);
    assert!(!out.contains("lead") && !out.contains("On the move"), "{out}");
}

#[test]
fn json_carries_the_motion_and_null_for_a_robot_that_stands() {
    let (out, _, _, _) = run(
        "json",
        "",
        &["aim", "--json", "--across", "0.5 m/s", "--turn", "20 deg/s"],
    );
    let v: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(v["moving"]["across_mps"], 0.5);
    assert!((v["moving"]["turn_radps"].as_f64().unwrap() - 20f64.to_radians()).abs() < 1e-12);
    let s = &v["spots"][0]["solutions"][0];
    assert!(s["lead_rad"].as_f64().unwrap() < -0.1, "{s}");
    assert!(s["moved"]["standing_radps"].as_f64().unwrap() > 100.0);
    assert!(v["table"][0]["solutions"][0]["lead_rad"].as_f64().unwrap() < -0.1);
    let (out, _, _, _) = run("json-still", "", &["throw", "--json"]);
    let v: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert!(v["moving"].is_null() && v["moved"].is_null());
    assert_eq!(v["lead_rad"], 0.0);
}

#[test]
fn the_plan_is_drawn_for_a_robot_that_moves_and_only_then() {
    let (out, _, _, plan) = run("plan", SIDEWAYS, &["summary"]);
    assert!(plan && out.contains("plan.svg"), "{out}");
    let (out, _, _, plan) = run("no-plan", "", &["summary"]);
    assert!(!plan && !out.contains("plan.svg"), "{out}");
}

#[test]
fn a_tank_cannot_go_sideways_by_file_or_by_argument() {
    let tank = "[moving]\ndrive = \"tank\"\nalong = \"1 m/s\"\n";
    let (_, err, code, _) = run("tank", tank, &["aim", "--across", "0.5 m/s"]);
    assert!(
        code == 2 && err.contains("[not-here]") && err.contains("launcher_heading"),
        "{err}"
    );
    let (_, err, code, _) = run("tank-file", &format!("{tank}across = \"0.5 m/s\"\n"), &["aim"]);
    assert!(
        code == 2 && err.contains("not-here") && err.contains("moving.across"),
        "{err}"
    );
    let side = "[moving]\ndrive = \"sideways\"\nlauncher_heading = \"90 deg\"\n";
    let (_, err, code, _) = run("side-file", side, &["aim"]);
    assert!(code == 2 && err.contains("moving.launcher_heading"), "{err}");
    let (_, err, code, _) = run("no-drive", "[moving]\nalong = \"1 m/s\"\n", &["aim"]);
    assert!(code == 2 && err.contains("moving.drive"), "{err}");
    let (_, err, code, _) = run("fast", "", &["aim", "--along", "90 m/s"]);
    assert!(code == 2 && err.contains("out-of-range"), "{err}");
}
