//! The planar contact simulation: the piece pushed by the feed, squeezed between wheel and guide
//! (or two wheels), let go along the hood plate.
//!
//! Compliant normal contact with damping, Coulomb friction with true stick, wheel trains with their
//! torque. The exit angle, the elastic push at the end of the squeeze and the effect of slide,
//! tilt and reach come out of the geometry alone.

mod side;
mod step;
pub(in crate::launcher) mod uneven;
mod wall;

use self::side::Side;
use self::step::{MOST, Motion, Sim, Touch, step};
pub use self::uneven::MOST_WAVES_COUNT;
use self::wall::{Wall, dot};
use super::outline::{ElementRole, Outline, outline};
use super::types::*;

/// Method: step of the simulation. Halving it moves the exit speed by less than 2e-4 of itself and
/// its direction by less than 0.03° (tested), about a millimetre at a target a few metres away.
pub const STEP_S: f64 = 1e-4;
/// Method: step for searches over many settings; leaves a few millimetres at the target.
pub const SEARCH_STEP_S: f64 = 3e-4;
/// Physical: a passage longer than this is a stuck piece.
const LONGEST_S: f64 = 0.6;
/// Rounding: a friction impulse this close to its limit is at it.
const HELD_SHARE: f64 = 1.0 - 1e-9;
/// Physical: spacing of recorded samples.
const TRACE_S: f64 = 2.5e-4;

/// How to run a passage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PassOptions {
    /// Time step.
    pub step_s: f64,
    /// Record samples for pictures.
    pub trace: bool,
}

impl Default for PassOptions {
    fn default() -> Self {
        PassOptions {
            step_s: STEP_S,
            trace: false,
        }
    }
}

/// Force of a slow press between two boards at a squeeze.
pub fn press_force(body: &Body, squeeze_m: f64) -> f64 {
    Side::of(body).elastic(0.5 * squeeze_m)
}

/// Pushes one piece through the launcher.
///
/// Leapfrog on the compliant contacts (two passes for the damping), and per step the one friction
/// state that satisfies Coulomb's law with the step's own normal forces: stick where the slip can be
/// brought to zero within μN, slip with the sign of what is left otherwise. Second order in the step.
///
/// ```text
/// m v' = Σ N n + λ t + feed + gravity     I w' = Σ a λ − M     J W' = T₀ − b W ∓ R λ
/// u = ±R W − v·t − a w                    |λ| ≤ μ N, λ u ≥ 0
/// ```
///
/// Frames and signs as in the module documentation. The torque line of an unequal pair is the same
/// at both wheels. [`Launcher::speed_transfer_ratio`] scales velocity and spin at the very end,
/// and [`Launcher::exit_offset_rad`] turns the velocity.
/// Inputs that make no sense are refused, never a panic.
pub fn pass(
    launcher: &Launcher,
    body: &Body,
    setting: &Setting,
    wheel_radps: f64,
    torque: &TorqueLine,
    gravity_mps2: f64,
    options: &PassOptions,
) -> Passage {
    let shape = outline(launcher, setting, body.diameter_m);
    let start = shape.start_m;
    let refused = |p: [f64; 2], why: &'static str| Passage::Refused { centre_m: p, why };
    let (r, m) = (0.5 * body.diameter_m, body.mass_kg);
    let j = launcher.wheel_inertia_kgm2;
    let h = options.step_s;
    let sane = [
        r,
        m,
        j,
        h,
        body.inertia_coeff,
        launcher.wheel_radius_m,
        body.stiffness_npm,
    ];
    if !sane.iter().all(|x| x.is_finite() && *x > 0.0)
        || ![
            wheel_radps,
            torque.stall_nm,
            torque.slope_nms,
            gravity_mps2,
            launcher.axle_height_m,
        ]
        .iter()
        .all(|x| x.is_finite())
        || !numbers(launcher, setting)
            .iter()
            .all(|x| x.is_finite() && x.abs() < HUGE)
    {
        return refused(start, "a size, mass, inertia or speed makes no sense");
    }
    let radius = launcher.wheel_radius_m;
    let (upper_ratio, fixed_friction) = match launcher.layout {
        Layout::Guide(g) => (1.0, g.friction_coeff),
        // The channel before the wheels only guides.
        Layout::Pair(p) => (p.upper_speed_ratio, 0.0),
    };
    let even = uneven::is_even(&launcher.guide_error) || !matches!(launcher.layout, Layout::Guide(_));
    if let (false, Layout::Guide(g)) = (even, launcher.layout) {
        let arc_m = g.arc_m(launcher.wheel_radius_m);
        if !uneven::makes_sense(&launcher.guide_error, arc_m, HUGE) {
            return refused(start, "the guide's error makes no sense");
        }
    }
    if launcher
        .bite
        .is_some_and(|b| !b.depth_m.iter().all(|x| x.is_finite() && x.abs() < HUGE))
    {
        return refused(start, "the outline of the piece makes no sense");
    }
    let walls = if even {
        shape.elements.iter().map(|e| (Wall::of(e), e.role)).collect()
    } else {
        uneven::walls(&shape.elements, &launcher.guide_error, r)
    };
    let sim = Sim {
        launcher,
        first_touch_rad: direction(&shape, start),
        side: Side::of(body),
        r,
        m,
        inertia: body.inertia_coeff * m * r * r,
        j,
        torque: *torque,
        gravity: gravity_mps2,
        surface: [radius, -radius, 0.0],
        fixed_friction,
        walls,
        shape,
    };
    run(&sim, wheel_radps, upper_ratio, h, options.trace)
}

