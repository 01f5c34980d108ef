//! The planar contact simulation: the piece pushed by the feed, squeezed between wheel and guide
//! (or two wheels), let go along the hood plate.
//!
//! Compliant normal contact with damping, Coulomb friction with true stick, wheel trains with their
//! torque. The exit angle, the elastic push at the end of the squeeze and the effect of slide,
//! tilt and reach come out of the geometry alone.

use super::outline::{Element, ElementRole, Outline, Shape, outline};
use super::types::*;

/// Method: step of the simulation. Halving it moves the exit speed by less than 2e-4 of itself and
/// its direction by less than 0.02° (tested), a millimetre at the target of a few metres.
pub const STEP_S: f64 = 4e-5;
/// Method: step for searches over many settings; leaves a few millimetres at the target.
pub const SEARCH_STEP_S: f64 = 1e-4;
/// Physical: a passage longer than this is a stuck piece.
const LONGEST_S: f64 = 0.6;
/// Physical: spacing of recorded samples.
const TRACE_S: f64 = 2.5e-4;
/// Drop test of the restitution: speed of a fall from 1 m.
const DROP_SPEED_MPS: f64 = 4.428_69;
/// Convergence: sweeps of the friction solver; three contacts are solved to rounding well before.
const SWEEPS: usize = 40;
/// Convergence: friction impulses that move by less than this share are solved; far below what the
/// step leaves.
const SOLVED: f64 = 1e-9;
/// Most contacts at one time: two wheels and the fixed side.
const MOST: usize = 3;

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

/// Normal force law of one side of the piece against a stiff surface.
///
/// ```text
/// N = k dⁿ (1 + λ ḋ), never below 0                              [hunt-crossley-1975]
/// x (1 + e) = ln[(1 + x)/(1 − e x)],  x = λ v₀
/// ```
/// The second line is exact for any k, n and mass: integrate m v dv = −k dⁿ(1 + λ v) dd from the
/// touch at v₀ to the parting at e v₀. The press test between two boards squeezes both sides, so one
/// side at half the squeeze carries the whole force: k (δ/2)ⁿ = F(δ).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Side {
    k: f64,
    n: f64,
    lambda: f64,
}

impl Side {
    pub(crate) fn of(body: &Body) -> Side {
        let n = if body.stiffness_exponent.is_finite() {
            body.stiffness_exponent.max(1.0)
        } else {
            1.0
        };
        let reference = 0.1 * body.diameter_m;
        // F(δ) = K δ at δ = D/10, so K δ = k (δ/2)ⁿ there.
        let k = if n == 1.0 {
            2.0 * body.stiffness_npm
        } else {
            body.stiffness_npm * reference / (0.5 * reference).powf(n)
        };
        Side {
            k,
            n,
            lambda: damping(body.bounce_coeff) / DROP_SPEED_MPS,
        }
    }

    fn elastic(&self, d: f64) -> f64 {
        if d <= 0.0 {
            0.0
        } else if self.n == 1.0 {
            self.k * d
        } else {
            self.k * d.powf(self.n)
        }
    }
}

/// x = λ v₀ from the restitution e, by bisection on the exact relation.
fn damping(e: f64) -> f64 {
    if !(e < 1.0) {
        return 0.0;
    }
    let e = e.max(0.02);
    let f = |x: f64| ((1.0 + x) / (1.0 - e * x)).ln() - x * (1.0 + e);
    // f falls from 0 and then rises to +∞ at x = 1/e.
    let (mut lo, mut hi) = (1e-9, (1.0 - 1e-12) / e);
    for _ in 0..200 {
        let m = 0.5 * (lo + hi);
        if f(m) < 0.0 { lo = m } else { hi = m }
    }
    0.5 * (lo + hi)
}

/// Force of a slow press between two boards at a squeeze.
pub fn press_force(body: &Body, squeeze_m: f64) -> f64 {
    Side::of(body).elastic(0.5 * squeeze_m)
}

