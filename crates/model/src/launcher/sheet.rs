//! The guide as formed sheet: cold-bend limits, arc lengths, gap under misplacement, gauge, cut width,
//! springback.

use super::types::SheetMaterial;

/// Radius over thickness below which a sheet should not be curved cold.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ColdBendRule {
    /// Most permissive maker's rule.
    pub least_ratio: f64,
    /// Most careful maker's rule.
    pub careful_ratio: f64,
}

/// Cold-bend rule of a sheet material; `None` where no rule is published and a test strip must decide.
///
/// Ranges of several sheet makers' fabrication guides: polycarbonate 100 to 200, acrylic 240 to 330
/// (trade figures \[sheet-makers\]). Corrugated sheet: no figure known; flutes parallel to the bend axis.
pub fn cold_bend_rule(material: SheetMaterial) -> Option<ColdBendRule> {
    match material {
        SheetMaterial::Polycarbonate => Some(ColdBendRule {
            least_ratio: 100.0,
            careful_ratio: 200.0,
        }),
        SheetMaterial::Acrylic => Some(ColdBendRule {
            least_ratio: 240.0,
            careful_ratio: 330.0,
        }),
        SheetMaterial::Corrugated => None,
    }
}

/// A strip curved cold and held.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CurvedStrip {
    /// Thickness.
    pub thickness_m: f64,
    /// Radius of the inside face.
    pub inside_radius_m: f64,
    /// Width along the bend axis.
    pub width_m: f64,
    /// Young's modulus.
    pub modulus_pa: f64,
    /// Poisson's ratio.
    pub poisson_ratio: f64,
}

/// What a cold curve does to a strip.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ColdBend {
    /// Smallest radius by the rule.
    pub least_radius_m: f64,
    /// Thickest sheet for this radius by the rule.
    pub thickest_m: f64,
    /// Strain of the outer face.
    pub strain_frac: f64,
    /// Stress there: a long-term figure, far below yield. Cleaners and thread glue craze at much less.
    pub stress_pa: f64,
    /// Moment that holds the curve. A cold curve springs back nearly whole: clamp at three stations or more.
    pub holding_nm: f64,
}

/// Limits, strain and holding moment of a sheet curved cold to a radius.
///
/// ```text
/// R_min = k t    ε = t/(2 R + t)    σ = E ε    M = E b t³/(12 (1 − ν²) (R + t/2))
/// ```
///
/// | symbol | code | unit |
/// |---|---|---|
/// | k | `ratio`, from [`cold_bend_rule`] | – |
/// | R, t, b | inside radius, thickness, width | m |
///
/// Bending of a wide plate \[timoshenko-plates\]. Holds for elastic strain (below about 1 %).
pub fn cold_bend(strip: &CurvedStrip, ratio: f64) -> ColdBend {
    let CurvedStrip {
        thickness_m,
        inside_radius_m,
        width_m,
        modulus_pa,
        poisson_ratio,
    } = *strip;
    let strain_frac = thickness_m / (2.0 * inside_radius_m + thickness_m);
    let neutral_m = inside_radius_m + thickness_m / 2.0;
    ColdBend {
        least_radius_m: ratio * thickness_m,
        thickest_m: inside_radius_m / ratio,
        strain_frac,
        stress_pa: modulus_pa * strain_frac,
        holding_nm: modulus_pa * width_m * thickness_m.powi(3)
            / (12.0 * (1.0 - poisson_ratio * poisson_ratio) * neutral_m),
    }
}

/// What shapes a concentric guide.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GuideLayout {
    /// Wheel radius.
    pub wheel_radius_m: f64,
    /// Piece diameter.
    pub piece_m: f64,
    /// Squeeze: piece diameter minus gap, both sides together.
    pub squeeze_m: f64,
    /// Angle of the arc about the axle.
    pub wrap_rad: f64,
    /// Sheet thickness.
    pub thickness_m: f64,
    /// Where the neutral line lies in the sheet: 0.5 curved elastically, 0.33 to 0.45 for a sharp metal bend.
    pub neutral_frac: f64,
}

