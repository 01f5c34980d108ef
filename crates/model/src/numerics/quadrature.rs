//! Integral of a function of one variable.

/// Integral of `f` over [lo, hi], by the 15-point Gauss–Kronrod rule on halves of halves [piessens-1983].
///
/// A piece is halved until it differs from the 7-point Gauss rule inside it by less than its part of
/// `tolerance` (an absolute error), or `MOST_HALVINGS` times. Give places of sudden change as ends of pieces.
/// Not a number when `f` or an end is none.
pub fn integral(mut f: impl FnMut(f64) -> f64, lo: f64, hi: f64, tolerance: f64) -> f64 {
    let mut waiting = vec![(lo, hi, tolerance, 0)];
    let mut sum = 0.0;
    let mut pieces = 0;
    while let Some((lo, hi, tolerance, halvings)) = waiting.pop() {
        let (value, difference) = gauss_kronrod(&mut f, lo, hi);
        pieces += 1;
        // The difference is the error of the poorer rule; a value that is no number ends here as well.
        let close = !(difference > tolerance.max(ROUNDING * value.abs()));
        if close || halvings == MOST_HALVINGS || pieces > MOST_PIECES {
            sum += value;
        } else {
            let middle = 0.5 * (lo + hi);
            waiting.push((lo, middle, 0.5 * tolerance, halvings + 1));
            waiting.push((middle, hi, 0.5 * tolerance, halvings + 1));
        }
    }
    sum
}

/// Nodes and weights of the Gauss–Legendre rule of `count` points on [lo, hi]; exact to degree 2 count − 1.
///
/// ```text
/// xᵢ: roots of the Legendre polynomial P_n, by Newton's method from cos(π (i + 3/4)/(n + 1/2))
/// wᵢ = 2/((1 − xᵢ²) P_n′(xᵢ)²)
/// ```
///
/// [abramowitz-stegun] 25.4.29. Empty for a count of zero.
pub fn gauss_legendre(count: usize, lo: f64, hi: f64) -> Vec<(f64, f64)> {
    let (middle, half) = (0.5 * (lo + hi), 0.5 * (hi - lo));
    let n = count as f64;
    let nodes = (0..count).map(|i| {
        let mut x = -libm::cos(std::f64::consts::PI * (i as f64 + 0.75) / (n + 0.5));
        let mut slope = 1.0;
        for _ in 0..NEWTON_STEPS {
            let (mut value, mut before) = (1.0, 0.0);
            for k in 0..count {
                let k = k as f64;
                (value, before) = (((2.0 * k + 1.0) * x * value - k * before) / (k + 1.0), value);
            }
            slope = n * (x * value - before) / (x * x - 1.0);
            x -= value / slope;
        }
        (middle + half * x, half * 2.0 / ((1.0 - x * x) * slope * slope))
    });
    nodes.collect()
}

/// Convergence: the start is good to 1e-2 of a spacing at worst, and each step squares that.
const NEWTON_STEPS: u32 = 6;

/// Convergence: a jump is located to 1e-15 of the range.
const MOST_HALVINGS: u32 = 50;
/// Convergence: a function this ragged is not worth more.
const MOST_PIECES: u32 = 5000;
/// Rounding: two sums of fifteen terms cannot agree better.
const ROUNDING: f64 = 8.0 * f64::EPSILON;

/// Integral by the 15-point rule and its distance from the 7-point rule.
fn gauss_kronrod(f: &mut impl FnMut(f64) -> f64, lo: f64, hi: f64) -> (f64, f64) {
    let (middle, half) = (0.5 * (lo + hi), 0.5 * (hi - lo));
    let centre = f(middle);
    let (mut fine, mut coarse) = (centre * KRONROD_CENTRE, centre * GAUSS_CENTRE);
    for (node, kronrod, gauss) in NODES {
        let both = f(middle - half * node) + f(middle + half * node);
        fine += both * kronrod;
        coarse += both * gauss;
    }
    (fine * half, ((fine - coarse) * half).abs())
}

