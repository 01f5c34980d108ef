//! Tables of the frame and the season that a file does not have yet, or one more of a list.

use arcwright_model::finding::Finding;
use arcwright_model::project::schema::{self, Entry, Need, with_index};

use super::edit::{Work, by_hand};
use super::write::Rewritten;

impl Work<'_> {
    /// A table with what it must have, each key at the example of the schema.
    pub(super) fn begin_table(&mut self, table: &str) -> Result<(), Finding> {
        let is_ours = table.starts_with("frame") || table.starts_with("season");
        let Some(known) = schema::table(table).filter(|_| is_ours) else {
            return Err(Finding::new(
                "unknown-table",
                table,
                format!("no table of the frame or the season is called `{table}`"),
                "docs/project-file.md lists them",
            ));
        };
        let index = if table.contains("[]") {
            schema::places(self.project, table)
        } else {
            0
        };
        let path = with_index(known.pattern, index);
        let walked = self.look(&path)?;
        if walked.places.table(&path).is_some() {
            return Err(Finding::new(
                "not-written",
                table,
                format!("the file has [{table}] already"),
                "change its lines",
            ));
        }
        let lines: Vec<(&'static Entry, String)> = schema::entries()
            .filter(|e| e.table() == known.pattern && matches!(e.need, Need::Required))
            .filter(|e| e.when.holds(self.project, index))
            .map(|e| (e, e.example.to_string()))
            .collect();
        self.lay_table(&walked, &lines).ok_or_else(|| by_hand(&path))?;
        for (entry, after) in lines {
            let key = with_index(entry.key, index);
            self.touched.push(key.clone());
            self.rewritten.push(Rewritten {
                key,
                before: None,
                after,
            });
        }
        Ok(())
    }
}
