//! A rehearsal: practice on a machine whose truth is hidden, with a log of its own.

use arcwright_model::finding::Finding;
use arcwright_model::floor::Shot;
use arcwright_model::floor::rehearse::{Doubts, HiddenProject, Look};
use arcwright_model::numerics::proportion::wilson;
use arcwright_model::project::{Project, Spot};
use arcwright_model::target::Outcome;
use arcwright_model::units::Dimension as D;
use serde_json::{Value, json};

use super::next::{InUse, Outlook, PROOF_THROWS};
use super::practice::{self, Practice};
use super::words::{Place, read};
use super::{Floor, by_hand, next, tell, time};
use crate::store::{Amendment, Entry, NewShot, Store, shots};
use crate::tasks::throw::find_spot;

/// Name of the log of rehearsals, beside the project file.
pub const FILE_NAME: &str = "rehearsal.db";
/// How the session that holds a machine is named; its seed follows.
const SESSION: &str = "rehearsal, seed ";
/// Throws after which a session is broken off.
pub const MOST_THROWS: usize = 60;

/// The machine that was prepared last.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Prepared {
    /// Its seed.
    pub seed: u64,
    /// The session that began with it.
    pub session: i64,
}

/// Prepares the machine of a seed. What an earlier machine threw stays in the log and no longer counts.
///
/// # Errors
/// A finding when it cannot be written.
pub fn prepare(store: &mut Store, seed: u64) -> Result<Prepared, Finding> {
    loop {
        let all = store.current()?;
        let of_others: Vec<Amendment> = all
            .into_iter()
            .filter(|l| !l.entry.taken_back && l.entry.left_out_because.is_none())
            .map(|l| Amendment {
                shot: l.id,
                versions: l.versions,
                words: format!("the machine of seed {seed} was prepared"),
                entry: Entry {
                    left_out_because: Some("another machine threw it".into()),
                    ..l.entry
                },
            })
            .collect();
        // Another program may change a shot meanwhile: then it is looked at again.
        if of_others.is_empty() || store.amend(&of_others, "left out", time::now_ms())? {
            break;
        }
    }
    let session = store.begin_session(&format!("{SESSION}{seed}"), time::now_ms())?;
    Ok(Prepared { seed, session })
}

/// The machine that was prepared last.
///
/// # Errors
/// `no-rehearsal`.
pub fn prepared(store: &Store) -> Result<Prepared, Finding> {
    let sessions = store.sessions()?;
    let mut all = sessions.iter().rev().filter_map(|s| {
        Some(Prepared {
            seed: s.name.strip_prefix(SESSION)?.parse().ok()?,
            session: s.id,
        })
    });
    all.next().ok_or_else(|| {
        Finding::new(
            "no-rehearsal",
            FILE_NAME,
            "no machine has been prepared to practise on",
            "prepare one first, such as `arcwright floor rehearse --seed 7`",
        )
    })
}

/// The hidden machine, and who looks on.
pub struct Bench {
    /// As written, until a knob is moved.
    pub project: Project,
    /// What is seen of a shot.
    pub look: Look,
    machine: HiddenProject,
}

/// A throw as it was logged.
pub struct Thrown {
    /// Spot and speed, and what was seen, in a line.
    pub says: String,
    outcome: Option<Outcome>,
}

impl Bench {
    /// The machine of a seed, built from a project, after as many throws as a log holds.
    ///
    /// # Errors
    /// A finding when the log cannot be read.
    pub fn of(project: &Project, seed: u64, store: &Store, look: Look) -> Result<Bench, Finding> {
        Ok(Bench {
            project: project.clone(),
            look,
            machine: HiddenProject::drawn(project, seed, Doubts::default())
                .after(store.current()?.len() as u64),
        })
    }

