//! The nearest two triangles: the branches of both trees in the order of their lower bounds.
//!
//! Opened in this order, no branch is looked at whose bound exceeds the distance in the end, up
//! to the coarseness of the queue, whatever the first guess. The branches whose boxes overlap come
//! first, and with them every pair of triangles that could meet, so that whether the surfaces
//! cross is known before any distance is computed.

#![expect(clippy::float_cmp, reason = "pairs at the very same distance")]
#![expect(clippy::cast_possible_truncation, reason = "fewer than 2^32 branches fit in memory")]

use pulp::{Arch, Simd, WithSimd};

use crate::lanes::Batch;
use crate::query::Pair;
use crate::tree::{Child, Node, outward};
use crate::triangle::{self, Triangle};
use crate::walk::{Kind, Near, Opened, Sides};

/// Part of the pair's slack by which a pair has to be nearer to be looked at.
const TIE: f64 = 1.0 / 16.0;

/// What a search came to.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Found {
    /// Two triangles meet, of these slots.
    Meet([usize; 2]),
    /// No two triangles are nearer than the limit.
    Beyond,
    /// The nearest two points and the slots of their triangles.
    Apart([usize; 2], triangle::Nearest),
}

/// The nearest two points of the surfaces with a squared distance below that of the start.
pub(crate) fn nearest_first(pair: &Pair<'_>, start: Start) -> Found {
    Arch::new().dispatch(Task { pair, start })
}

/// What a search sets out from.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Start {
    /// Squared distance that there is something to find below.
    pub(crate) squared: f64,
    /// A pair of triangles at that very distance, if it is of one.
    pub(crate) slots: Option<[usize; 2]>,
    /// Whether the surfaces are known not to meet.
    pub(crate) are_apart: bool,
}

impl Start {
    /// From a cap alone.
    pub(crate) fn below(cap: f64) -> Self {
        Self { squared: cap * cap, slots: None, are_apart: false }
    }
}

struct Task<'t, 's> {
    pair: &'t Pair<'s>,
    start: Start,
}

impl WithSimd for Task<'_, '_> {
    type Output = Found;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Found {
        search(simd, self.pair, self.start)
    }
}

#[inline(always)]
fn search<S: Simd>(simd: S, pair: &Pair<'_>, start: Start) -> Found {
    let mut sides = Sides::of(pair);
    let mut judge = Judge::new(pair.slack(), start);
    let mut queue = Queue::new();
    queue.push(Branches { bound: 0.0, a: Child::ROOT, b: Child::ROOT });
    // Nodes over triangles whose boxes overlap: first whether any of their triangles meet.
    let mut touching: Vec<Branches> = Vec::new();
    while let Some(next) = queue.pop_overlapping() {
        match sides.kind(next.a, next.b) {
            Kind::Open => {
                let opened = sides.open(next.a, next.b);
                queue.push_opened(&next, &opened, judge.limit);
            }
            Kind::Triangles(slots) => {
                let (p, q) = sides.triangles(slots);
                if !start.are_apart && triangle::meet(&p, &q) {
                    return Found::Meet(slots);
                }
                touching.push(next);
            }
            Kind::Last(node_a, node_b) => {
                if !start.are_apart
                    && let Some(slots) =
                        first_meeting(&mut sides, next.a, node_a, node_b, judge.touch)
                {
                    return Found::Meet(slots);
                }
                touching.push(next);
            }
        }
    }
    for next in touching {
        compare(simd, &mut sides, &mut judge, &next);
    }
    while let Some(next) = queue.pop(judge.limit) {
        match sides.kind(next.a, next.b) {
            Kind::Open => {
                let opened = sides.open(next.a, next.b);
                queue.push_opened(&next, &opened, judge.limit);
            }
            Kind::Triangles(_) | Kind::Last(..) => {
                compare(simd, &mut sides, &mut judge, &next);
            }
        }
        if queue.is_empty() {
            judge.finish(simd);
        }
    }
    judge.finish(simd);
    match judge.found {
        None => Found::Beyond,
        Some(slots) => {
            let (p, q) = sides.triangles(slots);
            Found::Apart(slots, triangle::nearest_apart(&p, &q))
        }
    }
}

