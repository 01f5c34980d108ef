//! The launcher's shape in the side plane: one geometry for the simulation, the pictures and the templates.

use std::f64::consts::{FRAC_PI_2, PI};

use super::types::{GuideShape, Launcher, Layout, PairShape, Setting};

/// What a piece of the fixed side is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ElementRole {
    /// Where the piece comes in.
    Ramp,
    /// The arc around the wheel: one piece where it is concentric, several where the gap changes along it.
    Guide,
    /// The bend or lead between the guide's end and the hood plate.
    Bend,
    /// The hood plate.
    Hood,
}

/// A straight or round piece of the fixed side, in the order in which the piece meets it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shape {
    /// Straight from one point to another.
    Line {
        /// Start.
        from_m: [f64; 2],
        /// End.
        to_m: [f64; 2],
    },
    /// Arc seen from inside, run through clockwise from the first polar angle down to the second.
    Arc {
        /// Centre.
        centre_m: [f64; 2],
        /// Radius.
        radius_m: f64,
        /// Polar angle of the start.
        from_rad: f64,
        /// Polar angle of the end, below the start.
        to_rad: f64,
    },
}

/// One element with its role.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Element {
    /// Role.
    pub role: ElementRole,
    /// Shape.
    pub shape: Shape,
}

/// A wheel in the side plane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WheelCircle {
    /// Axle.
    pub centre_m: [f64; 2],
    /// Radius.
    pub radius_m: f64,
}

/// The whole shape: at most two wheels, and few elements.
#[derive(Clone, Debug, PartialEq)]
pub struct Outline {
    /// Wheels; the first is the commanded one.
    pub wheels: Vec<WheelCircle>,
    /// Fixed side, in the order in which the piece meets it.
    pub elements: Vec<Element>,
    /// Where the centre of the piece starts, just clear of the wheel.
    pub start_m: [f64; 2],
    /// Direction in which the feed pushes.
    pub feed_direction: [f64; 2],
    /// How far from the start it pushes: to the guide's beginning, or to the nip of a pair.
    pub feed_length_m: f64,
    /// A point and direction past which the piece has left.
    pub exit_m: [f64; 2],
    /// Direction at the exit.
    pub exit_direction: [f64; 2],
}

/// Physical: length of straight ramp drawn and pushed along before the guide, in piece diameters.
const RAMP_DIAMETERS: f64 = 1.0;
/// Physical: below this the plate counts as flush with the guide's end.
const FLUSH_M: f64 = 1e-6;
/// Physical: a plate slid forward is led into over this share of the bend radius.
const LEAD_SHARE: f64 = 0.5;

fn unit(angle: f64) -> [f64; 2] {
    [angle.cos(), angle.sin()]
}

fn shift(p: [f64; 2], by: f64, along: [f64; 2]) -> [f64; 2] {
    [p[0] + by * along[0], p[1] + by * along[1]]
}

/// The shape of a launcher at a setting, for a piece of a given diameter.
pub fn outline(launcher: &Launcher, setting: &Setting, diameter_m: f64) -> Outline {
    match launcher.layout {
        Layout::Guide(g) => guide_outline(launcher, &g, setting, diameter_m),
        Layout::Pair(p) => pair_outline(launcher, &p, setting, diameter_m),
    }
}

/// Method: an arc through three points this far apart strays from an even spiral by less than 1.3e-4 of what the
/// radius changes in a radian.
const SPIRAL_RAD: f64 = 0.25;

