//! The target: an opening in space, and what became of a piece thrown at it.
//!
//! Target frame: origin at the centre of the opening; `along` points in the plane of the opening
//! from the near rim to the far rim, `across` to the left of the thrower, and the inward normal
//! into the opening.

mod passing;

use crate::flight::{Accuracy, Ball, Medium, Path, Plane, State, Until, fly_to_accuracy};
use crate::numerics::vector::{add_scaled, cross, dot, norm, sub};

pub use passing::{Passing, passing};

/// Outline of the opening in its own plane.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outline {
    /// `width` across, `depth` along.
    Rectangle,
    /// A circle (or ellipse when width and depth differ) inscribed in width × depth.
    Round,
}

/// An opening in space, facing the thrower.
///
/// `tilt` turns its plane about the near rim: 0 is a level opening entered from above, 90° an
/// upright hoop entered from the front.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Target {
    /// Outline.
    pub outline: Outline,
    /// Height of the near (lowest) point of the rim.
    pub rim_height_m: f64,
    /// Size across.
    pub width_m: f64,
    /// Size along, in the plane of the opening.
    pub depth_m: f64,
    /// Tilt of the plane.
    pub tilt_rad: f64,
    /// Height of a back wall above the far rim; 0 for none.
    pub back_wall_m: f64,
    /// Height of side walls above the rim; 0 for none.
    pub side_wall_m: f64,
    /// Rebound of the walls: normal speed after over before.
    pub wall_bounce_coeff: f64,
    /// Height of a ceiling above the floor; infinite for none.
    pub ceiling_m: f64,
}

/// What became of a thrown piece.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Outcome {
    /// Through the opening without touching the rim.
    In,
    /// Touches the rim.
    Rim,
    /// Comes down before the near rim.
    Short,
    /// Passes beyond the far rim (above, for an upright opening).
    Long,
    /// Passes to the left.
    Left,
    /// Passes to the right.
    Right,
    /// Passes below the near rim.
    Under,
    /// Never arrives: hits the ceiling, or the flight does not end near the target.
    None,
}

impl Outcome {
    /// The word shown to people and written to files.
    pub fn word(self) -> &'static str {
        match self {
            Outcome::In => "in",
            Outcome::Rim => "rim",
            Outcome::Short => "short",
            Outcome::Long => "long",
            Outcome::Left => "left",
            Outcome::Right => "right",
            Outcome::Under => "under",
            Outcome::None => "none",
        }
    }
}

/// Where the near rim of a target stands in the field frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placement {
    /// x of the near rim.
    pub near_rim_m: f64,
    /// y of the target's centre line.
    pub centre_line_m: f64,
}

/// How the centre of the piece meets the plane of the opening.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Crossing {
    /// State at the crossing, field frame.
    pub state: State,
    /// Distance from the centre of the opening, positive beyond it.
    pub along_m: f64,
    /// Distance from the centre line, left positive.
    pub across_m: f64,
    /// Angle between the path and the plane of the opening, 90° straight in. For a level
    /// opening this is the angle below the level.
    pub entry_rad: f64,
}

/// Free room between the skin of the piece and each part of the rim along the whole path;
/// negative where they would overlap, infinite where a wall replaces the rim.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Clearance {
    /// Near rim.
    pub near_m: f64,
    /// Far rim.
    pub far_m: f64,
    /// Left rim.
    pub left_m: f64,
    /// Right rim.
    pub right_m: f64,
}

impl Clearance {
    /// The smallest of them.
    pub fn least_m(&self) -> f64 {
        self.near_m.min(self.far_m).min(self.left_m).min(self.right_m)
    }
}

/// A throw from release to its end at the target.
#[derive(Clone, Debug)]
pub struct Arrival {
    /// What became of it.
    pub outcome: Outcome,
    /// Crossing of the plane of the opening, if it came to that.
    pub crossing: Option<Crossing>,
    /// Rim clearances; `None` when the piece did not pass through or over the opening.
    pub clearance: Option<Clearance>,
    /// Walls touched before the crossing.
    pub wall_touches: u32,
    /// Flights between touches, in order; at least one.
    pub flights: Vec<Path>,
}

