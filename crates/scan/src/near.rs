//! Which points lie nearest to a place: a tree of halves, each cut across its longer side.
//!
//! Every leaf holds a few points that lie beside one another in memory, and the number of levels
//! hangs on the number of points alone, so that a cloud that is dense here and sparse there costs no
//! more than an even one.

use nalgebra::Point3;
use rayon::prelude::*;

/// Points in a leaf at most.
const LEAF: usize = 12;
/// Below this many points two threads help no more.
const SMALL: usize = 20_000;

/// A point with its index among those given.
#[derive(Debug, Clone, Copy)]
struct Entry {
    at: [f64; 3],
    index: u32,
}

/// A cut: what lies left of it is at most `at` along `axis`, what lies right at least.
#[derive(Debug, Clone, Copy, Default)]
struct Cut {
    axis: usize,
    at: f64,
}

/// The tree.
#[derive(Debug, Clone)]
pub(crate) struct Near {
    entries: Vec<Entry>,
    /// In the order root, left half, right half.
    cuts: Vec<Cut>,
    levels: u32,
}

/// The nearest points found so far, nearest first: squared distance and index.
#[derive(Debug, Clone)]
pub(crate) struct Nearest {
    pub(crate) found: Vec<(f64, u32)>,
    most: usize,
    /// Squared distance beyond which nothing is wanted.
    within: f64,
}

impl Nearest {
    /// Room for `most` points, of which none is farther than `within`.
    pub(crate) fn new(most: usize, within: f64) -> Self {
        Self { found: Vec::with_capacity(most + 1), most: most.max(1), within: within * within }
    }

    fn worst(&self) -> f64 {
        match self.found.last() {
            Some((worst, _)) if self.found.len() == self.most => *worst,
            _ => self.within,
        }
    }

    fn offer(&mut self, square: f64, index: u32) {
        if square > self.worst() || (self.found.len() == self.most && square >= self.worst()) {
            return;
        }
        if self.found.len() == self.most {
            self.found.pop();
        }
        let mut place = self.found.len();
        self.found.push((square, index));
        while place > 0 && self.found[place - 1].0 > square {
            self.found[place] = self.found[place - 1];
            place -= 1;
        }
        self.found[place] = (square, index);
    }
}

impl Near {
    /// Of points that are numbers; fewer than 2^32.
    pub(crate) fn new(points: &[Point3<f64>]) -> Self {
        let mut entries: Vec<Entry> = points
            .par_iter()
            .zip(0_u32..u32::MAX)
            .map(|(p, index)| Entry { at: [p.x, p.y, p.z], index })
            .collect();
        let mut levels = 0;
        while entries.len() >> levels > LEAF {
            levels += 1;
        }
        let mut cuts = vec![Cut::default(); (1 << levels) - 1];
        build(&mut entries, &mut cuts);
        Self { entries, cuts, levels }
    }

    /// The points nearest to `q`, into `nearest`, which is emptied first.
    pub(crate) fn nearest(&self, q: &Point3<f64>, nearest: &mut Nearest) {
        nearest.found.clear();
        if !self.entries.is_empty() {
            let q = [q.x, q.y, q.z];
            let off = [0.0; 3];
            self.search(&q, 0, self.levels, (0, self.entries.len()), off, nearest);
        }
    }

    fn search(
        &self,
        q: &[f64; 3],
        cut: usize,
        levels: u32,
        (low, high): (usize, usize),
        off: [f64; 3],
        nearest: &mut Nearest,
    ) {
        if levels == 0 {
            for entry in &self.entries[low..high] {
                let [x, y, z] = entry.at;
                let (x, y, z) = (x - q[0], y - q[1], z - q[2]);
                nearest.offer(x * x + y * y + z * z, entry.index);
            }
            return;
        }
        let Cut { axis, at } = self.cuts[cut];
        let middle = usize::midpoint(low, high);
        let right = cut + (1 << (levels - 1));
        let way = q[axis] - at;
        let (first, second) = if way < 0.0 {
            ((cut + 1, (low, middle)), (right, (middle, high)))
        } else {
            ((right, (middle, high)), (cut + 1, (low, middle)))
        };
        self.search(q, first.0, levels - 1, first.1, off, nearest);
        let mut there = off;
        there[axis] = way;
        // How far the other half is at least, with what was crossed before along the other axes.
        let square: f64 = there.iter().map(|d| d * d).sum();
        if square <= nearest.worst() {
            self.search(q, second.0, levels - 1, second.1, there, nearest);
        }
    }

