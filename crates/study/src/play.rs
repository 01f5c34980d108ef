//! Many machines played by many rules, and the figures that come of it.

use arcwright_model::floor::rehearse::HiddenSimple;
use arcwright_model::numerics::random::hash;
use rayon::prelude::*;

use crate::hand::{self, Hand};
use crate::robot::{JUDGED_M, Scenario, machine, perfect, served};
use crate::tuner::{self, Manner, Session};

/// Shot counts at which the table is judged.
pub const KEPT: [usize; 7] = [4, 8, 12, 16, 24, 32, 40];

/// Two-sided 95 % of the normal distribution.
const NINETY_FIVE: f64 = 1.959_964;

/// How one rule did over all machines.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// Mean share of hits at each of [`KEPT`].
    pub hits: Vec<f64>,
    /// Standard error of the first and the last of those over the machines.
    pub error: f64,
    /// Share of hits with the design's own table.
    pub untuned: f64,
    /// Share of hits of somebody who knows the truth.
    pub perfect: f64,
    /// At each of [`KEPT`], share of 95 % intervals of parameters that hold the truth.
    pub parameters: Vec<f64>,
    /// The same of setpoints.
    pub setpoints: Vec<f64>,
    /// Shots after which the stop rule said so, sorted; machines where it never did count as 41.
    pub stopped: Vec<usize>,
    /// What hits the table truly lacked at the stop, sorted.
    pub lacking: Vec<f64>,
    /// Mean of what the fit thought it lacked then, on average over the spots.
    pub thought_lacking: f64,
    /// Mean moves of a speed in a session.
    pub moves: f64,
    /// Fits that did not settle, of all.
    pub unsettled: usize,
}

impl Outcome {
    /// Shots after which hits first reach a share of the perfect ones.
    pub fn shots_to(&self, share: f64) -> Option<usize> {
        let reached = self.hits.iter().position(|h| *h >= share * self.perfect)?;
        KEPT.get(reached).copied()
    }

    /// Mean and ninth decile of what was truly lacking at the stop; `None` when no machine had it.
    pub fn lacked(&self) -> Option<[f64; 2]> {
        let last = self.lacking.len().checked_sub(1)?;
        let mean = self.lacking.iter().sum::<f64>() / self.lacking.len() as f64;
        let decile = self.lacking.get((0.9 * last as f64).round() as usize)?;
        Some([mean, *decile])
    }

    /// Shots by which a share of the machines had been told to stop.
    pub fn stopped_by(&self, share: f64) -> Option<usize> {
        let last = self.stopped.len().checked_sub(1)?;
        self.stopped.get((share * last as f64).round() as usize).copied()
    }
}

/// One machine, one rule.
struct Played {
    hits: Vec<f64>,
    untuned: f64,
    perfect: f64,
    parameters: Vec<[usize; 2]>,
    setpoints: Vec<[usize; 2]>,
    session: Session,
    lacking: Option<[f64; 2]>,
}

/// Plays `robots` machines of a scenario by the model.
pub fn by_model(
    scenario: &Scenario,
    manner: &Manner,
    robots: usize,
    most_shots: usize,
    seed: u64,
) -> Outcome {
    gather(robots, |r| {
        let own = hash(seed, r);
        let fresh = machine(scenario, own);
        let mut thrown = fresh.clone();
        let kept: Vec<usize> = KEPT.iter().copied().filter(|k| *k <= most_shots).collect();
        let session = tuner::tune(manner, &mut thrown, most_shots, &kept, own);
        let truth = fresh.truth.values();
        let ideal = perfect(&fresh);
        let mut played = start(&fresh);
        for known in &session.known {
            played.hits.push(served(&fresh, &known.table));
            let inside = known.mean.iter().zip(&known.sd).zip(&truth);
            let held = inside
                .filter(|((m, sd), t)| (*m - *t).abs() <= NINETY_FIVE * **sd)
                .count();
            played.parameters.push([held, truth.len()]);
            let inside = known.table.setpoint_radps.iter().zip(&known.setpoint_sd_radps);
            let held = inside
                .zip(&ideal.setpoint_radps)
                .filter(|((w, sd), t)| (*w - *t).abs() <= NINETY_FIVE * **sd)
                .count();
            played.setpoints.push([held, JUDGED_M.len()]);
        }
        played.lacking = session
            .stopped
            .as_ref()
            .map(|(_, table, thought)| [played.perfect - served(&fresh, table), *thought]);
        played.session = session;
        played
    })
}

