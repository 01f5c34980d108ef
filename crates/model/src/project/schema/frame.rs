//! Keys of the rest of the machine: base, motors, shaft, power, wires, parts.

use super::brief::{ANY, DEG, EXACT, q, row};
use super::reach::NOWHERE;
use super::{Access, Entry, Kind, Need, When};
use crate::frame::bushing::BushingMaterial;
use crate::project::{BaseKind, Feeds, LinkKind, Project, SIDE_FRAC, ShaftMaterial, Support};
use crate::units::Dimension as D;
use crate::units::show::Scale::{Auto, Large, Small};

/// A number of the frame.
macro_rules! at {
    ($field:ident) => {
        Access {
            get: |p, _| p.frame.as_ref().map(|f| f.$field),
            set: |p, _, v| p.frame.as_mut().map(|f| f.$field = v).is_some(),
        }
    };
}
/// A number of the frame that may be absent.
macro_rules! maybe {
    ($field:ident) => {
        Access {
            get: |p, _| p.frame.as_ref().and_then(|f| f.$field),
            set: |p, _, v| p.frame.as_mut().map(|f| f.$field = Some(v)).is_some(),
        }
    };
}
/// A number of one of the frame's tables.
macro_rules! of {
    ($table:ident, $($field:tt)+) => {
        Access {
            get: |p, _| p.frame.as_ref().and_then(|f| f.$table.as_ref()).map(|t| t.$($field)+),
            set: |p, _, v| p.frame.as_mut().and_then(|f| f.$table.as_mut()).map(|t| t.$($field)+ = v).is_some(),
        }
    };
}
/// The same, where it may be absent.
macro_rules! maybe_of {
    ($table:ident, $field:ident) => {
        Access {
            get: |p, _| {
                p.frame
                    .as_ref()
                    .and_then(|f| f.$table.as_ref())
                    .and_then(|t| t.$field)
            },
            set: |p, _, v| {
                p.frame
                    .as_mut()
                    .and_then(|f| f.$table.as_mut())
                    .map(|t| t.$field = Some(v))
                    .is_some()
            },
        }
    };
}
/// A whole number of one of the frame's tables.
macro_rules! count_of {
    ($table:ident, $field:ident) => {
        Access {
            get: |p, _| {
                p.frame
                    .as_ref()
                    .and_then(|f| f.$table.as_ref())
                    .map(|t| f64::from(t.$field))
            },
            set: |p, _, v| {
                p.frame
                    .as_mut()
                    .and_then(|f| f.$table.as_mut())
                    .map(|t| t.$field = v as u32)
                    .is_some()
            },
        }
    };
}
/// A number of one of a list.
macro_rules! each {
    ($list:ident, $($field:tt)+) => {
        Access {
            get: |p, i| p.frame.as_ref().and_then(|f| f.$list.get(i)).map(|t| t.$($field)+),
            set: |p, i, v| p.frame.as_mut().and_then(|f| f.$list.get_mut(i)).map(|t| t.$($field)+ = v).is_some(),
        }
    };
}

const MOTORS: Access = Access {
    get: |p, _| p.frame.as_ref().map(|f| f64::from(f.motor_count)),
    set: |p, _, v| p.frame.as_mut().map(|f| f.motor_count = v as u32).is_some(),
};
const HOLD: Access = Access {
    get: |p, i| {
        p.frame
            .as_ref()
            .and_then(|f| f.parts.get(i))
            .and_then(|t| t.hold_n)
    },
    set: |p, i, v| {
        p.frame
            .as_mut()
            .and_then(|f| f.parts.get_mut(i))
            .map(|t| t.hold_n = Some(v))
            .is_some()
    },
};

fn set_base(p: &mut Project, _: usize, word: &str) -> bool {
    let Some(kind) = BaseKind::of(word) else {
        return false;
    };
    p.frame.as_mut().map(|f| f.drive = kind).is_some()
}

