//! A check between matches: each shot's miss in standard deviations, its cumulated sums, and the limits that call.

use super::{WIDTH_PX, counted};
use crate::axis::{Axis, Strip};
use crate::geometry::{Rect, span, usable};
use crate::marks::{badge, heading, point};
use crate::place::fitted;
use crate::svg::{Anchor, Svg};
use crate::units::plain;

/// What the picture shows.
#[derive(Clone, Debug, PartialEq)]
pub struct DriftChart {
    /// What the shots are and what they say, below the title.
    pub says: String,
    /// Number of each shot, in the order thrown.
    pub shots: Vec<String>,
    /// One chart under the other.
    pub strips: Vec<DriftStrip>,
}

/// One chart.
#[derive(Clone, Debug, PartialEq)]
pub struct DriftStrip {
    /// What it follows, and what up means.
    pub name: String,
    /// Place of each value among the shots.
    pub places: Vec<usize>,
    /// Values in standard deviations.
    pub z: Vec<f64>,
    /// Upper sum after each value.
    pub upper: Vec<f64>,
    /// Lower sum after each value, counted positive.
    pub lower: Vec<f64>,
    /// Limit of the sums.
    pub limit: f64,
    /// Value at which a sum first exceeded it.
    pub called_at: Option<usize>,
}

const LEFT_PX: f64 = 72.0;
const PLOT_PX: f64 = WIDTH_PX - LEFT_PX - 16.0;
const TOP_PX: f64 = 96.0;
const STRIP_PX: f64 = 128.0;
const GAP_PX: f64 = 40.0;
const TITLE: &str = "Misses against what was learned";
/// Method: numbers of shots along the foot; more would touch.
const MOST_NUMBERS: usize = 18;

/// Draws the picture.
pub fn draw(input: &DriftChart) -> String {
    let rows = input.strips.len().max(1) as f64;
    let foot_px = TOP_PX + rows * STRIP_PX + (rows - 1.0) * GAP_PX;
    let mut svg = Svg::new("drift", WIDTH_PX, foot_px + 76.0);
    let room = WIDTH_PX - 32.0;
    heading(&mut svg, TITLE, &fitted(&input.says, 14.0, room));
    if input.strips.is_empty() {
        svg.text("m", [16.0, TOP_PX], Anchor::Start, "no shot was measured");
    }
    for (i, strip) in input.strips.iter().enumerate() {
        let top_px = TOP_PX + i as f64 * (STRIP_PX + GAP_PX);
        draw_strip(&mut svg, input, strip, top_px, i + 1 == input.strips.len());
    }
    let legend = "circles: each shot; lines: sums up and down; dashed: the limits at which a sum calls";
    svg.text("m sm", [16.0, foot_px + 66.0], Anchor::Start, legend);
    svg.finish(TITLE, &words(input))
}

/// The picture in words.
pub fn words(input: &DriftChart) -> String {
    let mut text = format!(
        "{} against what was learned before. {}",
        counted(input.shots.len(), "shot", "shots"),
        sentence(&input.says)
    );
    for s in &input.strips {
        let end = |sums: &[f64]| span(sums.iter().copied()).map_or(0.0, |(_, high)| high);
        let reached = end(&s.upper).max(end(&s.lower));
        let called = s.called_at.and_then(|at| shot_of(input, s, at));
        text.push_str(&match called {
            Some(shot) => format!(
                " {}: calls at shot {shot}, where a sum exceeds the limit of {}.",
                s.name,
                plain(s.limit, 1)
            ),
            None => format!(
                " {}: no call; the sums reach {} of {}.",
                s.name,
                plain(reached, 1),
                plain(s.limit, 1)
            ),
        });
    }
    text
}

fn sentence(says: &str) -> String {
    let says = says.trim();
    if says.is_empty() || says.ends_with('.') {
        says.to_string()
    } else {
        format!("{says}.")
    }
}

fn shot_of<'a>(input: &'a DriftChart, strip: &DriftStrip, at: usize) -> Option<&'a String> {
    input.shots.get(*strip.places.get(at)?)
}

/// Shots along the foot, by their numbers.
fn along(input: &DriftChart) -> Axis {
    let count = input.shots.len();
    let every = count.div_ceil(MOST_NUMBERS).max(1);
    Axis {
        low: -0.5,
        high: count.max(1) as f64 - 0.5,
        ticks: input
            .shots
            .iter()
            .enumerate()
            .step_by(every)
            .map(|(i, name)| (i as f64, fitted(name, 13.0, 30.0)))
            .collect(),
    }
}

fn draw_strip(svg: &mut Svg, input: &DriftChart, s: &DriftStrip, top_px: f64, last: bool) {
    let limit = if usable(s.limit) { s.limit.abs() } else { 0.0 };
    let reach =
        s.z.iter()
            .chain(&s.upper)
            .chain(&s.lower)
            .filter(|v| usable(**v))
            .fold(1.25 * limit.max(1.0), |m, v| m.max(1.1 * v.abs()));
    let strip = Strip {
        rect: Rect {
            x_px: LEFT_PX,
            y_px: top_px,
            width_px: PLOT_PX,
            height_px: STRIP_PX,
        },
        x: along(input),
        y: Axis::new((-reach, reach), (false, false), 5, &NUMBERS),
    };
    strip.frame(svg, "", last.then_some("shot"));
    let name = fitted(&s.name, 14.0, PLOT_PX);
    svg.text("b", [LEFT_PX, top_px - 8.0], Anchor::Start, &name);
    let (left, right) = (strip.rect.x_px, strip.rect.right_px());
    let zero = strip.y_px(0.0);
    svg.line("q", [left, zero], [right, zero]);
    for edge in [limit, -limit] {
        let y = strip.y_px(edge);
        svg.line("k qd", [left, y], [right, y]);
    }
    let at = |i: usize| s.places.get(i).map_or(f64::NAN, |p| *p as f64);
    for (sums, sign, series) in [(&s.upper, 1.0, 0), (&s.lower, -1.0, 1)] {
        let points = sums.iter().enumerate().map(|(i, v)| [at(i), sign * v]);
        let lines = strip.lines(points);
        strip.curve(
            svg,
            &format!("s c{series} d{series}"),
            &format!("f{series}"),
            &lines,
        );
    }
    svg.open_clipped(strip.rect.grown(6.0));
    for (i, z) in s.z.iter().enumerate() {
        if usable(*z) && usable(at(i)) {
            point(svg, 0, "c2", strip.px([at(i), *z]), 3.6);
        }
    }
    svg.close();
    if let Some(called) = s.called_at
        && let Some(shot) = shot_of(input, s, called)
        && usable(at(called))
    {
        let x = strip.x_px(at(called));
        svg.line("k", [x, strip.rect.y_px], [x, strip.rect.bottom_px()]);
        // On the side where the sum that called is not.
        let up = s.upper.get(called) > s.lower.get(called);
        let y = if up {
            strip.rect.bottom_px() - 12.0
        } else {
            strip.rect.y_px + 12.0
        };
        if shot.chars().count() <= 2 {
            badge(svg, "f1", [x, y], shot);
        } else {
            let label = format!("shot {}", fitted(shot, 13.0, 60.0));
            let room = x + 80.0 < right;
            let (dx, anchor) = if room {
                (4.0, Anchor::Start)
            } else {
                (-4.0, Anchor::End)
            };
            svg.text("b sm halo", [x + dx, y + 4.5], anchor, &label);
        }
    }
}

const NUMBERS: crate::units::Scale = crate::units::Scale {
    symbol: "",
    si_ratio: 1.0,
    shift: 0.0,
    decimals_count: 1,
};
