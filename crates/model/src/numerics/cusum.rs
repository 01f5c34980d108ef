//! Charts of cumulated sums.

use super::run_length::LATTICE;

/// A chart of cumulated sums, run over some values.
#[derive(Clone, Debug, PartialEq)]
pub struct CusumRun {
    /// Upper sum after each value.
    pub upper: Vec<f64>,
    /// Lower sum after each value, counted positive.
    pub lower: Vec<f64>,
    /// Place of the first value, from 0, after which a sum exceeded the limit.
    pub first_alarm: Option<usize>,
}

/// Runs the two-sided chart of cumulated sums over standardised values.
///
/// ```text
/// S⁺ ← max(0, S⁺ + z − k)      S⁻ ← max(0, S⁻ − z − k)      alarm when S > h
/// ```
///
/// [page-1954]. Each value is first cut to [`CUT`] on either side, so that one flyer cannot raise the alarm alone. A value
/// that is not a number leaves both sums as they are. No alarm when h is not a number.
pub fn cusum(z: &[f64], k: f64, h: f64) -> CusumRun {
    let (mut up, mut down): (f64, f64) = (0.0, 0.0);
    let mut run = CusumRun {
        upper: Vec::with_capacity(z.len()),
        lower: Vec::with_capacity(z.len()),
        first_alarm: None,
    };
    for (i, z) in z.iter().enumerate() {
        if !z.is_nan() {
            let z = z.clamp(-CUT, CUT);
            up = (up + z - k).max(0.0);
            down = (down - z - k).max(0.0);
        }
        run.upper.push(up);
        run.lower.push(down);
        if run.first_alarm.is_none() && (up > h || down > h) {
            run.first_alarm = Some(i);
        }
    }
    run
}

/// Method: three standard deviations (common practice, no source); with k = 0.5 two such values sum to 5.
pub const CUT: f64 = 3.0;

/// Runs the chart that only sees misses, and says after which value, from 0, it first calls.
///
/// ```text
/// S ← max(0, S + (1 for a miss) − 1/m), call when S ≥ h
/// ```
///
/// [reynolds-stoumbos-1999], with m of [`super::run_length::bernoulli_lattice`]. Counted in whole steps of 1/m.
pub fn bernoulli_cusum(missed: &[bool], m: u32, h: f64) -> Option<usize> {
    let limit = h * f64::from(m) - LATTICE;
    let mut sum = 0_i64;
    missed.iter().position(|miss| {
        sum = (sum + if *miss { i64::from(m) } else { 0 } - 1).max(0);
        sum as f64 >= limit
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numerics::checks;
    use serde_json::Value;

    fn numbers(value: &Value) -> Vec<f64> {
        value
            .as_array()
            .unwrap()
            .iter()
            .map(|x| x.as_f64().unwrap())
            .collect()
    }

    /// Source: a run by hand, in the checks.
    #[test]
    fn sums_and_first_alarm_are_those_of_the_worked_run() {
        let mut seen = 0;
        for file in checks::files("statistics") {
            let case = &file["statistics"]["cusum_run"];
            if case.is_null() {
                continue;
            }
            let run = cusum(
                &numbers(&case["z"]),
                case["k"].as_f64().unwrap(),
                case["h"].as_f64().unwrap(),
            );
            for (got, name) in [(&run.upper, "upper"), (&run.lower, "lower")] {
                for (got, expected) in got.iter().zip(numbers(&case[name])) {
                    assert!((got - expected).abs() < 1e-9, "{name}: {got} {expected}");
                }
            }
            let alarm = case["first_alarm_index_1based"].as_u64().map(|i| i as usize - 1);
            assert_eq!(run.first_alarm, alarm);
            seen += 1;
        }
        assert!(seen > 0);
    }

    #[test]
    fn one_flyer_cannot_raise_the_alarm_alone_but_two_can() {
        assert_eq!(cusum(&[0.0, 50.0, 0.0, 0.0], 0.5, 4.0).first_alarm, None);
        assert_eq!(cusum(&[0.0, 50.0, f64::INFINITY], 0.5, 4.0).first_alarm, Some(2));
        assert_eq!(cusum(&[-50.0, f64::NAN, -50.0], 0.5, 4.0).first_alarm, Some(2));
    }

    #[test]
    fn a_run_of_misses_calls_and_a_usual_share_of_them_does_not() {
        assert_eq!(bernoulli_cusum(&[true; 4], 6, 3.0), Some(3));
        let usual: Vec<bool> = (0..200).map(|i| i % 10 == 0).collect();
        assert_eq!(bernoulli_cusum(&usual, 6, 3.0), None);
        assert_eq!(bernoulli_cusum(&[], 6, 3.0), None);
    }
}
