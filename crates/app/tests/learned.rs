//! Test shots fitted by the project's own chain. The shots are thrown by that chain with other values, flight by
//! flight, so the truth is known: what is checked is that it comes back, as often as the intervals say.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout)]

use arcwright::project::{DEMOS, parse};
use arcwright_model::flight::{Accuracy, Path, Until, fly_to_accuracy};
use arcwright_model::floor::{
    Effect, Fitted, Landing, MachineOptions, Seen, Shot, TimedFall, WallHeight, fit, fitted_project,
    setpoints,
};
use arcwright_model::launcher::{Passage, Setting};
use arcwright_model::numerics::random::Stream;
use arcwright_model::project::{self, Project, Spot};
use arcwright_model::shot::{Chain, Exit};
use arcwright_model::target::Outcome;

fn demo(name: &str) -> Project {
    let d = DEMOS.iter().find(|d| d.name == name).unwrap();
    parse(d.name, d.text).unwrap().project
}

/// What is true of a thrower, against its project.
#[derive(Clone, Copy, Debug)]
struct Truth {
    ln_speed: f64,
    angle_rad: f64,
    aside_rad: f64,
    drag_ratio: f64,
    scatter: [f64; 3],
    per_place: f64,
    last: f64,
    pieces: [f64; 3],
    per_volt: f64,
}

const TRUTH: Truth = Truth {
    ln_speed: 0.03,
    angle_rad: 0.02,
    aside_rad: -0.015,
    drag_ratio: 1.1,
    scatter: [0.012, 0.006, 0.008],
    per_place: 0.0,
    last: 0.0,
    pieces: [0.0; 3],
    per_volt: 0.0,
};

/// What is seen of each shot.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Eyes {
    Floor,
    FloorAndTime,
    Called,
    All,
}

/// A bare shot at a distance and wheel speed.
fn bare(project: &Project, distance_m: f64, wheel_radps: f64) -> Shot {
    Shot {
        session_index: 0,
        distance_m,
        offset_m: 0.0,
        turned_rad: 0.0,
        setting: project.machine.setting,
        setpoint_radps: wheel_radps,
        before_radps: None,
        after_radps: None,
        battery_v: None,
        piece: None,
        place: 0,
        last: false,
        seen: Seen::default(),
        jammed: false,
        left_out: false,
    }
}

/// Throws a shot with the truth and writes down what is seen.
fn throw(project: &Project, truth: &Truth, mut shot: Shot, eyes: Eyes, stream: &mut Stream) -> Shot {
    let chain = Chain::of(project);
    let mut n = || stream.normal();
    let Passage::Thrown(release) = chain.release(&shot.setting, shot.setpoint_radps, false) else {
        panic!("not thrown at {}", shot.setpoint_radps)
    };
    let mut exit = Exit::of(&release);
    let piece = shot.piece.map_or(0.0, |p| truth.pieces[p as usize]);
    let volt = shot.battery_v.map_or(0.0, |v| v - project.machine.battery.open_v);
    let faster = truth.ln_speed
        + truth.scatter[0] * n()
        + f64::from(shot.place) * truth.per_place
        + if shot.last { truth.last } else { 0.0 }
        + piece
        + volt * truth.per_volt;
    exit.speed_mps *= faster.exp();
    exit.spin_radps *= faster.exp();
    exit.angle_rad += truth.angle_rad + truth.scatter[1] * n();
    let spot = Spot {
        name: String::new(),
        distance_m: shot.distance_m,
        offset_m: shot.offset_m,
        heading_rad: shot.turned_rad + truth.aside_rad + truth.scatter[2] * n(),
    };
    let stance = chain.stance(&spot);
    let mut ball = chain.ball;
    ball.drag.scale_ratio *= truth.drag_ratio;
    let until = Until {
        time_s: 5.0,
        floor_m: -1.0,
    };
    let path: Path = fly_to_accuracy(
        &ball,
        &chain.medium,
        &exit.state(&stance),
        &until,
        Accuracy::Tight,
    );
    let floor_m = 0.5 * ball.diameter_m;
    let down = path.landing(floor_m).unwrap();
    let s = stance.sight_rad;
    if eyes != Eyes::Called {
        let [x, y, _] = down.position_m;
        shot.seen.landing = Some(Landing {
            along_m: x + 0.03 * n(),
            across_m: y * s.cos() - x * s.sin() + 0.03 * n(),
            height_m: floor_m,
        });
    }
    if matches!(eyes, Eyes::FloorAndTime | Eyes::All) {
        shot.seen.fall = Some(TimedFall {
            time_s: down.time_s + 0.02 * n(),
            height_m: floor_m,
        });
    }
    let mut other = chain.clone();
    other.ball = ball;
    if matches!(eyes, Eyes::Called | Eyes::All) {
        let arrival = other.fly(&exit, &stance);
        shot.seen.outcome = Some(arrival.outcome).filter(|o| *o != Outcome::None);
    }
    if eyes == Eyes::All {
        if let Some(c) = other.crossing(&exit, &stance) {
            shot.seen.miss_m = Some([c.along_m + 0.08 * n(), c.across_m + 0.08 * n()]);
        }
        let wall_m = 0.8 * shot.distance_m;
        let plane = arcwright_model::flight::Plane {
            point_m: [wall_m, 0.0, 0.0],
            normal: [1.0, 0.0, 0.0],
        };
        if let Some(at) = path.crossing(&plane) {
            shot.seen.wall = Some(WallHeight {
                distance_m: wall_m,
                height_m: at.position_m[2] + 0.03 * n(),
            });
        }
        shot.seen.exit_speed_mps = Some(exit.speed_mps * (1.0 + 0.02 * n()));
        shot.seen.exit_angle_rad = Some(exit.angle_rad + 0.01 * n());
        let taken = shot.setpoint_radps.powi(2) - release.wheel_after_radps[0].powi(2);
        let after = shot.setpoint_radps.powi(2) - taken * (2.0 * faster).exp();
        shot.before_radps = Some(shot.setpoint_radps);
        shot.after_radps = Some(after.sqrt() + n());
    }
    shot
}

