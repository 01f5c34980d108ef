//! The piece on a given path between two surfaces: the reference contact model, to rounding.
//!
//! Squeeze and curvature are given along the path; what is worked out is speed, spin, wheel speeds
//! and which surface slips when. Every stretch between two events (a slip that ends, a grip that
//! breaks, the end of the entry ramp, the wheel losing touch) is integrated on its own smooth branch.
//! The design-level model, where the piece is free in the plane, is [`super::planar`]; the closed forms
//! that both must agree with are in [`super::rolling`].

mod types;

pub use types::*;

use crate::numerics::ode::{dop853, step_factor};

/// Method: error allowed in one step, relative; near rounding, so that 1e-9 is met with room.
const STEP_TOLERANCE: f64 = 1e-14;
/// Method: no step spans more than this share of the path, or of the ramp while on it, so that no event is
/// stepped over.
const MOST_SHARE: f64 = 1.0 / 48.0;
/// Physical: a piece this slow, against its entry or the wheel, has stopped.
const STOPPED_MPS: f64 = 1e-9;
/// Convergence: halvings and secants to place an event to rounding.
const EVENT_STEPS: usize = 80;
/// Most steps before giving up.
const MOST_STEPS: usize = 20_000;
/// Convergence: events that follow each other within this share of a step, so many times, go on for ever
/// (a spin held at zero by the rolling loss alone).
const IDLE_SHARE: f64 = 1e-9;
const MOST_IDLE: u32 = 200;
/// Physical: a passage longer than this is a piece that stands still.
const LONGEST_S: f64 = 10.0;
/// Rounding: a slip this small against the surface speeds is zero.
const NO_SLIP: f64 = 1e-11;

const S: usize = 0;
const V: usize = 1;
const W: usize = 2;
const W1: usize = 3;
const W2: usize = 4;
type State = [f64; 5];
/// Slip 1, slip 2, heat 1, heat 2, rolling loss, motor work, gravity work.
type Sums = [f64; 7];

/// Which smooth branch holds.
#[derive(Clone, Copy, PartialEq)]
struct Branch {
    signs: [i8; 2],
    on_ramp: bool,
    touching: bool,
    rolling: bool,
}

struct Forces {
    normal: [f64; 2],
    friction: [f64; 2],
    rate: State,
    slip: [f64; 2],
    rolling_nm: f64,
}

impl PathContact {
    fn inertia(&self) -> f64 {
        self.inertia_coeff * self.mass_kg * (0.5 * self.diameter_m).powi(2)
    }

    fn second(&self) -> (f64, f64, f64, f64) {
        self.wheel_2.map_or((0.0, 0.0, 0.0, 0.0), |w| {
            (w.radius_m, 1.0 / w.inertia_kgm2, w.stall_nm, w.slope_nms)
        })
    }

    fn squeeze_force(&self, s: f64, on_ramp: bool) -> f64 {
        let full = self.diameter_m - self.arm_1_m - self.arm_2_m;
        let delta = if on_ramp {
            let q = s / self.ramp_m;
            full * q * q * (3.0 - 2.0 * q)
        } else {
            full
        };
        match self.law {
            SqueezeLaw::Linear { stiffness_npm } => stiffness_npm * delta,
            SqueezeLaw::Hertz { stiffness_npm } => stiffness_npm * delta.max(0.0).powf(1.5),
        }
    }

    fn slips(&self, y: &State) -> [f64; 2] {
        let (r2, ..) = self.second();
        [
            self.wheel_1.radius_m * y[W1] - y[V] - self.arm_1_m * y[W],
            r2 * y[W2] - y[V] + self.arm_2_m * y[W],
        ]
    }

    /// N₁ before it is cut off at zero.
    fn pull(&self, y: &State, on_ramp: bool) -> f64 {
        self.squeeze_force(y[S], on_ramp) - 0.5 * self.mass_kg * y[V] * y[V] * self.curvature_pm
    }

