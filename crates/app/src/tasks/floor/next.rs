//! What to do next on the floor: from a log to the moves that pay, the next shot, or the sign to stop.

use arcwright_model::finding::Finding;
use arcwright_model::floor::next::{
    Candidate, Effort, FEWEST_TO_STOP, KnobChange, KnobMove, Move, Opening, SpotView, Stop, Tally, Trust,
    best_for, candidate, mechanical, plugin_frac, predictive_frac, present_hood, recommend, spot_view,
    wilson_lower_if_all_hit,
};
use arcwright_model::floor::rehearse::Look;
use arcwright_model::floor::{Fitted, Landing, MachineOptions, Seen, Shot, TimedFall, fit, setpoints_at};
use arcwright_model::project::{Project, Spot};
use arcwright_model::target::{Outcome, Outline};
use arcwright_model::units::Dimension as D;

use super::Floor;

/// How a spot is thrown from at present.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InUse {
    /// Wheel speed.
    pub setpoint_radps: f64,
    /// Turned on purpose, left positive.
    pub turned_rad: f64,
    /// It was never thrown from: the speed is the design's.
    pub fresh: bool,
}

/// A move that pays.
#[derive(Clone, Debug, PartialEq)]
pub struct Pays {
    /// Which spot.
    pub spot_index: usize,
    /// What to change and what it wins.
    pub change: KnobChange,
    /// Wheel speed or turn to set.
    pub to: f64,
}

/// The next shot.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NextShot {
    /// Which spot.
    pub spot_index: usize,
    /// Wheel speed.
    pub setpoint_radps: f64,
    /// Turned on purpose, left positive.
    pub turned_rad: f64,
    /// By how much it raises the hits to expect, mean over the spots.
    pub gain_frac: f64,
    /// What is not known costs so many hits, mean over the spots, before and after.
    pub loss_frac: [f64; 2],
}

/// What stands at a spot.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpotNow {
    /// Shots from there that count.
    pub shot_count: usize,
    /// How it is thrown from.
    pub in_use: InUse,
    /// Hits to expect as it stands.
    pub now_frac: f64,
    /// Hits to expect with the knobs where the fit wants them.
    pub best_frac: f64,
    /// Hits if what was learned were exact.
    pub known_frac: f64,
}

/// Everything about what comes next.
pub struct Outlook {
    /// What was learned; none before the first shot that says anything.
    pub fitted: Option<Fitted>,
    /// Each spot in the order of the project; none where the model has no answer.
    pub spots: Vec<Option<SpotNow>>,
    /// Moves that pay and cost nothing, in the order of the spots.
    pub moves: Vec<Pays>,
    /// The mechanical knob that pays; none where speed alone does, or as long as too little is known to ask.
    pub mechanical: Option<KnobMove>,
    /// The next shot, with the moves made.
    pub shot: Option<NextShot>,
    /// Whether to stop, and why.
    pub stop: Option<Stop>,
}

impl Outlook {
    /// Nothing is left to learn, and no spanner pays.
    pub fn ends(&self) -> bool {
        self.spanner().is_none() && self.stop.as_ref().is_some_and(Stop::now)
    }

    /// The knob to move with a spanner.
    pub fn spanner(&self) -> Option<&KnobMove> {
        self.mechanical.as_ref().filter(|m| m.effort == Effort::Spanner)
    }
}

/// How each spot was thrown from last with the knobs as they stand in the project, or would be by the design.
///
/// # Errors
/// `no-setpoint` for a spot that was never thrown from and that the design does not reach.
pub fn in_use(floor: &Floor, shots: &[Shot]) -> Result<Vec<InUse>, Finding> {
    let project = floor.project;
    let each = project.spots.iter().map(|spot| {
        let last = shots
            .iter()
            .rev()
            .find(|s| same_place(s, spot) && same_setting(s, project));
        if let Some(last) = last {
            return Ok(InUse {
                setpoint_radps: last.setpoint_radps,
                turned_rad: last.turned_rad,
                fresh: false,
            });
        }
        Ok(InUse {
            setpoint_radps: whole_rpm(floor.aimed(spot, &project.machine.setting)?),
            turned_rad: 0.0,
            fresh: true,
        })
    });
    each.collect()
}

