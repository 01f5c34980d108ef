//! The response of the exit, fitted to pilots and measured on pilots kept apart.

use rayon::prelude::*;

use super::lanes::Lanes;
use super::{Crossings, Detail, Draw, SETPOINT_RANGE_FRAC, Thrower, difference};
use crate::launcher::TorqueLine;
use crate::numerics::sobol::Sobol;
use crate::scatter::response::{Response, parts, term_count};
use crate::shot::Exit;

/// Rounding: torques nearer than this share of themselves are the same.
const SAME: f64 = 1e-9;
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
const PILOT_SEED: u64 = 0x9e37_79b9_7f4a_7c15;

impl Thrower {
    /// Finds which inputs change the exit, fits the response and measures it.
    pub(super) fn fit(&mut self, base: &Exit, torque: &TorqueLine, detail: Detail, seed: u64) {
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
        // With the wheel's speed and its torque; the fit takes what points there are when the torque never differs.
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
                    1.0 + SETPOINT_RANGE_FRAC * (2.0 * setpoints[i] - 1.0),
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

    pub(super) fn set_scales(&mut self, drawn: &[Draw]) {
        let n = drawn.len().max(1) as f64;
        let rms = |f: &dyn Fn(&Draw) -> f64| (drawn.iter().map(|t| f(t).powi(2)).sum::<f64>() / n).sqrt();
        let s = self.scales;
        self.scales.wheel_ln =
            rms(&|t| libm::log(t.wheel_radps / s.wheel_radps)).max(1e-3 * SETPOINT_RANGE_FRAC);
        let by_nm = rms(&|t| t.torque.stall_nm - s.stall_nm);
        self.scales.stall_by_nm = if by_nm > SAME * s.stall_nm.abs() {
            by_nm
        } else {
            0.0
        };
    }

    /// Variables of the response for one draw.
    pub(super) fn variables(&self, t: &Draw) -> Vec<f64> {
        let mut x: Vec<f64> = self.active.iter().map(|&j| t.z[j]).collect();
        let s = &self.scales;
        x.push(libm::log(t.wheel_radps / s.wheel_radps) / s.wheel_ln);
        if s.stall_by_nm > 0.0 {
            x.push((t.torque.stall_nm - s.stall_nm) / s.stall_by_nm);
        }
        x
    }

    pub(super) fn set_flight_shift(&mut self) {
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
        self.shift_flight(&t, &exit);
    }

    /// How far the exact crossing of a throw is from that of the batch.
    pub(super) fn shift_flight(&mut self, t: &Draw, exit: &Exit) {
        let mut at = Lanes::new(1);
        at.push(self, t, exit);
        let mut out = Crossings::default();
        at.fly(self, &mut out);
        if let (Some(c), Some(a), Some(b)) = (
            self.exact_crossing(t, exit),
            out.along_m.first(),
            out.across_m.first(),
        ) && a.is_finite()
        {
            self.flight_shift_m = [c[0] - a, c[1] - b];
        }
    }
}
