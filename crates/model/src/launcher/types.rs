//! Plain data of the launcher.

/// The piece as the launcher sees it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Body {
    /// Free diameter.
    pub diameter_m: f64,
    /// Mass.
    pub mass_kg: f64,
    /// k in I = k m r², with the free radius.
    pub inertia_coeff: f64,
    /// Press test between two flat boards: force per metre of squeeze at small squeeze (both sides together).
    pub stiffness_npm: f64,
    /// Force grows as squeeze to this power; 1 is a spring, 1.5 a solid rubber ball. The
    /// stiffness is the secant at 10 % of the diameter when this is not 1.
    pub stiffness_exponent: f64,
    /// Drop test: rebound speed over impact speed, from 1 m (4.43 m/s) on a hard floor.
    pub bounce_coeff: f64,
}

/// How the piece is held against the wheel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Layout {
    /// One wheel and a fixed concentric guide on the outer side, then the hood plate.
    Guide(GuideShape),
    /// Two opposed wheels, no guide, no hood plate.
    Pair(PairShape),
}

/// The fixed guide: an arc concentric with the wheel. The piece climbs behind the wheel
/// (clockwise seen with forward to the right) and leaves forward and up with backspin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GuideShape {
    /// Gap between wheel surface and guide surface at the guide's end; squeeze = piece diameter − gap.
    pub gap_m: f64,
    /// How much wider the gap is at the guide's start, less and less of it toward the end; 0 for an arc concentric
    /// with the wheel.
    pub entry_relief_m: f64,
    /// Angle about the axle over which the guide runs.
    pub wrap_rad: f64,
    /// Elevation of the guide's tangent at its end.
    pub end_angle_rad: f64,
    /// Friction of the piece on the guide and the hood plate.
    pub friction_coeff: f64,
    /// The hood plate's radius of bend where it leaves the guide's end when tilted inward.
    pub hood_bend_m: f64,
}

impl GuideShape {
    /// Gap at a share of the arc, 0 at its start and 1 at its end.
    ///
    /// ```text
    /// gap(φ) = gap at the end + relief (1 − φ/wrap)
    /// ```
    pub fn gap_at_m(&self, share_frac: f64) -> f64 {
        self.gap_m + self.entry_relief_m * (1.0 - share_frac)
    }

    /// Mean radius of the guide's surface about the axle.
    pub fn radius_m(&self, wheel_radius_m: f64) -> f64 {
        wheel_radius_m + self.gap_m + 0.5 * self.entry_relief_m
    }

    /// Length of the guide's surface along its arc: wrap times the mean radius.
    pub fn arc_m(&self, wheel_radius_m: f64) -> f64 {
        self.radius_m(wheel_radius_m) * self.wrap_rad
    }
}

/// Two opposed wheels of equal radius: the gap between their surfaces.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PairShape {
    /// Gap between the two wheel surfaces.
    pub gap_m: f64,
    /// Elevation of the exit direction at tilt 0.
    pub direction_rad: f64,
    /// Speed of the upper wheel over the speed of the lower (the commanded) wheel; below 1 gives backspin.
    pub upper_speed_ratio: f64,
}

/// The mechanical knobs.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Setting {
    /// Hood plate moved forward (positive closes onto the piece) from flush with the guide's end.
    pub slide_m: f64,
    /// Hood plate turned toward the piece (positive lowers the exit). For a wheel pair: the head
    /// turned down from `direction_rad`.
    pub tilt_rad: f64,
    /// Length of the hood plate beyond the guide's end.
    pub reach_m: f64,
}

/// Places along the guide at which its gap can be given.
pub const MOST_GAPS: usize = 24;
/// Directions around the piece at which its outline can be given.
pub const BITE_COUNT: usize = 48;

/// How a hand-formed guide strays from the arc it should be: by how much its gap to the wheel is too wide
/// (positive) along the arc, from its start to its end.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub enum GuideError {
    /// It does not.
    #[default]
    None,
    /// High and low spots that follow each other: amplitude · sin(2π s / wavelength + phase), s measured
    /// along the guide's surface from its start.
    Wave {
        /// Amplitude.
        amplitude_m: f64,
        /// Distance from one high spot to the next.
        wavelength_m: f64,
        /// Phase at the start of the guide.
        phase_rad: f64,
    },
    /// Measured at evenly spaced angles from the start to the end of the arc, straight in between.
    Gaps {
        /// How many are given, at least 2, at most [`MOST_GAPS`].
        count: usize,
        /// Gap found less gap meant.
        added_m: [f64; MOST_GAPS],
    },
}

