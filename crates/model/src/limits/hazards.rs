//! What can hurt: energies to know before anyone stands near the machine. Never a verdict.

use super::fastest;
use crate::aim::SpotAim;
use crate::launcher::hazard::{coast_down, piece_energy};
use crate::launcher::motor::motor_constants;
use crate::project::Project;
use crate::shot::Chain;

/// Energies and times of the launcher. Planning figures with the cautions of `check`; they do not show
/// that anything is safe.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hazards {
    /// Energy in all wheels at the top speed.
    pub stored_j: f64,
    /// Time until the wheels stand still from the top speed with the power off, with the friction of
    /// the motor's sheet.
    pub coast_s: f64,
    /// Kinetic energy of the fastest piece thrown at a setpoint; `None` when nothing is thrown.
    pub piece_j: Option<f64>,
    /// The same over the piece's projected area.
    pub piece_jpm2: Option<f64>,
}

/// Works them out.
pub fn hazards(project: &Project, chain: &Chain, aims: &[SpotAim]) -> Hazards {
    let drive = &project.machine.drive;
    let motor = motor_constants(&drive.motor);
    let friction_nm = f64::from(drive.motor_count) * drive.gear_ratio * motor.kt_nm_per_a * motor.free_a;
    let one = coast_down(chain.train.inertia_kgm2, chain.top_radps, friction_nm, 0.0);
    let piece = fastest(aims).and_then(|a| Some((a, a.best()?))).map(|(a, s)| {
        // A moving robot adds its own speed at most.
        let [x, y] = a.stance.carried_mps(s.exit.forward_m);
        let speed_mps = s.exit.speed_mps + x.hypot(y);
        piece_energy(chain.ball.mass_kg, chain.ball.diameter_m, speed_mps)
    });
    Hazards {
        stored_j: f64::from(chain.train.shaft_count) * one.energy_j,
        coast_s: one.stop_s,
        piece_j: piece.map(|p| p.kinetic_j),
        piece_jpm2: piece.map(|p| p.per_area_jpm2),
    }
}
