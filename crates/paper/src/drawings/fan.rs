//! The flights over the target from every spot, to scale, with the rim enlarged and a table.

mod rim;

use arcwright_model::project::UnitSystem;
use arcwright_model::target::{Outline, Target};

use rim::{draw_detail, draw_table};

use super::{WIDTH_PX, counted};
use crate::axis::Axis;
use crate::geometry::{Fit, Point, Rect, along, moved, span, stretches, usable, usable_point};
use crate::marks::{TEXT_PX, arrow_head, badge, bold_width_px, dimension, heading, label_width_px};
use crate::place::{Placer, fitted, spread};
use crate::style::{LIGHT, line_class};
use crate::svg::{Anchor, Hatch, Svg};
use crate::units::Units;

/// What the picture shows. x along the floor from the near rim (the thrower is at negative x),
/// z up from the floor.
#[derive(Clone, Debug, PartialEq)]
pub struct Fan {
    /// Units shown.
    pub units: UnitSystem,
    /// The target.
    pub target: Target,
    /// Diameter of the piece.
    pub piece_diameter_m: f64,
    /// Radius of the launcher's wheel.
    pub wheel_radius_m: f64,
    /// Height of the wheel's axle above the floor.
    pub axle_height_m: f64,
    /// One flight per spot, in the order of the table.
    pub flights: Vec<Flight>,
    /// Test shots have spoken: the bands are what they left open.
    pub after_shots: bool,
}

/// A flight from one spot.
#[derive(Clone, Debug, PartialEq)]
pub struct Flight {
    /// Name of the spot.
    pub spot: String,
    /// From the wheel axle to the near rim.
    pub distance_m: f64,
    /// Wheel speed; `None` when no speed reaches the target from here.
    pub setpoint_radps: Option<f64>,
    /// Path of the centre of the piece.
    pub line_m: Vec<Point>,
    /// Where the path may be instead.
    pub band: Option<Band>,
    /// How the piece crosses the plane of the opening.
    pub crossing: Option<Crossing>,
    /// What becomes of it, one word.
    pub outcome: String,
}

/// The region between two lines.
#[derive(Clone, Debug, PartialEq)]
pub struct Band {
    /// Lower edge.
    pub low_m: Vec<Point>,
    /// Upper edge.
    pub high_m: Vec<Point>,
}

/// Crossing of the plane of the opening.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Crossing {
    /// Centre of the piece.
    pub point_m: Point,
    /// Direction of the path there, below the level.
    pub below_level_rad: f64,
    /// Angle between path and opening, 90° straight in: what is written.
    pub entry_rad: f64,
    /// Least distance between the piece and the rim; negative when it touches.
    pub clearance_m: f64,
}

const LEFT_PX: f64 = 52.0;
const RIGHT_PX: f64 = WIDTH_PX - 16.0;
/// Room right of the target for the height of its rim.
const BESIDE_PX: f64 = 104.0;
const TOP_PX: f64 = 64.0;
const TALLEST_PX: f64 = 330.0;
const FLATTEST_PX: f64 = 80.0;
const DETAIL_WIDTH_PX: f64 = 208.0;
const ROW_PX: f64 = 22.0;
/// A long table does not stretch the enlarged rim beyond this.
const TALLEST_DETAIL_PX: f64 = 260.0;
const TITLE: &str = "Flights over the target";

/// Corners of the target in the side plane.
struct Corners {
    near: Point,
    far: Point,
    wall_top: Point,
    side_m: f64,
}

