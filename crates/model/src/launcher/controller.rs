//! The wheel-speed loop on paper: gain limits, tuning rule, droop, sensor resolution.

use super::motor::motor_constants;
use super::train::WheelTrain;
use std::f64::consts::{PI, TAU};

/// Method: bisection of a phase that falls monotonically; 60 halvings of an interval of at most π
/// leave less than the spacing of doubles near the root.
const PHASE_HALVINGS: u32 = 60;

/// Method: past this many crossings the averaged loop's gain is far below its first peaks.
const MAX_CROSSINGS: u32 = 64;

/// Wheel speed over motor voltage as a first-order lag.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpeedPlant {
    /// Wheel speed per volt, long after: 1/(kE G).
    pub gain_radps_per_v: f64,
    /// Time constant.
    pub tau_s: f64,
}

/// Wheel speed over motor voltage of a wheel train.
///
/// ```text
/// K = 1/(kE G)    τ = J R/(Nm G² kT kE)
/// ```
///
/// Linear motor \[fitzgerald-machines\]. Gear loss slows driving (τ/η) and quickens braking (τ η); this is
/// the mean of
/// both. The loop divides by the measured battery voltage, so the battery does not enter.
pub fn speed_plant(train: &WheelTrain) -> SpeedPlant {
    let m = motor_constants(&train.drive.motor);
    let ratio = train.drive.gear_ratio;
    let torque_per_a = f64::from(train.drive.motor_count) * ratio * m.kt_nm_per_a;
    let gain_radps_per_v = 1.0 / (m.ke_v_per_radps * ratio);
    SpeedPlant {
        gain_radps_per_v,
        tau_s: train.inertia_kgm2 * m.resistance_ohm * gain_radps_per_v / torque_per_a,
    }
}

/// The plant between ticks of a loop that holds its output: ω⁺ = a ω + b V.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeldPlant {
    /// Share of the speed kept over one period.
    pub keep_frac: f64,
    /// Speed gained in one period per volt.
    pub gain_radps_per_v: f64,
}

/// Exact discretisation under a held voltage.
///
/// ```text
/// a = e^(−T/τ)    b = K (1 − a)
/// ```
///
/// \[franklin-digital\]. The plant must be linear over the period: no current limit, no coasting.
pub fn held_plant(plant: &SpeedPlant, period_s: f64) -> HeldPlant {
    let decay = period_s / plant.tau_s;
    HeldPlant {
        keep_frac: (-decay).exp(),
        gain_radps_per_v: -plant.gain_radps_per_v * (-decay).exp_m1(),
    }
}

/// Limits of the proportional gain, V s/rad.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GainLimits {
    /// Largest stable gain without delay.
    pub limit_vs: f64,
    /// Gain that removes the error in one period, without delay.
    pub deadbeat_vs: f64,
    /// Largest stable gain with one period of delay.
    pub limit_delayed_vs: f64,
    /// Largest gain without overshoot with one period of delay.
    pub critical_delayed_vs: f64,
}

/// Gain limits of proportional control with an ideal speed sensor.
///
/// ```text
/// no delay:  Kp < (1 + a)/b, deadbeat a/b        one period of delay:  Kp < 1/b, critical a²/(4 b)
/// ```
///
/// Jury's test \[franklin-digital\].
pub fn gain_limits(plant: &SpeedPlant, period_s: f64) -> GainLimits {
    let HeldPlant {
        keep_frac: a,
        gain_radps_per_v: b,
    } = held_plant(plant, period_s);
    GainLimits {
        limit_vs: (1.0 + a) / b,
        deadbeat_vs: a / b,
        limit_delayed_vs: 1.0 / b,
        critical_delayed_vs: a * a / (4.0 * b),
    }
}

