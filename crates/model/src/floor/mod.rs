//! The floor: what test shots teach, what to move next, when to stop.
//!
//! Any model of a thrower that answers [`Forward`] can be fitted to shots; [`Machine`] is the project's own
//! chain, [`M1`] a reference model for tests and studies.
//!
//! ```text
//! trait Forward { type Shot;
//!     fn predict(&self, inputs: &[f64], shot: &Shot) -> Option<Prediction>;     channels, scatter, call
//!     fn design(&self, shot: &Shot) -> Option<Vec<Share>>; }                    inputs = linear in parameters; None: the same
//! inputs_of(&forward, parameters, &shot) -> Vec<f64>
//! term(&Prediction, &Rule) -> Option<Term>                                      joint likelihood of one shot
//! fit_with(&forward, &Prior, &[Shot], &FitOptions) -> Result<Posterior, FitRefused>
//! importance(&forward, &[Shot], &FitOptions, &Posterior, count, seed) -> Option<Weighted>
//! m1_setpoint(&M1, &Posterior, distance_m, angle_rad) -> Option<M1Setpoint>
//! fit(&Project, &[Shot], &MachineOptions) -> Result<Fitted, Finding>            Fitted.machine: Forward, .shots, .posterior
//! setpoints(&Project, &Fitted, distances_m) -> Vec<Setpoint>
//! Fitted::taught() -> Taught                                                    what is kept; Taught::project, ::expected
//! setpoints_at(&Project, &Taught, &[Spot]) -> Vec<Setpoint>
//! ```

mod call;
pub mod components;
mod derivatives;
pub mod drift;
pub mod film;
mod fit;
mod forward;
mod importance;
mod likelihood;
mod m1;
mod m1_flight;
mod m1_setpoint;
mod machine;
pub mod next;
pub mod rehearse;
mod setpoints;
mod shot;
mod taught;
pub mod telemetry;

pub use call::Edges;
pub use fit::{FitOptions, FitRefused, Posterior, Prior, fit_with};
pub use forward::{Forward, Share, inputs_of};
pub use importance::{FEWEST_EFFECTIVE_FRAC, Weighted, importance};
pub use likelihood::{ACCIDENTS, Call, Channel, Prediction, Rule, Term, Zone, term};
pub use m1::{M1, M1_NAMES, M1Shot};
pub use m1_setpoint::{M1Setpoint, m1_setpoint};
pub use machine::{
    Apart, Before, Deviation, Effect, Estimate, FEWEST_SHOTS, Fitted, Later, LoggedShot, Machine,
    MachineOptions, Measuring, Note, fit, throw_of,
};
pub use setpoints::{Design, Learned, Setpoint, setpoints, setpoints_at};
pub use shot::{Landing, Seen, Shot, TimedFall, WallHeight};
pub use taught::{KEPT, KEPT_NAMES, KeptCovariance, Taught, turned_back};

#[cfg(test)]
mod fit_tests;
#[cfg(test)]
mod m1_tests;
