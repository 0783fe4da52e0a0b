//! What is true of triangles with whole-number corners, decided without a rounding and without
//! any code of the engine or of its libraries: whether two meet, how far apart they are, and
//! whether a closed body holds a point.
#![allow(dead_code, unreachable_pub, reason = "each test file uses some of it")]

use std::cmp::Ordering;

use num_bigint::{BigInt, Sign};

/// Whole numbers, of 128 bits or of unlimited size.
pub trait Whole: Clone + Ord {
    fn zero() -> Self;
    fn plus(&self, other: &Self) -> Self;
    fn minus(&self, other: &Self) -> Self;
    fn times(&self, other: &Self) -> Self;
    /// A mantissa and the power of two to multiply it with, right to 2^-52 of the number.
    fn rounded(&self) -> (f64, i64);

    fn sign(&self) -> Ordering {
        self.cmp(&Self::zero())
    }
}

/// Enough for corners within 2^23 of one another: nothing here multiplies more than four
/// differences or adds up more than a few dozen such products, which stay below 2^100.
impl Whole for i128 {
    fn zero() -> Self {
        0
    }
    fn plus(&self, other: &Self) -> Self {
        self + other
    }
    fn minus(&self, other: &Self) -> Self {
        self - other
    }
    fn times(&self, other: &Self) -> Self {
        self * other
    }
    fn rounded(&self) -> (f64, i64) {
        (*self as f64, 0)
    }
}

impl Whole for BigInt {
    fn zero() -> Self {
        Self::ZERO
    }
    fn plus(&self, other: &Self) -> Self {
        self + other
    }
    fn minus(&self, other: &Self) -> Self {
        self - other
    }
    fn times(&self, other: &Self) -> Self {
        self * other
    }
    fn rounded(&self) -> (f64, i64) {
        let drop = self.bits().saturating_sub(63);
        let top = (self.magnitude() >> drop).iter_u64_digits().next().unwrap_or(0) as f64;
        let drop = i64::try_from(drop).unwrap_or(i64::MAX);
        (if Self::sign(self) == Sign::Minus { -top } else { top }, drop)
    }
}

pub type Vector<W> = [W; 3];
pub type Triangle<W> = [Vector<W>; 3];

pub fn minus<W: Whole>(a: &Vector<W>, b: &Vector<W>) -> Vector<W> {
    std::array::from_fn(|i| a[i].minus(&b[i]))
}

pub fn cross<W: Whole>(a: &Vector<W>, b: &Vector<W>) -> Vector<W> {
    std::array::from_fn(|i| {
        let (j, k) = ((i + 1) % 3, (i + 2) % 3);
        a[j].times(&b[k]).minus(&a[k].times(&b[j]))
    })
}

pub fn dot<W: Whole>(a: &Vector<W>, b: &Vector<W>) -> W {
    a[0].times(&b[0]).plus(&a[1].times(&b[1])).plus(&a[2].times(&b[2]))
}

fn is_zero<W: Whole>(a: &Vector<W>) -> bool {
    a.iter().all(|c| c.sign() == Ordering::Equal)
}

fn edges<W: Whole>(t: &Triangle<W>) -> [Vector<W>; 3] {
    [minus(&t[1], &t[0]), minus(&t[2], &t[1]), minus(&t[0], &t[2])]
}

/// Whether every corner of one lies beyond every corner of the other along `axis`.
fn separates<W: Whole>(axis: &Vector<W>, p: &Triangle<W>, q: &Triangle<W>) -> bool {
    let range = |t: &Triangle<W>| {
        let [a, b, c] = [dot(axis, &t[0]), dot(axis, &t[1]), dot(axis, &t[2])];
        let (low, high) = if a < b { (a, b) } else { (b, a) };
        if c < low {
            (c, high)
        } else if c > high {
            (low, c)
        } else {
            (low, high)
        }
    };
    let ((p_low, p_high), (q_low, q_high)) = (range(p), range(q));
    p_high < q_low || q_high < p_low
}

