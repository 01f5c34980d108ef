#![allow(clippy::unwrap_used, clippy::panic)]

use super::*;
use crate::numerics::checks;
use crate::numerics::random::Stream;

const BAND: Opening = Opening::Rectangle {
    along_m: 0.29,
    across_m: 1e3,
};

/// One distance, one unknown: where the mean crosses along.
fn stand(offset_m: f64, throw_sd_m: f64) -> SpotView {
    SpotView {
        distance_m: 3.0,
        opening: BAND,
        offset_m: [offset_m, 0.0],
        throw_sd_m: [throw_sd_m, 0.1],
        along_by: vec![1.0],
        across_by: vec![0.0],
        along_per_ln_speed_m: 5.0,
        across_per_turn_m: 3.0,
    }
}

fn along(variance: f64) -> Candidate {
    Candidate {
        spot_index: 0,
        readings_by: vec![vec![1.0]],
        noise: vec![vec![variance]],
    }
}

/// Plays one distance with a knob; returns variance of the misses over the last shots, hits among the last eight,
/// and moves.
fn play(rule: &dyn Fn(f64, f64, f64) -> f64, runs: u64, start_sd_m: f64) -> (f64, f64, f64) {
    let (shot_sd, eye_sd, shots) = (0.15, 0.08, 24);
    let (mut squares, mut hits, mut moves) = (0.0, 0.0, 0.0);
    for run in 0..runs {
        let mut s = Stream::new(11, run);
        let truth = start_sd_m * s.normal();
        let (mut knob, mut mean, mut variance) = (0.0, 0.0, start_sd_m * start_sd_m);
        for t in 0..shots {
            let miss = truth + knob + shot_sd * s.normal();
            if t >= shots - 8 {
                squares += miss * miss / 8.0;
                hits += f64::from(u8::from(miss.abs() < 0.29)) / 8.0;
            }
            let seen = miss + eye_sd * s.normal();
            let noise = shot_sd * shot_sd + eye_sd * eye_sd;
            let gain = variance / (variance + noise);
            mean += gain * (seen - knob - mean);
            variance = updated(&vec![vec![variance]], &along(noise)).unwrap()[0][0];
            let by = rule(mean + knob, seen, variance);
            if by != 0.0 {
                moves += 1.0;
            }
            knob += by;
        }
    }
    let n = runs as f64;
    (squares / n, hits / n, moves / n)
}

fn in_deadband(offset_m: f64, _: f64, variance: f64) -> f64 {
    match recommend(&stand(offset_m, 0.15), &vec![vec![variance]], [0.5, 2.0]) {
        Move::Change(c) => 5.0 * c.by,
        Move::LeaveAlone { .. } => 0.0,
    }
}

/// Source: Deming, Out of the Crisis (1986), the funnel's second rule: twice the variance of leaving it alone.
/// From memory.
#[test]
fn correcting_by_the_last_miss_doubles_the_variance_of_a_steady_machine_and_the_deadband_does_not() {
    let (last_miss, _, _) = play(&|_, seen, _| -seen, 3000, 0.0);
    // The miss read by eye: 0.15² twice over and the eye's own 0.08².
    let expected = 2.0 * 0.15_f64.powi(2) + 0.08_f64.powi(2);
    assert!(
        (last_miss / expected - 1.0).abs() < 0.03,
        "{last_miss} {expected}"
    );
    let (held, _, moves) = play(&in_deadband, 3000, 0.0);
    assert!((held / 0.15_f64.powi(2) - 1.0).abs() < 0.03, "{held}");
    assert_eq!(moves, 0.0);
}

/// Source: the same game worked out apart, 20 000 runs: 0.801 hits among the last eight for the last miss, 0.936
/// with 4.4 moves for the posterior mean in a deadband of a quarter sigma.
#[test]
fn the_deadband_hits_as_often_as_moving_every_time_with_a_fifth_of_the_moves() {
    let (_, by_last, _) = play(&|_, seen, _| -seen, 2000, 0.5);
    let (_, every, every_moves) = play(&|at, _, _| -at, 2000, 0.5);
    let (_, held, moves) = play(&in_deadband, 2000, 0.5);
    assert!((by_last - 0.801).abs() < 0.01, "{by_last}");
    assert!((held - every).abs() < 0.012, "{held} {every}");
    assert_eq!(every_moves, 24.0);
    assert!(moves < 5.0, "{moves}");
}

