//! Clift and Gauvin's drag law as a quotient of polynomials, for many lanes at once.
//!
//! Powers of the Reynolds number cost more than everything else in a step. The quotient
//!
//! ```text
//! Cd ≈ P(x)/Q(x),   x = Re/1e5,   P and Q of degree eight, all coefficients positive
//! ```
//!
//! was fitted to the law by weighted least squares with weights driven towards equal ripple.
//! It is within 1.5e-8 of the law, relatively, from Re = 1.5e4 to 4e5. Below, the relative
//! error may grow as (1.5e4/Re)², down to Re = 300, because the force falls as fast.

/// Reynolds number for one unit of x.
pub(super) const REYNOLDS_UNIT: f64 = 1e5;
/// Greatest x of the fit; faster lanes are flown one at a time with the law itself.
pub(super) const GREATEST_X: f64 = 4.0;

/// Coefficients of P, lowest power first (fitted here).
pub(super) const P: [f64; 9] = [
    2.622_896_531_337_216,
    1_861.333_812_394_065,
    192_666.375_481_012_7,
    6_054_741.663_482_557,
    104_814_578.000_073_43,
    603_637_885.389_059_8,
    912_446_070.397_226_6,
    327_470_287.949_178_64,
    18_800_421.244_505_65,
];

/// Coefficients of Q, lowest power first (fitted here).
pub(super) const Q: [f64; 9] = [
    1.0,
    2_815.434_818_026_338,
    517_403.563_778_592_16,
    18_903_096.817_455_96,
    233_783_948.954_538_73,
    1_186_948_531.875_081_5,
    1_834_712_928.772_131_7,
    695_721_609.060_926_1,
    42_443_907.539_110_97,
];

#[cfg(test)]
mod tests {
    use super::super::super::{Drag, DragLaw, drag_coeff};
    use super::*;

    #[test]
    fn the_quotient_stays_within_its_claim_of_the_law() {
        let law = Drag {
            law: DragLaw::CliftGauvin,
            scale_ratio: 1.0,
        };
        let horner = |c: &[f64; 9], x: f64| c.iter().rev().fold(0.0, |sum, c| sum * x + c);
        let mut worst: f64 = 0.0;
        for i in 0..=2000 {
            let re = 300.0 * (4e5_f64 / 300.0).powf(f64::from(i) / 2000.0);
            let x = re / REYNOLDS_UNIT;
            let error = (horner(&P, x) / horner(&Q, x) / drag_coeff(&law, re) - 1.0).abs();
            worst = worst.max(error * (re / 1.5e4).powi(2).min(1.0));
        }
        assert!(worst < 1.5e-8, "{worst:e}");
    }
}
