//! Routes of the practice floor: the same words, the same log and the same answers as `arcwright floor`.

use std::path::PathBuf;
use std::sync::Arc;

use arcwright_model::finding::Finding;
use arcwright_model::floor::Shot;
use arcwright_model::project::Project;
use axum::Json;
use axum::extract::{Query, State};
use serde::Deserialize;
use serde_json::{Value, json};

use super::answer::{Answer, Body, blocking};
use super::desk::Refused;
use super::remember::Remembered;
use super::{Shared, rehearsal};
use crate::store::{self, Store};
use crate::tasks::floor::next::InUse;
use crate::tasks::floor::see::{See, look};
use crate::tasks::floor::taught::{self, Kept};
use crate::tasks::floor::{self, Floor, log as logging, next as nexting, tell, time};
use crate::tasks::json::{head, with};

/// Which log is meant.
#[derive(Clone, Copy, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Which {
    /// The log of rehearsals in place of the one of real shots.
    #[serde(default)]
    pub rehearsal: bool,
}

/// A project and its log.
pub struct Ground {
    /// With the knobs as they stand, in a rehearsal those of the rehearsed machine.
    pub project: Arc<Project>,
    /// The log, which may not be there yet.
    pub log: PathBuf,
}

impl Ground {
    /// The project on the desk with one of its logs.
    pub fn of(shared: &Shared, which: Which) -> Result<Ground, Finding> {
        if which.rehearsal {
            return rehearsal::ground(shared);
        }
        Ok(Ground {
            project: shared.desk.view().project,
            log: shared.desk.log_path()?,
        })
    }

    fn read(&self) -> Result<Option<Store>, Finding> {
        store::open_to_read(&self.log)
    }

    /// The log as the model sees it; empty where there is none yet.
    fn shots(&self) -> Result<Vec<Shot>, Finding> {
        let Some(store) = self.read()? else {
            return Ok(Vec::new());
        };
        let all = store::shots(&store, &self.project)?;
        Ok(all.into_iter().map(|l| l.shot).collect())
    }
}

/// `GET floor`: sessions and shots as `floor list --json`, each shot with its words. A rehearsal shows the shots of its
/// own machine.
pub async fn view(State(shared): State<Shared>, Query(which): Query<Which>) -> Answer {
    blocking(move || {
        let ground = Ground::of(&shared, which)?;
        let project = &ground.project;
        let Some(store) = ground.read()? else {
            return Ok(Json(with(
                head("floor-list", project),
                json!({ "sessions": [], "says": [] }),
            )));
        };
        let all = store.current()?;
        let says: Vec<Value> = all
            .iter()
            .filter(|l| !l.entry.taken_back)
            .filter(|l| !which.rehearsal || l.entry.left_out_because.is_none())
            .map(|l| {
                let mut entry = l.entry.clone();
                if which.rehearsal {
                    // That it was rehearsed stands above them all.
                    entry.note.clear();
                }
                json!({
                    "shot": l.id,
                    "place": tell::place(project, &entry),
                    "seen": tell::seen(project, &entry),
                    "besides": tell::besides(project, &entry),
                })
            })
            .collect();
        Ok(Json(with(
            floor::json::list(project, &store.sessions()?, &all),
            json!({ "says": says }),
        )))
    })
    .await
}

/// Body of `POST floor/shots`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Said {
    /// The shot in words, as for `floor log`.
    words: String,
    /// Made up by the sender once for each shot: sent again, the shot is not logged again.
    key: String,
    /// Take what is only unlikely.
    #[serde(default)]
    anyway: bool,
    /// When it was thrown, milliseconds UTC; now if not given. For shots that had to wait for a connection.
    #[serde(default)]
    thrown_utc_ms: Option<i64>,
    /// The project that it belongs to, as `GET project` says in `at`; any if not given. A device that waited for a
    /// connection may find another project at the same address.
    #[serde(default)]
    at: Option<String>,
}

