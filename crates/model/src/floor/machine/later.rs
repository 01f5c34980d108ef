//! Later shots beside what a fit expects of them, and how far each logged shot lies off the machine itself.

use super::layout::{Effect, input};
use super::{Fitted, LoggedShot};
use crate::floor::components::Throw;
use crate::floor::drift::{Channel as Step, Innovation};
use crate::floor::forward::{Forward, applied};
use crate::floor::next::{Opening, candidate, predictive_frac, spot_view};
use crate::floor::shot::{Seen, Shot};
use crate::numerics::symmetric::Cholesky;
use crate::target::{Outcome, Outline};

/// What a reading of a shot is, in the order in which the readings of [`super::Machine`] come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Reading {
    Landing,
    LandingAcross,
    Time,
    Wall,
    After,
    ExitSpeed,
    ExitAngle,
    Miss,
    MissAcross,
}

/// Those that a shot has.
fn readings(shot: &Shot) -> Vec<Reading> {
    let s = &shot.seen;
    let dip = shot.before_radps.is_some() && shot.after_radps.is_some();
    [
        (Reading::Landing, s.landing.is_some()),
        (Reading::LandingAcross, s.landing.is_some()),
        (Reading::Time, s.fall.is_some()),
        (Reading::Wall, s.wall.is_some()),
        (Reading::After, dip),
        (Reading::ExitSpeed, s.exit_speed_mps.is_some()),
        (Reading::ExitAngle, s.exit_angle_rad.is_some()),
        (Reading::Miss, s.miss_m.is_some()),
        (Reading::MissAcross, s.miss_m.is_some()),
    ]
    .into_iter()
    .filter_map(|(r, has)| has.then_some(r))
    .collect()
}

/// The order in which readings of one shot are taken: those that say most of a place first, so that a chart follows
/// them as they are.
const ORDER: [Reading; 9] = [
    Reading::Landing,
    Reading::Miss,
    Reading::LandingAcross,
    Reading::MissAcross,
    Reading::Wall,
    Reading::Time,
    Reading::ExitSpeed,
    Reading::After,
    Reading::ExitAngle,
];

/// Later shots beside a fit.
#[derive(Clone, Debug, PartialEq)]
pub struct Later {
    /// For each shot what it showed; one that was not measured, jammed or was left out shows nothing.
    pub innovations: Vec<Innovation>,
    /// Standard deviation that all shots share, the doubt of the fit, by that of one.
    pub shared_ratio: f64,
    /// Scatter expected from throw to throw: place along, root mean square over the shots; `NAN` where none has one.
    pub along_sd_m: f64,
}

/// How far one logged shot lies off the machine itself: its pieces, sessions, places in the volley and batteries stay in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Deviation {
    /// Place in the log.
    pub index: usize,
    /// Along, as a share of speed, and what reading it adds, one standard deviation.
    pub along_frac: Option<[f64; 2]>,
    /// Sideways, as an angle to the left, and what reading it adds.
    pub aside_rad: Option<[f64; 2]>,
}

/// Method: fewer measured wheel speeds than this say nothing of how near the command the wheel usually is.
const FEWEST_WHEELS: usize = 3;
/// Physical: no wheel sensor is better than this share.
const LEAST_WHEEL_FRAC: f64 = 0.002;
/// Method: a reading that is worth less than this of speed tells nothing of what scatters it.
const WORST_READING_FRAC: f64 = 0.05;
/// Method: more likely a flyer than this, and a shot is left out of what scatters the others.
const FLYER_FRAC: f64 = 0.5;

