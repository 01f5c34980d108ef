//! Every quantity of a project as a page shows it: value, words, range, and in which steps it is moved.

use arcwright_model::project::lower::Value as Written;
use arcwright_model::project::schema::{self, Entry, Kind, Need, with_index};
use arcwright_model::project::{Choices, KnobTravel, PieceKind, Project, UnitSystem, get, usual};
use arcwright_model::target::Outline;
use arcwright_model::units::{self, Dimension, show};
use serde_json::{Value, json};

use crate::project::written;

/// Physical: a value is moved by hand within this share of itself where nothing else limits it.
const USUAL_SHARE: f64 = 0.4;
/// Method: steps from one end of a range to the other where no step exists.
const STEPS: f64 = 100.0;

/// The range in which a quantity is moved by hand.
#[derive(Clone, Debug, PartialEq)]
pub struct Travel {
    /// Lowest value, SI.
    pub low: f64,
    /// Highest value, SI.
    pub high: f64,
    /// Step, SI; 0 for stepless.
    pub step: f64,
    /// The only values that exist, SI; empty where any in the range does.
    pub choices: Vec<f64>,
}

/// All quantities in the order of the file, as JSON: `key`, `table`, `index`, `name`, `about`, `value`, `text`,
/// `unit`, `dimension`, `low`, `high`, `step`, `choices`, `sd_text`, `knob`.
pub fn quantities(project: &Project) -> Value {
    let mut out = Vec::new();
    for entry in schema::entries() {
        if entry.key == "format" || !matches!(entry.kind, Kind::Quantity(..) | Kind::Count | Kind::Drag) {
            continue;
        }
        let lists = entry.key.contains("[]");
        for index in 0..if lists { schema::LONGEST_LIST_COUNT } else { 1 } {
            if lists && !within(project, entry, index) {
                break;
            }
            let key = with_index(entry.key, index);
            if let Some(value) = get(project, &key).filter(|_| entry.when.holds(project, index)) {
                out.push(one(project, entry, &key, index, value));
            }
        }
    }
    Value::Array(out)
}

/// Quantities that a file may do without and that have a meaning in this project: `key`, `table`, `name`, `about`, `is_set`,
/// and `usual`, a value to begin with (SI).
pub fn optional(project: &Project, text: &str) -> Value {
    let there = written(text).unwrap_or_default();
    let one = |entry: &'static Entry| {
        let (dimension, _) = entry.measure()?;
        let may_go = matches!(entry.need, Need::Optional | Need::Default(..));
        if !may_go
            || !may_be_added(entry.table())
            || !schema_has(project, entry.table())
            || !entry.when.holds(project, 0)
        {
            return None;
        }
        let usual = units::parse(entry.example.trim_matches('"'), dimension).ok()?;
        Some(json!({
            "key": entry.key,
            "table": entry.table(),
            "name": entry.name(),
            "about": entry.doc,
            "is_set": there.contains_key(entry.key),
            "usual": usual,
        }))
    };
    Value::Array(schema::entries().filter_map(one).collect())
}

/// Tables whose lines a page adds and takes out.
fn may_be_added(table: &str) -> bool {
    const TABLES: [&str; 7] = [
        "target",
        "limits",
        "frame",
        "frame.motor",
        "frame.shaft",
        "frame.power",
        "season",
    ];
    TABLES.contains(&table)
}

/// Does the project have the table? What is asked of every project is there.
fn schema_has(project: &Project, table: &str) -> bool {
    let frame = project.frame.as_ref();
    match table {
        "frame" => frame.is_some(),
        "frame.motor" => frame.is_some_and(|f| f.motor.is_some()),
        "frame.shaft" => frame.is_some_and(|f| f.shaft.is_some()),
        "frame.power" => frame.is_some_and(|f| f.power.is_some()),
        "season" => project.season.is_some(),
        _ => true,
    }
}

