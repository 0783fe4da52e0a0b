//! The plate's surface near its sealing face, ready to be asked for what lies under a gasket.

use super::polygon::{Plane, area, clip, cross, reach, without};
use nalgebra::{Point2, Point3, Vector3};
use solids::Mesh;

/// What lies farther than this above or below the sealing face is no part of the land, mm: far
/// above a gasket's thickness, so that what is higher is met by the cup as well, whose gaps are
/// exact.
pub(super) const WINDOW: f64 = 40.0;

/// A triangle of the plate, its corners counter-clockwise seen from above.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Face {
    pub(super) corners: [Point3<f64>; 3],
    /// Whether it may be seen from above.
    pub(super) upper: bool,
}

/// The plate's triangles near its sealing face, in square cells seen from above. Upright triangles,
/// which have no width seen from above, are left out.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Top {
    faces: Vec<Face>,
    /// Whether the plate's mesh is closed: where nothing is seen there is nothing.
    pub(super) closed: bool,
    low: Point2<f64>,
    side: f64,
    count: [usize; 2],
    /// Where each cell's faces begin in `members`.
    starts: Vec<u32>,
    members: Vec<u32>,
}

impl Top {
    /// Sorts a plate's triangles. `closed` tells whether the mesh bounds a volume; the triangles of
    /// one that does are seen from above where they face up, of others from both sides.
    pub(crate) fn of(mesh: &Mesh, closed: bool) -> Self {
        let outward = |normal: f64, sign: f64| !closed || normal * sign > 0.0;
        let sign = if closed && solids::volume(mesh) < 0.0 { -1.0 } else { 1.0 };
        let corner = |v: u32| mesh.vertices.get(v as usize).copied();
        let faces: Vec<Face> = mesh
            .triangles
            .iter()
            .filter_map(|t| {
                let corners = [corner(t[0])?, corner(t[1])?, corner(t[2])?];
                let double = 2.0 * area(&corners);
                let near =
                    corners.iter().any(|p| p.z >= -WINDOW) && corners.iter().any(|p| p.z <= WINDOW);
                // Not-a-number is neither above nor below.
                (near && double != 0.0 && double.is_finite()).then(|| {
                    let [a, b, c] = corners;
                    let corners = if double > 0.0 { [a, b, c] } else { [a, c, b] };
                    Face { corners, upper: outward(double, sign) }
                })
            })
            .collect();
        Self::sorted(faces, closed)
    }

    fn sorted(faces: Vec<Face>, closed: bool) -> Self {
        /// Cells along each side at most.
        const MOST: f64 = 128.0;
        let all = || faces.iter().flat_map(|f| f.corners).map(|p| p.xy());
        let low = all().fold(Point2::new(f64::MAX, f64::MAX), |low, p| low.inf(&p));
        let high = all().fold(Point2::new(f64::MIN, f64::MIN), |high, p| high.sup(&p));
        let extent = if faces.is_empty() { [0.0; 2] } else { [high.x - low.x, high.y - low.y] };
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
        let along = (0.5 * (faces.len() as f64).sqrt()).clamp(1.0, MOST) as usize;
        let side = (extent[0].max(extent[1]) / along as f64).max(1e-3);
        let mut top = Self {
            faces: Vec::new(),
            closed,
            low,
            side,
            count: [along + 1; 2],
            starts: Vec::new(),
            members: Vec::new(),
        };
        let mut entries: Vec<(u32, u32)> = Vec::with_capacity(2 * faces.len());
        for (number, face) in (0_u32..).zip(&faces) {
            let [a, b, c] = face.corners.map(|p| p.xy());
            for cell in top.cells(a.inf(&b).inf(&c), a.sup(&b).sup(&c)) {
                entries.push((cell, number));
            }
        }
        entries.sort_unstable();
        let cells = top.count[0] * top.count[1];
        top.starts = (0..=cells)
            .map(|cell| {
                let before = entries.partition_point(|e| (e.0 as usize) < cell);
                u32::try_from(before).unwrap_or(u32::MAX)
            })
            .collect();
        top.members = entries.into_iter().map(|e| e.1).collect();
        top.faces = faces;
        top
    }

