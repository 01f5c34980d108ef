//! A table of numbers from a text file of separated values.

use std::path::Path;

use arcwright_model::finding::Finding;

use super::separated::{self, NoTable};

/// Physical: a file larger than this is no log of a practice.
const MOST_BYTES: u64 = 400_000_000;

/// A table: names of the columns and their numbers; a cell that holds none is `NAN`.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    /// Names as in the file.
    pub names: Vec<String>,
    /// Columns of equal length.
    pub columns: Vec<Vec<f64>>,
    /// What was left out and why, in words.
    pub notes: Vec<String>,
}

fn refuse(code: &'static str, path: &str, what: impl Into<String>, fix: &str) -> Finding {
    Finding::new(code, path, what, fix)
}

/// Reads a file.
///
/// # Errors
/// A file that cannot be read or is no table.
pub fn read(path: &Path) -> Result<Table, Finding> {
    let shown = path.display().to_string();
    let size = std::fs::metadata(path).map(|m| m.len()).unwrap_or(0);
    if size > MOST_BYTES {
        return Err(refuse(
            "table-large",
            &shown,
            format!("the file has {} MB", size / 1_000_000),
            "cut out the minutes of the volley and read those",
        ));
    }
    let bytes = std::fs::read(path).map_err(|e| {
        refuse(
            "table-unread",
            &shown,
            format!("could not read it: {e}"),
            "check the name of the file and the folder you are in",
        )
    })?;
    parse(&bytes, &shown)
}

/// Reads the bytes of a file; `shown` names it in messages.
///
/// Separated by commas, semicolons or tabs, whichever the first line holds most of; with semicolons or tabs a comma
/// may stand for the decimal point. Lines that begin with `#` are left out. A last line that was cut off is left
/// out and said.
///
/// # Errors
/// No text, no header, one column, no numbers.
pub fn parse(bytes: &[u8], shown: &str) -> Result<Table, Finding> {
    let export = "export it as CSV: a line of column names, then one row of numbers per line";
    let all = separated::read(bytes, true).map_err(|why| match why {
        NoTable::Spreadsheet | NoTable::NoText => {
            refuse("table-not-text", shown, "the file is not text", export)
        }
        NoTable::Empty => refuse("table-empty", shown, "the file is empty", export),
        NoTable::Broken(how) => refuse("table-broken", shown, how, export),
    })?;
    let (decimal_comma, ends) = (all.decimal_comma, all.ends);
    let number = |cell: &str| read_number(cell, decimal_comma);
    let mut rows = all.records.into_iter();
    let Some(header) = rows.next() else {
        return Err(refuse("table-empty", shown, "the file holds no row", export));
    };
    let mut rows: Vec<csv::StringRecord> = rows.collect();
    let names: Vec<String> = header.iter().map(str::to_string).collect();
    if names.len() < 2 {
        return Err(refuse(
            "table-one-column",
            shown,
            format!(
                "there is one column, `{}`; a time and something measured are needed",
                short(&names)
            ),
            "separate the columns by commas, semicolons or tabs, and export the time as well",
        ));
    }
    if names.iter().all(|n| number(n).is_some()) {
        return Err(refuse(
            "table-no-header",
            shown,
            "the first line holds numbers, not the names of the columns",
            "put a line with names and units first, such as: time (s), wheel (rpm), battery (V)",
        ));
    }
    let mut notes = Vec::new();
    let cut = rows
        .last()
        .is_some_and(|last| is_cut(last, &rows, names.len(), ends, &number));
    if cut {
        rows.pop();
        notes.push("the last line is cut off and is left out; all lines before it are whole".to_string());
    }
    let short_rows = rows.iter().filter(|r| r.len() < names.len()).count();
    if short_rows > 0 {
        notes.push(format!(
            "{short_rows} lines have fewer cells than there are columns"
        ));
    }
    let columns: Vec<Vec<f64>> = (0..names.len())
        .map(|i| {
            let cell = |r: &csv::StringRecord| r.get(i).and_then(number).unwrap_or(f64::NAN);
            rows.iter().map(cell).collect()
        })
        .collect();
    if !columns.iter().flatten().any(|x| x.is_finite()) {
        return Err(refuse(
            "table-no-numbers",
            shown,
            format!("below the first line ({}) stands no number", short(&names)),
            export,
        ));
    }
    Ok(Table {
        names,
        columns,
        notes,
    })
}

/// The first names, for a message.
fn short(names: &[String]) -> String {
    let all = names.join(", ");
    let mut cut: String = all.chars().filter(|c| !c.is_control()).take(60).collect();
    if cut.len() < all.len() {
        cut.push('…');
    }
    cut
}

/// Was writing stopped within the last line? It has too few cells, or no end of line and a cell shorter than any
/// other of its column or that is no number where all others are.
fn is_cut(
    last: &csv::StringRecord,
    rows: &[csv::StringRecord],
    columns: usize,
    ends: bool,
    number: &impl Fn(&str) -> Option<f64>,
) -> bool {
    if ends {
        return false;
    }
    if last.len() < columns {
        return true;
    }
    let own = last.get(columns - 1).unwrap_or("");
    let others = || rows.iter().rev().skip(1).filter_map(|r| r.get(columns - 1));
    let shortest = others().map(str::len).min();
    shortest.is_some_and(|s| own.len() < s)
        || (number(own).is_none() && others().all(|c| number(c).is_some()))
}

/// A number: with a decimal point, or comma where it does not separate; `true` and `false` are 1 and 0.
fn read_number(cell: &str, decimal_comma: bool) -> Option<f64> {
    let cell = cell.trim().trim_matches('"').trim();
    if let Ok(x) = cell.parse::<f64>() {
        return Some(x).filter(|x| x.is_finite());
    }
    match cell {
        "true" | "True" | "TRUE" => Some(1.0),
        "false" | "False" | "FALSE" => Some(0.0),
        _ if decimal_comma => separated::pointed(cell, true)
            .parse()
            .ok()
            .filter(|x: &f64| x.is_finite()),
        _ => None,
    }
}
