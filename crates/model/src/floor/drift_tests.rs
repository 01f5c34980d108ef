use super::explain::marginal;
use super::*;
use crate::numerics::random::Stream;

/// Spots at 2 to 5 m. A throw that is faster by 1 % goes farther by 2 % of 1.2 times the way; a higher angle makes near
/// shots longer and far ones shorter. Shots of one volley follow each other.
fn shots(count: usize, seed: u64, change: impl Fn(usize, &mut Channel, &mut Channel)) -> Vec<Innovation> {
    let mut random = Stream::new(seed, 1);
    let throw = |i: usize| {
        let distance = 2.0 + (i % 4) as f64;
        let mut along = Channel {
            value: 0.15 * random.normal(),
            sd: 0.15,
            by_speed_coeff: 2.4 * distance,
            by_angle_coeff: 12.0 - 4.0 * distance,
            by_heading_coeff: 0.0,
        };
        let mut across = Channel {
            value: 0.05 * random.normal(),
            sd: 0.05,
            by_speed_coeff: 0.0,
            by_angle_coeff: 0.0,
            by_heading_coeff: distance,
        };
        change(i, &mut along, &mut across);
        Innovation {
            along: Some(along),
            across: Some(across),
            place: (i % 5) as u32,
            ..Innovation::default()
        }
    };
    (0..count).map(throw).collect()
}

fn likeliest(seen: &[Innovation]) -> Explanation {
    let got = check(seen, CHECK).unwrap();
    assert!(got.changed, "{got:?}");
    got.ranked[0]
}

#[test]
fn each_change_is_named_by_its_own_signature() {
    let speed = likeliest(&shots(10, 1, |_, along, _| {
        along.value -= 0.04 * along.by_speed_coeff
    }));
    assert!(
        speed.change == Change::Speed && (speed.value + 0.04).abs() < 3.0 * speed.sd,
        "{speed:?}"
    );
    let angle = likeliest(&shots(10, 2, |_, along, _| {
        along.value += 0.06 * along.by_angle_coeff
    }));
    assert!(
        angle.change == Change::Angle && (angle.value - 0.06).abs() < 3.0 * angle.sd,
        "{angle:?}"
    );
    let heading = likeliest(&shots(10, 3, |_, _, across| {
        across.value += 0.03 * across.by_heading_coeff
    }));
    assert!(
        heading.change == Change::Heading && (heading.value - 0.03).abs() < 3.0 * heading.sd,
        "{heading:?}"
    );
    let late = likeliest(&shots(10, 4, |i, along, _| {
        along.value -= 0.08 * (i % 5) as f64 / 4.0 * along.by_speed_coeff;
    }));
    assert!(
        late.change == Change::LaterThrows && (late.value + 0.08).abs() < 3.0 * late.sd,
        "{late:?}"
    );
    let spread = likeliest(&shots(10, 5, |_, along, across| {
        along.value *= 2.6;
        across.value *= 2.6;
    }));
    assert!(
        spread.change == Change::Spread && spread.value > 1.5,
        "{spread:?}"
    );
}

#[test]
fn a_speed_that_follows_the_battery_is_told_from_one_that_does_not() {
    let mut seen = shots(10, 6, |_, _, _| {});
    for (i, s) in seen.iter_mut().enumerate() {
        let step = -2.0 + 0.4 * ((i * 7) % 10) as f64;
        s.voltage_step_v = Some(step);
        if let Some(along) = &mut s.along {
            along.value += 0.05 * step * along.by_speed_coeff;
        }
    }
    let got = check(&seen, CHECK).unwrap();
    assert_eq!(got.ranked[0].change, Change::Voltage, "{:?}", got.ranked);
    assert_eq!(got.ranked[0].change.suspects(), ["battery"]);
    seen.iter_mut().for_each(|s| s.voltage_step_v = None);
    assert!(
        check(&seen, CHECK)
            .unwrap()
            .ranked
            .iter()
            .all(|e| e.change != Change::Voltage)
    );
}

#[test]
fn false_alarms_come_as_often_as_stated() {
    let runs = 1500;
    let calls = (0..runs)
        .filter(|i| check_quickly(&shots(10, 100 + i, |_, _, _| {})))
        .count();
    let share = calls as f64 / runs as f64;
    let stated = check(&shots(10, 1, |_, _, _| {}), CHECK)
        .unwrap()
        .false_alarm_frac;
    // Charts go together a little and values are cut, so fewer alarms than stated, never clearly more.
    assert!(share < stated + 0.02 && share > 0.5 * stated, "{share} {stated}");
}

