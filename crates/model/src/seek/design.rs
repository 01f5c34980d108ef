//! One candidate and how good it is.

use crate::aim::{ExitCurve, SEARCH_POINTS, lead, spot_best};
use crate::launcher::planar::SEARCH_STEP_S;
use crate::numerics::sobol::Sobol;
use crate::project::{self, Freed, Project, change};
use crate::scatter::{Detail, Scope, centred, ready_s};
use crate::shot::Chain;

/// How good a candidate is, by the quick computation of a search.
#[derive(Clone, Debug, PartialEq)]
pub struct Score {
    /// Every spot is served with what is asked: clearance, entry angle, speed reserve.
    pub served: bool,
    /// The worst spot's smallest margin; see [`crate::aim::merit`].
    pub merit: f64,
    /// Hit chance of each spot, the setpoint centred; 0 where no speed centres a throw.
    pub hits_frac: Vec<f64>,
    /// The least of them.
    pub worst_hit_frac: f64,
    /// The least hit chance if everything varied `HARDER_RATIO` times as much: tells apart designs that always hit.
    pub hard_hit_frac: f64,
    /// Setpoint of each spot.
    pub setpoints_radps: Vec<f64>,
    /// Deviation along of each spot.
    pub along_sd_m: Vec<f64>,
    /// From standstill to the last release, the slowest spot; `None` where a volley is not finished.
    pub volley_s: Option<f64>,
    /// From standstill to the ready band, the slowest spot.
    pub ready_s: Option<f64>,
    /// By what share the wheel speed may be off, either way, until the mean throw touches the rim: the least spot.
    pub tolerance_frac: f64,
    /// Why it does not throw at all.
    pub refused: Option<&'static str>,
}

/// Everything varies this many times as much in the harder trial.
pub const HARDER_RATIO: f64 = 2.0;
/// Method: throws from each spot in a search; all candidates get the same draws.
pub const QUICK_COUNT: usize = 512;
/// Method: throws from each spot where a few designs are compared closely.
pub const CLOSE_COUNT: usize = 4096;
/// What the harder trial weighs against the hit chance: it only decides between near equals.
const HARDER_WEIGHT: f64 = 0.1;
/// What serving a spot with all that is asked is worth, so that no hit chance makes up for it.
const SERVED: f64 = 2.0;

impl Score {
    /// One number to compare by: greater is better. Candidates that serve every spot are above 1.
    pub fn value(&self) -> f64 {
        if self.refused.is_some() {
            return -100.0;
        }
        let thrown = self.worst_hit_frac + HARDER_WEIGHT * self.hard_hit_frac;
        if self.served {
            SERVED + thrown
        } else if self.merit > -5.0 {
            // Within reach but not as asked: the margin leads, the hits follow.
            self.merit.clamp(-5.0, 0.0) + thrown
        } else {
            self.merit
        }
    }

    /// Of values that do not go together.
    pub(super) fn impossible(spot_count: usize) -> Score {
        Score::refused("these values do not go together", spot_count)
    }

    fn refused(why: &'static str, spot_count: usize) -> Score {
        Score {
            served: false,
            merit: f64::NEG_INFINITY,
            hits_frac: vec![0.0; spot_count],
            worst_hit_frac: 0.0,
            hard_hit_frac: 0.0,
            setpoints_radps: vec![f64::NAN; spot_count],
            along_sd_m: vec![f64::NAN; spot_count],
            volley_s: None,
            ready_s: None,
            tolerance_frac: 0.0,
            refused: Some(why),
        }
    }
}

/// A candidate: values of the freed quantities and its score.
#[derive(Clone, Debug, PartialEq)]
pub struct Design {
    /// Value of each freed quantity, in their order; SI.
    pub values: Vec<f64>,
    /// Score.
    pub score: Score,
}

/// The project with freed quantities at values; `None` where they do not go together.
pub fn with_values(project: &Project, freed: &[Freed], values: &[f64]) -> Option<Project> {
    let mut out = project.clone();
    for (f, v) in freed.iter().zip(values) {
        if project::get(&out, &f.key) != Some(*v) {
            change::change(&mut out, &f.key, *v).ok()?;
        }
    }
    Some(out)
}

