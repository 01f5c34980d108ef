//! Forces on the piece and slip at the wheel along its path.

mod squeeze;

pub use squeeze::SqueezeAlong;

use arcwright_model::launcher::PassageSample;
use arcwright_model::project::UnitSystem;

use super::WIDTH_PX;
use crate::axis::{Axis, Strip};
use crate::geometry::{Point, Rect, along, distance, nearest_on_line, span, usable};
use crate::marks::{TEXT_PX, bold_width_px, heading, label_width_px};
use crate::place::{Placer, along_level, fitted};
use crate::svg::{Anchor, Hatch, Svg};
use crate::units::Units;

/// What the picture shows.
#[derive(Clone, Debug, PartialEq)]
pub struct GuideForce {
    /// Units shown.
    pub units: UnitSystem,
    /// The passage.
    pub trace: Vec<PassageSample>,
    /// Greatest force on the outer contact, also between the samples.
    pub peak_n: f64,
    /// True when the outer contact is a second wheel.
    pub pair: bool,
    /// What a slow press at the guide's squeeze reads; drawn for comparison.
    pub steady: Option<SteadySqueeze>,
    /// Squeeze along the guide, where it is said how the guide strays; adds a panel.
    pub squeeze: Option<SqueezeAlong>,
}

/// The force of the piece held at a constant squeeze.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SteadySqueeze {
    /// Free diameter less the gap.
    pub squeeze_m: f64,
    /// Force between the two sides.
    pub force_n: f64,
}

const LEFT_PX: f64 = 72.0;
const LANE_TOP_PX: f64 = 64.0;
const LANE_PX: f64 = 20.0;
const HEIGHT_PX: f64 = 522.0;

fn title(input: &GuideForce) -> &'static str {
    if input.pair {
        "Forces and slip between the wheels"
    } else {
        "Forces and slip through the guide"
    }
}

/// Draws the picture.
pub fn draw(input: &GuideForce) -> String {
    let units = Units::of(input.units);
    let more_px = if input.squeeze.is_some() {
        squeeze::HEIGHT_PX
    } else {
        0.0
    };
    let mut svg = Svg::new("force", WIDTH_PX, HEIGHT_PX + more_px);
    heading(&mut svg, title(input), &second_line(input, &units));
    let path = Axis::new(path_range(input), (false, false), 7, &units.length);
    let forces = input
        .trace
        .iter()
        .flat_map(|s| [s.wheel_normal_n, s.guide_normal_n]);
    let force = span(forces.chain(input.steady.map(|s| 1.08 * s.force_n)).chain([0.0])).unwrap_or((0.0, 1.0));
    let slips = input
        .trace
        .iter()
        .flat_map(|s| [s.wheel_slip_mps, s.guide_slip_mps]);
    let slip = span(slips.chain([0.0])).unwrap_or((0.0, 1.0));
    let strip = |y_px: f64, height_px: f64, range: (f64, f64), scale| Strip {
        rect: Rect {
            x_px: LEFT_PX,
            y_px,
            width_px: WIDTH_PX - LEFT_PX - 16.0,
            height_px,
        },
        x: path.clone(),
        y: Axis::new(range, (range.0 < 0.0, true), 5, scale),
    };
    let top = strip(LANE_TOP_PX + 2.0 * LANE_PX + 8.0, 210.0, force, &units.force);
    let foot = strip(352.0, 118.0, slip, &units.speed);

    let grips = runs(&input.trace, gripped);
    let hoods = runs(&input.trace, |s| s.on_hood && s.guide_normal_n > 0.0);
    for (from, to) in &grips {
        for s in [&top, &foot] {
            let (a, b) = (s.x_px(*from), s.x_px(*to));
            svg.rect(
                "bf",
                Rect {
                    x_px: a,
                    width_px: b - a,
                    ..s.rect
                },
            );
        }
    }
    top.frame(&mut svg, &format!("force ({})", units.force.symbol), None);
    foot.frame(
        &mut svg,
        &format!("slip ({})", units.speed.symbol),
        Some(&format!("path of the piece's centre ({})", units.length.symbol)),
    );
    lane(&mut svg, &top, 0, &grips, Hatch::Up, "grips the wheel");
    lane(&mut svg, &top, 1, &hoods, Hatch::Down, "on the hood plate");

    let outer = if input.pair { "upper wheel" } else { "guide" };
    let inner = if input.pair { "lower wheel" } else { "wheel" };
    let line = |f: fn(&PassageSample) -> f64| -> Vec<Point> {
        input.trace.iter().map(|s| [s.path_m, f(s)]).collect()
    };
    let mut upper = Placer::new(top.rect.grown(-2.0));
    draw_steady(&mut svg, &top, input, &units, &mut upper);
    curves(
        &mut svg,
        &top,
        &mut upper,
        [
            (0, inner, line(|s| s.wheel_normal_n)),
            (1, outer, line(|s| s.guide_normal_n)),
        ],
    );
    let mut lower = Placer::new(foot.rect.grown(-2.0));
    curves(
        &mut svg,
        &foot,
        &mut lower,
        [
            (0, inner, line(|s| s.wheel_slip_mps)),
            (1, outer, line(|s| s.guide_slip_mps)),
        ],
    );
    if let Some(along) = &input.squeeze {
        squeeze::draw(&mut svg, along, &units, HEIGHT_PX);
    }
    svg.finish(title(input), &words(input))
}

