//! From throws to lanes in their own frames, and from lanes back to crossings.

use super::block::{BLOCK, Block, Group, fate};
use super::smooth::REYNOLDS_UNIT;
use super::stages::{GROUP, Lanes, Vectors};
use super::{Arrival, Outcome};

/// One number for each throw of a block.
pub(super) type Column = [f64; BLOCK];

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
        let (one, three) = ([0.0; BLOCK], [[0.0; BLOCK]; 3]);
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
pub(super) fn enter(raw: &Raw, b: &mut Block, ground: &Ground) {
    for (i, group) in b.groups.iter_mut().enumerate() {
        enter_group(raw, i * GROUP, group, ground);
        for l in 0..GROUP {
            group.throw[l] = (i * GROUP + l) as u32;
        }
        for l in b.count.saturating_sub(i * GROUP)..GROUP {
            group.fate[l] = fate::MISSES;
        }
    }
}

/// The numbers of one group in a column.
#[inline(always)]
fn part(column: &Column, first: usize) -> Lanes {
    let mut lanes = Lanes::ZERO;
    if let Some(part) = column.get(first..first + GROUP) {
        lanes.0.copy_from_slice(part);
    }
    lanes
}

#[inline(always)]
fn enter_group(raw: &Raw, first: usize, b: &mut Group, ground: &Ground) {
    let dot = |a: [f64; 3], c: [f64; 3]| a[0] * c[0] + a[1] * c[1] + a[2] * c[2];
    let three = |columns: &[Column; 3]| columns.each_ref().map(|c| part(c, first));
    let (positions, velocities) = (three(&raw.position_m), three(&raw.velocity_mps));
    let (spins, winds) = (three(&raw.spin_radps), three(&raw.wind_mps));
    let (diameters, masses) = (part(&raw.diameter_m, first), part(&raw.mass_kg, first));
    let (drags, lifts) = (
        part(&raw.drag_scale_ratio, first),
        part(&raw.lift_scale_ratio, first),
    );
    let densities = part(&raw.density_kgpm3, first);
    for l in 0..GROUP {
        let at = |lanes: &Vectors| [lanes[0][l], lanes[1][l], lanes[2][l]];
        let (position, throw_v, spin, wind) = (at(&positions), at(&velocities), at(&spins), at(&winds));
        let (diameter, mass, density) = (diameters[l], masses[l], densities[l]);
        let size = dot(spin, spin).sqrt();
        let spins = size > 0.0;
        let inverse = 1.0 / if spins { size } else { 1.0 };
        let y = [
            spin[0] * inverse,
            if spins { spin[1] * inverse } else { 1.0 },
            spin[2] * inverse,
        ];
        let lying2 = y[0] * y[0] + y[1] * y[1];
        let upright = lying2 < UPRIGHT * UPRIGHT;
        // ẑ − (ẑ·y) y, or x̂ − (x̂·y) y for an upright axis, brought to length 1.
        let along = if upright { y[0] } else { y[2] };
        let raw_z = [
            if upright { 1.0 } else { 0.0 } - along * y[0],
            -along * y[1],
            if upright { 0.0 } else { 1.0 } - along * y[2],
        ];
        let length = 1.0 / dot(raw_z, raw_z).sqrt();
        let z = [raw_z[0] * length, raw_z[1] * length, raw_z[2] * length];
        let x = cross(y, z);
        let radius = 0.5 * diameter;
        let area = std::f64::consts::PI * radius * radius;
        let displaced = density * area * radius * (4.0 / 3.0);
        let inertia = mass + ground.added_mass_coeff * displaced;
        let weight = mass - ground.buoyancy_ratio * displaced;
        let dynamic = density * area / (2.0 * inertia);
        let gravity = -ground.gravity_mps2 * weight / inertia;
        let rim = radius * size;
        let reynolds = density * diameter / (ground.viscosity_pas * REYNOLDS_UNIT);
        let air = [throw_v[0] - wind[0], throw_v[1] - wind[1], throw_v[2] - wind[2]];
        let from_plane = [
            position[0] - ground.point_m[0],
            position[1] - ground.point_m[1],
            position[2] - ground.point_m[2],
        ];
        let g = dot(ground.normal, from_plane);
        let on_curve = ROOM * dot(air, air).sqrt() * reynolds <= ground.greatest_x;
        let under = (position[2] < ground.floor_m) & (throw_v[2] < 0.0);
        let fast = on_curve & (g.abs() > ON_PLANE_M) & !under;
        (b.x[l], b.y[l], b.z[l]) = (0.0, 0.0, 0.0);
        (b.vx[l], b.vy[l], b.vz[l]) = (dot(x, air), dot(y, air), dot(z, air));
        (b.yx[l], b.yy[l], b.yz[l]) = (y[0], y[1], y[2]);
        (b.zx[l], b.zy[l], b.zz[l]) = (z[0], z[1], z[2]);
        (b.nx[l], b.ny[l], b.nz[l]) = (
            dot(x, ground.normal),
            dot(y, ground.normal),
            dot(z, ground.normal),
        );
        (b.gravity_y[l], b.gravity_z[l]) = (gravity * y[2], gravity * z[2]);
        b.drag[l] = dynamic * ground.drag_coeff * drags[l];
        b.lift[l] = dynamic * ground.lift_ratio * lifts[l] * rim;
        b.level[l] = ground.level_ratio * rim;
        b.reynolds[l] = reynolds;
        b.g_start[l] = g;
        b.height_start[l] = position[2];
        b.wind_n[l] = dot(ground.normal, wind);
        b.wind_z[l] = wind[2];
        b.e[l] = 1.0;
        b.t[l] = 0.0;
        b.fate[l] = if fast { fate::FLIES } else { fate::CAREFUL };
        // No step lies behind: on no side, without a turn.
        b.g_before[l] = g.abs();
        b.rate_before[l] = 0.0;
        b.h_before[l] = 0.0;
        b.climb_before[l] = throw_v[2];
        b.crossed[l] = 0.0;
    }
}