/// Draws the picture.
pub fn draw(input: &Fan) -> String {
    let units = Units::of(input.units);
    let target = corners(&input.target);
    let (fit, main) = main_fit(input, &target);
    let detail_top = main.bottom_px() + 82.0;
    let block_px = (58.0 + ROW_PX * input.flights.len() as f64).max(190.0);
    let mut svg = Svg::new("fan", WIDTH_PX, detail_top + block_px + 16.0);

    heading(&mut svg, TITLE, &second_line(input, &units));
    draw_grid(&mut svg, &fit, main, &units);
    svg.open_clipped(Rect {
        x_px: 0.0,
        width_px: WIDTH_PX,
        ..main.grown(3.0)
    });
    draw_target(&mut svg, &fit, &target, 3.0, true);
    draw_ceiling(&mut svg, &fit, main, &input.target, &units);
    draw_bands(&mut svg, &fit, input);
    draw_flights(&mut svg, &fit, input);
    svg.close();
    draw_spots(&mut svg, &fit, main, input);
    label_flights(&mut svg, &fit, main, input, &target, &units);

    let detail = Rect {
        x_px: 16.0,
        y_px: detail_top,
        width_px: DETAIL_WIDTH_PX,
        height_px: block_px.min(TALLEST_DETAIL_PX),
    };
    draw_detail(&mut svg, detail, input, &target, &units);
    draw_table(&mut svg, detail_top, input, &units);
    svg.finish(TITLE, &words(input))
}

/// The picture in words.
pub fn words(input: &Fan) -> String {
    let units = Units::of(input.units);
    let mut text = format!(
        "{} toward an opening with its rim {} above the floor, from the side and to scale.",
        counted(input.flights.len(), "flight", "flights"),
        units.distance.show(input.target.rim_height_m)
    );
    if input.flights.is_empty() {
        return text;
    }
    let each: Vec<String> = input
        .flights
        .iter()
        .map(|f| {
            let speed = match f.setpoint_radps {
                Some(w) => format!(" at {}", units.turning.show(w)),
                None => String::new(),
            };
            format!(
                "{} ({}){speed}: {}",
                f.spot,
                units.distance.show(f.distance_m),
                f.outcome
            )
        })
        .collect();
    text.push_str(&format!(" {}.", each.join("; ")));
    text
}

fn good(v: f64, otherwise: f64) -> f64 {
    if usable(v) { v } else { otherwise }
}

fn corners(target: &Target) -> Corners {
    let (s, c) = good(target.tilt_rad, 0.0).sin_cos();
    let depth = good(target.depth_m, 0.0).max(0.0);
    let near = [0.0, good(target.rim_height_m, 0.0)];
    let far = [depth * c, near[1] + depth * s];
    let wall = good(target.back_wall_m, 0.0).max(0.0);
    Corners {
        near,
        far,
        wall_top: [far[0], far[1] + wall],
        side_m: good(target.side_wall_m, 0.0).max(0.0),
    }
}

fn radius_m(v: f64) -> f64 {
    good(v, 0.0).max(0.0)
}

fn axle(input: &Fan, flight: &Flight) -> Option<Point> {
    let at = [-flight.distance_m, good(input.axle_height_m, 0.0)];
    usable_point(&at).then_some(at)
}

/// Everything from the farthest spot to just behind the target, floor at the foot.
fn main_fit(input: &Fan, target: &Corners) -> (Fit, Rect) {
    let wheel = radius_m(input.wheel_radius_m);
    let spots: Vec<Point> = input.flights.iter().filter_map(|f| axle(input, f)).collect();
    let band = |f: &Flight| {
        f.band
            .clone()
            .map_or(Vec::new(), |b| [b.low_m, b.high_m].concat())
    };
    let paths: Vec<Point> = input
        .flights
        .iter()
        .flat_map(|f| [f.line_m.clone(), band(f)].concat())
        .filter(usable_point)
        .collect();
    let far_x = target.near[0].max(target.far[0]);
    let left = span(
        spots
            .iter()
            .map(|p| p[0] - 1.5 * wheel)
            .chain(paths.iter().map(|p| p[0])),
    );
    let left = left.map_or(-1.0, |l| l.0).min(target.far[0]).min(-0.1);
    let tops = [
        target.near[1],
        target.far[1],
        target.wall_top[1],
        target.near[1] + target.side_m,
    ];
    let top = span(
        paths
            .iter()
            .map(|p| p[1])
            .chain(spots.iter().map(|p| p[1] + wheel))
            .chain(tops),
    )
    .map_or(1.0, |r| r.1)
    .max(0.1);
    let ceiling = input.target.ceiling_m;
    let top = if usable(ceiling) && ceiling > 0.0 && ceiling < 1.35 * top {
        top.max(ceiling)
    } else {
        top
    };

    let high_m = 1.05 * top;
    let width_px = RIGHT_PX - LEFT_PX;
    let px_per_m = ((width_px - BESIDE_PX - 12.0) / (far_x - left)).min(TALLEST_PX / high_m);
    let height_px = (high_m * px_per_m).max(FLATTEST_PX);
    let rect = Rect {
        x_px: LEFT_PX,
        y_px: TOP_PX,
        width_px,
        height_px,
    };
    // What width is left over goes half to each side.
    let spare_px = width_px - BESIDE_PX - 12.0 - (far_x - left) * px_per_m;
    let fit = Fit {
        px_per_m,
        corner_m: [left, 0.0],
        origin_px: [LEFT_PX + 12.0 + 0.5 * spare_px, rect.bottom_px()],
    };
    (fit, rect)
}

