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
    tell::undone(project, &undone, store.path())
}
