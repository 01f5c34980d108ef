//! What the shots taught, as every other command uses it: the kept fit, what it rests on, and when it no longer holds.

use std::collections::BTreeMap;
use std::path::Path;

use arcwright_model::finding::Finding;
use arcwright_model::flight::DragLaw;
use arcwright_model::floor::{
    Fitted, MachineOptions, Setpoint, Shot, Taught, fit, setpoints_at, turned_back,
};
use arcwright_model::launcher::Layout;
use arcwright_model::project::{self, PieceKind, Project, change};
use arcwright_model::units::Dimension as D;

use super::time;
use crate::store::{self, KeptEstimate, KeptFit, KeptSetpoint, LoggedShot, NewestFit, ProjectValue, Since};

/// What there is to go by besides the design.
#[derive(Clone, Debug, PartialEq)]
pub enum Basis {
    /// Nothing: no log, or none with shots in it.
    Nothing,
    /// The kept fit, which holds.
    Learned(Box<KeptFit>, Since),
    /// A log that cannot be gone by.
    Design(WhyDesign),
}

/// Why the design alone counts although there is a log.
#[derive(Clone, Debug, PartialEq)]
pub enum WhyDesign {
    /// Shots, but no fit yet.
    NotFitted {
        /// How many shots stand.
        shot_count: u32,
    },
    /// The fit is not to be relied upon.
    NotConfident(Box<KeptFit>),
    /// The file says something else than when the fit was made.
    Changed {
        /// When it was made, milliseconds UTC.
        made_utc_ms: i64,
        /// What differs.
        keys: Vec<ChangedKey>,
    },
    /// The fit is one of a newer program.
    Newer {
        /// Version of that program.
        tool: String,
    },
    /// The log cannot be read; why, in plain words.
    Unread(String),
}

/// A value of the file that differs from the one the fit rests on.
#[derive(Clone, Debug, PartialEq)]
pub struct ChangedKey {
    /// Key.
    pub key: String,
    /// Value then; none where there was none.
    pub then: Option<ProjectValue>,
    /// Value now.
    pub now: Option<ProjectValue>,
}

/// Tables of the file that a fit rests on.
const TABLES: [&str; 4] = ["piece.", "launcher.", "wheel.", "motor."];
/// Keys of them that no throw depends on.
const BESIDE: [&str; 2] = ["wheel.rim_limit", "motor.current_limit"];

/// Values of the file that a fit rests on: those of piece, launcher, wheel and motor. Knobs, spots, target, air, limits,
/// battery and controller may change without a word.
pub fn rests_on(project: &Project) -> BTreeMap<String, ProjectValue> {
    let word = |w: &str| ProjectValue::Word(w.to_string());
    let mut out: BTreeMap<String, ProjectValue> = change::keys(project)
        .into_iter()
        .filter(|k| TABLES.iter().any(|t| k.starts_with(t)))
        .filter(|k| !k.starts_with("launcher.sheet") && !BESIDE.contains(&k.as_str()))
        .filter_map(|k| project::get(project, &k).map(|v| (k, ProjectValue::Number(v))))
        .collect();
    let kind = match project.piece.kind {
        PieceKind::Foam => "foam",
        PieceKind::Hollow => "hollow",
        PieceKind::Perforated => "perforated",
        PieceKind::Solid => "solid",
    };
    out.insert("piece.kind".into(), word(kind));
    let layout = match project.machine.layout {
        Layout::Guide(_) => "guide",
        Layout::Pair(_) => "pair",
    };
    out.insert("launcher.layout".into(), word(layout));
    // The smooth sphere's curve and a coefficient are two things.
    if !matches!(project.piece.drag.law, DragLaw::Constant { .. } | DragLaw::None) {
        out.insert("piece.drag".into(), word("smooth"));
    }
    out
}

/// Convergence: values that were written and read back agree to this share.
const SAME_FRAC: f64 = 1e-9;

fn same(a: &ProjectValue, b: &ProjectValue) -> bool {
    match (a, b) {
        (ProjectValue::Number(a), ProjectValue::Number(b)) => {
            (a - b).abs() <= SAME_FRAC * a.abs().max(b.abs())
        }
        _ => a == b,
    }
}

/// What differs between two sets of values.
fn differing(then: &BTreeMap<String, ProjectValue>, now: &BTreeMap<String, ProjectValue>) -> Vec<ChangedKey> {
    let keys: std::collections::BTreeSet<&String> = then.keys().chain(now.keys()).collect();
    keys.into_iter()
        .filter_map(|key| {
            let (a, b) = (then.get(key), now.get(key));
            let alike = match (a, b) {
                (Some(a), Some(b)) => same(a, b),
                _ => false,
            };
            (!alike).then(|| ChangedKey {
                key: key.clone(),
                then: a.cloned(),
                now: b.cloned(),
            })
        })
        .collect()
}