/// Wheel speeds that centre the crossing from each distance, by the design.
fn designed(project: &Project, distances: &[f64]) -> Vec<(f64, f64)> {
    let chain = Chain::of(project);
    let curve = arcwright_model::aim::ExitCurve::of(&chain, &project.machine.setting, 24);
    distances
        .iter()
        .map(|&distance_m| {
            let spot = Spot {
                name: String::new(),
                distance_m,
                offset_m: 0.0,
                heading_rad: 0.0,
            };
            let aim =
                arcwright_model::aim::aim_spot(project, &chain, &curve, &project.machine.setting, &spot);
            (distance_m, aim.best().unwrap().wheel_radps)
        })
        .collect()
}

const DISTANCES: [f64; 4] = [2.0, 2.6, 3.2, 3.8];

/// A log of shots in turn from the distances.
fn log(project: &Project, truth: &Truth, count: usize, eyes: Eyes, seed: u64) -> Vec<Shot> {
    let mut stream = Stream::new(seed, 3);
    let plan = designed(project, &DISTANCES);
    (0..count)
        .map(|i| {
            let (d, w) = plan[i % plan.len()];
            throw(project, truth, bare(project, d, w), eyes, &mut stream)
        })
        .collect()
}

fn estimate(fitted: &Fitted, effect: Effect) -> (f64, f64) {
    let e = fitted.estimates.iter().find(|e| e.effect == effect).unwrap();
    (e.mean, e.sd)
}

#[test]
fn what_the_shots_were_thrown_with_comes_back() {
    for name in ["lantern", "bramble"] {
        let p = demo(name);
        let start = std::time::Instant::now();
        let shots = log(&p, &TRUTH, 24, Eyes::All, 1);
        println!("{name} thrown {:?}", start.elapsed());
        let start = std::time::Instant::now();
        let f = fit(&p, &shots, &MachineOptions::default()).unwrap();
        println!("{name} fitted {:?}", start.elapsed());
        for e in &f.estimates {
            println!(
                "{} {:.4} ± {:.4} (before {:.4} ± {:.4}) ratio {:.2}",
                e.name, e.mean, e.sd, e.prior_mean, e.prior_sd, e.ratio
            );
        }
        for n in &f.diagnostics {
            println!("{} {} -> {}", n.code, n.what, n.fix);
        }
        for n in &f.apart {
            println!("{} -> {}", n.what, n.shots);
        }
        println!(
            "{} steps {} {} {}",
            f.posterior.step_count, f.posterior.converged, f.posterior.definite, f.confident
        );
        let start = std::time::Instant::now();
        for s in setpoints(&p, &f, &DISTANCES) {
            println!("{s:?}");
        }
        println!("{name} table {:?}", start.elapsed());
    }
}
