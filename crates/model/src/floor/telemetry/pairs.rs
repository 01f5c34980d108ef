//! Which found throw is which logged shot.

use super::{Dip, median};

/// A logged shot as far as it is looked for in a robot's log.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LoggedAt {
    /// When it was logged, by a clock that may have another zero; `NAN` where nobody knows.
    pub time_s: f64,
    /// Wheel speed asked for; `NAN` fits any.
    pub setpoint_radps: f64,
}

/// How to pair.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pairing {
    /// A throw and a shot farther apart than this are not one; infinite pairs in order, first with first.
    pub tolerance_s: f64,
    /// Added to a shot's time to get the log's time, where it is known.
    pub shift_s: Option<f64>,
}

/// Pairs of a dip and a shot, and what is left over; all are places in the lists that were given.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Matched {
    /// Dip and shot.
    pub pairs: Vec<[usize; 2]>,
    /// Dips without a shot.
    pub dips_alone: Vec<usize>,
    /// Shots without a dip.
    pub shots_alone: Vec<usize>,
    /// Added to a shot's time to get the log's time.
    pub shift_s: f64,
    /// Another shift that pairs as many about as well: the times alone do not say which is right.
    pub rival_shift_s: Option<f64>,
}

/// Method: dips and shots beyond this are not tried against each other for the clocks' shift; 300 each are
/// a long day.
const MOST_TRIED: usize = 300;
/// Method: a wheel this far from the speed asked for was not asked for it.
const MOST_OFF_FRAC: f64 = 0.1;
/// Method: leaving a throw or a shot alone counts as much as a pair this part of the tolerance apart.
const ALONE_RATIO: f64 = 0.6;
/// Method: another shift is as good when its times lie apart by no more than this many times as much.
const RIVAL_RATIO: f64 = 1.5;
/// Convergence: the shift stands still after two or three rounds.
const ROUNDS: usize = 6;

/// Pairs found throws with logged shots by time, order and wheel speed.
///
/// The two clocks may start apart: every difference of a dip's and a shot's time is tried as the shift, and
/// the one that pairs the most within the tolerance, then the one with the least sum of differences, then
/// the one nearest zero is taken, and then moved to the middle of its differences, as people log a shot some seconds after
/// it. Order is kept: a later dip is never paired with an earlier shot. A pair whose wheel speed is off the one asked for by
/// more than 10 % is none. Times that are not numbers stay alone, but where pairs go by order alone.
pub fn match_shots(dips: &[Dip], shots: &[LoggedAt], how: &Pairing) -> Matched {
    let fits = |d: usize, s: usize| match (dips.get(d), shots.get(s)) {
        (Some(dip), Some(shot)) if shot.setpoint_radps > 0.0 => {
            (dip.before_radps / shot.setpoint_radps - 1.0).abs() <= MOST_OFF_FRAC
        }
        _ => true,
    };
    let in_order = how.tolerance_s == f64::INFINITY;
    let (mut pairs, mut shift_s, mut rival_shift_s) = (Vec::new(), how.shift_s.unwrap_or(0.0), None);
    if in_order {
        let both = (0..dips.len()).zip(0..shots.len());
        pairs = both.filter(|(d, s)| fits(*d, *s)).map(|(d, s)| [d, s]).collect();
    } else if how.tolerance_s >= 0.0 {
        let shot_times = numbered(shots.iter().map(|s| s.time_s));
        let dip_times = numbered(dips.iter().map(|d| d.time_s));
        let walk = |shift_s: f64| walk(&dip_times, &shot_times, shift_s, how.tolerance_s, &fits);
        if how.shift_s.is_none() {
            (shift_s, rival_shift_s) = found_shift(&dip_times, &shot_times, how.tolerance_s, &walk);
        }
        for _ in 0..ROUNDS {
            pairs = aligned(&dip_times, &shot_times, shift_s, how.tolerance_s, &fits);
            let apart: Vec<f64> = pairs
                .iter()
                .filter_map(|[d, s]| Some(dips.get(*d)?.time_s - shots.get(*s)?.time_s))
                .collect();
            let middle = median(&apart);
            if how.shift_s.is_some() || !middle.is_finite() || middle == shift_s {
                break;
            }
            shift_s = middle;
        }
    }
    let alone = |count: usize, side: usize| {
        (0..count)
            .filter(|i| !pairs.iter().any(|p| p.get(side) == Some(i)))
            .collect()
    };
    Matched {
        dips_alone: alone(dips.len(), 0),
        shots_alone: alone(shots.len(), 1),
        shift_s,
        rival_shift_s,
        pairs,
    }
}

type Numbered = Vec<(usize, f64)>;

