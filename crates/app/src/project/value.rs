//! One value of the file, read as its schema entry says.

use std::ops::Range;

use arcwright_model::finding::nearest;
use arcwright_model::project::lower::{Value, WrittenSpread, clip};
use arcwright_model::project::schema::{Entry, Kind};
use arcwright_model::units::{self, Dimension, UnitError};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::mend;
use super::walk::Walk;

/// What a TOML value is, in words.
pub(super) fn type_name(value: &DeValue) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a number with a decimal point",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

/// Reads a value; what cannot be read is reported and becomes [`Value::Unreadable`].
pub(super) fn read(walk: &mut Walk, entry: &Entry, key: &str, value: &Spanned<DeValue>) -> Value {
    match (entry.kind, value.get_ref()) {
        (Kind::Quantity(..) | Kind::Drag, DeValue::Table(table)) => {
            with_spread(walk, entry, key, table, value.span())
        }
        (Kind::Drag, DeValue::String(word)) if word.trim() == "smooth" => Value::Smooth(None),
        (Kind::Quantity(..) | Kind::Drag, _) => match number(walk, entry, key, value, false) {
            Some(x) => Value::Number(x, None),
            None => Value::Unreadable,
        },
        (Kind::Count, DeValue::Integer(_)) => match literal(value.get_ref()) {
            Some(x) => Value::Number(x, None),
            None => wrong_type(walk, entry, key, value),
        },
        (Kind::Flag(_), DeValue::Boolean(yes)) => Value::Flag(*yes),
        (Kind::Text(_) | Kind::Choice(..), DeValue::String(word)) => Value::Word(word.to_string()),
        (Kind::Pair(..), DeValue::Array(ends)) => {
            let ends: Vec<&Spanned<DeValue>> = ends.iter().collect();
            match pair(walk, entry, key, &ends, value.span()) {
                Some(ends) => Value::Pair(ends),
                None => Value::Unreadable,
            }
        }
        (Kind::List(..), DeValue::Array(items)) => {
            // All are read, so that all that is wrong is reported.
            let values: Vec<Option<f64>> = items
                .iter()
                .enumerate()
                .map(|(i, item)| number(walk, entry, &format!("{key}[{i}]"), item, false))
                .collect();
            match values.into_iter().collect() {
                Some(values) => Value::List(values),
                None => Value::Unreadable,
            }
        }
        _ => wrong_type(walk, entry, key, value),
    }
}

fn wrong_type(walk: &mut Walk, entry: &Entry, key: &str, value: &Spanned<DeValue>) -> Value {
    let wanted = match entry.kind {
        Kind::Quantity(d, _) => d.name(),
        Kind::Drag => "a number or \"smooth\"",
        Kind::Count => "a whole number without quotation marks",
        Kind::Flag(_) => "true or false, without quotation marks",
        Kind::Text(_) | Kind::Choice(..) => "a text in quotation marks",
        Kind::Pair(..) => "a list of a lower and a higher value",
        Kind::List(d, ..) if key.ends_with(']') => d.name(),
        Kind::List(..) => "a list of values, each with its unit",
    };
    // An example that says the contrary of what was meant would be taken over.
    let word = walk.raw(&value.span()).trim_matches(['"', '\'', ' ']);
    let fix = match (entry.kind, mend::yes_or_no(word)) {
        (Kind::Flag(_), Some(yes)) => format!("write `{} = {yes}`", entry.name()),
        _ => format!("write it like this: `{} = {}`", entry.name(), entry.example),
    };
    walk.report(
        "wrong-type",
        key,
        format!("`{key}` is {}, and must be {wanted}", type_name(value.get_ref())),
        fix,
        value.span(),
    );
    Value::Unreadable
}

/// The number a TOML integer or float stands for.
pub(super) fn literal(value: &DeValue) -> Option<f64> {
    match value {
        DeValue::Integer(n) => i64::from_str_radix(n.as_str(), n.radix()).ok().map(|n| n as f64),
        DeValue::Float(x) => x.as_str().parse().ok(),
        _ => None,
    }
}

fn dimension(entry: &Entry) -> Dimension {
    entry.measure().map_or(Dimension::Number, |(d, _)| d)
}

/// A quantity: a text with a unit, or a bare number where no unit is wanted.
pub(super) fn number(
    walk: &mut Walk,
    entry: &Entry,
    key: &str,
    value: &Spanned<DeValue>,
    difference: bool,
) -> Option<f64> {
    let dimension = dimension(entry);
    match value.get_ref() {
        DeValue::String(text) => {
            let wanted = units::as_written(text, dimension);
            quantity(walk, key, text, wanted, value.span(), difference)
        }
        DeValue::Integer(_) | DeValue::Float(_) => {
            let raw = walk.raw(&value.span()).to_string();
            match literal(value.get_ref()) {
                Some(x) if !x.is_finite() => {
                    walk.report(
                        "bad-number",
                        key,
                        format!("`{key}` is {}, which is not a number one can build", clip(&raw)),
                        format!("write it like this: `{} = {}`", entry.name(), entry.example),
                        value.span(),
                    );
                    None
                }
                Some(x) if dimension.is_plain() => Some(x),
                _ => {
                    let error = units::no_unit(&clip(&raw), dimension);
                    unit_problem(walk, key, &error, value.span());
                    None
                }
            }
        }
        _ => {
            wrong_type(walk, entry, key, value);
            None
        }
    }
}

