//! The columns of a table of shots: one list for bringing in and taking out.

use arcwright_model::finding::nearest;
use arcwright_model::project::Project;
use arcwright_model::units::{self, Dimension as D, show};

use crate::store::Entry;

/// A column.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs)] // the table below says what each is
pub enum Column {
    Shot,
    Session,
    SessionName,
    Time,
    Day,
    Spot,
    Distance,
    Offset,
    Turned,
    Slide,
    Tilt,
    Reach,
    Setpoint,
    Before,
    After,
    Battery,
    Piece,
    Throw,
    Of,
    LandingAlong,
    LandingAcross,
    LandingHeight,
    WallDistance,
    WallHeight,
    Fall,
    FallHeight,
    MissAlong,
    MissAcross,
    Outcome,
    ExitSpeed,
    ExitAngle,
    Jammed,
    LeftOut,
    Note,
    Words,
}

/// Name, other names that people give it, and its kind of quantity if it is one.
type About = (Column, &'static str, &'static [&'static str], Option<D>);

use Column as C;

/// All columns, in the order of an export.
pub const ALL: &[About] = &[
    (C::Shot, "shot", &["number", "no", "nr", "id"], None),
    (C::Session, "session", &[], None),
    (C::SessionName, "session name", &[], None),
    (
        C::Time,
        "time",
        &["time utc", "date time", "datetime", "timestamp", "when", "clock"],
        None,
    ),
    (C::Day, "day", &["date"], None),
    (C::Spot, "spot", &["place", "position", "station"], None),
    (
        C::Distance,
        "distance",
        &["range", "dist", "from"],
        Some(D::Length),
    ),
    (C::Offset, "offset", &["spot offset"], Some(D::Length)),
    (C::Turned, "turned", &["turned left", "heading"], Some(D::Angle)),
    (C::Slide, "slide", &[], Some(D::Length)),
    (
        C::Tilt,
        "tilt",
        &["hood", "hood angle", "hood tilt"],
        Some(D::Angle),
    ),
    (C::Reach, "reach", &[], Some(D::Length)),
    (
        C::Setpoint,
        "wheel speed",
        &[
            "setpoint",
            "speed",
            "wheel",
            "target speed",
            "rpm",
            "wheel rpm",
            "target rpm",
        ],
        Some(D::AngularSpeed),
    ),
    (
        C::Before,
        "speed before",
        &["before", "wheel before", "rpm before"],
        Some(D::AngularSpeed),
    ),
    (
        C::After,
        "speed after",
        &["after", "wheel after", "rpm after"],
        Some(D::AngularSpeed),
    ),
    (
        C::Battery,
        "battery",
        &["voltage", "volts", "battery voltage", "v"],
        Some(D::Voltage),
    ),
    (C::Piece, "piece", &["ball", "ball number", "piece number"], None),
    (C::Throw, "throw", &["throw in volley", "place in volley"], None),
    (C::Of, "throws in volley", &["of", "volley", "volley size"], None),
    (
        C::LandingAlong,
        "landing along",
        &["landing", "landed", "landed at", "land", "landing distance"],
        Some(D::Length),
    ),
    (
        C::LandingAcross,
        "landing left",
        &["landing across", "landing sideways", "landed left"],
        Some(D::Length),
    ),
    (C::LandingHeight, "landing height", &[], Some(D::Length)),
    (C::WallDistance, "wall distance", &[], Some(D::Length)),
    (
        C::WallHeight,
        "wall height",
        &["height at wall", "wall"],
        Some(D::Length),
    ),
    (
        C::Fall,
        "time of flight",
        &["flight time", "flight", "fall", "fall time", "air time"],
        Some(D::Time),
    ),
    (
        C::FallHeight,
        "fall height",
        &["time of flight to height"],
        Some(D::Length),
    ),
    (
        C::MissAlong,
        "miss beyond",
        &["miss along", "miss long", "long", "long by"],
        Some(D::Length),
    ),
    (
        C::MissAcross,
        "miss left",
        &["miss across", "miss sideways", "left", "left by"],
        Some(D::Length),
    ),
    (C::Outcome, "outcome", &["result", "in or out"], None),
    (
        C::ExitSpeed,
        "exit speed",
        &["launch speed", "ball speed"],
        Some(D::Speed),
    ),
    (C::ExitAngle, "exit angle", &["launch angle"], Some(D::Angle)),
    (C::Jammed, "jammed", &["jam"], None),
    (C::LeftOut, "left out because", &["left out", "flyer"], None),
    (
        C::Note,
        "note",
        &["notes", "remark", "remarks", "comment", "comments"],
        None,
    ),
    (C::Words, "words", &[], None),
];

impl Column {
    fn about(self) -> Option<&'static About> {
        ALL.iter().find(|a| a.0 == self)
    }

    /// Our name.
    pub fn name(self) -> &'static str {
        self.about().map_or("", |a| a.1)
    }

    /// Its kind of quantity.
    pub fn dimension(self) -> Option<D> {
        self.about()?.3
    }

    /// The unit that goes without saying, as in a line typed.
    pub fn unsaid_unit(self) -> Option<&'static str> {
        match self.dimension()? {
            D::AngularSpeed => Some("rpm"),
            D::Voltage => Some("V"),
            D::Time => Some("s"),
            D::Angle => Some("deg"),
            _ => None,
        }
    }

    /// Between which sizes (SI) such a value of this project can lie; of its magnitude.
    pub fn plausible(self, project: &Project, top_radps: f64) -> Option<(f64, f64)> {
        /// Physical: places and landings of a thrower for indoors lie within this.
        const ROOM_M: f64 = 40.0;
        let battery = &project.machine.battery;
        Some(match self {
            C::Distance | C::LandingAlong | C::WallDistance => (0.15, ROOM_M),
            C::Setpoint | C::Before | C::After => (0.03 * top_radps, 1.4 * top_radps),
            C::Battery => (0.5 * battery.brown_out_v, 1.35 * battery.open_v),
            C::Fall => (0.08, 8.0),
            C::Turned | C::Tilt | C::ExitAngle => (0.0, std::f64::consts::FRAC_PI_2),
            C::ExitSpeed => (0.3, 60.0),
            C::Slide | C::Reach => (0.0, 1.0),
            C::Offset | C::LandingAcross | C::MissAlong | C::MissAcross => (0.0, 10.0),
            C::LandingHeight | C::WallHeight | C::FallHeight => (0.0, 20.0),
            _ => return None,
        })
    }

    /// The value of a quantity in an entry.
    pub fn get(self, e: &Entry) -> Option<f64> {
        match self {
            C::Distance => Some(e.distance_m),
            C::Offset => Some(e.offset_m),
            C::Turned => Some(e.turned_rad),
            C::Slide => Some(e.slide_m),
            C::Tilt => Some(e.tilt_rad),
            C::Reach => Some(e.reach_m),
            C::Setpoint => Some(e.setpoint_radps),
            C::Before => e.before_radps,
            C::After => e.after_radps,
            C::Battery => e.battery_v,
            C::LandingAlong => e.landing_m.map(|[x, _, _]| x),
            C::LandingAcross => e.landing_m.map(|[_, x, _]| x),
            C::LandingHeight => e.landing_m.map(|[_, _, x]| x),
            C::WallDistance => e.wall_m.map(|[x, _]| x),
            C::WallHeight => e.wall_m.map(|[_, x]| x),
            C::Fall => e.fall.map(|f| f.0),
            C::FallHeight => e.fall.map(|f| f.1),
            C::MissAlong => e.miss_m.map(|[x, _]| x),
            C::MissAcross => e.miss_m.map(|[_, x]| x),
            C::ExitSpeed => e.exit_speed_mps,
            C::ExitAngle => e.exit_angle_rad,
            _ => None,
        }
    }

    /// What is not a quantity, as text.
    pub fn text(self, e: &Entry) -> String {
        let number = |n: Option<u32>| n.map_or(String::new(), |n| n.to_string());
        match self {
            C::Spot => e.spot.clone(),
            C::Piece => number(e.piece),
            C::Throw => e.place.to_string(),
            C::Of => number(e.volley_count),
            C::Outcome => e.outcome.map_or(String::new(), |o| o.word().to_string()),
            C::Jammed => if e.jammed { "yes" } else { "" }.to_string(),
            C::LeftOut => e.left_out_because.clone().unwrap_or_default(),
            C::Note => e.note.clone(),
            _ => String::new(),
        }
    }
}

