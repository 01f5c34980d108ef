//! Routes of the check between matches.

use arcwright_model::finding::Finding;
use arcwright_model::floor::telemetry::between;
use axum::Json;
use axum::extract::{Query, State};
use serde::Deserialize;
use serde_json::json;

use super::Shared;
use super::answer::{Answer, Body, blocking};
use super::floor::{Ground, Which};
use crate::store;
use crate::tasks::floor::drift::{From, compare, picture};
use crate::tasks::floor::drift_words::{SHIFTS_HEAD, dips_of, shift_rows};
use crate::tasks::floor::incoming::bytes_of;
use crate::tasks::floor::{json_drift, record_table, telemetry};
use crate::tasks::json::with;

/// Which shots are the later ones.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Later {
    /// Those from this shot on; the last session, or the last few, if not given.
    #[serde(default)]
    from_shot: Option<i64>,
}

/// `GET floor/drift`: as `floor drift --json`, with the picture.
pub async fn view(State(shared): State<Shared>, Query(later): Query<Later>) -> Answer {
    let permit = shared.lanes.clone().acquire_owned().await;
    blocking(move || {
        let _permit = permit;
        let ground = Ground::of(&shared, Which::default())?;
        let project = &ground.project;
        let logged = match store::open_to_read(&ground.log)? {
            Some(store) => store::shots(&store, project)?,
            None => Vec::new(),
        };
        let from = later.from_shot.map_or(From::Usual, From::Shot);
        let found = compare(project, logged, from)?;
        Ok(Json(with(
            json_drift::drift(project, &found),
            json!({ "picture": picture(&found) }),
        )))
    })
    .await
}

/// A robot's log.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Record {
    /// Name of the file.
    name: String,
    /// Its bytes, one letter (U+0000 to U+00FF) for each.
    bytes: String,
}

/// Body of `POST floor/drift`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Compare {
    /// The log of now.
    now: Record,
    /// The earlier one; the wheel speeds of the logged shots if not given.
    #[serde(default)]
    then: Option<Record>,
}

/// `POST floor/drift`: as `floor drift --telemetry --json`, with the rows in words. Nothing is written.
pub async fn compare_logs(State(shared): State<Shared>, Body(body): Body<Compare>) -> Answer {
    let permit = shared.lanes.clone().acquire_owned().await;
    blocking(move || {
        let _permit = permit;
        let project = shared.desk.view().project;
        let read = |record: &Record| -> Result<telemetry::Telemetry, Finding> {
            let table = record_table::parse(&bytes_of(&record.bytes)?, &record.name)?;
            telemetry::of_table(&table, &[], Some(&project), None)
        };
        let now = read(&body.now)?;
        let (shifts, than) = match &body.then {
            Some(record) => {
                let then = read(record)?;
                let pair = (
                    (&then.dips, then.train.as_ref().ok()),
                    (&now.dips, now.train.as_ref().ok()),
                );
                (between(pair.0, pair.1), record.name.clone())
            }
            None => {
                let ground = Ground::of(&shared, Which::default())?;
                let logged = match store::open_to_read(&ground.log)? {
                    Some(store) => store::shots(&store, &project)?,
                    None => Vec::new(),
                };
                let then = dips_of(&logged);
                (
                    between((&then, None), (&now.dips, now.train.as_ref().ok())),
                    "the logged shots".to_string(),
                )
            }
        };
        Ok(Json(with(
            json_drift::shifts(&project, &body.now.name, &than, &shifts),
            json!({ "head": SHIFTS_HEAD, "rows": shift_rows(&project, &shifts) }),
        )))
    })
    .await
}
