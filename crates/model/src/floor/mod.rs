//! The floor: what test shots teach, what to move next, when to stop.

mod derivatives;
mod fit;
mod forward;
mod likelihood;
mod m1;
mod m1_flight;
mod machine;
pub mod next;
pub mod rehearse;
mod setpoints;
mod shot;

pub use fit::{FitOptions, FitRefused, Posterior, Prior, fit_with};
pub use forward::{Forward, Share, inputs_of};
pub use likelihood::{ACCIDENTS, Call, Channel, Prediction, Rule, Term, Zone, term};
pub use m1::{M1, M1_NAMES, M1Shot};
pub use machine::{
    Apart, Before, Effect, Estimate, FEWEST_SHOTS, Fitted, LoggedShot, Machine, MachineOptions, Measuring,
    Note, fit, fitted_project,
};
pub use setpoints::{Design, Learned, Setpoint, setpoints};
pub use shot::{Landing, Seen, Shot, TimedFall, WallHeight};

#[cfg(test)]
mod fit_tests;
#[cfg(test)]
mod m1_tests;
