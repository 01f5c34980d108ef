//! What the scenes of discs in a plane have in common: discs are balls whose centres share one plane.

use arcwright_model::feed::shape::Wall;
use arcwright_model::feed::world::{Ball, CONTACT_STEPS_COUNT, Surfaces, World};
use arcwright_model::units::STANDARD_GRAVITY_MPS2 as G;

pub(crate) const DIAMETER_M: f64 = 0.1;
pub(crate) const DISC_KG: f64 = 0.1;

/// A world without walls in which discs have one friction with everything and roll without loss; the step suits the lightest.
pub(crate) fn world(press_npm: f64, bounce_coeff: f64, friction_coeff: f64, lightest_kg: f64) -> World {
    let surfaces = Surfaces {
        press_npm,
        bounce_coeff,
        friction_coeff,
        piece_friction_coeff: friction_coeff,
        roller_friction_coeff: 0.0,
        rolling_coeff: 0.0,
    };
    let mut w = World::new(surfaces, lightest_kg, CONTACT_STEPS_COUNT);
    w.gravity_mps2 = [0.0, 0.0, -G];
    w
}

/// A disc at rest.
pub(crate) fn disc(number: usize, mass_kg: f64, [x, z]: [f64; 2]) -> Ball {
    Ball {
        radius_m: 0.5 * DIAMETER_M,
        mass_kg,
        inertia_coeff: 0.5,
        at_m: [x, 0.0, z],
        velocity_mps: [0.0; 3],
        spin_radps: [0.0; 3],
        number,
    }
}

/// A level wall across a pipe or hopper.
pub(crate) fn plate(width_m: f64, height_m: f64) -> Wall {
    let (w, a) = (0.5 * width_m, 1.0);
    Wall::new(&[
        [-w, -a, height_m],
        [w, -a, height_m],
        [w, a, height_m],
        [-w, a, height_m],
    ])
}
