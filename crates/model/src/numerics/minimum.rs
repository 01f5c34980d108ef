//! Minimum of a function of one variable.

/// Narrows a bracketed minimum of a smooth function by golden section with parabolic steps
/// (Brent's method [brent-1973], chapter 5).
///
/// `lo < mid < hi` with the value at `mid` not above the others. Stops when the bracket is
/// within `close` of the best point. Returns the best point and its value.
pub fn bracketed_minimum(
    mut f: impl FnMut(f64) -> f64,
    lo: f64,
    mid: f64,
    hi: f64,
    close: f64,
) -> (f64, f64) {
    let (mut a, mut b) = (lo, hi);
    let (mut x, mut w, mut v) = (mid, mid, mid);
    let mut fx = f(x);
    let (mut fw, mut fv) = (fx, fx);
    let (mut step, mut before): (f64, f64) = (0.0, 0.0);
    for _ in 0..MOST_ITERATIONS {
        let middle = 0.5 * (a + b);
        let tol = close + ROUNDING * x.abs();
        if (x - middle).abs() <= 2.0 * tol - 0.5 * (b - a) {
            break;
        }
        let mut golden = true;
        if before.abs() > tol {
            let r = (x - w) * (fx - fv);
            let mut q = (x - v) * (fx - fw);
            let mut p = (x - v) * q - (x - w) * r;
            q = 2.0 * (q - r);
            if q > 0.0 {
                p = -p;
            }
            q = q.abs();
            let older = before;
            before = step;
            if p.abs() < (0.5 * q * older).abs() && p > q * (a - x) && p < q * (b - x) {
                step = p / q;
                let u = x + step;
                if u - a < 2.0 * tol || b - u < 2.0 * tol {
                    step = if x < middle { tol } else { -tol };
                }
                golden = false;
            }
        }
        if golden {
            before = if x < middle { b - x } else { a - x };
            step = GOLDEN * before;
        }
        let u = if step.abs() >= tol {
            x + step
        } else {
            x + tol.copysign(step)
        };
        let fu = f(u);
        if fu <= fx {
            if u < x {
                b = x;
            } else {
                a = x;
            }
            (v, fv, w, fw, x, fx) = (w, fw, x, fx, u, fu);
        } else {
            if u < x {
                a = u;
            } else {
                b = u;
            }
            if fu <= fw || w == x {
                (v, fv, w, fw) = (w, fw, u, fu);
            } else if fu <= fv || v == x || v == w {
                (v, fv) = (u, fu);
            }
        }
    }
    (x, fx)
}

/// The smaller part of the golden section, (3 − √5)/2.
const GOLDEN: f64 = 0.381_966_011_250_105_1;
/// Rounding: a minimum is flat, so its place is known to the square root of a double's precision.
const ROUNDING: f64 = 1.5e-8;
/// Convergence: golden section alone shrinks a bracket 1e20-fold in 100 steps.
const MOST_ITERATIONS: usize = 100;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_smooth_minimum_is_found_in_few_evaluations() {
        let mut evaluations = 0;
        let (x, fx) = bracketed_minimum(
            |x| {
                evaluations += 1;
                (x - 0.3) * (x - 0.3) * (1.0 + x) - 2.0
            },
            -0.5,
            0.2,
            1.0,
            1e-9,
        );
        assert!((x - 0.3).abs() < 1e-7 && (fx + 2.0).abs() < 1e-14, "{x} {fx}");
        assert!(evaluations < 20, "{evaluations}");
    }

    #[test]
    fn a_corner_is_found_by_golden_section() {
        let (x, _) = bracketed_minimum(|x: f64| (x - 0.7).abs(), 0.0, 0.5, 1.0, 1e-9);
        assert!((x - 0.7).abs() < 1e-7);
    }

    #[test]
    fn a_function_that_is_not_a_number_ends_it() {
        let (x, _) = bracketed_minimum(|_| f64::NAN, 0.0, 0.5, 1.0, 1e-9);
        assert!((0.0..=1.0).contains(&x));
    }
}
