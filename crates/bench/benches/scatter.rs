//! What a hit chance to ±0.1 % costs, against throwing every throw through the whole chain, and what a search costs.
//!
//! Ratios in one run; no limit is asserted. The budgets it guards: `scatter` answers in seconds, `seek` in a minute.

#![allow(clippy::print_stdout)] // a bench prints its result

use std::hint::black_box;
use std::time::Instant;

use arcwright::project::{DEMOS, parse};
use arcwright_bench::timing::{Job, interleave};
use arcwright_model::aim::{ExitCurve, aim_all};
use arcwright_model::limits::CURVE_POINTS;
use arcwright_model::numerics::sobol::Sobol;
use arcwright_model::project::{Project, default_free};
use arcwright_model::scatter::{Detail, SamplePlan, Scope, Thrower, centred, sample};
use arcwright_model::seek::{QUICK_COUNT, SeekPlan, judge, seek};
use arcwright_model::shot::Chain;

const ROUNDS: usize = 3;
/// Half width of the 95 % interval aimed at.
const WITHIN: f64 = 1e-3;
const MOST: usize = 1 << 17;

fn pool(threads: usize) -> rayon::ThreadPool {
    #[allow(clippy::expect_used)] // without threads there is nothing to bench
    rayon::ThreadPoolBuilder::new()
        .num_threads(threads)
        .build()
        .expect("threads")
}

fn plan(most_count: usize, until_frac: f64) -> SamplePlan {
    SamplePlan {
        seed: 1,
        most_count,
        until_frac,
    }
}

/// Setpoints and leads of every spot.
fn setpoints(p: &Project) -> Vec<(f64, f64)> {
    let chain = Chain::of(p);
    let setting = p.machine.setting;
    let curve = ExitCurve::of(&chain, &setting, CURVE_POINTS);
    aim_all(p, &chain, &curve, &setting)
        .iter()
        .filter_map(|a| a.best().map(|s| (s.wheel_radps, s.lead_rad)))
        .collect()
}

fn prepared(p: &Project, i: usize, at: (f64, f64)) -> Option<(Thrower, f64)> {
    centred(p, i, at.0, at.1, Scope::Throws, Detail::Fine, 1).ok()
}

/// The hit chance at the last spot: cost against the true chain.
fn hit_chance(name: &str, p: &Project) {
    let at = setpoints(p);
    let i = at.len().saturating_sub(1);
    let Some((t, ratio)) = at.get(i).and_then(|a| prepared(p, i, *a)) else {
        return;
    };
    let found = sample(&t, ratio, &plan(MOST, WITHIN));
    let hit = found.hit.frac;
    const TRUE: usize = 64;
    let mut columns = vec![Vec::new(); t.dimension_count()];
    let mut flown = columns.clone();
    if let Some(s) = Sobol::new(t.dimension_count(), 3, 0) {
        s.block(0, TRUE, &mut columns);
        s.block(0, 8192, &mut flown);
    }
    let mut jobs = [
        Job::new("prepare: volleys, fit, centring", 1, || {
            black_box(at.get(i).and_then(|a| prepared(p, i, *a)));
        }),
        Job::new("throws until ±0.1 %", 1, || {
            black_box(sample(&t, ratio, &plan(MOST, WITHIN)));
        }),
        Job::new("one throw by the true chain", TRUE, || {
            for k in 0..TRUE {
                black_box(t.true_outcome(&columns, k, ratio));
            }
        }),
        Job::new("draw, fitted exit and true flight only", 8192, || {
            black_box(t.crossings(&flown, ratio));
        }),
    ];
    pool(1).install(|| interleave(&mut jobs, ROUNDS));
    let seconds: Vec<f64> = jobs.iter().map(|j| 1.0 / j.rate()).collect();
    let [prepare, throws, one, light] = seconds[..] else {
        return;
    };
    let whole = prepare + throws;
    let plain = hit * (1.0 - hit) * (1.96 / WITHIN).powi(2);
    println!(
        "\n{name}, `{}`: hit {:.2} %, {} throws",
        p.spots[i].name,
        100.0 * hit,
        found.count
    );
    println!(
        "  passages run truly: {} to fit, {} near the rim",
        found.pilot_count, found.true_count
    );
    println!(
        "  whole {:.0} ms of one core: prepare {:.0}, throw {:.0}",
        1e3 * whole,
        1e3 * prepare,
        1e3 * throws
    );
    println!(
        "  over plain random throws by the true chain ({plain:.0} throws): {:.0}x",
        plain * one / whole
    );
    println!(
        "  over the same even throws by the true chain: {:.0}x",
        found.count as f64 * one / whole
    );
    println!(
        "  share of the limit (draw and fly each throw, nothing else): {:.0} %",
        100.0 * found.count as f64 * light / throws
    );
}

