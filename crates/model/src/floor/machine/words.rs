//! What to know about a fit, in plain words.

use super::layout::Effect;
use super::model::{Machine, zone};
use super::{FEWEST_SHOTS, sessions};
use crate::floor::fit::Posterior;
use crate::floor::likelihood::Zone;
use crate::floor::shot::Shot;
use crate::project::Project;
use crate::units::Dimension;

/// One thing to know.
#[derive(Clone, Debug, PartialEq)]
pub struct Note {
    /// Short stable code.
    pub code: &'static str,
    /// What was found.
    pub what: String,
    /// What to do.
    pub fix: String,
    /// With this no interval is to be shown.
    pub forbids_confidence: bool,
}

/// Two things that the data cannot tell apart.
#[derive(Clone, Debug, PartialEq)]
pub struct Apart {
    /// One.
    pub one: Effect,
    /// The other.
    pub other: Effect,
    /// Correlation of the two after the log.
    pub correlation_coeff: f64,
    /// Both in plain words, and what is known nevertheless.
    pub what: String,
    /// The kind of shot that would tell them apart.
    pub shots: String,
}

/// Method: above this part of the prior's standard deviation only the prior speaks.
pub const PRIOR_ONLY_RATIO: f64 = 0.7;
/// Method: correlations from here on are worth a word.
const CLOSE_COEFF: f64 = 0.8;
/// Method: a shot more likely a flyer than this is named.
const FLYER_FRAC: f64 = 0.5;
/// Method: more flyers than this are no flyers.
const MOST_FLYERS_FRAC: f64 = 0.2;
/// Method: the scatter found may exceed that assumed by this many of its standard deviations.
const WIDE_SDS: f64 = 2.0;

/// Everything worth saying.
pub(super) fn notes(
    project: &Project,
    machine: &Machine,
    shots: &[&Shot],
    p: &Posterior,
) -> (Vec<Note>, Vec<Apart>) {
    let mut out = Vec::new();
    let mut say = |code, what: String, fix: &str, forbids_confidence| {
        out.push(Note {
            code,
            what,
            fix: fix.to_string(),
            forbids_confidence,
        });
    };
    let count = shots.len();
    if count < FEWEST_SHOTS {
        say(
            "few-shots",
            format!("{count} of {FEWEST_SHOTS} shots: too few to say how sure this is"),
            "throw at least three, better eight, from two distances or more",
            true,
        );
    }
    if !p.converged {
        say(
            "not-converged",
            "the fit did not settle".into(),
            "look for a shot in the wrong unit or column, and throw a few more",
            true,
        );
    } else if !p.definite {
        say(
            "no-peak",
            "the result is not a peak of probability in every direction".into(),
            "measure where shots land or how long they fly, so that the log says more",
            true,
        );
    }
    if let Some((side, fix)) = one_sided(shots) {
        say(
            "bracket-open",
            format!("bracket not closed: {side}, so nothing says how far it is to the other side"),
            fix,
            true,
        );
    }
    let unlearned: Vec<String> = core(machine)
        .filter(|(j, _)| p.sd_by_prior_ratio(*j) > PRIOR_ONLY_RATIO)
        .map(|(_, e)| e.words())
        .collect();
    if !unlearned.is_empty() {
        say(
            "prior-only",
            format!("the log says next to nothing about: {}", unlearned.join("; ")),
            "read these as assumed, not as measured",
            false,
        );
    }
    let flyers: Vec<String> = p
        .flyer_frac
        .iter()
        .zip(shots)
        .filter(|(f, _)| **f > FLYER_FRAC)
        .map(|(f, s)| {
            format!(
                "from {} at {} ({} sure)",
                project.say(s.distance_m, Dimension::Length),
                project.say(s.setpoint_radps, Dimension::AngularSpeed),
                project.say((100.0 * f).round() / 100.0, Dimension::Ratio)
            )
        })
        .collect();
    if flyers.len() as f64 > MOST_FLYERS_FRAC * count as f64 && count >= FEWEST_SHOTS {
        say(
            "misfit",
            format!("{} of {count} shots do not fit the rest", flyers.len()),
            "something differs between shots that the log does not name: piece, battery, setting, or a column in another unit",
            false,
        );
    } else if !flyers.is_empty() {
        say(
            "flyers",
            format!(
                "probably flew off for reasons of their own: the shot {}",
                flyers.join(", the shot ")
            ),
            "check what was written down for them; they hardly count as it is",
            false,
        );
    }
    for (j, effect) in core(machine) {
        let wide = matches!(
            effect,
            Effect::SpeedScatter | Effect::AngleScatter | Effect::AsideScatter
        );
        let by = p.mean.get(j).copied().unwrap_or(0.0);
        if wide && by > WIDE_SDS * p.prior.sd.get(j).copied().unwrap_or(f64::INFINITY) {
            say(
                "wide-scatter",
                format!("{} is {:.1} times that assumed", effect.words(), by.exp()),
                "mark the pieces, log the wheel's speed and the battery, and see which of them it follows",
                false,
            );
        }
    }
    if let Some(what) = locked(shots) {
        say(
            "locked-order",
            what.to_string(),
            "throw the distances in mixed order, and pieces in mixed order over the volley",
            false,
        );
    }
    if sessions(shots).len() == 1 {
        say(
            "one-session",
            "all shots are of one session; on another day expect about 1 % more or less speed and a third of a degree".into(),
            "start the next session with six shots for the log before trusting the table",
            false,
        );
    }
    let apart = apart(machine, p);
    (out, apart)
}

