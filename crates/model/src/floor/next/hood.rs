//! Whether another mechanical setting would serve the spots better than wheel speed alone.
//!
//! One setting holds for all spots, the speeds are set anew for it by what was learned.

use super::Effort;
use crate::aim::{ExitCurve, SEARCH_POINTS, snap, spot_best};
use crate::floor::machine::Fitted;
use crate::floor::setpoints::{Counted, chances};
use crate::floor::taught::{Taught, turned_back};
use crate::launcher::Setting;
use crate::launcher::planar::SEARCH_STEP_S;
use crate::limits::CURVE_POINTS;
use crate::project::{KnobTravel, Project};
use crate::shot::{Chain, Exit, Stance};
use crate::target::Outcome;

/// What a setting does at one spot.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HoodSpot {
    /// Wheel speed that centres the mean throw; `None` where none does.
    pub wheel_radps: Option<f64>,
    /// Hits to expect, doubt included; 0 without a wheel speed.
    pub hit_frac: f64,
    /// Least margin to the clearance, the entry angle and the reserve of speed that are asked, of a centred throw; 0 or -1
    /// where none is centred and the nearest goes in or not.
    pub margin_ratio: f64,
}

impl HoodSpot {
    /// Whether the margin is near enough.
    pub fn served(&self) -> bool {
        self.margin_ratio >= NEAR_ENOUGH
    }
}

/// What a setting does at all spots.
#[derive(Clone, Debug, PartialEq)]
pub struct Hood {
    /// The setting.
    pub setting: Setting,
    /// The spots in the order of the project.
    pub spots: Vec<HoodSpot>,
}

/// One knob moved.
#[derive(Clone, Debug, PartialEq)]
pub struct KnobMove {
    /// Its key: `setting.tilt`, `setting.slide` or `setting.reach`.
    pub knob: &'static str,
    /// Where it stands, radians or metres.
    pub from: f64,
    /// Where it should.
    pub to: f64,
    /// What that costs: [`Effort::Evening`] for a tilt that only a new guide gives.
    pub effort: Effort,
    /// As it stands, with the speeds that suit it best.
    pub now: Hood,
    /// After the move.
    pub then: Hood,
}

/// Method: a margin this much below the limit (a tenth of a piece radius, one degree, one per cent of speed) is not
/// worth a spanner.
const NEAR_ENOUGH: f64 = -0.1;
/// Method: a spot is won or lost by a setting when its margin moves by at least this much as well; a spot at the limit
/// would otherwise ask for a spanner back and forth.
const CLEARLY: f64 = 0.1;
/// Method: throws counted at each setting of the search where straight lines do not do, and for the answer. The same
/// accidents are drawn at each setting, so that settings compare better than either number says.
const SEARCH_THROWS: usize = 48;
const ANSWER_THROWS: usize = 512;
/// Method: places along a knob in the first look.
const PLACES: usize = 7;
/// Method: halvings of the spacing about the best place.
const HALVINGS: usize = 3;
/// Method: what a setting may cost the worst spot or the mean while it helps the other.
const MAY_COST_FRAC: f64 = 0.01;
/// Method: a worst spot below this is worth an evening's thought.
const EVENING_BELOW_FRAC: f64 = 0.9;
/// Method: how far beyond its travel a new guide would turn the exit, and in which steps.
const GUIDE_RAD: f64 = 12.0 * std::f64::consts::PI / 180.0;
const GUIDE_STEP_RAD: f64 = 2.0 * std::f64::consts::PI / 180.0;

impl Hood {
    /// Spots that are not served.
    pub fn unserved_count(&self) -> usize {
        self.spots.iter().filter(|s| !s.served()).count()
    }

    /// Place of the spot with the fewest hits; `None` without spots.
    pub fn worst(&self) -> Option<usize> {
        let each = self.spots.iter().enumerate();
        each.min_by(|a, b| a.1.hit_frac.total_cmp(&b.1.hit_frac))
            .map(|(i, _)| i)
    }

    fn worst_frac(&self) -> f64 {
        self.worst()
            .and_then(|i| self.spots.get(i))
            .map_or(0.0, |s| s.hit_frac)
    }