impl GuideError {
    /// Has anybody said how the guide strays? Gaps that were measured and found right are said too.
    pub fn is_stated(&self) -> bool {
        match self {
            GuideError::None => false,
            GuideError::Wave { amplitude_m, .. } => *amplitude_m != 0.0,
            GuideError::Gaps { .. } => true,
        }
    }
}

/// What the wheel's rim loses against a round piece where it drops into holes or seams: by how much the
/// piece's radius falls short in the plane of the wheel, at evenly spaced directions around the piece, in the
/// piece's own frame, first at angle 0 where the piece first touches the wheel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bite {
    /// Depth.
    pub depth_m: [f64; BITE_COUNT],
}

impl Bite {
    /// Depth at a direction in the piece's own frame, straight between the given ones, and its slope per radian.
    pub fn at(&self, direction_rad: f64) -> (f64, f64) {
        let step_rad = std::f64::consts::TAU / BITE_COUNT as f64;
        let place = (direction_rad / step_rad).rem_euclid(BITE_COUNT as f64);
        let below = place.floor();
        let i = (below as usize) % BITE_COUNT;
        let (a, b) = (self.depth_m[i], self.depth_m[(i + 1) % BITE_COUNT]);
        (a + (b - a) * (place - below), (b - a) / step_rad)
    }
}

/// Everything fixed about the contact between piece and launcher.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Launcher {
    /// Guide or pair.
    pub layout: Layout,
    /// Wheel radius, loaded, at speed.
    pub wheel_radius_m: f64,
    /// Friction of the piece on the wheel.
    pub wheel_friction_coeff: f64,
    /// Height of the (lower) wheel axle above the floor.
    pub axle_height_m: f64,
    /// Inertia at one wheel, with everything coupled to it.
    pub wheel_inertia_kgm2: f64,
    /// Feed: speed at which the piece is pushed in.
    pub feed_speed_mps: f64,
    /// Feed: greatest force of the push.
    pub feed_push_n: f64,
    /// Rolling loss: torque = coefficient · r · N at each contact.
    pub rolling_coeff: f64,
    /// Multiplier on the exit speed learned from the floor; 1 before that.
    pub speed_transfer_ratio: f64,
    /// Turns the exit upward, learned from the floor; 0 before that.
    pub exit_offset_rad: f64,
    /// How the guide strays from its arc.
    pub guide_error: GuideError,
    /// Outline of the piece against the wheel; `None` for a round one.
    pub bite: Option<Bite>,
}

/// Torque at one wheel during a throw: T = stall − slope · speed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TorqueLine {
    /// Torque at standstill.
    pub stall_nm: f64,
    /// Loss of torque per rad/s.
    pub slope_nms: f64,
}

/// One moment of the passage, for pictures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PassageSample {
    /// Time since the piece was released into the feed.
    pub time_s: f64,
    /// Centre of the piece, side plane.
    pub centre_m: [f64; 2],
    /// Turned angle of the piece.
    pub turned_rad: f64,
    /// Velocity of the centre.
    pub velocity_mps: [f64; 2],
    /// Spin, backspin positive.
    pub spin_radps: f64,
    /// Speed of the (lower) wheel.
    pub wheel_radps: f64,
    /// Path length travelled by the centre.
    pub path_m: f64,
    /// Normal force on the (lower) wheel.
    pub wheel_normal_n: f64,
    /// Normal force on the guide or hood plate (or the upper wheel).
    pub guide_normal_n: f64,
    /// Slip speed of the wheel surface relative to the piece; 0 while gripping.
    pub wheel_slip_mps: f64,
    /// Slip speed of the fixed (or upper wheel) surface relative to the piece; 0 while gripping.
    pub guide_slip_mps: f64,
    /// True where the outer contact is the hood plate.
    pub on_hood: bool,
}

/// Where the energy of one passage went.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct EnergyAudit {
    /// Kinetic energy of piece and wheels before.
    pub kinetic_before_j: f64,
    /// Kinetic energy of piece and wheels after.
    pub kinetic_after_j: f64,
    /// Work of motor and feed.
    pub input_j: f64,
    /// Work of gravity on the piece.
    pub gravity_j: f64,
    /// Heat of slip.
    pub slip_heat_j: f64,
    /// Heat of squeezing and rolling.
    pub damping_heat_j: f64,
    /// What does not add up: after − before − input − gravity + heats.
    pub residual_j: f64,
}