/// Pressed on the wheel and moving with it.
fn gripped(s: &PassageSample) -> bool {
    /// Physical: a contact that creeps by less than a millimetre in a second is held.
    const HELD_MPS: f64 = 1e-3;
    s.wheel_normal_n > 0.0 && s.wheel_slip_mps.abs() < HELD_MPS
}

/// The picture in words.
pub fn words(input: &GuideForce) -> String {
    let units = Units::of(input.units);
    let Some(peak) = peak(input) else {
        return "No passage to show: there are no forces along the path.".to_string();
    };
    let outer = if input.pair { "upper wheel" } else { "guide" };
    let length: f64 = runs(&input.trace, gripped).iter().map(|(a, b)| b - a).sum();
    let grip = if length > 0.0 {
        format!(
            "It grips the wheel over {} of its path",
            units.length.show(length)
        )
    } else {
        "It slips on the wheel all the way".to_string()
    };
    let steady = match &input.steady {
        Some(s) => format!(
            "; held still at a squeeze of {} it would press with {}",
            units.length.show(s.squeeze_m),
            units.force.show(s.force_n)
        ),
        None => String::new(),
    };
    let even = input
        .squeeze
        .as_ref()
        .map_or_else(String::new, |s| squeeze::words(s, &units));
    format!(
        "The piece presses on the {outer} with up to {}. {grip}{steady}.{even}",
        units.force.show(peak)
    )
}

fn second_line(input: &GuideForce, units: &Units) -> String {
    match peak(input) {
        Some(peak) => format!(
            "greatest force on the {} {}",
            outer_name(input),
            units.force.show(peak)
        ),
        None => "no passage to show".to_string(),
    }
}

/// The greatest outer force; the trace may step over the instant of it.
fn peak(input: &GuideForce) -> Option<f64> {
    let seen = span(input.trace.iter().map(|s| s.guide_normal_n))?.1;
    Some(if usable(input.peak_n) {
        seen.max(input.peak_n)
    } else {
        seen
    })
}

fn outer_name(input: &GuideForce) -> &'static str {
    if input.pair {
        "upper wheel"
    } else {
        "guide and hood"
    }
}

/// From a little before the first contact to a little after the last.
fn path_range(input: &GuideForce) -> (f64, f64) {
    let touching = |s: &&PassageSample| s.wheel_normal_n > 0.0 || s.guide_normal_n > 0.0;
    let all = span(input.trace.iter().map(|s| s.path_m)).unwrap_or((0.0, 0.1));
    let Some((a, b)) = span(input.trace.iter().filter(touching).map(|s| s.path_m)) else {
        return all;
    };
    let margin = 0.06 * (b - a);
    ((a - margin).max(all.0), (b + margin).min(all.1))
}

/// Stretches of path over which a condition holds, from sample to sample.
fn runs(trace: &[PassageSample], holds: fn(&PassageSample) -> bool) -> Vec<(f64, f64)> {
    let mut all = Vec::new();
    let mut open: Option<(f64, f64)> = None;
    for s in trace.iter().filter(|s| usable(s.path_m)) {
        if holds(s) {
            let from = open.map_or(s.path_m, |o| o.0);
            open = Some((from, s.path_m.max(from)));
        } else if let Some(run) = open.take() {
            all.push(run);
        }
    }
    all.extend(open);
    all.retain(|(a, b)| b > a);
    all
}

