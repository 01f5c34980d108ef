//! Every key of the project file, once.
//!
//! The file's reader, the unknown-key message, the defaults, [`super::get`] and [`super::set`] and
//! the table in `docs/project-file.md` all come from these rows. A new key is a row here.

mod brief;
mod feed;
mod frame;
mod machine;
mod order;
mod reach;
mod season;

use super::{BaseKind, DriveBase, PieceKind, Project, Support};
use crate::launcher::{Layout, PartShape};
use crate::units::Dimension;
use crate::units::show::Scale;

/// What a key holds.
#[derive(Clone, Copy, Debug)]
pub enum Kind {
    /// A quantity, shown at a scale.
    Quantity(Dimension, Scale),
    /// A whole number.
    Count,
    /// `true` or `false`.
    Flag(fn(&mut Project, bool)),
    /// Free text.
    Text(fn(&mut Project, usize, &str)),
    /// One of a few words.
    Choice(&'static [&'static str], fn(&mut Project, usize, &str) -> bool),
    /// A pair of quantities, low and high.
    Pair(Dimension, Scale, fn(&mut Project, [f64; 2])),
    /// A list of quantities, of the least to the greatest length given.
    List(Dimension, Scale, [usize; 2], fn(&mut Project, &[f64])),
    /// A drag coefficient, or the word `smooth` for the smooth-sphere curve.
    Drag,
}

