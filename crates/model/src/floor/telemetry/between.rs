//! Two logs of one machine beside each other: what has changed from one to the other.

use super::compare::method_frac;
use super::{Dips, Estimate, TrainLearned};
use crate::numerics::moments::moments;
use crate::numerics::student::two_sided;
use crate::units::Dimension;

/// One quantity in both logs.
#[derive(Clone, Debug, PartialEq)]
pub struct Shift {
    /// Short stable name, such as `inertia`.
    pub name: &'static str,
    /// In plain words.
    pub noun: &'static str,
    /// Kind of quantity; [`Dimension::Number`] where no unit of the table fits.
    pub dimension: Dimension,
    /// In the earlier log.
    pub earlier: Estimate,
    /// In the later one.
    pub later: Estimate,
    /// Later over earlier, with its 95 % interval.
    pub ratio: Estimate,
    /// The difference is larger than chance and the method make one of these quantities in twenty pairs of logs.
    pub changed: bool,
    /// What to look at when it changed.
    pub look_at: &'static str,
}

/// Method: two logs of one machine, read alike, come out as far apart as this for no reason (see the tests).
const SAME_MACHINE_FRAC: f64 = 0.05;
/// Method: for what is read off the throws themselves.
const SAME_READING_FRAC: f64 = 0.02;
/// Method: ten quantities are looked at at once; so much wider than 95 % their intervals are all right in 19 of 20 pairs.
const ALL_AT_ONCE_RATIO: f64 = 1.43;
/// Method: recovery depends on the speed; wheels farther apart than this are not compared.
const SAME_SPEED_FRAC: f64 = 0.05;
/// Method: throws below which a mean has no interval worth printing.
const LEAST_THROWS: usize = 3;
/// Method: share of the runs in which an interval is to hold the truth.
const CONFIDENCE: f64 = 0.95;

/// Sets two logs beside each other, those that changed first; only what is in both.
///
/// ```text
/// ln(later/earlier) ± √(r₁² + r₂²)          r the relative half of an interval; means of throws by Student's t
/// ```
///
/// A quantity changed when that interval, 1.43 times as wide for looking at ten at once, leaves out all ratios from
/// 1 − m to 1 + m, m being what two logs differ by for no reason.
pub fn between(earlier: (&Dips, Option<&TrainLearned>), later: (&Dips, Option<&TrainLearned>)) -> Vec<Shift> {
    let mut out = Vec::new();
    let mut add =
        |name, noun, dimension, pair: [Option<Estimate>; 2], same_frac: f64, look_at: [&'static str; 2]| {
            let [Some(a), Some(b)] = pair else { return };
            if !(a.low > 0.0 && b.low > 0.0 && a.high.is_finite() && b.high.is_finite()) {
                return;
            }
            let half = |e: &Estimate| 0.5 * (e.high - e.low) / e.value;
            let middle = libm::log(b.value / a.value);
            let wide = libm::hypot(half(&a), half(&b));
            let sure = ALL_AT_ONCE_RATIO * wide;
            out.push(Shift {
                name,
                noun,
                dimension,
                earlier: a,
                later: b,
                ratio: Estimate {
                    value: libm::exp(middle),
                    low: libm::exp(middle - wide),
                    high: libm::exp(middle + wide),
                },
                changed: middle - sure > same_frac || middle + sure < -same_frac,
                look_at: if middle > 0.0 { look_at[0] } else { look_at[1] },
            });
        };
    let both = |f: fn(&TrainLearned) -> Option<Estimate>| [earlier.1.and_then(f), later.1.and_then(f)];
    // Where a current limit bends the method, it need not bend both logs alike.
    let trains = || [earlier.1, later.1].into_iter().flatten();
    let of = |name: &str| {
        trains()
            .map(|t| method_frac(name, t))
            .fold(SAME_MACHINE_FRAC, f64::max)
    };
    let (m, inertia_m, friction_m) = (SAME_MACHINE_FRAC, of("inertia"), of("friction"));
    let free = both(|t| t.free_a);
    add(
        "friction",
        "friction of the wheel train",
        Dimension::Current,
        free,
        friction_m,
        RUBS,
    );
    if free.contains(&None) {
        let static_v = both(|t| Some(t.static_v));
        add(
            "friction",
            "voltage for friction",
            Dimension::Voltage,
            static_v,
            friction_m,
            RUBS,
        );
    }
    let inertia = both(|t| t.inertia_kgm2);
    add(
        "inertia",
        "inertia at the wheel",
        Dimension::Inertia,
        inertia,
        inertia_m,
        TURNS,
    );
    if inertia.contains(&None) {
        let tau = both(|t| Some(t.tau_s));
        add(
            "time-constant",
            "time constant of the wheel",
            Dimension::Time,
            tau,
            inertia_m,
            TURNS,
        );
    }
    let speed = both(|t| Some(t.speed_v_per_radps));
    add(
        "speed-constant",
        "voltage per wheel speed",
        Dimension::Number,
        speed,
        m,
        GEARS,
    );
    let motor = both(|t| t.resistance_ohm);
    add(
        "motor-resistance",
        "motor resistance",
        Dimension::Resistance,
        motor,
        m,
        MOTOR,
    );
    let open = both(|t| t.open_v);
    add(
        "battery-voltage",
        "battery without load",
        Dimension::Voltage,
        open,
        SAME_READING_FRAC,
        CHARGE,
    );
    let ohm = both(|t| t.battery_ohm);
    add(
        "battery-resistance",
        "resistance of battery and wiring",
        Dimension::Resistance,
        ohm,
        m,
        WIRING,
    );
    let throws = |of: &dyn Fn(&super::Dip) -> Option<f64>| [mean(earlier.0, of), mean(later.0, of)];
    let r = SAME_READING_FRAC;
    add(
        "dip",
        "dip of the wheel at a throw",
        Dimension::Ratio,
        throws(&|d| Some(d.dip_frac)),
        r,
        GRIP,
    );
    let before = throws(&|d| Some(d.before_radps));
    let alike = match before {
        [Some(a), Some(b)] => (b.value / a.value - 1.0).abs() < SAME_SPEED_FRAC,
        _ => false,
    };
    if alike {
        add(
            "recovery",
            "time to recover",
            Dimension::Time,
            throws(&|d| d.recovery_s),
            m,
            POWER,
        );
    }
    if open.contains(&None) {
        add(
            "battery-voltage",
            "battery before a throw",
            Dimension::Voltage,
            throws(&|d| d.battery_v),
            r,
            CHARGE,
        );
    }
    let sure = |s: &Shift| {
        let wide = 0.5 * libm::log(s.ratio.high / s.ratio.low);
        libm::log(s.ratio.value).abs() / wide.max(f64::MIN_POSITIVE)
    };
    out.sort_by(|a, b| b.changed.cmp(&a.changed).then(sure(b).total_cmp(&sure(a))));
    out
}

