//! The rest of the machine: what is said about it, and its pictures.

use arcwright_model::finding::Finding;
use arcwright_model::frame::mass::Block;
use arcwright_model::limits::{
    BaseChoice, BaseFigures, Direction, FrameReport, Report, SheetChoice, SupportFigures, allowed_block,
    free_rooms, rims, shake_scatter, sheet_choices, weighed,
};
use arcwright_model::project::{BaseKind, Frame, Project, SheetMaterial};
use arcwright_model::units::Dimension as D;
use arcwright_paper::drawings::{free_room as room_view, polar as polar_view};

/// Free blocks that are told and drawn.
pub const FREE_COUNT: usize = 3;

use super::tables::Table;

/// A base in a few words.
pub fn base_words(base: &BaseFigures) -> String {
    let motors = format!(
        "{} motor{}",
        base.motor_count,
        if base.motor_count == 1 { "" } else { "s" }
    );
    match base.kind {
        BaseKind::Four => format!("four wheels, {motors}"),
        BaseKind::Six => format!("six wheels, {motors}"),
        BaseKind::Sideways => format!("sideways, {motors}"),
    }
}

/// The other base of a comparison, by its word; as many motors as in the file where none are named.
///
/// # Errors
/// `missing-table` without frame, motor or mass; `not-a-choice` for another word.
pub fn other_base(project: &Project, word: &str, motors: Option<u32>) -> Result<BaseFigures, Finding> {
    let frame = project.frame.as_ref().ok_or_else(no_frame)?;
    let kind = BaseKind::of(word).ok_or_else(|| {
        Finding::new(
            "not-a-choice",
            "compare",
            format!("there is no base \"{word}\""),
            "write four, six or sideways",
        )
    })?;
    let choice = BaseChoice {
        kind,
        motor_count: motors.unwrap_or(frame.motor_count),
    };
    BaseFigures::with(project, choice).ok_or_else(|| {
        Finding::new(
            "missing-table",
            "frame.motor",
            "two bases cannot be compared without the motor and the mass",
            "add [frame.motor], and `mass` under [robot] or the parts",
        )
    })
}

/// A project that does not describe its frame.
pub fn no_frame() -> Finding {
    Finding::new(
        "missing-table",
        "frame",
        "this project has no [frame]: nothing is known of the drive base",
        "add the tables [frame] and [frame.motor]; docs/project-file.md lists their keys, and `arcwright new NAME --from lantern` shows them filled in",
    )
}

/// Speed and push by direction.
pub fn polar<'a>(project: &Project, bases: impl Iterator<Item = &'a BaseFigures>) -> String {
    polar_view::draw(&polar_view::PolarPicture {
        units: project.units,
        bases: bases
            .map(|b| polar_view::PolarBase {
                name: base_words(b),
                speed_mps: b.directions.iter().map(|d| d.speed_mps).collect(),
                force_n: b.directions.iter().map(|d| d.force_n).collect(),
            })
            .collect(),
    })
}

/// Parts and free room; `None` without listed parts or without size limits.
pub fn free_room(project: &Project) -> Option<String> {
    let frame = project.frame.as_ref().filter(|f| !f.parts.is_empty())?;
    let room = allowed_block(project)?;
    Some(room_view::draw(&room_view::FreeRoomPicture {
        units: project.units,
        room,
        parts: frame
            .parts
            .iter()
            .map(|p| (p.name.clone(), Block::about(p.at_m, p.size_m)))
            .collect(),
        unfolded: frame
            .parts
            .iter()
            .filter(|p| p.out_m != [0.0; 3])
            .map(|p| Block::about([0, 1, 2].map(|i: usize| p.at_m[i] + p.out_m[i]), p.size_m))
            .collect(),
        free: free_rooms(project, FREE_COUNT),
        centre_m: weighed(project, frame).map(|w| w.centre_m),
    }))
}

