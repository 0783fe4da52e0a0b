//! The body types.

use nalgebra::{Isometry3, Point3};

/// Triangles over shared vertices, in millimetres. Triangles of a closed shell are wound
/// counter-clockwise seen from outside.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Mesh {
    /// Vertex positions.
    pub vertices: Vec<Point3<f64>>,
    /// Three vertex indices each.
    pub triangles: Vec<[u32; 3]>,
}

impl Mesh {
    /// The corner points of triangle `index`.
    pub fn corners(&self, index: usize) -> [Point3<f64>; 3] {
        self.triangles[index].map(|v| self.vertices[v as usize])
    }

    /// Adds the triangles of `other`, as further shells.
    pub fn append(&mut self, other: &Self) {
        let base = u32::try_from(self.vertices.len()).unwrap_or(u32::MAX);
        self.vertices.extend_from_slice(&other.vertices);
        // A corner that is not there stays one that is not there.
        let moved = |v: u32| v.saturating_add(base);
        self.triangles.extend(other.triangles.iter().map(|t| t.map(moved)));
    }

    /// The mesh moved by `to_from_here`.
    #[must_use]
    pub fn transformed(&self, to_from_here: &Isometry3<f64>) -> Self {
        Self {
            vertices: self.vertices.iter().map(|p| to_from_here * p).collect(),
            triangles: self.triangles.clone(),
        }
    }

    /// Least and greatest corner of the axis-aligned box, or `None` without vertices.
    pub fn bounds(&self) -> Option<(Point3<f64>, Point3<f64>)> {
        let first = *self.vertices.first()?;
        Some(self.vertices.iter().fold((first, first), |(lo, hi), p| (lo.inf(p), hi.sup(p))))
    }
}

/// A bound on how far a mesh may be from the true surface, with what it rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct Deviation {
    /// Millimetres, `>= 0`. The true surface lies within this distance of the mesh and the mesh
    /// within this distance of the true surface.
    pub bound: f64,
    /// What the bound rests on: tessellation, scanner, manufacture.
    pub basis: String,
}

/// A named mesh with its deviation.
#[derive(Debug, Clone, PartialEq)]
pub struct Body {
    /// Name for people.
    pub name: String,
    /// The triangles.
    pub mesh: Mesh,
    /// How far they may be from the truth.
    pub deviation: Deviation,
}
