//! What serves a case that wheel speed alone does not: a setting within the travel, more travel, or a
//! faster wheel.

use rayon::prelude::*;

use super::super::serve::{BestSetting, merit, search, snap, sweep};
use super::{Depth, End, Knob, KnobUse, RoomCase, Tried};
use crate::launcher::Setting;
use crate::project::{self, KnobTravel, Project, Way, schema};
use crate::units::Dimension;

/// Method: places along a travel in the first sweep of one knob.
const SWEEP: usize = 13;
/// Method: halvings of the last interval once a place is found.
const HALVINGS: usize = 4;
/// Method: places along each knob when all are moved together.
const TOGETHER: usize = 4;
/// Method: a knob's travel is extended by at most itself at either end, in this many places.
const BEYOND: usize = 8;
/// Common practice, no source: a tenth of a travel stays in hand.
pub(super) const IN_HAND_FRAC: f64 = 0.1;

/// More travel of one knob.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TravelNeed {
    /// Which.
    pub knob: Knob,
    /// What it has.
    pub present: KnobTravel,
    /// What it needs; the step stays.
    pub needed: KnobTravel,
}

impl TravelNeed {
    /// Travel to add below the present low end and above the high end, each zero or more.
    pub fn extra(&self) -> [f64; 2] {
        [
            self.present.low - self.needed.low,
            self.needed.high - self.present.high,
        ]
    }
}

/// A faster wheel, by either of two changes of the machine.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct FasterNeed {
    /// Gear ratio that serves, everything else as it is; `None` when no lower ratio does.
    pub gear_ratio: Option<f64>,
    /// Wheel diameter that serves, everything else as it is; `None` when no larger wheel does.
    pub wheel_diameter_m: Option<f64>,
}

/// Looks for settings that serve the cases that speed alone does not, and for what is missing where
/// there are none.
pub(super) fn by_knobs(all: &mut [(Tried, RoomCase)], depth: Depth) {
    let mut order: Vec<usize> = (0..all.len()).collect();
    // As written first: what does not hold there hardly holds elsewhere. Then the worst single end.
    order.sort_by(|a, b| {
        let rank = |i: &usize| {
            all.get(*i).map_or((3, 0.0), |c| match c.1.end {
                End::Written => (0, c.1.merit()),
                end => (if end.single() { 1 } else { 2 }, c.1.merit()),
            })
        };
        let (x, y) = (rank(a), rank(b));
        x.0.cmp(&y.0).then(x.1.total_cmp(&y.1))
    });
    let mut found: Vec<Setting> = Vec::new();
    for i in order {
        let Some((tried, case)) = all.get_mut(i) else {
            continue;
        };
        if case.by_speed_alone() {
            continue;
        }
        case.searched = true;
        case.by_knobs = recentre(tried, case.merit(), &found);
        match &case.by_knobs {
            Some(b) if b.serves() => {
                if !found.contains(&b.setting) {
                    found.push(b.setting);
                }
            }
            _ if depth == Depth::First && !case.end.single() => {}
            _ => {
                case.needs = Knob::ALL
                    .into_iter()
                    .filter_map(|k| extension(tried, k))
                    .collect();
                case.faster = faster(&[(tried, case)]);
                if depth == Depth::First {
                    return;
                }
            }
        }
    }
}

/// A setting within the travel that serves every spot: one that has served another case, else the least
/// movement of one knob, else the best of all knobs together.
fn recentre(t: &Tried, present_merit: f64, known: &[Setting]) -> Option<BestSetting> {
    let best = |setting, merit, tried_count| BestSetting {
        setting,
        merit,
        present_merit,
        tried_count,
    };
    let score = |s: &Setting| merit(&t.project, &t.chain, s);
    for (i, setting) in known.iter().enumerate() {
        let m = score(setting);
        if m >= 0.0 {
            return Some(best(*setting, m, i + 1));
        }
    }
    let here = t.project.machine.setting;
    let knobs: Vec<(Knob, KnobTravel)> = Knob::ALL
        .into_iter()
        .filter_map(|k| Some((k, k.travel(&t.project)?)))
        .collect();
    let mut tried_count = known.len();
    // (share of the travel moved, value, merit) of the least movement of each knob.
    let mut least: Option<(f64, Setting, f64)> = None;
    for (knob, travel) in &knobs {
        let places = sweep(Some(travel), knob.of(&here), SWEEP);
        let at = |v: f64| score(&knob.with(&here, v));
        tried_count += places.len() + 2 * HALVINGS;
        if let Some((value, m)) = nearest_place(&places, knob.of(&here), travel, at) {
            let share = (value - knob.of(&here)).abs() / (travel.high - travel.low);
            if least.is_none_or(|l| share < l.0) {
                least = Some((share, knob.with(&here, value), m));
            }
        }
    }
    if let Some((_, setting, m)) = least {
        return Some(best(setting, m, tried_count));
    }
    let mut found = search(&t.project, &t.chain, &t.chain, TOGETHER)?;
    found.tried_count += tried_count;
    Some(found)
}

