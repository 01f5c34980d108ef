//! Many loads of one hopper: how often they wedge, for how long, what holds them.

use rayon::prelude::*;

use super::hopper::{Hopper, Pieces};
use super::load::{JUDGED_S, Load, Stuck, WAITS_S, WedgeKind, run};
use crate::numerics::proportion::wilson;

/// What to find out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SurveyPlan {
    /// Seed.
    pub seed: u64,
    /// Most loads.
    pub most_count: u32,
    /// Enough when the chance of a wait above [`JUDGED_S`] is known to within this, to either side.
    pub within_frac: f64,
}

/// A share with its interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Share {
    /// The share found.
    pub frac: f64,
    /// Lower end.
    pub low_frac: f64,
    /// Upper end.
    pub high_frac: f64,
}

/// One point of the survival curve of the wait.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WaitShare {
    /// The wait.
    pub wait_s: f64,
    /// Loads in which somebody waited longer for some piece.
    pub loads: Share,
    /// Gaps between pieces that were longer.
    pub gaps: Share,
    /// Loads by how they stood then: locked, stalled, circulating, thrown out.
    pub stuck_counts: [usize; 4],
}

/// A mean with its standard error.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mean {
    /// Mean.
    pub mean_s: f64,
    /// Standard error.
    pub standard_error_s: f64,
}

/// Mean and standard deviation of a length.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// Mean.
    pub mean_m: f64,
    /// Standard deviation.
    pub sd_m: f64,
}

/// Wedges of one kind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KindShare {
    /// Kind.
    pub kind: WedgeKind,
    /// Loads.
    pub count: usize,
    /// Median over them of the friction used, as a share of what there is.
    pub used_frac: f64,
}

/// What many loads showed.
#[derive(Clone, Debug, PartialEq)]
pub struct Survey {
    /// Loads run.
    pub load_count: usize,
    /// Times the result was looked at, and the most looks the plan has.
    pub looks: [usize; 2],
    /// Confidence of each interval, so that all looks together are right 95 times of 100.
    pub confidence_frac: f64,
    /// Known to within what was asked?
    pub settled: bool,
    /// The survival curve.
    pub waits: [WaitShare; 4],
    /// Kinds of wedge, most frequent first.
    pub kinds: Vec<KindShare>,
    /// Time to the first piece; one that does not come counts as the longest wait.
    pub first: Mean,
    /// Time from piece to piece, counted alike.
    pub between: Mean,
    /// Time from piece to piece in loads without any wait above [`JUDGED_S`].
    pub flowing: Option<Mean>,
    /// Pieces that came right behind the one before, among those that could.
    pub doubles: Share,
    /// Loads that came out in another order than they were dropped in, among those that came out whole.
    pub swapped: Share,
    /// Pieces thrown out over the walls.
    pub thrown_out_count: usize,
    /// Greatest normal force on a piece: median over the loads, and the greatest.
    pub peak_n: [f64; 2],
    /// Deepest that a piece was pressed in, over its diameter, the roller apart.
    pub pressed_frac: f64,
    /// Where pieces leave the roller, sideways.
    pub aside: Option<Spread>,
    /// And in height over where they rest.
    pub above: Option<Spread>,
    /// The load that waited longest.
    pub worst: Option<WorstLoad>,
}

/// The worst load, to look at.
#[derive(Clone, Debug, PartialEq)]
pub struct WorstLoad {
    /// Its number: the same seed and number give it again.
    pub index: usize,
    /// Pieces that came out before.
    pub came_count: usize,
    /// The load itself.
    pub load: Load,
}

/// Why there is no result.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Invalid {
    /// Loads in which a piece went through a wall or numbers ran away.
    pub count: usize,
    /// Loads run.
    pub of_count: usize,
    /// The first of them.
    pub first_index: usize,
}

/// Method: loads before the first look; each further look doubles them.
pub const FIRST_LOOK: u32 = 64;
/// Confidence over all looks together.
const CONFIDENCE: f64 = 0.95;

/// Sizes at which the result is looked at: fixed before the first load, so that stopping at a lucky moment cannot
/// flatter it. Each look has its part of the doubt [bonferroni-1936].
fn schedule(most_count: u32) -> Vec<u32> {
    let mut sizes = Vec::new();
    let mut next = FIRST_LOOK;
    while next < most_count {
        sizes.push(next);
        next = next.saturating_mul(2);
    }
    sizes.push(most_count.max(1));
    sizes
}