impl Fitted {
    /// What later shots showed less what this fit expects of them, as the machine was in its last session.
    ///
    /// ```text
    /// e = seen − expected      V = f² (C + J Σ Jᵀ)      L Lᵀ = V      z = L⁻¹ e      and the sensitivities with it
    /// ```
    ///
    /// with the scatter and reading errors C, the covariance Σ of the parameters, and the factor f for a scatter that was
    /// itself learned from few shots. The readings of one shot come one after the other, each as far as those before it do not explain it, so that they are
    /// independent when nothing changed. The place along comes first and is what it is.
    pub fn innovations(&self, later: &[Shot]) -> Later {
        let usual = self.usual_wheel();
        let usual_v = mean(self.shots.iter().filter_map(|s| s.shot.battery_v));
        let planned = self.planned(&self.as_in_last_session(later, |seen| Seen {
            outcome: None,
            ..seen
        }));
        let mut shared = Vec::new();
        let mut along = Vec::new();
        let innovations = later
            .iter()
            .zip(&planned)
            .map(|(shot, ready)| {
                if shot.jammed || shot.left_out {
                    return Innovation::default();
                }
                let rows = ready
                    .as_ref()
                    .and_then(|r| self.whitened(r, &mut shared))
                    .unwrap_or_default();
                let mut out = sorted(&rows);
                along.extend(out.along.map(|c| c.sd * c.sd));
                out.place = shot.place;
                out.voltage_step_v = shot.battery_v.zip(usual_v).map(|(v, u)| v - u);
                out.wheel = usual.and_then(|usual| wheel_step(shot, usual));
                out
            })
            .collect();
        Later {
            innovations,
            shared_ratio: mean(shared.into_iter()).unwrap_or(0.0).max(0.0).sqrt(),
            along_sd_m: mean(along.into_iter()).map_or(f64::NAN, f64::sqrt),
        }
    }

    /// Later shots as if thrown in the last session of the fit, with what of them is to be looked at.
    fn as_in_last_session(&self, later: &[Shot], look: impl Fn(Seen) -> Seen) -> Vec<Shot> {
        let each = later.iter().map(|s| Shot {
            session_index: self.session_index,
            seen: look(s.seen),
            ..s.clone()
        });
        each.collect()
    }

    /// Readings of one shot in order, whitened; the share of each variance that the doubt makes goes to `shared`.
    fn whitened(&self, shot: &LoggedShot, shared: &mut Vec<f64>) -> Option<Vec<(Reading, Step)>> {
        let inputs = crate::floor::forward::inputs_of(&self.machine, &self.posterior.mean, shot);
        let prediction = self.machine.predict(&inputs, shot)?;
        let kinds = readings(&shot.shot);
        if kinds.len() != prediction.channels.len() || kinds.is_empty() {
            return None;
        }
        let made = candidate(&self.machine, &self.posterior, shot, 0)?;
        let order: Vec<usize> = ORDER
            .iter()
            .filter_map(|r| kinds.iter().position(|k| k == r))
            .collect();
        let n = order.len();
        let f = self.posterior.small_sample_ratio();
        let new_piece = self.new_piece_variance(&shot.shot);
        let mut v = vec![0.0; n * n];
        for (a, i) in order.iter().enumerate() {
            for (b, j) in order.iter().enumerate() {
                let (one, other) = (made.readings_by.get(*i)?, made.readings_by.get(*j)?);
                let doubt = bilinear(one, &self.posterior.covariance, other);
                let by = |k: &usize| prediction.channels.get(*k).map(|c| c.sensitivity[0]);
                let piece = new_piece * by(i)? * by(j)?;
                let noise = made.noise.get(*i)?.get(*j)?;
                *v.get_mut(a * n + b)? = f * f * (noise + doubt + piece);
                if a == b && a < 2 {
                    shared.push(doubt / (noise + doubt + piece));
                }
            }
        }
        let factor = Cholesky::new(n, &v)?;
        let column = |of: &dyn Fn(usize) -> Option<f64>| -> Option<Vec<f64>> {
            let raw: Option<Vec<f64>> = order.iter().map(|i| of(*i)).collect();
            Some(factor.solve_lower(&raw?))
        };
        let channel = |i: usize| prediction.channels.get(i);
        let value = column(&|i| channel(i).map(|c| c.observed - c.predicted))?;
        let by: [Vec<f64>; 3] = [
            column(&|i| channel(i).map(|c| c.sensitivity[0]))?,
            column(&|i| channel(i).map(|c| c.sensitivity[1]))?,
            column(&|i| channel(i).map(|c| c.sensitivity[2]))?,
        ];
        let mut out = Vec::with_capacity(n);
        for (a, i) in order.iter().enumerate() {
            let kind = *kinds.get(*i)?;
            // Back in the unit of the reading; a speed in the logarithm of it.
            let unit = match kind {
                Reading::ExitSpeed | Reading::After => channel(*i)?.sensitivity[0],
                _ => 1.0,
            };
            let scale = factor.times_lower(&unit_vector(n, a)).get(a)? / unit;
            let at = |v: &Vec<f64>| v.get(a).map(|x| x * scale);
            out.push((
                kind,
                Step {
                    value: at(&value)?,
                    sd: scale.abs(),
                    by_speed_coeff: at(&by[0])?,
                    by_angle_coeff: at(&by[1])?,
                    by_heading_coeff: at(&by[2])?,
                },
            ));
        }
        Some(out)
    }

