//! Reach, clearance, entry angle, and one setting for every spot.

use super::{Evidence, Status, Verdict, Way, at_least};
use crate::aim::{Miss, Shortfall, Solution, SpotAim, aim_spot, nearest_served, shortfall};
use crate::launcher::Layout;
use crate::project::{Project, Spot};
use crate::target::{Crossing, Outcome};
use crate::units::{Dimension, show};

/// Reach counts as tight when the setpoint plus this many standard deviations of doubt passes the limit.
const DOUBT_SIGMAS: f64 = 2.0;

/// Remedies ask for this much more than the bare need. Physical: two per cent of wheel speed.
const SURE_FACTOR: f64 = 1.02;

pub(super) fn reach(e: &Evidence) -> Vec<Verdict> {
    e.aims.iter().map(|a| reach_one(e, a)).collect()
}

fn reach_one(e: &Evidence, aim: &SpotAim) -> Verdict {
    let say = |v, d| e.project.say(v, d);
    let name = &aim.spot.name;
    let top = e.chain.top_radps;
    let usable = top * (1.0 - e.project.limits.speed_reserve_frac);
    let rpm = Dimension::AngularSpeed;
    let Some(s) = aim.best() else {
        return no_reach(e, aim);
    };
    let with_doubt = s.wheel_radps + DOUBT_SIGMAS * s.doubt.setpoint_sd_radps;
    let status = if s.wheel_radps > usable {
        Status::Fails
    } else if !(with_doubt <= usable) {
        Status::Tight
    } else {
        Status::Holds
    };
    let doubt = if s.doubt.setpoint_sd_radps.is_finite() {
        format!(" ± {}", say(s.doubt.setpoint_sd_radps, rpm))
    } else {
        String::new()
    };
    let why = format!(
        "needs {}{doubt} of {} usable ({} top speed less the reserve)",
        say(s.wheel_radps, rpm),
        say(usable, rpm),
        say(top, rpm)
    );
    let need = match status {
        Status::Tight => with_doubt,
        _ => s.wheel_radps,
    };
    // A little more than needed: another ratio changes the inertia, and with it the setpoint.
    let factor = SURE_FACTOR * need / usable;
    Verdict::new("reach", name, status, why)
        .numbers(rpm, s.wheel_radps, usable, usable - s.wheel_radps)
        .mend(format!(
            "raise the top wheel speed by {}: gear ratio {:.3} or less instead of {:.3}, or a wheel {} across instead of {}",
            say(factor - 1.0, Dimension::Ratio),
            e.project.machine.drive.gear_ratio / factor,
            e.project.machine.drive.gear_ratio,
            say(e.project.machine.wheel.diameter_m * factor, Dimension::Length),
            say(e.project.machine.wheel.diameter_m, Dimension::Length),
        ))
}

fn no_reach(e: &Evidence, aim: &SpotAim) -> Verdict {
    let len = |v| e.project.say(v, Dimension::Length);
    let asked = aim.spot.distance_m;
    let fails = |why: String| Verdict::new("reach", &aim.spot.name, Status::Fails, why);
    let from = || served_from(e, &aim.spot).map(|d| (d, format!("throw from {}, or ", len(d))));
    let top = e.project.say(e.chain.top_radps, Dimension::AngularSpeed);
    match aim.miss.unwrap_or(Miss::BelowRim) {
        Miss::Refused(why) => fails(format!("the piece does not come through: {why}"))
            .mend("widen the gap (less squeeze), raise wheel friction, or push harder at the feed".into()),
        Miss::BelowRim => fails(format!(
            "even at the top wheel speed of {top} the path stays below the rim"
        ))
        .mend(format!(
            "{}; or throw steeper ({}) or from higher up",
            faster(e),
            turned(e, Turn::Steeper)
        )),
        Miss::Short { by_m } => {
            let nearer = from().filter(|f| f.0 < asked).map_or(String::new(), |f| f.1);
            fails(format!(
                "at the top wheel speed it comes down {} before the centre of the opening",
                len(by_m)
            ))
            .mend(format!("{nearer}{}", faster(e)))
        }
        Miss::Beyond { by_m } => {
            let farther = from().filter(|f| f.0 > asked).map_or(String::new(), |f| f.1);
            fails(format!(
                "at the lowest speed that clears the rim it already comes down {} beyond the centre: the spot is too near for this exit angle",
                len(by_m)
            ))
            .mend(format!("{farther}throw steeper: {}", turned(e, Turn::Steeper)))
        }
    }
}

