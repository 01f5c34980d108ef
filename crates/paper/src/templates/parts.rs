//! The parts of a thrower with one wheel and a guide, and the gauges of either layout.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use arcwright_model::launcher::outline::{Outline, outline};
use arcwright_model::launcher::{GuideShape, Launcher, Layout};
use arcwright_model::project::{Project, UnitSystem};

use super::build::{
    LEAST_MM, Tick, capsule, cross, hole, label, line, number, rectangle, sheet_slot, ticks, trimmed,
};
use super::gauges::gauges;
use super::guide::{Guide, STATIONS, seen_from, share};
use super::hood::{Hood, cheek, hood_plate};
use super::hopper;
use super::pair::Pair;
use super::{Circle, Contour, Edge, Label, Layer, Point, Sheet, polar};

pub(super) const MM: f64 = 1000.0;
pub(super) const DEG: f64 = PI / 180.0;
/// Common practice, no source: free space between the wheel and its guard.
pub(super) const GUARD_ROOM_MM: f64 = 6.0;
/// Common practice, no source: the guard ends this much before the piece would touch it.
const GUARD_CLEAR_RAD: f64 = 5.0 * DEG;
/// Judgement: a guard over less than this does not stand by itself.
pub(super) const LEAST_GUARD_RAD: f64 = 20.0 * DEG;
/// Where no sheet is stated.
const USUAL_SHEET_MM: f64 = 1.0;
/// Wider guides are cut from a rectangular plate.
pub(super) const SHAPED_WRAP_RAD: f64 = 170.0 * DEG;

/// On every plate that holds a wheel.
pub(super) const SPINNING: &str = "Before a wheel spins: both plates and every guard on, eye protection on, nobody in line with the throw, hands away from the openings.";

/// What all parts share, millimetres.
pub(super) struct Shop {
    /// Half of what the cutter takes away.
    pub(super) kerf: f64,
    pub(super) hole: f64,
    pub(super) pitch: f64,
    pub(super) plate: f64,
    pub(super) material: String,
    pub(super) margin: f64,
    /// Between the side plates.
    pub(super) inside: f64,
    /// Guide sheet.
    pub(super) sheet: f64,
    pub(super) sheet_stated: bool,
    pub(super) units: UnitSystem,
}

impl Shop {
    fn of(project: &Project) -> Shop {
        let (cut, stated) = (&project.cut, project.machine.sheet);
        Shop {
            kerf: 0.5 * cut.kerf_m * MM,
            hole: 0.5 * cut.hole_diameter_m * MM,
            pitch: cut.hole_pitch_m * MM,
            plate: cut.thickness_m * MM,
            material: cut.material.clone(),
            margin: cut.margin_m * MM,
            inside: (project.piece.diameter_m + cut.side_play_m) * MM,
            sheet: stated.map_or(USUAL_SHEET_MM, |s| s.thickness_m * MM),
            sheet_stated: stated.is_some(),
            units: project.units,
        }
    }

    /// A length in words: millimetres as the lines are drawn, beside them inches where the project is read in these.
    pub(super) fn say(&self, mm: f64) -> String {
        match self.units {
            UnitSystem::Metric => format!("{} mm", number(mm)),
            UnitSystem::Us => format!("{} mm = {} in", number(mm), trimmed(mm / unit_mm(self.units), 3)),
        }
    }
}

