//! `cargo run --release -p arcwright-study -- [--short|--full] [--seed N] [--robots N]`

use std::io::Write;
use std::process::ExitCode;

use arcwright_study::table::{Plan, tables};

/// Machines of the short form: about a minute of one core.
const SHORT_ROBOTS: usize = 30;
/// Machines of the full form.
const FULL_ROBOTS: usize = 200;

fn plan(arguments: &[String]) -> Result<Plan, String> {
    let mut plan = Plan {
        robots: SHORT_ROBOTS,
        seed: 1,
        full: false,
    };
    let mut robots = None;
    let mut rest = arguments.iter();
    while let Some(a) = rest.next() {
        let mut number = |name: &str| {
            let text = rest.next().ok_or(format!("{name} needs a number after it"))?;
            text.parse::<u64>()
                .map_err(|_| format!("{name} {text}: not a whole number"))
        };
        match a.as_str() {
            "--short" => plan.full = false,
            "--full" => plan.full = true,
            "--seed" => plan.seed = number("--seed")?,
            "--robots" => robots = Some(number("--robots")?.clamp(1, 100_000) as usize),
            other => {
                return Err(format!(
                    "{other} is not known: --short, --full, --seed N, --robots N"
                ));
            }
        }
    }
    plan.robots = robots.unwrap_or(if plan.full { FULL_ROBOTS } else { SHORT_ROBOTS });
    Ok(plan)
}

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    match plan(&arguments) {
        Ok(plan) => {
            tables(&plan, |line| {
                let mut out = std::io::stdout().lock();
                let _ = out.write_all(line.as_bytes());
                let _ = out.flush();
            });
            ExitCode::SUCCESS
        }
        Err(what) => {
            let _ = writeln!(std::io::stderr(), "wrong input: {what}");
            ExitCode::from(2)
        }
    }
}
