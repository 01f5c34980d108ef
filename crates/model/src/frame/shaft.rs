//! A shaft on two supports: sections, deflection, first critical speed, stress.

use std::f64::consts::PI;

/// Cross-section of a shaft.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Section {
    /// Round, solid.
    Round {
        /// Diameter.
        diameter_m: f64,
    },
    /// Hexagonal, solid.
    Hex {
        /// Width across the flats.
        flats_m: f64,
    },
}

/// Area and bending figures of a section.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SectionFigures {
    /// Area.
    pub area_m2: f64,
    /// Second moment of area.
    pub second_m4: f64,
    /// Least section modulus.
    pub modulus_m3: f64,
}

impl Section {
    /// Area, second moment and least modulus.
    ///
    /// ```text
    /// round  A = π d²/4     I = π d⁴/64       Z = π d³/32
    /// hex    A = √3/2 f²    I = 5√3/144 f⁴    Z = I/(f/√3) (across corners)
    /// ```
    ///
    /// Section tables \[roark\].
    pub fn figures(self) -> SectionFigures {
        match self {
            Section::Round { diameter_m: d } => SectionFigures {
                area_m2: PI * d * d / 4.0,
                second_m4: PI * d.powi(4) / 64.0,
                modulus_m3: PI * d.powi(3) / 32.0,
            },
            Section::Hex { flats_m: f } => {
                let root = 3f64.sqrt();
                let second_m4 = 5.0 * root / 144.0 * f.powi(4);
                SectionFigures {
                    area_m2: 0.5 * root * f * f,
                    second_m4,
                    modulus_m3: second_m4 / (f / root),
                }
            }
        }
    }
}

/// A straight shaft of one section on two supports that do not give way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shaft {
    /// Young's modulus.
    pub modulus_pa: f64,
    /// Section.
    pub section: Section,
    /// Distance between the supports.
    pub span_m: f64,
}

impl Shaft {
    fn stiffness(&self) -> f64 {
        self.modulus_pa * self.section.figures().second_m4
    }

    /// Bending moment at a place under a unit load at another; supports at 0 and at the span.
    ///
    /// ```text
    /// M(x) = (1 − a/L)⟨x⟩ + (a/L)⟨x − L⟩ − ⟨x − a⟩
    /// ```
    fn moment(&self, at_m: f64, load_m: f64) -> f64 {
        let share = load_m / self.span_m;
        (1.0 - share) * at_m.max(0.0) + share * (at_m - self.span_m).max(0.0) - (at_m - load_m).max(0.0)
    }

    /// Deflection at a place for each newton at another; places are measured from the first support and may
    /// lie beyond either.
    ///
    /// ```text
    /// d_ij = ∫ M_i M_j dx/(E I)
    /// ```
    ///
    /// Unit-load method \[shigley\]; the moments are straight pieces, so the integral is exact.
    pub fn influence_m_per_n(&self, at_m: f64, load_m: f64) -> f64 {
        let mut breaks = [0.0, self.span_m, at_m, load_m];
        breaks.sort_by(f64::total_cmp);
        let product = |x: f64| self.moment(x, at_m) * self.moment(x, load_m);
        let sum: f64 = breaks
            .windows(2)
            .map(|w| {
                let [a, b] = [w[0], w[1]];
                (b - a) / 6.0 * (product(a) + 4.0 * product(0.5 * (a + b)) + product(b))
            })
            .sum();
        sum / self.stiffness()
    }

    /// Greatest bending moment under loads, found at the loads and the supports.
    pub fn greatest_nm(&self, loads: &[(f64, f64)]) -> f64 {
        let at = |x: f64| {
            loads
                .iter()
                .map(|(a, f)| f * self.moment(x, *a))
                .sum::<f64>()
                .abs()
        };
        loads
            .iter()
            .map(|l| l.0)
            .chain([0.0, self.span_m])
            .map(at)
            .fold(0.0, f64::max)
    }

    /// Loads on the two supports, first and second; places and forces of the loads, all in one plane.
    pub fn supports_n(&self, loads: &[(f64, f64)]) -> [f64; 2] {
        let second: f64 = loads.iter().map(|(a, f)| f * a / self.span_m).sum();
        [loads.iter().map(|(_, f)| f).sum::<f64>() - second, second]
    }

    /// Deflection at a place under loads.
    pub fn deflection_m(&self, at_m: f64, loads: &[(f64, f64)]) -> f64 {
        loads
            .iter()
            .map(|(a, f)| f * self.influence_m_per_n(at_m, *a))
            .sum()
    }
}

