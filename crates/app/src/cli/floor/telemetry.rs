//! `floor telemetry`: throws found in a log, and what it says about the wheel train.

use std::path::PathBuf;

use arcwright_model::floor::telemetry::{Estimate, Repair};
use arcwright_model::project::UnitSystem;
use arcwright_model::units::Dimension as D;
use arcwright_model::units::show::{Scale, text as show};
use clap::Args;

use super::super::say::{columns, wrap};
use super::super::{Answer, FINE, Refusal, source};
use super::{Beside, attach, columns_words};
use crate::tasks::floor::telemetry::{THROWS_HEAD, picture, read, throw_means, throw_rows};
use crate::tasks::json;

#[derive(Args)]
pub struct TelemetryArgs {
    /// The log: CSV with a line of column names
    #[arg(value_name = "FILE.csv")]
    file: PathBuf,
    #[command(flatten)]
    beside: Beside,
    #[command(flatten)]
    attach: attach::AttachArgs,
    /// Recovered means within this of the setpoint, such as "1 %" [default: the project's ready band, or 1 %]
    #[arg(long, value_name = "SHARE")]
    band: Option<String>,
}

pub fn run(args: &TelemetryArgs) -> Result<Answer, Refusal> {
    let project = args.beside.project()?;
    let band = source::positive("--band", &args.band, D::Ratio)?;
    let t = read(&args.file, &args.beside.map, project.as_ref(), band).map_err(|f| Refusal::finding(&f))?;
    let system = project.as_ref().map_or(UnitSystem::Metric, |p| p.units);
    source::write_picture(&args.beside.common(), || picture(&t, system))?;
    if args.attach.attach {
        return attach::run(&args.attach, &args.beside, &args.file, &t);
    }
    if args.beside.json {
        return Ok(Answer {
            text: format!("{:#}\n", json::telemetry(&t)),
            code: FINE,
        });
    }
    let say = |v: f64, d: D| show(v, d, Scale::Auto, system);
    let mut text = columns_words(&t.found, &t.notes);
    for note in t.repaired.repairs.iter().map(Repair::words) {
        text.push_str(&format!("  note: {note}\n"));
    }
    let d = &t.dips;
    text.push_str(&format!(
        "\nThrows found: {}\n",
        if d.dips.is_empty() {
            "none".to_string()
        } else {
            d.dips.len().to_string()
        }
    ));
    let rows = throw_rows(&t, system);
    if !rows.is_empty() {
        text.push_str(&columns(&THROWS_HEAD, &rows));
    }
    text.push_str(&format!("  {}\n", throw_means(&t, system)));
    text.push_str("\nWheel train\n");
    match &t.train {
        Err(f) => text.push_str(&format!("  not learned: {}\n  fix {}\n", f.what, f.fix)),
        Ok(l) => {
            let line = |name: &str, e: &Estimate, d: D| {
                vec![
                    name.to_string(),
                    say(e.value, d),
                    format!("{} to {}", say(e.low, d), say(e.high, d)),
                ]
            };
            let number = |name: &str, e: &Estimate, unit: &str| {
                vec![
                    name.to_string(),
                    format!("{:.4} {unit}", e.value),
                    format!("{:.4} to {:.4}", e.low, e.high),
                ]
            };
            let mut rows = vec![
                line("time constant at a held voltage", &l.tau_s, D::Time),
                number("voltage per wheel speed", &l.speed_v_per_radps, "V s/rad"),
                line("voltage for friction", &l.static_v, D::Voltage),
            ];
            for (name, e, d) in [
                ("inertia at the wheel", &l.inertia_kgm2, D::Inertia),
                ("current for friction, each motor", &l.free_a, D::Current),
                ("motor resistance", &l.resistance_ohm, D::Resistance),
                ("battery without load", &l.open_v, D::Voltage),
                ("battery and wiring", &l.battery_ohm, D::Resistance),
            ] {
                if let Some(e) = e {
                    rows.push(line(name, e, d));
                }
            }
            text.push_str(&columns(&["", "found", "95 of 100 such logs"], &rows));
            if l.inertia_kgm2.is_some() {
                text.push_str(&format!(
                    "  Inertia is from {}, with the gearing's efficiency of the parts list.\n",
                    if l.inertia_from_current {
                        "the currents"
                    } else {
                        "the voltage and the parts list's motor resistance (log the current as well to be surer)"
                    }
                ));
            }
            for note in &l.notes {
                text.push_str(&format!("  note: {note}\n"));
            }
        }
    }
    if !t.likenesses.is_empty() {
        text.push_str("\nBeside the parts list, the machine\n");
        for l in &t.likenesses {
            text.push_str(&format!("  - {}\n", wrap(&l.words, 100, "    ")));
        }
    } else if project.is_none() {
        text.push_str("  Name the project with --project to set this beside its parts list.\n");
    }
    Ok(Answer { text, code: FINE })
}
