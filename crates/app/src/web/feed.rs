//! Routes of the feed: loads played in the background, what would help, a load to look at.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, MutexGuard, PoisonError};

use arcwright_model::feed::hopper::{Hopper, Pieces};
use arcwright_model::feed::remedy::{Ranked, Ranking, before_and_after, rank, remedies};
use arcwright_model::feed::survey::{Invalid, Played, Survey, SurveyPlan, survey, worst_first};
use arcwright_model::finding::Finding;
use arcwright_model::project::Project;
use axum::Json;
use axum::extract::State;
use serde::Deserialize;
use serde_json::{Value, json};

use super::Shared;
use super::answer::{Answer, Body, blocking};
use super::desk::Refused;
use crate::tasks::feed::words::{
    self, RANKING_NOTE, REMEDY_HEADS, WAIT_HEADS, WAIT_NOTE, best_words, change_words, headline, left_words,
    load_words, progress, ranking_line, remedy_rows, survey_lines, wait_rows,
};
use crate::tasks::feed::{
    apply, hopper_picture, invalid_words, measure, parts, remedy_words, replay, stuck_picture, stuck_rows,
    waits_picture,
};
use crate::tasks::json::{feed as feed_json, head, with};

/// Loads at most where nobody says; as the command line.
const MOST_LOADS: u32 = 1024;
const WITHIN_FRAC: f64 = 0.06;
const REMEDY_LOADS: u32 = 192;
/// Method: rows of the list of loads; any other is played by its number.
const LISTED: usize = 60;

/// What goes on, what was found, and what was found before the last change.
#[derive(Default)]
pub struct Held {
    running: Option<Running>,
    survey: Option<Surveyed>,
    before: Option<(Surveyed, String)>,
    ranking: Option<(Loads, Result<Ranking, Invalid>)>,
    count: u64,
}

struct Running {
    number: u64,
    what: What,
    stop: Arc<AtomicBool>,
    done: [usize; 2],
    says: String,
}

/// What was played.
#[derive(Clone, Copy, PartialEq)]
struct Loads {
    hopper: Hopper,
    pieces: Pieces,
    seed: u64,
}

#[derive(Clone)]
struct Surveyed {
    loads: Loads,
    result: Result<Survey, Invalid>,
}

/// What can be played in the background.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum What {
    Loads,
    Remedies,
}

fn held(shared: &Shared) -> MutexGuard<'_, Held> {
    // What is held is replaced whole, so a panic of another thread leaves nothing half done.
    shared.feed.lock().unwrap_or_else(PoisonError::into_inner)
}

fn survey_shown(project: &Project, now: &Loads, s: &Surveyed, before: Option<&Survey>) -> Value {
    let of = project_of(project, &s.loads);
    let base = json!({ "current": s.loads == *now, "seed": s.loads.seed });
    match &s.result {
        Err(why) => with(base, json!({ "invalid": invalid_words(why) })),
        Ok(found) => with(
            base,
            json!({
                "headline": headline(&of, found),
                "found": feed_json::survey(found),
                "lines": survey_lines(&of, found),
                "heads": WAIT_HEADS,
                "rows": wait_rows(&of, found),
                "note": WAIT_NOTE,
                "waits_svg": waits_picture(&of, found, before),
                "stuck_svg": stuck_picture(&of, found),
                "stuck_rows": stuck_rows(&of, found),
                "worst": worst_first(&found.lines).iter().take(LISTED).map(|l| json!({
                    "load": l.index,
                    "longest_s": l.longest_s,
                    "says": load_words(&of, l),
                })).collect::<Vec<_>>(),
            }),
        ),
    }
}

/// The project with the hopper that was played.
fn project_of(project: &Project, loads: &Loads) -> Project {
    let mut of = project.clone();
    if let Some(feed) = &mut of.feed {
        feed.hopper = loads.hopper;
        feed.piece_count = loads.pieces.count;
    }
    of
}

