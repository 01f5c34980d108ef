//! Pieces that parts are made of: polygons, slots, bands along an arc, scales.

use super::{Circle, Contour, Edge, Label, Layer, Point, polar};

/// A closed line through corners.
pub(super) fn polygon(layer: Layer, corners: &[Point]) -> Contour {
    let start_mm = corners.first().copied().unwrap_or([0.0; 2]);
    let rest = corners.iter().skip(1).chain(corners.first());
    Contour {
        layer,
        start_mm,
        edges: rest.map(|p| Edge::Line { to_mm: *p }).collect(),
        closed: true,
    }
}

/// A rectangle between two corners.
pub(super) fn rectangle(layer: Layer, low: Point, high: Point) -> Contour {
    polygon(layer, &[low, [high[0], low[1]], high, [low[0], high[1]]])
}

/// Corners moved outward so that every side of a counterclockwise polygon moves by the same distance.
pub(super) fn grown(corners: &[Point], by: f64) -> Vec<Point> {
    let count = corners.len();
    let out = |a: Point, b: Point| -> Option<Point> {
        let (x, y) = (b[0] - a[0], b[1] - a[1]);
        let length = x.hypot(y);
        (length > 0.0).then(|| [y / length, -x / length])
    };
    (0..count)
        .map(|i| {
            let (p, before, after) = (
                corners[i],
                corners[(i + count - 1) % count],
                corners[(i + 1) % count],
            );
            let (Some(m), Some(n)) = (out(before, p), out(p, after)) else {
                return p;
            };
            // Along the middle between both directions, until both sides have moved.
            let reach = by / (1.0 + m[0] * n[0] + m[1] * n[1]);
            [p[0] + reach * (m[0] + n[0]), p[1] + reach * (m[1] + n[1])]
        })
        .collect()
}

/// A straight line.
pub(super) fn line(layer: Layer, from: Point, to: Point) -> Contour {
    Contour {
        layer,
        start_mm: from,
        edges: vec![Edge::Line { to_mm: to }],
        closed: false,
    }
}

/// A cross to drill or to lay over.
pub(super) fn cross(at: Point, half_mm: f64) -> [Contour; 2] {
    [
        line(Layer::Mark, [at[0] - half_mm, at[1]], [at[0] + half_mm, at[1]]),
        line(Layer::Mark, [at[0], at[1] - half_mm], [at[0], at[1] + half_mm]),
    ]
}

/// Physical: less material than this between two cuts breaks.
pub(super) const LEAST_MM: f64 = 2.0;

/// Drills a hole where it lies inside a part with material left around it; does nothing elsewhere.
pub(super) fn drill(contours: &[Contour], circles: &mut Vec<Circle>, at: Point, radius_mm: f64) {
    let (mut inside, mut room) = (false, f64::INFINITY);
    for contour in contours.iter().filter(|c| c.layer == Layer::Cut) {
        for piece in contour.points().windows(2) {
            let [a, b] = [piece[0], piece[1]];
            if (a[1] > at[1]) != (b[1] > at[1]) {
                let x = a[0] + (at[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0]);
                inside ^= x > at[0];
            }
            let (d, p) = ([b[0] - a[0], b[1] - a[1]], [at[0] - a[0], at[1] - a[1]]);
            let along = (p[0] * d[0] + p[1] * d[1]) / (d[0] * d[0] + d[1] * d[1]).max(f64::MIN_POSITIVE);
            let along = along.clamp(0.0, 1.0);
            room = room.min((p[0] - along * d[0]).hypot(p[1] - along * d[1]));
        }
    }
    for other in circles.iter().filter(|c| c.layer == Layer::Cut) {
        let [x, y] = other.centre_mm;
        room = room.min((at[0] - x).hypot(at[1] - y) - other.radius_mm);
    }
    if inside && room >= radius_mm + LEAST_MM {
        circles.push(hole(at, radius_mm));
    }
}

/// A hole.
pub(super) fn hole(centre_mm: Point, radius_mm: f64) -> Circle {
    Circle {
        layer: Layer::Cut,
        centre_mm,
        radius_mm,
    }
}

/// A straight slot in which a bolt goes from one place to another; a circle in two halves where they are one.
pub(super) fn capsule(layer: Layer, a: Point, b: Point, radius_mm: f64) -> Contour {
    let angle = (b[1] - a[1]).atan2(b[0] - a[0]);
    let half_turn = std::f64::consts::PI;
    let right = angle - 0.5 * half_turn;
    let start_mm = polar(a, radius_mm, right);
    let mut edges = Vec::new();
    if (b[0] - a[0]).hypot(b[1] - a[1]) > 1e-9 {
        edges.push(Edge::Line {
            to_mm: polar(b, radius_mm, right),
        });
    }
    edges.push(Edge::Arc {
        centre_mm: b,
        sweep_rad: half_turn,
    });
    if (b[0] - a[0]).hypot(b[1] - a[1]) > 1e-9 {
        edges.push(Edge::Line {
            to_mm: polar(a, radius_mm, right + half_turn),
        });
    }
    edges.push(Edge::Arc {
        centre_mm: a,
        sweep_rad: half_turn,
    });
    Contour {
        layer,
        start_mm,
        edges,
        closed: true,
    }
}

