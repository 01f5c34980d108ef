//! Speed of the wheel at each release of a volley, and what it depends on.

use rayon::prelude::*;

use super::inputs::{Input, TRAIN_KEYS, varied};
use crate::launcher::volley::{ThrowResult, Trigger, VolleyEnd, VolleyPlan, volley};
use crate::launcher::{Passage, Setting, TorqueLine};
use crate::numerics::random::Stream;
use crate::project::{Project, Spread};
use crate::shot::Chain;
use crate::volley_run::PATIENCE_S;

/// One release of one pilot volley.
#[derive(Clone, Copy, Debug)]
struct Release {
    time_s: f64,
    wheel_radps: f64,
    torque: TorqueLine,
}

/// Speed at one place in the volley: mean, what the battery does to it, and what is left.
#[derive(Clone, Debug)]
struct Place {
    time_s: f64,
    mean_radps: f64,
    per_battery_radps: f64,
    /// What is left, sorted.
    rest_radps: Vec<f64>,
    stall_nm: f64,
    stall_per_battery_nm: f64,
    slope_nms: f64,
}

/// Wheel speed and torque at every release of a volley.
#[derive(Clone, Debug)]
pub struct ReleaseSpeed {
    places: Vec<Place>,
    /// Setpoint for which it was worked out.
    pub setpoint_radps: f64,
}

/// Stream of random numbers for the pilot volleys, apart from the sampled ones.
const PILOT_STREAM: u64 = 0x7661_7279;

impl ReleaseSpeed {
    /// Plays `count` volleys in which battery, timing and every piece differ, and takes the speeds at
    /// release from them. Why not, in plain words, when no piece is ever let in.
    pub fn of(
        project: &Project,
        inputs: &[Input],
        setpoint_radps: f64,
        step_s: f64,
        count: usize,
        seed: u64,
    ) -> Result<ReleaseSpeed, &'static str> {
        let throw_count = project.limits.volley_count.max(1);
        let battery_sd = battery_sd(project);
        let pilots: Vec<(f64, Vec<Release>, VolleyEnd)> = (0..count.max(8))
            .into_par_iter()
            .map(|i| {
                let mut stream = Stream::new(seed, PILOT_STREAM + i as u64);
                let battery = stream.normal();
                let timing = stream.normal();
                let (releases, end) = play(
                    project,
                    inputs,
                    setpoint_radps,
                    step_s,
                    throw_count,
                    battery * battery_sd,
                    timing * project.throws.timing_s,
                    &mut stream,
                );
                (battery, releases, end)
            })
            .collect();
        let mut places = Vec::new();
        for k in 0..throw_count as usize {
            let rows: Vec<(f64, Release)> = pilots
                .iter()
                .filter_map(|(b, r, _)| r.get(k).map(|r| (*b, *r)))
                .collect();
            // A place that most volleys never come to has no speed worth a figure.
            if 2 * rows.len() < pilots.len() {
                break;
            }
            places.push(Place::of(&rows));
        }
        if places.is_empty() {
            return Err(match pilots.first().map(|p| &p.2) {
                Some(VolleyEnd::Unusable(why)) => why,
                _ => "the wheel is never ready for the first throw",
            });
        }
        shown_by_place(project, &mut places);
        Ok(ReleaseSpeed {
            places,
            setpoint_radps,
        })
    }

    /// Throws of the volley that are let in.
    pub fn throw_count(&self) -> usize {
        self.places.len()
    }

    /// Which throw of the volley a share of (0, 1) means: each as often as the others.
    pub fn throw_at(&self, share: f64) -> usize {
        ((share * self.places.len() as f64) as usize).min(self.places.len().saturating_sub(1))
    }

    /// Speed and torque at a throw of the volley, with the battery `z` deviations from its mean and
    /// the rest at a share of its distribution.
    pub fn at(&self, throw: usize, z: f64, share: f64) -> (f64, TorqueLine) {
        let Some(p) = self.places.get(throw) else {
            return (
                f64::NAN,
                TorqueLine {
                    stall_nm: 0.0,
                    slope_nms: 0.0,
                },
            );
        };
        let wheel_radps = p.mean_radps + p.per_battery_radps * z + quantile(&p.rest_radps, share);
        let torque = TorqueLine {
            stall_nm: p.stall_nm + p.stall_per_battery_nm * z,
            slope_nms: p.slope_nms,
        };
        (wheel_radps, torque)
    }

    /// Mean speed and torque over all throws.
    pub fn mean(&self) -> (f64, TorqueLine) {
        let n = self.places.len().max(1) as f64;
        let sum = |f: fn(&Place) -> f64| self.places.iter().map(f).sum::<f64>() / n;
        (
            sum(|p| p.mean_radps),
            TorqueLine {
                stall_nm: sum(|p| p.stall_nm),
                slope_nms: sum(|p| p.slope_nms),
            },
        )
    }

    /// Mean time from standstill to the last release, when every throw of the volley is let in.
    pub fn volley_s(&self, throw_count: u32) -> Option<f64> {
        (self.places.len() == throw_count.max(1) as usize)
            .then(|| self.places.last().map(|p| p.time_s))
            .flatten()
    }

    /// Mean speed at one throw of the volley over the setpoint, less 1.
    pub fn error_frac(&self, throw: usize) -> f64 {
        self.places
            .get(throw)
            .map_or(f64::NAN, |p| p.mean_radps / self.setpoint_radps - 1.0)
    }
}

