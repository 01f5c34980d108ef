//! Room to adjust: whether the knobs still centre every spot wherever the unknown quantities turn out
//! to lie, and which knob needs how much more travel.
//!
//! Everything here is a search and uses the quick contact step, at the nominal setting and beyond it.

mod ends;
mod knobs;
mod mend;

use rayon::prelude::*;

use super::curve::ExitCurve;
use super::doubt::UNTESTED;
use super::serve::{BestSetting, SEARCH_POINTS, Shortfall, lacks, nearest_served, spot_best};
use super::solve::{Miss, miss_at};
use crate::launcher::planar::SEARCH_STEP_S;
use crate::project::{self, Project, Spot};
use crate::shot::Chain;

pub use knobs::Knob;
pub use mend::{FasterNeed, TravelNeed};

/// Where the unknown quantities stand in a case.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// All as written.
    Written,
    /// One at the 5 % end of its spread.
    Low,
    /// One at the 95 % end of its spread.
    High,
    /// All together, so that throws come out shorter: the 5 % end of the crossing.
    Shorter,
    /// All together, so that throws come out longer: the 95 % end.
    Longer,
}

impl End {
    /// The word shown.
    pub fn word(self) -> &'static str {
        match self {
            End::Written => "as written",
            End::Low => "low",
            End::High => "high",
            End::Shorter => "shorter",
            End::Longer => "longer",
        }
    }

    /// Does it move one quantity at most? The others are kept for the worst of all together.
    pub fn single(self) -> bool {
        matches!(self, End::Written | End::Low | End::High)
    }
}

/// One spot in one case, by wheel speed alone at the present setting.
#[derive(Clone, Debug, PartialEq)]
pub struct SpotRoom {
    /// Speed that centres the crossing; `None` when none up to the top speed does.
    pub setpoint_radps: Option<f64>,
    /// Speed that would serve the spot if the wheel reached it; `None` when speed alone never serves it.
    pub needed_radps: Option<f64>,
    /// Share of the top speed left above the setpoint.
    pub reserve_frac: Option<f64>,
    /// Smallest margin, in the units of [`super::merit`]; not negative means served.
    pub merit: f64,
    /// What it lacks.
    pub lacks: Vec<Shortfall>,
}

impl SpotRoom {
    /// Is the spot served by wheel speed alone?
    pub fn served(&self) -> bool {
        self.merit >= 0.0
    }
}

/// One place where the unknown quantities may turn out to lie.
#[derive(Clone, Debug, PartialEq)]
pub struct RoomCase {
    /// The quantity moved; `None` for all together and for the values as written.
    pub key: Option<&'static str>,
    /// Where it stands.
    pub end: End,
    /// Every quantity moved and its value, SI.
    pub values: Vec<(&'static str, f64)>,
    /// Every spot by wheel speed alone, in the project's order.
    pub by_speed: Vec<SpotRoom>,
    /// The setting that serves every spot with the least movement of one knob, or the best of all knobs
    /// together; `None` when speed alone serves, when there is no knob, or when it was not searched.
    pub by_knobs: Option<BestSetting>,
    /// Was a setting looked for?
    pub searched: bool,
    /// Least travel of each knob alone with which every spot is served; no entry for one that cannot.
    pub needs: Vec<TravelNeed>,
    /// Least rise of the top speed with which every spot is served.
    pub faster: Option<FasterNeed>,
}

impl RoomCase {
    /// Does wheel speed alone serve every spot?
    pub fn by_speed_alone(&self) -> bool {
        !self.by_speed.is_empty() && self.by_speed.iter().all(SpotRoom::served)
    }

    /// Do speed and the knobs within their travel serve every spot?
    pub fn served(&self) -> bool {
        self.by_speed_alone() || self.by_knobs.as_ref().is_some_and(BestSetting::serves)
    }

    /// The worst spot's margin by speed alone.
    pub fn merit(&self) -> f64 {
        let least = self.by_speed.iter().map(|s| s.merit).min_by(f64::total_cmp);
        least.unwrap_or(f64::NEG_INFINITY)
    }
}

/// What the cases use of a knob's travel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KnobUse {
    /// Which.
    pub knob: Knob,
    /// Lowest and highest value at which a case is served.
    pub range: [f64; 2],
    /// Least share of the travel left beyond a value that a case needed; 1 when none needs the knob.
    pub left_frac: f64,
}

impl KnobUse {
    /// Is less than a tenth of the travel left in hand?
    pub fn close(&self) -> bool {
        /// Rounding: a travel made with just a tenth in hand has it.
        const SLACK: f64 = 1e-6;
        self.left_frac < mend::IN_HAND_FRAC - SLACK
    }
}

