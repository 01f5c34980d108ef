//! JSON of `frame`.

use arcwright_model::frame::mass::Block;
use arcwright_model::limits::{BaseFigures, FrameReport, ShaftFigures, SupportFigures, worst};
use arcwright_model::project::Project;
use serde_json::{Value, json};

use super::{head, num, vec3, verdict, with};

fn base(b: &BaseFigures) -> Value {
    let maybe = |t: Option<f64>| t.map(num);
    json!({
        "kind": b.kind.word(),
        "motors": b.motor_count,
        "mass_kg": num(b.mass_kg),
        "top_mps": num(b.top_mps),
        "push_n": num(b.push_n),
        "traction_n": num(b.traction_n),
        "motor_n": num(b.motor_n),
        "slips": b.slips,
        "push_a": num(b.push_a),
        "push_battery_a": num(b.push_battery_a),
        "dash_s": maybe(b.dash_s),
        "side_s": maybe(b.side_s),
        "quarter_turn_s": maybe(b.quarter_s),
        "line_up_s": maybe(b.line_up_s),
        "shift_s": maybe(b.shift_s),
        "turn_radps": num(b.turn_radps),
        "scrub_n": num(b.scrub_n),
        "directions": b.directions.iter().map(|d| json!({
            "direction_rad": num(d.direction_rad), "speed_mps": num(d.speed_mps), "force_n": num(d.force_n), "dash_s": maybe(d.dash_s),
        })).collect::<Vec<_>>(),
    })
}

fn block(b: &Block) -> Value {
    json!({ "low_m": vec3(b.low_m), "high_m": vec3(b.high_m) })
}

fn shaft(s: &ShaftFigures) -> Value {
    let support = match &s.support {
        SupportFigures::Ball { life_s, speed_ratio } => json!({
            "kind": "ball", "life_s": life_s.map(num), "speed_factor": speed_ratio.map(num),
        }),
        SupportFigures::Bushing { load, .. } => json!({
            "kind": "bushing", "pressure_pa": num(load.pressure_pa), "rub_mps": num(load.rub_mps),
            "product_pa_mps": num(load.product_pa_mps), "limit_ratio": num(load.limit_ratio), "most_n": num(load.most_n),
            "heat_w": num(load.heat_w), "rise_k": num(load.rise_k),
        }),
    };
    json!({
        "speed_radps": num(s.speed_radps),
        "weight_n": num(s.weight_n),
        "lump_n": num(s.lump_n),
        "pull_n": num(s.pull_n),
        "piece_n": num(s.piece_n),
        "steady_n": num(s.steady_n),
        "throw_n": num(s.throw_n),
        "critical_radps": num(s.critical.exact_radps),
        "bend_m": num(s.bend_m),
        "shake_m": num(s.shake_m),
        "stress_pa": num(s.stress.equivalent_pa),
        "support": support,
    })
}

/// `frame`.
pub fn frame(project: &Project, r: &FrameReport, other: Option<&BaseFigures>) -> Value {
    with(
        head("frame", project),
        json!({
            "status": worst(&r.verdicts).word(),
            "verdicts": r.verdicts.iter().map(verdict).collect::<Vec<_>>(),
            "base": r.base.as_ref().map(base),
            "compared": other.map(base),
            "power": r.power.as_ref().map(|p| json!({
                "launcher_a": num(p.launcher_a),
                "base_a": num(p.base_a),
                "at_once_a": num(p.at_once_a),
                "at_once_v": num(p.at_once_v),
                "rms_a": num(p.rms_a),
                "breaker_warmest_frac": num(p.breaker.warmest_frac),
                "breaker_trips_s": p.breaker.trips_s.map(num),
                "breaker_at_once_s": num(p.at_once_s),
                "charge_a_s": num(p.battery.charge_a_s),
                "energy_j": num(p.battery.source_j),
                "loss_j": num(p.battery.loss_j),
                "matches": p.matches_count.map(num),
            })),
            "shaft": r.shaft.as_ref().map(shaft),
            "guide": r.guide.as_ref().map(|g| json!({
                "piece_n": num(g.piece_n), "give_m": num(g.give_m), "give_of_squeeze": num(g.squeeze_ratio), "rib_m": num(g.rib_m),
            })),
            "stowed": r.stowed.as_ref().map(block),
            "unfolded": r.unfolded.as_ref().map(block),
            "free": r.free.as_ref().map(block),
            "cautions": crate::tasks::safety::CAUTIONS.iter().chain(crate::tasks::safety::GUARDS).collect::<Vec<_>>(),
        }),
    )
}
