//! `floor rehearse`: practice on a machine whose truth is hidden, with a log of its own.

use arcwright_model::finding::Finding;
use arcwright_model::floor::rehearse::{Doubts, HiddenProject, Look};
use arcwright_model::numerics::proportion::wilson;
use arcwright_model::project::{Project, Spot};
use arcwright_model::target::Outcome;
use arcwright_model::units::Dimension as D;
use clap::Args;
use serde_json::{Value, json};

use super::next::{See, logged, look};
use super::{Ground, Where, joined};
use crate::cli::{Answer, FINE, Refusal, say};
use crate::store::{Entry, NewShot, Store};
use crate::tasks::floor::next::InUse;
use crate::tasks::floor::practice::{self, Practice, Step};
use crate::tasks::floor::words::{Place, read};
use crate::tasks::floor::{Floor, by_hand, next, tell, time};
use crate::tasks::throw::find_spot;

/// Name of the log of rehearsals, beside the project file.
pub const FILE_NAME: &str = "rehearsal.db";
/// How the session that holds a machine is named; its seed follows.
const SESSION: &str = "rehearsal, seed ";
/// Throws after which a session is broken off.
const MOST_THROWS: usize = 60;

#[derive(Args)]
pub struct RehearseArgs {
    /// `throw` and from where and how fast, such as: throw far 3490 rpm
    #[arg(value_name = "WORDS")]
    words: Vec<String>,
    /// Prepare the machine of this seed
    #[arg(long, value_name = "N")]
    seed: Option<u64>,
    /// Play a whole session by what `floor next` says, to the sign to stop, and the proof after it
    #[arg(long, conflicts_with = "words")]
    all: bool,
    /// Tune so many machines, of this seed (or 1) and those after it, by what `floor next` says and by hand, and show after
    /// how many shots every spot is right; writes nothing
    #[arg(long, value_name = "N", conflicts_with_all = ["words", "all"], value_parser = clap::value_parser!(u64).range(1..=1000))]
    machines: Option<u64>,
    /// What is seen of each shot besides what became of it
    #[arg(long, value_name = "HOW", value_delimiter = ',', default_value = "eye")]
    see: Vec<See>,
    /// Print JSON (SI, versioned; see docs/json.md) instead of text
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    place: Where,
}

pub fn run(args: &RehearseArgs) -> Result<Answer, Refusal> {
    let ground = Ground::load(&Where {
        rehearsal: true,
        ..args.place.clone()
    })?;
    if let Some(count) = args.machines {
        return machines(args, &ground, count);
    }
    let mut store = ground.open()?;
    let practice = |store: &mut Store| -> Result<(String, Vec<Value>), Finding> {
        let mut text = String::new();
        let mut steps = Vec::new();
        let seed = match args.seed {
            Some(seed) => {
                store.begin_session(&format!("{SESSION}{seed}"), time::now_ms())?;
                text.push_str(&format!(
                    "A machine is built from this project with seed {seed}; what it truly does is hidden.\n"
                ));
                steps.push(json!({ "step": "prepared", "seed": seed }));
                seed
            }
            None => prepared(store)?,
        };
        let mut bench = Bench {
            project: ground.project.clone(),
            machine: HiddenProject::drawn(&ground.project, seed, Doubts::default())
                .after(store.current()?.len() as u64),
            look: look(&args.see),
            store,
        };
        if args.all {
            bench.session(&ground, &mut text, &mut steps)?;
        } else if !args.words.is_empty() {
            let (spot, setpoint) = bench.asked(&joined(&args.words))?;
            let said = bench.throw(&spot, setpoint, 0.0)?.0;
            steps.push(json!({ "step": "throw", "says": said }));
            text.push_str(&said);
        } else if args.seed.is_none() {
            text.push_str(&format!(
                "The machine of seed {seed} is ready: `floor rehearse throw {}`, or `floor rehearse --all`.\n",
                ground.project.spots.first().map_or("far", |s| s.name.as_str())
            ));
        }
        Ok((text, steps))
    };
    let (text, steps) = practice(&mut store).map_err(|f| Refusal::finding(&f))?;
    let text = if args.json {
        format!(
            "{:#}\n",
            crate::tasks::floor::json::rehearse(&ground.project, steps)
        )
    } else {
        text
    };
    Ok(Answer { text, code: FINE })
}

