//! Loads a second of one core in the model's engine and in the library, in turns in one run.
//!
//! The same loads of the same hopper with a stirrer; loading included. The library plays a wait of up to 4 s, this engine
//! one of up to 16 s, but for a lock that nothing can end. The ratio is
//! what to compare between machines; no limit is asserted.

#![allow(clippy::print_stdout)] // a bench prints its result

use arcwright_model::feed::hopper::{Hopper, Pieces};
use arcwright_model::feed::load::run;
use arcwright_oracle::agree::{designs, pieces};
use arcwright_oracle::load::play;
use arcwright_oracle::rig::Solver;
use cpu_time::ThreadTime;
use std::hint::black_box;

/// Loads of each turn, and turns.
const LOADS: u64 = 10;
const TURNS: u64 = 6;
const LONGEST_S: f64 = 4.0;

/// Seconds of the processor that a job takes.
fn timed(job: impl FnOnce()) -> f64 {
    let start = ThreadTime::now();
    job();
    start.elapsed().as_secs_f64()
}

/// Seconds for a load in each engine; the model plays to 16 s, the library to 4 s.
fn rates(hopper: &Hopper, pieces: &Pieces) -> [f64; 2] {
    let (mut own, mut other) = (0.0, 0.0);
    for turn in 0..TURNS {
        let loads = turn * LOADS..(turn + 1) * LOADS;
        own += timed(|| {
            for i in loads.clone() {
                black_box(run(hopper, pieces, 1, i));
            }
        });
        other += timed(|| {
            for i in loads {
                let _ = black_box(play(hopper, pieces, 1, i, LONGEST_S, &Solver::default()));
            }
        });
    }
    [own, other].map(|s| s / (TURNS * LOADS) as f64)
}

fn main() {
    println!("| pieces | roller | design | this engine, loads/s/core | library, loads/s/core | ratio |");
    println!("| --- | --- | --- | --- | --- | --- |");
    for count in [5, 6] {
        let p = Pieces { count, ..pieces() };
        for with_roller in [false, true] {
            // With stirrer A and stirrer B.
            for d in designs(with_roller).iter().skip(2).take(2) {
                let [own, other] = rates(&d.hopper, &p).map(|s| 1.0 / s);
                println!(
                    "| {count} | {} | {} | {own:.0} | {other:.0} | {:.1} |",
                    if with_roller { "yes" } else { "no" },
                    d.name,
                    own / other
                );
            }
        }
    }
}
