//! The chance of each call, for a piece that crosses the plane of the opening with normal scatter.

use std::f64::consts::{FRAC_PI_2, FRAC_PI_4};
use std::sync::OnceLock;

use super::likelihood::Zone;
use crate::numerics::normal::{cdf, density};
use crate::numerics::quadrature::gauss_legendre;

/// Where a call changes, in the plane of the opening.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Edges {
    /// From where to where it counts as in, along and across.
    pub in_m: [[f64; 2]; 2],
    /// From where to where it meets the rim or goes in, along and across.
    pub out_m: [[f64; 2]; 2],
    /// The ellipses that just fit, instead of the rectangles themselves.
    pub round: bool,
}

impl Edges {
    /// The rectangles of the same areas and middles.
    pub fn squared(&self) -> Edges {
        if !self.round {
            return *self;
        }
        let share = 0.5 * std::f64::consts::PI.sqrt();
        let shrunk = |sides: [[f64; 2]; 2]| {
            sides.map(|[low, high]| {
                let (middle, half) = (0.5 * (low + high), 0.5 * (high - low));
                [middle - share * half, middle + share * half]
            })
        };
        Edges {
            in_m: shrunk(self.in_m),
            out_m: shrunk(self.out_m),
            round: false,
        }
    }
}

/// One axis: where the mean crosses and how much it scatters.
type Axis = (f64, f64);

/// The chance of a call, range first: what misses along the axis is short or long, only the rest left or right. With
/// l and h the ends of the rectangles that are in (i) and that the rim ends at (o), X = Φ((h − μx)/sx) − Φ((l − μx)/sx)
/// and Y the same across,
///
/// ```text
/// short Φ((l_o − μx)/sx)   long Φ((μx − h_o)/sx)   left Xo Φ((μy − h_o)/sy)   right Xo Φ((l_o − μy)/sy)
/// rim Xo Yo − Xi Yi        in Xi Yi
/// ```
///
/// For ellipses in and rim are those of the ellipses; what passes between the outer one and its rectangle is called by
/// the larger of both distances, each by its half axis.
pub(super) fn chance(zone: Zone, along: Axis, across: Axis, edges: &Edges) -> f64 {
    let ([x_in, y_in], [x_out, y_out]) = (edges.in_m, edges.out_m);
    let inside = |x_sides, y_sides| {
        if edges.round {
            ellipse(scaled(along, x_sides), scaled(across, y_sides))
        } else {
            within(along, x_sides) * within(across, y_sides)
        }
    };
    let (x, y) = (scaled(along, x_out), scaled(across, y_out));
    let past = |(mean, sd): Axis, end: f64, sign: f64| cdf(sign * (mean - end) / sd);
    let between = |main: Option<Axis>, other: Option<Axis>, sign: f64| {
        if edges.round {
            corner(main, other, sign)
        } else {
            0.0
        }
    };
    match zone {
        Zone::Short => past(along, x_out[0], -1.0) + between(x, y, -1.0),
        Zone::Long => past(along, x_out[1], 1.0) + between(x, y, 1.0),
        Zone::Left => within(along, x_out) * past(across, y_out[1], 1.0) + between(y, x, 1.0),
        Zone::Right => within(along, x_out) * past(across, y_out[0], -1.0) + between(y, x, -1.0),
        Zone::Rim => (inside(x_out, y_out) - inside(x_in, y_in)).max(0.0),
        Zone::In => inside(x_in, y_in),
    }
}

fn within((mean, sd): Axis, [low, high]: [f64; 2]) -> f64 {
    (cdf((high - mean) / sd) - cdf((low - mean) / sd)).max(0.0)
}

/// An axis in half sides from the middle; `None` without room.
fn scaled((mean, sd): Axis, [low, high]: [f64; 2]) -> Option<Axis> {
    let half = 0.5 * (high - low);
    (half > 0.0).then(|| ((mean - 0.5 * (low + high)) / half, sd / half))
}

/// Convergence: nodes across the circle and across a corner; 1e-5 of a chance for scatter from an eighth of the radius up.
const NODES: usize = 24;
const CORNER_NODES: usize = 10;
/// Rounding: beyond so many deviations nothing is left.
const FARTHEST_SDS: f64 = 6.0;

/// Nodes and weights on [0, 1], worked out once.
fn nodes() -> &'static [Vec<(f64, f64)>; 2] {
    static BOTH: OnceLock<[Vec<(f64, f64)>; 2]> = OnceLock::new();
    BOTH.get_or_init(|| [NODES, CORNER_NODES].map(|n| gauss_legendre(n, 0.0, 1.0)))
}

/// The chance to be within the unit circle, by a fixed rule, so that differences of it are smooth.
///
/// ```text
/// ∫ φ((sin t − m)/s)/s (Φ((cos t − n)/q) − Φ((−cos t − n)/q)) cos t dt
/// ```
///
/// along the axis with the larger scatter.
fn ellipse(x: Option<Axis>, y: Option<Axis>) -> f64 {
    let (Some(x), Some(y)) = (x, y) else { return 0.0 };
    let ((m, s), (n, q)) = if x.1 >= y.1 { (x, y) } else { (y, x) };
    let (low, high) = (
        (m - FARTHEST_SDS * s).clamp(-1.0, 1.0).asin(),
        (m + FARTHEST_SDS * s).clamp(-1.0, 1.0).asin(),
    );
    let width = high - low;
    if !(width > 0.0) {
        return 0.0;
    }
    let each = nodes()[0].iter().map(|(at, weight)| {
        let (u, c) = (low + width * at).sin_cos();
        weight * density((u - m) / s) * (cdf((c - n) / q) - cdf((-c - n) / q)) * c
    });
    width / s * each.sum::<f64>()
}