    /// Spot and speed of a line such as `throw far 3490 rpm`.
    ///
    /// # Errors
    /// What is not understood, or `no-setpoint`.
    pub fn asked(&self, line: &str) -> Result<(Spot, f64), Finding> {
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

    /// Throws once and logs what a helper would see.
    ///
    /// # Errors
    /// `not-thrown`, or a finding when it cannot be written.
    pub fn throw(
        &mut self,
        store: &mut Store,
        spot: &Spot,
        setpoint_radps: f64,
        turned_rad: f64,
    ) -> Result<Thrown, Finding> {
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
        let (id, _) = store.log(&new, now_ms)?;
        let says = format!(
            "  shot {id} from {} at {}: {}\n",
            tell::place(&self.project, &new.entry),
            self.project.say(setpoint_radps, D::AngularSpeed),
            tell::seen(&self.project, &new.entry)
        );
        Ok(Thrown {
            says,
            outcome: seen.outcome,
        })
    }
}

/// What was done by what the log says to do next.
pub enum Step {
    /// A knob of the hood was moved.
    Knob,
    /// The moves were made and a shot was thrown.
    Throw(Thrown),
    /// Nothing: it says stop, or there is no shot to throw.
    Stop,
}

/// A session on a hidden machine that goes by what the log says to do next.
pub struct Session {
    /// Its seed.
    pub seed: u64,
    /// The machine.
    pub bench: Bench,
    /// What comes next.
    pub outlook: Outlook,
    /// Throws so far, without those of a proof.
    pub thrown: usize,
    /// Counted apart after the sign to stop.
    pub proof: Option<Proof>,
    practice: Practice,
    begun: Begun,
}

/// How a session began, for the comparison at its end.
struct Begun {
    project: Project,
    machine: HiddenProject,
    design: Vec<InUse>,
}

/// Throws that are counted apart.
#[derive(Clone, Debug, PartialEq)]
pub struct Proof {
    /// How many went in.
    pub hits: u64,
    /// Each throw in a line.
    pub lines: String,
    /// The count in a sentence.
    pub says: String,
}

/// The shots that the machine has thrown, as the model sees them.
fn seen(store: &Store, project: &Project) -> Result<Vec<Shot>, Finding> {
    let all = shots(store, project)?;
    Ok(all.into_iter().map(|l| l.shot).collect())
}

impl Session {
    /// Begins on the machine of a bench.
    ///
    /// # Errors
    /// `no-setpoint`, or what the log cannot be used for.
    pub fn begin(bench: Bench, seed: u64, store: &Store) -> Result<Session, Finding> {
        let practice = Practice::begun(&bench.project)?;
        let design = practice.in_use.clone();
        let all = seen(store, &bench.project)?;
        Ok(Session {
            seed,
            outlook: next::outlook(&bench.project, &all, &design, &bench.look)?,
            thrown: 0,
            proof: None,
            practice,
            begun: Begun {
                project: bench.project.clone(),
                machine: bench.machine.clone(),
                design,
            },
            bench,
        })
    }

    /// Goes on with what a log holds of the machine prepared last.
    ///
    /// # Errors
    /// `no-rehearsal`, and as [`Session::begin`].
    pub fn resume(project: &Project, store: &Store, look: Look) -> Result<Session, Finding> {
        let Prepared { seed, session } = prepared(store)?;
        let mut bench = Bench::of(project, seed, store, look)?;
        let own: Vec<_> = store
            .current()?
            .into_iter()
            .filter(|l| l.session >= session && !l.entry.taken_back)
            .collect();
        let settings: Vec<[f64; 3]> = own
            .iter()
            .map(|l| [l.entry.slide_m, l.entry.tilt_rad, l.entry.reach_m])
            .collect();
        let begun = Begun {
            project: project.clone(),
            machine: HiddenProject::drawn(project, seed, Doubts::default())
                .after(bench.machine.thrown_count().saturating_sub(own.len() as u64)),
            design: next::in_use(&Floor::of(project), &[])?,
        };
        if let Some([slide_m, tilt_rad, reach_m]) = settings.last() {
            let setting = &mut bench.project.machine.setting;
            (setting.slide_m, setting.tilt_rad, setting.reach_m) = (*slide_m, *tilt_rad, *reach_m);
        }
        let all: Vec<Shot> = shots(store, &bench.project)?
            .into_iter()
            .filter(|l| l.session >= session)
            .map(|l| l.shot)
            .collect();
        let in_use = next::in_use(&Floor::of(&bench.project), &all)?;
        Ok(Session {
            seed,
            outlook: next::outlook(&bench.project, &seen(store, &bench.project)?, &in_use, &look)?,
            thrown: own.len(),
            proof: None,
            practice: Practice::resumed(
                bench.project.clone(),
                in_use,
                settings.windows(2).filter(|w| w.first() != w.last()).count(),
            ),
            begun,
            bench,
        })
    }

    fn look_again(&mut self, store: &Store) -> Result<(), Finding> {
        let all = seen(store, &self.bench.project)?;
        self.outlook = next::outlook(&self.bench.project, &all, &self.practice.in_use, &self.bench.look)?;
        Ok(())
    }

    /// Is a knob of the hood to be moved before the next throw?
    pub fn by_spanner(&self) -> bool {
        self.practice.by_spanner(&self.outlook)
    }

    /// That the hood stays as it is, where it was set often enough already; in a line.
    pub fn leaves(&self) -> Option<String> {
        (self.outlook.spanner().is_some() && !self.by_spanner()).then(|| {
            format!(
                "The hood was set {} times in this session already: left as it is.",
                practice::MOST_SPANNERS
            )
        })
    }

    /// Is it time to stop?
    pub fn stops(&self) -> bool {
        !self.by_spanner() && self.outlook.stop.as_ref().is_some_and(|s| s.now())
    }

    /// What to do next in plain words.
    pub fn says(&self) -> String {
        next::words(&self.bench.project, &self.outlook)
    }