/// Friction of the piece on the target's walls. Assumed; common practice, no source.
const WALL_FRICTION_COEFF: f64 = 0.3;
/// Touches of a wall followed before the flight is given up.
const MOST_WALL_TOUCHES: u32 = 4;
/// Method: time limit of one flight; a light ball from 3 m at 15 m/s is down within 4 s.
const LONGEST_FLIGHT_S: f64 = 12.0;

impl Target {
    /// Unit vector in the plane of the opening from near to far rim.
    pub fn along_axis(&self) -> [f64; 3] {
        [self.tilt_rad.cos(), 0.0, self.tilt_rad.sin()]
    }

    /// Unit normal into the opening.
    pub fn inward(&self) -> [f64; 3] {
        [self.tilt_rad.sin(), 0.0, -self.tilt_rad.cos()]
    }

    /// Centre of the opening in the field frame.
    pub fn centre_m(&self, at: &Placement) -> [f64; 3] {
        let near = [at.near_rim_m, at.centre_line_m, self.rim_height_m];
        add_scaled(near, 0.5 * self.depth_m, self.along_axis())
    }

    /// Height of the centre of the opening.
    pub fn centre_height_m(&self) -> f64 {
        self.rim_height_m + 0.5 * self.depth_m * self.tilt_rad.sin()
    }

    /// Plane of the opening, crossed from outside to inside.
    pub fn plane(&self, at: &Placement) -> Plane {
        Plane {
            point_m: self.centre_m(at),
            normal: self.inward(),
        }
    }

    /// True for an opening that is entered mostly from the front.
    pub fn upright(&self) -> bool {
        self.tilt_rad > std::f64::consts::FRAC_PI_4
    }

    /// Is a point of the plane inside the opening?
    pub fn holds(&self, along_m: f64, across_m: f64) -> bool {
        let (u, v) = (along_m / (0.5 * self.depth_m), across_m / (0.5 * self.width_m));
        match self.outline {
            Outline::Rectangle => u.abs() <= 1.0 && v.abs() <= 1.0,
            Outline::Round => u * u + v * v <= 1.0,
        }
    }
}

/// Follows a piece from its release to its end at the target.
///
/// Walls turn it back with [`Target::wall_bounce_coeff`] and Coulomb friction; the rim is tested
/// along the whole path for a piece of finite size.
pub fn arrive(ball: &Ball, medium: &Medium, target: &Target, at: &Placement, release: &State) -> Arrival {
    let radius_m = 0.5 * ball.diameter_m;
    let until = Until {
        time_s: LONGEST_FLIGHT_S,
        floor_m: 0.0,
    };
    let mut start = *release;
    let mut flights = Vec::with_capacity(1);
    let mut wall_touches = 0;
    let mut clearance: Option<Clearance> = None;
    loop {
        let path = fly_to_accuracy(ball, medium, &start, &until, Accuracy::Quick);
        let crossing = first_crossing(&path, target, at);
        let touch = if wall_touches < MOST_WALL_TOUCHES {
            first_wall_touch(&path, target, at, radius_m, crossing.map(|c| c.state.time_s))
        } else {
            None
        };
        let ceiling = ceiling_touch(&path, target, radius_m);
        let stop_s = touch
            .as_ref()
            .map(|t| t.0.time_s)
            .or(crossing.map(|c| c.state.time_s));
        if let Some(hit_s) = ceiling
            && stop_s.is_none_or(|s| hit_s < s)
        {
            flights.push(path);
            return Arrival {
                outcome: Outcome::None,
                crossing: None,
                clearance: None,
                wall_touches,
                flights,
            };
        }
        let rim = rim_clearance(&path, target, at, radius_m, touch.as_ref().map(|t| t.0.time_s));
        clearance = Some(match (clearance, rim) {
            (Some(a), b) => Clearance {
                near_m: a.near_m.min(b.near_m),
                far_m: a.far_m.min(b.far_m),
                left_m: a.left_m.min(b.left_m),
                right_m: a.right_m.min(b.right_m),
            },
            (None, b) => b,
        });
        if let Some((state, outward)) = touch {
            start = rebound(&state, outward, target.wall_bounce_coeff, ball);
            wall_touches += 1;
            flights.push(path);
            continue;
        }
        let outcome = classify(&path, target, at, crossing.as_ref(), clearance.as_ref());
        flights.push(path);
        let near_it = crossing.is_some() && !matches!(outcome, Outcome::Under | Outcome::None);
        return Arrival {
            outcome,
            crossing,
            clearance: if near_it { clearance } else { None },
            wall_touches,
            flights,
        };
    }
}

