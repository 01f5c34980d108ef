//! A quantity as someone wrote it, with another value in it.

use super::dimension::Dimension;
use super::expression::work_out;
use super::number;
use super::parse::parse;

/// What a text measures: a coefficient may be written as a share, and "60 %" is then 0.6.
pub fn as_written(text: &str, dimension: Dimension) -> Dimension {
    if dimension == Dimension::Number && text.trim_end().ends_with('%') {
        Dimension::Ratio
    } else {
        dimension
    }
}

/// The text with `value` (SI) in place of its number; the unit and the spaces stay as written.
///
/// The number has as few digits as bring it within `within` (same unit) of the value. `None` for a
/// text that is no quantity of this dimension, and for a value that no number of this unit gives.
pub fn rewrite(text: &str, dimension: Dimension, value: f64, within: f64) -> Option<String> {
    let dimension = as_written(text, dimension);
    let start = text.len() - text.trim_start().len();
    let head = number::head(text, start).ok()?;
    let (before, after) = (text.get(..start)?, text.get(head.end..)?);
    let x = if after.trim().is_empty() {
        value
    } else {
        let unit = work_out(text, text.len() - after.trim_start().len()).ok()?;
        value / unit.si_ratio - unit.offset
    };
    let whole = |number: &str| format!("{before}{number}{after}");
    let fits =
        |number: &str| parse(&whole(number), dimension).is_ok_and(|back| (back - value).abs() <= within);
    shortest(x, fits).map(|number| whole(&number))
}

/// Rounding: seventeen digits tell every f64 from every other.
const MOST_DIGITS: usize = 17;
/// Judgement: outside of this, a power of ten is easier to read than zeros.
const PLAIN: [f64; 2] = [1e-6, 1e9];

/// The shortest number near `x` that `fits`.
pub fn shortest(x: f64, fits: impl Fn(&str) -> bool) -> Option<String> {
    let [low, high] = PLAIN;
    (0..MOST_DIGITS)
        .filter_map(|digits| format!("{x:.digits$e}").parse::<f64>().ok())
        .map(|near| match near.abs() {
            0.0 => "0".to_string(),
            size if (low..high).contains(&size) => format!("{near}"),
            _ => format!("{near:e}"),
        })
        .find(|text| fits(text))
}

#[cfg(test)]
mod tests {
    use super::*;
    use Dimension as D;

    fn written(text: &str, dimension: D, value: f64) -> Option<String> {
        rewrite(text, dimension, value, 1e-9 * value.abs())
    }

    #[test]
    fn a_value_is_written_in_the_unit_that_stands_there() {
        // An inch is 25.4 mm exactly, by definition.
        assert_eq!(written("3.8 in", D::Length, 0.0254 * 4.25).unwrap(), "4.25 in");
        assert_eq!(written("96 mm", D::Length, 0.1).unwrap(), "100 mm");
        assert_eq!(written("96mm", D::Length, 0.1016).unwrap(), "101.6mm");
        assert_eq!(written("3 1/2 in", D::Length, 0.1016).unwrap(), "4 in");
        assert_eq!(written("-8 deg", D::Angle, 0.0).unwrap(), "0 deg");
        assert_eq!(written("60 %", D::Number, 0.75).unwrap(), "75 %");
        assert_eq!(written("1.0", D::Number, 0.75).unwrap(), "0.75");
        assert_eq!(
            written("0.2 kg cm^2", D::Inertia, 3e-9).unwrap(),
            "0.00003 kg cm^2"
        );
        // 68 degF is 20 degC, and 212 degF is 100 degC.
        assert_eq!(written("68 degF", D::Temperature, 373.15).unwrap(), "212 degF");
    }

    #[test]
    fn sums_of_steps_lose_their_rounding() {
        assert_eq!(written("96 mm", D::Length, 0.08 + 7.0 * 0.004).unwrap(), "108 mm");
        assert_eq!(written("1.0", D::Number, 0.1 + 0.2).unwrap(), "0.3");
        assert_eq!(
            written("8 deg", D::Angle, 11.5f64.to_radians()).unwrap(),
            "11.5 deg"
        );
    }

    #[test]
    fn a_text_that_is_no_such_quantity_is_left_alone() {
        assert_eq!(written("smooth", D::Number, 1.0), None);
        assert_eq!(written("96 kg", D::Length, 0.1), None);
        assert_eq!(written("96 mm", D::Length, f64::NAN), None);
        assert_eq!(written("96 mm", D::Length, f64::INFINITY), None);
    }
}
