//! What would make throws more alike, and by how much: each change is made to a copy of the project and thrown.

use super::budget::alone;
use super::inputs::{Cause, Scope};
use super::summary::{SamplePlan, centred, sample};
use super::thrower::Detail;
use crate::launcher::PartShape;
use crate::launcher::inertia::train_inertia;
use crate::launcher::spin_up::{spin_up, spin_up_time};
use crate::project::{self, Project, Spread};
use crate::shot::Chain;

/// Something a person can change.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lever {
    /// More inertia at the wheel.
    Inertia,
    /// More time between throws.
    Interval,
    /// A narrower band that counts as ready.
    ReadyBand,
    /// More proportional gain.
    Gain,
    /// Less integral gain.
    Integral,
    /// Pieces sorted by mass.
    SortMass,
    /// Pieces sorted by size.
    SortSize,
    /// Pieces sorted by stiffness.
    SortStiffness,
    /// Clean, equal surfaces.
    Clean,
    /// More even feed.
    Feed,
    /// Rails that centre the piece before the wheel.
    Rails,
    /// Lining up better.
    LineUp,
    /// Standing on the spot more exactly.
    Stand,
    /// More squeeze.
    Squeeze,
    /// A wider wheel.
    Width,
    /// A guide nearer to its arc.
    TrueGuide,
}

impl Lever {
    /// One word, for files.
    pub fn code(self) -> &'static str {
        match self {
            Lever::Inertia => "inertia",
            Lever::Interval => "interval",
            Lever::ReadyBand => "ready-band",
            Lever::Gain => "gain",
            Lever::Integral => "integral",
            Lever::SortMass => "sort-mass",
            Lever::SortSize => "sort-size",
            Lever::SortStiffness => "sort-stiffness",
            Lever::Clean => "clean",
            Lever::Feed => "feed",
            Lever::Rails => "rails",
            Lever::LineUp => "line-up",
            Lever::Stand => "stand",
            Lever::Squeeze => "squeeze",
            Lever::Width => "width",
            Lever::TrueGuide => "true-guide",
        }
    }

    /// Levers against a cause.
    fn against(cause: Cause) -> &'static [Lever] {
        match cause {
            Cause::Wheel => &[
                Lever::Inertia,
                Lever::Interval,
                Lever::ReadyBand,
                Lever::Gain,
                Lever::Integral,
            ],
            Cause::Mass => &[Lever::SortMass],
            Cause::Diameter => &[Lever::SortSize, Lever::Squeeze],
            Cause::Stiffness => &[Lever::SortStiffness, Lever::Squeeze],
            Cause::Friction => &[Lever::Clean, Lever::Squeeze],
            Cause::Feed => &[Lever::Feed],
            Cause::Entry => &[Lever::Rails],
            Cause::Heading => &[Lever::LineUp],
            Cause::Place => &[Lever::Stand],
            Cause::Bite => &[Lever::Width, Lever::Squeeze],
            Cause::Guide => &[Lever::TrueGuide],
            Cause::Drag | Cause::Wind | Cause::Moving | Cause::Beyond | Cause::Untested => &[],
        }
    }

    /// Amounts tried, the smallest change first: factors, or seconds more for the interval.
    fn amounts(self) -> &'static [f64] {
        match self {
            Lever::Inertia => &[1.1, 1.2, 1.3, 1.5, 1.75, 2.0, 2.5, 3.0],
            Lever::Interval => &[0.1, 0.2, 0.3, 0.5, 0.75, 1.0, 1.5],
            Lever::ReadyBand => &[0.7, 0.5, 0.3, 0.2],
            Lever::Gain => &[1.25, 1.5, 2.0, 3.0],
            Lever::Integral => &[0.5, 0.25, 0.0],
            Lever::Width => &[1.25, 1.5, 2.0, 3.0, 4.0, 6.0],
            Lever::Squeeze => &[1.15, 1.3, 1.5, 2.0, 2.5],
            _ => &[0.5],
        }
    }

    /// The project with this lever moved; `None` where it has nothing to move.
    fn applied(self, project: &Project, amount: f64) -> Option<Project> {
        let mut p = project.clone();
        let scale = |p: &mut Project, key: &str| {
            let value = project::get(p, key)?;
            project::set(p, key, value * amount).then_some(())
        };
        let narrow = |p: &mut Project, wanted: &dyn Fn(&str) -> bool| {
            let mut any = false;
            for (key, spread) in p.spreads.iter_mut().filter(|(k, _)| wanted(k)) {
                let _ = key;
                any = true;
                *spread = match *spread {
                    Spread::Normal { sd } => Spread::Normal { sd: sd * amount },
                    Spread::Range { low, high } => {
                        let (middle, half) = (0.5 * (low + high), 0.5 * (high - low));
                        Spread::Range {
                            low: middle - amount * half,
                            high: middle + amount * half,
                        }
                    }
                };
            }
            any.then_some(())
        };
        match self {
            Lever::Inertia => return with_inertia(project, amount),
            Lever::Interval => {
                let s = p.limits.throw_interval_s?;
                p.limits.throw_interval_s = Some(s + amount);
            }
            Lever::ReadyBand => scale(&mut p, "controller.ready")?,
            Lever::Gain => scale(&mut p, "controller.kp")?,
            Lever::Integral => {
                if p.machine.controller.ki_v <= 0.0 {
                    return None;
                }
                p.machine.controller.ki_v *= amount;
            }
            Lever::SortMass => narrow(&mut p, &|k| k == "piece.mass")?,
            Lever::SortSize => narrow(&mut p, &|k| k == "piece.diameter")?,
            Lever::SortStiffness => p.throws.stiffness_frac *= amount,
            Lever::Clean => p.throws.friction_frac *= amount,
            Lever::Feed => p.throws.feed_speed_frac *= amount,
            Lever::Rails => {
                p.throws.entry_m *= amount;
                p.throws.entry_angle_rad *= amount;
            }
            Lever::LineUp => narrow(&mut p, &|k| k.ends_with("].heading"))?,
            Lever::Stand => narrow(&mut p, &|k| k.ends_with("].distance") || k.ends_with("].offset"))?,
            Lever::Squeeze => scale(&mut p, "launcher.squeeze")?,
            Lever::Width => scale(&mut p, "wheel.width")?,
            Lever::TrueGuide => scale(&mut p, "launcher.guide_error")?,
        }
        Some(p)
    }
}

