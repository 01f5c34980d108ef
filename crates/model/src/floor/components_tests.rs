use super::*;
use crate::numerics::random::Stream;

/// A log in mixed order: `pieces` thrown `each` times in two sessions, in volleys of five.
fn log(seed: u64, pieces: usize, each: usize, piece_sd: f64, more: impl Fn(usize, &mut Throw)) -> Vec<Throw> {
    let mut random = Stream::new(seed, 2);
    let effects: Vec<f64> = (0..pieces).map(|_| piece_sd * random.normal()).collect();
    let mut order: Vec<usize> = (0..pieces * each).map(|i| i % pieces).collect();
    for i in (1..order.len()).rev() {
        let j = (random.uniform() * (i + 1) as f64) as usize;
        order.swap(i, j);
    }
    let half = order.len() / 2;
    let throw = |(i, piece): (usize, &usize)| {
        let mut t = Throw {
            deviation_frac: effects[*piece] + 0.01 * random.normal(),
            piece: Some(*piece as u32 + 1),
            session: usize::from(i >= half),
            place: (i % 5) as u32,
            last: i % 5 == 4,
            ..Throw::default()
        };
        more(i, &mut t);
        t
    };
    order.iter().enumerate().map(throw).collect()
}

fn suspect(got: &Components, cause: Cause) -> Suspect {
    *got.suspects.iter().find(|s| s.cause == cause).unwrap()
}

#[test]
fn pieces_that_differ_head_the_list_and_the_two_extremes_are_to_be_thrown() {
    let got = components(&log(1, 8, 8, 0.012, |_, _| {})).unwrap();
    let first = got.suspects[0];
    assert!(
        first.cause == Cause::Piece && first.judgement == Judgement::Shown,
        "{got:?}"
    );
    assert!(first.interval_frac[0] < 0.012 && 0.012 < first.interval_frac[1]);
    assert!((got.residual_sd_frac / 0.01 - 1.0).abs() < 0.25);
    let Trial::TwoPieces { slow, fast, each } = first.trial else {
        panic!("{first:?}");
    };
    assert_eq!(slow, got.piece_effects[0].piece);
    assert_eq!(fast, got.piece_effects[7].piece);
    assert!((5..20).contains(&each), "{each}");
    assert!(!got.too_small && got.piece_effects.iter().map(|p| p.throws).sum::<u32>() == 64);
}

#[test]
fn a_small_log_of_equal_pieces_cannot_tell_and_a_large_one_clears_them() {
    let small = components(&log(2, 4, 4, 0.0, |_, _| {})).unwrap();
    assert!(
        small.too_small && suspect(&small, Cause::Piece).judgement == Judgement::CannotTell,
        "{small:?}"
    );
    assert!(small.power_half_frac < 0.3 && small.piece_sd_to_predict_frac > 0.1 * small.residual_sd_frac);
    let large = components(&log(2, 12, 20, 0.0, |_, _| {})).unwrap();
    assert!(
        !large.too_small && suspect(&large, Cause::Piece).judgement == Judgement::Small,
        "{large:?}"
    );
    assert!(large.power_half_frac > 0.9);
    assert!(large.piece_sd_to_predict_frac < small.piece_sd_to_predict_frac);
}

#[test]
fn each_trend_is_found_with_its_slope() {
    let late = components(&log(3, 6, 10, 0.0, |_, t| {
        t.deviation_frac -= 0.008 * f64::from(t.place)
    }))
    .unwrap();
    let place = suspect(&late, Cause::Place);
    assert!(
        late.suspects[0].cause == Cause::Place && place.judgement == Judgement::Shown,
        "{late:?}"
    );
    assert!((place.slope_frac.unwrap() + 0.008).abs() < 0.003);
    assert!(matches!(place.trial, Trial::RestBetween { volleys } if volleys >= 5));
    let last = components(&log(4, 6, 10, 0.0, |_, t| {
        t.deviation_frac -= if t.last { 0.02 } else { 0.0 };
    }))
    .unwrap();
    assert!(last.suspects[0].cause == Cause::Last, "{last:?}");
    let volts = components(&log(5, 6, 10, 0.0, |i, t| {
        let step = ((i * 7) % 11) as f64 * 0.2 - 1.0;
        t.battery_v = Some(12.0 + step);
        t.deviation_frac += 0.015 * step;
    }))
    .unwrap();
    let battery = suspect(&volts, Cause::Voltage);
    assert!(volts.suspects[0].cause == Cause::Voltage && battery.judgement == Judgement::Shown);
    assert!((battery.slope_frac.unwrap() - 0.015).abs() < 0.005, "{battery:?}");
}