fn same_place(shot: &Shot, spot: &Spot) -> bool {
    /// Method: nearer than this is the same spot.
    const SAME_M: f64 = 1e-3;
    (shot.distance_m - spot.distance_m).abs() < SAME_M && (shot.offset_m - spot.offset_m).abs() < SAME_M
}

fn same_setting(shot: &Shot, project: &Project) -> bool {
    /// Method: a knob set again to the same mark.
    const SAME: f64 = 1e-4;
    let (a, b) = (&shot.setting, &project.machine.setting);
    (a.tilt_rad - b.tilt_rad).abs() < SAME
        && (a.slide_m - b.slide_m).abs() < SAME
        && (a.reach_m - b.reach_m).abs() < SAME
}

/// As a person would set it.
pub fn whole_rpm(radps: f64) -> f64 {
    let rpm = std::f64::consts::PI / 30.0;
    (radps / rpm).round() * rpm
}

/// A shot from a spot of which the look would see something; its numbers are not looked at.
fn planned(project: &Project, spot: &Spot, use_: &InUse, look: &Look, session_index: usize) -> Shot {
    let floor_m = 0.5 * project.piece.diameter_m;
    let height_m = if look.tape {
        floor_m
    } else {
        project.target.centre_height_m()
    };
    Shot {
        session_index,
        distance_m: spot.distance_m,
        offset_m: spot.offset_m,
        turned_rad: use_.turned_rad,
        setting: project.machine.setting,
        setpoint_radps: use_.setpoint_radps,
        before_radps: None,
        after_radps: None,
        battery_v: None,
        piece: None,
        place: 0,
        last: false,
        seen: Seen {
            landing: look.tape.then_some(Landing {
                along_m: spot.distance_m,
                across_m: 0.0,
                height_m,
            }),
            fall: look.clock.then_some(TimedFall {
                time_s: 1.0,
                height_m,
            }),
            miss_m: (look.eye && !look.tape).then_some([0.0; 2]),
            outcome: (look.outcome && !look.tape).then_some(Outcome::In),
            ..Seen::default()
        },
        jammed: false,
        left_out: false,
    }
}

/// Where the piece's centre must pass.
fn opening(project: &Project) -> Opening {
    let radius_m = 0.5 * project.piece.diameter_m;
    let (along_m, across_m) = (
        0.5 * project.target.depth_m - radius_m,
        0.5 * project.target.width_m - radius_m,
    );
    match project.target.outline {
        Outline::Round => Opening::Round { along_m, across_m },
        Outline::Rectangle => Opening::Rectangle { along_m, across_m },
    }
}

