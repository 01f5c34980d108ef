//! The order in which throws fly.
//!
//! A vector takes as many steps as its slowest lane, so throws that will take about as many fly side by
//! side. How many is foretold from the start of each, roughly. The order changes no result: what a lane
//! works out depends on that lane alone.

use super::block::GROUPS;
use super::enter::{Column, Ground, Raw};
use super::lanes::Vector;
use super::stages::{Cells, GROUP, dot, parabola};
use super::{BLOCK, CHUNK};

/// Sorts of throws that are told apart.
const SORTS: usize = 64;
/// Method: sorts for each unit of the effort foretold, which most throws have between 1 and 8 of.
const FINE: f64 = 6.0;
/// Method: throws of so few sorts are as good in any order.
const FEW: u8 = 4;
/// Method: the effort of a turn by the air against one by gravity, squared; lanes idle least with it.
const AIR_WEIGHT: f64 = 8.0;
/// Method: a drag coefficient on the curve, about.
const ON_CURVE_COEFF: f64 = 0.45;

/// Method: throws put in order at a time; enough for groups of equals, few enough to stay in the second cache.
pub(super) const WINDOW: usize = 8 * BLOCK;

/// Places of throws in the order in which they come.
pub(super) static AS_THEY_COME: [u32; CHUNK] = {
    let (mut places, mut i) = ([0; CHUNK], 0);
    while i < CHUNK {
        places[i] = i as u32;
        i += 1;
    }
    places
};

/// Whether the throws of a block take about the same number of steps.
pub(super) fn alike(sorts: &[u8]) -> bool {
    let (least, most) = sorts
        .iter()
        .fold((u8::MAX, 0), |(least, most), s| (least.min(*s), most.max(*s)));
    most.saturating_sub(least) <= FEW
}

/// Places of throws in the order of their sorts, those of one sort as they come.
pub(super) fn by_sort(sorts: &[u8]) -> [u32; WINDOW] {
    let mut places = [0; WINDOW];
    let mut begins = [0_u32; SORTS + 1];
    for sort in sorts {
        begins[usize::from(*sort) % SORTS + 1] += 1;
    }
    for sort in 1..=SORTS {
        begins[sort] += begins[sort - 1];
    }
    for (throw, sort) in sorts.iter().enumerate() {
        let next = &mut begins[usize::from(*sort) % SORTS];
        if let Some(place) = places.get_mut(*next as usize) {
            *place = throw as u32;
        }
        *next += 1;
    }
    places
}

/// Foretells the effort of each throw of a block: its sort.
#[inline(always)]
pub(super) fn foretell<V: Vector>(raw: &Raw, ground: &Ground, curve: bool, sorts: &mut [u8; BLOCK]) {
    let (groups, _) = sorts.as_chunks_mut::<GROUP>();
    for (i, sorts) in groups.iter_mut().enumerate().take(GROUPS) {
        let mut efforts = Cells::ZERO;
        let mut first = 0;
        while first < GROUP {
            effort::<V>(raw, i, ground, curve, first).store(&mut efforts, first);
            first += V::LANES;
        }
        for (sort, effort) in sorts.iter_mut().zip(efforts.0) {
            // Saturates, and what is no number comes first.
            *sort = (effort as u8).min(SORTS as u8 - 1);
        }
    }
}

