//! From throws to lanes in their own frames, and from lanes back to crossings.

use super::block::{Block, GROUPS, Group, fate, load3, store3};
use super::lanes::Vector;
use super::smooth::REYNOLDS_UNIT;
use super::stages::{Cells, GROUP, dot};
use super::{Arrival, Outcome};

/// One number for each throw of a block.
pub(super) type Column = [Cells; GROUPS];

/// Throws of a block as they come, field frame.
#[derive(Clone, Debug)]
#[repr(align(64))]
pub(super) struct Raw {
    pub(super) position_m: [Column; 3],
    pub(super) velocity_mps: [Column; 3],
    pub(super) spin_radps: [Column; 3],
    pub(super) wind_mps: [Column; 3],
    pub(super) diameter_m: Column,
    pub(super) mass_kg: Column,
    pub(super) drag_scale_ratio: Column,
    pub(super) lift_scale_ratio: Column,
    pub(super) density_kgpm3: Column,
}

impl Raw {
    pub(super) fn empty() -> Raw {
        let (one, three) = ([Cells::ZERO; GROUPS], [[Cells::ZERO; GROUPS]; 3]);
        Raw {
            position_m: three,
            velocity_mps: three,
            spin_radps: three,
            wind_mps: three,
            diameter_m: one,
            mass_kg: one,
            drag_scale_ratio: one,
            lift_scale_ratio: one,
            density_kgpm3: one,
        }
    }
}

/// What all throws share at the start.
#[derive(Clone, Copy, Debug)]
pub(super) struct Ground {
    /// Constant drag coefficient, or multiplier of the curve.
    pub(super) drag_coeff: f64,
    /// Multiplier of the lift over a.
    pub(super) lift_ratio: f64,
    /// b/a of CL = S/(a + b S).
    pub(super) level_ratio: f64,
    pub(super) viscosity_pas: f64,
    pub(super) gravity_mps2: f64,
    pub(super) added_mass_coeff: f64,
    /// 1 with buoyancy, else 0.
    pub(super) buoyancy_ratio: f64,
    /// Plane, field frame.
    pub(super) normal: [f64; 3],
    pub(super) point_m: [f64; 3],
    pub(super) floor_m: f64,
    /// Greatest x at which the drag curve holds.
    pub(super) greatest_x: f64,
}

/// Rounding: a throw that starts this near the plane is left to the careful path, which knows
/// leaving the plane from crossing it.
const ON_PLANE_M: f64 = 1e-9;
/// Rounding: a spin axis this close to upright has no direction across it that gravity could give.
const UPRIGHT: f64 = 1e-12;
/// Method: a fall adds speed after the start; this much room is left on the drag curve.
const ROOM: f64 = 1.5;

/// Puts the throws of a block into lanes.
///
/// Frame of a lane: y along the spin, z across it as much upward as can be, x completes them. Without
/// spin y points left as in the field frame. The spin along an upright axis leaves z free.
#[inline(always)]
pub(super) fn enter<V: Vector>(raw: &Raw, b: &mut Block, ground: &Ground) {
    for (i, group) in b.groups.iter_mut().enumerate() {
        let mut first = 0;
        while first < GROUP {
            enter_some::<V>(raw, i, group, ground, first);
            first += V::LANES;
        }
        for l in 0..GROUP {
            group.throw[l] = (i * GROUP + l) as u32;
        }
        for l in b.count.saturating_sub(i * GROUP)..GROUP {
            group.fate[l] = fate::MISSES;
        }
    }
}

