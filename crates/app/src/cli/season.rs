//! `season`: what a match pays, and what to do next.

use arcwright_model::project::Project;
use arcwright_model::season::rank::{LEAN_FRAC, SeasonPlan};
use arcwright_model::units::Dimension as D;
use clap::Args;

use super::say::{columns, name, table, wrap};
use super::source::ByShots;
use super::{Answer, Common, FINE, Refusal, check, source};
use crate::tasks::json;
use crate::tasks::season::{
    RANGES, SeasonResult, chance_words, opening_words, picture, points, ranking as ranking_table,
    round_words, season, verdict,
};

#[derive(Args)]
pub struct SeasonArgs {
    #[command(flatten)]
    common: Common,
    #[command(flatten)]
    by: ByShots,
    /// Seed of the random numbers: the same seed gives the same season on any machine
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// Ways in which what is not known may turn out
    #[arg(long, value_name = "N", default_value_t = 200, value_parser = clap::value_parser!(u32).range(20..=20_000))]
    worlds: u32,
    /// Score to beat [default: season.beat]
    #[arg(long, value_name = "POINTS")]
    beat: Option<f64>,
}

pub fn run(args: &SeasonArgs) -> Result<Answer, Refusal> {
    let mut source = source::load(&args.common)?;
    source.learn(&args.by);
    let source = source;
    let project = &source.project;
    let plan = SeasonPlan {
        seed: args.seed,
        world_count: args.worlds as usize,
        ..SeasonPlan::default()
    };
    if args.beat.is_some_and(|b| !b.is_finite()) {
        return Err(Refusal::input(
            "wrong input [out-of-range]: --beat must be a number of points\n  fix write for example --beat 60\n",
        ));
    }
    let mut go_on = |_| true;
    let Some(result) = season(project, &plan, args.beat, &mut go_on).map_err(|f| Refusal::finding(&f))?
    else {
        return Err(Refusal::input("the season was stopped\n"));
    };
    source::write_picture(&args.common, || picture(&result))?;
    if args.common.json {
        return Ok(Answer {
            text: format!("{:#}\n", json::season(project, &plan, &result, &source.basis)),
            code: FINE,
        });
    }
    let mut text = check::title(&source);
    text.push_str(&now(project, &result));
    text.push_str(&opening(project, &result));
    text.push_str(&ranking(project, &result));
    text.push_str(&leans(project, &result));
    text.push_str(&format!("\n  {}\n", wrap(RANGES, WIDTH, "  ")));
    Ok(Answer { text, code: FINE })
}

const WIDTH: usize = 94;

fn now(project: &Project, r: &SeasonResult) -> String {
    let say = |v, d| project.say(v, d);
    let (a, rates) = (&r.answer, &r.ground.rates);
    let [low, middle, high] = a.now.tenths_count;
    let mut text = format!(
        "A match from spot `{}`, as the machine is\n  {} points on average: {} on a bad day (one in ten is worse), {} on a middling one, {} on a good one\n",
        r.ground.spot,
        points(a.now.mean_count),
        points(low),
        points(middle),
        points(high)
    );
    if let (Some(beat), Some(share)) = (r.beat_count, a.now.beats_frac) {
        text.push_str(&format!(
            "  beats {} in {} of matches\n",
            points(beat),
            say(share, D::Ratio)
        ));
    }
    text.push_str(&format!(
        "  {:.1} rounds, {:.0} pieces thrown, {:.0} in\n",
        a.rounds_count, a.thrown_count, a.in_count
    ));
    text.push_str(&format!(
        "  {}\n",
        wrap(&round_words(project, rates), WIDTH, "  ")
    ));
    let spots: Vec<String> = r
        .ground
        .spots
        .iter()
        .map(|(n, hit)| {
            format!(
                "{} {}",
                name(n),
                hit.map_or("out of reach".into(), super::scatter::percent)
            )
        })
        .collect();
    text.push_str(&format!("  hit chance by spot: {}\n", spots.join(", ")));
    text
}

fn opening(project: &Project, r: &SeasonResult) -> String {
    let Some(o) = &r.opening else { return String::new() };
    let rows: Vec<Vec<String>> = o
        .steps
        .iter()
        .map(|s| {
            vec![
                format!("{:.2} s", s.start_s),
                s.state.to_string(),
                s.what.clone(),
                s.until.clone(),
            ]
        })
        .collect();
    let mut text = format!(
        "\nOpening routine\n{}",
        columns(&["from", "state", "does", "until"], &rows)
    );
    text.push_str(&format!(
        "  {}\n",
        wrap(&opening_words(project, r, o), WIDTH, "  ")
    ));
    text
}

fn ranking(project: &Project, r: &SeasonResult) -> String {
    if r.answer.ranked.is_empty() {
        return "\nNo changes to compare: add [[season.change]] tables with what each changes and how many days it takes.\n".into();
    }
    let mut text = format!(
        "\nWhat to do next, by points gained for each day of work\n{}",
        table(&ranking_table(project, r).in_column(1, name))
    );
    text.push_str(&format!("  {}\n", wrap(&verdict(project, r), WIDTH, "  ")));
    if let Some(words) = chance_words(project, r) {
        text.push_str(&format!("  {}\n", wrap(&words, WIDTH, "  ")));
    }
    text
}

fn leans(project: &Project, r: &SeasonResult) -> String {
    let named = |i: Option<usize>| {
        let change = i.and_then(|i| r.ground.aims.get(i));
        change.map_or("none".to_string(), |(c, _)| name(&c.name))
    };
    let rows: Vec<Vec<String>> = r
        .answer
        .leans
        .iter()
        .map(|l| {
            vec![
                l.what.to_string(),
                points(l.lower_count),
                points(l.higher_count),
                named(l.first_lower),
                named(l.first_higher),
            ]
        })
        .collect();
    let share = project.say(LEAN_FRAC, D::Ratio);
    format!(
        "\nWhat it depends on: points on average, and which change is first, with each {share} lower and {share} higher\n{}",
        columns(
            &["", "lower", "higher", "first if lower", "first if higher"],
            &rows
        )
    )
}
