//! Scatter of many throws: means, deviations, hit chance, kinds of misses, each with its error.

use rayon::prelude::*;

use super::inputs::Scope;
use super::thrower::{Detail, SETPOINT_RANGE_FRAC, Thrower};
use crate::numerics::sobol::Sobol;
use crate::project::Project;
use crate::target::Outcome;

/// A number and its standard error from the sampling.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Figure {
    /// Value.
    pub value: f64,
    /// Standard error.
    pub standard_error: f64,
}

/// A chance and its 95 % interval from the sampling.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Chance {
    /// Share of throws.
    pub frac: f64,
    /// Lower end.
    pub low_frac: f64,
    /// Upper end.
    pub high_frac: f64,
}

impl Chance {
    /// Half the width of the interval.
    pub fn half_width_frac(&self) -> f64 {
        0.5 * (self.high_frac - self.low_frac)
    }
}

/// How many throws, and which.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SamplePlan {
    /// Seed: the same one gives the same throws.
    pub seed: u64,
    /// Most throws.
    pub most_count: usize,
    /// Stop when half the width of the hit chance's 95 % interval is below this.
    pub until_frac: f64,
}

impl Default for SamplePlan {
    fn default() -> Self {
        SamplePlan {
            seed: 1,
            most_count: 1 << 16,
            until_frac: 1e-3,
        }
    }
}

/// Independent randomisations of the sampling; their spread is the error of every figure.
pub const REPLICATE_COUNT: usize = 16;
/// Student's t for 95 % and 15 degrees of freedom [student-1908], from its table.
const T_15: f64 = 2.131_449_5;
/// Throws of each randomisation to begin with.
const FIRST_COUNT: usize = 128;
/// Throws thrown truly to see whether those taken as sure were.
const CHECKED_COUNT: usize = 64;
/// Times the guard is widened when one was not.
const MOST_WIDENINGS: usize = 3;
/// Method: most throws run truly, about a second of one core; the interval then says how wide it is left.
const MOST_TRUE: usize = 6000;
/// Throws kept for a picture.
const SHOWN_COUNT: usize = 600;

/// One place in the volley.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlaceInVolley {
    /// Mean speed at release over the setpoint, less 1.
    pub speed_error_frac: f64,
    /// Mean crossing along the opening.
    pub along_m: f64,
    /// Deviation along.
    pub along_sd_m: f64,
    /// Share that goes in.
    pub hit_frac: f64,
}

/// Scatter from one spot.
#[derive(Clone, Debug, PartialEq)]
pub struct SpotScatter {
    /// Setpoint thrown at.
    pub setpoint_radps: f64,
    /// Mean crossing along the opening, from its centre.
    pub along_m: Figure,
    /// Mean crossing across, left positive.
    pub across_m: Figure,
    /// Deviation along.
    pub along_sd_m: Figure,
    /// Deviation across.
    pub across_sd_m: Figure,
    /// Correlation of the two.
    pub correlation: Figure,
    /// Radius about the mean crossing that holds half of the throws.
    pub r50_m: Figure,
    /// Radius about the mean crossing that holds 95 % of them.
    pub r95_m: Figure,
    /// Share that goes in.
    pub hit: Chance,
    /// Share of each outcome, in the order of [`OUTCOMES`].
    pub shares: Vec<(Outcome, Figure)>,
    /// The same by place in the volley.
    pub places: Vec<PlaceInVolley>,
    /// Throws sampled.
    pub count: usize,
    /// Of them, throws whose passage was run truly.
    pub true_count: usize,
    /// Passages run to fit the response.
    pub pilot_count: usize,
    /// Throws taken as sure that were thrown truly to see, and how many of them had another fate.
    pub checked: [usize; 2],
    /// Crossings for a picture: along, across, outcome.
    pub shown: Vec<(f64, f64, Outcome)>,
}

/// Outcomes in the order of telling.
pub const OUTCOMES: [Outcome; 8] = [
    Outcome::In,
    Outcome::Rim,
    Outcome::Short,
    Outcome::Long,
    Outcome::Left,
    Outcome::Right,
    Outcome::Under,
    Outcome::None,
];

/// The throws of one randomisation.
#[derive(Clone, Debug, Default)]
struct Replicate {
    along_m: Vec<f64>,
    across_m: Vec<f64>,
    outcomes: Vec<Outcome>,
    throws: Vec<usize>,
    true_count: usize,
}

