//! Where the picture can be taken hold of: a point for each knob and dimension, and how it moves with it.

use super::{Role, SideView, drawable, fit, gap, piece_radius_m, positions};
use crate::geometry::{Point, direction, distance, moved, usable, usable_point};

/// A point of the picture that stands for a quantity.
#[derive(Clone, Debug, PartialEq)]
pub struct Handle {
    /// Key of the quantity in the project.
    pub key: &'static str,
    /// Where it is, drawing units.
    pub at_px: Point,
    /// How it moves for one more of the quantity (SI), drawing units.
    pub per_unit_px: Point,
}

/// The piece on its way, for a picture that can be looked at moment by moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    /// Time since it was let into the feed.
    pub time_s: f64,
    /// Centre, drawing units.
    pub centre_px: Point,
    /// Turned angle.
    pub turned_rad: f64,
    /// Normal force on the wheel.
    pub wheel_n: f64,
    /// Normal force on guide or hood.
    pub guide_n: f64,
    /// Speed of the centre.
    pub speed_mps: f64,
    /// Wheel speed.
    pub wheel_radps: f64,
}

/// What a picture of [`super::draw`] can be moved by, and the passage in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Hold {
    /// Width and height of the picture, drawing units.
    pub size_px: [f64; 2],
    /// Handles.
    pub handles: Vec<Handle>,
    /// Moments in order; empty when nothing passes.
    pub moments: Vec<Moment>,
    /// Free radius of the piece, drawing units.
    pub piece_px: f64,
}

/// Method: more moments than this are not told apart on a screen.
const MOST_MOMENTS: usize = 240;

/// Handles and moments of the picture of this input.
pub fn hold(input: &SideView) -> Hold {
    let fit = fit(input, &positions(input));
    let mut handles = Vec::new();
    if let Some(wheel) = input.wheels.iter().find(|w| drawable(w)) {
        let c = fit.px(wheel.centre_m);
        // Down and forward, where neither piece nor guide is in the way.
        let out = [0.5_f64.sqrt(), 0.5_f64.sqrt()];
        handles.push(Handle {
            key: "wheel.diameter",
            at_px: moved(c, out, wheel.radius_m * fit.px_per_m),
            per_unit_px: [0.5 * out[0] * fit.px_per_m, 0.5 * out[1] * fit.px_per_m],
        });
    }
    if let Some((outer, inner, _)) = gap(input) {
        let (a, b) = (fit.px(outer), fit.px(inner));
        let out = direction(b, a);
        handles.push(Handle {
            key: "launcher.gap",
            at_px: a,
            per_unit_px: [out[0] * fit.px_per_m, out[1] * fit.px_per_m],
        });
    }
    match input.wheels.as_slice() {
        [lower, upper] if drawable(lower) && drawable(upper) => {
            let (a, b) = (fit.px(lower.centre_m), fit.px(upper.centre_m));
            handles.push(turning(
                "setting.tilt",
                [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])],
                b,
            ));
        }
        _ => {
            let hood = input.parts.iter().find(|p| p.role == Role::Hood);
            if let Some((root, tip)) = hood.and_then(|h| ends(&h.line_m)) {
                let (root, tip) = (fit.px(root), fit.px(tip));
                let along = direction(root, tip);
                handles.push(Handle {
                    key: "setting.slide",
                    at_px: root,
                    per_unit_px: [fit.px_per_m, 0.0],
                });
                handles.push(Handle {
                    key: "setting.reach",
                    at_px: tip,
                    per_unit_px: [along[0] * fit.px_per_m, along[1] * fit.px_per_m],
                });
                // Beyond the tip, so that it is not taken for the reach.
                handles.push(turning("setting.tilt", root, moved(tip, along, 26.0)));
            }
        }
    }
    let good = |h: &Handle| usable_point(&h.at_px) && usable_point(&h.per_unit_px);
    handles.retain(good);
    let step = input.trace.len().div_ceil(MOST_MOMENTS).max(1);
    let moments = input
        .trace
        .iter()
        .step_by(step)
        .filter(|s| usable_point(&s.centre_m) && usable(s.time_s))
        .map(|s| Moment {
            time_s: s.time_s,
            centre_px: fit.px(s.centre_m),
            turned_rad: s.turned_rad,
            wheel_n: s.wheel_normal_n,
            guide_n: s.guide_normal_n,
            speed_mps: s.velocity_mps[0].hypot(s.velocity_mps[1]),
            wheel_radps: s.wheel_radps,
        })
        .collect();
    Hold {
        size_px: [super::WIDTH_PX, super::HEIGHT_PX],
        handles,
        moments,
        piece_px: piece_radius_m(input) * fit.px_per_m,
    }
}

fn ends(line: &[Point]) -> Option<(Point, Point)> {
    Some((*line.first()?, *line.last()?))
}

/// A handle that turns about a point, forward (clockwise) for more: tilt lowers the exit.
fn turning(key: &'static str, about: Point, at_px: Point) -> Handle {
    let radius = distance(about, at_px);
    let out = direction(about, at_px);
    Handle {
        key,
        at_px,
        // Down is positive in a picture: a quarter turn clockwise of (x, y) is (-y, x).
        per_unit_px: [-radius * out[1], radius * out[0]],
    }
}