/// What the cases use of the wheel's speed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpeedUse {
    /// Lowest setpoint of all spots and cases.
    pub lowest_radps: f64,
    /// Highest, beyond the top speed where one is needed there.
    pub highest_radps: f64,
    /// Highest speed that leaves the asked reserve.
    pub usable_radps: f64,
    /// Top speed.
    pub top_radps: f64,
}

/// How much the report looks into.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Depth {
    /// Every case by wheel speed; the knobs where that does not serve, worst first, up to the first
    /// single end that they cannot serve either.
    First,
    /// Every case that wheel speed alone does not serve.
    All,
}

/// Room to adjust of a project.
#[derive(Clone, Debug, PartialEq)]
pub struct Room {
    /// As written first, then both ends of each quantity, then both ends of all together.
    pub cases: Vec<RoomCase>,
    /// Quantities that this project takes as exact because they carry no spread.
    pub missing: Vec<&'static str>,
    /// What the searched cases use of each knob.
    pub knobs: Vec<KnobUse>,
    /// What the cases use of the wheel's speed; `None` when no case has a setpoint.
    pub speed: Option<SpeedUse>,
    /// Travel of one knob with which it alone serves every single end that has no setting now, a tenth
    /// of the new travel left in hand. Where every single end has one: the travel that each knob with
    /// less than a tenth in hand would need.
    pub travel: Vec<TravelNeed>,
    /// Rise of the top speed that serves the single ends without a setting; where there is none, those
    /// that only the knobs answer.
    pub faster: Option<FasterNeed>,
    /// For each spot that lacks something at a single end: the place nearest to it that is served at
    /// all of them at the present setting.
    pub nearest_m: Vec<Option<f64>>,
}

impl Room {
    /// Single-quantity cases that neither speed nor knobs serve.
    pub fn unserved(&self) -> impl Iterator<Item = &RoomCase> {
        self.cases.iter().filter(|c| c.end.single() && !c.served())
    }

    /// Has any quantity a spread?
    pub fn known(&self) -> bool {
        self.cases.iter().any(|c| c.end != End::Written)
    }
}

/// A changed project with what a search over it needs.
struct Tried {
    project: Project,
    chain: Chain,
    curve: ExitCurve,
}

impl Tried {
    /// At the present setting; takes over the curve of another where nothing of the launcher differs.
    fn of(project: Project, from: Option<&Tried>) -> Tried {
        let chain = Chain::of(&project).with_step(SEARCH_STEP_S);
        let curve = match from {
            Some(t)
                if t.chain.launcher == chain.launcher
                    && t.chain.body == chain.body
                    && t.chain.top_radps == chain.top_radps
                    && t.project.machine.setting == project.machine.setting =>
            {
                t.curve.clone()
            }
            _ => ExitCurve::of(&chain, &project.machine.setting, SEARCH_POINTS),
        };
        Tried {
            project,
            chain,
            curve,
        }
    }