/// Lengths of a concentric guide, and the motion of a piece that rolls through it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GuideArc {
    /// Gap between wheel and guide.
    pub gap_m: f64,
    /// Radius of the guide's inside face.
    pub guide_radius_m: f64,
    /// Arc of the inside face.
    pub inner_m: f64,
    /// Length to cut, along the neutral line.
    pub flat_m: f64,
    /// Arc of the outside face.
    pub outer_m: f64,
    /// Path of the piece's centre.
    pub path_m: f64,
    /// Speed of the piece, rolling on both.
    pub piece_mps: f64,
    /// Spin of the piece, rolling on both.
    pub spin_radps: f64,
    /// Turn of the wheel while the piece passes.
    pub wheel_turn_rad: f64,
}

/// Lengths and rolling speeds of a concentric guide.
///
/// ```text
/// g = d − c    R = r + g    flat = θ (R + K t)    path = θ (r + g/2)
/// v = ω r/2    spin = ω r/g    wheel turn = 2 path/r
/// ```
///
/// Geometry of circles and rolling without slip between a turning and a fixed surface, derived.
/// One wheel and a fixed guide give half of the rim speed; two equal wheels give all of it.
pub fn guide_arc(guide: &GuideLayout, wheel_radps: f64) -> GuideArc {
    let gap_m = guide.piece_m - guide.squeeze_m;
    let guide_radius_m = guide.wheel_radius_m + gap_m;
    let path_m = guide.wrap_rad * (guide.wheel_radius_m + gap_m / 2.0);
    let rim_mps = wheel_radps * guide.wheel_radius_m;
    GuideArc {
        gap_m,
        guide_radius_m,
        inner_m: guide.wrap_rad * guide_radius_m,
        flat_m: guide.wrap_rad * (guide_radius_m + guide.neutral_frac * guide.thickness_m),
        outer_m: guide.wrap_rad * (guide_radius_m + guide.thickness_m),
        path_m,
        piece_mps: rim_mps / 2.0,
        spin_radps: rim_mps / gap_m,
        wheel_turn_rad: 2.0 * path_m / guide.wheel_radius_m,
    }
}

/// Radius by a three-point gauge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GaugedRadius {
    /// Radius.
    pub radius_m: f64,
    /// Error of the radius that the error of the sag makes.
    pub error_m: f64,
}

/// Radius of an arc from a chord and the sag at its middle.
///
/// ```text
/// R = ch²/(8 s) + s/2    ΔR = |1/2 − ch²/(8 s²)| Δs
/// ```
///
/// Sagitta of a circle, derived.
pub fn gauge_radius(chord_m: f64, sag_m: f64, sag_error_m: f64) -> GaugedRadius {
    let over = chord_m * chord_m / (8.0 * sag_m);
    GaugedRadius {
        radius_m: over + sag_m / 2.0,
        error_m: (0.5 - over / sag_m).abs() * sag_error_m,
    }
}

/// Gap at a station of a guide whose centre sits off the axle, with its extremes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OffsetGap {
    /// At the asked angle.
    pub gap_m: f64,
    /// Widest.
    pub widest_m: f64,
    /// Narrowest.
    pub narrowest_m: f64,
}

/// Gap between a wheel and a guide whose centre is misplaced by e.
///
/// ```text
/// gap(φ) = e cos φ + √(R² − e² sin² φ) − r
/// ```
///
/// φ is measured at the axle from the direction of the offset. Geometry, derived; |e| < R.
pub fn offset_gap(guide_radius_m: f64, wheel_radius_m: f64, offset_m: f64, angle_rad: f64) -> OffsetGap {
    let across = offset_m * angle_rad.sin();
    let along = (guide_radius_m * guide_radius_m - across * across)
        .max(0.0)
        .sqrt();
    let even_m = guide_radius_m - wheel_radius_m;
    OffsetGap {
        gap_m: offset_m * angle_rad.cos() + along - wheel_radius_m,
        widest_m: even_m + offset_m.abs(),
        narrowest_m: even_m - offset_m.abs(),
    }
}

