//! Why do the throws differ: suspects with intervals, and the throws that would convict each.

use arcwright_model::finding::Finding;
use arcwright_model::floor::components::{Cause, Components, Judgement, Suspect, Trial, components};
use arcwright_model::floor::{Fitted, MachineOptions, fit, throw_of};
use arcwright_model::project::Project;
use arcwright_model::units::Dimension as D;
use arcwright_paper::drawings::wander as view;

use crate::store::LoggedShot;

/// Where the scatter of a log comes from.
pub struct Wander {
    /// Sideways instead of along.
    pub sideways: bool,
    /// What was learned.
    pub fitted: Fitted,
    /// The split.
    pub components: Components,
    /// What reading the shots adds, root mean square: a share of speed, or an angle.
    pub reading_sd: f64,
    /// Shots of the log that were seen but say nothing of the scatter.
    pub unused: usize,
}

/// Splits the scatter of all shots of a log.
///
/// # Errors
/// What the fit says of the log, and `too-few-shots`.
pub fn split(project: &Project, logged: &[LoggedShot], sideways: bool) -> Result<Wander, Finding> {
    let shots: Vec<_> = logged.iter().map(|l| l.shot.clone()).collect();
    let fitted = fit(project, &shots, &MachineOptions::default())?;
    let mut throws = Vec::new();
    let mut squares = 0.0;
    for d in fitted.deviations() {
        let value = if sideways { d.aside_rad } else { d.along_frac };
        if let (Some([value, read]), Some(shot)) = (value, shots.get(d.index)) {
            throws.push(throw_of(shot, value, !sideways));
            squares += read * read;
        }
    }
    let unused = fitted.used.len() - throws.len().min(fitted.used.len());
    let found = components(&throws).ok_or_else(|| {
        Finding::new(
            "too-few-shots",
            "the log",
            format!(
                "{} of {} shots say by how much they missed; four that differ are needed, twenty are good",
                throws.len(),
                shots.len()
            ),
            "say how far each shot misses (`long 12cm left 5cm`), or tape where it lands",
        )
    })?;
    Ok(Wander {
        sideways,
        fitted,
        components: found,
        reading_sd: (squares / throws.len().max(1) as f64).sqrt(),
        unused,
    })
}

/// A cause in plain words.
pub fn cause_name(cause: Cause) -> &'static str {
    match cause {
        Cause::Piece => "the pieces",
        Cause::Session => "the day (session)",
        Cause::Place => "the place in the volley",
        Cause::Last => "the last of the volley",
        Cause::Voltage => "the battery",
        Cause::ReleaseSpeed => "the wheel's speed at release",
    }
}

/// Short stable name.
pub fn cause_code(cause: Cause) -> &'static str {
    match cause {
        Cause::Piece => "piece",
        Cause::Session => "session",
        Cause::Place => "place",
        Cause::Last => "last",
        Cause::Voltage => "voltage",
        Cause::ReleaseSpeed => "release-speed",
    }
}

/// What the log says.
pub fn judged(judgement: Judgement) -> &'static str {
    match judgement {
        Judgement::Shown => "shown",
        Judgement::Small => "small",
        Judgement::CannotTell => "cannot tell",
    }
}

/// A standard deviation in words.
pub fn amount(project: &Project, w: &Wander, value: f64) -> String {
    project.say(value, if w.sideways { D::Angle } else { D::Ratio })
}

/// The throws that would convict or clear a suspect.
pub fn trial_words(s: &Suspect) -> String {
    match s.trial {
        Trial::TwoPieces { slow, fast, each } => format!(
            "throw pieces {slow} and {fast} alternating, {each} times each, from one spot at one speed: piece {fast} must keep going farther"
        ),
        Trial::MarkPieces { pieces, each } => {
            format!("write numbers on {pieces} pieces and throw each {each} times, in an order drawn by lot")
        }
        Trial::MoreSessions { sessions, each } => {
            format!("throw the same pieces on {sessions} days, {each} times each, from one spot at one speed")
        }
        Trial::RestBetween { volleys } => format!(
            "throw {volleys} volleys as in a match and as many throws with a long rest before each, alternating"
        ),
        Trial::TwoBatteries { each } => {
            format!("throw {each} times with a full and {each} times with a used battery, alternating")
        }
        Trial::LogSpeed { throws } => format!("log the wheel speed before each of {throws} throws"),
    }
}

/// What would mend a suspect that was shown.
pub fn mend_words(cause: Cause) -> &'static str {
    match cause {
        Cause::Piece => "sort the pieces: leave out those that differ most, or throw them in one volley",
        Cause::Session => "begin each match day with six throws, then `arcwright floor next`",
        Cause::Place => "let the wheel come back before the next throw, or give the wheel more inertia",
        Cause::Last => "see what the feed does when the last piece goes: nothing pushes behind it",
        Cause::Voltage => "throw with a full battery, and set the speed in rpm, not in per cent",
        Cause::ReleaseSpeed => "release only inside a narrower ready band",
    }
}

/// The picture.
pub fn picture(project: &Project, w: &Wander) -> String {
    let c = &w.components;
    let mut rows: Vec<view::WanderRow> = c
        .suspects
        .iter()
        .map(|s| view::WanderRow {
            name: cause_name(s.cause).into(),
            sd: s.sd_frac,
            interval: Some(s.interval_frac),
            finding: match s.judgement {
                Judgement::Shown => view::WanderFinding::Shown,
                Judgement::Small => view::WanderFinding::Small,
                Judgement::CannotTell => view::WanderFinding::CannotTell,
            },
        })
        .collect();
    for (name, sd) in [
        ("what is left from throw to throw", c.residual_sd_frac),
        ("of it, reading the shots", w.reading_sd),
    ] {
        rows.push(view::WanderRow {
            name: name.into(),
            sd,
            interval: None,
            finding: view::WanderFinding::Rest,
        });
    }
    view::draw(&view::WanderPicture {
        units: project.units,
        sideways: w.sideways,
        says: format!(
            "{}: {} throws, {} marked pieces, {} {}",
            if w.sideways { "sideways" } else { "along, as speed" },
            c.throws,
            c.pieces,
            c.sessions,
            if c.sessions == 1 { "session" } else { "sessions" }
        ),
        rows,
    })
}
