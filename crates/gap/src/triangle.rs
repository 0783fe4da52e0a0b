//! One triangle against another: exact distance in floating point, crossing by exact predicates.
//!
//! A triangle here is the set of convex combinations of its three corners. It may be degenerate:
//! a segment or a point.

#![expect(clippy::float_cmp, reason = "the predicates' signs are exact, zero included")]

use nalgebra::{Point3, Vector3};
use robust::{Coord, Coord3D, orient2d, orient3d};

pub(crate) type Triangle = [Point3<f64>; 3];

/// Two nearest points, one of each triangle.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Nearest {
    /// Their squared distance; zero if and only if the triangles meet or are nearer than rounding
    /// can tell.
    pub(crate) squared: f64,
    pub(crate) on_p: Point3<f64>,
    pub(crate) on_q: Point3<f64>,
}

impl Nearest {
    const NONE: Self = Self {
        squared: f64::INFINITY,
        on_p: Point3::new(0.0, 0.0, 0.0),
        on_q: Point3::new(0.0, 0.0, 0.0),
    };

    #[inline]
    fn offer(&mut self, on_p: Point3<f64>, on_q: Point3<f64>) {
        let squared = (on_p - on_q).norm_squared();
        if squared < self.squared {
            *self = Self { squared, on_p, on_q };
        }
    }
}

/// The two nearest points of `p` and `q`, or `None` if their squared distance is certainly at
/// least `cut`.
///
/// Two triangles that do not meet are nearest either between two edges or between a corner of one
/// and the inside of the other, so these fifteen cases are the whole search. The distance is
/// always taken between two points of the triangles, so that rounding of a sliver's plane cannot
/// make it too small.
pub(crate) fn nearest(p: &Triangle, q: &Triangle, cut: f64) -> Option<Nearest> {
    let (face_p, face_q) = (Face::new(p), Face::new(q));
    let apart = match face_p.clearance(q, cut) {
        Clearance::AtLeastCut => return None,
        other => other,
    };
    let apart_too = match face_q.clearance(p, cut) {
        Clearance::AtLeastCut => return None,
        other => other,
    };
    let may_meet = matches!(apart, Clearance::Unknown) && matches!(apart_too, Clearance::Unknown);
    if may_meet && meet(p, q) {
        let mut at = meeting_points(p, q);
        at.squared = 0.0;
        return Some(at);
    }
    Some(between_features(p, q, &face_p, &face_q))
}

/// As [`nearest`] for two triangles known not to meet, without the cut.
pub(crate) fn nearest_apart(p: &Triangle, q: &Triangle) -> Nearest {
    between_features(p, q, &Face::new(p), &Face::new(q))
}

/// Squared sine below which two segments count as parallel. The lateral error this allows is
/// its root times the length, below the rounding of the coordinates.
pub(crate) const PARALLEL: f64 = 1e-28;

/// The nearest pair among edges against edges and corners against insides.
fn between_features(p: &Triangle, q: &Triangle, face_p: &Face, face_q: &Face) -> Nearest {
    let mut best = Nearest::NONE;
    for i in 0..3 {
        for j in 0..3 {
            let (s, t) = nearest_on_segments(&p[i], &face_p.edges[i], &q[j], &face_q.edges[j]);
            best.offer(p[i] + face_p.edges[i] * s, q[j] + face_q.edges[j] * t);
        }
    }
    for corner in q {
        if let Some(foot) = face_p.foot(corner) {
            best.offer(foot, *corner);
        }
    }
    for corner in p {
        if let Some(foot) = face_q.foot(corner) {
            best.offer(*corner, foot);
        }
    }
    best
}

/// The point of `triangle` nearest to `point`.
pub(crate) fn nearest_to_point(point: &Point3<f64>, triangle: &Triangle) -> Point3<f64> {
    Face::new(triangle).nearest_to(point)
}

/// What the plane of one triangle says about the other.
enum Clearance {
    /// The other lies on one side, at least the asked distance away.
    AtLeastCut,
    /// The other lies strictly on one side.
    OneSided,
    /// The other may reach the plane.
    Unknown,
}

