//! A season: the ground it is played on, the answer, the opening.

use arcwright_model::finding::Finding;
use arcwright_model::project::Project;
use arcwright_model::season::opening::{Opening, opening};
use arcwright_model::season::rank::{SeasonAnswer, SeasonPlan, answer};
use arcwright_model::season::rates::Ground;
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

/// Plays a season.
pub fn season(project: &Project, plan: &SeasonPlan, beat: Option<f64>) -> Result<SeasonResult, Finding> {
    let ground =
        Ground::of(project, plan.seed).map_err(|n| Finding::new("no-season", n.key, n.what, n.fix))?;
    let beat_count = beat.or(project.season.as_ref().and_then(|s| s.beat_points_count));
    Ok(SeasonResult {
        opening: opening(&ground.rates, 0.5 * ground.rates.travel_s),
        answer: answer(&ground, beat_count, plan),
        ground,
        beat_count,
    })
}

/// The ranking and the points as a picture.
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

/// A gain in points with its sign.
pub fn gain(v: f64) -> String {
    if v >= 0.05 {
        format!("+{}", points(v))
    } else {
        points(if v.abs() < 0.05 { 0.0 } else { v })
    }
}

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