/// How to get a faster throw out of the top wheel speed. While the piece slips on the wheel, a faster
/// wheel hardly helps.
fn faster(e: &Evidence) -> String {
    let plateau = e.chain.plateau(&e.project.machine.setting, e.chain.top_radps);
    if plateau.is_some_and(|p| !p.grips) {
        let grip = match e.project.machine.layout {
            Layout::Guide(_) => "more squeeze, more wrap or a grippier wheel",
            Layout::Pair(_) => "more squeeze, larger wheels or a grippier tread",
        };
        format!(
            "get more grip first ({grip}): at the top wheel speed the piece still slips when it leaves, so a faster wheel adds little"
        )
    } else {
        "raise the top wheel speed (lower gear ratio, larger wheel)".into()
    }
}

/// The distance nearest to the one asked from which the exact chain serves a spot, as it would be written.
fn served_from(e: &Evidence, spot: &Spot) -> Option<f64> {
    /// Method: steps away from what the interpolated curve alone allows, a tenth of the distance in all.
    const STEP_FRAC: f64 = 0.005;
    const MOST: usize = 21;
    let setting = e.project.machine.setting;
    let near = nearest_served(e.project, e.chain, e.curve, spot)?;
    let (way, sign) = if near > spot.distance_m {
        (Way::Up, 1.0)
    } else {
        (Way::Down, -1.0)
    };
    (0..MOST)
        .map(|k| near * (1.0 + sign * STEP_FRAC * k as f64))
        .map(|d| e.project.written(d, Dimension::Length, way))
        .find(|&distance_m| {
            let there = Spot {
                distance_m,
                ..spot.clone()
            };
            let aim = aim_spot(e.project, e.chain, e.curve, &setting, &there);
            // Grip and exit speed are asked of the whole brief, so a nearer brief must meet them too.
            let fair = |s: &Solution| {
                let fast = e.project.limits.exit_speed_mps;
                fast.is_none_or(|most| s.exit.speed_mps <= most)
                    && e.chain.plateau(&setting, s.wheel_radps).is_some_and(|p| p.grips)
            };
            shortfall(e.project, &aim).is_empty() && aim.best().is_some_and(fair)
        })
}

/// Which way the exit has to turn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Turn {
    Steeper,
    Flatter,
}

/// What turns the exit of this machine.
fn turned(e: &Evidence, turn: Turn) -> &'static str {
    match (e.project.machine.layout, turn) {
        (Layout::Guide(_), Turn::Steeper) => "less tilt or a larger guide end angle",
        (Layout::Guide(_), Turn::Flatter) => "more tilt or a smaller guide end angle",
        (Layout::Pair(_), Turn::Steeper) => "less tilt or a larger `direction`",
        (Layout::Pair(_), Turn::Flatter) => "more tilt or a smaller `direction`",
    }
}

/// How to meet the opening more squarely: a level one from steeper, an upright one from whichever side
/// of its normal the path is on.
fn squarer(e: &Evidence, crossing: Option<Crossing>) -> String {
    let [vx, vy, vz] = crossing.map_or([1.0, 0.0, 0.0], |c| c.state.velocity_mps);
    let below_level_rad = (-vz).atan2(vx.hypot(vy));
    let normal_rad = std::f64::consts::FRAC_PI_2 - e.project.target.tilt_rad;
    if below_level_rad > normal_rad {
        format!("come in flatter: {}", turned(e, Turn::Flatter))
    } else {
        format!("come in steeper: {}", turned(e, Turn::Steeper))
    }
}