/// In rising time; those without one are left out.
fn numbered(times: impl Iterator<Item = f64>) -> Numbered {
    let mut out: Numbered = times.enumerate().filter(|(_, t)| t.is_finite()).collect();
    out.sort_by(|a, b| a.1.total_cmp(&b.1));
    out
}

/// The best shift, and another about as good.
fn found_shift(
    dips: &Numbered,
    shots: &Numbered,
    tolerance_s: f64,
    walk: &dyn Fn(f64) -> (usize, f64),
) -> (f64, Option<f64>) {
    let tried = dips
        .iter()
        .take(MOST_TRIED)
        .flat_map(|d| shots.iter().take(MOST_TRIED).map(move |s| d.1 - s.1));
    let all: Vec<(usize, f64, f64)> = tried
        .chain([0.0])
        .map(|shift_s| {
            let (count, off_s) = walk(shift_s);
            (count, off_s, shift_s)
        })
        .collect();
    let better = |a: &(usize, f64, f64), b: &(usize, f64, f64)| {
        b.0.cmp(&a.0)
            .then(a.1.total_cmp(&b.1))
            .then(a.2.abs().total_cmp(&b.2.abs()))
    };
    let Some(best) = all.iter().min_by(|a, b| better(a, b)) else {
        return (0.0, None);
    };
    let rival = all
        .iter()
        .filter(|r| (r.2 - best.2).abs() > tolerance_s && r.0 == best.0 && best.0 > 0)
        .filter(|r| r.1 <= RIVAL_RATIO * best.1)
        .min_by(|a, b| better(a, b));
    (best.2, rival.map(|r| r.2))
}

/// Count and sum of differences of pairs in rising time: of the two heads, the earlier goes alone when they are too far
/// apart or do not fit.
fn walk(
    dips: &Numbered,
    shots: &Numbered,
    shift_s: f64,
    tolerance_s: f64,
    fits: &dyn Fn(usize, usize) -> bool,
) -> (usize, f64) {
    let (mut count, mut off_s) = (0, 0.0);
    let (mut d, mut s) = (dips.iter().peekable(), shots.iter().peekable());
    while let (Some(dip), Some(shot)) = (d.peek(), s.peek()) {
        let apart = dip.1 - (shot.1 + shift_s);
        if apart.abs() <= tolerance_s && fits(dip.0, shot.0) {
            count += 1;
            off_s += apart.abs();
            d.next();
            s.next();
        } else if apart > 0.0 {
            s.next();
        } else {
            d.next();
        }
    }
    (count, off_s)
}

/// The pairs in order with the least sum of differences, where leaving one alone costs a part of the tolerance.
fn aligned(
    dips: &Numbered,
    shots: &Numbered,
    shift_s: f64,
    tolerance_s: f64,
    fits: &dyn Fn(usize, usize) -> bool,
) -> Vec<[usize; 2]> {
    let alone = ALONE_RATIO * tolerance_s.max(f64::MIN_POSITIVE);
    let width = shots.len() + 1;
    // Least cost of what is left from the i-th dip and the j-th shot on, row by row from the end.
    let mut cost = vec![0.0; (dips.len() + 1) * width];
    let at = |cost: &[f64], i: usize, j: usize| cost.get(i * width + j).copied().unwrap_or(f64::INFINITY);
    let pair = |i: usize, j: usize| -> Option<f64> {
        let (dip, shot) = (dips.get(i)?, shots.get(j)?);
        let apart = (dip.1 - shot.1 - shift_s).abs();
        (apart <= tolerance_s && fits(dip.0, shot.0)).then_some(apart)
    };
    for i in (0..=dips.len()).rev() {
        for j in (0..=shots.len()).rev() {
            let mut least = f64::INFINITY;
            if i < dips.len() {
                least = least.min(alone + at(&cost, i + 1, j));
            }
            if j < shots.len() {
                least = least.min(alone + at(&cost, i, j + 1));
            }
            if let Some(apart) = pair(i, j) {
                least = least.min(apart + at(&cost, i + 1, j + 1));
            }
            if let Some(c) = cost.get_mut(i * width + j) {
                *c = if least.is_finite() { least } else { 0.0 };
            }
        }
    }
    let (mut i, mut j, mut out) = (0, 0, Vec::new());
    while i < dips.len() && j < shots.len() {
        let here = at(&cost, i, j);
        if pair(i, j).is_some_and(|apart| apart + at(&cost, i + 1, j + 1) <= here)
            && let (Some(dip), Some(shot)) = (dips.get(i), shots.get(j))
        {
            out.push([dip.0, shot.0]);
            i += 1;
            j += 1;
        } else if alone + at(&cost, i + 1, j) <= here {
            i += 1;
        } else {
            j += 1;
        }
    }
    out
}
