//! `floor edit`: changes a shot; what it said before is kept.

use clap::Args;

use super::{Ground, Where, joined};
use crate::cli::{Answer, FINE, Refusal};
use crate::tasks::floor::log::Unsaid;
use crate::tasks::floor::{Floor, log, tell, time};

#[derive(Args)]
pub struct EditArgs {
    /// Number of the shot
    #[arg(value_name = "SHOT")]
    shot: i64,
    /// What it should say, such as: long 10cm / without wall
    #[arg(value_name = "WORDS", required = true)]
    words: Vec<String>,
    /// Take a shot that is unlikely, but not impossible
    #[arg(long)]
    anyway: bool,
    #[command(flatten)]
    place: Where,
}

pub fn run(args: &EditArgs) -> Result<Answer, Refusal> {
    let ground = Ground::load(&args.place)?;
    let mut store = ground.reopen()?;
    let floor = Floor::of(&ground.project);
    let line = joined(&args.words);
    let done = log::edit(&floor, &mut store, args.shot, &line, args.anyway, time::now_ms())
        .map_err(|f| Refusal::finding(&f))?;
    let text = tell::line(&ground.project, done.id, &done.entry, &Unsaid::default());
    Ok(Answer {
        text: format!("{text}\n"),
        code: FINE,
    })
}
