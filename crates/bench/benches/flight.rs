//! Flights in a second on one core: the batch kernel, plain code, a library. Ratios count, not times.
#![allow(clippy::print_stdout)] // a bench prints its result

use arcwright_bench::kernel::{KERNELS, Kernel};
use arcwright_bench::peak::flops_per_second;
use arcwright_bench::rival::Throw;
use arcwright_bench::sets::{Set, UNTIL, Variant, medium, scatter, sweep, throw};
use arcwright_bench::timing::{Job, interleave};
use arcwright_model::flight::batch::Outcome;
use arcwright_model::flight::{Accuracy, fly, fly_to_accuracy};
use std::hint::black_box;
use std::time::Instant;

/// The accuracy that every rival has to reach on the set it is timed on.
const CLAIM_M: f64 = 1e-6;
/// Throws of a batch.
const LANES: usize = 1 << 17;
/// Batches in one run.
const BATCHES: usize = 2;
const SINGLES: usize = 2048;
const ROUNDS: usize = 9;

fn main() {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build();
    match pool {
        Ok(pool) => pool.install(run),
        Err(error) => println!("no thread pool: {error}"),
    }
    scaling();
}

/// Throws of the batches of the table of sizes.
const SIZES: [usize; 4] = [1_000, 10_000, 100_000, 1_000_000];
/// Threads of the table of sizes.
const THREADS: [usize; 2] = [1, 2];
/// Throws that each entry of the table of sizes flies in all for one measurement.
const WORK: usize = 1_000_000;

/// Throws in a second of the clock by size of the batch and number of threads, set N with constant drag:
/// a table in Markdown. By the clock, since the threads work side by side: other work on the machine shows.
fn scaling() {
    println!("\n| throws | threads | exact | fast | alike, exact | alike, fast |");
    println!("| --- | --- | --- | --- | --- | --- |");
    for size in SIZES {
        let set = scatter(size, 1);
        for threads in THREADS {
            let Ok(pool) = rayon::ThreadPoolBuilder::new().num_threads(threads).build() else {
                continue;
            };
            let rate = |kernel: Kernel| {
                let batch = set.batch(Variant::Constant);
                let mut arrivals = kernel.fly(&batch).unwrap_or_default();
                let mut seconds: Vec<f64> = (0..ROUNDS)
                    .map(|_| {
                        let start = Instant::now();
                        pool.install(|| {
                            for _ in 0..WORK / size {
                                black_box(kernel.fly_into(&black_box(batch), &mut arrivals)).ok();
                            }
                        });
                        start.elapsed().as_secs_f64()
                    })
                    .collect();
                seconds.sort_by(f64::total_cmp);
                WORK as f64 / seconds.get(ROUNDS / 2).copied().unwrap_or(f64::NAN)
            };
            let rates: String = KERNELS
                .map(|kernel| format!(" {:.1} M |", 1e-6 * rate(kernel)))
                .concat();
            println!("| {size} | {threads} |{rates}");
        }
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
    for kernel in KERNELS {
        let arrivals = kernel.fly(&set.batch(variant)).unwrap_or_default();
        let crossed = arrivals.iter().filter(|a| a.outcome == Outcome::Crossed).count();
        let error = error(
            |i| arrivals.get(i).map_or([f64::NAN; 3], |a| a.position_m),
            &exact,
            ALL,
        );
        println!(
            "  {}: {crossed} of {} crossed, worst error {error:.1e} m",
            kernel.name,
            set.len()
        );
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
    let batch = |kernel: Kernel| {
        let batch = set.batch(variant);
        let mut arrivals = kernel.fly(&batch).unwrap_or_default();
        move || {
            for _ in 0..BATCHES {
                black_box(kernel.fly_into(&black_box(batch), &mut arrivals)).ok();
            }
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
    let kernels = KERNELS.map(|kernel| Job::new(kernel.name, BATCHES * set.len(), batch(kernel)));
    let others = [
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
    let mut jobs: Vec<Job> = kernels.into_iter().chain(others).collect();
    interleave(&mut jobs, ROUNDS);
    let peak = flops_per_second();
    println!("  {:28} {:>12}    over it, as listed", "", "per second");
    for (i, job) in jobs.iter().enumerate() {
        let (rate, name) = (job.rate(), &job.name);
        let over: String = jobs
            .iter()
            .take(KERNELS.len())
            .map(|kernel| format!(" {:7.1}", kernel.rate() / rate))
            .collect();
        let share = KERNELS.get(i).map_or_else(String::new, |kernel| {
            let flops = kernel.flops(&set.batch(variant));
            let share = 100.0 * flops * rate / peak;
            format!("   {flops:.0} flops a throw, {share:.0} % of the peak")
        });
        println!("  {name:28} {rate:12.0}{over}{share}");
    }
    println!("  peak {:.1} Gflop/s", 1e-9 * peak);
}