/// Whether two triangles, segments or points have a point in common. Two convex sets are apart
/// exactly when some direction separates them, and here a finite list of directions is enough.
pub fn meets<W: Whole>(p: &Triangle<W>, q: &Triangle<W>) -> bool {
    let (ep, eq) = (edges(p), edges(q));
    let apart = |axis: &Vector<W>| separates(axis, p, q);
    // Facets of the difference of the sets when it has volume: its normals are the triangles'
    // own and those of two edges.
    let mut normals = vec![cross(&ep[0], &ep[1]), cross(&eq[0], &eq[1])];
    if normals.iter().any(apart) {
        return false;
    }
    let of_edges: Vec<Vector<W>> = ep.iter().flat_map(|e| eq.iter().map(|f| cross(e, f))).collect();
    if of_edges.iter().any(apart) {
        return false;
    }
    // When it is flat: normals of its border within its plane.
    normals.retain(|n| !is_zero(n));
    normals.extend(of_edges.into_iter().filter(|n| !is_zero(n)).take(2));
    let all_edges = || ep.iter().chain(&eq);
    if normals.iter().any(|n| all_edges().any(|e| apart(&cross(n, e)))) {
        return false;
    }
    // When it is a segment or a point: along it, and square to it toward the other set.
    let offset = minus(&q[0], &p[0]);
    if all_edges().any(|e| apart(e) || apart(&cross(&cross(e, &offset), e))) {
        return false;
    }
    !apart(&offset)
}

/// The distance of two triangles that do not meet, right to some 2^-50 of itself: the least over
/// corners against corners, edges and faces and over edges against edges, where each of these
/// is taken only where its foot exactly falls within.
pub fn distance<W: Whole>(p: &Triangle<W>, q: &Triangle<W>) -> f64 {
    let (ep, eq) = (edges(p), edges(q));
    let mut least = f64::INFINITY;
    for i in 0..3 {
        for j in 0..3 {
            let way = minus(&q[j], &p[i]);
            least = least.min(length(&way));
            least = least.min(off_edge(&ep[i], &way));
            least = least.min(off_edge(&eq[j], &minus(&p[i], &q[j])));
            least = least.min(between_edges(&ep[i], &eq[j], &way));
        }
    }
    for (t, edges, other) in [(p, &ep, q), (q, &eq, p)] {
        for corner in other {
            least = least.min(off_face(t, edges, corner));
        }
    }
    least
}

fn length<W: Whole>(v: &Vector<W>) -> f64 {
    root_of_ratio(&dot(v, v).rounded(), &(1.0, 0))
}

/// Root of `above / below`, both positive.
fn root_of_ratio(above: &(f64, i64), below: &(f64, i64)) -> f64 {
    let power = above.1 - below.1;
    let odd = power.rem_euclid(2);
    let half = i32::try_from((power - odd) / 2).unwrap_or(i32::MAX);
    (above.0 / below.0 * if odd == 1 { 2.0 } else { 1.0 }).sqrt() * 2.0_f64.powi(half)
}

/// `|dot| / root of norm`, the length of a projection.
fn projected<W: Whole>(dot: &W, norm_squared: &W) -> f64 {
    let (mantissa, power) = dot.rounded();
    root_of_ratio(&(mantissa * mantissa, 2 * power), &norm_squared.rounded())
}

/// From a point at `way` from the start of an edge to its line, if the foot is on the edge.
fn off_edge<W: Whole>(edge: &Vector<W>, way: &Vector<W>) -> f64 {
    let (along, whole) = (dot(edge, way), dot(edge, edge));
    let within = along.sign() != Ordering::Less && along <= whole;
    if !within || whole.sign() == Ordering::Equal {
        return f64::INFINITY;
    }
    let across = cross(edge, way);
    root_of_ratio(&dot(&across, &across).rounded(), &whole.rounded())
}

