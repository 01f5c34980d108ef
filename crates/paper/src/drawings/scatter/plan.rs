//! The opening to scale with the cloud of crossings over it.

use std::f64::consts::PI;

use arcwright_model::target::{Outcome, Outline};

use super::{FATES, Opening, ScatterCrossing, ScatterPanel, ScatterPicture};
use crate::geometry::{Fit, Point, Rect, span, usable};
use crate::marks::{arrow, arrow_head};
use crate::svg::{Anchor, Hatch, Path, Svg};

/// Most crossings drawn in one panel; more would only blacken it.
pub(super) const MOST_DRAWN: usize = 600;
/// Line of the ellipse that holds half of the crossings.
pub(super) const HALF: &str = "s c0";
/// Line of the ellipse that holds 95 % of them.
pub(super) const MOST: &str = "s c0 d2";
/// Thickness of the back wall as drawn; its true one is not known.
const WALL_PX: f64 = 12.0;
/// Room around what must be seen.
const PAD_PX: f64 = 22.0;
/// Corners of a drawn curve.
const CORNERS: usize = 72;

/// The part of the plane that every panel shows, at one scale.
pub(super) struct Plan {
    /// Right of the centre as the thrower sees it.
    right_m: (f64, f64),
    along_m: (f64, f64),
    width_px: f64,
    /// Height of the plan of each panel.
    pub height_px: f64,
}

/// Radius, in standard deviations, of the ellipse that holds a share of a plane normal
/// distribution.
///
/// ```text
/// k = sqrt(-2 ln(1 - p))
/// ```
///
/// the chi-square quantile with two degrees of freedom, which has this closed form.
fn radius_ratio(held_frac: f64) -> f64 {
    (-2.0 * (1.0 - held_frac).ln()).sqrt()
}

pub(super) fn placed(c: &ScatterCrossing) -> bool {
    usable(c.along_m) && usable(c.across_m)
}

pub(super) fn drawable(o: &Opening) -> bool {
    [o.width_m, o.depth_m].into_iter().all(|v| usable(v) && v > 0.0)
}

pub(super) fn has_ellipse(p: &ScatterPanel) -> bool {
    p.mean_m.into_iter().all(usable)
        && p.sd_m.into_iter().all(|v| usable(v) && v > 0.0)
        && usable(p.correlation_coeff)
}

/// How far inside the rim the centre has to cross, if there is such a place.
pub(super) fn inside_m(input: &ScatterPicture) -> Option<f64> {
    let (o, radius_m) = (&input.opening, 0.5 * input.piece_diameter_m);
    let room = radius_m > 0.0 && usable(radius_m) && 2.0 * radius_m < o.width_m.min(o.depth_m);
    (drawable(o) && room).then_some(radius_m)
}

/// The rim moved inwards by a distance, right and along; closed.
fn outline(o: &Opening, by_m: f64) -> Vec<Point> {
    let (a, b) = (0.5 * o.width_m, 0.5 * o.depth_m);
    if o.outline == Outline::Rectangle {
        let (x, y) = (a - by_m, b - by_m);
        return vec![[-x, -y], [x, -y], [x, y], [-x, y]];
    }
    // The line at this distance from an ellipse is none itself. Beyond its tightest bend it would
    // cross itself; the ellipse with shorter axes is close to it there.
    let parallel = by_m < a.min(b).powi(2) / a.max(b);
    (0..CORNERS)
        .map(|i| {
            let (s, c) = (2.0 * PI * i as f64 / CORNERS as f64).sin_cos();
            if parallel {
                let size = (b * c).hypot(a * s);
                [a * c - by_m * b * c / size, b * s - by_m * a * s / size]
            } else {
                [(a - by_m) * c, (b - by_m) * s]
            }
        })
        .collect()
}

/// The ellipse of equal density that holds a share of the crossings, right and along.
fn ellipse(p: &ScatterPanel, held_frac: f64) -> Vec<Point> {
    let [mean_along, mean_across] = p.mean_m;
    let [sd_along, sd_across] = p.sd_m;
    let (k, rho) = (radius_ratio(held_frac), p.correlation_coeff.clamp(-1.0, 1.0));
    (0..CORNERS)
        .map(|i| {
            let (s, c) = (2.0 * PI * i as f64 / CORNERS as f64).sin_cos();
            let along = mean_along + k * sd_along * c;
            let across = mean_across + k * sd_across * (rho * c + (1.0 - rho * rho).sqrt() * s);
            [-across, along]
        })
        .collect()
}

