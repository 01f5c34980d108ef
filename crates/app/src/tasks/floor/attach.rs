//! Readings of a robot's log or a film brought to the shots they belong to.

use std::path::Path;

use arcwright_model::finding::Finding;
use arcwright_model::floor::film::Film;
use arcwright_model::floor::telemetry::{LoggedAt, Matched, Pairing, match_shots};
use arcwright_model::project::Project;
use arcwright_model::units::Dimension as D;

use super::telemetry::{Telemetry, ThrowReading, throw_readings};
use super::{Floor, doubt, tell, time};
use crate::store::{self, Amendment, Entry, Logged};

/// How to bring them together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct How {
    /// Only shots of this session.
    pub session: Option<i64>,
    /// When the log's clock showed zero, milliseconds UTC.
    pub zero_utc_ms: Option<i64>,
    /// A throw and a shot farther apart than this are not one.
    pub tolerance_s: f64,
    /// First with first, whatever the times say.
    pub in_order: bool,
    /// Replace what a shot says already.
    pub anyway: bool,
}

/// What becomes of a pair.
#[derive(Clone, Debug, PartialEq)]
pub enum Fate {
    /// The shot gets a new version.
    Take(Box<Entry>),
    /// The shot says it already.
    Same,
    /// Refused.
    Refuse(Finding),
}

/// A throw of the log and its shot.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Number of the throw in the log, from 1.
    pub throw: usize,
    /// Number of the shot.
    pub shot: i64,
    /// Versions of the shot when it was looked at.
    pub versions: u32,
    /// What the shot said.
    pub was: Entry,
    /// What the log says.
    pub reading: ThrowReading,
    /// Logged so long after the throw; none where the time of the shot is not known.
    pub late_s: Option<f64>,
    /// What becomes of it.
    pub fate: Fate,
}

/// Pairs, and what is left over.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// The pairs, in the order of the log.
    pub rows: Vec<Row>,
    /// Throws without a shot, from 1.
    pub throws_alone: Vec<usize>,
    /// Shots without a throw, of the sessions that have one.
    pub shots_alone: Vec<i64>,
    /// When the log's clock showed zero; none where pairs go by order.
    pub zero_utc_ms: Option<i64>,
}

/// Method: a shot is logged within this after its throw, or before it.
pub const USUAL_WITHIN: &str = "15 s";

/// Heads of [`Row::cells`].
pub const HEAD: [&str; 10] = [
    "throw", "shot", "spot", "asked", "before", "after", "dip", "battery", "logged", "",
];

impl Row {
    /// The pair in the columns of [`HEAD`].
    pub fn cells(&self, project: &Project) -> Vec<String> {
        let say = |v: f64, d: D| project.say(v, d);
        let reading = &self.reading;
        vec![
            self.throw.to_string(),
            self.shot.to_string(),
            tell::place(project, &self.was),
            say(self.was.setpoint_radps, D::AngularSpeed),
            say(reading.before_radps, D::AngularSpeed),
            say(reading.after_radps, D::AngularSpeed),
            say(1.0 - reading.after_radps / reading.before_radps, D::Ratio),
            reading.battery_v.map_or("-".into(), |v| say(v, D::Voltage)),
            match self.late_s {
                Some(late) if late.abs() < 0.5 => "at once".into(),
                Some(late) if late > 0.0 => format!("{late:.0} s later"),
                Some(late) => format!("{:.0} s before", -late),
                None => "-".into(),
            },
            match &self.fate {
                Fate::Take(_) => "take".into(),
                Fate::Same => "there already".into(),
                Fate::Refuse(_) => "refused".into(),
            },
        ]
    }
}

/// Pairs a robot's log with the shots, and with `apply` writes what the look shows; how many shots were written.
///
/// # Errors
/// As [`plan`], or a finding when the log cannot be read or written.
pub fn bring(
    floor: &Floor,
    log: &Path,
    telemetry: &Telemetry,
    how: &How,
    file: &str,
    apply: bool,
) -> Result<(Plan, usize), Finding> {
    let look = |current: &[Logged]| plan(floor, current, telemetry, how);
    let found = match store::open_to_read(log)? {
        Some(store) => look(&store.current()?)?,
        None => look(&[])?,
    };
    if !apply || amendments(&found, file).is_empty() {
        return Ok((found, 0));
    }
    let mut store = store::open(log)?;
    // Another program may change a shot meanwhile: then it is looked at again.
    loop {
        let found = look(&store.current()?)?;
        let changes = amendments(&found, file);
        if store.amend(&changes, &format!("measured by {file}"), time::now_ms())? {
            return Ok((found, changes.len()));
        }
    }
}

