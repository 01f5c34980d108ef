//! Acceleration of the piece and decay of its spin: the equations of motion.

use super::drag::drag_coeff;
use super::lift::{BILINEAR_CORNER, bilinear_above, bilinear_below, lift_coeff};
use super::{Ball, Lift, Medium, SpinDecay, State};
use crate::numerics::vector::{add_scaled, cross, norm, scale, sub};

/// The equations of motion with everything that stays the same in one flight worked out.
///
/// ```text
/// m_eff = m + C_a ρ Vol              g_eff = g (m − b ρ Vol)/m_eff        (b: buoyancy, 0 or 1)
/// V = v − wind,  Re = ρ |V| D/μ,  S = r |w × V|/|V|²,  A = π r²
/// dv/dt = −g_eff ẑ − ρ A/(2 m_eff) Cd |V| V + ρ A/(2 m_eff) CL(S) |V|² (w × V)/|w × V|
/// dw/dt = −λ w,   λ = 0 | 1/τ | c_T ρ A |V|/(2 k m)
/// ```
///
/// Inertia of the air carried along (added mass, C_a = ½ for a sphere in potential flow)
/// [batchelor-1967]; form of the spin decay [nathan-2008-spin]. Lift is zero where w × V is.
/// The direction of w is fixed, so spin is w = f w0 and f is all that is integrated.
#[derive(Clone, Copy, Debug)]
pub(super) struct Force {
    ball: Ball,
    wind_mps: [f64; 3],
    spin_radps: [f64; 3],
    gravity_mps2: f64,
    /// ρ A/(2 m_eff), 1/m.
    dynamic: f64,
    /// Re for each m/s.
    reynolds_per_mps: f64,
    /// c_T ρ A/(2 k m), 1/m.
    decay: f64,
    branch: Branch,
}

/// Which branch of the bilinear lift law is in force; the solver changes it at the corner.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Branch {
    /// The law has one branch.
    Whole,
    /// S below the corner.
    Below,
    /// S above the corner.
    Above,
}

/// What is integrated: velocity and the fraction of the spin that is left.
pub(super) type Moving = [f64; 4];

#[inline]
pub(super) fn velocity(y: &Moving) -> [f64; 3] {
    [y[0], y[1], y[2]]
}

impl Force {
    pub(super) fn new(ball: &Ball, medium: &Medium, start: &State) -> Force {
        let radius_m = 0.5 * ball.diameter_m;
        let area_m2 = std::f64::consts::PI * radius_m * radius_m;
        let displaced_kg = medium.density_kgpm3 * area_m2 * radius_m * 4.0 / 3.0;
        let inertia_kg = ball.mass_kg + ball.added_mass_coeff * displaced_kg;
        let lifted_kg = if ball.buoyancy { displaced_kg } else { 0.0 };
        let decay = match ball.spin_decay {
            SpinDecay::Aero { torque_coeff } => {
                torque_coeff * medium.density_kgpm3 * area_m2 / (2.0 * ball.inertia_coeff * ball.mass_kg)
            }
            SpinDecay::None | SpinDecay::TimeConstant { .. } => 0.0,
        };
        let mut force = Force {
            ball: *ball,
            wind_mps: medium.wind_mps,
            spin_radps: start.spin_radps,
            gravity_mps2: medium.gravity_mps2 * (ball.mass_kg - lifted_kg) / inertia_kg,
            dynamic: medium.density_kgpm3 * area_m2 / (2.0 * inertia_kg),
            reynolds_per_mps: medium.density_kgpm3 * ball.diameter_m / medium.viscosity_pas,
            decay,
            branch: Branch::Whole,
        };
        if ball.lift == Lift::Bilinear {
            let [vx, vy, vz] = start.velocity_mps;
            force.branch = force.branch_at(&[vx, vy, vz, 1.0]);
        }
        force
    }

    pub(super) fn branch(&self) -> Branch {
        self.branch
    }

    pub(super) fn with_branch(&self, branch: Branch) -> Force {
        Force { branch, ..*self }
    }

    /// The branch that holds at a state; at the corner itself, the one it is heading into.
    pub(super) fn branch_at(&self, y: &Moving) -> Branch {
        let s = self.spin_parameter(y);
        let above = if (s - BILINEAR_CORNER).abs() > CORNER_WIDTH {
            s > BILINEAR_CORNER
        } else {
            // The two branches agree here, so either gives the rate.
            let rate = self.with_branch(Branch::Below).rate(y);
            let ahead: Moving = std::array::from_fn(|i| y[i] + CORNER_LOOK_S * rate[i]);
            self.spin_parameter(&ahead) > s
        };
        if above { Branch::Above } else { Branch::Below }
    }

