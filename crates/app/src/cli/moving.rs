//! Throwing on the move: its arguments, and what `aim` and `throw` say about it.

use arcwright_model::aim::{Moved, MovingSd};
use arcwright_model::limits::Report;
use arcwright_model::project::{self, DriveBase, Moving, Project};
use arcwright_model::units::Dimension as D;
use clap::Args;

use super::say::{columns, name, wrap};
use super::{Refusal, source};

/// How the robot moves, instead of what the file says.
#[derive(Args, Clone, Debug, Default)]
pub struct MovingArgs {
    /// Speed toward the target (a tank: forward), such as "0.8 m/s"; negative away from it
    #[arg(long, value_name = "SPEED", allow_hyphen_values = true)]
    along: Option<String>,
    /// Speed to the left of the line to the target, such as "0.5 m/s"; negative to the right
    #[arg(long, value_name = "SPEED", allow_hyphen_values = true)]
    across: Option<String>,
    /// How fast the robot turns to the left, such as "20 deg/s"; negative to the right
    #[arg(long, value_name = "RATE", allow_hyphen_values = true)]
    turn: Option<String>,
}

/// Width of running text in the terminal.
const WIDTH: usize = 96;
/// Error of speed and turning that the sensitivities are told for.
const OFF_MPS: f64 = 0.1;
const OFF_RADPS: f64 = 10.0 * std::f64::consts::PI / 180.0;
/// Physical: less than this nobody can point; it is told as "straight".
const STRAIGHT_RAD: f64 = 0.05 * std::f64::consts::PI / 180.0;

/// Puts the arguments into the project.
pub fn apply(args: &MovingArgs, project: &mut Project) -> Result<(), Refusal> {
    let all = [
        ("--along", &args.along, "moving.along", D::Speed),
        ("--across", &args.across, "moving.across", D::Speed),
        ("--turn", &args.turn, "moving.turn_rate", D::TurnRate),
    ];
    for (argument, text, key, dimension) in all {
        let Some(text) = text else { continue };
        let value = source::quantity(argument, text, dimension)?;
        if project::set(project, key, value) {
            continue;
        }
        if key == "moving.across" && project.moving.drive == DriveBase::Tank {
            return Err(Refusal::input(
                "wrong input [not-here]: --across needs a robot that drives sideways, and the file says `drive = \"tank\"`\n  \
                 fix take --across out; for a launcher that looks to the side of a tank write `launcher_heading` under [moving]\n",
            ));
        }
        let (low, high) = project::schema::entry(key).map_or((0.0, 0.0), |e| (e.low, e.high));
        return Err(Refusal::input(format!(
            "wrong input [out-of-range]: {argument} is \"{text}\", and can be from {} to {}\n  fix check the number and its unit\n",
            project.say(low, dimension),
            project.say(high, dimension)
        )));
    }
    Ok(())
}

/// Which way a launcher faces when the piece leaves.
pub fn lead_words(project: &Project, lead_rad: f64) -> String {
    if lead_rad.abs() < STRAIGHT_RAD {
        return "straight at the target".into();
    }
    let side = if lead_rad > 0.0 { "left" } else { "right" };
    format!("{} {side} of the target", project.say(lead_rad.abs(), D::Angle))
}

/// The motion in words: `0.8 m/s toward the target, turning 20 deg/s to the left`.
pub fn motion_words(project: &Project, m: &Moving) -> String {
    let mut parts = Vec::new();
    let mut add = |value: f64, dimension, before: &str, [plus, minus]: [&str; 2]| {
        if value != 0.0 {
            let side = if value > 0.0 { plus } else { minus };
            parts.push(format!("{before}{} {side}", project.say(value.abs(), dimension)));
        }
    };
    let along = match m.drive {
        DriveBase::Tank => ["forward", "backward"],
        DriveBase::Sideways => ["toward the target", "away from the target"],
    };
    add(m.along_mps, D::Speed, "", along);
    add(m.across_mps, D::Speed, "", ["to the left", "to the right"]);
    add(
        m.turn_radps,
        D::TurnRate,
        "turning ",
        ["to the left", "to the right"],
    );
    parts.join(", ")
}

/// Where to give the command, in words; empty without a delay.
pub fn command_words(project: &Project) -> String {
    let m = &project.moving;
    if m.delay_s <= 0.0 || !m.moves() {
        return String::new();
    }
    let turn = m.command_turn_rad();
    let facing = if turn.abs() < STRAIGHT_RAD {
        String::new()
    } else {
        format!(
            ", while the launcher still faces {} to the {} of where it must face at the spot",
            project.say(turn.abs(), D::Angle),
            if turn > 0.0 { "right" } else { "left" }
        )
    };
    format!(
        "Give the command {} before the spot{facing}: the piece leaves {} later.",
        project.say(m.command_before_m(), D::Length),
        project.say(m.delay_s, D::Time)
    )
}

/// Scatter that the motion adds, or that no spread is written.
pub fn scatter_words(project: &Project, moved: &Moved, sd: &MovingSd) -> String {
    let parts = moved.parts(project);
    if parts.is_empty() {
        return "unknown: no `sd` is written under [moving]".into();
    }
    format!(
        "± {} along, ± {} across",
        project.say(tenths(sd.along_m), D::Length),
        project.say(tenths(sd.across_m), D::Length)
    )
}