/// The first triangles of two nodes found to meet.
#[inline(always)]
fn first_meeting(
    sides: &mut Sides<'_>,
    a: Child,
    node_a: &Node,
    node_b: &Node,
    touch: f32,
) -> Option<[usize; 2]> {
    let bounds = sides.bounds_of_last(a, node_a, node_b);
    for (_, lane) in Near::of(&bounds, node_b.count(), touch, false).nearest_first() {
        let slot_b = node_b.slot(lane);
        let (q, bounds) = sides.against(node_a, slot_b);
        for (_, lane) in Near::of(&bounds, node_a.count(), touch, false).nearest_first() {
            let slot_a = node_a.slot(lane);
            if triangle::meet(&sides.corners_of_a(slot_a), &q) {
                return Some([slot_a, slot_b]);
            }
        }
    }
    None
}

/// Hands the pairs of triangles of two branches that may be within the limit to the judge.
#[inline(always)]
fn compare<S: Simd>(simd: S, sides: &mut Sides<'_>, judge: &mut Judge, next: &Branches) {
    match sides.kind(next.a, next.b) {
        Kind::Open => {}
        Kind::Triangles(slots) => {
            let (p, q) = sides.triangles(slots);
            judge.take(simd, slots, &p, &q);
        }
        Kind::Last(node_a, node_b) => {
            let bounds = sides.bounds_of_last(next.a, node_a, node_b);
            let near = Near::of(&bounds, node_b.count(), judge.limit, true);
            for (bound, lane) in near.nearest_first() {
                if bound > judge.limit {
                    break;
                }
                let slot_b = node_b.slot(lane);
                let (q, bounds) = sides.against(node_a, slot_b);
                let near = Near::of(&bounds, node_a.count(), judge.limit, false);
                for (_, lane) in near.nearest_first() {
                    let slots = [node_a.slot(lane), slot_b];
                    let p = sides.corners_of_a(slots[0]);
                    judge.take(simd, slots, &p, &q);
                }
            }
        }
    }
}

/// Gathers pairs of triangles and keeps the nearest.
pub(crate) struct Judge {
    /// Squared distance of the nearest pair so far, or the cut.
    squared: f64,
    /// Beyond which branches are left out, rounding covered.
    limit: f32,
    /// The limit for triangles that may meet.
    touch: f32,
    slack: f64,
    found: Option<[usize; 2]>,
    /// Pairs to screen by a lower bound, and pairs that passed.
    screened: Batch,
    batch: Batch,
}

impl Judge {
    pub(crate) fn new(slack: f64, start: Start) -> Self {
        let mut judge = Self {
            squared: start.squared,
            limit: 0.0,
            touch: outward(slack * slack),
            slack,
            found: start.slots,
            screened: Batch::new(),
            batch: Batch::new(),
        };
        judge.limit = outward(judge.reach());
        judge
    }

    /// The slots of the nearest pair nearer than the start.
    #[inline(always)]
    pub(crate) fn found(&self) -> Option<[usize; 2]> {
        self.found
    }

    #[inline(always)]
    fn reach(&self) -> f64 {
        let reach = self.squared.sqrt() + self.slack;
        reach * reach
    }

    #[inline(always)]
    pub(crate) fn take<S: Simd>(&mut self, simd: S, slots: [usize; 2], p: &Triangle, q: &Triangle) {
        self.screened.push(slots, p, q);
        if self.screened.is_full() {
            self.screen(simd);
        }
    }

    #[inline(always)]
    fn screen<S: Simd>(&mut self, simd: S) {
        let at_least = self.screened.at_least(simd);
        let mut worth = self.worth();
        for lane in 0..self.screened.count() {
            if at_least[lane] > worth {
                continue;
            }
            self.batch.push_from(&self.screened, lane);
            if self.batch.is_full() {
                self.decide(simd);
                worth = self.worth();
            }
        }
        self.screened.clear();
    }

    /// Squared lower bound above which a pair is not worth comparing.
    #[inline(always)]
    fn worth(&self) -> f64 {
        match self.found {
            // Where surfaces lie parallel, thousands of pairs are equally near but for rounding.
            Some(_) => {
                let nearer = (self.squared.sqrt() - TIE * self.slack).max(0.0);
                nearer * nearer
            }
            // Nothing nearer than the cap may be missed.
            None => self.reach(),
        }
    }

    #[inline(always)]
    fn decide<S: Simd>(&mut self, simd: S) {
        let squared = self.batch.squared(simd);
        for lane in 0..self.batch.count() {
            let slots = self.batch.slots(lane);
            // Of pairs equally near the first by number, so that the order does not matter.
            let nearer = squared[lane] < self.squared
                || (squared[lane] == self.squared && self.found.is_some_and(|found| slots < found));
            if nearer {
                self.squared = squared[lane];
                self.found = Some(slots);
            }
        }
        self.batch.clear();
        self.limit = outward(self.reach());
    }

