//! The clauses that a line is made of, and every clause that can begin at a word.

use arcwright_model::finding::Finding;
use arcwright_model::target::Outcome;
use arcwright_model::units::{self, Dimension as D};

use super::amount::{Amount, Kind, Token, amounts, is_numeric, text};
use super::said::{FallTo, Field, Sideways};
use crate::store::outcome_of;

/// Words with a meaning, for help with spelling.
pub(super) const WORDS: &[&str] = &[
    "in", "rim", "short", "long", "left", "right", "under", "none", "land", "wall", "fall", "before",
    "after", "wheel", "battery", "piece", "throw", "tilt", "slide", "reach", "turned", "exit", "from",
    "spot", "offset", "jam", "flyer", "because", "note", "without",
];

/// A bare number from here up, alone in a line, can only be a wheel speed in rpm. Physical.
const LEAST_BARE_RPM: f64 = 200.0;

/// A clause and the words it takes.
pub(super) struct Piece {
    pub clause: Clause,
    pub start: usize,
    pub end: usize,
}

/// One thing said.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Clause {
    /// A word that only joins.
    Nothing,
    Spot(String),
    From(f64),
    Offset(f64),
    Setpoint(f64),
    Before(f64),
    After(f64),
    Battery(f64),
    Piece(u32),
    Throw(u32, Option<u32>),
    Slide(f64),
    Tilt(f64),
    Reach(f64),
    Turned(f64),
    Outcome(Outcome),
    Side(Sideways, Option<f64>),
    Land(f64),
    Wall(f64, Option<f64>),
    Fall(f64, Option<FallTo>),
    ExitSpeed(f64),
    ExitAngle(f64),
    Jam,
    Flyer(String),
    Note(String),
    Without(Field),
    /// A number that belongs to nothing: a message for the end.
    Stray(String, String),
    /// Not a clause: why.
    Wrong(Finding),
}

fn wrong(code: &'static str, key: &str, what: String, fix: impl Into<String>) -> Clause {
    Clause::Wrong(Finding::new(code, key, what, fix))
}

/// Amounts of a kind at a word; a bare number takes the unit that goes without saying, if there is one.
fn of_kind(tokens: &[Token], at: usize, d: D, unsaid: Option<&str>) -> Vec<(f64, usize)> {
    amounts(tokens, at)
        .into_iter()
        .filter_map(|a| match a.kind {
            Kind::Of(found, v) if found == d => Some((v, a.end)),
            Kind::Bare(_) => {
                let value = units::parse(&format!("{} {}", a.text, unsaid?), d).ok()?;
                Some((value, a.end))
            }
            _ => None,
        })
        .collect()
}

/// A word that needs an amount of a kind.
fn with(
    tokens: &[Token],
    at: usize,
    d: D,
    unsaid: Option<&str>,
    example: &str,
    make: fn(f64) -> Clause,
) -> Vec<Piece> {
    let out: Vec<Piece> = of_kind(tokens, at + 1, d, unsaid)
        .into_iter()
        .map(|(v, end)| piece(make(v), at, end))
        .collect();
    if out.is_empty() {
        return vec![lacks(tokens, at, d, example)];
    }
    out
}

fn piece(clause: Clause, start: usize, end: usize) -> Piece {
    Piece { clause, start, end }
}

/// What to say when a word lacks its amount.
fn lacks(tokens: &[Token], at: usize, d: D, example: &str) -> Piece {
    let word = tokens.get(at).map_or("", |t| t.word.as_str());
    let next = tokens.get(at + 1).map_or("", |t| t.text.as_str());
    let said = match amounts(tokens, at + 1).into_iter().next() {
        Some(Amount {
            kind: Kind::Wrong(e), ..
        }) => format!("; `{next}`: {}", e.what),
        Some(a) if matches!(a.kind, Kind::Bare(_)) => format!("; {} has no unit", a.text),
        Some(a) => format!("; `{}` is none", a.text),
        None if next.is_empty() => String::new(),
        None => format!(", not `{next}`"),
    };
    let clause = wrong(
        "amount-missing",
        word,
        format!("behind `{word}` belongs {}{said}", d.name()),
        format!("write it like this: {example}"),
    );
    piece(clause, at, at + 1)
}

