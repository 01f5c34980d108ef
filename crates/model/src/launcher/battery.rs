//! Battery under load: sag with a chopper, brown-out, power limit.

use super::motor::MotorConstants;
use super::types::Battery;

/// Battery and motor currents at one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sag {
    /// Voltage at the battery terminals.
    pub battery_v: f64,
    /// Current in each motor.
    pub motor_a: f64,
    /// Current drawn from the battery.
    pub battery_a: f64,
}

/// Sag of the battery under equal motors behind ideal averaged choppers.
///
/// ```text
/// I_m = (D V_b − kE ω)/R    I_b = n D I_m    V_b = V_oc − R_b I_b
/// V_b = (V_oc + n D R_b kE ω/R)/(1 + n D² R_b/R)
/// ```
///
/// | symbol | code | unit |
/// |---|---|---|
/// | D | `duty_frac` | – |
/// | ω | `motor_radps` | rad/s |
/// | n | `motor_count` | – |
/// | V_oc, R_b | fields of [`Battery`] | V, Ω |
///
/// Thévenin source with averaged chopper, derived. Battery current is duty times motor current.
/// Leaves out slow polarisation of the battery (seconds) and the switches' own drop.
pub fn battery_sag(
    battery: &Battery,
    motor: &MotorConstants,
    motor_radps: f64,
    duty_frac: f64,
    motor_count: u32,
) -> Sag {
    let n = f64::from(motor_count);
    let back_v = motor.ke_v_per_radps * motor_radps;
    let loss = n * duty_frac * battery.resistance_ohm / motor.resistance_ohm;
    let battery_v = (battery.open_v + loss * back_v) / (1.0 + loss * duty_frac);
    let motor_a = (duty_frac * battery_v - back_v) / motor.resistance_ohm;
    Sag {
        battery_v,
        motor_a,
        battery_a: n * duty_frac * motor_a,
    }
}

/// Where the electronics reset, and what the battery can give at all.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BrownOut {
    /// Current at which the terminals fall to the brown-out voltage.
    pub current_a: f64,
    /// Power delivered there.
    pub power_w: f64,
    /// Greatest power the battery can deliver.
    pub peak_power_w: f64,
    /// Current of a dead short: why a fuse sits next to the battery.
    pub short_a: f64,
}

/// Brown-out current and limits of a battery.
///
/// ```text
/// I = (V_oc − V_min)/R_b    P = V_min I    P_max = V_oc²/(4 R_b)    I_short = V_oc/R_b
/// ```
///
/// Thévenin source, derived. Infinite for a battery without resistance.
pub fn brown_out(battery: &Battery) -> BrownOut {
    let current_a = (battery.open_v - battery.brown_out_v) / battery.resistance_ohm;
    BrownOut {
        current_a,
        power_w: battery.brown_out_v * current_a,
        peak_power_w: battery.open_v * battery.open_v / (4.0 * battery.resistance_ohm),
        short_a: battery.open_v / battery.resistance_ohm,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const MOTOR: MotorConstants = MotorConstants {
        resistance_ohm: 0.146_34,
        ke_v_per_radps: 0.024,
        kt_nm_per_a: 0.024,
        free_a: 3.0,
        friction_nm: 0.072,
        kappa_ratio: 1.0,
    };
    const BATTERY: Battery = Battery {
        open_v: 12.7,
        resistance_ohm: 0.018,
        brown_out_v: 6.8,
    };

    /// Trap: the battery sees duty times the motor current; power balances through the chopper.
    #[test]
    fn battery_current_is_duty_times_motor_current_and_power_balances() {
        for duty in [0.2, 0.6, 1.0] {
            let sag = battery_sag(&BATTERY, &MOTOR, 100.0, duty, 4);
            assert!((sag.battery_a - 4.0 * duty * sag.motor_a).abs() < 1e-12);
            let motor_w = 4.0 * sag.motor_a * (sag.motor_a * MOTOR.resistance_ohm + 100.0 * 0.024);
            assert!((sag.battery_v * sag.battery_a - motor_w).abs() < 1e-9);
            assert!((sag.battery_v - (12.7 - 0.018 * sag.battery_a)).abs() < 1e-12);
        }
        let half = battery_sag(&BATTERY, &MOTOR, 0.0, 0.5, 4);
        assert!(half.battery_a < 0.51 * 4.0 * half.motor_a);
    }

    /// A load of exactly the brown-out current pulls the terminals to the brown-out voltage.
    #[test]
    fn the_brown_out_current_pulls_the_terminals_to_the_brown_out_voltage() {
        let out = brown_out(&BATTERY);
        assert!(
            (BATTERY.open_v - out.current_a * BATTERY.resistance_ohm - BATTERY.brown_out_v).abs() < 1e-12
        );
        let at = |amps: f64| amps * (BATTERY.open_v - amps * BATTERY.resistance_ohm);
        assert!((at(out.short_a / 2.0) - out.peak_power_w).abs() < 1e-9);
        assert!(at(0.49 * out.short_a) < out.peak_power_w && at(0.51 * out.short_a) < out.peak_power_w);
    }
}