    /// Everything at a state on a branch.
    ///
    /// ```text
    /// u' = b − G λ,  G₁₁ = R₁²/J₁ + 1/m + a₁²/I,  G₁₂ = 1/m − a₁a₂/I,  G₂₂ = R₂²/J₂ + 1/m + a₂²/I
    /// b₁ = R₁T₁/J₁ − f/m + a₁M/I,   b₂ = R₂T₂/J₂ − f/m − a₂M/I
    /// ```
    fn forces(&self, y: &State, branch: &Branch) -> Forces {
        let (m, i) = (self.mass_kg, self.inertia());
        let (a1, a2) = (self.arm_1_m, self.arm_2_m);
        let (r1, j1) = (self.wheel_1.radius_m, self.wheel_1.inertia_kgm2);
        let (r2, over_j2, stall_2, slope_2) = self.second();
        let n1 = if branch.touching {
            self.pull(y, branch.on_ramp)
        } else {
            0.0
        };
        let n2 = n1 + m * y[V] * y[V] * self.curvature_pm;
        let t1 = self.wheel_1.stall_nm - self.wheel_1.slope_nms * y[W1];
        let t2 = stall_2 - slope_2 * y[W2];
        let f = -m * self.gravity_mps2 * (self.entry_angle_rad + self.turn_radpm * y[S]).sin();
        let rolling_nm = if branch.rolling {
            self.rolling_coeff * 0.5 * self.diameter_m * (n1 + n2)
        } else {
            0.0
        };
        let g11 = r1 * r1 / j1 + 1.0 / m + a1 * a1 / i;
        let g12 = 1.0 / m - a1 * a2 / i;
        let g22 = r2 * r2 * over_j2 + 1.0 / m + a2 * a2 / i;
        let b1 = r1 * t1 / j1 - f / m + a1 * rolling_nm / i;
        let b2 = r2 * t2 * over_j2 - f / m - a2 * rolling_nm / i;
        let mu = [self.friction_1_coeff * n1, self.friction_2_coeff * n2];
        let slid = |k: usize| mu[k] * f64::from(branch.signs[k]);
        let (l1, l2) = match (branch.signs[0] == 0, branch.signs[1] == 0) {
            (true, true) => {
                let det = g11 * g22 - g12 * g12;
                ((g22 * b1 - g12 * b2) / det, (g11 * b2 - g12 * b1) / det)
            }
            (true, false) => ((b1 - g12 * slid(1)) / g11, slid(1)),
            (false, true) => (slid(0), (b2 - g12 * slid(0)) / g22),
            (false, false) => (slid(0), slid(1)),
        };
        Forces {
            normal: [n1, n2],
            friction: [l1, l2],
            rate: [
                y[V],
                (l1 + l2 + f) / m,
                (a1 * l1 - a2 * l2 - rolling_nm) / i,
                (t1 - r1 * l1) / j1,
                (t2 - r2 * l2) * over_j2,
            ],
            slip: self.slips(y),
            rolling_nm,
        }
    }

    fn rates(&self, y: &State, branch: &Branch) -> (State, Sums) {
        let f = self.forces(y, branch);
        let [u1, u2] = f.slip;
        let sign = |k: usize| f64::from(branch.signs[k]);
        let (_, _, stall_2, slope_2) = self.second();
        let t1 = self.wheel_1.stall_nm - self.wheel_1.slope_nms * y[W1];
        let t2 = stall_2 - slope_2 * y[W2];
        let weight =
            -self.mass_kg * self.gravity_mps2 * (self.entry_angle_rad + self.turn_radpm * y[S]).sin();
        (
            f.rate,
            [
                u1 * sign(0),
                u2 * sign(1),
                f.friction[0] * u1 * sign(0).abs(),
                f.friction[1] * u2 * sign(1).abs(),
                f.rolling_nm * y[W],
                t1 * y[W1] + t2 * y[W2],
                weight * y[V],
            ],
        )
    }