/// An arc seen from inside about a centre, its radius changing evenly with the angle from the first to the second; as
/// one true arc where they are equal, else as arcs through points of that spiral.
pub fn spiral(centre_m: [f64; 2], [first_m, last_m]: [f64; 2], [from_rad, to_rad]: [f64; 2]) -> Vec<Shape> {
    if first_m == last_m {
        return vec![Shape::Arc {
            centre_m,
            radius_m: first_m,
            from_rad,
            to_rad,
        }];
    }
    let count = ((from_rad - to_rad) / SPIRAL_RAD).ceil().clamp(1.0, 100.0) as usize;
    let angle = |i: usize| from_rad + (to_rad - from_rad) * i as f64 / (2 * count) as f64;
    let place = |i: usize| {
        let share = i as f64 / (2 * count) as f64;
        shift([0.0; 2], first_m + (last_m - first_m) * share, unit(angle(i)))
    };
    (0..count)
        .map(|i| {
            let [a, b, c] = [2 * i, 2 * i + 1, 2 * i + 2].map(place);
            let middle = circumcentre(a, b, c);
            // The angle about its own centre, on the same turn as that about the axle.
            let seen = |p: [f64; 2], near: f64| {
                let found = (p[1] - middle[1]).atan2(p[0] - middle[0]);
                near + (found - near + PI).rem_euclid(2.0 * PI) - PI
            };
            Shape::Arc {
                centre_m: [centre_m[0] + middle[0], centre_m[1] + middle[1]],
                radius_m: (a[0] - middle[0]).hypot(a[1] - middle[1]),
                from_rad: seen(a, angle(2 * i)),
                to_rad: seen(c, angle(2 * i + 2)),
            }
        })
        .collect()
}

/// Centre of the circle through three points.
fn circumcentre(a: [f64; 2], b: [f64; 2], c: [f64; 2]) -> [f64; 2] {
    let ([bx, by], [cx, cy]) = ([b[0] - a[0], b[1] - a[1]], [c[0] - a[0], c[1] - a[1]]);
    let twice = 2.0 * (bx * cy - by * cx);
    let (bb, cc) = (bx * bx + by * by, cx * cx + cy * cy);
    [
        a[0] + (cy * bb - by * cc) / twice,
        a[1] + (bx * cc - cx * bb) / twice,
    ]
}

/// Direction of the way in, where the piece starts on it, and how far before the guide's start that is.
///
/// The ramp goes on from the guide without a kink: where the gap changes it leans by arctan(relief/(wrap · radius)).
fn way_in(
    axle_m: [f64; 2],
    wheel_m: f64,
    piece_m: f64,
    entry_m: f64,
    [start_rad, lean_rad]: [f64; 2],
) -> ([f64; 2], [f64; 2], f64) {
    // Clockwise along the arc.
    let along_rad = start_rad - lean_rad;
    let into = [along_rad.sin(), -along_rad.cos()];
    if lean_rad == 0.0 {
        let lane = entry_m - piece_m;
        // Far enough back that the piece just clears the wheel.
        let back = ((wheel_m + piece_m).powi(2) - lane * lane).max(0.0).sqrt();
        let start_m = shift(shift(axle_m, lane, unit(start_rad)), -back, into);
        return (into, start_m, back);
    }
    // The centre runs beside the ramp; where it is a piece's radius off the wheel is a quadratic's root.
    let out = [-into[1], into[0]];
    let beside = shift(shift([0.0; 2], entry_m, unit(start_rad)), -piece_m, out);
    let along = beside[0] * into[0] + beside[1] * into[1];
    let square = beside[0] * beside[0] + beside[1] * beside[1];
    let root = along * along - square + (wheel_m + piece_m).powi(2);
    let back = along + root.max(0.0).sqrt();
    (into, shift(shift(axle_m, 1.0, beside), -back, into), back)
}

