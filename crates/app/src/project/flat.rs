//! A project file as a plain list of keys and values, for telling two states of it apart.

use toml::de::{DeTable, DeValue};

/// Every key with its value as text, in the order of the file; `None` for a text that is no TOML. Remarks and blank lines
/// are no part of it. Places in a list are numbers: `spot[1].distance`.
pub fn flat(text: &str) -> Option<Vec<(String, String)>> {
    let table = DeTable::parse(text.trim_start_matches('\u{feff}')).ok()?;
    let mut out = Vec::new();
    go_through(&mut out, "", table.get_ref());
    Some(out)
}

fn go_through(out: &mut Vec<(String, String)>, path: &str, table: &DeTable<'_>) {
    for (key, value) in table {
        let path = if path.is_empty() {
            key.get_ref().to_string()
        } else {
            format!("{path}.{}", key.get_ref())
        };
        value_of(out, path, value.get_ref());
    }
}

fn value_of(out: &mut Vec<(String, String)>, path: String, value: &DeValue<'_>) {
    let text = match value {
        DeValue::Table(inner) => return go_through(out, &path, inner),
        DeValue::Array(list) => {
            for (i, one) in list.iter().enumerate() {
                value_of(out, format!("{path}[{i}]"), one.get_ref());
            }
            return;
        }
        DeValue::String(s) => s.to_string(),
        DeValue::Integer(x) => x.to_string(),
        DeValue::Float(x) => x.to_string(),
        DeValue::Boolean(x) => x.to_string(),
        DeValue::Datetime(x) => x.to_string(),
    };
    out.push((path, text));
}
