//! The hopper from above: where the pieces of wedged loads lie.

use std::collections::BTreeMap;

use arcwright_model::feed::hopper::Hopper;
use arcwright_model::feed::load::Place;
use arcwright_model::project::UnitSystem;

use super::hopper::{draw_parts, extent};
use super::{WIDTH_PX, counted};
use crate::geometry::{Fit, Rect, span, usable_point};
use crate::marks::heading;
use crate::svg::{Anchor, Svg};
use crate::units::Units;

/// What the picture shows.
#[derive(Clone, Debug, PartialEq)]
pub struct StuckPicture {
    /// Heading.
    pub title: String,
    /// Units shown.
    pub units: UnitSystem,
    /// The hopper.
    pub hopper: Hopper,
    /// Diameter of a piece.
    pub piece_diameter_m: f64,
    /// Loads played.
    pub load_count: usize,
    /// Where the pieces of each wedged load lay.
    pub wedges: Vec<Vec<Place>>,
}

/// Lower ends of the shades, darkest first: share of the wedged loads in which a piece covers the place.
const SHADES: [(f64, &str, &str); 4] = [
    (0.75, "f1 v0", "in 75 or more of 100 wedged loads"),
    (0.5, "f1 v1", "in 50 to 75"),
    (0.25, "f1 v2", "in 25 to 50"),
    (0.05, "f1 v3", "in 5 to 25"),
];
const RULES: &str = ".arcw .v0{fill-opacity:.62}.arcw .v1{fill-opacity:.42}.arcw .v2{fill-opacity:.26}.arcw .v3{fill-opacity:.12}";
const SIDE_PX: f64 = 24.0;
const TOP_PX: f64 = 72.0;
const TALLEST_PX: f64 = 360.0;
const ROW_PX: f64 = 22.0;
/// Where the list of places begins.
const LIST_PX: f64 = 410.0;
/// Places told.
const MOST_PLACES: usize = 4;
/// Method: cells across a piece; fine enough to see its round outline.
const CELLS_COUNT: f64 = 10.0;
/// Method: as many cells along a side at most, whatever the numbers.
const MOST_CELLS: usize = 160;

/// Draws the picture.
pub fn draw(input: &StuckPicture) -> String {
    let points = extent(&input.hopper);
    let x = span(points.iter().map(|p| p[0])).unwrap_or((0.0, 1.0));
    let y = span(points.iter().map(|p| p[1])).unwrap_or((0.0, 1.0));
    let width_px = WIDTH_PX - 2.0 * SIDE_PX;
    let rect = Rect {
        x_px: SIDE_PX,
        y_px: TOP_PX,
        width_px,
        height_px: (width_px * (y.1 - y.0) / (x.1 - x.0).max(1e-3)).clamp(60.0, TALLEST_PX),
    };
    let fit = Fit::new(x, y, rect);
    let foot = rect.bottom_px() + 34.0;
    let places = place_lines(input);
    let rows = SHADES.len().max(1 + places.len());
    let mut svg = Svg::new("stuck", WIDTH_PX, foot + ROW_PX * rows as f64 + 4.0).with_rules(RULES);
    heading(&mut svg, &input.title, &second_line(input));
    svg.open("places");
    cells(&mut svg, &fit, input, x, y);
    svg.close();
    draw_parts(&mut svg, &fit, &input.hopper, None);
    for (i, (_, class, name)) in SHADES.iter().enumerate() {
        let y = foot + ROW_PX * i as f64;
        let key = Rect {
            x_px: SIDE_PX,
            y_px: y - 13.0,
            width_px: 26.0,
            height_px: 16.0,
        };
        svg.rect(class, key);
        svg.text("m", [SIDE_PX + 36.0, y], Anchor::Start, name);
    }
    if !places.is_empty() {
        svg.text("m", [LIST_PX, foot], Anchor::Start, "a piece lies, of 100:");
        for (i, line) in places.iter().enumerate() {
            let y = foot + ROW_PX * (i + 1) as f64;
            svg.text("", [LIST_PX, y], Anchor::Start, line);
        }
    }
    svg.finish(&input.title, &words(input))
}

/// Every part where pieces lie, most often first, and in how many of 100 wedged loads one does.
pub fn rows(input: &StuckPicture) -> Vec<[String; 2]> {
    let all = input.wedges.len().max(1) as f64;
    places(input)
        .into_iter()
        .map(|(name, count)| [name.to_string(), format!("{:.0}", 100.0 * count as f64 / all)])
        .collect()
}

