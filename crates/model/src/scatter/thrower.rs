//! Many throws from one spot: each input drawn, sent through launcher and air to the opening.
//!
//! Every throw flies by the equations of motion. The passage through the launcher, a thousand times slower,
//! is taken from a fitted response where the throw is so far from the rim that the true passage cannot change
//! its fate; nearer to the rim it is run. How far is "so far" is measured on throws kept apart.

use rayon::prelude::*;

use super::inputs::{Cause, Input, Scope, inputs, sideways, varied};
use super::response::{Parts, Response, exit_of, parts, term_count};
use super::speed::ReleaseSpeed;
use crate::flight::batch::{Arrival as Flown, Batch, Column, Outcome as Ended, Throws, fly_batch_into};
use crate::flight::{Drag, DragLaw, Lift, SpinDecay, State, Until};
use crate::launcher::bite::{Footprint, random_orientation};
use crate::launcher::guide_quality::with_phase;
use crate::launcher::planar::{SEARCH_STEP_S, STEP_S};
use crate::launcher::{Bite, GuideError, Launcher, Passage, TorqueLine};
use crate::numerics::random::Stream;
use crate::numerics::sobol::Sobol;
use crate::numerics::vector::{dot, norm};
use crate::project::Project;
use crate::shot::{Chain, Exit, Stance};
use crate::target::{Arrival, Outcome, passing};

/// How finely the passage is fitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Detail {
    /// For an answer.
    Fine,
    /// For the many designs of a search.
    Coarse,
}

/// Everything about throwing from one spot at one setpoint, ready for many throws.
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

/// Something that the wheel or the guide does to a throw in its own way each time: rows of what it did
/// in true passages, sorted by what it did to the speed.
#[derive(Clone, Debug)]
struct Uneven {
    cause: Cause,
    rows: Vec<UnevenRow>,
}

/// One way in which a throw met the holes or the guide.
#[derive(Clone, Copy, Debug)]
struct UnevenRow {
    bite: Option<Bite>,
    guide_error: GuideError,
    /// What it did to the exit.
    shift: Parts,
    /// How far it turned the throw sideways.
    turn_rad: f64,
}

impl UnevenRow {
    fn lay(&self, cause: Cause, launcher: &mut Launcher) {
        match cause {
            Cause::Bite => launcher.bite = self.bite,
            _ => launcher.guide_error = self.guide_error,
        }
    }
}

/// Centres and scales of the two variables of the wheel.
#[derive(Clone, Copy, Debug)]
struct Scales {
    wheel_radps: f64,
    wheel_ln: f64,
    stall_nm: f64,
    stall_by_nm: f64,
}

/// Method: ways in which holes and guide are met, each by a true passage.
const UNEVEN_COUNT: usize = 128;
/// Stream of random numbers for the orientations of pieces.
const UNEVEN_STREAM: u64 = 0x6269_7465;
/// Method: a deviation at which it is seen whether an input changes the exit.
const PROBE: f64 = 1.5;
/// Method: pilots are drawn this much wider than the inputs, so that their tails are inside the fit.
const WIDER: f64 = 1.3;
/// Method: true passages for each coefficient of the fit.
const PILOTS_PER_TERM: usize = 2;
/// Method: pilots kept apart to measure the fit.
const KEPT_APART: usize = 32;
/// Method: the guard is this many times the greatest error met on the pilots kept apart.
const GUARD: f64 = 2.0;
/// Method: least guard; the batch flies to a micrometre, its neglected curvature near the rim is counted apart.
const LEAST_GUARD_M: f64 = 5e-4;
/// Method: the fit covers setpoints this much lower and higher, so that the setpoint can be corrected.
pub const SETPOINT_RANGE: f64 = 0.02;
/// Physical: drag coefficient for the bend of a path within a radius of the rim; its error there is microns.
const TYPICAL_DRAG_COEFF: f64 = 0.47;
/// Longest flight followed, as in the target's own.
const LONGEST_S: f64 = 12.0;
/// Throws handed to a thread at a time.
const CHUNK: usize = 1024;

