//! The launcher from the side, to scale, with the piece passing through.

mod handles;
mod knobs;
mod outlines;

use std::f64::consts::PI;

use arcwright_model::launcher::{PassageSample, Setting};
use arcwright_model::project::UnitSystem;

use knobs::{draw_head_tilt, draw_knobs};
use outlines::{Position, draw_outlines, positions};

pub use handles::{Handle, Hold, Moment, hold};

use super::WIDTH_PX;
use crate::geometry::{Fit, Point, Rect, direction, distance, moved, span, stretches, usable, usable_point};
use crate::marks::{Arc, TEXT_PX, arrow, dimension, heading, label_width_px, scale_bar};
use crate::place::{LINE_RATIO, fitted, spread};
use crate::svg::{Anchor, Svg};
use crate::units::Units;

/// What the picture shows. Side plane: x forward, z up, any common origin.
#[derive(Clone, Debug, PartialEq)]
pub struct SideView {
    /// Units shown.
    pub units: UnitSystem,
    /// Wheels; the first is the commanded one.
    pub wheels: Vec<Wheel>,
    /// Fixed parts that the piece meets.
    pub parts: Vec<Part>,
    /// Free diameter of the piece.
    pub piece_diameter_m: f64,
    /// The passage; outlines are drawn at even times from first contact to the end.
    pub trace: Vec<PassageSample>,
    /// The knobs.
    pub setting: Setting,
    /// The exit; `None` when the piece did not come through.
    pub exit: Option<Exit>,
}

/// A wheel seen from the side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wheel {
    /// Axle.
    pub centre_m: Point,
    /// Radius.
    pub radius_m: f64,
    /// Speed, clockwise positive with forward to the right.
    pub turning_radps: f64,
}

/// A fixed part.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// What it is.
    pub role: Role,
    /// The surface that meets the piece, in the order in which the piece meets it.
    pub line_m: Vec<Point>,
}

/// What a fixed part is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// Where the piece comes in.
    Ramp,
    /// The arc that presses the piece on the wheel.
    Guide,
    /// The adjustable plate at the guide's end.
    Hood,
}

/// Numbers of the exit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Exit {
    /// Speed.
    pub speed_mps: f64,
    /// Elevation of the direction.
    pub angle_rad: f64,
    /// Spin, backspin positive.
    pub spin_radps: f64,
}

const HEIGHT_PX: f64 = 560.0;
/// Between the label columns, below the heading, above the scale bar.
const ROOM: Rect = Rect {
    x_px: 172.0,
    y_px: 64.0,
    width_px: 316.0,
    height_px: 430.0,
};
/// A label in a column beside the picture, tied to a point in it.
struct Callout {
    anchor: Point,
    lines: Vec<String>,
}

/// Draws the picture.
pub fn draw(input: &SideView) -> String {
    let units = Units::of(input.units);
    let mut svg = Svg::new("side", WIDTH_PX, HEIGHT_PX);
    let positions = positions(input);
    let fit = fit(input, &positions);
    let (mut left, mut right) = (Vec::new(), Vec::new());

    for wheel in input.wheels.iter().filter(|w| drawable(w)) {
        draw_wheel(&mut svg, &fit, wheel);
    }
    draw_outlines(&mut svg, &fit, input, &positions);
    for line in stretches(input.trace.iter().map(|s| s.centre_m)) {
        svg.polyline("s1 c0 d2", &fit.line(&line));
    }
    for part in &input.parts {
        draw_part(&mut svg, &fit, part, input, &units, &mut left);
    }
    draw_head_tilt(&mut svg, &fit, input, &units, &mut left);
    draw_gap(&mut svg, &fit, input, &units, &mut left);
    draw_exit(&mut svg, &fit, input, positions.last(), &units, &mut right);
    for (i, wheel) in input.wheels.iter().enumerate().filter(|(_, w)| drawable(w)) {
        let centre = fit.px(wheel.centre_m);
        let name = match (input.wheels.len(), i) {
            (1, _) => "wheel",
            (_, 0) => "lower wheel",
            _ => "upper wheel",
        };
        // On the side where the line to the label is shorter.
        let leftward = centre[0] < ROOM.x_px + 0.4 * ROOM.width_px;
        let edge = 0.93 * wheel.radius_m * fit.px_per_m;
        let labels = if leftward { &mut left } else { &mut right };
        labels.push(Callout {
            anchor: [centre[0] + if leftward { -edge } else { edge }, centre[1]],
            lines: vec![
                name.to_string(),
                format!("Ø {}", units.length.show(2.0 * wheel.radius_m)),
                units.turning.show(wheel.turning_radps.abs()),
            ],
        });
    }
    column(&mut svg, left, true);
    column(&mut svg, right, false);

    heading(&mut svg, TITLE, &second_line(input, &positions, &units));
    let (bar_m, bar_text) = bar(&fit, input.units);
    scale_bar(
        &mut svg,
        [16.0, HEIGHT_PX - 24.0],
        bar_m * fit.px_per_m,
        &bar_text,
    );
    svg.finish(TITLE, &words(input))
}

