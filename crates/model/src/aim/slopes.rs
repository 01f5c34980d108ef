//! How the crossing answers to small changes of the exit and of the flight.

use crate::flight::Lift;
use crate::shot::{Chain, Exit, Stance};

/// Method: steps of the differences in ln speed, angle, ln drag and share of lift; the flights are good to 1e-7 m.
const STEP: [f64; 4] = [2e-3, 2e-3, 2e-2, 4e-2];

/// A chain and an exit with ln speed (spin with it), elevation, ln drag and lift (by a share) changed.
pub fn changed(chain: &Chain, exit: &Exit, by: &[f64; 4]) -> (Chain, Exit) {
    let mut chain = chain.clone();
    chain.ball.drag.scale_ratio *= by[2].exp();
    if let Lift::Saturating { scale_ratio, .. } = &mut chain.ball.lift {
        *scale_ratio *= 1.0 + by[3];
    }
    let exit = Exit {
        speed_mps: exit.speed_mps * by[0].exp(),
        spin_radps: exit.spin_radps * by[0].exp(),
        angle_rad: exit.angle_rad + by[1],
        ..*exit
    };
    (chain, exit)
}

/// Movement of the crossing along the opening by ln speed, elevation, ln drag and share of lift, by central differences.
pub fn slopes_m(chain: &Chain, exit: &Exit, stance: &Stance) -> Option<[f64; 4]> {
    let along = |by: &[f64; 4]| {
        let (chain, exit) = changed(chain, exit, by);
        chain.crossing(&exit, stance).map(|c| c.along_m)
    };
    let mut out = [0.0; 4];
    for (k, slope) in out.iter_mut().enumerate() {
        let mut by = [0.0; 4];
        by[k] = STEP[k];
        let above = along(&by)?;
        by[k] = -STEP[k];
        *slope = (above - along(&by)?) / (2.0 * STEP[k]);
    }
    Some(out)
}
