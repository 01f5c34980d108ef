//! Balls that touch each other, walls, a stirrer, a roller and bands, stepped through time.

use super::band::{BAND_DAMPING, Band};
use super::near::Near;
use super::shape::{Cylinder, Meet, Rod, Wall, unit};
use super::touch::{Pair, Push, V, damping_for, push};
use crate::numerics::vector::{add_scaled, cross, dot, norm, scale, sub};

/// One piece.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ball {
    /// Radius.
    pub radius_m: f64,
    /// Mass.
    pub mass_kg: f64,
    /// k in I = k m r².
    pub inertia_coeff: f64,
    /// Centre.
    pub at_m: [f64; 3],
    /// Velocity of the centre.
    pub velocity_mps: [f64; 3],
    /// Turning.
    pub spin_radps: [f64; 3],
    /// Which piece of the load it is.
    pub number: usize,
}

/// How surfaces behave.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surfaces {
    /// Press test of a piece between two boards: force over squeeze.
    pub press_npm: f64,
    /// Drop test.
    pub bounce_coeff: f64,
    /// Friction of a piece on walls, stirrer and bands.
    pub friction_coeff: f64,
    /// Friction of a piece on another.
    pub piece_friction_coeff: f64,
    /// Friction of a piece on the roller.
    pub roller_friction_coeff: f64,
    /// Rolling resistance: torque over radius times force.
    pub rolling_coeff: f64,
}

/// A motor with a torque that falls in a line from standstill to free speed, and what it turns.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rotor {
    /// Torque at standstill.
    pub stall_nm: f64,
    /// Speed without load.
    pub free_radps: f64,
    /// Inertia of all that turns.
    pub inertia_kgm2: f64,
    /// Turned so far.
    pub angle_rad: f64,
    /// Speed.
    pub speed_radps: f64,
    /// Command: 1 forward, 0 held, −1 back.
    pub command_ratio: f64,
}

impl Rotor {
    /// A rotor at rest.
    pub fn new(stall_nm: f64, free_radps: f64, inertia_kgm2: f64) -> Rotor {
        Rotor {
            stall_nm,
            free_radps,
            inertia_kgm2,
            angle_rad: 0.0,
            speed_radps: 0.0,
            command_ratio: 0.0,
        }
    }

    /// ω' with I ω̇ = M₀ (u − ω/ω₀) + load, the motor's line taken at the end of the step, so that no step is too long.
    /// Without a command the rotor is held.
    fn turn(&mut self, load_nm: f64, step_s: f64) {
        if self.command_ratio == 0.0 {
            self.speed_radps = 0.0;
            return;
        }
        let per_inertia = step_s / self.inertia_kgm2;
        let drive = per_inertia * (self.stall_nm * self.command_ratio + load_nm);
        self.speed_radps = (self.speed_radps + drive) / (1.0 + per_inertia * self.stall_nm / self.free_radps);
        self.angle_rad += step_s * self.speed_radps;
    }
}

/// An arm on a shaft square to the floor of the hopper.
#[derive(Clone, Copy, Debug)]
pub struct Arm {
    /// Middle of the hub, in the plane of the arm.
    pub hub_m: [f64; 3],
    /// From the hub's middle to the centre of the round tip.
    pub length_m: f64,
    /// Half the thickness.
    pub radius_m: f64,
    /// What turns it.
    pub rotor: Rotor,
}

impl Arm {
    /// The arm as it stands.
    pub(super) fn rod(&self) -> Rod {
        let (s, c) = (libm::sin(self.rotor.angle_rad), libm::cos(self.rotor.angle_rad));
        Rod {
            start: self.hub_m,
            along: [c, s, 0.0],
            length_m: self.length_m,
            radius_m: self.radius_m,
        }
    }
}

/// A turning cylinder.
#[derive(Clone, Copy, Debug)]
pub struct Roller {
    /// Shape.
    pub shape: Cylinder,
    /// What turns it.
    pub rotor: Rotor,
    /// Paddles on it.
    pub paddle_count: u32,
    /// How far a paddle stands out from the drum.
    pub paddle_m: f64,
}

/// Half the thickness of a paddle. Judgement: a strip of rubber of 6 mm.
const PADDLE_RADIUS_M: f64 = 0.003;