/// The chance to be between the unit circle and the square about it, farther out on the main axis than on the other,
/// on one side.
fn corner(main: Option<Axis>, other: Option<Axis>, sign: f64) -> f64 {
    let (Some((m, s)), Some((n, q))) = (main, other) else {
        return 0.0;
    };
    let width = FRAC_PI_2 - FRAC_PI_4;
    let each = nodes()[1].iter().map(|(at, weight)| {
        let (u, c) = (FRAC_PI_4 + width * at).sin_cos();
        let beside = cdf((u - n) / q) - cdf((c - n) / q) + cdf((-c - n) / q) - cdf((-u - n) / q);
        weight * density((sign * u - m) / s) * beside * c
    });
    width / s * each.sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numerics::radial::hit_circle;
    use crate::numerics::random::Stream;

    const ALL: [Zone; 6] = [
        Zone::Short,
        Zone::Long,
        Zone::Left,
        Zone::Right,
        Zone::Rim,
        Zone::In,
    ];

    fn edges(round: bool) -> Edges {
        Edges {
            in_m: [[-0.3, 0.34], [-0.32, 0.32]],
            out_m: [[-0.45, 0.5], [-0.47, 0.47]],
            round,
        }
    }

    #[test]
    fn the_chances_of_all_calls_add_up_to_one() {
        let mut stream = Stream::new(4, 0);
        for _ in 0..200 {
            let along = (0.8 * stream.normal(), 0.06 + 0.5 * stream.uniform());
            let across = (0.4 * stream.normal(), 0.06 + 0.3 * stream.uniform());
            for round in [false, true] {
                let sum: f64 = ALL.iter().map(|z| chance(*z, along, across, &edges(round))).sum();
                assert!((sum - 1.0).abs() < 2e-5, "{round} {along:?} {across:?} {sum}");
            }
        }
    }

    /// Source: the share of a bivariate normal within a circle by adaptive quadrature, which is itself held to tables.
    #[test]
    fn within_the_circle_it_is_the_offset_circle_probability() {
        for (mx, my, sx, sy) in [
            (0.0, 0.0, 0.5, 0.2),
            (0.6, -0.3, 0.12, 0.3),
            (1.3, 0.4, 0.3, 0.11),
        ] {
            let expected = hit_circle(1.0, [mx, my], [sx, sy]);
            let found = ellipse(Some((mx, sx)), Some((my, sy)));
            assert!((found - expected).abs() < 2e-6, "{found} {expected}");
        }
    }

    /// Source: counted draws.
    #[test]
    fn calls_come_as_often_as_counted() {
        const DRAWS: usize = 40_000;
        let (along, across, e) = ((-0.25, 0.3), (0.2, 0.25), edges(true));
        let mut stream = Stream::new(9, 0);
        let mut counts = [0.0; 6];
        for _ in 0..DRAWS {
            let (x, y) = (
                along.0 + along.1 * stream.normal(),
                across.0 + across.1 * stream.normal(),
            );
            let unit = |v: f64, [l, h]: [f64; 2]| (v - 0.5 * (l + h)) / (0.5 * (h - l));
            let (ux, uy) = (unit(x, e.out_m[0]), unit(y, e.out_m[1]));
            let inner = unit(x, e.in_m[0]).hypot(unit(y, e.in_m[1]));
            let zone = if inner <= 1.0 {
                Zone::In
            } else if ux.hypot(uy) <= 1.0 {
                Zone::Rim
            } else if ux.abs() > 1.0 || (uy.abs() <= 1.0 && ux.abs() >= uy.abs()) {
                if ux < 0.0 { Zone::Short } else { Zone::Long }
            } else if uy > 0.0 {
                Zone::Left
            } else {
                Zone::Right
            };
            for (count, z) in counts.iter_mut().zip(ALL) {
                *count += if z == zone { 1.0 / DRAWS as f64 } else { 0.0 };
            }
        }
        for (count, z) in counts.iter().zip(ALL) {
            let expected = chance(z, along, across, &e);
            let error = (expected / DRAWS as f64).sqrt();
            assert!((count - expected).abs() < 4.0 * error, "{z:?} {count} {expected}");
        }
    }

    #[test]
    fn an_opening_too_small_for_the_piece_is_never_in_and_its_squares_keep_the_area() {
        let e = Edges {
            in_m: [[0.05, -0.05], [-0.1, 0.1]],
            ..edges(true)
        };
        assert_eq!(chance(Zone::In, (0.0, 0.1), (0.0, 0.1), &e), 0.0);
        let [x, y] = edges(true).squared().out_m;
        let ellipse_m2 = std::f64::consts::PI * 0.475 * 0.47;
        assert!(((x[1] - x[0]) * (y[1] - y[0]) - ellipse_m2).abs() < 1e-12);
        assert_eq!(edges(false).squared(), edges(false));
    }
}
