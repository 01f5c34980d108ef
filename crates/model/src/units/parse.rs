//! Text to SI.

use std::ops::Range;

use super::dimension::Dimension;
use super::expression::{Trouble, Worked, work_out};
use super::number;
use super::table::{NONE, spellings};
use crate::finding::nearest;

/// Why a text is not the quantity wanted.
#[derive(Clone, Debug, PartialEq)]
pub struct UnitError {
    /// `bad-number`, `no-unit`, `unknown-unit` or `wrong-unit`.
    pub code: &'static str,
    /// Bytes of the text at fault.
    pub span: Range<usize>,
    /// What is wrong.
    pub what: String,
    /// How to mend it.
    pub fix: String,
}

/// Reads a quantity of the given dimension; SI.
///
/// A temperature with a scale's own zero (`18 degC`) becomes kelvin.
///
/// # Errors
/// [`UnitError`] when there is no number, no unit, an unknown unit or one of another dimension.
pub fn parse(text: &str, dimension: Dimension) -> Result<f64, UnitError> {
    read(text, dimension, false)
}

/// Reads a difference of two quantities, such as a standard deviation: `2 degC` is 2 K.
///
/// # Errors
/// As [`parse`].
pub fn parse_difference(text: &str, dimension: Dimension) -> Result<f64, UnitError> {
    read(text, dimension, true)
}

/// A text longer than this (bytes) is no quantity. Physical.
const LONGEST_TEXT_COUNT: usize = 120;

/// Marks that stand where someone, or a word processor, meant straight quotation marks.
pub const TYPOGRAPHIC_MARKS: [char; 17] = [
    '“', '”', '„', '‟', '‘', '’', '‚', '‛', '«', '»', '‹', '›', '\u{301d}', '\u{301e}', '\u{ff02}', '´', '`',
];

/// The text within quotation marks that are part of it by mistake, and where it begins. A mark
/// behind a digit may be meant as inches and is left to the units.
fn within_marks(text: &str) -> Option<(usize, &str)> {
    let is_mark = |c: char| TYPOGRAPHIC_MARKS.contains(&c) || matches!(c, '"' | '\'' | ' ');
    let all = text.trim();
    let head = all.trim_start_matches(is_mark);
    let inner = head.trim_end_matches(is_mark);
    let is_inch = head.len() == all.len() && inner.ends_with(|c: char| c.is_ascii_digit());
    let is_unit = head.len() == all.len() && !all.ends_with(TYPOGRAPHIC_MARKS);
    let start = text.len() - text.trim_start().len() + (all.len() - head.len());
    (inner.len() < all.len() && !inner.is_empty() && !is_inch && !is_unit).then_some((start, inner))
}

fn read(text: &str, dimension: Dimension, difference: bool) -> Result<f64, UnitError> {
    if text.len() > LONGEST_TEXT_COUNT {
        return Err(UnitError {
            code: "bad-number",
            span: 0..text.len(),
            what: format!(
                "the text is {} characters long; a quantity is short",
                text.chars().count()
            ),
            fix: how_to_write(dimension),
        });
    }
    if let Some((start, inner)) = within_marks(text) {
        return Err(match read(inner, dimension, difference) {
            Ok(_) => UnitError {
                code: "bad-number",
                span: 0..text.len(),
                what: "there are quotation marks within the quotation marks".to_string(),
                fix: format!("write \"{inner}\" with one pair of straight ones"),
            },
            // What it says to write has no marks within.
            Err(e) => UnitError {
                span: start + e.span.start..start + e.span.end,
                ..e
            },
        });
    }
    let start = text.len() - text.trim_start().len();
    let head = number::head(text, start).map_err(|b| UnitError {
        code: "bad-number",
        span: b.span,
        what: b.what,
        // A fix that quotes the right text needs no more words.
        fix: if dimension.is_plain() || b.fix.contains('"') {
            b.fix
        } else {
            format!("{}; {}", b.fix, how_to_write(dimension))
        },
    })?;
    let rest = text.get(head.end..).unwrap_or("");
    let unit_start = head.end + (rest.len() - rest.trim_start().len());
    let unit_span = unit_start..text.trim_end().len().max(unit_start);
    let unit = rest.trim();
    let literal = text.get(start..head.end).unwrap_or("");
    if unit.is_empty() {
        if dimension.is_plain() {
            return Ok(head.value);
        }
        return Err(UnitError {
            span: start..head.end,
            ..no_unit(literal, dimension)
        });
    }
    let worked =
        work_out(text, unit_start).map_err(|t| troubled(&t, literal, unit, unit_span.clone(), dimension))?;
    if worked.exponents != dimension.exponents() || (dimension == Dimension::Count && unit != "1") {
        return Err(wrong_dimension(&worked, literal, unit, unit_span, dimension));
    }
    let offset = if difference { 0.0 } else { worked.offset };
    let value = scaled(head.value + offset, worked.si_ratio);
    if !value.is_finite() {
        return Err(UnitError {
            code: "bad-number",
            span: start..unit_span.end,
            what: format!("{literal} {unit} is too large"),
            fix: "write a number that fits the thing it describes".to_string(),
        });
    }
    Ok(value)
}

