//! What is wrong and how to mend it. Knows no files and no places.

/// One thing wrong with a value, and how to mend it.
///
/// The place (file, line, column) is added by the caller that knows it, through `key`.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// Short stable code, such as `gap-too-wide`; documented in `docs/problems.md`.
    pub code: &'static str,
    /// Dotted key of the value at fault, such as `launcher.squeeze` or `spot[1].distance`.
    pub key: String,
    /// What is wrong: the value found and the value allowed, in the user's units.
    pub what: String,
    /// How to mend it; never empty.
    pub fix: String,
}

impl Finding {
    /// A finding from its parts.
    pub fn new(
        code: &'static str,
        key: impl Into<String>,
        what: impl Into<String>,
        fix: impl Into<String>,
    ) -> Finding {
        Finding {
            code,
            key: key.into(),
            what: what.into(),
            fix: fix.into(),
        }
    }
}

/// Physical: a longer word than this is no slip of the finger, and comparing it would take time.
const LONGEST_WORD_COUNT: usize = 48;

/// The candidate that `word` was most likely meant to be, if any is close.
///
/// A different case only is always close; otherwise up to one slip (letter missing, added, changed
/// or two swapped) for each three letters of the longer word, at least one.
pub fn nearest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let letters = word.chars().count();
    if letters == 0 || letters > LONGEST_WORD_COUNT {
        return None;
    }
    let lower = word.to_lowercase();
    let mut best: Option<(usize, &str)> = None;
    for candidate in candidates {
        let slips = if candidate.to_lowercase() == lower {
            0
        } else {
            strsim::osa_distance(&lower, &candidate.to_lowercase())
        };
        let allowed = (letters.max(candidate.chars().count()) / 3).max(1);
        // A single letter is one slip from every other single letter: no evidence.
        let evidence = slips == 0 || slips < letters.max(candidate.chars().count());
        if slips <= allowed && evidence && best.is_none_or(|(least, _)| slips < least) {
            best = Some((slips, candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

#[cfg(test)]
mod tests {
    use super::nearest;

    #[test]
    fn a_slip_of_the_finger_finds_its_word_and_a_stranger_finds_none() {
        let words = ["diameter", "mass", "width", "m"];
        assert_eq!(nearest("diamater", words), Some("diameter"));
        assert_eq!(nearest("Mass", words), Some("mass"));
        assert_eq!(nearest("msas", words), Some("mass"));
        assert_eq!(nearest("colour", words), None);
        assert_eq!(nearest("q", words), None);
        assert_eq!(nearest("", words), None);
        assert_eq!(nearest(&"m".repeat(100_000), words), None);
    }
}
