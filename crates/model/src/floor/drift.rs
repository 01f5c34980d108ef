//! Has the machine changed since it was learned? A few shots against what was learned, and what most likely changed.

use crate::numerics::gamma::chi_square_quantile;
use crate::numerics::moments::moments;
use crate::numerics::normal;
use crate::numerics::run_length::{cusum_alarm_within, cusum_run_length};

mod explain;
mod misses;

pub use crate::numerics::cusum::{CusumRun, bernoulli_cusum, cusum};
use explain::explanations;

pub use misses::{HitMissWatch, watch_misses};

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
    /// Logarithm of the wheel speed before the throw by that asked for. The others are predicted from the wheel as measured.
    pub wheel: Option<Channel>,
    /// More readings of the same shot, each as far as those before it do not explain it: they help to say what changed,
    /// and no chart follows them.
    pub beside: [Option<Channel>; 3],
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
    /// Wheel speeds before the throw, by those asked for.
    Wheel,
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
    /// The wheel is not as fast before the throw as it was for the same command.
    WheelSpeed,
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
            Change::WheelSpeed => &["controller", "battery", "speed sensor"],
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

/// One chart as it ran.
#[derive(Clone, Debug, PartialEq)]
pub struct ChartRun {
    /// Which.
    pub chart: Chart,
    /// Places of its values among the innovations.
    pub places: Vec<usize>,
    /// Standardised values, not cut.
    pub z: Vec<f64>,
    /// Cumulated sums.
    pub run: CusumRun,
}

/// The verdict of a check.
#[derive(Clone, Debug, PartialEq)]
pub struct DriftCheck {
    /// A chart called. If not: nothing has changed that so many shots could show.
    pub changed: bool,
    /// Those that called.
    pub alarms: Vec<Alarm>,
    /// All that ran over cumulated sums.
    pub charts: Vec<ChartRun>,
    /// How closely it was watched.
    pub watch: Watch,
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
        .filter(|s| s.along.or(s.across).or(s.ln_speed).or(s.wheel).is_some())
        .count();
    if shots == 0 {
        return None;
    }
    let mut alarms = Vec::new();
    let mut runs = Vec::new();
    let mut quiet = 1.0;
    let (mut squares, mut freedom) = (0.0, 0.0);
    let charts = series(&seen);
    let counts: Vec<u32> = charts.iter().map(|(_, _, z)| z.len() as u32).collect();
    let each = once_for_each(&counts, |n| 1.0 - called(watch, 0.0, n));
    quiet *= each.iter().product::<f64>();
    for (chart, places, z) in &charts {
        let run = cusum(z, watch.reference_ratio, watch.limit_ratio);
        if let Some(i) = run.first_alarm {
            alarms.push(Alarm {
                chart: *chart,
                at: places.get(i).copied(),
                up: run.upper.get(i) > run.lower.get(i),
            });
        }
        if *chart != Chart::Angle
            && z.len() > 1
            && let Some(m) = moments(&z.iter().map(|z| cut(*z)).collect::<Vec<_>>())
        {
            squares += m.sd * m.sd * (z.len() - 1) as f64;
            freedom += (z.len() - 1) as f64;
        }
        runs.push(ChartRun {
            chart: *chart,
            places: places.clone(),
            z: z.clone(),
            run,
        });
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
        charts: runs,
        watch,
        shots,
        false_alarm_frac: 1.0 - quiet,
        findable: findable(&seen, &charts, watch),
        ranked: explanations(&seen),
    })
}