/// The picture in words.
pub fn words(input: &SideView) -> String {
    let units = Units::of(input.units);
    let machine = match input.wheels.as_slice() {
        [] => "A launcher without a wheel".to_string(),
        [one] => format!(
            "A wheel of {} diameter with its guide",
            units.length.show(2.0 * one.radius_m)
        ),
        [one, ..] => format!(
            "Opposed wheels of {} diameter",
            units.length.show(2.0 * one.radius_m)
        ),
    };
    let gap = match gap(input) {
        Some((_, _, gap_m)) => format!(
            " and a gap of {} for a piece of {}",
            units.length.show(gap_m),
            units.length.show(input.piece_diameter_m)
        ),
        None => format!(" and a piece of {}", units.length.show(input.piece_diameter_m)),
    };
    let end = match &input.exit {
        Some(exit) => format!(
            "The piece leaves at {}.",
            exit_lines(exit, &units).join(", ").replace("spin, ", "spin ")
        ),
        None => "The piece does not come through.".to_string(),
    };
    format!("{machine}{gap}, from the side and to scale. {end}")
}

const TITLE: &str = "Launcher from the side";

fn drawable(wheel: &Wheel) -> bool {
    usable_point(&wheel.centre_m) && usable(wheel.radius_m) && wheel.radius_m > 0.0
}

fn piece_radius_m(input: &SideView) -> f64 {
    if usable(input.piece_diameter_m) {
        0.5 * input.piece_diameter_m.max(0.0)
    } else {
        0.0
    }
}

fn fit(input: &SideView, positions: &[Position]) -> Fit {
    let radius = piece_radius_m(input);
    let mut points: Vec<Point> = input
        .parts
        .iter()
        .flat_map(|p| p.line_m.iter().copied())
        .collect();
    let discs = positions.iter().map(|p| (p.centre_m, radius)).chain(
        input
            .wheels
            .iter()
            .filter(|w| drawable(w))
            .map(|w| (w.centre_m, w.radius_m)),
    );
    for (c, r) in discs {
        points.extend([[c[0] - r, c[1] - r], [c[0] + r, c[1] + r]]);
    }
    if let (Some(exit), Some(last)) = (&input.exit, positions.last()) {
        points.push(arrow_tip_m(exit, last, radius));
    }
    let points: Vec<Point> = points.into_iter().filter(usable_point).collect();
    let x = span(points.iter().map(|p| p[0])).unwrap_or((0.0, 0.1));
    let z = span(points.iter().map(|p| p[1])).unwrap_or((0.0, 0.1));
    let fit = Fit::new(x, z, ROOM);
    // The marks of the knobs stand out above the hood's tip.
    let knobs_px = 36.0;
    let hood = input
        .parts
        .iter()
        .filter(|p| p.role == Role::Hood)
        .flat_map(|p| p.line_m.iter());
    let top_px = hood
        .filter(|p| usable_point(p))
        .map(|p| fit.px(*p)[1])
        .fold(f64::INFINITY, f64::min);
    if top_px >= ROOM.y_px + knobs_px {
        return fit;
    }
    Fit::new(
        x,
        z,
        Rect {
            y_px: ROOM.y_px + knobs_px,
            height_px: ROOM.height_px - knobs_px,
            ..ROOM
        },
    )
}

fn arrow_tip_m(exit: &Exit, last: &Position, radius_m: f64) -> Point {
    let angle = if usable(exit.angle_rad) {
        exit.angle_rad
    } else {
        0.0
    };
    moved(last.centre_m, [angle.cos(), angle.sin()], 1.9 * radius_m)
}

