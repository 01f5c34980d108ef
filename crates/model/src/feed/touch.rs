//! The law of one contact: spring and dashpot, Coulomb friction with a tangential spring.

use crate::numerics::vector::{add_scaled, dot, norm, scale, sub};

/// A vector.
pub(super) type V = [f64; 3];

/// Tangential over normal stiffness of two elastic bodies, 2(1 − ν)/(2 − ν): 0.67 for rubber (ν = 1/2), 0.82 for plastic
/// (ν = 0.3) [mindlin-1949]. Method: what sticks does not depend on it.
const TANGENTIAL_RATIO: f64 = 2.0 / 3.0;

/// Bounce of a spring with a dashpot of damping ratio ζ, when the contact ends as soon as it would pull.
///
/// ```text
/// x(t) = (v/ω) e^(−βt) sin ωt,   β = ζ ω₀,   ω = ω₀ √(1 − ζ²)
/// force = 0 at   tan ωt = 2βω/(β² − ω²)
/// e = exp(−β t)
/// ```
///
/// From the equation of motion m x″ + c x′ + k x = 0: the force is −m x″, and the speed at its first zero is
/// v e^(−βt). ζ = 1 gives e^(−2) = 0.135, the least there is.
pub fn bounce_of(damping_ratio: f64) -> f64 {
    let z = damping_ratio;
    let w = (1.0 - z * z).max(0.0).sqrt();
    if w == 0.0 {
        return libm::exp(-2.0);
    }
    let angle = std::f64::consts::PI - libm::atan2(2.0 * z * w, w * w - z * z);
    libm::exp(-z * angle / w)
}

/// The damping ratio that gives a bounce; 1 where the bounce is below the least of [`bounce_of`].
pub fn damping_for(bounce_coeff: f64) -> f64 {
    /// Convergence: halvings down to rounding.
    const HALVINGS: usize = 52;
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if bounce_of(middle) > bounce_coeff {
            low = middle;
        } else {
            high = middle;
        }
    }
    high
}

/// Constants of a pair of bodies in contact.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pair {
    pub stiffness_npm: f64,
    pub mass_kg: f64,
    pub damping_ratio: f64,
    pub friction_coeff: f64,
}

/// What a contact does to the first body.
#[derive(Clone, Copy, Debug)]
pub(super) struct Push {
    pub force: V,
    pub normal_n: f64,
    pub tangent_n: f64,
}

/// Force on the first body at a contact. `stretch` is the tangential spring of this contact and lives as long as it.
///
/// ```text
/// F_n = max(0, k δ − c v_n)
/// F_t = −k_t ξ − c_t v_t,  cut to μ F_n with ξ cut alike [cundall-strack-1979]
/// ```
///
/// `normal` points toward the first body, `slip` is the velocity of its surface over the other's.
#[inline]
pub(super) fn push(pair: &Pair, normal: V, overlap_m: f64, slip: V, stretch: &mut V, step_s: f64) -> Push {
    let k = pair.stiffness_npm;
    let c = 2.0 * pair.damping_ratio * (k * pair.mass_kg).sqrt();
    let v_n = dot(slip, normal);
    let normal_n = (k * overlap_m - c * v_n).max(0.0);
    let v_t = add_scaled(slip, -v_n, normal);
    let (k_t, c_t) = (TANGENTIAL_RATIO * k, TANGENTIAL_RATIO * c);
    // The spring turns with the contact plane.
    let xi = add_scaled(*stretch, -dot(*stretch, normal), normal);
    let xi = add_scaled(xi, step_s, v_t);
    let trial = sub(scale(xi, -k_t), scale(v_t, c_t));
    let (size, most) = (norm(trial), pair.friction_coeff * normal_n);
    let tangent = if size > most {
        let cut = scale(trial, most / size);
        *stretch = scale(add_scaled(cut, c_t, v_t), -1.0 / k_t);
        cut
    } else {
        *stretch = xi;
        trial
    };
    Push {
        force: add_scaled(tangent, normal_n, normal),
        normal_n,
        tangent_n: size.min(most),
    }
}
