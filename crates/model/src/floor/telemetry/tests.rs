//! Logs simulated with the volley of `launcher`, then spoiled the way real logs are.

use super::*;
use crate::launcher::motor::motor_constants;
use crate::launcher::train::WheelTrain;
use crate::launcher::volley::{ThrowResult, Trigger, Volley, VolleyPlan, volley};
use crate::launcher::{Battery, Controller, Drive, MotorSheet};
use crate::numerics::random::Stream;

const BATTERY: Battery = Battery {
    open_v: 12.6,
    resistance_ohm: 0.025,
    brown_out_v: 6.8,
};

fn parts() -> WheelTrain {
    WheelTrain {
        drive: Drive {
            motor: MotorSheet {
                nominal_v: 12.0,
                free_radps: 1_832.6,
                free_a: 1.8,
                stall_nm: 0.42,
                stall_a: 68.0,
                rotor_kgm2: 0.0,
            },
            motor_count: 1,
            gear_ratio: 3.0,
            gear_efficiency_frac: 0.9,
            limit_a: f64::INFINITY,
        },
        inertia_kgm2: 1.2e-3,
        shaft_count: 1,
    }
}

/// Spin-up and six throws, of a train with the inertia times `heavier`.
fn run(period_s: f64, heavier: f64) -> Volley {
    run_at(period_s, heavier, 400.0)
}

fn run_at(period_s: f64, heavier: f64, setpoint_radps: f64) -> Volley {
    let mut train = parts();
    train.inertia_kgm2 *= heavier;
    run_of(&train, period_s, setpoint_radps)
}

fn run_of(train: &WheelTrain, period_s: f64, setpoint_radps: f64) -> Volley {
    let controller = Controller {
        period_s,
        delay_s: 0.0,
        average_count: 1,
        feed_forward_ratio: 1.0,
        kp_vs: 0.02,
        ki_v: 0.0,
        brakes: false,
        ready_frac: 0.01,
    };
    let plan = VolleyPlan {
        setpoint_radps,
        start_radps: 0.0,
        throw_count: 6,
        interval_s: 1.0,
        trigger: Trigger::Interval,
        earliest_s: 4.0,
        patience_s: 8.0,
        other_current_a: 0.0,
        counts_per_turn: 0,
        with_samples: true,
    };
    volley(train, &BATTERY, &controller, &plan, |r| ThrowResult {
        wheel_after_radps: r.wheel_radps * 0.92,
        duration_s: 0.03,
    })
}

/// Rows of the run at the loop's own period; samples between ticks (ends of contacts) go.
fn log_of(run: &Volley, period_s: f64, noise_radps: f64, step_radps: f64, seed: u64) -> Log {
    let mut random = Stream::new(seed, 1);
    let mut log = Log {
        setpoint_radps: Some(Vec::new()),
        battery_v: Some(Vec::new()),
        duty_frac: Some(Vec::new()),
        battery_a: Some(Vec::new()),
        ..Log::default()
    };
    for s in &run.samples {
        let ticks = s.time_s / period_s;
        if (ticks - ticks.round()).abs() > 1e-6 {
            continue;
        }
        let noisy = s.wheel_radps + noise_radps * random.normal();
        let shown = if step_radps > 0.0 {
            (noisy / step_radps).round() * step_radps
        } else {
            noisy
        };
        log.time_s.push(s.time_s);
        log.wheel_radps.push(shown);
        for (column, value) in [
            (&mut log.setpoint_radps, 400.0),
            (&mut log.battery_v, s.battery_v),
            (&mut log.duty_frac, s.duty_frac),
            (&mut log.battery_a, s.battery_a),
        ] {
            column.as_mut().unwrap().push(value);
        }
    }
    log
}

/// Two volleys at two speeds, the second some seconds later.
fn two_speeds(period_s: f64, heavier: f64, noise_radps: f64, step_radps: f64, seed: u64) -> Log {
    let log = log_of(
        &run_at(period_s, heavier, 250.0),
        period_s,
        noise_radps,
        step_radps,
        seed,
    );
    let later = log_of(
        &run_at(period_s, heavier, 480.0),
        period_s,
        noise_radps,
        step_radps,
        seed + 99,
    );
    joined(log, later)
}