fn draw_wheel(svg: &mut Svg, fit: &Fit, wheel: &Wheel) {
    let c = fit.px(wheel.centre_m);
    let r = wheel.radius_m * fit.px_per_m;
    svg.open("wheel");
    svg.circle("bf k", c, r);
    svg.circle("q", c, 0.87 * r);
    svg.circle("pf q", c, 0.16 * r);
    for d in [[1.0, 0.0], [0.0, 1.0]] {
        svg.line("q", moved(c, d, -0.24 * r), moved(c, d, 0.24 * r));
    }
    if wheel.turning_radps != 0.0 && wheel.turning_radps.is_finite() {
        let (from, to) = (205f64.to_radians(), 65f64.to_radians());
        let (from_rad, to_rad) = if wheel.turning_radps > 0.0 {
            (from, to)
        } else {
            (PI - from, PI - to)
        };
        Arc {
            centre: c,
            radius_px: 0.58 * r,
            from_rad,
            to_rad,
        }
        .arrow(svg, "k", "kf", 11.0, false);
    }
    svg.close();
}

fn draw_part(
    svg: &mut Svg,
    fit: &Fit,
    part: &Part,
    input: &SideView,
    units: &Units,
    labels: &mut Vec<Callout>,
) {
    let class = match part.role {
        Role::Ramp => "s2 k",
        Role::Guide => "kb",
        Role::Hood => "sb c1",
    };
    let lines: Vec<Vec<Point>> = stretches(part.line_m.iter().copied())
        .iter()
        .map(|l| fit.line(l))
        .collect();
    for line in &lines {
        svg.polyline(class, line);
    }
    let Some(line) = lines.iter().max_by_key(|l| l.len()) else {
        return;
    };
    let at = |share| crate::geometry::along(line, share);
    match part.role {
        Role::Ramp => labels.extend(at(0.3).map(|anchor| Callout {
            anchor,
            lines: vec!["feed ramp".into()],
        })),
        Role::Guide => labels.extend(at(0.2).map(|anchor| Callout {
            anchor,
            lines: vec!["guide".into()],
        })),
        Role::Hood => {
            if let (Some(root), Some(tip)) = (line.first(), line.last()) {
                draw_knobs(svg, fit, *root, *tip, input, units, labels);
            }
        }
    }
}

/// Where the gap is measured: a point on the fixed side, one on the wheel, and the gap.
fn gap(input: &SideView) -> Option<(Point, Point, f64)> {
    let wheel = input.wheels.iter().find(|w| drawable(w))?;
    let outer = match input.wheels.get(1).filter(|w| drawable(w)) {
        Some(upper) => moved(
            upper.centre_m,
            direction(upper.centre_m, wheel.centre_m),
            upper.radius_m,
        ),
        None => {
            let guide = input.parts.iter().find(|p| p.role == Role::Guide)?;
            // A corner of the line, not a point between two: only corners lie on the arc.
            *guide.line_m.get(guide.line_m.len() / 2)?
        }
    };
    let inner = moved(wheel.centre_m, direction(wheel.centre_m, outer), wheel.radius_m);
    let gap_m = distance(outer, wheel.centre_m) - wheel.radius_m;
    (usable(gap_m) && gap_m > 0.0).then_some((outer, inner, gap_m))
}

fn draw_gap(svg: &mut Svg, fit: &Fit, input: &SideView, units: &Units, labels: &mut Vec<Callout>) {
    let Some((outer, inner, gap_m)) = gap(input) else {
        return;
    };
    let (a, b) = (fit.px(outer), fit.px(inner));
    svg.open("gap");
    dimension(svg, "k", "kf", a, b, 10.0);
    svg.close();
    let squeeze_m = input.piece_diameter_m - gap_m;
    labels.push(Callout {
        anchor: moved(a, direction(a, b), 0.2 * distance(a, b)),
        lines: vec![
            format!("gap {}", units.length.show(gap_m)),
            format!("squeeze {}", units.length.show(squeeze_m)),
        ],
    });
}

