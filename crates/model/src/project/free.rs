//! Quantities that a search may change, and the values they can really have.

use super::change::{admitted, quantity};
use super::schema::{Entry, Kind};
use super::{KnobTravel, Project, UnitSystem, check, get};
use crate::finding::Finding;
use crate::launcher::{Layout, PartShape};
use crate::units::Dimension;
use crate::units::show::{self, Scale};

/// One quantity that is free.
#[derive(Clone, Debug, PartialEq)]
pub struct Freed {
    /// Dotted key, such as `wheel.diameter` or `wheel.part[1].mass`.
    pub key: String,
    /// What it can be.
    pub choices: Choices,
}

/// Values that exist.
#[derive(Clone, Debug, PartialEq)]
pub enum Choices {
    /// From `low` in steps up to `high`, which belongs to it where a step falls on it.
    Steps {
        /// Lowest value, SI.
        low: f64,
        /// Highest value, SI.
        high: f64,
        /// Step, SI; above zero.
        step: f64,
    },
    /// One by one, SI.
    List(Vec<f64>),
}

/// Physical: a shelf with more sizes than this is a range with a slipped step.
pub const MOST_VALUES_COUNT: usize = 10_000;
/// Rounding: a step that ends this share of itself short of the highest value ends on it; a value
/// this share of a step away from zero is zero.
const ON_STEP_RATIO: f64 = 1e-9;

impl Choices {
    /// How many values a range in steps has; infinite or NaN where it makes no sense.
    fn steps_count(low: f64, high: f64, step: f64) -> f64 {
        ((high - low) / step + ON_STEP_RATIO).floor() + 1.0
    }
}

impl Freed {
    /// Every value, from the lowest of a range on, as written for a list; SI. At most
    /// [`MOST_VALUES_COUNT`]; none for steps that make no sense, which [`free`] refuses.
    pub fn values(&self) -> Vec<f64> {
        match &self.choices {
            Choices::List(values) => values.iter().copied().take(MOST_VALUES_COUNT).collect(),
            Choices::Steps { low, high, step } => {
                let count = Choices::steps_count(*low, *high, *step);
                if !count.is_finite() || !(*step > 0.0) || !(count >= 1.0) {
                    return Vec::new();
                }
                (0..count.min(MOST_VALUES_COUNT as f64) as usize)
                    .map(|i| low + i as f64 * step)
                    .map(|v| if v.abs() < ON_STEP_RATIO * step { 0.0 } else { v })
                    .collect()
            }
        }
    }
}

/// Tables of the brief: what is given, not designed.
const BRIEF: &[&str] = &["", "piece", "target", "spot[]", "limits", "air"];
/// Keys of the brief that teams bargain with all the same.
const BARGAIN: &[&str] = &["limits.throw_interval", "limits.volley"];

/// The entry of a quantity that may be free in this project.
///
/// # Errors
/// Those of [`quantity`], and `not-to-free` for what the brief gives.
pub fn may_free(project: &Project, key: &str) -> Result<&'static Entry, Finding> {
    let (entry, _) = quantity(project, key)?;
    if BRIEF.contains(&entry.table()) && !BARGAIN.contains(&entry.key) {
        return Err(Finding::new(
            "not-to-free",
            key,
            format!("`{key}` belongs to the brief: that is not yours to free"),
            "take it out; machine, setting, controller, `limits.throw_interval` and `limits.volley` can be free",
        ));
    }
    Ok(entry)
}