/// One log behind the other, some seconds later.
fn joined(mut log: Log, later: Log) -> Log {
    log.time_s.extend(later.time_s.iter().map(|t| t + 20.0));
    log.wheel_radps.extend(later.wheel_radps);
    log.setpoint_radps = None;
    for (to, from) in [
        (&mut log.battery_v, later.battery_v),
        (&mut log.duty_frac, later.duty_frac),
        (&mut log.battery_a, later.battery_a),
    ] {
        to.as_mut().unwrap().extend(from.unwrap());
    }
    log
}

fn found(log: &Log) -> (Repaired, Dips) {
    let repaired = repair(log).unwrap();
    let dips = find_dips(&repaired, 0.01);
    (repaired, dips)
}

#[test]
fn every_throw_is_found_at_its_time_and_speed_at_every_rate_noise_and_step() {
    for (period_s, noise, step) in [
        (0.005, 0.0, 0.0),
        (0.005, 1.5, 0.0),
        (0.01, 1.0, 0.0),
        (0.02, 0.0, 0.0),
        (0.02, 1.0, 0.0),
        (0.02, 0.3, 2.0),
        (0.05, 1.0, 1.0),
    ] {
        let run = run(period_s, 1.0);
        assert_eq!(run.throws.len(), 6);
        let (_, dips) = found(&log_of(&run, period_s, noise, step, 7));
        assert_eq!(dips.dips.len(), 6, "{period_s} {noise} {step}: {:?}", dips.dips);
        for (dip, truth) in dips.dips.iter().zip(&run.throws) {
            let off = dip.time_s - truth.time_s;
            assert!(
                off.abs() <= 1.6 * period_s + 0.005,
                "{period_s}: at {} for {}",
                dip.time_s,
                truth.time_s
            );
            let before = (dip.before_radps - truth.before_radps).abs();
            assert!(
                before <= 4.0 * dip.before_sd_radps.max(0.1) + 0.4,
                "{period_s} {noise} {step}: before {} for {}",
                dip.before_radps,
                truth.before_radps
            );
            let after = (dip.after_radps - truth.after_radps).abs();
            assert!(
                after <= 4.0 * dip.after_sd_radps + 1.0,
                "{period_s} {noise} {step}: after {} ± {} for {}",
                dip.after_radps,
                dip.after_sd_radps,
                truth.after_radps
            );
            assert!((dip.battery_v.unwrap() - 12.4).abs() < 0.4);
            assert!(dip.lowest_v.unwrap() < dip.battery_v.unwrap());
        }
    }
}

#[test]
fn recovery_is_the_time_from_the_end_of_the_contact_to_the_band() {
    let run = run(0.01, 1.0);
    let (_, dips) = found(&log_of(&run, 0.01, 0.0, 0.0, 1));
    for (dip, truth) in dips.dips.iter().zip(&run.throws) {
        let (got, want) = (dip.recovery_s.unwrap(), truth.recovery_s.unwrap());
        assert!((got - want).abs() < 0.025, "{got} {want}");
    }
}

#[test]
fn nothing_is_found_in_noise_in_a_spin_up_or_in_a_wheel_that_is_switched_off() {
    for seed in 0..120 {
        let mut random = Stream::new(seed, 3);
        let (noise, step) = ([0.5, 3.0, 8.0][seed as usize % 3], [0.0, 2.0][seed as usize % 2]);
        let mut log = Log::default();
        for i in 0..1000 {
            let t = 0.02 * f64::from(i);
            let level = match i {
                0..200 => 400.0 * (1.0 - (-t / 0.6).exp()),
                200..800 => 400.0,
                // Braked hard, then off.
                _ => 400.0 * (-(t - 16.0) / 0.4).exp(),
            };
            let noisy: f64 = level + noise * random.normal();
            log.time_s.push(t);
            log.wheel_radps.push(if step > 0.0 {
                (noisy / step).round() * step
            } else {
                noisy
            });
        }
        let (_, dips) = found(&log);
        assert_eq!(dips.dips, [], "seed {seed}");
        assert!(step > 0.0 || (dips.noise_radps / noise - 1.0).abs() < 0.25);
    }
}

