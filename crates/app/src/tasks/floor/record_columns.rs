//! Which column of a foreign table is which of ours: guessed from name and unit, or told.

use arcwright_model::finding::{Finding, nearest};
use arcwright_model::units::{self, Dimension};

use super::record_table::Table;

/// One of our columns.
#[derive(Clone, Copy, Debug)]
pub struct Ours {
    /// Its name, as in `--map`.
    pub name: &'static str,
    /// Kind of quantity; `Number` takes pixels.
    pub dimension: Dimension,
    /// Words in a foreign name that speak for it, with how loudly.
    pub words: &'static [(&'static str, i32)],
    /// Unit taken where the file names none; `None` refuses.
    pub usual_unit: Option<&'static str>,
}

/// A column found.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// Ours.
    pub name: &'static str,
    /// Theirs.
    pub theirs: String,
    /// Unit read; empty for a plain number.
    pub unit: String,
    /// The unit stands in the file or was told, rather than assumed.
    pub unit_stated: bool,
    /// Values in SI.
    pub values: Vec<f64>,
}

/// Which of our columns each column of a table is taken for.
#[derive(Clone, Debug)]
pub struct Assigned<'a> {
    /// Its place in the table.
    pub index: usize,
    /// Ours.
    pub role: &'a Ours,
    /// Unit as it was told.
    pub told_unit: Option<String>,
}

/// Finds our columns in a table.
///
/// `maps` holds `THEIRS=OURS` or `THEIRS=OURS UNIT`, or `THEIRS=-` to leave one out; they come before any guess.
///
/// # Errors
/// A map that names no column, or a unit that is missing, unknown or of another kind.
pub fn find(table: &Table, ours: &[Ours], maps: &[String]) -> Result<Vec<Found>, Finding> {
    let assigned = assign(table, ours, maps)?;
    let each = assigned.iter();
    each.map(|a| converted(table, a.index, a.role, a.told_unit.as_deref()))
        .collect()
}

/// As [`find`], without a look at units and values.
///
/// # Errors
/// A map that names no column.
pub fn assign<'a>(table: &Table, ours: &'a [Ours], maps: &[String]) -> Result<Vec<Assigned<'a>>, Finding> {
    let mut taken = vec![false; table.names.len()];
    let mut out: Vec<Assigned> = Vec::new();
    for map in maps {
        let (index, role, told_unit) = told(table, ours, map)?;
        if let Some(t) = taken.get_mut(index) {
            *t = true;
        }
        let Some(role) = role else { continue };
        out.retain(|f| f.role.name != role.name);
        out.push(Assigned {
            index,
            role,
            told_unit,
        });
    }
    // The best pair first, then the best of what is left.
    loop {
        let mut best: Option<(i32, usize, &Ours)> = None;
        for role in ours.iter().filter(|r| !out.iter().any(|f| f.role.name == r.name)) {
            for (i, name) in table.names.iter().enumerate() {
                if taken.get(i) != Some(&false) {
                    continue;
                }
                let s = score(name, role);
                if s > 0 && best.is_none_or(|b| s > b.0) {
                    best = Some((s, i, role));
                }
            }
        }
        let Some((_, index, role)) = best else { break };
        if let Some(t) = taken.get_mut(index) {
            *t = true;
        }
        out.push(Assigned {
            index,
            role,
            told_unit: None,
        });
    }
    Ok(out)
}

