//! Nearest points of the fixed side.

use super::uneven::{self, Span};
use crate::launcher::outline::{Element, Shape};

/// An element prepared for many nearest-point questions: no trigonometry in the loop.
#[derive(Clone)]
pub(super) enum Wall {
    Line {
        from: [f64; 2],
        along: [f64; 2],
        length: f64,
    },
    Arc {
        centre: [f64; 2],
        radius: f64,
        middle: [f64; 2],
        cos_half: f64,
        ends: [[f64; 2]; 2],
    },
    /// A surface that is neither: see [`uneven`].
    Curve(Vec<Span>),
}

impl Wall {
    pub(super) fn of(element: &Element) -> Wall {
        match element.shape {
            Shape::Line { from_m, to_m } => {
                let d = [to_m[0] - from_m[0], to_m[1] - from_m[1]];
                let length = d[0].hypot(d[1]);
                let along = if length > 0.0 {
                    [d[0] / length, d[1] / length]
                } else {
                    [1.0, 0.0]
                };
                Wall::Line {
                    from: from_m,
                    along,
                    length,
                }
            }
            Shape::Arc {
                centre_m,
                radius_m,
                from_rad,
                to_rad,
            } => {
                let unit = |a: f64| [a.cos(), a.sin()];
                let at = |a: f64| {
                    let u = unit(a);
                    [centre_m[0] + radius_m * u[0], centre_m[1] + radius_m * u[1]]
                };
                let half = (0.5 * (from_rad - to_rad).abs()).min(std::f64::consts::PI);
                Wall::Arc {
                    centre: centre_m,
                    radius: radius_m,
                    middle: unit(0.5 * (from_rad + to_rad)),
                    cos_half: half.cos(),
                    ends: [at(from_rad), at(to_rad)],
                }
            }
        }
    }

    /// Nearest point of the element and its distance.
    pub(super) fn nearest(&self, p: [f64; 2]) -> ([f64; 2], f64) {
        match *self {
            Wall::Curve(ref spans) => uneven::nearest(spans, p),
            Wall::Line { from, along, length } => {
                let s = dot([p[0] - from[0], p[1] - from[1]], along).clamp(0.0, length);
                let q = [from[0] + s * along[0], from[1] + s * along[1]];
                (q, distance(p, q))
            }
            Wall::Arc {
                centre,
                radius,
                middle,
                cos_half,
                ends,
            } => {
                let d = [p[0] - centre[0], p[1] - centre[1]];
                let far = dot(d, d).sqrt();
                if far > 0.0 && dot(d, middle) >= cos_half * far {
                    let q = [centre[0] + radius * d[0] / far, centre[1] + radius * d[1] / far];
                    (q, (far - radius).abs())
                } else {
                    let [a, b] = ends.map(|e| (e, distance(p, e)));
                    if a.1 <= b.1 { a } else { b }
                }
            }
        }
    }
}

fn distance(a: [f64; 2], b: [f64; 2]) -> f64 {
    let d = [a[0] - b[0], a[1] - b[1]];
    dot(d, d).sqrt()
}

pub(super) fn dot(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}
