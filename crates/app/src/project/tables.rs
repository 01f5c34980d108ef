//! Whole tables of the project file that come and go, and answers of yes or no.

use arcwright_model::finding::Finding;
use arcwright_model::project::schema::{self, Entry, Key, Kind};

use super::edit::{Work, by_hand, not_there, revive};
use super::walk::Walked;
use super::write::{Change, Rewritten, added, fresh_token, line_end, line_start, replace, with_table};

fn entry_of(key: &str) -> Result<(Key, &'static Entry), Finding> {
    let parsed = Key::parse(key);
    let entry = parsed.as_ref().and_then(|k| schema::entry(&k.pattern));
    match (parsed, entry) {
        (Some(parsed), Some(entry)) => Ok((parsed, entry)),
        _ => Err(Finding::new(
            "unknown-key",
            key,
            format!("no key is called `{key}`"),
            "docs/project-file.md lists them",
        )),
    }
}

impl Work<'_> {
    /// Yes or no, where it stands or as a new line.
    pub(super) fn flag(&mut self, key: &str, yes: bool) -> Result<(), Finding> {
        let (parsed, entry) = entry_of(key)?;
        if !matches!(entry.kind, Kind::Flag(_)) {
            return Err(Finding::new(
                "wrong-type",
                key,
                format!("`{key}` is no question of yes or no"),
                "send a value with its unit",
            ));
        }
        revive(&mut self.text, key);
        let walked = self.look(key)?;
        let token = yes.to_string();
        let bytes = walked.places.value(key);
        let before = bytes.clone().and_then(|b| Some(self.text.get(b)?.to_string()));
        match bytes {
            Some(bytes) => replace(&mut self.text, bytes, &token),
            None => {
                let (at, passage) =
                    added(&self.text, &walked, entry, parsed.index, &token).ok_or_else(|| by_hand(key))?;
                self.text.insert_str(at, &passage);
            }
        }
        self.rewritten.push(Rewritten {
            key: key.to_string(),
            before,
            after: token,
        });
        Ok(())
    }

    /// A table that is not there, behind those that come before it.
    pub(super) fn add_table(
        &mut self,
        table: &str,
        values: &[Change],
        flags: &[String],
    ) -> Result<(), Finding> {
        let walked = self.look(table)?;
        if walked.places.table(table).is_some() {
            return Err(Finding::new(
                "already-there",
                table,
                format!("the file has a [{table}] already"),
                "change the values that stand there",
            ));
        }
        let mut lines: Vec<(&'static Entry, String)> = Vec::new();
        for c in values {
            let (_, entry) = entry_of(&c.key)?;
            let token = fresh_token(entry, c.value_si, self.project).ok_or_else(|| by_hand(&c.key))?;
            lines.push((entry, token));
        }
        for key in flags {
            lines.push((entry_of(key)?.1, "true".to_string()));
        }
        if !lines.iter().all(|(e, _)| e.table() == table) {
            return Err(by_hand(table));
        }
        self.lay_table(&walked, &lines).ok_or_else(|| by_hand(table))?;
        for (entry, token) in lines {
            self.rewritten.push(Rewritten {
                key: entry.key.to_string(),
                before: None,
                after: token,
            });
        }
        Ok(())
    }

    /// Puts a table that is not there behind those that come before it, with these lines.
    pub(super) fn lay_table(&mut self, walked: &Walked, lines: &[(&'static Entry, String)]) -> Option<()> {
        let ((first, token), rest) = lines.split_first()?;
        let nl = self.line_break();
        let rest = rest
            .iter()
            .map(|(e, token)| format!("{nl}{} = {token}", e.name()));
        let rest: String = rest.collect();
        let (at, passage) = with_table(&self.text, walked, first, &format!("{token}{rest}"))?;
        self.text.insert_str(at, &passage);
        Some(())
    }

    /// A table with a head of its own becomes remarks, from its head to its last key.
    pub(super) fn retire_table(&mut self, table: &str) -> Result<(), Finding> {
        let walked = self.look(table)?;
        let head = walked.places.table(table).ok_or_else(|| not_there(table))?;
        if !self.text.get(head.clone()).is_some_and(|t| t.starts_with('[')) {
            return Err(by_hand(table));
        }
        let keys: Vec<&'static Entry> = schema::entries().filter(|e| e.table() == table).collect();
        let last = keys
            .iter()
            .filter_map(|e| walked.places.whole(e.key))
            .map(|w| w.end)
            .fold(head.end, usize::max);
        let lines = line_start(&self.text, head.start)..line_end(&self.text, last);
        for e in keys {
            if let Some(raw) = walked.places.value(e.key).and_then(|b| self.text.get(b)) {
                self.rewritten.push(Rewritten {
                    key: e.key.to_string(),
                    before: Some(raw.to_string()),
                    after: String::new(),
                });
            }
        }
        self.retire(lines, "# ");
        Ok(())
    }
}
