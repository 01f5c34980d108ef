//! Hit chance from every place on the floor, not only from the spots: one machine at one setting, only the wheel
//! speed changes from place to place.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::inputs::Scope;
use super::report::{NoScatter, slips_near_top};
use super::shown::matched;
use super::summary::{Chance, centred, centring_ratio};
use super::thrower::{Detail, SETPOINT_RANGE_FRAC, Thrower};
use crate::aim::{ExitCurve, Miss, SpotAim, aim_spot};
use crate::limits::CURVE_POINTS;
use crate::numerics::proportion::wilson;
use crate::numerics::sobol::Sobol;
use crate::project::{Project, Spot, Spread};
use crate::shot::Chain;

/// Which places, and how finely each is looked at.
#[derive(Clone, Debug, PartialEq)]
pub struct MapPlan {
    /// Distances to the near rim along the target's axis, nearest first.
    pub distances_m: Vec<f64>,
    /// Distances aside of the target's axis, left positive, from right to left.
    pub offsets_m: Vec<f64>,
    /// Throws from each place.
    pub throw_count: usize,
    /// Seed: the same one gives the same throws.
    pub seed: u64,
}

/// One place to throw from.
#[derive(Clone, Debug)]
pub struct MapPlace {
    /// Distance to the near rim along the target's axis.
    pub distance_m: f64,
    /// Distance aside of the axis, left positive.
    pub offset_m: f64,
    /// Hit chance there, or why no wheel speed serves.
    pub result: Result<PlaceHit, NoScatter>,
}

/// Throws from one place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlaceHit {
    /// Share that goes in.
    pub hit: Chance,
    /// Wheel speed that centres the throws.
    pub setpoint_radps: f64,
}

/// Method: throws from each place for an answer; three parts in a hundred at most.
pub const MAP_THROWS: usize = 1024;
/// Confidence of the interval of a chance.
const CONFIDENCE: f64 = 0.95;
/// Method: wheel speeds for which throws are prepared are this far apart, so that each place is within the range
/// of a fit.
const RUNG_FRAC: f64 = 1.5 * SETPOINT_RANGE_FRAC;
/// Physical: nobody throws from nearer than this to the rim.
const NEAREST_M: f64 = 0.2;

impl MapPlan {
    /// Places about the spots: from half the nearest distance to a quarter beyond the farthest, and as far aside as
    /// half of that or as the spots are; at most so many, in steps that can be read off a tape. Nothing without a spot.
    pub fn around(project: &Project, most_count: usize, seed: u64) -> Option<MapPlan> {
        /// Method: steps that can be read off a tape.
        const STEPS_M: [f64; 7] = [0.1, 0.2, 0.25, 0.5, 1.0, 2.0, 5.0];
        let (near, far) = project.spot_range()?;
        let aside = project.spots.iter().map(|s| s.offset_m.abs()).fold(0.0, f64::max);
        let (from, to) = ((0.5 * near).max(NEAREST_M), 1.25 * far);
        let half = (0.5 * far).max(1.25 * aside);
        let axis = |step_m: f64| {
            let first = (from / step_m).ceil().max(1.0) as usize;
            let last = ((to / step_m).ceil() as usize).max(first);
            let side = ((half / step_m).ceil() as i64).max(1);
            let distances: Vec<f64> = (first..=last).map(|i| i as f64 * step_m).collect();
            let offsets: Vec<f64> = (-side..=side).map(|i| i as f64 * step_m).collect();
            (distances, offsets)
        };
        let count = |(d, o): &(Vec<f64>, Vec<f64>)| d.len() * o.len();
        let (distances_m, offsets_m) = STEPS_M
            .into_iter()
            // A range of thousands of steps is not worked out to be thrown away.
            .filter(|s| (to - from) / s < 1e4 && half / s < 1e4)
            .map(axis)
            .find(|a| count(a) <= most_count)?;
        Some(MapPlan {
            distances_m,
            offsets_m,
            throw_count: MAP_THROWS,
            seed,
        })
    }
}