/// Looks into the log beside a project file; writes nothing, and never fails: what cannot be read is said.
pub fn basis(project: &Project, log: &Path) -> Basis {
    let read = || {
        let Some(store) = store::open_as_it_is(log)? else {
            return Ok(Basis::Nothing);
        };
        Ok(match store.newest_fit()? {
            NewestFit::Kept(fit) => {
                let keys = differing(&fit.project, &rests_on(project));
                if !keys.is_empty() {
                    Basis::Design(WhyDesign::Changed {
                        made_utc_ms: fit.made_utc_ms,
                        keys,
                    })
                } else if fit.confident {
                    let since = store.since(fit.seen_act)?;
                    Basis::Learned(fit, since)
                } else {
                    Basis::Design(WhyDesign::NotConfident(fit))
                }
            }
            NewestFit::Newer { tool, .. } => Basis::Design(WhyDesign::Newer { tool }),
            NewestFit::None => match store.since(0)?.new_count {
                0 => Basis::Nothing,
                shot_count => Basis::Design(WhyDesign::NotFitted { shot_count }),
            },
        })
    };
    read().unwrap_or_else(|f: Finding| Basis::Design(WhyDesign::Unread(f.what)))
}

/// The project to work with, and what it rests on.
#[derive(Clone, Debug)]
pub struct Standing {
    /// With what was learned in it, the launcher turned back by what it throws to the side; or the design.
    pub project: Project,
    /// The design, where something was learned.
    pub learned: Option<Schooled>,
    /// One line that says what is used; empty where there is nothing but the design.
    pub line: String,
    /// What it rests on.
    pub basis: Basis,
}

/// What stands beside a learned project.
#[derive(Clone, Debug)]
pub struct Schooled {
    /// The project as written.
    pub design: Project,
    /// What the fit left.
    pub taught: Taught,
    /// How far the launcher is turned from the line to the target so that it throws straight, left positive.
    pub turned_rad: f64,
}

impl Standing {
    /// The design alone.
    pub fn design(project: Project) -> Standing {
        Standing {
            project,
            learned: None,
            line: String::new(),
            basis: Basis::Nothing,
        }
    }

    /// The project with what the log beside it taught.
    pub fn of(project: Project, log: &Path) -> Standing {
        let basis = basis(&project, log);
        let mut line = line(&project, &basis);
        if log.file_name().is_some_and(|n| n != store::FILE_NAME) {
            line = line.replace("floor fit`", "floor fit --rehearsal`");
        }
        let Basis::Learned(fit, _) = &basis else {
            return Standing {
                line,
                basis,
                ..Standing::design(project)
            };
        };
        let mut learned = fit.taught.project(&project);
        let turned_rad = turned_back(&mut learned);
        Standing {
            project: learned,
            learned: Some(Schooled {
                design: project,
                taught: fit.taught.clone(),
                turned_rad,
            }),
            line,
            basis,
        }
    }
}

fn counted(n: u32, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}

/// A value in the project's units.
pub fn value_words(project: &Project, key: &str, value: &Option<ProjectValue>) -> String {
    match value {
        None => "none".into(),
        Some(ProjectValue::Word(w)) => w.clone(),
        Some(ProjectValue::Number(x)) => {
            let measure = change::quantity(project, key)
                .ok()
                .and_then(|(entry, _)| entry.measure());
            match measure {
                Some((dimension, _)) => project.say(*x, dimension),
                None => project.say(*x, D::Number),
            }
        }
    }
}

/// Keys named before the rest is counted.
const NAMED_KEYS: usize = 4;

/// What is used, in a line.
pub fn line(project: &Project, basis: &Basis) -> String {
    const FIT: &str = "run `arcwright floor fit`";
    match basis {
        Basis::Nothing => String::new(),
        Basis::Learned(fit, since) => {
            let mut text = format!(
                "Learned from {} in {}, last {}",
                counted(fit.shot_count, "shot", "shots"),
                counted(fit.session_count, "session", "sessions"),
                time::day(fit.last_thrown_utc_ms)
            );
            let mut news = Vec::new();
            if since.new_count > 0 {
                news.push(format!("{} since", counted(since.new_count, "shot", "shots")));
            }
            if since.changed_count > 0 {
                news.push(format!(
                    "{} changed since",
                    counted(since.changed_count, "shot", "shots")
                ));
            }
            if !news.is_empty() {
                text.push_str(&format!("; {}: {FIT}", news.join(", ")));
            }
            text.push('.');
            text
        }
        Basis::Design(WhyDesign::NotFitted { shot_count }) => format!(
            "By the design: {} logged, but not fitted yet: {FIT}.",
            match shot_count {
                1 => "1 shot is".to_string(),
                n => format!("{n} shots are"),
            }
        ),
        Basis::Design(WhyDesign::NotConfident(fit)) => format!(
            "By the design: the fit of {} is not sure enough to be used ({}); see `arcwright floor fit`.",
            counted(fit.shot_count, "shot", "shots"),
            fit.why_not
        ),
        Basis::Design(WhyDesign::Changed { made_utc_ms, keys }) => {
            let mut named: Vec<String> = keys
                .iter()
                .take(NAMED_KEYS)
                .map(|k| {
                    format!(
                        "`{}` was {}, is {}",
                        k.key,
                        value_words(project, &k.key, &k.then),
                        value_words(project, &k.key, &k.now)
                    )
                })
                .collect();
            if keys.len() > NAMED_KEYS {
                named.push(format!("and {} more", keys.len() - NAMED_KEYS));
            }
            format!(
                "By the design: since the fit of {} the file was changed ({}). If it was only corrected, {FIT}. If the \
                 machine was changed, the shots before it speak of another one: log new ones, leave the old ones out, then fit.",
                time::day(*made_utc_ms),
                named.join("; ")
            )
        }
        Basis::Design(WhyDesign::Newer { tool }) => format!(
            "By the design: the kept fit was made by a newer arcwright ({tool}): use that one, or {FIT} with this one."
        ),
        Basis::Design(WhyDesign::Unread(why)) => {
            format!("By the design: the log of shots was not read: {why}.")
        }
    }
}