/// A round slot in which a bolt goes along an arc, from one angle to a greater one.
pub(super) fn arc_slot(centre: Point, radius_mm: f64, [from, to]: [f64; 2], half_mm: f64) -> Contour {
    let half_turn = std::f64::consts::PI;
    Contour {
        layer: Layer::Cut,
        start_mm: polar(centre, radius_mm + half_mm, from),
        edges: vec![
            Edge::Arc {
                centre_mm: centre,
                sweep_rad: to - from,
            },
            Edge::Arc {
                centre_mm: polar(centre, radius_mm, to),
                sweep_rad: half_turn,
            },
            Edge::Arc {
                centre_mm: centre,
                sweep_rad: from - to,
            },
            Edge::Arc {
                centre_mm: polar(centre, radius_mm, from),
                sweep_rad: half_turn,
            },
        ],
        closed: true,
    }
}

/// A slot for a sheet bent along an arc, square at its ends.
pub(super) fn sheet_slot(centre: Point, [inner, outer]: [f64; 2], [from, to]: [f64; 2]) -> Contour {
    Contour {
        layer: Layer::Cut,
        start_mm: polar(centre, inner, from),
        edges: vec![
            Edge::Line {
                to_mm: polar(centre, outer, from),
            },
            Edge::Arc {
                centre_mm: centre,
                sweep_rad: to - from,
            },
            Edge::Line {
                to_mm: polar(centre, inner, to),
            },
            Edge::Arc {
                centre_mm: centre,
                sweep_rad: from - to,
            },
        ],
        closed: true,
    }
}

/// A value of a scale and what stands beside it, if anything does.
pub(super) struct Tick {
    /// The value.
    pub value: f64,
    /// Its text.
    pub text: Option<String>,
}

/// Values of a knob to be marked: its own steps, or coarser ones where these would run together.
///
/// `per_unit_mm` is the way of the mark for one unit of the value; `unit` the value of one written unit.
pub(super) fn ticks([low, high]: [f64; 2], step: f64, per_unit_mm: f64, unit: f64) -> Vec<Tick> {
    /// Physical: closer lines run together under a pencil.
    const LEAST_MM: f64 = 0.8;
    /// Physical: numbers closer than this overlap.
    const LEAST_TEXT_MM: f64 = 7.0;
    const MOST: usize = 400;
    let round = |x: f64| (x / unit * 1e6).round() / 1e6;
    let (low_u, high_u) = (round(low), round(high));
    let way = (per_unit_mm * unit).abs();
    if !(way > 0.0 && high_u >= low_u) {
        return Vec::new();
    }
    let steps = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0];
    let own = round(step);
    let base = if own > 0.0 { own } else { 1.0 };
    let every = |least: f64| {
        let found = steps.iter().map(|k| k * base).find(|s| s * way >= least);
        found.unwrap_or(base * 100.0)
    };
    let (fine, coarse) = (every(LEAST_MM), every(LEAST_TEXT_MM));
    // Numbers stand at round values where the steps meet them.
    let whole = |x: f64| (x - x.round()).abs() < 1e-6;
    let origin = if whole(low_u / fine) { 0.0 } else { low_u };
    let count = (((high_u - low_u) / fine + 1e-9).floor() as usize).min(MOST);
    (0..=count)
        .map(|i| {
            let v = low_u + fine * i as f64;
            let off = (v - origin) / coarse;
            let named = whole(off);
            Tick {
                value: v * unit,
                text: named.then(|| number(v)),
            }
        })
        .collect()
}

/// A number without needless zeros.
pub(super) fn number(x: f64) -> String {
    trimmed(x, 2)
}

/// A number with at most so many digits behind the point.
pub(super) fn trimmed(x: f64, digits: usize) -> String {
    let text = format!("{x:.digits$}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".into() } else { text.into() }
}

/// A text.
pub(super) fn label(at_mm: Point, height_mm: f64, text: impl Into<String>) -> Label {
    Label {
        at_mm,
        height_mm,
        text: text.into(),
    }
}

/// A text that stays within a width; its letters get smaller where it would not.
pub(super) fn label_within(at_mm: Point, height_mm: f64, text: impl Into<String>, room_mm: f64) -> Label {
    /// Physical: width of a usual letter over the height of a capital.
    const LETTER_RATIO: f64 = 0.9;
    let text = text.into();
    let usual = LETTER_RATIO * text.chars().count().max(1) as f64;
    label(at_mm, height_mm.min(room_mm / usual), text)
}
