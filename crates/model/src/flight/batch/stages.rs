//! Arithmetic of lanes: the equations of motion and one step of the method.
//!
//! Each lane flies in its own frame, with y along the spin and gravity in the plane of y and
//! z. There the cross product with the spin is two products, and half the work of a stage
//! is gone. The acceleration depends on velocity and time only, so the stages carry
//! velocities and position is a quadrature at the end.

use super::lanes::Vector;
use super::smooth::{P, Q};

/// Lanes in a group: four 512-bit vectors, so that some work while the others wait. Narrower vectors take it in parts.
pub(super) const GROUP: usize = 32;
/// A cache line between the cells of a group and the next: without it they lie so that all of them share a
/// quarter of the lines of the fastest cache, and a load often looks like that of a number just stored.
const APART: usize = 8;

/// One number for each lane of a group, where a vector load never straddles two cache lines.
#[derive(Clone, Copy, Debug)]
#[repr(align(64))]
pub(super) struct Cells(
    pub(super) [f64; GROUP],
    #[expect(dead_code, reason = "keeps cells apart")] [f64; APART],
);

impl Cells {
    pub(super) const ZERO: Cells = Cells::all(0.0);

    /// The same number for each lane.
    pub(super) const fn all(x: f64) -> Cells {
        Cells([x; GROUP], [0.0; APART])
    }
}

impl std::ops::Index<usize> for Cells {
    type Output = f64;

    #[inline(always)]
    fn index(&self, lane: usize) -> &f64 {
        &self.0[lane]
    }
}

impl std::ops::IndexMut<usize> for Cells {
    #[inline(always)]
    fn index_mut(&mut self, lane: usize) -> &mut f64 {
        &mut self.0[lane]
    }
}

#[inline(always)]
pub(super) fn dot<V: Vector>(a: [V; 3], b: [V; 3]) -> V {
    a[0].ma(b[0], a[1].ma(b[1], a[2] * b[2]))
}

/// The parabola of distance `g` from a plane, rate and bend: the square of the rate with which it rises through the
/// plane, 0 where it does not, and the time to that, infinite where it does not.
#[inline(always)]
pub(super) fn parabola<V: Vector>(g: V, rate: V, bend: V) -> (V, V) {
    let (zero, twice) = (V::splat(0.0), V::splat(-2.0) * g);
    let square = rate.ma(rate, twice * bend).max(zero);
    let root = square * square.rough_inverse_root();
    let rising = zero.lt(rate);
    let ahead = V::pick(rising, twice, root - rate).over(V::pick(rising, rate + root, bend));
    (square, V::pick(zero.lt(square), ahead, V::splat(f64::INFINITY)))
}

/// What a lane's acceleration depends on besides its velocity.
#[derive(Clone, Copy, Debug)]
pub(super) struct Constants<V> {
    /// ρ A/(2 m_eff) times the constant drag coefficient, or times the multiplier of the curve.
    pub(super) drag: V,
    /// ρ A/(2 m_eff) times the multiplier of the lift, times r |w0|/a.
    pub(super) lift: V,
    /// b r |w0|/a.
    pub(super) level: V,
    /// x of the drag curve for each m/s.
    pub(super) reynolds: V,
    /// Gravity along y and z of the lane's frame.
    pub(super) gravity: [V; 2],
}

impl<V: Vector> Constants<V> {
    /// For accelerations times `h`: what a stage of that length adds to the velocity.
    #[inline(always)]
    fn times(&self, h: V) -> Constants<V> {
        Constants {
            drag: h * self.drag,
            lift: h * self.lift,
            gravity: [h * self.gravity[0], h * self.gravity[1]],
            ..*self
        }
    }

    /// Lift and level with the fraction `e` of the spin left.
    #[inline(always)]
    pub(super) fn spun(&self, e: V) -> [V; 2] {
        [self.lift * e, self.level * e]
    }
}

/// Acceleration at velocity `v` through the air, with lift and level at the fraction e of the spin left:
/// see [`Constants::spun`].
///
/// ```text
/// a = g − k Cd q v + k CL-term (ŷ × v),   q = |v|,   W = r |w0|,   CL = S/(a + b S)
/// CL-term = q e W/(a q + b W e)              S = W e/q: the whole spin counts
///         = q² e W/(a q² + b W e s)          S = W e s/q², s = |ŷ × v|: the spin across the motion (ACROSS)
/// ```
///
/// The equations of [`super::super::fly`] without the divisions that could be spared.
#[inline(always)]
pub(super) fn acceleration<V: Vector, const CURVE: bool, const ACROSS: bool>(
    v: [V; 3],
    spun: [V; 2],
    c: &Constants<V>,
) -> [V; 3] {
    acceleration_and_pace::<V, CURVE, ACROSS>(v, spun, c).0
}

