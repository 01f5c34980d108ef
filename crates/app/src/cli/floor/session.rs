//! `floor session`: begins one with a name, adds a remark, or lists them.

use std::collections::BTreeMap;

use arcwright_model::finding::Finding;
use clap::Args;

use super::{Ground, Where, joined};
use crate::cli::say::columns;
use crate::cli::{Answer, FINE, Refusal};
use crate::store::Store;
use crate::tasks::floor::time;

#[derive(Args)]
pub struct SessionArgs {
    /// Name of a session that begins now, such as "evening, new wheel" [default: lists the sessions]
    #[arg(value_name = "NAME")]
    name: Vec<String>,
    /// Add this remark to the present session
    #[arg(long, value_name = "TEXT", conflicts_with = "name")]
    remark: Option<String>,
    /// The remark belongs to this session
    #[arg(long, value_name = "N", requires = "remark")]
    session: Option<i64>,
    #[command(flatten)]
    place: Where,
}

pub fn run(args: &SessionArgs) -> Result<Answer, Refusal> {
    let ground = Ground::load(&args.place)?;
    let now = time::now_ms();
    let answer = |text: String| Answer { text, code: FINE };
    if let Some(remark) = &args.remark {
        let mut store = ground.reopen()?;
        return add(&mut store, args.session, remark, now)
            .map(answer)
            .map_err(|f| Refusal::finding(&f));
    }
    let name = joined(&args.name);
    let name = name.trim();
    if !args.name.is_empty() {
        if name.is_empty() {
            return Err(Refusal::finding(&Finding::new(
                "no-name",
                "session",
                "the name is empty",
                "write `arcwright floor session \"evening, new wheel\"`",
            )));
        }
        let id = ground
            .open()?
            .begin_session(name, now)
            .map_err(|f| Refusal::finding(&f))?;
        return Ok(answer(format!("session {id} begins: {name}\n")));
    }
    let store = ground.read()?;
    list(&store).map(answer).map_err(|f| Refusal::finding(&f))
}

fn add(store: &mut Store, session: Option<i64>, remark: &str, now: i64) -> Result<String, Finding> {
    let id = match session {
        Some(id) => id,
        None => store.present_session(now)?.ok_or_else(|| {
            Finding::new(
                "no-session",
                "session",
                "no session is going on",
                "name one with --session N, or log a shot first",
            )
        })?,
    };
    if remark.trim().is_empty() {
        return Err(Finding::new(
            "no-remark",
            "remark",
            "the remark is empty",
            "write what should be remembered",
        ));
    }
    store.remark(id, remark.trim(), now)?;
    Ok(format!("session {id}: {}\n", remark.trim()))
}

fn list(store: &Store) -> Result<String, Finding> {
    let mut shots: BTreeMap<i64, usize> = BTreeMap::new();
    for shot in store.current()?.iter().filter(|s| !s.entry.taken_back) {
        *shots.entry(shot.session).or_default() += 1;
    }
    let rows: Vec<Vec<String>> = store
        .sessions()?
        .into_iter()
        .map(|s| {
            let mut about = vec![s.name];
            about.extend(s.remarks);
            about.retain(|a| !a.is_empty());
            vec![
                s.id.to_string(),
                time::day_and_time(s.started_utc_ms),
                shots.get(&s.id).copied().unwrap_or(0).to_string(),
                about.join("; "),
            ]
        })
        .collect();
    Ok(columns(&["session", "began", "shots", "about"], &rows))
}
