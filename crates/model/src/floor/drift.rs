//! Has the machine changed since it was learned? A few shots against what was learned, and what most likely changed.

use crate::numerics::gamma::chi_square_quantile;
use crate::numerics::minimum::bracketed_minimum;
use crate::numerics::moments::moments;
use crate::numerics::normal;
use crate::numerics::run_length::{
    bernoulli_lattice, bernoulli_run_length, cusum_alarm_within, cusum_run_length,
};

pub use crate::numerics::cusum::{CusumRun, bernoulli_cusum, cusum};

/// One thing seen of a shot, less what was predicted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Channel {
    /// Seen less predicted: in metres for a place, as a difference of logarithms for a speed.
    pub value: f64,
    /// Its standard deviation: scatter, measurement and doubt of what was learned together.
    pub sd: f64,
    /// Change of the prediction for one unit of ln v.
    pub by_speed_coeff: f64,
    /// For one radian of the release angle upward.
    pub by_angle_coeff: f64,
    /// For one radian of heading to the left.
    pub by_heading_coeff: f64,
}

/// What one shot showed against what was learned.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Innovation {
    /// Place along.
    pub along: Option<Channel>,
    /// Place across.
    pub across: Option<Channel>,
    /// Logarithm of the release speed, from telemetry or film.
    pub ln_speed: Option<Channel>,
    /// Place in its volley, from 0.
    pub place: u32,
    /// Battery voltage less that at which the machine was learned.
    pub voltage_step_v: Option<f64>,
}

/// How closely to watch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Watch {
    /// Reference k of the charts, in standard deviations: half the shift to be found.
    pub reference_ratio: f64,
    /// Limit h of the charts, in standard deviations.
    pub limit_ratio: f64,
    /// Standard deviation that all shots share, the doubt of what was learned, by the standard deviation of one.
    pub shared_ratio: f64,
}

/// For a check of about ten shots between matches.
pub const CHECK: Watch = Watch {
    reference_ratio: 0.5,
    limit_ratio: 4.0,
    shared_ratio: 0.0,
};
/// For a watch that goes on all the time.
pub const CONTINUOUS: Watch = Watch {
    limit_ratio: 5.0,
    ..CHECK
};

/// What a chart follows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Chart {
    /// Places along, up when it flies as if faster.
    Along,
    /// Places along, up when near and far spots differ as if the angle were higher.
    Angle,
    /// Places across, up to the left.
    Across,
    /// Release speeds.
    Speed,
    /// The spread of all of them.
    Spread,
}

/// A chart that called.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Alarm {
    /// Which.
    pub chart: Chart,
    /// At which innovation, from 0; none for the spread, which is judged at the end.
    pub at: Option<usize>,
    /// Up or down.
    pub up: bool,
}

/// What may have changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Change {
    /// Every throw leaves faster or slower by the same share.
    Speed,
    /// The release angle.
    Angle,
    /// The heading.
    Heading,
    /// Only the spread.
    Spread,
    /// Later throws of the volley are faster or slower, more so the later.
    LaterThrows,
    /// Speed follows the battery voltage.
    Voltage,
}

impl Change {
    /// Parts to look at first.
    pub fn suspects(self) -> &'static [&'static str] {
        match self {
            Change::Speed => &["wheel wear", "lower friction of the tread", "battery"],
            Change::Angle => &["guide", "hood"],
            Change::Heading => &["heading", "rails"],
            Change::Spread => &["new pieces", "worn tread"],
            Change::LaterThrows => &["battery", "controller"],
            Change::Voltage => &["battery"],
        }
    }
}

/// How well one change explains what was seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Explanation {
    /// The change.
    pub change: Change,
    /// Its share of the chance, all changes taken as equally likely before.
    pub share_frac: f64,
    /// Logarithm of how much likelier it makes what was seen than no change does.
    pub evidence_ratio: f64,
    /// Best guess: of ln v (speed), radians (angle, heading), factor of the spread, ln v at the last place of the volley
    /// (later throws), ln v for one volt (voltage).
    pub value: f64,
    /// Its standard deviation.
    pub sd: f64,
}

