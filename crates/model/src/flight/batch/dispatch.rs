//! Picks the widest vector code that the machine has, at run time, and holds its instructions.
//!
//! # Same numbers everywhere, or more of them
//!
//! Under [`Precision::Exact`] the lanes use addition, multiplication, division and square root
//! only, each rounded as IEEE 754 says, in one fixed order for each lane. A wider vector changes
//! how many lanes go at once, not what happens in a lane, so every machine gives the same bits.
//!
//! Under [`Precision::Fast`] a machine that can multiply and add in one rounding does, and roots
//! and quotients begin with the machine's own estimate and end with Newton's method, good to
//! 1e-8. Both tie the last bits to the machine. A machine without fused operations flies as under `Exact`.

use super::block::{Block, Course, fly_block};
use super::enter::{Ground, Raw, enter, leave};
#[cfg(target_arch = "x86_64")]
use super::lanes::{MAGIC, Pair, polished_quotient, polished_root, rough_round, some_of, some_of_mut};
use super::lanes::{Plain, Vector};
#[cfg(any(target_arch = "x86_64", test, feature = "count"))]
use super::stages::Cells;
use super::{Arrival, Precision};

#[cfg(target_arch = "x86_64")]
use std::arch::x86_64::*;

/// Vector instructions to use.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Width {
    /// Whatever the build was made for.
    Portable,
    /// 256-bit vectors and fused operations.
    #[cfg(target_arch = "x86_64")]
    Avx2,
    /// 512-bit vectors.
    #[cfg(target_arch = "x86_64")]
    Avx512,
}

/// The widths that this machine has, widest first.
pub(super) fn available() -> Vec<Width> {
    let mut widths = Vec::new();
    #[cfg(target_arch = "x86_64")]
    if is_x86_feature_detected!("avx2") && is_x86_feature_detected!("fma") {
        let avx512 = is_x86_feature_detected!("avx512f")
            && is_x86_feature_detected!("avx512dq")
            && is_x86_feature_detected!("avx512vl");
        if avx512 {
            widths.push(Width::Avx512);
        }
        widths.push(Width::Avx2);
    }
    widths.push(Width::Portable);
    widths
}

/// The widest that this machine has.
pub(super) fn widest() -> Width {
    available().first().copied().unwrap_or(Width::Portable)
}

/// Which equations the block obeys.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Kind {
    /// Clift and Gauvin's curve instead of a constant coefficient.
    pub(super) curve: bool,
    /// Only the spin across the motion counts.
    pub(super) across: bool,
}

/// What to do with a block.
#[derive(Clone, Copy, Debug)]
pub(super) struct Task<'a> {
    /// Equations.
    pub(super) kind: Kind,
    /// What may be rounded how.
    pub(super) precision: Precision,
    /// For the start of the lanes.
    pub(super) ground: &'a Ground,
    /// For their flight.
    pub(super) course: &'a Course,
}

/// Flies a block of throws with the vector instructions given, which the machine must have.
pub(super) fn fly(width: Width, task: Task, raw: &Raw, b: &mut Block, out: &mut [Arrival]) {
    match (width, task.precision) {
        (Width::Portable, _) => by_kind::<Plain>(task, raw, b, out),
        // SAFETY: a `Width` is made by `available` only, which saw the features on this machine.
        #[cfg(target_arch = "x86_64")]
        #[allow(unsafe_code)]
        (Width::Avx2, Precision::Exact) => unsafe { avx2::<false>(task, raw, b, out) },
        // SAFETY: as above.
        #[cfg(target_arch = "x86_64")]
        #[allow(unsafe_code)]
        (Width::Avx2, Precision::Fast) => unsafe { avx2::<true>(task, raw, b, out) },
        // SAFETY: as above.
        #[cfg(target_arch = "x86_64")]
        #[allow(unsafe_code)]
        (Width::Avx512, Precision::Exact) => unsafe { avx512::<false>(task, raw, b, out) },
        // SAFETY: as above.
        #[cfg(target_arch = "x86_64")]
        #[allow(unsafe_code)]
        (Width::Avx512, Precision::Fast) => unsafe { avx512::<true>(task, raw, b, out) },
    }
}

