//! How deep the wheel drops into the holes of the piece, against the width of the wheel.

use arcwright_model::project::UnitSystem;

use super::WIDTH_PX;
use crate::axis::{Axis, Strip};
use crate::geometry::{Fit, Point, Rect, span, usable};
use crate::marks::{TEXT_PX, dimension, heading, label_width_px, point};
use crate::place::{Placer, along_level};
use crate::svg::{Anchor, Hatch, Svg};
use crate::units::Units;

/// One width of wheel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WidthPoint {
    /// Width of one wheel.
    pub width_m: f64,
    /// Deepest place of a throw, in 95 of 100 throws.
    pub deepest_m: f64,
    /// Standard deviation of the depth around the piece.
    pub swing_m: f64,
}

/// What the picture shows.
#[derive(Clone, Debug, PartialEq)]
pub struct BiteChart {
    /// Units shown.
    pub units: UnitSystem,
    /// One wheel of each width.
    pub single: Vec<WidthPoint>,
    /// Two wheels of each width, side by side.
    pub pair: Vec<WidthPoint>,
    /// Free space between the two.
    pub pair_gap_m: f64,
    /// The wheels as they are.
    pub now: WidthPoint,
    /// How many of them are on the shaft.
    pub count: u32,
    /// Free space between them.
    pub gap_m: f64,
    /// Squeeze of the piece.
    pub squeeze_m: f64,
    /// Depth that counts as bridged.
    pub limit_m: f64,
    /// Diameter of the piece.
    pub piece_diameter_m: f64,
    /// What the wheel drops into.
    pub opening: Opening,
    /// How far the unpressed wheel drops when it stands over the middle of that.
    pub drop_m: f64,
}

/// What the wheel drops into.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Opening {
    /// A round hole.
    Hole {
        /// Its diameter.
        diameter_m: f64,
    },
    /// A groove.
    Seam {
        /// Its width.
        width_m: f64,
        /// Its depth.
        depth_m: f64,
    },
}

impl Opening {
    fn across_m(&self) -> f64 {
        match *self {
            Opening::Hole { diameter_m } => diameter_m,
            Opening::Seam { width_m, .. } => width_m,
        }
    }

    fn words(&self) -> &'static str {
        match self {
            Opening::Hole { .. } => "hole",
            Opening::Seam { .. } => "seam",
        }
    }
}

const TITLE: &str = "How deep the wheel drops into the piece";
const LEFT_PX: f64 = 72.0;
const HEIGHT_PX: f64 = 620.0;

/// Draws the picture.
pub fn draw(input: &BiteChart) -> String {
    let units = Units::of(input.units);
    let mut svg = Svg::new("bite", WIDTH_PX, HEIGHT_PX);
    heading(&mut svg, TITLE, &second_line(input, &units));
    let all = || input.single.iter().chain(&input.pair).chain([&input.now]);
    let widths = span(all().map(|p| p.width_m)).unwrap_or((0.0, 0.1));
    let depths = span(all().map(|p| p.deepest_m).chain([0.0, 1.2 * input.limit_m])).unwrap_or((0.0, 1e-3));
    let strip = Strip {
        rect: Rect {
            x_px: LEFT_PX,
            y_px: 138.0,
            width_px: WIDTH_PX - LEFT_PX - 16.0,
            height_px: 232.0,
        },
        x: Axis::new((0.0, widths.1), (true, false), 7, &units.length),
        y: Axis::new((0.0, depths.1), (true, true), 5, &units.length),
    };
    strip.frame(
        &mut svg,
        &format!("depth ({})", units.length.symbol),
        Some(&format!("width of one wheel ({})", units.length.symbol)),
    );
    let between = units.length.show(input.pair_gap_m);
    let series: [(&str, &[WidthPoint], Value, String); 3] = [
        (
            "s c0 d0",
            &input.single,
            |p| p.deepest_m,
            "one wheel: deepest place of a throw, in 95 of 100 throws".into(),
        ),
        (
            "s c1 d2",
            &input.pair,
            |p| p.deepest_m,
            format!("two of that width with {between} between: the same"),
        ),
        (
            "s1 c0 d4",
            &input.single,
            |p| p.swing_m,
            "one wheel: swing around the piece (standard deviation)".into(),
        ),
    ];
    let mut curves: Vec<Vec<Point>> = Vec::new();
    for (row, (class, points, value, name)) in series.iter().enumerate() {
        let y = 70.0 + 20.0 * row as f64;
        svg.line(class, [LEFT_PX, y], [LEFT_PX + 42.0, y]);
        svg.text("", [LEFT_PX + 52.0, y + 5.0], Anchor::Start, name);
        let curve: Vec<Point> = points.iter().map(|p| [p.width_m, value(p)]).collect();
        let lines = strip.lines(curve.iter().copied());
        strip.curve(&mut svg, class, "qf", &lines);
        curves.push(curve);
    }
    limit(&mut svg, &strip, input, &units, &curves);
    mark_now(&mut svg, &strip, input, &units);
    across(&mut svg, input, &units);
    svg.finish(TITLE, &words(input))
}

