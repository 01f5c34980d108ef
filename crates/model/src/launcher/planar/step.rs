//! One step of the simulation: contacts, normal forces, friction, audit.

use super::side::Side;
use super::wall::{Wall, dot};
use crate::launcher::outline::{ElementRole, Outline};
use crate::launcher::{EnergyAudit, Launcher, TorqueLine};

/// Convergence: sweeps of the friction solver; three contacts are solved to rounding well before.
const SWEEPS: usize = 40;
/// Convergence: friction impulses that move by less than this share are solved; far below what the
/// step leaves.
const SOLVED: f64 = 1e-9;
/// Most contacts at one time: two wheels and the fixed side.
pub(super) const MOST: usize = 3;

/// One touching surface during one step.
#[derive(Clone, Copy, Default)]
pub(super) struct Touch {
    /// Unit normal toward the piece.
    pub(super) n: [f64; 2],
    /// Force on the centre per normal force; the normal but for the slope of an outline that is not round.
    pub(super) push: [f64; 2],
    /// Moment on the piece per normal force that the same slope makes.
    pub(super) turn: f64,
    pub(super) depth: f64,
    /// Contact arm: free radius less the depth.
    pub(super) arm: f64,
    /// Normal and arm at the end of the step, where slip is brought to zero.
    pub(super) end_n: [f64; 2],
    pub(super) end_arm: f64,
    pub(super) friction: f64,
    /// Which wheel: 0 lower, 1 upper, 2 fixed.
    pub(super) wheel: usize,
    pub(super) normal: f64,
    /// Friction impulse over the step.
    pub(super) impulse: f64,
}

impl Touch {
    pub(super) fn t(&self) -> [f64; 2] {
        [self.n[1], -self.n[0]]
    }
}

#[derive(Clone, Copy)]
pub(super) struct Motion {
    pub(super) p: [f64; 2],
    pub(super) v: [f64; 2],
    pub(super) w: f64,
    pub(super) turned: f64,
    pub(super) wheels: [f64; 2],
}

pub(super) struct Sim<'a> {
    pub(super) launcher: &'a Launcher,
    pub(super) shape: Outline,
    pub(super) walls: Vec<(Wall, ElementRole)>,
    pub(super) side: Side,
    pub(super) r: f64,
    pub(super) m: f64,
    pub(super) inertia: f64,
    pub(super) j: f64,
    pub(super) torque: TorqueLine,
    pub(super) gravity: f64,
    /// Signed surface speed per wheel speed in the contact's own tangent direction.
    pub(super) surface: [f64; 3],
    pub(super) fixed_friction: f64,
    /// Direction of the piece from the (lower) axle when they first touch.
    pub(super) first_touch_rad: f64,
}

