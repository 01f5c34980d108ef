//! Spreads as written: checked, and moved to the quantity they were turned into.

use super::Spread;
use super::lower::{Value, Work, WrittenSpread};
use super::schema::{self, Entry};
use crate::units::Dimension;
use crate::units::show::{self, Scale};

impl Work<'_> {
    /// Checks a spread; reports it and gives `None` if it makes no sense.
    pub(super) fn spread(
        &mut self,
        entry: &Entry,
        key: &str,
        value: f64,
        spread: WrittenSpread,
        measure: (Dimension, Scale),
    ) -> Option<Spread> {
        let (dimension, scale) = measure;
        let system = self.project.units;
        if !entry.spread {
            self.report(
                "no-spread",
                key,
                format!("`{key}` is taken as exact and cannot carry a spread"),
                "write the value alone".to_string(),
            );
            return None;
        }
        let sd = match spread {
            WrittenSpread::Range([low, high]) => return self.range(entry, key, value, [low, high], measure),
            WrittenSpread::Sd(sd) => sd,
            WrittenSpread::Share(share) => share * value.abs(),
        };
        let sd_text = show::difference(sd, dimension, scale, system);
        if sd < 0.0 {
            self.report(
                "bad-spread",
                key,
                format!("the standard deviation of `{key}` is {sd_text}, below 0"),
                format!(
                    "write {} without the minus sign",
                    show::difference(-sd, dimension, scale, system)
                ),
            );
            return None;
        }
        // A quantity that cannot be negative is not known at all when its deviation is as large as itself.
        if entry.low >= 0.0 && value > 0.0 && sd >= value {
            let [found, least] = show::pair(sd, value, dimension, scale, system);
            self.report(
                "bad-spread",
                key,
                format!("the standard deviation of `{key}` is {found}, not below its value of {least}"),
                format!(
                    "write how far single measurements lie from the mean: less than {least}, usually a few per cent of it"
                ),
            );
            return None;
        }
        Some(Spread::Normal { sd })
    }

    fn range(
        &mut self,
        entry: &Entry,
        key: &str,
        value: f64,
        [low, high]: [f64; 2],
        measure: (Dimension, Scale),
    ) -> Option<Spread> {
        let (dimension, scale) = measure;
        if ![low, high].iter().all(|v| self.admitted(entry, key, *v, measure)) {
            return None;
        }
        let system = self.project.units;
        if low > high {
            let [a, b] = show::pair(high, low, dimension, scale, system);
            self.report(
                "bad-spread",
                key,
                format!("the range of `{key}` runs backwards, from {b} to {a}"),
                format!("write the lower value first: range = [\"{a}\", \"{b}\"]"),
            );
            return None;
        }
        if value < low || value > high {
            let end = if value < low { low } else { high };
            let [found, edge] = show::pair(value, end, dimension, scale, system);
            let side = if value < low { "below" } else { "above" };
            let [l, h] = show::pair(low.min(value), high.max(value), dimension, scale, system);
            self.report(
                "bad-spread",
                key,
                format!("the value of `{key}` is {found}, {side} the {edge} where its range ends"),
                format!("write a range that holds the value, such as [\"{l}\", \"{h}\"]"),
            );
            return None;
        }
        Some(Spread::Range { low, high })
    }

    /// Spreads of squeeze, centre height and altitude go to what they were turned into.
    pub(super) fn move_derived_spreads(&mut self) {
        let pairs = [
            ("launcher.squeeze", "launcher.gap"),
            ("target.centre_height", "target.rim_height"),
            ("air.altitude", "air.pressure"),
        ];
        for (from, to) in pairs {
            let Some(spread) = self.project.spreads.remove(from) else {
                continue;
            };
            let moved = match spread {
                Spread::Normal { sd } => self.image(from, to, sd),
                Spread::Range { low, high } => self.range_image(from, to, low, high),
            };
            if let Some(moved) = moved {
                self.project.spreads.insert(to.to_string(), moved);
            }
        }
    }

    /// Value of `to` once `from` is set.
    fn through(&self, from: &str, to: &str, value: f64) -> Option<f64> {
        let mut moved = self.project.clone();
        (schema::entry(from)?.access.set)(&mut moved, 0, value);
        (schema::entry(to)?.access.get)(&moved, 0)
    }

    fn image(&self, from: &str, to: &str, sd: f64) -> Option<Spread> {
        let Some(Value::Number(value, _)) = self.written.values.get(from) else {
            return None;
        };
        let (up, down) = (
            self.through(from, to, value + sd)?,
            self.through(from, to, value - sd)?,
        );
        Some(Spread::Normal {
            sd: 0.5 * (up - down).abs(),
        })
    }

    fn range_image(&self, from: &str, to: &str, low: f64, high: f64) -> Option<Spread> {
        let (a, b) = (self.through(from, to, low)?, self.through(from, to, high)?);
        Some(Spread::Range {
            low: a.min(b),
            high: a.max(b),
        })
    }
}