    fn kinetic(&self, y: &State) -> f64 {
        let second = self.wheel_2.map_or(0.0, |w| w.inertia_kgm2 * y[W2] * y[W2]);
        0.5 * (self.mass_kg * y[V] * y[V]
            + self.inertia() * y[W] * y[W]
            + self.wheel_1.inertia_kgm2 * y[W1] * y[W1]
            + second)
    }

    /// The branch that Coulomb's law allows at a state: what slips keeps its sign; what does not
    /// grips if the force it takes stays within μN, and slips the way it is driven otherwise. Unique,
    /// since G is positive definite.
    fn branch_at(&self, y: &State, before: Option<&Branch>, settled: [bool; 2]) -> Branch {
        let u = self.slips(y);
        let scale = (self.wheel_1.radius_m * y[W1]).abs() + y[V].abs();
        let on_ramp = self.ramp_m > 0.0 && y[S] < self.ramp_m * (1.0 - 4.0 * f64::EPSILON);
        let pull = self.pull(y, on_ramp);
        // The rolling loss acts while the spin is positive; it too changes only at its own event.
        let rolling = before.map_or(self.rolling_coeff != 0.0 && y[W] >= 0.0, |b| b.rolling);
        // Forces are continuous where the wheel lets go, so whether it touches changes only at that event;
        // at an exact zero in the beginning (the start of a ramp) the trend decides.
        let touching = before.map_or_else(
            || {
                let size = 0.5 * self.mass_kg * y[V] * y[V] * self.curvature_pm.abs()
                    + self.squeeze_force(y[S], on_ramp).abs();
                if pull.abs() > 1e-12 * size {
                    return pull > 0.0;
                }
                let b = Branch {
                    signs: [0, 0],
                    on_ramp,
                    touching: true,
                    rolling,
                };
                let rate = self.forces(y, &b).rate;
                let h = 1e-7 / y[V].abs().max(1e-3) * self.length_m;
                let mut ahead = *y;
                for (a, r) in ahead.iter_mut().zip(rate) {
                    *a += h * r;
                }
                self.pull(&ahead, on_ramp) > 0.0
            },
            |b| b.touching,
        );
        let free = |k: usize| settled[k] || u[k].abs() <= NO_SLIP * scale;
        let options = |k: usize| -> &'static [i8] {
            if free(k) {
                &[0, 1, -1]
            } else if u[k] > 0.0 {
                &[1]
            } else {
                &[-1]
            }
        };
        let mut fallback = None;
        for &s1 in options(0) {
            for &s2 in options(1) {
                let b = Branch {
                    signs: [s1, s2],
                    on_ramp,
                    touching,
                    rolling,
                };
                fallback.get_or_insert(b);
                let f = self.forces(y, &b);
                let rate = [
                    self.wheel_1.radius_m * f.rate[W1] - f.rate[V] - self.arm_1_m * f.rate[W],
                    self.second().0 * f.rate[W2] - f.rate[V] + self.arm_2_m * f.rate[W],
                ];
                let mu = [self.friction_1_coeff, self.friction_2_coeff];
                let good = [s1, s2].iter().enumerate().all(|(k, sign)| match sign {
                    0 => f.friction[k].abs() <= mu[k] * f.normal[k] * (1.0 + 1e-12),
                    _ => !free(k) || rate[k] * f64::from(*sign) >= 0.0,
                });
                if good {
                    return b;
                }
            }
        }
        fallback.unwrap_or(Branch {
            signs: [1, -1],
            on_ramp,
            touching,
            rolling,
        })
    }

    /// Functions whose sign change ends the branch; those that cannot end it stay positive.
    fn events(&self, y: &State, branch: &Branch) -> [f64; 6] {
        let f = self.forces(y, branch);
        let mu = [self.friction_1_coeff, self.friction_2_coeff];
        let contact = |k: usize| match branch.signs[k] {
            0 => mu[k] * f.normal[k] - f.friction[k].abs(),
            sign => f64::from(sign) * f.slip[k],
        };
        let pull = self.pull(y, branch.on_ramp);
        [
            contact(0),
            contact(1),
            if branch.on_ramp { self.ramp_m - y[S] } else { 1.0 },
            if branch.touching { pull } else { -pull },
            self.length_m - y[S],
            if self.rolling_coeff == 0.0 {
                1.0
            } else if branch.rolling {
                y[W]
            } else {
                -y[W]
            },
        ]
    }
}

