//! Products, quotients and powers of units.

use std::ops::Range;

use super::table::{Exponents, NONE, look_up};

/// A unit expression worked out.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Worked {
    /// SI value of one.
    pub si_ratio: f64,
    /// Dimension.
    pub exponents: Exponents,
    /// Offset of a temperature scale standing alone; 0 otherwise.
    pub offset: f64,
}

/// Why a unit expression is not one.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Trouble {
    /// No unit has this symbol.
    Unknown { symbol: String, span: Range<usize> },
    /// A product after a slash: `W/m K` could be read two ways.
    TwoWays { span: Range<usize> },
    /// A sign that has no place here.
    Stray { span: Range<usize> },
}

#[derive(Clone, Debug, PartialEq)]
enum Token {
    Symbol(String),
    Power(i8),
    One,
    Times,
    Over,
    Open,
    Close,
}

type Placed = (Token, Range<usize>);

/// Physical: no unit has a power above this; also keeps the exponents from overflowing.
const HIGHEST_POWER: i8 = 6;
/// Physical: no unit text has more parts than this.
const MOST_PARTS_COUNT: usize = 24;

fn is_symbol(c: char) -> bool {
    c.is_alphabetic() || matches!(c, '%' | '°' | 'Ω' | '\u{2126}' | 'µ' | '"' | '\'' | '″' | '′')
}

fn superscript(c: char) -> Option<char> {
    const RAISED: &str = "⁰¹²³⁴⁵⁶⁷⁸⁹";
    match c {
        '⁻' => Some('-'),
        _ => RAISED
            .chars()
            .position(|r| r == c)
            .and_then(|n| char::from_digit(n as u32, 10)),
    }
}

/// Reads a power: the characters that `digit` accepts, as a number.
fn power(
    text: &str,
    start: usize,
    from: usize,
    digit: impl Fn(char) -> Option<char>,
) -> Result<(Placed, usize), Trouble> {
    let rest = text.get(from..).unwrap_or("");
    let mut end = from;
    let mut plain = String::new();
    for c in rest.chars() {
        let Some(d) = digit(c).filter(|d| *d != '-' || plain.is_empty()) else {
            break;
        };
        plain.push(d);
        end += c.len_utf8();
    }
    match plain.parse::<i8>() {
        Ok(n) if n != 0 && n.abs() <= HIGHEST_POWER => Ok(((Token::Power(n), start..end), end)),
        _ => Err(Trouble::Stray {
            span: start..end.max(from),
        }),
    }
}

fn ascii_power(c: char) -> Option<char> {
    (c == '-' || c.is_ascii_digit()).then_some(c)
}

fn tokens(text: &str, start: usize) -> Result<Vec<Placed>, Trouble> {
    let mut out: Vec<Placed> = Vec::new();
    let mut at = start;
    while let Some(c) = text.get(at..).and_then(|t| t.chars().next()) {
        let next = at + c.len_utf8();
        let after_symbol = out
            .last()
            .is_some_and(|(t, s)| matches!(t, Token::Symbol(_)) && s.end == at);
        if c.is_whitespace() {
            at = next;
        } else if is_symbol(c) {
            let mut end = at;
            for s in text.get(at..).unwrap_or("").chars().take_while(|s| is_symbol(*s)) {
                end += s.len_utf8();
            }
            let symbol = text.get(at..end).unwrap_or("").to_string();
            let token = if symbol == "per" {
                Token::Over
            } else {
                Token::Symbol(symbol)
            };
            out.push((token, at..end));
            at = end;
        } else if superscript(c).is_some() {
            let (placed, end) = power(text, at, at, superscript)?;
            out.push(placed);
            at = end;
        } else if c == '^' {
            let (placed, end) = power(text, at, next, ascii_power)?;
            out.push(placed);
            at = end;
        } else if text.get(at..).is_some_and(|t| t.starts_with("**")) {
            let (placed, end) = power(text, at, at + 2, ascii_power)?;
            out.push(placed);
            at = end;
        } else if c.is_ascii_digit() && after_symbol {
            let (placed, end) = power(text, at, at, ascii_power)?;
            out.push(placed);
            at = end;
        } else {
            let token = match c {
                '1' if text.get(next..).is_some_and(|t| t.trim_start().starts_with('/')) => Token::One,
                '*' | '·' | '⋅' | '×' | '-' => Token::Times,
                '/' => Token::Over,
                '(' => Token::Open,
                ')' => Token::Close,
                _ => return Err(Trouble::Stray { span: at..next }),
            };
            out.push((token, at..next));
            at = next;
        }
        if out.len() > MOST_PARTS_COUNT {
            return Err(Trouble::Stray { span: start..at });
        }
    }
    Ok(join_degrees(out))
}

