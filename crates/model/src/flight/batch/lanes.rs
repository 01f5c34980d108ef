//! What the kernel asks of a vector of lanes, and the plain form that every machine has.

use super::stages::Cells;
use std::ops::{Add, Mul, Neg, Sub};

/// A few lanes, one number each. A lane's number depends on that lane alone.
///
/// Under the exact policy every operation is rounded as IEEE 754 says, so that all forms give the
/// same bits. Under the fast one `ma` may round once and `root` and `over` may be off by 1e-8 of
/// the value, which a position sees as less than 1e-7 m.
pub(super) trait Vector:
    Copy + Add<Output = Self> + Sub<Output = Self> + Mul<Output = Self> + Neg<Output = Self>
{
    /// Yes or no for each lane.
    type Mask: Copy;
    /// Number of lanes.
    const LANES: usize;

    fn splat(x: f64) -> Self;
    /// From the cells of a group, beginning at `first`.
    fn load(cells: &Cells, first: usize) -> Self;
    fn store(self, cells: &mut Cells, first: usize);
    /// `self b + c`.
    fn ma(self, b: Self, c: Self) -> Self;
    /// `c − self b`.
    fn nma(self, b: Self, c: Self) -> Self;
    /// The lesser; the second where one is not a number.
    fn min(self, other: Self) -> Self;
    /// The greater; the second where one is not a number.
    fn max(self, other: Self) -> Self;
    fn abs(self) -> Self;
    fn root(self) -> Self;
    /// `self / b`.
    fn over(self, b: Self) -> Self;
    /// 1/√ to 2e-3, for steps and aims.
    fn rough_inverse_root(self) -> Self;
    fn lt(self, other: Self) -> Self::Mask;
    fn le(self, other: Self) -> Self::Mask;
    fn both(a: Self::Mask, b: Self::Mask) -> Self::Mask;
    fn either(a: Self::Mask, b: Self::Mask) -> Self::Mask;
    fn not(a: Self::Mask) -> Self::Mask;
    fn pick(mask: Self::Mask, yes: Self, no: Self) -> Self;
    fn any(mask: Self::Mask) -> bool;
}

/// Where the quick inverse root starts [robertson-2012].
pub(super) const MAGIC: i64 = 0x5fe6_eb50_c7b5_37a9;

/// Cells `first` to `first + N` of a group.
#[inline(always)]
pub(super) fn some_of<const N: usize>(cells: &Cells, first: usize) -> &[f64; N] {
    // Every caller counts in steps of N within a group, and the length is known when compiled.
    let (chunks, _) = cells.0.as_chunks::<N>();
    &chunks[first / N]
}

/// As [`some_of`], to write.
#[inline(always)]
pub(super) fn some_of_mut<const N: usize>(cells: &mut Cells, first: usize) -> &mut [f64; N] {
    let (chunks, _) = cells.0.as_chunks_mut::<N>();
    &mut chunks[first / N]
}

/// Newton's round for a rough 1/√x.
#[inline(always)]
pub(super) fn rough_round<V: Vector>(x: V, y: V) -> V {
    y * (V::splat(1.5) - V::splat(0.5) * x * y * y)
}

/// √x from an estimate y of 1/√x by one round of Newton's method: the error is 3/2 times the square of y's.
#[inline(always)]
pub(super) fn polished_root<V: Vector>(x: V, y: V) -> V {
    let q = x * y;
    (V::splat(0.5) * q).ma(q.nma(y, V::splat(1.0)), q)
}

/// a/b from an estimate y of 1/b by one round of Newton's method: the error is the square of y's.
#[inline(always)]
pub(super) fn polished_quotient<V: Vector>(a: V, b: V, y: V) -> V {
    let q = a * y;
    q.ma(b.nma(y, V::splat(1.0)), q)
}

/// Two vectors side by side: one works while the other waits for its last result.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pair<V>([V; 2]);

impl<V: Vector> Add for Pair<V> {
    type Output = Self;
    #[inline(always)]
    fn add(self, b: Self) -> Self {
        Pair([self.0[0] + b.0[0], self.0[1] + b.0[1]])
    }
}

impl<V: Vector> Sub for Pair<V> {
    type Output = Self;
    #[inline(always)]
    fn sub(self, b: Self) -> Self {
        Pair([self.0[0] - b.0[0], self.0[1] - b.0[1]])
    }
}

