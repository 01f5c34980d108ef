//! Is the guide even enough?

use std::f64::consts::TAU;

use super::{Evidence, Status, Verdict, fastest};
use crate::launcher::guide_quality::{GuideQuality, guide_quality, with_phase};
use crate::launcher::{GuideError, Layout, Passage};
use crate::project::Project;
use crate::shot::Chain;
use crate::units::Dimension;

/// Judgement: squeeze that strays from its mean by more than this share is a fault of the guide.
const FAILS_SHARE: f64 = 0.25;
/// Judgement: above this share it is worth a shim.
const TIGHT_SHARE: f64 = 0.1;
/// Judgement: contact lost over this much more of the arc than on an even guide is the lumps' doing.
const LOST_FRAC: f64 = 0.01;
/// Method: phases tried of waves whose place is not known; a crest is then met within 2 % of its height.
const PHASES: usize = 8;

/// Physical: finer than a person can measure a gap.
const EVEN_M: f64 = 5e-5;

fn rounded(value: f64, step: f64) -> f64 {
    (value / step).round() * step
}

/// How even the guide is in words: squeeze and its worst place, in the units of the project.
pub fn guide_words(project: &Project, q: &GuideQuality) -> String {
    let say = |v, d| project.say(v, d);
    let mean = say(q.squeeze_mean_m, Dimension::Length);
    if q.worst_by_m.abs() < EVEN_M {
        let [start, end] = [q.squeeze_meant_start_m, q.squeeze_meant_m];
        return if start == end {
            format!("squeeze {mean} all along the guide")
        } else {
            format!(
                "squeeze {} where the piece comes in, evenly to {} at the end of the guide",
                say(start, Dimension::Length),
                say(end, Dimension::Length)
            )
        };
    }
    let off = (q.worst_by_m / q.squeeze_mean_m).abs();
    let side = if q.worst_by_m < 0.0 { "less" } else { "more" };
    let out = format!(
        "squeeze {mean} on average, {} {side} ({})",
        say(rounded(q.worst_by_m.abs(), 1e-4), Dimension::Length),
        say(off, Dimension::Ratio)
    );
    match project.machine.guide_error {
        GuideError::Gaps { .. } => format!(
            "{out} at {} along the guide from its start ({} of the arc)",
            say(rounded(q.worst_along_m, 1e-3), Dimension::Length),
            say(q.worst_at_rad, Dimension::Angle)
        ),
        _ => format!("{out} where the lumps are worst; where that is, an amplitude does not say"),
    }
}

/// The worst of the phases tried; the first number is how much more of the arc is lost than on an even guide.
fn worst_quality(e: &Evidence, wheel_radps: f64) -> Result<Option<(f64, GuideQuality)>, &'static str> {
    let of = |chain: &Chain| match chain.release(&e.project.machine.setting, wheel_radps, true) {
        Passage::Thrown(r) => Ok(guide_quality(&chain.launcher, &chain.body, &r.trace)),
        Passage::Refused { why, .. } => Err(why),
    };
    let even = {
        let mut chain = e.chain.clone();
        chain.launcher.guide_error = GuideError::None;
        of(&chain).ok().flatten().map_or(0.0, |q| q.lost_frac)
    };
    let phases = match e.chain.launcher.guide_error {
        GuideError::Wave { .. } => PHASES,
        _ => 1,
    };
    let mut worst: Option<(f64, GuideQuality)> = None;
    for i in 0..phases {
        let mut chain = e.chain.clone();
        chain.launcher = with_phase(&chain.launcher, TAU * i as f64 / phases as f64);
        let Some(q) = of(&chain)? else { continue };
        let lost = (q.lost_frac - even).max(0.0);
        let rank = |lost: f64, q: &GuideQuality| (lost > LOST_FRAC, (q.worst_by_m / q.squeeze_mean_m).abs());
        if worst.as_ref().is_none_or(|(l, w)| {
            rank(lost, &q).partial_cmp(&rank(*l, w)) == Some(std::cmp::Ordering::Greater)
        }) {
            worst = Some((lost, q));
        }
    }
    Ok(worst)
}

pub(super) fn guide(e: &Evidence) -> Vec<Verdict> {
    let error = e.project.machine.guide_error;
    let (Layout::Guide(_), true) = (e.project.machine.layout, error.is_stated()) else {
        return Vec::new();
    };
    // With no setpoint, near the top speed: lumps may be the reason.
    let wheel_radps = fastest(e.aims).and_then(|a| a.best()).map_or(
        e.chain.top_radps * (1.0 - e.project.limits.speed_reserve_frac),
        |s| s.wheel_radps,
    );
    let form = "bend the guide again over a form of the right radius";
    let (lost, q) = match worst_quality(e, wheel_radps) {
        Ok(Some(found)) => found,
        Ok(None) => return Vec::new(),
        Err(why) => {
            let why = format!("over this guide the piece does not come through: {why}");
            return vec![Verdict::new("guide", "", Status::Fails, why).mend(form.into())];
        }
    };
    let say = |v, d| e.project.say(v, d);
    let (found, allowed) = (q.worst_by_m.abs(), FAILS_SHARE * q.squeeze_mean_m);
    let lets_go = lost > LOST_FRAC;
    let status = if !(found <= allowed) || lets_go {
        Status::Fails
    } else if found > TIGHT_SHARE * q.squeeze_mean_m {
        Status::Tight
    } else {
        Status::Holds
    };
    let mut why = guide_words(e.project, &q);
    if lets_go {
        why.push_str(&format!(
            "; the piece loses touch over {} of the arc",
            say(lost, Dimension::Ratio)
        ));
    }
    let by = say(rounded(found, 1e-4), Dimension::Length);
    let at = say(rounded(q.worst_along_m, 1e-3), Dimension::Length);
    let mend = match error {
        GuideError::Gaps { .. } if q.worst_by_m < 0.0 => {
            format!(
                "shim the guide toward the wheel by {by} at {at} from its start, or bend it in there, and measure again"
            )
        }
        GuideError::Gaps { .. } => {
            format!("bend the guide away from the wheel by {by} at {at} from its start, and measure again")
        }
        _ => format!(
            "{form}; or measure the gap at six or more evenly spaced places and write them as `gaps`: then the place to shim can be told"
        ),
    };
    vec![
        Verdict::new("guide", "", status, why)
            .numbers(Dimension::Length, found, allowed, allowed - found)
            .mend(mend),
    ]
}