type Value = fn(&WidthPoint) -> f64;

fn limit(svg: &mut Svg, strip: &Strip, input: &BiteChart, units: &Units, curves: &[Vec<Point>]) {
    if !usable(input.limit_m) {
        return;
    }
    let y = strip.y_px(input.limit_m);
    svg.line("k qd", [strip.rect.x_px, y], [strip.rect.right_px(), y]);
    let text = format!("bridged below {}", units.length.show(input.limit_m));
    let mut placer = Placer::new(strip.rect.grown(-2.0));
    for curve in curves {
        for line in strip.lines(curve.iter().copied()) {
            placer.avoid(&line);
        }
    }
    let size = [label_width_px(&text), 1.2 * TEXT_PX];
    let place = placer.place(along_level(&strip.rect, y, size, 2.0));
    if let Some(place) = place.filter(|p| p.free) {
        let at = [place.rect.x_px, place.rect.bottom_px() - 4.0];
        svg.text("halo", at, Anchor::Start, &text);
    }
}

fn mark_now(svg: &mut Svg, strip: &Strip, input: &BiteChart, units: &Units) {
    let now = &input.now;
    if !(usable(now.width_m) && usable(now.deepest_m)) {
        return;
    }
    let at = [strip.x_px(now.width_m), strip.y_px(now.deepest_m)];
    svg.line("q qd", [at[0], strip.rect.y_px], [at[0], strip.rect.bottom_px()]);
    point(svg, 3, "c3", at, 5.0);
    let text = format!("now {}", wheels(input, units));
    let left = label_width_px(&text) + 12.0 < at[0] - strip.rect.x_px;
    let (x, anchor) = if left {
        (at[0] - 7.0, Anchor::End)
    } else {
        (at[0] + 7.0, Anchor::Start)
    };
    svg.text("halo b", [x, strip.rect.y_px + 16.0], anchor, &text);
}

/// "40 mm", "2 × 8 mm with 10 mm between".
fn wheels(input: &BiteChart, units: &Units) -> String {
    let width = units.length.show(input.now.width_m);
    if input.count < 2 {
        return width;
    }
    format!(
        "{} × {width} with {} between",
        input.count,
        units.length.show(input.gap_m)
    )
}