/// What came of a film and its shot.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Brought {
    /// It would be written.
    Would,
    /// The shot says it already.
    Same,
    /// It was written.
    Written,
}

/// What a film says of the exit, in words.
pub fn exit_words(project: &Project, film: &Film) -> String {
    format!(
        "exit {} at {}",
        project.say(film.speed_mps.value, D::Speed),
        project.say(film.angle_rad.value, D::Angle)
    )
}

/// Brings a film to its shot: a look, or with `apply` a new version of the shot.
///
/// # Errors
/// As [`filmed`], `no-such-shot`, or a finding when the log cannot be read or written.
pub fn bring_film(
    floor: &Floor,
    log: &Path,
    film: &Film,
    number: i64,
    file: &str,
    apply: bool,
    anyway: bool,
) -> Result<Brought, Finding> {
    let all = match store::open_to_read(log)? {
        Some(store) => store.current()?,
        None => Vec::new(),
    };
    let found = all.iter().find(|l| l.id == number && !l.entry.taken_back);
    let shot = found.ok_or_else(|| {
        Finding::new(
            "no-such-shot",
            format!("shot {number}"),
            format!("there is no shot {number}"),
            "see `arcwright floor list`",
        )
    })?;
    if filmed(floor, shot, film, apply, anyway)?.is_none() {
        return Ok(Brought::Same);
    }
    if !apply {
        return Ok(Brought::Would);
    }
    let exit = exit_words(floor.project, film);
    let mut same = false;
    let written = store::open(log)?.supersede(
        number,
        &format!("filmed in {file}"),
        &exit,
        time::now_ms(),
        |was| match filmed(floor, was, film, true, anyway)? {
            Some(entry) => Ok(entry),
            // Another program has written it since.
            None => {
                same = true;
                Err(Finding::new("there-already", format!("shot {number}"), "", ""))
            }
        },
    );
    match written {
        Err(_) if same => Ok(Brought::Same),
        Err(f) => Err(f),
        Ok(_) => Ok(Brought::Written),
    }
}

/// Method: two measurements of one wheel speed that are farther apart are not of one throw.
const SPEED_OFF_FRAC: f64 = 0.015;
/// Method: the same of a battery voltage.
const BATTERY_OFF_V: f64 = 0.3;
/// Method: and of an exit speed and angle from films.
const EXIT_OFF_FRAC: f64 = 0.04;
/// Method: see [`EXIT_OFF_FRAC`].
const EXIT_OFF_RAD: f64 = 0.035;

