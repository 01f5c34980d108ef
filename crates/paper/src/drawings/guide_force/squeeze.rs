//! The panel below the forces: squeeze along the guide, meant and found.

use arcwright_model::launcher::guide_quality::GuideQuality;
use arcwright_model::launcher::{GuideError, Launcher, Layout};

use super::LEFT_PX;
use crate::axis::{Axis, Strip};
use crate::drawings::WIDTH_PX;
use crate::geometry::{Point, Rect, span, usable};
use crate::marks::{TEXT_PX, bold_width_px, label_width_px, point};
use crate::place::{Placer, along_level};
use crate::svg::{Anchor, Svg};
use crate::units::Units;

/// Squeeze along a guide that strays from its arc.
#[derive(Clone, Debug, PartialEq)]
pub struct SqueezeAlong {
    /// Distance along the guide from its start, and squeeze there.
    pub found_m: Vec<[f64; 2]>,
    /// Squeeze meant at the start and at the end of the guide; in between it goes evenly from one to the other.
    pub meant_m: [f64; 2],
    /// Mean of the squeeze found.
    pub mean_m: f64,
    /// Where it is most out: distance along the guide and squeeze.
    pub worst_m: [f64; 2],
    /// True when the place of the lumps is not known and this is one of many that may be.
    pub one_of_many: bool,
}

impl SqueezeAlong {
    /// From what was found over a launcher's guide.
    pub fn of(q: &GuideQuality, launcher: &Launcher) -> SqueezeAlong {
        let radius_m = match launcher.layout {
            Layout::Guide(g) => g.radius_m(launcher.wheel_radius_m),
            Layout::Pair(p) => launcher.wheel_radius_m + p.gap_m,
        };
        SqueezeAlong {
            found_m: q.squeeze_m.iter().map(|(at, s)| [radius_m * at, *s]).collect(),
            meant_m: [q.squeeze_meant_start_m, q.squeeze_meant_m],
            mean_m: q.squeeze_mean_m,
            worst_m: [q.worst_along_m, q.squeeze_mean_m + q.worst_by_m],
            one_of_many: matches!(launcher.guide_error, GuideError::Wave { .. }),
        }
    }
}

/// Height that the panel adds to the picture.
pub(super) const HEIGHT_PX: f64 = 180.0;
const STRIP_PX: f64 = 96.0;

/// How far the worst place is out, in words: `3.2 mm less than the mean at 170 mm`; `None` where nothing is.
fn worst_words(input: &SqueezeAlong, units: &Units) -> Option<String> {
    /// Physical: to the tenth of a millimetre in which a gap is measured, and the millimetre along the guide.
    const TENTH_M: f64 = 1e-4;
    let [at, squeeze] = input.worst_m;
    let tenths = ((squeeze - input.mean_m) / TENTH_M).round();
    (usable(tenths) && usable(at) && tenths != 0.0).then(|| {
        format!(
            "{} {} than the mean at {}",
            units.length.show(tenths.abs() * TENTH_M),
            if tenths < 0.0 { "less" } else { "more" },
            units
                .length
                .show((at / (10.0 * TENTH_M)).round() * 10.0 * TENTH_M)
        )
    })
}

/// The panel in words.
pub(super) fn words(input: &SqueezeAlong, units: &Units) -> String {
    let mean = units.length.show(input.mean_m);
    match worst_words(input, units) {
        None => format!(" The squeeze is {mean} all along the guide."),
        Some(worst) if input.one_of_many => {
            format!(
                " The squeeze, {mean} on average, is most out in this throw with {worst}; where the lumps lie is not known."
            )
        }
        Some(worst) => format!(" The squeeze, {mean} on average, is most out along the guide with {worst}."),
    }
}