/// The project with the inertia of its wheel train times a factor, by the masses of its own parts; `None` where
/// the parts have no inertia to scale.
pub fn with_inertia(project: &Project, factor_ratio: f64) -> Option<Project> {
    let m = &project.machine;
    let whole = train_inertia(&m.parts, &m.drive);
    let rotor = train_inertia(&[], &m.drive);
    let share = (factor_ratio * whole - rotor) / (whole - rotor);
    if !(share.is_finite() && share > 0.0) {
        return None;
    }
    let mut p = project.clone();
    for part in &mut p.machine.parts {
        match &mut part.shape {
            PartShape::Annulus { mass_kg, .. } | PartShape::Ring { mass_kg, .. } => *mass_kg *= share,
            PartShape::Known { inertia_kgm2 } => *inertia_kgm2 *= share,
        }
    }
    Some(p)
}

/// What one change does at one spot.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Remedy {
    /// Cause it is meant for.
    pub cause: Cause,
    /// What is changed.
    pub lever: Lever,
    /// Factor, or seconds more for the interval.
    pub amount: f64,
    /// Value of the quantity now, and with the change, where it is one quantity: SI.
    pub from_to: Option<[f64; 2]>,
    /// Deviation that the cause makes alone, now and with the change, along and across.
    pub alone_m: [[f64; 2]; 2],
    /// Deviation of everything, with the change.
    pub sd_m: [f64; 2],
    /// Hit chance with the change, at a setpoint corrected for it.
    pub hit_frac: f64,
    /// Spin-up with the change.
    pub spin_up_s: Option<f64>,
    /// True where the change halves what the cause does alone.
    pub halves: bool,
}

