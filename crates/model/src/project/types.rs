//! Plain data of a project.

use std::collections::BTreeMap;

use super::Freed;
use super::rest::{Frame, Season};
use crate::feed::hopper::Hopper;
use crate::flight::{Drag, Lift, SpinDecay};
pub use crate::launcher::SheetMaterial;
use crate::launcher::{Battery, Controller, Drive, GuideError, Layout, Setting, TurningPart};
use crate::target::Target;

pub use crate::units::UnitSystem;

/// How a value varies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Spread {
    /// Normal with this standard deviation (same unit as the value).
    Normal {
        /// Standard deviation.
        sd: f64,
    },
    /// Anywhere in the range, equally likely.
    Range {
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
    },
}

impl Spread {
    /// Standard deviation; (high − low)/√12 for a range.
    pub fn sd(&self) -> f64 {
        match *self {
            Spread::Normal { sd } => sd,
            Spread::Range { low, high } => (high - low) / 12f64.sqrt(),
        }
    }
}

/// Kind of piece; decides defaults that a user need not know.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PieceKind {
    /// Foam, fine or pebbled skin.
    Foam,
    /// Closed thin shell.
    Hollow,
    /// Thin shell with holes.
    Perforated,
    /// Solid rubber.
    Solid,
}

/// Round holes of a perforated piece.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Holes {
    /// How many.
    pub count: u32,
    /// Diameter of each.
    pub diameter_m: f64,
}

/// A groove around the middle of the piece.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SeamGroove {
    /// Width across.
    pub width_m: f64,
    /// Depth.
    pub depth_m: f64,
}

/// The piece.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Piece {
    /// Kind.
    pub kind: PieceKind,
    /// Free diameter.
    pub diameter_m: f64,
    /// Mass as a scale in air reads it.
    pub mass_kg: f64,
    /// k in I = k m r².
    pub inertia_coeff: f64,
    /// Press test: force per metre of squeeze between two boards.
    pub stiffness_npm: f64,
    /// Power of the press curve.
    pub stiffness_exponent: f64,
    /// Drop test.
    pub bounce_coeff: f64,
    /// Holes, if any.
    pub holes: Option<Holes>,
    /// Seam, if any.
    pub seam: Option<SeamGroove>,
    /// Drag.
    pub drag: Drag,
    /// Lift.
    pub lift: Lift,
    /// Spin decay.
    pub spin_decay: SpinDecay,
    /// Carry added mass and buoyancy of the surrounding air.
    pub carried_air: bool,
}

/// A place to throw from.
#[derive(Clone, Debug, PartialEq)]
pub struct Spot {
    /// Name.
    pub name: String,
    /// Horizontal distance from the wheel axle's plumb line to the near rim, along the target's axis.
    pub distance_m: f64,
    /// Sideways distance of the spot from the target's axis, left positive.
    pub offset_m: f64,
    /// Error of heading once lined up with the target's centre.
    pub heading_rad: f64,
}

/// The air at the site.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Site {
    /// Air temperature, kelvin.
    pub temperature_k: f64,
    /// Air pressure at the site.
    pub pressure_pa: f64,
    /// Relative humidity, 0 to 1.
    pub humidity_frac: f64,
    /// Wind along x (a tail wind is positive).
    pub wind_along_mps: f64,
    /// Wind along y (toward the left).
    pub wind_across_mps: f64,
}

/// How the robot can drive.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum DriveBase {
    /// Only along its own forward axis.
    Tank,
    /// In any direction, whichever way it faces.
    #[default]
    Sideways,
}

/// How the robot moves at the moment of release; all zero when it stands.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Moving {
    /// How the robot can drive.
    pub drive: DriveBase,
    /// Velocity of the turning centre: toward the centre of the opening; for a tank, along its own
    /// forward axis.
    pub along_mps: f64,
    /// Velocity to the left of the line to the centre of the opening; 0 for a tank.
    pub across_mps: f64,
    /// Turning, left positive.
    pub turn_radps: f64,
    /// Direction of the launcher from the forward axis of a tank, left positive.
    pub launcher_heading_rad: f64,
    /// How far the wheel axle is ahead of the turning centre, along the throw.
    pub ahead_of_centre_m: f64,
    /// Time from command to release.
    pub delay_s: f64,
    /// Error of the moment of release, positive when late.
    pub late_s: f64,
}

impl Moving {
    /// True when the robot moves at all.
    pub fn moves(&self) -> bool {
        self.along_mps != 0.0 || self.across_mps != 0.0 || self.turn_radps != 0.0
    }

    /// Length of the way from the command to the release.
    pub fn command_before_m(&self) -> f64 {
        self.along_mps.hypot(self.across_mps) * self.delay_s
    }

    /// Turn of the robot from the command to the release, left positive.
    pub fn command_turn_rad(&self) -> f64 {
        self.turn_radps * self.delay_s
    }
}

