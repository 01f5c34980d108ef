//! Drag coefficient of a sphere against the Reynolds number.

use super::{Drag, DragLaw};
use libm::{exp, log};

/// Drag coefficient at a Reynolds number, the law times its multiplier.
///
/// ```text
/// Clift-Gauvin         24/Re (1 + 0.15 Re^0.687) + 0.42/(1 + 42500 Re^-1.16)         Re < 3e5    [clift-gauvin-1970]
/// Brown-Lawler         24/Re (1 + 0.150 Re^0.681) + 0.407/(1 + 8710/Re)              Re < 2e5    [brown-lawler-2003]
/// Haider-Levenspiel    24/Re (1 + 0.1806 Re^0.6459) + 0.4251/(1 + 6880.95/Re)        Re <= 2e5   [haider-levenspiel-1989]
/// Morrison             24/Re + 2.6 (Re/5)/(1 + (Re/5)^1.52) + 0.411 q^-7.94/(1 + q^-8)
///                      + Re^0.80/461000,  q = Re/263000                              Re <= 1e6   [morrison-2013]
/// logistic             low + (high − low)/(1 + exp(−(ln Re − ln Re_c)/w))            our own shape for a drag crisis
/// ```
///
/// Powers use plain arithmetic only, for the same bits on every machine.
///
/// Two formulas go by the name Clift-Gauvin, 5 % apart; this is the one printed above.
/// Morrison reads 3 % (Re 1e4) to 17 % (2e5) below the standard curve. At Re = 0 the
/// smooth-sphere laws are infinite, as Stokes' law is; the drag force stays finite.
#[inline]
pub fn drag_coeff(drag: &Drag, reynolds_count: f64) -> f64 {
    let re = reynolds_count;
    let coeff = match drag.law {
        DragLaw::None => 0.0,
        DragLaw::Constant { drag_coeff } => drag_coeff,
        // 24 · 0.15 = 3.6 and 0.687 − 1 = −0.313: multiplied out, it stays finite at Re = ∞.
        DragLaw::CliftGauvin => {
            24.0 / re + 3.6 * power(re, -0.313) + 0.42 / (1.0 + 42_500.0 * power(re, -1.16))
        }
        DragLaw::BrownLawler => 24.0 / re + 3.6 * power(re, -0.319) + 0.407 / (1.0 + 8_710.0 / re),
        DragLaw::HaiderLevenspiel => {
            24.0 / re + 24.0 * 0.1806 * power(re, -0.3541) + 0.4251 / (1.0 + 6_880.95 / re)
        }
        DragLaw::Morrison => {
            let q = re / 263_000.0;
            let fifth = re / 5.0;
            // q^-7.94/(1 + q^-8) = q^0.06/(1 + q^8) is finite at q = 0.
            let q4 = (q * q) * (q * q);
            24.0 / re
                + 2.6 * fifth / (1.0 + power(fifth, 1.52))
                + 0.411 * power(q, 0.06) / (1.0 + q4 * q4)
                + power(re, 0.80) / 461_000.0
        }
        DragLaw::Logistic {
            low_re_coeff,
            high_re_coeff,
            critical_re_count,
            width_ratio,
        } => {
            let above = log(re / critical_re_count) / width_ratio;
            low_re_coeff + (high_re_coeff - low_re_coeff) / (1.0 + exp(-above))
        }
    };
    drag.scale_ratio * coeff
}

