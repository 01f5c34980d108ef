//! Spin-up and recovery of the wheel train at full duty, in closed form.

use super::motor::motor_constants;
use super::train::WheelTrain;
use super::types::Battery;

/// Spin-up at full duty from rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpinUp {
    /// Torque lost per wheel speed, all of one shaft's motors.
    pub drag_nms: f64,
    /// Resistance that a motor's current meets, with the shared battery.
    pub effective_ohm: f64,
    /// Time constant of the free part.
    pub tau_s: f64,
    /// Speed approached in the end; never reached, so ask for the time to a band below it.
    pub top_radps: f64,
    /// Torque at one wheel at the start.
    pub start_nm: f64,
    /// Speed up to which the current limit holds; 0 if it never does.
    pub knee_radps: f64,
    /// Time to the knee; infinite if the limited current does not overcome friction.
    pub knee_s: f64,
    /// Current drawn from the battery at the start.
    pub start_battery_a: f64,
    /// Battery voltage at the start.
    pub start_battery_v: f64,
    /// Greatest current drawn from the battery.
    pub peak_battery_a: f64,
}

/// Closed form of a spin-up at full duty.
///
/// ```text
/// R_e = R + n R_b    B = Nm η G² kT kE/R_e    τ = J/B    ω_top = (V_oc − R_e I0)/(kE G)
/// current limit:  ω1 = (V_oc − I_lim R_e)/(kE G),    t1 = J ω1/(Nm η G kT (I_lim − I0))
/// ```
///
/// n counts the motors of all shafts on the battery. First-order linear equation, derived; model of
/// \[fitzgerald-machines\] with a Thévenin battery.
pub fn spin_up(train: &WheelTrain, battery: &Battery) -> SpinUp {
    let m = motor_constants(&train.drive.motor);
    let per_shaft = f64::from(train.drive.motor_count);
    let n = per_shaft * f64::from(train.shaft_count);
    let (ratio, limit_a) = (train.drive.gear_ratio, train.drive.limit_a);
    let effective_ohm = m.resistance_ohm + n * battery.resistance_ohm;
    let torque_per_a = per_shaft * train.drive.gear_efficiency_frac * ratio * m.kt_nm_per_a;
    let back_v_per_radps = m.ke_v_per_radps * ratio;
    let drag_nms = torque_per_a * back_v_per_radps / effective_ohm;
    let stall_a = battery.open_v / effective_ohm;
    let limited = limit_a < stall_a;
    let start_a = if limited { limit_a } else { stall_a };
    let knee_radps = if limited {
        (battery.open_v - limit_a * effective_ohm) / back_v_per_radps
    } else {
        0.0
    };
    let push_nm = torque_per_a * (start_a - m.free_a);
    // The chopper passes the limited current at a lower duty while the wheel is slow.
    let start_battery_a = if limited {
        let needed_v = limit_a * m.resistance_ohm;
        let inside = battery.open_v * battery.open_v - 4.0 * n * battery.resistance_ohm * limit_a * needed_v;
        n * limit_a * 2.0 * needed_v / (battery.open_v + inside.max(0.0).sqrt())
    } else {
        n * stall_a
    };
    SpinUp {
        drag_nms,
        effective_ohm,
        tau_s: train.inertia_kgm2 / drag_nms,
        top_radps: (battery.open_v - m.free_a * effective_ohm) / back_v_per_radps,
        start_nm: push_nm,
        knee_radps,
        knee_s: if !limited {
            0.0
        } else if push_nm > 0.0 {
            train.inertia_kgm2 * knee_radps / push_nm
        } else {
            f64::INFINITY
        },
        start_battery_a,
        start_battery_v: battery.open_v - battery.resistance_ohm * start_battery_a,
        peak_battery_a: n * start_a,
    }
}

/// Time from rest to a wheel speed at full duty; `None` at or above the top speed.
///
/// ```text
/// ω ≤ ω1:  t = t1 ω/ω1        ω > ω1:  t = t1 + τ ln((ω_top − ω1)/(ω_top − ω))
/// ```
pub fn spin_up_time(spin_up: &SpinUp, speed_radps: f64) -> Option<f64> {
    let time_s = if speed_radps <= 0.0 {
        0.0
    } else if speed_radps <= spin_up.knee_radps {
        spin_up.knee_s * speed_radps / spin_up.knee_radps
    } else {
        let left = spin_up.top_radps - speed_radps;
        spin_up.knee_s + spin_up.tau_s * ((spin_up.top_radps - spin_up.knee_radps) / left).ln()
    };
    (time_s.is_finite() && speed_radps < spin_up.top_radps).then_some(time_s)
}

/// What one throw costs the wheel and how soon it is back.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShotRecovery {
    /// Speed after the throw; 0 if it takes more than the wheel holds.
    pub after_radps: f64,
    /// Loss over the speed before.
    pub dip_frac: f64,
    /// Time back to within the band below the speed before, at full duty; `None` if out of reach.
    pub recovery_s: Option<f64>,
}

/// A throw and a wheel at full duty afterwards.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shot {
    /// Inertia at the wheel.
    pub inertia_kgm2: f64,
    /// Wheel speed before.
    pub before_radps: f64,
    /// Energy the throw takes out of the wheel: the piece's, its spin's, and all heat.
    pub taken_j: f64,
    /// Time constant of the spin-up.
    pub tau_s: f64,
    /// Top speed at full duty.
    pub top_radps: f64,
    /// Half width of the band, as a fraction of the speed before.
    pub band_frac: f64,
}

