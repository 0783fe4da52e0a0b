//! Many poses at once.
//!
//! When no point of a body goes farther than `mu` from one pose to another, two of its triangles
//! that are `d + 2 mu` or more apart at the first, with `d` the gap there, are at least `d + mu`
//! apart at the second, and the gap is no more than that. So one walk at a pose in the middle
//! collects the few pairs of triangles among which the nearest of every pose around it are, and
//! each pose judges those alone.

use nalgebra::Isometry3;
use pulp::{Arch, Simd, WithSimd};

use crate::best_first::{Found, Judge, Start, nearest_first};
use crate::follow::Follower;
use crate::lanes::Batch;
use crate::motion::end_bound_of;
use crate::query::{Gap, Pair, Proximity, usable_cap};
use crate::solid::Solid;
use crate::triangle::{self, Triangle};
use crate::walk::{Visit, walk};

/// Poses that one thread takes at least.
const SHARE: usize = 64;
/// Poses below which a common walk does not pay.
const FEW: usize = 12;
/// Pairs of triangles above which a common walk does not pay.
const MANY: usize = 1024;

/// The gap at each of many poses, in their order: the answers of [`gap`](fn@crate::gap) within
/// rounding, though of several equally near pairs of triangles it may tell another; the same
/// whatever the number of threads. Poses near each other, wherever they stand in the list, are
/// answered together and sooner than one by one.
pub fn gaps(a: &Solid, b: &Solid, a_from_b: &[Isometry3<f64>], cap: f64) -> Vec<Proximity> {
    let cap = usable_cap(cap);
    let (mut usable, mut answers) = (Vec::new(), Vec::new());
    for (place, pose) in a_from_b.iter().enumerate() {
        match Pair::new(a, b, pose) {
            Ok(pair) => usable.push((place, pair)),
            Err(why) => answers.push((place, Proximity::CannotDecide(why))),
        }
    }
    answers.extend(together(&mut usable, &Question { a, b, a_from_b, cap }, f64::INFINITY));
    answers.sort_unstable_by_key(|(place, _)| *place);
    answers.into_iter().map(|(_, answer)| answer).collect()
}

struct Question<'s> {
    a: &'s Solid,
    b: &'s Solid,
    a_from_b: &'s [Isometry3<f64>],
    cap: f64,
}

/// The place of a pose in the list, with the bodies at it.
type At<'s> = (usize, Pair<'s>);
type Answer = (usize, Proximity);

/// Answers the poses from one walk if all are within `worth` of the middle one and it pays, or
/// else parts them in two.
fn together(poses: &mut [At<'_>], question: &Question<'_>, worth: f64) -> Vec<Answer> {
    if poses.len() < FEW {
        let mut follower = Follower::new(question.a, question.b);
        return poses
            .iter()
            .map(|(place, _)| (*place, follower.gap(&question.a_from_b[*place], question.cap)))
            .collect();
    }
    let (_, middle) = &poses[poses.len() / 2];
    let (mu, _) = farthest_from(middle, poses);
    let mut worth = worth;
    if mu <= worth {
        if let Some(answers) = around(middle, mu, poses, question.cap) {
            return answers;
        }
        // What is left out grows with the way: no use in trying much the same again.
        worth = 0.5 * mu;
    }
    let parted = part(poses);
    let (first, second) = poses.split_at_mut(parted);
    let (mut answers, more) = if first.len().min(second.len()) >= SHARE {
        rayon::join(|| together(first, question, worth), || together(second, question, worth))
    } else {
        (together(first, question, worth), together(second, question, worth))
    };
    answers.extend(more);
    answers
}

/// How far the body goes from one pose to the farthest of others, and which that is.
fn farthest_from(from: &Pair<'_>, poses: &[At<'_>]) -> (f64, usize) {
    let mut farthest = (0.0, 0);
    for (rank, (_, to)) in poses.iter().enumerate() {
        let way = between(from, to);
        if way > farthest.0 {
            farthest = (way, rank);
        }
    }
    farthest
}

fn between(from: &Pair<'_>, to: &Pair<'_>) -> f64 {
    end_bound_of(from.b, &from.a_from_b, &to.a_from_b)
}

