//! The search over what is free, and the front of two goals.

use arcwright_model::project::{Freed, Project, default_free, get};
use arcwright_model::scatter::{SamplePlan, ScatterPlan, SpotReport, report};
use arcwright_model::seek::{Found, Goal, Progress, SeekPlan, front, seek};

/// What was asked.
pub struct Asked {
    /// What is free.
    pub freed: Vec<Freed>,
    /// Where the list of what is free came from.
    pub freed_by: FreedBy,
    /// Most candidates.
    pub most_count: usize,
    /// Seed.
    pub seed: u64,
    /// The second goal, if any.
    pub against: Option<Goal>,
}

/// Where the list of what is free came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FreedBy {
    /// Arguments.
    Arguments,
    /// The table `[free]` of the file.
    File,
    /// Nobody said: what a workshop can change.
    Default,
}

/// What was found, with the finely thrown scatter of the present machine and of the one found.
pub struct Sought {
    /// The search.
    pub found: Found,
    /// Scatter now.
    pub now: Vec<SpotReport>,
    /// Scatter of the machine found.
    pub then: Vec<SpotReport>,
    /// The front of two goals, as places in the list of what was tried.
    pub front: Vec<usize>,
}

/// The list of what is free: arguments, or the file's table, or the default.
pub fn freed(project: &Project, arguments: Vec<Freed>) -> (Vec<Freed>, FreedBy) {
    if !arguments.is_empty() {
        (arguments, FreedBy::Arguments)
    } else if !project.free.is_empty() {
        (project.free.clone(), FreedBy::File)
    } else {
        (default_free(project), FreedBy::Default)
    }
}

/// Method: hit chances nearer than this are equally sure, for the front.
const GRAIN_FRAC: f64 = 0.002;

/// Searches, then throws the present machine and the one found finely.
pub fn run(project: &Project, asked: &Asked, go_on: &mut dyn FnMut(&Progress) -> bool) -> Sought {
    let plan = SeekPlan {
        freed: asked.freed.clone(),
        most_count: asked.most_count,
        seed: asked.seed,
    };
    let found = seek(project, &plan, go_on);
    let fine = ScatterPlan {
        sample: SamplePlan {
            seed: asked.seed,
            ..SamplePlan::default()
        },
        with_budget: false,
        with_remedies: false,
    };
    let front = asked
        .against
        .map_or_else(Vec::new, |goal| front(&found.tried, goal, GRAIN_FRAC));
    Sought {
        now: report(project, &fine),
        then: report(&found.project, &fine),
        found,
        front,
    }
}

/// The quantities that the machine found has other than the present one: key, value.
pub fn changes(project: &Project, asked: &Asked, found: &Found) -> Vec<(String, f64)> {
    asked
        .freed
        .iter()
        .zip(&found.best.values)
        .filter(|(f, v)| get(project, &f.key) != Some(**v))
        .map(|(f, v)| (f.key.clone(), *v))
        .collect()
}