impl Roller {
    /// Does a piece touch it?
    pub(super) fn touches(&self, centre: V, radius_m: f64) -> bool {
        self.shape.meet(centre, radius_m).is_some() || self.paddle(centre, radius_m).is_some()
    }

    /// The paddle that a piece is pressed into most, by its rounded edge.
    #[inline]
    fn paddle(&self, centre: V, radius_m: f64) -> Option<Meet> {
        let c = &self.shape;
        let u = unit(cross(
            c.axis,
            if c.axis[2].abs() < 0.9 {
                [0.0, 0.0, 1.0]
            } else {
                [1.0, 0.0, 0.0]
            },
        ));
        let v = cross(c.axis, u);
        let reach = c.radius_m + (self.paddle_m - PADDLE_RADIUS_M).max(0.0);
        let half = (c.half_width_m - PADDLE_RADIUS_M).max(0.0);
        (0..self.paddle_count)
            .filter_map(|k| {
                let turned = self.rotor.angle_rad
                    + 2.0 * std::f64::consts::PI * f64::from(k) / f64::from(self.paddle_count);
                let out = add_scaled(scale(u, libm::cos(turned)), libm::sin(turned), v);
                let middle = add_scaled(c.centre, reach, out);
                let rod = Rod {
                    start: add_scaled(middle, -half, c.axis),
                    along: c.axis,
                    length_m: 2.0 * half,
                    radius_m: PADDLE_RADIUS_M,
                };
                rod.meet(centre, radius_m)
            })
            .max_by(|a, b| a.overlap_m.total_cmp(&b.overlap_m))
    }
}

/// What a piece touches.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Other {
    /// A wall or the floor, by its place in the list.
    Wall(usize),
    /// A fixed rod: a rounded corner, a rail, a hub.
    Rod(usize),
    /// A band.
    Band(usize),
    /// The stirrer's arm.
    Stirrer,
    /// The roller.
    Roller,
    /// Another piece, by its place in the list.
    Piece(usize),
}

/// A contact with its force.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Contact {
    /// Place of the piece in the list.
    pub piece: usize,
    /// What it touches.
    pub other: Other,
    /// Toward the piece.
    pub normal: [f64; 3],
    /// Normal force.
    pub normal_n: f64,
    /// Friction force.
    pub tangent_n: f64,
    /// Most that friction can hold, over the normal force.
    pub friction_coeff: f64,
}

/// Everything that moves and everything it touches.
#[derive(Clone, Debug)]
pub struct World {
    /// Pieces.
    pub balls: Vec<Ball>,
    /// Walls.
    pub walls: Vec<Wall>,
    /// Fixed rods.
    pub rods: Vec<Rod>,
    /// Bands.
    pub bands: Vec<Band>,
    /// Stirrer.
    pub stirrer: Option<Arm>,
    /// Roller.
    pub roller: Option<Roller>,
    /// Gravity.
    pub gravity_mps2: [f64; 3],
    /// How surfaces behave. A change of stiffness or bounce has no effect any more.
    pub surfaces: Surfaces,
    press_npm: f64,
    damping_ratio: f64,
    step_s: f64,
    /// Tangential springs by piece and by what it touches; a spring lives as long as its contact.
    stretch: Vec<Option<V>>,
    columns: usize,
    pub(super) near: Near,
    loads: Vec<[V; 2]>,
}

/// Method: steps in the shortest contact. `docs/theory/feed.md` shows what fewer and more do.
pub const CONTACT_STEPS_COUNT: f64 = 15.0;

/// Method: points nearer than this share of a radius are one point of a shared edge; a piece that is pressed in by a
/// hundredth of its radius reaches that far around a rounded corner.
const SAME_POINT_RATIO: f64 = 0.15;
/// Method: share of the turning left that rolling resistance may take in one step.
const ROLLING_STOP_RATIO: f64 = 0.2;

