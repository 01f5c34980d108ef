//! Routes about the project as a whole.

use std::convert::Infallible;
use std::path::{Component, Path};

use arcwright_model::finding::Finding;
use arcwright_model::project::UnitSystem;
use arcwright_model::target::Outline;
use axum::Json;
use axum::extract::State;
use axum::response::sse::{Event, KeepAlive, Sse};
use futures_util::stream::{self, Stream};
use serde::Deserialize;
use serde_json::{Value, json};

use super::Shared;
use super::answer::{Answer, Body, blocking};
use super::desk::{Place, View, Wish};
use crate::project::{self, DEMOS};
use crate::tasks::json::{head, with};
use crate::tasks::quantities::{quantities, units};

fn shown(view: &View) -> Value {
    let p = &view.project;
    let (kind, at) = match &view.place {
        Place::File(path) => ("file", path.display().to_string()),
        Place::Demo(name) => ("demo", (*name).to_string()),
    };
    let demos: Vec<Value> = DEMOS
        .iter()
        .map(|d| json!({ "name": d.name, "about": d.about }))
        .collect();
    let t = &p.target;
    with(
        head("project", p),
        json!({
            "from": kind,
            "at": at,
            "revision": view.revision,
            "text": view.text,
            "units": match p.units { UnitSystem::Metric => "metric", UnitSystem::Us => "us" },
            "words": p.brief_words(),
            "problems": project::json(&view.problems),
            "notes": project::json(&view.notes),
            "can_undo": view.can_undo,
            "can_redo": view.can_redo,
            "spots": p.spots.iter().map(|s| json!({
                "name": s.name, "distance_m": s.distance_m, "offset_m": s.offset_m, "heading_rad": s.heading_rad,
            })).collect::<Vec<_>>(),
            "target": { "rim_height_m": t.rim_height_m, "width_m": t.width_m, "depth_m": t.depth_m, "tilt_rad": t.tilt_rad, "round": t.outline == Outline::Round },
            "demos": demos,
            "shown_in": units(p.units),
            "quantities": quantities(p),
        }),
    )
}

/// `GET project`.
pub async fn view(State(shared): State<Shared>) -> Answer {
    blocking(move || Ok(Json(shown(&shared.desk.view())))).await
}

/// Body of `POST project/edit`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Edit {
    changes: Vec<Wish>,
    revision: String,
}

/// `POST project/edit`: values into the file.
pub async fn edit(State(shared): State<Shared>, Body(edit): Body<Edit>) -> Answer {
    blocking(move || {
        let (view, rewritten) = shared.desk.edit(&edit.changes, &edit.revision)?;
        let rows: Vec<Value> = rewritten
            .iter()
            .map(|r| json!({ "key": r.key, "before": r.before, "after": r.after }))
            .collect();
        Ok(Json(with(shown(&view), json!({ "rewritten": rows }))))
    })
    .await
}

/// Body of `POST project/text`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Text {
    text: String,
    revision: String,
}

/// `POST project/text`: the whole file.
pub async fn put_text(State(shared): State<Shared>, Body(body): Body<Text>) -> Answer {
    blocking(move || Ok(Json(shown(&shared.desk.put_text(&body.text, &body.revision)?)))).await
}

/// `POST project/undo`.
pub async fn undo(State(shared): State<Shared>) -> Answer {
    blocking(move || Ok(Json(shown(&shared.desk.step(true)?)))).await
}

/// `POST project/redo`.
pub async fn redo(State(shared): State<Shared>) -> Answer {
    blocking(move || Ok(Json(shown(&shared.desk.step(false)?)))).await
}

/// Body of `POST project/demo`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Show {
    demo: String,
}

/// `POST project/demo`: another demo in place of one.
pub async fn demo(State(shared): State<Shared>, Body(body): Body<Show>) -> Answer {
    blocking(move || Ok(Json(shown(&shared.desk.show_demo(&body.demo)?)))).await
}

/// Body of `POST project/keep`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Keep {
    folder: String,
}

/// `POST project/keep`: the project on the desk as a folder below the one the program runs in.
pub async fn keep(State(shared): State<Shared>, Body(keep): Body<Keep>) -> Answer {
    blocking(move || {
        let folder = Path::new(keep.folder.trim());
        let mut parts = folder.components();
        let is_plain = matches!((parts.next(), parts.next()), (Some(Component::Normal(_)), None));
        if !is_plain {
            return Err(Finding::new(
                "bad-folder",
                "folder",
                format!("`{}` is not the name of a folder", keep.folder.trim()),
                "give a plain name without slashes, such as my-thrower",
            )
            .into());
        }
        Ok(Json(shown(&shared.desk.keep(folder)?)))
    })
    .await
}

/// `GET news`: an event whenever project or log change; its data is a rising number.
pub async fn news(State(shared): State<Shared>) -> Sse<impl Stream<Item = Result<Event, Infallible>>> {
    let receiver = shared.desk.listen();
    let events = stream::unfold((receiver, true), |(mut receiver, is_first)| async move {
        if !is_first && receiver.changed().await.is_err() {
            return None;
        }
        let number = *receiver.borrow_and_update();
        Some((Ok(Event::default().data(number.to_string())), (receiver, false)))
    });
    Sse::new(events).keep_alive(KeepAlive::default())
}
