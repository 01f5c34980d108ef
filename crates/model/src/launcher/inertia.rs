//! Inertia of the wheel train, reflected to one wheel.

use super::types::{Drive, PartShape, TurningPart};
use std::f64::consts::PI;

/// A hollow cylinder of one material; inner radius 0 for a solid one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HollowCylinder {
    /// Density. Printed parts are lighter than their solid material: weigh them.
    pub density_kgpm3: f64,
    /// Outer radius.
    pub outer_m: f64,
    /// Inner radius.
    pub inner_m: f64,
    /// Length along the axis.
    pub length_m: f64,
}

/// Mass and inertias of a body.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BodyInertia {
    /// Mass.
    pub mass_kg: f64,
    /// About its own axis.
    pub axial_kgm2: f64,
    /// About a diameter through its centre.
    pub diametral_kgm2: f64,
}

/// Mass and inertias of a hollow cylinder.
///
/// ```text
/// m = ρ π (ro² − ri²) t    J = m (ro² + ri²)/2    J_d = m (3 (ro² + ri²) + t²)/12
/// ```
///
/// Standard table \[meriam-dynamics\]. The radii add in J: subtracting them is a common slip.
pub fn hollow_cylinder(body: &HollowCylinder) -> BodyInertia {
    let (outer2, inner2) = (body.outer_m * body.outer_m, body.inner_m * body.inner_m);
    let mass_kg = body.density_kgpm3 * PI * (outer2 - inner2) * body.length_m;
    BodyInertia {
        mass_kg,
        axial_kgm2: annulus(mass_kg, body.outer_m, body.inner_m),
        diametral_kgm2: mass_kg * (3.0 * (outer2 + inner2) + body.length_m * body.length_m) / 12.0,
    }
}

/// Inertia of an annulus of known mass about its axis: m (ro² + ri²)/2 \[meriam-dynamics\].
pub fn annulus(mass_kg: f64, outer_m: f64, inner_m: f64) -> f64 {
    mass_kg * (outer_m * outer_m + inner_m * inner_m) / 2.0
}

/// Inertia about an axis `offset_m` away from the parallel one through the centre of mass: J + m d²
/// \[meriam-dynamics\].
pub fn parallel_axis(central_kgm2: f64, mass_kg: f64, offset_m: f64) -> f64 {
    central_kgm2 + mass_kg * offset_m * offset_m
}

/// A wheel of rim, straight spokes and hub, of one material.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpokedWheel {
    /// Density.
    pub density_kgpm3: f64,
    /// Outer radius of the rim.
    pub outer_m: f64,
    /// Inner radius of the rim.
    pub rim_inner_m: f64,
    /// Width of the rim.
    pub rim_width_m: f64,
    /// Number of spokes.
    pub spoke_count: u32,
    /// Cross-section of one spoke.
    pub spoke_m2: f64,
    /// Outer radius of the hub.
    pub hub_outer_m: f64,
    /// Radius of the bore.
    pub bore_m: f64,
    /// Width of the hub.
    pub hub_width_m: f64,
}

/// Mass, inertia and the rim's share of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpokedInertia {
    /// Mass.
    pub mass_kg: f64,
    /// Inertia about the axis.
    pub axial_kgm2: f64,
    /// Share of the inertia in the rim.
    pub rim_frac: f64,
}

/// Inertia of a spoked wheel as the sum of rim, thin radial spokes and hub.
///
/// ```text
/// J = J_rim + n ρ A (ri³ − rh³)/3 + J_hub
/// ```
///
/// Composite bodies \[meriam-dynamics\]; spokes are thin rods from hub to rim, fillets left out.
pub fn spoked_wheel(wheel: &SpokedWheel) -> SpokedInertia {
    let part = |outer_m, inner_m, length_m| {
        hollow_cylinder(&HollowCylinder {
            density_kgpm3: wheel.density_kgpm3,
            outer_m,
            inner_m,
            length_m,
        })
    };
    let rim = part(wheel.outer_m, wheel.rim_inner_m, wheel.rim_width_m);
    let hub = part(wheel.hub_outer_m, wheel.bore_m, wheel.hub_width_m);
    let line = f64::from(wheel.spoke_count) * wheel.density_kgpm3 * wheel.spoke_m2;
    let spokes_kg = line * (wheel.rim_inner_m - wheel.hub_outer_m);
    let spokes_kgm2 = line * (wheel.rim_inner_m.powi(3) - wheel.hub_outer_m.powi(3)) / 3.0;
    let axial_kgm2 = rim.axial_kgm2 + spokes_kgm2 + hub.axial_kgm2;
    SpokedInertia {
        mass_kg: rim.mass_kg + spokes_kg + hub.mass_kg,
        axial_kgm2,
        rim_frac: if axial_kgm2 > 0.0 {
            rim.axial_kgm2 / axial_kgm2
        } else {
            0.0
        },
    }
}

/// Inertia of one part about its own shaft.
pub fn part_inertia(shape: &PartShape) -> f64 {
    match *shape {
        PartShape::Annulus {
            mass_kg,
            outer_m,
            inner_m,
        } => annulus(mass_kg, outer_m, inner_m),
        PartShape::Ring { mass_kg, radius_m } => mass_kg * radius_m * radius_m,
        PartShape::Known { inertia_kgm2 } => inertia_kgm2,
    }
}

/// Inertia of the motors' rotors as the wheel feels it: n G² J_r, G = motor speed over wheel speed.
pub fn reflected_rotors(drive: &Drive) -> f64 {
    f64::from(drive.motor_count) * drive.gear_ratio * drive.gear_ratio * drive.motor.rotor_kgm2
}