/// The charts alone, without the slower ranking.
fn check_quickly(seen: &[Innovation]) -> bool {
    let charts = series(seen);
    let (mut squares, mut freedom) = (0.0, 0.0);
    for (chart, _, z) in &charts {
        if cusum(z, 0.5, 4.0).first_alarm.is_some() {
            return true;
        }
        if *chart != Chart::Angle {
            let cut: Vec<f64> = z.iter().map(|z| cut(*z)).collect();
            squares += moments(&cut).unwrap().sd.powi(2) * (z.len() - 1) as f64;
            freedom += (z.len() - 1) as f64;
        }
    }
    squares > chi_square_quantile(freedom, 0.99)
}

#[test]
fn what_is_said_to_be_findable_is_found_four_times_out_of_five() {
    let (runs, count) = (2000, 5);
    let shift = findable_shift_ratio(CHECK, count);
    let mut random = Stream::new(77, 0);
    let found = (0..runs)
        .filter(|_| {
            let z: Vec<f64> = (0..count).map(|_| shift + random.normal()).collect();
            cusum(&z, 0.5, 4.0).first_alarm.is_some()
        })
        .count();
    let share = found as f64 / f64::from(runs);
    // Values are cut at 3, which hides a little of a shift this large.
    assert!((share - 0.8).abs() < 0.04, "{share} at {shift}");
    assert!(findable_shift_ratio(CHECK, 10) < 0.8 * shift);
}

#[test]
fn five_quiet_shots_say_what_they_could_have_shown() {
    let got = check(&shots(5, 10, |_, _, _| {}), CHECK).unwrap();
    assert!(!got.changed && got.shots == 5);
    let speed = got.findable.speed_frac.unwrap();
    assert!((0.01..0.05).contains(&speed), "{speed}");
    assert!(got.findable.heading_rad.unwrap() > 0.0 && got.findable.angle_rad.unwrap() > 0.0);
}

#[test]
fn doubt_that_all_shots_share_makes_false_alarms_more_frequent_and_the_statement_says_so() {
    let seen = shots(10, 1, |_, _, _| {});
    let stated = |shared_ratio| {
        let watch = Watch {
            shared_ratio,
            ..CHECK
        };
        check(&seen, watch).unwrap().false_alarm_frac
    };
    assert!(stated(0.4) > 1.5 * stated(0.0), "{} {}", stated(0.4), stated(0.0));
    assert!(
        check(
            &seen,
            Watch {
                shared_ratio: 1.0,
                ..CHECK
            }
        )
        .is_none()
    );
}

#[test]
fn release_speeds_alone_are_enough() {
    let mut random = Stream::new(9, 9);
    let seen: Vec<Innovation> = (0..6)
        .map(|_| Innovation {
            ln_speed: Some(Channel {
                value: -0.02 + 0.008 * random.normal(),
                sd: 0.008,
                by_speed_coeff: 1.0,
                by_angle_coeff: 0.0,
                by_heading_coeff: 0.0,
            }),
            ..Innovation::default()
        })
        .collect();
    let got = check(&seen, CHECK).unwrap();
    assert!(got.changed && got.ranked[0].change == Change::Speed);
    let alarm = got.alarms[0];
    assert!(alarm.chart == Chart::Speed && !alarm.up && alarm.at.is_some());
    assert!(got.findable.heading_rad.is_none());
}

/// Without flyers the evidence for a normal shift is known in closed form: with S = Σ b² and T = Σ b z it is
/// −½ ln(1 + c² S) + ½ T² c²/(1 + c² S).
#[test]
fn the_evidence_is_the_closed_one_where_nothing_looks_like_a_flyer() {
    let z = [0.4, -0.2, 0.9, 0.1, 0.6];
    for b in [3.0, 30.0, 3000.0] {
        let fit = |x: f64| -> f64 { z.iter().map(|z| -0.5 * (z - b * x).powi(2)).sum() };
        let (s, t) = (5.0 * b * b, b * z.iter().sum::<f64>());
        let got = marginal(Change::Speed, 0.03, [-0.18, 0.18], 1.0 / s.sqrt(), fit).unwrap();
        let c2 = 0.03 * 0.03;
        let expected = -0.5 * (1.0 + c2 * s).ln() + 0.5 * t * t * c2 / (1.0 + c2 * s);
        assert!(
            (got.evidence_ratio - expected).abs() < 1e-6,
            "{b}: {got:?} {expected}"
        );
        assert!((got.value / (t * c2 / (1.0 + c2 * s)) - 1.0).abs() < 1e-6);
        assert!((got.sd / (c2 / (1.0 + c2 * s)).sqrt() - 1.0).abs() < 1e-3);
    }
}

