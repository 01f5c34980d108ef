//! Keys of the brief: piece, target, spots, limits, air.

use std::f64::consts::{FRAC_PI_2, PI};

use super::reach::{
    ACROSS, ALTITUDE, CENTRE_HEIGHT, DRAG, HOLE_COUNT, HOLE_DIAMETER, LAUNCHER_HEADING, LIFT, NOWHERE,
    SEAM_DEPTH, SEAM_WIDTH, SHELL, SPIN_DECAY, TARGET_WIDTH, at, count, each, maybe, maybe_count,
};
use super::{Access, Entry, Kind, Need, When};
use crate::project::{DriveBase, PieceKind, Project, UnitSystem};
use crate::target::Outline;
use crate::units::Dimension as D;
use crate::units::show::Scale::{Auto, Large, Small};

/// The newest format this program reads.
pub const NEWEST_FORMAT: f64 = 1.0;

/// One degree.
pub(super) const DEG: f64 = PI / 180.0;

/// Shorthand for the rows below.
#[allow(clippy::too_many_arguments)] // a table row, not a function anyone calls
pub(super) const fn row(
    key: &'static str,
    kind: Kind,
    need: Need,
    when: When,
    [low, high]: [f64; 2],
    spread: bool,
    example: &'static str,
    doc: &'static str,
    access: Access,
) -> Entry {
    Entry {
        key,
        kind,
        need,
        when,
        low,
        high,
        spread,
        example,
        doc,
        access,
    }
}

pub(super) const fn q(dimension: D, scale: crate::units::show::Scale) -> Kind {
    Kind::Quantity(dimension, scale)
}

pub(super) const ANY: [f64; 2] = [f64::NEG_INFINITY, f64::INFINITY];
pub(super) const VARIES: bool = true;
pub(super) const EXACT: bool = false;

fn set_kind(p: &mut Project, _: usize, word: &str) -> bool {
    let kind = match word {
        "foam" => PieceKind::Foam,
        "hollow" => PieceKind::Hollow,
        "perforated" => PieceKind::Perforated,
        "solid" => PieceKind::Solid,
        _ => return false,
    };
    p.piece.kind = kind;
    true
}

fn set_drive(p: &mut Project, _: usize, word: &str) -> bool {
    let drive = match word {
        "tank" => DriveBase::Tank,
        "sideways" => DriveBase::Sideways,
        _ => return false,
    };
    p.moving.drive = drive;
    true
}

fn set_outline(p: &mut Project, _: usize, word: &str) -> bool {
    let outline = match word {
        "rectangle" => Outline::Rectangle,
        "round" => Outline::Round,
        _ => return false,
    };
    p.target.outline = outline;
    true
}

fn set_units(p: &mut Project, _: usize, word: &str) -> bool {
    let units = match word {
        "metric" => UnitSystem::Metric,
        "us" => UnitSystem::Us,
        _ => return false,
    };
    p.units = units;
    true
}

fn set_name(p: &mut Project, _: usize, word: &str) {
    p.name = word.to_string();
}

fn set_spot_name(p: &mut Project, i: usize, word: &str) {
    if let Some(spot) = p.spots.get_mut(i) {
        spot.name = word.to_string();
    }
}

/// Power of the press curve: a thin shell or a perforated ball is near a spring, solid rubber is a
/// Hertz contact (1.5), foam stiffens a little. Judgement.
fn exponent(kind: PieceKind) -> (f64, f64) {
    match kind {
        PieceKind::Solid => (1.5, 0.0),
        PieceKind::Foam => (1.2, 0.0),
        PieceKind::Hollow | PieceKind::Perforated => (1.0, 0.0),
    }
}

/// Rebound from 1 m on a hard floor. Judgement; a drop test replaces it.
fn bounce(kind: PieceKind) -> (f64, f64) {
    match kind {
        PieceKind::Foam => (0.55, 0.2),
        PieceKind::Hollow => (0.75, 0.15),
        PieceKind::Perforated => (0.6, 0.2),
        PieceKind::Solid => (0.8, 0.1),
    }
}