#[test]
fn a_session_that_differs_is_not_taken_for_a_piece() {
    let got = components(&log(6, 6, 16, 0.0, |i, t| {
        t.session = i / 12;
        t.deviation_frac += [0.02, -0.02, 0.015, -0.01, 0.0, 0.02, -0.02, -0.01][i / 12];
    }))
    .unwrap();
    assert!(
        got.suspects[0].cause == Cause::Session && got.suspects[0].judgement == Judgement::Shown,
        "{got:?}"
    );
    assert!(suspect(&got, Cause::Piece).judgement != Judgement::Shown && got.sessions == 8);
}

#[test]
fn a_wheel_speed_that_was_off_counts_with_its_known_coefficient() {
    let add = |share: f64| {
        components(&log(7, 6, 8, 0.0, |i, t| {
            let off = 0.02 * ((i * 5) % 7) as f64 / 7.0;
            t.release_frac = Some(off);
            t.deviation_frac += share * off;
        }))
        .unwrap()
    };
    let (right, wrong) = (add(1.0), add(0.0));
    assert!((right.residual_sd_frac / 0.01 - 1.0).abs() < 0.25, "{right:?}");
    // If speed did not follow the wheel, taking it off would add its spread.
    assert!(wrong.residual_sd_frac > right.residual_sd_frac);
    let cause = suspect(&right, Cause::ReleaseSpeed);
    assert!(
        cause.judgement == Judgement::Shown && (0.005..0.007).contains(&cause.sd_frac),
        "{cause:?}"
    );
}

#[test]
fn an_order_that_ties_pieces_to_places_is_said() {
    let mixed = components(&log(11, 5, 10, 0.0, |_, _| {})).unwrap();
    assert!(mixed.order_tied_frac < 0.3, "{}", mixed.order_tied_frac);
    let tied = components(&log(11, 5, 10, 0.0, |_, t| t.place = t.piece.unwrap_or(0))).unwrap();
    assert_eq!(tied.order_tied_frac, 1.0);
}

#[test]
fn a_log_with_a_new_mark_on_every_throw_keeps_the_pieces_thrown_most() {
    let got = components(&log(12, 5, 20, 0.02, |i, t| {
        if i % 2 == 0 {
            t.piece = Some(1000 + i as u32);
        }
    }))
    .unwrap();
    assert_eq!(got.pieces, 40);
    assert_eq!(got.piece_effects.iter().filter(|p| p.piece <= 5).count(), 5);
    assert_eq!(suspect(&got, Cause::Piece).judgement, Judgement::Shown);
}

#[test]
fn shares_add_up_to_the_whole() {
    let got = components(&log(8, 6, 8, 0.01, |i, t| {
        t.battery_v = Some(12.0 + (i % 3) as f64)
    }))
    .unwrap();
    let sum: f64 = got.suspects.iter().map(|s| s.share_frac).sum();
    assert!((sum + got.residual_share_frac - 1.0).abs() < 1e-12);
    assert!(
        got.suspects
            .windows(2)
            .all(|pair| pair[0].share_frac >= pair[1].share_frac)
    );
}

#[test]
fn without_marks_pieces_are_a_suspect_to_be_marked() {
    let got = components(&log(9, 6, 4, 0.0, |_, t| t.piece = None)).unwrap();
    let piece = suspect(&got, Cause::Piece);
    assert_eq!(piece.judgement, Judgement::CannotTell);
    assert_eq!(piece.trial, Trial::MarkPieces { pieces: 6, each: 8 });
    assert!(got.too_small && got.power_full_frac == 0.0);
}

/// Source: textbook sample size for two means (from memory): a difference of one deviation needs 16 of each.
#[test]
fn a_difference_of_one_deviation_takes_sixteen_throws_of_each() {
    assert_eq!(throws_each(0.01, 0.01), 16);
    assert_eq!(throws_each(0.0, 0.01), 99);
    assert_eq!(throws_each(f64::NAN, 0.01), 99);
    assert_eq!(throws_each(1.0, 0.01), 5);
}

#[test]
fn logs_that_say_nothing_are_refused() {
    assert!(components(&[]).is_none());
    assert!(components(&[Throw::default(); 12]).is_none());
    let mut bad = log(10, 2, 4, 0.0, |_, t| t.deviation_frac = f64::NAN);
    assert!(components(&bad).is_none());
    bad.extend(log(10, 2, 4, 0.0, |_, _| {}));
    assert_eq!(components(&bad).unwrap().throws, 8);
}