fn set_shaft_material(p: &mut Project, _: usize, word: &str) -> bool {
    let material = match word {
        "steel" => ShaftMaterial::Steel,
        "aluminium" => ShaftMaterial::Aluminium,
        _ => return false,
    };
    let shaft = p.frame.as_mut().and_then(|f| f.shaft.as_mut());
    shaft.map(|s| s.material = material).is_some()
}

fn set_support(p: &mut Project, _: usize, word: &str) -> bool {
    let support = match word {
        "ball" => Support::Ball,
        "bushing" => Support::Bushing,
        _ => return false,
    };
    let shaft = p.frame.as_mut().and_then(|f| f.shaft.as_mut());
    shaft.map(|s| s.support = support).is_some()
}

fn set_bushing(p: &mut Project, _: usize, word: &str) -> bool {
    let Some((material, _)) = BushingMaterial::ALL.iter().find(|(_, w)| *w == word) else {
        return false;
    };
    let shaft = p.frame.as_mut().and_then(|f| f.shaft.as_mut());
    shaft.map(|s| s.bushing = *material).is_some()
}

fn set_feeds(p: &mut Project, i: usize, word: &str) -> bool {
    let feeds = match word {
        "battery" => Feeds::Battery,
        "drive" => Feeds::Drive,
        "launcher" => Feeds::Launcher,
        _ => return false,
    };
    let wire = p.frame.as_mut().and_then(|f| f.wires.get_mut(i));
    wire.map(|w| w.feeds = feeds).is_some()
}

fn name_wire(p: &mut Project, i: usize, word: &str) {
    if let Some(wire) = p.frame.as_mut().and_then(|f| f.wires.get_mut(i)) {
        wire.name = word.to_string();
    }
}

fn name_link(p: &mut Project, i: usize, word: &str) {
    if let Some(link) = p.frame.as_mut().and_then(|f| f.links.get_mut(i)) {
        link.name = word.to_string();
    }
}

fn set_link(p: &mut Project, i: usize, word: &str) -> bool {
    let kind = match word {
        "chain" => LinkKind::Chain,
        "belt" => LinkKind::Belt,
        "gears" => LinkKind::Gears,
        _ => return false,
    };
    let link = p.frame.as_mut().and_then(|f| f.links.get_mut(i));
    link.map(|l| l.kind = kind).is_some()
}

/// Teeth of a link.
macro_rules! teeth {
    ($field:ident) => {
        Access {
            get: |p, i| {
                p.frame
                    .as_ref()
                    .and_then(|f| f.links.get(i))
                    .map(|l| f64::from(l.$field))
            },
            set: |p, i, v| {
                let link = p.frame.as_mut().and_then(|f| f.links.get_mut(i));
                link.map(|l| l.$field = v as u32).is_some()
            },
        }
    };
}
const LINK_TORQUE: Access = Access {
    get: |p, i| {
        p.frame
            .as_ref()
            .and_then(|f| f.links.get(i))
            .and_then(|l| l.torque_nm)
    },
    set: |p, i, v| {
        let link = p.frame.as_mut().and_then(|f| f.links.get_mut(i));
        link.map(|l| l.torque_nm = Some(v)).is_some()
    },
};

fn name_part(p: &mut Project, i: usize, word: &str) {
    if let Some(part) = p.frame.as_mut().and_then(|f| f.parts.get_mut(i)) {
        part.name = word.to_string();
    }
}

/// Half of the span: a wheel in the middle.
fn middle(p: &Project) -> f64 {
    p.shaft().map_or(0.0, |s| 0.5 * s.span_m)
}

