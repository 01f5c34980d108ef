//! The drive base in figures: speed and force by direction, dashes, turns, lining up.

use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, TAU};

use crate::frame::base::{BaseDrive, Way, force_share, push, scrub, speed_share, traction_share};
use crate::frame::dash::{Dash, Runner, dash};
use crate::frame::mass::{Lump, Rollup, rollup};
use crate::frame::power::Stretch;
use crate::frame::turn::Turner;
use crate::launcher::motor::motor_constants;
use crate::project::{BaseKind, Frame, Project};
use crate::units::STANDARD_GRAVITY_MPS2;

/// Method: directions around the base.
pub const DIRECTIONS: usize = 72;
/// Method: steps of a dash for its current.
const STEPS: usize = 100;

/// One direction, from straight ahead, left positive.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Direction {
    /// Direction.
    pub direction_rad: f64,
    /// Top speed.
    pub speed_mps: f64,
    /// Push.
    pub force_n: f64,
    /// Time over the usual drive, from rest to rest, a turn first where the base must; `None` where it cannot.
    pub dash_s: Option<f64>,
}

/// A base in figures.
#[derive(Clone, Debug, PartialEq)]
pub struct BaseFigures {
    /// Kind.
    pub kind: BaseKind,
    /// Motors.
    pub motor_count: u32,
    /// Mass reckoned with.
    pub mass_kg: f64,
    /// What the floor bears straight ahead.
    pub traction_n: f64,
    /// What the motors push at standstill, battery sag and current limit in it.
    pub motor_n: f64,
    /// The lesser of the two.
    pub push_n: f64,
    /// Do the wheels slip before the motors give out?
    pub slips: bool,
    /// Current of each motor at that push.
    pub push_a: f64,
    /// Current of the battery at that push.
    pub push_battery_a: f64,
    /// What the motors would push at standstill without a current limit, battery sag in it.
    pub stall_n: f64,
    /// Mass with what turns reckoned in.
    pub moving_kg: f64,
    /// How it moves.
    pub way: Way,
    /// Top speed ahead without losses on the floor; what is seen is 80 to 90 % of it.
    pub top_mps: f64,
    /// Around the base.
    pub directions: Vec<Direction>,
    /// The usual drive straight ahead from rest, without stopping.
    pub dash: Option<Dash>,
    /// The same from rest to rest.
    pub dash_s: Option<f64>,
    /// A drive of that length straight to the side, from rest to rest, with the turns it needs.
    pub side_s: Option<f64>,
    /// A quarter turn.
    pub quarter_s: Option<f64>,
    /// Lining up from the error of heading of the file, coming to rest with it.
    pub line_up_s: Option<f64>,
    /// A shift to the side by the length of the file, heading as before.
    pub shift_s: Option<f64>,
    /// Steady speed of turning.
    pub turn_radps: f64,
    /// Push that turning on the spot asks of all wheels; 0 under rollers.
    pub scrub_n: f64,
    /// Current of the battery while it speeds up over half of the usual drive.
    pub speeding: Stretch,
    /// The same, moment by moment.
    pub speeding_run: Vec<Stretch>,
    /// Highest current of the battery in it.
    pub speeding_peak_a: f64,
}

/// Mass and centre of mass: of the parts where they are listed; else what the file states.
pub fn weighed(project: &Project, frame: &Frame) -> Option<Rollup> {
    if !frame.parts.is_empty() {
        let lumps: Vec<Lump> = frame
            .parts
            .iter()
            .map(|p| Lump {
                mass_kg: p.mass_kg,
                at_m: p.at_m,
            })
            .collect();
        let mut all = rollup(&lumps);
        if all.mass_kg > 0.0 {
            // Parts that nobody listed sit where the listed ones do on average.
            all.mass_kg = project.machine.mass_kg.unwrap_or(all.mass_kg).max(all.mass_kg);
            if let Some(h) = frame.mass_height_m {
                all.centre_m[2] = h;
            }
            return Some(all);
        }
    }
    project.machine.mass_kg.map(|mass_kg| Rollup {
        mass_kg,
        centre_m: [frame.mass_ahead_m, 0.0, frame.mass_height_m.unwrap_or(f64::NAN)],
    })
}

/// What decides about a base besides the rest of its frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BaseChoice {
    /// Kind.
    pub kind: BaseKind,
    /// Motors.
    pub motor_count: u32,
}

impl BaseFigures {
    /// The base of a project as it is; `None` without motor or mass.
    pub fn of(project: &Project) -> Option<BaseFigures> {
        let frame = project.frame.as_ref()?;
        BaseFigures::with(
            project,
            BaseChoice {
                kind: frame.drive,
                motor_count: frame.motor_count,
            },
        )
    }

