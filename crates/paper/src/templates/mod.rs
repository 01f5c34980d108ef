//! Cutting and forming templates at full size: millimetres, y up, one sheet for each part.
//!
//! The shapes come from [`arcwright_model::launcher::outline`], the same that the simulation pushes the piece
//! through, and from [`arcwright_model::feed::hopper`], the same that pieces are dropped into. A sheet is written as DXF ([`dxf`]), as SVG ([`svg`]) and, over several pages, as PDF ([`pdf`]).

mod build;
pub mod dxf;
mod gauges;
mod guide;
mod hood;
mod hopper;
mod pair;
mod parts;
pub mod pdf;
mod rails;
pub mod svg;

pub use parts::{left_out, sheets};

/// A point on a sheet, millimetres, y up.
pub type Point = [f64; 2];

/// What is done along a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Layer {
    /// Cut through.
    Cut,
    /// Bend or roll here.
    Bend,
    /// Scribe, print or read only.
    Mark,
}

impl Layer {
    /// All, in the order in which they are drawn.
    pub const ALL: [Layer; 3] = [Layer::Mark, Layer::Bend, Layer::Cut];

    /// Its name in the files.
    pub fn name(self) -> &'static str {
        match self {
            Layer::Cut => "CUT",
            Layer::Bend => "BEND",
            Layer::Mark => "MARK",
        }
    }
}

/// A straight or round piece of a contour, from where the last one ended.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Edge {
    /// Straight.
    Line {
        /// End.
        to_mm: Point,
    },
    /// Round.
    Arc {
        /// Centre.
        centre_mm: Point,
        /// Angle run through, counterclockwise positive.
        sweep_rad: f64,
    },
}

/// A line of straight and round pieces.
#[derive(Clone, Debug, PartialEq)]
pub struct Contour {
    /// What is done along it.
    pub layer: Layer,
    /// Where it starts.
    pub start_mm: Point,
    /// Its pieces.
    pub edges: Vec<Edge>,
    /// Does it end where it started?
    pub closed: bool,
}

/// A round hole or disc.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Circle {
    /// What is done along it.
    pub layer: Layer,
    /// Middle.
    pub centre_mm: Point,
    /// Radius.
    pub radius_mm: f64,
}

/// A short text on the part.
#[derive(Clone, Debug, PartialEq)]
pub struct Label {
    /// Middle of its base line.
    pub at_mm: Point,
    /// Height of a capital.
    pub height_mm: f64,
    /// Text.
    pub text: String,
}

/// One part.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// Short name, also of its files.
    pub name: &'static str,
    /// What it is and how many, in a line.
    pub title: String,
    /// What to know before cutting.
    pub notes: Vec<String>,
    /// Lines.
    pub contours: Vec<Contour>,
    /// Round holes and discs.
    pub circles: Vec<Circle>,
    /// Texts on the part.
    pub labels: Vec<Label>,
}

/// Cautions on every sheet.
pub const CAUTIONS: [&str; 3] = [
    "Print at 100 %, no fitting to the page. Measure the 100 mm ruler first; if it is off, do not cut.",
    "Clamp the work, eye protection, guards on the machine, hands away from the cutter; no laser on PVC or polycarbonate.",
    "Young people cut and bend with a supervising adult. The shop's rules and local codes come first.",
];

/// Point at an angle around a centre.
fn polar(centre: Point, radius: f64, angle_rad: f64) -> Point {
    [
        centre[0] + radius * angle_rad.cos(),
        centre[1] + radius * angle_rad.sin(),
    ]
}

impl Edge {
    /// Where it ends when it starts there.
    pub fn end(&self, from: Point) -> Point {
        match *self {
            Edge::Line { to_mm } => to_mm,
            Edge::Arc { centre_mm, sweep_rad } => {
                let [x, y] = [from[0] - centre_mm[0], from[1] - centre_mm[1]];
                polar(centre_mm, x.hypot(y), y.atan2(x) + sweep_rad)
            }
        }
    }
}

impl Contour {
    /// Points along it: every corner, and along arcs one every degree.
    pub fn points(&self) -> Vec<Point> {
        /// Method: a chord over a degree is 0.006 mm off a radius of 150 mm.
        const STEP_RAD: f64 = std::f64::consts::PI / 180.0;
        let mut out = vec![self.start_mm];
        let mut at = self.start_mm;
        for edge in &self.edges {
            if let Edge::Arc { centre_mm, sweep_rad } = *edge {
                let count = (sweep_rad.abs() / STEP_RAD).ceil().clamp(1.0, 720.0) as usize;
                for i in 1..count {
                    let part = Edge::Arc {
                        centre_mm,
                        sweep_rad: sweep_rad * i as f64 / count as f64,
                    };
                    out.push(part.end(at));
                }
            }
            at = edge.end(at);
            out.push(at);
        }
        out
    }
}

