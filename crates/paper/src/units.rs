//! The units a person reads: one scale per kind of quantity, for each unit system.
//!
//! The only place in this crate where SI turns into something else.

use arcwright_model::project::UnitSystem;
use arcwright_model::units::Dimension;
use arcwright_model::units::show::{Scale as Size, ShownUnit, unit};

use crate::geometry::span;

/// A unit to show a quantity in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scale {
    /// Symbol of the unit.
    pub symbol: &'static str,
    /// How many SI units one of these is.
    pub si_ratio: f64,
    /// Added to the SI value over `si_ratio`: temperature scales; 0 otherwise.
    pub shift: f64,
    /// Decimals that anyone could measure.
    pub decimals_count: usize,
}

/// The scales of one unit system.
///
/// Inch, foot and pound-force by their exact definitions [nist-sp811].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Units {
    /// Sizes of parts and gaps.
    pub length: Scale,
    /// Distances on the floor and heights.
    pub distance: Scale,
    /// Speeds.
    pub speed: Scale,
    /// Forces.
    pub force: Scale,
    /// Angles.
    pub angle: Scale,
    /// Speed of turning parts.
    pub turning: Scale,
    /// Time.
    pub time: Scale,
    /// Short times.
    pub moment: Scale,
    /// Voltage.
    pub voltage: Scale,
    /// Current.
    pub current: Scale,
    /// Shares of a whole.
    pub share: Scale,
}

impl Units {
    /// The scales of a unit system, from the project's one table of units. A picture has room for other
    /// numbers of decimals than running text, and writes degrees as a sign.
    pub fn of(system: UnitSystem) -> Units {
        use Dimension as D;
        let metric = system == UnitSystem::Metric;
        let scale = |dimension, size, decimals_count| {
            let shown = unit(0.0, dimension, size, system);
            Scale {
                decimals_count,
                ..of_shown(&shown)
            }
        };
        Units {
            length: scale(D::Length, Size::Small, if metric { 2 } else { 3 }),
            distance: scale(D::Length, Size::Large, if metric { 3 } else { 2 }),
            speed: scale(D::Speed, Size::Small, if metric { 2 } else { 1 }),
            force: scale(D::Force, Size::Small, 1),
            angle: scale(D::Angle, Size::Small, 1),
            turning: scale(D::AngularSpeed, Size::Small, 0),
            time: scale(D::Time, Size::Large, 3),
            moment: scale(D::Time, Size::Small, 2),
            voltage: scale(D::Voltage, Size::Small, 2),
            current: scale(D::Current, Size::Small, 1),
            share: scale(D::Ratio, Size::Small, 1),
        }
    }
}

/// What a number measures, for pictures whose quantities the caller chooses.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Measure {
    /// Kind of quantity.
    pub dimension: Dimension,
    /// Small or large unit; [`Size::Auto`] goes by the largest value shown.
    pub size: Size,
}

impl Measure {
    /// A measure whose unit goes by size.
    pub fn of(dimension: Dimension) -> Measure {
        Measure {
            dimension,
            size: Size::Auto,
        }
    }

    /// The scale for a set of values that stand together.
    pub fn scale(&self, system: UnitSystem, values: impl IntoIterator<Item = f64>) -> Scale {
        let largest = span(values).map_or(0.0, |(low, high)| low.abs().max(high.abs()));
        of_shown(&unit(largest, self.dimension, self.size, system))
    }
}

/// A unit of the project's table with its symbol as pictures write it.
fn of_shown(shown: &ShownUnit) -> Scale {
    Scale {
        symbol: match shown.symbol {
            "deg" => "°",
            "degC" => "°C",
            "degF" => "°F",
            "kg cm^2" => "kg\u{a0}cm²",
            "lb in^2" => "lb\u{a0}in²",
            "kg/m^3" => "kg/m³",
            "lb/ft^3" => "lb/ft³",
            "ohm" => "Ω",
            "mohm" => "mΩ",
            other => other,
        },
        si_ratio: shown.si_ratio,
        shift: shown.shift,
        decimals_count: shown.decimals,
    }
}

/// From here on a value is written as a power of ten, so that a label keeps its length.
const LONGEST: f64 = 1e6;

impl Scale {
    /// The value in this unit.
    pub fn of(&self, si: f64) -> f64 {
        si / self.si_ratio + self.shift
    }

    /// The SI value of a value in this unit.
    pub fn si(&self, shown: f64) -> f64 {
        (shown - self.shift) * self.si_ratio
    }

    /// "name (unit)", or the name alone where there is no unit.
    pub fn named(&self, name: &str) -> String {
        match self.symbol {
            "" => name.to_string(),
            symbol => format!("{name} ({symbol})"),
        }
    }

    /// The value in this unit as text, to three significant figures; whole numbers in full.
    pub fn value(&self, si: f64) -> String {
        let v = self.of(si);
        if v == 0.0 || !v.is_finite() {
            return plain(v, 0);
        }
        // 999.6 reads 1000, so the digits are counted on the value as rounded.
        let digits = |v: f64| (2.0 - v.abs().log10().floor()).clamp(0.0, self.decimals_count as f64) as usize;
        let first = digits(v);
        let tenth = 10f64.powi(first as i32);
        let text = plain(v, digits((v * tenth).round() / tenth).min(first));
        match text.contains('.') {
            true => text.trim_end_matches('0').trim_end_matches('.').to_string(),
            false => text,
        }
    }

