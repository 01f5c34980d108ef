//! The units known, each with its size in SI.
//!
//! Factors: SI brochure for SI and accepted units [bipm-si]; inch, foot, yard, mile, pound and ounce
//! from the international yard and pound agreement of 1959, exact [yard-pound-1959]; the others from
//! NIST SP 811 Appendix B [nist-sp811] (values from memory).

use std::f64::consts::PI;

/// Exponents of m, kg, s, A, K and rad. The angle counts as a dimension of its own, so that a
/// frequency is not taken for a speed of rotation.
pub(super) type Exponents = [i8; 6];

/// No dimension.
pub(super) const NONE: Exponents = [0; 6];

/// One unit.
pub(super) struct Unit {
    /// Spellings; the first is the one we print.
    pub names: &'static [&'static str],
    /// SI value of one unit.
    pub si_ratio: f64,
    /// Dimension.
    pub exponents: Exponents,
    /// SI prefixes it takes; few, so that a slip such as `Mm` is noticed.
    pub prefixes: &'static str,
    /// Zero of a temperature scale, in its own degrees below its zero mark; 0 for all others.
    pub offset: f64,
}

/// Exact [yard-pound-1959].
const INCH_M: f64 = 0.0254;
/// Exact [yard-pound-1959].
const POUND_KG: f64 = 0.453_592_37;
/// Standard acceleration of gravity, 3rd CGPM 1901, exact by definition [bipm-si].
pub const STANDARD_GRAVITY_MPS2: f64 = 9.806_65;
/// Zero of the Celsius scale in kelvin, exact [bipm-si].
const CELSIUS_ZERO: f64 = 273.15;
/// Zero of the Fahrenheit scale in degrees above absolute zero, exact [nist-sp811].
const FAHRENHEIT_ZERO: f64 = 459.67;

const L: Exponents = [1, 0, 0, 0, 0, 0];
const M: Exponents = [0, 1, 0, 0, 0, 0];
const T: Exponents = [0, 0, 1, 0, 0, 0];
const A: Exponents = [0, 0, 0, 1, 0, 0];
const K: Exponents = [0, 0, 0, 0, 1, 0];
const R: Exponents = [0, 0, 0, 0, 0, 1];
const SPEED: Exponents = [1, 0, -1, 0, 0, 0];
const FREQUENCY: Exponents = [0, 0, -1, 0, 0, 0];
const TURNING: Exponents = [0, 0, -1, 0, 0, 1];
const FORCE: Exponents = [1, 1, -2, 0, 0, 0];
const TORQUE: Exponents = [2, 1, -2, 0, 0, 0];
const POWER: Exponents = [2, 1, -3, 0, 0, 0];
const PRESSURE: Exponents = [-1, 1, -2, 0, 0, 0];
const VOLTAGE: Exponents = [2, 1, -3, -1, 0, 0];
const RESISTANCE: Exponents = [2, 1, -3, -2, 0, 0];

const fn unit(
    names: &'static [&'static str],
    si_ratio: f64,
    exponents: Exponents,
    prefixes: &'static str,
) -> Unit {
    Unit {
        names,
        si_ratio,
        exponents,
        prefixes,
        offset: 0.0,
    }
}

const fn degree(names: &'static [&'static str], si_ratio: f64, offset: f64) -> Unit {
    Unit {
        names,
        si_ratio,
        exponents: K,
        prefixes: "",
        offset,
    }
}