    fn mean_frac(&self) -> f64 {
        self.spots.iter().map(|s| s.hit_frac).sum::<f64>() / self.spots.len().max(1) as f64
    }

    /// Half for the worst spot, half for the mean.
    fn hits_frac(&self) -> f64 {
        0.5 * (self.worst_frac() + self.mean_frac())
    }

    /// For the search: each spot that is not served weighs more than any hits.
    fn score(&self) -> f64 {
        self.hits_frac() - 2.0 * self.unserved_count() as f64
    }

    /// Spots that this serves and `other` does not, by more than a hair.
    fn won_from(&self, other: &Hood) -> usize {
        let each = self.spots.iter().zip(&other.spots);
        each.filter(|(a, b)| a.served() && !b.served() && a.margin_ratio - b.margin_ratio >= CLEARLY)
            .count()
    }

    /// Whether it is worth the effort to go there from `now`.
    fn pays(&self, now: &Hood, effort: Effort) -> bool {
        let (won, lost) = (self.won_from(now), now.won_from(self));
        if won != lost {
            return won > lost;
        }
        self.hits_frac() - now.hits_frac() >= effort.must_gain_frac()
            && self.worst_frac() >= now.worst_frac() - MAY_COST_FRAC
            && self.mean_frac() >= now.mean_frac() - MAY_COST_FRAC
    }
}

/// The fitted machine, ready to be asked about settings.
struct Bench {
    taught: Taught,
    learned: Project,
    quick: Chain,
    full: Chain,
}

impl Bench {
    fn new(project: &Project, fitted: &Fitted) -> Bench {
        let taught = fitted.taught();
        let mut learned = taught.project(project);
        turned_back(&mut learned);
        let full = Chain::of(&learned).standing();
        Bench {
            taught,
            quick: full.with_step(SEARCH_STEP_S),
            full,
            learned,
        }
    }

    fn full(&self, setting: Setting) -> Hood {
        self.at(setting, &self.full, CURVE_POINTS, ANSWER_THROWS)
    }

    fn quick(&self, setting: Setting) -> Hood {
        self.at(setting, &self.quick, SEARCH_POINTS, SEARCH_THROWS)
    }

    fn at(&self, setting: Setting, chain: &Chain, points: usize, throws: usize) -> Hood {
        let curve = ExitCurve::of(chain, &setting, points);
        let spots = self.learned.spots.iter().map(|spot| {
            let (merit, found) = spot_best(&self.learned, chain, &curve, spot);
            let stance = chain.stance(spot);
            let hits = |exit: &Exit, counted| {
                let c = chances(chain, &self.taught, exit, &stance, counted)?;
                Some(c.expected_hit_frac)
            };
            if let Some((wheel, _)) = found {
                let exit = curve.at(wheel);
                return HoodSpot {
                    wheel_radps: Some(wheel),
                    hit_frac: exit.and_then(|e| hits(&e, Counted::Some(throws))).unwrap_or(0.0),
                    margin_ratio: merit,
                };
            }
            // No speed centres it, but one may come so near that most go in all the same.
            let near = nearest(chain, &curve, &stance);
            let goes_in = near.is_some_and(|(_, exit)| chain.fly(&exit, &stance).outcome == Outcome::In);
            HoodSpot {
                wheel_radps: near.map(|(wheel, _)| wheel),
                hit_frac: near
                    .and_then(|(_, exit)| hits(&exit, Counted::Flown(throws)))
                    .unwrap_or(0.0),
                margin_ratio: if goes_in { 0.0 } else { -1.0 },
            }
        });
        Hood {
            setting,
            spots: spots.collect(),
        }
    }
}

/// The wheel speed whose throw comes nearest to the centre, and its exit.
fn nearest(chain: &Chain, curve: &ExitCurve, stance: &Stance) -> Option<(f64, Exit)> {
    /// Method: places looked at between two of the curve.
    const BETWEEN: usize = 4;
    let speeds = curve.points.windows(2).flat_map(|w| {
        let (a, b) = (w[0].wheel_radps, w[1].wheel_radps);
        (0..BETWEEN).map(move |i| a + (b - a) * i as f64 / BETWEEN as f64)
    });
    let off = |exit: &Exit| chain.crossing(exit, stance).map(|c| c.along_m.abs());
    let each = speeds.filter_map(|w| {
        let exit = curve.at(w)?;
        Some((w, exit, off(&exit)?))
    });
    let (wheel, exit, _) = each.min_by(|a, b| a.2.total_cmp(&b.2))?;
    Some((wheel, exit))
}

