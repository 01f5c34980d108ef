//! Brushed motor from its data sheet: constants, operating point, peaks, winding heat.

use super::types::MotorSheet;

/// Constants of the linear motor model.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MotorConstants {
    /// Terminal resistance, brushes included.
    pub resistance_ohm: f64,
    /// Voltage per motor speed.
    pub ke_v_per_radps: f64,
    /// Torque per current.
    pub kt_nm_per_a: f64,
    /// Current that friction takes, at any speed.
    pub free_a: f64,
    /// Friction torque.
    pub friction_nm: f64,
    /// kT over kE; 1 for consistent data.
    pub kappa_ratio: f64,
}

/// Constants of a brushed motor from the five numbers of its sheet.
///
/// ```text
/// R = V/Is    kE = (V − I0 R)/ω0    kT = Ts/(Is − I0)    τf = kT I0    κ = kT/kE
/// ```
///
/// | symbol | code | unit |
/// |---|---|---|
/// | V, ω0, I0, Ts, Is | fields of [`MotorSheet`] | V, rad/s, A, N m, A |
///
/// Linear model \[fitzgerald-machines\]; holds for constant R, friction that does not change with
/// speed, magnets at rated temperature. Leaves out inductance (time constant 0.1 to 1 ms).
pub fn motor_constants(sheet: &MotorSheet) -> MotorConstants {
    let resistance_ohm = sheet.nominal_v / sheet.stall_a;
    let ke_v_per_radps = (sheet.nominal_v - sheet.free_a * resistance_ohm) / sheet.free_radps;
    let kt_nm_per_a = sheet.stall_nm / (sheet.stall_a - sheet.free_a);
    MotorConstants {
        resistance_ohm,
        ke_v_per_radps,
        kt_nm_per_a,
        free_a: sheet.free_a,
        friction_nm: kt_nm_per_a * sheet.free_a,
        kappa_ratio: kt_nm_per_a / ke_v_per_radps,
    }
}

/// One operating point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MotorPoint {
    /// Current.
    pub current_a: f64,
    /// Torque at the motor shaft, friction taken off.
    pub torque_nm: f64,
    /// Electrical power in.
    pub input_w: f64,
    /// Mechanical power out.
    pub output_w: f64,
    /// Output over input; 0 where the motor takes no power.
    pub efficiency_frac: f64,
    /// Heat in the winding.
    pub copper_w: f64,
}

/// Where the motor works at a terminal voltage and a speed.
///
/// ```text
/// I = (V − kE ω)/R    τ = kT (I − I0)    P_in = V I    P_out = τ ω    P_cu = I² R
/// ```
///
/// Same model and range as [`motor_constants`] \[fitzgerald-machines\]. Forward speed.
pub fn motor_point(sheet: &MotorSheet, terminal_v: f64, speed_radps: f64) -> MotorPoint {
    let m = motor_constants(sheet);
    let current_a = (terminal_v - m.ke_v_per_radps * speed_radps) / m.resistance_ohm;
    let torque_nm = m.kt_nm_per_a * (current_a - m.free_a);
    let (input_w, output_w) = (terminal_v * current_a, torque_nm * speed_radps);
    MotorPoint {
        current_a,
        torque_nm,
        input_w,
        output_w,
        efficiency_frac: if input_w > 0.0 { output_w / input_w } else { 0.0 },
        copper_w: current_a * current_a * m.resistance_ohm,
    }
}

/// Greatest power and greatest efficiency at the nominal voltage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MotorPeaks {
    /// Greatest output power.
    pub power_w: f64,
    /// Speed there.
    pub power_radps: f64,
    /// Current there: about half of the stall current, which a small motor bears for seconds only.
    pub power_a: f64,
    /// Current of greatest efficiency.
    pub efficient_a: f64,
    /// Speed of greatest efficiency.
    pub efficient_radps: f64,
    /// Greatest efficiency if κ were 1.
    pub efficiency_ideal_frac: f64,
    /// Efficiency at that current from the sheet's own torque and current lines.
    pub efficiency_frac: f64,
}