#[inline(always)]
fn enter_some<V: Vector>(raw: &Raw, i: usize, b: &mut Group, ground: &Ground, first: usize) {
    macro_rules! part {
        ($column:expr) => {
            V::load(&$column[i], first)
        };
    }
    macro_rules! three {
        ($columns:ident) => {
            [
                part!(raw.$columns[0]),
                part!(raw.$columns[1]),
                part!(raw.$columns[2]),
            ]
        };
    }
    macro_rules! put {
        ($($name:ident = $value:expr),+ $(,)?) => {
            $( let value: V = $value; value.store(&mut b.$name, first); )+
        };
    }
    let n = V::splat;
    let (zero, one, half) = (n(0.0), n(1.0), n(0.5));
    let (position, throw_v) = (three!(position_m), three!(velocity_mps));
    let (spin, wind) = (three!(spin_radps), three!(wind_mps));
    let (diameter, mass, density) = (
        part!(raw.diameter_m),
        part!(raw.mass_kg),
        part!(raw.density_kgpm3),
    );
    let size = dot(spin, spin).root();
    let spins = zero.lt(size);
    let inverse = one.over(V::pick(spins, size, one));
    let y = [
        spin[0] * inverse,
        V::pick(spins, spin[1] * inverse, one),
        spin[2] * inverse,
    ];
    let lying2 = y[0].ma(y[0], y[1] * y[1]);
    let upright = lying2.lt(n(UPRIGHT * UPRIGHT));
    // ẑ − (ẑ·y) y, or x̂ − (x̂·y) y for an upright axis, brought to length 1.
    let along = V::pick(upright, y[0], y[2]);
    let raw_z = [
        along.nma(y[0], V::pick(upright, one, zero)),
        -along * y[1],
        along.nma(y[2], V::pick(upright, zero, one)),
    ];
    let length = one.over(dot(raw_z, raw_z).root());
    let z = [raw_z[0] * length, raw_z[1] * length, raw_z[2] * length];
    let x = cross(y, z);
    let radius = half * diameter;
    let area = n(std::f64::consts::PI) * radius * radius;
    let displaced = density * area * radius * n(4.0 / 3.0);
    let inertia = n(ground.added_mass_coeff).ma(displaced, mass);
    let weight = n(ground.buoyancy_ratio).nma(displaced, mass);
    let by_inertia = one.over(inertia);
    let dynamic = half * density * area * by_inertia;
    let gravity = n(-ground.gravity_mps2) * weight * by_inertia;
    let rim = radius * size;
    let reynolds = density * diameter * n(1.0 / (ground.viscosity_pas * REYNOLDS_UNIT));
    let air = [throw_v[0] - wind[0], throw_v[1] - wind[1], throw_v[2] - wind[2]];
    let normal = [n(ground.normal[0]), n(ground.normal[1]), n(ground.normal[2])];
    let from_plane = [
        position[0] - n(ground.point_m[0]),
        position[1] - n(ground.point_m[1]),
        position[2] - n(ground.point_m[2]),
    ];
    let g = dot(normal, from_plane);
    let fastest = n(ground.greatest_x / ROOM);
    let on_curve = (dot(air, air) * reynolds * reynolds).le(fastest * fastest);
    let under = V::both(position[2].lt(n(ground.floor_m)), throw_v[2].lt(zero));
    let clear = V::both(n(ON_PLANE_M).lt(g.abs()), V::not(under));
    let fast = V::both(on_curve, clear);
    put!(
        x = zero,
        y = zero,
        z = zero,
        vx = dot(x, air),
        vy = dot(y, air),
        vz = dot(z, air),
        yx = y[0],
        yy = y[1],
        yz = y[2],
        zx = z[0],
        zy = z[1],
        zz = z[2],
        nx = dot(x, normal),
        ny = dot(y, normal),
        nz = dot(z, normal),
        gravity_y = gravity * y[2],
        gravity_z = gravity * z[2],
        drag = dynamic * n(ground.drag_coeff) * part!(raw.drag_scale_ratio),
        lift = dynamic * n(ground.lift_ratio) * part!(raw.lift_scale_ratio) * rim,
        level = n(ground.level_ratio) * rim,
        reynolds = reynolds,
        g_start = g,
        height_start = position[2],
        wind_n = dot(normal, wind),
        wind_z = wind[2],
        e = one,
        t = zero,
        fate = V::pick(fast, n(fate::FLIES), n(fate::CAREFUL)),
        // No step lies behind: on no side, without a turn.
        g_before = g.abs(),
        rate_before = zero,
        h_before = zero,
        steps = zero,
        h_done = zero,
        climb_before = throw_v[2],
        crossed = zero,
    );
}

#[inline(always)]
fn cross<V: Vector>(a: [V; 3], b: [V; 3]) -> [V; 3] {
    [
        a[1].ma(b[2], -(a[2] * b[1])),
        a[2].ma(b[0], -(a[0] * b[2])),
        a[0].ma(b[1], -(a[1] * b[0])),
    ]
}

/// Puts the crossings of a block into the frame of the field, each in the place of its throw. A throw left to
/// the careful path comes back as [`Outcome::NotFinite`].
#[inline(always)]
pub(super) fn leave<V: Vector>(b: &mut Block, raw: &Raw, places: &[u32], arrivals: &mut [Arrival]) {
    for group in &mut b.groups {
        leave_group::<V>(group);
        for l in 0..GROUP {
            let throw = group.throw[l] as usize;
            let place = places.get(throw).copied().unwrap_or(u32::MAX);
            let Some(arrival) = arrivals.get_mut(place as usize) else {
                continue;
            };
            let (i, place) = (throw / GROUP % GROUPS, throw % GROUP);
            let at = |column: &Column| column[i][place];
            let ([px, py, pz], [wx, wy, wz]) = (&raw.position_m, &raw.wind_mps);
            let (wind, t) = ([at(wx), at(wy), at(wz)], group.t[l]);
            // A block is full of numbers either way: the outcome says which mean something.
            arrival.outcome = match group.fate[l] {
                fate::ARRIVES => Outcome::Crossed,
                fate::MISSES => Outcome::Missed,
                _ => Outcome::NotFinite,
            };
            arrival.time_s = t;
            arrival.position_m = [
                group.x[l] + (at(px) + wind[0] * t),
                group.y[l] + (at(py) + wind[1] * t),
                group.z[l] + (at(pz) + wind[2] * t),
            ];
            arrival.velocity_mps = [
                group.vx[l] + wind[0],
                group.vy[l] + wind[1],
                group.vz[l] + wind[2],
            ];
        }
    }
}

/// Turns way and velocity of a group into the axes of the field.
#[inline(always)]
fn leave_group<V: Vector>(b: &mut Group) {
    let mut first = 0;
    while first < GROUP {
        let y = load3::<V>([&b.yx, &b.yy, &b.yz], first);
        let z = load3::<V>([&b.zx, &b.zy, &b.zz], first);
        let x = cross(y, z);
        let (way, speed) = (
            load3::<V>([&b.x, &b.y, &b.z], first),
            load3::<V>([&b.vx, &b.vy, &b.vz], first),
        );
        let (mut field_way, mut field_speed) = (way, speed);
        for i in 0..3 {
            let axes = [x[i], y[i], z[i]];
            (field_way[i], field_speed[i]) = (dot(axes, way), dot(axes, speed));
        }
        store3(field_way, [&mut b.x, &mut b.y, &mut b.z], first);
        store3(field_speed, [&mut b.vx, &mut b.vy, &mut b.vz], first);
        first += V::LANES;
    }
}
