//! Several pairs of triangles at a time, one to each lane of the machine's vectors.
//!
//! The arithmetic is that of [`crate::triangle`] for one pair, operation for operation and
//! without fused ones, so that the result has the same bits on every machine.

use nalgebra::Point3;
use pulp::{Arch, Simd, WithSimd, bytemuck};

use crate::triangle::{self, PARALLEL, ROUNDING, Triangle, VANISHED};

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

    /// Whether the pair in each lane meets, as [`triangle::meet`] finds.
    #[inline(always)]
    pub(crate) fn meeting<S: Simd>(&self, simd: S) -> [bool; BATCH] {
        let mut told = Column([-1.0; BATCH]);
        let chunks: &mut [S::f64s] = bytemuck::cast_slice_mut(&mut told.0);
        for (chunk, out) in chunks.iter_mut().enumerate() {
            if chunk * S::F64_LANES >= self.count {
                break;
            }
            let [p0, p1, p2, q0, q1, q2] = &self.corners;
            *out = Lanes(simd).meet(
                &[lanes::<S>(p0, chunk), lanes::<S>(p1, chunk), lanes::<S>(p2, chunk)],
                &[lanes::<S>(q0, chunk), lanes::<S>(q1, chunk), lanes::<S>(q2, chunk)],
            );
        }
        let mut meeting = [false; BATCH];
        for lane in 0..self.count {
            meeting[lane] = if told.0[lane] == 0.0 {
                let (p, q) = self.triangles(lane);
                triangle::meet(&p, &q)
            } else {
                told.0[lane] > 0.0
            };
        }
        meeting
    }

    /// As [`Batch::meeting`], from where nothing is compiled for the machine's vectors.
    pub(crate) fn meeting_dispatched(&self) -> [bool; BATCH] {
        struct Task<'b>(&'b Batch);
        impl WithSimd for Task<'_> {
            type Output = [bool; BATCH];

            #[inline(always)]
            fn with_simd<S: Simd>(self, simd: S) -> Self::Output {
                self.0.meeting(simd)
            }
        }
        Arch::new().dispatch(Task(self))
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

/// Points, coordinate by coordinate.
#[derive(Debug, Clone)]
pub(crate) struct Points([Column; 3]);

impl Points {
    /// No more than [`BATCH`] points. Lanes past them stand at the origin.
    #[inline]
    pub(crate) fn of(points: impl IntoIterator<Item = Point3<f64>>) -> Self {
        let mut columns = [Column([0.0; BATCH]); 3];
        for (lane, point) in points.into_iter().take(BATCH).enumerate() {
            for k in 0..3 {
                columns[k].0[lane] = point[k];
            }
        }
        Self(columns)
    }

    /// The squared distance of each from a triangle, as [`triangle::nearest_to_point`] finds the point.
    pub(crate) fn squared_from(&self, triangle: &Triangle) -> [f64; BATCH] {
        struct Task<'t>(&'t Points, &'t Triangle);
        impl WithSimd for Task<'_> {
            type Output = [f64; BATCH];

            #[inline(always)]
            fn with_simd<S: Simd>(self, simd: S) -> Self::Output {
                let on = Lanes(simd);
                let [a, b, c] = self.1;
                let corners = [on.splat(a), on.splat(b), on.splat(c)];
                let mut squared = Column([0.0; BATCH]);
                let chunks: &mut [S::f64s] = bytemuck::cast_slice_mut(&mut squared.0);
                for (chunk, out) in chunks.iter_mut().enumerate() {
                    *out = on.off(&corners, &lanes::<S>(&self.0.0, chunk));
                }
                squared.0
            }
        }
        Arch::new().dispatch(Task(self, triangle))
    }
}

/// The squared distances of triangles, as many as a vector has lanes, from a point, as
/// [`triangle::nearest_to_point`] finds the point. Lanes past the triangles are meaningless.
#[inline(always)]
pub(crate) fn squared_to<S: Simd>(
    simd: S,
    triangles: impl Iterator<Item = Triangle>,
    point: &Point3<f64>,
) -> [f64; BATCH] {
    let mut corners = [[Column([0.0; BATCH]); 3]; 3];
    for (lane, triangle) in triangles.take(S::F64_LANES.min(BATCH)).enumerate() {
        for i in 0..3 {
            for k in 0..3 {
                corners[i][k].0[lane] = triangle[i][k];
            }
        }
    }
    let on = Lanes(simd);
    let [a, b, c] = &corners;
    let corners = [lanes::<S>(a, 0), lanes::<S>(b, 0), lanes::<S>(c, 0)];
    let mut squared = Column([0.0; BATCH]);
    let chunks: &mut [S::f64s] = bytemuck::cast_slice_mut(&mut squared.0);
    if let Some(out) = chunks.first_mut() {
        *out = on.off(&corners, &on.splat(point));
    }
    squared.0
}

