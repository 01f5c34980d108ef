//! The rest of the machine as verdicts: base, power, shaft and supports, wires, parts, guide sheet.

mod base;
mod body;
mod electrical;
mod links;
mod rims;
mod rotating;
mod shake;
mod sheet;

pub use base::{BaseChoice, BaseFigures, DIRECTIONS, Direction, weighed};
pub use body::inside_m;
pub use electrical::{PowerFigures, chance_words};
pub use rims::{RimFigures, rims};
pub use rotating::{ShaftFigures, SupportFigures};
pub use shake::{ShakeScatter, shake_scatter};
pub use sheet::{GivingGuide, GuideGive, SheetChoice, giving_guide, sheet_choices};

use super::{Report, Verdict, check_unsearched};
use crate::frame::mass::{Block, envelope, free_block};
use crate::launcher::Passage;
use crate::project::{Frame, Project};
use crate::volley_run::{VolleyRun, run_from};

/// Everything the checks of the frame read.
pub struct FrameEvidence<'a> {
    /// The project.
    pub project: &'a Project,
    /// Its frame.
    pub frame: &'a Frame,
    /// The launcher's own report.
    pub report: &'a Report,
    /// The base in figures; `None` without motor or mass.
    pub base: Option<&'a BaseFigures>,
    /// Greatest force of the piece on guide and wheel at the fastest setpoint; `None` when nothing is thrown.
    pub piece_n: Option<f64>,
    /// A volley from the spot that needs the fastest wheel, with samples.
    pub volley: Option<&'a VolleyRun>,
    /// What a match takes from breaker and battery; `None` where the file does not describe power.
    pub power: Option<&'a PowerFigures>,
}

/// One check of the frame.
pub struct FrameCheck {
    /// Id, as in `docs/frame.md`.
    pub id: &'static str,
    /// What it asks.
    pub asks: &'static str,
    /// Runs it. No verdict where the file says nothing of the kind.
    pub run: fn(&FrameEvidence) -> Vec<Verdict>,
}

/// All checks of the frame, in the order shown.
pub const FRAME_CHECKS: &[FrameCheck] = &[
    FrameCheck {
        id: "push",
        asks: "do the wheels slip before the drive motors are held still?",
        run: electrical::push,
    },
    FrameCheck {
        id: "turn",
        asks: "can the base turn on the spot?",
        run: body::turn,
    },
    FrameCheck {
        id: "tip-over",
        asks: "does it stay on its wheels when it brakes and on slopes?",
        run: body::tip_over,
    },
    FrameCheck {
        id: "breaker",
        asks: "does the main breaker carry a match?",
        run: electrical::breaker,
    },
    FrameCheck {
        id: "frame-brown-out",
        asks: "does the voltage hold when everything draws at once?",
        run: electrical::brown_out,
    },
    FrameCheck {
        id: "charge",
        asks: "does a charge last a match, and how many?",
        run: electrical::charge,
    },
    FrameCheck {
        id: "wires",
        asks: "are the wires thick enough?",
        run: electrical::wires,
    },
    FrameCheck {
        id: "shaft-speed",
        asks: "does the wheel's shaft stay below its first critical speed?",
        run: rotating::shaft_speed,
    },
    FrameCheck {
        id: "shaft-bend",
        asks: "is the shaft strong enough?",
        run: rotating::shaft_bend,
    },
    FrameCheck {
        id: "support",
        asks: "do the shaft's bearings or bushings bear speed and load?",
        run: rotating::support,
    },
    FrameCheck {
        id: "rim-stress",
        asks: "do wheels and printed parts bear the stress of turning?",
        run: rims::rim_stress,
    },
    FrameCheck {
        id: "links",
        asks: "do chains, belts and gears fit their shafts?",
        run: links::links,
    },
    FrameCheck {
        id: "guide-give",
        asks: "does the guide's sheet keep its shape under the piece?",
        run: sheet::guide_give,
    },
    FrameCheck {
        id: "parts-fit",
        asks: "do the listed parts fit the size limits?",
        run: body::parts_fit,
    },
    FrameCheck {
        id: "parts-unfolded",
        asks: "do they fit with everything out that moves out?",
        run: body::unfolded_fit,
    },
    FrameCheck {
        id: "hold",
        asks: "do heavy parts stay in place in a collision?",
        run: body::hold,
    },
];