/// Smallest proportional gain at which a loop with an averaging sensor and a delay stops settling, V s/rad.
///
/// ```text
/// z^(N+d) (z − a) + Kp b avg(z) = 0,    avg(z) = (1/2 + z + … + z^(N−1) + z^N/2)/N
/// on z = e^(iφ):  avg = z^(N/2) sin(N φ/2) cot(φ/2)/N,
/// phase  (N/2 + d) φ + arg(z − a) = m π,    Kp = |z − a| N/(b |sin(N φ/2)| cot(φ/2))
/// ```
///
/// | symbol | code | unit |
/// |---|---|---|
/// | N | `average_count`: the speed is the turn over the last N periods divided by their time | – |
/// | d | `delay_periods`: delay on top of the hold | – |
/// | a, b | [`held_plant`] | –, rad/s per V |
///
/// Nyquist's condition, derived. Exact for whole d; a fraction is taken as a pure delay. `None` if
/// an input makes no sense (N = 0, nothing positive) or no gain is large enough.
pub fn averaged_gain_limit(
    plant: &SpeedPlant,
    period_s: f64,
    average_count: u32,
    delay_periods: f64,
) -> Option<f64> {
    let HeldPlant {
        keep_frac: a,
        gain_radps_per_v: b,
    } = held_plant(plant, period_s);
    let sane = (0.0..1.0).contains(&a) && b > 0.0 && b.is_finite() && delay_periods >= 0.0;
    if !sane || average_count == 0 || !delay_periods.is_finite() {
        return None;
    }
    let n = f64::from(average_count);
    let lag = n / 2.0 + delay_periods;
    let phase = |phi: f64| lag * phi + phi.sin().atan2(phi.cos() - a);
    let mut best = f64::INFINITY;
    for crossing in 1..=MAX_CROSSINGS {
        let wanted = f64::from(crossing) * PI;
        if phase(PI) <= wanted {
            break;
        }
        let (mut low, mut high) = (0.0, PI);
        for _ in 0..PHASE_HALVINGS {
            let middle = 0.5 * (low + high);
            if phase(middle) < wanted {
                low = middle;
            } else {
                high = middle;
            }
        }
        let phi = 0.5 * (low + high);
        let window = (n * phi / 2.0).sin() / (phi / 2.0).tan() / n;
        // Every other crossing only closes the loop with the window's sign turned.
        let turns_back = if crossing % 2 == 1 { window } else { -window };
        if turns_back > 0.0 {
            let distance = (1.0 - 2.0 * a * phi.cos() + a * a).sqrt();
            best = best.min(distance / (b * turns_back));
        }
    }
    best.is_finite().then_some(best)
}

/// Gains of a proportional-integral loop.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PiGains {
    /// Proportional gain.
    pub kp_vs: f64,
    /// Integral time.
    pub integral_s: f64,
    /// Integral gain, kp over integral time.
    pub ki_v: f64,
}

/// Tuning rule for a first-order lag with dead time.
///
/// ```text
/// Kc = τ/(K (τc + θ))    τI = min(τ, 4 (τc + θ))    Ki = Kc/τI
/// ```
///
/// | symbol | code | unit |
/// |---|---|---|
/// | θ | `dead_s`: computing (one period) + hold (half) + filter delay | s |
/// | τc | `closed_s`: wanted closed-loop time constant, at least θ | s |
///
/// \[skogestad2003\].
pub fn simc_pi(plant: &SpeedPlant, dead_s: f64, closed_s: f64) -> PiGains {
    let kp_vs = plant.tau_s / (plant.gain_radps_per_v * (closed_s + dead_s));
    let integral_s = plant.tau_s.min(4.0 * (closed_s + dead_s));
    PiGains {
        kp_vs,
        integral_s,
        ki_v: kp_vs / integral_s,
    }
}

/// Steady speed error of feed-forward with proportional control under a load the feed-forward does not know.
///
/// ```text
/// Δω = K V_d/(1 + K Kp)
/// ```
///
/// Final-value theorem \[franklin-digital\]; V_d is the load as a voltage.
pub fn droop(plant: &SpeedPlant, kp_vs: f64, load_v: f64) -> f64 {
    plant.gain_radps_per_v * load_v / (1.0 + plant.gain_radps_per_v * kp_vs)
}

/// Grain and delay of a counting speed sensor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SensorGrain {
    /// Speed of one count per period.
    pub count_radps: f64,
    /// The same after averaging.
    pub averaged_radps: f64,
    /// Delay of the average alone.
    pub average_delay_s: f64,
    /// Delay of average, differencing and hold together.
    pub total_delay_s: f64,
}

/// Resolution and delay of a counting sensor read once a period and averaged over M samples.
///
/// ```text
/// Δω = 2π/(N T)    averaged Δω/M    delay (M − 1) T/2, + T/2 differencing + T/2 hold
/// ```
///
/// Derived. For a sensor on the motor, divide the speeds by the gear ratio.
pub fn sensor_grain(counts_per_turn: f64, period_s: f64, average_count: u32) -> SensorGrain {
    let count_radps = TAU / (counts_per_turn * period_s);
    let m = f64::from(average_count);
    let average_delay_s = (m - 1.0) * period_s / 2.0;
    SensorGrain {
        count_radps,
        averaged_radps: count_radps / m,
        average_delay_s,
        total_delay_s: average_delay_s + period_s,
    }
}

/// Delay and noise of a one-pole filter y⁺ = α x + (1 − α) y.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OnePole {
    /// Delay at low frequency.
    pub delay_s: f64,
    /// Variance out over variance of white noise in.
    pub noise_ratio: f64,
}

