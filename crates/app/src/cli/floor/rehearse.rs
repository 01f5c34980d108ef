//! `floor rehearse`: practice on a machine whose truth is hidden, with a log of its own.

use arcwright_model::finding::Finding;
use arcwright_model::floor::rehearse::{Doubts, HiddenProject};
use clap::Args;
use serde_json::{Value, json};

use super::next::{See, look};
use super::{Ground, Where, joined};
use crate::cli::{Answer, FINE, Refusal, say};
use crate::store::Store;
use crate::tasks::floor::next::PROOF_THROWS;
use crate::tasks::floor::practice;
pub use crate::tasks::floor::rehearse::FILE_NAME;
use crate::tasks::floor::rehearse::{Bench, MOST_THROWS, Session, Step, prepare, prepared};

#[derive(Args)]
pub struct RehearseArgs {
    /// `throw` and from where and how fast, such as: throw far 3490 rpm
    #[arg(value_name = "WORDS")]
    words: Vec<String>,
    /// Prepare the machine of this seed
    #[arg(long, value_name = "N")]
    seed: Option<u64>,
    /// Play a whole session by what `floor next` says, to the sign to stop, and the proof after it
    #[arg(long, conflicts_with = "words")]
    all: bool,
    /// Tune so many machines, of this seed (or 1) and those after it, by what `floor next` says and by hand, and show after
    /// how many shots every spot is right; writes nothing
    #[arg(long, value_name = "N", conflicts_with_all = ["words", "all"], value_parser = clap::value_parser!(u64).range(1..=1000))]
    machines: Option<u64>,
    /// What is seen of each shot besides what became of it
    #[arg(long, value_name = "HOW", value_delimiter = ',', default_value = "eye")]
    see: Vec<See>,
    /// Print JSON (SI, versioned; see docs/json.md) instead of text
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    place: Where,
}

pub fn run(args: &RehearseArgs) -> Result<Answer, Refusal> {
    let ground = Ground::load(&Where {
        rehearsal: true,
        ..args.place.clone()
    })?;
    if let Some(count) = args.machines {
        return machines(args, &ground, count);
    }
    let mut store = ground.open()?;
    let practice = |store: &mut Store| -> Result<(String, Vec<Value>), Finding> {
        let mut text = String::new();
        let mut steps = Vec::new();
        let seed = match args.seed {
            Some(seed) => {
                prepare(store, seed)?;
                text.push_str(&format!(
                    "A machine is built from this project with seed {seed}; what it truly does is hidden.\n"
                ));
                steps.push(json!({ "step": "prepared", "seed": seed }));
                seed
            }
            None => prepared(store)?.seed,
        };
        let mut bench = Bench::of(&ground.project, seed, store, look(&args.see))?;
        if args.all {
            whole(Session::begin(bench, seed, store)?, store, &mut text, &mut steps)?;
        } else if !args.words.is_empty() {
            let (spot, setpoint) = bench.asked(&joined(&args.words))?;
            let said = bench.throw(store, &spot, setpoint, 0.0)?.says;
            steps.push(json!({ "step": "throw", "says": said }));
            text.push_str(&said);
        } else if args.seed.is_none() {
            text.push_str(&format!(
                "The machine of seed {seed} is ready: `floor rehearse throw {}`, or `floor rehearse --all`.\n",
                ground.project.spots.first().map_or("far", |s| s.name.as_str())
            ));
        }
        Ok((text, steps))
    };
    let (text, steps) = practice(&mut store).map_err(|f| Refusal::finding(&f))?;
    let text = if args.json {
        format!(
            "{:#}\n",
            crate::tasks::floor::json::rehearse(&ground.project, steps)
        )
    } else {
        text
    };
    Ok(Answer { text, code: FINE })
}

/// Many machines, unseen.
fn machines(args: &RehearseArgs, ground: &Ground, count: u64) -> Result<Answer, Refusal> {
    let project = &ground.project;
    let first = args.seed.unwrap_or(1);
    let look = look(&args.see);
    let each = (first..first.saturating_add(count)).map(|seed| {
        let machine = HiddenProject::drawn(project, seed, Doubts::default());
        if !say::is_quiet() {
            say::err(&format!("machine {} of {count}\n", seed - first + 1));
        }
        practice::trial(project, seed, &machine, &look)
    });
    let trials: Vec<practice::Trial> = each
        .collect::<Result<_, Finding>>()
        .map_err(|f| Refusal::finding(&f))?;
    let text = if args.json {
        let steps = trials.iter().map(crate::tasks::floor::json::trial).collect();
        format!("{:#}\n", crate::tasks::floor::json::rehearse(project, steps))
    } else {
        let lines: String = trials.iter().map(|t| practice::line(project, t)).collect();
        format!("{}{lines}\n{}", practice::head(), practice::words(&trials))
    };
    Ok(Answer { text, code: FINE })
}

/// Throws by what `floor next` says until it says stop, then proves it.
fn whole(
    mut session: Session,
    store: &mut Store,
    text: &mut String,
    steps: &mut Vec<Value>,
) -> Result<(), Finding> {
    text.push_str(
        "Each round: what the log says to change, the next throw and why, and what a helper saw of it.\n",
    );
    let mut stopped = false;
    while session.thrown < MOST_THROWS {
        let says = session.says();
        text.push_str(&says);
        if let Some(leaves) = session.leaves() {
            text.push_str(&format!("  {leaves}\n"));
        }
        let stops = session.stops();
        match session.advance(store)? {
            Step::Knob => steps.push(json!({ "step": "knob", "says": says })),
            Step::Throw(thrown) => {
                steps.push(json!({ "step": "throw", "says": says, "seen": thrown.says.trim() }));
                text.push_str(&thrown.says);
            }
            Step::Stop => {
                stopped = stops;
                steps.push(json!({ "step": "stop", "says": says }));
                break;
            }
        }
    }
    if !stopped {
        text.push_str(&format!(
            "After {MOST_THROWS} throws there is still no sign to stop.\n"
        ));
        return Ok(());
    }
    text.push_str("Proof, every knob left alone:\n");
    let proof = session.prove(store)?;
    text.push_str(&proof.lines);
    steps.push(
        json!({ "step": "proof", "hits": proof.hits, "throws": PROOF_THROWS, "says": proof.says.trim() }),
    );
    text.push_str(&proof.says);
    let (says, step) = session.truth();
    text.push_str(&says);
    steps.push(step);
    Ok(())
}