/// Sends the piece along the path.
///
/// State s, v, w, W₁, W₂; equations, squeeze and friction as in the functions above (docs/theory/contact.md:
/// the reference contact model, checked against its cases).
pub fn path_contact(c: &PathContact) -> Result<PathExit, NoExit> {
    let positive = [
        c.mass_kg,
        c.diameter_m,
        c.inertia_coeff,
        c.length_m,
        c.wheel_1.inertia_kgm2,
        c.wheel_1.radius_m,
    ];
    let second = c.wheel_2.map_or(1.0, |w| w.inertia_kgm2);
    if !positive
        .iter()
        .chain([&second])
        .all(|x| x.is_finite() && *x > 0.0)
    {
        return Err(NoExit::MakesNoSense);
    }
    let mut y: State = [
        0.0,
        c.speed_mps,
        c.spin_radps,
        c.wheel_1.start_radps,
        c.wheel_2.map_or(0.0, |w| w.start_radps),
    ];
    if !y.iter().all(|x| x.is_finite()) {
        return Err(NoExit::MakesNoSense);
    }
    let kinetic_before_j = c.kinetic(&y);
    let mut sums: Sums = [0.0; 7];
    let mut time = 0.0;
    let mut branch = c.branch_at(&y, None, [false; 2]);
    let mut modes = vec![Mode {
        time_s: 0.0,
        path_m: 0.0,
        signs: branch.signs,
    }];
    let mut rolling_from_m = (branch.signs == [0, 0]).then_some(0.0);
    let fastest = (c.wheel_1.radius_m * y[W1])
        .abs()
        .max(y[V].abs())
        .max(STOPPED_MPS);
    let mut next_h = MOST_SHARE * c.length_m / fastest;
    let mut events = c.events(&y, &branch);
    let mut idle = 0;
    for _ in 0..MOST_STEPS {
        if !(y[V] > STOPPED_MPS) && c.forces(&y, &branch).rate[V] <= 0.0 {
            return Err(NoExit::Stalls);
        }
        if time > LONGEST_S {
            return Err(NoExit::Stalls);
        }
        let span = if branch.on_ramp {
            c.ramp_m.min(c.length_m)
        } else {
            c.length_m
        };
        let h = next_h.min(MOST_SHARE * span / y[V].max(STOPPED_MPS));
        let rhs = |y: &State| c.rates(y, &branch);
        let first = rhs(&y);
        let advance = |h: f64| {
            let step = dop853(&y, &first, h, rhs);
            (step.y, step.gain)
        };
        let trial = dop853(&y, &first, h, rhs);
        let scale_y = y.map(|x| STEP_TOLERANCE * x.abs().max(1.0));
        let error = trial.error_ratio(&scale_y, &[STEP_TOLERANCE; 7]);
        next_h = h * step_factor(error);
        if (error > 1.0 || error.is_nan()) && next_h < h {
            if next_h < f64::MIN_POSITIVE {
                return Err(NoExit::MakesNoSense);
            }
            continue;
        }
        let (mut end, mut gained) = (trial.y, trial.gain);
        let mut taken = h;
        let mut after = c.events(&end, &branch);
        if !end.iter().all(|x| x.is_finite()) {
            return Err(NoExit::MakesNoSense);
        }
        let mut hit: Option<usize> = None;
        // The earliest sign change inside the step; each found on the shortened step.
        for k in 0..after.len() {
            if events[k] >= 0.0 && after[k] < 0.0 {
                let (mut lo, mut hi) = (0.0, taken);
                let (mut flo, mut fhi) = (events[k], after[k]);
                let mut side = 0;
                for i in 0..EVENT_STEPS {
                    let m = if i % 4 == 3 || flo == fhi {
                        0.5 * (lo + hi)
                    } else {
                        hi - fhi * (hi - lo) / (fhi - flo)
                    };
                    let m = m.max(lo).min(hi);
                    let fm = c.events(&advance(m).0, &branch)[k];
                    if fm >= 0.0 {
                        (lo, flo) = (m, fm);
                        if side == 1 {
                            fhi *= 0.5;
                        }
                        side = 1;
                    } else {
                        (hi, fhi) = (m, fm);
                        if side == -1 {
                            flo *= 0.5;
                        }
                        side = -1;
                    }
                    if fm == 0.0 {
                        hi = m;
                    }
                    if hi - lo <= 2.0 * f64::EPSILON * hi {
                        break;
                    }
                }
                taken = 0.5 * (lo + hi);
                (end, gained) = advance(taken);
                after = c.events(&end, &branch);
                hit = Some(k);
            }
        }
        idle = if taken <= IDLE_SHARE * h { idle + 1 } else { 0 };
        if idle > MOST_IDLE {
            return Err(NoExit::Stalls);
        }
        time += taken;
        y = end;
        for (s, g) in sums.iter_mut().zip(gained) {
            *s += g;
        }
        if hit == Some(4) {
            y[S] = c.length_m;
            return Ok(finish(
                c,
                &y,
                &sums,
                time,
                &branch,
                kinetic_before_j,
                rolling_from_m,
                modes,
            ));
        }
        if let Some(k) = hit {
            if k == 2 {
                y[S] = c.ramp_m;
            }
            // A surface that gripped, or whose slip just ended, is free to grip or to break away.
            let settled = [0, 1].map(|i| branch.signs[i] == 0 || k == i);
            match k {
                3 => branch.touching = !branch.touching,
                5 => branch.rolling = !branch.rolling,
                _ => {}
            }
            branch = c.branch_at(&y, Some(&branch), settled);
            let signs = branch.signs;
            if modes.last().is_none_or(|m| m.signs != signs) {
                modes.push(Mode {
                    time_s: time,
                    path_m: y[S],
                    signs,
                });
                if signs == [0, 0] && rolling_from_m.is_none() {
                    rolling_from_m = Some(y[S]);
                }
            }
            events = c.events(&y, &branch);
            // Just past an event its function is zero to rounding; it starts on the good side.
            for e in &mut events {
                *e = e.max(0.0);
            }
        } else {
            events = after;
        }
    }
    Err(NoExit::Stalls)
}

