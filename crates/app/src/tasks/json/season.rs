//! JSON of `season`.

use arcwright_model::project::Project;
use arcwright_model::season::rank::{Ranked, SeasonPlan};
use arcwright_model::season::rates::Rates;
use serde_json::{Value, json};

use super::{num, taught, with};
use crate::tasks::floor::taught::Basis;
use crate::tasks::season::{self as says, SeasonResult};

fn rates(r: &Rates) -> Value {
    json!({
        "round_s": num(r.round_s()),
        "collect_s": num(r.collect_s),
        "travel_s": num(r.travel_s),
        "aim_s": num(r.aim_s),
        "interval_s": num(r.interval_s),
        "ready_s": num(r.ready_s),
        "volley": r.volley_count,
        "hits_frac": r.hits_frac.iter().map(|h| num(*h)).collect::<Vec<_>>(),
        "order_frac": num(r.order_frac(r.volley_count)),
        "varies_frac": num(r.varies_frac),
        "jam_frac": num(r.jam_frac),
    })
}

fn pair([low, high]: [f64; 2]) -> Value {
    json!({ "low": num(low), "high": num(high) })
}

fn ranked(result: &SeasonResult, c: &Ranked) -> Value {
    json!({
        "change": c.name,
        "index": c.index,
        "days": num(c.days_count),
        "money": num(c.money_count),
        "gain": num(c.gain_count),
        "gain_range": pair(c.gain_range_count),
        "per_day": num(c.per_day_count),
        "per_day_range": pair(c.per_day_range_count),
        "best_frac": num(c.best_frac),
        "beats_frac": c.beats_frac.map(num),
        "beats_range": c.beats_range_frac.map(pair),
        "rounds": num(c.rounds_count),
        "rates": result.ground.aims.get(c.index).map(|(_, r)| rates(r)),
    })
}

/// `season`.
pub fn season(project: &Project, plan: &SeasonPlan, r: &SeasonResult, basis: &Basis) -> Value {
    let a = &r.answer;
    let first = |i: Option<usize>| i.and_then(|i| r.ground.aims.get(i)).map(|(c, _)| c.name.clone());
    with(
        taught::head_with("season", project, basis),
        json!({
            "seed": plan.seed,
            "worlds": plan.world_count,
            "matches": plan.match_count,
            "spot": r.ground.spot,
            "spots": r.ground.spots.iter().map(|(n, h)| json!({ "spot": n, "hit_frac": h.map(num) })).collect::<Vec<_>>(),
            "rates": rates(&r.ground.rates),
            "points": {
                "mean": num(a.now.mean_count),
                "sd": num(a.now.sd_count),
                "tenths": a.now.tenths_count.iter().map(|v| num(*v)).collect::<Vec<_>>(),
                "beat": r.beat_count.map(num),
                "beats_frac": a.now.beats_frac.map(num),
                "beats_range": a.now.beats_range_frac.map(pair),
                "bars": a.now.bars.iter().map(|(from, share)| json!({ "from": num(*from), "share": num(*share) })).collect::<Vec<_>>(),
            },
            "rounds": num(a.rounds_count),
            "thrown": num(a.thrown_count),
            "in": num(a.in_count),
            "opening": r.opening.as_ref().map(|o| json!({
                "steps": o.steps.iter().map(|s| json!({
                    "state": s.state, "does": s.what, "until": s.until, "start_s": num(s.start_s), "time_s": num(s.time_s),
                })).collect::<Vec<_>>(),
                "says": says::opening_words(project, r, o),
                "left_s": num(o.left_s),
                "fits": o.fits_count,
                "points": num(o.points_count),
            })),
            "round_says": says::round_words(project, &r.ground.rates),
            "says": says::verdict(project, r),
            "chance_says": says::chance_words(project, r),
            "ranges_say": says::RANGES,
            "first_until_days": a.first_until_days_count.map(num),
            "changes": a.ranked.iter().map(|c| ranked(r, c)).collect::<Vec<_>>(),
            "depends": a.leans.iter().map(|l| json!({
                "input": l.what, "lower": num(l.lower_count), "higher": num(l.higher_count),
                "first_lower": first(l.first_lower), "first_higher": first(l.first_higher),
            })).collect::<Vec<_>>(),
        }),
    )
}
