//! How a careful person would tune the hidden machine of a rehearsal without a model, to compare with.

use arcwright_model::floor::rehearse::{Ask, HiddenProject, Look};
use arcwright_model::project::{Project, Spot};
use arcwright_model::target::Outcome;

use super::Floor;
use super::next::InUse;
use arcwright_model::aim::{ExitCurve, aim_spot};
use arcwright_model::limits::CURVE_POINTS;

/// Method: first step of a person who sees short or long only, as a share of the speed; halved whenever it turns.
const FIRST_STEP: f64 = 0.08;
/// Method: no single correction of a speed is larger, in ln.
const LARGEST: f64 = 0.2;
/// Method: throws counted at each spot to know what a table truly brings: three points of standard error at 80 %.
const COUNTED: usize = 150;

/// A throw from a spot as it is used.
pub fn ask(project: &Project, spot: &Spot, used: &InUse) -> Ask {
    Ask {
        session_index: 0,
        distance_m: spot.distance_m,
        offset_m: spot.offset_m,
        turned_rad: used.turned_rad,
        setting: project.machine.setting,
        setpoint_radps: used.setpoint_radps,
        piece: None,
        place: 0,
        last: false,
    }
}

/// Tunes spot after spot from the design's speeds; the table before the first shot and after each.
///
/// Where the miss is seen, the n-th miss at a spot is taken back by one part in n by the design's own slope, and the mean
/// of the misses aside is turned away. Otherwise a step up when short and down when long, halved whenever it turns.
pub fn tune(
    project: &Project,
    machine: &mut HiddenProject,
    start: &[InUse],
    look: &Look,
    shots: usize,
) -> Vec<Vec<InUse>> {
    let floor = Floor::of(project);
    let curve = ExitCurve::of(floor.chain(), &project.machine.setting, CURVE_POINTS);
    let per_ln_m: Vec<Option<f64>> = project
        .spots
        .iter()
        .map(|spot| {
            let aim = aim_spot(project, floor.chain(), &curve, &project.machine.setting, spot);
            aim.best().map(|s| 100.0 * s.along_per_percent_m)
        })
        .collect();
    let mut table = start.to_vec();
    let mut state = vec![(0.0_f64, FIRST_STEP, None::<bool>); table.len()];
    let (mut aside_sum, mut aside_count) = (0.0, 0.0);
    let mut out = Vec::with_capacity(shots + 1);
    for i in 0..shots {
        out.push(table.clone());
        let k = i % table.len().max(1);
        let (Some(spot), Some(used), Some((count, step, last_up))) =
            (project.spots.get(k), table.get_mut(k), state.get_mut(k))
        else {
            break;
        };
        let Ok(shot) = machine.throw(&ask(project, spot, used), look) else {
            continue;
        };
        let up = match shot.seen.outcome {
            Some(Outcome::Short | Outcome::Under) => Some(true),
            Some(Outcome::Long) => Some(false),
            _ => None,
        };
        if let (Some([along, across]), Some(Some(per))) = (shot.seen.miss_m, per_ln_m.get(k)) {
            *count += 1.0;
            used.setpoint_radps *= (-along / per / *count).clamp(-LARGEST, LARGEST).exp();
            aside_sum += across / spot.distance_m - used.turned_rad;
            aside_count += 1.0;
            let turned_rad = -aside_sum / aside_count;
            table.iter_mut().for_each(|u| u.turned_rad = turned_rad);
        } else if let Some(up) = up {
            if last_up.is_some_and(|l| l != up) {
                *step *= 0.5;
            }
            *last_up = Some(up);
            used.setpoint_radps *= 1.0 + if up { *step } else { -*step };
        }
    }
    out.push(table);
    out
}

/// Share of throws that truly go in from each spot, counted from throws of a copy of the machine that nobody logs.
pub fn counted(project: &Project, machine: &HiddenProject, table: &[InUse]) -> Vec<f64> {
    let each = project.spots.iter().zip(table);
    each.map(|(spot, used)| counted_from(project, machine, spot, used))
        .collect()
}

/// The same from one spot. The accidents are the same for every table, so that tables compare better than either number says.
pub fn counted_from(project: &Project, machine: &HiddenProject, spot: &Spot, used: &InUse) -> f64 {
    let look = Look {
        outcome: true,
        ..Look::default()
    };
    let mut copy = machine.clone();
    let ask = ask(project, spot, used);
    let hits = (0..COUNTED)
        .filter(|_| {
            copy.throw(&ask, &look)
                .is_ok_and(|s| s.seen.outcome == Some(Outcome::In))
        })
        .count();
    hits as f64 / COUNTED as f64
}
