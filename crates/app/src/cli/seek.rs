//! `seek`: the machine whose worst spot hits most often, within what is free.

use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use arcwright_model::limits::{self, Status};
use arcwright_model::project::{Choices, Freed, Project, free};
use arcwright_model::scatter::SpotReport;
use arcwright_model::seek::{Found, Goal, Progress, Score, Trade, inertia_trade};
use arcwright_model::units::Dimension as D;
use clap::{Args, ValueEnum};

use super::free::parse_free;
use super::say::{columns, err, name, shows_progress, wrap};
use super::{Answer, Common, FAILS, FINE, Refusal, check, source};
use crate::project::Change;
use crate::tasks::seek::{
    Asked, FreedBy, Sought, changes, design_words, freed, inertia_why, run as search, value_words,
};
use crate::tasks::{json, pictures};

#[derive(Args)]
pub struct SeekArgs {
    #[command(flatten)]
    common: Common,
    /// Free a quantity, such as "wheel.width=20mm..60mm/5mm" or "motor.ratio=1,1.25,1.5"; again for more
    /// [default: the table `free` of the file, or what a workshop can change]
    #[arg(long, value_name = "KEY=VALUES")]
    free: Vec<String>,
    /// Designs to judge at most
    #[arg(long, value_name = "N", default_value_t = 240, value_parser = clap::value_parser!(u32).range(8..=100_000))]
    designs: u32,
    /// Stop after this time with the best so far, such as "30 s"
    #[arg(long, value_name = "TIME")]
    stop_after: Option<String>,
    /// Seed of the random numbers
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// Trade the hit chance of the worst spot against a second goal and show the front
    #[arg(long, value_name = "GOAL")]
    against: Option<Against>,
    /// Show instead what more or less inertia at the wheel does
    #[arg(long, conflicts_with_all = ["free", "against", "write"])]
    inertia: bool,
    /// Write the design into the project file, keeping remarks and order; the text before stays beside it
    #[arg(long)]
    write: bool,
}

/// The second goal.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum Against {
    /// Time from standstill to the last throw
    VolleyTime,
    /// How far the wheel speed may be off
    Tolerance,
}

/// Key of the time between throws.
const INTERVAL: &str = "limits.throw_interval";

/// Set by Ctrl-C.
static STOP: AtomicBool = AtomicBool::new(false);

