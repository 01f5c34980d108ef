//! Random numbers with the same bits on every machine.

use super::normal;

/// A stream of random numbers: the generator PCG XSL RR 128/64 [oneill-2014].
///
/// ```text
/// s ← s·47026247687942121848144207491837523525 + c  (mod 2^128)
/// output: the two halves of s combined by exclusive or, rotated right by the top six bits of s
/// ```
///
/// Seed and stream number are hashed into the state s and the odd increment c, so streams of one seed are
/// independent and so are equal streams of different seeds.
#[derive(Clone, Debug)]
pub struct Stream {
    state: u128,
    increment: u128,
}

/// Multiplier of the generator [oneill-2014].
const MULTIPLIER: u128 = 47_026_247_687_942_121_848_144_207_491_837_523_525;

impl Stream {
    /// Starts a stream.
    pub fn new(seed: u64, stream: u64) -> Stream {
        let own = hash(seed, stream);
        let wide = |k| u128::from(hash(own, k)) << 64 | u128::from(hash(own, k + 1));
        Stream {
            state: wide(0),
            increment: wide(2) | 1,
        }
    }

    /// 64 random bits.
    pub fn next_u64(&mut self) -> u64 {
        self.state = self.state.wrapping_mul(MULTIPLIER).wrapping_add(self.increment);
        let folded = (self.state >> 64) as u64 ^ self.state as u64;
        folded.rotate_right((self.state >> 122) as u32)
    }

    /// A number uniform in the open interval (0, 1): an odd multiple of 2^−53.
    pub fn uniform(&mut self) -> f64 {
        ((self.next_u64() >> 11) | 1) as f64 * ULP
    }

    /// A number of the standard normal distribution, by inversion.
    pub fn normal(&mut self) -> f64 {
        normal::quantile(self.uniform())
    }
}

/// 2^−53.
const ULP: f64 = 1.0 / 9_007_199_254_740_992.0;

/// A number that looks random for each pair of numbers, always the same for the same pair.
///
/// The finaliser of the generator SplitMix64 [steele-2014], over the first number and then over its sum with
/// a multiple of the second.
pub fn hash(a: u64, b: u64) -> u64 {
    let first = mix(a.wrapping_add(GOLDEN_GAMMA));
    mix(first.wrapping_add(b.wrapping_add(1).wrapping_mul(GOLDEN_GAMMA)))
}

/// The odd number nearest 2^64 divided by the golden ratio [steele-2014].
const GOLDEN_GAMMA: u64 = 0x9e37_79b9_7f4a_7c15;

fn mix(mut z: u64) -> u64 {
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: `numpy.random.PCG64` of numpy with its state set to these two numbers, `random_raw(4)`.
    #[test]
    fn the_generator_is_that_of_a_general_library() {
        let mut stream = Stream {
            state: 0x0123_4567_89ab_cdef_0123_4567_89ab_cdef,
            increment: 0xfedc_ba98_7654_3210_fedc_ba98_7654_3211,
        };
        let outputs = [0; 4].map(|_| stream.next_u64());
        assert_eq!(
            outputs,
            [
                0x410f_8868_bb16_882e,
                0x0cf6_7305_dc73_e5e7,
                0x1799_3926_107f_fc3c,
                0x13db_a854_4c1b_bd21
            ]
        );
    }

    /// Seeded results are compared between machines and releases, so a change of these bits is a change for users.
    #[test]
    fn the_seeded_bits_do_not_change() {
        let mut stream = Stream::new(42, 7);
        let bits = [
            stream.next_u64(),
            stream.uniform().to_bits(),
            stream.normal().to_bits(),
            hash(1, 2),
        ];
        assert_eq!(
            bits,
            [
                16102716205347738330,
                4605433455216706047,
                4590969705355580858,
                834844254806117752
            ]
        );
    }

    #[test]
    fn streams_of_one_seed_and_seeds_of_one_stream_are_unlike() {
        let first = |seed, stream| Stream::new(seed, stream).next_u64();
        let all = [first(0, 0), first(0, 1), first(1, 0), first(1, 1)];
        for i in 0..4 {
            for j in 0..i {
                // Unrelated words differ in 32 of 64 bits, give or take 4.
                let unlike = (all[i] ^ all[j]).count_ones();
                assert!((12..=52).contains(&unlike), "{unlike}");
            }
        }
    }

    #[test]
    fn normal_numbers_have_the_moments_of_the_standard_normal_distribution() {
        let count = 200_000;
        let mut stream = Stream::new(5, 5);
        let mut sums = [0.0; 4];
        for _ in 0..count {
            let x = stream.normal();
            for (k, sum) in sums.iter_mut().enumerate() {
                *sum += x.powi(k as i32 + 1);
            }
        }
        // Moments 0, 1, 0, 3 with variances 1, 2, 15, 96; four standard deviations.
        for ((sum, mean), variance) in sums
            .into_iter()
            .zip([0.0, 1.0, 0.0, 3.0])
            .zip([1.0, 2.0, 15.0, 96.0])
        {
            let error = sum / f64::from(count) - mean;
            assert!(
                error.abs() < 4.0 * f64::sqrt(variance / f64::from(count)),
                "{mean} {error}"
            );
        }
    }

    #[test]
    fn each_bit_of_either_number_changes_half_the_bits_of_the_hash() {
        for bit in 0..64 {
            let (mut first, mut second) = (0, 0);
            for a in 0..64 {
                first += (hash(a, 3) ^ hash(a ^ 1 << bit, 3)).count_ones();
                second += (hash(3, a) ^ hash(3, a ^ 1 << bit)).count_ones();
            }
            // 64·64 fair coins: 2048 give or take 32.
            assert!(
                (1860..2240).contains(&first) && (1860..2240).contains(&second),
                "{first} {second}"
            );
        }
        assert_ne!(hash(1, 2), hash(2, 1));
    }
}
