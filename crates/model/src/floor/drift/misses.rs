//! A log that says only hit or miss, watched for the misses to become more frequent.

use super::{LARGEST_SHIFT, SHIFT_HALVINGS};
use crate::numerics::cusum::bernoulli_cusum;
use crate::numerics::normal;
use crate::numerics::run_length::{bernoulli_lattice, bernoulli_run_length, cusum_run_length};

/// A watch over hits and misses alone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HitMissWatch {
    /// The shot, from 0, at which it called.
    pub alarm_at: Option<usize>,
    /// Shots from one false alarm to the next, on average.
    pub false_alarm_every_count: f64,
    /// Shots until it calls when misses have become as frequent as feared, on average.
    pub found_after_count: f64,
    /// The same when each miss is measured, with a chart that gives as many false alarms.
    pub measured_found_after_count: f64,
    /// How many times as many shots it needs as measured ones.
    pub slower_ratio: f64,
}

/// Watches a log that says only hit or miss, for the miss rate to rise from `usual_frac` to `feared_frac`.
///
/// The chart of [`bernoulli_cusum`] with limit `limit_ratio` (3 by default, about one false alarm in 460 shots at 10 %
/// misses watched for 25 %). It is compared with a chart over measured misses with the same false alarms, for the shift of
/// the mean that makes misses so frequent. `None` unless 0 < usual < feared < 1 and the limit is positive.
pub fn watch_misses(
    missed: &[bool],
    usual_frac: f64,
    feared_frac: f64,
    limit_ratio: f64,
) -> Option<HitMissWatch> {
    let m = bernoulli_lattice(usual_frac, feared_frac)?;
    let false_alarm_every_count = bernoulli_run_length(usual_frac, m, limit_ratio);
    let found_after_count = bernoulli_run_length(feared_frac, m, limit_ratio);
    if !(false_alarm_every_count.is_finite() && found_after_count.is_finite()) {
        return None;
    }
    let edge = -normal::quantile(0.5 * usual_frac);
    let shift = rising_root(LARGEST_SHIFT, |d| {
        normal::cdf(-edge - d) + normal::cdf(d - edge) - feared_frac
    });
    let reference = 0.5 * shift;
    let limit = rising_root(LARGEST_SHIFT, |h| {
        cusum_run_length(reference, h, 0.0) - false_alarm_every_count
    });
    let measured_found_after_count = cusum_run_length(reference, limit, shift);
    Some(HitMissWatch {
        alarm_at: bernoulli_cusum(missed, m, limit_ratio),
        false_alarm_every_count,
        found_after_count,
        measured_found_after_count,
        slower_ratio: found_after_count / measured_found_after_count,
    })
}

/// Where a rising function passes zero between 0 and `high`.
fn rising_root(high: f64, f: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (0.0, high);
    for _ in 0..SHIFT_HALVINGS {
        let middle = 0.5 * (low + high);
        if f(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}