/// One touching surface during one step.
#[derive(Clone, Copy, Default)]
struct Touch {
    /// Unit normal toward the piece.
    n: [f64; 2],
    depth: f64,
    /// Contact arm: free radius less the depth.
    arm: f64,
    friction: f64,
    /// Which wheel: 0 lower, 1 upper, 2 fixed.
    wheel: usize,
    normal: f64,
    /// Friction impulse over the step.
    impulse: f64,
}

impl Touch {
    fn t(&self) -> [f64; 2] {
        [self.n[1], -self.n[0]]
    }
}

#[derive(Clone, Copy)]
struct Motion {
    p: [f64; 2],
    v: [f64; 2],
    w: f64,
    wheels: [f64; 2],
}

struct Sim<'a> {
    launcher: &'a Launcher,
    shape: Outline,
    walls: Vec<(Wall, ElementRole)>,
    side: Side,
    r: f64,
    m: f64,
    inertia: f64,
    j: f64,
    torque: TorqueLine,
    gravity: f64,
    /// Signed surface speed per wheel speed in the contact's own tangent direction.
    surface: [f64; 3],
    fixed_friction: f64,
}

/// An element prepared for many nearest-point questions: no trigonometry in the loop.
#[derive(Clone, Copy)]
enum Wall {
    Line {
        from: [f64; 2],
        along: [f64; 2],
        length: f64,
    },
    Arc {
        centre: [f64; 2],
        radius: f64,
        middle: [f64; 2],
        cos_half: f64,
        ends: [[f64; 2]; 2],
    },
}

impl Wall {
    fn of(element: &Element) -> Wall {
        match element.shape {
            Shape::Line { from_m, to_m } => {
                let d = [to_m[0] - from_m[0], to_m[1] - from_m[1]];
                let length = d[0].hypot(d[1]);
                let along = if length > 0.0 {
                    [d[0] / length, d[1] / length]
                } else {
                    [1.0, 0.0]
                };
                Wall::Line {
                    from: from_m,
                    along,
                    length,
                }
            }
            Shape::Arc {
                centre_m,
                radius_m,
                from_rad,
                to_rad,
            } => {
                let unit = |a: f64| [a.cos(), a.sin()];
                let at = |a: f64| {
                    let u = unit(a);
                    [centre_m[0] + radius_m * u[0], centre_m[1] + radius_m * u[1]]
                };
                let half = (0.5 * (from_rad - to_rad).abs()).min(std::f64::consts::PI);
                Wall::Arc {
                    centre: centre_m,
                    radius: radius_m,
                    middle: unit(0.5 * (from_rad + to_rad)),
                    cos_half: half.cos(),
                    ends: [at(from_rad), at(to_rad)],
                }
            }
        }
    }

    /// Nearest point of the element and its distance.
    fn nearest(&self, p: [f64; 2]) -> ([f64; 2], f64) {
        match *self {
            Wall::Line { from, along, length } => {
                let s = dot([p[0] - from[0], p[1] - from[1]], along).clamp(0.0, length);
                let q = [from[0] + s * along[0], from[1] + s * along[1]];
                (q, distance(p, q))
            }
            Wall::Arc {
                centre,
                radius,
                middle,
                cos_half,
                ends,
            } => {
                let d = [p[0] - centre[0], p[1] - centre[1]];
                let far = dot(d, d).sqrt();
                if far > 0.0 && dot(d, middle) >= cos_half * far {
                    let q = [centre[0] + radius * d[0] / far, centre[1] + radius * d[1] / far];
                    (q, (far - radius).abs())
                } else {
                    let [a, b] = ends.map(|e| (e, distance(p, e)));
                    if a.1 <= b.1 { a } else { b }
                }
            }
        }
    }
}

fn distance(a: [f64; 2], b: [f64; 2]) -> f64 {
    let d = [a[0] - b[0], a[1] - b[1]];
    dot(d, d).sqrt()
}

