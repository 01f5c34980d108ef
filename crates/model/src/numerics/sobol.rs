//! Sobol sequences, scrambled: points that fill a cube far more evenly than random ones do.

use super::random::hash;
use super::sobol_directions::DIRECTIONS;

/// A scrambled Sobol sequence of up to [`Sobol::MOST_DIMENSIONS`] dimensions and 2³² points.
///
/// ```text
/// x(i) = the sum over the set bits b of i xor (i >> 1) of v_b, addition without carry  [sobol-1967]
/// ```
///
/// with the direction numbers v of [joe-kuo-2008], in Gray code order [antonov-saleev-1979]. Each coordinate
/// is then scrambled: the binary digits are flipped, each by a random bit that depends on all digits before it
/// (nested uniform scrambling [owen-1997]). A point is thereby uniform in the cube, any 2^m points that
/// start at a multiple of 2^m still fill each interval of 2^−m once, and the mean of a smooth function over
/// N points errs by about N^−1.5 instead of the N^−0.5 of random points. Take a power of two of points.
///
/// The random bits come from a mixing in which each binary digit acts only on those after it, as in
/// [laine-karras-2011], with 64 bits a word and six keys for each dimension. It goes on past the 32 digits
/// of the sequence, so a coordinate has 52 random digits and never is 0 or 1.
///
/// Replicates of one seed are independent: the spread of their means is an honest error of the mean.
/// The bits of every value are the same on every machine.
pub struct Sobol {
    dimensions: Vec<Dimension>,
}

/// One coordinate of the sequence. Words here carry their first binary digit in the lowest bit.
struct Dimension {
    directions: [u32; 32],
    keys: Keys,
}

/// Keys of the scrambling of one dimension.
struct Keys {
    offsets: [u64; 2],
    /// Even, so that a product with them reaches later digits only.
    folds: [u64; 3],
    /// Odd, so that a product with it can be undone.
    stretch: u64,
}

impl Keys {
    fn new(seed: u64, replicate: u32, dimension: usize) -> Keys {
        let own = hash(hash(seed, u64::from(replicate)), dimension as u64);
        let key = |k| hash(own, k);
        Keys {
            offsets: [key(0), key(1)],
            folds: [key(2) & !1, key(3) & !1, key(4) & !1],
            stretch: key(5) | 1,
        }
    }

    /// Random digits for the digits of a coordinate; two that agree in their first digits go on doing so.
    #[inline]
    fn scramble(&self, digits: u32) -> u64 {
        let mut x = u64::from(digits).wrapping_add(self.offsets[0]);
        x ^= x.wrapping_mul(self.folds[0]);
        x = x.wrapping_mul(self.stretch);
        x ^= x.wrapping_mul(self.folds[1]);
        x = x.wrapping_add(self.offsets[1]);
        x ^ x.wrapping_mul(self.folds[2])
    }
}

/// The number whose binary digits after the point are given, first digit in the lowest bit.
///
/// It is an odd multiple of 2^−53: the middle of its interval of 2^−52, inside (0, 1) without rounding.
#[inline]
fn fraction(digits: u64) -> f64 {
    ((digits.reverse_bits() >> 11) | 1) as f64 * ULP
}

/// 2^−53.
const ULP: f64 = 1.0 / 9_007_199_254_740_992.0;

impl Sobol {
    /// Most dimensions there are direction numbers for.
    pub const MOST_DIMENSIONS: usize = DIRECTIONS.len() + 1;

    /// A sequence; `None` when it has more dimensions than there are direction numbers.
    pub fn new(dimension_count: usize, seed: u64, replicate: u32) -> Option<Sobol> {
        let dimension = |d| {
            Some(Dimension {
                directions: directions(d)?,
                keys: Keys::new(seed, replicate, d),
            })
        };
        Some(Sobol {
            dimensions: (0..dimension_count).map(dimension).collect::<Option<_>>()?,
        })
    }

    /// Count of coordinates of a point.
    pub fn dimension_count(&self) -> usize {
        self.dimensions.len()
    }

    /// Coordinates of one point, each strictly inside (0, 1).
    ///
    /// Fills as many entries of `out` as there are dimensions; a shorter `out` takes the first of them.
    pub fn point(&self, index: u32, out: &mut [f64]) {
        for (dimension, value) in self.dimensions.iter().zip(out) {
            *value = fraction(dimension.keys.scramble(dimension.digits(index)));
        }
    }

    /// Points `first` to `first + count − 1`, one column for each dimension; each column is replaced.
    ///
    /// After the 2³² points there are, it starts again from the first.
    pub fn block(&self, first: u32, count: usize, columns: &mut [Vec<f64>]) {
        for (dimension, column) in self.dimensions.iter().zip(columns) {
            column.clear();
            column.reserve(count);
            let mut index = first;
            let mut digits = dimension.digits(first);
            column.extend((0..count).map(|_| {
                let value = fraction(dimension.keys.scramble(digits));
                index = index.wrapping_add(1);
                digits = match dimension.directions.get(index.trailing_zeros() as usize) {
                    Some(direction) => digits ^ direction,
                    None => 0,
                };
                value
            }));
        }
    }
}

impl Dimension {
    /// Digits of the coordinate before scrambling.
    fn digits(&self, index: u32) -> u32 {
        let gray = index ^ (index >> 1);
        self.directions
            .iter()
            .enumerate()
            .filter(|(b, _)| gray >> b & 1 == 1)
            .fold(0, |digits, (_, direction)| digits ^ direction)
    }
}

/// Direction numbers of a dimension, first binary digit in the lowest bit.
///
/// ```text
/// v_k = a_1 v_(k−1) + … + a_(s−1) v_(k−s+1) + v_(k−s) + (v_(k−s) >> s), addition without carry
/// ```
///
/// for a primitive polynomial of degree s with coefficients a [joe-kuo-2008]. The first dimension mirrors the
/// binary digits of the index.
fn directions(dimension: usize) -> Option<[u32; 32]> {
    let mut v = [0_u32; 32];
    if dimension == 0 {
        for (k, direction) in v.iter_mut().enumerate() {
            *direction = 1 << k;
        }
        return Some(v);
    }
    let (polynomial, start) = DIRECTIONS.get(dimension - 1)?;
    let degree = start.len();
    for k in 0..v.len() {
        v[k] = match start.get(k) {
            // The number is k + 1 binary digits after the point, last digit lowest.
            Some(&m) => (u32::from(m) << (31 - k)).reverse_bits(),
            None => {
                let mut sum = v[k - degree] ^ (v[k - degree] << degree);
                for back in 1..degree {
                    if polynomial >> (degree - back) & 1 == 1 {
                        sum ^= v[k - back];
                    }
                }
                sum
            }
        };
    }
    Some(v)
}

#[cfg(test)]
#[path = "sobol_tests.rs"]
mod tests;