/// A finding, and which part of what was written it is about: `range`, `step`, `choices`, or empty
/// for the key.
pub type Placed = (&'static str, Finding);

/// A freed quantity, its values checked against the key and the machine.
///
/// # Errors
/// Everything wrong with it.
pub fn free(project: &Project, key: &str, choices: Choices) -> Result<Freed, Vec<Placed>> {
    let entry = may_free(project, key).map_err(|f| vec![("", f)])?;
    let (dimension, scale) = entry.measure().unwrap_or((Dimension::Number, Scale::Auto));
    let work = Work {
        project,
        entry,
        key,
        dimension,
        scale,
    };
    let mut found = match &choices {
        Choices::Steps { low, high, step } => work.steps(*low, *high, *step),
        Choices::List(values) => work.list(values),
    };
    let freed = Freed {
        key: key.to_string(),
        choices,
    };
    if found.is_empty() {
        found.extend(work.machine(&freed));
    }
    if found.is_empty() { Ok(freed) } else { Err(found) }
}

struct Work<'a> {
    project: &'a Project,
    entry: &'static Entry,
    key: &'a str,
    dimension: Dimension,
    scale: Scale,
}

impl Work<'_> {
    fn finding(&self, code: &'static str, what: String, fix: String) -> Finding {
        Finding::new(code, self.key, what, fix)
    }

    fn pair(&self, a: f64, b: f64) -> [String; 2] {
        show::pair(a, b, self.dimension, self.scale, self.project.units)
    }

    fn step_text(&self, step: f64) -> String {
        show::difference(step, self.dimension, self.scale, self.project.units)
    }

    fn steps(&self, low: f64, high: f64, step: f64) -> Vec<Placed> {
        let ends: Vec<Placed> = [low, high]
            .iter()
            .filter_map(|v| admitted(self.project, self.entry, self.key, *v).err())
            .map(|f| ("range", f))
            .collect();
        if !ends.is_empty() {
            return ends;
        }
        let key = self.key;
        if low >= high {
            let [h, l] = self.pair(low, high);
            let (what, fix) = if low > high {
                (
                    format!("the range of `{key}` runs backwards, from {h} to {l}"),
                    format!(
                        "write the lower value first: `range = {}`",
                        self.quoted(&[&l, &h])
                    ),
                )
            } else {
                (
                    format!("the range of `{key}` has no length: both ends are {l}"),
                    "write two different values, or take it out, and it keeps its value".to_string(),
                )
            };
            return vec![("range", self.finding("bad-range", what, fix))];
        }
        self.bad_step(low, high, step)
            .into_iter()
            .map(|f| ("step", f))
            .collect()
    }

    /// Texts as they stand in the file: plain numbers without quotation marks.
    fn quoted(&self, texts: &[&str]) -> String {
        let one = |t: &&str| {
            if self.dimension.is_plain() {
                (*t).to_string()
            } else {
                format!("\"{t}\"")
            }
        };
        format!("[{}]", texts.iter().map(one).collect::<Vec<_>>().join(", "))
    }

    fn bad_step(&self, low: f64, high: f64, step: f64) -> Option<Finding> {
        let key = self.key;
        let text = self.step_text(step);
        let says = |what: String, fix: String| Some(self.finding("bad-step", what, fix));
        if !(step > 0.0) {
            return says(
                format!("the step of `{key}` is {text}, and must be above zero"),
                "write how far apart two values are that you can buy or set".to_string(),
            );
        }
        if step > (high - low) * (1.0 + ON_STEP_RATIO) {
            let [found, most] = self.differences(step, high - low);
            return says(
                format!("the step of `{key}` is {found}, more than the {most} of its whole range"),
                format!("write a step of at most {most}, or a wider range"),
            );
        }
        if matches!(self.entry.kind, Kind::Count) && step.fract() != 0.0 {
            return says(
                format!("`{key}` is counted, and its step is {step}"),
                "write a whole number".to_string(),
            );
        }
        let count = Choices::steps_count(low, high, step);
        if count > MOST_VALUES_COUNT as f64 {
            let least = (high - low) / (MOST_VALUES_COUNT - 1) as f64;
            return says(
                format!(
                    "in steps of {text}, `{key}` has {count:.0} values; at most {MOST_VALUES_COUNT} are tried"
                ),
                format!(
                    "write a step of {} or more, as fine as it can really be set",
                    self.step_text(least)
                ),
            );
        }
        None
    }

    fn differences(&self, a: f64, b: f64) -> [String; 2] {
        self.pair(a, b)
    }

    fn list(&self, values: &[f64]) -> Vec<Placed> {
        let key = self.key;
        if values.is_empty() {
            let finding = self.finding(
                "no-choices",
                format!("`{key}` has nothing to choose from"),
                format!(
                    "write the values that exist, such as `choices = [{}]`",
                    self.entry.example
                ),
            );
            return vec![("choices", finding)];
        }
        if values.len() > MOST_VALUES_COUNT {
            let finding = self.finding(
                "too-many",
                format!(
                    "`{key}` has {} values; at most {MOST_VALUES_COUNT} are tried",
                    values.len()
                ),
                "keep those that you would really build".to_string(),
            );
            return vec![("choices", finding)];
        }
        values
            .iter()
            .filter_map(|v| admitted(self.project, self.entry, key, *v).err())
            .map(|f| ("choices", f))
            .take(1)
            .collect()
    }

    /// Values that this machine cannot take: outside a knob's travel, or no squeeze.
    fn machine(&self, freed: &Freed) -> Option<Placed> {
        let check: fn(&Project, &mut Vec<Finding>) = match self.entry.table() {
            "setting" => check::knobs,
            "launcher" if self.entry.key.ends_with("gap") || self.entry.key.ends_with("squeeze") => {
                check::squeeze
            }
            _ => return None,
        };
        let mut trial = self.project.clone();
        let mut found = Vec::new();
        for value in freed.values() {
            if !super::set(&mut trial, self.key, value) {
                continue;
            }
            check(&trial, &mut found);
            // One wrong value is one mistake of the range.
            let first = found
                .drain(..)
                .find(|f| self.entry.table() != "setting" || f.key == self.key);
            if let Some(first) = first {
                let part = match freed.choices {
                    Choices::List(_) => "choices",
                    Choices::Steps { .. } if first.code == "setting-off-step" => "step",
                    Choices::Steps { .. } => "range",
                };
                let text = show::text(value, self.dimension, self.scale, self.project.units);
                let what = format!("at {text}, a value that `{}` may take: {}", self.key, first.what);
                let fix = match first.code {
                    "setting-outside-travel" => {
                        format!("free it within its travel under [knobs.{}]", self.entry.name())
                    }
                    "setting-off-step" => format!(
                        "begin on a step of [knobs.{}], and write that step or a multiple of it",
                        self.entry.name()
                    ),
                    _ => "free less of it".to_string(),
                };
                return Some((part, self.finding(first.code, what, fix)));
            }
        }
        None
    }
}

