//! Throws in a log: where the wheel falls fast, by more than the noise, and does not fall on.

use super::{Repaired, line_at, median};

/// Method: rows over this long before a fall give the speed before.
const BEFORE_S: f64 = 0.12;
/// Physical: a piece is in contact for less than this; what falls for longer is the wheel being slowed.
const FALL_S: f64 = 0.15;
/// Method: rows over this long show how the wheel was changing before.
const TREND_S: f64 = 0.25;
/// Method: rows over this long after the fall give the speed after.
const AFTER_S: f64 = 0.05;
/// Method: a fall counts from this many standard deviations of the noise. A comparison of middle values of
/// thousands of rows of pure noise stays below (tested).
const LEAST_SIGMAS: f64 = 6.0;
/// Method: and from this many steps of a speed that comes in steps.
const LEAST_STEPS: f64 = 2.5;
/// Physical: a piece that takes less than this share of the wheel's speed is not worth a row.
const LEAST_FRAC: f64 = 0.006;
/// Physical: below this share of the highest speed the wheel is not meant to throw.
const SPINNING_FRAC: f64 = 0.2;
/// Method: after the fall the wheel may fall on by this share of it, not more; a wheel switched off does.
const FALL_ON_FRAC: f64 = 0.25;

/// One throw as the log shows it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dip {
    /// When the wheel begins to fall, to within one row.
    pub time_s: f64,
    /// Wheel speed before: the speed of release.
    pub before_radps: f64,
    /// Standard error of it.
    pub before_sd_radps: f64,
    /// Wheel speed after the piece has left.
    pub after_radps: f64,
    /// Standard error of it; a log with long steps has missed part of the dip and says so here.
    pub after_sd_radps: f64,
    /// Loss over the speed before.
    pub dip_frac: f64,
    /// From the foot of the fall until the wheel is first back in the band; `None` if it is not before the next
    /// throw, a gap or the end.
    pub recovery_s: Option<f64>,
    /// Battery voltage before the throw, where it is logged.
    pub battery_v: Option<f64>,
    /// Lowest battery voltage until the wheel was back, where it is logged.
    pub lowest_v: Option<f64>,
}

/// All throws of a log.
#[derive(Clone, Debug, PartialEq)]
pub struct Dips {
    /// The throws in order.
    pub dips: Vec<Dip>,
    /// Noise of the wheel speed from row to row, standard deviation.
    pub noise_radps: f64,
    /// Step in which the wheel speed comes; 0 if it comes in none.
    pub step_radps: f64,
    /// Falls smaller than this are not looked at.
    pub smallest_radps: f64,
}

/// Finds the throws and measures each.
///
/// A row begins a throw when all of these hold:
///
/// ```text
/// before − after ≥ max(6 σ, 2.5 q, 0.6 % of before)
/// before: middle value of the rows over the 0.12 s that end here
/// after:  lowest running middle of three within the next 0.15 s (two rows at least)
/// the wheel turns at 20 % of its highest speed or more, no gap lies between,
/// in the 0.15 s after the foot it does not fall on by more than 25 % of the fall (or it rises),
/// the fall less what a straight line through the 0.25 s before would have lost is still as large, and at
/// least half of it, and the setpoint, where logged, does not fall
/// ```
///
/// with the noise σ = 1.4826 · median |w₋ − 2 w + w₊|/√6 (median absolute deviation \[hampel-1974\] of second
/// differences, which leave straight stretches out) and q the step of a quantised speed. The speed before is a
/// straight line through those rows, taken at the last of them; the speed after one through the 0.05 s behind the
/// foot, taken at the foot. Recovery is judged against the setpoint where it is logged, else against the speed
/// before, with `band_frac` as half width.
pub fn find_dips(log: &Repaired, band_frac: f64) -> Dips {
    let (time, wheel) = (&log.log.time_s, &log.log.wheel_radps);
    let noise_radps = noise(log);
    let step_radps = quantum(wheel);
    let floor = (LEAST_SIGMAS * noise_radps).max(LEAST_STEPS * step_radps);
    let top = wheel.iter().copied().fold(0.0, f64::max);
    let smooth = middles(wheel);
    let mut found: Vec<Span> = Vec::new();
    let mut from = 0;
    let mut i = 0;
    while i + 1 < time.len() {
        if log.is_gap(i) {
            i += 1;
            from = i;
            continue;
        }
        match fall(log, &smooth, from, i, floor, top) {
            Some(span) => {
                i = span.foot.max(i + 1);
                from = span.foot;
                found.push(span);
            }
            None => i += 1,
        }
    }
    let sigma = noise_radps.max(step_radps / 12f64.sqrt());
    let dips = (0..found.len())
        .filter_map(|n| {
            let span = found.get(n)?;
            let previous = n.checked_sub(1).and_then(|p| found.get(p)).map_or(0, |p| p.foot);
            let next = found.get(n + 1).map_or(time.len(), |s| s.start + 1);
            Some(measure(log, &smooth, span, previous, next, sigma, band_frac))
        })
        .collect();
    Dips {
        dips,
        noise_radps,
        step_radps,
        smallest_radps: floor.max(LEAST_FRAC * top),
    }
}

