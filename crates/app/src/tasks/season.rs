//! A season: the ground it is played on, the answer, the opening.

use arcwright_model::finding::Finding;
use arcwright_model::project::Project;
use arcwright_model::season::opening::{Opening, opening};
use arcwright_model::season::rank::{SeasonAnswer, SeasonPlan, answer};
use arcwright_model::season::rates::Ground;
use arcwright_paper::drawings::season as season_view;

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
