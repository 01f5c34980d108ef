//! Scatter from every spot of a project, with budget and remedies: what `scatter` says.

use super::budget::{Budget, budget};
use super::inputs::{Cause, Scope};
use super::remedy::{Remedy, remedies};
use super::shown::matched;
use super::summary::{Chance, SamplePlan, SpotScatter, centred, sample};
use super::thrower::{Detail, Thrower};
use crate::aim::{ExitCurve, Miss, SpotAim, aim_all};
use crate::limits::CURVE_POINTS;
use crate::project::{MatchedScatter, Project};
use crate::shot::Chain;

/// What to work out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ScatterPlan {
    /// How many throws and which.
    pub sample: SamplePlan,
    /// Work out the hit chance before any test shot.
    pub with_untested: bool,
    /// Work out the error budget.
    pub with_budget: bool,
    /// Work out remedies for the greatest cause.
    pub with_remedies: bool,
}

/// Scatter of one spot, or why there is none.
#[derive(Clone, Debug)]
pub struct SpotReport {
    /// Place in the project's list.
    pub spot_index: usize,
    /// Name of the spot.
    pub spot: String,
    /// Its scatter.
    pub result: Result<SpotResult, NoScatter>,
}

/// Why a spot has no scatter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NoScatter {
    /// No wheel speed centres the crossing.
    NoSetpoint {
        /// By how much.
        miss: Miss,
        /// The piece still slips on the wheel when it leaves.
        slips: bool,
    },
    /// The launcher does not throw at the setpoint.
    NoThrow(&'static str),
}

/// Scatter of one spot.
#[derive(Clone, Debug)]
pub struct SpotResult {
    /// Setpoint that `aim` gives: centred for a wheel held steadily.
    pub aimed_radps: f64,
    /// Scatter at that setpoint.
    pub aimed: SpotScatter,
    /// Scatter at the setpoint that centres the median throw of a volley.
    pub centred: SpotScatter,
    /// Hit chance of the very first throws, when what is not known varies too: everything before test shots, after
    /// them what they left open.
    pub untested_hit: Option<Chance>,
    /// How the causes were brought to what test shots showed; `None` without test shots.
    pub matched: Option<MatchedScatter>,
    /// Which cause makes how much, at the centred setpoint.
    pub budget: Option<Budget>,
    /// What would help against the greatest causes.
    pub remedies: Vec<Remedy>,
}

/// Method: throws for the hit chance before any test shot; it is a rough figure by nature.
const UNTESTED_COUNT: usize = 4096;
/// Method: the hit chance at the setpoint of `aim` is there to be compared; half a point is enough.
const ROUGH_FRAC: f64 = 5e-3;
/// Physical: causes that make less of the variance than this get no remedy.
const WORTH_A_REMEDY: f64 = 0.2;

/// Scatter from every spot, in the order of the project.
pub fn report(project: &Project, plan: &ScatterPlan) -> Vec<SpotReport> {
    report_until(project, plan, &|| false)
}

/// As [`report`], but asks before each spot whether to stop; fewer spots come back then.
pub fn report_until(project: &Project, plan: &ScatterPlan, stop: &dyn Fn() -> bool) -> Vec<SpotReport> {
    let chain = Chain::of(project);
    let setting = project.machine.setting;
    let curve = ExitCurve::of(&chain, &setting, CURVE_POINTS);
    aim_all(project, &chain, &curve, &setting)
        .iter()
        .enumerate()
        .take_while(|_| !stop())
        .map(|(i, aim)| SpotReport {
            spot_index: i,
            spot: aim.spot.name.clone(),
            result: spot(project, i, aim, plan),
        })
        .collect()
}

fn spot(project: &Project, i: usize, aim: &SpotAim, plan: &ScatterPlan) -> Result<SpotResult, NoScatter> {
    let Some(best) = aim.best() else {
        return Err(NoScatter::NoSetpoint {
            miss: aim.miss.unwrap_or(Miss::BelowRim),
            slips: slips_near_top(project, &Chain::of(project)),
        });
    };
    let (w, lead, seed) = (best.wheel_radps, best.lead_rad, plan.sample.seed);
    let project = &matched(project, i, aim, seed);
    let at_aim =
        Thrower::of(project, i, w, lead, Scope::Throws, Detail::Fine, seed).map_err(NoScatter::NoThrow)?;
    let (thrower, ratio) =
        centred(project, i, w, lead, Scope::Throws, Detail::Fine, seed).map_err(NoScatter::NoThrow)?;
    let budget = plan.with_budget.then(|| budget(&thrower, ratio, seed));
    let untested_hit = plan
        .with_untested
        .then(|| centred(project, i, w, lead, Scope::Throws, Detail::Coarse, seed))
        .and_then(Result::ok)
        .and_then(|(t, r)| {
            let at = t.release.setpoint_radps * r;
            Thrower::of(project, i, at, lead, Scope::Untested, Detail::Fine, seed).ok()
        })
        .map(|t| {
            sample(
                &t,
                1.0,
                &SamplePlan {
                    seed,
                    most_count: UNTESTED_COUNT,
                    until_frac: 0.0,
                },
            )
            .hit
        });
    let remedies = match &budget {
        Some(b) if plan.with_remedies => worth(b)
            .into_iter()
            .flat_map(|(cause, across)| remedies(project, i, w, lead, cause, across, seed))
            .collect(),
        _ => Vec::new(),
    };
    Ok(SpotResult {
        aimed_radps: w,
        matched: project.throws.matched,
        aimed: sample(
            &at_aim,
            1.0,
            &SamplePlan {
                until_frac: plan.sample.until_frac.max(ROUGH_FRAC),
                ..plan.sample
            },
        ),
        centred: sample(&thrower, ratio, &plan.sample),
        untested_hit,
        budget,
        remedies,
    })
}

/// Does the piece still slip on the wheel when it leaves, at the greatest speed that may be used?
pub(super) fn slips_near_top(project: &Project, chain: &Chain) -> bool {
    let near_top = chain.top_radps * (1.0 - project.limits.speed_reserve_frac);
    chain
        .plateau(&project.machine.setting, near_top)
        .is_some_and(|p| !p.grips)
}

/// Causes worth a remedy, each with the direction in which it does most: true for across.
fn worth(budget: &Budget) -> Vec<(Cause, bool)> {
    budget
        .causes
        .iter()
        .filter_map(|c| {
            let (along, across) = (c.along.total.value, c.across.total.value);
            (along.max(across) >= WORTH_A_REMEDY).then_some((c.cause, across > along))
        })
        .collect()
}
