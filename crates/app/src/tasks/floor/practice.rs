//! Hidden machines tuned by what `floor next` says and by hand, to see after how many shots every spot is right.

use std::collections::HashMap;

use arcwright_model::finding::Finding;
use arcwright_model::floor::Shot;
use arcwright_model::floor::rehearse::{HiddenProject, Look};
use arcwright_model::launcher::Setting;
use arcwright_model::project::Project;

use super::Floor;
use super::by_hand;
use super::next::{self, InUse, NextShot, Outlook, whole_rpm};

/// Method: times that a knob is moved by a spanner in one session.
pub const MOST_SPANNERS: usize = 2;
/// Method: shots of a session without a sign to stop, and of a session by hand.
pub const MOST_SHOTS: usize = 40;
/// Method: a spot is right from here on: what a team wants of every spot.
pub const RIGHT_FRAC: f64 = 0.9;
/// Method: where a machine scatters too much for that, it is right this near to the most that any speed brings.
pub const NEAR_MOST_FRAC: f64 = 0.05;
/// Method: turns are told apart to this, under a centimetre at four metres.
const TURN_STEP_RAD: f64 = 2e-3;

/// What a person does who does what an outlook says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Step {
    /// A knob was loosened and set: ask again.
    Knob,
    /// Nothing is left to do.
    Stop,
    /// Throw this.
    Throw(NextShot),
    /// There is nothing that could be thrown.
    Nowhere,
}

/// A session as it stands.
#[derive(Clone, Debug)]
pub struct Practice {
    /// The project with its knobs where they stand.
    pub project: Project,
    /// How each spot is thrown from.
    pub in_use: Vec<InUse>,
    spanners: usize,
}

impl Practice {
    /// Begins with the design's speeds.
    ///
    /// # Errors
    /// `no-setpoint` for a spot that the design does not reach.
    pub fn begun(project: &Project) -> Result<Practice, Finding> {
        Ok(Practice {
            in_use: next::in_use(&Floor::of(project), &[])?,
            project: project.clone(),
            spanners: 0,
        })
    }

    /// Goes on with the knobs and speeds as they stand, after so many moves by a spanner.
    pub fn resumed(project: Project, in_use: Vec<InUse>, spanners: usize) -> Practice {
        Practice {
            project,
            in_use,
            spanners,
        }
    }

    /// Is a knob to be moved by a spanner before the next throw?
    pub fn by_spanner(&self, outlook: &Outlook) -> bool {
        self.spanners < MOST_SPANNERS && outlook.spanner().is_some()
    }

    /// Sets what an outlook says.
    pub fn obey(&mut self, outlook: &Outlook) -> Step {
        if let Some(m) = outlook.spanner().filter(|_| self.spanners < MOST_SPANNERS) {
            self.spanners += 1;
            self.project.machine.setting = m.then.setting;
            for (u, s) in self.in_use.iter_mut().zip(&m.then.spots) {
                u.setpoint_radps = s.wheel_radps.map_or(u.setpoint_radps, whole_rpm);
            }
            return Step::Knob;
        }
        for m in &outlook.moves {
            if let Some(u) = self.in_use.get_mut(m.spot_index) {
                if m.change.knob == "turn" {
                    u.turned_rad = m.to;
                } else {
                    u.setpoint_radps = m.to;
                }
            }
        }
        if outlook.stop.as_ref().is_some_and(|s| s.now()) {
            return Step::Stop;
        }
        outlook.shot.map_or(Step::Nowhere, Step::Throw)
    }
}

/// How a session went.
#[derive(Clone, Debug, PartialEq)]
pub struct Went {
    /// Shots after which every spot was right and stayed so; none when that never came.
    pub right_after: Option<usize>,
    /// Shots after which the sign to stop came; none when it did not, and by hand, where there is none.
    pub stopped_after: Option<usize>,
    /// True share of hits from each spot at the end.
    pub hit_frac: Vec<f64>,
}

