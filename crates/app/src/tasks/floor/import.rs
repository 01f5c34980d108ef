//! A table of shots into the log: first what would be taken and what not and why, then the taking.

use std::collections::{BTreeMap, BTreeSet};

use arcwright_model::finding::{Finding, nearest};
use arcwright_model::project::Project;
use arcwright_model::units::{self, Dimension as D};

use super::columns::{ALL, Column as C, Head, of_head};
use super::known::Known;
use super::separated;
use super::table::Table;
use super::time::{self, Moment};
use super::{Floor, doubt, log};
use crate::store::{Batch, Entry, NewShot, SESSION_GAP_MS, Store, outcome_of};
use crate::tasks::throw::find_spot;

/// What becomes of a row.
#[derive(Clone, Debug, PartialEq)]
pub enum Fate {
    /// It is taken.
    Take,
    /// It is in the log already, as this shot.
    There(i64),
    /// It stands twice in the table: first on this line.
    Twice(u64),
    /// It is refused.
    Refuse(Finding),
}

/// A row of the table.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Line of the file.
    pub line: u64,
    /// The shot, as far as it could be read.
    pub entry: Option<Entry>,
    /// What becomes of it.
    pub fate: Fate,
}

/// A column of the table.
#[derive(Clone, Debug, PartialEq)]
pub struct Taken {
    /// Its head in the table.
    pub theirs: String,
    /// What it is taken for; `None` where it is not taken.
    pub ours: Option<Head>,
    /// What is wrong with the whole column.
    pub wrong: Option<Finding>,
}

/// What an import would do.
pub struct Plan {
    /// Columns.
    pub columns: Vec<Taken>,
    /// Rows.
    pub rows: Vec<Row>,
    /// What to write.
    pub batches: Vec<Batch>,
}

impl Plan {
    /// How many rows have a fate of a kind.
    pub fn count(&self, of: impl Fn(&Fate) -> bool) -> usize {
        self.rows.iter().filter(|r| of(&r.fate)).count()
    }
}

/// Options of an import.
#[derive(Clone, Debug, Default)]
pub struct Options {
    /// `their column=ours`.
    pub maps: Vec<String>,
    /// Take unlikely shots.
    pub anyway: bool,
    /// Name of the file, for the name of a session.
    pub name: String,
}

/// Works out what an import would do. Writes nothing.
///
/// # Errors
/// A finding where the table as a whole cannot be used.
pub fn plan(
    floor: &Floor,
    store: Option<&Store>,
    table: &Table,
    options: &Options,
    now_ms: i64,
) -> Result<Plan, Finding> {
    let mut columns = assign(table, &options.maps)?;
    let has = |columns: &[Taken], c: C| {
        columns
            .iter()
            .any(|t| t.ours.as_ref().is_some_and(|h| h.column == c))
    };
    if !has(&columns, C::Spot) && !has(&columns, C::Distance) {
        return Err(lacks(
            table,
            "where the robot stood (a column `spot` or `distance`)",
            "spot",
        ));
    }
    if !has(&columns, C::Setpoint) {
        return Err(lacks(
            table,
            "the wheel speed (a column `wheel speed` or `rpm`)",
            "wheel speed (rpm)",
        ));
    }
    for i in 0..columns.len() {
        let wrong = columns.get(i).and_then(|c| suspect(floor, table, i, c));
        if let Some(c) = columns.get_mut(i) {
            c.wrong = wrong;
        }
    }
    let provided: BTreeSet<C> = columns
        .iter()
        .filter_map(|c| Some(c.ours.as_ref()?.column))
        .collect();
    let existing = match store {
        Some(store) => store.current()?,
        None => Vec::new(),
    };
    let mut known = Known::of(&existing, &provided);
    let mut rows = Vec::new();
    let mut groups: BTreeMap<String, Group> = BTreeMap::new();
    for (line, cells) in &table.rows {
        let read = read_row(floor, table, &columns, cells, options.anyway);
        let (cells, entry, moment) = match read {
            Ok(all) => all,
            Err(f) => {
                rows.push(Row {
                    line: *line,
                    entry: None,
                    fate: Fate::Refuse(f),
                });
                continue;
            }
        };
        let fate = known.fate(&entry, moment, *line);
        let session = cells.text(C::Session);
        let group = groups.entry(session.to_string()).or_default();
        if group.name.is_empty() {
            group.name = cells.text(C::SessionName).to_string();
        }
        if let Fate::There(id) = fate {
            let joins = existing.iter().find(|l| l.id == id).map(|l| l.session);
            group.joins = group.joins.or(joins);
        }
        if fate == Fate::Take {
            group.shots.push(NewShot {
                thrown_utc_ms: moment.map_or(now_ms, |m| m.utc_ms),
                time_known: moment.is_some(),
                source: "table".into(),
                words: cells.text(C::Words).to_string(),
                entry: entry.clone(),
            });
        }
        rows.push(Row {
            line: *line,
            entry: Some(entry),
            fate,
        });
    }
    Ok(Plan {
        columns,
        rows,
        batches: batches(groups, &options.name),
    })
}

