//! Energy and current: fuse and breaker, battery over a duty cycle.

/// One stretch of a duty cycle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// Current from the battery.
    pub current_a: f64,
    /// How long.
    pub time_s: f64,
}

/// Time until a fuse melts in the region in which no heat leaves it.
///
/// ```text
/// t = I²t/I²
/// ```
///
/// \[iec60127\]. Only far above the rating (times below about 0.1 s); below it a curve with wide scatter holds.
pub fn fuse_s(melting_a2s: f64, current_a: f64) -> f64 {
    melting_a2s / (current_a * current_a)
}

/// A thermal breaker as one lump of heat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Breaker {
    /// Current that trips it after a very long time.
    pub trip_a: f64,
    /// Time constant.
    pub tau_s: f64,
}

/// Time until a cold breaker trips at a current; infinite at or below its trip current.
///
/// ```text
/// t = τ ln(I²/(I² − It²))
/// ```
///
/// First-order heating \[iec60034\]. A breaker that is warm trips sooner; makers' curves scatter by a factor of two.
pub fn breaker_s(breaker: &Breaker, current_a: f64) -> f64 {
    let square = current_a * current_a;
    let over = square - breaker.trip_a * breaker.trip_a;
    if over > 0.0 {
        breaker.tau_s * (square / over).ln()
    } else {
        f64::INFINITY
    }
}

/// What a duty cycle does to a breaker.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BreakerRun {
    /// Warmest it gets: 1 trips.
    pub warmest_frac: f64,
    /// When it trips, from the start; `None` if it does not.
    pub trips_s: Option<f64>,
}

/// Steps a breaker through a duty cycle, from cold.
///
/// ```text
/// τ dx/dt = (I/It)² − x,  trips at x = 1
/// ```
///
/// Exact for each stretch; the same model as [`breaker_s`].
pub fn breaker_run(breaker: &Breaker, cycle: &[Stretch]) -> BreakerRun {
    let (mut heat_frac, mut now_s) = (0.0_f64, 0.0);
    let mut run = BreakerRun {
        warmest_frac: 0.0,
        trips_s: None,
    };
    for s in cycle {
        let target = (s.current_a / breaker.trip_a).powi(2);
        let end = target + (heat_frac - target) * (-s.time_s / breaker.tau_s).exp();
        if run.trips_s.is_none() && end >= 1.0 && target > 1.0 {
            run.trips_s = Some(now_s + breaker.tau_s * ((target - heat_frac) / (target - 1.0)).ln());
        }
        heat_frac = end;
        run.warmest_frac = run.warmest_frac.max(end);
        now_s += s.time_s;
    }
    run
}

/// Root mean square of the current over a duty cycle; 0 for an empty one.
pub fn rms_a(cycle: &[Stretch]) -> f64 {
    let time: f64 = cycle.iter().map(|s| s.time_s).sum();
    if time > 0.0 {
        (cycle
            .iter()
            .map(|s| s.current_a * s.current_a * s.time_s)
            .sum::<f64>()
            / time)
            .sqrt()
    } else {
        0.0
    }
}

/// A battery at a steady current.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Discharge {
    /// Time until it is empty.
    pub time_s: f64,
    /// Charge it gives.
    pub given_a_s: f64,
    /// Time if the capacity did not depend on the current.
    pub plain_s: f64,
}

/// Time that a lead-acid battery lasts at a steady current.
///
/// ```text
/// t = H (C/(I H))^k
/// ```
///
/// \[peukert-1897\]. C is the capacity at the H-hour current; t = C/I^k holds only for the capacity at 1 A. For sustained
/// currents, not for pulses; k is 1.05 to 1.3 for lead-acid, near 1 for others.
pub fn discharge(capacity_a_s: f64, rated_s: f64, current_a: f64, peukert_exponent: f64) -> Discharge {
    let time_s = rated_s * (capacity_a_s / (current_a * rated_s)).powf(peukert_exponent);
    Discharge {
        time_s,
        given_a_s: time_s * current_a,
        plain_s: capacity_a_s / current_a,
    }
}

/// What a duty cycle takes from a battery.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Budget {
    /// Charge.
    pub charge_a_s: f64,
    /// Energy given up by its chemistry.
    pub source_j: f64,
    /// Of it, heat in its own resistance.
    pub loss_j: f64,
    /// Of it, what arrives.
    pub load_j: f64,
    /// Lowest voltage at the terminals.
    pub lowest_v: f64,
}

/// Charge, energy and lowest voltage over a duty cycle.
///
/// ```text
/// Q = Σ I t    E = V_oc Q    loss = Σ I² R_b t    V_min = V_oc − R_b I_max
/// ```
///
/// Thévenin source, derived.
pub fn budget(open_v: f64, resistance_ohm: f64, cycle: &[Stretch]) -> Budget {
    let charge_a_s: f64 = cycle.iter().map(|s| s.current_a * s.time_s).sum();
    let loss_j: f64 = cycle
        .iter()
        .map(|s| s.current_a * s.current_a * resistance_ohm * s.time_s)
        .sum();
    let most_a = cycle.iter().map(|s| s.current_a).fold(0.0, f64::max);
    let source_j = open_v * charge_a_s;
    Budget {
        charge_a_s,
        source_j,
        loss_j,
        load_j: source_j - loss_j,
        lowest_v: open_v - resistance_ohm * most_a,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BREAKER: Breaker = Breaker {
        trip_a: 50.0,
        tau_s: 25.0,
    };

    /// The duty cycle of one stretch is the cold trip time.
    #[test]
    fn one_stretch_trips_when_the_formula_says_and_rest_lets_it_cool() {
        let cold = breaker_s(&BREAKER, 120.0);
        let one = [Stretch {
            current_a: 120.0,
            time_s: 10.0,
        }];
        assert!((breaker_run(&BREAKER, &one).trips_s.unwrap() - cold).abs() < 1e-12);
        assert_eq!(breaker_s(&BREAKER, 50.0), f64::INFINITY);
        let half = Stretch {
            current_a: 120.0,
            time_s: 0.6 * cold,
        };
        let rest = |time_s| Stretch {
            current_a: 0.0,
            time_s,
        };
        assert!(breaker_run(&BREAKER, &[half, rest(0.0), half]).trips_s.is_some());
        assert_eq!(breaker_run(&BREAKER, &[half, rest(200.0), half]).trips_s, None);
    }

    /// Trap: at the rated current the time is the rated time, whatever the exponent.
    #[test]
    fn at_the_rated_current_the_battery_lasts_the_rated_time() {
        let d = discharge(360_000.0, 72_000.0, 5.0, 1.2);
        assert!((d.time_s - 72_000.0).abs() < 1e-6 && (d.plain_s - 72_000.0).abs() < 1e-6);
    }

    #[test]
    fn an_empty_cycle_takes_nothing() {
        let b = budget(12.7, 0.018, &[]);
        assert_eq!((b.charge_a_s, b.lowest_v, rms_a(&[])), (0.0, 12.7, 0.0));
    }
}
