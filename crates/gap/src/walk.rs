//! The search over two trees at once.

#![expect(
    clippy::cast_possible_truncation,
    reason = "single precision on purpose; see the tree for what covers its rounding"
)]

use pulp::{Arch, Simd, WithSimd};

use crate::pose::Pose;
use crate::quad::Quad;
use crate::query::Pair;
use crate::solid::Ready;
use crate::tree::{Child, Frame, Lanes, Node, Seen, WIDTH, outward};
use crate::triangle::Triangle;

/// What a walk looks for.
pub(crate) trait Visit {
    /// Whether nearer branches come first.
    const SORTED: bool;

    /// Squared distance beyond which branches are left out, rounding covered.
    fn limit(&self) -> f64;

    /// A pair of triangles whose boxes are within the limit, both in the frame of `a`, with their
    /// slots. Returns whether to go on.
    fn pair<S: Simd>(&mut self, simd: S, slots: [usize; 2], p: &Triangle, q: &Triangle) -> bool;

    /// Called at the end, but for a walk that was told not to go on.
    #[inline(always)]
    fn finish<S: Simd>(&mut self, _: S) {}
}

/// Walks both trees and hands every pair of triangles that may be within the limit to `visit`.
///
/// Compiled once for each width of vectors that the machine may have and chosen when run. The
/// results are the same: there is no fused arithmetic, and the order is fixed.
pub(crate) fn walk<V: Visit>(pair: &Pair<'_>, visit: &mut V) {
    Arch::new().dispatch(Walk { pair, visit });
}

struct Walk<'w, 's, V> {
    pair: &'w Pair<'s>,
    visit: &'w mut V,
}

impl<V: Visit> WithSimd for Walk<'_, '_, V> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        descend(simd, self.pair, self.visit);
    }
}

/// Two branches still to compare.
#[derive(Clone, Copy)]
struct Branches {
    /// Squared lower bound on their distance.
    bound: f32,
    a: Child,
    b: Child,
}

/// A node's frame brought into the other body.
#[derive(Clone, Copy)]
struct Brought {
    axes: [Quad<f32>; 3],
    origin: Quad<f64>,
}

/// A pose by its columns.
struct Columns {
    single: [Quad<f32>; 3],
    turn: [Quad<f64>; 3],
    shift: Quad<f64>,
}

impl Columns {
    fn of(pose: &Pose) -> Self {
        let column =
            |j: usize| Quad([pose.turn[(0, j)], pose.turn[(1, j)], pose.turn[(2, j)], 0.0]);
        let turn = [column(0), column(1), column(2)];
        let shift = Quad([pose.shift.x, pose.shift.y, pose.shift.z, 0.0]);
        Self { single: turn.map(Quad::single), turn, shift }
    }

    #[inline(always)]
    fn bring(&self, frame: &Frame) -> Brought {
        let [x, y, z] = frame.origin();
        let turned = Quad::combined(&self.turn, f64::from(x), f64::from(y), f64::from(z));
        let (a, b, c) = (frame.axis(0), frame.axis(1), frame.axis(2));
        Brought {
            axes: [
                Quad::combined(&self.single, a[0], a[1], a[2]),
                Quad::combined(&self.single, b[0], b[1], b[2]),
                Quad::combined(&self.single, c[0], c[1], c[2]),
            ],
            origin: turned.plus(self.shift),
        }
    }
}

impl Brought {
    /// As seen from a node of the body it was brought into.
    #[inline(always)]
    fn seen_from(&self, node: &Node, reach: Quad<f32>) -> Seen {
        let [a, b, c] = self.axes;
        let frame = &node.frame;
        Seen {
            axes: [frame.turned(a), frame.turned(b), frame.turned(c)],
            at: frame.take_single(self.origin),
            reach,
        }
    }
}

/// A triangle of the other body in a node's frame.
#[inline(always)]
fn corners_in(node: &Node, [a, b, c]: &Triangle) -> [Quad<f32>; 3] {
    let frame = &node.frame;
    [
        frame.take_single(Quad([a.x, a.y, a.z, 0.0])),
        frame.take_single(Quad([b.x, b.y, b.z, 0.0])),
        frame.take_single(Quad([c.x, c.y, c.z, 0.0])),
    ]
}