/// The place nearest to `here` with a merit that is not negative: the places given, the interval
/// towards `here` halved; where none serves, around the best of them first.
fn nearest_place(
    places: &[f64],
    here: f64,
    travel: &KnobTravel,
    at: impl Fn(f64) -> f64 + Sync,
) -> Option<(f64, f64)> {
    let merits: Vec<f64> = places.par_iter().map(|v| at(*v)).collect();
    let scored = || places.iter().copied().zip(merits.iter().copied());
    let far = |v: f64| (v - here).abs();
    let serving = scored()
        .filter(|p| p.1 >= 0.0)
        .min_by(|a, b| far(a.0).total_cmp(&far(b.0)));
    let spacing = match places {
        [a, b, ..] => (b - a).abs(),
        _ => return serving,
    };
    let (mut good, mut good_merit) = match serving {
        Some(p) => p,
        None => {
            let mut top = scored().max_by(|a, b| a.1.total_cmp(&b.1))?;
            let mut span = 0.5 * spacing;
            for _ in 0..HALVINGS {
                let near = [top.0 - span, top.0 + span].map(|v| snap(travel, v));
                for v in near {
                    let m = at(v);
                    if m > top.1 {
                        top = (v, m);
                    }
                }
                span *= 0.5;
            }
            (top.1 >= 0.0).then_some(top)?
        }
    };
    // The next place towards `here`: it does not serve, or it would have been taken.
    let between = places
        .iter()
        .copied()
        .filter(|v| far(*v) < far(good) && (*v - here) * (good - here) >= 0.0);
    let mut bad = between.max_by(|a, b| far(*a).total_cmp(&far(*b))).unwrap_or(here);
    for _ in 0..HALVINGS {
        let middle = snap(travel, 0.5 * (good + bad));
        if middle == good || middle == bad {
            break;
        }
        let m = at(middle);
        if m >= 0.0 {
            (good, good_merit) = (middle, m);
        } else {
            bad = middle;
        }
    }
    Some((good, good_merit))
}

/// The least extension of one knob's travel, the others as they stand, that serves every spot.
fn extension(t: &Tried, knob: Knob) -> Option<TravelNeed> {
    let present = knob.travel(&t.project)?;
    let here = t.project.machine.setting;
    let length = present.high - present.low;
    let entry = schema::entry(knob.key())?;
    let sides = [(present.high, 1.0), (present.low, -1.0)].map(|(end, sign)| {
        let far = end + sign * length;
        let wide = widened(&present, end.min(far), end.max(far));
        let places: Vec<f64> = (1..=BEYOND)
            .map(|j| snap(&wide, end + sign * length * j as f64 / BEYOND as f64))
            .filter(|v| entry.admits(*v))
            .collect();
        let at = |v: f64| {
            if entry.admits(v) {
                merit(&t.project, &t.chain, &knob.with(&here, v))
            } else {
                f64::NEG_INFINITY
            }
        };
        nearest_place(&places, end, &wide, at)
    });
    let value = sides
        .into_iter()
        .flatten()
        .map(|s| s.0)
        .min_by(|a, b| beyond(&present, *a).total_cmp(&beyond(&present, *b)))?;
    Some(TravelNeed {
        knob,
        present,
        needed: widened(&present, value, value),
    })
}

/// How far a value lies outside a travel.
fn beyond(travel: &KnobTravel, value: f64) -> f64 {
    (value - travel.high).max(travel.low - value).max(0.0)
}

/// A travel that reaches from `low` to `high` too, by whole steps of the present one.
fn widened(travel: &KnobTravel, low: f64, high: f64) -> KnobTravel {
    /// Rounding: an end this close to a step is on it.
    const ON_STEP: f64 = 1e-6;
    let whole = |extra: f64| {
        let extra = extra.max(0.0);
        if travel.step > 0.0 {
            (extra / travel.step - ON_STEP).ceil().max(0.0) * travel.step
        } else {
            extra
        }
    };
    KnobTravel {
        low: travel.low - whole(travel.low - low),
        high: travel.high + whole(high - travel.high),
        ..*travel
    }
}

/// Searched single-quantity cases without a setting.
fn open_cases(all: &[(Tried, RoomCase)]) -> Vec<(&Tried, &RoomCase)> {
    single(all, |c| c.searched && !c.served())
}

fn single(all: &[(Tried, RoomCase)], pick: impl Fn(&RoomCase) -> bool) -> Vec<(&Tried, &RoomCase)> {
    all.iter()
        .filter(|c| c.1.end.single() && pick(&c.1))
        .map(|c| (&c.0, &c.1))
        .collect()
}

