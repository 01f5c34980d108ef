//! JSON of `frame`.

use arcwright_model::frame::mass::Block;
use arcwright_model::limits::{
    BaseFigures, FrameReport, Report, ShaftFigures, SheetChoice, SupportFigures, free_rooms, inside_m, rims,
    shake_scatter, sheet_choices, weighed, worst,
};
use arcwright_model::project::Project;
use serde_json::{Value, json};

use super::{head, num, vec3, verdict, with};
use crate::tasks::frame::{BASE_NOTE, FREE_COUNT, base_table, bought, figures, sheet_table, sheet_word};

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

fn sheet(c: &SheetChoice) -> Value {
    json!({
        "material": sheet_word(c.material),
        "thickness_m": num(c.thickness_m),
        "radius_m": num(c.radius_m),
        "least_radius_m": c.least_radius_m.map(num),
        "stress_pa": num(c.stress_pa),
        "holding_nm": num(c.holding_nm),
        "kept_ratio": num(c.kept_ratio),
        "give_m": num(c.give_m),
        "enough_m": num(c.enough_m),
        "mass_kg": num(c.mass_kg),
        "giving": c.giving.map(|g| json!({
            "stiff_n": num(g.stiff_n), "force_n": num(g.force_n), "squeeze_at_rib_m": num(g.at_rib_m), "squeeze_between_m": num(g.between_m),
            "exit_mps": num(g.exit_mps), "stiff_mps": num(g.stiff_mps),
        })),
    })
}

/// `frame`.
pub fn frame(project: &Project, all: &Report, r: &FrameReport, other: Option<&BaseFigures>) -> Value {
    let free = free_rooms(project, FREE_COUNT);
    let whole = project.frame.as_ref().and_then(|f| weighed(project, f));
    let table = project.frame.as_ref().zip(r.base.as_ref()).map(|(f, b)| {
        let all: Vec<&BaseFigures> = std::iter::once(b).chain(other).collect();
        base_table(project, f, &all)
    });
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
                "brown_out": {
                    "frac": num(p.brown_out.frac), "low_frac": num(p.brown_out.range_frac[0]), "high_frac": num(p.brown_out.range_frac[1]),
                    "draws": p.brown_out.count, "tenth_v": num(p.brown_out.tenth_v),
                },
                "breaker_trips_frac": num(p.trip_frac),
                "held_k": p.held_k.map(num),
            })),
            "shaft": r.shaft.as_ref().map(shaft),
            "guide": r.guide.as_ref().map(|g| json!({
                "piece_n": num(g.piece_n), "give_m": num(g.give_m), "give_of_squeeze": num(g.squeeze_ratio), "rib_m": num(g.rib_m),
                "materials": sheet_choices(project, all).iter().map(sheet).collect::<Vec<_>>(),
                "table": sheet_table(project, all).map(|(t, note)| json!({ "head": t.head, "rows": t.rows, "note": note })),
            })),
            "imbalance": r.shaft.as_ref().map(|s| shake_scatter(project, all, s.shake_m).iter().map(|x| json!({
                "spot": x.spot, "exit_sd_mps": num(x.exit_sd_mps), "along_sd_m": num(x.along_sd_m),
            })).collect::<Vec<_>>()),
            "rims": rims(project, all.chain.top_radps).iter().map(|x| json!({
                "part": x.index, "what": x.what, "material": x.material.word(), "rim_mps": num(x.rim_mps),
                "stress_pa": num(x.stress_pa), "design_pa": num(x.design_pa), "most_mps": num(x.most_mps),
            })).collect::<Vec<_>>(),
            "parts": project.frame.iter().flat_map(|f| f.parts.iter().enumerate().map(move |(i, p)| json!({
                "name": p.name, "mass_kg": num(p.mass_kg), "at_m": vec3(p.at_m), "size_m": vec3(p.size_m),
                "inside_m": inside_m(f, i).map(num),
            }))).collect::<Vec<_>>(),
            "defers": crate::tasks::safety::DEFERS,
            "stowed": r.stowed.as_ref().map(block),
            "unfolded": r.unfolded.as_ref().map(block),
            "free": free.first().map(block),
            "free_blocks": free.iter().map(block).collect::<Vec<_>>(),
            "mass_kg": whole.map(|w| num(w.mass_kg)),
            "centre_m": whole.map(|w| vec3(w.centre_m)),
            "table": table.map(|t| json!({ "head": t.head, "rows": t.rows, "note": BASE_NOTE })),
            "buys": r.base.as_ref().zip(other).map(|(b, o)| bought(project, b, o)),
            "figures": figures(project, all, r).iter().map(|(about, says)| json!({ "about": about, "says": says })).collect::<Vec<_>>(),
            "cautions": crate::tasks::safety::CAUTIONS.iter().chain(crate::tasks::safety::GUARDS).collect::<Vec<_>>(),
        }),
    )
}
