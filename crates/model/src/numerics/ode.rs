//! Explicit Runge-Kutta integration of order eight.

/// One step of order eight: where it ends and how far the embedded formulas of order five
/// and three disagree with it.
#[derive(Clone, Copy, Debug)]
pub struct Step<const N: usize, const Q: usize> {
    /// State at the end of the step.
    pub y: [f64; N],
    /// Quadratures gained over the step.
    pub gain: [f64; Q],
    error_5: ([f64; N], [f64; Q]),
    error_3: ([f64; N], [f64; Q]),
    step: f64,
}

/// Takes one step of an autonomous system `dy/dt = f(y)`, with quadratures `dq/dt = g(y)` that
/// nothing depends on, by the method of Dormand and Prince of order 8(5,3), known as DOP853
/// [hairer-1993].
///
/// ```text
/// Y_i = y + h Σ_j a_ij k_j,   k_i = f(Y_i),   y' = y + h Σ_i b_i k_i,   q' = q + h Σ_i b_i g(Y_i)
/// ```
///
/// `rhs` returns `(f, g)`; `first` is its value at `y`. The quadratures cost no stages of
/// their own, which is why they are apart.
#[inline]
pub fn dop853<const N: usize, const Q: usize>(
    y: &[f64; N],
    first: &([f64; N], [f64; Q]),
    h: f64,
    rhs: impl Fn(&[f64; N]) -> ([f64; N], [f64; Q]),
) -> Step<N, Q> {
    let (k1, q1) = *first;
    let (k2, _) = rhs(&stage(y, h, &[(0.052_600_151_958_767_73, &k1)]));
    let (k3, _) = rhs(&stage(
        y,
        h,
        &[(0.019_725_056_984_537_9, &k1), (0.059_175_170_953_613_7, &k2)],
    ));
    let (k4, _) = rhs(&stage(
        y,
        h,
        &[(0.029_587_585_476_806_85, &k1), (0.088_762_756_430_420_54, &k3)],
    ));
    let (k5, _) = rhs(&stage(
        y,
        h,
        &[
            (0.241_365_134_159_266_7, &k1),
            (-0.884_549_479_328_286_1, &k3),
            (0.924_834_003_261_792, &k4),
        ],
    ));
    let (k6, q6) = rhs(&stage(
        y,
        h,
        &[
            (0.037_037_037_037_037_035, &k1),
            (0.170_828_608_729_473_86, &k4),
            (0.125_467_687_566_822_42, &k5),
        ],
    ));
    let (k7, q7) = rhs(&stage(
        y,
        h,
        &[
            (0.037_109_375, &k1),
            (0.170_252_211_019_544_05, &k4),
            (0.060_216_538_980_455_96, &k5),
            (-0.017_578_125, &k6),
        ],
    ));
    let (k8, q8) = rhs(&stage(
        y,
        h,
        &[
            (0.037_092_000_118_504_79, &k1),
            (0.170_383_925_712_239_98, &k4),
            (0.107_262_030_446_373_28, &k5),
            (-0.015_319_437_748_624_402, &k6),
            (0.008_273_789_163_814_023, &k7),
        ],
    ));
    let (k9, q9) = rhs(&stage(
        y,
        h,
        &[
            (0.624_110_958_716_075_7, &k1),
            (-3.360_892_629_446_941_4, &k4),
            (-0.868_219_346_841_726, &k5),
            (27.592_099_699_446_71, &k6),
            (20.154_067_550_477_894, &k7),
            (-43.489_884_181_069_96, &k8),
        ],
    ));
    let (k10, q10) = rhs(&stage(
        y,
        h,
        &[
            (0.477_662_536_438_264_34, &k1),
            (-2.488_114_619_971_667_7, &k4),
            (-0.590_290_826_836_843, &k5),
            (21.230_051_448_181_193, &k6),
            (15.279_233_632_882_423, &k7),
            (-33.288_210_968_984_86, &k8),
            (-0.020_331_201_708_508_627, &k9),
        ],
    ));
    let (k11, q11) = rhs(&stage(
        y,
        h,
        &[
            (-0.937_142_430_085_987_3, &k1),
            (5.186_372_428_844_064, &k4),
            (1.091_437_348_996_729_5, &k5),
            (-8.149_787_010_746_927, &k6),
            (-18.520_065_659_996_96, &k7),
            (22.739_487_099_350_505, &k8),
            (2.493_605_552_679_652_3, &k9),
            (-3.046_764_471_898_219_6, &k10),
        ],
    ));
    let (k12, q12) = rhs(&stage(
        y,
        h,
        &[
            (2.273_310_147_516_538, &k1),
            (-10.534_495_466_737_25, &k4),
            (-2.000_872_058_224_862_5, &k5),
            (-17.958_931_863_118_8, &k6),
            (27.948_884_529_419_96, &k7),
            (-2.858_998_277_135_023_5, &k8),
            (-8.872_856_933_530_63, &k9),
            (12.360_567_175_794_303, &k10),
            (0.643_392_746_015_763_6, &k11),
        ],
    ));
    let k = [&k1, &k6, &k7, &k8, &k9, &k10, &k11, &k12];
    let q = [&q1, &q6, &q7, &q8, &q9, &q10, &q11, &q12];
    Step {
        y: stage(y, h, &weighted(&WEIGHTS, &k)),
        gain: stage(&[0.0; Q], h, &weighted(&WEIGHTS, &q)),
        error_5: (
            stage(&[0.0; N], 1.0, &weighted(&ERROR_5, &k)),
            stage(&[0.0; Q], 1.0, &weighted(&ERROR_5, &q)),
        ),
        error_3: (
            stage(&[0.0; N], 1.0, &weighted(&ERROR_3, &k)),
            stage(&[0.0; Q], 1.0, &weighted(&ERROR_3, &q)),
        ),
        step: h,
    }
}