impl<V: Vector> Mul for Pair<V> {
    type Output = Self;
    #[inline(always)]
    fn mul(self, b: Self) -> Self {
        Pair([self.0[0] * b.0[0], self.0[1] * b.0[1]])
    }
}

impl<V: Vector> Neg for Pair<V> {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        Pair([-self.0[0], -self.0[1]])
    }
}

impl<V: Vector> Vector for Pair<V> {
    type Mask = [V::Mask; 2];
    const LANES: usize = 2 * V::LANES;

    #[inline(always)]
    fn splat(x: f64) -> Self {
        Pair([V::splat(x); 2])
    }

    #[inline(always)]
    fn load(cells: &Cells, first: usize) -> Self {
        Pair([V::load(cells, first), V::load(cells, first + V::LANES)])
    }

    #[inline(always)]
    fn store(self, cells: &mut Cells, first: usize) {
        let [a, b] = self.0;
        a.store(cells, first);
        b.store(cells, first + V::LANES);
    }

    #[inline(always)]
    fn ma(self, b: Self, c: Self) -> Self {
        Pair([self.0[0].ma(b.0[0], c.0[0]), self.0[1].ma(b.0[1], c.0[1])])
    }

    #[inline(always)]
    fn nma(self, b: Self, c: Self) -> Self {
        Pair([self.0[0].nma(b.0[0], c.0[0]), self.0[1].nma(b.0[1], c.0[1])])
    }

    #[inline(always)]
    fn min(self, other: Self) -> Self {
        Pair([self.0[0].min(other.0[0]), self.0[1].min(other.0[1])])
    }

    #[inline(always)]
    fn max(self, other: Self) -> Self {
        Pair([self.0[0].max(other.0[0]), self.0[1].max(other.0[1])])
    }

    #[inline(always)]
    fn abs(self) -> Self {
        Pair([self.0[0].abs(), self.0[1].abs()])
    }

    #[inline(always)]
    fn root(self) -> Self {
        Pair([self.0[0].root(), self.0[1].root()])
    }

    #[inline(always)]
    fn over(self, b: Self) -> Self {
        Pair([self.0[0].over(b.0[0]), self.0[1].over(b.0[1])])
    }

    #[inline(always)]
    fn rough_inverse_root(self) -> Self {
        Pair([self.0[0].rough_inverse_root(), self.0[1].rough_inverse_root()])
    }

    #[inline(always)]
    fn lt(self, other: Self) -> Self::Mask {
        let ([a, b], [c, d]) = (self.0, other.0);
        [a.lt(c), b.lt(d)]
    }

    #[inline(always)]
    fn le(self, other: Self) -> Self::Mask {
        let ([a, b], [c, d]) = (self.0, other.0);
        [a.le(c), b.le(d)]
    }

    #[inline(always)]
    fn both(a: Self::Mask, b: Self::Mask) -> Self::Mask {
        [V::both(a[0], b[0]), V::both(a[1], b[1])]
    }

    #[inline(always)]
    fn either(a: Self::Mask, b: Self::Mask) -> Self::Mask {
        [V::either(a[0], b[0]), V::either(a[1], b[1])]
    }

    #[inline(always)]
    fn not(a: Self::Mask) -> Self::Mask {
        [V::not(a[0]), V::not(a[1])]
    }

    #[inline(always)]
    fn pick(mask: Self::Mask, yes: Self, no: Self) -> Self {
        let ([a, b], [c, d]) = (yes.0, no.0);
        Pair([V::pick(mask[0], a, c), V::pick(mask[1], b, d)])
    }

    #[inline(always)]
    fn any(mask: Self::Mask) -> bool {
        V::any(mask[0]) | V::any(mask[1])
    }
}

/// Lanes as plain numbers, for whatever the build was made for.
#[derive(Clone, Copy, Debug)]
pub(super) struct Plain([f64; Plain::WIDE]);

impl Plain {
    const WIDE: usize = 8;

    #[inline(always)]
    fn each(self, f: impl Fn(f64) -> f64) -> Plain {
        Plain(std::array::from_fn(|l| f(self.0[l])))
    }

    #[inline(always)]
    fn with(self, b: Plain, f: impl Fn(f64, f64) -> f64) -> Plain {
        Plain(std::array::from_fn(|l| f(self.0[l], b.0[l])))
    }