/// Runs loads until enough is known. `told` hears how many are done.
pub fn survey(
    hopper: &Hopper,
    pieces: &Pieces,
    plan: &SurveyPlan,
    told: &(dyn Fn(usize) + Sync),
) -> Result<Survey, Invalid> {
    let sizes = schedule(plan.most_count);
    let confidence = 1.0 - (1.0 - CONFIDENCE) / sizes.len() as f64;
    let mut loads: Vec<Load> = Vec::new();
    let mut looks = 0;
    let mut settled = false;
    for size in &sizes {
        loads.extend(many(hopper, pieces, plan.seed, loads.len()..*size as usize));
        looks += 1;
        told(loads.len());
        whole(&loads)?;
        let long = waited_longer(&loads, 1);
        let [low, high] = wilson(long as u64, loads.len() as u64, confidence);
        let middle = long as f64 / loads.len() as f64;
        settled = (high - middle).max(middle - low) <= plan.within_frac;
        if settled {
            break;
        }
    }
    Ok(summary(loads, [looks, sizes.len()], confidence, settled))
}

/// Loads of a range, on all threads, in order.
pub(super) fn many(hopper: &Hopper, pieces: &Pieces, seed: u64, range: std::ops::Range<usize>) -> Vec<Load> {
    range
        .into_par_iter()
        .map(|i| run(hopper, pieces, seed, i as u64))
        .collect()
}

/// An error if any load is invalid.
pub(super) fn whole(loads: &[Load]) -> Result<(), Invalid> {
    let bad: Vec<usize> = (0..loads.len()).filter(|i| loads[*i].invalid).collect();
    match bad.first() {
        None => Ok(()),
        Some(first) => Err(Invalid {
            count: bad.len(),
            of_count: loads.len(),
            first_index: *first,
        }),
    }
}

fn waited_longer(loads: &[Load], wait: usize) -> usize {
    loads.iter().filter(|l| stuck_for(l, wait)).count()
}

/// Did a load keep somebody waiting for longer than one of [`WAITS_S`]?
pub(super) fn stuck_for(load: &Load, wait: usize) -> bool {
    load.stuck.get(wait).is_some_and(|s| s.is_some())
}

fn share(hits: usize, of: usize, confidence: f64) -> Share {
    let [low_frac, high_frac] = wilson(hits as u64, of as u64, confidence);
    Share {
        frac: if of > 0 { hits as f64 / of as f64 } else { 0.0 },
        low_frac,
        high_frac,
    }
}

/// Share of the gaps, whose interval allows for gaps of one load being alike.
///
/// ```text
/// p = Σy/Σm,   var p = n/(n − 1) Σ(y − p m)²/(Σm)²   over loads with m gaps of which y were longer [cochran-1977]
/// ```
///
/// and the interval of Wilson for as many independent gaps as would give that variance.
fn gap_share(loads: &[Load], wait: usize, limit_s: f64, confidence: f64) -> Share {
    let pairs: Vec<[f64; 2]> = loads
        .iter()
        .map(|l| {
            let came = l.gaps_s.len();
            // A load that is not whole has one more gap, which never ended.
            let open = usize::from(came + l.thrown_out_count < l.loaded_count);
            let long = l.gaps_s.iter().filter(|g| **g > limit_s).count();
            let unended = usize::from(open > 0 && l.stuck.get(wait).is_some_and(|s| s.is_some()));
            [(long + unended) as f64, (came + open) as f64]
        })
        .collect();
    let sum = |k: usize| pairs.iter().map(|p| p[k]).sum::<f64>();
    let (long, all, n) = (sum(0), sum(1), pairs.len() as f64);
    if all == 0.0 {
        return share(0, 0, confidence);
    }
    let p = long / all;
    let scatter: f64 = pairs.iter().map(|[y, m]| (y - p * m) * (y - p * m)).sum();
    let variance = n / (n - 1.0).max(1.0) * scatter / (all * all);
    let alone = if variance > 0.0 {
        p * (1.0 - p) / variance
    } else {
        n
    };
    let as_many = alone.clamp(1.0, all).round();
    let [low_frac, high_frac] = wilson((p * as_many).round() as u64, as_many as u64, confidence);
    Share {
        frac: p,
        low_frac: low_frac.min(p),
        high_frac: high_frac.max(p),
    }
}

fn mean(values: &[f64]) -> Mean {
    let n = values.len() as f64;
    let mean_s = values.iter().sum::<f64>() / n.max(1.0);
    let squares: f64 = values.iter().map(|v| (v - mean_s) * (v - mean_s)).sum();
    Mean {
        mean_s,
        standard_error_s: (squares / (n - 1.0).max(1.0) / n.max(1.0)).sqrt(),
    }
}

fn spread(values: &[f64]) -> Option<Spread> {
    let n = values.len() as f64;
    if values.len() < 2 {
        return None;
    }
    let mean_m = values.iter().sum::<f64>() / n;
    let squares: f64 = values.iter().map(|v| (v - mean_m) * (v - mean_m)).sum();
    Some(Spread {
        mean_m,
        sd_m: (squares / (n - 1.0)).sqrt(),
    })
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(0.0)
}

