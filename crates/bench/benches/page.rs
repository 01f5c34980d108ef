//! What the page adds to what it shows: a reply of the room Bench against the bare computation of the same pictures.
//!
//! The reply reads the text with a changed value, works out every part, draws, and writes JSON: all that happens between
//! a moved handle and the bytes that leave. Ratios in one run; no limit is asserted. The budget it guards: at most 2.

#![allow(clippy::print_stdout)] // a bench prints its result

use std::hint::black_box;

use arcwright::project::{Change, DEMOS, parse, with_values};
use arcwright::tasks::bench::{Ask, answer};
use arcwright::tasks::floor::taught::Standing;
use arcwright_bench::timing::{Job, interleave};
use arcwright_model::aim::table;
use arcwright_model::launcher::Passage;
use arcwright_model::limits::check_unsearched;
use arcwright_model::project::Project;
use arcwright_model::shot::Exit;
use arcwright_model::volley_run::{RunPlan, run};

const ROUNDS: usize = 15;
/// What the room asks for while a handle moves.
const PARTS: &[&str] = &[
    "check",
    "picture.launcher",
    "hold.launcher",
    "picture.flights",
    "picture.volley",
    "picture.guide-force",
    "picture.setpoints",
    "volley",
];

/// The numbers in the pictures, by the model alone: every one worked out once.
fn bare(p: &Project) {
    let report = check_unsearched(p);
    let (chain, setting) = (&report.chain, &p.machine.setting);
    let last = p.spots.len() - 1;
    let Some(at) = report.aims.get(last).and_then(|a| a.best()) else {
        return;
    };
    if let Passage::Thrown(release) = chain.release(setting, at.wheel_radps, true) {
        let exit = Exit::of(&release);
        let stance = chain.stance(&p.spots[last]);
        black_box(chain.fly(&exit, &stance));
        black_box(chain.plateau(setting, at.wheel_radps));
        let plan = RunPlan {
            setpoint_radps: at.wheel_radps,
            throw_count: p.limits.volley_count,
            interval_s: p.limits.throw_interval_s,
            with_samples: true,
        };
        black_box(run(p, chain, &p.spots[last].name, &stance, &plan));
    }
    let (near, far) = p.spot_range().unwrap_or_default();
    black_box(table(
        p,
        chain,
        &report.curve,
        setting,
        ((far - near) / 24.0).max(1e-3),
    ));
}

fn reply(text: &str, parts: &[&str], by: f64) -> usize {
    let changes = [Change {
        key: "setting.tilt".into(),
        value_si: by,
    }];
    let Ok(edited) = with_values(text, &changes) else {
        return 0;
    };
    let standing = Standing::design(edited.project);
    let ask = Ask {
        want: parts.iter().map(|p| (*p).to_string()).collect(),
        unsearched: true,
        ..Ask::default()
    };
    match answer(&standing, &ask, &|| false) {
        Ok(Some(parts)) => serde_json::to_string(&parts).map_or(0, |s| s.len()),
        _ => 0,
    }
}

fn main() {
    for demo in DEMOS {
        let Ok(loaded) = parse(demo.name, demo.text) else {
            println!("{}: does not parse", demo.name);
            continue;
        };
        let p = loaded.project;
        let tilt = p.machine.setting.tilt_rad;
        let mut jobs = vec![
            Job::new("bare computation", 1, || bare(black_box(&p))),
            Job::new("reply, all parts", 1, || {
                black_box(reply(demo.text, PARTS, tilt));
            }),
            Job::new("  reading the text", 1, || {
                black_box(reply(demo.text, &[], tilt));
            }),
        ];
        for part in PARTS {
            jobs.push(Job::new(format!("  {part} alone"), 1, || {
                black_box(reply(demo.text, &[part], tilt));
            }));
        }
        // One thread, so that its processor time is the whole cost.
        match rayon::ThreadPoolBuilder::new().num_threads(1).build() {
            Ok(pool) => pool.install(|| interleave(&mut jobs, ROUNDS)),
            Err(e) => println!("{e}"),
        }
        let base = jobs.first().map_or(f64::NAN, Job::rate);
        println!("\n{}: {} bytes", p.name, reply(demo.text, PARTS, tilt));
        println!("  {:32} {:>10} {:>22}", "", "ms", "ratio to bare");
        for job in &jobs {
            println!(
                "  {:32} {:10.2} {:22.2}",
                job.name,
                1e3 / job.rate(),
                base / job.rate()
            );
        }
    }
}