fn quantity(
    walk: &mut Walk,
    key: &str,
    text: &str,
    dimension: Dimension,
    bytes: Range<usize>,
    difference: bool,
) -> Option<f64> {
    let read = if difference {
        units::parse_difference
    } else {
        units::parse
    };
    match read(text, dimension) {
        Ok(x) => Some(x),
        Err(error) => {
            let inside = inside(walk.raw(&bytes), text, &bytes, &error.span);
            unit_problem(walk, key, &error, inside);
            None
        }
    }
}

fn unit_problem(walk: &mut Walk, key: &str, error: &UnitError, bytes: Range<usize>) {
    walk.report(
        error.code,
        key,
        format!("`{key}`: {}", error.what),
        error.fix.clone(),
        bytes,
    );
}

/// Bytes of the file for bytes of a text, where the text stands in it unchanged.
fn inside(raw: &str, text: &str, bytes: &Range<usize>, span: &Range<usize>) -> Range<usize> {
    match raw.find(text) {
        Some(at) if !text.is_empty() && span.start < text.len() => {
            bytes.start + at + span.start..bytes.start + at + span.end
        }
        _ => bytes.clone(),
    }
}

/// Two values, low and high.
fn pair(
    walk: &mut Walk,
    entry: &Entry,
    key: &str,
    ends: &[&Spanned<DeValue>],
    bytes: Range<usize>,
) -> Option<[f64; 2]> {
    let [low, high] = ends else {
        walk.report(
            "wrong-type",
            key,
            format!(
                "`{key}` has {} values, and must have two: a lower and a higher one",
                ends.len()
            ),
            match entry.kind {
                Kind::Pair(..) => format!("write it like this: `{} = {}`", entry.name(), entry.example),
                _ => "write it like this: `range = [lower, higher]`".to_string(),
            },
            bytes,
        );
        return None;
    };
    // Both are read, so that both are reported.
    let (low, high) = (
        number(walk, entry, key, low, false),
        number(walk, entry, key, high, false),
    );
    Some([low?, high?])
}

/// `{ value, sd }` or `{ value, range }`.
fn with_spread(walk: &mut Walk, entry: &Entry, key: &str, table: &DeTable, bytes: Range<usize>) -> Value {
    const NAMES: [&str; 3] = ["value", "sd", "range"];
    let mut sound = true;
    let (mut value, mut spread, mut smooth) = (None, None, false);
    for (name, item) in table.iter() {
        let word: &str = name.get_ref();
        match word {
            "value" => {
                walk.places.put_value(key, item.span());
                smooth = matches!((entry.kind, item.get_ref()), (Kind::Drag, DeValue::String(w)) if w.trim() == "smooth");
                value = if smooth {
                    Some(1.0)
                } else {
                    number(walk, entry, key, item, false)
                };
                sound &= value.is_some();
            }
            "sd" | "range" if spread.is_some() => {
                walk.report(
                    "both-written",
                    key,
                    format!("`{key}` has `sd` and `range`, and only one can be drawn from"),
                    "keep `sd` for measured scatter, `range` where you only know the ends".to_string(),
                    name.span(),
                );
                sound = false;
            }
            "sd" => {
                walk.places.put_spread(key, item.span());
                spread = deviation(walk, entry, key, item);
                sound &= spread.is_some();
            }
            "range" => {
                walk.places.put_spread(key, item.span());
                spread = range(walk, entry, key, item);
                sound &= spread.is_some();
            }
            _ => {
                let fix = match nearest(word, NAMES) {
                    Some(near) => format!("did you mean `{near}`?"),
                    None => {
                        "a quantity with a spread has `value` and `sd`, or `value` and `range`".to_string()
                    }
                };
                let what = format!("`{}` is not a part of a quantity", clip(word));
                walk.report("unknown-key", &format!("{key}.{word}"), what, fix, name.span());
            }
        }
    }
    if !table.contains_key("value") && sound {
        walk.report(
            "missing-key",
            key,
            format!("`{key}` has no `value`"),
            format!(
                "write it like this: `{} = {{ value = {}, sd = ... }}`",
                entry.name(),
                entry.example
            ),
            bytes,
        );
    }
    match value {
        Some(_) if smooth && sound => Value::Smooth(spread),
        Some(x) if sound => Value::Number(x, spread),
        _ => Value::Unreadable,
    }
}

fn deviation(walk: &mut Walk, entry: &Entry, key: &str, item: &Spanned<DeValue>) -> Option<WrittenSpread> {
    if let DeValue::String(text) = item.get_ref() {
        // "2 %" is two per cent of the value, except where the value itself is in per cent.
        if text.trim_end().ends_with('%') && dimension(entry) != Dimension::Ratio {
            return quantity(walk, key, text, Dimension::Ratio, item.span(), true).map(WrittenSpread::Share);
        }
    }
    number(walk, entry, key, item, true).map(WrittenSpread::Sd)
}

fn range(walk: &mut Walk, entry: &Entry, key: &str, item: &Spanned<DeValue>) -> Option<WrittenSpread> {
    let DeValue::Array(ends) = item.get_ref() else {
        walk.report(
            "wrong-type",
            key,
            format!(
                "the range of `{key}` is {}, and must be a list of two values",
                type_name(item.get_ref())
            ),
            "write it like this: `range = [lower, higher]`".to_string(),
            item.span(),
        );
        return None;
    };
    let ends: Vec<&Spanned<DeValue>> = ends.iter().collect();
    pair(walk, entry, key, &ends, item.span()).map(WrittenSpread::Range)
}