/// Puts in what test shots showed of the places in a volley: in place of the computed changes where the wheel was
/// not measured, on top of them where it was.
fn shown_by_place(project: &Project, places: &mut [Place]) {
    let Some(shown) = project.throws.shown else { return };
    if shown.place_frac.is_none() && shown.last_frac.is_none() {
        return;
    }
    let first_radps = places.first().map_or(f64::NAN, |p| p.mean_radps);
    let last = (project.limits.volley_count.max(1) - 1) as usize;
    for (k, place) in places.iter_mut().enumerate().skip(1) {
        let by = shown.place_frac.unwrap_or(0.0) * k as f64
            + if k == last {
                shown.last_frac.unwrap_or(0.0)
            } else {
                0.0
            };
        let from_radps = if shown.wheel_measured {
            place.mean_radps
        } else {
            first_radps
        };
        place.mean_radps = from_radps * libm::exp(by);
    }
}

impl Place {
    fn of(rows: &[(f64, Release)]) -> Place {
        let n = rows.len() as f64;
        let mean = |f: &dyn Fn(&(f64, Release)) -> f64| rows.iter().map(f).sum::<f64>() / n;
        let battery = mean(&|r| r.0);
        let spread: f64 = rows.iter().map(|r| (r.0 - battery).powi(2)).sum();
        let slope = |f: &dyn Fn(&Release) -> f64| {
            if spread > 0.0 {
                rows.iter().map(|r| (r.0 - battery) * f(&r.1)).sum::<f64>() / spread
            } else {
                0.0
            }
        };
        let per_battery_radps = slope(&|r| r.wheel_radps);
        let stall_per_battery_nm = slope(&|r| r.torque.stall_nm);
        let mean_radps = mean(&|r| r.1.wheel_radps) - per_battery_radps * battery;
        let mut rest_radps: Vec<f64> = rows
            .iter()
            .map(|r| r.1.wheel_radps - mean_radps - per_battery_radps * r.0)
            .collect();
        rest_radps.sort_by(f64::total_cmp);
        Place {
            time_s: mean(&|r| r.1.time_s),
            mean_radps,
            per_battery_radps,
            rest_radps,
            stall_nm: mean(&|r| r.1.torque.stall_nm) - stall_per_battery_nm * battery,
            stall_per_battery_nm,
            slope_nms: mean(&|r| r.1.torque.slope_nms),
        }
    }
}

/// Value at a share of sorted values, straight between them.
pub(super) fn quantile(sorted: &[f64], share: f64) -> f64 {
    let Some(last) = sorted.len().checked_sub(1) else {
        return 0.0;
    };
    let at = (share * sorted.len() as f64 - 0.5).clamp(0.0, last as f64);
    let i = (at as usize).min(last);
    let j = (i + 1).min(last);
    sorted[i] + (at - i as f64) * (sorted[j] - sorted[i])
}

/// Standard deviation of the battery's voltage: charge, its own spread, and the draw of the other consumers.
fn battery_sd(project: &Project) -> f64 {
    let sd = |key: &str| project.spreads.get(key).map_or(0.0, Spread::sd);
    let [own, other] = [TRAIN_KEYS[0], TRAIN_KEYS[1]].map(sd);
    let sag = other * project.machine.battery.resistance_ohm;
    (project.throws.battery_v.powi(2) + own * own + sag * sag).sqrt()
}

#[allow(clippy::too_many_arguments)] // one volley is just this much
fn play(
    project: &Project,
    inputs: &[Input],
    setpoint_radps: f64,
    step_s: f64,
    throw_count: u32,
    battery_by_v: f64,
    timing_by_s: f64,
    stream: &mut Stream,
) -> (Vec<Release>, VolleyEnd) {
    let mut powered = project.clone();
    powered.machine.battery.open_v += battery_by_v;
    let chain = Chain::of(&powered);
    let m = &powered.machine;
    let interval = powered.limits.throw_interval_s;
    let plan = VolleyPlan {
        setpoint_radps,
        start_radps: 0.0,
        throw_count,
        interval_s: interval.map_or(0.0, |s| (s + timing_by_s).max(0.1 * s)),
        trigger: if interval.is_some() {
            Trigger::Interval
        } else {
            Trigger::WhenReady
        },
        earliest_s: 0.0,
        patience_s: PATIENCE_S,
        other_current_a: m.other_current_a,
        counts_per_turn: 0,
        with_samples: false,
    };
    let setting: Setting = m.setting;
    let mut releases = Vec::with_capacity(throw_count.min(64) as usize);
    let run = volley(&chain.train, &m.battery, &m.controller, &plan, |asked| {
        releases.push(Release {
            time_s: asked.time_s,
            wheel_radps: asked.wheel_radps,
            torque: asked.torque,
        });
        let z: Vec<f64> = inputs.iter().map(|i| i.deviate(stream.uniform())).collect();
        let one = Chain::of(&varied(&powered, inputs, &z)).with_step(step_s);
        match one.release_driven(&setting, asked.wheel_radps, &asked.torque, false) {
            Passage::Thrown(r) => ThrowResult {
                wheel_after_radps: r.wheel_after_radps[0],
                duration_s: r.contact_s,
            },
            Passage::Refused { .. } => ThrowResult {
                wheel_after_radps: f64::NAN,
                duration_s: 0.0,
            },
        }
    });
    (releases, run.end)
}
