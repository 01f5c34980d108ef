//! Which change of one number explains what was seen, and how well.

use super::{Change, Explanation, Innovation};
use crate::numerics::minimum::bracketed_minimum;

/// Changes of one number, what it multiplies, and how large it is taken to be before anything was seen.
pub(super) fn explanations(seen: &[Innovation]) -> Vec<Explanation> {
    let last = seen.iter().map(|s| s.place).max().unwrap_or(0);
    let late = |s: &Innovation| f64::from(s.place) / f64::from(last.max(1));
    let mut tried: Vec<Explanation> = Vec::new();
    let mut values = Vec::new();
    let mut patterns: [(Change, f64, Vec<f64>); 6] = [
        (Change::Speed, SPEED_PRIOR, Vec::new()),
        (Change::Angle, ANGLE_PRIOR, Vec::new()),
        (Change::Heading, ANGLE_PRIOR, Vec::new()),
        (Change::LaterThrows, SPEED_PRIOR, Vec::new()),
        (Change::Voltage, SPEED_PRIOR, Vec::new()),
        (Change::WheelSpeed, SPEED_PRIOR, Vec::new()),
    ];
    for s in seen {
        let places = [s.along, s.across, s.ln_speed].into_iter().chain(s.beside);
        let each = places.map(|c| (c, false)).chain([(s.wheel, true)]);
        for (c, wheel) in each.filter_map(|(c, wheel)| Some((c?, wheel))) {
            values.push(c.value / c.sd);
            for (change, _, pattern) in &mut patterns {
                let by = match change {
                    Change::WheelSpeed => f64::from(u8::from(wheel)),
                    _ if wheel => 0.0,
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
pub(super) fn marginal(
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
pub(super) fn log_density(z: f64, factor: f64) -> f64 {
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