/// Inner over outer radius. Judgement.
fn shell(kind: PieceKind) -> (f64, f64) {
    match kind {
        PieceKind::Foam | PieceKind::Solid => (0.0, 0.0),
        PieceKind::Hollow | PieceKind::Perforated => (0.97, 0.0),
    }
}

/// Constant drag coefficient, or 1 for the smooth-sphere curve. Judgement on published drag of
/// rough, fuzzy and perforated balls; see `docs/project-file.md`.
fn drag(kind: PieceKind) -> (f64, f64) {
    match kind {
        PieceKind::Foam => (0.47, 0.12),
        PieceKind::Perforated => (0.45, 0.15),
        PieceKind::Hollow | PieceKind::Solid => (1.0, 0.07),
    }
}

/// Multiplier on the lift law: rough skins lift as published, smooth ones less and less surely
/// (their lift may even turn around). Judgement.
fn lift(kind: PieceKind) -> (f64, f64) {
    match kind {
        PieceKind::Foam | PieceKind::Perforated => (1.0, 0.3),
        PieceKind::Hollow | PieceKind::Solid => (0.6, 0.6),
    }
}

fn depth(p: &Project) -> f64 {
    p.target.width_m
}

/// Drag from piece to piece and from one way of facing the air to another. Judgement: holes and seams
/// turn to the air differently each time.
fn throw_drag(kind: PieceKind) -> (f64, f64) {
    match kind {
        PieceKind::Perforated => (0.03, 0.0),
        PieceKind::Foam | PieceKind::Hollow | PieceKind::Solid => (0.02, 0.0),
    }
}

/// Stiffness from piece to piece. Judgement: moulded pieces are more alike than cut foam.
fn throw_stiffness(kind: PieceKind) -> (f64, f64) {
    match kind {
        PieceKind::Foam => (0.08, 0.0),
        PieceKind::Hollow | PieceKind::Perforated => (0.05, 0.0),
        PieceKind::Solid => (0.04, 0.0),
    }
}

