//! What a ray meets: the item under a pointer, what stands between an eye and a mark.

use crate::cut::Plane;
use crate::list::{DisplayList, Item, Shown};
use nalgebra::{Isometry3, Point3, Vector3};
use solids::Mesh;

/// Triangles that follow each other and are passed by together where a box around them is.
const TOGETHER: usize = 64;
/// What a ray meets nearer than this is where it starts, mm.
const START: f64 = 1e-6;

/// What was picked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Picked {
    /// Index into [`DisplayList::items`].
    pub item: usize,
    /// Where on what is drawn of it, plate frame, mm: within [`DisplayList::drawn_within`] of its
    /// surface.
    pub point: Point3<f64>,
}

impl DisplayList<'_> {
    /// What a ray from a point meets first at a time of the installation, plate frame. What is hidden, a
    /// ghost or taken away by a section is not met.
    pub fn picked(
        &self,
        from: &Point3<f64>,
        toward: &Vector3<f64>,
        at: f64,
        section: Option<&Plane>,
    ) -> Option<Picked> {
        let toward = toward.try_normalize(0.0)?;
        let is_left = |p: &Point3<f64>| {
            section.is_none_or(|plane| plane.normal.dot(&(p - plane.point)) <= START)
        };
        let nearest = |(item, seen): (usize, &Item)| {
            let place = seen.place_at(at).filter(|_| seen.shown == Shown::Solid)?;
            let target = Target::new(self.meshes.get(seen.mesh)?, &place)?;
            let met = target.met(from, &toward).filter(|far| is_left(&(from + toward * *far)));
            met.reduce(f64::min).map(|far| (far, item))
        };
        let all = self.items.iter().enumerate().filter_map(nearest);
        let (far, item) = all.reduce(|a, b| if b.0 < a.0 { b } else { a })?;
        Some(Picked { item, point: from + toward * far })
    }
}

/// Least and greatest corner.
type Bounds = (Point3<f64>, Point3<f64>);

/// A mesh in its place, to be met by rays.
pub(crate) struct Target<'l> {
    mesh: &'l Mesh,
    place: Isometry3<f64>,
    bounds: Bounds,
    /// Of every [`TOGETHER`] triangles.
    boxes: Vec<Bounds>,
}

impl<'l> Target<'l> {
    /// `None` for a mesh without vertices.
    pub(crate) fn new(mesh: &'l Mesh, place: &Isometry3<f64>) -> Option<Self> {
        Some(Self { mesh, place: *place, bounds: mesh.bounds()?, boxes: boxes(mesh) })
    }

    /// How far a ray goes to where it meets it, mm, in the mesh's order; `side` is a unit vector.
    pub(crate) fn met(&self, from: &Point3<f64>, side: &Vector3<f64>) -> impl Iterator<Item = f64> {
        let from = self.place.inverse_transform_point(from);
        let side = self.place.inverse_transform_vector(side);
        let may = passes_box(&self.bounds, &from, &side);
        let boxes = self.boxes.iter().enumerate().filter(move |_| may);
        let near = boxes.filter(move |(_, bounds)| passes_box(bounds, &from, &side));
        let triangles = near.flat_map(|(number, _)| {
            let first = number * TOGETHER;
            first..self.mesh.triangles.len().min(first + TOGETHER)
        });
        triangles.filter_map(move |t| passes(&self.mesh.corners(t), &from, &side))
    }
}

/// The boxes around every [`TOGETHER`] triangles of a mesh.
fn boxes(mesh: &Mesh) -> Vec<Bounds> {
    let around = |some: &[[u32; 3]]| {
        let far = Point3::from(Vector3::repeat(f64::INFINITY));
        let points = some.iter().flatten().filter_map(|v| mesh.vertices.get(*v as usize));
        points.fold((far, -far), |(low, high), p| (low.inf(p), high.sup(p)))
    };
    mesh.triangles.chunks(TOGETHER).map(around).collect()
}

/// Whether a ray meets a box.
fn passes_box((low, high): &Bounds, from: &Point3<f64>, side: &Vector3<f64>) -> bool {
    let (mut enters, mut leaves) = (0.0_f64, f64::INFINITY);
    for axis in 0..3 {
        if side[axis] == 0.0 {
            if !(low[axis]..=high[axis]).contains(&from[axis]) {
                return false;
            }
            continue;
        }
        let [a, b] = [low[axis], high[axis]].map(|at| (at - from[axis]) / side[axis]);
        enters = enters.max(a.min(b));
        leaves = leaves.min(a.max(b));
    }
    enters <= leaves
}

/// How far a ray goes to a triangle that it passes from either side, by Möller and Trumbore's way.
fn passes([a, b, c]: &[Point3<f64>; 3], from: &Point3<f64>, side: &Vector3<f64>) -> Option<f64> {
    let (ab, ac) = (b - a, c - a);
    let p = side.cross(&ac);
    let scale = ab.dot(&p);
    if scale == 0.0 {
        return None;
    }
    let off = from - a;
    let u = off.dot(&p) / scale;
    let q = off.cross(&ab);
    let v = side.dot(&q) / scale;
    let far = ac.dot(&q) / scale;
    (u >= 0.0 && v >= 0.0 && u + v <= 1.0 && far > START).then_some(far)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ray_passes_a_triangle_in_front_of_it() {
        let corners = [[0.0, 0.0, 2.0], [3.0, 0.0, 2.0], [0.0, 3.0, 2.0]].map(Point3::from);
        let up = Vector3::z();
        assert_eq!(passes(&corners, &Point3::new(1.0, 1.0, 0.5), &up), Some(1.5));
        assert_eq!(passes(&corners, &Point3::new(2.0, 2.0, 0.0), &up), None, "beside it");
        assert_eq!(passes(&corners, &Point3::new(1.0, 1.0, 3.0), &up), None, "behind it");
        let bounds = (corners[0], Point3::new(3.0, 3.0, 2.0));
        assert!(passes_box(&bounds, &Point3::new(0.0, 1.0, 0.0), &up), "along its edge");
        assert!(!passes_box(&bounds, &Point3::new(1.0, 1.0, 3.0), &up));
        assert!(!passes_box(&bounds, &Point3::new(4.0, 1.0, 0.0), &up));
    }
}
