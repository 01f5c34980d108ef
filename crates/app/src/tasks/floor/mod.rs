//! The floor: logging test shots, correcting them, moving them in and out.

pub mod by_hand;
pub mod columns;
pub mod doubt;
pub mod export;
pub mod film;
pub mod import;
pub mod json;
mod known;
pub mod log;
pub mod next;
pub mod record_columns;
pub mod record_table;
pub mod table;
pub mod telemetry;
pub mod tell;
pub mod time;
pub mod words;

use std::cell::OnceCell;

use arcwright_model::aim::{ExitCurve, aim_spot};
use arcwright_model::finding::Finding;
use arcwright_model::launcher::Setting;
use arcwright_model::limits::CURVE_POINTS;
use arcwright_model::project::{Project, Spot};
use arcwright_model::shot::Chain;

use super::throw::no_setpoint;

/// A project on the practice floor; what is costly is worked out once and only when asked for.
pub struct Floor<'a> {
    /// The project.
    pub project: &'a Project,
    chain: OnceCell<Chain>,
}

impl<'a> Floor<'a> {
    /// The floor of a project.
    pub fn of(project: &'a Project) -> Floor<'a> {
        Floor {
            project,
            chain: OnceCell::new(),
        }
    }

    /// The chain of the project.
    pub fn chain(&self) -> &Chain {
        self.chain.get_or_init(|| Chain::of(self.project))
    }

    /// Names of the spots.
    pub fn spots(&self) -> Vec<String> {
        self.project.spots.iter().map(|s| s.name.clone()).collect()
    }

    /// The setpoint that the project's own numbers give for a spot.
    ///
    /// # Errors
    /// `no-setpoint`.
    pub fn aimed(&self, spot: &Spot, setting: &Setting) -> Result<f64, Finding> {
        let curve = ExitCurve::of(self.chain(), setting, CURVE_POINTS);
        let aim = aim_spot(self.project, self.chain(), &curve, setting, spot);
        aim.best().map(|s| s.wheel_radps).ok_or_else(|| Finding {
            fix: "say the wheel speed, such as `far 3490 in`".into(),
            ..no_setpoint(&spot.name)
        })
    }
}