/// Judges a project: aims, plays the volley and throws `throw_count` times from each spot.
pub fn judge(project: &Project, seed: u64, throw_count: usize) -> Score {
    let n = project.spots.len();
    if n == 0 {
        return Score::refused("there is no spot", 0);
    }
    if !project::check::findings(project).is_empty() {
        return Score::refused("its values contradict each other", n);
    }
    let chain = Chain::of(project).with_step(SEARCH_STEP_S);
    let setting = project.machine.setting;
    let curve = ExitCurve::of(&chain, &setting, SEARCH_POINTS);
    if let Some(why) = curve.refused_at_top() {
        return Score::refused(why, n);
    }
    let mut score = Score {
        served: true,
        merit: f64::INFINITY,
        hits_frac: Vec::with_capacity(n),
        worst_hit_frac: 1.0,
        hard_hit_frac: 1.0,
        setpoints_radps: Vec::with_capacity(n),
        along_sd_m: Vec::with_capacity(n),
        volley_s: Some(0.0),
        ready_s: Some(0.0),
        tolerance_frac: f64::INFINITY,
        refused: None,
    };
    for (i, spot) in project.spots.iter().enumerate() {
        let (merit, best) = spot_best(project, &chain, &curve, spot);
        score.merit = score.merit.min(merit);
        score.served &= merit >= 0.0;
        let thrown = best.and_then(|(wheel_radps, _)| {
            let lead_rad = lead(&chain, spot, &curve.at(wheel_radps)?)?;
            Throws::of(project, i, wheel_radps, lead_rad, (seed, throw_count))
        });
        match thrown {
            Some(t) => score.add(project, &chain, &t),
            None => score.add_nothing(),
        }
    }
    score
}

/// What the throws from one spot show.
struct Throws {
    hit_frac: f64,
    hard_frac: f64,
    setpoint_radps: f64,
    along_sd_m: f64,
    volley_s: Option<f64>,
    tolerance_frac: f64,
}

impl Throws {
    fn of(
        project: &Project,
        spot_index: usize,
        wheel_radps: f64,
        lead_rad: f64,
        (seed, throw_count): (u64, usize),
    ) -> Option<Throws> {
        let (t, ratio) = centred(
            project,
            spot_index,
            wheel_radps,
            lead_rad,
            Scope::Throws,
            Detail::Coarse,
            seed,
        )
        .ok()?;
        let s = Sobol::new(t.dimension_count(), seed, 0)?;
        let mut columns = vec![Vec::new(); t.dimension_count()];
        s.block(0, throw_count, &mut columns);
        let at = t.crossings(&columns, ratio);
        Some(Throws {
            hit_frac: t.quick_hits(&columns, ratio, 1.0),
            hard_frac: t.quick_hits(&columns, ratio, HARDER_RATIO),
            setpoint_radps: t.release.setpoint_radps * ratio,
            along_sd_m: at.sd_m()[0],
            volley_s: t.release.volley_s(project.limits.volley_count),
            tolerance_frac: t.speed_tolerance_frac(ratio),
        })
    }
}

impl Score {
    fn add(&mut self, project: &Project, chain: &Chain, t: &Throws) {
        self.hits_frac.push(t.hit_frac);
        self.worst_hit_frac = self.worst_hit_frac.min(t.hit_frac);
        self.hard_hit_frac = self.hard_hit_frac.min(t.hard_frac);
        self.setpoints_radps.push(t.setpoint_radps);
        self.along_sd_m.push(t.along_sd_m);
        let slower = |a: Option<f64>, b: Option<f64>| Some(a?.max(b?));
        self.volley_s = slower(self.volley_s, t.volley_s);
        self.ready_s = slower(self.ready_s, ready_s(project, chain, t.setpoint_radps));
        self.tolerance_frac = self.tolerance_frac.min(t.tolerance_frac);
    }

    fn add_nothing(&mut self) {
        self.hits_frac.push(0.0);
        (self.worst_hit_frac, self.hard_hit_frac) = (0.0, 0.0);
        self.setpoints_radps.push(f64::NAN);
        self.along_sd_m.push(f64::NAN);
        (self.volley_s, self.ready_s) = (None, None);
        self.tolerance_frac = 0.0;
    }
}
