//! Sessions: one afternoon at the practice floor each.

use arcwright_model::finding::Finding;
use rusqlite::{Connection, OptionalExtension, TransactionBehavior, params};

use super::Store;

/// A shot this long after the last one begins a new session: four hours.
pub const SESSION_GAP_MS: i64 = 4 * 3600 * 1000;

/// A session.
#[derive(Clone, Debug, PartialEq)]
pub struct Session {
    /// Number.
    pub id: i64,
    /// When it began, milliseconds UTC.
    pub started_utc_ms: i64,
    /// Name; may be empty.
    pub name: String,
    /// Remarks in the order written.
    pub remarks: Vec<String>,
}

/// The session that a shot thrown now belongs to, if the last one is not over.
pub(super) fn present(db: &Connection, now_ms: i64) -> rusqlite::Result<Option<i64>> {
    let last = db
        .query_row(
            "SELECT id, max(started_utc_ms,
                coalesce((SELECT max(thrown_utc_ms) FROM shot WHERE session_id = session.id AND time_known = 1), 0))
                AS lately
             FROM session ORDER BY lately DESC, id DESC LIMIT 1",
            [],
            |r| Ok((r.get::<_, i64>(0)?, r.get::<_, i64>(1)?)),
        )
        .optional()?;
    // A clock that was set back leaves the last shot in the future; that is no new session either.
    Ok(last
        .filter(|(_, lately)| now_ms.saturating_sub(*lately).saturating_abs() <= SESSION_GAP_MS)
        .map(|(id, _)| id))
}

pub(super) fn begin(db: &Connection, started_ms: i64, name: &str) -> rusqlite::Result<i64> {
    db.execute(
        "INSERT INTO session (started_utc_ms, name) VALUES (?1, ?2)",
        params![started_ms, name],
    )?;
    Ok(db.last_insert_rowid())
}

impl Store {
    /// Begins a session with a name.
    ///
    /// # Errors
    /// A finding when it cannot be written.
    pub fn begin_session(&mut self, name: &str, now_ms: i64) -> Result<i64, Finding> {
        let work = || -> rusqlite::Result<i64> {
            let work = self
                .db
                .transaction_with_behavior(TransactionBehavior::Immediate)?;
            let id = begin(&work, now_ms, name)?;
            work.commit()?;
            Ok(id)
        };
        let mut work = work;
        work().map_err(|e| self.trouble(&e))
    }

    /// Adds a remark to a session.
    ///
    /// # Errors
    /// `no-such-session`, or a finding when it cannot be written.
    pub fn remark(&mut self, session: i64, remark: &str, now_ms: i64) -> Result<(), Finding> {
        if !self.sessions()?.iter().any(|s| s.id == session) {
            return Err(self.no_such_session(session));
        }
        self.db
            .execute(
                "INSERT INTO session_remark (session_id, written_utc_ms, remark) VALUES (?1, ?2, ?3)",
                params![session, now_ms, remark],
            )
            .map_err(|e| self.trouble(&e))?;
        Ok(())
    }

    /// The session that a shot thrown now would belong to.
    ///
    /// # Errors
    /// A finding when the log cannot be read.
    pub fn present_session(&self, now_ms: i64) -> Result<Option<i64>, Finding> {
        present(&self.db, now_ms).map_err(|e| self.trouble(&e))
    }

    /// All sessions, first to last by when they began.
    ///
    /// # Errors
    /// A finding when the log cannot be read.
    pub fn sessions(&self) -> Result<Vec<Session>, Finding> {
        let read = || -> rusqlite::Result<Vec<Session>> {
            let mut all = self
                .db
                .prepare("SELECT id, started_utc_ms, name FROM session ORDER BY started_utc_ms, id")?;
            let mut remarks = self
                .db
                .prepare("SELECT remark FROM session_remark WHERE session_id = ?1 ORDER BY id")?;
            let rows = all.query_map([], |r| {
                Ok(Session {
                    id: r.get(0)?,
                    started_utc_ms: r.get(1)?,
                    name: r.get(2)?,
                    remarks: Vec::new(),
                })
            })?;
            rows.map(|row| {
                let mut session = row?;
                session.remarks = remarks
                    .query_map([session.id], |r| r.get(0))?
                    .collect::<rusqlite::Result<_>>()?;
                Ok(session)
            })
            .collect()
        };
        read().map_err(|e| self.trouble(&e))
    }

    /// There is no session with that number.
    pub fn no_such_session(&self, session: i64) -> Finding {
        let have: Vec<String> = self
            .sessions()
            .unwrap_or_default()
            .iter()
            .map(|s| s.id.to_string())
            .collect();
        Finding::new(
            "no-such-session",
            format!("session {session}"),
            format!("there is no session {session}"),
            if have.is_empty() {
                "log a shot first: it begins session 1".to_string()
            } else {
                format!("use one of: {}", have.join(", "))
            },
        )
    }
}
