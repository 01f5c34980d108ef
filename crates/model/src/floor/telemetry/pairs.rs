//! Which found throw is which logged shot.

use super::Dip;

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
}

/// Method: dips and shots beyond this are not tried against each other for the clocks' shift; 300 each are
/// a long day.
const MOST_TRIED: usize = 300;

/// Pairs found throws with logged shots by time and order.
///
/// The two clocks may start apart: every difference of a dip's and a shot's time is tried as the shift, and
/// the one that pairs the most within `tolerance_s`, then the one with the least sum of differences, then
/// the one nearest zero is taken. Order is kept: a later dip is never paired with an earlier shot. With
/// `tolerance_s` infinite they are paired in order, first with first. Times that are not numbers stay alone.
pub fn match_shots(dips: &[Dip], shot_time_s: &[f64], tolerance_s: f64) -> Matched {
    let mut shots: Vec<(usize, f64)> = numbered(shot_time_s.iter().copied());
    let mut found: Vec<(usize, f64)> = numbered(dips.iter().map(|d| d.time_s));
    shots.sort_by(|a, b| a.1.total_cmp(&b.1));
    found.sort_by(|a, b| a.1.total_cmp(&b.1));
    let in_order = tolerance_s == f64::INFINITY;
    let mut best: Option<(usize, f64, f64, Vec<[usize; 2]>)> = None;
    if in_order {
        let pairs = found
            .iter()
            .zip(&shots)
            .map(|(d, s)| [d.0, s.0])
            .collect::<Vec<_>>();
        let shift_s = match (found.first(), shots.first()) {
            (Some(d), Some(s)) => d.1 - s.1,
            _ => 0.0,
        };
        best = Some((pairs.len(), 0.0, shift_s, pairs));
    } else if tolerance_s >= 0.0 {
        let tried = found
            .iter()
            .take(MOST_TRIED)
            .flat_map(|d| shots.iter().take(MOST_TRIED).map(move |s| d.1 - s.1));
        for shift_s in tried.chain([0.0]) {
            let (pairs, off_s) = walk(&found, &shots, shift_s, tolerance_s);
            let better = best.as_ref().is_none_or(|b| {
                let by_count = pairs.len().cmp(&b.0);
                by_count
                    .then(b.1.total_cmp(&off_s))
                    .then(b.2.abs().total_cmp(&shift_s.abs()))
                    .is_gt()
            });
            if better {
                best = Some((pairs.len(), off_s, shift_s, pairs));
            }
        }
    }
    let (_, _, shift_s, pairs) = best.unwrap_or_default();
    let alone = |count: usize, side: usize| {
        (0..count)
            .filter(|i| !pairs.iter().any(|p| p.get(side) == Some(i)))
            .collect()
    };
    Matched {
        dips_alone: alone(dips.len(), 0),
        shots_alone: alone(shot_time_s.len(), 1),
        shift_s,
        pairs,
    }
}

fn numbered(times: impl Iterator<Item = f64>) -> Vec<(usize, f64)> {
    times.enumerate().filter(|(_, t)| t.is_finite()).collect()
}

/// Pairs in rising time: of the two heads, the earlier goes alone when they are too far apart.
fn walk(
    dips: &[(usize, f64)],
    shots: &[(usize, f64)],
    shift_s: f64,
    tolerance_s: f64,
) -> (Vec<[usize; 2]>, f64) {
    let (mut pairs, mut off_s) = (Vec::new(), 0.0);
    let (mut d, mut s) = (dips.iter().peekable(), shots.iter().peekable());
    while let (Some(dip), Some(shot)) = (d.peek(), s.peek()) {
        let apart = dip.1 - (shot.1 + shift_s);
        if apart.abs() <= tolerance_s {
            pairs.push([dip.0, shot.0]);
            off_s += apart.abs();
            d.next();
            s.next();
        } else if apart > 0.0 {
            s.next();
        } else {
            d.next();
        }
    }
    (pairs, off_s)
}
