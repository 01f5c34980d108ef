//! What a match is reckoned with: times and chances from the machine's own models and the season's table.

use crate::limits::{BaseChoice, BaseFigures};
use crate::project::{Change, Project, Season};
use crate::scatter::{SamplePlan, ScatterPlan, ready_s, report};
use crate::shot::Chain;

/// Times, chances and points of a match.
#[derive(Clone, Debug, PartialEq)]
pub struct Rates {
    /// Length of the match.
    pub match_s: f64,
    /// Opening without drivers.
    pub opening_s: f64,
    /// Points for a piece.
    pub piece_points_count: f64,
    /// Points for a piece in the opening.
    pub opening_points_count: f64,
    /// Pieces on board at the start.
    pub preload_count: u32,
    /// Points for a volley all in and in order.
    pub pattern_points_count: f64,
    /// Colours.
    pub colour_count: u32,
    /// Share of volleys that are brought into order.
    pub sorted_frac: f64,
    /// Pieces of a volley.
    pub volley_count: u32,
    /// Hit chance by place in the volley; the last goes on.
    pub hits_frac: Vec<f64>,
    /// Time between throws.
    pub interval_s: f64,
    /// Time until the wheel is ready from rest; it spins up while the robot drives.
    pub ready_s: f64,
    /// Driving there and back.
    pub travel_s: f64,
    /// Lining up and loading.
    pub aim_s: f64,
    /// Picking up one piece.
    pub collect_s: f64,
    /// Standard deviation over mean of the three.
    pub varies_frac: f64,
    /// Chance of a wedge in each volley.
    pub jam_frac: f64,
    /// Time it costs.
    pub jam_s: f64,
    /// Points lost with a penalty.
    pub penalty_points_count: f64,
    /// Chance of a penalty in each round.
    pub penalty_frac: f64,
    /// Points of the end task.
    pub end_points_count: f64,
    /// Time kept for it.
    pub end_s: f64,
    /// Chance that it works.
    pub end_frac: f64,
}

impl Rates {
    /// Hit chance of a place in the volley.
    pub fn hit_frac(&self, place: u32) -> f64 {
        let last = self.hits_frac.len().saturating_sub(1);
        self.hits_frac
            .get((place as usize).min(last))
            .copied()
            .unwrap_or(0.0)
    }

    /// Chance that a volley comes in the order called: every colour as likely at every place, or sorted.
    ///
    /// ```text
    /// s + (1 − s)/k^n
    /// ```
    pub fn order_frac(&self, count: u32) -> f64 {
        let by_chance = f64::from(self.colour_count.max(1)).powf(-f64::from(count));
        self.sorted_frac + (1.0 - self.sorted_frac) * by_chance
    }

    /// Time from the first throw of a volley to the last.
    pub fn throwing_s(&self, count: u32) -> f64 {
        f64::from(count.saturating_sub(1)) * self.interval_s
    }

    /// Mean length of a round: collecting, driving, lining up, wedges, throwing.
    pub fn round_s(&self) -> f64 {
        f64::from(self.volley_count) * self.collect_s
            + self.travel_s
            + self.aim_s
            + self.jam_frac * self.jam_s
            + self.throwing_s(self.volley_count)
    }
}

/// Why there is no season to reckon with: what is missing and what to do.
#[derive(Clone, Debug, PartialEq)]
pub struct NoSeason {
    /// Key that is missing or wrong.
    pub key: &'static str,
    /// What is wrong.
    pub what: String,
    /// How to mend it.
    pub fix: String,
}

/// What the machine's models say once, for the machine as it is and for every change.
#[derive(Clone, Debug, PartialEq)]
pub struct Ground {
    /// As it is.
    pub rates: Rates,
    /// Spot thrown from.
    pub spot: String,
    /// Hit chance at each spot, mean over the volley; `None` where it cannot be thrown from.
    pub spots: Vec<(String, Option<f64>)>,
    /// Every change of the file with the rates it aims at.
    pub aims: Vec<(Change, Rates)>,
}

