//! A usual piece or target in place of the one that is written.

use std::ops::Range;

use arcwright_model::finding::{Finding, nearest};
use arcwright_model::launcher::Layout;
use arcwright_model::project::change::change;
use arcwright_model::project::usual::{self, UsualPiece, UsualTarget, UsualValue};
use arcwright_model::project::{UnitSystem, schema, set};
use arcwright_model::units::{Dimension, show};

use super::edit::{Work, by_hand, revive};
use super::write::{Change, Rewritten, added, one, quoted, replace};

/// Begins a line that another piece had; such a line does not come back by itself.
const BEFORE: &str = "# before: ";

fn no_kind<'a>(what: &str, word: &str, all: impl Iterator<Item = &'a str> + Clone) -> Finding {
    let near = nearest(word, all.clone()).map_or(String::new(), |n| format!("did you mean `{n}`? "));
    let list: Vec<&str> = all.collect();
    Finding::new(
        "no-such-kind",
        what,
        format!("there is no kind of {what} called `{word}`"),
        format!("{near}the kinds are {}", list.join(", ")),
    )
}

/// The usual piece of a kind.
///
/// # Errors
/// `no-such-kind`.
pub(crate) fn usual_piece(kind: &str) -> Result<&'static UsualPiece, Finding> {
    usual::piece(kind).ok_or_else(|| no_kind("piece", kind, usual::PIECES.iter().map(|p| p.kind)))
}

/// The target of a kind.
///
/// # Errors
/// `no-such-kind`.
pub(crate) fn usual_target(kind: &str) -> Result<&'static UsualTarget, Finding> {
    usual::target(kind).ok_or_else(|| no_kind("target", kind, usual::TARGETS.iter().map(|t| t.kind)))
}

impl Work<'_> {
    pub(super) fn piece(&mut self, usual: &UsualPiece) -> Result<(), Finding> {
        let ours: Vec<String> = usual::PIECES
            .iter()
            .flat_map(|p| p.rows)
            .flat_map(|r| [UnitSystem::Metric, UnitSystem::Us].map(|u| usual_line(r, u)))
            .collect();
        let walked = self.look("piece")?;
        let mut keys: Vec<(Range<usize>, String)> = Vec::new();
        for entry in schema::entries().filter(|e| e.table() == "piece" && e.measure().is_some()) {
            if walked.places.whole(entry.key).is_some() {
                keys.push((self.lines(&walked, entry.key)?, entry.key.to_string()));
            }
        }
        keys.sort_by_key(|(lines, _)| std::cmp::Reverse(lines.start));
        for (lines, key) in keys {
            let raw = self.text.get(lines.clone()).unwrap_or("").trim().to_string();
            // What this wrote itself is nobody's measurement.
            if ours.contains(&raw) {
                self.drop_lines(lines);
            } else {
                self.retire(lines, BEFORE);
            }
            self.rewritten.push(Rewritten {
                key,
                before: Some(raw),
                after: String::new(),
            });
        }
        self.word("piece.kind", usual.kind)?;
        let walked = self.look("piece")?;
        let kind = self.lines(&walked, "piece.kind")?;
        let lead: String = self
            .text
            .get(kind.start..)
            .unwrap_or("")
            .chars()
            .take_while(|c| *c == ' ' || *c == '\t')
            .collect();
        let nl = self.line_break();
        let units = self.project.units;
        let passage: String = usual
            .rows
            .iter()
            .map(|r| format!("{nl}{lead}{}", usual_line(r, units)))
            .collect();
        self.text.insert_str(kind.end, &passage);
        self.squeeze(usual)
    }

    /// Another piece wants another gap: the usual squeeze of its kind.
    fn squeeze(&mut self, usual: &UsualPiece) -> Result<(), Finding> {
        let mut wanted = self.project.clone();
        let diameter = usual
            .rows
            .iter()
            .find(|r| r.key == "piece.diameter")
            .map_or(0.0, |r| r.value);
        set(&mut wanted, "piece.diameter", diameter);
        let squeeze = Change {
            key: "launcher.squeeze".into(),
            value_si: usual.squeeze_m(diameter, matches!(wanted.machine.layout, Layout::Pair(_))),
        };
        change(&mut wanted, &squeeze.key, squeeze.value_si)?;
        let done = one(&mut self.text, self.project, &wanted, &squeeze)?;
        self.touched.push(done.key.clone());
        self.rewritten.push(done);
        Ok(())
    }

    pub(super) fn target(&mut self, kind: &UsualTarget) -> Result<(), Finding> {
        const UPRIGHT: &str = "tilt = \"90 deg\"";
        self.word("target.shape", kind.shape)?;
        // What only the other kinds have goes; what this one had comes back.
        for (key, stays) in [
            ("target.depth", kind.shape == "rectangle"),
            ("target.back_wall", !kind.is_upright),
            ("target.side_walls", !kind.is_upright),
        ] {
            if stays {
                revive(&mut self.text, key);
            } else if self.look(key)?.places.whole(key).is_some() {
                self.unset(key)?;
            }
        }
        let walked = self.look("target")?;
        let there = walked.places.whole("target.tilt");
        match (kind.is_upright, there) {
            (true, Some(_)) => {
                let change = Change {
                    key: "target.tilt".into(),
                    value_si: std::f64::consts::FRAC_PI_2,
                };
                let done = one(&mut self.text, self.project, self.project, &change)?;
                self.rewritten.push(done);
            }
            (true, None) => {
                revive(&mut self.text, "target.tilt");
                let walked = self.look("target")?;
                let entry = schema::entry("target.tilt").ok_or_else(|| by_hand("target.tilt"))?;
                if let Some(bytes) = walked.places.value("target.tilt") {
                    replace(&mut self.text, bytes, "\"90 deg\"");
                } else {
                    let (at, passage) = added(&self.text, &walked, entry, 0, "\"90 deg\"")
                        .ok_or_else(|| by_hand("target.tilt"))?;
                    self.text.insert_str(at, &passage);
                }
            }
            (false, Some(_)) => {
                let lines = self.lines(&walked, "target.tilt")?;
                if self.text.get(lines.clone()).is_some_and(|t| t.trim() == UPRIGHT) {
                    self.drop_lines(lines);
                } else {
                    self.unset("target.tilt")?;
                }
            }
            (false, None) => {}
        }
        Ok(())
    }
}

/// A line of a usual piece: value, spread, and beside it the range with its source.
pub fn usual_line(row: &UsualValue, units: UnitSystem) -> String {
    let Some(entry) = row.entry() else {
        return String::new();
    };
    let (dimension, scale) = entry.measure().unwrap_or((Dimension::Number, show::Scale::Auto));
    let say = |v: f64| show::text(v, dimension, scale, units);
    let token = |v: f64| {
        if dimension.is_plain() {
            say(v)
        } else {
            quoted(&say(v))
        }
    };
    let value = if row.sd > 0.0 {
        format!("{{ value = {}, sd = {} }}", token(row.value), token(row.sd))
    } else {
        token(row.value)
    };
    let line = format!("{} = {value}", entry.name());
    format!(
        "{line:<50}  # usual: {} to {} ({}); measure yours",
        say(row.low),
        say(row.high),
        row.source
    )
}