fn summary(loads: Vec<Load>, looks: [usize; 2], confidence: f64, settled: bool) -> Survey {
    let n = loads.len();
    let mut wait = 0;
    let waits = WAITS_S.map(|wait_s| {
        let i = wait;
        wait += 1;
        let of = |s: Stuck| loads.iter().filter(|l| l.stuck.get(i) == Some(&Some(s))).count();
        WaitShare {
            wait_s,
            loads: share(waited_longer(&loads, i), n, confidence),
            gaps: gap_share(&loads, i, wait_s, confidence),
            stuck_counts: [
                Stuck::Locked,
                Stuck::Stalled,
                Stuck::Circulating,
                Stuck::ThrownOut,
            ]
            .map(of),
        }
    });
    let mut kinds: Vec<KindShare> = [
        WedgeKind::Bridge,
        WedgeKind::StirrerPinch,
        WedgeKind::RollerPinch,
        WedgeKind::Corner,
        WedgeKind::Loose,
    ]
    .into_iter()
    .map(|kind| {
        let used: Vec<f64> = loads
            .iter()
            .filter_map(|l| l.wedge.filter(|w| w.kind == kind).map(|w| w.used_frac))
            .collect();
        KindShare {
            kind,
            count: used.len(),
            used_frac: median(used),
        }
    })
    .filter(|k| k.count > 0)
    .collect();
    kinds.sort_by_key(|k| std::cmp::Reverse(k.count));
    let longest = WAITS_S[3];
    let cut = |g: &f64| g.min(longest);
    let first: Vec<f64> = loads
        .iter()
        .map(|l| l.gaps_s.first().map_or(longest, cut))
        .collect();
    // Every gap that began: those that ended, and the one that never did.
    let between: Vec<f64> = loads
        .iter()
        .flat_map(|l| {
            let open = !l.gaps_s.is_empty() && l.gaps_s.len() + l.thrown_out_count < l.loaded_count;
            l.gaps_s
                .iter()
                .skip(1)
                .map(cut)
                .chain(open.then_some(longest))
                .collect::<Vec<_>>()
        })
        .collect();
    let flowing: Vec<f64> = loads
        .iter()
        .filter(|l| !stuck_for(l, 1))
        .flat_map(|l| l.gaps_s.iter().skip(1).copied().collect::<Vec<_>>())
        .collect();
    let followers: usize = loads.iter().map(|l| l.gaps_s.len().saturating_sub(1)).sum();
    let complete: Vec<&Load> = loads.iter().filter(|l| l.order.len() == l.loaded_count).collect();
    let swapped = complete
        .iter()
        .filter(|l| l.order.windows(2).any(|w| w[0] > w[1]))
        .count();
    let entries = |f: fn(&super::load::Entry) -> f64| -> Vec<f64> {
        loads.iter().flat_map(|l| l.entries.iter().map(f)).collect()
    };
    let rank = |l: &Load| {
        let stuck = l.stuck.iter().filter(|s| s.is_some()).count();
        (stuck, l.gaps_s.iter().copied().fold(0.0, f64::max))
    };
    let worst = (0..n).filter(|i| loads[*i].wedge.is_some()).max_by(|a, b| {
        let (x, y) = (rank(&loads[*a]), rank(&loads[*b]));
        // Of equals the first.
        x.0.cmp(&y.0)
            .then(loads[*b].gaps_s.len().cmp(&loads[*a].gaps_s.len()))
            .then(x.1.total_cmp(&y.1))
            .then(b.cmp(a))
    });
    Survey {
        load_count: n,
        looks,
        confidence_frac: confidence,
        settled,
        waits,
        kinds,
        first: mean(&first),
        between: mean(&between),
        flowing: (!flowing.is_empty()).then(|| mean(&flowing)),
        doubles: share(loads.iter().map(|l| l.double_count).sum(), followers, confidence),
        swapped: share(swapped, complete.len(), confidence),
        thrown_out_count: loads.iter().map(|l| l.thrown_out_count).sum(),
        peak_n: [
            median(loads.iter().map(|l| l.peak_n).collect()),
            loads.iter().map(|l| l.peak_n).fold(0.0, f64::max),
        ],
        pressed_frac: loads.iter().map(|l| l.pressed_frac).fold(0.0, f64::max),
        aside: spread(&entries(|e| e.aside_m)),
        above: spread(&entries(|e| e.above_m)),
        worst: worst.map(|index| WorstLoad {
            index,
            came_count: loads[index].gaps_s.len(),
            load: loads[index].clone(),
        }),
    }
}

/// The wait that the chance of a wedge is about.
pub fn judged_s() -> f64 {
    JUDGED_S
}
