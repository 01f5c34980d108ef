//! What a page asks of one project at once: results and pictures by name, each worked out once.

use arcwright_model::aim::{self, Needed};
use arcwright_model::finding::{Finding, nearest};
use arcwright_model::limits::{self, BaseFigures, Report};
use arcwright_model::project::Project;
use arcwright_model::scatter::{
    MapPlace, MapPlan, SamplePlan, ScatterPlan, SpotReport, hit_map, report_until,
};
use arcwright_model::season::rank::SeasonPlan;
use arcwright_model::shot::Chain;
use arcwright_model::units::Dimension;
use arcwright_model::volley_run::VolleyRun;
use arcwright_paper::drawings::side_view;
use serde_json::{Map, Value, json};

use super::aim::aimed;
use super::floor::taught::Standing;
use super::json::with;
use super::throw::{self, Plan, Thrown};
use super::{frame, helps, json as words, pictures, quantities, season, volley};

/// Which parts of the answer are wanted, and of which throw.
#[derive(Clone, Debug, Default)]
pub struct Ask {
    /// Names of [`PARTS`].
    pub want: Vec<String>,
    /// Spot of the single throw and the volley; the last one in the file if not given.
    pub spot: Option<String>,
    /// Wheel speed of them; the spot's setpoint if not given.
    pub wheel_radps: Option<f64>,
    /// Most throws of a scatter.
    pub throws: usize,
    /// Seed of its random numbers.
    pub seed: u64,
    /// Leave out what takes a search: the best setting, the verdict on adjustability.
    pub unsearched: bool,
    /// Another drive base to compare with: four, six or sideways.
    pub base: Option<String>,
    /// Its motors; as many as in the file if not given.
    pub base_motors: Option<u32>,
    /// Ways in which what is not known about a season may turn out.
    pub worlds: usize,
}

/// One part of an answer.
pub struct Part {
    /// Its name.
    pub name: &'static str,
    /// What it is.
    pub about: &'static str,
    make: fn(&mut Work) -> Result<Value, Finding>,
}

