//! Arithmetic of a group of lanes: the equations of motion and the steps of the two methods.
//!
//! Each lane flies in its own frame, with y along the spin and gravity in the plane of y and
//! z. There the cross product with the spin is two products, and half the work of a stage
//! is gone. The acceleration depends on velocity and time only, so the stages carry
//! velocities and position is a quadrature at the end.
//!
//! Every loop over lanes is free of branches and has a fixed length, which the compiler turns
//! into vector code of whatever width it may use.

use super::smooth::{P, Q};

/// Lanes in a group: one 512-bit vector.
pub(super) const GROUP: usize = 16;

/// One number for each lane of a group, where a vector load never straddles two cache lines.
#[derive(Clone, Copy, Debug)]
#[repr(align(64))]
pub(super) struct Lanes(pub(super) [f64; GROUP]);

impl Lanes {
    pub(super) const ZERO: Lanes = Lanes([0.0; GROUP]);
}

impl std::ops::Index<usize> for Lanes {
    type Output = f64;

    #[inline(always)]
    fn index(&self, lane: usize) -> &f64 {
        &self.0[lane]
    }
}

impl std::ops::IndexMut<usize> for Lanes {
    #[inline(always)]
    fn index_mut(&mut self, lane: usize) -> &mut f64 {
        &mut self.0[lane]
    }
}

/// A vector for each lane of a group.
pub(super) type Vectors = [Lanes; 3];

/// What a lane's acceleration depends on besides its velocity.
#[derive(Clone, Copy, Debug)]
pub(super) struct Constants {
    /// ρ A/(2 m_eff) times the constant drag coefficient, or times the multiplier of the curve.
    pub(super) drag: Lanes,
    /// ρ A/(2 m_eff) times the multiplier of the lift, times r |w0|/a.
    pub(super) lift: Lanes,
    /// b r |w0|/a.
    pub(super) level: Lanes,
    /// x of the drag curve for each m/s.
    pub(super) reynolds: Lanes,
    /// Gravity along y and z of the lane's frame.
    pub(super) gravity: [Lanes; 2],
}

/// `a b + c`, rounded twice, as every machine can: see [`super::dispatch`].
#[inline(always)]
fn ma(a: f64, b: f64, c: f64) -> f64 {
    a * b + c
}

/// Acceleration of lane `l` at velocity `v` through the air with the fraction `e` of its spin left.
///
/// ```text
/// a = g − k Cd q v + k CL-term (ŷ × v),   q = |v|,   W = r |w0|,   CL = S/(a + b S)
/// CL-term = q e W/(a q + b W e)              S = W e/q: the whole spin counts
///         = q² e W/(a q² + b W e s)          S = W e s/q², s = |ŷ × v|: the spin across the motion (ACROSS)
/// ```
///
/// The equations of [`super::super::fly`] without the divisions that could be spared.
#[inline(always)]
pub(super) fn acceleration<const CURVE: bool, const ACROSS: bool>(
    v: [f64; 3],
    e: f64,
    c: &Constants,
    l: usize,
) -> [f64; 3] {
    let across2 = ma(v[0], v[0], v[2] * v[2]);
    let q2 = ma(v[1], v[1], across2);
    let q = q2.sqrt();
    let (top, bottom) = if ACROSS {
        (c.lift[l] * e * q2, ma(c.level[l] * e, across2.sqrt(), q2))
    } else {
        (c.lift[l] * e * q, ma(c.level[l], e, q))
    };
    let (drag, lift) = if CURVE {
        let x = c.reynolds[l] * q;
        let p = horner(&P, x);
        let r = horner(&Q, x);
        let inverse = 1.0 / (r * bottom);
        (c.drag[l] * q * p * bottom * inverse, top * r * inverse)
    } else {
        (c.drag[l] * q, top / bottom)
    };
    [
        ma(lift, v[2], -(drag * v[0])),
        ma(-drag, v[1], c.gravity[0][l]),
        ma(-lift, v[0], ma(-drag, v[2], c.gravity[1][l])),
    ]
}

#[inline(always)]
fn horner(c: &[f64; 9], x: f64) -> f64 {
    let mut sum = c[8];
    for i in (0..8).rev() {
        sum = ma(sum, x, c[i]);
    }
    sum
}

/// √21, on which the coefficients of the method are built.
const S: f64 = 4.582_575_694_955_84;

/// Fractions of the spin left at the nodes of the method.
pub(super) struct Spin {
    first: Lanes,
    half: Lanes,
    third: Lanes,
    /// At the end of the step.
    pub(super) whole: Lanes,
}