fn draw_grid(svg: &mut Svg, fit: &Fit, main: Rect, units: &Units) {
    let x_m = |px: f64| fit.corner_m[0] + (px - fit.origin_px[0]) / fit.px_per_m;
    let along = Axis::new(
        (x_m(main.x_px), x_m(main.right_px())),
        (false, false),
        6,
        &units.distance,
    );
    let up = Axis::new(
        (0.0, main.height_px / fit.px_per_m),
        (false, false),
        5,
        &units.distance,
    );
    for (v, text) in &along.ticks {
        let p = fit.px([*v, 0.0]);
        svg.line("g", p, [p[0], main.y_px]);
        let text = units.distance.with_unit(text.trim_start_matches('−'));
        svg.text("m sm", [p[0], p[1] + 17.0], Anchor::Middle, &text);
    }
    for (v, text) in &up.ticks {
        let y = fit.px([0.0, *v])[1];
        svg.line("g", [main.x_px, y], [main.right_px(), y]);
        svg.text(
            "m sm",
            [main.x_px - 6.0, y + 4.5],
            Anchor::End,
            &units.distance.with_unit(text),
        );
    }
    svg.line(
        "k",
        [main.x_px, main.bottom_px()],
        [main.right_px(), main.bottom_px()],
    );
}

fn draw_target(svg: &mut Svg, fit: &Fit, target: &Corners, bead_px: f64, to_floor: bool) {
    let (near, far) = (fit.px(target.near), fit.px(target.far));
    svg.open("target");
    if to_floor {
        let floor = fit.px([0.0, 0.0])[1];
        svg.line("q qd", near, [near[0], floor]);
        if (far[0] - near[0]).abs() > 2.0 {
            svg.line("q qd", far, [far[0], floor]);
        }
    }
    if target.side_m > 0.0 {
        let up = |p: Point| fit.px([p[0], p[1] + target.side_m]);
        svg.hatched(Hatch::Down, &[near, far, up(target.far), up(target.near)]);
        svg.polyline("q", &[near, up(target.near), up(target.far)]);
    }
    svg.line("k", near, far);
    if target.wall_top != target.far {
        svg.line("kb", far, fit.px(target.wall_top));
    }
    for p in [near, far] {
        svg.circle("kf", p, bead_px);
    }
    svg.close();
}

fn draw_ceiling(svg: &mut Svg, fit: &Fit, main: Rect, target: &Target, units: &Units) {
    if !usable(target.ceiling_m) || target.ceiling_m <= 0.0 {
        return;
    }
    let y = fit.px([0.0, target.ceiling_m])[1];
    if y < main.y_px - 1.0 {
        return;
    }
    svg.line("kb", [main.x_px, y], [main.right_px(), y]);
    let label = format!("ceiling {}", units.distance.show(target.ceiling_m));
    svg.text("halo", [main.x_px + 8.0, y + 18.0], Anchor::Start, &label);
}

