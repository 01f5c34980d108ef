//! Drive bases: how wheels and motion belong together, and what the floor lets them push.

use std::f64::consts::FRAC_1_SQRT_2;

use crate::launcher::MotorSheet;
use crate::launcher::motor::motor_constants;
use crate::units::STANDARD_GRAVITY_MPS2;

/// Motion of the base: velocity of its centre and its turning, left positive.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Motion {
    /// Ahead.
    pub ahead_mps: f64,
    /// To the left.
    pub left_mps: f64,
    /// Turning to the left.
    pub turn_radps: f64,
}

/// Speeds of the four wheels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WheelSpeeds {
    /// Front left.
    pub front_left_radps: f64,
    /// Front right.
    pub front_right_radps: f64,
    /// Rear left.
    pub rear_left_radps: f64,
    /// Rear right.
    pub rear_right_radps: f64,
}

/// Four wheels with free rollers at 45 degrees.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RollerBase {
    /// Wheel radius.
    pub radius_m: f64,
    /// Half of the distance between front and rear axle.
    pub half_base_m: f64,
    /// Half of the distance between left and right wheels.
    pub half_track_m: f64,
}

/// Wheel speeds for a motion of a base with rollers at 45 degrees.
///
/// ```text
/// ω_FL = (vx − vy − k ω)/r    ω_FR = (vx + vy + k ω)/r
/// ω_RL = (vx + vy − k ω)/r    ω_RR = (vx − vy + k ω)/r        k = lx + ly
/// ```
///
/// \[taheri-2015\], derived again. The rollers on the floor push along (1, −1), (1, 1), (1, 1), (1, −1);
/// seen from above the pattern is its mirror image. No slip, rollers without friction.
pub fn roller_wheels(base: &RollerBase, motion: &Motion) -> WheelSpeeds {
    let turn_mps = (base.half_base_m + base.half_track_m) * motion.turn_radps;
    let (x, y, r) = (motion.ahead_mps, motion.left_mps, base.radius_m);
    WheelSpeeds {
        front_left_radps: (x - y - turn_mps) / r,
        front_right_radps: (x + y + turn_mps) / r,
        rear_left_radps: (x + y - turn_mps) / r,
        rear_right_radps: (x - y + turn_mps) / r,
    }
}

/// Motion from four wheel speeds, and what of them no motion explains.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RollerMotion {
    /// The motion nearest to the wheel speeds.
    pub motion: Motion,
    /// Surface speed by which the wheels fight each other; 0 without slip.
    pub fight_mps: f64,
}

/// Motion of a base with rollers at 45 degrees from its wheel speeds, by least squares.
///
/// ```text
/// vx = r/4 (1, 1, 1, 1)·ω    vy = r/4 (−1, 1, 1, −1)·ω    ω = r/4k (−1, 1, −1, 1)·ω    fight = r/4 (1, 1, −1, −1)·ω
/// ```
///
/// Pseudo-inverse of [`roller_wheels`], derived. Four speeds, three motions: the fourth mode is slip.
pub fn roller_motion(base: &RollerBase, speeds: &WheelSpeeds) -> RollerMotion {
    let WheelSpeeds {
        front_left_radps: fl,
        front_right_radps: fr,
        rear_left_radps: rl,
        rear_right_radps: rr,
    } = *speeds;
    let quarter_m = 0.25 * base.radius_m;
    RollerMotion {
        motion: Motion {
            ahead_mps: quarter_m * (fl + fr + rl + rr),
            left_mps: quarter_m * (-fl + fr + rl - rr),
            turn_radps: quarter_m * (-fl + fr - rl + rr) / (base.half_base_m + base.half_track_m),
        },
        fight_mps: quarter_m * (fl + fr - rl - rr),
    }
}

/// Motion of a skid-steer base without slip.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SkidMotion {
    /// Speed ahead.
    pub ahead_mps: f64,
    /// Turning to the left.
    pub turn_radps: f64,
    /// Radius of the curve; infinite straight ahead.
    pub curve_m: f64,
}