/// Rows up to the limits.
#[rustfmt::skip]
pub(super) const FIRST: &[Entry] = &[
    row("format", Kind::Count, Need::Required, When::Always, [1.0, NEWEST_FORMAT], EXACT, "1",
        "Format of this file.", NOWHERE),
    row("name", Kind::Text(set_name), Need::Required, When::Always, ANY, EXACT, "\"Lantern Night\"",
        "Name of the project.", NOWHERE),
    row("units", Kind::Choice(&["metric", "us"], set_units), Need::Optional, When::Always, ANY, EXACT, "\"metric\"",
        "Units in which results are shown; metric if not written. Quantities may be written in either.", NOWHERE),

    row("piece.kind", Kind::Choice(&["foam", "hollow", "perforated", "solid"], set_kind), Need::Required, When::Always, ANY, EXACT, "\"perforated\"",
        "Foam ball, closed thin shell, shell with holes, or solid rubber; decides what is assumed below.", NOWHERE),
    row("piece.diameter", q(D::Length, Small), Need::Required, When::Always, [0.01, 0.6], VARIES, "\"112 mm\"",
        "Diameter when nothing presses on it.", at!(piece.diameter_m)),
    row("piece.mass", q(D::Mass, Small), Need::Required, When::Always, [0.000_2, 5.0], VARIES, "\"61 g\"",
        "Mass as a scale shows it.", at!(piece.mass_kg)),
    row("piece.stiffness", q(D::Stiffness, Auto), Need::Required, When::Always, [1.0, 1e6], VARIES, "\"3 N/mm\"",
        "Press test: force between two boards divided by how much it gives, at about the squeeze you use.", at!(piece.stiffness_npm)),
    row("piece.stiffness_exponent", q(D::Number, Auto), Need::ByKind(exponent), When::Always, [0.5, 3.0], VARIES, "1",
        "Force grows as squeeze to this power: 1 for a spring, 1.5 for solid rubber.", at!(piece.stiffness_exponent)),
    row("piece.bounce", q(D::Number, Auto), Need::ByKind(bounce), When::Always, [0.0, 1.0], VARIES, "0.6",
        "Drop test from 1 m on a hard floor: square root of rebound height over drop height.", at!(piece.bounce_coeff)),
    row("piece.shell", q(D::Number, Auto), Need::ByKind(shell), When::Always, [0.0, 0.999], VARIES, "0.95",
        "Inner over outer radius, for the inertia: 0 is solid throughout.", SHELL),
    row("piece.holes", Kind::Count, Need::Required, When::Perforated, [1.0, 2000.0], EXACT, "38",
        "How many round holes.", HOLE_COUNT),
    row("piece.hole_diameter", q(D::Length, Small), Need::Required, When::Perforated, [0.000_5, 0.3], VARIES, "\"14 mm\"",
        "Diameter of each hole.", HOLE_DIAMETER),
    row("piece.seam_width", q(D::Length, Small), Need::Optional, When::Always, [0.000_1, 0.2], VARIES, "\"2 mm\"",
        "Width of the groove, if one runs around the middle of the piece; with `seam_depth`.", SEAM_WIDTH),
    row("piece.seam_depth", q(D::Length, Small), Need::Optional, When::Always, [0.000_01, 0.1], VARIES, "\"0.5 mm\"",
        "Depth of that groove.", SEAM_DEPTH),
    row("piece.drag", Kind::Drag, Need::ByKind(drag), When::Always, [0.0, 2.0], VARIES, "0.45",
        "Drag coefficient, or \"smooth\" for the curve of a smooth sphere (its spread is then a share of the curve).", DRAG),
    row("piece.lift", q(D::Number, Auto), Need::ByKind(lift), When::Always, [-2.0, 4.0], VARIES, "1.0",
        "Multiplier on the lift of backspin; 0 for none.", LIFT),
    row("piece.spin_decay", q(D::Number, Auto), Need::Default(0.02, 0.35), When::Always, [0.0, 0.5], VARIES, "0.02",
        "Torque coefficient with which the air slows the spin; it hardly matters.", SPIN_DECAY),
    row("piece.carried_air", Kind::Flag(|p, yes| p.piece.carried_air = yes), Need::Optional, When::Always, ANY, EXACT, "true",
        "Count the air that the piece drags along; true if not written.", NOWHERE),

    row("target.shape", Kind::Choice(&["rectangle", "round"], set_outline), Need::Required, When::Always, ANY, EXACT, "\"rectangle\"",
        "Outline of the opening.", NOWHERE),
    row("target.rim_height", q(D::Length, Large), Need::OneOf("target.centre_height"), When::Always, [0.0, 30.0], VARIES, "\"1.14 m\"",
        "Height of the lowest point of the rim above the floor.", at!(target.rim_height_m)),
    row("target.centre_height", q(D::Length, Large), Need::OneOf("target.rim_height"), When::Always, [0.0, 30.0], VARIES, "\"1.6 m\"",
        "Height of the centre of the opening, in place of `rim_height`.", CENTRE_HEIGHT),
    row("target.width", q(D::Length, Small), Need::Required, When::Always, [0.01, 20.0], VARIES, "\"640 mm\"",
        "Size across, seen from the robot.", TARGET_WIDTH),
    row("target.depth", q(D::Length, Small), Need::From(depth, "the width"), When::Always, [0.01, 20.0], VARIES, "\"390 mm\"",
        "Size along; for an upright opening, its height.", at!(target.depth_m)),
    row("target.tilt", q(D::Angle, Auto), Need::Default(0.0, 0.0), When::Always, [0.0, FRAC_PI_2], VARIES, "\"0 deg\"",
        "0 deg lies flat and is entered from above; 90 deg stands upright.", at!(target.tilt_rad)),
    row("target.back_wall", q(D::Length, Small), Need::Default(0.0, 0.0), When::Always, [0.0, 10.0], VARIES, "\"350 mm\"",
        "Height of a wall behind the opening, above the far rim.", at!(target.back_wall_m)),
    row("target.side_walls", q(D::Length, Small), Need::Default(0.0, 0.0), When::Always, [0.0, 10.0], VARIES, "\"0 mm\"",
        "Height of walls beside the opening, above the rim.", at!(target.side_wall_m)),
    row("target.wall_bounce", q(D::Number, Auto), Need::Default(0.4, 0.25), When::Always, [0.0, 1.0], VARIES, "0.3",
        "How well the piece bounces off the walls: speed after over speed before.", at!(target.wall_bounce_coeff)),
    row("target.ceiling", q(D::Length, Large), Need::Optional, When::Always, [0.1, 100.0], VARIES, "\"4 m\"",
        "Height of a ceiling that the piece must not touch.", at!(target.ceiling_m)),

    row("spot[].name", Kind::Text(set_spot_name), Need::Required, When::Always, ANY, EXACT, "\"near\"",
        "Name of the spot; each its own.", NOWHERE),
    row("spot[].distance", q(D::Length, Large), Need::Required, When::Always, [-100.0, 100.0], VARIES, "\"1.1 m\"",
        "From the plumb line of the wheel axle to the near rim, along the target's axis.", each!(spots, distance_m)),
    row("spot[].offset", q(D::Length, Large), Need::Default(0.0, 0.0), When::Always, [-50.0, 50.0], VARIES, "\"0 m\"",
        "How far the spot is to the left of the target's axis; negative to the right.", each!(spots, offset_m)),
    row("spot[].heading", q(D::Angle, Auto), Need::Default(0.0, 0.0), When::Always, [-FRAC_PI_2, FRAC_PI_2], VARIES, "\"0 deg\"",
        "Error of heading once lined up with the centre of the target; its `sd` says how well the drivers line up.", each!(spots, heading_rad)),

    row("moving.drive", Kind::Choice(&["tank", "sideways"], set_drive), Need::Required, When::Always, ANY, EXACT, "\"sideways\"",
        "How the robot can drive: `tank` along its own forward axis only, `sideways` in any direction whichever way it faces.", NOWHERE),
    row("moving.along", q(D::Speed, Auto), Need::Default(0.0, 0.0), When::Always, [-15.0, 15.0], VARIES, "\"0.8 m/s\"",
        "Speed toward the centre of the opening, negative away from it; for a tank, forward along its own axis, negative backward. Its `sd` says how well the robot holds and knows its speed.", at!(moving.along_mps)),
    row("moving.across", q(D::Speed, Auto), Need::Default(0.0, 0.0), When::Sideways, [-15.0, 15.0], VARIES, "\"0 m/s\"",
        "Speed to the left of the line to the centre of the opening; negative to the right.", ACROSS),
    row("moving.turn_rate", q(D::TurnRate, Auto), Need::Default(0.0, 0.0), When::Always, [-10.0 * PI, 10.0 * PI], VARIES, "\"0 deg/s\"",
        "How fast the robot turns, to the left; negative to the right.", at!(moving.turn_radps)),
    row("moving.launcher_heading", q(D::Angle, Auto), Need::Default(0.0, 0.0), When::Tank, [-PI, PI], VARIES, "\"0 deg\"",
        "Direction of the throw from the robot's forward axis, to the left; 180 deg throws backward.", LAUNCHER_HEADING),
    row("moving.ahead_of_centre", q(D::Length, Small), Need::Default(0.0, 0.0), When::Always, [-3.0, 3.0], VARIES, "\"0 mm\"",
        "How far the wheel axle is ahead of the point about which the robot turns, in the direction of the throw.", at!(moving.ahead_of_centre_m)),
    row("moving.delay", q(D::Time, Auto), Need::Default(0.0, 0.0), When::Always, [0.0, 5.0], EXACT, "\"150 ms\"",
        "Time from the command to the moment the piece leaves; says where to give the command.", at!(moving.delay_s)),
    row("moving.late", q(D::Time, Auto), Need::Default(0.0, 0.0), When::Always, [-1.0, 1.0], VARIES, "{ value = \"0 ms\", sd = \"15 ms\" }",
        "Error of the moment of release, late positive; its `sd` says how evenly the feed fires.", at!(moving.late_s)),

    row("limits.length", q(D::Length, Small), Need::Optional, When::Always, [0.02, 20.0], EXACT, "\"520 mm\"",
        "Greatest length of the robot, stowed.", maybe!(limits.length_m)),
    row("limits.width", q(D::Length, Small), Need::Optional, When::Always, [0.02, 20.0], EXACT, "\"480 mm\"",
        "Greatest width, stowed.", maybe!(limits.width_m)),
    row("limits.height", q(D::Length, Small), Need::Optional, When::Always, [0.02, 20.0], EXACT, "\"620 mm\"",
        "Greatest height, stowed.", maybe!(limits.height_m)),
    row("limits.unfolded_length", q(D::Length, Small), Need::Optional, When::Always, [0.02, 20.0], EXACT, "\"900 mm\"",
        "Greatest length with everything out that moves out.", maybe!(limits.unfolded_length_m)),
    row("limits.unfolded_width", q(D::Length, Small), Need::Optional, When::Always, [0.02, 20.0], EXACT, "\"480 mm\"",
        "Greatest width then.", maybe!(limits.unfolded_width_m)),
    row("limits.unfolded_height", q(D::Length, Small), Need::Optional, When::Always, [0.02, 20.0], EXACT, "\"700 mm\"",
        "Greatest height then.", maybe!(limits.unfolded_height_m)),
    row("limits.mass", q(D::Mass, Large), Need::Optional, When::Always, [0.05, 1000.0], EXACT, "\"15 kg\"",
        "Greatest mass, ready to run.", maybe!(limits.mass_kg)),
    row("limits.motors", Kind::Count, Need::Optional, When::Always, [1.0, 100.0], EXACT, "7",
        "Most motors on the whole machine.", maybe_count!(limits.motor_count)),
    row("limits.volley", Kind::Count, Need::Default(1.0, 0.0), When::Always, [1.0, 100.0], EXACT, "4",
        "Pieces thrown in one go.", count!(limits.volley_count)),
    row("limits.throw_interval", q(D::Time, Large), Need::Optional, When::Always, [0.01, 60.0], EXACT, "\"0.8 s\"",
        "Longest time between two throws of a volley.", maybe!(limits.throw_interval_s)),
    row("limits.spin_up", q(D::Time, Large), Need::Optional, When::Always, [0.01, 300.0], EXACT, "\"3 s\"",
        "Longest time from standstill to ready.", maybe!(limits.spin_up_s)),
    row("limits.clearance", q(D::Length, Small), Need::Default(0.0, 0.0), When::Always, [0.0, 2.0], EXACT, "\"20 mm\"",
        "Least distance between piece and rim.", at!(limits.clearance_m)),
    row("limits.entry_angle", q(D::Angle, Auto), Need::Optional, When::Always, [0.0, FRAC_PI_2], EXACT, "\"35 deg\"",
        "Least angle between the path and the plane of the opening; 90 deg is straight in.", maybe!(limits.entry_angle_rad)),
    row("limits.speed_reserve", q(D::Ratio, Auto), Need::Default(0.1, 0.0), When::Always, [0.0, 0.9], EXACT, "\"10 %\"",
        "Share of the top wheel speed that setpoints must leave free, for recovery and a tired battery.", at!(limits.speed_reserve_frac)),
    row("limits.fuse", q(D::Current, Auto), Need::Optional, When::Always, [0.1, 2000.0], EXACT, "\"40 A\"",
        "Fuse or breaker of the launcher's circuit.", maybe!(limits.fuse_a)),
    row("limits.exit_speed", q(D::Speed, Auto), Need::Optional, When::Always, [0.1, 200.0], EXACT, "\"12 m/s\"",
        "Greatest speed at which the rules let a piece leave.", maybe!(limits.exit_speed_mps)),
];

