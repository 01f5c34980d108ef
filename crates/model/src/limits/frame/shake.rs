//! What an imbalance does to the scatter of throws.

use std::f64::consts::FRAC_1_SQRT_2;

use crate::launcher::{Layout, Passage};
use crate::limits::Report;
use crate::project::Project;
use crate::shot::{Chain, Exit};

/// Method: the gap is moved by this much to each side for the slope.
const MOVE_M: f64 = 1e-4;

/// Scatter from one spot by the imbalance alone, one standard deviation.
#[derive(Clone, Debug, PartialEq)]
pub struct ShakeScatter {
    /// Spot.
    pub spot: String,
    /// Exit speed.
    pub exit_sd_mps: f64,
    /// Crossing along the opening.
    pub along_sd_m: f64,
}

fn with_gap(chain: &Chain, by_m: f64) -> Chain {
    let mut moved = chain.clone();
    match &mut moved.launcher.layout {
        Layout::Guide(g) => g.gap_m += by_m,
        Layout::Pair(p) => p.gap_m += by_m,
    }
    moved
}

/// Scatter from every spot that is aimed from, by a wheel that swings by `shake_m` to each side.
///
/// ```text
/// σ = |d/d gap| shake/√2
/// ```
///
/// The piece meets the swinging wheel at any angle of it, each as likely: the deviation of a sine. Slopes by central differences
/// through the whole chain; the swing within one passage is averaged in truth, so this is the careful side.
pub fn shake_scatter(project: &Project, report: &Report, shake_m: f64) -> Vec<ShakeScatter> {
    let sides = [-MOVE_M, MOVE_M].map(|by| with_gap(&report.chain, by));
    let spots = project.spots.iter().zip(&report.aims);
    spots
        .filter_map(|(spot, aim)| {
            let best = aim.best()?;
            let stance = report.chain.stance_led(spot, best.lead_rad);
            let [less, more] = sides.each_ref().map(|chain| {
                let Passage::Thrown(r) = chain.release(&project.machine.setting, best.wheel_radps, false)
                else {
                    return None;
                };
                let exit = Exit::of(&r);
                Some((exit.speed_mps, chain.crossing(&exit, &stance)?.along_m))
            });
            let ((v0, x0), (v1, x1)) = (less?, more?);
            let share = FRAC_1_SQRT_2 * shake_m / (2.0 * MOVE_M);
            Some(ShakeScatter {
                spot: spot.name.clone(),
                exit_sd_mps: share * (v1 - v0).abs(),
                along_sd_m: share * (x1 - x0).abs(),
            })
        })
        .collect()
}
