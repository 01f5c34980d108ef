//! From the room to adjust to its picture.

use arcwright_model::aim;
use arcwright_model::limits::{case_words, room_verdict};
use arcwright_model::project::Project;
use arcwright_paper::drawings::room as room_view;

/// What the unknown quantities use of the wheel's speed and of each knob's travel.
pub fn room(project: &Project, room: &aim::Room) -> String {
    room_view::draw(&room_view::RoomToAdjust {
        units: project.units,
        verdict: room_verdict(project, room).status.word().into(),
        scales: speed_scale(project, room)
            .into_iter()
            .chain(
                room.knobs
                    .iter()
                    .filter_map(|k| knob_scale(project, room, k.knob)),
            )
            .collect(),
    })
}

fn case_kind(case: &aim::RoomCase) -> room_view::Kind {
    match case.end {
        aim::End::Written => room_view::Kind::Written,
        end if end.single() => room_view::Kind::Single,
        _ => room_view::Kind::Together,
    }
}

/// A case in few words.
fn case_name(project: &Project, case: &aim::RoomCase) -> String {
    if case.end.single() {
        case_words(project, case)
    } else {
        format!("all together, {}", case.end.word())
    }
}

/// Setpoints by wheel speed alone, one row for each spot.
fn speed_scale(project: &Project, room: &aim::Room) -> Option<room_view::TravelScale> {
    let speed = room.speed?;
    let rows = project.spots.iter().enumerate().map(|(i, spot)| room_view::Row {
        name: spot.name.clone(),
        marks: room
            .cases
            .iter()
            .filter_map(|case| {
                let s = case.by_speed.get(i)?;
                Some(room_view::Mark {
                    value: s.needed_radps.or(s.setpoint_radps)?,
                    case: case_name(project, case),
                    kind: case_kind(case),
                    answered: s.served(),
                })
            })
            .collect(),
    });
    Some(room_view::TravelScale {
        name: "wheel speed".into(),
        measure: room_view::Measure::Turning,
        low: 0.0,
        high: speed.top_radps,
        usable: Some(speed.usable_radps),
        needed: None,
        rows: rows.collect(),
    })
}

/// Where a knob stands in each case, and the travel it lacks.
fn knob_scale(project: &Project, room: &aim::Room, knob: aim::Knob) -> Option<room_view::TravelScale> {
    let travel = knob.travel(project)?;
    let here = knob.of(&project.machine.setting);
    let marks = room.cases.iter().map(|case| {
        let need = case.needs.iter().find(|n| n.knob == knob);
        let value = match (&case.by_knobs, need) {
            (Some(b), _) if b.serves() => knob.of(&b.setting),
            (_, Some(n)) if n.needed.high > n.present.high => n.needed.high,
            (_, Some(n)) => n.needed.low,
            _ => here,
        };
        room_view::Mark {
            value,
            case: case_name(project, case),
            kind: case_kind(case),
            answered: case.served(),
        }
    });
    Some(room_view::TravelScale {
        name: knob.word().into(),
        measure: match knob {
            aim::Knob::Tilt => room_view::Measure::Angle,
            aim::Knob::Slide | aim::Knob::Reach => room_view::Measure::Length,
        },
        low: travel.low,
        high: travel.high,
        usable: None,
        needed: room
            .travel
            .iter()
            .find(|n| n.knob == knob)
            .map(|n| [n.needed.low, n.needed.high]),
        rows: vec![room_view::Row {
            name: String::new(),
            marks: marks.collect(),
        }],
    })
}
