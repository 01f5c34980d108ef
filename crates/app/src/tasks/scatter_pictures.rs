//! From scatter to pictures: the clouds at the opening and the error budget.

use arcwright_model::project::Project;
use arcwright_model::scatter::{Share as Found, SpotReport};
use arcwright_paper::drawings::budget::{BudgetCause, BudgetPicture, BudgetSpot, Share};
use arcwright_paper::drawings::scatter::{HitChance, Opening, ScatterCrossing, ScatterPanel, ScatterPicture};
use arcwright_paper::drawings::{budget as budget_view, scatter as scatter_view};

/// What the picture of the clouds shows.
pub fn scatter_input(project: &Project, spots: &[SpotReport]) -> ScatterPicture {
    let t = &project.target;
    ScatterPicture {
        title: format!("{}: where throws cross the opening", project.name),
        units: project.units,
        opening: Opening {
            outline: t.outline,
            width_m: t.width_m,
            depth_m: t.depth_m,
            upright: t.upright(),
            back_wall: t.back_wall_m > 0.0,
        },
        piece_diameter_m: project.piece.diameter_m,
        panels: spots
            .iter()
            .filter_map(|s| {
                let r = s.result.as_ref().ok()?;
                let c = &r.centred;
                Some(ScatterPanel {
                    name: s.spot.clone(),
                    crossings: c
                        .shown
                        .iter()
                        .map(|(along_m, across_m, fate)| ScatterCrossing {
                            along_m: *along_m,
                            across_m: *across_m,
                            fate: *fate,
                        })
                        .collect(),
                    mean_m: [c.along_m.value, c.across_m.value],
                    sd_m: [c.along_sd_m.value, c.across_sd_m.value],
                    correlation_coeff: c.correlation.value,
                    r50_m: c.r50_m.value,
                    r95_m: c.r95_m.value,
                    hit: HitChance {
                        frac: c.hit.frac,
                        low_frac: c.hit.low_frac,
                        high_frac: c.hit.high_frac,
                    },
                    fates: c.shares.iter().map(|(o, f)| (*o, f.value)).collect(),
                    hit_untested_frac: r.untested_hit.map(|h| h.frac),
                })
            })
            .collect(),
    }
}

/// The clouds at the opening.
pub fn scatter(project: &Project, spots: &[SpotReport]) -> String {
    scatter_view::draw(&scatter_input(project, spots))
}

/// What the picture of the error budget shows.
pub fn budget_input(project: &Project, spots: &[SpotReport]) -> BudgetPicture {
    let share = |f: &Found| Share {
        first_frac: f.first.value,
        first_se_frac: f.first.error,
        total_frac: f.total.value,
        total_se_frac: f.total.error,
    };
    BudgetPicture {
        title: format!("{}: what makes throws differ", project.name),
        units: project.units,
        spots: spots
            .iter()
            .filter_map(|s| {
                let r = s.result.as_ref().ok()?;
                Some(BudgetSpot {
                    name: s.spot.clone(),
                    along_sd_m: r.centred.along_sd_m.value,
                    across_sd_m: r.centred.across_sd_m.value,
                    causes: r
                        .budget
                        .as_ref()?
                        .causes
                        .iter()
                        .map(|c| BudgetCause {
                            name: c.cause.words().to_string(),
                            along: share(&c.along),
                            across: share(&c.across),
                        })
                        .collect(),
                })
            })
            .collect(),
    }
}

/// The error budget.
pub fn budget(project: &Project, spots: &[SpotReport]) -> String {
    budget_view::draw(&budget_input(project, spots))
}
