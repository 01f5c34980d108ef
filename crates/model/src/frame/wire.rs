//! Wires: resistance, voltage drop and warmth.

use std::f64::consts::PI;

/// Resistivity of annealed copper at 20 °C times length over area, Ω m \[iec60028\].
const COPPER_OHM_M: f64 = 1.7241e-8;
/// Heat that leaves insulation in still air by air and radiation, W/(m² K): 5 to 25 in textbooks \[incropera\]; low side.
const STILL_AIR: f64 = 10.0;
/// Judgement: insulation this thick around the copper.
const INSULATION_M: f64 = 0.8e-3;

/// Copper area of a wire by its American gauge number.
///
/// ```text
/// d = 0.127 mm · 92^((36 − n)/39)    A = π d²/4
/// ```
///
/// \[astm-b258\]
pub fn gauge_m2(gauge_count: f64) -> f64 {
    let diameter_m = 0.127e-3 * 92f64.powf((36.0 - gauge_count) / 39.0);
    PI * diameter_m * diameter_m / 4.0
}

/// A wire under a steady current.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WireLoad {
    /// Resistance of the whole length.
    pub resistance_ohm: f64,
    /// Voltage lost along it.
    pub drop_v: f64,
    /// How much warmer than the air it gets; infinite where it runs away.
    pub rise_k: f64,
}

/// Resistance, voltage drop and steady rise of temperature of a copper wire in still air.
///
/// ```text
/// R = ρ l/A    ΔT = g/(1 − α g),  g = I² ρ/(A h π D)    D = √(4A/π) + 2 × 0.8 mm
/// ```
///
/// Heat balance of a long wire with the warm wire's resistance, derived; ρ and α \[iec60028\], h = 10 W/(m² K)
/// \[incropera\]. A bundle or a sleeve is worse.
pub fn wire_load(area_m2: f64, length_m: f64, current_a: f64) -> WireLoad {
    let resistance_ohm = COPPER_OHM_M * length_m / area_m2;
    let outer_m = (4.0 * area_m2 / PI).sqrt() + 2.0 * INSULATION_M;
    let cold_k = current_a * current_a * COPPER_OHM_M / (area_m2 * STILL_AIR * PI * outer_m);
    let left = 1.0 - crate::launcher::motor::COPPER_PER_K * cold_k;
    WireLoad {
        resistance_ohm,
        drop_v: resistance_ohm * current_a,
        rise_k: if left > 0.0 { cold_k / left } else { f64::INFINITY },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Standard areas: gauge 10 is 5.26 mm², 12 is 3.31, 18 is 0.823 [astm-b258] (from memory).
    #[test]
    fn gauge_numbers_have_their_standard_areas() {
        for (n, mm2) in [(10.0, 5.26), (12.0, 3.31), (18.0, 0.823)] {
            assert!(
                (gauge_m2(n) * 1e6 / mm2 - 1.0).abs() < 2e-3,
                "{n}: {}",
                gauge_m2(n) * 1e6
            );
        }
    }

    /// 1 mm² of copper has 17.2 mΩ a metre; three times the current warms nine times as much and more.
    #[test]
    fn resistance_is_that_of_copper_and_warmth_grows_faster_than_the_square() {
        let w = wire_load(1e-6, 1.0, 5.0);
        assert!((w.resistance_ohm - 0.017_241).abs() < 1e-6);
        assert!(wire_load(1e-6, 1.0, 15.0).rise_k > 9.0 * w.rise_k);
        assert_eq!(wire_load(1e-7, 1.0, 100.0).rise_k, f64::INFINITY);
    }
}