/// x · ratio, by way of the reciprocal where that is whole: 59 g is 0.059 kg and not one rounding away.
fn scaled(x: f64, ratio: f64) -> f64 {
    let inverse = ratio.recip();
    if inverse.fract() == 0.0 {
        x / inverse
    } else {
        x * ratio
    }
}

/// `write it in mm, cm, m, in or ft`.
fn how_to_write(dimension: Dimension) -> String {
    if dimension.is_plain() {
        "write a number without a unit".to_string()
    } else {
        format!("write it in {}", dimension.usual_words())
    }
}

/// The error for a bare number where a unit is needed. Its span is the whole literal.
pub fn no_unit(literal: &str, dimension: Dimension) -> UnitError {
    let fix = match (dimension, literal.parse::<f64>()) {
        (Dimension::Ratio, Ok(x)) if x.abs() <= 1.0 => format!(
            "write \"{} %\" if {literal} is the share itself, \"{literal} %\" if it is per cent already",
            tidy(x * 100.0)
        ),
        _ => {
            let quoted: Vec<String> = dimension
                .usual()
                .iter()
                .map(|u| format!("\"{literal} {u}\""))
                .collect();
            match quoted.as_slice() {
                [] => "write a number".to_string(),
                [only] => format!("write {only}"),
                [first @ .., last] => format!("write {} or {last}", first.join(", ")),
            }
        }
    };
    UnitError {
        code: "no-unit",
        span: 0..literal.len(),
        what: format!("{literal} has no unit; this is {}", dimension.name()),
        fix,
    }
}

/// A number with rounding noise removed.
fn tidy(x: f64) -> f64 {
    const DIGITS: f64 = 1e9;
    (x * DIGITS).round() / DIGITS
}

fn troubled(
    trouble: &Trouble,
    literal: &str,
    unit: &str,
    unit_span: Range<usize>,
    dimension: Dimension,
) -> UnitError {
    match trouble {
        Trouble::Unknown { symbol, span } => {
            let near = nearest(
                symbol,
                dimension.usual().iter().copied().filter(|u| !u.contains(' ')),
            )
            .or_else(|| nearest(symbol, spellings()));
            // Putting the near symbol in place must give a quantity of the kind asked for.
            let mended = near.map(|n| unit.replacen(symbol.as_str(), n, 1));
            let fix = match mended.filter(|m| measures(m, dimension)) {
                Some(m) => format!(
                    "did you mean \"{literal} {m}\"? Otherwise {}",
                    how_to_write(dimension)
                ),
                None => how_to_write(dimension),
            };
            UnitError {
                code: "unknown-unit",
                span: span.clone(),
                what: format!("no unit is called `{symbol}`"),
                fix,
            }
        }
        Trouble::TwoWays { span } => UnitError {
            code: "unknown-unit",
            span: span.clone(),
            what: format!("`{unit}` can be read in two ways: what follows the slash is not clear"),
            fix: match unit.split_once('/') {
                Some((above, below)) => format!(
                    "put brackets around what stands below the slash: \"{literal} {}/({})\"",
                    above.trim(),
                    below.trim()
                ),
                None => how_to_write(dimension),
            },
        },
        Trouble::Stray { span } => UnitError {
            code: "unknown-unit",
            span: if span.is_empty() { unit_span } else { span.clone() },
            what: format!("`{unit}` is not a unit"),
            fix: how_to_write(dimension),
        },
    }
}