/// The unit in which a quantity is read by the people of this project, in a table.
pub fn users_unit(project: &Project, d: D) -> &'static str {
    show::unit(1.0, d, show::Scale::Large, project.units).symbol
}

/// What a column's head says.
#[derive(Clone, Debug, PartialEq)]
pub struct Head {
    /// Column.
    pub column: Column,
    /// Unit, if it has one.
    pub unit: Option<String>,
}

/// Letters and digits in lower case, words one space apart.
fn plain(text: &str) -> String {
    let spaced: String = text
        .chars()
        .map(|c| {
            if c.is_alphanumeric() || c == '/' || c == '%' || c == '°' {
                c
            } else {
                ' '
            }
        })
        .collect();
    spaced
        .to_lowercase()
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ")
}

fn is_unit(text: &str) -> bool {
    D::ALL
        .iter()
        .any(|d| units::parse(&format!("1 {text}"), *d).is_ok())
}

/// A unit as people write it in a head: `(ft)`, `[rpm]`, `_m`, `, cm`, `in mm`.
fn unit_of(head: &str) -> (String, Option<String>) {
    for (open, close) in [('(', ')'), ('[', ']')] {
        if let Some((before, rest)) = head.split_once(open)
            && let Some((inside, after)) = rest.split_once(close)
            && is_unit(inside.trim())
        {
            return (
                plain(&format!("{before} {after}")),
                Some(inside.trim().to_string()),
            );
        }
    }
    let words: Vec<&str> = head
        .split(|c: char| c.is_whitespace() || c == '_' || c == ',' || c == ':')
        .filter(|w| !w.is_empty())
        .collect();
    if let [before @ .., last] = words.as_slice()
        && let Some(unit) = written_unit(last).filter(|_| !before.is_empty())
    {
        let before = match before {
            [rest @ .., "in"] if !rest.is_empty() => rest,
            all => all,
        };
        return (plain(&before.join(" ")), Some(unit));
    }
    (plain(head), None)
}

