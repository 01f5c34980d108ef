//! `floor wander`: why do the throws differ?

use std::path::PathBuf;

use arcwright_model::floor::components::{Cause, Judgement};
use arcwright_model::project::Project;
use arcwright_model::units::Dimension as D;
use clap::Args;

use super::{Ground, Where};
use crate::cli::say::columns;
use crate::cli::{Answer, FINE, Refusal};
use crate::store::shots;
use crate::tasks::floor::json_drift;
use crate::tasks::floor::wander::{
    Wander, amount, cause_name, judged, mend_words, picture, split, trial_words,
};
use crate::tasks::pictures::write_file;

#[derive(Args)]
pub struct WanderArgs {
    /// Look at the misses sideways instead of along
    #[arg(long)]
    sideways: bool,
    /// Print JSON (SI, versioned; see docs/json.md) instead of text
    #[arg(long)]
    json: bool,
    /// Write the picture to this file
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
    #[command(flatten)]
    place: Where,
}

pub fn run(args: &WanderArgs) -> Result<Answer, Refusal> {
    let ground = Ground::load(&args.place)?;
    let project = &ground.project;
    let store = ground.read()?;
    let found = shots(&store, project)
        .and_then(|all| split(project, &all, args.sideways))
        .map_err(|f| Refusal::finding(&f))?;
    if let Some(path) = &args.svg {
        write_file(path, &picture(project, &found)).map_err(|f| Refusal::finding(&f))?;
    }
    let text = if args.json {
        format!("{:#}\n", json_drift::wander(project, &found))
    } else {
        words(project, &found)
    };
    Ok(Answer { text, code: FINE })
}

fn words(project: &Project, w: &Wander) -> String {
    let c = &w.components;
    let say = |x: f64| amount(project, w, x);
    let share = |x: f64| project.say(x, D::Ratio);
    let mut text = format!(
        "What makes the throws differ {}: {} throws, {} marked pieces, {} {}\n",
        if w.sideways {
            "sideways, as an angle"
        } else {
            "along, as a share of speed"
        },
        c.throws,
        c.pieces,
        c.sessions,
        if c.sessions == 1 { "session" } else { "sessions" }
    );
    let mut rows: Vec<Vec<String>> = c
        .suspects
        .iter()
        .map(|s| {
            vec![
                cause_name(s.cause).to_string(),
                say(s.sd_frac),
                format!("{} to {}", say(s.interval_frac[0]), say(s.interval_frac[1])),
                share(s.share_frac),
                judged(s.judgement).to_string(),
            ]
        })
        .collect();
    rows.push(vec![
        "what is left from throw to throw".into(),
        say(c.residual_sd_frac),
        String::new(),
        share(c.residual_share_frac),
        String::new(),
    ]);
    rows.push(vec![
        "of it, reading the shots".into(),
        say(w.reading_sd),
        String::new(),
        String::new(),
        String::new(),
    ]);
    text.push_str(&columns(
        &["", "adds (sd)", "95 of 100 such logs", "of the variance", ""],
        &rows,
    ));
    if w.reading_sd > READING_SHARE * c.residual_sd_frac {
        text.push_str(
            "  Most of what is left is the reading itself: tape where the shots land instead of judging by eye.\n",
        );
    }
    if w.unused > 0 {
        text.push_str(&format!(
            "  {} more {} not say by how much they missed, or flew off on their own.\n",
            w.unused,
            if w.unused == 1 { "shot does" } else { "shots do" }
        ));
    }
    text.push_str("\nSuspects\n");
    for (i, s) in c.suspects.iter().enumerate() {
        let verdict = match s.judgement {
            Judgement::Shown => format!("shown. {}", upper(mend_words(s.cause))),
            Judgement::Small => {
                "cleared: even at its worst it adds less than a twentieth to the spread".into()
            }
            Judgement::CannotTell => format!("this log cannot tell. To find out, {}", trial_words(s)),
        };
        text.push_str(&format!("  {}. {}: {verdict}.\n", i + 1, cause_name(s.cause)));
        if s.judgement == Judgement::Shown && !matches!(s.cause, Cause::ReleaseSpeed) {
            text.push_str(&format!("     To be sure, {}.\n", trial_words(s)));
        }
    }
    let shown = c
        .suspects
        .iter()
        .any(|s| s.cause == Cause::Piece && s.judgement == Judgement::Shown);
    if let (true, [first, .., last]) = (shown, c.piece_effects.as_slice()) {
        text.push_str(&format!(
            "  Slowest seems piece {} ({} ± {}), fastest piece {} ({} ± {}).\n",
            first.piece,
            say(first.effect_frac),
            say(2.0 * first.sd_frac),
            last.piece,
            say(last.effect_frac),
            say(2.0 * last.sd_frac)
        ));
    }
    if c.too_small && c.pieces > 1 {
        text.push_str(&format!(
            "  A log of this size shows pieces that differ by half of what is left in {} of 100 cases, by all of it in {}.\n",
            (100.0 * c.power_half_frac).round(),
            (100.0 * c.power_full_frac).round()
        ));
    }
    if c.order_tied_frac > 0.5 {
        text.push_str(
            "  The pieces were thrown in the same order each time: piece and place in the volley cannot be told apart. Draw the order by lot.\n",
        );
    }
    text
}

/// Method: more than this part of what is left, and the reading hides what the machine does.
const READING_SHARE: f64 = 0.7;

fn upper(text: &str) -> String {
    let mut letters = text.chars();
    letters
        .next()
        .map_or(String::new(), |c| c.to_uppercase().chain(letters).collect())
}
