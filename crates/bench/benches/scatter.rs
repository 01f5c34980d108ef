//! What a hit chance to ±0.1 % costs, against throwing every throw through the whole chain, and what a search costs.
//!
//! Ratios in one run; no limit is asserted. Seconds are of the processor, added over the threads, unless a
//! column says clock.

#![allow(clippy::print_stdout)] // a bench prints its result

use std::hint::black_box;
use std::time::Instant;

use arcwright::project::{DEMOS, parse};
use arcwright_bench::sets::{Variant, scatter};
use arcwright_model::aim::{ExitCurve, aim_all};
use arcwright_model::flight::batch::fly_batch;
use arcwright_model::limits::CURVE_POINTS;
use arcwright_model::numerics::sobol::Sobol;
use arcwright_model::project::{Project, Spread, default_free};
use arcwright_model::scatter::{Detail, REPLICATE_COUNT, SamplePlan, Scope, Thrower, centred, sample};
use arcwright_model::seek::{QUICK_COUNT, SeekPlan, seek};
use arcwright_model::shot::Chain;
use arcwright_model::target::Outcome;
use cpu_time::ProcessTime;

/// Half width of the 95 % interval aimed at.
const WITHIN: f64 = 1e-3;
/// Standard errors in half of a 95 % interval of independent throws.
const NORMAL_95: f64 = 1.96;
/// The same for the mean of the randomisations: Student's t with 15 degrees of freedom [student-1908].
const STUDENT_95: f64 = 2.131;
const MOST: usize = 1 << 17;
/// Throws of each randomisation that are sent through the true chain.
const TRUE_COUNT: usize = 128;
/// Throws of each randomisation that show how the error falls with their number.
const MANY_COUNT: usize = 4096;
/// Designs of the full search, as the command has it unless told otherwise.
const DESIGNS: usize = 240;
/// Designs of the search in the table of threads.
const FEW_DESIGNS: usize = 16;