/// Every clause that can begin at a word.
pub(super) fn alternatives(tokens: &[Token], at: usize, spots: &[String], edit: bool) -> Vec<Piece> {
    let Some(token) = tokens.get(at) else {
        return Vec::new();
    };
    let mut out = Vec::new();
    if is_numeric(&token.text) {
        numbers(tokens, at, &mut out);
    } else {
        keyword(tokens, at, edit, &mut out);
    }
    let is_keyword = !out.is_empty();
    spots_at(tokens, at, spots, is_keyword, &mut out);
    out
}

/// What can begin with a number.
fn numbers(tokens: &[Token], at: usize, out: &mut Vec<Piece>) {
    for a in amounts(tokens, at) {
        match a.kind {
            Kind::Of(D::AngularSpeed, v) => out.push(piece(Clause::Setpoint(v), at, a.end)),
            Kind::Of(D::Voltage, v) => out.push(piece(Clause::Battery(v), at, a.end)),
            Kind::Of(D::Time, v) => out.extend(fall_to(tokens, at, v, a.end)),
            Kind::Of(D::Speed, v) => out.push(piece(Clause::ExitSpeed(v), at, a.end)),
            Kind::Of(D::Length, v) => {
                let side = tokens.get(a.end).and_then(|t| Sideways::of(&t.word));
                match side {
                    Some(side) => out.push(piece(Clause::Side(side, Some(v)), at, a.end + 1)),
                    None => out.push(piece(
                        Clause::Stray(
                            a.text.clone(),
                            format!("where it landed (`land {0}`), how far it missed (`long {0}`, `short`, `left`, `right`), the height at a wall (`wall {0}`) or where the robot stood (`from {0}`)", a.text),
                        ),
                        at,
                        a.end,
                    )),
                }
            }
            Kind::Of(_, _) => out.push(piece(
                Clause::Stray(
                    a.text.clone(),
                    format!("the tilt (`tilt {0}`), how far the launcher was turned (`turned {0} left`) or the exit angle from a film (`exit {0}`)", a.text),
                ),
                at,
                a.end,
            )),
            Kind::Bare(x) => {
                if x >= LEAST_BARE_RPM
                    && let Ok(v) = units::parse(&format!("{} rpm", a.text), D::AngularSpeed)
                {
                    out.push(piece(Clause::Setpoint(v), at, a.end));
                    continue;
                }
                out.extend(of_volley(tokens, at, at));
                out.push(piece(
                    Clause::Stray(a.text.clone(), meanings(&a.text, x)),
                    at,
                    a.end,
                ));
            }
            Kind::Wrong(e) => {
                if of_volley(tokens, at, at).is_empty() {
                    out.push(piece(wrong(e.code, &a.text, e.what, e.fix), at, a.end));
                } else {
                    out.extend(of_volley(tokens, at, at));
                }
            }
        }
    }
}

/// What a small bare number could be.
fn meanings(text: &str, x: f64) -> String {
    let mut all = vec![
        format!("how far it missed, with a unit (`long {text} cm`)"),
        format!("the wheel speed (`wheel {text}`, in rpm)"),
        format!("the battery (`{text} V`)"),
    ];
    if x > 0.0 && x < 10.0 {
        all.push(format!("the time of flight (`fall {text}`)"));
    }
    if x >= 1.0 && x.fract() == 0.0 {
        all.push(format!("the mark of the piece (`piece {text}`)"));
        all.push(format!("the place in the volley (`throw {text}`)"));
    }
    all.join(", ")
}

