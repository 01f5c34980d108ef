//! The launcher's shape in the side plane: one geometry for the simulation, the pictures and the templates.

use std::f64::consts::{FRAC_PI_2, PI};

use super::types::{GuideShape, Launcher, Layout, PairShape, Setting};

/// What a piece of the fixed side is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ElementRole {
    /// Where the piece comes in.
    Ramp,
    /// The arc concentric with the wheel.
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

/// The whole shape: at most two wheels and four elements.
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

fn guide_outline(launcher: &Launcher, g: &GuideShape, setting: &Setting, diameter_m: f64) -> Outline {
    let (r, wheel) = (0.5 * diameter_m, launcher.wheel_radius_m);
    let axle = [0.0, launcher.axle_height_m];
    let radius_m = wheel + g.gap_m;
    let end_rad = FRAC_PI_2 + g.end_angle_rad;
    let start_rad = end_rad + g.wrap_rad;
    // Clockwise along the arc.
    let forward_at = |phi: f64| [phi.sin(), -phi.cos()];
    let into = forward_at(start_rad);
    let arc_start = shift(axle, radius_m, unit(start_rad));
    let lane = radius_m - r;
    // Far enough back that the piece just clears the wheel.
    let back = ((wheel + r).powi(2) - lane * lane).max(0.0).sqrt();
    let start_m = shift(shift(axle, lane, unit(start_rad)), -back, into);
    let ramp_start = shift(arc_start, -(back + RAMP_DIAMETERS * diameter_m), into);
    let mut elements = vec![
        Element {
            role: ElementRole::Ramp,
            shape: Shape::Line {
                from_m: ramp_start,
                to_m: arc_start,
            },
        },
        Element {
            role: ElementRole::Guide,
            shape: Shape::Arc {
                centre_m: axle,
                radius_m,
                from_rad: start_rad,
                to_rad: end_rad,
            },
        },
    ];
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