/// Weights of stages 1 and 6 to 12; the others are zero [hairer-1993].
const WEIGHTS: [f64; 8] = [
    0.054_293_734_116_568_765,
    4.450_312_892_752_409,
    1.891_517_899_314_500_3,
    -5.801_203_960_010_585,
    0.311_164_366_957_819_9,
    -0.152_160_949_662_516_1,
    0.201_365_400_804_030_34,
    0.044_710_615_727_772_59,
];
/// Weights of the difference to the embedded formula of order five.
const ERROR_5: [f64; 8] = [
    0.013_120_044_994_194_88,
    -1.225_156_446_376_204_4,
    -0.495_758_949_657_250_2,
    1.664_377_182_454_986_4,
    -0.350_328_848_749_973_66,
    0.334_179_118_713_017_5,
    0.081_923_206_485_115_71,
    -0.022_355_307_863_886_294,
];
/// Weights of the difference to the embedded formula of order three.
const ERROR_3: [f64; 8] = [
    -0.189_800_754_072_407_62,
    4.450_312_892_752_409,
    1.891_517_899_314_500_3,
    -5.801_203_960_010_585,
    -0.422_682_321_323_791_9,
    -0.152_160_949_662_516_1,
    0.201_365_400_804_030_34,
    0.022_651_792_198_360_82,
];

