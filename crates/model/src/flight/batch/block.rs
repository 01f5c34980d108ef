//! A block of lanes flown together to the plane.
//!
//! Lanes that have ended are swapped behind the ones that fly, so that the groups of the
//! next step are full. A lane goes through:
//!
//! 1. steps as long as the rule allows (see [`Rule`]), the last ones aimed at the plane by the
//!    motion over the step before;
//! 2. when a step ends near the plane, the polynomial of degree five over that step gives the crossing;
//! 3. or, where the plane is grazed or a number is not finite, the careful path of one lane.

use super::lanes::Vector;
use super::rule::{FAR_S, Rule, TINY};
use super::stages::{
    Cells, Constants, GROUP, Quintic, Spin, acceleration_and_pace, cooper_verner, dot, parabola,
};

/// Groups in a block.
pub(super) const GROUPS: usize = 4;
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
            $( $(#[$doc])* pub(super) $name: Cells, )+
            /// Place of the lane's throw in the block.
            pub(super) throw: [u32; GROUP],
        }

        impl Group {
            const EMPTY: Group = Group { $( $name: Cells::ZERO, )+ throw: [0; GROUP] };
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
    /// Way, velocity and acceleration before the last step, and its length.
    x0, y0, z0, vx0, vy0, vz0, ax0, ay0, az0, h_done,
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
    /// Time to the crossing as the present state and the last step foretell it; infinite if there is none.
    to_plane,
    /// Step that the rule allows.
    reach,
    /// Distance to the plane along its normal, and its rate, at the state before the last step.
    g_before, rate_before,
    /// Vertical speed before the last step.
    climb_before,
    /// Length of the last step.
    h_before,
    /// Steps taken.
    steps,
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

/// Method: the plane is near when the time to it is this part of the step of the rule, and of the last step;
/// the polynomial over the last step is then good to 1e-8 m.
const NEAR: f64 = 0.04;
/// Method: a turning point this close to the plane is left to the careful path: an error shows many times over
/// there. The polynomial that tells is right to much less.
const GRAZE_M: f64 = 0.01;
/// Method: a lane that overshot by more than this many steps is left to the careful path.
const OVERSHOOT: f64 = 1.5;
/// Method: the last round of the search for the crossing moves it by less; the next would by 1e-12 s.
const POLISH_S: f64 = 1e-6;
/// Method: an ordinary throw takes under ten steps, one through standstill a few dozen.
const MOST_STEPS: f64 = 48.0;

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
    pub(super) fn constants<V: Vector>(&self, first: usize) -> Constants<V> {
        Constants {
            drag: V::load(&self.drag, first),
            lift: V::load(&self.lift, first),
            level: V::load(&self.level, first),
            reynolds: V::load(&self.reynolds, first),
            gravity: [V::load(&self.gravity_y, first), V::load(&self.gravity_z, first)],
        }
    }
}

impl Group {
    /// Puts a lane that flies, `j` of another group, in the place of one that has ended, and that one in
    /// a place where only the landing follows. Each takes along what it will need.
    #[inline(always)]
    fn replace(&mut self, i: usize, other: &mut Group, j: usize) {
        macro_rules! both {
            ($($name:ident),+) => { $( std::mem::swap(&mut self.$name[i], &mut other.$name[j]); )+ };
        }
        macro_rules! flying {
            ($($name:ident),+) => { $( self.$name[i] = other.$name[j]; )+ };
        }
        macro_rules! ended {
            ($($name:ident),+) => { $( other.$name[j] = self.$name[i]; )+ };
        }
        both!(t, x, y, z, vx, vy, vz, ax, ay, az, yx, yy, yz, zx, zy, zz);
        both!(nx, ny, nz, g_start, wind_n, to_plane, fate, throw);
        flying!(
            e,
            drag,
            lift,
            level,
            reynolds,
            gravity_y,
            gravity_z,
            height_start,
            wind_z
        );
        flying!(
            h,
            reach,
            g_before,
            rate_before,
            climb_before,
            h_before,
            steps,
            crossed
        );
        ended!(x0, y0, z0, vx0, vy0, vz0, ax0, ay0, az0, h_done);
    }
}

#[inline(always)]
pub(super) fn load3<V: Vector>(cells: [&Cells; 3], first: usize) -> [V; 3] {
    [
        V::load(cells[0], first),
        V::load(cells[1], first),
        V::load(cells[2], first),
    ]
}

#[inline(always)]
pub(super) fn store3<V: Vector>(v: [V; 3], cells: [&mut Cells; 3], first: usize) {
    let [x, y, z] = cells;
    v[0].store(x, first);
    v[1].store(y, first);
    v[2].store(z, first);
}

/// Flies every lane of a block. Afterwards `fate` says what became of each, and the lanes
/// that arrived are at their crossing.
///
/// First each group for itself, as long as all its lanes fly: it stays in the fastest cache, and lanes of
/// throws that are alike arrive together. Then those that are left, closed up after every step.
#[inline(always)]
pub(super) fn fly_block<V: Vector, const CURVE: bool, const ACROSS: bool>(b: &mut Block, course: &Course) {
    let used = b.count.div_ceil(GROUP).min(GROUPS);
    for group in b.groups.iter_mut().take(used) {
        advance::<V, CURVE, ACROSS, false>(group, course);
    }
    // One place takes the steps for both parts: the code of a step fills much of the fastest cache.
    let (mut apart, mut active, mut i) = (true, used, 0);
    while i < active {
        let Some(group) = b.groups.get_mut(i) else { break };
        advance::<V, CURVE, ACROSS, true>(group, course);
        if apart && group.fate.0.iter().all(|fate| *fate == fate::FLIES) {
            continue;
        }
        i += 1;
        if i == active {
            active = close_ranks(b, active);
            (apart, i) = (false, 0);
        }
    }
    for group in b.groups.iter_mut().take(used) {
        land::<V>(group);
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
    if flying == 0 {
        return 0;
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
        to.replace(front % GROUP, from, (place - 1) % GROUP);
    }
}

/// Takes one step of the lanes of a group that fly, if `STEP`; then works out the acceleration, the
/// next step and the fate of each lane.
#[inline(always)]
fn advance<V: Vector, const CURVE: bool, const ACROSS: bool, const STEP: bool>(
    b: &mut Group,
    course: &Course,
) {
    let mut first = 0;
    while first < GROUP {
        if !STEP || V::any(V::load(&b.fate, first).le(V::splat(fate::FLIES))) {
            advance_some::<V, CURVE, ACROSS, STEP>(b, course, first);
        }
        first += V::LANES;
    }
}

#[inline(always)]
fn advance_some<V: Vector, const CURVE: bool, const ACROSS: bool, const STEP: bool>(
    b: &mut Group,
    course: &Course,
    first: usize,
) {
    // Macros, not closures: a closure is a function of its own, without the vector instructions.
    macro_rules! load {
        ($name:ident) => {
            V::load(&b.$name, first)
        };
    }
    macro_rules! set {
        ($mask:expr, $new:expr, $name:ident) => {
            V::pick($mask, $new, V::load(&b.$name, first)).store(&mut b.$name, first)
        };
    }
    let n = V::splat;
    let (zero, half) = (n(0.0), n(0.5));
    let (both, either, not, pick) = (V::both, V::either, V::not, V::pick);
    let flies = load!(fate).le(n(fate::FLIES));
    let normal = load3::<V>([&b.nx, &b.ny, &b.nz], first);
    let c = b.constants::<V>(first);
    let wind_n = load!(wind_n);
    let (r0, v0) = (
        load3::<V>([&b.x, &b.y, &b.z], first),
        load3::<V>([&b.vx, &b.vy, &b.vz], first),
    );
    let (mut r, mut v, mut t, mut e) = (r0, v0, load!(t), load!(e));
    let (mut own, mut k0, mut steps) = (zero, [zero; 3], load!(steps));
    if STEP {
        k0 = load3::<V>([&b.ax, &b.ay, &b.az], first);
        own = pick(flies, load!(h), zero);
        let spin = Spin::over(e, own, course.decay_rate);
        let (path, speed) = cooper_verner::<V, CURVE, ACROSS>(&v, &k0, own, &spin, &c);
        t = t + own;
        for i in 0..3 {
            r[i] = r[i] + path[i];
            v[i] = v[i] + speed[i];
        }
        e = spin.whole;
        steps = steps + n(1.0);
        t.store(&mut b.t, first);
        e.store(&mut b.e, first);
        store3(r, [&mut b.x, &mut b.y, &mut b.z], first);
        store3(v, [&mut b.vx, &mut b.vy, &mut b.vz], first);
        steps.store(&mut b.steps, first);
    }
    let (k, pace) = acceleration_and_pace::<V, CURVE, ACROSS>(v, c.spun(e), &c);
    // A lane that has ended stays where it is, so that all this comes out as before; it keeps its fate.
    store3(k, [&mut b.ax, &mut b.ay, &mut b.az], first);
    let g = load!(g_start) + wind_n.ma(t, dot(normal, r));
    let rate = dot(normal, v) + wind_n;
    let bend = dot(normal, k);
    let rising = zero.lt(rate);
    let (square, ahead) = parabola(g, rate, bend);
    // The rule of steps.
    let rule = if ACROSS { Rule::ACROSS } else { Rule::WHOLE };
    let v2 = pace.square;
    // Lift turns with the velocity across the spin alone, which may be slower.
    let slow2 = if ACROSS {
        let lifts = either(c.lift.lt(zero), zero.lt(c.lift));
        pick(lifts, pace.across_square, v2)
    } else {
        v2
    };
    let less = n(rule.slow).ma(pace.whole, n(1.0 - rule.slow) * pace.own);
    let air = [k[0], k[1] - c.gravity[0], k[2] - c.gravity[1]];
    let air2 = dot(air, air);
    let mixed2 = air2 * c.gravity[0].ma(c.gravity[0], c.gravity[1] * c.gravity[1]);
    let mixed = mixed2 * mixed2.max(n(TINY)).rough_inverse_root();
    let hard = n(rule.air).ma(air2, n(rule.mixed).ma(mixed, dot(k, k)));
    let far = ahead.max(zero).min(n(FAR_S));
    let far = (n(rule.far) * far).ma(far, n(1.0));
    let steep = n(rule.angle).ma(v2, square).rough_inverse_root();
    let sharp = n(rule.shallow).ma(square * steep * steep, n(1.0 - rule.shallow));
    let short = (slow2 * hard * (less * less) * far).rough_inverse_root();
    let allowed = n(rule.theta) * slow2 * pace.whole * short * sharp;
    let longest = allowed.min(n(course.longest_s));
    // What the last step may have done.
    let (g_before, rate_before, climb_before) = (load!(g_before), load!(rate_before), load!(climb_before));
    let (was_behind, behind) = (g_before.lt(zero), g.lt(zero));
    let passed = either(zero.lt(load!(crossed)), both(was_behind, not(behind)));
    let topped = both(
        both(was_behind, behind),
        both(zero.lt(rate_before), rate.lt(zero)),
    );
    let dipped = both(
        not(either(was_behind, behind)),
        both(rate_before.lt(zero), rising),
    );
    let (yz, zz, wind_z) = (load!(yz), load!(zz), load!(wind_z));
    let climb = yz.ma(v[1], zz.ma(v[2], wind_z));
    let height = yz.ma(r[1], zz.ma(r[2], wind_z.ma(t, load!(height_start))));
    let floor = n(course.floor_m);
    let over = either(n(course.time_s).lt(t), both(height.lt(floor), climb.lt(zero)));
    let dived = both(climb_before.lt(zero), zero.lt(climb));
    let awkward = either(not(zero.lt(allowed)), n(MOST_STEPS).le(steps));
    // Far from the plane on a plain stretch there is nothing else to find out.
    let away = either(ahead.le(zero), (n(rule.halved) * longest).le(ahead));
    let distant = not(ahead.abs().le(n(rule.stretch) * longest));
    let events = either(either(topped, dipped), either(over, dived));
    let plain = both(both(distant, not(awkward)), not(either(passed, events)));
    if !V::any(both(flies, not(plain))) {
        let next = pick(away, longest, half * ahead);
        next.store(&mut b.h, first);
        next.store(&mut b.h_before, first);
        g.store(&mut b.g_before, first);
        rate.store(&mut b.rate_before, first);
        climb.store(&mut b.climb_before, first);
        return;
    }
    // Near it the motion over the last step foretells better than the parabola.
    let ahead = if STEP {
        let stood = own.abs().le(zero);
        // Distance from the plane, its rate and its bend at the start of the step.
        let before = [
            load!(g_start) + wind_n.ma(t - own, dot(normal, r0)),
            dot(normal, v0) + wind_n,
            dot(normal, k0),
        ];
        let over_step = Quintic::through(before, [g, rate, bend], own);
        let w = over_step.nearer(-ahead.over(pick(stood, n(1.0), own)));
        let better = -(w * own);
        let close = (better - ahead).abs().le(half * longest);
        pick(both(close, not(either(stood, distant))), better, ahead)
    } else {
        ahead
    };
    let near = both(rising, ahead.abs().le((n(NEAR) * longest).min(own.abs())));
    // How near it came where it turned.
    let h_before = load!(h_before);
    let third = h_before * n(1.0 / 3.0);
    let (inner_a, inner_b) = (third.ma(rate_before, g_before), third.nma(rate, g));
    let topped = both(topped, n(-GRAZE_M).lt(inner_a.max(inner_b)));
    let dipped = both(dipped, inner_a.min(inner_b).lt(n(GRAZE_M)));
    let turned = both(not(passed), either(topped, dipped));
    let arrives = both(near, either(passed, behind));
    // Out of a dive within the step: it may have been below the floor.
    let low = climb_before.ma(h_before.abs(), height);
    let pulled_out = both(dived, low.lt(floor));
    let lost = both(
        both(passed, not(arrives)),
        (n(OVERSHOOT) * longest).lt(ahead.abs()),
    );
    let unfinished = both(n(MOST_STEPS).le(steps), not(either(arrives, over)));
    let careful = either(
        either(not(zero.lt(allowed)), lost),
        either(pulled_out, unfinished),
    );
    let away = either(ahead.le(zero), (n(rule.halved) * longest).le(ahead));
    let aimed = pick(ahead.le(n(rule.stretch) * longest), ahead, half * ahead);
    let next = pick(passed, ahead, pick(away, longest, aimed));
    let verdict = pick(both(over, not(passed)), n(fate::MISSES), n(fate::FLIES));
    let verdict = pick(arrives, n(fate::ARRIVES), verdict);
    let verdict = pick(turned, n(fate::TURNED), verdict);
    let verdict = pick(careful, n(fate::CAREFUL), verdict);
    if STEP {
        // What the landing needs, and the closer look at a turn.
        let last = both(flies, either(arrives, turned));
        if V::any(last) {
            set!(last, r0[0], x0);
            set!(last, r0[1], y0);
            set!(last, r0[2], z0);
            set!(last, v0[0], vx0);
            set!(last, v0[1], vy0);
            set!(last, v0[2], vz0);
            set!(last, k0[0], ax0);
            set!(last, k0[1], ay0);
            set!(last, k0[2], az0);
            set!(last, own, h_done);
        }
    }
    longest.store(&mut b.reach, first);
    next.store(&mut b.h, first);
    climb.store(&mut b.climb_before, first);
    pick(passed, n(1.0), load!(crossed)).store(&mut b.crossed, first);
    pick(turned, g_before, g).store(&mut b.g_before, first);
    pick(turned, rate_before, rate).store(&mut b.rate_before, first);
    pick(turned, h_before, next).store(&mut b.h_before, first);
    set!(flies, ahead, to_plane);
    set!(flies, verdict, fate);
}

/// Decides what a lane did that turned within its last step, with both ends on one side of the plane.
///
/// The polynomial of degree five over the step says how far it came. Clearly short of the plane: it flies
/// on. Clearly past it: the crossing is within the step, go back to it. In between: careful path.
fn look_closer(b: &mut Group, i: usize) {
    let along = |x: f64, y: f64, z: f64| b.nx[i] * x + b.ny[i] * y + b.nz[i] * z;
    let g = b.g_start[i] + (along(b.x[i], b.y[i], b.z[i]) + b.wind_n[i] * b.t[i]);
    let rate = along(b.vx[i], b.vy[i], b.vz[i]) + b.wind_n[i];
    let (before, h) = (b.g_before[i], b.h_before[i]);
    let (d0, d1) = (h * b.rate_before[i], h * rate);
    let bends = [
        along(b.ax0[i], b.ay0[i], b.az0[i]),
        along(b.ax[i], b.ay[i], b.az[i]),
    ];
    let [c2, end2] = bends.map(|bend| 0.5 * h * h * bend);
    // before + d0 u + c2 u² + … on the unit interval
    let (rise, turn, bend) = (g - before - d0 - c2, d1 - d0 - 2.0 * c2, end2 - c2);
    let c3 = 10.0 * rise - 4.0 * turn + bend;
    let c4 = -15.0 * rise + 7.0 * turn - 2.0 * bend;
    let c5 = 6.0 * rise - 3.0 * turn + bend;
    let mut u = d0 / (d0 - d1);
    for _ in 0..4 {
        let slope = d0 + u * (2.0 * c2 + u * (3.0 * c3 + u * (4.0 * c4 + u * 5.0 * c5)));
        u -= slope / (2.0 * c2 + u * (6.0 * c3 + u * (12.0 * c4 + u * 20.0 * c5)));
    }
    let extremum = before + u * (d0 + u * (c2 + u * (c3 + u * (c4 + u * c5))));
    let toward = if before < 0.0 { extremum } else { -extremum };
    (b.g_before[i], b.rate_before[i], b.h_before[i]) = (g, rate, b.h[i]);
    b.fate[i] = if toward < -GRAZE_M {
        fate::FLIES
    } else if toward > GRAZE_M && b.to_plane[i].abs() <= OVERSHOOT * b.reach[i] {
        b.crossed[i] = 1.0;
        b.h[i] = b.to_plane[i];
        b.h_before[i] = b.to_plane[i];
        let near = (NEAR * b.reach[i]).min(b.h_done[i].abs());
        let near = rate > 0.0 && b.to_plane[i].abs() <= near;
        if near { fate::ARRIVES } else { fate::FLIES }
    } else {
        fate::CAREFUL
    };
}

/// Takes the lanes of a group that arrive onto the plane, along the polynomial over their last step.
#[inline(always)]
fn land<V: Vector>(b: &mut Group) {
    let mut first = 0;
    while first < GROUP {
        land_some::<V>(b, first);
        first += V::LANES;
    }
}

#[inline(always)]
fn land_some<V: Vector>(b: &mut Group, first: usize) {
    let h = V::load(&b.h_done, first);
    let (r0, r1) = (
        load3::<V>([&b.x0, &b.y0, &b.z0], first),
        load3::<V>([&b.x, &b.y, &b.z], first),
    );
    let (v0, v1) = (
        load3::<V>([&b.vx0, &b.vy0, &b.vz0], first),
        load3::<V>([&b.vx, &b.vy, &b.vz], first),
    );
    let (a0, a1) = (
        load3::<V>([&b.ax0, &b.ay0, &b.az0], first),
        load3::<V>([&b.ax, &b.ay, &b.az], first),
    );
    let normal = load3::<V>([&b.nx, &b.ny, &b.nz], first);
    let (g_start, wind_n, t) = (
        V::load(&b.g_start, first),
        V::load(&b.wind_n, first),
        V::load(&b.t, first),
    );
    let way = [
        Quintic::through([r0[0], v0[0], a0[0]], [r1[0], v1[0], a1[0]], h),
        Quintic::through([r0[1], v0[1], a0[1]], [r1[1], v1[1], a1[1]], h),
        Quintic::through([r0[2], v0[2], a0[2]], [r1[2], v1[2], a1[2]], h),
    ];
    let distance = Quintic::along(normal, &way).shifted(wind_n.ma(t, g_start), -(h * wind_n));
    let backward = V::splat(-1.0).over(h);
    let (fate, most) = (V::load(&b.fate, first), V::splat(POLISH_S));
    let guess = V::load(&b.to_plane, first) * backward;
    let mut w = distance.nearer(guess);
    let mut polished = ((w - guess) * h).abs().le(most);
    let ended = V::splat(fate::ARRIVES).lt(fate);
    if V::any(V::not(V::either(polished, ended))) {
        let (before, rough) = (w, V::not(polished));
        w = V::pick(rough, distance.nearer(before), before);
        polished = V::either(polished, ((w - before) * h).abs().le(most));
    }
    (t - w * h).store(&mut b.t, first);
    // A lane that the search for the crossing did not settle.
    V::pick(V::either(polished, ended), fate, V::splat(fate::CAREFUL)).store(&mut b.fate, first);
    let (mut r, mut v) = (r1, v1);
    for i in 0..3 {
        let (place, slope) = way[i].at(w);
        (r[i], v[i]) = (place, slope * backward);
    }
    store3(r, [&mut b.x, &mut b.y, &mut b.z], first);
    store3(v, [&mut b.vx, &mut b.vy, &mut b.vz], first);
}