/// A fit as it is kept.
pub fn to_keep(
    project: &Project,
    logged: &[LoggedShot],
    seen_act: i64,
    fitted: &Fitted,
    table: &[Setpoint],
) -> KeptFit {
    let used: Vec<&LoggedShot> = fitted.used.iter().filter_map(|i| logged.get(*i)).collect();
    let sessions: std::collections::BTreeSet<i64> = used.iter().map(|l| l.session).collect();
    let why_not: Vec<&str> = fitted
        .diagnostics
        .iter()
        .filter(|n| n.forbids_confidence)
        .map(|n| n.what.as_str())
        .collect();
    KeptFit {
        made_utc_ms: time::now_ms(),
        tool: env!("CARGO_PKG_VERSION").into(),
        seen_act,
        last_thrown_utc_ms: used.iter().map(|l| l.thrown_utc_ms).max().unwrap_or_default(),
        shot_count: u32::try_from(used.len()).unwrap_or(u32::MAX),
        session_count: u32::try_from(sessions.len()).unwrap_or(u32::MAX),
        confident: fitted.confident,
        why_not: why_not.join("; "),
        taught: fitted.taught(),
        project: rests_on(project),
        estimates: fitted
            .estimates
            .iter()
            .map(|e| KeptEstimate {
                name: e.name.clone(),
                unit: e.unit.into(),
                before: [e.prior_mean, e.prior_sd],
                now: [e.mean, e.sd],
            })
            .collect(),
        setpoints: project
            .spots
            .iter()
            .zip(table)
            .map(|(spot, s)| KeptSetpoint {
                spot: spot.name.clone(),
                distance_m: s.distance_m,
                learned: s
                    .wheel
                    .map(|w| [w.wheel_radps, w.wheel_sd_radps, w.expected_hit_frac]),
                design_radps: s.design.map(|d| d.wheel_radps),
            })
            .collect(),
    }
}

/// The model's view of logged shots.
pub fn views(logged: &[LoggedShot]) -> Vec<Shot> {
    logged.iter().map(|l| l.shot.clone()).collect()
}

/// Whether the result was kept.
pub enum Kept {
    /// It was, and counts from now on.
    Yes,
    /// It was, and says that it is not to be relied upon.
    NotToBeUsed,
    /// It was not asked for.
    LookedOnly,
    /// It could not be; why, in plain words.
    Refused(String),
}

/// A fit of a log, its table of the project's spots, and whether it was kept.
pub struct Learnt {
    /// The fit.
    pub fitted: Fitted,
    /// Setpoints in the order of the spots.
    pub table: Vec<Setpoint>,
    /// Kept?
    pub kept: Kept,
}

/// Fits the log beside a project, and keeps the result for the commands that go by it if asked to.
///
/// # Errors
/// When the log cannot be read or says nothing; that it could not be kept is told in [`Kept`].
pub fn learn(project: &Project, log: &Path, keep: bool) -> Result<Learnt, Finding> {
    let store = store::open_to_read(log)?;
    // The act first: a shot that comes in meanwhile is one too many in the count of those since, never one lost.
    let (seen_act, logged) = match &store {
        Some(store) => (store.last_act()?, store::shots(store, project)?),
        None => (0, Vec::new()),
    };
    drop(store);
    let fitted = fit(project, &views(&logged), &MachineOptions::default())?;
    let table = setpoints_at(project, &fitted.taught(), &project.spots);
    let kept = if keep {
        let made = to_keep(project, &logged, seen_act, &fitted, &table);
        let written = store::open(log).and_then(|mut s| s.keep_fit(&made));
        match written {
            Ok(()) if fitted.confident => Kept::Yes,
            Ok(()) => Kept::NotToBeUsed,
            Err(f) => Kept::Refused(f.what),
        }
    } else {
        Kept::LookedOnly
    };
    Ok(Learnt { fitted, table, kept })
}
