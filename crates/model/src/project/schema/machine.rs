//! Keys of the machine: launcher, wheel, setting, knobs, motor, battery, controller, robot.

use super::brief::{ANY, DEG, EXACT, VARIES, q, row};
use super::reach::{
    GAP, GUIDE_ERROR, GUIDE_WAVELENGTH, NOWHERE, PART_COUNT, PART_DIAMETER, PART_INERTIA, PART_INNER,
    PART_MASS, SHEET_THICKNESS, SQUEEZE, at, count, each, layout, maybe, maybe_count, set_gaps, set_travel,
    travel,
};
use super::{Access, Entry, Kind, Need, When};
use crate::launcher::wheel_stress::WheelMaterial;
use crate::launcher::{Layout, MOST_GAPS};
use crate::project::{Project, SheetMaterial, blank};
use crate::units::Dimension as D;
use crate::units::show::Scale::{Auto, Large, Small};

/// Common practice, no source: a hood plate bends over a form a little smaller than the piece.
const HOOD_BEND_OVER_DIAMETER: f64 = 0.7;

fn hood_bend(p: &Project) -> f64 {
    HOOD_BEND_OVER_DIAMETER * p.piece.diameter_m
}

fn set_layout(p: &mut Project, _: usize, word: &str) -> bool {
    let Some(layout) = blank::layout(word) else {
        return false;
    };
    p.machine.layout = layout;
    true
}

fn set_material(p: &mut Project, _: usize, word: &str) -> bool {
    let material = match word {
        "polycarbonate" => SheetMaterial::Polycarbonate,
        "acrylic" => SheetMaterial::Acrylic,
        "corrugated" => SheetMaterial::Corrugated,
        _ => return false,
    };
    p.machine.sheet.as_mut().map(|s| s.material = material).is_some()
}

fn set_cut_material(p: &mut Project, _: usize, word: &str) {
    p.cut.material = word.to_string();
}

fn set_part_kind(p: &mut Project, i: usize, word: &str) -> bool {
    let Some(shape) = blank::shape(word) else {
        return false;
    };
    p.machine
        .parts
        .get_mut(i)
        .map(|part: &mut _| part.shape = shape)
        .is_some()
}

fn set_wheel_material(p: &mut Project, i: usize, word: &str) -> bool {
    let Some((material, _)) = WheelMaterial::ALL.iter().find(|(_, w)| *w == word) else {
        return false;
    };
    let part = p.machine.parts.get_mut(i);
    part.map(|part| part.material = Some(*material)).is_some()
}

