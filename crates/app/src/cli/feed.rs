//! `feed`: will the pieces queue, how fast, and what stops them wedging?

use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};

use arcwright_model::feed::hopper::Hopper;
use arcwright_model::feed::remedy::{Compared, Ranked, Ranking, doubts, rank, remedies};
use arcwright_model::feed::survey::{Played, Survey, SurveyPlan, survey};
use arcwright_model::project::{HopperFault, Project};
use arcwright_model::units::Dimension as D;
use clap::Args;

use super::say::{columns, err, shows_progress, wrap};
use super::{Answer, Common, FAILS, FINE, Refusal, check, source};
use crate::tasks::feed::words::{
    CAUTION, RANKING_NOTE, REMEDY_HEADS, WAIT_HEADS, WAIT_NOTE, arrival, best_words, left_words, percent,
    progress, range, ranking_line, remedy_rows, removed, survey_lines, wait_rows,
};
use crate::tasks::feed::{
    fed, hopper_picture, invalid_words, pace, pace_words, parts, remedy_words, stuck_picture, waits_picture,
};
use crate::tasks::{json, pictures};

#[derive(Args)]
pub struct FeedArgs {
    #[command(flatten)]
    common: Common,
    /// Seed of the random numbers: the same seed gives the same figures on any machine
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// Most loads that are played
    #[arg(long, value_name = "N", default_value_t = 1024, value_parser = clap::value_parser!(u32).range(16..=1_048_576))]
    loads: u32,
    /// Stop when the chance of a long wait is known to within this, such as "5 %"
    #[arg(long, value_name = "SHARE", default_value = "6 %")]
    within: String,
    /// Play the changes that might help on the same loads, and rank them
    #[arg(long)]
    remedies: bool,
    /// Play what is not known of friction, bounce and stiffness on the same loads
    #[arg(long)]
    doubts: bool,
    /// Loads for each change
    #[arg(long, value_name = "N", default_value_t = 192, value_parser = clap::value_parser!(u32).range(16..=65_536))]
    remedy_loads: u32,
    /// Write the hopper with its faults and the worst wedge as a picture to this file
    #[arg(long, value_name = "FILE")]
    hopper_svg: Option<PathBuf>,
    /// Write where the pieces of wedged loads lie as a picture to this file
    #[arg(long, value_name = "FILE")]
    stuck_svg: Option<PathBuf>,
}

/// Width of the text.
const WIDTH: usize = 112;

/// Set by Ctrl-C.
static STOP: AtomicBool = AtomicBool::new(false);

/// The first Ctrl-C asks for what there is; a second one ends the program.
fn stop_on_ctrl_c() {
    let _ = ctrlc::set_handler(|| {
        if STOP.swap(true, Ordering::SeqCst) {
            std::process::exit(130);
        }
    });
}

pub fn run(args: &FeedArgs) -> Result<Answer, Refusal> {
    let source = source::load(&args.common)?;
    let project = &source.project;
    let within = source::quantity("--within", &args.within, D::Ratio)?;
    if !(within > 0.0 && within < 0.5) {
        return Err(Refusal::input(format!(
            "wrong input [out-of-range]: --within is \"{}\", and must be above 0 and below 50 %\n  fix write for example --within \"5 %\"\n",
            args.within
        )));
    }
    let (hopper, pieces) = parts(project).map_err(|f| Refusal::finding(&f))?;
    let faults = project.hopper_faults();
    let possible = !faults.iter().any(|f| f.lint.fault.refused());
    let plan = SurveyPlan {
        seed: args.seed,
        most_count: args.loads,
        least_count: 0,
        within_frac: within,
    };
    stop_on_ctrl_c();
    let shown = shows_progress();
    let mut told = |p: &Played| {
        if shown {
            err(&format!("\r{}, Ctrl-C stops ", progress(project, p)));
        }
        !STOP.load(Ordering::SeqCst)
    };
    let found = possible.then(|| survey(&hopper, &pieces, &plan, &mut told));
    let play = |all: &[_]| {
        let mut told = |r: &Ranked| {
            if shown {
                err(&format!(
                    "\r{:100}\rplayed {} of {} designs, Ctrl-C stops ",
                    "", r.done_count, r.of_count
                ));
            }
            !STOP.load(Ordering::SeqCst)
        };
        rank(
            &hopper,
            &pieces,
            all,
            args.seed,
            args.remedy_loads as usize,
            &mut told,
        )
    };
    // Whoever stopped it wants what there is, and nothing more played.
    let sound = matches!(&found, Some(Ok(s)) if !s.stopped);
    let ranked = (args.remedies && sound).then(|| play(&remedies(&hopper, &pieces)));
    let doubted = (args.doubts && sound).then(|| play(&doubts(&hopper, &pieces)));
    if shown {
        err(&format!("\r{:100}\r", ""));
    }
    let result = found.as_ref().and_then(|f| f.as_ref().ok());
    if let Some(s) = result {
        source::write_picture(&args.common, || waits_picture(project, s, None))?;
    }
    if let Some(path) = &args.hopper_svg
        && let Some(picture) = hopper_picture(project, &faults, result)
    {
        pictures::write_file(path, &picture).map_err(|f| Refusal::finding(&f))?;
    }
    if let (Some(path), Some(s)) = (&args.stuck_svg, result)
        && let Some(picture) = stuck_picture(project, s)
    {
        pictures::write_file(path, &picture).map_err(|f| Refusal::finding(&f))?;
    }
    let whole = [&ranked, &doubted]
        .iter()
        .all(|r| r.as_ref().is_none_or(Result::is_ok));
    let code = if result.is_some() && whole { FINE } else { FAILS };
    if args.common.json {
        let said = json::FeedSaid {
            seed: args.seed,
            faults: &faults,
            survey: found.as_ref(),
            remedies: ranked.as_ref(),
            doubts: doubted.as_ref(),
        };
        return Ok(Answer {
            text: format!("{:#}\n", json::feed(project, &hopper, &said)),
            code,
        });
    }
    let mut text = check::title(&source);
    text.push_str(&fault_words(&faults));
    match &found {
        None => text.push_str(
            "  Nothing was played: mend what is impossible first. `--hopper-svg FILE` draws where it is.\n",
        ),
        Some(Err(why)) => text.push_str(&line(&invalid_words(why))),
        Some(Ok(s)) => text.push_str(&survey_words(project, pieces.count, s)),
    }
    match &ranked {
        None if result.is_some_and(|s| s.waits[1].loads.frac > 0.0) && !args.remedies => {
            text.push_str("\n  What would help: `--remedies` plays the usual changes on the same loads.\n");
        }
        None => {}
        Some(Err(why)) => text.push_str(&line(&invalid_words(why))),
        Some(Ok(r)) => text.push_str(&ranking_words(project, &hopper, r)),
    }
    match &doubted {
        None => {}
        Some(Err(why)) => text.push_str(&line(&invalid_words(why))),
        Some(Ok(r)) => text.push_str(&doubt_words(project, &hopper, r)),
    }
    text.push_str(&line(CAUTION));
    Ok(Answer { text, code })
}