/// Cut through piece and wheels along the shaft, unpressed, the hole under their middle.
fn across(svg: &mut Svg, input: &BiteChart, units: &Units) {
    let window = Rect {
        x_px: LEFT_PX,
        y_px: 446.0,
        width_px: WIDTH_PX - LEFT_PX - 16.0,
        height_px: 160.0,
    };
    let text = format!(
        "across the wheel, unpressed, {} under its middle: it drops {}",
        input.opening.words(),
        units.length.show(input.drop_m)
    );
    svg.text("m", [LEFT_PX, window.y_px - 8.0], Anchor::Start, &text);
    let r = 0.5 * input.piece_diameter_m;
    let count = input.count.clamp(1, MOST_DRAWN_COUNT);
    let pitch = input.now.width_m + input.gap_m.max(0.0);
    let total = f64::from(count - 1) * pitch + input.now.width_m;
    let hole = input.opening.across_m();
    if ![r, total, hole, input.drop_m]
        .iter()
        .all(|v| usable(*v) && *v > 0.0)
        || hole >= 2.0 * r
    {
        return;
    }
    // Wide enough for both, and never so wide that the piece's side hangs down out of sight.
    let half = (0.62 * total).max(1.6 * hole).min(0.92 * r);
    let fall = r - (r * r - half * half).sqrt();
    let rim = 0.3 * half;
    let fit = Fit::new((-half, half), (-fall.max(2.2 * input.drop_m), rim), window);
    svg.open_clipped(window);
    for i in 0..count {
        let low = -0.5 * total + f64::from(i) * pitch;
        let foot = -input.drop_m;
        let corners = [
            [low, foot],
            [low + input.now.width_m, foot],
            [low + input.now.width_m, foot + 2.0 * half],
            [low, foot + 2.0 * half],
        ];
        let corners = fit.line(&corners);
        svg.hatched(Hatch::Up, &corners);
        let mut outline = corners.clone();
        outline.extend(corners.first().copied());
        svg.polyline("s c3", &outline);
    }
    let edge = (0.5 * hole / r).asin();
    let far = (1.02 * half / r).min(1.0).asin();
    let skin = |from: f64, to: f64, radius: f64| -> Vec<Point> {
        (0..=24)
            .map(|k| from + (to - from) * f64::from(k) / 24.0)
            .map(|a| [radius * a.sin(), radius * a.cos() - r])
            .collect()
    };
    for side in [-1.0, 1.0] {
        svg.polyline("kb", &fit.line(&skin(side * edge, side * far, r)));
    }
    if let Opening::Seam { depth_m, .. } = input.opening {
        svg.polyline("kb", &fit.line(&skin(-edge, edge, r - depth_m)));
    }
    svg.polyline("q qd", &fit.line(&skin(-edge, edge, r)));
    svg.close();
    let floor = match input.opening {
        Opening::Hole { .. } => 0.0,
        Opening::Seam { depth_m, .. } => depth_m,
    };
    let low = fit.px([0.0, -r + (r * r - 0.25 * hole * hole).sqrt() - floor]);
    let foot = (low[1] + 16.0).min(window.bottom_px() - 4.0);
    let (a, b) = (fit.px([-0.5 * hole, 0.0])[0], fit.px([0.5 * hole, 0.0])[0]);
    dimension(svg, "k", "kf", [a, foot], [b, foot], 7.0);
    let name = format!("{} {}", input.opening.words(), units.length.show(hole));
    svg.text("halo", [0.5 * (a + b), foot + 18.0], Anchor::Middle, &name);
}

/// Wheels drawn side by side at the most.
const MOST_DRAWN_COUNT: u32 = 20;

/// The least width on the curve from which on a single wheel stays below the limit.
fn bridges_from_m(input: &BiteChart) -> Option<f64> {
    let below = input
        .single
        .iter()
        .rev()
        .take_while(|p| p.deepest_m <= input.limit_m);
    below.last().map(|p| p.width_m)
}

fn second_line(input: &BiteChart, units: &Units) -> String {
    format!(
        "now {}: up to {} deep, {} of the squeeze",
        wheels(input, units),
        units.length.show(input.now.deepest_m),
        units.share.show(input.now.deepest_m / input.squeeze_m)
    )
}

/// The picture in words.
pub fn words(input: &BiteChart) -> String {
    let units = Units::of(input.units);
    let bridged = match bridges_from_m(input) {
        Some(width) => format!(
            "Of the widths drawn, a single wheel bridges from {} on",
            units.length.show(width)
        ),
        None => "No width drawn bridges as a single wheel".to_string(),
    };
    format!(
        "The wheel as it is, {}, drops {} at the deepest place of a throw in 95 of 100 throws, {} of the squeeze; \
         below {} counts as bridged. {bridged}. Unpressed over the middle of a {} {} across it would drop {}.",
        wheels(input, &units),
        units.length.show(input.now.deepest_m),
        units.share.show(input.now.deepest_m / input.squeeze_m),
        units.length.show(input.limit_m),
        input.opening.words(),
        units.length.show(input.opening.across_m()),
        units.length.show(input.drop_m)
    )
}
