//! The clock of a log: counters that ran over, rows that came late, rows that came twice.

use super::{Log, median};
use crate::finding::Finding;

/// Physical: periods of counters that run over, s: 16 and 32 bits of microseconds and of milliseconds.
const COUNTERS_S: [(f64, &str); 4] = [
    (0.065_536, "16-bit microsecond"),
    (65.536, "16-bit millisecond"),
    (4_294.967_296, "32-bit microsecond"),
    (4_294_967.296, "32-bit millisecond"),
];
/// Physical: fewer rows than this show no throw.
const LEAST_ROWS: usize = 8;
/// Method: a row later than its neighbours by more rows than this is no late row but another run.
const LATEST_ROWS: usize = 50;
/// Method: more late rows than this share of all, and the column is no clock.
const MOST_LATE_FRAC: f64 = 0.1;
/// Method: a step this many times the usual one is a gap.
const GAP_STEPS: f64 = 4.0;

/// One thing that was mended.
#[derive(Clone, Debug, PartialEq)]
pub enum Repair {
    /// The counter ran over.
    RanOver {
        /// Which counter.
        counter: &'static str,
        /// How often.
        times: usize,
    },
    /// Rows that stood later in the file than their time were put in order.
    PutInOrder {
        /// How many.
        rows: usize,
    },
    /// Rows with a time that another row has were averaged into one.
    SameTime {
        /// How many went.
        rows: usize,
    },
    /// Rows without a time or a wheel speed were left out.
    NoNumber {
        /// How many.
        rows: usize,
    },
    /// Stretches without rows; no throw is looked for across them.
    Gaps {
        /// How many.
        count: usize,
        /// The longest.
        longest_s: f64,
    },
}

impl Repair {
    /// In words.
    pub fn words(&self) -> String {
        let rows = |n: usize| format!("{n} {}", if n == 1 { "row" } else { "rows" });
        match self {
            Repair::RanOver { counter, times } => {
                format!("the clock is a {counter} counter that ran over {times} times; counted on")
            }
            Repair::PutInOrder { rows: n } => format!("{} came late and was put in order", rows(*n)),
            Repair::SameTime { rows: n } => {
                format!(
                    "{} had the time of another; each such group was averaged",
                    rows(*n)
                )
            }
            Repair::NoNumber { rows: n } => {
                format!("{} without a time or a wheel speed was left out", rows(*n))
            }
            Repair::Gaps { count, longest_s } => format!(
                "{count} {} without rows, the longest {longest_s:.2} s; a throw inside is not seen",
                if *count == 1 { "stretch" } else { "stretches" }
            ),
        }
    }
}

/// A log whose time rises from row to row.
#[derive(Clone, Debug, PartialEq)]
pub struct Repaired {
    /// The log; every time and wheel speed is a number.
    pub log: Log,
    /// Usual step between rows.
    pub step_s: f64,
    /// What was mended.
    pub repairs: Vec<Repair>,
}

impl Repaired {
    /// Is the step from row `i` to the next a gap?
    pub fn is_gap(&self, i: usize) -> bool {
        match (self.log.time_s.get(i), self.log.time_s.get(i + 1)) {
            (Some(a), Some(b)) => b - a > GAP_STEPS * self.step_s,
            _ => true,
        }
    }
}

fn refuse(code: &'static str, key: &str, what: String, fix: &str) -> Finding {
    Finding::new(code, key, what, fix)
}

/// Repairs the clock of a log, or says why it cannot be.
///
/// A step back of nearly a whole counter period is the counter running over. Rows out of place by less than
/// `LATEST_ROWS` rows are put in order; rows of equal time are averaged. Nothing else is changed.
///
/// # Errors
/// Columns of different length, too few rows, a time that does not move, that goes back by what no counter
/// explains, or that is out of order too often.
pub fn repair(log: &Log) -> Result<Repaired, Finding> {
    let rows = log.time_s.len();
    let agree = log.wheel_radps.len() == rows && log.optional().iter().flatten().all(|c| c.len() == rows);
    if !agree {
        return Err(refuse(
            "log-lengths",
            "log",
            "the columns of the log have different lengths".into(),
            "export one value of every column per row",
        ));
    }
    let mut repairs = Vec::new();
    let kept: Vec<usize> = (0..rows)
        .filter(|i| {
            let finite = |c: &[f64]| c.get(*i).is_some_and(|x| x.is_finite());
            finite(&log.time_s) && finite(&log.wheel_radps)
        })
        .collect();
    if kept.len() < LEAST_ROWS {
        return Err(refuse(
            "log-short",
            "log",
            format!(
                "{} of {rows} rows hold both a time and a wheel speed; {LEAST_ROWS} are needed",
                kept.len()
            ),
            "log a whole volley: at 20 ms a row, ten seconds are 500 rows",
        ));
    }
    if kept.len() < rows {
        repairs.push(Repair::NoNumber {
            rows: rows - kept.len(),
        });
    }
    let pick = |order: &[usize]| {
        log.mapped(|c| {
            order
                .iter()
                .map(|i| c.get(*i).copied().unwrap_or(f64::NAN))
                .collect()
        })
    };
    let mut log = pick(&kept);
    let forward: Vec<f64> = steps(&log.time_s).into_iter().filter(|s| *s > 0.0).collect();
    if forward.is_empty() {
        return Err(refuse(
            "log-still",
            "time",
            "the time is the same, or falls, in every row".into(),
            "name the column that counts up with `--map`, such as --map \"t=time s\"",
        ));
    }
    count_on(&mut log.time_s, median(&forward), &mut repairs);
    let late = late_rows(&log.time_s)?;
    if late > 0 {
        repairs.push(Repair::PutInOrder { rows: late });
    }
    let mut order: Vec<usize> = (0..log.time_s.len()).collect();
    let times = log.time_s.clone();
    order.sort_by(|a, b| value(&times, *a).total_cmp(&value(&times, *b)));
    log = log.mapped(|c| order.iter().map(|i| value(c, *i)).collect());
    let (merged, same) = averaged(&log);
    if same > 0 {
        repairs.push(Repair::SameTime { rows: same });
    }
    if merged.time_s.len() < LEAST_ROWS {
        return Err(refuse(
            "log-still",
            "time",
            format!("only {} different times in {rows} rows", merged.time_s.len()),
            "log the time with more decimals, or name another column with `--map`",
        ));
    }
    let all = steps(&merged.time_s);
    let step_s = median(&all);
    let gaps: Vec<f64> = all.into_iter().filter(|s| *s > GAP_STEPS * step_s).collect();
    if !gaps.is_empty() {
        repairs.push(Repair::Gaps {
            count: gaps.len(),
            longest_s: gaps.iter().copied().fold(0.0, f64::max),
        });
    }
    Ok(Repaired {
        log: merged,
        step_s,
        repairs,
    })
}

