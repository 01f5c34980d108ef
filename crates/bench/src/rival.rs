//! The same flights by plain code and by a general-purpose library.

use crate::sets::{TAU_S, Variant, medium};
use differential_equations::prelude::*;

/// A throw with its constants worked out.
#[derive(Clone, Copy, Debug)]
pub struct Throw {
    variant: Variant,
    position_m: [f64; 3],
    velocity_mps: [f64; 3],
    spin_radps: [f64; 3],
    /// ρ A/(2 m), 1/m.
    dynamic: f64,
    radius_m: f64,
    spin_size: f64,
    drag_coeff: f64,
    reynolds_per_mps: f64,
    plane_z_m: f64,
}

impl Throw {
    /// From a row of a set.
    pub fn new(row: &[f64; 12], variant: Variant, plane_z_m: f64) -> Throw {
        let air = medium();
        let radius_m = 0.5 * row[9];
        let area = std::f64::consts::PI * radius_m * radius_m;
        Throw {
            variant,
            position_m: [row[0], row[1], row[2]],
            velocity_mps: [row[3], row[4], row[5]],
            spin_radps: [row[6], row[7], row[8]],
            dynamic: air.density_kgpm3 * area / (2.0 * row[10]),
            radius_m,
            spin_size: (row[6] * row[6] + row[7] * row[7] + row[8] * row[8]).sqrt(),
            drag_coeff: row[11] * if variant == Variant::Constant { 0.5 } else { 1.0 },
            reynolds_per_mps: air.density_kgpm3 * row[9] / air.viscosity_pas,
            plane_z_m,
        }
    }

    #[inline(always)]
    fn acceleration(&self, v: [f64; 3], fade: f64) -> [f64; 3] {
        let speed = (v[0] * v[0] + v[1] * v[1] + v[2] * v[2]).sqrt();
        let coeff = match self.variant {
            Variant::Constant => 1.0,
            Variant::Curve => {
                let re = self.reynolds_per_mps * speed;
                24.0 / re * (1.0 + 0.15 * re.powf(0.687)) + 0.42 / (1.0 + 42_500.0 * re.powf(-1.16))
            }
        };
        let drag = self.dynamic * self.drag_coeff * coeff * speed;
        let lift = self.dynamic * speed * fade * self.radius_m
            / (0.4 * speed + 2.32 * self.radius_m * self.spin_size * fade);
        let [sx, sy, sz] = self.spin_radps;
        [
            lift * (sy * v[2] - sz * v[1]) - drag * v[0],
            lift * (sz * v[0] - sx * v[2]) - drag * v[1],
            lift * (sx * v[1] - sy * v[0]) - drag * v[2] - 9.80665,
        ]
    }

    /// The classical method of order four with a fixed step, and the cubic Hermite interpolant
    /// at the crossing: what one writes first.
    pub fn fly_plain(&self, h: f64) -> [f64; 3] {
        let (mut r, mut v, mut t) = (self.position_m, self.velocity_mps, 0.0_f64);
        let along =
            |v: [f64; 3], s: f64, a: [f64; 3]| -> [f64; 3] { std::array::from_fn(|i| v[i] + s * a[i]) };
        let half_fade = (-0.5 * h / TAU_S).exp();
        let mut fade = 1.0;
        loop {
            let middle = fade * half_fade;
            let end = middle * half_fade;
            let k1 = self.acceleration(v, fade);
            let v2 = along(v, 0.5 * h, k1);
            let k2 = self.acceleration(v2, middle);
            let v3 = along(v, 0.5 * h, k2);
            let k3 = self.acceleration(v3, middle);
            let v4 = along(v, h, k3);
            let k4 = self.acceleration(v4, end);
            let next_r: [f64; 3] =
                std::array::from_fn(|i| r[i] + h / 6.0 * (v[i] + 2.0 * v2[i] + 2.0 * v3[i] + v4[i]));
            let next_v: [f64; 3] =
                std::array::from_fn(|i| v[i] + h / 6.0 * (k1[i] + 2.0 * k2[i] + 2.0 * k3[i] + k4[i]));
            if (r[2] > self.plane_z_m && next_r[2] <= self.plane_z_m) || t > 10.0 {
                let cubic = |i: usize, s: f64| {
                    let rise = next_r[i] - r[i];
                    let (d0, d1) = (h * v[i], h * next_v[i]);
                    let (c2, c3) = (3.0 * rise - 2.0 * d0 - d1, d0 + d1 - 2.0 * rise);
                    (
                        r[i] + s * (d0 + s * (c2 + s * c3)),
                        d0 + s * (2.0 * c2 + 3.0 * s * c3),
                    )
                };
                let mut s = (r[2] - self.plane_z_m) / (r[2] - next_r[2]);
                for _ in 0..4 {
                    let (z, slope) = cubic(2, s);
                    s -= (z - self.plane_z_m) / slope;
                }
                return [cubic(0, s).0, cubic(1, s).0, cubic(2, s).0];
            }
            (r, v, t, fade) = (next_r, next_v, t + h, end);
        }
    }