/// Flies a block on lanes that count their operations.
#[cfg(any(test, feature = "count"))]
pub(super) fn fly_counted(task: Task, raw: &Raw, b: &mut Block, out: &mut [Arrival]) {
    by_kind::<super::count::Counted>(task, raw, b, out);
}

/// Fused multiply-adds and nothing else, as many at once as hide how long one takes. Returns their sum
/// and how many there were.
#[cfg(any(test, feature = "count"))]
pub(super) fn fused_only(width: Width, rounds: usize) -> (f64, u64) {
    #[cfg(target_arch = "x86_64")]
    {
        #[target_feature(enable = "avx2,fma")]
        fn chains_256(rounds: usize) -> (f64, u64) {
            chains::<Register256<true>>(rounds)
        }
        #[target_feature(enable = "avx512f,avx512dq,avx512vl,avx2,fma")]
        fn chains_512(rounds: usize) -> (f64, u64) {
            chains::<Register512<true>>(rounds)
        }
        match width {
            Width::Portable => {}
            // SAFETY: as for `fly`.
            #[allow(unsafe_code)]
            Width::Avx2 => return unsafe { chains_256(rounds) },
            // SAFETY: as for `fly`.
            #[allow(unsafe_code)]
            Width::Avx512 => return unsafe { chains_512(rounds) },
        }
    }
    chains::<Plain>(rounds)
}

#[cfg(any(test, feature = "count"))]
#[inline(always)]
fn chains<V: Vector>(rounds: usize) -> (f64, u64) {
    const CHAINS: usize = 12;
    let (a, b) = (V::splat(0.999), V::splat(1e-3));
    let mut chains = [V::splat(2.0); CHAINS];
    for _ in 0..rounds {
        for x in &mut chains {
            *x = x.ma(a, b);
        }
    }
    let mut cells = Cells::ZERO;
    for x in chains {
        (x + V::load(&cells, 0)).store(&mut cells, 0);
    }
    (cells.0.iter().sum(), (rounds * CHAINS * V::LANES) as u64)
}

/// Asks for memory that will be needed soon; a hint, which changes nothing else.
#[inline(always)]
pub(super) fn fetch<T>(soon: &[T]) {
    #[cfg(target_arch = "x86_64")]
    for part in soon.chunks((CACHE_LINE / size_of::<T>()).max(1)) {
        // SAFETY: a prefetch reads nothing that the program sees and cannot fault; every x86-64 has it.
        #[allow(unsafe_code)]
        unsafe {
            _mm_prefetch::<_MM_HINT_T0>(part.as_ptr().cast());
        }
    }
}

/// Bytes of a cache line.
#[cfg(target_arch = "x86_64")]
const CACHE_LINE: usize = 64;

