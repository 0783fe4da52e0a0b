//! Two sets of placed parts: which of them come near each other.

use nalgebra::{Isometry3, Point3};
use rayon::prelude::*;

use crate::certify::rounding;
use crate::motion::corners;
use crate::pose::Pose;
use crate::query::{Gap, Proximity, gap, usable_cap};
use crate::solid::{Bounds, Solid, Undecided};

/// A solid where it stands.
#[derive(Debug, Clone, Copy)]
pub struct Part<'s> {
    /// The body, in its own frame.
    pub solid: &'s Solid,
    /// Takes its coordinates into the frame common to all parts.
    pub common_from_solid: Isometry3<f64>,
}

/// How near one part of the first set is to one of the second.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Near {
    /// Index of the part in the first set and in the second.
    pub parts: [usize; 2],
    /// How near.
    pub proximity: NearParts,
}

/// How near two parts are that are not at least the cap apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum NearParts {
    /// They overlap or touch.
    Overlapping,
    /// It cannot be told.
    CannotDecide(Undecided),
    /// They are this far apart, less than the cap. The points are in the common frame.
    Apart(Gap),
}

impl NearParts {
    /// What sorts first: overlapping parts, then undecided ones, then the rest by distance.
    fn rank(&self) -> (u8, f64) {
        match self {
            Self::Overlapping => (0, 0.0),
            Self::CannotDecide(_) => (1, 0.0),
            Self::Apart(gap) => (2, gap.distance),
        }
    }
}

/// One entry for every part of `firsts` and every part of `seconds` that are nearer than `cap`
/// millimetres, overlap, or cannot be told: overlapping pairs first, then undecided ones, then
/// the others, nearest first; pairs that are even in the order of their indices. Every pair is
/// its own query, so the answer does not depend on the number of threads. A cap that is not a
/// number is no cap.
///
/// Pairs whose boxes are as far apart as the cap are never looked at. A part that cannot be used
/// is undecided against every other.
pub fn least_gaps(firsts: &[Part], seconds: &[Part], cap: f64) -> Vec<Near> {
    let cap = usable_cap(cap);
    let pairs = near_boxes(&boxes(firsts), &boxes(seconds), cap);
    let mut found: Vec<Near> = pairs
        .into_par_iter()
        .filter_map(|[i, j]| {
            let (first, second) = (firsts.get(i)?, seconds.get(j)?);
            Some(Near { parts: [i, j], proximity: nearness(first, second, cap)? })
        })
        .collect();
    found.sort_by(|x, y| {
        let ((kind_x, far_x), (kind_y, far_y)) = (x.proximity.rank(), y.proximity.rank());
        kind_x.cmp(&kind_y).then(far_x.total_cmp(&far_y)).then(x.parts.cmp(&y.parts))
    });
    found
}

fn nearness(first: &Part, second: &Part, cap: f64) -> Option<NearParts> {
    // Checked one by one: a product hides that one of them is no rotation.
    for part in [first, second] {
        if let Err(why) = Pose::new(&part.common_from_solid) {
            return Some(NearParts::CannotDecide(why));
        }
    }
    let pose = first.common_from_solid.inv_mul(&second.common_from_solid);
    match gap(first.solid, second.solid, &pose, cap) {
        Proximity::AtLeast(_) => None,
        Proximity::Overlapping => Some(NearParts::Overlapping),
        Proximity::CannotDecide(why) => Some(NearParts::CannotDecide(why)),
        Proximity::Apart(gap) => Some(NearParts::Apart(Gap {
            on_a: first.common_from_solid * gap.on_a,
            on_b: first.common_from_solid * gap.on_b,
            ..gap
        })),
    }
}

/// A box around each part in the common frame; all of space for one that cannot be used, so that
/// it comes up against every other.
fn boxes(parts: &[Part]) -> Vec<Bounds> {
    let around = |part: &Part| {
        let pose = Pose::new(&part.common_from_solid).ok()?;
        let moved = corners(&part.solid.bounds()?).map(|corner| pose.apply(&corner));
        let grow = rounding(part.solid, part.solid, &part.common_from_solid);
        let start = Bounds { low: moved[0], high: moved[0] };
        let tight = moved
            .iter()
            .fold(start, |all, c| Bounds { low: all.low.inf(c), high: all.high.sup(c) });
        Some(Bounds { low: tight.low.map(|c| c - grow), high: tight.high.map(|c| c + grow) })
    };
    let everywhere = Bounds { low: Point3::from([f64::MIN; 3]), high: Point3::from([f64::MAX; 3]) };
    parts.iter().map(|part| around(part).unwrap_or(everywhere)).collect()
}

/// Every pair of boxes nearer than `cap`, in an order that depends on the boxes alone: both sets
/// swept together along x, where a box meets only those that have begun and not yet ended.
fn near_boxes(firsts: &[Bounds], seconds: &[Bounds], cap: f64) -> Vec<[usize; 2]> {
    let sets = [firsts, seconds];
    let mut starts: Vec<(usize, usize)> =
        (0..2).flat_map(|set| (0..sets[set].len()).map(move |index| (set, index))).collect();
    starts.sort_by(|(s, i), (t, j)| sets[*s][*i].low.x.total_cmp(&sets[*t][*j].low.x));
    let mut begun = [Vec::new(), Vec::new()];
    let mut pairs = Vec::new();
    for (set, index) in starts {
        let (own, others) = (&sets[set][index], sets[1 - set]);
        begun[1 - set].retain(|other: &usize| own.low.x - others[*other].high.x <= cap);
        let close = begun[1 - set].iter().filter(|other| near(own, &others[**other], cap));
        pairs.extend(close.map(|other| if set == 0 { [index, *other] } else { [*other, index] }));
        begun[set].push(index);
    }
    pairs
}

fn near(x: &Bounds, y: &Bounds, cap: f64) -> bool {
    let apart = (x.low - y.high).sup(&(y.low - x.high)).map(|way| way.max(0.0));
    // Bodies that overlap count at any cap.
    apart.norm() < cap || apart.amax() <= 0.0
}