/// Rows of a fall: the last before it and the lowest.
#[derive(Clone, Copy, Debug)]
struct Span {
    start: usize,
    foot: usize,
}

fn at(column: &[f64], i: usize) -> f64 {
    column.get(i).copied().unwrap_or(f64::NAN)
}

/// Rows `from..=i` that lie within `long_s` before row `i`.
fn rows_before(time: &[f64], from: usize, i: usize, long_s: f64) -> usize {
    let mut first = i;
    while first > from && at(time, i) - at(time, first - 1) <= long_s {
        first -= 1;
    }
    first
}

fn fall(log: &Repaired, smooth: &[f64], from: usize, i: usize, floor: f64, top: f64) -> Option<Span> {
    let (time, wheel) = (&log.log.time_s, &log.log.wheel_radps);
    let first = rows_before(time, from, i, BEFORE_S);
    let before = median(wheel.get(first..=i)?);
    // A middle value lags behind a wheel that rises; its latest rows count as well.
    let before = before.max(at(smooth, i).min(at(wheel, i)));
    let least = floor.max(LEAST_FRAC * before);
    if before < SPINNING_FRAC * top || !(least > 0.0) {
        return None;
    }
    let foot = lowest(log, smooth, i)?;
    let drop = before - at(smooth, foot);
    if drop < least {
        return None;
    }
    // It begins at the last row that is still up: within a quarter of the fall.
    let start = (i..foot).rev().find(|k| before - at(wheel, *k) < 0.25 * drop)?;
    if start != i && before - at(smooth, i) < 0.1 * drop {
        // The fall begins later than this row: let the scan come to it.
        let later = rows_before(time, from, start, BEFORE_S);
        if median(wheel.get(later..=start)?) - at(smooth, foot) >= least && start > i {
            return None;
        }
    }
    // A wheel switched off falls on; a wheel that has thrown does not.
    let mut end = foot;
    while end + 1 < time.len()
        && !log.is_gap(end)
        && at(time, end + 1) - at(time, foot) <= FALL_S.max(2.1 * log.step_s)
    {
        end += 1;
    }
    let on = at(smooth, foot)
        - smooth
            .get(foot..=end)?
            .iter()
            .copied()
            .fold(f64::INFINITY, f64::min);
    let rises = smooth
        .get(foot..=end)?
        .iter()
        .any(|w| *w > at(smooth, foot) + 0.1 * drop + 0.5 * floor);
    // What the wheel would have lost anyway, had it gone on as before.
    let trend = rows_before(time, from, i, TREND_S);
    let lost = slope(time.get(trend..=i)?, wheel.get(trend..=i)?).min(0.0);
    let own = drop + lost * (at(time, foot) - 0.5 * (at(time, first) + at(time, i)));
    let last_rows = end == foot;
    if last_rows || (on > FALL_ON_FRAC * drop && !rises) || own < least.max(0.5 * drop) {
        return None;
    }
    if let Some(setpoint) = &log.log.setpoint_radps {
        let (was, is) = (at(setpoint, start), at(setpoint, foot));
        if was - is > 0.5 * drop {
            return None;
        }
    }
    Some(Span { start, foot })
}

/// Slope of a straight line by least squares; 0 where there is none.
fn slope(time: &[f64], wheel: &[f64]) -> f64 {
    let n = time.len() as f64;
    let (t, w) = (time.iter().sum::<f64>() / n, wheel.iter().sum::<f64>() / n);
    let each = || time.iter().zip(wheel);
    let found = each().map(|(a, b)| (a - t) * (b - w)).sum::<f64>()
        / each().map(|(a, _)| (a - t).powi(2)).sum::<f64>();
    if time.len() > 2 && found.is_finite() {
        found
    } else {
        0.0
    }
}

/// Lowest row of the fall that begins at `i`: within the longest contact, and not across a gap.
fn lowest(log: &Repaired, smooth: &[f64], i: usize) -> Option<usize> {
    let time = &log.log.time_s;
    let mut best: Option<usize> = None;
    let mut k = i;
    while k + 1 < time.len() && !log.is_gap(k) {
        k += 1;
        if k > i + 2 && at(time, k) - at(time, i) > FALL_S {
            break;
        }
        if best.is_none_or(|b| at(smooth, k) < at(smooth, b)) {
            best = Some(k);
        }
    }
    best
}

