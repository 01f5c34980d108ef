//! The hopper from above and from the side, to scale: what stands where, and what is wrong with it.

use arcwright_model::feed::hopper::{Arrival, Hopper, RAIL_RADIUS_M};
use arcwright_model::feed::load::Place;
use arcwright_model::project::UnitSystem;

use super::{WIDTH_PX, counted};
use crate::geometry::{Fit, Point, Rect, span, usable_point};
use crate::marks::{arrow, badge, heading};
use crate::place::wrapped;
use crate::svg::{Anchor, Svg};
use crate::units::Units;

/// What the picture shows.
#[derive(Clone, Debug, PartialEq)]
pub struct HopperPicture {
    /// Heading.
    pub title: String,
    /// Units shown.
    pub units: UnitSystem,
    /// The hopper.
    pub hopper: Hopper,
    /// Diameter of a piece.
    pub piece_diameter_m: f64,
    /// Pieces to show, such as a wedge.
    pub pieces: Vec<Place>,
    /// How the stirrer stands; parked if not given.
    pub stirrer_rad: Option<f64>,
    /// What the pieces show, such as "the worst load"; empty without.
    pub pieces_are: String,
    /// What is wrong: words, whether it is impossible, and a line in plan.
    pub faults: Vec<FaultMark>,
}

/// One fault in the picture.
#[derive(Clone, Debug, PartialEq)]
pub struct FaultMark {
    /// In words.
    pub text: String,
    /// Impossible, or only doubtful.
    pub refused: bool,
    /// Where, in plan.
    pub at_m: [Point; 2],
}

const SIDE_PX: f64 = 24.0;
const TOP_PX: f64 = 82.0;
const TALLEST_PX: f64 = 300.0;
const ROW_PX: f64 = 20.0;
/// Room that a numbered mark takes.
const BADGE_PX: f64 = 21.0;
/// Points of a drawn sweep.
const SWEEP_COUNT: usize = 72;

/// Draws the picture.
pub fn draw(input: &HopperPicture) -> String {
    let units = Units::of(input.units);
    let h = &input.hopper;
    let profile = profile(input);
    let plan = extent(h);
    let width_px = WIDTH_PX - 2.0 * SIDE_PX;
    let fit_to = |points: &[Point], top: f64| {
        let x = span(points.iter().map(|p| p[0])).unwrap_or((0.0, 1.0));
        let y = span(points.iter().map(|p| p[1])).unwrap_or((0.0, 1.0));
        let tall = (width_px * (y.1 - y.0) / (x.1 - x.0).max(1e-3)).clamp(60.0, TALLEST_PX);
        let rect = Rect {
            x_px: SIDE_PX,
            y_px: top,
            width_px,
            height_px: tall,
        };
        (Fit::new(x, y, rect), rect)
    };
    let (fit, rect) = fit_to(&plan, TOP_PX);
    let side_top = rect.bottom_px() + 44.0;
    let (side, side_rect) = fit_to(&profile, side_top);
    let lines = fault_lines(input);
    let legend = side_rect.bottom_px() + 34.0;
    let rows: usize = lines.iter().map(Vec::len).sum();
    let mut svg = Svg::new("hopper", WIDTH_PX, legend + ROW_PX * rows.max(1) as f64 + 8.0);
    heading(&mut svg, &input.title, &second_line(input, &units));
    svg.text("m", [SIDE_PX, TOP_PX - 10.0], Anchor::Start, "from above");
    draw_plan(&mut svg, &fit, input);
    svg.text("m", [SIDE_PX, side_top - 10.0], Anchor::Start, "from the side");
    draw_side(&mut svg, &side, input);
    let mut y = legend;
    for (i, text) in lines.iter().enumerate() {
        badge(
            &mut svg,
            if refused(input, i) { "f1" } else { "qf" },
            [SIDE_PX + 9.5, y - 5.0],
            &(i + 1).to_string(),
        );
        for line in text {
            svg.text("", [SIDE_PX + 28.0, y], Anchor::Start, line);
            y += ROW_PX;
        }
    }
    if lines.is_empty() {
        svg.text(
            "m",
            [SIDE_PX, y],
            Anchor::Start,
            "Nothing is wrong with its measures.",
        );
    }
    svg.finish(&input.title, &words(input))
}

