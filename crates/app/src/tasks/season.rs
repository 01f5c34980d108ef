//! A season: the ground it is played on, the answer, the opening, and what is said about them.

use arcwright_model::finding::Finding;
use arcwright_model::project::Project;
use arcwright_model::season::opening::{Opening, opening};
use arcwright_model::season::rank::{LEAN_FRAC, Ranked, SeasonAnswer, SeasonPlan, answer};
use arcwright_model::season::rates::{Ground, Rates};
use arcwright_model::units::Dimension as D;
use arcwright_paper::drawings::season as season_view;

use super::tables::Table;

/// Everything that `season` says.
pub struct SeasonResult {
    /// Rates as the machine is and as each change would make them.
    pub ground: Ground,
    /// The opening routine, where there is one.
    pub opening: Option<Opening>,
    /// Points, changes in their order, inputs in theirs.
    pub answer: SeasonAnswer,
    /// Score to beat.
    pub beat_count: Option<f64>,
}

fn grounded(project: &Project, seed: u64) -> Result<Ground, Finding> {
    Ground::of(project, seed).map_err(|n| Finding::new("no-season", n.key, n.what, n.fix))
}

fn opening_of(ground: &Ground) -> Option<Opening> {
    opening(&ground.rates, 0.5 * ground.rates.travel_s)
}

/// The opening routine of a project; `None` where its season has none.
///
/// # Errors
/// `no-season` where something that it needs is missing.
pub fn routine(project: &Project, seed: u64) -> Result<Option<Opening>, Finding> {
    let has_one = project
        .season
        .as_ref()
        .is_some_and(|s| s.opening_s > 0.0 && s.preload_count > 0);
    if has_one {
        grounded(project, seed).map(|g| opening_of(&g))
    } else {
        Ok(None)
    }
}

/// Plays a season; `None` when `go_on` says no. It is asked before each of the worlds.
///
/// # Errors
/// `no-season` where something that it needs is missing.
pub fn season(
    project: &Project,
    plan: &SeasonPlan,
    beat: Option<f64>,
    go_on: &mut dyn FnMut(usize) -> bool,
) -> Result<Option<SeasonResult>, Finding> {
    let ground = grounded(project, plan.seed)?;
    let beat_count = beat.or(project.season.as_ref().and_then(|s| s.beat_points_count));
    Ok(
        answer(&ground, beat_count, plan, go_on).map(|answer| SeasonResult {
            opening: opening_of(&ground),
            answer,
            ground,
            beat_count,
        }),
    )
}

/// The ranking, the points and what they depend on as a picture.
pub fn picture(result: &SeasonResult) -> String {
    season_view::draw(&season_view::SeasonPicture {
        answer: result.answer.clone(),
        beat_count: result.beat_count,
    })
}

/// A number of points, to a tenth below ten.
pub fn points(v: f64) -> String {
    if v.abs() < 9.95 {
        format!("{v:.1}")
    } else {
        format!("{v:.0}")
    }
}

/// Points gained, with their sign.
pub fn gain(v: f64) -> String {
    if v >= 0.05 {
        format!("+{}", points(v))
    } else {
        points(if v.abs() < 0.05 { 0.0 } else { v })
    }
}

