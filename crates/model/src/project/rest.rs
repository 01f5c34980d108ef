//! The rest of the machine and the season, as plain data.

use crate::frame::bushing::BushingMaterial;
use crate::launcher::MotorSheet;

const NOT_YET: f64 = f64::NAN;

/// How the drive base moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BaseKind {
    /// Four plain wheels, each side driven together.
    Four,
    /// Six plain wheels, the middle pair a little lower, so that it turns on half the base.
    Six,
    /// Four wheels with rollers at 45 degrees, one motor each.
    Sideways,
}

impl BaseKind {
    /// Every kind with its word.
    pub const ALL: [(BaseKind, &'static str); 3] = [
        (BaseKind::Four, "four"),
        (BaseKind::Six, "six"),
        (BaseKind::Sideways, "sideways"),
    ];

    /// Its word in the project file.
    pub fn word(self) -> &'static str {
        Self::ALL.iter().find(|(k, _)| *k == self).map_or("", |(_, w)| w)
    }

    /// The kind with a word.
    pub fn of(word: &str) -> Option<BaseKind> {
        Self::ALL.iter().find(|(_, w)| *w == word).map(|(k, _)| *k)
    }
}

/// The drive base and the tables beside it.
#[derive(Clone, Debug, PartialEq)]
pub struct Frame {
    /// Kind of base.
    pub drive: BaseKind,
    /// Diameter of its wheels.
    pub wheel_m: f64,
    /// Distance between the front and the rear axle.
    pub base_m: f64,
    /// Distance between left and right wheels.
    pub track_m: f64,
    /// Friction of the wheels on the floor.
    pub friction_coeff: f64,
    /// Share of the sideways force that the rollers' friction leaves.
    pub side_frac: f64,
    /// Motors of the base.
    pub motor_count: u32,
    /// Motor speed over wheel speed.
    pub gear_ratio: f64,
    /// Share of the motors' power that reaches the wheels.
    pub efficiency_frac: f64,
    /// Current limit of each motor; infinite if none.
    pub limit_a: f64,
    /// Height of the centre of mass, if stated.
    pub mass_height_m: Option<f64>,
    /// Centre of mass ahead of the middle between the axles.
    pub mass_ahead_m: f64,
    /// The usual way from collecting to throwing.
    pub dash_m: f64,
    /// The steepest slope it must stand on.
    pub slope_rad: Option<f64>,
    /// Time to come to rest on a heading after a turn.
    pub settle_s: f64,
    /// Distance between the ribs behind the guide's sheet, if stated.
    pub guide_ribs_m: Option<f64>,
    /// Error of heading that is left before lining up.
    pub line_up_rad: f64,
    /// A shift to the side that lining up may ask for.
    pub shift_m: f64,
    /// The drive motor.
    pub motor: Option<BaseMotor>,
    /// The launcher wheel's shaft.
    pub shaft: Option<WheelShaft>,
    /// Breaker, battery and match.
    pub power: Option<Power>,
    /// Wires.
    pub wires: Vec<Wire>,
    /// Chains, belts and gears.
    pub links: Vec<Link>,
    /// Parts.
    pub parts: Vec<FramePart>,
}

/// One motor of the base.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BaseMotor {
    /// Its sheet.
    pub sheet: MotorSheet,
    /// Its mass, if known: how much heat it takes.
    pub mass_kg: Option<f64>,
}

/// What the shaft is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ShaftMaterial {
    /// Steel.
    Steel,
    /// Aluminium.
    Aluminium,
}

/// What carries the shaft.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Support {
    /// Two ball bearings.
    Ball,
    /// Two plain bushings.
    Bushing,
}

/// The shaft of the launcher's wheel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WheelShaft {
    /// Diameter.
    pub diameter_m: f64,
    /// Material.
    pub material: ShaftMaterial,
    /// Distance between its two supports.
    pub span_m: f64,
    /// Place of the wheel from the first support; outside of the span it is overhung.
    pub wheel_at_m: f64,
    /// Pull of a belt or chain on it.
    pub pull_n: f64,
    /// Place of that pull.
    pub pull_at_m: f64,
    /// Lump at the rim that is out of balance.
    pub lump_kg: f64,
    /// What carries it.
    pub support: Support,
    /// Dynamic load rating of a ball bearing, if known.
    pub rating_n: Option<f64>,
    /// Outer diameter of a ball bearing, if known.
    pub outer_m: Option<f64>,
    /// Material of a bushing.
    pub bushing: BushingMaterial,
    /// Length of a bushing.
    pub bushing_m: f64,
}

/// Breaker, battery and match.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Power {
    /// Main breaker.
    pub breaker_a: f64,
    /// Its time constant.
    pub breaker_s: f64,
    /// Capacity of the battery, if known.
    pub capacity_a_s: Option<f64>,
    /// Charge at the start of a match, at the least.
    pub least_charge_frac: f64,
    /// How much the resistance of battery and wires differs: standard deviation of its logarithm.
    pub resistance_sd_ratio: f64,
    /// Length of a match.
    pub match_s: f64,
    /// Drives in a match.
    pub dash_count: u32,
    /// Volleys in a match.
    pub volley_count: u32,
}