/// Rows of the frame. None carries a spread: what varies from throw to throw stands with the launcher.
#[rustfmt::skip]
pub(super) const ENTRIES: &[Entry] = &[
    row("frame.drive", Kind::Choice(&["four", "six", "sideways"], set_base), Need::Required, When::Always, ANY, EXACT, "\"four\"",
        "Four plain wheels, six with the middle pair a little lower, or four with rollers at 45 degrees that also drive sideways.", NOWHERE),
    row("frame.wheel_diameter", q(D::Length, Small), Need::Required, When::Always, [0.01, 1.0], EXACT, "\"96 mm\"",
        "Diameter of the drive wheels.", at!(wheel_m)),
    row("frame.base", q(D::Length, Small), Need::Required, When::Always, [0.02, 5.0], EXACT, "\"300 mm\"",
        "Distance from the front axle to the rear axle.", at!(base_m)),
    row("frame.track", q(D::Length, Small), Need::Required, When::Always, [0.02, 5.0], EXACT, "\"380 mm\"",
        "Distance from the middle of the left wheels to the middle of the right ones.", at!(track_m)),
    row("frame.friction", q(D::Number, Auto), Need::Default(0.8, 0.0), When::Always, [0.05, 3.0], EXACT, "0.8",
        "Friction of the wheels on the floor: pull the braked robot with a spring scale, force over weight.", at!(friction_coeff)),
    row("frame.side_efficiency", q(D::Ratio, Auto), Need::Default(SIDE_FRAC, 0.0), When::Rollers, [0.1, 1.0], EXACT, "\"70 %\"",
        "Share of the force to the side that the rollers' own friction leaves.", at!(side_frac)),
    row("frame.motors", Kind::Count, Need::Default(4.0, 0.0), When::Always, [1.0, 12.0], EXACT, "4",
        "Motors of the base.", MOTORS),
    row("frame.ratio", q(D::Number, Auto), Need::Required, When::Always, [0.1, 1000.0], EXACT, "19.2",
        "Motor speed over wheel speed.", at!(gear_ratio)),
    row("frame.efficiency", q(D::Ratio, Auto), Need::Default(0.85, 0.0), When::Always, [0.05, 1.0], EXACT, "\"85 %\"",
        "Share of the motors' power that reaches the wheels.", at!(efficiency_frac)),
    row("frame.current_limit", q(D::Current, Auto), Need::Optional, When::Always, [0.1, 5000.0], EXACT, "\"20 A\"",
        "Current that the motor controller allows each drive motor.", at!(limit_a)),
    row("frame.mass_height", q(D::Length, Small), Need::Optional, When::Always, [0.001, 5.0], EXACT, "\"180 mm\"",
        "Height of the centre of mass; from the parts where they are listed and this is not written.", maybe!(mass_height_m)),
    row("frame.mass_ahead", q(D::Length, Small), Need::Default(0.0, 0.0), When::Always, [-5.0, 5.0], EXACT, "\"0 mm\"",
        "Centre of mass ahead of the middle between the axles, where no parts are listed.", at!(mass_ahead_m)),
    row("frame.dash", q(D::Length, Large), Need::Default(3.0, 0.0), When::Always, [0.1, 100.0], EXACT, "\"3 m\"",
        "A usual drive, such as from where pieces lie to where they are thrown.", at!(dash_m)),
    row("frame.slope", q(D::Angle, Auto), Need::Optional, When::Always, [0.0, 80.0 * DEG], EXACT, "\"12 deg\"",
        "The steepest slope it must drive over.", maybe!(slope_rad)),
    row("frame.settle", q(D::Time, Small), Need::Default(0.3, 0.0), When::Always, [0.0, 10.0], EXACT, "\"0.3 s\"",
        "Time until it stands still on its heading after a turn.", at!(settle_s)),
    row("frame.line_up", q(D::Angle, Auto), Need::Default(10.0 * DEG, 0.0), When::Always, [0.0, 180.0 * DEG], EXACT, "\"10 deg\"",
        "Error of heading that the driver leaves before lining up for a throw.", at!(line_up_rad)),
    row("frame.shift", q(D::Length, Small), Need::Default(0.3, 0.0), When::Always, [0.0, 10.0], EXACT, "\"300 mm\"",
        "A shift to the side that lining up may ask for.", at!(shift_m)),
    row("frame.guide_ribs", q(D::Length, Small), Need::Optional, When::Always, [0.001, 2.0], EXACT, "\"30 mm\"",
        "Distance between the ribs or plates behind the guide's sheet.", maybe!(guide_ribs_m)),

    row("frame.motor.nominal", q(D::Voltage, Auto), Need::Required, When::Always, [0.5, 200.0], EXACT, "\"12 V\"",
        "Voltage that the sheet is for.", of!(motor, sheet.nominal_v)),
    row("frame.motor.free_speed", q(D::AngularSpeed, Auto), Need::Required, When::Always, [1.0, 30_000.0], EXACT, "\"6000 rpm\"",
        "Speed without load, before the gearing.", of!(motor, sheet.free_radps)),
    row("frame.motor.free_current", q(D::Current, Auto), Need::Required, When::Always, [0.0, 200.0], EXACT, "\"0.4 A\"",
        "Current without load.", of!(motor, sheet.free_a)),
    row("frame.motor.stall_torque", q(D::Torque, Auto), Need::Required, When::Always, [0.000_1, 1000.0], EXACT, "\"0.2 N m\"",
        "Torque when held still, before the gearing.", of!(motor, sheet.stall_nm)),
    row("frame.motor.stall_current", q(D::Current, Auto), Need::Required, When::Always, [0.01, 5000.0], EXACT, "\"11 A\"",
        "Current when held still.", of!(motor, sheet.stall_a)),
    row("frame.motor.rotor_inertia", q(D::Inertia, Auto), Need::Default(0.0, 0.0), When::Always, [0.0, 0.1], EXACT, "\"0.05 kg cm^2\"",
        "Inertia of the turning part of the motor.", of!(motor, sheet.rotor_kgm2)),
    row("frame.motor.mass", q(D::Mass, Small), Need::Optional, When::Always, [0.001, 50.0], EXACT, "\"350 g\"",
        "Mass of the motor without its gearbox: how long it bears to be held still.", maybe_of!(motor, mass_kg)),

    row("frame.shaft.diameter", q(D::Length, Small), Need::Required, When::Always, [0.001, 0.2], EXACT, "\"8 mm\"",
        "Diameter of the shaft.", of!(shaft, diameter_m)),
    row("frame.shaft.material", Kind::Choice(&["steel", "aluminium"], set_shaft_material), Need::Optional, When::Always, ANY, EXACT, "\"steel\"",
        "What it is made of; steel if not written.", NOWHERE),
    row("frame.shaft.span", q(D::Length, Small), Need::Required, When::Always, [0.002, 2.0], EXACT, "\"70 mm\"",
        "Distance between its two supports.", of!(shaft, span_m)),
    row("frame.shaft.wheel_at", q(D::Length, Small), Need::From(middle, "the middle of the span"), When::Always, [-2.0, 4.0], EXACT, "\"35 mm\"",
        "Where the wheel sits, from the first support; beyond the span it is overhung.", of!(shaft, wheel_at_m)),
    row("frame.shaft.pull", q(D::Force, Auto), Need::Default(0.0, 0.0), When::Always, [0.0, 5000.0], EXACT, "\"20 N\"",
        "Pull of a belt or chain on the shaft, both sides together.", of!(shaft, pull_n)),
    row("frame.shaft.pull_at", q(D::Length, Small), Need::Default(0.0, 0.0), When::Always, [-2.0, 4.0], EXACT, "\"80 mm\"",
        "Where that pull acts, from the first support.", of!(shaft, pull_at_m)),
    row("frame.shaft.lump", q(D::Mass, Small), Need::Default(0.001, 0.0), When::Always, [0.0, 1.0], EXACT, "\"1 g\"",
        "Lump at the rim that the wheel is out of balance by; a gram or so for a wheel that nobody balanced.", of!(shaft, lump_kg)),
    row("frame.shaft.support", Kind::Choice(&["ball", "bushing"], set_support), Need::Required, When::Always, ANY, EXACT, "\"ball\"",
        "What carries it: ball bearings or plain bushings.", NOWHERE),
    row("frame.shaft.rating", q(D::Force, Auto), Need::Optional, When::Ball, [1.0, 1e6], EXACT, "\"3300 N\"",
        "Dynamic load rating C of one bearing, from its sheet.", maybe_of!(shaft, rating_n)),
    row("frame.shaft.outer_diameter", q(D::Length, Small), Need::Optional, When::Ball, [0.002, 0.5], EXACT, "\"22 mm\"",
        "Outer diameter of one bearing.", maybe_of!(shaft, outer_m)),
    row("frame.shaft.bushing", Kind::Choice(&["nylon", "acetal", "polyethylene", "filled-ptfe", "lined-bronze"], set_bushing), Need::Required, When::Bushing, ANY, EXACT, "\"acetal\"",
        "What the bushing is made of.", NOWHERE),
    row("frame.shaft.bushing_length", q(D::Length, Small), Need::Required, When::Bushing, [0.000_5, 0.2], EXACT, "\"8 mm\"",
        "Length of one bushing along the shaft.", of!(shaft, bushing_m)),

    row("frame.power.breaker", q(D::Current, Auto), Need::Required, When::Always, [0.5, 1000.0], EXACT, "\"40 A\"",
        "Rating of the main breaker or fuse: what it carries for ever.", of!(power, breaker_a)),
    row("frame.power.breaker_time", q(D::Time, Large), Need::Default(25.0, 0.0), When::Always, [0.01, 600.0], EXACT, "\"25 s\"",
        "How slowly it warms; 0.29 of it is the time to trip at twice the rating.", of!(power, breaker_s)),
    row("frame.power.capacity", q(D::Charge, Auto), Need::Optional, When::Always, [100.0, 1e6], EXACT, "\"7.2 A h\"",
        "Capacity of the battery.", maybe_of!(power, capacity_a_s)),
    row("frame.power.least_charge", q(D::Ratio, Auto), Need::Default(0.7, 0.0), When::Always, [0.0, 1.0], EXACT, "\"70 %\"",
        "Charge with which a match begins at the least; up to full, each as likely.", of!(power, least_charge_frac)),
    row("frame.power.resistance_varies", q(D::Ratio, Auto), Need::Default(0.25, 0.0), When::Always, [0.0, 3.0], EXACT, "\"25 %\"",
        "How much the resistance of battery, contacts and wires differs from match to match: age, loose clamps, one battery or another.", of!(power, resistance_sd_ratio)),
    row("frame.power.match", q(D::Time, Large), Need::Default(150.0, 0.0), When::Always, [5.0, 7200.0], EXACT, "\"150 s\"",
        "Length of a match.", of!(power, match_s)),
    row("frame.power.dashes", Kind::Count, Need::Default(20.0, 0.0), When::Always, [0.0, 1000.0], EXACT, "20",
        "Drives of the usual length in a match.", count_of!(power, dash_count)),
    row("frame.power.volleys", Kind::Count, Need::Default(8.0, 0.0), When::Always, [0.0, 1000.0], EXACT, "8",
        "Spin-ups with a volley in a match.", count_of!(power, volley_count)),

    row("frame.wire[].name", Kind::Text(name_wire), Need::Required, When::Always, ANY, EXACT, "\"battery lead\"",
        "What it is called.", NOWHERE),
    row("frame.wire[].area", q(D::Area, Auto), Need::Required, When::Always, [1e-8, 1e-3], EXACT, "\"3.3 mm^2\"",
        "Copper area: American gauge 18 is 0.82 mm², 16 is 1.3, 14 is 2.1, 12 is 3.3, 10 is 5.3, 8 is 8.4.", each!(wires, area_m2)),
    row("frame.wire[].length", q(D::Length, Auto), Need::Required, When::Always, [0.001, 100.0], EXACT, "\"0.8 m\"",
        "Length of copper, there and back.", each!(wires, length_m)),
    row("frame.wire[].feeds", Kind::Choice(&["battery", "drive", "launcher"], set_feeds), Need::Required, When::Always, ANY, EXACT, "\"battery\"",
        "The whole machine, one drive motor, or one motor of the launcher.", NOWHERE),

    row("frame.link[].name", Kind::Text(name_link), Need::Required, When::Always, ANY, EXACT, "\"wheel belt\"",
        "What it is called.", NOWHERE),
    row("frame.link[].kind", Kind::Choice(&["chain", "belt", "gears"], set_link), Need::Required, When::Always, ANY, EXACT, "\"belt\"",
        "A chain, a synchronous belt or a pair of spur gears.", NOWHERE),
    row("frame.link[].pitch", q(D::Length, Small), Need::Required, When::Always, [0.000_1, 0.1], EXACT, "\"5 mm\"",
        "Pitch of the chain or belt; the module of gears.", each!(links, pitch_m)),
    row("frame.link[].driver", Kind::Count, Need::Required, When::Always, [4.0, 500.0], EXACT, "18",
        "Teeth that drive.", teeth!(driver_count)),
    row("frame.link[].driven", Kind::Count, Need::Required, When::Always, [4.0, 500.0], EXACT, "36",
        "Teeth that are driven.", teeth!(driven_count)),
    row("frame.link[].centre", q(D::Length, Small), Need::Required, When::Always, [0.001, 10.0], EXACT, "\"100 mm\"",
        "Distance of the two shafts.", each!(links, centre_m)),
    row("frame.link[].torque", q(D::Torque, Auto), Need::Optional, When::Always, [0.0, 1000.0], EXACT, "\"0.5 N m\"",
        "Torque of the driving shaft; gives the pull on the shafts.", LINK_TORQUE),

    row("frame.part[].name", Kind::Text(name_part), Need::Required, When::Always, ANY, EXACT, "\"battery\"",
        "What it is called.", NOWHERE),
    row("frame.part[].mass", q(D::Mass, Auto), Need::Required, When::Always, [0.0, 500.0], EXACT, "\"2.3 kg\"",
        "Its mass.", each!(parts, mass_kg)),
    row("frame.part[].ahead", q(D::Length, Small), Need::Default(0.0, 0.0), When::Always, [-10.0, 10.0], EXACT, "\"-120 mm\"",
        "Its middle ahead of the middle between the wheels.", each!(parts, at_m[0])),
    row("frame.part[].left", q(D::Length, Small), Need::Default(0.0, 0.0), When::Always, [-10.0, 10.0], EXACT, "\"0 mm\"",
        "Its middle to the left.", each!(parts, at_m[1])),
    row("frame.part[].up", q(D::Length, Small), Need::Required, When::Always, [-1.0, 10.0], EXACT, "\"80 mm\"",
        "Its middle above the floor.", each!(parts, at_m[2])),
    row("frame.part[].length", q(D::Length, Small), Need::Default(0.0, 0.0), When::Always, [0.0, 10.0], EXACT, "\"150 mm\"",
        "Its size ahead; 0 for a point.", each!(parts, size_m[0])),
    row("frame.part[].width", q(D::Length, Small), Need::Default(0.0, 0.0), When::Always, [0.0, 10.0], EXACT, "\"65 mm\"",
        "Its size to the side.", each!(parts, size_m[1])),
    row("frame.part[].height", q(D::Length, Small), Need::Default(0.0, 0.0), When::Always, [0.0, 10.0], EXACT, "\"95 mm\"",
        "Its size upward.", each!(parts, size_m[2])),
    row("frame.part[].out_ahead", q(D::Length, Small), Need::Default(0.0, 0.0), When::Always, [-10.0, 10.0], EXACT, "\"200 mm\"",
        "How far ahead it moves when it unfolds.", each!(parts, out_m[0])),
    row("frame.part[].out_left", q(D::Length, Small), Need::Default(0.0, 0.0), When::Always, [-10.0, 10.0], EXACT, "\"0 mm\"",
        "How far to the left it moves when it unfolds.", each!(parts, out_m[1])),
    row("frame.part[].out_up", q(D::Length, Small), Need::Default(0.0, 0.0), When::Always, [-10.0, 10.0], EXACT, "\"100 mm\"",
        "How far up it moves when it unfolds.", each!(parts, out_m[2])),
    row("frame.part[].hold", q(D::Force, Auto), Need::Optional, When::Always, [0.0, 1e6], EXACT, "\"300 N\"",
        "Force that its fastening bears: strap, bracket, screws.", HOLD),
];