/// Peaks of the torque and current lines of the sheet.
///
/// ```text
/// P_max = Ts ω0/4 at ω0/2, I = (Is + I0)/2
/// I_η = √(I0 Is)    ω_η = ω0 (Is − I_η)/(Is − I0)    η_ideal = (1 − √(I0/Is))²
/// η = Ts (1 − ω_η/ω0) ω_η/(V I_η)
/// ```
///
/// Derived from the linear model \[fitzgerald-machines\].
pub fn motor_peaks(sheet: &MotorSheet) -> MotorPeaks {
    let efficient_a = (sheet.free_a * sheet.stall_a).sqrt();
    let slowed_frac = (sheet.stall_a - efficient_a) / (sheet.stall_a - sheet.free_a);
    let efficient_radps = sheet.free_radps * slowed_frac;
    let ideal_root = 1.0 - (sheet.free_a / sheet.stall_a).sqrt();
    let torque_nm = sheet.stall_nm * (1.0 - slowed_frac);
    let input_w = sheet.nominal_v * efficient_a;
    MotorPeaks {
        power_w: sheet.stall_nm * sheet.free_radps / 4.0,
        power_radps: sheet.free_radps / 2.0,
        power_a: (sheet.stall_a + sheet.free_a) / 2.0,
        efficient_a,
        efficient_radps,
        efficiency_ideal_frac: ideal_root * ideal_root,
        efficiency_frac: if input_w > 0.0 {
            torque_nm * efficient_radps / input_w
        } else {
            0.0
        },
    }
}

/// Copper: rise of resistance per kelvin, referred to 20 °C, 1/K \[iec60028\].
pub const COPPER_PER_K: f64 = 0.003_93;

/// A winding as one lump of heat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Winding {
    /// Resistance cold.
    pub resistance_ohm: f64,
    /// Rise of resistance per kelvin ([`COPPER_PER_K`]).
    pub alpha_per_k: f64,
    /// Heat the winding takes per kelvin.
    pub heat_capacity_j_per_k: f64,
    /// Temperature rise per watt held for ever; infinite if no heat leaves.
    pub thermal_k_per_w: f64,
}

/// Time for the winding to warm when no heat leaves it, under three supplies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AdiabaticTimes {
    /// Constant current, resistance taken as cold.
    pub cold_resistance_s: f64,
    /// Constant current, resistance growing with temperature.
    pub constant_current_s: f64,
    /// Constant voltage at standstill.
    pub constant_voltage_s: f64,
}

/// Time to a temperature rise at standstill without cooling.
///
/// ```text
/// C ΔT/(I² R0)        C ln(1 + α ΔT)/(α I² R0)        C R0 (ΔT + α ΔT²/2)/V²
/// ```
///
/// Heat balance, derived; α from \[iec60028\]. An estimate: stop well before. Holds for seconds, not minutes.
pub fn winding_heat_times(winding: &Winding, rise_k: f64, current_a: f64, terminal_v: f64) -> AdiabaticTimes {
    let Winding {
        resistance_ohm,
        alpha_per_k,
        heat_capacity_j_per_k,
        ..
    } = *winding;
    let power_w = current_a * current_a * resistance_ohm;
    let cold_resistance_s = heat_capacity_j_per_k * rise_k / power_w;
    let grown = alpha_per_k * rise_k;
    AdiabaticTimes {
        cold_resistance_s,
        constant_current_s: if grown == 0.0 {
            cold_resistance_s
        } else {
            cold_resistance_s * grown.ln_1p() / grown
        },
        constant_voltage_s: heat_capacity_j_per_k * resistance_ohm * rise_k * (1.0 + grown / 2.0)
            / (terminal_v * terminal_v),
    }
}

/// What a held current does to a winding that also cools.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WindingHeat {
    /// Rise after a long time; `None` when it runs away.
    pub steady_rise_k: Option<f64>,
    /// Time to the asked rise; `None` when it is never reached.
    pub time_s: Option<f64>,
    /// Current above which no steady temperature exists.
    pub runaway_a: f64,
    /// Current that can be held for ever within the asked rise.
    pub continuous_a: f64,
}

