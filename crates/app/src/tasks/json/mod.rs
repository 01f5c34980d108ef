//! The `--json` schema, version 1: SI numbers with the unit in the name. Described in `docs/json.md`.

mod draw;
mod explain;
pub(crate) mod feed;
mod frame;
mod hand;
mod history;
mod readings;
mod season;
mod spread;
mod taught;

use std::path::{Path, PathBuf};

use arcwright_model::aim::{
    BestSetting, FasterNeed, Miss, Moved, MovingSd, Needed, Room, RoomCase, Solution, SpotAim, TravelNeed,
    shortfall,
};
use arcwright_model::flight::{Drag, DragLaw, Lift, SpinDecay};
use arcwright_model::launcher::guide_quality::GuideQuality;
use arcwright_model::launcher::plateau::Plateau;
use arcwright_model::launcher::{Release, Setting};
use arcwright_model::limits::{Amount, Report, Verdict, room_verdict, room_words, shortfall_words, worst};
use arcwright_model::project::{DriveBase, KnobTravel, Project};
use arcwright_model::shot::Exit;
use arcwright_model::target::Arrival;
use arcwright_model::volley_run::VolleyRun;
use arcwright_paper::drawings::side_view::Hold;
use serde_json::{Value, json};

use super::aim::{Aimed, Compared};
use super::floor::taught::Basis;
use super::order::Ordered;

pub use draw::draw;
pub use explain::{explain, words};
pub use feed::{Said as FeedSaid, feed};
pub use frame::frame;
pub use hand::{hand, hand_verify};
pub use history::{compared, history};
pub use readings::{film, telemetry};
pub use season::season;
pub use spread::{inertia, map, scatter, seek};
pub use taught::learned;

/// Version of every schema here; it rises when a field changes its meaning or goes away.
pub const VERSION: u32 = 1;

/// A number, or null where it is not finite (JSON has no infinity).
pub(crate) fn num(x: f64) -> Value {
    if x.is_finite() { json!(x) } else { Value::Null }
}

fn vec3(x: [f64; 3]) -> Value {
    Value::Array(x.iter().map(|v| num(*v)).collect())
}

pub(crate) fn head(command: &str, project: &Project) -> Value {
    json!({
        "schema": format!("arcwright/{command}/{VERSION}"),
        "tool": env!("CARGO_PKG_VERSION"),
        "project": project.name,
    })
}

pub(crate) fn with(mut base: Value, more: Value) -> Value {
    if let (Some(a), Value::Object(b)) = (base.as_object_mut(), more) {
        a.extend(b);
    }
    base
}

/// `new`.
pub fn made(folder: &Path, file: &Path, from: &str) -> Value {
    json!({
        "schema": format!("arcwright/new/{VERSION}"),
        "tool": env!("CARGO_PKG_VERSION"),
        "folder": folder.display().to_string(),
        "file": file.display().to_string(),
        "from": from,
    })
}

/// The mechanical knobs.
pub fn setting(s: &Setting) -> Value {
    json!({ "slide_m": num(s.slide_m), "tilt_rad": num(s.tilt_rad), "reach_m": num(s.reach_m) })
}

/// Speed, angle, spin and place of the exit.
pub fn exit(e: &Exit) -> Value {
    json!({
        "speed_mps": num(e.speed_mps),
        "angle_rad": num(e.angle_rad),
        "backspin_radps": num(e.spin_radps),
        "forward_m": num(e.forward_m),
        "height_m": num(e.height_m),
    })
}