    #[inline(always)]
    fn ask(self, b: Plain, f: impl Fn(&f64, &f64) -> bool) -> [bool; Plain::WIDE] {
        std::array::from_fn(|l| f(&self.0[l], &b.0[l]))
    }
}

impl Add for Plain {
    type Output = Plain;
    #[inline(always)]
    fn add(self, b: Plain) -> Plain {
        self.with(b, |a, b| a + b)
    }
}

impl Sub for Plain {
    type Output = Plain;
    #[inline(always)]
    fn sub(self, b: Plain) -> Plain {
        self.with(b, |a, b| a - b)
    }
}

impl Mul for Plain {
    type Output = Plain;
    #[inline(always)]
    fn mul(self, b: Plain) -> Plain {
        self.with(b, |a, b| a * b)
    }
}

impl Neg for Plain {
    type Output = Plain;
    #[inline(always)]
    fn neg(self) -> Plain {
        self.each(|a| -a)
    }
}

impl Vector for Plain {
    type Mask = [bool; Plain::WIDE];
    const LANES: usize = Plain::WIDE;

    #[inline(always)]
    fn splat(x: f64) -> Plain {
        Plain([x; Plain::WIDE])
    }

    #[inline(always)]
    fn load(cells: &Cells, first: usize) -> Plain {
        Plain(std::array::from_fn(|l| cells.0[first + l]))
    }

    #[inline(always)]
    fn store(self, cells: &mut Cells, first: usize) {
        for l in 0..Plain::WIDE {
            cells.0[first + l] = self.0[l];
        }
    }

    #[inline(always)]
    fn ma(self, b: Plain, c: Plain) -> Plain {
        self * b + c
    }

    #[inline(always)]
    fn nma(self, b: Plain, c: Plain) -> Plain {
        c - self * b
    }

    #[inline(always)]
    fn min(self, other: Plain) -> Plain {
        self.with(other, |a, b| if a < b { a } else { b })
    }

    #[inline(always)]
    fn max(self, other: Plain) -> Plain {
        self.with(other, |a, b| if a > b { a } else { b })
    }

    #[inline(always)]
    fn abs(self) -> Plain {
        self.each(f64::abs)
    }

    #[inline(always)]
    fn root(self) -> Plain {
        self.each(f64::sqrt)
    }

    #[inline(always)]
    fn over(self, b: Plain) -> Plain {
        self.with(b, |a, b| a / b)
    }

    #[inline(always)]
    fn rough_inverse_root(self) -> Plain {
        let y = self.each(|x| f64::from_bits((MAGIC as u64).wrapping_sub(x.to_bits() >> 1)));
        rough_round(self, y)
    }

    #[inline(always)]
    fn lt(self, other: Plain) -> Self::Mask {
        self.ask(other, |a, b| a < b)
    }

    #[inline(always)]
    fn le(self, other: Plain) -> Self::Mask {
        self.ask(other, |a, b| a <= b)
    }

    #[inline(always)]
    fn both(a: Self::Mask, b: Self::Mask) -> Self::Mask {
        std::array::from_fn(|l| a[l] & b[l])
    }

    #[inline(always)]
    fn either(a: Self::Mask, b: Self::Mask) -> Self::Mask {
        std::array::from_fn(|l| a[l] | b[l])
    }

    #[inline(always)]
    fn not(a: Self::Mask) -> Self::Mask {
        a.map(|a| !a)
    }

    #[inline(always)]
    fn pick(mask: Self::Mask, yes: Plain, no: Plain) -> Plain {
        Plain(std::array::from_fn(|l| if mask[l] { yes.0[l] } else { no.0[l] }))
    }

    #[inline(always)]
    fn any(mask: Self::Mask) -> bool {
        mask.contains(&true)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_quick_inverse_root_is_as_close_as_it_says() {
        for i in 0..2000 {
            let x = 10_f64.powf(f64::from(i) * 0.02 - 20.0);
            let Plain([y, ..]) = Plain::splat(x).rough_inverse_root();
            assert!((y * x.sqrt() - 1.0).abs() < 2e-3, "{x:e}");
        }
        let Plain([y, ..]) = Plain::splat(f64::NAN).rough_inverse_root();
        assert!(y.is_nan());
    }
}
