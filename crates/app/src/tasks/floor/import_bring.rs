//! An import in words, and the taking.

use std::path::Path;

use arcwright_model::finding::Finding;
use arcwright_model::project::Project;
use arcwright_model::units::Dimension as D;

use super::import::{Options, Plan, Row, Taken, plan};
use super::{Floor, table, tell, time};
use crate::store;

impl Row {
    /// The shot in a line; empty where it could not be read.
    pub fn words(&self, project: &Project) -> String {
        self.entry.as_ref().map_or(String::new(), |e| {
            let besides = tell::besides(project, e);
            format!(
                "{}, {}: {}{}{besides}",
                tell::place(project, e),
                project.say(e.setpoint_radps, D::AngularSpeed),
                tell::seen(project, e),
                if besides.is_empty() { "" } else { "; " }
            )
        })
    }
}

impl Taken {
    /// What the column is taken for.
    pub fn words(&self) -> String {
        match &self.ours {
            None => "not taken".to_string(),
            Some(h) => match &h.unit {
                Some(u) => format!("{} in {u}", h.column.name()),
                None => match h.column.unsaid_unit() {
                    Some(u) => format!("{} in {u}, where a cell has no unit", h.column.name()),
                    None => h.column.name().to_string(),
                },
            },
        }
    }
}

/// Looks at the bytes of a table, and with `apply` takes what the look shows into the log; the numbers of the new shots.
///
/// # Errors
/// As [`plan`], or a finding when the log cannot be read or written.
pub fn bring(
    floor: &Floor,
    log: &Path,
    bytes: &[u8],
    options: &Options,
    apply: bool,
) -> Result<(Plan, Vec<i64>), Finding> {
    let now = time::now_ms();
    let table = table::read(bytes)?;
    let before = store::open_to_read(log)?;
    let first = plan(floor, before.as_ref(), &table, options, now)?;
    if !apply || first.batches.is_empty() {
        return Ok((first, Vec::new()));
    }
    drop(before);
    // Another program may log meanwhile: then it is looked at again.
    let mut store = store::open(log)?;
    loop {
        let act = store.last_act()?;
        let found = plan(floor, Some(&store), &table, options, now)?;
        if let Some(taken) = store.bring_in(&found.batches, act, now)? {
            return Ok((found, taken));
        }
    }
}
