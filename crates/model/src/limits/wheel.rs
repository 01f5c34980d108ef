//! Grip, exit speed, rim speed and the guide's bend.

use super::{Evidence, Status, Verdict, Way, at_most};
use crate::launcher::Layout;
use crate::launcher::plateau::MOST_RESERVE_RATIO;
use crate::launcher::sheet;
use crate::project::SheetMaterial;
use crate::units::Dimension;

/// Friction reserve below which grip counts as tight: common practice asks for a margin of 1.5
/// on the length to rolling, no source.
const GRIP_RESERVE: f64 = 1.3;

pub(super) fn grip(e: &Evidence) -> Vec<Verdict> {
    let Some(p) = e.plateau else { return Vec::new() };
    let say = |v, d| e.project.say(v, d);
    let ten = say((0.1 * p.friction_sensitivity_ratio).abs(), Dimension::Ratio);
    let status = if !p.grips {
        Status::Fails
    } else if p.friction_reserve_ratio < GRIP_RESERVE {
        Status::Tight
    } else {
        Status::Holds
    };
    let why = if p.grips {
        format!(
            "rolls before it leaves; {}; 10 % of friction is worth {ten} of exit speed",
            if p.friction_reserve_ratio < MOST_RESERVE_RATIO {
                format!(
                    "friction could fall to {} of what is given before it slips",
                    say(1.0 / p.friction_reserve_ratio, Dimension::Ratio)
                )
            } else {
                "even an eighth of the friction given would do".to_string()
            }
        )
    } else {
        format!(
            "still slips on the wheel when it leaves, at {} of the no-slip speed: 10 % of friction is worth {ten} of exit speed, so dust and wear move every throw",
            say(p.speed_ratio, Dimension::Ratio)
        )
    };
    let mend = match e.project.machine.layout {
        Layout::Guide(_) => {
            "more squeeze, more wrap or a grippier wheel; repeatable throws need rolling at the exit"
        }
        Layout::Pair(_) => {
            "more squeeze, larger wheels (a longer contact) or a grippier tread; repeatable throws need rolling at the exit"
        }
    };
    vec![Verdict::new("grip", "", status, why).mend(mend.into())]
}

pub(super) fn exit_speed(e: &Evidence) -> Vec<Verdict> {
    let Some(asked) = e.project.limits.exit_speed_mps else {
        return Vec::new();
    };
    let say = |v| e.project.say(v, Dimension::Speed);
    let top = e
        .curve
        .points
        .iter()
        .filter_map(|p| p.exit.as_ref().ok())
        .map(|x| x.speed_mps)
        .fold(0.0, f64::max);
    let used = e
        .aims
        .iter()
        .filter_map(|a| a.best())
        .map(|s| s.exit.speed_mps)
        .fold(0.0, f64::max);
    let mut why = format!("{} at the fastest setpoint, {} allowed", say(used), say(asked));
    if top > asked {
        why.push_str(&format!(
            "; the machine could throw at {}: cap the wheel speed in the code",
            say(top)
        ));
    }
    vec![
        Verdict::new("exit-speed", "", at_most(used, asked), why)
            .numbers(Dimension::Speed, used, asked, asked - used)
            .mend(
                "throw the far spot on the other arc or from nearer, and cap the wheel speed in the code"
                    .into(),
            )
            .brief(e, "limits.exit_speed", used, Dimension::Speed, Way::Up),
    ]
}

pub(super) fn rim_speed(e: &Evidence) -> Vec<Verdict> {
    let m = &e.project.machine;
    let radius = 0.5 * m.wheel.diameter_m;
    let top = e.chain.top_radps * radius;
    let say = |v, d| e.project.say(v, d);
    if !m.wheel.rim_limit_mps.is_finite() {
        return vec![
            Verdict::unknown(
                "rim-speed",
                "wheel.rim_limit",
                &format!(
                    "the rim reaches {} at full speed: look up the wheel's highest rim speed (or highest rpm × circumference) and write `rim_limit` under [wheel]",
                    say(top, Dimension::Speed)
                ),
            )
            .numbers(Dimension::Speed, top, f64::NAN, f64::NAN),
        ];
    }
    let limit = m.wheel.rim_limit_mps;
    vec![
        Verdict::new(
            "rim-speed",
            "",
            at_most(top, limit),
            format!(
                "{} at the top wheel speed, {} allowed for the wheel",
                say(top, Dimension::Speed),
                say(limit, Dimension::Speed)
            ),
        )
        .numbers(Dimension::Speed, top, limit, limit - top)
        .mend(format!(
            "cap the wheel speed in the code at {}, or fit a wheel made for more",
            say(limit / radius, Dimension::AngularSpeed)
        )),
    ]
}

pub(super) fn guide_bend(e: &Evidence) -> Vec<Verdict> {
    let Layout::Guide(guide) = e.project.machine.layout else {
        return Vec::new();
    };
    let Some(s) = e.project.machine.sheet else {
        return Vec::new();
    };
    let say = |v| e.project.say(v, Dimension::Length);
    // Where it is bent most.
    let gap = guide.gap_m.min(guide.gap_at_m(0.0));
    let radius = 0.5 * e.project.machine.wheel.diameter_m + gap;
    let name = match s.material {
        SheetMaterial::Polycarbonate => "polycarbonate",
        SheetMaterial::Acrylic => "acrylic",
        SheetMaterial::Corrugated => "corrugated plastic",
    };
    let rule = sheet::cold_bend_rule(s.material);
    let Some(least) = rule.map(|r| r.least_ratio * s.thickness_m) else {
        return vec![
            Verdict::new(
                "guide-bend",
                "",
                Status::Unknown,
                format!("no published cold-bend rule for {name}: bend a test strip to {} first, flutes parallel to the wheel's axle", say(radius)),
            )
            .mend("test a strip before cutting the guide".into()),
        ];
    };
    let ratio = radius / least;
    let status = if ratio < 1.0 {
        Status::Fails
    } else if ratio < 1.1 {
        Status::Tight
    } else {
        Status::Holds
    };
    vec![
        Verdict::new(
            "guide-bend",
            "",
            status,
            format!("{} {name} is curved to {}; cold bending asks for {} or more", say(s.thickness_m), say(radius), say(least)),
        )
        .numbers(Dimension::Length, radius, least, radius - least)
        .mend(format!(
            "use sheet of {} or thinner (two layers, not glued, if it must be stiff), or have it heat-formed by someone equipped for it",
            // Down to the tenth of a millimetre in which sheet is sold.
            say((s.thickness_m * ratio * 1e4).floor() * 1e-4)
        )),
    ]
}
