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
    let face = Face::new(triangle);
    let mut best = (f64::INFINITY, triangle[0]);
    if let Some(foot) = face.foot(point) {
        // On a needle the foot is off along it by more than rounding. Looked for anew from there
        // it is not, unless that is past the border.
        if let Some(foot) = face.foot_from(&foot, point) {
            return foot;
        }
        best = ((point - foot).norm_squared(), foot);
    }
    for (start, edge) in triangle.iter().zip(&face.edges) {
        let length = edge.norm_squared();
        let along =
            if length > 0.0 { (edge.dot(&(point - start)) / length).clamp(0.0, 1.0) } else { 0.0 };
        let candidate = start + edge * along;
        let squared = (point - candidate).norm_squared();
        if squared < best.0 {
            best = (squared, candidate);
        }
    }
    best.1
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
struct Face {
    corner: Triangle,
    /// From each corner to the next.
    edges: [Vector3<f64>; 3],
    /// Twice the area long; counter-clockwise seen from its tip.
    normal: Vector3<f64>,
    normal_squared: f64,
}

impl Face {
    #[inline]
    fn new(corner: &Triangle) -> Self {
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
    let sides_of_q = sides(p, q);
    if all_on_one_side(&sides_of_q) {
        return false;
    }
    let sides_of_p = sides(q, p);
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
    // Two triangles in general position meet where an edge of one meets the other. A triangle
    // without area is covered by its edges.
    (!p_flat && edges_of(p).any(|e| segment_meets(&e, q)))
        || (!q_flat && edges_of(q).any(|e| segment_meets(&e, p)))
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

#[inline]
fn sides(t: &Triangle, of: &Triangle) -> [f64; 3] {
    [side(t, &of[0]), side(t, &of[1]), side(t, &of[2])]
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

/// Whether a segment meets a triangle that has an area.
fn segment_meets(segment: &Segment, t: &Triangle) -> bool {
    let (start, end) = (side(t, &segment[0]), side(t, &segment[1]));
    if (start > 0.0 && end > 0.0) || (start < 0.0 && end < 0.0) {
        return false;
    }
    if start == 0.0 && end == 0.0 {
        return coplanar_meet(&[segment[0], segment[1], segment[1]], t);
    }
    // The line passes the triangle's inside or border when it passes all edges on one hand.
    let hand = |i: usize| side(&[segment[0], segment[1], t[i]], &t[(i + 1) % 3]);
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