fn whole(text: &str) -> Option<u32> {
    text.parse().ok()
}

/// `2 of 4`, `2/4`.
fn of_volley(tokens: &[Token], start: usize, at: usize) -> Vec<Piece> {
    let word = |i: usize| tokens.get(i).map_or("", |t| t.word.as_str());
    if let Some((a, b)) = word(at).split_once('/')
        && let (Some(a), Some(b)) = (whole(a), whole(b))
    {
        return vec![piece(Clause::Throw(a, Some(b)), start, at + 1)];
    }
    match (whole(word(at)), word(at + 1), whole(word(at + 2))) {
        (Some(a), "of", Some(b)) => vec![piece(Clause::Throw(a, Some(b)), start, at + 3)],
        _ => Vec::new(),
    }
}

fn fall_to(tokens: &[Token], start: usize, time_s: f64, end: usize) -> Vec<Piece> {
    let word = |i: usize| tokens.get(i).map_or("", |t| t.word.as_str());
    let plain = piece(Clause::Fall(time_s, None), start, end);
    if word(end) != "to" {
        return vec![plain];
    }
    let after = match word(end + 1) {
        "the" => end + 2,
        _ => end + 1,
    };
    match word(after) {
        "rim" | "opening" | "target" => {
            vec![piece(Clause::Fall(time_s, Some(FallTo::Rim)), start, after + 1)]
        }
        "floor" | "ground" => vec![piece(Clause::Fall(time_s, Some(FallTo::Floor)), start, after + 1)],
        _ => {
            let heights: Vec<Piece> = of_kind(tokens, after, D::Length, None)
                .into_iter()
                .map(|(v, e)| piece(Clause::Fall(time_s, Some(FallTo::Height(v))), start, e))
                .collect();
            if heights.is_empty() {
                return vec![piece(
                    wrong(
                        "amount-missing",
                        "to",
                        "behind `to` belongs where the time ended".to_string(),
                        "write `fall 1.24s to rim`, `fall 1.24s to floor` or `fall 1.24s to 1.2m`",
                    ),
                    start,
                    end,
                )];
            }
            heights
        }
    }
}

