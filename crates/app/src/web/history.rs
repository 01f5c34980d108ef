//! Routes of what changed and why.

use std::path::PathBuf;

use arcwright_model::finding::Finding;
use axum::Json;
use axum::extract::{Query, State};
use serde::Deserialize;
use serde_json::json;

use super::Shared;
use super::answer::{Answer, Body, blocking};
use super::desk::View;
use super::place::Place;
use crate::tasks::history::{Kept, because, compare_states, demo_has_none, story};
use crate::tasks::json::{compared, history, with};

/// States that are listed where nothing is said, as `history` lists them.
const LAST_COUNT: usize = 20;

fn file(view: &View) -> Result<PathBuf, Finding> {
    match &view.place {
        Place::File(path) => Ok(path.clone()),
        Place::Demo(_) => Err(demo_has_none()),
    }
}

/// How much is listed.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Newest {
    /// How many of the newest states.
    #[serde(default)]
    last: Option<usize>,
}

/// `GET history`: as `history --json`.
pub async fn view(State(shared): State<Shared>, Query(newest): Query<Newest>) -> Answer {
    let permit = shared.slow_lanes.clone().acquire_owned().await;
    blocking(move || {
        let _permit = permit;
        let view = shared.desk.view();
        let told = story(&file(&view)?, &view.text, newest.last.unwrap_or(LAST_COUNT))?;
        Ok(Json(history(&view.project, &told)))
    })
    .await
}

/// Body of `POST history`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Because {
    reason: String,
}

/// `POST history`: the project as it is now is kept with a reason, or the newest state gets it where nothing has changed since.
pub async fn keep(State(shared): State<Shared>, Body(body): Body<Because>) -> Answer {
    let permit = shared.slow_lanes.clone().acquire_owned().await;
    blocking(move || {
        let _permit = permit;
        let view = shared.desk.view();
        let file = file(&view)?;
        let (state, is_new) = match because(&file, &view.text, &body.reason)? {
            Kept::New(n) => (n, true),
            Kept::Same(n) => (n, false),
        };
        shared.desk.tell();
        let told = story(&file, &view.text, LAST_COUNT)?;
        Ok(Json(with(
            history(&view.project, &told),
            json!({ "kept": { "state": state, "new": is_new } }),
        )))
    })
    .await
}

/// Which states are compared.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Pair {
    /// This one.
    #[serde(default)]
    from: Option<usize>,
    /// With this one; with the project as it is now if not given.
    #[serde(default)]
    to: Option<usize>,
}

/// `GET history/compare`: as `history --compare --json`.
pub async fn compare(State(shared): State<Shared>, Query(pair): Query<Pair>) -> Answer {
    let permit = shared.slow_lanes.clone().acquire_owned().await;
    blocking(move || {
        let _permit = permit;
        let view = shared.desk.view();
        let file = file(&view)?;
        let from = pair.from.ok_or_else(|| {
            Finding::new(
                "no-state-given",
                "from",
                "it is not said which state is to be compared",
                "give its number: history/compare?from=1",
            )
        })?;
        let found = compare_states(&file, &view.text, from, pair.to)?;
        Ok(Json(compared(&view.project, from, pair.to, &found)))
    })
    .await
}
