//! Which handle would help: single quantities of the machine, moved within their travel, that mend a verdict.

use arcwright_model::limits::{Report, Status, Verdict, check_unsearched};
use arcwright_model::project::change::change;
use arcwright_model::project::schema::{self, Key};
use arcwright_model::project::{Project, check, get};
use arcwright_model::units::show;
use serde_json::{Value, json};

use super::quantities::travel;

/// A move of one quantity.
#[derive(Clone, Debug, PartialEq)]
pub struct Help {
    /// Its key.
    pub key: &'static str,
    /// Value now, SI.
    pub from: f64,
    /// Value that mends the verdict, SI.
    pub to: f64,
    /// How the verdict then ends.
    pub status: Status,
    /// How many verdicts then fail in all.
    pub fail_count: usize,
}

/// A verdict that fails, and what would mend it, best first; empty where no single handle does.
pub struct Helped {
    /// Id of the check.
    pub check: &'static str,
    /// What it is about.
    pub subject: String,
    /// The moves.
    pub helps: Vec<Help>,
}

/// What a hand can move at the launcher, in the order in which it is easiest.
const HANDLES: &[&str] = &[
    "setting.tilt",
    "setting.reach",
    "setting.slide",
    "launcher.squeeze",
    "launcher.end_angle",
    "launcher.direction",
    "motor.ratio",
    "wheel.diameter",
    "launcher.axle_height",
    "launcher.wrap",
    "wheel.part[0].mass",
];
/// Method: parts of the way to either end that are tried, nearest first.
const PARTS: [f64; 4] = [0.15, 0.35, 0.65, 1.0];
/// Physical: more moves than this nobody reads.
const MOST_COUNT: usize = 3;

fn fails(report: &Report) -> impl Iterator<Item = &Verdict> {
    report.verdicts.iter().filter(|v| v.status == Status::Fails)
}

/// Looks at every handle alone; `None` when it was stopped.
pub fn helps(project: &Project, report: &Report, is_stale: &dyn Fn() -> bool) -> Option<Vec<Helped>> {
    let mut out: Vec<Helped> = fails(report)
        .map(|v| Helped {
            check: v.check,
            subject: v.subject.clone(),
            helps: Vec::new(),
        })
        .collect();
    if out.is_empty() {
        return Some(out);
    }
    for key in HANDLES {
        let Some(from) = get(project, key) else { continue };
        for towards in [-1.0, 1.0] {
            let mut waiting: Vec<usize> = (0..out.len()).collect();
            for part in PARTS {
                if waiting.is_empty() {
                    break;
                }
                if is_stale() {
                    return None;
                }
                let Some((to, moved)) = moved(project, key, from, towards * part) else {
                    continue;
                };
                let after = check_unsearched(&moved);
                let fail_count = fails(&after).count();
                waiting.retain(|i| {
                    let Some(helped) = out.get_mut(*i) else {
                        return false;
                    };
                    let same = |v: &&Verdict| v.check == helped.check && v.subject == helped.subject;
                    let status = after.verdicts.iter().find(same).map(|v| v.status);
                    match status {
                        Some(status @ (Status::Holds | Status::Tight)) => {
                            helped.helps.push(Help {
                                key,
                                from,
                                to,
                                status,
                                fail_count,
                            });
                            false
                        }
                        _ => true,
                    }
                });
            }
        }
    }
    for helped in &mut out {
        // The order of the handles stays among equals.
        helped.helps.sort_by_key(|h| h.fail_count);
        let mut seen: Vec<&str> = Vec::new();
        helped.helps.retain(|h| {
            let new = !seen.contains(&h.key);
            seen.push(h.key);
            new
        });
        helped.helps.truncate(MOST_COUNT);
    }
    Some(out)
}

/// The project with one quantity moved part of its way, on a step that exists.
fn moved(project: &Project, key: &'static str, from: f64, part: f64) -> Option<(f64, Project)> {
    let entry = schema::entry(&Key::parse(key)?.pattern)?;
    let (dimension, scale) = entry.measure()?;
    let unit = show::unit(from, dimension, scale, project.units);
    let way = travel(project, entry, key, from, unit.si_ratio);
    let end = if part < 0.0 { way.low } else { way.high };
    let wish = from + part.abs() * (end - from);
    let to = if way.choices.is_empty() {
        let steps = if way.step > 0.0 {
            (wish / way.step).round() * way.step
        } else {
            wish
        };
        steps.clamp(way.low, way.high)
    } else {
        let near = |a: &&f64, b: &&f64| (**a - wish).abs().total_cmp(&(**b - wish).abs());
        *way.choices.iter().min_by(near)?
    };
    if (to - from).abs() <= 1e-9 * from.abs() {
        return None;
    }
    let mut moved = project.clone();
    change(&mut moved, key, to).ok()?;
    check::findings(&moved).is_empty().then_some((to, moved))
}

/// As JSON: `check`, `subject`, `helps` of `key`, `from_text`, `to`, `to_text`, `status`, `fails`.
pub fn as_json(project: &Project, all: &[Helped]) -> Value {
    let say = |key: &str, v: f64| {
        let measure = Key::parse(key).and_then(|k| schema::entry(&k.pattern)?.measure());
        measure.map_or_else(String::new, |(d, s)| show::text(v, d, s, project.units))
    };
    let rows = all.iter().map(|h| {
        let helps = h.helps.iter().map(|m| {
            json!({
                "key": m.key,
                "from_text": say(m.key, m.from),
                "to": m.to,
                "to_text": say(m.key, m.to),
                "status": m.status.word(),
                "fails": m.fail_count,
            })
        });
        json!({ "check": h.check, "subject": h.subject, "helps": helps.collect::<Vec<_>>() })
    });
    Value::Array(rows.collect())
}
