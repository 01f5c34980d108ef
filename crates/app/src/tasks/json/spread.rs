//! Scatter and search.

use arcwright_model::project::{MatchedScatter, Project};
use arcwright_model::scatter::{
    Budget, Chance, Figure, MapPlace, MapPlan, NoScatter, Remedy, ScatterPlan, Share, SpotReport, SpotResult,
    SpotScatter,
};
use arcwright_model::seek::{Design, Score, Trade};
use serde_json::{Value, json};

use super::taught::head_with;
use super::{head, miss, num, with};
use crate::tasks::floor::taught::Basis;
use crate::tasks::seek::{Asked, Sought};

fn figure(f: &Figure) -> Value {
    json!({ "value": num(f.value), "standard_error": num(f.standard_error) })
}

fn chance(c: &Chance) -> Value {
    json!({ "frac": num(c.frac), "low_frac": num(c.low_frac), "high_frac": num(c.high_frac) })
}

fn spot_scatter(s: &SpotScatter) -> Value {
    json!({
        "setpoint_radps": num(s.setpoint_radps),
        "along_m": figure(&s.along_m),
        "across_m": figure(&s.across_m),
        "along_sd_m": figure(&s.along_sd_m),
        "across_sd_m": figure(&s.across_sd_m),
        "correlation": figure(&s.correlation),
        "r50_m": figure(&s.r50_m),
        "r95_m": figure(&s.r95_m),
        "hit": chance(&s.hit),
        "shares": s.shares.iter().map(|(o, f)| json!({ "outcome": o.word(), "frac": figure(f) })).collect::<Vec<_>>(),
        "places": s.places.iter().enumerate().map(|(i, p)| json!({
            "index": i,
            "speed_error_frac": num(p.speed_error_frac),
            "along_m": num(p.along_m),
            "along_sd_m": num(p.along_sd_m),
            "hit_frac": num(p.hit_frac),
        })).collect::<Vec<_>>(),
        "throws": s.count,
        "true_passages": s.true_count,
        "pilot_passages": s.pilot_count,
        "checked": s.checked[0],
        "checked_wrong": s.checked[1],
    })
}

fn share(s: &Share) -> Value {
    json!({ "first": figure(&s.first), "total": figure(&s.total) })
}

fn budget(b: &Budget) -> Value {
    Value::Array(
        b.causes
            .iter()
            .map(|c| {
                json!({
                    "cause": c.cause.code(),
                    "along": share(&c.along),
                    "across": share(&c.across),
                    "alone_along_m": num(c.alone_along_m),
                    "alone_across_m": num(c.alone_across_m),
                })
            })
            .collect(),
    )
}

fn remedy(r: &Remedy) -> Value {
    json!({
        "cause": r.cause.code(),
        "lever": r.lever.code(),
        "amount": num(r.amount),
        "from": r.from_to.map(|v| num(v[0])),
        "to": r.from_to.map(|v| num(v[1])),
        "alone_before_m": r.alone_m[0].map(num),
        "alone_after_m": r.alone_m[1].map(num),
        "sd_after_m": r.sd_m.map(num),
        "hit_after_frac": num(r.hit_frac),
        "spin_up_s": r.spin_up_s.map(num),
        "halves": r.halves,
    })
}

fn spot_result(r: &SpotResult, shown: bool) -> Value {
    // The same figure under the name of what it is then.
    let [untested, after_shots] = if shown {
        [None, r.untested_hit]
    } else {
        [r.untested_hit, None]
    };
    let mut out = json!({
        "aimed_setpoint_radps": num(r.aimed_radps),
        "at_aimed": spot_scatter(&r.aimed),
        "centred": spot_scatter(&r.centred),
        "untested_hit": untested.as_ref().map(chance),
        "budget": r.budget.as_ref().map(budget),
        "remedies": r.remedies.iter().map(remedy).collect::<Vec<_>>(),
    });
    if shown {
        out = with(
            out,
            json!({
                "after_shots_hit": after_shots.as_ref().map(chance),
                "matched": r.matched.as_ref().map(matched),
            }),
        );
    }
    out
}

/// How the modelled causes were brought to what the shots showed.
fn matched(m: &MatchedScatter) -> Value {
    json!({
        "along_ratio": num(m.along_ratio),
        "across_ratio": num(m.across_ratio),
        "added_speed_frac": num(m.speed_frac),
        "added_angle_rad": num(m.angle_rad),
        "added_direction_rad": num(m.aside_rad),
    })
}