/// How a centred throw ends that does not go in.
fn ends(project: &crate::project::Project, outcome: Outcome) -> String {
    match outcome {
        Outcome::None if project.target.ceiling_m.is_finite() => {
            "the centred path meets the ceiling before the opening".into()
        }
        Outcome::None => "the centred path ends before the opening".into(),
        _ => format!("the centred throw ends `{}`", outcome.word()),
    }
}

pub(super) fn clearance(e: &Evidence) -> Vec<Verdict> {
    let say = |v| e.project.say(v, Dimension::Length);
    let asked = e.project.limits.clearance_m;
    e.aims
        .iter()
        .filter_map(|a| {
            let s = a.best()?;
            let Some(c) = s.arrival.clearance else {
                return Some(
                    Verdict::new(
                        "clearance",
                        &a.spot.name,
                        Status::Fails,
                        ends(e.project, s.arrival.outcome),
                    )
                    .mend(match s.arrival.outcome {
                        Outcome::None => format!("throw flatter ({}) or from nearer", turned(e, Turn::Flatter)),
                        _ => "see reach and entry for this spot".into(),
                    }),
                );
            };
            let found = c.least_m();
            if !found.is_finite() {
                return Some(Verdict::new(
                    "clearance",
                    &a.spot.name,
                    Status::Holds,
                    "walls stand all round the opening".into(),
                ));
            }
            let (part, _) = [("near", c.near_m), ("far", c.far_m), ("left", c.left_m), ("right", c.right_m)]
                .into_iter()
                .min_by(|x, y| x.1.total_cmp(&y.1))?;
            let mut status = at_least(found, asked);
            if s.arrival.outcome != Outcome::In {
                status = Status::Fails;
            }
            let why = if found < 0.0 {
                format!("the piece overlaps the {part} rim by {}", say(-found))
            } else {
                format!("{} free at the {part} rim, {} asked", say(found), say(asked))
            };
            let mend = match part {
                "near" | "far" => format!("{}, at the wheel speed that then centres it", squarer(e, s.arrival.crossing)),
                _ => "throw from nearer the target's axis, or ask for less clearance: the opening is only this wide".into(),
            };
            Some(
                Verdict::new("clearance", &a.spot.name, status, why)
                    .numbers(Dimension::Length, found, asked, found - asked)
                    .mend(mend),
            )
        })
        .collect()
}

pub(super) fn entry(e: &Evidence) -> Vec<Verdict> {
    let Some(asked) = e.project.limits.entry_angle_rad else {
        return Vec::new();
    };
    let say = |v| e.project.say(v, Dimension::Angle);
    e.aims
        .iter()
        .filter_map(|a| {
            let s = a.best()?;
            let crossing = s.arrival.crossing?;
            let found = crossing.entry_rad;
            let mut mend = squarer(e, Some(crossing));
            if let Some(c) = s.companion
                && c.entry_rad >= asked
                && c.entry_rad > found
            {
                let (arc, way) = if c.angle_rad > s.exit.angle_rad {
                    ("high", "up")
                } else {
                    ("low", "down")
                };
                mend = format!(
                    "at the same exit speed the {arc} arc ({} at the exit) enters at {}: turn the exit {way}",
                    say(c.angle_rad),
                    say(c.entry_rad)
                );
            }
            Some(
                Verdict::new(
                    "entry",
                    &a.spot.name,
                    at_least(found, asked),
                    format!("enters at {} to the opening, {} asked", say(found), say(asked)),
                )
                .numbers(Dimension::Angle, found, asked, found - asked)
                .mend(mend),
            )
        })
        .collect()
}

fn has_knob(project: &Project) -> bool {
    let knobs = &project.machine.knobs;
    knobs.slide.is_some() || knobs.tilt.is_some() || knobs.reach.is_some()
}

