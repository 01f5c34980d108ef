//! From what was said to what is logged.

use arcwright_model::finding::Finding;
use arcwright_model::launcher::Setting;
use arcwright_model::project::{Project, Spot};
use arcwright_model::target::{Outcome, Outline};
use arcwright_model::units::Dimension as D;

use super::words::{FallTo, Field, Place, Said};
use super::{Floor, doubt, words};
use crate::store::{Entry, Logged, NewShot, Store};

/// Where a value came from that was not said.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Unsaid {
    /// The spot is that of the shot before.
    pub spot: bool,
    /// The speed is the last one from this spot.
    pub last_speed: bool,
    /// The speed is what the project's own numbers give.
    pub aimed_speed: bool,
    /// The wall is the one of the shot before.
    pub wall: bool,
}

/// A shot as logged.
#[derive(Clone, Debug, PartialEq)]
pub struct Done {
    /// Its number.
    pub id: i64,
    /// Its session.
    pub session: i64,
    /// It began that session.
    pub begins_session: bool,
    /// What is held.
    pub entry: Entry,
    /// What was filled in.
    pub unsaid: Unsaid,
}

/// Refuses what [`log`] would refuse, before there is a log.
///
/// # Errors
/// As [`log`].
pub fn look(floor: &Floor, line: &str, anyway: bool, now_ms: i64) -> Result<(), Finding> {
    let said = words::read(line, &floor.spots(), false)?;
    let (entry, _) = fresh(floor, None, &said, now_ms)?;
    doubt::refuse(floor, &entry, anyway)
}

/// Logs a line. `anyway` takes what is only unlikely.
///
/// # Errors
/// A finding: not understood, impossible, unlikely, or not written. Nothing is written then.
pub fn log(floor: &Floor, store: &mut Store, line: &str, anyway: bool, now_ms: i64) -> Result<Done, Finding> {
    log_as(floor, store, line, anyway, now_ms, None)
}

/// As [`log`], but only once for each key: a shot that is there already is told, not logged again.
///
/// # Errors
/// As [`log`].
pub fn log_once(
    floor: &Floor,
    store: &mut Store,
    line: &str,
    anyway: bool,
    thrown_ms: i64,
    key: &str,
) -> Result<Done, Finding> {
    log_as(floor, store, line, anyway, thrown_ms, Some(key))
}

fn log_as(
    floor: &Floor,
    store: &mut Store,
    line: &str,
    anyway: bool,
    now_ms: i64,
    key: Option<&str>,
) -> Result<Done, Finding> {
    let said = words::read(line, &floor.spots(), false)?;
    let (entry, unsaid) = fresh(floor, Some(store), &said, now_ms)?;
    doubt::refuse(floor, &entry, anyway)?;
    let before = store.present_session(now_ms)?;
    let new = NewShot {
        thrown_utc_ms: now_ms,
        time_known: true,
        source: key.map_or("typed".into(), |k| format!("page {k}")),
        words: line.trim().to_string(),
        entry,
    };
    let (id, session) = match key {
        None => store.log(&new, now_ms)?,
        Some(_) => store.log_once(&new, now_ms)?,
    };
    Ok(Done {
        id,
        session,
        begins_session: before != Some(session),
        entry: new.entry,
        unsaid,
    })
}

/// Changes a shot by a line such as `long 10cm`.
///
/// # Errors
/// As [`log`], and `no-such-shot`.
pub fn edit(
    floor: &Floor,
    store: &mut Store,
    shot: i64,
    line: &str,
    anyway: bool,
    now_ms: i64,
) -> Result<Logged, Finding> {
    let said = words::read(line, &floor.spots(), true)?;
    if said == Said::default() {
        return Err(Finding::new(
            "nothing-said",
            format!("shot {shot}"),
            "nothing is said that would change it",
            "say what it should be, such as `arcwright floor edit 12 long 10cm`",
        ));
    }
    let walls = Walls::of(store)?;
    store.supersede(shot, "edited", line.trim(), now_ms, |was| {
        let mut entry = was.entry.clone();
        if let Some(place) = &said.place {
            stand(&mut entry, &place_of(floor.project, place)?);
        }
        say(floor.project, &mut entry, &said, &walls)?;
        doubt::refuse(floor, &entry, anyway)?;
        Ok(entry)
    })
}

