//! One shot: launcher and flight joined, for a project at its written values.

use crate::air::{Weather, air};
use crate::flight::{Ball, Medium, State};
use crate::launcher::inertia::train_inertia;
use crate::launcher::planar::{PassOptions, STEP_S, pass};
use crate::launcher::plateau::{Plateau, plateau};
use crate::launcher::spin_up::spin_up;
use crate::launcher::train::{WheelTrain, torque_line};
use crate::launcher::{Battery, Body, Launcher, Layout, Passage, Release, Setting, TorqueLine};
use crate::project::{DriveBase, Moving, Project, Spot};
use crate::target::{Arrival, Crossing, Placement, Target, arrive, direct_crossing};
use crate::units::STANDARD_GRAVITY_MPS2;

/// Added mass of a sphere with the mass read from a scale in air: ½ for the flow, 1 for the
/// buoyancy that the scale left out [batchelor-1967].
const ADDED_MASS_COEFF: f64 = 1.5;
/// Physical: below one per cent of the mass the carried air is left out.
const CARRIED_AIR_SHARE: f64 = 0.01;

/// Everything one shot needs, worked out once from a project.
#[derive(Clone, Debug)]
pub struct Chain {
    /// Launcher contact data.
    pub launcher: Launcher,
    /// Piece in contact.
    pub body: Body,
    /// Piece in flight.
    pub ball: Ball,
    /// Air.
    pub medium: Medium,
    /// Target.
    pub target: Target,
    /// Highest wheel speed at full duty on this battery.
    pub top_radps: f64,
    /// Time step of the contact simulation.
    pub step_s: f64,
    /// What turns with one wheel shaft, and how many shafts share the battery.
    pub train: WheelTrain,
    /// How the robot moves at the release.
    pub moving: Moving,
    /// How far to the left of straight ahead the launcher throws.
    pub aim_offset_rad: f64,
    battery: Battery,
}

/// Where a spot puts the target, which way the launcher faces, and how the robot moves, all at the
/// moment of release. The field frame has its origin on the floor below the wheel axle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stance {
    /// Target in the field frame.
    pub at: Placement,
    /// Direction in which the launcher throws, left positive: its heading, and how far it throws to the left of that.
    pub heading_rad: f64,
    /// Direction to the centre of the opening, left positive.
    pub sight_rad: f64,
    /// Velocity of the turning centre in the field frame.
    pub platform_mps: [f64; 2],
    /// Turning of the robot, left positive.
    pub turn_radps: f64,
    /// How far the wheel axle is ahead of the turning centre.
    pub ahead_of_centre_m: f64,
}

impl Stance {
    /// True when the robot moves at all.
    pub fn moves(&self) -> bool {
        self.platform_mps != [0.0; 2] || self.turn_radps != 0.0
    }

    /// What the robot's own motion adds to the velocity of a point `forward_m` ahead of the axle.
    ///
    /// ```text
    /// v = V + Ω × r        r = (ahead_of_centre + forward) along the heading
    /// ```
    ///
    /// Velocity of a point of a rigid body, textbook kinematics.
    pub fn carried_mps(&self, forward_m: f64) -> [f64; 2] {
        let (s, c) = self.heading_rad.sin_cos();
        let sweep_mps = self.turn_radps * (self.ahead_of_centre_m + forward_m);
        let [x, y] = self.platform_mps;
        [x - sweep_mps * s, y + sweep_mps * c]
    }
}

