//! The model's scene in the other engine.

use arcwright_model::feed::hopper::Pieces;
use arcwright_model::feed::world::{Ball, Roller, Rotor, Surfaces, World};
use rapier3d_f64::prelude::*;

/// What can be set in the other engine.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Solver {
    /// Time step.
    pub step_s: f64,
    /// Iterations of its solver in a step.
    pub iteration_count: usize,
    /// Gives pieces the stiffness of the press test by way of the softness of contacts. Off, contacts are as hard as
    /// the solver makes them.
    pub soft: bool,
    /// The roller gives way in place of the piece, on a spring as stiff as it.
    pub sprung: bool,
}

/// Contacts with the stiffness and damping of press test and drop test, and steps short enough for them ([`crate::nip`]).
pub const SOFT: Solver = Solver {
    step_s: 1.0 / 960.0,
    iteration_count: 4,
    soft: true,
    sprung: false,
};

impl Default for Solver {
    fn default() -> Solver {
        Solver {
            step_s: 1.0 / 240.0,
            iteration_count: 4,
            soft: false,
            sprung: true,
        }
    }
}

const PIECE: Group = Group::GROUP_1;
const FIXED: Group = Group::GROUP_2;
/// Method: walls reach this far behind their surface, as a share of a piece's diameter, so that nothing comes through.
const BEHIND_RATIO: f64 = 0.5;
/// Method: mass of arm and roller. The arm only turns; a fixed roller must not give way; one on a spring is heavy enough for
/// the spring's swing to take some ten steps.
const ARM_KG: f64 = 1.0;
const FIXED_ROLLER_KG: f64 = 1e4;
const ROLLER_MASS_RATIO: f64 = 4.0;
/// Method: damping ratio of the roller on its spring.
const ROLLER_DAMPING: f64 = 0.3;
/// Method: a held rotor is braked by this many times its stall torque over its free speed.
const BRAKE_RATIO: f64 = 1e4;

/// A body turned by a motor's line.
struct Turned {
    joint: ImpulseJointHandle,
    body: RigidBodyHandle,
    axis: Vector,
    rotor: Rotor,
}

/// The bodies of a scene.
pub struct Rig {
    /// The other engine's world.
    pub world: PhysicsWorld,
    surfaces: Surfaces,
    pieces: Vec<(RigidBodyHandle, usize, f64)>,
    stirrer: Option<Turned>,
    roller: Option<Turned>,
    spring: Option<Spring>,
}

/// What a roller leans on. The library's own spring motor is undone by its relaxation pass, so the force is applied from here.
struct Spring {
    body: RigidBodyHandle,
    rest_m: f64,
    stiffness_npm: f64,
    damping_nspm: f64,
}

/// Why a scene cannot be played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unknown {
    /// It has no strings.
    Bands,
    /// It has no rolling resistance.
    Rolling,
    /// Plates that are touched from both sides.
    Plates,
    /// Paddles on the roller.
    Paddles,
    /// A bent chute, a floor that leans to the sides, another way of loading than dropping: not laid out there.
    Hopper,
    /// A wall that is no convex body.
    Wall(usize),
}

fn vector(p: [f64; 3]) -> Vector {
    Vector::new(p[0], p[1], p[2])
}

/// Only pieces meet anything: the stirrer cannot touch a wall, nor the roller the chute.
fn groups(own: Group) -> InteractionGroups {
    let other = if own == PIECE { PIECE | FIXED } else { PIECE };
    InteractionGroups::new(own, other, InteractionTestMode::And)
}

