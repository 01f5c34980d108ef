//! Roots of a function of one variable.

/// Finds a root of a differentiable function between two points of opposite sign.
///
/// Newton's method kept inside the bracket; a step that leaves it, or that fails to halve
/// the residual, is replaced by bisection, so it always ends. `f` returns value and slope.
/// `first` is where to start; `close` is the step size at which to stop. Returns the last
/// point and its value. When `lo` and `hi` do not bracket a root the result is one of the
/// points tried.
pub fn bracketed_newton(
    mut f: impl FnMut(f64) -> (f64, f64),
    (mut lo, value_lo): (f64, f64),
    mut hi: f64,
    first: f64,
    close: f64,
) -> (f64, f64) {
    let rising = value_lo < 0.0;
    let mut x = if first > lo && first < hi {
        first
    } else {
        0.5 * (lo + hi)
    };
    let (mut value, mut slope) = f(x);
    for _ in 0..MOST_ITERATIONS {
        if value == 0.0 || !value.is_finite() {
            break;
        }
        if (value < 0.0) == rising {
            lo = x;
        } else {
            hi = x;
        }
        let newton = x - value / slope;
        let inside = newton > lo && newton < hi;
        let next = if inside { newton } else { 0.5 * (lo + hi) };
        let step = (next - x).abs();
        let before = value.abs();
        x = next;
        (value, slope) = f(x);
        if step <= close {
            break;
        }
        // A Newton step that did not help is followed by a bisection.
        if inside && value.abs() > 0.5 * before {
            if (value < 0.0) == rising {
                lo = x;
            } else {
                hi = x;
            }
            x = 0.5 * (lo + hi);
            (value, slope) = f(x);
        }
    }
    (x, value)
}

/// Convergence: two evaluations halve the bracket at the worst, so 120 exhaust the 53 bits of a double.
const MOST_ITERATIONS: usize = 120;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_smooth_root_is_found_to_rounding() {
        let (x, _) = bracketed_newton(|x| (x * x - 2.0, 2.0 * x), (0.0, -2.0), 2.0, 1.0, 1e-12);
        assert!((x - 2.0_f64.sqrt()).abs() < 1e-15);
    }

    #[test]
    fn a_falling_function_works_as_well() {
        let (x, _) = bracketed_newton(|x| (0.5 - x, -1.0), (0.0, 0.5), 2.0, 1.7, 1e-12);
        assert!((x - 0.5).abs() < 1e-15);
    }

    #[test]
    fn a_slope_that_misleads_does_not_stop_it() {
        let (x, _) = bracketed_newton(|x: f64| ((x - 0.3).cbrt(), 1e9), (0.0, -1.0), 1.0, 0.9, 1e-12);
        assert!((x - 0.3).abs() < 1e-9, "{x}");
    }

    #[test]
    fn a_function_that_is_not_finite_ends_it() {
        let (x, value) = bracketed_newton(|_| (f64::NAN, 1.0), (0.0, -1.0), 1.0, 0.5, 1e-12);
        assert!(x == 0.5 && value.is_nan());
    }
}