const DEG: f64 = std::f64::consts::PI / 180.0;
const INCH_M: f64 = 0.0254;
/// Common practice, no source: sizes that shops sell and people build. Squeeze and width steps,
/// least and greatest width, step of a mass.
struct Shelf {
    squeeze_step_m: f64,
    width_step_m: f64,
    width_m: [f64; 2],
    mass_step_kg: f64,
}

const METRIC: Shelf = Shelf {
    squeeze_step_m: 0.001,
    width_step_m: 0.005,
    width_m: [0.01, 0.06],
    mass_step_kg: 0.01,
};
const US: Shelf = Shelf {
    squeeze_step_m: 0.05 * INCH_M,
    width_step_m: 0.25 * INCH_M,
    width_m: [0.5 * INCH_M, 2.5 * INCH_M],
    mass_step_kg: 0.5 * 0.028_349_523_125,
};
/// Judgement: gains are searched in octaves.
const GAIN_RATIOS: [f64; 5] = [0.25, 0.5, 1.0, 2.0, 4.0];
/// Judgement: steps into which the travel of a stepless knob is cut.
const STEPLESS_COUNT: f64 = 40.0;

/// A sensible set where the file frees nothing: what the layout has and a workshop can change.
///
/// The present value is among the values of every key but the wheel's width and the knobs, which
/// keep to sizes on the shelf and marks on the machine.
pub fn default_free(project: &Project) -> Vec<Freed> {
    let shelf = match project.units {
        UnitSystem::Metric => METRIC,
        UnitSystem::Us => US,
    };
    let mut wanted: Vec<(String, Option<Choices>)> = Vec::new();
    let mut add = |key: &str, choices: Option<Choices>| wanted.push((key.to_string(), choices));
    let here = |key: &str| get(project, key);
    let share = |key, [low, high]: [f64; 2], step| here(key).and_then(|v| about(v, low * v, high * v, step));
    let beside = |key, room: f64, step| here(key).and_then(|v| about(v, v - room, v + room, step));
    add(
        "launcher.squeeze",
        share("launcher.squeeze", [0.5, 1.5], shelf.squeeze_step_m),
    );
    match project.machine.layout {
        Layout::Guide(_) => {
            add("launcher.wrap", beside("launcher.wrap", 30.0 * DEG, 5.0 * DEG));
            add(
                "launcher.end_angle",
                beside("launcher.end_angle", 15.0 * DEG, DEG),
            );
        }
        Layout::Pair(_) => {
            add(
                "launcher.direction",
                beside("launcher.direction", 15.0 * DEG, DEG),
            );
            add("launcher.upper_speed", beside("launcher.upper_speed", 0.3, 0.05));
        }
    }
    let [low, high] = shelf.width_m;
    add(
        "wheel.width",
        Some(Choices::Steps {
            low,
            high,
            step: shelf.width_step_m,
        }),
    );
    let rim = project.machine.parts.iter().rposition(|p| {
        matches!(p.shape, PartShape::Ring { .. })
            || matches!(p.shape, PartShape::Annulus { inner_m, .. } if inner_m == 0.0)
    });
    if let Some(index) = rim {
        let key = format!("wheel.part[{index}].mass");
        let choices = share(&key, [0.5, 3.0], shelf.mass_step_kg);
        add(&key, choices);
    }
    let knobs = &project.machine.knobs;
    for (key, travel) in [
        ("setting.slide", knobs.slide),
        ("setting.tilt", knobs.tilt),
        ("setting.reach", knobs.reach),
    ] {
        add(key, travel.map(travel_of));
    }
    add(
        "motor.ratio",
        here("motor.ratio").and_then(|v| about(v, 0.5 * v, 2.0 * v, 0.05 * v)),
    );
    for key in ["controller.kp", "controller.ki"] {
        let factors = |v: f64| Choices::List(GAIN_RATIOS.map(|f| f * v).to_vec());
        add(key, here(key).filter(|v| *v > 0.0).map(factors));
    }
    wanted
        .into_iter()
        .filter_map(|(key, choices)| narrowed(project, &key, choices?))
        .collect()
}

