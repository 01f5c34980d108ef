//! Picks the widest vector code that the machine has, at run time.
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

#[cfg(target_arch = "x86_64")]
#[allow(unsafe_code)]
mod registers;

use super::block::{Block, Course, fly_block};
use super::cloud::{Cloud, fly_cloud};
use super::enter::{Ground, Raw, enter, leave};
#[cfg(target_arch = "x86_64")]
use super::lanes::Pair;
use super::lanes::{Plain, Vector};
#[cfg(any(test, feature = "count"))]
use super::stages::Cells;
use super::{Arrival, BLOCK, Precision, order};
#[cfg(target_arch = "x86_64")]
use registers::{Register256, Register512};

#[cfg(target_arch = "x86_64")]
use std::arch::x86_64::{_MM_HINT_T1, _mm_prefetch};

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
    /// What is known of the throws if they are alike.
    pub(super) cloud: Option<&'a Cloud>,
}

/// Where the ends of a block go: the place of each of its throws, and all places.
pub(super) type Ends<'a> = (&'a [u32], &'a mut [Arrival]);

/// Flies a block of throws with the vector instructions given, which the machine must have.
pub(super) fn fly(width: Width, task: Task, raw: &Raw, b: &mut Block, out: Ends) {
    match (width, task.precision) {
        (Width::Portable, _) => by_likeness::<Plain, Plain>(task, raw, b, out),
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
pub(super) fn fly_counted(task: Task, raw: &Raw, b: &mut Block, out: Ends) {
    by_likeness::<super::count::Counted, super::count::Counted>(task, raw, b, out);
}

/// Foretells how long the throws of a block will take: see [`order::foretell`].
pub(super) fn foretell(width: Width, kind: Kind, ground: &Ground, raw: &Raw, sorts: &mut [u8; BLOCK]) {
    #[cfg(target_arch = "x86_64")]
    {
        #[target_feature(enable = "avx2,fma")]
        fn foretell_256(raw: &Raw, ground: &Ground, curve: bool, sorts: &mut [u8; BLOCK]) {
            order::foretell::<Pair<Register256<true>>>(raw, ground, curve, sorts);
        }
        #[target_feature(enable = "avx512f,avx512dq,avx512vl,avx2,fma")]
        fn foretell_512(raw: &Raw, ground: &Ground, curve: bool, sorts: &mut [u8; BLOCK]) {
            order::foretell::<Pair<Register512<true>>>(raw, ground, curve, sorts);
        }
        match width {
            Width::Portable => {}
            // SAFETY: as for `fly`.
            #[allow(unsafe_code)]
            Width::Avx2 => return unsafe { foretell_256(raw, ground, kind.curve, sorts) },
            // SAFETY: as for `fly`.
            #[allow(unsafe_code)]
            Width::Avx512 => return unsafe { foretell_512(raw, ground, kind.curve, sorts) },
        }
    }
    order::foretell::<Plain>(raw, ground, kind.curve, sorts);
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
            _mm_prefetch::<_MM_HINT_T1>(part.as_ptr().cast());
        }
    }
}

/// Bytes of a cache line.
#[cfg(target_arch = "x86_64")]
const CACHE_LINE: usize = 64;

/// From throws to arrivals: in vectors of one form, and throws that are alike in those of another.
#[inline(always)]
fn by_likeness<V: Vector, A: Vector>(task: Task, raw: &Raw, b: &mut Block, out: Ends) {
    // One copy of the code for each pair of laws.
    macro_rules! by_kind {
        ($vector:ident, $fly:ident, $($about:expr),+) => {{
            enter::<$vector>(raw, b, task.ground);
            match (task.kind.curve, task.kind.across) {
                (false, false) => $fly::<$vector, false, false>(b, $($about),+),
                (false, true) => $fly::<$vector, false, true>(b, $($about),+),
                (true, false) => $fly::<$vector, true, false>(b, $($about),+),
                (true, true) => $fly::<$vector, true, true>(b, $($about),+),
            }
            leave::<$vector>(b, raw, out.0, out.1);
        }};
    }
    match task.cloud {
        Some(cloud) => by_kind!(A, fly_cloud, task.course, cloud),
        None => by_kind!(V, fly_block, task.course),
    }
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,fma")]
fn avx2<const FAST: bool>(task: Task, raw: &Raw, b: &mut Block, out: Ends) {
    type Two<const FAST: bool> = Pair<Register256<FAST>>;
    by_likeness::<Two<FAST>, Two<FAST>>(task, raw, b, out);
}

/// A step is judged in one long chain, in which two vectors would wait for each other most of the time; throws that
/// are alike take their steps without.
#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f,avx512dq,avx512vl,avx2,fma")]
fn avx512<const FAST: bool>(task: Task, raw: &Raw, b: &mut Block, out: Ends) {
    type Two<const FAST: bool> = Pair<Register512<FAST>>;
    by_likeness::<Pair<Two<FAST>>, Two<FAST>>(task, raw, b, out);
}