/// Between two edges whose starts are `way` apart, if both feet are on them.
fn between_edges<W: Whole>(e: &Vector<W>, f: &Vector<W>, way: &Vector<W>) -> f64 {
    let across = cross(e, f);
    let spread = dot(&across, &across);
    if spread.sign() == Ordering::Equal {
        return f64::INFINITY;
    }
    let (s, t) = (dot(&cross(way, f), &across), dot(&cross(way, e), &across));
    let within = |x: &W| x.sign() != Ordering::Less && *x <= spread;
    if within(&s) && within(&t) { projected(&dot(way, &across), &spread) } else { f64::INFINITY }
}

/// From a point to the plane of a triangle, if the foot is in the triangle.
fn off_face<W: Whole>(t: &Triangle<W>, edges: &[Vector<W>; 3], point: &Vector<W>) -> f64 {
    let normal = cross(&edges[0], &edges[1]);
    if is_zero(&normal) {
        return f64::INFINITY;
    }
    let left =
        |i: usize| dot(&normal, &cross(&edges[i], &minus(point, &t[i]))).sign() != Ordering::Less;
    if (0..3).all(left) {
        projected(&dot(&normal, &minus(point, &t[0])), &dot(&normal, &normal))
    } else {
        f64::INFINITY
    }
}

/// Whether an edge of one triangle passes through the inside of the other from side to side. Two
/// triangles meet exactly when this holds or [`distance`] is zero: another way to the answer of
/// [`meets`].
pub fn pierces<W: Whole>(p: &Triangle<W>, q: &Triangle<W>) -> bool {
    let through = |t: &Triangle<W>, other: &Triangle<W>| {
        (0..3).any(|i| passage(t, &other[i], &other[(i + 1) % 3]).is_some())
    };
    through(p, q) || through(q, p)
}

/// Which way the segment from `start` to `end` passes strictly through the inside of `t`: `Less`
/// from front to back.
fn passage<W: Whole>(t: &Triangle<W>, start: &Vector<W>, end: &Vector<W>) -> Option<Ordering> {
    let normal = cross(&minus(&t[1], &t[0]), &minus(&t[2], &t[0]));
    let before = dot(&normal, &minus(start, &t[0])).sign();
    let after = dot(&normal, &minus(end, &t[0])).sign();
    if before == Ordering::Equal || after != before.reverse() {
        return None;
    }
    let along = minus(end, start);
    let hand = |i: usize| {
        let (a, b) = (minus(&t[i], start), minus(&t[(i + 1) % 3], start));
        dot(&along, &cross(&a, &b)).sign()
    };
    let first = hand(0);
    (first != Ordering::Equal && hand(1) == first && hand(2) == first).then_some(after)
}

/// How often the closed surface `triangles` wraps round `point`, which is not on it: the signed
/// crossings of a ray. A ray that meets an edge or lies in a triangle is given up for the next.
pub fn winding(triangles: &[Triangle<i128>], point: &Vector<i128>) -> i32 {
    // Beyond everything, and in line with nothing on a lattice of 2^21.
    const ENDS: [Vector<i128>; 6] = [
        [4_194_301, 1_234_567, 987_643],
        [-1_111_109, 4_194_287, 777_781],
        [654_323, -2_222_221, 4_194_271],
        [-4_194_247, -3_141_593, 2_718_281],
        [1_414_213, 1_732_051, -4_194_199],
        [4_194_187, -2_236_067, -2_645_751],
    ];
    'rays: for way in ENDS {
        let end: Vector<i128> = std::array::from_fn(|i| point[i] + 4 * way[i]);
        let mut sum = 0;
        for t in triangles {
            match passage(t, point, &end) {
                Some(after) => sum += if after == Ordering::Greater { 1 } else { -1 },
                // A miss must be a clear one.
                None if meets(t, &[*point, end, end]) => continue 'rays,
                None => {}
            }
        }
        return sum;
    }
    panic!("every ray from {point:?} meets an edge")
}