/// One copy of the code for each pair of laws.
#[inline(always)]
fn by_kind<V: Vector>(task: Task, raw: &Raw, b: &mut Block, out: &mut [Arrival]) {
    enter::<V>(raw, b, task.ground);
    match (task.kind.curve, task.kind.across) {
        (false, false) => fly_block::<V, false, false>(b, task.course),
        (false, true) => fly_block::<V, false, true>(b, task.course),
        (true, false) => fly_block::<V, true, false>(b, task.course),
        (true, true) => fly_block::<V, true, true>(b, task.course),
    }
    leave::<V>(b, raw, out);
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,fma")]
fn avx2<const FAST: bool>(task: Task, raw: &Raw, b: &mut Block, out: &mut [Arrival]) {
    by_kind::<Pair<Register256<FAST>>>(task, raw, b, out);
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f,avx512dq,avx512vl,avx2,fma")]
fn avx512<const FAST: bool>(task: Task, raw: &Raw, b: &mut Block, out: &mut [Arrival]) {
    by_kind::<Pair<Register512<FAST>>>(task, raw, b, out);
}

/// Eight lanes in a register.
///
/// Every `unsafe` in its operations is sound for one reason: none of this type exists outside
/// [`avx512`], which runs only where the features were seen.
#[cfg(target_arch = "x86_64")]
#[derive(Clone, Copy, Debug)]
struct Register512<const FAST: bool>(__m512d);

#[cfg(target_arch = "x86_64")]
#[allow(unsafe_code)]
impl<const FAST: bool> std::ops::Add for Register512<FAST> {
    type Output = Self;
    #[inline(always)]
    fn add(self, b: Self) -> Self {
        // SAFETY: see the type.
        Self(unsafe { _mm512_add_pd(self.0, b.0) })
    }
}

#[cfg(target_arch = "x86_64")]
#[allow(unsafe_code)]
impl<const FAST: bool> std::ops::Sub for Register512<FAST> {
    type Output = Self;
    #[inline(always)]
    fn sub(self, b: Self) -> Self {
        // SAFETY: see the type.
        Self(unsafe { _mm512_sub_pd(self.0, b.0) })
    }
}

#[cfg(target_arch = "x86_64")]
#[allow(unsafe_code)]
impl<const FAST: bool> std::ops::Mul for Register512<FAST> {
    type Output = Self;
    #[inline(always)]
    fn mul(self, b: Self) -> Self {
        // SAFETY: see the type.
        Self(unsafe { _mm512_mul_pd(self.0, b.0) })
    }
}

#[cfg(target_arch = "x86_64")]
impl<const FAST: bool> std::ops::Neg for Register512<FAST> {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        Self::splat(-0.0) - self
    }
}

#[cfg(target_arch = "x86_64")]
#[allow(unsafe_code)]
impl<const FAST: bool> Vector for Register512<FAST> {
    type Mask = __mmask8;
    const LANES: usize = 8;

    #[inline(always)]
    fn splat(x: f64) -> Self {
        // SAFETY: see the type.
        Self(unsafe { _mm512_set1_pd(x) })
    }

    #[inline(always)]
    fn load(cells: &Cells, first: usize) -> Self {
        let eight: &[f64; 8] = some_of(cells, first);
        // SAFETY: see the type; the eight numbers are there, and no alignment is asked for.
        Self(unsafe { _mm512_loadu_pd(eight.as_ptr()) })
    }

    #[inline(always)]
    fn store(self, cells: &mut Cells, first: usize) {
        let eight: &mut [f64; 8] = some_of_mut(cells, first);
        // SAFETY: as for `load`.
        unsafe { _mm512_storeu_pd(eight.as_mut_ptr(), self.0) }
    }

    #[inline(always)]
    fn ma(self, b: Self, c: Self) -> Self {
        if FAST {
            // SAFETY: see the type.
            Self(unsafe { _mm512_fmadd_pd(self.0, b.0, c.0) })
        } else {
            self * b + c
        }
    }

    #[inline(always)]
    fn nma(self, b: Self, c: Self) -> Self {
        if FAST {
            // SAFETY: see the type.
            Self(unsafe { _mm512_fnmadd_pd(self.0, b.0, c.0) })
        } else {
            c - self * b
        }
    }

    #[inline(always)]
    fn min(self, other: Self) -> Self {
        // SAFETY: see the type.
        Self(unsafe { _mm512_min_pd(self.0, other.0) })
    }

    #[inline(always)]
    fn max(self, other: Self) -> Self {
        // SAFETY: see the type.
        Self(unsafe { _mm512_max_pd(self.0, other.0) })
    }

    #[inline(always)]
    fn abs(self) -> Self {
        // SAFETY: see the type.
        Self(unsafe { _mm512_abs_pd(self.0) })
    }

    #[inline(always)]
    fn root(self) -> Self {
        if FAST {
            // SAFETY: see the type. The estimate is good to 2^-14.
            let y = Self(unsafe { _mm512_rsqrt14_pd(self.0) });
            polished_root(self, y)
        } else {
            // SAFETY: see the type.
            Self(unsafe { _mm512_sqrt_pd(self.0) })
        }
    }

    #[inline(always)]
    fn over(self, b: Self) -> Self {
        if FAST {
            // SAFETY: see the type. The estimate is good to 2^-14.
            let y = Self(unsafe { _mm512_rcp14_pd(b.0) });
            polished_quotient(self, b, y)
        } else {
            // SAFETY: see the type.
            Self(unsafe { _mm512_div_pd(self.0, b.0) })
        }
    }

    #[inline(always)]
    fn rough_inverse_root(self) -> Self {
        if FAST {
            // SAFETY: see the type.
            return Self(unsafe { _mm512_rsqrt14_pd(self.0) });
        }
        // SAFETY: see the type.
        let y = unsafe {
            let shifted = _mm512_srli_epi64::<1>(_mm512_castpd_si512(self.0));
            _mm512_castsi512_pd(_mm512_sub_epi64(_mm512_set1_epi64(MAGIC), shifted))
        };
        rough_round(self, Self(y))
    }

    #[inline(always)]
    fn lt(self, other: Self) -> __mmask8 {
        // SAFETY: see the type.
        unsafe { _mm512_cmp_pd_mask::<_CMP_LT_OQ>(self.0, other.0) }
    }

    #[inline(always)]
    fn le(self, other: Self) -> __mmask8 {
        // SAFETY: see the type.
        unsafe { _mm512_cmp_pd_mask::<_CMP_LE_OQ>(self.0, other.0) }
    }

    #[inline(always)]
    fn both(a: __mmask8, b: __mmask8) -> __mmask8 {
        a & b
    }

    #[inline(always)]
    fn either(a: __mmask8, b: __mmask8) -> __mmask8 {
        a | b
    }

    #[inline(always)]
    fn not(a: __mmask8) -> __mmask8 {
        !a
    }

    #[inline(always)]
    fn pick(mask: __mmask8, yes: Self, no: Self) -> Self {
        // SAFETY: see the type.
        Self(unsafe { _mm512_mask_blend_pd(mask, no.0, yes.0) })
    }

    #[inline(always)]
    fn any(mask: __mmask8) -> bool {
        mask != 0
    }
}

/// Four lanes in a register.
///
/// Every `unsafe` in its operations is sound for one reason: none of this type exists outside
/// [`avx2`], which runs only where the features were seen.
#[cfg(target_arch = "x86_64")]
#[derive(Clone, Copy, Debug)]
struct Register256<const FAST: bool>(__m256d);

#[cfg(target_arch = "x86_64")]
#[allow(unsafe_code)]
impl<const FAST: bool> std::ops::Add for Register256<FAST> {
    type Output = Self;
    #[inline(always)]
    fn add(self, b: Self) -> Self {
        // SAFETY: see the type.
        Self(unsafe { _mm256_add_pd(self.0, b.0) })
    }
}

#[cfg(target_arch = "x86_64")]
#[allow(unsafe_code)]
impl<const FAST: bool> std::ops::Sub for Register256<FAST> {
    type Output = Self;
    #[inline(always)]
    fn sub(self, b: Self) -> Self {
        // SAFETY: see the type.
        Self(unsafe { _mm256_sub_pd(self.0, b.0) })
    }
}

#[cfg(target_arch = "x86_64")]
#[allow(unsafe_code)]
impl<const FAST: bool> std::ops::Mul for Register256<FAST> {
    type Output = Self;
    #[inline(always)]
    fn mul(self, b: Self) -> Self {
        // SAFETY: see the type.
        Self(unsafe { _mm256_mul_pd(self.0, b.0) })
    }
}

#[cfg(target_arch = "x86_64")]
impl<const FAST: bool> std::ops::Neg for Register256<FAST> {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        Self::splat(-0.0) - self
    }
}