/// Works out what comes next from a log, for shots of which `look` would be seen. `given` says how each spot of the
/// project is thrown from.
///
/// # Errors
/// What [`fit`] says of the log. An empty log is none: the first shot is then from the middle spot by the design.
pub fn outlook(project: &Project, shots: &[Shot], given: &[InUse], look: &Look) -> Result<Outlook, Finding> {
    let fitted = match fit(project, shots, &MachineOptions::default()) {
        Ok(fitted) => fitted,
        Err(f) if f.code == "no-shots" => return Ok(first(project, given)),
        Err(f) => return Err(f),
    };
    let top = arcwright_model::shot::Chain::of(project).top_radps;
    let mut use_ = given.to_vec();
    let mut moves = Vec::new();
    let taught = fitted.taught();
    let before = views(project, &fitted, &use_);
    for (spot_index, view) in before.iter().enumerate() {
        let (Some(view), Some(spot), Some(now)) =
            (view, project.spots.get(spot_index), use_.get_mut(spot_index))
        else {
            continue;
        };
        let range = [0.1, (top / now.setpoint_radps).max(0.1)];
        // Speed and turn are asked for one after the other: the second with the first made.
        let mut view = view.clone();
        for _ in 0..2 {
            let Move::Change(change) = recommend(&view, &fitted.posterior.covariance, range) else {
                break;
            };
            let to = if change.knob == "turn" {
                now.turned_rad += change.by;
                view.offset_m[1] = 0.0;
                now.turned_rad
            } else {
                view.offset_m[0] += view.along_per_ln_speed_m * change.by;
                let linear = now.setpoint_radps * change.by.exp();
                // The whole curve is known; the straight line is for where it has no answer.
                let exact = setpoints_at(project, &taught, std::slice::from_ref(spot))
                    .first()
                    .and_then(|s| s.wheel.map(|w| w.wheel_radps));
                now.setpoint_radps = whole_rpm(exact.unwrap_or(linear).min(top));
                now.setpoint_radps
            };
            moves.push(Pays {
                spot_index,
                change,
                to,
            });
        }
    }
    let after = views(project, &fitted, &use_);
    let cov = &fitted.posterior.doubt();
    let tallies: Vec<Tally> = project
        .spots
        .iter()
        .map(|spot| Tally {
            distance_m: spot.distance_m,
            shot_count: fitted
                .used
                .iter()
                .filter_map(|i| shots.get(*i))
                .filter(|s| same_place(s, spot))
                .count(),
        })
        .collect();
    let plans: Vec<Shot> = project
        .spots
        .iter()
        .zip(&use_)
        .map(|(spot, u)| planned(project, spot, u, look, fitted.session_index))
        .collect();
    let candidates: Vec<Candidate> = fitted
        .planned(&plans)
        .iter()
        .enumerate()
        .filter_map(|(i, s)| candidate(&fitted.machine, &fitted.posterior, s.as_ref()?, i))
        .collect();
    // Spots that the model has an answer for, and their places in the project.
    let known: Vec<(usize, SpotView)> = after
        .iter()
        .enumerate()
        .filter_map(|(i, v)| v.clone().map(|v| (i, v)))
        .collect();
    let list: Vec<SpotView> = known.iter().map(|(_, v)| v.clone()).collect();
    let inner = |project_index: usize| known.iter().position(|(i, _)| *i == project_index);
    let candidates: Vec<Candidate> = candidates
        .into_iter()
        .filter_map(|c| {
            Some(Candidate {
                spot_index: inner(c.spot_index)?,
                ..c
            })
        })
        .collect();
    // The spot with the fewest shots first: that is what people would throw anyway.
    let mut candidates = candidates;
    candidates.sort_by_key(|c| {
        let spot = known.get(c.spot_index).map_or(0, |(i, _)| *i);
        tallies.get(spot).map_or(0, |t| t.shot_count)
    });
    let trust = Trust::of(fitted.confident, &fitted.posterior);
    let next = best_for(&list, cov, &candidates, &tallies, trust);
    let shot = next.as_ref().and_then(|(choice, _)| {
        let spot_index = known.get(candidates.get(choice.index)?.spot_index)?.0;
        let u = use_.get(spot_index)?;
        Some(NextShot {
            spot_index,
            setpoint_radps: u.setpoint_radps,
            turned_rad: u.turned_rad,
            gain_frac: choice.gain_frac,
            loss_frac: choice.loss_frac,
        })
    });
    let spots = before
        .iter()
        .zip(&tallies)
        .zip(given)
        .map(|((view, tally), in_use)| {
            let view = view.as_ref()?;
            Some(SpotNow {
                shot_count: tally.shot_count,
                in_use: *in_use,
                now_frac: predictive_frac(view, cov, view.offset_m),
                best_frac: predictive_frac(view, cov, [0.0; 2]),
                known_frac: plugin_frac(view),
            })
        })
        .collect();
    let mechanical = by_spanner(project, &fitted);
    Ok(Outlook {
        spots,
        moves,
        mechanical,
        shot,
        stop: next.map(|(_, stop)| stop),
        fitted: Some(fitted),
    })
}

/// The mechanical move that pays, by a fit that can be trusted. Asked once a dozen shots have shown the scatter; before
/// that only where a spot cannot be served by any wheel speed.
fn by_spanner(project: &Project, fitted: &Fitted) -> Option<KnobMove> {
    let enough = fitted.used.len() >= FEWEST_TO_STOP;
    if !fitted.confident {
        return None;
    }
    let now = present_hood(project, fitted);
    (enough || now.unserved_count() > 0)
        .then(|| mechanical(project, fitted, &now))
        .flatten()
}

/// Before anything was seen: the middle spot, by the design's own setpoint.
fn first(project: &Project, use_: &[InUse]) -> Outlook {
    let mut order: Vec<usize> = (0..project.spots.len()).collect();
    order.sort_by(|a, b| {
        let d = |i: &usize| project.spots.get(*i).map_or(0.0, |s| s.distance_m);
        d(a).total_cmp(&d(b))
    });
    let shot = order.get(order.len() / 2).and_then(|spot_index| {
        let u = use_.get(*spot_index)?;
        Some(NextShot {
            spot_index: *spot_index,
            setpoint_radps: u.setpoint_radps,
            turned_rad: u.turned_rad,
            gain_frac: f64::NAN,
            loss_frac: [f64::NAN; 2],
        })
    });
    Outlook {
        fitted: None,
        spots: vec![None; project.spots.len()],
        moves: Vec::new(),
        mechanical: None,
        shot,
        stop: None,
    }
}

