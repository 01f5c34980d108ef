//! Size, mass and motor count of the whole machine.

use super::{Evidence, Verdict, Way, at_most};
use crate::launcher::Layout;
use crate::units::Dimension;

pub(super) fn size(e: &Evidence) -> Vec<Verdict> {
    let (m, l) = (&e.project.machine, &e.project.limits);
    [
        ("length", m.length_m, l.length_m),
        ("width", m.width_m, l.width_m),
        ("height", m.height_m, l.height_m),
    ]
    .into_iter()
    .filter_map(|(side, found, asked)| {
        let asked = asked?;
        let Some(found) = found else {
            let mut v = Verdict::unknown(
                "size",
                &format!("robot.{side}"),
                &format!(
                    "measure the robot stowed, with bumpers and cables, and write `{side}` under [robot]"
                ),
            );
            v.subject = side.to_string();
            return Some(v);
        };
        let say = |x| e.project.say(x, Dimension::Length);
        Some(
            Verdict::new(
                "size",
                side,
                at_most(found, asked),
                format!("{} of {} allowed", say(found), say(asked)),
            )
            .numbers(Dimension::Length, found, asked, asked - found)
            .mend(format!(
                "take {} off the {side}, or fold it in before the start",
                say((found - asked).max(0.0))
            ))
            .brief(e, &format!("limits.{side}"), found, Dimension::Length, Way::Up),
        )
    })
    .map(|v| {
        if v.status == super::Status::Tight {
            tight_size(v)
        } else {
            v
        }
    })
    .collect()
}

/// A fit is a fit: only the last five millimetres of a size limit are worth a warning.
fn tight_size(mut v: Verdict) -> Verdict {
    const CLOSE_M: f64 = 0.005;
    if v.margin.is_some_and(|m| m.value >= CLOSE_M) {
        v.status = super::Status::Holds;
        v.mend.clear();
    } else {
        v.mend = "measure the finished robot the way the rules do: hand-cut sheet varies by this much".into();
    }
    v
}

pub(super) fn mass(e: &Evidence) -> Vec<Verdict> {
    let Some(asked) = e.project.limits.mass_kg else {
        return Vec::new();
    };
    let Some(found) = e.project.machine.mass_kg else {
        return vec![Verdict::unknown(
            "mass",
            "robot.mass",
            "weigh the robot with battery and bumpers, or add up its parts, and write `mass` under [robot]",
        )];
    };
    let say = |x| e.project.say(x, Dimension::Mass);
    vec![
        Verdict::new(
            "mass",
            "",
            at_most(found, asked),
            format!("{} of {} allowed", say(found), say(asked)),
        )
        .numbers(Dimension::Mass, found, asked, asked - found)
        .mend(if found > asked {
            format!("take off {}", say(found - asked))
        } else {
            "weigh it again with everything on before the event".into()
        })
        .brief(e, "limits.mass", found, Dimension::Mass, Way::Up),
    ]
}

pub(super) fn motors(e: &Evidence) -> Vec<Verdict> {
    let Some(asked) = e.project.limits.motor_count else {
        return Vec::new();
    };
    let shafts = match e.project.machine.layout {
        Layout::Guide(_) => 1,
        Layout::Pair(_) => 2,
    };
    let launcher = e.project.machine.drive.motor_count.saturating_mul(shafts);
    let Some(others) = e.project.machine.other_motor_count else {
        return vec![Verdict::unknown(
            "motors",
            "robot.other_motors",
            &format!(
                "the launcher uses {launcher}; count the motors elsewhere and write `other_motors` under [robot]"
            ),
        )];
    };
    let found = launcher.saturating_add(others);
    let status = if found <= asked {
        super::Status::Holds
    } else {
        super::Status::Fails
    };
    let (f, a) = (f64::from(found), f64::from(asked));
    vec![
        Verdict::new(
            "motors",
            "",
            status,
            format!("{launcher} on the launcher and {others} elsewhere make {found} of {asked} allowed"),
        )
        .numbers(Dimension::Count, f, a, a - f)
        .mend(format!("do without {} of them", found.saturating_sub(asked)))
        .brief(e, "limits.motors", f, Dimension::Count, Way::Up),
    ]
}
