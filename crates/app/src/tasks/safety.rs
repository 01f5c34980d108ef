//! The cautions that go with every verdict.

use arcwright_model::limits::Report;
use arcwright_model::project::Project;
use arcwright_model::units::Dimension;

/// Shown under `check` and in the README.
pub const CAUTIONS: &[&str] = &[
    "Spinning wheels hold energy after the power is off: guard them all round, wait for standstill, keep hands, hair and sleeves away from the nip between wheel and guide.",
    "Thrown pieces and loose treads hurt eyes: eye protection for everyone in range, a clear lane, a net behind the target, nobody in line with the wheel, first spin-up from a distance and in steps.",
    "Batteries can burn: fuse next to the battery, covered terminals, no rings, the right charger, damaged packs out of service.",
    "Cutting and bending sheet: clamp the work, eye protection, no laser on PVC or polycarbonate; heat-forming is for someone equipped for it.",
];

/// Advice on guards, shown under `frame`. General, no containment design.
pub const GUARDS: &[&str] = &[
    "Guard wheels, gears, chains and belts with fixed covers that need a tool to take off; close the plane of rotation all round, and keep openings too small for a finger to reach what turns.",
    "First runs at full speed in steps, from a distance, behind a barrier, nobody in the plane of the wheel; look for cracks, loose treads and screws afterwards; a second fixing on every hub.",
    "Lift the robot onto blocks before the drive is switched on at the bench; agree on one person at the switch; strap the battery so that it cannot fly out or short.",
];

/// Which rules come first.
pub const DEFERS: &str = "Estimates for planning only; they do not show that a machine is safe. Where the event's rules, local codes or the supervising adult or licensed professional say otherwise, they govern.";

/// To two digits: a planning figure is no better.
fn two_digits(value: f64) -> f64 {
    if !(value.is_finite() && value != 0.0) {
        return value;
    }
    let unit = 10f64.powf(value.abs().log10().floor() - 1.0);
    (value / unit).round() * unit
}

/// What can hurt, in numbers.
pub fn hazards(project: &Project, report: &Report) -> String {
    let h = &report.hazards;
    let say = |v, d| project.say(v, d);
    let mut numbers = format!(
        "At its top speed the launcher stores about {} and turns on for about {} after the power is off",
        say(two_digits(h.stored_j), Dimension::Energy),
        say(two_digits(h.coast_s), Dimension::Time)
    );
    match h.piece_j {
        Some(j) => numbers.push_str(&format!(
            "; a thrown piece carries about {}.",
            say(two_digits(j), Dimension::Energy)
        )),
        None => numbers.push('.'),
    }
    numbers
}
