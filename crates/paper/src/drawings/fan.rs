//! The flights over the target from every spot, to scale, with the rim enlarged and a table.

use arcwright_model::project::UnitSystem;
use arcwright_model::target::Target;

use super::{WIDTH_PX, counted};
use crate::axis::Axis;
use crate::geometry::{
    Fit, Point, Rect, along, direction, distance, moved, nearest_on_line, span, stretches, usable,
    usable_point,
};
use crate::marks::{TEXT_PX, arrow_head, badge, bold_width_px, dimension, heading, label_width_px};
use crate::place::{Placer, fitted, spread};
use crate::style::{LIGHT, line_class};
use crate::svg::{Anchor, Hatch, Svg};
use crate::units::{Scale, Units};

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
    /// Direction below the level.
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
const MOST_ENTRY_LABELS: usize = 4;
const ROW_PX: f64 = 22.0;
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
        height_px: block_px,
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
            .filter(|c| usable_point(&c.point_m) && usable(c.entry_rad))
        {
            let dir = [c.entry_rad.cos(), c.entry_rad.sin()];
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
    let centres = spread(&wanted, &sizes, 12.0, main.right_px());
    let wheel_px = (radius_m(input.wheel_radius_m) * fit.px_per_m).clamp(4.0, 200.0);
    let floor = main.bottom_px();
    for (((i, at, name), centre), size) in spots.iter().zip(centres).zip(&sizes) {
        svg.line("q", [at[0], at[1] + wheel_px], [at[0], floor]);
        svg.circle("bf k", *at, wheel_px);
        svg.circle("kf", *at, 1.5);
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

/// The opening enlarged, with the piece drawn to scale at every crossing.
fn draw_detail(svg: &mut Svg, rect: Rect, input: &Fan, target: &Corners, units: &Units) {
    let piece = 2.0 * radius_m(0.5 * input.piece_diameter_m);
    let reach = piece.max(0.2 * distance(target.near, target.far)).max(0.01);
    let x = (
        target.near[0].min(target.far[0]) - 1.1 * reach,
        target.near[0].max(target.far[0]) + 0.35 * reach,
    );
    let z = (
        target.near[1] - 1.05 * reach,
        target.far[1].max(target.near[1]) + 1.2 * reach,
    );
    svg.text("b", [rect.x_px, rect.y_px], Anchor::Start, "At the rim, enlarged");
    let rect = Rect {
        y_px: rect.y_px + 10.0,
        height_px: rect.height_px - 10.0,
        ..rect
    };
    let mut fit = Fit::new(x, z, rect);
    // Spare height goes above the opening, where the flights come from.
    fit.origin_px[1] = rect.bottom_px() - (fit.corner_m[1] - z.0) * fit.px_per_m;
    svg.open_clipped(rect);
    draw_target(svg, &fit, target, 4.0, false);
    draw_flights(svg, &fit, input);
    for (i, flight) in input.flights.iter().enumerate() {
        if let Some(c) = flight.crossing.filter(|c| usable_point(&c.point_m)) {
            svg.circle(
                &format!("s1 c{}", series(i)),
                fit.px(c.point_m),
                0.5 * piece * fit.px_per_m,
            );
        }
    }
    let mut placer = Placer::new(rect.grown(-3.0));
    draw_clearance(svg, &fit, input, target, units, &mut placer);
    svg.close();
    for flight in &input.flights {
        for line in flight_lines(&fit, flight) {
            placer.avoid(&line);
        }
    }
    placer.avoid(&[fit.px(target.near), fit.px(target.far), fit.px(target.wall_top)]);
    for c in input
        .flights
        .iter()
        .filter_map(|f| f.crossing)
        .filter(|c| usable_point(&c.point_m))
    {
        placer.avoid(&ring(fit.px(c.point_m), 0.5 * piece * fit.px_per_m));
    }
    // More would not find room; the table has them all.
    let labelled = if input.flights.len() > MOST_ENTRY_LABELS {
        &[]
    } else {
        input.flights.as_slice()
    };
    for (i, flight) in labelled.iter().enumerate() {
        let Some(c) = flight
            .crossing
            .filter(|c| usable_point(&c.point_m) && usable(c.entry_rad))
        else {
            continue;
        };
        let text = units.angle.show(whole_degrees(c.entry_rad));
        let (width, height) = (bold_width_px(&text), 1.1 * TEXT_PX);
        let at = fit.px(c.point_m);
        let back = [-c.entry_rad.cos(), -c.entry_rad.sin()];
        let candidates = (3..16).rev().flat_map(|step| {
            let p = moved(at, back, 12.0 * f64::from(step));
            [
                [-width - 5.0, -height],
                [5.0, -height],
                [-width - 5.0, 0.0],
                [5.0, 0.0],
            ]
            .map(|d| Rect {
                x_px: p[0] + d[0],
                y_px: p[1] + d[1],
                width_px: width,
                height_px: height,
            })
        });
        if let Some(place) = placer.place(candidates).filter(|p| p.free) {
            let at = [place.rect.x_px, place.rect.bottom_px() - 3.0];
            svg.text(&format!("halo b f{}", series(i)), at, Anchor::Start, &text);
        }
    }
    svg.rect("q", rect);
}

/// A circle as a line, for labels to keep off.
fn ring(centre: Point, radius_px: f64) -> Vec<Point> {
    let at = |i: u32| (f64::from(i) * std::f64::consts::PI / 8.0).sin_cos();
    (0..=16)
        .map(|i| moved(centre, [at(i).1, at(i).0], radius_px))
        .collect()
}

/// The least clearance: the piece where it passes the rim, and the distance between them.
fn draw_clearance(
    svg: &mut Svg,
    fit: &Fit,
    input: &Fan,
    target: &Corners,
    units: &Units,
    placer: &mut Placer,
) {
    let tight = input
        .flights
        .iter()
        .enumerate()
        .filter_map(|(i, f)| Some((i, f, f.crossing?.clearance_m)));
    let Some((i, flight, clearance_m)) = tight.filter(|t| usable(t.2)).min_by(|a, b| a.2.total_cmp(&b.2))
    else {
        return;
    };
    let line: Vec<Point> = flight.line_m.iter().copied().filter(usable_point).collect();
    let rims = [target.near, target.far];
    let pass = rims
        .iter()
        .filter_map(|rim| Some((*rim, nearest_on_line(*rim, &line)?)));
    let Some((rim, centre)) = pass.min_by(|a, b| distance(a.0, a.1).total_cmp(&distance(b.0, b.1))) else {
        return;
    };
    let (rim, centre) = (fit.px(rim), fit.px(centre));
    let r = radius_m(0.5 * input.piece_diameter_m) * fit.px_per_m;
    svg.circle(&format!("w{0} s c{0}", series(i)), centre, r);
    let surface = moved(centre, direction(centre, rim), r);
    if distance(centre, rim) > r {
        dimension(svg, "k", "kf", rim, surface, 8.0);
    }
    let text = format!("clear {}", units.length.show(clearance_m));
    let (width, height) = (label_width_px(&text), 1.1 * TEXT_PX);
    placer.avoid(&ring(centre, r));
    let below = rim[1] + r + 3.0;
    let candidates = [
        [rim[0] - 0.3 * width, below],
        [rim[0] - width - 8.0, rim[1] + 6.0],
        [rim[0] + 8.0, rim[1] + 6.0],
        [rim[0] - width - 8.0, rim[1] - height - 4.0],
        [rim[0] + 8.0, rim[1] - height - 4.0],
    ]
    .map(|p| Rect {
        x_px: p[0],
        y_px: p[1],
        width_px: width,
        height_px: height,
    });
    if let Some(place) = placer.place(candidates).filter(|p| p.free) {
        if distance(rim, place.rect.nearest(rim)) > 12.0 {
            svg.line("q", rim, place.rect.nearest(rim));
        }
        svg.text(
            "halo",
            [place.rect.x_px, place.rect.bottom_px() - 3.0],
            Anchor::Start,
            &text,
        );
    }
}

/// A row per flight: the same facts as the picture, for reading.
fn draw_table(svg: &mut Svg, top: f64, input: &Fan, units: &Units) {
    const NAME_PX: f64 = 302.0;
    const ENDS_PX: [f64; 4] = [428.0, 482.0, 528.0, 576.0];
    const LANDS_PX: f64 = 586.0;
    let heads = ["from", "speed", "entry", "clear"];
    let symbols = [
        units.distance.symbol,
        units.turning.symbol,
        units.angle.symbol,
        units.length.symbol,
    ];
    svg.text("b sm", [NAME_PX, top], Anchor::Start, "spot");
    svg.text("b sm", [LANDS_PX, top], Anchor::Start, "lands");
    for ((head, symbol), x) in heads.iter().zip(symbols).zip(ENDS_PX) {
        svg.text("b sm", [x, top], Anchor::End, head);
        svg.text("m sm", [x, top + 16.0], Anchor::End, symbol);
    }
    svg.line("q", [236.0, top + 24.0], [RIGHT_PX, top + 24.0]);
    let column = |scale: &Scale, value: fn(&Flight) -> Option<f64>| {
        scale.column(&input.flights.iter().map(value).collect::<Vec<_>>())
    };
    let columns = [
        column(&units.distance, |f| Some(f.distance_m)),
        column(&units.turning, |f| f.setpoint_radps),
        // Whole degrees: nobody can see more of a flight.
        column(&units.angle, |f| f.crossing.map(|c| whole_degrees(c.entry_rad))),
        column(&units.length, |f| f.crossing.map(|c| c.clearance_m)),
    ];
    for (i, f) in input.flights.iter().enumerate() {
        let y = top + 44.0 + ROW_PX * i as f64;
        svg.text("", [236.0, y], Anchor::Start, &(i + 1).to_string());
        svg.line(&line_class(i), [256.0, y - 5.0], [296.0, y - 5.0]);
        svg.text(
            "",
            [NAME_PX, y],
            Anchor::Start,
            &fitted(&f.spot, TEXT_PX, ENDS_PX[0] - NAME_PX - 44.0),
        );
        for (column, x) in columns.iter().zip(ENDS_PX) {
            let cell = column.get(i).map_or("", String::as_str);
            svg.text("", [x, y], Anchor::End, &fitted(cell, TEXT_PX, 50.0));
        }
        svg.text(
            "",
            [LANDS_PX, y],
            Anchor::Start,
            &fitted(&f.outcome, TEXT_PX, RIGHT_PX + 8.0 - LANDS_PX),
        );
    }
}

fn whole_degrees(angle_rad: f64) -> f64 {
    angle_rad.to_degrees().round().to_radians()
}

fn second_line(input: &Fan, units: &Units) -> String {
    let t = &input.target;
    format!(
        "opening {} wide, {} deep · piece Ø {} · distances to the near rim",
        units.length.show(t.width_m),
        units.length.show(t.depth_m),
        units.length.show(input.piece_diameter_m)
    )
}