fn guide_outline(launcher: &Launcher, g: &GuideShape, setting: &Setting, diameter_m: f64) -> Outline {
    let (r, wheel) = (0.5 * diameter_m, launcher.wheel_radius_m);
    let axle = [0.0, launcher.axle_height_m];
    let radius_m = wheel + g.gap_m;
    let end_rad = FRAC_PI_2 + g.end_angle_rad;
    let start_rad = end_rad + g.wrap_rad;
    let entry_m = radius_m + g.entry_relief_m;
    let lean_rad = if g.entry_relief_m == 0.0 {
        0.0
    } else {
        (g.entry_relief_m / (g.wrap_rad * entry_m)).atan()
    };
    let (into, start_m, back) = way_in(axle, wheel, r, entry_m, [start_rad, lean_rad]);
    let arc_start = shift(axle, entry_m, unit(start_rad));
    let ramp_start = shift(arc_start, -(back + RAMP_DIAMETERS * diameter_m), into);
    let mut elements = vec![Element {
        role: ElementRole::Ramp,
        shape: Shape::Line {
            from_m: ramp_start,
            to_m: arc_start,
        },
    }];
    elements.extend(
        spiral(axle, [entry_m, radius_m], [start_rad, end_rad])
            .into_iter()
            .map(|shape| Element {
                role: ElementRole::Guide,
                shape,
            }),
    );
    let guide_end = shift(axle, radius_m, unit(end_rad));
    let inward = unit(end_rad + PI);
    let mut exit_m = guide_end;
    let mut heading = g.end_angle_rad;
    if setting.reach_m > 0.0 {
        heading = g.end_angle_rad - setting.tilt_rad;
        // Slid back, the plate takes its bend along and leaves a gap behind the guide's end.
        let mut joint = shift(guide_end, setting.slide_m.min(0.0), [1.0, 0.0]);
        if setting.tilt_rad > 0.0 && g.hood_bend_m > 0.0 {
            let centre_m = shift(joint, g.hood_bend_m, inward);
            let to_rad = end_rad - setting.tilt_rad;
            elements.push(Element {
                role: ElementRole::Bend,
                shape: Shape::Arc {
                    centre_m,
                    radius_m: g.hood_bend_m,
                    from_rad: end_rad,
                    to_rad,
                },
            });
            joint = shift(centre_m, g.hood_bend_m, unit(to_rad));
        }
        let ahead = unit(heading);
        let plate_start = shift(joint, setting.slide_m.max(0.0), [1.0, 0.0]);
        let plate_end = shift(plate_start, setting.reach_m, ahead);
        let mut from_m = plate_start;
        if setting.slide_m > FLUSH_M {
            // Slid forward, it stands before the guide's end; the piece is led straight onto it.
            elements.retain(|e| e.role != ElementRole::Bend);
            let lead = (LEAD_SHARE * g.hood_bend_m + setting.slide_m).min(0.5 * setting.reach_m);
            from_m = shift(plate_start, lead, ahead);
            elements.push(Element {
                role: ElementRole::Bend,
                shape: Shape::Line {
                    from_m: guide_end,
                    to_m: from_m,
                },
            });
        }
        elements.push(Element {
            role: ElementRole::Hood,
            shape: Shape::Line {
                from_m,
                to_m: plate_end,
            },
        });
        exit_m = plate_end;
    }
    Outline {
        wheels: vec![WheelCircle {
            centre_m: axle,
            radius_m: wheel,
        }],
        elements,
        start_m,
        feed_direction: into,
        feed_length_m: back,
        exit_m,
        exit_direction: unit(heading),
    }
}

fn pair_outline(launcher: &Launcher, p: &PairShape, setting: &Setting, diameter_m: f64) -> Outline {
    let (r, wheel) = (0.5 * diameter_m, launcher.wheel_radius_m);
    let heading = p.direction_rad - setting.tilt_rad;
    let (ahead, up) = (unit(heading), unit(heading + FRAC_PI_2));
    let lower = [0.0, launcher.axle_height_m];
    let upper = shift(lower, 2.0 * wheel + p.gap_m, up);
    let nip = shift(lower, wheel + 0.5 * p.gap_m, up);
    // The piece rolls in on a channel whose floor holds it centred between the wheels.
    let half = wheel + 0.5 * p.gap_m;
    let back = ((wheel + r).powi(2) - half * half).max(0.0).sqrt();
    let start_m = shift(nip, -back, ahead);
    let floor = shift(start_m, -r, up);
    Outline {
        wheels: vec![
            WheelCircle {
                centre_m: lower,
                radius_m: wheel,
            },
            WheelCircle {
                centre_m: upper,
                radius_m: wheel,
            },
        ],
        elements: vec![Element {
            role: ElementRole::Ramp,
            shape: Shape::Line {
                from_m: shift(floor, -RAMP_DIAMETERS * diameter_m, ahead),
                to_m: floor,
            },
        }],
        start_m,
        feed_direction: ahead,
        feed_length_m: back,
        exit_m: shift(nip, back, ahead),
        exit_direction: ahead,
    }
}