fn views(project: &Project, fitted: &Fitted, use_: &[InUse]) -> Vec<Option<SpotView>> {
    let look = Look {
        outcome: true,
        ..Look::default()
    };
    let plans: Vec<Shot> = project
        .spots
        .iter()
        .zip(use_)
        .map(|(spot, u)| planned(project, spot, u, &look, fitted.session_index))
        .collect();
    let made = fitted.planned(&plans);
    let pairs = made.iter().zip(&project.spots);
    pairs
        .map(|(shot, spot)| {
            let called = shot.as_ref()?;
            spot_view(
                &fitted.machine,
                &fitted.posterior,
                called,
                spot.distance_m,
                opening(project),
            )
        })
        .collect()
}

/// Throws of the proof that follows the stop, and what they would prove if all hit.
pub const PROOF_THROWS: u64 = 20;

/// In plain words, line by line.
pub fn words(project: &Project, outlook: &Outlook) -> String {
    let say = |v, d| project.say(v, d);
    let name = |i: usize| project.spots.get(i).map_or("", |s| s.name.as_str());
    let mut text = String::new();
    for m in &outlook.moves {
        text.push_str(&move_words(project, m));
    }
    if outlook.moves.is_empty() && outlook.fitted.is_some() {
        text.push_str(
            "Leave the speeds alone: no change would win one hit in 100, so what was off so far is ordinary scatter.\n",
        );
    }
    if let Some(m) = &outlook.mechanical {
        text.push_str(&spanner_words(project, m));
        if outlook.spanner().is_some() {
            text.push_str("  Do that first, then ask again.\n");
            return text;
        }
    }
    let names: Vec<String> = project.spots.iter().map(|s| s.name.clone()).collect();
    match (&outlook.stop, &outlook.shot) {
        (Some(stop), _) if stop.now() => {
            text.push_str(&stop.sentence(&names));
            text.push('\n');
            text.push_str(&expected_words(project, outlook));
            text.push_str(&format!(
                "Now leave every knob and prove it with {PROOF_THROWS} throws counted apart: if all go in, at least {} of throws will (95 % confidence).\n",
                say(wilson_lower_if_all_hit(PROOF_THROWS), D::Ratio)
            ));
        }
        (stop, Some(shot)) => {
            let turned = turn_words(project, shot.turned_rad);
            text.push_str(&format!(
                "Throw from {} at {}{turned}.\n",
                name(shot.spot_index),
                say(shot.setpoint_radps, D::AngularSpeed)
            ));
            match stop {
                Some(stop) => {
                    let hundred = |x: f64| format!("{:.1}", 100.0 * x.max(0.0));
                    text.push_str(&format!(
                        "  It teaches most about all spots: what is not known yet costs {} hits in 100 on average now, {} after it.\n",
                        hundred(shot.loss_frac[0]),
                        hundred(shot.loss_frac[1])
                    ));
                    text.push_str(&stop.sentence(&names));
                    text.push('\n');
                }
                None => text.push_str("  Nothing has been logged yet: the speed is what the design says.\n"),
            }
        }
        (_, None) => text.push_str("There is no shot that this machine could throw from these spots.\n"),
    }
    text
}

/// Hits to expect at each spot, and which are below nine in ten though nothing is left to learn.
fn expected_words(project: &Project, outlook: &Outlook) -> String {
    /// What a team wants of every spot: nine in ten.
    const WANTED_FRAC: f64 = 0.9;
    let named = || project.spots.iter().zip(&outlook.spots);
    let each: Vec<String> = named()
        .filter_map(|(spot, s)| Some(format!("{} {:.0}", spot.name, 100.0 * s.as_ref()?.best_frac)))
        .collect();
    let mut text = format!("  Hits in 100 to expect: {}.\n", each.join(", "));
    let poor: Vec<&str> = named()
        .filter(|(_, s)| s.is_some_and(|s| s.best_frac < WANTED_FRAC))
        .map(|(spot, _)| spot.name.as_str())
        .collect();
    if poor.is_empty() {
        text.push_str("  That is 90 in 100 or more at every spot.\n");
    } else {
        text.push_str(&format!(
            "  Fewer than 90 at {} is scatter, not aim: no further shot mends it. `floor wander` names what it comes from.\n",
            poor.join(" and ")
        ));
    }
    text
}

