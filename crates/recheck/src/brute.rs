//! Distances by comparing every triangle with every triangle, with boxes only to leave out what
//! is certainly too far. Shares nothing with the program.

use nalgebra::{Matrix3, Point3, Vector3};
use solids::Mesh;

type P = Point3<f64>;
type V = Vector3<f64>;

/// Where a body lies: rotation, then shift.
#[derive(Debug, Clone, Copy)]
pub struct Place {
    /// Rotation.
    pub turn: Matrix3<f64>,
    /// Shift, mm.
    pub shift: V,
}

impl Place {
    /// A rotation and a shift.
    pub const fn new(turn: Matrix3<f64>, shift: V) -> Self {
        Self { turn, shift }
    }

    /// Neither turned nor shifted.
    pub fn as_drawn() -> Self {
        Self::new(Matrix3::identity(), V::zeros())
    }

    /// The same shifted.
    #[must_use]
    pub fn moved(self, by: &V) -> Self {
        Self { turn: self.turn, shift: self.shift + by }
    }

    /// The point as it lies here.
    pub fn apply(&self, p: &P) -> P {
        P::from(self.turn * p.coords + self.shift)
    }
}

/// A box along the axes.
#[derive(Debug, Clone, Copy)]
struct Frame {
    low: [f64; 3],
    high: [f64; 3],
}

impl Frame {
    fn of<'p>(points: impl IntoIterator<Item = &'p P>) -> Self {
        let mut frame = Self { low: [f64::INFINITY; 3], high: [f64::NEG_INFINITY; 3] };
        for p in points {
            for i in 0..3 {
                frame.low[i] = frame.low[i].min(p[i]);
                frame.high[i] = frame.high[i].max(p[i]);
            }
        }
        frame
    }

    fn moved(mut self, by: &V) -> Self {
        for i in 0..3 {
            self.low[i] += by[i];
            self.high[i] += by[i];
        }
        self
    }

    /// Whether the boxes may be nearer than the root of `squared`.
    fn near(&self, other: &Self, squared: f64) -> bool {
        let mut sum = 0.0;
        for i in 0..3 {
            let apart = (self.low[i] - other.high[i]).max(other.low[i] - self.high[i]).max(0.0);
            sum += apart * apart;
        }
        sum <= squared
    }
}

/// A part of a mesh that hangs together through shared corners.
#[derive(Clone)]
struct Shell {
    triangles: Vec<usize>,
    frame: Frame,
}

/// Triangles in the plate frame, sorted into connected shells.
pub struct Heap {
    points: Vec<P>,
    corners: Vec<[P; 3]>,
    frames: Vec<Frame>,
    whole: Frame,
    shells: Vec<Shell>,
}

impl Heap {
    /// A mesh in its place. Its triangles' corners must be there.
    pub fn new(mesh: &Mesh, place: &Place) -> Self {
        let points: Vec<P> = mesh.vertices.iter().map(|p| place.apply(p)).collect();
        let corners: Vec<[P; 3]> =
            mesh.triangles.iter().map(|t| t.map(|v| points[v as usize])).collect();
        Self {
            frames: corners.iter().map(Frame::of).collect(),
            whole: Frame::of(corners.iter().flatten()),
            shells: shells(mesh, &corners),
            corners,
            points,
        }
    }

    /// Every corner.
    pub fn points(&self) -> impl Iterator<Item = &P> {
        self.points.iter()
    }

    /// The same triangles shifted.
    #[must_use]
    pub fn moved(&self, by: &V) -> Self {
        Self {
            corners: self.corners.iter().map(|t| t.map(|p| p + by)).collect(),
            frames: self.frames.iter().map(|f| f.moved(by)).collect(),
            whole: self.whole.moved(by),
            shells: self
                .shells
                .iter()
                .map(|s| Shell { frame: s.frame.moved(by), ..s.clone() })
                .collect(),
            points: self.points.iter().map(|p| p + by).collect(),
        }
    }

    /// Whether a point lies in any shell: a ray from it crosses the shell an odd number of times.
    /// Three rays vote, so that one that meets an edge does not decide.
    fn holds(&self, p: &P) -> bool {
        let frame = Frame::of([p]);
        let odd = |shell: &Shell, ray: &V| {
            let meets = |t: &&usize| ray_meets(p, ray, &self.corners[**t]);
            shell.triangles.iter().filter(meets).count() % 2 == 1
        };
        self.shells.iter().filter(|shell| shell.frame.near(&frame, 0.0)).any(|shell| {
            let [one, two] = [0, 1].map(|i| odd(shell, &V::from(RAYS[i])));
            if one == two { one } else { odd(shell, &V::from(RAYS[2])) }
        })
    }