/// Plays the same machines by hand.
pub fn by_hand(scenario: &Scenario, rule: Hand, robots: usize, seed: u64) -> Outcome {
    gather(robots, |r| {
        let fresh = machine(scenario, hash(seed, r));
        let mut thrown = fresh.clone();
        let (design, per_ln_m) = tuner::design(&fresh);
        let most = KEPT.iter().copied().max().unwrap_or(0);
        let tables = hand::tune(rule, &mut thrown, design, per_ln_m, most);
        let mut played = start(&fresh);
        played.hits = KEPT
            .iter()
            .filter_map(|k| tables.get(k - 1))
            .map(|t| served(&fresh, t))
            .collect();
        played
    })
}

fn start(fresh: &HiddenSimple) -> Played {
    Played {
        hits: Vec::new(),
        untuned: served(fresh, &tuner::untuned(fresh)),
        perfect: served(fresh, &perfect(fresh)),
        parameters: Vec::new(),
        setpoints: Vec::new(),
        session: Session::default(),
        lacking: None,
    }
}

/// Plays in parallel and adds up in order, so that the figures do not depend on the threads.
fn gather(robots: usize, one: impl Fn(u64) -> Played + Sync + Send) -> Outcome {
    let all: Vec<Played> = (0..robots as u64).into_par_iter().map(one).collect();
    let n = all.len().max(1) as f64;
    let mean = |f: &dyn Fn(&Played) -> f64| all.iter().map(f).sum::<f64>() / n;
    let kept = all.iter().map(|p| p.hits.len()).max().unwrap_or(0);
    let hits: Vec<f64> = (0..kept)
        .map(|k| mean(&|p| p.hits.get(k).copied().unwrap_or(0.0)))
        .collect();
    let spread = |k: usize| {
        let middle = hits.get(k).copied().unwrap_or(0.0);
        (mean(&|p| (p.hits.get(k).copied().unwrap_or(0.0) - middle).powi(2)) / n).sqrt()
    };
    let share = |f: &dyn Fn(&Played) -> &Vec<[usize; 2]>| -> Vec<f64> {
        (0..kept)
            .map(|k| {
                let sum = |i: usize| {
                    all.iter()
                        .filter_map(|p| f(p).get(k))
                        .map(|c| c[i])
                        .sum::<usize>()
                };
                sum(0) as f64 / sum(1) as f64
            })
            .collect()
    };
    let mut stopped: Vec<usize> = all
        .iter()
        .map(|p| p.session.stopped.as_ref().map_or(41, |s| s.0))
        .collect();
    stopped.sort_unstable();
    let at_stop: Vec<[f64; 2]> = all.iter().filter_map(|p| p.lacking).collect();
    let mut lacking: Vec<f64> = at_stop.iter().map(|l| l[0]).collect();
    lacking.sort_by(f64::total_cmp);
    let thought_lacking = at_stop.iter().map(|l| l[1]).sum::<f64>() / at_stop.len() as f64;
    Outcome {
        error: spread(1.min(kept.saturating_sub(1))),
        untuned: mean(&|p| p.untuned),
        perfect: mean(&|p| p.perfect),
        parameters: share(&|p| &p.parameters),
        setpoints: share(&|p| &p.setpoints),
        stopped,
        lacking,
        thought_lacking,
        moves: mean(&|p| p.session.moves as f64),
        unsettled: all.iter().map(|p| p.session.unsettled).sum(),
        hits,
    }
}