/// One body with what takes it into the other.
struct Side<'s> {
    body: &'s Ready,
    /// Takes this body's coordinates into the other's.
    pose: Pose,
    columns: Columns,
    /// The last node brought over.
    node: (u32, Brought),
    /// The last triangle brought over.
    triangle: (usize, Triangle),
}

impl<'s> Side<'s> {
    fn new(body: &'s Ready, pose: &Pose) -> Self {
        let columns = Columns::of(pose);
        let root = columns.bring(&body.tree.node(Child::ROOT).frame);
        let triangle = (0, pose.apply_all(&body.soup.corners(0)));
        Self { body, pose: *pose, columns, node: (0, root), triangle }
    }

    #[inline(always)]
    fn bring_node(&mut self, child: Child, node: &Node) -> &Brought {
        if self.node.0 != child.0 {
            self.node = (child.0, self.columns.bring(&node.frame));
        }
        &self.node.1
    }

    #[inline(always)]
    fn bring_triangle(&mut self, slot: usize) -> &Triangle {
        if self.triangle.0 != slot {
            self.triangle = (slot, self.pose.apply_all(&self.body.soup.corners(slot)));
        }
        &self.triangle.1
    }
}

/// Both bodies of a walk.
pub(crate) struct Sides<'s> {
    a: Side<'s>,
    b: Side<'s>,
}

/// What there is to do with two branches.
pub(crate) enum Kind<'s> {
    /// Both are triangles, of these slots.
    Triangles([usize; 2]),
    /// Both are nodes over triangles.
    Last(&'s Node, &'s Node),
    /// One of them is to be opened.
    Open,
}

/// The lanes of an opened node with their squared lower bounds.
pub(crate) struct Opened<'s> {
    /// Whether it is of `a`.
    pub(crate) of_a: bool,
    pub(crate) node: &'s Node,
    pub(crate) bounds: Lanes,
}

impl<'s> Sides<'s> {
    pub(crate) fn of(pair: &Pair<'s>) -> Self {
        Self { a: Side::new(pair.a, &pair.b_from_a), b: Side::new(pair.b, &pair.a_from_b) }
    }

    /// The triangle of `a`, and that of `b` in the frame of `a`.
    #[inline(always)]
    pub(crate) fn triangles(&mut self, [slot_a, slot_b]: [usize; 2]) -> (Triangle, Triangle) {
        (self.a.body.soup.corners(slot_a), *self.b.bring_triangle(slot_b))
    }

    #[inline(always)]
    pub(crate) fn kind(&self, a: Child, b: Child) -> Kind<'s> {
        match (a.triangle(), b.triangle()) {
            (Some(slot_a), Some(slot_b)) => Kind::Triangles([slot_a, slot_b]),
            (None, None) => {
                let (node_a, node_b) = (self.a.body.tree.node(a), self.b.body.tree.node(b));
                if node_a.is_last() && node_b.is_last() {
                    Kind::Last(node_a, node_b)
                } else {
                    Kind::Open
                }
            }
            _ => Kind::Open,
        }
    }

    /// Opens one of two branches of which at least one is a node.
    #[inline(always)]
    pub(crate) fn open(&mut self, a: Child, b: Child) -> Opened<'s> {
        if let Some(slot_a) = a.triangle() {
            let node = self.b.body.tree.node(b);
            let corners = corners_in(node, self.a.bring_triangle(slot_a));
            return Opened { of_a: false, node, bounds: node.bounds_to_triangle(&corners) };
        }
        let node_a = self.a.body.tree.node(a);
        if let Some(slot_b) = b.triangle() {
            let corners = corners_in(node_a, self.b.bring_triangle(slot_b));
            let bounds = node_a.bounds_to_triangle(&corners);
            return Opened { of_a: true, node: node_a, bounds };
        }
        let node_b = self.b.body.tree.node(b);
        let of_a = opens_first(node_a, node_b);
        let (node, seen) = if of_a {
            (node_a, self.b.bring_node(b, node_b).seen_from(node_a, node_b.reach))
        } else {
            (node_b, self.a.bring_node(a, node_a).seen_from(node_b, node_a.reach))
        };
        Opened { of_a, node, bounds: node.bounds(&seen) }
    }

    /// Bounds of the lanes of a node of `b` against a node of `a`.
    #[inline(always)]
    pub(crate) fn bounds_of_last(&mut self, a: Child, node_a: &Node, node_b: &Node) -> Lanes {
        node_b.bounds(&self.a.bring_node(a, node_a).seen_from(node_b, node_a.reach))
    }

    /// The triangle in a slot of `b` in the frame of `a`, and bounds of the triangles of a node of
    /// `a` against it.
    #[inline(always)]
    pub(crate) fn against(&mut self, node_a: &Node, slot_b: usize) -> (Triangle, Lanes) {
        let q = *self.b.bring_triangle(slot_b);
        let bounds = node_a.bounds_to_triangle(&corners_in(node_a, &q));
        (q, bounds)
    }

    #[inline(always)]
    pub(crate) fn corners_of_a(&self, slot: usize) -> Triangle {
        self.a.body.soup.corners(slot)
    }
}