/// Throws until the hit chance is as sure as asked, or the most throws are thrown.
pub fn sample(thrower: &Thrower, speed_ratio: f64, plan: &SamplePlan) -> SpotScatter {
    let dimension_count = thrower.dimension_count();
    let sequences: Vec<Sobol> = (0..REPLICATE_COUNT as u32)
        .filter_map(|r| Sobol::new(dimension_count, plan.seed, r))
        .collect();
    let most = (plan.most_count / REPLICATE_COUNT).max(FIRST_COUNT);
    let mut guard_m = thrower.guard_m;
    let mut checked = [0, 0];
    let mut replicates = vec![Replicate::default(); sequences.len()];
    let mut thrown = 0;
    let mut widenings = 0;
    loop {
        let count = if thrown == 0 { FIRST_COUNT } else { thrown };
        replicates
            .par_iter_mut()
            .zip(&sequences)
            .for_each(|(r, s)| r.throw(thrower, s, thrown, count, speed_ratio, guard_m));
        if thrown == 0 && guard_m > 0.0 {
            let found = check_sure(thrower, sequences.first(), &replicates, speed_ratio);
            checked = [found.0, found.1];
            if found.1 > 0 && widenings < MOST_WIDENINGS {
                widenings += 1;
                guard_m *= 3.0;
                replicates = vec![Replicate::default(); sequences.len()];
                continue;
            }
        }
        thrown += count;
        // True passages are what costs: where nearly every throw needs one, the interval stays wider.
        let true_count: usize = replicates.iter().map(|r| r.true_count).sum();
        if chance(&replicates).half_width_frac() <= plan.until_frac
            || 2 * thrown > most
            || 2 * true_count > MOST_TRUE
        {
            break;
        }
    }
    summary(thrower, &replicates, speed_ratio, checked)
}

impl Replicate {
    fn throw(
        &mut self,
        thrower: &Thrower,
        s: &Sobol,
        first: usize,
        count: usize,
        speed_ratio: f64,
        guard_m: f64,
    ) {
        let mut columns = vec![Vec::new(); thrower.dimension_count()];
        s.block(first as u32, count, &mut columns);
        let c = thrower.crossings(&columns, speed_ratio);
        let fates: Vec<_> = (0..count)
            .into_par_iter()
            .map(|i| thrower.fate(&columns, i, speed_ratio, &c, guard_m))
            .collect();
        self.true_count += fates.iter().filter(|f| f.1).count();
        self.outcomes.extend(fates.iter().map(|f| f.0));
        self.throws
            .extend((0..count).map(|i| thrower.throw_of(&columns, i)));
        self.along_m.extend(c.along_m);
        self.across_m.extend(c.across_m);
    }
}