/// A triangle with its edges and plane.
pub(crate) struct Face {
    corner: Triangle,
    /// From each corner to the next.
    edges: [Vector3<f64>; 3],
    /// Twice the area long; counter-clockwise seen from its tip.
    normal: Vector3<f64>,
    normal_squared: f64,
}

impl Face {
    #[inline]
    pub(crate) fn new(corner: &Triangle) -> Self {
        let edges = [corner[1] - corner[0], corner[2] - corner[1], corner[0] - corner[2]];
        let normal = edges[0].cross(&edges[1]);
        Self { corner: *corner, edges, normal, normal_squared: normal.norm_squared() }
    }

    /// Compares the distance of `other` from this plane with the root of `cut`. Rounding is
    /// bounded from above throughout, so that the answer is certain for slivers too.
    #[inline]
    fn clearance(&self, other: &Triangle, cut: f64) -> Clearance {
        /// Covers the rounding of the cross product, the dot product and the differences in them.
        const ROUNDING: f64 = 16.0 * f64::EPSILON;
        let (mut low, mut high, mut reach) = (f64::INFINITY, f64::NEG_INFINITY, 0.0_f64);
        for corner in other {
            let offset = corner - self.corner[0];
            let height = self.normal.dot(&offset);
            low = low.min(height);
            high = high.max(height);
            reach = reach.max(taxicab(&offset));
        }
        let span = taxicab(&self.edges[0]) * taxicab(&self.edges[1]);
        let certain = low.max(-high) - ROUNDING * span * reach;
        if certain <= 0.0 || certain.is_nan() {
            return Clearance::Unknown;
        }
        // The true normal is at most ROUNDING * span longer than the computed one.
        let longest_squared = self.normal_squared + 3.0 * ROUNDING * span * span;
        if certain * certain >= cut * longest_squared {
            Clearance::AtLeastCut
        } else {
            Clearance::OneSided
        }
    }

    /// The foot of the perpendicular from `point`, if it falls within the triangle.
    #[inline]
    fn foot(&self, point: &Point3<f64>) -> Option<Point3<f64>> {
        if self.normal_squared <= 0.0 {
            return None;
        }
        // Weight of the corner opposite each edge, times the normal's squared length.
        let mut weight = [0.0; 3];
        for i in 0..3 {
            weight[i] = self.normal.cross(&self.edges[i]).dot(&(point - self.corner[i]));
            if weight[i] < 0.0 {
                return None;
            }
        }
        let total = weight[0] + weight[1] + weight[2];
        if total <= 0.0 {
            return None;
        }
        let second = self.edges[0] * (weight[2] / total);
        let third = self.edges[2] * (weight[0] / total);
        Some(self.corner[0] + second - third)
    }
}

impl Face {
    /// The point of the triangle nearest to `point`.
    #[inline]
    pub(crate) fn nearest_to(&self, point: &Point3<f64>) -> Point3<f64> {
        let mut best = (f64::INFINITY, self.corner[0]);
        if let Some(foot) = self.foot(point) {
            // On a needle the foot is off along it by more than rounding. Looked for anew from there
            // it is not, unless that is past the border.
            if let Some(foot) = self.foot_from(&foot, point) {
                return foot;
            }
            best = ((point - foot).norm_squared(), foot);
        }
        for (start, edge) in self.corner.iter().zip(&self.edges) {
            let length = edge.norm_squared();
            let along = if length > 0.0 {
                (edge.dot(&(point - start)) / length).clamp(0.0, 1.0)
            } else {
                0.0
            };
            let candidate = start + edge * along;
            let squared = (point - candidate).norm_squared();
            if squared < best.0 {
                best = (squared, candidate);
            }
        }
        best.1
    }

    /// The foot of the perpendicular from `point` by way of another point of the triangle near
    /// it, if it falls within.
    fn foot_from(&self, foot: &Point3<f64>, point: &Point3<f64>) -> Option<Point3<f64>> {
        let off = point - foot;
        let weight = |edge: &Vector3<f64>| self.normal.cross(edge).dot(&off);
        let (first, third) = (weight(&self.edges[0]), weight(&self.edges[2]));
        let better = foot + (self.edges[0] * third - self.edges[2] * first) / self.normal_squared;
        self.foot(&better).map(|_| better)
    }
}