/// `order`.
pub fn order(project: &Project, found: &Ordered) -> Value {
    with(
        head("order", project),
        json!({
            "colours": found.colours,
            "stock": found.task.stock_count,
            "load": found.task.load_count,
            "wanted": found.task.wanted.iter().map(|i| found.colours.get(*i)).collect::<Vec<_>>(),
            "sensor_error_frac": num(found.task.sensor_error_frac),
            "sorters": found.ways.iter().map(|w| json!({
                "sorter": super::order::word(w.sorter),
                "whole_frac": num(w.found.whole_frac),
                "low_frac": w.found.interval_frac.map(|i| num(i[0])),
                "high_frac": w.found.interval_frac.map(|i| num(i[1])),
                "possible_frac": num(w.found.possible_frac),
                "mistaken_frac": num(w.found.mistaken_frac),
                "right_count": num(w.found.right_count),
                "time_s": num(w.found.time_s),
                "whole_with_a_sure_sensor_frac": num(w.sure_frac),
                "cases": w.found.case_count,
            })).collect::<Vec<_>>(),
        }),
    )
}

/// The exits that each spot asks of any launcher.
pub fn needed(spots: &[(String, Vec<Needed>)]) -> Value {
    let one = |n: &Needed| {
        json!({
            "angle_rad": num(n.angle_rad),
            "speed_mps": num(n.speed_mps),
            "lowest_mps": num(n.window_mps[0]),
            "highest_mps": num(n.window_mps[1]),
            "entry_rad": num(n.entry_rad),
            "clearance_m": num(n.clearance_m),
            "serves": n.serves,
        })
    };
    spots
        .iter()
        .map(|(name, exits)| json!({ "spot": name, "exits": exits.iter().map(one).collect::<Vec<_>>() }))
        .collect()
}

/// Where the picture of the launcher can be taken hold of (drawing units), and the passage in it.
pub fn hold(h: &Hold) -> Value {
    let pair = |p: [f64; 2]| json!([num(p[0]), num(p[1])]);
    json!({
        "size": pair(h.size_px),
        "piece": num(h.piece_px),
        "handles": h.handles.iter().map(|k| json!({
            "key": k.key, "at": pair(k.at_px), "per_unit": pair(k.per_unit_px),
        })).collect::<Vec<_>>(),
        "moments": h.moments.iter().map(|m| json!({
            "time_s": num(m.time_s), "at": pair(m.centre_px), "turned_rad": num(m.turned_rad), "wheel_n": num(m.wheel_n),
            "guide_n": num(m.guide_n), "speed_mps": num(m.speed_mps), "wheel_radps": num(m.wheel_radps),
        })).collect::<Vec<_>>(),
    })
}

/// Crossing, clearances and outcome.
pub fn arrival(a: &Arrival) -> Value {
    json!({
        "outcome": a.outcome.word(),
        "wall_touches": a.wall_touches,
        "crossing": a.crossing.as_ref().map(|c| json!({
            "time_s": num(c.state.time_s),
            "position_m": vec3(c.state.position_m),
            "velocity_mps": vec3(c.state.velocity_mps),
            "along_m": num(c.along_m),
            "across_m": num(c.across_m),
            "entry_rad": num(c.entry_rad),
        })),
        "clearance": a.clearance.as_ref().map(|k| json!({
            "least_m": num(k.least_m()),
            "near_m": num(k.near_m),
            "far_m": num(k.far_m),
            "left_m": num(k.left_m),
            "right_m": num(k.right_m),
        })),
    })
}

/// How the robot moves; null when it stands.
fn motion(project: &Project) -> Value {
    let m = &project.moving;
    if !m.moves() {
        return Value::Null;
    }
    json!({
        "drive": match m.drive { DriveBase::Tank => "tank", DriveBase::Sideways => "sideways" },
        "along_mps": num(m.along_mps),
        "across_mps": num(m.across_mps),
        "turn_radps": num(m.turn_radps),
        "launcher_heading_rad": num(m.launcher_heading_rad),
        "delay_s": num(m.delay_s),
        "command_before_m": num(m.command_before_m()),
        "command_turn_rad": num(m.command_turn_rad()),
    })
}

/// What the motion changes.
fn moved(m: &Moved, sd: &MovingSd) -> Value {
    let pair = |[along, across]: [f64; 2]| json!({ "along": num(along), "across": num(across) });
    json!({
        "standing_radps": m.standing_radps.map(num),
        "added_sd": { "along_m": num(sd.along_m), "across_m": num(sd.across_m) },
        "per_along_s": pair(m.per_along_s),
        "per_across_s": pair(m.per_across_s),
        "per_turn_m_per_radps": pair(m.per_turn_m_per_radps),
        "per_late_mps": pair(m.per_late_mps),
    })
}

