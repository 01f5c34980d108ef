//! Plain data of the reference contact model.

/// Normal force against squeeze.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SqueezeLaw {
    /// N = stiffness · δ, in N/m.
    Linear {
        /// Force per metre of squeeze.
        stiffness_npm: f64,
    },
    /// N = stiffness · δ^1.5 (two stiff surfaces on a solid ball, Hertz), in N/m^1.5.
    Hertz {
        /// Factor of δ^1.5.
        stiffness_npm: f64,
    },
}

/// One driven surface: a wheel with its train.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surface {
    /// Radius.
    pub radius_m: f64,
    /// Inertia at the wheel.
    pub inertia_kgm2: f64,
    /// Torque at standstill.
    pub stall_nm: f64,
    /// Torque lost per rad/s.
    pub slope_nms: f64,
    /// Speed at the entry.
    pub start_radps: f64,
}

/// The whole problem. Surface 1 drives; surface 2 is a fixed guide when `wheel_2` is `None`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PathContact {
    /// Mass of the piece.
    pub mass_kg: f64,
    /// Free diameter.
    pub diameter_m: f64,
    /// k in I = k m r².
    pub inertia_coeff: f64,
    /// Distance from the centre to surface 1.
    pub arm_1_m: f64,
    /// Distance from the centre to surface 2.
    pub arm_2_m: f64,
    /// Length of the centre's path.
    pub length_m: f64,
    /// Length of the entry over which the squeeze grows; 0 for a full squeeze at once.
    pub ramp_m: f64,
    /// Curvature of the centre's path about surface 1's axle, 1/m; 0 for straight.
    pub curvature_pm: f64,
    /// Squeeze law.
    pub law: SqueezeLaw,
    /// Friction at surface 1.
    pub friction_1_coeff: f64,
    /// Friction at surface 2.
    pub friction_2_coeff: f64,
    /// Surface 1.
    pub wheel_1: Surface,
    /// Surface 2, if it is a wheel.
    pub wheel_2: Option<Surface>,
    /// Rolling loss: torque = coefficient · r · (N₁ + N₂), while the spin is positive.
    pub rolling_coeff: f64,
    /// Acceleration of gravity.
    pub gravity_mps2: f64,
    /// Elevation of the path at the entry.
    pub entry_angle_rad: f64,
    /// Change of elevation per metre of path.
    pub turn_radpm: f64,
    /// Speed at the entry.
    pub speed_mps: f64,
    /// Spin at the entry, positive when the side of surface 1 moves forward.
    pub spin_radps: f64,
}

/// Grip (0) or the sign of the slip of both surfaces, from a time on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mode {
    /// From this time.
    pub time_s: f64,
    /// From this place.
    pub path_m: f64,
    /// Surfaces 1 and 2.
    pub signs: [i8; 2],
}

/// Result of [`super::path_contact`].
#[derive(Clone, Debug, PartialEq)]
pub struct PathExit {
    /// Speed at the end of the path.
    pub speed_mps: f64,
    /// Spin there.
    pub spin_radps: f64,
    /// Wheel speeds there; 0 for a fixed guide.
    pub wheel_radps: [f64; 2],
    /// Time taken.
    pub time_s: f64,
    /// ∫|u| dt at each surface.
    pub slip_m: [f64; 2],
    /// ∫ λ u dt at each surface.
    pub heat_j: [f64; 2],
    /// Heat of rolling.
    pub rolling_loss_j: f64,
    /// Work of the motors.
    pub motor_work_j: f64,
    /// Work of gravity.
    pub gravity_work_j: f64,
    /// Kinetic energy of piece and wheels before.
    pub kinetic_before_j: f64,
    /// Kinetic energy of piece and wheels after.
    pub kinetic_after_j: f64,
    /// after − before − motor − gravity + heats + rolling loss.
    pub energy_residual_j: f64,
    /// Slip speeds at the end.
    pub exit_slip_mps: [f64; 2],
    /// Normal forces at the end.
    pub exit_normal_n: [f64; 2],
    /// Friction forces on the piece at the end, forward positive.
    pub exit_friction_n: [f64; 2],
    /// Place from which both surfaces grip; `None` if never.
    pub rolling_from_m: Option<f64>,
    /// Modes in order.
    pub modes: Vec<Mode>,
}

/// Why there is no result.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoExit {
    /// A size, mass or inertia is not positive and finite.
    MakesNoSense,
    /// The piece stops on the way or takes too long.
    Stalls,
}