    /// Least distance of a point from the triangles, mm.
    fn distance_to(&self, p: &P) -> f64 {
        let mut best = f64::INFINITY;
        let frame = Frame::of([p]);
        for (t, f) in self.corners.iter().zip(&self.frames) {
            if !frame.near(f, best * best) {
                continue;
            }
            best = best.min(point_triangle(p, t));
        }
        best
    }
}

/// Ways that no face of a part is likely to be square to or along.
const RAYS: [[f64; 3]; 3] =
    [[0.911, 0.253, 0.326], [-0.287, 0.873, -0.394], [0.171, -0.339, 0.925]];

fn shells(mesh: &Mesh, corners: &[[P; 3]]) -> Vec<Shell> {
    let mut group: Vec<usize> = (0..mesh.vertices.len()).collect();
    let leader = |group: &[usize], mut v: usize| {
        while group[v] != v {
            v = group[v];
        }
        v
    };
    for t in &mesh.triangles {
        let leaders = t.map(|v| leader(&group, v as usize));
        let first = leaders[0].min(leaders[1]).min(leaders[2]);
        for v in leaders.into_iter().chain(t.map(|v| v as usize)) {
            group[v] = first;
        }
    }
    let mut shells: Vec<(usize, Vec<usize>)> = Vec::new();
    for (i, t) in mesh.triangles.iter().enumerate() {
        let l = leader(&group, t[0] as usize);
        match shells.iter_mut().find(|s| s.0 == l) {
            Some(shell) => shell.1.push(i),
            None => shells.push((l, vec![i])),
        }
    }
    let shell = |(_, triangles): (usize, Vec<usize>)| Shell {
        frame: Frame::of(triangles.iter().flat_map(|t| &corners[*t])),
        triangles,
    };
    shells.into_iter().map(shell).collect()
}

/// Rounding of coordinates up to a metre and rays of 10 m, with room to spare, mm.
const ROUNDING: f64 = 1e-7;

/// What comparing all triangles found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Found {
    /// Surfaces cross, or one body is inside the other.
    Overlap,
    /// Apart, this far.
    Apart(f64),
    /// Apart, at least the cap.
    Beyond,
}

impl Found {
    /// Distance, zero for an overlap, infinite beyond the cap.
    pub fn distance(self) -> f64 {
        match self {
            Self::Overlap => 0.0,
            Self::Apart(d) => d,
            Self::Beyond => f64::INFINITY,
        }
    }
}

/// Compares two bodies as far as `cap`.
pub fn compare(a: &Heap, b: &Heap, cap: f64) -> Found {
    let cap = cap.max(0.0);
    if !a.whole.near(&b.whole, cap * cap) {
        return Found::Beyond;
    }
    let close = |own: &Heap, other: &Frame| -> Vec<usize> {
        (0..own.corners.len()).filter(|i| own.frames[*i].near(other, cap * cap)).collect()
    };
    let (of_a, of_b) = (close(a, &b.whole), close(b, &a.whole));
    let mut best = cap * cap;
    let mut found = Found::Beyond;
    for &i in &of_a {
        for &j in &of_b {
            if !a.frames[i].near(&b.frames[j], best) {
                continue;
            }
            if pierce(&a.corners[i], &b.corners[j]) {
                return Found::Overlap;
            }
            let d = triangles(&a.corners[i], &b.corners[j]);
            if d * d <= best {
                best = d * d;
                found = Found::Apart(d);
            }
        }
    }
    let inside = |outer: &Heap, inner: &Heap| {
        inner.shells.iter().any(|shell| outer.holds(&inner.corners[shell.triangles[0]][0]))
    };
    if inside(a, b) || inside(b, a) { Found::Overlap } else { found }
}

/// How deep the deepest corner of either body lies inside the other: less than the depth of the
/// overlap, and zero where only edges cross.
pub fn sunk(a: &Heap, b: &Heap) -> f64 {
    let deepest = |outer: &Heap, inner: &Heap| {
        inner.points().filter(|p| outer.holds(p)).map(|p| outer.distance_to(p)).fold(0.0, f64::max)
    };
    deepest(a, b).max(deepest(b, a))
}

fn triangles(p: &[P; 3], q: &[P; 3]) -> f64 {
    let mut best = f64::INFINITY;
    for i in 0..3 {
        best = best.min(point_face(&p[i], q)).min(point_face(&q[i], p));
        for j in 0..3 {
            best = best.min(segments(&p[i], &p[(i + 1) % 3], &q[j], &q[(j + 1) % 3]));
        }
    }
    best
}

