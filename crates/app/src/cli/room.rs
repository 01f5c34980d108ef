//! `aim --room`: the room to adjust as sentences and a table.

use arcwright_model::aim::{Room, RoomCase, SpotRoom};
use arcwright_model::limits::{Status, case_words, room_verdict, room_words};
use arcwright_model::project::Project;
use arcwright_model::units::Dimension as D;

use super::say::{columns, name, wrap};

/// Width of running text in the terminal.
const WIDTH: usize = 96;

/// The whole answer.
pub fn text(project: &Project, room: &Room) -> String {
    let verdict = room_verdict(project, room);
    let mut text = format!(
        "Room to adjust at {}: {}\n",
        project.setting_words(&project.machine.setting),
        verdict.status.word()
    );
    for sentence in room_words(project, room) {
        text.push_str(&format!("  {}\n", wrap(&sentence, WIDTH - 2, "    ")));
    }
    if verdict.status != Status::Holds && !verdict.mend.is_empty() {
        let mend = wrap(&verdict.mend, WIDTH - 8, "        ");
        text.push_str(&format!("  mend: {mend}\n"));
    }
    text.push_str("\nSetpoints at each end, by wheel speed alone\n");
    text.push_str(&table(project, room));
    text.push_str(&used(project, room));
    text
}

fn cell(project: &Project, spot: &SpotRoom) -> String {
    let rpm = |v| project.say(v, D::AngularSpeed);
    match (spot.served(), spot.setpoint_radps, spot.needed_radps) {
        (true, Some(w), _) => rpm(w),
        (_, _, Some(w)) => format!("needs {}", rpm(w)),
        (_, Some(w), None) => format!("not at {}", rpm(w)),
        _ => "none".into(),
    }
}

/// What answers a case.
fn answer(project: &Project, case: &RoomCase) -> String {
    if case.by_speed_alone() {
        return "speed alone".into();
    }
    match &case.by_knobs {
        Some(b) if b.serves() => project.setting_words(&b.setting),
        _ if case.searched => "nothing within the travel".into(),
        _ => "not looked for".into(),
    }
}

fn table(project: &Project, room: &Room) -> String {
    let mut head: Vec<String> = vec!["where it turns out".into()];
    head.extend(project.spots.iter().map(|s| name(&s.name)));
    head.extend(["least top speed left".into(), "answered by".into()]);
    let head: Vec<&str> = head.iter().map(String::as_str).collect();
    let rows: Vec<Vec<String>> = room
        .cases
        .iter()
        .map(|case| {
            let mut row = vec![case_words(project, case)];
            row.extend(case.by_speed.iter().map(|s| cell(project, s)));
            let reserves: Option<Vec<f64>> = case.by_speed.iter().map(|s| s.reserve_frac).collect();
            let least = reserves.and_then(|r| r.into_iter().min_by(f64::total_cmp));
            row.push(least.map_or("-".into(), |r| project.say(r, D::Ratio)));
            row.push(answer(project, case));
            row
        })
        .collect();
    columns(&head, &rows)
}

/// What all the cases use of each travel.
fn used(project: &Project, room: &Room) -> String {
    let rpm = |v| project.say(v, D::AngularSpeed);
    let mut rows = Vec::new();
    if let Some(s) = &room.speed {
        rows.push(vec![
            "wheel speed".into(),
            format!("{} to {}", rpm(s.lowest_radps), rpm(s.highest_radps)),
            format!(
                "up to {} ({} top speed less the reserve)",
                rpm(s.usable_radps),
                rpm(s.top_radps)
            ),
        ]);
    }
    for k in &room.knobs {
        let Some(travel) = k.knob.travel(project) else {
            continue;
        };
        let say = |v| project.say(v, k.knob.dimension());
        let [low, high] = k.range;
        let span = if low == high {
            format!("stays at {}", say(low))
        } else {
            format!("{} to {}", say(low), say(high))
        };
        rows.push(vec![
            k.knob.word().into(),
            span,
            format!("{} to {}", say(travel.low), say(travel.high)),
        ]);
    }
    if rows.is_empty() {
        return String::new();
    }
    format!(
        "\nTravel used over all of them\n{}",
        columns(&["", "used", "there is"], &rows)
    )
}
