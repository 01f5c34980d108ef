//! The hopper by its few numbers, and the world it makes.
//!
//! Lengths are measured along the floor: x toward the launcher from the mouth of the chute, y to the left, z square to the
//! floor. The floor is one plane at the slope, so gravity leans toward the launcher.

use super::band::Band;
use super::plate::Plates;
use super::shape::{Cylinder, Rod, Wall};
use super::world::{Arm, Roller, Rotor, Surfaces, World};

/// The pieces of a load.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pieces {
    /// How many are loaded.
    pub count: u32,
    /// Diameter.
    pub diameter_m: f64,
    /// Its standard deviation from piece to piece.
    pub diameter_sd_m: f64,
    /// Mass.
    pub mass_kg: f64,
    /// Its standard deviation from piece to piece.
    pub mass_sd_kg: f64,
    /// k in I = k m r².
    pub inertia_coeff: f64,
    /// Press test between two boards: force over squeeze.
    pub press_npm: f64,
    /// Drop test.
    pub bounce_coeff: f64,
}

/// How pieces come into the hopper.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Arrival {
    /// A person drops them one by one.
    #[default]
    Dropped,
    /// All at once, out of a box.
    Poured,
    /// One by one over the back wall, moving forward: an intake brings them.
    Intake,
}

/// How the hopper is loaded.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Loading {
    /// How pieces come.
    pub arrival: Arrival,
    /// Speed along the floor with which an intake brings them.
    pub intake_mps: f64,
    /// Pieces are let go alternately this far to the left and to the right of the middle.
    pub aside_m: f64,
    /// From the mouth of the chute back to the point over which they are dropped.
    pub before_mouth_m: f64,
    /// Standard deviation of the place, along and across.
    pub spread_m: f64,
    /// Free fall of the lowest point of the piece to the floor.
    pub height_m: f64,
    /// Time from one to the next.
    pub every_s: f64,
}

/// The roller at the end of the chute, across it and above the pieces.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RollerSpec {
    /// Diameter.
    pub diameter_m: f64,
    /// Width.
    pub width_m: f64,
    /// Rim speed without load.
    pub rim_mps: f64,
    /// How much it presses a piece together against the floor of the chute.
    pub squeeze_m: f64,
    /// Torque at standstill.
    pub torque_nm: f64,
    /// Friction of a piece on it.
    pub friction_coeff: f64,
    /// Paddles on it.
    pub paddle_count: u32,
    /// How far a paddle stands out.
    pub paddle_m: f64,
}

/// The stirrer: an arm on a shaft square to the floor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StirrerSpec {
    /// From the shaft's axis to the outermost point.
    pub length_m: f64,
    /// From the mouth of the chute back to the shaft.
    pub before_mouth_m: f64,
    /// Shaft to the left of the middle.
    pub offset_m: f64,
    /// Middle of the arm above the floor.
    pub height_m: f64,
    /// Thickness of the arm; the hub is twice as thick.
    pub thickness_m: f64,
    /// Speed without load; negative turns the other way.
    pub speed_radps: f64,
    /// Torque at standstill.
    pub torque_nm: f64,
    /// Turns back for a moment when it stalls.
    pub reverses: bool,
    /// Angle over which it swings to and fro; 0 turns round and round.
    pub swing_rad: f64,
    /// Direction of the middle of the swing, from that of the chute, left positive; where it is parked if it does not swing.
    pub middle_rad: f64,
}

impl StirrerSpec {
    /// The hub in plan.
    pub fn hub_m(&self) -> [f64; 2] {
        [-self.before_mouth_m, self.offset_m]
    }

    /// Half the thickness of arm and hub.
    pub fn radii_m(&self) -> [f64; 2] {
        [0.5 * self.thickness_m, self.thickness_m]
    }

    /// Ends of the swing; a full turn for an arm that goes round.
    pub fn sweep_rad(&self) -> [f64; 2] {
        let half = if self.swing_rad > 0.0 {
            0.5 * self.swing_rad
        } else {
            std::f64::consts::PI
        };
        [self.middle_rad - half, self.middle_rad + half]
    }