fn draw_exit(
    svg: &mut Svg,
    fit: &Fit,
    input: &SideView,
    last: Option<&Position>,
    units: &Units,
    labels: &mut Vec<Callout>,
) {
    let (Some(exit), Some(last)) = (&input.exit, last) else {
        return;
    };
    let radius_m = piece_radius_m(input);
    let from = fit.px(last.centre_m);
    let tip = fit.px(arrow_tip_m(exit, last, radius_m));
    let radius_px = radius_m * fit.px_per_m;
    svg.open("exit");
    svg.line("q qd", from, [from[0] + 0.8 * radius_px, from[1]]);
    arrow(svg, "s c0", "f0", from, tip, 14.0);
    if usable(exit.angle_rad) && exit.angle_rad.abs() > 0.05 {
        Arc {
            centre: from,
            radius_px: 0.66 * radius_px,
            from_rad: 0.0,
            to_rad: exit.angle_rad.clamp(-PI, PI),
        }
        .arrow(svg, "k", "kf", 8.0, false);
    }
    if exit.spin_radps.is_finite() && exit.spin_radps != 0.0 {
        let (from_rad, to_rad) = if exit.spin_radps > 0.0 {
            (1.65 * PI, 2.15 * PI)
        } else {
            (2.15 * PI, 1.65 * PI)
        };
        Arc {
            centre: from,
            radius_px: radius_px + 7.0,
            from_rad,
            to_rad,
        }
        .arrow(svg, "k", "kf", 9.0, false);
    }
    svg.close();
    labels.push(Callout {
        anchor: tip,
        lines: exit_lines(exit, units),
    });
}

fn exit_lines(exit: &Exit, units: &Units) -> Vec<String> {
    let way = if exit.angle_rad < 0.0 { "down" } else { "up" };
    let spin = if exit.spin_radps < 0.0 {
        "topspin"
    } else {
        "backspin"
    };
    vec![
        units.speed.show(exit.speed_mps),
        format!("{} {way}", units.angle.show(exit.angle_rad.abs())),
        spin.to_string(),
        units.turning.show(exit.spin_radps.abs()),
    ]
}

fn second_line(input: &SideView, positions: &[Position], units: &Units) -> String {
    let piece = format!("to scale · piece Ø {}", units.length.show(input.piece_diameter_m));
    match positions {
        [a, b, ..] => {
            let step = units.moment.show(b.time_s - a.time_s);
            format!("{piece} · drawn every {step}, the spoke shows its turn")
        }
        _ => format!("{piece} · no passage to show"),
    }
}

/// The labels of one side, one under the other, each tied to its point by a thin line.
fn column(svg: &mut Svg, mut labels: Vec<Callout>, left: bool) {
    labels.retain(|l| usable_point(&l.anchor));
    labels.sort_by(|a, b| a.anchor[1].total_cmp(&b.anchor[1]));
    let line_px = LINE_RATIO * TEXT_PX;
    let heights: Vec<f64> = labels
        .iter()
        .map(|l| line_px * l.lines.len() as f64 + 10.0)
        .collect();
    let wanted: Vec<f64> = labels.iter().map(|l| l.anchor[1]).collect();
    let centres = spread(&wanted, &heights, ROOM.y_px - 4.0, ROOM.bottom_px() + 16.0);
    let room = if left {
        ROOM.x_px - 34.0
    } else {
        WIDTH_PX - ROOM.right_px() - 26.0
    };
    for (label, centre) in labels.iter().zip(centres) {
        let lines: Vec<String> = label.lines.iter().map(|l| fitted(l, TEXT_PX, room)).collect();
        let widest = lines.iter().map(|l| label_width_px(l)).fold(0.0, f64::max);
        let (x, knee) = if left {
            (16.0, 16.0 + widest + 8.0)
        } else {
            (ROOM.right_px() + 16.0, ROOM.right_px() + 12.0)
        };
        svg.line("q", [knee, centre], label.anchor);
        svg.circle("qf", label.anchor, 2.2);
        let top = centre - 0.5 * line_px * lines.len() as f64;
        for (i, line) in lines.iter().enumerate() {
            svg.text("", [x, top + line_px * (i as f64 + 0.78)], Anchor::Start, line);
        }
    }
}

/// Length and label of the scale bar: 100 mm or 4 in, times a power of ten if the picture asks.
fn bar(fit: &Fit, system: UnitSystem) -> (f64, String) {
    let units = Units::of(system);
    let base_m = match system {
        UnitSystem::Metric => 0.1,
        UnitSystem::Us => 4.0 * 0.0254,
    };
    let longest_m = 260.0 / fit.px_per_m;
    let mut length_m = base_m;
    while length_m > longest_m && length_m > 1e-6 * base_m {
        length_m *= 0.1;
    }
    while length_m * 10.0 <= longest_m {
        length_m *= 10.0;
    }
    (length_m, units.length.show(length_m))
}