/// Pairs the throws of a robot's log with logged shots.
///
/// # Errors
/// `no-throws`, `no-shots-there`, `no-pairs`, or `two-ways` where the times fit about as well in another way.
pub fn plan(floor: &Floor, logged: &[Logged], telemetry: &Telemetry, how: &How) -> Result<Plan, Finding> {
    let readings = throw_readings(telemetry);
    if readings.is_empty() {
        return Err(Finding::new(
            "no-throws",
            "the robot's log",
            "no throw was found in it, so there is nothing to bring to the shots",
            "log every 20 ms or faster, and check which column is the measured wheel speed",
        ));
    }
    let shots: Vec<&Logged> = logged
        .iter()
        .filter(|l| !l.entry.taken_back && how.session.is_none_or(|s| s == l.session))
        .collect();
    if shots.is_empty() {
        return Err(Finding::new(
            "no-shots-there",
            "the log of shots",
            "it has no shot to bring them to",
            "log the shots first (`arcwright floor log`), or name another session; see `arcwright floor list`",
        ));
    }
    let at: Vec<LoggedAt> = shots
        .iter()
        .map(|l| LoggedAt {
            time_s: if l.time_known {
                l.thrown_utc_ms as f64 / 1000.0
            } else {
                f64::NAN
            },
            setpoint_radps: l.entry.setpoint_radps,
        })
        .collect();
    let pairing = Pairing {
        tolerance_s: if how.in_order {
            f64::INFINITY
        } else {
            how.tolerance_s
        },
        shift_s: how.zero_utc_ms.map(|ms| -(ms as f64) / 1000.0),
    };
    let matched = match_shots(&telemetry.dips.dips, &at, &pairing);
    if matched.pairs.is_empty() {
        return Err(Finding::new(
            "no-pairs",
            "the robot's log",
            format!(
                "none of its {} throws goes with one of the {} shots by time and wheel speed",
                readings.len(),
                shots.len()
            ),
            "check that it is the log of that day; say when its clock showed 0 (--zero-at \"2026-05-02 18:42:10\"), allow more (--within \"30 s\"), or pair first with first (--in-order --session N)",
        ));
    }
    if let Some(other_s) = matched.rival_shift_s.filter(|_| !how.in_order) {
        return Err(Finding::new(
            "two-ways",
            "the robot's log",
            format!(
                "its throws go with the shots in two ways: with its clock at 0 at {}, or at {}",
                clock_of(matched.shift_s),
                clock_of(other_s)
            ),
            "say which: --zero-at \"2026-05-02 18:42:10\", or --session N",
        ));
    }
    Ok(rows(floor, &shots, &readings, &matched, how))
}

fn clock_of(shift_s: f64) -> String {
    time::day_and_time(zero_of(shift_s)) + &time::clock(zero_of(shift_s)).split_off(5)
}

fn zero_of(shift_s: f64) -> i64 {
    (-1000.0 * shift_s).round() as i64
}

fn rows(floor: &Floor, shots: &[&Logged], readings: &[ThrowReading], matched: &Matched, how: &How) -> Plan {
    let mut rows = Vec::new();
    for [d, s] in &matched.pairs {
        let (Some(reading), Some(shot)) = (readings.get(*d), shots.get(*s)) else {
            continue;
        };
        let late_s = shot.thrown_utc_ms as f64 / 1000.0 + matched.shift_s - reading.time_s;
        rows.push(Row {
            throw: d + 1,
            shot: shot.id,
            versions: shot.versions,
            was: shot.entry.clone(),
            reading: *reading,
            late_s: (!how.in_order && shot.time_known).then_some(late_s),
            fate: fate(floor, shot, reading, how.anyway),
        });
    }
    rows.sort_by_key(|r| r.throw);
    let with_pairs: Vec<i64> = shots
        .iter()
        .filter(|l| rows.iter().any(|r| r.shot == l.id))
        .map(|l| l.session)
        .collect();
    let alone = matched.shots_alone.iter().filter_map(|i| shots.get(*i));
    Plan {
        throws_alone: matched.dips_alone.iter().map(|d| d + 1).collect(),
        shots_alone: alone
            .filter(|l| with_pairs.contains(&l.session))
            .map(|l| l.id)
            .collect(),
        zero_utc_ms: (!how.in_order).then(|| zero_of(matched.shift_s)),
        rows,
    }
}

/// A value that a shot says beside what a measurement says.
fn differs(old: Option<f64>, new: Option<f64>, off: impl Fn(f64, f64) -> f64, most: f64) -> bool {
    matches!((old, new), (Some(a), Some(b)) if !(off(a, b) <= most))
}

fn by_share(a: f64, b: f64) -> f64 {
    (a / b - 1.0).abs()
}

fn by_amount(a: f64, b: f64) -> f64 {
    (a - b).abs()
}