#[inline]
fn taxicab(v: &Vector3<f64>) -> f64 {
    v.x.abs() + v.y.abs() + v.z.abs()
}

/// Parameters in `[0, 1]` of the nearest points of two segments, each given by its start and its
/// full length as a vector; either may have no length.
#[inline]
fn nearest_on_segments(
    start_p: &Point3<f64>,
    along_p: &Vector3<f64>,
    start_q: &Point3<f64>,
    along_q: &Vector3<f64>,
) -> (f64, f64) {
    // Also zero for what is not a number: the parameter along a segment without length.
    let unit = |x: f64| if x > 0.0 { if x < 1.0 { x } else { 1.0 } } else { 0.0 };
    let from_q = start_p - start_q;
    let (pp, qq, pq) = (along_p.norm_squared(), along_q.norm_squared(), along_p.dot(along_q));
    let (p_r, q_r) = (along_p.dot(&from_q), along_q.dot(&from_q));
    // The cross product keeps the small angle between near-parallel segments, where the usual
    // determinant pp * qq - pq * pq would cancel.
    let across = along_p.cross(along_q);
    let spread = across.norm_squared();
    let s = if spread > PARALLEL * pp * qq {
        unit(along_q.cross(&from_q).dot(&across) / spread)
    } else {
        0.0
    };
    let t = unit((pq * s + q_r) / qq);
    (unit((pq * t - p_r) / pp), t)
}

/// A point where two triangles that are known to meet do so, once on each, as near as rounding
/// allows.
fn meeting_points(p: &Triangle, q: &Triangle) -> Nearest {
    let mut best = between_features(p, q, &Face::new(p), &Face::new(q));
    for (cut, other, cut_is_p) in [(p, q, true), (q, p, false)] {
        for i in 0..3 {
            let (start, end) = (&cut[i], &cut[(i + 1) % 3]);
            let (below, above) = (side(other, start), side(other, end));
            if (below < 0.0 && above > 0.0) || (below > 0.0 && above < 0.0) {
                let on_edge = start + (end - start) * (below / (below - above)).clamp(0.0, 1.0);
                let on_face = nearest_to_point(&on_edge, other);
                if cut_is_p {
                    best.offer(on_edge, on_face);
                } else {
                    best.offer(on_face, on_edge);
                }
            }
        }
    }
    best
}

/// Whether two triangles have a point in common, exactly; touching counts.
pub(crate) fn meet(p: &Triangle, q: &Triangle) -> bool {
    let sides_of_q = Plane::of(p).sides(q);
    if all_on_one_side(&sides_of_q) {
        return false;
    }
    let sides_of_p = Plane::of(q).sides(p);
    if all_on_one_side(&sides_of_p) {
        return false;
    }
    // All on the plane: either coplanar, or the triangle whose plane it is has no area.
    let (q_flat, p_flat) = (sides_of_q == [0.0; 3], sides_of_p == [0.0; 3]);
    if q_flat && p_flat {
        let (p_has_area, q_has_area) = (has_area(p), has_area(q));
        return if p_has_area || q_has_area {
            coplanar_meet(p, q)
        } else {
            edges_of(p).any(|e| edges_of(q).any(|f| segments_meet(&e, &f)))
        };
    }
    // A triangle without area is covered by its edges.
    if p_flat || q_flat {
        return (!p_flat && any_edge_meets(p, &sides_of_p, q))
            || (!q_flat && any_edge_meets(q, &sides_of_q, p));
    }
    // Every triangle of finite corners has one: without, nothing tells that the two are apart.
    let Some(tips) = apex(&sides_of_p).zip(apex(&sides_of_q)) else { return true };
    overlap_in_line(p, q, tips.into())
}

/// The corner of a triangle that is passed by a plane on whose other side, or in which, both others
/// lie; or that lies in it by itself. From the sides of its corners, not all one and not all zero.
fn apex(sides: &[f64; 3]) -> Option<usize> {
    let is_apex = |i: &usize| {
        let (own, [j, k]) = (sides[*i], [sides[(i + 1) % 3], sides[(i + 2) % 3]]);
        if own == 0.0 {
            (j > 0.0 && k > 0.0) || (j < 0.0 && k < 0.0)
        } else {
            (own > 0.0 && j <= 0.0 && k <= 0.0) || (own < 0.0 && j >= 0.0 && k >= 0.0)
        }
    };
    (0..3).find(is_apex)
}