/// Hit chance from every place of a plan, row by row: all offsets at the nearest distance first. `None` when it was
/// told to stop.
///
/// The passage through the launcher does not depend on the place, so it is fitted once for each step of the wheel
/// speed and shared by all places that ask for about that speed. A place takes the spreads of the spot nearest to it.
pub fn hit_map(project: &Project, plan: &MapPlan, stop: &(dyn Fn() -> bool + Sync)) -> Option<Vec<MapPlace>> {
    let chain = Chain::of(project);
    let setting = project.machine.setting;
    let curve = ExitCurve::of(&chain, &setting, CURVE_POINTS);
    let spots: Vec<(usize, Spot)> = plan
        .distances_m
        .iter()
        .flat_map(|d| plan.offsets_m.iter().map(move |o| (*d, *o)))
        .filter_map(|(d, o)| place(project, d, o))
        .collect();
    let aims: Vec<SpotAim> = spots
        .par_iter()
        .map(|(_, spot)| aim_spot(project, &chain, &curve, &setting, spot))
        .collect();
    if stop() {
        return None;
    }
    let groups = groups(&spots, &aims);
    let shift_ratio = groups.values().next().map_or(1.0, |members| {
        shift_of(project, plan.seed, &spots, &aims, members)
    });
    let found: Vec<Vec<(usize, Result<PlaceHit, NoScatter>)>> = groups
        .into_par_iter()
        .map(|((_, rung), members)| {
            if stop() {
                return Vec::new();
            }
            let at_radps = shift_ratio * rung_radps(rung);
            throw_group(project, plan, at_radps, &spots, &aims, &members)
        })
        .collect();
    if stop() {
        return None;
    }
    let mut results: Vec<Option<Result<PlaceHit, NoScatter>>> = vec![None; spots.len()];
    for (i, result) in found.into_iter().flatten() {
        if let Some(slot) = results.get_mut(i) {
            *slot = Some(result);
        }
    }
    let slips = slips_near_top(project, &chain);
    let out = spots
        .iter()
        .zip(results)
        .zip(&aims)
        .map(|(((_, spot), result), aim)| MapPlace {
            distance_m: spot.distance_m,
            offset_m: spot.offset_m,
            result: result.unwrap_or(Err(NoScatter::NoSetpoint {
                miss: aim.miss.unwrap_or(Miss::BelowRim),
                slips,
            })),
        })
        .collect();
    Some(out)
}

/// The spot nearest to a place, moved there.
fn place(project: &Project, distance_m: f64, offset_m: f64) -> Option<(usize, Spot)> {
    let away = |s: &Spot| (s.distance_m - distance_m).hypot(s.offset_m - offset_m);
    let (i, near) = project
        .spots
        .iter()
        .enumerate()
        .min_by(|a, b| away(a.1).total_cmp(&away(b.1)))?;
    Some((
        i,
        Spot {
            distance_m,
            offset_m,
            ..near.clone()
        },
    ))
}

/// Places by the spot they take the spreads of and the step of their wheel speed.
fn groups(spots: &[(usize, Spot)], aims: &[SpotAim]) -> BTreeMap<(usize, i64), Vec<usize>> {
    let mut out: BTreeMap<(usize, i64), Vec<usize>> = BTreeMap::new();
    for (k, ((i, _), aim)) in spots.iter().zip(aims).enumerate() {
        if let Some(best) = aim.best() {
            let rung = (libm::log(best.wheel_radps) / RUNG_FRAC).round() as i64;
            out.entry((*i, rung)).or_default().push(k);
        }
    }
    out
}

fn rung_radps(rung: i64) -> f64 {
    libm::exp(rung as f64 * RUNG_FRAC)
}

