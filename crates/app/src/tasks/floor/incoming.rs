//! A file from outside as the page takes it in: what it is, which column is what, what would be taken and what not and
//! why, and the taking.

use std::path::Path;

use arcwright_model::finding::Finding;
use arcwright_model::floor::telemetry::Repair;
use arcwright_model::project::Project;
use arcwright_model::units::{self, Dimension as D};
use serde::Deserialize;
use serde_json::{Value, json};

use super::attach::{self, Brought, HEAD, USUAL_WITHIN};
use super::columns::{self, Column, of_head};
use super::import_bring::bring;
use super::record_columns::{self, Found, Ours};
use super::{Floor, film, import, record_table, table, telemetry, time};
use crate::tasks::json::{head, with};

/// What a file is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// A table of shots.
    Shots,
    /// A robot's log.
    Telemetry,
    /// Points of a filmed flight.
    Film,
}

impl Kind {
    fn word(self) -> &'static str {
        match self {
            Kind::Shots => "shots",
            Kind::Telemetry => "telemetry",
            Kind::Film => "film",
        }
    }
}

/// Which column is which, as a person said.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Map {
    /// Its head in the file.
    pub theirs: String,
    /// Ours; `-` leaves it out.
    pub ours: String,
    /// Its unit; as the file says, or as usual, where it is empty.
    #[serde(default)]
    pub unit: String,
}

/// Which way the second coordinate of a film grows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Way {
    /// As heights do.
    Up,
    /// As rows of pixels do.
    Down,
}

/// A file, and how to take it.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Asked {
    /// Name of the file.
    pub name: String,
    /// Its bytes, one letter (U+0000 to U+00FF) for each.
    pub bytes: String,
    /// What it is; guessed from its columns if not given.
    #[serde(default)]
    pub kind: Option<Kind>,
    /// Columns that are other than guessed.
    #[serde(default)]
    pub maps: Vec<Map>,
    /// Take it, rather than look.
    #[serde(default)]
    pub take: bool,
    /// Take what is only unlikely, and replace what a shot says already.
    #[serde(default)]
    pub anyway: bool,
    /// A robot's log goes with the shots of this session only.
    #[serde(default)]
    pub session: Option<i64>,
    /// When the clock of a robot's log showed zero, day and time.
    #[serde(default)]
    pub zero_at: Option<String>,
    /// A throw and a shot farther apart than this are not one, with its unit.
    #[serde(default)]
    pub within: Option<String>,
    /// First throw with first shot, whatever the times say.
    #[serde(default)]
    pub in_order: bool,
    /// A known length and its pixels, such as `1 m = 412 px`.
    #[serde(default)]
    pub scale: Option<String>,
    /// Height of a film's first point, with its unit.
    #[serde(default)]
    pub height: Option<String>,
    /// Frames per second, where a film counts frames.
    #[serde(default)]
    pub frames_hz: Option<f64>,
    /// Which way a film's second coordinate grows.
    #[serde(default)]
    pub y: Option<Way>,
    /// The shot that was filmed.
    #[serde(default)]
    pub shot: Option<i64>,
}

/// The bytes of a file that came as letters.
///
/// # Errors
/// `bad-body`.
pub fn bytes_of(text: &str) -> Result<Vec<u8>, Finding> {
    let each = text.chars().map(|c| u8::try_from(u32::from(c)));
    each.collect::<Result<_, _>>().map_err(|_| {
        Finding::new(
            "bad-body",
            "bytes",
            "a letter stands for no byte",
            "send one letter from U+0000 to U+00FF for each byte of the file",
        )
    })
}

/// Physical: with more rows than this a file is no table of shots.
const MOST_SHOTS: usize = 2000;

/// What a file looks like.
fn guess(bytes: &[u8]) -> Kind {
    if let Ok(t) = table::read(bytes) {
        let ours: Vec<Column> = t.heads.iter().filter_map(|h| Some(of_head(h)?.column)).collect();
        let has = |c| ours.contains(&c);
        if t.rows.len() <= MOST_SHOTS && has(Column::Setpoint) && (has(Column::Spot) || has(Column::Distance))
        {
            return Kind::Shots;
        }
    }
    let Ok(t) = record_table::parse(bytes, "") else {
        return Kind::Shots;
    };
    let has = |ours: &[Ours], names: [&str; 2]| {
        record_columns::assign(&t, ours, &[])
            .is_ok_and(|found| names.iter().all(|n| found.iter().any(|a| a.role.name == *n)))
    };
    if has(telemetry::COLUMNS, ["time", "wheel"]) {
        Kind::Telemetry
    } else if has(&film::columns(true, false), ["x", "y"]) {
        Kind::Film
    } else {
        Kind::Shots
    }
}

