//! Does the code on the robot match the project today?

use arcwright_model::aim::{Lookup, LookupRow};
use arcwright_model::finding::Finding;

use super::code::{END, MARK};
use super::{Form, Hand, text};

/// One line of the head that differs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Changed {
    /// Key.
    pub key: &'static str,
    /// In the file.
    pub then: String,
    /// Today.
    pub now: String,
}

/// What a look at a handed-over file found.
#[derive(Clone, Debug, PartialEq)]
pub struct Checked {
    /// Its form.
    pub form: Form,
    /// Are rows, constants and code those of today?
    pub matches: bool,
    /// Lines of the head that differ; the day aside.
    pub changed: Vec<Changed>,
    /// The day it was made.
    pub made: String,
    /// First line of code that differs: its number in the file, there and today.
    pub first_difference: Option<(usize, String, String)>,
    /// Where the wheel speeds differ most; none where no rows were found.
    pub most_off: Option<MostOff>,
}

/// A row of today at which the wheel speeds differ most.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MostOff {
    /// Its distance.
    pub distance_m: f64,
    /// Wheel speed in the file.
    pub then_radps: f64,
    /// Wheel speed today.
    pub now_radps: f64,
}

/// Rounding: rows are written to a millionth; less than this is the same.
const SAME_RADPS: f64 = 2e-6;

impl MostOff {
    /// By how much; 0 within rounding.
    pub fn by_radps(&self) -> f64 {
        let by = self.then_radps - self.now_radps;
        if by.abs() < SAME_RADPS { 0.0 } else { by }
    }
}

/// A line with its spaces made alike.
fn even(line: &str) -> String {
    line.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Most lines read of a foreign file.
const MOST_LINES: usize = 20_000;

/// Compares a file with what would be handed over today.
///
/// # Errors
/// `not-a-hand-over` when the file is none of ours.
pub fn verify(file: &str, name: &str, hand: &Hand) -> Result<Checked, Finding> {
    let no = |what: &str| {
        Finding::new(
            "not-a-hand-over",
            name.to_string(),
            what.to_string(),
            "give a file that `arcwright hand` wrote, with the remarks at its head and end left in (CSV, C, Java, Python or Kotlin)",
        )
    };
    let lines: Vec<(usize, String)> = file
        .trim_start_matches('\u{feff}')
        .lines()
        .take(MOST_LINES)
        .enumerate()
        .map(|(i, l)| (i + 1, even(l)))
        .collect();
    let start = lines
        .iter()
        .position(|(_, l)| l.contains(MARK))
        .ok_or_else(|| no("it has no line with `arcwright hand-over`"))?;
    let word = lines[start].1.rsplit(": ").next().unwrap_or("").trim();
    let form =
        Form::named(word).ok_or_else(|| no("its first line names a form that this program does not know"))?;
    let end = lines
        .iter()
        .position(|(_, l)| l.contains(END))
        .filter(|end| *end > start)
        .ok_or_else(|| no("its end is missing: it was cut short"))?;
    let theirs = &lines[start..=end];
    let today: Vec<(usize, String)> = text(hand, form)?
        .lines()
        .enumerate()
        .map(|(i, l)| (i + 1, even(l)))
        .collect();
    let (their_head, their_body) = split(theirs);
    let (our_head, our_body) = split(&today);
    let in_head = |head: &[(usize, String)], key: &str| {
        let wanted = format!("{key}: ");
        let found = head.iter().find_map(|(_, l)| {
            l.trim_start_matches(['/', '*', '#', ' '])
                .strip_prefix(wanted.as_str())
        });
        found.unwrap_or("").to_string()
    };
    let changed = hand
        .stamp
        .lines()
        .into_iter()
        .filter(|(key, _)| *key != "made")
        .map(|(key, _)| Changed {
            key,
            then: in_head(&their_head, key),
            now: in_head(&our_head, key),
        })
        .filter(|c| c.then != c.now)
        .collect();
    let blank = (0, String::new());
    let first_difference = (0..their_body.len().max(our_body.len())).find_map(|i| {
        let (there, here) = (their_body.get(i), our_body.get(i));
        let (there, here) = (there.unwrap_or(&blank), here.unwrap_or(&blank));
        (there.1 != here.1).then(|| (there.0, there.1.clone(), here.1.clone()))
    });
    let then = Lookup {
        rows: their_body.iter().filter_map(|(_, l)| row(l)).collect(),
        worst_between_radps: 0.0,
    };
    let most_off = hand
        .lookup
        .rows
        .iter()
        .filter_map(|r| {
            Some(MostOff {
                distance_m: r.distance_m,
                then_radps: then.at(r.distance_m)?.0.wheel_radps,
                now_radps: r.wheel_radps,
            })
        })
        .max_by(|a, b| a.by_radps().abs().total_cmp(&b.by_radps().abs()));
    Ok(Checked {
        form,
        matches: first_difference.is_none(),
        changed,
        made: in_head(&their_head, "made"),
        first_difference,
        most_off,
    })
}

type Lines = Vec<(usize, String)>;

/// Remarks at the head and what follows, without blank lines.
fn split(lines: &[(usize, String)]) -> (Lines, Lines) {
    let is_remark = |l: &str| {
        let bare = l.trim_start_matches(['/', '*', '#', ' ']);
        bare.len() < l.len() && (bare.starts_with("- ") || bare.contains(": ")) || l.contains(MARK)
    };
    let head = lines.iter().take_while(|(_, l)| is_remark(l)).count();
    let written = |part: &[(usize, String)]| part.iter().filter(|(_, l)| !l.is_empty()).cloned().collect();
    (written(&lines[..head]), written(&lines[head..]))
}

/// A row of any form: four numbers or five, whatever stands around them.
fn row(line: &str) -> Option<LookupRow> {
    let inner = line
        .trim_start_matches("doubleArrayOf")
        .trim_matches(|c: char| !c.is_ascii_digit() && c != '-' && c != '.');
    let numbers: Vec<f64> = inner
        .split(',')
        .map(|x| x.trim().parse::<f64>().ok().filter(|x| x.is_finite()))
        .collect::<Option<_>>()?;
    match numbers[..] {
        [distance_m, wheel_radps, wheel_sd_radps, lead_rad]
        | [distance_m, wheel_radps, wheel_sd_radps, lead_rad, _] => Some(LookupRow {
            distance_m,
            wheel_radps,
            wheel_sd_radps,
            lead_rad,
        }),
        _ => None,
    }
}