impl Sheet {
    /// Corners of the box around all lines: least and greatest x and y.
    pub fn extent(&self) -> [Point; 2] {
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        let mut take = |p: Point, by: f64| {
            for i in 0..2 {
                low[i] = low[i].min(p[i] - by);
                high[i] = high[i].max(p[i] + by);
            }
        };
        for contour in &self.contours {
            contour.points().into_iter().for_each(|p| take(p, 0.0));
        }
        for circle in &self.circles {
            take(circle.centre_mm, circle.radius_mm);
        }
        [low, high]
    }

    /// What would be wrong with cutting it: open contours, contours that cross themselves or each other.
    pub fn faults(&self) -> Vec<String> {
        let mut out = Vec::new();
        let mut lines: Vec<Vec<Point>> = Vec::new();
        for contour in self.contours.iter().filter(|c| c.layer == Layer::Cut) {
            lines.push(contour.points());
        }
        for circle in self.circles.iter().filter(|c| c.layer == Layer::Cut) {
            let around = Contour {
                layer: Layer::Cut,
                start_mm: polar(circle.centre_mm, circle.radius_mm, 0.0),
                edges: vec![Edge::Arc {
                    centre_mm: circle.centre_mm,
                    sweep_rad: std::f64::consts::TAU,
                }],
                closed: true,
            };
            lines.push(around.points());
        }
        for line in &lines {
            let ends = line.first().zip(line.last());
            if ends.is_none_or(|(a, b)| (a[0] - b[0]).hypot(a[1] - b[1]) > CLOSED_MM) {
                out.push(format!("an open contour at {:?}", line.first()));
            }
        }
        for (i, a) in lines.iter().enumerate() {
            for (j, b) in lines.iter().enumerate().skip(i) {
                if apart(a, b) {
                    continue;
                }
                if crosses(a, b, i == j) {
                    out.push(format!(
                        "contours cross: {:?} and {:?}",
                        a.first().unwrap_or(&[0.0; 2]),
                        b.first().unwrap_or(&[0.0; 2])
                    ));
                }
            }
        }
        out
    }
}

/// Rounding: ends nearer than this are one point; files carry a ten-thousandth of a millimetre.
const CLOSED_MM: f64 = 1e-6;

/// Do the boxes around two lines leave each other free?
fn apart(a: &[Point], b: &[Point]) -> bool {
    let ends = |l: &[Point], i: usize| {
        let each = || l.iter().map(|p| p[i]);
        [
            each().fold(f64::INFINITY, f64::min),
            each().fold(f64::NEG_INFINITY, f64::max),
        ]
    };
    (0..2).any(|i| {
        let (p, q) = (ends(a, i), ends(b, i));
        p[1] < q[0] || q[1] < p[0]
    })
}

/// Does a piece of one line cross a piece of the other? Neighbours of one line share a point and may touch.
fn crosses(a: &[Point], b: &[Point], same: bool) -> bool {
    let side = |p: Point, q: Point, r: Point| (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]);
    let pieces = a.len().saturating_sub(1);
    for (i, p) in a.windows(2).enumerate() {
        for (j, q) in b.windows(2).enumerate() {
            if same && (j <= i + 1 || (i == 0 && j + 1 == pieces)) {
                continue;
            }
            let (s1, s2) = (side(p[0], p[1], q[0]), side(p[0], p[1], q[1]));
            let (s3, s4) = (side(q[0], q[1], p[0]), side(q[0], q[1], p[1]));
            if s1 * s2 < 0.0 && s3 * s4 < 0.0 {
                return true;
            }
        }
    }
    false
}

#[cfg(test)]
mod tests {
    use super::build::{capsule, polygon};
    use super::*;

    fn sheet(contours: Vec<Contour>) -> Sheet {
        Sheet {
            name: "test",
            title: String::new(),
            notes: vec![],
            contours,
            circles: vec![],
            labels: vec![],
        }
    }

    #[test]
    fn a_bow_tie_and_an_open_line_are_told_and_a_slot_is_sound() {
        let bow = polygon(Layer::Cut, &[[0.0, 0.0], [10.0, 10.0], [10.0, 0.0], [0.0, 10.0]]);
        assert_eq!(sheet(vec![bow]).faults().len(), 1);
        let mut open = polygon(Layer::Cut, &[[0.0, 0.0], [10.0, 0.0], [10.0, 10.0]]);
        open.edges.pop();
        assert!(sheet(vec![open]).faults()[0].contains("open"));
        let slot = capsule(Layer::Cut, [0.0, 0.0], [30.0, 10.0], 2.5);
        let other = capsule(Layer::Cut, [0.0, 10.0], [30.0, 0.0], 2.5);
        assert!(sheet(vec![slot.clone()]).faults().is_empty());
        assert_eq!(sheet(vec![slot, other]).faults().len(), 1);
    }

    #[test]
    fn a_slot_is_as_long_and_wide_as_its_bolt_needs() {
        let [low, high] = sheet(vec![capsule(Layer::Cut, [0.0, 0.0], [30.0, 0.0], 2.5)]).extent();
        for (found, wanted) in [(low[0], -2.5), (high[0], 32.5), (low[1], -2.5), (high[1], 2.5)] {
            assert!((found - wanted).abs() < 1e-3, "{low:?} {high:?}");
        }
    }
}
