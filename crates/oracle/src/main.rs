//! `cargo run -p arcwright-oracle -- designs [LOADS] | funnel [RUNS] | nip | pipe [RUNS] | steps`: the tables of `docs/theory/feed.md`.

use std::io::Write;
use std::process::ExitCode;

use arcwright_model::feed::lint::lints;
use arcwright_oracle::agree::{Tally, by_model, by_other, chance_of, designs, pieces};
use arcwright_oracle::arch::least_widths;
use arcwright_oracle::bridge::worst_error;
use arcwright_oracle::funnel::{Clogs, FUNNEL, Funnel, Line, clogs};
use arcwright_oracle::nip::{self, Nip};
use arcwright_oracle::pipe::{PIPE, Pipe, share};
use arcwright_oracle::rig::{SOFT, Solver, Unknown};

/// Loads of each design and engine unless told otherwise.
const LOADS: u64 = 200;
/// Runs of each pipe and of each flat hopper unless told otherwise.
const RUNS: u64 = 60;
const CONFIDENCE: f64 = 0.95;
/// Longest wait that is played in the other engine.
const LONGEST_S: f64 = 4.0;
/// Place of that wait in the list.
const JUDGED: usize = 1;

fn say(line: &str) {
    let _ = writeln!(std::io::stdout(), "{line}");
}

fn design_table(loads: u64) -> Result<(), Unknown> {
    say(
        "| roller | design | this engine, 4 s | the library, 4 s | chance of such a difference | the library, soft contacts, 960 steps/s | chance |\n| --- | --- | --- | --- | --- | --- | --- |",
    );
    let p = pieces();
    let words = |t: &Tally| {
        let [low, high] = t.interval(JUDGED, CONFIDENCE);
        let void = if t.invalid > 0 {
            format!(", {} invalid", t.invalid)
        } else {
            String::new()
        };
        format!(
            "{:.1} % ({:.1} to {:.1}){void}",
            100.0 * t.share(JUDGED),
            100.0 * low,
            100.0 * high
        )
    };
    for with_roller in [false, true] {
        for d in designs(with_roller) {
            for l in lints(&d.hopper, &p).iter().filter(|l| l.fault.refused()) {
                say(&format!("{} cannot be built: {:?}", d.name, l.fault));
            }
            let own = by_model(&d.hopper, &p, 1, loads);
            let other = by_other(&d.hopper, &p, 1, loads, LONGEST_S, &Solver::default())?;
            let mut row = format!(
                "| {} | {} | {} | {} | {:.3} |",
                if with_roller { "yes" } else { "no" },
                d.name,
                words(&own),
                words(&other),
                chance_of(&own, &other, JUDGED)
            );
            let soft = by_other(&d.hopper, &p, 1, loads, LONGEST_S, &SOFT)?;
            row.push_str(&format!(
                " {} | {:.3} |",
                words(&soft),
                chance_of(&own, &soft, JUDGED)
            ));
            say(&row);
        }
    }
    Ok(())
}

/// Widths of the pipe over the diameter, and frictions.
const WIDTHS: [f64; 12] = [2.5, 2.6, 2.64, 2.68, 2.72, 2.75, 2.8, 2.84, 2.88, 2.92, 2.96, 3.0];
const FRICTIONS: [f64; 3] = [0.3, 0.4, 0.5];

fn pipe_table(runs: u64) {
    let head: Vec<String> = FRICTIONS.iter().map(|f| format!("friction {f}")).collect();
    say(&format!(
        "| width | {} |\n| --- | --- | --- | --- |",
        head.join(" | ")
    ));
    for width_ratio in WIDTHS {
        let mut row = format!("| {width_ratio} |");
        for friction_coeff in FRICTIONS {
            let pipe = Pipe {
                width_ratio,
                friction_coeff,
                ..PIPE
            };
            let (hung, [low, high]) = share(&pipe, 1, runs, CONFIDENCE);
            row.push_str(&format!(
                " {:.1} % ({:.0} to {:.0}) |",
                100.0 * hung as f64 / runs as f64,
                100.0 * low,
                100.0 * high
            ));
        }
        say(&row);
    }
    for friction_coeff in FRICTIONS {
        let [middle, even, outer] = least_widths(friction_coeff);
        say(&format!(
            "\nfriction {friction_coeff}: an arch of three holds from {middle:.3} with the weight on the middle, {even:.3} with as much on each, {outer:.3} however it lies"
        ));
    }
}

/// Openings of the flat hopper over the diameter; slopes at two of them.
const OPENINGS: [f64; 8] = [2.5, 2.75, 3.0, 3.25, 3.5, 3.75, 4.0, 4.5];
const STEEPS_DEG: [f64; 3] = [34.0, 60.0, 75.0];
const STEEP_OPENINGS: [f64; 2] = [3.0, 3.5];

