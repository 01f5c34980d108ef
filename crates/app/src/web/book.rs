//! Routes of what is carried away: card, notebook, notes, templates, hand-over.

use std::fs;
use std::path::PathBuf;

use arcwright_model::finding::Finding;
use axum::Json;
use axum::extract::{Query, State};
use serde::Deserialize;
use serde_json::{Value, json};

use super::Shared;
use super::answer::{Answer, Body, blocking};
use super::desk::{Refused, View};
use super::floor::{Ground, Which};
use super::place::Place;
use crate::project::{Level, Problem};
use crate::tasks::book::add::{NewNote, NewPhoto, add};
use crate::tasks::book::notes;
use crate::tasks::book::{self, CHAPTERS, From, html, html::Paper, print};
use crate::tasks::card::{self, Card};
use crate::tasks::draw::{self, draw};
use crate::tasks::floor::incoming::bytes_of;
use crate::tasks::hand::{self, Form};
use crate::tasks::json::{head, with};
use crate::tasks::tables::turned_by;

fn refused(all: Vec<Finding>) -> Refused {
    let problem = |finding| Problem {
        finding,
        place: None,
        level: Level::Wrong,
    };
    Refused::Wrong(all.into_iter().map(problem).collect())
}

fn paper(word: Option<&str>) -> Paper {
    word.and_then(Paper::named).unwrap_or(Paper::A4)
}

fn file(view: &View) -> Option<PathBuf> {
    match &view.place {
        Place::File(path) => Some(path.clone()),
        Place::Demo(_) => None,
    }
}

fn made_card(shared: &Shared, which: Which) -> Result<(Ground, Card), Finding> {
    let view = shared.desk.view();
    let ground = match Ground::of(shared, which) {
        Ok(ground) => ground,
        // A demo has no log.
        Err(f) if f.code == "no-folder" => {
            let card = card::card(&view.project, None, false, &view.text)?;
            let ground = Ground {
                project: view.project,
                log: PathBuf::new(),
            };
            return Ok((ground, card));
        }
        Err(f) => return Err(f),
    };
    let card = card::card(&ground.project, Some(&ground.log), which.rehearsal, &view.text)?;
    Ok((ground, card))
}

/// `GET card`: as `card --json`, with the page to print.
pub async fn pit_card(State(shared): State<Shared>, Query(which): Query<Which>) -> Answer {
    let permit = shared.lanes.clone().acquire_owned().await;
    blocking(move || {
        let _permit = permit;
        let (ground, card) = made_card(&shared, which)?;
        Ok(Json(with(
            card::json(&ground.project, &card),
            json!({ "html": html::card(&card, Paper::A4) }),
        )))
    })
    .await
}

/// What of the notebook is wanted.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Wanted {
    /// Names of sections; empty for all.
    sections: Vec<String>,
    /// `a4` or `letter`.
    #[serde(default)]
    paper: Option<String>,
}

fn notebook(shared: &Shared, wanted: &Wanted) -> Result<(Value, String), Refused> {
    let view = shared.desk.view();
    let chapters = book::chosen(&wanted.sections, &[])?;
    let file = file(&view);
    let from = From {
        text: &view.text,
        file: file.as_deref(),
    };
    let made = book::book(&from, &chapters).map_err(refused)?;
    made.keep();
    let text = html::book(&made, paper(wanted.paper.as_deref()));
    let sections: Vec<Value> = made
        .sections
        .iter()
        .map(|s| json!({ "name": s.id, "title": s.title }))
        .collect();
    Ok((
        with(head("book", &view.project), json!({ "sections": sections })),
        text,
    ))
}

/// `POST book`: the notebook as one file.
pub async fn view(State(shared): State<Shared>, Body(wanted): Body<Wanted>) -> Answer {
    let permit = shared.slow_lanes.clone().acquire_owned().await;
    blocking(move || {
        let _permit = permit;
        let (about, text) = notebook(&shared, &wanted)?;
        Ok(Json(with(about, json!({ "html": text }))))
    })
    .await
}

/// What is to be printed.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ToPrint {
    /// The card in place of the notebook.
    #[serde(default)]
    card: bool,
    /// Names of sections of the notebook; empty for all.
    sections: Vec<String>,
    /// `a4` or `letter`.
    #[serde(default)]
    paper: Option<String>,
}

/// `POST book/pdf`: notebook or card as PDF, printed by a browser of this machine.
pub async fn pdf(State(shared): State<Shared>, Body(wanted): Body<ToPrint>) -> Answer {
    let permit = shared.slow_lanes.clone().acquire_owned().await;
    blocking(move || {
        let _permit = permit;
        let Some(browser) = print::browser(None)? else {
            return Err(Finding::new(
                "no-browser",
                "pdf",
                "no browser of the Chromium family was found on the machine that serves this page",
                "save the HTML, open it and print it to PDF from there",
            )
            .into());
        };
        let (name, text) = if wanted.card {
            let (_, card) = made_card(&shared, Which::default())?;
            ("card", html::card(&card, paper(wanted.paper.as_deref())))
        } else {
            let of = Wanted {
                sections: wanted.sections,
                paper: wanted.paper,
            };
            ("notebook", notebook(&shared, &of)?.1)
        };
        let bytes = printed(&browser, &text)?;
        let view = shared.desk.view();
        Ok(Json(with(
            head("book-pdf", &view.project),
            json!({ "name": format!("{name}.pdf"), "base64": html::base64(&bytes) }),
        )))
    })
    .await
}