/// Method: throws for the hit chance of a remedy; both sides of a comparison get the same draws.
const REMEDY_COUNT: usize = 2048;

/// For one cause: the smallest amount of each lever that halves what the cause does, or else the best amount.
/// The levers that do most come first; those that do nothing are left out.
pub fn remedies(
    project: &Project,
    spot_index: usize,
    setpoint_radps: f64,
    lead_rad: f64,
    cause: Cause,
    across: bool,
    seed: u64,
) -> Vec<Remedy> {
    let axis = usize::from(across);
    let thrown = |p: &Project| {
        let (t, ratio) = centred(
            p,
            spot_index,
            setpoint_radps,
            lead_rad,
            Scope::Throws,
            Detail::Coarse,
            seed,
        )
        .ok()?;
        let own = alone(&t, cause, ratio, seed);
        Some((t, ratio, own))
    };
    let Some((_, _, before)) = thrown(project) else {
        return Vec::new();
    };
    let mut out = Vec::new();
    for lever in Lever::against(cause) {
        let mut best: Option<(f64, Project, [f64; 2])> = None;
        for amount in lever.amounts() {
            let Some(changed) = lever.applied(project, *amount) else {
                break;
            };
            let Some((_, _, after)) = thrown(&changed) else {
                continue;
            };
            if best.as_ref().is_none_or(|b| after[axis] < b.2[axis]) {
                best = Some((*amount, changed, after));
            }
            if after[axis] <= 0.5 * before[axis] * (1.0 + 1e-3) {
                break;
            }
        }
        let Some((amount, changed, after)) = best else {
            continue;
        };
        /// Physical: less than this is not worth the work.
        const WORTH: f64 = 0.9;
        if after[axis] > WORTH * before[axis] {
            continue;
        }
        let Some((t, ratio, _)) = thrown(&changed) else {
            continue;
        };
        let s = sample(
            &t,
            ratio,
            &SamplePlan {
                seed,
                most_count: REMEDY_COUNT,
                until_frac: 0.0,
            },
        );
        let chain = Chain::of(&changed);
        out.push(Remedy {
            cause,
            lever: *lever,
            amount,
            from_to: from_to(*lever, project, &changed),
            alone_m: [before, after],
            sd_m: [s.along_sd_m.value, s.across_sd_m.value],
            hit_frac: s.hit.frac,
            spin_up_s: ready_s(&changed, &chain, setpoint_radps),
            halves: after[axis] <= 0.5 * before[axis] * (1.0 + 1e-3),
        });
    }
    out.sort_by(|a, b| {
        b.halves
            .cmp(&a.halves)
            .then(a.alone_m[1][axis].total_cmp(&b.alone_m[1][axis]))
    });
    out
}

/// Time from standstill to the edge of the ready band.
pub fn ready_s(project: &Project, chain: &Chain, setpoint_radps: f64) -> Option<f64> {
    let m = &project.machine;
    let edge = setpoint_radps * (1.0 - m.controller.ready_frac);
    spin_up_time(&spin_up(&chain.train, &m.battery), edge)
}

fn from_to(lever: Lever, before: &Project, after: &Project) -> Option<[f64; 2]> {
    let both = |f: &dyn Fn(&Project) -> Option<f64>| Some([f(before)?, f(after)?]);
    match lever {
        Lever::Inertia => both(&|p| Some(train_inertia(&p.machine.parts, &p.machine.drive))),
        Lever::Interval => both(&|p| p.limits.throw_interval_s),
        Lever::ReadyBand => both(&|p| Some(p.machine.controller.ready_frac)),
        Lever::Gain => both(&|p| Some(p.machine.controller.kp_vs)),
        Lever::Integral => both(&|p| Some(p.machine.controller.ki_v)),
        Lever::Squeeze => both(&|p| Some(p.squeeze_m())),
        Lever::Width => both(&|p| Some(p.machine.wheel.width_m)),
        _ => None,
    }
}
