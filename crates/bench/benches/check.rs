//! Where the time of `check` goes, in parts of the whole, and what a search for a setting adds.
//!
//! Ratios in one run; no limit is asserted. The budget it guards: `check` must feel instant.

#![allow(clippy::print_stdout)] // a bench prints its result

use std::hint::black_box;

use arcwright::project::{DEMOS, parse};
use arcwright_bench::timing::{Job, interleave};
use arcwright_model::aim::{ExitCurve, aim_all, best_setting};
use arcwright_model::limits::{CURVE_POINTS, check};
use arcwright_model::shot::Chain;
use arcwright_model::volley_run::run_from;

const ROUNDS: usize = 15;

fn main() {
    for demo in DEMOS {
        let Ok(loaded) = parse(demo.name, demo.text) else {
            println!("{}: does not parse", demo.name);
            continue;
        };
        let p = loaded.project;
        let chain = Chain::of(&p);
        let setting = p.machine.setting;
        let curve = ExitCurve::of(&chain, &setting, CURVE_POINTS);
        let aims = aim_all(&p, &chain, &curve, &setting);
        let far = aims.last();
        let at = far
            .and_then(|a| a.best())
            .map_or(0.5 * chain.top_radps, |s| s.wheel_radps);
        let mut jobs = [
            Job::new("check, all of it", 1, || {
                black_box(check(black_box(&p)));
            }),
            Job::new("  reading the file", 1, || {
                black_box(parse(demo.name, black_box(demo.text))).ok();
            }),
            Job::new("  exit curve", 1, || {
                black_box(ExitCurve::of(&chain, &setting, CURVE_POINTS));
            }),
            Job::new("  aim from every spot", 1, || {
                black_box(aim_all(&p, &chain, &curve, &setting));
            }),
            Job::new("  grip against the plateau", 1, || {
                black_box(chain.plateau(&setting, at));
            }),
            Job::new("  spin-up and volley", 1, || {
                black_box(far.and_then(|a| run_from(&p, &chain, a, false)));
            }),
            Job::new("one throw through the launcher", 1, || {
                black_box(chain.release(&setting, at, false));
            }),
            Job::new("search for the best setting", 1, || {
                black_box(best_setting(&p, &chain));
            }),
        ];
        // One thread, so that its processor time is the whole cost.
        match rayon::ThreadPoolBuilder::new().num_threads(1).build() {
            Ok(pool) => pool.install(|| interleave(&mut jobs, ROUNDS)),
            Err(e) => println!("{e}"),
        }
        let whole = jobs.first().map_or(f64::NAN, Job::rate);
        println!("\n{}", p.name);
        println!("  {:32} {:>10} {:>14}", "", "ms", "share of check");
        for job in &jobs {
            println!(
                "  {:32} {:10.2} {:14.2}",
                job.name,
                1e3 / job.rate(),
                whole / job.rate()
            );
        }
    }
}
