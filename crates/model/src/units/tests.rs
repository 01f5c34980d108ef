//! Checks of reading and showing.

use super::{parse, parse_difference};
use crate::units::show::{self, Scale};
use crate::units::{Dimension as D, UnitSystem};
use proptest::prelude::*;

fn close(found: f64, wanted: f64) -> bool {
    (found - wanted).abs() <= 1e-12 * wanted.abs().max(1e-300)
}

/// Conversion factors as printed in NIST Special Publication 811 (2008), Appendix B.8, to the digits
/// printed there; exact ones bold in the source [nist-sp811] (from memory).
#[test]
fn factors_match_nist_sp811_to_the_digits_printed() {
    let rows: &[(&str, D, f64, f64)] = &[
        ("1 in", D::Length, 2.54e-2, 0.0),
        ("1 ft", D::Length, 3.048e-1, 0.0),
        ("1 yd", D::Length, 9.144e-1, 0.0),
        ("1 mi", D::Length, 1.609_344e3, 0.0),
        ("1 mil", D::Length, 2.54e-5, 0.0),
        ("1 lb", D::Mass, 4.535_924e-1, 5e-8),
        ("1 oz", D::Mass, 2.834_952e-2, 5e-9),
        ("1 lbf", D::Force, 4.448_222, 5e-7),
        ("1 ozf", D::Force, 2.780_139e-1, 5e-8),
        ("1 kgf", D::Force, 9.806_65, 0.0),
        ("1 lbf in", D::Torque, 1.129_848e-1, 5e-8),
        ("1 lbf ft", D::Torque, 1.355_818, 5e-7),
        ("1 ozf in", D::Torque, 7.061_552e-3, 5e-10),
        ("1 kgf m", D::Torque, 9.806_65, 0.0),
        ("1 lb ft^2", D::Inertia, 4.214_011e-2, 5e-9),
        ("1 lb in^2", D::Inertia, 2.926_397e-4, 5e-11),
        ("1 lbf/in", D::Stiffness, 1.751_268e2, 5e-5),
        ("1 lbf/ft", D::Stiffness, 1.459_390e1, 5e-6),
        ("1 mph", D::Speed, 4.470_4e-1, 0.0),
        ("1 km/h", D::Speed, 2.777_778e-1, 5e-8),
        ("1 ft/s", D::Speed, 3.048e-1, 0.0),
        ("1 deg", D::Angle, 1.745_329e-2, 5e-9),
        ("1 rpm", D::AngularSpeed, 1.047_198e-1, 5e-8),
        ("1 psi", D::Pressure, 6.894_757e3, 5e-4),
        ("1 inHg", D::Pressure, 3.386_389e3, 0.0),
        ("1 mmHg", D::Pressure, 1.333_224e2, 0.0),
        ("1 atm", D::Pressure, 1.013_25e5, 0.0),
        ("1 bar", D::Pressure, 1e5, 0.0),
        ("1 lb/ft^3", D::Density, 1.601_846e1, 5e-6),
        ("1 hp", D::Power, 7.456_999e2, 5e-5),
        ("65 degF", D::Temperature, (65.0 + 459.67) / 1.8, 1e-10),
        ("18 degC", D::Temperature, 291.15, 0.0),
    ];
    for (text, dimension, wanted, half_digit) in rows {
        let found = parse(text, *dimension).unwrap();
        assert!(
            (found - wanted).abs() <= half_digit + 1e-12 * wanted,
            "{text}: {found} not {wanted}"
        );
    }
}