fn series(index: usize) -> usize {
    index % LIGHT.series.len()
}

fn flight_lines(fit: &Fit, flight: &Flight) -> Vec<Vec<Point>> {
    stretches(flight.line_m.iter().copied())
        .iter()
        .map(|l| fit.line(l))
        .collect()
}

fn draw_bands(svg: &mut Svg, fit: &Fit, input: &Fan) {
    for (i, flight) in input.flights.iter().enumerate() {
        if let Some(band) = &flight.band {
            let edge = |line: &[Point]| -> Vec<Point> {
                let kept: Vec<Point> = line.iter().copied().filter(usable_point).collect();
                fit.line(&kept)
            };
            let (low, high) = (edge(&band.low_m), edge(&band.high_m));
            let ring: Vec<Point> = low.iter().copied().chain(high.iter().rev().copied()).collect();
            svg.polygon(&format!("w{}", series(i)), &ring);
        }
    }
}

fn draw_flights(svg: &mut Svg, fit: &Fit, input: &Fan) {
    for (i, flight) in input.flights.iter().enumerate() {
        for line in flight_lines(fit, flight) {
            svg.polyline(&line_class(i), &line);
        }
        if let Some(c) = flight
            .crossing
            .filter(|c| usable_point(&c.point_m) && usable(c.below_level_rad))
        {
            let dir = [c.below_level_rad.cos(), c.below_level_rad.sin()];
            arrow_head(
                svg,
                &format!("f{}", series(i)),
                moved(fit.px(c.point_m), dir, 5.0),
                dir,
                11.0,
            );
        }
    }
}

/// The wheel at each spot and the spot's number and name under the floor.
fn draw_spots(svg: &mut Svg, fit: &Fit, main: Rect, input: &Fan) {
    let mut spots: Vec<(usize, Point, String)> = Vec::new();
    for (i, flight) in input.flights.iter().enumerate() {
        if let Some(at) = axle(input, flight) {
            spots.push((i, fit.px(at), fitted(&flight.spot, TEXT_PX, 110.0)));
        }
    }
    spots.sort_by(|a, b| a.1[0].total_cmp(&b.1[0]));
    let named: Vec<f64> = spots.iter().map(|s| 40.0 + label_width_px(&s.2)).collect();
    let names = named.iter().sum::<f64>() <= main.right_px() - 16.0;
    let sizes = if names { named } else { vec![22.0; spots.len()] };
    // The number stands under its spot, the name to its right.
    let shift = |size: &f64| if names { 0.5 * size - 18.0 } else { 0.0 };
    let wanted: Vec<f64> = spots
        .iter()
        .zip(&sizes)
        .map(|(s, size)| s.1[0] + shift(size))
        .collect();
    // Numbers that find no room side by side are left to the table.
    let stride = (sizes.iter().sum::<f64>() / (main.right_px() - 12.0))
        .ceil()
        .max(1.0) as usize;
    let shown = |v: &[f64]| v.iter().copied().step_by(stride).collect::<Vec<_>>();
    let centres = spread(&shown(&wanted), &shown(&sizes), 12.0, main.right_px());
    let wheel_px = (radius_m(input.wheel_radius_m) * fit.px_per_m).clamp(4.0, 200.0);
    let floor = main.bottom_px();
    for (_, at, _) in &spots {
        svg.line("q", [at[0], at[1] + wheel_px], [at[0], floor]);
        svg.circle("bf k", *at, wheel_px);
        svg.circle("kf", *at, 1.5);
    }
    let numbered = spots.iter().zip(&sizes).step_by(stride);
    for (((i, at, name), size), centre) in numbered.zip(centres) {
        let x = centre - shift(size);
        svg.line("q", [at[0], floor + 21.0], [x, floor + 36.0]);
        svg.line("q", [at[0], floor], [at[0], floor + 4.0]);
        badge(
            svg,
            &format!("f{}", series(*i)),
            [x, floor + 45.0],
            &(i + 1).to_string(),
        );
        if names {
            svg.text("", [x + 14.0, floor + 50.0], Anchor::Start, name);
        }
    }
}

