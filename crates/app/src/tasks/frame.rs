//! The rest of the machine: names and pictures.

use arcwright_model::limits::{BaseFigures, FrameReport, LINE_UP_RAD, SHIFT_M, SupportFigures};
use arcwright_model::project::{BaseKind, Frame, Project, SheetMaterial};
use arcwright_model::units::Dimension as D;
use arcwright_paper::drawings::polar as polar_view;

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

/// What bases do, beside each other.
pub fn base_table(project: &Project, frame: &Frame, all: &[&BaseFigures]) -> Table {
    let say = |v: f64, d| project.say(v, d);
    let time = |t: Option<f64>| t.map_or("never".to_string(), |t| say(t, D::Time));
    let row = |name: String, of: &dyn Fn(&BaseFigures) -> String| -> Vec<String> {
        std::iter::once(name).chain(all.iter().map(|b| of(b))).collect()
    };
    let side = |b: &BaseFigures, of: fn(&arcwright_model::limits::Direction) -> f64| {
        b.directions.get(b.directions.len() / 4).map_or(0.0, of)
    };
    let way = say(frame.dash_m, D::Length);
    let rows = vec![
        row("top speed ahead".into(), &|b| say(b.top_mps, D::Speed)),
        row(
            "top speed to the side".into(),
            &|b| match side(b, |d| d.speed_mps) {
                0.0 => "none".into(),
                v => say(v, D::Speed),
            },
        ),
        row("push ahead".into(), &|b| {
            format!(
                "{}, {}",
                say(b.push_n, D::Force),
                if b.slips { "wheels slip" } else { "motors stand" }
            )
        }),
        row("push to the side".into(), &|b| match side(b, |d| d.force_n) {
            0.0 => "none".into(),
            v => say(v, D::Force),
        }),
        row("each motor then".into(), &|b| say(b.push_a, D::Current)),
        row(format!("{way} ahead, stopping"), &|b| time(b.dash_s)),
        row(format!("{way} to the side, heading as before"), &|b| {
            time(b.side_s)
        }),
        row("quarter turn".into(), &|b| time(b.quarter_s)),
        row(
            format!("lining up from {} off", say(LINE_UP_RAD, D::Angle)),
            &|b| time(b.line_up_s),
        ),
        row(
            format!("shift by {} to the side", say(SHIFT_M, D::Length)),
            &|b| time(b.shift_s),
        ),
    ];
    let names: Vec<String> = all.iter().map(|b| base_words(b)).collect();
    let mut head = vec![String::new()];
    head.extend(names);
    Table { head, rows }
}

/// Physical: a life that nobody waits for.
const LONG_S: f64 = 3.6e8;

/// The rest of the frame's figures, a sentence each, without the full stop.
pub fn figure_lines(project: &Project, r: &FrameReport) -> Vec<String> {
    let say = |v: f64, d| project.say(v, d);
    let mut lines = Vec::new();
    if let Some(p) = &r.power {
        lines.push(format!(
            "Power: at once {} and {}; over a match {} on average, {:.1} W h and {} of charge, {} lost in battery and leads",
            say(p.at_once_a, D::Current),
            say(p.at_once_v, D::Voltage),
            say(p.rms_a, D::Current),
            p.battery.source_j / 3600.0,
            say(p.battery.charge_a_s, D::Charge),
            say(p.battery.loss_j / p.battery.source_j, D::Ratio)
        ));
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
        lines.push(format!(
            "Shaft: {} steadily and {} in a throw on the support that bears more, first critical speed {}{life}. The lump at the rim turns with {} and swings the wheel by {} to each side, {} of the squeeze on every throw; soft plates make it more",
            say(s.steady_n, D::Force),
            say(s.throw_n, D::Force),
            say(s.critical.exact_radps, D::AngularSpeed),
            say(s.lump_n, D::Force),
            say(s.shake_m, D::Length),
            say(s.shake_m / project.squeeze_m(), D::Ratio)
        ));
    }
    if let Some(g) = &r.guide {
        let materials: Vec<String> = g
            .enough
            .iter()
            .map(|(m, t)| {
                let name = match m {
                    SheetMaterial::Polycarbonate => "polycarbonate",
                    SheetMaterial::Acrylic => "acrylic",
                    SheetMaterial::Corrugated => "corrugated plastic",
                };
                format!("{name} {}", say(*t, D::Length))
            })
            .collect();
        lines.push(format!(
            "Guide sheet on these ribs: enough for a give of a twentieth of the squeeze are {}",
            materials.join(", ")
        ));
    }
    let size = |b: &arcwright_model::frame::mass::Block| {
        let s = b.size_m();
        format!(
            "{} x {} x {}",
            say(s[0], D::Length),
            say(s[1], D::Length),
            say(s[2], D::Length)
        )
    };
    if let Some(b) = &r.stowed {
        lines.push(format!("Listed parts, stowed: {}", size(b)));
    }
    if let Some(f) = &r.free {
        lines.push(format!(
            "Greatest free block within the size limits: {}, from {} ahead, {} left, {} up of the middle of the floor",
            size(f),
            say(f.low_m[0], D::Length),
            say(f.low_m[1], D::Length),
            say(f.low_m[2], D::Length)
        ));
    }
    lines
}
