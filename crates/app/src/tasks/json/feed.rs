//! The feed.

use arcwright_model::feed::hopper::Hopper;
use arcwright_model::feed::load::Place;
use arcwright_model::feed::remedy::Ranking;
use arcwright_model::feed::survey::{Invalid, Mean, Share, Spread, Survey};
use arcwright_model::project::{HopperFault, Project};
use serde_json::{Value, json};

use super::{head, num, vec3, with};
use crate::tasks::feed::{kind_words, remedy_words};

/// What `feed` has to say.
pub struct Said<'a> {
    /// Seed.
    pub seed: u64,
    /// What is wrong with the hopper.
    pub faults: &'a [HopperFault],
    /// The loads; none where the hopper is impossible.
    pub survey: Option<&'a Result<Survey, Invalid>>,
    /// What would help, if asked.
    pub remedies: Option<&'a Result<Ranking, Invalid>>,
    /// What the pieces might be, if asked.
    pub doubts: Option<&'a Result<Ranking, Invalid>>,
}

pub(crate) fn share(s: &Share) -> Value {
    json!({ "frac": num(s.frac), "low_frac": num(s.low_frac), "high_frac": num(s.high_frac) })
}

fn mean(m: &Mean) -> Value {
    json!({ "mean_s": num(m.mean_s), "standard_error_s": num(m.standard_error_s) })
}

fn spread(s: &Spread) -> Value {
    json!({ "mean_m": num(s.mean_m), "sd_m": num(s.sd_m) })
}

fn invalid(why: &Invalid) -> Value {
    json!({ "loads": why.count, "of": why.of_count, "first": why.first_index })
}

fn place(p: &Place) -> Value {
    json!({ "piece": p.number, "at_m": vec3(p.at_m), "radius_m": num(p.radius_m) })
}

/// What many loads showed.
pub(crate) fn survey(s: &Survey) -> Value {
    json!({
        "loads": s.load_count,
        "looks": s.looks[0],
        "most_looks": s.looks[1],
        "confidence_frac": num(s.confidence_frac),
        "settled": s.settled,
        "stopped": s.stopped,
        "waits": s.waits.iter().map(|w| json!({
            "wait_s": num(w.wait_s),
            "loads": share(&w.loads),
            "gaps": share(&w.gaps),
            "locked": w.stuck_counts[0],
            "stalled": w.stuck_counts[1],
            "circulating": w.stuck_counts[2],
            "thrown_out": w.stuck_counts[3],
        })).collect::<Vec<_>>(),
        "wedges": s.kinds.iter().map(|k| json!({
            "kind": kind_words(k.kind).0,
            "loads": k.count,
            "friction_used_frac": num(k.used_frac),
        })).collect::<Vec<_>>(),
        "first": mean(&s.first),
        "between": mean(&s.between),
        "flowing": s.flowing.as_ref().map(mean),
        "double_feeds": share(&s.doubles),
        "order_swapped": share(&s.swapped),
        "thrown_out": s.thrown_out_count,
        "peak_n": { "median": num(s.peak_n[0]), "greatest": num(s.peak_n[1]) },
        "pressed_frac": num(s.pressed_frac),
        "aside_m": s.aside.as_ref().map(spread),
        "above_m": s.above.as_ref().map(spread),
        "worst": s.worst.as_ref().map(|w| json!({
            "load": w.index,
            "came": w.came_count,
            "kind": w.load.wedge.map(|k| kind_words(k.kind).0),
            "friction_used_frac": w.load.wedge.map(|k| num(k.used_frac)),
            "stirrer_rad": w.load.wedged_rad.map(num),
            "pieces": w.load.wedged_at.iter().map(place).collect::<Vec<_>>(),
        })),
    })
}

/// The ranking of remedies.
pub(crate) fn ranking(project: &Project, now: &Hopper, r: &Ranking) -> Value {
    json!({
        "loads": r.load_count,
        "confidence_frac": num(r.confidence_frac),
        "now": share(&r.now),
        "now_aside_m": r.now_aside_m.map(num),
        "ranked": r.compared.iter().map(|c| json!({
            "remedy": c.remedy.code,
            "what": remedy_words(project, now, c.remedy.code, &c.remedy.hopper),
            "wedged": share(&c.stuck),
            "removed": share(&c.removed),
            "only_now": c.differ_counts[0],
            "only_then": c.differ_counts[1],
            "established": c.established,
            "beats_next": c.beats_next,
            "hours": num(c.remedy.work_s / 3600.0),
            "removed_per_hour_frac": num(c.per_hour_frac),
            "aside_m": c.aside_m.map(num),
        })).collect::<Vec<_>>(),
        "most": r.most.and_then(|m| Some(json!({ "remedy": r.compared.get(m.index)?.remedy.code, "beats_first": m.beats_first }))),
        "invalid": r.invalid.iter().map(|(code, why)| with(json!({ "remedy": code }), invalid(why))).collect::<Vec<_>>(),
        "left": r.left,
    })
}

fn doubts(r: &Ranking) -> Value {
    json!({
        "loads": r.load_count,
        "confidence_frac": num(r.confidence_frac),
        "now": share(&r.now),
        "played": r.compared.iter().map(|c| json!({
            "doubt": c.remedy.code,
            "friction_coeff": num(c.remedy.hopper.friction_coeff),
            "piece_friction_coeff": num(c.remedy.hopper.piece_friction_coeff),
            "bounce_coeff": num(c.remedy.pieces.bounce_coeff),
            "press_npm": num(c.remedy.pieces.press_npm),
            "wedged": share(&c.stuck),
            "removed": share(&c.removed),
            "established": c.established,
        })).collect::<Vec<_>>(),
    })
}

/// What is wrong with the hopper.
pub(crate) fn faults(all: &[HopperFault]) -> Value {
    all.iter()
        .map(|f| {
            json!({
                "code": f.finding.code,
                "key": f.finding.key,
                "impossible": f.lint.fault.refused(),
                "what": f.finding.what,
                "fix": f.finding.fix,
            })
        })
        .collect()
}

/// `feed`.
pub fn feed(project: &Project, hopper: &Hopper, said: &Said<'_>) -> Value {
    with(
        head("feed", project),
        json!({
            "seed": said.seed,
            "faults": faults(said.faults),
            "survey": said.survey.and_then(|s| s.as_ref().ok()).map(survey),
            "remedies": said.remedies.and_then(|r| r.as_ref().ok()).map(|r| ranking(project, hopper, r)),
            "doubts": said.doubts.and_then(|r| r.as_ref().ok()).map(doubts),
            "invalid": said.survey.and_then(|s| s.as_ref().err())
                .or(said.remedies.and_then(|r| r.as_ref().err()))
                .or(said.doubts.and_then(|r| r.as_ref().err()))
                .map(invalid),
        }),
    )
}