/// For each knob that alone serves every open case: the travel that all of them need, with a tenth of
/// it in hand beyond the farthest value. Where no case is open: the travel of each knob that has less
/// than that in hand.
pub(super) fn travel_for_all(
    project: &Project,
    all: &[(Tried, RoomCase)],
    used: &[KnobUse],
) -> Vec<TravelNeed> {
    let open = open_cases(all);
    if open.is_empty() {
        return used
            .iter()
            .filter(|u| u.close())
            .filter_map(|u| {
                let here = u.knob.of(&project.machine.setting);
                with_in_hand(project, u.knob, u.range, [u.range[0] < here, u.range[1] > here])
            })
            .collect();
    }
    Knob::ALL
        .into_iter()
        .filter_map(|knob| {
            let present = knob.travel(project)?;
            let mut range = [present.low, present.high];
            for (_, case) in &open {
                let need = case.needs.iter().find(|n| n.knob == knob)?;
                range = [range[0].min(need.needed.low), range[1].max(need.needed.high)];
            }
            let grown = [range[0] < present.low, range[1] > present.high];
            with_in_hand(project, knob, range, grown)
        })
        .collect()
}

/// A travel that covers a range with a tenth of it left beyond the `used` ends of the range.
fn with_in_hand(project: &Project, knob: Knob, range: [f64; 2], used: [bool; 2]) -> Option<TravelNeed> {
    let present = knob.travel(project)?;
    let low = if used[0] {
        range[0]
    } else {
        range[0].min(present.low)
    };
    let high = if used[1] {
        range[1]
    } else {
        range[1].max(present.high)
    };
    let kept: f64 = used.iter().map(|u| if *u { IN_HAND_FRAC } else { 0.0 }).sum();
    // Whole travel T with T = (high − low) + kept T, and no end nearer than it is now.
    let in_hand = IN_HAND_FRAC * (high - low) / (1.0 - kept);
    // A stepless travel ends at a number that a person would write.
    let said = |v, way| {
        if present.step > 0.0 {
            v
        } else {
            project.written(v, knob.dimension(), way)
        }
    };
    let low = if used[0] {
        said(low - in_hand, Way::Down)
    } else {
        present.low
    };
    let high = if used[1] {
        said(high + in_hand, Way::Up)
    } else {
        present.high
    };
    Some(TravelNeed {
        knob,
        present,
        needed: widened(&present, low, high),
    })
}

/// The rise of the top speed that serves every open case; where none is open, every case that only the
/// knobs answer now.
pub(super) fn faster_for_all(all: &[(Tried, RoomCase)]) -> Option<FasterNeed> {
    let open = open_cases(all);
    match open.as_slice() {
        [] => faster(&single(all, |c| !c.by_speed_alone())),
        [one] => one.1.faster,
        _ => faster(&open),
    }
}

/// A lower gear ratio or a larger wheel that serves every spot of every case, found by trying them: both
/// change more than the top speed. `None` when the lack is not one of speed.
fn faster(cases: &[(&Tried, &RoomCase)]) -> Option<FasterNeed> {
    /// Method: the first try is this much more than the bare ratio of speeds; then in such steps.
    const MORE_RATIO: f64 = 1.02;
    /// Convergence: tries; two per cent each, half as much again in all.
    const MOST: usize = 20;
    let first = cases.first()?.0;
    let usable = first.chain.top_radps * (1.0 - first.project.limits.speed_reserve_frac);
    let mut needed = 0.0_f64;
    for spot in cases.iter().flat_map(|c| &c.1.by_speed) {
        needed = needed.max(spot.needed_radps?);
    }
    let bare = needed / usable;
    if !(bare > 1.0 && bare.is_finite()) {
        return None;
    }
    let serves = |key: &str, value: f64| {
        cases.iter().all(|(t, _)| {
            let mut project = t.project.clone();
            project::set(&mut project, key, value)
                && Tried::of(project, None).spots().iter().all(|s| s.served())
        })
    };
    let tries = |key: &'static str, value: f64, dimension, way| {
        (1..=MOST)
            .map(|k| {
                let factor = bare * MORE_RATIO.powi(k as i32);
                let value = if way == Way::Up {
                    value * factor
                } else {
                    value / factor
                };
                first.project.written(value, dimension, way)
            })
            .find(|v| serves(key, *v))
    };
    let m = &first.project.machine;
    let need = FasterNeed {
        gear_ratio: tries("motor.ratio", m.drive.gear_ratio, Dimension::Number, Way::Down),
        wheel_diameter_m: tries("wheel.diameter", m.wheel.diameter_m, Dimension::Length, Way::Up),
    };
    (need.gear_ratio.is_some() || need.wheel_diameter_m.is_some()).then_some(need)
}