/// √(turn by gravity² + 8 (turn by the air)²) over the flight, as the parabola foretells it, times [`FINE`].
///
/// ```text
/// turn by gravity   asinh(vz/vh) at the start less that at the end, asinh u ≈ u (1 + u²)^-1/4
/// turn by the air   k q T/√(1 + k q T),   k = √(kd² + kl²)   for k q T = ln(1 + kd q T)
/// ```
#[inline(always)]
fn effort<V: Vector>(raw: &Raw, i: usize, ground: &Ground, curve: bool, first: usize) -> V {
    macro_rules! part {
        ($column:expr) => {{
            let column: &Column = &$column;
            V::load(&column[i], first)
        }};
    }
    let n = V::splat;
    let (zero, half, one) = (n(0.0), n(0.5), n(1.0));
    let least = n(1e-6);
    let (mut air, mut spin, mut from_plane, mut normal) = ([zero; 3], [zero; 3], [zero; 3], [zero; 3]);
    for c in 0..3 {
        air[c] = part!(raw.velocity_mps[c]) - part!(raw.wind_mps[c]);
        spin[c] = part!(raw.spin_radps[c]);
        from_plane[c] = part!(raw.position_m[c]) - n(ground.point_m[c]);
        normal[c] = n(ground.normal[c]);
    }
    let (density, diameter) = (part!(raw.density_kgpm3), part!(raw.diameter_m));
    let flat2 = air[0].ma(air[0], air[1].ma(air[1], least));
    let q2 = air[2].ma(air[2], flat2);
    let by_q = q2.rough_inverse_root();
    let q = q2 * by_q;
    // Half the mass of air in the way of each metre, over the mass.
    let dynamic = density * diameter * diameter * n(std::f64::consts::PI / 8.0);
    let dynamic = dynamic.over(part!(raw.mass_kg));
    let coeff = ground.drag_coeff * if curve { ON_CURVE_COEFF } else { 1.0 };
    let drag = dynamic * n(coeff) * part!(raw.drag_scale_ratio);
    let rim = half * diameter;
    let spin2 = dot(spin, spin) + least;
    let turning = spin2 * spin2.rough_inverse_root();
    let lift = dynamic * n(ground.lift_ratio) * part!(raw.lift_scale_ratio) * rim;
    let lift = lift.over(n(ground.level_ratio).ma(rim * turning, q));
    let up = lift * q * spin[0].ma(air[1], -(spin[1] * air[0]));
    let lift = lift * turning;
    let fall = n(ground.gravity_mps2);
    let fall_less_lift = (fall - up).max(n(0.3) * fall).min(n(3.0) * fall);
    // To the plane by the parabola, or else to the floor.
    let (g, rate) = (dot(normal, from_plane), dot(normal, air));
    let bend = -(normal[2] * fall_less_lift);
    let (_, to_plane) = parabola(g, rate, bend);
    let height = (part!(raw.position_m[2]) - n(ground.floor_m)).max(zero);
    let square = air[2].ma(air[2], n(2.0) * fall_less_lift * height).max(least);
    let to_floor = square
        .ma(square.rough_inverse_root(), air[2])
        .over(fall_less_lift);
    let time = V::pick(zero.lt(to_plane), to_plane.min(to_floor), to_floor);
    let time = time.max(zero).min(n(LONGEST_S));
    let by_flat = flat2.rough_inverse_root();
    let turn = sloped(air[2] * by_flat) - sloped(fall.nma(time, air[2]) * by_flat);
    let way = q * time;
    let both = drag.ma(drag, lift * lift);
    let by_air = (both * way * way).over(drag.ma(way, one));
    let effort2 = turn.ma(turn, n(AIR_WEIGHT) * by_air) + least;
    n(FINE) * effort2 * effort2.rough_inverse_root()
}

/// Method: no throw is foretold to fly longer.
const LONGEST_S: f64 = 3.0;

/// asinh u, about: u (1 + u²)^-1/4.
#[inline(always)]
fn sloped<V: Vector>(u: V) -> V {
    let y = u.ma(u, V::splat(1.0)).rough_inverse_root();
    u * y * y.rough_inverse_root()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn throws_go_by_their_sorts_and_those_of_one_sort_as_they_came() {
        let sorts: Vec<u8> = (0..300_u32).map(|i| (i * i % 61) as u8).collect();
        let places = by_sort(&sorts);
        let ordered = &places[..sorts.len()];
        let mut wanted: Vec<u32> = (0..300).collect();
        wanted.sort_by_key(|place| sorts[*place as usize]);
        assert_eq!(ordered, wanted);
    }

    #[test]
    fn throws_of_neighbouring_sorts_are_alike() {
        assert!(alike(&[7, 9, 11, 8]) && alike(&[63; 5]) && alike(&[]));
        assert!(!alike(&[7, 9, 12, 8]));
    }
}