#[cfg(target_arch = "x86_64")]
#[allow(unsafe_code)]
impl<const FAST: bool> Vector for Register256<FAST> {
    type Mask = __m256d;
    const LANES: usize = 4;

    #[inline(always)]
    fn splat(x: f64) -> Self {
        // SAFETY: see the type.
        Self(unsafe { _mm256_set1_pd(x) })
    }

    #[inline(always)]
    fn load(cells: &Cells, first: usize) -> Self {
        let four: &[f64; 4] = some_of(cells, first);
        // SAFETY: see the type; the four numbers are there, and no alignment is asked for.
        Self(unsafe { _mm256_loadu_pd(four.as_ptr()) })
    }

    #[inline(always)]
    fn store(self, cells: &mut Cells, first: usize) {
        let four: &mut [f64; 4] = some_of_mut(cells, first);
        // SAFETY: as for `load`.
        unsafe { _mm256_storeu_pd(four.as_mut_ptr(), self.0) }
    }

    #[inline(always)]
    fn ma(self, b: Self, c: Self) -> Self {
        if FAST {
            // SAFETY: see the type.
            Self(unsafe { _mm256_fmadd_pd(self.0, b.0, c.0) })
        } else {
            self * b + c
        }
    }

    #[inline(always)]
    fn nma(self, b: Self, c: Self) -> Self {
        if FAST {
            // SAFETY: see the type.
            Self(unsafe { _mm256_fnmadd_pd(self.0, b.0, c.0) })
        } else {
            c - self * b
        }
    }

