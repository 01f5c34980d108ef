//! Error budget: which cause makes how much of the variance, and what it would be alone.

use super::inputs::Cause;
use super::thrower::Thrower;
use crate::numerics::sensitivity::indices;
use crate::numerics::sobol::Sobol;

use super::summary::Figure;

/// Share of the variance along or across that a cause makes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Share {
    /// Alone: first-order Sobol index.
    pub first: Figure,
    /// With everything it does together with others: total index.
    pub total: Figure,
}

/// One cause in the budget of a spot.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CauseShare {
    /// The cause.
    pub cause: Cause,
    /// Along the opening.
    pub along: Share,
    /// Across.
    pub across: Share,
    /// Deviation along if nothing else varied.
    pub alone_along_m: f64,
    /// Deviation across if nothing else varied.
    pub alone_across_m: f64,
}

/// Error budget of a spot.
#[derive(Clone, Debug, PartialEq)]
pub struct Budget {
    /// Causes, the greatest total share along or across first.
    pub causes: Vec<CauseShare>,
    /// Throws of each randomisation and each column swapped.
    pub count: usize,
}

/// Method: throws of one randomisation; 8 of them leave about a point of a hundred on an index.
const COUNT: usize = 1024;
/// Method: independent randomisations.
const REPLICATES: u32 = 8;

/// First-order and total Sobol indices of each cause [sobol-2001], by pick-freeze on the throws of a thrower.
///
/// Columns of one cause are frozen together, so that the indices are those of the group.
pub fn budget(thrower: &Thrower, speed_ratio: f64, seed: u64) -> Budget {
    let causes = thrower.causes();
    let mut kinds = causes.clone();
    kinds.sort_unstable();
    kinds.dedup();
    let groups: Vec<Vec<usize>> = kinds
        .iter()
        .map(|k| (0..causes.len()).filter(|i| causes[*i] == *k).collect())
        .collect();
    let found = indices(&groups, causes.len(), COUNT, REPLICATES, seed, |columns| {
        let c = thrower.crossings(columns, speed_ratio);
        vec![c.along_m, c.across_m]
    });
    let share = |output: usize, group: usize| {
        let (first, total) = found
            .get(output)
            .map_or((Figure::default(), Figure::default()), |i| {
                let at = |v: &[f64], e: &[f64]| Figure {
                    value: v.get(group).copied().unwrap_or(f64::NAN),
                    standard_error: e.get(group).copied().unwrap_or(f64::NAN),
                };
                (
                    at(&i.first, &i.first_standard_errors),
                    at(&i.total, &i.total_standard_errors),
                )
            });
        Share { first, total }
    };
    let mut out: Vec<CauseShare> = kinds
        .iter()
        .enumerate()
        .map(|(g, cause)| {
            let [alone_along_m, alone_across_m] = alone(thrower, *cause, speed_ratio, seed);
            CauseShare {
                cause: *cause,
                along: share(0, g),
                across: share(1, g),
                alone_along_m,
                alone_across_m,
            }
        })
        .collect();
    let size = |c: &CauseShare| c.along.total.value.max(c.across.total.value);
    out.sort_by(|a, b| size(b).total_cmp(&size(a)));
    Budget {
        causes: out,
        count: COUNT * REPLICATES as usize,
    }
}

/// Deviation of the crossing along and across when one cause varies and everything else stands at its median.
pub fn alone(thrower: &Thrower, cause: Cause, speed_ratio: f64, seed: u64) -> [f64; 2] {
    /// Method: throws; one per cent of a deviation.
    const ALONE_COUNT: usize = 1024;
    let causes = thrower.causes();
    let Some(s) = Sobol::new(causes.len(), seed, 0) else {
        return [f64::NAN; 2];
    };
    let mut columns = vec![Vec::new(); causes.len()];
    s.block(0, ALONE_COUNT, &mut columns);
    for (column, own) in columns.iter_mut().zip(&causes) {
        if *own != cause {
            column.fill(0.5);
        }
    }
    let c = thrower.crossings(&columns, speed_ratio);
    c.sd_m()
}
