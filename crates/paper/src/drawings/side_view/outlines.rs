//! The piece on its way: where it is at even times, and its outline there.

use std::f64::consts::PI;

use arcwright_model::launcher::PassageSample;

use super::{SideView, Wheel, drawable, piece_radius_m};
use crate::geometry::{
    Fit, Point, direction, distance, moved, nearest_on_line, stretches, usable, usable_point,
};
use crate::svg::{Path, Svg};

/// Outlines of the piece.
const OUTLINE_COUNT: u32 = 8;

/// One piece position to draw.
#[derive(Clone, Copy)]
pub(super) struct Position {
    pub time_s: f64,
    pub centre_m: Point,
    pub turned_rad: f64,
}

/// Positions at even times from first contact to the end of the trace.
pub(super) fn positions(input: &SideView) -> Vec<Position> {
    let good = |s: &&PassageSample| usable_point(&s.centre_m) && usable(s.time_s) && usable(s.turned_rad);
    let mut samples: Vec<&PassageSample> = input.trace.iter().filter(good).collect();
    samples.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    let touched = samples.iter().find(|s| s.wheel_normal_n > 0.0);
    let (Some(first), Some(last)) = (touched.or(samples.first()), samples.last()) else {
        return Vec::new();
    };
    let (start_s, end_s) = (first.time_s, last.time_s);
    if end_s <= start_s {
        return vec![at_time(&samples, start_s)].into_iter().flatten().collect();
    }
    let share = |i: u32| f64::from(i) / f64::from(OUTLINE_COUNT - 1);
    (0..OUTLINE_COUNT)
        .filter_map(|i| at_time(&samples, start_s + (end_s - start_s) * share(i)))
        .collect()
}

fn at_time(samples: &[&PassageSample], time_s: f64) -> Option<Position> {
    let after = samples.partition_point(|s| s.time_s < time_s);
    let b = samples.get(after).or(samples.last())?;
    let a = samples.get(after.saturating_sub(1)).unwrap_or(b);
    let step = b.time_s - a.time_s;
    let t = if step > 0.0 {
        ((time_s - a.time_s) / step).clamp(0.0, 1.0)
    } else {
        0.0
    };
    let mix = |p: f64, q: f64| p + t * (q - p);
    Some(Position {
        time_s,
        centre_m: [
            mix(a.centre_m[0], b.centre_m[0]),
            mix(a.centre_m[1], b.centre_m[1]),
        ],
        turned_rad: mix(a.turned_rad, b.turned_rad),
    })
}

/// The outlines of the piece, flattened where wheel or guide press on it.
pub(super) fn draw_outlines(svg: &mut Svg, fit: &Fit, input: &SideView, positions: &[Position]) {
    let radius_m = piece_radius_m(input);
    if radius_m <= 0.0 {
        return;
    }
    let fixed: Vec<Vec<Point>> = input
        .parts
        .iter()
        .flat_map(|p| stretches(p.line_m.iter().copied()))
        .collect();
    svg.open("pieces");
    for (i, p) in positions.iter().enumerate() {
        let class = if i == 0 || i + 1 == positions.len() {
            "w0 s1 c0"
        } else {
            "q"
        };
        let (toward, inner_m) = nearest_wheel(input, p.centre_m).unwrap_or(([1.0, 0.0], radius_m));
        let outer_m = fixed
            .iter()
            .filter_map(|line| nearest_on_line(p.centre_m, line))
            .chain(opposite_surface(input, p.centre_m))
            .map(|q| distance(p.centre_m, q))
            .fold(radius_m, f64::min);
        // Never flatter than half: a drawing of a wrong gap should still show a piece.
        let kept = |m: f64| m.clamp(0.5 * radius_m, radius_m) * fit.px_per_m;
        svg.path(
            class,
            &flattened(fit, p.centre_m, toward, radius_m, kept(inner_m), kept(outer_m)),
        );
        let spoke = 0.5 * PI + p.turned_rad;
        let tip = moved(
            p.centre_m,
            [spoke.cos(), spoke.sin()],
            0.8 * inner_m.min(outer_m).clamp(0.5 * radius_m, radius_m),
        );
        svg.line("q", fit.px(p.centre_m), fit.px(tip));
        svg.circle("qf", fit.px(tip), 2.2);
    }
    svg.close();
}

/// Unit vector to the nearest wheel and distance to its surface.
fn nearest_wheel(input: &SideView, p: Point) -> Option<(Point, f64)> {
    let wheels = input.wheels.iter().filter(|w| drawable(w));
    wheels
        .map(|w| (direction(p, w.centre_m), distance(p, w.centre_m) - w.radius_m))
        .min_by(|a, b| a.1.total_cmp(&b.1))
}

/// The surface of the second wheel of a pair, opposite the nearest.
fn opposite_surface(input: &SideView, p: Point) -> Option<Point> {
    let mut wheels: Vec<&Wheel> = input.wheels.iter().filter(|w| drawable(w)).collect();
    wheels.sort_by(|a, b| {
        (distance(p, a.centre_m) - a.radius_m).total_cmp(&(distance(p, b.centre_m) - b.radius_m))
    });
    wheels
        .get(1)
        .map(|w| moved(w.centre_m, direction(w.centre_m, p), w.radius_m))
}

/// Two half ellipses, one toward the wheel and one away from it.
fn flattened(fit: &Fit, centre_m: Point, toward: Point, radius_m: f64, inner_px: f64, outer_px: f64) -> Path {
    let side = [-toward[1], toward[0]];
    let (a, b) = (
        fit.px(moved(centre_m, side, radius_m)),
        fit.px(moved(centre_m, side, -radius_m)),
    );
    let long = radius_m * fit.px_per_m;
    // First axis of the ellipse along `side`; the screen's y points down.
    let turn = (-side[1]).atan2(side[0]);
    let mut path = Path::default();
    path.move_to(a);
    path.arc_to([long, inner_px], turn, true, b);
    path.arc_to([long, outer_px], turn, true, a);
    path.close();
    path
}
