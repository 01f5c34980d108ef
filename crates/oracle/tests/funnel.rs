//! A flat hopper of many discs, in the model's engine.

use arcwright_oracle::funnel::{Clogs, FUNNEL, Funnel, Line, clogs};

/// Runs at each opening, and discs: fewer than in the table, for a few seconds.
const RUNS: u64 = 24;
const SHORT: Funnel = Funnel { discs: 60, ..FUNNEL };

/// In two dimensions there is no opening from which nothing clogs any more [janda-2008]: the share of states that clog decays exponentially
/// in the square of the opening [thomas-2014], so that -ln F is a straight line in d², and runs clog now and then over a range of openings that
/// is wider than a disc. A step at one opening has neither.
#[test]
fn clogging_of_a_flat_hopper_fades_with_the_opening_and_has_no_threshold() {
    let all = [2.5, 2.75, 3.0, 3.25, 3.5, 3.75].map(|opening_ratio| {
        clogs(
            &Funnel {
                opening_ratio,
                ..SHORT
            },
            1,
            RUNS,
        )
    });
    assert!(fades(&all), "{all:?}");
    assert!(
        all.windows(2).all(|w| w[0].share() + 0.15 > w[1].share()),
        "{all:?}"
    );
    // The same runs with a threshold inside would not pass.
    for threshold in [2.6, 2.9, 3.1] {
        let step = all.map(|c| Clogs {
            hung: if c.opening_ratio < threshold { c.of } else { 0 },
            ..c
        });
        assert!(!fades(&step), "{threshold}");
    }
}

/// Does -ln F fall in a line of d² that lies in the intervals of all, at 95 % together [bonferroni-1936], and is J neither 0 nor 1
/// from an opening to one more than a disc wider?
fn fades(all: &[Clogs]) -> bool {
    let line = Line::through(all);
    let each = 1.0 - 0.05 / all.len() as f64;
    let fits = |c: &Clogs| {
        let ([low, high], j) = (c.interval(each), line.share(c.opening_ratio, c.discs));
        low <= j && j <= high
    };
    let between: Vec<f64> = all
        .iter()
        .filter(|c| c.hung > 0 && c.hung < c.of)
        .map(|c| c.opening_ratio)
        .collect();
    let wide = between
        .first()
        .zip(between.last())
        .is_some_and(|(a, b)| b - a >= 1.0);
    wide && line.slope > 0.0 && all.iter().all(fits)
}

/// Clogging falls with the steepness of the slopes [to-2002].
#[test]
fn steeper_slopes_of_a_flat_hopper_clog_less() {
    let at = |degrees: f64| {
        let f = Funnel {
            opening_ratio: 2.75,
            steep_rad: degrees.to_radians(),
            ..SHORT
        };
        clogs(&f, 1, RUNS)
    };
    let [flat, steep] = [34.0, 75.0].map(at);
    assert!(
        flat.interval(0.95)[0] > steep.interval(0.95)[1],
        "{flat:?} {steep:?}"
    );
}
