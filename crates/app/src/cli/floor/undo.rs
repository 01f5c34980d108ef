//! `floor undo`: takes back the last thing done.

use arcwright_model::finding::Finding;
use arcwright_model::project::Project;
use clap::Args;

use super::{Ground, Where};
use crate::cli::{Answer, FINE, Refusal};
use crate::store::Store;
use crate::tasks::floor::{tell, time};

#[derive(Args)]
pub struct UndoArgs {
    #[command(flatten)]
    place: Where,
}

pub fn run(args: &UndoArgs) -> Result<Answer, Refusal> {
    let ground = Ground::load(&args.place)?;
    let mut store = ground.reopen()?;
    let text = back(&ground.project, &mut store).map_err(|f| Refusal::finding(&f))?;
    Ok(Answer { text, code: FINE })
}

/// Takes the last act back and says which it was.
pub(super) fn back(project: &Project, store: &mut Store) -> Result<String, Finding> {
    let undone = store.undo(time::now_ms())?;
    match undone.as_slice() {
        [] => Err(Finding::new(
            "nothing-to-undo",
            store.path().display().to_string(),
            "nothing is left to take back",
            "`arcwright floor list --history 1` shows what was done to a shot",
        )),
        [one] if one.entry.taken_back => Ok(format!(
            "shot {} taken back: {}, {}\n",
            one.id,
            tell::place(project, &one.entry),
            tell::seen(project, &one.entry)
        )),
        [one] => Ok(format!(
            "shot {}, {}: as it was before: {}\n",
            one.id,
            one.done,
            tell::seen(project, &one.entry)
        )),
        many if many.iter().all(|u| u.entry.taken_back) => {
            Ok(format!("{} shots of an import taken back\n", many.len()))
        }
        [first, ..] => Ok(format!(
            "{} shots, {}: as they were before\n",
            undone.len(),
            first.done
        )),
    }
}