/// First-order heating of a winding whose resistance grows with temperature.
///
/// ```text
/// C dθ/dt = I² R0 (1 + α θ) − θ/Rth        g = 1 − α I² R0 Rth
/// g > 0: θ_ss = I² R0 Rth/g                t = −(Rth C/g) ln(1 − ΔT g/(I² R0 Rth))
/// g ≤ 0: runaway    I_run = 1/√(α R0 Rth)    I_cont = √(ΔT/(R0 (1 + α ΔT) Rth))
/// ```
///
/// One-lump model of the kind in \[iec60034\], derived. An estimate: winding and case are two lumps in truth.
pub fn winding_first_order(winding: &Winding, current_a: f64, rise_k: f64) -> WindingHeat {
    let Winding {
        resistance_ohm,
        alpha_per_k,
        heat_capacity_j_per_k,
        thermal_k_per_w,
    } = *winding;
    let cold_rise_k = current_a * current_a * resistance_ohm * thermal_k_per_w;
    let stability = 1.0 - alpha_per_k * cold_rise_k;
    let steady_rise_k = (stability > 0.0).then(|| cold_rise_k / stability);
    let tau_s = thermal_k_per_w * heat_capacity_j_per_k;
    let wanted = rise_k / cold_rise_k;
    let out_of_reach = steady_rise_k.is_some_and(|steady| rise_k >= steady);
    let time_s = if out_of_reach {
        None
    } else if stability == 0.0 {
        Some(tau_s * wanted)
    } else {
        Some(-tau_s / stability * (-wanted * stability).ln_1p())
    };
    WindingHeat {
        steady_rise_k,
        time_s: time_s.filter(|t| t.is_finite()),
        runaway_a: 1.0 / (alpha_per_k * resistance_ohm * thermal_k_per_w).sqrt(),
        continuous_a: (rise_k / (resistance_ohm * (1.0 + alpha_per_k * rise_k) * thermal_k_per_w)).sqrt(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    /// Invented motor of the 550 size.
    fn small_motor() -> MotorSheet {
        MotorSheet {
            nominal_v: 12.0,
            free_radps: 17_500.0 * PI / 30.0,
            free_a: 1.8,
            stall_nm: 0.42,
            stall_a: 68.0,
            rotor_kgm2: 2e-6,
        }
    }

    /// Trap: V/ω0 ignores the voltage that the free current drops in the winding.
    #[test]
    fn speed_constant_is_below_voltage_over_free_speed_by_the_free_current_drop() {
        let sheet = small_motor();
        let ke = motor_constants(&sheet).ke_v_per_radps;
        assert!((ke - 0.006_374_8).abs() < 5e-8, "{ke}");
        assert!((sheet.nominal_v / sheet.free_radps - 0.006_548_1).abs() < 5e-8);
        let without = motor_constants(&MotorSheet { free_a: 0.0, ..sheet });
        assert_eq!(without.ke_v_per_radps, sheet.nominal_v / sheet.free_radps);
    }

    /// Trap: a speed typed in rpm where rad/s belongs makes κ 30/π times too large.
    #[test]
    fn a_free_speed_left_in_rpm_shows_in_kappa() {
        let rpm_typed = MotorSheet {
            free_radps: 17_500.0,
            ..small_motor()
        };
        let ratio = motor_constants(&rpm_typed).kappa_ratio / motor_constants(&small_motor()).kappa_ratio;
        assert!((ratio - 30.0 / PI).abs() < 1e-9);
    }

    /// Trap: Ts/Is instead of Ts/(Is − I0).
    #[test]
    fn torque_at_stall_and_at_free_speed_are_those_of_the_sheet() {
        let sheet = small_motor();
        let stall = motor_point(&sheet, sheet.nominal_v, 0.0);
        assert!((stall.torque_nm - sheet.stall_nm).abs() < 1e-12);
        assert!((stall.current_a - sheet.stall_a).abs() < 1e-12);
        let free = motor_point(&sheet, sheet.nominal_v, sheet.free_radps);
        assert!(free.torque_nm.abs() < 1e-12 && (free.current_a - sheet.free_a).abs() < 1e-11);
    }

    /// Exactly κ = 1 data: the sheet's lines and the ideal formula give the same greatest efficiency,
    /// and no other current does better.
    #[test]
    fn greatest_efficiency_sits_at_the_geometric_mean_of_the_two_currents() {
        let sheet = small_motor();
        let m = motor_constants(&sheet);
        let consistent = MotorSheet {
            stall_nm: m.ke_v_per_radps * (sheet.stall_a - sheet.free_a),
            ..sheet
        };
        let peaks = motor_peaks(&consistent);
        assert!((peaks.efficiency_frac - peaks.efficiency_ideal_frac).abs() < 1e-12);
        let best = motor_point(&consistent, 12.0, peaks.efficient_radps).efficiency_frac;
        assert!((best - peaks.efficiency_frac).abs() < 1e-12);
        for factor in [0.98, 1.02] {
            assert!(motor_point(&consistent, 12.0, factor * peaks.efficient_radps).efficiency_frac < best);
            assert!(motor_point(&consistent, 12.0, factor * peaks.power_radps).output_w < peaks.power_w);
        }
    }

    /// The warm winding draws less current from a fixed voltage and so lasts longer; at fixed current
    /// it heats faster.
    #[test]
    fn growing_resistance_shortens_the_time_at_fixed_current_and_lengthens_it_at_fixed_voltage() {
        let winding = Winding {
            resistance_ohm: 0.2,
            alpha_per_k: COPPER_PER_K,
            heat_capacity_j_per_k: 20.0,
            thermal_k_per_w: 4.0,
        };
        let warm = winding_heat_times(&winding, 100.0, 60.0, 12.0);
        assert!(warm.constant_current_s < warm.cold_resistance_s);
        assert!(warm.constant_voltage_s > warm.cold_resistance_s);
        let flat = winding_heat_times(
            &Winding {
                alpha_per_k: 0.0,
                ..winding
            },
            100.0,
            60.0,
            12.0,
        );
        assert!((flat.constant_current_s - flat.cold_resistance_s).abs() < 1e-12);
        assert!((flat.constant_voltage_s - flat.cold_resistance_s).abs() < 1e-12);
    }

    /// The first-order time solves its own differential equation (fourth-order steps as the second route),
    /// on both sides of runaway.
    #[test]
    fn first_order_heating_time_solves_the_heat_balance() {
        let winding = Winding {
            resistance_ohm: 0.2,
            alpha_per_k: COPPER_PER_K,
            heat_capacity_j_per_k: 20.0,
            thermal_k_per_w: 4.0,
        };
        for current_a in [9.0, 25.0] {
            let heat = winding_first_order(&winding, current_a, 50.0);
            let time_s = heat.time_s.unwrap();
            assert_eq!(heat.steady_rise_k.is_none(), current_a > heat.runaway_a);
            let rate = |rise: f64| {
                (current_a * current_a * 0.2 * (1.0 + COPPER_PER_K * rise) - rise / winding.thermal_k_per_w)
                    / winding.heat_capacity_j_per_k
            };
            let (mut rise, steps) = (0.0, 400);
            let h = time_s / f64::from(steps);
            for _ in 0..steps {
                let k1 = rate(rise);
                let k2 = rate(rise + h * k1 / 2.0);
                let k3 = rate(rise + h * k2 / 2.0);
                rise += h * (k1 + 2.0 * k2 + 2.0 * k3 + rate(rise + h * k3)) / 6.0;
            }
            assert!((rise - 50.0).abs() < 1e-6, "{current_a} A: {rise}");
        }
        assert_eq!(winding_first_order(&winding, 3.0, 50.0).time_s, None);
    }
}