/// A table of bases side by side: its head and its rows, in words.
pub fn base_table(project: &Project, frame: &Frame, all: &[&BaseFigures]) -> Table {
    let say = |v: f64, d| project.say(v, d);
    let time = |t: Option<f64>| t.map_or("never".to_string(), |t| say(t, D::Time));
    let row = |name: String, of: &dyn Fn(&BaseFigures) -> String| -> Vec<String> {
        std::iter::once(name).chain(all.iter().map(|b| of(b))).collect()
    };
    let side = |b: &BaseFigures, of: fn(&Direction) -> f64, d| match b
        .directions
        .get(b.directions.len() / 4)
        .map_or(0.0, of)
    {
        0.0 => "none".to_string(),
        v => say(v, d),
    };
    let way = say(frame.dash_m, D::Length);
    let rows = vec![
        row("top speed ahead".into(), &|b| say(b.top_mps, D::Speed)),
        row("top speed to the side".into(), &|b| {
            side(b, |d| d.speed_mps, D::Speed)
        }),
        row("push ahead".into(), &|b| {
            format!(
                "{}, {}",
                say(b.push_n, D::Force),
                if b.slips { "wheels slip" } else { "motors stand" }
            )
        }),
        row("push to the side".into(), &|b| side(b, |d| d.force_n, D::Force)),
        row("each motor then".into(), &|b| say(b.push_a, D::Current)),
        row("battery while speeding up, most".into(), &|b| {
            say(b.speeding_peak_a, D::Current)
        }),
        row(format!("{way} ahead, stopping"), &|b| time(b.dash_s)),
        row(format!("{way} to the side, heading as before"), &|b| {
            time(b.side_s)
        }),
        row("quarter turn".into(), &|b| time(b.quarter_s)),
        row(
            format!("lining up from {} off", say(frame.line_up_rad, D::Angle)),
            &|b| time(b.line_up_s),
        ),
        row(
            format!("shift by {} to the side", say(frame.shift_m, D::Length)),
            &|b| time(b.shift_s),
        ),
    ];
    let head = std::iter::once(String::new())
        .chain(all.iter().map(|b| base_words(b)))
        .collect();
    Table { head, rows }
}

/// What the table of bases reckons with.
pub const BASE_NOTE: &str = "Times from rest to rest at full power, with coming to rest on the heading after each turn. Speeds are without losses on the floor.";

/// Method: a difference below this is none.
const SAME_S: f64 = 0.005;

/// What the other base buys and costs, in a few sentences.
pub fn bought(project: &Project, base: &BaseFigures, other: &BaseFigures) -> String {
    let say = |v: f64, d| project.say(v, d);
    let mut out = Vec::new();
    let mut time = |a: Option<f64>, b: Option<f64>, on: &str| match (a, b) {
        (Some(a), Some(b)) if (a - b).abs() >= SAME_S => {
            let (word, by) = if b < a { ("saves", a - b) } else { ("costs", b - a) };
            out.push(format!("{word} {} {on}", say(by, D::Time)));
        }
        (Some(_), None) => out.push(format!("cannot do {on} at all")),
        (None, Some(_)) => out.push(format!("can do {on}, which the present one cannot")),
        _ => {}
    };
    time(base.side_s, other.side_s, "on every drive to the side");
    time(base.shift_s, other.shift_s, "on each small shift");
    time(base.dash_s, other.dash_s, "on every drive straight ahead");
    time(base.line_up_s, other.line_up_s, "on each lining up");
    let push = other.push_n / base.push_n - 1.0;
    out.push(if push.abs() < 0.005 {
        "pushes as hard".to_string()
    } else {
        format!(
            "pushes {} {}",
            say(push.abs(), D::Ratio),
            if push < 0.0 { "less" } else { "more" }
        )
    });
    let draws = other.speeding_peak_a - base.speeding_peak_a;
    if draws.abs() >= 1.0 {
        out.push(format!(
            "takes {} {} from the battery at most while it speeds up",
            say(draws.abs(), D::Current),
            if draws < 0.0 { "less" } else { "more" }
        ));
    }
    let mut text = format!("{}: {}.", base_words(other), out.join(", "));
    let more = i64::from(other.motor_count) - i64::from(base.motor_count);
    if more != 0 {
        text.push_str(&format!(
            " It takes {} motor{} {}",
            more.abs(),
            if more.abs() == 1 { "" } else { "s" },
            if more > 0 { "more" } else { "fewer" }
        ));
        let m = &project.machine;
        let total = m.other_motor_count.map(|n| {
            let now = project.frame.as_ref().map_or(0, |f| f.motor_count);
            n.saturating_sub(now) + other.motor_count + m.drive.motor_count
        });
        match (total, project.limits.motor_count) {
            (Some(n), Some(most)) if n > most => {
                text.push_str(&format!(": {n} in all, and the brief allows {most}."));
            }
            (Some(n), Some(most)) => {
                text.push_str(&format!(": {n} in all, of {most} that the brief allows."));
            }
            _ => text.push('.'),
        }
    }
    if project.season.is_some() {
        text.push_str(
            " What it is worth in points: `arcwright season`, with a change whose `drive` names it.",
        );
    }
    text
}

