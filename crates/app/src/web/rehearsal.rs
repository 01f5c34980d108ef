//! Routes of the rehearsal: practice on a hidden machine, with a log of its own. Nothing here touches the log of real shots.

use std::path::PathBuf;
use std::sync::{Arc, MutexGuard, PoisonError};

use arcwright_model::finding::Finding;
use axum::Json;
use axum::extract::State;
use serde::Deserialize;
use serde_json::{Value, json};

use super::Shared;
use super::answer::{Answer, Body, blocking};
use super::desk::Refused;
use super::floor::Ground;
use crate::store::{self, Store};
use crate::tasks::floor::rehearse::{Bench, MOST_THROWS, Prepared, Session, Step, prepare, prepared};
use crate::tasks::floor::see::{See, look};
use crate::tasks::floor::{json as floor_json, time};
use crate::tasks::json::{head, with};
use crate::tasks::ruler;

/// A rehearsal that goes on.
pub struct Held {
    /// Its log.
    log: PathBuf,
    /// Fingerprint of the project's text when it was built.
    revision: String,
    see: Vec<See>,
    session: Session,
    stamp: Stamp,
    /// What was done last, in words.
    did: String,
    truth: Option<Value>,
}

/// Last act of a log of rehearsals and the session of its machine: what the terminal does meanwhile shows in them.
type Stamp = (i64, i64);

fn stamp(store: &Store) -> Result<Stamp, Finding> {
    Ok((store.last_act()?, prepared(store)?.session))
}

/// How a remark says what is seen.
const SEEN: &str = "seen: ";

fn held(shared: &Shared) -> MutexGuard<'_, Option<Held>> {
    // What is held is replaced whole or changed after the log was written, so a panic leaves nothing half done.
    shared.rehearsal.lock().unwrap_or_else(PoisonError::into_inner)
}

fn none_yet() -> Finding {
    Finding::new(
        "no-rehearsal",
        "rehearsal",
        "no machine has been prepared to practise on",
        "start a rehearsal first",
    )
}

/// Does something with the rehearsal; one that an earlier run of the program began is taken up again from its log.
fn with_held<T>(shared: &Shared, work: impl FnOnce(&mut Held) -> Result<T, Finding>) -> Result<T, Finding> {
    let mut slot = held(shared);
    if !shared.desk.has_rehearsal_place() {
        return Err(none_yet());
    }
    let log = shared.desk.rehearsal_path()?;
    let store = store::open_to_read(&log)?.ok_or_else(none_yet)?;
    let now = stamp(&store)?;
    if slot.as_ref().is_some_and(|h| h.log != log || h.stamp != now) {
        *slot = None;
    }
    if slot.is_none() {
        let Prepared { session, .. } = prepared(&store)?;
        let sessions = store.sessions()?;
        let remarks = sessions
            .iter()
            .filter(|s| s.id == session)
            .flat_map(|s| &s.remarks);
        let see = match remarks.rev().find_map(|r| r.strip_prefix(SEEN)) {
            Some(text) => See::list(text)?,
            None => vec![See::Eye],
        };
        let view = shared.desk.view();
        *slot = Some(Held {
            session: Session::resume(&view.project, &store, look(&see))?,
            revision: view.revision,
            log,
            see,
            stamp: now,
            did: String::new(),
            truth: None,
        });
    }
    drop(store);
    match slot.as_mut() {
        Some(h) => work(h),
        None => Err(none_yet()),
    }
}

/// Project and log of the rehearsal; before there is one the project as it stands.
pub fn ground(shared: &Shared) -> Result<Ground, Finding> {
    if !shared.desk.has_rehearsal_place() {
        return Err(none_yet());
    }
    let log = shared.desk.rehearsal_path()?;
    let project = match with_held(shared, |h| Ok(Arc::new(h.session.bench.project.clone()))) {
        Ok(project) => project,
        Err(f) if f.code == "no-rehearsal" => shared.desk.view().project,
        Err(f) => return Err(f),
    };
    Ok(Ground { project, log })
}

/// What is to be done next in the rehearsal.
pub fn next(shared: &Shared) -> Result<Value, Finding> {
    with_held(shared, |h| {
        Ok(floor_json::next(&h.session.bench.project, &h.session.outlook))
    })
}

fn shown(shared: &Shared, h: &Held) -> Value {
    let s = &h.session;
    let setting = &s.bench.project.machine.setting;
    with(
        head("rehearsal", &s.bench.project),
        json!({
            "going": true,
            "seed": s.seed,
            "see": h.see.iter().map(|s| s.word()).collect::<Vec<_>>(),
            "thrown": s.thrown,
            "most": MOST_THROWS,
            "stop": s.stops(),
            "knob": s.by_spanner(),
            "leaves": s.leaves(),
            // Something to do besides throwing again.
            "advice": s.stops() || s.by_spanner() || !s.outlook.moves.is_empty(),
            "did": h.did.trim(),
            "setting": { "slide_m": setting.slide_m, "tilt_rad": setting.tilt_rad, "reach_m": setting.reach_m },
            "ruler": ruler::json(&s.bench.project),
            "project_changed": h.revision != shared.desk.view().revision,
            "proof": s.proof.as_ref().map(|p| json!({ "hits": p.hits, "says": p.says.trim() })),
            "truth": h.truth,
        }),
    )
}