pub fn run(args: &SeekArgs) -> Result<Answer, Refusal> {
    let source = source::load(&args.common)?;
    let project = &source.project;
    if args.inertia {
        return inertia(args, &source);
    }
    if args.write && source.is_demo() {
        return Err(Refusal::input(
            "wrong input [not-written]: a built-in demo has no file to write to\n  fix make a project with `arcwright new NAME` and search there\n",
        ));
    }
    let own: Vec<Freed> = args
        .free
        .iter()
        .map(|t| parse_free(project, t))
        .collect::<Result<_, _>>()
        .map_err(|f| Refusal::finding(&f))?;
    let (list, freed_by) = freed(project, own);
    let list = match (args.against, project.limits.throw_interval_s) {
        (Some(Against::VolleyTime), Some(now)) if !list.iter().any(|f| f.key == INTERVAL) => {
            // The volley's time is traded, so the time between throws is free to shrink.
            let faster = [0.25, 0.35, 0.5, 0.65, 0.8, 1.0].map(|share| share * now);
            list.into_iter()
                .chain(free::free(project, INTERVAL, Choices::List(faster.to_vec())).ok())
                .collect()
        }
        _ => list,
    };
    if list.is_empty() {
        return Err(Refusal::input(
            "wrong input [no-choices]: nothing is free to change\n  fix name a quantity, such as --free \"wheel.width=20mm..60mm/5mm\"\n",
        ));
    }
    let asked = Asked {
        freed: list,
        freed_by,
        most_count: args.designs as usize,
        seed: args.seed,
        against: args.against.map(|a| match a {
            Against::VolleyTime => Goal::VolleyTime,
            Against::Tolerance => Goal::Tolerance,
        }),
    };
    let limit = source::positive("--stop-after", &args.stop_after, D::Time)?;
    // A second Ctrl-C ends the program: the handler is only for the first.
    let _ = ctrlc::set_handler(|| {
        if STOP.swap(true, Ordering::SeqCst) {
            std::process::exit(130);
        }
    });
    let start = Instant::now();
    let shown = shows_progress();
    let mut go_on = |p: &Progress| {
        if shown {
            err(&format!("\r{}", progress_words(p, start.elapsed())));
        }
        let late = limit.is_some_and(|s| start.elapsed() > Duration::from_secs_f64(s.min(1e9)));
        !late && !STOP.load(Ordering::SeqCst)
    };
    let sought = search(project, &asked, &mut go_on);
    if shown {
        err(&format!("\r{:76}\r", ""));
    }
    source::write_picture(&args.common, || match asked.against {
        Some(goal) => pictures::front(project, &asked, &sought, goal),
        None => pictures::scatter(&sought.found.project, &sought.then),
    })?;
    let holds = sought.found.best.score.served && sought.found.best_fails.is_empty();
    let code = if holds { FINE } else { FAILS };
    let written = if args.write {
        Some(write_back(&source, &asked, &sought.found)?)
    } else {
        None
    };
    if args.common.json {
        return Ok(Answer {
            text: format!("{:#}\n", json::seek(project, &asked, &sought)),
            code,
        });
    }
    let mut text = check::title(&source);
    text.push_str(&words(project, &asked, &sought));
    if let Some(w) = written {
        text.push_str(&w);
    } else if !changes(project, &asked, &sought.found).is_empty() {
        text.push_str(if source.is_demo() {
            "  To write a design into your own file: `arcwright new NAME`, then `arcwright seek NAME --write`.\n"
        } else {
            "  `arcwright seek --write` writes it into the project file; remarks and order stay.\n"
        });
    }
    Ok(Answer { text, code })
}

fn progress_words(p: &Progress, elapsed: Duration) -> String {
    let done = p.judged_count.max(1) as f64;
    let left = elapsed.as_secs_f64() * (p.most_count as f64 - done).max(0.0) / done;
    format!(
        "{:>4} of {} designs, best worst spot {:.1} %{}, {left:.0} s left at most, Ctrl-C stops ",
        p.judged_count,
        p.most_count,
        100.0 * p.best_hit_frac,
        if p.holds {
            ""
        } else {
            " (not yet within the brief)"
        }
    )
}

fn percent(x: f64) -> String {
    format!("{:.1} %", 100.0 * x)
}

/// Everything in words.
fn words(project: &Project, asked: &Asked, s: &Sought) -> String {
    let f = &s.found;
    let mut text = format!(
        "Judged {} designs over {} free quantities ({}){}\n",
        f.tried.len(),
        asked.freed.len(),
        match asked.freed_by {
            FreedBy::Arguments => "given by --free",
            FreedBy::File => "the table [free] of the file",
            FreedBy::Default => "what a workshop can change; say otherwise in [free] or by --free",
        },
        if f.stopped {
            "; stopped early, this is the best so far"
        } else {
            ""
        }
    );
    text.push_str(&verdict_words(project, f));
    text.push_str(&spots_table(project, s));
    text.push_str(&more_table(project, f));
    text.push_str(&buys_table(project, f));
    if let Some(goal) = asked.against {
        text.push_str(&front_table(project, asked, s, goal));
    }
    text
}