fn shown(shared: &Shared) -> Value {
    let project = shared.desk.view().project;
    let own = head("feed-room", &project);
    let (hopper, pieces) = match parts(&project) {
        Ok(parts) => parts,
        Err(f) => {
            return with(
                own,
                json!({ "described": false, "says": format!("{}; {}.", f.what, f.fix) }),
            );
        }
    };
    let faults = project.hopper_faults();
    let held = held(shared);
    let now = |seed| Loads { hopper, pieces, seed };
    let before = held
        .before
        .as_ref()
        .and_then(|(b, did)| Some((b.result.as_ref().ok()?, did)));
    let after = held.survey.as_ref().and_then(|s| s.result.as_ref().ok());
    let change = match (before, after) {
        (Some((b, did)), Some(a)) => {
            let gone = before_and_after(&b.lines, &a.lines);
            json!({
                "did": did,
                "says": change_words(&project, b, a, &gone),
                "before": feed_json::survey(b)["waits"],
                "gone": gone.iter().map(feed_json::share).collect::<Vec<_>>(),
            })
        }
        _ => Value::Null,
    };
    let ranking = held.ranking.as_ref().map(|(loads, result)| {
        let of = project_of(&project, loads);
        let base = json!({ "current": *loads == now(loads.seed) });
        match result {
            Err(why) => with(base, json!({ "invalid": invalid_words(why) })),
            Ok(r) => with(
                base,
                json!({
                    "says": ranking_line(&of, r),
                    "best": best_words(&of, &loads.hopper, r),
                    "note": RANKING_NOTE,
                    "left": left_words(r),
                    "heads": REMEDY_HEADS,
                    "rows": remedy_rows(&of, &loads.hopper, r),
                    "found": feed_json::ranking(&of, &loads.hopper, r),
                }),
            ),
        }
    });
    with(
        own,
        json!({
            "described": true,
            "possible": !faults.iter().any(|f| f.lint.fault.refused()),
            "pieces": pieces.count,
            "faults": feed_json::faults(&faults),
            "hopper_svg": hopper_picture(&project, &faults, after.filter(|_| held.survey.as_ref().is_some_and(|s| s.loads == now(s.loads.seed)))),
            "caution": words::CAUTION,
            "running": held.running.as_ref().map(|r| json!({
                "what": match r.what { What::Loads => "loads", What::Remedies => "remedies" },
                "done": r.done[0],
                "of": r.done[1],
                "says": r.says,
                "stopping": r.stop.load(Ordering::SeqCst),
            })),
            "survey": held.survey.as_ref().map(|s| survey_shown(&project, &now(s.loads.seed), s, before.map(|b| b.0))),
            "change": change,
            "remedies": ranking,
        }),
    )
}

/// `GET feed`.
pub async fn view(State(shared): State<Shared>) -> Answer {
    blocking(move || Ok(Json(shown(&shared)))).await
}

/// Body of `POST feed/play`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Play {
    what: What,
    #[serde(default = "usual_seed")]
    seed: u64,
    /// Loads at most; for remedies the loads of each.
    #[serde(default)]
    loads: Option<u32>,
}

fn usual_seed() -> u64 {
    1
}

fn out_of_range(key: &str, what: String, fix: &str) -> Refused {
    Finding::new("out-of-range", key, what, fix).into()
}

/// `POST feed/play`: begins to play in the background, in place of what goes on.
pub async fn play(State(shared): State<Shared>, Body(body): Body<Play>) -> Answer {
    blocking(move || {
        let usual = match body.what {
            What::Loads => MOST_LOADS,
            What::Remedies => REMEDY_LOADS,
        };
        let count = body.loads.unwrap_or(usual);
        /// Physical: as many as the command line takes, and an evening's work.
        const RANGE: std::ops::RangeInclusive<u32> = 16..=65_536;
        if !RANGE.contains(&count) {
            return Err(out_of_range(
                "loads",
                format!("{count} loads are asked for"),
                "ask for 16 to 65536",
            ));
        }
        let project = shared.desk.view().project;
        held(&shared).before = None;
        begin(&shared, &project, body.what, body.seed, count, 0)?;
        Ok(Json(shown(&shared)))
    })
    .await
}

/// Starts the work on a thread of its own.
fn begin(
    shared: &Shared,
    project: &Project,
    what: What,
    seed: u64,
    count: u32,
    least_count: u32,
) -> Result<(), Refused> {
    let (hopper, pieces) = parts(project)?;
    if let Some(f) = project
        .hopper_faults()
        .into_iter()
        .find(|f| f.lint.fault.refused())
    {
        return Err(f.finding.into());
    }
    let stop = Arc::new(AtomicBool::new(false));
    let number = {
        let mut held = held(shared);
        if let Some(old) = held.running.take() {
            old.stop.store(true, Ordering::SeqCst);
        }
        held.count += 1;
        held.running = Some(Running {
            number: held.count,
            what,
            stop: stop.clone(),
            done: [0, count as usize],
            says: String::new(),
        });
        held.count
    };
    let loads = Loads { hopper, pieces, seed };
    let shared = shared.clone();
    let project = project.clone();
    std::thread::spawn(move || {
        // Also after a fault of ours nothing goes on for ever.
        let _end = End {
            shared: shared.clone(),
            number,
        };
        let tell = |done: [usize; 2], says: String| {
            if let Some(r) = held(&shared).running.as_mut().filter(|r| r.number == number) {
                r.done = done;
                r.says = says;
            }
            !stop.load(Ordering::SeqCst)
        };
        match what {
            What::Loads => {
                let plan = SurveyPlan {
                    seed,
                    most_count: count,
                    least_count,
                    within_frac: WITHIN_FRAC,
                };
                let mut go_on = |p: &Played| tell([p.done_count, p.most_count], progress(&project, p));
                let result = survey(&hopper, &pieces, &plan, &mut go_on);
                finish(&shared, number, |h| h.survey = Some(Surveyed { loads, result }));
            }
            What::Remedies => {
                let all = remedies(&hopper, &pieces);
                let mut go_on = |r: &Ranked| {
                    let now = match r.done_count.checked_sub(1).and_then(|i| all.get(i)) {
                        Some(x) => remedy_words(&project, &hopper, x.code, &x.hopper),
                        None => "as it is".to_string(),
                    };
                    tell([r.done_count, r.of_count], format!("now playing: {now}"))
                };
                let result = rank(&hopper, &pieces, &all, seed, count as usize, &mut go_on);
                finish(&shared, number, |h| h.ranking = Some((loads, result)));
            }
        }
    });
    Ok(())
}