    /// Does what the log says to do next: moves a knob, or makes the moves and throws once.
    ///
    /// # Errors
    /// As [`Bench::throw`].
    pub fn advance(&mut self, store: &mut Store) -> Result<Step, Finding> {
        let step = self.practice.obey(&self.outlook);
        self.bench.project.clone_from(&self.practice.project);
        let shot = match step {
            practice::Step::Knob => {
                self.look_again(store)?;
                return Ok(Step::Knob);
            }
            practice::Step::Stop | practice::Step::Nowhere => return Ok(Step::Stop),
            practice::Step::Throw(shot) => shot,
        };
        let Some(spot) = self.bench.project.spots.get(shot.spot_index).cloned() else {
            return Ok(Step::Stop);
        };
        let thrown = self
            .bench
            .throw(store, &spot, shot.setpoint_radps, shot.turned_rad)?;
        self.thrown += 1;
        self.look_again(store)?;
        Ok(Step::Throw(thrown))
    }

    /// Throws as a line says, whatever is to be done next.
    ///
    /// # Errors
    /// As [`Bench::asked`] and [`Bench::throw`].
    pub fn throw_as(&mut self, store: &mut Store, line: &str) -> Result<Thrown, Finding> {
        let (spot, setpoint) = self.bench.asked(line)?;
        let at = self.bench.project.spots.iter().position(|s| *s == spot);
        let used = at.and_then(|i| self.practice.in_use.get_mut(i));
        let turned_rad = used.as_ref().map_or(0.0, |u| u.turned_rad);
        let thrown = self.bench.throw(store, &spot, setpoint, turned_rad)?;
        if let Some(u) = used {
            u.setpoint_radps = setpoint;
        }
        self.thrown += 1;
        self.look_again(store)?;
        Ok(thrown)
    }

    /// Throws with every knob left alone, counted apart, with the target there whatever was looked at before.
    ///
    /// # Errors
    /// As [`Bench::throw`].
    pub fn prove(&mut self, store: &mut Store) -> Result<Proof, Finding> {
        let watched = self.bench.look;
        self.bench.look = Look {
            outcome: true,
            ..Look::default()
        };
        let done = self.throw_proof(store);
        self.bench.look = watched;
        let (hits, lines) = done?;
        let [low, high] = wilson(hits, PROOF_THROWS, 0.95);
        let share = |x| self.bench.project.say(x, D::Ratio);
        let proof = Proof {
            hits,
            lines,
            says: format!(
                "{hits} of {PROOF_THROWS} went in: between {} and {} of throws will (95 % confidence).\n",
                share(low),
                share(high)
            ),
        };
        self.proof = Some(proof.clone());
        Ok(proof)
    }

    fn throw_proof(&mut self, store: &mut Store) -> Result<(u64, String), Finding> {
        let (mut hits, mut lines) = (0, String::new());
        for k in 0..PROOF_THROWS as usize {
            let i = k % self.bench.project.spots.len().max(1);
            let (Some(spot), Some(u)) = (
                self.bench.project.spots.get(i).cloned(),
                self.practice.in_use.get(i),
            ) else {
                break;
            };
            let (setpoint, turned) = (u.setpoint_radps, u.turned_rad);
            let thrown = self.bench.throw(store, &spot, setpoint, turned)?;
            lines.push_str(&thrown.says);
            hits += u64::from(thrown.outcome == Some(Outcome::In));
        }
        Ok((hits, lines))
    }

    /// The truth is known here: what the table brings, beside what a person by hand would have in the same machine.
    pub fn truth(&self) -> (String, Value) {
        let (begun, thrown, project) = (&self.begun, self.thrown, &self.bench.project);
        let learned = by_hand::counted(project, &begun.machine, &self.practice.in_use);
        let hand = [1, 2].map(|times| {
            let mut machine = begun.machine.clone();
            let tables = by_hand::tune(
                &begun.project,
                &mut machine,
                &begun.design,
                &self.bench.look,
                times * thrown,
            );
            let last = tables.last().map_or(&begun.design[..], Vec::as_slice);
            by_hand::counted(&begun.project, &begun.machine, last)
        });
        let untuned = by_hand::counted(&begun.project, &begun.machine, &begun.design);
        let each = |hits: &[f64]| {
            let list: Vec<String> = project
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

    /// How the machine truly differs from its project, in sentences.
    pub fn secret(&self) -> Vec<String> {
        let machine = &self.begun.machine;
        let angle = |x: f64| self.bench.project.say(x.abs(), D::Angle);
        vec![
            format!(
                "It threw {} {} than the same launcher as computed.",
                angle(machine.angle_error_rad),
                if machine.angle_error_rad > 0.0 {
                    "steeper"
                } else {
                    "flatter"
                }
            ),
            format!(
                "It threw {} to the {} of where it pointed.",
                angle(machine.aim_error_rad),
                if machine.aim_error_rad > 0.0 {
                    "left"
                } else {
                    "right"
                }
            ),
            "Friction, stiffness, drag and whatever else the file calls untested were drawn within their ranges."
                .into(),
        ]
    }
}
