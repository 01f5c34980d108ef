//! The cautions that go with every verdict.

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