/// Source: Grubbs, Journal of Quality Technology 15 (1983): corrections by 1/t of the miss. From memory.
#[test]
fn with_no_opinion_beforehand_the_weight_of_shot_t_is_one_over_t() {
    let mut variance = vec![vec![1e5]];
    for t in 1..=12 {
        let before = variance[0][0];
        variance = updated(&variance, &along(0.04)).unwrap();
        let weight = before / (before + 0.04);
        assert!((weight - 1.0 / f64::from(t)).abs() < 1e-6, "{t} {weight}");
    }
}

/// Source: table of the normal distribution: Φ(2) = 0.97725, Φ(1.5) = 0.93319, Φ(2.5) = 0.99379, Φ(1) = 0.84134,
/// Φ(3) = 0.99865 (Abramowitz and Stegun, table 26.1, from memory).
#[test]
fn hits_through_a_band_of_two_sigma_fall_as_the_normal_table_says() {
    let band = Opening::Rectangle {
        along_m: 2.0,
        across_m: 100.0,
    };
    let hits = |off: f64| hit_frac(&band, [off, 0.0], [1.0, 1.0]);
    assert!((hits(0.0) - (2.0 * 0.97725 - 1.0)).abs() < 2e-5);
    assert!((hits(0.5) - (0.93319 + 0.99379 - 1.0)).abs() < 2e-5);
    assert!((hits(1.0) - (0.84134 + 0.99865 - 1.0)).abs() < 2e-5);
    // Sideways the same, and for an ellipse as for the circle it is scaled to.
    let turned = Opening::Rectangle {
        along_m: 100.0,
        across_m: 2.0,
    };
    assert_eq!(hit_frac(&turned, [0.0, 0.5], [1.0, 1.0]), hits(0.5));
    let ellipse = Opening::Round {
        along_m: 0.4,
        across_m: 0.2,
    };
    let circle = hit_circle(0.2, [0.05, 0.1], [0.03, 0.06]);
    assert!((hit_frac(&ellipse, [0.1, 0.1], [0.06, 0.06]) - circle).abs() < 1e-9);
}

#[test]
fn no_move_is_recommended_that_gains_less_than_a_point() {
    let mut moved = 0;
    for k in 0..400 {
        let mut s = Stream::new(5, k);
        let spot = SpotView {
            offset_m: [0.2 * s.normal(), 0.1 * s.normal()],
            throw_sd_m: [0.3 * s.uniform(), 0.2 * s.uniform()],
            opening: Opening::Round {
                along_m: 0.3,
                across_m: 0.3,
            },
            across_by: vec![0.5],
            ..stand(0.0, 0.1)
        };
        let covariance = vec![vec![0.02 * s.uniform()]];
        match recommend(&spot, &covariance, [0.5, 2.0]) {
            Move::Change(c) => {
                moved += 1;
                assert!(c.hit_frac[1] - c.hit_frac[0] >= LEAST_GAIN_FRAC);
            }
            Move::LeaveAlone { gain_frac } => assert!(gain_frac < LEAST_GAIN_FRAC),
        }
    }
    assert!((50..390).contains(&moved), "{moved}");
}

#[test]
fn a_quarter_sigma_off_is_ordinary_scatter_and_four_tenths_are_not() {
    let known = vec![vec![0.0]];
    let at = |share: f64| recommend(&stand(share * 0.145, 0.145), &known, [0.5, 2.0]);
    assert!(matches!(at(0.25), Move::LeaveAlone { .. }));
    let Move::Change(c) = at(0.4) else {
        panic!("left alone")
    };
    assert_eq!(c.knob, "speed");
    // 58 mm too far at 5 m per ln of speed.
    assert!((c.by + 0.4 * 0.145 / 5.0).abs() < 1e-12);
    // A doubt as wide as the scatter makes the same offset worth less.
    let doubtful = recommend(
        &stand(0.4 * 0.145, 0.145),
        &vec![vec![0.145 * 0.145 * 9.0]],
        [0.5, 2.0],
    );
    assert!(matches!(doubtful, Move::LeaveAlone { .. }), "{doubtful:?}");
}

