//! A shot in one line, in the units of the project.

use std::path::Path;

use arcwright_model::finding::Finding;
use arcwright_model::launcher::Setting;
use arcwright_model::project::Project;
use arcwright_model::units::Dimension as D;

use super::log::Unsaid;
use crate::store::{Entry, Undone};

/// Where from.
pub fn place(project: &Project, e: &Entry) -> String {
    if e.spot.is_empty() {
        project.say(e.distance_m, D::Length)
    } else {
        e.spot.clone()
    }
}

/// An amount with its direction: `12 mm left`.
fn toward(project: &Project, value: f64, d: D, [plus, minus]: [&str; 2]) -> String {
    let side = if value < 0.0 { minus } else { plus };
    format!("{} {side}", project.say(value.abs(), d))
}

/// What was seen.
pub fn seen(project: &Project, e: &Entry) -> String {
    let say = |v, d| project.say(v, d);
    let mut parts = Vec::new();
    if e.jammed {
        parts.push("jammed".to_string());
    }
    if let Some(o) = e.outcome {
        parts.push(o.word().to_string());
    }
    if let Some([along, across]) = e.miss_m {
        let mut text = toward(
            project,
            along,
            D::Length,
            ["beyond the centre", "before the centre"],
        );
        if across != 0.0 {
            text.push_str(&format!(
                ", {}",
                toward(project, across, D::Length, ["left", "right"])
            ));
        }
        parts.push(format!("by eye {text}"));
    }
    if let Some([along, across, height]) = e.landing_m {
        let mut text = format!("landed at {}", say(along, D::Length));
        if across != 0.0 {
            text.push_str(&format!(
                ", {}",
                toward(project, across, D::Length, ["left", "right"])
            ));
        }
        if (height - 0.5 * project.piece.diameter_m).abs() > 1e-3 {
            text.push_str(&format!(", centre {} up", say(height, D::Length)));
        }
        parts.push(text);
    }
    if let Some([distance, height]) = e.wall_m {
        parts.push(format!(
            "{} up at a wall {} away",
            say(height, D::Length),
            say(distance, D::Length)
        ));
    }
    if let Some((time, height)) = e.fall {
        let target = &project.target;
        let in_opening = (height - target.centre_height_m()).abs() < 1e-4;
        let time = say(time, D::Time);
        parts.push(if target.upright() && in_opening {
            format!("{time} to the opening")
        } else {
            format!("{time} down to {}", say(height, D::Length))
        });
    }
    if let Some(v) = e.exit_speed_mps {
        parts.push(format!("exit {}", say(v, D::Speed)));
    }
    if let Some(a) = e.exit_angle_rad {
        parts.push(format!("exit {}", say(a, D::Angle)));
    }
    if parts.is_empty() {
        "nothing seen".into()
    } else {
        parts.join("; ")
    }
}

/// What was measured and noted besides.
pub fn besides(project: &Project, e: &Entry) -> String {
    let say = |v, d| project.say(v, d);
    let mut parts = Vec::new();
    match (e.before_radps, e.after_radps) {
        (Some(b), Some(a)) => parts.push(format!(
            "{} before, {} after",
            say(b, D::AngularSpeed),
            say(a, D::AngularSpeed)
        )),
        (Some(b), None) => parts.push(format!("{} before", say(b, D::AngularSpeed))),
        (None, Some(a)) => parts.push(format!("{} after", say(a, D::AngularSpeed))),
        (None, None) => {}
    }
    if let Some(v) = e.battery_v {
        parts.push(say(v, D::Voltage));
    }
    if let Some(n) = e.piece {
        parts.push(format!("piece {n}"));
    }
    match (e.place, e.volley_count) {
        (1, None) => {}
        (p, None) => parts.push(format!("throw {p}")),
        (p, Some(n)) => parts.push(format!("throw {p} of {n}")),
    }
    if e.offset_m != 0.0 {
        parts.push(format!(
            "offset {}",
            toward(project, e.offset_m, D::Length, ["left", "right"])
        ));
    }
    if e.turned_rad != 0.0 {
        parts.push(format!(
            "turned {}",
            toward(project, e.turned_rad, D::Angle, ["left", "right"])
        ));
    }
    let setting = Setting {
        slide_m: e.slide_m,
        tilt_rad: e.tilt_rad,
        reach_m: e.reach_m,
    };
    if setting != project.machine.setting {
        parts.push(project.setting_words(&setting));
    }
    if let Some(why) = &e.left_out_because {
        parts.push(format!("left out: {why}"));
    }
    if !e.note.is_empty() {
        parts.push(format!("note: {}", e.note));
    }
    parts.join("; ")
}

/// The whole shot in a line.
pub fn line(project: &Project, id: i64, e: &Entry, unsaid: &Unsaid) -> String {
    let mut speed = project.say(e.setpoint_radps, D::AngularSpeed);
    if unsaid.last_speed {
        speed.push_str(" as before");
    } else if unsaid.aimed_speed {
        speed.push_str(" as aimed");
    }
    let same = if unsaid.spot { " again" } else { "" };
    let mut text = format!(
        "shot {id}: {}{same}, {speed}: {}",
        place(project, e),
        seen(project, e)
    );
    let more = besides(project, e);
    if !more.is_empty() {
        text.push_str("; ");
        text.push_str(&more);
    }
    if e.miss_m.is_some() && e.outcome.is_none() {
        text.push_str(" (inside the opening: add `in` if it went in, or the outcome)");
    }
    text
}

/// What an undo took back, in words.
///
/// # Errors
/// `nothing-to-undo`.
pub fn undone(project: &Project, undone: &[Undone], log: &Path) -> Result<String, Finding> {
    match undone {
        [] => Err(Finding::new(
            "nothing-to-undo",
            log.display().to_string(),
            "nothing is left to take back",
            "`arcwright floor list --history 1` shows what was done to a shot",
        )),
        [one] if one.entry.taken_back => Ok(format!(
            "shot {} taken back: {}, {}\n",
            one.id,
            place(project, &one.entry),
            seen(project, &one.entry)
        )),
        [one] => Ok(format!(
            "shot {}, {}: as it was before: {}\n",
            one.id,
            one.done,
            seen(project, &one.entry)
        )),
        many if many.iter().all(|u| u.entry.taken_back) => {
            Ok(format!("{} shots of an import taken back\n", many.len()))
        }
        [first, ..] => Ok(format!(
            "{} shots, {}: as they were before\n",
            undone.len(),
            first.done
        )),
    }
}