/// First critical speed by three methods: Rayleigh is never below the exact value, Dunkerley never above.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Critical {
    /// From the deflection under weight.
    pub rayleigh_radps: f64,
    /// From each mass alone.
    pub dunkerley_radps: f64,
    /// Of the lumped masses, exact.
    pub exact_radps: f64,
}

/// Method: power iteration stops when the value moves less than this share; it converges as the square of the vector.
const SETTLED_RATIO: f64 = 1e-14;
/// Method: most iterations; two equal critical speeds do not matter for the value.
const MOST_ITERATIONS: usize = 500;

/// First critical speed of lumped masses on a shaft; infinite without a mass or for a shaft that does not bend.
///
/// ```text
/// Rayleigh  ω² = g Σ m y/Σ m y²    Dunkerley  1/ω² = Σ m d_ii    exact  1/ω² = greatest eigenvalue of √m_i d_ij √m_j
/// ```
///
/// \[shigley\] section 7-6. Masses as (place, mass). Leaves out soft bearings and side plates, which often halve
/// it, and gyroscopic stiffening of overhung discs.
pub fn critical(shaft: &Shaft, masses: &[(f64, f64)]) -> Critical {
    let g = crate::units::STANDARD_GRAVITY_MPS2;
    let n = masses.len();
    let d: Vec<Vec<f64>> = masses
        .iter()
        .map(|(a, _)| {
            masses
                .iter()
                .map(|(b, _)| shaft.influence_m_per_n(*a, *b))
                .collect()
        })
        .collect();
    let sag: Vec<f64> = d
        .iter()
        .map(|row| row.iter().zip(masses).map(|(d, (_, m))| d * m * g).sum())
        .collect();
    let moment = |power: i32| -> f64 { sag.iter().zip(masses).map(|(y, (_, m))| m * y.powi(power)).sum() };
    let alone: f64 = (0..n).map(|i| masses[i].1 * d[i][i]).sum();
    let mut vector: Vec<f64> = masses.iter().map(|(_, m)| m.sqrt()).collect();
    let mut value = 0.0;
    for _ in 0..MOST_ITERATIONS {
        let next: Vec<f64> = (0..n)
            .map(|i| {
                (0..n)
                    .map(|j| (masses[i].1 * masses[j].1).sqrt() * d[i][j] * vector[j])
                    .sum()
            })
            .collect();
        let size = next.iter().map(|x| x * x).sum::<f64>().sqrt();
        if !(size > 0.0) {
            value = 0.0;
            break;
        }
        let old = value;
        value = size / vector.iter().map(|x| x * x).sum::<f64>().sqrt();
        vector = next.iter().map(|x| x / size).collect();
        if (value - old).abs() <= SETTLED_RATIO * value {
            break;
        }
    }
    Critical {
        rayleigh_radps: (g * moment(1) / moment(2)).sqrt(),
        dunkerley_radps: (1.0 / alone).sqrt(),
        exact_radps: (1.0 / value).sqrt(),
    }
}

/// Critical speed of the bare shaft.
///
/// ```text
/// ω = (π/L)² √(E I/(ρ A))
/// ```
///
/// Simply supported, uniform \[shigley\] eq. 7-22.
pub fn critical_bare_radps(shaft: &Shaft, density_kgpm3: f64) -> f64 {
    let f = shaft.section.figures();
    (PI / shaft.span_m).powi(2) * (shaft.modulus_pa * f.second_m4 / (density_kgpm3 * f.area_m2)).sqrt()
}

/// A point stiffness and the critical speeds it gives.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OneMass {
    /// Stiffness at the mass.
    pub stiffness_npm: f64,
    /// Critical speed with a shaft that weighs nothing.
    pub massless_radps: f64,
    /// The same with the shaft's share; that of the massless shaft where none is known.
    pub with_shaft_radps: f64,
}

/// One mass overhung beyond the second support.
///
/// ```text
/// k = 3 E I/(a² (L + a))    ω = √(k/m)
/// ```
///
/// Beam tables \[roark\]. Trap: 3 E I/a³ without the span is too stiff. No gyroscopic or rotary terms.
pub fn overhung_mass(shaft: &Shaft, overhang_m: f64, mass_kg: f64) -> OneMass {
    let stiffness_npm = 3.0 * shaft.stiffness() / (overhang_m * overhang_m * (shaft.span_m + overhang_m));
    let radps = (stiffness_npm / mass_kg).sqrt();
    OneMass {
        stiffness_npm,
        massless_radps: radps,
        with_shaft_radps: radps,
    }
}