#[test]
fn a_single_wild_row_is_no_throw() {
    let run = run(0.02, 1.0);
    let mut log = log_of(&run, 0.02, 0.5, 0.0, 2);
    let still = log.time_s.iter().position(|t| *t > 3.0).unwrap();
    log.wheel_radps[still] = 12.0;
    assert_eq!(found(&log).1.dips.len(), 6);
}

#[test]
fn a_counter_that_runs_over_is_counted_on_and_the_same_throws_are_found() {
    let run = run(0.02, 1.0);
    let log = log_of(&run, 0.02, 0.5, 0.0, 3);
    let want = found(&log).1;
    for (period_s, offset_s, counter) in [
        (65.536, 62.0, "16-bit millisecond"),
        (4_294.967_296, 4_290.0, "32-bit microsecond"),
        (4_294_967.296, 4_294_960.0, "32-bit millisecond"),
        (0.065_536, 0.01, "16-bit microsecond"),
    ] {
        let mut wrapped = log.clone();
        wrapped
            .time_s
            .iter_mut()
            .for_each(|t| *t = (*t + offset_s) % period_s);
        let (repaired, dips) = found(&wrapped);
        assert!(
            repaired
                .repairs
                .iter()
                .any(|r| matches!(r, Repair::RanOver { counter: c, .. } if *c == counter)),
            "{counter}: {:?}",
            repaired.repairs
        );
        assert_eq!(dips.dips.len(), want.dips.len(), "{counter}");
        for (a, b) in dips.dips.iter().zip(&want.dips) {
            assert!(
                (a.time_s - offset_s - b.time_s).abs() < 1e-6 * (1.0 + offset_s),
                "{counter}"
            );
        }
    }
}

#[test]
fn late_and_double_rows_and_rows_without_numbers_are_mended_and_said() {
    let run = run(0.02, 1.0);
    let log = log_of(&run, 0.02, 0.5, 0.0, 4);
    let want = found(&log).1;
    let mut spoiled = log.clone();
    for at in [40, 150, 260] {
        spoiled = spoiled.mapped(|c| {
            let mut c = c.to_vec();
            c.swap(at, at + 1);
            c.insert(at + 5, c[at + 5]);
            c
        });
    }
    spoiled.wheel_radps[100] = f64::NAN;
    let (repaired, dips) = found(&spoiled);
    assert!(
        repaired.repairs.contains(&Repair::PutInOrder { rows: 3 }),
        "{:?}",
        repaired.repairs
    );
    assert!(repaired.repairs.contains(&Repair::SameTime { rows: 3 }));
    assert!(repaired.repairs.contains(&Repair::NoNumber { rows: 1 }));
    assert_eq!(dips.dips.len(), want.dips.len());
    assert!(repaired.log.time_s.windows(2).all(|w| w[1] > w[0]));
}

#[test]
fn a_gap_over_one_throw_loses_that_throw_only() {
    let run = run(0.02, 1.0);
    let log = log_of(&run, 0.02, 0.5, 0.0, 5);
    let second = run.throws[1].time_s;
    let kept: Vec<usize> = (0..log.time_s.len())
        .filter(|i| (log.time_s[*i] - second).abs() > 0.3)
        .collect();
    let log = log.mapped(|c| kept.iter().map(|i| c[*i]).collect());
    let (repaired, dips) = found(&log);
    assert!(
        repaired
            .repairs
            .iter()
            .any(|r| matches!(r, Repair::Gaps { count: 1, .. }))
    );
    assert_eq!(dips.dips.len(), 5);
    assert!(dips.dips.iter().all(|d| (d.time_s - second).abs() > 0.3));
}

