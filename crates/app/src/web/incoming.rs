//! Files from outside: a look at what would be taken, and the taking.

use axum::Json;
use axum::extract::State;

use super::Shared;
use super::answer::{Answer, Body, blocking};
use super::floor::{Ground, Which};
use crate::tasks::floor::incoming::{Asked, incoming};

/// `POST floor/incoming`: what a table of shots, a robot's log or the points of a film would bring, or brings.
pub async fn look(State(shared): State<Shared>, Body(asked): Body<Asked>) -> Answer {
    let permit = shared.slow_lanes.clone().acquire_owned().await;
    blocking(move || {
        let _permit = permit;
        let ground = Ground::of(&shared, Which::default())?;
        let found = incoming(&ground.project, &ground.log, &asked)?;
        if asked.take {
            shared.desk.tell();
        }
        Ok(Json(found))
    })
    .await
}