/// Parameters of the machine itself, without pieces and sessions.
fn core(machine: &Machine) -> impl Iterator<Item = (usize, Effect)> + '_ {
    let each = machine.parameters.effects.iter().copied().enumerate();
    each.filter(|(_, e)| {
        !matches!(
            e,
            Effect::Piece(_) | Effect::SessionSpeed(_) | Effect::SessionAngle(_)
        )
    })
}

/// Calls alone, and all of them on one side.
fn one_sided(shots: &[&Shot]) -> Option<(&'static str, &'static str)> {
    let measured = |s: &&Shot| {
        let seen = &s.seen;
        seen.landing.is_some()
            || seen.miss_m.is_some()
            || seen.fall.is_some()
            || seen.wall.is_some()
            || seen.exit_speed_mps.is_some()
    };
    if shots.iter().any(measured) {
        return None;
    }
    let zones: Vec<Zone> = shots.iter().filter_map(|s| zone(s.seen.outcome)).collect();
    let all = |z: Zone| !zones.is_empty() && zones.iter().all(|x| *x == z);
    if all(Zone::Short) {
        Some(("every shot was short", "raise the wheel speed until one is long"))
    } else if all(Zone::Long) {
        Some(("every shot was long", "lower the wheel speed until one is short"))
    } else if all(Zone::Left) {
        Some((
            "every shot went past on the left",
            "turn to the right until one goes past on that side or in",
        ))
    } else if all(Zone::Right) {
        Some((
            "every shot went past on the right",
            "turn to the left until one goes past on that side or in",
        ))
    } else {
        None
    }
}

/// Place in the volley goes with the distance: what the volley does cannot be told from what the distance does.
fn locked(shots: &[&Shot]) -> Option<&'static str> {
    let pairs: Vec<(f64, f64)> = shots.iter().map(|s| (f64::from(s.place), s.distance_m)).collect();
    let n = pairs.len() as f64;
    if pairs.len() < 4 {
        return None;
    }
    let (mx, my) = (
        pairs.iter().map(|p| p.0).sum::<f64>() / n,
        pairs.iter().map(|p| p.1).sum::<f64>() / n,
    );
    let sum = |f: &dyn Fn(f64, f64) -> f64| pairs.iter().map(|(x, y)| f(x - mx, y - my)).sum::<f64>();
    let (xx, yy, xy) = (sum(&|x, _| x * x), sum(&|_, y| y * y), sum(&|x, y| x * y));
    let locked = xx > 0.0 && yy > 0.0 && xy.abs() > CLOSE_COEFF * (xx * yy).sqrt();
    locked.then_some("the place in the volley goes with the distance, so one cannot be told from the other")
}

/// Close pairs, and what would separate them.
fn apart(machine: &Machine, p: &Posterior) -> Vec<Apart> {
    let all: Vec<(usize, Effect)> = core(machine).collect();
    let mut out = Vec::new();
    for (k, (i, one)) in all.iter().enumerate() {
        for (j, other) in all.iter().skip(k + 1) {
            let c = p.correlation_coeff(*i, *j);
            if c.abs() < CLOSE_COEFF {
                continue;
            }
            out.push(Apart {
                one: *one,
                other: *other,
                correlation_coeff: c,
                what: format!(
                    "{} and {} cannot be told apart (correlation {c:.2}); what they do together to the range is known better",
                    one.words(),
                    other.words()
                ),
                shots: separating(*one, *other).to_string(),
            });
        }
    }
    // What the prior alone knows is not apart from anything.
    for (i, one) in &all {
        let learned = p.sd_by_prior_ratio(*i) <= PRIOR_ONLY_RATIO;
        let named = out.iter().any(|a| a.one == *one || a.other == *one);
        if *one == Effect::Angle && !learned && !named {
            out.push(Apart {
                one: Effect::Angle,
                other: Effect::Speed,
                correlation_coeff: p.correlation_coeff(*i, 0),
                what: "landings at one tilt say almost nothing about the exit angle".into(),
                shots: separating(Effect::Angle, Effect::Speed).to_string(),
            });
        }
    }
    out
}

fn separating(one: Effect, other: Effect) -> &'static str {
    let has = |e: Effect| one == e || other == e;
    if has(Effect::Drag) && (has(Effect::Speed) || has(Effect::Angle)) {
        "time the flight of a few long throws, or film the exit; it changes the setpoints little"
    } else if has(Effect::Lift) {
        "not worth a shot: at these speeds lift and drag act alike"
    } else if has(Effect::Angle) {
        "time the flight, or throw a few at another tilt"
    } else if has(Effect::Place)
        || has(Effect::Last)
        || has(Effect::PlaceBeyondWheel)
        || has(Effect::LastBeyondWheel)
    {
        "throw single shots between volleys, and the distances in mixed order"
    } else if has(Effect::Battery) {
        "throw a few with a fresh battery and a few with a used one, from the same place"
    } else {
        "throw a few more from other distances, timed or taped"
    }
}