fn dot(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

impl Sim<'_> {
    /// All contacts at a place. The fixed side has one: its nearest point.
    fn touches(&self, p: [f64; 2], out: &mut [Touch; MOST]) -> usize {
        let mut count = 0;
        for (i, wheel) in self.shape.wheels.iter().enumerate().take(2) {
            let d = [p[0] - wheel.centre_m[0], p[1] - wheel.centre_m[1]];
            let far = d[0].hypot(d[1]);
            let depth = wheel.radius_m + self.r - far;
            if depth > 0.0 && far > 0.0 {
                out[count] = Touch {
                    n: [d[0] / far, d[1] / far],
                    depth,
                    arm: (self.r - depth).max(0.0),
                    friction: self.launcher.wheel_friction_coeff,
                    wheel: i,
                    ..Touch::default()
                };
                count += 1;
            }
        }
        if let Some((q, far, _)) = self.nearest_fixed(p) {
            let depth = self.r - far;
            if depth > 0.0 && far > 0.0 {
                out[count] = Touch {
                    n: [(p[0] - q[0]) / far, (p[1] - q[1]) / far],
                    depth,
                    arm: (self.r - depth).max(0.0),
                    friction: self.fixed_friction,
                    wheel: 2,
                    ..Touch::default()
                };
                count += 1;
            }
        }
        count
    }

    fn nearest_fixed(&self, p: [f64; 2]) -> Option<([f64; 2], f64, ElementRole)> {
        let mut best: Option<([f64; 2], f64, ElementRole)> = None;
        for (wall, role) in &self.walls {
            let (q, far) = wall.nearest(p);
            if best.as_ref().is_none_or(|b| far < b.1) {
                best = Some((q, far, *role));
            }
        }
        best
    }

    /// Surface speed of a contact's surface in its tangent direction.
    fn surface_speed(&self, t: &Touch, wheels: [f64; 2]) -> f64 {
        self.surface[t.wheel] * wheels.get(t.wheel).copied().unwrap_or(0.0)
    }

    fn slip(&self, t: &Touch, s: &Motion) -> f64 {
        self.surface_speed(t, s.wheels) - dot(s.v, t.t()) - t.arm * s.w
    }

    /// Coupling of the slip of contact i to the friction of contact j.
    fn coupling(&self, a: &Touch, b: &Touch) -> f64 {
        let wheel = if a.wheel == b.wheel && a.wheel < 2 {
            self.surface[a.wheel].powi(2) / self.j
        } else {
            0.0
        };
        dot(a.t(), b.t()) / self.m + a.arm * b.arm / self.inertia + wheel
    }
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
/// at both wheels. [`Launcher::speed_transfer_ratio`] scales velocity and spin at the very end.
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
    let sim = Sim {
        launcher,
        side: Side::of(body),
        r,
        m,
        inertia: body.inertia_coeff * m * r * r,
        j,
        torque: *torque,
        gravity: gravity_mps2,
        surface: [radius, -radius, 0.0],
        fixed_friction,
        walls: shape.elements.iter().map(|e| (Wall::of(e), e.role)).collect(),
        shape,
    };
    run(&sim, wheel_radps, upper_ratio, h, options.trace)
}

/// Physical: no size, angle, friction or speed of a launcher is a million SI units.
const HUGE: f64 = 1e6;

fn numbers(launcher: &Launcher, setting: &Setting) -> [f64; 13] {
    let layout = match launcher.layout {
        Layout::Guide(g) => [
            g.gap_m,
            g.wrap_rad,
            g.end_angle_rad,
            g.friction_coeff,
            g.hood_bend_m,
        ],
        Layout::Pair(p) => [p.gap_m, p.direction_rad, p.upper_speed_ratio, 0.0, 0.0],
    };
    let [a, b, c, d, e] = layout;
    let l = launcher;
    [
        a,
        b,
        c,
        d,
        e,
        setting.slide_m,
        setting.tilt_rad,
        setting.reach_m,
        l.wheel_friction_coeff,
        l.feed_speed_mps,
        l.feed_push_n,
        l.rolling_coeff,
        l.speed_transfer_ratio,
    ]
}

