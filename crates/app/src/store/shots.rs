//! Shots: adding, superseding, reading.

use std::collections::{BTreeMap, BTreeSet};

use arcwright_model::finding::Finding;
use arcwright_model::floor::{Landing, Seen, Shot, TimedFall, WallHeight};
use arcwright_model::launcher::Setting;
use arcwright_model::project::Project;
use rusqlite::{Connection, OptionalExtension, Row, Transaction, TransactionBehavior, params};

use super::{Entry, Store, sessions};

/// A shot to be added.
#[derive(Clone, Debug, PartialEq)]
pub struct NewShot {
    /// When it was thrown, milliseconds UTC.
    pub thrown_utc_ms: i64,
    /// Whether that time was known.
    pub time_known: bool,
    /// How it came: `typed`, `table`, ...
    pub source: String,
    /// What was typed.
    pub words: String,
    /// What is held.
    pub entry: Entry,
}

/// Shots that belong to one session.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Batch {
    /// The session they join; a new one where `None`.
    pub session: Option<i64>,
    /// When the new session began, milliseconds UTC.
    pub started_utc_ms: i64,
    /// Name of the new session.
    pub name: String,
    /// The shots.
    pub shots: Vec<NewShot>,
}

/// A shot as it stands now.
#[derive(Clone, Debug, PartialEq)]
pub struct Logged {
    /// Number of the shot.
    pub id: i64,
    /// Number of its session.
    pub session: i64,
    /// When it was thrown, milliseconds UTC.
    pub thrown_utc_ms: i64,
    /// Whether that time was known.
    pub time_known: bool,
    /// How it came.
    pub source: String,
    /// How many versions it has.
    pub versions: u32,
    /// What was typed for the first.
    pub words: String,
    /// What is held now.
    pub entry: Entry,
}

/// One version of a shot.
#[derive(Clone, Debug, PartialEq)]
pub struct Version {
    /// From 1.
    pub number: u32,
    /// When it was written, milliseconds UTC.
    pub written_utc_ms: i64,
    /// What was done: `logged`, `edited`, ...
    pub done: String,
    /// The words for it.
    pub words: String,
    /// What it says.
    pub entry: Entry,
}

/// A new version of a shot, made after a look at the one before it.
#[derive(Clone, Debug, PartialEq)]
pub struct Amendment {
    /// Shot.
    pub shot: i64,
    /// Versions that it had when it was looked at.
    pub versions: u32,
    /// Where the change comes from.
    pub words: String,
    /// What it says now.
    pub entry: Entry,
}

/// What an undo took back.
#[derive(Clone, Debug, PartialEq)]
pub struct Undone {
    /// Shot.
    pub id: i64,
    /// What had been done to it.
    pub done: String,
    /// What is held now.
    pub entry: Entry,
}

/// A shot of the log, and what the model sees of it.
#[derive(Clone, Debug, PartialEq)]
pub struct LoggedShot {
    /// Number of the shot.
    pub id: i64,
    /// When it was thrown, milliseconds UTC.
    pub thrown_utc_ms: i64,
    /// Number of its session.
    pub session: i64,
    /// Name of the spot; empty for a place without one.
    pub spot: String,
    /// What was typed.
    pub words: String,
    /// The model's view.
    pub shot: Shot,
}

/// Every shot that was not taken back, by session and time, with the model's view of it.
/// Shots left out of the fit are among them, marked.
///
/// # Errors
/// A finding when the log cannot be read.
pub fn shots(store: &Store, project: &Project) -> Result<Vec<LoggedShot>, Finding> {
    let mut all = store.current()?;
    all.retain(|s| !s.entry.taken_back);
    let held: BTreeSet<i64> = all.iter().map(|s| s.session).collect();
    // A session of which everything was taken back is none.
    let order: BTreeMap<i64, usize> = store
        .sessions()?
        .iter()
        .filter(|s| held.contains(&s.id))
        .enumerate()
        .map(|(i, s)| (s.id, i))
        .collect();
    Ok(all
        .into_iter()
        .map(|s| LoggedShot {
            id: s.id,
            thrown_utc_ms: s.thrown_utc_ms,
            session: s.session,
            shot: as_shot(
                &s.entry,
                order.get(&s.session).copied().unwrap_or_default(),
                project,
            ),
            spot: s.entry.spot,
            words: s.words,
        })
        .collect())
}