/// Must it be written?
#[derive(Clone, Copy, Debug)]
pub enum Need {
    /// Yes, where its table is written or the table itself must be.
    Required,
    /// No; nothing is assumed instead.
    Optional,
    /// No; this value (SI) is assumed, with this share of it as standard deviation (0: exact).
    Default(f64, f64),
    /// No; assumed from the kind of piece: value and share.
    ByKind(fn(PieceKind) -> (f64, f64)),
    /// No; follows from the rest of the project. In words for the docs.
    From(fn(&Project) -> f64, &'static str),
    /// Exactly one of this key and another; this one, or the other named here.
    OneOf(&'static str),
    /// At most one of this key and another named here.
    InsteadOf(&'static str),
}

/// In which projects a key has a meaning.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum When {
    /// In all.
    Always,
    /// One wheel and a guide.
    Guide,
    /// Two opposed wheels.
    Pair,
    /// A perforated piece.
    Perforated,
    /// A robot that drives in any direction.
    Sideways,
    /// A robot that drives along its own forward axis only.
    Tank,
    /// A part that is a disc or a ring.
    DiscOrRing,
    /// A part that is an annulus.
    Annulus,
    /// A part with known inertia.
    Known,
    /// A part with a mass.
    Weighed,
    /// A base with rollers at 45 degrees.
    Rollers,
    /// A wheel shaft in ball bearings.
    Ball,
    /// A wheel shaft in plain bushings.
    Bushing,
    /// A feed is described.
    Feed,
    /// Its roller is.
    FeedRoller,
    /// Its stirrer is.
    FeedStirrer,
    /// Its bands are.
    FeedBands,
}

impl When {
    /// The key that decides, as a pattern, and the words it must have; `None` where no word decides.
    pub fn decided_by(self) -> Option<(&'static str, &'static [&'static str])> {
        match self {
            When::Always | When::Feed | When::FeedRoller | When::FeedStirrer | When::FeedBands => None,
            When::Guide => Some(("launcher.layout", &["guide"])),
            When::Pair => Some(("launcher.layout", &["pair"])),
            When::Perforated => Some(("piece.kind", &["perforated"])),
            When::Sideways => Some(("moving.drive", &["sideways"])),
            When::Tank => Some(("moving.drive", &["tank"])),
            When::DiscOrRing => Some(("wheel.part[].kind", &["disc", "ring"])),
            When::Annulus => Some(("wheel.part[].kind", &["annulus"])),
            When::Known => Some(("wheel.part[].kind", &["known"])),
            When::Weighed => Some(("wheel.part[].kind", &["disc", "ring", "annulus"])),
            When::Rollers => Some(("frame.drive", &["sideways"])),
            When::Ball => Some(("frame.shaft.support", &["ball"])),
            When::Bushing => Some(("frame.shaft.support", &["bushing"])),
        }
    }

    /// Does it hold for this project (and part)?
    pub fn holds(self, project: &Project, index: usize) -> bool {
        let shape = project.machine.parts.get(index).map(|p| p.shape);
        match self {
            When::Always => true,
            When::Guide => matches!(project.machine.layout, Layout::Guide(_)),
            When::Pair => matches!(project.machine.layout, Layout::Pair(_)),
            When::Perforated => project.piece.kind == PieceKind::Perforated,
            When::Sideways => project.moving.drive == DriveBase::Sideways,
            When::Tank => project.moving.drive == DriveBase::Tank,
            When::DiscOrRing => match shape {
                Some(PartShape::Annulus { inner_m, .. }) => inner_m == 0.0,
                Some(PartShape::Ring { .. }) => true,
                _ => false,
            },
            When::Annulus => matches!(shape, Some(PartShape::Annulus { inner_m, .. }) if inner_m != 0.0),
            When::Known => matches!(shape, Some(PartShape::Known { .. })),
            When::Weighed => matches!(shape, Some(PartShape::Annulus { .. } | PartShape::Ring { .. })),
            When::Rollers => project
                .frame
                .as_ref()
                .is_some_and(|f| f.drive == BaseKind::Sideways),
            When::Ball => project.shaft().is_some_and(|s| s.support == Support::Ball),
            When::Bushing => project.shaft().is_some_and(|s| s.support == Support::Bushing),
            When::Feed => project.feed.is_some(),
            When::FeedRoller => project.feed.is_some_and(|f| f.hopper.roller.is_some()),
            When::FeedStirrer => project.feed.is_some_and(|f| f.hopper.stirrer.is_some()),
            When::FeedBands => project.feed.is_some_and(|f| f.hopper.bands.is_some()),
        }
    }
}

/// How a key reaches its place in a [`Project`].
#[derive(Clone, Copy, Debug)]
pub struct Access {
    /// Reads it.
    pub get: fn(&Project, usize) -> Option<f64>,
    /// Writes it; false if the project has no such place.
    pub set: fn(&mut Project, usize, f64) -> bool,
}

/// One key.
#[derive(Clone, Copy, Debug)]
pub struct Entry {
    /// Dotted key with `[]` for the place in a list: `spot[].distance`.
    pub key: &'static str,
    /// What it holds.
    pub kind: Kind,
    /// Must it be written?
    pub need: Need,
    /// In which projects it has a meaning.
    pub when: When,
    /// Least value that makes sense, SI. Wide: a value outside is a slip, not a design.
    pub low: f64,
    /// Greatest value that makes sense, SI.
    pub high: f64,
    /// May it carry a spread?
    pub spread: bool,
    /// A value as a person writes it, from the first demo.
    pub example: &'static str,
    /// One line for the docs.
    pub doc: &'static str,
    /// Place in the project.
    pub access: Access,
}

impl Need {
    /// Value and share of spread assumed where nothing is written.
    pub fn assumed(&self, project: &Project) -> Option<(f64, f64)> {
        match *self {
            Need::Default(value, share) => Some((value, share)),
            Need::ByKind(by_kind) => Some(by_kind(project.piece.kind)),
            Need::From(from, _) => Some((from(project), 0.0)),
            Need::Required | Need::Optional | Need::OneOf(_) | Need::InsteadOf(_) => None,
        }
    }
}

impl Entry {
    /// Is the value a number within the range?
    pub fn admits(&self, value: f64) -> bool {
        value >= self.low && value <= self.high
    }

    /// Dimension and scale of a key that holds numbers.
    pub fn measure(&self) -> Option<(Dimension, Scale)> {
        match self.kind {
            Kind::Quantity(d, s) | Kind::Pair(d, s, _) | Kind::List(d, s, ..) => Some((d, s)),
            Kind::Count => Some((Dimension::Count, Scale::Auto)),
            Kind::Drag => Some((Dimension::Number, Scale::Auto)),
            Kind::Flag(_) | Kind::Text(_) | Kind::Choice(..) => None,
        }
    }

    /// The table a key stands in: `spot[]` of `spot[].name`; empty at the top.
    pub fn table(&self) -> &'static str {
        self.key.rsplit_once('.').map_or("", |(table, _)| table)
    }

    /// Last part of the key.
    pub fn name(&self) -> &'static str {
        self.key.rsplit_once('.').map_or(self.key, |(_, name)| name)
    }
}

/// Every key in the order in which a file is best written.
pub fn entries() -> impl Iterator<Item = &'static Entry> {
    brief::FIRST
        .iter()
        .chain(machine::ENTRIES)
        .chain(frame::ENTRIES)
        .chain(season::ENTRIES)
        .chain(feed::ENTRIES)
        .chain(order::ENTRIES)
        .chain(brief::LAST)
}