/// Words of the frame and the season that are chosen or written: `key`, `table`, `index`, `name`, `about`, `word` (null where it
/// is not written), and `words`, those to choose from; none where any text will do.
pub fn choices(project: &Project, text: &str) -> Value {
    let there = written(text).unwrap_or_default();
    let mut out = Vec::new();
    for entry in schema::entries() {
        let words: &[&str] = match entry.kind {
            Kind::Choice(words, _) => words,
            Kind::Text(_) => &[],
            _ => continue,
        };
        let table = entry.table();
        if !table.starts_with("frame") && !table.starts_with("season") {
            continue;
        }
        let lists = entry.key.contains("[]");
        let count = match (lists, schema_has(project, table)) {
            (true, _) => schema::places(project, table),
            (false, has) => usize::from(has),
        };
        for index in (0..count).filter(|i| entry.when.holds(project, *i)) {
            let key = with_index(entry.key, index);
            let word = match there.get(&key) {
                Some(Written::Word(word)) => Some(word.clone()),
                _ => None,
            };
            out.push(json!({
                "key": key,
                "table": table,
                "index": lists.then_some(index),
                "name": entry.name(),
                "about": entry.doc,
                "word": word,
                "words": words,
            }));
        }
    }
    Value::Array(out)
}

/// The kinds of piece, each with its usual ranges and where they come from, and the kinds of target.
pub fn kinds(project: &Project) -> Value {
    let system = project.units;
    let row = |r: &usual::UsualValue| {
        let (dimension, scale) = r.entry().and_then(Entry::measure)?;
        let say = |v| show::text(v, dimension, scale, system);
        Some(json!({
            "key": r.key,
            "name": r.entry()?.name(),
            "text": say(r.value),
            "sd_text": (r.sd > 0.0).then(|| say(r.sd)),
            "low": r.low,
            "high": r.high,
            "low_text": say(r.low),
            "high_text": say(r.high),
            "source": r.source,
        }))
    };
    let pieces = usual::PIECES.iter().map(|p| {
        json!({ "kind": p.kind, "about": p.about, "rows": p.rows.iter().filter_map(row).collect::<Vec<_>>() })
    });
    let targets = usual::TARGETS.iter().map(|t| {
        json!({ "kind": t.kind, "about": t.about, "is_round": t.shape == "round", "is_upright": t.is_upright })
    });
    let piece = match project.piece.kind {
        PieceKind::Foam => "foam",
        PieceKind::Hollow => "hollow",
        PieceKind::Perforated => "perforated",
        PieceKind::Solid => "solid",
    };
    let is_upright = project.target.tilt_rad > std::f64::consts::FRAC_PI_4;
    let target = match project.target.outline {
        Outline::Rectangle => "box",
        Outline::Round if is_upright => "hoop",
        Outline::Round => "well",
    };
    json!({
        "piece": piece,
        "target": target,
        "pieces": pieces.collect::<Vec<_>>(),
        "targets": targets.collect::<Vec<_>>(),
    })
}

/// How numbers are shown, by dimension: `small` and `large` unit, each `symbol`, `si_ratio`, `shift`, `decimals`, and
/// `large_from`, the size (SI) from which the large one is used (null: never).
pub fn units(system: UnitSystem) -> Value {
    let named = [
        ("number", Dimension::Number),
        ("ratio", Dimension::Ratio),
        ("length", Dimension::Length),
        ("mass", Dimension::Mass),
        ("time", Dimension::Time),
        ("speed", Dimension::Speed),
        ("angle", Dimension::Angle),
        ("angular_speed", Dimension::AngularSpeed),
        ("force", Dimension::Force),
        ("voltage", Dimension::Voltage),
        ("current", Dimension::Current),
    ];
    let mut out = serde_json::Map::new();
    for (name, dimension) in named {
        let unit = |scale| {
            let u = show::unit(0.0, dimension, scale, system);
            json!({ "symbol": u.symbol, "si_ratio": u.si_ratio, "shift": u.shift, "decimals": u.decimals })
        };
        let from = show::large_from(dimension, system);
        out.insert(
            name.into(),
            json!({
                "small": unit(show::Scale::Small),
                "large": unit(show::Scale::Large),
                "large_from": from.is_finite().then_some(from),
            }),
        );
    }
    Value::Object(out)
}

/// Is there such a place in the list?
fn within(project: &Project, entry: &Entry, index: usize) -> bool {
    index < schema::places(project, entry.table())
}