/// A refusal in the words of the page: where the command line names an option, the page has a field.
fn on_page(f: Finding) -> Finding {
    const FIELDS: [(&str, &str); 5] = [
        (
            "--map",
            "say what the column is, and its unit, in the list of columns",
        ),
        (
            "--zero-at",
            "check that it is the log of that day; say below when its clock showed 0, allow more time between a throw and its shot, or pair first with first",
        ),
        (
            "--anyway",
            "look which is right; `take it anyway` takes the file's and keeps the other as an older version",
        ),
        ("--scale", "give the scale below: a known length and its pixels"),
        ("--fps", "give the frames per second below"),
    ];
    match FIELDS.iter().find(|(option, _)| f.fix.contains(option)) {
        Some((_, fix)) => Finding {
            fix: (*fix).into(),
            ..f
        },
        None => f,
    }
}

fn finding(f: &Finding) -> Value {
    let f = on_page(f.clone());
    json!({ "code": f.code, "what": f.what, "fix": f.fix })
}

/// What comes of a file.
#[derive(Default)]
struct Look {
    columns: Vec<Value>,
    ours: Vec<Value>,
    notes: Vec<String>,
    refused: Option<Finding>,
    says: Vec<String>,
    picture: Option<String>,
    found: Option<Value>,
    rows: Option<Value>,
    /// To take, there already, refused.
    counts: [usize; 3],
    taken: usize,
}

/// Looks at a file, and takes from it what the look shows where that is asked for.
///
/// # Errors
/// Where the file is no table at all, or the log cannot be read or written. What is wrong with columns or pairs is told
/// in the answer, beside the columns that it can be mended by.
pub fn incoming(project: &Project, log: &Path, asked: &Asked) -> Result<Value, Finding> {
    let bytes = bytes_of(&asked.bytes)?;
    let kind = asked.kind.unwrap_or_else(|| guess(&bytes));
    let look = match kind {
        Kind::Shots => shots(project, log, asked, &bytes)?,
        Kind::Telemetry => of_robot(project, log, asked, &bytes)?,
        Kind::Film => of_film(project, log, asked, &bytes)?,
    };
    let [take, there, refused] = look.counts;
    Ok(with(
        head("incoming", project),
        json!({
            "kind": kind.word(),
            "name": asked.name,
            "columns": look.columns,
            "ours": look.ours,
            "notes": look.notes,
            "refused": look.refused.as_ref().map(finding),
            "says": look.says,
            "picture": look.picture,
            "found": look.found,
            "rows": look.rows,
            "take": take,
            "there": there,
            "refused_count": refused,
            "taken": look.taken,
        }),
    ))
}

fn shots(project: &Project, log: &Path, asked: &Asked, bytes: &[u8]) -> Result<Look, Finding> {
    let table = table::read(bytes)?;
    let options = import::Options {
        maps: asked
            .maps
            .iter()
            .map(|m| match m.unit.trim() {
                "" => format!("{}={}", m.theirs, m.ours),
                unit => format!("{}={} ({unit})", m.theirs, m.ours),
            })
            .collect(),
        anyway: asked.anyway,
        name: asked.name.clone(),
    };
    let ours = columns::ALL.iter();
    let ours = ours.map(|c| json!({ "name": c.1, "units": c.3.map_or(&[][..], D::usual) }));
    let mut look = Look {
        ours: ours.collect(),
        ..Look::default()
    };
    let floor = Floor::of(project);
    let columns = match bring(&floor, log, bytes, &options, asked.take) {
        Err(f) => {
            look.refused = Some(f);
            import::assign(&table, &options.maps).or_else(|_| import::assign(&table, &[]))?
        }
        Ok((plan, taken)) => {
            let fate = |f: &import::Fate| match f {
                import::Fate::Take => ("take", None, String::new()),
                import::Fate::There(id) => ("there", None, format!("there already as shot {id}")),
                import::Fate::Twice(line) => ("there", None, format!("stands on line {line} already")),
                import::Fate::Refuse(f) => ("refused", Some(finding(f)), String::new()),
            };
            let rows: Vec<Value> = plan
                .rows
                .iter()
                .map(|r| {
                    let (fate, why, besides) = fate(&r.fate);
                    let words = if besides.is_empty() {
                        r.words(project)
                    } else {
                        besides
                    };
                    json!({ "cells": [r.line.to_string(), words], "fate": fate, "why": why })
                })
                .collect();
            look.rows = Some(json!({ "head": ["line", "shot"], "rows": rows }));
            look.counts = [
                plan.count(|f| *f == import::Fate::Take),
                plan.count(|f| matches!(f, import::Fate::There(_) | import::Fate::Twice(_))),
                plan.count(|f| matches!(f, import::Fate::Refuse(_))),
            ];
            look.taken = taken.len();
            plan.columns
        }
    };
    look.columns = columns
        .iter()
        .map(|c| {
            let unit = c.ours.as_ref().and_then(|h| h.unit.clone());
            json!({
                "theirs": c.theirs,
                "ours": c.ours.as_ref().map(|h| h.column.name()),
                "unit": unit.unwrap_or_default(),
                "wrong": c.wrong.as_ref().map(finding),
            })
        })
        .collect();
    Ok(look)
}