/// The smallest lasting changes that this check finds four times out of five; none where nothing was seen of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Findable {
    /// Of speed, as a share.
    pub speed_frac: Option<f64>,
    /// Of the angle alone, by its pattern over the spots or by its shift of all of them.
    pub angle_rad: Option<f64>,
    /// Of the heading.
    pub heading_rad: Option<f64>,
}

/// The verdict of a check.
#[derive(Clone, Debug, PartialEq)]
pub struct DriftCheck {
    /// A chart called. If not: nothing has changed that so many shots could show.
    pub changed: bool,
    /// Those that called.
    pub alarms: Vec<Alarm>,
    /// Innovations that carried something.
    pub shots: usize,
    /// Chance that some chart calls although nothing changed.
    pub false_alarm_frac: f64,
    /// What would have been found.
    pub findable: Findable,
    /// What may have changed, likeliest first. Worth reading only if something changed.
    pub ranked: Vec<Explanation>,
}

/// Compares a few shots, in the order thrown, with what was learned.
///
/// Charts of cumulated sums [page-1954] run over standardised innovations, cut at ±3, and the spread about their means is
/// compared with the 99 % quantile of χ². The false-alarm chance comes from the integral equations of
/// [`crate::numerics::run_length`], charts taken as independent. Explanations are ranked by marginal likelihood:
///
/// ```text
/// B = ∫ p(δ) Π f(zᵢ − bᵢ δ) dδ / Π f(zᵢ)      f(z) = 0.95 φ(z) + 0.05 φ(z/5)/5      δ ~ N(0, c²)
/// ```
///
/// with z = value/sd, b = sensitivity/sd of the change tried, c of 3 % (speed) or 0.03 rad. Channels of one shot count as
/// independent. `None` when nothing usable was seen (each sd must be positive, all numbers finite), or the watch is none.
pub fn check(innovations: &[Innovation], watch: Watch) -> Option<DriftCheck> {
    let seen: Vec<Innovation> = innovations.iter().map(only_usable).collect();
    let shots = seen
        .iter()
        .filter(|s| s.along.or(s.across).or(s.ln_speed).is_some())
        .count();
    if shots == 0 {
        return None;
    }
    let mut alarms = Vec::new();
    let mut quiet = 1.0;
    let (mut squares, mut freedom) = (0.0, 0.0);
    let charts = series(&seen);
    for (chart, places, z) in &charts {
        let run = cusum(z, watch.reference_ratio, watch.limit_ratio);
        if let Some(i) = run.first_alarm {
            alarms.push(Alarm {
                chart: *chart,
                at: places.get(i).copied(),
                up: run.upper.get(i) > run.lower.get(i),
            });
        }
        quiet *= 1.0 - false_alarm(watch, z.len() as u32);
        if *chart != Chart::Angle
            && z.len() > 1
            && let Some(m) = moments(&z.iter().map(|z| cut(*z)).collect::<Vec<_>>())
        {
            squares += m.sd * m.sd * (z.len() - 1) as f64;
            freedom += (z.len() - 1) as f64;
        }
    }
    if freedom > 0.0 {
        quiet *= 1.0 - SPREAD_ALPHA;
        if squares > chi_square_quantile(freedom, 1.0 - SPREAD_ALPHA) {
            alarms.push(Alarm {
                chart: Chart::Spread,
                at: None,
                up: true,
            });
        }
    }
    if !quiet.is_finite() {
        return None;
    }
    Some(DriftCheck {
        changed: !alarms.is_empty(),
        alarms,
        shots,
        false_alarm_frac: 1.0 - quiet,
        findable: findable(&seen, &charts, watch),
        ranked: explanations(&seen),
    })
}

/// Method: chance of a false call by the spread alone.
const SPREAD_ALPHA: f64 = 0.01;

