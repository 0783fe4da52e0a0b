//! Where a part lies in what holds it.

use crate::geometry::Frame;
use nalgebra::{Matrix3, Point3, Vector3};
use solids::Mesh;

/// A turn, a shift, and where the file says so a uniform scale or a mirroring.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placement {
    /// The axes of the part in what holds it, as columns.
    pub linear: Matrix3<f64>,
    /// Where the part's origin lies, mm.
    pub offset: Vector3<f64>,
}

impl Default for Placement {
    fn default() -> Self {
        Self { linear: Matrix3::identity(), offset: Vector3::zeros() }
    }
}

impl Placement {
    /// What brings the frame `from` onto the frame `to`.
    pub(crate) fn between(from: &Frame, to: &Frame) -> Self {
        let axes = |f: &Frame| Matrix3::from_columns(&[f.x, f.y, f.z]);
        let linear = axes(to) * axes(from).transpose();
        Self { linear, offset: to.origin.coords - linear * from.origin.coords }
    }

    /// `self` after `inner`: `outer_from_middle.after(&middle_from_inner)`.
    #[must_use]
    pub fn after(&self, inner: &Self) -> Self {
        Self {
            linear: self.linear * inner.linear,
            offset: self.linear * inner.offset + self.offset,
        }
    }

    /// All its numbers, to tell equal ones by.
    pub(crate) fn bits(&self) -> [u64; 12] {
        let mut all = self.linear.iter().chain(self.offset.iter());
        [(); 12].map(|()| all.next().map_or(0, |x| x.to_bits()))
    }

    /// The other way around, where there is one.
    pub(crate) fn inverse(&self) -> Option<Self> {
        let linear = self.linear.try_inverse()?;
        Some(Self { linear, offset: -(linear * self.offset) })
    }

    /// Where a point of the part lies.
    pub fn of(&self, p: &Point3<f64>) -> Point3<f64> {
        Point3::from(self.linear * p.coords + self.offset)
    }

    /// Whether left and right change places.
    pub fn is_mirrored(&self) -> bool {
        self.linear.determinant() < 0.0
    }

    /// By how much lengths grow.
    pub fn scale(&self) -> f64 {
        self.linear.determinant().abs().cbrt()
    }

    /// A mesh where the part lies. Triangles of a mirrored one are turned, so that they are still wound
    /// counter-clockwise seen from outside.
    pub fn of_mesh(&self, mesh: &Mesh) -> Mesh {
        let turned = self.is_mirrored();
        let wind = |[a, b, c]: [u32; 3]| if turned { [a, c, b] } else { [a, b, c] };
        Mesh {
            vertices: mesh.vertices.iter().map(|p| self.of(p)).collect(),
            triangles: mesh.triangles.iter().map(|t| wind(*t)).collect(),
        }
    }
}