impl Chain {
    /// Works out the chain of a project.
    pub fn of(project: &Project) -> Chain {
        let m = &project.machine;
        let p = &project.piece;
        let air = air(&Weather {
            temperature_k: project.site.temperature_k,
            pressure_pa: project.site.pressure_pa,
            humidity_frac: project.site.humidity_frac,
        });
        let shaft_count = match m.layout {
            Layout::Guide(_) => 1,
            Layout::Pair(_) => 2,
        };
        let inertia_kgm2 = train_inertia(&m.parts, &m.drive);
        let train = WheelTrain {
            drive: m.drive,
            inertia_kgm2,
            shaft_count,
        };
        // The rest of the machine draws from the same battery meanwhile.
        let battery = Battery {
            open_v: m.battery.open_v - m.battery.resistance_ohm * m.other_current_a,
            ..m.battery
        };
        let top_radps = spin_up(&train, &battery).top_radps;
        let launcher = Launcher {
            layout: m.layout,
            wheel_radius_m: 0.5 * m.wheel.diameter_m,
            wheel_friction_coeff: m.wheel.friction_coeff,
            axle_height_m: m.axle_height_m,
            wheel_inertia_kgm2: inertia_kgm2,
            feed_speed_mps: m.feed_speed_mps,
            feed_push_n: m.feed_push_n,
            rolling_coeff: m.rolling_coeff,
            speed_transfer_ratio: m.speed_transfer_ratio,
            exit_offset_rad: m.exit_offset_rad,
            guide_error: m.guide_error,
            bite: None,
        };
        let body = Body {
            diameter_m: p.diameter_m,
            mass_kg: p.mass_kg,
            inertia_coeff: p.inertia_coeff,
            stiffness_npm: p.stiffness_npm,
            stiffness_exponent: p.stiffness_exponent,
            bounce_coeff: p.bounce_coeff,
        };
        let displaced_kg = air.density_kgpm3 * std::f64::consts::PI / 6.0 * p.diameter_m.powi(3);
        let carried = p.carried_air && ADDED_MASS_COEFF * displaced_kg > CARRIED_AIR_SHARE * p.mass_kg;
        let ball = Ball {
            mass_kg: p.mass_kg,
            diameter_m: p.diameter_m,
            inertia_coeff: p.inertia_coeff,
            drag: p.drag,
            lift: p.lift,
            spin_decay: p.spin_decay,
            buoyancy: false,
            added_mass_coeff: if carried { ADDED_MASS_COEFF } else { 0.0 },
        };
        let medium = Medium {
            density_kgpm3: air.density_kgpm3,
            viscosity_pas: air.viscosity_pas,
            wind_mps: [project.site.wind_along_mps, project.site.wind_across_mps, 0.0],
            gravity_mps2: STANDARD_GRAVITY_MPS2,
        };
        Chain {
            launcher,
            body,
            ball,
            medium,
            target: project.target,
            top_radps,
            step_s: STEP_S,
            train,
            moving: project.moving,
            aim_offset_rad: m.aim_offset_rad,
            battery,
        }
    }

    /// The same machine on a robot that stands still.
    pub fn standing(&self) -> Chain {
        Chain {
            moving: Moving::default(),
            ..self.clone()
        }
    }

    /// The same chain with another time step of the contact simulation.
    pub fn with_step(&self, step_s: f64) -> Chain {
        Chain {
            step_s,
            ..self.clone()
        }
    }

    /// The exit at a setting and a wheel speed that the controller was holding.
    pub fn release(&self, setting: &Setting, wheel_radps: f64, trace: bool) -> Passage {
        self.release_driven(setting, wheel_radps, &self.holding_line(wheel_radps), trace)
    }

    /// The exit at a setting, a wheel speed and a torque line of the moment.
    pub fn release_driven(
        &self,
        setting: &Setting,
        wheel_radps: f64,
        torque: &TorqueLine,
        trace: bool,
    ) -> Passage {
        let options = PassOptions {
            trace,
            step_s: self.step_s,
        };
        pass(
            &self.launcher,
            &self.body,
            setting,
            wheel_radps,
            torque,
            self.medium.gravity_mps2,
            &options,
        )
    }

    /// Torque at one wheel at the constant duty that holds a speed: zero there, falling with speed.
    pub fn holding_line(&self, wheel_radps: f64) -> TorqueLine {
        /// Convergence: halvings of the duty; leaves it within 1e-9.
        const HALVINGS: usize = 30;
        let line = |duty: f64| torque_line(&self.train.drive, &self.battery, duty, self.train.shaft_count);
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..HALVINGS {
            let duty = 0.5 * (low + high);
            let t = line(duty);
            if t.stall_nm - t.slope_nms * wheel_radps < 0.0 {
                low = duty
            } else {
                high = duty
            }
        }
        line(0.5 * (low + high))
    }

    /// Where the launcher sits against the no-slip plateau at a steadily held wheel speed.
    pub fn plateau(&self, setting: &Setting, wheel_radps: f64) -> Option<Plateau> {
        let line = self.holding_line(wheel_radps);
        plateau(
            &self.launcher,
            &self.body,
            setting,
            wheel_radps,
            &line,
            self.medium.gravity_mps2,
        )
    }

    /// Where a spot puts the target: the launcher turned to face the centre of the opening, without
    /// lead, whether the robot moves or not.
    pub fn stance(&self, spot: &Spot) -> Stance {
        self.stance_led(spot, 0.0)
    }