/// Method: most throws from each spot for its hit chance; half a point is enough among judged times.
const THROWS: usize = 8192;
/// Method: and when to stop.
const UNTIL_FRAC: f64 = 5e-3;

fn missing(key: &'static str, what: &str, fix: &str) -> NoSeason {
    NoSeason {
        key,
        what: what.to_string(),
        fix: fix.to_string(),
    }
}

impl Ground {
    /// Works it out: scatter from each spot, drives and turns of the base, spin-up, and each change's own.
    pub fn of(project: &Project, seed: u64) -> Result<Ground, NoSeason> {
        let Some(season) = project.season.as_ref() else {
            return Err(missing(
                "season",
                "this project has no [season]: nothing is known of what a match pays",
                "add the table [season]; docs/project-file.md lists its keys, and the demo `lantern` shows them filled in",
            ));
        };
        let Some(frame) = project.frame.as_ref() else {
            return Err(missing(
                "frame",
                "a match needs driving times, and this project has no [frame]",
                "add the tables [frame] and [frame.motor]",
            ));
        };
        let plan = ScatterPlan {
            sample: SamplePlan {
                seed,
                most_count: THROWS,
                until_frac: UNTIL_FRAC,
            },
            with_untested: false,
            with_budget: false,
            with_remedies: false,
        };
        let spots: Vec<Aimed> = report(project, &plan)
            .into_iter()
            .map(|s| Aimed {
                name: s.spot,
                thrown: s.result.ok().map(|r| {
                    let places = r.centred.places.iter().map(|p| p.hit_frac).collect();
                    (places, r.centred.setpoint_radps, r.centred.hit.frac)
                }),
            })
            .collect();
        let choice = BaseChoice {
            kind: frame.drive,
            motor_count: frame.motor_count,
        };
        let times = Times::of(project, season, choice)?;
        let at = find_spot(&spots, &season.spot)?;
        let chain = Chain::of(project);
        let rates = with_spot(project, &chain, &base_rates(project, season, &times), at);
        let mut aims = Vec::new();
        for change in &season.changes {
            let mut after = rates.clone();
            if let Some(kind) = change.drive {
                let motor_count = change.motor_count.unwrap_or(frame.motor_count);
                let other = Times::of(project, season, BaseChoice { kind, motor_count })?;
                after.travel_s = other.travel_s;
                after.aim_s += other.line_up_s - times.line_up_s;
            }
            let set = |to: &mut f64, from: Option<f64>| *to = from.unwrap_or(*to);
            set(&mut after.collect_s, change.collect_s);
            set(&mut after.varies_frac, change.varies_frac);
            set(&mut after.jam_frac, change.jam_frac);
            set(&mut after.interval_s, change.interval_s);
            if let Some(load_s) = change.load_s {
                after.aim_s += load_s - season.load_s;
            }
            if let Some(sorted) = change.sorted {
                after.sorted_frac = f64::from(u8::from(sorted));
            }
            if !change.spot.is_empty() {
                after = with_spot(project, &chain, &after, find_spot(&spots, &change.spot)?);
            }
            if let Some(left) = change.misses_frac {
                for hit in &mut after.hits_frac {
                    *hit = (1.0 - (1.0 - *hit) * left).clamp(0.0, 1.0);
                }
            }
            aims.push((change.clone(), after));
        }
        Ok(Ground {
            rates,
            spot: at.name.clone(),
            spots: spots
                .iter()
                .map(|s| (s.name.clone(), s.thrown.as_ref().map(|t| t.2)))
                .collect(),
            aims,
        })
    }
}

/// A spot: hit chance by place, setpoint and mean hit chance, where it can be thrown from.
struct Aimed {
    name: String,
    thrown: Option<(Vec<f64>, f64, f64)>,
}

