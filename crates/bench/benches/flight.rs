//! Flights in a second on one core: the batch kernel, plain code, a library. Ratios count, not times.
#![allow(clippy::print_stdout)] // a bench prints its result

use arcwright_bench::rival::Throw;
use arcwright_bench::sets::{Set, UNTIL, Variant, medium, scatter, sweep, throw};
use arcwright_bench::timing::{Job, interleave};
use arcwright_model::flight::batch::{Outcome, fly_batch, fly_batch_into};
use arcwright_model::flight::{Accuracy, fly, fly_to_accuracy};
use std::hint::black_box;

/// The accuracy that every rival has to reach on the set it is timed on.
const CLAIM_M: f64 = 1e-6;
/// Throws of a batch: their columns stay in the cache, as those of the rivals do.
const LANES: usize = 1 << 15;
/// Batches in one run.
const BATCHES: usize = 8;
const SINGLES: usize = 2048;
const ROUNDS: usize = 9;

fn main() {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build();
    match pool {
        Ok(pool) => pool.install(run),
        Err(error) => println!("no thread pool: {error}"),
    }
}

fn run() {
    let narrow = scatter(LANES, 1);
    let wide = sweep(LANES, 2);
    for variant in [Variant::Constant, Variant::Curve] {
        for set in [&narrow, &wide] {
            compare(set, variant);
        }
    }
}

fn distance(a: [f64; 3], b: [f64; 3]) -> f64 {
    a.iter()
        .zip(b)
        .map(|(a, b)| (a - b) * (a - b))
        .sum::<f64>()
        .sqrt()
}

/// Crossings by the accurate solver.
fn reference(set: &Set, variant: Variant, count: usize) -> Vec<[f64; 3]> {
    let one = |i| {
        let (ball, start) = throw(&set.row(i), variant);
        fly(&ball, &medium(), &start, &UNTIL)
            .crossing(&set.plane())
            .map_or([f64::NAN; 3], |s| s.position_m)
    };
    (0..count).map(one).collect()
}

/// Error that a share of the flights stays below; a missing crossing counts as infinite.
fn error(found: impl Fn(usize) -> [f64; 3], exact: &[[f64; 3]], share: f64) -> f64 {
    let one = |(i, exact): (usize, &[f64; 3])| {
        let e = distance(found(i), *exact);
        if e.is_nan() { f64::INFINITY } else { e }
    };
    let mut errors: Vec<f64> = exact.iter().enumerate().map(one).collect();
    errors.sort_by(f64::total_cmp);
    let index = ((errors.len() as f64 * share) as usize).min(errors.len().saturating_sub(1));
    errors.get(index).copied().unwrap_or(f64::NAN)
}

/// Every flight.
const ALL: f64 = 1.0;
/// Nearly every: the library's event search steps over some short crossings whatever its tolerance.
const NEARLY_ALL: f64 = 0.98;

/// The fastest setting on a falling grid that keeps the claim.
fn loosest(grid: impl Iterator<Item = f64>, error: impl Fn(f64) -> f64) -> f64 {
    let mut last = f64::NAN;
    for setting in grid {
        last = setting;
        if error(setting) <= CLAIM_M {
            break;
        }
    }
    last
}

fn compare(set: &Set, variant: Variant) {
    println!("\nset {}, {variant:?} drag", set.name);
    let exact = reference(set, variant, 16 * SINGLES);
    let throws: Vec<Throw> = (0..SINGLES)
        .map(|i| Throw::new(&set.row(i), variant, set.plane_z_m))
        .collect();
    let few = exact.get(..SINGLES).unwrap_or(&exact);
    match fly_batch(&set.batch(variant)) {
        Ok(arrivals) => {
            let crossed = arrivals.iter().filter(|a| a.outcome == Outcome::Crossed).count();
            let error = error(|i| arrivals[i].position_m, &exact, ALL);
            println!(
                "  batch: {crossed} of {} crossed, worst error {error:.1e} m",
                set.len()
            );
        }
        Err(error) => println!("  batch: {error:?}"),
    }
    let steps = (0..50).map(|i| 0.15 * 0.9_f64.powi(i));
    let tolerances = || (0..17).map(|i| 1e-5 * 0.4_f64.powi(i));
    let step = loosest(steps, |h| error(|i| throws[i].fly_plain(h), few, ALL));
    let library = |eight| {
        loosest(tolerances(), |tol| {
            error(|i| throws[i].fly_library(eight, tol), few, NEARLY_ALL)
        })
    };
    let (five, eight) = (library(false), library(true));
    let quick = error(
        |i| {
            let (ball, start) = throw(&set.row(i), variant);
            let path = fly_to_accuracy(&ball, &medium(), &start, &UNTIL, Accuracy::Quick);
            path.crossing(&set.plane())
                .map_or([f64::NAN; 3], |s| s.position_m)
        },
        few,
        ALL,
    );
    println!(
        "  settings: plain step {step:.2e} s, library tolerances {five:.1e} and {eight:.1e}; single Quick {quick:.1e} m"
    );
    let mut arrivals = fly_batch(&set.batch(variant)).unwrap_or_default();
    let batch = || {
        for _ in 0..BATCHES {
            black_box(fly_batch_into(&black_box(set.batch(variant)), &mut arrivals)).ok();
        }
    };
    let throws = &throws;
    let singles = |accuracy: Accuracy| {
        move || {
            for i in 0..SINGLES {
                let (ball, start) = throw(&set.row(i), variant);
                let path = fly_to_accuracy(&ball, &medium(), &start, &UNTIL, accuracy);
                black_box(path.crossing(&set.plane()));
            }
        }
    };
    let mut jobs = [
        Job::new("batch", BATCHES * set.len(), batch),
        Job::new("single flight, quick", SINGLES, singles(Accuracy::Quick)),
        Job::new("single flight, tight", SINGLES, singles(Accuracy::Tight)),
        Job::new("plain order four and cubic", SINGLES, || {
            throws.iter().for_each(|t| {
                black_box(t.fly_plain(step));
            });
        }),
        Job::new("library, order five", SINGLES, || {
            throws.iter().for_each(|t| {
                black_box(t.fly_library(false, five));
            });
        }),
        Job::new("library, order eight", SINGLES, || {
            throws.iter().for_each(|t| {
                black_box(t.fly_library(true, eight));
            });
        }),
    ];
    interleave(&mut jobs, ROUNDS);
    let batch = jobs.first().map_or(f64::NAN, Job::rate);
    println!("  {:28} {:>12} {:>8}", "", "per second", "batch /");
    for job in &jobs {
        println!("  {:28} {:12.0} {:8.1}", job.name, job.rate(), batch / job.rate());
    }
}