/// As [`check`], with the limit of [`CHECK`] raised as far as keeps the chance of a false alarm below one in eight: many
/// shots, or a doubt that all of them share, would else call of themselves.
///
/// `None` as there.
pub fn check_between(innovations: &[Innovation], shared_ratio: f64) -> Option<DriftCheck> {
    let mut watch = Watch {
        shared_ratio: shared_ratio.clamp(0.0, MOST_SHARED),
        ..CHECK
    };
    let seen: Vec<Innovation> = innovations.iter().map(only_usable).collect();
    let counts: Vec<u32> = series(&seen).iter().map(|(_, _, z)| z.len() as u32).collect();
    let false_alarm = |watch: Watch| {
        let each = once_for_each(&counts, |n| 1.0 - called(watch, 0.0, n));
        1.0 - each.iter().product::<f64>() * (1.0 - SPREAD_ALPHA)
    };
    let at = |steps: u32| Watch {
        limit_ratio: CHECK.limit_ratio + LIMIT_STEP * f64::from(steps),
        ..watch
    };
    // The chance falls with the limit: the least limit that keeps it low enough, by halving.
    let (mut low, mut high) = (0, LIMIT_STEPS);
    while low < high {
        let middle = (low + high) / 2;
        if false_alarm(at(middle)) > MOST_FALSE {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    watch = at(low);
    check(innovations, watch)
}

/// Method: false alarms in one check of eight are the most that anybody keeps listening to (common practice, no source).
const MOST_FALSE: f64 = 0.125;
/// Method: steps in which the limit is raised.
const LIMIT_STEP: f64 = 0.5;
/// Method: so many steps up no shots of a day call.
const LIMIT_STEPS: u32 = 52;
/// Method: with more than this share in common the shots say nothing of their own.
const MOST_SHARED: f64 = 0.95;

/// A function of counts of values, worked out once for each count: charts mostly have as many.
fn once_for_each(counts: &[u32], of: impl Fn(u32) -> f64) -> Vec<f64> {
    let mut known: Vec<(u32, f64)> = Vec::new();
    let mut one = |n: &u32| match known.iter().find(|k| k.0 == *n) {
        Some(k) => k.1,
        None => {
            let value = of(*n);
            known.push((*n, value));
            value
        }
    };
    counts.iter().map(&mut one).collect()
}

/// Values from one false alarm of one chart to the next, and values until it calls when the mean has shifted by one and by
/// two standard deviations; on average, in a watch that goes on.
pub fn run_lengths(watch: Watch) -> [f64; 3] {
    [0.0, 1.0, 2.0].map(|shift| cusum_run_length(watch.reference_ratio, watch.limit_ratio, shift))
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
        wheel: keep(innovation.wheel),
        beside: innovation.beside.map(keep),
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
    add(Chart::Wheel, &channels(seen, |s| s.wheel), &|_| 1.0);
    out
}

/// Method: less than a hundredth of its effect of its own, and the angle cannot be told from the speed by five shots.
const OWN_PATTERN: f64 = 0.01;

fn channels(seen: &[Innovation], of: impl Fn(&Innovation) -> Option<Channel>) -> Vec<(usize, Channel)> {
    let each = seen.iter().enumerate();
    each.filter_map(|(i, s)| of(s).map(|c| (i, c))).collect()
}

/// Chance that one chart calls within `count` values when the mean has shifted by so many standard deviations: averaged
/// over what all of them share.
fn called(watch: Watch, shift: f64, count: u32) -> f64 {
    let own = (1.0 - watch.shared_ratio * watch.shared_ratio).sqrt();
    if !(own > 0.0 && watch.shared_ratio >= 0.0) {
        return f64::NAN;
    }
    let (k, h) = (watch.reference_ratio / own, watch.limit_ratio / own);
    if watch.shared_ratio == 0.0 {
        return cusum_alarm_within(k, h, shift, count);
    }
    let at = |i: u32| {
        let shared = normal::quantile((f64::from(i) + 0.5) / f64::from(SHARES)) * watch.shared_ratio;
        cusum_alarm_within(k, h, (shift + shared) / own, count)
    };
    (0..SHARES).map(at).sum::<f64>() / f64::from(SHARES)
}

/// Method: the shared shift is averaged over this many equally likely values.
const SHARES: u32 = 16;

/// Shift of the mean, in standard deviations, that a chart finds within `count` values four times out of five.
pub fn findable_shift_ratio(watch: Watch, count: u32) -> f64 {
    let (mut low, mut high) = (0.0, LARGEST_SHIFT);
    for _ in 0..FIND_HALVINGS {
        let middle = 0.5 * (low + high);
        if called(watch, middle, count) >= FOUND {
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
/// Convergence: to a thousandth of a standard deviation.
const FIND_HALVINGS: u32 = 14;
/// Convergence: to 1e-5 standard deviations.
const SHIFT_HALVINGS: u32 = 21;

fn findable(seen: &[Innovation], charts: &[Series], watch: Watch) -> Findable {
    let counts: Vec<u32> = charts.iter().map(|(_, _, z)| z.len() as u32).collect();
    let shifts = once_for_each(&counts, |n| findable_shift_ratio(watch, n));
    let least = |chart: Chart, pairs: &[(usize, Channel)], by: fn(&Channel) -> f64| {
        let at = charts.iter().position(|(c, _, _)| *c == chart)?;
        let shift = *shifts.get(at)?;
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

#[cfg(test)]
#[path = "drift_tests.rs"]
mod tests;
