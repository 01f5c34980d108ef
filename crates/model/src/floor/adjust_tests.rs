use super::*;
use crate::numerics::checks;
use crate::numerics::random::Stream;

/// Source: the constant-gain result on Deming's funnel, in the checks.
#[test]
fn correcting_by_a_share_of_each_miss_costs_the_published_variance() {
    let mut seen = 0;
    for file in checks::files("statistics") {
        for row in checks::rows(&file, &["statistics", "funnel", "gain_examples"]) {
            let expected = row["ratio"].as_f64().unwrap();
            assert!((variance_ratio(row["g"].as_f64().unwrap()) - expected).abs() < 1e-8);
            seen += 1;
        }
        let rule = |name: &str| file["statistics"]["funnel"][name].as_f64().unwrap();
        assert_eq!(variance_ratio(0.0), rule("variance_ratio_rule1"));
        assert_eq!(variance_ratio(1.0), rule("variance_ratio_rule2"));
    }
    assert!(seen > 0);
    assert!(variance_ratio(2.0) == f64::INFINITY && variance_ratio(-0.1).is_nan());
}

/// Source: the harmonic rule of Grubbs 1954, worked in the checks.
#[test]
fn the_harmonic_rule_gives_the_worked_adjustments() {
    let mut seen = 0;
    for file in checks::files("statistics") {
        let setup = ["statistics", "grubbs_setup"];
        let deviations = checks::rows(
            &file,
            &[
                setup[0],
                setup[1],
                "deviations_as_observed_after_each_previous_adjustment",
            ],
        );
        let adjustments = checks::rows(&file, &[setup[0], setup[1], "adjustments_harmonic"]);
        // The checks print ten digits.
        for (i, (d, a)) in deviations.iter().zip(adjustments).enumerate() {
            let got = setup_adjustment_m(d.as_f64().unwrap(), i as u32 + 1);
            assert!((got - a.as_f64().unwrap()).abs() < 1e-9, "{i}: {got}");
            seen += 1;
        }
    }
    assert!(seen > 0);
    assert_eq!(setup_adjustment_m(0.3, 0), 0.0);
}

#[test]
fn a_vague_beginning_makes_the_filter_the_harmonic_rule() {
    let mut offset = Offset {
        mean_m: 0.0,
        sd_m: 1e6,
    };
    for (i, deviation) in [0.42, 0.31, 0.55, 0.12].into_iter().enumerate() {
        offset = offset.after(deviation, 0.17);
        let amount = -offset.mean_m;
        assert!((amount - setup_adjustment_m(deviation, i as u32 + 1)).abs() < 1e-9);
        offset = offset.moved(amount);
    }
    assert!((offset.sd_m - 0.17 / 2.0).abs() < 1e-9);
    assert_eq!(offset.after(f64::NAN, 0.1), offset);
    assert!(offset.drifted(0.1).sd_m > 0.1);
}

/// How one rule fares over 24 shots: hit share of the first and last eight, moves.
fn play(rule: impl Fn(Offset, f64, u32) -> f64) -> [f64; 3] {
    const RUNS: u32 = 4000;
    const NOISE: f64 = 0.17;
    let mut random = Stream::new(8, 0);
    let mut sums = [0.0; 3];
    for _ in 0..RUNS {
        let mut offset = 0.5 * random.normal();
        let mut known = Offset {
            mean_m: 0.0,
            sd_m: 0.5,
        };
        for i in 0..24 {
            let shot = offset + 0.15 * random.normal();
            let hit = f64::from(u8::from(shot.abs() < 0.29));
            if i < 8 {
                sums[0] += hit / 8.0;
            }
            if i >= 16 {
                sums[1] += hit / 8.0;
            }
            let seen = shot + 0.08 * random.normal();
            known = known.after(seen, NOISE);
            let amount = rule(known, seen, i + 1);
            if amount != 0.0 {
                sums[2] += 1.0;
            }
            offset += amount;
            known = known.moved(amount);
        }
    }
    sums.map(|s| s / f64::from(RUNS))
}

