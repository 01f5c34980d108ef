//! How long charts run before they call, and how often a bounded adjustment moves: integral equations and a
//! Markov chain.

use super::linear_fit::Qr;
use super::normal;
use super::quadrature::gauss_legendre;

/// A chart seen from its start: where it may stand, and how it gets from one place to another.
///
/// ```text
/// L(s) = r(s) + ∫ L(t) p(t | s) dt          [brook-evans-1972], [page-1954]
/// ```
///
/// The integral is a sum over Gauss–Legendre nodes. Point 0 is the start.
struct Renewal {
    points: Vec<f64>,
    /// Row by row: chance to go from a point to another, as far as the chart has not called.
    passage: Vec<f64>,
}

impl Renewal {
    /// A walk on [lo, hi] from 0: `density(from, to)` of a step that stays inside, `to_start(from)` the chance to
    /// land on the start itself, `width` the standard deviation of a step.
    fn new(
        (lo, hi): (f64, f64),
        width: f64,
        density: impl Fn(f64, f64) -> f64,
        to_start: impl Fn(f64) -> f64,
    ) -> Option<Renewal> {
        let count = FEWEST_NODES + NODES_PER_WIDTH * (hi - lo) / width;
        if !(count <= MOST_NODES) {
            return None;
        }
        let rule = gauss_legendre(count as usize, lo, hi);
        let points: Vec<f64> = std::iter::once(0.0).chain(rule.iter().map(|(t, _)| *t)).collect();
        let mut passage = Vec::with_capacity(points.len() * points.len());
        for from in &points {
            passage.push(to_start(*from));
            passage.extend(rule.iter().map(|(to, weight)| weight * density(*from, *to)));
        }
        Some(Renewal { points, passage })
    }

    /// Sum of `reward` over the places from the start until the call; infinite when the chart practically never calls.
    fn total(&self, reward: impl Fn(f64) -> f64) -> f64 {
        let n = self.points.len();
        let mut matrix: Vec<f64> = self.passage.iter().map(|p| -p).collect();
        for i in 0..n {
            matrix[i * n + i] += 1.0;
        }
        let rewards: Vec<f64> = self.points.iter().map(|s| reward(*s)).collect();
        let fit = Qr::new(n, n, &matrix).and_then(|qr| qr.fit(&rewards));
        match fit.and_then(|fit| fit.coefficients.first().copied()) {
            Some(total) if (0.0..LONGEST).contains(&total) => total,
            _ => f64::INFINITY,
        }
    }

    /// Chance that the chart has not called after `steps` steps from the start.
    fn quiet(&self, steps: u32) -> f64 {
        let n = self.points.len();
        let mut chance = vec![1.0; n];
        let mut shrinks = 1.0;
        for _ in 0..steps.min(MOST_STEPS) {
            let rows = self.passage.chunks_exact(n);
            let next: Vec<f64> = rows
                .map(|row| row.iter().zip(&chance).map(|(p, c)| p * c).sum())
                .collect();
            if let (Some(after), Some(before)) = (next.first(), chance.first()) {
                shrinks = after / before;
            }
            chance = next;
        }
        // After that many steps the chance falls by the same share each time.
        let later = libm::pow(shrinks, f64::from(steps.saturating_sub(MOST_STEPS)));
        chance
            .first()
            .map_or(f64::NAN, |c: &f64| (c * later).clamp(0.0, 1.0))
    }
}

/// Method: six nodes for each standard deviation of a step on top of sixteen give the tables to nine digits.
const NODES_PER_WIDTH: f64 = 6.0;
const FEWEST_NODES: f64 = 16.0;
/// Method: charts up to forty standard deviations wide; none that is used is wider than ten.
const MOST_NODES: f64 = 256.0;
/// Rounding: a run longer than this is the inverse of a difference of roundings.
const LONGEST: f64 = 1e12;
/// Method: steps beyond this are not followed one by one; by then the chart has forgotten where it began.
const MOST_STEPS: u32 = 400;

/// One side of the chart of cumulated sums, S ← max(0, S + z − k), which calls when S > h.
fn upper_sum(k: f64, h: f64, shift: f64) -> Option<Renewal> {
    let fit = (0.0..=WIDEST).contains(&h) && k.abs() <= WIDEST && shift.abs() <= WIDEST;
    if !fit {
        return None;
    }
    Renewal::new(
        (0.0, h),
        1.0,
        |from, to| normal::density(to - from + k - shift),
        |from| normal::cdf(k - shift - from),
    )
}

