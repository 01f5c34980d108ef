//! How far the crossing of a plane moves with speed and with elevation.

use super::solve::{Until, fly};
use super::{Ball, Medium, Plane, State};
use crate::numerics::difference::central_derivative;
use crate::numerics::vector::norm;

/// Movement of the crossing point for each m/s of launch speed, in m per m/s.
///
/// The initial velocity is scaled in size; start point and spin stay. Central differences
/// with one Richardson extrapolation, good to about 1e-9. `None` if the plane is not crossed
/// on either side of the given speed, or without speed.
pub fn dposition_dspeed(
    ball: &Ball,
    medium: &Medium,
    start: &State,
    plane: &Plane,
    until: &Until,
) -> Option<[f64; 3]> {
    let speed_mps = norm(start.velocity_mps);
    if speed_mps.is_nan() || speed_mps <= 0.0 {
        return None;
    }
    let crossing = |speed: f64| {
        let velocity_mps = start.velocity_mps.map(|v| v * (speed / speed_mps));
        let turned = State {
            velocity_mps,
            ..*start
        };
        fly(ball, medium, &turned, until)
            .crossing(plane)
            .map(|s| s.position_m)
    };
    central_derivative(crossing, speed_mps, DIFFERENCE * speed_mps)
}

/// Movement of the crossing point for each radian of launch elevation, in m/rad.
///
/// The initial velocity is turned in its vertical plane, azimuth kept; start point and spin
/// stay. As accurate as [`dposition_dspeed`]; `None` in the same cases.
pub fn dposition_delevation(
    ball: &Ball,
    medium: &Medium,
    start: &State,
    plane: &Plane,
    until: &Until,
) -> Option<[f64; 3]> {
    let [vx, vy, vz] = start.velocity_mps;
    let (speed, azimuth) = (norm(start.velocity_mps), vy.atan2(vx));
    if speed.is_nan() || speed <= 0.0 {
        return None;
    }
    let crossing = |elevation: f64| {
        let level = speed * elevation.cos();
        let velocity_mps = [
            level * azimuth.cos(),
            level * azimuth.sin(),
            speed * elevation.sin(),
        ];
        let turned = State {
            velocity_mps,
            ..*start
        };
        fly(ball, medium, &turned, until)
            .crossing(plane)
            .map(|s| s.position_m)
    };
    central_derivative(crossing, vz.atan2(vx.hypot(vy)), DIFFERENCE)
}

/// Method: the difference's own error is about the fourth power of this, that of the flight about 1e-12
/// divided by it; both are then near 1e-9.
const DIFFERENCE: f64 = 2e-3;
