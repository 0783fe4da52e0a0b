//! Repeatable pseudo-random numbers.

/// `SplitMix64` (Steele, Lea, Flood, "Fast splittable pseudorandom number generators", OOPSLA
/// 2014; constants from memory). Any sequence would do; this one is short and has no bad seeds.
pub(crate) struct Chance(u64);

impl Chance {
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Evenly between two numbers.
    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// True this often.
    pub(crate) fn happens(&mut self, part: f64) -> bool {
        self.between(0.0, 1.0) < part
    }

    /// One of the first `count` whole numbers.
    pub(crate) fn below(&mut self, count: usize) -> usize {
        let count = u32::try_from(count).unwrap();
        (((self.next() >> 32) * u64::from(count)) >> 32) as usize
    }
}
