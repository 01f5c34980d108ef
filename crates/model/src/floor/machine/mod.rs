//! What a log of test shots says about the project's own machine.
//!
//! ```text
//! fit(&Project, &[Shot], &MachineOptions) -> Result<Fitted, Finding>
//! Fitted::taught(&self) -> Taught             Taught::project(&self, &Project) -> Project
//! ```

mod ahead;
mod flights;
mod later;
mod layout;
mod learned;
mod model;
mod prior;
mod words;

use std::collections::BTreeSet;

use super::fit::{FitOptions, FitRefused, Posterior, fit_with};
use super::likelihood::Rule;
use super::shot::Shot;
use crate::finding::Finding;
use crate::project::Project;
use crate::shot::Chain;
use flights::KNOBS;
use layout::Parameters;
use model::work_out;

pub use later::{Deviation, Later, throw_of};
pub use layout::Effect;
pub(super) use learned::speed_sd_at_target;
pub use model::{LoggedShot, Machine, Measuring};
pub use prior::Before;
pub(super) use words::PRIOR_ONLY_RATIO;
pub use words::{Apart, Note};

/// How to fit the project's machine.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct MachineOptions {
    /// How outliers are thought of.
    pub rule: Rule,
    /// How well things are measured.
    pub measuring: Measuring,
    /// What is believed before; read from the project when not given.
    pub before: Option<Before>,
}

/// One thing that was learned.
#[derive(Clone, Debug, PartialEq)]
pub struct Estimate {
    /// What it stands for.
    pub effect: Effect,
    /// Short name.
    pub name: String,
    /// In plain words.
    pub words: String,
    /// Unit of the values: "1" for a share or a logarithm, "rad" for an angle.
    pub unit: &'static str,
    /// Value believed before.
    pub prior_mean: f64,
    /// Its standard deviation.
    pub prior_sd: f64,
    /// Value now.
    pub mean: f64,
    /// Its standard deviation, with the small-sample factor.
    pub sd: f64,
    /// Standard deviation now by that before, without that factor: near one, nothing was learned.
    pub ratio: f64,
}

impl Estimate {
    /// Did the log say anything of it, or is it as assumed?
    pub fn is_learned(&self) -> bool {
        self.ratio <= PRIOR_ONLY_RATIO
    }
}

/// What a log says.
pub struct Fitted {
    /// What was learned, one for each parameter.
    pub estimates: Vec<Estimate>,
    /// Everything about the parameters: deviations from the project, in the order of `estimates`.
    pub posterior: Posterior,
    /// Probability of each logged shot being a flyer; 0 for a shot that did not take part.
    pub flyer_frac: Vec<f64>,
    /// How far off each logged shot lies, in standard deviations.
    pub misfit_ratio: Vec<f64>,
    /// Which logged shots took part.
    pub used: Vec<usize>,
    /// Intervals can be trusted at all: three shots or more, converged, bracket closed.
    pub confident: bool,
    /// What to know before using it.
    pub diagnostics: Vec<Note>,
    /// What the data cannot tell apart, and what would.
    pub apart: Vec<Apart>,
    /// The session that the learned values stand for: the last in the log.
    pub session_index: usize,
    /// Nearest and farthest distance thrown from.
    pub distance_m: [f64; 2],
    /// The machine with its flights about the result, for predictions with the same model.
    pub machine: Machine,
    /// The shots that took part, as the machine needs them.
    pub shots: Vec<LoggedShot>,
}

/// Method: shots below which no interval is worth printing.
pub const FEWEST_SHOTS: usize = 3;
/// Convergence: most lattices of flights; three or four do nearly always.
const MOST_ANCHORS: usize = 12;
/// Method: the least share of the way that is gone to a new result.
const LEAST_SHARE: f64 = 0.1;
/// Convergence: the result has settled when it moves by less than this part of its standard deviation.
const SETTLED: f64 = 0.02;
/// Method: reach of the first lattice, about the spread of the prior of a team that knows its project.
const FIRST_UNIT: [f64; KNOBS] = [0.03, 0.03, 0.15, 0.3];
/// Method: reach of the later ones.
const LATER_UNIT: [f64; KNOBS] = [0.015, 0.015, 0.1, 0.2];