fn find_spot<'a>(spots: &'a [Aimed], name: &str) -> Result<&'a Aimed, NoSeason> {
    let hit = |s: &Aimed| s.thrown.as_ref().map_or(-1.0, |t| t.2);
    if name.is_empty() {
        return spots
            .iter()
            .filter(|s| s.thrown.is_some())
            .max_by(|a, b| hit(a).total_cmp(&hit(b)))
            .ok_or_else(|| {
                missing(
                    "spot",
                    "no spot can be thrown from",
                    "see `arcwright check` for why",
                )
            });
    }
    let names: Vec<String> = spots.iter().map(|s| format!("\"{}\"", s.name)).collect();
    let names = names.join(", ");
    match spots.iter().find(|s| s.name == name) {
        Some(s) if s.thrown.is_some() => Ok(s),
        Some(_) => Err(missing(
            "season.spot",
            &format!("nothing can be thrown from spot \"{name}\""),
            "see `arcwright check` for why, or name another spot",
        )),
        None => Err(missing(
            "season.spot",
            &format!("there is no spot \"{name}\""),
            &format!("write one of {names}"),
        )),
    }
}

fn with_spot(project: &Project, chain: &Chain, rates: &Rates, spot: &Aimed) -> Rates {
    let Some((places, setpoint_radps, hit)) = &spot.thrown else {
        return rates.clone();
    };
    let kept = 1.0 - project.season.as_ref().map_or(0.0, |s| s.spoiled_frac);
    let places: &[f64] = if places.is_empty() {
        std::slice::from_ref(hit)
    } else {
        places
    };
    Rates {
        hits_frac: places.iter().map(|h| kept * h).collect(),
        ready_s: ready_s(project, chain, *setpoint_radps).unwrap_or(0.0),
        ..rates.clone()
    }
}

/// Times of a base.
struct Times {
    travel_s: f64,
    line_up_s: f64,
}

impl Times {
    fn of(project: &Project, season: &Season, choice: BaseChoice) -> Result<Times, NoSeason> {
        let figures = BaseFigures::with(project, choice).ok_or_else(|| {
            missing(
                "frame.motor",
                "a match needs driving times, and the drive motor or the robot's mass is missing",
                "add [frame.motor], and `mass` under [robot] or the parts",
            )
        })?;
        let stuck = || {
            missing(
                "frame.ratio",
                "the base cannot make the way: its motors do not turn it on the spot",
                "see `arcwright frame` under turn",
            )
        };
        let one_way = BaseFigures::drive_s(project, choice, season.bearing_rad, season.away_m);
        Ok(Times {
            travel_s: 2.0 * one_way.ok_or_else(stuck)?,
            line_up_s: figures.line_up_s.ok_or_else(stuck)?,
        })
    }
}

fn base_rates(project: &Project, season: &Season, times: &Times) -> Rates {
    Rates {
        match_s: season.match_s,
        opening_s: season.opening_s,
        piece_points_count: season.piece_points_count,
        opening_points_count: season.opening_points_count.unwrap_or(season.piece_points_count),
        preload_count: season.preload_count,
        pattern_points_count: season.pattern_points_count,
        colour_count: season.colour_count,
        sorted_frac: f64::from(u8::from(season.sorted)),
        volley_count: project.limits.volley_count,
        hits_frac: Vec::new(),
        interval_s: project.limits.throw_interval_s.unwrap_or(INTERVAL_S),
        ready_s: 0.0,
        travel_s: times.travel_s,
        aim_s: times.line_up_s + season.load_s,
        collect_s: season.collect_s,
        varies_frac: season.varies_frac,
        jam_frac: season.jam_frac,
        jam_s: season.jam_s,
        penalty_points_count: season.penalty_points_count,
        penalty_frac: season.penalty_frac,
        end_points_count: season.end_points_count,
        end_s: season.end_s,
        end_frac: season.end_frac,
    }
}

/// Judgement: time between throws where the brief asks for none.
const INTERVAL_S: f64 = 1.0;