/// Columns of a table of numbers as far as they could be told.
fn recorded(table: &record_table::Table, ours: &[Ours], maps: &[String], found: &[Found]) -> Vec<Value> {
    let assigned = record_columns::assign(table, ours, maps)
        .or_else(|_| record_columns::assign(table, ours, &[]))
        .unwrap_or_default();
    let each = table.names.iter().enumerate();
    each.map(|(i, theirs)| {
        let own = assigned.iter().find(|a| a.index == i);
        let read = found.iter().find(|f| f.theirs == *theirs);
        let told = own.and_then(|a| a.told_unit.clone());
        json!({
            "theirs": theirs,
            "ours": own.map(|a| a.role.name),
            "unit": read.map_or(told.unwrap_or_default(), |f| f.unit.clone()),
            "wrong": null,
        })
    })
    .collect()
}

fn named(ours: &[Ours]) -> Vec<Value> {
    let each = ours.iter();
    each.map(|o| json!({ "name": o.name, "units": o.dimension.usual() }))
        .collect()
}

fn record_maps(maps: &[Map]) -> Vec<String> {
    let each = maps.iter();
    each.map(|m| {
        format!("{}={} {}", m.theirs, m.ours, m.unit.trim())
            .trim()
            .to_string()
    })
    .collect()
}

fn table_of(head: &[&str], rows: Vec<Vec<String>>) -> Value {
    json!({ "head": head, "rows": rows })
}

fn positive(key: &str, text: &Option<String>, d: D) -> Result<Option<f64>, Finding> {
    let Some(text) = text.as_deref().map(str::trim).filter(|t| !t.is_empty()) else {
        return Ok(None);
    };
    let value = units::parse(text, d).map_err(|e| Finding::new(e.code, key, e.what, e.fix))?;
    if value > 0.0 {
        return Ok(Some(value));
    }
    Err(Finding::new(
        "out-of-range",
        key,
        format!("{key} is `{text}`, and must be above zero"),
        "correct it",
    ))
}