    /// An adaptive method of the library, its steps and its dense output. The crossing is looked
    /// for here on the dense output by the secant rule, which is quicker and closer than the
    /// library's own event search; without crossing the result is not a number.
    pub fn fly_library(&self, order_eight: bool, tolerance: f64) -> [f64; 3] {
        let [x, y, z] = self.position_m;
        let [vx, vy, vz] = self.velocity_mps;
        let search = Crossing {
            plane_z_m: self.plane_z_m,
        };
        let problem = IVP::ode(self, 0.0, 10.0, [x, y, z, vx, vy, vz]);
        let solved = if order_eight {
            let method = ExplicitRungeKutta::dop853().rtol(tolerance).atol(tolerance);
            problem.method(method).solout(search).solve()
        } else {
            let method = ExplicitRungeKutta::dopri5().rtol(tolerance).atol(tolerance);
            problem.method(method).solout(search).solve()
        };
        solved
            .ok()
            .and_then(|s| s.y.last().map(|y| [y[0], y[1], y[2]]))
            .unwrap_or([f64::NAN; 3])
    }
}

impl ODE<f64, [f64; 6]> for Throw {
    fn diff(&self, t: f64, y: &[f64; 6], dydt: &mut [f64; 6]) {
        let a = self.acceleration([y[3], y[4], y[5]], (-t / TAU_S).exp());
        *dydt = [y[3], y[4], y[5], a[0], a[1], a[2]];
    }
}

/// Stops the library at the first downward crossing.
struct Crossing {
    plane_z_m: f64,
}

impl Solout<f64, [f64; 6]> for Crossing {
    fn solout<I>(
        &mut self,
        t_curr: f64,
        t_prev: f64,
        y_curr: &[f64; 6],
        y_prev: &[f64; 6],
        interpolator: &mut I,
        solution: &mut Solution<f64, [f64; 6]>,
    ) -> ControlFlag<f64, [f64; 6]>
    where
        I: Interpolation<f64, [f64; 6]> + ?Sized,
    {
        let above = |y: &[f64; 6]| y[2] - self.plane_z_m;
        if above(y_prev) <= 0.0 || above(y_curr) > 0.0 {
            return ControlFlag::Continue;
        }
        let (mut t0, mut g0, mut t1, mut g1) = (t_prev, above(y_prev), t_curr, above(y_curr));
        for _ in 0..20 {
            let t = (t1 - g1 * (t1 - t0) / (g1 - g0)).clamp(t_prev, t_curr);
            let Ok(y) = interpolator.interpolate(t) else { break };
            let g = above(&y);
            if g.abs() < 1e-9 || t == t1 {
                solution.push(t, y);
                break;
            }
            (t0, g0, t1, g1) = (t1, g1, t, g);
        }
        ControlFlag::Terminate
    }
}
