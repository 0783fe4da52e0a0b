//! Volume and area.

use crate::{Mesh, soundness};
use nalgebra::Point3;

/// Volume enclosed, mm^3, positive when triangles are wound counter-clockwise seen from outside.
/// Shells that overlap count twice. Meaningless for an open mesh.
pub fn volume(mesh: &Mesh) -> f64 {
    let about = middle(mesh);
    let six: f64 = corners(mesh)
        .map(|[a, b, c]| {
            let (a, b, c) = (a - about, b - about, c - about);
            a.dot(&b.cross(&c))
        })
        .sum();
    six / 6.0
}

/// Whether a closed mesh's triangles face inward: its outside is taken for solid. False for an open mesh.
pub fn is_inside_out(mesh: &Mesh) -> bool {
    // Telling whether it is closed is far dearer.
    volume(mesh) < 0.0 && soundness(mesh).is_closed()
}

/// Surface area, mm^2.
pub fn area(mesh: &Mesh) -> f64 {
    corners(mesh).map(|[a, b, c]| 0.5 * (b - a).cross(&(c - a)).norm()).sum()
}

fn middle(mesh: &Mesh) -> Point3<f64> {
    mesh.bounds().map_or_else(Point3::origin, |(lo, hi)| nalgebra::center(&lo, &hi))
}

fn corners(mesh: &Mesh) -> impl Iterator<Item = [Point3<f64>; 3]> + '_ {
    (0..mesh.triangles.len()).map(|t| mesh.corners(t))
}