/// What a wire feeds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Feeds {
    /// The whole machine.
    Battery,
    /// One drive motor.
    Drive,
    /// One motor of the launcher.
    Launcher,
}

/// A wire, there and back.
#[derive(Clone, Debug, PartialEq)]
pub struct Wire {
    /// Name.
    pub name: String,
    /// Copper area.
    pub area_m2: f64,
    /// Length of copper, there and back.
    pub length_m: f64,
    /// What it feeds.
    pub feeds: Feeds,
}

/// What carries a torque from one shaft to another.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LinkKind {
    /// A chain.
    Chain,
    /// A synchronous belt.
    Belt,
    /// A pair of spur gears.
    Gears,
}

/// A chain, belt or pair of gears between two shafts.
#[derive(Clone, Debug, PartialEq)]
pub struct Link {
    /// Name.
    pub name: String,
    /// Kind.
    pub kind: LinkKind,
    /// Pitch; the module of gears.
    pub pitch_m: f64,
    /// Teeth that drive.
    pub driver_count: u32,
    /// Teeth that are driven.
    pub driven_count: u32,
    /// Distance of the two shafts.
    pub centre_m: f64,
    /// Torque of the driving shaft, if known.
    pub torque_nm: Option<f64>,
}

/// A part and where it sits.
#[derive(Clone, Debug, PartialEq)]
pub struct FramePart {
    /// Name.
    pub name: String,
    /// Mass.
    pub mass_kg: f64,
    /// Its middle: ahead, left, up.
    pub at_m: [f64; 3],
    /// Its size along the same axes; 0 for a point.
    pub size_m: [f64; 3],
    /// How far it moves when it unfolds.
    pub out_m: [f64; 3],
    /// Force that its fastening bears, if known.
    pub hold_n: Option<f64>,
}

/// How a match goes and what it scores.
#[derive(Clone, Debug, PartialEq)]
pub struct Season {
    /// Length of a match.
    pub match_s: f64,
    /// Opening routine without drivers, at its start.
    pub opening_s: f64,
    /// Points for a piece.
    pub piece_points_count: f64,
    /// Points for a piece in the opening; those of any piece if not written.
    pub opening_points_count: Option<f64>,
    /// Pieces on board at the start.
    pub preload_count: u32,
    /// Points for a volley that is all in and in the order called.
    pub pattern_points_count: f64,
    /// Colours of the pieces.
    pub colour_count: u32,
    /// Are the pieces brought into the order called?
    pub sorted: bool,
    /// Spot thrown from; the one that pays best if empty.
    pub spot: String,
    /// Way from collecting to the spot.
    pub away_m: f64,
    /// Direction of that way from where the launcher points.
    pub bearing_rad: f64,
    /// Time to pick up one piece.
    pub collect_s: f64,
    /// Time for each volley's loading besides.
    pub load_s: f64,
    /// How much the times of people differ: standard deviation over mean.
    pub varies_frac: f64,
    /// Share of throws that a match spoils though they would hit on the practice floor.
    pub spoiled_frac: f64,
    /// Chance that a volley wedges.
    pub jam_frac: f64,
    /// Time that a wedge costs.
    pub jam_s: f64,
    /// Points lost with a penalty.
    pub penalty_points_count: f64,
    /// Chance of a penalty in each volley.
    pub penalty_frac: f64,
    /// Points of the end task.
    pub end_points_count: f64,
    /// Time it takes.
    pub end_s: f64,
    /// Chance that it works.
    pub end_frac: f64,
    /// Score to beat.
    pub beat_points_count: Option<f64>,
    /// What could be done next.
    pub changes: Vec<Change>,
}

/// An improvement: what it changes and what it costs.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// Name.
    pub name: String,
    /// Days of work.
    pub days_count: f64,
    /// Money, in any currency.
    pub money_count: f64,
    /// How far the effect may turn out smaller or larger, as a share of it.
    pub unsure_frac: f64,
    /// Another base.
    pub drive: Option<BaseKind>,
    /// Motors of that base; as now if not written.
    pub motor_count: Option<u32>,
    /// Time to pick up one piece.
    pub collect_s: Option<f64>,
    /// Time for each volley's loading.
    pub load_s: Option<f64>,
    /// How much times differ.
    pub varies_frac: Option<f64>,
    /// Chance that a volley wedges.
    pub jam_frac: Option<f64>,
    /// Misses that are left, as a share of those now.
    pub misses_frac: Option<f64>,
    /// Time between throws.
    pub interval_s: Option<f64>,
    /// Sorts by colour.
    pub sorted: Option<bool>,
    /// Throws from another spot.
    pub spot: String,
}