/// Method: limits, references and shifts beyond this belong to no chart.
const WIDEST: f64 = 40.0;

/// Average run length of the two-sided chart of cumulated sums, in values of standard deviation 1.
///
/// ```text
/// S± = max(0, S± ± z − k), call when S > h
/// L(s) = 1 + L(0) Φ(k − μ − s) + ∫₀ʰ L(t) φ(t − s + k − μ) dt          1/ARL = 1/ARL⁺ + 1/ARL⁻
/// ```
///
/// with the mean μ of the values, `shift` [page-1954] [kemp-1961]. Not a number for h outside 0 to 40 or a k or shift
/// beyond 40.
pub fn cusum_run_length(k: f64, h: f64, shift: f64) -> f64 {
    let (Some(up), Some(down)) = (upper_sum(k, h, shift), upper_sum(k, h, -shift)) else {
        return f64::NAN;
    };
    1.0 / (1.0 / up.total(|_| 1.0) + 1.0 / down.total(|_| 1.0))
}

/// Chance that the chart of [`cusum_run_length`] calls within `count` values.
///
/// The two sides are taken as independent, which overstates the chance of a false alarm by a little: a call
/// of one side makes one of the other less likely. Not a number where the run length is none.
pub fn cusum_alarm_within(k: f64, h: f64, shift: f64, count: u32) -> f64 {
    let (Some(up), Some(down)) = (upper_sum(k, h, shift), upper_sum(k, h, -shift)) else {
        return f64::NAN;
    };
    1.0 - up.quiet(count) * down.quiet(count)
}

/// Average run length of the chart of exponentially weighted averages, both sides.
///
/// ```text
/// Z ← (1 − λ) Z + λ z, call when |Z| > L √(λ/(2 − λ))
/// L(u) = 1 + (1/λ) ∫ L(v) φ((v − (1 − λ) u)/λ − μ) dv
/// ```
///
/// with the weight λ, the limit L in standard deviations of Z after many values, and the mean μ of the values
/// [lucas-saccucci-1990]. Not a number for a weight outside 0 to 1, or a chart too wide for its weight.
pub fn ewma_run_length(weight: f64, limit: f64, shift: f64) -> f64 {
    if !(weight > 0.0 && weight <= 1.0 && limit > 0.0 && limit <= WIDEST && shift.abs() <= WIDEST) {
        return f64::NAN;
    }
    let edge = limit * (weight / (2.0 - weight)).sqrt();
    let density =
        |from: f64, to: f64| normal::density((to - (1.0 - weight) * from) / weight - shift) / weight;
    Renewal::new((-edge, edge), weight, density, |_| 0.0).map_or(f64::NAN, |chart| chart.total(|_| 1.0))
}

/// The whole number m of hits that weigh as much as one miss, in a chart that tells a miss rate `p1` from `p0`.
///
/// ```text
/// 1/m = −ln((1 − p1)/(1 − p0))/(ln(p1/p0) − ln((1 − p1)/(1 − p0))), rounded to whole m
/// ```
///
/// [reynolds-stoumbos-1999]. `None` unless 0 < p0 < p1 < 1, or beyond ten million.
pub fn bernoulli_lattice(p0: f64, p1: f64) -> Option<u32> {
    if !(p0 > 0.0 && p0 < p1 && p1 < 1.0) {
        return None;
    }
    let on_hit = libm::log((1.0 - p1) / (1.0 - p0));
    let m = ((libm::log(p1 / p0) - on_hit) / -on_hit).round();
    (m <= MOST_STATES).then_some((m as u32).max(1))
}

