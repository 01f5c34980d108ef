//! `floor leave-out` and `floor take-in`: which shots the fit sees.

use clap::Args;

use super::{Ground, Where, joined};
use crate::cli::{Answer, FINE, Refusal};
use crate::tasks::floor::log::Unsaid;
use crate::tasks::floor::{log, tell, time};

#[derive(Args)]
pub struct LeaveOutArgs {
    /// Number of the shot
    #[arg(value_name = "SHOT")]
    shot: i64,
    /// Why, such as: because the piece was torn
    #[arg(value_name = "WHY", required = true)]
    why: Vec<String>,
    #[command(flatten)]
    place: Where,
}

#[derive(Args)]
pub struct TakeInArgs {
    /// Number of the shot
    #[arg(value_name = "SHOT")]
    shot: i64,
    #[command(flatten)]
    place: Where,
}

pub fn leave_out(args: &LeaveOutArgs) -> Result<Answer, Refusal> {
    change(&args.place, args.shot, Some(&joined(&args.why)))
}

pub fn take_in(args: &TakeInArgs) -> Result<Answer, Refusal> {
    change(&args.place, args.shot, None)
}

fn change(place: &Where, shot: i64, why: Option<&str>) -> Result<Answer, Refusal> {
    let ground = Ground::load(place)?;
    let mut store = ground.reopen()?;
    let done = log::leave_out(&mut store, shot, why, time::now_ms()).map_err(|f| Refusal::finding(&f))?;
    let text = tell::line(&ground.project, done.id, &done.entry, &Unsaid::default());
    Ok(Answer {
        text: format!("{text}\n"),
        code: FINE,
    })
}