impl Element {
    /// Points along the shape, close enough to draw.
    pub fn polyline_m(&self) -> Vec<[f64; 2]> {
        match self.shape {
            Shape::Line { from_m, to_m } => vec![from_m, to_m],
            Shape::Arc {
                centre_m,
                radius_m,
                from_rad,
                to_rad,
            } => {
                /// Physical: one point every two degrees draws a round arc.
                const STEP_RAD: f64 = 2.0 * PI / 180.0;
                let count = ((from_rad - to_rad).abs() / STEP_RAD).ceil().clamp(1.0, 720.0) as usize;
                (0..=count)
                    .map(|i| {
                        let phi = from_rad + (to_rad - from_rad) * i as f64 / count as f64;
                        shift(centre_m, radius_m, unit(phi))
                    })
                    .collect()
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::planar::tests;
    use super::*;

    fn launcher(relief_m: f64) -> Launcher {
        tests::launcher(Layout::Guide(GuideShape {
            entry_relief_m: relief_m,
            ..tests::guide()
        }))
    }

    fn guides(shape: &Outline) -> Vec<([f64; 2], f64, f64, f64)> {
        let of = |e: &Element| match (e.role, e.shape) {
            (
                ElementRole::Guide,
                Shape::Arc {
                    centre_m,
                    radius_m,
                    from_rad,
                    to_rad,
                },
            ) => Some((centre_m, radius_m, from_rad, to_rad)),
            _ => None,
        };
        shape.elements.iter().filter_map(of).collect()
    }

    /// Every point of the guide against the even spiral that it stands for.
    #[test]
    fn with_a_relief_the_gap_closes_evenly_along_the_arc() {
        for relief in [0.004, -0.003] {
            let shape = outline(&launcher(relief), &Setting::default(), 0.112);
            let arcs = guides(&shape);
            assert!(arcs.len() > 4, "{}", arcs.len());
            let (start, wrap) = (266f64.to_radians(), 110f64.to_radians());
            let (mut last, mut worst) = (None::<[f64; 2]>, 0.0f64);
            for (centre, radius, from, to) in arcs {
                for i in 0..=20 {
                    let p = shift(centre, radius, unit(from + (to - from) * f64::from(i) / 20.0));
                    if let (0, Some(before)) = (i, last) {
                        assert!((p[0] - before[0]).hypot(p[1] - before[1]) < 1e-12);
                    }
                    let (x, y) = (p[0], p[1] - 0.3);
                    let share = (start - y.atan2(x)).rem_euclid(2.0 * PI) / wrap;
                    let share = if share > 2.0 { 0.0 } else { share };
                    worst = worst.max((x.hypot(y) - 0.148 - relief * (1.0 - share)).abs());
                    last = Some(p);
                }
            }
            assert!(worst < 3e-7, "{worst}");
        }
    }

    #[test]
    fn the_way_in_meets_the_guide_without_a_kink_and_the_piece_starts_clear_of_the_wheel() {
        for relief in [0.0, 0.004, -0.003] {
            let shape = outline(&launcher(relief), &Setting::default(), 0.112);
            let (centre, _, from, _) = guides(&shape)[0];
            let along = [from.sin(), -from.cos()];
            let f = shape.feed_direction;
            assert!((along[0] * f[1] - along[1] * f[0]).abs() < 2e-4, "{relief}");
            let Shape::Line { from_m, to_m } = shape.elements[0].shape else {
                panic!("no ramp");
            };
            let off = |p: [f64; 2]| (p[0] - from_m[0]) * f[1] - (p[1] - from_m[1]) * f[0];
            assert!(off(to_m).abs() < 1e-12);
            // A radius off the ramp, a radius off the wheel.
            assert!((off(shape.start_m).abs() - 0.056).abs() < 1e-12, "{relief}");
            let [x, y] = shape.start_m;
            assert!((x.hypot(y - 0.3) - 0.048 - 0.056).abs() < 1e-12, "{relief}");
            if relief == 0.0 {
                assert_eq!((guides(&shape).len(), centre), (1, [0.0, 0.3]));
            }
        }
    }
}