/// `deg C`, `° F`: one unit written as two words.
fn join_degrees(placed: Vec<Placed>) -> Vec<Placed> {
    let mut out: Vec<Placed> = Vec::with_capacity(placed.len());
    for (token, span) in placed {
        if let (Token::Symbol(scale), Some((Token::Symbol(degree), before))) = (&token, out.last_mut()) {
            let is_degree = matches!(degree.as_str(), "deg" | "degree" | "degrees" | "°");
            if is_degree && matches!(scale.as_str(), "C" | "F") {
                *degree = format!("deg{scale}");
                before.end = span.end;
                continue;
            }
        }
        out.push((token, span));
    }
    out
}

struct Reader<'a> {
    tokens: &'a [Placed],
    at: usize,
    end: usize,
}

impl Reader<'_> {
    fn peek(&self) -> Option<&Placed> {
        self.tokens.get(self.at)
    }

    fn stray(&self) -> Trouble {
        Trouble::Stray {
            span: self.peek().map_or(self.end..self.end, |(_, s)| s.clone()),
        }
    }

    /// A chain of factors up to a closing bracket or the end.
    fn chain(&mut self, depth: usize) -> Result<Worked, Trouble> {
        let mut total = self.factor(depth)?;
        let mut after_slash = false;
        loop {
            match self.peek().cloned() {
                None | Some((Token::Close, _)) => return Ok(total),
                Some((Token::Over, _)) => {
                    self.at += 1;
                    total = combine(&total, &self.factor(depth)?, -1).ok_or_else(|| self.stray())?;
                    after_slash = true;
                }
                Some((token, span)) => {
                    if after_slash {
                        return Err(Trouble::TwoWays { span });
                    }
                    if token == Token::Times {
                        self.at += 1;
                    }
                    total = combine(&total, &self.factor(depth)?, 1).ok_or_else(|| self.stray())?;
                }
            }
        }
    }

    fn factor(&mut self, depth: usize) -> Result<Worked, Trouble> {
        let base = match self.peek().cloned() {
            Some((Token::Symbol(symbol), span)) => {
                self.at += 1;
                let (unit, prefix) = look_up(&symbol).ok_or(Trouble::Unknown { symbol, span })?;
                Worked {
                    si_ratio: unit.si_ratio * prefix,
                    exponents: unit.exponents,
                    offset: unit.offset,
                }
            }
            Some((Token::One, _)) => {
                self.at += 1;
                Worked {
                    si_ratio: 1.0,
                    exponents: NONE,
                    offset: 0.0,
                }
            }
            // holds because: MOST_PARTS_COUNT bounds the depth too.
            Some((Token::Open, _)) if depth < MOST_PARTS_COUNT => {
                self.at += 1;
                let inner = self.chain(depth + 1)?;
                if !matches!(self.peek(), Some((Token::Close, _))) {
                    return Err(self.stray());
                }
                self.at += 1;
                inner
            }
            _ => return Err(self.stray()),
        };
        if let Some((Token::Power(n), _)) = self.peek().cloned() {
            self.at += 1;
            let one = Worked {
                si_ratio: 1.0,
                exponents: NONE,
                offset: 0.0,
            };
            return combine(&one, &base, n).ok_or_else(|| self.stray());
        }
        Ok(base)
    }
}

/// a · b^power; the offset of a temperature scale is lost on the way. `None` on overflow.
fn combine(a: &Worked, b: &Worked, power: i8) -> Option<Worked> {
    let mut exponents = a.exponents;
    for (e, f) in exponents.iter_mut().zip(b.exponents) {
        *e = e.checked_add(f.checked_mul(power)?)?;
    }
    Some(Worked {
        si_ratio: a.si_ratio * b.si_ratio.powi(i32::from(power)),
        exponents,
        offset: 0.0,
    })
}

/// Works out the unit that begins at byte `start` of `text`.
pub(super) fn work_out(text: &str, start: usize) -> Result<Worked, Trouble> {
    let mut tokens = tokens(text, start)?;
    if matches!(tokens.first(), Some((Token::Over, _))) {
        // `/min` is `1/min`.
        tokens.insert(0, (Token::One, start..start));
    }
    let mut reader = Reader {
        tokens: &tokens,
        at: 0,
        end: text.len(),
    };
    let total = reader.chain(0)?;
    if reader.peek().is_some() {
        Err(reader.stray())
    } else {
        Ok(total)
    }
}