const KRONROD_CENTRE: f64 = 0.209_482_141_084_727_82;
const GAUSS_CENTRE: f64 = 0.417_959_183_673_469_4;
/// Node, weight of the 15-point rule, weight of the 7-point rule [piessens-1983].
const NODES: [(f64, f64, f64); 7] = [
    (0.991_455_371_120_812_6, 0.022_935_322_010_529_224, 0.0),
    (
        0.949_107_912_342_758_5,
        0.063_092_092_629_978_56,
        0.129_484_966_168_869_7,
    ),
    (0.864_864_423_359_769_1, 0.104_790_010_322_250_19, 0.0),
    (
        0.741_531_185_599_394_4,
        0.140_653_259_715_525_92,
        0.279_705_391_489_276_64,
    ),
    (0.586_087_235_467_691_1, 0.169_004_726_639_267_9, 0.0),
    (
        0.405_845_151_377_397_2,
        0.190_350_578_064_785_4,
        0.381_830_050_505_118_9,
    ),
    (0.207_784_955_007_898_47, 0.204_432_940_075_298_9, 0.0),
];

#[cfg(test)]
mod tests {
    use super::*;

    /// Gauss–Kronrod rules of 7 and 15 points are exact to degree 13 and 22 (Kronrod 1965).
    #[test]
    fn one_piece_is_exact_for_polynomials_of_its_degree() {
        for degree in [0, 2, 6, 12, 22] {
            let (fine, difference) = gauss_kronrod(&mut |x: f64| x.powi(degree), -1.0, 1.0);
            assert!((fine - 2.0 / f64::from(degree + 1)).abs() < 1e-15, "{degree}");
            assert_eq!(difference < 1e-15, degree <= 13, "{degree}: {difference}");
        }
    }

    #[test]
    fn smooth_peaked_and_cornered_functions_come_out_within_the_tolerance() {
        type Case = (fn(f64) -> f64, f64, f64);
        let cases: [Case; 4] = [
            (f64::exp, 1.0, 1.0_f64.exp() - 1.0),
            (|x| (x - 0.3).abs(), 1.0, 0.29),
            (|x| 1.0 / (1e-6 + x * x), 1.0, 1000.0 * 1000.0_f64.atan()),
            (f64::sqrt, 1.0, 2.0 / 3.0),
        ];
        for (i, (f, hi, exact)) in cases.into_iter().enumerate() {
            let got = integral(f, 0.0, hi, 1e-11);
            assert!((got - exact).abs() < 1e-11, "case {i}: {got} {exact}");
        }
    }

    #[test]
    fn a_function_that_is_not_a_number_or_never_settles_ends_it() {
        assert!(integral(|_| f64::NAN, 0.0, 1.0, 1e-12).is_nan());
        assert!(integral(|x| x, 0.0, f64::INFINITY, 1e-12).is_nan());
        let noise = |x: f64| f64::from((x.to_bits() % 7) as u32);
        assert!((0.0..=6.0).contains(&integral(noise, 0.0, 1.0, 1e-300)));
    }

    /// A rule of n points is exact to degree 2n − 1 and not beyond (Gauss 1814).
    #[test]
    fn the_rule_of_legendre_is_exact_to_twice_its_points() {
        for count in [1, 2, 5, 20, 80] {
            let rule = gauss_legendre(count, 0.0, 1.0);
            let power = |degree: i32| rule.iter().map(|(x, w)| w * x.powi(degree)).sum::<f64>();
            for degree in [0, 1, count as i32, 2 * count as i32 - 1] {
                let exact = 1.0 / f64::from(degree + 1);
                assert!((power(degree) - exact).abs() < 1e-14, "{count} {degree}");
            }
            let beyond = 2 * count as i32;
            assert!(count > 5 || (power(beyond) - 1.0 / f64::from(beyond + 1)).abs() > 1e-7);
        }
        assert!(gauss_legendre(0, 0.0, 1.0).is_empty());
    }
}