/// Throws the first throws truly: how many, and how many had another fate than was taken.
fn check_sure(
    thrower: &Thrower,
    first: Option<&Sobol>,
    replicates: &[Replicate],
    speed_ratio: f64,
) -> (usize, usize) {
    let (Some(s), Some(r)) = (first, replicates.first()) else {
        return (0, 0);
    };
    let count = CHECKED_COUNT.min(r.outcomes.len());
    let mut columns = vec![Vec::new(); thrower.dimension_count()];
    s.block(0, count, &mut columns);
    let wrong = (0..count)
        .into_par_iter()
        .filter(|&i| thrower.true_outcome(&columns, i, speed_ratio) != r.outcomes[i])
        .count();
    (count, wrong)
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

/// Mean over randomisations and its standard error.
fn figure(values: impl Iterator<Item = f64>) -> Figure {
    let all: Vec<f64> = values.collect();
    let n = all.len() as f64;
    let value = mean(&all);
    let ss: f64 = all.iter().map(|v| (v - value).powi(2)).sum();
    Figure {
        value,
        standard_error: (ss / (n * (n - 1.0)).max(1.0)).sqrt(),
    }
}

/// Share of hits with a 95 % interval: Student's t over the randomisations; where they all agree, the exact
/// bound for a chance that never failed (or never came) in so many throws [clopper-pearson-1934].
fn chance(replicates: &[Replicate]) -> Chance {
    let share = |r: &Replicate| {
        r.outcomes.iter().filter(|o| **o == Outcome::In).count() as f64 / r.outcomes.len().max(1) as f64
    };
    let f = figure(replicates.iter().map(share));
    let count: usize = replicates.iter().map(|r| r.outcomes.len()).sum();
    let never = 1.0 - libm::pow(0.025, 1.0 / count.max(1) as f64);
    let half = T_15 * f.standard_error;
    let low = if f.value == 1.0 {
        1.0 - never
    } else {
        f.value - half
    };
    let high = if f.value == 0.0 { never } else { f.value + half };
    Chance {
        frac: f.value,
        low_frac: low.max(0.0),
        high_frac: high.min(1.0),
    }
}

/// Moments of one randomisation over throws that cross the plane.
struct Moments {
    mean: [f64; 2],
    sd: [f64; 2],
    correlation: f64,
    r50: f64,
    r95: f64,
}

impl Replicate {
    fn moments(&self) -> Moments {
        let pairs: Vec<(f64, f64)> = self
            .along_m
            .iter()
            .zip(&self.across_m)
            .filter(|(a, b)| a.is_finite() && b.is_finite())
            .map(|(a, b)| (*a, *b))
            .collect();
        let n = pairs.len().max(1) as f64;
        let m = [
            pairs.iter().map(|p| p.0).sum::<f64>() / n,
            pairs.iter().map(|p| p.1).sum::<f64>() / n,
        ];
        let (mut aa, mut bb, mut ab) = (0.0, 0.0, 0.0);
        for p in &pairs {
            let (a, b) = (p.0 - m[0], p.1 - m[1]);
            aa += a * a;
            bb += b * b;
            ab += a * b;
        }
        let mut radii: Vec<f64> = pairs.iter().map(|p| (p.0 - m[0]).hypot(p.1 - m[1])).collect();
        radii.sort_by(f64::total_cmp);
        let not = if pairs.is_empty() { f64::NAN } else { 0.0 };
        Moments {
            mean: m.map(|x| x + not),
            sd: [(aa / n).sqrt() + not, (bb / n).sqrt() + not],
            correlation: if aa > 0.0 && bb > 0.0 {
                ab / (aa * bb).sqrt()
            } else {
                0.0
            },
            r50: super::speed::quantile(&radii, 0.5) + not,
            r95: super::speed::quantile(&radii, 0.95) + not,
        }
    }
}

fn summary(
    thrower: &Thrower,
    replicates: &[Replicate],
    speed_ratio: f64,
    checked: [usize; 2],
) -> SpotScatter {
    let moments: Vec<Moments> = replicates.par_iter().map(Replicate::moments).collect();
    let of = |f: &dyn Fn(&Moments) -> f64| figure(moments.iter().map(f));
    let count = replicates.iter().map(|r| r.outcomes.len()).sum();
    let shares = OUTCOMES
        .iter()
        .map(|o| {
            let share = figure(replicates.iter().map(|r| {
                r.outcomes.iter().filter(|x| *x == o).count() as f64 / r.outcomes.len().max(1) as f64
            }));
            (*o, share)
        })
        .collect();
    SpotScatter {
        setpoint_radps: thrower.release.setpoint_radps * speed_ratio,
        along_m: of(&|m| m.mean[0]),
        across_m: of(&|m| m.mean[1]),
        along_sd_m: of(&|m| m.sd[0]),
        across_sd_m: of(&|m| m.sd[1]),
        correlation: of(&|m| m.correlation),
        r50_m: of(&|m| m.r50),
        r95_m: of(&|m| m.r95),
        hit: chance(replicates),
        shares,
        places: places(thrower, replicates),
        count,
        true_count: replicates.iter().map(|r| r.true_count).sum(),
        pilot_count: thrower.pilot_count,
        checked,
        shown: shown(replicates),
    }
}

fn places(thrower: &Thrower, replicates: &[Replicate]) -> Vec<PlaceInVolley> {
    (0..thrower.release.throw_count())
        .map(|k| {
            let (mut n, mut crossed, mut hits, mut sum, mut square) = (0.0, 0.0, 0.0, 0.0, 0.0);
            for r in replicates {
                for (i, throw) in r.throws.iter().enumerate() {
                    if *throw != k {
                        continue;
                    }
                    n += 1.0;
                    hits += f64::from(u8::from(r.outcomes[i] == Outcome::In));
                    let a = r.along_m[i];
                    if a.is_finite() {
                        crossed += 1.0;
                        sum += a;
                        square += a * a;
                    }
                }
            }
            let along_m = sum / crossed;
            PlaceInVolley {
                speed_error_frac: thrower.release.error_frac(k),
                along_m,
                along_sd_m: (square / crossed - along_m * along_m).max(0.0).sqrt(),
                hit_frac: hits / n,
            }
        })
        .collect()
}

fn shown(replicates: &[Replicate]) -> Vec<(f64, f64, Outcome)> {
    let each = SHOWN_COUNT / replicates.len().max(1);
    replicates
        .iter()
        .flat_map(|r| {
            r.along_m
                .iter()
                .zip(&r.across_m)
                .zip(&r.outcomes)
                .take(each)
                .map(|((a, b), o)| (*a, *b, *o))
        })
        .collect()
}

/// Ratio by which the setpoint is changed so that half of the throws cross before the centre of the opening and
/// half beyond, within the range of the fit; 1 when fewer than half of them cross at all.
///
/// The median, since one odd throw of a volley must not push the others off the centre.
pub fn centring_ratio(thrower: &Thrower, seed: u64) -> f64 {
    /// Method: throws looked at.
    const COUNT: usize = 256;
    /// Convergence: a tenth of a millimetre is far below every scatter.
    const CENTRED_M: f64 = 1e-4;
    /// Convergence: false position takes four to six steps.
    const MOST_STEPS: usize = 14;
    /// Where a throw that does not come to the opening is taken to fall: far short of it.
    const SHORT_M: f64 = -1e3;
    let Some(s) = Sobol::new(thrower.dimension_count(), seed, 0) else {
        return 1.0;
    };
    let mut columns = vec![Vec::new(); thrower.dimension_count()];
    s.block(0, COUNT, &mut columns);
    let median = |ratio: f64| {
        let c = thrower.crossings(&columns, ratio);
        let mut all: Vec<f64> = c
            .along_m
            .iter()
            .map(|a| if a.is_finite() { *a } else { SHORT_M })
            .collect();
        all.sort_by(f64::total_cmp);
        super::speed::quantile(&all, 0.5)
    };
    let (mut low, mut high) = (1.0 - SETPOINT_RANGE_FRAC, 1.0 + SETPOINT_RANGE_FRAC);
    let (mut below, mut above) = (median(low), median(high));
    if below >= 0.0 {
        return low;
    }
    if above <= 0.0 {
        return high;
    }
    let mut side = 0;
    for _ in 0..MOST_STEPS {
        let middle = if below > 0.5 * SHORT_M {
            high - above * (high - low) / (above - below)
        } else {
            0.5 * (low + high)
        };
        let at = median(middle);
        if at.abs() < CENTRED_M {
            return middle;
        }
        // Illinois: the end that stays counts half the next time.
        if at > 0.0 {
            (high, above) = (middle, at);
            if side == 1 {
                below *= 0.5;
            }
            side = 1;
        } else {
            (low, below) = (middle, at);
            if side == -1 {
                above *= 0.5;
            }
            side = -1;
        }
    }
    0.5 * (low + high)
}

/// Prepares throws at the setpoint nearest to one given that centres the median crossing, and the ratio of it
/// to the setpoint the throws are prepared for. See [`Thrower::of`] and [`centring_ratio`].
pub fn centred(
    project: &Project,
    spot_index: usize,
    setpoint_radps: f64,
    lead_rad: f64,
    scope: Scope,
    detail: Detail,
    seed: u64,
) -> Result<(Thrower, f64), &'static str> {
    /// Method: times the throws are prepared anew at a setpoint that left the fitted range.
    const MOST_MOVES: usize = 4;
    let mut at = setpoint_radps;
    for _ in 0..MOST_MOVES {
        let thrower = Thrower::of(project, spot_index, at, lead_rad, scope, detail, seed)?;
        let ratio = centring_ratio(&thrower, seed);
        if (ratio - 1.0).abs() < SETPOINT_RANGE_FRAC {
            return Ok((thrower, ratio));
        }
        at *= ratio;
    }
    let thrower = Thrower::of(project, spot_index, at, lead_rad, scope, detail, seed)?;
    Ok((thrower, 1.0))
}