/// All units.
pub(super) const UNITS: &[Unit] = &[
    unit(&["m", "metre", "metres", "meter", "meters"], 1.0, L, "kcdmµ"),
    unit(
        &["mm", "millimetre", "millimetres", "millimeter", "millimeters"],
        1e-3,
        L,
        "",
    ),
    unit(
        &["cm", "centimetre", "centimetres", "centimeter", "centimeters"],
        1e-2,
        L,
        "",
    ),
    unit(&["in", "inch", "inches", "\"", "″"], INCH_M, L, ""),
    unit(&["ft", "foot", "feet", "'", "′"], 12.0 * INCH_M, L, ""),
    unit(&["yd", "yard", "yards"], 36.0 * INCH_M, L, ""),
    unit(&["mi", "mile", "miles"], 63_360.0 * INCH_M, L, ""),
    unit(&["thou", "mil", "mils"], 1e-3 * INCH_M, L, ""),
    unit(&["g", "gram", "grams", "gramme", "grammes"], 1e-3, M, "kmµ"),
    unit(&["kg", "kilo", "kilos", "kilogram", "kilograms"], 1.0, M, ""),
    unit(&["lb", "lbs", "lbm", "pound", "pounds"], POUND_KG, M, ""),
    unit(&["oz", "ounce", "ounces"], POUND_KG / 16.0, M, ""),
    unit(&["s", "sec", "second", "seconds"], 1.0, T, "mµ"),
    unit(&["min", "minute", "minutes"], 60.0, T, ""),
    unit(&["h", "hr", "hour", "hours"], 3600.0, T, ""),
    unit(&["Hz", "hertz"], 1.0, FREQUENCY, "kM"),
    unit(&["rad", "radian", "radians"], 1.0, R, "m"),
    unit(&["deg", "degree", "degrees", "°"], PI / 180.0, R, ""),
    unit(&["rev", "revs", "turn", "turns"], 2.0 * PI, R, ""),
    unit(&["rpm", "RPM", "Rpm"], PI / 30.0, TURNING, ""),
    unit(&["rps"], 2.0 * PI, TURNING, ""),
    unit(&["mph"], 63_360.0 * INCH_M / 3600.0, SPEED, ""),
    unit(&["kph", "kmh"], 1.0 / 3.6, SPEED, ""),
    unit(&["fps"], 12.0 * INCH_M, SPEED, ""),
    unit(&["N", "newton", "newtons"], 1.0, FORCE, "kmµ"),
    unit(&["lbf"], POUND_KG * STANDARD_GRAVITY_MPS2, FORCE, ""),
    unit(&["ozf"], POUND_KG / 16.0 * STANDARD_GRAVITY_MPS2, FORCE, ""),
    unit(&["kgf", "kp"], STANDARD_GRAVITY_MPS2, FORCE, ""),
    unit(&["gf"], 1e-3 * STANDARD_GRAVITY_MPS2, FORCE, ""),
    unit(&["Nm"], 1.0, TORQUE, "km"),
    unit(&["Ncm"], 1e-2, TORQUE, ""),
    unit(&["Nmm"], 1e-3, TORQUE, ""),
    unit(&["J", "joule", "joules"], 1.0, TORQUE, "mk"),
    unit(&["Wh"], 3600.0, TORQUE, "k"),
    unit(&["W", "watt", "watts"], 1.0, POWER, "mk"),
    unit(
        &["hp"],
        550.0 * 12.0 * INCH_M * POUND_KG * STANDARD_GRAVITY_MPS2,
        POWER,
        "",
    ),
    unit(&["Pa", "pascal", "pascals"], 1.0, PRESSURE, "hkM"),
    unit(&["bar"], 1e5, PRESSURE, "m"),
    unit(&["atm"], 101_325.0, PRESSURE, ""),
    unit(
        &["psi"],
        POUND_KG * STANDARD_GRAVITY_MPS2 / (INCH_M * INCH_M),
        PRESSURE,
        "",
    ),
    unit(&["mmHg"], 133.3224, PRESSURE, ""),
    unit(&["inHg"], 3386.389, PRESSURE, ""),
    unit(&["V", "volt", "volts"], 1.0, VOLTAGE, "mkµ"),
    unit(&["A", "amp", "amps", "ampere", "amperes"], 1.0, A, "mµk"),
    unit(&["ohm", "ohms", "Ohm", "Ω"], 1.0, RESISTANCE, "mkµM"),
    degree(&["degC", "°C", "C", "celsius", "Celsius"], 1.0, CELSIUS_ZERO),
    degree(
        &["degF", "°F", "F", "fahrenheit", "Fahrenheit"],
        5.0 / 9.0,
        FAHRENHEIT_ZERO,
    ),
    degree(&["K", "kelvin", "Kelvin"], 1.0, 0.0),
    unit(&["%", "percent", "pct"], 0.01, NONE, ""),
];

/// SI prefixes that occur, with `u` for those without µ on the keyboard.
const PREFIXES: &[(char, f64)] = &[
    ('k', 1e3),
    ('M', 1e6),
    ('h', 1e2),
    ('d', 1e-1),
    ('c', 1e-2),
    ('m', 1e-3),
    ('µ', 1e-6),
    ('u', 1e-6),
];

/// One spelling of a micro sign and of an ohm sign.
fn one_spelling(c: char) -> char {
    match c {
        '\u{3bc}' => 'µ',
        '\u{2126}' => 'Ω',
        other => other,
    }
}

/// The unit behind a symbol and the factor of its prefix.
pub(super) fn look_up(symbol: &str) -> Option<(&'static Unit, f64)> {
    let symbol: String = symbol.chars().map(one_spelling).collect();
    let exact = |s: &str| UNITS.iter().find(|u| u.names.contains(&s));
    if let Some(unit) = exact(&symbol) {
        return Some((unit, 1.0));
    }
    let first = symbol.chars().next()?;
    let (_, factor) = PREFIXES.iter().find(|(p, _)| *p == first)?;
    let unit = exact(symbol.get(first.len_utf8()..)?)?;
    let allowed = if first == 'u' { 'µ' } else { first };
    unit.prefixes.contains(allowed).then_some((unit, *factor))
}

/// Every symbol and word, for finding the nearest one.
pub(super) fn spellings() -> impl Iterator<Item = &'static str> {
    UNITS.iter().flat_map(|u| u.names.iter().copied())
}