/// Direction of a place as seen from the (lower) wheel's axle.
fn direction(shape: &Outline, p: [f64; 2]) -> f64 {
    shape
        .wheels
        .first()
        .map_or(0.0, |w| (p[1] - w.centre_m[1]).atan2(p[0] - w.centre_m[0]))
}

/// Physical: no size, angle, friction or speed of a launcher is a million SI units.
const HUGE: f64 = 1e6;

fn numbers(launcher: &Launcher, setting: &Setting) -> [f64; 15] {
    let layout = match launcher.layout {
        Layout::Guide(g) => [
            g.gap_m,
            g.wrap_rad,
            g.end_angle_rad,
            g.friction_coeff,
            g.hood_bend_m,
            g.entry_relief_m,
        ],
        Layout::Pair(p) => [p.gap_m, p.direction_rad, p.upper_speed_ratio, 0.0, 0.0, 0.0],
    };
    let [a, b, c, d, e, f] = layout;
    let l = launcher;
    [
        a,
        b,
        c,
        d,
        e,
        f,
        setting.slide_m,
        setting.tilt_rad,
        setting.reach_m,
        l.wheel_friction_coeff,
        l.feed_speed_mps,
        l.feed_push_n,
        l.rolling_coeff,
        l.speed_transfer_ratio,
        l.exit_offset_rad,
    ]
}

