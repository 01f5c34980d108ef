//! What the machine's arithmetic could do: fused multiply-adds with nothing else to do.

use arcwright_model::flight::batch::fused_only;
use cpu_time::ThreadTime;
use std::hint::black_box;

/// Floating-point operations in a second of one thread, a fused multiply-add as two; the best of a few
/// rounds, since nothing can make it look faster than it is.
pub fn flops_per_second() -> f64 {
    const ROUNDS: usize = 200_000;
    let mut best: f64 = 0.0;
    for _ in 0..7 {
        let start = ThreadTime::now();
        let (sum, count) = fused_only(black_box(ROUNDS));
        black_box(sum);
        best = best.max(2.0 * count as f64 / start.elapsed().as_secs_f64());
    }
    best
}