/// Keeps a result, unless something else was begun since.
fn finish(shared: &Shared, number: u64, keep: impl FnOnce(&mut Held)) {
    let mut held = held(shared);
    if held.running.as_ref().is_some_and(|r| r.number == number) {
        keep(&mut held);
        held.running = None;
    }
}

struct End {
    shared: Shared,
    number: u64,
}

impl Drop for End {
    fn drop(&mut self) {
        finish(&self.shared, self.number, |_| {});
    }
}

/// `POST feed/stop`: what was played by now is the result.
pub async fn stop(State(shared): State<Shared>) -> Answer {
    blocking(move || {
        if let Some(r) = &held(&shared).running {
            r.stop.store(true, Ordering::SeqCst);
        }
        Ok(Json(shown(&shared)))
    })
    .await
}

/// Body of `POST feed/apply`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Apply {
    remedy: String,
    revision: String,
}

/// `POST feed/apply`: writes a remedy into the project, and plays the loads of the last survey again.
pub async fn apply(State(shared): State<Shared>, Body(body): Body<Apply>) -> Answer {
    blocking(move || {
        let view = shared.desk.view();
        if view.revision != body.revision {
            return Err(Refused::Changed(vec!["feed".to_string()]));
        }
        let remedy = apply::remedy(&view.project, &body.remedy)?;
        let now = view.project.feed.map(|f| f.hopper);
        let did = now.map_or(String::new(), |h| {
            remedy_words(&view.project, &h, remedy.code, &remedy.hopper)
        });
        let edited =
            apply::applied(&view.text, &view.project, &remedy).map_err(|r| Refused::Wrong(r.problems))?;
        let why = if did.is_empty() { &body.remedy } else { &did };
        shared
            .desk
            .put_text(&edited.text, &view.revision, &why.replace('`', ""))?;
        let (seed, count) = {
            let mut held = held(&shared);
            // Only what was played of the design as it was can be compared.
            let was = held.survey.take().filter(|s| Some(s.loads.hopper) == now);
            let found = was
                .as_ref()
                .and_then(|s| Some((s.loads.seed, s.result.as_ref().ok()?.load_count)));
            held.before = was.map(|s| (s, did));
            found.unwrap_or((usual_seed(), 0))
        };
        begin(
            &shared,
            &edited.project,
            What::Loads,
            seed,
            MOST_LOADS,
            u32::try_from(count).unwrap_or(MOST_LOADS),
        )?;
        let rows: Vec<Value> = edited
            .rewritten
            .iter()
            .map(|r| json!({ "key": r.key, "before": r.before, "after": r.after }))
            .collect();
        Ok(Json(with(shown(&shared), json!({ "rewritten": rows }))))
    })
    .await
}

/// Body of `POST feed/replay`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Look {
    load: u32,
    #[serde(default = "usual_seed")]
    seed: u64,
}

/// `POST feed/replay`: one load, moment by moment.
pub async fn look(State(shared): State<Shared>, Body(body): Body<Look>) -> Answer {
    let permit = shared.slow_lanes.clone().acquire_owned().await;
    blocking(move || {
        let _permit = permit;
        let project = shared.desk.view().project;
        let (hopper, pieces) = parts(&project)?;
        if let Some(f) = project
            .hopper_faults()
            .into_iter()
            .find(|f| f.lint.fault.refused())
        {
            return Err(f.finding.into());
        }
        Ok(Json(replay::played(
            &project,
            &hopper,
            &pieces,
            body.seed,
            u64::from(body.load),
        )))
    })
    .await
}

/// `GET feed/measure`: how each property of a piece is measured.
pub async fn guides(State(shared): State<Shared>) -> Answer {
    blocking(move || {
        let project = shared.desk.view().project;
        Ok(Json(with(
            head("measure-guides", &project),
            json!({ "guides": measure::guides_json() }),
        )))
    })
    .await
}

/// Body of `POST feed/measure`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Readings {
    what: String,
    readings: Vec<String>,
    #[serde(default)]
    over: Option<String>,
}

/// `POST feed/measure`: what readings give, and how much the answer depends on it.
pub async fn measure(State(shared): State<Shared>, Body(body): Body<Readings>) -> Answer {
    let permit = shared.slow_lanes.clone().acquire_owned().await;
    blocking(move || {
        let _permit = permit;
        let project = shared.desk.view().project;
        let guide = measure::guide(&body.what)?;
        let found = measure::read(&project, guide, &body.readings, body.over.as_deref())?;
        Ok(Json(measure::json(&project, &found)))
    })
    .await
}
