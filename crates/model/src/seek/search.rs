//! The search itself: an even first look, then steps along one quantity at a time that halve.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::design::{Design, QUICK_COUNT, Score, judge, with_values};
use crate::limits::{self, Status, Verdict};
use crate::numerics::sobol::Sobol;
use crate::project::{self, Freed, Project};

/// What to search.
#[derive(Clone, Debug, PartialEq)]
pub struct SeekPlan {
    /// What is free.
    pub freed: Vec<Freed>,
    /// Most candidates to judge.
    pub most_count: usize,
    /// Seed of the draws; every candidate gets the same.
    pub seed: u64,
}

/// How far a search has come.
#[derive(Clone, Debug, PartialEq)]
pub struct Progress {
    /// Candidates judged.
    pub judged_count: usize,
    /// Most there will be.
    pub most_count: usize,
    /// Least hit chance of the best so far.
    pub best_hit_frac: f64,
    /// True when the best so far serves every spot and breaks no limit.
    pub holds: bool,
}

/// What one freed quantity buys.
#[derive(Clone, Debug, PartialEq)]
pub struct Buys {
    /// Its key.
    pub key: String,
    /// Value now.
    pub from: f64,
    /// Value chosen.
    pub to: f64,
    /// The chosen design with this quantity put back to what it is now.
    pub without: Score,
    /// The present design with this quantity alone moved to the chosen value; `None` where that does not go.
    pub alone: Option<Score>,
}

/// What a search found.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// The present machine.
    pub present: Score,
    /// Limits that the present machine breaks, by the id of the check and what it is about.
    pub present_fails: Vec<(String, String)>,
    /// The best candidate; the present machine when nothing is better.
    pub best: Design,
    /// The project of the best candidate.
    pub project: Project,
    /// Limits that the best candidate breaks.
    pub best_fails: Vec<(String, String)>,
    /// What each changed quantity buys, the most valuable first.
    pub buys: Vec<Buys>,
    /// Everything judged, in order.
    pub tried: Vec<Design>,
    /// True when the search was stopped before it was through.
    pub stopped: bool,
}

/// Method: candidates spread evenly over the whole range before the steps begin, for each freed quantity.
const EVEN_PER_QUANTITY: usize = 8;
/// Method: starts of the stepwise search.
const STARTS: usize = 3;
/// Method: share of the candidates for the even look.
const EVEN_SHARE: f64 = 0.4;

/// Searches. `go_on` hears how far it is after every batch and stops the search by saying false; the best so far
/// is then the answer.
pub fn seek(project: &Project, plan: &SeekPlan, go_on: &mut dyn FnMut(&Progress) -> bool) -> Found {
    let grid: Vec<Vec<f64>> = plan.freed.iter().map(Freed::values).collect();
    let mut it = Search {
        project,
        plan,
        grid,
        known: BTreeMap::new(),
        tried: Vec::new(),
        fails: BTreeMap::new(),
        best: None,
        stopped: false,
    };
    let present = judge(project, plan.seed, QUICK_COUNT);
    let present_fails = broken(project);
    it.even_look(go_on);
    it.steps(go_on);
    let mut found = it.finish(present, present_fails);
    if found.best_fails.is_empty() {
        // Now every check, those that search as well.
        found.best_fails = failing(&limits::check(&found.project).verdicts);
    }
    found
}

/// Place on the grid: which value of each freed quantity.
type Place = Vec<usize>;

struct Search<'a> {
    project: &'a Project,
    plan: &'a SeekPlan,
    grid: Vec<Vec<f64>>,
    known: BTreeMap<Place, usize>,
    tried: Vec<Design>,
    fails: BTreeMap<Place, Vec<(String, String)>>,
    best: Option<Place>,
    stopped: bool,
}

/// Checks of the launcher that fail, by id and subject; those that need a search of their own are left to the end.
fn broken(project: &Project) -> Vec<(String, String)> {
    failing(&limits::check_launcher(project).verdicts)
}