impl World {
    /// An empty world. `lightest_kg` is the least mass a piece can have; it decides the step with the stiffness.
    ///
    /// ```text
    /// step = π √(m/2k)/steps
    /// ```
    ///
    /// Half a period of a piece of mass m on a wall, where it is twice as stiff (2k) as between two boards (k); two
    /// pieces against each other take as long (m/2 on k).
    pub fn new(surfaces: Surfaces, lightest_kg: f64, steps_count: f64) -> World {
        let half_period = std::f64::consts::PI * (0.5 * lightest_kg / surfaces.press_npm).sqrt();
        World {
            balls: Vec::new(),
            walls: Vec::new(),
            rods: Vec::new(),
            bands: Vec::new(),
            stirrer: None,
            roller: None,
            gravity_mps2: [0.0; 3],
            damping_ratio: damping_for(surfaces.bounce_coeff),
            press_npm: surfaces.press_npm,
            surfaces,
            step_s: half_period / steps_count,
            stretch: Vec::new(),
            columns: 0,
            near: Near::default(),
            loads: Vec::new(),
        }
    }

    /// Length of a step.
    pub fn step_s(&self) -> f64 {
        self.step_s
    }

    /// Adds a piece. Everything else must be in place by now.
    pub fn add(&mut self, ball: Ball) {
        self.balls.push(ball);
        self.forget();
    }

    /// Takes a piece out.
    pub fn remove(&mut self, index: usize) -> Option<Ball> {
        if index >= self.balls.len() {
            return None;
        }
        let gone = self.balls.remove(index);
        self.forget();
        Some(gone)
    }

    /// Empties the tangential springs: after a change of the list their places mean something else. They fill again
    /// within a fraction of a millimetre.
    fn forget(&mut self) {
        let n = self.balls.len();
        self.columns = self.walls.len() + self.rods.len() + self.bands.len() + 3 + n;
        self.stretch.clear();
        self.stretch.resize(n * self.columns, None);
        self.near.forget();
        self.loads.resize(n, [[0.0; 3]; 2]);
    }

    /// One step.
    pub fn step(&mut self) {
        self.step_seen(|_| {});
    }

    /// One step; tells every contact on the way.
    ///
    /// Semi-implicit Euler: forces at the present places change the speeds, the new speeds change the places. For forces
    /// that depend on place this is leapfrog: second order, and it keeps the energy.
    pub fn step_seen(&mut self, mut seen: impl FnMut(Contact)) {
        let h = self.step_s;
        let torques = self.forces(&mut seen);
        for (ball, [force, torque]) in self.balls.iter_mut().zip(&self.loads) {
            let inertia = ball.inertia_coeff * ball.mass_kg * ball.radius_m * ball.radius_m;
            ball.velocity_mps = add_scaled(ball.velocity_mps, h / ball.mass_kg, *force);
            ball.spin_radps = add_scaled(ball.spin_radps, h / inertia, *torque);
            ball.at_m = add_scaled(ball.at_m, h, ball.velocity_mps);
        }
        if let Some(arm) = &mut self.stirrer {
            arm.rotor.turn(torques[0], h);
        }
        if let Some(roller) = &mut self.roller {
            roller.rotor.turn(torques[1], h);
        }
    }