/// `scatter`.
pub fn scatter(project: &Project, plan: &ScatterPlan, spots: &[SpotReport], basis: &Basis) -> Value {
    with(
        head_with("scatter", project, basis),
        json!({
            "seed": plan.sample.seed,
            "spots": spots.iter().map(|s| match &s.result {
                Ok(r) => with(json!({ "spot": s.spot }), spot_result(r, project.throws.shown.is_some())),
                Err(why) => with(json!({ "spot": s.spot }), no_scatter(why)),
            }).collect::<Vec<_>>(),
        }),
    )
}

/// `map`.
pub fn map(project: &Project, plan: &MapPlan, places: &[MapPlace], basis: &Basis) -> Value {
    with(
        head_with("map", project, basis),
        json!({
            "seed": plan.seed,
            "throws": plan.throw_count,
            "distances_m": plan.distances_m,
            "offsets_m": plan.offsets_m,
            "places": places.iter().map(|p| {
                let at = json!({ "distance_m": num(p.distance_m), "offset_m": num(p.offset_m) });
                with(at, match &p.result {
                    Ok(h) => json!({ "hit": chance(&h.hit), "setpoint_radps": num(h.setpoint_radps) }),
                    Err(why) => no_scatter(why),
                })
            }).collect::<Vec<_>>(),
        }),
    )
}

fn no_scatter(why: &NoScatter) -> Value {
    match why {
        NoScatter::NoSetpoint { miss: m, slips } => json!({ "no_setpoint": miss(m), "slips": slips }),
        NoScatter::NoThrow(why) => json!({ "no_throw": why }),
    }
}

fn score(s: &Score) -> Value {
    json!({
        "served": s.served,
        "margin": num(s.merit),
        "hits_frac": s.hits_frac.iter().map(|x| num(*x)).collect::<Vec<_>>(),
        "worst_hit_frac": num(s.worst_hit_frac),
        "hard_hit_frac": num(s.hard_hit_frac),
        "setpoints_radps": s.setpoints_radps.iter().map(|x| num(*x)).collect::<Vec<_>>(),
        "along_sd_m": s.along_sd_m.iter().map(|x| num(*x)).collect::<Vec<_>>(),
        "volley_s": s.volley_s.map(num),
        "ready_s": s.ready_s.map(num),
        "speed_tolerance_frac": num(s.tolerance_frac),
        "refused": s.refused,
    })
}

fn fails(list: &[(String, String)]) -> Value {
    list.iter()
        .map(|(check, subject)| json!({ "check": check, "subject": subject }))
        .collect()
}

/// `seek`.
pub fn seek(project: &Project, asked: &Asked, s: &Sought) -> Value {
    let f = &s.found;
    let hits = |reports: &[SpotReport]| -> Value {
        reports
            .iter()
            .map(|r| json!({ "spot": r.spot, "hit": r.result.as_ref().ok().map(|r| chance(&r.centred.hit)) }))
            .collect()
    };
    let design = |d: &Design| json!({ "values": d.values.iter().map(|v| num(*v)).collect::<Vec<_>>(), "score": score(&d.score) });
    with(
        head("seek", project),
        json!({
            "seed": asked.seed,
            "free": asked.freed.iter().map(|q| json!(q.key)).collect::<Vec<_>>(),
            "judged": f.tried.len(),
            "stopped": f.stopped,
            "meets_brief": f.best.score.served && f.best_fails.is_empty(),
            "present": { "score": score(&f.present), "fails": fails(&f.present_fails), "hits": hits(&s.now) },
            "best": with(design(&f.best), json!({ "fails": fails(&f.best_fails), "hits": hits(&s.then) })),
            "buys": f.buys.iter().map(|b| json!({
                "key": b.key, "from": num(b.from), "to": num(b.to),
                "put_back": score(&b.without), "changed_alone": b.alone.as_ref().map(score),
            })).collect::<Vec<_>>(),
            "front": s.front.iter().filter_map(|i| f.tried.get(*i)).map(design).collect::<Vec<_>>(),
        }),
    )
}

/// `seek --inertia`.
pub fn inertia(project: &Project, trade: &Trade) -> Value {
    with(
        head("seek-inertia", project),
        json!({
            "present": trade.present,
            "recommended": trade.recommended,
            "points": trade.points.iter().map(|p| json!({
                "factor": num(p.factor_ratio),
                "inertia_kgm2": num(p.inertia_kgm2),
                "ready_s": p.ready_s.map(num),
                "dip_frac": num(p.dip_frac),
                "recovery_s": p.recovery_s.map(num),
                "volley_s": p.volley_s.map(num),
                "along_sd_m": num(p.along_sd_m),
                "in_time": p.in_time,
                "score": score(&p.score),
            })).collect::<Vec<_>>(),
        }),
    )
}