/// With `--fed`: changes the project to how its feed hands it pieces, and says so.
pub fn by_feed(project: &mut Project, asked: bool) -> Result<String, Refusal> {
    if !asked {
        return Ok(String::new());
    }
    let pace = pace(project).map_err(|f| Refusal::finding(&f))?;
    fed(project, &pace);
    Ok(format!("  {}\n", wrap(&pace_words(project, &pace), WIDTH, "  ")))
}

fn line(text: &str) -> String {
    format!("\n  {}\n", wrap(text, WIDTH, "  "))
}

fn fault_words(faults: &[HopperFault]) -> String {
    let mut text = String::new();
    for f in faults {
        let kind = if f.lint.fault.refused() {
            "impossible"
        } else {
            "doubtful"
        };
        text.push_str(&format!(
            "  {kind} [{}]: {}\n    at  {}\n    fix {}\n",
            f.finding.code,
            wrap(&f.finding.what, WIDTH - 6, "    "),
            f.finding.key,
            wrap(&f.finding.fix, WIDTH - 6, "    ")
        ));
    }
    if !text.is_empty() {
        text.push('\n');
    }
    text
}

fn survey_words(project: &Project, piece_count: u32, s: &Survey) -> String {
    let mut text = format!(
        "{} loads of {} pieces, {}, then fed out\n",
        s.load_count,
        piece_count,
        arrival(project)
    );
    text.push_str(&columns(&WAIT_HEADS, &wait_rows(project, s)));
    text.push_str(&line(WAIT_NOTE));
    let mut lines = survey_lines(project, s);
    if s.worst.is_some() {
        lines.push(
            "`--hopper-svg FILE` draws the worst, `--stuck-svg FILE` where pieces lie in all that wedge."
                .to_string(),
        );
    }
    lines.push(
        "Nobody publishes the friction of such pieces. `--doubts` plays what friction, bounce and stiffness might be; docs/feed.md says how to measure yours."
            .to_string(),
    );
    for l in lines {
        text.push_str(&format!("  {}\n", wrap(&l, WIDTH, "  ")));
    }
    text
}

fn ranking_words(project: &Project, now: &Hopper, r: &Ranking) -> String {
    let mut text = format!("\n{}\n", ranking_line(project, r));
    text.push_str(&columns(&REMEDY_HEADS, &remedy_rows(project, now, r)));
    let best = best_words(project, now, r);
    if !best.is_empty() {
        text.push_str(&line(&best));
    }
    text.push_str(&line(&format!("{RANKING_NOTE} (`--remedy-loads`)")));
    for (code, why) in &r.invalid {
        text.push_str(&line(&format!("`{code}`: {}", invalid_words(why))));
    }
    if !r.left.is_empty() {
        text.push_str(&line(&left_words(r)));
    }
    text
}

fn doubt_words(project: &Project, now: &Hopper, r: &Ranking) -> String {
    let mut text = format!(
        "\nIf the pieces are other than the file says, on the same {} loads; as it says {} ({})\n",
        r.load_count,
        percent(r.now.frac),
        range(&r.now)
    );
    let rows: Vec<Vec<String>> = r
        .compared
        .iter()
        .map(|c| {
            vec![
                doubt_name(project, now, c),
                percent(c.stuck.frac),
                removed(c),
                if c.established {
                    "matters"
                } else {
                    "not established"
                }
                .to_string(),
            ]
        })
        .collect();
    text.push_str(&columns(&["with", "wedged", "points removed", ""], &rows));
    text.push_str(&line(
        "What `matters` is worth a test of your own pieces: docs/feed.md says how, with a board, a ruler and a kitchen scale.",
    ));
    text
}

fn doubt_name(project: &Project, now: &Hopper, c: &Compared) -> String {
    let (h, p) = (&c.remedy.hopper, &c.remedy.pieces);
    let number = |v: f64| format!("{v:.2}");
    match c.remedy.code {
        "friction-low" | "friction-high" => format!("friction on walls {}", number(h.friction_coeff)),
        "piece-friction-low" | "piece-friction-high" => {
            format!("friction piece on piece {}", number(h.piece_friction_coeff))
        }
        "bounce-low" | "bounce-high" => format!("bounce {}", number(p.bounce_coeff)),
        "softer" | "stiffer" => format!("stiffness {}", project.say(p.press_npm, D::Stiffness)),
        code => remedy_words(project, now, code, h),
    }
}
