//! The skin in one orientation: which stretches of a row around the piece are hole or seam.

use std::f64::consts::TAU;

use super::footprint::Row;
use super::surface::{Surface, turned};
use crate::numerics::vector::norm;

/// A stretch of a row, azimuth from and to.
pub(super) type Stretch = (f64, f64);

/// Shortest turn between two azimuths.
pub(super) fn turn_between(a: f64, b: f64) -> f64 {
    let d = (a - b).rem_euclid(TAU);
    d.min(TAU - d)
}

/// Inside a stretch. One that starts at 0 goes on from before, see [`stretch`].
pub(super) fn inside(azimuth: f64, (from, to): Stretch) -> bool {
    let a = azimuth.rem_euclid(TAU);
    (a > from || from == 0.0) && a < to
}

/// The solid azimuth nearest to one; `None` where the whole row is open.
pub(super) fn clear_of(at: f64, open: &[Stretch]) -> Option<f64> {
    if !open.iter().any(|s| inside(at, *s)) {
        return Some(at);
    }
    // Stretches are apart from each other, so each end is solid, but for the seam of the circle at 0.
    let end_of_circle = |e: f64| e <= 0.0 || e >= TAU;
    let wraps = open.iter().any(|s| s.0 <= 0.0) && open.iter().any(|s| s.1 >= TAU);
    open.iter()
        .flat_map(|s| [s.0, s.1])
        .filter(|e| !(wraps && end_of_circle(*e)))
        .min_by(|a, b| turn_between(*a, at).total_cmp(&turn_between(*b, at)))
}

/// A hole in the frame of the wheel: sine and cosine of its latitude, azimuth.
struct Hole {
    sin_lat: f64,
    cos_lat: f64,
    azimuth: f64,
}

/// What one row is made of in one orientation.
pub(super) struct Felt {
    /// Holes.
    pub(super) open: Vec<Stretch>,
    /// Holes and seam.
    pub(super) taken: Vec<Stretch>,
}

/// The skin turned into the frame of the wheel.
pub(super) struct Skin {
    holes: Vec<Hole>,
    edge_cos: f64,
    edge_sin: f64,
    /// Sine of half the seam's angle, and its normal.
    seam: Option<(f64, [f64; 3])>,
}

impl Skin {
    pub(super) fn of(surface: &Surface, orientation: [f64; 4]) -> Skin {
        let unit = |v: [f64; 3]| {
            let t = turned(v, orientation);
            let length = norm(t);
            if length > 0.0 { t.map(|c| c / length) } else { t }
        };
        let holes = surface
            .holes
            .iter()
            .map(|h| {
                let [x, y, z] = unit(*h);
                Hole {
                    sin_lat: z,
                    cos_lat: (1.0 - z * z).max(0.0).sqrt(),
                    azimuth: y.atan2(x),
                }
            })
            .collect();
        let edge = surface.hole_rad();
        Skin {
            holes,
            edge_cos: edge.cos(),
            edge_sin: edge.sin(),
            seam: surface.seam.map(|s| (surface.seam_frac(), unit(s.normal))),
        }
    }

    pub(super) fn felt(&self, row: &Row) -> Felt {
        let (mut open, mut taken) = (Vec::new(), Vec::new());
        self.openings(row, &mut open);
        self.grooves(row, &open, &mut taken);
        taken.extend_from_slice(&open);
        join(&mut taken);
        Felt { open, taken }
    }

    /// Stretches of a row that are hole, in order and apart. On the sphere a hole's edge meets the row where
    ///
    /// ```text
    /// cos a = sin λ sin λ_h + cos λ cos λ_h cos(azimuth − azimuth_h)
    /// ```
    pub(super) fn openings(&self, row: &Row, out: &mut Vec<Stretch>) {
        out.clear();
        for h in &self.holes {
            // sin(λ − λ_h), to skip those that do not reach the row.
            let apart = row.sin_lat * h.cos_lat - row.cos_lat * h.sin_lat;
            let along = row.cos_lat * h.cos_lat;
            if apart.abs() >= self.edge_sin && row.sin_lat * h.sin_lat + along < self.edge_cos {
                continue;
            }
            let cos = (self.edge_cos - row.sin_lat * h.sin_lat) / along;
            if cos >= 1.0 || cos.is_nan() {
                continue;
            }
            let half = cos.max(-1.0).acos();
            stretch(h.azimuth - half, h.azimuth + half, out);
        }
        join(out);
    }

    /// Stretches of a row that are seam and not hole.
    pub(super) fn grooves(&self, row: &Row, open: &[Stretch], out: &mut Vec<Stretch>) {
        out.clear();
        let Some((half, normal)) = self.seam else { return };
        let ring = row.cos_lat * normal[0].hypot(normal[1]);
        let lift = row.sin_lat * normal[2];
        let mut whole = Vec::new();
        if ring > 0.0 {
            let (near, far) = ((half - lift) / ring, (-half - lift) / ring);
            if near > -1.0 && far < 1.0 {
                let middle = normal[1].atan2(normal[0]);
                let (a, b) = (near.min(1.0).acos(), far.max(-1.0).acos());
                stretch(middle + a, middle + b, &mut whole);
                stretch(middle - b, middle - a, &mut whole);
            }
        } else if lift.abs() < half {
            whole.push((0.0, TAU));
        }
        // What a hole has taken is gone already.
        for (mut from, to) in whole {
            for o in open {
                if o.1 <= from || o.0 >= to {
                    continue;
                }
                if o.0 > from {
                    out.push((from, o.0));
                }
                from = o.1;
            }
            if from < to {
                out.push((from, to));
            }
        }
    }
}

/// Puts stretches in order and makes one of those that meet.
fn join(out: &mut Vec<Stretch>) {
    out.sort_by(|a, b| a.0.total_cmp(&b.0));
    out.dedup_by(|next, kept| {
        let joins = next.0 <= kept.1;
        if joins {
            kept.1 = kept.1.max(next.1);
        }
        joins
    });
}

/// Adds a stretch, cut where azimuth starts anew, so that all lie from 0 to one turn.
fn stretch(from: f64, to: f64, out: &mut Vec<Stretch>) {
    if to - from >= TAU {
        out.push((0.0, TAU));
        return;
    }
    let start = from.rem_euclid(TAU);
    let end = start + (to - from);
    if end > TAU {
        out.push((start, TAU));
        out.push((0.0, end - TAU));
    } else {
        out.push((start, end));
    }
}
