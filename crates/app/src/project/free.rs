//! The table `[free]`: which quantities a search may change, and the values that exist.

use std::ops::Range;

use arcwright_model::finding::nearest;
use arcwright_model::project::Choices;
use arcwright_model::project::lower::{WrittenFree, clip};
use arcwright_model::project::schema::{self, Entry, Key, Kind};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::value::{literal, number, type_name};
use super::walk::{Walk, join, names_in};

/// Name of the table.
pub(super) const TABLE: &str = "free";
/// What stands for one quantity.
const PARTS: [&str; 4] = ["range", "step", "choices", "teeth"];

/// Reads the table, or one below it: `[free.wheel]` frees `wheel.diameter` by `diameter = ...`.
pub(super) fn read(walk: &mut Walk, above: &str, table: &DeTable) {
    for (name, value) in table.iter() {
        let word: &str = name.get_ref();
        let key = join(above, word);
        let path = format!("{TABLE}.{key}");
        let entry = Key::parse(&key).and_then(|k| schema::entry(&k.pattern));
        match (value.get_ref(), entry) {
            (DeValue::Table(inner), None) if !names_in(&key).is_empty() => read(walk, &key, inner),
            (DeValue::Table(inner), Some(entry))
                if matches!(entry.kind, Kind::Quantity(..) | Kind::Count | Kind::Drag) =>
            {
                let is_taken = walk.written.free.iter().any(|f| f.key == key);
                if is_taken {
                    walk.report(
                        "written-twice",
                        &path,
                        format!("`{key}` is freed twice"),
                        "keep the line that is right and take the other out".to_string(),
                        name.span(),
                    );
                    continue;
                }
                walk.places.put_value(&path, name.span());
                let choices = Leaf {
                    entry,
                    key: &key,
                    path: &path,
                }
                .read(walk, inner, name.span());
                walk.written.free.push(WrittenFree { key, choices });
            }
            (other, Some(entry)) if !matches!(other, DeValue::Table(_)) => {
                let what = format!("`{path}` is {}, and must be a table in braces", type_name(other));
                walk.report("wrong-type", &path, what, shape(entry, &key), value.span());
            }
            // What it is called or what it holds is wrong; the project knows better what is near.
            _ => {
                walk.places.put_value(&path, name.span());
                walk.written.free.push(WrittenFree { key, choices: None });
            }
        }
    }
}

/// How to write it.
fn shape(entry: &Entry, key: &str) -> String {
    match entry.kind {
        Kind::Count => format!("write it like this: `\"{key}\" = {{ choices = [1, 2] }}`"),
        _ => {
            let e = entry.example;
            format!(
                "write it like this, with your own values: `\"{key}\" = {{ range = [{e}, {e}], step = {e} }}`"
            )
        }
    }
}

struct Leaf<'a> {
    entry: &'static Entry,
    key: &'a str,
    path: &'a str,
}

