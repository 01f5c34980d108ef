//! `floor fit`: what the shots taught.

use arcwright_model::floor::{Fitted, MachineOptions, Setpoint, fit, setpoints};
use arcwright_model::project::Project;
use arcwright_model::units::Dimension as D;
use clap::Args;

use super::next::logged;
use super::{Ground, Where};
use crate::cli::say::{columns, name};
use crate::cli::{Answer, FINE, Refusal};
use crate::tasks::floor::json;

#[derive(Args)]
pub struct FitArgs {
    /// Print JSON (SI, versioned; see docs/json.md) instead of text
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    place: Where,
}

pub fn run(args: &FitArgs) -> Result<Answer, Refusal> {
    let ground = Ground::load(&args.place)?;
    let project = &ground.project;
    let shots = logged(&ground)?;
    let fitted = fit(project, &shots, &MachineOptions::default()).map_err(|f| Refusal::finding(&f))?;
    let distances: Vec<f64> = project.spots.iter().map(|s| s.distance_m).collect();
    let table = setpoints(project, &fitted, &distances);
    let text = if args.json {
        format!("{:#}\n", json::fit(project, &fitted, &table))
    } else {
        words(project, &fitted, &table)
    };
    Ok(Answer { text, code: FINE })
}

fn words(project: &Project, fitted: &Fitted, table: &[Setpoint]) -> String {
    let value = |x: f64, unit: &str| match unit {
        "rad" => project.say(x, D::Angle),
        _ => project.say(x, D::Ratio),
    };
    let mut text = format!("What {} shots taught\n", fitted.used.len());
    let rows: Vec<Vec<String>> = fitted
        .estimates
        .iter()
        .map(|e| {
            let both = |mean: f64, sd: f64| format!("{} ± {}", value(mean, e.unit), value(sd, e.unit));
            vec![
                e.words.clone(),
                both(e.prior_mean, e.prior_sd),
                both(e.mean, e.sd),
            ]
        })
        .collect();
    text.push_str(&columns(&["", "before", "now"], &rows));
    text.push_str("\nSetpoints\n");
    let speed = |x: f64| project.say(x, D::AngularSpeed);
    let rows: Vec<Vec<String>> = project
        .spots
        .iter()
        .zip(table)
        .map(|(spot, s)| {
            let none = || "-".to_string();
            vec![
                name(&spot.name),
                project.say(s.distance_m, D::Length),
                s.wheel.map_or_else(none, |w| {
                    if fitted.confident {
                        format!("{} ± {}", speed(w.wheel_radps), speed(w.wheel_sd_radps))
                    } else {
                        speed(w.wheel_radps)
                    }
                }),
                s.design.map_or_else(none, |d| {
                    format!("{} ± {}", speed(d.wheel_radps), speed(d.wheel_sd_radps))
                }),
                s.wheel
                    .map_or_else(none, |w| project.say(w.expected_hit_frac, D::Ratio)),
                if s.beyond_the_log {
                    "beyond what was thrown".into()
                } else {
                    String::new()
                },
            ]
        })
        .collect();
    text.push_str(&columns(
        &["spot", "distance", "learned", "design", "hits to expect", ""],
        &rows,
    ));
    for note in &fitted.diagnostics {
        text.push_str(&format!("\n{}\n  fix {}\n", note.what, note.fix));
    }
    for apart in &fitted.apart {
        text.push_str(&format!(
            "\n{}\n  to tell them apart: {}\n",
            apart.what, apart.shots
        ));
    }
    text
}