fn run(sim: &Sim, wheel_radps: f64, upper_ratio: f64, h: f64, with_trace: bool) -> Passage {
    let feed = sim.shape.feed_direction;
    let speed_in = sim.launcher.feed_speed_mps.max(0.0);
    let mut s = Motion {
        p: sim.shape.start_m,
        v: [speed_in * feed[0], speed_in * feed[1]],
        w: 0.0,
        turned: 0.0,
        wheels: [wheel_radps, upper_ratio * wheel_radps],
    };
    let two = sim.shape.wheels.len() > 1;
    let kinetic = |s: &Motion| {
        let wheels = s.wheels[0].powi(2) + if two { s.wheels[1].powi(2) } else { 0.0 };
        0.5 * (sim.m * dot(s.v, s.v) + sim.inertia * s.w * s.w + sim.j * wheels)
    };
    let mut audit = EnergyAudit {
        kinetic_before_j: kinetic(&s),
        ..EnergyAudit::default()
    };
    let (mut time, mut path) = (0.0, 0.0);
    let mut touches = [Touch::default(); MOST];
    let mut first_touch: Option<f64> = None;
    let mut last: Option<(f64, Motion, EnergyAudit)> = None;
    let (mut wheel_path, mut grip_at) = (0.0, None::<f64>);
    let (mut wheel_slip, mut guide_slip, mut peak) = (0.0, 0.0, 0.0f64);
    let (mut engaged, mut feeding) = (false, true);
    let mut trace = Vec::new();
    let mut next_sample = 0.0;
    while time < LONGEST_S {
        s.p = [s.p[0] + 0.5 * h * s.v[0], s.p[1] + 0.5 * h * s.v[1]];
        s.turned += 0.5 * h * s.w;
        let count = sim.touches(&s, &mut touches);
        let active = &mut touches[..count];
        let before = s;
        // The feed pushes along the ramp, never after the piece has once left it.
        let from_start = [s.p[0] - sim.shape.start_m[0], s.p[1] - sim.shape.start_m[1]];
        feeding &= dot(from_start, feed) < sim.shape.feed_length_m;
        step(sim, &mut s, active, h, &mut audit, feeding);
        let mid_v = [0.5 * (before.v[0] + s.v[0]), 0.5 * (before.v[1] + s.v[1])];
        s.p = [s.p[0] + 0.5 * h * s.v[0], s.p[1] + 0.5 * h * s.v[1]];
        time += h;
        let moved = h * mid_v[0].hypot(mid_v[1]);
        path += moved;
        s.turned += 0.5 * h * s.w;
        let mut sample = (0.0, 0.0, 0.0, 0.0);
        for t in active.iter() {
            // Gripping is what friction inside its limit does; what slip is left then is the step's own.
            let held = t.normal > 0.0 && t.impulse.abs() < t.friction * t.normal * h * HELD_SHARE;
            let mid_slip = if held {
                0.0
            } else {
                0.5 * (sim.slip(t, &before) + sim.slip(t, &s))
            };
            match t.wheel {
                0 => {
                    if t.normal > 0.0 {
                        wheel_path += moved;
                        if held && grip_at.is_none() {
                            grip_at = Some(wheel_path);
                        }
                    }
                    wheel_slip += mid_slip.abs() * h;
                    sample.0 = t.normal;
                    sample.2 = mid_slip;
                }
                _ => {
                    let slip = if t.wheel == 2 { -mid_slip } else { mid_slip };
                    guide_slip += slip.abs() * h;
                    peak = peak.max(t.normal);
                    sample.1 = t.normal;
                    sample.3 = slip;
                }
            }
            if t.wheel < 2 && t.normal > 0.0 {
                engaged = true;
                first_touch.get_or_insert(time);
            }
        }
        if !(s.v[0].is_finite() && s.v[1].is_finite() && s.w.is_finite()) {
            return Passage::Refused {
                centre_m: before.p,
                why: "the contact is too stiff to follow; check stiffness and mass",
            };
        }
        if count > 0 && engaged {
            last = Some((time, s, audit));
        }
        if with_trace && time >= next_sample {
            next_sample += TRACE_S;
            let on_hood = sim.nearest_fixed(s.p).is_some_and(|(_, far, role)| {
                far < sim.r && matches!(role, ElementRole::Bend | ElementRole::Hood)
            });
            trace.push(PassageSample {
                time_s: time,
                centre_m: s.p,
                turned_rad: s.turned,
                velocity_mps: s.v,
                spin_radps: s.w,
                wheel_radps: s.wheels[0],
                path_m: path,
                wheel_normal_n: sample.0,
                guide_normal_n: sample.1,
                wheel_slip_mps: sample.2,
                guide_slip_mps: sample.3,
                on_hood,
            });
        }
        let from_start = [s.p[0] - sim.shape.start_m[0], s.p[1] - sim.shape.start_m[1]];
        if dot(from_start, feed) < -2.0 * sim.r && dot(s.v, feed) < 0.0 {
            return Passage::Refused {
                centre_m: s.p,
                why: "the wheel pushes it back out instead of taking it in",
            };
        }
        let past = [s.p[0] - sim.shape.exit_m[0], s.p[1] - sim.shape.exit_m[1]];
        if count == 0
            && engaged
            && dot(past, sim.shape.exit_direction) > 0.0
            && dot(s.v, sim.shape.exit_direction) > 0.0
        {
            break;
        }
    }
    let Some((left_at, end, mut audit_end)) = last.filter(|_| time < LONGEST_S) else {
        let why = if engaged {
            "it stays wedged between wheel and guide"
        } else {
            "the wheel never takes hold of it"
        };
        return Passage::Refused { centre_m: s.p, why };
    };
    audit_end.kinetic_after_j = kinetic(&end);
    audit_end.residual_j =
        audit_end.kinetic_after_j - audit_end.kinetic_before_j - audit_end.input_j - audit_end.gravity_j
            + audit_end.slip_heat_j
            + audit_end.damping_heat_j;
    let k = sim.launcher.speed_transfer_ratio;
    Passage::Thrown(Release {
        position_m: end.p,
        velocity_mps: turned([k * end.v[0], k * end.v[1]], sim.launcher.exit_offset_rad),
        spin_radps: k * end.w,
        wheel_after_radps: [end.wheels[0], if two { end.wheels[1] } else { end.wheels[0] }],
        contact_s: left_at - first_touch.unwrap_or(left_at),
        wheel_slip_m: wheel_slip,
        guide_slip_m: guide_slip,
        grip_at_frac: grip_at.map(|g| if wheel_path > 0.0 { g / wheel_path } else { 0.0 }),
        peak_guide_n: peak,
        audit: audit_end,
        trace,
    })
}

/// A velocity turned upward; as it was for no turn.
fn turned([x, z]: [f64; 2], by_rad: f64) -> [f64; 2] {
    if by_rad == 0.0 {
        return [x, z];
    }
    let (s, c) = by_rad.sin_cos();
    [x * c - z * s, x * s + z * c]
}

#[cfg(test)]
pub(super) mod tests;
#[cfg(test)]
mod uneven_tests;