/// Squared length of a direction below which its square is no longer precise.
const VANISHING: f64 = 1e-200;

/// A vector for each lane.
#[derive(Clone, Copy)]
struct V<F>([F; 3]);

/// A plane for each lane, see [`crate::triangle`].
struct Plane<'v, F> {
    at: &'v V<F>,
    normal: V<F>,
    /// Of each of its components the sum of what it is the difference of.
    size: V<F>,
}

/// Where three corners lie of a plane.
struct Sides<S: Simd> {
    above: [S::m64s; 3],
    /// Whether rounding can have turned none of it.
    are_sure: S::m64s,
    /// Whether they are so, and all on one side.
    are_surely_one: S::m64s,
}

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

    #[inline(always)]
    fn splat(self, point: &Point3<f64>) -> V<S::f64s> {
        let simd = self.0;
        V([simd.splat_f64s(point.x), simd.splat_f64s(point.y), simd.splat_f64s(point.z)])
    }

    #[inline(always)]
    fn select(self, mask: S::m64s, x: &V<S::f64s>, y: &V<S::f64s>) -> V<S::f64s> {
        let (simd, [a, b, c], [d, e, f]) = (self.0, x.0, y.0);
        V([
            simd.select_f64s(mask, a, d),
            simd.select_f64s(mask, b, e),
            simd.select_f64s(mask, c, f),
        ])
    }

    #[inline(always)]
    fn abs(self, x: &V<S::f64s>) -> V<S::f64s> {
        let [a, b, c] = x.0;
        V([self.0.abs_f64s(a), self.0.abs_f64s(b), self.0.abs_f64s(c)])
    }

    /// The plane through three points, as [`triangle::side`] reckons with it.
    #[inline(always)]
    fn plane<'v>(self, a: &'v V<S::f64s>, b: &V<S::f64s>, c: &V<S::f64s>) -> Plane<'v, S::f64s> {
        let simd = self.0;
        let (V([ux, uy, uz]), V([vx, vy, vz])) = (self.less(b, a), self.less(c, a));
        let left = V([simd.mul_f64s(uy, vz), simd.mul_f64s(uz, vx), simd.mul_f64s(ux, vy)]);
        let right = V([simd.mul_f64s(uz, vy), simd.mul_f64s(ux, vz), simd.mul_f64s(uy, vx)]);
        Plane {
            at: a,
            normal: self.less(&left, &right),
            size: self.plus(&self.abs(&left), &self.abs(&right)),
        }
    }

    /// Where points lie of planes: a number with the sign of [`triangle::side`], and whether rounding
    /// cannot have turned it.
    #[inline(always)]
    fn side(self, of: &Plane<'_, S::f64s>, point: &V<S::f64s>) -> (S::f64s, S::m64s) {
        let simd = self.0;
        let w = self.less(point, of.at);
        let volume = self.dot(&w, &of.normal);
        let size = self.dot(&self.abs(&w), &of.size);
        let rounding = simd.mul_f64s(simd.splat_f64s(ROUNDING), size);
        let bound = simd.add_f64s(rounding, simd.splat_f64s(VANISHED));
        (volume, simd.less_than_f64s(bound, simd.abs_f64s(volume)))
    }

    /// Where the corners of triangles lie of the planes of others.
    #[inline(always)]
    fn sides(self, of: &[V<S::f64s>; 3], corners: &[V<S::f64s>; 3]) -> Sides<S> {
        let simd = self.0;
        let plane = self.plane(&of[0], &of[1], &of[2]);
        let (x, sure_x) = self.side(&plane, &corners[0]);
        let (y, sure_y) = self.side(&plane, &corners[1]);
        let (z, sure_z) = self.side(&plane, &corners[2]);
        let are_sure = simd.and_m64s(simd.and_m64s(sure_x, sure_y), sure_z);
        let (low, high) = (self.lesser(self.lesser(x, y), z), self.greater(self.greater(x, y), z));
        let zero = simd.splat_f64s(0.0);
        let are_one = simd.or_m64s(simd.less_than_f64s(zero, low), simd.less_than_f64s(high, zero));
        let above = [
            simd.less_than_f64s(zero, x),
            simd.less_than_f64s(zero, y),
            simd.less_than_f64s(zero, z),
        ];
        Sides { above, are_sure, are_surely_one: simd.and_m64s(are_sure, are_one) }
    }

    /// Above zero where two triangles surely meet, below zero where they surely do not, by the signs
    /// that [`triangle::meet`] looks at; zero where rounding may have turned one.
    #[inline(always)]
    fn meet(self, p: &[V<S::f64s>; 3], q: &[V<S::f64s>; 3]) -> S::f64s {
        let simd = self.0;
        let zero = simd.splat_f64s(0.0);
        let (apart, meeting) = (simd.splat_f64s(-1.0), simd.splat_f64s(1.0));
        let (of_q, of_p) = (self.sides(p, q), self.sides(q, p));
        let are_one = simd.or_m64s(of_q.are_surely_one, of_p.are_surely_one);
        let told = simd.select_f64s(are_one, apart, zero);
        let are_sure = simd.and_m64s(of_q.are_sure, of_p.are_sure);
        let open = simd.and_m64s(are_sure, simd.equal_f64s(told, zero));
        if simd.first_true_m64s(open) >= S::F64_LANES {
            return told;
        }
        let [tip_p, p1, p2] = self.tip_first(p, &of_p.above);
        let [tip_q, q1, q2] = self.tip_first(q, &of_q.above);
        let first = self.plane(&tip_p, &p1, &tip_q);
        let second = self.plane(&tip_p, &p2, &tip_q);
        let hands = [
            self.side(&first, &q1),
            self.side(&first, &q2),
            self.side(&second, &q1),
            self.side(&second, &q2),
        ];
        let none = simd.less_than_f64s(zero, zero);
        let (mut are_sure, mut left, mut right) = (open, none, none);
        for i in 0..4 {
            let (hand, sure) = hands[i];
            are_sure = simd.and_m64s(are_sure, sure);
            left = simd.or_m64s(left, simd.and_m64s(sure, simd.less_than_f64s(zero, hand)));
            right = simd.or_m64s(right, simd.and_m64s(sure, simd.less_than_f64s(hand, zero)));
        }
        let both = simd.and_m64s(open, simd.and_m64s(left, right));
        let told = simd.select_f64s(are_sure, apart, told);
        simd.select_f64s(both, meeting, told)
    }

    /// The corners of triangles that planes pass, by which of them are above, beginning with the one that
    /// is alone on its side.
    #[inline(always)]
    fn tip_first(self, [a, b, c]: &[V<S::f64s>; 3], above: &[S::m64s; 3]) -> [V<S::f64s>; 3] {
        let simd = self.0;
        let (a_from_b, b_from_c, c_from_a) = (
            simd.xor_m64s(above[0], above[1]),
            simd.xor_m64s(above[1], above[2]),
            simd.xor_m64s(above[2], above[0]),
        );
        let is_a = simd.and_m64s(a_from_b, c_from_a);
        let is_b = simd.and_m64s(a_from_b, b_from_c);
        [
            self.select(is_a, a, &self.select(is_b, b, c)),
            self.select(is_a, b, &self.select(is_b, c, a)),
            self.select(is_a, c, &self.select(is_b, a, b)),
        ]
    }

    /// Squared distance of a point from a triangle.
    #[inline(always)]
    fn off(self, corner: &[V<S::f64s>; 3], point: &V<S::f64s>) -> S::f64s {
        let simd = self.0;
        let edges = self.edges(corner);
        let normal = self.cross(&edges[0], &edges[1]);
        let [e, f, g] = &edges;
        let inward = [self.cross(&normal, e), self.cross(&normal, f), self.cross(&normal, g)];
        let normal_squared = self.dot(&normal, &normal);
        let (has_foot, weight, total) = self.foot(corner, &inward, normal_squared, point);
        let second = self.times(e, simd.div_f64s(weight[2], total));
        let third = self.times(g, simd.div_f64s(weight[0], total));
        let foot = self.less(&self.plus(&corner[0], &second), &third);
        let away = self.less(point, &foot);
        let (first, third) = (self.dot(&inward[0], &away), self.dot(&inward[2], &away));
        let V([x, y, z]) = self.less(&self.times(e, third), &self.times(g, first));
        let step = V([
            simd.div_f64s(x, normal_squared),
            simd.div_f64s(y, normal_squared),
            simd.div_f64s(z, normal_squared),
        ]);
        let better = self.plus(&foot, &step);
        let (is_better, ..) = self.foot(corner, &inward, normal_squared, &better);
        let infinity = simd.splat_f64s(f64::INFINITY);
        let mut least = simd.select_f64s(has_foot, self.dot(&away, &away), infinity);
        for i in 0..3 {
            let length = self.dot(&edges[i], &edges[i]);
            let along = self.dot(&edges[i], &self.less(point, &corner[i]));
            let along = self.unit(simd.div_f64s(along, length));
            let candidate = self.plus(&corner[i], &self.times(&edges[i], along));
            let away = self.less(point, &candidate);
            least = self.lesser(self.dot(&away, &away), least);
        }
        let away = self.less(point, &better);
        let both = simd.and_m64s(has_foot, is_better);
        simd.select_f64s(both, self.dot(&away, &away), least)
    }

    /// Whether the foot of the perpendicular from a point is within a triangle, and the weights that tell
    /// where.
    #[inline(always)]
    fn foot(
        self,
        corner: &[V<S::f64s>; 3],
        inward: &[V<S::f64s>; 3],
        normal_squared: S::f64s,
        point: &V<S::f64s>,
    ) -> (S::m64s, [S::f64s; 3], S::f64s) {
        let simd = self.0;
        let zero = simd.splat_f64s(0.0);
        let weight = [
            self.dot(&inward[0], &self.less(point, &corner[0])),
            self.dot(&inward[1], &self.less(point, &corner[1])),
            self.dot(&inward[2], &self.less(point, &corner[2])),
        ];
        let total = simd.add_f64s(simd.add_f64s(weight[0], weight[1]), weight[2]);
        let lowest = self.lesser(self.lesser(weight[0], weight[1]), weight[2]);
        let told = simd
            .and_m64s(simd.less_than_f64s(zero, normal_squared), simd.less_than_f64s(zero, total));
        // A weight below zero is out, one that is no number is not.
        let out = simd.less_than_f64s(lowest, zero);
        (simd.xor_m64s(told, simd.and_m64s(told, out)), weight, total)
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::triangle::{meet, nearest_to_point};

    /// Numbers as if by chance, each below a limit.
    fn numbers(seed: u64) -> impl FnMut(u64) -> f64 {
        let mut state = seed;
        move |below: u64| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            f64::from(u32::try_from((state >> 33) % below).unwrap())
        }
    }

    /// Triangles with corners on a small grid, so that every way of touching comes up, and others.
    #[test]
    fn pairs_meet_in_lanes_where_each_does_by_itself() {
        let mut next = numbers(3);
        let (mut meeting, mut apart) = (0, 0);
        for i in 0..60_000 {
            let grid = [4, 9, 1_000_000][i % 3];
            let mut corner = || Point3::new(next(grid), next(grid), next(grid));
            let mut triangle = || [corner(), corner(), corner()];
            let mut batch = Batch::new();
            for lane in 0..=i % BATCH {
                batch.push([lane, 0], &triangle(), &triangle());
            }
            let told = batch.meeting_dispatched();
            for lane in 0..batch.count() {
                let (p, q) = batch.triangles(lane);
                assert_eq!(told[lane], meet(&p, &q), "{p:?} {q:?}");
                if told[lane] { meeting += 1 } else { apart += 1 }
            }
            assert!(told[batch.count()..].iter().all(|meets| !meets));
        }
        assert!(meeting > 50_000 && apart > 50_000, "{meeting} {apart}");
    }

    /// Needles, triangles without area and points in their planes too.
    #[test]
    fn points_are_as_far_from_a_triangle_in_lanes_as_each_by_itself() {
        struct Task<'t>(&'t [Triangle], &'t Point3<f64>);
        impl WithSimd for Task<'_> {
            type Output = Vec<f64>;

            fn with_simd<S: Simd>(self, simd: S) -> Self::Output {
                let lanes = S::F64_LANES.min(BATCH);
                let chunks = self.0.chunks(lanes);
                let of = |some: &[Triangle]| squared_to(simd, some.iter().copied(), self.1);
                chunks.flat_map(|some| of(some).into_iter().take(some.len())).collect()
            }
        }
        let mut next = numbers(5);
        for i in 0..60_000 {
            let grid = [4, 9, 1_000_000, 1_000_000][i % 4];
            let mut corner = || Point3::new(next(grid), next(grid), next(grid));
            let mut points: Vec<_> = (0..BATCH).map(|_| corner()).collect();
            let mut triangle = [corner(), corner(), corner()];
            if i % 4 == 3 {
                triangle[2] = nalgebra::center(&triangle[0], &triangle[1]);
                points[0] = nalgebra::center(&triangle[0], &triangle[2]);
            }
            let alone = |point: &Point3<f64>, triangle: &Triangle| {
                (nearest_to_point(point, triangle) - point).norm_squared()
            };
            let squared = Points::of(points.iter().copied()).squared_from(&triangle);
            for (point, squared) in points.iter().zip(squared) {
                assert_eq!(squared.to_bits(), alone(point, &triangle).to_bits(), "{triangle:?}");
            }
            let triangles: Vec<_> =
                (0..BATCH).map(|k| [points[k], triangle[0], points[0]]).collect();
            let at = triangle[1];
            let squared = Arch::new().dispatch(Task(&triangles, &at));
            for (triangle, squared) in triangles.iter().zip(squared) {
                let alone = alone(&at, triangle);
                assert_eq!(squared.to_bits(), alone.to_bits(), "{at:?} {triangle:?}");
            }
        }
    }
}