    /// Something of each point and its nearest ones, which are itself first, in the points' own
    /// order. Neighbours are worked on together.
    pub(crate) fn of_each<T: Send + Copy + Default>(
        &self,
        most: usize,
        tell: impl Fn(u32, &Nearest) -> T + Sync,
    ) -> Vec<T> {
        let told: Vec<(u32, T)> = self
            .entries
            .par_chunks(1024)
            .flat_map_iter(|chunk| {
                let mut nearest = Nearest::new(most, f64::INFINITY);
                let all: Vec<(u32, T)> = chunk
                    .iter()
                    .map(|entry| {
                        self.nearest(&Point3::from(entry.at), &mut nearest);
                        (entry.index, tell(entry.index, &nearest))
                    })
                    .collect();
                all
            })
            .collect();
        let mut ordered = vec![T::default(); told.len()];
        for (index, value) in told {
            ordered[index as usize] = value;
        }
        ordered
    }
}

fn build(entries: &mut [Entry], cuts: &mut [Cut]) {
    let Some((root, rest)) = cuts.split_first_mut() else { return };
    let mut low = [f64::INFINITY; 3];
    let mut high = [f64::NEG_INFINITY; 3];
    for entry in entries.iter() {
        for i in 0..3 {
            low[i] = low[i].min(entry.at[i]);
            high[i] = high[i].max(entry.at[i]);
        }
    }
    let wide = |i: usize| high[i] - low[i];
    let axis = if wide(0) >= wide(1) && wide(0) >= wide(2) {
        0
    } else if wide(1) >= wide(2) {
        1
    } else {
        2
    };
    let middle = entries.len() / 2;
    // Equal places are told apart by their index, so that the tree is the same each time.
    entries.select_nth_unstable_by(middle, |a, b| {
        a.at[axis].total_cmp(&b.at[axis]).then(a.index.cmp(&b.index))
    });
    *root = Cut { axis, at: entries[middle].at[axis] };
    let (left, right) = entries.split_at_mut(middle);
    let (left_cuts, right_cuts) = rest.split_at_mut(rest.len() / 2);
    if left.len() + right.len() > SMALL {
        rayon::join(|| build(left, left_cuts), || build(right, right_cuts));
    } else {
        build(left, left_cuts);
        build(right, right_cuts);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chance::Chance;

    /// Beside every distance, sorted.
    #[test]
    fn finds_what_a_plain_look_at_all_finds() {
        for (count, sparse) in [(1, 1.0), (7, 1.0), (13, 1.0), (400, 1.0), (3000, 500.0)] {
            let mut chance = Chance::new(count as u64);
            let mut points: Vec<Point3<f64>> = (0..count)
                .map(|i| {
                    let scale = if i % 10 == 0 { sparse } else { 1.0 };
                    Point3::from([(); 3].map(|()| scale * chance.either_way()))
                })
                .collect();
            // Some lie in one place.
            for i in 0..count / 3 {
                points[i] = points[count - 1];
            }
            let near = Near::new(&points);
            let mut nearest = Nearest::new(9, 0.7);
            for _ in 0..200 {
                let q = Point3::from([(); 3].map(|()| 2.0 * chance.either_way()));
                near.nearest(&q, &mut nearest);
                let mut all: Vec<f64> =
                    points.iter().map(|p| (p - q).norm_squared()).filter(|d| *d <= 0.49).collect();
                all.sort_by(f64::total_cmp);
                all.truncate(9);
                let found: Vec<f64> = nearest.found.iter().map(|f| f.0).collect();
                assert_eq!(found.len(), all.len());
                assert!(found.iter().zip(&all).all(|(a, b)| (a - b).abs() < 1e-12));
            }
            let own = near.of_each(1, |index, nearest| nearest.found.first().map(|f| (index, f.0)));
            let same =
                |o: &Option<(u32, f64)>, i| o.is_some_and(|(at, d)| at == i && d.abs() < 1e-300);
            assert!(own.iter().zip(0..).all(|(o, i)| same(o, i)), "{count}");
        }
    }

    #[test]
    fn nothing_is_near_in_an_empty_cloud() {
        let mut nearest = Nearest::new(3, f64::INFINITY);
        Near::new(&[]).nearest(&Point3::origin(), &mut nearest);
        assert!(nearest.found.is_empty());
    }
}
