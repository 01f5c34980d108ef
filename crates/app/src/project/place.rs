//! Places in a text.

use std::ops::Range;

/// A place in the file, with the line it stands in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Place {
    /// Name of the file as the user gave it.
    pub file: String,
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// How many characters are at fault on that line; 0 for a place between two characters.
    pub length: usize,
    /// The line, or the part of a very long one around the fault.
    pub line_text: String,
    /// Characters of the line before `line_text`; 0 but for a very long line.
    pub skipped: usize,
}

/// A longer line is kept in part only: nobody reads it and it may be megabytes.
const LONGEST_LINE_COUNT: usize = 400;
/// Characters kept before the fault in a line that long.
const BEFORE_COUNT: usize = 20;

impl Place {
    /// The place of some bytes of a text. Bytes outside the text are moved to its end.
    pub fn of(file: &str, text: &str, bytes: &Range<usize>) -> Place {
        let start = boundary(text, bytes.start);
        let end = boundary(text, bytes.end.max(bytes.start)).max(start);
        let before = text.get(..start).unwrap_or("");
        let line_start = before.rfind('\n').map_or(0, |n| n + 1);
        let rest = text.get(line_start..).unwrap_or("");
        let line_text = rest.split(['\n', '\r']).next().unwrap_or("");
        let at_fault = text
            .get(start..end)
            .unwrap_or("")
            .split(['\n', '\r'])
            .next()
            .unwrap_or("");
        let column = before.get(line_start..).unwrap_or("").chars().count() + 1;
        let is_long = line_text.chars().nth(LONGEST_LINE_COUNT).is_some();
        let skipped = if is_long {
            (column - 1).saturating_sub(BEFORE_COUNT)
        } else {
            0
        };
        Place {
            file: file.to_string(),
            line: before.matches('\n').count() + 1,
            column,
            length: at_fault.chars().count(),
            line_text: line_text.chars().skip(skipped).take(LONGEST_LINE_COUNT).collect(),
            skipped,
        }
    }
}

/// The nearest start of a character at or before a byte.
fn boundary(text: &str, byte: usize) -> usize {
    let mut at = byte.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}
