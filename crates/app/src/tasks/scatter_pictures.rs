//! From scatter and search to pictures: clouds at the opening, error budget, front of two goals, inertia.

use arcwright_model::finding::Finding;
use arcwright_model::project::Project;
use arcwright_model::scatter::{MapPlace, MapPlan, Share as Found, SpotReport};
use arcwright_model::seek::{Goal, Trade};
use arcwright_model::units::Dimension;
use arcwright_paper::drawings::budget::{BudgetCause, BudgetPicture, BudgetSpot, Share};
use arcwright_paper::drawings::front::{FrontPicture, FrontPoint, Goal as Axis};
pub use arcwright_paper::drawings::hit_map::of_hundred;
use arcwright_paper::drawings::hit_map::{HitMap, MapSpot};
use arcwright_paper::drawings::scatter::{HitChance, Opening, ScatterCrossing, ScatterPanel, ScatterPicture};
use arcwright_paper::drawings::trade as trade_view;
use arcwright_paper::drawings::trade::{TradePicture, TradeRow};
use arcwright_paper::drawings::{
    Better, budget as budget_view, front as front_view, hit_map as hit_map_view, scatter as scatter_view,
};
use arcwright_paper::units::Measure;

use super::seek::{Asked, Sought, design_words, inertia_why};

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
                    after_shots: project.throws.shown.is_some(),
                })
            })
            .collect(),
    }
}

/// The clouds at the opening.
pub fn scatter(project: &Project, spots: &[SpotReport]) -> String {
    scatter_view::draw(&scatter_input(project, spots))
}

/// Method: places of a map, unless other is asked for: close enough to see where it ends, a second of two cores.
pub const MAP_PLACES: usize = 320;

/// Places for a map of the hit chance, at most so many.
///
/// # Errors
/// `no-map`.
pub fn map_plan(project: &Project, most_count: usize, seed: u64) -> Result<MapPlan, Finding> {
    MapPlan::around(project, most_count, seed).ok_or_else(|| {
        Finding::new(
            "no-map",
            "spot",
            format!("the spots are too far apart for a map of {most_count} places"),
            "move the spots closer together, or write `arcwright map --places` with a larger number",
        )
    })
}

/// How far the figures of a map may be off at most, either way.
pub fn within_frac(places: &[MapPlace]) -> f64 {
    places
        .iter()
        .filter_map(|p| p.result.as_ref().ok())
        .map(|p| p.hit.half_width_frac())
        .fold(0.0, f64::max)
}

/// The hit chance from every place on the floor.
pub fn hit_map(project: &Project, plan: &MapPlan, places: &[MapPlace]) -> String {
    hit_map_view::draw(&HitMap {
        title: format!("{}: hit chance from every place", project.name),
        units: project.units,
        distances_m: plan.distances_m.clone(),
        offsets_m: plan.offsets_m.clone(),
        hit_frac: places
            .iter()
            .map(|p| p.result.as_ref().ok().map(|h| h.hit.frac))
            .collect(),
        within_frac: within_frac(places),
        opening_m: [
            project.target.width_m,
            project.target.depth_m * project.target.tilt_rad.cos(),
        ],
        spots: project
            .spots
            .iter()
            .map(|s| MapSpot {
                name: s.name.clone(),
                distance_m: s.distance_m,
                offset_m: s.offset_m,
            })
            .collect(),
    })
}

/// What the picture of the error budget shows.
pub fn budget_input(project: &Project, spots: &[SpotReport]) -> BudgetPicture {
    let share = |f: &Found| Share {
        first_frac: f.first.value,
        first_se_frac: f.first.standard_error,
        total_frac: f.total.value,
        total_se_frac: f.total.standard_error,
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

/// The front of two goals.
pub fn front(project: &Project, asked: &Asked, sought: &Sought, goal: Goal) -> String {
    let at = |s: &arcwright_model::seek::Score| goal.of(s).map(|g| [g, s.worst_hit_frac]);
    let (name, measure, better) = match goal {
        Goal::VolleyTime => ("last throw of the volley at", Dimension::Time, Better::Lower),
        Goal::Tolerance => ("wheel speed may be off by", Dimension::Ratio, Better::Higher),
    };
    let tried = &sought.found.tried;
    front_view::draw(&FrontPicture {
        title: format!("{}: hit chance against a second goal", project.name),
        units: project.units,
        x: Axis {
            name: name.to_string(),
            measure: Measure::of(measure),
            better,
        },
        y: Axis {
            name: "hit chance, worst spot".to_string(),
            measure: Measure::of(Dimension::Ratio),
            better: Better::Higher,
        },
        tried: tried
            .iter()
            .filter(|d| d.score.served)
            .filter_map(|d| at(&d.score))
            .collect(),
        front: sought
            .front
            .iter()
            .filter_map(|i| {
                let d = tried.get(*i)?;
                Some(FrontPoint {
                    at: at(&d.score)?,
                    label: design_words(project, &asked.freed, d),
                })
            })
            .collect(),
        present: at(&sought.found.present),
        chosen: sought.front.iter().position(|i| {
            tried
                .get(*i)
                .is_some_and(|d| d.values == sought.found.best.values)
        }),
    })
}

/// What more or less inertia does.
pub fn inertia(project: &Project, trade: &Trade) -> String {
    let column = |f: &dyn Fn(&arcwright_model::seek::TradePoint) -> f64| trade.points.iter().map(f).collect();
    let row = |name: &str, dimension, values, asked, better| TradeRow {
        name: name.to_string(),
        measure: Measure::of(dimension),
        values,
        asked,
        better,
    };
    let or_nan = |v: Option<f64>| v.unwrap_or(f64::NAN);
    let limits = &project.limits;
    trade_view::draw(&TradePicture {
        title: format!("{}: inertia at the wheel", project.name),
        units: project.units,
        knob: "inertia at the wheel".to_string(),
        knob_measure: Measure::of(Dimension::Inertia),
        values: column(&|p| p.inertia_kgm2),
        labels: Vec::new(),
        rows: vec![
            row(
                "ready from standstill",
                Dimension::Time,
                column(&|p| or_nan(p.ready_s)),
                limits.spin_up_s,
                Better::Lower,
            ),
            row(
                "dip at a throw",
                Dimension::Ratio,
                column(&|p| p.dip_frac),
                None,
                Better::Lower,
            ),
            row(
                "back in the ready band",
                Dimension::Time,
                column(&|p| or_nan(p.recovery_s)),
                limits.throw_interval_s,
                Better::Lower,
            ),
            row(
                "last throw of the volley",
                Dimension::Time,
                column(&|p| or_nan(p.volley_s)),
                None,
                Better::Lower,
            ),
            row(
                "scatter along, farthest spot",
                Dimension::Length,
                column(&|p| p.along_sd_m),
                None,
                Better::Lower,
            ),
            row(
                "worst hit chance, all varied twice",
                Dimension::Ratio,
                column(&|p| p.score.hard_hit_frac),
                None,
                Better::Higher,
            ),
        ],
        present: trade
            .present
            .and_then(|i| trade.points.get(i))
            .map(|p| p.inertia_kgm2),
        recommended: trade.recommended,
        why: inertia_why(project, trade),
    })
}