/// Prints a text by way of a folder that goes again.
fn printed(browser: &std::path::Path, text: &str) -> Result<Vec<u8>, Finding> {
    let folder = super::desk::passing_folder()?;
    let work = || {
        let (from, to) = (folder.join("page.html"), folder.join("page.pdf"));
        crate::tasks::pictures::write_file(&from, text)?;
        print::print(browser, &from, &to)?;
        fs::read(&to).map_err(|e| {
            Finding::new(
                "not-printed",
                "pdf",
                format!("the PDF cannot be read: {e}"),
                print::BY_HAND,
            )
        })
    };
    let done = work();
    let _ = fs::remove_dir_all(&folder);
    done
}

fn notes_folder(shared: &Shared) -> Result<PathBuf, Finding> {
    Ok(shared.desk.log_path()?.with_file_name(notes::FOLDER))
}

/// `GET book/notes`: the notes by day, and the sections of the notebook.
pub async fn notes(State(shared): State<Shared>) -> Answer {
    blocking(move || {
        let view = shared.desk.view();
        let all = match notes_folder(&shared) {
            Ok(folder) => notes::read(&folder).map_err(refused)?,
            Err(_) => Vec::new(),
        };
        let all: Vec<Value> = all
            .iter()
            .map(|n| {
                let words = n.parts.iter().map(|p| match p {
                    notes::Part::Text(t) => t.clone(),
                    notes::Part::List(items) => items.join("; "),
                    notes::Part::Photo(p) => format!("[photo] {}", p.caption),
                });
                json!({ "name": n.name, "day": n.day, "title": n.title, "says": words.collect::<Vec<_>>() })
            })
            .collect();
        let chapters: Vec<Value> = CHAPTERS
            .iter()
            .map(|c| json!({ "name": c.id, "title": c.title }))
            .collect();
        Ok(Json(with(
            head("book-notes", &view.project),
            json!({ "notes": all, "chapters": chapters, "may_add": file(&view).is_some() }),
        )))
    })
    .await
}

/// A photo with its bytes as letters.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SentPhoto {
    caption: String,
    bytes: String,
}

/// Body of `POST book/notes`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SentNote {
    day: String,
    #[serde(default)]
    title: String,
    #[serde(default)]
    text: String,
    #[serde(default)]
    photos: Vec<SentPhoto>,
}

/// `POST book/notes`: a new note with its photos, as files in the folder `notes`.
pub async fn add_note(State(shared): State<Shared>, Body(sent): Body<SentNote>) -> Answer {
    blocking(move || {
        let folder = notes_folder(&shared)?;
        let photos = sent.photos.into_iter().map(|p| {
            Ok(NewPhoto {
                bytes: bytes_of(&p.bytes)?,
                caption: p.caption,
            })
        });
        let new = NewNote {
            day: sent.day,
            title: sent.title,
            text: sent.text,
            photos: photos.collect::<Result<_, Finding>>()?,
        };
        let name = add(&folder, &new)?;
        shared.desk.tell();
        let view = shared.desk.view();
        Ok(Json(with(
            head("book-note", &view.project),
            json!({ "name": name }),
        )))
    })
    .await
}

/// Which paper.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OnPaper {
    /// `a4` or `letter`.
    #[serde(default)]
    paper: Option<String>,
}

/// `GET draw`: the templates of `draw`, each with its picture and its files.
pub async fn templates(State(shared): State<Shared>, Query(on): Query<OnPaper>) -> Answer {
    let permit = shared.lanes.clone().acquire_owned().await;
    blocking(move || {
        let _permit = permit;
        let view = shared.desk.view();
        let paper = match on.paper.as_deref() {
            Some("letter") => draw::Paper::Letter,
            _ => draw::Paper::A4,
        };
        let parts = draw(&view.project, paper, &card::foot(&view.project, &view.text))?;
        let parts: Vec<Value> = parts
            .iter()
            .map(|p| {
                let files: Vec<Value> = p
                    .files
                    .iter()
                    .map(|(name, bytes)| json!({ "name": name, "base64": html::base64(bytes) }))
                    .collect();
                json!({ "part": p.sheet.name, "title": p.sheet.title, "files": files })
            })
            .collect();
        Ok(Json(with(
            head("draw-files", &view.project),
            json!({
                "parts": parts,
                "left_out": draw::left_out(&view.project),
                "cautions": arcwright_paper::templates::CAUTIONS,
            }),
        )))
    })
    .await
}

/// `GET hand`: the files of `hand` as text.
pub async fn hand_over(State(shared): State<Shared>) -> Answer {
    let permit = shared.lanes.clone().acquire_owned().await;
    blocking(move || {
        let _permit = permit;
        let view = shared.desk.view();
        let standing = shared.desk.standing(&view.project);
        let turned = standing
            .learned
            .as_ref()
            .map_or(String::new(), |l| turned_by(&standing.project, l.turned_rad));
        let from = hand::From {
            project: &standing.project,
            learned: standing.learned.as_ref(),
            basis: &standing.basis,
            line: &standing.line,
            turned: &turned,
            text: &view.text,
        };
        let made = hand::hand(&from, None)?;
        let mut files = Vec::new();
        for form in Form::ALL {
            files.push(json!({ "name": form.file(), "text": hand::text(&made, form)? }));
        }
        let note = hand::note(&standing.project, &made);
        files.push(json!({ "name": hand::NOTE_FILE, "text": note }));
        Ok(Json(with(
            head("hand-files", &view.project),
            json!({ "files": files, "warnings": hand::warnings(&made) }),
        )))
    })
    .await
}
