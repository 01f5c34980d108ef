//! What the practice floor says: predicted against measured, the log, whether anything has changed.

use arcwright_model::target::Outcome;
use arcwright_model::units::Dimension as D;

use super::{Block, Given, Log, views};
use crate::store::{Entry, Logged, NewestFit};
use crate::tasks::floor::drift::{From, compare, picture};
use crate::tasks::floor::drift_words::says;
use crate::tasks::floor::taught::Learnt;
use crate::tasks::floor::{tell, time};
use crate::tasks::tables::{Table, estimates, fitted_setpoints};
use crate::tasks::throw::{Plan, throw};
use arcwright_model::project::Project;

/// Shots that stand, in their order.
fn standing(log: &Log) -> impl Iterator<Item = &Logged> {
    log.entries.iter().filter(|l| !l.entry.taken_back)
}

/// Where a throw at a shot's speed and setting would cross by a project, along, and what becomes of it.
fn predicted(project: &Project, e: &Entry) -> String {
    /// Method: nearer than this is the same spot.
    const SAME_M: f64 = 1e-3;
    let spot = project.spots.iter().find(|s| s.name == e.spot);
    if spot.is_none_or(|s| {
        (s.distance_m - e.distance_m).abs() > SAME_M || (s.offset_m - e.offset_m).abs() > SAME_M
    }) {
        return "thrown from elsewhere".into();
    }
    let plan = Plan {
        spot: Some(e.spot.clone()),
        wheel_radps: Some(e.setpoint_radps),
        slide_m: Some(e.slide_m),
        tilt_rad: Some(e.tilt_rad),
        reach_m: Some(e.reach_m),
        ..Plan::default()
    };
    let Ok(t) = throw(project, &plan).map_err(drop) else {
        return "-".into();
    };
    let word = t.arrival.outcome.word();
    match &t.arrival.crossing {
        Some(c) => {
            let along = (c.along_m * 1e4).round() * 1e-4;
            let side = if along < 0.0 { "before" } else { "beyond" };
            format!(
                "{word}; {} {side} the centre",
                project.say(along.abs(), D::Length)
            )
        }
        None => word.into(),
    }
}

/// Method: shots shown one by one; those before them are counted.
const MOST_SHOTS: usize = 120;

/// What was expected of each shot, before and after the fit, and what was seen.
pub(super) fn measured(given: &Given<'_>) -> Vec<Block> {
    let Some(log) = &given.log else {
        return vec![Block::Text(
            "No test shot has been logged yet: everything here is a prediction. `arcwright floor log` begins the log.".into(),
        )];
    };
    let design = &given.design;
    let mut out = Vec::new();
    let taught = match &log.learnt {
        Ok(learnt) => {
            out.extend(fit_blocks(design, learnt));
            out.extend(hits(given, log, learnt));
            Some(learnt.fitted.taught().project(design))
        }
        Err(f) => {
            out.push(Block::Text(format!(
                "Nothing was learned yet: {}. {}.",
                f.what, f.fix
            )));
            None
        }
    };
    let all: Vec<&Logged> = standing(log)
        .filter(|l| !l.entry.spot.is_empty() && !l.entry.jammed)
        .collect();
    let left_out = all.len().saturating_sub(MOST_SHOTS);
    let rows = all.iter().skip(left_out).map(|l| {
        let e = &l.entry;
        vec![
            l.id.to_string(),
            e.spot.clone(),
            design.say(e.setpoint_radps, D::AngularSpeed),
            predicted(design, e),
            taught.as_ref().map_or("-".into(), |p| predicted(p, e)),
            tell::seen(design, e),
        ]
    });
    let rows: Vec<Vec<String>> = rows.collect();
    if !rows.is_empty() {
        out.push(Block::Table(
            "Shot by shot: what `throw` says of the same speed and setting, straight ahead, before and after the shots, and what was seen".into(),
            Table::of(&["shot", "spot", "wheel", "by the design", "after the shots", "seen"], rows),
        ));
    }
    if left_out > 0 {
        out.push(Block::Quiet(format!(
            "{left_out} earlier shots are in the log below."
        )));
    }
    out
}

fn fit_blocks(project: &Project, learnt: &Learnt) -> Vec<Block> {
    let fitted = &learnt.fitted;
    let n = fitted.used.len();
    vec![
        Block::Table(
            format!(
                "Setpoints: what {n} {} taught, beside the design's",
                if n == 1 { "shot" } else { "shots" }
            ),
            fitted_setpoints(project, fitted, &learnt.table),
        ),
        Block::Quiet(
            "The ± is one standard deviation after the shots. `hits to expect` counts single throws at the learned speed; * is more than half a metre beyond the shots."
                .into(),
        ),
        Block::Table("What was not known, before and now".into(), estimates(project, fitted)),
    ]
}