    /// Centre of the round tip at an angle, in plan.
    pub fn tip_m(&self, angle_rad: f64) -> [f64; 2] {
        let reach = (self.length_m - 0.5 * self.thickness_m).max(0.0);
        let hub = self.hub_m();
        [
            hub[0] + reach * libm::cos(angle_rad),
            hub[1] + reach * libm::sin(angle_rad),
        ]
    }
}

/// Elastic bands across the two front corners, in place of the hard walls behind them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BandSpec {
    /// Pull when nothing leans on them.
    pub tension_n: f64,
    /// How much the pull grows for each metre a band gets longer.
    pub stiffness_npm: f64,
    /// From the mouth of the chute back to the end on the side wall.
    pub reach_m: f64,
    /// Height above the floor.
    pub height_m: f64,
}

/// A hopper that narrows to a chute one piece wide.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hopper {
    /// Length of the floor up to the mouth of the chute.
    pub length_m: f64,
    /// Width.
    pub width_m: f64,
    /// Width of the chute.
    pub chute_width_m: f64,
    /// Slope of the floor, down toward the chute.
    pub slope_rad: f64,
    /// Slope of the floor from both side walls down to the middle.
    pub side_slope_rad: f64,
    /// By how much the floor of the chute is steeper than that of the hopper; negative rises.
    pub bend_rad: f64,
    /// Flat plates put in: ramps, deflectors, corners cut off.
    pub plates: Plates,
    /// Height of the walls.
    pub wall_m: f64,
    /// Angle of the walls that lead to the mouth, from the direction of the chute: 90° is a square front.
    pub funnel_rad: f64,
    /// Radius to which the edges of the mouth are rounded.
    pub fillet_m: f64,
    /// Length of the chute from its mouth to below the roller.
    pub chute_m: f64,
    /// Free width between two rails on the floor of the chute; 0 without rails.
    pub rail_gap_m: f64,
    /// Friction of a piece on walls and floor.
    pub friction_coeff: f64,
    /// Friction of a piece on another.
    pub piece_friction_coeff: f64,
    /// Rolling resistance of a piece.
    pub rolling_coeff: f64,
    /// How it is loaded.
    pub loading: Loading,
    /// Roller.
    pub roller: Option<RollerSpec>,
    /// Stirrer.
    pub stirrer: Option<StirrerSpec>,
    /// Bands.
    pub bands: Option<BandSpec>,
}

/// Half the thickness of a rail. Common practice, no source: threaded rod or welding wire.
pub const RAIL_RADIUS_M: f64 = 0.004;
/// Judgement: inertia of a geared motor as its output shaft feels it.
const GEARED_KGM2: f64 = 5e-4;
/// Judgement: mass for each metre of an arm of bar or tube.
const ARM_KG_PER_METRE: f64 = 0.3;

/// Where a fixed part stands, for naming a wedge.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// The floor, rails on it.
    Under,
    /// Left walls.
    Left,
    /// Right walls.
    Right,
    /// The back wall.
    Back,
    /// The stirrer's hub.
    Hub,
    /// A plate that was put in and does not lie under the pieces.
    Plate,
}

/// A world made from a hopper, with what is needed to read it.
#[derive(Clone, Debug)]
pub struct Scene {
    /// Bodies without pieces.
    pub world: World,
    /// Side of each wall of the world.
    pub walls: Vec<Side>,
    /// Side of each rod.
    pub rods: Vec<Side>,
}

impl Hopper {
    /// Length of the part that narrows.
    pub fn funnel_m(&self) -> f64 {
        0.5 * (self.width_m - self.chute_width_m) / libm::tan(self.funnel_rad)
    }

    /// Half the free width at a place; `None` behind the back wall.
    pub fn half_width_m(&self, x_m: f64) -> Option<f64> {
        let (wide, narrow, funnel) = (0.5 * self.width_m, 0.5 * self.chute_width_m, self.funnel_m());
        if x_m < -self.length_m {
            None
        } else if x_m <= -funnel {
            Some(wide)
        } else if x_m < 0.0 {
            Some(narrow - (wide - narrow) * x_m / funnel)
        } else {
            Some(narrow)
        }
    }

