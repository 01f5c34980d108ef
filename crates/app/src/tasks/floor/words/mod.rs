//! What a helper calls out or types, read: `far 3490 in`, `far long 12cm left 5cm`.
//!
//! The words of a line are cut into clauses in every way that the vocabulary allows. One way that
//! makes sense is the meaning; two are an error that shows both.

mod amount;
mod clause;
mod said;

use arcwright_model::finding::{Finding, nearest};

use amount::Token;
use clause::{Clause, Piece};
pub use said::{FallTo, Field, Place, Said, Sideways};

/// A line longer than this (bytes) is not a shot. Physical.
pub const LONGEST_LINE: usize = 2000;
/// Method: tries before a line is given up as a riddle; a line of a shot takes some dozens.
const MOST_TRIES: u32 = 20_000;

/// Everything found while cutting a line.
struct Search<'a> {
    tokens: &'a [Token],
    spots: &'a [String],
    edit: bool,
    tries: u32,
    /// Readings that make sense, and how they were cut.
    good: Vec<(Said, String)>,
    /// How far the best failure came, what it says, and how it was cut.
    bad: Vec<(usize, Finding, String)>,
}

/// Reads a line. `edit` allows `without ...`.
///
/// # Errors
/// A finding that says what is not understood, or in which ways the line can be read.
pub fn read(line: &str, spots: &[String], edit: bool) -> Result<Said, Finding> {
    if line.len() > LONGEST_LINE {
        return Err(Finding::new(
            "too-long",
            "the line",
            format!("the line is {} characters long", line.chars().count()),
            "write one shot in a line",
        ));
    }
    let tokens = amount::split(line);
    let mut search = Search {
        tokens: &tokens,
        spots,
        edit,
        tries: 0,
        good: Vec::new(),
        bad: Vec::new(),
    };
    search.cut(0, &mut Vec::new());
    let Search { good, mut bad, .. } = search;
    let mut different: Vec<&(Said, String)> = Vec::new();
    for reading in &good {
        if !different.iter().any(|d| d.0 == reading.0) {
            different.push(reading);
        }
    }
    match different.as_slice() {
        [only] => Ok(only.0.clone()),
        [] => {
            // A number without a word is the last thing to complain of: with the right words around it
            // it may have one. Otherwise the failure that came farthest says most.
            if bad.iter().any(|b| b.1.code != STRAY) {
                bad.retain(|b| b.1.code != STRAY);
            }
            let farthest = bad.iter().map(|b| b.0).max().unwrap_or(0);
            bad.retain(|b| b.0 == farthest);
            let halves: Vec<String> = bad
                .iter()
                .filter(|b| b.1.code == "half-said")
                .map(|b| b.2.clone())
                .collect();
            if halves.len() > 1 && halves.len() == bad.len() {
                return Err(two_ways(line, &halves));
            }
            if bad.is_empty() {
                return Err(Finding::new(
                    "not-understood",
                    line,
                    "this is not understood",
                    HOW,
                ));
            }
            let first = bad.remove(0).1;
            // `12 in` without a word can be a length, or a number and what became of the shot.
            let second = bad
                .into_iter()
                .find(|b| first.code == STRAY && b.1.key != first.key);
            Err(match second {
                Some((_, f, _)) => Finding {
                    fix: format!("{}; and `{}` alone: {}", first.fix, f.key, f.fix),
                    ..first
                },
                None => first,
            })
        }
        several => {
            let ways: Vec<String> = several.iter().map(|s| s.1.clone()).collect();
            Err(two_ways(line, &ways))
        }
    }
}

/// Code of a number without a word.
const STRAY: &str = "stray-number";
const HOW: &str =
    "write a spot and what was seen, such as `far 3490 in` or `far long 12cm left 5cm`; see docs/floor.md";

fn two_ways(line: &str, ways: &[String]) -> Finding {
    let mut listed: Vec<&String> = ways.iter().collect();
    listed.dedup();
    let listed: Vec<String> = listed
        .iter()
        .take(4)
        .enumerate()
        .map(|(i, w)| format!("({}) {w}", i + 1))
        .collect();
    Finding::new(
        "two-readings",
        line,
        format!("this can be read in more than one way: {}", listed.join("  ")),
        "put each amount right behind its word (`long 12cm left 5cm`), a spot behind `spot`, and say what is missing",
    )
}

impl Search<'_> {
    fn cut(&mut self, at: usize, so_far: &mut Vec<Piece>) {
        self.tries += 1;
        if self.tries > MOST_TRIES {
            return;
        }
        if at >= self.tokens.len() {
            self.end(so_far);
            return;
        }
        let found = clause::alternatives(self.tokens, at, self.spots, self.edit);
        if found.is_empty() {
            let way = self.shown(so_far);
            let finding = self.unknown(at);
            self.bad.push((at, finding, way));
        }
        for piece in found {
            if let Clause::Wrong(finding) = &piece.clause {
                let way = self.shown(so_far);
                self.bad.push((at, finding.clone(), way));
                continue;
            }
            let next = piece.end;
            so_far.push(piece);
            self.cut(next, so_far);
            so_far.pop();
        }
    }

    fn end(&mut self, pieces: &[Piece]) {
        let way = self.shown(pieces);
        match said::assemble(pieces) {
            Ok(said) => self.good.push((said, way)),
            Err((at, finding)) => self.bad.push((at, finding, way)),
        }
    }

    /// How the line was cut, to be shown.
    fn shown(&self, pieces: &[Piece]) -> String {
        pieces
            .iter()
            .map(|p| amount::text(self.tokens, p.start, p.end))
            .collect::<Vec<_>>()
            .join(", ")
    }

    fn unknown(&self, at: usize) -> Finding {
        let word = self.tokens.get(at).map_or("", |t| t.text.as_str());
        let known = clause::WORDS
            .iter()
            .copied()
            .chain(self.spots.iter().map(String::as_str));
        let near = nearest(word, known).map_or(String::new(), |n| format!("did you mean `{n}`? "));
        let spots = self.spots.join(", ");
        Finding::new(
            "not-understood",
            word,
            format!("`{word}` is not understood here"),
            format!(
                "{near}the spots are {spots}; the words are in docs/floor.md; a remark goes behind `note`"
            ),
        )
    }
}

#[cfg(test)]
mod tests;
