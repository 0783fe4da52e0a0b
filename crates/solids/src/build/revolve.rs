//! Bodies of revolution.

use super::{
    BuildError, ChordError, doubled_area, finite, frame_along, index, positive, simple, unit,
};
use crate::Mesh;
use nalgebra::{Point2, Point3};

/// Turns a closed profile about the z axis. Points are `(radius, z)` in mm, in either direction
/// round; edges on the axis bound nothing.
///
/// The mesh departs from the turned profile by at most the chord error.
///
/// # Errors
/// When the profile crosses itself, has no area or reaches across the axis.
pub fn revolve(profile: &[Point2<f64>], chord: ChordError) -> Result<Mesh, BuildError> {
    let turned = Turned::new(profile, chord)?;
    Ok(turned.mesh())
}

/// A checked profile, counter-clockwise in the (radius, z) plane, and the vertices of its turn.
struct Turned {
    profile: Vec<Point2<f64>>,
    /// Chords in a full turn.
    n: usize,
    vertices: Vec<Point3<f64>>,
    /// First vertex of each profile point's ring; a point on the axis has one vertex.
    rings: Vec<usize>,
}

impl Turned {
    fn new(profile: &[Point2<f64>], chord: ChordError) -> Result<Self, BuildError> {
        finite(profile.iter().flat_map(|p| [p.x, p.y]))?;
        if let Some(p) = profile.iter().find(|p| p.x < 0.0) {
            return Err(BuildError::AcrossAxis(p.x));
        }
        if !simple(&[profile]) {
            return Err(BuildError::BadOutline);
        }
        let mut profile = profile.to_vec();
        if doubled_area(&profile) < 0.0 {
            profile.reverse();
        }
        let n = chord.chords_in_circle(profile.iter().map(|p| p.x).fold(0.0, f64::max));
        let mut vertices = Vec::new();
        let rings = profile
            .iter()
            .map(|p| {
                let first = vertices.len();
                let ring = if p.x == 0.0 { 1 } else { n };
                vertices.extend((0..ring).map(|i| {
                    let at = p.x * unit(i, n);
                    Point3::new(at.x, at.y, p.y)
                }));
                first
            })
            .collect();
        Ok(Self { profile, n, vertices, rings })
    }

    /// The vertex of profile point `k` at column `i`.
    fn vertex(&self, k: usize, i: usize) -> usize {
        self.rings[k] + if self.profile[k].x == 0.0 { 0 } else { i % self.n }
    }

    /// The turned surface.
    fn mesh(self) -> Mesh {
        let mut triangles = Vec::new();
        for k in 0..self.profile.len() {
            let next = (k + 1) % self.profile.len();
            let (here, there) = (self.profile[k].x > 0.0, self.profile[next].x > 0.0);
            for i in 0..self.n {
                let (a, b) = (self.vertex(k, i), self.vertex(k, i + 1));
                let (c, d) = (self.vertex(next, i), self.vertex(next, i + 1));
                if here {
                    triangles.push([a, b, if there { d } else { c }].map(index));
                }
                if there {
                    triangles.push([a, d, c].map(index));
                }
            }
        }
        Mesh { vertices: self.vertices, triangles }
    }
}

/// A solid cylinder between the centres of its two flat faces.
///
/// # Errors
/// When the radius or the length is not greater than zero.
pub fn cylinder(
    from: Point3<f64>,
    to: Point3<f64>,
    radius: f64,
    chord: ChordError,
) -> Result<Mesh, BuildError> {
    finite(from.iter().chain(to.iter()).copied())?;
    let length = (to - from).norm();
    positive([radius, length])?;
    let upright = revolve(
        &[
            Point2::origin(),
            Point2::new(radius, 0.0),
            Point2::new(radius, length),
            Point2::new(0.0, length),
        ],
        chord,
    )?;
    Ok(upright.transformed(&frame_along(from, to)))
}
