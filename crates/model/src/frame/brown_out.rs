//! How often a match browns out or trips the breaker, over what differs from match to match.

use super::power::{Breaker, Stretch, breaker_run};
use crate::numerics::normal;
use crate::numerics::proportion::clopper_pearson;
use crate::numerics::random::Stream;

/// Share of the open-circuit voltage that a lead-acid battery has lost when it is flat: 12.7 V full, 11.8 V flat. Common
/// practice, no source.
pub const FLAT_FRAC: f64 = 0.07;
/// Share by which the resistance rises for each kelvin of cold. Lead-acid makers' curves, from memory.
pub const COLD_PER_K: f64 = 0.01;
/// A battery's resistance is given at this temperature.
pub const RATED_K: f64 = 298.15;

/// What differs from match to match.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Differs {
    /// Charge at the start of a match: from this share to full, each as likely.
    pub least_charge_frac: f64,
    /// Share of the charge that a match takes.
    pub taken_frac: f64,
    /// Standard deviation of the logarithm of the resistance: age, contacts, one battery or another.
    pub resistance_sd_ratio: f64,
    /// Mean temperature of the battery.
    pub temperature_k: f64,
    /// Its standard deviation.
    pub temperature_sd_k: f64,
}

/// Battery and loads of a match.
#[derive(Clone, Debug, PartialEq)]
pub struct Loads {
    /// Open-circuit voltage when full.
    pub open_v: f64,
    /// Resistance with wires, at [`RATED_K`].
    pub resistance_ohm: f64,
    /// Electronics reset below it.
    pub limit_v: f64,
    /// Highest current of each way in which the launcher's spin-up and volley can fall together with a drive, every one as
    /// likely.
    pub peaks_a: Vec<f64>,
    /// Volleys in a match.
    pub round_count: u32,
}

/// A chance from many draws.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Chance {
    /// Share of matches.
    pub frac: f64,
    /// Range that holds the model's own chance 19 times in 20.
    pub range_frac: [f64; 2],
    /// Draws.
    pub count: u64,
    /// Lowest voltage that one match in ten goes below.
    pub tenth_v: f64,
}

/// Highest sum of two currents that run side by side, for each of `count` delays of the second behind the first, evenly from
/// "ends as the first begins" to "begins as the first ends".
///
/// Samples hold from their time to the next; the last one ends the run. What does not overlap is there all the same, alone.
pub fn peaks_together(first: &[Stretch], second: &[Stretch], count: usize) -> Vec<f64> {
    let length = |run: &[Stretch]| run.iter().map(|s| s.time_s).sum::<f64>();
    let (one_s, two_s) = (length(first), length(second));
    (0..count)
        .map(|i| {
            let late_s = (one_s + two_s) * (i as f64 + 0.5) / count as f64 - two_s;
            together(first, second, late_s)
        })
        .collect()
}

fn together(first: &[Stretch], second: &[Stretch], late_s: f64) -> f64 {
    let highest = |run: &[Stretch]| run.iter().fold(0.0_f64, |m, s| m.max(s.current_a));
    let mut most = highest(first).max(highest(second));
    let (mut j, mut from_s) = (0, late_s);
    let mut now_s = 0.0;
    for a in first {
        let end_s = now_s + a.time_s;
        while let Some(b) = second.get(j) {
            let b_end_s = from_s + b.time_s;
            if from_s < end_s && b_end_s > now_s {
                most = most.max(a.current_a + b.current_a);
            }
            if b_end_s > end_s {
                break;
            }
            from_s = b_end_s;
            j += 1;
        }
        now_s = end_s;
    }
    most
}

/// Chance that a match goes below the limit at least once.
///
/// ```text
/// V = Voc (1 − f (1 − s)) − R exp(σ z) (1 + k max(0, T0 − T)) I        s falls evenly through the match
/// ```
///
/// Thévenin source, derived; each draw takes one charge, resistance and temperature for a match and a new overlap of the loads
/// for each of its rounds. Range by Clopper and Pearson \[clopper-pearson-1934\].
pub fn brown_out_chance(loads: &Loads, differs: &Differs, seed: u64, count: u64) -> Chance {
    let mut low = 0_u64;
    let mut lowest: Vec<f64> = Vec::with_capacity(count as usize);
    for number in 0..count {
        let mut stream = Stream::new(seed, number);
        let charge = differs.least_charge_frac + (1.0 - differs.least_charge_frac) * stream.uniform();
        let cold_k = RATED_K - (differs.temperature_k + differs.temperature_sd_k * stream.normal());
        let ohm = loads.resistance_ohm
            * (differs.resistance_sd_ratio * stream.normal()).exp()
            * (1.0 + COLD_PER_K * cold_k.max(0.0));
        let rounds = loads.round_count.max(1);
        let mut least_v = f64::INFINITY;
        for round in 0..rounds {
            let left = charge - differs.taken_frac * f64::from(round) / f64::from(rounds);
            let open_v = loads.open_v * (1.0 - FLAT_FRAC * (1.0 - left.max(0.0)));
            let pick = (stream.uniform() * loads.peaks_a.len() as f64) as usize;
            let current_a = loads.peaks_a.get(pick).or(loads.peaks_a.last()).copied();
            least_v = least_v.min(open_v - ohm * current_a.unwrap_or(0.0));
        }
        low += u64::from(!(least_v >= loads.limit_v));
        lowest.push(least_v);
    }
    lowest.sort_by(f64::total_cmp);
    Chance {
        frac: low as f64 / count.max(1) as f64,
        range_frac: clopper_pearson(low, count.max(1), 0.95),
        count,
        tenth_v: lowest.get(lowest.len() / 10).copied().unwrap_or(f64::NAN),
    }
}

