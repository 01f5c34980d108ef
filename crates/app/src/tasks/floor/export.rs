//! The log as a table (CSV): every column, SI, and the project's unit beside it where it is another.

use arcwright_model::finding::Finding;
use arcwright_model::project::Project;
use arcwright_model::units::{self, Dimension};

use super::columns::{ALL, Column, users_unit};
use super::{separated, time};
use crate::store::Store;

/// SI value of one of a unit.
fn size(unit: &str, d: Dimension) -> f64 {
    units::parse(&format!("1 {unit}"), d).unwrap_or(1.0)
}

/// Rounding: digits that a person reads in a column of the project's unit.
fn shown(x: f64) -> String {
    const DIGITS: f64 = 1e6;
    format!("{}", (x * DIGITS).round() / DIGITS)
}

/// The table, and how many shots are in it. Shots taken back are not.
///
/// # Errors
/// A finding when the log cannot be read.
pub fn table(project: &Project, store: &Store) -> Result<(String, usize), Finding> {
    let sessions = store.sessions()?;
    let mut rows: Vec<Vec<String>> = Vec::new();
    let mut head = Vec::new();
    for (column, name, _, d) in ALL.iter().filter(|a| a.0 != Column::Day) {
        let name = if *column == Column::Time {
            "time (UTC)"
        } else {
            name
        };
        match d {
            None => head.push(name.to_string()),
            Some(d) => {
                head.push(format!("{name} ({})", d.si()));
                let own = users_unit(project, *d);
                if own != d.si() {
                    head.push(format!("{name} ({own})"));
                }
            }
        }
    }
    rows.push(head);
    let mut count = 0;
    for l in store.current()?.iter().filter(|l| !l.entry.taken_back) {
        count += 1;
        let mut row = Vec::new();
        for (column, _, _, d) in ALL.iter().filter(|a| a.0 != Column::Day) {
            let Some(d) = d else {
                row.push(match column {
                    Column::Shot => l.id.to_string(),
                    Column::Session => l.session.to_string(),
                    Column::SessionName => sessions
                        .iter()
                        .find(|s| s.id == l.session)
                        .map_or(String::new(), |s| s.name.clone()),
                    Column::Time if l.time_known => time::utc(l.thrown_utc_ms),
                    Column::Words => l.words.clone(),
                    other => other.text(&l.entry),
                });
                continue;
            };
            let value = column.get(&l.entry);
            row.push(value.map_or(String::new(), |v| format!("{v}")));
            let own = users_unit(project, *d);
            if own != d.si() {
                row.push(value.map_or(String::new(), |v| shown(v / size(own, *d))));
            }
        }
        rows.push(row);
    }
    let text = separated::written(&rows)?;
    Ok((text, count))
}