fn keyword(tokens: &[Token], at: usize, edit: bool, out: &mut Vec<Piece>) {
    let word = |i: usize| tokens.get(i).map_or("", |t| t.word.as_str());
    let one = |clause: Clause| vec![piece(clause, at, at + 1)];
    let w = word(at);
    let found: Vec<Piece> = match w {
        "and" | "was" | "it" | "then" | "by" => one(Clause::Nothing),
        "land" | "landed" | "landing" => with(tokens, at, D::Length, None, "land 4.21m", Clause::Land),
        "before" => with(
            tokens,
            at,
            D::AngularSpeed,
            Some("rpm"),
            "before 3490",
            Clause::Before,
        ),
        "after" => with(
            tokens,
            at,
            D::AngularSpeed,
            Some("rpm"),
            "after 3200",
            Clause::After,
        ),
        "wheel" | "speed" => with(
            tokens,
            at,
            D::AngularSpeed,
            Some("rpm"),
            "wheel 3490",
            Clause::Setpoint,
        ),
        // `at far` is a spot and comes below.
        "at" => of_kind(tokens, at + 1, D::AngularSpeed, Some("rpm"))
            .into_iter()
            .map(|(v, end)| piece(Clause::Setpoint(v), at, end))
            .collect(),
        "battery" => with(tokens, at, D::Voltage, Some("V"), "battery 12.4", Clause::Battery),
        "tilt" => with(tokens, at, D::Angle, Some("deg"), "tilt 8", Clause::Tilt),
        "slide" => with(tokens, at, D::Length, None, "slide 2mm", Clause::Slide),
        "reach" => with(tokens, at, D::Length, None, "reach 60mm", Clause::Reach),
        "from" => of_kind(tokens, at + 1, D::Length, None)
            .into_iter()
            .map(|(v, end)| piece(Clause::From(v), at, end))
            .collect(),
        "offset" => sided(tokens, at, D::Length, None, "offset 20cm left", Clause::Offset),
        "turned" => sided(tokens, at, D::Angle, Some("deg"), "turned 2 left", Clause::Turned),
        "exit" => exit(tokens, at),
        "wall" => wall(tokens, at),
        "fall" | "fell" | "flight" => {
            let times = of_kind(tokens, at + 1, D::Time, Some("s"));
            if times.is_empty() {
                vec![lacks(tokens, at, D::Time, "fall 1.24s")]
            } else {
                times
                    .into_iter()
                    .flat_map(|(v, end)| fall_to(tokens, at, v, end))
                    .collect()
            }
        }
        "piece" => match whole(word(at + 1).trim_start_matches('#')) {
            Some(n) => vec![piece(Clause::Piece(n), at, at + 2)],
            None => vec![counted(
                tokens,
                at,
                "the mark of the piece, a whole number",
                "piece 3",
            )],
        },
        "throw" => {
            let full = of_volley(tokens, at, at + 1);
            match (full.is_empty(), whole(word(at + 1))) {
                (false, _) => full,
                (true, Some(n)) => vec![piece(Clause::Throw(n, None), at, at + 2)],
                (true, None) => vec![counted(
                    tokens,
                    at,
                    "the place in the volley, from 1",
                    "throw 2 of 4",
                )],
            }
        }
        "jam" | "jammed" => one(Clause::Jam),
        "flyer" => flyer(tokens, at),
        "note" => vec![piece(
            Clause::Note(text(tokens, at + 1, tokens.len())),
            at,
            tokens.len(),
        )],
        "without" if edit => match Field::of(word(at + 1)) {
            Some(field) => vec![piece(Clause::Without(field), at, at + 2)],
            None => vec![counted(tokens, at, "what is to be taken out", &Field::all())],
        },
        "without" => vec![counted(tokens, at, "nothing in a new shot", "leave it out")],
        _ => Vec::new(),
    };
    out.extend(found);
    if let Some(side) = Sideways::of(w) {
        out.push(piece(Clause::Side(side, None), at, at + 1));
        let amount_at = if word(at + 1) == "by" { at + 2 } else { at + 1 };
        for (v, end) in of_kind(tokens, amount_at, D::Length, None) {
            out.push(piece(Clause::Side(side, Some(v)), at, end));
        }
    } else if let Some(outcome) = outcome_of(w) {
        out.push(piece(Clause::Outcome(outcome), at, at + 1));
    }
}

/// An amount with the side to which it goes.
fn sided(
    tokens: &[Token],
    at: usize,
    d: D,
    unsaid: Option<&str>,
    example: &str,
    make: fn(f64) -> Clause,
) -> Vec<Piece> {
    let out: Vec<Piece> = of_kind(tokens, at + 1, d, unsaid)
        .into_iter()
        .filter_map(|(v, end)| match tokens.get(end).map(|t| t.word.as_str()) {
            Some("left") => Some(piece(make(v), at, end + 1)),
            Some("right") => Some(piece(make(-v), at, end + 1)),
            _ if v == 0.0 => Some(piece(make(v), at, end)),
            _ => None,
        })
        .collect();
    if out.is_empty() {
        return vec![lacks(tokens, at, d, example)];
    }
    out
}

fn counted(tokens: &[Token], at: usize, wants: &str, example: &str) -> Piece {
    let word = tokens.get(at).map_or("", |t| t.word.as_str());
    let clause = wrong(
        "amount-missing",
        word,
        format!("behind `{word}` belongs {wants}"),
        format!("write it like this: {example}"),
    );
    piece(clause, at, at + 1)
}

