//! Picks the widest vector code that the machine has, at run time.
//!
//! # Same numbers everywhere
//!
//! The lanes use addition, multiplication, division and square root only, each rounded as
//! IEEE 754 says, in one fixed order for each lane. A wider vector changes how many lanes go at
//! once, not what happens in a lane, so every machine gives the same bits. Fused multiply-add
//! would round a product and a sum once and so tie the last bits to the machine; it was
//! measured to gain 3 % (constant drag) to 13 % (the curve), too little for that.

use super::Arrival;
use super::block::{Block, Course, fly_block};
use super::enter::{Ground, Raw, enter, leave};

/// Vector instructions to use.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Width {
    /// Whatever the build was made for.
    Portable,
    /// 256-bit vectors.
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
    if is_x86_feature_detected!("avx2") {
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
    /// For the start of the lanes.
    pub(super) ground: &'a Ground,
    /// For their flight.
    pub(super) course: &'a Course,
}

/// Flies a block of throws with the vector instructions given, which the machine must have.
pub(super) fn fly(width: Width, task: Task, raw: &Raw, b: &mut Block, out: &mut [Arrival]) {
    match width {
        Width::Portable => portable(task, raw, b, out),
        // Safe because `Width` is made by `widest` (and by tests that ask it), which saw the features.
        #[cfg(target_arch = "x86_64")]
        #[allow(unsafe_code)]
        Width::Avx2 => unsafe { avx2(task, raw, b, out) },
        #[cfg(target_arch = "x86_64")]
        #[allow(unsafe_code)]
        Width::Avx512 => unsafe { avx512(task, raw, b, out) },
    }
}

/// One copy of the code for each pair of laws.
#[inline(always)]
fn by_kind(task: Task, raw: &Raw, b: &mut Block, out: &mut [Arrival]) {
    enter(raw, b, task.ground);
    match (task.kind.curve, task.kind.across) {
        (false, false) => fly_block::<false, false>(b, task.course),
        (false, true) => fly_block::<false, true>(b, task.course),
        (true, false) => fly_block::<true, false>(b, task.course),
        (true, true) => fly_block::<true, true>(b, task.course),
    }
    leave(b, raw, out);
}

fn portable(task: Task, raw: &Raw, b: &mut Block, out: &mut [Arrival]) {
    by_kind(task, raw, b, out);
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2")]
fn avx2(task: Task, raw: &Raw, b: &mut Block, out: &mut [Arrival]) {
    by_kind(task, raw, b, out);
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f,avx512dq,avx512vl,avx2")]
fn avx512(task: Task, raw: &Raw, b: &mut Block, out: &mut [Arrival]) {
    by_kind(task, raw, b, out);
}