#[test]
fn logs_that_cannot_be_read_are_refused_with_the_reason() {
    let rows = 200;
    let good = Log {
        time_s: (0..rows).map(|i| 0.02 * f64::from(i)).collect(),
        wheel_radps: vec![300.0; 200],
        ..Log::default()
    };
    let code = |log: &Log| repair(log).unwrap_err().code;
    assert!(repair(&good).is_ok());
    let with_time = |f: &dyn Fn(usize, f64) -> f64| Log {
        time_s: good.time_s.iter().enumerate().map(|(i, t)| f(i, *t)).collect(),
        ..good.clone()
    };
    assert_eq!(code(&with_time(&|_, t| -t)), "log-still");
    assert_eq!(code(&with_time(&|_, _| 3.0)), "log-still");
    assert_eq!(
        code(&with_time(&|i, t| if i < 120 { t } else { t - 2.4 })),
        "log-goes-back"
    );
    assert_eq!(
        code(&with_time(&|i, t| if i % 2 == 0 { t } else { t - 0.05 })),
        "log-out-of-order"
    );
    assert_eq!(code(&with_time(&|_, _| f64::NAN)), "log-short");
    assert_eq!(
        code(&Log {
            wheel_radps: vec![1.0; 5],
            ..good.clone()
        }),
        "log-lengths"
    );
    assert_eq!(code(&Log::default()), "log-short");
    let still = repair(&good).unwrap();
    let e = learn_train(&still, &find_dips(&still, 0.01), None, 0.0).unwrap_err();
    assert_eq!(e.code, "log-no-voltage");
}

#[test]
fn no_number_in_a_log_panics_or_hangs() {
    let odd = [
        f64::NAN,
        f64::INFINITY,
        f64::NEG_INFINITY,
        0.0,
        -1e300,
        1e300,
        1e-300,
        5.0,
    ];
    let mut random = Stream::new(11, 1);
    for _ in 0..300 {
        let mut draw = |n: usize| -> Vec<f64> {
            (0..n)
                .map(|i| {
                    let k = random.next_u64();
                    if k.is_multiple_of(4) {
                        odd[(k / 4 % 8) as usize]
                    } else {
                        i as f64 + random.normal()
                    }
                })
                .collect()
        };
        let log = Log {
            time_s: (0..60).map(f64::from).collect(),
            wheel_radps: draw(60),
            battery_v: Some(draw(60)),
            duty_frac: Some(draw(60)),
            battery_a: Some(draw(60)),
            ..Log::default()
        };
        for log in [
            log.clone(),
            Log {
                time_s: draw(60),
                ..log
            },
        ] {
            if let Ok(repaired) = repair(&log) {
                let dips = find_dips(&repaired, 0.01);
                let _ = learn_train(&repaired, &dips, Some(&parts()), 0.0);
            }
        }
    }
}

#[test]
fn the_wheel_train_is_learned_within_its_intervals_whatever_is_logged() {
    let sheet = parts();
    let m = motor_constants(&sheet.drive.motor);
    let (mut inside, mut all) = (0, 0);
    for (seed, (period_s, noise, step)) in [
        (0.005, 0.0, 0.0),
        (0.01, 0.5, 0.0),
        (0.02, 0.5, 0.0),
        (0.02, 1.5, 0.0),
        (0.02, 0.3, 2.0),
        (0.05, 0.5, 0.0),
    ]
    .into_iter()
    .enumerate()
    {
        let with_current = two_speeds(period_s, 1.18, noise, step, seed as u64);
        let without = Log {
            battery_a: None,
            ..with_current.clone()
        };
        for log in [with_current, without] {
            let (repaired, dips) = found(&log);
            let learned = learn_train(&repaired, &dips, Some(&sheet), 0.0).unwrap();
            let mut check = |name: &str, got: Estimate, truth: f64| {
                all += 1;
                let within = got.low <= truth && truth <= got.high;
                inside += usize::from(within);
                if !within {
                    eprintln!("{period_s} {noise} {step} {name}: {got:?} for {truth}");
                }
                assert!(
                    (got.value / truth - 1.0).abs() < 0.12,
                    "{period_s} {noise} {step} {name}: {got:?} for {truth}"
                );
            };
            check(
                "inertia",
                learned.inertia_kgm2.unwrap(),
                1.18 * sheet.inertia_kgm2,
            );
            check(
                "Kv",
                learned.speed_v_per_radps,
                m.ke_v_per_radps * sheet.drive.gear_ratio,
            );
            check("friction", learned.free_a.unwrap(), m.free_a);
            if log.battery_a.is_some() {
                check("R", learned.resistance_ohm.unwrap(), m.resistance_ohm);
                check("R_b", learned.battery_ohm.unwrap(), BATTERY.resistance_ohm);
                check("V_oc", learned.open_v.unwrap(), BATTERY.open_v);
                assert!(learned.inertia_from_current);
            }
            let like = likenesses(&learned, &sheet, &BATTERY);
            let inertia = like.iter().find(|l| l.name == "inertia").unwrap();
            assert!(
                inertia.established && inertia.words.contains("more inertia than the parts list"),
                "{}",
                inertia.words
            );
        }
    }
    // 95 % of these, less what chance takes from 54.
    assert!(inside * 100 >= 88 * all, "{inside} of {all}");
}