/// A last word that is a unit, also as it stands in names: `mps`, `radps`.
fn written_unit(word: &str) -> Option<String> {
    match word {
        "mps" => Some("m/s".into()),
        "radps" => Some("rad/s".into()),
        "left" | "right" => None,
        w if is_unit(&w.to_lowercase()) => Some(w.to_lowercase()),
        w if is_unit(w) => Some(w.to_string()),
        _ => None,
    }
}

/// The column that a head most likely means; `None` where it is none of ours.
pub fn of_head(head: &str) -> Option<Head> {
    let (name, unit) = unit_of(head);
    let fits = |column: Column| match (&unit, column.dimension()) {
        (Some(u), Some(d)) => units::parse(&format!("1 {u}"), d).is_ok(),
        (Some(_), None) => false,
        (None, _) => true,
    };
    let all = || {
        ALL.iter().flat_map(|a| {
            std::iter::once(a.1)
                .chain(a.2.iter().copied())
                .map(move |n| (n, a.0))
        })
    };
    let found = |name: &str| all().find(|(n, c)| *n == name && fits(*c)).map(|(_, c)| c);
    // A head that is only a unit, such as `rpm`, is a name too and says its unit.
    if unit.is_none()
        && let Some(column) = found(&name)
    {
        let own = written_unit(head.trim()).filter(|u| {
            column
                .dimension()
                .is_some_and(|d| units::parse(&format!("1 {u}"), d).is_ok())
        });
        let last_word = name
            .split(' ')
            .next_back()
            .filter(|w| *w == "rpm")
            .map(String::from);
        return Some(Head {
            column,
            unit: own.or(last_word),
        });
    }
    let column = found(&name).or_else(|| found(&plain(head))).or_else(|| {
        let near = nearest(
            &name,
            all().filter(|(n, c)| n.len() > 3 && fits(*c)).map(|(n, _)| n),
        )?;
        found(near)
    })?;
    Some(Head { column, unit })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn heads_say_their_column_and_their_unit() {
        let said = |head: &str| {
            let h = of_head(head).unwrap_or_else(|| panic!("{head}: no column"));
            (h.column, h.unit.unwrap_or_default())
        };
        let cases = [
            ("distance (ft)", C::Distance, "ft"),
            ("Distance [m]", C::Distance, "m"),
            ("distance_m", C::Distance, "m"),
            ("setpoint_radps", C::Setpoint, "rad/s"),
            ("rpm", C::Setpoint, "rpm"),
            ("RPM", C::Setpoint, "rpm"),
            ("wheel speed (rad/s)", C::Setpoint, "rad/s"),
            ("Volts", C::Battery, "volts"),
            ("Target RPM", C::Setpoint, "rpm"),
            ("Landing along (mm)", C::LandingAlong, "mm"),
            ("distence (ft)", C::Distance, "ft"),
            ("flight time in ms", C::Fall, "ms"),
            ("Result", C::Outcome, ""),
        ];
        for (head, column, unit) in cases {
            assert_eq!(said(head), (column, unit.to_string()), "{head}");
        }
        assert_eq!(of_head("shoe size"), None);
        assert_eq!(of_head("distance (rpm)"), None, "a distance is not in rpm");
    }

    #[test]
    fn every_name_of_a_column_finds_that_column() {
        for (column, name, others, _) in ALL {
            for n in std::iter::once(name).chain(others.iter()) {
                assert_eq!(of_head(n).map(|h| h.column), Some(*column), "{n}");
            }
        }
    }
}
