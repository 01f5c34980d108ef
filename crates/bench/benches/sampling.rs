//! What random inputs cost: scrambled Sobol points and normal numbers, against making them one by one.
//!
//! Ratios in one run; no limit is asserted. The budget it guards: drawing the inputs of a throw must cost little
//! beside flying it.

#![allow(clippy::print_stdout)] // a bench prints its result

use std::hint::black_box;

use arcwright_bench::timing::{Job, interleave};
use arcwright_model::numerics::normal;
use arcwright_model::numerics::random::Stream;
use arcwright_model::numerics::sobol::Sobol;

const ROUNDS: usize = 25;
const DIMENSIONS: usize = 12;
const POINTS: usize = 4096;

fn main() {
    let Some(sobol) = Sobol::new(DIMENSIONS, 1, 0) else {
        return;
    };
    let items = DIMENSIONS * POINTS;
    let mut uniform = vec![Vec::new(); DIMENSIONS];
    sobol.block(0, POINTS, &mut uniform);
    let uniform = uniform.concat();
    let (mut columns, mut out) = (vec![Vec::new(); DIMENSIONS], vec![0.0; items]);
    let (mut one_by_one, mut point) = (vec![0.0; items], [0.0; DIMENSIONS]);
    let mut stream = Stream::new(1, 0);
    let mut jobs = [
        Job::new("Sobol numbers, point by point", items, || {
            for i in 0..POINTS as u32 {
                sobol.point(black_box(i), &mut point);
                black_box(&point);
            }
        }),
        Job::new("Sobol numbers, a block of columns", items, || {
            sobol.block(0, POINTS, &mut columns);
            black_box(&columns);
        }),
        Job::new("normal quantiles, one by one", items, || {
            for (out, u) in one_by_one.iter_mut().zip(&uniform) {
                *out = normal::quantile(black_box(*u));
            }
        }),
        Job::new("normal quantiles, a column", items, || {
            normal::quantile_into(black_box(&uniform), &mut out);
        }),
        Job::new("normal numbers of a stream", items, || {
            for _ in 0..items {
                black_box(stream.normal());
            }
        }),
    ];
    interleave(&mut jobs, ROUNDS);
    let first = jobs[0].rate();
    for job in &jobs {
        let rate = job.rate();
        println!(
            "{:34} {:7.1} ns each   {:5.2} times the first",
            job.name,
            1e9 / rate,
            rate / first
        );
    }
}