fn cut(z: f64) -> f64 {
    z.clamp(-crate::numerics::cusum::CUT, crate::numerics::cusum::CUT)
}

fn only_usable(innovation: &Innovation) -> Innovation {
    let keep = |channel: Option<Channel>| {
        channel.filter(|c| {
            let numbers = [c.value, c.by_speed_coeff, c.by_angle_coeff, c.by_heading_coeff];
            c.sd > 0.0 && numbers.iter().all(|x| (x / c.sd).is_finite())
        })
    };
    Innovation {
        along: keep(innovation.along),
        across: keep(innovation.across),
        ln_speed: keep(innovation.ln_speed),
        voltage_step_v: innovation.voltage_step_v.filter(|v| v.is_finite()),
        ..*innovation
    }
}

type Series = (Chart, Vec<usize>, Vec<f64>);

/// Standardised values of each chart with the places of their innovations; charts without any are left out.
fn series(seen: &[Innovation]) -> Vec<Series> {
    let along: Vec<(usize, Channel)> = channels(seen, |s| s.along);
    // What an angle does beyond what a speed does: its part across the pattern of the speed.
    let dot = |f: fn(&Channel) -> f64, g: fn(&Channel) -> f64| -> f64 {
        along.iter().map(|(_, c)| f(c) * g(c) / (c.sd * c.sd)).sum()
    };
    let speed = |c: &Channel| c.by_speed_coeff;
    let angle = |c: &Channel| c.by_angle_coeff;
    let (speed_square, angle_square) = (dot(speed, speed), dot(angle, angle));
    let common = if speed_square > 0.0 {
        dot(speed, angle) / speed_square
    } else {
        0.0
    };
    let left = angle_square - common * common * speed_square;
    let mut out: Vec<Series> = Vec::new();
    let mut add = |chart, pairs: &[(usize, Channel)], sign: &dyn Fn(&Channel) -> f64| {
        let (places, z): (Vec<usize>, Vec<f64>) = pairs
            .iter()
            .filter(|(_, c)| sign(c) != 0.0)
            .map(|(i, c)| (*i, c.value / c.sd * sign(c).signum()))
            .unzip();
        if !z.is_empty() {
            out.push((chart, places, z));
        }
    };
    add(Chart::Along, &along, &|c| {
        if c.by_speed_coeff == 0.0 {
            1.0
        } else {
            c.by_speed_coeff
        }
    });
    if left > OWN_PATTERN * angle_square {
        add(Chart::Angle, &along, &|c| {
            c.by_angle_coeff - common * c.by_speed_coeff
        });
    }
    add(Chart::Across, &channels(seen, |s| s.across), &|_| 1.0);
    add(Chart::Speed, &channels(seen, |s| s.ln_speed), &|_| 1.0);
    out
}

/// Method: less than a hundredth of its effect of its own, and the angle cannot be told from the speed by five shots.
const OWN_PATTERN: f64 = 0.01;

fn channels(seen: &[Innovation], of: impl Fn(&Innovation) -> Option<Channel>) -> Vec<(usize, Channel)> {
    let each = seen.iter().enumerate();
    each.filter_map(|(i, s)| of(s).map(|c| (i, c))).collect()
}

/// Chance that one chart calls within `count` values although nothing changed: averaged over what all of them share.
fn false_alarm(watch: Watch, count: u32) -> f64 {
    let own = (1.0 - watch.shared_ratio * watch.shared_ratio).sqrt();
    if !(own > 0.0 && watch.shared_ratio >= 0.0) {
        return f64::NAN;
    }
    let (k, h) = (watch.reference_ratio / own, watch.limit_ratio / own);
    if watch.shared_ratio == 0.0 {
        return cusum_alarm_within(k, h, 0.0, count);
    }
    let at = |i: u32| {
        let shift = normal::quantile((f64::from(i) + 0.5) / f64::from(SHARES)) * watch.shared_ratio / own;
        cusum_alarm_within(k, h, shift, count)
    };
    (0..SHARES).map(at).sum::<f64>() / f64::from(SHARES)
}

