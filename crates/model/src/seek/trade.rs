//! What more or less inertia at the wheel does: spin-up against dip, recovery, volley time and scatter.

use rayon::prelude::*;

use super::design::{CLOSE_COUNT, Score, judge};
use crate::launcher::inertia::train_inertia;
use crate::project::Project;
use crate::scatter::{ready_s, with_inertia};
use crate::shot::Chain;
use crate::volley_run::{RunPlan, run};

/// One inertia.
#[derive(Clone, Debug, PartialEq)]
pub struct TradePoint {
    /// Inertia at the wheel over the present one.
    pub factor_ratio: f64,
    /// Inertia at the wheel.
    pub inertia_kgm2: f64,
    /// From standstill to the ready band at the fastest spot.
    pub ready_s: Option<f64>,
    /// Greatest loss of speed at a throw.
    pub dip_frac: f64,
    /// Longest time until the wheel is back in the ready band.
    pub recovery_s: Option<f64>,
    /// From standstill to the last throw.
    pub volley_s: Option<f64>,
    /// Deviation along at the farthest spot.
    pub along_sd_m: f64,
    /// Score of the design.
    pub score: Score,
    /// It is ready in the time asked, and back before the next throw.
    pub in_time: bool,
}

/// The whole trade.
#[derive(Clone, Debug, PartialEq)]
pub struct Trade {
    /// Points, least inertia first.
    pub points: Vec<TradePoint>,
    /// The present one.
    pub present: Option<usize>,
    /// The recommended one.
    pub recommended: Option<usize>,
}

/// Factors on the present inertia.
const FACTORS: [f64; 11] = [0.4, 0.55, 0.7, 0.85, 1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3];
/// Physical: a gain in score smaller than this (half a point of hit chance) is not worth more mass.
const WORTH: f64 = 0.005;

/// Works out the trade of inertia. Empty when the train has no part whose mass could change.
///
/// Recommended is the least inertia whose score is within `WORTH` of the best among those in time; when none is in
/// time, the one that is ready first.
pub fn inertia_trade(project: &Project, seed: u64) -> Trade {
    let points: Vec<TradePoint> = FACTORS
        .par_iter()
        .filter_map(|f| point(project, *f, seed))
        .collect();
    let present = points.iter().position(|p| p.factor_ratio == 1.0);
    let value = |p: &TradePoint| p.score.value();
    let best = points
        .iter()
        .filter(|p| p.in_time)
        .map(value)
        .fold(f64::NEG_INFINITY, f64::max);
    let recommended = points
        .iter()
        .position(|p| p.in_time && value(p) >= best - WORTH)
        .or_else(|| {
            (0..points.len()).min_by(|a, b| {
                let t = |i: &usize| points[*i].ready_s.unwrap_or(f64::INFINITY);
                t(a).total_cmp(&t(b))
            })
        });
    Trade {
        points,
        present,
        recommended,
    }
}

fn point(project: &Project, factor: f64, seed: u64) -> Option<TradePoint> {
    let p = if factor == 1.0 {
        project.clone()
    } else {
        with_inertia(project, factor)?
    };
    let chain = Chain::of(&p);
    let score = judge(&p, seed, CLOSE_COUNT);
    let fastest = score
        .setpoints_radps
        .iter()
        .enumerate()
        .filter(|(_, w)| w.is_finite())
        .max_by(|a, b| a.1.total_cmp(b.1))
        .map(|(i, w)| (i, *w));
    let (mut dip_frac, mut recovery_s, mut ready, mut volley_s) = (f64::NAN, None, None, None);
    if let Some((i, w)) = fastest
        && let Some(spot) = p.spots.get(i)
    {
        ready = ready_s(&p, &chain, w);
        let plan = RunPlan {
            setpoint_radps: w,
            throw_count: p.limits.volley_count,
            interval_s: p.limits.throw_interval_s,
            with_samples: false,
        };
        let v = run(&p, &chain, &spot.name, &chain.stance(spot), &plan);
        dip_frac = v.train.throws.iter().map(|t| t.dip_frac).fold(0.0, f64::max);
        let count = v.train.throws.len();
        recovery_s = v
            .train
            .throws
            .iter()
            .take(count.saturating_sub(1).max(1))
            .map(|t| t.recovery_s.map(|r| r + t.contact_s))
            .try_fold(0.0f64, |a, b| Some(a.max(b?)));
        volley_s = (count == p.limits.volley_count as usize)
            .then(|| v.train.throws.last().map(|t| t.time_s))
            .flatten();
    }
    let slow = p
        .limits
        .spin_up_s
        .is_some_and(|asked| ready.is_none_or(|r| r > asked));
    let late = p
        .limits
        .throw_interval_s
        .is_some_and(|asked| recovery_s.is_none_or(|r| r > asked));
    let far = p
        .spots
        .iter()
        .enumerate()
        .max_by(|a, b| a.1.distance_m.total_cmp(&b.1.distance_m))
        .map_or(0, |f| f.0);
    Some(TradePoint {
        factor_ratio: factor,
        inertia_kgm2: train_inertia(&p.machine.parts, &p.machine.drive),
        ready_s: ready,
        dip_frac,
        recovery_s,
        volley_s,
        along_sd_m: score.along_sd_m.get(far).copied().unwrap_or(f64::NAN),
        score,
        in_time: !slow && !late,
    })
}
