//! One throw on the move from above, to scale: where the robot goes, where the launcher faces, where
//! the piece flies.

use arcwright_model::project::UnitSystem;

use super::WIDTH_PX;
use crate::geometry::{Fit, Point, Rect, distance, moved, span, stretches, usable, usable_point};
use crate::marks::{Arc, arrow, arrow_head, heading, scale_bar};
use crate::svg::{Anchor, Svg};
use crate::units::Units;

/// What the picture shows. Origin on the floor below the wheel axle at the release; x along the
/// target's axis toward the target, y to the left.
#[derive(Clone, Debug, PartialEq)]
pub struct PlanView {
    /// Units shown.
    pub units: UnitSystem,
    /// Name of the spot.
    pub spot: String,
    /// Wheel speed.
    pub setpoint_radps: f64,
    /// Outline of the opening as seen from above.
    pub opening_m: Vec<Point>,
    /// Centre of the opening.
    pub centre_m: Point,
    /// Length and width of the robot.
    pub robot_m: [f64; 2],
    /// Turning centre of the robot.
    pub turning_centre_m: Point,
    /// Direction of the robot's forward axis, left positive.
    pub forward_rad: f64,
    /// Direction in which the launcher faces, left positive.
    pub heading_rad: f64,
    /// Angle from the line to the centre to the launcher, left positive.
    pub lead_rad: f64,
    /// Velocity of the robot.
    pub velocity_mps: Point,
    /// Turning of the robot, left positive.
    pub turn_radps: f64,
    /// Time from the release to the crossing.
    pub flight_s: f64,
    /// Path of the centre of the piece.
    pub path_m: Vec<Point>,
    /// Way of the robot from the command to the release; empty without a delay.
    pub command_m: Vec<Point>,
}

const SIDE_PX: f64 = 24.0;
const TOP_PX: f64 = 66.0;
const TALLEST_PX: f64 = 340.0;
const FLATTEST_PX: f64 = 130.0;
const ROW_PX: f64 = 22.0;
/// Angles below this read as straight.
const STRAIGHT_RAD: f64 = 0.05 * std::f64::consts::PI / 180.0;
const TITLE: &str = "A throw on the move, from above";

/// Draws the picture.
pub fn draw(input: &PlanView) -> String {
    let units = Units::of(input.units);
    let robot = robot(input);
    let end = travel(input);
    let all: Vec<Point> = robot
        .iter()
        .chain(&input.opening_m)
        .chain(&input.path_m)
        .chain(&input.command_m)
        .chain([&end, &input.centre_m, &[0.0, 0.0]])
        .copied()
        .chain([heading_tip(input)])
        .filter(usable_point)
        .collect();
    let x = span(all.iter().map(|p| p[0])).unwrap_or((0.0, 1.0));
    let y = span(all.iter().map(|p| p[1])).unwrap_or((0.0, 1.0));
    let width_px = WIDTH_PX - 2.0 * SIDE_PX;
    let high = (y.1 - y.0).max(1e-3);
    let height_px = (width_px * high / (x.1 - x.0).max(1e-3)).clamp(FLATTEST_PX, TALLEST_PX);
    let rect = Rect {
        x_px: SIDE_PX,
        y_px: TOP_PX,
        width_px,
        height_px,
    };
    let fit = Fit::new(x, y, rect);
    let rows = rows(input, &units);
    let legend_px = rect.bottom_px() + 54.0;
    let mut svg = Svg::new("plan", WIDTH_PX, legend_px + ROW_PX * rows.len() as f64 + 4.0);
    heading(&mut svg, TITLE, &second_line(input, &units));
    svg.open_clipped(Rect {
        x_px: 0.0,
        width_px: WIDTH_PX,
        ..rect.grown(14.0)
    });
    draw_scene(&mut svg, &fit, input, &robot, end);
    svg.close();
    let (bar_m, bar_text) = bar(&fit, input.units);
    scale_bar(
        &mut svg,
        [SIDE_PX, rect.bottom_px() + 28.0],
        bar_m * fit.px_per_m,
        &bar_text,
    );
    svg.open("legend");
    for (i, (mark, text)) in rows.iter().enumerate() {
        let y = legend_px + ROW_PX * i as f64;
        sample(&mut svg, *mark, [SIDE_PX, y]);
        let width = WIDTH_PX - SIDE_PX - 76.0;
        let text = crate::place::fitted(text, crate::marks::TEXT_PX, width);
        svg.text("", [SIDE_PX + 44.0, y + 5.0], Anchor::Start, &text);
    }
    svg.close();
    svg.finish(TITLE, &words(input))
}