impl Leaf<'_> {
    fn read(&self, walk: &mut Walk, table: &DeTable, name: Range<usize>) -> Option<Choices> {
        let mut sound = true;
        for (part, item) in table.iter() {
            let word: &str = part.get_ref();
            walk.places
                .put_value(&format!("{}.{word}", self.path), item.span());
            if PARTS.contains(&word) {
                continue;
            }
            sound = false;
            let fix = match nearest(word, PARTS) {
                Some(near) => format!("did you mean `{near}`?"),
                None => "a freed quantity has `range` and `step`, or `choices`".to_string(),
            };
            let what = format!("`{}` says nothing about what `{}` may be", clip(word), self.key);
            walk.report(
                "unknown-key",
                &format!("{}.{word}", self.path),
                what,
                fix,
                part.span(),
            );
        }
        if !sound {
            return None;
        }
        let [range, step, choices, teeth] = PARTS.map(|part| table.get(part));
        match (range, step, choices, teeth) {
            (Some(range), Some(step), None, None) => self.steps(walk, range, step),
            (None, None, Some(list), None) => self.list(walk, list).map(Choices::List),
            (None, None, None, Some(teeth)) => self.teeth(walk, teeth).map(Choices::List),
            (Some(_), None, None, None) => {
                let fix = format!(
                    "add the step in which it exists, such as `step = {}`",
                    self.entry.example
                );
                self.missing(walk, "step", fix, name)
            }
            (None, Some(_), None, None) => {
                let e = self.entry.example;
                let fix = format!("add the lowest and the highest value, such as `range = [{e}, {e}]`");
                self.missing(walk, "range", fix, name)
            }
            (None, None, None, None) => self.missing(walk, "range", shape(self.entry, self.key), name),
            _ => {
                walk.report(
                    "both-written",
                    self.path,
                    format!("`{}` has two kinds of values, and only one can count", self.key),
                    "keep `range` with `step`, or `choices`, or `teeth`".to_string(),
                    name,
                );
                None
            }
        }
    }

    fn missing(&self, walk: &mut Walk, part: &str, fix: String, name: Range<usize>) -> Option<Choices> {
        let what = format!("`{}` is freed without a `{part}`", self.key);
        walk.report("missing-key", self.path, what, fix, name);
        None
    }

    fn wrong(&self, walk: &mut Walk, part: &str, wanted: &str, fix: String, item: &Spanned<DeValue>) {
        let what = format!(
            "`{part}` of `{}` is {}, and must be {wanted}",
            self.key,
            type_name(item.get_ref())
        );
        walk.report(
            "wrong-type",
            &format!("{}.{part}", self.path),
            what,
            fix,
            item.span(),
        );
    }

    fn value(&self, walk: &mut Walk, part: &str, item: &Spanned<DeValue>) -> Option<f64> {
        match item.get_ref() {
            DeValue::String(_) | DeValue::Integer(_) | DeValue::Float(_) => {
                number(walk, self.entry, self.path, item, part == "step")
            }
            _ => {
                let fix = format!("write a value such as {}", self.entry.example);
                self.wrong(walk, part, "a single value", fix, item);
                None
            }
        }
    }

    fn values(&self, walk: &mut Walk, part: &str, item: &Spanned<DeValue>) -> Option<Vec<f64>> {
        let DeValue::Array(list) = item.get_ref() else {
            let e = self.entry.example;
            self.wrong(
                walk,
                part,
                "a list in brackets",
                format!("write it like this: `{part} = [{e}, {e}]`"),
                item,
            );
            return None;
        };
        // All are read, so that all are reported.
        let read: Vec<Option<f64>> = list.iter().map(|v| self.value(walk, part, v)).collect();
        read.into_iter().collect()
    }

    fn list(&self, walk: &mut Walk, item: &Spanned<DeValue>) -> Option<Vec<f64>> {
        self.values(walk, "choices", item)
    }

    fn steps(&self, walk: &mut Walk, range: &Spanned<DeValue>, step: &Spanned<DeValue>) -> Option<Choices> {
        let (ends, step) = (self.values(walk, "range", range), self.value(walk, "step", step));
        match ends?.as_slice() {
            [low, high] => Some(Choices::Steps {
                low: *low,
                high: *high,
                step: step?,
            }),
            other => {
                let what = format!(
                    "`range` of `{}` has {} values, and must have two: the lowest and the highest",
                    self.key,
                    other.len()
                );
                let fix =
                    "write `range = [lowest, highest]`, or `choices` in place of range and step".to_string();
                walk.report(
                    "wrong-type",
                    &format!("{}.range", self.path),
                    what,
                    fix,
                    range.span(),
                );
                None
            }
        }
    }

    /// Pairs of gears: teeth on the motor's shaft, teeth on the wheel's.
    fn teeth(&self, walk: &mut Walk, item: &Spanned<DeValue>) -> Option<Vec<f64>> {
        const LIKE: &str = "write it like this: `\"motor.ratio\" = { teeth = [[16, 40], [18, 36]] }`, the motor's gear first";
        if self.entry.key != "motor.ratio" {
            let what = format!("`{}` is not made by teeth", self.key);
            walk.report(
                "not-here",
                &format!("{}.teeth", self.path),
                what,
                "write `range` and `step`, or `choices`; `teeth` belongs to `motor.ratio`".to_string(),
                item.span(),
            );
            return None;
        }
        let pair = |v: &Spanned<DeValue>| -> Option<f64> {
            let DeValue::Array(gears) = v.get_ref() else {
                return None;
            };
            let gears: Vec<f64> = gears
                .iter()
                .filter(|g| matches!(g.get_ref(), DeValue::Integer(_)))
                .filter_map(|g| literal(g.get_ref()))
                .filter(|g| *g >= 1.0)
                .collect();
            match (gears.as_slice(), v.get_ref()) {
                ([motor, wheel], DeValue::Array(all)) if all.iter().count() == 2 => Some(wheel / motor),
                _ => None,
            }
        };
        let DeValue::Array(pairs) = item.get_ref() else {
            self.wrong(walk, "teeth", "a list of pairs of gears", LIKE.to_string(), item);
            return None;
        };
        let mut ratios = Vec::new();
        for v in pairs.iter() {
            match pair(v) {
                Some(ratio) => ratios.push(ratio),
                None => {
                    let what = format!("`{}` is no pair of gears", clip(walk.raw(&v.span())));
                    walk.report(
                        "wrong-type",
                        &format!("{}.teeth", self.path),
                        what,
                        LIKE.to_string(),
                        v.span(),
                    );
                    return None;
                }
            }
        }
        // From here on they are values like others.
        walk.places
            .put_value(&format!("{}.choices", self.path), item.span());
        Some(ratios)
    }
}
