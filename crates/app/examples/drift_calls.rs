//! How often a check between matches calls though nothing changed, beside what it says: hidden machines of the demo.
//!
//! `cargo run --example drift_calls`; takes some minutes.

#![allow(clippy::print_stdout)]

use std::collections::BTreeMap;

use arcwright_model::floor::drift::check_between;
use arcwright_model::floor::rehearse::{Ask, Doubts, HiddenProject, Look};
use arcwright_model::floor::{MachineOptions, Shot, fit};

/// Distances of the demo's spots, and wheel speeds that reach about there, in rad/s.
const SPOTS: [(f64, f64); 3] = [(1.1, 303.7), (2.2, 345.6), (3.6, 408.4)];
const MACHINES: u64 = 150;
const LATER: usize = 6;

fn main() {
    let text = include_str!("../../../examples/lantern/arcwright.toml");
    let Ok(loaded) = arcwright::project::parse("lantern", text) else {
        println!("the demo is broken");
        return;
    };
    let project = loaded.project;
    for (before, clock) in [(12, true), (12, false), (24, false)] {
        let (mut called, mut stated, mut all) = (0, 0.0, 0);
        let mut charts: BTreeMap<String, u32> = BTreeMap::new();
        for seed in 0..MACHINES {
            let doubts = Doubts {
                flyer_frac: 0.0,
                piece_frac: 0.0,
                ..Doubts::default()
            };
            let mut machine = HiddenProject::drawn(&project, 1000 + seed, doubts);
            let look = Look {
                tape: true,
                clock,
                ..Look::default()
            };
            let shots: Vec<Shot> = (0..before + LATER)
                .filter_map(|i| {
                    let (distance_m, setpoint_radps) = SPOTS[i % SPOTS.len()];
                    let ask = Ask {
                        session_index: usize::from(i >= before),
                        distance_m,
                        offset_m: 0.0,
                        turned_rad: 0.0,
                        setting: project.machine.setting,
                        setpoint_radps,
                        piece: None,
                        place: 0,
                        last: false,
                    };
                    machine.throw(&ask, &look).ok()
                })
                .collect();
            let (earlier, later) = shots.split_at(before.min(shots.len()));
            let Ok(fitted) = fit(&project, earlier, &MachineOptions::default()) else {
                continue;
            };
            let seen = fitted.innovations(later);
            let Some(found) = check_between(&seen.innovations, seen.shared_ratio) else {
                continue;
            };
            all += 1;
            called += u32::from(found.changed);
            stated += found.false_alarm_frac;
            for alarm in &found.alarms {
                *charts.entry(format!("{:?}", alarm.chart)).or_default() += 1;
            }
        }
        println!(
            "{before} shots before, with a clock {clock}: {called} of {all} call, {stated:.1} stated; {charts:?}"
        );
    }
}