    #[inline(always)]
    pub(crate) fn finish<S: Simd>(&mut self, simd: S) {
        self.screen(simd);
        self.decide(simd);
    }
}

/// Two branches still to compare.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Branches {
    /// Squared lower bound on their distance.
    pub(crate) bound: f32,
    pub(crate) a: Child,
    pub(crate) b: Child,
}

/// Bits of a bound's mantissa that tell buckets apart: a sixteenth of the squared distance.
const FINENESS: u32 = 4;
const BUCKETS: usize = 1024;
const WORDS: usize = BUCKETS / 64;
/// The bucket of bounds up to 2^-32 square millimetres, as its place among all bounds.
const LOWEST: u32 = (127 - 32) << FINENESS;
const NONE: u32 = u32::MAX;

/// Branches by their bounds, in buckets; within a bucket the last one first.
struct Queue {
    /// The top of each bucket's pile.
    tops: [u32; BUCKETS],
    /// Which buckets have any.
    filled: [u64; WORDS],
    piled: Vec<Piled>,
    /// The first of the places no longer used.
    free: u32,
}

#[derive(Clone, Copy)]
struct Piled {
    branches: Branches,
    below: u32,
}

impl Queue {
    #[inline(always)]
    fn new() -> Self {
        Self {
            tops: [NONE; BUCKETS],
            filled: [0; WORDS],
            piled: Vec::with_capacity(512),
            free: NONE,
        }
    }

    /// The bucket of a bound: the first for zero, the others by ranges of equal ratio.
    #[inline(always)]
    fn bucket(bound: f32) -> usize {
        if bound <= 0.0 {
            return 0;
        }
        let place = bound.to_bits() >> (23 - FINENESS);
        (place.saturating_sub(LOWEST) as usize + 1).min(BUCKETS - 1)
    }

    #[inline(always)]
    fn push(&mut self, branches: Branches) {
        let bucket = Self::bucket(branches.bound);
        let piled = Piled { branches, below: self.tops[bucket] };
        let place = if self.free == NONE {
            self.piled.push(piled);
            // Fewer than 2^32 branches fit in memory.
            (self.piled.len() - 1) as u32
        } else {
            let place = self.free;
            self.free = self.piled[place as usize].below;
            self.piled[place as usize] = piled;
            place
        };
        self.tops[bucket] = place;
        self.filled[bucket / 64] |= 1 << (bucket % 64);
    }

    /// Piles up the lanes within the limit of an opened node.
    #[inline(always)]
    fn push_opened(&mut self, from: &Branches, opened: &Opened<'_>, limit: f32) {
        for lane in 0..opened.node.count() {
            let bound = opened.bounds[lane];
            if bound > limit {
                continue;
            }
            let child = opened.node.child(lane);
            self.push(if opened.of_a {
                Branches { bound, a: child, b: from.b }
            } else {
                Branches { bound, a: from.a, b: child }
            });
        }
    }

    #[inline(always)]
    fn take_from(&mut self, bucket: usize) -> Branches {
        let place = self.tops[bucket];
        let Piled { branches, below } = self.piled[place as usize];
        self.tops[bucket] = below;
        if below == NONE {
            self.filled[bucket / 64] &= !(1 << (bucket % 64));
        }
        self.piled[place as usize].below = self.free;
        self.free = place;
        branches
    }

    /// The next of those whose boxes overlap.
    #[inline(always)]
    fn pop_overlapping(&mut self) -> Option<Branches> {
        (self.filled[0] & 1 != 0).then(|| self.take_from(0))
    }

    /// The next within the limit.
    #[inline(always)]
    fn pop(&mut self, limit: f32) -> Option<Branches> {
        let last = Self::bucket(limit);
        let mut word = 0;
        while word < WORDS {
            let filled = self.filled[word];
            if filled == 0 {
                word += 1;
                continue;
            }
            let bucket = word * 64 + filled.trailing_zeros() as usize;
            if bucket > last {
                return None;
            }
            let branches = self.take_from(bucket);
            if branches.bound <= limit {
                return Some(branches);
            }
        }
        None
    }

    #[inline(always)]
    fn is_empty(&self) -> bool {
        self.filled.iter().all(|filled| *filled == 0)
    }
}