    /// Distance in plan from a point to the nearest wall; negative outside.
    pub fn clearance_m(&self, x_m: f64, y_m: f64) -> f64 {
        let Some(half) = self.half_width_m(x_m) else {
            return -1.0;
        };
        if y_m.abs() > half {
            return half - y_m.abs();
        }
        let outline = self.outline_m();
        outline
            .windows(2)
            .filter_map(|w| match w {
                [a, b] => Some(to_segment([x_m, y_m], *a, *b)),
                _ => None,
            })
            .fold(f64::INFINITY, f64::min)
    }

    /// The walls in plan, clockwise from the far left corner of the chute's end around the back to its right.
    pub fn outline_m(&self) -> Vec<[f64; 2]> {
        let (w, c) = (0.5 * self.width_m, 0.5 * self.chute_width_m);
        let (l, f, e) = (self.length_m, self.funnel_m(), self.end_m());
        vec![
            [e, -c],
            [0.0, -c],
            [-f, -w],
            [-l, -w],
            [-l, w],
            [-f, w],
            [0.0, c],
            [e, c],
        ]
    }

    /// End of the chute's walls.
    pub fn end_m(&self) -> f64 {
        self.chute_m + 0.5 * self.length_m.max(2.0 * self.chute_width_m)
    }

    /// A place as the chute has it: along its floor from the mouth, to the left, square to its floor. In the hopper, where
    /// the first is not positive, it is the place itself.
    pub fn in_chute_m(&self, at_m: [f64; 3]) -> [f64; 3] {
        if self.bend_rad == 0.0 {
            return at_m;
        }
        let (s, c) = (libm::sin(self.bend_rad), libm::cos(self.bend_rad));
        let along = at_m[0] * c - at_m[2] * s;
        if along > 0.0 {
            [along, at_m[1], at_m[0] * s + at_m[2] * c]
        } else {
            at_m
        }
    }

    /// The place in the world that the chute has like this: the other way of [`Hopper::in_chute_m`], for places in the chute.
    pub fn from_chute_m(&self, at_m: [f64; 3]) -> [f64; 3] {
        let (s, c) = (libm::sin(self.bend_rad), libm::cos(self.bend_rad));
        [at_m[0] * c + at_m[2] * s, at_m[1], at_m[2] * c - at_m[0] * s]
    }

    /// Where a piece is let go, in plan: at the drop point, on the left with `left` and on the right without; over the
    /// back wall where an intake brings it.
    pub fn let_go_m(&self, radius_m: f64, left: bool) -> [f64; 2] {
        let l = &self.loading;
        let x = match l.arrival {
            Arrival::Dropped | Arrival::Poured => -l.before_mouth_m,
            Arrival::Intake => radius_m - self.length_m,
        };
        [x, if left { l.aside_m } else { -l.aside_m }]
    }

    /// Height of the floor under a place of the hopper, with its slope to the sides.
    pub fn floor_m(&self, y_m: f64) -> f64 {
        y_m.abs() * libm::tan(self.side_slope_rad)
    }

    /// How far back bands usually reach: as far as a chute is wide in front of the walls that narrow.
    pub fn usual_reach_m(&self) -> f64 {
        (self.funnel_m() + self.chute_width_m).min(self.length_m)
    }

    /// Height of a piece's centre in the chute: on the floor, or on the rails where they carry it.
    ///
    /// ```text
    /// on rails: r + √((R + r)² − (g/2 + r)²)
    /// ```
    pub fn seat_m(&self, radius_m: f64) -> f64 {
        let (r, half) = (RAIL_RADIUS_M, 0.5 * self.rail_gap_m + RAIL_RADIUS_M);
        let rise = (radius_m + r) * (radius_m + r) - half * half;
        if self.rail_gap_m > 0.0 && rise > 0.0 {
            radius_m.max(r + rise.sqrt())
        } else {
            radius_m
        }
    }