impl Rig {
    /// The bodies of a scene, without pieces.
    ///
    /// Friction of two surfaces is the product of theirs where one is fixed, and the mean between pieces, so that each kind
    /// of contact has the friction that the scene says. Stirrer and roller are bodies on joints whose motors have the
    /// rotor's line, M = M₀ (u − ω/ω₀) = (M₀/ω₀) (u ω₀ − ω), and the rotor's inertia about the joint's axis.
    pub fn new(w: &World, pieces: &Pieces, solver: &Solver) -> Result<Rig, Unknown> {
        let s = w.surfaces;
        if !w.bands.is_empty() {
            return Err(Unknown::Bands);
        }
        if s.rolling_coeff != 0.0 {
            return Err(Unknown::Rolling);
        }
        if w.walls.iter().any(|wall| wall.has_both_sides()) {
            return Err(Unknown::Plates);
        }
        if w.roller.is_some_and(|r| r.paddle_count > 0) {
            return Err(Unknown::Paddles);
        }
        let mut world = PhysicsWorld::new();
        world.gravity = vector(w.gravity_mps2);
        let p = &mut world.integration_parameters;
        p.dt = solver.step_s;
        p.num_solver_iterations = solver.iteration_count;
        p.friction_model = FrictionModel::Coulomb;
        p.length_unit = pieces.diameter_m;
        p.contact_recycling = false;
        p.contact_clustering = false;
        p.warmstart_joints = true;
        if solver.soft {
            let softness = SpringCoefficients::new(
                (2.0 * s.press_npm / pieces.mass_kg).sqrt() / std::f64::consts::TAU,
                arcwright_model::feed::damping_for(s.bounce_coeff),
            );
            p.contact_softness = softness;
            p.static_contact_softness = softness;
            p.normalized_allowed_linear_error = 0.0;
            // Else what an overlap pushes is cut off at a speed.
            p.normalized_max_corrective_velocity = f64::MAX;
            p.num_internal_stabilization_iterations = 0;
        }
        let mut rig = Rig {
            world,
            surfaces: s,
            pieces: Vec::new(),
            stirrer: None,
            roller: None,
            spring: None,
        };
        let ground = rig.world.insert_body(RigidBodyBuilder::fixed());
        let behind = BEHIND_RATIO * pieces.diameter_m;
        for (i, wall) in w.walls.iter().enumerate() {
            let body = slab(wall.corners_m(), behind).ok_or(Unknown::Wall(i))?;
            let body = rig.fixed(body, s.friction_coeff);
            rig.world.insert_collider(body, Some(ground));
        }
        for rod in &w.rods {
            let [from, to] = rod.ends_m().map(vector);
            let body = ColliderBuilder::capsule_from_endpoints(from, to, rod.radius_m());
            let body = rig.fixed(body, s.friction_coeff);
            rig.world.insert_collider(body, Some(ground));
        }
        if let Some(arm) = &w.stirrer {
            let axis = Vector::Z;
            let body = RigidBodyBuilder::dynamic()
                .translation(vector(arm.hub_m))
                .rotation(axis * arm.rotor.angle_rad)
                .gravity_scale(0.0)
                .can_sleep(false)
                .additional_mass_properties(about_centre(ARM_KG, arm.rotor.inertia_kgm2));
            let tip = Vector::X * arm.length_m;
            let shape = ColliderBuilder::capsule_from_endpoints(Vector::ZERO, tip, arm.radius_m).density(0.0);
            let (body, _) = rig.world.insert(body, rig.fixed(shape, s.friction_coeff));
            // The joint counts angles from where the arm stands.
            let joint = GenericJointBuilder::new(JointAxesMask::LOCKED_REVOLUTE_AXES)
                .local_frame1(Pose::from_parts(
                    vector(arm.hub_m),
                    Rotation::from_rotation_y(-std::f64::consts::FRAC_PI_2),
                ))
                .local_frame2(Pose::from_rotation(Rotation::from_rotation_y(
                    -std::f64::consts::FRAC_PI_2,
                )))
                .contacts_enabled(false)
                .motor_model(JointAxis::AngX, MotorModel::ForceBased)
                .build();
            rig.stirrer = Some(Turned {
                joint: rig.world.insert_impulse_joint(ground, body, joint),
                body,
                axis,
                rotor: arm.rotor,
            });
        }
        if let Some(r) = &w.roller {
            rig.add_roller(ground, r, pieces, solver.sprung);
        }
        rig.command(0.0, 0.0);
        Ok(rig)
    }