/// A range in steps that holds the present value; `None` where no step fits.
fn about(present: f64, low: f64, high: f64, step: f64) -> Option<Choices> {
    let down = ((present - low) / step + ON_STEP_RATIO).floor();
    let up = ((high - present) / step + ON_STEP_RATIO).floor();
    (down + up >= 1.0).then_some(Choices::Steps {
        low: present - down * step,
        high: present + up * step,
        step,
    })
}

fn travel_of(travel: KnobTravel) -> Choices {
    let KnobTravel { low, high, step, .. } = travel;
    Choices::Steps {
        low,
        high,
        step: if step > 0.0 {
            step
        } else {
            (high - low) / STEPLESS_COUNT
        },
    }
}

/// Without the values that the key or the machine does not take.
fn narrowed(project: &Project, key: &str, choices: Choices) -> Option<Freed> {
    if let Ok(whole) = free(project, key, choices.clone()) {
        return Some(whole);
    }
    let whole = Freed {
        key: key.to_string(),
        choices,
    };
    let fitting: Vec<f64> = whole
        .values()
        .into_iter()
        .filter(|v| free(project, key, Choices::List(vec![*v])).is_ok())
        .collect();
    let choices = match (whole.choices, fitting.as_slice()) {
        (_, []) => return None,
        (Choices::Steps { step, .. }, [low, .., high]) => Choices::Steps {
            low: *low,
            high: *high,
            step,
        },
        (_, values) => Choices::List(values.to_vec()),
    };
    free(project, key, choices).ok()
}