    /// The world without pieces. `lightest_kg` is the least mass of a piece, `steps_count` the steps in the shortest contact.
    pub fn scene(&self, pieces: &Pieces, lightest_kg: f64, steps_count: f64) -> Scene {
        let surfaces = Surfaces {
            press_npm: pieces.press_npm,
            bounce_coeff: pieces.bounce_coeff,
            friction_coeff: self.friction_coeff,
            piece_friction_coeff: self.piece_friction_coeff,
            roller_friction_coeff: self.roller.map_or(self.friction_coeff, |r| r.friction_coeff),
            rolling_coeff: self.rolling_coeff,
        };
        let mut world = World::new(surfaces, lightest_kg, steps_count);
        let g = crate::units::STANDARD_GRAVITY_MPS2;
        world.gravity_mps2 = [g * libm::sin(self.slope_rad), 0.0, -g * libm::cos(self.slope_rad)];
        let mut scene = Scene {
            world,
            walls: Vec::new(),
            rods: Vec::new(),
        };
        self.add_walls(&mut scene);
        self.add_rails(&mut scene);
        for plate in self.plates.iter() {
            scene.walls.push(if plate.lies_under() {
                Side::Under
            } else {
                Side::Plate
            });
            scene.world.walls.push(Wall::both_sides(&plate.corners_m()));
        }
        let radius_m = 0.5 * pieces.diameter_m;
        if let Some(s) = &self.stirrer {
            let [rod, post] = s.radii_m();
            let hub = s.hub_m();
            scene.rods.push(Side::Hub);
            let foot = [hub[0], hub[1], 0.0];
            let head = [hub[0], hub[1], s.height_m];
            scene.world.rods.push(Rod::new(foot, head, post));
            let mass = ARM_KG_PER_METRE * s.length_m;
            let inertia = GEARED_KGM2 + mass * s.length_m * s.length_m / 3.0;
            let mut rotor = Rotor::new(s.torque_nm, s.speed_radps.abs(), inertia);
            rotor.angle_rad = if s.swing_rad > 0.0 {
                s.sweep_rad()[0]
            } else {
                s.middle_rad
            };
            scene.world.stirrer = Some(Arm {
                hub_m: [hub[0], hub[1], s.height_m],
                length_m: (s.length_m - rod).max(0.0),
                radius_m: rod,
                rotor,
            });
        }
        if let Some(r) = &self.roller {
            let radius = 0.5 * r.diameter_m;
            let height = self.seat_m(radius_m) + radius_m - r.squeeze_m + radius;
            scene.world.roller = Some(Roller {
                shape: Cylinder::new(
                    self.from_chute_m([self.chute_m, 0.0, height]),
                    [0.0, -1.0, 0.0],
                    r.width_m,
                    radius,
                ),
                rotor: Rotor::new(r.torque_nm, r.rim_mps / radius, GEARED_KGM2),
                paddle_count: r.paddle_count,
                paddle_m: r.paddle_m,
            });
        }
        if let Some(b) = &self.bands {
            scene.world.bands = self
                .band_ends_m()
                .map(|[from, to]| Band {
                    from_m: [from[0], from[1], b.height_m],
                    to_m: [to[0], to[1], b.height_m],
                    tension_n: b.tension_n,
                    stiffness_npm: b.stiffness_npm,
                })
                .to_vec();
        }
        scene
    }

    /// The bands in plan: from the edge of the mouth back to the side wall.
    pub fn band_ends_m(&self) -> [[[f64; 2]; 2]; 2] {
        let reach = self.bands.map_or(self.usual_reach_m(), |b| b.reach_m);
        let back = -reach.min(self.length_m);
        [1.0, -1.0].map(|s| {
            [
                [0.0, 0.5 * s * self.chute_width_m],
                [back, s * self.half_width_m(back).unwrap_or(0.5 * self.width_m)],
            ]
        })
    }