/// Method: the shared shift is averaged over this many equally likely values.
const SHARES: u32 = 16;

/// Shift of the mean, in standard deviations, that a chart finds within `count` values four times out of five.
pub fn findable_shift_ratio(watch: Watch, count: u32) -> f64 {
    let (mut low, mut high) = (0.0, LARGEST_SHIFT);
    for _ in 0..SHIFT_HALVINGS {
        let middle = 0.5 * (low + high);
        if cusum_alarm_within(watch.reference_ratio, watch.limit_ratio, middle, count) >= FOUND {
            high = middle;
        } else {
            low = middle;
        }
    }
    if high == LARGEST_SHIFT {
        f64::INFINITY
    } else {
        high
    }
}

/// Method: a change counts as findable when four checks of five find it.
const FOUND: f64 = 0.8;
/// Method: the charts know no larger shift; one value cut at 3 could not tell it.
const LARGEST_SHIFT: f64 = 20.0;
/// Convergence: to 1e-5 standard deviations.
const SHIFT_HALVINGS: u32 = 21;

fn findable(seen: &[Innovation], charts: &[Series], watch: Watch) -> Findable {
    let least = |chart: Chart, pairs: &[(usize, Channel)], by: fn(&Channel) -> f64| {
        let places = charts
            .iter()
            .find(|(c, _, _)| *c == chart)
            .map(|(_, places, _)| places)?;
        let shift = findable_shift_ratio(watch, places.len() as u32);
        let mean = pairs.iter().map(|(_, c)| (by(c) / c.sd).abs()).sum::<f64>() / pairs.len() as f64;
        (mean > 0.0 && shift.is_finite()).then(|| shift / mean)
    };
    let along = channels(seen, |s| s.along);
    let speeds = channels(seen, |s| s.ln_speed);
    let by_places = least(Chart::Along, &along, |c| c.by_speed_coeff);
    let by_speeds = least(Chart::Speed, &speeds, |c| c.by_speed_coeff);
    let smaller = |a: Option<f64>, b: Option<f64>| a.into_iter().chain(b).reduce(f64::min);
    Findable {
        speed_frac: smaller(by_places, by_speeds),
        angle_rad: least(Chart::Along, &along, |c| c.by_angle_coeff),
        heading_rad: least(Chart::Across, &channels(seen, |s| s.across), |c| {
            c.by_heading_coeff
        }),
    }
}