#[test]
fn a_train_as_listed_shows_no_established_difference_in_inertia() {
    let sheet = parts();
    let (repaired, dips) = found(&two_speeds(0.02, 1.0, 0.5, 0.0, 9));
    let learned = learn_train(&repaired, &dips, Some(&sheet), 0.0).unwrap();
    let like = likenesses(&learned, &sheet, &BATTERY);
    let inertia = like.iter().find(|l| l.name == "inertia").unwrap();
    assert!(!inertia.established, "{}", inertia.words);
    assert!(inertia.words.contains("agrees"));
}

#[test]
fn eight_per_cent_more_inertia_is_established_and_a_current_limit_that_bends_the_method_is_not() {
    let sheet = parts();
    let of = |learned: &TrainLearned, sheet: &WheelTrain, name: &str| {
        let all = likenesses(learned, sheet, &BATTERY);
        all.into_iter().find(|l| l.name == name).unwrap()
    };
    let (repaired, dips) = found(&two_speeds(0.01, 1.08, 0.5, 0.0, 4));
    let learned = learn_train(&repaired, &dips, Some(&sheet), 0.0).unwrap();
    assert_eq!(learned.held_count, 0);
    let inertia = of(&learned, &sheet, "inertia");
    assert!(inertia.established, "{}", inertia.words);
    assert!(!of(&learned, &sheet, "speed-constant").established);
    // As listed, but the controller holds the current: the spin-up is bent, and nothing of it is established.
    let mut held = parts();
    held.drive.limit_a = 30.0;
    for (period_s, seed) in [(0.005, 1), (0.02, 2), (0.05, 3)] {
        let mut log: Option<Log> = None;
        for setpoint_radps in [250.0, 450.0] {
            let one = log_of(&run_of(&held, period_s, setpoint_radps), period_s, 0.5, 0.0, seed);
            log = Some(match log {
                None => one,
                Some(first) => joined(first, one),
            });
        }
        let (repaired, dips) = found(&log.unwrap());
        let learned = learn_train(&repaired, &dips, Some(&held), 0.0).unwrap();
        assert!(learned.held_count > 0, "{period_s}");
        for l in likenesses(&learned, &held, &BATTERY) {
            assert!(!l.established, "{period_s}: {}", l.words);
        }
    }
}

/// Rates, noise and steps of logs as robots write them.
const KINDS: [(f64, f64, f64); 6] = [
    (0.005, 0.0, 0.0),
    (0.01, 0.5, 0.0),
    (0.02, 0.5, 0.0),
    (0.02, 1.5, 0.0),
    (0.02, 0.3, 2.0),
    (0.05, 0.5, 0.0),
];

#[test]
fn two_logs_of_one_machine_show_no_change_and_a_heavier_wheel_shows() {
    let sheet = parts();
    let (mut looked_at, mut called) = (0, 0);
    for (seed, (period_s, noise, step)) in KINDS.into_iter().enumerate() {
        let log = |heavier: f64, seed: usize, current: bool| {
            let mut log = two_speeds(period_s, heavier, noise, step, seed as u64);
            if !current {
                log.battery_a = None;
            }
            let (repaired, dips) = found(&log);
            let train = learn_train(&repaired, &dips, Some(&sheet), 0.0).unwrap();
            (dips, train)
        };
        for current in [true, false] {
            let (a, b, c) = (
                log(1.0, seed, current),
                log(1.0, seed + 1000, current),
                log(1.18, seed + 2000, current),
            );
            let same = between((&a.0, Some(&a.1)), (&b.0, Some(&b.1)));
            looked_at += same.len();
            called += same.iter().filter(|s| s.changed).count();
            let heavier = between((&a.0, Some(&a.1)), (&c.0, Some(&c.1)));
            let inertia = heavier.iter().find(|s| s.name == "inertia").unwrap();
            assert!(
                inertia.changed && (1.08..1.3).contains(&inertia.ratio.value),
                "{period_s} {noise} {step} {current}: {inertia:?}"
            );
        }
    }
    assert!(looked_at >= 80, "{looked_at}");
    // One false alarm in twenty pairs of logs is what is said; there are twelve.
    assert!(called <= 1, "{called} of {looked_at}");
}

