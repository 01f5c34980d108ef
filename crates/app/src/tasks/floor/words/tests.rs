#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use arcwright_model::target::Outcome;
use proptest::prelude::*;

use super::*;

const RPM: f64 = std::f64::consts::PI / 30.0;

fn spots() -> Vec<String> {
    ["near", "middle", "far", "left corner"]
        .map(String::from)
        .to_vec()
}

fn said(line: &str) -> Said {
    read(line, &spots(), false).unwrap_or_else(|f| panic!("{line}: [{}] {} / {}", f.code, f.what, f.fix))
}

fn code(line: &str) -> &'static str {
    match read(line, &spots(), false) {
        Ok(s) => panic!("{line}: taken as {s:?}"),
        Err(f) => {
            assert!(!f.fix.is_empty() && !f.what.is_empty(), "{line}: {f:?}");
            f.code
        }
    }
}

fn far() -> Option<Place> {
    Some(Place::Spot("far".into()))
}

#[test]
fn the_lines_of_the_manual_mean_what_it_says() {
    let s = said("far 3490 in");
    assert_eq!((s.place, s.outcome), (far(), Some(Outcome::In)));
    assert!((s.setpoint_radps.unwrap() - 3490.0 * RPM).abs() < 1e-9);
    assert_eq!(said("far short").outcome, Some(Outcome::Short));
    let s = said("far long 12cm left 5cm");
    assert_eq!((s.along_m, s.across_m, s.outcome), (Some(0.12), Some(0.05), None));
    let s = said("far land 4.21m 3cm left");
    assert_eq!((s.land_m, s.across_m), (Some(4.21), Some(0.03)));
    assert_eq!(said("near wall 2.56m").wall, Some((2.56, None)));
    assert_eq!(said("near wall 2.56m at 3 m").wall, Some((2.56, Some(3.0))));
    assert_eq!(said("fall 1.24s").fall, Some((1.24, None)));
    assert_eq!(said("fall 1.24 to floor").fall, Some((1.24, Some(FallTo::Floor))));
    let s = said("before 3490 after 3200 rpm");
    assert!((s.before_radps.unwrap() - 3490.0 * RPM).abs() < 1e-9);
    assert!((s.after_radps.unwrap() - 3200.0 * RPM).abs() < 1e-9);
    assert_eq!(said("12.4V").battery_v, Some(12.4));
    assert_eq!(said("12.4v").battery_v, Some(12.4));
    assert_eq!(said("piece 3").piece, Some(3));
    assert_eq!(said("throw 2 of 4").throw, Some((2, Some(4))));
    assert_eq!(said("throw 2/4").throw, Some((2, Some(4))));
    assert!(said("jam").jammed);
    let s = said("far flyer because wind gust note piece 3 was wet");
    assert_eq!(s.flyer.as_deref(), Some("wind gust"));
    assert_eq!(s.note.as_deref(), Some("piece 3 was wet"));
    assert_eq!(s.piece, None, "a note is not read");
    let s = said("turned 2 left exit 7.9m/s exit 62deg");
    assert!((s.turned_rad.unwrap() - 2_f64.to_radians()).abs() < 1e-12);
    assert_eq!(s.exit_speed_mps, Some(7.9));
}

#[test]
fn the_order_is_free() {
    let parts = [
        "far",
        "3490",
        "in",
        "12.4V",
        "piece 3",
        "throw 2 of 4",
        "before 3480",
        "fall 1.2s",
    ];
    let first = said(&parts.join(" "));
    for turn in 1..parts.len() {
        let mut turned = parts;
        turned.rotate_left(turn);
        // `3490 in` and `1.2s far` stay unambiguous in every order.
        assert_eq!(said(&turned.join(" ")), first, "{turned:?}");
        turned.reverse();
        assert_eq!(said(&turned.join(" ")), first, "{turned:?}");
    }
}

#[test]
fn in_is_inches_behind_an_amount_of_a_length_and_an_outcome_elsewhere() {
    let s = said("far long 12 in left 5 in");
    assert!((s.along_m.unwrap() - 0.3048).abs() < 1e-12 && s.outcome.is_none());
    let s = said("far in long 12 in");
    assert_eq!(s.outcome, Some(Outcome::In));
    assert_eq!(said("far 3490 in").outcome, Some(Outcome::In));
    let s = said("far land 13ft 10in right 3 1/2 in");
    assert!((s.land_m.unwrap() - (13.0 * 0.3048 + 0.254)).abs() < 1e-12);
    assert!((s.across_m.unwrap() + 3.5 * 0.0254).abs() < 1e-12);
}