fn measure(
    log: &Repaired,
    smooth: &[f64],
    span: &Span,
    previous_foot: usize,
    next: usize,
    sigma: f64,
    band_frac: f64,
) -> Dip {
    let (time, wheel) = (&log.log.time_s, &log.log.wheel_radps);
    let point = |k: usize| [at(time, k), at(wheel, k)];
    let (start, foot) = (span.start, span.foot);
    let first = rows_before(time, previous_foot, start, BEFORE_S);
    let before: Vec<[f64; 2]> = (first..=start)
        .filter(|k| !(first..*k).any(|g| log.is_gap(g)))
        .map(point)
        .collect();
    let start_s = at(time, start);
    let (before_radps, before_sd_radps) = line_at(&before, start_s, sigma);
    let foot_s = at(time, foot);
    let mut last = foot;
    while last + 1 < next.min(time.len()) && !log.is_gap(last) && at(time, last + 1) - foot_s <= AFTER_S {
        last += 1;
    }
    let after: Vec<[f64; 2]> = (foot..=last).map(point).collect();
    let (after_radps, noise_sd) = line_at(&after, foot_s, sigma);
    // The foot lies up to a row before the one that was logged; the wheel rose meanwhile.
    let rise_radps = rise_rate(time, smooth, foot, next) * log.step_s;
    let after_sd_radps = noise_sd.hypot(rise_radps / 3f64.sqrt());
    let level = log
        .log
        .setpoint_radps
        .as_ref()
        .map(|s| at(s, start))
        .filter(|s| s.is_finite() && *s > 0.0)
        .unwrap_or(before_radps);
    let wanted = (1.0 - band_frac) * level;
    let mut recovery_s = None;
    let mut back = foot;
    for k in foot..next.min(time.len()) {
        back = k;
        if at(smooth, k) >= wanted {
            let (below, t) = (at(smooth, k.saturating_sub(1)), at(time, k.saturating_sub(1)));
            let share = ((wanted - below) / (at(smooth, k) - below)).clamp(0.0, 1.0);
            let reached = if k > foot && share.is_finite() {
                t + share * (at(time, k) - t)
            } else {
                at(time, k)
            };
            recovery_s = Some((reached - foot_s).max(0.0));
            break;
        }
        if log.is_gap(k) {
            break;
        }
    }
    let volts = |range: std::ops::RangeInclusive<usize>| -> Vec<f64> {
        let column = log.log.battery_v.as_deref().unwrap_or(&[]);
        let own = column.get(range).unwrap_or(&[]);
        own.iter().copied().filter(|v| v.is_finite()).collect()
    };
    let lowest_v = volts(start..=back).into_iter().fold(f64::INFINITY, f64::min);
    Dip {
        time_s: start_s,
        before_radps,
        before_sd_radps,
        after_radps,
        after_sd_radps,
        dip_frac: (before_radps - after_radps) / before_radps,
        recovery_s,
        battery_v: Some(median(&volts(first..=start))).filter(|v| v.is_finite()),
        lowest_v: Some(lowest_v).filter(|v| v.is_finite()),
    }
}

/// How fast the wheel comes back over the first rows behind the foot.
fn rise_rate(time: &[f64], smooth: &[f64], foot: usize, next: usize) -> f64 {
    let end = (foot + 3).min(next.min(time.len()).saturating_sub(1));
    let rate = (at(smooth, end) - at(smooth, foot)) / (at(time, end) - at(time, foot));
    if rate.is_finite() { rate.max(0.0) } else { 0.0 }
}

/// Running middle of three; the ends as they are.
fn middles(wheel: &[f64]) -> Vec<f64> {
    (0..wheel.len())
        .map(
            |i| match (i.checked_sub(1).and_then(|p| wheel.get(p)), wheel.get(i + 1)) {
                (Some(a), Some(b)) => median(&[*a, at(wheel, i), *b]),
                _ => at(wheel, i),
            },
        )
        .collect()
}

fn noise(log: &Repaired) -> f64 {
    let wheel = &log.log.wheel_radps;
    let top = wheel.iter().copied().fold(0.0, f64::max);
    let bends: Vec<f64> = (1..wheel.len().saturating_sub(1))
        .filter(|i| !log.is_gap(i - 1) && !log.is_gap(*i) && at(wheel, *i) >= SPINNING_FRAC * top)
        .map(|i| (at(wheel, i - 1) - 2.0 * at(wheel, i) + at(wheel, i + 1)).abs())
        .collect();
    let sd = 1.4826 * median(&bends) / 6f64.sqrt();
    if sd.is_finite() { sd } else { 0.0 }
}

/// Method: a speed that shows this many different values per row or more comes in no steps worth a word.
const STEPPED_FRAC: f64 = 0.5;

/// Step of a quantised speed: the usual distance between neighbouring values that occur, where few do.
fn quantum(wheel: &[f64]) -> f64 {
    let mut values = wheel.to_vec();
    values.sort_by(f64::total_cmp);
    let rounding = 1e-9 * values.last().map_or(0.0, |w| w.abs());
    let apart: Vec<f64> = values
        .iter()
        .zip(values.iter().skip(1))
        .map(|(a, b)| b - a)
        .filter(|d| *d > rounding)
        .collect();
    if apart.is_empty() || (apart.len() as f64) > STEPPED_FRAC * values.len() as f64 {
        return 0.0;
    }
    // Seldom values leave holes of several steps, so the smallest common distance counts.
    let mut sorted = apart;
    sorted.sort_by(f64::total_cmp);
    at(&sorted, sorted.len() / 4)
}