/// Low-frequency delay (1 − α)/α T and noise gain α/(2 − α) of a one-pole filter \[oppenheim-dtsp\].
pub fn one_pole(alpha_frac: f64, period_s: f64) -> OnePole {
    OnePole {
        delay_s: (1.0 - alpha_frac) / alpha_frac * period_s,
        noise_ratio: alpha_frac / (2.0 - alpha_frac),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLANT: SpeedPlant = SpeedPlant {
        gain_radps_per_v: 52.29,
        tau_s: 0.6464,
    };

    /// Plays the averaged loop forward: does a small error grow?
    fn grows(plant: &SpeedPlant, period_s: f64, average: usize, delay: usize, kp: f64) -> bool {
        let HeldPlant {
            keep_frac,
            gain_radps_per_v,
        } = held_plant(plant, period_s);
        let mut speeds = vec![1.0; average + delay + 2];
        let size = |past: &[f64]| past.iter().rev().take(400).map(|w| w.abs()).fold(0.0, f64::max);
        let mut early = 0.0;
        for step in 0..6000 {
            let now = speeds.len() - 1;
            let newest = now - delay;
            let mean: f64 = (0..average)
                .map(|i| (speeds[newest - i] + speeds[newest - i - 1]) / 2.0)
                .sum::<f64>()
                / average as f64;
            speeds.push(keep_frac * speeds[now] - gain_radps_per_v * kp * mean);
            if step == 2000 {
                early = size(&speeds);
            }
        }
        size(&speeds) > early
    }

    /// The condition on the unit circle against playing the difference equation, on both sides of the limit.
    #[test]
    fn averaged_loop_settles_just_below_its_gain_limit_and_grows_just_above() {
        for (period_s, average, delay) in [
            (0.02, 1, 0),
            (0.02, 1, 1),
            (0.02, 4, 1),
            (0.05, 8, 1),
            (0.01, 3, 2),
        ] {
            let limit = averaged_gain_limit(&PLANT, period_s, average, f64::from(delay)).unwrap();
            let grows_at = |kp| grows(&PLANT, period_s, average as usize, delay as usize, kp);
            assert!(!grows_at(0.995 * limit), "T {period_s} N {average} d {delay}");
            assert!(grows_at(1.005 * limit), "T {period_s} N {average} d {delay}");
        }
    }

    /// Table of the averaged limits, rounded as printed there (derived by a second route for the design).
    #[test]
    fn more_averaging_and_a_slower_loop_lower_the_gain_limit_as_tabulated() {
        let rows = [
            (0.02, [1.256, 0.526, 0.340, 0.246]),
            (0.05, [0.514, 0.219, 0.147, 0.113]),
        ];
        for (period_s, row) in rows {
            let cases = [(1, 0.0), (1, 1.0), (4, 1.0), (8, 1.0)];
            for ((average, delay), printed) in cases.into_iter().zip(row) {
                let limit = averaged_gain_limit(&PLANT, period_s, average, delay).unwrap();
                assert!(
                    (limit - printed).abs() < 1.1e-3,
                    "{period_s} {average} {delay}: {limit}"
                );
            }
        }
    }

    /// With an ideal sensor: the difference equation at and around the printed limits.
    #[test]
    fn proportional_gain_at_its_limit_keeps_an_error_alive_for_ever() {
        let held = held_plant(&PLANT, 0.02);
        let limits = gain_limits(&PLANT, 0.02);
        let pole = held.keep_frac - held.gain_radps_per_v * limits.limit_vs;
        assert!((pole + 1.0).abs() < 1e-12);
        let dead = held.keep_frac - held.gain_radps_per_v * limits.deadbeat_vs;
        assert!(dead.abs() < 1e-12);
        // z² − a z + b Kp: product of the roots is 1 at the delayed limit, roots are equal at the critical
        // gain.
        assert!((held.gain_radps_per_v * limits.limit_delayed_vs - 1.0).abs() < 1e-12);
        let discriminant = held.keep_frac.powi(2) - 4.0 * held.gain_radps_per_v * limits.critical_delayed_vs;
        assert!(discriminant.abs() < 1e-12);
    }

    #[test]
    fn integral_time_is_the_lag_until_four_times_the_closed_loop_is_shorter() {
        let slow = simc_pi(&PLANT, 0.1, 0.2);
        assert_eq!(slow.integral_s, PLANT.tau_s);
        let fast = simc_pi(&PLANT, 0.02, 0.03);
        assert!((fast.integral_s - 0.2).abs() < 1e-15);
        assert!(fast.kp_vs > slow.kp_vs);
    }

    #[test]
    fn droop_falls_with_gain_and_is_the_open_loop_change_without_it() {
        assert_eq!(droop(&PLANT, 0.0, 0.8), PLANT.gain_radps_per_v * 0.8);
        assert!(droop(&PLANT, 0.5, 0.8) < droop(&PLANT, 0.1, 0.8));
    }

    #[test]
    fn senseless_loops_have_no_gain_limit() {
        assert_eq!(averaged_gain_limit(&PLANT, 0.02, 0, 1.0), None);
        assert_eq!(averaged_gain_limit(&PLANT, 0.0, 1, 1.0), None);
        assert_eq!(averaged_gain_limit(&PLANT, f64::NAN, 1, 1.0), None);
        assert_eq!(averaged_gain_limit(&PLANT, 0.02, 1, f64::INFINITY), None);
        assert_eq!(
            averaged_gain_limit(&SpeedPlant { tau_s: -1.0, ..PLANT }, 0.02, 1, 1.0),
            None
        );
    }
}
