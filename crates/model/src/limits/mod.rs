//! The brief's limits as verdicts: what holds, by how much, and what would mend what does not.

mod aiming;
mod bite;
mod body;
mod frame;
mod guide;
mod hazards;
mod power;
mod room;
mod wheel;

pub use aiming::shortfall_words;
pub use bite::THROWS_COUNT;
pub use frame::{
    BaseChoice, BaseFigures, DIRECTIONS, Direction, FRAME_CHECKS, FrameCheck, FrameEvidence, FrameReport,
    GivingGuide, GuideGive, PowerFigures, RimFigures, ShaftFigures, ShakeScatter, SheetChoice,
    SupportFigures, allowed_block, blocks, chance_words, frame_report, free_rooms, giving_guide, inside_m,
    rims, shake_scatter, sheet_choices, weighed,
};
pub use guide::guide_words;
pub use hazards::{Hazards, hazards};
pub use power::not_ready_words;
pub use room::{case_words, room_words, travel_words, unknown_name, verdict as room_verdict};

use crate::aim::{self, BestSetting, Depth, ExitCurve, Room, SpotAim};
use crate::launcher::plateau::Plateau;
use crate::project::{Project, Way};
use crate::shot::Chain;
use crate::units::Dimension;
use crate::volley_run::{VolleyRun, run_from};

/// How a check ended. Always shown as a word.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Status {
    /// Holds with margin.
    Holds,
    /// Holds, with less margin than is wise.
    Tight,
    /// An input is missing; `why` says which.
    Unknown,
    /// Does not hold.
    Fails,
}

impl Status {
    /// The word shown.
    pub fn word(self) -> &'static str {
        match self {
            Status::Holds => "holds",
            Status::Tight => "tight",
            Status::Unknown => "unknown",
            Status::Fails => "fails",
        }
    }
}

/// A number with its dimension, SI.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Amount {
    /// Value in SI.
    pub value: f64,
    /// Dimension, for showing it.
    pub dimension: Dimension,
}

/// The answer of one check for one subject.
#[derive(Clone, Debug, PartialEq)]
pub struct Verdict {
    /// Id of the check, from [`CHECKS`].
    pub check: &'static str,
    /// What it is about, such as a spot's name; empty for the whole machine.
    pub subject: String,
    /// How it ended.
    pub status: Status,
    /// What was found.
    pub found: Option<Amount>,
    /// What was asked.
    pub asked: Option<Amount>,
    /// Found against asked, positive when it holds, in the same dimension.
    pub margin: Option<Amount>,
    /// Why, in plain words with numbers in the user's units.
    pub why: String,
    /// What would mend it; empty when it holds.
    pub mend: String,
    /// Changes of the brief that would make it hold on this machine: keys and values.
    pub nearest_brief: Vec<(String, Amount)>,
}

/// Everything the checks read, worked out once.
pub struct Evidence<'a> {
    /// The project.
    pub project: &'a Project,
    /// Its chain.
    pub chain: &'a Chain,
    /// Exit against wheel speed at the present setting.
    pub curve: &'a ExitCurve,
    /// Aim from each spot at the present setting.
    pub aims: &'a [SpotAim],
    /// Where the launcher sits against the no-slip plateau, at the fastest setpoint (or near the top speed).
    pub plateau: Option<&'a Plateau>,
    /// The volley from the spot that needs the fastest wheel.
    pub volley: Option<&'a VolleyRun>,
    /// The best setting, when the present one does not serve every spot and there is a knob to move.
    pub best: Option<&'a BestSetting>,
    /// Room to adjust; `None` where it was not worked out.
    pub room: Option<&'a Room>,
}

/// One check.
pub struct Check {
    /// Id, as in `docs/checks.md`.
    pub id: &'static str,
    /// What it asks, in one line.
    pub asks: &'static str,
    /// Runs it. No verdict when the brief asks nothing of the kind.
    pub run: fn(&Evidence) -> Vec<Verdict>,
}