/// Puts the poses nearer to one of two far ones before those nearer to the other, and tells how
/// many; neither part is empty.
fn part(poses: &mut [At<'_>]) -> usize {
    let (_, one) = farthest_from(&poses[0].1, poses);
    let (_, other) = farthest_from(&poses[one].1, poses);
    let mut sorted: Vec<(f64, usize)> = poses
        .iter()
        .enumerate()
        .map(|(rank, (_, pose))| {
            (between(&poses[one].1, pose) - between(&poses[other].1, pose), rank)
        })
        .collect();
    sorted.sort_unstable_by(|x, y| x.0.total_cmp(&y.0).then(x.1.cmp(&y.1)));
    let nearer = sorted.iter().filter(|(way, _)| *way <= 0.0).count();
    let ordered: Vec<At<'_>> = sorted.iter().map(|(_, rank)| poses[*rank]).collect();
    poses.copy_from_slice(&ordered);
    nearer.clamp(1, poses.len() - 1)
}

/// `None` when the poses are too far apart for it to pay, or too near contact to be safe.
fn around(middle: &Pair<'_>, mu: f64, poses: &[At<'_>], cap: f64) -> Option<Vec<Answer>> {
    let slack = poses.iter().map(|(_, pair)| pair.slack()).fold(0.0, f64::max);
    let mu = mu + 2.0 * slack;
    let Found::Apart(_, nearest) = nearest_first(middle, Start::below(f64::INFINITY)) else {
        return None;
    };
    let apart = nearest.squared.sqrt();
    if apart <= mu {
        // Surfaces might meet or pass each other on the way.
        return None;
    }
    // The same for all poses, as in a [`Follower`].
    let at_middle = middle.one_holds_other();
    let one_holds_other = |pair: &Pair<'_>| {
        if pair.are_whole() { at_middle } else { pair.one_holds_other() }
    };
    if apart - mu >= cap {
        let answer = |pair: &Pair<'_>| Proximity::of_apart(one_holds_other(pair), None, cap);
        return Some(poses.iter().map(|(place, pair)| (*place, answer(pair))).collect());
    }
    let near = middle.pairs_within(apart + 2.0 * mu)?;
    let answer = |pair: &Pair<'_>| {
        Proximity::of_apart(one_holds_other(pair), pair.nearest_among(&near, cap), cap)
    };
    Some(poses.iter().map(|(place, pair)| (*place, answer(pair))).collect())
}

impl Pair<'_> {
    /// The slots of all pairs of triangles that may be within a distance; `None` where they are many.
    pub(crate) fn pairs_within(&self, distance: f64) -> Option<Vec<[usize; 2]>> {
        let mut collect = Collect::within(distance, self.slack());
        walk(self, &mut collect);
        (collect.found.len() <= MANY).then_some(collect.found)
    }

    /// The nearest two points of some pairs of triangles that do not meet, if nearer than `cap` millimetres.
    pub(crate) fn nearest_among(&self, slots: &[[usize; 2]], cap: f64) -> Option<Gap> {
        let slots = Arch::new().dispatch(Among { pair: self, slots, cap })?;
        let (p, q) = self.triangles(slots);
        Some(self.gap_at(slots, &triangle::nearest_apart(&p, &q)))
    }
}

/// Collects the pairs of triangles that are not certainly a distance or more apart.
struct Collect {
    limit: f64,
    screened: Batch,
    found: Vec<[usize; 2]>,
}

impl Collect {
    fn within(distance: f64, slack: f64) -> Self {
        Self { limit: (distance + slack).powi(2), screened: Batch::new(), found: Vec::new() }
    }
}

impl Visit for Collect {
    const SORTED: bool = false;

    #[inline(always)]
    fn limit(&self) -> f64 {
        self.limit
    }

    #[inline(always)]
    fn pair<S: Simd>(&mut self, simd: S, slots: [usize; 2], p: &Triangle, q: &Triangle) -> bool {
        self.screened.push(slots, p, q);
        if self.screened.is_full() {
            self.finish(simd);
        }
        self.found.len() <= MANY
    }

    #[inline(always)]
    fn finish<S: Simd>(&mut self, simd: S) {
        let at_least = self.screened.at_least(simd);
        for lane in 0..self.screened.count() {
            if at_least[lane] > self.limit {
                continue;
            }
            self.found.push(self.screened.slots(lane));
        }
        self.screened.clear();
    }
}

/// The nearest of some pairs of triangles, if nearer than the cap.
struct Among<'t, 's> {
    pair: &'t Pair<'s>,
    slots: &'t [[usize; 2]],
    cap: f64,
}

impl WithSimd for Among<'_, '_> {
    type Output = Option<[usize; 2]>;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Self::Output {
        let pair = self.pair;
        let mut judge = Judge::new(pair.slack(), Start::below(self.cap));
        let mut brought: Option<(usize, Triangle)> = None;
        for slots in self.slots {
            let q = match brought {
                Some((slot, q)) if slot == slots[1] => q,
                _ => pair.a_from_b.apply_all(&pair.b.soup.corners(slots[1])),
            };
            brought = Some((slots[1], q));
            judge.take(simd, *slots, &pair.a.soup.corners(slots[0]), &q);
        }
        judge.finish(simd);
        judge.found()
    }
}