fn told<'a>(
    table: &Table,
    ours: &'a [Ours],
    map: &str,
) -> Result<(usize, Option<&'a Ours>, Option<String>), Finding> {
    let known = || ours.iter().map(|o| o.name).collect::<Vec<_>>().join(", ");
    let Some((theirs, right)) = map.rsplit_once('=') else {
        return Err(Finding::new(
            "map-shape",
            "--map",
            format!("`{map}` holds no `=`"),
            "write it as --map \"their column=ours\", such as --map \"spd=wheel rpm\"",
        ));
    };
    let (theirs, right) = (theirs.trim(), right.trim());
    let place = |theirs: &str| {
        table.names.iter().position(|n| n == theirs).ok_or_else(|| {
            let near = nearest(theirs, table.names.iter().map(String::as_str));
            Finding::new(
                "map-theirs",
                "--map",
                format!("the file has no column `{theirs}`"),
                format!(
                    "{}its columns are: {}",
                    near.map_or(String::new(), |n| format!("did you mean `{n}`? ")),
                    table.names.join(", ")
                ),
            )
        })
    };
    if right == "-" {
        return Ok((place(theirs)?, None, None));
    }
    let role = ours
        .iter()
        .filter(|o| right == o.name || right.strip_prefix(o.name).is_some_and(|r| r.starts_with(' ')))
        .max_by_key(|o| o.name.len());
    let Some(role) = role else {
        let near = nearest(right, ours.iter().map(|o| o.name));
        return Err(Finding::new(
            "map-ours",
            "--map",
            format!("`{right}` is none of our columns"),
            near.map_or(format!("ours are: {}", known()), |n| {
                format!("did you mean `{n}`? Ours are: {}", known())
            }),
        ));
    };
    let unit = right
        .get(role.name.len()..)
        .map(str::trim)
        .filter(|u| !u.is_empty());
    Ok((place(theirs)?, Some(role), unit.map(str::to_string)))
}

/// The words of a name: lower case, split at signs, digits and capitals.
fn words(name: &str) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    let mut lower = false;
    let mut fresh = true;
    for c in name.chars() {
        if !c.is_alphabetic() && c != '%' && c != '°' {
            fresh = true;
            continue;
        }
        if fresh || (lower && c.is_uppercase()) {
            out.push(String::new());
        }
        (fresh, lower) = (false, c.is_lowercase());
        if let Some(last) = out.last_mut() {
            last.extend(c.to_lowercase());
        }
    }
    out
}

/// The unit in a name, in brackets or as its last part, if it is one of the kind.
fn unit_in(name: &str, dimension: Dimension) -> Option<String> {
    let fits = |u: &str| {
        let u = u.trim();
        !u.is_empty() && units::parse(&format!("1 {u}"), dimension).is_ok()
    };
    let inside = name
        .rfind(['(', '['])
        .and_then(|at| name.get(at + 1..))
        .map(|rest| rest.trim_end_matches([')', ']', ' ']).to_string());
    let last = name.rsplit(['_', ' ', '.']).next().map(str::to_string);
    let two = |sep: &str| {
        let parts: Vec<&str> = name.rsplitn(3, ['_', ' ']).collect();
        match parts.as_slice() {
            [b, a, ..] => Some(format!("{a}{sep}{b}")),
            _ => None,
        }
    };
    let spelled = words(name).iter().find_map(|w| match (w.as_str(), dimension) {
        ("millis" | "msec" | "milliseconds", Dimension::Time) => Some("ms".to_string()),
        ("micros" | "usec" | "microseconds", Dimension::Time) => Some("us".to_string()),
        ("radps", Dimension::AngularSpeed) => Some("rad/s".to_string()),
        ("rpm" | "rps", Dimension::AngularSpeed)
        | ("volts", Dimension::Voltage)
        | ("amps", Dimension::Current) => Some(w.clone()),
        _ => None,
    });
    // `speed_rad_s`, `wheel rad per s`.
    let tries = [inside, spelled, two("/"), last];
    tries.into_iter().flatten().find(|u| {
        // One letter at the end of a name is a unit only for time, voltage, current and length.
        fits(u)
    })
}

fn score(name: &str, role: &Ours) -> i32 {
    let parts = words(name);
    let named: i32 = parts
        .iter()
        .map(|p| {
            let own = role.words.iter().filter(|(w, _)| p == w).map(|(_, s)| *s).max();
            // A longer run-together name, such as `flywheelrpm`.
            let inside = role
                .words
                .iter()
                .filter(|(w, s)| w.len() > 3 && *s > 0 && p.contains(w))
                .map(|(_, s)| s - 1)
                .max();
            own.or(inside).unwrap_or(0)
        })
        .sum();
    if named <= 0 {
        return 0;
    }
    match (role.dimension, stated_kind(name)) {
        (Dimension::Number, _) | (_, None) => named,
        // A unit of the right kind speaks for it, one of another kind against it.
        (own, Some(_)) if unit_in(name, own).is_some() => named + 3,
        (Dimension::Ratio, Some(Dimension::Ratio)) => named + 3,
        _ => 0,
    }
}

