//! Polynomials of low degree on the unit interval.

/// Coefficients of a polynomial of degree five, lowest power first.
pub type Quintic = [f64; 6];

/// Value at `s`.
#[inline]
pub fn value(c: &Quintic, s: f64) -> f64 {
    ((((c[5] * s + c[4]) * s + c[3]) * s + c[2]) * s + c[1]) * s + c[0]
}

/// Derivative of the polynomial.
pub fn derivative(c: &Quintic) -> Quintic {
    [c[1], 2.0 * c[2], 3.0 * c[3], 4.0 * c[4], 5.0 * c[5], 0.0]
}

/// The polynomial of degree five with given value, first and second derivative at 0 and at 1.
#[inline]
pub fn hermite([p0, v0, a0]: [f64; 3], [p1, v1, a1]: [f64; 3]) -> Quintic {
    let c2 = 0.5 * a0;
    let p = p1 - p0 - v0 - c2;
    let v = v1 - v0 - a0;
    let a = a1 - a0;
    [
        p0,
        v0,
        c2,
        10.0 * p - 4.0 * v + 0.5 * a,
        -15.0 * p + 7.0 * v - a,
        6.0 * p - 3.0 * v + 0.5 * a,
    ]
}

/// Least and greatest Bernstein coefficient: the polynomial on \[0, 1\] lies between them.
pub fn hull(c: &Quintic) -> (f64, f64) {
    let b = [
        c[0],
        c[0] + c[1] / 5.0,
        c[0] + 2.0 * c[1] / 5.0 + c[2] / 10.0,
        c[0] + 3.0 * c[1] / 5.0 + 3.0 * c[2] / 10.0 + c[3] / 10.0,
        c[0] + 4.0 * c[1] / 5.0 + 3.0 * c[2] / 5.0 + 2.0 * c[3] / 5.0 + c[4] / 5.0,
        c[0] + c[1] + c[2] + c[3] + c[4] + c[5],
    ];
    b.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), &x| {
        (lo.min(x), hi.max(x))
    })
}

/// Real roots in the open interval (0, 1) at which the sign changes, in rising order.
///
/// Between two roots of its derivative a polynomial is monotone, so the roots of the
/// derivative, found the same way, bracket each root once.
pub fn roots(c: &Quintic) -> Roots {
    // Derivatives down to the linear one, then roots back up from it.
    let mut chain = [*c; 6];
    for i in 1..6 {
        chain[i] = derivative(&chain[i - 1]);
    }
    let mut found = Roots::none();
    for level in (0..5).rev() {
        let p = &chain[level];
        let mut next = Roots::none();
        let mut lo = 0.0;
        let mut value_lo = value(p, lo);
        for &hi in found.as_slice().iter().chain(std::iter::once(&1.0)) {
            let value_hi = value(p, hi);
            if (value_lo < 0.0) != (value_hi < 0.0) {
                next.push(bisect(p, lo, hi, value_lo < 0.0));
            }
            (lo, value_lo) = (hi, value_hi);
        }
        found = next;
    }
    found
}

fn bisect(p: &Quintic, lo: f64, hi: f64, rising: bool) -> f64 {
    let slope = derivative(p);
    let value_lo = if rising { -1.0 } else { 1.0 };
    let f = |s: f64| (value(p, s), value(&slope, s));
    super::root::bracketed_newton(f, (lo, value_lo), hi, 0.5 * (lo + hi), ROOT_STEP).0
}

/// Convergence: the unit interval is one integration step; a place in it to 1e-10 only starts the polish.
const ROOT_STEP: f64 = 1e-10;

/// Up to five roots.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Roots {
    at: [f64; 5],
    count: usize,
}

impl Roots {
    fn none() -> Roots {
        Roots {
            at: [0.0; 5],
            count: 0,
        }
    }

    fn push(&mut self, root: f64) {
        if let Some(slot) = self.at.get_mut(self.count) {
            *slot = root;
            self.count += 1;
        }
    }

    /// The roots in rising order.
    pub fn as_slice(&self) -> &[f64] {
        self.at.get(..self.count).unwrap_or(&[])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn with_roots(roots: [f64; 5]) -> Quintic {
        let mut c = [1.0, 0.0, 0.0, 0.0, 0.0, 0.0];
        for (n, r) in roots.iter().enumerate() {
            let mut next = [0.0; 6];
            for i in 0..=n {
                next[i + 1] += c[i];
                next[i] -= r * c[i];
            }
            c = next;
        }
        c
    }

    #[test]
    fn five_roots_in_the_interval_are_all_found() {
        let at = [0.1, 0.25, 0.5, 0.7, 0.95];
        let found = roots(&with_roots(at));
        assert_eq!(found.as_slice().len(), 5);
        for (found, at) in found.as_slice().iter().zip(at) {
            assert!((found - at).abs() < 1e-9, "{found} {at}");
        }
    }

    #[test]
    fn roots_outside_are_left_out() {
        let found = roots(&with_roots([-1.0, 0.3, 1.2, 2.0, 3.0]));
        assert_eq!(found.as_slice().len(), 1);
        assert!((found.as_slice()[0] - 0.3).abs() < 1e-9);
    }

    #[test]
    fn a_close_pair_is_not_skipped() {
        let found = roots(&with_roots([0.5, 0.500_01, -1.0, 2.0, 3.0]));
        assert_eq!(found.as_slice().len(), 2, "{found:?}");
    }

    #[test]
    fn the_hermite_quintic_meets_both_ends() {
        let c = hermite([1.0, -2.0, 3.0], [0.5, 4.0, -1.0]);
        let d = derivative(&c);
        let dd = derivative(&d);
        for (found, wanted) in [
            (value(&c, 0.0), 1.0),
            (value(&d, 0.0), -2.0),
            (value(&dd, 0.0), 3.0),
            (value(&c, 1.0), 0.5),
            (value(&d, 1.0), 4.0),
            (value(&dd, 1.0), -1.0),
        ] {
            assert!((found - wanted).abs() < 1e-12, "{found} {wanted}");
        }
    }

    #[test]
    fn the_hull_holds_the_polynomial() {
        let c = with_roots([0.1, 0.25, 0.5, 0.7, 0.95]);
        let (lo, hi) = hull(&c);
        for i in 0..=100 {
            let x = value(&c, f64::from(i) / 100.0);
            assert!(lo <= x + 1e-15 && x <= hi + 1e-15);
        }
    }

    #[test]
    fn coefficients_that_are_not_finite_do_not_hang() {
        assert!(roots(&[f64::NAN; 6]).as_slice().len() <= 5);
        assert!(
            roots(&[f64::INFINITY, -1.0, f64::NEG_INFINITY, 0.0, 1.0, 2.0])
                .as_slice()
                .len()
                <= 5
        );
    }
}
