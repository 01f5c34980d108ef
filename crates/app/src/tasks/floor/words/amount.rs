//! Words of a line, and the amounts among them: `12cm`, `12 cm`, `3490`, `13ft 10in`, `3 1/2 in`.

use arcwright_model::units::{self, Dimension as D, UnitError};

/// A word of the line.
pub(super) struct Token {
    /// As typed, without a comma behind it.
    pub text: String,
    /// In lower case.
    pub word: String,
}

/// Words, cut at spaces; a comma or semicolon behind a word only separates.
pub(super) fn split(line: &str) -> Vec<Token> {
    line.split_whitespace()
        .map(|w| w.trim_end_matches([',', ';', '.']).trim_start_matches([',', ';']))
        .filter(|w| !w.is_empty())
        .map(|w| Token {
            text: w.to_string(),
            word: w.to_lowercase(),
        })
        .collect()
}

/// The typed text of some words.
pub(super) fn text(tokens: &[Token], from: usize, to: usize) -> String {
    let words: Vec<&str> = tokens
        .iter()
        .take(to)
        .skip(from)
        .map(|t| t.text.as_str())
        .collect();
    words.join(" ")
}

/// Kinds of quantity that a shot has.
const KINDS: [D; 6] = [
    D::Length,
    D::AngularSpeed,
    D::Time,
    D::Voltage,
    D::Angle,
    D::Speed,
];

/// What a number turned out to be.
pub(super) enum Kind {
    /// A number without a unit.
    Bare(f64),
    /// A quantity, SI.
    Of(D, f64),
    /// No quantity of a shot.
    Wrong(UnitError),
}

/// A number and what belongs to it.
pub(super) struct Amount {
    pub kind: Kind,
    /// As it would be written.
    pub text: String,
    /// The word behind it.
    pub end: usize,
}

/// Does the word begin like a number?
pub(super) fn is_numeric(text: &str) -> bool {
    let rest = text.trim_start_matches(['+', '-', '\u{2212}']);
    let rest = rest.strip_prefix('.').unwrap_or(rest);
    rest.starts_with(|c: char| c.is_ascii_digit())
}

fn quantity(text: &str) -> Option<(D, f64)> {
    KINDS
        .iter()
        .find_map(|d| units::parse(text, *d).ok().map(|v| (*d, v)))
}

/// Letters that phones and haste get wrong: `12.4v`, `3490RPM`.
fn mended(text: &str) -> Option<String> {
    let head = text.trim_end_matches(|c: char| c.is_alphabetic());
    let unit = text.get(head.len()..)?;
    let right = match unit {
        "v" | "Volt" | "Volts" | "VOLT" => "V",
        "CM" | "Cm" => "cm",
        "MM" | "Mm" => "mm",
        "S" | "Sec" | "SEC" => "s",
        "IN" | "In" => "in",
        "FT" | "Ft" => "ft",
        "Deg" | "DEG" => "deg",
        _ => return None,
    };
    Some(format!("{head}{right}"))
}

fn any_case(text: &str) -> Option<(D, f64)> {
    quantity(text).or_else(|| quantity(&mended(text)?))
}

/// Every way to read an amount that begins at a word.
pub(super) fn amounts(tokens: &[Token], at: usize) -> Vec<Amount> {
    let mut out = simple(tokens, at);
    // Feet and inches are one length.
    let feet_and_inches: Vec<Amount> = out
        .iter()
        .filter_map(|a| {
            let Kind::Of(D::Length, feet_m) = a.kind else {
                return None;
            };
            if !(a.text.ends_with("ft") || a.text.ends_with('\'') || a.text.ends_with("feet")) {
                return None;
            }
            simple(tokens, a.end).into_iter().find_map(|b| match b.kind {
                Kind::Of(D::Length, inches_m)
                    if (0.0..0.3048).contains(&inches_m)
                        && (b.text.ends_with("in") || b.text.ends_with('"')) =>
                {
                    Some(Amount {
                        kind: Kind::Of(D::Length, feet_m + inches_m),
                        text: format!("{} {}", a.text, b.text),
                        end: b.end,
                    })
                }
                _ => None,
            })
        })
        .collect();
    out.extend(feet_and_inches);
    out
}

fn simple(tokens: &[Token], at: usize) -> Vec<Amount> {
    let Some(token) = tokens.get(at).filter(|t| is_numeric(&t.text)) else {
        return Vec::new();
    };
    // `3 1/2` is one number.
    let is_whole = |t: &str| t.bytes().all(|b| b.is_ascii_digit());
    let is_fraction = |t: &str| {
        t.split_once('/')
            .is_some_and(|(a, b)| is_whole(a) && is_whole(b) && !a.is_empty() && !b.is_empty())
    };
    let (number, end) = match tokens.get(at + 1) {
        Some(next) if is_whole(&token.text) && is_fraction(&next.text) => {
            (format!("{} {}", token.text, next.text), at + 2)
        }
        _ => (token.text.clone(), at + 1),
    };
    let mut out = Vec::new();
    let bare = units::parse(&number, D::Number);
    if let Some(unit) = tokens.get(end).filter(|_| bare.is_ok()) {
        let text = format!("{number} {}", unit.text);
        if let Some((d, v)) = any_case(&text) {
            out.push(Amount {
                kind: Kind::Of(d, v),
                text,
                end: end + 1,
            });
        }
    }
    match (bare, any_case(&number)) {
        (Ok(x), _) => out.push(Amount {
            kind: Kind::Bare(x),
            text: number,
            end,
        }),
        (Err(_), Some((d, v))) => out.push(Amount {
            kind: Kind::Of(d, v),
            text: number,
            end,
        }),
        (Err(_), None) => {
            if let Err(e) = units::parse(&number, D::Length) {
                out.push(Amount {
                    kind: Kind::Wrong(e),
                    text: number,
                    end,
                });
            }
        }
    }
    out
}
