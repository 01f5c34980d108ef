//! What is seen of a shot.

use arcwright_model::finding::Finding;
use arcwright_model::floor::rehearse::Look;

/// A way to see a shot.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum See {
    /// Only what became of it.
    Outcome,
    /// How far beside the centre it passed, by eye.
    Eye,
    /// Time of flight.
    Clock,
    /// Tape to where it lands on a clear floor, without the target.
    Tape,
    /// Wheel speed before and after.
    Wheel,
}

const ALL: [(See, &str); 5] = [
    (See::Outcome, "outcome"),
    (See::Eye, "eye"),
    (See::Clock, "clock"),
    (See::Tape, "tape"),
    (See::Wheel, "wheel"),
];

impl See {
    /// Its word.
    pub fn word(self) -> &'static str {
        ALL.iter().find(|a| a.0 == self).map_or("", |a| a.1)
    }

    /// The ways in a list such as `eye,clock`.
    ///
    /// # Errors
    /// `bad-choice`.
    pub fn list(text: &str) -> Result<Vec<See>, Finding> {
        let words = text.split(',').map(str::trim).filter(|w| !w.is_empty());
        words
            .map(|w| {
                ALL.iter().find(|a| a.1 == w).map(|a| a.0).ok_or_else(|| {
                    Finding::new(
                        "bad-choice",
                        "see",
                        format!("`{w}` is no way to see a shot"),
                        "use outcome, eye, clock, tape, wheel",
                    )
                })
            })
            .collect()
    }

    /// A list such as `eye,clock`.
    pub fn joined(all: &[See]) -> String {
        let words: Vec<&str> = all.iter().map(|s| s.word()).collect();
        words.join(",")
    }
}

/// Ways to see a shot as a look.
pub fn look(see: &[See]) -> Look {
    let has = |s| see.contains(&s);
    Look {
        tape: has(See::Tape),
        clock: has(See::Clock),
        eye: has(See::Eye) && !has(See::Tape),
        outcome: !has(See::Tape),
        before: has(See::Wheel),
        after: has(See::Wheel),
        ..Look::default()
    }
}