/// A lane above the strip that shows where something holds, with its name.
fn lane(svg: &mut Svg, strip: &Strip, row: u32, runs: &[(f64, f64)], hatch: Hatch, name: &str) {
    let y = LANE_TOP_PX + LANE_PX * f64::from(row);
    let (top, foot) = (y + 3.0, y + LANE_PX - 3.0);
    let mut widest: Option<(f64, f64)> = None;
    for run in runs {
        let (a, b) = (strip.x_px(run.0), strip.x_px(run.1));
        svg.hatched(hatch, &[[a, top], [b, top], [b, foot], [a, foot]]);
        svg.rect(
            "q",
            Rect {
                x_px: a,
                y_px: top,
                width_px: b - a,
                height_px: foot - top,
            },
        );
        if widest.is_none_or(|w| b - a > w.1 - w.0) {
            widest = Some((a, b));
        }
    }
    let Some((a, b)) = widest else {
        return;
    };
    let (left, right) = (
        runs.first().map_or(a, |r| strip.x_px(r.0)),
        runs.last().map_or(b, |r| strip.x_px(r.1)),
    );
    let width = label_width_px(name);
    let base = y + 14.5;
    if b - a > width + 12.0 {
        svg.text("halo", [0.5 * (a + b), base], Anchor::Middle, name);
    } else if left - strip.rect.x_px > width + 8.0 {
        svg.text("", [left - 7.0, base], Anchor::End, name);
    } else if strip.rect.right_px() - right > width + 8.0 {
        svg.text("", [right + 7.0, base], Anchor::Start, name);
    } else {
        svg.text(
            "halo",
            [0.5 * (a + b), base],
            Anchor::Middle,
            &fitted(name, TEXT_PX, strip.rect.width_px),
        );
    }
}

fn draw_steady(svg: &mut Svg, strip: &Strip, input: &GuideForce, units: &Units, placer: &mut Placer) {
    let Some(steady) = input.steady.filter(|s| usable(s.force_n)) else {
        return;
    };
    let y = strip.y_px(steady.force_n);
    svg.line("s1 k d4", [strip.rect.x_px, y], [strip.rect.right_px(), y]);
    let text = format!(
        "held still at {} squeeze: {}",
        units.length.show(steady.squeeze_m),
        units.force.show(steady.force_n)
    );
    for s in [
        |s: &PassageSample| s.wheel_normal_n,
        |s: &PassageSample| s.guide_normal_n,
    ] {
        for line in strip.lines(input.trace.iter().map(|p| [p.path_m, s(p)])) {
            placer.avoid(&line);
        }
    }
    let (width, height) = (label_width_px(&text), 1.2 * TEXT_PX);
    let candidates = along_level(&strip.rect, y, [width, height], 2.0);
    if let Some(place) = placer.place(candidates).filter(|p| p.free) {
        svg.text(
            "halo",
            [place.rect.x_px, place.rect.bottom_px() - 4.0],
            Anchor::Start,
            &text,
        );
    }
}

/// Draws the curves of a strip and writes each one's name beside it.
fn curves(svg: &mut Svg, strip: &Strip, placer: &mut Placer, lines: [(usize, &str, Vec<Point>); 2]) {
    let drawn: Vec<Vec<Vec<Point>>> = lines.iter().map(|l| strip.lines(l.2.iter().copied())).collect();
    for ((series, _, _), parts) in lines.iter().zip(&drawn) {
        strip.curve(
            svg,
            &format!("s c{series} d{}", 2 * series),
            &format!("f{series}"),
            parts,
        );
        for line in parts {
            placer.avoid(line);
        }
    }
    for (at, (series, name, _)) in lines.iter().enumerate() {
        let Some(line) = drawn
            .get(at)
            .and_then(|parts| parts.iter().max_by_key(|l| l.len()))
        else {
            continue;
        };
        let others: Vec<&Vec<Point>> = drawn
            .iter()
            .enumerate()
            .filter(|(i, _)| *i != at)
            .flat_map(|(_, parts)| parts)
            .collect();
        // Best where the curves are far apart: there the name can belong to one only.
        let mut points: Vec<(f64, Point)> = (1..40)
            .filter_map(|i| along(line, f64::from(i) / 40.0))
            .map(|p| {
                let near = others
                    .iter()
                    .filter_map(|l| nearest_on_line(p, l))
                    .map(|q| distance(p, q));
                (near.fold(60.0, f64::min), p)
            })
            .collect();
        points.sort_by(|a, b| b.0.total_cmp(&a.0));
        let (width, height) = (bold_width_px(name), 1.2 * TEXT_PX);
        let candidates = points.iter().flat_map(|(_, p)| {
            [
                [6.0, -0.5 * height],
                [-width - 6.0, -0.5 * height],
                [-0.5 * width, -height - 2.0],
                [-0.5 * width, 2.0],
            ]
            .map(|d| Rect {
                x_px: p[0] + d[0],
                y_px: p[1] + d[1],
                width_px: width,
                height_px: height,
            })
        });
        if let Some(place) = placer.place(candidates).filter(|p| p.free) {
            let at = [place.rect.x_px, place.rect.bottom_px() - 4.0];
            svg.text(&format!("halo b f{series}"), at, Anchor::Start, name);
        }
    }
}
