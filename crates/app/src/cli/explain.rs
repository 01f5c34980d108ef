//! `explain`: what a word, a check, a key of the file, a problem or a source is.

use arcwright_model::finding::Finding;
use clap::Args;

use super::say::wrap;
use super::{Answer, FINE, Refusal};
use crate::tasks::explain::{Meaning, WORDS, explain, like};
use crate::tasks::json;

#[derive(Args)]
pub struct ExplainArgs {
    /// Word, check, key such as wheel.diameter, problem code or source; without one: all words
    #[arg(value_name = "WORD")]
    word: Vec<String>,
    /// Print JSON (see docs/json.md) instead of text
    #[arg(long)]
    json: bool,
}

/// Width of running text in the terminal.
const WIDTH: usize = 92;

pub fn run(args: &ExplainArgs) -> Result<Answer, Refusal> {
    if args.word.is_empty() {
        let names: Vec<&str> = WORDS.iter().map(|w| w.name).collect();
        let text = if args.json {
            format!("{:#}\n", json::words(&names))
        } else {
            format!(
                "Words\n  {}\n\nAlso every check, every key of the file (wheel.diameter), every problem code, every source.\n",
                wrap(&names.join(", "), WIDTH, "  ")
            )
        };
        return Ok(Answer { text, code: FINE });
    }
    let word = args.word.join(" ");
    let found = explain(&word);
    if found.is_empty() {
        let fix = match like(&word) {
            Some(near) => format!("did you mean `{near}`? `arcwright explain` lists all words"),
            None => "`arcwright explain` lists all words".to_string(),
        };
        return Err(Refusal::finding(&Finding::new(
            "unknown-word",
            word.clone(),
            "nothing is known by this word",
            fix,
        )));
    }
    let text = if args.json {
        format!("{:#}\n", json::explain(&word, &found))
    } else {
        found.iter().map(words).collect::<Vec<_>>().join("\n")
    };
    Ok(Answer { text, code: FINE })
}

fn words(m: &Meaning) -> String {
    let mut text = format!("{}  ({})\n  {}\n", m.name, m.kind, wrap(&m.says, WIDTH, "  "));
    if let Some(equation) = m.equation {
        text.push_str(&format!("\n    {equation}\n"));
    }
    for source in &m.sources {
        text.push_str(&format!("  source {}\n", wrap(source, WIDTH, "         ")));
    }
    if !m.see.is_empty() {
        text.push_str(&format!("  see {}\n", m.see.join(", ")));
    }
    text
}
