//! A table from outside: bytes to rows, whichever separator, mark of decimals and encoding it has.

use arcwright_model::finding::Finding;

/// A table longer than this (bytes) is no log of shots. Physical.
pub const LONGEST_TABLE: u64 = 50_000_000;

/// A table as text.
pub struct Table {
    /// Heads of the columns.
    pub heads: Vec<String>,
    /// Rows with the line they begin on.
    pub rows: Vec<(u64, Vec<String>)>,
    /// Commas are decimal marks, because something else separates the cells.
    pub decimal_comma: bool,
}

fn bad(what: String, fix: &str) -> Finding {
    Finding::new("bad-table", "table", what, fix)
}

/// Reads a table.
///
/// # Errors
/// `bad-table` where it is none.
pub fn read(bytes: &[u8]) -> Result<Table, Finding> {
    const SAVE: &str = "save it from the spreadsheet as CSV (comma separated, UTF-8)";
    if bytes.starts_with(b"PK\x03\x04") || bytes.starts_with(&[0xd0, 0xcf, 0x11, 0xe0]) {
        return Err(bad("it is a spreadsheet's own file, not CSV".into(), SAVE));
    }
    if bytes.contains(&0) {
        return Err(bad("it is no text".into(), SAVE));
    }
    let bytes = bytes.strip_prefix("\u{feff}".as_bytes()).unwrap_or(bytes);
    // Older spreadsheets write one byte a letter.
    let text = match std::str::from_utf8(bytes) {
        Ok(text) => text.to_string(),
        Err(_) => bytes.iter().map(|b| char::from(*b)).collect(),
    };
    let first = text.lines().find(|l| !l.trim().is_empty()).unwrap_or("");
    let count = |mark: char| first.matches(mark).count();
    let mark = [',', ';', '\t']
        .into_iter()
        .max_by_key(|m| (count(*m), *m == ','))
        .unwrap_or(',');
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(mark as u8)
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let mut heads = Vec::new();
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|e| bad(format!("a row cannot be read: {e}"), SAVE))?;
        // The reader stands before empty lines that it skips.
        let line = record.position().map_or(0, |p| {
            let from = usize::try_from(p.byte()).unwrap_or(usize::MAX);
            let skipped = text.bytes().skip(from).take_while(|b| matches!(b, b'\n' | b'\r'));
            p.line() + skipped.filter(|b| *b == b'\n').count() as u64
        });
        let cells: Vec<String> = record.iter().map(str::to_string).collect();
        if cells.iter().all(String::is_empty) {
            continue;
        }
        if heads.is_empty() {
            heads = cells;
        } else {
            rows.push((line, cells));
        }
    }
    if heads.is_empty() {
        return Err(bad(
            "it is empty".into(),
            "choose a table with a row of heads and a row for each shot",
        ));
    }
    if rows.is_empty() {
        return Err(bad(
            "it has a row of heads and no shots, or no row of heads".into(),
            "the first row names the columns, such as: time, spot, rpm, outcome",
        ));
    }
    Ok(Table {
        heads,
        rows,
        decimal_comma: mark != ',',
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn semicolons_tabs_and_old_letters_are_read() {
        let t = read(b"spot;landing (m)\nfar;4,21\n").unwrap_or_else(|e| panic!("{e:?}"));
        assert_eq!(t.heads, ["spot", "landing (m)"]);
        assert!(t.decimal_comma);
        let t = read(b"\xef\xbb\xbfspot\tnote\n\nfar\tna\xefve\n").unwrap_or_else(|e| panic!("{e:?}"));
        assert_eq!(t.rows, [(3, vec!["far".to_string(), "naïve".to_string()])]);
        assert!(
            !read(b"spot,note\nfar,\"a, b\"\n")
                .unwrap_or_else(|e| panic!("{e:?}"))
                .decimal_comma
        );
    }

    #[test]
    fn what_is_no_table_is_refused() {
        for bytes in [&b""[..], b"\n\n", b"PK\x03\x04abc", b"spot\n", b"a\0b\n1,2\n"] {
            assert!(read(bytes).is_err(), "{bytes:?}");
        }
    }
}
