//! The knobs, each marked where it acts.

use super::{Callout, SideView, drawable};
use crate::geometry::{Fit, Point, direction, distance, moved};
use crate::marks::{Arc, dimension};
use crate::svg::Svg;
use crate::units::Units;

/// The three knobs of the hood, each drawn where it acts.
pub(super) fn draw_knobs(
    svg: &mut Svg,
    fit: &Fit,
    root: Point,
    tip: Point,
    input: &SideView,
    units: &Units,
    labels: &mut Vec<Callout>,
) {
    let along = direction(root, tip);
    let middle = [0.5 * (root[0] + tip[0]), 0.5 * (root[1] + tip[1])];
    let inside = input
        .wheels
        .iter()
        .find(|w| drawable(w))
        .map_or([middle[0] + 1.0, middle[1]], |w| fit.px(w.centre_m));
    let normal = [along[1], -along[0]];
    let away = (middle[0] - inside[0]) * normal[0] + (middle[1] - inside[1]) * normal[1];
    let out = if away >= 0.0 {
        normal
    } else {
        [-normal[0], -normal[1]]
    };
    svg.open("knobs");
    // Reach: a dimension beside the plate.
    let (a, b) = (moved(root, out, 17.0), moved(tip, out, 17.0));
    for (from, to) in [(root, a), (tip, b)] {
        svg.line("s1 c1", moved(from, out, 5.0), moved(to, out, 4.0));
    }
    dimension(svg, "s1 c1", "f1", a, b, 9.0);
    labels.push(Callout {
        anchor: [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])],
        lines: vec![format!("hood reach {}", units.length.show(input.setting.reach_m))],
    });
    // Slide: fore and aft, beside the root.
    let at = moved(moved(root, out, 22.0), along, -16.0);
    dimension(
        svg,
        "s1 c1",
        "f1",
        [at[0] - 15.0, at[1]],
        [at[0] + 15.0, at[1]],
        9.0,
    );
    labels.push(Callout {
        anchor: [at[0] - 15.0, at[1]],
        lines: vec![format!(
            "hood slide {}",
            units.length.signed(input.setting.slide_m)
        )],
    });
    // Tilt: an arc about the root, just beyond the tip.
    let angle = (-along[1]).atan2(along[0]);
    let radius_px = distance(root, tip) + 12.0;
    let half = (22.0 / radius_px).min(0.6);
    let arc = Arc {
        centre: root,
        radius_px,
        from_rad: angle + half,
        to_rad: angle - half,
    };
    arc.arrow(svg, "s1 c1", "f1", 9.0, true);
    labels.push(Callout {
        anchor: arc.at(angle + 0.4 * half),
        lines: vec![format!(
            "hood tilt {}",
            units.angle.signed(input.setting.tilt_rad)
        )],
    });
    svg.close();
}

/// A pair of wheels has one knob, the tilt of the head: an arc about the middle of the gap.
pub(super) fn draw_head_tilt(
    svg: &mut Svg,
    fit: &Fit,
    input: &SideView,
    units: &Units,
    labels: &mut Vec<Callout>,
) {
    let [lower, upper] = input.wheels.as_slice() else {
        return;
    };
    if !drawable(lower) || !drawable(upper) {
        return;
    }
    let (a, b) = (fit.px(lower.centre_m), fit.px(upper.centre_m));
    let centre = [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])];
    let along = direction(centre, b);
    let angle = (-along[1]).atan2(along[0]);
    let radius_px = distance(centre, b) + upper.radius_m * fit.px_per_m + 14.0;
    let half = (28.0 / radius_px).min(0.6);
    let arc = Arc {
        centre,
        radius_px,
        from_rad: angle + half,
        to_rad: angle - half,
    };
    svg.open("knobs");
    arc.arrow(svg, "s1 c1", "f1", 9.0, true);
    svg.close();
    labels.push(Callout {
        anchor: arc.at(angle),
        lines: vec![format!(
            "head tilt {}",
            units.angle.signed(input.setting.tilt_rad)
        )],
    });
}
