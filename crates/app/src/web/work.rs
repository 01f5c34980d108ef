//! `POST work`: results and pictures of the project, with values changed for the asking.

use arcwright_model::finding::Finding;
use axum::Json;
use axum::extract::State;
use serde::Deserialize;
use serde_json::json;

use super::Shared;
use super::answer::{Answer, Body, blocking};
use super::desk::{Refused, Wish};
use crate::tasks::bench::{Ask, answer};
use crate::tasks::json::{head, with};

/// Body of `POST work`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Asked {
    /// Parts that are wanted.
    want: Vec<String>,
    /// Values that are other than in the file.
    #[serde(default)]
    changes: Vec<Wish>,
    #[serde(default)]
    spot: Option<String>,
    #[serde(default)]
    wheel_radps: Option<f64>,
    /// Most throws of a scatter.
    #[serde(default = "usual_throws")]
    throws: u32,
    #[serde(default = "usual_seed")]
    seed: u64,
    /// Requests of one line replace each other: what is waiting is dropped when a higher number comes.
    #[serde(default)]
    line: Option<String>,
    #[serde(default)]
    number: u64,
    /// Leave out what takes a search.
    #[serde(default)]
    unsearched: bool,
    /// Another drive base to compare with.
    #[serde(default)]
    base: Option<String>,
    /// Its motors.
    #[serde(default)]
    base_motors: Option<u32>,
    /// Ways in which what is not known about a season may turn out.
    #[serde(default = "usual_worlds")]
    worlds: u32,
}

fn usual_worlds() -> u32 {
    200
}

fn usual_throws() -> u32 {
    4096
}

fn usual_seed() -> u64 {
    1
}

/// `POST work`.
pub async fn work(State(shared): State<Shared>, Body(body): Body<Asked>) -> Answer {
    /// Physical: as many throws as the command line takes.
    const MOST_THROWS: u32 = 1 << 24;
    /// Method: the scatter's fit needs a few.
    const FEWEST_THROWS: u32 = 256;
    if !(FEWEST_THROWS..=MOST_THROWS).contains(&body.throws) {
        return Err(Finding::new(
            "out-of-range",
            "throws",
            format!("{} throws are asked for", body.throws),
            format!("ask for {FEWEST_THROWS} to {MOST_THROWS}"),
        )
        .into());
    }
    /// Physical: as many as the command line takes.
    const WORLDS: std::ops::RangeInclusive<u32> = 20..=20_000;
    const MOTORS: std::ops::RangeInclusive<u32> = 1..=12;
    if !WORLDS.contains(&body.worlds) || body.base_motors.is_some_and(|n| !MOTORS.contains(&n)) {
        return Err(Finding::new(
            "out-of-range",
            "worlds",
            "ways of a season or motors of a base are out of range",
            "ask for 20 to 20000 `worlds`, and 1 to 12 `base_motors`",
        )
        .into());
    }
    if let Some(w) = body.wheel_radps
        && !(w > 0.0 && w.is_finite())
    {
        return Err(Finding::new(
            "out-of-range",
            "wheel_radps",
            "the wheel speed must be above zero",
            "leave it out for the setpoint",
        )
        .into());
    }
    if let Some(line) = &body.line {
        shared.desk.arrives(line, body.number);
    }
    // What takes long must not keep waiting what is being dragged.
    let slow = !body.unsearched
        || body.want.iter().any(|w| {
            w.ends_with("scatter") || w.ends_with("budget") || w == "helps" || w.ends_with("season")
        });
    let lanes = if slow { &shared.slow_lanes } else { &shared.lanes };
    let permit = lanes.clone().acquire_owned().await;
    let desk = shared.desk.clone();
    blocking(move || {
        let _permit = permit;
        let is_stale = || {
            body.line
                .as_deref()
                .is_some_and(|line| desk.is_stale(line, body.number))
        };
        if is_stale() {
            return Err(Refused::Stale);
        }
        let project = desk.with(&body.changes)?;
        let ask = Ask {
            want: body.want.clone(),
            spot: body.spot.clone(),
            wheel_radps: body.wheel_radps,
            throws: body.throws as usize,
            seed: body.seed,
            unsearched: body.unsearched,
            base: body.base.clone(),
            base_motors: body.base_motors,
            worlds: body.worlds as usize,
        };
        let standing = desk.standing(&project);
        let parts = answer(&standing, &ask, &is_stale)?.ok_or(Refused::Stale)?;
        Ok(Json(with(
            head("work", &project),
            json!({ "number": body.number, "goes_by": standing.line, "parts": parts }),
        )))
    })
    .await
}