#[test]
fn a_miss_to_the_side_is_turned_away_and_a_speed_at_its_end_is_not_asked_for() {
    let known = vec![vec![0.0]];
    let aside = SpotView {
        opening: Opening::Round {
            along_m: 0.3,
            across_m: 0.3,
        },
        offset_m: [0.0, 0.3],
        ..stand(0.0, 0.1)
    };
    let Move::Change(c) = recommend(&aside, &known, [0.5, 2.0]) else {
        panic!("left alone")
    };
    assert_eq!(c.knob, "turn");
    assert!((c.by + 0.1).abs() < 1e-12);
    let slow = recommend(&stand(-0.5, 0.1), &known, [0.5, 1.0]);
    assert!(matches!(slow, Move::LeaveAlone { .. }), "{slow:?}");
}

fn shots(each: &[usize]) -> Vec<Tally> {
    each.iter()
        .enumerate()
        .map(|(i, n)| Tally {
            distance_m: 1.0 + i as f64,
            shot_count: *n,
        })
        .collect()
}

#[test]
fn nobody_stops_on_too_little_however_sure_the_fit_is() {
    let spots: Vec<SpotView> = (0..4)
        .map(|i| SpotView {
            distance_m: 1.0 + f64::from(i),
            ..stand(0.0, 0.1)
        })
        .collect();
    let sure = vec![vec![0.0]];
    let at = |each: &[usize], n: usize| stop(&spots[..n], &sure, &shots(each), 0.0, Trust::Full).now();
    assert!(at(&[8, 2, 2, 0], 4));
    assert!(!at(&[10, 2, 1, 1], 4));
    assert!(!at(&[40, 0, 0, 0], 4));
    assert!(!at(&[], 4));
    assert!(at(&[6, 6], 2));
    assert!(!at(&[13, 1], 2));
    // Eleven do not tell how much it scatters.
    assert!(!at(&[4, 4, 3, 0], 4));
    let few = stop(&spots, &sure, &shots(&[4, 4, 3, 0]), 0.0, Trust::Full);
    assert_eq!(few.still, vec![Still::TooFewInAll { shot_count: 11 }]);
    assert!(few.sentence(&[]).contains("11 shots"), "{}", few.sentence(&[]));
    assert!(!stop(&[], &sure, &[], 0.0, Trust::Full).now());
    // Shots of one distance count together.
    let halves = [1, 11].map(|shot_count| Tally {
        distance_m: 1.0,
        shot_count,
    });
    assert!(stop(&spots[..1], &sure, &halves, 0.0, Trust::Full).now());
}

#[test]
fn doubt_that_costs_a_point_or_a_shot_that_still_pays_keeps_the_session_going() {
    let spots = vec![stand(0.0, 0.145)];
    let enough = shots(&[12]);
    let sure = vec![vec![0.0]];
    assert!(stop(&spots, &sure, &enough, 0.002, Trust::Full).now());
    assert_eq!(
        stop(&spots, &sure, &enough, 0.002, Trust::None).still,
        vec![Still::Untrusted]
    );
    let called = stop(&spots, &sure, &enough, 0.002, Trust::Called);
    assert_eq!(called.still, vec![Still::CallsAlone]);
    assert!(called.sentence(&[]).contains("say the miss by eye"));
    let pays = stop(&spots, &sure, &enough, 0.004, Trust::Full);
    assert_eq!(pays.still, vec![Still::NextPays { gain_frac: 0.004 }]);
    let doubtful = stop(&spots, &vec![vec![0.07_f64.powi(2)]], &enough, 0.0, Trust::Full);
    assert!(matches!(
        doubtful.still[..],
        [Still::Doubt { spot_index: 0, .. }, Still::DoubtAllRound { .. }]
    ));
    // A point and a half at one spot alone is let pass; at every spot only where the next shot wins next to nothing.
    let slightly = SpotView {
        along_by: vec![1.0],
        ..stand(0.0, 0.145)
    };
    let fine = SpotView {
        along_by: vec![0.0],
        ..slightly.clone()
    };
    let at = vec![vec![0.049_f64.powi(2)]];
    let loss = plugin_frac(&slightly) - predictive_frac(&slightly, &at, [0.0; 2]);
    assert!((0.0115..0.0145).contains(&loss), "{loss}");
    assert!(stop(&[slightly.clone(), fine], &at, &enough, 0.002, Trust::Full).now());
    let both = [slightly.clone(), slightly];
    let all = stop(&both, &at, &enough, 0.0005, Trust::Full);
    assert!(matches!(all.still[..], [Still::DoubtAllRound { .. }]));
    assert!((all.mean_loss_frac - loss).abs() < 1e-12);
    assert!(stop(&both, &at, &enough, 0.0002, Trust::Full).now());
    assert!(
        doubtful.sentence(&["far".into()]).contains("at far"),
        "{}",
        doubtful.sentence(&[])
    );
    for nonsense in [f64::NAN, f64::INFINITY] {
        assert!(!stop(&spots, &vec![vec![nonsense]], &enough, 0.0, Trust::Full).now());
        assert!(!stop(&spots, &sure, &enough, nonsense, Trust::Full).now());
    }
}