#[test]
fn a_beginning_that_fits_one_spot_is_enough_and_a_word_of_its_own_is_not_a_spot() {
    assert_eq!(said("f in").place, far());
    assert_eq!(said("FAR in").place, far());
    assert_eq!(said("at far in").place, far());
    assert_eq!(
        said("left corner in").place,
        Some(Place::Spot("left corner".into()))
    );
    assert_eq!(said("far left").outcome, Some(Outcome::Left));
    assert_eq!(said("from 3.2m in").place, Some(Place::Distance(3.2)));
    assert_eq!(code("nowhere in"), "not-understood");
    assert_eq!(code("spot nowhere in"), "no-such-spot");
    let twins = ["north gate".to_string(), "north quay".to_string()];
    let f = read("north in", &twins, false).unwrap_err();
    assert_eq!(f.code, "two-readings");
    assert!(f.what.contains("north gate") && f.what.contains("north quay"));
}

#[test]
fn a_spot_with_the_name_of_a_word_asks_which_is_meant() {
    let odd = ["short".to_string(), "far".to_string()];
    let f = read("short in", &odd, false);
    // `short` as outcome and `in` as outcome cannot both be: one reading is left.
    assert_eq!(f.unwrap().place, Some(Place::Spot("short".into())));
    let f = read("short 3490", &odd, false).unwrap_err();
    assert_eq!(f.code, "two-readings");
    assert_eq!(
        read("spot short 3490", &odd, false).unwrap().place,
        Some(Place::Spot("short".into()))
    );
}

#[test]
fn what_can_be_read_in_two_ways_is_refused_with_both() {
    let f = read("far long 12cm left", &spots(), false).unwrap_err();
    assert_eq!(f.code, "two-readings");
    assert!(
        f.what.contains("long 12cm, left") && f.what.contains("long, 12cm left"),
        "{}",
        f.what
    );
    assert_eq!(code("far land 4.2m long 12cm left 3cm"), "two-readings");
}

#[test]
fn a_number_in_a_wrong_place_says_what_it_could_mean() {
    for (line, could) in [
        ("far 12", "wheel 12"),
        ("far 12", "12 V"),
        ("far 12", "piece 12"),
        ("far 1.2", "fall 1.2"),
        ("far 12cm", "long 12cm"),
        ("far 12cm", "land 12cm"),
        ("far 12 in", "land 12 in"),
        ("far 12 in", "wheel 12"),
        ("far 8deg in", "tilt 8deg"),
    ] {
        let f = read(line, &spots(), false).unwrap_err();
        assert_eq!(f.code, "stray-number", "{line}");
        assert!(f.fix.contains(could), "{line}: no {could:?} in {}", f.fix);
    }
}

#[test]
fn slips_are_told_apart() {
    for (line, expected) in [
        ("far in in", "said-twice"),
        ("far near in", "said-twice"),
        ("far 3490 3500 in", "said-twice"),
        ("far in 12V 13V", "said-twice"),
        ("far short left", "half-said"),
        ("far short left 5cm", "half-said"),
        ("far long -5cm", "minus"),
        ("far land 4.21", "amount-missing"),
        ("far land 4,21m", "amount-missing"),
        ("far fall 12cm", "amount-missing"),
        ("far piece red", "amount-missing"),
        ("far flyer", "no-reason"),
        ("far flyer because", "no-reason"),
        ("far without wall", "amount-missing"),
        ("far lnog 5cm", "not-understood"),
        ("far in 12 parsec", "not-understood"),
    ] {
        assert_eq!(code(line), expected, "{line}");
    }
    let f = read("far lnog", &spots(), false).unwrap_err();
    assert!(f.fix.contains("`long`"), "{}", f.fix);
    assert_eq!(code(&"far ".repeat(1000)), "too-long");
}

#[test]
fn an_edit_can_take_out() {
    let s = read("without wall without note long 3cm", &spots(), true).unwrap();
    assert_eq!(s.without, [Field::Wall, Field::Note]);
    assert!(read("without hat", &spots(), true).is_err());
}

proptest! {
    #[test]
    fn no_line_makes_it_fall_over(line in "\\PC{0,200}") {
        let _ = read(&line, &spots(), true);
    }

    #[test]
    fn no_heap_of_known_words_makes_it_fall_over_or_take_long(
        picks in prop::collection::vec(0usize..60, 0..40)
    ) {
        let mut words: Vec<&str> = clause::WORDS.to_vec();
        words.extend(["3490", "12", "12cm", "5 in", "in", "m", "1/2", "V", "of", "to", "at", "far", "left", "s", "ft"]);
        let line: Vec<&str> = picks.iter().map(|i| words[i % words.len()]).collect();
        let _ = read(&line.join(" "), &spots(), true);
    }
}
