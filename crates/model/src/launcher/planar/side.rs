//! Normal force of one side of the piece.

use crate::launcher::Body;

/// Drop test of the restitution: speed of a fall from 1 m.
pub(super) const DROP_SPEED_MPS: f64 = 4.428_69;

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
pub(super) struct Side {
    k: f64,
    n: f64,
    /// λ, the damping per closing speed.
    pub(super) lambda: f64,
}

impl Side {
    pub(super) fn of(body: &Body) -> Side {
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

    pub(super) fn elastic(&self, d: f64) -> f64 {
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
