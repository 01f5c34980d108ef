//! `floor log`: a shot in a line, or line after line.

use std::io::{BufRead, IsTerminal, Read};

use arcwright_model::finding::Finding;
use clap::Args;

use super::{Ground, Where, joined};
use crate::cli::{Answer, FINE, Refusal, WRONG_INPUT, say};
use crate::store::Store;
use crate::tasks::floor::words::LONGEST_LINE;
use crate::tasks::floor::{Floor, log, tell, time};

#[derive(Args)]
pub struct LogArgs {
    /// The shot, such as: far 3490 in / far long 12cm left 5cm / near land 2.56m 3cm left [default: asks line by line]
    #[arg(value_name = "WORDS")]
    words: Vec<String>,
    /// Take a shot that is unlikely, but not impossible
    #[arg(long)]
    anyway: bool,
    #[command(flatten)]
    place: Where,
}

pub fn run(args: &LogArgs) -> Result<Answer, Refusal> {
    let ground = Ground::load(&args.place)?;
    let floor = Floor::of(&ground.project).by_log(&ground.log);
    if args.words.is_empty() {
        return lines(&ground, &floor, args.anyway);
    }
    if args.words.iter().all(|w| w.trim().is_empty()) {
        return Err(Refusal::finding(&Finding::new(
            "nothing-said",
            "the shot",
            "nothing is said of a shot",
            "say it in words, such as `arcwright floor log far 3490 in`; without any it asks line by line",
        )));
    }
    let mut store = None;
    let text = one(&ground, &floor, &mut store, &joined(&args.words), args.anyway)
        .map_err(|f| Refusal::finding(&f))?;
    Ok(Answer { text, code: FINE })
}

/// Logs a line and tells what was understood. The log is opened, and made, with the first shot.
fn one(
    ground: &Ground,
    floor: &Floor,
    store: &mut Option<Store>,
    line: &str,
    anyway: bool,
) -> Result<String, Finding> {
    let store = match store {
        Some(store) => store,
        None => {
            // A line that is refused makes no log.
            if crate::store::open_to_read(&ground.log)?.is_none() {
                log::look(floor, line, anyway, time::now_ms())?;
            }
            store.insert(crate::store::open(&ground.log)?)
        }
    };
    let done = log::log(floor, store, line, anyway, time::now_ms())?;
    let mut text = String::new();
    if done.begins_session {
        text.push_str(&format!("session {} begins\n", done.session));
    }
    text.push_str(&tell::line(floor.project, done.id, &done.entry, &done.unsaid));
    text.push('\n');
    Ok(text)
}

/// Line after line until an empty one or the end; each is on the disk before it is answered.
fn lines(ground: &Ground, floor: &Floor, anyway: bool) -> Result<Answer, Refusal> {
    let input = std::io::stdin();
    let asks = input.is_terminal();
    // What keeps the log from being opened is said before anything is typed.
    let mut store = Some(ground.open()?);
    if asks {
        say::out(&format!(
            "One shot a line, such as: {} long 12cm left 5cm. `undo` takes the last one back, an empty line ends.\n",
            floor.spots().first().map_or("far", |s| s.as_str())
        ));
    }
    let mut input = input.lock();
    let (mut number, mut refused) = (0, 0);
    loop {
        if asks {
            say::out("shot? ");
        }
        let mut bytes = Vec::new();
        // One more than the longest line, so that a longer one is seen to be.
        let most = LONGEST_LINE as u64 + 1;
        let read = input.by_ref().take(most).read_until(b'\n', &mut bytes);
        let got = match read {
            Ok(n) => n,
            Err(e) => return Err(Refusal::input(format!("the input cannot be read: {e}\n"))),
        };
        number += 1;
        if got as u64 == most && bytes.last() != Some(&b'\n') {
            let _ = input.skip_until(b'\n');
        }
        let line = String::from_utf8_lossy(&bytes);
        let line = line.trim();
        if got == 0 || line.is_empty() {
            if asks && got == 0 {
                say::out("\n");
            }
            break;
        }
        if line.starts_with('#') {
            continue;
        }
        let answer = if line.eq_ignore_ascii_case("undo") {
            match &mut store {
                Some(store) => super::undo::back(floor.project, store),
                None => Ok(String::new()),
            }
        } else {
            one(ground, floor, &mut store, line, anyway)
        };
        match answer {
            Ok(text) => say::out(&text),
            Err(f) => {
                refused += 1;
                let head = if asks {
                    "not logged".to_string()
                } else {
                    format!("line {number} not logged: {line}\n ")
                };
                say::err(&format!("{head} [{}]: {}\n  fix {}\n", f.code, f.what, f.fix));
            }
        }
    }
    // On a terminal a refused line was corrected there and then.
    let code = if refused > 0 && !asks { WRONG_INPUT } else { FINE };
    Ok(Answer {
        text: String::new(),
        code,
    })
}