fn as_shot(e: &Entry, session_index: usize, project: &Project) -> Shot {
    Shot {
        session_index,
        distance_m: e.distance_m,
        offset_m: e.offset_m,
        turned_rad: e.turned_rad,
        setting: Setting {
            slide_m: e.slide_m,
            tilt_rad: e.tilt_rad,
            reach_m: e.reach_m,
        },
        setpoint_radps: e.setpoint_radps,
        before_radps: e.before_radps,
        after_radps: e.after_radps,
        battery_v: e.battery_v,
        piece: e.piece,
        place: e.place.saturating_sub(1),
        last: e.is_last(project.limits.volley_count),
        seen: Seen {
            landing: e.landing_m.map(|[along_m, across_m, height_m]| Landing {
                along_m,
                across_m,
                height_m,
            }),
            wall: e.wall_m.map(|[to_wall_m, height_m]| WallHeight {
                // Taped to the wall; the piece's centre stops a radius before it.
                distance_m: to_wall_m - 0.5 * project.piece.diameter_m,
                height_m,
            }),
            fall: e.fall.map(|(time_s, height_m)| TimedFall { time_s, height_m }),
            miss_m: e.miss_m,
            outcome: e.outcome,
            exit_speed_mps: e.exit_speed_mps,
            exit_angle_rad: e.exit_angle_rad,
        },
        jammed: e.jammed,
        left_out: e.left_out_because.is_some(),
    }
}

const NOW: &str = "SELECT s.session_id, s.thrown_utc_ms, s.time_known, s.source, v.*,
        (SELECT words FROM shot_version WHERE shot_id = s.id AND number = 1) AS first_words
    FROM shot s JOIN shot_version v ON v.shot_id = s.id
    WHERE v.number = (SELECT max(number) FROM shot_version WHERE shot_id = s.id)";

fn logged(row: &Row) -> rusqlite::Result<Logged> {
    Ok(Logged {
        id: row.get("shot_id")?,
        session: row.get("session_id")?,
        thrown_utc_ms: row.get("thrown_utc_ms")?,
        time_known: row.get("time_known")?,
        source: row.get("source")?,
        versions: row.get("number")?,
        words: row.get("first_words")?,
        entry: Entry::from_row(row)?,
    })
}

fn one(db: &Connection, shot: i64) -> rusqlite::Result<Option<Logged>> {
    db.query_row(&format!("{NOW} AND s.id = ?1"), [shot], logged)
        .optional()
}

/// What is written with every version besides the entry.
pub(super) struct Deed<'a> {
    pub(super) act: i64,
    pub(super) undoes: Option<i64>,
    pub(super) now_ms: i64,
    pub(super) done: &'a str,
    pub(super) words: &'a str,
}

pub(super) fn next_act(db: &Connection) -> rusqlite::Result<i64> {
    db.query_row("SELECT coalesce(max(act), 0) + 1 FROM shot_version", [], |r| {
        r.get(0)
    })
}

pub(super) fn write_version(
    db: &Connection,
    shot: i64,
    number: u32,
    deed: &Deed,
    entry: &Entry,
) -> rusqlite::Result<()> {
    use rusqlite::types::Value;
    let mut columns = vec![
        ("shot_id", Value::Integer(shot)),
        ("number", Value::Integer(number.into())),
        ("act", Value::Integer(deed.act)),
        ("undoes_act", deed.undoes.map_or(Value::Null, Value::Integer)),
        ("written_utc_ms", Value::Integer(deed.now_ms)),
        ("done", Value::Text(deed.done.to_string())),
        ("words", Value::Text(deed.words.to_string())),
    ];
    columns.extend(entry.columns());
    let names: Vec<&str> = columns.iter().map(|(n, _)| *n).collect();
    let places = vec!["?"; names.len()].join(", ");
    let sql = format!(
        "INSERT INTO shot_version ({}) VALUES ({places})",
        names.join(", ")
    );
    db.prepare(&sql)?
        .execute(rusqlite::params_from_iter(columns.into_iter().map(|(_, v)| v)))?;
    Ok(())
}

fn write_shot(
    db: &Connection,
    session: i64,
    new: &NewShot,
    act: i64,
    done: &str,
    now_ms: i64,
) -> rusqlite::Result<i64> {
    db.prepare("INSERT INTO shot (session_id, thrown_utc_ms, time_known, source) VALUES (?1, ?2, ?3, ?4)")?
        .execute(params![session, new.thrown_utc_ms, new.time_known, new.source])?;
    let shot = db.last_insert_rowid();
    let deed = Deed {
        act,
        undoes: None,
        now_ms,
        done,
        words: &new.words,
    };
    write_version(db, shot, 1, &deed, &new.entry)?;
    Ok(shot)
}

