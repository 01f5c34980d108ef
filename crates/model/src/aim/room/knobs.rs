//! The mechanical knobs by name, and what the cases use of their travel.

use super::{KnobUse, RoomCase};
use crate::launcher::{Layout, Setting};
use crate::project::{KnobTravel, Project};
use crate::units::Dimension;

/// A mechanical knob.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Knob {
    /// Slide.
    Slide,
    /// Tilt.
    Tilt,
    /// Reach.
    Reach,
}

impl Knob {
    /// All of them.
    pub const ALL: [Knob; 3] = [Knob::Slide, Knob::Tilt, Knob::Reach];

    /// The word shown, which is also its name in the project file.
    pub fn word(self) -> &'static str {
        match self {
            Knob::Slide => "slide",
            Knob::Tilt => "tilt",
            Knob::Reach => "reach",
        }
    }

    /// The key of its setting.
    pub fn key(self) -> &'static str {
        match self {
            Knob::Slide => "setting.slide",
            Knob::Tilt => "setting.tilt",
            Knob::Reach => "setting.reach",
        }
    }

    /// Dimension of its values.
    pub fn dimension(self) -> Dimension {
        match self {
            Knob::Slide | Knob::Reach => Dimension::Length,
            Knob::Tilt => Dimension::Angle,
        }
    }

    /// Its travel; `None` when the machine does not have it, when it moves nothing (slide and reach
    /// belong to the hood of a guide), or when the travel has no length.
    pub fn travel(self, project: &Project) -> Option<KnobTravel> {
        let hood = matches!(project.machine.layout, Layout::Guide(_));
        let knobs = &project.machine.knobs;
        let travel = match self {
            Knob::Slide => knobs.slide.filter(|_| hood),
            Knob::Tilt => knobs.tilt,
            Knob::Reach => knobs.reach.filter(|_| hood),
        };
        travel.filter(|t| t.low < t.high && t.low.is_finite() && t.high.is_finite() && t.step.is_finite())
    }

    /// Replaces its travel; nothing happens where the machine does not have it.
    pub fn set_travel(self, project: &mut Project, travel: KnobTravel) {
        let knobs = &mut project.machine.knobs;
        let place = match self {
            Knob::Slide => &mut knobs.slide,
            Knob::Tilt => &mut knobs.tilt,
            Knob::Reach => &mut knobs.reach,
        };
        if let Some(old) = place {
            *old = travel;
        }
    }

    /// Its value in a setting.
    pub fn of(self, setting: &Setting) -> f64 {
        match self {
            Knob::Slide => setting.slide_m,
            Knob::Tilt => setting.tilt_rad,
            Knob::Reach => setting.reach_m,
        }
    }

    /// A setting with it at another value.
    pub fn with(self, setting: &Setting, value: f64) -> Setting {
        let mut out = *setting;
        match self {
            Knob::Slide => out.slide_m = value,
            Knob::Tilt => out.tilt_rad = value,
            Knob::Reach => out.reach_m = value,
        }
        out
    }
}

/// What the served cases use of each knob's travel.
pub(super) fn used<'a>(project: &Project, cases: impl Iterator<Item = &'a RoomCase> + Clone) -> Vec<KnobUse> {
    let present = project.machine.setting;
    Knob::ALL
        .into_iter()
        .filter_map(|knob| {
            let travel = knob.travel(project)?;
            let here = knob.of(&present);
            let mut used = KnobUse {
                knob,
                range: [here, here],
                left_frac: 1.0,
            };
            for case in cases.clone().filter(|c| c.served()) {
                let Some(best) = &case.by_knobs else { continue };
                let value = knob.of(&best.setting);
                used.range = [used.range[0].min(value), used.range[1].max(value)];
                // Only the end that the case moves it towards matters.
                let left = if value > here {
                    travel.high - value
                } else {
                    value - travel.low
                };
                if value != here && case.end.single() {
                    used.left_frac = used.left_frac.min(left / (travel.high - travel.low));
                }
            }
            Some(used)
        })
        .collect()
}