/// Many machines, unseen.
fn machines(args: &RehearseArgs, ground: &Ground, count: u64) -> Result<Answer, Refusal> {
    let project = &ground.project;
    let first = args.seed.unwrap_or(1);
    let look = look(&args.see);
    let each = (first..first.saturating_add(count)).map(|seed| {
        let machine = HiddenProject::drawn(project, seed, Doubts::default());
        say::err(&format!("machine {} of {count}\n", seed - first + 1));
        practice::trial(project, seed, &machine, &look)
    });
    let trials: Vec<practice::Trial> = each
        .collect::<Result<_, Finding>>()
        .map_err(|f| Refusal::finding(&f))?;
    let text = if args.json {
        let steps = trials.iter().map(crate::tasks::floor::json::trial).collect();
        format!("{:#}\n", crate::tasks::floor::json::rehearse(project, steps))
    } else {
        let lines: String = trials.iter().map(|t| practice::line(project, t)).collect();
        format!("{}{lines}\n{}", practice::head(), practice::words(&trials))
    };
    Ok(Answer { text, code: FINE })
}

/// The seed of the machine that was prepared last.
fn prepared(store: &Store) -> Result<u64, Finding> {
    let sessions = store.sessions()?;
    let seeds = sessions
        .iter()
        .rev()
        .filter_map(|s| s.name.strip_prefix(SESSION)?.parse().ok());
    seeds.into_iter().next().ok_or_else(|| {
        Finding::new(
            "no-rehearsal",
            FILE_NAME,
            "no machine has been prepared to practise on",
            "prepare one first, such as `arcwright floor rehearse --seed 7`",
        )
    })
}

/// The hidden machine, its log, and who looks on.
struct Bench<'a> {
    /// As written, until a knob is moved.
    project: Project,
    machine: HiddenProject,
    look: Look,
    store: &'a mut Store,
}

