//! One match, round by round.

use super::rates::Rates;
use crate::numerics::random::{Stream, hash};

/// What one match came to.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Tally {
    /// Points.
    pub points_count: f64,
    /// Pieces thrown.
    pub thrown_count: u32,
    /// Of them, in.
    pub in_count: u32,
    /// Rounds finished, the preload apart.
    pub round_count: u32,
    /// Volleys all in and in the order called.
    pub pattern_count: u32,
    /// Wedges.
    pub jam_count: u32,
}

/// Method: more rounds than this are no match.
const MOST_ROUNDS: u64 = 2000;

/// A time with a mean and a relative deviation, from a standard normal number: lognormal, so never negative.
///
/// ```text
/// t = m exp(σ z − σ²/2),  σ² = ln(1 + c²)
/// ```
fn spread_s(mean_s: f64, varies_frac: f64, z: f64) -> f64 {
    let variance = (varies_frac * varies_frac).ln_1p();
    mean_s * (variance.sqrt() * z - 0.5 * variance).exp()
}

/// Plays a match. The same seed and match number draw the same luck whatever the rates are, so that two machines
/// are compared under the same luck.
pub fn play(rates: &Rates, seed: u64, number: u64) -> Tally {
    let mut tally = Tally::default();
    let luck = hash(seed, number);
    let last_s = rates.match_s - rates.end_s;
    // The opening: spin up, throw what is on board, drive off; drivers begin when it is over.
    let mut now_s = rates.opening_s.max(0.0);
    let mut stream = Stream::new(luck, 0);
    if rates.preload_count > 0 {
        volley(
            rates,
            rates.preload_count,
            rates.ready_s,
            last_s,
            &mut stream,
            &mut tally,
        );
        now_s = now_s.max(rates.ready_s + rates.throwing_s(rates.preload_count));
    }
    for round in 1..=MOST_ROUNDS {
        let mut stream = Stream::new(luck, round);
        // Every draw is made whether it is used or not: the luck stays the same.
        let [collect, travel, aim] = [(); 3].map(|()| stream.normal());
        let [wedges, fouled] = [(); 2].map(|()| stream.uniform());
        let collecting_s =
            f64::from(rates.volley_count) * spread_s(rates.collect_s, rates.varies_frac, collect);
        let driving_s = spread_s(rates.travel_s, rates.varies_frac, travel);
        let aiming_s = spread_s(rates.aim_s, rates.varies_frac, aim);
        let jammed = wedges < rates.jam_frac;
        let jam_s = if jammed { rates.jam_s } else { 0.0 };
        let wait_s = (rates.ready_s - driving_s - aiming_s).max(0.0);
        let start_s = now_s + collecting_s + driving_s + aiming_s + jam_s + wait_s;
        if !(start_s < last_s) || rates.volley_count == 0 {
            break;
        }
        tally.jam_count += u32::from(jammed);
        volley(
            rates,
            rates.volley_count,
            start_s,
            last_s,
            &mut stream,
            &mut tally,
        );
        if fouled < rates.penalty_frac {
            tally.points_count -= rates.penalty_points_count;
        }
        now_s = start_s + rates.throwing_s(rates.volley_count);
        if now_s <= last_s {
            tally.round_count += 1;
        }
    }
    let mut stream = Stream::new(luck, u64::MAX);
    if stream.uniform() < rates.end_frac && rates.end_s <= rates.match_s {
        tally.points_count += rates.end_points_count;
    }
    tally
}