/// Motion of a skid-steer base from the speeds of its two sides.
///
/// ```text
/// v = (v_l + v_r)/2    ω = (v_r − v_l)/B    R = v/ω
/// ```
///
/// No slip (derived). Turning scrubs, so the true turn is slower: use [`scrub`]'s track in its place.
pub fn skid_motion(radius_m: f64, track_m: f64, left_radps: f64, right_radps: f64) -> SkidMotion {
    let (left, right) = (radius_m * left_radps, radius_m * right_radps);
    let (ahead_mps, turn_radps) = (0.5 * (left + right), (right - left) / track_m);
    SkidMotion {
        ahead_mps,
        turn_radps,
        curve_m: if turn_radps == 0.0 {
            f64::INFINITY
        } else {
            ahead_mps / turn_radps
        },
    }
}

/// What it takes to turn a skid-steer base on the spot.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scrub {
    /// Moment for a uniformly loaded track.
    pub track_nm: f64,
    /// Moment for four wheels if they only slid sideways: too high.
    pub lateral_nm: f64,
    /// Push along its own direction that each of four wheels needs.
    pub wheel_n: f64,
    /// Moment for four wheels that slide the way they go.
    pub wheels_nm: f64,
    /// Surface speed of the wheels.
    pub wheel_mps: f64,
    /// Track that makes the no-slip formula right.
    pub effective_track_m: f64,
}

/// Slow steady turn on the spot: moments, wheel speed and the track for odometry.
///
/// ```text
/// track  M = μ W L/4        sideways only  M = μ W L/2
/// four wheels  Fx = μ (W/4) L/√(L² + B²)    M = μ W L B/(2 √(L² + B²))
/// v = ω (B² + L²)/(2 B)    B_eff = B (1 + (L/B)²)
/// ```
///
/// Track formula \[wong-vehicles\]. Four wheels: equal loads, centre of mass in the middle, friction alike
/// in all directions; derived. Not for rollers, which turn without scrub.
pub fn scrub(friction_coeff: f64, weight_n: f64, base_m: f64, track_m: f64, turn_radps: f64) -> Scrub {
    let diagonal_m = base_m.hypot(track_m);
    let slide_n = friction_coeff * weight_n;
    Scrub {
        track_nm: slide_n * base_m / 4.0,
        lateral_nm: slide_n * base_m / 2.0,
        wheel_n: slide_n / 4.0 * base_m / diagonal_m,
        wheels_nm: slide_n * base_m * track_m / (2.0 * diagonal_m),
        wheel_mps: turn_radps * diagonal_m * diagonal_m / (2.0 * track_m),
        effective_track_m: track_m * (1.0 + (base_m / track_m) * (base_m / track_m)),
    }
}

/// Motors and gearing of a whole base.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BaseDrive {
    /// One motor.
    pub motor: MotorSheet,
    /// Motors on the whole base.
    pub motor_count: u32,
    /// Motor speed over wheel speed.
    pub gear_ratio: f64,
    /// Share of the motor's power that reaches the wheels.
    pub efficiency_frac: f64,
    /// Current limit of each motor; infinite if none.
    pub limit_a: f64,
    /// Wheel radius.
    pub radius_m: f64,
}

/// Pushing against something that does not move.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Push {
    /// What the floor bears before the wheels slip.
    pub traction_n: f64,
    /// What stalled motors would push at the nominal voltage.
    pub motor_n: f64,
    /// The lesser of the two.
    pub push_n: f64,
    /// Speed ahead without load.
    pub free_mps: f64,
    /// Current of each motor when the wheels slip; above the stall current they never do.
    pub slip_a: f64,
}