fn nothing(shared: &Shared) -> Value {
    with(
        head("rehearsal", &shared.desk.view().project),
        json!({ "going": false }),
    )
}

/// `GET floor/rehearsal`: how the rehearsal stands.
pub async fn view(State(shared): State<Shared>) -> Answer {
    blocking(move || match with_held(&shared, |h| Ok(shown(&shared, h))) {
        Ok(state) => Ok(Json(state)),
        Err(f) if f.code == "no-rehearsal" => Ok(Json(nothing(&shared))),
        Err(f) => Err(f.into()),
    })
    .await
}

/// Body of `POST floor/rehearsal`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Start {
    /// Which machine; any if not given.
    #[serde(default)]
    seed: Option<u64>,
    /// What is seen of each shot.
    see: Vec<See>,
}

/// `POST floor/rehearsal`: prepares a machine to practise on. What an earlier one threw stays in the log of rehearsals.
pub async fn start(State(shared): State<Shared>, Body(body): Body<Start>) -> Answer {
    /// Physical: as many machines as anyone will practise on, and short to write down.
    const SEEDS: u64 = 10_000;
    blocking(move || {
        if body.see.is_empty() {
            return Err(Finding::new(
                "nothing-seen",
                "see",
                "nothing would be seen of a shot",
                "choose what is seen of each shot",
            )
            .into());
        }
        let seed = match body.seed {
            Some(seed) => seed,
            None => {
                let mut bytes = [0; 8];
                getrandom::fill(&mut bytes).map_err(|e| {
                    Finding::new(
                        "no-random",
                        "seed",
                        format!("this system gives no random numbers: {e}"),
                        "give a seed of your own",
                    )
                })?;
                u64::from_le_bytes(bytes) % SEEDS
            }
        };
        let mut slot = held(&shared);
        let view = shared.desk.view();
        let log = shared.desk.rehearsal_path()?;
        let mut store = store::open(&log)?;
        let Prepared { session, .. } = prepare(&mut store, seed)?;
        store.remark(
            session,
            &format!("{SEEN}{}", See::joined(&body.see)),
            time::now_ms(),
        )?;
        let bench = Bench::of(&view.project, seed, &store, look(&body.see))?;
        let begun = Held {
            session: Session::begin(bench, seed, &store)?,
            revision: view.revision,
            log,
            stamp: stamp(&store)?,
            see: body.see,
            did: String::new(),
            truth: None,
        };
        let state = shown(&shared, &begun);
        *slot = Some(begun);
        shared.desk.tell();
        Ok(Json(state))
    })
    .await
}

fn open(h: &Held) -> Result<Store, Finding> {
    store::open(&h.log)
}

async fn doing(
    shared: Shared,
    work: impl FnOnce(&mut Held) -> Result<(), Finding> + Send + 'static,
) -> Answer {
    let permit = shared.slow_lanes.clone().acquire_owned().await;
    blocking(move || {
        let _permit = permit;
        let state = with_held(&shared, |h| {
            let done = work(h);
            // What was thrown before a refusal stays thrown.
            h.stamp = stamp(&open(h)?)?;
            done?;
            Ok(shown(&shared, h))
        })
        .map_err(Refused::from)?;
        shared.desk.tell();
        Ok(Json(state))
    })
    .await
}

/// Body of `POST floor/rehearsal/step`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Next {
    /// From where and how fast, such as `far 3490 rpm`; what is to be done next if not given.
    #[serde(default)]
    words: Option<String>,
}

/// `POST floor/rehearsal/step`: does what is to be done next (a knob, or the moves and a throw), or throws as it is told.
pub async fn step(State(shared): State<Shared>, Body(body): Body<Next>) -> Answer {
    doing(shared, move |h| {
        if h.session.thrown >= MOST_THROWS {
            return Err(Finding::new(
                "thrown-enough",
                "rehearsal",
                format!("after {MOST_THROWS} throws there is still no sign to stop"),
                "start again with another machine, or see more of each shot",
            ));
        }
        let mut store = open(h)?;
        let says = h.session.says();
        h.did = match body.words.as_deref().filter(|w| !w.trim().is_empty()) {
            Some(words) => h.session.throw_as(&mut store, words)?.says,
            None => match h.session.advance(&mut store)? {
                Step::Throw(thrown) => thrown.says,
                Step::Knob => says
                    .lines()
                    .find(|l| l.starts_with("Loosen"))
                    .unwrap_or("")
                    .to_string(),
                Step::Stop => String::new(),
            },
        };
        h.session.proof = None;
        h.truth = None;
        Ok(())
    })
    .await
}

/// `POST floor/rehearsal/proof`: throws that are counted apart, and then what the machine truly does.
pub async fn proof(State(shared): State<Shared>) -> Answer {
    doing(shared, |h| {
        if h.session.thrown == 0 {
            return Err(Finding::new(
                "no-shots",
                "rehearsal",
                "nothing was thrown yet",
                "throw first, until the sign to stop comes",
            ));
        }
        let mut store = open(h)?;
        h.session.prove(&mut store)?;
        let (says, beside) = h.session.truth();
        h.truth = Some(with(
            beside,
            json!({ "says": says.trim().lines().collect::<Vec<_>>(), "secret": h.session.secret() }),
        ));
        h.did = String::new();
        Ok(())
    })
    .await
}