#[test]
fn one_flyer_changes_neither_the_verdict_nor_the_ranking() {
    let quiet = shots(10, 12, |_, _, _| {});
    let flyer = shots(10, 12, |i, along, _| {
        if i == 4 {
            along.value += 3.0;
        }
    });
    assert!(!check(&quiet, CHECK).unwrap().changed);
    let got = check(&flyer, CHECK).unwrap();
    assert!(!got.changed, "{got:?}");
    let speed = got.ranked.iter().find(|e| e.change == Change::Speed).unwrap();
    assert!(
        speed.evidence_ratio < 1.0 && speed.value.abs() < 0.02,
        "{speed:?}"
    );
}

#[test]
fn a_watch_over_misses_alone_is_slower_by_a_factor_that_is_stated() {
    let got = watch_misses(&[true; 6], 0.10, 0.25, 3.0).unwrap();
    assert_eq!(got.alarm_at, Some(3));
    assert!((got.false_alarm_every_count - 459.8).abs() < 0.1 && (got.found_after_count - 29.1).abs() < 0.1);
    // A shift of 0.96 standard deviations; the table of the charts has 10.4 at a shift of 1 with as many false alarms.
    assert!((10.0..12.0).contains(&got.measured_found_after_count), "{got:?}");
    assert!((2.4..3.0).contains(&got.slower_ratio));
    assert!(
        watch_misses(&[true], 0.25, 0.10, 3.0).is_none() && watch_misses(&[], f64::NAN, 0.5, 3.0).is_none()
    );
}

#[test]
fn innovations_without_a_usable_number_are_refused() {
    assert!(check(&[], CHECK).is_none());
    let mut bad = shots(3, 1, |_, along, across| {
        along.sd = 0.0;
        across.value = f64::NAN;
    });
    assert!(check(&bad, CHECK).is_none());
    bad.extend(shots(1, 1, |_, _, _| {}));
    assert_eq!(check(&bad, CHECK).unwrap().shots, 1);
    let nan = Watch {
        limit_ratio: f64::NAN,
        ..CHECK
    };
    assert!(check(&shots(5, 1, |_, _, _| {}), nan).is_none());
    let huge = shots(5, 1, |_, along, _| along.value = 1e200);
    assert!(check(&huge, CHECK).unwrap().changed);
}

#[test]
fn a_wheel_that_no_longer_keeps_its_command_is_told_from_one_that_throws_slower() {
    let with_wheel = |slower: f64, seed: u64| -> Vec<Innovation> {
        let mut random = Stream::new(seed, 2);
        let wheel = |random: &mut Stream| Channel {
            value: 0.004 * random.normal() - slower,
            sd: 0.004,
            by_speed_coeff: 0.0,
            by_angle_coeff: 0.0,
            by_heading_coeff: 0.0,
        };
        let seen = shots(6, seed, |_, _, _| {});
        let each = seen.into_iter().map(|s| Innovation {
            wheel: Some(wheel(&mut random)),
            ..s
        });
        each.collect()
    };
    let slow = likeliest(&with_wheel(0.02, 11));
    assert!(
        slow.change == Change::WheelSpeed && (slow.value + 0.02).abs() < 3.0 * slow.sd,
        "{slow:?}"
    );
    let quiet = check(&with_wheel(0.0, 11), CHECK).unwrap();
    assert!(!quiet.changed && quiet.charts.iter().any(|c| c.chart == Chart::Wheel));
}

#[test]
fn a_doubt_that_all_shots_share_raises_the_limit_and_what_can_be_found() {
    let seen = shots(6, 21, |_, _, _| {});
    let own = check_between(&seen, 0.0).unwrap();
    let shared = check_between(&seen, 0.7).unwrap();
    assert_eq!(own.watch.limit_ratio, CHECK.limit_ratio);
    assert!(
        shared.watch.limit_ratio > own.watch.limit_ratio,
        "{:?}",
        shared.watch
    );
    assert!(own.false_alarm_frac <= 0.125 && shared.false_alarm_frac <= 0.125);
    assert!(shared.findable.speed_frac.unwrap() > own.findable.speed_frac.unwrap());
    // Many shots raise it as well.
    let many = check_between(&shots(40, 22, |_, _, _| {}), 0.0).unwrap();
    assert!(many.watch.limit_ratio > CHECK.limit_ratio && many.false_alarm_frac <= 0.125);
    // Nothing that can be used is nothing; a share beyond all sense is brought back.
    assert!(check_between(&[], 0.3).is_none());
    assert!(check_between(&seen[..1], 7.0).is_some_and(|c| c.false_alarm_frac.is_finite()));
    assert!(check_between(&seen, f64::NAN).is_none());
}
