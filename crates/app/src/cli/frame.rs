//! `frame`: the rest of the machine.

use arcwright_model::limits::{
    BaseChoice, BaseFigures, FrameReport, LINE_UP_RAD, SHIFT_M, SupportFigures, frame_report, worst,
};
use arcwright_model::project::{BaseKind, Frame, Project, SheetMaterial};
use arcwright_model::units::Dimension as D;
use clap::Args;

use super::say::{columns, wrap};
use super::{Answer, Common, Refusal, check, code_of, source};
use crate::tasks::frame::{base_words, polar};
use crate::tasks::{json, safety};

#[derive(Args)]
pub struct FrameArgs {
    #[command(flatten)]
    common: Common,
    /// Beside the base in the file, another one: four, six or sideways
    #[arg(long, value_name = "BASE")]
    compare: Option<String>,
    /// Motors of the other base [default: as many as in the file]
    #[arg(long, value_name = "N", requires = "compare", value_parser = clap::value_parser!(u32).range(1..=12))]
    motors: Option<u32>,
}

pub fn run(args: &FrameArgs) -> Result<Answer, Refusal> {
    let source = source::load(&args.common)?;
    let project = &source.project;
    let (Some(frame), Some(report)) = (&project.frame, frame_report(project)) else {
        return Err(Refusal::input(
            "this project has no [frame]: nothing is known of the drive base\n  fix add the tables [frame] and [frame.motor]; docs/project-file.md lists their keys, and `arcwright new NAME --from lantern` shows them filled in\n",
        ));
    };
    let other = other(args, project, frame)?;
    source::write_picture(&args.common, || polar(project, report.base.iter().chain(&other)))?;
    let code = code_of(worst(&report.verdicts));
    if args.common.json {
        return Ok(Answer {
            text: format!("{:#}\n", json::frame(project, &report, other.as_ref())),
            code,
        });
    }
    let mut text = check::title(&source);
    text.push_str(&check::verdict_text(&report.verdicts));
    if let Some(base) = &report.base {
        text.push_str(&bases(project, frame, base, other.as_ref()));
    }
    text.push_str(&figures(project, &report));
    text.push_str(&check::safety_text(project, &report.report));
    for g in safety::GUARDS {
        text.push_str(&format!("  - {}\n", wrap(g, 92, "    ")));
    }
    Ok(Answer { text, code })
}

/// The other base of `--compare`.
fn other(args: &FrameArgs, project: &Project, frame: &Frame) -> Result<Option<BaseFigures>, Refusal> {
    let Some(word) = &args.compare else {
        return Ok(None);
    };
    let Some(kind) = BaseKind::of(word) else {
        return Err(Refusal::input(format!(
            "wrong input [not-a-choice]: there is no base \"{word}\"\n  at  --compare\n  fix write four, six or sideways\n"
        )));
    };
    let choice = BaseChoice {
        kind,
        motor_count: args.motors.unwrap_or(frame.motor_count),
    };
    match BaseFigures::with(project, choice) {
        Some(figures) => Ok(Some(figures)),
        None => Err(Refusal::input(
            "wrong input [missing-table]: two bases cannot be compared without the motor and the mass\n  at  frame.motor\n  fix add [frame.motor], and `mass` under [robot] or the parts\n",
        )),
    }
}

fn bases(project: &Project, frame: &Frame, base: &BaseFigures, other: Option<&BaseFigures>) -> String {
    let say = |v: f64, d| project.say(v, d);
    let time = |t: Option<f64>| t.map_or("never".to_string(), |t| say(t, D::Time));
    let all: Vec<&BaseFigures> = std::iter::once(base).chain(other).collect();
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
    let head: Vec<&str> = std::iter::once("")
        .chain(names.iter().map(String::as_str))
        .collect();
    let mut text = format!(
        "\nDrive base, {}\n{}",
        say(base.mass_kg, D::Mass),
        columns(&head, &rows)
    );
    text.push_str("  Times from rest to rest at full power, with coming to rest on the heading after each turn. Speeds are without losses on the floor.\n");
    if let Some(o) = other {
        text.push_str(&format!("  {}\n", wrap(&bought(project, base, o), 94, "  ")));
    }
    text
}

/// What the other base buys, in a few sentences.
fn bought(project: &Project, base: &BaseFigures, other: &BaseFigures) -> String {
    let say = |v: f64, d| project.say(v, d);
    let mut out = Vec::new();
    if let (Some(a), Some(b)) = (base.side_s, other.side_s) {
        let (word, by) = if b < a { ("saves", a - b) } else { ("costs", b - a) };
        out.push(format!(
            "{} {word} {} on every drive to the side",
            base_words(other),
            say(by, D::Time)
        ));
    }
    if let (Some(a), Some(b)) = (base.shift_s, other.shift_s) {
        let (word, by) = if b < a { ("saves", a - b) } else { ("costs", b - a) };
        out.push(format!("{word} {} on each small shift", say(by, D::Time)));
    }
    let push = other.push_n / base.push_n - 1.0;
    out.push(format!(
        "pushes {} {}",
        say(push.abs(), D::Ratio),
        if push < 0.0 { "less" } else { "more" }
    ));
    let total = |b: &BaseFigures| {
        let m = &project.machine;
        m.other_motor_count.map(|n| {
            let base_now = project.frame.as_ref().map_or(0, |f| f.motor_count);
            n.saturating_sub(base_now) + b.motor_count + m.drive.motor_count
        })
    };
    let mut text = format!("{}.", out.join(", "));
    if let (Some(n), Some(most)) = (total(other), project.limits.motor_count)
        && other.motor_count != base.motor_count
    {
        text.push_str(&format!(" The machine then has {n} motors of {most} allowed."));
    }
    text
}

/// Physical: a life that nobody waits for.
const LONG_S: f64 = 3.6e8;

fn figures(project: &Project, r: &FrameReport) -> String {
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
    if lines.is_empty() {
        return String::new();
    }
    let mut text = String::from("\nFigures\n");
    for line in lines {
        text.push_str(&format!("  {}.\n", wrap(&line, 94, "    ")));
    }
    text
}
