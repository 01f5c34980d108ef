//! How far a design sits from the no-slip plateau, where friction no longer matters.

use super::planar::{PassOptions, pass};
use super::rolling::{Held, rolling};
use super::types::*;

/// Where a design sits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plateau {
    /// Exit speed of the closed form without slip at the exit, with the same dip.
    pub no_slip_speed_mps: f64,
    /// Exit speed of the contact simulation.
    pub exit_speed_mps: f64,
    /// Exit speed over the no-slip speed.
    pub speed_ratio: f64,
    /// d ln(exit speed) / d ln(friction), all friction together, by ±20 %.
    pub friction_sensitivity_ratio: f64,
    /// Factor by which all friction could fall before the piece no longer reaches rolling.
    pub friction_reserve_ratio: f64,
    /// The piece reaches rolling on the wheel before it leaves.
    pub grips: bool,
}

/// Method: half width of the friction difference.
const FRICTION_NUDGE: f64 = 0.2;
/// Physical: friction is looked at down to this share and up to its inverse.
const LEAST_SHARE: f64 = 0.125;
/// A friction reserve as large as this was not looked beyond.
pub const MOST_RESERVE_RATIO: f64 = 1.0 / LEAST_SHARE;
/// Convergence: halvings of the reserve; leaves about 1 %.
const HALVINGS: usize = 8;

/// Where a launcher sits against the plateau at a wheel speed; `None` when nothing is thrown.
///
/// No slip at the exit gives v = R W/2 for a guide squeezed alike on both sides and
/// v = (R W₁ + R W₂)/2 for a pair, with the wheel speeds after the throw ([`super::rolling`]).
pub fn plateau(
    launcher: &Launcher,
    body: &Body,
    setting: &Setting,
    wheel_radps: f64,
    torque: &TorqueLine,
    gravity_mps2: f64,
) -> Option<Plateau> {
    let with = |factor: f64| {
        let mut l = *launcher;
        l.wheel_friction_coeff *= factor;
        if let Layout::Guide(g) = &mut l.layout {
            g.friction_coeff *= factor;
        }
        match pass(
            &l,
            body,
            setting,
            wheel_radps,
            torque,
            gravity_mps2,
            &PassOptions::default(),
        ) {
            Passage::Thrown(r) => Some(r),
            Passage::Refused { .. } => None,
        }
    };
    let speed = |r: &Release| r.velocity_mps[0].hypot(r.velocity_mps[1]);
    let grips = |factor: f64| with(factor).is_some_and(|r| r.grip_at_frac.is_some());
    let here = with(1.0)?;
    let exit_speed_mps = speed(&here);
    let [lower, upper] = here.wheel_after_radps.map(|w| launcher.wheel_radius_m * w);
    let (gap_m, outer_mps) = match launcher.layout {
        Layout::Guide(g) => (g.gap_m, 0.0),
        Layout::Pair(p) => (p.gap_m, upper),
    };
    let held = Held {
        mass_kg: body.mass_kg,
        inertia_kgm2: body.inertia_coeff * body.mass_kg * (0.5 * body.diameter_m).powi(2),
        arm_1_m: 0.5 * gap_m,
        arm_2_m: 0.5 * gap_m,
    };
    let no_slip_speed_mps = rolling(&held, lower, outer_mps).speed_mps * launcher.speed_transfer_ratio;
    let (less, more) = (1.0 - FRICTION_NUDGE, 1.0 + FRICTION_NUDGE);
    let friction_sensitivity_ratio = match (with(less), with(more)) {
        (Some(a), Some(b)) => (speed(&b) / speed(&a)).ln() / (more / less).ln(),
        _ => f64::NAN,
    };
    let now = here.grip_at_frac.is_some();
    // The friction factor at which gripping begins lies between these, in the logarithm.
    let (mut slips, mut holds) = if now {
        (LEAST_SHARE, 1.0)
    } else {
        (1.0, 1.0 / LEAST_SHARE)
    };
    let mut found = true;
    if now && grips(slips) {
        holds = slips;
        found = false;
    } else if !now && !grips(holds) {
        found = false;
    }
    if found {
        for _ in 0..HALVINGS {
            let middle = (slips * holds).sqrt();
            if grips(middle) {
                holds = middle
            } else {
                slips = middle
            }
        }
    }
    Some(Plateau {
        no_slip_speed_mps,
        exit_speed_mps,
        speed_ratio: exit_speed_mps / no_slip_speed_mps,
        friction_sensitivity_ratio,
        friction_reserve_ratio: 1.0 / holds,
        grips: now,
    })
}
