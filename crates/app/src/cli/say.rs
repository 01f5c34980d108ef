//! Standard output and error, and plain aligned tables.

use std::io::{ErrorKind, IsTerminal, Write};
use std::sync::atomic::{AtomicBool, Ordering};

use crate::tasks::tables::Table;
pub use crate::tasks::wrap::wrap;

/// Writes to standard output; a closed pipe (`arcwright check | head`) is not our problem. Anything else that keeps the text from
/// arriving, such as a full disk, is told, and [`was_lost`] knows.
pub fn out(text: &str) {
    let mut stream = std::io::stdout().lock();
    let done = stream.write_all(text.as_bytes()).and_then(|()| stream.flush());
    if let Err(e) = done
        && e.kind() != ErrorKind::BrokenPipe
        && !LOST.swap(true, Ordering::Relaxed)
    {
        err(&format!(
            "wrong input [not-written]: the answer could not be written: {e}\n  at  standard output\n  fix choose a file in a folder that exists and is writable, on a disk with room\n"
        ));
    }
}

static LOST: AtomicBool = AtomicBool::new(false);

/// Was something meant for standard output lost?
pub fn was_lost() -> bool {
    LOST.load(Ordering::Relaxed)
}

/// Writes to standard error.
pub fn err(text: &str) {
    let _ = std::io::stderr().lock().write_all(text.as_bytes());
}

static QUIET: AtomicBool = AtomicBool::new(false);

/// Shows no progress from now on.
pub fn be_quiet(yes: bool) {
    QUIET.store(yes, Ordering::Relaxed);
}

/// Is progress to be shown: to a person at a terminal who does not want quiet?
pub fn shows_progress() -> bool {
    std::io::stderr().is_terminal() && !is_quiet()
}

/// Is nothing to be said that was not asked for?
pub fn is_quiet() -> bool {
    QUIET.load(Ordering::Relaxed)
}

/// A name for a table: a long one ends in an ellipsis.
pub fn name(text: &str) -> String {
    const MOST: usize = 24;
    if text.chars().count() <= MOST {
        return text.to_string();
    }
    text.chars().take(MOST - 1).chain(['…']).collect()
}

/// A table in columns.
pub fn table(t: &Table) -> String {
    let head: Vec<&str> = t.head.iter().map(String::as_str).collect();
    columns(&head, &t.rows)
}

/// Columns padded to the widest cell, two spaces apart, no rules: reads well aloud and in a log.
pub fn columns(head: &[&str], rows: &[Vec<String>]) -> String {
    let width = |s: &str| s.chars().count();
    let mut widths: Vec<usize> = head.iter().map(|h| width(h)).collect();
    for row in rows {
        for (w, cell) in widths.iter_mut().zip(row) {
            *w = (*w).max(width(cell));
        }
    }
    let line = |cells: &[String]| {
        let mut s = String::from(" ");
        for (cell, w) in cells.iter().zip(&widths) {
            s.push(' ');
            s.push_str(cell);
            s.extend(std::iter::repeat_n(' ', w.saturating_sub(width(cell)) + 1));
        }
        format!("{}\n", s.trim_end())
    };
    let head: Vec<String> = head.iter().map(|h| (*h).to_string()).collect();
    let mut text = if head.iter().all(String::is_empty) {
        String::new()
    } else {
        line(&head)
    };
    for row in rows {
        text.push_str(&line(row));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_name_is_cut_between_letters_and_a_short_one_is_kept() {
        assert_eq!(name("far"), "far");
        let long = name(&"ü".repeat(300));
        assert_eq!(long.chars().count(), 24);
        assert!(long.ends_with('…'));
    }
}