/// Rows of the machine.
#[rustfmt::skip]
pub(super) const ENTRIES: &[Entry] = &[
    row("launcher.layout", Kind::Choice(&["guide", "pair"], set_layout), Need::Required, When::Always, ANY, EXACT, "\"guide\"",
        "One wheel and a fixed curved guide, or two opposed wheels.", NOWHERE),
    row("launcher.axle_height", q(D::Length, Small), Need::Required, When::Always, [0.0, 5.0], VARIES, "\"300 mm\"",
        "Height of the (lower) wheel axle above the floor.", at!(machine.axle_height_m)),
    row("launcher.squeeze", q(D::Length, Small), Need::OneOf("launcher.gap"), When::Always, [0.000_1, 0.4], VARIES, "\"12 mm\"",
        "How much the piece is pressed together: its diameter minus the gap, at the end of the guide.", SQUEEZE),
    row("launcher.gap", q(D::Length, Small), Need::OneOf("launcher.squeeze"), When::Always, [0.000_5, 1.0], VARIES, "\"100 mm\"",
        "Gap between wheel and guide at its end (or between the two wheels), in place of `squeeze`.", GAP),
    row("launcher.entry_relief", q(D::Length, Small), Need::Default(0.0, 0.0), When::Guide, [-0.2, 0.2], EXACT, "\"2 mm\"",
        "How much less the piece is squeezed where it comes in than at the end of the guide; in between evenly more. Negative presses it more at first.", layout!(Guide, entry_relief_m)),
    row("launcher.wrap", q(D::Angle, Auto), Need::Required, When::Guide, [2.0 * DEG, 330.0 * DEG], VARIES, "\"110 deg\"",
        "Angle about the axle over which the guide runs around the wheel.", layout!(Guide, wrap_rad)),
    row("launcher.end_angle", q(D::Angle, Auto), Need::Required, When::Guide, [-45.0 * DEG, 150.0 * DEG], VARIES, "\"66 deg\"",
        "Direction in which the end of the guide points, above the level.", layout!(Guide, end_angle_rad)),
    row("launcher.guide_friction", q(D::Number, Auto), Need::Default(0.35, 0.17), When::Guide, [0.0, 3.0], VARIES, "0.35",
        "Friction of the piece on guide and hood.", layout!(Guide, friction_coeff)),
    row("launcher.hood_bend", q(D::Length, Small), Need::From(hood_bend, "0.7 of the piece's diameter"), When::Guide, [0.001, 5.0], VARIES, "\"80 mm\"",
        "Radius over which the hood plate bends where it leaves the guide.", layout!(Guide, hood_bend_m)),
    row("launcher.direction", q(D::Angle, Auto), Need::Required, When::Pair, [-45.0 * DEG, 120.0 * DEG], VARIES, "\"52 deg\"",
        "Direction of the throw above the level, at tilt 0.", layout!(Pair, direction_rad)),
    row("launcher.upper_speed", q(D::Ratio, Auto), Need::Default(1.0, 0.0), When::Pair, [0.0, 3.0], VARIES, "\"80 %\"",
        "Speed of the upper wheel as a share of the lower one's; below 100 % gives backspin.", layout!(Pair, upper_speed_ratio)),
    row("launcher.feed_speed", q(D::Speed, Auto), Need::Default(1.0, 0.0), When::Always, [0.0, 20.0], VARIES, "\"1.0 m/s\"",
        "Speed at which the feed pushes the piece in.", at!(machine.feed_speed_mps)),
    row("launcher.feed_push", q(D::Force, Auto), Need::Default(15.0, 0.0), When::Always, [0.0, 2000.0], VARIES, "\"15 N\"",
        "Greatest force with which it pushes.", at!(machine.feed_push_n)),
    row("launcher.rolling_loss", q(D::Number, Auto), Need::Default(0.01, 0.5), When::Always, [0.0, 0.5], VARIES, "0.01",
        "Rolling loss: torque over radius times force.", at!(machine.rolling_coeff)),
    row("launcher.speed_transfer", q(D::Number, Auto), Need::Default(1.0, 0.05), When::Always, [0.2, 2.0], VARIES, "1.0",
        "Exit speed over computed exit speed; test shots correct it.", at!(machine.speed_transfer_ratio)),
    row("launcher.exit_offset", q(D::Angle, Auto), Need::Default(0.0, 0.0), When::Always, [-30.0 * DEG, 30.0 * DEG], VARIES, "\"0.5 deg\"",
        "How much steeper than computed it leaves; test shots tell it.", at!(machine.exit_offset_rad)),
    row("launcher.aim_offset", q(D::Angle, Auto), Need::Default(0.0, 0.0), When::Always, [-30.0 * DEG, 30.0 * DEG], VARIES, "\"0.5 deg\"",
        "How far to the left of straight ahead it throws; test shots tell it.", at!(machine.aim_offset_rad)),

    row("launcher.guide_error", q(D::Length, Small), Need::Default(0.0, 0.0), When::Guide, [0.0, 0.05], VARIES, "\"0.5 mm\"",
        "How far the hand-formed guide strays from its arc to each side, in high and low spots that follow each other.", GUIDE_ERROR),
    row("launcher.guide_wavelength", q(D::Length, Small), Need::Optional, When::Guide, [0.005, 10.0], VARIES, "\"90 mm\"",
        "Distance along the guide from one high spot to the next; needed with `guide_error`.", GUIDE_WAVELENGTH),
    row("launcher.gaps", Kind::List(D::Length, Small, [2, MOST_GAPS], set_gaps), Need::InsteadOf("launcher.guide_error"), When::Guide, [0.000_5, 1.0], EXACT, "[\"100 mm\", \"100.6 mm\", \"99.5 mm\"]",
        "Gaps measured at 2 to 24 evenly spaced places from the start of the guide to its end, in place of `guide_error`.", NOWHERE),

    row("launcher.sheet.material", Kind::Choice(&["polycarbonate", "acrylic", "corrugated"], set_material), Need::Required, When::Always, ANY, EXACT, "\"polycarbonate\"",
        "Material of the guide's sheet.", NOWHERE),
    row("launcher.sheet.thickness", q(D::Length, Small), Need::Required, When::Always, [0.000_05, 0.05], VARIES, "\"1.0 mm\"",
        "Its thickness.", SHEET_THICKNESS),

    row("wheel.diameter", q(D::Length, Small), Need::Required, When::Always, [0.005, 2.0], VARIES, "\"96 mm\"",
        "Diameter, loaded, at speed.", at!(machine.wheel.diameter_m)),
    row("wheel.width", q(D::Length, Small), Need::Required, When::Always, [0.001, 1.0], VARIES, "\"40 mm\"",
        "Width of one wheel; narrow ones drop into holes.", at!(machine.wheel.width_m)),
    row("wheel.count", Kind::Count, Need::Default(1.0, 0.0), When::Always, [1.0, 20.0], EXACT, "1",
        "Wheels side by side on a shaft.", count!(machine.wheel.count)),
    row("wheel.gap", q(D::Length, Small), Need::Default(0.0, 0.0), When::Always, [0.0, 1.0], VARIES, "\"10 mm\"",
        "Free space between wheels side by side; with a `count` above 1.", at!(machine.wheel.gap_m)),
    row("wheel.friction", q(D::Number, Auto), Need::Default(0.8, 0.2), When::Always, [0.01, 5.0], VARIES, "0.9",
        "Friction of the piece on the wheel: the tangent of the slope at which it starts to slip.", at!(machine.wheel.friction_coeff)),
    row("wheel.rim_limit", q(D::Speed, Auto), Need::Optional, When::Always, [0.5, 500.0], EXACT, "\"40 m/s\"",
        "Highest rim speed that its maker or material allows.", at!(machine.wheel.rim_limit_mps)),

    row("wheel.part[].kind", Kind::Choice(&["disc", "ring", "annulus", "known"], set_part_kind), Need::Required, When::Always, ANY, EXACT, "\"disc\"",
        "Solid disc, thin ring, disc with a large hole, or a part whose inertia is known.", NOWHERE),
    row("wheel.part[].mass", q(D::Mass, Small), Need::Required, When::Weighed, [0.000_01, 100.0], VARIES, "\"250 g\"",
        "Mass of one.", PART_MASS),
    row("wheel.part[].diameter", q(D::Length, Small), Need::Required, When::DiscOrRing, [0.000_5, 2.0], VARIES, "\"96 mm\"",
        "Diameter of the disc, or of the ring at the middle of its thickness.", PART_DIAMETER),
    row("wheel.part[].outer_diameter", q(D::Length, Small), Need::Required, When::Annulus, [0.000_5, 2.0], VARIES, "\"96 mm\"",
        "Outer diameter.", PART_DIAMETER),
    row("wheel.part[].inner_diameter", q(D::Length, Small), Need::Required, When::Annulus, [0.0, 2.0], VARIES, "\"60 mm\"",
        "Inner diameter.", PART_INNER),
    row("wheel.part[].inertia", q(D::Inertia, Auto), Need::Required, When::Known, [0.0, 10.0], VARIES, "\"3 kg cm^2\"",
        "Moment of inertia about the shaft.", PART_INERTIA),
    row("wheel.part[].material", Kind::Choice(&["polycarbonate", "acetal", "nylon", "printed", "aluminium", "steel"], set_wheel_material), Need::Optional, When::Weighed, ANY, EXACT, "\"polycarbonate\"",
        "What it is made of: the stress of turning is then checked against it. `printed` is printed plastic in layers.", NOWHERE),
    row("wheel.part[].count", Kind::Count, Need::Default(1.0, 0.0), When::Always, [1.0, 200.0], EXACT, "1",
        "How many of them.", PART_COUNT),
    row("wheel.part[].speed_ratio", q(D::Number, Auto), Need::Default(1.0, 0.0), When::Always, [0.001, 1000.0], VARIES, "1.0",
        "Speed of the part over the wheel's speed.", each!(machine.parts, speed_ratio)),

    row("setting.slide", q(D::Length, Small), Need::Default(0.0, 0.0), When::Guide, [-1.0, 1.0], VARIES, "\"0 mm\"",
        "Hood plate moved forward (closing onto the piece) from flush with the guide's end.", at!(machine.setting.slide_m)),
    row("setting.tilt", q(D::Angle, Auto), Need::Default(0.0, 0.0), When::Always, [-90.0 * DEG, 120.0 * DEG], VARIES, "\"8 deg\"",
        "Hood plate turned toward the piece, or a wheel pair turned down: lowers the throw.", at!(machine.setting.tilt_rad)),
    row("setting.reach", q(D::Length, Small), Need::Default(0.0, 0.0), When::Guide, [0.0, 2.0], VARIES, "\"60 mm\"",
        "Length of the hood plate beyond the guide.", at!(machine.setting.reach_m)),

    row("knobs.slide.range", Kind::Pair(D::Length, Small, |p, r| set_travel(&mut p.machine.knobs.slide, r)), Need::Required, When::Guide, [-1.0, 1.0], EXACT, "[\"-10 mm\", \"10 mm\"]",
        "Lowest and highest value.", NOWHERE),
    row("knobs.slide.step", q(D::Length, Small), Need::Default(0.0, 0.0), When::Guide, [0.0, 1.0], EXACT, "\"1 mm\"",
        "Step in which it can be set, counted from the lowest value; stepless if not written.", travel!(slide, step)),
    row("knobs.slide.repeat", q(D::Length, Small), Need::Default(0.0, 0.0), When::Guide, [0.0, 1.0], EXACT, "\"0.3 mm\"",
        "How well it comes back to a mark (standard deviation).", travel!(slide, repeat)),
    row("knobs.tilt.range", Kind::Pair(D::Angle, Auto, |p, r| set_travel(&mut p.machine.knobs.tilt, r)), Need::Required, When::Always, [-90.0 * DEG, 120.0 * DEG], EXACT, "[\"0 deg\", \"25 deg\"]",
        "Lowest and highest value.", NOWHERE),
    row("knobs.tilt.step", q(D::Angle, Auto), Need::Default(0.0, 0.0), When::Always, [0.0, 90.0 * DEG], EXACT, "\"1 deg\"",
        "Step in which it can be set, counted from the lowest value; stepless if not written.", travel!(tilt, step)),
    row("knobs.tilt.repeat", q(D::Angle, Auto), Need::Default(0.0, 0.0), When::Always, [0.0, 90.0 * DEG], EXACT, "\"0.2 deg\"",
        "How well it comes back to a mark (standard deviation).", travel!(tilt, repeat)),
    row("knobs.reach.range", Kind::Pair(D::Length, Small, |p, r| set_travel(&mut p.machine.knobs.reach, r)), Need::Required, When::Guide, [0.0, 2.0], EXACT, "[\"20 mm\", \"120 mm\"]",
        "Lowest and highest value.", NOWHERE),
    row("knobs.reach.step", q(D::Length, Small), Need::Default(0.0, 0.0), When::Guide, [0.0, 2.0], EXACT, "\"5 mm\"",
        "Step in which it can be set, counted from the lowest value; stepless if not written.", travel!(reach, step)),
    row("knobs.reach.repeat", q(D::Length, Small), Need::Default(0.0, 0.0), When::Guide, [0.0, 2.0], EXACT, "\"0.5 mm\"",
        "How well it comes back to a mark (standard deviation).", travel!(reach, repeat)),

    row("motor.nominal", q(D::Voltage, Auto), Need::Required, When::Always, [0.5, 200.0], EXACT, "\"12 V\"",
        "Voltage that the sheet is for.", at!(machine.drive.motor.nominal_v)),
    row("motor.free_speed", q(D::AngularSpeed, Auto), Need::Required, When::Always, [1.0, 30_000.0], VARIES, "\"6000 rpm\"",
        "Speed without load.", at!(machine.drive.motor.free_radps)),
    row("motor.free_current", q(D::Current, Auto), Need::Required, When::Always, [0.0, 200.0], VARIES, "\"1.2 A\"",
        "Current without load.", at!(machine.drive.motor.free_a)),
    row("motor.stall_torque", q(D::Torque, Auto), Need::Required, When::Always, [0.000_1, 1000.0], VARIES, "\"1.1 N m\"",
        "Torque when held still.", at!(machine.drive.motor.stall_nm)),
    row("motor.stall_current", q(D::Current, Auto), Need::Required, When::Always, [0.01, 5000.0], VARIES, "\"60 A\"",
        "Current when held still.", at!(machine.drive.motor.stall_a)),
    row("motor.rotor_inertia", q(D::Inertia, Auto), Need::Required, When::Always, [0.0, 0.1], VARIES, "\"0.2 kg cm^2\"",
        "Inertia of the turning part of the motor.", at!(machine.drive.motor.rotor_kgm2)),
    row("motor.count", Kind::Count, Need::Default(1.0, 0.0), When::Always, [1.0, 20.0], EXACT, "1",
        "Motors on each wheel shaft.", count!(machine.drive.motor_count)),
    row("motor.ratio", q(D::Number, Auto), Need::Default(1.0, 0.0), When::Always, [0.01, 500.0], VARIES, "1.0",
        "Motor speed over wheel speed.", at!(machine.drive.gear_ratio)),
    row("motor.efficiency", q(D::Ratio, Auto), Need::Default(0.95, 0.0), When::Always, [0.05, 1.0], VARIES, "\"95 %\"",
        "Share of the motor's power that reaches the wheel shaft.", at!(machine.drive.gear_efficiency_frac)),
    row("motor.current_limit", q(D::Current, Auto), Need::Optional, When::Always, [0.1, 5000.0], EXACT, "\"40 A\"",
        "Current that the motor controller allows each motor.", at!(machine.drive.limit_a)),

    row("battery.open_voltage", q(D::Voltage, Auto), Need::Required, When::Always, [0.5, 200.0], VARIES, "\"12.7 V\"",
        "Voltage at the terminals with nothing switched on.", at!(machine.battery.open_v)),
    row("battery.resistance", q(D::Resistance, Auto), Need::Required, When::Always, [0.0, 5.0], VARIES, "\"18 mohm\"",
        "Inner resistance with wires, connectors and switch.", at!(machine.battery.resistance_ohm)),
    row("battery.brown_out", q(D::Voltage, Auto), Need::Default(6.8, 0.0), When::Always, [0.0, 200.0], EXACT, "\"6.8 V\"",
        "Voltage below which the electronics reset.", at!(machine.battery.brown_out_v)),

    row("controller.period", q(D::Time, Small), Need::Default(0.02, 0.0), When::Always, [0.000_1, 1.0], VARIES, "\"20 ms\"",
        "Time between two steps of the speed loop.", at!(machine.controller.period_s)),
    row("controller.delay", q(D::Time, Small), Need::Default(0.01, 0.0), When::Always, [0.0, 1.0], VARIES, "\"10 ms\"",
        "Time between measuring and acting.", at!(machine.controller.delay_s)),
    row("controller.average", Kind::Count, Need::Default(1.0, 0.0), When::Always, [1.0, 1000.0], EXACT, "1",
        "Speed readings that are averaged.", count!(machine.controller.average_count)),
    row("controller.feed_forward", q(D::Ratio, Auto), Need::Default(1.0, 0.0), When::Always, [0.0, 2.0], EXACT, "\"100 %\"",
        "Share of the holding voltage that is applied without waiting for an error.", at!(machine.controller.feed_forward_ratio)),
    row("controller.kp", q(D::ProportionalGain, Auto), Need::Default(0.06, 0.0), When::Always, [0.0, 1000.0], EXACT, "\"0.06 V s/rad\"",
        "Volts for each rad/s of error.", at!(machine.controller.kp_vs)),
    row("controller.ki", q(D::IntegralGain, Auto), Need::Default(0.1, 0.0), When::Always, [0.0, 100_000.0], EXACT, "\"0.1 V/rad\"",
        "Volts for each rad/s of error that lasts one second.", at!(machine.controller.ki_v)),
    row("controller.brakes", Kind::Flag(|p, yes| p.machine.controller.brakes = yes), Need::Optional, When::Always, ANY, EXACT, "false",
        "Does it brake when the wheel is too fast? false if not written.", NOWHERE),
    row("controller.ready", q(D::Ratio, Auto), Need::Default(0.01, 0.0), When::Always, [0.000_1, 0.5], EXACT, "\"1 %\"",
        "How near the setpoint counts as ready.", at!(machine.controller.ready_frac)),

    row("robot.length", q(D::Length, Small), Need::Optional, When::Always, [0.02, 20.0], VARIES, "\"500 mm\"",
        "Length of the robot, stowed.", maybe!(machine.length_m)),
    row("robot.width", q(D::Length, Small), Need::Optional, When::Always, [0.02, 20.0], VARIES, "\"460 mm\"",
        "Width, stowed.", maybe!(machine.width_m)),
    row("robot.height", q(D::Length, Small), Need::Optional, When::Always, [0.02, 20.0], VARIES, "\"600 mm\"",
        "Height, stowed.", maybe!(machine.height_m)),
    row("robot.mass", q(D::Mass, Large), Need::Optional, When::Always, [0.05, 1000.0], VARIES, "\"13.6 kg\"",
        "Mass, ready to run.", maybe!(machine.mass_kg)),
    row("robot.other_motors", Kind::Count, Need::Optional, When::Always, [0.0, 100.0], EXACT, "6",
        "Motors besides those of the launcher's wheels.", maybe_count!(machine.other_motor_count)),
    row("robot.other_current", q(D::Current, Auto), Need::Default(0.0, 0.0), When::Always, [0.0, 2000.0], VARIES, "\"6 A\"",
        "Current that everything else draws while throwing.", at!(machine.other_current_a)),

    row("cut.material", Kind::Text(set_cut_material), Need::Optional, When::Always, ANY, EXACT, "\"polycarbonate\"",
        "What the plates are cut from, in your own words.", NOWHERE),
    row("cut.thickness", q(D::Length, Small), Need::Default(0.004, 0.0), When::Always, [0.000_2, 0.05], EXACT, "\"4 mm\"",
        "Thickness of the plates.", at!(cut.thickness_m)),
    row("cut.kerf", q(D::Length, Small), Need::Default(0.0, 0.0), When::Always, [0.0, 0.01], EXACT, "\"0.2 mm\"",
        "Width that the cutter takes away when it follows the line; 0 where you cut beside the line by hand.", at!(cut.kerf_m)),
    row("cut.hole_diameter", q(D::Length, Small), Need::Default(0.005, 0.0), When::Always, [0.000_5, 0.03], EXACT, "\"5 mm\"",
        "Diameter of your kit's holes.", at!(cut.hole_diameter_m)),
    row("cut.hole_pitch", q(D::Length, Small), Need::Default(0.02, 0.0), When::Always, [0.002, 0.2], EXACT, "\"20 mm\"",
        "Distance from the middle of one hole to the next.", at!(cut.hole_pitch_m)),
    row("cut.axle_hole", q(D::Length, Small), Need::Optional, When::Always, [0.001, 0.2], EXACT, "\"22 mm\"",
        "Hole for the wheel's axle or its bearing; a cross to drill by if not written.", maybe!(cut.axle_hole_m)),
    row("cut.margin", q(D::Length, Small), Need::Default(0.025, 0.0), When::Always, [0.003, 0.3], EXACT, "\"25 mm\"",
        "Material left around the guide and around holes.", at!(cut.margin_m)),
    row("cut.side_play", q(D::Length, Small), Need::Default(0.004, 0.0), When::Always, [0.0, 0.2], EXACT, "\"4 mm\"",
        "Free space beside the piece, both sides together: how much farther apart the side plates stand than the piece is wide.", at!(cut.side_play_m)),
];