/// Learns from a log.
///
/// Flights are replaced by polynomials of the third degree in speed, angle, drag and lift about the present
/// result, from a lattice of exact flights, renewed until the result stands still; where it goes to and fro only a
/// share of the way is gone each time. See [`fit_with`] for the rest. Shots that jammed, were left out or were not seen take no part.
///
/// # Errors
/// `no-shots` when nothing is left to learn from, `bad-shot` for a number in the log that makes no sense,
/// `shot-not-thrown` when the project lets nothing out at a logged setting, `not-fitted` when the numbers lead nowhere.
pub fn fit(project: &Project, shots: &[Shot], options: &MachineOptions) -> Result<Fitted, Finding> {
    let used: Vec<(usize, &Shot)> = shots.iter().enumerate().filter(|(_, s)| takes_part(s)).collect();
    let Some((_, first)) = used.first() else {
        return Err(Finding::new(
            "no-shots",
            "shot",
            "no shot in the log was seen, or all are left out",
            "log at least three shots with where they landed, how long they flew or what became of them",
        ));
    };
    for (index, shot) in &used {
        if let Some(what) = nonsense(shot) {
            return Err(Finding::new(
                "bad-shot",
                format!("shot[{index}]"),
                format!("{what} of shot {} makes no sense", index + 1),
                "mend it in the log, or leave this shot out",
            ));
        }
    }
    // A log is thrown from a robot that stands.
    let chain = Chain::of(project).standing();
    let before = options
        .before
        .unwrap_or_else(|| Before::of(project, &first.setting, first.setpoint_radps));
    let only: Vec<&Shot> = used.iter().map(|(_, s)| *s).collect();
    let parameters = Parameters::of(&only, &before, project.machine.battery.open_v);
    let mut logged = work_out(&chain, &used)?;
    let not_fitted = |what: String| {
        Finding::new(
            "not-fitted",
            "shot",
            what,
            "look for a shot whose numbers are in the wrong unit or column, or leave it out",
        )
    };
    let machine = Machine::new(chain, parameters, before, options.measuring)
        .ok_or_else(|| not_fitted("the lattice of flights could not be laid out".into()))?;
    let prior = machine.parameters.prior.clone();
    let mut fit_options = FitOptions {
        rule: options.rule,
        ..FitOptions::default()
    };
    let mut at = prior.mean.clone();
    // The result that moved least from where its flights were worked out, and by how much; the last move, and its share.
    let mut found: Option<(Posterior, f64)> = None;
    let (mut last, mut share): (Option<Vec<f64>>, f64) = (None, 1.0);
    for anchor in 0..MOST_ANCHORS {
        let unit = if anchor == 0 { FIRST_UNIT } else { LATER_UNIT };
        if let Err(i) = machine.anchor(&mut logged, &at, unit) {
            let index = used.get(i).map_or(0, |(k, _)| *k);
            return Err(not_fitted(format!(
                "no flight near what was logged for shot {} comes where it was seen",
                index + 1
            )));
        }
        let posterior = fit_with(&machine, &prior, &logged, &fit_options).map_err(|e| {
            not_fitted(match e {
                FitRefused::Prior => "what is believed before the log is not a number".into(),
                FitRefused::Shot(i) => {
                    let index = used.get(i).map_or(0, |(k, _)| *k);
                    format!("nothing can be said of shot {} by the project", index + 1)
                }
            })
        })?;
        let pairs = posterior.mean.iter().zip(&at).enumerate();
        let moved: Vec<f64> = pairs.map(|(j, (a, b))| (a - b) / posterior.sd(j)).collect();
        let farthest = moved.iter().fold(0.0, |m: f64, d| m.max(d.abs()));
        share = last.map_or(1.0, |before| relaxed(share, &before, &moved));
        for (x, mean) in at.iter_mut().zip(&posterior.mean) {
            *x += share * (mean - *x);
        }
        fit_options.start = Some(posterior.mean.clone());
        // The first lattice is coarse.
        last = (anchor > 0).then_some(moved);
        if anchor == 0 || found.as_ref().is_none_or(|(_, least)| !(farthest > *least)) {
            let by = if anchor == 0 { f64::INFINITY } else { farthest };
            found = Some((posterior, by));
        }
        if anchor > 0 && farthest < SETTLED {
            break;
        }
    }
    let (mut posterior, by) = found.ok_or_else(|| not_fitted("no fit was made".into()))?;
    let settled = by < SETTLED;
    if !settled {
        // So that flights and result belong together.
        let _ = machine.anchor(&mut logged, &posterior.mean, LATER_UNIT);
    }
    posterior.converged &= settled;
    Ok(gathered(project, shots, &used, machine, logged, posterior))
}

