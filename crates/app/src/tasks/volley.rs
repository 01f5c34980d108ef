//! A volley from one spot.

use arcwright_model::aim::{self, ExitCurve, aim_spot};
use arcwright_model::finding::Finding;
use arcwright_model::launcher::Passage;
use arcwright_model::limits::CURVE_POINTS;
use arcwright_model::project::Project;
use arcwright_model::shot::{Chain, Exit};
use arcwright_model::volley_run::{RunPlan, VolleyRun, run};

use super::throw::find_spot;

/// What to throw.
#[derive(Clone, Debug, Default)]
pub struct Plan {
    /// Spot by name; the last one in the file if not given.
    pub spot: Option<String>,
    /// Wheel speed; the spot's setpoint if not given.
    pub wheel_radps: Option<f64>,
    /// Pieces; the brief's volley if not given.
    pub count: Option<u32>,
    /// Time between throws; the brief's if not given, as soon as ready if neither.
    pub interval_s: Option<f64>,
    /// Throw as soon as the wheel is back, whatever the brief says.
    pub when_ready: bool,
}

/// Runs it, with samples.
pub fn volley(project: &Project, plan: &Plan) -> Result<VolleyRun, Finding> {
    let spot = find_spot(project, plan.spot.as_deref())?;
    let chain = Chain::of(project);
    let setpoint_radps = match plan.wheel_radps {
        Some(w) => w,
        None => {
            let curve = ExitCurve::of(&chain, &project.machine.setting, CURVE_POINTS);
            let aim = aim_spot(project, &chain, &curve, &project.machine.setting, spot);
            aim.best()
                .map(|s| s.wheel_radps)
                .ok_or_else(|| super::throw::no_setpoint(&spot.name))?
        }
    };
    let run_plan = RunPlan {
        setpoint_radps,
        throw_count: plan.count.unwrap_or(project.limits.volley_count),
        interval_s: if plan.when_ready {
            None
        } else {
            plan.interval_s.or(project.limits.throw_interval_s)
        },
        with_samples: true,
    };
    // A moving robot keeps the lead of a wheel held at the setpoint through the whole volley.
    let lead_rad = match chain.release(&project.machine.setting, setpoint_radps, false) {
        Passage::Thrown(r) => aim::lead(&chain, spot, &Exit::of(&r)).unwrap_or(0.0),
        Passage::Refused { .. } => 0.0,
    };
    let stance = chain.stance_led(spot, lead_rad);
    Ok(run(project, &chain, &spot.name, &stance, &run_plan))
}