/// Wall time against throws, spots and threads.
fn scaling(name: &str, p: &Project) {
    let at = setpoints(p);
    let all: Vec<(Thrower, f64)> = at
        .iter()
        .enumerate()
        .filter_map(|(i, a)| prepared(p, i, *a))
        .collect();
    println!("\n{name}: wall time of throwing (ms)");
    println!(
        "  {:>8} {:>8} {:>10} {:>10}",
        "throws", "spots", "1 thread", "2 threads"
    );
    for count in [2048, 8192, 32_768] {
        for spots in [1, all.len()] {
            let time = |threads: usize| {
                let start = Instant::now();
                pool(threads).install(|| {
                    for (t, ratio) in all.iter().rev().take(spots) {
                        black_box(sample(t, *ratio, &plan(count, 0.0)));
                    }
                });
                1e3 * start.elapsed().as_secs_f64()
            };
            println!("  {count:>8} {spots:>8} {:>10.0} {:>10.0}", time(1), time(2));
        }
    }
}

fn search(name: &str, p: &Project) {
    const DESIGNS: usize = 40;
    let freed = default_free(p);
    let at = setpoints(p);
    let i = at.len().saturating_sub(1);
    let Some((t, ratio)) = at.get(i).and_then(|a| prepared(p, i, *a)) else {
        return;
    };
    let mut columns = vec![Vec::new(); t.dimension_count()];
    if let Some(s) = Sobol::new(t.dimension_count(), 3, 0) {
        s.block(0, 32, &mut columns);
    }
    let plan = SeekPlan {
        freed,
        most_count: DESIGNS,
        seed: 1,
    };
    let mut jobs = [
        Job::new("judge one design", 1, || {
            black_box(judge(p, 1, QUICK_COUNT));
        }),
        Job::new("seek, 40 designs", 1, || {
            black_box(seek(p, &plan, &mut |_| true));
        }),
        Job::new("one throw by the true chain", 32, || {
            for k in 0..32 {
                black_box(t.true_outcome(&columns, k, ratio));
            }
        }),
    ];
    pool(1).install(|| interleave(&mut jobs, ROUNDS));
    let seconds: Vec<f64> = jobs.iter().map(|j| 1.0 / j.rate()).collect();
    let [one, whole, true_throw] = seconds[..] else {
        return;
    };
    let truly = (2 * QUICK_COUNT * p.spots.len()) as f64 * true_throw;
    println!("\n{name}: search over {} quantities", plan.freed.len());
    println!(
        "  one design judged: {:.0} ms of one core, {:.0}x as fast as its throws by the true chain",
        1e3 * one,
        truly / one
    );
    println!(
        "  {DESIGNS} designs with limits and what each change buys: {:.1} s of one core",
        whole
    );
}

fn main() {
    for demo in DEMOS {
        let Ok(loaded) = parse(demo.name, demo.text) else {
            println!("{}: does not parse", demo.name);
            continue;
        };
        hit_chance(demo.name, &loaded.project);
        search(demo.name, &loaded.project);
    }
    if let Some(Ok(loaded)) = DEMOS.get(1).map(|d| parse(d.name, d.text)) {
        scaling("bramble", &loaded.project);
    }
}