    /// The roller on a spring as stiff as a piece in the press test, with a stop where the scene has it. A piece that does
    /// not give way lifts it by what it would be squeezed, and is pressed as in the model. Or the roller fixed.
    fn add_roller(&mut self, ground: RigidBodyHandle, roller: &Roller, pieces: &Pieces, sprung: bool) {
        let (shape, rotor) = (&roller.shape, roller.rotor);
        let (centre, axis) = (vector(shape.centre_m()), vector(shape.axis_ratio()));
        let mass = if sprung {
            ROLLER_MASS_RATIO * pieces.mass_kg
        } else {
            FIXED_ROLLER_KG
        };
        // x of the joint is the axis of the roller, z is up.
        let turned = Rotation::from_rotation_z(axis.y.atan2(axis.x));
        let body = RigidBodyBuilder::dynamic()
            .pose(Pose::from_parts(centre, turned))
            .gravity_scale(0.0)
            .can_sleep(false)
            .additional_mass_properties(about_centre(mass, rotor.inertia_kgm2));
        // The library's cylinder stands along y.
        let lying = Rotation::from_rotation_z(-std::f64::consts::FRAC_PI_2);
        let cylinder = ColliderBuilder::cylinder(0.5 * shape.width_m(), shape.radius_m())
            .position(Pose::from_rotation(lying))
            .density(0.0);
        let cylinder = self.fixed(cylinder, self.surfaces.roller_friction_coeff);
        let (body, _) = self.world.insert(body, cylinder);
        let mut free = JointAxesMask::ANG_X;
        if sprung {
            free |= JointAxesMask::LIN_Z;
        }
        let mut joint = GenericJointBuilder::new(JointAxesMask::all() & !free)
            .local_frame1(Pose::from_parts(centre, turned))
            .contacts_enabled(false)
            .motor_model(JointAxis::AngX, MotorModel::ForceBased);
        if sprung {
            joint = joint.limits(JointAxis::LinZ, [0.0, 10.0 * pieces.diameter_m]);
            self.spring = Some(Spring {
                body,
                rest_m: centre.z,
                stiffness_npm: self.surfaces.press_npm,
                damping_nspm: 2.0 * ROLLER_DAMPING * (self.surfaces.press_npm * mass).sqrt(),
            });
        }
        let joint = joint.build();
        self.roller = Some(Turned {
            joint: self.world.insert_impulse_joint(ground, body, joint),
            body,
            axis,
            rotor,
        });
    }

    fn fixed(&self, shape: ColliderBuilder, friction: f64) -> ColliderBuilder {
        shape
            .collision_groups(groups(FIXED))
            .friction(friction / self.surfaces.piece_friction_coeff.max(f64::MIN_POSITIVE))
            .friction_combine_rule(CoefficientCombineRule::Multiply)
            .restitution(self.surfaces.bounce_coeff)
            .restitution_combine_rule(CoefficientCombineRule::Average)
    }

    /// Adds a piece.
    pub fn add(&mut self, ball: &Ball) {
        let inertia = ball.inertia_coeff * ball.mass_kg * ball.radius_m * ball.radius_m;
        let body = RigidBodyBuilder::dynamic()
            .translation(vector(ball.at_m))
            .linvel(vector(ball.velocity_mps))
            .angvel(vector(ball.spin_radps))
            .can_sleep(false);
        let shape = ColliderBuilder::ball(ball.radius_m)
            .mass_properties(about_centre(ball.mass_kg, inertia))
            .collision_groups(groups(PIECE))
            .friction(self.surfaces.piece_friction_coeff)
            .friction_combine_rule(CoefficientCombineRule::Average)
            .restitution(self.surfaces.bounce_coeff)
            .restitution_combine_rule(CoefficientCombineRule::Average);
        let (handle, _) = self.world.insert(body, shape);
        self.pieces.push((handle, ball.number, ball.radius_m));
    }

    /// Takes a piece out by its place in the list.
    pub fn remove(&mut self, index: usize) {
        if index < self.pieces.len() {
            let (handle, ..) = self.pieces.remove(index);
            self.world.remove_body(handle);
        }
    }

