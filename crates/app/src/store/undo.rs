//! Taking back what was done to the log: by adding versions that say what was held before it.

use arcwright_model::finding::Finding;
use rusqlite::{Transaction, params};

use super::Store;
use super::entry::Entry;
use super::shots::{Deed, Undone, next_act, no_such_shot, write_version};

impl Store {
    /// Takes back the last act that still stands: a shot, an edit, a whole import. Empty where nothing is left to take
    /// back.
    ///
    /// # Errors
    /// A finding when it cannot be written.
    pub fn undo(&mut self, now_ms: i64) -> Result<Vec<Undone>, Finding> {
        self.whole(|db| {
            let last: Option<i64> = db.query_row(
                "SELECT max(act) FROM shot_version WHERE undoes_act IS NULL
                 AND act NOT IN (SELECT undoes_act FROM shot_version WHERE undoes_act IS NOT NULL)",
                [],
                |r| r.get(0),
            )?;
            last.map_or(Ok(Vec::new()), |act| take_back(db, act, now_ms))
                .map(Ok)
        })
    }

    /// Takes back that one shot was logged, whatever was logged after it.
    ///
    /// # Errors
    /// `no-such-shot`; `changed-since` where something was done to the shot after it was logged, or where it came with
    /// others; a finding when it cannot be written.
    pub fn undo_shot(&mut self, shot: i64, now_ms: i64) -> Result<Vec<Undone>, Finding> {
        self.whole(|db| {
            let (first, versions): (Option<i64>, u32) = db.query_row(
                "SELECT min(act), count(*) FROM shot_version WHERE shot_id = ?1",
                [shot],
                |r| Ok((r.get(0)?, r.get(1)?)),
            )?;
            let Some(first) = first else {
                return Ok(Err(no_such_shot(db, shot)?));
            };
            let together: u32 =
                db.query_row("SELECT count(*) FROM shot_version WHERE act = ?1", [first], |r| {
                    r.get(0)
                })?;
            if versions > 1 || together > 1 {
                return Ok(Err(Finding::new(
                    "changed-since",
                    format!("shot {shot}"),
                    format!("shot {shot} is no longer as it was logged"),
                    format!("see what was done to it with `arcwright floor list --history {shot}`"),
                )));
            }
            take_back(db, first, now_ms).map(Ok)
        })
    }
}

/// Writes for each version of an act one that says what was held before.
fn take_back(db: &Transaction, last: i64, now_ms: i64) -> rusqlite::Result<Vec<Undone>> {
    let mut find = db.prepare("SELECT shot_id, number, done FROM shot_version WHERE act = ?1 ORDER BY id")?;
    let acted: Vec<(i64, u32, String)> = find
        .query_map([last], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?)))?
        .collect::<rusqlite::Result<_>>()?;
    let act = next_act(db)?;
    let mut out = Vec::new();
    for (shot, number, done) in acted {
        let (from, taken_back) = if number == 1 {
            (1, true)
        } else {
            (number - 1, false)
        };
        let mut entry = db.query_row(
            "SELECT * FROM shot_version WHERE shot_id = ?1 AND number = ?2",
            params![shot, from],
            Entry::from_row,
        )?;
        entry.taken_back |= taken_back;
        let newest: u32 = db.query_row(
            "SELECT max(number) FROM shot_version WHERE shot_id = ?1",
            [shot],
            |r| r.get(0),
        )?;
        let deed = Deed {
            act,
            undoes: Some(last),
            now_ms,
            done: "undone",
            words: "",
        };
        write_version(db, shot, newest + 1, &deed, &entry)?;
        out.push(Undone {
            id: shot,
            done,
            entry,
        });
    }
    Ok(out)
}