/// What the rule of steps needs of the speed.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pace<V> {
    /// q².
    pub(super) square: V,
    /// s².
    pub(super) across_square: V,
    /// q, or q² where s counts.
    pub(super) own: V,
    /// That and b W e/a, times s where s counts.
    pub(super) whole: V,
}

/// As [`acceleration`].
#[inline(always)]
pub(super) fn acceleration_and_pace<V: Vector, const CURVE: bool, const ACROSS: bool>(
    v: [V; 3],
    [lift, level]: [V; 2],
    c: &Constants<V>,
) -> ([V; 3], Pace<V>) {
    let across2 = v[0].ma(v[0], v[2] * v[2]);
    let q2 = v[1].ma(v[1], across2);
    let q = q2.root();
    let (top, own, bottom) = if ACROSS {
        (lift * q2, q2, level.ma(across2.root(), q2))
    } else {
        (lift * q, q, level + q)
    };
    let (drag, lift) = if CURVE {
        let x = c.reynolds * q;
        let p = horner(&P, x);
        let r = horner(&Q, x);
        let inverse = V::splat(1.0).over(r * bottom);
        (c.drag * q * p * bottom * inverse, top * r * inverse)
    } else {
        (c.drag * q, top.over(bottom))
    };
    let acceleration = [
        lift.ma(v[2], -(drag * v[0])),
        drag.nma(v[1], c.gravity[0]),
        lift.nma(v[0], drag.nma(v[2], c.gravity[1])),
    ];
    let pace = Pace {
        square: q2,
        across_square: across2,
        own,
        whole: bottom,
    };
    (acceleration, pace)
}

#[inline(always)]
fn horner<V: Vector>(c: &[f64; 9], x: V) -> V {
    let mut sum = V::splat(c[8]);
    for i in (0..8).rev() {
        sum = sum.ma(x, V::splat(c[i]));
    }
    sum
}

/// √21, on which the coefficients of the method are built.
const S: f64 = 4.582_575_694_955_84;

/// Fractions of the spin left at the nodes of the method.
#[derive(Clone, Copy, Debug)]
pub(super) struct Spin<V> {
    first: V,
    half: V,
    third: V,
    /// At the end of the step.
    pub(super) whole: V,
}

impl<V: Vector> Spin<V> {
    /// e exp(−x c) at the nodes c = ½ ∓ √21/14, ½ and 1, for x = h/τ between −1 and 1.
    ///
    /// Series about the middle: `exp(∓y) = cosh y ∓ sinh y` with y = √21/14 x of at most 0.33,
    /// and exp(−x/2) with x/2 of at most ½; cut where the next term is below 2e-11.
    #[inline(always)]
    pub(super) fn over(e: V, h: V, decay_rate: f64) -> Spin<V> {
        let x = h * V::splat(decay_rate);
        let u = V::splat(-0.5) * x;
        let half = series(
            u,
            3_628_800.0,
            [
                362_880.0, 40_320.0, 5_040.0, 720.0, 120.0, 24.0, 6.0, 2.0, 1.0, 1.0,
            ],
        );
        let y = V::splat(S / 14.0) * x;
        let y2 = y * y;
        let cosh = series(y2, 40_320.0, [720.0, 24.0, 2.0, 1.0]);
        let sinh = series(y2, 362_880.0, [5_040.0, 120.0, 6.0, 1.0]);
        let middle = e * half;
        Spin {
            first: middle * sinh.ma(y, cosh),
            half: middle,
            third: middle * sinh.nma(y, cosh),
            whole: middle * half,
        }
    }
}

/// `1/others[n] + x (1/others[n−1] + … x/last)`.
#[inline(always)]
fn series<V: Vector, const N: usize>(x: V, last: f64, others: [f64; N]) -> V {
    let mut sum = V::splat(1.0 / last);
    for c in others {
        sum = sum.ma(x, V::splat(1.0 / c));
    }
    sum
}