const DIP: Dip = Dip {
    time_s: 0.0,
    before_radps: 400.0,
    before_sd_radps: 1.0,
    after_radps: 370.0,
    after_sd_radps: 1.0,
    dip_frac: 0.08,
    recovery_s: None,
    battery_v: None,
    lowest_v: None,
};

#[test]
fn dips_pair_with_shots_by_time_across_a_shift_of_the_clocks_and_strangers_stay_alone() {
    let dip = |time_s: f64| Dip { time_s, ..DIP };
    let dips = [dip(4.0), dip(5.1), dip(6.0), dip(7.3)];
    // The second shot jammed; one shot was logged after the robot stopped logging. Clock 1000 s ahead.
    let at = |times: &[f64]| -> Vec<LoggedAt> {
        let any = f64::NAN;
        times
            .iter()
            .map(|t| LoggedAt {
                time_s: *t,
                setpoint_radps: any,
            })
            .collect()
    };
    let within = |tolerance_s: f64| Pairing {
        tolerance_s,
        shift_s: None,
    };
    let shots = at(&[1004.02, 1006.05, 1007.31, 1020.0]);
    let m = match_shots(&dips, &shots, &within(0.2));
    assert_eq!(m.pairs, [[0, 0], [2, 1], [3, 2]]);
    assert_eq!((m.dips_alone, m.shots_alone), (vec![1], vec![3]));
    assert!((m.shift_s + 1000.0).abs() < 0.1);
    let m = match_shots(&dips, &at(&[1.0, 50.0, f64::NAN]), &within(f64::INFINITY));
    assert_eq!(m.pairs, [[0, 0], [1, 1], [2, 2]]);
    assert_eq!(match_shots(&[], &at(&[1.0]), &within(0.2)).shots_alone, [0]);
    assert_eq!(match_shots(&dips, &[], &within(f64::NAN)).dips_alone.len(), 4);
}

#[test]
fn people_who_log_late_and_a_wheel_at_another_speed_do_not_mix_up_the_pairs() {
    let dip = |time_s: f64, before_radps: f64| Dip {
        time_s,
        before_radps,
        ..DIP
    };
    let dips = [
        dip(3.0, 300.0),
        dip(33.0, 340.0),
        dip(61.0, 300.0),
        dip(95.0, 340.0),
    ];
    // Typed 4 to 13 s after the throw, on a clock of its own; the third throw was not logged.
    let logged = |time_s: f64, setpoint_radps: f64| LoggedAt {
        time_s,
        setpoint_radps,
    };
    let shots = [
        logged(5007.0, 303.0),
        logged(5046.0, 343.0),
        logged(5103.0, 343.0),
    ];
    let m = match_shots(
        &dips,
        &shots,
        &Pairing {
            tolerance_s: 15.0,
            shift_s: None,
        },
    );
    assert_eq!(m.pairs, [[0, 0], [1, 1], [3, 2]], "{m:?}");
    assert_eq!(m.rival_shift_s, None);
    // A clock that is known is not looked for, even where it pairs fewer.
    let told = Pairing {
        tolerance_s: 15.0,
        shift_s: Some(-4970.0),
    };
    let m = match_shots(&dips, &shots, &told);
    assert_eq!((m.shift_s, m.pairs), (-4970.0, vec![]));
    // Two throws among four alike at equal times: nothing says which.
    let alike = [
        dip(0.0, 300.0),
        dip(30.0, 300.0),
        dip(60.0, 300.0),
        dip(90.0, 300.0),
    ];
    let two = [logged(1000.0, 300.0), logged(1030.0, 300.0)];
    let m = match_shots(
        &alike,
        &two,
        &Pairing {
            tolerance_s: 15.0,
            shift_s: None,
        },
    );
    assert_eq!(m.pairs.len(), 2);
    assert!(m.rival_shift_s.is_some(), "{m:?}");
}