/// Source: table of 20 000 simulated runs in the design notes of the project: hit share of the first and last eight
/// of 24 shots (offset sd 0.5 m, shot sd 0.15 m, seen to 0.08 m, band ±0.29 m), and moves.
#[test]
fn simulated_rules_hit_as_often_as_the_table_says() {
    type Row = (&'static str, fn(Offset, f64, u32) -> f64, [f64; 3]);
    let rows: [Row; 5] = [
        ("full", |_, seen, _| -seen, [0.754, 0.801, 24.0]),
        ("half", |_, seen, _| -0.5 * seen, [0.794, 0.894, 24.0]),
        (
            "harmonic",
            |_, seen, i| setup_adjustment_m(seen, i),
            [0.832, 0.939, 24.0],
        ),
        ("posterior", |known, _, _| -known.mean_m, [0.835, 0.939, 24.0]),
        (
            "a quarter",
            |known, _, _| {
                if known.mean_m.abs() > 0.25 * 0.17 {
                    -known.mean_m
                } else {
                    0.0
                }
            },
            [0.834, 0.936, 4.4],
        ),
    ];
    for (name, rule, expected) in rows {
        let got = play(rule);
        // Hits of one run go together through its offset: three standard errors are about a point.
        for (got, expected) in got.iter().zip(expected) {
            let tolerance = if expected > 1.0 { 0.3 } else { 0.011 };
            assert!((got - expected).abs() < tolerance, "{name}: {got:?}");
        }
    }
}

/// The rule of this file: as good as moving each time, with few moves, and far better than correcting each miss.
#[test]
fn deciding_by_gain_hits_as_often_as_always_moving_with_few_moves() {
    let rule =
        |known: Offset, _: f64, _: u32| match decide(known.mean_m, known.sd_m, 0.15, 0.29, LEAST_GAIN_FRAC) {
            Move::By { amount_m, .. } => amount_m,
            Move::Leave { .. } => 0.0,
        };
    let got = play(rule);
    assert!(got[0] > 0.82 && got[1] > 0.925 && got[2] < 6.0, "{got:?}");
}

/// Source: the loss table in the design notes of the project, for a band of ±2 standard deviations: points lost at each offset.
#[test]
fn an_offset_costs_the_points_of_the_table() {
    for (offset, points) in [
        (0.1, 0.1),
        (0.2, 0.4),
        (0.3, 1.0),
        (0.5, 2.8),
        (0.75, 6.3),
        (1.0, 11.5),
    ] {
        let lost = hit_chance(0.0, 0.0, 1.0, 2.0) - hit_chance(offset, 0.0, 1.0, 2.0);
        assert!((100.0 * lost - points).abs() < 0.06, "{offset}: {lost}");
    }
}

#[test]
fn it_is_left_alone_below_the_place_that_is_named_and_moved_above() {
    let Move::Leave {
        worth_from_m,
        gain_frac,
        ..
    } = decide(0.02, 0.03, 0.15, 0.3, 0.01)
    else {
        panic!("moved for nothing");
    };
    assert!(
        gain_frac < 0.01 && (0.04..0.05).contains(&worth_from_m),
        "{worth_from_m}"
    );
    let moves = |x: f64| matches!(decide(x, 0.03, 0.15, 0.3, 0.01), Move::By { .. });
    assert!(moves(1.001 * worth_from_m) && moves(-1.001 * worth_from_m) && !moves(0.999 * worth_from_m));
    // More doubt about the offset blurs the gain, so it takes a larger one.
    let Move::Leave {
        worth_from_m: doubtful,
        ..
    } = decide(0.02, 0.3, 0.15, 0.3, 0.01)
    else {
        panic!("moved for nothing");
    };
    assert!(doubtful > 1.5 * worth_from_m);
}

#[test]
fn numbers_that_are_none_leave_it_alone() {
    for bad in [f64::NAN, f64::INFINITY, -1.0] {
        let answers = [
            decide(0.1, bad, 0.15, 0.3, 0.01),
            decide(0.1, 0.1, bad, 0.3, 0.01),
            decide(f64::NAN, 0.1, 0.1, 0.3, 0.01),
            decide(0.1, 0.1, 0.1, 0.3, f64::NAN),
        ];
        assert!(
            answers.iter().all(|a| matches!(a, Move::Leave { .. })),
            "{bad}: {answers:?}"
        );
    }
    assert_eq!(hit_chance(0.1, 0.0, 0.0, 0.2), 1.0);
    assert_eq!(hit_chance(0.3, 0.0, 0.0, 0.2), 0.0);
}

fn knob(name: &str, effects_m: &[f64], work_s: f64) -> KnobOption {
    KnobOption {
        name: name.to_string(),
        effects_m: effects_m.to_vec(),
        low: -10.0,
        high: 10.0,
        step: 0.0,
        work_s,
        scatter_frac: 0.0,
    }
}

fn spot(offset_mean_m: f64) -> SpotNow {
    SpotNow {
        offset_mean_m,
        offset_sd_m: 0.03,
        shot_sd_m: 0.12,
        half_room_m: 0.25,
    }
}

#[test]
fn a_free_knob_is_taken_before_one_that_costs_an_evening_unless_it_serves_worse() {
    let evening = 3.0 * 3600.0;
    let spots = [spot(0.2), spot(-0.2)];
    // Speed shifts both spots alike and cannot help spots that lie on different sides; the guide can.
    let options = [
        knob("speed", &[0.1, 0.1], 0.0),
        knob("guide", &[0.1, -0.1], evening),
    ];
    let patient = which_knob(&options, &spots, 600.0, 0.01);
    let best = patient.best.unwrap();
    assert_eq!(best.option, 1, "{:?}", patient.ranked);
    assert!((best.value + 2.0).abs() < 0.05 && best.gain_frac > 0.2);
    let hasty = which_knob(&options, &spots, 60.0, 0.01);
    assert!(hasty.best.is_none(), "{hasty:?}");
    // Both on one side: speed does it for nothing.
    let alike = which_knob(&options, &[spot(0.2), spot(0.2)], 600.0, 0.01)
        .best
        .unwrap();
    assert!(alike.option == 0 && (alike.value + 2.0).abs() < 0.05);
}

#[test]
fn range_step_and_scatter_of_a_knob_all_count() {
    let spots = [spot(0.2)];
    let mut short = knob("reach", &[0.1], 60.0);
    short.low = -0.5;
    let plan = which_knob(std::slice::from_ref(&short), &spots, 600.0, 0.01).ranked[0].clone();
    assert!(plan.at_end && (plan.value + 0.5).abs() < 1e-6, "{plan:?}");
    let mut coarse = knob("slide", &[0.1], 60.0);
    coarse.step = 1.5;
    let plan = which_knob(std::slice::from_ref(&coarse), &spots, 600.0, 0.01).ranked[0].clone();
    assert_eq!(plan.value, -1.5);
    let mut wild = knob("tilt", &[0.1], 60.0);
    wild.scatter_frac = -0.4;
    let plan = which_knob(&[wild, knob("tilt", &[0.1], 60.0)], &spots, 600.0, 0.01);
    assert_eq!(plan.ranked[0].option, 1);
    assert!(
        plan.ranked[1].value > -1.9,
        "scatter that grows with the move shortens it: {plan:?}"
    );
}

#[test]
fn knobs_that_make_no_sense_are_left_out() {
    let mut bad = knob("speed", &[0.1], 0.0);
    bad.low = f64::NAN;
    let options = [
        bad,
        knob("tilt", &[0.1, 0.2], 0.0),
        knob("slide", &[f64::INFINITY], 0.0),
    ];
    let choice = which_knob(&options, &[spot(0.2)], 600.0, 0.01);
    assert!(choice.ranked.is_empty() && choice.best.is_none());
    assert!(
        which_knob(&[knob("speed", &[], 0.0)], &[], 600.0, 0.01)
            .best
            .is_none()
    );
    assert!(
        which_knob(&[knob("speed", &[0.0], 0.0)], &[spot(0.2)], f64::NAN, 0.01)
            .best
            .is_none()
    );
}