/// The project with a spot moved, and with it the range in which the robot stands.
fn moved(project: &Project, spot_index: usize, spot: &Spot) -> Project {
    let mut out = project.clone();
    let Some(s) = out.spots.get_mut(spot_index) else {
        return out;
    };
    let by = [
        ("distance", spot.distance_m - s.distance_m),
        ("offset", spot.offset_m - s.offset_m),
    ];
    *s = spot.clone();
    for (name, by_m) in by {
        if let Some(Spread::Range { low, high }) = out.spreads.get_mut(&format!("spot[{spot_index}].{name}"))
        {
            *low += by_m;
            *high += by_m;
        }
    }
    out
}

/// By how much a volley's throws ask for another setpoint than a wheel held steadily: about the same from every place.
fn shift_of(
    project: &Project,
    seed: u64,
    spots: &[(usize, Spot)],
    aims: &[SpotAim],
    members: &[usize],
) -> f64 {
    let first = || {
        let k = *members.get(members.len() / 2)?;
        let ((i, spot), aim) = (spots.get(k)?, aims.get(k)?);
        let best = aim.best()?;
        let at = moved(project, *i, spot);
        let (w, lead) = (best.wheel_radps, best.lead_rad);
        let (t, ratio) = centred(&at, *i, w, lead, Scope::Throws, Detail::Coarse, seed).ok()?;
        Some(t.release.setpoint_radps * ratio / w)
    };
    first().unwrap_or(1.0)
}

/// Throws from places that ask for about the same wheel speed.
fn throw_group(
    project: &Project,
    plan: &MapPlan,
    at_radps: f64,
    spots: &[(usize, Spot)],
    aims: &[SpotAim],
    members: &[usize],
) -> Vec<(usize, Result<PlaceHit, NoScatter>)> {
    let Some((i, spot, aim)) = members
        .get(members.len() / 2)
        .and_then(|k| Some((spots.get(*k)?.0, &spots.get(*k)?.1, aims.get(*k)?)))
    else {
        return Vec::new();
    };
    let common = matched(&moved(project, i, spot), i, aim, plan.seed);
    let thrower = Thrower::of(
        &common,
        i,
        at_radps,
        0.0,
        Scope::Throws,
        Detail::Coarse,
        plan.seed,
    );
    members
        .par_iter()
        .filter_map(|k| {
            let (spot, best) = (&spots.get(*k)?.1, aims.get(*k)?.best()?);
            let result = match &thrower {
                Ok(t) => {
                    let t = t.moved_to(spot, best.lead_rad);
                    let ratio = centring_ratio(&t, plan.seed);
                    if (ratio - 1.0).abs() < SETPOINT_RANGE_FRAC {
                        Ok(hits(&t, ratio, plan))
                    } else {
                        let (w, lead) = (at_radps * ratio, best.lead_rad);
                        let at = moved(&common, i, spot);
                        centred(&at, i, w, lead, Scope::Throws, Detail::Coarse, plan.seed)
                            .map(|(t, ratio)| hits(&t, ratio, plan))
                            .map_err(NoScatter::NoThrow)
                    }
                }
                Err(why) => Err(NoScatter::NoThrow(why)),
            };
            Some((*k, result))
        })
        .collect()
}

/// The interval is that of as many independent throws [wilson-1927]; evenly spread ones are nearer to the truth.
fn hits(thrower: &Thrower, ratio: f64, plan: &MapPlan) -> PlaceHit {
    let count = plan.throw_count.max(1);
    let mut columns = vec![Vec::new(); thrower.dimension_count()];
    if let Some(s) = Sobol::new(thrower.dimension_count(), plan.seed, 0) {
        s.block(0, count, &mut columns);
    }
    let hit_count = thrower.flown_hits(&columns, ratio);
    let [low_frac, high_frac] = wilson(hit_count as u64, count as u64, CONFIDENCE);
    PlaceHit {
        hit: Chance {
            frac: hit_count as f64 / count as f64,
            low_frac,
            high_frac,
        },
        setpoint_radps: thrower.release.setpoint_radps * ratio,
    }
}
