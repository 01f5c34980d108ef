//! Parts and where they are: mass, centre of mass, tipping, envelope, free room.

use crate::units::STANDARD_GRAVITY_MPS2;

/// A mass at a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lump {
    /// Mass.
    pub mass_kg: f64,
    /// Place: ahead, left, up.
    pub at_m: [f64; 3],
}

/// Mass and centre of mass.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rollup {
    /// Mass.
    pub mass_kg: f64,
    /// Centre of mass; NaN without mass.
    pub centre_m: [f64; 3],
}

/// Mass and centre of mass of lumps: c = Σ m x/Σ m (statics).
pub fn rollup(lumps: &[Lump]) -> Rollup {
    let mass_kg: f64 = lumps.iter().map(|l| l.mass_kg).sum();
    let of = |axis: usize| lumps.iter().map(|l| l.mass_kg * l.at_m[axis]).sum::<f64>() / mass_kg;
    Rollup {
        mass_kg,
        centre_m: [of(0), of(1), of(2)],
    }
}

/// A machine on its contact points, seen from the side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stance {
    /// Mass.
    pub mass_kg: f64,
    /// Height of the centre of mass.
    pub height_m: f64,
    /// From the centre of mass ahead to the edge of the support.
    pub front_m: f64,
    /// From the centre of mass back to the edge of the support.
    pub rear_m: f64,
}

/// When it tips.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tipping {
    /// Slope down ahead at which it tips over the front.
    pub ahead_rad: f64,
    /// Braking at which it tips over the front.
    pub ahead_mps2: f64,
    /// Speeding up at which it tips over the rear.
    pub back_mps2: f64,
    /// Load on the front edge while braking.
    pub front_n: f64,
    /// Load on the rear edge while braking.
    pub rear_n: f64,
    /// Push from behind at the given height that tips it over the front.
    pub push_n: f64,
}

/// Tipping of a rigid machine.
///
/// ```text
/// angle = atan(b/h)    a = g b/h    N_front = m (g b_rear + a h)/L    F = m g b/h_push
/// ```
///
/// Statics, derived. b runs to the contact points, not to the frame. Only traction can tip it: it tips before it slides
/// where b/h < μ.
pub fn tipping(s: &Stance, braking_mps2: f64, push_height_m: f64) -> Tipping {
    let g = STANDARD_GRAVITY_MPS2;
    let base_m = s.front_m + s.rear_m;
    Tipping {
        ahead_rad: (s.front_m / s.height_m).atan(),
        ahead_mps2: g * s.front_m / s.height_m,
        back_mps2: g * s.rear_m / s.height_m,
        front_n: s.mass_kg * (g * s.rear_m + braking_mps2 * s.height_m) / base_m,
        rear_n: s.mass_kg * (g * s.front_m - braking_mps2 * s.height_m) / base_m,
        push_n: s.mass_kg * g * s.front_m / push_height_m,
    }
}

/// Deviations of parts in a row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stack {
    /// All at their worst at once.
    pub worst_m: f64,
    /// Root of the sum of squares: what is usual when they are independent.
    pub usual_m: f64,
}

/// Sum of tolerances: Σ t and √Σ t² (derived).
pub fn stack(tolerances_m: &[f64]) -> Stack {
    Stack {
        worst_m: tolerances_m.iter().map(|t| t.abs()).sum(),
        usual_m: tolerances_m.iter().map(|t| t * t).sum::<f64>().sqrt(),
    }
}

/// A box with sides along the axes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Block {
    /// Least corner.
    pub low_m: [f64; 3],
    /// Greatest corner.
    pub high_m: [f64; 3],
}

impl Block {
    /// The block about a centre.
    pub fn about(centre_m: [f64; 3], size_m: [f64; 3]) -> Block {
        let corner = |sign: f64| [0, 1, 2].map(|i: usize| centre_m[i] + sign * 0.5 * size_m[i]);
        Block {
            low_m: corner(-1.0),
            high_m: corner(1.0),
        }
    }

    /// Length of each side.
    pub fn size_m(&self) -> [f64; 3] {
        [0, 1, 2].map(|i: usize| self.high_m[i] - self.low_m[i])
    }

    /// Volume.
    pub fn volume_m3(&self) -> f64 {
        self.size_m().iter().product()
    }

    /// The least block around both.
    pub fn around(&self, other: &Block) -> Block {
        Block {
            low_m: [0, 1, 2].map(|i: usize| self.low_m[i].min(other.low_m[i])),
            high_m: [0, 1, 2].map(|i: usize| self.high_m[i].max(other.high_m[i])),
        }
    }
}

/// The least block around all; `None` for an empty list.
pub fn envelope(blocks: &[Block]) -> Option<Block> {
    let (first, rest) = blocks.split_first()?;
    Some(rest.iter().fold(*first, |all, b| all.around(b)))
}

