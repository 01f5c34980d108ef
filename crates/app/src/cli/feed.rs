//! `feed`: will the pieces queue, how fast, and what stops them wedging?

use std::path::PathBuf;

use arcwright_model::feed::hopper::Hopper;
use arcwright_model::feed::remedy::{Compared, Ranking, doubts, rank, remedies};
use arcwright_model::feed::survey::{Survey, SurveyPlan, judged_s, survey};
use arcwright_model::project::{HopperFault, Project};
use arcwright_model::units::Dimension as D;
use clap::Args;

use super::say::{columns, err, shows_progress, wrap};
use super::{Answer, Common, FAILS, FINE, Refusal, check, source};
use crate::tasks::feed::{
    fed, hopper_picture, invalid_words, kind_words, pace, pace_words, parts, percent, range, remedy_words,
    seconds, waits_picture,
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
}

/// Width of the text.
const WIDTH: usize = 112;

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
        within_frac: within,
    };
    let shown = shows_progress();
    let told = |done: usize| {
        if shown {
            err(&format!("\rplayed {done} loads "));
        }
    };
    let found = possible.then(|| survey(&hopper, &pieces, &plan, &told));
    let play = |all: &[_]| {
        let told = |done: usize, of: usize| {
            if shown {
                err(&format!("\rplayed {done} of {of} changes "));
            }
        };
        rank(
            &hopper,
            &pieces,
            all,
            args.seed,
            args.remedy_loads as usize,
            &told,
        )
    };
    let sound = matches!(found, Some(Ok(_)));
    let ranked = (args.remedies && sound).then(|| play(&remedies(&hopper, &pieces)));
    let doubted = (args.doubts && sound).then(|| play(&doubts(&hopper, &pieces)));
    if shown {
        err("\r                              \r");
    }
    let result = found.as_ref().and_then(|f| f.as_ref().ok());
    if let Some(s) = result {
        source::write_picture(&args.common, || waits_picture(project, s))?;
    }
    if let Some(path) = &args.hopper_svg
        && let Some(picture) = hopper_picture(project, &faults, result)
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