/// Physical: a life that nobody waits for.
const LONG_S: f64 = 3.6e8;

fn size_words(project: &Project, b: &Block) -> String {
    b.size_m().map(|v| project.say(v, D::Length)).join(" x ")
}

/// Rounding: a change of speed that does not show.
const SAME_FRAC: f64 = 5e-4;

/// Sheet materials by the same numbers: head, rows, and what they reckon with; `None` without a guide, its sheet or its ribs.
pub fn sheet_table(project: &Project, whole: &Report) -> Option<(Table, String)> {
    let say = |v: f64, d| project.say(v, d);
    let all = sheet_choices(project, whole);
    let first = all.first()?;
    let row = |name: &str, of: &dyn Fn(&SheetChoice) -> String| -> Vec<String> {
        std::iter::once(name.to_string())
            .chain(all.iter().map(of))
            .collect()
    };
    let exit = |c: &SheetChoice| match c.giving {
        None => "does not come through".to_string(),
        Some(g) => {
            let by = g.exit_mps / g.stiff_mps - 1.0;
            let sign = if by < 0.0 { "−" } else { "+" };
            let change = if by.abs() < SAME_FRAC {
                "the same".to_string()
            } else {
                format!("{sign}{:.1} %", 100.0 * by.abs())
            };
            format!("{} ({change})", say(g.exit_mps, D::Speed))
        }
    };
    let rows = vec![
        row("curves cold to", &|c| {
            c.least_radius_m
                .map_or("test a strip".into(), |m| say(m, D::Length))
        }),
        row("stress in the curve", &|c| {
            format!("{:.1} MPa", c.stress_pa / 1e6)
        }),
        row("springs back", &|c| {
            if c.kept_ratio > 0.0 {
                format!("{:.0} %", 100.0 * (1.0 - c.kept_ratio))
            } else {
                "whole".into()
            }
        }),
        row("held in the curve by", &|c| say(c.holding_nm, D::Torque)),
        row("gives way between ribs by", &|c| say(c.give_m, D::Length)),
        row("squeeze left between ribs", &|c| {
            c.giving.map_or("-".into(), |g| say(g.between_m, D::Length))
        }),
        row("exit speed with that give", &exit),
        row("thickness that would do", &|c| say(c.enough_m, D::Length)),
        row("mass along the arc", &|c| say(c.mass_kg, D::Mass)),
    ];
    let head = std::iter::once(String::new())
        .chain(all.iter().map(|c| sheet_word(c.material).to_string()))
        .collect();
    let note = format!(
        "All {} thick on an arc of {}. A sheet that springs back whole has to be held at three places or more, by that moment. The give is fed into the gap along the arc, force and squeeze in balance; the thickness that would do gives way by a twentieth of the squeeze. Corrugated: flutes along the axle, and its stiffness is a judgement until a strip is tested",
        say(first.thickness_m, D::Length),
        say(first.radius_m, D::Length)
    );
    Some((Table { head, rows }, note))
}

