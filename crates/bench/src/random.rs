//! Seeded random numbers, the same on every machine.

/// Generator of the SplitMix64 sequence [steele-2014].
#[derive(Clone, Debug)]
pub struct SplitMix(u64);

impl SplitMix {
    /// A generator with a seed.
    pub fn new(seed: u64) -> SplitMix {
        SplitMix(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Uniform between two numbers.
    pub fn uniform(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * ((self.next() >> 11) as f64 + 0.5) * (-53_f64).exp2()
    }

    /// Normal with a standard deviation, by the polar form of Box and Muller's method.
    pub fn normal(&mut self, sigma: f64) -> f64 {
        loop {
            let (u, v) = (self.uniform(-1.0, 1.0), self.uniform(-1.0, 1.0));
            let s = u * u + v * v;
            if s < 1.0 {
                return sigma * u * (-2.0 * s.ln() / s).sqrt();
            }
        }
    }
}
