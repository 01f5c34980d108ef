//! Wheel speed over time as a robot logged it, with the throws that were found.

use arcwright_model::project::UnitSystem;

use super::{WIDTH_PX, counted};
use crate::axis::{Axis, Strip};
use crate::geometry::{Rect, span, usable};
use crate::marks::{badge, heading};
use crate::place::spread;
use crate::svg::Svg;
use crate::units::Units;

/// What the picture shows.
#[derive(Clone, Debug, PartialEq)]
pub struct TelemetryChart {
    /// Units shown.
    pub units: UnitSystem,
    /// Time and wheel speed, row by row.
    pub wheel: Vec<[f64; 2]>,
    /// Time and battery voltage; empty if it is not logged.
    pub battery: Vec<[f64; 2]>,
    /// The throws found, in order.
    pub throws: Vec<Found>,
}

/// One throw that was found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Found {
    /// When the wheel began to fall.
    pub time_s: f64,
    /// Wheel speed before.
    pub before_radps: f64,
    /// Wheel speed after.
    pub after_radps: f64,
}

const LEFT_PX: f64 = 72.0;
const PLOT_PX: f64 = WIDTH_PX - LEFT_PX - 16.0;
const BADGE_PX: f64 = 21.0;
const TITLE: &str = "Wheel speed as logged";

/// Draws the picture.
pub fn draw(input: &TelemetryChart) -> String {
    let units = Units::of(input.units);
    let times = span(input.wheel.iter().map(|p| p[0])).unwrap_or((0.0, 1.0));
    let time = Axis::new(times, (false, false), 7, &units.time);
    let has_volts = !input.battery.is_empty();
    let height = if has_volts { 548.0 } else { 424.0 };
    let strip = |y_px: f64, height_px: f64, y: Axis| Strip {
        rect: Rect {
            x_px: LEFT_PX,
            y_px,
            width_px: PLOT_PX,
            height_px,
        },
        x: time.clone(),
        y,
    };
    let mut svg = Svg::new("telemetry", WIDTH_PX, height);
    heading(&mut svg, TITLE, &second_line(input));
    let speeds = span(input.wheel.iter().map(|p| p[1]).chain([0.0])).unwrap_or((0.0, 1.0));
    // The noise of a wheel at rest is no reason to show backward speeds.
    let low = if speeds.0 > -0.05 * speeds.1 {
        0.0
    } else {
        speeds.0
    };
    let whole = strip(
        92.0,
        110.0,
        Axis::new((low, 1.06 * speeds.1), (true, false), 3, &units.turning),
    );
    let near = strip(226.0, 150.0, near_axis(input, speeds, &units));
    let mut strips = vec![whole, near];
    if has_volts {
        let (low, high) = span(input.battery.iter().map(|p| p[1])).unwrap_or((0.0, 1.0));
        let pad = 0.1 * (high - low);
        strips.push(strip(
            400.0,
            100.0,
            Axis::new((low - pad, high + pad), (false, false), 4, &units.voltage),
        ));
    }
    let titles = [
        format!("speed ({})", units.turning.symbol),
        format!("near throws ({})", units.turning.symbol),
        format!("battery ({})", units.voltage.symbol),
    ];
    let last = strips.len() - 1;
    for (i, (strip, title)) in strips.iter().zip(&titles).enumerate() {
        strip.frame(&mut svg, title, (i == last).then_some("time (s)"));
    }
    mark_throws(&mut svg, input, &strips);
    for (i, strip) in strips.iter().enumerate() {
        let (points, series) = if i == 2 {
            (&input.battery, 2)
        } else {
            (&input.wheel, 0)
        };
        let lines = strip.lines(points.iter().copied());
        strip.curve(&mut svg, &format!("s c{series}"), &format!("f{series}"), &lines);
    }
    if let Some(near) = strips.get(1) {
        svg.open_clipped(near.rect.grown(6.0));
        for t in input.throws.iter().filter(|t| usable(t.time_s)) {
            for (speed, mark) in [(t.before_radps, 0), (t.after_radps, 3)] {
                if usable(speed) {
                    crate::marks::point(&mut svg, mark, "c1", near.px([t.time_s, speed]), 4.0);
                }
            }
        }
        svg.close();
    }
    svg.finish(TITLE, &words(input))
}

/// The picture in words.
pub fn words(input: &TelemetryChart) -> String {
    let units = Units::of(input.units);
    let Some((first, last)) = span(input.wheel.iter().map(|p| p[0])) else {
        return "The log shows nothing.".to_string();
    };
    let deepest = input
        .throws
        .iter()
        .enumerate()
        .filter(|(_, t)| usable(t.before_radps - t.after_radps))
        .max_by(|a, b| (a.1.before_radps - a.1.after_radps).total_cmp(&(b.1.before_radps - b.1.after_radps)));
    let dip = deepest.map_or(String::new(), |(i, t)| {
        format!(
            " Number {} takes the most: from {} to {}.",
            i + 1,
            units.turning.show(t.before_radps),
            units.turning.show(t.after_radps)
        )
    });
    format!(
        "The log of the wheel speed runs over {}; {} found in it.{dip}",
        units.time.show(last - first),
        match input.throws.len() {
            0 => "no throw is".to_string(),
            1 => "1 throw is".to_string(),
            n => format!("{n} throws are"),
        }
    )
}

fn second_line(input: &TelemetryChart) -> String {
    if input.throws.is_empty() {
        return "no throw found".to_string();
    }
    format!(
        "{} found; circles: speed before, diamonds: speed after",
        counted(input.throws.len(), "throw", "throws")
    )
}

/// Speeds around the throws; all of them when there is none.
fn near_axis(input: &TelemetryChart, all: (f64, f64), units: &Units) -> Axis {
    let marked = span(input.throws.iter().flat_map(|t| [t.before_radps, t.after_radps]));
    let (low, high) = marked.unwrap_or(all);
    let pad = 0.18 * (high - low).max(0.01 * high.abs());
    Axis::new((low - pad, high + pad), (false, false), 5, &units.turning)
}

fn mark_throws(svg: &mut Svg, input: &TelemetryChart, strips: &[Strip]) {
    let Some(first) = strips.first() else { return };
    let mut at: Vec<(usize, f64)> = input
        .throws
        .iter()
        .enumerate()
        .filter(|(_, t)| usable(t.time_s))
        .map(|(i, t)| (i, first.x_px(t.time_s)))
        .collect();
    at.sort_by(|a, b| a.1.total_cmp(&b.1));
    let wanted: Vec<f64> = at.iter().map(|a| a.1).collect();
    let across = at.last().map_or(0.0, |a| a.1) - at.first().map_or(0.0, |a| a.1);
    // A long log shows the numbers that have room: every second, third ...
    let every = (at.len() as f64 * BADGE_PX / (across + BADGE_PX))
        .ceil()
        .clamp(1.0, 1e3) as usize;
    let sizes = vec![BADGE_PX / every as f64; at.len()];
    let top = first.rect.y_px;
    let right = first.rect.right_px() + 12.0;
    for ((i, x), centre) in at
        .iter()
        .zip(spread(&wanted, &sizes, first.rect.x_px - 10.0, right))
    {
        for strip in strips {
            svg.line("q qd", [*x, strip.rect.y_px], [*x, strip.rect.bottom_px()]);
        }
        if i % every == 0 {
            svg.line("q", [centre, top - 6.0], [*x, top]);
            badge(svg, "f1", [centre, top - 15.0], &(i + 1).to_string());
        }
    }
}
