//! Gauges for the gap.

use super::build::{cross, label_within};
use super::guide::STATIONS;
use super::parts::{Shop, common};
use super::{Circle, Contour, Layer, Sheet};

/// Common practice, no source: how far a gap may be off its drawing before throws tell.
const GAUGE_MM: f64 = 0.5;

/// Discs in pairs: one of each must pass between wheel and guide, the other must not. One pair for a gap that is the
/// same all along, three for one that goes evenly from the first station to the last. `gap_at` is the gap at a station.
pub(super) fn gauges(shop: &Shop, gap_at: impl Fn(u8) -> f64, between: &str) -> Sheet {
    let k = shop.kerf;
    let (first, last) = (gap_at(1), gap_at(STATIONS));
    let even = first == last;
    let stations: &[u8] = if even { &[1] } else { &[1, 3, STATIONS] };
    let mut contours: Vec<Contour> = Vec::new();
    let mut circles = Vec::new();
    let mut labels = Vec::new();
    let mut notes = common(shop, "1 of each");
    let mut at = 0.0;
    let mut before = 0.0;
    for station in stations {
        let gap = gap_at(*station);
        let (go, no) = (0.5 * (gap - GAUGE_MM), 0.5 * (gap + GAUGE_MM));
        if *station > 1 {
            at += before + no + 10.0;
        }
        before = no;
        let which = if even {
            String::new()
        } else {
            format!(" {station}")
        };
        for (y, word, radius) in [(0.0, "GO", go), (go + no + 10.0, "NO-GO", no)] {
            let middle = [at, y];
            contours.extend(cross(middle, 4.0));
            circles.push(Circle {
                layer: Layer::Cut,
                centre_mm: middle,
                radius_mm: radius + k,
            });
            // Narrower than the disc at these heights.
            let room = 1.5 * radius;
            let above = [at, y + 0.35 * radius];
            labels.push(label_within(above, 6.0, format!("{word}{which}"), room));
            let below = [at, y - 0.5 * radius];
            labels.push(label_within(below, 4.0, shop.say(2.0 * radius), room));
        }
        if even {
            notes.push(format!(
                "Wheel at standstill, battery off. GO ({}) must pass between {between} all along; NO-GO ({}) must pass nowhere. The gap is meant to be {}.",
                shop.say(2.0 * go),
                shop.say(2.0 * no),
                shop.say(gap)
            ));
        } else {
            notes.push(format!(
                "Station {station}: the gap is meant to be {}; GO {station} ({}) must reach it, NO-GO {station} ({}) must not.",
                shop.say(gap),
                shop.say(2.0 * go),
                shop.say(2.0 * no)
            ));
        }
    }
    if !even {
        let end = if first > last { "start" } else { "end" };
        notes.push(format!(
            "Wheel at standstill, battery off. The gap between {between} changes evenly from station 1 to station {STATIONS}: push each disc in from the guide's {end}, where it is wider, until it stops."
        ));
    }
    notes.push(format!(
        "Measure the discs across before use: each is only {} off the gap. Hard edges: do not press them through.",
        shop.say(GAUGE_MM)
    ));
    Sheet {
        name: "gauges",
        title: format!("Go and no-go discs for the gap between {between}"),
        notes,
        contours,
        circles,
        labels,
    }
}
