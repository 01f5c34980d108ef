//! A wheel at speed: stress, speed limit, tread growth, unbalance.
//!
//! Numbers for planning, not a containment design. A plain disc at the rim speeds used here is
//! lightly stressed; weld lines, printed layers, hub screws, keyed notches, hub heat and treads fail first.

/// What a wheel or a printed part is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WheelMaterial {
    /// Polycarbonate sheet or bar.
    Polycarbonate,
    /// Acetal bar.
    Acetal,
    /// Nylon bar.
    Nylon,
    /// Printed in layers, loaded across them.
    Printed,
    /// Aluminium alloy.
    Aluminium,
    /// Structural steel.
    Steel,
}

/// Figures of a wheel material.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WheelStuff {
    /// Density.
    pub density_kgpm3: f64,
    /// Poisson's ratio.
    pub poisson_ratio: f64,
    /// Stress to stay below, turn after turn.
    pub design_pa: f64,
}

impl WheelMaterial {
    /// Every material with its word in the file.
    pub const ALL: [(WheelMaterial, &'static str); 6] = [
        (WheelMaterial::Polycarbonate, "polycarbonate"),
        (WheelMaterial::Acetal, "acetal"),
        (WheelMaterial::Nylon, "nylon"),
        (WheelMaterial::Printed, "printed"),
        (WheelMaterial::Aluminium, "aluminium"),
        (WheelMaterial::Steel, "steel"),
    ];

    /// Its word in the file.
    pub fn word(self) -> &'static str {
        let found = WheelMaterial::ALL.iter().find(|(m, _)| *m == self);
        found.map_or("", |(_, w)| w)
    }

    /// Density, Poisson's ratio and design stress: about a tenth of the short-term strength (common practice, no source; strengths
    /// from memory of handbooks). For printed parts that of PLA across its layers, at solid density.
    pub fn stuff(self) -> WheelStuff {
        let [density_kgpm3, poisson_ratio, design_mpa] = match self {
            WheelMaterial::Polycarbonate => [1200.0, 0.37, 6.0],
            WheelMaterial::Acetal => [1410.0, 0.35, 6.0],
            WheelMaterial::Nylon => [1140.0, 0.39, 5.0],
            WheelMaterial::Printed => [1240.0, 0.36, 2.0],
            WheelMaterial::Aluminium => [2700.0, 0.33, 27.0],
            WheelMaterial::Steel => [7850.0, 0.29, 40.0],
        };
        WheelStuff {
            density_kgpm3,
            poisson_ratio,
            design_pa: design_mpa * 1e6,
        }
    }
}

/// A disc of uniform thickness with a central bore.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Disc {
    /// Density.
    pub density_kgpm3: f64,
    /// Poisson's ratio.
    pub poisson_ratio: f64,
    /// Outer radius.
    pub outer_m: f64,
    /// Radius of the bore.
    pub bore_m: f64,
}

/// Stresses in a spinning disc.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DiscStress {
    /// Centre of the same disc without a bore.
    pub solid_centre_pa: f64,
    /// Hoop stress at the bore: the greatest of a bored disc. About twice the solid value however small the
    /// bore.
    pub bore_hoop_pa: f64,
    /// Greatest radial stress, at the radius √(ri ro).
    pub radial_pa: f64,
    /// Hoop stress at the rim.
    pub rim_hoop_pa: f64,
    /// A free thin ring at the outer radius.
    pub thin_ring_pa: f64,
    /// Rim speed.
    pub rim_mps: f64,
}

