//! Points of a filmed flight, the path fitted to them, and how far they lie off it.

use arcwright_model::project::UnitSystem;

use super::{WIDTH_PX, counted};
use crate::axis::{Axis, Strip};
use crate::geometry::{Fit, Rect, span};
use crate::marks::{heading, point};
use crate::svg::{Anchor, Svg};
use crate::units::Units;

/// What the picture shows.
#[derive(Clone, Debug, PartialEq)]
pub struct FilmChart {
    /// Units shown.
    pub units: UnitSystem,
    /// Points used, along and up.
    pub points_m: Vec<[f64; 2]>,
    /// Points left out.
    pub left_out_m: Vec<[f64; 2]>,
    /// The path fitted.
    pub path_m: Vec<[f64; 2]>,
    /// Time and distance of each point off the path, along and up.
    pub residuals: Vec<[f64; 3]>,
    /// Speed at the first point and half its interval.
    pub speed_mps: [f64; 2],
    /// Direction there and half its interval.
    pub angle_rad: [f64; 2],
    /// Root mean square distance from the path.
    pub rms_m: f64,
}

const LEFT_PX: f64 = 72.0;
const PLOT_PX: f64 = WIDTH_PX - LEFT_PX - 16.0;
const TITLE: &str = "A filmed flight";

/// Draws the picture.
pub fn draw(input: &FilmChart) -> String {
    let units = Units::of(input.units);
    let mut svg = Svg::new("film", WIDTH_PX, 560.0);
    heading(&mut svg, TITLE, &second_line(input, &units));
    let all = || input.points_m.iter().chain(&input.path_m);
    let x = span(all().map(|p| p[0])).unwrap_or((0.0, 1.0));
    let z = span(all().map(|p| p[1])).unwrap_or((0.0, 1.0));
    let room = Rect {
        x_px: LEFT_PX,
        y_px: 70.0,
        width_px: PLOT_PX,
        height_px: 300.0,
    };
    // One scale both ways: the axes cover what the room shows.
    let fit = Fit::new(x, z, room.grown(-8.0));
    let width_m = room.width_px / fit.px_per_m;
    let height_m = room.height_px / fit.px_per_m;
    let middle = [0.5 * (x.0 + x.1), 0.5 * (z.0 + z.1)];
    let around = |c: f64, w: f64| (c - 0.5 * w, c + 0.5 * w);
    let view = Strip {
        rect: room,
        x: Axis::new(around(middle[0], width_m), (false, false), 6, &units.distance),
        y: Axis::new(around(middle[1], height_m), (false, false), 5, &units.distance),
    };
    view.frame(
        &mut svg,
        &format!("height ({})", units.distance.symbol),
        Some(&format!("along the flight ({})", units.distance.symbol)),
    );
    svg.open_clipped(view.rect.grown(4.0));
    for p in &input.points_m {
        point(&mut svg, 0, "c1", view.px(*p), 3.0);
    }
    for p in &input.left_out_m {
        point(&mut svg, 2, "c3", view.px(*p), 4.5);
    }
    svg.close();
    // Over the points: a dense film would hide it.
    let lines = view.lines(input.path_m.iter().copied());
    view.curve(&mut svg, "s c0", "f0", &lines);
    let off = span(input.residuals.iter().flat_map(|r| [r[1], r[2]])).unwrap_or((-0.001, 0.001));
    let most = off.0.abs().max(off.1.abs()).max(1e-6);
    let times = span(input.residuals.iter().map(|r| r[0])).unwrap_or((0.0, 1.0));
    let below = Strip {
        rect: Rect {
            x_px: LEFT_PX,
            y_px: 430.0,
            width_px: PLOT_PX,
            height_px: 84.0,
        },
        x: Axis::new(times, (false, false), 6, &units.time),
        y: Axis::new((-1.1 * most, 1.1 * most), (false, false), 5, &units.length),
    };
    below.frame(
        &mut svg,
        &format!("off path ({})", units.length.symbol),
        Some("time (s)"),
    );
    let zero = below.y_px(0.0);
    svg.line("q qd", [below.rect.x_px, zero], [below.rect.right_px(), zero]);
    svg.open_clipped(below.rect.grown(4.0));
    for r in &input.residuals {
        point(&mut svg, 0, "c1", below.px([r[0], r[1]]), 2.6);
        point(&mut svg, 3, "c2", below.px([r[0], r[2]]), 2.6);
    }
    svg.close();
    svg.text(
        "m sm",
        [below.rect.x_px, below.rect.y_px - 6.0],
        Anchor::Start,
        "circles: along, diamonds: up",
    );
    svg.finish(TITLE, &words(input))
}

/// The picture in words.
pub fn words(input: &FilmChart) -> String {
    let units = Units::of(input.units);
    format!(
        "{} of a flight and the path fitted to them: {}. They lie {} from it (root mean square).",
        counted(input.points_m.len(), "point", "points"),
        exit(input, &units),
        units.length.show(input.rms_m)
    )
}

fn exit(input: &FilmChart, units: &Units) -> String {
    format!(
        "{} ± {} at {} ± {}",
        units.speed.show(input.speed_mps[0]),
        units.speed.show(input.speed_mps[1]),
        units.angle.show(input.angle_rad[0]),
        units.angle.show(input.angle_rad[1])
    )
}

fn second_line(input: &FilmChart, units: &Units) -> String {
    let out = match input.left_out_m.len() {
        0 => String::new(),
        n => format!("; triangles: {n} left out"),
    };
    format!("first point: {}{out}", exit(input, units))
}