fn volley(rates: &Rates, count: u32, start_s: f64, last_s: f64, stream: &mut Stream, tally: &mut Tally) {
    let ordered = stream.uniform() < rates.order_frac(count);
    let (mut thrown, mut hits) = (0, 0);
    for i in 0..count {
        let at_s = start_s + f64::from(i) * rates.interval_s;
        let hit = stream.uniform() < rates.hit_frac(i);
        if at_s > last_s {
            continue;
        }
        thrown += 1;
        if hit {
            hits += 1;
            tally.points_count += if at_s <= rates.opening_s {
                rates.opening_points_count
            } else {
                rates.piece_points_count
            };
        }
    }
    tally.thrown_count += thrown;
    tally.in_count += hits;
    if count > 1 && hits == count && ordered {
        tally.pattern_count += 1;
        tally.points_count += rates.pattern_points_count;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rates() -> Rates {
        Rates {
            match_s: 120.0,
            opening_s: 0.0,
            piece_points_count: 3.0,
            opening_points_count: 3.0,
            preload_count: 0,
            pattern_points_count: 0.0,
            colour_count: 3,
            sorted_frac: 0.0,
            volley_count: 4,
            hits_frac: vec![0.7],
            interval_s: 0.5,
            ready_s: 0.0,
            travel_s: 5.0,
            aim_s: 1.0,
            collect_s: 1.0,
            varies_frac: 0.0,
            jam_frac: 0.0,
            jam_s: 0.0,
            penalty_points_count: 0.0,
            penalty_frac: 0.0,
            end_points_count: 0.0,
            end_s: 0.0,
            end_frac: 1.0,
        }
    }

    const MANY: u64 = 8000;

    fn mean_of(r: &Rates, of: fn(&Tally) -> f64) -> (f64, f64) {
        let values: Vec<f64> = (0..MANY).map(|m| of(&play(r, 1, m))).collect();
        let mean = values.iter().sum::<f64>() / MANY as f64;
        let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (MANY - 1) as f64;
        (mean, variance)
    }

    /// A round of 4·1 + 5 + 1 + 3·0.5 s = 11.5 s: ten whole rounds in 120 s, and one throw at 115 + 10 s comes too
    /// late. Hits are binomial: mean and variance of 40 throws at 0.7 (closed form).
    #[test]
    fn with_steady_times_the_points_are_binomial() {
        let r = rates();
        assert_eq!(play(&r, 1, 0).round_count, 10);
        assert_eq!(play(&r, 1, 0).thrown_count, 40);
        let (mean, variance) = mean_of(&r, |t| f64::from(t.in_count));
        let (n, p) = (40.0, 0.7);
        let error = (n * p * (1.0 - p) / MANY as f64).sqrt();
        assert!((mean - n * p).abs() < 4.0 * error, "{mean}");
        assert!((variance / (n * p * (1.0 - p)) - 1.0).abs() < 0.05, "{variance}");
        // The volley that the end cuts short still throws what is in time.
        let cut = Rates {
            match_s: 125.6,
            ..rates()
        };
        assert_eq!(play(&cut, 1, 0).thrown_count, 42);
        assert_eq!(play(&cut, 1, 0).round_count, 10);
    }

    /// Rounds of random length: the mean count by a time t is t/μ + (σ² − μ²)/2μ² for long t, the second-order
    /// renewal theorem [smith-1958].
    #[test]
    fn rounds_of_random_length_are_counted_as_renewal_theory_says() {
        let r = Rates {
            match_s: 400.0,
            volley_count: 1,
            collect_s: 0.0,
            aim_s: 0.0,
            travel_s: 10.0,
            varies_frac: 0.4,
            interval_s: 0.0,
            ..rates()
        };
        let (mean, variance) = mean_of(&r, |t| f64::from(t.round_count));
        let (mu, sigma) = (10.0, 4.0);
        let expected = 400.0 / mu + (sigma * sigma - mu * mu) / (2.0 * mu * mu);
        let error = (variance / MANY as f64).sqrt();
        assert!((mean - expected).abs() < 4.0 * error + 0.01, "{mean} {expected}");
        // Its variance is σ² t/μ³ to first order.
        assert!(
            (variance / (sigma * sigma * 400.0 / mu.powi(3)) - 1.0).abs() < 0.1,
            "{variance}"
        );
    }

    /// All in and in order: by counting all 3⁴ colourings against the one called, and 0.7⁴ for the hits.
    #[test]
    fn a_pattern_is_as_rare_as_the_count_of_all_orders_says() {
        let called = [0, 1, 2, 0];
        let matching = (0..81)
            .filter(|n| (0..4).all(|i| n / 3i32.pow(i as u32) % 3 == called[i]))
            .count();
        let r = rates();
        assert!((r.order_frac(4) - matching as f64 / 81.0).abs() < 1e-12);
        let (mean, _) = mean_of(&r, |t| f64::from(t.pattern_count));
        let expected = 10.0 * 0.7f64.powi(4) * matching as f64 / 81.0;
        assert!(
            (mean - expected).abs() < 4.0 * (expected / MANY as f64).sqrt(),
            "{mean} {expected}"
        );
        let (sorted, _) = mean_of(
            &Rates {
                sorted_frac: 1.0,
                ..rates()
            },
            |t| f64::from(t.pattern_count),
        );
        assert!((sorted / (10.0 * 0.7f64.powi(4)) - 1.0).abs() < 0.03);
    }

    #[test]
    fn the_same_luck_falls_on_two_machines_and_a_better_one_never_does_worse() {
        let better = Rates {
            hits_frac: vec![0.8],
            ..rates()
        };
        for m in 0..200 {
            assert_eq!(play(&rates(), 5, m), play(&rates(), 5, m));
            assert!(play(&better, 5, m).points_count >= play(&rates(), 5, m).points_count);
        }
    }

    /// An opening of 20 s with three pieces at 6 points, 0.7 each, then nothing else fits.
    #[test]
    fn the_preload_scores_by_the_opening_and_the_end_task_by_its_chance() {
        let r = Rates {
            match_s: 25.0,
            opening_s: 20.0,
            opening_points_count: 6.0,
            preload_count: 3,
            end_points_count: 10.0,
            end_s: 5.0,
            end_frac: 0.5,
            ..rates()
        };
        let (mean, _) = mean_of(&r, |t| t.points_count);
        assert!((mean / (3.0 * 0.7 * 6.0 + 5.0) - 1.0).abs() < 0.02, "{mean}");
    }
}