/// What [`sheets`] leaves out of launcher and hopper, and why, in words.
pub fn left_out(project: &Project, launcher: &Launcher) -> Vec<String> {
    let shop = Shop::of(project);
    let mut out = Vec::new();
    let shape = outline(launcher, &project.machine.setting, project.piece.diameter_m);
    if let Layout::Guide(g) = launcher.layout {
        let has_hood = project.machine.knobs.reach.is_some() || project.machine.setting.reach_m > 0.0;
        let guide = Guide::of(&g, launcher, &shape);
        if !has_guard(&shop, &guide) {
            out.push(
                "no wheel guard: the piece's way leaves it no room; build a cover around the whole launcher"
                    .into(),
            );
        }
        let hood = Hood::of(project, &shop, &guide);
        if !has_hood {
            out.push("no hood: it has no reach".into());
        } else if guide.wrap() > SHAPED_WRAP_RAD {
            out.push("no hood: the side plates of a guide that goes around more than 170 deg stand in the way of its bar; hold it with brackets of your own".into());
        } else if hood.is_none() {
            out.push("no hood: between axle and guide there is no room for its pivot and clamp; hold it with brackets of your own".into());
        }
    }
    if let Layout::Pair(_) = launcher.layout {
        out.extend(Pair::of(project, &shop, &shape).left_out(project));
    }
    out.extend(hopper::parts(project, &shop).1);
    out
}

/// Every part of launcher and hopper, at full size.
///
/// # Errors
/// In words, when the sheet or the cutter do not go with the shape.
pub fn sheets(project: &Project, launcher: &Launcher) -> Result<Vec<Sheet>, String> {
    let shop = Shop::of(project);
    if 2.0 * shop.kerf >= 0.8 * shop.sheet {
        return Err(format!(
            "the cutter takes away {}, and the slots for the sheet are only {} wide",
            shop.say(2.0 * shop.kerf),
            shop.say(shop.sheet)
        ));
    }
    if shop.kerf >= 0.5 * shop.hole {
        return Err(format!(
            "the cutter takes away {}, too much for holes of {}",
            shop.say(2.0 * shop.kerf),
            shop.say(2.0 * shop.hole)
        ));
    }
    let shape = outline(launcher, &project.machine.setting, project.piece.diameter_m);
    let mut all = match launcher.layout {
        Layout::Guide(g) => guide_parts(project, &shop, &g, launcher, &shape),
        Layout::Pair(p) => {
            let mut all = Pair::of(project, &shop, &shape).sheets(project, &shop);
            all.push(gauges(&shop, |_| p.gap_m * MM, "the two wheels"));
            all
        }
    };
    all.extend(hopper::parts(project, &shop).0);
    match all
        .iter()
        .find_map(|s| s.faults().into_iter().next().map(|f| (s.name, f)))
    {
        Some((name, fault)) => Err(format!(
            "the part `{name}` cannot be cut with these dimensions ({fault})"
        )),
        None => Ok(all),
    }
}

fn guide_parts(
    project: &Project,
    shop: &Shop,
    g: &GuideShape,
    launcher: &Launcher,
    shape: &Outline,
) -> Vec<Sheet> {
    let guide = Guide::of(g, launcher, shape);
    let hood = Hood::of(project, shop, &guide);
    let mut out = vec![
        side_plate(project, shop, &guide, hood.as_ref()),
        guide_sheet(shop, &guide),
    ];
    if has_guard(shop, &guide) {
        out.push(guard_strip(shop, &guide));
    }
    if let Some(hood) = &hood {
        out.push(cheek(project, shop, &guide, hood));
        out.extend(hood_plate(project, shop, hood));
    }
    out.push(gauges(shop, |station| guide.gap_at(station), "wheel and guide"));
    out
}

/// How far the side plates go on beyond the guide's end: past the slots in which the hood slides level.
pub(super) fn ahead_of_end(shop: &Shop, guide: &Guide, slide: [f64; 2]) -> f64 {
    let along = guide.ahead()[0];
    let slots = slide.map(|x| x * along + shop.hole + LEAST_MM);
    slots.into_iter().fold(0.5 * shop.margin, f64::max)
}

fn guard_inner(guide: &Guide) -> f64 {
    guide.wheel + GUARD_ROOM_MM
}

fn guard_outer(shop: &Shop, guide: &Guide) -> f64 {
    guard_inner(guide) + shop.sheet
}