/// The calculator library `fend-core` as an independent reader of the same texts.
#[test]
fn an_independent_calculator_reads_the_same_values() {
    let rows = [
        ("96 mm", D::Length, "m"),
        ("3.8 in", D::Length, "m"),
        ("3 1/2 in", D::Length, "m"),
        ("2.2 lb", D::Mass, "kg"),
        ("4 oz", D::Mass, "kg"),
        ("6000 rpm", D::AngularSpeed, "radian/s"),
        ("0.4 kg cm^2", D::Inertia, "kg m^2"),
        ("5 N/mm", D::Stiffness, "N/m"),
        ("3 lbf/in", D::Stiffness, "N/m"),
        ("18 mohm", D::Resistance, "ohm"),
        ("12 ft/s", D::Speed, "m/s"),
        ("12 mph", D::Speed, "m/s"),
        ("11 kgf cm", D::Torque, "N m"),
        ("1013 hPa", D::Pressure, "Pa"),
        ("14.7 psi", D::Pressure, "Pa"),
        ("0.06 V s/rad", D::ProportionalGain, "V s/radian"),
        ("55 deg", D::Angle, "radian"),
    ];
    for (text, dimension, si) in rows {
        let mut context = fend_core::Context::new();
        // Its own spellings: `in` is a command there, and a mixed fraction is not read.
        let asked = text.replace("3 1/2", "3.5").replace("mohm", "milliohm");
        let asked = if asked.ends_with("in") {
            asked.replace("in", "inch")
        } else {
            asked
        };
        let answer = fend_core::evaluate(&format!("({asked}) to ({si}) to 15 dp"), &mut context).unwrap();
        let number = answer.get_main_result().replace("approx. ", "");
        let wanted: f64 = number.split(' ').next().unwrap().parse().unwrap();
        let found = parse(text, dimension).unwrap();
        assert!(
            (found - wanted).abs() <= 1e-12 + 1e-9 * wanted.abs(),
            "{text}: {found}, fend {number}"
        );
    }
}

#[test]
fn many_spellings_of_one_quantity_are_one_quantity() {
    let same = |texts: &[&str], dimension, wanted: f64| {
        for text in texts {
            let found = parse(text, dimension).unwrap_or_else(|e| panic!("{text}: {e:?}"));
            assert!(close(found, wanted), "{text}: {found} not {wanted}");
        }
    };
    let inertia = [
        "0.4 kg cm^2",
        "0.4 kg·cm²",
        "0.4kg*cm2",
        "4e-5 kg m^2",
        "400 g cm²",
        "+0.4 kg cm**2",
    ];
    same(&inertia, D::Inertia, 4e-5);
    let torque = [
        "1.1 N m",
        "1.1 Nm",
        "1.1 N·m",
        "1.1 N-m",
        "1100 mN m",
        "110 N cm",
        "110 Ncm",
        "1100 Nmm",
    ];
    same(&torque, D::Torque, 1.1);
    same(
        &["3.5 in", "3 1/2 in", "7/2 in", "3.5 inches", "3.5\"", "3.5 ″"],
        D::Length,
        0.0889,
    );
    same(
        &["20 deg", "20 °", "20°", "20 degrees"],
        D::Angle,
        20f64.to_radians(),
    );
    same(
        &["18 degC", "18 °C", "18°C", "18 deg C", "18 C", "291.15 K"],
        D::Temperature,
        291.15,
    );
    same(
        &["18 mohm", "18 mΩ", "18 m\u{2126}", "0.018 ohm"],
        D::Resistance,
        0.018,
    );
    same(&["5 µs", "5 μs", "5 us"], D::Time, 5e-6);
    same(
        &[
            "-40 m/s",
            "\u{2212}40 m/s",
            "-40 m s^-1",
            "-40 m s⁻¹",
            "-40 m per s",
        ],
        D::Speed,
        -40.0,
    );
    same(
        &["600 rpm", "10 rev/s", "600 rev/min", "600 rev per min"],
        D::AngularSpeed,
        20.0 * std::f64::consts::PI,
    );
    same(&["10 %", "10%", "10 percent"], D::Ratio, 0.1);
    same(
        &["0.06 V s/rad", "0.06 V/(rad/s)", "0.06 (V s)/rad"],
        D::ProportionalGain,
        0.06,
    );
}