/// By spot: hits that the fit makes likely of the throws as they were set, and hits seen.
fn hits(given: &Given<'_>, log: &Log, learnt: &Learnt) -> Vec<Block> {
    let project = &given.design;
    let chances = learnt.fitted.hit_chances(&views(&log.shots));
    let rows = project.spots.iter().filter_map(|spot| {
        let own: Vec<(f64, bool)> = log
            .shots
            .iter()
            .zip(&chances)
            .filter(|(l, _)| l.spot == spot.name && !l.shot.jammed && !l.shot.left_out)
            .filter_map(|(l, chance)| {
                let outcome = l.shot.seen.outcome.filter(|o| *o != Outcome::None)?;
                Some(((*chance)?, outcome == Outcome::In))
            })
            .collect();
        let expected: f64 = own.iter().map(|o| o.0).sum();
        let seen = own.iter().filter(|o| o.1).count();
        (!own.is_empty()).then(|| {
            vec![
                spot.name.clone(),
                own.len().to_string(),
                format!("{expected:.1}"),
                seen.to_string(),
            ]
        })
    });
    let rows: Vec<Vec<String>> = rows.collect();
    if rows.is_empty() {
        return Vec::new();
    }
    vec![Block::Table(
        "Hits: throws whose end was called, how many should have gone in at the speeds they were thrown with, and how many did".into(),
        Table::of(&["spot", "throws", "expected in", "went in"], rows),
    )]
}

/// Sessions, shots, and the fit that is kept.
pub(super) fn log(given: &Given<'_>) -> Vec<Block> {
    let Some(log) = &given.log else {
        return Vec::new();
    };
    let project = &given.design;
    let mut out = Vec::new();
    for s in &log.sessions {
        let own: Vec<&Logged> = standing(log).filter(|l| l.session == s.id).collect();
        if own.is_empty() && s.remarks.is_empty() && s.name.is_empty() {
            continue;
        }
        let name = if s.name.is_empty() {
            String::new()
        } else {
            format!(": {}", s.name)
        };
        out.push(Block::Heading(format!(
            "Session {}{name}, from {}",
            s.id,
            time::day_and_time(s.started_utc_ms)
        )));
        out.extend(s.remarks.iter().map(|r| Block::Text(r.clone())));
        let rows = own.iter().map(|l| {
            let e = &l.entry;
            vec![
                l.id.to_string(),
                if l.time_known {
                    time::clock(l.thrown_utc_ms)
                } else {
                    "-".into()
                },
                tell::place(project, e),
                project.say(e.setpoint_radps, D::AngularSpeed),
                tell::seen(project, e),
                tell::besides(project, e),
            ]
        });
        let rows: Vec<Vec<String>> = rows.collect();
        if !rows.is_empty() {
            out.push(Block::Table(
                format!("Shots of session {}", s.id),
                Table::of(&["shot", "time", "spot", "wheel", "seen", "besides"], rows),
            ));
        }
    }
    match &log.newest {
        NewestFit::Kept(fit) => out.push(Block::Text(format!(
            "The fit that is kept was made at {} by arcwright {} from {} shots of {} sessions{}.",
            time::day_and_time(fit.made_utc_ms),
            fit.tool,
            fit.shot_count,
            fit.session_count,
            if fit.confident {
                String::new()
            } else {
                format!(", and is not sure enough to be used ({})", fit.why_not)
            }
        ))),
        NewestFit::Newer { tool, .. } => out.push(Block::Text(format!(
            "The fit that is kept was made by a newer arcwright ({tool})."
        ))),
        NewestFit::None => out.push(Block::Text("No fit has been kept.".into())),
    }
    out
}

/// Method: sessions looked back upon; each costs a fit.
const MOST_SESSIONS: usize = 12;

/// Each session against all before it.
pub(super) fn drift(given: &Given<'_>) -> Vec<Block> {
    let Some(log) = &given.log else {
        return Vec::new();
    };
    let mut sessions: Vec<i64> = log.shots.iter().map(|l| l.session).collect();
    sessions.dedup();
    let begin = sessions.len().saturating_sub(MOST_SESSIONS).max(1);
    let mut rows = Vec::new();
    let mut last = None;
    for n in sessions.iter().skip(begin) {
        let until: Vec<_> = {
            let end = log
                .shots
                .iter()
                .rposition(|l| l.session == *n)
                .map_or(0, |i| i + 1);
            log.shots.iter().take(end).cloned().collect()
        };
        let day = until.last().map_or(String::new(), |l| time::day(l.thrown_utc_ms));
        match compare(&given.design, until, From::Session(*n)) {
            Ok(found) => {
                let words = says(&given.design, &found);
                rows.push(vec![
                    n.to_string(),
                    day,
                    found.verdict.word().to_string(),
                    words.lines().join(" "),
                ]);
                last = Some(found);
            }
            Err(f) => rows.push(vec![n.to_string(), day, "too little".into(), f.what]),
        }
    }
    if rows.is_empty() {
        return Vec::new();
    }
    let mut out = vec![Block::Table(
        "Each session against what all shots before it taught".into(),
        Table::of(&["session", "day", "changed?", "what the check says"], rows),
    )];
    if let Some(found) = last {
        out.push(Block::Figure(
            picture(&found),
            "The last of these checks, shot by shot.".into(),
        ));
    }
    out
}
