//! `floor import`: a table into the log, after a look at what would be taken.

use std::fs;
use std::io::Read;
use std::path::PathBuf;

use arcwright_model::finding::Finding;
use arcwright_model::project::Project;
use clap::Args;

use super::{Ground, Where};
use crate::cli::{Answer, FAILS, FINE, Refusal};
use crate::tasks::floor::import::{Fate, Options, Plan};
use crate::tasks::floor::import_bring::bring;
use crate::tasks::floor::{Floor, table};

#[derive(Args)]
pub struct ImportArgs {
    /// Table to read (CSV; comma, semicolon or tab)
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Which column is what, where the guess is wrong, such as "Dist.=distance (ft)"; "=-" leaves one out
    #[arg(long, value_name = "THEIRS=OURS")]
    map: Vec<String>,
    /// Take what the preview shows
    #[arg(long)]
    apply: bool,
    /// Take shots that are unlikely, but not impossible
    #[arg(long)]
    anyway: bool,
    #[command(flatten)]
    place: Where,
}

pub fn run(args: &ImportArgs) -> Result<Answer, Refusal> {
    let ground = Ground::load(&args.place)?;
    let bytes = bytes(args).map_err(|f| Refusal::finding(&f))?;
    let floor = Floor::of(&ground.project);
    let name = args
        .file
        .file_name()
        .map_or(String::new(), |n| n.to_string_lossy().into_owned());
    let options = Options {
        maps: args.map.clone(),
        anyway: args.anyway,
        name,
    };
    let (found, taken) =
        bring(&floor, &ground.log, &bytes, &options, args.apply).map_err(|f| Refusal::finding(&f))?;
    let refused = found.count(|f| matches!(f, Fate::Refuse(_)));
    Ok(Answer {
        text: text(&ground.project, args.apply, &found, &taken),
        code: if refused > 0 { FAILS } else { FINE },
    })
}

fn bytes(args: &ImportArgs) -> Result<Vec<u8>, Finding> {
    let key = || args.file.display().to_string();
    let mut out = Vec::new();
    fs::File::open(&args.file)
        .and_then(|f| f.take(table::LONGEST_TABLE + 1).read_to_end(&mut out))
        .map_err(|e| {
            Finding::new(
                "not-read",
                key(),
                format!("the table cannot be read: {e}"),
                "name a CSV file that exists and that you may read",
            )
        })?;
    if out.len() as u64 > table::LONGEST_TABLE {
        return Err(Finding::new(
            "too-large",
            key(),
            "the table is larger than any log of shots",
            "choose the table of shots, or cut it into parts",
        ));
    }
    Ok(out)
}

fn text(project: &Project, apply: bool, found: &Plan, taken: &[i64]) -> String {
    let mut out = String::from("Columns\n");
    for c in &found.columns {
        out.push_str(&format!("  {}: {}\n", c.theirs, c.words()));
        if let Some(w) = &c.wrong {
            out.push_str(&format!("    [{}] {}\n    fix {}\n", w.code, w.what, w.fix));
        }
    }
    out.push_str("Rows\n");
    for r in &found.rows {
        let shot = r.words(project);
        let line = r.line;
        out.push_str(&match &r.fate {
            Fate::Take => format!("  line {line}: take {shot}\n"),
            Fate::There(id) => format!("  line {line}: there already as shot {id}\n"),
            Fate::Twice(first) => format!("  line {line}: stands on line {first} already\n"),
            Fate::Refuse(f) => format!(
                "  line {line}: refused [{}]: {}\n    fix {}\n",
                f.code, f.what, f.fix
            ),
        });
    }
    let take = found.count(|f| *f == Fate::Take);
    let there = found.count(|f| matches!(f, Fate::There(_) | Fate::Twice(_)));
    let refused = found.count(|f| matches!(f, Fate::Refuse(_)));
    let rest = format!("{there} there already, {refused} refused");
    out.push_str(&match (apply, taken) {
        (false, _) if take > 0 => {
            format!("{take} to take, {rest}. Nothing is written yet: say --apply to take them.\n")
        }
        (true, [first, .., last]) => format!(
            "{} taken as shots {first} to {last}, {rest}. `arcwright floor undo` takes them back.\n",
            taken.len()
        ),
        (true, [only]) => format!("1 taken as shot {only}, {rest}.\n"),
        _ => format!("None to take, {rest}.\n"),
    });
    out
}