pub(super) fn one_setting(e: &Evidence) -> Vec<Verdict> {
    let lacking: Vec<&str> = e
        .aims
        .iter()
        .filter(|a| !shortfall(e.project, a).is_empty())
        .map(|a| a.spot.name.as_str())
        .collect();
    let served = e.aims.len() - lacking.len();
    if lacking.is_empty() {
        return vec![Verdict::new(
            "one-setting",
            "",
            Status::Holds,
            format!("all {served} spots are served by wheel speed alone at the present setting"),
        )];
    }
    let why = format!(
        "{served} of {} spots served; not {}",
        e.aims.len(),
        lacking.join(", ")
    );
    let mend = match e.best {
        Some(b) if b.serves() => {
            format!("set {}: it serves every spot", e.project.setting_words(&b.setting))
        }
        Some(b) if b.merit > b.present_merit => format!(
            "no setting within the knobs' travel serves every spot; the best found is {}; the rest needs a change of the machine or the brief (see the verdicts above)",
            e.project.setting_words(&b.setting)
        ),
        Some(_) => "the present setting is the best within the knobs' travel; change the machine or the brief (see the verdicts above)".into(),
        None if has_knob(e.project) => "whether another setting serves them is looked for when nothing is being moved; the verdicts above say what is missing".into(),
        None => "the machine has no knob to move; change the machine or the brief (see the verdicts above)".into(),
    };
    let mut verdict = Verdict::new("one-setting", "", Status::Fails, why).mend(mend);
    for (i, a) in e.aims.iter().enumerate() {
        if shortfall(e.project, a).is_empty() {
            continue;
        }
        if let Some(d) = served_from(e, &a.spot) {
            let way = if d > a.spot.distance_m { Way::Up } else { Way::Down };
            verdict = verdict.brief(e, &format!("spot[{i}].distance"), d, Dimension::Length, way);
        } else if let Some(s) = a.best() {
            // No distance helps: the limits would have to give way.
            for lack in shortfall(e.project, a) {
                verdict = match lack {
                    Shortfall::Clearance { found_m, .. } if found_m >= 0.0 => {
                        verdict.brief(e, "limits.clearance", found_m, Dimension::Length, Way::Down)
                    }
                    Shortfall::EntryAngle { found_rad, .. } => {
                        verdict.brief(e, "limits.entry_angle", found_rad, Dimension::Angle, Way::Down)
                    }
                    Shortfall::Reserve { .. } => verdict.brief(
                        e,
                        "limits.speed_reserve",
                        s.reserve_frac.max(0.0),
                        Dimension::Ratio,
                        Way::Down,
                    ),
                    _ => verdict,
                };
            }
        }
    }
    vec![verdict]
}

/// One plain sentence for a shortfall.
pub fn shortfall_words(e: &crate::project::Project, lack: &Shortfall) -> String {
    let len = |v| e.say(v, Dimension::Length);
    let pair = |a, b, d| show::pair(a, b, d, show::Scale::Auto, e.units);
    match *lack {
        Shortfall::OutOfReach(Miss::Refused(why)) => format!("the piece does not come through: {why}"),
        Shortfall::OutOfReach(Miss::BelowRim) => "the path stays below the rim at top speed".into(),
        Shortfall::OutOfReach(Miss::Short { by_m }) => format!("{} short at top speed", len(by_m)),
        Shortfall::OutOfReach(Miss::Beyond { by_m }) => format!("too near: {} beyond at best", len(by_m)),
        Shortfall::NotIn(outcome) => ends(e, outcome),
        // In one unit and to as many decimals as it takes to see the difference.
        Shortfall::Clearance { found_m, asked_m } => {
            let [found, asked] = pair(found_m, asked_m, Dimension::Length);
            format!("clears by {found}, {asked} asked")
        }
        Shortfall::EntryAngle { found_rad, asked_rad } => {
            let [found, asked] = pair(found_rad, asked_rad, Dimension::Angle);
            format!("enters at {found}, {asked} asked")
        }
        Shortfall::Reserve {
            found_frac,
            asked_frac,
        } => {
            let [found, asked] = pair(found_frac, asked_frac, Dimension::Ratio);
            format!("leaves {found} of the top speed, {asked} asked")
        }
    }
}