/// Where hands get near the machine.
const CAUTION: &str = "Never reach into a hopper that is switched on: a stalled stirrer starts when the piece comes free, and the \
roller pulls fingers in. Power off, wait for standstill, then clear it with a stick. The event's rules and the \
supervising adult come first.";

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
        "{} loads of {} pieces, dropped in one by one, then fed out\n",
        s.load_count, piece_count
    );
    let rows: Vec<Vec<String>> = s
        .waits
        .iter()
        .map(|w| {
            let mut row = vec![
                project.say(w.wait_s, D::Time),
                percent(w.loads.frac),
                range(&w.loads),
                percent(w.gaps.frac),
                range(&w.gaps),
            ];
            row.extend(w.stuck_counts.iter().map(ToString::to_string));
            row
        })
        .collect();
    text.push_str(&columns(
        &[
            "wait above",
            "of the loads",
            "range",
            "of the gaps",
            "range",
            "locked",
            "stalled",
            "circulating",
            "thrown out",
        ],
        &rows,
    ));
    text.push_str(&line(
        "`of the loads`: in how many somebody waits that long for some piece. `of the gaps`: how many waits from piece to piece \
         are that long. `range` is what these loads leave open. Then the loads by how they stood at that moment: `locked` nothing moves, `stalled` \
         the stirrer stands and pieces still move, `circulating` pieces move and none comes out, `thrown out` over the walls.",
    ));
    let mut lines = Vec::new();
    if !s.settled {
        lines.push(format!(
            "Known less well than asked: more loads would narrow it (`--loads {}`).",
            4 * s.load_count
        ));
    }
    for k in &s.kinds {
        let (_, what) = kind_words(k.kind);
        let used = if k.used_frac > 0.0 {
            format!(
                "; it uses {} of the friction there is, and slips at 100 %",
                percent(k.used_frac)
            )
        } else {
            String::new()
        };
        lines.push(format!(
            "{} of {} wedges: {what}{used}.",
            k.count,
            s.kinds.iter().map(|k| k.count).sum::<usize>()
        ));
    }
    let longest = project.say(s.waits[3].wait_s, D::Time);
    lines.push(format!(
        "First piece after {} on average, then one every {} (a wait that does not end counts as {longest}).",
        seconds(project, &s.first),
        seconds(project, &s.between)
    ));
    if let Some(flowing) = &s.flowing {
        lines.push(format!(
            "While nothing wedges: one every {}.",
            seconds(project, flowing)
        ));
        if let Some(asked) = project.limits.throw_interval_s {
            let (slower, what) = if flowing.mean_s > asked {
                ("The feed is slower than", "the volley waits for pieces")
            } else {
                ("The feed keeps up with", "the wheel sets the pace")
            };
            lines.push(format!(
                "{slower} the {} between throws that the brief asks for: {what}.",
                project.say(asked, D::Time)
            ));
        }
    }
    lines.push(format!(
        "Two pieces under the roller at once: {} ({}). Out in another order than in: {} of the loads ({}).",
        percent(s.doubles.frac),
        range(&s.doubles),
        percent(s.swapped.frac),
        range(&s.swapped)
    ));
    if let (Some(aside), Some(above)) = (&s.aside, &s.above) {
        let mm = |v: f64| project.say((v * 1e4).round() / 1e4, D::Length);
        lines.push(format!(
            "Pieces leave the feed {} to the side of the middle (standard deviation) and {} up and down; `throws.entry` takes the first.",
            mm((aside.sd_m * aside.sd_m + aside.mean_m * aside.mean_m).sqrt()),
            mm(above.sd_m)
        ));
    }
    lines.push(format!(
        "Greatest force on a piece: {} in half of the loads, {} at most; pressed in by {} of its diameter at most.",
        project.say(s.peak_n[0].round(), D::Force),
        project.say(s.peak_n[1].round(), D::Force),
        percent(s.pressed_frac)
    ));
    if let Some(w) = &s.worst {
        lines.push(format!(
            "The worst: load {}, after {} {} out. `--hopper-svg FILE` draws it.",
            w.index,
            w.came_count,
            if w.came_count == 1 {
                "piece was"
            } else {
                "pieces were"
            }
        ));
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
    let mut text = format!(
        "\nWhat would help against a wait above {}, on the same {} loads; now {} ({})\n",
        project.say(judged_s(), D::Time),
        r.load_count,
        percent(r.now.frac),
        range(&r.now)
    );
    let rows: Vec<Vec<String>> = r
        .compared
        .iter()
        .map(|c| {
            let verdict = match (c.established, c.removed.frac > 0.0) {
                (true, true) => "helps",
                (true, false) => "harms",
                (false, _) => "not established",
            };
            vec![
                remedy_words(project, now, c.remedy.code, &c.remedy.hopper),
                percent(c.stuck.frac),
                removed(c),
                format!("{:.1} h", c.remedy.work_s / 3600.0),
                verdict.to_string(),
                if c.beats_next { "yes" } else { "not established" }.to_string(),
            ]
        })
        .collect();
    text.push_str(&columns(
        &[
            "change",
            "wedged",
            "points removed",
            "work",
            "",
            "better than the next",
        ],
        &rows,
    ));
    text.push_str(&line(
        "Points of a hundred loads that no longer wait, with the range that these loads leave open. What helps stands first, by points for \
         each hour of work; the hours are a guess. `not established`: these loads do not tell whether it helps; more might (`--remedy-loads`).",
    ));
    for (code, why) in &r.invalid {
        text.push_str(&line(&format!("`{code}`: {}", invalid_words(why))));
    }
    text
}

/// Points of a hundred loads removed, with their range.
fn removed(c: &Compared) -> String {
    let signed = |x: f64| format!("{}{:.0}", if x < 0.0 { "-" } else { "+" }, 100.0 * x.abs());
    let r = &c.removed;
    format!(
        "{} ({} to {})",
        signed(r.frac),
        signed(r.low_frac),
        signed(r.high_frac)
    )
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
