//! Plain data of the flight model.

/// Law for the drag coefficient as a function of the Reynolds number.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum DragLaw {
    /// No drag.
    None,
    /// The same coefficient at every speed.
    Constant {
        /// Drag coefficient.
        drag_coeff: f64,
    },
    /// Smooth sphere, Clift and Gauvin 1970.
    CliftGauvin,
    /// Smooth sphere, Brown and Lawler 2003.
    BrownLawler,
    /// Smooth sphere, Haider and Levenspiel 1989.
    HaiderLevenspiel,
    /// Smooth sphere, Morrison 2013 (reads low against the standard curve).
    Morrison,
    /// A smooth step between two levels at a critical Reynolds number (drag crisis of rough skins).
    Logistic {
        /// Coefficient well below the step.
        low_re_coeff: f64,
        /// Coefficient well above the step.
        high_re_coeff: f64,
        /// Reynolds number at the middle of the step.
        critical_re_count: f64,
        /// Width of the step in ln(Re).
        width_ratio: f64,
    },
}

/// Drag: a law and a multiplier on it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drag {
    /// The law.
    pub law: DragLaw,
    /// Multiplier on the law's coefficient; 1 leaves it alone.
    pub scale_ratio: f64,
}

/// Law for the lift (Magnus) coefficient as a function of the spin parameter S = r·w/|V|.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Lift {
    /// No lift.
    None,
    /// CL = slope · S.
    Linear {
        /// Slope of CL against S.
        slope_coeff: f64,
    },
    /// CL = 1.5 S up to S = 0.1, then 0.09 + 0.6 S (Sawicki, Hubbard, Stronge 2003).
    Bilinear,
    /// CL = scale · S / (a + b S), with S from the part of the spin across the motion.
    Saturating {
        /// Constant of the denominator.
        a_coeff: f64,
        /// Slope of the denominator.
        b_coeff: f64,
        /// Multiplier.
        scale_ratio: f64,
    },
    /// The same coefficient with S from the whole spin, and the force along ŵ × V̂ as it is,
    /// shorter than 1 when the spin leans along the motion. Equal to `Saturating` when it does not.
    SaturatingWholeSpin {
        /// Constant of the denominator.
        a_coeff: f64,
        /// Slope of the denominator.
        b_coeff: f64,
        /// Multiplier.
        scale_ratio: f64,
    },
}

/// How spin dies away in flight.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SpinDecay {
    /// It does not.
    None,
    /// w falls as exp(−t/tau).
    TimeConstant {
        /// Time constant.
        tau_s: f64,
    },
    /// Aerodynamic torque: dw/dt = −c_T ρ A |V| w / (2 k m).
    Aero {
        /// Torque coefficient c_T.
        torque_coeff: f64,
    },
}

/// The piece as the air sees it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ball {
    /// Mass used in the equation of motion.
    pub mass_kg: f64,
    /// Outer diameter.
    pub diameter_m: f64,
    /// k in I = k m r².
    pub inertia_coeff: f64,
    /// Drag.
    pub drag: Drag,
    /// Lift.
    pub lift: Lift,
    /// Spin decay.
    pub spin_decay: SpinDecay,
    /// Subtract the weight of displaced air (only for a mass that is not a scale reading in air).
    pub buoyancy: bool,
    /// Added mass as a multiple of the displaced air's mass (½ in potential flow, 1.5 with a scale reading).
    pub added_mass_coeff: f64,
}

/// The air and gravity the piece flies in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Medium {
    /// Air density.
    pub density_kgpm3: f64,
    /// Dynamic viscosity.
    pub viscosity_pas: f64,
    /// Wind velocity, field frame.
    pub wind_mps: [f64; 3],
    /// Acceleration of gravity, downward positive.
    pub gravity_mps2: f64,
}

/// Where the piece is and how it moves, field frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct State {
    /// Time since release.
    pub time_s: f64,
    /// Position of the centre.
    pub position_m: [f64; 3],
    /// Velocity of the centre.
    pub velocity_mps: [f64; 3],
    /// Spin vector; backspin in forward flight is −y.
    pub spin_radps: [f64; 3],
}

/// A plane n·p = n·point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plane {
    /// Any point on it.
    pub point_m: [f64; 3],
    /// Unit normal; a crossing goes from the negative to the positive side.
    pub normal: [f64; 3],
}