/// To the tenth of a millimetre.
fn tenths(value_m: f64) -> f64 {
    (value_m * 1e4).round() * 1e-4
}

/// How far an error of speed or turning moves the crossing.
fn sensitivity_words(project: &Project, moved: &Moved) -> String {
    let far = |[along, across]: [f64; 2], by: f64| {
        // The larger of the two is what a driver sees.
        let (value, sides) = if along.abs() >= across.abs() {
            (along * by, ["further", "shorter"])
        } else {
            (across * by, ["to the left", "to the right"])
        };
        format!(
            "{} {}",
            project.say(tenths(value.abs()), D::Length),
            if value >= 0.0 { sides[0] } else { sides[1] }
        )
    };
    let mut parts = vec![format!(
        "{} more speed {} lands {}",
        project.say(OFF_MPS, D::Speed),
        match project.moving.drive {
            DriveBase::Tank => "forward",
            DriveBase::Sideways => "toward the target",
        },
        far(moved.per_along_s, OFF_MPS)
    )];
    if project.moving.drive == DriveBase::Sideways {
        parts.push(format!(
            "{} more to the left lands {}",
            project.say(OFF_MPS, D::Speed),
            far(moved.per_across_s, OFF_MPS)
        ));
    }
    parts.push(format!(
        "{} more turning to the left lands {}",
        project.say(OFF_RADPS, D::TurnRate),
        far(moved.per_turn_m_per_radps, OFF_RADPS)
    ));
    format!("{}.", parts.join("; "))
}

/// The rows of `throw`.
pub fn throw_rows(
    project: &Project,
    lead_rad: f64,
    wheel_radps: f64,
    moved: &Moved,
    sd: &MovingSd,
) -> Vec<[String; 2]> {
    let mut rows = vec![
        ["moves".to_string(), motion_words(project, &project.moving)],
        [
            "faces".to_string(),
            format!("{} when the piece leaves", lead_words(project, lead_rad)),
        ],
    ];
    if let Some(standing) = moved.standing_radps {
        rows.push([
            "standing".to_string(),
            format!(
                "would need {} ({})",
                project.say(standing, D::AngularSpeed),
                change(project, wheel_radps - standing)
            ),
        ]);
    }
    rows.push(["motion adds".to_string(), scatter_words(project, moved, sd)]);
    let command = command_words(project);
    if !command.is_empty() {
        rows.push(["command".to_string(), command]);
    }
    rows
}

fn change(project: &Project, by_radps: f64) -> String {
    format!(
        "on the move {} {}",
        project.say(by_radps.abs(), D::AngularSpeed),
        if by_radps >= 0.0 { "more" } else { "less" }
    )
}

/// The section of `aim`; empty for a robot that stands.
pub fn aim_text(project: &Project, report: &Report) -> String {
    if !project.moving.moves() {
        return String::new();
    }
    let say = |v, d| project.say(v, d);
    let mut text = format!("\nOn the move: {}\n", motion_words(project, &project.moving));
    let mut rows = Vec::new();
    let mut last = None;
    for a in &report.aims {
        let Some((s, m)) = a.best().and_then(|s| Some((s, s.moved?))) else {
            continue;
        };
        last = Some((a, s, m));
        rows.push(vec![
            name(&a.spot.name),
            m.standing_radps.map_or("-".into(), |w| say(w, D::AngularSpeed)),
            say(s.wheel_radps, D::AngularSpeed),
            lead_words(project, s.lead_rad),
            scatter_words(project, &m, &s.moving_sd),
        ]);
    }
    text.push_str(&columns(
        &["spot", "standing", "moving", "launcher faces", "motion adds"],
        &rows,
    ));
    let mut notes = vec![
        "The piece keeps the speed of the robot, so the launcher faces beside the target and the wheel turns at \
         another speed. Both are for the moment when the piece leaves, at the spot."
            .to_string(),
        command_words(project),
    ];
    if let Some((a, s, m)) = last {
        notes.push(format!(
            "From `{}`: {}",
            a.spot.name,
            sensitivity_words(project, &m)
        ));
        let parts: Vec<String> = m
            .parts(project)
            .iter()
            .map(|(key, [along, across])| {
                let both = [along, across].map(|v| say(tenths(v.abs()), D::Length));
                format!("{key} {} along and {} across", both[0], both[1])
            })
            .collect();
        if parts.is_empty() {
            notes.push(
                "Measure how well the robot holds its speed and write it as `along = { value = \"...\", sd = \"...\" }` under [moving]."
                    .into(),
            );
        } else if s.moving_sd.along_m.is_finite() {
            notes.push(format!(
                "Of this, one standard deviation each: {}.",
                parts.join("; ")
            ));
        }
    }
    notes.push(
        "A robot that throws on the move sweeps its whole lane: keep it clear on both sides and behind the target."
            .into(),
    );
    for note in notes.iter().filter(|n| !n.is_empty()) {
        text.push_str(&format!("  {}\n", wrap(note, WIDTH - 2, "  ")));
    }
    text
}