fn solution(s: &Solution) -> Value {
    json!({
        "lead_rad": num(s.lead_rad),
        "moved": s.moved.as_ref().map(|m| moved(m, &s.moving_sd)),
        "setpoint_radps": num(s.wheel_radps),
        "setpoint_sd_radps": num(s.doubt.setpoint_sd_radps),
        "along_sd_m": num(s.doubt.along_sd_m),
        "doubt_shares": s.doubt.shares.iter().map(|(k, v)| json!({ "key": k, "share": num(*v) })).collect::<Vec<_>>(),
        "arc": s.arc.word(),
        "other_arc": s.companion.map(|c| json!({ "angle_rad": num(c.angle_rad), "entry_rad": num(c.entry_rad) })),
        "reserve_frac": num(s.reserve_frac),
        "along_per_percent_speed_m": num(s.along_per_percent_m),
        "along_per_degree_tilt_m": s.along_per_degree_m.map(num),
        "exit": exit(&s.exit),
        "arrival": arrival(&s.arrival),
    })
}

fn miss(m: &Miss) -> Value {
    match *m {
        Miss::Refused(why) => json!({ "kind": "refused", "why": why }),
        Miss::BelowRim => json!({ "kind": "below-rim" }),
        Miss::Short { by_m } => json!({ "kind": "short", "by_m": num(by_m) }),
        Miss::Beyond { by_m } => json!({ "kind": "beyond", "by_m": num(by_m) }),
    }
}

fn spot_aim(project: &Project, a: &SpotAim) -> Value {
    json!({
        "spot": a.spot.name,
        "distance_m": num(a.spot.distance_m),
        "offset_m": num(a.spot.offset_m),
        "heading_rad": num(a.stance.heading_rad),
        "chosen": a.chosen,
        "solutions": a.solutions.iter().map(solution).collect::<Vec<_>>(),
        "miss": a.miss.as_ref().map(miss),
        "lacks": shortfall(project, a).iter().map(|l| shortfall_words(project, l)).collect::<Vec<_>>(),
    })
}

fn amount(a: &Option<Amount>) -> Value {
    a.map_or(
        Value::Null,
        |a| json!({ "value": num(a.value), "unit": a.dimension.si() }),
    )
}

fn verdict(v: &Verdict) -> Value {
    json!({
        "check": v.check,
        "subject": v.subject,
        "status": v.status.word(),
        "found": amount(&v.found),
        "asked": amount(&v.asked),
        "margin": amount(&v.margin),
        "why": v.why,
        "mend": v.mend,
        "nearest_brief": v.nearest_brief.iter().map(|(k, a)| json!({
            "key": k, "value": num(a.value), "unit": a.dimension.si(),
        })).collect::<Vec<_>>(),
    })
}

fn best(b: &BestSetting) -> Value {
    json!({
        "setting": setting(&b.setting),
        "serves_all": b.serves(),
        "merit": num(b.merit),
        "present_merit": num(b.present_merit),
        "tried": b.tried_count,
    })
}

/// Where a design sits against the no-slip plateau.
pub fn plateau(p: &Plateau) -> Value {
    json!({
        "no_slip_speed_mps": num(p.no_slip_speed_mps),
        "exit_speed_mps": num(p.exit_speed_mps),
        "speed_ratio": num(p.speed_ratio),
        "friction_sensitivity": num(p.friction_sensitivity_ratio),
        "friction_reserve": num(p.friction_reserve_ratio),
        "grips": p.grips,
    })
}