#[test]
fn decimal_multiples_read_as_the_decimal_number_they_are() {
    for n in 1..2000 {
        assert_eq!(parse(&format!("{n} g"), D::Mass), Ok(f64::from(n) / 1000.0));
        assert_eq!(parse(&format!("{n} cm"), D::Length), Ok(f64::from(n) / 100.0));
    }
}

#[test]
fn look_alike_units_are_told_apart() {
    // in and min, mass and force, N m and mN, m and min, mm and Mm.
    assert!(close(parse("1 in", D::Length).unwrap(), 0.0254));
    assert!(close(parse("1 min", D::Time).unwrap(), 60.0));
    for (text, dimension, meant) in [
        ("5 min", D::Length, "\"5 in\""),
        ("11 kg cm", D::Torque, "\"11 kgf cm\""),
        ("20 oz in", D::Torque, "\"20 ozf in\""),
        ("3 lb/in", D::Stiffness, "\"3 lbf/in\""),
        ("3 lb", D::Force, "\"3 lbf\""),
        ("2 ozf", D::Mass, "\"2 oz\""),
        ("5 mN", D::Torque, "\"5 mN m\""),
        ("100 Hz", D::AngularSpeed, "\"100 rev/s\""),
        ("6000 1/min", D::AngularSpeed, "\"6000 rpm\""),
        ("6000 /min", D::AngularSpeed, "\"6000 rpm\""),
    ] {
        let error = parse(text, dimension).unwrap_err();
        assert_eq!(error.code, "wrong-unit", "{text}");
        assert!(error.fix.contains(meant), "{text}: {}", error.fix);
        let quoted = meant.trim_matches('"');
        assert!(parse(quoted, dimension).is_ok(), "the fix {quoted} must do");
    }
}

#[test]
fn a_misspelt_unit_is_underlined_and_its_nearest_spelling_reads() {
    for (text, dimension, span, meant) in [
        ("96 mmm", D::Length, 3..6, "96 mm"),
        ("96 MM", D::Length, 3..5, "96 mm"),
        ("96 Mm", D::Length, 3..5, "96 mm"),
        ("6000 rmp", D::AngularSpeed, 5..8, "6000 rpm"),
        ("0.4 kgg cm^2", D::Inertia, 4..7, "0.4 kg cm^2"),
        ("12 Volt", D::Voltage, 3..7, "12 V"),
        ("5 NM", D::Torque, 2..4, "5 Nm"),
        ("5 nm", D::Torque, 2..4, "5 Nm"),
    ] {
        let error = parse(text, dimension).unwrap_err();
        assert_eq!((error.code, error.span), ("unknown-unit", span), "{text}");
        let offered = error.fix.split('"').nth(1).unwrap_or_default().to_string();
        assert!(parse(&offered, dimension).is_ok(), "{text}: {}", error.fix);
        assert_eq!(
            parse(&offered, dimension).unwrap(),
            parse(meant, dimension).unwrap(),
            "{text}"
        );
    }
}

#[test]
fn a_bare_number_is_refused_and_the_message_says_how_to_write_it() {
    let error = parse("96", D::Length).unwrap_err();
    assert_eq!((error.code, error.span), ("no-unit", 0..2));
    assert!(
        error.fix.contains("\"96 mm\"") && error.fix.contains("\"96 in\""),
        "{}",
        error.fix
    );
    assert!(parse("0.95", D::Ratio).unwrap_err().fix.contains("\"95 %\""));
    assert_eq!(parse("0.95", D::Number), Ok(0.95));
}

#[test]
fn numbers_that_are_not_are_refused_with_their_mistake_named() {
    for (text, word) in [
        ("3,8 in", "comma"),
        ("1,200 mm", "comma"),
        ("about 3 mm", "begin"),
        ("", "empty"),
        ("  ", "empty"),
        ("NaN mm", "begin"),
        ("inf mm", "begin"),
        ("1e400 mm", "too large"),
        ("1.2.3 mm", "not one"),
        ("1_000 mm", "not one"),
        ("1/0 mm", "zero"),
        ("- mm", "begin"),
    ] {
        let error = parse(text, D::Length).unwrap_err();
        assert_eq!(error.code, "bad-number", "{text}");
        assert!(error.what.contains(word), "{text}: {}", error.what);
        assert!(!error.fix.is_empty() && error.span.end <= text.len(), "{text}");
    }
    assert!(parse("3,8 in", D::Length).unwrap_err().fix.contains("\"3.8 in\""));
}

