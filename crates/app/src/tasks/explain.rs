//! Words, checks, keys of the file, problem codes and sources, explained without a network.

use arcwright_model::finding::nearest;
use arcwright_model::limits::{CHECKS, FRAME_CHECKS};
use arcwright_model::project::schema::{self, Need};

mod words;

pub use words::{WORDS, Word};

const CHECKS_TEXT: &str = include_str!("../../../../docs/checks.md");
const FRAME_TEXT: &str = include_str!("../../../../docs/frame.md");
const PROBLEMS_TEXT: &str = include_str!("../../../../docs/problems.md");
const REFERENCES_TEXT: &str = include_str!("../../../../REFERENCES.md");

/// One thing that a word stands for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Meaning {
    /// `word`, `check`, `key`, `problem` or `source`.
    pub kind: &'static str,
    /// The name as it is written.
    pub name: String,
    /// What it is.
    pub says: String,
    /// Equation, where there is one.
    pub equation: Option<&'static str>,
    /// Sources in full.
    pub sources: Vec<String>,
    /// Words to read next.
    pub see: Vec<&'static str>,
}

/// A word made comparable: small letters, spaces and lines under as dashes.
fn bare(word: &str) -> String {
    word.trim()
        .trim_matches(['`', '[', ']'])
        .to_lowercase()
        .replace([' ', '_'], "-")
}

/// Everything that a word stands for; empty where nothing is known by it.
pub fn explain(word: &str) -> Vec<Meaning> {
    let wanted = bare(word);
    let mut out: Vec<Meaning> = WORDS
        .iter()
        .filter(|w| bare(w.name) == wanted || w.also.iter().any(|a| bare(a) == wanted))
        .map(|w| Meaning {
            kind: "word",
            name: w.name.to_string(),
            says: w.says.to_string(),
            equation: (!w.equation.is_empty()).then_some(w.equation),
            sources: w.sources.iter().filter_map(|key| source(key)).collect(),
            see: w.see.to_vec(),
        })
        .collect();
    out.extend(
        checks()
            .filter(|(id, ..)| bare(id) == wanted)
            .map(|(id, asks, text)| {
                let more = section(text, "## ", id).unwrap_or_default();
                plain("check", id, format!("{} {more}", first_capital(asks)))
            }),
    );
    out.extend(
        schema::entries()
            .filter(|e| bare(e.key) == wanted || bare(&e.key.replace("[]", "")) == wanted)
            .map(|e| plain("key", e.key, key_words(e))),
    );
    if let Some(says) = section(PROBLEMS_TEXT, "### ", &wanted) {
        out.push(plain("problem", &wanted, says));
    }
    if let Some(says) = source(&wanted) {
        out.push(plain("source", &wanted, says));
    }
    out
}

/// Every check: its id, what it asks, and the page that says more.
fn checks() -> impl Iterator<Item = (&'static str, &'static str, &'static str)> {
    let own = CHECKS.iter().map(|c| (c.id, c.asks, CHECKS_TEXT));
    own.chain(FRAME_CHECKS.iter().map(|c| (c.id, c.asks, FRAME_TEXT)))
}

fn plain(kind: &'static str, name: &str, says: String) -> Meaning {
    Meaning {
        kind,
        name: name.to_string(),
        says,
        equation: None,
        sources: Vec::new(),
        see: Vec::new(),
    }
}

fn first_capital(text: &str) -> String {
    let mut letters = text.chars();
    let first: String = letters.next().into_iter().flat_map(char::to_uppercase).collect();
    first + letters.as_str()
}

fn key_words(e: &schema::Entry) -> String {
    let need = match e.need {
        Need::Required => "Needed where its table is written.".to_string(),
        Need::Optional => "May be left out.".to_string(),
        Need::OneOf(other) => format!("Either this or `{other}`."),
        Need::InsteadOf(other) => format!("In place of `{other}`."),
        Need::From(_, words) => format!("If not written: {words}."),
        Need::Default(..) | Need::ByKind(_) => {
            "Assumed if not written; see docs/project-file.md.".to_string()
        }
    };
    format!("{} Such as `{} = {}`. {need}", e.doc, e.name(), e.example)
}

/// The paragraphs below a heading, as running text.
fn section(text: &str, mark: &str, name: &str) -> Option<String> {
    let heading = format!("{mark}{name}");
    let mut lines = text.lines().skip_while(|l| *l != heading);
    lines.next()?;
    let body: Vec<&str> = lines.take_while(|l| !l.starts_with('#')).collect();
    Some(body.join(" ").split_whitespace().collect::<Vec<_>>().join(" "))
}

/// The line of REFERENCES.md with a key.
pub(crate) fn source(key: &str) -> Option<String> {
    let mark = format!("- **[{key}]** ");
    let line = REFERENCES_TEXT
        .lines()
        .find_map(|l| l.strip_prefix(mark.as_str()))?;
    Some(format!("[{key}] {}", line.replace('*', "")))
}

/// The known word that is spelt most like this one.
pub fn like(word: &str) -> Option<String> {
    let keys: Vec<String> = schema::entries().map(|e| e.key.replace("[]", "")).collect();
    let wanted = bare(word);
    let words = WORDS.iter().flat_map(|w| w.also.iter().copied().chain([w.name]));
    let known: Vec<String> = words
        .map(bare)
        .chain(checks().map(|(id, ..)| id.to_string()))
        .chain(keys)
        .collect();
    nearest(&wanted, known.iter().map(String::as_str)).map(str::to_string)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_source_is_in_the_references_and_every_word_to_see_is_explained() {
        for w in WORDS {
            for key in w.sources {
                assert!(
                    source(key).is_some(),
                    "{}: [{key}] is not in REFERENCES.md",
                    w.name
                );
            }
            for other in w.see {
                assert!(!explain(other).is_empty(), "{}: see {other}", w.name);
            }
            assert!(
                w.equation.is_empty() || !w.sources.is_empty() || w.derived,
                "{}: no source",
                w.name
            );
        }
    }

    #[test]
    fn no_name_is_given_to_two_words() {
        let mut names: Vec<String> = WORDS
            .iter()
            .flat_map(|w| w.also.iter().chain([&w.name]))
            .map(|n| bare(n))
            .collect();
        let count = names.len();
        names.sort();
        names.dedup();
        assert_eq!(names.len(), count);
    }

    #[test]
    fn checks_keys_problems_and_sources_are_found_by_their_names() {
        for (word, kind) in [
            ("squeeze", "word"),
            ("Feed forward", "word"),
            ("grip", "check"),
            ("wheel.diameter", "key"),
            ("spot.distance", "key"),
            ("not-toml", "problem"),
            ("hunt-crossley-1975", "source"),
        ] {
            assert!(
                explain(word).iter().any(|m| m.kind == kind && m.says.len() > 20),
                "{word}"
            );
        }
        assert!(explain("zzz").is_empty());
        assert_eq!(like("squeze").as_deref(), Some("squeeze"));
    }
}