/// Average run length of the chart that only sees hits and misses.
///
/// ```text
/// S ← max(0, S + (1 for a miss) − 1/m), call when S ≥ h
/// ```
///
/// for a miss rate p. On the lattice of 1/m this is a Markov chain, solved from the top [brook-evans-1972]. Infinite
/// when p is 0; not a number for p outside 0 to 1, m of 0, h not positive, or h m² beyond ten million.
pub fn bernoulli_run_length(p: f64, m: u32, h: f64) -> f64 {
    let states = (h * f64::from(m) - LATTICE).ceil().max(1.0);
    if !((0.0..=1.0).contains(&p) && m > 0 && h > 0.0 && states * f64::from(m) <= MOST_STATES) {
        return f64::NAN;
    }
    let states = states as usize;
    let rise = m as usize - 1;
    // For each state: mean values until the state below is first reached or the chart calls, and the chance that
    // it calls first. Kept as chances to call, so that a chart that hardly ever calls loses no digits.
    let mut time = vec![0.0; states];
    let mut call = vec![0.0; states];
    for i in (0..states).rev() {
        // After a miss: from i + rise down to i again, unless it calls.
        let (mut back_time, mut back_call): (f64, f64) = (0.0, 0.0);
        if i + rise >= states {
            back_call = 1.0;
        } else {
            for j in (i + 1..=i + rise).rev() {
                back_time += (1.0 - back_call) * time[j];
                back_call += (1.0 - back_call) * call[j];
            }
        }
        // At the bottom a hit leads nowhere: what is sought is only the time until the call.
        let again = if i == 0 { 1.0 } else { p };
        let leave = if i == 0 {
            p * back_call
        } else {
            1.0 - again * (1.0 - back_call)
        };
        time[i] = (1.0 + p * back_time) / leave;
        call[i] = p * back_call / leave;
    }
    time.first().copied().unwrap_or(f64::NAN)
}

/// Rounding: h m is whole to this when it is meant to be.
pub(super) const LATTICE: f64 = 1e-9;
/// Method: states times rises; more take longer than anybody waits, and no chart has a thousandth of that.
const MOST_STATES: f64 = 1e7;

/// What a bounded adjustment costs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BoundedAdjustment {
    /// Average number of values from one adjustment to the next.
    pub interval: f64,
    /// g, by which the mean square deviation exceeds that of adjusting each time: MSD/σ² = 1 + λ² g.
    pub excess: f64,
}

/// Bounded adjustment of a level that wanders: adjust when the forecast of its deviation exceeds L.
///
/// ```text
/// A(u) = 1 + ∫ A(v) φ(v − u) dv      G(u) = u² + ∫ G(v) φ(v − u) dv      over [−b, b]
/// interval = A(0)      g = G(0)/A(0)      b = L/(λ σ)
/// ```
///
/// The level is an IMA(0,1,1) with forecast weight λ and shocks of standard deviation σ, so its forecast is a walk with
/// steps of λσ [box-luceno-1997]. Not a number for b outside 0 to 20.
pub fn bounded_adjustment(b: f64) -> BoundedAdjustment {
    let walk = (0.0..=0.5 * WIDEST)
        .contains(&b)
        .then(|| Renewal::new((-b, b), 1.0, |from, to| normal::density(to - from), |_| 0.0));
    let Some(walk) = walk.flatten() else {
        return BoundedAdjustment {
            interval: f64::NAN,
            excess: f64::NAN,
        };
    };
    let interval = walk.total(|_| 1.0);
    BoundedAdjustment {
        interval,
        excess: walk.total(|u| u * u) / interval,
    }
}

/// The closed approximation to [`bounded_adjustment`], good to 1 % of the interval and 0.03 of g for b of 0.5 to 8.
///
/// ```text
/// interval = (1 + 1.1 b + b²)(1 − 0.115 exp(−9.2 (b^0.3 − 0.88)²))
/// g        = (1 + 0.06 b²)/(1 − 0.647 Φ(1.35 (ln b − 0.67))) − 1
/// ```
///
/// [box-luceno-1997]. Not a number for b that is not positive.
pub fn bounded_adjustment_approximate(b: f64) -> BoundedAdjustment {
    let b = if b > 0.0 { b } else { f64::NAN };
    let bend = libm::pow(b, 0.3) - 0.88;
    BoundedAdjustment {
        interval: (1.0 + 1.1 * b + b * b) * (1.0 - 0.115 * libm::exp(-9.2 * bend * bend)),
        excess: (1.0 + 0.06 * b * b) / (1.0 - 0.647 * normal::cdf(1.35 * (libm::log(b) - 0.67))) - 1.0,
    }
}

#[cfg(test)]
#[path = "run_length_tests.rs"]
mod tests;
