//! The ways in which the batch flies a set.

use arcwright_model::flight::batch::{
    Arrival, Batch, ColumnLength, Precision, fly_alike, fly_alike_into, fly_batch, fly_batch_into, operations,
};

/// One way.
#[derive(Clone, Copy, Debug)]
pub struct Kernel {
    /// Precision.
    pub precision: Precision,
    /// Whether the throws are taken for alike.
    pub alike: bool,
    /// What tables call it.
    pub name: &'static str,
    /// What a command calls it.
    pub word: &'static str,
}

const fn kernel(precision: Precision, alike: bool, name: &'static str, word: &'static str) -> Kernel {
    Kernel {
        precision,
        alike,
        name,
        word,
    }
}

/// All of them.
pub const KERNELS: [Kernel; 4] = [
    kernel(Precision::Exact, false, "batch, exact", "exact"),
    kernel(Precision::Fast, false, "batch, fast", "fast"),
    kernel(Precision::Exact, true, "batch, alike, exact", "exact+alike"),
    kernel(Precision::Fast, true, "batch, alike, fast", "fast+alike"),
];

impl Kernel {
    /// Flies a batch in this way, whatever its precision says.
    pub fn fly(&self, batch: &Batch) -> Result<Vec<Arrival>, ColumnLength> {
        let fly = if self.alike { fly_alike } else { fly_batch };
        fly(&self.of(batch))
    }

    /// As [`Kernel::fly`], into memory of the caller's.
    pub fn fly_into(&self, batch: &Batch, arrivals: &mut [Arrival]) -> Result<(), ColumnLength> {
        let fly = if self.alike {
            fly_alike_into
        } else {
            fly_batch_into
        };
        fly(&self.of(batch), arrivals)
    }

    /// Floating-point operations for each throw of a batch; not a number where they cannot be counted.
    pub fn flops(&self, batch: &Batch) -> f64 {
        let operations = operations(&self.of(batch), self.alike);
        operations.map_or(f64::NAN, |o| o.flops() as f64 / batch.throws.count as f64)
    }

    fn of<'a>(&self, batch: &Batch<'a>) -> Batch<'a> {
        let precision = self.precision;
        Batch { precision, ..*batch }
    }
}
