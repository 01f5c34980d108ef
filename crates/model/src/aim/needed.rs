//! What a spot asks of any launcher: the exit speed for each exit angle, before a machine is chosen.

use crate::project::{Project, Spot};
use crate::shot::{Chain, Exit, Stance};
use crate::target::Outcome;

/// The exit that a spot asks for at one angle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Needed {
    /// Elevation of the exit.
    pub angle_rad: f64,
    /// Speed that brings the piece through the centre of the opening.
    pub speed_mps: f64,
    /// Lowest and highest speed that keep it within the opening's depth, the rim not counted.
    pub window_mps: [f64; 2],
    /// Angle to the plane of the opening.
    pub entry_rad: f64,
    /// Least room to the rim; not finite where it does not come to the opening.
    pub clearance_m: f64,
    /// It goes in with the clearance and the entry angle that the brief asks for.
    pub serves: bool,
}

/// Method: angles asked of, degrees from the level; flatter or steeper exits serve no raised target.
const ANGLES_DEG: (u32, u32) = (20, 86);
const STEP_DEG: usize = 2;
/// Physical: a light ball is thrown no slower and no faster than this by hand-built machines.
const SPEEDS_MPS: (f64, f64) = (1.0, 40.0);
/// Method: speeds tried to find the bracket, each this much faster than the one before.
const GROWTH_RATIO: f64 = 1.25;
/// Physical: nearer than this to the centre is through it.
const NEAR_M: f64 = 2e-3;
/// Convergence: a speed that is known to this part of itself.
const CLOSE_FRAC: f64 = 1e-5;

/// The exits that a spot asks for, flattest first; an angle at which no speed comes to the centre is left out.
///
/// The piece leaves without spin, above the wheel's axle at its height: backspin carries it, so a launcher with it needs
/// a little less. With no air it is the parabola of every textbook:
///
/// ```text
/// v² = g d² / (2 cos²θ (d tan θ − h))      d to the centre of the opening, h above the exit
/// ```
pub fn needed(project: &Project, spot: &Spot) -> Vec<Needed> {
    let chain = Chain::of(project).standing();
    let stance = chain.stance(spot);
    let half_m = (0.5 * project.target.depth_m - 0.5 * project.piece.diameter_m).max(0.0);
    (ANGLES_DEG.0..=ANGLES_DEG.1)
        .step_by(STEP_DEG)
        .filter_map(|deg| at_angle(project, &chain, &stance, f64::from(deg).to_radians(), half_m))
        .collect()
}

fn at_angle(
    project: &Project,
    chain: &Chain,
    stance: &Stance,
    angle_rad: f64,
    half_m: f64,
) -> Option<Needed> {
    let exit = |speed_mps: f64| Exit {
        speed_mps,
        angle_rad,
        spin_radps: 0.0,
        forward_m: 0.0,
        height_m: chain.launcher.axle_height_m,
    };
    // A throw that never comes to the plane is too slow.
    let along = |speed_mps: f64| {
        chain
            .crossing(&exit(speed_mps), stance)
            .map_or(f64::NEG_INFINITY, |c| c.along_m)
    };
    let speed_mps = speed_for(along, 0.0)?;
    let arrival = chain.fly(&exit(speed_mps), stance);
    let entry_rad = arrival.crossing.map_or(f64::NAN, |c| c.entry_rad);
    let clearance_m = arrival.clearance.map_or(f64::NAN, |k| k.least_m());
    let limits = &project.limits;
    Some(Needed {
        angle_rad,
        speed_mps,
        window_mps: [
            speed_for(along, -half_m).unwrap_or(speed_mps),
            speed_for(along, half_m).unwrap_or(speed_mps),
        ],
        entry_rad,
        clearance_m,
        serves: arrival.outcome == Outcome::In
            && clearance_m >= limits.clearance_m
            && entry_rad >= limits.entry_angle_rad.unwrap_or(0.0),
    })
}

/// The speed at which a rising function has a value: bracketed by growing steps, then halved.
fn speed_for(along: impl Fn(f64) -> f64, goal_m: f64) -> Option<f64> {
    let (mut low, mut high) = (SPEEDS_MPS.0, SPEEDS_MPS.0);
    while along(high) < goal_m {
        low = high;
        high *= GROWTH_RATIO;
        if high > SPEEDS_MPS.1 {
            return None;
        }
    }
    if low == high {
        return None;
    }
    let (mut at_low, mut at_high) = (along(low), along(high));
    while high - low > CLOSE_FRAC * high {
        // The straight line between the ends, kept off them; halves where one end has no number.
        let line = low + (high - low) * (goal_m - at_low) / (at_high - at_low);
        let (from, to) = (low + 0.02 * (high - low), high - 0.02 * (high - low));
        let middle = if at_low.is_finite() && line.is_finite() {
            line.clamp(from, to)
        } else {
            0.5 * (low + high)
        };
        let value = along(middle);
        if value < goal_m {
            (low, at_low) = (middle, value);
        } else {
            (high, at_high) = (middle, value);
        }
    }
    // Flat throws come down to the plane beyond the centre or not at all: a jump is no root.
    let speed_mps = 0.5 * (low + high);
    ((along(speed_mps) - goal_m).abs() < NEAR_M).then_some(speed_mps)
}