    /// Forces and torques on the pieces into `loads`; torques on stirrer and roller returned.
    fn forces(&mut self, seen: &mut impl FnMut(Contact)) -> [f64; 2] {
        let (walls, rods, bands) = (self.walls.len(), self.rods.len(), self.bands.len());
        let (h, n) = (self.step_s, self.balls.len());
        let s = self.surfaces;
        for (load, ball) in self.loads.iter_mut().zip(&self.balls) {
            *load = [scale(self.gravity_mps2, ball.mass_kg), [0.0; 3]];
        }
        let arm = self.stirrer.map(|a| (a.rod(), a.rotor.speed_radps, a.hub_m));
        let mut torques = [0.0; 2];
        for i in 0..n {
            let ball = self.balls[i];
            let springs = &mut self.stretch[i * self.columns..(i + 1) * self.columns];
            let mut work = Work {
                ball: &ball,
                index: i,
                pair: Pair {
                    stiffness_npm: 2.0 * self.press_npm,
                    mass_kg: ball.mass_kg,
                    damping_ratio: self.damping_ratio,
                    friction_coeff: s.friction_coeff,
                },
                rolling_coeff: s.rolling_coeff,
                step_s: h,
                load: [[0.0; 3]; 2],
            };
            let mut edges: [Option<V>; 2] = [None; 2];
            for (r, rod) in self.rods.iter().enumerate() {
                let meet = rod.meet(ball.at_m, ball.radius_m);
                if let Some(m) = meet {
                    edges = [Some(m.point), edges[0]];
                }
                work.touch(meet, [0.0; 3], &mut springs[walls + r], Other::Rod(r), seen);
            }
            for (w, wall) in self.walls.iter().enumerate() {
                let meet = wall.meet(ball.at_m, ball.radius_m).filter(|m| {
                    // An edge that two walls share, or a wall and the rod that rounds it, pushes once.
                    let near = SAME_POINT_RATIO * ball.radius_m;
                    let twice = edges.iter().flatten().any(|q| norm(sub(*q, m.point)) < near);
                    if m.at_edge && !twice {
                        edges = [Some(m.point), edges[0]];
                    }
                    !(m.at_edge && twice)
                });
                work.touch(meet, [0.0; 3], &mut springs[w], Other::Wall(w), seen);
            }
            if let Some((rod, speed, hub)) = &arm {
                let meet = rod.meet(ball.at_m, ball.radius_m);
                let spring = &mut springs[walls + rods + bands];
                let lever = meet.map_or([0.0; 3], |m| sub(m.point, *hub));
                let moves = cross([0.0, 0.0, *speed], lever);
                if let Some(p) = work.touch(meet, moves, spring, Other::Stirrer, seen) {
                    torques[0] -= cross(lever, p.force)[2];
                }
            }
            if let Some(roller) = &self.roller {
                work.pair.friction_coeff = s.roller_friction_coeff;
                let drum = roller.shape.meet(ball.at_m, ball.radius_m);
                let paddle = roller.paddle(ball.at_m, ball.radius_m);
                for (meet, place) in [(drum, 1), (paddle, 2)] {
                    let spring = &mut springs[walls + rods + bands + place];
                    let lever = meet.map_or([0.0; 3], |m| sub(m.point, roller.shape.centre));
                    let moves = cross(scale(roller.shape.axis, roller.rotor.speed_radps), lever);
                    if let Some(p) = work.touch(meet, moves, spring, Other::Roller, seen) {
                        torques[1] -= dot(cross(lever, p.force), roller.shape.axis);
                    }
                }
                work.pair.friction_coeff = s.friction_coeff;
            }
            for (b, band) in self.bands.iter().enumerate() {
                let meet = band.lean(&ball).map(|(meet, stiffness)| {
                    work.pair.stiffness_npm = stiffness;
                    work.pair.damping_ratio = BAND_DAMPING;
                    meet
                });
                let spring = &mut springs[walls + rods + b];
                work.touch(meet, [0.0; 3], spring, Other::Band(b), seen);
            }
            let own = work.load;
            let total = &mut self.loads[i];
            *total = [
                add_scaled(total[0], 1.0, own[0]),
                add_scaled(total[1], 1.0, own[1]),
            ];
        }
        self.pieces(walls + rods + bands + 3, seen);
        torques
    }

