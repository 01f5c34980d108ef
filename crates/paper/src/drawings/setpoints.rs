//! Wheel speed to set against distance from the target.

use arcwright_model::project::UnitSystem;

use super::{WIDTH_PX, counted};
use crate::axis::{Axis, Strip};
use crate::geometry::{Point, Rect, span, usable, usable_point};
use crate::marks::{TEXT_PX, bold_width_px, heading, label_width_px, point};
use crate::place::{Placer, fitted};
use crate::svg::{Anchor, Hatch, Svg};
use crate::units::Units;

/// What the picture shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Setpoints {
    /// Units shown.
    pub units: UnitSystem,
    /// The curve, over the distances of interest.
    pub curve: Vec<CurvePoint>,
    /// The curve as designed, distance and speed, where test shots taught another; empty where none did.
    pub design: Vec<[f64; 2]>,
    /// The spots.
    pub spots: Vec<SpotMark>,
    /// Highest speed the wheel reaches.
    pub top_radps: f64,
    /// Share of the top speed that setpoints must leave free.
    pub reserve_frac: f64,
}

/// One distance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CurvePoint {
    /// From the wheel axle to the near rim.
    pub distance_m: f64,
    /// Speed that hits; `None` when none does.
    pub setpoint: Option<Speed>,
}

/// A speed and the range that still hits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Speed {
    /// The setpoint.
    pub best_radps: f64,
    /// Lowest speed that hits.
    pub low_radps: f64,
    /// Highest speed that hits.
    pub high_radps: f64,
}

/// A spot on the curve.
#[derive(Clone, Debug, PartialEq)]
pub struct SpotMark {
    /// Name.
    pub name: String,
    /// From the wheel axle to the near rim.
    pub distance_m: f64,
    /// Setpoint; `None` when out of reach.
    pub setpoint_radps: Option<f64>,
}

const LEFT_PX: f64 = 72.0;
const TITLE: &str = "Wheel speed to set";

/// Draws the picture.
pub fn draw(input: &Setpoints) -> String {
    let units = Units::of(input.units);
    let mut svg = Svg::new("setpoints", WIDTH_PX, 460.0);
    let curve = sorted(input);
    heading(&mut svg, TITLE, &second_line(input, &units));
    let strip = strip(input, &curve, &units);
    let none = out_of_reach(&curve);
    for (from, to) in &none {
        let (a, b) = (strip.x_px(*from), strip.x_px(*to));
        let r = &strip.rect;
        svg.hatched(
            Hatch::Up,
            &[[a, r.y_px], [b, r.y_px], [b, r.bottom_px()], [a, r.bottom_px()]],
        );
    }
    strip.frame(
        &mut svg,
        &format!("wheel speed ({})", units.turning.symbol),
        Some(&format!("distance to the near rim ({})", units.distance.symbol)),
    );
    let mut placer = Placer::new(strip.rect.grown(-2.0));
    // A label near its spot is worth crossing a line or two.
    placer.order_cost_ratio = 1.5;
    if !input.design.is_empty() {
        let design = strip.lines(input.design.iter().copied());
        strip.curve(&mut svg, "s c2 d1", "f2", &design);
    }
    draw_curve(&mut svg, &strip, &curve, &mut placer);
    draw_tops(&mut svg, &strip, input, &units, &mut placer);
    draw_spots(&mut svg, &strip, input, &units, &mut placer);
    for (from, to) in &none {
        label_none(&mut svg, &strip, (*from, *to), &mut placer);
    }
    svg.finish(TITLE, &words(input))
}

/// The picture in words.
pub fn words(input: &Setpoints) -> String {
    let units = Units::of(input.units);
    let spots: Vec<String> = input
        .spots
        .iter()
        .map(|s| match s.setpoint_radps {
            Some(w) => format!(
                "{} at {}: {}",
                s.name,
                units.distance.show(s.distance_m),
                units.turning.show(w)
            ),
            None => format!(
                "{} at {}: out of reach",
                s.name,
                units.distance.show(s.distance_m)
            ),
        })
        .collect();
    let curve = sorted(input);
    let reached = span(
        curve
            .iter()
            .filter(|p| p.setpoint.is_some())
            .map(|p| p.distance_m),
    );
    let reach = match reached {
        Some((a, b)) => format!(
            "The wheel reaches the target from {} to {} away; its top speed is {}.",
            units.distance.show(a),
            units.distance.show(b),
            units.turning.show(input.top_radps)
        ),
        None => "No distance is within reach.".to_string(),
    };
    let beside = if input.design.is_empty() {
        ""
    } else {
        " A dashed line shows the speeds as designed, before the test shots."
    };
    if spots.is_empty() {
        format!("{reach}{beside}")
    } else {
        format!("{reach} {}.{beside}", spots.join("; "))
    }
}

fn second_line(input: &Setpoints, units: &Units) -> String {
    let band = if input.design.is_empty() {
        "± untested (one standard deviation)"
    } else {
        "± after the shots · dashed: as designed"
    };
    format!(
        "{} · band: {band} · top speed {}",
        counted(input.spots.len(), "spot", "spots"),
        units.turning.show(input.top_radps)
    )
}