fn fate(floor: &Floor, shot: &Logged, r: &ThrowReading, anyway: bool) -> Fate {
    let project = floor.project;
    let was = &shot.entry;
    let say = |v: f64, d: D| project.say(v, d);
    let speed = |old: Option<f64>, new: f64| differs(old, Some(new), by_share, SPEED_OFF_FRAC);
    let mut off = Vec::new();
    for (name, old, new) in [
        ("before", was.before_radps, r.before_radps),
        ("after", was.after_radps, r.after_radps),
    ] {
        if let Some(o) = old.filter(|_| speed(old, new)) {
            let (o, n) = (say(o, D::AngularSpeed), say(new, D::AngularSpeed));
            off.push(format!("{o} {name}, the log {n}"));
        }
    }
    if let (Some(o), Some(n)) = (was.battery_v, r.battery_v)
        && differs(Some(o), Some(n), by_amount, BATTERY_OFF_V)
    {
        off.push(format!("{}, the log {}", say(o, D::Voltage), say(n, D::Voltage)));
    }
    if !off.is_empty() && !anyway {
        return Fate::Refuse(Finding::new(
            "disagrees",
            format!("shot {}", shot.id),
            format!("the shot says {}", off.join("; ")),
            "look which is right; --anyway takes the log's and keeps the other as an older version",
        ));
    }
    let mut entry = was.clone();
    let take = |old: Option<f64>, new: Option<f64>| if anyway { new.or(old) } else { old.or(new) };
    entry.before_radps = take(was.before_radps, Some(r.before_radps));
    entry.after_radps = take(was.after_radps, Some(r.after_radps));
    entry.battery_v = take(was.battery_v, r.battery_v);
    changed(floor, was, entry, anyway)
}

/// Nothing new, something that cannot be, or a new version.
fn changed(floor: &Floor, was: &Entry, entry: Entry, anyway: bool) -> Fate {
    if entry == *was {
        return Fate::Same;
    }
    match doubt::refuse(floor, &entry, anyway) {
        Ok(()) => Fate::Take(Box::new(entry)),
        Err(f) => Fate::Refuse(f),
    }
}

/// The changes of a plan, ready to be written as one act.
pub fn amendments(plan: &Plan, file: &str) -> Vec<Amendment> {
    let each = plan.rows.iter().filter_map(|r| match &r.fate {
        Fate::Take(entry) => Some(Amendment {
            shot: r.shot,
            versions: r.versions,
            words: format!("throw {} of {file}", r.throw),
            entry: (**entry).clone(),
        }),
        _ => None,
    });
    each.collect()
}

/// What a film says of a shot: speed and angle at its first point as those at the exit.
///
/// # Errors
/// `film-doubtful` for a film that doubts itself, `disagrees` for a shot that says something else, and what speaks
/// against the shot with them.
pub fn filmed(
    floor: &Floor,
    shot: &Logged,
    film: &Film,
    apply: bool,
    anyway: bool,
) -> Result<Option<Entry>, Finding> {
    let project: &Project = floor.project;
    let key = format!("shot {}", shot.id);
    if !anyway && apply && film.doubts.iter().any(|d| d.serious) {
        return Err(Finding::new(
            "film-doubtful",
            key,
            "the film itself speaks against its scale or frame rate, so its speed is not taken",
            "mend the scale and the frame rate; --anyway takes it as it is",
        ));
    }
    let was = &shot.entry;
    let (speed, angle) = (film.speed_mps.value, film.angle_rad.value);
    let mut off = Vec::new();
    if let Some(old) = was.exit_speed_mps
        && differs(Some(old), Some(speed), by_share, EXIT_OFF_FRAC)
    {
        off.push(project.say(old, D::Speed));
    }
    if let Some(old) = was.exit_angle_rad
        && differs(Some(old), Some(angle), by_amount, EXIT_OFF_RAD)
    {
        off.push(project.say(old, D::Angle));
    }
    if !off.is_empty() && !anyway {
        return Err(Finding::new(
            "disagrees",
            key,
            format!(
                "the shot says exit {}, the film {} at {}",
                off.join(" and "),
                project.say(speed, D::Speed),
                project.say(angle, D::Angle)
            ),
            "look whether it is the film of that shot; --anyway takes the film's and keeps the other as an older version",
        ));
    }
    let take = |old: Option<f64>, new: f64| if anyway { Some(new) } else { old.or(Some(new)) };
    let entry = Entry {
        exit_speed_mps: take(was.exit_speed_mps, speed),
        exit_angle_rad: take(was.exit_angle_rad, angle),
        ..was.clone()
    };
    match changed(floor, was, entry, anyway) {
        Fate::Take(entry) => Ok(Some(*entry)),
        Fate::Same => Ok(None),
        Fate::Refuse(f) => Err(f),
    }
}