/// What the rules and the team ask for. `None` where nothing is asked.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Limits {
    /// Length, stowed.
    pub length_m: Option<f64>,
    /// Width, stowed.
    pub width_m: Option<f64>,
    /// Height, stowed.
    pub height_m: Option<f64>,
    /// Length, unfolded.
    pub unfolded_length_m: Option<f64>,
    /// Width, unfolded.
    pub unfolded_width_m: Option<f64>,
    /// Height, unfolded.
    pub unfolded_height_m: Option<f64>,
    /// Mass, ready to run.
    pub mass_kg: Option<f64>,
    /// Motors on the whole machine.
    pub motor_count: Option<u32>,
    /// Pieces in one volley.
    pub volley_count: u32,
    /// Time between throws that the brief asks for.
    pub throw_interval_s: Option<f64>,
    /// Spin-up time that the brief asks for.
    pub spin_up_s: Option<f64>,
    /// Rim clearance asked for.
    pub clearance_m: f64,
    /// Least angle below the level at which the piece must come down into the opening.
    pub entry_angle_rad: Option<f64>,
    /// Share of the top wheel speed that setpoints must leave free.
    pub speed_reserve_frac: f64,
    /// Fuse or breaker of the launcher's circuit.
    pub fuse_a: Option<f64>,
    /// Greatest exit speed the rules allow.
    pub exit_speed_mps: Option<f64>,
}

/// What differs from throw to throw besides the spreads of the piece and of the place: standard deviations.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ThrowSpread {
    /// Stiffness from piece to piece, as a share.
    pub stiffness_frac: f64,
    /// Friction on wheel and guide, as a share.
    pub friction_frac: f64,
    /// Drag from piece to piece and from one way of facing the air to another, as a share.
    pub drag_frac: f64,
    /// Feed speed, as a share.
    pub feed_speed_frac: f64,
    /// Sideways place at which the piece enters.
    pub entry_m: f64,
    /// Sideways direction in which it leaves.
    pub entry_angle_rad: f64,
    /// Open-circuit voltage of the battery.
    pub battery_v: f64,
    /// Time between two throws.
    pub timing_s: f64,
    /// What test shots showed; never in the file.
    pub shown: Option<ShownScatter>,
    /// How the causes of one spot are brought to what test shots showed; never in the file.
    pub matched: Option<MatchedScatter>,
}

/// Covariance of ln exit speed, exit angle, ln drag and share of lift.
pub type FlightCovariance = [[f64; 4]; 4];

/// What test shots left open of quantities that are known together far better than one by one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KnownTogether {
    /// Covariance about the values of the project.
    pub covariance: FlightCovariance,
}

impl KnownTogether {
    /// Variance of a function of ln exit speed, exit angle, ln drag and share of lift, by its slopes.
    ///
    /// ```text
    /// gᵀ Σ g
    /// ```
    pub fn variance_along(&self, slopes_m: &[f64; 4]) -> f64 {
        let mut sum = 0.0;
        for (a, row) in slopes_m.iter().zip(&self.covariance) {
            for (b, c) in slopes_m.iter().zip(row) {
                sum += a * b * c;
            }
        }
        sum.max(0.0)
    }
}

/// Scatter that test shots showed, whatever it comes from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShownScatter {
    /// Of exit speed from throw to throw.
    pub speed_frac: f64,
    /// Of the exit angle.
    pub angle_rad: f64,
    /// Of the direction.
    pub aside_rad: f64,
    /// Of exit speed from one marked piece to another; 0 where pieces were not told apart.
    pub piece_frac: f64,
    /// Change of exit speed from one throw of a volley to the next; none where the shots say little of it.
    pub place_frac: Option<f64>,
    /// Change of exit speed of the last throw on top of that.
    pub last_frac: Option<f64>,
    /// The wheel was measured before the throws: its speed is no part of the scatter, and the changes by
    /// place are what its speed does not explain.
    pub wheel_measured: bool,
}

/// How the modelled causes of one spot are brought to what test shots showed there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MatchedScatter {
    /// The causes that act along are this much of what the file says: 1, or less where shots scattered less.
    pub along_ratio: f64,
    /// The same for those that act across.
    pub across_ratio: f64,
    /// Added scatter of exit speed.
    pub speed_frac: f64,
    /// Added scatter of the exit angle.
    pub angle_rad: f64,
    /// Added scatter of the direction.
    pub aside_rad: f64,
}

/// The wheel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wheel {
    /// Diameter, loaded, at speed.
    pub diameter_m: f64,
    /// Width of one wheel.
    pub width_m: f64,
    /// Wheels side by side on the shaft.
    pub count: u32,
    /// Free space between neighbours.
    pub gap_m: f64,
    /// Friction of the piece on it.
    pub friction_coeff: f64,
    /// Highest rim speed its maker or material allows; infinite when not stated.
    pub rim_limit_mps: f64,
}

/// Sheet of the guide.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GuideSheet {
    /// Material.
    pub material: SheetMaterial,
    /// Thickness.
    pub thickness_m: f64,
}

/// Range, step and repeatability of one knob.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KnobTravel {
    /// Lowest value.
    pub low: f64,
    /// Highest value.
    pub high: f64,
    /// Step in which it can be set; 0 for stepless.
    pub step: f64,
    /// Standard deviation with which it comes back to a mark.
    pub repeat: f64,
}