/// `x^exponent` for x of at least 0, by plain arithmetic; right to 1e-14 for the numbers met here and twice
/// as fast as a power that is right to the last bit.
#[inline]
fn power(x: f64, exponent: f64) -> f64 {
    exp(exponent * log(x))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn coeff(law: DragLaw, re: f64) -> f64 {
        drag_coeff(
            &Drag {
                law,
                scale_ratio: 1.0,
            },
            re,
        )
    }

    const SMOOTH: [(&str, DragLaw); 4] = [
        ("clift_gauvin", DragLaw::CliftGauvin),
        ("brown_lawler", DragLaw::BrownLawler),
        ("haider_levenspiel", DragLaw::HaiderLevenspiel),
        ("morrison", DragLaw::Morrison),
    ];

    /// The laws as evaluated at five Reynolds numbers, four digits.
    #[test]
    fn the_laws_match_their_tabulated_values() {
        for (re, row) in [
            (1e3, [0.4662, 0.4634, 0.4535, 0.4841]),
            (1e4, [0.4167, 0.4106, 0.4204, 0.3936]),
            (5e4, [0.4873, 0.4612, 0.4681, 0.4066]),
            (1e5, [0.4918, 0.4661, 0.4715, 0.4247]),
            (2e5, [0.4867, 0.4635, 0.4686, 0.4120]),
        ] {
            for ((name, law), wanted) in SMOOTH.into_iter().zip(row) {
                let found = coeff(law, re);
                assert!(
                    (found - wanted).abs() <= 0.51e-4,
                    "{name} at {re}: {found}, not {wanted}"
                );
            }
        }
    }

    /// The standard drag curve of Clift, Grace and Weber 1978 [clift-1978], log10 segments.
    #[test]
    fn clift_gauvin_stays_within_five_percent_of_the_standard_curve() {
        for (re, curve) in [(1e4, 0.4052), (5e4, 0.4742), (1e5, 0.5018), (2e5, 0.4977)] {
            let ratio = coeff(DragLaw::CliftGauvin, re) / curve;
            assert!((0.95..1.05).contains(&ratio), "{re}: {ratio}");
        }
    }

    /// Every `points.cd` row of every flight file in the checks folder.
    #[test]
    fn every_row_of_the_check_files_is_met() {
        let mut rows = 0;
        for file in crate::numerics::checks::files("flight") {
            for row in crate::numerics::checks::rows(&file, &["points", "cd"]) {
                let number = |key: &str| row.get(key).and_then(|v| v.as_f64());
                let re = number("reynolds").unwrap();
                for (name, law) in SMOOTH {
                    if let Some(wanted) = number(name) {
                        let found = coeff(law, re);
                        assert!(
                            (found / wanted - 1.0).abs() <= 1e-9,
                            "{name} at {re}: {found}, not {wanted}"
                        );
                        rows += 1;
                    }
                }
            }
        }
        assert!(rows > 0, "no drag rows were found");
    }

    #[test]
    fn powers_are_those_of_the_standard_library() {
        for (x, exponent) in [
            (1.5e5, -1.16),
            (3e2, -0.313),
            (7e4, 0.8),
            (0.3, 0.06),
            (2e4, 1.52),
        ] {
            assert!((power(x, exponent) / x.powf(exponent) - 1.0).abs() < 1e-14);
        }
        assert_eq!((power(0.0, 0.06), power(0.0, -0.3)), (0.0, f64::INFINITY));
    }

    #[test]
    fn the_multiplier_multiplies() {
        let drag = Drag {
            law: DragLaw::Constant { drag_coeff: 0.5 },
            scale_ratio: 1.1,
        };
        assert_eq!(drag_coeff(&drag, 1e5), 0.55);
    }

    #[test]
    fn the_logistic_step_is_halfway_at_its_critical_number_and_flat_far_from_it() {
        let law = DragLaw::Logistic {
            low_re_coeff: 0.5,
            high_re_coeff: 0.2,
            critical_re_count: 1e5,
            width_ratio: 0.15,
        };
        assert!((coeff(law, 1e5) - 0.35).abs() < 1e-12);
        assert!((coeff(law, 1e3) - 0.5).abs() < 1e-12);
        assert!((coeff(law, 1e7) - 0.2).abs() < 1e-12);
        // One width above the middle: 1/(1 + 1/e) of the way down.
        let wanted = 0.5 - 0.3 / (1.0 + (-1.0_f64).exp());
        assert!((coeff(law, 1e5 * 0.15_f64.exp()) - wanted).abs() < 1e-12);
    }
}
