//! `map`: the hit chance from every place on the floor.

use arcwright_model::project::Project;
use arcwright_model::scatter::{MapPlace, MapPlan, hit_map};
use arcwright_model::units::Dimension as D;
use clap::Args;

use super::say::{columns, wrap};
use super::source::ByShots;
use super::{Answer, Common, FAILS, FINE, Refusal, check, learned, source};
use crate::tasks::{json, pictures};

#[derive(Args)]
pub struct MapArgs {
    #[command(flatten)]
    common: Common,
    #[command(flatten)]
    by: ByShots,
    /// Seed of the random numbers: the same seed gives the same figures on any machine
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// Most places looked at: more of them are closer together
    #[arg(long, value_name = "N", default_value_t = pictures::MAP_PLACES as u32, value_parser = clap::value_parser!(u32).range(9..=10_000))]
    places: u32,
}

pub fn run(args: &MapArgs) -> Result<Answer, Refusal> {
    let mut source = source::load(&args.common)?;
    source.learn(&args.by);
    let source = source;
    let project = &source.project;
    let plan =
        pictures::map_plan(project, args.places as usize, args.seed).map_err(|f| Refusal::finding(&f))?;
    let places = hit_map(project, &plan, &|| false).unwrap_or_default();
    source::write_picture(&args.common, || pictures::hit_map(project, &plan, &places))?;
    let code = if places.iter().any(|p| p.result.is_ok()) {
        FINE
    } else {
        FAILS
    };
    if args.common.json {
        return Ok(Answer {
            text: format!("{:#}\n", json::map(project, &plan, &places, &source.basis)),
            code,
        });
    }
    let mut text = check::title(&source);
    text.push_str(&words(project, &plan, &places));
    text.push_str(&learned::scatter_words(&source));
    Ok(Answer { text, code })
}

/// Method: columns of a table that still fits a terminal of 112 signs.
const MOST_COLUMNS: usize = 13;

fn words(project: &Project, plan: &MapPlan, places: &[MapPlace]) -> String {
    let say = |v| project.say(v, D::Length);
    let across = plan.offsets_m.len();
    // Every so many columns, the middle one among them.
    let skip = across.div_ceil(MOST_COLUMNS).max(1);
    let middle = across / 2;
    let shown: Vec<usize> = (0..across)
        .filter(|c| c.abs_diff(middle).is_multiple_of(skip))
        .rev()
        .collect();
    let side = |c: &usize| {
        let o = plan.offsets_m.get(*c).copied().unwrap_or(0.0);
        let word = if o > 0.0 {
            " left"
        } else if o < 0.0 {
            " right"
        } else {
            ""
        };
        format!("{}{word}", say(o.abs()))
    };
    let mut head = vec!["distance".to_string(), "setpoint ahead".to_string()];
    head.extend(shown.iter().map(side));
    let rows: Vec<Vec<String>> = plan
        .distances_m
        .iter()
        .enumerate()
        .map(|(r, d)| {
            let at = |c: usize| places.get(r * across + c).and_then(|p| p.result.as_ref().ok());
            let mut row = vec![
                say(*d),
                at(middle).map_or("-".into(), |p| project.say(p.setpoint_radps, D::AngularSpeed)),
            ];
            row.extend(
                shown
                    .iter()
                    .map(|c| at(*c).map_or("-".into(), |p| pictures::of_hundred(p.hit.frac))),
            );
            row
        })
        .collect();
    let head: Vec<&str> = head.iter().map(String::as_str).collect();
    let mut text =
        String::from("Throws of a hundred that go in, from every place, each at its own wheel speed\n");
    text.push_str(&columns(&head, &rows));
    let said = format!(
        "One setting for all places; only the wheel speed changes. The distance is along the target's axis to the near \
rim, the columns go from left to right of it as the robot faces it. A figure is within {} of what many more throws \
would give. `-`: no wheel speed brings a throw to the opening. A place takes the spreads of the spot nearest to it.",
        pictures::of_hundred(pictures::within_frac(places))
    );
    text.push_str(&format!("\n  {}\n", wrap(&said, 112, "  ")));
    text
}