fn of_robot(project: &Project, log: &Path, asked: &Asked, bytes: &[u8]) -> Result<Look, Finding> {
    let table = record_table::parse(bytes, &asked.name)?;
    let maps = record_maps(&asked.maps);
    let mut look = Look {
        ours: named(telemetry::COLUMNS),
        ..Look::default()
    };
    let t = match telemetry::of_table(&table, &maps, Some(project), None) {
        Ok(t) => t,
        Err(f) => {
            look.columns = recorded(&table, telemetry::COLUMNS, &maps, &[]);
            look.refused = Some(f);
            return Ok(look);
        }
    };
    look.columns = recorded(&table, telemetry::COLUMNS, &maps, &t.found);
    look.notes = t.notes.clone();
    look.notes.extend(t.repaired.repairs.iter().map(Repair::words));
    look.picture = Some(telemetry::picture(&t, project.units));
    look.found = Some(table_of(
        &telemetry::THROWS_HEAD,
        telemetry::throw_rows(&t, project.units),
    ));
    look.says.push(telemetry::throw_means(&t, project.units));
    look.says.extend(t.likenesses.iter().map(|l| l.words.clone()));
    if let Err(f) = &t.train {
        look.says.push(format!(
            "The wheel train cannot be learned from it: {}. {}",
            f.what, f.fix
        ));
    }
    let how = || -> Result<attach::How, Finding> {
        let zero_at = asked.zero_at.as_deref().map(str::trim).filter(|t| !t.is_empty());
        Ok(attach::How {
            session: asked.session,
            zero_utc_ms: match zero_at {
                Some(text) => Some(time::moment(None, text)?.utc_ms),
                None => None,
            },
            tolerance_s: match positive("within", &asked.within, D::Time)? {
                Some(s) => s,
                None => positive("within", &Some(USUAL_WITHIN.into()), D::Time)?.unwrap_or(0.0),
            },
            in_order: asked.in_order,
            anyway: asked.anyway,
        })
    };
    let floor = Floor::of(project);
    let brought = how().and_then(|how| attach::bring(&floor, log, &t, &how, &asked.name, asked.take));
    match brought {
        Err(f) => look.refused = Some(f),
        Ok((plan, written)) => {
            let rows: Vec<Value> = plan
                .rows
                .iter()
                .map(|r| {
                    let (fate, why) = match &r.fate {
                        attach::Fate::Take(_) => ("take", None),
                        attach::Fate::Same => ("there", None),
                        attach::Fate::Refuse(f) => ("refused", Some(finding(f))),
                    };
                    let mut cells = r.cells(project);
                    cells.pop();
                    json!({ "cells": cells, "fate": fate, "why": why })
                })
                .collect();
            let count = |fate: &str| rows.iter().filter(|r| r["fate"] == fate).count();
            look.counts = [count("take"), count("there"), count("refused")];
            look.rows = Some(json!({ "head": &HEAD[..HEAD.len() - 1], "rows": rows }));
            look.taken = written;
            if let Some(zero) = plan.zero_utc_ms {
                look.says.push(format!(
                    "The log's clock showed 0 on {} at {}.",
                    time::day(zero),
                    time::clock(zero)
                ));
            }
            let list = |all: Vec<String>| all.join(", ");
            if !plan.throws_alone.is_empty() {
                let all = plan.throws_alone.iter().map(usize::to_string).collect();
                look.says
                    .push(format!("Throws that no shot was logged for: {}.", list(all)));
            }
            if !plan.shots_alone.is_empty() {
                let all = plan.shots_alone.iter().map(i64::to_string).collect();
                look.says
                    .push(format!("Shots that the log shows no throw for: {}.", list(all)));
            }
        }
    }
    Ok(look)
}

fn of_film(project: &Project, log: &Path, asked: &Asked, bytes: &[u8]) -> Result<Look, Finding> {
    let table = record_table::parse(bytes, &asked.name)?;
    let maps = record_maps(&asked.maps);
    let scale = asked.scale.as_deref().map(str::trim).filter(|t| !t.is_empty());
    let ours = film::columns(scale.is_some(), asked.frames_hz.is_some());
    let mut look = Look {
        ours: named(&ours),
        ..Look::default()
    };
    let read = || -> Result<film::Filmed, Finding> {
        let how = film::How {
            maps: maps.clone(),
            scale: scale.map(film::scale).transpose()?,
            first_height_m: positive("height", &asked.height, D::Length)?,
            frames_hz: asked.frames_hz,
            y_down: asked.y.map(|w| w == Way::Down),
        };
        let (ball, medium) = film::piece_of(project);
        film::of_table(&table, &how, &ball, &medium)
    };
    let filmed = match read() {
        Ok(filmed) => filmed,
        Err(f) => {
            look.columns = recorded(&table, &ours, &maps, &[]);
            look.refused = Some(f);
            return Ok(look);
        }
    };
    let f = &filmed.film;
    look.columns = recorded(&table, &ours, &maps, &filmed.found);
    look.notes = filmed.notes.clone();
    look.picture = Some(film::picture(f, project.units));
    look.found = Some(table_of(&film::FOUND_HEAD, film::found_rows(f, project.units)));
    look.says
        .push(format!("{}.", film::flight_words(f, project.units)));
    look.says.extend(f.doubts.iter().map(|d| d.words.clone()));
    let Some(number) = asked.shot else { return Ok(look) };
    let floor = Floor::of(project);
    let exit = attach::exit_words(project, f);
    let row = |fate: &str, words: String, why: Option<Value>| json!({ "head": ["shot", ""], "rows": [{ "cells": [number.to_string(), words], "fate": fate, "why": why }] });
    let brought = attach::bring_film(&floor, log, f, number, &asked.name, asked.take, asked.anyway);
    match brought {
        Err(f) => {
            look.counts = [0, 0, 1];
            look.rows = Some(row("refused", exit, Some(finding(&f))));
        }
        Ok(Brought::Would) => {
            look.counts = [1, 0, 0];
            look.rows = Some(row("take", exit, None));
        }
        Ok(Brought::Written) => {
            look.counts = [1, 0, 0];
            look.taken = 1;
            look.rows = Some(row("take", exit, None));
        }
        Ok(Brought::Same) => {
            look.counts = [0, 1, 0];
            look.rows = Some(row("there", exit, None));
        }
    }
    Ok(look)
}
