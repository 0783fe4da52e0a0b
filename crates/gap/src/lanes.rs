//! Several pairs of triangles at a time, one to each lane of the machine's vectors.
//!
//! The arithmetic is that of [`crate::triangle`] for one pair, operation for operation and
//! without fused ones, so that the result has the same bits on every machine.

use nalgebra::Point3;
use pulp::{Simd, bytemuck};

use crate::triangle::{PARALLEL, Triangle};

/// Pairs in a batch.
pub(crate) const BATCH: usize = 8;

/// One number for each pair.
#[derive(Debug, Clone, Copy)]
#[repr(align(64))]
struct Column([f64; BATCH]);

/// Pairs of triangles, coordinate by coordinate.
#[derive(Debug, Clone)]
pub(crate) struct Batch {
    /// By corner, three of the first triangle and three of the second, and by axis.
    corners: [[Column; 3]; 6],
    /// The slots of the triangles.
    slots: [[usize; 2]; BATCH],
    count: usize,
}

impl Batch {
    pub(crate) fn new() -> Self {
        Self { corners: [[Column([0.0; BATCH]); 3]; 6], slots: [[0; 2]; BATCH], count: 0 }
    }

    #[inline(always)]
    pub(crate) fn count(&self) -> usize {
        self.count
    }

    #[inline(always)]
    pub(crate) fn is_full(&self) -> bool {
        self.count == BATCH
    }

    pub(crate) fn clear(&mut self) {
        self.count = 0;
    }

    #[inline(always)]
    pub(crate) fn slots(&self, lane: usize) -> [usize; 2] {
        self.slots[lane]
    }

    #[inline(always)]
    pub(crate) fn triangles(&self, lane: usize) -> (Triangle, Triangle) {
        let corner = |i: usize| {
            let [x, y, z] = &self.corners[i];
            Point3::new(x.0[lane], y.0[lane], z.0[lane])
        };
        ([corner(0), corner(1), corner(2)], [corner(3), corner(4), corner(5)])
    }

    /// Adds a pair to a batch that is not full.
    #[inline(always)]
    pub(crate) fn push(&mut self, slots: [usize; 2], p: &Triangle, q: &Triangle) {
        let lane = self.count % BATCH;
        self.slots[lane] = slots;
        for (column, corner) in self.corners.iter_mut().zip(p.iter().chain(q)) {
            for k in 0..3 {
                column[k].0[lane] = corner[k];
            }
        }
        self.count += 1;
    }

    /// Takes over a pair of another batch.
    #[inline(always)]
    pub(crate) fn push_from(&mut self, other: &Self, from: usize) {
        let (lane, from) = (self.count % BATCH, from % BATCH);
        self.slots[lane] = other.slots[from];
        for i in 0..6 {
            for k in 0..3 {
                self.corners[i][k].0[lane] = other.corners[i][k].0[from];
            }
        }
        self.count += 1;
    }

    /// Squared lower bounds on the distance of each pair: how far they are apart along their
    /// normals and along the line through their middles. Lanes past the count are meaningless.
    #[inline(always)]
    pub(crate) fn at_least<S: Simd>(&self, simd: S) -> [f64; BATCH] {
        let mut squared = Column([0.0; BATCH]);
        let chunks: &mut [S::f64s] = bytemuck::cast_slice_mut(&mut squared.0);
        for (chunk, out) in chunks.iter_mut().enumerate() {
            if chunk * S::F64_LANES >= self.count {
                break;
            }
            let [p0, p1, p2, q0, q1, q2] = &self.corners;
            *out = Lanes(simd).at_least(
                &[lanes::<S>(p0, chunk), lanes::<S>(p1, chunk), lanes::<S>(p2, chunk)],
                &[lanes::<S>(q0, chunk), lanes::<S>(q1, chunk), lanes::<S>(q2, chunk)],
            );
        }
        squared.0
    }

    /// The squared distance of each pair, as if they did not meet. Lanes past the count are
    /// meaningless.
    #[inline(always)]
    pub(crate) fn squared<S: Simd>(&self, simd: S) -> [f64; BATCH] {
        let mut squared = Column([0.0; BATCH]);
        let chunks: &mut [S::f64s] = bytemuck::cast_slice_mut(&mut squared.0);
        for (chunk, out) in chunks.iter_mut().enumerate() {
            if chunk * S::F64_LANES >= self.count {
                break;
            }
            let [p0, p1, p2, q0, q1, q2] = &self.corners;
            *out = Lanes(simd).between_features(
                &[lanes::<S>(p0, chunk), lanes::<S>(p1, chunk), lanes::<S>(p2, chunk)],
                &[lanes::<S>(q0, chunk), lanes::<S>(q1, chunk), lanes::<S>(q2, chunk)],
            );
        }
        squared.0
    }
}

/// Squared length of a direction below which its square is no longer precise.
const VANISHING: f64 = 1e-200;

/// A vector for each lane.
#[derive(Clone, Copy)]
struct V<F>([F; 3]);