    /// Value and unit.
    pub fn show(&self, si: f64) -> String {
        self.with_unit(&self.value(si))
    }

    /// Value and unit, with a plus where the value is above zero.
    pub fn signed(&self, si: f64) -> String {
        let text = self.show(si);
        if si > 0.0 && text != self.show(0.0) {
            format!("+{text}")
        } else {
            text
        }
    }

    /// A column of values, all with the decimals of the one that needs most; a dash for none.
    pub fn column(&self, values: &[Option<f64>]) -> Vec<String> {
        let decimals = |text: String| text.split_once('.').map_or(0, |(_, tail)| tail.len());
        let most = values
            .iter()
            .flatten()
            .map(|v| decimals(self.value(*v)))
            .max()
            .unwrap_or(0);
        values
            .iter()
            .map(|v| v.map_or("–".to_string(), |v| plain(self.of(v), most)))
            .collect()
    }

    /// A text that already is a value of this scale, with the unit behind it.
    pub fn with_unit(&self, value: &str) -> String {
        match self.symbol {
            "" => value.to_string(),
            "°" => format!("{value}°"),
            symbol => format!("{value}\u{a0}{symbol}"),
        }
    }
}

/// A number with a fixed count of decimals, a proper minus and no minus before zero.
pub fn plain(v: f64, decimals: usize) -> String {
    if v.is_nan() {
        return "–".to_string();
    }
    if v.is_infinite() {
        return if v > 0.0 { "∞" } else { "−∞" }.to_string();
    }
    let text = if v.abs() >= LONGEST {
        format!("{v:.1e}")
    } else {
        format!("{v:.decimals$}")
    };
    match text.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|b| b == b'0' || b == b'.') => rest.to_string(),
        Some(rest) => format!("−{rest}"),
        None => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    #[test]
    fn four_inches_are_101_point_6_millimetres() {
        // NIST SP 811: 1 in = 25.4 mm exactly.
        assert_eq!(Units::of(UnitSystem::Metric).length.show(0.1016), "102\u{a0}mm");
        assert_eq!(Units::of(UnitSystem::Us).length.show(0.1016), "4\u{a0}in");
        // NIST SP 811: 1 ft/s = 0.3048 m/s, 1 lbf = 4.448 222 N.
        assert_eq!(Units::of(UnitSystem::Us).speed.show(3.048), "10\u{a0}ft/s");
        assert_eq!(Units::of(UnitSystem::Us).force.value(4.448_222), "1");
    }

    #[test]
    fn a_label_has_three_significant_figures_and_no_trailing_zeros() {
        let mm = Units::of(UnitSystem::Metric).length;
        assert_eq!(mm.show(0.016), "16\u{a0}mm");
        assert_eq!(mm.show(0.012_34), "12.3\u{a0}mm");
        assert_eq!(mm.show(0.000_123_4), "0.12\u{a0}mm");
        assert_eq!(Units::of(UnitSystem::Metric).angle.show(0.905_432), "51.9°");
        assert_eq!(Units::of(UnitSystem::Metric).angle.show(0.0805), "4.6°");
        assert_eq!(mm.show(2.4567), "2457\u{a0}mm");
        assert_eq!(mm.show(0.009_999), "10\u{a0}mm");
        assert_eq!(mm.show(0.1), "100\u{a0}mm");
    }

    #[test]
    fn zero_never_carries_a_minus_and_strange_values_still_read() {
        assert_eq!(plain(-0.0001, 2), "0.00");
        assert_eq!(plain(-0.0, 0), "0");
        assert_eq!(plain(-12.0, 1), "−12.0");
        assert_eq!(plain(f64::NAN, 1), "–");
        assert_eq!(plain(f64::NEG_INFINITY, 1), "−∞");
        assert_eq!(plain(1.5e300, 0), "1.5e300");
        assert_eq!(Units::of(UnitSystem::Metric).angle.signed(PI / 6.0), "+30°");
        assert_eq!(Units::of(UnitSystem::Metric).angle.signed(-PI / 6.0), "−30°");
        assert_eq!(Units::of(UnitSystem::Metric).angle.signed(0.0), "0°");
        assert_eq!(Units::of(UnitSystem::Metric).angle.signed(1e-6), "0°");
        assert_eq!(Units::of(UnitSystem::Us).length.signed(0.004), "+0.157\u{a0}in");
    }

    #[test]
    fn a_column_keeps_its_decimals_in_line() {
        let column = Units::of(UnitSystem::Metric)
            .distance
            .column(&[Some(1.1), None, Some(2.25), Some(3.0)]);
        assert_eq!(column, ["1.10", "–", "2.25", "3.00"]);
    }

    #[test]
    fn sixty_turns_a_minute_are_one_turn_a_second() {
        assert_eq!(
            Units::of(UnitSystem::Metric).turning.show(2.0 * PI),
            "60\u{a0}rpm"
        );
    }
}