/// One mass at mid span, with the shaft's own mass reckoned in.
///
/// ```text
/// k = 48 E I/L³    ω = √(k/(m + 17/35 m_s))
/// ```
///
/// Rayleigh with the static shape \[timoshenko-vibration\].
pub fn middle_mass(shaft: &Shaft, density_kgpm3: f64, mass_kg: f64) -> OneMass {
    let stiffness_npm = 48.0 * shaft.stiffness() / shaft.span_m.powi(3);
    let shaft_kg = density_kgpm3 * shaft.section.figures().area_m2 * shaft.span_m;
    OneMass {
        stiffness_npm,
        massless_radps: (stiffness_npm / mass_kg).sqrt(),
        with_shaft_radps: (stiffness_npm / (mass_kg + 17.0 / 35.0 * shaft_kg)).sqrt(),
    }
}

/// Stress in a round shaft.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShaftStress {
    /// Bending, at the skin. It turns with the shaft: fully reversed each turn.
    pub bending_pa: f64,
    /// Torsion, at the skin.
    pub torsion_pa: f64,
    /// Equivalent stress of the two.
    pub equivalent_pa: f64,
}

/// Bending and torsion in a round shaft.
///
/// ```text
/// σ = 32 M/(π d³)    τ = 16 T/(π d³)    σ_e = √(σ² + 3 τ²)
/// ```
///
/// \[shigley\]. No notches: a keyway or a screw's dimple doubles it.
pub fn shaft_stress(bending_nm: f64, torque_nm: f64, diameter_m: f64) -> ShaftStress {
    let third = PI * diameter_m.powi(3);
    let (bending_pa, torsion_pa) = (32.0 * bending_nm / third, 16.0 * torque_nm / third);
    ShaftStress {
        bending_pa,
        torsion_pa,
        equivalent_pa: (bending_pa * bending_pa + 3.0 * torsion_pa * torsion_pa).sqrt(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const STEEL: Shaft = Shaft {
        modulus_pa: 200e9,
        section: Section::Round { diameter_m: 0.008 },
        span_m: 0.12,
    };

    /// Beam tables: mid span F L³/48 E I; overhang F a² (L + a)/3 E I, on either side.
    #[test]
    fn influence_meets_the_beam_tables_between_and_beyond_the_supports() {
        let ei = STEEL.stiffness();
        let middle = STEEL.influence_m_per_n(0.06, 0.06);
        assert!((middle / (0.12f64.powi(3) / (48.0 * ei)) - 1.0).abs() < 1e-12);
        let over = 0.03f64.powi(2) * 0.15 / (3.0 * ei);
        for at in [0.15, -0.03] {
            assert!((STEEL.influence_m_per_n(at, at) / over - 1.0).abs() < 1e-12);
        }
        // Maxwell: what one place does to another, the other does to it.
        let (a, b) = (
            STEEL.influence_m_per_n(0.02, 0.16),
            STEEL.influence_m_per_n(0.16, 0.02),
        );
        assert!((a / b - 1.0).abs() < 1e-12 && a < 0.0);
    }

    /// Many lumps of the shaft's own mass approach the bare shaft; Rayleigh ≥ exact ≥ Dunkerley.
    #[test]
    fn lumps_of_its_own_mass_approach_the_bare_shaft_from_the_ordered_sides() {
        let n = 40;
        let mass = 7850.0 * STEEL.section.figures().area_m2 * STEEL.span_m / f64::from(n);
        let lumps: Vec<(f64, f64)> = (0..n)
            .map(|i| ((f64::from(i) + 0.5) / f64::from(n) * 0.12, mass))
            .collect();
        let c = critical(&STEEL, &lumps);
        assert!((c.exact_radps / critical_bare_radps(&STEEL, 7850.0) - 1.0).abs() < 1e-3);
        assert!(c.rayleigh_radps >= c.exact_radps && c.exact_radps >= c.dunkerley_radps);
    }

    #[test]
    fn supports_carry_the_load_and_an_overhang_lifts_the_far_one() {
        let [a, b] = STEEL.supports_n(&[(0.15, 40.0)]);
        assert!((a + 10.0).abs() < 1e-12 && (b - 50.0).abs() < 1e-12);
        assert!((STEEL.greatest_nm(&[(0.15, 40.0)]) - 1.2).abs() < 1e-12);
        assert!((STEEL.greatest_nm(&[(0.06, 40.0)]) - 1.2).abs() < 1e-12);
        assert_eq!(critical(&STEEL, &[]).exact_radps, f64::INFINITY);
    }
}
