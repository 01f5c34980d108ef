//! The wheel width, or the gap of a pair, at which the rim bridges the holes.

use super::footprint::WheelSet;
use super::study::study;
use super::surface::Surface;

/// Method: widths or gaps looked at before the one that decides is closed in on.
const GRID_COUNT: usize = 12;
/// Method: halvings of one step of that grid: to a hundredth of the range or better.
const HALVINGS_COUNT: usize = 4;

/// The least width of a single wheel at which 95 of 100 throws drop no deeper than `limit_m`, and at all greater
/// widths up to where the patch ends; `None` when none does.
pub fn bridging_width_m(
    surface: &Surface,
    wheels: &WheelSet,
    squeeze_m: f64,
    limit_m: f64,
    throw_count: usize,
) -> Option<f64> {
    let press = (0.5 * squeeze_m).clamp(0.0, surface.radius_m);
    // A wheel wider than the patch presses no more than the patch.
    let widest = 2.0 * (press * (2.0 * surface.radius_m - press)).max(0.0).sqrt();
    let holds = |width_m: f64| {
        let one = WheelSet {
            width_m,
            count: 1,
            gap_m: 0.0,
            ..*wheels
        };
        study(surface, &one, squeeze_m, throw_count).p95_m <= limit_m
    };
    closing_in(|share| holds(widest * (1.0 - share))).map(|share| widest * (1.0 - share))
}

/// The greatest gap between two wheels of the present width at which 95 of 100 throws drop no deeper than
/// `limit_m`, and at all smaller gaps; `None` when not even two that touch do.
pub fn bridging_gap_m(
    surface: &Surface,
    wheels: &WheelSet,
    squeeze_m: f64,
    limit_m: f64,
    throw_count: usize,
) -> Option<f64> {
    let press = (0.5 * squeeze_m).clamp(0.0, surface.radius_m);
    let widest = 2.0 * (press * (2.0 * surface.radius_m - press)).max(0.0).sqrt();
    let holds = |gap_m: f64| {
        let two = WheelSet {
            count: 2,
            gap_m,
            ..*wheels
        };
        study(surface, &two, squeeze_m, throw_count).p95_m <= limit_m
    };
    closing_in(|share| holds(widest * share)).map(|share| widest * share)
}

/// The greatest share from 0 to 1 up to which something holds without a break on a grid.
fn closing_in(holds: impl Fn(f64) -> bool) -> Option<f64> {
    let at = |k: usize| k as f64 / GRID_COUNT as f64;
    // The far end is no wheel at all, or two wheels that no longer touch the piece.
    let kept = (0..GRID_COUNT).take_while(|k| holds(at(*k))).last()?;
    let (mut low, mut high) = (at(kept), at(kept + 1));
    for _ in 0..HALVINGS_COUNT {
        let middle = 0.5 * (low + high);
        if holds(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(low)
}
