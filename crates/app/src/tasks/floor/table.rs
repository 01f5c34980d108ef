//! A table of shots from outside, as rows of text.

use arcwright_model::finding::Finding;

use super::separated::{self, NoTable};

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
    let all = separated::read(bytes, false).map_err(|why| match why {
        NoTable::Spreadsheet => bad("it is a spreadsheet's own file, not CSV".into(), SAVE),
        NoTable::NoText => bad("it is no text".into(), SAVE),
        NoTable::Broken(how) => bad(format!("a row cannot be read: {how}"), SAVE),
        NoTable::Empty => bad(
            "it is empty".into(),
            "choose a table with a row of heads and a row for each shot",
        ),
    })?;
    let cells = |r: &csv::StringRecord| -> Vec<String> { r.iter().map(str::to_string).collect() };
    let heads = all.records.first().map(cells).unwrap_or_default();
    let rows: Vec<(u64, Vec<String>)> = all
        .records
        .iter()
        .skip(1)
        .map(|r| (all.line(r), cells(r)))
        .collect();
    if rows.is_empty() {
        return Err(bad(
            "it has a row of heads and no shots, or no row of heads".into(),
            "the first row names the columns, such as: time, spot, rpm, outcome",
        ));
    }
    Ok(Table {
        heads,
        rows,
        decimal_comma: all.decimal_comma,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn heads_and_rows_are_told_apart() {
        let t = read(b"spot;landing (m)\n\nfar;4,21\n").unwrap_or_else(|e| panic!("{e:?}"));
        assert_eq!(t.heads, ["spot", "landing (m)"]);
        assert!(t.decimal_comma);
        assert_eq!(t.rows, [(3, vec!["far".to_string(), "4,21".to_string()])]);
        let t = read(b"spot,note\nfar,\"a, b\"\n").unwrap_or_else(|e| panic!("{e:?}"));
        assert!(!t.decimal_comma);
    }

    #[test]
    fn what_is_no_table_is_refused() {
        for bytes in [&b""[..], b"\n\n", b"PK\x03\x04abc", b"spot\n", b"a\0b\n1,2\n"] {
            assert!(read(bytes).is_err(), "{bytes:?}");
        }
    }
}