/// The picture in words.
pub fn words(input: &HopperPicture) -> String {
    let units = Units::of(input.units);
    let mut text = format!("{}: {}.", input.title, second_line(input, &units));
    for (i, f) in input.faults.iter().enumerate() {
        let kind = if f.refused { "impossible" } else { "doubtful" };
        text.push_str(&format!(" {} ({kind}): {}.", i + 1, f.text));
    }
    if !input.pieces.is_empty() {
        text.push_str(&format!(
            " Shown with {}: {}.",
            counted(input.pieces.len(), "piece", "pieces"),
            input.pieces_are
        ));
    }
    text
}

fn refused(input: &HopperPicture, index: usize) -> bool {
    input.faults.get(index).is_some_and(|f| f.refused)
}

fn second_line(input: &HopperPicture, units: &Units) -> String {
    let h = &input.hopper;
    format!(
        "hopper {} by {}, chute {}, floor {} down to it, pieces of {}",
        units.length.show(h.length_m),
        units.length.show(h.width_m),
        units.length.show(h.chute_width_m),
        units.angle.show(h.slope_rad),
        units.length.show(input.piece_diameter_m)
    )
}

fn fault_lines(input: &HopperPicture) -> Vec<Vec<String>> {
    input
        .faults
        .iter()
        .map(|f| {
            let kind = if f.refused { "impossible" } else { "doubtful" };
            wrapped(
                &format!("{kind}: {}", f.text),
                14.0,
                WIDTH_PX - 2.0 * SIDE_PX - 30.0,
                3,
            )
        })
        .collect()
}

/// Points of the plan that must be on the sheet.
pub(super) fn extent(h: &Hopper) -> Vec<Point> {
    let mut all = h.outline_m();
    all.extend(sweep(h));
    all.retain(usable_point);
    all
}

/// The way of the arm's tip.
fn sweep(h: &Hopper) -> Vec<Point> {
    let Some(s) = &h.stirrer else { return Vec::new() };
    let [low, high] = s.sweep_rad();
    (0..=SWEEP_COUNT)
        .map(|i| {
            let a = low + (high - low) * i as f64 / SWEEP_COUNT as f64;
            let hub = s.hub_m();
            [hub[0] + s.length_m * a.cos(), hub[1] + s.length_m * a.sin()]
        })
        .collect()
}

/// The fixed parts from above, with the stirrer as it stands.
pub(super) fn draw_parts(svg: &mut Svg, fit: &Fit, h: &Hopper, stirrer_rad: Option<f64>) {
    let scale = fit.px_per_m;
    let line = |svg: &mut Svg, class: &str, points: &[Point]| {
        if points.iter().all(usable_point) {
            let drawn: Vec<Point> = points.iter().map(|p| fit.px(*p)).collect();
            svg.polyline(class, &drawn);
        }
    };
    line(svg, "kb", &h.outline_m());
    if h.fillet_m > 0.0 {
        let cut = h.fillet_m * (0.5 * h.funnel_rad).tan();
        for s in [1.0, -1.0] {
            let at = [cut, s * (0.5 * h.chute_width_m + h.fillet_m)];
            if usable_point(&at) {
                svg.circle("bf k", fit.px(at), h.fillet_m * scale);
            }
        }
    }
    if h.rail_gap_m > 0.0 {
        for s in [1.0, -1.0] {
            let y = s * (0.5 * h.rail_gap_m + RAIL_RADIUS_M);
            line(svg, "q", &[[0.25 * h.chute_m, y], [h.end_m(), y]]);
        }
    }
    if h.bands.is_some() {
        for ends in h.band_ends_m() {
            line(svg, "s c2 d1", &ends);
        }
    }
    if let Some(r) = &h.roller {
        let (half, w) = (0.5 * r.diameter_m, 0.5 * r.width_m);
        let x = h.from_chute_m([h.chute_m, 0.0, half])[0];
        let ring = [[x - half, -w], [x + half, -w], [x + half, w], [x - half, w]];
        if ring.iter().all(usable_point) {
            svg.polygon("w0 k", &ring.map(|p| fit.px(p)));
        }
    }
    if let Some(s) = &h.stirrer {
        line(svg, "q qd", &sweep(h));
        let (hub, tip) = (s.hub_m(), s.tip_m(stirrer_rad.unwrap_or(s.middle_rad)));
        line(svg, "sb c0", &[hub, tip]);
        if usable_point(&hub) {
            svg.circle("f0", fit.px(hub), (s.thickness_m * scale).max(3.0));
        }
    }
    for plate in h.plates.iter() {
        let [a, b, c, d] = plate.corners_m().map(|p| [p[0], p[1]]);
        line(svg, "s k", &[a, b, c, d, a]);
    }
}