/// What the width of a cut does to a slot and its tab.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CutWidth {
    /// Path offset to the waste side that cancels it.
    pub offset_m: f64,
    /// Slot to draw if the machine follows the line.
    pub slot_drawn_m: f64,
    /// What a slot drawn at its true size becomes without the offset.
    pub slot_uncorrected_m: f64,
    /// What a tab drawn at the sheet's thickness becomes without the offset.
    pub tab_uncorrected_m: f64,
}

/// Cut width of the guide's side plates: slots grow by it, tabs shrink by it.
///
/// ```text
/// offset = k/2    slot drawn = t + c − k    slot cut from t + c = t + c + k    tab cut from t = t − k
/// ```
///
/// Derived. k cut width, c clearance of the slot over the sheet t.
pub fn cut_width(sheet_m: f64, clearance_m: f64, cut_m: f64) -> CutWidth {
    let slot_m = sheet_m + clearance_m;
    CutWidth {
        offset_m: cut_m / 2.0,
        slot_drawn_m: slot_m - cut_m,
        slot_uncorrected_m: slot_m + cut_m,
        tab_uncorrected_m: sheet_m - cut_m,
    }
}

/// A metal strip after it is let go.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Springback {
    /// Formed radius over final radius; 0 if it springs back flat.
    pub formed_ratio: f64,
    /// Radius after release; infinite if flat.
    pub final_radius_m: f64,
}

