//! Many loads of one hopper: how often they wedge, for how long, what holds them.

use rayon::prelude::*;

use super::hopper::{Hopper, Pieces};
use super::load::{JUDGED_S, Load, Place, Stuck, WAITS_S, WedgeKind, run};
use crate::numerics::proportion::wilson;

/// What to find out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SurveyPlan {
    /// Seed.
    pub seed: u64,
    /// Most loads.
    pub most_count: u32,
    /// Fewest loads: as many as another design was played with, to be compared load by load; 0 for no such wish.
    pub least_count: u32,
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
    /// Broken off before that?
    pub stopped: bool,
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
    /// Every load in a line, by its number.
    pub lines: Vec<LoadLine>,
    /// Where the pieces of each load that wedged lay then.
    pub wedged_at: Vec<Vec<Place>>,
}

/// One load in a line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LoadLine {
    /// Its number: the same seed and number give it again.
    pub index: usize,
    /// Pieces that came out.
    pub came_count: usize,
    /// Longest wait for a piece; one that did not end counts as the longest that is played.
    pub longest_s: f64,
    /// How it stood at each of [`WAITS_S`].
    pub stuck: [Option<Stuck>; 4],
    /// What held it, if it wedged.
    pub kind: Option<WedgeKind>,
}

/// Loads by how long they kept somebody waiting, longest first; of equals the one that handed out fewest pieces.
pub fn worst_first(lines: &[LoadLine]) -> Vec<LoadLine> {
    let mut all = lines.to_vec();
    all.sort_by(|a, b| {
        b.longest_s
            .total_cmp(&a.longest_s)
            .then(a.came_count.cmp(&b.came_count))
            .then(a.index.cmp(&b.index))
    });
    all
}

/// How far a survey has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Played {
    /// Loads played.
    pub done_count: usize,
    /// Loads at most.
    pub most_count: usize,
    /// Of those played, in how many somebody waited longer than [`JUDGED_S`].
    pub long_count: usize,
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

/// Runs loads until enough is known, or until `go_on` says no; what was played by then is summed up all the same. `go_on`
/// hears how far it is after every few loads.
///
/// # Errors
/// A piece went through a wall in one of the loads.
pub fn survey(
    hopper: &Hopper,
    pieces: &Pieces,
    plan: &SurveyPlan,
    go_on: &mut dyn FnMut(&Played) -> bool,
) -> Result<Survey, Invalid> {
    let sizes = schedule(plan.most_count.max(plan.least_count));
    let confidence = 1.0 - (1.0 - CONFIDENCE) / sizes.len() as f64;
    let most_count = sizes.last().map_or(0, |s| *s as usize);
    let mut loads: Vec<Load> = Vec::new();
    let mut looks = 0;
    let (mut settled, mut stopped) = (false, false);
    for size in &sizes {
        let size = *size as usize;
        while loads.len() < size && !stopped {
            let next = size.min(loads.len() + few());
            loads.extend(many(hopper, pieces, plan.seed, loads.len()..next));
            stopped = !go_on(&Played {
                done_count: loads.len(),
                most_count,
                long_count: waited_longer(&loads, 1),
            });
        }
        whole(&loads)?;
        looks += 1;
        let long = waited_longer(&loads, 1);
        let [low, high] = wilson(long as u64, loads.len() as u64, confidence);
        let middle = long as f64 / loads.len().max(1) as f64;
        let near = (high - middle).max(middle - low) <= plan.within_frac;
        settled = near && loads.len() >= plan.least_count as usize;
        if settled || stopped {
            break;
        }
    }
    let stopped = stopped && !settled;
    Ok(summary(
        loads,
        [looks, sizes.len()],
        confidence,
        [settled, stopped],
    ))
}

/// Method: loads between two chances to stop: a fraction of a second, and work for every thread.
fn few() -> usize {
    4 * rayon::current_num_threads().max(2)
}

/// Loads 0 to `count`, a few at a time while `go_on` says so.
pub(super) fn many_while(
    hopper: &Hopper,
    pieces: &Pieces,
    seed: u64,
    count: usize,
    go_on: &mut dyn FnMut() -> bool,
) -> Vec<Load> {
    let mut loads = Vec::new();
    while loads.len() < count {
        let next = count.min(loads.len() + few());
        loads.extend(many(hopper, pieces, seed, loads.len()..next));
        if !go_on() {
            break;
        }
    }
    loads
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

fn summary(loads: Vec<Load>, looks: [usize; 2], confidence: f64, [settled, stopped]: [bool; 2]) -> Survey {
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
    let lines: Vec<LoadLine> = loads.iter().enumerate().map(|(i, l)| line(i, l)).collect();
    let worst = worst_first(&lines).into_iter().find(|l| l.kind.is_some());
    Survey {
        load_count: n,
        looks,
        confidence_frac: confidence,
        settled,
        stopped,
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
        worst: worst.and_then(|w| {
            Some(WorstLoad {
                index: w.index,
                came_count: w.came_count,
                load: loads.get(w.index)?.clone(),
            })
        }),
        lines,
        wedged_at: loads
            .iter()
            .filter(|l| l.wedge.is_some())
            .map(|l| l.wedged_at.clone())
            .collect(),
    }
}

fn line(index: usize, load: &Load) -> LoadLine {
    let longest = WAITS_S[3];
    let open = load.gaps_s.len() + load.thrown_out_count < load.loaded_count;
    LoadLine {
        index,
        came_count: load.gaps_s.len(),
        longest_s: if open {
            longest
        } else {
            load.gaps_s.iter().copied().fold(0.0, f64::max).min(longest)
        },
        stuck: load.stuck,
        kind: load.wedge.map(|w| w.kind),
    }
}

/// The wait that the chance of a wedge is about.
pub fn judged_s() -> f64 {
    JUDGED_S
}

/// Judgement: a wait of less than this many times what the roller takes for one piece is no wedge.
const PACES_RATIO: f64 = 2.0;

/// From which wait on a load is wedged: [`judged_s`], or twice the time that a slow roller takes for a piece.
///
/// ```text
/// 2 √(2 (r + R) s)/(v/2)
/// ```
///
/// for the way on which a roller of radius R presses a piece of radius r by up to the squeeze s, at half of its rim speed v.
pub fn patience_s(hopper: &Hopper, pieces: &Pieces) -> f64 {
    let pace = hopper.roller.map_or(0.0, |r| {
        let both = 0.5 * (pieces.diameter_m + r.diameter_m);
        2.0 * (2.0 * both * r.squeeze_m.max(0.0)).sqrt() / (0.5 * r.rim_mps)
    });
    judged_s().max(PACES_RATIO * pace)
}

/// Did all pieces come out, none after a longer wait?
pub fn flowed(load: &Load, patience_s: f64) -> bool {
    !load.invalid && load.gaps_s.len() == load.loaded_count && load.gaps_s.iter().all(|g| *g < patience_s)
}