/// Whether two triangles meet that both reach the line in which their planes cross, by the corners from
/// which two edges of each lead to or past it. Each takes up of the line what is between its two edges,
/// and on which hand an edge of one passes an edge of the other is the order of the places at which they
/// reach it: the triangles are apart where all four hands are one.
fn overlap_in_line(p: &Triangle, q: &Triangle, [a, b]: [usize; 2]) -> bool {
    let (mut left, mut right) = (false, false);
    for i in 1..3 {
        let edge = [p[a], p[(a + i) % 3], q[b]];
        let plane = Plane::of(&edge);
        for j in 1..3 {
            let hand = plane.side(&q[(b + j) % 3]);
            // What cannot be told counts as either.
            left |= hand >= 0.0 || hand.is_nan();
            right |= hand <= 0.0 || hand.is_nan();
            if left && right {
                return true;
            }
        }
    }
    false
}

/// Whether a point lies on a triangle, exactly.
pub(crate) fn holds(triangle: &Triangle, point: &Point3<f64>) -> bool {
    side(triangle, point) == 0.0 && meet(triangle, &[*point; 3])
}

/// Whether the segment meets the triangle, exactly; touching counts.
pub(crate) fn segment_meets_triangle(
    start: &Point3<f64>,
    end: &Point3<f64>,
    triangle: &Triangle,
) -> bool {
    meet(&[*start, *end, *end], triangle)
}

/// Where `d` lies of the plane of `t`: positive on the side from which `t` is counter-clockwise.
/// The sign is exact, the size approximate.
#[inline]
pub(crate) fn side(t: &Triangle, d: &Point3<f64>) -> f64 {
    // Level faces that lie on each other are common, and an exact volume of nothing is dear.
    if (0..3).any(|axis| t.iter().all(|p| p[axis] == d[axis])) {
        return 0.0;
    }
    let of = |p: &Point3<f64>| Coord3D { x: p.x, y: p.y, z: p.z };
    -orient3d(of(&t[0]), of(&t[1]), of(&t[2]), of(d))
}

/// More than twice the bound of Shewchuk, "Adaptive precision floating-point arithmetic and fast robust
/// geometric predicates", Discrete & Computational Geometry 18(3), 1997 (from memory), for a volume
/// reckoned as [`Plane`] does: 7 roundings.
pub(crate) const ROUNDING: f64 = 8.0 * f64::EPSILON;
/// Above what is lost of it where products vanish.
pub(crate) const VANISHED: f64 = 1e-290;

/// A triangle's plane, for the signs of [`side`] by a single reckoning for several points: most are so
/// far off it that rounding cannot have turned them.
struct Plane<'t> {
    triangle: &'t Triangle,
    normal: Vector3<f64>,
    /// Of each of its components the sum of what it is the difference of.
    size: Vector3<f64>,
}

impl<'t> Plane<'t> {
    #[inline]
    fn of(triangle: &'t Triangle) -> Self {
        let (u, v) = (triangle[1] - triangle[0], triangle[2] - triangle[0]);
        let (left, right) = (
            Vector3::new(u.y * v.z, u.z * v.x, u.x * v.y),
            Vector3::new(u.z * v.y, u.x * v.z, u.y * v.x),
        );
        Self { triangle, normal: left - right, size: left.abs() + right.abs() }
    }

    /// A number with the sign of [`side`].
    #[inline]
    fn side(&self, d: &Point3<f64>) -> f64 {
        let w = d - self.triangle[0];
        let volume = w.dot(&self.normal);
        if volume.abs() > ROUNDING * w.abs().dot(&self.size) + VANISHED {
            volume
        } else {
            side(self.triangle, d)
        }
    }

    #[inline]
    fn sides(&self, of: &Triangle) -> [f64; 3] {
        [self.side(&of[0]), self.side(&of[1]), self.side(&of[2])]
    }
}

