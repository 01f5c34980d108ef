//! Measuring the own pieces: what to do, what readings give, how much the answer of the feed depends on it.

use arcwright_model::feed::measure::{
    CONFIDENCE_FRAC, FEWEST, MOST, Measured, Property, Unusable, ends, measured,
};
use arcwright_model::feed::remedy::{Ranked, Ranking, rank};
use arcwright_model::finding::{Finding, nearest};
use arcwright_model::project::Project;
use arcwright_model::units::{self, Dimension as D, shortest};
use serde_json::{Value, json};

use super::parts;
use super::words::{percent, range};
use crate::project::Change;
use crate::tasks::json::{head, num, with};

/// How one property is measured.
pub struct Guide {
    /// The property.
    pub property: Property,
    /// Its name, as it is asked for.
    pub name: &'static str,
    /// In words.
    pub title: &'static str,
    /// The key that it is written to.
    pub key: &'static str,
    /// What to do.
    pub how: &'static str,
    /// The formula.
    pub formula: &'static str,
    /// What one reading is.
    pub reading: &'static str,
    /// What it is measured in.
    pub reads: D,
    /// One reading as an example.
    pub example: &'static str,
    /// What the length beside the readings is; empty where none is needed.
    pub base: &'static str,
    /// That length as an example.
    pub base_example: &'static str,
    /// What goes wrong easily.
    pub mind: &'static str,
}

/// All of them.
pub const GUIDES: &[Guide] = &[
    Guide {
        property: Property::Friction,
        name: "friction",
        title: "Friction of a piece on the hopper",
        key: "feed.friction",
        how: "Tape three pieces together so that they cannot roll. Put them on a board of the hopper's material and lift one end slowly until they slide.",
        formula: "friction = tan(angle)",
        reading: "angle at which they slide",
        reads: D::Angle,
        example: "17 deg",
        base: "",
        base_example: "",
        mind: "Turn the pieces between tries, wipe dust off, and use the sides that wear in a match. A board that shakes lets them go early.",
    },
    Guide {
        property: Property::PieceFriction,
        name: "piece-friction",
        title: "Friction of one piece on another",
        key: "feed.piece_friction",
        how: "The same with a board covered with cut shells, or with a second taped set fixed to the board.",
        formula: "friction = tan(angle)",
        reading: "angle at which they slide",
        reads: D::Angle,
        example: "19 deg",
        base: "",
        base_example: "",
        mind: "Holes and seams that catch each other are no friction: set them on smooth places, and read again.",
    },
    Guide {
        property: Property::Rolling,
        name: "rolling",
        title: "Rolling resistance",
        key: "feed.rolling",
        how: "Put one piece on the board, give it the slightest push and find the tilt at which it just keeps rolling.",
        formula: "rolling = tan(angle)",
        reading: "angle at which it keeps rolling",
        reads: D::Angle,
        example: "0.8 deg",
        base: "",
        base_example: "",
        mind: "Turn the board around and read again: a floor that slopes adds to one and takes from the other.",
    },
    Guide {
        property: Property::Bounce,
        name: "bounce",
        title: "Bounce",
        key: "piece.bounce",
        how: "Let a piece fall from rest, its lowest point at a known height above the hopper's floor material. Film it from the side at the height of the rebound, before a tape.",
        formula: "bounce = √(rebound/drop)",
        reading: "height of the rebound, lowest point",
        reads: D::Length,
        example: "36 cm",
        base: "height of the drop, lowest point",
        base_example: "1 m",
        mind: "A camera above or below the rebound reads it wrong. Let go without a turn.",
    },
    Guide {
        property: Property::Stiffness,
        name: "stiffness",
        title: "Stiffness",
        key: "piece.stiffness",
        how: "Put the piece on a kitchen scale with a board below and above. Press it together by a known length, about as much as the roller does, and read the scale.",
        formula: "stiffness = 9.81 m/s² × mass/squeeze",
        reading: "mass on the scale",
        reads: D::Mass,
        example: "3 kg",
        base: "squeeze",
        base_example: "10 mm",
        mind: "Set the scale to zero with board and piece on it. Keep fingers out from between the boards; a piece that slips out jumps.",
    },
];