/// `POST floor/shots`: logs a shot.
pub async fn log(State(shared): State<Shared>, Body(said): Body<Said>) -> Answer {
    /// Physical: a shot that waited longer than this for a connection belongs to another day's clock.
    const LONGEST_WAIT_MS: i64 = 24 * 3600 * 1000;
    blocking(move || {
        let fine = (8..=64).contains(&said.key.len())
            && said.key.chars().all(|c| c.is_ascii_alphanumeric() || c == '-');
        if !fine {
            return Err(Finding::new(
                "bad-key",
                "key",
                "the key of a shot has 8 to 64 letters, digits and hyphens",
                "make up a new one for each shot",
            )
            .into());
        }
        if said.at.is_some_and(|at| at != shared.desk.view().place.at()) {
            return Err(Refused::Elsewhere);
        }
        let now = time::now_ms();
        let thrown = said
            .thrown_utc_ms
            .filter(|t| (now - LONGEST_WAIT_MS..=now).contains(t))
            .unwrap_or(now);
        let project = shared.desk.view().project;
        let ground = Floor::of(&project);
        let path = shared.desk.log_path()?;
        // A line that is refused makes no log.
        if store::open_to_read(&path)?.is_none() {
            logging::look(&ground, &said.words, said.anyway, thrown)?;
        }
        let mut store = store::open(&path)?;
        let done = logging::log_once(&ground, &mut store, &said.words, said.anyway, thrown, &said.key)?;
        shared.desk.tell();
        Ok(Json(with(
            head("floor-log", &project),
            json!({
                "shot": done.id,
                "session": done.session,
                "begins_session": done.begins_session,
                "says": tell::line(&project, done.id, &done.entry, &done.unsaid),
            }),
        )))
    })
    .await
}

/// Body of `POST floor/undo`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Back {
    /// Only this shot, whoever logged what since; the last thing done to the log if not given.
    #[serde(default)]
    shot: Option<i64>,
}

/// `POST floor/undo`: takes a shot or the last thing done back.
pub async fn undo(State(shared): State<Shared>, Body(back): Body<Back>) -> Answer {
    blocking(move || {
        let project = shared.desk.view().project;
        let log = shared.desk.log_path()?;
        let Some(mut store) = store::open_to_read(&log)?
            .map(|_| store::open(&log))
            .transpose()?
        else {
            return Err(Refused::from(Finding::new(
                "nothing-to-undo",
                "log",
                "no shot has been logged yet",
                "log one first",
            )));
        };
        let now = time::now_ms();
        let undone = match back.shot {
            Some(shot) => store.undo_shot(shot, now)?,
            None => store.undo(now)?,
        };
        let says = tell::undone(&project, &undone, store.path())?;
        shared.desk.tell();
        Ok(Json(with(head("floor-undo", &project), json!({ "says": says }))))
    })
    .await
}

/// `GET floor/fit`: as `floor fit --look --json`.
pub async fn fit(State(shared): State<Shared>, Query(which): Query<Which>) -> Answer {
    learned(shared, which, false).await
}

/// `POST floor/fit`: as `floor fit --json`: from then on everything goes by it.
pub async fn keep_fit(State(shared): State<Shared>, Query(which): Query<Which>) -> Answer {
    learned(shared, which, true).await
}

async fn learned(shared: Shared, which: Which, keep: bool) -> Answer {
    let permit = shared.lanes.clone().acquire_owned().await;
    blocking(move || {
        let _permit = permit;
        let ground = Ground::of(&shared, which)?;
        let learnt = taught::learn(&ground.project, &ground.log, keep)?;
        if keep {
            shared.desk.tell();
        }
        let kept = matches!(learnt.kept, Kept::Yes | Kept::NotToBeUsed);
        Ok(Json(floor::json::fit(
            &ground.project,
            &learnt.fitted,
            &learnt.table,
            kept,
        )))
    })
    .await
}

/// What comes next, by the file, the shots and the speeds in use: every browser asks it after every shot, and the search over
/// the hood takes a while.
pub type Advice = Remembered<(String, Vec<Shot>, Vec<InUse>), Value>;

/// `GET floor/next`: as `floor next --json`, for shots whose miss is seen by eye; in a rehearsal as it began.
pub async fn next(State(shared): State<Shared>, Query(which): Query<Which>) -> Answer {
    let permit = shared.lanes.clone().acquire_owned().await;
    blocking(move || {
        let _permit = permit;
        if which.rehearsal {
            return Ok(Json(rehearsal::next(&shared)?));
        }
        let view = shared.desk.view();
        let project = view.project;
        let ground = Ground {
            project: project.clone(),
            log: shared.desk.log_path()?,
        };
        let all = ground.shots()?;
        let in_use = nexting::in_use(&Floor::of(&project), &all)?;
        let answer = shared
            .next
            .get((view.revision, all, in_use), |(_, all, in_use)| {
                let outlook = nexting::outlook(&project, all, in_use, &look(&[See::Eye]))?;
                Ok::<_, Finding>(floor::json::next(&project, &outlook))
            })?;
        Ok(Json(answer))
    })
    .await
}
