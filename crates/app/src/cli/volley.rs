//! `volley`: the wheel through spin-up and a volley.

use arcwright_model::launcher::volley::VolleyEnd;
use arcwright_model::limits::not_ready_words;
use arcwright_model::units::Dimension as D;
use clap::Args;

use super::say::table;
use super::source::ByShots;
use super::{Answer, At, Common, FAILS, FINE, Refusal, check, source};
use crate::tasks::tables::volley as volley_table;
use crate::tasks::volley::{Plan, volley};
use crate::tasks::{json, pictures};

#[derive(Args)]
pub struct VolleyArgs {
    #[command(flatten)]
    common: Common,
    #[command(flatten)]
    at: At,
    #[command(flatten)]
    by: ByShots,
    /// Pieces to throw [default: limits.volley]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(0..=1000))]
    count: Option<u32>,
    /// Time between throws, such as "0.5 s" [default: limits.throw_interval]
    #[arg(
        long,
        value_name = "TIME",
        allow_hyphen_values = true,
        conflicts_with = "when_ready"
    )]
    interval: Option<String>,
    /// Throw as soon as the wheel is back in the ready band
    #[arg(long)]
    when_ready: bool,
    /// Throw at the pace of the project's feed where that is slower than the brief's
    #[arg(long, conflicts_with_all = ["interval", "when_ready"])]
    fed: bool,
}

/// Physical: a crossing farther from the centre than this deserves a word.
const WORTH_SAYING_M: f64 = 0.02;

pub fn run(args: &VolleyArgs) -> Result<Answer, Refusal> {
    let mut source = source::load(&args.common)?;
    source.learn(&args.by);
    let fed = super::feed::by_feed(&mut source.project, args.fed)?;
    let source = source;
    let project = &source.project;
    let plan = Plan {
        spot: args.at.spot.clone(),
        wheel_radps: source::positive("--speed", &args.at.speed, D::AngularSpeed)?,
        count: args.count,
        interval_s: source::positive("--interval", &args.interval, D::Time)?,
        when_ready: args.when_ready,
    };
    let run = volley(project, &plan).map_err(|f| Refusal::finding(&f))?;
    source::write_picture(&args.common, || pictures::volley(project, &run))?;
    let code = if matches!(run.train.end, VolleyEnd::Complete) && !run.train.browns_out {
        FINE
    } else {
        FAILS
    };
    if args.common.json {
        return Ok(Answer {
            text: format!("{:#}\n", json::volley(project, &run, &source.basis)),
            code,
        });
    }
    let say = |v, d| project.say(v, d);
    let t = &run.train;
    let mut text = check::title(&source);
    text.push_str(&format!(
        "Volley of {} from `{}` at {}, {}\n",
        run.plan.throw_count,
        run.spot,
        say(run.plan.setpoint_radps, D::AngularSpeed),
        run.plan
            .interval_s
            .map_or("each as soon as the wheel is ready".to_string(), |s| format!(
                "one every {}",
                say(s, D::Time)
            ))
    ));
    text.push_str(&match t.spin_up_s {
        Some(s) => format!(
            "  ready after {}; top speed {}\n",
            say(s, D::Time),
            say(t.top_radps, D::AngularSpeed)
        ),
        None => format!("  never ready; top speed {}\n", say(t.top_radps, D::AngularSpeed)),
    });
    match &t.end {
        VolleyEnd::Complete => {}
        VolleyEnd::NotReady { index, why } => {
            text.push_str(&format!(
                "  throw {} waited in vain: {}\n",
                index + 1,
                not_ready_words(project, why)
            ));
        }
        VolleyEnd::Unusable(why) => text.push_str(&format!("  nothing to simulate: {why}\n")),
    }
    text.push_str(&fed);
    text.push_str(&table(&volley_table(project, &run)));
    let off = run
        .throws
        .iter()
        .filter_map(|t| t.along_m)
        .map(f64::abs)
        .fold(0.0, f64::max);
    if off > WORTH_SAYING_M {
        text.push_str(
            "  `from centre` is where each throw crosses. `aim` takes a wheel held steadily at its setpoint; here it may be a\n  \
             little off, and the controller may push harder while the piece passes. Correct the setpoint for it.\n",
        );
    }
    if project.moving.moves() {
        text.push_str(
            "  The robot moves: each piece of a volley leaves from another place, and is shown here as if it left at the spot.\n",
        );
    }
    text.push_str(&format!(
        "  peak current {}, lowest battery voltage {}{}\n",
        say(t.peak_battery_a, D::Current),
        say(t.lowest_battery_v, D::Voltage),
        if t.browns_out { ": electronics reset" } else { "" }
    ));
    Ok(Answer { text, code })
}