    fn moved(&self, values: &[(&'static str, f64)]) -> Tried {
        let mut project = self.project.clone();
        for (key, value) in values {
            // Ends are clamped to what the schema admits; one it still refuses stays as written.
            project::set(&mut project, key, *value);
        }
        Tried::of(project, Some(self))
    }

    fn spot(&self, spot: &Spot) -> SpotRoom {
        let (merit, best) = spot_best(&self.project, &self.chain, &self.curve, spot);
        let top = self.chain.top_radps;
        let reserve = |wheel: f64| 1.0 - wheel / top;
        match best {
            Some((wheel, arrival)) => {
                let lacks = lacks(&self.project.limits, &arrival, reserve(wheel));
                let only_reserve = lacks.iter().all(|l| matches!(l, Shortfall::Reserve { .. }));
                SpotRoom {
                    setpoint_radps: Some(wheel),
                    needed_radps: only_reserve.then_some(wheel),
                    reserve_frac: Some(reserve(wheel)),
                    merit,
                    lacks,
                }
            }
            None => {
                let miss = miss_at(&self.chain, &self.curve, spot);
                let needed_radps = match miss {
                    Miss::BelowRim | Miss::Short { .. } => self.beyond_top(spot),
                    Miss::Refused(_) | Miss::Beyond { .. } => None,
                };
                SpotRoom {
                    setpoint_radps: None,
                    needed_radps,
                    reserve_frac: None,
                    merit,
                    lacks: vec![Shortfall::OutOfReach(miss)],
                }
            }
        }
    }

    /// The speed above the top speed that would serve a spot.
    fn beyond_top(&self, spot: &Spot) -> Option<f64> {
        /// Judgement: no remedy raises the top speed by more than this factor.
        const FARTHEST_RATIO: f64 = 3.0;
        let setting = &self.project.machine.setting;
        let curve = ExitCurve::over(&self.chain, setting, [1.0, FARTHEST_RATIO], SEARCH_POINTS);
        // What is left of the top speed is not the question here.
        let mut project = self.project.clone();
        project.limits.speed_reserve_frac = 1.0 - FARTHEST_RATIO;
        let (merit, best) = spot_best(&project, &self.chain, &curve, spot);
        best.filter(|_| merit >= 0.0).map(|(wheel, _)| wheel)
    }

    fn spots(&self) -> Vec<SpotRoom> {
        self.project.spots.par_iter().map(|s| self.spot(s)).collect()
    }
}

/// Works out the room to adjust of a project.
///
/// The ends of one quantity are its 5 % and 95 % points, within what the project file may say. Of all
/// together, see the `ends` module. For each case: wheel speed alone at the present setting; if that
/// does not serve every spot, the knobs within their travel; if those do not, how much more travel of
/// one knob, or how much more top speed, would.
pub fn room(project: &Project, depth: Depth) -> Room {
    let written = Tried::of(project.clone(), None);
    let base = case(None, End::Written, Vec::new(), &written);
    let ends = ends::single(project);
    let singles: Vec<(Tried, RoomCase)> = ends
        .par_iter()
        .map(|e| {
            let values = vec![(e.key, e.value)];
            let tried = written.moved(&values);
            let found = case(Some(e.key), e.end, values, &tried);
            (tried, found)
        })
        .collect();
    let found: Vec<&RoomCase> = singles.iter().map(|s| &s.1).collect();
    let joint: Vec<(Tried, RoomCase)> = ends::joint(project, &base, &found)
        .into_par_iter()
        .map(|(end, values)| {
            let tried = written.moved(&values);
            let found = case(None, end, values, &tried);
            (tried, found)
        })
        .collect();
    let mut all = vec![(written, base)];
    all.extend(singles);
    all.extend(joint);
    mend::by_knobs(&mut all, depth);
    let faster = mend::faster_for_all(&all);
    let used = knobs::used(project, all.iter().map(|c| &c.1));
    let travel = mend::travel_for_all(project, &all, &used);
    let nearest_m = nearest(project, &all);
    let missing = UNTESTED
        .iter()
        .copied()
        .filter(|key| project::get(project, key).is_some() && !ends.iter().any(|e| e.key == *key))
        .collect();
    let speed = speed_use(&all);
    Room {
        knobs: used,
        cases: all.into_iter().map(|c| c.1).collect(),
        missing,
        speed,
        travel,
        faster,
        nearest_m,
    }
}

fn case(key: Option<&'static str>, end: End, values: Vec<(&'static str, f64)>, tried: &Tried) -> RoomCase {
    RoomCase {
        key,
        end,
        values,
        by_speed: tried.spots(),
        by_knobs: None,
        searched: false,
        needs: Vec::new(),
        faster: None,
    }
}

fn speed_use(all: &[(Tried, RoomCase)]) -> Option<SpeedUse> {
    let top_radps = all.first()?.0.chain.top_radps;
    let reserve = all.first()?.0.project.limits.speed_reserve_frac;
    let speeds = || {
        let spots = all.iter().flat_map(|c| &c.1.by_speed);
        spots.filter_map(|s| s.needed_radps.or(s.setpoint_radps))
    };
    let lowest_radps = speeds().min_by(f64::total_cmp)?;
    Some(SpeedUse {
        lowest_radps,
        highest_radps: speeds().fold(lowest_radps, f64::max),
        usable_radps: top_radps * (1.0 - reserve),
        top_radps,
    })
}

/// For each spot, the nearest place that every single end serves at the present setting; only worked
/// out where an end is left without a setting.
fn nearest(project: &Project, all: &[(Tried, RoomCase)]) -> Vec<Option<f64>> {
    /// Method: passes over the ends; a second one meets an end that the first had already passed.
    const PASSES: usize = 2;
    let single = || all.iter().filter(|c| c.1.end.single());
    if single().all(|c| c.1.served() || !c.1.searched) {
        return vec![None; project.spots.len()];
    }
    let served = |t: &Tried, s: &Spot| spot_best(&t.project, &t.chain, &t.curve, s).0 >= 0.0;
    project
        .spots
        .iter()
        .map(|spot| {
            let mut place = spot.clone();
            for _ in 0..PASSES {
                for (t, _) in single() {
                    if !served(t, &place) {
                        place.distance_m = nearest_served(&t.project, &t.chain, &t.curve, &place)?;
                    }
                }
            }
            let moved = place.distance_m != spot.distance_m;
            (moved && single().all(|c| served(&c.0, &place))).then_some(place.distance_m)
        })
        .collect()
}