/// The tables of the rest that a file has.
#[derive(Clone, Copy, Debug, Default)]
pub struct Rest {
    /// `[frame]`
    pub frame: bool,
    /// `[frame.motor]`
    pub motor: bool,
    /// `[frame.shaft]`
    pub shaft: bool,
    /// `[frame.power]`
    pub power: bool,
    /// `[[frame.wire]]`
    pub wires: usize,
    /// `[[frame.link]]`
    pub links: usize,
    /// `[[frame.part]]`
    pub parts: usize,
    /// `[season]`
    pub season: bool,
    /// `[[season.change]]`
    pub changes: usize,
}

impl Rest {
    /// A blank frame, if there is one.
    pub fn frame(&self) -> Option<Frame> {
        let motor = BaseMotor {
            sheet: MotorSheet {
                nominal_v: NOT_YET,
                free_radps: NOT_YET,
                free_a: NOT_YET,
                stall_nm: NOT_YET,
                stall_a: NOT_YET,
                rotor_kgm2: NOT_YET,
            },
            mass_kg: None,
        };
        let shaft = WheelShaft {
            diameter_m: NOT_YET,
            material: ShaftMaterial::Steel,
            span_m: NOT_YET,
            wheel_at_m: NOT_YET,
            pull_n: NOT_YET,
            pull_at_m: NOT_YET,
            lump_kg: NOT_YET,
            support: Support::Ball,
            rating_n: None,
            outer_m: None,
            bushing: BushingMaterial::Acetal,
            bushing_m: NOT_YET,
        };
        let power = Power {
            breaker_a: NOT_YET,
            breaker_s: NOT_YET,
            capacity_a_s: None,
            least_charge_frac: NOT_YET,
            resistance_sd_ratio: NOT_YET,
            match_s: NOT_YET,
            dash_count: 0,
            volley_count: 0,
        };
        let wire = Wire {
            name: String::new(),
            area_m2: NOT_YET,
            length_m: NOT_YET,
            feeds: Feeds::Battery,
        };
        let link = Link {
            name: String::new(),
            kind: LinkKind::Chain,
            pitch_m: NOT_YET,
            driver_count: 0,
            driven_count: 0,
            centre_m: NOT_YET,
            torque_nm: None,
        };
        let part = FramePart {
            name: String::new(),
            mass_kg: NOT_YET,
            at_m: [NOT_YET; 3],
            size_m: [NOT_YET; 3],
            out_m: [NOT_YET; 3],
            hold_n: None,
        };
        self.frame.then(|| Frame {
            drive: BaseKind::Four,
            wheel_m: NOT_YET,
            base_m: NOT_YET,
            track_m: NOT_YET,
            friction_coeff: NOT_YET,
            side_frac: SIDE_FRAC,
            motor_count: 0,
            gear_ratio: NOT_YET,
            efficiency_frac: NOT_YET,
            limit_a: f64::INFINITY,
            mass_height_m: None,
            mass_ahead_m: NOT_YET,
            dash_m: NOT_YET,
            slope_rad: None,
            settle_s: NOT_YET,
            guide_ribs_m: None,
            line_up_rad: NOT_YET,
            shift_m: NOT_YET,
            motor: self.motor.then_some(motor),
            shaft: self.shaft.then_some(shaft),
            power: self.power.then_some(power),
            wires: vec![wire; self.wires],
            links: vec![link; self.links],
            parts: vec![part; self.parts],
        })
    }

    /// A blank season, if there is one.
    pub fn season(&self) -> Option<Season> {
        let change = Change {
            name: String::new(),
            days_count: NOT_YET,
            money_count: NOT_YET,
            unsure_frac: NOT_YET,
            drive: None,
            motor_count: None,
            collect_s: None,
            load_s: None,
            varies_frac: None,
            jam_frac: None,
            misses_frac: None,
            interval_s: None,
            sorted: None,
            spot: String::new(),
        };
        self.season.then(|| Season {
            match_s: NOT_YET,
            opening_s: NOT_YET,
            piece_points_count: NOT_YET,
            opening_points_count: None,
            preload_count: 0,
            pattern_points_count: NOT_YET,
            colour_count: 1,
            sorted: false,
            spot: String::new(),
            away_m: NOT_YET,
            bearing_rad: NOT_YET,
            collect_s: NOT_YET,
            load_s: NOT_YET,
            varies_frac: NOT_YET,
            spoiled_frac: NOT_YET,
            jam_frac: NOT_YET,
            jam_s: NOT_YET,
            penalty_points_count: NOT_YET,
            penalty_frac: NOT_YET,
            end_points_count: NOT_YET,
            end_s: NOT_YET,
            end_frac: NOT_YET,
            beat_points_count: None,
            changes: vec![change; self.changes],
        })
    }
}

/// Share of the sideways force that rollers leave: 0.6 to 0.85 on what was measured (common practice, no source).
pub const SIDE_FRAC: f64 = 0.7;

impl super::Project {
    /// The launcher wheel's shaft, if described.
    pub fn shaft(&self) -> Option<&WheelShaft> {
        self.frame.as_ref()?.shaft.as_ref()
    }
}
