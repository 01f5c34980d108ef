//! The pit card: what to set right now, on one page. The page and the printed sheet show the same.

use std::path::Path;

use arcwright_model::finding::Finding;
use arcwright_model::project::Project;
use arcwright_model::units::Dimension as D;
use serde_json::{Value, json};

use super::aim::aimed;
use super::floor::taught::{Learnt, Standing, learn, views};
use super::floor::{Floor, next};
use super::json::{head, with};
use super::tables::Table;
use super::{ruler, volley};
use crate::store;

/// The card in words.
#[derive(Clone, Debug, PartialEq)]
pub struct Card {
    /// Name of the project.
    pub project: String,
    /// What the setpoints rest on.
    pub basis: String,
    /// Setpoints by spot, with a column to write in.
    pub setpoints: Table,
    /// Lengths to check with a ruler: what, how long.
    pub ruler: Vec<[String; 2]>,
    /// The marks of the knobs.
    pub marks: String,
    /// Wheel and battery: what, how much.
    pub battery: Vec<[String; 2]>,
    /// From where it comes: fingerprint and program.
    pub foot: String,
}

/// The list before a match. Common practice, no source.
pub const BEFORE: &[&str] = &[
    "Eye protection on, guards closed, lane clear",
    "Battery charged, terminals covered, fuse in",
    "Wheel turns free by hand, battery off; no crack, no loose tread",
    "Guide and hood tight; lengths as the ruler says",
    "Wheel speeds in the code are those above",
    "Pieces dry, whole, of the usual kind",
    "One throw from the nearest spot: does it go in?",
];
/// What is done with the five boxes.
pub const FIVE: &str = "Five throws from one spot. Without a phone, write down how far each missed:";
/// Who governs.
pub const CAUTION: &str = "Planning figures; none of them shows that a machine is safe. The event's rules, local codes and the supervising adult govern.";

/// Columns of the setpoints.
const HEAD: [&str; 6] = [
    "spot",
    "distance",
    "wheel",
    "turned",
    "hits to expect",
    "changed to",
];

/// Physical: more do not fit one page in letters that can be read.
const MOST_SPOTS: usize = 14;

/// Physical: longer names take more than a line.
const LONGEST_NAME_COUNT: usize = 26;

/// A name with an ellipsis where it is long.
fn short(name: &str) -> String {
    if name.chars().count() <= LONGEST_NAME_COUNT {
        return name.to_string();
    }
    name.chars().take(LONGEST_NAME_COUNT - 1).chain(['…']).collect()
}

/// How many lines the setpoints take, names broken between words.
pub fn line_count(setpoints: &Table) -> usize {
    let of = |name: &String| {
        let (mut lines, mut used) = (1, 0);
        for word in name.split_whitespace() {
            let long = word.chars().count();
            if used > 0 && used + 1 + long > LONGEST_NAME_COUNT {
                lines += 1;
                used = 0;
            }
            used += long + usize::from(used > 0);
            // A word longer than a line is broken.
            while used > LONGEST_NAME_COUNT {
                lines += 1;
                used -= LONGEST_NAME_COUNT;
            }
        }
        lines
    };
    setpoints.rows.iter().filter_map(|r| r.first()).map(of).sum()
}

/// How the robot stands to the target.
fn turned(project: &Project, by_rad: f64) -> String {
    match project.say(by_rad.abs(), D::Angle) {
        none if none == project.say(0.0, D::Angle) => "straight".into(),
        some => format!("{some} {}", if by_rad > 0.0 { "left" } else { "right" }),
    }
}

/// What the log teaches, where it is sure of it.
fn learnt(project: &Project, log: &Path) -> Option<Learnt> {
    learn(project, log, false).ok().filter(|l| l.fitted.confident)
}

