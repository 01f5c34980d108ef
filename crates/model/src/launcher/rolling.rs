//! Closed forms of the contact: what rolling without slip at the exit means, whatever happened before.
//!
//! | symbol | meaning |
//! | --- | --- |
//! | R, J, W | wheel radius, inertia with all that is coupled, speed |
//! | a₁, a₂ | distances from the centre of the piece to the two surfaces; c = a₁ + a₂ |
//! | m, I = k m r² | mass and inertia of the piece |
//! | u₁, u₂ | slip speeds: surface less piece, forward positive |
//!
//! Derived by eliminating the friction impulses from the momentum equations; they hold for any friction
//! law and any path, with no motor torque during the contact. Energy conservation is *not* one of them:
//! slip turns at least as much energy into heat as it gives to the piece.

/// A piece between two surfaces.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Held {
    /// Mass.
    pub mass_kg: f64,
    /// I = k m r², with the free radius.
    pub inertia_kgm2: f64,
    /// Distance to surface 1.
    pub arm_1_m: f64,
    /// Distance to surface 2.
    pub arm_2_m: f64,
}

/// A wheel that touches the piece.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Roller {
    /// Radius.
    pub radius_m: f64,
    /// Inertia; infinite for a surface whose speed nothing changes.
    pub inertia_kgm2: f64,
    /// Speed.
    pub speed_radps: f64,
}

/// Speed and spin of a piece that slips on neither surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rolling {
    /// Speed of the centre.
    pub speed_mps: f64,
    /// Spin.
    pub spin_radps: f64,
}

/// No slip on two surfaces that move at given speeds.
///
/// ```text
/// v = (a₂ s₁ + a₁ s₂)/(a₁ + a₂)     w = (s₁ − s₂)/(a₁ + a₂)     s = R W, 0 for a fixed guide
/// ```
///
/// Equal arms and a fixed guide: v = R W/2, the planet of an epicyclic gear. Derived.
pub fn rolling(held: &Held, surface_1_mps: f64, surface_2_mps: f64) -> Rolling {
    let c = held.arm_1_m + held.arm_2_m;
    Rolling {
        speed_mps: (held.arm_2_m * surface_1_mps + held.arm_1_m * surface_2_mps) / c,
        spin_radps: (surface_1_mps - surface_2_mps) / c,
    }
}

/// State after a contact that ends rolling on both surfaces.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Exchange {
    /// Speed of the piece.
    pub speed_mps: f64,
    /// Spin.
    pub spin_radps: f64,
    /// Wheel speeds; 0 for a fixed guide.
    pub wheel_radps: [f64; 2],
    /// Heat of slip.
    pub heat_j: f64,
}

/// Momentum exchange from entry to rolling on both surfaces.
///
/// ```text
/// P = G⁻¹ u₀     heat = ½ u₀ᵀ G⁻¹ u₀     v = v₀ + (P₁ + P₂)/m     w = w₀ + (a₁P₁ − a₂P₂)/I
/// W_i = W_i0 − R_i P_i/J_i
/// ```
///
/// G as in [`super::path_contact`]. `second` is `None` for a fixed guide. Derived.
pub fn exchange(held: &Held, first: &Roller, second: Option<&Roller>, entry: &Rolling) -> Exchange {
    let (m, i) = (held.mass_kg, held.inertia_kgm2);
    let (a1, a2) = (held.arm_1_m, held.arm_2_m);
    let (r2, j2, w2) = second.map_or((0.0, f64::INFINITY, 0.0), |w| {
        (w.radius_m, w.inertia_kgm2, w.speed_radps)
    });
    let u1 = first.radius_m * first.speed_radps - entry.speed_mps - a1 * entry.spin_radps;
    let u2 = r2 * w2 - entry.speed_mps + a2 * entry.spin_radps;
    let g11 = first.radius_m.powi(2) / first.inertia_kgm2 + 1.0 / m + a1 * a1 / i;
    let g12 = 1.0 / m - a1 * a2 / i;
    let g22 = r2 * r2 / j2 + 1.0 / m + a2 * a2 / i;
    let det = g11 * g22 - g12 * g12;
    let p1 = (g22 * u1 - g12 * u2) / det;
    let p2 = (g11 * u2 - g12 * u1) / det;
    Exchange {
        speed_mps: entry.speed_mps + (p1 + p2) / m,
        spin_radps: entry.spin_radps + (a1 * p1 - a2 * p2) / i,
        wheel_radps: [
            first.speed_radps - first.radius_m * p1 / first.inertia_kgm2,
            w2 - r2 * p2 / j2,
        ],
        heat_j: 0.5 * (u1 * p1 + u2 * p2),
    }
}