impl Plan {
    /// Shows the whole opening and the 95 % ellipses, but no more than three quarters of the opening
    /// beyond its rim: a wild scatter must not shrink the opening to a speck.
    pub(super) fn of(input: &ScatterPicture, panels: &[&ScatterPanel], width_px: f64) -> Plan {
        let o = &input.opening;
        let rings: Vec<Point> = panels
            .iter()
            .filter(|p| has_ellipse(p))
            .flat_map(|p| ellipse(p, 0.95))
            .collect();
        let axis = |half_m: f64, largest_m: f64, i: usize| {
            let (low, high) = span(rings.iter().filter_map(|p| p.get(i).copied())).unwrap_or((0.0, 0.0));
            if drawable(o) {
                let most = half_m + 0.75 * largest_m;
                ((-half_m).min(low.max(-most)), half_m.max(high.min(most)))
            } else if high > low {
                (low, high)
            } else {
                (-0.5, 0.5)
            }
        };
        let largest_m = o.width_m.max(o.depth_m);
        let right = axis(0.5 * o.width_m, largest_m, 0);
        let along = axis(0.5 * o.depth_m, largest_m, 1);
        // The opening stays in the middle across: what is off to one side shows as such.
        let half = right.1.max(-right.0);
        let ratio = ((along.1 - along.0) / (2.0 * half)).clamp(0.1, 10.0);
        let room = width_px - 2.0 * PAD_PX;
        Plan {
            right_m: (-half, half),
            along_m: along,
            width_px,
            height_px: (room * ratio).clamp(130.0, 300.0) + 2.0 * PAD_PX,
        }
    }

    /// Whether a crossing of the panel lies beyond its edges.
    pub(super) fn hides(&self, panel: &ScatterPanel) -> bool {
        let window = Rect {
            x_px: 0.0,
            y_px: 0.0,
            width_px: self.width_px,
            height_px: self.height_px,
        };
        sorted(panel, &self.fit(&window), &window).1 != [0; 4]
    }

    fn fit(&self, window: &Rect) -> Fit {
        Fit::new(self.right_m, self.along_m, window.grown(-PAD_PX))
    }

    pub(super) fn draw(&self, svg: &mut Svg, window: Rect, input: &ScatterPicture, panel: &ScatterPanel) {
        let fit = self.fit(&window);
        let o = &input.opening;
        svg.open_clipped(window);
        let line = |points: &[Point]| -> Vec<Point> { points.iter().map(|p| fit.px(*p)).collect() };
        if drawable(o) {
            if o.back_wall {
                let [left, y] = fit.px([-0.5 * o.width_m, 0.5 * o.depth_m]);
                let [right, _] = fit.px([0.5 * o.width_m, 0.5 * o.depth_m]);
                let top = y - 2.0 - WALL_PX;
                svg.hatched(
                    Hatch::Up,
                    &[[left, y - 2.0], [right, y - 2.0], [right, top], [left, top]],
                );
                svg.line("k", [left, y - 2.0], [right, y - 2.0]);
            }
            svg.open("opening");
            svg.polygon("bf kb", &line(&outline(o, 0.0)));
            svg.close();
            if let Some(by_m) = inside_m(input) {
                svg.open("inside");
                svg.polygon("k qd", &line(&outline(o, by_m)));
                svg.close();
            }
        }
        let (inside, beyond) = sorted(panel, &fit, &window);
        svg.open("cloud");
        for (fate, points) in FATES.into_iter().zip(&inside) {
            symbol(svg, fate, points);
        }
        svg.close();
        if has_ellipse(panel) {
            svg.open("ellipses");
            svg.polygon(MOST, &line(&ellipse(panel, 0.95)));
            svg.polygon(HALF, &line(&ellipse(panel, 0.5)));
            svg.close();
        }
        let mean = fit.px([-panel.mean_m[1], panel.mean_m[0]]);
        if mean.into_iter().all(usable) {
            cross(svg, mean);
        }
        svg.close();
        draw_beyond(svg, &window, beyond);
        draw_direction(svg, &window, o);
    }
}

/// The crossings inside the window, thinned evenly within each fate (in the order of [`FATES`]), and
/// how many lie beyond it: left, right, above, below.
fn sorted(panel: &ScatterPanel, fit: &Fit, window: &Rect) -> ([Vec<Point>; 8], [usize; 4]) {
    let mut inside: [Vec<Point>; 8] = Default::default();
    let mut beyond = [0; 4];
    for c in panel.crossings.iter().filter(|c| placed(c)) {
        let p = fit.px([-c.across_m, c.along_m]);
        // Past which side it is farthest.
        let past = [
            window.x_px - p[0],
            p[0] - window.right_px(),
            window.y_px - p[1],
            p[1] - window.bottom_px(),
        ];
        let farthest =
            past.into_iter().enumerate().fold(
                (0, f64::NEG_INFINITY),
                |best, it| {
                    if it.1 > best.1 { it } else { best }
                },
            );
        if farthest.1 > 0.0 {
            if let Some(count) = beyond.get_mut(farthest.0) {
                *count += 1;
            }
        } else if let Some(at) = FATES
            .iter()
            .position(|f| *f == c.fate)
            .and_then(|i| inside.get_mut(i))
        {
            at.push(p);
        }
    }
    let all: usize = inside.iter().map(Vec::len).sum();
    if all > MOST_DRAWN {
        for points in &mut inside {
            // A rare fate keeps one mark at least.
            let keep = (points.len() * MOST_DRAWN / all).max(usize::from(!points.is_empty()));
            *points = (0..keep)
                .filter_map(|i| points.get(i * points.len() / keep).copied())
                .collect();
        }
    }
    (inside, beyond)
}