/// The guide of a property by its name.
///
/// # Errors
/// `no-such-property`.
pub fn guide(name: &str) -> Result<&'static Guide, Finding> {
    GUIDES.iter().find(|g| g.name == name).ok_or_else(|| {
        let names: Vec<&str> = GUIDES.iter().map(|g| g.name).collect();
        let near =
            nearest(name, names.iter().copied()).map_or(String::new(), |n| format!("did you mean `{n}`? "));
        Finding::new(
            "no-such-property",
            "what",
            format!("`{name}` is nothing that is measured here"),
            format!("{near}there are {}", names.join(", ")),
        )
    })
}

/// A property measured, with the answer of the feed over its interval.
pub struct Reading {
    /// How.
    pub guide: &'static Guide,
    /// What the readings give.
    pub measured: Measured,
    /// Loads at the value, at the low and the high end; none where no hopper is described.
    pub across: Option<Ranking>,
    /// What goes into the file: the value to three digits.
    pub written_si: f64,
}

/// Method: loads at each of the three values; the pairing makes up for the small number.
const LOADS: usize = 128;
/// Method: digits of a value worth writing.
const DIGITS: i32 = 3;

/// Readings of a property as texts with units.
///
/// # Errors
/// What is wrong with a reading and where.
pub fn read(
    project: &Project,
    guide: &'static Guide,
    readings: &[String],
    base: Option<&str>,
) -> Result<Reading, Finding> {
    let quantity = |key: String, text: &str, dimension| {
        units::parse(text, dimension).map_err(|e| Finding::new(e.code, key, e.what, e.fix))
    };
    let mut all = Vec::new();
    for (i, text) in readings
        .iter()
        .map(|t| t.trim())
        .filter(|t| !t.is_empty())
        .enumerate()
    {
        all.push(quantity(format!("reading {}", i + 1), text, guide.reads)?);
    }
    let base_m = match base.map(str::trim).filter(|b| !b.is_empty()) {
        Some(text) if !guide.base.is_empty() => quantity(guide.base.to_string(), text, D::Length)?,
        _ => 0.0,
    };
    let measured = measured(guide.property, &all, base_m).map_err(|why| unusable(guide, readings, why))?;
    let written_si = three_digits(measured.value);
    let across = match parts(project) {
        Ok((hopper, pieces)) if !project.hopper_faults().iter().any(|f| f.lint.fault.refused()) => {
            let ((hopper, pieces), both) = ends(&measured, &hopper, &pieces);
            let mut go_on = |_: &Ranked| true;
            rank(&hopper, &pieces, &both, 1, LOADS, &mut go_on).ok()
        }
        _ => None,
    };
    Ok(Reading {
        guide,
        measured,
        across,
        written_si,
    })
}

fn unusable(guide: &Guide, readings: &[String], why: Unusable) -> Finding {
    match why {
        Unusable::Count(n) => Finding::new(
            "readings-few",
            "readings",
            format!("{n} readings are given"),
            format!("give {FEWEST} to {MOST}: from fewer nobody can tell how far they scatter"),
        ),
        Unusable::Base => Finding::new(
            "out-of-range",
            guide.base,
            format!("the {} is missing, or not above zero", guide.base),
            format!("give it, such as {}", guide.base_example),
        ),
        Unusable::Reading(i) => Finding::new(
            "out-of-range",
            format!("reading {}", i + 1),
            format!(
                "`{}` cannot be the {}",
                readings.get(i).map_or("", |r| r.trim()),
                guide.reading
            ),
            match guide.property {
                Property::Bounce => "it is above zero and below the height of the drop".to_string(),
                Property::Stiffness => "it is above zero".to_string(),
                _ => "it is above zero and below 80 deg".to_string(),
            },
        ),
    }
}

