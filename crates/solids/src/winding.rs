//! Generalised winding number.

use crate::Mesh;
use nalgebra::Point3;
use std::f64::consts::TAU;

/// How often a mesh winds around a point: the sum of the solid angles of its triangles over the
/// full sphere.
///
/// For a closed, outward-wound mesh it is 1 inside and 0 outside (2 where two shells overlap). For
/// an open mesh it is a fraction in between that says how far the point is surrounded. On the
/// surface itself it has no meaning. Every triangle is visited.
///
/// The solid angle of a triangle is that of A. van Oosterom and J. Strackee, "The Solid Angle of a
/// Plane Triangle", IEEE Trans. Biomed. Eng. 30 (1983).
pub fn winding_number(mesh: &Mesh, point: &Point3<f64>) -> f64 {
    let halves: f64 = (0..mesh.triangles.len())
        .map(|t| {
            let [a, b, c] = mesh.corners(t).map(|p| p - point);
            let (la, lb, lc) = (a.norm(), b.norm(), c.norm());
            let over = a.dot(&b.cross(&c));
            let under = la * lb * lc + a.dot(&b) * lc + b.dot(&c) * la + c.dot(&a) * lb;
            over.atan2(under)
        })
        .sum();
    // Each atan2 is half of a solid angle; the sphere has 4 pi.
    halves / TAU
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::build::block;

    #[test]
    fn counts_the_shells_around_a_point() {
        let cube = |r: f64| block(Point3::new(-r, -r, -r), Point3::new(r, r, r)).unwrap();
        let mut mesh = cube(1.0);
        mesh.append(&cube(2.0));
        for (x, shells) in [(0.3, 2.0), (0.999_999, 2.0), (1.5, 1.0), (2.000_001, 0.0), (40.0, 0.0)]
        {
            let w = winding_number(&mesh, &Point3::new(x, 0.1, -0.2));
            assert!((w - shells).abs() < 1e-9, "{x}: {w}");
        }
    }

    #[test]
    fn an_open_cube_surrounds_its_middle_by_five_sixths() {
        let mut mesh = block(Point3::new(-1.0, -1.0, -1.0), Point3::new(1.0, 1.0, 1.0)).unwrap();
        mesh.triangles.retain(|t| t.iter().any(|v| mesh.vertices[*v as usize].z < 0.0));
        assert_eq!(mesh.triangles.len(), 10);
        let w = winding_number(&mesh, &Point3::origin());
        assert!((w - 5.0 / 6.0).abs() < 1e-12, "{w}");
    }
}