/// One hidden machine tuned both ways.
#[derive(Clone, Debug, PartialEq)]
pub struct Trial {
    /// Its seed.
    pub seed: u64,
    /// Share of hits from which each spot counts as right.
    pub wanted_frac: Vec<f64>,
    /// By what `floor next` says.
    pub by_next: Went,
    /// By hand with the same eyes.
    pub by_hand: Went,
}

/// Setting of the knobs and how each spot is thrown from.
type Table = (Setting, Vec<InUse>);

/// What a hidden machine truly does; what was counted once is remembered.
struct Truth<'a> {
    project: &'a Project,
    machine: &'a HiddenProject,
    known: HashMap<(usize, [u64; 3], i64, i64), f64>,
}

impl Truth<'_> {
    fn hit_frac(&mut self, spot_index: usize, setting: &Setting, used: &InUse) -> f64 {
        let rpm = whole_rpm(used.setpoint_radps);
        let turns = (used.turned_rad / TURN_STEP_RAD).round();
        let place = [setting.tilt_rad, setting.slide_m, setting.reach_m].map(f64::to_bits);
        let key = (spot_index, place, rpm.to_bits() as i64, turns as i64);
        if let Some(known) = self.known.get(&key) {
            return *known;
        }
        let mut project = self.project.clone();
        project.machine.setting = *setting;
        let used = InUse {
            setpoint_radps: rpm,
            turned_rad: turns * TURN_STEP_RAD,
            fresh: false,
        };
        let frac = project.spots.get(spot_index).map_or(0.0, |spot| {
            by_hand::counted_from(&project, self.machine, spot, &used)
        });
        self.known.insert(key, frac);
        frac
    }

    /// The most that wheel speed and turn can bring at a spot, with the knobs as written: about the speed by which the
    /// machine as it truly is centres the throw.
    fn most_frac(&mut self, spot_index: usize, tried: &[InUse]) -> f64 {
        /// Method: shares of the speed looked at beside it.
        const BESIDE: [f64; 7] = [-0.03, -0.02, -0.01, 0.0, 0.01, 0.02, 0.03];
        let setting = self.project.machine.setting;
        let mut truth = self.machine.truth.clone();
        truth.machine.exit_offset_rad += self.machine.angle_error_rad;
        let centred = truth
            .spots
            .get(spot_index)
            .and_then(|spot| Floor::of(&truth).aimed(spot, &setting).ok());
        let mut all = tried.to_vec();
        all.extend(centred.into_iter().flat_map(|w| {
            BESIDE.map(|by| InUse {
                setpoint_radps: w * (1.0 + by),
                turned_rad: -self.machine.aim_error_rad,
                fresh: false,
            })
        }));
        let each = all.iter().map(|u| self.hit_frac(spot_index, &setting, u));
        each.fold(0.0, f64::max)
    }

    /// Shots after which every table is right.
    fn right_after(&mut self, tables: &[Table], wanted: &[f64]) -> Option<usize> {
        let mut first = None;
        for (shots, (setting, used)) in tables.iter().enumerate().rev() {
            let mut spots = used.iter().zip(wanted).enumerate();
            if !spots.all(|(i, (u, want))| self.hit_frac(i, setting, u) >= *want) {
                break;
            }
            first = Some(shots);
        }
        first
    }
}