impl Bench<'_> {
    /// Spot and speed of a line such as `throw far 3490 rpm`.
    fn asked(&self, line: &str) -> Result<(Spot, f64), Finding> {
        let floor = Floor::of(&self.project);
        let line = line.trim();
        let line = line.strip_prefix("throw").unwrap_or(line);
        let said = read(line, &floor.spots(), true)?;
        let spot = match &said.place {
            Some(Place::Distance(distance_m)) => Spot {
                name: String::new(),
                distance_m: *distance_m,
                offset_m: 0.0,
                heading_rad: 0.0,
            },
            Some(Place::Spot(name)) => find_spot(&self.project, Some(name))?.clone(),
            None => find_spot(&self.project, None)?.clone(),
        };
        let setpoint = match said.setpoint_radps {
            Some(w) => w,
            None => next::whole_rpm(floor.aimed(&spot, &self.project.machine.setting)?),
        };
        Ok((spot, setpoint))
    }

    /// Throws once and logs what a helper would see; a line that says so, and what became of it.
    fn throw(
        &mut self,
        spot: &Spot,
        setpoint_radps: f64,
        turned_rad: f64,
    ) -> Result<(String, Option<Outcome>), Finding> {
        let used = InUse {
            setpoint_radps,
            turned_rad,
            fresh: false,
        };
        let ask = by_hand::ask(&self.project, spot, &used);
        let shot = self.machine.throw(&ask, &self.look).map_err(|why| {
            Finding::new(
                "not-thrown",
                format!("a throw at {}", self.project.say(setpoint_radps, D::AngularSpeed)),
                format!("the machine does not throw there: {}", why.words()),
                "ask for another wheel speed",
            )
        })?;
        let seen = &shot.seen;
        let entry = Entry {
            spot: spot.name.clone(),
            distance_m: shot.distance_m,
            offset_m: shot.offset_m,
            turned_rad,
            slide_m: shot.setting.slide_m,
            tilt_rad: shot.setting.tilt_rad,
            reach_m: shot.setting.reach_m,
            setpoint_radps,
            before_radps: shot.before_radps,
            after_radps: shot.after_radps,
            place: 1,
            landing_m: seen.landing.map(|l| [l.along_m, l.across_m, l.height_m]),
            fall: seen.fall.map(|f| (f.time_s, f.height_m)),
            miss_m: seen.miss_m,
            outcome: seen.outcome,
            note: "rehearsed".into(),
            ..Entry::default()
        };
        let now_ms = time::now_ms();
        let new = NewShot {
            thrown_utc_ms: now_ms,
            time_known: true,
            source: "rehearsed".into(),
            words: String::new(),
            entry,
        };
        let (id, _) = self.store.log(&new, now_ms)?;
        let said = format!(
            "  shot {id} from {} at {}: {}\n",
            tell::place(&self.project, &new.entry),
            self.project.say(setpoint_radps, D::AngularSpeed),
            tell::seen(&self.project, &new.entry)
        );
        Ok((said, seen.outcome))
    }

    /// Throws by what `floor next` says until it says stop, then proves it.
    fn session(&mut self, ground: &Ground, text: &mut String, steps: &mut Vec<Value>) -> Result<(), Finding> {
        let as_written = self.project.clone();
        let mut practice = Practice::begun(&as_written)?;
        let design = practice.in_use.clone();
        let begun_at = self.machine.clone();
        let mut thrown = 0;
        let mut stopped = false;
        text.push_str(
            "Each round: what the log says to change, the next throw and why, and what a helper saw of it.\n",
        );
        while thrown < MOST_THROWS {
            let shots = logged(ground).map_err(|r| Finding::new("log", FILE_NAME, r.text, "see above"))?;
            let outlook = next::outlook(&practice.project, &shots, &practice.in_use, &self.look)?;
            let says = next::words(&practice.project, &outlook);
            text.push_str(&says);
            let step = practice.obey(&outlook);
            self.project.clone_from(&practice.project);
            if outlook.spanner().is_some() && step != Step::Knob {
                text.push_str(&format!(
                    "  The hood was set {} times in this session already: left as it is.\n",
                    practice::MOST_SPANNERS
                ));
            }
            let shot = match step {
                Step::Knob => {
                    steps.push(json!({ "step": "knob", "says": says }));
                    continue;
                }
                Step::Stop | Step::Nowhere => {
                    stopped = step == Step::Stop;
                    steps.push(json!({ "step": "stop", "says": says }));
                    break;
                }
                Step::Throw(shot) => shot,
            };
            let Some(spot) = self.project.spots.get(shot.spot_index) else {
                break;
            };
            let (said, _) = self.throw(&spot.clone(), shot.setpoint_radps, shot.turned_rad)?;
            thrown += 1;
            steps.push(json!({ "step": "throw", "says": says, "seen": said.trim() }));
            text.push_str(&said);
        }
        let in_use = practice.in_use;
        if !stopped {
            text.push_str(&format!(
                "After {MOST_THROWS} throws there is still no sign to stop.\n"
            ));
            return Ok(());
        }
        // Counted apart, with the target there whatever was looked at before.
        let watched = self.look;
        self.look = Look {
            outcome: true,
            ..Look::default()
        };
        text.push_str("Proof, every knob left alone:\n");
        let mut hits = 0;
        for k in 0..next::PROOF_THROWS as usize {
            let i = k % self.project.spots.len().max(1);
            let (Some(spot), Some(u)) = (self.project.spots.get(i).cloned(), in_use.get(i)) else {
                break;
            };
            let (said, outcome) = self.throw(&spot, u.setpoint_radps, u.turned_rad)?;
            text.push_str(&said);
            hits += u64::from(outcome == Some(Outcome::In));
        }
        let [low, high] = wilson(hits, next::PROOF_THROWS, 0.95);
        let share = |x| self.project.say(x, D::Ratio);
        let says = format!(
            "{hits} of {} went in: between {} and {} of throws will (95 % confidence).\n",
            next::PROOF_THROWS,
            share(low),
            share(high)
        );
        steps.push(
            json!({ "step": "proof", "hits": hits, "throws": next::PROOF_THROWS, "says": says.trim() }),
        );
        text.push_str(&says);
        let begun = Begun {
            project: as_written,
            machine: begun_at,
            design,
            look: watched,
        };
        let (says, step) = self.beside_hand(&begun, &in_use, thrown);
        text.push_str(&says);
        steps.push(step);
        Ok(())
    }

    /// The truth is known here: what the table brings, beside what a person by hand would have in the same machine.
    fn beside_hand(&self, begun: &Begun, in_use: &[InUse], thrown: usize) -> (String, Value) {
        let learned = by_hand::counted(&self.project, &begun.machine, in_use);
        let hand = [1, 2].map(|times| {
            let mut machine = begun.machine.clone();
            let tables = by_hand::tune(
                &begun.project,
                &mut machine,
                &begun.design,
                &begun.look,
                times * thrown,
            );
            let last = tables.last().map_or(&begun.design[..], Vec::as_slice);
            by_hand::counted(&begun.project, &begun.machine, last)
        });
        let untuned = by_hand::counted(&begun.project, &begun.machine, &begun.design);
        let each = |hits: &[f64]| {
            let list: Vec<String> = self
                .project
                .spots
                .iter()
                .zip(hits)
                .map(|(s, h)| format!("{} {:.0}", s.name, 100.0 * h))
                .collect();
            list.join(", ")
        };
        let says = format!(
            "What this machine truly does, hits in 100, counted from throws that nobody logged:\n  \
             design's speeds, 0 shots: {}\n  by what `floor next` said, {thrown} shots: {}\n  \
             by hand with the same eyes, {thrown} shots: {}\n  by hand, {} shots: {}\n",
            each(&untuned),
            each(&learned),
            each(&hand[0]),
            2 * thrown,
            each(&hand[1])
        );
        let step = json!({
            "step": "beside",
            "shots": thrown,
            "hit_frac": learned,
            "by_hand_hit_frac": hand[0],
            "by_hand_twice_hit_frac": hand[1],
            "untuned_hit_frac": untuned,
            "says": says.trim(),
        });
        (says, step)
    }
}

/// How a session began, for the comparison at its end.
struct Begun {
    project: Project,
    machine: HiddenProject,
    design: Vec<InUse>,
    look: Look,
}
