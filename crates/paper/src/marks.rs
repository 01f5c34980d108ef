//! Marks shared by the pictures: arrows, dimensions, badges, point shapes.

use std::f64::consts::PI;

use crate::geometry::{Point, direction, moved};
use crate::place::text_width_px;
use crate::svg::{Anchor, Path, Svg};

/// Size of label text.
pub const TEXT_PX: f64 = 14.0;

/// A filled arrow head with its point at `tip`, pointing along `dir` (picture coordinates).
pub fn arrow_head(svg: &mut Svg, fill: &str, tip: Point, dir: Point, size_px: f64) {
    let back = moved(tip, dir, -size_px);
    let side = [-dir[1], dir[0]];
    svg.polygon(
        fill,
        &[
            tip,
            moved(back, side, 0.36 * size_px),
            moved(back, side, -0.36 * size_px),
        ],
    );
}

/// A straight arrow.
pub fn arrow(svg: &mut Svg, line: &str, fill: &str, from: Point, to: Point, head_px: f64) {
    let dir = direction(from, to);
    svg.line(line, from, moved(to, dir, -0.8 * head_px));
    arrow_head(svg, fill, to, dir, head_px);
}

/// A straight line with a head at both ends, for a dimension or a direction of travel.
pub fn dimension(svg: &mut Svg, line: &str, fill: &str, a: Point, b: Point, head_px: f64) {
    let dir = direction(a, b);
    let head = head_px.min(0.45 * crate::geometry::distance(a, b));
    svg.line(line, moved(a, dir, 0.8 * head), moved(b, dir, -0.8 * head));
    arrow_head(svg, fill, b, dir, head);
    arrow_head(svg, fill, a, [-dir[0], -dir[1]], head);
}

/// An arc about a centre, angles from the right, counter-clockwise as seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Arc {
    /// Centre.
    pub centre: Point,
    /// Radius.
    pub radius_px: f64,
    /// Start.
    pub from_rad: f64,
    /// End.
    pub to_rad: f64,
}

impl Arc {
    /// The point at an angle.
    pub fn at(&self, angle_rad: f64) -> Point {
        let (s, c) = angle_rad.sin_cos();
        [
            self.centre[0] + self.radius_px * c,
            self.centre[1] - self.radius_px * s,
        ]
    }

    /// The arc as a path of pieces shorter than half a turn.
    pub fn path(&self) -> Path {
        let mut path = Path::default();
        path.move_to(self.at(self.from_rad));
        for i in 1..=3 {
            let angle = self.from_rad + (self.to_rad - self.from_rad) * f64::from(i) / 3.0;
            path.arc_to(
                [self.radius_px; 2],
                0.0,
                self.to_rad < self.from_rad,
                self.at(angle),
            );
        }
        path
    }

    /// Draws it, with a head at its end and, on request, at its start.
    pub fn arrow(&self, svg: &mut Svg, line: &str, fill: &str, head_px: f64, both: bool) {
        let turn = if self.to_rad > self.from_rad { 1.0 } else { -1.0 };
        let head = head_px.min(0.45 * self.radius_px * (self.to_rad - self.from_rad).abs());
        let back = 0.8 * head / self.radius_px.max(1.0) * turn;
        let start = if both { self.from_rad + back } else { self.from_rad };
        svg.path(
            line,
            &Arc {
                from_rad: start,
                to_rad: self.to_rad - back,
                ..*self
            }
            .path(),
        );
        let along = |angle: f64, turn: f64| {
            let a = angle + turn * PI / 2.0;
            [a.cos(), -a.sin()]
        };
        // The head is straight and the arc is not: aim it along the chord it covers.
        arrow_head(
            svg,
            fill,
            self.at(self.to_rad),
            along(self.to_rad - 0.5 * back, turn),
            head,
        );
        if both {
            arrow_head(
                svg,
                fill,
                self.at(self.from_rad),
                along(self.from_rad + 0.5 * back, -turn),
                head,
            );
        }
    }
}

/// A number in a disc.
pub fn badge(svg: &mut Svg, fill: &str, centre: Point, text: &str) {
    svg.circle(fill, centre, 9.5);
    svg.text("pf b sm", [centre[0], centre[1] + 4.6], Anchor::Middle, text);
}

/// A point mark, its shape set by `index`, of paper with a line in the series colour.
pub fn point(svg: &mut Svg, index: usize, line: &str, at: Point, size_px: f64) {
    let class = format!("pf s {line}");
    let corner = |i: usize, n: usize, turn: f64| {
        let a = 2.0 * PI * i as f64 / n as f64 + turn;
        [at[0] + 1.25 * size_px * a.sin(), at[1] - 1.25 * size_px * a.cos()]
    };
    let ring = |n: usize, turn: f64| (0..n).map(|i| corner(i, n, turn)).collect::<Vec<_>>();
    match index % 4 {
        0 => svg.circle(&class, at, size_px),
        1 => svg.polygon(&class, &ring(4, PI / 4.0)),
        2 => svg.polygon(&class, &ring(3, 0.0)),
        _ => svg.polygon(&class, &ring(4, 0.0)),
    }
}

/// A bar of known length with its label, left end at `at`.
pub fn scale_bar(svg: &mut Svg, at: Point, length_px: f64, label: &str) {
    let end = [at[0] + length_px, at[1]];
    svg.open("scale-bar");
    svg.line("k", at, end);
    for p in [at, end] {
        svg.line("k", [p[0], p[1] - 5.0], [p[0], p[1] + 5.0]);
    }
    svg.close();
    svg.text("m", [end[0] + 8.0, at[1] + 5.0], Anchor::Start, label);
}

/// Heading and second line at the top left.
pub fn heading(svg: &mut Svg, title: &str, second: &str) {
    let width = svg.area().width_px - 32.0;
    svg.text("h", [16.0, 27.0], Anchor::Start, title);
    svg.text(
        "m",
        [16.0, 47.0],
        Anchor::Start,
        &crate::place::fitted(second, TEXT_PX, width),
    );
}

/// Bold text is wider.
const BOLD_RATIO: f64 = 1.1;

/// Width of bold label text.
pub fn bold_width_px(text: &str) -> f64 {
    BOLD_RATIO * label_width_px(text)
}

/// Width of label text.
pub fn label_width_px(text: &str) -> f64 {
    text_width_px(text, TEXT_PX)
}
