//! The opening routine: what happens when, and what to cut where it does not fit.

use super::rates::Rates;

/// One step of the routine.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// What the robot does.
    pub what: String,
    /// State for the programmers, one word.
    pub state: &'static str,
    /// When it begins.
    pub start_s: f64,
    /// How long it takes.
    pub time_s: f64,
    /// What ends it.
    pub until: String,
}

/// The routine.
#[derive(Clone, Debug, PartialEq)]
pub struct Opening {
    /// Its steps.
    pub steps: Vec<Step>,
    /// Time left of the opening; negative where it does not fit.
    pub left_s: f64,
    /// Throws that fit.
    pub fits_count: u32,
    /// Points that the throws bring on average.
    pub points_count: f64,
}

/// Lays the routine out: spin up, throw what is on board, drive off; `None` without an opening or a preload.
pub fn opening(rates: &Rates, drive_off_s: f64) -> Option<Opening> {
    if !(rates.opening_s > 0.0) || rates.preload_count == 0 {
        return None;
    }
    let mut steps = vec![Step {
        what: "spin the wheel up".into(),
        state: "SPIN_UP",
        start_s: 0.0,
        time_s: rates.ready_s,
        until: "wheel within the ready band".into(),
    }];
    let mut now_s = rates.ready_s;
    for i in 0..rates.preload_count {
        let time_s = if i + 1 < rates.preload_count {
            rates.interval_s
        } else {
            0.0
        };
        steps.push(Step {
            what: format!("throw piece {}", i + 1),
            state: "THROW",
            start_s: now_s,
            time_s,
            until: "piece gone, wheel back within the ready band".into(),
        });
        now_s += time_s;
    }
    steps.push(Step {
        what: "drive off to the pieces".into(),
        state: "DRIVE_OFF",
        start_s: now_s,
        time_s: drive_off_s,
        until: "distance driven, or the opening is over".into(),
    });
    let left_s = rates.opening_s - now_s - drive_off_s;
    let room_s = rates.opening_s - drive_off_s - rates.ready_s;
    let fits_count = if room_s < 0.0 {
        0
    } else if rates.interval_s > 0.0 {
        // A share of rounding, so that three that just fit are three.
        ((room_s / rates.interval_s + 1e-9).floor() as u32)
            .saturating_add(1)
            .min(rates.preload_count)
    } else {
        rates.preload_count
    };
    let points_count = (0..fits_count)
        .map(|i| rates.hit_frac(i) * rates.opening_points_count)
        .sum();
    Some(Opening {
        steps,
        left_s,
        fits_count,
        points_count,
    })
}
