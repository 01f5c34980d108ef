//! Which inputs the scatter of an output comes from: Sobol indices.

use super::random::{Stream, hash};
use super::sobol::Sobol;

/// Share of the variance of one output that each group of inputs accounts for, with standard errors.
///
/// One entry for each group. Standard errors are not numbers when there is only one replicate; every figure is
/// not a number when no row was usable.
#[derive(Clone, Debug, PartialEq)]
pub struct Indices {
    /// Share that the group explains alone: what knowing it would remove on average.
    pub first: Vec<f64>,
    /// Standard error of each of `first`.
    pub first_standard_errors: Vec<f64>,
    /// Share that the group takes part in, alone or together with others: what is left when all else is known.
    pub total: Vec<f64>,
    /// Standard error of each of `total`.
    pub total_standard_errors: Vec<f64>,
    /// Mean of the output.
    pub mean: f64,
    /// Variance of the output.
    pub variance: f64,
    /// Rows used, over all replicates.
    pub used_count: usize,
    /// Rows left out because the output was not a finite number in one of their evaluations.
    pub dropped_count: usize,
}

/// First-order and total Sobol indices of each output of a function of independent uniform inputs.
///
/// ```text
/// S_i = mean(f(B) (f(A_B) − f(A)))/V     first order [saltelli-2010]
/// T_i = mean((f(A) − f(A_B))²)/(2V)      total [jansen-1999]
/// ```
///
/// A and B are two sets of `sample_count` independent points (the halves of one scrambled Sobol sequence of twice the
/// dimensions), A_B is A with the columns of group i from B, and V is the variance of f over both sets. The mean of f
/// is taken off first, which changes no expected value and makes S_i much more exact.
///
/// `groups` lists for each group the columns that it holds; a column number beyond the dimensions is passed over.
/// `evaluate` takes one column in (0, 1) for each dimension and returns one column for each output; a missing value
/// counts as one that is not a number. It is called (2 + groups) times for each replicate, with whole columns.
/// A row with a value that is not finite in any of these is left out of every group, so the indices are those of the
/// function where it has a value. An output that does not vary has indices of zero.
///
/// Standard errors come from the spread of `replicate_count` independently scrambled runs; take at least 4, and a
/// power of two of samples. Dimensions beyond half of [`Sobol::MOST_DIMENSIONS`] are filled with random numbers.
pub fn indices(
    groups: &[Vec<usize>],
    dimension_count: usize,
    sample_count: usize,
    replicate_count: u32,
    seed: u64,
    evaluate: impl Fn(&[Vec<f64>]) -> Vec<Vec<f64>>,
) -> Vec<Indices> {
    let mut sums: Vec<Sums> = Vec::new();
    for replicate in 0..replicate_count {
        let mut a = sample(2 * dimension_count, sample_count, seed, replicate);
        let mut b = a.split_off(dimension_count);
        let from_a = evaluate(&a);
        let from_b = evaluate(&b);
        let mut from_mixed = Vec::with_capacity(groups.len());
        for group in groups {
            let swap = |a: &mut Vec<Vec<f64>>, b: &mut Vec<Vec<f64>>| {
                for (d, (x, y)) in a.iter_mut().zip(b.iter_mut()).enumerate() {
                    if group.contains(&d) {
                        std::mem::swap(x, y);
                    }
                }
            };
            swap(&mut a, &mut b);
            from_mixed.push(evaluate(&a));
            swap(&mut a, &mut b);
        }
        for output in 0..from_a.len() {
            let column = |all: &'_ [Vec<f64>]| all.get(output).cloned().unwrap_or_default();
            let mixed: Vec<Vec<f64>> = from_mixed.iter().map(|all| column(all)).collect();
            if sums.len() == output {
                sums.push(Sums::default());
            }
            sums[output].add(&column(&from_a), &column(&from_b), &mixed, sample_count);
        }
    }
    sums.iter().map(|sums| sums.indices(groups.len())).collect()
}

fn sample(dimension_count: usize, sample_count: usize, seed: u64, replicate: u32) -> Vec<Vec<f64>> {
    let mut columns = vec![Vec::new(); dimension_count];
    if let Some(sobol) = Sobol::new(dimension_count.min(Sobol::MOST_DIMENSIONS), seed, replicate) {
        sobol.block(0, sample_count, &mut columns);
    }
    for (d, column) in columns.iter_mut().enumerate().skip(Sobol::MOST_DIMENSIONS) {
        let mut stream = Stream::new(hash(seed, u64::from(replicate)), d as u64);
        column.extend((0..sample_count).map(|_| stream.uniform()));
    }
    columns
}

/// What the replicates of one output said: mean, variance and the indices of each group.
#[derive(Default)]
struct Sums {
    used_count: usize,
    dropped_count: usize,
    replicates: Vec<Replicate>,
}

struct Replicate {
    mean: f64,
    variance: f64,
    first: Vec<f64>,
    total: Vec<f64>,
}

impl Sums {
    fn add(&mut self, a: &[f64], b: &[f64], mixed: &[Vec<f64>], sample_count: usize) {
        let finite = |column: &[f64], row: usize| column.get(row).is_some_and(|x| x.is_finite());
        let usable = |row: &usize| {
            finite(a, *row) && finite(b, *row) && mixed.iter().all(|column| finite(column, *row))
        };
        let rows: Vec<usize> = (0..sample_count).filter(usable).collect();
        self.used_count += rows.len();
        self.dropped_count += sample_count - rows.len();
        if rows.is_empty() {
            return;
        }
        let count = rows.len() as f64;
        let average = |f: &dyn Fn(usize) -> f64| rows.iter().map(|&row| f(row)).sum::<f64>() / count;
        let mean = average(&|row| 0.5 * (a[row] + b[row]));
        let variance = average(&|row| 0.5 * ((a[row] - mean).powi(2) + (b[row] - mean).powi(2)));
        let share = |part: f64| if part == 0.0 { 0.0 } else { part / variance };
        let first = |column: &Vec<f64>| share(average(&|row| (b[row] - mean) * (column[row] - a[row])));
        let total = |column: &Vec<f64>| share(0.5 * average(&|row| (a[row] - column[row]).powi(2)));
        self.replicates.push(Replicate {
            mean,
            variance,
            first: mixed.iter().map(first).collect(),
            total: mixed.iter().map(total).collect(),
        });
    }

    fn indices(&self, group_count: usize) -> Indices {
        let each = |figure: &dyn Fn(&Replicate) -> f64| mean_and_error(self.replicates.iter().map(figure));
        let (first, first_standard_errors) = (0..group_count).map(|g| each(&|r| r.first[g])).unzip();
        let (total, total_standard_errors) = (0..group_count).map(|g| each(&|r| r.total[g])).unzip();
        Indices {
            first,
            first_standard_errors,
            total,
            total_standard_errors,
            mean: each(&|r| r.mean).0,
            variance: each(&|r| r.variance).0,
            used_count: self.used_count,
            dropped_count: self.dropped_count,
        }
    }
}

/// Mean of some values and its standard error; not numbers when there are too few.
fn mean_and_error(values: impl Iterator<Item = f64> + Clone) -> (f64, f64) {
    let count = values.clone().count() as f64;
    let mean = values.clone().sum::<f64>() / count;
    let squares: f64 = values.map(|x| (x - mean).powi(2)).sum();
    (mean, (squares / (count - 1.0) / count).sqrt())
}

#[cfg(test)]
#[path = "sensitivity_tests.rs"]
mod tests;
