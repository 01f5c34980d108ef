//! Usual pieces and targets to begin with, before anything has been measured.

use super::schema::{self, Entry};

/// Where a range comes from.
const PRACTICE: &str = "common practice, no source";
/// Densities of the material as handbooks give them, not looked up.
const DENSITY: &str = "from memory: density of the material";

/// One quantity of a usual piece, SI: its value, how much it differs (0: not said), and the range in which such pieces lie.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UsualValue {
    /// Dotted key.
    pub key: &'static str,
    /// A middling one.
    pub value: f64,
    /// Standard deviation: from piece to piece for size and mass, of our knowledge for stiffness.
    pub sd: f64,
    /// Lowest that is usual.
    pub low: f64,
    /// Highest that is usual.
    pub high: f64,
    /// Where the range comes from.
    pub source: &'static str,
}

/// A usual piece of one kind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UsualPiece {
    /// Its word under `piece.kind`.
    pub kind: &'static str,
    /// One line about it.
    pub about: &'static str,
    /// Squeeze over diameter that holds it well against a guide without crushing it; common practice, no source.
    pub squeeze_ratio: f64,
    /// What is known of it, in the order of the file.
    pub rows: &'static [UsualValue],
}

const fn row(
    key: &'static str,
    value: f64,
    sd: f64,
    [low, high]: [f64; 2],
    source: &'static str,
) -> UsualValue {
    UsualValue {
        key,
        value,
        sd,
        low,
        high,
        source,
    }
}

/// The usual pieces, one of each kind. Size, mass and stiffness are those of light balls that can be bought; each
/// mass fits its size by the density of the material.
pub const PIECES: &[UsualPiece] = &[
    UsualPiece {
        kind: "foam",
        about: "soft foam through and through: light, grips well, differs most from one to the next",
        squeeze_ratio: 0.2,
        rows: &[
            row("piece.diameter", 0.15, 0.0015, [0.06, 0.25], PRACTICE),
            row("piece.mass", 0.088, 0.002, [0.004, 0.35], DENSITY),
            row("piece.stiffness", 1200.0, 360.0, [300.0, 4000.0], PRACTICE),
        ],
    },
    UsualPiece {
        kind: "hollow",
        about: "a closed thin shell of plastic or rubber: springy, smooth, sensitive to air",
        squeeze_ratio: 0.1,
        rows: &[
            row("piece.diameter", 0.1, 0.0005, [0.038, 0.25], PRACTICE),
            row("piece.mass", 0.06, 0.001, [0.0025, 0.3], PRACTICE),
            row("piece.stiffness", 3000.0, 900.0, [1000.0, 25_000.0], PRACTICE),
        ],
    },
    UsualPiece {
        kind: "perforated",
        about: "a thin shell with round holes: light, much drag, a narrow wheel drops into the holes",
        squeeze_ratio: 0.1,
        rows: &[
            row("piece.diameter", 0.1, 0.0005, [0.065, 0.15], PRACTICE),
            row("piece.mass", 0.045, 0.0008, [0.02, 0.1], PRACTICE),
            row("piece.stiffness", 3000.0, 900.0, [1000.0, 8000.0], PRACTICE),
            row("piece.holes", 32.0, 0.0, [20.0, 60.0], PRACTICE),
            row("piece.hole_diameter", 0.013, 0.0, [0.006, 0.022], PRACTICE),
        ],
    },
    UsualPiece {
        kind: "solid",
        about: "solid rubber: small, heavy for its size, stiff; it stores the most energy, so keep the lane clear",
        squeeze_ratio: 0.08,
        rows: &[
            row("piece.diameter", 0.05, 0.0003, [0.025, 0.075], PRACTICE),
            row("piece.mass", 0.075, 0.001, [0.008, 0.27], DENSITY),
            row("piece.stiffness", 15_000.0, 5000.0, [4000.0, 60_000.0], PRACTICE),
        ],
    },
];

/// Two wheels touch the piece for a shorter way than a wheel and its guide, and so press it more. Judgement.
const PAIR_RATIO: f64 = 1.5;

impl UsualPiece {
    /// Squeeze to begin with for a piece of this diameter.
    pub fn squeeze_m(&self, diameter_m: f64, is_pair: bool) -> f64 {
        self.squeeze_ratio * diameter_m * if is_pair { PAIR_RATIO } else { 1.0 }
    }
}