impl Sim<'_> {
    /// What the outline of the piece falls short of its circle where it faces the lower wheel, and the slope
    /// of that per radian.
    fn bite(&self, d: [f64; 2], turned: f64) -> (f64, f64) {
        match &self.launcher.bite {
            None => (0.0, 0.0),
            Some(bite) => bite.at(d[1].atan2(d[0]) - self.first_touch_rad - turned),
        }
    }

    /// All contacts at a place. The fixed side has one: its nearest point.
    ///
    /// ```text
    /// depth = R + r − b(θ) − |d|,  θ = direction of d − direction at first touch − turned angle
    /// force on the centre N (n + b′ e/|d|),  moment −N b′       e: d's direction turned left
    /// ```
    /// Both follow from the one elastic energy of the depth, so that an outline that is not round neither
    /// makes nor loses any; the wheel itself is round and feels no moment from it.
    pub(super) fn touches(&self, s: &Motion, out: &mut [Touch; MOST]) -> usize {
        let p = s.p;
        let mut count = 0;
        for (i, wheel) in self.shape.wheels.iter().enumerate().take(2) {
            let d = [p[0] - wheel.centre_m[0], p[1] - wheel.centre_m[1]];
            let far = d[0].hypot(d[1]);
            let (short, slope) = if i == 0 {
                self.bite(d, s.turned)
            } else {
                (0.0, 0.0)
            };
            let reach = self.r - short;
            let depth = wheel.radius_m + reach - far;
            if depth > 0.0 && far > 0.0 {
                let n = [d[0] / far, d[1] / far];
                let lean = slope / far;
                out[count] = Touch {
                    n,
                    push: [n[0] - lean * n[1], n[1] + lean * n[0]],
                    turn: -slope,
                    depth,
                    arm: (reach - depth).max(0.0),
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
                let n = [(p[0] - q[0]) / far, (p[1] - q[1]) / far];
                out[count] = Touch {
                    n,
                    push: n,
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

    pub(super) fn nearest_fixed(&self, p: [f64; 2]) -> Option<([f64; 2], f64, ElementRole)> {
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
    pub(super) fn surface_speed(&self, t: &Touch, wheels: [f64; 2]) -> f64 {
        self.surface[t.wheel] * wheels.get(t.wheel).copied().unwrap_or(0.0)
    }

    pub(super) fn slip(&self, t: &Touch, s: &Motion) -> f64 {
        self.surface_speed(t, s.wheels) - dot(s.v, t.t()) - t.arm * s.w
    }

    /// Slip with the geometry of the end of the step. With that of its middle the method drops to first order.
    fn end_slip(&self, t: &Touch, s: &Motion) -> f64 {
        self.surface_speed(t, s.wheels) - dot(s.v, [t.end_n[1], -t.end_n[0]]) - t.end_arm * s.w
    }

    /// Finds the geometry of each contact at a place.
    fn look_ahead(&self, p: [f64; 2], turned: f64, touches: &mut [Touch]) {
        for t in touches {
            let from = match self.shape.wheels.get(t.wheel) {
                Some(w) => Some((w.centre_m, w.radius_m)),
                None => self.nearest_fixed(p).map(|(q, _, _)| (q, 0.0)),
            };
            (t.end_n, t.end_arm) = (t.n, t.arm);
            if let Some((q, radius)) = from {
                let d = [p[0] - q[0], p[1] - q[1]];
                let far = dot(d, d).sqrt();
                if far > 0.0 {
                    t.end_n = [d[0] / far, d[1] / far];
                    let short = if t.wheel == 0 { self.bite(d, turned).0 } else { 0.0 };
                    t.end_arm = (far - radius).min(self.r - short).max(0.0);
                }
            }
        }
    }

    /// Coupling of the slip of contact a, at the end of the step, to the friction of contact b.
    pub(super) fn coupling(&self, a: &Touch, b: &Touch) -> f64 {
        let wheel = if a.wheel == b.wheel && a.wheel < 2 {
            self.surface[a.wheel].powi(2) / self.j
        } else {
            0.0
        };
        dot([a.end_n[1], -a.end_n[0]], b.t()) / self.m + a.end_arm * b.arm / self.inertia + wheel
    }
}

/// One velocity step at a fixed place.
pub(super) fn step(
    sim: &Sim,
    s: &mut Motion,
    touches: &mut [Touch],
    h: f64,
    audit: &mut EnergyAudit,
    feeding: bool,
) {
    let old = *s;
    let feed = sim.shape.feed_direction;
    let mut guess = old;
    for pass in 0..2 {
        let mid_v = [0.5 * (old.v[0] + guess.v[0]), 0.5 * (old.v[1] + guess.v[1])];
        let mid_w = 0.5 * (old.w + guess.w);
        let mut v = [old.v[0], old.v[1] - h * sim.gravity];
        let mut push = 0.0;
        let along = dot(old.v, feed);
        if feeding && along < sim.launcher.feed_speed_mps {
            push = (sim.launcher.feed_push_n * h)
                .min(sim.m * (sim.launcher.feed_speed_mps - along))
                .max(0.0);
            v = [v[0] + push / sim.m * feed[0], v[1] + push / sim.m * feed[1]];
        }
        let (mut rolling, mut moment) = (0.0, 0.0);
        for t in touches.iter_mut() {
            let closing = -dot(mid_v, t.push) - t.turn * mid_w;
            t.normal = (sim.side.elastic(t.depth) * (1.0 + sim.side.lambda * closing)).max(0.0);
            v = [
                v[0] + h / sim.m * t.normal * t.push[0],
                v[1] + h / sim.m * t.normal * t.push[1],
            ];
            moment += t.turn * t.normal;
            rolling += sim.launcher.rolling_coeff.max(0.0) * sim.r * t.normal;
        }
        let mut next = Motion { v, ..old };
        let spin_loss = (rolling * h / sim.inertia).min(old.w.abs()) * old.w.signum();
        next.w = old.w - spin_loss + h * moment / sim.inertia;
        for (i, w) in next.wheels.iter_mut().enumerate() {
            if i == 0 || sim.shape.wheels.len() > 1 {
                // Motor torque at the middle of the step: implicit, so no slope can make it unstable.
                let rate = 0.5 * h * sim.torque.slope_nms.max(0.0) / sim.j;
                *w += h * (sim.torque.stall_nm - sim.torque.slope_nms * *w) / sim.j / (1.0 + rate);
            }
        }
        sim.look_ahead(
            [s.p[0] + 0.5 * h * guess.v[0], s.p[1] + 0.5 * h * guess.v[1]],
            s.turned + 0.5 * h * guess.w,
            touches,
        );
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
                let closing = -dot(mid, t.push) - t.turn * 0.5 * (old.w + next.w);
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
/// coupling matrix is positive definite but for the turn of the path within a step, so it is unique. Two contacts are solved outright, three by
/// projected Gauss-Seidel.
fn friction(sim: &Sim, free: &Motion, touches: &mut [Touch], h: f64) {
    let limit = |t: &Touch| t.friction * t.normal * h;
    let within = |x: f64, most: f64| x.max(-most).min(most);
    match touches {
        [] => {}
        [one] => one.impulse = within(sim.end_slip(one, free) / sim.coupling(one, one), limit(one)),
        [a, b] => {
            let (ua, ub) = (sim.end_slip(a, free), sim.end_slip(b, free));
            let (aa, ab) = (sim.coupling(a, a), sim.coupling(a, b));
            let (ba, bb) = (sim.coupling(b, a), sim.coupling(b, b));
            let (la, lb) = (limit(a), limit(b));
            let det = aa * bb - ab * ba;
            let (pa, pb) = ((bb * ua - ab * ub) / det, (aa * ub - ba * ua) / det);
            (a.impulse, b.impulse) = if pa.abs() <= la && pb.abs() <= lb {
                (pa, pb)
            } else {
                // One of them slips; the other grips or slips as it must. The right one of the four
                // ways is the one in which what slips is driven the way it slips.
                let ways = [la, -la].map(|fa| {
                    let fb = within((ub - ba * fa) / bb, lb);
                    (fa, fb, (ua - aa * fa - ab * fb) * fa)
                });
                let other = [lb, -lb].map(|fb| {
                    let fa = within((ua - ab * fb) / aa, la);
                    (fa, fb, (ub - bb * fb - ba * fa) * fb)
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
            let wanted = ((sim.end_slip(&t, free) - others) / sim.coupling(&t, &t))
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