/// Source: Newcombe, Statistics in Medicine 17 (1998): Wilson's interval of 20 of 20 begins at 0.8389 (it is that
/// of 0 of 20, 0 to 0.1611, turned round).
#[test]
fn twenty_hits_of_twenty_prove_eighty_four_per_cent() {
    assert!((wilson_lower_if_all_hit(20) - (1.0 - 0.1611)).abs() < 5e-5);
}

fn two_by_two() -> (Matrix, Candidate) {
    let covariance = vec![vec![0.5, 0.2], vec![0.2, 0.4]];
    let candidate = Candidate {
        spot_index: 0,
        readings_by: vec![vec![1.0, 0.3], vec![-0.4, 2.0]],
        noise: vec![vec![0.09, 0.05], vec![0.05, 0.16]],
    };
    (covariance, candidate)
}

/// Source: the information form Σ'⁻¹ = Σ⁻¹ + Jᵀ C⁻¹ J, textbook least squares, with 2 × 2 inverses written out.
#[test]
#[allow(clippy::needless_range_loop)] // indices of a small matrix read best as such
fn a_shot_with_correlated_readings_adds_its_information_to_the_inverse_covariance() {
    let (s, c) = two_by_two();
    let inverse = |m: &Matrix| {
        let det = m[0][0] * m[1][1] - m[0][1] * m[1][0];
        vec![
            vec![m[1][1] / det, -m[0][1] / det],
            vec![-m[1][0] / det, m[0][0] / det],
        ]
    };
    let weight = inverse(&c.noise);
    let mut information = inverse(&s);
    for i in 0..2 {
        for j in 0..2 {
            for a in 0..2 {
                for b in 0..2 {
                    information[i][j] += c.readings_by[a][i] * weight[a][b] * c.readings_by[b][j];
                }
            }
        }
    }
    let expected = inverse(&information);
    let found = updated(&s, &c).unwrap();
    for i in 0..2 {
        for j in 0..2 {
            assert!(
                (found[i][j] - expected[i][j]).abs() < 1e-14,
                "{found:?} {expected:?}"
            );
        }
    }
    // ½ ln(det Σ/det Σ').
    let det = |m: &Matrix| m[0][0] * m[1][1] - m[0][1] * m[1][0];
    let nats = information_gain(&s, &c).unwrap();
    assert!(
        (nats - 0.5 * (det(&s) / det(&expected)).ln()).abs() < 1e-13,
        "{nats}"
    );
    // What is no covariance is refused.
    let torn = Candidate {
        noise: vec![vec![0.09, 0.5], vec![0.5, 0.16]],
        ..c
    };
    assert_eq!(updated(&s, &torn), None);
}

/// Wins where all-round information would choose the other: the first parameter moves no crossing.
#[test]
fn the_shot_is_chosen_by_what_it_does_for_the_setpoints_not_for_what_does_not_matter() {
    let spots = vec![SpotView {
        along_by: vec![0.0, 1.0],
        across_by: vec![0.0, 0.0],
        ..stand(0.0, 0.15)
    }];
    let covariance = vec![vec![9.0, 0.0], vec![0.0, 0.04]];
    let read = |row: Vec<f64>| Candidate {
        spot_index: 0,
        readings_by: vec![row],
        noise: vec![vec![0.02]],
    };
    let candidates = vec![read(vec![1.0, 0.0]), read(vec![0.0, 1.0]), read(vec![0.0, 1.2])];
    let nats = |c: &Candidate| information_gain(&covariance, c).unwrap();
    assert!(nats(&candidates[0]) > nats(&candidates[1]));
    // The third is better by less than the model is sure of: the first of the good ones is taken.
    let choice = best_shot(&spots, &covariance, &candidates).unwrap();
    assert_eq!(choice.index, 1);
    assert!(choice.gain_frac > 0.0);
    assert!(best_shot(&spots, &covariance, &[]).is_none());
}