/// The card of a project as written, with the log beside it. `rehearsed`: the log is one of rehearsals.
///
/// # Errors
/// When the log cannot be read.
pub fn card(project: &Project, log: Option<&Path>, rehearsed: bool, text: &str) -> Result<Card, Finding> {
    let shots = match log.map(store::open_to_read).transpose()?.flatten() {
        Some(store) => views(&store::shots(&store, project)?),
        None => Vec::new(),
    };
    let floor = Floor::of(project);
    let in_use = next::in_use(&floor, &shots).unwrap_or_default();
    let learned = log
        .filter(|_| !shots.is_empty())
        .and_then(|log| learnt(project, log));
    let standing = match log {
        Some(log) => Standing::of(project.clone(), log),
        None => Standing::design(project.clone()),
    };
    let found = aimed(&standing.project, standing.learned.as_ref(), None);
    let say = |v: Option<f64>, d| v.map_or("-".to_string(), |v| project.say(v, d));
    let rows = found.report.aims.iter().enumerate().map(|(i, aim)| {
        let spot = &aim.spot;
        let wheel = learned
            .as_ref()
            .and_then(|l| l.table.get(i))
            .and_then(|s| s.wheel);
        let kept = found
            .beside
            .as_ref()
            .and_then(|b| b.spots.get(i))
            .and_then(|c| c.learned);
        let (speed, hit) = match (wheel, kept) {
            (Some(w), _) => (Some(w.wheel_radps), Some(w.expected_hit_frac)),
            (None, Some(k)) if learned.is_none() => (Some(k.wheel_radps), Some(k.expected_hit_frac)),
            _ => (aim.best().map(|s| s.wheel_radps), None),
        };
        vec![
            spot.name.clone(),
            project.say(spot.distance_m, D::Length),
            say(speed, D::AngularSpeed),
            turned(project, in_use.get(i).map_or(0.0, |u| u.turned_rad)),
            hit.map_or("not tested".into(), |h| project.say(h, D::Ratio)),
            String::new(),
        ]
    });
    let mut rows: Vec<Vec<String>> = rows.collect();
    let more = rows.len().saturating_sub(MOST_SPOTS);
    rows.truncate(MOST_SPOTS);
    let mut setpoints = Table::of(&HEAD, rows);
    // Whole names where they have room; otherwise each takes one line.
    if line_count(&setpoints) > MOST_SPOTS {
        setpoints = setpoints.named(short);
    }
    let basis = match &learned {
        Some(l) => {
            let n = l.fitted.used.len();
            let of = if rehearsed {
                " of a rehearsal: not for a robot"
            } else {
                ""
            };
            format!("Setpoints learned from {n} shots{of}.")
        }
        None if standing.learned.is_some() => standing.line.clone(),
        None => {
            "Setpoints by the design: no confident fit of test shots yet. Correct them on the floor first."
                .into()
        }
    };
    let basis = match more {
        0 => basis,
        n => format!("{basis} {n} more spots have no room here: see arcwright aim."),
    };
    let run = volley::volley(&standing.project, &volley::Plan::default()).ok();
    let train = run.as_ref().map(|r| &r.train);
    let pair = |what: &str, how_much: String| [what.to_string(), how_much];
    Ok(Card {
        project: project.name.clone(),
        basis,
        setpoints,
        ruler: ruler::measures(project)
            .into_iter()
            .map(|m| pair(m.what, project.say(m.length_m, D::Length)))
            .collect(),
        marks: project.setting_words(&project.machine.setting),
        battery: vec![
            pair("ready after", say(train.and_then(|t| t.spin_up_s), D::Time)),
            pair("peak current", say(train.map(|t| t.peak_battery_a), D::Current)),
            pair(
                "lowest voltage",
                say(train.map(|t| t.lowest_battery_v), D::Voltage),
            ),
            pair(
                "battery at rest",
                project.say(project.machine.battery.open_v, D::Voltage),
            ),
        ],
        foot: foot(project, text),
    })
}

/// Which project and which program.
pub fn foot(project: &Project, text: &str) -> String {
    format!(
        "{}, {}, arcwright {}",
        project.name,
        super::hand::fingerprint(text),
        env!("CARGO_PKG_VERSION")
    )
}

/// The card for programs and the page.
pub fn json(project: &Project, card: &Card) -> Value {
    with(
        head("card", project),
        json!({
            "title": card.project,
            "basis": card.basis,
            "head": card.setpoints.head,
            "rows": card.setpoints.rows,
            "ruler": card.ruler,
            "marks": card.marks,
            "battery": card.battery,
            "before": BEFORE,
            "five": FIVE,
            "caution": CAUTION,
            "foot": card.foot,
        }),
    )
}
