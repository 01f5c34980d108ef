//! The colour order of a project, ready to be counted.

use super::Project;
use crate::feed::order::{self, OrderTask};
use crate::finding::Finding;

impl Project {
    /// Names of the colours and the task; nothing where no order is asked for.
    ///
    /// # Errors
    /// What is wrong with the texts of `[order]`: `bad-stock`, `unknown-colour`, `order-too-long`.
    pub fn order_task(&self) -> Result<Option<(Vec<String>, OrderTask)>, Finding> {
        let asked = &self.order;
        if asked.stock.is_empty() || asked.wanted.is_empty() {
            return Ok(None);
        }
        let order::Asked {
            names,
            stock_count,
            wanted,
        } = order::read(&asked.stock, &asked.wanted)?;
        let load_count = self.feed.map_or(self.limits.volley_count, |f| f.piece_count) as usize;
        if wanted.len() > load_count {
            return Err(Finding::new(
                "order-too-long",
                "order.wanted",
                format!(
                    "the order has {} pieces, and a load only {load_count}",
                    wanted.len()
                ),
                format!(
                    "ask for {load_count} at most, or write how many a load has: `limits.volley` or `feed.pieces`"
                ),
            ));
        }
        let task = OrderTask {
            stock_count,
            load_count,
            wanted,
            sensor_error_frac: asked.sensor_error_frac,
            aside_s: asked.aside_s,
            back_s: asked.back_s,
            turn_s: asked.turn_s,
        };
        Ok(Some((names, task)))
    }
}

/// Whatever is wrong with the texts of the order. One that no load can fill is no fault of the file: only who asks for the
/// order is told.
pub(super) fn check(project: &Project, out: &mut Vec<Finding>) {
    let asked = &project.order;
    if !asked.stock.is_empty()
        && !asked.wanted.is_empty()
        && let Err(finding) = order::read(&asked.stock, &asked.wanted)
    {
        out.push(finding);
    }
}
