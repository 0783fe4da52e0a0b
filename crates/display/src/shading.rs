//! Triangles as something that is lit takes them: with normals, round where the body is round and
//! sharp at its edges.

use nalgebra::{Point3, Vector3};
use solids::Mesh;
use std::collections::HashMap;

/// Faces that meet at less than this are one surface to the eye, degrees. Our choice.
const CREASE: f64 = 40.0;

/// A body to be lit, in its own frame, mm. Single precision: nothing is measured on it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Surface {
    /// Corners; one point has several where edges meet in it.
    pub positions: Vec<[f32; 3]>,
    /// The unit normal at each corner.
    pub normals: Vec<[f32; 3]>,
    /// Three corners for each triangle, counter-clockwise seen from outside.
    pub triangles: Vec<[u32; 3]>,
}

/// Makes a surface of a mesh. Triangles without an area are left out: they have no outside.
pub fn surface(mesh: &Mesh) -> Surface {
    let crease = CREASE.to_radians().cos();
    // Each triangle's normal as long as twice its area, and what meets in each vertex.
    let mut areas: Vec<Option<Vector3<f64>>> = Vec::with_capacity(mesh.triangles.len());
    let mut at_vertex: HashMap<[u64; 3], Vec<usize>> = HashMap::new();
    for index in 0..mesh.triangles.len() {
        let [a, b, c] = mesh.corners(index);
        let area = (b - a).cross(&(c - a));
        let has_area = area.norm() > 0.0 && area.iter().all(|x| x.is_finite());
        areas.push(has_area.then_some(area));
        for corner in has_area.then_some([a, b, c]).into_iter().flatten() {
            at_vertex.entry(bits(&corner)).or_default().push(index);
        }
    }
    let mut surface = Surface::default();
    let mut known: HashMap<([u32; 3], [u32; 3]), u32> = HashMap::new();
    for (index, area) in areas.iter().enumerate() {
        let Some(area) = area else { continue };
        let corners = mesh.corners(index).map(|corner| {
            let meeting = at_vertex.get(&bits(&corner)).map(Vec::as_slice).unwrap_or_default();
            let alike = meeting
                .iter()
                .filter_map(|i| (*areas.get(*i)?).as_ref())
                .filter(|other| other.dot(area) >= crease * other.norm() * area.norm());
            let sum: Vector3<f64> = alike.sum();
            let normal = sum.try_normalize(0.0).unwrap_or_else(|| area.normalize());
            let (position, normal) = (single(&corner.coords), single(&normal));
            let key = (position.map(f32::to_bits), normal.map(f32::to_bits));
            *known.entry(key).or_insert_with(|| {
                surface.positions.push(position);
                surface.normals.push(normal);
                u32::try_from(surface.positions.len() - 1).unwrap_or(u32::MAX)
            })
        });
        surface.triangles.push(corners);
    }
    surface
}

/// A point as a key: equal for equal coordinates, whatever the sign of zero.
fn bits(point: &Point3<f64>) -> [u64; 3] {
    [point.x, point.y, point.z].map(|x| (x + 0.0).to_bits())
}

#[expect(clippy::cast_possible_truncation, reason = "for the eye only")]
fn single(v: &Vector3<f64>) -> [f32; 3] {
    [v.x, v.y, v.z].map(|x| x as f32 + 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use solids::build::{ChordError, block, cylinder};

    #[test]
    fn a_block_has_sharp_edges() {
        let low = Point3::new(-1.0, -2.0, -3.0);
        let seen = surface(&block(low, Point3::from(-low.coords)).unwrap());
        // Six faces of four corners, each with the normal of its face.
        assert_eq!((seen.positions.len(), seen.triangles.len()), (24, 12));
        for (p, n) in seen.positions.iter().zip(&seen.normals) {
            let axis = n.iter().position(|x| x.abs() > 0.5).unwrap();
            assert!((n[axis].abs() - 1.0).abs() < 1e-6 && n[axis].signum() == p[axis].signum());
        }
    }

    #[test]
    fn a_cylinder_is_round_about_and_sharp_at_its_ends() {
        let chord = ChordError::from_mm(0.02).unwrap();
        let mesh = cylinder(Point3::origin(), Point3::new(0.0, 0.0, 9.0), 5.0, chord).unwrap();
        let seen = surface(&mesh);
        for (p, n) in seen.positions.iter().zip(&seen.normals) {
            let out = p[0].hypot(p[1]);
            if n[2].abs() < 0.5 && out > 1.0 {
                let along = (p[0] * n[0] + p[1] * n[1]) / out;
                assert!(n[2].abs() < 1e-6 && along > 0.999, "{p:?} {n:?}");
            } else {
                assert!((n[2].abs() - 1.0).abs() < 1e-6, "{p:?} {n:?}");
            }
        }
    }

    #[test]
    fn triangles_without_an_area_are_left_out() {
        let mut mesh = block(Point3::origin(), Point3::new(1.0, 1.0, 1.0)).unwrap();
        let first = mesh.triangles[0];
        mesh.triangles.push([first[0], first[0], first[1]]);
        assert_eq!(surface(&mesh).triangles.len(), 12);
    }
}
