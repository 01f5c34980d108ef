//! Many throws from one spot: each input drawn, sent through launcher and air to the opening.
//!
//! Every throw flies by the equations of motion. The passage through the launcher, a thousand times slower,
//! is taken from a fitted response where the throw is so far from the rim that the true passage cannot change
//! its fate; nearer to the rim it is run. How far is "so far" is measured on throws kept apart.

mod fate;
mod fit;
mod lanes;
mod uneven;

use self::lanes::{FlightSide, start_state};
use self::uneven::Uneven;
use super::inputs::{Cause, Input, Scope, inputs, sideways, varied};
use super::response::{Parts, Response, exit_of, parts};
use super::speed::ReleaseSpeed;
use crate::flight::State;
use crate::launcher::planar::{SEARCH_STEP_S, STEP_S};
use crate::launcher::{Passage, TorqueLine};
use crate::project::{Project, Spot};
use crate::shot::{Chain, Exit, Stance};
use crate::target::Arrival;

pub use self::fate::Crossings;

/// How finely the passage is fitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Detail {
    /// For an answer.
    Fine,
    /// For the many designs of a search.
    Coarse,
}

/// Everything about throwing from one spot at one setpoint, ready for many throws.
#[derive(Clone)]
pub struct Thrower {
    project: Project,
    spot_index: usize,
    lead_rad: f64,
    /// What varies, in the order of the columns.
    pub inputs: Vec<Input>,
    /// Wheel speed at each release.
    pub release: ReleaseSpeed,
    uneven: Vec<Uneven>,
    chain: Chain,
    stance: Stance,
    scales: Scales,
    active: Vec<usize>,
    response: Option<Response>,
    /// Fine step less quick step, of the exit.
    step_shift: Parts,
    flight: FlightSide,
    /// Exact crossing less the crossing of the batch, for the mean throw.
    flight_shift_m: [f64; 2],
    exit_speed_mps: f64,
    /// No ceiling and no way through the opening from below: the path near the plane decides.
    open_sky: bool,
    /// Nearer than this to the rim the true passage decides.
    pub guard_m: f64,
    /// True passages run to get here.
    pub pilot_count: usize,
}

/// Centres and scales of the two variables of the wheel.
#[derive(Clone, Copy, Debug)]
struct Scales {
    wheel_radps: f64,
    wheel_ln: f64,
    stall_nm: f64,
    stall_by_nm: f64,
}

/// Method: the fit covers setpoints this much lower and higher, so that the setpoint can be corrected.
pub const SETPOINT_RANGE_FRAC: f64 = 0.02;

impl Thrower {
    /// Columns of a draw: one for each input, then place in the volley, rest of the wheel speed, battery, and
    /// one for each uneven thing.
    pub fn dimension_count(&self) -> usize {
        self.inputs.len() + 3 + self.uneven.len()
    }

    /// The cause of each column.
    pub fn causes(&self) -> Vec<Cause> {
        let mut out: Vec<Cause> = self.inputs.iter().map(|i| i.cause).collect();
        out.extend([Cause::Wheel; 3]);
        out.extend(self.uneven.iter().map(|u| u.cause));
        out
    }