/// Standard deviation of the current at which breakers of one rating trip, over that rating: one breaker or another, a warm
/// box. Judgement.
pub const TRIP_SD_RATIO: f64 = 0.08;
/// A breaker trips sooner or later than its maker's middle curve by up to this factor, each factor as likely. Common practice,
/// no source.
pub const CURVE_RATIO: f64 = 2.0;
/// Method: time constants that are looked at.
const TAUS: usize = 9;

/// Chance that a breaker trips in a duty cycle, over how breakers differ.
///
/// ```text
/// P = mean over τ of Φ((√x(τ) − 1)/σ)        x(τ): warmest of the nominal breaker, 1 trips
/// ```
///
/// One that trips at u times its rating gets as warm as x/u²; τ runs from half to twice the given one, evenly on a
/// logarithmic scale. Derived from [`breaker_run`].
pub fn trip_chance(breaker: &Breaker, cycle: &[Stretch]) -> f64 {
    let sum: f64 = (0..TAUS)
        .map(|i| {
            let share = 2.0 * (i as f64 + 0.5) / TAUS as f64 - 1.0;
            let run = breaker_run(
                &Breaker {
                    tau_s: breaker.tau_s * CURVE_RATIO.powf(share),
                    ..*breaker
                },
                cycle,
            );
            normal::cdf((run.warmest_frac.sqrt() - 1.0) / TRIP_SD_RATIO)
        })
        .sum();
    sum / TAUS as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    fn loads(current_a: f64) -> Loads {
        Loads {
            open_v: 12.7,
            resistance_ohm: 0.03,
            limit_v: 7.0,
            peaks_a: vec![current_a],
            round_count: 1,
        }
    }

    /// One load, a full battery at the rated temperature: the chance is P(R > (Voc − V)/I), a lognormal tail in closed form.
    #[test]
    fn with_the_resistance_alone_in_doubt_the_chance_is_that_of_a_lognormal_tail() {
        let differs = Differs {
            least_charge_frac: 1.0,
            taken_frac: 0.0,
            resistance_sd_ratio: 0.25,
            temperature_k: RATED_K + 10.0,
            temperature_sd_k: 0.0,
        };
        for current_a in [120.0, 150.0, 190.0] {
            let found = brown_out_chance(&loads(current_a), &differs, 5, 20_000);
            let limit_ohm = (12.7 - 7.0) / current_a;
            let expected = 1.0 - normal::cdf((limit_ohm / 0.03_f64).ln() / 0.25);
            let [low, high] = found.range_frac;
            assert!(low < found.frac && found.frac < high);
            assert!((low..=high).contains(&expected), "{expected} {low} {high}");
        }
    }

    /// Without doubt it is certain one way or the other; cold and a flat battery bring it about.
    #[test]
    fn cold_and_charge_decide_where_nothing_else_differs() {
        let sure = Differs {
            least_charge_frac: 1.0,
            taken_frac: 0.0,
            resistance_sd_ratio: 0.0,
            temperature_k: RATED_K,
            temperature_sd_k: 0.0,
        };
        let at = |d: &Differs| brown_out_chance(&loads(185.0), d, 1, 200).frac;
        assert_eq!(at(&sure), 0.0);
        let cold = Differs {
            temperature_k: RATED_K - 15.0,
            ..sure
        };
        assert_eq!(at(&cold), 1.0);
        let worn = Differs {
            least_charge_frac: 0.0,
            ..sure
        };
        assert!((0.3..0.95).contains(&at(&worn)), "{}", at(&worn));
    }

    #[test]
    fn loads_side_by_side_add_where_they_overlap_and_only_there() {
        let run = |current_a| {
            vec![Stretch {
                current_a,
                time_s: 1.0,
            }]
        };
        assert_eq!(together(&run(30.0), &run(20.0), 0.4), 50.0);
        assert_eq!(together(&run(30.0), &run(20.0), 1.4), 30.0);
        let steps = [run(10.0), run(30.0)].concat();
        assert_eq!(together(&steps, &run(20.0), -0.5), 30.0);
        assert_eq!(together(&steps, &run(20.0), 0.5), 50.0);
        let all = peaks_together(&steps, &run(20.0), 300);
        let share = all.iter().filter(|p| **p == 50.0).count() as f64 / 300.0;
        // The drive of 1 s meets the second half of 2 s for delays of 0 to 2 s, of −1 to 2 s.
        assert!((share - 2.0 / 3.0).abs() < 0.01, "{share}");
    }

    /// At the warmth that just trips the middle breaker half of all breakers trip, whatever their time constant, when the
    /// cycle is steady and long.
    #[test]
    fn half_of_the_breakers_trip_where_the_middle_one_just_does() {
        let breaker = Breaker {
            trip_a: 40.0,
            tau_s: 20.0,
        };
        let steady = |current_a| {
            trip_chance(
                &breaker,
                &[Stretch {
                    current_a,
                    time_s: 1e4,
                }],
            )
        };
        assert!((steady(40.0) - 0.5).abs() < 1e-9);
        assert!(steady(20.0) < 1e-6 && steady(60.0) > 1.0 - 1e-6);
        // One standard deviation above: Φ(1), table value 0.8413.
        assert!((steady(40.0 * (1.0 + TRIP_SD_RATIO)) - 0.8413).abs() < 1e-4);
    }
}
