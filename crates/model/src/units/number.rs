//! The number at the head of a quantity.

use std::ops::Range;

/// A number, and where the rest of the text begins.
pub(super) struct Head {
    pub value: f64,
    pub end: usize,
}

/// What is wrong with a number.
pub(super) struct BadNumber {
    pub span: Range<usize>,
    pub what: String,
    pub fix: String,
}

fn bad(span: Range<usize>, what: impl Into<String>, fix: impl Into<String>) -> BadNumber {
    BadNumber {
        span,
        what: what.into(),
        fix: fix.into(),
    }
}

fn digits(text: &str, from: usize) -> usize {
    let rest = text.get(from..).unwrap_or("");
    from + rest.bytes().take_while(u8::is_ascii_digit).count()
}

fn byte(text: &str, at: usize) -> u8 {
    text.as_bytes().get(at).copied().unwrap_or(0)
}

/// Reads `96`, `-3.8`, `1.5e-3`, `1/2`, `3 1/2`; the text is trimmed at its start.
pub(super) fn head(text: &str, start: usize) -> Result<Head, BadNumber> {
    let mut at = start;
    let mut sign = 1.0;
    for (mark, factor) in [("-", -1.0), ("+", 1.0), ("\u{2212}", -1.0)] {
        if text.get(at..).is_some_and(|t| t.starts_with(mark)) {
            at += mark.len();
            sign = factor;
            break;
        }
    }
    let whole_start = at;
    let whole_end = digits(text, at);
    at = whole_end;
    if byte(text, at) == b'.' {
        at = digits(text, at + 1);
    }
    let has_digits = text
        .get(whole_start..at)
        .is_some_and(|t| t.bytes().any(|b| b.is_ascii_digit()));
    if !has_digits {
        let word_end = text
            .get(start..)
            .and_then(|t| t.find(char::is_whitespace))
            .map_or(text.len(), |n| start + n);
        return Err(bad(
            start..word_end.max(start),
            if text.trim().is_empty() {
                "the text is empty".to_string()
            } else {
                "it does not begin with a number".to_string()
            },
            "write the number first, then a space and the unit",
        ));
    }
    if byte(text, at) == b',' {
        return Err(comma(text, start, at));
    }
    if matches!(byte(text, at), b'_' | b'.') {
        return Err(bad(
            start..at + 1,
            format!(
                "the number is not one: `{}`",
                text.get(start..at + 1).unwrap_or("")
            ),
            "write it with digits and at most one decimal point",
        ));
    }
    if matches!(byte(text, at), b'e' | b'E') {
        let mut power = at + 1;
        if matches!(byte(text, power), b'-' | b'+') {
            power += 1;
        }
        let end = digits(text, power);
        if end > power {
            at = end;
        }
    }
    let literal = text.get(whole_start..at).unwrap_or("");
    let mut value = literal.parse::<f64>().unwrap_or(f64::NAN);
    let plain_whole = at == whole_end;
    if let Some((numerator, denominator, end, is_mixed)) = fraction(text, whole_start, at, plain_whole) {
        if denominator == 0.0 {
            return Err(bad(
                start..end,
                "it divides by zero",
                "write the fraction with a denominator above 0",
            ));
        }
        value = if is_mixed {
            value + numerator / denominator
        } else {
            numerator / denominator
        };
        at = end;
    }
    value *= sign;
    if !value.is_finite() {
        return Err(bad(
            start..at,
            format!("the number `{}` is too large", text.get(start..at).unwrap_or("")),
            "write a number that fits the thing it describes",
        ));
    }
    Ok(Head { value, end: at })
}

/// `1/2` or the `1/2` of `3 1/2`: numerator, denominator, end, mixed.
fn fraction(text: &str, whole_start: usize, at: usize, plain_whole: bool) -> Option<(f64, f64, usize, bool)> {
    if !plain_whole {
        return None;
    }
    let number = |a: usize, b: usize| text.get(a..b).and_then(|t| t.parse::<f64>().ok());
    if byte(text, at) == b'/' {
        let end = digits(text, at + 1);
        return (end > at + 1).then_some((number(whole_start, at)?, number(at + 1, end)?, end, false));
    }
    if byte(text, at) != b' ' {
        return None;
    }
    let numerator_end = digits(text, at + 1);
    if numerator_end == at + 1 || byte(text, numerator_end) != b'/' {
        return None;
    }
    let end = digits(text, numerator_end + 1);
    (end > numerator_end + 1).then_some((
        number(at + 1, numerator_end)?,
        number(numerator_end + 1, end)?,
        end,
        true,
    ))
}

/// A comma: a decimal one, or one between thousands; say how to write either.
fn comma(text: &str, start: usize, at: usize) -> BadNumber {
    let end = digits(text, at + 1);
    let rest = text.get(end..).unwrap_or("");
    let point = format!(
        "{}.{}{rest}",
        text.get(start..at).unwrap_or(""),
        text.get(at + 1..end).unwrap_or("")
    );
    let joined = format!(
        "{}{}{rest}",
        text.get(start..at).unwrap_or(""),
        text.get(at + 1..end).unwrap_or("")
    );
    let fix = if end == at + 4 {
        format!("write \"{joined}\" if the comma separates thousands, \"{point}\" if it is the decimal mark")
    } else {
        format!("write the decimal mark as a point: \"{point}\"")
    };
    bad(start..end, "the number has a comma in it", fix)
}