    /// Places of the pieces, with the radius of each.
    pub fn pieces(&self) -> impl Iterator<Item = ([f64; 3], f64)> + '_ {
        self.pieces.iter().filter_map(|(h, _, r)| {
            let at = self.world.bodies.get(*h)?.translation();
            Some(([at.x, at.y, at.z], *r))
        })
    }

    /// Velocity of a piece by its place in the list.
    pub fn velocity_mps(&self, index: usize) -> [f64; 3] {
        let body = self
            .pieces
            .get(index)
            .and_then(|(h, ..)| self.world.bodies.get(*h));
        body.map_or([f64::NAN; 3], |b| [b.linvel().x, b.linvel().y, b.linvel().z])
    }

    /// Does a ball there touch anything?
    pub fn touches(&self, at_m: [f64; 3], radius_m: f64) -> bool {
        let at = vector(at_m);
        self.world
            .colliders
            .iter()
            .any(|(_, c)| c.shape().distance_to_point(c.position(), at, true) < radius_m)
    }

    /// Commands stirrer and roller: 1 forward, 0 held, −1 back.
    pub fn command(&mut self, stirrer_ratio: f64, roller_ratio: f64) {
        for (turned, ratio) in [(&self.stirrer, stirrer_ratio), (&self.roller, roller_ratio)] {
            let Some(t) = turned else { continue };
            let line = t.rotor.stall_nm / t.rotor.free_radps;
            if let Some(joint) = self.world.impulse_joints.get_mut(t.joint, true) {
                let (target, factor) = if ratio == 0.0 {
                    (0.0, BRAKE_RATIO * line)
                } else {
                    (ratio * t.rotor.free_radps, line)
                };
                joint.data.set_motor_velocity(JointAxis::AngX, target, factor);
            }
        }
    }

    /// Speed of the stirrer.
    pub fn stirrer_radps(&self) -> Option<f64> {
        self.stirrer.as_ref().and_then(|t| self.speed_radps(t))
    }

    /// Speed of the roller.
    pub fn roller_radps(&self) -> Option<f64> {
        self.roller.as_ref().and_then(|t| self.speed_radps(t))
    }

    /// Push of the roller on the pieces, mean over the last step.
    pub fn roller_push_n(&self) -> f64 {
        self.roller.as_ref().map_or(0.0, |t| self.push_on_n(t.body))
    }

    /// Push of the stirrer on the pieces, mean over the last step.
    pub fn stirrer_push_n(&self) -> f64 {
        self.stirrer.as_ref().map_or(0.0, |t| self.push_on_n(t.body))
    }

    /// Normal forces on a body's shapes together.
    fn push_on_n(&self, body: RigidBodyHandle) -> f64 {
        let dt = self.world.integration_parameters.dt;
        let Some(body) = self.world.bodies.get(body) else {
            return 0.0;
        };
        body.colliders()
            .iter()
            .flat_map(|c| self.world.narrow_phase.contact_pairs_with(*c))
            .map(|p| p.total_impulse_magnitude() / dt)
            .sum()
    }

    fn speed_radps(&self, t: &Turned) -> Option<f64> {
        Some(self.world.bodies.get(t.body)?.angvel().dot(t.axis))
    }

    /// One step.
    pub fn step(&mut self) {
        if let Some(s) = &self.spring
            && let Some(body) = self.world.bodies.get_mut(s.body)
        {
            let up = body.translation().z - s.rest_m;
            let force = -s.stiffness_npm * up - s.damping_nspm * body.linvel().z;
            body.reset_forces(true);
            body.add_force(Vector::Z * force, true);
        }
        self.world.step();
    }
}

fn about_centre(mass_kg: f64, inertia_kgm2: f64) -> MassProperties {
    MassProperties::new(Vector::ZERO, mass_kg, Vector::splat(inertia_kgm2))
}

/// A flat wall as a body that reaches `behind` its surface.
fn slab(corners_m: &[[f64; 3]], behind_m: f64) -> Option<ColliderBuilder> {
    let corners: Vec<Vector> = corners_m.iter().map(|c| vector(*c)).collect();
    let [first, rest @ ..] = corners.as_slice() else {
        return None;
    };
    let area: Vector = rest
        .windows(2)
        .map(|p| (p[0] - *first).cross(p[1] - *first))
        .fold(Vector::ZERO, |a, b| a + b);
    let back = area.try_normalize()? * -behind_m;
    let points: Vec<Vector> = corners.iter().flat_map(|c| [*c, *c + back]).collect();
    ColliderBuilder::convex_hull(&points)
}
