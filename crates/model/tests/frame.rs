//! The frame and the season answer on projects that make no sense, without a fault.
#![allow(clippy::unwrap_used, clippy::expect_used)]

use arcwright_model::limits::{BaseChoice, BaseFigures, frame_report};
use arcwright_model::project::blank::{Outfit, project as blank};
use arcwright_model::project::{BaseKind, Rest};
use arcwright_model::season::rank::{SeasonPlan, answer};
use arcwright_model::season::rates::Ground;

fn outfit() -> Outfit {
    Outfit {
        spots: 1,
        parts: 1,
        sheet: true,
        knobs: [false; 3],
        feed: false,
        feed_parts: [false; 3],
        plates: 0,
        rest: Rest {
            frame: true,
            motor: true,
            shaft: true,
            power: true,
            wires: 2,
            links: 3,
            parts: 2,
            season: true,
            changes: 2,
        },
    }
}

#[test]
fn a_frame_in_which_nothing_is_written_answers_without_a_fault() {
    let project = blank(&outfit());
    let report = frame_report(&project).unwrap();
    assert!(report.verdicts.iter().all(|v| !v.check.is_empty()));
    assert!(Ground::of(&project, 1).is_err());
    assert!(frame_report(&blank(&Outfit::default())).is_none());
    assert!(Ground::of(&blank(&Outfit::default()), 1).is_err());
}

#[test]
fn absurd_numbers_give_a_value_or_none() {
    let mut project = blank(&outfit());
    project.machine.mass_kg = Some(14.0);
    for absurd in [0.0, -1.0, 1e300, f64::INFINITY, f64::NAN] {
        let frame = project.frame.as_mut().unwrap();
        for value in [
            &mut frame.wheel_m,
            &mut frame.base_m,
            &mut frame.track_m,
            &mut frame.friction_coeff,
            &mut frame.gear_ratio,
            &mut frame.dash_m,
        ] {
            *value = absurd;
        }
        for kind in [BaseKind::Four, BaseKind::Six, BaseKind::Sideways] {
            let choice = BaseChoice { kind, motor_count: 4 };
            let figures = BaseFigures::with(&project, choice).unwrap();
            assert_eq!(figures.dash, None);
            assert_eq!(BaseFigures::drive_s(&project, choice, 1.0, absurd), None);
        }
    }
}

#[test]
fn a_season_without_matches_or_changes_is_empty_and_not_a_fault() {
    let rates = arcwright_model::season::rates::Rates {
        match_s: f64::NAN,
        opening_s: 0.0,
        piece_points_count: 1.0,
        opening_points_count: 1.0,
        preload_count: 0,
        pattern_points_count: 0.0,
        colour_count: 0,
        sorted_frac: 0.0,
        volley_count: 0,
        hits_frac: Vec::new(),
        interval_s: 0.0,
        ready_s: 0.0,
        travel_s: 0.0,
        aim_s: 0.0,
        collect_s: 0.0,
        varies_frac: 0.0,
        jam_frac: 0.0,
        jam_s: 0.0,
        penalty_points_count: 0.0,
        penalty_frac: 0.0,
        end_points_count: 0.0,
        end_s: 0.0,
        end_frac: 0.0,
    };
    let ground = Ground {
        rates,
        spot: String::new(),
        spots: Vec::new(),
        aims: Vec::new(),
    };
    for world_count in [0, 3] {
        let plan = SeasonPlan {
            seed: 1,
            world_count,
            match_count: 2,
        };
        let a = answer(&ground, Some(1.0), &plan, &mut |_| true).unwrap();
        assert_eq!((a.ranked.len(), a.now.mean_count), (0, 0.0));
    }
}