/// The share of the way to the next result, by how the last two moves compare.
///
/// ```text
/// w' = w / (1 − ρ)        ρ = (d' · d)/(d · d)        d, d' the moves before and now, in standard deviations
/// ```
///
/// the relaxation of [irons-tuck-1969]: a move that is turned back is shortened, and one in the same direction goes all
/// the way.
fn relaxed(share: f64, before: &[f64], now: &[f64]) -> f64 {
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
    let back = dot(now, before) / dot(before, before);
    if !(back < 0.0) {
        return 1.0;
    }
    (share / (1.0 - back)).clamp(LEAST_SHARE, 1.0)
}

fn gathered(
    project: &Project,
    shots: &[Shot],
    used: &[(usize, &Shot)],
    machine: Machine,
    logged: Vec<LoggedShot>,
    posterior: Posterior,
) -> Fitted {
    let mut flyer_frac = vec![0.0; shots.len()];
    let mut misfit_ratio = vec![0.0; shots.len()];
    for (k, (i, _)) in used.iter().enumerate() {
        flyer_frac[*i] = posterior.flyer_frac.get(k).copied().unwrap_or(0.0);
        misfit_ratio[*i] = posterior.misfit_ratio.get(k).copied().unwrap_or(0.0);
    }
    let distances = || used.iter().map(|(_, s)| s.distance_m);
    let estimates = learned::estimates(project, &machine, &posterior);
    let shots: Vec<&Shot> = used.iter().map(|(_, s)| *s).collect();
    let (diagnostics, apart) = words::notes(project, &machine, &shots, &posterior);
    let trusted = diagnostics.iter().all(|n| !n.forbids_confidence);
    Fitted {
        estimates,
        flyer_frac,
        misfit_ratio,
        used: used.iter().map(|(i, _)| *i).collect(),
        confident: trusted && posterior.converged && posterior.definite,
        diagnostics,
        apart,
        session_index: shots.iter().map(|s| s.session_index).max().unwrap_or(0),
        distance_m: [
            distances().fold(f64::INFINITY, f64::min),
            distances().fold(f64::NEG_INFINITY, f64::max),
        ],
        posterior,
        machine,
        shots: logged,
    }
}

/// Was it seen, and may it speak?
fn takes_part(shot: &Shot) -> bool {
    let s = &shot.seen;
    let seen = s.landing.is_some()
        || s.wall.is_some()
        || s.fall.is_some()
        || s.miss_m.is_some()
        || model::zone(s.outcome).is_some()
        || s.exit_speed_mps.is_some()
        || s.exit_angle_rad.is_some()
        || (shot.before_radps.is_some() && shot.after_radps.is_some());
    seen && !shot.jammed && !shot.left_out
}

/// Physical: nobody throws a test shot farther, and no wheel or piece is faster.
const HUGE: f64 = 1e5;

