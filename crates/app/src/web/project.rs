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
use super::desk::{Refused, View, Wish};
use super::place::Place;
use crate::project::{self, DEMOS, FILE_NAME};
use crate::tasks;
use crate::tasks::begin::Start;
use crate::tasks::json::{head, with};
use crate::tasks::quantities::{choices, kinds, optional, quantities, units};

fn shown(view: &View) -> Value {
    let p = &view.project;
    let kind = match &view.place {
        Place::File(_) => "file",
        Place::Demo(_) => "demo",
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
            "at": view.place.at(),
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
            "optional": optional(p, &view.text),
            "choices": choices(p, &view.text),
            "kinds": kinds(p),
            "may_begin_here": matches!(view.place, Place::Demo(_)) && !Path::new(FILE_NAME).exists(),
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
    #[serde(default)]
    changes: Vec<Wish>,
    #[serde(default)]
    edits: Vec<Act>,
    revision: String,
}

/// One edit beyond a number.
#[derive(Deserialize)]
#[serde(tag = "act", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Act {
    Word {
        key: String,
        word: String,
    },
    Unset {
        key: String,
    },
    AddSpot {
        like: usize,
        #[serde(default)]
        name: Option<String>,
        #[serde(default)]
        distance_m: Option<f64>,
    },
    RemoveSpot {
        spot: usize,
    },
    Table {
        table: String,
    },
    Piece {
        kind: String,
    },
    Target {
        kind: String,
    },
}

impl From<Act> for project::Edit {
    fn from(act: Act) -> project::Edit {
        match act {
            Act::Word { key, word } => project::Edit::Word { key, word },
            Act::Unset { key } => project::Edit::Unset { key },
            Act::AddSpot {
                like,
                name,
                distance_m,
            } => project::Edit::AddSpot {
                like,
                name,
                distance_m,
            },
            Act::RemoveSpot { spot } => project::Edit::RemoveSpot { spot },
            Act::Table { table } => project::Edit::Table { table },
            Act::Piece { kind } => project::Edit::Piece { kind },
            Act::Target { kind } => project::Edit::Target { kind },
        }
    }
}

/// `POST project/edit`: values and edits into the file.
pub async fn edit(State(shared): State<Shared>, Body(edit): Body<Edit>) -> Answer {
    blocking(move || {
        let edits: Vec<project::Edit> = edit.edits.into_iter().map(project::Edit::from).collect();
        let (view, rewritten) = shared.desk.edit(&edit.changes, &edits, &edit.revision)?;
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
    blocking(move || {
        let view = shared
            .desk
            .put_text(&body.text, &body.revision, "the text, on the page")?;
        Ok(Json(shown(&view)))
    })
    .await
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
        let folder = plain_folder(&keep.folder)?;
        Ok(Json(shown(&shared.desk.keep(folder)?)))
    })
    .await
}

/// A folder right below the one the program runs in.
fn plain_folder(name: &str) -> Result<&Path, Finding> {
    let folder = Path::new(name.trim());
    let mut parts = folder.components();
    let is_plain = matches!((parts.next(), parts.next()), (Some(Component::Normal(_)), None));
    if is_plain {
        return Ok(folder);
    }
    Err(Finding::new(
        "bad-folder",
        "folder",
        format!("`{}` is not the name of a folder", name.trim()),
        "give a plain name without slashes, such as my-thrower",
    ))
}

/// Body of `POST project/begin`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Begin {
    /// A folder below the one the program runs in; that one itself if not given.
    #[serde(default)]
    folder: Option<String>,
    answers: Start,
}

/// `POST project/begin`: a project from a few answers, in a folder that has none.
pub async fn begin(State(shared): State<Shared>, Body(body): Body<Begin>) -> Answer {
    blocking(move || {
        let folder = match &body.folder {
            Some(name) => plain_folder(name)?,
            None => Path::new(""),
        };
        let text = tasks::begin::begin(&body.answers).map_err(Refused::Wrong)?;
        Ok(Json(shown(&shared.desk.begin(folder, &text)?)))
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