/// What `frame` says.
pub struct FrameReport {
    /// Base.
    pub base: Option<BaseFigures>,
    /// Power.
    pub power: Option<PowerFigures>,
    /// Shaft.
    pub shaft: Option<ShaftFigures>,
    /// Guide sheet.
    pub guide: Option<GuideGive>,
    /// Block around the listed parts, stowed.
    pub stowed: Option<Block>,
    /// Block around them, unfolded.
    pub unfolded: Option<Block>,
    /// Verdicts in the order of [`FRAME_CHECKS`].
    pub verdicts: Vec<Verdict>,
}

/// Blocks of the listed parts, unfolded or not.
pub fn blocks(frame: &Frame, unfolded: bool) -> Vec<Block> {
    frame
        .parts
        .iter()
        .map(|p| {
            let share = f64::from(u8::from(unfolded));
            let at_m = [0, 1, 2].map(|i: usize| p.at_m[i] + share * p.out_m[i]);
            Block::about(at_m, p.size_m)
        })
        .collect()
}

/// The room that the limits of the brief allow, about the middle of the base; `None` where one is not given.
pub fn allowed_block(project: &Project) -> Option<Block> {
    let l = &project.limits;
    let size_m = [l.length_m?, l.width_m?, l.height_m?];
    Some(Block::about([0.0, 0.0, 0.5 * size_m[2]], size_m))
}

/// Blocks within the size limits that no listed part touches, the greatest first, each beside those before it. None where
/// no parts are listed or a size limit is not given.
pub fn free_rooms(project: &Project, most_count: usize) -> Vec<Block> {
    let Some(frame) = &project.frame else {
        return Vec::new();
    };
    let mut taken = blocks(frame, false);
    let (Some(room), false) = (allowed_block(project), taken.is_empty()) else {
        return Vec::new();
    };
    let mut free = Vec::new();
    while free.len() < most_count
        && let Some(block) = free_block(&room, &taken)
    {
        taken.push(block);
        free.push(block);
    }
    free
}

/// The frame of [`check_unsearched`]; `None` where the project has none.
pub fn frame_report(project: &Project) -> Option<FrameReport> {
    check_unsearched(project).frame
}

/// Works the frame out beside the launcher's report; `None` where the project has none.
pub(super) fn of_report(project: &Project, report: &Report) -> Option<FrameReport> {
    let frame = project.frame.as_ref()?;
    let fastest = super::fastest(&report.aims);
    let setpoint = fastest.and_then(|a| a.best()).map(|s| s.wheel_radps);
    let piece_n = setpoint.and_then(
        |w| match report.chain.release(&project.machine.setting, w, false) {
            Passage::Thrown(r) => Some(r.peak_guide_n),
            Passage::Refused { .. } => None,
        },
    );
    let volley = fastest.and_then(|a| run_from(project, &report.chain, a, true));
    let base = BaseFigures::of(project);
    let mut evidence = FrameEvidence {
        project,
        frame,
        report,
        base: base.as_ref(),
        piece_n,
        volley: volley.as_ref(),
        power: None,
    };
    let power = PowerFigures::of(&evidence);
    evidence.power = power.as_ref();
    let verdicts = FRAME_CHECKS.iter().flat_map(|c| (c.run)(&evidence)).collect();
    let shaft = ShaftFigures::of(&evidence);
    let guide = GuideGive::of(&evidence);
    let stowed = blocks(frame, false);
    Some(FrameReport {
        power: power.clone(),
        shaft,
        guide,
        stowed: envelope(&stowed),
        unfolded: envelope(&blocks(frame, true)),
        verdicts,
        base,
    })
}