/// Where the time of a round goes.
pub fn round_words(project: &Project, r: &Rates) -> String {
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

/// Does the opening fit, and what to cut where it does not?
pub fn opening_words(project: &Project, r: &SeasonResult, o: &Opening) -> String {
    let say = |v| project.say(v, D::Time);
    if o.left_s >= 0.0 {
        return format!(
            "{} to spare; {} points on average",
            say(o.left_s),
            points(o.points_count)
        );
    }
    format!(
        "{} too long: {} of {} throws fit with the drive-off. Cut throws, or stay and throw: driving off takes {}",
        say(-o.left_s),
        o.fits_count,
        r.ground.rates.preload_count,
        say(0.5 * r.ground.rates.travel_s)
    )
}

/// What a change does to a round, in words.
fn why(project: &Project, r: &SeasonResult, c: &Ranked) -> String {
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
}

/// The answer in a few sentences: which first, how sure, why, and when it would be another.
pub fn verdict(project: &Project, r: &SeasonResult) -> String {
    let ranked = &r.answer.ranked;
    let Some(first) = ranked.first() else {
        return String::new();
    };
    if !(first.gain_range_count[1] > 0.0) {
        return "None of them gains anything for sure: practise, measure, and ask again.".into();
    }
    let mut text = format!(
        "First `{}`: {}. It is the best of all for its days in {} of the ways in which what is not known may turn out.",
        first.name,
        why(project, r, first),
        project.say(first.best_frac, D::Ratio)
    );
    if let Some(days) = r.answer.first_until_days_count {
        text.push_str(&format!(
            " It stays first as long as it takes fewer than {days:.1} days; {} are written.",
            first.days_count
        ));
    }
    if let Some(next) = ranked.get(1) {
        let overlap = first.per_day_range_count[0] < next.per_day_range_count[1];
        text.push_str(&format!(
            " Then `{}`: {}.{}",
            next.name,
            why(project, r, next),
            if overlap {
                " Their ranges overlap: the order of these two is not sure."
            } else {
                ""
            }
        ));
    }
    for c in ranked.iter().skip(2) {
        let drives = |i: usize| {
            r.ground
                .aims
                .get(i)
                .is_some_and(|(change, _)| change.drive.is_some())
        };
        if drives(c.index) {
            text.push_str(&format!(" `{}`: {}.", c.name, why(project, r, c)));
        }
    }
    let turns: Vec<String> = r
        .answer
        .leans
        .iter()
        .flat_map(|l| [(l, "lower", l.first_lower), (l, "higher", l.first_higher)])
        .filter_map(|(l, way, i)| {
            let other = i.filter(|i| *i != first.index)?;
            let name = &r.ground.aims.get(other)?.0.name;
            Some(format!("with {} a fifth {way} it would be `{name}`", l.what))
        })
        .collect();
    text.push_str(&if turns.is_empty() {
        format!(
            " It is first with each input below {} lower or higher, too.",
            project.say(LEAN_FRAC, D::Ratio)
        )
    } else {
        format!(" But {}.", turns.join(", "))
    });
    text
}

/// The order by the chance to beat the score asked for, in a sentence; `None` where none is asked.
pub fn chance_words(project: &Project, r: &SeasonResult) -> Option<String> {
    let beat = r.beat_count?;
    let say = |v| project.say(v, D::Ratio);
    let now = r.answer.now.beats_frac?;
    let order: Vec<String> = r
        .answer
        .by_chance()
        .into_iter()
        .filter_map(|c| {
            let ([low, high], frac) = (c.beats_range_frac?, c.beats_frac?);
            Some(format!(
                "`{}` {} ({} to {})",
                c.name,
                say(frac),
                say(low),
                say(high)
            ))
        })
        .collect();
    Some(format!(
        "By the chance to beat {}, {} now: {}. Nine times in ten the chance lies in its range.",
        points(beat),
        say(now),
        order.join(", ")
    ))
}

/// What the ranges hold.
pub const RANGES: &str = "Ranges hold what is not known: times by 15 %, misses by 30 %, wedges and penalties by 40 %, and for each change what its `unsure` says. Time them with a watch, log test shots, and ask again.";

/// Changes by what they gain for each day of work.
pub fn ranking(project: &Project, r: &SeasonResult) -> Table {
    let rows: Vec<Vec<String>> = r
        .answer
        .ranked
        .iter()
        .enumerate()
        .map(|(i, c)| {
            let [low, high] = c.per_day_range_count;
            vec![
                format!("{}", i + 1),
                c.name.clone(),
                gain(c.per_day_count),
                format!("{} to {}", gain(low), gain(high)),
                gain(c.gain_count),
                format!("{}", c.days_count),
                format!("{}", c.money_count),
                project.say(c.best_frac, D::Ratio),
                c.beats_frac.map_or("-".into(), |b| project.say(b, D::Ratio)),
            ]
        })
        .collect();
    Table::of(
        &[
            "",
            "change",
            "a day",
            "nine in ten",
            "a match",
            "days",
            "money",
            "is best",
            "beats",
        ],
        rows,
    )
}
