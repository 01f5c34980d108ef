//! The hood: cheeks with the scale of tilt, plate with the scale of reach.

use std::f64::consts::FRAC_PI_2;

use arcwright_model::project::{KnobTravel, Project};

use super::build::{arc_slot, capsule, hole, label, line, number, polygon, rectangle, ticks};
use super::guide::Guide;
use super::parts::{
    DEG, MM, SHAPED_WRAP_RAD, Shop, ahead_of_end, common, mark, of_sheet, unit_mm, unit_word,
};
use super::{Layer, Point, Sheet, polar};

/// Physical: how far the hood plate lies behind the guide's end at its longest reach.
const HOOD_BEHIND_MM: f64 = 20.0;
/// Physical: free space between hood plate and both side plates together.
const HOOD_PLAY_MM: f64 = 1.0;

/// Where the hood is held: a pivot and a clamp on the side plates, both in slots that slide.
pub(super) struct Hood {
    /// Outward place of the pivot from the axle.
    pub(super) pivot: f64,
    /// From the pivot toward the axle to the clamp.
    pub(super) arm: f64,
    pub(super) slide: [f64; 2],
    pub(super) tilt: [f64; 2],
    pub(super) reach: [f64; 2],
    /// Where the bar that holds the plate lies, ahead of the guide's end.
    pub(super) bar: f64,
}

impl Hood {
    /// None where there is no hood, or its bend is so wide or the side plates so full that it cannot be held this way.
    pub(super) fn of(project: &Project, shop: &Shop, guide: &Guide) -> Option<Hood> {
        let (knobs, set) = (&project.machine.knobs, &project.machine.setting);
        if (knobs.reach.is_none() && set.reach_m <= 0.0) || guide.wrap() > SHAPED_WRAP_RAD {
            return None;
        }
        let range = |knob: Option<KnobTravel>, now: f64| knob.map_or([now, now], |k| [k.low, k.high]);
        let pivot = guide.radius() - guide.bend;
        let slide = range(knobs.slide, set.slide_m).map(|x| x * MM);
        let travel = slide[0].abs().max(slide[1].abs());
        let arm = (0.6 * pivot).min(40.0);
        let axle = 0.5 * project.cut.axle_hole_m.unwrap_or(0.0) * MM;
        let free = pivot - arm - travel - shop.hole - axle;
        let bar = ahead_of_end(shop, guide, slide) + 2.0 + 4.0 * shop.hole;
        (arm > 2.0 * shop.hole + 9.0 && free > shop.hole).then_some(Hood {
            pivot,
            arm,
            slide,
            tilt: range(knobs.tilt, set.tilt_rad),
            reach: range(knobs.reach, set.reach_m).map(|x| x * MM),
            bar,
        })
    }
}

/// Plate at each side that carries the hood: turns about P, clamped at C along a scale of tilt.
pub(super) fn cheek(project: &Project, shop: &Shop, guide: &Guide, hood: &Hood) -> Sheet {
    let k = shop.kerf;
    let o: Point = [0.0; 2];
    // Frame of the cheek: x along the hood plate, y outward; the plate's inner face at y = bend.
    let angle = |tilt: f64| tilt - FRAC_PI_2;
    let edge = 4.0 * shop.hole;
    let top = guide.bend + shop.sheet + 2.0 * edge;
    let right = (hood.bar + edge).max(hood.arm * hood.tilt[1].sin().max(0.0) + edge);
    let left = edge.max(edge - hood.arm * hood.tilt[0].sin().min(0.0));
    let bottom = hood.arm + edge + 6.0;
    let shoulder = hood.bar - edge;
    let below = guide.bend - 2.0;
    let mut contours = vec![polygon(
        Layer::Cut,
        &[
            [-left - k, -bottom - k],
            [right + k, -bottom - k],
            [right + k, top + k],
            [shoulder.max(-left + 1.0) - k, top + k],
            [shoulder.max(-left + 1.0) - k, below + k],
            [-left - k, below + k],
        ],
    )];
    let mut circles = vec![hole(o, shop.hole - k)];
    let mut labels = vec![
        label([0.5 * (right - left), 0.5 * guide.bend], 5.0, "CHEEK"),
        label([shop.hole + 5.0, 3.0], 4.0, "P"),
    ];
    if hood.tilt[1] - hood.tilt[0] > 1e-6 {
        contours.push(arc_slot(
            o,
            hood.arm,
            [angle(hood.tilt[0]), angle(hood.tilt[1])],
            shop.hole - k,
        ));
        let step = project.machine.knobs.tilt.map_or(0.0, |t| t.step);
        for tick in ticks(hood.tilt, step, hood.arm + 3.0 * shop.hole, DEG) {
            let a = angle(tick.value);
            mark(
                &mut contours,
                &mut labels,
                polar(o, hood.arm, a),
                a,
                shop.hole,
                &tick,
            );
        }
    } else {
        circles.push(hole(polar(o, hood.arm, angle(hood.tilt[0])), shop.hole - k));
    }
    let bar = [hood.bar, guide.bend + shop.sheet + edge];
    circles.push(hole(bar, shop.hole - k));
    contours.push(line(
        Layer::Mark,
        [shoulder.max(-left + 1.0), guide.bend],
        [right, guide.bend],
    ));
    let mut notes = common(shop, "2, one of them turned over");
    notes.push("Outside the side plates: pivot bolt through P, clamp bolt through the round slot. The middle of the clamp bolt stands at the tilt in degrees.".into());
    notes.push(format!(
        "The inner face of the hood plate lies on the marked line, {} from P. A bar of the kit joins the two upper holes outside the hood plate and holds it.",
        shop.say(guide.bend)
    ));
    Sheet {
        name: "hood-cheek",
        title: "Hood cheek with the scale of tilt".into(),
        notes,
        contours,
        circles,
        labels,
    }
}