    /// What a piece that was never thrown adds to ln speed, where the log told pieces apart.
    fn new_piece_variance(&self, shot: &Shot) -> f64 {
        let effects = self.estimates.iter().map(|e| e.effect);
        let told = effects.clone().any(|e| matches!(e, Effect::Piece(_)));
        let known = shot
            .piece
            .is_some_and(|p| effects.clone().any(|e| e == Effect::Piece(p)));
        if told && !known {
            self.before().piece_sd_frac.powi(2)
        } else {
            0.0
        }
    }

    /// Mean and standard deviation of ln of the wheel speed before a first throw by that asked for, and their number.
    fn usual_wheel(&self) -> Option<[f64; 3]> {
        let all: Vec<f64> = self.shots.iter().filter_map(|s| wheel_ratio(&s.shot)).collect();
        if all.len() < FEWEST_WHEELS {
            return None;
        }
        let n = all.len() as f64;
        let m = all.iter().sum::<f64>() / n;
        let sd = (all.iter().map(|x| (x - m).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
        Some([m, sd.max(LEAST_WHEEL_FRAC), n])
    }

    /// Chance to hit of each shot as it was set, by what was learned and not by what became of it; `None` where the fit
    /// has no answer.
    pub fn hit_chances(&self, later: &[Shot]) -> Vec<Option<f64>> {
        let called = |_: Seen| Seen {
            outcome: Some(Outcome::In),
            ..Seen::default()
        };
        let planned = self.planned(&self.as_in_last_session(later, called));
        let (t, ball) = (&self.machine.chain.target, &self.machine.chain.ball);
        let half = |side_m: f64| 0.5 * (side_m - ball.diameter_m);
        let (along_m, across_m) = (half(t.depth_m), half(t.width_m));
        let opening = match t.outline {
            Outline::Round => Opening::Round { along_m, across_m },
            Outline::Rectangle => Opening::Rectangle { along_m, across_m },
        };
        let each = planned.iter().zip(later).map(|(ready, shot)| {
            let view = spot_view(
                &self.machine,
                &self.posterior,
                ready.as_ref()?,
                shot.distance_m,
                opening,
            )?;
            Some(predictive_frac(&view, &self.posterior.covariance, view.offset_m)).filter(|p| p.is_finite())
        });
        each.collect()
    }

    /// How far each shot of the log lies off the machine itself, with pieces, sessions, places and battery left in; shots
    /// that are probably flyers are left out.
    pub fn deviations(&self) -> Vec<Deviation> {
        let logged = self.used.iter().zip(&self.shots);
        logged
            .filter(|(i, _)| self.flyer_frac.get(**i).is_none_or(|f| *f < FLYER_FRAC))
            .filter_map(|(index, s)| self.deviation_of(*index, s))
            .collect()
    }

    fn deviation_of(&self, index: usize, s: &LoggedShot) -> Option<Deviation> {
        let mut shares = self.machine.parameters.design(&s.shot);
        let of_machine = |p: usize| {
            let effect = self.machine.parameters.effects.get(p);
            effect.is_some_and(|e| {
                !matches!(
                    e,
                    Effect::Place
                        | Effect::Last
                        | Effect::PlaceBeyondWheel
                        | Effect::LastBeyondWheel
                        | Effect::Battery
                        | Effect::Piece(_)
                        | Effect::SessionSpeed(_)
                        | Effect::SessionAngle(_)
                )
            })
        };
        shares.retain(|share| of_machine(share.parameter));
        let inputs = applied(&shares, input::COUNT, &self.posterior.mean);
        let prediction = self.machine.predict(&inputs, s)?;
        let kinds = readings(&s.shot);
        if kinds.len() != prediction.channels.len() {
            return None;
        }
        let first = |wanted: &[Reading], axis: usize| {
            let at = wanted.iter().find_map(|w| kinds.iter().position(|k| k == w))?;
            let c = prediction.channels.get(at)?;
            let slope = c.sensitivity.get(axis)?;
            let read = c.variance.sqrt() / slope.abs();
            // Also false for what is not a number.
            (read < WORST_READING_FRAC).then(|| [(c.observed - c.predicted) / slope, read])
        };
        let wheel = s
            .shot
            .before_radps
            .map_or(0.0, |b| libm::log(b / s.shot.setpoint_radps));
        let along = first(
            &[Reading::Landing, Reading::Miss, Reading::Wall, Reading::ExitSpeed],
            0,
        );
        Some(Deviation {
            index,
            // Predicted from the wheel as measured; the throws are to differ by it.
            along_frac: along.map(|[d, read]| [d + wheel, read]),
            aside_rad: first(&[Reading::LandingAcross, Reading::MissAcross], 2),
        })
    }
}

/// A shot's deviation with what may have caused it.
pub fn throw_of(shot: &Shot, deviation_frac: f64, with_wheel: bool) -> Throw {
    Throw {
        deviation_frac,
        piece: shot.piece,
        session: shot.session_index,
        place: shot.place,
        last: shot.last && shot.place > 0,
        battery_v: shot.battery_v,
        release_frac: shot
            .before_radps
            .filter(|_| with_wheel)
            .map(|b| libm::log(b / shot.setpoint_radps)),
    }
}

fn unit_vector(size: usize, at: usize) -> Vec<f64> {
    (0..size).map(|i| if i == at { 1.0 } else { 0.0 }).collect()
}

fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    let all: Vec<f64> = values.filter(|x| x.is_finite()).collect();
    (!all.is_empty()).then(|| all.iter().sum::<f64>() / all.len() as f64)
}

fn bilinear(a: &[f64], m: &[Vec<f64>], b: &[f64]) -> f64 {
    let row = |r: &Vec<f64>| r.iter().zip(b).map(|(s, x)| s * x).sum::<f64>();
    m.iter().zip(a).map(|(r, x)| x * row(r)).sum()
}

/// ln of the wheel speed before the throw by that asked for, of a throw that no other came before.
fn wheel_ratio(shot: &Shot) -> Option<f64> {
    let before = shot.before_radps.filter(|_| shot.place == 0)?;
    Some(libm::log(before / shot.setpoint_radps)).filter(|x| x.is_finite())
}

fn wheel_step(shot: &Shot, [mean, sd, n]: [f64; 3]) -> Option<Step> {
    Some(Step {
        value: wheel_ratio(shot)? - mean,
        sd: sd * (1.0 + 1.0 / n).sqrt(),
        by_speed_coeff: 0.0,
        by_angle_coeff: 0.0,
        by_heading_coeff: 0.0,
    })
}

/// Readings put where the charts look for them.
fn sorted(rows: &[(Reading, Step)]) -> Innovation {
    let mut out = Innovation::default();
    let mut beside = Vec::new();
    for (kind, step) in rows {
        let slot = match kind {
            Reading::Landing | Reading::Miss | Reading::Wall | Reading::Time => &mut out.along,
            Reading::LandingAcross | Reading::MissAcross => &mut out.across,
            Reading::ExitSpeed | Reading::After => &mut out.ln_speed,
            Reading::ExitAngle => {
                beside.push(*step);
                continue;
            }
        };
        if slot.is_none() {
            *slot = Some(*step);
        } else {
            beside.push(*step);
        }
    }
    for (slot, step) in out.beside.iter_mut().zip(beside) {
        *slot = Some(step);
    }
    out
}
