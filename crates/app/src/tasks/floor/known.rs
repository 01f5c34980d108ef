//! Whether a row of a table is in the log already.

use std::collections::{BTreeMap, BTreeSet};

use super::columns::Column as C;
use super::import::Fate;
use super::time::Moment;
use crate::store::{Entry, Logged};

/// What the log holds, for telling whether a row is there already: by time and by everything that
/// the table says.
pub(super) struct Known {
    provided: BTreeSet<C>,
    /// By values: shots of the log not yet matched, and their time if it was known.
    there: BTreeMap<String, Vec<(i64, Option<i64>)>>,
    /// By values: moments and lines of this table.
    seen: BTreeMap<String, Vec<(Moment, u64)>>,
}

impl Known {
    pub fn of(existing: &[Logged], provided: &BTreeSet<C>) -> Known {
        let mut out = Known {
            provided: provided.clone(),
            there: BTreeMap::new(),
            seen: BTreeMap::new(),
        };
        for l in existing.iter().filter(|l| !l.entry.taken_back) {
            let values = out.values(&l.entry);
            let time = l.time_known.then_some(l.thrown_utc_ms);
            out.there.entry(values).or_default().push((l.id, time));
        }
        out
    }

    /// Everything that the table says, as text: numbers to nine digits.
    fn values(&self, e: &Entry) -> String {
        let mut out = String::new();
        for c in &self.provided {
            match c.dimension() {
                Some(_) => out.push_str(&c.get(e).map_or("-".into(), |v| format!("{:.8e}", v + 0.0))),
                None => out.push_str(&c.text(e)),
            }
            out.push('\u{1f}');
        }
        out
    }

    pub fn fate(&mut self, e: &Entry, moment: Option<Moment>, line: u64) -> Fate {
        let values = self.values(e);
        let same = |stored: Option<i64>| match (moment, stored) {
            (None, None) => true,
            (Some(m), Some(s)) => s.div_euclid(m.to_ms) == m.utc_ms.div_euclid(m.to_ms),
            _ => false,
        };
        // A time to the minute does not tell two throws apart; to the second it does.
        const FINE_MS: i64 = 1000;
        if let Some(m) = moment.filter(|m| m.to_ms <= FINE_MS) {
            let seen = self.seen.entry(values.clone()).or_default();
            if let Some((_, first)) = seen.iter().find(|(other, _)| other.utc_ms == m.utc_ms) {
                return Fate::Twice(*first);
            }
            seen.push((m, line));
        }
        let there = self.there.entry(values).or_default();
        match there.iter().position(|(_, time)| same(*time)) {
            Some(i) => Fate::There(there.swap_remove(i).0),
            None => Fate::Take,
        }
    }
}