/// Plate with two slots along a scale of reach; none where the hood is too short to be held.
pub(super) fn hood_plate(project: &Project, shop: &Shop, hood: &Hood) -> Option<Sheet> {
    let k = shop.kerf;
    let first = hood.reach[0].max(hood.bar + 2.0 * shop.hole + 2.0);
    let last = hood.reach[1];
    if last < first {
        return None;
    }
    let width = shop.inside - HOOD_PLAY_MM;
    let length = last + HOOD_BEHIND_MM;
    let mut contours = vec![rectangle(Layer::Cut, [-k, -k], [length + k, width + k])];
    let mut labels = vec![label([0.5 * length, 0.5 * width - 2.5], 6.0, "HOOD PLATE")];
    let mut circles = Vec::new();
    // From the front edge, x = 0, to the bolt: reach less the bar's place.
    let at = |reach: f64| reach - hood.bar;
    for y in [0.25 * width, 0.75 * width] {
        if last - first > 1e-6 {
            contours.push(capsule(Layer::Cut, [at(first), y], [at(last), y], shop.hole - k));
            let step = project.machine.knobs.reach.map_or(0.0, |t| t.step * MM);
            let start = first_step(hood.reach[0], first, step);
            for tick in ticks([start, last], step, 1.0, unit_mm(shop.units)) {
                let toward = if y < 0.5 * width { FRAC_PI_2 } else { -FRAC_PI_2 };
                mark(
                    &mut contours,
                    &mut labels,
                    [at(tick.value), y],
                    toward,
                    shop.hole,
                    &tick,
                );
            }
        } else {
            circles.push(hole([at(first), y], shop.hole - k));
        }
    }
    labels.push(label([6.0, 3.0], 3.0, "front"));
    let mut notes = vec![
        format!("Cut 1. {}", of_sheet(shop, "the guide's sheet")),
        format!(
            "The middle of the bolts in the bar stands at the reach in {}: how far the front edge is beyond the guide's end.",
            unit_word(shop.units)
        ),
        "Round the front edge and sand it smooth. Bolt heads outside only.".into(),
    ];
    if first > hood.reach[0] + 1e-6 {
        notes.push(format!(
            "The scale begins at {} {}: a shorter hood would end behind its bar.",
            number(
                first_step(
                    hood.reach[0],
                    first,
                    project.machine.knobs.reach.map_or(0.0, |t| t.step * MM)
                ) / unit_mm(shop.units)
            ),
            unit_word(shop.units)
        ));
    }
    Some(Sheet {
        name: "hood-plate",
        title: "Hood plate with the scale of reach".into(),
        notes,
        contours,
        circles,
        labels,
    })
}

/// The first step of a scale that is not below a value.
fn first_step(low: f64, least: f64, step: f64) -> f64 {
    if step > 0.0 {
        low + ((least - low) / step - 1e-9).ceil() * step
    } else {
        least
    }
}