/// The piece's inertia as the wheel feels it through rolling contact with a fixed guide.
///
/// ```text
/// J_b = (R a₂/c)² (m + I/a₂²);     W₁/W₀ = J/(J + J_b) from rest
/// ```
pub fn felt_inertia(held: &Held, wheel_radius_m: f64) -> f64 {
    let a2 = held.arm_2_m;
    (wheel_radius_m * a2 / (held.arm_1_m + a2)).powi(2) * (held.mass_kg + held.inertia_kgm2 / (a2 * a2))
}

/// Length of the centre's path from entry until the piece rolls on both sides of a guide.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GripPath {
    /// Speed above which the wheel lets go; infinite on a straight path.
    pub let_go_mps: f64,
    /// Length; `None` when the final speed is not reached before the wheel lets go.
    pub length_m: Option<f64>,
}

/// The path to rolling, wheel slipping and guide gripping, constant squeeze.
///
/// ```text
/// straight:  L = m (1 + β)(v_f² − v₀²)/(4 μ N₀),   β = I/(m a²)
/// curved:    L = (1/B) ln[(v_lim² − v₀²)/(v_lim² − v_f²)],  B = 2μ/(ρ (1 + β)),  v_lim² = 2 N₀ ρ/m
/// ```
///
/// Equal arms; curvature 0 for a straight path. Derived.
pub fn path_to_rolling(
    held: &Held,
    friction_coeff: f64,
    squeeze_n: f64,
    curvature_pm: f64,
    from_mps: f64,
    to_mps: f64,
) -> GripPath {
    let m = held.mass_kg;
    let one_beta = 1.0 + held.inertia_kgm2 / (m * held.arm_2_m.powi(2));
    let (a, b) = (from_mps * from_mps, to_mps * to_mps);
    if !(curvature_pm > 0.0) {
        let length = m * one_beta * (b - a) / (4.0 * friction_coeff * squeeze_n);
        return GripPath {
            let_go_mps: f64::INFINITY,
            length_m: length.is_finite().then_some(length),
        };
    }
    let limit = 2.0 * squeeze_n / (m * curvature_pm);
    let rate = 2.0 * friction_coeff * curvature_pm / one_beta;
    let length = ((limit - a) / (limit - b)).ln() / rate;
    GripPath {
        let_go_mps: limit.sqrt(),
        length_m: (b < limit && length.is_finite()).then_some(length),
    }
}

/// Angle about the axle at which the piece first touches the wheel, back from the narrowest place.
///
/// ```text
/// pair:  cos α = (R + c/2)/(R + r)      guide, straight:  cos α = (R + c − r)/(R + r)
/// ```
///
/// `None` when the gap does not squeeze the piece.
pub fn entry_angle(wheel_radius_m: f64, radius_m: f64, gap_m: f64, pair: bool) -> Option<f64> {
    let rise = if pair {
        wheel_radius_m + 0.5 * gap_m
    } else {
        wheel_radius_m + gap_m - radius_m
    };
    let cosine = rise / (wheel_radius_m + radius_m);
    (cosine.abs() <= 1.0).then(|| cosine.acos())
}