    /// The same with another kind of base or another number of motors.
    pub fn with(project: &Project, choice: BaseChoice) -> Option<BaseFigures> {
        let frame = project.frame.as_ref()?;
        let sheet = frame.motor?.sheet;
        let mass_kg = weighed(project, frame)?.mass_kg;
        let drive = BaseDrive {
            motor: sheet,
            motor_count: choice.motor_count,
            gear_ratio: frame.gear_ratio,
            efficiency_frac: frame.efficiency_frac,
            limit_a: frame.limit_a,
            radius_m: 0.5 * frame.wheel_m,
        };
        let way = match choice.kind {
            BaseKind::Sideways => Way::Rollers {
                sideways_frac: frame.side_frac,
            },
            BaseKind::Four | BaseKind::Six => Way::Plain,
        };
        let (m, n) = (motor_constants(&sheet), f64::from(choice.motor_count));
        let battery = &project.machine.battery;
        let ohm = m.resistance_ohm + n * battery.resistance_ohm;
        let per_torque = n * drive.gear_ratio * drive.efficiency_frac / drive.radius_m;
        // Newtons of the whole base for each ampere in each motor, and the ampere at which they begin.
        let force = |current_a: f64| (per_torque * m.kt_nm_per_a * (current_a - m.free_a)).max(0.0);
        let current = |force_n: f64| m.free_a + force_n / (per_torque * m.kt_nm_per_a);
        let stall_a = battery.open_v / ohm;
        let stall_n = force(stall_a);
        let motor_n = force(stall_a.min(drive.limit_a));
        let traction_n = push(&drive, mass_kg, frame.friction_coeff).traction_n * traction_share(way);
        let push_n = traction_n.min(motor_n);
        let top_mps =
            (battery.open_v - m.free_a * ohm) / m.ke_v_per_radps / drive.gear_ratio * drive.radius_m;
        let rolling_kg = n * sheet.rotor_kgm2 * (drive.gear_ratio / drive.radius_m).powi(2);
        let ahead = Runner {
            mass_kg: mass_kg + rolling_kg,
            cap_n: push_n,
            stall_n,
            free_mps: top_mps,
        };
        let toward = |direction_rad: f64| {
            let (f, v) = (force_share(way, direction_rad), speed_share(way, direction_rad));
            Runner {
                cap_n: ahead.cap_n * f,
                stall_n: ahead.stall_n * f,
                free_mps: ahead.free_mps * v,
                ..ahead
            }
        };
        let rest_to_rest = |r: &Runner, way_m: f64| dash(r, 0.5 * way_m).map(|d| 2.0 * d.time_s);
        let turner = turner(project, frame, choice.kind, mass_kg, &ahead);
        let settled = |angle_rad: f64| turner.time_s(angle_rad).map(|t| t + frame.settle_s);
        // A base without rollers turns, ahead or backwards, drives, and turns back where it must.
        let turned = |direction_rad: f64, way_m: f64, back: bool| -> Option<f64> {
            match way {
                Way::Rollers { .. } => rest_to_rest(&toward(direction_rad), way_m),
                Way::Plain => {
                    let bend = direction_rad.sin().abs().asin();
                    let turns = settled_or_none(bend, &settled)? * if back { 2.0 } else { 1.0 };
                    Some(turns + rest_to_rest(&ahead, way_m)?)
                }
            }
        };
        let directions = (0..DIRECTIONS)
            .map(|i| {
                let direction_rad = i as f64 / DIRECTIONS as f64 * TAU;
                Direction {
                    direction_rad,
                    speed_mps: top_mps * speed_share(way, direction_rad),
                    force_n: push_n * force_share(way, direction_rad),
                    dash_s: turned(direction_rad, frame.dash_m, false),
                }
            })
            .collect();
        let shift_s = match way {
            Way::Rollers { .. } => rest_to_rest(&toward(FRAC_PI_2), frame.shift_m),
            // Slantwise at 45 degrees and back along the own axis, so that only the side is changed.
            Way::Plain => settled(FRAC_PI_4).and_then(|t| {
                Some(
                    2.0 * t
                        + rest_to_rest(&ahead, frame.shift_m / FRAC_PI_4.sin())?
                        + rest_to_rest(&ahead, frame.shift_m)?,
                )
            }),
        };
        let (speeding, speeding_run, speeding_peak_a) = speeding(&ahead, 0.5 * frame.dash_m, &|f, v| {
            let current_a = current(f);
            let motor_v =
                current_a * m.resistance_ohm + m.ke_v_per_radps * v * drive.gear_ratio / drive.radius_m;
            let duty =
                (motor_v / (battery.open_v - n * battery.resistance_ohm * current_a).max(motor_v)).min(1.0);
            n * duty * current_a
        });
        let push_a = current(push_n).min(drive.limit_a).min(stall_a);
        let push_duty = (push_a * m.resistance_ohm / (battery.open_v - n * battery.resistance_ohm * push_a))
            .clamp(0.0, 1.0);
        let scrub_n = match way {
            Way::Rollers { .. } => 0.0,
            Way::Plain => {
                let weight_n = mass_kg * STANDARD_GRAVITY_MPS2;
                4.0 * scrub(
                    frame.friction_coeff,
                    weight_n,
                    dragged_m(frame, choice.kind),
                    frame.track_m,
                    1.0,
                )
                .wheel_n
            }
        };
        Some(BaseFigures {
            kind: choice.kind,
            motor_count: choice.motor_count,
            mass_kg,
            traction_n,
            motor_n,
            push_n,
            slips: traction_n <= motor_n,
            push_a,
            push_battery_a: n * push_duty * push_a,
            stall_n,
            moving_kg: ahead.mass_kg,
            way,
            top_mps,
            directions,
            dash: dash(&ahead, frame.dash_m),
            dash_s: rest_to_rest(&ahead, frame.dash_m),
            side_s: turned(FRAC_PI_2, frame.dash_m, true),
            quarter_s: settled(FRAC_PI_2),
            line_up_s: settled(frame.line_up_rad),
            shift_s,
            turn_radps: turner.top_radps(),
            scrub_n,
            speeding,
            speeding_run,
            speeding_peak_a,
        })
    }

