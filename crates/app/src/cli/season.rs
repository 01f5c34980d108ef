//! `season`: what a match pays, and what to do next.

use arcwright_model::project::Project;
use arcwright_model::season::rank::{LEAN_FRAC, Ranked, SeasonPlan};
use arcwright_model::season::rates::Rates;
use arcwright_model::units::Dimension as D;
use clap::Args;

use super::say::{columns, name, table, wrap};
use super::source::ByShots;
use super::{Answer, Common, FINE, Refusal, check, source};
use crate::tasks::json;
use crate::tasks::season::{SeasonResult, picture, points, ranking as ranking_table, season};

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
    let result = season(project, &plan, args.beat).map_err(|f| Refusal::finding(&f))?;
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
    text.push_str(&format!(
        "\n  {}\n",
        wrap(
            "Ranges hold what is not known: times by 15 %, misses by 30 %, wedges and penalties by 40 %, and for each change what its \
             `unsure` says. Time them with a watch, log test shots, and ask again.",
            WIDTH,
            "  "
        )
    ));
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

/// Where the time of a round goes.
fn round_words(project: &Project, r: &Rates) -> String {
    let whole = r.round_s();
    let part = |what: &str, s: f64| {
        (
            s,
            format!(
                "{what} {} ({})",
                project.say(s, D::Time),
                project.say(s / whole, D::Ratio)
            ),
        )
    };
    let mut parts = vec![
        part("collecting", f64::from(r.volley_count) * r.collect_s),
        part("driving there and back", r.travel_s),
        part("lining up and loading", r.aim_s),
        part("throwing", r.throwing_s(r.volley_count)),
        part("wedges", r.jam_frac * r.jam_s),
    ];
    parts.sort_by(|a, b| b.0.total_cmp(&a.0));
    let words: Vec<String> = parts.into_iter().map(|p| p.1).collect();
    format!(
        "a round takes {}: {}",
        project.say(whole, D::Time),
        words.join(", ")
    )
}

fn opening(project: &Project, r: &SeasonResult) -> String {
    let Some(o) = &r.opening else { return String::new() };
    let say = |v| project.say(v, D::Time);
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
    if o.left_s >= 0.0 {
        text.push_str(&format!(
            "  {} to spare; {} points on average\n",
            say(o.left_s),
            points(o.points_count)
        ));
    } else {
        text.push_str(&format!(
            "  {} too long: {} of {} throws fit with the drive-off. Cut throws, or stay and throw: driving off takes {}\n",
            say(-o.left_s),
            o.fits_count,
            r.ground.rates.preload_count,
            say(0.5 * r.ground.rates.travel_s)
        ));
    }
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
    text
}

/// The answer in a few sentences: which first, how sure, and why.
fn verdict(project: &Project, r: &SeasonResult) -> String {
    let ranked = &r.answer.ranked;
    let Some(first) = ranked.first() else {
        return String::new();
    };
    let why = |c: &Ranked| -> String {
        let Some((_, after)) = r.ground.aims.get(c.index) else {
            return String::new();
        };
        let (a, b) = (r.ground.rates.round_s(), after.round_s());
        let mut parts = Vec::new();
        if (a - b).abs() > 0.05 {
            parts.push(format!(
                "a round takes {} in place of {}, so {:.1} rounds in place of {:.1}",
                project.say(b, D::Time),
                project.say(a, D::Time),
                c.rounds_count,
                r.answer.rounds_count
            ));
        }
        let hit = |x: &Rates| {
            (0..x.volley_count.max(1)).map(|i| x.hit_frac(i)).sum::<f64>() / f64::from(x.volley_count.max(1))
        };
        let (h, k) = (hit(&r.ground.rates), hit(after));
        if (h - k).abs() > 0.002 {
            parts.push(format!(
                "{} hit in place of {}",
                project.say(k, D::Ratio),
                project.say(h, D::Ratio)
            ));
        }
        if after.sorted_frac > r.ground.rates.sorted_frac {
            parts.push("volleys come in the order called".into());
        }
        if parts.is_empty() {
            "nothing that a round notices".into()
        } else {
            parts.join(" and ")
        }
    };
    if !(first.gain_range_count[1] > 0.0) {
        return "None of them gains anything for sure: practise, measure, and ask again.".into();
    }
    let mut text = format!(
        "First `{}`: {}. It is the best of all for its days in {} of the ways in which what is not known may turn out.",
        first.name,
        why(first),
        project.say(first.best_frac, D::Ratio)
    );
    if let Some(next) = ranked.get(1) {
        let overlap = first.per_day_range_count[0] < next.per_day_range_count[1];
        text.push_str(&format!(
            " Then `{}`: {}.{}",
            next.name,
            why(next),
            if overlap {
                " Their ranges overlap: the order of these two is not sure."
            } else {
                ""
            }
        ));
    }
    for c in ranked.iter().skip(2) {
        if r.ground
            .aims
            .get(c.index)
            .is_some_and(|(change, _)| change.drive.is_some())
        {
            text.push_str(&format!(" `{}`: {}.", c.name, why(c)));
        }
    }
    text
}

fn leans(project: &Project, r: &SeasonResult) -> String {
    let rows: Vec<Vec<String>> = r
        .answer
        .leans
        .iter()
        .map(|l| vec![l.what.to_string(), points(l.lower_count), points(l.higher_count)])
        .collect();
    let share = project.say(LEAN_FRAC, D::Ratio);
    format!(
        "\nWhat the points depend on: average with each {share} lower and {share} higher\n{}",
        columns(&["", "lower", "higher"], &rows)
    )
}
