//! Lift (Magnus) coefficient of a sphere against the spin parameter.

use super::Lift;

/// Lift coefficient at a spin parameter S = r w/|V|.
///
/// ```text
/// linear       CL = c S
/// bilinear     CL = 1.5 S up to S = 0.1, 0.09 + 0.6 S above      [sawicki-2003], measured for S < 0.6 only
/// saturating   CL = s S/(a + b S)                                a = 0.4, b = 2.32 [cross-2011], levels off at s/b
/// ```
///
/// A piece rolled out along a guide leaves with S near 1 and S rises in flight, beyond nearly
/// all published fits: there only a law that levels off is sane.
#[inline]
pub fn lift_coeff(lift: &Lift, spin_parameter: f64) -> f64 {
    let s = spin_parameter;
    match *lift {
        Lift::None => 0.0,
        Lift::Linear { slope_coeff } => slope_coeff * s,
        Lift::Bilinear if s <= BILINEAR_CORNER => bilinear_below(s),
        Lift::Bilinear => bilinear_above(s),
        Lift::Saturating {
            a_coeff,
            b_coeff,
            scale_ratio,
        }
        | Lift::SaturatingWholeSpin {
            a_coeff,
            b_coeff,
            scale_ratio,
        } => scale_ratio * s / (a_coeff + b_coeff * s),
    }
}

/// Spin parameter at the corner of the bilinear law.
pub(super) const BILINEAR_CORNER: f64 = 0.1;

/// The bilinear law's branch below its corner, at any S.
#[inline]
pub(super) fn bilinear_below(s: f64) -> f64 {
    1.5 * s
}

/// The bilinear law's branch above its corner, at any S.
#[inline]
pub(super) fn bilinear_above(s: f64) -> f64 {
    0.09 + 0.6 * s
}

#[cfg(test)]
mod tests {
    use super::*;

    const CROSS: Lift = Lift::Saturating {
        a_coeff: 0.4,
        b_coeff: 2.32,
        scale_ratio: 1.0,
    };

    /// The laws as tabulated against S, three or four digits.
    #[test]
    fn the_laws_match_their_tabulated_values() {
        for (s, bilinear, saturating) in [
            (0.05, 0.075, 0.0969),
            (0.1, 0.150, 0.1582),
            (0.2, 0.210, 0.2315),
            (0.5, 0.390, 0.3205),
            (1.0, 0.690, 0.3676),
            (2.0, 1.290, 0.3968),
        ] {
            assert!((lift_coeff(&Lift::Bilinear, s) - bilinear).abs() < 1e-12);
            assert!((lift_coeff(&CROSS, s) - saturating).abs() <= 0.51e-4);
        }
    }

    /// Every `points.cl` row of every flight file in the checks folder.
    #[test]
    fn every_row_of_the_check_files_is_met() {
        let mut rows = 0;
        for file in crate::numerics::checks::files("flight") {
            for row in crate::numerics::checks::rows(&file, &["points", "cl"]) {
                let number = |key: &str| row.get(key).and_then(|v| v.as_f64());
                let s = number("spin_parameter").unwrap();
                for (name, law) in [("bilinear", Lift::Bilinear), ("saturating", CROSS)] {
                    if let Some(wanted) = number(name) {
                        assert!((lift_coeff(&law, s) - wanted).abs() <= 1e-9, "{name} at {s}");
                        rows += 1;
                    }
                }
            }
        }
        assert!(rows > 0, "no lift rows were found");
    }

    #[test]
    fn the_saturating_law_levels_off_at_one_over_b() {
        assert!((lift_coeff(&CROSS, 1e9) - 1.0 / 2.32).abs() < 1e-9);
        let doubled = Lift::Saturating {
            a_coeff: 0.4,
            b_coeff: 2.32,
            scale_ratio: 2.0,
        };
        assert_eq!(lift_coeff(&doubled, 0.7), 2.0 * lift_coeff(&CROSS, 0.7));
    }

    #[test]
    fn the_two_branches_of_the_bilinear_law_meet_at_the_corner() {
        assert!((bilinear_below(BILINEAR_CORNER) - bilinear_above(BILINEAR_CORNER)).abs() < 1e-15);
    }
}