/// Springback of a metal strip bent past yield.
///
/// ```text
/// Ri/Rf = 4 q³ − 3 q + 1,    q = Ri Y/(E t)
/// ```
///
/// \[gardiner1957\], as in \[kalpakjian-schmid\]. Elastic-perfectly plastic strip; for q ≥ 1/2 it never
/// yields and
/// springs back whole. Metals only: cold-curved plastic sheet is elastic throughout.
pub fn metal_springback(
    formed_radius_m: f64,
    thickness_m: f64,
    yield_pa: f64,
    modulus_pa: f64,
) -> Springback {
    let q = formed_radius_m * yield_pa / (modulus_pa * thickness_m);
    let formed_ratio = if q >= 0.5 {
        0.0
    } else {
        4.0 * q * q * q - 3.0 * q + 1.0
    };
    Springback {
        formed_ratio,
        final_radius_m: formed_radius_m / formed_ratio,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const GUIDE: GuideLayout = GuideLayout {
        wheel_radius_m: 0.05,
        piece_m: 0.127,
        squeeze_m: 0.012,
        wrap_rad: 1.2,
        thickness_m: 0.0015,
        neutral_frac: 0.5,
    };

    /// Trap: one wheel against a fixed guide throws at half of the rim speed, because the contact on the
    /// guide stands still.
    #[test]
    fn one_wheel_and_a_fixed_guide_throw_at_half_the_rim_speed() {
        let arc = guide_arc(&GUIDE, 400.0);
        assert_eq!(arc.piece_mps, 0.5 * 400.0 * 0.05);
        let (guide_side, wheel_side) = (
            arc.piece_mps - arc.spin_radps * arc.gap_m / 2.0,
            arc.piece_mps + arc.spin_radps * arc.gap_m / 2.0,
        );
        assert!(guide_side.abs() < 1e-12 && (wheel_side - 400.0 * 0.05).abs() < 1e-12);
        // The time the piece needs along its path is the time the wheel needs for its turn.
        assert!((arc.path_m / arc.piece_mps - arc.wheel_turn_rad / 400.0).abs() < 1e-15);
    }

    #[test]
    fn the_length_to_cut_lies_between_the_two_faces_where_the_neutral_line_lies() {
        let at = |neutral_frac| {
            guide_arc(
                &GuideLayout {
                    neutral_frac,
                    ..GUIDE
                },
                1.0,
            )
        };
        assert_eq!(at(0.0).flat_m, at(0.0).inner_m);
        assert_eq!(at(1.0).flat_m, at(0.0).outer_m);
    }

    /// Points at distance R from the misplaced centre, seen from the axle.
    #[test]
    fn a_point_at_the_offset_gap_lies_on_the_misplaced_circle() {
        for angle in [0.0_f64, 0.4, 1.9, 3.0] {
            let gap = offset_gap(0.165, 0.05, 0.004, angle);
            let reach = gap.gap_m + 0.05;
            let (x, y) = (reach * angle.cos() - 0.004, reach * angle.sin());
            assert!((x.hypot(y) - 0.165).abs() < 1e-15);
            assert!(gap.narrowest_m <= gap.gap_m + 1e-15 && gap.gap_m <= gap.widest_m + 1e-15);
        }
    }

    #[test]
    fn gauging_a_true_arc_returns_its_radius_and_the_stated_error() {
        let (radius, half_angle) = (0.165_f64, 0.45_f64);
        let (chord, sag) = (2.0 * radius * half_angle.sin(), radius * (1.0 - half_angle.cos()));
        let got = gauge_radius(chord, sag, 1e-6);
        assert!((got.radius_m - radius).abs() < 1e-15);
        let moved = gauge_radius(chord, sag - 1e-6, 0.0).radius_m - radius;
        assert!((moved / got.error_m - 1.0).abs() < 1e-3);
    }

    /// Moment–curvature of an elastic-plastic strip, integrated through the thickness as the second route.
    #[test]
    fn springback_matches_unloading_an_elastic_plastic_strip() {
        let (radius, thickness, yield_pa, modulus) = (0.05, 0.0015, 110e6, 69e9);
        let steps = 20_000;
        let dy = thickness / f64::from(steps);
        let moment: f64 = (0..steps)
            .map(|i| {
                let y = -thickness / 2.0 + (f64::from(i) + 0.5) * dy;
                (modulus * y / radius).clamp(-yield_pa, yield_pa) * y * dy
            })
            .sum();
        let curvature = 1.0 / radius - moment / (modulus * thickness.powi(3) / 12.0);
        let got = metal_springback(radius, thickness, yield_pa, modulus);
        assert!((got.final_radius_m * curvature - 1.0).abs() < 1e-6);
        assert_eq!(
            metal_springback(1.0, thickness, yield_pa, modulus).final_radius_m,
            f64::INFINITY
        );
    }

    #[test]
    fn corrugated_sheet_has_no_published_rule_and_acrylic_is_stiffer_than_polycarbonate() {
        assert_eq!(cold_bend_rule(SheetMaterial::Corrugated), None);
        let pc = cold_bend_rule(SheetMaterial::Polycarbonate).unwrap();
        let acrylic = cold_bend_rule(SheetMaterial::Acrylic).unwrap();
        assert!(acrylic.least_ratio > pc.careful_ratio);
    }

    /// The thickest sheet of a radius has that radius as its smallest.
    #[test]
    fn smallest_radius_and_thickest_sheet_are_inverse() {
        let strip = CurvedStrip {
            thickness_m: 0.001,
            inside_radius_m: 0.12,
            width_m: 0.1,
            modulus_pa: 2.35e9,
            poisson_ratio: 0.37,
        };
        let thick = cold_bend(&strip, 100.0).thickest_m;
        let at_limit = cold_bend(
            &CurvedStrip {
                thickness_m: thick,
                ..strip
            },
            100.0,
        );
        assert!((at_limit.least_radius_m - strip.inside_radius_m).abs() < 1e-15);
        // Rolling the strip out by its holding moment over its stiffness per width gives the curvature.
        let neutral = strip.inside_radius_m + strip.thickness_m / 2.0;
        let stiffness = 2.35e9 * 0.1 * 0.001_f64.powi(3) / 12.0 / (1.0 - 0.37 * 0.37);
        assert!((cold_bend(&strip, 100.0).holding_nm - stiffness / neutral).abs() < 1e-15);
        assert!((at_limit.strain_frac - 1.0 / 201.0).abs() < 1e-15);
    }

    #[test]
    fn a_slot_drawn_corrected_cuts_to_sheet_plus_clearance() {
        let cut = cut_width(0.003, 1e-4, 2e-4);
        assert!((cut.slot_drawn_m + 2e-4 - 0.0031).abs() < 1e-15);
        assert!(cut.tab_uncorrected_m < 0.003 && cut.slot_uncorrected_m > 0.0031);
        assert_eq!(cut.offset_m, 1e-4);
    }
}