    /// Prepares throws from a spot at a setpoint and a lead (0 for a robot that stands). Why not, in plain words, when the launcher does not throw.
    pub fn of(
        project: &Project,
        spot_index: usize,
        setpoint_radps: f64,
        lead_rad: f64,
        scope: Scope,
        detail: Detail,
        seed: u64,
    ) -> Result<Thrower, &'static str> {
        let spot = project.spots.get(spot_index).ok_or("there is no such spot")?;
        let fine = Chain::of(project);
        let step_s = match detail {
            Detail::Fine => STEP_S,
            Detail::Coarse => SEARCH_STEP_S,
        };
        let chain = fine.with_step(step_s);
        let stance = chain.stance_led(spot, lead_rad);
        let inputs = inputs(project, spot_index, scope);
        let volley_count = match detail {
            Detail::Fine => 64,
            Detail::Coarse => 12,
        };
        let release = ReleaseSpeed::of(
            project,
            &inputs,
            setpoint_radps,
            SEARCH_STEP_S,
            volley_count,
            seed,
        )?;
        let (wheel_radps, torque) = release.mean();
        let setting = project.machine.setting;
        let base = match chain.release_driven(&setting, wheel_radps, &torque, false) {
            Passage::Thrown(r) => Exit::of(&r),
            Passage::Refused { why, .. } => return Err(why),
        };
        let step_shift = match fine.release_driven(&setting, wheel_radps, &torque, false) {
            Passage::Thrown(r) => difference(&parts(&Exit::of(&r)), &parts(&base)),
            Passage::Refused { why, .. } => return Err(why),
        };
        let mut it = Thrower {
            project: project.clone(),
            spot_index,
            scales: Scales {
                wheel_radps,
                wheel_ln: SETPOINT_RANGE_FRAC,
                stall_nm: torque.stall_nm,
                stall_by_nm: 0.0,
            },
            flight: FlightSide::of(project, spot_index, lead_rad, &inputs),
            lead_rad,
            inputs,
            release,
            uneven: Vec::new(),
            chain,
            stance,
            active: Vec::new(),
            response: None,
            step_shift,
            flight_shift_m: [0.0; 2],
            exit_speed_mps: base.speed_mps,
            open_sky: false,
            guard_m: f64::INFINITY,
            pilot_count: 2,
        };
        it.open_sky = it.open_sky_at(&base);
        it.uneven = it.uneven_things(&base, &torque, detail, seed);
        it.fit(&base, &torque, detail, seed);
        Ok(it)
    }

    /// The same throws from another place: the passage through the launcher stays as it was fitted. The place keeps
    /// the spreads of the spot.
    pub fn moved_to(&self, spot: &Spot, lead_rad: f64) -> Thrower {
        let mut it = self.clone();
        if let Some(s) = it.project.spots.get_mut(it.spot_index) {
            *s = spot.clone();
        }
        it.lead_rad = lead_rad;
        it.stance = it.chain.stance_led(spot, lead_rad);
        it.flight = FlightSide::of(&it.project, it.spot_index, lead_rad, &it.inputs);
        it.flight_shift_m = [0.0; 2];
        let middle = Draw {
            z: vec![0.0; it.inputs.len()],
            wheel_radps: it.release.mean().0,
            torque: it.release.mean().1,
            rows: Vec::new(),
        };
        if let Some(exit) = it.predicted(&middle) {
            it.open_sky = it.open_sky_at(&exit);
            it.shift_flight(&middle, &exit);
        }
        it
    }

    fn open_sky_at(&self, base: &Exit) -> bool {
        let target = &self.chain.target;
        if target.ceiling_m.is_finite() {
            return false;
        }
        // A target nearer than the piece's own rise could be met from below.
        let rise = self.chain.fly(&self.refined(base), &self.stance);
        let up = rise.flights.first().and_then(|path| {
            let mut plane = target.plane(&self.stance.at);
            plane.normal = plane.normal.map(|x| -x);
            path.crossing(&plane)
        });
        let nearest = up.map_or(f64::NEG_INFINITY, |s| s.position_m[0]);
        nearest < self.stance.at.near_rim_m - 2.0 * self.chain.ball.diameter_m
    }

    /// One draw of the columns: every input at its deviate, and the wheel.
    fn draw(&self, columns: &[Vec<f64>], i: usize, speed_ratio: f64, wider: f64) -> Draw {
        let d = self.inputs.len();
        let z: Vec<f64> = self
            .inputs
            .iter()
            .zip(columns)
            .map(|(input, c)| wider * input.deviate(c[i]))
            .collect();
        let share = |k: usize| columns.get(d + k).map_or(0.5, |c| c[i]);
        let throw = self.release.throw_at(share(0));
        let battery = wider * crate::numerics::normal::quantile(share(2));
        let (wheel_radps, torque) = self.release.at(throw, battery, share(1));
        let rows = self
            .uneven
            .iter()
            .enumerate()
            .map(|(k, u)| ((share(3 + k) * u.rows.len() as f64) as usize).min(u.rows.len().saturating_sub(1)))
            .collect();
        Draw {
            z,
            wheel_radps: wheel_radps * speed_ratio,
            torque,
            rows,
        }
    }

    /// The true passage of one draw, or nothing if the piece does not come through.
    fn passage(&self, z: &[f64], wheel_radps: f64, torque: &TorqueLine, rows: &[usize]) -> Option<Exit> {
        let mut chain = Chain::of(&varied(&self.project, &self.inputs, z)).with_step(self.chain.step_s);
        for (u, row) in self.uneven.iter().zip(rows) {
            if let Some(row) = u.rows.get(*row) {
                row.lay(u.cause, &mut chain.launcher);
            }
        }
        let mut setting = self.project.machine.setting;
        if self.inputs.iter().any(|i| i.cause == Cause::Untested) {
            setting = varied(&self.project, &self.inputs, z).machine.setting;
        }
        match chain.release_driven(&setting, wheel_radps, torque, false) {
            Passage::Thrown(r) => Some(Exit::of(&r)),
            Passage::Refused { .. } => None,
        }
    }

    /// The exit of one draw by the fitted response.
    fn predicted(&self, t: &Draw) -> Option<Exit> {
        let at = self.response.as_ref()?.at(&self.variables(t));
        Some(exit_of(&sum(&at, &self.uneven_shift(&t.rows))))
    }

    fn refined(&self, exit: &Exit) -> Exit {
        exit_of(&sum(&parts(exit), &self.step_shift))
    }

    /// Chain, stance and start of one draw at an exit of the quick step.
    fn start(&self, t: &Draw, exit: &Exit) -> (Chain, Stance, State) {
        let project = varied(&self.project, &self.inputs, &t.z);
        let chain = Chain::of(&project);
        let stance = project
            .spots
            .get(self.spot_index)
            .map_or(self.stance, |s| chain.stance_led(s, self.lead_rad));
        let (shift_m, turn_rad) = sideways(&self.inputs, &t.z);
        let turn_rad = turn_rad + self.uneven_turn_rad(&t.rows);
        let start = start_state(&self.refined(exit), &stance, shift_m, turn_rad);
        (chain, stance, start)
    }

    fn exact_crossing(&self, t: &Draw, exit: &Exit) -> Option<[f64; 2]> {
        let (chain, stance, start) = self.start(t, exit);
        crate::target::direct_crossing(&chain.ball, &chain.medium, &chain.target, &stance.at, &start)
            .map(|c| [c.along_m, c.across_m])
    }

    fn exact_arrival(&self, t: &Draw, exit: &Exit) -> Arrival {
        let (chain, stance, start) = self.start(t, exit);
        crate::target::arrive(&chain.ball, &chain.medium, &chain.target, &stance.at, &start)
    }
}

/// One throw: its deviates and the wheel.
#[derive(Clone, Debug)]
struct Draw {
    z: Vec<f64>,
    wheel_radps: f64,
    torque: TorqueLine,
    rows: Vec<usize>,
}

fn difference(a: &Parts, b: &Parts) -> Parts {
    std::array::from_fn(|i| a[i] - b[i])
}

fn sum(a: &Parts, b: &Parts) -> Parts {
    std::array::from_fn(|i| a[i] + b[i])
}