#[test]
fn what_follows_a_slash_must_be_clear() {
    let error = parse("5 V/rad s", D::ProportionalGain).unwrap_err();
    assert_eq!(error.code, "unknown-unit");
    assert!(error.fix.contains("V/(rad s)"), "{}", error.fix);
    // Repeated division has one meaning only.
    assert!(close(
        parse("5 m/s/s", D::Speed).unwrap_err().span.len() as f64,
        5.0
    ));
}

#[test]
fn a_spread_of_a_temperature_is_a_difference() {
    assert_eq!(parse_difference("2 degC", D::Temperature), Ok(2.0));
    assert!(close(parse_difference("9 degF", D::Temperature).unwrap(), 5.0));
    assert_eq!(
        show::difference(2.0, D::Temperature, Scale::Auto, UnitSystem::Metric),
        "2 degC"
    );
}

#[test]
fn values_are_shown_in_the_unit_and_digits_a_person_would_use() {
    let show = |v, d, s, u| show::text(v, d, s, u);
    let (metric, us) = (UnitSystem::Metric, UnitSystem::Us);
    assert_eq!(show(0.096, D::Length, Scale::Auto, metric), "96 mm");
    assert_eq!(show(1.14, D::Length, Scale::Auto, metric), "1.14 m");
    assert_eq!(show(1.14, D::Length, Scale::Small, metric), "1140 mm");
    assert_eq!(show(0.096, D::Length, Scale::Auto, us), "3.78 in");
    assert_eq!(show(3.6576, D::Length, Scale::Auto, us), "12 ft");
    assert_eq!(show(0.000_342, D::Length, Scale::Auto, metric), "0.34 mm");
    assert_eq!(show(0.061, D::Mass, Scale::Auto, metric), "61 g");
    assert_eq!(
        show(628.318_530_7, D::AngularSpeed, Scale::Auto, metric),
        "6000 rpm"
    );
    assert_eq!(show(0.1234, D::Ratio, Scale::Auto, metric), "12.3 %");
    assert_eq!(show(291.15, D::Temperature, Scale::Auto, us), "64.4 degF");
    assert_eq!(show(-0.0, D::Length, Scale::Auto, metric), "0 mm");
    assert_eq!(show(-1e-15, D::Speed, Scale::Auto, metric), "0 m/s");
    assert_eq!(show(f64::INFINITY, D::Speed, Scale::Auto, metric), "unlimited");
    assert_eq!(show(f64::NAN, D::Speed, Scale::Auto, metric), "unknown");
    let unit = show::unit(0.0, D::Length, Scale::Small, metric);
    assert_eq!(show::fixed(0.012, &unit), "12.0");
    assert_eq!(show::fixed(-1e-9, &unit), "0.0");
}

#[test]
fn two_numbers_in_a_message_are_shown_apart() {
    let [a, b] = show::pair(0.012_04, 0.012_038, D::Length, Scale::Small, UnitSystem::Metric);
    assert_eq!([a.as_str(), b.as_str()], ["12.04 mm", "12.038 mm"]);
    let [a, b] = show::pair(0.999, 1.001, D::Length, Scale::Auto, UnitSystem::Metric);
    assert_eq!([a.as_str(), b.as_str()], ["0.999 m", "1.001 m"]);
    let [a, b] = show::pair(1.0, 1.0, D::Speed, Scale::Auto, UnitSystem::Metric);
    assert_eq!(a, b);
}