/// Rows that say they belong together.
#[derive(Default)]
struct Group {
    name: String,
    joins: Option<i64>,
    shots: Vec<NewShot>,
}

/// Sessions as the table says them; where it does not, a gap of four hours begins a new one.
fn batches(groups: BTreeMap<String, Group>, file: &str) -> Vec<Batch> {
    let mut out = Vec::new();
    for (said, mut group) in groups {
        if group.shots.is_empty() {
            continue;
        }
        group.shots.sort_by_key(|s| s.thrown_utc_ms);
        let name = if group.name.is_empty() && said.is_empty() {
            format!("from {file}")
        } else {
            group.name
        };
        let mut batch = Batch::default();
        let mut last: Option<i64> = None;
        for shot in group.shots {
            let gap =
                last.is_none_or(|l| said.is_empty() && shot.thrown_utc_ms.saturating_sub(l) > SESSION_GAP_MS);
            if gap {
                if !batch.shots.is_empty() {
                    out.push(std::mem::take(&mut batch));
                }
                batch.started_utc_ms = shot.thrown_utc_ms;
                batch.name.clone_from(&name);
                // What was in the log already tells which session the rest belongs to.
                batch.session = group.joins.filter(|_| last.is_none());
            }
            last = Some(shot.thrown_utc_ms);
            batch.shots.push(shot);
        }
        out.push(batch);
    }
    out.sort_by_key(|b| b.started_utc_ms);
    out
}

fn lacks(table: &Table, what: &str, ours: &str) -> Finding {
    let first = table.heads.first().map_or("", String::as_str);
    Finding::new(
        "column-missing",
        "table",
        format!(
            "the table does not say {what}; its columns are: {}",
            table.heads.join(", ")
        ),
        format!("say which column it is, such as --map \"{first}={ours}\""),
    )
}

/// Which column is what.
///
/// # Errors
/// `bad-map`.
pub fn assign(table: &Table, maps: &[String]) -> Result<Vec<Taken>, Finding> {
    let mut out: Vec<Taken> = table
        .heads
        .iter()
        .map(|h| Taken {
            theirs: h.clone(),
            ours: of_head(h),
            wrong: None,
        })
        .collect();
    for map in maps {
        let bad = |what: String, fix: String| Finding::new("bad-map", map.clone(), what, fix);
        let Some((theirs, ours)) = map.rsplit_once('=') else {
            return Err(bad(
                "it has no `=`".into(),
                "write --map \"their column=ours\", such as --map \"Dist.=distance (ft)\"".into(),
            ));
        };
        let (theirs, ours) = (theirs.trim(), ours.trim());
        let Some(column) = out.iter_mut().find(|t| t.theirs.eq_ignore_ascii_case(theirs)) else {
            let near = nearest(theirs, table.heads.iter().map(String::as_str))
                .map_or(String::new(), |n| format!("did you mean `{n}`? "));
            return Err(bad(
                format!("the table has no column `{theirs}`"),
                format!("{near}its columns are: {}", table.heads.join(", ")),
            ));
        };
        if matches!(ours, "-" | "") {
            column.ours = None;
            continue;
        }
        let Some(head) = of_head(ours) else {
            let names: Vec<&str> = ALL.iter().map(|a| a.1).collect();
            return Err(bad(
                format!("no column of ours is called `{ours}`"),
                format!("use one of: {}; with its unit in brackets", names.join(", ")),
            ));
        };
        let unit = head.unit.or_else(|| of_head(theirs).and_then(|h| h.unit));
        column.ours = Some(Head { unit, ..head });
    }
    Ok(out)
}

