//! Plane sections.

use crate::Mesh;
use nalgebra::{Point3, Unit, Vector3};
use std::collections::BTreeMap;

/// A chain of points in space, mm.
#[derive(Debug, Clone, PartialEq)]
pub struct Polyline {
    /// The points, in order; a closed line does not repeat its first point.
    pub points: Vec<Point3<f64>>,
    /// Whether the last point joins the first.
    pub closed: bool,
}

/// The lines in which a plane cuts a mesh.
///
/// Vertices on the plane count as just above it, so that a closed mesh always gives closed lines;
/// a face that lies in the plane gives its outline when the body is below it and nothing when the
/// body is above it. Seen from the tip of the normal, lines of an outward-wound mesh run
/// counter-clockwise round the material.
pub fn section(mesh: &Mesh, on_plane: &Point3<f64>, normal: &Unit<Vector3<f64>>) -> Vec<Polyline> {
    let height: Vec<f64> = mesh.vertices.iter().map(|p| normal.dot(&(p - on_plane))).collect();
    let above = |v: u32| height[v as usize] >= 0.0;
    // From the edge through which a triangle's piece enters to the edge through which it leaves;
    // an edge is named by its lower vertex index first.
    let name = |a: u32, b: u32| (a.min(b), a.max(b));
    let mut pieces: BTreeMap<(u32, u32), Vec<(u32, u32)>> = BTreeMap::new();
    let mut entered: BTreeMap<(u32, u32), usize> = BTreeMap::new();
    for t in &mesh.triangles {
        let sides = [(t[0], t[1]), (t[1], t[2]), (t[2], t[0])];
        let up = sides.iter().find(|(a, b)| !above(*a) && above(*b));
        let down = sides.iter().find(|(a, b)| above(*a) && !above(*b));
        if let (Some(up), Some(down)) = (up, down) {
            let (from, to) = (name(down.0, down.1), name(up.0, up.1));
            pieces.entry(from).or_default().push(to);
            *entered.entry(to).or_default() += 1;
        }
    }
    let at = |(a, b): (u32, u32)| {
        let (ha, hb) = (height[a as usize], height[b as usize]);
        let (pa, pb) = (mesh.vertices[a as usize], mesh.vertices[b as usize]);
        pa + (pb - pa) * (ha / (ha - hb))
    };
    let mut lines = Vec::new();
    // Open lines first, from edges that nothing leads to; then the closed ones.
    let loose: Vec<_> = pieces.keys().copied().filter(|k| !entered.contains_key(k)).collect();
    let all: Vec<_> = pieces.keys().copied().collect();
    for start in loose.into_iter().chain(all) {
        while let Some(first) = pieces.get_mut(&start).and_then(Vec::pop) {
            let mut points = vec![at(start)];
            let mut here = first;
            while here != start {
                points.push(at(here));
                match pieces.get_mut(&here).and_then(Vec::pop) {
                    Some(next) => here = next,
                    None => break,
                }
            }
            lines.push(Polyline { points, closed: here == start });
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::build::{ChordError, block, revolve};
    use nalgebra::Point2;

    /// Twice the signed area seen from the tip of +z.
    fn doubled_area(line: &Polyline) -> f64 {
        let n = line.points.len();
        (0..n)
            .map(|i| {
                let (a, b) = (line.points[i], line.points[(i + 1) % n]);
                a.x * b.y - a.y * b.x
            })
            .sum()
    }

    #[test]
    fn a_pipe_gives_a_ring_and_its_hole() {
        let p = Point2::new;
        let chord = ChordError::from_mm(0.01).unwrap();
        let pipe = revolve(&[p(3.0, 0.0), p(5.0, 0.0), p(5.0, 9.0), p(3.0, 9.0)], chord).unwrap();
        let lines = section(&pipe, &Point3::new(0.0, 0.0, 4.0), &Vector3::z_axis());
        assert!(lines.iter().all(|l| l.closed));
        let mut areas: Vec<f64> = lines.iter().map(|l| 0.5 * doubled_area(l)).collect();
        areas.sort_by(f64::total_cmp);
        let pi = std::f64::consts::PI;
        assert_eq!(areas.len(), 2);
        assert!((areas[0] + 9.0 * pi).abs() < 0.2, "the hole runs clockwise: {}", areas[0]);
        assert!((areas[1] - 25.0 * pi).abs() < 0.3, "{}", areas[1]);
    }

    #[test]
    fn planes_through_faces_and_corners_give_closed_lines() {
        let cube = block(Point3::origin(), Point3::new(2.0, 2.0, 2.0)).unwrap();
        let outline = section(&cube, &Point3::new(0.0, 0.0, 2.0), &Vector3::z_axis());
        assert_eq!(outline.len(), 1);
        assert!((doubled_area(&outline[0]) - 8.0).abs() < 1e-12);
        assert!(section(&cube, &Point3::origin(), &Vector3::z_axis()).is_empty());
        let diagonal = Unit::new_normalize(Vector3::new(1.0, -1.0, 0.0));
        let lines = section(&cube, &Point3::origin(), &diagonal);
        assert!(!lines.is_empty() && lines.iter().all(|l| l.closed));
    }

    #[test]
    fn an_open_mesh_gives_open_lines() {
        let mut cube = block(Point3::origin(), Point3::new(2.0, 2.0, 2.0)).unwrap();
        // Without the face x = 2.
        cube.triangles.retain(|t| t.iter().any(|v| cube.vertices[*v as usize].x < 1.0));
        let lines = section(&cube, &Point3::new(0.0, 0.0, 1.0), &Vector3::z_axis());
        assert_eq!(lines.len(), 1);
        assert!(!lines[0].closed);
        let ends = [lines[0].points[0], lines[0].points[lines[0].points.len() - 1]];
        assert!(ends.iter().all(|p| (p.x - 2.0).abs() < 1e-12));
    }
}