/// Rows after the machine.
#[rustfmt::skip]
pub(super) const LAST: &[Entry] = &[
    row("throws.stiffness", q(D::Ratio, Auto), Need::ByKind(throw_stiffness), When::Always, [0.0, 0.5], EXACT, "\"5 %\"",
        "Stiffness from piece to piece.", at!(throws.stiffness_frac)),
    row("throws.friction", q(D::Ratio, Auto), Need::Default(0.05, 0.0), When::Always, [0.0, 0.5], EXACT, "\"5 %\"",
        "Friction of one throw against the next, on wheel and guide: dust, damp, worn pieces.", at!(throws.friction_frac)),
    row("throws.drag", q(D::Ratio, Auto), Need::ByKind(throw_drag), When::Always, [0.0, 0.5], EXACT, "\"3 %\"",
        "Drag from piece to piece and from one way of facing the air to another.", at!(throws.drag_frac)),
    row("throws.feed_speed", q(D::Ratio, Auto), Need::Default(0.1, 0.0), When::Always, [0.0, 0.5], EXACT, "\"10 %\"",
        "Speed of the feed.", at!(throws.feed_speed_frac)),
    row("throws.entry", q(D::Length, Small), Need::Default(0.002, 0.0), When::Always, [0.0, 0.2], EXACT, "\"2 mm\"",
        "Sideways place at which the piece meets the wheel.", at!(throws.entry_m)),
    row("throws.entry_angle", q(D::Angle, Auto), Need::Default(0.5 * DEG, 0.0), When::Always, [0.0, 15.0 * DEG], EXACT, "\"0.5 deg\"",
        "Sideways direction in which it leaves.", at!(throws.entry_angle_rad)),
    row("throws.battery", q(D::Voltage, Auto), Need::Default(0.2, 0.0), When::Always, [0.0, 10.0], EXACT, "\"0.2 V\"",
        "Open-circuit voltage of the battery: it is not equally full every time.", at!(throws.battery_v)),
    row("throws.timing", q(D::Time, Small), Need::Default(0.05, 0.0), When::Always, [0.0, 10.0], EXACT, "\"50 ms\"",
        "Time between two throws.", at!(throws.timing_s)),

    row("air.temperature", q(D::Temperature, Auto), Need::Default(293.15, 0.0), When::Always, [223.15, 333.15], VARIES, "\"18 degC\"",
        "Air temperature at the site.", at!(site.temperature_k)),
    row("air.pressure", q(D::Pressure, Auto), Need::InsteadOf("air.altitude"), When::Always, [30e3, 110e3], VARIES, "\"1013 hPa\"",
        "Pressure at the site, not reduced to sea level; standard sea-level pressure if neither this nor `altitude` is written.", at!(site.pressure_pa)),
    row("air.altitude", q(D::Length, Large), Need::InsteadOf("air.pressure"), When::Always, [-500.0, 9000.0], VARIES, "\"200 m\"",
        "Height above the sea, in place of `pressure`: the pressure of the standard atmosphere there.", ALTITUDE),
    row("air.humidity", q(D::Ratio, Auto), Need::Default(0.5, 0.0), When::Always, [0.0, 1.0], VARIES, "\"70 %\"",
        "Relative humidity.", at!(site.humidity_frac)),
    row("air.wind_along", q(D::Speed, Auto), Need::Default(0.0, 0.0), When::Always, [-40.0, 40.0], VARIES, "\"0 m/s\"",
        "Wind from the robot toward the target; negative against.", at!(site.wind_along_mps)),
    row("air.wind_across", q(D::Speed, Auto), Need::Default(0.0, 0.0), When::Always, [-40.0, 40.0], VARIES, "\"0 m/s\"",
        "Wind toward the left of the robot; negative toward the right.", at!(site.wind_across_mps)),
];