/// The picture in words.
pub fn words(input: &PlanView) -> String {
    let units = Units::of(input.units);
    let lines: Vec<String> = rows(input, &units).into_iter().map(|(_, text)| text).collect();
    format!(
        "A throw on the move from {} at {}, from above and to scale: {}.",
        input.spot,
        units.turning.show(input.setpoint_radps),
        lines.join("; ")
    )
}

fn second_line(input: &PlanView, units: &Units) -> String {
    format!(
        "{} · {} · {} from the axle to the centre of the opening",
        input.spot,
        units.turning.show(input.setpoint_radps),
        units.distance.show(distance([0.0, 0.0], input.centre_m))
    )
}

/// End of the arrow along which the launcher faces: a good part of the way to the target.
fn heading_tip(input: &PlanView) -> Point {
    let reach = 0.62 * distance([0.0, 0.0], input.centre_m);
    [reach * input.heading_rad.cos(), reach * input.heading_rad.sin()]
}

/// Where the robot would be when the piece crosses, if it drove on evenly.
fn travel(input: &PlanView) -> Point {
    let t = input.flight_s;
    [input.velocity_mps[0] * t, input.velocity_mps[1] * t]
}

fn speed_mps(input: &PlanView) -> f64 {
    input.velocity_mps[0].hypot(input.velocity_mps[1])
}

/// What is drawn and explained, in the order of the legend.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Mark {
    Path,
    Sight,
    Heading,
    Travel,
    Turn,
    Command,
}

fn rows(input: &PlanView, units: &Units) -> Vec<(Mark, String)> {
    let side = |v: f64| if v > 0.0 { "left" } else { "right" };
    let lead = if input.lead_rad.abs() < STRAIGHT_RAD {
        "the launcher faces straight at the target".to_string()
    } else {
        format!(
            "the launcher faces {} to the {} of the target",
            units.angle.show(input.lead_rad.abs()),
            side(input.lead_rad)
        )
    };
    let mut rows = vec![
        (
            Mark::Path,
            format!("the piece crosses after {}", units.time.show(input.flight_s)),
        ),
        (Mark::Heading, lead),
        (
            Mark::Sight,
            "line from the axle to the centre of the opening".to_string(),
        ),
    ];
    if speed_mps(input) > 0.0 {
        rows.push((
            Mark::Travel,
            format!(
                "the robot drives {}: {} while the piece flies",
                units.speed.show(speed_mps(input)),
                units.distance.show(speed_mps(input) * input.flight_s)
            ),
        ));
    }
    if input.turn_radps != 0.0 {
        let per_s = units.angle.show(input.turn_radps.abs());
        rows.push((
            Mark::Turn,
            format!("it turns {per_s} each second to the {}", side(input.turn_radps)),
        ));
    }
    if let Some(way) = command_way_m(input) {
        rows.push((
            Mark::Command,
            format!("the command comes {} before the spot", units.distance.show(way)),
        ));
    }
    rows
}

fn command_way_m(input: &PlanView) -> Option<f64> {
    let way: f64 = input
        .command_m
        .windows(2)
        .map(|w| match w {
            [a, b] => distance(*a, *b),
            _ => 0.0,
        })
        .sum();
    (way > 0.0 && usable(way)).then_some(way)
}

/// Corners of the robot, its forward side first.
fn robot(input: &PlanView) -> Vec<Point> {
    let [length, width] = input.robot_m;
    let (s, c) = input.forward_rad.sin_cos();
    let (ahead, left) = ([c, s], [-s, c]);
    [(0.5, 0.5), (0.5, -0.5), (-0.5, -0.5), (-0.5, 0.5)]
        .into_iter()
        .map(|(a, b)| moved(moved(input.turning_centre_m, ahead, a * length), left, b * width))
        .collect()
}

