//! The search over what is free, and the front of two goals.

use arcwright_model::project::schema::{self, Key};
use arcwright_model::project::{Freed, Project, default_free, get};
use arcwright_model::scatter::{SamplePlan, ScatterPlan, SpotReport, report};
use arcwright_model::seek::{Design, Found, Goal, Progress, SeekPlan, Trade, front, seek};
use arcwright_model::units::Dimension as D;
use arcwright_model::units::show::{self, Scale};

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
    // Whoever stopped the search wants the answer soon.
    let (most_count, until_frac) = if found.stopped {
        (2048, 0.02)
    } else {
        (SamplePlan::default().most_count, SamplePlan::default().until_frac)
    };
    let fine = ScatterPlan {
        sample: SamplePlan {
            seed: asked.seed,
            most_count,
            until_frac,
        },
        with_untested: true,
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

/// A value of a key in the project's units.
pub fn value_words(project: &Project, key: &str, value: f64) -> String {
    let measure = Key::parse(key)
        .and_then(|k| schema::entry(&k.pattern))
        .and_then(|e| e.measure());
    match measure {
        Some((dimension, scale)) => show::text(value, dimension, scale, project.units),
        None => show::text(value, D::Number, Scale::Auto, project.units),
    }
}

/// What a design is, in short: the values that differ from the present machine's.
pub fn design_words(project: &Project, freed: &[Freed], d: &Design) -> String {
    let all: Vec<String> = freed
        .iter()
        .zip(&d.values)
        .filter(|(f, v)| get(project, &f.key) != Some(**v))
        .map(|(f, v)| {
            let short = f.key.rsplit_once('.').map_or(f.key.as_str(), |(_, n)| n);
            format!("{short} {}", value_words(project, &f.key, *v))
        })
        .collect();
    if all.is_empty() {
        "as it is".into()
    } else {
        all.join(", ")
    }
}

/// Why the recommended inertia is the one.
pub fn inertia_why(project: &Project, trade: &Trade) -> String {
    let Some(p) = trade.recommended.and_then(|i| trade.points.get(i)) else {
        return "No inertia works.".into();
    };
    let say = |v: Option<f64>, d| v.map_or("never".to_string(), |v| project.say(v, d));
    if !p.in_time {
        return format!(
            "No inertia is ready and back in the time asked. {} is ready soonest, after {}: more torque, a lower \
             ratio or more time between throws would have to come first.",
            project.say(p.inertia_kgm2, D::Inertia),
            say(p.ready_s, D::Time)
        );
    }
    let heavier = trade
        .points
        .iter()
        .skip_while(|q| q.inertia_kgm2 <= p.inertia_kgm2)
        .find(|q| !q.in_time);
    let limit = heavier.map_or("more would gain nothing that counts".to_string(), |q| {
        format!(
            "from {} on it is no longer ready or back in the time asked",
            project.say(q.inertia_kgm2, D::Inertia)
        )
    });
    format!(
        "Recommended: {} ({:.2} times the present). The worst spot hits as often there as with any inertia in time, \
         to within half a point; it is ready after {} and back after {}; {limit}.",
        project.say(p.inertia_kgm2, D::Inertia),
        p.factor_ratio,
        say(p.ready_s, D::Time),
        say(p.recovery_s, D::Time),
    )
}
