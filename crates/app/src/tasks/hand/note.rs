//! The hand-over as a note for the person who writes the code.

use arcwright_model::project::Project;
use arcwright_model::units::Dimension as D;

use super::{Form, Hand};
use crate::tasks::safety;
use crate::tasks::wrap::wrap as wrapped;

/// Name of the note's file.
pub const FILE: &str = "hand.txt";

/// Width of its lines.
const WIDTH: usize = 96;

/// The note.
pub fn note(project: &Project, hand: &Hand) -> String {
    let say = |x, d| project.say(x, d);
    let wrap = |text: &str| wrapped(text, WIDTH, "  ");
    let mut text = format!("Hand-over to the robot's code: {}\n\n", hand.stamp.project);
    for (key, value) in hand.stamp.lines() {
        text.push_str(&format!("  {key}: {}\n", value.replace(char::is_control, " ")));
    }
    text.push_str("\nSetpoints\n");
    for r in &hand.lookup.rows {
        let lead = if project.moving.moves() {
            let side = if r.lead_rad < 0.0 { "right" } else { "left" };
            format!("   lead {} {side}", say(r.lead_rad.abs(), D::Angle))
        } else {
            String::new()
        };
        text.push_str(&format!(
            "  {:>9}   {:>9} ± {}{lead}\n",
            say(r.distance_m, D::Length),
            say(r.wheel_radps, D::AngularSpeed),
            say(r.wheel_sd_radps, D::AngularSpeed),
        ));
    }
    text.push_str(&opening(project, hand));
    let constant = |name: &str| {
        let found = hand.constants.iter().find(|c| c.name == name);
        found.map_or(0.0, |c| c.value)
    };
    let c = &project.machine.controller;
    let mut rules = vec![
        format!(
            "Between rows: a straight line from row to row. The setpoint was worked out between the rows as well; the \
line is at most {} off.",
            say(hand.lookup.worst_between_radps, D::AngularSpeed)
        ),
        format!(
            "Range: {} to {}. Outside it the nearest row is given, and the answer says `too near` or `too far`: do not throw then.",
            say(constant("NEAREST_M"), D::Length),
            say(constant("FARTHEST_M"), D::Length)
        ),
        "The ± is one standard deviation of the setpoint itself: how far it may be off before (more) shots."
            .into(),
        format!(
            "Ready to throw: the measured speed is within {} of the setpoint.",
            say(c.ready_frac, D::Ratio)
        ),
        format!(
            "Speed loop, every {}: volts = feed-forward + kp x error + sum, where error = setpoint - measured (rad/s of the \
wheel), feed-forward = {} of ({} + {:.6} V for each rad/s of the setpoint), kp = {} V s/rad, and the sum grows by ki x \
error x period with ki = {} V/rad. Duty = volts / battery voltage, from {} to 1. While the duty is at its limit, or \
the current, the sum does not grow further that way.",
            say(c.period_s, D::Time),
            say(c.feed_forward_ratio, D::Ratio),
            say(constant("HOLD_AT_REST_V"), D::Voltage),
            constant("HOLD_V_PER_RADPS"),
            c.kp_vs,
            c.ki_v,
            if c.brakes { "-1" } else { "0" }
        ),
        if project.machine.drive.gear_ratio == 1.0 {
            "Speeds are those of the wheel, and of the motor.".into()
        } else {
            format!(
                "Speeds are those of the wheel; the motor makes {} turns for one of the wheel.",
                project.machine.drive.gear_ratio
            )
        },
    ];
    rules.push(if project.moving.delay_s > 0.0 {
        format!(
            "Feed delay: the piece leaves {} after the command.",
            say(project.moving.delay_s, D::Time)
        )
    } else {
        "Feed delay: nobody has measured it yet (0 is handed over); film the feed, and write it as `delay` under [moving].".into()
    });
    if let Some([near, far]) = hand.shots_speak_m {
        rules.push(format!(
            "The shots speak for {} to {}; rows outside lean on the model.",
            say(near, D::Length),
            say(far, D::Length)
        ));
    }
    rules.extend(warnings(hand));
    rules.extend(hand.stamp.remarks.iter().map(|r| {
        let mut letters = r.chars();
        let first = letters.next().map(|c| c.to_uppercase().to_string());
        format!(
            "{}{}.",
            first.unwrap_or_default(),
            letters.as_str().trim_end_matches('.')
        )
    }));
    text.push_str("\nRules\n");
    for rule in &rules {
        text.push_str(&format!("- {}\n", wrap(rule)));
    }
    text.push_str(&format!(
        "\nFiles\n  {}\n  Does the code on the robot still match? `arcwright hand --verify FILE`\n\nBefore it turns\n",
        wrap(&format!(
            "{}. Each has the same rows, rule and constants, and needs nothing else.",
            Form::ALL.map(Form::file).join(", ")
        ))
    ));
    for caution in safety::CAUTIONS.iter().take(3) {
        text.push_str(&format!("- {}\n", wrap(caution)));
    }
    text.push_str(&format!("- {}\n", wrap(safety::DEFERS)));
    text
}

/// The states of the opening routine, in their order.
fn opening(project: &Project, hand: &Hand) -> String {
    let Some(o) = &hand.opening else {
        return String::new();
    };
    let mut text = String::from("\nOpening routine: states in their order\n");
    for s in &o.steps {
        text.push_str(&format!(
            "  {:>6.2} s  {:9}  {}; until {}\n",
            s.start_s, s.state, s.what, s.until
        ));
    }
    let left = project.say(o.left_s.abs(), D::Time);
    text.push_str(&format!(
        "- {}\n",
        wrapped(
            &if o.left_s < 0.0 {
                format!(
                    "It is {left} too long: {} throws fit with the drive-off. Leave the others out.",
                    o.fits_count
                )
            } else {
                format!("{left} to spare. Go on by the `until` of each state; the times are when it is expected, and a timer a little later than each keeps a state that never ends from eating the opening.")
            },
            WIDTH,
            "  "
        )
    ));
    text
}

/// What is wrong with it.
pub fn warnings(hand: &Hand) -> Vec<String> {
    let mut out = Vec::new();
    if !hand.left_out.is_empty() {
        out.push(format!(
            "Outside the table, because no wheel speed reaches the opening from there or the throw jumps to another arc: {}.",
            hand.left_out.join(", ")
        ));
    }
    if !hand.not_served.is_empty() {
        out.push(format!(
            "Not served as the brief asks, see `arcwright aim`: {}.",
            hand.not_served.join(", ")
        ));
    }
    out
}