#[inline]
fn all_on_one_side(sides: &[f64; 3]) -> bool {
    sides.iter().all(|s| *s > 0.0) || sides.iter().all(|s| *s < 0.0)
}

type Segment = [Point3<f64>; 2];

fn edges_of(t: &Triangle) -> impl Iterator<Item = Segment> {
    let t = *t;
    (0..3).map(move |i| [t[i], t[(i + 1) % 3]])
}

/// Whether any edge of a triangle whose corners lie so of the plane of `t`, which has an area, meets
/// it.
fn any_edge_meets(of: &Triangle, sides: &[f64; 3], t: &Triangle) -> bool {
    (0..3).any(|i| {
        let next = (i + 1) % 3;
        segment_meets(&[of[i], of[next]], [sides[i], sides[next]], t)
    })
}

/// Whether a segment whose ends lie so of the plane of a triangle that has an area meets it.
fn segment_meets(segment: &Segment, [start, end]: [f64; 2], t: &Triangle) -> bool {
    if (start > 0.0 && end > 0.0) || (start < 0.0 && end < 0.0) {
        return false;
    }
    if start == 0.0 && end == 0.0 {
        return coplanar_meet(&[segment[0], segment[1], segment[1]], t);
    }
    // The line passes the triangle's inside or border when it passes all edges on one hand.
    let hand = |i: usize| Plane::of(&[segment[0], segment[1], t[i]]).side(&t[(i + 1) % 3]);
    let hands = [hand(0), hand(1), hand(2)];
    hands.iter().all(|h| *h >= 0.0) || hands.iter().all(|h| *h <= 0.0)
}

fn segments_meet(e: &Segment, f: &Segment) -> bool {
    side(&[e[0], e[1], f[0]], &f[1]) == 0.0
        && coplanar_meet(&[e[0], e[1], e[1]], &[f[0], f[1], f[1]])
}

/// A projection along one of the axes that keeps handedness.
#[derive(Clone, Copy)]
struct Shadow(usize);

impl Shadow {
    const ALL: [Self; 3] = [Self(0), Self(1), Self(2)];

    fn of(self, p: &Point3<f64>) -> Coord<f64> {
        Coord { x: p[(self.0 + 1) % 3], y: p[(self.0 + 2) % 3] }
    }

    fn turn(self, a: &Point3<f64>, b: &Point3<f64>, c: &Point3<f64>) -> f64 {
        orient2d(self.of(a), self.of(b), self.of(c))
    }

    /// Whether the shadow of `p`, known to be in line with the shadow of the segment, is on it.
    fn between(self, p: &Point3<f64>, segment: &Segment) -> bool {
        let (p, a, b) = (self.of(p), self.of(&segment[0]), self.of(&segment[1]));
        a.x.min(b.x) <= p.x && p.x <= a.x.max(b.x) && a.y.min(b.y) <= p.y && p.y <= a.y.max(b.y)
    }

    fn segments_meet(self, e: &Segment, f: &Segment) -> bool {
        let (e0, e1) = (self.turn(&f[0], &f[1], &e[0]), self.turn(&f[0], &f[1], &e[1]));
        let (f0, f1) = (self.turn(&e[0], &e[1], &f[0]), self.turn(&e[0], &e[1], &f[1]));
        let opposite = |x: f64, y: f64| (x > 0.0 && y < 0.0) || (x < 0.0 && y > 0.0);
        (opposite(e0, e1) && opposite(f0, f1))
            || (e0 == 0.0 && self.between(&e[0], f))
            || (e1 == 0.0 && self.between(&e[1], f))
            || (f0 == 0.0 && self.between(&f[0], e))
            || (f1 == 0.0 && self.between(&f[1], e))
    }

    fn holds(self, t: &Triangle, p: &Point3<f64>) -> bool {
        let turns =
            [self.turn(&t[0], &t[1], p), self.turn(&t[1], &t[2], p), self.turn(&t[2], &t[0], p)];
        // A shadow without area is covered by its edges.
        turns != [0.0; 3]
            && (turns.iter().all(|s| *s >= 0.0) || turns.iter().all(|s| *s <= 0.0))
            && self.has_area(t)
    }