/// Whether two triangles cross or come within `near` of each other.
pub(crate) fn reaches(p: &[P; 3], q: &[P; 3], near: f64) -> bool {
    pierce(p, q) || triangles(p, q) <= near
}

/// Distance between a point and a triangle, mm.
pub(crate) fn point_triangle(p: &P, t: &[P; 3]) -> f64 {
    (0..3).map(|i| point_segment(p, &t[i], &t[(i + 1) % 3])).fold(point_face(p, t), f64::min)
}

fn point_segment(p: &P, a: &P, b: &P) -> f64 {
    let along = b - a;
    let length = along.norm_squared();
    let t = if length > 0.0 { ((p - a).dot(&along) / length).clamp(0.0, 1.0) } else { 0.0 };
    (p - (a + along * t)).norm()
}

fn segments(a: &P, b: &P, c: &P, d: &P) -> f64 {
    let ends = point_segment(a, c, d)
        .min(point_segment(b, c, d))
        .min(point_segment(c, a, b))
        .min(point_segment(d, a, b));
    let (u, v, w) = (b - a, d - c, a - c);
    let (uu, uv, vv) = (u.dot(&u), u.dot(&v), v.dot(&v));
    let denominator = uu * vv - uv * uv;
    if denominator <= 1e-12 * uu * vv {
        return ends;
    }
    let s = (uv * v.dot(&w) - vv * u.dot(&w)) / denominator;
    let t = (uu * v.dot(&w) - uv * u.dot(&w)) / denominator;
    if (0.0..=1.0).contains(&s) && (0.0..=1.0).contains(&t) {
        ends.min((w + u * s - v * t).norm())
    } else {
        ends
    }
}

/// Distance from a point to the part of a triangle right under it; infinite where there is none.
fn point_face(p: &P, t: &[P; 3]) -> f64 {
    let n = (t[1] - t[0]).cross(&(t[2] - t[0]));
    let length = n.norm();
    if length == 0.0 {
        return f64::INFINITY;
    }
    let n = n / length;
    let over = (0..3).all(|i| n.dot(&(t[(i + 1) % 3] - t[i]).cross(&(p - t[i]))) >= 0.0);
    if over { n.dot(&(p - t[0])).abs() } else { f64::INFINITY }
}

/// Whether a segment goes through a triangle from one side to the other.
fn segment_meets(a: &P, b: &P, t: &[P; 3]) -> bool {
    let n = (t[1] - t[0]).cross(&(t[2] - t[0]));
    let (above, below) = (n.dot(&(a - t[0])), n.dot(&(b - t[0])));
    if above * below >= 0.0 {
        return false;
    }
    // Of a segment in the triangle's own plane the sides are rounding: then this is far off.
    let at = a + (b - a) * (above / (above - below));
    point_face(&at, t) < ROUNDING
}

/// Whether an edge of one triangle goes through the inside of the other.
fn pierce(p: &[P; 3], q: &[P; 3]) -> bool {
    (0..3).any(|i| {
        segment_meets(&p[i], &p[(i + 1) % 3], q) || segment_meets(&q[i], &q[(i + 1) % 3], p)
    })
}

fn ray_meets(from: &P, ray: &V, t: &[P; 3]) -> bool {
    segment_meets(from, &(from + ray * 1e4), t)
}

#[cfg(test)]
mod tests {
    use super::*;
    use solids::build::block;

    fn cube(at: [f64; 3]) -> Heap {
        let mesh = block(P::origin(), P::new(1.0, 1.0, 1.0)).unwrap();
        Heap::new(&mesh, &Place::as_drawn().moved(&V::from(at)))
    }

    #[test]
    fn cubes_apart_crossing_and_nested() {
        let still = cube([0.0; 3]);
        let apart = |at, d: f64| (compare(&still, &cube(at), 10.0).distance() - d).abs() < 1e-12;
        assert!(apart([3.0, 0.2, 0.1], 2.0));
        assert!(apart([2.0, 2.0, 0.3], 2.0_f64.sqrt()));
        assert!(apart([2.0, 2.0, 2.0], 3.0_f64.sqrt()));
        assert_eq!(compare(&still, &cube([12.0, 0.0, 0.0]), 10.0), Found::Beyond);
        assert_eq!(compare(&still, &cube([0.4, 0.3, 0.2]), 10.0), Found::Overlap);
        let mesh = block(P::new(0.4, 0.4, 0.4), P::new(0.6, 0.6, 0.6)).unwrap();
        let small = Heap::new(&mesh, &Place::as_drawn());
        assert_eq!(compare(&still, &small, 10.0), Found::Overlap);
        assert!((sunk(&still, &small) - 0.4).abs() < 1e-12);
    }
}
