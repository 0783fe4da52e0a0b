//! Space in cubes of one edge length, and which of them hold points.

use nalgebra::Point3;
use std::collections::{HashMap, HashSet};
use std::hash::{BuildHasherDefault, Hasher};

/// Cubes to either side of the middle that are told apart; what lies farther shares the outermost.
const MOST: f64 = (1 << 20) as f64 - 2.0;

/// Mixes a cube's number: the usual hasher is made for names and takes longer than all else here.
#[derive(Debug, Clone, Default)]
pub(crate) struct Mix(u64);

impl Hasher for Mix {
    fn finish(&self) -> u64 {
        self.0
    }

    fn write(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.write_u64(u64::from(*byte));
        }
    }

    fn write_u64(&mut self, value: u64) {
        let mixed = (self.0.rotate_left(5) ^ value).wrapping_mul(0x9E37_79B9_7F4A_7C15);
        self.0 = mixed ^ (mixed >> 32);
    }
}

/// A map from a cube's number.
pub(crate) type Map<T> = HashMap<u64, T, BuildHasherDefault<Mix>>;

/// The whole number not above a value; the nearest there is where it is none.
#[expect(clippy::cast_possible_truncation, reason = "saturates")]
pub(crate) const fn floor(value: f64) -> i32 {
    value.floor() as i32
}

/// A count out of a value; 0 below zero, the nearest there is where it is none.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "saturates")]
pub(crate) const fn whole(value: f64) -> usize {
    value as usize
}

/// Cubes about a middle.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Cells {
    pub(crate) middle: Point3<f64>,
    /// mm; above zero.
    pub(crate) edge: f64,
}

impl Cells {
    /// The cube that holds a point, counted from the middle.
    pub(crate) fn at(&self, p: &Point3<f64>) -> [i32; 3] {
        let of = |i: usize| floor(((p[i] - self.middle[i]) / self.edge).clamp(-MOST, MOST));
        [of(0), of(1), of(2)]
    }

    /// One number for a cube.
    pub(crate) fn number(at: [i32; 3]) -> u64 {
        at.iter()
            .fold(0, |n, c| (n << 21) | ((i64::from(*c) + (1 << 20)).cast_unsigned() & 0x1F_FFFF))
    }

    pub(crate) fn key(&self, p: &Point3<f64>) -> u64 {
        Self::number(self.at(p))
    }
}

/// Indices of points, one of each cube: the first given. In the order given.
pub(crate) fn thinned(points: &[Point3<f64>], edge: f64) -> Vec<u32> {
    let cells = Cells { middle: middle(points), edge };
    let mut met: HashSet<u64, BuildHasherDefault<Mix>> = HashSet::default();
    let mut last = u64::MAX;
    let mut kept = Vec::new();
    for (p, index) in points.iter().zip(0_u32..) {
        let key = cells.key(p);
        if key != last && met.insert(key) {
            kept.push(index);
        }
        last = key;
    }
    kept
}

/// About `most` of the points, spread evenly over the surface; all where there are fewer. In the
/// order given.
pub(crate) fn even(points: &[Point3<f64>], spacing: f64, most: usize) -> Vec<u32> {
    let mut edge = spacing.max(1e-6);
    // Points on a surface fall as the square of the cells' edge; one step too far is made good.
    let mut kept = thinned(points, edge);
    while kept.len() > most {
        edge *= (kept.len() as f64 / most as f64).sqrt().clamp(1.1, 4.0);
        kept = thinned(points, edge);
    }
    kept
}

/// The median of each coordinate over some of the points: where a few far away do not draw it.
pub(crate) fn middle(points: &[Point3<f64>]) -> Point3<f64> {
    let step = points.len().div_ceil(10_000).max(1);
    let of = |i: usize| {
        let mut all: Vec<f64> = points.iter().step_by(step).map(|p| p[i]).collect();
        median(&mut all)
    };
    Point3::new(of(0), of(1), of(2))
}

/// The upper median; 0 of nothing. Changes the order.
pub(crate) fn median(values: &mut [f64]) -> f64 {
    quantile(values, 0.5)
}

/// The value below which a share of the values lies; 0 of nothing. Changes the order.
pub(crate) fn quantile(values: &mut [f64], share: f64) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    let at = whole(share * values.len() as f64).min(values.len() - 1);
    *values.select_nth_unstable_by(at, f64::total_cmp).1
}