// What to look at when it grew, and when it fell.
const RUBS: [&str; 2] = [
    "a bearing, a guard or sheet that rubs, a belt or gear mesh that is too tight",
    "a belt or screw that came loose; a wheel that was run in turns easier, which is no fault",
];
const TURNS: [&str; 2] = [
    "whether a wheel or flywheel was changed or added",
    "whether a wheel or flywheel is loose on its shaft or was taken off",
];
const GEARS: [&str; 2] = [
    "gears or pulleys that were changed, and the speed sensor",
    "gears or pulleys that were changed, and the speed sensor",
];
const MOTOR: [&str; 2] = [
    "a motor that is hot or worn, its wires and connectors",
    "whether a motor was changed; a cold one also has less",
];
const CHARGE: [&str; 2] = [
    "nothing: the battery is fuller than it was",
    "the charge of the battery: load it, or take a fresh one",
];
const WIRING: [&str; 2] = [
    "the battery's age and temperature, its connector and the main wires",
    "nothing: battery and wires are better than they were",
];
const GRIP: [&str; 2] = [
    "more squeeze, heavier or stiffer pieces, a guide that moved inward",
    "slip: wipe the tread; then wear of the wheel, softer pieces, a guide that moved outward",
];
const POWER: [&str; 2] = [
    "battery, motor and controller, in this order",
    "nothing: it is faster than it was",
];

/// Mean over the throws with its interval; `None` for too few.
fn mean(dips: &Dips, of: &dyn Fn(&super::Dip) -> Option<f64>) -> Option<Estimate> {
    let all: Vec<f64> = dips
        .dips
        .iter()
        .filter_map(of)
        .filter(|x| x.is_finite())
        .collect();
    if all.len() < LEAST_THROWS {
        return None;
    }
    let m = moments(&all)?;
    let n = all.len() as f64;
    let half = two_sided(n - 1.0, CONFIDENCE) * m.sd / n.sqrt();
    Some(Estimate {
        value: m.mean,
        low: m.mean - half,
        high: m.mean + half,
    })
}