    /// The stance with the launcher turned away from the line to the centre by a lead, left
    /// positive, with the spot's error of heading and the error of the moment of release on top.
    pub fn stance_led(&self, spot: &Spot, lead_rad: f64) -> Stance {
        self.stance_with(spot, lead_rad, spot.heading_rad, self.moving.late_s)
    }

    /// The stance that a lead is planned for: no error of heading, released on the moment.
    pub(crate) fn stance_planned(&self, spot: &Spot, lead_rad: f64) -> Stance {
        self.stance_with(spot, lead_rad, 0.0, 0.0)
    }

    fn stance_with(&self, spot: &Spot, lead_rad: f64, heading_error_rad: f64, late_s: f64) -> Stance {
        let m = &self.moving;
        let at = Placement {
            near_rim_m: spot.distance_m,
            centre_line_m: -spot.offset_m,
        };
        let centre = self.target.centre_m(&at);
        let sight_rad = centre[1].atan2(centre[0]);
        let heading_rad = sight_rad + (heading_error_rad + lead_rad + m.turn_radps * late_s);
        let (axis_rad, across_mps) = match m.drive {
            DriveBase::Sideways => (sight_rad, m.across_mps),
            DriveBase::Tank => (heading_rad - m.launcher_heading_rad, 0.0),
        };
        let (s, c) = axis_rad.sin_cos();
        let platform_mps = if m.moves() {
            [m.along_mps * c - across_mps * s, m.along_mps * s + across_mps * c]
        } else {
            [0.0; 2]
        };
        // A late release finds the robot further on, so the target nearer.
        let at = if m.moves() {
            Placement {
                near_rim_m: at.near_rim_m - platform_mps[0] * late_s,
                centre_line_m: at.centre_line_m - platform_mps[1] * late_s,
            }
        } else {
            at
        };
        Stance {
            at,
            heading_rad: heading_rad + self.aim_offset_rad,
            sight_rad,
            platform_mps,
            turn_radps: m.turn_radps,
            ahead_of_centre_m: m.ahead_of_centre_m,
        }
    }

    /// Flies an exit from a stance to its end.
    pub fn fly(&self, exit: &Exit, stance: &Stance) -> Arrival {
        let state = exit.state(stance);
        arrive(&self.ball, &self.medium, &self.target, &stance.at, &state)
    }

    /// Where an exit would cross the plane of the opening if no wall stood in the way.
    pub fn crossing(&self, exit: &Exit, stance: &Stance) -> Option<Crossing> {
        let state = exit.state(stance);
        direct_crossing(&self.ball, &self.medium, &self.target, &stance.at, &state)
    }
}

/// Speed, elevation and spin of a release, as people speak of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Exit {
    /// Speed.
    pub speed_mps: f64,
    /// Elevation of the velocity.
    pub angle_rad: f64,
    /// Spin, backspin positive.
    pub spin_radps: f64,
    /// Forward of the wheel axle.
    pub forward_m: f64,
    /// Height above the floor.
    pub height_m: f64,
}

impl Exit {
    /// Reads it off a release.
    pub fn of(release: &Release) -> Exit {
        let [vx, vz] = release.velocity_mps;
        Exit {
            speed_mps: vx.hypot(vz),
            angle_rad: vz.atan2(vx),
            spin_radps: release.spin_radps,
            forward_m: release.position_m[0],
            height_m: release.position_m[1],
        }
    }

    /// The exit as a state in the field frame: the launcher's own exit turned to its heading, plus
    /// what the robot's motion adds. The exit itself does not change: contact in a frame that moves
    /// evenly is the same contact.
    pub fn state(&self, stance: &Stance) -> State {
        let (s, c) = stance.heading_rad.sin_cos();
        let (vx, vz) = (
            self.speed_mps * self.angle_rad.cos(),
            self.speed_mps * self.angle_rad.sin(),
        );
        let standing = State {
            time_s: 0.0,
            position_m: [self.forward_m * c, self.forward_m * s, self.height_m],
            velocity_mps: [vx * c, vx * s, vz],
            // Backspin turns about the axis to the right of the throw.
            spin_radps: [self.spin_radps * s, -self.spin_radps * c, 0.0],
        };
        if !stance.moves() {
            return standing;
        }
        let [px, py] = stance.carried_mps(self.forward_m);
        let ([x, y, z], [sx, sy, sz]) = (standing.velocity_mps, standing.spin_radps);
        State {
            velocity_mps: [x + px, y + py, z],
            // The piece turns with the robot that holds it.
            spin_radps: [sx, sy, sz + stance.turn_radps],
            ..standing
        }
    }
}