/// Draws the panel with its top at a height.
pub(super) fn draw(svg: &mut Svg, input: &SqueezeAlong, units: &Units, top_px: f64) {
    let xs = span(input.found_m.iter().map(|p| p[0])).unwrap_or((0.0, 0.1));
    let ys = span(
        input
            .found_m
            .iter()
            .map(|p| p[1])
            .chain(input.meant_m)
            .chain([input.worst_m[1]]),
    )
    .unwrap_or((0.0, 0.01));
    // A margin for the names, and so that a straight line is not pressed against the frame.
    let margin = (0.25 * (ys.1 - ys.0)).max(0.05 * ys.1.abs());
    let strip = Strip {
        rect: Rect {
            x_px: LEFT_PX,
            y_px: top_px + 34.0,
            width_px: WIDTH_PX - LEFT_PX - 16.0,
            height_px: STRIP_PX,
        },
        x: Axis::new(xs, (false, false), 7, &units.length),
        y: Axis::new((ys.0 - margin, ys.1 + margin), (true, true), 4, &units.length),
    };
    let title = if input.one_of_many {
        "squeeze along the guide in this throw; where the lumps lie is not known"
    } else {
        "squeeze along the guide, as measured"
    };
    svg.text("", [LEFT_PX, top_px + 24.0], Anchor::Start, title);
    strip.frame(
        svg,
        &format!("squeeze ({})", units.length.symbol),
        Some(&format!(
            "along the guide from its start ({})",
            units.length.symbol
        )),
    );
    let mut placer = Placer::new(strip.rect.grown(-2.0));
    let lines = strip.lines(input.found_m.iter().copied());
    strip.curve(svg, "s c2 d0", "f2", &lines);
    for line in &lines {
        placer.avoid(line);
    }
    let is_meant = input.meant_m.iter().all(|m| usable(*m));
    if is_meant {
        let [from, to] = input.meant_m.map(|m| strip.y_px(m));
        let (a, b) = ([strip.rect.x_px, from], [strip.rect.right_px(), to]);
        svg.line("s1 k d4", a, b);
        placer.avoid(&[a, b]);
    }
    if let Some(text) = worst_words(input, units) {
        let at = strip.px(input.worst_m);
        let at = [
            at[0].clamp(strip.rect.x_px, strip.rect.right_px()),
            strip.y_px(input.worst_m[1]),
        ];
        point(svg, 0, "c1", at, 5.0);
        placer.take(Rect {
            x_px: at[0] - 7.0,
            y_px: at[1] - 7.0,
            width_px: 14.0,
            height_px: 14.0,
        });
        let size: Point = [bold_width_px(&text), 1.2 * TEXT_PX];
        let sides = [9.0, 14.0, 24.0, 40.0].into_iter().flat_map(|d| {
            [
                [at[0] + d, at[1] - 0.5 * size[1]],
                [at[0] - d - size[0], at[1] - 0.5 * size[1]],
                [at[0] + d, at[1] - size[1] - 2.0],
                [at[0] - d - size[0], at[1] - size[1] - 2.0],
                [at[0] + d, at[1] + 2.0],
                [at[0] - d - size[0], at[1] + 2.0],
                [at[0] - 0.5 * size[0], at[1] - size[1] - d],
                [at[0] - 0.5 * size[0], at[1] + d],
            ]
        });
        label(svg, &mut placer, sides, size, "halo b f1", &text);
    }
    if is_meant {
        let [from, to] = input.meant_m;
        let text = if from == to {
            format!("meant {}", units.length.show(to))
        } else {
            format!("meant {} to {}", units.length.show(from), units.length.show(to))
        };
        let size = [label_width_px(&text), 1.2 * TEXT_PX];
        let places: Vec<Point> = along_level(&strip.rect, strip.y_px(0.5 * (from + to)), size, 2.0)
            .map(|r| [r.x_px, r.y_px])
            .collect();
        label(svg, &mut placer, places, size, "halo", &text);
    }
}

fn label(
    svg: &mut Svg,
    placer: &mut Placer,
    places: impl IntoIterator<Item = Point>,
    size: Point,
    class: &str,
    text: &str,
) {
    let candidates = places.into_iter().map(|p| Rect {
        x_px: p[0],
        y_px: p[1],
        width_px: size[0],
        height_px: size[1],
    });
    if let Some(place) = placer.place(candidates).filter(|p| p.free) {
        let at = [place.rect.x_px, place.rect.bottom_px() - 4.0];
        svg.text(class, at, Anchor::Start, text);
    }
}