/// Tunes the machine of a seed both ways with the same eyes.
///
/// # Errors
/// What the design or the fit says.
pub fn trial(project: &Project, seed: u64, machine: &HiddenProject, look: &Look) -> Result<Trial, Finding> {
    let (learned, stopped_after) = by_next(project, &mut machine.clone(), look)?;
    let begun = Practice::begun(project)?;
    let setting = project.machine.setting;
    let hand: Vec<Table> = by_hand::tune(project, &mut machine.clone(), &begun.in_use, look, MOST_SHOTS)
        .into_iter()
        .map(|table| (setting, table))
        .collect();
    let mut truth = Truth {
        project,
        machine,
        known: HashMap::new(),
    };
    let ends: Vec<Vec<InUse>> = [&learned, &hand]
        .into_iter()
        .filter_map(|t| t.last().filter(|(s, _)| *s == setting).map(|(_, u)| u.clone()))
        .collect();
    let wanted_frac: Vec<f64> = (0..project.spots.len())
        .map(|i| {
            let tried: Vec<InUse> = ends.iter().filter_map(|t| t.get(i).copied()).collect();
            RIGHT_FRAC.min(truth.most_frac(i, &tried) - NEAR_MOST_FRAC)
        })
        .collect();
    let mut went = |tables: &[Table], stopped_after| Went {
        right_after: truth.right_after(tables, &wanted_frac),
        stopped_after,
        hit_frac: tables.last().map_or(Vec::new(), |(setting, used)| {
            let spots = used.iter().enumerate();
            spots.map(|(i, u)| truth.hit_frac(i, setting, u)).collect()
        }),
    };
    Ok(Trial {
        seed,
        by_next: went(&learned, stopped_after),
        by_hand: went(&hand, None),
        wanted_frac,
    })
}

/// The table after each shot by what `floor next` says, and after how many the sign to stop came.
fn by_next(
    project: &Project,
    machine: &mut HiddenProject,
    look: &Look,
) -> Result<(Vec<Table>, Option<usize>), Finding> {
    let mut practice = Practice::begun(project)?;
    let mut shots: Vec<Shot> = Vec::new();
    let mut tables: Vec<Table> = Vec::new();
    // A machine that refuses the throw is asked no more often than it may throw.
    let mut refused = 0;
    loop {
        let outlook = next::outlook(&practice.project, &shots, &practice.in_use, look)?;
        let step = practice.obey(&outlook);
        let now = (practice.project.machine.setting, practice.in_use.clone());
        tables.truncate(shots.len());
        tables.push(now);
        match step {
            Step::Knob => {}
            Step::Stop => return Ok((tables, Some(shots.len()))),
            Step::Nowhere => return Ok((tables, None)),
            Step::Throw(_) if shots.len() + refused >= MOST_SHOTS => return Ok((tables, None)),
            Step::Throw(next) => {
                let Some(spot) = practice.project.spots.get(next.spot_index) else {
                    return Ok((tables, None));
                };
                let used = InUse {
                    setpoint_radps: next.setpoint_radps,
                    turned_rad: next.turned_rad,
                    fresh: false,
                };
                match machine.throw(&by_hand::ask(&practice.project, spot, &used), look) {
                    Ok(shot) => shots.push(shot),
                    Err(_) => refused += 1,
                }
            }
        }
    }
}

/// The middle one of counts, those that never came as more than all; none when that is the middle.
fn median(counts: impl Iterator<Item = Option<usize>>) -> Option<usize> {
    let mut all: Vec<usize> = counts.map(|c| c.unwrap_or(usize::MAX)).collect();
    all.sort_unstable();
    let upper = all.get(all.len() / 2).copied()?;
    (upper != usize::MAX).then_some(upper)
}

/// What a number of machines come to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Summary {
    /// Half of the machines were right by so many shots by what `floor next` says.
    pub next_right_after: Option<usize>,
    /// By hand.
    pub hand_right_after: Option<usize>,
    /// Half of them had the sign to stop by then.
    pub stopped_after: Option<usize>,
    /// Machines that had it.
    pub stopped_count: usize,
    /// Machines that had it and were right then.
    pub right_at_stop_count: usize,
    /// Machines that were right earlier than by hand, as early, later.
    pub earlier_count: [usize; 3],
}