/// Where a flight would cross the plane of the opening if no wall stood in the way.
pub fn direct_crossing(
    ball: &Ball,
    medium: &Medium,
    target: &Target,
    at: &Placement,
    release: &State,
) -> Option<Crossing> {
    let until = Until {
        time_s: LONGEST_FLIGHT_S,
        floor_m: 0.0,
    };
    first_crossing(
        &fly_to_accuracy(ball, medium, release, &until, Accuracy::Quick),
        target,
        at,
    )
}

/// Height of the centre above (outside) the plane of the opening, and its place in it.
fn in_target(target: &Target, at: &Placement, position_m: [f64; 3]) -> (f64, f64, f64) {
    let d = sub(position_m, target.centre_m(at));
    (dot(d, target.along_axis()), d[1], -dot(d, target.inward()))
}

fn first_crossing(path: &Path, target: &Target, at: &Placement) -> Option<Crossing> {
    let state = path.crossing(&target.plane(at))?;
    let (along_m, across_m, _) = in_target(target, at, state.position_m);
    let speed = norm(state.velocity_mps);
    let into = dot(state.velocity_mps, target.inward());
    let entry_rad = if speed > 0.0 {
        (into / speed).clamp(-1.0, 1.0).asin()
    } else {
        0.0
    };
    Some(Crossing {
        state,
        along_m,
        across_m,
        entry_rad,
    })
}

fn ceiling_touch(path: &Path, target: &Target, radius_m: f64) -> Option<f64> {
    if !target.ceiling_m.is_finite() {
        return None;
    }
    let plane = Plane {
        point_m: [0.0, 0.0, target.ceiling_m - radius_m],
        normal: [0.0, 0.0, 1.0],
    };
    path.crossing(&plane).map(|s| s.time_s)
}

/// First touch of a back or side wall before `until_s`: the state and the wall's outward normal.
fn first_wall_touch(
    path: &Path,
    target: &Target,
    at: &Placement,
    radius_m: f64,
    until_s: Option<f64>,
) -> Option<(State, [f64; 3])> {
    let far = add_scaled(target.centre_m(at), 0.5 * target.depth_m, target.along_axis());
    let half = 0.5 * target.width_m;
    let far_z = far[2];
    let mut best: Option<(State, [f64; 3])> = None;
    let mut offer = |state: State, outward: [f64; 3]| {
        let early = until_s.is_none_or(|t| state.time_s < t);
        if early && best.as_ref().is_none_or(|b| state.time_s < b.0.time_s) {
            best = Some((state, outward));
        }
    };
    if target.back_wall_m > 0.0 {
        let plane = Plane {
            point_m: [far[0] - radius_m, 0.0, 0.0],
            normal: [1.0, 0.0, 0.0],
        };
        if let Some(s) = path.crossing(&plane) {
            let z = s.position_m[2];
            let beside = (s.position_m[1] - at.centre_line_m).abs() <= half;
            if beside && z >= far_z && z <= far_z + target.back_wall_m {
                offer(s, [-1.0, 0.0, 0.0]);
            }
        }
    }
    if target.side_wall_m > 0.0 {
        for side in [1.0, -1.0] {
            // Inside faces only: a piece outside the walls is already a miss.
            let plane = Plane {
                point_m: [0.0, at.centre_line_m + side * (half - radius_m), 0.0],
                normal: [0.0, side, 0.0],
            };
            if let Some(s) = path.crossing(&plane) {
                let (along, _, above) = in_target(target, at, s.position_m);
                if along.abs() <= 0.5 * target.depth_m && above >= 0.0 && above <= target.side_wall_m {
                    offer(s, [0.0, -side, 0.0]);
                }
            }
        }
    }
    best
}