    /// The base as a mass that is pushed in a direction.
    fn runner(&self, direction_rad: f64) -> Runner {
        let (f, v) = (
            force_share(self.way, direction_rad),
            speed_share(self.way, direction_rad),
        );
        Runner {
            mass_kg: self.moving_kg,
            cap_n: self.push_n * f,
            stall_n: self.stall_n * f,
            free_mps: self.top_mps * v,
        }
    }

    /// Time over a way in a direction, from rest to rest; a base without rollers turns first. `None` where it cannot.
    pub fn drive_s(project: &Project, choice: BaseChoice, direction_rad: f64, way_m: f64) -> Option<f64> {
        let figures = BaseFigures::with(project, choice)?;
        let frame = project.frame.as_ref()?;
        let rest_to_rest = |r: &Runner| dash(r, 0.5 * way_m).map(|d| 2.0 * d.time_s);
        match figures.way {
            Way::Rollers { .. } => rest_to_rest(&figures.runner(direction_rad)),
            Way::Plain => {
                let ahead = figures.runner(0.0);
                let turner = turner(project, frame, choice.kind, figures.mass_kg, &ahead);
                let settled = |angle_rad: f64| turner.time_s(angle_rad).map(|t| t + frame.settle_s);
                let bend = direction_rad.sin().abs().asin();
                Some(settled_or_none(bend, &settled)? + rest_to_rest(&ahead)?)
            }
        }
    }
}

fn settled_or_none(angle_rad: f64, settled: &dyn Fn(f64) -> Option<f64>) -> Option<f64> {
    /// Method: a bend below this is none.
    const NONE_RAD: f64 = 1e-6;
    if angle_rad < NONE_RAD {
        Some(0.0)
    } else {
        settled(angle_rad)
    }
}

/// Distance between the outer wheels that are dragged in a turn: half of the base where the middle pair is lower.
fn dragged_m(frame: &Frame, kind: BaseKind) -> f64 {
    match kind {
        BaseKind::Four => frame.base_m,
        BaseKind::Six => 0.5 * frame.base_m,
        BaseKind::Sideways => 0.0,
    }
}

/// The base as it turns on the spot. Inertia of a flat box of the robot's size \[meriam-dynamics\].
fn turner(project: &Project, frame: &Frame, kind: BaseKind, mass_kg: f64, ahead: &Runner) -> Turner {
    let length_m = project.machine.length_m.unwrap_or(frame.base_m);
    let width_m = project.machine.width_m.unwrap_or(frame.track_m);
    let arm_m = match kind {
        BaseKind::Sideways => 0.5 * (frame.base_m + frame.track_m),
        BaseKind::Four | BaseKind::Six => 0.5 * frame.track_m,
    };
    Turner {
        inertia_kgm2: mass_kg * (length_m * length_m + width_m * width_m) / 12.0,
        arm_m,
        half_drag_m: 0.5 * dragged_m(frame, kind),
        friction_n: frame.friction_coeff * mass_kg * STANDARD_GRAVITY_MPS2,
        cap_n: ahead.cap_n,
        stall_n: ahead.stall_n,
        free_mps: ahead.free_mps,
    }
}

/// Root mean square, course and peak of the battery's current over a way from rest.
fn speeding(
    runner: &Runner,
    way_m: f64,
    battery_a: &dyn Fn(f64, f64) -> f64,
) -> (Stretch, Vec<Stretch>, f64) {
    let Some(whole) = dash(runner, way_m) else {
        return (
            Stretch {
                current_a: 0.0,
                time_s: 0.0,
            },
            Vec::new(),
            0.0,
        );
    };
    let step_s = whole.time_s / STEPS as f64;
    let (mut speed, mut square, mut peak) = (0.0, 0.0, 0.0_f64);
    let mut run = Vec::with_capacity(STEPS);
    for _ in 0..STEPS {
        let line = |v: f64| (runner.stall_n * (1.0 - v / runner.free_mps)).clamp(0.0, runner.cap_n);
        let middle = speed + 0.5 * step_s * line(speed) / runner.mass_kg;
        let now = battery_a(line(middle), middle);
        speed += step_s * line(middle) / runner.mass_kg;
        square += now * now / STEPS as f64;
        peak = peak.max(now);
        run.push(Stretch {
            current_a: now,
            time_s: step_s,
        });
    }
    (
        Stretch {
            current_a: square.sqrt(),
            time_s: whole.time_s,
        },
        run,
        peak,
    )
}