/// A cell with decimal commas made points where commas do not separate.
fn pointed_of(table: &Table, cell: &str) -> String {
    separated::pointed(cell, table.decimal_comma)
}

/// The quantity in a cell: its own unit, else that of the head, else the one that goes without saying.
fn quantity(head: &Head, d: D, cell: &str) -> Result<f64, Finding> {
    let refuse = |e: units::UnitError| {
        Finding::new(
            e.code,
            head.column.name(),
            format!("{} is `{cell}`: {}", head.column.name(), e.what),
            e.fix,
        )
    };
    let own = units::parse(cell, d);
    let is_bare = units::parse(cell, D::Number).is_ok();
    let unit = head.unit.as_deref().or(head.column.unsaid_unit());
    match (own, is_bare, unit) {
        (Ok(v), _, _) => Ok(v),
        (Err(_), true, Some(unit)) => units::parse(&format!("{cell} {unit}"), d).map_err(refuse),
        (Err(e), _, _) => Err(refuse(e)),
    }
}

/// What is wrong with a whole column: no unit, or one that makes its values absurd.
fn suspect(floor: &Floor, table: &Table, index: usize, column: &Taken) -> Option<Finding> {
    let head = column.ours.as_ref()?;
    let d = head.column.dimension()?;
    let cells: Vec<String> = table
        .rows
        .iter()
        .filter_map(|(_, r)| r.get(index))
        .filter(|c| !c.is_empty())
        .map(|c| pointed_of(table, c))
        .collect();
    let bare = || cells.iter().filter(|c| units::parse(c, D::Number).is_ok());
    let (low, high) = head.column.plausible(floor.project, floor.chain().top_radps)?;
    let middle = |unit: &str| -> Option<f64> {
        let mut sizes: Vec<f64> = bare()
            .filter_map(|c| units::parse(&format!("{c} {unit}"), d).ok())
            .map(f64::abs)
            .collect();
        sizes.sort_by(f64::total_cmp);
        sizes.get(sizes.len() / 2).copied()
    };
    let fits = |unit: &str| middle(unit).is_some_and(|m| (low..=high).contains(&m));
    let others: Vec<String> = d
        .usual()
        .iter()
        .filter(|u| fits(u))
        .map(|u| format!("{u} ({})", floor.project.say(middle(u).unwrap_or(0.0), d)))
        .collect();
    let map = |unit: &str| format!("--map \"{}={} ({unit})\"", column.theirs, head.column.name());
    let first = d.usual().iter().find(|u| fits(u)).copied().unwrap_or(d.si());
    bare().next()?;
    match head.unit.as_deref().or(head.column.unsaid_unit()) {
        None => Some(Finding::new(
            "no-unit",
            column.theirs.clone(),
            format!("its numbers have no unit, and {} needs one", head.column.name()),
            if others.is_empty() {
                format!("say it, such as {}", map(first))
            } else {
                format!(
                    "the usual value could be in {}: say which, such as {}",
                    others.join(" or "),
                    map(first)
                )
            },
        )),
        Some(unit) if !fits(unit) && !others.is_empty() => Some(Finding::new(
            "wrong-unit",
            column.theirs.clone(),
            format!(
                "in {unit} its usual value would be {}, which is absurd here; it looks like {}",
                floor.project.say(middle(unit).unwrap_or(0.0), d),
                others.join(" or ")
            ),
            format!("if so, say {}", map(first)),
        )),
        Some(_) => None,
    }
}

/// Cells of a row by our columns.
struct Cells {
    texts: BTreeMap<C, String>,
    numbers: BTreeMap<C, f64>,
}

impl Cells {
    fn text(&self, c: C) -> &str {
        self.texts.get(&c).map_or("", String::as_str)
    }

