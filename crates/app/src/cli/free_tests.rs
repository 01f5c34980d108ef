use arcwright_model::project::{Choices, Freed, Project};

use super::parse_free;
use crate::project::{DEMOS, parse};

fn lantern() -> Project {
    parse("lantern", DEMOS[0].text).unwrap().project
}

fn freed(text: &str) -> Freed {
    parse_free(&lantern(), text).unwrap_or_else(|f| panic!("{text}: {} {}", f.what, f.fix))
}

/// Code, and what the fix must say.
fn refused(text: &str, code: &str, fix: &str) {
    let finding = parse_free(&lantern(), text).expect_err(text);
    assert_eq!(finding.code, code, "{text}: {}", finding.what);
    assert!(finding.fix.contains(fix), "{text}: {}", finding.fix);
}

#[test]
fn a_range_with_its_step_is_read_in_any_unit() {
    let Choices::Steps { low, high, step } = freed("wheel.diameter=80mm..120mm/4mm").choices else {
        panic!()
    };
    assert_eq!([low, high, step], [0.08, 0.12, 0.004]);
    assert_eq!(
        freed("wheel.diameter = 80 mm .. 120 mm / 4 mm").values().len(),
        11
    );
    // An inch is 25.4 mm by definition.
    let inches = freed("wheel.diameter=3in..4in/1/2in").values();
    assert!(
        (inches[1] - 3.5 * 0.0254).abs() < 1e-12 && inches.len() == 3,
        "{inches:?}"
    );
    assert_eq!(freed("setting.tilt=0deg..25deg/1deg").values().len(), 26);
    assert_eq!(freed("setting.slide=-10mm..10mm/1mm").values()[10], 0.0);
}

#[test]
fn a_slash_of_a_unit_is_not_the_one_before_the_step() {
    let speeds = freed("launcher.feed_speed=1m/s..2m/s/0.5m/s").values();
    assert_eq!(speeds, [1.0, 1.5, 2.0]);
}

#[test]
fn a_list_keeps_its_order_and_gears_become_ratios() {
    assert_eq!(freed("motor.ratio=0.75,1,1.25").values(), [0.75, 1.0, 1.25]);
    assert_eq!(freed("motor.ratio=16:40,18:36").values(), [2.5, 2.0]);
    assert_eq!(freed("wheel.count=1,2").values(), [1.0, 2.0]);
}

#[test]
fn what_cannot_be_read_says_how_to_write_it() {
    refused("wheel.diameter", "missing-key", "wheel.diameter=80mm..120mm/4mm");
    refused("wheel.diamter=80mm..120mm/4mm", "unknown-key", "`wheel.diameter`");
    refused("target.width=400mm..600mm/10mm", "not-to-free", "take it out");
    refused("wheel.diameter=80..120/4", "no-unit", "mm");
    refused("wheel.diameter=80mm..120mm", "missing-key", "step");
    refused("wheel.diameter=80mm..120g/4mm", "wrong-unit", "mm");
    refused("wheel.diameter=80mm..120mm/4g", "wrong-unit", "mm");
    refused(
        "wheel.diameter=120mm..80mm/4mm",
        "bad-range",
        "lower value before",
    );
    refused("wheel.diameter=80mm..120mm/0mm", "bad-step", "how far apart");
    refused("wheel.diameter=", "no-choices", "96 mm");
    refused("wheel.count=1,1.5", "wrong-type", "1 or 2");
    refused("motor.ratio=16:0", "wrong-type", "16:40");
    refused("motor.ratio=0..3/4/8", "bad-number", "decimals");
}
