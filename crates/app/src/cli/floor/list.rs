//! `floor list`: the shots by session, or the history of one.

use arcwright_model::finding::Finding;
use arcwright_model::project::Project;
use arcwright_model::units::Dimension as D;
use clap::Args;

use super::{Ground, Where};
use crate::cli::say::{columns, name};
use crate::cli::{Answer, FINE, Refusal};
use crate::store::{Logged, Session, Store};
use crate::tasks::floor::{json, tell, time};

#[derive(Args)]
pub struct ListArgs {
    /// Only this session
    #[arg(long, value_name = "N")]
    session: Option<i64>,
    /// Every version of this shot
    #[arg(long, value_name = "SHOT", conflicts_with = "session")]
    history: Option<i64>,
    /// Print JSON (SI, versioned; see docs/json.md) instead of text
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    place: Where,
}

pub fn run(args: &ListArgs) -> Result<Answer, Refusal> {
    let ground = Ground::load(&args.place)?;
    let store = ground.read()?;
    let text = answer(args, &ground.project, &store).map_err(|f| Refusal::finding(&f))?;
    Ok(Answer { text, code: FINE })
}

fn answer(args: &ListArgs, project: &Project, store: &Store) -> Result<String, Finding> {
    if let Some(shot) = args.history {
        let versions = store.history(shot)?;
        if args.json {
            return Ok(format!("{:#}\n", json::history(project, shot, &versions)));
        }
        let rows: Vec<Vec<String>> = versions
            .iter()
            .map(|v| {
                let e = &v.entry;
                vec![
                    v.number.to_string(),
                    time::day_and_time(v.written_utc_ms),
                    if e.taken_back && v.done == "undone" {
                        "taken back".into()
                    } else {
                        v.done.clone()
                    },
                    v.words.clone(),
                    format!(
                        "{}, {}: {}",
                        tell::place(project, e),
                        project.say(e.setpoint_radps, D::AngularSpeed),
                        tell::seen(project, e)
                    ),
                    tell::besides(project, e),
                ]
            })
            .collect();
        let head = ["version", "written", "done", "words", "it says", ""];
        return Ok(format!("Shot {shot}\n{}", columns(&head, &rows)));
    }
    let mut sessions = store.sessions()?;
    if let Some(n) = args.session {
        sessions.retain(|s| s.id == n);
        if sessions.is_empty() {
            return Err(store.no_such_session(n));
        }
    }
    let all = store.current()?;
    if args.json {
        return Ok(format!("{:#}\n", json::list(project, &sessions, &all)));
    }
    let mut text = String::new();
    for s in &sessions {
        let shots: Vec<&Logged> = all
            .iter()
            .filter(|l| l.session == s.id && !l.entry.taken_back)
            .collect();
        if !text.is_empty() {
            text.push('\n');
        }
        text.push_str(&head(s, shots.len()));
        let rows: Vec<Vec<String>> = shots.iter().map(|l| row(project, l)).collect();
        if !rows.is_empty() {
            text.push_str(&columns(
                &["shot", "time", "spot", "wheel", "seen", "besides"],
                &rows,
            ));
        }
    }
    Ok(text)
}

fn head(s: &Session, count: usize) -> String {
    let about = if s.name.is_empty() {
        String::new()
    } else {
        format!(": {}", s.name)
    };
    let shots = if count == 1 { "shot" } else { "shots" };
    let mut text = format!(
        "Session {}{about}, from {}, {count} {shots}\n",
        s.id,
        time::day_and_time(s.started_utc_ms)
    );
    for remark in &s.remarks {
        text.push_str(&format!("  {remark}\n"));
    }
    text
}

fn row(project: &Project, l: &Logged) -> Vec<String> {
    let e = &l.entry;
    let edited = if l.versions > 1 { "*" } else { "" };
    vec![
        format!("{}{edited}", l.id),
        if l.time_known {
            time::clock(l.thrown_utc_ms)
        } else {
            "-".into()
        },
        name(&tell::place(project, e)),
        project.say(e.setpoint_radps, D::AngularSpeed),
        tell::seen(project, e),
        tell::besides(project, e),
    ]
}
