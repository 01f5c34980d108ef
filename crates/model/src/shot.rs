//! One shot: launcher and flight joined, for a project at its written values.

use crate::air::{Weather, air};
use crate::flight::{Ball, Medium, State};
use crate::launcher::inertia::train_inertia;
use crate::launcher::planar::{PassOptions, STEP_S, pass};
use crate::launcher::plateau::{Plateau, plateau};
use crate::launcher::spin_up::spin_up;
use crate::launcher::train::{WheelTrain, torque_line};
use crate::launcher::{Battery, Body, Launcher, Layout, Passage, Release, Setting, TorqueLine};
use crate::project::{Project, Spot};
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
    battery: Battery,
}

/// Where a spot puts the target, and which way the launcher faces.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stance {
    /// Target in the field frame.
    pub at: Placement,
    /// Heading of the launcher, left positive.
    pub heading_rad: f64,
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
            battery,
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

    /// Where a spot puts the target: the launcher turned to face the centre of the opening.
    pub fn stance(&self, spot: &Spot) -> Stance {
        let at = Placement {
            near_rim_m: spot.distance_m,
            centre_line_m: -spot.offset_m,
        };
        let centre = self.target.centre_m(&at);
        Stance {
            at,
            heading_rad: centre[1].atan2(centre[0]) + spot.heading_rad,
        }
    }

    /// Flies an exit from a stance to its end.
    pub fn fly(&self, exit: &Exit, stance: &Stance) -> Arrival {
        let state = exit.state(stance.heading_rad);
        arrive(&self.ball, &self.medium, &self.target, &stance.at, &state)
    }

    /// Where an exit would cross the plane of the opening if no wall stood in the way.
    pub fn crossing(&self, exit: &Exit, stance: &Stance) -> Option<Crossing> {
        let state = exit.state(stance.heading_rad);
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

    /// The exit as a state in the field frame, for a launcher turned to a heading.
    pub fn state(&self, heading_rad: f64) -> State {
        let (s, c) = heading_rad.sin_cos();
        let (vx, vz) = (
            self.speed_mps * self.angle_rad.cos(),
            self.speed_mps * self.angle_rad.sin(),
        );
        State {
            time_s: 0.0,
            position_m: [self.forward_m * c, self.forward_m * s, self.height_m],
            velocity_mps: [vx * c, vx * s, vz],
            // Backspin turns about the axis to the right of the throw.
            spin_radps: [self.spin_radps * s, -self.spin_radps * c, 0.0],
        }
    }
}