/// `check`.
pub fn check(project: &Project, r: &Report, basis: &Basis) -> Value {
    with(
        taught::head_with("check", project, basis),
        json!({
            "status": worst(&r.verdicts).word(),
            "verdicts": r.verdicts.iter().map(verdict).collect::<Vec<_>>(),
            "setting": setting(&project.machine.setting),
            "top_speed_radps": num(r.chain.top_radps),
            "spots": r.aims.iter().map(|a| spot_aim(project, a)).collect::<Vec<_>>(),
            "best_setting": r.best.as_ref().map(best),
            "plateau": r.plateau.as_ref().map(plateau),
            "hazards": {
                "stored_j": num(r.hazards.stored_j),
                "coast_s": num(r.hazards.coast_s),
                "piece_j": r.hazards.piece_j.map(num),
                "piece_jpm2": r.hazards.piece_jpm2.map(num),
            },
            "cautions": super::safety::CAUTIONS,
        }),
    )
}

/// What `check` says, and the pictures written.
pub fn summary(project: &Project, r: &Report, basis: &Basis, written: &[(PathBuf, String)]) -> Value {
    let pictures = written
        .iter()
        .map(|(path, what)| json!({ "file": path.display().to_string(), "shows": what }));
    with(
        check(project, r, basis),
        with(
            taught::head_with("summary", project, basis),
            json!({ "pictures": pictures.collect::<Vec<_>>() }),
        ),
    )
}

/// `aim`.
pub fn aim(project: &Project, aimed: &Aimed, basis: &Basis) -> Value {
    let r = &aimed.report;
    let beside = aimed.beside.as_ref();
    let all = |aims: Vec<&SpotAim>, compared: Option<&Vec<Compared>>| -> Vec<Value> {
        aims.into_iter()
            .enumerate()
            .map(|(i, a)| match compared.and_then(|c| c.get(i)) {
                Some(c) => with(spot_aim(project, a), taught::compared(c)),
                None => spot_aim(project, a),
            })
            .collect()
    };
    with(
        taught::head_with("aim", project, basis),
        json!({
            "setting": setting(&project.machine.setting),
            "top_speed_radps": num(r.chain.top_radps),
            "moving": motion(project),
            "one_setting_serves_all": r.aims.iter().all(|a| shortfall(project, a).is_empty()),
            "best_setting": r.best.as_ref().map(best),
            "spots": all(r.aims.iter().collect(), beside.map(|b| &b.spots)),
            "table": all(aimed.rows.iter().map(|t| &t.aim).collect(), beside.map(|b| &b.rows)),
        }),
    )
}

fn travel_need(n: &TravelNeed) -> Value {
    let travel = |t: &KnobTravel| json!({ "low": num(t.low), "high": num(t.high), "step": num(t.step) });
    json!({
        "knob": n.knob.word(),
        "unit": n.knob.dimension().si(),
        "present": travel(&n.present),
        "needed": travel(&n.needed),
        "extra_low": num(n.extra()[0]),
        "extra_high": num(n.extra()[1]),
    })
}

fn faster(f: &FasterNeed) -> Value {
    json!({
        "gear_ratio": f.gear_ratio.map(num),
        "wheel_diameter_m": f.wheel_diameter_m.map(num),
    })
}