/// Leaves a shot out of the fit, with a reason, or takes it in again.
///
/// # Errors
/// `no-reason`, `no-such-shot`, `taken-back`, or not written.
pub fn leave_out(store: &mut Store, shot: i64, why: Option<&str>, now_ms: i64) -> Result<Logged, Finding> {
    let why = why.map(|w| w.trim().trim_start_matches("because ").trim().to_string());
    if why.as_deref().is_some_and(|w| w.is_empty() || w == "because") {
        return Err(Finding::new(
            "no-reason",
            format!("shot {shot}"),
            "the log must say why a shot is left out",
            "write `arcwright floor leave-out 12 because the piece was torn`",
        ));
    }
    let done = if why.is_some() { "left out" } else { "taken in" };
    let words = why.clone().unwrap_or_default();
    store.supersede(shot, done, &words, now_ms, |was| {
        if why.is_none() && was.entry.left_out_because.is_none() {
            return Err(Finding::new(
                "already-so",
                format!("shot {shot}"),
                "it is not left out",
                "nothing needs to be done",
            ));
        }
        Ok(Entry {
            left_out_because: why,
            ..was.entry.clone()
        })
    })
}

/// The place said, as a spot.
fn place_of(project: &Project, place: &Place) -> Result<Spot, Finding> {
    match place {
        Place::Spot(name) => super::super::throw::find_spot(project, Some(name)).cloned(),
        Place::Distance(distance_m) => Ok(Spot {
            name: String::new(),
            distance_m: *distance_m,
            offset_m: 0.0,
            heading_rad: 0.0,
        }),
    }
}

fn stand(entry: &mut Entry, spot: &Spot) {
    entry.spot.clone_from(&spot.name);
    entry.distance_m = spot.distance_m;
    entry.offset_m = spot.offset_m;
}

/// A new shot: what was said, and for the rest what went before.
fn fresh(floor: &Floor, store: Option<&Store>, said: &Said, now_ms: i64) -> Result<(Entry, Unsaid), Finding> {
    let project = floor.project;
    let mut unsaid = Unsaid::default();
    let spot = match (&said.place, project.spots.as_slice()) {
        (Some(place), _) => place_of(project, place)?,
        (None, [only]) => only.clone(),
        (None, _) => {
            let last = match store {
                Some(store) => {
                    let session = store.present_session(now_ms)?;
                    store.last()?.filter(|l| Some(l.session) == session)
                }
                None => None,
            };
            let Some(last) = last else {
                return Err(Finding::new(
                    "no-spot",
                    "the line",
                    "it does not say where the robot stood",
                    format!(
                        "begin with a spot ({}), or with `from 3.2m`; within a session the last one goes on",
                        floor.spots().join(", ")
                    ),
                ));
            };
            unsaid.spot = true;
            Spot {
                name: last.entry.spot,
                distance_m: last.entry.distance_m,
                offset_m: last.entry.offset_m,
                heading_rad: 0.0,
            }
        }
    };
    let present = project.machine.setting;
    let setting = Setting {
        slide_m: said.slide_m.unwrap_or(present.slide_m),
        tilt_rad: said.tilt_rad.unwrap_or(present.tilt_rad),
        reach_m: said.reach_m.unwrap_or(present.reach_m),
    };
    let mut entry = Entry {
        slide_m: setting.slide_m,
        tilt_rad: setting.tilt_rad,
        reach_m: setting.reach_m,
        place: 1,
        ..Entry::default()
    };
    stand(&mut entry, &spot);
    entry.setpoint_radps = match said.setpoint_radps {
        Some(w) => w,
        None => {
            let last = match store {
                None => None,
                Some(store) if spot.name.is_empty() => {
                    store.last()?.filter(|l| l.entry.distance_m == spot.distance_m)
                }
                Some(store) => store.last_from(&spot.name)?,
            };
            match last {
                Some(last) => {
                    unsaid.last_speed = true;
                    last.entry.setpoint_radps
                }
                None => {
                    unsaid.aimed_speed = true;
                    // As a person would set it: whole rpm.
                    let rpm = std::f64::consts::PI / 30.0;
                    (floor.aimed(&spot, &setting)? / rpm).round() * rpm
                }
            }
        }
    };
    let walls = match (said.wall, store) {
        (Some((_, None)), Some(store)) => Walls::of(store)?,
        _ => Walls::default(),
    };
    say(project, &mut entry, said, &walls)?;
    unsaid.wall = matches!(said.wall, Some((_, None)));
    Ok((entry, unsaid))
}

