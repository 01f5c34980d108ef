//! The skin of a piece: where its holes and its seam are.

use std::f64::consts::PI;

use crate::numerics::vector::{add_scaled, cross, dot, norm, scale, sub};

/// A groove along a great circle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seam {
    /// Normal of the plane of the great circle, in the frame of the piece; length 1.
    pub normal: [f64; 3],
    /// Width across.
    pub width_m: f64,
    /// Depth, taken as even over the width.
    pub depth_m: f64,
}

/// A round skin with sharp-edged round holes and perhaps a seam.
#[derive(Clone, Debug, PartialEq)]
pub struct Surface {
    /// Radius of the piece.
    pub radius_m: f64,
    /// Directions of the centres of the holes, in the frame of the piece; length 1.
    pub holes: Vec<[f64; 3]>,
    /// Radius of each hole's edge circle.
    pub hole_radius_m: f64,
    /// A seam, if any.
    pub seam: Option<Seam>,
}

/// Method: pair distances that the arranging of holes may cost. Enough for 100 steps of 400 holes; 2000
/// holes, the most a file may ask for, still get 5.
const PAIRS_COUNT: usize = 16_000_000;
/// Method: steps of repulsion after which the energy of up to 400 points changes by less than a thousandth.
const STEPS_COUNT: usize = 100;
/// Method: first step of the repulsion, as a share of the distance between neighbours.
const FIRST_STEP_RATIO: f64 = 0.3;

/// Directions spread evenly over a sphere: a golden-angle spiral, then repulsion.
///
/// ```text
/// z_i = 1 − (2 i + 1)/n,   azimuth_i = i π (3 − √5)              [gonzalez-2010]
/// then a few steps along Σ_j (p_i − p_j)/|p_i − p_j|³ on the sphere (equal charges)
/// ```
/// Any count; the same count gives the same directions. Within 1 % of the least energy known for equal
/// charges at the counts tested. Real pieces differ: two moulded halves with rings of holes are as even, but
/// not the same.
pub fn even_directions(count: usize) -> Vec<[f64; 3]> {
    let golden = PI * (3.0 - 5f64.sqrt());
    let n = count as f64;
    let mut points: Vec<[f64; 3]> = (0..count)
        .map(|i| {
            let z = 1.0 - (2.0 * i as f64 + 1.0) / n;
            let ring = (1.0 - z * z).max(0.0).sqrt();
            let (sin, cos) = (golden * i as f64).sin_cos();
            [ring * cos, ring * sin, z]
        })
        .collect();
    let pairs = (count * count.saturating_sub(1) / 2).max(1);
    let steps = (PAIRS_COUNT / pairs).min(STEPS_COUNT);
    // Equal shares of the sphere, 4π/n each, lie about √(4π/n) apart.
    let spacing = (4.0 * PI / n.max(1.0)).sqrt();
    for step in 0..steps {
        let push = repulsion(&points);
        let largest = push.iter().map(|p| norm(*p)).fold(0.0, f64::max);
        if !(largest > 0.0) {
            break;
        }
        let by = FIRST_STEP_RATIO * spacing * (1.0 - step as f64 / steps as f64) / largest;
        for (p, along) in points.iter_mut().zip(&push) {
            let moved = add_scaled(*p, by, *along);
            *p = scale(moved, 1.0 / norm(moved));
        }
    }
    points
}

/// Push of all others on each point, along the sphere.
fn repulsion(points: &[[f64; 3]]) -> Vec<[f64; 3]> {
    let mut push = vec![[0.0; 3]; points.len()];
    for (i, p) in points.iter().enumerate() {
        for (j, q) in points.iter().enumerate().skip(i + 1) {
            let apart = sub(*p, *q);
            let cube = dot(apart, apart).powf(1.5).max(f64::MIN_POSITIVE);
            for (at, sign) in [(i, 1.0), (j, -1.0)] {
                if let Some(sum) = push.get_mut(at) {
                    *sum = add_scaled(*sum, sign / cube, apart);
                }
            }
        }
    }
    for (sum, p) in push.iter_mut().zip(points) {
        *sum = add_scaled(*sum, -dot(*sum, *p), *p);
    }
    push
}