/// Where throws cross the plane of the opening, in the order of the draws.
#[derive(Clone, Debug, Default)]
pub struct Crossings {
    /// Along, from the centre; not a number where a throw does not come down through the plane.
    pub along_m: Vec<f64>,
    /// Across, left positive.
    pub across_m: Vec<f64>,
    /// Velocity there in the target frame: along, across, outward.
    velocity_mps: [Vec<f64>; 3],
}

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
                wheel_ln: SETPOINT_RANGE,
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

    /// Holes under the wheel and high and low spots of the guide: what each does in true passages.
    fn uneven_things(&mut self, base: &Exit, torque: &TorqueLine, detail: Detail, seed: u64) -> Vec<Uneven> {
        let count = match detail {
            Detail::Fine => UNEVEN_COUNT,
            Detail::Coarse => UNEVEN_COUNT / 4,
        };
        let guide_error = self.chain.launcher.guide_error;
        let plain = UnevenRow {
            bite: None,
            guide_error,
            shift: [0.0; 5],
            turn_rad: 0.0,
        };
        let mut kinds: Vec<(Cause, Vec<UnevenRow>)> = Vec::new();
        if let Some(skin) = self.project.skin() {
            let foot = Footprint::of(&skin, &self.project.wheel_set(), self.project.squeeze_m(), 0.0);
            let mut stream = Stream::new(seed, UNEVEN_STREAM);
            let turns: Vec<[f64; 3]> = (0..count)
                .map(|_| [stream.uniform(), stream.uniform(), stream.uniform()])
                .collect();
            let rows = turns
                .par_iter()
                .map(|u| {
                    let imprint = foot.imprint(&skin, random_orientation(*u));
                    UnevenRow {
                        bite: Some(Bite {
                            depth_m: imprint.depth_m,
                        }),
                        turn_rad: imprint.lean_rad.iter().sum::<f64>() / imprint.lean_rad.len() as f64,
                        ..plain
                    }
                })
                .collect();
            kinds.push((Cause::Bite, rows));
        }
        if matches!(guide_error, GuideError::Wave { amplitude_m, .. } if amplitude_m > 0.0) {
            let rows = (0..count)
                .map(|i| {
                    let phase = std::f64::consts::TAU * (i as f64 + 0.5) / count as f64;
                    UnevenRow {
                        guide_error: with_phase(&self.chain.launcher, phase).guide_error,
                        ..plain
                    }
                })
                .collect();
            kinds.push((Cause::Guide, rows));
        }
        let setting = self.project.machine.setting;
        let wheel_radps = self.scales.wheel_radps;
        kinds
            .into_iter()
            .filter_map(|(cause, mut rows)| {
                rows.par_iter_mut().for_each(|row| {
                    let mut chain = self.chain.clone();
                    row.lay(cause, &mut chain.launcher);
                    row.shift = match chain.release_driven(&setting, wheel_radps, torque, false) {
                        Passage::Thrown(r) => difference(&parts(&Exit::of(&r)), &parts(base)),
                        Passage::Refused { .. } => [f64::NAN; 5],
                    };
                });
                self.pilot_count += rows.len();
                // A way in which the piece does not come through has no exit to shift; the others stand for it.
                rows.retain(|r| r.shift.iter().all(|x| x.is_finite()));
                rows.sort_by(|a, b| a.shift[0].total_cmp(&b.shift[0]));
                (!rows.is_empty()).then_some(Uneven { cause, rows })
            })
            .collect()
    }

    /// Finds which inputs change the exit, fits the response and measures it.
    fn fit(&mut self, base: &Exit, torque: &TorqueLine, detail: Detail, seed: u64) {
        let d = self.inputs.len();
        let probe = |j: usize, by: f64| {
            let mut z = vec![0.0; d];
            z[j] = by;
            self.passage(&z, self.scales.wheel_radps, torque, &[])
        };
        let active: Vec<usize> = (0..d)
            .into_par_iter()
            .filter(|&j| [PROBE, -PROBE].iter().any(|by| probe(j, *by) != Some(*base)))
            .collect();
        self.pilot_count += 2 * d;
        self.active = active;
        let crossed = detail == Detail::Fine;
        let variables = self.active.len() + 2;
        let fit_count = PILOTS_PER_TERM * term_count(variables, crossed);
        let apart = match detail {
            Detail::Fine => KEPT_APART,
            Detail::Coarse => KEPT_APART / 4,
        };
        let count = fit_count + apart;
        // One column more: the setpoint itself, so that it can be corrected later.
        let Some(sobol) = Sobol::new(self.dimension_count() + 1, seed ^ PILOT_SEED, 0) else {
            return;
        };
        let mut columns = vec![Vec::new(); self.dimension_count() + 1];
        sobol.block(0, count, &mut columns);
        let setpoints = columns.pop().unwrap_or_default();
        let drawn: Vec<Draw> = (0..count)
            .map(|i| {
                self.draw(
                    &columns,
                    i,
                    1.0 + SETPOINT_RANGE * (2.0 * setpoints[i] - 1.0),
                    WIDER,
                )
            })
            .collect();
        self.set_scales(&drawn);
        let exits: Vec<Option<Exit>> = drawn
            .par_iter()
            .map(|t| self.passage(&t.z, t.wheel_radps, &t.torque, &t.rows))
            .collect();
        self.pilot_count += count;
        let (mut x, mut y) = (Vec::new(), Vec::new());
        for (t, e) in drawn.iter().zip(&exits).take(fit_count) {
            if let Some(e) = e {
                x.push(self.variables(t));
                y.push(difference(&parts(e), &self.uneven_shift(&t.rows)));
            }
        }
        if x.len() * 20 < fit_count * 19 {
            // One piece in twenty does not come through: no smooth function says which.
            return;
        }
        self.response = Response::fit(&x, &y, crossed);
        if self.response.is_none() {
            return;
        }
        self.set_flight_shift();
        let mut lanes = Lanes::new(apart);
        for t in drawn.iter().skip(fit_count) {
            match self.predicted(t) {
                Some(exit) => lanes.push(self, t, &exit),
                None => lanes.push_nothing(),
            }
        }
        let mut fitted = Crossings::default();
        lanes.fly(self, &mut fitted);
        let errors: Vec<f64> = drawn
            .par_iter()
            .zip(&exits)
            .skip(fit_count)
            .enumerate()
            .map(|(i, (t, e))| {
                let there = e.as_ref().and_then(|e| self.exact_crossing(t, e));
                let (a, b) = (fitted.along_m[i], fitted.across_m[i]);
                match there {
                    Some(c) if a.is_finite() => (a - c[0]).hypot(b - c[1]),
                    None if !a.is_finite() => 0.0,
                    _ => f64::INFINITY,
                }
            })
            .collect();
        let worst = errors.iter().copied().fold(0.0, f64::max);
        self.guard_m = match detail {
            Detail::Fine => LEAST_GUARD_M + GUARD * worst,
            // A search compares; the design it chooses is thrown finely afterwards.
            Detail::Coarse => 0.0,
        };
    }

    fn set_scales(&mut self, drawn: &[Draw]) {
        let n = drawn.len().max(1) as f64;
        let rms = |f: &dyn Fn(&Draw) -> f64| (drawn.iter().map(|t| f(t).powi(2)).sum::<f64>() / n).sqrt();
        let s = self.scales;
        self.scales.wheel_ln = rms(&|t| libm::log(t.wheel_radps / s.wheel_radps)).max(1e-3 * SETPOINT_RANGE);
        self.scales.stall_by_nm = rms(&|t| t.torque.stall_nm - s.stall_nm);
    }

    /// Variables of the response for one draw.
    fn variables(&self, t: &Draw) -> Vec<f64> {
        let mut x: Vec<f64> = self.active.iter().map(|&j| t.z[j]).collect();
        let s = &self.scales;
        x.push(libm::log(t.wheel_radps / s.wheel_radps) / s.wheel_ln);
        x.push(if s.stall_by_nm > 0.0 {
            (t.torque.stall_nm - s.stall_nm) / s.stall_by_nm
        } else {
            0.0
        });
        x
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

    fn uneven_shift(&self, rows: &[usize]) -> Parts {
        let mut sum = [0.0; 5];
        for (u, row) in self.uneven.iter().zip(rows) {
            if let Some(row) = u.rows.get(*row) {
                for (s, b) in sum.iter_mut().zip(&row.shift) {
                    *s += b;
                }
            }
        }
        sum
    }

    /// How far holes and guide turn a throw sideways.
    fn uneven_turn_rad(&self, rows: &[usize]) -> f64 {
        self.uneven
            .iter()
            .zip(rows)
            .filter_map(|(u, row)| u.rows.get(*row))
            .map(|r| r.turn_rad)
            .sum()
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

    fn set_flight_shift(&mut self) {
        let (wheel_radps, torque) = self.release.mean();
        let t = Draw {
            z: vec![0.0; self.inputs.len()],
            wheel_radps,
            torque,
            rows: Vec::new(),
        };
        let Some(exit) = self.passage(&t.z, wheel_radps, &torque, &[]) else {
            return;
        };
        let mut at = Lanes::new(1);
        at.push(self, &t, &exit);
        let mut out = Crossings::default();
        at.fly(self, &mut out);
        if let (Some(c), Some(a), Some(b)) = (
            self.exact_crossing(&t, &exit),
            out.along_m.first(),
            out.across_m.first(),
        ) && a.is_finite()
        {
            self.flight_shift_m = [c[0] - a, c[1] - b];
        }
    }

    /// Where throws cross: columns of shares in (0, 1), at the setpoint times a ratio.
    ///
    /// Throws whose passage has no fitted response are run truly.
    pub fn crossings(&self, columns: &[Vec<f64>], speed_ratio: f64) -> Crossings {
        self.crossings_of(columns, speed_ratio, 1.0)
    }

    /// Share of throws that go in by the fitted response and their path near the opening, with every deviation
    /// times `wider`. For searches: a throw that a wall may decide counts by whether its centre comes through.
    pub fn quick_hits(&self, columns: &[Vec<f64>], speed_ratio: f64, wider: f64) -> f64 {
        let c = self.crossings_of(columns, speed_ratio, wider);
        let radius_m = 0.5 * self.chain.ball.diameter_m;
        let hits = (0..c.along_m.len())
            .filter(|&i| {
                let velocity = [0, 1, 2].map(|k| c.velocity_mps[k][i]);
                let place = [c.along_m[i], c.across_m[i]];
                match passing(&self.chain.target, radius_m, place, velocity, self.bend(velocity)) {
                    Some(p) => p.outcome == Outcome::In,
                    None => self.chain.target.holds(place[0], place[1]),
                }
            })
            .count();
        hits as f64 / c.along_m.len().max(1) as f64
    }

    /// By what share the wheel speed may be off, either way, until the mean throw touches the near or far rim;
    /// straight from the slope of the crossing with speed, not beyond [`SETPOINT_RANGE`] times ten.
    pub fn speed_tolerance_frac(&self, speed_ratio: f64) -> f64 {
        let columns = vec![vec![0.5]; self.dimension_count()];
        let at = |ratio: f64| {
            let c = self.crossings(&columns, ratio);
            (
                c.along_m.first().copied().unwrap_or(f64::NAN),
                [0, 1, 2].map(|k| c.velocity_mps[k].first().copied().unwrap_or(f64::NAN)),
            )
        };
        let ((a, velocity), (b, _)) = (at(speed_ratio), at(speed_ratio + 0.25 * SETPOINT_RANGE));
        let slope_m = (b - a) / (0.25 * SETPOINT_RANGE);
        let steep = -velocity[2] / norm(velocity);
        let free = 0.5 * self.chain.target.depth_m - 0.5 * self.chain.ball.diameter_m / steep - a.abs();
        let tolerance = free / slope_m.abs();
        if tolerance.is_finite() {
            tolerance.clamp(0.0, 10.0 * SETPOINT_RANGE)
        } else {
            0.0
        }
    }

    fn crossings_of(&self, columns: &[Vec<f64>], speed_ratio: f64, wider: f64) -> Crossings {
        let count = columns.first().map_or(0, Vec::len);
        let chunks: Vec<Crossings> = (0..count.div_ceil(CHUNK))
            .into_par_iter()
            .map(|c| {
                let range = c * CHUNK..((c + 1) * CHUNK).min(count);
                let mut lanes = Lanes::new(range.len());
                for i in range {
                    let t = self.draw(columns, i, speed_ratio, wider);
                    match self
                        .predicted(&t)
                        .or_else(|| self.passage(&t.z, t.wheel_radps, &t.torque, &t.rows))
                    {
                        Some(exit) => lanes.push(self, &t, &exit),
                        None => lanes.push_nothing(),
                    }
                }
                let mut out = Crossings::default();
                lanes.fly(self, &mut out);
                out
            })
            .collect();
        let mut all = Crossings::default();
        for c in chunks {
            all.along_m.extend(c.along_m);
            all.across_m.extend(c.across_m);
            for (list, more) in all.velocity_mps.iter_mut().zip(c.velocity_mps) {
                list.extend(more);
            }
        }
        all
    }

    /// What became of a throw, and whether the true passage had to be run.
    pub fn fate(
        &self,
        columns: &[Vec<f64>],
        i: usize,
        speed_ratio: f64,
        c: &Crossings,
        guard_m: f64,
    ) -> (Outcome, bool) {
        if self.open_sky && guard_m.is_finite() {
            let velocity = [0, 1, 2].map(|k| c.velocity_mps[k][i]);
            let radius_m = 0.5 * self.chain.ball.diameter_m;
            let place = [c.along_m[i], c.across_m[i]];
            if let Some(p) = passing(&self.chain.target, radius_m, place, velocity, self.bend(velocity))
                && p.margin_m > guard_m
            {
                return (p.outcome, false);
            }
        }
        let t = self.draw(columns, i, speed_ratio, 1.0);
        if let Some(exit) = self.predicted(&t) {
            let arrival = self.exact_arrival(&t, &exit);
            if self.settled(&arrival, guard_m) {
                return (arrival.outcome, false);
            }
        }
        (self.true_fate(&t), true)
    }

    /// Acceleration of the mean piece at a velocity in the target frame: gravity and drag. Lift bends the path
    /// within a radius of the rim by less than the least guard.
    fn bend(&self, velocity: [f64; 3]) -> [f64; 3] {
        let (along, inward) = (self.chain.target.along_axis(), self.chain.target.inward());
        let down = [0.0, 0.0, -self.chain.medium.gravity_mps2];
        let b = &self.chain.ball;
        let area = 0.25 * std::f64::consts::PI * b.diameter_m.powi(2);
        let speed = norm(velocity);
        let drag = 0.5 * self.chain.medium.density_kgpm3 * area * TYPICAL_DRAG_COEFF * speed / b.mass_kg;
        let gravity = [dot(down, along), 0.0, -dot(down, inward)];
        std::array::from_fn(|k| gravity[k] - drag * velocity[k])
    }

    fn true_fate(&self, t: &Draw) -> Outcome {
        match self.passage(&t.z, t.wheel_radps, &t.torque, &t.rows) {
            Some(exit) => self.exact_arrival(t, &exit).outcome,
            None => Outcome::None,
        }
    }

    /// What became of a throw by the true passage.
    pub fn true_outcome(&self, columns: &[Vec<f64>], i: usize, speed_ratio: f64) -> Outcome {
        self.true_fate(&self.draw(columns, i, speed_ratio, 1.0))
    }

    /// Place in the volley of a draw.
    pub fn throw_of(&self, columns: &[Vec<f64>], i: usize) -> usize {
        columns
            .get(self.inputs.len())
            .map_or(0, |c| self.release.throw_at(c[i]))
    }

    /// True where an error of the guard could not have led to another fate.
    fn settled(&self, a: &Arrival, guard_m: f64) -> bool {
        let target = &self.chain.target;
        let near = |x: f64, edge: f64| (x.abs() - edge).abs() <= 2.0 * guard_m;
        let Some(c) = a.crossing else {
            // Short of the target by more than the guard can only be seen from where it landed.
            return a.flights.last().is_some_and(|p| {
                let end = p.end().position_m;
                a.outcome == Outcome::Short && end[0] < self.stance.at.near_rim_m - 0.1 - 4.0 * guard_m
            });
        };
        if near(c.along_m, 0.5 * target.depth_m) || near(c.across_m, 0.5 * target.width_m) {
            return false;
        }
        match a.clearance {
            // A wall turns small errors into large ones: the true passage decides on bounced throws.
            Some(k) => a.wall_touches == 0 && k.least_m().abs() > 2.0 * guard_m,
            None => false,
        }
    }
}

const PILOT_SEED: u64 = 0x9e37_79b9_7f4a_7c15;

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

/// The start of a flight: the exit turned and shifted sideways.
fn start_state(exit: &Exit, stance: &Stance, shift_m: f64, turn_rad: f64) -> State {
    let mut state = exit.state(&Stance {
        heading_rad: stance.heading_rad + turn_rad,
        ..*stance
    });
    let (s, c) = (libm::sin(stance.heading_rad), libm::cos(stance.heading_rad));
    state.position_m = [
        exit.forward_m * c - shift_m * s,
        exit.forward_m * s + shift_m * c,
        exit.height_m,
    ];
    state
}

/// What the flight needs of a project, as numbers that inputs move: diameter, mass, drag, lift, density, wind
/// along and across, near rim, centre line, rim height, heading, platform along and across, turning.
const SIDES: usize = 14;

/// How each input moves the flight's numbers: straight and square response.
#[derive(Clone, Debug)]
struct FlightSide {
    base: [f64; SIDES],
    responses: Vec<Option<[[f64; 2]; SIDES]>>,
}

impl FlightSide {
    fn of(project: &Project, spot_index: usize, lead_rad: f64, inputs: &[Input]) -> FlightSide {
        let at = |j: usize, by: f64| {
            let mut z = vec![0.0; inputs.len()];
            z[j] = by;
            sides(&varied(project, inputs, &z), spot_index, lead_rad)
        };
        let centre = sides(
            &varied(project, inputs, &vec![0.0; inputs.len()]),
            spot_index,
            lead_rad,
        );
        let responses = (0..inputs.len())
            .map(|j| {
                let (up, down) = (at(j, 1.0), at(j, -1.0));
                if up == centre && down == centre {
                    return None;
                }
                Some(std::array::from_fn(|k| {
                    [0.5 * (up[k] - down[k]), 0.5 * (up[k] + down[k]) - centre[k]]
                }))
            })
            .collect();
        FlightSide {
            base: centre,
            responses,
        }
    }

    fn at(&self, z: &[f64]) -> [f64; SIDES] {
        let mut out = self.base;
        for (r, z) in self.responses.iter().zip(z) {
            if let Some(r) = r {
                for (o, [a, b]) in out.iter_mut().zip(r) {
                    *o += (a + b * z) * z;
                }
            }
        }
        out
    }
}

fn sides(project: &Project, spot_index: usize, lead_rad: f64) -> [f64; SIDES] {
    let chain = Chain::of(project);
    let stance = project
        .spots
        .get(spot_index)
        .map(|s| chain.stance_led(s, lead_rad));
    let of = |f: &dyn Fn(&Stance) -> f64| stance.as_ref().map_or(0.0, f);
    [
        chain.ball.diameter_m,
        chain.ball.mass_kg,
        drag_level(&chain.ball.drag),
        lift_level(&chain.ball.lift),
        chain.medium.density_kgpm3,
        chain.medium.wind_mps[0],
        chain.medium.wind_mps[1],
        of(&|s| s.at.near_rim_m),
        of(&|s| s.at.centre_line_m),
        chain.target.rim_height_m,
        of(&|s| s.heading_rad),
        of(&|s| s.platform_mps[0]),
        of(&|s| s.platform_mps[1]),
        of(&|s| s.turn_radps),
    ]
}

fn drag_level(d: &Drag) -> f64 {
    match d.law {
        DragLaw::None => 0.0,
        DragLaw::Constant { drag_coeff } => drag_coeff * d.scale_ratio,
        _ => d.scale_ratio,
    }
}

fn lift_level(l: &Lift) -> f64 {
    match *l {
        Lift::None => 0.0,
        Lift::Linear { slope_coeff } => slope_coeff,
        Lift::Bilinear => 1.0,
        Lift::Saturating { scale_ratio, .. } | Lift::SaturatingWholeSpin { scale_ratio, .. } => scale_ratio,
    }
}

/// Columns of flights for the batch.
struct Lanes {
    position_m: [Vec<f64>; 3],
    velocity_mps: [Vec<f64>; 3],
    spin_radps: [Vec<f64>; 3],
    diameter_m: Vec<f64>,
    mass_kg: Vec<f64>,
    drag: Vec<f64>,
    lift: Vec<f64>,
    density: Vec<f64>,
    wind: [Vec<f64>; 3],
}

impl Lanes {
    fn new(count: usize) -> Lanes {
        let v = || Vec::with_capacity(count);
        Lanes {
            position_m: [v(), v(), v()],
            velocity_mps: [v(), v(), v()],
            spin_radps: [v(), v(), v()],
            diameter_m: v(),
            mass_kg: v(),
            drag: v(),
            lift: v(),
            density: v(),
            wind: [v(), v(), v()],
        }
    }

    fn push(&mut self, of: &Thrower, t: &Draw, exit: &Exit) {
        let exit = of.refined(exit);
        let f = of.flight.at(&t.z);
        let base = &of.flight.base;
        let (shift_m, turn_rad) = sideways(&of.inputs, &t.z);
        let turn_rad = turn_rad + of.uneven_turn_rad(&t.rows);
        let stance = Stance {
            heading_rad: f[10],
            platform_mps: [f[11], f[12]],
            turn_radps: f[13],
            ..of.stance
        };
        let mut start = start_state(&exit, &stance, shift_m, turn_rad);
        // The plane stays where it is; a target that moves is a start that moves the other way.
        start.position_m[0] -= f[7] - base[7];
        start.position_m[1] -= f[8] - base[8];
        start.position_m[2] -= f[9] - base[9];
        let ratio = |now: f64, then: f64| if then != 0.0 { now / then } else { 1.0 };
        for k in 0..3 {
            self.position_m[k].push(start.position_m[k]);
            self.velocity_mps[k].push(start.velocity_mps[k]);
            self.spin_radps[k].push(start.spin_radps[k]);
        }
        self.diameter_m.push(f[0]);
        self.mass_kg.push(f[1]);
        self.drag.push(ratio(f[2], base[2]).max(0.0));
        self.lift.push(ratio(f[3], base[3]));
        self.density.push(f[4]);
        self.wind[0].push(f[5]);
        self.wind[1].push(f[6]);
        self.wind[2].push(0.0);
    }

    fn push_nothing(&mut self) {
        let lists = self
            .position_m
            .iter_mut()
            .chain(&mut self.velocity_mps)
            .chain(&mut self.spin_radps)
            .chain(&mut self.wind)
            .chain([
                &mut self.diameter_m,
                &mut self.mass_kg,
                &mut self.drag,
                &mut self.lift,
                &mut self.density,
            ]);
        for list in lists {
            list.push(f64::NAN);
        }
    }

    fn fly(&self, of: &Thrower, out: &mut Crossings) {
        let count = self.mass_kg.len();
        let target = &of.chain.target;
        let plane = target.plane(&of.stance.at);
        let mut ball = of.chain.ball;
        // The spin dies away at the rate it has at the exit's speed; what that leaves is in the flight shift.
        if let SpinDecay::Aero { torque_coeff } = ball.spin_decay {
            let area = 0.25 * std::f64::consts::PI * ball.diameter_m.powi(2);
            let rate = torque_coeff
                * of.chain.medium.density_kgpm3
                * area
                * MEAN_OVER_EXIT_SPEED
                * of.exit_speed_mps
                / (2.0 * ball.inertia_coeff * ball.mass_kg);
            ball.spin_decay = if rate > 0.0 {
                SpinDecay::TimeConstant { tau_s: 1.0 / rate }
            } else {
                SpinDecay::None
            };
        }
        fn each<'a>(v: &'a [Vec<f64>; 3]) -> [Column<'a>; 3] {
            [Column::Each(&v[0]), Column::Each(&v[1]), Column::Each(&v[2])]
        }
        let batch = Batch {
            ball,
            medium: of.chain.medium,
            plane,
            until: Until {
                time_s: LONGEST_S,
                floor_m: 0.0,
            },
            throws: Throws {
                count,
                position_m: each(&self.position_m),
                velocity_mps: each(&self.velocity_mps),
                spin_radps: each(&self.spin_radps),
                diameter_m: Column::Each(&self.diameter_m),
                mass_kg: Column::Each(&self.mass_kg),
                drag_scale_ratio: Column::Each(&self.drag),
                lift_scale_ratio: Column::Each(&self.lift),
                density_kgpm3: Column::Each(&self.density),
                wind_mps: each(&self.wind),
            },
        };
        let mut flown = vec![NOWHERE; count];
        let known = fly_batch_into(&batch, &mut flown).is_ok();
        let centre = target.centre_m(&of.stance.at);
        let (along, inward) = (target.along_axis(), target.inward());
        for a in &flown {
            let crossed = known && a.outcome == Ended::Crossed;
            let d = [
                a.position_m[0] - centre[0],
                a.position_m[1] - centre[1],
                a.position_m[2] - centre[2],
            ];
            let or_nan = |x: f64| if crossed { x } else { f64::NAN };
            out.along_m.push(or_nan(dot(d, along) + of.flight_shift_m[0]));
            out.across_m.push(or_nan(d[1] + of.flight_shift_m[1]));
            let v = a.velocity_mps;
            for (list, x) in out
                .velocity_mps
                .iter_mut()
                .zip([dot(v, along), v[1], -dot(v, inward)])
            {
                list.push(or_nan(x));
            }
        }
    }
}

/// Physical: mean speed of a lobbed flight over its exit speed.
const MEAN_OVER_EXIT_SPEED: f64 = 0.8;

const NOWHERE: Flown = Flown {
    outcome: Ended::NotFinite,
    time_s: f64::NAN,
    position_m: [f64::NAN; 3],
    velocity_mps: [f64::NAN; 3],
};
