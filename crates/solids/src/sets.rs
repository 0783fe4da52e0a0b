//! Numbers in disjoint sets.

/// The numbers from 0 up, each in a set of its own until sets are joined.
#[derive(Debug, Clone)]
pub struct Sets(Vec<u32>);

impl Sets {
    /// So many numbers, each alone.
    pub fn new(count: usize) -> Self {
        Self((0_u32..).take(count).collect())
    }

    /// The least number of the set that a number is in. The number must be there.
    pub fn root(&mut self, mut i: u32) -> u32 {
        while self.0[i as usize] != i {
            let up = self.0[self.0[i as usize] as usize];
            self.0[i as usize] = up;
            i = up;
        }
        i
    }

    /// Makes one set of those that two numbers are in. Both must be there.
    pub fn join(&mut self, a: u32, b: u32) {
        let (a, b) = (self.root(a), self.root(b));
        self.0[a.max(b) as usize] = a.min(b);
    }

    /// How many sets there are.
    pub fn count(&self) -> usize {
        (0_u32..).zip(&self.0).filter(|(i, up)| i == *up).count()
    }
}