/// All checks, in the order shown.
pub const CHECKS: &[Check] = &[
    Check {
        id: "reach",
        asks: "does a wheel speed within the limits centre every spot?",
        run: aiming::reach,
    },
    Check {
        id: "clearance",
        asks: "does the piece clear the rim by what is asked?",
        run: aiming::clearance,
    },
    Check {
        id: "entry",
        asks: "does it come down steeply enough?",
        run: aiming::entry,
    },
    Check {
        id: "one-setting",
        asks: "does one mechanical setting serve every spot by wheel speed alone?",
        run: aiming::one_setting,
    },
    Check {
        id: "adjustability",
        asks: "can every spot still be centred wherever the unknown quantities turn out to lie?",
        run: room::adjustability,
    },
    Check {
        id: "grip",
        asks: "does the piece reach rolling before it leaves?",
        run: wheel::grip,
    },
    Check {
        id: "bite",
        asks: "does the wheel bridge the holes and the seam of the piece?",
        run: bite::bite,
    },
    Check {
        id: "exit-speed",
        asks: "does it stay below the exit speed the rules allow?",
        run: wheel::exit_speed,
    },
    Check {
        id: "spin-up",
        asks: "is the wheel ready in the time asked?",
        run: power::spin_up,
    },
    Check {
        id: "recovery",
        asks: "is the wheel back before the next throw?",
        run: power::recovery,
    },
    Check {
        id: "speed-loop",
        asks: "does the wheel-speed controller settle?",
        run: power::speed_loop,
    },
    Check {
        id: "current",
        asks: "does the current stay below the fuse?",
        run: power::current,
    },
    Check {
        id: "brown-out",
        asks: "does the voltage stay above the reset level?",
        run: power::brown_out,
    },
    Check {
        id: "rim-speed",
        asks: "does the wheel stay below its rim speed limit?",
        run: wheel::rim_speed,
    },
    Check {
        id: "guide-bend",
        asks: "can the guide sheet be curved cold to its radius?",
        run: wheel::guide_bend,
    },
    Check {
        id: "guide",
        asks: "is the squeeze even along the guide?",
        run: guide::guide,
    },
    Check {
        id: "size",
        asks: "does the robot fit the size limits?",
        run: body::size,
    },
    Check {
        id: "mass",
        asks: "is it light enough?",
        run: body::mass,
    },
    Check {
        id: "motors",
        asks: "are there few enough motors?",
        run: body::motors,
    },
];

/// Everything `check` finds.
pub struct Report {
    /// Chain used.
    pub chain: Chain,
    /// Exit curve at the present setting.
    pub curve: ExitCurve,
    /// Aims.
    pub aims: Vec<SpotAim>,
    /// Plateau at the fastest setpoint.
    pub plateau: Option<Plateau>,
    /// Volley at the fastest setpoint.
    pub volley: Option<VolleyRun>,
    /// What can hurt.
    pub hazards: Hazards,
    /// Best setting, when asked for or needed.
    pub best: Option<BestSetting>,
    /// Room to adjust, at [`Depth::First`]; `None` where it was not worked out.
    pub room: Option<Room>,
    /// The rest of the machine; `None` where the project does not describe it, or it was left out.
    pub frame: Option<FrameReport>,
    /// Verdicts in the order of [`CHECKS`], then of [`FRAME_CHECKS`].
    pub verdicts: Vec<Verdict>,
}

/// Method: points of the exit curve; cubic interpolation between them only guides the exact solver.
pub const CURVE_POINTS: usize = 24;

/// Runs the whole chain and every check, those of the frame with them.
pub fn check(project: &Project) -> Report {
    with_frame(project, checked(project, true))
}

/// What needs no search: for a dimension that is being moved.
/// Neither the best setting nor the room to adjust is looked for, so there is no verdict on adjustability and less to
/// say on what would mend.
pub fn check_unsearched(project: &Project) -> Report {
    with_frame(project, checked(project, false))
}

/// [`check_unsearched`] of the launcher alone, without the frame: for the many designs of a search over the launcher.
pub fn check_launcher(project: &Project) -> Report {
    checked(project, false)
}

fn with_frame(project: &Project, mut report: Report) -> Report {
    let frame = frame::of_report(project, &report);
    report
        .verdicts
        .extend(frame.iter().flat_map(|f| f.verdicts.iter().cloned()));
    Report { frame, ..report }
}