fn room_case(project: &Project, c: &RoomCase) -> Value {
    let spots = project.spots.iter().zip(&c.by_speed);
    json!({
        "key": c.key,
        "end": c.end.word(),
        "values": c.values.iter().map(|(k, v)| json!({ "key": k, "value": num(*v) })).collect::<Vec<_>>(),
        "by_speed_alone": c.by_speed_alone(),
        "served": c.served(),
        "searched": c.searched,
        "spots": spots.map(|(spot, s)| json!({
            "spot": spot.name,
            "setpoint_radps": s.setpoint_radps.map(num),
            "needed_radps": s.needed_radps.map(num),
            "reserve_frac": s.reserve_frac.map(num),
            "served": s.served(),
            "lacks": s.lacks.iter().map(|l| shortfall_words(project, l)).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
        "by_knobs": c.by_knobs.as_ref().map(best),
        "needs": c.needs.iter().map(travel_need).collect::<Vec<_>>(),
        "faster": c.faster.as_ref().map(faster),
    })
}

/// `aim --room`.
pub fn room(project: &Project, r: &Room) -> Value {
    with(
        head("aim-room", project),
        json!({
            "setting": setting(&project.machine.setting),
            "verdict": verdict(&room_verdict(project, r)),
            "words": room_words(project, r),
            "cases": r.cases.iter().map(|c| room_case(project, c)).collect::<Vec<_>>(),
            "without_spread": r.missing,
            "knobs": r.knobs.iter().map(|k| json!({
                "knob": k.knob.word(),
                "unit": k.knob.dimension().si(),
                "used": k.range.map(num),
                "left_frac": num(k.left_frac),
            })).collect::<Vec<_>>(),
            "speed": r.speed.as_ref().map(|s| json!({
                "lowest_radps": num(s.lowest_radps),
                "highest_radps": num(s.highest_radps),
                "usable_radps": num(s.usable_radps),
                "top_radps": num(s.top_radps),
            })),
            "travel": r.travel.iter().map(travel_need).collect::<Vec<_>>(),
            "faster": r.faster.as_ref().map(faster),
        }),
    )
}

fn drag(d: &Drag) -> Value {
    let law = match d.law {
        DragLaw::None => json!({ "law": "none" }),
        DragLaw::Constant { drag_coeff } => json!({ "law": "constant", "coeff": num(drag_coeff) }),
        DragLaw::CliftGauvin => json!({ "law": "clift-gauvin" }),
        DragLaw::BrownLawler => json!({ "law": "brown-lawler" }),
        DragLaw::HaiderLevenspiel => json!({ "law": "haider-levenspiel" }),
        DragLaw::Morrison => json!({ "law": "morrison" }),
        DragLaw::Logistic {
            low_re_coeff,
            high_re_coeff,
            critical_re_count,
            width_ratio,
        } => json!({
            "law": "logistic", "low_re_coeff": num(low_re_coeff), "high_re_coeff": num(high_re_coeff),
            "critical_re": num(critical_re_count), "width": num(width_ratio),
        }),
    };
    with(law, json!({ "scale": num(d.scale_ratio) }))
}

fn lift(l: &Lift) -> Value {
    match *l {
        Lift::None => json!({ "law": "none" }),
        Lift::Linear { slope_coeff } => json!({ "law": "linear", "slope": num(slope_coeff) }),
        Lift::Bilinear => json!({ "law": "bilinear" }),
        Lift::Saturating {
            a_coeff,
            b_coeff,
            scale_ratio,
        } => {
            json!({ "law": "saturating", "a": num(a_coeff), "b": num(b_coeff), "scale": num(scale_ratio) })
        }
        Lift::SaturatingWholeSpin {
            a_coeff,
            b_coeff,
            scale_ratio,
        } => json!({
            "law": "saturating-whole-spin", "a": num(a_coeff), "b": num(b_coeff), "scale": num(scale_ratio),
        }),
    }
}

fn spin_decay(d: &SpinDecay) -> Value {
    match *d {
        SpinDecay::None => json!({ "law": "none" }),
        SpinDecay::TimeConstant { tau_s } => json!({ "law": "time-constant", "tau_s": num(tau_s) }),
        SpinDecay::Aero { torque_coeff } => json!({ "law": "aero", "torque_coeff": num(torque_coeff) }),
    }
}

/// One throw, as the `throw` command works it out.
pub fn throw(project: &Project, t: &super::throw::Thrown, basis: &Basis) -> Value {
    let r: &Release = &t.release;
    with(
        taught::head_with("throw", project, basis),
        json!({
            "setting": setting(&t.setting),
            "spot": t.stance_name,
            "wheel_radps": num(t.wheel_radps),
            "moving": motion(project),
            "lead_rad": num(t.lead_rad),
            "moved": t.moved.as_ref().map(|m| moved(m, &m.sd(project))),
            "exit": exit(&t.exit),
            "start": { "position_m": vec3(t.start.position_m), "velocity_mps": vec3(t.start.velocity_mps), "spin_radps": vec3(t.start.spin_radps) },
            "air": { "density_kgpm3": num(t.medium.density_kgpm3), "viscosity_pas": num(t.medium.viscosity_pas), "wind_mps": vec3(t.medium.wind_mps) },
            "piece": {
                "mass_kg": num(t.ball.mass_kg), "diameter_m": num(t.ball.diameter_m),
                "inertia_coeff": num(t.ball.inertia_coeff), "added_mass_coeff": num(t.ball.added_mass_coeff),
                "drag": drag(&t.ball.drag), "lift": lift(&t.ball.lift), "spin_decay": spin_decay(&t.ball.spin_decay),
            },
            "contact": {
                "time_s": num(r.contact_s),
                "wheel_after_radps": r.wheel_after_radps.iter().map(|v| num(*v)).collect::<Vec<_>>(),
                "wheel_slip_m": num(r.wheel_slip_m),
                "guide_slip_m": num(r.guide_slip_m),
                "peak_guide_n": num(r.peak_guide_n),
                "grip_at_frac": r.grip_at_frac.map(num),
                "slip_heat_j": num(r.audit.slip_heat_j),
                "energy_residual_j": num(r.audit.residual_j),
            },
            "plateau": t.plateau.as_ref().map(plateau),
            "guide": t.guide.as_ref().map(guide),
            "arrival": arrival(&t.arrival),
            "energy_j": num(t.energy_j),
        }),
    )
}

/// How evenly the guide presses.
fn guide(q: &GuideQuality) -> Value {
    json!({
        "squeeze": q.squeeze_m.iter().map(|(at, s)| json!({ "at_rad": num(*at), "squeeze_m": num(*s) })).collect::<Vec<_>>(),
        "squeeze_mean_m": num(q.squeeze_mean_m),
        "squeeze_meant_m": num(q.squeeze_meant_m),
        "squeeze_meant_start_m": num(q.squeeze_meant_start_m),
        "worst_at_rad": num(q.worst_at_rad),
        "worst_along_m": num(q.worst_along_m),
        "worst_by_m": num(q.worst_by_m),
        "force_mean_n": num(q.force_mean_n),
        "force_peak_n": num(q.force_peak_n),
        "force_least_n": num(q.force_least_n),
        "lost_frac": num(q.lost_frac),
        "evenness_ratio": num(q.evenness_ratio),
    })
}

/// `volley`.
pub fn volley(project: &Project, run: &VolleyRun, basis: &Basis) -> Value {
    let t = &run.train;
    let throws: Vec<Value> = t
        .throws
        .iter()
        .zip(&run.throws)
        .map(|(a, b)| {
            json!({
                "index": a.index,
                "time_s": num(a.time_s),
                "wheel_before_radps": num(a.before_radps),
                "wheel_after_radps": num(a.after_radps),
                "dip_frac": num(a.dip_frac),
                "recovery_s": a.recovery_s.map(num),
                "error_frac": num(a.error_frac),
                "exit": b.exit.as_ref().map(exit),
                "along_m": b.along_m.map(num),
                "outcome": b.outcome.word(),
            })
        })
        .collect();
    let samples: Vec<Value> = t
        .samples
        .iter()
        .map(|s| {
            json!({
                "time_s": num(s.time_s),
                "wheel_radps": num(s.wheel_radps),
                "duty_frac": num(s.duty_frac),
                "battery_a": num(s.battery_a),
                "battery_v": num(s.battery_v),
            })
        })
        .collect();
    with(
        taught::head_with("volley", project, basis),
        json!({
            "spot": run.spot,
            "setpoint_radps": num(run.plan.setpoint_radps),
            "ready_s": t.spin_up_s.map(num),
            "top_speed_radps": num(t.top_radps),
            "peak_battery_a": num(t.peak_battery_a),
            "lowest_battery_v": num(t.lowest_battery_v),
            "browns_out": t.browns_out,
            "throws": throws,
            "samples": samples,
        }),
    )
}