/// Every part, results first, then pictures (SVG as text).
pub const PARTS: &[Part] = &[
    Part {
        name: "quantities",
        about: "every quantity of the project with its range",
        make: |w| {
            let learned = w.standing.learned.as_ref();
            Ok(quantities::quantities(learned.map_or(w.project, |l| &l.design)))
        },
    },
    Part {
        name: "check",
        about: "as `check --json`",
        make: |w| {
            let project = w.project;
            let basis = &w.standing.basis;
            Ok(words::check(project, w.report(), basis))
        },
    },
    Part {
        name: "helps",
        about: "for each verdict that fails, the handles that would mend it, each moved alone",
        make: |w| {
            let project = w.project;
            let is_stale = w.is_stale;
            let found = helps::helps(project, w.report(), is_stale).unwrap_or_default();
            Ok(helps::as_json(project, &found))
        },
    },
    Part {
        name: "aim",
        about: "as `aim --json` with a table in quarter metres",
        make: |w| {
            /// Method: fine enough to read off, coarse enough for one screen.
            const STEP_M: f64 = 0.25;
            let found = aimed(w.project, w.standing.learned.as_ref(), Some(STEP_M));
            Ok(words::aim(w.project, &found, &w.standing.basis))
        },
    },
    Part {
        name: "throw",
        about: "as `throw --json`",
        make: |w| {
            let project = w.project;
            let basis = &w.standing.basis;
            Ok(words::throw(project, w.thrown()?, basis))
        },
    },
    Part {
        name: "volley",
        about: "as `volley --json`",
        make: |w| {
            let project = w.project;
            let basis = &w.standing.basis;
            Ok(words::volley(project, w.volley()?, basis))
        },
    },
    Part {
        name: "ruler",
        about: "the mechanical setting as a ruler finds it: `what`, `length_m`, `says`",
        make: |w| Ok(super::ruler::json(w.project)),
    },
    Part {
        name: "scatter",
        about: "as `scatter --json` without remedies; without a budget and the untested chance unless `picture.budget` is wanted too",
        make: |w| {
            let (project, plan) = (w.project, w.plan());
            let basis = &w.standing.basis;
            Ok(words::scatter(project, &plan, w.scatter(), basis))
        },
    },
    Part {
        name: "needed",
        about: "for each spot the exits that it asks of any launcher: speed by angle",
        make: |w| Ok(words::needed(w.needed())),
    },
    Part {
        name: "picture.needed",
        about: "exit speed against exit angle, for every spot",
        make: |w| {
            let project = w.project;
            Ok(json!(pictures::needed(project, w.needed())))
        },
    },
    Part {
        name: "picture.flights",
        about: "flights from every spot over the target",
        make: |w| {
            let project = w.project;
            Ok(json!(pictures::fan(project, w.report())))
        },
    },
    Part {
        name: "picture.setpoints",
        about: "wheel speed against distance",
        make: |w| {
            let project = w.project;
            let design = w.standing.learned.as_ref().map(|l| &l.design);
            Ok(json!(pictures::setpoints(project, w.report(), design)))
        },
    },
    Part {
        name: "picture.launcher",
        about: "the launcher to scale with the piece passing through",
        make: |w| {
            let (side, _) = w.side()?;
            Ok(json!(side_view::draw(&side)))
        },
    },
    Part {
        name: "hold.launcher",
        about: "where the picture of the launcher can be taken hold of, the passage moment by moment, and a note where it is not that of a setpoint",
        make: |w| {
            let (side, note) = w.side()?;
            Ok(with(
                words::hold(&side_view::hold(&side)),
                json!({ "note": note }),
            ))
        },
    },
    Part {
        name: "picture.guide-force",
        about: "force and slip along the guide",
        make: |w| {
            let project = w.project;
            Ok(json!(pictures::force(project, w.seen()?)))
        },
    },
    Part {
        name: "picture.flight",
        about: "the flight of the single throw",
        make: |w| {
            let project = w.project;
            Ok(json!(pictures::flight(project, w.thrown()?)))
        },
    },
    Part {
        name: "picture.volley",
        about: "wheel speed, voltage and current through a volley",
        make: |w| {
            let project = w.project;
            Ok(json!(pictures::volley(project, w.volley()?)))
        },
    },
    Part {
        name: "picture.scatter",
        about: "where throws cross the opening",
        make: |w| {
            let project = w.project;
            Ok(json!(pictures::scatter(project, w.scatter())))
        },
    },
    Part {
        name: "picture.budget",
        about: "which cause makes how much of the scatter",
        make: |w| {
            let project = w.project;
            Ok(json!(pictures::budget(project, w.scatter())))
        },
    },
    Part {
        name: "map",
        about: "as `map --json`: the hit chance from every place on the floor",
        make: |w| {
            let project = w.project;
            let basis = &w.standing.basis;
            Ok(w.map()?.map_or(Value::Null, |(plan, places)| {
                words::map(project, plan, places, basis)
            }))
        },
    },
    Part {
        name: "picture.map",
        about: "the floor from above with the hit chance from every place",
        make: |w| {
            let project = w.project;
            Ok(w.map()?.map_or(Value::Null, |(plan, places)| {
                json!(pictures::hit_map(project, plan, places))
            }))
        },
    },
    Part {
        name: "picture.bite",
        about: "how deep the wheel drops into holes or seam; null for a piece without them",
        make: |w| Ok(json!(pictures::bite(w.project))),
    },
    Part {
        name: "frame",
        about: "as `frame --json`, beside another base with `base` and `base_motors`; null for a project without [frame]",
        make: |w| {
            let other = w.other_base()?;
            let project = w.project;
            let whole = w.report();
            Ok(whole
                .frame
                .as_ref()
                .map_or(Value::Null, |f| words::frame(project, whole, f, other.as_ref())))
        },
    },
    Part {
        name: "picture.base",
        about: "speed and push of the drive base by direction, beside another one with `base`; null without a base",
        make: |w| {
            let other = w.other_base()?;
            let project = w.project;
            let base = w.report().frame.as_ref().and_then(|f| f.base.as_ref());
            Ok(base.map_or(Value::Null, |b| {
                json!(frame::polar(project, std::iter::once(b).chain(&other)))
            }))
        },
    },
    Part {
        name: "picture.parts",
        about: "parts and free room within the size limits; null without listed parts or size limits",
        make: |w| Ok(json!(frame::free_room(w.project))),
    },
    Part {
        name: "season",
        about: "as `season --json`, with `worlds` ways in which what is not known may turn out",
        make: |w| {
            let (project, plan) = (w.project, w.season_plan());
            let basis = &w.standing.basis;
            Ok(w.season()?
                .map_or(Value::Null, |s| words::season(project, &plan, s, basis)))
        },
    },
    Part {
        name: "picture.season",
        about: "changes by points for each day of work, how matches score, and what the points depend on",
        make: |w| Ok(w.season()?.map_or(Value::Null, |s| json!(season::picture(s)))),
    },
    Part {
        name: "picture.plan",
        about: "a throw on the move from above; null for a robot that stands",
        make: |w| {
            let project = w.project;
            Ok(json!(pictures::plan(project, w.report())))
        },
    },
];

