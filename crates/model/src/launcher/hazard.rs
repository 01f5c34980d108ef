//! Numbers about what can hurt someone. Shown with a caution, never as a verdict that a thing is safe.

use super::inertia::stored_energy;
use std::f64::consts::PI;

/// Kinetic energy per projected area at which half of the tested eyes had a corneal abrasion \[duma2005\].
/// Half is not a threshold; the tests used small projectiles.
pub const CORNEAL_ABRASION_JPM2: f64 = 1503.0;

/// Limit for toy projectiles, per contact area \[astm-f963\]. The measured imprint differs from the projected
/// area.
pub const TOY_LIMIT_JPM2: f64 = 2500.0;

/// Energy of a thrown piece.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PieceEnergy {
    /// Kinetic energy of the motion, without spin.
    pub kinetic_j: f64,
    /// Projected area.
    pub area_m2: f64,
    /// Energy over projected area.
    pub per_area_jpm2: f64,
    /// Over [`TOY_LIMIT_JPM2`].
    pub toy_limit_ratio: f64,
    /// Over [`CORNEAL_ABRASION_JPM2`].
    pub abrasion_ratio: f64,
}

/// Energy of a thrown piece and what it is next to published figures.
///
/// ```text
/// E = m v²/2    e = E/(π d²/4)
/// ```
///
/// Figures from \[duma2005\] and \[astm-f963\]. Pieces wider than the eye socket load brow and cheek instead.
pub fn piece_energy(mass_kg: f64, diameter_m: f64, speed_mps: f64) -> PieceEnergy {
    let kinetic_j = 0.5 * mass_kg * speed_mps * speed_mps;
    let area_m2 = PI * diameter_m * diameter_m / 4.0;
    let per_area_jpm2 = kinetic_j / area_m2;
    PieceEnergy {
        kinetic_j,
        area_m2,
        per_area_jpm2,
        toy_limit_ratio: per_area_jpm2 / TOY_LIMIT_JPM2,
        abrasion_ratio: per_area_jpm2 / CORNEAL_ABRASION_JPM2,
    }
}

/// A wheel left to itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CoastDown {
    /// Energy at the start.
    pub energy_j: f64,
    /// Time until it stops; infinite without friction.
    pub stop_s: f64,
    /// Time if only the constant friction acted.
    pub coulomb_stop_s: f64,
}

/// Time for a wheel to stop after power-off: constant plus viscous friction.
///
/// ```text
/// J dω/dt = −τc − b ω    t = (J/b) ln(1 + b ω/τc)    E = J ω²/2
/// ```
///
/// Derived. b = 0 gives J ω/τc. Air drag grows faster than b ω at first, so the true time is shorter at high
/// speed.
pub fn coast_down(inertia_kgm2: f64, speed_radps: f64, friction_nm: f64, viscous_nms: f64) -> CoastDown {
    let coulomb_stop_s = inertia_kgm2 * speed_radps / friction_nm;
    let growth = viscous_nms * speed_radps / friction_nm;
    CoastDown {
        energy_j: stored_energy(inertia_kgm2, speed_radps),
        stop_s: if growth == 0.0 || !growth.is_finite() {
            coulomb_stop_s
        } else {
            coulomb_stop_s * growth.ln_1p() / growth
        },
        coulomb_stop_s,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn viscous_friction_shortens_the_coast_and_vanishing_it_restores_the_constant_one() {
        let viscous = coast_down(1.2e-3, 450.0, 6e-3, 2e-5);
        assert!(viscous.stop_s < viscous.coulomb_stop_s);
        let faint = coast_down(1.2e-3, 450.0, 6e-3, 1e-13);
        assert!((faint.stop_s / faint.coulomb_stop_s - 1.0).abs() < 1e-8);
        assert_eq!(coast_down(1.2e-3, 450.0, 6e-3, 0.0).stop_s, faint.coulomb_stop_s);
        assert_eq!(coast_down(1.2e-3, 450.0, 0.0, 2e-5).stop_s, f64::INFINITY);
    }

    /// The time solves J dω/dt = −τc − b ω (fourth-order steps as the second route).
    #[test]
    fn the_wheel_stands_still_at_the_stopping_time() {
        let (j, b, tau) = (1.2e-3, 2e-5, 6e-3);
        let time = coast_down(j, 450.0, tau, b).stop_s;
        let rate = |w: f64| (-tau - b * w) / j;
        let (mut w, steps) = (450.0, 200);
        let h = time / f64::from(steps);
        for _ in 0..steps {
            let k1 = rate(w);
            let k2 = rate(w + h * k1 / 2.0);
            let k3 = rate(w + h * k2 / 2.0);
            w += h * (k1 + 2.0 * k2 + 2.0 * k3 + rate(w + h * k3)) / 6.0;
        }
        assert!(w.abs() < 1e-6, "{w}");
    }

    #[test]
    fn a_wider_piece_of_equal_energy_has_less_per_area() {
        let small = piece_energy(0.07, 0.04, 9.0);
        let wide = piece_energy(0.07, 0.08, 9.0);
        assert_eq!(small.kinetic_j, wide.kinetic_j);
        assert!((small.per_area_jpm2 / wide.per_area_jpm2 - 4.0).abs() < 1e-12);
    }
}