#[inline(always)]
fn descend<S: Simd, V: Visit>(simd: S, pair: &Pair<'_>, visit: &mut V) {
    let mut sides = Sides::of(pair);
    let mut limit = outward(visit.limit());
    let mut open = Vec::with_capacity(256);
    open.push(Branches { bound: 0.0, a: Child::ROOT, b: Child::ROOT });
    while let Some(Branches { bound, a, b }) = open.pop() {
        if bound > limit {
            continue;
        }
        match sides.kind(a, b) {
            Kind::Triangles(slots) => {
                let (p, q) = sides.triangles(slots);
                if !visit.pair(simd, slots, &p, &q) {
                    return;
                }
                limit = outward(visit.limit());
            }
            Kind::Last(node_a, node_b) => {
                let bounds = sides.bounds_of_last(a, node_a, node_b);
                let near = Near::of(&bounds, node_b.count(), limit, V::SORTED);
                for (bound, lane) in near.nearest_first() {
                    if bound > limit {
                        continue;
                    }
                    let slot_b = node_b.slot(lane);
                    let (q, bounds) = sides.against(node_a, slot_b);
                    let near = Near::of(&bounds, node_a.count(), limit, false);
                    for (_, lane) in near.nearest_first() {
                        let slot_a = node_a.slot(lane);
                        if !visit.pair(simd, [slot_a, slot_b], &sides.corners_of_a(slot_a), &q) {
                            return;
                        }
                    }
                    limit = outward(visit.limit());
                }
            }
            Kind::Open => {
                let Opened { of_a, node, bounds } = sides.open(a, b);
                let first = open.len();
                for lane in 0..node.count() {
                    let bound = bounds[lane];
                    if bound > limit {
                        continue;
                    }
                    let child = node.child(lane);
                    open.push(if of_a {
                        Branches { bound, a: child, b }
                    } else {
                        Branches { bound, a, b: child }
                    });
                    if V::SORTED {
                        let mut place = open.len() - 1;
                        while place > first && open[place - 1].bound < bound {
                            open.swap(place - 1, place);
                            place -= 1;
                        }
                    }
                }
            }
        }
    }
    visit.finish(simd);
}

/// The lanes within a limit.
pub(crate) struct Near {
    lanes: [(f32, u8); WIDTH],
    count: usize,
}

impl Near {
    /// Nearest first if `sorted`.
    #[inline(always)]
    pub(crate) fn of(bounds: &Lanes, count: usize, limit: f32, sorted: bool) -> Self {
        let mut near = Self { lanes: [(0.0, 0); WIDTH], count: 0 };
        for lane in 0..count.min(WIDTH) {
            let bound = bounds[lane];
            if bound > limit {
                continue;
            }
            let mut place = near.count % WIDTH;
            near.count += 1;
            if sorted {
                while place > 0 && near.lanes[place - 1].0 > bound {
                    near.lanes[place] = near.lanes[place - 1];
                    place -= 1;
                }
            }
            near.lanes[place] = (bound, lane as u8);
        }
        near
    }

    #[inline(always)]
    pub(crate) fn nearest_first(&self) -> impl Iterator<Item = (f32, usize)> {
        self.lanes[..self.count].iter().map(|(bound, lane)| (*bound, usize::from(*lane)))
    }
}

/// Whether to open the first of two nodes: the larger, but one over triangles only when it is
/// far larger.
#[inline(always)]
fn opens_first(a: &Node, b: &Node) -> bool {
    let (size_a, size_b) = (a.size(), b.size());
    match (a.is_last(), b.is_last()) {
        (true, false) => size_a > FAR_LARGER * size_b,
        (false, true) => FAR_LARGER * size_a >= size_b,
        _ => size_a >= size_b,
    }
}

const FAR_LARGER: f32 = 4.0;
