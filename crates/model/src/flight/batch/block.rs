//! A block of lanes flown together to the plane.
//!
//! Lanes that have ended are swapped behind the ones that fly, so that the groups of the
//! next step are full. A lane goes through:
//!
//! 1. steps as long as the rule allows (see [`THETA`]), the last ones aimed at the plane by the
//!    parabola through the present state;
//! 2. when the plane is near, one short step onto it and a polish along the parabola;
//! 3. or, where the plane is grazed or a number is not finite, the careful path of one lane.

use super::stages::{Constants, GROUP, Lanes, Spin, Vectors, acceleration, cooper_verner, landing_step};

/// Groups in a block.
const GROUPS: usize = 8;
/// Lanes in a block: few enough for the fastest cache.
pub(super) const BLOCK: usize = GROUPS * GROUP;

/// What is the same for every lane.
#[derive(Clone, Copy, Debug)]
pub(super) struct Course {
    /// 1/τ of the spin, 1/s; zero without decay.
    pub(super) decay_rate: f64,
    /// Latest time of a crossing.
    pub(super) time_s: f64,
    /// Lowest height of a crossing on the way down.
    pub(super) floor_m: f64,
    /// Longest step.
    pub(super) longest_s: f64,
}

macro_rules! lanes {
    ($($(#[$doc:meta])* $name:ident),+ $(,)?) => {
        /// Lanes of a group, one number of each for every quantity. Vectors are in the lane's own
        /// frame, which moves with the wind, has y along the spin and gravity without an x.
        #[derive(Clone, Debug)]
        pub(super) struct Group {
            $( $(#[$doc])* pub(super) $name: Lanes, )+
            /// Place of the lane's throw in the block.
            pub(super) throw: [u32; GROUP],
        }

        impl Group {
            const EMPTY: Group = Group { $( $name: Lanes::ZERO, )+ throw: [0; GROUP] };

            #[inline(always)]
            fn swap(&mut self, i: usize, other: &mut Group, j: usize) {
                $( std::mem::swap(&mut self.$name[i], &mut other.$name[j]); )+
                std::mem::swap(&mut self.throw[i], &mut other.throw[j]);
            }
        }
    };
}

lanes! {
    /// Time since the start.
    t,
    /// Way from the start.
    x, y, z,
    /// Velocity through the air.
    vx, vy, vz,
    /// Acceleration at the present state.
    ax, ay, az,
    /// Fraction of the spin left.
    e,
    /// See [`Constants`].
    drag, lift, level, reynolds, gravity_y, gravity_z,
    /// Direction of the spin, field frame: y of the lane's frame.
    yx, yy, yz,
    /// z of the lane's frame, field frame.
    zx, zy, zz,
    /// Normal of the plane, and the distance of the start from it.
    nx, ny, nz, g_start,
    /// Height of the start.
    height_start,
    /// Wind along the normal, and upward.
    wind_n, wind_z,
    /// Length of the next step.
    h,
    /// Time to the crossing by the parabola through the present state; infinite if that has none.
    to_plane,
    /// Step that the rule allows.
    reach,
    /// Distance to the plane along its normal, and its rate, at the state before the last step.
    g_before, rate_before,
    /// Vertical speed before the last step.
    climb_before,
    /// Length of the last step.
    h_before,
    /// 1 when the lane has crossed and steps back to the crossing.
    crossed,
    /// What becomes of the lane: see [`fate`].
    fate,
}

/// What becomes of a lane, as a number so that lanes can be told apart without a branch.
pub(super) mod fate {
    /// Flies on.
    pub(in super::super) const FLIES: f64 = 0.0;
    /// Lands by a short step.
    pub(in super::super) const ARRIVES: f64 = 1.0;
    /// Never crosses.
    pub(in super::super) const MISSES: f64 = 2.0;
    /// Is left to the careful path.
    pub(in super::super) const CAREFUL: f64 = 3.0;
    /// Has turned within the last step near the plane: look closer.
    pub(in super::super) const TURNED: f64 = 4.0;
}

/// Method: the step is this multiple of the time in which the motion changes by itself,
///
/// ```text
/// h = THETA √(v²/(a² + 8 a_air²)),   a_air: the part of the acceleration that the air causes
/// ```
///
/// with only the velocity across the spin in v where the lift depends on it alone. The error of
/// a flight grows with the eighth power of THETA; at this size every throw of both reference
/// problems, and thousands of wilder ones, stay within 7e-7 m (tested at 1e-6 m).
const THETA: f64 = 0.75;
/// Method: weight of the air's part. Gravity bends the path but adds no error; the air does both. Chosen
/// so that the errors of very different throws come out alike.
const AIR_WEIGHT: f64 = 8.0;
/// Method: where the plane is met at a shallow angle an error shows many times over, and the step is down to
/// 0.72 of the rule. This is the square of the sine of the angle at half of that.
const SHALLOW: f64 = 0.02;
/// Method: an aimed step may be this much longer than the rule allows, if it saves a step.
const STRETCH: f64 = 1.1;
/// Method: the plane is near when the step to it is this part of the step of the rule; order four is then enough.
const NEAR: f64 = 0.1;
/// Method: a turning point this close to the plane is left to the careful path; the cubic that
/// tells is right to a centimetre.
const GRAZE_M: f64 = 0.02;
/// Method: a lane that overshot by more than this many steps is left to the careful path.
const OVERSHOOT: f64 = 1.5;
/// Method: the landing step misses the plane by under a millimetre; the parabola is then right to 1e-10 m.
const POLISH_S: f64 = 1e-3;
/// Method: an ordinary throw takes under ten steps, one through standstill a few dozen.
const MOST_STEPS: usize = 48;

/// A block of lanes.
#[derive(Clone, Debug)]
pub(super) struct Block {
    pub(super) groups: [Group; GROUPS],
    /// Lanes filled.
    pub(super) count: usize,
}

impl Block {
    pub(super) fn empty() -> Block {
        Block {
            groups: [Group::EMPTY; GROUPS],
            count: 0,
        }
    }
}

impl Group {
    #[inline(always)]
    fn constants(&self) -> Constants {
        Constants {
            drag: self.drag,
            lift: self.lift,
            level: self.level,
            reynolds: self.reynolds,
            gravity: [self.gravity_y, self.gravity_z],
        }
    }
}

/// Flies every lane of a block. Afterwards `fate` says what became of each, and the lanes
/// that arrived are at their crossing.
#[inline(always)]
pub(super) fn fly_block<const CURVE: bool, const ACROSS: bool>(b: &mut Block, course: &Course) {
    let used = b.count.div_ceil(GROUP).min(GROUPS);
    for group in b.groups.iter_mut().take(used) {
        advance::<CURVE, ACROSS, false>(group, course);
    }
    let mut active = close_ranks(b, used);
    for _ in 0..MOST_STEPS {
        if active == 0 {
            break;
        }
        for group in b.groups.iter_mut().take(active) {
            advance::<CURVE, ACROSS, true>(group, course);
        }
        active = close_ranks(b, active);
    }
    for group in b.groups.iter_mut().take(used) {
        land::<CURVE, ACROSS>(group, course);
    }
}

/// Brings the lanes that fly into the fewest groups, at the front, when that saves one.
/// Returns the number of groups that hold a lane that flies.
#[inline(always)]
fn close_ranks(b: &mut Block, active: usize) -> usize {
    let active = active.min(GROUPS);
    let mut flying = 0;
    for group in b.groups.iter_mut().take(active) {
        for l in 0..GROUP {
            if group.fate[l] == fate::TURNED {
                look_closer(group, l);
            }
            flying += usize::from(group.fate[l] == fate::FLIES);
        }
    }
    let needed = flying.div_ceil(GROUP);
    if needed == active {
        return active;
    }
    let (mut front, mut back) = (0, active * GROUP);
    let (kept, freed) = b.groups.split_at_mut(needed.min(GROUPS));
    loop {
        while front < needed * GROUP && kept[front / GROUP].fate[front % GROUP] == fate::FLIES {
            front += 1;
        }
        let mut place = back - needed * GROUP;
        while place > 0 && freed[(place - 1) / GROUP].fate[(place - 1) % GROUP] != fate::FLIES {
            place -= 1;
        }
        back = place + needed * GROUP;
        if front >= needed * GROUP || place == 0 {
            return needed;
        }
        let (to, from) = (&mut kept[front / GROUP], &mut freed[(place - 1) / GROUP]);
        to.swap(front % GROUP, from, (place - 1) % GROUP);
    }
}

/// Takes one step of the lanes of a group that fly, if `STEP`; then works out the acceleration, the
/// next step and the fate of each lane.
#[inline(always)]
fn advance<const CURVE: bool, const ACROSS: bool, const STEP: bool>(b: &mut Group, course: &Course) {
    let c = b.constants();
    let mut r = [b.x, b.y, b.z];
    let mut v = [b.vx, b.vy, b.vz];
    let (mut t, mut e) = (b.t, b.e);
    if STEP {
        let k1 = [b.ax, b.ay, b.az];
        let mut own = Lanes::ZERO;
        for l in 0..GROUP {
            own[l] = if b.fate[l] == fate::FLIES { b.h[l] } else { 0.0 };
        }
        let spin = Spin::over(&e, &own, course.decay_rate);
        let (path, speed) = cooper_verner::<CURVE, ACROSS>(&v, &k1, &own, &spin, &c);
        for l in 0..GROUP {
            t[l] += own[l];
            for i in 0..3 {
                r[i][l] += path[i][l];
                v[i][l] += speed[i][l];
            }
        }
        e = spin.whole;
        b.t = t;
        b.e = e;
        b.x = r[0];
        b.y = r[1];
        b.z = r[2];
        b.vx = v[0];
        b.vy = v[1];
        b.vz = v[2];
    }
    for l in 0..GROUP {
        let k = acceleration::<CURVE, ACROSS>([v[0][l], v[1][l], v[2][l]], e[l], &c, l);
        let g =
            b.g_start[l] + (b.nx[l] * r[0][l] + b.ny[l] * r[1][l] + b.nz[l] * r[2][l] + b.wind_n[l] * t[l]);
        let rate = b.nx[l] * v[0][l] + b.ny[l] * v[1][l] + b.nz[l] * v[2][l] + b.wind_n[l];
        let bend = b.nx[l] * k[0] + b.ny[l] * k[1] + b.nz[l] * k[2];
        // The parabola through the present state rises through the plane at `ahead` with rate `root`.
        let square = (rate * rate - 2.0 * g * bend).max(0.0);
        let root = square * inverse_root(square, 2);
        let rising = rate > 0.0;
        let ahead = if rising { -2.0 * g } else { root - rate } / if rising { rate + root } else { bend };
        let ahead = if square > 0.0 { ahead } else { f64::INFINITY };
        // The rule of THETA, shorter where the plane is met at a shallow angle.
        let v2 = v[0][l] * v[0][l] + v[1][l] * v[1][l] + v[2][l] * v[2][l];
        let a2 = k[0] * k[0] + k[1] * k[1] + k[2] * k[2];
        let (air_y, air_z) = (k[1] - c.gravity[0][l], k[2] - c.gravity[1][l]);
        let hard = a2 + AIR_WEIGHT * (k[0] * k[0] + air_y * air_y + air_z * air_z);
        let steep = inverse_root(square + SHALLOW * v2, 1);
        let angle = 0.72 + 0.28 * (square * steep * steep);
        // Lift turns with the velocity across the spin alone, which may be slower.
        let across2 = v[0][l] * v[0][l] + v[2][l] * v[2][l];
        let slow2 = if ACROSS & (c.lift[l] != 0.0) { across2 } else { v2 };
        let longest = (THETA * slow2 * inverse_root(slow2 * hard, 1) * angle).min(course.longest_s);
        let near = rising & (ahead.abs() <= NEAR * longest);
        // What the last step did.
        let (was_behind, behind) = (b.g_before[l] < 0.0, g < 0.0);
        let passed = (b.crossed[l] != 0.0) | (was_behind & !behind);
        let third = b.h_before[l] * (1.0 / 3.0);
        let (inner_a, inner_b) = (b.g_before[l] + third * b.rate_before[l], g - third * rate);
        let topped = was_behind & behind & (b.rate_before[l] > 0.0) & (rate < 0.0);
        let topped = topped & (inner_a.max(inner_b) > -GRAZE_M);
        let dipped = !was_behind & !behind & (b.rate_before[l] < 0.0) & rising;
        let dipped = dipped & (inner_a.min(inner_b) < GRAZE_M);
        let turned = !passed & (topped | dipped);
        let arrives = near & (passed | behind);
        let climb = b.yz[l] * v[1][l] + b.zz[l] * v[2][l] + b.wind_z[l];
        let height = b.height_start[l] + b.yz[l] * r[1][l] + b.zz[l] * r[2][l] + b.wind_z[l] * t[l];
        let over = (t[l] > course.time_s) | ((height < course.floor_m) & (climb < 0.0));
        // Out of a dive within the step: it may have been below the floor.
        let dive = b.climb_before[l] * b.h_before[l].abs();
        let pulled_out = (b.climb_before[l] < 0.0) & (climb > 0.0) & (height + dive < course.floor_m);
        let lost = passed & !arrives & (ahead.abs() > OVERSHOOT * longest);
        let sound = longest > 0.0;
        let careful = !sound | lost | pulled_out;
        let free = if (ahead <= 0.0) | (ahead >= 2.0 * longest) {
            longest
        } else if ahead <= STRETCH * longest {
            ahead
        } else {
            0.5 * ahead
        };
        let next = if passed { ahead } else { free };
        let verdict = if over & !passed { fate::MISSES } else { fate::FLIES };
        let verdict = if arrives { fate::ARRIVES } else { verdict };
        let verdict = if turned { fate::TURNED } else { verdict };
        let verdict = if careful { fate::CAREFUL } else { verdict };
        // Lanes that have ended share the group but keep what they have.
        let flies = b.fate[l] == fate::FLIES;
        let keep = !flies | turned;
        (b.ax[l], b.ay[l], b.az[l], b.reach[l]) = (k[0], k[1], k[2], longest);
        b.h[l] = if flies { next } else { b.h[l] };
        b.to_plane[l] = if flies { ahead } else { b.to_plane[l] };
        b.crossed[l] = if passed & flies { 1.0 } else { b.crossed[l] };
        b.fate[l] = if flies { verdict } else { b.fate[l] };
        b.g_before[l] = if keep { b.g_before[l] } else { g };
        b.rate_before[l] = if keep { b.rate_before[l] } else { rate };
        b.h_before[l] = if keep { b.h_before[l] } else { next };
        b.climb_before[l] = if flies { climb } else { b.climb_before[l] };
    }
}

/// 1/√x by shifting the exponent and Newton's method [robertson-2012]: right to 2e-3 after one round,
/// 5e-6 after two. Steps and aims need no more, and the exact root would take as long as a stage.
#[inline(always)]
fn inverse_root(x: f64, rounds: usize) -> f64 {
    let mut y = f64::from_bits(0x5fe6_eb50_c7b5_37a9_u64.wrapping_sub(x.to_bits() >> 1));
    for _ in 0..rounds {
        y *= 1.5 - 0.5 * x * y * y;
    }
    y
}

/// Distance from the plane along its normal.
#[inline(always)]
fn distance(r: &Vectors, n: &Vectors, g_start: f64, wind_n: f64, t: f64, l: usize) -> f64 {
    g_start + (n[0][l] * r[0][l] + n[1][l] * r[1][l] + n[2][l] * r[2][l] + wind_n * t)
}

/// Decides what a lane did that turned within its last step, with both ends on one side of the plane.
///
/// The cubic through both ends says how far it came. Clearly short of the plane: it flies on.
/// Clearly past it: the crossing is within the step, go back to it. In between: careful path.
fn look_closer(b: &mut Group, i: usize) {
    let g = b.g_start[i] + (b.nx[i] * b.x[i] + b.ny[i] * b.y[i] + b.nz[i] * b.z[i] + b.wind_n[i] * b.t[i]);
    let rate = b.nx[i] * b.vx[i] + b.ny[i] * b.vy[i] + b.nz[i] * b.vz[i] + b.wind_n[i];
    let (before, h) = (b.g_before[i], b.h_before[i]);
    let (d0, d1, rise) = (h * b.rate_before[i], h * rate, g - before);
    // before + d0 u + c2 u² + c3 u³ on the unit interval
    let (c2, c3) = (3.0 * rise - 2.0 * d0 - d1, d0 + d1 - 2.0 * rise);
    let mut u = d0 / (d0 - d1);
    for _ in 0..4 {
        u -= (d0 + u * (2.0 * c2 + u * 3.0 * c3)) / (2.0 * c2 + u * 6.0 * c3);
    }
    let extremum = before + u * (d0 + u * (c2 + u * c3));
    let toward = if before < 0.0 { extremum } else { -extremum };
    (b.g_before[i], b.rate_before[i], b.h_before[i]) = (g, rate, b.h[i]);
    b.fate[i] = if toward < -GRAZE_M {
        fate::FLIES
    } else if toward > GRAZE_M && b.to_plane[i].abs() <= OVERSHOOT * b.reach[i] {
        b.crossed[i] = 1.0;
        b.h[i] = b.to_plane[i];
        b.h_before[i] = b.to_plane[i];
        let near = rate > 0.0 && b.to_plane[i].abs() <= NEAR * b.reach[i];
        if near { fate::ARRIVES } else { fate::FLIES }
    } else {
        fate::CAREFUL
    };
}

/// Takes the lanes of a group that arrive onto the plane: a short step, then the parabola
/// through where it ends, which is within a millimetre.
#[inline(always)]
fn land<const CURVE: bool, const ACROSS: bool>(b: &mut Group, course: &Course) {
    let c = b.constants();
    let mut r = [b.x, b.y, b.z];
    let mut v = [b.vx, b.vy, b.vz];
    let k1 = [b.ax, b.ay, b.az];
    let n = [b.nx, b.ny, b.nz];
    let (g_start, wind_n) = (b.g_start, b.wind_n);
    let (mut t, e, h) = (b.t, b.e, b.to_plane);
    let (path, speed) = landing_step::<CURVE, ACROSS>(&v, &e, &k1, &h, &c, course.decay_rate);
    let mut left = Lanes::ZERO;
    for l in 0..GROUP {
        t[l] += h[l];
        for i in 0..3 {
            r[i][l] += path[i][l];
            v[i][l] += speed[i][l];
        }
        let e = e[l] * (1.0 - h[l] * course.decay_rate);
        let k = acceleration::<CURVE, ACROSS>([v[0][l], v[1][l], v[2][l]], e, &c, l);
        let g = distance(&r, &n, g_start[l], wind_n[l], t[l], l);
        let rate = n[0][l] * v[0][l] + n[1][l] * v[1][l] + n[2][l] * v[2][l] + wind_n[l];
        let bend = n[0][l] * k[0] + n[1][l] * k[1] + n[2][l] * k[2];
        let dt = -2.0 * g / (rate + (rate * rate - 2.0 * g * bend).max(0.0).sqrt());
        left[l] = dt;
        t[l] += dt;
        for i in 0..3 {
            r[i][l] += dt * (v[i][l] + 0.5 * dt * k[i]);
            v[i][l] += dt * k[i];
        }
    }
    b.t = t;
    b.x = r[0];
    b.y = r[1];
    b.z = r[2];
    b.vx = v[0];
    b.vy = v[1];
    b.vz = v[2];
    for (fate, left) in b.fate.0.iter_mut().zip(left.0) {
        let polished = left.abs() <= POLISH_S;
        // A lane that still flies took too many steps.
        if *fate == fate::FLIES || (*fate == fate::ARRIVES && !polished) {
            *fate = fate::CAREFUL;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_quick_inverse_root_is_as_close_as_it_says() {
        for i in 0..2000 {
            let x = 10_f64.powf(f64::from(i) * 0.02 - 20.0);
            let error = |rounds| (inverse_root(x, rounds) * x.sqrt() - 1.0).abs();
            assert!(error(1) < 2e-3 && error(2) < 5e-6, "{x:e}");
        }
        assert!(inverse_root(f64::NAN, 1).is_nan() && inverse_root(-f64::NAN, 1).is_nan());
    }
}