    /// The cells that a box meets.
    fn cells(&self, low: Point2<f64>, high: Point2<f64>) -> impl Iterator<Item = u32> + use<> {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
        let index = |at: f64, axis: usize| {
            let last = (self.count[axis] - 1) as f64;
            ((at - self.low[axis]) / self.side).clamp(0.0, last) as usize
        };
        let (x, y) = (index(low.x, 0)..=index(high.x, 0), index(low.y, 1)..=index(high.y, 1));
        let width = self.count[0];
        y.flat_map(move |j| x.clone().map(move |i| u32::try_from(j * width + i).unwrap_or(0)))
    }

    /// The triangles that come between two distances of an upright axis, moved so that the axis is
    /// the origin of the plan, in the mesh's order.
    pub(super) fn about(&self, axis: Point2<f64>, inner: f64, outer: f64) -> Vec<Face> {
        let mut found: Vec<u32> = self
            .cells(axis.map(|c| c - outer), axis.map(|c| c + outer))
            .flat_map(|cell| {
                let at = |i: usize| self.starts.get(i).map_or(0, |s| *s as usize);
                self.members.get(at(cell as usize)..at(cell as usize + 1)).unwrap_or_default()
            })
            .copied()
            .collect();
        found.sort_unstable();
        found.dedup();
        let by = Vector3::new(axis.x, axis.y, 0.0);
        found
            .into_iter()
            .filter_map(|i| self.faces.get(i as usize))
            .map(|face| Face { corners: face.corners.map(|p| p - by), ..*face })
            .filter(|face| {
                let (near, far) = reach(&face.corners);
                near <= outer && far >= inner
            })
            .collect()
    }
}

/// What is seen from above of some triangles, within the window: convex pieces without what lies
/// under another piece.
pub(super) fn seen(faces: &[Face]) -> Vec<Vec<Point3<f64>>> {
    /// What is lower than another by less than this lies on it, mm.
    const ON: f64 = 1e-6;
    let mut upper: Vec<(Bounds, Vec<Point3<f64>>)> = faces
        .iter()
        .filter(|face| face.upper)
        .map(|face| {
            if face.corners.iter().all(|p| p.z.abs() <= WINDOW) {
                return face.corners.to_vec();
            }
            let high = clip(&face.corners, |p| p.z + WINDOW);
            clip(&high, |p| WINDOW - p.z)
        })
        .filter(|piece| !piece.is_empty())
        .map(|piece| (Bounds::of(&piece), piece))
        .collect();
    upper.sort_by(|a, b| a.0.low.x.total_cmp(&b.0.low.x));
    let mut over: Vec<Vec<usize>> = vec![Vec::new(); upper.len()];
    for (i, (own, _)) in upper.iter().enumerate() {
        for (j, (other, _)) in upper.iter().enumerate().skip(i + 1) {
            if other.low.x >= own.high.x {
                break;
            }
            if own.low.y < other.high.y && other.low.y < own.high.y {
                if other.high.z > own.low.z + ON {
                    over[i].push(j);
                }
                if own.high.z > other.low.z + ON {
                    over[j].push(i);
                }
            }
        }
    }
    let mut all = Vec::with_capacity(upper.len());
    for ((_, piece), above) in upper.iter().zip(&over) {
        let mut pieces = vec![piece.clone()];
        for (_, other) in above.iter().filter_map(|j| upper.get(*j)) {
            if apart(piece, other) || apart(other, piece) {
                continue;
            }
            let Some(plane) = Plane::of(piece) else { continue };
            // Linear over the other piece: how far it stands above this one.
            let hidden = clip(other, |p| plane.height(p) - ON);
            if area(&hidden) > 1e-9 {
                pieces = without(pieces, &hidden);
            }
        }
        all.extend(pieces);
    }
    all
}

/// Whether an edge of one polygon has all of another on its far side.
fn apart(polygon: &[Point3<f64>], other: &[Point3<f64>]) -> bool {
    super::polygon::edges(polygon).any(|(p, q)| {
        let way = q.xy() - p.xy();
        other.iter().all(|at| cross(way, at.xy() - p.xy()) <= 1e-9)
    })
}

struct Bounds {
    low: Point3<f64>,
    high: Point3<f64>,
}

impl Bounds {
    fn of(piece: &[Point3<f64>]) -> Self {
        let start = Self {
            low: Point3::new(f64::MAX, f64::MAX, f64::MAX),
            high: Point3::new(f64::MIN, f64::MIN, f64::MIN),
        };
        piece.iter().fold(start, |b, p| Self { low: b.low.inf(p), high: b.high.sup(p) })
    }
}