fn glance(offset_m: f64) -> Glance {
    Glance {
        offset_m: [offset_m, 0.05],
        throw_sd_m: [0.15, 0.06],
        in_m: [[-0.29, 0.29]; 2],
        out_m: [[-0.42, 0.42]; 2],
    }
}

/// Source: the definition, information = variance of the score; the score by differences of the chances counted
/// over a grid of the normal distribution.
#[test]
fn the_information_of_an_outcome_is_the_variance_of_its_score() {
    let chances = |x: f64, y: f64| {
        let within = |h: f64, m: f64, s: f64| {
            let f = |u: f64| 0.5 * libm::erfc(-u / 2f64.sqrt());
            f((h - m) / s) - f((-h - m) / s)
        };
        let (xo, xi) = (within(0.42, x, 0.15), within(0.29, x, 0.15));
        let (yo, yi) = (within(0.42, y, 0.06), within(0.29, y, 0.06));
        let tail = |h: f64, m: f64, s: f64| 0.5 * libm::erfc((h - m) / s / 2f64.sqrt());
        [
            tail(0.42, -x, 0.15),
            tail(0.42, x, 0.15),
            xo * tail(0.42, y, 0.06),
            xo * tail(0.42, -y, 0.06),
            xo * yo - xi * yi,
            xi * yi,
        ]
    };
    for offset in [-0.4, -0.2, 0.0, 0.1, 0.35] {
        let g = Glance {
            offset_m: [offset, 0.2],
            ..glance(0.0)
        };
        let found = class_information(&g);
        let h = 1e-5;
        let score = |up: [f64; 6], down: [f64; 6]| -> f64 {
            let p = chances(offset, 0.2);
            (0..6)
                .filter(|i| p[*i] > 1e-3)
                .map(|i| ((up[i] - down[i]) / (2.0 * h)).powi(2) / p[i])
                .sum()
        };
        let along = score(chances(offset + h, 0.2), chances(offset - h, 0.2));
        let across = score(chances(offset, 0.2 + h), chances(offset, 0.2 - h));
        assert!(
            (found[0] / along - 1.0).abs() < 1e-6,
            "{offset} {found:?} {along}"
        );
        assert!(
            (found[1] / across - 1.0).abs() < 1e-6,
            "{offset} {found:?} {across}"
        );
    }
}

#[test]
fn an_outcome_tells_most_when_aimed_at_the_edge() {
    let along = |offset: f64| class_information(&glance(offset))[0];
    assert!(along(-0.29) > 2.0 * along(0.0), "{} {}", along(-0.29), along(0.0));
    assert!(along(-0.29) > along(-0.75));
}

#[test]
fn a_session_ends_only_when_nothing_is_left_to_learn() {
    let shot = vec![along(0.03)];
    let enough = shots(&[12]);
    let verdict = |variance: f64, shot: &[Candidate]| {
        let found = best_for(
            &[stand(0.0, 0.145)],
            &vec![vec![variance]],
            shot,
            &enough,
            Trust::Full,
        );
        found.map(|(_, v)| v)
    };
    let done = verdict(1e-6, &shot).unwrap();
    assert!(done.now() && done.sentence(&[]).starts_with("Stop"));
    let open = verdict(0.04, &shot).unwrap();
    assert!(!open.now() && open.sentence(&["near".into()]).contains("at near"));
    assert!(verdict(0.04, &[]).is_none());
}

#[test]
fn a_sure_fit_is_sent_to_the_distances_that_lack_shots() {
    let spots: Vec<SpotView> = (0..3)
        .map(|i| SpotView {
            distance_m: 1.0 + f64::from(i),
            ..stand(0.0, 0.145)
        })
        .collect();
    let from = |spot_index: usize| Candidate {
        spot_index,
        ..along(0.03)
    };
    let candidates = [from(0), from(1), from(2)];
    let sure = vec![vec![1e-6]];
    for each in [[9, 2, 1], [3, 2, 1]] {
        let (choice, because) = best_for(&spots, &sure, &candidates, &shots(&each), Trust::Full).unwrap();
        assert_eq!(choice.index, 2);
        assert!(
            because.sentence(&[]).contains("2 of 3 distances"),
            "{}",
            because.sentence(&[])
        );
    }
}

