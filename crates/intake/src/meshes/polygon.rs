//! Polygons into triangles.

use nalgebra::{Point2, Point3, Vector3};
use spade::{ConstrainedDelaunayTriangulation, Triangulation as _};
use std::collections::HashMap;
use std::collections::hash_map::Entry;

/// Cuts a polygon into triangles between its corners, wound as it is, each as three positions in
/// `corners`. It need be neither convex nor quite flat; edges that are run along twice, as those that lead
/// to a hole, are no edges of it. `None` when it crosses or touches itself elsewhere, so that its inside is
/// not known.
///
/// Seen along the axis that its normal is nearest to, its coordinates are taken as they are, and every turn
/// is decided exactly.
pub(crate) fn triangles(corners: &[Point3<f64>]) -> Option<Vec<[usize; 3]>> {
    let fan = || (2..corners.len()).map(|i| [0, i - 1, i]).collect::<Vec<_>>();
    if corners.len() <= 3 {
        return (corners.len() == 3).then(fan);
    }
    let normal = newell(corners);
    if normal.iter().all(|c| *c == 0.0) {
        // Without area whichever way it is cut.
        return Some(fan());
    }
    let flat = flattened(corners, &normal);
    if is_convex(&flat) {
        return Some(fan());
    }
    cut(corners, &flat)
}

/// Twice the polygon's area, along its normal (Newell's sum).
fn newell(corners: &[Point3<f64>]) -> Vector3<f64> {
    let about = corners.first().copied().unwrap_or_default();
    let next = corners.iter().cycle().skip(1);
    corners.iter().zip(next).map(|(a, b)| (a - about).cross(&(b - about))).sum()
}

/// The corners without the coordinate in which the normal is greatest, counter-clockwise.
fn flattened(corners: &[Point3<f64>], normal: &Vector3<f64>) -> Vec<Point2<f64>> {
    let axis = normal.iamax();
    let (u, v) = if normal[axis] > 0.0 {
        ((axis + 1) % 3, (axis + 2) % 3)
    } else {
        ((axis + 2) % 3, (axis + 1) % 3)
    };
    corners.iter().map(|p| Point2::new(p[u], p[v])).collect()
}

/// Positive where the three points turn left.
fn turn(a: &Point2<f64>, b: &Point2<f64>, c: &Point2<f64>) -> f64 {
    let coord = |p: &Point2<f64>| robust::Coord { x: p.x, y: p.y };
    robust::orient2d(coord(a), coord(b), coord(c))
}

/// Whether the polygon turns left only, and but once around.
fn is_convex(flat: &[Point2<f64>]) -> bool {
    let (Some(first), len) = (flat.first(), flat.len()) else { return false };
    let at = |i: usize| flat.get(i % len).unwrap_or(first);
    (0..len).all(|i| turn(at(i), at(i + 1), at(i + 2)) >= 0.0)
        && (1..len - 1).all(|i| turn(first, at(i), at(i + 1)) >= 0.0)
}