/// Angles between which the guard runs: the open side of the wheel, clear of the piece on its way in and out.
fn guard_angles(shop: &Shop, guide: &Guide) -> [f64; 2] {
    let clear = (guide.wheel / guard_outer(shop, guide)).clamp(-1.0, 1.0).acos() + GUARD_CLEAR_RAD;
    [guide.start + clear, guide.end + TAU - clear]
}

fn has_guard(shop: &Shop, guide: &Guide) -> bool {
    let [from, to] = guard_angles(shop, guide);
    to - from > LEAST_GUARD_RAD
}

fn side_plate(project: &Project, shop: &Shop, guide: &Guide, hood: Option<&Hood>) -> Sheet {
    let k = shop.kerf;
    let o: Point = [0.0; 2];
    let (start, end) = (guide.start, guide.end);
    let wrap = guide.wrap();
    let outer = guide.widest() + shop.sheet + shop.margin + k;
    let body = guard_outer(shop, guide) + 0.5 * shop.margin + k;
    let ahead = ahead_of_end(shop, guide, hood.map_or([0.0; 2], |h| h.slide)) + k;
    let back = guide.ramp + shop.margin + k;
    // Where the gap widens toward the start, the way in leans outward behind it.
    let lean = -guide.ramp * (guide.into[0] * start.cos() + guide.into[1] * start.sin());
    let [far_back, low_back] = [
        seen_from(start, outer + lean.max(0.0), -back),
        seen_from(start, lean.min(0.0) - body, -back),
    ];
    let mut contours = Vec::new();
    if wrap <= SHAPED_WRAP_RAD {
        let to = |to_mm: Point| Edge::Line { to_mm };
        let mut edges = vec![
            to(polar(o, outer, end)),
            Edge::Arc {
                centre_mm: o,
                sweep_rad: wrap,
            },
            to(far_back),
            to(low_back),
        ];
        // The two straight sides around the wheel meet, or are joined by an arc about the axle.
        let near = if wrap > FRAC_PI_2 + 1e-6 {
            let along = body * (1.0 - wrap.sin()) / wrap.cos();
            let meet = seen_from(start, -body, along);
            edges.push(to(meet));
            meet[0] * end.cos() + meet[1] * end.sin()
        } else {
            edges.push(to(seen_from(start, -body, 0.0)));
            edges.push(Edge::Arc {
                centre_mm: o,
                sweep_rad: FRAC_PI_2 - wrap,
            });
            0.0
        };
        let shoulder = body.max(near + 1.0);
        edges.push(to(seen_from(end, shoulder, body)));
        edges.push(to(seen_from(end, shoulder, ahead)));
        let start_mm = seen_from(end, outer, ahead);
        edges.push(to(start_mm));
        contours.push(Contour {
            layer: Layer::Cut,
            start_mm,
            edges,
            closed: true,
        });
    } else {
        let around = [far_back, low_back, [outer, outer], [-outer, -outer]];
        let low = |i: usize| around.iter().map(|p| p[i]).fold(f64::INFINITY, f64::min);
        let high = |i: usize| around.iter().map(|p| p[i]).fold(f64::NEG_INFINITY, f64::max);
        contours.push(rectangle(Layer::Cut, [low(0), low(1)], [high(0), high(1)]));
    }
    // The slot that the guide's sheet stands in: its inner face is the guide.
    let (near, far) = (k, shop.sheet - k);
    let first = end + k / guide.radius();
    let face = |angle: f64, beside: f64| polar(o, guide.radius_at(angle) + beside, angle);
    let back_end = |beside: f64| {
        let [x, y] = face(start, beside);
        let by = k - guide.ramp;
        Edge::Line {
            to_mm: [x + by * guide.into[0], y + by * guide.into[1]],
        }
    };
    let mut slot = vec![Edge::Line {
        to_mm: face(first, far),
    }];
    slot.extend(guide.along(far, first, start));
    slot.extend([
        back_end(far),
        back_end(near),
        Edge::Line {
            to_mm: face(start, near),
        },
    ]);
    slot.extend(guide.along(near, start, first));
    contours.push(Contour {
        layer: Layer::Cut,
        start_mm: face(first, near),
        edges: slot,
        closed: true,
    });
    let mut notes = common(shop, "2, one of them turned over");
    let guarded = has_guard(shop, guide);
    if guarded {
        let [from, to] = guard_angles(shop, guide);
        let trim = k / guard_inner(guide);
        contours.push(sheet_slot(
            o,
            [guard_inner(guide) + k, guard_outer(shop, guide) - k],
            [from + trim, to - trim],
        ));
    }
    let mut circles: Vec<Circle> = Vec::new();
    match project.cut.axle_hole_m {
        Some(d) => circles.push(hole(o, 0.5 * d * MM - k)),
        None => contours.extend(cross(o, 8.0)),
    }
    circles.push(Circle {
        layer: Layer::Mark,
        centre_mm: o,
        radius_mm: guide.wheel,
    });
    let mut labels: Vec<Label> = vec![label(
        seen_from(start, 0.5 * guide.radius(), -0.5 * guide.ramp),
        6.0,
        "SIDE PLATE",
    )];
    // Holes of the kit: along the middle of the outer band, and down the back edge.
    let band = guide.widest() + shop.sheet + 0.5 * shop.margin;
    if 0.5 * shop.margin > shop.hole + 1.0 {
        let step = 2.0 * (shop.pitch / (2.0 * band)).min(1.0).asin();
        let room = wrap - 2.0 * shop.margin / band;
        let count = (room / step).floor().clamp(0.0, 200.0) as usize;
        let first = end + 0.5 * (wrap - step * count as f64);
        for i in 0..=count {
            circles.push(hole(polar(o, band, first + step * i as f64), shop.hole - k));
        }
        let (top, bottom) = (band, -body + 0.5 * shop.margin);
        let rows = ((top - bottom) / shop.pitch).floor().clamp(0.0, 200.0) as usize;
        for i in 0..=rows {
            let at = seen_from(
                start,
                top - shop.pitch * i as f64,
                -(guide.ramp + 0.5 * shop.margin),
            );
            circles.push(hole(at, shop.hole - k));
        }
    }
    // Stations to gauge the gap at.
    for station in 1..=STATIONS {
        let angle = start - wrap * share(station);
        let radius = guide.radius_at(angle);
        contours.push(line(
            Layer::Mark,
            polar(o, radius - 6.0, angle),
            polar(o, radius - 1.0, angle),
        ));
        labels.push(label(polar(o, radius - 12.0, angle), 3.0, station.to_string()));
    }
    if let Some(hood) = hood {
        for outward in [hood.pivot, hood.pivot - hood.arm] {
            let middle = seen_from(end, outward, 0.0);
            let at = |x: f64| [middle[0] + x, middle[1]];
            if hood.slide[1] - hood.slide[0] > 1e-6 {
                contours.push(capsule(
                    Layer::Cut,
                    at(hood.slide[0]),
                    at(hood.slide[1]),
                    shop.hole - k,
                ));
                let step = project.machine.knobs.slide.map_or(0.0, |t| t.step * MM);
                let length = unit_mm(shop.units);
                // Numbers on the side that is not cut off ahead of the guide's end.
                let toward = if guide.ahead()[1] > 0.0 {
                    -FRAC_PI_2
                } else {
                    FRAC_PI_2
                };
                for tick in ticks(hood.slide, step, 1.0, length) {
                    mark(
                        &mut contours,
                        &mut labels,
                        at(tick.value),
                        toward,
                        shop.hole,
                        &tick,
                    );
                }
            } else {
                circles.push(hole(at(hood.slide[0]), shop.hole - k));
            }
        }
        let slides = if hood.slide[1] - hood.slide[0] > 1e-6 {
            let unit = unit_word(shop.units);
            format!("the bolts at P (pivot) and C (clamp) slide level; read the slide in {unit} at both")
        } else {
            "a bolt at P (pivot) and one at C (clamp)".into()
        };
        notes.push(format!(
            "Hood: {slides}. Countersunk heads inside: the piece passes there."
        ));
        for (outward, letter) in [(hood.pivot, "P"), (hood.pivot - hood.arm, "C")] {
            let middle = seen_from(end, outward, 0.0);
            // To the right, but where the plate is cut off there.
            let x = if guide.ahead()[0] > 0.5 {
                hood.slide[0] - shop.hole - 5.0
            } else {
                hood.slide[1] + shop.hole + 5.0
            };
            let beside = [middle[0] + x, middle[1] - 2.0];
            labels.push(label(beside, 4.0, letter));
        }
    }
    notes.push(if guide.is_even() {
        format!(
            "The sheet stands in the long slot; its inner face is {} from the axle everywhere, {} from the wheel. Check at the five stations with the gauges before the first spin.",
            shop.say(guide.radius()),
            shop.say(guide.gap_at(STATIONS))
        )
    } else {
        let gaps: Vec<String> = (1..=STATIONS).map(|i| shop.say(guide.gap_at(i))).collect();
        format!(
            "The sheet stands in the long slot; its inner face is {} from the wheel at stations 1 to {STATIONS} (entry_relief in the file). Check with the gauges before the first spin.",
            gaps.join(", ")
        )
    });
    notes.push(format!(
        "Side plates stand {} apart. Forward is to the right: the piece comes in along the straight part of the long slot, goes around the wheel and leaves at station {STATIONS}. The dashed circle is the wheel{}.",
        shop.say(shop.inside),
        if guarded { ", the short slot around it holds its guard" } else { "" }
    ));
    notes.push(SPINNING.into());
    Sheet {
        name: "side-plate",
        title: "Side plate".into(),
        notes,
        contours,
        circles,
        labels,
    }
}