fn draw_plan(svg: &mut Svg, fit: &Fit, input: &HopperPicture) {
    let h = &input.hopper;
    let scale = fit.px_per_m;
    draw_parts(svg, fit, h, input.stirrer_rad);
    let radius = 0.5 * input.piece_diameter_m;
    let sides: &[bool] = if h.loading.aside_m > 0.0 {
        &[true, false]
    } else {
        &[true]
    };
    for left in sides {
        let drop = h.let_go_m(radius, *left);
        if usable_point(&drop) && input.pieces.is_empty() {
            svg.circle("q qd", fit.px(drop), radius * scale);
            svg.text(
                "m halo",
                [fit.px(drop)[0], fit.px(drop)[1] + 5.0],
                Anchor::Middle,
                match h.loading.arrival {
                    Arrival::Dropped => "dropped here",
                    Arrival::Poured => "poured in here",
                    Arrival::Intake => "come in here",
                },
            );
        }
    }
    for p in &input.pieces {
        let at = [p.at_m[0], p.at_m[1]];
        if usable_point(&at) {
            svg.circle("w1 s c1", fit.px(at), p.radius_m * scale);
            let place = [fit.px(at)[0], fit.px(at)[1] + 5.0];
            svg.text("b halo", place, Anchor::Middle, &(p.number + 1).to_string());
        }
    }
    let mut badges: Vec<Point> = Vec::new();
    for (i, f) in input.faults.iter().enumerate() {
        if f.at_m.iter().all(usable_point) {
            let [a, b] = f.at_m.map(|p| fit.px(p));
            svg.line(if f.refused { "s c1" } else { "s c1 d4" }, a, b);
            let mut middle = [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])];
            // Marks that would cover each other stand side by side.
            while badges
                .iter()
                .any(|o| (o[0] - middle[0]).hypot(o[1] - middle[1]) < BADGE_PX)
            {
                middle[0] += BADGE_PX;
            }
            badges.push(middle);
            badge(
                svg,
                if f.refused { "f1" } else { "qf" },
                middle,
                &(i + 1).to_string(),
            );
        }
    }
    let end = [h.end_m(), 0.0];
    if usable_point(&end) {
        let [from, to] = [fit.px([0.7 * end[0], 0.0]), fit.px(end)];
        arrow(svg, "s1 k", "kf", from, to, 9.0);
    }
}

/// A point along and above the floor, as it stands: the floor goes down to the right.
fn stood(h: &Hopper, x: f64, z: f64) -> Point {
    let (s, c) = h.slope_rad.sin_cos();
    [x * c + z * s, -x * s + z * c]
}

/// The same for a point along and above the floor of the chute.
fn in_chute(h: &Hopper, along: f64, z: f64) -> Point {
    let p = h.from_chute_m([along, 0.0, z]);
    stood(h, p[0], p[2])
}

