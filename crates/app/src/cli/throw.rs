//! `throw`: one throw through the whole chain.

use arcwright_model::launcher::Layout;
use arcwright_model::limits::guide_words;
use arcwright_model::units::Dimension as D;
use clap::Args;

use super::moving::{self, MovingArgs};
use super::say::{columns, wrap};
use super::source::ByShots;
use super::{Answer, At, Common, FAILS, FINE, Refusal, check, learned, source};
use crate::tasks::throw::{Plan, throw};
use crate::tasks::{json, pictures};
use arcwright_model::target::Outcome;

#[derive(Args)]
pub struct ThrowArgs {
    #[command(flatten)]
    common: Common,
    #[command(flatten)]
    at: At,
    #[command(flatten)]
    by: ByShots,
    #[command(flatten)]
    moving: MovingArgs,
    /// Slide instead of the file's, such as "2 mm"
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    slide: Option<String>,
    /// Tilt instead of the file's, such as "12 deg"
    #[arg(long, value_name = "ANGLE", allow_hyphen_values = true)]
    tilt: Option<String>,
    /// Reach instead of the file's, such as "60 mm"
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    reach: Option<String>,
    /// What --svg draws: the launcher (side), the flight (fan) or the forces along the guide (force)
    #[arg(long, value_name = "VIEW", default_value = "side", value_parser = ["side", "fan", "force"])]
    view: String,
}

/// To the tenth of a millimetre, the finest that means anything about a throw.
fn tenths(value_m: f64) -> f64 {
    (value_m * 1e4).round() * 1e-4
}

pub fn run(args: &ThrowArgs) -> Result<Answer, Refusal> {
    let mut source = source::load(&args.common)?;
    moving::apply(&args.moving, &mut source.project)?;
    source.learn(&args.by);
    let source = source;
    let project = &source.project;
    let read = |name: &str, text: &Option<String>, d: D| {
        text.as_ref().map(|t| source::quantity(name, t, d)).transpose()
    };
    let plan = Plan {
        spot: args.at.spot.clone(),
        wheel_radps: source::positive("--speed", &args.at.speed, D::AngularSpeed)?,
        standing_radps: None,
        slide_m: read("--slide", &args.slide, D::Length)?,
        tilt_rad: read("--tilt", &args.tilt, D::Angle)?,
        reach_m: read("--reach", &args.reach, D::Length)?,
    };
    let t = throw(project, &plan).map_err(|f| Refusal::finding(&f))?;
    source::write_picture(&args.common, || match args.view.as_str() {
        "fan" => pictures::flight(project, &t),
        "force" => pictures::force(project, &t),
        _ => pictures::side(project, &t),
    })?;
    let code = if t.arrival.outcome == Outcome::In {
        FINE
    } else {
        FAILS
    };
    if args.common.json {
        return Ok(Answer {
            text: format!("{:#}\n", json::throw(project, &t, &source.basis)),
            code,
        });
    }
    let say = |v, d| project.say(v, d);
    let mut text = check::title(&source);
    text.push_str(&format!(
        "One throw from `{}` at {} and {}\n",
        t.stance_name,
        say(t.wheel_radps, D::AngularSpeed),
        project.setting_words(&t.setting)
    ));
    let r = &t.release;
    if t.wheel_radps > t.chain.top_radps {
        text.push_str(&format!(
            "  beyond this machine: its wheel reaches {} at most\n",
            say(t.chain.top_radps, D::AngularSpeed)
        ));
    }
    let (inner, outer) = match t.chain.launcher.layout {
        Layout::Guide(_) => ("wheel", "guide"),
        Layout::Pair(_) => ("lower wheel", "upper wheel"),
    };
    let dip = 1.0 - r.wheel_after_radps[0] / t.wheel_radps;
    let pair = |a: &str, b: String| vec![a.to_string(), b];
    let mut rows = vec![
        pair(
            "exit",
            format!(
                "{} at {}, backspin {}, {} above the floor",
                say(t.exit.speed_mps, D::Speed),
                say(t.exit.angle_rad, D::Angle),
                say(t.exit.spin_radps, D::AngularSpeed),
                say(t.exit.height_m, D::Length)
            ),
        ),
        pair(
            "contact",
            format!(
                "{} long; slips {} on the {inner}, {} on the {outer}; up to {} on the {outer}",
                say(r.contact_s, D::Time),
                say(r.wheel_slip_m, D::Length),
                say(r.guide_slip_m, D::Length),
                say(r.peak_guide_n, D::Force)
            ),
        ),
        pair(
            "wheel after",
            format!(
                "{} ({} dip)",
                say(r.wheel_after_radps[0], D::AngularSpeed),
                say(dip, D::Ratio)
            ),
        ),
    ];
    if let Some(p) = &t.plateau {
        rows.push(pair(
            "grip",
            format!(
                "{}; {} of the no-slip speed; 10 % less friction changes the exit speed by {}",
                if p.grips {
                    "rolls before it leaves"
                } else {
                    "still slipping when it leaves"
                },
                say(p.speed_ratio, D::Ratio),
                say(-0.1 * p.friction_sensitivity_ratio, D::Ratio)
            ),
        ));
    }
    if let Some(m) = &t.moved {
        let told = moving::throw_rows(project, t.lead_rad, t.wheel_radps, m, &m.sd(project));
        rows.extend(told.into_iter().map(Vec::from));
    }
    if let Some(q) = &t.guide {
        rows.push(pair("guide", guide_words(project, q)));
        rows.push(pair(
            "",
            format!(
                "presses with {} on average along the arc, {} to {}{}",
                say(q.force_mean_n, D::Force),
                say(q.force_least_n, D::Force),
                say(q.force_peak_n, D::Force),
                if q.lost_frac > 0.0 {
                    format!("; out of touch over {} of it", say(q.lost_frac, D::Ratio))
                } else {
                    String::new()
                }
            ),
        ));
    }
    rows.push(pair(
        "arrives",
        match &t.arrival.crossing {
            Some(c) => format!(
                "{} after {}; {} from the centre along, {} across; enters at {}",
                t.arrival.outcome.word(),
                say(c.state.time_s, D::Time),
                say(tenths(c.along_m), D::Length),
                say(tenths(c.across_m), D::Length),
                say(c.entry_rad, D::Angle)
            ),
            None => format!(
                "{}: it never comes to the opening from outside",
                t.arrival.outcome.word()
            ),
        },
    ));
    if let Some(c) = &t.arrival.clearance {
        let side = |v: f64| {
            if v.is_finite() {
                say(v, D::Length)
            } else {
                "wall".into()
            }
        };
        rows.push(pair(
            "rim",
            format!(
                "near {}, far {}, left {}, right {}",
                side(c.near_m),
                side(c.far_m),
                side(c.left_m),
                side(c.right_m)
            ),
        ));
    }
    if let Some(l) = &source.learned {
        rows.extend(learned::throw_rows(l, &plan, &t).into_iter().map(Vec::from));
    }
    rows.push(pair(
        "energy",
        format!(
            "{} in the thrown piece: eye protection for everyone in range",
            say(t.energy_j, D::Energy)
        ),
    ));
    text.push_str(&columns(&["", ""], &rows));
    let turned = learned::turned_words(&source);
    if !turned.is_empty() {
        text.push_str(&format!("  {}\n", wrap(&turned, 112, "  ")));
    }
    Ok(Answer { text, code })
}