/// Is it a unit of the dimension? Makes no message, so messages may ask it.
fn measures(unit: &str, dimension: Dimension) -> bool {
    work_out(unit, 0).is_ok_and(|worked| worked.exponents == dimension.exponents())
}

/// Mass units and the force units that people mean by them in torques and stiffnesses.
const WEIGHTS: &[(&str, &str)] = &[
    ("kg", "kgf"),
    ("g", "gf"),
    ("lbs", "lbf"),
    ("lb", "lbf"),
    ("oz", "ozf"),
    ("pounds", "lbf"),
    ("ounces", "ozf"),
];

/// The unit text with each whole word exchanged by `change`.
fn exchange(unit: &str, change: impl Fn(&str) -> Option<&'static str>) -> String {
    let mut out = String::new();
    let mut word = String::new();
    for c in unit.chars().chain(std::iter::once(' ')) {
        if c.is_alphabetic() {
            word.push(c);
            continue;
        }
        out.push_str(change(&word).unwrap_or(&word));
        word.clear();
        out.push(c);
    }
    out.trim_end().to_string()
}

/// What the writer most likely meant by a unit of another dimension, with the reason.
fn meant(literal: &str, unit: &str, dimension: Dimension) -> Option<(String, &'static str)> {
    let to_force = exchange(unit, |w| {
        WEIGHTS
            .iter()
            .find(|(mass, _)| *mass == w)
            .map(|(_, force)| *force)
    });
    let to_mass = exchange(unit, |w| {
        WEIGHTS
            .iter()
            .find(|(_, force)| *force == w)
            .map(|(mass, _)| *mass)
    });
    let per_minute = unit.replace(' ', "").ends_with("/min");
    let turning = if per_minute {
        "rpm".to_string()
    } else {
        "rev/s".to_string()
    };
    let tries = [
        (
            to_force,
            "kg, g, lb and oz are masses; their weights are kgf, gf, lbf and ozf",
        ),
        (
            to_mass,
            "kgf, lbf and ozf are forces; a scale's reading is in kg, lb or oz",
        ),
        (
            format!("{unit} m"),
            "a torque is a force times a length; mN is millinewton, mN m is a torque",
        ),
        (
            turning,
            "Hz and 1/min do not say of what; a wheel turns in rpm, rev/s or rad/s",
        ),
        (unit.replace("min", "in"), "min is minutes; inches are in"),
    ];
    let fits = |u: &str| measures(u, dimension);
    let frequency = matches!(unit, "Hz" | "kHz") || per_minute || unit.replace(' ', "").ends_with("/s");
    tries
        .into_iter()
        .filter(|(u, _)| u != unit && fits(u))
        .find(|(u, _)| {
            (u != "rpm" && u != "rev/s")
                || (frequency && matches!(dimension, Dimension::AngularSpeed | Dimension::TurnRate))
        })
        .map(|(u, why)| (format!("{literal} {u}"), why))
}

fn wrong_dimension(
    worked: &Worked,
    literal: &str,
    unit: &str,
    span: Range<usize>,
    dimension: Dimension,
) -> UnitError {
    let found = if worked.exponents == NONE {
        Some("a plain number")
    } else {
        Dimension::name_of(worked.exponents)
    };
    let what = match found {
        Some(name) => format!("this is {}, and `{unit}` is for {name}", dimension.name()),
        None => format!("this is {}, and `{unit}` is no unit for one", dimension.name()),
    };
    let fix = match meant(literal, unit, dimension) {
        Some((text, why)) => {
            format!(
                "did you mean \"{text}\"? ({why}.) Otherwise {}",
                how_to_write(dimension)
            )
        }
        None => how_to_write(dimension),
    };
    UnitError {
        code: "wrong-unit",
        span,
        what,
        fix,
    }
}

#[cfg(test)]
#[path = "tests.rs"]
mod tests;