    fn add_walls(&self, scene: &mut Scene) {
        let (l, w, e) = (self.length_m, 0.5 * self.width_m, self.end_m());
        let c = 0.5 * self.chute_width_m;
        let f = self.funnel_m();
        let up = self.wall_m;
        let mut add = |side, corners: &[[f64; 3]]| {
            scene.walls.push(side);
            scene.world.walls.push(Wall::new(corners));
        };
        // The floor of the hopper, with that of a straight chute.
        let floor_end = if self.bend_rad == 0.0 { e } else { 0.0 };
        add(
            Side::Under,
            &[
                [-l, -w, 0.0],
                [floor_end, -w, 0.0],
                [floor_end, w, 0.0],
                [-l, w, 0.0],
            ],
        );
        if self.bend_rad != 0.0 {
            let at = |s: f64, y: f64| self.from_chute_m([s, y, 0.0]);
            add(Side::Under, &[at(0.0, -w), at(e, -w), at(e, w), at(0.0, w)]);
        }
        if self.side_slope_rad > 0.0 {
            let at = |x: f64, y: f64| [x, y, self.floor_m(y)];
            add(
                Side::Under,
                &[at(-l, 0.0), at(0.0, 0.0), at(0.0, c), at(-f, w), at(-l, w)],
            );
            add(
                Side::Under,
                &[at(-l, 0.0), at(-l, -w), at(-f, -w), at(0.0, -c), at(0.0, 0.0)],
            );
        }
        // Where the rounding of the edge begins on the two walls beside it.
        let cut = self.fillet_m * libm::tan(0.5 * self.funnel_rad);
        let slant = (f * f + (w - c) * (w - c)).sqrt().max(f64::MIN_POSITIVE);
        let before = [-cut * f / slant, c + cut * (w - c) / slant];
        for (side, s) in [(Side::Left, 1.0), (Side::Right, -1.0)] {
            let in_hopper = |p: [f64; 2], z: f64| [p[0], s * p[1], z];
            let in_chute = |along: f64, z: f64| self.from_chute_m([along, s * c, z]);
            let mut stand = |foot: [[f64; 3]; 2], head: [[f64; 3]; 2]| {
                // Seen from the right of the way from the first to the second.
                let [p, q] = if s > 0.0 { [0, 1] } else { [1, 0] };
                add(side, &[foot[p], foot[q], head[q], head[p]]);
            };
            for [p, q] in [[[-l, w], [-f, w]], [[-f, w], before]] {
                stand(
                    [in_hopper(p, 0.0), in_hopper(q, 0.0)],
                    [in_hopper(p, up), in_hopper(q, up)],
                );
            }
            // Its first edge is that of the wall before it, so that a bend leaves no gap.
            stand(
                [in_chute(cut, 0.0), in_chute(e, 0.0)],
                [[cut, s * c, up], in_chute(e, up)],
            );
        }
        add(
            Side::Back,
            &[[-l, -w, 0.0], [-l, w, 0.0], [-l, w, up], [-l, -w, up]],
        );
        if self.fillet_m > 0.0 {
            for (side, s) in [(Side::Left, 1.0), (Side::Right, -1.0)] {
                let at = [cut, s * (c + self.fillet_m)];
                scene.rods.push(side);
                scene
                    .world
                    .rods
                    .push(Rod::new([at[0], at[1], 0.0], [at[0], at[1], up], self.fillet_m));
            }
        }
    }

    fn add_rails(&self, scene: &mut Scene) {
        if self.rail_gap_m > 0.0 {
            let y = 0.5 * self.rail_gap_m + RAIL_RADIUS_M;
            for s in [1.0, -1.0] {
                scene.rods.push(Side::Under);
                scene.world.rods.push(Rod::new(
                    self.from_chute_m([0.25 * self.chute_m, s * y, RAIL_RADIUS_M]),
                    self.from_chute_m([self.end_m(), s * y, RAIL_RADIUS_M]),
                    RAIL_RADIUS_M,
                ));
            }
        }
    }
}

fn to_segment(p: [f64; 2], a: [f64; 2], b: [f64; 2]) -> f64 {
    let d = [b[0] - a[0], b[1] - a[1]];
    let size = (d[0] * d[0] + d[1] * d[1]).max(f64::MIN_POSITIVE);
    let s = (((p[0] - a[0]) * d[0] + (p[1] - a[1]) * d[1]) / size).clamp(0.0, 1.0);
    let off = [p[0] - a[0] - s * d[0], p[1] - a[1] - s * d[1]];
    (off[0] * off[0] + off[1] * off[1]).sqrt()
}