/// Marks for crossings with one fate. Each fate has a shape of its own; the triangles point to where
/// the piece went.
pub(super) fn symbol(svg: &mut Svg, fate: Outcome, at: &[Point]) {
    if at.is_empty() {
        return;
    }
    let mut path = Path::default();
    let mut ring = |p: &Point, corners: &[Point]| {
        for (i, d) in corners.iter().enumerate() {
            // Tenths of a drawing unit are finer than the mark, and there may be hundreds.
            let q = [tenths(p[0] + d[0]), tenths(p[1] + d[1])];
            if i == 0 { path.move_to(q) } else { path.line_to(q) }
        }
    };
    let triangle = |x: f64, y: f64| -> Vec<Point> {
        let tip = [5.5 * x, 5.5 * y];
        let back = [-3.0 * x, -3.0 * y];
        let side = [-4.6 * y, 4.6 * x];
        let (a, b) = (
            [back[0] + side[0], back[1] + side[1]],
            [back[0] - side[0], back[1] - side[1]],
        );
        vec![tip, a, b, tip]
    };
    let (class, corners): (&str, Vec<Point>) = match fate {
        Outcome::In => ("dots c2", vec![[0.0, 0.0], [0.0, 0.0]]),
        Outcome::Rim => (
            "s1 c1",
            vec![[0.0, -4.5], [4.5, 0.0], [0.0, 4.5], [-4.5, 0.0], [0.0, -4.5]],
        ),
        Outcome::Short => ("s1 c3", triangle(0.0, 1.0)),
        Outcome::Long => ("s1 c3", triangle(0.0, -1.0)),
        Outcome::Left => ("s1 c3", triangle(-1.0, 0.0)),
        Outcome::Right => ("s1 c3", triangle(1.0, 0.0)),
        Outcome::Under => (
            "s1 c3",
            vec![[-3.5, -3.5], [3.5, -3.5], [3.5, 3.5], [-3.5, 3.5], [-3.5, -3.5]],
        ),
        Outcome::None => ("k", vec![[-3.5, -3.5], [3.5, 3.5]]),
    };
    for p in at {
        ring(p, &corners);
        if fate == Outcome::None {
            ring(p, &[[-3.5, 3.5], [3.5, -3.5]]);
        }
    }
    svg.path(class, &path);
}

fn tenths(v: f64) -> f64 {
    (10.0 * v).round() / 10.0
}

/// Mark of the mean.
pub(super) fn cross(svg: &mut Svg, at: Point) {
    let [x, y] = at;
    svg.line("kb", [x - 7.0, y], [x + 7.0, y]);
    svg.line("kb", [x, y - 7.0], [x, y + 7.0]);
}

/// An arrow over each edge that hides crossings, with their number.
fn draw_beyond(svg: &mut Svg, window: &Rect, beyond: [usize; 4]) {
    let middle = [
        window.x_px + 0.5 * window.width_px,
        window.y_px + 0.5 * window.height_px,
    ];
    let edges = [
        ([window.x_px, middle[1]], [-1.0, 0.0], Anchor::Start),
        ([window.right_px(), middle[1]], [1.0, 0.0], Anchor::End),
        ([middle[0], window.y_px], [0.0, -1.0], Anchor::Start),
        ([middle[0], window.bottom_px()], [0.0, 1.0], Anchor::Start),
    ];
    for ((tip, dir, anchor), count) in edges.into_iter().zip(beyond) {
        if count == 0 {
            continue;
        }
        beyond_mark(svg, [tip[0] - 6.0 * dir[0], tip[1] - 6.0 * dir[1]], dir);
        let at = if dir[1] == 0.0 {
            [tip[0], tip[1] - 8.0]
        } else {
            [tip[0] + 8.0, tip[1] - 7.0 * dir[1] + 5.0]
        };
        svg.text("halo b f3", at, anchor, &count.to_string());
    }
}

/// Arrow to what lies beyond the edge.
pub(super) fn beyond_mark(svg: &mut Svg, middle: Point, dir: Point) {
    arrow_head(
        svg,
        "f3",
        [middle[0] + 6.0 * dir[0], middle[1] + 6.0 * dir[1]],
        dir,
        11.0,
    );
}

/// Which way the pieces fly, in the lower left corner.
fn draw_direction(svg: &mut Svg, window: &Rect, o: &Opening) {
    let [x, y] = [window.x_px + 8.0, window.bottom_px() - 6.0];
    if o.upright {
        // The tail of an arrow that flies away from the eye.
        let c = [x + 4.0, y - 6.0];
        svg.circle("pf k", c, 7.0);
        for d in [4.9, -4.9] {
            svg.line("k", [c[0] - d, c[1] - 4.9], [c[0] + d, c[1] + 4.9]);
        }
    } else {
        arrow(svg, "k", "kf", [x, y], [x, y - 34.0], 9.0);
    }
    let text = if o.upright {
        "flies away from you"
    } else {
        "flight"
    };
    svg.text(
        "halo m",
        [x + if o.upright { 16.0 } else { 8.0 }, y - 1.0],
        Anchor::Start,
        text,
    );
}