#[test]
fn the_si_unit_of_every_dimension_reads_as_one() {
    for dimension in D::ALL {
        let si = dimension.si();
        let read = parse(&format!("1 {si}"), *dimension);
        // A share is SI without a unit, but is only read with one.
        assert_eq!(
            read.ok(),
            (*dimension != D::Ratio).then_some(1.0),
            "{dimension:?}"
        );
        for unit in dimension.usual() {
            assert!(
                parse(&format!("1 {unit}"), *dimension).is_ok(),
                "{dimension:?} in {unit}"
            );
        }
    }
}

fn any_dimension() -> impl Strategy<Value = D> {
    proptest::sample::select(D::ALL.to_vec())
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_text_makes_the_reader_fall_over(text in "\\PC{0,40}", dimension in any_dimension()) {
        if let Err(error) = parse(&text, dimension) {
            prop_assert!(error.span.start <= error.span.end && error.span.end <= text.len());
            prop_assert!(text.get(error.span.clone()).is_some(), "span inside a character");
            prop_assert!(!error.fix.is_empty());
        }
    }

    #[test]
    fn near_quantities_do_not_either(
        text in "[-+]?[0-9]{0,3}[.,/e ]?[0-9]{0,3} ?(m|mm|in|N|kg|s|rad|deg|C|\\^|-|/|\\(|\\)|²|µ|°| |[0-9]){0,12}",
        dimension in any_dimension(),
    ) {
        if let Err(error) = parse(&text, dimension) {
            prop_assert!(text.get(error.span.clone()).is_some());
        }
    }

    #[test]
    fn what_is_shown_reads_back(
        mantissa in 1.0f64..10.0, power in -3i32..4, dimension in any_dimension(),
        us in any::<bool>(), scale in 0usize..3,
    ) {
        let system = if us { UnitSystem::Us } else { UnitSystem::Metric };
        let scale = [Scale::Auto, Scale::Small, Scale::Large][scale];
        let unit = show::unit(mantissa * 10f64.powi(power), dimension, scale, system);
        let value = (mantissa * 10f64.powi(power) - unit.shift) * unit.si_ratio;
        let text = show::text(value, dimension, scale, system);
        if dimension != D::Count {
            let read = parse(&text, dimension).unwrap();
            let step = 0.5 * 10f64.powi(-(unit.decimals as i32)) * unit.si_ratio;
            prop_assert!((read - value).abs() <= step.max(0.06 * value.abs()) + 1e-12, "{value} as {text} reads {read}");
        }
    }

    #[test]
    fn numbers_apart_are_shown_apart(a in -1e5f64..1e5, gap in 1e-6f64..1.0, dimension in any_dimension()) {
        let [x, y] = show::pair(a, a + gap * a.abs().max(1.0), dimension, Scale::Auto, UnitSystem::Us);
        prop_assert_ne!(x, y);
    }
}

#[test]
fn quotation_marks_within_the_text_are_taken_off_and_inch_marks_are_not() {
    for text in [
        "”110 deg”",
        "“110 deg”",
        "110 deg”",
        " ‘110 deg’ ",
        "\"110 deg\"",
        "«110 deg»",
    ] {
        let error = parse(text, D::Angle).unwrap_err();
        assert_eq!(error.code, "bad-number", "{text}");
        assert!(error.fix.contains("write \"110 deg\""), "{text}: {}", error.fix);
    }
    // What is wrong within is told in place of the marks, and at its place.
    let error = parse("“110 dge”", D::Angle).unwrap_err();
    assert_eq!(
        (error.code, error.fix.contains("\"110 deg\"")),
        ("unknown-unit", true)
    );
    assert_eq!("“110 dge”".get(error.span), Some("dge"));
    // Common practice, no source: a straight mark behind a number is inches or feet.
    assert!((parse("2\"", D::Length).unwrap() - 0.0508).abs() < 1e-15);
    assert!(parse("2'", D::Length).is_ok());
    assert_eq!(parse("2”", D::Length).unwrap_err().code, "unknown-unit");
}