#[inline(always)]
fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}

/// Puts the crossings of a block back into the order and the frame of its throws. A throw left to
/// the careful path comes back as [`Outcome::NotFinite`].
#[inline(always)]
pub(super) fn leave(b: &mut Block, raw: &Raw, arrivals: &mut [Arrival]) {
    for group in &mut b.groups {
        leave_group(group, raw);
        for l in 0..GROUP {
            let Some(arrival) = arrivals.get_mut(group.throw[l] as usize) else {
                continue;
            };
            let outcome = match group.fate[l] {
                fate::ARRIVES => Outcome::Crossed,
                fate::MISSES => Outcome::Missed,
                _ => Outcome::NotFinite,
            };
            *arrival = Arrival {
                outcome,
                time_s: group.t[l],
                position_m: [group.x[l], group.y[l], group.z[l]],
                velocity_mps: [group.vx[l], group.vy[l], group.vz[l]],
            };
        }
    }
}

/// Turns way and velocity of a group into position and velocity in the field frame.
#[inline(always)]
fn leave_group(b: &mut Group, raw: &Raw) {
    for l in 0..GROUP {
        let (y, z) = ([b.yx[l], b.yy[l], b.yz[l]], [b.zx[l], b.zy[l], b.zz[l]]);
        let x = cross(y, z);
        let turn = |v: [f64; 3], i: usize| x[i] * v[0] + y[i] * v[1] + z[i] * v[2];
        let (way, speed) = ([b.x[l], b.y[l], b.z[l]], [b.vx[l], b.vy[l], b.vz[l]]);
        (b.x[l], b.y[l], b.z[l]) = (turn(way, 0), turn(way, 1), turn(way, 2));
        (b.vx[l], b.vy[l], b.vz[l]) = (turn(speed, 0), turn(speed, 1), turn(speed, 2));
    }
    for l in 0..GROUP {
        let place = b.throw[l] as usize % BLOCK;
        let moved = |i: usize| raw.position_m[i][place] + raw.wind_mps[i][place] * b.t[l];
        let moved = [moved(0), moved(1), moved(2)];
        b.x[l] += moved[0];
        b.y[l] += moved[1];
        b.z[l] += moved[2];
        b.vx[l] += raw.wind_mps[0][place];
        b.vy[l] += raw.wind_mps[1][place];
        b.vz[l] += raw.wind_mps[2][place];
    }
}
