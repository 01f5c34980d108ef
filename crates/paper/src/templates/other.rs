//! Gauges for the gap, and the plate of a wheel pair.

use arcwright_model::launcher::outline::Outline;
use arcwright_model::project::Project;

use super::build::{cross, hole, label, line, number, rectangle};
use super::parts::{GUARD_ROOM_MM, MM, Shop, common};
use super::{Circle, Contour, Layer, Point, Sheet};

/// Common practice, no source: how far a gap may be off its drawing before throws tell.
const GAUGE_MM: f64 = 0.5;

/// Two discs: one must pass everywhere between wheel and guide, the other nowhere.
pub(super) fn gauges(shop: &Shop, gap: f64, between: &str) -> Sheet {
    let k = shop.kerf;
    let (go, no) = (0.5 * (gap - GAUGE_MM), 0.5 * (gap + GAUGE_MM));
    let middle = [0.0, go + no + 10.0];
    let mut contours: Vec<Contour> = Vec::new();
    contours.extend(cross([0.0; 2], 4.0));
    contours.extend(cross(middle, 4.0));
    let disc = |centre_mm: Point, radius_mm: f64| Circle {
        layer: Layer::Cut,
        centre_mm,
        radius_mm: radius_mm + k,
    };
    let mut notes = common(shop, "1 of each");
    notes.push(format!(
        "Wheel at standstill, battery off. GO ({} mm) must pass between {between} all along; NO-GO ({} mm) must pass nowhere. The gap is meant to be {} mm.",
        number(2.0 * go),
        number(2.0 * no),
        number(gap)
    ));
    notes.push(format!(
        "Measure both discs across before use: they tell {} mm. Hard edges: do not press them through.",
        number(GAUGE_MM)
    ));
    let name = |y: f64, word: &str, radius: f64| {
        [
            label([0.0, y + 0.35 * radius], 6.0, word.to_string()),
            label(
                [0.0, y - 0.5 * radius],
                4.0,
                format!("{} mm", number(2.0 * radius)),
            ),
        ]
    };
    let mut labels = Vec::new();
    labels.extend(name(0.0, "GO", go));
    labels.extend(name(middle[1], "NO-GO", no));
    Sheet {
        name: "gauges",
        title: format!("Go and no-go discs for the gap between {between}"),
        notes,
        contours,
        circles: vec![disc([0.0; 2], go), disc(middle, no)],
        labels,
    }
}

/// Plate that holds both axles of a pair and the way of the piece between them.
pub(super) fn pair_plate(project: &Project, shop: &Shop, shape: &Outline) -> Sheet {
    let k = shop.kerf;
    let origin = shape.wheels.first().map_or([0.0; 2], |w| w.centre_m);
    // Turned so that the throw goes to the right.
    let f = shape.exit_direction;
    let seen = |p: [f64; 2]| -> Point {
        let [x, y] = [(p[0] - origin[0]) * MM, (p[1] - origin[1]) * MM];
        [x * f[0] + y * f[1], y * f[0] - x * f[1]]
    };
    let mut contours = Vec::new();
    let mut circles = Vec::new();
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for wheel in &shape.wheels {
        let at = seen(wheel.centre_m);
        let radius = wheel.radius_m * MM;
        for i in 0..2 {
            low[i] = low[i].min(at[i] - radius - GUARD_ROOM_MM - shop.margin);
            high[i] = high[i].max(at[i] + radius + GUARD_ROOM_MM + shop.margin);
        }
        circles.push(Circle {
            layer: Layer::Mark,
            centre_mm: at,
            radius_mm: radius,
        });
        match project.cut.axle_hole_m {
            Some(d) => circles.push(hole(at, 0.5 * d * MM - k)),
            None => contours.extend(cross(at, 8.0)),
        }
    }
    if !low.iter().chain(&high).all(|x| x.is_finite()) {
        (low, high) = ([0.0; 2], [100.0; 2]);
    }
    contours.push(rectangle(
        Layer::Cut,
        [low[0] - k, low[1] - k],
        [high[0] + k, high[1] + k],
    ));
    let (from, to) = (seen(shape.start_m), seen(shape.exit_m));
    let radius = 0.5 * project.piece.diameter_m * MM;
    for side in [-radius, radius] {
        contours.push(line(
            Layer::Mark,
            [low[0], from[1] + side],
            [high[0], to[1] + side],
        ));
    }
    let inset = 0.5 * shop.margin;
    if inset > shop.hole + 1.0 {
        for y in [low[1] + inset, high[1] - inset] {
            let count = ((high[0] - low[0] - 2.0 * inset) / shop.pitch)
                .floor()
                .clamp(0.0, 200.0) as usize;
            let first = 0.5 * (low[0] + high[0] - shop.pitch * count as f64);
            for i in 0..=count {
                circles.push(hole([first + shop.pitch * i as f64, y], shop.hole - k));
            }
        }
    }
    let mut notes = common(shop, "2, one of them turned over");
    notes.push(format!(
        "Holds both axles; plates stand {} mm apart. The throw goes to the right; the two long lines are the piece, free on its way, the circles the wheels. Guard both wheels all round.",
        number(shop.inside)
    ));
    Sheet {
        name: "side-plate",
        title: "Side plate of the wheel pair".into(),
        notes,
        contours,
        circles,
        labels: vec![label(
            [0.5 * (low[0] + high[0]), 0.5 * (low[1] + high[1]) - 3.0],
            6.0,
            "SIDE PLATE",
        )],
    }
}