/// The usual piece of a kind.
pub fn piece(kind: &str) -> Option<&'static UsualPiece> {
    PIECES.iter().find(|p| p.kind == kind)
}

/// A kind of target: outline and how it stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UsualTarget {
    /// Its word.
    pub kind: &'static str,
    /// One line about it.
    pub about: &'static str,
    /// Its word under `target.shape`.
    pub shape: &'static str,
    /// Does it stand upright and is entered from the front?
    pub is_upright: bool,
}

/// The kinds of target.
pub const TARGETS: &[UsualTarget] = &[
    UsualTarget {
        kind: "box",
        about: "an open box: a flat opening with straight sides, entered from above",
        shape: "rectangle",
        is_upright: false,
    },
    UsualTarget {
        kind: "hoop",
        about: "a hoop: round and upright, entered from the front",
        shape: "round",
        is_upright: true,
    },
    UsualTarget {
        kind: "well",
        about: "a well: round and flat, entered steeply from above",
        shape: "round",
        is_upright: false,
    },
];

/// The target of a kind.
pub fn target(kind: &str) -> Option<&'static UsualTarget> {
    TARGETS.iter().find(|t| t.kind == kind)
}

impl UsualValue {
    /// Its row of the schema.
    pub fn entry(&self) -> Option<&'static Entry> {
        schema::entry(self.key)
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::project::schema::Kind;

    fn value(kind: &str, key: &str) -> UsualValue {
        *piece(kind).unwrap().rows.iter().find(|r| r.key == key).unwrap()
    }

    #[test]
    fn every_kind_of_the_file_has_a_usual_piece_within_its_own_range() {
        let Kind::Choice(words, _) = schema::entry("piece.kind").unwrap().kind else {
            unreachable!()
        };
        let kinds: Vec<&str> = PIECES.iter().map(|p| p.kind).collect();
        assert_eq!(kinds, words);
        for row in PIECES.iter().flat_map(|p| p.rows) {
            let entry = row.entry().unwrap();
            assert!(entry.admits(row.low) && entry.admits(row.high), "{}", row.key);
            assert!(
                row.low < row.value && row.value < row.high && row.sd < row.value,
                "{}",
                row.key
            );
            assert_eq!(
                row.sd > 0.0,
                entry.spread && !row.key.contains("hole"),
                "{}",
                row.key
            );
        }
    }

    /// Handbook densities, from memory: flexible polyurethane foam 20 to 100 kg/m³; rubber and soft plastics 900 to
    /// 1300 kg/m³. A shell of that stuff is 0.4 to 4 mm thick (common practice, no source).
    #[test]
    fn the_mass_of_each_fits_its_size_and_what_it_is_made_of() {
        let volume = |d: f64| std::f64::consts::PI * d.powi(3) / 6.0;
        let of = |kind| {
            (
                value(kind, "piece.mass").value,
                value(kind, "piece.diameter").value,
            )
        };
        let (m, d) = of("foam");
        assert!((20.0..100.0).contains(&(m / volume(d))), "{}", m / volume(d));
        let (m, d) = of("solid");
        assert!((900.0..1300.0).contains(&(m / volume(d))), "{}", m / volume(d));
        for (kind, open_frac) in [("hollow", 0.0), ("perforated", 0.15)] {
            let (m, d) = of(kind);
            let skin = std::f64::consts::PI * d * d * (1.0 - open_frac);
            let thick = |density: f64| m / (skin * density);
            assert!(
                thick(1300.0) > 0.4e-3 && thick(900.0) < 4e-3,
                "{kind}: {}",
                thick(1100.0)
            );
        }
    }

    /// Published rules of ball games (from memory): a closed felt-covered ball of 65.4 to 68.6 mm and 56.0 to 59.4 g
    /// that gives 5.6 to 7.4 mm under 8.165 kgf; a celluloid-like shell of 40 mm and 2.7 g.
    #[test]
    fn balls_of_published_rules_lie_in_the_ranges() {
        let within = |key: &str, v: f64| {
            let r = value("hollow", key);
            assert!(r.low <= v && v <= r.high, "{key} {v}");
        };
        for d in [0.0654, 0.0686, 0.040] {
            within("piece.diameter", d);
        }
        for m in [0.056, 0.0594, 0.0027] {
            within("piece.mass", m);
        }
        for give in [0.0056, 0.0074] {
            within("piece.stiffness", 8.165 * 9.80665 / give);
        }
    }
}