/// The wall that was last measured at: how far beyond the near rim it stands.
#[derive(Clone, Copy, Debug, Default)]
struct Walls {
    beyond_rim_m: Option<f64>,
}

impl Walls {
    fn of(store: &Store) -> Result<Walls, Finding> {
        let all = store.current()?;
        let last = all
            .iter()
            .rev()
            .find(|s| !s.entry.taken_back && s.entry.wall_m.is_some());
        Ok(Walls {
            beyond_rim_m: last.and_then(|s| Some(s.entry.wall_m?[0] - s.entry.distance_m)),
        })
    }
}

/// Where a miss by eye, from the centre of the opening, lies outside of it: the outcome.
pub(super) fn outcome_of_miss(project: &Project, [along_m, across_m]: [f64; 2]) -> Option<Outcome> {
    let t = &project.target;
    let along = along_m / (0.5 * t.depth_m);
    let across = across_m / (0.5 * t.width_m);
    let inside = match t.outline {
        Outline::Rectangle => along.abs() <= 1.0 && across.abs() <= 1.0,
        Outline::Round => along.hypot(across) <= 1.0,
    };
    if inside {
        return None;
    }
    Some(match (along.abs() >= across.abs(), along > 0.0, across > 0.0) {
        (true, true, _) => Outcome::Long,
        (true, false, _) => Outcome::Short,
        (false, _, true) => Outcome::Left,
        (false, _, false) => Outcome::Right,
    })
}

/// Puts what was said into an entry; what was not said stays.
fn say(project: &Project, entry: &mut Entry, said: &Said, walls: &Walls) -> Result<(), Finding> {
    for field in &said.without {
        take_out(entry, *field);
    }
    entry.offset_m = said.offset_m.unwrap_or(entry.offset_m);
    entry.setpoint_radps = said.setpoint_radps.unwrap_or(entry.setpoint_radps);
    entry.before_radps = said.before_radps.or(entry.before_radps);
    entry.after_radps = said.after_radps.or(entry.after_radps);
    entry.battery_v = said.battery_v.or(entry.battery_v);
    entry.piece = said.piece.or(entry.piece);
    if let Some((place, of)) = said.throw {
        entry.place = place;
        entry.volley_count = of.or(entry.volley_count);
    }
    entry.slide_m = said.slide_m.unwrap_or(entry.slide_m);
    entry.tilt_rad = said.tilt_rad.unwrap_or(entry.tilt_rad);
    entry.reach_m = said.reach_m.unwrap_or(entry.reach_m);
    entry.turned_rad = said.turned_rad.unwrap_or(entry.turned_rad);
    entry.exit_speed_mps = said.exit_speed_mps.or(entry.exit_speed_mps);
    entry.exit_angle_rad = said.exit_angle_rad.or(entry.exit_angle_rad);
    entry.jammed |= said.jammed;
    if let Some(why) = &said.flyer {
        entry.left_out_because = Some(why.clone());
    }
    if let Some(note) = &said.note {
        entry.note.clone_from(note);
    }
    if let Some(along_m) = said.land_m {
        let [_, across_m, height_m] = entry
            .landing_m
            .unwrap_or([0.0, 0.0, 0.5 * project.piece.diameter_m]);
        entry.landing_m = Some([along_m, said.across_m.unwrap_or(across_m), height_m]);
    } else if said.along_m.is_some() || said.across_m.is_some() {
        match (&mut entry.landing_m, entry.miss_m) {
            // Only sideways, and there is a landing and no miss by eye: it is the landing's.
            (Some(landing), None) if said.along_m.is_none() => {
                landing[1] = said.across_m.unwrap_or(landing[1]);
            }
            (_, miss) => {
                let [along, across] = miss.unwrap_or_default();
                let miss = [said.along_m.unwrap_or(along), said.across_m.unwrap_or(across)];
                entry.miss_m = Some(miss);
                entry.outcome = outcome_of_miss(project, miss);
            }
        }
    }
    entry.outcome = said.outcome.or(entry.outcome);
    if let Some((height_m, at)) = said.wall {
        entry.wall_m = Some([wall_distance(project, entry, height_m, at, walls)?, height_m]);
    }
    if let Some((time_s, to)) = said.fall {
        entry.fall = Some((time_s, fall_height(project, entry, to)?));
    }
    Ok(())
}

