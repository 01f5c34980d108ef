//! The kinds of quantity that occur here.

use super::table::{Exponents, NONE};

/// A kind of quantity. Values are SI; angles are radians.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Dimension {
    /// A plain number: a coefficient. Written without a unit.
    Number,
    /// A share of something: written and shown in per cent.
    Ratio,
    /// How many.
    Count,
    /// Length.
    Length,
    /// Mass.
    Mass,
    /// Time.
    Time,
    /// Speed.
    Speed,
    /// Angle.
    Angle,
    /// Angular speed of a wheel.
    AngularSpeed,
    /// Angular speed of a whole robot.
    TurnRate,
    /// Force.
    Force,
    /// Torque.
    Torque,
    /// Moment of inertia.
    Inertia,
    /// Force per length.
    Stiffness,
    /// Voltage.
    Voltage,
    /// Current.
    Current,
    /// Resistance.
    Resistance,
    /// Power.
    Power,
    /// Energy.
    Energy,
    /// Temperature.
    Temperature,
    /// Pressure.
    Pressure,
    /// Mass per volume.
    Density,
    /// Voltage per angular speed: the proportional gain of a speed loop.
    ProportionalGain,
    /// Voltage per angle: the integral gain of a speed loop.
    IntegralGain,
    /// Area of a cross-section.
    Area,
    /// Electric charge: the capacity of a battery.
    Charge,
}

use Dimension as D;