    fn has_area(self, t: &Triangle) -> bool {
        self.turn(&t[0], &t[1], &t[2]) != 0.0
    }

    fn meet(self, p: &Triangle, q: &Triangle) -> bool {
        edges_of(p).any(|e| edges_of(q).any(|f| self.segments_meet(&e, &f)))
            || self.holds(q, &p[0])
            || self.holds(p, &q[0])
    }
}

fn has_area(t: &Triangle) -> bool {
    Shadow::ALL.iter().any(|shadow| shadow.has_area(t))
}

/// Whether two sets in one plane meet. They do exactly when their shadows along all three axes
/// meet: a common point has a common shadow, and at least one projection is one to one on the
/// plane.
fn coplanar_meet(p: &Triangle, q: &Triangle) -> bool {
    Shadow::ALL.iter().all(|shadow| shadow.meet(p, q))
}

/// How often the shadow of `t` along z turns round the shadow of `point`, -1, 0 or 1, decided as
/// if the point stood an infinitesimal step toward +x and a far smaller one toward +y. Over a
/// closed surface these are consistent: a point on a shared edge is counted in just one of the
/// two triangles.
pub(crate) fn turns_round(t: &Triangle, point: &Point3<f64>) -> i32 {
    let shadow = Shadow(2);
    let mut turns = 0;
    for i in 0..3 {
        let (a, b) = (&t[i], &t[(i + 1) % 3]);
        let rises = a.y <= point.y;
        if rises == (b.y <= point.y) {
            continue;
        }
        let hand = shadow.turn(a, b, point);
        if rises && hand > 0.0 {
            turns += 1;
        } else if !rises && hand < 0.0 {
            turns -= 1;
        }
    }
    turns
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Triangles with corners on a small grid, so that every way of touching comes up; their edges
    /// against each other's insides say the same.
    #[test]
    fn triangles_overlap_in_the_line_of_their_planes_where_an_edge_meets_the_other() {
        let mut state = 1_u64;
        let mut next = |below: u64| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            f64::from(u32::try_from((state >> 33) % below).unwrap())
        };
        let (mut meeting, mut apart) = (0, 0);
        for i in 0..400_000 {
            let grid = if i % 2 == 0 { 4 } else { 9 };
            let mut corner = || Point3::new(next(grid), next(grid), next(grid));
            let mut triangle = || [corner(), corner(), corner()];
            let (p, q) = (triangle(), triangle());
            let (of_q, of_p) = (Plane::of(&p).sides(&q), Plane::of(&q).sides(&p));
            let is_settled =
                |sides: &[f64; 3]| all_on_one_side(sides) || sides.iter().all(|s| *s == 0.0);
            if is_settled(&of_q) || is_settled(&of_p) {
                continue;
            }
            let by_edges = any_edge_meets(&p, &of_p, &q) || any_edge_meets(&q, &of_q, &p);
            let tips = apex(&of_p).zip(apex(&of_q)).unwrap();
            assert_eq!(overlap_in_line(&p, &q, tips.into()), by_edges, "{p:?} {q:?}");
            assert_eq!(meet(&p, &q), by_edges);
            if by_edges { meeting += 1 } else { apart += 1 }
        }
        assert!(meeting > 10_000 && apart > 10_000, "{meeting} {apart}");
    }

    /// The exact predicate of the `robust` crate beside the quick one.
    #[test]
    fn a_plane_has_points_on_the_side_that_exact_arithmetic_finds() {
        let mut state = 7_u64;
        let mut next = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            f64::from(u32::try_from(state >> 33).unwrap()) / 1e4 - 1e5
        };
        for i in 0..200_000 {
            let mut corner = || Point3::new(next(), next(), next());
            let t = [corner(), corner(), corner()];
            // A point of the plane but for rounding, or off it by a little.
            let [u, v, off] = [next(), next(), next()].map(|x| x / 1e5);
            let mut d = t[0] + (t[1] - t[0]) * u + (t[2] - t[0]) * v;
            d.z += off * 0.1_f64.powi(i % 24);
            assert_eq!(Plane::of(&t).side(&d).total_cmp(&0.0), side(&t, &d).total_cmp(&0.0));
        }
    }
}