impl Spin {
    /// e exp(−x c) at the nodes c = ½ ∓ √21/14, ½ and 1, for x = h/τ between −1 and 1.
    ///
    /// Series about the middle: `exp(∓y) = cosh y ∓ sinh y` with y = √21/14 x of at most 0.33,
    /// and exp(−x/2) with x/2 of at most ½; cut where the next term is below 2e-11.
    #[inline(always)]
    pub(super) fn over(e: &Lanes, h: &Lanes, decay_rate: f64) -> Spin {
        let mut spin = Spin {
            first: *e,
            half: *e,
            third: *e,
            whole: *e,
        };
        for l in 0..GROUP {
            let x = h[l] * decay_rate;
            let u = -0.5 * x;
            let mut half = 1.0 / 3_628_800.0;
            for c in [
                362_880.0, 40_320.0, 5_040.0, 720.0, 120.0, 24.0, 6.0, 2.0, 1.0, 1.0,
            ] {
                half = ma(half, u, 1.0 / c);
            }
            let y = (S / 14.0) * x;
            let y2 = y * y;
            let mut cosh = 1.0 / 40_320.0;
            for c in [720.0, 24.0, 2.0, 1.0] {
                cosh = ma(cosh, y2, 1.0 / c);
            }
            let mut sinh = 1.0 / 362_880.0;
            for c in [5_040.0, 120.0, 6.0, 1.0] {
                sinh = ma(sinh, y2, 1.0 / c);
            }
            spin.half[l] = e[l] * half;
            spin.whole[l] = spin.half[l] * half;
            spin.first[l] = spin.half[l] * ma(sinh, y, cosh);
            spin.third[l] = spin.half[l] * ma(sinh, -y, cosh);
        }
        spin
    }
}

/// Takes one step of a group: the method of Cooper and Verner of order eight in eleven stages
/// [cooper-verner-1972], whose weights are those of Lobatto's quadrature.
///
/// `k1` is the acceleration at the start. Returns the gains of position and velocity. A lane
/// with h = 0 gains nothing.
#[inline(always)]
pub(super) fn cooper_verner<const CURVE: bool, const ACROSS: bool>(
    v: &Vectors,
    k1: &Vectors,
    h: &Lanes,
    spin: &Spin,
    c: &Constants,
) -> (Vectors, Vectors) {
    const ZERO: Vectors = [Lanes::ZERO; 3];
    let mut path = ZERO;
    macro_rules! stage {
        ($k:ident, $node:ident, $weight:expr, [$(($a:expr, $from:ident)),+]) => {
            let mut $k = ZERO;
            stage!(half 0, 8, $k, $node, $weight, [$(($a, $from)),+]);
            stage!(half 8, 16, $k, $node, $weight, [$(($a, $from)),+]);
        };
        (half $lo:expr, $hi:expr, $k:ident, $node:ident, $weight:expr, [$(($a:expr, $from:ident)),+]) => {
            for l in $lo..$hi {
                let mut at = [0.0; 3];
                for i in 0..3 {
                    let mut sum = 0.0;
                    $( sum = ma($a, $from[i][l], sum); )+
                    at[i] = ma(h[l], sum, v[i][l]);
                }
                let a = acceleration::<CURVE, ACROSS>(at, spin.$node[l], c, l);
                for i in 0..3 {
                    $k[i][l] = a[i];
                    if $weight != 0.0 {
                        path[i][l] = ma($weight, at[i], path[i][l]);
                    }
                }
            }
        };
    }
    const END: f64 = 1.0 / 20.0;
    const SIDE: f64 = 49.0 / 180.0;
    const MIDDLE: f64 = 16.0 / 45.0;
    stage!(k2, half, 0.0, [(1.0 / 2.0, k1)]);
    stage!(k3, half, 0.0, [(1.0 / 4.0, k1), (1.0 / 4.0, k2)]);
    stage!(
        k4,
        third,
        0.0,
        [
            (1.0 / 7.0, k1),
            ((-7.0 - 3.0 * S) / 98.0, k2),
            ((21.0 + 5.0 * S) / 49.0, k3)
        ]
    );
    stage!(
        k5,
        third,
        0.0,
        [
            ((11.0 + S) / 84.0, k1),
            ((18.0 + 4.0 * S) / 63.0, k3),
            ((21.0 - S) / 252.0, k4)
        ]
    );
    stage!(
        k6,
        half,
        0.0,
        [
            ((5.0 + S) / 48.0, k1),
            ((9.0 + S) / 36.0, k3),
            ((-231.0 + 14.0 * S) / 360.0, k4),
            ((63.0 - 7.0 * S) / 80.0, k5)
        ]
    );
    stage!(
        k7,
        first,
        0.0,
        [
            ((10.0 - S) / 42.0, k1),
            ((-432.0 + 92.0 * S) / 315.0, k3),
            ((633.0 - 145.0 * S) / 90.0, k4),
            ((-504.0 + 115.0 * S) / 70.0, k5),
            ((63.0 - 13.0 * S) / 35.0, k6)
        ]
    );
    stage!(
        k8,
        first,
        SIDE,
        [
            (1.0 / 14.0, k1),
            ((14.0 - 3.0 * S) / 126.0, k5),
            ((13.0 - 3.0 * S) / 63.0, k6),
            (1.0 / 9.0, k7)
        ]
    );
    stage!(
        k9,
        half,
        MIDDLE,
        [
            (1.0 / 32.0, k1),
            ((91.0 - 21.0 * S) / 576.0, k5),
            (11.0 / 72.0, k6),
            ((-385.0 - 75.0 * S) / 1152.0, k7),
            ((63.0 + 13.0 * S) / 128.0, k8)
        ]
    );
    stage!(
        k10,
        third,
        SIDE,
        [
            (1.0 / 14.0, k1),
            (1.0 / 9.0, k5),
            ((-733.0 - 147.0 * S) / 2205.0, k6),
            ((515.0 + 111.0 * S) / 504.0, k7),
            ((-51.0 - 11.0 * S) / 56.0, k8),
            ((132.0 + 28.0 * S) / 245.0, k9)
        ]
    );
    stage!(
        k11,
        whole,
        END,
        [
            ((-42.0 + 7.0 * S) / 18.0, k5),
            ((-18.0 + 28.0 * S) / 45.0, k6),
            ((-273.0 - 53.0 * S) / 72.0, k7),
            ((301.0 + 53.0 * S) / 72.0, k8),
            ((28.0 - 28.0 * S) / 45.0, k9),
            ((49.0 - 7.0 * S) / 18.0, k10)
        ]
    );
    let mut speed = ZERO;
    for i in 0..3 {
        for l in 0..GROUP {
            let mut sum = END * (k1[i][l] + k11[i][l]);
            sum = ma(SIDE, k8[i][l] + k10[i][l], sum);
            sum = ma(MIDDLE, k9[i][l], sum);
            speed[i][l] = h[l] * sum;
            path[i][l] = h[l] * ma(END, v[i][l], path[i][l]);
        }
    }
    (path, speed)
}

