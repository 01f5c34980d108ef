//! Changing a quantity by its key, with the reason where it cannot be.

use super::lower::clip;
use super::schema::{self, Entry, Key, Kind, When, with_index};
use super::{Project, set};
use crate::finding::{Finding, nearest};
use crate::units::show;

/// Changes the quantity with a dotted key; SI.
///
/// # Errors
/// A finding about the key or the value; the project is then as it was.
pub fn change(project: &mut Project, key: &str, value: f64) -> Result<(), Finding> {
    let (entry, _) = quantity(project, key)?;
    admitted(project, entry, key, value)?;
    if set(project, key, value) {
        Ok(())
    } else {
        Err(elsewhere(project, entry, key))
    }
}

/// The entry of a key that holds a number in this project, and the place in its list.
///
/// # Errors
/// `unknown-key`, `wrong-type` for a text, flag or travel, `not-here` for a quantity that this
/// project does not have.
pub fn quantity(project: &Project, key: &str) -> Result<(&'static Entry, usize), Finding> {
    let found = Key::parse(key).and_then(|k| Some((schema::entry(&k.pattern)?, k.index)));
    let Some((entry, index)) = found else {
        return Err(unknown(project, key));
    };
    let is_number = matches!(entry.kind, Kind::Quantity(..) | Kind::Count | Kind::Drag);
    if !is_number || entry.key == "format" {
        return Err(Finding::new(
            "wrong-type",
            key,
            format!("`{key}` is not one number that can be changed"),
            "name a quantity, such as `wheel.diameter`",
        ));
    }
    let place = (entry.access.set)(&mut project.clone(), index, entry.low);
    if entry.when.holds(project, index) && place {
        Ok((entry, index))
    } else {
        Err(elsewhere(project, entry, key))
    }
}

/// Is the value one that the key can have?
///
/// # Errors
/// `out-of-range`, or `wrong-type` for a part of a whole.
pub fn admitted(project: &Project, entry: &Entry, key: &str, value: f64) -> Result<(), Finding> {
    let Some((dimension, scale)) = entry.measure() else {
        return Ok(());
    };
    let say = |v| project.say(v, dimension);
    if matches!(entry.kind, Kind::Count) && entry.admits(value) && value.fract() != 0.0 {
        return Err(Finding::new(
            "wrong-type",
            key,
            format!("`{key}` is {value}, and must be a whole number"),
            format!("write {} or {}", value.floor(), value.ceil()),
        ));
    }
    if entry.admits(value) {
        return Ok(());
    }
    let fix = format!(
        "check the number, its sign and its unit: it can be from {} to {}",
        say(entry.low),
        say(entry.high)
    );
    if value.is_nan() {
        return Err(Finding::new(
            "out-of-range",
            key,
            format!("`{key}` has no value"),
            fix,
        ));
    }
    let (limit, side) = if value < entry.low {
        (entry.low, "below")
    } else {
        (entry.high, "above")
    };
    let [found, edge] = show::pair(value, limit, dimension, scale, project.units);
    Err(Finding::new(
        "out-of-range",
        key,
        format!("`{key}` is {found}, {side} the {edge} that makes sense"),
        fix,
    ))
}

/// Keys of the quantities that this project has, in the order of the file.
pub fn keys(project: &Project) -> Vec<String> {
    schema::entries()
        .flat_map(|entry| {
            let count = match entry.table() {
                "spot[]" => project.spots.len(),
                "wheel.part[]" => project.machine.parts.len(),
                _ => 1,
            };
            (0..count).map(|index| with_index(entry.key, index))
        })
        .filter(|key| quantity_exists(project, key))
        .collect()
}

fn quantity_exists(project: &Project, key: &str) -> bool {
    quantity(project, key).is_ok()
}

fn unknown(project: &Project, key: &str) -> Finding {
    let all = keys(project);
    // Someone who writes `diameter` means one of few.
    let last: Vec<&str> = all
        .iter()
        .map(String::as_str)
        .filter(|k| k.rsplit('.').next() == Some(key))
        .collect();
    let without_place = key.split_once('[').map_or(key, |(list, _)| list);
    let fix = match nearest(key, all.iter().map(String::as_str)) {
        _ if !last.is_empty() => format!("say which one: {}", last.join(", ")),
        _ if without_place.starts_with("wheel.part") => {
            "name the part by its place, the first one is `wheel.part[0].mass`".to_string()
        }
        Some(near) => format!("did you mean `{near}`?"),
        None => "write table and name, such as `wheel.diameter`; docs/project-file.md lists them".to_string(),
    };
    Finding::new(
        "unknown-key",
        key,
        format!("no quantity is called `{}`", clip(key)),
        fix,
    )
}

/// A key that is right, but not for this project.
fn elsewhere(project: &Project, entry: &Entry, key: &str) -> Finding {
    let lists = [
        ("spot[]", project.spots.len()),
        ("wheel.part[]", project.machine.parts.len()),
    ];
    let index = Key::parse(key).map_or(0, |k| k.index);
    if let Some((pattern, count)) = lists.iter().find(|(t, n)| *t == entry.table() && index >= *n) {
        let last = with_index(pattern, count.saturating_sub(1));
        let list = pattern.trim_end_matches("[]");
        return Finding::new(
            "not-here",
            key,
            format!(
                "there is no `{}`: the file has {count} of [[{list}]], and the first is number 0",
                with_index(pattern, index)
            ),
            format!("name one of `{}` to `{last}`", with_index(pattern, 0)),
        );
    }
    let (what, fix) = match entry.when.decided_by() {
        Some((decider, words)) if !entry.when.holds(project, index) || entry.when != When::Always => {
            let words: Vec<String> = words.iter().map(|w| format!("\"{w}\"")).collect();
            let (decider, words) = (with_index(decider, index), words.join(" or "));
            (
                format!("`{key}` belongs to `{decider}` {words}, and this one is another"),
                format!("take it out, or change `{decider}` to {words}"),
            )
        }
        _ => (
            format!(
                "this project has no `{key}`: its table [{}] is not in the file",
                entry.table()
            ),
            format!("add [{}] to the file first", entry.table()),
        ),
    };
    Finding::new("not-here", key, what, fix)
}