/// Seconds of the processor and of the clock that a job takes on so many threads, and what it gives.
fn timed<T: Send>(threads: usize, job: impl FnOnce() -> T + Send) -> (f64, f64, T) {
    #[allow(clippy::expect_used)] // without threads there is nothing to bench
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(threads)
        .build()
        .expect("threads");
    pool.install(|| {
        let (clock, processor) = (Instant::now(), ProcessTime::now());
        let out = job();
        (
            processor.elapsed().as_secs_f64(),
            clock.elapsed().as_secs_f64(),
            out,
        )
    })
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

/// The first throws of one randomisation.
fn draws(t: &Thrower, replicate: usize, count: usize) -> Vec<Vec<f64>> {
    let mut columns = vec![Vec::new(); t.dimension_count()];
    if let Some(s) = Sobol::new(t.dimension_count(), 3, replicate as u32) {
        s.block(0, count, &mut columns);
    }
    columns
}

/// Deviation of a share between the randomisations.
fn deviation(shares: &[f64]) -> f64 {
    let n = shares.len() as f64;
    let mean = shares.iter().sum::<f64>() / n;
    (shares.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt()
}

/// The hit chance at the last spot against the true chain. Returns the seconds of one true throw.
fn hit_chance(name: &str, p: &Project) -> f64 {
    let at = setpoints(p);
    let i = at.len().saturating_sub(1);
    let Some(last) = at.get(i).copied() else {
        return f64::NAN;
    };
    let (prepare, _, ready) = timed(1, || prepared(p, i, last));
    let Some((t, ratio)) = ready else { return f64::NAN };
    let mut runs: Vec<_> = (0..3)
        .map(|_| timed(1, || sample(&t, ratio, &plan(MOST, WITHIN))))
        .collect();
    runs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (throws, _, found) = runs.swap_remove(1);
    let (truly, _, true_shares) = timed(1, || {
        let share = |r| {
            let columns = draws(&t, r, TRUE_COUNT);
            let hits = |k: &usize| t.true_outcome(&columns, *k, ratio) == Outcome::In;
            (0..TRUE_COUNT).filter(hits).count() as f64 / TRUE_COUNT as f64
        };
        (0..REPLICATE_COUNT).map(share).collect::<Vec<f64>>()
    });
    let one = truly / (TRUE_COUNT * REPLICATE_COUNT) as f64;
    let fitted = |count| {
        let share = |r| t.quick_hits(&draws(&t, r, count), ratio, 1.0);
        deviation(&(0..REPLICATE_COUNT).map(share).collect::<Vec<f64>>())
    };
    let (_, _, (few, many)) = timed(1, || (fitted(TRUE_COUNT), fitted(MANY_COUNT)));
    let power = (few / many).ln() / ((MANY_COUNT / TRUE_COUNT) as f64).ln();
    let half = STUDENT_95 * deviation(&true_shares) / (REPLICATE_COUNT as f64).sqrt();
    // Where nearly every throw needs the true chain the interval stays wider; the rivals get the same.
    let within = found.hit.half_width_frac().max(WITHIN);
    let even = (TRUE_COUNT * REPLICATE_COUNT) as f64 * (half / within).powf(1.0 / power);
    let hit = found.hit.frac;
    let plain = hit * (1.0 - hit) * (NORMAL_95 / within).powi(2);
    let set = scatter(found.count, 1);
    let (limit, _, _) = timed(1, || black_box(fly_batch(&set.batch(Variant::Curve))));
    let whole = prepare + throws;
    println!(
        "\n{name}, `{}`: hit {:.2} % ± {:.2} %, {} throws",
        p.spots.get(i).map_or("", |s| s.name.as_str()),
        100.0 * hit,
        100.0 * found.hit.half_width_frac(),
        found.count
    );
    println!(
        "  passages run truly: {} to fit, {} near the rim, {} to see; {:.2} ms for a whole throw by the true chain",
        found.pilot_count,
        found.true_count,
        found.checked[0],
        1e3 * one
    );
    println!("  {whole:.2} s of one core: {prepare:.2} to prepare, {throws:.2} to throw");
    println!(
        "  over random throws by the true chain: {:.0}x ({plain:.0} throws by the binomial law, {:.0} s)",
        plain * one / whole,
        plain * one
    );
    println!(
        "  over even (Sobol) throws by the true chain: {:.1}x ({even:.0} throws, {:.0} s; from {} true ones, with the error falling as n^-{power:.2} as it does for the fitted ones)",
        even * one / whole,
        even * one,
        TRUE_COUNT * REPLICATE_COUNT
    );
    println!(
        "  share of the limit (as many flights by the batch alone): {:.1} % of the throwing, {:.1} % of the whole",
        100.0 * limit / throws,
        100.0 * limit / whole
    );
    one
}

/// A whole search, against its throws by the true chain.
fn search(name: &str, p: &Project, true_throw: f64) {
    let run = |threads, most_count| {
        let plan = SeekPlan {
            freed: default_free(p),
            most_count,
            seed: 1,
        };
        timed(threads, move || seek(p, &plan, &mut |_| true).tried.len())
    };
    let (processor, clock, judged) = run(2, DESIGNS);
    // Each design is thrown twice, the second time with everything varying more.
    let truly = (2 * QUICK_COUNT * p.spots.len()) as f64 * true_throw;
    println!(
        "\n{name}, a whole search over {} quantities: {judged} designs judged, {processor:.0} s of the processor, {clock:.0} s by the clock on 2 threads",
        default_free(p).len()
    );
    println!(
        "  {:.1} designs for each second of the processor; {:.0}x as fast as the throws alone by the true chain",
        judged as f64 / processor,
        judged as f64 * truly / processor
    );
    println!("\n| search, designs | threads | s, processor | s, clock |\n| --- | --- | --- | --- |");
    for threads in [1, 2] {
        let (processor, clock, judged) = run(threads, FEW_DESIGNS);
        println!("| {judged} | {threads} | {processor:.1} | {clock:.1} |");
    }
}

/// Throws that `sample` does against their number, the number of spots and of threads.
fn scaling(p: &Project) {
    let at = setpoints(p);
    let all: Vec<(Thrower, f64)> = at
        .iter()
        .enumerate()
        .filter_map(|(i, a)| prepared(p, i, *a))
        .collect();
    println!("\n| spots | throws from each | run truly | threads | s, processor | s, clock |");
    println!("| --- | --- | --- | --- | --- | --- |");
    let one_spot = (12..=17).map(|power| (1, 1 << power));
    // More spots than the project has: the same ones again.
    let more_spots = [3, 6, 12].map(|spots| (spots, 1 << 12));
    for (spots, count) in one_spot.chain(more_spots) {
        for threads in [1, 2] {
            let (processor, clock, (thrown, truly)) = timed(threads, || {
                let mut sums = (0, 0);
                for (t, ratio) in all.iter().rev().cycle().take(spots) {
                    let found = sample(t, *ratio, &plan(count, 0.0));
                    sums = (sums.0 + found.count, sums.1 + found.true_count);
                }
                sums
            });
            println!(
                "| {spots} | {} | {truly} | {threads} | {processor:.2} | {clock:.2} |",
                thrown / spots
            );
        }
    }
}

/// The same project with headings that differ by three degrees, so that many throws meet the rim.
fn spread_out(p: &Project) -> Project {
    let mut wide = p.clone();
    let key = format!("spot[{}].heading", p.spots.len().saturating_sub(1));
    let sd = 3.0_f64.to_radians();
    wide.spreads.insert(key, Spread::Normal { sd });
    wide
}

fn main() {
    let mut one = f64::NAN;
    let mut first = None;
    for demo in DEMOS {
        let Ok(loaded) = parse(demo.name, demo.text) else {
            println!("{}: does not parse", demo.name);
            continue;
        };
        let seconds = hit_chance(demo.name, &loaded.project);
        if first.is_none() {
            hit_chance("with headings spread", &spread_out(&loaded.project));
            (one, first) = (seconds, Some((demo.name, loaded.project)));
        }
    }
    if let Some((name, project)) = first {
        scaling(&project);
        search(name, &project, one);
    }
}