/// Rebound of a sphere from a plane wall with Coulomb friction.
///
/// ```text
/// J_n = m (1 + e) v_n;   J_t = min(μ J_n, |s| m k / (1 + k)) against s
/// s = slip velocity of the contact point;  Δv = J/m;  Δw = r (−n) × J_t / (k m r²)
/// ```
/// Rigid-body oblique impact of a sphere: sliding throughout, or rolling at the end
/// [cross-2002], neglecting tangential compliance.
fn rebound(state: &State, outward: [f64; 3], bounce_coeff: f64, ball: &Ball) -> State {
    let (k, r) = (ball.inertia_coeff.max(f64::MIN_POSITIVE), 0.5 * ball.diameter_m);
    let v = state.velocity_mps;
    let w = state.spin_radps;
    let into = -dot(v, outward);
    let arm = outward.map(|x| -r * x);
    let at_contact = add_scaled(v, 1.0, cross(w, arm));
    let slip = add_scaled(at_contact, -dot(at_contact, outward), outward);
    let slip_speed = norm(slip);
    let normal_dv = (1.0 + bounce_coeff) * into;
    let tangent_dv = (WALL_FRICTION_COEFF * normal_dv).min(slip_speed * k / (1.0 + k));
    let push = if slip_speed > 0.0 {
        slip.map(|x| -tangent_dv / slip_speed * x)
    } else {
        [0.0; 3]
    };
    let mut out = *state;
    out.velocity_mps = add_scaled(add_scaled(v, normal_dv, outward), 1.0, push);
    out.spin_radps = add_scaled(w, 1.0 / (k * r * r).max(f64::MIN_POSITIVE), cross(arm, push));
    out
}

/// Distance from the path of the centre to each part of the rim, less the radius.
///
/// The rim is taken as a thin edge, as of a hoop or a net. The window runs from release until the
/// piece is so deep inside that no rim can be nearer, or until it touches a wall.
fn rim_clearance(
    path: &Path,
    target: &Target,
    at: &Placement,
    radius_m: f64,
    until_s: Option<f64>,
) -> Clearance {
    let t0 = path.start().time_s;
    let mut inside = target.plane(at);
    let deep_m = radius_m + 0.5 * target.depth_m.max(target.width_m);
    inside.point_m = add_scaled(inside.point_m, deep_m, target.inward());
    let t1 = until_s
        .or_else(|| path.crossing(&inside).map(|s| s.time_s))
        .unwrap_or_else(|| path.end().time_s);
    let (hu, hv) = (0.5 * target.depth_m, 0.5 * target.width_m);
    let room = |f: &dyn Fn(f64, f64, f64) -> f64| -> f64 {
        let (d, _) = path.nearest(
            |p| {
                let (u, v, h) = in_target(target, at, p);
                f(u, v, h)
            },
            t0,
            t1,
        );
        d - radius_m
    };
    let beyond = |x: f64, half: f64| (x.abs() - half).max(0.0);
    let open = f64::INFINITY;
    match target.outline {
        Outline::Rectangle => Clearance {
            near_m: room(&|u, v, h| norm([u + hu, beyond(v, hv), h])),
            far_m: if target.back_wall_m > 0.0 {
                open
            } else {
                room(&|u, v, h| norm([u - hu, beyond(v, hv), h]))
            },
            left_m: if target.side_wall_m > 0.0 {
                open
            } else {
                room(&|u, v, h| norm([v - hv, beyond(u, hu), h]))
            },
            right_m: if target.side_wall_m > 0.0 {
                open
            } else {
                room(&|u, v, h| norm([v + hv, beyond(u, hu), h]))
            },
        },
        Outline::Round => {
            // One closed rim in four quarters: nearest point of the quarter that faces each way.
            let quarter = |toward: [f64; 2]| {
                move |u: f64, v: f64, h: f64| {
                    let (ru, rv) = nearest_on_ellipse(u, v, hu, hv, toward);
                    norm([u - ru, v - rv, h])
                }
            };
            Clearance {
                near_m: room(&quarter([-1.0, 0.0])),
                far_m: if target.back_wall_m > 0.0 {
                    open
                } else {
                    room(&quarter([1.0, 0.0]))
                },
                left_m: room(&quarter([0.0, 1.0])),
                right_m: room(&quarter([0.0, -1.0])),
            }
        }
    }
}