fn funnel_table(runs: u64) {
    say("| opening | clogged, of | J | -ln F | J of the line |\n| --- | --- | --- | --- | --- |");
    let all = OPENINGS.map(|opening_ratio| {
        clogs(
            &Funnel {
                opening_ratio,
                ..FUNNEL
            },
            1,
            runs,
        )
    });
    let line = Line::through(&all);
    let words = |c: &Clogs| {
        let [low, high] = c.interval(CONFIDENCE);
        format!(
            "{:.1} % ({:.1} to {:.1})",
            100.0 * c.share(),
            100.0 * low,
            100.0 * high
        )
    };
    for c in all {
        let [low, high] = c.interval(CONFIDENCE);
        say(&format!(
            "| {} | {} of {} | {} | {:.2} ({:.2} to {:.2}) | {:.1} % |",
            c.opening_ratio,
            c.hung,
            c.of,
            words(&c),
            c.rarity(c.share()),
            c.rarity(high),
            c.rarity(low),
            100.0 * line.share(c.opening_ratio, c.discs)
        ));
    }
    say(&format!("\n-ln F = {:.3} + {:.4} d^2\n", line.start, line.slope));
    say("| slope | opening 3.0 | opening 3.5 |\n| --- | --- | --- |");
    for degrees in STEEPS_DEG {
        let row: Vec<String> = STEEP_OPENINGS
            .iter()
            .map(|o| {
                let f = Funnel {
                    opening_ratio: *o,
                    steep_rad: degrees.to_radians(),
                    ..FUNNEL
                };
                words(&clogs(&f, 1, runs))
            })
            .collect();
        say(&format!("| {degrees} | {} |", row.join(" | ")));
    }
}

fn nip_table() -> Result<(), Unknown> {
    say(
        "| engine | push over K s | speed over half the rim's | bounce of 0.6 | let go, over the closed form |\n| --- | --- | --- | --- | --- |",
    );
    let row = |name: &str, n: &Nip| {
        let [low, high] = n.bounce_coeff;
        say(&format!(
            "| {name} | {:.3} | {:.3} | {low:.2} to {high:.2} | {:.3} |",
            n.push_ratio, n.speed_ratio, n.let_go_ratio
        ));
    };
    row("this one", &nip::by_model());
    for (soft, sprung, name) in [
        (false, false, "library, hard contacts"),
        (false, true, "library, hard contacts, roller on a spring"),
        (true, false, "library, contacts as soft as the piece"),
    ] {
        for rate in [240.0, 960.0, 3840.0] {
            let solver = Solver {
                step_s: 1.0 / rate,
                soft,
                sprung,
                ..Solver::default()
            };
            row(&format!("{name}, {rate} steps/s"), &nip::by_other(&solver)?);
        }
    }
    Ok(())
}

/// Stiffness of the pieces and steps in a contact of the table.
const PRESSES_NPM: [f64; 5] = [2e3, 1e4, 3e4, 1e5, 3e5];
const STEPS: [f64; 4] = [10.0, 15.0, 25.0, 50.0];

fn step_table() {
    say(
        "| steps in a contact | 2 N/mm | 10 | 30 | 100 | 300 | bounce of 0.6 |\n| --- | --- | --- | --- | --- | --- | --- |",
    );
    for steps in STEPS {
        let errors: Vec<String> = PRESSES_NPM
            .iter()
            .map(|k| format!("{:.4}", worst_error(*k, steps)))
            .collect();
        let [low, high] = nip::bounces(steps);
        say(&format!(
            "| {steps} | {} | {low:.3} to {high:.3} |",
            errors.join(" | ")
        ));
    }
}

/// The table that is asked for, and how many runs.
fn asked<'a>(words: &[&'a str]) -> Option<(&'a str, Option<u64>)> {
    match *words {
        [t @ ("designs" | "funnel" | "nip" | "pipe" | "steps")] => Some((t, None)),
        [t @ ("designs" | "funnel" | "pipe"), n] => Some((t, Some(n.parse().ok().filter(|n| *n > 0)?))),
        _ => None,
    }
}

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let Some((table, many)) = asked(&words) else {
        let _ = writeln!(
            std::io::stderr(),
            "say `designs`, `funnel`, `nip`, `pipe` or `steps`; the first two and `pipe` take a number of runs"
        );
        return ExitCode::from(2);
    };
    let done = match table {
        "designs" => design_table(many.unwrap_or(LOADS)),
        "nip" => nip_table(),
        "steps" => {
            step_table();
            Ok(())
        }
        "funnel" => {
            funnel_table(many.unwrap_or(RUNS));
            Ok(())
        }
        _ => {
            pipe_table(many.unwrap_or(RUNS));
            Ok(())
        }
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(what) => {
            let _ = writeln!(std::io::stderr(), "the library cannot play this scene: {what:?}");
            ExitCode::from(2)
        }
    }
}