fn run(sim: &Sim, wheel_radps: f64, upper_ratio: f64, h: f64, with_trace: bool) -> Passage {
    let feed = sim.shape.feed_direction;
    let speed_in = sim.launcher.feed_speed_mps.max(0.0);
    let mut s = Motion {
        p: sim.shape.start_m,
        v: [speed_in * feed[0], speed_in * feed[1]],
        w: 0.0,
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
    let (mut time, mut path, mut turned) = (0.0, 0.0, 0.0);
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
        let count = sim.touches(s.p, &mut touches);
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
        turned += 0.5 * h * (before.w + s.w);
        let mut sample = (0.0, 0.0, 0.0, 0.0);
        for t in active.iter() {
            let mid_slip = 0.5 * (sim.slip(t, &before) + sim.slip(t, &s));
            match t.wheel {
                0 => {
                    if t.normal > 0.0 {
                        wheel_path += moved;
                        let held = t.impulse.abs() < t.friction * t.normal * h * (1.0 - 1e-9);
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
                turned_rad: turned,
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
        velocity_mps: [k * end.v[0], k * end.v[1]],
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

/// One velocity step at a fixed place.
fn step(sim: &Sim, s: &mut Motion, touches: &mut [Touch], h: f64, audit: &mut EnergyAudit, feeding: bool) {
    let old = *s;
    let feed = sim.shape.feed_direction;
    let mut guess = old;
    for pass in 0..2 {
        let mid_v = [0.5 * (old.v[0] + guess.v[0]), 0.5 * (old.v[1] + guess.v[1])];
        let mut v = [old.v[0], old.v[1] - h * sim.gravity];
        let mut push = 0.0;
        let along = dot(old.v, feed);
        if feeding && along < sim.launcher.feed_speed_mps {
            push = (sim.launcher.feed_push_n * h)
                .min(sim.m * (sim.launcher.feed_speed_mps - along))
                .max(0.0);
            v = [v[0] + push / sim.m * feed[0], v[1] + push / sim.m * feed[1]];
        }
        let mut rolling = 0.0;
        for t in touches.iter_mut() {
            let closing = -dot(mid_v, t.n);
            t.normal = (sim.side.elastic(t.depth) * (1.0 + sim.side.lambda * closing)).max(0.0);
            v = [
                v[0] + h / sim.m * t.normal * t.n[0],
                v[1] + h / sim.m * t.normal * t.n[1],
            ];
            rolling += sim.launcher.rolling_coeff.max(0.0) * sim.r * t.normal;
        }
        let mut next = Motion { v, ..old };
        let spin_loss = (rolling * h / sim.inertia).min(old.w.abs()) * old.w.signum();
        next.w = old.w - spin_loss;
        for (i, w) in next.wheels.iter_mut().enumerate() {
            if i == 0 || sim.shape.wheels.len() > 1 {
                // Motor torque at the middle of the step: implicit, so no slope can make it unstable.
                let rate = 0.5 * h * sim.torque.slope_nms.max(0.0) / sim.j;
                *w += h * (sim.torque.stall_nm - sim.torque.slope_nms * *w) / sim.j / (1.0 + rate);
            }
        }
        friction(sim, &next, touches, h);
        for t in touches.iter() {
            let (tan, f) = (t.t(), t.impulse);
            next.v = [next.v[0] + f / sim.m * tan[0], next.v[1] + f / sim.m * tan[1]];
            next.w += f * t.arm / sim.inertia;
            if t.wheel < 2 {
                next.wheels[t.wheel] -= f * sim.surface[t.wheel] / sim.j;
            }
        }
        guess = next;
        if pass == 1 {
            let mid = [0.5 * (old.v[0] + next.v[0]), 0.5 * (old.v[1] + next.v[1])];
            audit.input_j += push * dot(mid, feed);
            audit.gravity_j -= sim.m * sim.gravity * mid[1] * h;
            audit.damping_heat_j += spin_loss * sim.inertia * 0.5 * (old.w + next.w);
            for t in touches.iter() {
                let closing = -dot(mid, t.n);
                audit.damping_heat_j += (t.normal - sim.side.elastic(t.depth)) * closing * h;
                audit.slip_heat_j += t.impulse * 0.5 * (sim.slip(t, &old) + sim.slip(t, &next));
            }
            for i in 0..sim.shape.wheels.len().min(2) {
                let drag: f64 = touches
                    .iter()
                    .filter(|t| t.wheel == i)
                    .map(|t| t.impulse * sim.surface[i] / sim.j)
                    .sum();
                let driven = next.wheels[i] - old.wheels[i] + drag;
                audit.input_j += sim.j * driven * 0.5 * (old.wheels[i] + next.wheels[i]);
            }
        }
    }
    *s = guess;
}

/// Friction impulses of one step: the one answer within Coulomb's limits for the slip at its end. The
/// coupling matrix is positive definite, so it is unique. Two contacts are solved outright, three by
/// projected Gauss-Seidel.
fn friction(sim: &Sim, free: &Motion, touches: &mut [Touch], h: f64) {
    let limit = |t: &Touch| t.friction * t.normal * h;
    let within = |x: f64, most: f64| x.max(-most).min(most);
    match touches {
        [] => {}
        [one] => one.impulse = within(sim.slip(one, free) / sim.coupling(one, one), limit(one)),
        [a, b] => {
            let (ua, ub) = (sim.slip(a, free), sim.slip(b, free));
            let (aa, ab, bb) = (sim.coupling(a, a), sim.coupling(a, b), sim.coupling(b, b));
            let (la, lb) = (limit(a), limit(b));
            let det = aa * bb - ab * ab;
            let (pa, pb) = ((bb * ua - ab * ub) / det, (aa * ub - ab * ua) / det);
            (a.impulse, b.impulse) = if pa.abs() <= la && pb.abs() <= lb {
                (pa, pb)
            } else {
                // One of them slips; the other grips or slips as it must. The right one of the four
                // ways is the one in which what slips is driven the way it slips.
                let ways = [la, -la].map(|fa| {
                    let fb = within((ub - ab * fa) / bb, lb);
                    (fa, fb, (ua - aa * fa - ab * fb) * fa)
                });
                let other = [lb, -lb].map(|fb| {
                    let fa = within((ua - ab * fb) / aa, la);
                    (fa, fb, (ub - bb * fb - ab * fa) * fb)
                });
                let best = ways
                    .into_iter()
                    .chain(other)
                    .fold((0.0, 0.0, f64::NEG_INFINITY), |best, way| {
                        if best.2 < 0.0 && way.2 > best.2 { way } else { best }
                    });
                (best.0, best.1)
            };
        }
        more => sweep(sim, free, more, h),
    }
}

/// Projected Gauss-Seidel, for a piece wedged between three surfaces.
fn sweep(sim: &Sim, free: &Motion, touches: &mut [Touch], h: f64) {
    for _ in 0..SWEEPS {
        let mut moved: f64 = 0.0;
        for i in 0..touches.len() {
            let t = touches[i];
            let limit = t.friction * t.normal * h;
            let others: f64 = (0..touches.len())
                .filter(|j| *j != i)
                .map(|j| sim.coupling(&t, &touches[j]) * touches[j].impulse)
                .sum();
            let wanted = ((sim.slip(&t, free) - others) / sim.coupling(&t, &t))
                .max(-limit)
                .min(limit);
            moved = moved.max((wanted - t.impulse).abs());
            touches[i].impulse = wanted;
        }
        let size = touches.iter().map(|t| t.impulse.abs()).fold(0.0, f64::max);
        if moved <= SOLVED * size {
            break;
        }
    }
}

#[cfg(test)]
#[path = "planar_tests.rs"]
mod tests;
