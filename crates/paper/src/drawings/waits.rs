//! How long one waits for a piece: the share of loads that wait longer, against the time.

use arcwright_model::feed::survey::WaitShare;
use arcwright_model::project::UnitSystem;

use super::{WIDTH_PX, chance};
use crate::axis::{Axis, Strip};
use crate::geometry::{Point, Rect, usable_point};
use crate::marks::heading;
use crate::style::line_class;
use crate::svg::{Anchor, Svg};
use crate::units::Units;

/// What the picture shows.
#[derive(Clone, Debug, PartialEq)]
pub struct WaitsPicture {
    /// Heading.
    pub title: String,
    /// Units shown.
    pub units: UnitSystem,
    /// Loads run.
    pub load_count: usize,
    /// The curve at the waits that were looked at.
    pub waits: Vec<WaitShare>,
    /// The curve of the design before a change, to compare; empty without.
    pub before: Vec<WaitShare>,
    /// What holds most wedges, in words; empty where nothing wedged.
    pub why: String,
}

const HEIGHT_PX: f64 = 400.0;
const LEFT_PX: f64 = 72.0;
const TOP_PX: f64 = 84.0;

/// Draws the picture.
pub fn draw(input: &WaitsPicture) -> String {
    let units = Units::of(input.units);
    let mut svg = Svg::new("waits", WIDTH_PX, HEIGHT_PX);
    let second = if input.why.is_empty() {
        format!("{} loads", input.load_count)
    } else {
        format!("{} loads; {}", input.load_count, input.why)
    };
    heading(&mut svg, &input.title, &second);
    let last = input.waits.iter().map(|w| w.wait_s).fold(1.0, f64::max);
    let strip = Strip {
        rect: Rect {
            x_px: LEFT_PX,
            y_px: TOP_PX,
            width_px: WIDTH_PX - LEFT_PX - 28.0,
            height_px: HEIGHT_PX - TOP_PX - 60.0,
        },
        x: Axis::new((0.0, last), (true, true), 8, &units.time),
        y: Axis::new((0.0, 1.0), (true, true), 5, &units.share),
    };
    strip.frame(
        &mut svg,
        &format!("share that waits longer ({})", units.share.symbol),
        Some(&format!("wait for a piece ({})", units.time.symbol)),
    );
    let mut series: Vec<Series> = vec![
        (&input.waits, |w| w.loads, "of the loads"),
        (&input.waits, |w| w.gaps, "of the gaps between pieces"),
    ];
    if !input.before.is_empty() {
        series[0].2 = "of the loads, now";
        series[1] = (&input.before, |w| w.loads, "of the loads, before the change");
    }
    for (i, (waits, pick, name)) in series.iter().enumerate() {
        let points: Vec<Point> = waits
            .iter()
            .map(|w| [w.wait_s, pick(w).frac])
            .filter(usable_point)
            .map(|p| strip.px(p))
            .collect();
        svg.polyline(&line_class(i), &points);
        for w in *waits {
            let share = pick(w);
            let (low, high) = (
                strip.px([w.wait_s, share.low_frac]),
                strip.px([w.wait_s, share.high_frac]),
            );
            if usable_point(&low) && usable_point(&high) {
                let nudge = 3.0 * i as f64;
                svg.line(
                    &format!("s1 c{i}"),
                    [low[0] + nudge, low[1]],
                    [high[0] + nudge, high[1]],
                );
                for end in [low, high] {
                    svg.line(
                        &format!("s1 c{i}"),
                        [end[0] + nudge - 5.0, end[1]],
                        [end[0] + nudge + 5.0, end[1]],
                    );
                }
            }
        }
        if let Some(first) = points.first() {
            svg.circle(&format!("f{i}"), *first, 3.5);
        }
        let y = TOP_PX - 18.0;
        let x = LEFT_PX + 200.0 * i as f64;
        svg.line(&line_class(i), [x, y], [x + 30.0, y]);
        svg.text("m", [x + 38.0, y + 5.0], Anchor::Start, name);
    }
    svg.finish(&input.title, &words(input))
}

/// A curve: its points, which share of them, its name.
type Series<'a> = (
    &'a [WaitShare],
    fn(&WaitShare) -> arcwright_model::feed::survey::Share,
    &'static str,
);

/// The picture in words.
pub fn words(input: &WaitsPicture) -> String {
    let units = Units::of(input.units);
    let lines: Vec<String> = input
        .waits
        .iter()
        .map(|w| {
            format!(
                "in {} of {} loads (between {} and {}) somebody waits longer than {} for a piece; {} of the gaps are longer",
                chance(w.loads.frac, &units.share),
                input.load_count,
                chance(w.loads.low_frac, &units.share),
                chance(w.loads.high_frac, &units.share),
                units.time.show(w.wait_s),
                chance(w.gaps.frac, &units.share)
            )
        })
        .collect();
    let why = if input.why.is_empty() {
        String::new()
    } else {
        format!(" {}.", input.why)
    };
    let before: Vec<String> = input
        .before
        .iter()
        .map(|w| {
            format!(
                "{} longer than {}",
                chance(w.loads.frac, &units.share),
                units.time.show(w.wait_s)
            )
        })
        .collect();
    let before = if before.is_empty() {
        String::new()
    } else {
        format!(" Before the change: {}.", before.join(", "))
    };
    format!("{}: {}.{why}{before}", input.title, lines.join("; "))
}