/// Pushing force of plain wheels at the nominal voltage, and the current at which they slip.
///
/// ```text
/// F = min(μ m g, Nm G η Ts/r)    I = I0 + μ m g r/(Nm G η kT)    v = ω0 r/G
/// ```
///
/// Derived from the linear motor \[fitzgerald-machines\]. All weight on driven wheels.
pub fn push(drive: &BaseDrive, mass_kg: f64, friction_coeff: f64) -> Push {
    let traction_n = friction_coeff * mass_kg * STANDARD_GRAVITY_MPS2;
    let per_torque = f64::from(drive.motor_count) * drive.gear_ratio * drive.efficiency_frac / drive.radius_m;
    let motor_n = per_torque * drive.motor.stall_nm;
    let m = motor_constants(&drive.motor);
    Push {
        traction_n,
        motor_n,
        push_n: traction_n.min(motor_n),
        free_mps: drive.motor.free_radps * drive.radius_m / drive.gear_ratio,
        slip_a: m.free_a + traction_n / (per_torque * m.kt_nm_per_a),
    }
}

/// Force of a base with rollers at 45 degrees, straight ahead.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RollerForce {
    /// What the wheel torques push, ahead and sideways alike.
    pub motor_n: f64,
    /// What the floor bears before a roller slips, straight ahead.
    pub traction_n: f64,
    /// What it would bear under plain wheels.
    pub plain_n: f64,
    /// Top speed along the diagonal over that straight ahead.
    pub diagonal_ratio: f64,
}

/// Motor limit and traction limit of four wheels with rollers at 45 degrees.
///
/// ```text
/// F_motor = Σ T/r    F_traction = μ W cos 45°    v(45°)/v(0) = 1/√2
/// ```
///
/// Virtual work, derived; rollers without friction, equal loads. The motor force is *not* less than that of
/// plain wheels; the traction is.
pub fn roller_force(
    friction_coeff: f64,
    weight_n: f64,
    wheel_count: u32,
    torque_nm: f64,
    radius_m: f64,
) -> RollerForce {
    let plain_n = friction_coeff * weight_n;
    let diagonal = std::f64::consts::FRAC_PI_4;
    RollerForce {
        motor_n: f64::from(wheel_count) * torque_nm / radius_m,
        traction_n: plain_n * FRAC_1_SQRT_2,
        plain_n,
        diagonal_ratio: speed_share(Way::Rollers { sideways_frac: 1.0 }, diagonal),
    }
}

/// How a base can move.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Way {
    /// Plain wheels: along its own axis only.
    Plain,
    /// Rollers at 45 degrees: any way. Of the force to the side this share is left by the rollers' friction.
    Rollers {
        /// Share of the sideways force that is left, above 0.
        sideways_frac: f64,
    },
}

/// Method: a direction nearer to the axis than this is straight ahead or back, rad.
const STRAIGHT_RAD: f64 = 1e-9;

fn straight(direction_rad: f64) -> bool {
    direction_rad.sin().abs() < STRAIGHT_RAD
}

/// Top speed in a direction over that straight ahead.
///
/// ```text
/// rollers  1/(|cos φ| + |sin φ|)        plain  1 along the axis, 0 elsewhere
/// ```
///
/// The fastest wheel is at its limit; from [`roller_wheels`].
pub fn speed_share(way: Way, direction_rad: f64) -> f64 {
    match way {
        Way::Plain => f64::from(u8::from(straight(direction_rad))),
        Way::Rollers { .. } => 1.0 / (direction_rad.cos().abs() + direction_rad.sin().abs()),
    }
}

/// Force in a direction over that straight ahead: the same for the motor limit and for traction.
///
/// ```text
/// rollers  1/(|cos φ| + |sin φ|/η_side)        plain  1 along the axis, 0 elsewhere
/// ```
///
/// The wheel that pushes hardest is at its limit: two pairs of wheels push a = (X − Y)/4 and b = (X + Y)/4 each.
pub fn force_share(way: Way, direction_rad: f64) -> f64 {
    match way {
        Way::Plain => f64::from(u8::from(straight(direction_rad))),
        Way::Rollers { sideways_frac } => {
            1.0 / (direction_rad.cos().abs() + direction_rad.sin().abs() / sideways_frac)
        }
    }
}