/// Method: places of a map while something is dragged.
const QUICK_PLACES: usize = 60;

/// What has been worked out so far.
struct Work<'a> {
    /// The project with what test shots taught in it.
    project: &'a Project,
    standing: &'a Standing,
    ask: &'a Ask,
    is_stale: &'a (dyn Fn() -> bool + Sync),
    report: Option<Report>,
    thrown: Option<Result<Thrown, Finding>>,
    /// At the top wheel speed.
    at_top: Option<Thrown>,
    volley: Option<VolleyRun>,
    scatter: Option<Vec<SpotReport>>,
    needed: Option<Vec<(String, Vec<Needed>)>>,
    map: Option<(MapPlan, Vec<MapPlace>)>,
    season: Option<season::SeasonResult>,
}

impl Work<'_> {
    fn report(&mut self) -> &Report {
        let (project, unsearched) = (self.project, self.ask.unsearched);
        self.report.get_or_insert_with(|| {
            if unsearched {
                limits::check_unsearched(project)
            } else {
                limits::check(project)
            }
        })
    }

    fn needed(&mut self) -> &[(String, Vec<Needed>)] {
        let project = self.project;
        self.needed.get_or_insert_with(|| {
            let spots = project.spots.iter();
            spots.map(|s| (s.name.clone(), aim::needed(project, s))).collect()
        })
    }

    /// Nothing when the question has become stale.
    fn map(&mut self) -> Result<Option<&(MapPlan, Vec<MapPlace>)>, Finding> {
        if self.map.is_none() {
            let most_count = if self.ask.unsearched {
                QUICK_PLACES
            } else {
                pictures::MAP_PLACES
            };
            let plan = pictures::map_plan(self.project, most_count, self.ask.seed)?;
            let places = hit_map(self.project, &plan, self.is_stale);
            self.map = places.map(|p| (plan, p));
        }
        Ok(self.map.as_ref())
    }

    /// Setpoint of the spot and that of a robot that stands there, where the verdicts have aimed from it anyway.
    fn aimed(&mut self) -> Option<(f64, Option<f64>)> {
        let has_report = self.report.is_some() || self.ask.want.iter().any(|w| w == "check");
        if self.ask.wheel_radps.is_some() || !has_report {
            return None;
        }
        let spot = throw::find_spot(self.project, self.ask.spot.as_deref()).ok()?;
        let index = self.project.spots.iter().position(|s| s == spot)?;
        let best = self.report().aims.get(index)?.best()?;
        Some((best.wheel_radps, best.moved.and_then(|m| m.standing_radps)))
    }

    fn thrown(&mut self) -> Result<&Thrown, Finding> {
        let made = match self.thrown.take() {
            Some(made) => made,
            None => {
                let aimed = self.aimed();
                throw::throw(
                    self.project,
                    &Plan {
                        spot: self.ask.spot.clone(),
                        wheel_radps: self.ask.wheel_radps.or(aimed.map(|a| a.0)),
                        standing_radps: aimed.and_then(|a| a.1),
                        ..Plan::default()
                    },
                )
            }
        };
        self.thrown.insert(made).as_ref().map_err(Finding::clone)
    }

    /// The throw at the setpoint, or at the top wheel speed from a spot that none reaches: what does not reach is what has
    /// to be looked at and changed.
    fn seen(&mut self) -> Result<&Thrown, Finding> {
        let Err(f) = self.thrown().map(|_| ()) else {
            return self.thrown();
        };
        if f.code != "no-setpoint" {
            return Err(f);
        }
        let plan = Plan {
            spot: self.ask.spot.clone(),
            wheel_radps: Some(Chain::of(self.project).top_radps),
            ..Plan::default()
        };
        let made = match self.at_top.take() {
            Some(made) => made,
            None => throw::throw(self.project, &plan)?,
        };
        Ok(self.at_top.insert(made))
    }

    /// The launcher from the side, and what has to be said of it; without a piece where none comes through.
    fn side(&mut self) -> Result<(side_view::SideView, Option<String>), Finding> {
        let project = self.project;
        let none_reaches = self.thrown().is_err();
        let top_radps = Chain::of(project).top_radps;
        let speed = project.say(top_radps, Dimension::AngularSpeed);
        match self.seen() {
            Ok(t) => {
                let note = none_reaches.then(|| {
                    format!(
                        "No wheel speed brings a throw from {} to the middle of the opening: shown at the top speed, {speed}.",
                        t.stance_name
                    )
                });
                Ok((pictures::side_input(project, t), note))
            }
            Err(f) if f.code == "not-thrown" => Ok((
                pictures::side_empty(project, top_radps),
                Some(format!("{}; {}.", f.what, f.fix)),
            )),
            Err(f) => Err(f),
        }
    }

    fn volley(&mut self) -> Result<&VolleyRun, Finding> {
        let made = match self.volley.take() {
            Some(made) => made,
            None => {
                let aimed = self.aimed();
                volley::volley(
                    self.project,
                    &volley::Plan {
                        spot: self.ask.spot.clone(),
                        wheel_radps: self.ask.wheel_radps.or(aimed.map(|a| a.0)),
                        ..volley::Plan::default()
                    },
                )?
            }
        };
        Ok(self.volley.insert(made))
    }

    fn other_base(&self) -> Result<Option<BaseFigures>, Finding> {
        let word = self.ask.base.as_ref();
        word.map(|w| frame::other_base(self.project, w, self.ask.base_motors))
            .transpose()
    }

    fn season_plan(&self) -> SeasonPlan {
        SeasonPlan {
            seed: self.ask.seed,
            world_count: self.ask.worlds,
            ..SeasonPlan::default()
        }
    }

    /// Nothing when the question has become stale.
    fn season(&mut self) -> Result<Option<&season::SeasonResult>, Finding> {
        if self.season.is_none() {
            let is_stale = self.is_stale;
            self.season = season::season(self.project, &self.season_plan(), None, &mut |_| !is_stale())?;
        }
        Ok(self.season.as_ref())
    }

    fn plan(&self) -> ScatterPlan {
        let with_budget = self.ask.want.iter().any(|w| w == "picture.budget");
        ScatterPlan {
            sample: SamplePlan {
                seed: self.ask.seed,
                most_count: self.ask.throws,
                ..SamplePlan::default()
            },
            with_untested: with_budget,
            with_budget,
            with_remedies: false,
        }
    }

    fn scatter(&mut self) -> &[SpotReport] {
        let (project, plan) = (self.project, self.plan());
        let is_stale = self.is_stale;
        self.scatter
            .get_or_insert_with(|| report_until(project, &plan, is_stale))
    }
}

