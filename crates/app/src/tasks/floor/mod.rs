//! The floor: logging test shots, correcting them, moving them in and out.

pub mod attach;
pub mod by_hand;
pub mod columns;
pub mod doubt;
pub mod drift;
pub mod drift_words;
pub mod export;
pub mod film;
pub mod import;
pub mod import_bring;
pub mod incoming;
pub mod json;
pub mod json_drift;
mod known;
pub mod log;
pub mod next;
pub mod practice;
pub mod record_columns;
pub mod record_table;
pub mod rehearse;
pub mod see;
pub mod separated;
pub mod table;
pub mod taught;
pub mod telemetry;
pub mod tell;
pub mod time;
pub mod wander;
pub mod words;

use std::cell::OnceCell;
use std::path::{Path, PathBuf};

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
    /// The log whose kept fit aiming goes by; the design alone without one.
    log: Option<PathBuf>,
    aiming: OnceCell<(Project, Chain)>,
}

impl<'a> Floor<'a> {
    /// The floor of a project.
    pub fn of(project: &'a Project) -> Floor<'a> {
        Floor {
            project,
            chain: OnceCell::new(),
            log: None,
            aiming: OnceCell::new(),
        }
    }

    /// The same with setpoints by the kept fit of a log, where it has one that holds.
    pub fn by_log(self, log: &Path) -> Floor<'a> {
        Floor {
            log: Some(log.to_path_buf()),
            ..self
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

    /// The setpoint for a spot: that of the kept fit, or of the project's own numbers.
    ///
    /// # Errors
    /// `no-setpoint`.
    pub fn aimed(&self, spot: &Spot, setting: &Setting) -> Result<f64, Finding> {
        let (project, chain) = self.aiming.get_or_init(|| {
            let project = self.project.clone();
            let project = match &self.log {
                Some(log) => taught::Standing::of(project, log).project,
                None => project,
            };
            let chain = Chain::of(&project);
            (project, chain)
        });
        let curve = ExitCurve::of(chain, setting, CURVE_POINTS);
        let aim = aim_spot(project, chain, &curve, setting, spot);
        aim.best().map(|s| s.wheel_radps).ok_or_else(|| Finding {
            fix: "say the wheel speed, such as `far 3490 in`".into(),
            ..no_setpoint(&spot.name)
        })
    }
}