/// What holds and what does not, first of all.
fn verdict_words(project: &Project, f: &Found) -> String {
    if f.best.score.served && f.best_fails.is_empty() {
        return if f.project == *project {
            "Nothing better was found: the present machine stays.\n".into()
        } else {
            "The design below serves every spot and breaks no limit of the brief.\n".into()
        };
    }
    let mut text =
        String::from("No design within this freedom meets the brief. The best one still breaks it here:\n");
    let verdicts = limits::check(&f.project).verdicts;
    for v in verdicts.iter().filter(|v| v.status == Status::Fails) {
        let subject = if v.subject.is_empty() {
            String::new()
        } else {
            format!(": {}", name(&v.subject))
        };
        text.push_str(&format!(
            "  fails  {}{subject}: {}\n",
            v.check,
            wrap(&v.why, 100, "         ")
        ));
        if !v.mend.is_empty() {
            text.push_str(&format!("         mend: {}\n", wrap(&v.mend, 100, "         ")));
        }
    }
    text.push_str("  Free more (arcwright seek --free ...), or ask less of it: `arcwright check` names the nearest brief.\n");
    text
}

fn hit_of(reports: &[SpotReport], i: usize) -> String {
    reports
        .get(i)
        .and_then(|r| r.result.as_ref().ok())
        .map_or("no throw".into(), |r| {
            format!(
                "{} ({:.1} to {:.1})",
                percent(r.centred.hit.frac),
                100.0 * r.centred.hit.low_frac,
                100.0 * r.centred.hit.high_frac
            )
        })
}

fn spots_table(project: &Project, s: &Sought) -> String {
    let mm = |v: f64| project.say((v * 1e4).round() / 1e4, D::Length);
    let sd = |reports: &[SpotReport], i: usize| {
        reports
            .get(i)
            .and_then(|r| r.result.as_ref().ok())
            .map_or("-".to_string(), |r| {
                format!(
                    "{} x {}",
                    mm(r.centred.along_sd_m.value),
                    mm(r.centred.across_sd_m.value)
                )
            })
    };
    let rows: Vec<Vec<String>> = project
        .spots
        .iter()
        .enumerate()
        .map(|(i, spot)| {
            vec![
                name(&spot.name),
                hit_of(&s.now, i),
                hit_of(&s.then, i),
                sd(&s.now, i),
                sd(&s.then, i),
            ]
        })
        .collect();
    columns(
        &["spot", "hit now", "hit then", "sd along x across now", "then"],
        &rows,
    )
}

fn more_table(project: &Project, f: &Found) -> String {
    let say = |v: Option<f64>, d| v.map_or("-".to_string(), |v| project.say(v, d));
    let row = |what: &str, get: &dyn Fn(&Score) -> String| {
        vec![what.to_string(), get(&f.present), get(&f.best.score)]
    };
    let rows = [
        row("worst spot if all varied twice as much", &|s| {
            percent(s.hard_hit_frac)
        }),
        row("ready from standstill", &|s| say(s.ready_s, D::Time)),
        row("last throw of the volley at", &|s| say(s.volley_s, D::Time)),
        row("wheel speed may be off by", &|s| {
            format!("±{:.1} %", 100.0 * s.tolerance_frac)
        }),
    ];
    format!("\n{}", columns(&["", "now", "then"], &rows))
}

fn buys_table(project: &Project, f: &Found) -> String {
    if f.buys.is_empty() {
        return String::new();
    }
    let points = |a: &Score, b: &Score| {
        if a.refused.is_some() {
            return "it would not throw".to_string();
        }
        let by = |f: &dyn Fn(&Score) -> f64| 100.0 * (f(a) - f(b));
        let (hit, hard) = (by(&|s| s.worst_hit_frac), by(&|s| s.hard_hit_frac));
        let served = match (a.served, b.served) {
            (false, true) => " and a spot not served as asked",
            _ => "",
        };
        format!("{hit:+.1} ({hard:+.1}){served}")
    };
    let rows: Vec<Vec<String>> = f
        .buys
        .iter()
        .map(|b| {
            vec![
                b.key.clone(),
                value_words(project, &b.key, b.from),
                value_words(project, &b.key, b.to),
                points(&b.without, &f.best.score),
                b.alone
                    .as_ref()
                    .map_or("does not go".into(), |a| points(a, &f.present)),
            ]
        })
        .collect();
    format!(
        "\nWhat to build differently, and what each change buys: points of hit chance at the worst spot\n(in brackets: if everything varied twice as much)\n{}",
        columns(
            &["quantity", "now", "then", "put back alone", "changed alone"],
            &rows
        )
    )
}