/// Adds up.
pub fn summary(trials: &[Trial]) -> Summary {
    let stopped = || trials.iter().filter(|t| t.by_next.stopped_after.is_some());
    let never = usize::MAX;
    let mut earlier_count = [0; 3];
    for t in trials {
        let (a, b) = (
            t.by_next.right_after.unwrap_or(never),
            t.by_hand.right_after.unwrap_or(never),
        );
        let place = match a.cmp(&b) {
            std::cmp::Ordering::Less => 0,
            std::cmp::Ordering::Equal => 1,
            std::cmp::Ordering::Greater => 2,
        };
        if let Some(n) = earlier_count.get_mut(place) {
            *n += 1;
        }
    }
    Summary {
        next_right_after: median(trials.iter().map(|t| t.by_next.right_after)),
        hand_right_after: median(trials.iter().map(|t| t.by_hand.right_after)),
        stopped_after: median(trials.iter().map(|t| t.by_next.stopped_after)),
        stopped_count: stopped().count(),
        right_at_stop_count: stopped().filter(|t| t.by_next.right_after.is_some()).count(),
        earlier_count,
    }
}

/// One line for a machine.
pub fn line(project: &Project, trial: &Trial) -> String {
    let count = |n: Option<usize>| n.map_or("-".to_string(), |n| n.to_string());
    let hits = |went: &Went| {
        let each = project.spots.iter().zip(&went.hit_frac);
        let each: Vec<String> = each
            .map(|(s, h)| format!("{} {:.0}", s.name, 100.0 * h))
            .collect();
        each.join(", ")
    };
    format!(
        "{:>6}{:>9}{:>7}{:>8}   {}; by hand {}\n",
        trial.seed,
        count(trial.by_next.right_after),
        count(trial.by_next.stopped_after),
        count(trial.by_hand.right_after),
        hits(&trial.by_next),
        hits(&trial.by_hand)
    )
}

/// Head of the lines.
pub fn head() -> String {
    format!(
        "A spot is right when {:.0} of 100 throws truly go in, or within {:.0} of the most that any speed brings where the machine\n\
         scatters too much for that. Shots until every spot is right and stays so, and until the sign to stop:\n\n\
         {:>6}{:>9}{:>7}{:>8}   hits in 100 at the end (by hand after {MOST_SHOTS} shots)\n",
        100.0 * RIGHT_FRAC,
        100.0 * NEAR_MOST_FRAC,
        "seed",
        "next",
        "stop",
        "hand"
    )
}

/// The sentence below them.
pub fn words(trials: &[Trial]) -> String {
    let s = summary(trials);
    let by = |n: Option<usize>| n.map_or("not within the session".to_string(), |n| format!("by {n} shots"));
    let [earlier, same, later] = s.earlier_count;
    format!(
        "Half of {} machines were right {} by what `floor next` says, {} by hand; earlier than by hand {earlier}, as early {same}, \
         later {later}.\nHalf had the sign to stop {}; of the {} that had it, {} were right then. By hand there is no sign.\n",
        trials.len(),
        by(s.next_right_after),
        by(s.hand_right_after),
        by(s.stopped_after),
        s.stopped_count,
        s.right_at_stop_count,
    )
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn what_never_came_counts_as_late_and_an_early_one_as_early() {
        assert_eq!(median([Some(3), None, Some(9)].into_iter()), Some(9));
        assert_eq!(median([None, None, Some(9)].into_iter()), None);
        let went = |right_after| Went {
            right_after,
            stopped_after: Some(20),
            hit_frac: vec![0.9],
        };
        let trial = |a, b| Trial {
            seed: 1,
            wanted_frac: vec![0.9],
            by_next: went(a),
            by_hand: went(b),
        };
        let all = [
            trial(Some(4), Some(9)),
            trial(None, Some(9)),
            trial(Some(5), None),
            trial(None, None),
        ];
        let s = summary(&all);
        assert_eq!(s.earlier_count, [2, 1, 1]);
        assert_eq!(s.right_at_stop_count, 2);
        assert_eq!(s.stopped_count, 4);
    }
}