pub use brief::NEWEST_FORMAT;

/// Is the drag assumed for a kind of piece the smooth-sphere curve? Its value is then a multiplier.
pub fn default_drag_is_smooth(kind: PieceKind) -> bool {
    matches!(kind, PieceKind::Hollow | PieceKind::Solid)
}

/// Does a key stand before another in the order of the file?
pub fn stands_before(key: &str, other: &str) -> bool {
    entries().map(|e| e.key).find(|k| *k == key || *k == other) == Some(key)
}

/// The entry with a pattern.
pub fn entry(pattern: &str) -> Option<&'static Entry> {
    entries().find(|e| e.key == pattern)
}

/// A table of the file and whether a project can do without it.
#[derive(Clone, Copy, Debug)]
pub struct Table {
    /// Pattern: `spot[]` for a list.
    pub pattern: &'static str,
    /// Must a file have it?
    pub required: bool,
    /// One line for the docs.
    pub doc: &'static str,
}

/// Every table, in the order in which a file is best written.
pub const TABLES: &[Table] = &[
    Table {
        pattern: "piece",
        required: true,
        doc: "The ball that is thrown.",
    },
    Table {
        pattern: "target",
        required: true,
        doc: "The opening it is thrown into.",
    },
    Table {
        pattern: "spot[]",
        required: true,
        doc: "A place on the floor to throw from; one table for each, nearest first.",
    },
    Table {
        pattern: "moving",
        required: false,
        doc: "How the robot moves at the moment of release; it stands still where this table is missing.",
    },
    Table {
        pattern: "limits",
        required: false,
        doc: "What the rules and the team ask for; nothing is asked where a line is missing.",
    },
    Table {
        pattern: "launcher",
        required: true,
        doc: "How the piece is held against the wheel.",
    },
    Table {
        pattern: "launcher.sheet",
        required: false,
        doc: "The sheet that the guide is bent from.",
    },
    Table {
        pattern: "wheel",
        required: true,
        doc: "The wheel, or each wheel of a pair.",
    },
    Table {
        pattern: "wheel.part[]",
        required: true,
        doc: "Everything that turns with one wheel shaft, for its inertia; at least one.",
    },
    Table {
        pattern: "setting",
        required: false,
        doc: "Where the mechanical knobs stand now.",
    },
    Table {
        pattern: "knobs",
        required: false,
        doc: "The knobs the machine has.",
    },
    Table {
        pattern: "knobs.slide",
        required: false,
        doc: "Travel of the hood's slide.",
    },
    Table {
        pattern: "knobs.tilt",
        required: false,
        doc: "Travel of the tilt.",
    },
    Table {
        pattern: "knobs.reach",
        required: false,
        doc: "Travel of the hood's reach.",
    },
    Table {
        pattern: "motor",
        required: true,
        doc: "One motor, from its sheet, all values at the nominal voltage.",
    },
    Table {
        pattern: "battery",
        required: true,
        doc: "The battery with its wiring.",
    },
    Table {
        pattern: "controller",
        required: false,
        doc: "The code that holds the wheel speed.",
    },
    Table {
        pattern: "robot",
        required: false,
        doc: "The rest of the machine; a verdict that needs a missing line stays `unknown`.",
    },
    Table {
        pattern: "frame",
        required: false,
        doc: "The drive base; `arcwright frame` answers from here on.",
    },
    Table {
        pattern: "frame.motor",
        required: false,
        doc: "One drive motor, from its sheet, all values at the nominal voltage.",
    },
    Table {
        pattern: "frame.shaft",
        required: false,
        doc: "The shaft of the launcher's wheel and what carries it.",
    },
    Table {
        pattern: "frame.power",
        required: false,
        doc: "Main breaker, battery and what a match asks of them.",
    },
    Table {
        pattern: "frame.wire[]",
        required: false,
        doc: "A wire, there and back.",
    },
    Table {
        pattern: "frame.link[]",
        required: false,
        doc: "A chain, a synchronous belt or a pair of gears between two shafts.",
    },
    Table {
        pattern: "frame.part[]",
        required: false,
        doc: "A part of the robot and where it sits, from the point on the floor in the middle between the wheels.",
    },
    Table {
        pattern: "season",
        required: false,
        doc: "How a match goes and what it scores; `arcwright season` answers from here on.",
    },
    Table {
        pattern: "season.change[]",
        required: false,
        doc: "An improvement that could be made next: what it changes and what it costs.",
    },
    Table {
        pattern: "feed",
        required: false,
        doc: "The hopper and the chute: how pieces queue for the launcher. Lengths are measured along its floor.",
    },
    Table {
        pattern: "feed.roller",
        required: false,
        doc: "The roller that takes pieces out of the chute one by one.",
    },
    Table {
        pattern: "feed.stirrer",
        required: false,
        doc: "A driven arm on a shaft square to the floor, which keeps pieces moving.",
    },
    Table {
        pattern: "feed.bands",
        required: false,
        doc: "Two elastic bands across the front corners, which give way where walls do not.",
    },
    Table {
        pattern: "feed.plate[]",
        required: false,
        doc: "A flat plate put into the hopper or the chute: a ramp, a deflector, a corner cut off. Pieces touch both sides.",
    },
    Table {
        pattern: "order",
        required: false,
        doc: "The order of colours that is asked for; `arcwright order` answers from here on.",
    },
    Table {
        pattern: "cut",
        required: false,
        doc: "Sheet, holes and cutter of your shop, for the templates of `arcwright draw`; no throw depends on it.",
    },
    Table {
        pattern: "throws",
        required: false,
        doc: "What differs from throw to throw, as standard deviations; the spreads of mass, diameter and heading stand with them.",
    },
    Table {
        pattern: "air",
        required: false,
        doc: "Air and wind at the site.",
    },
];