    pub(super) fn spin(&self, spin_frac: f64) -> [f64; 3] {
        scale(self.spin_radps, spin_frac)
    }

    pub(super) fn air_velocity(&self, y: &Moving) -> [f64; 3] {
        sub(velocity(y), self.wind_mps)
    }

    /// S = r |w × V|/|V|²; zero without spin.
    #[inline]
    pub(super) fn spin_parameter(&self, y: &Moving) -> f64 {
        let air = self.air_velocity(y);
        let sideways = norm(cross(self.spin(y[3]), air));
        if sideways == 0.0 {
            0.0
        } else {
            0.5 * self.ball.diameter_m * sideways / norm2(air)
        }
    }

    pub(super) fn reynolds(&self, y: &Moving) -> f64 {
        self.reynolds_per_mps * norm(self.air_velocity(y))
    }

    /// Rate of change of velocity and spin fraction.
    #[inline]
    pub(super) fn rate(&self, y: &Moving) -> Moving {
        let air = self.air_velocity(y);
        let speed_sq = norm2(air);
        let speed = speed_sq.sqrt();
        let mut accel = [0.0, 0.0, -self.gravity_mps2];
        // Where the piece rests in the air the smooth-sphere laws read 0 · ∞; the force is 0.
        if speed > 0.0 && self.dynamic != 0.0 {
            let cd = drag_coeff(&self.ball.drag, self.reynolds_per_mps * speed);
            accel = add_scaled(accel, -self.dynamic * cd * speed, air);
            accel = self.add_lift(accel, y[3], air, speed_sq, speed);
        }
        let fade = match self.ball.spin_decay {
            SpinDecay::None => 0.0,
            SpinDecay::TimeConstant { tau_s } => -y[3] / tau_s,
            SpinDecay::Aero { .. } => -self.decay * speed * y[3],
        };
        [accel[0], accel[1], accel[2], fade]
    }

    #[inline]
    fn add_lift(
        &self,
        accel: [f64; 3],
        spin_frac: f64,
        air: [f64; 3],
        speed_sq: f64,
        speed: f64,
    ) -> [f64; 3] {
        if self.ball.lift == Lift::None {
            return accel;
        }
        let spin = self.spin(spin_frac);
        let across = cross(spin, air);
        let radius_m = 0.5 * self.ball.diameter_m;
        let size = match self.ball.lift {
            Lift::SaturatingWholeSpin { .. } => norm(spin) * speed,
            _ => norm(across),
        };
        if size == 0.0 {
            return accel;
        }
        let s = radius_m * size / speed_sq;
        let cl = match self.branch {
            Branch::Whole => lift_coeff(&self.ball.lift, s),
            Branch::Below => bilinear_below(s),
            Branch::Above => bilinear_above(s),
        };
        add_scaled(accel, self.dynamic * cl * speed_sq / size, across)
    }
}

/// Rounding: closer to the corner than this, S no longer tells on which side the flight goes on.
const CORNER_WIDTH: f64 = 1e-11;
/// Method: how far to look ahead at the corner; S changes by about 0.1 a second.
const CORNER_LOOK_S: f64 = 1e-5;

#[inline]
fn norm2(a: [f64; 3]) -> f64 {
    a[0] * a[0] + a[1] * a[1] + a[2] * a[2]
}

/// Reynolds number of the piece in a state: `ρ |V| D/μ` with V relative to the air.
pub fn reynolds(ball: &Ball, medium: &Medium, state: &State) -> f64 {
    Force::new(ball, medium, state).reynolds(&moving(state))
}

/// Spin parameter of the piece in a state: `S = r |w × V|/|V|²`, only the spin across the motion counts.
pub fn spin_parameter(ball: &Ball, medium: &Medium, state: &State) -> f64 {
    Force::new(ball, medium, state).spin_parameter(&moving(state))
}

/// Acceleration of the piece in a state; see the equations in DESIGN and `docs/theory/flight.md`.
pub fn acceleration(ball: &Ball, medium: &Medium, state: &State) -> [f64; 3] {
    velocity(&Force::new(ball, medium, state).rate(&moving(state)))
}

pub(super) fn moving(state: &State) -> Moving {
    let [vx, vy, vz] = state.velocity_mps;
    [vx, vy, vz, 1.0]
}