/// Elastic stresses in a spinning disc of uniform thickness.
///
/// ```text
/// solid centre   (3+ν)/8 ρ ω² ro²
/// bore hoop      (3+ν)/4 ρ ω² (ro² + (1−ν)/(3+ν) ri²)
/// radial         (3+ν)/8 ρ ω² (ro − ri)²
/// rim hoop       ρ ω²/4 ((1−ν) ro² + (3+ν) ri²)
/// thin ring      ρ (ω ro)²
/// ```
///
/// Plane stress, isotropic \[timoshenko-goodier\] section 32, \[roark\]. Holds below yield, thickness
/// well under the radius. Leaves out notches at keyways and screws (factor 2 to 3).
pub fn rotating_disc(disc: &Disc, speed_radps: f64) -> DiscStress {
    let nu = disc.poisson_ratio;
    let load = disc.density_kgpm3 * speed_radps * speed_radps;
    let (outer2, bore2) = (disc.outer_m * disc.outer_m, disc.bore_m * disc.bore_m);
    let web_m = disc.outer_m - disc.bore_m;
    DiscStress {
        solid_centre_pa: (3.0 + nu) / 8.0 * load * outer2,
        bore_hoop_pa: (3.0 + nu) / 4.0 * load * (outer2 + (1.0 - nu) / (3.0 + nu) * bore2),
        radial_pa: (3.0 + nu) / 8.0 * load * web_m * web_m,
        rim_hoop_pa: load / 4.0 * ((1.0 - nu) * outer2 + (3.0 + nu) * bore2),
        thin_ring_pa: load * outer2,
        rim_mps: speed_radps * disc.outer_m,
    }
}

/// Speed limit of a disc.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpeedLimit {
    /// Wheel speed.
    pub speed_radps: f64,
    /// Rim speed there.
    pub rim_mps: f64,
}

/// Speed at which the bore of a disc reaches a design stress: the inverse of [`rotating_disc`].
///
/// ```text
/// ω = √(σ / ((3+ν)/4 ρ (ro² + (1−ν)/(3+ν) ri²)))
/// ```
///
/// Use about a tenth of the short-term strength for plastics (common practice, no source). A disc
/// without any bore bears √2 times this speed.
pub fn allowable_speed(disc: &Disc, design_pa: f64) -> SpeedLimit {
    let at_unit_speed = rotating_disc(disc, 1.0).bore_hoop_pa;
    let speed_radps = (design_pa / at_unit_speed).sqrt();
    SpeedLimit {
        speed_radps,
        rim_mps: speed_radps * disc.outer_m,
    }
}

/// Growth of a free soft ring.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RingGrowth {
    /// Hoop stress.
    pub hoop_pa: f64,
    /// Hoop strain.
    pub strain_frac: f64,
    /// Growth of the radius.
    pub growth_m: f64,
}

/// Growth of a thin tread ring that nothing holds, spinning at rim speed v.
///
/// ```text
/// σ = ρ v²    ε = ρ v²/E    Δr = ε r
/// ```
///
/// Equilibrium of a thin ring, derived; small strain. A bonded tread grows less; one that is not
/// bonded lets go first.
pub fn ring_growth(density_kgpm3: f64, modulus_pa: f64, radius_m: f64, rim_mps: f64) -> RingGrowth {
    let hoop_pa = density_kgpm3 * rim_mps * rim_mps;
    let strain_frac = hoop_pa / modulus_pa;
    RingGrowth {
        hoop_pa,
        strain_frac,
        growth_m: strain_frac * radius_m,
    }
}

/// Permitted and actual unbalance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unbalance {
    /// Permitted offset of the centre of mass.
    pub permitted_m: f64,
    /// Permitted unbalance, mass times offset.
    pub permitted_kg_m: f64,
    /// Rotating force of the permitted unbalance.
    pub permitted_n: f64,
    /// Rotating force of the given lump.
    pub lump_n: f64,
}