    /// Pieces against each other.
    fn pieces(&mut self, first: usize, seen: &mut impl FnMut(Contact)) {
        let s = self.surfaces;
        // Springs of pairs that are no longer near are empty by then: they let go before they went that far.
        self.near.look(&self.balls);
        for &(i, j) in self.near.pairs() {
            let (a, b) = (self.balls[i], self.balls[j]);
            let d = sub(a.at_m, b.at_m);
            let (d2, reach) = (dot(d, d), a.radius_m + b.radius_m);
            let spring = &mut self.stretch[i * self.columns + first + j];
            if !(d2 < reach * reach && d2 > 0.0) {
                *spring = None;
                continue;
            }
            let gap = d2.sqrt();
            let normal = scale(d, 1.0 / gap);
            let overlap_m = reach - gap;
            let levers = [a.radius_m - 0.5 * overlap_m, b.radius_m - 0.5 * overlap_m];
            let surface_a = cross(a.spin_radps, scale(normal, -levers[0]));
            let surface_b = cross(b.spin_radps, scale(normal, levers[1]));
            let slip = sub(
                add_scaled(a.velocity_mps, 1.0, surface_a),
                add_scaled(b.velocity_mps, 1.0, surface_b),
            );
            let pair = Pair {
                stiffness_npm: self.press_npm,
                mass_kg: a.mass_kg * b.mass_kg / (a.mass_kg + b.mass_kg),
                damping_ratio: self.damping_ratio,
                friction_coeff: s.piece_friction_coeff,
            };
            let p = push(
                &pair,
                normal,
                overlap_m,
                slip,
                spring.get_or_insert([0.0; 3]),
                self.step_s,
            );
            for (k, sign, lever) in [(i, 1.0, levers[0]), (j, -1.0, levers[1])] {
                let load = &mut self.loads[k];
                load[0] = add_scaled(load[0], sign, p.force);
                // The lever of the second turns the other way, and so does the force on it.
                load[1] = add_scaled(load[1], -lever, cross(normal, p.force));
            }
            seen(Contact {
                piece: i,
                other: Other::Piece(j),
                normal,
                normal_n: p.normal_n,
                tangent_n: p.tangent_n,
                friction_coeff: s.piece_friction_coeff,
            });
        }
    }

    /// Fastest surface of any piece: speed of the centre plus turning times radius.
    pub fn fastest_mps(&self) -> f64 {
        self.balls
            .iter()
            .map(|b| norm(b.velocity_mps) + b.radius_m * norm(b.spin_radps))
            .fold(0.0, f64::max)
    }

    /// Energy of motion and height; that of springs is left out.
    pub fn energy_j(&self) -> f64 {
        self.balls
            .iter()
            .map(|b| {
                let inertia = b.inertia_coeff * b.mass_kg * b.radius_m * b.radius_m;
                0.5 * b.mass_kg * dot(b.velocity_mps, b.velocity_mps)
                    + 0.5 * inertia * dot(b.spin_radps, b.spin_radps)
                    - b.mass_kg * dot(self.gravity_mps2, b.at_m)
            })
            .sum()
    }
}

/// One piece while its contacts are gone through.
struct Work<'a> {
    ball: &'a Ball,
    index: usize,
    pair: Pair,
    rolling_coeff: f64,
    step_s: f64,
    load: [V; 2],
}

impl Work<'_> {
    /// Adds the force of a contact; `moves` is the velocity of the other surface there.
    #[inline]
    fn touch(
        &mut self,
        meet: Option<Meet>,
        moves: V,
        spring: &mut Option<V>,
        other: Other,
        seen: &mut impl FnMut(Contact),
    ) -> Option<Push> {
        let Some(m) = meet else {
            *spring = None;
            return None;
        };
        let ball = self.ball;
        let lever = scale(m.normal, -(ball.radius_m - m.overlap_m));
        let turns = cross(ball.spin_radps, lever);
        let slip = sub(add_scaled(ball.velocity_mps, 1.0, turns), moves);
        let p = push(
            &self.pair,
            m.normal,
            m.overlap_m,
            slip,
            spring.get_or_insert([0.0; 3]),
            self.step_s,
        );
        self.load[0] = add_scaled(self.load[0], 1.0, p.force);
        self.load[1] = add_scaled(self.load[1], 1.0, cross(lever, p.force));
        self.roll(p.normal_n);
        seen(Contact {
            piece: self.index,
            other,
            normal: m.normal,
            normal_n: p.normal_n,
            tangent_n: p.tangent_n,
            friction_coeff: self.pair.friction_coeff,
        });
        Some(p)
    }

    /// Rolling resistance: a torque μ_r R F_n against the turning, never more than stops it.
    #[inline]
    fn roll(&mut self, normal_n: f64) {
        let ball = self.ball;
        let turning = norm(ball.spin_radps);
        if turning > 0.0 {
            let inertia = ball.inertia_coeff * ball.mass_kg * ball.radius_m * ball.radius_m;
            let most = ROLLING_STOP_RATIO * inertia * turning / self.step_s;
            let torque = (self.rolling_coeff * ball.radius_m * normal_n).min(most);
            self.load[1] = add_scaled(self.load[1], -torque / turning, ball.spin_radps);
        }
    }
}