/// Source: the funnel with a constant share G of each miss taken back, variance 2/(2 − G), and the harmonic rule's
/// worked adjustments; both in the checks.
#[test]
fn the_posterior_mean_is_the_published_setup_rule_and_shares_of_a_miss_cost_the_published_variance() {
    let mut seen = 0;
    for file in checks::files("statistics") {
        for row in checks::rows(&file, &["statistics", "funnel", "gain_examples"]) {
            let (g, ratio) = (row["g"].as_f64().unwrap(), row["ratio"].as_f64().unwrap());
            let (mut at, mut squares) = (0.0, 0.0);
            let mut stream = Stream::new(3, 0);
            for k in 0..40_400 {
                let miss = at + stream.normal();
                at -= g * miss;
                squares += if k < 400 { 0.0 } else { miss * miss / 40_000.0 };
            }
            assert!((squares / ratio - 1.0).abs() < 0.03, "{g}: {squares} {ratio}");
            seen += 1;
        }
        let setup = |name: &str| -> Vec<f64> {
            let rows = checks::rows(&file, &["statistics", "grubbs_setup", name]);
            rows.iter().map(|x| x.as_f64().unwrap()).collect()
        };
        let misses = setup("deviations_as_observed_after_each_previous_adjustment");
        let noise = along(0.04);
        let mut variance = vec![vec![1e9]];
        for (miss, adjusted) in misses.iter().zip(setup("adjustments_harmonic")) {
            let before = variance[0][0];
            variance = updated(&variance, &noise).unwrap();
            // What the mean moves by is the gain times the miss from where it stood.
            let found = -before / (before + 0.04) * miss;
            assert!(
                (found - adjusted).abs() < 1e-6 * (1.0 + adjusted.abs()),
                "{found} {adjusted}"
            );
            seen += 1;
        }
    }
    assert!(seen > 0);
}

/// Source: points lost off the centre of a band of two standard deviations each way, from the table of the normal
/// distribution: 0.3 s 1.0 point, 0.5 s 2.8, 1 s 11.5.
#[test]
fn an_offset_costs_the_points_of_the_table() {
    let band = Opening::Rectangle {
        along_m: 2.0,
        across_m: 1e3,
    };
    let hits = |off: f64| hit_frac(&band, [off, 0.0], [1.0, 0.1]);
    for (off, points) in [
        (0.1, 0.1),
        (0.2, 0.4),
        (0.3, 1.0),
        (0.5, 2.8),
        (0.75, 6.3),
        (1.0, 11.5),
    ] {
        let lost = 100.0 * (hits(0.0) - hits(off));
        assert!((lost - points).abs() < 0.06, "{off}: {lost}");
    }
}

/// Range known to a centimetre, direction to five: a shot that tells the direction is worth more than one that halves what
/// is left of the range.
#[test]
fn doubt_to_the_side_sends_for_a_shot_that_tells_the_side() {
    let spot = SpotView {
        opening: Opening::Round {
            along_m: 0.2,
            across_m: 0.2,
        },
        along_by: vec![1.0, 0.0],
        across_by: vec![0.0, 1.0],
        ..stand(0.0, 0.06)
    };
    let doubt = vec![vec![0.01_f64.powi(2), 0.0], vec![0.0, 0.05_f64.powi(2)]];
    let tells = |row: [f64; 2], sd: f64| Candidate {
        spot_index: 0,
        readings_by: vec![row.to_vec()],
        noise: vec![vec![sd * sd]],
    };
    let choice = best_shot(
        std::slice::from_ref(&spot),
        &doubt,
        &[tells([1.0, 0.0], 0.01), tells([0.0, 1.0], 0.1)],
    )
    .unwrap();
    assert_eq!(choice.index, 1);
    assert!(choice.loss_frac[1] < choice.loss_frac[0]);
    assert!((choice.gain_frac - (choice.loss_frac[0] - choice.loss_frac[1])).abs() < 1e-15);
    // The worst spot counts as much as the mean of all.
    let sure = SpotView {
        along_by: vec![0.0, 0.0],
        across_by: vec![0.0, 0.0],
        ..spot.clone()
    };
    let [mean, worst] = losses(&[sure, spot], &doubt);
    assert!((worst - 2.0 * mean).abs() < 1e-12 && worst > 0.0);
}