/// Method: cells along each side of the room that is searched.
const CELLS: usize = 24;

/// The greatest block within a room that no part touches, on a grid; `None` where nothing is free.
///
/// Exact to the size of a cell (a 24th of the room's side): a cell that a part touches counts as taken.
pub fn free_block(room: &Block, parts: &[Block]) -> Option<Block> {
    let size = room.size_m();
    if !size.iter().all(|s| *s > 0.0 && s.is_finite()) {
        return None;
    }
    let edge = |axis: usize, i: usize| room.low_m[axis] + size[axis] * i as f64 / CELLS as f64;
    // Rounding: a part that only touches a cell's face does not take it.
    let sliver = size.map(|s| 1e-9 * s);
    let taken = |i: usize, j: usize, k: usize| {
        parts.iter().any(|p| {
            [i, j, k].iter().enumerate().all(|(axis, c)| {
                edge(axis, *c) < p.high_m[axis] - sliver[axis]
                    && edge(axis, c + 1) > p.low_m[axis] + sliver[axis]
            })
        })
    };
    let free: Vec<bool> = (0..CELLS * CELLS * CELLS)
        .map(|n| !taken(n / (CELLS * CELLS), n / CELLS % CELLS, n % CELLS))
        .collect();
    let mut best: Option<(f64, Block)> = None;
    for k0 in 0..CELLS {
        let mut open = vec![true; CELLS * CELLS];
        for k1 in k0..CELLS {
            for (ij, o) in open.iter_mut().enumerate() {
                *o &= free[ij * CELLS + k1];
            }
            // The greatest rectangle of this slab, row by row.
            let mut depth = [0usize; CELLS];
            for i in 0..CELLS {
                for (j, d) in depth.iter_mut().enumerate() {
                    *d = if open[i * CELLS + j] { *d + 1 } else { 0 };
                }
                for j0 in 0..CELLS {
                    let mut least = usize::MAX;
                    for (j1, d) in depth.iter().enumerate().skip(j0) {
                        least = least.min(*d);
                        if least == 0 {
                            break;
                        }
                        let block = Block {
                            low_m: [edge(0, i + 1 - least), edge(1, j0), edge(2, k0)],
                            high_m: [edge(0, i + 1), edge(1, j1 + 1), edge(2, k1 + 1)],
                        };
                        let volume = block.volume_m3();
                        if best.is_none_or(|(v, _)| volume > v * (1.0 + 1e-12)) {
                            best = Some((volume, block));
                        }
                    }
                }
            }
        }
    }
    best.map(|(_, b)| b)
}

/// Force on a part's fastening at a jolt of so many times its weight: m n g.
pub fn jolt_n(mass_kg: f64, jolt_ratio: f64) -> f64 {
    mass_kg * jolt_ratio * STANDARD_GRAVITY_MPS2
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Loads on both edges are the weight, and the rear one is free at the braking that tips.
    #[test]
    fn the_rear_lifts_off_just_at_the_braking_that_tips() {
        let s = Stance {
            mass_kg: 12.0,
            height_m: 0.2,
            front_m: 0.1,
            rear_m: 0.16,
        };
        let at = tipping(&s, tipping(&s, 0.0, 0.2).ahead_mps2, 0.2);
        assert!(at.rear_n.abs() < 1e-9);
        assert!((at.front_n - 12.0 * STANDARD_GRAVITY_MPS2).abs() < 1e-9);
        assert!(at.back_mps2 > at.ahead_mps2);
    }

    #[test]
    fn the_free_room_beside_a_slab_is_the_rest() {
        let room = Block {
            low_m: [0.0; 3],
            high_m: [0.24, 0.48, 0.72],
        };
        let slab = Block {
            low_m: [0.0; 3],
            high_m: [0.24, 0.48, 0.3],
        };
        let free = free_block(&room, &[slab]).unwrap();
        assert!((free.low_m[2] - 0.3).abs() < 1e-9 && (free.volume_m3() - 0.24 * 0.48 * 0.42).abs() < 1e-9);
        assert_eq!(free_block(&room, &[room]), None);
        let whole = free_block(&room, &[]).unwrap();
        assert!((whole.volume_m3() - room.volume_m3()).abs() < 1e-12);
    }

    #[test]
    fn no_parts_have_no_envelope_and_a_jolt_is_a_multiple_of_the_weight() {
        assert_eq!(envelope(&[]), None);
        let a = Block::about([0.0; 3], [0.2, 0.2, 0.2]);
        let b = Block::about([0.3, 0.0, 0.0], [0.1, 0.1, 0.1]);
        let all = envelope(&[a, b]).unwrap();
        assert!((all.size_m()[0] - 0.45).abs() < 1e-12);
        assert!((jolt_n(2.0, 10.0) - 196.133).abs() < 1e-9);
    }
}