fn failing(verdicts: &[Verdict]) -> Vec<(String, String)> {
    verdicts
        .iter()
        .filter(|v| v.status == Status::Fails)
        .map(|v| (v.check.to_string(), v.subject.clone()))
        .collect()
}

impl Search<'_> {
    fn values(&self, place: &Place) -> Vec<f64> {
        place
            .iter()
            .zip(&self.grid)
            .map(|(i, g)| g.get(*i).copied().unwrap_or(f64::NAN))
            .collect()
    }

    /// Grid place nearest to the present machine.
    fn present_place(&self) -> Place {
        self.plan
            .freed
            .iter()
            .zip(&self.grid)
            .map(|(f, g)| {
                let now = project::get(self.project, &f.key).unwrap_or(f64::NAN);
                (0..g.len())
                    .min_by(|a, b| (g[*a] - now).abs().total_cmp(&(g[*b] - now).abs()))
                    .unwrap_or(0)
            })
            .collect()
    }

    fn left(&self) -> usize {
        self.plan.most_count.saturating_sub(self.tried.len())
    }

    /// Judges places not judged before, as many as are left to judge; false when the search is to end.
    fn judge_all(&mut self, places: Vec<Place>, go_on: &mut dyn FnMut(&Progress) -> bool) -> bool {
        let mut fresh: Vec<Place> = Vec::new();
        for p in places {
            if !self.known.contains_key(&p) && !fresh.contains(&p) && fresh.len() < self.left() {
                fresh.push(p);
            }
        }
        // Small batches, so that a stop is heard soon; their size must not depend on the machine.
        const BATCH: usize = 8;
        for batch in fresh.chunks(BATCH) {
            let judged: Vec<Design> = batch
                .par_iter()
                .map(|p| {
                    let values = self.values(p);
                    let score = match with_values(self.project, &self.plan.freed, &values) {
                        Some(changed) => judge(&changed, self.plan.seed, QUICK_COUNT),
                        None => super::design::Score::impossible(self.project.spots.len()),
                    };
                    Design { values, score }
                })
                .collect();
            for (p, d) in batch.iter().zip(judged) {
                self.known.insert(p.clone(), self.tried.len());
                self.tried.push(d);
                self.consider(p);
            }
            let best = self.best.as_ref().and_then(|p| self.design(p));
            let progress = Progress {
                judged_count: self.tried.len(),
                most_count: self.plan.most_count,
                best_hit_frac: best.map_or(0.0, |d| d.score.worst_hit_frac),
                holds: self.best.as_ref().is_some_and(|p| {
                    best.is_some_and(|d| d.score.served) && self.fails.get(p).is_some_and(Vec::is_empty)
                }),
            };
            if !go_on(&progress) {
                self.stopped = true;
                return false;
            }
        }
        self.left() > 0
    }

    fn design(&self, place: &Place) -> Option<&Design> {
        self.tried.get(*self.known.get(place)?)
    }

    /// What a place is worth: the fewest broken limits first, then the score. The limits are looked at only for
    /// places that would become the best.
    fn consider(&mut self, place: &Place) {
        let Some(value) = self.design(place).map(|d| d.score.value()) else {
            return;
        };
        let Some(best) = self.best.clone() else {
            let fails = self.fails_of(place);
            self.fails.insert(place.clone(), fails);
            self.best = Some(place.clone());
            return;
        };
        let best_value = self.design(&best).map_or(f64::NEG_INFINITY, |d| d.score.value());
        let best_fails = self.fails.get(&best).map_or(usize::MAX, Vec::len);
        if value <= best_value && best_fails == 0 {
            return;
        }
        if self.design(place).is_none_or(|d| d.score.refused.is_some()) {
            return;
        }
        let fails = self.fails_of(place);
        let better = fails.len() < best_fails || fails.len() == best_fails && value > best_value;
        self.fails.insert(place.clone(), fails);
        if better {
            self.best = Some(place.clone());
        }
    }

    fn fails_of(&self, place: &Place) -> Vec<(String, String)> {
        match with_values(self.project, &self.plan.freed, &self.values(place)) {
            Some(p) => broken(&p),
            None => vec![("possible".to_string(), String::new())],
        }
    }

    /// Candidates spread evenly, the present machine first.
    fn even_look(&mut self, go_on: &mut dyn FnMut(&Progress) -> bool) {
        let d = self.grid.len();
        let count = (EVEN_PER_QUANTITY * d).min((EVEN_SHARE * self.plan.most_count as f64) as usize);
        let mut places = vec![self.present_place()];
        if let Some(s) = Sobol::new(d, self.plan.seed, 0) {
            let mut u = vec![0.0; d];
            for i in 0..count {
                s.point(i as u32, &mut u);
                places.push(
                    u.iter()
                        .zip(&self.grid)
                        .map(|(u, g)| ((u * g.len() as f64) as usize).min(g.len().saturating_sub(1)))
                        .collect(),
                );
            }
        }
        self.judge_all(places, go_on);
    }

    /// From the best few places: every quantity a step up and down, the step halved where nothing is better.
    fn steps(&mut self, go_on: &mut dyn FnMut(&Progress) -> bool) {
        let mut order: Vec<Place> = self.known.keys().cloned().collect();
        let value = |s: &Self, p: &Place| s.design(p).map_or(f64::NEG_INFINITY, |d| d.score.value());
        order.sort_by(|a, b| value(self, b).total_cmp(&value(self, a)).then(a.cmp(b)));
        let mut starts: Vec<Place> = vec![self.present_place()];
        starts.extend(self.best.clone());
        starts.extend(order.into_iter().take(STARTS));
        starts.dedup();
        let share = self.left() / starts.len().max(1);
        for start in starts {
            if self.stopped || self.left() == 0 {
                return;
            }
            let until = self.tried.len() + share;
            self.climb(start, until, go_on);
        }
        // What is left goes to the best of all, one step at a time.
        if let Some(best) = self.best.clone() {
            self.climb(best, self.plan.most_count, go_on);
        }
    }

    fn climb(&mut self, start: Place, until: usize, go_on: &mut dyn FnMut(&Progress) -> bool) {
        let mut here = start;
        let mut shift: usize = 2;
        loop {
            if self.tried.len() >= until || self.stopped {
                return;
            }
            let around: Vec<Place> = (0..self.grid.len())
                .flat_map(|k| {
                    let most = self.grid[k].len().saturating_sub(1);
                    let step = (self.grid[k].len() >> (shift + 1)).max(1);
                    let (down, up) = (here[k].saturating_sub(step), (here[k] + step).min(most));
                    [down, up].map(|i| {
                        let mut p = here.clone();
                        p[k] = i;
                        p
                    })
                })
                .filter(|p| *p != here)
                .collect();
            if around.is_empty() || !self.judge_all(around.clone(), go_on) {
                return;
            }
            let value = |p: &Place| self.design(p).map_or(f64::NEG_INFINITY, |d| d.score.value());
            let now = value(&here);
            // All steps that help are taken together if that helps still more, else the best of them.
            let helping: Vec<&Place> = around.iter().filter(|p| value(p) > now).collect();
            let Some(best) = helping
                .iter()
                .max_by(|a, b| value(a).total_cmp(&value(b)).then(b.cmp(a)))
                .map(|p| (*p).clone())
            else {
                let finest = (0..self.grid.len()).all(|k| self.grid[k].len() >> (shift + 1) <= 1);
                if finest {
                    return;
                }
                shift += 1;
                continue;
            };
            let mut together = here.clone();
            for k in 0..here.len() {
                let moved = helping
                    .iter()
                    .filter(|p| p[k] != here[k])
                    .max_by(|a, b| value(a).total_cmp(&value(b)).then(b.cmp(a)));
                if let Some(p) = moved {
                    together[k] = p[k];
                }
            }
            let best_value = value(&best);
            let more = helping.len() > 1 && self.judge_all(vec![together.clone()], go_on);
            let value = |p: &Place| self.design(p).map_or(f64::NEG_INFINITY, |d| d.score.value());
            here = if more && value(&together) > best_value {
                together
            } else {
                best
            };
        }
    }

    fn finish(mut self, present: Score, present_fails: Vec<(String, String)>) -> Found {
        let place = self.best.clone().unwrap_or_else(|| self.present_place());
        let mut best_fails = self.fails.remove(&place).unwrap_or_default();
        let mut best = self.design(&place).cloned().unwrap_or_else(|| Design {
            values: self.values(&place),
            score: present.clone(),
        });
        let mut project =
            with_values(self.project, &self.plan.freed, &best.values).unwrap_or_else(|| self.project.clone());
        // The present machine may lie between the values that exist and be better than all of them.
        let keep = present_fails.len() < best_fails.len()
            || present_fails.len() == best_fails.len() && present.value() >= best.score.value();
        if keep {
            best = Design {
                values: self
                    .plan
                    .freed
                    .iter()
                    .map(|f| project::get(self.project, &f.key).unwrap_or(f64::NAN))
                    .collect(),
                score: present.clone(),
            };
            best_fails.clone_from(&present_fails);
            project = self.project.clone();
        }
        if !keep && !self.stopped {
            self.simplify(&mut best, &mut project, &mut best_fails);
        }
        let buys = self.buys(&best, &project);
        Found {
            present,
            present_fails,
            best,
            project,
            best_fails,
            buys,
            tried: self.tried,
            stopped: self.stopped,
        }
    }

    /// Puts back to what it is now whatever buys nothing: fewer changes are less work.
    fn simplify(&self, best: &mut Design, chosen: &mut Project, fails: &mut Vec<(String, String)>) {
        /// Physical: a tenth of a point of hit chance, or a point if everything varied twice as much.
        const NOTHING: f64 = 1e-3;
        for (k, f) in self.plan.freed.iter().enumerate() {
            let Some(now) = project::get(self.project, &f.key) else {
                continue;
            };
            if best.values.get(k) == Some(&now) {
                continue;
            }
            let mut values = best.values.clone();
            values[k] = now;
            let Some(simpler) = with_values(self.project, &self.plan.freed, &values) else {
                continue;
            };
            let score = judge(&simpler, self.plan.seed, QUICK_COUNT);
            if score.value() < best.score.value() - NOTHING {
                continue;
            }
            let broken = broken(&simpler);
            if broken.len() <= fails.len() {
                *best = Design { values, score };
                *chosen = simpler;
                *fails = broken;
            }
        }
    }

    fn buys(&self, best: &Design, chosen: &Project) -> Vec<Buys> {
        let mut out: Vec<Buys> = self
            .plan
            .freed
            .par_iter()
            .zip(&best.values)
            .filter_map(|(f, to)| {
                let from = project::get(self.project, &f.key)?;
                if from == *to {
                    return None;
                }
                let one = std::slice::from_ref(f);
                let back = with_values(chosen, one, &[from])?;
                let alone = with_values(self.project, one, &[*to]);
                Some(Buys {
                    key: f.key.clone(),
                    from,
                    to: *to,
                    without: judge(&back, self.plan.seed, QUICK_COUNT),
                    alone: alone.map(|p| judge(&p, self.plan.seed, QUICK_COUNT)),
                })
            })
            .collect();
        out.sort_by(|a, b| {
            a.without
                .value()
                .total_cmp(&b.without.value())
                .then(a.key.cmp(&b.key))
        });
        out
    }
}
