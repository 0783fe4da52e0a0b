//! Triangles with their normals and areas.

use nalgebra::{Point3, Vector3};
use solids::Mesh;

/// A triangle that has an area.
#[derive(Debug, Clone)]
pub(crate) struct Face {
    pub(crate) corners: [Point3<f64>; 3],
    /// Unit length, outward for an outward-wound mesh.
    pub(crate) normal: Vector3<f64>,
    /// mm2.
    pub(crate) area: f64,
}

impl Face {
    pub(crate) fn middle(&self) -> Point3<f64> {
        let [a, b, c] = self.corners;
        Point3::from((a.coords + b.coords + c.coords) / 3.0)
    }

    /// The middles of its sides: with a third of the area each they have the triangle's own moments
    /// up to the second.
    pub(crate) fn mids(&self) -> [Point3<f64>; 3] {
        let [a, b, c] = self.corners;
        [nalgebra::center(&a, &b), nalgebra::center(&b, &c), nalgebra::center(&c, &a)]
    }

    /// Lowest and highest z.
    pub(crate) fn heights(&self) -> (f64, f64) {
        let [a, b, c] = self.corners;
        (a.z.min(b.z).min(c.z), a.z.max(b.z).max(c.z))
    }

    /// Whether it stands upright: its normal is level within some `slope` (the sine).
    pub(crate) fn is_upright(&self, slope: f64) -> bool {
        self.normal.z.abs() <= slope
    }
}

/// The triangles of a mesh that have an area.
pub(crate) fn faces(mesh: &Mesh) -> Vec<Face> {
    (0..mesh.triangles.len())
        .filter_map(|index| {
            let corners = mesh.corners(index);
            let [a, b, c] = corners;
            let cross = (b - a).cross(&(c - a));
            let twice = cross.norm();
            (twice > 0.0).then(|| Face { corners, normal: cross / twice, area: 0.5 * twice })
        })
        .collect()
}