    fn number(&self, c: C) -> Option<f64> {
        self.numbers.get(&c).copied()
    }
}

/// Rounding: two columns of one quantity in two units agree within this share.
const AGREE_RATIO: f64 = 1e-3;
/// Rounding: or within this, SI.
const AGREE: f64 = 1e-5;

fn cells_of(table: &Table, columns: &[Taken], cells: &[String]) -> Result<Cells, Finding> {
    let mut out = Cells {
        texts: BTreeMap::new(),
        numbers: BTreeMap::new(),
    };
    for (taken, cell) in columns.iter().zip(cells) {
        let Some(head) = taken.ours.as_ref().filter(|_| !cell.is_empty()) else {
            continue;
        };
        let Some(d) = head.column.dimension() else {
            out.texts.insert(head.column, cell.clone());
            continue;
        };
        if let Some(wrong) = &taken.wrong {
            return Err(Finding {
                what: format!("column `{}`: {}", taken.theirs, wrong.what),
                ..wrong.clone()
            });
        }
        let value = quantity(head, d, &pointed_of(table, cell))?;
        match out.numbers.get(&head.column) {
            // The first is the SI column of our own tables: it has every digit.
            Some(first) if (first - value).abs() > AGREE.max(AGREE_RATIO * first.abs()) => {
                return Err(Finding::new(
                    "two-values",
                    head.column.name(),
                    format!("two columns for {} do not agree", head.column.name()),
                    "correct one of them, or leave one out with --map \"its head=-\"",
                ));
            }
            Some(_) => {}
            None => {
                out.numbers.insert(head.column, value);
            }
        }
    }
    Ok(out)
}

fn count(cells: &Cells, c: C) -> Result<Option<u32>, Finding> {
    let text = cells.text(c).trim_start_matches('#');
    if text.is_empty() {
        return Ok(None);
    }
    // Spreadsheets like to write 3.0.
    text.trim_end_matches(".0").parse().map(Some).map_err(|_| {
        Finding::new(
            "bad-number",
            c.name(),
            format!("{} is `{text}`, and should be a whole number", c.name()),
            "write 1, 2, 3, ...",
        )
    })
}

fn yes(cells: &Cells, c: C) -> Result<bool, Finding> {
    let text = cells.text(c).to_lowercase();
    match text.as_str() {
        "" | "no" | "n" | "0" | "false" | "-" => Ok(false),
        "yes" | "y" | "1" | "true" | "x" | "jam" | "jammed" => Ok(true),
        _ => Err(Finding::new(
            "bad-choice",
            c.name(),
            format!("{} is `{text}`", c.name()),
            "write yes or no",
        )),
    }
}

fn read_row(
    floor: &Floor,
    table: &Table,
    columns: &[Taken],
    row: &[String],
    anyway: bool,
) -> Result<(Cells, Entry, Option<Moment>), Finding> {
    let project = floor.project;
    let cells = cells_of(table, columns, row)?;
    let entry = entry_of(project, &cells)?;
    doubt::refuse(floor, &entry, anyway)?;
    let day = Some(cells.text(C::Day)).filter(|d| !d.is_empty());
    let moment = match cells.text(C::Time) {
        "" => None,
        text => Some(time::moment(day.filter(|_| !text.contains(['-', 'T'])), text)?),
    };
    Ok((cells, entry, moment))
}

