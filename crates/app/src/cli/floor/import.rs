//! `floor import`: a table into the log, after a look at what would be taken.

use std::fs;
use std::io::Read;
use std::path::PathBuf;

use arcwright_model::finding::Finding;
use arcwright_model::project::Project;
use clap::Args;

use super::{Ground, Where};
use crate::cli::{Answer, FAILS, FINE, Refusal};
use crate::store;
use crate::tasks::floor::import::{Fate, Options, Plan, plan};
use crate::tasks::floor::{Floor, table, tell, time};
use arcwright_model::units::Dimension as D;

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
    let now = time::now_ms();
    let work = || -> Result<(Plan, Vec<i64>), Finding> {
        let table = table::read(&bytes)?;
        if !args.apply {
            let store = store::open_to_read(&ground.log)?;
            return Ok((plan(&floor, store.as_ref(), &table, &options, now)?, Vec::new()));
        }
        let before = store::open_to_read(&ground.log)?;
        let first = plan(&floor, before.as_ref(), &table, &options, now)?;
        if first.batches.is_empty() {
            return Ok((first, Vec::new()));
        }
        drop(before);
        // Another program may log meanwhile: then it is looked at again.
        let mut store = store::open(&ground.log)?;
        loop {
            let act = store.last_act()?;
            let found = plan(&floor, Some(&store), &table, &options, now)?;
            if let Some(taken) = store.bring_in(&found.batches, act, now)? {
                return Ok((found, taken));
            }
        }
    };
    let (found, taken) = work().map_err(|f| Refusal::finding(&f))?;
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
        let ours = match &c.ours {
            None => "not taken".to_string(),
            Some(h) => match &h.unit {
                Some(u) => format!("{} in {u}", h.column.name()),
                None => match h.column.unsaid_unit() {
                    Some(u) => format!("{} in {u}, where a cell has no unit", h.column.name()),
                    None => h.column.name().to_string(),
                },
            },
        };
        out.push_str(&format!("  {}: {ours}\n", c.theirs));
        if let Some(w) = &c.wrong {
            out.push_str(&format!("    [{}] {}\n    fix {}\n", w.code, w.what, w.fix));
        }
    }
    out.push_str("Rows\n");
    for r in &found.rows {
        let shot = r.entry.as_ref().map_or(String::new(), |e| {
            let besides = tell::besides(project, e);
            format!(
                "{}, {}: {}{}{besides}",
                tell::place(project, e),
                project.say(e.setpoint_radps, D::AngularSpeed),
                tell::seen(project, e),
                if besides.is_empty() { "" } else { "; " }
            )
        });
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