/// Changes of one number, what it multiplies, and how large it is taken to be before anything was seen.
fn explanations(seen: &[Innovation]) -> Vec<Explanation> {
    let last = seen.iter().map(|s| s.place).max().unwrap_or(0);
    let late = |s: &Innovation| f64::from(s.place) / f64::from(last.max(1));
    let mut tried: Vec<Explanation> = Vec::new();
    let mut values = Vec::new();
    let mut patterns: [(Change, f64, Vec<f64>); 5] = [
        (Change::Speed, SPEED_PRIOR, Vec::new()),
        (Change::Angle, ANGLE_PRIOR, Vec::new()),
        (Change::Heading, ANGLE_PRIOR, Vec::new()),
        (Change::LaterThrows, SPEED_PRIOR, Vec::new()),
        (Change::Voltage, SPEED_PRIOR, Vec::new()),
    ];
    for s in seen {
        for c in [s.along, s.across, s.ln_speed].into_iter().flatten() {
            values.push(c.value / c.sd);
            for (change, _, pattern) in &mut patterns {
                let by = match change {
                    Change::Speed => c.by_speed_coeff,
                    Change::Angle => c.by_angle_coeff,
                    Change::Heading => c.by_heading_coeff,
                    Change::LaterThrows => c.by_speed_coeff * late(s),
                    Change::Voltage => c.by_speed_coeff * s.voltage_step_v.unwrap_or(0.0),
                    Change::Spread => 0.0,
                };
                pattern.push(by / c.sd);
            }
        }
    }
    for (change, prior, pattern) in &patterns {
        let square: f64 = pattern.iter().map(|b| b * b).sum();
        if !(square > 0.0 && square.is_finite()) {
            continue;
        }
        let fit = |delta: f64| -> f64 {
            let each = values.iter().zip(pattern);
            each.map(|(z, b)| log_density(z - b * delta, 1.0)).sum()
        };
        let range = [-FARTHEST * prior, FARTHEST * prior];
        tried.extend(marginal(*change, *prior, range, 1.0 / square.sqrt(), fit));
    }
    // In the logarithm of the factor; less spread is no trouble.
    let fit = |x: f64| -> f64 {
        let factor = libm::exp(x);
        values.iter().map(|z| log_density(*z, factor)).sum()
    };
    let sd = 1.0 / (2.0 * values.len() as f64).sqrt();
    let range = [0.0, FARTHEST * SPREAD_PRIOR];
    tried.extend(marginal(Change::Spread, SPREAD_PRIOR, range, sd, fit));
    let most = tried
        .iter()
        .map(|t| t.evidence_ratio)
        .fold(f64::NEG_INFINITY, f64::max);
    let sum: f64 = tried.iter().map(|t| libm::exp(t.evidence_ratio - most)).sum();
    for t in &mut tried {
        t.share_frac = libm::exp(t.evidence_ratio - most) / sum;
    }
    tried.sort_by(|a, b| b.share_frac.total_cmp(&a.share_frac));
    tried
}

/// Method: size of a change that is not surprising (common practice, no source).
const SPEED_PRIOR: f64 = 0.03;
/// Method: nearly two degrees (common practice, no source).
const ANGLE_PRIOR: f64 = 0.03;
/// Method: standard deviation of the logarithm of a growth of the spread.
const SPREAD_PRIOR: f64 = 0.5;
/// Method: changes up to so many of those.
const FARTHEST: f64 = 6.0;
/// Method: places looked at over the range, and then about the best.
const POINTS: u32 = 240;
/// Method: so many standard deviations about the best place hold all that counts.
const REACH: f64 = 10.0;

/// Evidence, mean and deviation of a change of one number within `range`, normal beforehand with deviation `prior`;
/// `fit` is the logarithm of the likelihood, about as wide as `sd`.
fn marginal(
    change: Change,
    prior: f64,
    [low, high]: [f64; 2],
    sd: f64,
    fit: impl Fn(f64) -> f64,
) -> Option<Explanation> {
    let score = |x: f64| fit(x) - 0.5 * (x / prior).powi(2);
    let step = (high - low) / f64::from(POINTS);
    let mut best = (low, f64::NEG_INFINITY);
    for x in (0..=POINTS).map(|i| low + f64::from(i) * step) {
        let s = score(x);
        if s > best.1 {
            best = (x, s);
        }
    }
    let beside = [(best.0 - step).max(low), (best.0 + step).min(high)];
    let (peak, _) = bracketed_minimum(|x| -score(x), beside[0], best.0, beside[1], 0.01 * sd.min(step));
    let window = [(peak - REACH * sd).max(low), (peak + REACH * sd).min(high)];
    let step = (window[1] - window[0]) / f64::from(POINTS);
    let points: Vec<(f64, f64)> = (0..POINTS)
        .map(|i| window[0] + (f64::from(i) + 0.5) * step)
        .map(|x| (x, score(x)))
        .collect();
    let most = points.iter().map(|(_, s)| *s).fold(f64::NEG_INFINITY, f64::max);
    let weigh = |s: f64| libm::exp(s - most);
    let sum: f64 = points.iter().map(|(_, s)| weigh(*s)).sum();
    // The spread grows only, so its prior is half a normal distribution.
    let spread = change == Change::Spread;
    let whole = prior * std::f64::consts::TAU.sqrt() * if spread { 0.5 } else { 1.0 };
    let value = |x: f64| if spread { libm::exp(x) } else { x };
    let mean = points.iter().map(|(x, s)| value(*x) * weigh(*s)).sum::<f64>() / sum;
    let square = points
        .iter()
        .map(|(x, s)| (value(*x) - mean).powi(2) * weigh(*s))
        .sum::<f64>();
    let evidence = most + libm::log(sum * step / whole) - fit(0.0);
    evidence.is_finite().then_some(Explanation {
        change,
        share_frac: 0.0,
        evidence_ratio: evidence,
        value: mean,
        sd: (square / sum).sqrt(),
    })
}