/// The corners of some lanes.
#[inline(always)]
fn lanes<S: Simd>(columns: &[Column; 3], chunk: usize) -> V<S::f64s> {
    let [x, y, z] = columns;
    V([lane::<S>(x, chunk), lane::<S>(y, chunk), lane::<S>(z, chunk)])
}

#[inline(always)]
fn lane<S: Simd>(column: &Column, chunk: usize) -> S::f64s {
    bytemuck::cast_slice::<f64, S::f64s>(&column.0)[chunk]
}

/// Arithmetic on the lanes.
#[derive(Clone, Copy)]
struct Lanes<S>(S);

impl<S: Simd> Lanes<S> {
    #[inline(always)]
    fn less(self, x: &V<S::f64s>, y: &V<S::f64s>) -> V<S::f64s> {
        let ([a, b, c], [d, e, f]) = (x.0, y.0);
        V([self.0.sub_f64s(a, d), self.0.sub_f64s(b, e), self.0.sub_f64s(c, f)])
    }

    #[inline(always)]
    fn plus(self, x: &V<S::f64s>, y: &V<S::f64s>) -> V<S::f64s> {
        let ([a, b, c], [d, e, f]) = (x.0, y.0);
        V([self.0.add_f64s(a, d), self.0.add_f64s(b, e), self.0.add_f64s(c, f)])
    }

    #[inline(always)]
    fn times(self, x: &V<S::f64s>, by: S::f64s) -> V<S::f64s> {
        let [a, b, c] = x.0;
        V([self.0.mul_f64s(a, by), self.0.mul_f64s(b, by), self.0.mul_f64s(c, by)])
    }

    #[inline(always)]
    fn dot(self, x: &V<S::f64s>, y: &V<S::f64s>) -> S::f64s {
        let ([a, b, c], [d, e, f]) = (x.0, y.0);
        let first = self.0.add_f64s(self.0.mul_f64s(a, d), self.0.mul_f64s(b, e));
        self.0.add_f64s(first, self.0.mul_f64s(c, f))
    }

    /// `a d - b c`
    #[inline(always)]
    fn minor(self, a: S::f64s, b: S::f64s, c: S::f64s, d: S::f64s) -> S::f64s {
        self.0.sub_f64s(self.0.mul_f64s(a, d), self.0.mul_f64s(b, c))
    }

    #[inline(always)]
    fn cross(self, x: &V<S::f64s>, y: &V<S::f64s>) -> V<S::f64s> {
        let ([a, b, c], [d, e, f]) = (x.0, y.0);
        V([self.minor(b, c, e, f), self.minor(c, a, f, d), self.minor(a, b, d, e)])
    }

    #[inline(always)]
    fn lesser(self, x: S::f64s, y: S::f64s) -> S::f64s {
        self.0.select_f64s(self.0.less_than_f64s(x, y), x, y)
    }

    /// Within `[0, 1]`; zero where it is not a number.
    #[inline(always)]
    fn unit(self, x: S::f64s) -> S::f64s {
        let zero = self.0.splat_f64s(0.0);
        let above = self.0.select_f64s(self.0.less_than_f64s(zero, x), x, zero);
        self.lesser(above, self.0.splat_f64s(1.0))
    }

    #[inline(always)]
    fn greater(self, x: S::f64s, y: S::f64s) -> S::f64s {
        self.0.select_f64s(self.0.less_than_f64s(y, x), x, y)
    }

    #[inline(always)]
    fn at_least(self, p: &[V<S::f64s>; 3], q: &[V<S::f64s>; 3]) -> S::f64s {
        // All from one corner, so that the lengths are no greater than need be.
        let from_p = [self.less(&p[1], &p[0]), self.less(&p[2], &p[0])];
        let to_q = [self.less(&q[0], &p[0]), self.less(&q[1], &p[0]), self.less(&q[2], &p[0])];
        let normal_p = self.cross(&from_p[0], &from_p[1]);
        let normal_q = self.cross(&self.less(&q[1], &q[0]), &self.less(&q[2], &q[0]));
        let middles = self.less(
            &self.plus(&self.plus(&to_q[0], &to_q[1]), &to_q[2]),
            &self.plus(&from_p[0], &from_p[1]),
        );
        let first = self.apart_along(&middles, &from_p, &to_q);
        let second = self.apart_along(&normal_p, &from_p, &to_q);
        let third = self.apart_along(&normal_q, &from_p, &to_q);
        self.greater(self.greater(first, second), third)
    }

    /// Squared distance along a direction, and zero along one that is too short to tell.
    #[inline(always)]
    fn apart_along(
        self,
        along: &V<S::f64s>,
        from_p: &[V<S::f64s>; 2],
        to_q: &[V<S::f64s>; 3],
    ) -> S::f64s {
        let zero = self.0.splat_f64s(0.0);
        let (p1, p2) = (self.dot(along, &from_p[0]), self.dot(along, &from_p[1]));
        let (low_p, high_p) =
            (self.lesser(self.lesser(p1, p2), zero), self.greater(self.greater(p1, p2), zero));
        let (q0, q1, q2) =
            (self.dot(along, &to_q[0]), self.dot(along, &to_q[1]), self.dot(along, &to_q[2]));
        let (low_q, high_q) =
            (self.lesser(self.lesser(q0, q1), q2), self.greater(self.greater(q0, q1), q2));
        let apart = self.greater(self.0.sub_f64s(low_q, high_p), self.0.sub_f64s(low_p, high_q));
        let length = self.dot(along, along);
        let squared = self.0.div_f64s(self.0.mul_f64s(apart, apart), length);
        let told = self.0.less_than_f64s(self.0.splat_f64s(VANISHING), length);
        let apart = self.0.select_f64s(told, apart, zero);
        self.0.select_f64s(self.0.less_than_f64s(zero, apart), squared, zero)
    }