/// Setpoints along the flights and the height of the rim.
fn label_flights(svg: &mut Svg, fit: &Fit, main: Rect, input: &Fan, target: &Corners, units: &Units) {
    let mut placer = Placer::new(main.grown(2.0));
    let height = 1.2 * TEXT_PX;
    // The rim's height, right of the target.
    let near = fit.px(target.near);
    let edge = fit.px(target.far)[0].max(near[0]);
    let x = edge + 20.0;
    if near[1] < main.bottom_px() - 8.0 {
        svg.line("q", [edge + 6.0, near[1]], [x + 5.0, near[1]]);
        dimension(svg, "q", "qf", [x, near[1]], [x, main.bottom_px()], 8.0);
        let text = units.distance.show(input.target.rim_height_m);
        let middle = 0.5 * (near[1] + main.bottom_px());
        for (text, y) in [("rim height", middle - 2.0), (text.as_str(), middle + 15.0)] {
            svg.text("halo", [x + 7.0, y], Anchor::Start, text);
        }
    }
    for flight in &input.flights {
        for line in flight_lines(fit, flight) {
            placer.avoid(&line);
        }
        if let Some(at) = axle(input, flight) {
            let at = fit.px(at);
            let r = (radius_m(input.wheel_radius_m) * fit.px_per_m).clamp(4.0, 200.0);
            placer.take(Rect {
                x_px: at[0] - r,
                y_px: at[1] - r,
                width_px: 2.0 * r,
                height_px: 2.0 * r,
            });
        }
    }
    placer.avoid(&[near, fit.px(target.far), fit.px(target.wall_top)]);
    placer.take(Rect {
        x_px: edge - 12.0,
        y_px: main.y_px,
        width_px: 400.0,
        height_px: main.height_px,
    });
    for (i, flight) in input.flights.iter().enumerate() {
        let Some(line) = flight_lines(fit, flight).into_iter().max_by_key(|l| l.len()) else {
            continue;
        };
        let text = match flight.setpoint_radps {
            Some(w) => format!("{} · {}", i + 1, units.turning.show(w)),
            None => format!("{} · out of reach", i + 1),
        };
        let width = bold_width_px(&text);
        let mut candidates = Vec::new();
        for step in [10, 9, 11, 8, 12, 7, 13, 6, 14, 5, 15, 4, 16, 3, 2, 17] {
            let Some(p) = along(&line, f64::from(step) / 20.0) else {
                continue;
            };
            for (dx, dy) in [
                (-0.5, -1.35),
                (-1.05, -1.2),
                (0.05, -1.2),
                (-1.05, -0.5),
                (0.06, -0.5),
                (-0.5, 0.35),
                (-0.5, 0.9),
                (0.05, 0.2),
                (-1.05, 0.2),
            ] {
                candidates.push(Rect {
                    x_px: p[0] + dx * width,
                    y_px: p[1] + dy * height,
                    width_px: width,
                    height_px: height,
                });
            }
        }
        if let Some(place) = placer.place(candidates).filter(|p| p.free) {
            let at = [place.rect.x_px + 0.5 * width, place.rect.bottom_px() - 4.0];
            svg.text(&format!("halo b f{}", series(i)), at, Anchor::Middle, &text);
        }
    }
}

fn second_line(input: &Fan, units: &Units) -> String {
    let t = &input.target;
    let size = if t.outline == Outline::Round && t.width_m == t.depth_m {
        format!("opening Ø {}", units.length.show(t.width_m))
    } else {
        format!(
            "opening {} × {}",
            units.length.show(t.width_m),
            units.length.show(t.depth_m)
        )
    };
    let band = match (input.flights.iter().any(|f| f.band.is_some()), input.after_shots) {
        (false, _) => "",
        (true, false) => " · band: ± untested",
        (true, true) => " · band: ± after the shots",
    };
    format!(
        "{size} · piece Ø {} · from the near rim{band}",
        units.length.show(input.piece_diameter_m)
    )
}
