//! What changed and why: every state that was kept, with the fits between them.

use super::{Block, Given};
use crate::tasks::floor::time;
use crate::tasks::history::Event;
use crate::tasks::history_words as words;

/// Method: states that are told one by one; those before them are counted.
pub(super) const MOST_STATES: usize = 60;
/// Method: values of one change that are named.
const MOST_NAMED: usize = 40;

/// State by state; nothing where no history was kept.
pub(super) fn history(given: &Given<'_>) -> Vec<Block> {
    let Some(story) = given.history.as_ref().filter(|s| !s.history.states.is_empty()) else {
        return Vec::new();
    };
    let project = &given.design;
    let mut out = vec![Block::Quiet(format!(
        "What each change did to the verdicts, against the state before: {}, without what test shots taught.",
        words::JUDGED
    ))];
    if story.first > 0 {
        out.push(Block::Quiet(format!(
            "{} earlier states are not told here; `arcwright history` lists them.",
            story.first
        )));
    }
    for event in story.events() {
        match event {
            Event::State(s, change) => {
                let mut rows = vec![["why".to_string(), words::reason(&s.reason).to_string()]];
                if let Some(c) = change {
                    rows.push(["values".to_string(), words::values(&c.differences, MOST_NAMED)]);
                    rows.push(["verdicts".to_string(), words::outcomes(project, c).join("; ")]);
                }
                out.push(Block::Together(vec![
                    Block::Heading(format!("State {}, {}", s.number, time::day_and_time(s.utc_ms))),
                    Block::Pairs(rows),
                ]));
            }
            Event::Fit(f) => {
                let [made, speeds] = words::fit(project, f);
                out.push(Block::Pairs(vec![[made, speeds]]));
            }
        }
    }
    out.extend(words::unkept(story, MOST_NAMED).map(Block::Text));
    let damaged = story.history.damaged.iter();
    out.extend(damaged.map(|n| Block::Quiet(words::damaged(*n))));
    out
}