/// Works out the parts that are wanted: an object with a field for each. A part that this project does not
/// have an answer for is `{"refused": {code, key, what, fix}}`.
///
/// # Errors
/// `no-such-part` for a name that is not in [`PARTS`].
pub fn answer(
    standing: &Standing,
    ask: &Ask,
    is_stale: &(dyn Fn() -> bool + Sync),
) -> Result<Option<Value>, Finding> {
    let mut work = Work {
        project: &standing.project,
        standing,
        ask,
        is_stale,
        report: None,
        thrown: None,
        at_top: None,
        volley: None,
        scatter: None,
        needed: None,
        map: None,
        season: None,
    };
    let mut out = Map::new();
    for name in &ask.want {
        if is_stale() {
            return Ok(None);
        }
        let part = PARTS
            .iter()
            .find(|p| p.name == name)
            .ok_or_else(|| no_such_part(name))?;
        let value = match (part.make)(&mut work) {
            Ok(value) => value,
            Err(f) => json!({ "refused": { "code": f.code, "key": f.key, "what": f.what, "fix": f.fix } }),
        };
        out.insert(name.clone(), value);
    }
    // What a stale request has worked out may be in part.
    if is_stale() {
        return Ok(None);
    }
    Ok(Some(Value::Object(out)))
}

fn no_such_part(name: &str) -> Finding {
    let near = nearest(name, PARTS.iter().map(|p| p.name))
        .map_or(String::new(), |n| format!("did you mean `{n}`? "));
    let all: Vec<&str> = PARTS.iter().map(|p| p.name).collect();
    Finding::new(
        "no-such-part",
        "want",
        format!("there is no part called `{name}`"),
        format!("{near}the parts are {}", all.join(", ")),
    )
}
