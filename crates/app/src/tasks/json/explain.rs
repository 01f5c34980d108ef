//! JSON of explanations.

use serde_json::{Value, json};

use super::VERSION;
use crate::tasks::explain::Meaning;

/// `explain WORD`.
pub fn explain(word: &str, found: &[Meaning]) -> Value {
    json!({
        "schema": format!("arcwright/explain/{VERSION}"),
        "tool": env!("CARGO_PKG_VERSION"),
        "word": word,
        "meanings": found.iter().map(|m| json!({
            "kind": m.kind, "name": m.name, "says": m.says, "equation": m.equation, "sources": m.sources, "see": m.see,
        })).collect::<Vec<_>>(),
    })
}

/// `explain`.
pub fn words(names: &[&str]) -> Value {
    json!({
        "schema": format!("arcwright/explain/{VERSION}"),
        "tool": env!("CARGO_PKG_VERSION"),
        "words": names,
    })
}
