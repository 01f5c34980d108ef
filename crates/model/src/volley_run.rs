//! A volley of a project: wheel train, contact and flight joined, throw by throw.

use crate::aim::SpotAim;
use crate::launcher::Passage;
use crate::launcher::volley::{ThrowResult, Trigger, Volley, VolleyPlan, volley};
use crate::project::Project;
use crate::shot::{Chain, Exit, Stance};
use crate::target::Outcome;

/// What one throw of the volley did.
#[derive(Clone, Debug, PartialEq)]
pub struct RunThrow {
    /// The exit; `None` when the piece did not come through.
    pub exit: Option<Exit>,
    /// Crossing along the opening, from its centre; `None` when it does not cross.
    pub along_m: Option<f64>,
    /// What became of it.
    pub outcome: Outcome,
}

/// What a volley is asked to do.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RunPlan {
    /// Wheel speed asked for.
    pub setpoint_radps: f64,
    /// Pieces.
    pub throw_count: u32,
    /// Time between throws; `None` throws as soon as the wheel is back.
    pub interval_s: Option<f64>,
    /// Record samples for a picture.
    pub with_samples: bool,
}

/// A volley from one spot.
#[derive(Clone, Debug, PartialEq)]
pub struct VolleyRun {
    /// Name of the spot.
    pub spot: String,
    /// Plan.
    pub plan: RunPlan,
    /// Wheel train through spin-up and volley.
    pub train: Volley,
    /// What each throw did.
    pub throws: Vec<RunThrow>,
}

/// Longest wait for the wheel. Physical: nobody waits longer at a spot.
pub const PATIENCE_S: f64 = 15.0;

/// Runs a volley at a plan, from the setting in the project.
pub fn run(project: &Project, chain: &Chain, spot: &str, stance: &Stance, plan: &RunPlan) -> VolleyRun {
    let m = &project.machine;
    let course = VolleyPlan {
        setpoint_radps: plan.setpoint_radps,
        start_radps: 0.0,
        throw_count: plan.throw_count,
        interval_s: plan.interval_s.unwrap_or(0.0),
        trigger: if plan.interval_s.is_some() {
            Trigger::Interval
        } else {
            Trigger::WhenReady
        },
        earliest_s: 0.0,
        patience_s: PATIENCE_S,
        other_current_a: m.other_current_a,
        counts_per_turn: 0,
        with_samples: plan.with_samples,
    };
    let mut throws = Vec::with_capacity(plan.throw_count.min(64) as usize);
    let result = volley(
        &chain.train,
        &m.battery,
        &m.controller,
        &course,
        |asked| match chain.release_driven(&m.setting, asked.wheel_radps, &asked.torque, false) {
            Passage::Thrown(r) => {
                let exit = Exit::of(&r);
                let arrival = chain.fly(&exit, stance);
                throws.push(RunThrow {
                    exit: Some(exit),
                    along_m: chain.crossing(&exit, stance).map(|c| c.along_m),
                    outcome: arrival.outcome,
                });
                ThrowResult {
                    wheel_after_radps: r.wheel_after_radps[0],
                    duration_s: r.contact_s,
                }
            }
            Passage::Refused { .. } => {
                throws.push(RunThrow {
                    exit: None,
                    along_m: None,
                    outcome: Outcome::None,
                });
                ThrowResult {
                    wheel_after_radps: f64::NAN,
                    duration_s: 0.0,
                }
            }
        },
    );
    VolleyRun {
        spot: spot.to_string(),
        plan: *plan,
        train: result,
        throws,
    }
}

/// The brief's volley from an aimed spot at its setpoint.
pub fn run_from(project: &Project, chain: &Chain, aim: &SpotAim, with_samples: bool) -> Option<VolleyRun> {
    let setpoint_radps = aim.best()?.wheel_radps;
    let plan = RunPlan {
        setpoint_radps,
        throw_count: project.limits.volley_count,
        interval_s: project.limits.throw_interval_s,
        with_samples,
    };
    Some(run(project, chain, &aim.spot.name, &aim.stance, &plan))
}
