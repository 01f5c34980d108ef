//! The outcome of a throw from its path near the opening alone: quick, for many throws.

use super::{Outcome, Outline, Target, nearest_on_ellipse, of_crossing};
use crate::numerics::vector::norm;

/// How a piece passes the plane of the opening, as far as its path near the plane tells.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Passing {
    /// Outcome.
    pub outcome: Outcome,
    /// How far the deciding distance is from where another outcome begins.
    pub margin_m: f64,
}

/// The outcome of a piece whose centre crosses the plane of the opening at a point with a velocity, its path
/// near the plane taken as a parabola. All in the target frame: along, across, outward.
///
/// `None` where what happens away from the plane may decide: at walls, or without a path down through it.
pub fn passing(
    target: &Target,
    radius_m: f64,
    [along_m, across_m]: [f64; 2],
    velocity_mps: [f64; 3],
    acceleration_mps2: [f64; 3],
) -> Option<Passing> {
    /// Method: looks at the path this many times on each side of the crossing, then closer at the nearest.
    const LOOKS: i32 = 8;
    const CLOSER: usize = 6;
    /// Physical: a path that meets the plane more flatly is followed properly.
    const FLATTEST: f64 = 0.15;
    let speed = norm(velocity_mps);
    if !(speed.is_finite() && speed > 0.0 && along_m.is_finite() && across_m.is_finite()) {
        return None;
    }
    let (hu, hv) = (0.5 * target.depth_m, 0.5 * target.width_m);
    let steep = -velocity_mps[2] / speed;
    let (walled_back, walled_sides) = (target.back_wall_m > 0.0, target.side_wall_m > 0.0);
    if walled_back && (along_m > hu - radius_m || target.outline == Outline::Round)
        || walled_sides && across_m.abs() > hv - radius_m
        || steep < FLATTEST
    {
        return None;
    }
    let beyond = |x: f64, half: f64| (x.abs() - half).max(0.0);
    let distance = |t: f64| {
        let at = |k: usize, start: f64| start + t * (velocity_mps[k] + 0.5 * t * acceleration_mps2[k]);
        let (u, v, h) = (at(0, along_m), at(1, across_m), at(2, 0.0));
        match target.outline {
            Outline::Round if (hu - hv).abs() <= f64::EPSILON * hu => (u.hypot(v) - hu).hypot(h),
            Outline::Round => {
                let (ru, rv) = nearest_on_ellipse(u, v, hu, hv, [u, v]);
                norm([u - ru, v - rv, h])
            }
            Outline::Rectangle => {
                // A wall stands in the place of a rim.
                let from_rim = if walled_back { u + hu } else { u.abs() - hu };
                let lengthways = from_rim.hypot(beyond(v, hv)).hypot(h);
                let sideways = (v.abs() - hv).hypot(beyond(u, hu)).hypot(h);
                if walled_sides {
                    lengthways
                } else {
                    lengthways.min(sideways)
                }
            }
        }
    };
    let step = radius_m * (0.5 + 1.2 / steep) / (f64::from(LOOKS) * speed);
    let (mut best, mut least) = (0.0, f64::INFINITY);
    for i in -LOOKS..=LOOKS {
        let t = f64::from(i) * step;
        let d = distance(t);
        if d < least {
            (best, least) = (t, d);
        }
    }
    let mut half = 0.5 * step;
    for _ in 0..CLOSER {
        for t in [best - half, best + half] {
            let d = distance(t);
            if d < least {
                (best, least) = (t, d);
            }
        }
        half *= 0.5;
    }
    let room = least - radius_m;
    let outcome = of_crossing(target, along_m, across_m, room < 0.0);
    let margin_m = match outcome {
        Outcome::In | Outcome::Rim => room.abs(),
        // Which kind of miss it is changes at the lines of the four sides.
        _ => room.min((along_m.abs() - hu).abs()),
    };
    Some(Passing { outcome, margin_m })
}