/// Takes one short step of a group by the classical method of order four, to the landing.
/// Returns the gains of position and velocity.
#[inline(always)]
pub(super) fn landing_step<const CURVE: bool, const ACROSS: bool>(
    v: &Vectors,
    e: &Lanes,
    k1: &Vectors,
    h: &Lanes,
    c: &Constants,
    decay_rate: f64,
) -> (Vectors, Vectors) {
    let (mut path, mut speed) = ([Lanes::ZERO; 3], [Lanes::ZERO; 3]);
    for l in 0..GROUP {
        let h = h[l];
        let start: [f64; 3] = std::array::from_fn(|i| v[i][l]);
        let k1: [f64; 3] = std::array::from_fn(|i| k1[i][l]);
        // exp(−x) to second order: x is below 0.1 in so short a step.
        let x = h * decay_rate;
        let e_half = e[l] * (1.0 - 0.5 * x + 0.125 * x * x);
        let e_end = e[l] * (1.0 - x + 0.5 * x * x);
        let v2: [f64; 3] = std::array::from_fn(|i| ma(0.5 * h, k1[i], start[i]));
        let k2 = acceleration::<CURVE, ACROSS>(v2, e_half, c, l);
        let v3: [f64; 3] = std::array::from_fn(|i| ma(0.5 * h, k2[i], start[i]));
        let k3 = acceleration::<CURVE, ACROSS>(v3, e_half, c, l);
        let v4: [f64; 3] = std::array::from_fn(|i| ma(h, k3[i], start[i]));
        let k4 = acceleration::<CURVE, ACROSS>(v4, e_end, c, l);
        for i in 0..3 {
            path[i][l] = h * (1.0 / 6.0) * (start[i] + 2.0 * (v2[i] + v3[i]) + v4[i]);
            speed[i][l] = h * (1.0 / 6.0) * (k1[i] + 2.0 * (k2[i] + k3[i]) + k4[i]);
        }
    }
    (path, speed)
}