fn sorted(input: &Setpoints) -> Vec<CurvePoint> {
    let mut curve: Vec<CurvePoint> = input
        .curve
        .iter()
        .copied()
        .filter(|p| usable(p.distance_m))
        .collect();
    curve.sort_by(|a, b| a.distance_m.total_cmp(&b.distance_m));
    curve
}

fn reserve_radps(input: &Setpoints) -> f64 {
    input.top_radps * (1.0 - input.reserve_frac)
}

fn strip(input: &Setpoints, curve: &[CurvePoint], units: &Units) -> Strip {
    let distances = curve
        .iter()
        .map(|p| p.distance_m)
        .chain(input.spots.iter().map(|s| s.distance_m));
    let across = span(distances).unwrap_or((0.0, 1.0));
    // Spots at the very edge get room for their marks.
    let covered = span(curve.iter().map(|p| p.distance_m)).unwrap_or((0.0, 0.0));
    let inside = input
        .spots
        .iter()
        .all(|s| s.distance_m > covered.0 && s.distance_m < covered.1);
    let pad = if inside { 0.0 } else { 0.04 * (across.1 - across.0) };
    let speeds = curve
        .iter()
        .filter_map(|p| p.setpoint)
        .flat_map(|s| [s.best_radps, s.low_radps, s.high_radps]);
    let speeds = speeds
        .chain(input.spots.iter().filter_map(|s| s.setpoint_radps))
        .chain(input.design.iter().map(|p| p[1]));
    let (low, high) = span(speeds.chain([input.top_radps, reserve_radps(input)])).unwrap_or((0.0, 1.0));
    // Room for labels above the top line and below the curve; not below standstill.
    let room = 0.1 * (high - low);
    let low = if low >= 0.0 {
        (low - 1.6 * room).max(0.0)
    } else {
        low - room
    };
    Strip {
        rect: Rect {
            x_px: LEFT_PX,
            y_px: 64.0,
            width_px: WIDTH_PX - LEFT_PX - 16.0,
            height_px: 342.0,
        },
        x: Axis::new(
            (across.0 - pad, across.1 + pad),
            (false, false),
            7,
            &units.distance,
        ),
        y: Axis::new((low, high + room), (true, false), 6, &units.turning),
    }
}

/// Ranges of distance without a setpoint; each ends half way to the neighbour that has one.
fn out_of_reach(curve: &[CurvePoint]) -> Vec<(f64, f64)> {
    let mut ranges: Vec<(f64, f64)> = Vec::new();
    let mut open: Option<(f64, f64)> = None;
    let mut before: Option<CurvePoint> = None;
    for p in curve {
        let half = before.map_or(p.distance_m, |b| 0.5 * (b.distance_m + p.distance_m));
        match (&mut open, p.setpoint) {
            (None, None) => open = Some((half, p.distance_m)),
            (Some(range), None) => range.1 = p.distance_m,
            (Some(range), Some(_)) => {
                ranges.push((range.0, half));
                open = None;
            }
            (None, Some(_)) => {}
        }
        before = Some(*p);
    }
    ranges.extend(open);
    ranges.retain(|(a, b)| b > a);
    ranges
}

fn draw_curve(svg: &mut Svg, strip: &Strip, curve: &[CurvePoint], placer: &mut Placer) {
    for part in curve.split(|p| p.setpoint.is_none()) {
        let edge = |pick: fn(&Speed) -> f64| -> Vec<Point> {
            let values = part
                .iter()
                .filter_map(|p| Some([p.distance_m, pick(&p.setpoint?)]));
            values.filter(usable_point).map(|p| strip.px(p)).collect()
        };
        let (low, high) = (edge(|s| s.low_radps), edge(|s| s.high_radps));
        let ring: Vec<Point> = low.iter().copied().chain(high.iter().rev().copied()).collect();
        svg.open_clipped(strip.rect);
        svg.polygon("w0", &crate::geometry::thinned(&ring));
        svg.close();
    }
    let best: Vec<Point> = curve
        .iter()
        .map(|p| [p.distance_m, p.setpoint.map_or(f64::NAN, |s| s.best_radps)])
        .collect();
    let lines = strip.lines(best);
    strip.curve(svg, "s c0", "f0", &lines);
    for line in &lines {
        placer.avoid(line);
    }
}