fn draw_scene(svg: &mut Svg, fit: &Fit, input: &PlanView, robot: &[Point], end: Point) {
    let origin = fit.px([0.0, 0.0]);
    let fine = |points: &[Point]| points.iter().all(usable_point);
    svg.open("opening");
    if fine(&input.opening_m) {
        let ring: Vec<Point> = input.opening_m.iter().map(|p| fit.px(*p)).collect();
        svg.polygon("bf k", &ring);
    }
    svg.close();
    svg.open("robot");
    if fine(robot) {
        let ring: Vec<Point> = robot.iter().map(|p| fit.px(*p)).collect();
        svg.polygon("bf k", &ring);
        // The forward side is the thick one.
        if let [a, b, ..] = ring.as_slice() {
            svg.line("kb", *a, *b);
        }
    }
    svg.close();
    if usable_point(&input.centre_m) {
        let centre = fit.px(input.centre_m);
        svg.line("q qd", origin, centre);
        svg.circle("kf", centre, 2.5);
        if usable(input.heading_rad) && usable(input.lead_rad) {
            let tip = fit.px(heading_tip(input));
            arrow(svg, "s1 k", "kf", origin, tip, 11.0);
            if input.lead_rad.abs() > STRAIGHT_RAD {
                let arc = Arc {
                    centre: origin,
                    radius_px: 0.8 * distance(origin, tip),
                    from_rad: input.heading_rad - input.lead_rad,
                    to_rad: input.heading_rad,
                };
                svg.path("q", &arc.path());
            }
        }
    }
    if usable_point(&end) && speed_mps(input) > 0.0 {
        arrow(svg, "s c1", "f1", origin, fit.px(end), 12.0);
    }
    if usable(input.turn_radps) && input.turn_radps != 0.0 && usable(input.forward_rad) {
        let size = 0.5 * input.robot_m[0].hypot(input.robot_m[1]) * fit.px_per_m;
        let radius_px = if usable(size) {
            (0.7 * size).clamp(12.0, 90.0)
        } else {
            12.0
        };
        let turn = 0.9 * input.turn_radps.signum();
        let back = input.forward_rad + std::f64::consts::PI;
        let arc = Arc {
            centre: fit.px(input.turning_centre_m),
            radius_px,
            from_rad: back - turn,
            to_rad: back + turn,
        };
        if usable_point(&input.turning_centre_m) {
            arc.arrow(svg, "s c3", "f3", 10.0, false);
        }
    }
    if command_way_m(input).is_some() {
        for line in stretches(input.command_m.iter().copied()) {
            svg.polyline("s c1 d4", &fit.line(&line));
        }
        if let Some(first) = input.command_m.first().filter(|p| usable_point(p)) {
            svg.circle("pf s c1", fit.px(*first), 5.0);
        }
    }
    svg.open("path");
    for line in stretches(input.path_m.iter().copied()) {
        let drawn = fit.line(&line);
        svg.polyline("s c0", &drawn);
        if let [.., a, b] = drawn.as_slice() {
            arrow_head(svg, "f0", *b, crate::geometry::direction(*a, *b), 11.0);
        }
    }
    svg.close();
    svg.circle("kf", origin, 3.0);
}

/// The mark as it looks in the picture, small.
fn sample(svg: &mut Svg, mark: Mark, at: Point) {
    let end = [at[0] + 34.0, at[1]];
    match mark {
        Mark::Path => arrow(svg, "s c0", "f0", at, end, 10.0),
        Mark::Heading => arrow(svg, "s1 k", "kf", at, end, 10.0),
        Mark::Sight => svg.line("q qd", at, end),
        Mark::Travel => arrow(svg, "s c1", "f1", at, end, 10.0),
        Mark::Turn => arrow(svg, "s c3", "f3", at, end, 10.0),
        Mark::Command => {
            svg.line("s c1 d4", at, end);
            svg.circle("pf s c1", at, 5.0);
        }
    }
}

/// Length and label of the scale bar: a round length of a fifth to a half of the picture.
fn bar(fit: &Fit, system: UnitSystem) -> (f64, String) {
    let units = Units::of(system);
    let unit_m = units.distance.si_ratio;
    let most = 0.4 * (WIDTH_PX - 2.0 * SIDE_PX) / fit.px_per_m / unit_m;
    let power = 10f64.powf(most.max(1e-6).log10().floor());
    let step = [5.0, 2.0, 1.0]
        .into_iter()
        .find(|k| k * power <= most)
        .unwrap_or(1.0);
    let length = step * power * unit_m;
    (length, units.distance.show(length))
}