/// The piece as it leaves the launcher.
#[derive(Clone, Debug, PartialEq)]
pub struct Release {
    /// Centre of the piece, side plane.
    pub position_m: [f64; 2],
    /// Velocity of the centre.
    pub velocity_mps: [f64; 2],
    /// Spin, backspin positive.
    pub spin_radps: f64,
    /// Wheel speeds after (lower, upper); the upper repeats the lower for a guide layout.
    pub wheel_after_radps: [f64; 2],
    /// Time from first touch of a wheel to last touch of anything.
    pub contact_s: f64,
    /// Distance slipped on the (lower) wheel.
    pub wheel_slip_m: f64,
    /// Distance slipped on guide and hood (or upper wheel).
    pub guide_slip_m: f64,
    /// Fraction of the wheel contact path travelled when slip on the wheel first ended; `None` if never.
    pub grip_at_frac: Option<f64>,
    /// Greatest normal force on the guide.
    pub peak_guide_n: f64,
    /// Energy audit.
    pub audit: EnergyAudit,
    /// Samples along the passage; empty unless asked for.
    pub trace: Vec<PassageSample>,
}

/// What became of a piece pushed into the launcher.
#[derive(Clone, Debug, PartialEq)]
pub enum Passage {
    /// It left forward.
    Thrown(Release),
    /// It did not come through: pushed back out, or still inside when time ran out.
    Refused {
        /// Where its centre was at the end.
        centre_m: [f64; 2],
        /// Why, in plain words.
        why: &'static str,
    },
}

/// A brushed motor from its data sheet, all at the nominal voltage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MotorSheet {
    /// Nominal voltage.
    pub nominal_v: f64,
    /// Speed without load.
    pub free_radps: f64,
    /// Current without load.
    pub free_a: f64,
    /// Torque at standstill.
    pub stall_nm: f64,
    /// Current at standstill.
    pub stall_a: f64,
    /// Inertia of the rotor.
    pub rotor_kgm2: f64,
}

/// How motors drive the wheel shaft.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drive {
    /// The motor.
    pub motor: MotorSheet,
    /// Motors per wheel shaft.
    pub motor_count: u32,
    /// Motor speed over wheel speed.
    pub gear_ratio: f64,
    /// Efficiency of the gearing, 0 to 1.
    pub gear_efficiency_frac: f64,
    /// Current limit per motor; infinite if none.
    pub limit_a: f64,
}

/// The battery with its wiring.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Battery {
    /// Open-circuit voltage.
    pub open_v: f64,
    /// Internal and wiring resistance.
    pub resistance_ohm: f64,
    /// Voltage at which electronics reset.
    pub brown_out_v: f64,
}

/// The wheel-speed controller.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Controller {
    /// Loop period.
    pub period_s: f64,
    /// Delay between measuring and acting, on top of the hold.
    pub delay_s: f64,
    /// Averaging length of the speed measurement, in samples.
    pub average_count: u32,
    /// Feed-forward: share of the exact holding voltage that is applied (1 = all, 0 = none).
    pub feed_forward_ratio: f64,
    /// Proportional gain.
    pub kp_vs: f64,
    /// Integral gain.
    pub ki_v: f64,
    /// Can it brake: duty −1 to 1? Without, duty is 0 to 1 and zero duty opens the circuit: the wheel coasts.
    pub brakes: bool,
    /// Speed band, as a fraction of the setpoint, that counts as ready.
    pub ready_frac: f64,
}

/// A part that turns with the wheel shaft or with a shaft geared to it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TurningPart {
    /// Shape and mass.
    pub shape: PartShape,
    /// How many of them.
    pub count: u32,
    /// Its speed over the wheel's speed.
    pub speed_ratio: f64,
    /// What it is made of, if known.
    pub material: Option<super::wheel_stress::WheelMaterial>,
}

/// Shapes that make up the wheel train.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum PartShape {
    /// Solid disc or annulus (wheel, hub, gear as a disc at its pitch radius, shaft).
    Annulus {
        /// Mass.
        mass_kg: f64,
        /// Outer radius.
        outer_m: f64,
        /// Inner radius; 0 for a disc.
        inner_m: f64,
    },
    /// Thin ring (tread).
    Ring {
        /// Mass.
        mass_kg: f64,
        /// Radius.
        radius_m: f64,
    },
    /// Known inertia.
    Known {
        /// Inertia about the shaft.
        inertia_kgm2: f64,
    },
}

/// One moment of a volley.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct VolleySample {
    /// Time since spin-up began.
    pub time_s: f64,
    /// Wheel speed.
    pub wheel_radps: f64,
    /// Motor duty, −1 to 1.
    pub duty_frac: f64,
    /// Current drawn from the battery.
    pub battery_a: f64,
    /// Voltage at the battery terminals.
    pub battery_v: f64,
}

/// Materials with a known cold-bend rule.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SheetMaterial {
    /// Solid polycarbonate.
    Polycarbonate,
    /// Acrylic.
    Acrylic,
    /// Twin-wall polypropylene, flutes parallel to the bend axis.
    Corrugated,
}