fn three_digits(v: f64) -> f64 {
    let within = 0.5 * 10f64.powf(v.abs().log10().floor() - f64::from(DIGITS) + 1.0);
    shortest(v, |t| t.parse::<f64>().is_ok_and(|x| (x - v).abs() <= within))
        .and_then(|t| t.parse().ok())
        .unwrap_or(v)
}

impl Reading {
    /// What is changed in the file.
    pub fn change(&self) -> Change {
        Change {
            key: self.guide.key.to_string(),
            value_si: self.written_si,
        }
    }

    /// A value in words.
    fn say(&self, project: &Project, v: f64) -> String {
        match self.guide.property {
            Property::Stiffness => project.say(v, D::Stiffness),
            _ => format!("{}", (v * 1e4).round() / 1e4),
        }
    }

    /// The answer in sentences.
    pub fn words(&self, project: &Project) -> Vec<String> {
        let m = &self.measured;
        let say = |v: f64| self.say(project, v);
        let n = m.values.len();
        let mut all = vec![
            format!(
                "{}: {} (between {} and {}).",
                self.guide.title,
                say(m.value),
                say(m.range[0]),
                say(m.range[1])
            ),
            format!(
                "{}. The mean of {n} readings; they scatter by {} (standard deviation), which leaves ± {} of the mean (Student's t, {:.3} for {} at {:.0} %); the marks of the instruments leave ± {}.",
                self.guide.formula,
                say(m.sd),
                say(m.scatter_ratio * m.value),
                m.t_ratio,
                n - 1,
                100.0 * CONFIDENCE_FRAC,
                say(m.marks_ratio * m.value)
            ),
        ];
        if let Some(r) = &self.across {
            let at = |code: &str| {
                r.compared
                    .iter()
                    .find(|c| c.remedy.code == code)
                    .map_or("?".to_string(), |c| percent(c.stuck.frac))
            };
            let matters = r.compared.iter().any(|c| c.established);
            all.push(format!(
                "For this hopper: a long wait in {} ({}) of the loads; {} at the low end, {} at the high end of the interval, on the same {} loads. {}",
                percent(r.now.frac),
                range(&r.now),
                at("low"),
                at("high"),
                r.load_count,
                if matters {
                    "So it matters: more readings would pay."
                } else {
                    "A difference is not established: it is known well enough for this hopper, as far as these loads tell."
                }
            ));
        }
        all
    }
}

/// The guides for whoever asks.
pub fn guides_json() -> Value {
    GUIDES
        .iter()
        .map(|g| {
            json!({
                "name": g.name, "title": g.title, "key": g.key, "how": g.how, "formula": g.formula, "reading": g.reading,
                "example": g.example, "base": g.base, "base_example": g.base_example, "mind": g.mind,
            })
        })
        .collect()
}

/// `measure`.
pub fn json(project: &Project, r: &Reading) -> Value {
    let m = &r.measured;
    with(
        head("measure", project),
        json!({
            "what": r.guide.name,
            "key": r.guide.key,
            "value_si": num(m.value),
            "interval_si": m.range.map(num),
            "confidence_frac": CONFIDENCE_FRAC,
            "each_si": m.values.iter().map(|v| num(*v)).collect::<Vec<_>>(),
            "sd_si": num(m.sd),
            "t_ratio": num(m.t_ratio),
            "scatter_half_si": num(m.scatter_ratio * m.value),
            "marks_half_si": num(m.marks_ratio * m.value),
            "written_si": num(r.written_si),
            "says": r.words(project),
            "across": r.across.as_ref().map(|a| json!({
                "loads": a.load_count,
                "wedged": crate::tasks::json::feed::share(&a.now),
                "ends": a.compared.iter().map(|c| json!({
                    "end": c.remedy.code,
                    "wedged": crate::tasks::json::feed::share(&c.stuck),
                    "established": c.established,
                })).collect::<Vec<_>>(),
            })),
        }),
    )
}