#[inline(always)]
fn weighted<'a, const N: usize>(weights: &[f64; 8], k: &[&'a [f64; N]; 8]) -> [(f64, &'a [f64; N]); 8] {
    std::array::from_fn(|i| (weights[i], k[i]))
}

/// `y + h Σ c k`.
#[inline(always)]
fn stage<const N: usize, const M: usize>(y: &[f64; N], h: f64, terms: &[(f64, &[f64; N]); M]) -> [f64; N] {
    let mut sum = [0.0; N];
    for (c, k) in terms {
        for (sum, k) in sum.iter_mut().zip(k.iter()) {
            *sum += c * k;
        }
    }
    let mut out = *y;
    for (out, sum) in out.iter_mut().zip(sum) {
        *out += h * sum;
    }
    out
}

impl<const N: usize, const Q: usize> Step<N, Q> {
    /// Error estimate in units of the tolerance: the step is good when it is at most 1.
    ///
    /// ```text
    /// err = h E5 / sqrt(n (E5 + E3/100)),   E = Σ (error/scale)²
    /// ```
    ///
    /// the combination of the source, which falls with the eighth power of the step. `scale`
    /// is the error allowed in each component. Not a number when the step is not finite.
    #[inline]
    pub fn error_ratio(&self, scale_y: &[f64; N], scale_q: &[f64; Q]) -> f64 {
        let square = |(y, q): &([f64; N], [f64; Q])| {
            y.iter().zip(scale_y).map(|(e, s)| (e / s) * (e / s)).sum::<f64>()
                + q.iter().zip(scale_q).map(|(e, s)| (e / s) * (e / s)).sum::<f64>()
        };
        let fifth = square(&self.error_5);
        if fifth == 0.0 {
            return 0.0;
        }
        let third = square(&self.error_3);
        self.step.abs() * fifth / ((fifth + 0.01 * third) * (N + Q) as f64).sqrt()
    }
}

/// Factor for the next step size after a step with this error ratio.
pub fn step_factor(error_ratio: f64) -> f64 {
    if error_ratio.is_nan() {
        return LEAST_FACTOR;
    }
    (SAFETY * error_ratio.powf(-1.0 / 8.0)).clamp(LEAST_FACTOR, MOST_FACTOR)
}

/// Method: aim a little under the tolerance so that most steps are accepted [hairer-1993].
const SAFETY: f64 = 0.9;
/// Method: the estimate holds for moderate changes of the step only [hairer-1993].
const LEAST_FACTOR: f64 = 1.0 / 3.0;
/// Method: as above.
const MOST_FACTOR: f64 = 6.0;

#[cfg(test)]
mod tests {
    use super::*;

    /// Pendulum with friction; the quadrature is the angle travelled.
    fn swing(y: &[f64; 2]) -> ([f64; 2], [f64; 1]) {
        ([y[1], -y[0].sin() - 0.3 * y[1]], [y[1]])
    }

    fn run(steps: usize) -> ([f64; 2], f64) {
        let (mut y, mut q, h) = ([0.5, 1.0], 0.0, 3.0 / steps as f64);
        for _ in 0..steps {
            let step = dop853(&y, &swing(&y), h, swing);
            q += step.gain[0];
            y = step.y;
        }
        (y, q)
    }

    #[test]
    fn halving_the_step_cuts_the_error_by_two_to_the_eighth() {
        let exact = run(60);
        let error = |n: usize| {
            (run(n).0[0] - exact.0[0])
                .abs()
                .max((run(n).0[1] - exact.0[1]).abs())
        };
        for n in [2, 4] {
            let order = (error(n) / error(2 * n)).log2();
            assert!((7.0..9.5).contains(&order), "order {order}");
        }
    }

    #[test]
    fn a_quadrature_gains_the_same_as_a_state() {
        let (y, q) = run(10);
        assert!((q - (y[0] - 0.5)).abs() < 1e-14);
    }

    #[test]
    fn the_error_estimate_falls_with_the_eighth_power_of_the_step() {
        let ratio =
            |h: f64| dop853(&[0.5, 1.0], &swing(&[0.5, 1.0]), h, swing).error_ratio(&[1.0; 2], &[1.0; 1]);
        let order = (ratio(0.4) / ratio(0.2)).log2();
        assert!((7.0..9.0).contains(&order), "order {order}");
    }

    #[test]
    fn the_error_estimate_is_not_below_the_true_error() {
        let step = dop853(&[0.5, 1.0], &swing(&[0.5, 1.0]), 1.0, swing);
        let (mut y, h) = ([0.5, 1.0], 0.05);
        for _ in 0..20 {
            y = dop853(&y, &swing(&y), h, swing).y;
        }
        let estimate = step.error_ratio(&[1.0; 2], &[1.0; 1]);
        assert!(
            estimate > (step.y[0] - y[0]).abs().max((step.y[1] - y[1]).abs()),
            "{estimate}"
        );
    }

    #[test]
    fn the_step_grows_after_a_small_error_and_shrinks_after_a_large_one() {
        assert_eq!(step_factor(0.0), MOST_FACTOR);
        assert_eq!(step_factor(f64::NAN), LEAST_FACTOR);
        assert_eq!(step_factor(f64::INFINITY), LEAST_FACTOR);
        assert!((step_factor(1.0) - SAFETY).abs() < 1e-15);
    }
}