/// Nearest point to (u, v) on the quarter of an ellipse (half axes `hu`, `hv`) centred on `toward`.
fn nearest_on_ellipse(u: f64, v: f64, hu: f64, hv: f64, toward: [f64; 2]) -> (f64, f64) {
    let middle = toward[1].atan2(toward[0]);
    let point = |a: f64| (hu * a.cos(), hv * a.sin());
    let far2 = |a: f64| {
        let (x, y) = point(a);
        (x - u).powi(2) + (y - v).powi(2)
    };
    // Eighty golden-section steps would be wasted: 24 leave 1e-5 of a quarter turn.
    const STEPS: usize = 24;
    let (mut lo, mut hi) = (
        middle - std::f64::consts::FRAC_PI_4,
        middle + std::f64::consts::FRAC_PI_4,
    );
    if (hu - hv).abs() <= f64::EPSILON * hu.abs() {
        let mut turn = v.atan2(u) - middle;
        turn -= std::f64::consts::TAU * (turn / std::f64::consts::TAU).round();
        return point(middle + turn.clamp(-std::f64::consts::FRAC_PI_4, std::f64::consts::FRAC_PI_4));
    }
    const GOLDEN: f64 = 0.618_033_988_749_894_8;
    let (mut a, mut b) = (hi - GOLDEN * (hi - lo), lo + GOLDEN * (hi - lo));
    let (mut fa, mut fb) = (far2(a), far2(b));
    for _ in 0..STEPS {
        if fa < fb {
            hi = b;
            (b, fb) = (a, fa);
            a = hi - GOLDEN * (hi - lo);
            fa = far2(a);
        } else {
            lo = a;
            (a, fa) = (b, fb);
            b = lo + GOLDEN * (hi - lo);
            fb = far2(b);
        }
    }
    point(0.5 * (lo + hi))
}

fn classify(
    path: &Path,
    target: &Target,
    at: &Placement,
    crossing: Option<&Crossing>,
    clearance: Option<&Clearance>,
) -> Outcome {
    // A piece that rises through the opening from below has gone through the target's body.
    let outside = Plane {
        point_m: target.centre_m(at),
        normal: target.inward().map(|x| -x),
    };
    if let Some(s) = path.crossing(&outside) {
        let (u, v, _) = in_target(target, at, s.position_m);
        if target.holds(u, v) {
            return Outcome::Under;
        }
    }
    let Some(c) = crossing else {
        if !path.end().position_m.iter().all(|x| x.is_finite()) {
            return Outcome::None;
        }
        // Never down through the plane: either it fell before the target or it passed below the rim.
        let near = Plane {
            point_m: [at.near_rim_m, 0.0, 0.0],
            normal: [1.0, 0.0, 0.0],
        };
        return match path.crossing(&near) {
            Some(s) if s.position_m[2] < target.rim_height_m => Outcome::Under,
            Some(_) => Outcome::None,
            None => Outcome::Short,
        };
    };
    of_crossing(
        target,
        c.along_m,
        c.across_m,
        clearance.is_some_and(|k| k.least_m() < 0.0),
    )
}