#[allow(clippy::too_many_arguments)]
fn finish(
    c: &PathContact,
    y: &State,
    sums: &Sums,
    time_s: f64,
    branch: &Branch,
    kinetic_before_j: f64,
    rolling_from_m: Option<f64>,
    modes: Vec<Mode>,
) -> PathExit {
    let f = c.forces(y, branch);
    let kinetic_after_j = c.kinetic(y);
    let [slip_1, slip_2, heat_1, heat_2, rolling, motor, gravity] = *sums;
    let slip = |k: usize| if branch.signs[k] == 0 { 0.0 } else { f.slip[k] };
    PathExit {
        speed_mps: y[V],
        spin_radps: y[W],
        wheel_radps: [y[W1], y[W2]],
        time_s,
        slip_m: [slip_1, slip_2],
        heat_j: [heat_1, heat_2],
        rolling_loss_j: rolling,
        motor_work_j: motor,
        gravity_work_j: gravity,
        kinetic_before_j,
        kinetic_after_j,
        energy_residual_j: kinetic_after_j - kinetic_before_j - motor - gravity + heat_1 + heat_2 + rolling,
        exit_slip_mps: [slip(0), slip(1)],
        exit_normal_n: f.normal,
        exit_friction_n: f.friction,
        rolling_from_m,
        modes,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numerics::checks::{files, rows};
    use serde_json::Value;

    fn num(v: &Value, keys: &[&str]) -> f64 {
        let mut v = v;
        for k in keys {
            v = &v[*k];
        }
        v.as_f64().unwrap_or_else(|| panic!("no number at {keys:?}"))
    }

    fn surface(input: &Value, which: &str) -> Option<Surface> {
        let w = &input[which];
        (!w.is_null()).then(|| Surface {
            radius_m: num(w, &["radius"]),
            inertia_kgm2: num(w, &["inertia"]),
            stall_nm: num(w, &["torque_0"]),
            slope_nms: num(w, &["torque_slope"]),
            start_radps: num(input, &["initial", &format!("{which}_speed")]),
        })
    }

    fn problem(i: &Value) -> PathContact {
        let stiffness_npm = num(i, &["normal", "stiffness"]);
        PathContact {
            mass_kg: num(i, &["ball", "mass"]),
            diameter_m: num(i, &["ball", "diameter"]),
            inertia_coeff: num(i, &["ball", "inertia_factor"]),
            arm_1_m: num(i, &["geometry", "arm_1"]),
            arm_2_m: num(i, &["geometry", "arm_2"]),
            length_m: num(i, &["geometry", "length"]),
            ramp_m: num(i, &["geometry", "ramp_length"]),
            curvature_pm: num(i, &["geometry", "curvature"]),
            law: match i["normal"]["law"].as_str() {
                Some("linear") => SqueezeLaw::Linear { stiffness_npm },
                Some("hertz") => SqueezeLaw::Hertz { stiffness_npm },
                other => panic!("unknown law {other:?}"),
            },
            friction_1_coeff: num(i, &["friction_1"]),
            friction_2_coeff: num(i, &["friction_2"]),
            wheel_1: surface(i, "wheel_1").unwrap(),
            wheel_2: surface(i, "wheel_2"),
            rolling_coeff: num(i, &["rolling_coeff"]),
            gravity_mps2: num(i, &["gravity", "g"]),
            entry_angle_rad: num(i, &["gravity", "angle_entry"]),
            turn_radpm: num(i, &["gravity", "angle_per_length"]),
            speed_mps: num(i, &["initial", "speed"]),
            spin_radps: num(i, &["initial", "spin"]),
        }
    }

    /// Every reference case, to 1e-9 of max(1, |value|), energy to 1e-9 J.
    #[test]
    fn the_reference_contact_cases_are_met() {
        let mut count = 0;
        for file in files("flight") {
            for case in rows(&file, &["contact"]) {
                count += 1;
                let id = case["id"].as_str().unwrap_or("?");
                let r = path_contact(&problem(&case["inputs"])).unwrap_or_else(|e| panic!("{id}: {e:?}"));
                let pairs: Vec<(&str, f64)> = vec![
                    ("exit_speed", r.speed_mps),
                    ("exit_spin", r.spin_radps),
                    ("wheel_1_speed", r.wheel_radps[0]),
                    ("wheel_2_speed", r.wheel_radps[1]),
                    ("contact_time", r.time_s),
                    ("slip_distance_1", r.slip_m[0]),
                    ("slip_distance_2", r.slip_m[1]),
                    ("heat_1", r.heat_j[0]),
                    ("heat_2", r.heat_j[1]),
                    ("rolling_loss", r.rolling_loss_j),
                    ("motor_work", r.motor_work_j),
                    ("gravity_work", r.gravity_work_j),
                    ("kinetic_energy_before", r.kinetic_before_j),
                    ("kinetic_energy_after", r.kinetic_after_j),
                    ("exit_slip_1", r.exit_slip_mps[0]),
                    ("exit_slip_2", r.exit_slip_mps[1]),
                    ("exit_normal_1", r.exit_normal_n[0]),
                    ("exit_normal_2", r.exit_normal_n[1]),
                    ("exit_friction_1", r.exit_friction_n[0]),
                    ("exit_friction_2", r.exit_friction_n[1]),
                ];
                let mut off = Vec::new();
                for (key, ours) in pairs {
                    let Some(want) = case["outputs"][key].as_f64() else {
                        continue;
                    };
                    if !((ours - want).abs() <= 1e-9 * want.abs().max(1.0)) {
                        off.push(format!("{id} {key}: {ours} against {want}"));
                    }
                }
                let rolling = case["outputs"]["path_to_rolling_both"].as_f64();
                match (rolling, r.rolling_from_m) {
                    (None, None) => {}
                    (Some(a), Some(b)) if (a - b).abs() <= 1e-9 => {}
                    (a, b) => off.push(format!("{id} path to rolling: {b:?} against {a:?}")),
                }
                if !(r.energy_residual_j.abs() < 1e-9) {
                    off.push(format!("{id} energy residual {}", r.energy_residual_j));
                }
                assert!(off.is_empty(), "{off:#?} {:?}", r.modes);
            }
        }
        assert!(count >= 6, "{count} contact cases found");
    }

    use proptest::prelude::*;

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(32))]
        /// Any plausible launcher: energy adds up, friction stays within Coulomb's cone, heat is not negative.
        #[test]
        fn energy_and_friction_add_up_for_any_plausible_launcher(
            mass in 0.02..0.3f64, diameter in 0.075..0.25f64, k in 0.4..0.667f64,
            squeeze_1 in 0.01..0.15f64, squeeze_2 in 0.01..0.15f64, length in 0.05..0.5f64,
            ramp in prop_oneof![Just(0.0), 0.01..0.05f64], curvature in prop_oneof![Just(0.0), 1.0..10.0f64],
            hertz: bool, stiffness in 1000.0..10000.0f64, mu_1 in 0.1..1.2f64, mu_2 in 0.05..1.0f64,
            speed in 0.3..3.0f64, spin in -20.0..40.0f64, wheel in 100.0..500.0f64, pair: bool,
            rolling in prop_oneof![Just(0.0), 0.0..0.05f64], gravity in prop_oneof![Just(0.0), Just(9.80665)],
        ) {
            let r = 0.5 * diameter;
            let surface = |start_radps| Surface { radius_m: 0.05, inertia_kgm2: 8e-4, stall_nm: 1.0, slope_nms: 0.003, start_radps };
            let c = PathContact {
                mass_kg: mass, diameter_m: diameter, inertia_coeff: k,
                arm_1_m: r * (1.0 - squeeze_1), arm_2_m: r * (1.0 - squeeze_2), length_m: length, ramp_m: ramp,
                curvature_pm: curvature,
                law: if hertz { SqueezeLaw::Hertz { stiffness_npm: 10.0 * stiffness } } else { SqueezeLaw::Linear { stiffness_npm: stiffness } },
                friction_1_coeff: mu_1, friction_2_coeff: mu_2, wheel_1: surface(wheel),
                wheel_2: pair.then(|| surface(0.8 * wheel)), rolling_coeff: rolling, gravity_mps2: gravity,
                entry_angle_rad: -0.4, turn_radpm: 4.0, speed_mps: speed, spin_radps: spin,
            };
            if let Ok(e) = path_contact(&c) {
                prop_assert!(e.energy_residual_j.abs() < 1e-9, "{} {:?}", e.energy_residual_j, e.modes);
                prop_assert!(e.heat_j[0] >= -1e-12 && e.heat_j[1] >= -1e-12);
                for i in 0..2 {
                    let most = [mu_1, mu_2][i] * e.exit_normal_n[i];
                    prop_assert!(e.exit_friction_n[i].abs() <= most * (1.0 + 1e-9) + 1e-9);
                }
            }
        }
    }
}