/// The first number of a shot that is not one, or absurd.
fn nonsense(shot: &Shot) -> Option<&'static str> {
    let s = &shot.seen;
    let mut all: Vec<(&'static str, f64)> = vec![
        ("the distance", shot.distance_m),
        ("the sideways offset", shot.offset_m),
        ("the turn", shot.turned_rad),
        ("the setting", shot.setting.slide_m),
        ("the setting", shot.setting.tilt_rad),
        ("the setting", shot.setting.reach_m),
        ("the wheel speed", shot.setpoint_radps),
    ];
    let mut positive: Vec<(&'static str, f64)> = vec![("the distance", shot.distance_m)];
    positive.push((
        "the wheel speed",
        shot.before_radps.unwrap_or(shot.setpoint_radps),
    ));
    all.extend(shot.before_radps.map(|x| ("the wheel speed before", x)));
    all.extend(shot.after_radps.map(|x| ("the wheel speed after", x)));
    if let Some(l) = s.landing {
        all.extend([l.along_m, l.across_m, l.height_m].map(|x| ("the landing", x)));
    }
    if let Some(w) = s.wall {
        all.push(("the height at the wall", w.height_m));
        positive.push(("the distance of the wall", w.distance_m));
    }
    if let Some(f) = s.fall {
        all.push(("the height of the timed fall", f.height_m));
        positive.push(("the time of flight", f.time_s));
    }
    all.extend(s.miss_m.iter().flatten().map(|x| ("the miss", *x)));
    positive.extend(s.exit_speed_mps.map(|x| ("the speed at the exit", x)));
    all.extend(s.exit_angle_rad.map(|x| ("the angle at the exit", x)));
    let absurd = |x: &f64| !(x.abs() < HUGE);
    let bad = all.iter().chain(&positive).find(|(_, x)| absurd(x));
    bad.or_else(|| positive.iter().find(|(_, x)| !(*x > 0.0)))
        .map(|(w, _)| *w)
}

/// Sessions in a log.
fn sessions(shots: &[&Shot]) -> BTreeSet<usize> {
    shots.iter().map(|s| s.session_index).collect()
}

#[cfg(test)]
mod tests {
    use super::relaxed;

    /// Repeats x ← x + w (f(x) − x) in two directions and says where it ends.
    fn repeated(f: impl Fn([f64; 2]) -> [f64; 2]) -> ([f64; 2], f64) {
        let (mut x, mut share, mut last) = ([1.0, -2.0], 1.0, None::<Vec<f64>>);
        let mut farthest = f64::INFINITY;
        for _ in 0..super::MOST_ANCHORS {
            let to = f(x);
            let moved = vec![to[0] - x[0], to[1] - x[1]];
            farthest = moved[0].abs().max(moved[1].abs());
            share = last.map_or(1.0, |before: Vec<f64>| relaxed(share, &before, &moved));
            x = [x[0] + share * moved[0], x[1] + share * moved[1]];
            last = Some(moved);
        }
        (x, farthest)
    }

    #[test]
    fn what_goes_to_and_fro_is_brought_to_rest_and_what_settles_by_itself_is_left_alone() {
        // Without relaxation this stays at ±3 for ever, and the second runs away.
        let (x, moved) = repeated(|[a, b]| [6.0 - a, 2.0 - 0.7 * b]);
        assert!(
            (x[0] - 3.0).abs() < 1e-3 && (x[1] - 2.0 / 1.7).abs() < 1e-3,
            "{x:?}"
        );
        assert!(moved < super::SETTLED);
        let (x, _) = repeated(|[a, _]| [4.0 - 1.5 * a, 0.0]);
        assert!((x[0] - 1.6).abs() < 1e-3, "{x:?}");
        let settles = relaxed(1.0, &[1.0, 0.5], &[0.1, 0.05]);
        assert_eq!(settles, 1.0);
    }
}
