//! JSON of `floor drift`, `floor wander` and of readings brought to the shots; described in `docs/json.md`.

use arcwright_model::floor::drift::{DriftCheck, run_lengths};
use arcwright_model::floor::telemetry::{Estimate, Shift};
use arcwright_model::project::Project;
use serde_json::{Value, json};

use super::attach::{Fate, Plan};
use super::drift::{Drift, Verdict, change_code, change_words, chart_code, look_at, to_do};
use super::drift_words::{says, shift_says};
use super::wander::{Wander, cause_code, judged, trial_words};
use crate::tasks::json::{head, num, with};

fn maybe(x: Option<f64>) -> Value {
    x.map_or(Value::Null, num)
}

fn estimate(e: &Estimate) -> Value {
    json!({ "value": num(e.value), "low": num(e.low), "high": num(e.high) })
}

/// `floor drift`.
pub fn drift(project: &Project, d: &Drift) -> Value {
    let said = says(project, d);
    let misses = d.misses.as_ref().map(|m| {
        json!({
            "missed": m.missed,
            "usual_frac": num(m.rates_frac[0]),
            "feared_frac": num(m.rates_frac[1]),
            "short": m.sides[0], "long": m.sides[1], "left": m.sides[2], "right": m.sides[3],
            "alarm_at": m.watch.alarm_at.and_then(|i| d.later.get(i)),
            "false_alarm_every_count": num(m.watch.false_alarm_every_count),
            "found_after_count": num(m.watch.found_after_count),
        })
    });
    with(
        head("floor-drift", project),
        json!({
            "verdict": d.verdict.word(),
            "earlier": d.earlier,
            "later": d.later,
            "confident": d.fitted.confident,
            "check": d.check.as_ref().map(|c| check(project, d, c)),
            "misses": misses,
            "to_do": if d.verdict == Verdict::Changed { to_do(d, project) } else { Vec::new() },
            "says": said.lines(),
            "basis": said.basis_lines(),
        }),
    )
}

fn check(project: &Project, d: &Drift, c: &DriftCheck) -> Value {
    let shot = |i: usize| d.later.get(i).copied();
    let charts: Vec<Value> = c
        .charts
        .iter()
        .map(|r| {
            json!({
                "chart": chart_code(r.chart),
                "shots": r.places.iter().map(|i| shot(*i)).collect::<Vec<_>>(),
                "z": r.z.iter().map(|z| num(*z)).collect::<Vec<_>>(),
                "upper": r.run.upper, "lower": r.run.lower,
                "called_at": r.run.first_alarm.and_then(|i| shot(*r.places.get(i)?)),
            })
        })
        .collect();
    let explanations: Vec<Value> = c
        .ranked
        .iter()
        .map(|e| {
            json!({
                "change": change_code(e.change),
                "share_frac": num(e.share_frac),
                "evidence": num(e.evidence_ratio),
                "value": num(e.value),
                "sd": num(e.sd),
                "words": change_words(project, e),
                "look_at": look_at(e),
            })
        })
        .collect();
    let [quiet, one, two] = run_lengths(c.watch);
    json!({
        "shots": c.shots,
        "reference_ratio": num(c.watch.reference_ratio),
        "limit_ratio": num(c.watch.limit_ratio),
        "shared_ratio": num(c.watch.shared_ratio),
        "false_alarm_frac": num(c.false_alarm_frac),
        "run_lengths": { "quiet": num(quiet), "one_sd": num(one), "two_sd": num(two) },
        "findable": {
            "speed_frac": maybe(c.findable.speed_frac),
            "angle_rad": maybe(c.findable.angle_rad),
            "heading_rad": maybe(c.findable.heading_rad),
        },
        "alarms": c.alarms.iter().map(|a| json!({
            "chart": chart_code(a.chart), "shot": a.at.and_then(shot), "up": a.up,
        })).collect::<Vec<_>>(),
        "charts": charts,
        "explanations": explanations,
    })
}

/// `floor drift --telemetry`.
pub fn shifts(project: &Project, file: &str, than: &str, shifts: &[Shift]) -> Value {
    let all: Vec<Value> = shifts
        .iter()
        .map(|s| {
            json!({
                "name": s.name,
                "earlier": estimate(&s.earlier),
                "later": estimate(&s.later),
                "ratio": estimate(&s.ratio),
                "changed": s.changed,
                "look_at": s.changed.then_some(s.look_at),
            })
        })
        .collect();
    let verdict = if shifts.is_empty() {
        Verdict::TooLittle
    } else if shifts.iter().any(|s| s.changed) {
        Verdict::Changed
    } else {
        Verdict::NotShown
    };
    with(
        head("floor-drift-telemetry", project),
        json!({ "verdict": verdict.word(), "against": than, "quantities": all, "says": shift_says(file, than, shifts).lines() }),
    )
}

/// `floor wander`.
pub fn wander(project: &Project, w: &Wander) -> Value {
    let c = &w.components;
    let suspects: Vec<Value> = c
        .suspects
        .iter()
        .map(|s| {
            json!({
                "cause": cause_code(s.cause),
                "sd": num(s.sd_frac),
                "low": num(s.interval_frac[0]),
                "high": num(s.interval_frac[1]),
                "share_frac": num(s.share_frac),
                "slope": maybe(s.slope_frac),
                "finding": judged(s.judgement),
                "trial": trial_words(s),
            })
        })
        .collect();
    with(
        head("floor-wander", project),
        json!({
            "sideways": w.sideways,
            "throws": c.throws, "pieces": c.pieces, "sessions": c.sessions, "unused": w.unused,
            "residual_sd": num(c.residual_sd_frac),
            "residual_share_frac": num(c.residual_share_frac),
            "reading_sd": num(w.reading_sd),
            "suspects": suspects,
            "piece_effects": c.piece_effects.iter().map(|p| json!({
                "piece": p.piece, "throws": p.throws, "effect": num(p.effect_frac), "sd": num(p.sd_frac),
            })).collect::<Vec<_>>(),
            "order_tied_frac": num(c.order_tied_frac),
            "too_small": c.too_small,
        }),
    )
}

/// `floor telemetry --attach`.
pub fn attach(project: &Project, plan: &Plan, written: usize) -> Value {
    let pairs: Vec<Value> = plan
        .rows
        .iter()
        .map(|r| {
            let (fate, refused) = match &r.fate {
                Fate::Take(_) => ("take", None),
                Fate::Same => ("there already", None),
                Fate::Refuse(f) => ("refused", Some(f)),
            };
            json!({
                "throw": r.throw,
                "shot": r.shot,
                "late_s": maybe(r.late_s),
                "before_radps": num(r.reading.before_radps),
                "after_radps": num(r.reading.after_radps),
                "battery_v": maybe(r.reading.battery_v),
                "fate": fate,
                "why": refused.map(|f| json!({ "code": f.code, "what": f.what, "fix": f.fix })),
            })
        })
        .collect();
    with(
        head("floor-attach", project),
        json!({
            "pairs": pairs,
            "throws_alone": plan.throws_alone,
            "shots_alone": plan.shots_alone,
            "log_zero": plan.zero_utc_ms.map(super::time::utc),
            "written": written,
        }),
    )
}
