//! A freed quantity as an argument: `wheel.diameter=80mm..120mm/4mm`, `motor.ratio=0.75,1,1.25`.

use arcwright_model::finding::Finding;
use arcwright_model::project::free::{free, may_free};
use arcwright_model::project::lower::clip;
use arcwright_model::project::schema::Entry;
use arcwright_model::project::{Choices, Freed, Project};
use arcwright_model::units::{self, Dimension, UnitError, as_written};

/// Reads `KEY=LOW..HIGH/STEP`, `KEY=VALUE,VALUE,...` or, for the gearing, `motor.ratio=16:40,18:36`.
///
/// # Errors
/// What is wrong with it and how to write it; the codes are those of the table `[free]`.
pub fn parse_free(project: &Project, text: &str) -> Result<Freed, Finding> {
    let Some((key, values)) = text.split_once('=') else {
        return Err(Finding::new(
            "missing-key",
            clip(text),
            format!("`{}` says nothing about the values", clip(text)),
            "write it like this: `wheel.diameter=80mm..120mm/4mm` or `motor.ratio=0.75,1,1.25`",
        ));
    };
    let (key, values) = (key.trim().trim_matches('"'), values.trim());
    let entry = may_free(project, key)?;
    let argument = Argument { entry, key };
    let choices = match values.split_once("..") {
        Some((low, rest)) => argument.steps(low, rest)?,
        None => Choices::List(argument.list(values)?),
    };
    // The first is enough: it is one argument, in sight as a whole.
    free(project, key, choices).map_err(|found| match found.into_iter().next() {
        Some((_, finding)) => argument.about(finding),
        None => argument.finding("bad-range", "it makes no sense", argument.like()),
    })
}

struct Argument<'a> {
    entry: &'static Entry,
    key: &'a str,
}

impl Argument<'_> {
    fn finding(&self, code: &'static str, what: impl Into<String>, fix: impl Into<String>) -> Finding {
        Finding::new(code, self.key, what, fix)
    }

    /// A finding that tells how a file would say it, told for an argument.
    fn about(&self, finding: Finding) -> Finding {
        let fix = match finding.code {
            "bad-range" => format!(
                "write the lower value before the two points and a higher one behind them; {}",
                self.like()
            ),
            "no-choices" => self.like(),
            _ => return finding,
        };
        Finding { fix, ..finding }
    }

    fn dimension(&self) -> Dimension {
        self.entry.measure().map_or(Dimension::Number, |(d, _)| d)
    }

    /// An example for this key.
    fn like(&self) -> String {
        let e = self.entry.example.trim_matches('"');
        format!(
            "write it like this, with your own values: `{}={e}..{e}/{e}`, the step behind the slash, or `{}={e},{e}`",
            self.key, self.key
        )
    }

    fn read(&self, text: &str, is_difference: bool) -> Result<f64, UnitError> {
        let text = text.trim().trim_matches('"');
        let dimension = as_written(text, self.dimension());
        if is_difference {
            units::parse_difference(text, dimension)
        } else {
            units::parse(text, dimension)
        }
    }

    fn value(&self, text: &str) -> Result<f64, Finding> {
        self.read(text, false).map_err(|e| {
            let what = format!("`{}` of `{}`: {}", clip(text.trim()), self.key, e.what);
            self.finding(e.code, what, e.fix)
        })
    }

    fn steps(&self, low: &str, rest: &str) -> Result<Choices, Finding> {
        let low = self.value(low)?;
        // A slash may belong to a unit (m/s) or a fraction (1/2): the right one has a value on both sides.
        let splits: Vec<(f64, f64)> = rest
            .match_indices('/')
            .filter_map(|(at, _)| Some((rest.get(..at)?, rest.get(at + 1..)?)))
            .filter_map(|(high, step)| Some((self.read(high, false).ok()?, self.read(step, true).ok()?)))
            .collect();
        match splits.as_slice() {
            [(high, step)] => Ok(Choices::Steps {
                low,
                high: *high,
                step: *step,
            }),
            [] if self.read(rest, false).is_ok() => Err(self.finding(
                "missing-key",
                format!("`{}` is freed without a step", self.key),
                format!(
                    "add the step in which it exists behind a slash: `{}/{}`",
                    rest.trim(),
                    self.entry.example.trim_matches('"')
                ),
            )),
            [] => Err(self.unread(rest)),
            _ => Err(self.finding(
                "bad-number",
                format!("`{}` can be read in more than one way", clip(rest.trim())),
                "write decimals in place of fractions, such as 0.75 for 3/4",
            )),
        }
    }

    /// Why highest value and step could not be read.
    fn unread(&self, rest: &str) -> Finding {
        let Some((high, step)) = rest.rsplit_once('/') else {
            return match self.value(rest) {
                Err(finding) => finding,
                Ok(_) => self.finding("missing-key", "the step is missing", self.like()),
            };
        };
        match (self.value(high), self.value(step)) {
            (Ok(_), Err(finding)) | (Err(finding), _) => finding,
            (Ok(_), Ok(_)) => self.finding(
                "bad-number",
                format!("`{}` cannot be read", clip(rest)),
                self.like(),
            ),
        }
    }

    fn list(&self, values: &str) -> Result<Vec<f64>, Finding> {
        if values.is_empty() {
            return Ok(Vec::new());
        }
        values
            .split(',')
            .map(|v| self.gears(v).unwrap_or_else(|| self.value(v)))
            .collect()
    }

    /// `16:40`: teeth on the motor's shaft, teeth on the wheel's.
    fn gears(&self, text: &str) -> Option<Result<f64, Finding>> {
        let (motor, wheel) = text.split_once(':').filter(|_| self.entry.key == "motor.ratio")?;
        let teeth = |t: &str| t.trim().parse::<u32>().ok().filter(|n| *n > 0).map(f64::from);
        Some(match (teeth(motor), teeth(wheel)) {
            (Some(motor), Some(wheel)) => Ok(wheel / motor),
            _ => Err(self.finding(
                "wrong-type",
                format!("`{}` is no pair of gears", clip(text.trim())),
                "write whole numbers of teeth, the motor's gear first: `motor.ratio=16:40,18:36`",
            )),
        })
    }
}

#[cfg(test)]
#[path = "free_tests.rs"]
mod tests;
