//! What the log says beside what the parts list says, in sentences.

use super::{Estimate, TrainLearned};
use crate::launcher::Battery;
use crate::launcher::motor::motor_constants;
use crate::launcher::train::WheelTrain;
use crate::units::Dimension;

/// One quantity, found and listed.
#[derive(Clone, Debug, PartialEq)]
pub struct Likeness {
    /// Short stable name, such as `inertia`.
    pub name: &'static str,
    /// Kind of quantity; [`Dimension::Number`] where no unit of the table fits.
    pub dimension: Dimension,
    /// Found over listed.
    pub ratio: Estimate,
    /// Found.
    pub found: Estimate,
    /// Value of the parts list.
    pub value: f64,
    /// The whole interval lies on one side of the listed value.
    pub established: bool,
    /// A sentence for people.
    pub words: String,
}

/// Method: beyond its interval nothing was off by more in 192 logs simulated with the listed values, at 5 to 50 ms a row,
/// three controllers and two delays (the test holds a part of them).
const METHOD_FRAC: f64 = 0.02;
/// Method: the same of friction, which is a small part of the current.
const FRICTION_FRAC: f64 = 0.05;
/// Method: where a current limit held some rows, inertia and friction were off by up to 9 % at 5 ms a row, 14 % at 10,
/// 19 % at 20 and 57 % at 50: a tenth, and a tenth more for each 10 ms.
const HELD_FRAC: f64 = 0.1;
/// Method: see [`HELD_FRAC`].
const HELD_STEP_S: f64 = 0.01;

/// What the method itself may err by, as a share, beyond its interval.
pub(super) fn method_frac(name: &str, learned: &TrainLearned) -> f64 {
    let rest = if name == "friction" {
        FRICTION_FRAC
    } else {
        METHOD_FRAC
    };
    let bent = matches!(name, "friction" | "inertia") && learned.held_count > 0;
    if bent {
        rest.max(HELD_FRAC * (1.0 + learned.step_s / HELD_STEP_S))
    } else {
        rest
    }
}

/// Sets what was learned beside the parts list.
///
/// A difference is established when the 95 % interval of the ratio leaves out 1 and what the method itself errs by:
/// rows hold means over their time, and a current limit acts within a row.
pub fn likenesses(learned: &TrainLearned, parts: &WheelTrain, battery: &Battery) -> Vec<Likeness> {
    let m = motor_constants(&parts.drive.motor);
    let rows: [(&'static str, &'static str, Dimension, Option<Estimate>, f64); 6] = [
        (
            "inertia",
            "inertia",
            Dimension::Inertia,
            learned.inertia_kgm2,
            parts.inertia_kgm2,
        ),
        (
            "friction",
            "friction",
            Dimension::Current,
            learned.free_a,
            m.free_a,
        ),
        (
            "speed-constant",
            "voltage per speed",
            Dimension::Number,
            Some(learned.speed_v_per_radps),
            m.ke_v_per_radps * parts.drive.gear_ratio,
        ),
        (
            "motor-resistance",
            "motor resistance",
            Dimension::Resistance,
            learned.resistance_ohm,
            m.resistance_ohm,
        ),
        (
            "battery-voltage",
            "battery voltage",
            Dimension::Voltage,
            learned.open_v,
            battery.open_v,
        ),
        (
            "battery-resistance",
            "battery resistance",
            Dimension::Resistance,
            learned.battery_ohm,
            battery.resistance_ohm,
        ),
    ];
    rows.into_iter()
        .filter_map(|(name, noun, dimension, found, value)| {
            let found = found?;
            if !(value.is_finite() && value > 0.0 && found.value.is_finite()) {
                return None;
            }
            let ratio = Estimate {
                value: found.value / value,
                low: found.low / value,
                high: found.high / value,
            };
            let own = method_frac(name, learned);
            let established = ratio.low > 1.0 + own || ratio.high < 1.0 - own;
            Some(Likeness {
                name,
                dimension,
                ratio,
                found,
                value,
                established,
                words: sentence(noun, &ratio, established),
            })
        })
        .collect()
}

/// "18 % more", "3 % less".
fn more(ratio: f64) -> String {
    let percent = 100.0 * (ratio - 1.0);
    format!(
        "{:.0} % {}",
        percent.abs(),
        if percent < 0.0 { "less" } else { "more" }
    )
}

fn sentence(noun: &str, ratio: &Estimate, established: bool) -> String {
    let span = format!("{} to {}", more(ratio.low), more(ratio.high));
    if established {
        format!(
            "behaves as if it had {} {noun} than the parts list ({span}); the difference is established",
            more(ratio.value)
        )
    } else {
        format!("{noun} agrees with the parts list as far as this log tells ({span})")
    }
}