impl Dimension {
    /// Every dimension.
    pub const ALL: &'static [Dimension] = &[
        D::Number,
        D::Ratio,
        D::Count,
        D::Length,
        D::Mass,
        D::Time,
        D::Speed,
        D::Angle,
        D::AngularSpeed,
        D::TurnRate,
        D::Force,
        D::Torque,
        D::Inertia,
        D::Stiffness,
        D::Voltage,
        D::Current,
        D::Resistance,
        D::Power,
        D::Energy,
        D::Temperature,
        D::Pressure,
        D::Density,
        D::ProportionalGain,
        D::IntegralGain,
        D::Area,
        D::Charge,
    ];

    /// Name in a sentence, with its article.
    pub fn name(self) -> &'static str {
        match self {
            D::Number => "a plain number",
            D::Ratio => "a share in per cent",
            D::Count => "a whole number",
            D::Length => "a length",
            D::Mass => "a mass",
            D::Time => "a time",
            D::Speed => "a speed",
            D::Angle => "an angle",
            D::AngularSpeed => "a speed of rotation",
            D::TurnRate => "a rate of turning",
            D::Force => "a force",
            D::Torque => "a torque",
            D::Inertia => "a moment of inertia",
            D::Stiffness => "a stiffness (force per length)",
            D::Voltage => "a voltage",
            D::Current => "a current",
            D::Resistance => "a resistance",
            D::Power => "a power",
            D::Energy => "an energy",
            D::Temperature => "a temperature",
            D::Pressure => "a pressure",
            D::Density => "a density",
            D::ProportionalGain => "a gain in volts per speed of rotation",
            D::IntegralGain => "a gain in volts per angle",
            D::Area => "an area",
            D::Charge => "a charge (current times time)",
        }
    }

    /// The SI unit of values of this dimension, as written by machines: `m`, `rad/s`, `N/m`; empty
    /// for pure numbers.
    pub fn si(self) -> &'static str {
        match self {
            D::Number | D::Ratio | D::Count => "",
            D::Length => "m",
            D::Mass => "kg",
            D::Time => "s",
            D::Speed => "m/s",
            D::Angle => "rad",
            D::AngularSpeed | D::TurnRate => "rad/s",
            D::Force => "N",
            D::Torque => "N m",
            D::Inertia => "kg m^2",
            D::Stiffness => "N/m",
            D::Voltage => "V",
            D::Current => "A",
            D::Resistance => "ohm",
            D::Power => "W",
            D::Energy => "J",
            D::Temperature => "K",
            D::Pressure => "Pa",
            D::Density => "kg/m^3",
            D::ProportionalGain => "V s/rad",
            D::IntegralGain => "V/rad",
            D::Area => "m^2",
            D::Charge => "A s",
        }
    }

    /// Units that a person would use for it, the most usual first.
    pub fn usual(self) -> &'static [&'static str] {
        match self {
            D::Number | D::Count => &[],
            D::Ratio => &["%"],
            D::Length => &["mm", "cm", "m", "in", "ft"],
            D::Mass => &["g", "kg", "oz", "lb"],
            D::Time => &["ms", "s", "min"],
            D::Speed => &["m/s", "km/h", "ft/s", "mph"],
            D::Angle => &["deg", "rad", "rev"],
            D::AngularSpeed => &["rpm", "rad/s", "rev/s", "deg/s"],
            D::TurnRate => &["deg/s", "rad/s", "rpm"],
            D::Force => &["N", "kgf", "lbf", "ozf"],
            D::Torque => &["N m", "mN m", "kgf cm", "lbf in", "ozf in"],
            D::Inertia => &["kg cm^2", "kg m^2", "g mm^2", "lb in^2", "oz in^2"],
            D::Stiffness => &["N/mm", "N/m", "lbf/in"],
            D::Voltage => &["V", "mV"],
            D::Current => &["A", "mA"],
            D::Resistance => &["mohm", "ohm"],
            D::Power => &["W", "kW"],
            D::Energy => &["J", "mJ", "ft lbf"],
            D::Temperature => &["degC", "degF", "K"],
            D::Pressure => &["hPa", "kPa", "mbar", "inHg", "psi"],
            D::Density => &["kg/m^3", "g/cm^3", "lb/ft^3"],
            D::ProportionalGain => &["V s/rad", "V/rpm"],
            D::IntegralGain => &["V/rad", "V/rev"],
            D::Area => &["mm^2", "cm^2", "in^2"],
            D::Charge => &["A h", "A s"],
        }
    }

    /// The usual units as a list in words: `mm, cm, m, in or ft`.
    pub fn usual_words(self) -> String {
        match self.usual() {
            [] => "no unit".to_string(),
            [only] => (*only).to_string(),
            [first @ .., last] => format!("{} or {last}", first.join(", ")),
        }
    }

    /// Is it written without a unit?
    pub fn is_plain(self) -> bool {
        matches!(self, D::Number | D::Count)
    }

    /// Exponents of m, kg, s, A, K and rad.
    pub(super) fn exponents(self) -> Exponents {
        match self {
            D::Number | D::Ratio | D::Count => NONE,
            D::Length => [1, 0, 0, 0, 0, 0],
            D::Mass => [0, 1, 0, 0, 0, 0],
            D::Time => [0, 0, 1, 0, 0, 0],
            D::Speed => [1, 0, -1, 0, 0, 0],
            D::Angle => [0, 0, 0, 0, 0, 1],
            D::AngularSpeed | D::TurnRate => [0, 0, -1, 0, 0, 1],
            D::Force => [1, 1, -2, 0, 0, 0],
            D::Torque | D::Energy => [2, 1, -2, 0, 0, 0],
            D::Inertia => [2, 1, 0, 0, 0, 0],
            D::Stiffness => [0, 1, -2, 0, 0, 0],
            D::Voltage => [2, 1, -3, -1, 0, 0],
            D::Current => [0, 0, 0, 1, 0, 0],
            D::Resistance => [2, 1, -3, -2, 0, 0],
            D::Power => [2, 1, -3, 0, 0, 0],
            D::Temperature => [0, 0, 0, 0, 1, 0],
            D::Pressure => [-1, 1, -2, 0, 0, 0],
            D::Density => [-3, 1, 0, 0, 0, 0],
            D::ProportionalGain => [2, 1, -2, -1, 0, -1],
            D::IntegralGain => [2, 1, -3, -1, 0, -1],
            D::Area => [2, 0, 0, 0, 0, 0],
            D::Charge => [0, 0, 1, 1, 0, 0],
        }
    }

    /// What a unit with these exponents measures, in words, if it is one of ours.
    pub(super) fn name_of(exponents: Exponents) -> Option<&'static str> {
        if exponents == NONE {
            return Some("a plain number");
        }
        Dimension::ALL
            .iter()
            .find(|d| d.exponents() == exponents)
            .map(|d| d.name())
    }
}