fn goal_words(project: &Project, goal: Goal, s: &Score) -> String {
    match (goal, goal.of(s)) {
        (_, None) => "-".into(),
        (Goal::VolleyTime, Some(v)) => project.say(v, D::Time),
        (Goal::Tolerance, Some(v)) => format!("±{:.1} %", 100.0 * v),
    }
}

fn front_table(project: &Project, asked: &Asked, s: &Sought, goal: Goal) -> String {
    let rows: Vec<Vec<String>> = s
        .front
        .iter()
        .enumerate()
        .filter_map(|(i, at)| {
            let d = s.found.tried.get(*at)?;
            Some(vec![
                format!("{}", i + 1),
                goal_words(project, goal, &d.score),
                percent(d.score.worst_hit_frac),
                percent(d.score.hard_hit_frac),
                design_words(project, &asked.freed, d),
            ])
        })
        .collect();
    if rows.is_empty() {
        return "\nNo design serves every spot, so there is no front to show.\n".into();
    }
    let head = match goal {
        Goal::VolleyTime => "last throw at",
        Goal::Tolerance => "speed may be off",
    };
    format!(
        "\nNothing beats these in one goal without losing in the other (limits of the brief not yet asked):\n{}",
        columns(&["", head, "worst hit", "varied twice", "design"], &rows)
    )
}

fn write_back(source: &source::Source, asked: &Asked, found: &Found) -> Result<String, Refusal> {
    let list = changes(&source.project, asked, found);
    if list.is_empty() {
        return Ok("  Nothing to write: the file stays as it is.\n".into());
    }
    let Some(path) = source.file() else {
        return Ok(String::new());
    };
    let changes: Vec<Change> = list
        .into_iter()
        .map(|(key, value_si)| Change { key, value_si })
        .collect();
    source::write_values(path, &changes, "seek")
}

fn inertia(args: &SeekArgs, source: &source::Source) -> Result<Answer, Refusal> {
    let project = &source.project;
    let trade = inertia_trade(project, args.seed);
    source::write_picture(&args.common, || pictures::inertia(project, &trade))?;
    if args.common.json {
        return Ok(Answer {
            text: format!("{:#}\n", json::inertia(project, &trade)),
            code: FINE,
        });
    }
    let mut text = check::title(source);
    text.push_str(&inertia_words(project, &trade));
    Ok(Answer { text, code: FINE })
}

fn inertia_words(project: &Project, trade: &Trade) -> String {
    if trade.points.len() < 2 {
        return "Nothing to trade: no part that turns with the wheel has a mass or inertia that could change.\n".into();
    }
    let say = |v: Option<f64>, d| v.map_or("not in time".to_string(), |v| project.say(v, d));
    let mark = |i: usize| match (trade.present == Some(i), trade.recommended == Some(i)) {
        (true, true) => "now, best",
        (true, false) => "now",
        (false, true) => "best",
        (false, false) => "",
    };
    let rows: Vec<Vec<String>> = trade
        .points
        .iter()
        .enumerate()
        .map(|(i, p)| {
            vec![
                project.say(p.inertia_kgm2, D::Inertia),
                say(p.ready_s, D::Time),
                format!("{:.1} %", 100.0 * p.dip_frac),
                say(p.recovery_s, D::Time),
                say(p.volley_s, D::Time),
                project.say((p.along_sd_m * 1e4).round() / 1e4, D::Length),
                percent(p.score.worst_hit_frac),
                percent(p.score.hard_hit_frac),
                mark(i).into(),
            ]
        })
        .collect();
    format!(
        "More or less inertia at the wheel, everything else as it is\n{}  {}\n",
        columns(
            &[
                "inertia",
                "ready",
                "dip",
                "back after",
                "last throw",
                "sd along, far",
                "worst hit",
                "varied twice",
                "",
            ],
            &rows
        ),
        wrap(&inertia_why(project, trade), 112, "  ")
    )
}
