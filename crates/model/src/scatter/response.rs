//! The exit as a smooth function of what varies, fitted to true passages through the launcher.
//!
//! ```text
//! y = c₀ + Σ cᵢ xᵢ + Σ cᵢⱼ xᵢ xⱼ        y: ln speed, direction, spin, forward, height
//! ```
//! A quadratic response surface [box-wilson-1951]. It only says which throws are so far from the rim
//! that the true passage cannot change their fate; the others are thrown truly.

use crate::numerics::linear_fit::Qr;
use crate::shot::Exit;

/// The five numbers of an exit, in the form that is fitted.
pub type Parts = [f64; 5];

/// An exit as the five numbers that are fitted: ln speed, direction, spin, forward, height.
pub fn parts(exit: &Exit) -> Parts {
    [
        libm::log(exit.speed_mps),
        exit.angle_rad,
        exit.spin_radps,
        exit.forward_m,
        exit.height_m,
    ]
}

/// The exit of five fitted numbers.
pub fn exit_of(parts: &Parts) -> Exit {
    Exit {
        speed_mps: libm::exp(parts[0]),
        angle_rad: parts[1],
        spin_radps: parts[2],
        forward_m: parts[3],
        height_m: parts[4],
    }
}

/// A fitted response.
#[derive(Clone, Debug, PartialEq)]
pub struct Response {
    variables: usize,
    crossed: bool,
    /// Coefficients, one set for each part.
    coefficients: [Vec<f64>; 5],
}

/// Number of terms.
pub fn term_count(variables: usize, crossed: bool) -> usize {
    let products = if crossed {
        variables * variables.saturating_sub(1) / 2
    } else {
        0
    };
    1 + 2 * variables + products
}

fn terms(x: &[f64], crossed: bool, out: &mut Vec<f64>) {
    out.push(1.0);
    out.extend_from_slice(x);
    out.extend(x.iter().map(|v| v * v));
    if crossed {
        for (i, a) in x.iter().enumerate() {
            out.extend(x[..i].iter().map(|b| a * b));
        }
    }
}

impl Response {
    /// Fits to points `x` (each of the same length) and what came out there. `None` with too few points
    /// or points that do not tell the terms apart.
    pub fn fit(x: &[Vec<f64>], y: &[Parts], crossed: bool) -> Option<Response> {
        let variables = x.first()?.len();
        let columns = term_count(variables, crossed);
        if x.len() < columns || x.len() != y.len() {
            return None;
        }
        let mut design = Vec::with_capacity(x.len() * columns);
        for point in x {
            terms(point, crossed, &mut design);
        }
        let qr = Qr::new(x.len(), columns, &design)?;
        let mut coefficients: [Vec<f64>; 5] = Default::default();
        for (part, slot) in coefficients.iter_mut().enumerate() {
            let target: Vec<f64> = y.iter().map(|v| v[part]).collect();
            *slot = qr.fit(&target)?.coefficients;
        }
        Some(Response {
            variables,
            crossed,
            coefficients,
        })
    }

    /// The five numbers at a point.
    pub fn at(&self, x: &[f64]) -> Parts {
        debug_assert_eq!(x.len(), self.variables);
        let n = self.variables;
        self.coefficients.each_ref().map(|c| {
            let mut sum = c[0];
            for (i, a) in x.iter().enumerate() {
                let mut slope = c[1 + i] + c[1 + n + i] * a;
                if self.crossed {
                    let row = 1 + 2 * n + i * i.saturating_sub(1) / 2;
                    for (b, k) in x[..i].iter().zip(&c[row..]) {
                        slope += k * b;
                    }
                }
                sum += slope * a;
            }
            sum
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn points(count: usize, variables: usize) -> Vec<Vec<f64>> {
        let mut stream = crate::numerics::random::Stream::new(5, 1);
        (0..count)
            .map(|_| (0..variables).map(|_| stream.normal()).collect())
            .collect()
    }

    /// A function that is quadratic is found exactly, each kind of term with its own coefficient.
    #[test]
    fn a_quadratic_function_is_reproduced_to_rounding_with_every_kind_of_term() {
        let f = |x: &[f64]| -> Parts {
            let base = 2.0 + 0.5 * x[0] - 0.25 * x[1] + 0.125 * x[2] * x[2];
            [
                base,
                base + 3.0 * x[0] * x[1],
                base - 2.0 * x[0] * x[2],
                base + 1.5 * x[1] * x[2],
                x[0] * x[0] - x[1] * x[1],
            ]
        };
        let x = points(40, 3);
        let y: Vec<_> = x.iter().map(|p| f(p)).collect();
        let fit = Response::fit(&x, &y, true).unwrap();
        for p in points(20, 3) {
            for (a, b) in fit.at(&p).iter().zip(f(&p)) {
                assert!((a - b).abs() < 1e-11, "{a} {b}");
            }
        }
        let plain = Response::fit(&x, &y, false).unwrap();
        let p = [1.0, 1.0, 1.0];
        assert!((plain.at(&p)[0] - f(&p)[0]).abs() < 1e-11);
        assert!((plain.at(&p)[1] - f(&p)[1]).abs() > 0.1, "products are left out");
    }

    #[test]
    fn too_few_points_give_no_fit() {
        let x = points(9, 3);
        let y = vec![[1.0; 5]; 9];
        assert!(Response::fit(&x, &y, true).is_none());
        assert!(Response::fit(&x[..0], &[], true).is_none());
    }
}