/// The parts where pieces lie most often, each in a line.
fn place_lines(input: &StuckPicture) -> Vec<String> {
    let told = rows(input).into_iter().take(MOST_PLACES);
    told.map(|[name, of_100]| format!("{name} {of_100}")).collect()
}

fn second_line(input: &StuckPicture) -> String {
    let units = Units::of(input.units);
    format!(
        "{} of {}; the way out is on the right; pieces of {}",
        counted(input.wedges.len(), "wedged load", "wedged loads"),
        counted(input.load_count, "load", "loads"),
        units.length.show(input.piece_diameter_m)
    )
}

/// The picture in words.
pub fn words(input: &StuckPicture) -> String {
    let all = input.wedges.len();
    if all == 0 {
        return format!(
            "{}: none of {} wedged.",
            input.title,
            counted(input.load_count, "load", "loads")
        );
    }
    let places = places(input);
    let said: Vec<String> = places
        .iter()
        .take(MOST_PLACES)
        .map(|(name, count)| format!("{name} in {:.0} of 100", 100.0 * *count as f64 / all as f64))
        .collect();
    format!(
        "{}: {}. Of the wedged loads a piece lies {}.",
        input.title,
        second_line(input),
        said.join(", ")
    )
}

/// Part of the hopper that a place is in.
fn part(h: &Hopper, p: &Place) -> &'static str {
    let [x, y, _] = p.at_m;
    let aside = 0.5 * h.chute_width_m * 0.5;
    let sides = |left, middle, right| {
        if y > aside {
            left
        } else if y < -aside {
            right
        } else {
            middle
        }
    };
    let narrowing = h.funnel_m().max(0.5 * h.chute_width_m);
    if x >= 0.0 {
        "in the chute"
    } else if x >= -narrowing {
        sides(
            "left before the mouth",
            "in the middle before the mouth",
            "right before the mouth",
        )
    } else {
        sides(
            "at the left wall",
            "in the middle of the hopper",
            "at the right wall",
        )
    }
}

/// In how many wedged loads a piece lies in each part, most frequent first.
fn places(input: &StuckPicture) -> Vec<(&'static str, usize)> {
    let mut counts: BTreeMap<&'static str, usize> = BTreeMap::new();
    for wedge in &input.wedges {
        let mut seen: Vec<&'static str> = wedge.iter().map(|p| part(&input.hopper, p)).collect();
        seen.sort_unstable();
        seen.dedup();
        for s in seen {
            *counts.entry(s).or_default() += 1;
        }
    }
    let mut all: Vec<(&'static str, usize)> = counts.into_iter().collect();
    all.sort_by_key(|(name, count)| (std::cmp::Reverse(*count), *name));
    all
}

fn cells(svg: &mut Svg, fit: &Fit, input: &StuckPicture, x: (f64, f64), y: (f64, f64)) {
    // Coarser where the hopper is large for its pieces: all of it is on the picture.
    let least = (x.1 - x.0).max(y.1 - y.0) / MOST_CELLS as f64;
    let size = (input.piece_diameter_m / CELLS_COUNT).max(least).max(1e-4);
    let count = |(a, b): (f64, f64)| (((b - a) / size).ceil().max(1.0) as usize).min(MOST_CELLS);
    let (columns, rows) = (count(x), count(y));
    let all = input.wedges.len().max(1) as f64;
    let shade = |c: usize, r: usize| {
        let at = [x.0 + (c as f64 + 0.5) * size, y.0 + (r as f64 + 0.5) * size];
        let covers = |p: &Place| {
            let d = [p.at_m[0] - at[0], p.at_m[1] - at[1]];
            d[0] * d[0] + d[1] * d[1] <= p.radius_m * p.radius_m
        };
        let hit = input.wedges.iter().filter(|w| w.iter().any(covers)).count() as f64 / all;
        SHADES.iter().position(|(low, _, _)| hit >= *low)
    };
    for r in 0..rows {
        // Cells of one shade beside each other are one.
        let mut start = 0;
        while start < columns {
            let kind = shade(start, r);
            let mut end = start + 1;
            while end < columns && shade(end, r) == kind {
                end += 1;
            }
            if let Some(class) = kind.and_then(|k| SHADES.get(k)).map(|s| s.1) {
                let corner = [x.0 + start as f64 * size, y.0 + (r + 1) as f64 * size];
                if usable_point(&corner) {
                    let [x_px, y_px] = fit.px(corner);
                    let cell = Rect {
                        x_px,
                        y_px,
                        width_px: (end - start) as f64 * size * fit.px_per_m,
                        height_px: size * fit.px_per_m,
                    };
                    svg.rect(class, cell);
                }
            }
            start = end;
        }
    }
}