fn exit(tokens: &[Token], at: usize) -> Vec<Piece> {
    let mut out: Vec<Piece> = of_kind(tokens, at + 1, D::Speed, None)
        .into_iter()
        .map(|(v, end)| piece(Clause::ExitSpeed(v), at, end))
        .collect();
    out.extend(
        of_kind(tokens, at + 1, D::Angle, None)
            .into_iter()
            .map(|(v, end)| piece(Clause::ExitAngle(v), at, end)),
    );
    if out.is_empty() {
        out.push(lacks(tokens, at, D::Speed, "exit 7.9m/s or exit 62deg"));
    }
    out
}

fn wall(tokens: &[Token], at: usize) -> Vec<Piece> {
    let mut out = Vec::new();
    for (height, end) in of_kind(tokens, at + 1, D::Length, None) {
        out.push(piece(Clause::Wall(height, None), at, end));
        if tokens.get(end).is_some_and(|t| t.word == "at") {
            for (distance, end) in of_kind(tokens, end + 1, D::Length, None) {
                out.push(piece(Clause::Wall(height, Some(distance)), at, end));
            }
        }
    }
    if out.is_empty() {
        out.push(lacks(tokens, at, D::Length, "wall 1.35m at 4.1m"));
    }
    out
}

/// `flyer because ...`: the reason goes on to the end, or to `note`.
fn flyer(tokens: &[Token], at: usize) -> Vec<Piece> {
    let end = tokens
        .iter()
        .enumerate()
        .skip(at + 2)
        .find(|(_, t)| t.word == "note")
        .map_or(tokens.len(), |(i, _)| i);
    let has_because = tokens.get(at + 1).is_some_and(|t| t.word == "because");
    if !has_because || end < at + 3 {
        return vec![piece(
            wrong(
                "no-reason",
                "flyer",
                "a flyer is left out of the fit, and the log must say why".to_string(),
                "write `flyer because wind gust`, at the end of the line",
            ),
            at,
            at + 1,
        )];
    }
    vec![piece(Clause::Flyer(text(tokens, at + 2, end)), at, end)]
}

/// Spots: by `spot NAME`, `from NAME`, `at NAME`, or the name alone; a beginning of the name that fits
/// one spot only is enough, unless it is a word of its own.
fn spots_at(tokens: &[Token], at: usize, spots: &[String], is_keyword: bool, out: &mut Vec<Piece>) {
    let word = |i: usize| tokens.get(i).map_or("", |t| t.word.as_str());
    let led = matches!(word(at), "spot" | "from" | "at");
    let from = if led { at + 1 } else { at };
    let mut found = 0;
    for name in spots {
        let words: Vec<String> = name.to_lowercase().split_whitespace().map(String::from).collect();
        if !words.is_empty() && words.iter().enumerate().all(|(i, w)| word(from + i) == w) {
            out.push(piece(Clause::Spot(name.clone()), at, from + words.len()));
            found += 1;
        }
    }
    let begun = word(from);
    let may_begin = !begun.is_empty() && (led || !is_keyword) && !is_numeric(begun);
    if found == 0 && may_begin {
        let fitting: Vec<&String> = spots
            .iter()
            .filter(|n| n.to_lowercase().starts_with(begun))
            .collect();
        match fitting.as_slice() {
            [] => {}
            [only] => out.push(piece(Clause::Spot((*only).clone()), at, from + 1)),
            several => {
                let names: Vec<String> = several.iter().map(|n| format!("`{n}`")).collect();
                out.push(piece(
                    wrong(
                        "two-readings",
                        begun,
                        format!("`{begun}` can be {}", names.join(" or ")),
                        "write more letters of its name",
                    ),
                    at,
                    from + 1,
                ));
            }
        }
    }
    if word(at) == "spot" && out.is_empty() {
        out.push(piece(
            wrong(
                "no-such-spot",
                begun,
                format!("there is no spot called `{begun}`"),
                format!("use one of: {}", spots.join(", ")),
            ),
            at,
            at + 1,
        ));
    }
}