/// A knob: its key, how to read it, how to set it.
type Knob = (&'static str, fn(&Setting) -> f64, fn(&mut Setting, f64));

const KNOBS: [Knob; 3] = [
    ("setting.tilt", |s| s.tilt_rad, |s, x| s.tilt_rad = x),
    ("setting.slide", |s| s.slide_m, |s, x| s.slide_m = x),
    ("setting.reach", |s| s.reach_m, |s, x| s.reach_m = x),
];

/// What the present setting does at all spots with the speeds that suit it best, as learned.
pub fn present_hood(project: &Project, fitted: &Fitted) -> Hood {
    Bench::new(project, fitted).full(project.machine.setting)
}

/// The mechanical move that beats what speed alone gives by what it costs; none when nothing does.
///
/// Each knob alone, over its travel and on its step: a coarse look, then halvings about the best place, with a coarse
/// contact simulation; what comes out is worked out again in full, and so is the present setting. A move pays when
/// more spots are clearly served, or when the mean of worst spot and average rises by
/// [`Effort::must_gain_frac`]. Only where no spanner helps and a spot stays poor is a tilt beyond the travel looked
/// at, which takes a new guide.
pub fn mechanical(project: &Project, fitted: &Fitted, now: &Hood) -> Option<KnobMove> {
    // No score is above one.
    if now.unserved_count() == 0 && now.score() > 1.0 - Effort::Spanner.must_gain_frac() {
        return None;
    }
    let bench = Bench::new(project, fitted);
    let here = project.machine.setting;
    let quick_now = bench.quick(here);
    let knobs = &project.machine.knobs;
    let travels = [knobs.tilt, knobs.slide, knobs.reach];
    let made = |k: usize, to: f64, effort: Effort| -> Option<KnobMove> {
        let (knob, get, set) = KNOBS.get(k)?;
        let mut setting = here;
        set(&mut setting, to);
        let then = bench.full(setting);
        then.pays(now, effort).then(|| KnobMove {
            knob,
            from: get(&here),
            to,
            effort,
            now: now.clone(),
            then,
        })
    };
    let score = |k: usize, to: f64| {
        let mut setting = here;
        if let Some((_, _, set)) = KNOBS.get(k) {
            set(&mut setting, to);
        }
        bench.quick(setting).score()
    };
    let mut best: Option<KnobMove> = None;
    for (k, travel) in travels.iter().enumerate() {
        let (Some(travel), Some((_, get, _))) = (travel, KNOBS.get(k)) else {
            continue;
        };
        let Some(to) = along(travel, get(&here), quick_now.score(), |x| score(k, x)) else {
            continue;
        };
        if let Some(found) = made(k, to, Effort::Spanner)
            && best.as_ref().is_none_or(|b| found.then.score() > b.then.score())
        {
            best = Some(found);
        }
    }
    if best.is_some() || (now.unserved_count() == 0 && now.worst_frac() >= EVENING_BELOW_FRAC) {
        return best;
    }
    let (low, high) = knobs
        .tilt
        .map_or((here.tilt_rad, here.tilt_rad), |t| (t.low, t.high));
    let steps = (GUIDE_RAD / GUIDE_STEP_RAD).round() as usize;
    let beyond = (1..=steps).flat_map(|i| {
        let by = GUIDE_STEP_RAD * i as f64;
        [low - by, high + by]
    });
    let (to, found) = beyond
        .map(|x| (x, score(0, x)))
        .max_by(|a, b| a.1.total_cmp(&b.1))?;
    (found > quick_now.score())
        .then(|| made(0, to, Effort::Evening))
        .flatten()
}

/// The place of a knob with the highest score, found by a coarse look and halvings; `None` when it is where it stands.
fn along(travel: &KnobTravel, here: f64, here_score: f64, score: impl Fn(f64) -> f64) -> Option<f64> {
    let mut step = (travel.high - travel.low) / (PLACES - 1) as f64;
    let mut tried: Vec<(f64, f64)> = vec![(here, here_score)];
    let try_at = |x: f64, tried: &mut Vec<(f64, f64)>| {
        let x = snap(travel, x);
        if tried.iter().all(|(y, _)| (x - y).abs() > 1e-9) {
            tried.push((x, score(x)));
        }
    };
    // The first of equals stays.
    let top = |tried: &[(f64, f64)]| {
        tried
            .iter()
            .fold((here, f64::NEG_INFINITY), |b, t| if t.1 > b.1 { *t } else { b })
    };
    for i in 0..PLACES {
        try_at(travel.low + step * i as f64, &mut tried);
    }
    for _ in 0..HALVINGS {
        step *= 0.5;
        let at = top(&tried).0;
        try_at(at - step, &mut tried);
        try_at(at + step, &mut tried);
    }
    let best = top(&tried).0;
    (best != here).then_some(best)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn hood(hits: &[f64], served: &[bool]) -> Hood {
        let spots = hits.iter().zip(served).map(|(h, s)| HoodSpot {
            wheel_radps: Some(300.0),
            hit_frac: *h,
            margin_ratio: if *s { 0.2 } else { -1.0 },
        });
        Hood {
            setting: Setting {
                slide_m: 0.0,
                tilt_rad: 0.1,
                reach_m: 0.0,
            },
            spots: spots.collect(),
        }
    }

    #[test]
    fn a_spanner_must_win_three_points_an_evening_ten_and_neither_may_rob_a_spot() {
        let all = [true; 2];
        let now = hood(&[0.70, 0.90], &all);
        let pays = |hits: [f64; 2], effort| hood(&hits, &all).pays(&now, effort);
        assert!(!pays([0.72, 0.91], Effort::Spanner));
        assert!(pays([0.76, 0.90], Effort::Spanner));
        assert!(!pays([0.76, 0.90], Effort::Evening));
        assert!(pays([0.86, 0.91], Effort::Evening));
        // The mean falls though the worst spot gains.
        assert!(!pays([0.78, 0.78], Effort::Spanner));
        // A spot that no speed served weighs more than hits elsewhere.
        let lame = hood(&[0.0, 0.99], &[false, true]);
        assert!(hood(&[0.6, 0.9], &all).pays(&lame, Effort::Evening));
        assert!(!lame.pays(&hood(&[0.6, 0.9], &all), Effort::Free));
    }

    #[test]
    fn a_spot_at_the_limit_asks_for_no_spanner_unless_its_margin_moves() {
        let at = |margin: f64, hits: f64| {
            let mut hood = hood(&[hits, 0.95], &[true, true]);
            hood.spots[0].margin_ratio = margin;
            hood
        };
        let now = at(-0.11, 0.9);
        assert!(!at(-0.09, 0.9).pays(&now, Effort::Spanner));
        assert!(at(0.0, 0.9).pays(&now, Effort::Spanner));
        // Hits alone still pay, and a hair of margin does not stand in their way.
        assert!(at(-0.09, 0.97).pays(&now, Effort::Spanner));
        assert!(at(-0.11, 0.97).pays(&at(-0.09, 0.9), Effort::Spanner));
        assert!(!at(-0.3, 0.97).pays(&at(-0.09, 0.9), Effort::Spanner));
    }

    #[test]
    fn the_place_along_a_knob_is_found_on_its_step_and_equals_stay_where_they_are() {
        let travel = KnobTravel {
            low: 0.0,
            high: 20.0,
            step: 1.0,
            repeat: 0.0,
        };
        let looks = std::cell::Cell::new(0);
        let peak = |x: f64| {
            looks.set(looks.get() + 1);
            -(x - 13.2_f64).powi(2)
        };
        assert_eq!(along(&travel, 6.0, peak(6.0), peak), Some(13.0));
        assert!(looks.get() <= 1 + PLACES + 2 * HALVINGS);
        assert_eq!(along(&travel, 6.0, 0.5, |_| 0.5), None);
        assert_eq!(along(&travel, 13.0, peak(13.0), peak), None);
    }
}
