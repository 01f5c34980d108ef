//! What was said about a shot, put together from its clauses.

use arcwright_model::finding::Finding;
use arcwright_model::target::Outcome;

use super::clause::{Clause, Piece};

/// A direction of a miss.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sideways {
    /// Before the centre.
    Short,
    /// Beyond it.
    Long,
    /// To the left.
    Left,
    /// To the right.
    Right,
}

impl Sideways {
    pub(super) fn of(word: &str) -> Option<Sideways> {
        match word {
            "short" => Some(Sideways::Short),
            "long" => Some(Sideways::Long),
            "left" => Some(Sideways::Left),
            "right" => Some(Sideways::Right),
            _ => None,
        }
    }

    fn outcome(self) -> Outcome {
        match self {
            Sideways::Short => Outcome::Short,
            Sideways::Long => Outcome::Long,
            Sideways::Left => Outcome::Left,
            Sideways::Right => Outcome::Right,
        }
    }

    fn is_along(self) -> bool {
        matches!(self, Sideways::Short | Sideways::Long)
    }

    fn signed(self, amount: f64) -> f64 {
        match self {
            Sideways::Long | Sideways::Left => amount,
            Sideways::Short | Sideways::Right => -amount,
        }
    }
}

/// Where a time of flight ended.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FallTo {
    /// At the opening.
    Rim,
    /// On the floor.
    Floor,
    /// At a height of the piece's centre, metres.
    Height(f64),
}

/// Where it was thrown from.
#[derive(Clone, Debug, PartialEq)]
pub enum Place {
    /// A spot by its full name.
    Spot(String),
    /// A distance to the near rim, metres.
    Distance(f64),
}

/// What an edit can take out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Field {
    /// Landing.
    Landing,
    /// Height at a wall.
    Wall,
    /// Time of flight.
    Fall,
    /// Miss by eye.
    Miss,
    /// Outcome.
    Outcome,
    /// Measured speed before.
    Before,
    /// Measured speed after.
    After,
    /// Battery.
    Battery,
    /// Mark of the piece.
    Piece,
    /// Exit from a film.
    Exit,
    /// Jam.
    Jam,
    /// Remark.
    Note,
}

const FIELDS: [(&str, Field); 12] = [
    ("land", Field::Landing),
    ("wall", Field::Wall),
    ("fall", Field::Fall),
    ("miss", Field::Miss),
    ("outcome", Field::Outcome),
    ("before", Field::Before),
    ("after", Field::After),
    ("battery", Field::Battery),
    ("piece", Field::Piece),
    ("exit", Field::Exit),
    ("jam", Field::Jam),
    ("note", Field::Note),
];

impl Field {
    pub(super) fn of(word: &str) -> Option<Field> {
        FIELDS.iter().find(|(w, _)| *w == word).map(|(_, f)| *f)
    }

    pub(super) fn all() -> String {
        let words: Vec<&str> = FIELDS.iter().map(|(w, _)| *w).collect();
        format!("without {}", words.join(", without "))
    }
}

/// Everything said about a shot. SI.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Said {
    /// Where from.
    pub place: Option<Place>,
    /// Sideways from the target's axis, left positive.
    pub offset_m: Option<f64>,
    /// Wheel speed asked for.
    pub setpoint_radps: Option<f64>,
    /// Measured before.
    pub before_radps: Option<f64>,
    /// Measured after.
    pub after_radps: Option<f64>,
    /// Battery.
    pub battery_v: Option<f64>,
    /// Mark of the piece.
    pub piece: Option<u32>,
    /// Place in the volley from 1, and the throws of the volley.
    pub throw: Option<(u32, Option<u32>)>,
    /// Knob.
    pub slide_m: Option<f64>,
    /// Knob.
    pub tilt_rad: Option<f64>,
    /// Knob.
    pub reach_m: Option<f64>,
    /// Turned on purpose, left positive.
    pub turned_rad: Option<f64>,
    /// What became of it.
    pub outcome: Option<Outcome>,
    /// Amount beyond (positive) or before.
    pub along_m: Option<f64>,
    /// Amount to the left (positive) or right.
    pub across_m: Option<f64>,
    /// Landing along.
    pub land_m: Option<f64>,
    /// Height at a wall, and the wall's distance.
    pub wall: Option<(f64, Option<f64>)>,
    /// Time of flight and where it ended.
    pub fall: Option<(f64, Option<FallTo>)>,
    /// Exit speed from a film.
    pub exit_speed_mps: Option<f64>,
    /// Exit angle from a film.
    pub exit_angle_rad: Option<f64>,
    /// It jammed.
    pub jammed: bool,
    /// Why it is left out of the fit.
    pub flyer: Option<String>,
    /// Remark.
    pub note: Option<String>,
    /// What an edit takes out.
    pub without: Vec<Field>,
}

type Fault = (usize, Finding);
/// Place of a fault of the line as a whole.
const WHOLE: usize = usize::MAX;

fn set<T: PartialEq>(slot: &mut Option<T>, value: T, what: &str, at: usize) -> Result<(), Fault> {
    if slot.is_some() {
        return Err((
            at,
            Finding::new(
                "said-twice",
                what,
                format!("{what} is said twice"),
                "say it once; two shots go on two lines",
            ),
        ));
    }
    *slot = Some(value);
    Ok(())
}