impl Store {
    /// Runs work in one transaction; nothing of it is written when it fails.
    pub(super) fn whole<T>(
        &mut self,
        work: impl FnOnce(&Transaction) -> rusqlite::Result<Result<T, Finding>>,
    ) -> Result<T, Finding> {
        let run = |db: &mut Connection| -> rusqlite::Result<Result<T, Finding>> {
            let transaction = db.transaction_with_behavior(TransactionBehavior::Immediate)?;
            let done = work(&transaction)?;
            if done.is_ok() {
                transaction.commit()?;
            }
            Ok(done)
        };
        run(&mut self.db).map_err(|e| self.trouble(&e))?
    }

    /// Adds one shot to the present session, or to a new one; its number and that of its session.
    ///
    /// # Errors
    /// A finding when it cannot be written; nothing is then.
    pub fn log(&mut self, new: &NewShot, now_ms: i64) -> Result<(i64, i64), Finding> {
        self.add(new, now_ms, false)
    }

    /// As [`Store::log`], but a shot of the same source that is there already is left as it is: its numbers.
    ///
    /// # Errors
    /// As [`Store::log`].
    pub fn log_once(&mut self, new: &NewShot, now_ms: i64) -> Result<(i64, i64), Finding> {
        self.add(new, now_ms, true)
    }

    fn add(&mut self, new: &NewShot, now_ms: i64, once: bool) -> Result<(i64, i64), Finding> {
        self.whole(|db| {
            if once {
                let mut same = db.prepare("SELECT id, session_id FROM shot WHERE source = ?1 LIMIT 1")?;
                let there = same
                    .query_row([&new.source], |r| Ok((r.get(0)?, r.get(1)?)))
                    .optional()?;
                if let Some(there) = there {
                    return Ok(Ok(there));
                }
            }
            let session = match sessions::present(db, new.thrown_utc_ms)? {
                Some(id) => id,
                None => sessions::begin(db, new.thrown_utc_ms, "")?,
            };
            let act = next_act(db)?;
            let shot = write_shot(db, session, new, act, "logged", now_ms)?;
            Ok(Ok((shot, session)))
        })
    }

    /// Number of the last act in the log; 0 where there is none.
    ///
    /// # Errors
    /// A finding when the log cannot be read.
    pub fn last_act(&self) -> Result<i64, Finding> {
        next_act(&self.db).map(|n| n - 1).map_err(|e| self.trouble(&e))
    }

    /// Adds many shots as one act: all or none. Their numbers, in order; `None`, and nothing written,
    /// where something was done since the act that the batches were made after.
    ///
    /// # Errors
    /// A finding when they cannot be written; nothing is then.
    pub fn bring_in(
        &mut self,
        batches: &[Batch],
        after_act: i64,
        now_ms: i64,
    ) -> Result<Option<Vec<i64>>, Finding> {
        self.whole(|db| {
            let act = next_act(db)?;
            if act != after_act + 1 {
                return Ok(Ok(None));
            }
            let mut numbers = Vec::new();
            for batch in batches.iter().filter(|b| !b.shots.is_empty()) {
                let session = match batch.session {
                    Some(id) => id,
                    None => sessions::begin(db, batch.started_utc_ms, &batch.name)?,
                };
                for new in &batch.shots {
                    numbers.push(write_shot(db, session, new, act, "brought in", now_ms)?);
                }
            }
            Ok(Ok(Some(numbers)))
        })
    }

    /// Writes a new version of a shot, made from the present one.
    ///
    /// # Errors
    /// `no-such-shot`, `taken-back`, what `change` refuses, or a finding when it cannot be written.
    pub fn supersede(
        &mut self,
        shot: i64,
        done: &str,
        words: &str,
        now_ms: i64,
        change: impl FnOnce(&Logged) -> Result<Entry, Finding>,
    ) -> Result<Logged, Finding> {
        self.whole(|db| {
            let Some(was) = one(db, shot)? else {
                return Ok(Err(no_such_shot(db, shot)?));
            };
            if was.entry.taken_back {
                return Ok(Err(Finding::new(
                    "taken-back",
                    format!("shot {shot}"),
                    format!("shot {shot} was taken back"),
                    "log it again as a new shot",
                )));
            }
            let entry = match change(&was) {
                Ok(entry) => entry,
                Err(f) => return Ok(Err(f)),
            };
            let deed = Deed {
                act: next_act(db)?,
                undoes: None,
                now_ms,
                done,
                words,
            };
            write_version(db, shot, was.versions + 1, &deed, &entry)?;
            Ok(Ok(Logged {
                versions: was.versions + 1,
                entry,
                ..was
            }))
        })
    }

