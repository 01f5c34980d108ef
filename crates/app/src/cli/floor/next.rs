//! `floor next`: what to move, where to throw from next, or the sign to stop.

use arcwright_model::floor::Shot;
use arcwright_model::floor::rehearse::Look;
use clap::{Args, ValueEnum};

use super::{Ground, Where};
use crate::cli::{Answer, FINE, Refusal};
use crate::store::{self, shots};
use crate::tasks::floor::{Floor, json, next, see};

#[derive(Args)]
pub struct NextArgs {
    /// What will be seen of the next shot besides what became of it
    #[arg(long, value_name = "HOW", value_delimiter = ',', default_value = "eye")]
    see: Vec<See>,
    /// Print JSON (SI, versioned; see docs/json.md) instead of text
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    place: Where,
}

/// A way to see a shot.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum See {
    /// Only what became of it
    Outcome,
    /// How far beside the centre it passed, by eye
    Eye,
    /// Time of flight
    Clock,
    /// Tape to where it lands on a clear floor, without the target
    Tape,
    /// Wheel speed before and after
    Wheel,
}

/// Ways to see a shot as a look.
pub fn look(see: &[See]) -> Look {
    let all: Vec<see::See> = see
        .iter()
        .map(|s| match s {
            See::Outcome => see::See::Outcome,
            See::Eye => see::See::Eye,
            See::Clock => see::See::Clock,
            See::Tape => see::See::Tape,
            See::Wheel => see::See::Wheel,
        })
        .collect();
    see::look(&all)
}

/// The shots of a log as the model sees them; none where there is no log yet.
pub fn logged(ground: &Ground) -> Result<Vec<Shot>, Refusal> {
    let store = store::open_to_read(&ground.log).map_err(|f| Refusal::finding(&f))?;
    let Some(store) = store else { return Ok(Vec::new()) };
    let all = shots(&store, &ground.project).map_err(|f| Refusal::finding(&f))?;
    Ok(all.into_iter().map(|l| l.shot).collect())
}

pub fn run(args: &NextArgs) -> Result<Answer, Refusal> {
    let ground = Ground::load(&args.place)?;
    let project = &ground.project;
    let shots = logged(&ground)?;
    let answer = || {
        let floor = Floor::of(project);
        let in_use = next::in_use(&floor, &shots)?;
        next::outlook(project, &shots, &in_use, &look(&args.see))
    };
    let outlook = answer().map_err(|f| Refusal::finding(&f))?;
    let text = if args.json {
        format!("{:#}\n", json::next(project, &outlook))
    } else {
        next::words(project, &outlook)
    };
    Ok(Answer { text, code: FINE })
}
