//! `order`: the chance to throw the wanted order of colours, for every way of sorting.

use arcwright_model::project::Project;
use arcwright_model::units::Dimension as D;
use clap::Args;

use super::say::{columns, wrap};
use super::{Answer, FINE, Refusal, Which, check, source};
use crate::tasks::json;
use crate::tasks::order::{Ordered, Way, ordered, word};

#[derive(Args)]
pub struct OrderArgs {
    #[command(flatten)]
    which: Which,
    /// Print JSON (SI, versioned; see docs/json.md) instead of text
    #[arg(long)]
    json: bool,
    /// Seed of the random numbers, where there are too many cases to count
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
}

pub fn run(args: &OrderArgs) -> Result<Answer, Refusal> {
    let source = source::load(&args.which.common())?;
    let project = &source.project;
    let found = ordered(project, args.seed).map_err(|f| Refusal::finding(&f))?;
    if args.json {
        return Ok(Answer {
            text: format!("{:#}\n", json::order(project, &found)),
            code: FINE,
        });
    }
    Ok(Answer {
        text: check::title(&source) + &words(project, &found),
        code: FINE,
    })
}

fn percent(x: f64) -> String {
    format!("{:.1} %", 100.0 * x)
}

fn words(project: &Project, found: &Ordered) -> String {
    let name = |i: &usize| found.colours.get(*i).map_or("", String::as_str);
    let wanted: Vec<&str> = found.task.wanted.iter().map(name).collect();
    let stock: Vec<String> = found
        .colours
        .iter()
        .zip(&found.task.stock_count)
        .map(|(n, c)| format!("{c} {n}"))
        .collect();
    let mut text = format!(
        "The order {} from a random load of {} out of {}\n",
        wanted.join(", "),
        found.task.load_count,
        stock.join(", ")
    );
    let rows: Vec<Vec<String>> = found
        .ways
        .iter()
        .map(|w| {
            let f = &w.found;
            vec![
                word(w.sorter),
                percent(f.whole_frac),
                f.interval_frac.map_or("counted".into(), |[a, b]| {
                    format!("{} to {}", percent(a), percent(b))
                }),
                format!("{:.2} of {}", f.right_count, wanted.len()),
                if f.time_s > 0.0 {
                    project.say((f.time_s * 1e2).round() / 1e2, D::Time)
                } else {
                    "none".into()
                },
                percent(f.mistaken_frac),
            ]
        })
        .collect();
    text.push_str(&columns(
        &[
            "sorter",
            "whole order",
            "95 % range",
            "right places",
            "time it takes",
            "wrong unseen",
        ],
        &rows,
    ));
    let possible = found.ways.first().map_or(0.0, |w| w.found.possible_frac);
    let mut said = vec![format!(
        "No sorter can do better than {}: so often does a load hold the colours at all.",
        percent(possible)
    )];
    if let Some((step, gain)) = best_step(&found.ways) {
        said.push(format!(
            "The step that buys most is from {} to {}: {} more orders whole of a hundred loads.",
            word(found.ways[step - 1].sorter),
            word(found.ways[step].sorter),
            (100.0 * gain).round()
        ));
    }
    if let Some(last) = found.ways.last()
        && found.task.sensor_error_frac > 0.0
    {
        said.push(format!(
            "With a sensor that never erred the carousel would come to {} instead of {}.",
            percent(last.sure_frac),
            percent(last.found.whole_frac)
        ));
    }
    let mut said = said.join(" ");
    said.push_str(
        " `wrong unseen` is how often the sensor takes the order for whole and it is not. Picking up by colour, rather than \
as they come, is a sorter too: ask the drivers.",
    );
    text.push_str(&format!("\n  {}\n", wrap(&said, 112, "  ")));
    text
}

/// The step from one way to the next that adds most to the chance.
fn best_step(ways: &[Way]) -> Option<(usize, f64)> {
    ways.windows(2)
        .enumerate()
        .map(|(i, w)| (i + 1, w[1].found.whole_frac - w[0].found.whole_frac))
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .filter(|(_, gain)| *gain > 0.005)
}
