//! The guide as it is cut: the arcs that the simulation pushes the piece along.

use std::f64::consts::FRAC_PI_2;

use arcwright_model::launcher::outline::{ElementRole, Outline, Shape, spiral};
use arcwright_model::launcher::{GuideShape, Launcher};

use super::parts::MM;
use super::{Edge, Point};

/// The guide in its own terms: angles about the axle, which is the origin.
pub(super) struct Guide {
    shape: GuideShape,
    pub(super) wheel: f64,
    pub(super) start: f64,
    pub(super) end: f64,
    /// Length of the straight way in.
    pub(super) ramp: f64,
    /// Its direction.
    pub(super) into: Point,
    pub(super) bend: f64,
}

impl Guide {
    pub(super) fn of(g: &GuideShape, launcher: &Launcher, shape: &Outline) -> Guide {
        let mut guide = Guide {
            shape: *g,
            wheel: launcher.wheel_radius_m * MM,
            start: FRAC_PI_2 + g.end_angle_rad + g.wrap_rad,
            end: FRAC_PI_2 + g.end_angle_rad,
            ramp: 0.0,
            into: shape.feed_direction,
            bend: g.hood_bend_m * MM,
        };
        for element in &shape.elements {
            if let (ElementRole::Ramp, Shape::Line { from_m, to_m }) = (element.role, element.shape) {
                guide.ramp = (to_m[0] - from_m[0]).hypot(to_m[1] - from_m[1]) * MM;
            }
        }
        guide
    }

    /// Angle over which it runs.
    pub(super) fn wrap(&self) -> f64 {
        self.start - self.end
    }

    /// Radius at an angle about the axle.
    pub(super) fn radius_at(&self, angle: f64) -> f64 {
        self.wheel + self.shape.gap_at_m((self.start - angle) / self.wrap()) * MM
    }

    /// Radius at its end, where the hood goes on.
    pub(super) fn radius(&self) -> f64 {
        self.radius_at(self.end)
    }

    /// Radius at its start; another only where the gap changes along the arc.
    pub(super) fn entry(&self) -> f64 {
        self.radius_at(self.start)
    }

    /// Along the piece's way at its end.
    pub(super) fn ahead(&self) -> Point {
        forward(self.end)
    }

    /// Gap at a station.
    pub(super) fn gap_at(&self, station: u8) -> f64 {
        self.shape.gap_at_m(share(station)) * MM
    }

    /// The wider of its radii.
    pub(super) fn widest(&self) -> f64 {
        self.radius().max(self.entry())
    }

    /// Is the gap the same all along?
    pub(super) fn is_even(&self) -> bool {
        self.shape.entry_relief_m == 0.0
    }

    /// Edges that follow the guide at a distance from its face, from one angle about the axle to another. They are the
    /// arcs that the piece is pushed along.
    pub(super) fn along(&self, beside: f64, from: f64, to: f64) -> Vec<Edge> {
        let (high, low) = (from.max(to), from.min(to));
        let radii = [high, low].map(|a| (self.radius_at(a) + beside) / MM);
        let arcs = spiral([0.0; 2], radii, [high, low]).into_iter();
        let mut edges: Vec<Edge> = arcs
            .filter_map(|shape| match shape {
                Shape::Arc {
                    centre_m,
                    from_rad,
                    to_rad,
                    ..
                } => Some(Edge::Arc {
                    centre_mm: centre_m.map(|x| x * MM),
                    sweep_rad: if to > from {
                        from_rad - to_rad
                    } else {
                        to_rad - from_rad
                    },
                }),
                Shape::Line { .. } => None,
            })
            .collect();
        if to > from {
            edges.reverse();
        }
        edges
    }

    /// Length of the guide's sheet, along the middle of its thickness, from the start to an angle further on.
    pub(super) fn rolled(&self, sheet: f64, angle_from_start: f64) -> f64 {
        // Elastic rolling keeps the middle of the thickness: ∫ (R + t/2) dθ, R going evenly from one end to the other.
        angle_from_start * (self.radius_at(self.start - 0.5 * angle_from_start) + 0.5 * sheet)
    }
}

/// Stations at which the gap is gauged: 1 at the guide's start, the last at its end.
pub(super) const STATIONS: u8 = 5;

/// How far along the arc a station is, as a share of it.
pub(super) fn share(station: u8) -> f64 {
    (f64::from(station) - 1.0) / f64::from(STATIONS - 1)
}

/// Along the piece's way at a place of the guide.
fn forward(angle: f64) -> Point {
    [angle.sin(), -angle.cos()]
}

/// A point by its distances outward and forward, seen from a place of the guide.
pub(super) fn seen_from(angle: f64, outward: f64, ahead: f64) -> Point {
    let (u, f) = ([angle.cos(), angle.sin()], forward(angle));
    [outward * u[0] + ahead * f[0], outward * u[1] + ahead * f[1]]
}
