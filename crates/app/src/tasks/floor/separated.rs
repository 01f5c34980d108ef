//! Separated values from outside: bytes to cells, whichever separator, mark of decimals and encoding they have; and back.

use arcwright_model::finding::Finding;

/// Cells row by row.
pub struct Separated {
    /// Rows that hold anything, the first with the names of the columns.
    pub records: Vec<csv::StringRecord>,
    /// Commas are decimal marks, because something else separates the cells.
    pub decimal_comma: bool,
    /// The last line has its end.
    pub ends: bool,
    text: String,
}

/// Why bytes are no table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NoTable {
    /// The own file of a spreadsheet.
    Spreadsheet,
    /// No text.
    NoText,
    /// Nothing in it.
    Empty,
    /// A row that cannot be taken apart, in words.
    Broken(String),
}

/// Bytes as text: UTF-8 or UTF-16 by its mark; what is neither has one byte a letter, as older programs write.
fn text_of(bytes: &[u8]) -> String {
    if let [0xff, 0xfe, rest @ ..] | [0xfe, 0xff, rest @ ..] = bytes {
        let little = bytes.first() == Some(&0xff);
        let units: Vec<u16> = rest
            .chunks_exact(2)
            .map(|p| match p {
                [a, b] if little => u16::from_le_bytes([*a, *b]),
                [a, b] => u16::from_be_bytes([*a, *b]),
                _ => 0,
            })
            .collect();
        return String::from_utf16_lossy(&units);
    }
    let bytes = bytes.strip_prefix("\u{feff}".as_bytes()).unwrap_or(bytes);
    match std::str::from_utf8(bytes) {
        Ok(text) => text.to_string(),
        Err(_) => bytes.iter().map(|b| char::from(*b)).collect(),
    }
}

/// Takes bytes apart at commas, semicolons or tabs, whichever the line of names holds most of. With `remarks`, lines
/// that begin with `#` are left out.
///
/// # Errors
/// Why it is no table.
pub fn read(bytes: &[u8], remarks: bool) -> Result<Separated, NoTable> {
    if bytes.starts_with(b"PK\x03\x04") || bytes.starts_with(&[0xd0, 0xcf, 0x11, 0xe0]) {
        return Err(NoTable::Spreadsheet);
    }
    let text = text_of(bytes);
    if text.contains('\0') {
        return Err(NoTable::NoText);
    }
    let is_remark = |line: &str| remarks && line.starts_with('#');
    let head = text
        .lines()
        .find(|l| !l.trim().is_empty() && !is_remark(l))
        .unwrap_or("");
    let count = |mark: char| head.matches(mark).count();
    let mark = [',', ';', '\t']
        .into_iter()
        .max_by_key(|m| (count(*m), *m == ','))
        .unwrap_or(',');
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(mark as u8)
        .has_headers(false)
        .flexible(true)
        .comment(remarks.then_some(b'#'))
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let mut records = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|e| NoTable::Broken(e.to_string()))?;
        if record.iter().any(|c| !c.is_empty()) {
            records.push(record);
        }
    }
    if records.is_empty() {
        return Err(NoTable::Empty);
    }
    Ok(Separated {
        records,
        decimal_comma: mark != ',',
        ends: text.ends_with(['\n', '\r']),
        text,
    })
}

impl Separated {
    /// The line that a row begins on, from 1.
    pub fn line(&self, record: &csv::StringRecord) -> u64 {
        // The reader stands before empty lines that it skips.
        record.position().map_or(0, |p| {
            let from = usize::try_from(p.byte()).unwrap_or(usize::MAX);
            let skipped = self
                .text
                .bytes()
                .skip(from)
                .take_while(|b| matches!(b, b'\n' | b'\r'));
            p.line() + skipped.filter(|b| *b == b'\n').count() as u64
        })
    }
}

/// A cell with its decimal comma made a point, where commas do not separate.
pub fn pointed(cell: &str, decimal_comma: bool) -> String {
    if decimal_comma && cell.matches(',').count() == 1 {
        cell.replace(',', ".")
    } else {
        cell.to_string()
    }
}

/// Rows as the text of a table, cells separated by commas.
///
/// # Errors
/// `not-written` when it cannot be made.
pub fn written(rows: &[Vec<String>]) -> Result<String, Finding> {
    let failed = |e: String| {
        Finding::new(
            "not-written",
            "table",
            format!("the table cannot be made: {e}"),
            "do it again",
        )
    };
    let mut out = csv::Writer::from_writer(Vec::new());
    for row in rows {
        out.write_record(row).map_err(|e| failed(e.to_string()))?;
    }
    let bytes = out.into_inner().map_err(|e| failed(e.to_string()))?;
    String::from_utf8(bytes).map_err(|e| failed(e.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cells(bytes: &[u8], remarks: bool) -> Vec<Vec<String>> {
        let all = read(bytes, remarks).unwrap_or_else(|e| panic!("{e:?}"));
        let each = all.records.iter();
        each.map(|r| r.iter().map(str::to_string).collect()).collect()
    }

    #[test]
    fn separators_marks_of_decimals_and_encodings_come_out_alike() {
        let plain = cells(b"spot,note\nfar,na\xc3\xafve\n", false);
        assert_eq!(plain, [["spot", "note"], ["far", "naïve"]]);
        for (bytes, remarks) in [
            (&b"\xef\xbb\xbfspot;note\n\nfar;na\xc3\xafve\n"[..], false),
            (b"spot\tnote\r\nfar\tna\xefve\r\n", false),
            (b"# a remark, with, commas\nspot;note\nfar;na\xc3\xafve", true),
            (
                b"\xff\xfes\0p\0o\0t\0;\0n\0o\0t\0e\0\n\0f\0a\0r\0;\0n\0a\0\xef\0v\0e\0\n\0",
                false,
            ),
        ] {
            assert_eq!(cells(bytes, remarks), plain, "{bytes:?}");
        }
        let all = read(b"a;b\n\n\n1,5;2\n", false).unwrap_or_else(|e| panic!("{e:?}"));
        assert!(all.decimal_comma && all.ends);
        assert_eq!(
            all.records.iter().map(|r| all.line(r)).collect::<Vec<_>>(),
            [1, 4]
        );
        assert_eq!(
            (pointed("1,5", true), pointed("1,5", false)),
            ("1.5".into(), "1,5".into())
        );
        assert_eq!(pointed("1,500,2", true), "1,500,2");
    }

    #[test]
    fn what_is_no_table_says_why() {
        for (bytes, why) in [
            (&b""[..], NoTable::Empty),
            (b"\n , \n", NoTable::Empty),
            (b"PK\x03\x04abc", NoTable::Spreadsheet),
            (b"a\0b\n1,2\n", NoTable::NoText),
        ] {
            assert_eq!(read(bytes, false).err(), Some(why), "{bytes:?}");
        }
    }
}