fn entry_of(project: &Project, cells: &Cells) -> Result<Entry, Finding> {
    let n = |c| cells.number(c);
    let said = cells.text(C::Spot);
    let mut entry = Entry {
        place: 1,
        slide_m: n(C::Slide).unwrap_or(project.machine.setting.slide_m),
        tilt_rad: n(C::Tilt).unwrap_or(project.machine.setting.tilt_rad),
        reach_m: n(C::Reach).unwrap_or(project.machine.setting.reach_m),
        turned_rad: n(C::Turned).unwrap_or(0.0),
        before_radps: n(C::Before),
        after_radps: n(C::After),
        battery_v: n(C::Battery),
        exit_speed_mps: n(C::ExitSpeed),
        exit_angle_rad: n(C::ExitAngle),
        note: cells.text(C::Note).to_string(),
        ..Entry::default()
    };
    let missing =
        |c: C, fix: &str| Finding::new("cell-empty", c.name(), format!("{} is empty", c.name()), fix);
    match (said, n(C::Distance)) {
        ("", None) => return Err(missing(C::Spot, "write the spot, or its distance")),
        ("", Some(distance_m)) => {
            /// Physical: distances are taped to the millimetre at best.
            const SAME_M: f64 = 2e-3;
            let spot = project
                .spots
                .iter()
                .find(|s| (s.distance_m - distance_m).abs() < SAME_M);
            entry.spot = spot.map_or(String::new(), |s| s.name.clone());
            entry.distance_m = distance_m;
            entry.offset_m = n(C::Offset).or(spot.map(|s| s.offset_m)).unwrap_or(0.0);
        }
        (name, distance) => {
            let spot = match (find_spot(project, Some(name)), distance) {
                (Ok(spot), _) => Some(spot),
                // A spot of last year: its name and its distance are kept.
                (Err(_), Some(_)) => None,
                (Err(f), None) => return Err(f),
            };
            entry.spot = spot.map_or(name.to_string(), |s| s.name.clone());
            entry.distance_m = distance.or(spot.map(|s| s.distance_m)).unwrap_or_default();
            entry.offset_m = n(C::Offset).or(spot.map(|s| s.offset_m)).unwrap_or(0.0);
        }
    }
    entry.setpoint_radps =
        n(C::Setpoint).ok_or_else(|| missing(C::Setpoint, "write the wheel speed that was asked for"))?;
    entry.piece = count(cells, C::Piece)?;
    entry.place = count(cells, C::Throw)?.unwrap_or(1);
    entry.volley_count = count(cells, C::Of)?;
    entry.jammed = yes(cells, C::Jammed)?;
    let why = cells.text(C::LeftOut);
    entry.left_out_because = (!why.is_empty()).then(|| why.to_string());
    seen(project, cells, &mut entry)?;
    Ok(entry)
}

/// What was seen.
fn seen(project: &Project, cells: &Cells, entry: &mut Entry) -> Result<(), Finding> {
    let n = |c| cells.number(c);
    let alone = |what: &str, other: C| {
        Finding::new(
            "cell-empty",
            other.name(),
            format!("{what} is given and {} is not", other.name()),
            "fill both, or neither",
        )
    };
    entry.outcome = match cells.text(C::Outcome).to_lowercase().as_str() {
        "" => None,
        "hit" | "made" | "scored" | "yes" => outcome_of("in"),
        word => Some(outcome_of(word).ok_or_else(|| {
            Finding::new(
                "bad-outcome",
                C::Outcome.name(),
                format!("`{word}` does not say what became of it"),
                "write in, rim, short, long, left, right, under or none",
            )
        })?),
    };
    let half_piece_m = 0.5 * project.piece.diameter_m;
    entry.landing_m = match (n(C::LandingAlong), n(C::LandingAcross), n(C::LandingHeight)) {
        (Some(x), y, z) => Some([x, y.unwrap_or(0.0), z.unwrap_or(half_piece_m)]),
        (None, None, None) => None,
        _ => return Err(alone("a landing to the side or its height", C::LandingAlong)),
    };
    entry.wall_m = match (n(C::WallDistance), n(C::WallHeight)) {
        (Some(x), Some(z)) => Some([x, z]),
        (None, Some(_)) => return Err(alone("the height at a wall", C::WallDistance)),
        _ => None,
    };
    entry.miss_m = match (n(C::MissAlong), n(C::MissAcross)) {
        (None, None) => None,
        (x, y) => Some([x.unwrap_or(0.0), y.unwrap_or(0.0)]),
    };
    if let (Some(miss), None) = (entry.miss_m, entry.outcome) {
        entry.outcome = log::outcome_of_miss(project, miss);
    }
    entry.fall = match (n(C::Fall), n(C::FallHeight)) {
        (Some(t), Some(h)) => Some((t, h)),
        (Some(t), None) => Some((t, log::fall_height(project, entry, None)?)),
        _ => None,
    };
    Ok(())
}

#[cfg(test)]
#[path = "import_tests.rs"]
mod tests;
