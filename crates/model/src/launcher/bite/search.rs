//! The wheel width, or the gap of a pair, at which the rim bridges the holes.

use super::footprint::WheelSet;
use super::study::study;
use super::surface::Surface;

/// Method: widths or gaps looked at before the one that decides is closed in on.
const GRID_COUNT: usize = 16;
/// Method: halvings of one step of that grid: to a hundredth of the range or better.
const HALVINGS_COUNT: usize = 4;

/// Judgement: wheels further apart than this many holes are no close pair; each falls in by itself, and the piece
/// sinks between them.
const CLOSE_RATIO: f64 = 2.0;

/// The least width of a single wheel at which 95 of 100 throws drop no deeper than `limit_m`, and at all greater
/// widths up to where the patch ends; `None` when none does.
pub fn bridging_width_m(
    surface: &Surface,
    wheels: &WheelSet,
    squeeze_m: f64,
    limit_m: f64,
    throw_count: usize,
) -> Option<f64> {
    let widest = patch_width_m(surface, squeeze_m);
    let holds = |share: f64| {
        let one = WheelSet {
            width_m: widest * share,
            count: 1,
            gap_m: 0.0,
            ..*wheels
        };
        study(surface, &one, squeeze_m, throw_count).p95_m <= limit_m
    };
    let least = (1..=GRID_COUNT).rev().take_while(|k| holds(share(*k))).last()?;
    Some(widest * closing_in(share(least), share(least - 1), holds))
}

/// Least and greatest gap between `count` wheels of the present width at which, and between which, 95 of 100 throws
/// drop no deeper than `limit_m`; the widest such range when there are several, `None` when there is none. Gaps up to
/// two holes are tried. Two
/// that touch may fail where two a little apart hold: they stand on either side of a hole.
pub fn bridging_gap_m(
    surface: &Surface,
    wheels: &WheelSet,
    squeeze_m: f64,
    limit_m: f64,
    throw_count: usize,
    count: u32,
) -> Option<[f64; 2]> {
    let seam_m = surface.seam.map_or(0.0, |s| s.width_m);
    let across_m = (2.0 * surface.hole_radius_m).max(seam_m);
    let widest = (CLOSE_RATIO * across_m).min(0.5 * patch_width_m(surface, squeeze_m));
    let holds = |share: f64| {
        let close = WheelSet {
            count,
            gap_m: widest * share,
            ..*wheels
        };
        study(surface, &close, squeeze_m, throw_count).p95_m <= limit_m
    };
    let mut run: Option<[usize; 2]> = None;
    let mut longest: Option<[usize; 2]> = None;
    for k in 0..=GRID_COUNT {
        run = match (holds(share(k)), run) {
            (true, Some([low, _])) => Some([low, k]),
            (true, None) => Some([k, k]),
            (false, _) => None,
        };
        let length = |r: Option<[usize; 2]>| r.map_or(0, |[low, high]| high - low + 1);
        if length(run) > length(longest) {
            longest = run;
        }
    }
    let [low, high] = longest?;
    let least = if low == 0 {
        0.0
    } else {
        closing_in(share(low), share(low - 1), holds)
    };
    let most = if high == GRID_COUNT {
        1.0
    } else {
        closing_in(share(high), share(high + 1), holds)
    };
    Some([widest * least, widest * most])
}

/// Width of the patch across: a wheel wider than it presses no more than the patch.
fn patch_width_m(surface: &Surface, squeeze_m: f64) -> f64 {
    let press = (0.5 * squeeze_m).clamp(0.0, surface.radius_m);
    2.0 * (press * (2.0 * surface.radius_m - press)).max(0.0).sqrt()
}

fn share(k: usize) -> f64 {
    k as f64 / GRID_COUNT as f64
}

/// The last place from `good` towards `bad` that still holds.
fn closing_in(good: f64, bad: f64, holds: impl Fn(f64) -> bool) -> f64 {
    let (mut good, mut bad) = (good, bad);
    for _ in 0..HALVINGS_COUNT {
        let middle = 0.5 * (good + bad);
        if holds(middle) {
            good = middle;
        } else {
            bad = middle;
        }
    }
    good
}