/// The outcome of a piece that comes down through the plane of the opening at a point, and touches the rim or
/// not. Range first, then side: the rule a helper on the floor uses too.
fn of_crossing(target: &Target, along_m: f64, across_m: f64, touches: bool) -> Outcome {
    let half_depth = 0.5 * target.depth_m;
    let half_width = 0.5 * target.width_m;
    if touches {
        return Outcome::Rim;
    }
    if target.holds(along_m, across_m) {
        return Outcome::In;
    }
    if along_m < -half_depth {
        if target.upright() {
            Outcome::Under
        } else {
            Outcome::Short
        }
    } else if along_m > half_depth {
        Outcome::Long
    } else if across_m >= half_width && across_m > 0.0 {
        Outcome::Left
    } else if across_m <= -half_width && across_m < 0.0 {
        Outcome::Right
    } else if target.outline == Outline::Round {
        // In a corner of the square around a round opening: the larger share decides.
        let (u, v) = (along_m / half_depth, across_m / half_width);
        match (u.abs() >= v.abs(), u < 0.0, v > 0.0) {
            (true, true, _) if target.upright() => Outcome::Under,
            (true, true, _) => Outcome::Short,
            (true, false, _) => Outcome::Long,
            (false, _, true) => Outcome::Left,
            (false, _, false) => Outcome::Right,
        }
    } else {
        Outcome::None
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flight::{Drag, DragLaw, Lift, SpinDecay};

    fn ball(diameter_m: f64) -> Ball {
        Ball {
            mass_kg: 0.06,
            diameter_m,
            inertia_coeff: 2.0 / 3.0,
            drag: Drag {
                law: DragLaw::None,
                scale_ratio: 1.0,
            },
            lift: Lift::None,
            spin_decay: SpinDecay::None,
            buoyancy: false,
            added_mass_coeff: 0.0,
        }
    }

    fn medium(gravity_mps2: f64) -> Medium {
        Medium {
            density_kgpm3: 1.2,
            viscosity_pas: 1.81e-5,
            wind_mps: [0.0; 3],
            gravity_mps2,
        }
    }

    fn well(outline: Outline) -> Target {
        Target {
            outline,
            rim_height_m: 1.0,
            width_m: 0.30,
            depth_m: 0.30,
            tilt_rad: 0.0,
            back_wall_m: 0.0,
            side_wall_m: 0.0,
            wall_bounce_coeff: 0.5,
            ceiling_m: f64::INFINITY,
        }
    }

    const AT: Placement = Placement {
        near_rim_m: 2.0,
        centre_line_m: 0.0,
    };

    fn state(position_m: [f64; 3], velocity_mps: [f64; 3]) -> State {
        State {
            time_s: 0.0,
            position_m,
            velocity_mps,
            spin_radps: [0.0; 3],
        }
    }

    /// Thrown so that gravity alone brings it to `along_m` from the centre, descending.
    fn lob(along_m: f64, across_m: f64) -> State {
        // 1.2 s of flight from 0.5 m below the rim, no drag: v_z = (h + g t²/2)/t.
        let (t, g) = (1.2, 9.80665);
        let vz = (0.5 + 0.5 * g * t * t) / t;
        state([0.0, 0.0, 0.5], [(2.15 + along_m) / t, across_m / t, vz])
    }

    fn outcome(target: &Target, along_m: f64, across_m: f64) -> Outcome {
        arrive(&ball(0.1), &medium(9.80665), target, &AT, &lob(along_m, across_m)).outcome
    }

    /// A piece of diameter D on a straight path at angle ε into a level opening of width W keeps
    /// (W sin ε − D)/2 from each rim: plane geometry.
    #[test]
    fn a_straight_path_keeps_half_of_w_sin_eps_minus_d_from_each_rim() {
        for eps_deg in [25.0f64, 40.0, 70.0] {
            let eps = eps_deg.to_radians();
            let start = [2.15 - 3.0 * eps.cos(), 0.0, 1.0 + 3.0 * eps.sin()];
            let s = state(start, [8.0 * eps.cos(), 0.0, -8.0 * eps.sin()]);
            let a = arrive(&ball(0.1), &medium(0.0), &well(Outline::Rectangle), &AT, &s);
            let c = a.crossing.unwrap();
            assert!((c.entry_rad - eps).abs() < 1e-9, "{c:?}");
            assert!(c.along_m.abs() < 1e-9);
            let k = a.clearance.unwrap();
            let want = 0.5 * (0.30 * eps.sin() - 0.1);
            assert!((k.near_m - want).abs() < 1e-6, "{k:?} {want}");
            assert!((k.far_m - want).abs() < 1e-6, "{k:?} {want}");
            let fits = 0.30 * eps.sin() >= 0.1;
            assert_eq!(a.outcome, if fits { Outcome::In } else { Outcome::Rim });
        }
    }

    #[test]
    fn a_round_rim_is_as_near_as_the_square_one_along_and_nearer_off_the_axis() {
        let start = |across: f64| state([2.15, across, 3.0], [0.0, 0.0, -5.0]);
        let at = |outline, across| {
            arrive(&ball(0.05), &medium(9.80665), &well(outline), &AT, &start(across))
                .clearance
                .unwrap()
        };
        let (round, square) = (at(Outline::Round, 0.0), at(Outline::Rectangle, 0.0));
        for k in [round, square] {
            assert!((k.least_m() - 0.125).abs() < 1e-6, "{k:?}");
        }
        let off = at(Outline::Round, 0.1);
        assert!((off.left_m - (0.05 - 0.025)).abs() < 1e-6, "{off:?}");
        // The right quarter ends 45° off the axis; its end is its nearest point.
        let corner = 0.15 * std::f64::consts::FRAC_1_SQRT_2;
        assert!(
            (off.right_m - (corner.hypot(0.1 + corner) - 0.025)).abs() < 1e-6,
            "{off:?}"
        );
    }

    #[test]
    fn longer_throws_go_from_short_over_rim_and_in_to_long() {
        let t = well(Outline::Rectangle);
        let seen: Vec<Outcome> = [-0.30, -0.14, 0.0, 0.14, 0.30]
            .iter()
            .map(|a| outcome(&t, *a, 0.0))
            .collect();
        use Outcome::*;
        assert_eq!(seen, [Short, Rim, In, Rim, Long]);
    }

    #[test]
    fn left_and_right_are_the_throwers_and_range_is_named_before_side() {
        let t = well(Outline::Rectangle);
        assert_eq!(outcome(&t, 0.0, 0.4), Outcome::Left);
        assert_eq!(outcome(&t, 0.0, -0.4), Outcome::Right);
        assert_eq!(outcome(&t, -0.4, 0.4), Outcome::Short);
    }

    #[test]
    fn a_throw_that_passes_below_the_rim_is_under_and_one_that_falls_early_is_short() {
        let t = well(Outline::Rectangle);
        let flat = state([0.0, 0.0, 0.5], [9.0, 0.0, 1.0]);
        let weak = state([0.0, 0.0, 0.5], [1.0, 0.0, 1.0]);
        let go = |s: &State| arrive(&ball(0.1), &medium(9.80665), &t, &AT, s).outcome;
        assert_eq!(go(&flat), Outcome::Under);
        assert_eq!(go(&weak), Outcome::Short);
    }

    #[test]
    fn a_throw_up_through_the_bottom_of_the_opening_does_not_count() {
        let t = well(Outline::Rectangle);
        let below = state([2.15, 0.0, 0.2], [0.0, 0.0, 6.0]);
        assert_eq!(
            arrive(&ball(0.1), &medium(9.80665), &t, &AT, &below).outcome,
            Outcome::Under
        );
    }

    #[test]
    fn a_low_ceiling_stops_the_flight() {
        let mut t = well(Outline::Rectangle);
        assert_eq!(outcome(&t, 0.0, 0.0), Outcome::In);
        t.ceiling_m = 2.0;
        assert_eq!(outcome(&t, 0.0, 0.0), Outcome::None);
    }

    #[test]
    fn a_back_wall_turns_a_long_throw_into_the_opening() {
        let mut t = well(Outline::Rectangle);
        t.depth_m = 0.5;
        // Flat and fast: passes just above the far rim without the wall.
        let s = state([0.0, 0.0, 1.3], [8.0, 0.0, 0.9]);
        let go = |t: &Target| arrive(&ball(0.1), &medium(9.80665), t, &AT, &s);
        assert_eq!(go(&t).outcome, Outcome::Long);
        t.back_wall_m = 0.5;
        let a = go(&t);
        assert_eq!((a.outcome, a.wall_touches, a.flights.len()), (Outcome::In, 1, 2));
    }

    #[test]
    fn an_upright_hoop_is_entered_from_the_front_and_misses_above_are_long() {
        let mut t = well(Outline::Round);
        (t.tilt_rad, t.width_m, t.depth_m) = (std::f64::consts::FRAC_PI_2, 0.56, 0.56);
        let aimed_at = |z: f64| {
            let (d, v) = (2.0, 9.0);
            let time = d / v;
            let vz = (z - 1.0 + 0.5 * 9.80665 * time * time) / time;
            arrive(
                &ball(0.1),
                &medium(9.80665),
                &t,
                &AT,
                &state([0.0, 0.0, 1.0], [v, 0.0, vz]),
            )
        };
        let a = aimed_at(1.28);
        assert_eq!(a.outcome, Outcome::In);
        assert!(a.crossing.unwrap().along_m.abs() < 1e-6);
        assert_eq!(aimed_at(1.9).outcome, Outcome::Long);
        assert_eq!(aimed_at(0.6).outcome, Outcome::Under);
        assert_eq!(aimed_at(1.02).outcome, Outcome::Rim);
    }

    /// Oblique impact of a sphere without spin: sliding throughout takes μ(1+e)v_n from the
    /// tangential speed; gripping leaves v_t/(1+k) [cross-2002].
    #[test]
    fn rebound_follows_the_oblique_impact_rules_of_a_sphere() {
        let b = ball(0.1);
        let k = b.inertia_coeff;
        let wall = [-1.0, 0.0, 0.0];
        let slide = rebound(&state([0.0; 3], [2.0, 0.0, -6.0]), wall, 0.5, &b);
        assert!((slide.velocity_mps[0] + 1.0).abs() < 1e-12);
        assert!(
            (slide.velocity_mps[2] + 6.0 - 0.3 * 1.5 * 2.0).abs() < 1e-12,
            "{slide:?}"
        );
        let grip = rebound(&state([0.0; 3], [4.0, 0.0, -1.0]), wall, 0.5, &b);
        assert!((grip.velocity_mps[2] + 1.0 / (1.0 + k)).abs() < 1e-12, "{grip:?}");
        // Ends rolling: the contact point on the wall stands still.
        let contact = add_scaled(grip.velocity_mps, 1.0, cross(grip.spin_radps, [0.05, 0.0, 0.0]));
        assert!(
            contact[1].abs() < 1e-12 && contact[2].abs() < 1e-12,
            "{contact:?}"
        );
    }
}