/// Travel of the mechanical knobs; `None` for a knob the machine does not have.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Knobs {
    /// Slide, metres.
    pub slide: Option<KnobTravel>,
    /// Tilt, radians.
    pub tilt: Option<KnobTravel>,
    /// Reach, metres.
    pub reach: Option<KnobTravel>,
}

/// The machine.
#[derive(Clone, Debug, PartialEq)]
pub struct Machine {
    /// Contact layout and shape.
    pub layout: Layout,
    /// Wheel.
    pub wheel: Wheel,
    /// Height of the (lower) wheel axle above the floor.
    pub axle_height_m: f64,
    /// Feed speed.
    pub feed_speed_mps: f64,
    /// Feed push.
    pub feed_push_n: f64,
    /// Rolling loss coefficient.
    pub rolling_coeff: f64,
    /// Multiplier on exit speed (1 before the floor has spoken).
    pub speed_transfer_ratio: f64,
    /// How much steeper than computed the piece leaves (0 before the floor has spoken).
    pub exit_offset_rad: f64,
    /// How far to the left of straight ahead it throws (0 before the floor has spoken).
    pub aim_offset_rad: f64,
    /// How the guide strays from its arc.
    pub guide_error: GuideError,
    /// Guide sheet, if stated.
    pub sheet: Option<GuideSheet>,
    /// The present setting.
    pub setting: Setting,
    /// Travel of the knobs.
    pub knobs: Knobs,
    /// Parts that turn with one wheel shaft, without the motor's rotor.
    pub parts: Vec<TurningPart>,
    /// Motors and gearing of one wheel shaft.
    pub drive: Drive,
    /// Battery.
    pub battery: Battery,
    /// Wheel-speed controller.
    pub controller: Controller,
    /// Stowed length of the robot, if known.
    pub length_m: Option<f64>,
    /// Stowed width of the robot, if known.
    pub width_m: Option<f64>,
    /// Stowed height of the robot, if known.
    pub height_m: Option<f64>,
    /// Mass of the robot, if known.
    pub mass_kg: Option<f64>,
    /// Motors elsewhere on the machine (drive base, feed), if known.
    pub other_motor_count: Option<u32>,
    /// Current the rest of the machine draws while throwing.
    pub other_current_a: f64,
}

/// The feed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Feed {
    /// Pieces in a full hopper.
    pub piece_count: u32,
    /// The hopper.
    pub hopper: Hopper,
}

/// The order of colours that is asked for, and what sorting costs.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ColourOrder {
    /// Pieces of each colour from which a load is drawn, as written: `8 amber, 8 teal`. Empty where no order is asked.
    pub stock: String,
    /// The colours in the order wanted, as written.
    pub wanted: String,
    /// Chance that the sensor takes a piece for another colour.
    pub sensor_error_frac: f64,
    /// Time to set a piece aside.
    pub aside_s: f64,
    /// Time to bring it back.
    pub back_s: f64,
    /// Time to turn a carousel by one place.
    pub turn_s: f64,
}

/// Sheet, holes and cutter of the shop, for the cutting templates.
#[derive(Clone, Debug, PartialEq)]
pub struct Cut {
    /// What the plates are cut from, in the team's words; empty if not stated.
    pub material: String,
    /// Thickness of the plates.
    pub thickness_m: f64,
    /// Width that the cutter takes away; 0 where the cut runs beside the line.
    pub kerf_m: f64,
    /// Holes of the kit.
    pub hole_diameter_m: f64,
    /// Distance from hole to hole of the kit.
    pub hole_pitch_m: f64,
    /// Hole for the wheel's axle or bearing; `None` leaves a cross to drill by.
    pub axle_hole_m: Option<f64>,
    /// Material left around the guide and around holes.
    pub margin_m: f64,
    /// Free space beside the piece, both sides together.
    pub side_play_m: f64,
}

/// A brief and a machine.
#[derive(Clone, Debug, PartialEq)]
pub struct Project {
    /// Name.
    pub name: String,
    /// Units shown.
    pub units: UnitSystem,
    /// Air.
    pub site: Site,
    /// Piece.
    pub piece: Piece,
    /// Target.
    pub target: Target,
    /// Spots, nearest first as written.
    pub spots: Vec<Spot>,
    /// How the robot moves while it throws.
    pub moving: Moving,
    /// Limits.
    pub limits: Limits,
    /// Machine.
    pub machine: Machine,
    /// The rest of the machine, if described.
    pub frame: Option<Frame>,
    /// How the event scores, if described.
    pub season: Option<Season>,
    /// The feed, if described.
    pub feed: Option<Feed>,
    /// The order of colours that is asked for.
    pub order: ColourOrder,
    /// What differs from throw to throw.
    pub throws: ThrowSpread,
    /// Sheet, holes and cutter.
    pub cut: Cut,
    /// Spread of each quantity that has one, by dotted key (`piece.mass`, `spot[0].heading`).
    pub spreads: BTreeMap<String, Spread>,
    /// What test shots left open, in place of the spreads of what they tell about; never in the file.
    pub known: Option<KnownTogether>,
    /// What a search may change, as the file says; empty where it frees nothing.
    pub free: Vec<Freed>,
}
