//! Sections that take seconds to work out, kept in `out/kept` for the next notebook of the same project by the same program.
//!
//! What is kept is only ever a saving: it is used where project, log and program are those it was made with and not a byte of it
//! has changed; else it is worked out anew without a word.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::UNIX_EPOCH;

use serde_json::{Value, json};
use sha2::{Digest, Sha256};

use super::Block;
use crate::tasks::tables::Table;

/// Name of the folder in `out`.
const FOLDER: &str = "kept";

/// Where sections are kept, and what those made now are made from.
pub(super) struct Shelf {
    folder: PathBuf,
    made_from: String,
}

/// A section that was worked out now, ready to be kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fresh {
    file: PathBuf,
    text: String,
}

impl Fresh {
    /// Keeps it. A folder that cannot be written keeps nothing, and nothing is lost by that.
    pub(super) fn keep(&self) {
        if let Some(folder) = self.file.parent() {
            let _ = fs::create_dir_all(folder).and_then(|()| fs::write(&self.file, &self.text));
        }
    }
}

fn digest(text: &str) -> String {
    let bytes = Sha256::digest(text.as_bytes());
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}

/// The program that runs: another build of the same version counts as another one.
fn program() -> Option<String> {
    let about = fs::metadata(std::env::current_exe().ok()?).ok()?;
    let built = about.modified().ok()?.duration_since(UNIX_EPOCH).ok()?;
    let version = env!("CARGO_PKG_VERSION");
    Some(format!("{version} {} {}", about.len(), built.as_nanos()))
}

impl Shelf {
    /// The shelf of the project with this file, for sections made from `inputs`; none where this program cannot be told from others.
    pub(super) fn of(file: &Path, inputs: &str) -> Option<Shelf> {
        Some(Shelf {
            folder: file.with_file_name("out").join(FOLDER),
            made_from: format!("{}\n{inputs}", program()?),
        })
    }

    fn file(&self, id: &str) -> PathBuf {
        self.folder.join(format!("{id}.json"))
    }

    fn key(&self, id: &str) -> String {
        digest(&format!("{id}\n{}", self.made_from))
    }

    /// A section as it was made from the same inputs by the same program.
    pub(super) fn take(&self, id: &str) -> Option<Vec<Block>> {
        let whole = fs::read_to_string(self.file(id)).ok()?;
        let (head, text) = whole.split_once('\n')?;
        if head != format!("{} {}", self.key(id), digest(text)) {
            return None;
        }
        blocks(&serde_json::from_str(text).ok()?)
    }

    /// A section as it is kept; none where it holds what is not kept (photos, equations).
    pub(super) fn fresh(&self, id: &str, made: &[Block]) -> Option<Fresh> {
        let text = values(made)?.to_string();
        Some(Fresh {
            file: self.file(id),
            text: format!("{} {}\n{text}", self.key(id), digest(&text)),
        })
    }
}

fn values(all: &[Block]) -> Option<Value> {
    all.iter().map(value).collect::<Option<Vec<_>>>().map(Value::from)
}

fn value(block: &Block) -> Option<Value> {
    Some(match block {
        Block::Heading(t) => json!({ "heading": t }),
        Block::Text(t) => json!({ "text": t }),
        Block::Quiet(t) => json!({ "quiet": t }),
        Block::List(items) => json!({ "list": items }),
        Block::Pairs(rows) => json!({ "pairs": rows }),
        Block::Table(caption, t) => json!({ "table": caption, "head": t.head, "rows": t.rows }),
        Block::Figure(svg, caption) => json!({ "figure": svg, "caption": caption }),
        Block::Together(all) => json!({ "together": values(all)? }),
        Block::Photo(_) | Block::Equation(_) => return None,
    })
}

fn blocks(v: &Value) -> Option<Vec<Block>> {
    v.as_array()?.iter().map(block).collect()
}

fn block(v: &Value) -> Option<Block> {
    let word = |v: &Value| v.as_str().map(str::to_string);
    let words = |v: &Value| v.as_array()?.iter().map(word).collect::<Option<Vec<String>>>();
    let rows = |v: &Value| v.as_array()?.iter().map(words).collect::<Option<Vec<_>>>();
    let (name, first) = v
        .as_object()?
        .iter()
        .find(|(k, _)| !BESIDE.contains(&k.as_str()))?;
    Some(match name.as_str() {
        "heading" => Block::Heading(word(first)?),
        "text" => Block::Text(word(first)?),
        "quiet" => Block::Quiet(word(first)?),
        "list" => Block::List(words(first)?),
        "pairs" => {
            let pairs = rows(first)?.into_iter().map(|r| <[String; 2]>::try_from(r).ok());
            Block::Pairs(pairs.collect::<Option<_>>()?)
        }
        "table" => Block::Table(
            word(first)?,
            Table {
                head: words(&v["head"])?,
                rows: rows(&v["rows"])?,
            },
        ),
        "figure" => Block::Figure(word(first)?, word(&v["caption"])?),
        "together" => Block::Together(blocks(first)?),
        _ => return None,
    })
}

/// What stands beside the name of a block.
const BESIDE: [&str; 3] = ["head", "rows", "caption"];

#[cfg(test)]
mod tests {
    use super::*;

    fn made() -> Vec<Block> {
        vec![
            Block::Heading("h".into()),
            Block::Text("ä \"quoted\"\nnext".into()),
            Block::Quiet("q".into()),
            Block::List(vec!["a".into(), String::new()]),
            Block::Pairs(vec![["k".into(), "v".into()]]),
            Block::Together(vec![
                Block::Table(
                    "t".into(),
                    Table::of(&["x", "y"], vec![vec!["1".into(), "2".into()]]),
                ),
                Block::Figure("<svg/>".into(), "f".into()),
            ]),
        ]
    }

    #[test]
    fn what_is_kept_comes_back_only_whole_and_for_the_same_inputs() {
        let root = std::env::temp_dir().join(format!("arcwright-kept-{}", std::process::id()));
        let project = root.join("arcwright.toml");
        let shelf = |inputs| Shelf::of(&project, inputs).unwrap();
        let here = shelf("one");
        assert_eq!(here.take("feed"), None);
        here.fresh("feed", &made()).unwrap().keep();
        assert_eq!(here.take("feed"), Some(made()));
        assert_eq!(here.take("season"), None);
        assert_eq!(shelf("two").take("feed"), None);
        let file = here.file("feed");
        let whole = fs::read_to_string(&file).unwrap();
        for damaged in [
            whole.replace("quoted", "quotes"),
            whole[..whole.len() - 3].to_string(),
            whole.replacen('\n', " \n", 1),
            String::new(),
            "\u{fffd}".into(),
        ] {
            fs::write(&file, damaged).unwrap();
            assert_eq!(here.take("feed"), None);
        }
        fs::write(&file, whole).unwrap();
        assert_eq!(here.take("feed"), Some(made()));
        fs::remove_dir_all(&root).unwrap();
        let equation = Block::Equation(super::super::Equation {
            markup: Vec::new(),
            legend: String::new(),
            sources: Vec::new(),
        });
        assert_eq!(here.fresh("feed", &[Block::Together(vec![equation])]), None);
    }
}