    /// Writes new versions of many shots as one act: all or none. False, and nothing written, where one of them was
    /// changed since it was looked at.
    ///
    /// # Errors
    /// `no-such-shot`, or a finding when they cannot be written; nothing is then.
    pub fn amend(&mut self, all: &[Amendment], done: &str, now_ms: i64) -> Result<bool, Finding> {
        self.whole(|db| {
            // All are looked at before the first is written.
            for change in all {
                match one(db, change.shot)? {
                    None => return Ok(Err(no_such_shot(db, change.shot)?)),
                    Some(was) if was.versions != change.versions => return Ok(Ok(false)),
                    Some(_) => {}
                }
            }
            let act = next_act(db)?;
            for change in all {
                let deed = Deed {
                    act,
                    undoes: None,
                    now_ms,
                    done,
                    words: &change.words,
                };
                write_version(db, change.shot, change.versions + 1, &deed, &change.entry)?;
            }
            Ok(Ok(true))
        })
    }

    /// Every shot as it stands, those taken back too, by session and time.
    ///
    /// # Errors
    /// A finding when the log cannot be read.
    pub fn current(&self) -> Result<Vec<Logged>, Finding> {
        let read = || -> rusqlite::Result<Vec<Logged>> {
            let mut all = self.db.prepare(&format!(
                "{NOW} ORDER BY (SELECT started_utc_ms FROM session WHERE id = s.session_id), s.session_id,
                 s.thrown_utc_ms, s.id"
            ))?;
            all.query_map([], logged)?.collect()
        };
        read().map_err(|e| self.trouble(&e))
    }

    /// The last shot typed in, if any stands.
    ///
    /// # Errors
    /// A finding when the log cannot be read.
    pub fn last(&self) -> Result<Option<Logged>, Finding> {
        self.newest("", [])
    }

    /// The last shot from a spot, if any stands.
    ///
    /// # Errors
    /// A finding when the log cannot be read.
    pub fn last_from(&self, spot: &str) -> Result<Option<Logged>, Finding> {
        self.newest("AND v.spot = ?1 COLLATE NOCASE", [spot])
    }

    fn newest<const N: usize>(&self, only: &str, with: [&str; N]) -> Result<Option<Logged>, Finding> {
        self.db
            .query_row(
                &format!(
                    "{NOW} AND v.taken_back = 0 {only} ORDER BY s.thrown_utc_ms DESC, s.id DESC LIMIT 1"
                ),
                rusqlite::params_from_iter(with),
                logged,
            )
            .optional()
            .map_err(|e| self.trouble(&e))
    }

    /// All versions of a shot, first to last.
    ///
    /// # Errors
    /// `no-such-shot`, or a finding when the log cannot be read.
    pub fn history(&self, shot: i64) -> Result<Vec<Version>, Finding> {
        let read = || -> rusqlite::Result<Vec<Version>> {
            self.db
                .prepare("SELECT * FROM shot_version WHERE shot_id = ?1 ORDER BY number")?
                .query_map([shot], |r| {
                    Ok(Version {
                        number: r.get("number")?,
                        written_utc_ms: r.get("written_utc_ms")?,
                        done: r.get("done")?,
                        words: r.get("words")?,
                        entry: Entry::from_row(r)?,
                    })
                })?
                .collect()
        };
        let all = read().map_err(|e| self.trouble(&e))?;
        if all.is_empty() {
            return Err(no_such_shot(&self.db, shot).map_err(|e| self.trouble(&e))?);
        }
        Ok(all)
    }
}

pub(super) fn no_such_shot(db: &Connection, shot: i64) -> rusqlite::Result<Finding> {
    let newest: Option<i64> = db.query_row("SELECT max(id) FROM shot", [], |r| r.get(0))?;
    Ok(Finding::new(
        "no-such-shot",
        format!("shot {shot}"),
        format!("there is no shot {shot}"),
        match newest {
            Some(n) => format!("the log has shots 1 to {n}: see `arcwright floor list`"),
            None => "the log is empty".to_string(),
        },
    ))
}

#[cfg(test)]
#[path = "shots_tests.rs"]
mod tests;
