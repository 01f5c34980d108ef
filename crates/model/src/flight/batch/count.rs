//! Counts the arithmetic of a batch: the same code, on lanes that keep an account.
//!
//! For benches, which set the rate against what the machine could do; compiled for them and for
//! tests only (feature `count`).

use super::lanes::{Plain, Vector};
use super::stages::Cells;
use std::cell::Cell;
use std::ops::{Add, Mul, Neg, Sub};

/// Operations of a batch, lane by lane; idle lanes beside one that flies count, as they take the same time.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Operations {
    /// Additions and subtractions.
    pub additions: u64,
    /// Multiplications.
    pub products: u64,
    /// Multiplications with an addition.
    pub fused: u64,
    /// Divisions.
    pub quotients: u64,
    /// Square roots.
    pub roots: u64,
}

impl Operations {
    /// Floating-point operations: a fused one is two, a division and a root are one each, however many
    /// steps the machine takes for them. Comparisons, signs, selections and rough roots are none.
    pub fn flops(&self) -> u64 {
        self.additions + self.products + 2 * self.fused + self.quotients + self.roots
    }
}

thread_local! {
    static ACCOUNT: Cell<Operations> = const {
        Cell::new(Operations { additions: 0, products: 0, fused: 0, quotients: 0, roots: 0 })
    };
}

/// What this thread has counted since the last call.
pub(super) fn take() -> Operations {
    ACCOUNT.take()
}

fn book(entry: impl FnOnce(&mut Operations) -> &mut u64) {
    let mut account = ACCOUNT.get();
    *entry(&mut account) += Plain::LANES as u64;
    ACCOUNT.set(account);
}

/// Plain lanes whose operations are booked.
#[derive(Clone, Copy, Debug)]
pub(super) struct Counted(Plain);

impl Add for Counted {
    type Output = Self;
    fn add(self, b: Self) -> Self {
        book(|a| &mut a.additions);
        Counted(self.0 + b.0)
    }
}

impl Sub for Counted {
    type Output = Self;
    fn sub(self, b: Self) -> Self {
        book(|a| &mut a.additions);
        Counted(self.0 - b.0)
    }
}

impl Mul for Counted {
    type Output = Self;
    fn mul(self, b: Self) -> Self {
        book(|a| &mut a.products);
        Counted(self.0 * b.0)
    }
}

impl Neg for Counted {
    type Output = Self;
    fn neg(self) -> Self {
        Counted(-self.0)
    }
}

impl Vector for Counted {
    type Mask = <Plain as Vector>::Mask;
    const LANES: usize = Plain::LANES;

    fn splat(x: f64) -> Self {
        Counted(Plain::splat(x))
    }

    fn load(cells: &Cells, first: usize) -> Self {
        Counted(Plain::load(cells, first))
    }

    fn store(self, cells: &mut Cells, first: usize) {
        self.0.store(cells, first);
    }

    fn ma(self, b: Self, c: Self) -> Self {
        book(|a| &mut a.fused);
        Counted(self.0.ma(b.0, c.0))
    }

    fn nma(self, b: Self, c: Self) -> Self {
        book(|a| &mut a.fused);
        Counted(self.0.nma(b.0, c.0))
    }

    fn min(self, other: Self) -> Self {
        Counted(self.0.min(other.0))
    }

    fn max(self, other: Self) -> Self {
        Counted(self.0.max(other.0))
    }

    fn abs(self) -> Self {
        Counted(self.0.abs())
    }

    fn root(self) -> Self {
        book(|a| &mut a.roots);
        Counted(self.0.root())
    }

    fn over(self, b: Self) -> Self {
        book(|a| &mut a.quotients);
        Counted(self.0.over(b.0))
    }

    fn rough_inverse_root(self) -> Self {
        Counted(self.0.rough_inverse_root())
    }

    fn lt(self, other: Self) -> Self::Mask {
        self.0.lt(other.0)
    }

    fn le(self, other: Self) -> Self::Mask {
        self.0.le(other.0)
    }

    fn both(a: Self::Mask, b: Self::Mask) -> Self::Mask {
        Plain::both(a, b)
    }

    fn either(a: Self::Mask, b: Self::Mask) -> Self::Mask {
        Plain::either(a, b)
    }

    fn not(a: Self::Mask) -> Self::Mask {
        Plain::not(a)
    }

    fn pick(mask: Self::Mask, yes: Self, no: Self) -> Self {
        Counted(Plain::pick(mask, yes.0, no.0))
    }

    fn any(mask: Self::Mask) -> bool {
        Plain::any(mask)
    }
}