/// A line of a scale with its number.
pub(super) fn mark(
    contours: &mut Vec<Contour>,
    labels: &mut Vec<Label>,
    at: Point,
    toward: f64,
    from: f64,
    tick: &Tick,
) {
    let length = if tick.text.is_some() { 4.5 } else { 2.5 };
    contours.push(line(
        Layer::Mark,
        polar(at, from + 0.8, toward),
        polar(at, from + 0.8 + length, toward),
    ));
    if let Some(text) = &tick.text {
        let mut place = polar(at, from + 8.0, toward);
        place[1] -= 1.0;
        labels.push(label(place, 2.2, text.clone()));
    }
}

pub(super) fn unit_mm(units: UnitSystem) -> f64 {
    match units {
        UnitSystem::Metric => 1.0,
        UnitSystem::Us => 25.4,
    }
}

pub(super) fn unit_word(units: UnitSystem) -> &'static str {
    match units {
        UnitSystem::Metric => "mm",
        UnitSystem::Us => "inches",
    }
}

/// What every part says first.
pub(super) fn common(shop: &Shop, count: &str) -> Vec<String> {
    let of = if shop.material.is_empty() {
        "plate (material not stated)"
    } else {
        &shop.material
    };
    let mut out = vec![format!("Cut {count}, from {of}, {} thick.", shop.say(shop.plate))];
    out.push(if shop.kerf > 0.0 {
        format!(
            "The cutter runs on the lines; they are moved by half of the {} that it takes away.",
            shop.say(2.0 * shop.kerf)
        )
    } else {
        "Lines are the finished edges: cut beside them on the waste side.".into()
    });
    out
}