fn take_out(entry: &mut Entry, field: Field) {
    match field {
        Field::Landing => entry.landing_m = None,
        Field::Wall => entry.wall_m = None,
        Field::Fall => entry.fall = None,
        Field::Miss => entry.miss_m = None,
        Field::Outcome => entry.outcome = None,
        Field::Before => entry.before_radps = None,
        Field::After => entry.after_radps = None,
        Field::Battery => entry.battery_v = None,
        Field::Piece => entry.piece = None,
        Field::Exit => (entry.exit_speed_mps, entry.exit_angle_rad) = (None, None),
        Field::Jam => entry.jammed = false,
        Field::Note => entry.note.clear(),
    }
}

fn wall_distance(
    project: &Project,
    entry: &Entry,
    height_m: f64,
    at: Option<f64>,
    walls: &Walls,
) -> Result<f64, Finding> {
    if let Some(distance_m) = at {
        return Ok(distance_m);
    }
    if let Some([distance_m, _]) = entry.wall_m {
        return Ok(distance_m);
    }
    if let Some(beyond_m) = walls.beyond_rim_m {
        return Ok(entry.distance_m + beyond_m);
    }
    let t = &project.target;
    let on_back_wall = t.back_wall_m > 0.0
        && t.tilt_rad == 0.0
        && (t.rim_height_m..=t.rim_height_m + t.back_wall_m).contains(&height_m);
    if on_back_wall {
        return Ok(entry.distance_m + t.depth_m);
    }
    let h = project.say(height_m, D::Length);
    Err(Finding::new(
        "half-said",
        "wall",
        "it does not say how far the wall is, and no wall was measured at before",
        format!(
            "say it once, from the wheel axle to the wall, such as `wall {h} at {}`; the shots after it take the same wall",
            project.say(entry.distance_m + t.depth_m + 1.0, D::Length)
        ),
    ))
}

pub(super) fn fall_height(project: &Project, entry: &Entry, to: Option<FallTo>) -> Result<f64, Finding> {
    let floor_m = 0.5 * project.piece.diameter_m;
    Ok(match to {
        Some(FallTo::Rim) => project.target.centre_height_m(),
        Some(FallTo::Floor) => floor_m,
        Some(FallTo::Height(h)) => h,
        None => match (entry.fall, entry.landing_m, entry.outcome) {
            (Some((_, height_m)), _, _) | (None, Some([_, _, height_m]), _) => height_m,
            (None, None, Some(Outcome::In | Outcome::Rim)) => project.target.centre_height_m(),
            _ => {
                return Err(Finding::new(
                    "half-said",
                    "fall",
                    "it does not say where the time of flight ended",
                    "write `fall 1.24s to rim`, `fall 1.24s to floor` or `fall 1.24s to 1.2m`; with `in` it is the rim, with `land` the floor",
                ));
            }
        },
    })
}

#[cfg(test)]
#[path = "log_tests.rs"]
mod tests;