/// Takes one step: the method of Cooper and Verner of order eight in eleven stages
/// [cooper-verner-1972], whose weights are those of Lobatto's quadrature.
///
/// `k1` is the acceleration at the start. Returns the gains of position and velocity. A lane
/// with h = 0 gains nothing.
#[inline(always)]
pub(super) fn cooper_verner<V: Vector, const CURVE: bool, const ACROSS: bool>(
    v: &[V; 3],
    k1: &[V; 3],
    h: V,
    spin: &Spin<V>,
    c: &Constants<V>,
) -> ([V; 3], [V; 3]) {
    const END: f64 = 1.0 / 20.0;
    const SIDE: f64 = 49.0 / 180.0;
    const MIDDLE: f64 = 16.0 / 45.0;
    let end = V::splat(END);
    // Every k from here on is an acceleration times h.
    let c = &c.times(h);
    let (first, half) = (c.spun(spin.first), c.spun(spin.half));
    let (third, whole) = (c.spun(spin.third), c.spun(spin.whole));
    let k1 = &[h * k1[0], h * k1[1], h * k1[2]];
    let mut path = [end * v[0], end * v[1], end * v[2]];
    macro_rules! stage {
        ($k:ident, $node:ident, $weight:expr, [($a1:expr, $from1:ident) $(, ($a:expr, $from:ident))*]) => {
            let mut at = *v;
            for i in 0..3 {
                at[i] = V::splat($a1).ma($from1[i], at[i]);
                $( at[i] = V::splat($a).ma($from[i], at[i]); )*
            }
            let $k = acceleration::<V, CURVE, ACROSS>(at, $node, c);
            if $weight != 0.0 {
                for i in 0..3 {
                    path[i] = V::splat($weight).ma(at[i], path[i]);
                }
            }
        };
    }
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
    let mut speed = path;
    for i in 0..3 {
        let sum = end * (k1[i] + k11[i]);
        let sum = V::splat(SIDE).ma(k8[i] + k10[i], sum);
        speed[i] = V::splat(MIDDLE).ma(k9[i], sum);
        path[i] = h * path[i];
    }
    (path, speed)
}

/// The motion over the last step as a polynomial of degree five, through position, velocity and
/// acceleration at both ends.
///
/// ```text
/// p(w) = r1 − h v1 w + ½ h² a1 w² + c3 w³ + c4 w⁴ + c5 w⁵,   w = 0 at the end, 1 at the start
/// ```
///
/// Its error within and beyond the step grows as w³ (1 − w)³ h⁶.
#[derive(Clone, Copy, Debug)]
pub(super) struct Quintic<V>([V; 6]);

impl<V: Vector> Quintic<V> {
    /// From position, velocity and acceleration at the start and at the end of a step of length h.
    #[inline(always)]
    pub(super) fn through(start: [V; 3], end: [V; 3], h: V) -> Quintic<V> {
        let square = h * h;
        let (v0, v1) = (h * start[1], h * end[1]);
        let (a0, a1) = (square * start[2], square * end[2]);
        let half = V::splat(0.5);
        let rise = half.nma(a1, start[0] - end[0] + v1);
        let turn = v1 - v0 - a1;
        let bend = half * (a0 - a1);
        let c3 = V::splat(10.0).ma(rise, V::splat(-4.0).ma(turn, bend));
        let c4 = V::splat(-15.0).ma(rise, V::splat(7.0).ma(turn, V::splat(-2.0) * bend));
        let c5 = V::splat(6.0).ma(rise, V::splat(-3.0).ma(turn, bend));
        Quintic([end[0], -v1, half * a1, c3, c4, c5])
    }

    /// The motion along a direction, from that along three axes.
    #[inline(always)]
    pub(super) fn along(direction: [V; 3], axes: &[Quintic<V>; 3]) -> Quintic<V> {
        let mut sum = axes[0];
        for (i, c) in sum.0.iter_mut().enumerate() {
            *c = dot(direction, [axes[0].0[i], axes[1].0[i], axes[2].0[i]]);
        }
        sum
    }

    /// Plus a + b w.
    #[inline(always)]
    pub(super) fn shifted(self, a: V, b: V) -> Quintic<V> {
        let [c0, c1, c2, c3, c4, c5] = self.0;
        Quintic([c0 + a, c1 + b, c2, c3, c4, c5])
    }

    /// p(w) and dp/dw.
    #[inline(always)]
    pub(super) fn at(&self, w: V) -> (V, V) {
        let c = &self.0;
        let (mut value, mut slope) = (c[5].ma(w, c[4]), c[5]);
        for i in (0..4).rev() {
            slope = slope.ma(w, value);
            value = value.ma(w, c[i]);
        }
        (value, slope)
    }

    /// One round of Newton's method towards p = 0.
    #[inline(always)]
    pub(super) fn nearer(&self, w: V) -> V {
        let (value, slope) = self.at(w);
        w - value.over(slope)
    }
}