    #[inline(always)]
    fn min(self, other: Self) -> Self {
        // SAFETY: see the type.
        Self(unsafe { _mm256_min_pd(self.0, other.0) })
    }

    #[inline(always)]
    fn max(self, other: Self) -> Self {
        // SAFETY: see the type.
        Self(unsafe { _mm256_max_pd(self.0, other.0) })
    }

    #[inline(always)]
    fn abs(self) -> Self {
        // SAFETY: see the type.
        Self(unsafe { _mm256_andnot_pd(_mm256_set1_pd(-0.0), self.0) })
    }

    #[inline(always)]
    fn root(self) -> Self {
        // SAFETY: see the type.
        Self(unsafe { _mm256_sqrt_pd(self.0) })
    }

    #[inline(always)]
    fn over(self, b: Self) -> Self {
        // SAFETY: see the type.
        Self(unsafe { _mm256_div_pd(self.0, b.0) })
    }

    #[inline(always)]
    fn rough_inverse_root(self) -> Self {
        // SAFETY: see the type.
        let y = unsafe {
            let shifted = _mm256_srli_epi64::<1>(_mm256_castpd_si256(self.0));
            _mm256_castsi256_pd(_mm256_sub_epi64(_mm256_set1_epi64x(MAGIC), shifted))
        };
        rough_round(self, Self(y))
    }

    #[inline(always)]
    fn lt(self, other: Self) -> __m256d {
        // SAFETY: see the type.
        unsafe { _mm256_cmp_pd::<_CMP_LT_OQ>(self.0, other.0) }
    }

    #[inline(always)]
    fn le(self, other: Self) -> __m256d {
        // SAFETY: see the type.
        unsafe { _mm256_cmp_pd::<_CMP_LE_OQ>(self.0, other.0) }
    }

    #[inline(always)]
    fn both(a: __m256d, b: __m256d) -> __m256d {
        // SAFETY: see the type.
        unsafe { _mm256_and_pd(a, b) }
    }

    #[inline(always)]
    fn either(a: __m256d, b: __m256d) -> __m256d {
        // SAFETY: see the type.
        unsafe { _mm256_or_pd(a, b) }
    }

    #[inline(always)]
    fn not(a: __m256d) -> __m256d {
        // SAFETY: see the type.
        unsafe { _mm256_xor_pd(a, _mm256_castsi256_pd(_mm256_set1_epi64x(-1))) }
    }

    #[inline(always)]
    fn pick(mask: __m256d, yes: Self, no: Self) -> Self {
        // SAFETY: see the type.
        Self(unsafe { _mm256_blendv_pd(no.0, yes.0, mask) })
    }

    #[inline(always)]
    fn any(mask: __m256d) -> bool {
        // SAFETY: see the type.
        unsafe { _mm256_movemask_pd(mask) != 0 }
    }
}