/// Dip and recovery of one throw at full duty without delay.
///
/// ```text
/// ω2 = √(ω1² − 2 E/J)    t = τ ln((ω_top − ω2)/(ω_top − (1 − tol) ω1))
/// ```
///
/// Energy balance and first-order recovery, derived. E must contain the slip heat: at least as much
/// as the piece's energy. Add the loop's delay.
pub fn shot_recovery(shot: &Shot) -> ShotRecovery {
    let square = shot.before_radps * shot.before_radps - 2.0 * shot.taken_j / shot.inertia_kgm2;
    let after_radps = square.max(0.0).sqrt();
    let wanted_radps = (1.0 - shot.band_frac) * shot.before_radps;
    let recovery_s = if after_radps >= wanted_radps {
        Some(0.0)
    } else if wanted_radps < shot.top_radps {
        Some(shot.tau_s * ((shot.top_radps - after_radps) / (shot.top_radps - wanted_radps)).ln())
    } else {
        None
    };
    ShotRecovery {
        after_radps,
        dip_frac: 1.0 - after_radps / shot.before_radps,
        recovery_s: recovery_s.filter(|t| t.is_finite()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::launcher::types::{Drive, MotorSheet};

    fn train(motor_count: u32, shaft_count: u32, limit_a: f64) -> WheelTrain {
        WheelTrain {
            drive: Drive {
                motor: MotorSheet {
                    nominal_v: 12.0,
                    free_radps: 1832.6,
                    free_a: 1.8,
                    stall_nm: 0.42,
                    stall_a: 68.0,
                    rotor_kgm2: 0.0,
                },
                motor_count,
                gear_ratio: 3.0,
                gear_efficiency_frac: 0.9,
                limit_a,
            },
            inertia_kgm2: 1.2e-3,
            shaft_count,
        }
    }

    const STIFF: Battery = Battery {
        open_v: 12.0,
        resistance_ohm: 0.0,
        brown_out_v: 6.8,
    };
    const SOFT: Battery = Battery {
        open_v: 12.0,
        resistance_ohm: 0.018,
        brown_out_v: 6.8,
    };

    /// Ratio, efficiency, motor count, battery resistance and shafts each change the time constant their own
    /// way.
    #[test]
    fn each_part_of_the_drive_changes_the_time_constant_its_own_way() {
        let base = spin_up(&train(1, 1, f64::INFINITY), &STIFF);
        let mut geared = train(1, 1, f64::INFINITY);
        geared.drive.gear_ratio = 6.0;
        let slower = spin_up(&geared, &STIFF);
        assert!((slower.tau_s * 4.0 / base.tau_s - 1.0).abs() < 1e-12);
        assert!((slower.top_radps * 2.0 / base.top_radps - 1.0).abs() < 1e-12);
        let mut lossy = train(1, 1, f64::INFINITY);
        lossy.drive.gear_efficiency_frac = 0.45;
        assert!((spin_up(&lossy, &STIFF).tau_s / base.tau_s - 2.0).abs() < 1e-12);
        assert!((spin_up(&train(2, 1, f64::INFINITY), &STIFF).tau_s * 2.0 / base.tau_s - 1.0).abs() < 1e-12);
        assert_eq!(spin_up(&train(1, 2, f64::INFINITY), &STIFF).tau_s, base.tau_s);
        assert!(
            spin_up(&train(1, 2, f64::INFINITY), &SOFT).tau_s
                > spin_up(&train(1, 1, f64::INFINITY), &SOFT).tau_s
        );
    }

    #[test]
    fn top_speed_is_never_reached_and_half_of_it_takes_ln_two_time_constants() {
        let up = spin_up(&train(1, 1, f64::INFINITY), &STIFF);
        assert_eq!(spin_up_time(&up, up.top_radps), None);
        assert_eq!(spin_up_time(&up, f64::NAN), None);
        let half = spin_up_time(&up, up.top_radps / 2.0).unwrap();
        assert!((half / up.tau_s - std::f64::consts::LN_2).abs() < 1e-12);
    }

    #[test]
    fn a_limit_at_the_stall_current_changes_nothing_and_one_below_friction_never_starts() {
        let free = spin_up(&train(1, 1, f64::INFINITY), &SOFT);
        let grazing = spin_up(&train(1, 1, 12.0 / free.effective_ohm), &SOFT);
        assert_eq!(spin_up_time(&free, 400.0), spin_up_time(&grazing, 400.0));
        assert_eq!(spin_up_time(&spin_up(&train(1, 1, 1.0), &SOFT), 100.0), None);
        let limited = spin_up(&train(1, 1, 30.0), &SOFT);
        assert!(limited.start_battery_a < limited.peak_battery_a);
        assert!((limited.peak_battery_a - 30.0).abs() < 1e-12);
    }

    #[test]
    fn a_wheel_without_head_room_does_not_come_back() {
        let shot = Shot {
            inertia_kgm2: 1.2e-3,
            before_radps: 450.0,
            taken_j: 9.0,
            tau_s: 0.65,
            top_radps: 440.0,
            band_frac: 0.005,
        };
        assert_eq!(shot_recovery(&shot).recovery_s, None);
        assert_eq!(
            shot_recovery(&Shot { taken_j: 0.0, ..shot }).recovery_s,
            Some(0.0)
        );
        assert_eq!(shot_recovery(&Shot { taken_j: 1e9, ..shot }).after_radps, 0.0);
    }
}