/// A knob and where it goes, the hits before and after, and the speeds that belong to it.
fn spanner_words(project: &Project, m: &KnobMove) -> String {
    let (what, dimension) = match m.knob {
        "setting.tilt" => ("tilt", D::Angle),
        "setting.slide" => ("slide", D::Length),
        _ => ("reach", D::Length),
    };
    let (from, to) = (project.say(m.from, dimension), project.say(m.to, dimension));
    let hundred = |x: f64| (100.0 * x).round();
    let name = |i: usize| project.spots.get(i).map_or("", |s| s.name.as_str());
    let at = m.now.worst().unwrap_or(0);
    let hits = |h: &arcwright_model::floor::next::Hood| h.spots.get(at).map_or(0.0, |s| s.hit_frac);
    let lacking: Vec<&str> = (0..m.now.spots.len())
        .filter(|i| m.now.spots.get(*i).is_some_and(|s| !s.served()))
        .map(name)
        .collect();
    let mut text = String::new();
    if !lacking.is_empty() {
        text.push_str(&format!(
            "As the hood stands no wheel speed keeps to the limits of the brief at {}: see `aim` for what it lacks.\n",
            lacking.join(" and ")
        ));
    }
    text.push_str(&match m.effort {
        Effort::Evening => format!(
            "No knob helps within its travel. A new guide that throws as with tilt {to} instead of {from} ({}) would",
            m.effort.words()
        ),
        _ => format!("Loosen the hood, {what} from {from} to {to} ({})", m.effort.words()),
    });
    text.push_str(if m.effort == Effort::Evening {
        " raise the"
    } else {
        ":"
    });
    text.push_str(&format!(
        " hits to expect at {} from {} to {} in 100",
        name(at),
        hundred(hits(&m.now)),
        hundred(hits(&m.then))
    ));
    let others: Vec<String> = (0..m.now.spots.len())
        .filter(|i| *i != at)
        .filter_map(|i| {
            let (a, b) = (m.now.spots.get(i)?.hit_frac, m.then.spots.get(i)?.hit_frac);
            Some(format!("{} from {} to {}", name(i), hundred(a), hundred(b)))
        })
        .collect();
    if !others.is_empty() {
        text.push_str(&format!(", at {}", others.join(", at ")));
    }
    text.push_str(".\n");
    if m.effort != Effort::Evening {
        let speeds: Vec<String> = (m.then.spots.iter().enumerate())
            .filter_map(|(i, s)| {
                Some(format!(
                    "{} {}",
                    name(i),
                    project.say(whole_rpm(s.wheel_radps?), D::AngularSpeed)
                ))
            })
            .collect();
        text.push_str(&format!(
            "  Then write {what} = \"{to}\" under [setting] in arcwright.toml and set these speeds: {}.\n",
            speeds.join(", ")
        ));
    }
    text
}

/// `, turned 1.2° left`, or nothing.
fn turn_words(project: &Project, turned_rad: f64) -> String {
    if project.say(turned_rad.abs(), D::Angle) == project.say(0.0, D::Angle) {
        return String::new();
    }
    format!(
        ", turned {} {}",
        project.say(turned_rad.abs(), D::Angle),
        if turned_rad > 0.0 { "left" } else { "right" }
    )
}

/// One move in plain words.
pub fn move_words(project: &Project, m: &Pays) -> String {
    let name = project.spots.get(m.spot_index).map_or("", |s| s.name.as_str());
    let hundred = |x: f64| (100.0 * x).round();
    let what = if m.change.knob == "turn" {
        match turn_words(project, m.to) {
            none if none.is_empty() => "face the target straight".to_string(),
            some => format!("throw{some} of the target's centre"),
        }
    } else {
        format!("set {}", project.say(m.to, D::AngularSpeed))
    };
    format!(
        "At {name} {what}: {} hits in 100 are to be expected there instead of {}; it {}.\n",
        hundred(m.change.hit_frac[1]),
        hundred(m.change.hit_frac[0]),
        Effort::Free.words()
    )
}