/// Inertia at one wheel of everything that turns with its shaft, rotors included.
///
/// ```text
/// J = Σ n_i J_i (ω_i/ω_wheel)² + N_m G² J_rotor
/// ```
///
/// Equal kinetic energy, derived. A part that turns faster than the wheel counts more, by the
/// square of its speed ratio.
pub fn train_inertia(parts: &[TurningPart], drive: &Drive) -> f64 {
    let turning: f64 = parts
        .iter()
        .map(|part| f64::from(part.count) * part_inertia(&part.shape) * part.speed_ratio * part.speed_ratio)
        .sum();
    turning + reflected_rotors(drive)
}

/// Kinetic energy of a turning body: J ω²/2.
pub fn stored_energy(inertia_kgm2: f64, speed_radps: f64) -> f64 {
    0.5 * inertia_kgm2 * speed_radps * speed_radps
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::launcher::types::MotorSheet;

    fn drive(motor_count: u32, gear_ratio: f64) -> Drive {
        Drive {
            motor: MotorSheet {
                nominal_v: 12.0,
                free_radps: 600.0,
                free_a: 1.0,
                stall_nm: 1.0,
                stall_a: 60.0,
                rotor_kgm2: 2.6e-5,
            },
            motor_count,
            gear_ratio,
            gear_efficiency_frac: 1.0,
            limit_a: f64::INFINITY,
        }
    }

    /// Trap: dividing by G² where it multiplies. Energy of wheel and rotors decides.
    #[test]
    fn reflected_inertia_stores_what_wheel_and_faster_rotors_store() {
        let parts = [TurningPart {
            shape: PartShape::Known { inertia_kgm2: 9e-4 },
            count: 1,
            speed_ratio: 1.0,
            material: None,
        }];
        let (wheel_radps, ratio) = (400.0, 2.0);
        let drive = drive(2, ratio);
        let separate = stored_energy(9e-4, wheel_radps) + 2.0 * stored_energy(2.6e-5, ratio * wheel_radps);
        let total = train_inertia(&parts, &drive);
        assert!((stored_energy(total, wheel_radps) - separate).abs() < 1e-12);
        assert!((total - 1.108e-3).abs() < 1e-15);
    }

    /// Each factor of the sum decides one line.
    #[test]
    fn count_and_speed_ratio_of_a_part_each_raise_the_inertia() {
        let part = |count, speed_ratio| TurningPart {
            shape: PartShape::Annulus {
                mass_kg: 0.25,
                outer_m: 0.048,
                inner_m: 0.0,
            },
            count,
            speed_ratio,
            material: None,
        };
        let none = drive(0, 1.0);
        let one = train_inertia(&[part(1, 1.0)], &none);
        assert!((one - 0.25 * 0.048 * 0.048 / 2.0).abs() < 1e-18);
        assert!((train_inertia(&[part(3, 1.0)], &none) - 3.0 * one).abs() < 1e-18);
        assert!((train_inertia(&[part(1, 2.0)], &none) - 4.0 * one).abs() < 1e-18);
        let ring = TurningPart {
            shape: PartShape::Ring {
                mass_kg: 0.25,
                radius_m: 0.048,
            },
            count: 1,
            speed_ratio: 1.0,
            material: None,
        };
        assert!((train_inertia(&[ring], &none) - 2.0 * one).abs() < 1e-18);
    }

    /// A thick annulus between disc and ring; perpendicular-axis theorem for a thin one.
    #[test]
    fn hollow_cylinder_meets_disc_ring_and_the_perpendicular_axis_theorem() {
        let body = |inner_m, length_m| {
            hollow_cylinder(&HollowCylinder {
                density_kgpm3: 1410.0,
                outer_m: 0.05,
                inner_m,
                length_m,
            })
        };
        let disc = body(0.0, 0.025);
        assert!((disc.axial_kgm2 / disc.mass_kg - 0.05 * 0.05 / 2.0).abs() < 1e-15);
        let ring = body(0.05 * (1.0 - 1e-9), 0.025);
        assert!((ring.axial_kgm2 / ring.mass_kg / 0.0025 - 1.0).abs() < 1e-8);
        let thin = body(0.02, 1e-9);
        assert!((thin.axial_kgm2 / thin.diametral_kgm2 - 2.0).abs() < 1e-9);
    }

    /// Spokes as wide as the whole annulus between hub and rim would be a disc: many thin rods approach
    /// the integral of r² along their length.
    #[test]
    fn spokes_carry_the_integral_of_radius_squared() {
        let wheel = SpokedWheel {
            density_kgpm3: 1200.0,
            outer_m: 0.05,
            rim_inner_m: 0.05,
            rim_width_m: 0.02,
            spoke_count: 5,
            spoke_m2: 4e-5,
            hub_outer_m: 0.01,
            bore_m: 0.01,
            hub_width_m: 0.02,
        };
        let mut sum = 0.0;
        let steps = 4000;
        for i in 0..steps {
            let width = 0.04 / f64::from(steps);
            let radius = 0.01 + (f64::from(i) + 0.5) * width;
            sum += 5.0 * 1200.0 * 4e-5 * width * radius * radius;
        }
        let got = spoked_wheel(&wheel);
        assert!((got.axial_kgm2 / sum - 1.0).abs() < 1e-6);
        assert_eq!(got.rim_frac, 0.0);
        assert!((got.mass_kg - 5.0 * 1200.0 * 4e-5 * 0.04).abs() < 1e-15);
    }
}
