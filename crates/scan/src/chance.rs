//! Numbers that look drawn by chance and are the same each time, so that a scan gives one answer.

/// A row of such numbers (splitmix64, Steele, Lea and Flood 2014).
#[derive(Debug, Clone)]
pub(crate) struct Chance(u64);

impl Chance {
    pub(crate) const fn new(seed: u64) -> Self {
        Self(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// From 0 up to 1.
    pub(crate) fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// One of `count` places; 0 where there is none.
    pub(crate) fn below(&mut self, count: usize) -> usize {
        usize::try_from(self.next() % count.max(1) as u64).unwrap_or(0)
    }

    /// Evenly from -1 to 1.
    pub(crate) fn either_way(&mut self) -> f64 {
        2.0 * self.share() - 1.0
    }
}