fn checked(project: &Project, searched: bool) -> Report {
    let chain = Chain::of(project);
    let setting = project.machine.setting;
    let curve = ExitCurve::of(&chain, &setting, CURVE_POINTS);
    let aims = aim::aim_all(project, &chain, &curve, &setting);
    let fastest = fastest(&aims);
    // With no setpoint at all, grip is looked at near the top speed: its lack may be the reason.
    let at_radps = fastest
        .and_then(|a| a.best())
        .map_or(chain.top_radps * (1.0 - project.limits.speed_reserve_frac), |s| {
            s.wheel_radps
        });
    let plateau = chain.plateau(&setting, at_radps);
    let volley = fastest.and_then(|a| run_from(project, &chain, a, false));
    let served = aims.iter().all(|a| aim::shortfall(project, a).is_empty());
    let best = if served || !searched {
        None
    } else {
        aim::best_setting(project, &chain)
    };
    let room = searched.then(|| aim::room(project, Depth::First, best.as_ref()));
    let evidence = Evidence {
        project,
        chain: &chain,
        curve: &curve,
        aims: &aims,
        plateau: plateau.as_ref(),
        volley: volley.as_ref(),
        best: best.as_ref(),
        room: room.as_ref(),
    };
    let verdicts = CHECKS.iter().flat_map(|c| (c.run)(&evidence)).collect();
    let hazards = hazards(project, &chain, &aims);
    Report {
        chain,
        hazards,
        curve,
        aims,
        plateau,
        volley,
        best,
        room,
        frame: None,
        verdicts,
    }
}

/// The spot that needs the fastest wheel.
pub fn fastest(aims: &[SpotAim]) -> Option<&SpotAim> {
    aims.iter().filter(|a| a.best().is_some()).max_by(|a, b| {
        let w = |x: &SpotAim| x.best().map_or(0.0, |s| s.wheel_radps);
        w(a).total_cmp(&w(b))
    })
}

/// The worst status of a list; holds for an empty one.
pub fn worst(verdicts: &[Verdict]) -> Status {
    verdicts.iter().map(|v| v.status).max().unwrap_or(Status::Holds)
}

/// A margin below this share of what is asked is called tight. Common practice, no source.
const TIGHT_SHARE: f64 = 0.1;

/// Holds, tight or fails for a quantity that must not exceed a limit.
fn at_most(found: f64, limit: f64) -> Status {
    if !(found <= limit) {
        Status::Fails
    } else if limit - found < TIGHT_SHARE * limit.abs() {
        Status::Tight
    } else {
        Status::Holds
    }
}

/// Holds, tight or fails for a quantity that must reach a level.
fn at_least(found: f64, level: f64) -> Status {
    if !(found >= level) {
        Status::Fails
    } else if found - level < TIGHT_SHARE * level.abs() {
        Status::Tight
    } else {
        Status::Holds
    }
}

impl Verdict {
    fn new(check: &'static str, subject: &str, status: Status, why: String) -> Verdict {
        Verdict {
            check,
            subject: subject.to_string(),
            status,
            found: None,
            asked: None,
            margin: None,
            why,
            mend: String::new(),
            nearest_brief: Vec::new(),
        }
    }

    fn unknown(check: &'static str, missing: &str, fix: &str) -> Verdict {
        let mut v = Verdict::new(check, "", Status::Unknown, format!("`{missing}` is not given"));
        v.mend = fix.to_string();
        v
    }

    /// Adds found, asked and the margin (positive when it holds).
    fn numbers(mut self, dimension: Dimension, found: f64, asked: f64, margin: f64) -> Verdict {
        let amount = |value| Some(Amount { value, dimension });
        (self.found, self.asked, self.margin) = (amount(found), amount(asked), amount(margin));
        self
    }

    fn mend(mut self, text: String) -> Verdict {
        if self.status != Status::Holds {
            self.mend = text;
        }
        self
    }

    /// Adds a change of the brief, as it would be written into the file, that this machine meets.
    fn brief(mut self, e: &Evidence, key: &str, value: f64, dimension: Dimension, way: Way) -> Verdict {
        if self.status == Status::Fails {
            let value = e.project.written(value, dimension, way);
            self.nearest_brief
                .push((key.to_string(), Amount { value, dimension }));
        }
        self
    }
}