/// The kind of quantity whose unit stands in a name.
fn stated_kind(name: &str) -> Option<Dimension> {
    [
        Dimension::Time,
        Dimension::AngularSpeed,
        Dimension::Voltage,
        Dimension::Current,
        Dimension::Ratio,
        Dimension::Length,
    ]
    .into_iter()
    .find(|d| {
        name.contains(['(', '[']) && unit_in(name, *d).is_some()
            || unit_in(name, *d).is_some_and(|u| u.len() > 1 && u != "in")
    })
}

/// The values of a column in SI.
fn converted(table: &Table, i: usize, role: &Ours, told: Option<&str>) -> Result<Found, Finding> {
    let theirs = table.names.get(i).cloned().unwrap_or_default();
    let raw = table.columns.get(i).cloned().unwrap_or_default();
    let plain = |unit: &str, stated, values| Found {
        name: role.name,
        theirs: theirs.clone(),
        unit: unit.to_string(),
        unit_stated: stated,
        values,
    };
    if role.dimension == Dimension::Number {
        return Ok(plain("", true, raw));
    }
    let stated = told
        .map(str::to_string)
        .or_else(|| unit_in(&theirs, role.dimension));
    let is_stated = stated.is_some();
    let unit = match stated.or_else(|| guessed(role, &raw)) {
        Some(u) => u,
        None => {
            return Err(Finding::new(
                "column-no-unit",
                theirs.clone(),
                format!(
                    "column `{theirs}` is taken for `{}`, and nothing says its unit",
                    role.name
                ),
                format!(
                    "say it: --map \"{theirs}={} {}\" (or another unit), or write it into the name: {theirs} ({})",
                    role.name,
                    example(role.dimension),
                    example(role.dimension)
                ),
            ));
        }
    };
    if role.dimension == Dimension::Ratio && unit == "of one" {
        return Ok(plain("of one", is_stated, raw));
    }
    let si_ratio = units::parse_difference(&format!("1 {unit}"), role.dimension).map_err(|e| {
        Finding::new(
            "column-unit",
            theirs.clone(),
            format!("column `{theirs}`: {}", e.what),
            e.fix,
        )
    })?;
    Ok(plain(
        &unit,
        is_stated,
        raw.iter().map(|x| x * si_ratio).collect(),
    ))
}

fn example(dimension: Dimension) -> &'static str {
    match dimension {
        Dimension::Time => "ms",
        Dimension::AngularSpeed => "rpm",
        Dimension::Length => "m",
        _ => "V",
    }
}

/// A unit where none is stated: only where the numbers leave no doubt.
fn guessed(role: &Ours, raw: &[f64]) -> Option<String> {
    let most = raw
        .iter()
        .filter(|x| x.is_finite())
        .fold(0.0_f64, |m, x| m.max(x.abs()));
    match role.dimension {
        // Physical: a duty above 1.05 is in per cent.
        Dimension::Ratio => Some(if most <= 1.05 { "of one" } else { "%" }.to_string()),
        Dimension::Time => {
            let mut steps: Vec<f64> = raw
                .windows(2)
                .filter_map(|w| match w {
                    [a, b] => Some(b - a),
                    _ => None,
                })
                .filter(|s| *s > 0.0)
                .collect();
            steps.sort_by(f64::total_cmp);
            let step = steps.get(steps.len() / 2).copied()?;
            // Physical: rows come every 1 to 200 ms; steps of whole numbers between are not seconds.
            (step < 0.5).then(|| "s".to_string())
        }
        _ => role.usual_unit.map(str::to_string),
    }
}