fn cut(corners: &[Point3<f64>], flat: &[Point2<f64>]) -> Option<Vec<[usize; 3]>> {
    let mut net = ConstrainedDelaunayTriangulation::<spade::Point2<f64>>::new();
    // For each corner its vertex in the net, for each vertex the first corner there.
    let mut handles = Vec::with_capacity(flat.len());
    let mut firsts: Vec<usize> = Vec::new();
    for (i, p) in flat.iter().enumerate() {
        // Nearer to zero than spade takes.
        let plain = |c: f64| if c.abs() < spade::MIN_ALLOWED_VALUE { 0.0 } else { c };
        let handle = net.insert(spade::Point2::new(plain(p.x), plain(p.y))).ok()?;
        if handle.index() == firsts.len() {
            firsts.push(i);
        } else if corners.get(*firsts.get(handle.index())?) != corners.get(i) {
            return None;
        }
        handles.push(handle);
    }
    // How often each edge is run along.
    let mut runs: HashMap<[usize; 2], u32> = HashMap::new();
    for (a, b) in handles.iter().zip(handles.iter().cycle().skip(1)) {
        if a == b {
            continue;
        }
        if !net.can_add_constraint(*a, *b) {
            return None;
        }
        net.add_constraint(*a, *b);
        // Where a corner lies on it, the edge is in pieces.
        net.get_edge_from_neighbors(*a, *b)?;
        let mut key = [a.index(), b.index()];
        key.sort_unstable();
        *runs.entry(key).or_default() += 1;
    }
    // From outside inward: an edge that is run along an odd number of times leads in or out.
    let mut inside: HashMap<usize, bool> = HashMap::new();
    let outer = net.outer_face();
    inside.insert(outer.fix().index(), false);
    let mut todo = vec![outer];
    while let Some(face) = todo.pop() {
        let is_in = inside.get(&face.fix().index()) == Some(&true);
        let edges: Vec<_> = match face.as_inner() {
            Some(face) => face.adjacent_edges().to_vec(),
            None => net.convex_hull().collect(),
        };
        for edge in edges {
            let mut key = [edge.from().fix().index(), edge.to().fix().index()];
            key.sort_unstable();
            let crossed = runs.get(&key).is_some_and(|runs| runs % 2 == 1);
            for other in [edge.face(), edge.rev().face()] {
                if let Entry::Vacant(free) = inside.entry(other.fix().index()) {
                    free.insert(is_in != crossed);
                    todo.push(other);
                }
            }
        }
    }
    let mut out = Vec::with_capacity(flat.len());
    for face in net.inner_faces() {
        if inside.get(&face.fix().index()) == Some(&true) {
            let [a, b, c] = face.vertices().map(|v| firsts.get(v.fix().index()).copied());
            out.push([a?, b?, c?]);
        }
    }
    // Where it winds around a place twice, the triangles are not its area.
    let area = |t: &[usize; 3]| {
        let [a, b, c] = t.map(|i| flat.get(i).copied().unwrap_or_default());
        (b - a).perp(&(c - a))
    };
    let sum: f64 = out.iter().map(area).sum();
    let whole: f64 = {
        let first = flat.first().copied().unwrap_or_default();
        flat.windows(2).map(|w| (w[0] - first).perp(&(w[1] - first))).sum()
    };
    ((sum - whole).abs() <= 1e-9 * sum.abs().max(whole.abs())).then_some(out)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn area(corners: &[Point3<f64>], triangles: &[[usize; 3]]) -> Vector3<f64> {
        let of = |t: &[usize; 3]| {
            let [a, b, c] = t.map(|i| corners[i]);
            (b - a).cross(&(c - a))
        };
        triangles.iter().map(of).sum()
    }

    fn flat(points: &[[f64; 2]]) -> Vec<Point3<f64>> {
        points.iter().map(|p| Point3::new(p[0], p[1], 0.0)).collect()
    }

    #[test]
    fn a_dart_is_cut_from_its_inner_corner() {
        // A fan from the first corner would lie outside.
        let dart = flat(&[[2.0, 0.0], [0.0, 2.0], [0.4, 0.0], [0.0, -2.0]]);
        let cut = triangles(&dart).unwrap();
        assert_eq!(cut.len(), 2);
        assert!(cut.iter().all(|t| area(&dart, &[*t]).z > 0.0), "{cut:?}");
        // The same from below.
        let below: Vec<_> = dart.iter().rev().copied().collect();
        let cut = triangles(&below).unwrap();
        assert!(cut.iter().all(|t| area(&below, &[*t]).z < 0.0), "{cut:?}");
    }

    #[test]
    fn a_square_ring_led_into_by_an_edge_run_along_twice() {
        let ring = flat(&[
            [0.0, 0.0],
            [4.0, 0.0],
            [4.0, 4.0],
            [0.0, 4.0],
            [0.0, 0.0],
            [1.0, 1.0],
            [1.0, 3.0],
            [3.0, 3.0],
            [3.0, 1.0],
            [1.0, 1.0],
        ]);
        let cut = triangles(&ring).unwrap();
        assert!((0.5 * area(&ring, &cut).z - 12.0).abs() < 1e-12);
        assert!(cut.iter().all(|t| area(&ring, &[*t]).z > 0.0));
    }

    #[test]
    fn what_crosses_itself_has_no_inside() {
        assert_eq!(triangles(&flat(&[[0.0, 0.0], [3.0, 2.0], [3.0, 0.0], [0.0, 1.0]])), None);
        // A star of five points turns left at every one, twice around.
        let star: Vec<_> = (0..5_u8)
            .map(|i| (f64::from(i) * 2.0 * std::f64::consts::TAU / 5.0).sin_cos())
            .map(|(y, x)| Point3::new(x, y, 0.0))
            .collect();
        assert_eq!(triangles(&star), None);
        assert_eq!(triangles(&flat(&[[0.0, 0.0], [1.0, 0.0]])), None);
    }

    proptest! {
        /// Stars around a point, seen from anywhere: as many triangles as corners less two, all turned as
        /// the polygon is, together of its area by Newell's sum.
        #[test]
        fn stars_are_cut_whole(
            radii in prop::collection::vec(0.2..3.0_f64, 4..40),
            axis in 0_usize..3,
            turned in any::<bool>(),
        ) {
            let step = std::f64::consts::TAU / radii.len() as f64;
            let mut corners: Vec<_> = (0..).zip(&radii).map(|(i, r)| {
                let (y, x) = (f64::from(i) * step).sin_cos();
                let mut p = Point3::origin();
                (p[axis], p[(axis + 1) % 3], p[(axis + 2) % 3]) = (0.1 * x, r * x, r * y);
                p
            }).collect();
            if turned {
                corners.reverse();
            }
            let cut = triangles(&corners).unwrap();
            let whole = newell(&corners);
            prop_assert_eq!(cut.len(), corners.len() - 2);
            prop_assert!((area(&corners, &cut) - whole).norm() < 1e-9);
            for t in &cut {
                prop_assert!(area(&corners, &[*t])[axis] * whole[axis] >= 0.0);
            }
        }
    }
}
