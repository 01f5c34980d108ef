//! Shapes that pieces touch: flat walls, rods, a roller.

use super::touch::V;
use crate::numerics::vector::{add_scaled, cross, dot, norm, scale, sub};

/// Where a ball touches: direction from the shape to the ball's centre, overlap, the point on the shape.
#[derive(Clone, Copy, Debug)]
pub(super) struct Meet {
    pub normal: V,
    pub overlap_m: f64,
    pub point: V,
    /// At an edge, which two walls may share.
    pub at_edge: bool,
}

/// A flat convex wall; pieces are on the side its normal points to.
#[derive(Clone, Debug)]
pub struct Wall {
    corners_m: Vec<V>,
    normal: V,
    offset_m: f64,
    edges: Vec<Edge>,
    both_sides: bool,
}

#[derive(Clone, Copy, Debug)]
struct Edge {
    start: V,
    along: V,
    length_m: f64,
    inward: V,
    inward_m: f64,
}

impl Wall {
    /// A wall through corners in one plane, counterclockwise as seen from the side of the pieces.
    ///
    /// Fewer than three corners, or all in a line, make a wall that nothing touches.
    pub fn new(corners_m: &[[f64; 3]]) -> Wall {
        let mut area = [0.0; 3];
        if let [first, rest @ ..] = corners_m {
            for pair in rest.windows(2) {
                area = add_scaled(area, 1.0, cross(sub(pair[0], *first), sub(pair[1], *first)));
            }
        }
        let normal = unit(area);
        let edges = (0..corners_m.len())
            .map(|i| {
                let (a, b) = (corners_m[i], corners_m[(i + 1) % corners_m.len()]);
                let along = unit(sub(b, a));
                let inward = cross(normal, along);
                Edge {
                    start: a,
                    along,
                    length_m: norm(sub(b, a)),
                    inward,
                    inward_m: dot(inward, a),
                }
            })
            .collect();
        Wall {
            corners_m: corners_m.to_vec(),
            normal,
            // Without an area it is infinitely far away.
            offset_m: match corners_m.first() {
                Some(p) if norm(area) > 0.0 => dot(normal, *p),
                _ => f64::INFINITY,
            },
            edges,
            both_sides: false,
        }
    }

    /// A wall that is touched from both of its sides.
    pub fn both_sides(corners_m: &[[f64; 3]]) -> Wall {
        Wall {
            both_sides: true,
            ..Wall::new(corners_m)
        }
    }

    /// Is it touched from both sides?
    pub fn has_both_sides(&self) -> bool {
        self.both_sides
    }

    /// The corners.
    pub fn corners_m(&self) -> &[[f64; 3]] {
        &self.corners_m
    }

    /// How far a point is in front of the wall; `None` if it is not in front of or behind the wall itself.
    pub fn ahead_m(&self, point_m: [f64; 3]) -> Option<f64> {
        let inside = self.edges.iter().all(|e| dot(e.inward, point_m) >= e.inward_m);
        inside.then(|| dot(self.normal, point_m) - self.offset_m)
    }

    #[inline]
    pub(super) fn meet(&self, centre: V, radius_m: f64) -> Option<Meet> {
        let ahead = dot(self.normal, centre) - self.offset_m;
        if !(ahead < radius_m && ahead > -radius_m) {
            return None;
        }
        let mut nearest: Option<(f64, V)> = None;
        let mut inside = true;
        for e in &self.edges {
            let past = dot(e.inward, centre) - e.inward_m;
            if past >= 0.0 {
                continue;
            }
            inside = false;
            if past <= -radius_m {
                return None;
            }
            let s = dot(sub(centre, e.start), e.along).clamp(0.0, e.length_m);
            let q = add_scaled(e.start, s, e.along);
            let d = sub(centre, q);
            let d2 = dot(d, d);
            if nearest.is_none_or(|(least, _)| d2 < least) {
                nearest = Some((d2, q));
            }
        }
        if inside {
            let [side, away] = if self.both_sides && ahead < 0.0 {
                [-1.0, -ahead]
            } else {
                [1.0, ahead]
            };
            return Some(Meet {
                normal: scale(self.normal, side),
                overlap_m: radius_m - away,
                point: add_scaled(centre, -ahead, self.normal),
                at_edge: false,
            });
        }
        let (d2, q) = nearest?;
        round(centre, radius_m, q, d2.sqrt(), 0.0, true)
    }
}