pub(super) fn of_sheet(shop: &Shop, which: &str) -> String {
    format!(
        "From {which}, {}{}.",
        shop.say(shop.sheet),
        if shop.sheet_stated {
            ""
        } else {
            " (assumed: [launcher.sheet] is not in the file)"
        }
    )
}

/// A strip of the sheet as wide as the guide's, with a line along its middle and its name.
pub(super) fn strip(shop: &Shop, length: f64, middle: Layer, text: &str) -> Sheet {
    let k = shop.kerf;
    let width = shop.inside + 2.0 * shop.plate;
    Sheet {
        name: "",
        title: String::new(),
        notes: vec![],
        contours: vec![
            rectangle(Layer::Cut, [-k, -k], [length + k, width + k]),
            line(middle, [0.0, 0.5 * width], [length, 0.5 * width]),
        ],
        circles: vec![],
        labels: vec![label([0.5 * length, 0.5 * width + 5.0], 6.0, text)],
    }
}

fn guide_sheet(shop: &Shop, guide: &Guide) -> Sheet {
    let k = shop.kerf;
    let wrap = guide.wrap();
    let arc = guide.rolled(shop.sheet, wrap);
    let length = guide.ramp + arc;
    let width = shop.inside + 2.0 * shop.plate;
    let mut contours = vec![rectangle(Layer::Cut, [-k, -k], [length + k, width + k])];
    // In the longer part, clear of the line between both.
    let middle = if arc > guide.ramp {
        guide.ramp + 0.5 * arc
    } else {
        0.5 * guide.ramp
    };
    let mut labels = vec![label([middle, 0.5 * width + 8.0], 6.0, "GUIDE SHEET")];
    for (x, text) in [(guide.ramp, "roll from here"), (length, "")] {
        if x < length {
            contours.push(line(Layer::Bend, [x, 0.0], [x, width]));
            labels.push(label([x + 16.0, 4.0], 3.0, text));
        }
    }
    contours.push(line(Layer::Mark, [0.0, 0.5 * width], [length, 0.5 * width]));
    for station in 1..=STATIONS {
        let x = guide.ramp + guide.rolled(shop.sheet, share(station) * wrap);
        contours.push(line(Layer::Mark, [x, 0.5 * width - 3.0], [x, 0.5 * width + 3.0]));
        // Beside its line, on the sheet: the first lies on the line to roll from.
        let beside = if station < STATIONS { x + 4.0 } else { x - 4.0 };
        labels.push(label([beside, 0.5 * width - 8.0], 3.0, station.to_string()));
    }
    Sheet {
        name: "guide-sheet",
        title: "Guide sheet, flat".into(),
        notes: vec![
            format!("Cut 1. {}", of_sheet(shop, "the guide's sheet")),
            format!(
                "{} straight for the piece to come in, then rolled over {} deg to an inner radius of {}. It springs back: the slots in both side plates hold it.",
                shop.say(guide.ramp),
                number(wrap / DEG),
                if guide.is_even() {
                    shop.say(guide.radius())
                } else {
                    format!(
                        "{} at station 1 and evenly to {} at station {STATIONS}",
                        shop.say(guide.entry()),
                        shop.say(guide.radius())
                    )
                }
            ),
            "Both long edges stand in the slots through the side plates. Stations 1 to 5 are those of the side plate. Round the edge at which the piece comes in.".into(),
        ],
        contours,
        circles: vec![],
        labels,
    }
}

fn guard_strip(shop: &Shop, guide: &Guide) -> Sheet {
    let [from, to] = guard_angles(shop, guide);
    let length = (to - from) * (guard_inner(guide) + 0.5 * shop.sheet);
    Sheet {
        name: "wheel-guard",
        title: "Guard over the open side of the wheel, flat".into(),
        notes: vec![
            format!("Cut 1. {}", of_sheet(shop, "the guide's sheet")),
            format!(
                "Rolled to an inner radius of {}, {} clear of the wheel; its edges stand in the short slots of the side plates. It ends where the piece comes in and goes out: those two openings stay dangerous, keep hands away.",
                shop.say(guard_inner(guide)),
                shop.say(GUARD_ROOM_MM)
            ),
        ],
        ..strip(shop, length, Layer::Bend, "WHEEL GUARD")
    }
}
