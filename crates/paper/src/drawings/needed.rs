//! Exit speed against exit angle: what each spot asks of any launcher.

use arcwright_model::aim::Needed;
use arcwright_model::project::UnitSystem;

use super::{WIDTH_PX, counted};
use crate::axis::{Axis, Strip};
use crate::geometry::{Point, Rect, span, thinned, usable_point};
use crate::marks::{TEXT_PX, bold_width_px, heading, point};
use crate::place::Placer;
use crate::style::line_class;
use crate::svg::{Anchor, Svg};
use crate::units::Units;

/// What the picture shows.
#[derive(Clone, Debug, PartialEq)]
pub struct NeededChart {
    /// Units shown.
    pub units: UnitSystem,
    /// The spots: name, and the exits it asks for, flattest first.
    pub spots: Vec<(String, Vec<Needed>)>,
    /// Highest exit speed that the rules allow.
    pub limit_mps: Option<f64>,
}

const TITLE: &str = "Exit that each spot asks for";
const HEIGHT_PX: f64 = 420.0;
const LEFT_PX: f64 = 72.0;

/// Draws the picture.
pub fn draw(input: &NeededChart) -> String {
    let units = Units::of(input.units);
    let mut svg = Svg::new("needed", WIDTH_PX, HEIGHT_PX);
    heading(&mut svg, TITLE, &second_line(input));
    let strip = strip(input, &units);
    strip.frame(
        &mut svg,
        &format!("exit speed ({})", units.speed.symbol),
        Some(&format!("exit angle above the level ({})", units.angle.symbol)),
    );
    let mut placer = Placer::new(strip.rect.grown(-2.0));
    placer.order_cost_ratio = 1.5;
    svg.open_clipped(strip.rect);
    for (i, (_, exits)) in input.spots.iter().enumerate() {
        for part in exits.split(|n| !n.serves) {
            let edge = |k: usize| part.iter().map(move |n| [n.angle_rad, n.window_mps[k]]);
            let ring: Vec<Point> = edge(0)
                .chain(edge(1).rev())
                .filter(usable_point)
                .map(|p| strip.px(p))
                .collect();
            svg.polygon(&format!("w{}", i % 4), &thinned(&ring));
        }
    }
    if let Some(limit) = input.limit_mps.filter(|l| l.is_finite()) {
        let y = strip.y_px(limit);
        svg.line("k qd", [strip.rect.x_px, y], [strip.rect.right_px(), y]);
        let text = format!("{} allowed", units.speed.show(limit));
        svg.text("halo", [strip.rect.x_px + 6.0, y - 5.0], Anchor::Start, &text);
    }
    for (i, (_, exits)) in input.spots.iter().enumerate() {
        let whole = exits.iter().map(|n| [n.angle_rad, n.speed_mps]);
        for line in strip.lines(whole) {
            svg.polyline("q qd", &line);
            placer.avoid(&line);
        }
        let serving = exits
            .iter()
            .map(|n| [n.angle_rad, if n.serves { n.speed_mps } else { f64::NAN }]);
        for line in strip.lines(serving) {
            svg.polyline(&line_class(i), &line);
        }
    }
    svg.close();
    for (i, (name, exits)) in input.spots.iter().enumerate() {
        let Some(easiest) = easiest(exits) else { continue };
        let p = strip.px([easiest.angle_rad, easiest.speed_mps]);
        if !usable_point(&p) {
            continue;
        }
        point(&mut svg, i, &format!("c{}", i % 4), p, 5.5);
        let text = format!(
            "{name} {} at {}",
            units.speed.show(easiest.speed_mps),
            units.angle.show(easiest.angle_rad)
        );
        let (width, height) = (bold_width_px(&text), 1.2 * TEXT_PX);
        let around = [[-0.5, 10.0], [-0.5, -12.0 - height], [0.02, 12.0], [-1.0, 12.0]];
        let places = around.map(|[share, down]| Rect {
            x_px: (p[0] + share * width).clamp(strip.rect.x_px, strip.rect.right_px() - width),
            y_px: p[1] + down,
            width_px: width,
            height_px: height,
        });
        if let Some(place) = placer.place(places) {
            svg.text(
                &format!("halo b f{}", i % 4),
                [place.rect.x_px, place.rect.bottom_px() - 4.0],
                Anchor::Start,
                &text,
            );
        }
    }
    svg.finish(TITLE, &words(input))
}

/// The picture in words.
pub fn words(input: &NeededChart) -> String {
    let units = Units::of(input.units);
    let spots: Vec<String> = input
        .spots
        .iter()
        .map(|(name, exits)| match easiest(exits) {
            Some(n) => {
                let serving = span(exits.iter().filter(|n| n.serves).map(|n| n.angle_rad));
                let (low, high) = serving.unwrap_or((n.angle_rad, n.angle_rad));
                format!(
                    "{name}: any angle from {} to {} serves, the slowest with {} at {}, going in from {} to {}",
                    units.angle.show(low),
                    units.angle.show(high),
                    units.speed.show(n.speed_mps),
                    units.angle.show(n.angle_rad),
                    units.speed.show(n.window_mps[0]),
                    units.speed.show(n.window_mps[1])
                )
            }
            None => format!("{name}: no exit serves"),
        })
        .collect();
    format!(
        "Without spin, from the height of the wheel's axle. {}.",
        spots.join("; ")
    )
}

/// The exit that serves with the least speed.
fn easiest(exits: &[Needed]) -> Option<&Needed> {
    let serving = exits.iter().filter(|n| n.serves && n.speed_mps.is_finite());
    serving.min_by(|a, b| a.speed_mps.total_cmp(&b.speed_mps))
}

fn second_line(input: &NeededChart) -> String {
    format!(
        "{} · without spin · full line: clears the rim as asked · band: still in",
        counted(input.spots.len(), "spot", "spots")
    )
}

fn strip(input: &NeededChart, units: &Units) -> Strip {
    let all = || input.spots.iter().flat_map(|(_, exits)| exits);
    let angles = span(all().map(|n| n.angle_rad)).unwrap_or((0.35, 1.5));
    // Steep exits need any speed: what serves with at most twice the least should be seen well.
    let least = input.spots.iter().filter_map(|(_, exits)| easiest(exits));
    let most = 2.0 * least.map(|n| n.speed_mps).fold(0.0, f64::max);
    let shown = all().filter(|n| n.serves && n.speed_mps <= most);
    let serving = span(
        shown
            .flat_map(|n| n.window_mps)
            .chain(input.limit_mps.filter(|l| *l <= most)),
    );
    let (low, high) = serving
        .or_else(|| span(all().map(|n| n.speed_mps)))
        .unwrap_or((0.0, 10.0));
    let room = 0.15 * (high - low).max(1.0);
    Strip {
        rect: Rect {
            x_px: LEFT_PX,
            y_px: 64.0,
            width_px: WIDTH_PX - LEFT_PX - 16.0,
            height_px: HEIGHT_PX - 118.0,
        },
        x: Axis::new(angles, (false, false), 7, &units.angle),
        y: Axis::new(
            ((low - room).max(0.0), high + room),
            (true, true),
            6,
            &units.speed,
        ),
    }
}