fn draw_tops(svg: &mut Svg, strip: &Strip, input: &Setpoints, units: &Units, placer: &mut Placer) {
    let reserve = reserve_radps(input);
    let lines = [
        (
            input.top_radps,
            "k",
            format!("top speed {}", units.turning.show(input.top_radps)),
            true,
        ),
        (
            reserve,
            "s c1 d1",
            format!(
                "{} with {} kept free",
                units.turning.show(reserve),
                units.share.show(input.reserve_frac)
            ),
            false,
        ),
    ];
    let r = strip.rect;
    for (value, class, text, above) in lines {
        if !usable(value)
            || value < strip.y.low
            || value > strip.y.high
            || (class != "k" && input.reserve_frac <= 0.0)
        {
            continue;
        }
        let y = strip.y_px(value);
        svg.line(class, [r.x_px, y], [r.right_px(), y]);
        placer.avoid(&[[r.x_px, y], [r.right_px(), y]]);
        let (width, height) = (label_width_px(&text), 1.2 * TEXT_PX);
        let sides = if above {
            [y - height - 1.0, y + 2.0]
        } else {
            [y + 2.0, y - height - 1.0]
        };
        let candidates = sides.into_iter().flat_map(|y_px| {
            (0..8).map(move |i| Rect {
                x_px: r.x_px + 6.0 + f64::from(i) * (r.width_px - width - 12.0) / 7.0,
                y_px,
                width_px: width,
                height_px: height,
            })
        });
        if let Some(place) = placer.place(candidates).filter(|p| p.free) {
            let color = if class == "k" { "halo" } else { "halo f1" };
            svg.text(
                color,
                [place.rect.x_px, place.rect.bottom_px() - 4.0],
                Anchor::Start,
                &text,
            );
        }
    }
}

fn draw_spots(svg: &mut Svg, strip: &Strip, input: &Setpoints, units: &Units, placer: &mut Placer) {
    let at = |s: &SpotMark| {
        let p = strip.px([s.distance_m, s.setpoint_radps.unwrap_or(strip.y.low)]);
        usable_point(&p).then_some(p)
    };
    for (i, spot) in input.spots.iter().enumerate() {
        let Some(p) = at(spot) else { continue };
        svg.line("q qd", p, [p[0], strip.rect.bottom_px()]);
        if spot.setpoint_radps.is_some() {
            point(svg, i, "c0", p, 5.5);
        } else {
            // A cross on the foot: a spot without a setpoint.
            let y = strip.rect.bottom_px();
            for d in [6.0, -6.0] {
                svg.line("s c1", [p[0] - 6.0, y - d], [p[0] + 6.0, y + d]);
            }
        }
        placer.avoid(&[p, [p[0], strip.rect.bottom_px()]]);
        placer.take(Rect {
            x_px: p[0] - 7.0,
            y_px: p[1] - 7.0,
            width_px: 14.0,
            height_px: 14.0,
        });
    }
    for spot in &input.spots {
        let Some(p) = at(spot) else { continue };
        let name = fitted(&spot.name, TEXT_PX, 130.0);
        let second = spot
            .setpoint_radps
            .map_or("out of reach".to_string(), |w| units.turning.show(w));
        let line = 1.2 * TEXT_PX;
        let width = bold_width_px(&name).max(label_width_px(&second));
        let height = 2.0 * line;
        let mut candidates = Vec::new();
        for far in [10.0, 26.0, 46.0, 70.0, 100.0, 135.0] {
            for d in [
                [-width - 0.3 * far, -height - 0.6 * far + 6.0],
                [0.4 * far, 0.6 * far],
                [-0.5 * width, -height - far],
                [-0.5 * width, far],
                [-width - 0.4 * far, 0.6 * far],
                [0.3 * far, -height - 0.6 * far + 6.0],
            ] {
                candidates.push(Rect {
                    x_px: p[0] + d[0],
                    y_px: p[1] + d[1],
                    width_px: width,
                    height_px: height,
                });
            }
        }
        // The tie starts at the edge of the mark, so that its own mark is not in its way.
        let Some(place) = placer.place_tied(Some(p), candidates).filter(|p| p.free) else {
            continue;
        };
        let r = place.rect;
        let near = r.nearest(p);
        if crate::geometry::distance(p, near) > 16.0 {
            svg.line("q", p, near);
        }
        let x = r.x_px + 0.5 * width;
        svg.text("halo b", [x, r.y_px + line - 3.5], Anchor::Middle, &name);
        svg.text("halo", [x, r.bottom_px() - 3.5], Anchor::Middle, &second);
    }
}

fn label_none(svg: &mut Svg, strip: &Strip, range: (f64, f64), placer: &mut Placer) {
    let text = "out of reach";
    let (width, height) = (bold_width_px(text), 1.2 * TEXT_PX);
    let (a, b) = (strip.x_px(range.0), strip.x_px(range.1));
    let r = strip.rect;
    if b - a < 0.6 * width {
        return;
    }
    let x_px = (0.5 * (a + b - width)).clamp(r.x_px + 3.0, (r.right_px() - width - 3.0).max(r.x_px + 3.0));
    let candidates = [0.45, 0.6, 0.3, 0.75, 0.15].map(|share| Rect {
        x_px,
        y_px: r.y_px + share * r.height_px,
        width_px: width,
        height_px: height,
    });
    if let Some(place) = placer.place(candidates).filter(|p| p.free) {
        svg.text(
            "halo b",
            [x_px, place.rect.bottom_px() - 4.0],
            Anchor::Start,
            text,
        );
    }
}