fn one(project: &Project, entry: &Entry, key: &str, index: usize, value: f64) -> Value {
    let (dimension, scale) = entry.measure().unwrap_or((Dimension::Number, show::Scale::Auto));
    let say = |v| show::text(v, dimension, scale, project.units);
    let unit = show::unit(value, dimension, scale, project.units);
    let travel = travel(project, entry, key, value, unit.si_ratio);
    let sd = project.spreads.get(key).map(|s| say(s.sd()));
    json!({
        "key": key,
        "table": entry.table(),
        "index": entry.key.contains("[]").then_some(index),
        "name": entry.name(),
        "about": entry.doc,
        "value": value,
        "text": say(value),
        "unit": unit.symbol,
        "si_ratio": unit.si_ratio,
        "shift": unit.shift,
        "decimals": unit.decimals,
        "low": travel.low,
        "high": travel.high,
        "step": travel.step,
        "choices": travel.choices,
        "low_text": say(travel.low),
        "high_text": say(travel.high),
        "sd_text": sd,
        "knob": knob(project, key).is_some(),
    })
}

fn knob<'a>(project: &'a Project, key: &str) -> Option<&'a KnobTravel> {
    let knobs = &project.machine.knobs;
    match key {
        "setting.slide" => knobs.slide.as_ref(),
        "setting.tilt" => knobs.tilt.as_ref(),
        "setting.reach" => knobs.reach.as_ref(),
        _ => None,
    }
}

/// Travel of a knob, what `[free]` says, or some way to both sides of the value, in steps that are round in the
/// unit that is shown (`si_ratio`: SI value of one).
pub fn travel(project: &Project, entry: &Entry, key: &str, value: f64, si_ratio: f64) -> Travel {
    if let Some(k) = knob(project, key) {
        return Travel {
            low: k.low.min(value),
            high: k.high.max(value),
            step: k.step,
            choices: Vec::new(),
        };
    }
    let freed = project.free.iter().find(|f| f.key == key);
    match freed.map(|f| &f.choices) {
        Some(Choices::Steps { low, high, step }) => {
            return Travel {
                low: low.min(value),
                high: high.max(value),
                step: *step,
                choices: Vec::new(),
            };
        }
        Some(Choices::List(list)) if !list.is_empty() => {
            let mut choices = list.clone();
            if !choices.iter().any(|c| (c - value).abs() <= 1e-9 * value.abs()) {
                choices.push(value);
            }
            choices.sort_by(f64::total_cmp);
            return Travel {
                low: choices.first().copied().unwrap_or(value),
                high: choices.last().copied().unwrap_or(value),
                step: 0.0,
                choices,
            };
        }
        _ => {}
    }
    let reach = if value == 0.0 {
        from_zero(entry)
    } else {
        USUAL_SHARE * value.abs()
    };
    let whole = matches!(entry.kind, Kind::Count);
    let reach = if whole { reach.max(2.0).ceil() } else { reach };
    let (low, high) = ((value - reach).max(entry.low), (value + reach).min(entry.high));
    Travel {
        low,
        high,
        step: if whole {
            1.0
        } else {
            si_ratio * round_step((high - low) / STEPS / si_ratio)
        },
        choices: Vec::new(),
    }
}

/// How far a value that is zero is moved. Judgement, by what it measures.
fn from_zero(entry: &Entry) -> f64 {
    let usual: f64 = match entry.measure().map(|(d, _)| d) {
        Some(Dimension::Angle | Dimension::TurnRate) => 0.35,
        Some(Dimension::Speed) => 2.0,
        Some(Dimension::Length) if entry.table() == "spot[]" => 1.0,
        Some(Dimension::Length) => 0.1,
        Some(Dimension::Count) => 2.0,
        _ => 0.2,
    };
    usual.min(entry.high - entry.low)
}

/// The next step below that is 1, 2 or 5 times a power of ten.
fn round_step(rough: f64) -> f64 {
    if !(rough > 0.0 && rough.is_finite()) {
        return 0.0;
    }
    let power = 10f64.powf(rough.log10().floor());
    let lead = rough / power;
    power
        * if lead >= 5.0 {
            5.0
        } else if lead >= 2.0 {
            2.0
        } else {
            1.0
        }
}