impl Surface {
    /// A skin with `count` evenly spread holes of a diameter.
    pub fn with_even_holes(radius_m: f64, count: usize, hole_diameter_m: f64) -> Surface {
        Surface {
            radius_m,
            holes: even_directions(count),
            hole_radius_m: 0.5 * hole_diameter_m,
            seam: None,
        }
    }

    /// Half the angle that a hole takes as seen from the centre of the piece.
    pub fn hole_rad(&self) -> f64 {
        (self.hole_radius_m / self.radius_m).clamp(0.0, 1.0).asin()
    }

    /// Share of the sphere's area that is hole: the chance that a random point lies over one.
    ///
    /// ```text
    /// share = n (1 − cos a)/2,   sin a = hole radius / piece radius          (area of a spherical cap)
    /// ```
    /// Exact where holes do not overlap; where they do, what is counted twice is taken off by a count over
    /// 20 000 evenly spread points, to about 0.002.
    pub fn open_frac(&self) -> f64 {
        /// Method: points of the count.
        const POINTS_COUNT: usize = 20_000;
        let cap = 0.5 * (1.0 - self.hole_rad().cos());
        let sum = cap * self.holes.len() as f64;
        let apart = (2.0 * self.hole_rad()).cos();
        let overlap = self.holes.iter().enumerate().any(|(i, p)| {
            self.holes
                .iter()
                .skip(i + 1)
                .any(|q| dot(*p, *q) > apart + OVERLAP_ROUNDING)
        });
        if !overlap {
            return sum;
        }
        let edge = self.hole_rad().cos();
        let golden = PI * (3.0 - 5f64.sqrt());
        let open = (0..POINTS_COUNT).filter(|i| {
            let z = 1.0 - (2.0 * *i as f64 + 1.0) / POINTS_COUNT as f64;
            let ring = (1.0 - z * z).max(0.0).sqrt();
            let (sin, cos) = (golden * *i as f64).sin_cos();
            self.holes
                .iter()
                .any(|h| dot(*h, [ring * cos, ring * sin, z]) > edge)
        });
        open.count() as f64 / POINTS_COUNT as f64
    }

    /// Share of the sphere's area that the seam takes.
    ///
    /// ```text
    /// share = width/(2 r)                      (area of a spherical zone, chord width across)
    /// ```
    pub fn seam_frac(&self) -> f64 {
        self.seam
            .map_or(0.0, |s| (0.5 * s.width_m / self.radius_m).clamp(0.0, 1.0))
    }
}

/// Rounding: cosines of holes that just touch.
const OVERLAP_ROUNDING: f64 = 1e-12;

/// Turns a vector by a unit quaternion (x, y, z, w).
///
/// ```text
/// v' = v + 2 q × (q × v + w v)                                     [shoemake-1992]
/// ```
pub fn turned(vector: [f64; 3], orientation: [f64; 4]) -> [f64; 3] {
    let [x, y, z, w] = orientation;
    let q = [x, y, z];
    let inner = add_scaled(cross(q, vector), w, vector);
    add_scaled(vector, 2.0, cross(q, inner))
}

/// A unit quaternion (x, y, z, w), every orientation equally likely, from three numbers uniform in 0 to 1.
///
/// ```text
/// q = (√(1−u₀) sin 2πu₁, √(1−u₀) cos 2πu₁, √u₀ sin 2πu₂, √u₀ cos 2πu₂)     [shoemake-1992]
/// ```
pub fn random_orientation(uniform: [f64; 3]) -> [f64; 4] {
    let share = uniform[0].clamp(0.0, 1.0);
    let (s1, c1) = (2.0 * PI * uniform[1]).sin_cos();
    let (s2, c2) = (2.0 * PI * uniform[2]).sin_cos();
    let (a, b) = ((1.0 - share).sqrt(), share.sqrt());
    [a * s1, a * c1, b * s2, b * c2]
}