/// Share of the weight's friction that the floor bears straight ahead: cos 45° under rollers.
pub fn traction_share(way: Way) -> f64 {
    match way {
        Way::Plain => 1.0,
        Way::Rollers { .. } => FRAC_1_SQRT_2,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::{FRAC_PI_2, PI};

    const BASE: RollerBase = RollerBase {
        radius_m: 0.05,
        half_base_m: 0.14,
        half_track_m: 0.2,
    };

    #[test]
    fn wheel_speeds_give_back_the_motion_and_no_fight() {
        let motion = Motion {
            ahead_mps: 0.7,
            left_mps: -0.4,
            turn_radps: 1.3,
        };
        let back = roller_motion(&BASE, &roller_wheels(&BASE, &motion));
        for (a, b) in [
            (back.motion.ahead_mps, 0.7),
            (back.motion.left_mps, -0.4),
            (back.motion.turn_radps, 1.3),
            (back.fight_mps, 0.0),
        ] {
            assert!((a - b).abs() < 1e-12, "{a} {b}");
        }
    }

    /// The speed share is what the fastest wheel of the kinematics says.
    #[test]
    fn the_speed_share_puts_the_fastest_wheel_at_its_limit() {
        let way = Way::Rollers { sideways_frac: 0.7 };
        for i in 0..32 {
            let phi = f64::from(i) / 32.0 * 2.0 * PI;
            let v = speed_share(way, phi);
            let s = roller_wheels(
                &BASE,
                &Motion {
                    ahead_mps: v * phi.cos(),
                    left_mps: v * phi.sin(),
                    turn_radps: 0.0,
                },
            );
            let most = [
                s.front_left_radps,
                s.front_right_radps,
                s.rear_left_radps,
                s.rear_right_radps,
            ]
            .iter()
            .fold(0.0_f64, |a, w| a.max(w.abs()));
            assert!((most * BASE.radius_m - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn rollers_push_as_hard_sideways_as_ahead_less_their_own_friction_and_plain_wheels_not_at_all() {
        let ideal = Way::Rollers { sideways_frac: 1.0 };
        let real = Way::Rollers { sideways_frac: 0.7 };
        assert!((force_share(ideal, FRAC_PI_2) - 1.0).abs() < 1e-12);
        assert!((force_share(real, FRAC_PI_2) - 0.7).abs() < 1e-12);
        assert_eq!(force_share(Way::Plain, 0.3), 0.0);
        assert_eq!(force_share(Way::Plain, PI), 1.0);
    }

    /// Trap: more gearing past the slip of the wheels is only heat.
    #[test]
    fn past_the_slip_of_the_wheels_more_gearing_pushes_no_harder() {
        let motor = MotorSheet {
            nominal_v: 12.0,
            free_radps: 480.0,
            free_a: 3.0,
            stall_nm: 1.9,
            stall_a: 82.0,
            rotor_kgm2: 0.0,
        };
        let at = |gear_ratio| {
            let drive = BaseDrive {
                motor,
                motor_count: 4,
                gear_ratio,
                efficiency_frac: 0.85,
                limit_a: f64::INFINITY,
                radius_m: 0.05,
            };
            push(&drive, 15.0, 0.9)
        };
        assert_eq!(at(6.0).push_n, at(12.0).push_n);
        assert!(at(0.5).push_n < at(6.0).push_n);
        assert!(at(0.5).slip_a > motor.stall_a);
    }

    /// A turn without scrub needs a wheel speed of half the track; scrub makes it faster.
    #[test]
    fn a_short_base_turns_like_the_formula_without_slip() {
        let s = scrub(0.8, 150.0, 1e-6, 0.36, 3.0);
        assert!((s.wheel_mps - 0.54).abs() < 1e-9 && (s.effective_track_m - 0.36).abs() < 1e-9);
        assert!(s.wheels_nm < 1e-3);
        let straight_ahead = skid_motion(0.05, 0.36, 10.0, 10.0);
        assert_eq!(straight_ahead.curve_m, f64::INFINITY);
    }
}