/// Logarithm of the density of a value with a core and flyers, both widened by a factor; without 1/√(2π).
fn log_density(z: f64, factor: f64) -> f64 {
    let r = z / factor;
    let core = (1.0 - FLYER_FRAC) * libm::exp(-0.5 * r * r);
    let wide = r / FLYER_SCALE;
    let flyer = libm::log(FLYER_FRAC / FLYER_SCALE) - 0.5 * wide * wide;
    // Far out the core is nothing, and only the logarithm of the flyers is left.
    flyer + libm::log1p(core * libm::exp(-flyer)) - libm::log(factor)
}

/// Method: share of shots that are flyers (common practice, no source).
const FLYER_FRAC: f64 = 0.05;
/// Method: by how much they scatter more (common practice, no source).
const FLYER_SCALE: f64 = 5.0;

/// A watch over hits and misses alone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HitMissWatch {
    /// The shot, from 0, at which it called.
    pub alarm_at: Option<usize>,
    /// Shots from one false alarm to the next, on average.
    pub false_alarm_every_count: f64,
    /// Shots until it calls when misses have become as frequent as feared, on average.
    pub found_after_count: f64,
    /// The same when each miss is measured, with a chart that gives as many false alarms.
    pub measured_found_after_count: f64,
    /// How many times as many shots it needs as measured ones.
    pub slower_ratio: f64,
}

/// Watches a log that says only hit or miss, for the miss rate to rise from `usual_frac` to `feared_frac`.
///
/// The chart of [`bernoulli_cusum`] with limit `limit_ratio` (3 by default, about one false alarm in 460 shots at 10 %
/// misses watched for 25 %). It is compared with a chart over measured misses with the same false alarms, for the shift of
/// the mean that makes misses so frequent. `None` unless 0 < usual < feared < 1 and the limit is positive.
pub fn watch_misses(
    missed: &[bool],
    usual_frac: f64,
    feared_frac: f64,
    limit_ratio: f64,
) -> Option<HitMissWatch> {
    let m = bernoulli_lattice(usual_frac, feared_frac)?;
    let false_alarm_every_count = bernoulli_run_length(usual_frac, m, limit_ratio);
    let found_after_count = bernoulli_run_length(feared_frac, m, limit_ratio);
    if !(false_alarm_every_count.is_finite() && found_after_count.is_finite()) {
        return None;
    }
    let edge = -normal::quantile(0.5 * usual_frac);
    let shift = rising_root(LARGEST_SHIFT, |d| {
        normal::cdf(-edge - d) + normal::cdf(d - edge) - feared_frac
    });
    let reference = 0.5 * shift;
    let limit = rising_root(LARGEST_SHIFT, |h| {
        cusum_run_length(reference, h, 0.0) - false_alarm_every_count
    });
    let measured_found_after_count = cusum_run_length(reference, limit, shift);
    Some(HitMissWatch {
        alarm_at: bernoulli_cusum(missed, m, limit_ratio),
        false_alarm_every_count,
        found_after_count,
        measured_found_after_count,
        slower_ratio: found_after_count / measured_found_after_count,
    })
}

/// Where a rising function passes zero between 0 and `high`.
fn rising_root(high: f64, f: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (0.0, high);
    for _ in 0..SHIFT_HALVINGS {
        let middle = 0.5 * (low + high);
        if f(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

#[cfg(test)]
#[path = "drift_tests.rs"]
mod tests;