fn profile(input: &HopperPicture) -> Vec<Point> {
    let h = &input.hopper;
    let mut all = vec![
        stood(h, -h.length_m, 0.0),
        stood(h, -h.length_m, h.wall_m),
        in_chute(h, h.end_m(), 0.0),
        in_chute(h, h.end_m(), h.wall_m),
    ];
    all.push(stood(
        h,
        h.let_go_m(0.5 * input.piece_diameter_m, true)[0],
        h.loading.height_m + input.piece_diameter_m,
    ));
    if let Some(r) = &h.roller {
        all.push(in_chute(h, h.chute_m, input.piece_diameter_m + r.diameter_m));
    }
    for plate in h.plates.iter() {
        all.extend(plate.corners_m().map(|p| stood(h, p[0], p[2])));
    }
    all.retain(usable_point);
    all
}

fn draw_side(svg: &mut Svg, fit: &Fit, input: &HopperPicture) {
    let h = &input.hopper;
    let at = |x: f64, z: f64| stood(h, x, z);
    let line = |svg: &mut Svg, class: &str, points: &[Point]| {
        if points.iter().all(usable_point) {
            let drawn: Vec<Point> = points.iter().map(|p| fit.px(*p)).collect();
            svg.polyline(class, &drawn);
        }
    };
    line(
        svg,
        "kb",
        &[
            at(-h.length_m, h.wall_m),
            at(-h.length_m, 0.0),
            at(0.0, 0.0),
            in_chute(h, h.end_m(), 0.0),
        ],
    );
    line(
        svg,
        "q",
        &[
            at(-h.length_m, h.wall_m),
            at(0.0, h.wall_m),
            in_chute(h, h.end_m(), h.wall_m),
            in_chute(h, h.end_m(), 0.0),
        ],
    );
    if h.side_slope_rad > 0.0 {
        // Where the leaning floor meets the side walls.
        let top = h.floor_m(0.5 * h.width_m);
        let mouth = h.floor_m(0.5 * h.chute_width_m);
        line(
            svg,
            "q qd",
            &[at(-h.length_m, top), at(-h.funnel_m(), top), at(0.0, mouth)],
        );
    }
    for plate in h.plates.iter() {
        let [a, b, c, d] = plate.corners_m().map(|p| at(p[0], p[2]));
        line(svg, "s k", &[a, b, c, d, a]);
    }
    line(svg, "q qd", &[at(0.0, 0.0), at(0.0, h.wall_m)]);
    if let Some(s) = &h.stirrer {
        let x = -s.before_mouth_m;
        line(svg, "s c0", &[at(x, 0.0), at(x, s.height_m)]);
        let tip = s.tip_m(input.stirrer_rad.unwrap_or(s.middle_rad))[0];
        line(svg, "sb c0", &[at(tip, s.height_m), at(x, s.height_m)]);
    }
    let circle = |svg: &mut Svg, class: &str, x: f64, z: f64, r: f64| {
        let p = at(x, z);
        if usable_point(&p) {
            svg.circle(class, fit.px(p), r * fit.px_per_m);
        }
    };
    let radius = 0.5 * input.piece_diameter_m;
    if let Some(r) = &h.roller {
        let z = h.seat_m(radius) + radius - r.squeeze_m + 0.5 * r.diameter_m;
        let p = h.from_chute_m([h.chute_m, 0.0, z]);
        circle(svg, "w0 k", p[0], p[2], 0.5 * r.diameter_m);
        if r.paddle_count > 0 {
            circle(svg, "q qd", p[0], p[2], 0.5 * r.diameter_m + r.paddle_m);
        }
    }
    if input.pieces.is_empty() {
        circle(
            svg,
            "q qd",
            h.let_go_m(radius, true)[0],
            h.loading.height_m + radius,
            radius,
        );
    }
    for p in &input.pieces {
        circle(svg, "w1 s c1", p.at_m[0], p.at_m[2], p.radius_m);
    }
}