/// Puts clauses together; the fault says at which word.
pub(super) fn assemble(pieces: &[Piece]) -> Result<Said, Fault> {
    let mut said = Said::default();
    // Directions without an amount, with their place.
    let mut plain: Vec<(Sideways, usize)> = Vec::new();
    for p in pieces {
        let at = p.end;
        match p.clause.clone() {
            Clause::Nothing => {}
            Clause::Spot(name) => set(&mut said.place, Place::Spot(name), "the spot", at)?,
            Clause::From(v) => set(&mut said.place, Place::Distance(v), "the spot", at)?,
            Clause::Offset(v) => set(&mut said.offset_m, v, "the offset", at)?,
            Clause::Setpoint(v) => set(&mut said.setpoint_radps, v, "the wheel speed", at)?,
            Clause::Before(v) => set(&mut said.before_radps, v, "the speed before", at)?,
            Clause::After(v) => set(&mut said.after_radps, v, "the speed after", at)?,
            Clause::Battery(v) => set(&mut said.battery_v, v, "the battery voltage", at)?,
            Clause::Piece(n) => set(&mut said.piece, n, "the piece", at)?,
            Clause::Throw(n, of) => set(&mut said.throw, (n, of), "the place in the volley", at)?,
            Clause::Slide(v) => set(&mut said.slide_m, v, "the slide", at)?,
            Clause::Tilt(v) => set(&mut said.tilt_rad, v, "the tilt", at)?,
            Clause::Reach(v) => set(&mut said.reach_m, v, "the reach", at)?,
            Clause::Turned(v) => set(&mut said.turned_rad, v, "how far it was turned", at)?,
            Clause::Outcome(o) => set(&mut said.outcome, o, "what became of it", at)?,
            Clause::Side(side, None) => plain.push((side, at)),
            Clause::Side(side, Some(v)) => {
                if v < 0.0 {
                    return Err((
                        at,
                        Finding::new(
                            "minus",
                            "amount",
                            "an amount behind a direction has no minus sign",
                            "say the other direction instead: long or short, left or right",
                        ),
                    ));
                }
                let slot = if side.is_along() {
                    &mut said.along_m
                } else {
                    &mut said.across_m
                };
                let what = if side.is_along() {
                    "how far long or short"
                } else {
                    "how far left or right"
                };
                set(slot, side.signed(v), what, at)?;
            }
            Clause::Land(v) => set(&mut said.land_m, v, "the landing", at)?,
            Clause::Wall(h, d) => set(&mut said.wall, (h, d), "the height at the wall", at)?,
            Clause::Fall(t, to) => set(&mut said.fall, (t, to), "the time of flight", at)?,
            Clause::ExitSpeed(v) => set(&mut said.exit_speed_mps, v, "the exit speed", at)?,
            Clause::ExitAngle(v) => set(&mut said.exit_angle_rad, v, "the exit angle", at)?,
            Clause::Jam => said.jammed = true,
            Clause::Flyer(why) => set(&mut said.flyer, why, "why it is left out", at)?,
            Clause::Note(note) => set(&mut said.note, note, "the note", at)?,
            Clause::Without(field) => said.without.push(field),
            Clause::Stray(text, meanings) => {
                return Err((
                    WHOLE,
                    Finding::new(
                        super::STRAY,
                        text.clone(),
                        format!("`{text}` stands without a word"),
                        format!("it could be {meanings}"),
                    ),
                ));
            }
            Clause::Wrong(f) => return Err((at, f)),
        }
    }
    directions(&mut said, &plain)?;
    Ok(said)
}

/// Directions without an amount: one alone is the outcome.
fn directions(said: &mut Said, plain: &[(Sideways, usize)]) -> Result<(), Fault> {
    // The whole line was understood: that is farther than any word of it.
    let half = |what: String, fix: &str| Err((WHOLE, Finding::new("half-said", "direction", what, fix)));
    match plain {
        [] => {}
        [(side, _)] if said.along_m.is_some() || (said.across_m.is_some() && said.land_m.is_none()) => {
            return half(
                format!(
                    "`{}` has no amount and another direction has one",
                    side.outcome().word()
                ),
                "say how far for both, or for neither: `long 12cm left 5cm`",
            );
        }
        [(side, at)] => set(&mut said.outcome, side.outcome(), "what became of it", *at)?,
        [(a, _), (b, _), ..] => {
            let (a, b) = (a.outcome().word(), b.outcome().word());
            return half(
                format!("`{a}` and `{b}` are two outcomes"),
                "say the one it missed by most, or how far for each: `short 10cm left 20cm`",
            );
        }
    }
    if said.land_m.is_some() && said.along_m.is_some() {
        return Err((
            WHOLE,
            Finding::new(
                "two-readings",
                "land",
                "a landing by tape and a miss by eye in one line: the sideways amount could belong to either",
                "keep the tape: `land 4.21m 3cm left`; or the eye: `long 12cm left 3cm`",
            ),
        ));
    }
    Ok(())
}