/// Will the wheel pull the piece in without a push? Pair: tan α < μ; wheel and sliding straight guide:
/// α < atan μ₁ − atan μ₂. Derived.
pub fn bites(entry_angle_rad: f64, wheel_friction_coeff: f64, guide_friction_coeff: Option<f64>) -> bool {
    entry_angle_rad < wheel_friction_coeff.atan() - guide_friction_coeff.map_or(0.0, f64::atan)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numerics::checks::{files, rows};

    fn held(mass_kg: f64, diameter_m: f64, k: f64, arm_m: f64) -> Held {
        let inertia_kgm2 = k * mass_kg * (0.5 * diameter_m).powi(2);
        Held {
            mass_kg,
            inertia_kgm2,
            arm_1_m: arm_m,
            arm_2_m: arm_m,
        }
    }

    fn close(ours: f64, printed: f64, half_digit: f64) {
        assert!((ours - printed).abs() <= half_digit, "{ours} against {printed}");
    }

    /// Example A of docs/theory/contact.md, to half the last printed digit.
    #[test]
    fn example_a_of_the_momentum_exchange_is_met() {
        let rest = Rolling {
            speed_mps: 0.0,
            spin_radps: 0.0,
        };
        let wheel = Roller {
            radius_m: 0.0508,
            inertia_kgm2: 1.2e-3,
            speed_radps: 350.0,
        };
        for (arm, jb, w1, v, w, heat) in [
            (0.0890, 1.26451e-4, 316.634, 8.04251, 90.365, 7.0068),
            (0.0790, 1.36177e-4, 314.330, 7.98397, 101.063, 7.4908),
        ] {
            let h = held(0.14, 0.178, 0.4, arm);
            close(felt_inertia(&h, 0.0508), jb, 5e-10);
            let e = exchange(&h, &wheel, None, &rest);
            close(e.wheel_radps[0], w1, 5e-4);
            close(e.speed_mps, v, 5e-6);
            close(e.spin_radps, w, 5e-4);
            close(e.heat_j, heat, 5e-5);
            // The two forms of the same thing: impulses, and the inertia the wheel feels.
            close(350.0 * 1.2e-3 / (1.2e-3 + jb), w1, 1e-3);
        }
    }

    /// Every reference case that ends rolling without motor, gravity or rolling loss.
    #[test]
    fn cases_that_end_rolling_agree_with_the_closed_form() {
        let mut count = 0;
        for file in files("flight") {
            for case in rows(&file, &["contact"]) {
                let (i, o) = (&case["inputs"], &case["outputs"]);
                let n = |keys: [&str; 2]| i[keys[0]][keys[1]].as_f64().unwrap();
                let quiet = o["motor_work"] == 0.0 && o["gravity_work"] == 0.0 && o["rolling_loss"] == 0.0;
                if !quiet
                    || o["path_to_rolling_both"].is_null()
                    || o["exit_slip_1"] != 0.0
                    || o["exit_slip_2"] != 0.0
                {
                    continue;
                }
                count += 1;
                let r = 0.5 * n(["ball", "diameter"]);
                let h = Held {
                    mass_kg: n(["ball", "mass"]),
                    inertia_kgm2: n(["ball", "inertia_factor"]) * n(["ball", "mass"]) * r * r,
                    arm_1_m: n(["geometry", "arm_1"]),
                    arm_2_m: n(["geometry", "arm_2"]),
                };
                let roller = |w: &str| {
                    (!i[w].is_null()).then(|| Roller {
                        radius_m: n([w, "radius"]),
                        inertia_kgm2: n([w, "inertia"]),
                        speed_radps: i["initial"][format!("{w}_speed")].as_f64().unwrap(),
                    })
                };
                let entry = Rolling {
                    speed_mps: n(["initial", "speed"]),
                    spin_radps: n(["initial", "spin"]),
                };
                let e = exchange(
                    &h,
                    &roller("wheel_1").unwrap(),
                    roller("wheel_2").as_ref(),
                    &entry,
                );
                let want = |key: &str| o[key].as_f64().unwrap();
                close(e.speed_mps, want("exit_speed"), 1e-9);
                close(e.spin_radps, want("exit_spin"), 1e-7);
                close(e.wheel_radps[0], want("wheel_1_speed"), 1e-7);
                close(e.heat_j, want("heat_1") + want("heat_2"), 1e-9);
                let same = rolling(
                    &h,
                    n(["wheel_1", "radius"]) * e.wheel_radps[0],
                    roller("wheel_2").map_or(0.0, |w| w.radius_m * e.wheel_radps[1]),
                );
                close(same.speed_mps, e.speed_mps, 1e-9);
                close(same.spin_radps, e.spin_radps, 1e-7);
            }
        }
        assert!(count >= 2, "{count} such cases");
    }

    /// Energy conservation would give half the drop: at least half of what the wheel loses is heat.
    #[test]
    fn at_least_half_of_what_the_wheel_gives_becomes_heat() {
        let h = held(0.06, 0.112, 0.62, 0.05);
        let wheel = Roller {
            radius_m: 0.048,
            inertia_kgm2: 4e-4,
            speed_radps: 300.0,
        };
        let e = exchange(
            &h,
            &wheel,
            None,
            &Rolling {
                speed_mps: 0.0,
                spin_radps: 0.0,
            },
        );
        let given = 0.5 * 4e-4 * (300f64.powi(2) - e.wheel_radps[0].powi(2));
        let kept = 0.5 * (h.mass_kg * e.speed_mps.powi(2) + h.inertia_kgm2 * e.spin_radps.powi(2));
        assert!((given - kept - e.heat_j).abs() < 1e-12);
        assert!(e.heat_j > 0.5 * given);
    }

    /// Two equal wheels, piece from rest: W₁/W₀ = 2J/(2J + m R²) and k does not enter.
    #[test]
    fn an_equal_pair_gives_rim_speed_and_no_spin_whatever_the_shell() {
        for k in [0.4, 2.0 / 3.0] {
            let h = held(0.105, 0.16, k, 0.07);
            let wheel = Roller {
                radius_m: 0.06,
                inertia_kgm2: 6e-4,
                speed_radps: 200.0,
            };
            let e = exchange(
                &h,
                &wheel,
                Some(&wheel),
                &Rolling {
                    speed_mps: 0.0,
                    spin_radps: 0.0,
                },
            );
            close(
                e.wheel_radps[0],
                200.0 * 1.2e-3 / (1.2e-3 + 0.105 * 0.06f64.powi(2)),
                1e-10,
            );
            close(e.speed_mps, 0.06 * e.wheel_radps[0], 1e-12);
            close(e.spin_radps, 0.0, 1e-12);
        }
    }

    /// CV01 of the checks: 0.0526 m by the formula (docs/theory/contact.md); let-go speeds of the same page.
    #[test]
    fn the_path_to_rolling_and_the_let_go_speed_match_the_notes() {
        let h = held(0.14, 0.178, 0.4, 0.079);
        let p = path_to_rolling(&h, 0.8, 80.0, 0.0, 1.0, 8.051570844);
        close(p.length_m.unwrap(), 0.0526, 5e-5);
        let curved = path_to_rolling(&h, 0.8, 80.0, 1.0 / 0.13, 1.0, 8.05);
        close(curved.let_go_mps, 12.2, 0.05);
        assert!(curved.length_m.unwrap() > p.length_m.unwrap());
        assert_eq!(
            path_to_rolling(&h, 0.8, 80.0, 1.0 / 0.13, 1.0, 12.3).length_m,
            None
        );
        let heavy = held(0.27, 0.24, 0.4, 0.115);
        close(
            path_to_rolling(&heavy, 0.6, 60.0, 1.0 / 0.15, 1.0, 5.0).let_go_mps,
            8.2,
            0.05,
        );
    }

    /// The printed entry angles of docs/theory/contact.md: R 50.8 mm, r 89 mm, squeeze 5, 10, 20 mm.
    #[test]
    fn entry_angles_match_the_notes() {
        for (squeeze, guide, pair) in [(5e-3, 15.4, 10.9), (10e-3, 21.8, 15.4), (20e-3, 31.0, 21.8)] {
            let gap = 0.178 - squeeze;
            close(
                entry_angle(0.0508, 0.089, gap, false).unwrap().to_degrees(),
                guide,
                0.05,
            );
            close(
                entry_angle(0.0508, 0.089, gap, true).unwrap().to_degrees(),
                pair,
                0.05,
            );
        }
        assert_eq!(entry_angle(0.05, 0.05, 0.11, true), None);
        let alpha = 20f64.to_radians();
        assert!(bites(alpha, 0.4, None) && !bites(alpha, 0.3, None));
        assert!(bites(alpha, 0.9, Some(0.35)) && !bites(alpha, 0.9, Some(0.6)));
    }
}