/// How many places a table's list has; 1 for a table that is no list.
pub fn places(project: &Project, table: &str) -> usize {
    let frame = project.frame.as_ref();
    match table {
        "spot[]" => project.spots.len(),
        "wheel.part[]" => project.machine.parts.len(),
        "frame.wire[]" => frame.map_or(0, |f| f.wires.len()),
        "frame.link[]" => frame.map_or(0, |f| f.links.len()),
        "frame.part[]" => frame.map_or(0, |f| f.parts.len()),
        "feed.plate[]" => project.feed.map_or(0, |f| f.hopper.plates.count()),
        "season.change[]" => project.season.as_ref().map_or(0, |s| s.changes.len()),
        _ => 1,
    }
}

/// The table with a pattern.
pub fn table(pattern: &str) -> Option<&'static Table> {
    TABLES.iter().find(|t| t.pattern == pattern)
}

/// Physical: a list longer than this is a slip or an attack, not a project.
pub const LONGEST_LIST_COUNT: usize = 200;

/// A dotted key with its place in a list taken out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Key {
    /// `spot[].distance`.
    pub pattern: String,
    /// The place in the list; 0 for a key without one.
    pub index: usize,
}

impl Key {
    /// Reads `spot[1].distance`; `None` if the brackets hold no number.
    pub fn parse(key: &str) -> Option<Key> {
        let Some((before, rest)) = key.split_once('[') else {
            return Some(Key {
                pattern: key.to_string(),
                index: 0,
            });
        };
        let (number, after) = rest.split_once(']')?;
        let index = number.parse().ok().filter(|i| *i < LONGEST_LIST_COUNT)?;
        Some(Key {
            pattern: format!("{before}[]{after}"),
            index,
        })
    }
}

/// A pattern with an index put in: `spot[].name` and 1 give `spot[1].name`.
pub fn with_index(pattern: &str, index: usize) -> String {
    pattern.replacen("[]", &format!("[{index}]"), 1)
}