fn value(column: &[f64], i: usize) -> f64 {
    column.get(i).copied().unwrap_or(f64::NAN)
}

fn steps(time_s: &[f64]) -> Vec<f64> {
    time_s
        .iter()
        .zip(time_s.iter().skip(1))
        .map(|(a, b)| b - a)
        .collect()
}

/// Adds a counter's period wherever the time steps back by nearly one. One counter for the whole log.
fn count_on(time_s: &mut [f64], step_s: f64, repairs: &mut Vec<Repair>) {
    let (low, high) = time_s
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), t| {
            (l.min(*t), h.max(*t))
        });
    let longest_s = (20.0 * step_s).max(0.5);
    for (period_s, counter) in COUNTERS_S {
        if high - low > period_s {
            continue;
        }
        let over = |step: f64| {
            let whole = step + period_s;
            step < 0.0 && whole > 0.0 && -step > 0.5 * period_s && whole < longest_s.min(0.5 * period_s)
        };
        let times = steps(time_s).into_iter().filter(|s| over(*s)).count();
        if times == 0 {
            continue;
        }
        let mut added = 0.0;
        let mut before = f64::NAN;
        for t in time_s.iter_mut() {
            if over(*t - before) {
                added += period_s;
            }
            before = *t;
            *t += added;
        }
        repairs.push(Repair::RanOver { counter, times });
        return;
    }
}

/// Rows whose time lies before one that stands above them.
fn late_rows(time_s: &[f64]) -> Result<usize, Finding> {
    let mut newest = f64::NEG_INFINITY;
    let mut late = 0;
    let mut run = 0;
    for (i, t) in time_s.iter().enumerate() {
        if *t < newest {
            late += 1;
            run += 1;
        } else {
            run = 0;
        }
        newest = newest.max(*t);
        if run > LATEST_ROWS || (run > 2 && i + 1 == time_s.len()) {
            let first = i + 1 - run;
            return Err(refuse(
                "log-goes-back",
                "time",
                format!(
                    "the time goes back from {:.3} s to {:.3} s at data row {} and counts on from there",
                    time_s
                        .iter()
                        .take(first)
                        .copied()
                        .fold(f64::NEG_INFINITY, f64::max),
                    value(time_s, first),
                    first + 1
                ),
                "two runs in one file? Split it there and read each by itself",
            ));
        }
    }
    if late as f64 > MOST_LATE_FRAC * time_s.len() as f64 {
        return Err(refuse(
            "log-out-of-order",
            "time",
            format!("{late} of {} rows have a time before the row above", time_s.len()),
            "name the column that counts up with `--map`, such as --map \"t=time s\"",
        ));
    }
    Ok(late)
}

/// Rows of equal time averaged; how many went.
fn averaged(log: &Log) -> (Log, usize) {
    let mut groups: Vec<std::ops::Range<usize>> = Vec::new();
    for (i, t) in log.time_s.iter().enumerate() {
        match groups.last_mut() {
            Some(g) if value(&log.time_s, g.start) == *t => g.end = i + 1,
            _ => groups.push(i..i + 1),
        }
    }
    let gone = log.time_s.len() - groups.len();
    if gone == 0 {
        return (log.clone(), 0);
    }
    let mean = |c: &[f64]| {
        groups
            .iter()
            .map(|g| {
                let own = c.get(g.clone()).unwrap_or(&[]);
                let numbers: Vec<f64> = own.iter().copied().filter(|x| x.is_finite()).collect();
                match numbers.as_slice() {
                    [] => f64::NAN,
                    [only] => *only,
                    many => many.iter().sum::<f64>() / many.len() as f64,
                }
            })
            .collect()
    };
    let mut out = log.mapped(mean);
    out.time_s = groups.iter().map(|g| value(&log.time_s, g.start)).collect();
    (out, gone)
}