/// Unbalance that a balance grade permits, and the force of a lump.
///
/// ```text
/// e = G/ω    U = m e    F = U ω²    F_lump = m_u r_u ω²
/// ```
///
/// | symbol | code | unit |
/// |---|---|---|
/// | G | `grade_mps` | m/s (grade 6.3 is 0.0063 m/s) |
/// | m | `rotor_kg` | kg |
/// | m_u, r_u | `lump_kg`, `lump_m` | kg, m |
///
/// Grades as in \[iso21940-11\]. Rigid rotor.
pub fn unbalance(grade_mps: f64, rotor_kg: f64, speed_radps: f64, lump_kg: f64, lump_m: f64) -> Unbalance {
    let permitted_m = grade_mps / speed_radps;
    let permitted_kg_m = rotor_kg * permitted_m;
    Unbalance {
        permitted_m,
        permitted_kg_m,
        permitted_n: permitted_kg_m * speed_radps * speed_radps,
        lump_n: lump_kg * lump_m * speed_radps * speed_radps,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn disc(bore_m: f64) -> Disc {
        Disc {
            density_kgpm3: 1200.0,
            poisson_ratio: 0.37,
            outer_m: 0.05,
            bore_m,
        }
    }

    /// Trap: a pin hole doubles the stress at the centre.
    #[test]
    fn bore_stress_is_twice_the_solid_value_as_the_bore_vanishes() {
        let pinned = rotating_disc(&disc(1e-7), 628.0);
        assert!((pinned.bore_hoop_pa / pinned.solid_centre_pa - 2.0).abs() < 1e-9);
        let bored = rotating_disc(&disc(0.02), 628.0);
        assert!(bored.bore_hoop_pa > pinned.bore_hoop_pa);
    }

    /// Equilibrium of the half disc: the hoop force across a diameter balances the centrifugal pull,
    /// ∫σ_h dr = ρ ω² (ro³ − ri³)/3, with the general hoop stress of \[timoshenko-goodier\].
    /// It meets this file's values at bore and rim, and its radial companion peaks at √(ri ro).
    #[test]
    fn bore_rim_and_radial_values_lie_on_the_field_that_balances_the_half_disc() {
        let d = disc(0.012);
        let (nu, ri, ro, w) = (d.poisson_ratio, d.bore_m, d.outer_m, 500.0);
        let k = (3.0 + nu) / 8.0 * d.density_kgpm3 * w * w;
        let hoop =
            |r: f64| k * (ri * ri + ro * ro + (ri * ro / r).powi(2) - (1.0 + 3.0 * nu) / (3.0 + nu) * r * r);
        let radial = |r: f64| k * (ri * ri + ro * ro - (ri * ro / r).powi(2) - r * r);
        let steps = 2000;
        let width = (ro - ri) / f64::from(steps);
        let force: f64 = (0..steps)
            .map(|i| hoop(ri + (f64::from(i) + 0.5) * width) * width)
            .sum();
        let pull = d.density_kgpm3 * w * w * (ro.powi(3) - ri.powi(3)) / 3.0;
        assert!((force / pull - 1.0).abs() < 1e-6);
        let got = rotating_disc(&d, w);
        assert!((got.bore_hoop_pa / hoop(ri) - 1.0).abs() < 1e-12);
        assert!((got.rim_hoop_pa / hoop(ro) - 1.0).abs() < 1e-12);
        assert!((got.radial_pa / radial((ri * ro).sqrt()) - 1.0).abs() < 1e-12);
        assert!(radial((ri * ro).sqrt()) > radial(1.02 * (ri * ro).sqrt()));
    }

    #[test]
    fn a_disc_at_its_allowable_speed_has_the_design_stress_at_the_bore() {
        let d = disc(0.004);
        let limit = allowable_speed(&d, 6e6);
        let there = rotating_disc(&d, limit.speed_radps);
        assert!((there.bore_hoop_pa / 6e6 - 1.0).abs() < 1e-12);
        assert!((limit.rim_mps - there.rim_mps).abs() < 1e-12);
    }

    /// Rim speed at the design stress with a small bore, v = √(4 σ/((3 + ν) ρ)): 77, 71, 72, 44 and 110 m/s for the materials
    /// in their order (worked from the closed form by hand).
    #[test]
    fn the_materials_bear_the_rim_speeds_of_the_closed_form() {
        for (i, mps) in [(0, 77.0), (1, 71.0), (2, 72.0), (3, 44.0), (4, 110.0)] {
            let stuff = WheelMaterial::ALL[i].0.stuff();
            let d = Disc {
                density_kgpm3: stuff.density_kgpm3,
                poisson_ratio: stuff.poisson_ratio,
                outer_m: 0.05,
                bore_m: 1e-6,
            };
            let found = allowable_speed(&d, stuff.design_pa).rim_mps;
            assert!((found - mps).abs() < 1.0, "{i}: {found}");
        }
    }

    #[test]
    fn a_lump_at_the_permitted_offset_pulls_as_hard_as_the_permitted_unbalance() {
        let u = unbalance(0.0063, 0.3, 600.0, 0.0, 0.0);
        let lump = unbalance(0.0063, 0.3, 600.0, 0.3, u.permitted_m);
        assert!((lump.lump_n - u.permitted_n).abs() < 1e-12);
        assert_eq!(u.lump_n, 0.0);
    }
}