    /// As [`crate::triangle`] does for one pair.
    #[inline(always)]
    fn between_features(self, p: &[V<S::f64s>; 3], q: &[V<S::f64s>; 3]) -> S::f64s {
        let (edges_p, edges_q) = (self.edges(p), self.edges(q));
        let least = self.lesser(self.heights(p, &edges_p, q), self.heights(q, &edges_q, p));
        self.lesser(least, self.between_edges(p, &edges_p, q, &edges_q))
    }

    #[inline(always)]
    fn edges(self, t: &[V<S::f64s>; 3]) -> [V<S::f64s>; 3] {
        [self.less(&t[1], &t[0]), self.less(&t[2], &t[1]), self.less(&t[0], &t[2])]
    }

    /// Least squared distance between an edge of one and an edge of the other.
    #[inline(always)]
    fn between_edges(
        self,
        p: &[V<S::f64s>; 3],
        edges_p: &[V<S::f64s>; 3],
        q: &[V<S::f64s>; 3],
        edges_q: &[V<S::f64s>; 3],
    ) -> S::f64s {
        let simd = self.0;
        let zero = simd.splat_f64s(0.0);
        let parallel = simd.splat_f64s(PARALLEL);
        let [e, f, g] = edges_q;
        let squares_q = [self.dot(e, e), self.dot(f, f), self.dot(g, g)];
        let mut least = simd.splat_f64s(f64::INFINITY);
        for i in 0..3 {
            let (start_p, along_p) = (&p[i], &edges_p[i]);
            let pp = self.dot(along_p, along_p);
            for j in 0..3 {
                let (start_q, along_q, qq) = (&q[j], &edges_q[j], squares_q[j]);
                let from_q = self.less(start_p, start_q);
                let pq = self.dot(along_p, along_q);
                let (p_r, q_r) = (self.dot(along_p, &from_q), self.dot(along_q, &from_q));
                let across = self.cross(along_p, along_q);
                let spread = self.dot(&across, &across);
                let lever = self.dot(&self.cross(along_q, &from_q), &across);
                let s = self.unit(simd.div_f64s(lever, spread));
                let bar = simd.mul_f64s(simd.mul_f64s(parallel, pp), qq);
                let s = simd.select_f64s(simd.less_than_f64s(bar, spread), s, zero);
                let t = self.unit(simd.div_f64s(simd.add_f64s(simd.mul_f64s(pq, s), q_r), qq));
                let s = self.unit(simd.div_f64s(simd.sub_f64s(simd.mul_f64s(pq, t), p_r), pp));
                let on_p = self.plus(start_p, &self.times(along_p, s));
                let on_q = self.plus(start_q, &self.times(along_q, t));
                let between = self.less(&on_p, &on_q);
                least = self.lesser(self.dot(&between, &between), least);
            }
        }
        least
    }

    /// Least squared distance from a triangle to those of three points whose foot is within it.
    #[inline(always)]
    fn heights(
        self,
        corner: &[V<S::f64s>; 3],
        edges: &[V<S::f64s>; 3],
        points: &[V<S::f64s>; 3],
    ) -> S::f64s {
        let simd = self.0;
        let zero = simd.splat_f64s(0.0);
        let infinity = simd.splat_f64s(f64::INFINITY);
        let normal = self.cross(&edges[0], &edges[1]);
        let [e, f, g] = edges;
        let inward = [self.cross(&normal, e), self.cross(&normal, f), self.cross(&normal, g)];
        let mut least = infinity;
        for point in points {
            let weight = [
                self.dot(&inward[0], &self.less(point, &corner[0])),
                self.dot(&inward[1], &self.less(point, &corner[1])),
                self.dot(&inward[2], &self.less(point, &corner[2])),
            ];
            let total = simd.add_f64s(simd.add_f64s(weight[0], weight[1]), weight[2]);
            let second = self.times(&edges[0], simd.div_f64s(weight[2], total));
            let third = self.times(&edges[2], simd.div_f64s(weight[0], total));
            let foot = self.less(&self.plus(&corner[0], &second), &third);
            let away = self.less(&foot, point);
            let squared = self.dot(&away, &away);
            let squared = simd.select_f64s(simd.less_than_f64s(zero, total), squared, infinity);
            let lowest = self.lesser(self.lesser(weight[0], weight[1]), weight[2]);
            let squared = simd.select_f64s(simd.less_than_f64s(lowest, zero), infinity, squared);
            least = self.lesser(squared, least);
        }
        least
    }
}
