//! SI to text, in the units of the reader.
//!
//! The one place that decides units and digits. What it prints, [`super::parse`] reads.

use super::UnitSystem;
use super::dimension::Dimension;
use super::expression::work_out;

/// Which of two units a quantity is shown in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Scale {
    /// By size: mm below a metre, m above.
    #[default]
    Auto,
    /// Parts and gaps: mm, g, ms; in, oz.
    Small,
    /// Rooms and robots: m, kg, s; ft, lb.
    Large,
}

/// A unit to show a quantity in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShownUnit {
    /// Symbol, empty for a plain number.
    pub symbol: &'static str,
    /// SI value of one.
    pub si_ratio: f64,
    /// Added to the SI value divided by `si_ratio` (temperature scales); 0 otherwise.
    pub shift: f64,
    /// Decimals that make sense for it.
    pub decimals: usize,
}

/// Symbol and decimals: metric small, metric large, US small, US large; then the SI size at which
/// the large unit takes over.
type Row = [(&'static str, usize); 4];

fn row(dimension: Dimension) -> (Row, [f64; 2]) {
    use Dimension as D;
    const NEVER: [f64; 2] = [f64::INFINITY; 2];
    let one = |symbol, decimals| ([(symbol, decimals); 4], NEVER);
    let two = |metric, us| ([metric, metric, us, us], NEVER);
    match dimension {
        D::Number => one("", 3),
        D::Count => one("", 0),
        D::Ratio => one("%", 1),
        D::Length => ([("mm", 1), ("m", 2), ("in", 2), ("ft", 2)], [1.0, 0.9144]),
        D::Mass => ([("g", 1), ("kg", 2), ("oz", 2), ("lb", 2)], [1.0, 0.453_592_37]),
        D::Time => ([("ms", 1), ("s", 2), ("ms", 1), ("s", 2)], [0.1, 0.1]),
        D::Speed => two(("m/s", 2), ("ft/s", 2)),
        D::Angle => one("deg", 1),
        D::AngularSpeed => one("rpm", 0),
        D::TurnRate => one("deg/s", 1),
        D::Force => two(("N", 1), ("lbf", 2)),
        D::Torque => two(("N m", 3), ("lbf in", 2)),
        D::Inertia => two(("kg cm^2", 3), ("lb in^2", 3)),
        D::Stiffness => two(("N/mm", 2), ("lbf/in", 2)),
        D::Voltage => one("V", 2),
        D::Current => one("A", 1),
        D::Resistance => ([("mohm", 1), ("ohm", 2), ("mohm", 1), ("ohm", 2)], [1.0, 1.0]),
        D::Power => one("W", 1),
        D::Energy => two(("J", 2), ("ft lbf", 2)),
        D::Temperature => two(("degC", 1), ("degF", 1)),
        D::Pressure => two(("hPa", 1), ("inHg", 2)),
        D::Density => two(("kg/m^3", 3), ("lb/ft^3", 4)),
        D::ProportionalGain => one("V s/rad", 4),
        D::IntegralGain => one("V/rad", 4),
        D::Area => two(("mm^2", 2), ("in^2", 4)),
        D::Charge => one("A h", 2),
    }
}

/// The unit that a value is shown in. `value` decides only for [`Scale::Auto`].
pub fn unit(value: f64, dimension: Dimension, scale: Scale, system: UnitSystem) -> ShownUnit {
    let (row, large_from) = row(dimension);
    let us = usize::from(system == UnitSystem::Us);
    let [metric_from, us_from] = large_from;
    let from = if us == 1 { us_from } else { metric_from };
    let large = match scale {
        Scale::Small => false,
        Scale::Large => true,
        Scale::Auto => value.abs() >= from,
    };
    let [ms, ml, uss, ul] = row;
    let (symbol, decimals) = match (system, large) {
        (UnitSystem::Metric, false) => ms,
        (UnitSystem::Metric, true) => ml,
        (UnitSystem::Us, false) => uss,
        (UnitSystem::Us, true) => ul,
    };
    let (si_ratio, shift) = match work_out(symbol, 0) {
        Ok(worked) => (worked.si_ratio, -worked.offset),
        Err(_) => (1.0, 0.0), // the plain number, which has no symbol
    };
    ShownUnit {
        symbol,
        si_ratio,
        shift,
        decimals,
    }
}

/// The size (SI) from which [`Scale::Auto`] shows the large unit; infinite where there is one unit only.
pub fn large_from(dimension: Dimension, system: UnitSystem) -> f64 {
    let [metric, us] = row(dimension).1;
    if system == UnitSystem::Us { us } else { metric }
}

/// A value as a number of its shown unit.
pub fn in_unit(value: f64, unit: &ShownUnit) -> f64 {
    value / unit.si_ratio + unit.shift
}

/// Physical: a magnitude below this in the shown unit is nothing to a reader.
const NOTHING: f64 = 1e-9;
/// Physical: from here a number is written with a power of ten.
const LARGE: f64 = 1e7;
/// Rounding: an f64 carries no more than this many decimals worth telling apart.
const MOST_DECIMALS: usize = 12;

/// Decimals for a number: those of its unit, more when little of it would be left.
fn decimals_for(x: f64, usual: usize) -> usize {
    let size = x.abs();
    if !(NOTHING..1.0).contains(&size) {
        return usual;
    }
    // Two digits that count: 0.35, 0.035.
    let leading_zeros = (-size.log10()).floor().max(0.0) as usize;
    usual.max(leading_zeros + 2).min(MOST_DECIMALS)
}

/// A number with at most `decimals` decimals, without trailing zeros and without a negative zero.
fn plain(x: f64, decimals: usize) -> String {
    if x.is_nan() {
        return "unknown".to_string();
    }
    if x.is_infinite() {
        return if x > 0.0 { "unlimited" } else { "-unlimited" }.to_string();
    }
    if x.abs() >= LARGE {
        return format!("{x:.3e}");
    }
    let text = format!("{x:.decimals$}");
    let text = if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.')
    } else {
        &text
    };
    match text {
        "-0" | "" => "0".to_string(),
        other => other.to_string(),
    }
}

fn with_symbol(number: String, x: f64, symbol: &str) -> String {
    if symbol.is_empty() || !x.is_finite() {
        number
    } else {
        format!("{number} {symbol}")
    }
}

/// A value with its unit: `96 mm`, `3.78 in`, `12 %`.
pub fn text(value: f64, dimension: Dimension, scale: Scale, system: UnitSystem) -> String {
    let u = unit(value, dimension, scale, system);
    let x = in_unit(value, &u);
    with_symbol(plain(x, decimals_for(x, u.decimals)), x, u.symbol)
}

/// A number alone with exactly the decimals of its unit, for columns.
pub fn fixed(value: f64, unit: &ShownUnit) -> String {
    let x = in_unit(value, unit);
    if !x.is_finite() {
        return plain(x, 0);
    }
    let decimals = unit.decimals;
    let text = format!("{x:.decimals$}");
    if text
        .strip_prefix('-')
        .is_some_and(|t| t.chars().all(|c| matches!(c, '0' | '.')))
    {
        return text.get(1..).unwrap_or("0").to_string();
    }
    text
}

/// A difference (an error, a standard deviation) with its unit: 2 K is `2 degC`, not −271.15.
pub fn difference(value: f64, dimension: Dimension, scale: Scale, system: UnitSystem) -> String {
    let mut u = unit(value, dimension, scale, system);
    u.shift = 0.0;
    let x = in_unit(value, &u);
    with_symbol(plain(x, decimals_for(x, u.decimals)), x, u.symbol)
}

/// Two values in one unit, with as many decimals as it takes for their texts to differ.
///
/// For messages such as "12.04 mm is above the 12.03 mm allowed". Equal values give equal texts.
pub fn pair(a: f64, b: f64, dimension: Dimension, scale: Scale, system: UnitSystem) -> [String; 2] {
    let u = unit(if a.abs() > b.abs() { a } else { b }, dimension, scale, system);
    let (x, y) = (in_unit(a, &u), in_unit(b, &u));
    let mut decimals = decimals_for(x, u.decimals).max(decimals_for(y, u.decimals));
    while decimals < MOST_DECIMALS && x != y && plain(x, decimals) == plain(y, decimals) {
        decimals += 1;
    }
    [
        with_symbol(plain(x, decimals), x, u.symbol),
        with_symbol(plain(y, decimals), y, u.symbol),
    ]
}