/// A rod with round ends.
#[derive(Clone, Copy, Debug)]
pub struct Rod {
    pub(super) start: V,
    pub(super) along: V,
    /// Length without the ends.
    pub(super) length_m: f64,
    pub(super) radius_m: f64,
}

impl Rod {
    /// A rod between two points.
    pub fn new(from_m: [f64; 3], to_m: [f64; 3], radius_m: f64) -> Rod {
        let d = sub(to_m, from_m);
        Rod {
            start: from_m,
            along: unit(d),
            length_m: norm(d),
            radius_m,
        }
    }

    /// Middles of its two ends.
    pub fn ends_m(&self) -> [[f64; 3]; 2] {
        [self.start, add_scaled(self.start, self.length_m, self.along)]
    }

    /// Half its thickness.
    pub fn radius_m(&self) -> f64 {
        self.radius_m
    }

    #[inline]
    pub(super) fn meet(&self, centre: V, radius_m: f64) -> Option<Meet> {
        let s = dot(sub(centre, self.start), self.along).clamp(0.0, self.length_m);
        let q = add_scaled(self.start, s, self.along);
        let d = sub(centre, q);
        let d2 = dot(d, d);
        let reach = radius_m + self.radius_m;
        if d2 >= reach * reach {
            return None;
        }
        round(centre, radius_m, q, d2.sqrt(), self.radius_m, false)
    }
}

/// A cylinder with flat ends.
#[derive(Clone, Copy, Debug)]
pub struct Cylinder {
    pub(super) centre: V,
    pub(super) axis: V,
    pub(super) half_width_m: f64,
    pub(super) radius_m: f64,
}

impl Cylinder {
    /// A cylinder by its middle, axis (a unit vector), width and radius.
    pub fn new(centre_m: [f64; 3], axis_ratio: [f64; 3], width_m: f64, radius_m: f64) -> Cylinder {
        Cylinder {
            centre: centre_m,
            axis: axis_ratio,
            half_width_m: 0.5 * width_m,
            radius_m,
        }
    }

    /// Middles of its two flat ends.
    pub fn ends_m(&self) -> [[f64; 3]; 2] {
        [-1.0, 1.0].map(|s| add_scaled(self.centre, s * self.half_width_m, self.axis))
    }

    /// Middle.
    pub fn centre_m(&self) -> [f64; 3] {
        self.centre
    }

    /// Direction of its axis.
    pub fn axis_ratio(&self) -> [f64; 3] {
        self.axis
    }

    /// Width along the axis.
    pub fn width_m(&self) -> f64 {
        2.0 * self.half_width_m
    }

    /// Radius.
    pub fn radius_m(&self) -> f64 {
        self.radius_m
    }

    #[inline]
    pub(super) fn meet(&self, centre: V, radius_m: f64) -> Option<Meet> {
        let d = sub(centre, self.centre);
        let a = dot(d, self.axis);
        let outward = add_scaled(d, -a, self.axis);
        let r = norm(outward);
        if r >= radius_m + self.radius_m || a.abs() >= radius_m + self.half_width_m || r == 0.0 {
            return None;
        }
        let flat = a.clamp(-self.half_width_m, self.half_width_m);
        let q = add_scaled(
            add_scaled(self.centre, flat, self.axis),
            self.radius_m.min(r) / r,
            outward,
        );
        if flat == a {
            // Beside the round face, however deep.
            return Some(Meet {
                normal: scale(outward, 1.0 / r),
                overlap_m: radius_m + self.radius_m - r,
                point: q,
                at_edge: false,
            });
        }
        let gap = norm(sub(centre, q));
        if gap >= radius_m {
            return None;
        }
        round(centre, radius_m, q, gap, 0.0, false)
    }
}

/// Meeting of a ball with a point or a rounded line.
#[inline]
fn round(centre: V, radius_m: f64, q: V, gap_m: f64, thick_m: f64, at_edge: bool) -> Option<Meet> {
    let overlap_m = radius_m + thick_m - gap_m;
    if !(overlap_m > 0.0 && gap_m > 0.0) {
        return None;
    }
    let normal = scale(sub(centre, q), 1.0 / gap_m);
    Some(Meet {
        normal,
        overlap_m,
        point: add_scaled(q, thick_m, normal),
        at_edge,
    })
}

/// The unit vector along another; zero for zero.
pub(super) fn unit(a: V) -> V {
    let n = norm(a);
    if n > 0.0 { scale(a, 1.0 / n) } else { a }
}