/// Figures in sentences, by what they are about.
pub fn figures(project: &Project, whole: &Report, r: &FrameReport) -> Vec<(&'static str, String)> {
    let say = |v: f64, d| project.say(v, d);
    let mut lines = Vec::new();
    if let Some(p) = &r.power {
        lines.push((
            "power",
            format!(
                "Power: at once {} and {}; over a match {} on average, {:.1} W h and {} of charge, {} lost in battery and leads",
                say(p.at_once_a, D::Current),
                say(p.at_once_v, D::Voltage),
                say(p.rms_a, D::Current),
                p.battery.source_j / 3600.0,
                say(p.battery.charge_a_s, D::Charge),
                say(p.battery.loss_j / p.battery.source_j, D::Ratio)
            ),
        ));
        if let Some(k) = p.held_k {
            lines.push((
                "power",
                format!("A drive motor that is held by a wall for 3 s gets {k:.0} K warmer in its winding"),
            ));
        }
    }
    if let Some(s) = &r.shaft {
        let life = match &s.support {
            SupportFigures::Ball { life_s: Some(l), .. } if *l < LONG_S => {
                format!("; bearing life {:.0} hours", l / 3600.0)
            }
            SupportFigures::Ball { life_s: Some(_), .. } => "; bearing life over 100 000 hours".to_string(),
            SupportFigures::Bushing { load, .. } => {
                format!("; pressure times speed {:.2} MPa m/s", load.product_pa_mps / 1e6)
            }
            SupportFigures::Ball { .. } => String::new(),
        };
        lines.push(("shaft", format!(
            "Shaft: {} steadily and {} in a throw on the support that bears more, first critical speed {}{life}. The lump at the rim turns with {} and swings the wheel by {} to each side, {} of the squeeze on every throw; soft plates make it more",
            say(s.steady_n, D::Force),
            say(s.throw_n, D::Force),
            say(s.critical.exact_radps, D::AngularSpeed),
            say(s.lump_n, D::Force),
            say(s.shake_m, D::Length),
            say(s.shake_m / project.squeeze_m(), D::Ratio)
        )));
        let scatter = shake_scatter(project, whole, s.shake_m);
        let worst = scatter
            .iter()
            .max_by(|a, b| a.along_sd_m.total_cmp(&b.along_sd_m));
        if let Some(w) = worst {
            lines.push(("shaft", format!(
                "That imbalance alone scatters the crossing by ± {} from spot {}, where it is most; with supports ten times as soft, by ten times that",
                say(w.along_sd_m, D::Length),
                w.spot
            )));
        }
    }
    let turning = rims(project, whole.chain.top_radps);
    if turning.is_empty() {
        lines.push(("rim", "No stress of turning is worked out: write `material` beside the parts of the wheel (`printed` for printed plastic)".into()));
    }
    if let Some(g) = &r.guide {
        let materials: Vec<String> = g
            .enough
            .iter()
            .map(|(m, t)| format!("{} {}", sheet_word(*m), say(*t, D::Length)))
            .collect();
        lines.push((
            "guide",
            format!(
                "Guide sheet on these ribs: enough for a give of a twentieth of the squeeze are {}",
                materials.join(", ")
            ),
        ));
    }
    if let Some(b) = &r.stowed {
        lines.push((
            "parts",
            format!("Listed parts, stowed: {}", size_words(project, b)),
        ));
    }
    for (i, f) in free_rooms(project, FREE_COUNT).iter().enumerate() {
        lines.push((
            "parts",
            format!(
                "{} free block within the size limits: {}, from {} ahead, {} left, {} up of the middle of the floor",
                ["Greatest", "Second", "Third"].get(i).unwrap_or(&"Another"),
                size_words(project, f),
                say(f.low_m[0], D::Length),
                say(f.low_m[1], D::Length),
                say(f.low_m[2], D::Length)
            ),
        ));
    }
    lines
}

/// A sheet material by its name.
pub fn sheet_word(material: SheetMaterial) -> &'static str {
    match material {
        SheetMaterial::Polycarbonate => "polycarbonate",
        SheetMaterial::Acrylic => "acrylic",
        SheetMaterial::Corrugated => "corrugated plastic",
    }
}
