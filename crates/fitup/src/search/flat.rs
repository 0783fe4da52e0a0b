//! Flat pieces of a body around a point: a witness by a whole rectangle holds its bound while the
//! other part slides along it, where one by a point loses it.

use gap::{Location, Solid};
use nalgebra::{Isometry3, Point3, Vector3};
use solids::Mesh;

/// How far under the surface a rectangle lies, mm. It must be seen to lie inside.
const UNDER: f64 = 1e-3;
/// No point of a rectangle's border is nearer to the surface, mm.
const CLEAR: f64 = 2e-4;
/// Rectangles smaller than this both ways are no better than a point, mm.
const SMALLEST: f64 = 0.2;
/// How often a rectangle that does not lie inside is halved.
const HALVINGS: usize = 3;

/// A rectangle inside a body.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Rectangle {
    /// Its middle.
    pub(super) middle: Vector3<f64>,
    /// From its middle to the middles of two neighbouring sides.
    pub(super) half: [Vector3<f64>; 2],
}

/// The distance of a point from a rectangle with these half sides, seen from its middle.
pub(super) fn distance(from_middle: &Vector3<f64>, half: &[Vector3<f64>; 2]) -> f64 {
    let mut off = *from_middle;
    for side in half {
        let squared = side.norm_squared();
        if squared > 0.0 {
            off -= side * (from_middle.dot(side) / squared).clamp(-1.0, 1.0);
        }
    }
    off.norm()
}

/// A rectangle inside a closed body, just under the surface at a point of one of its triangles, that
/// reaches as far as `reach` to each side.
pub(super) fn under(
    solid: &Solid,
    triangle: u32,
    at: &Point3<f64>,
    reach: f64,
) -> Option<Rectangle> {
    let mesh = solid.mesh();
    let [a, b, c] =
        ((triangle as usize) < mesh.triangles.len()).then(|| mesh.corners(triangle as usize))?;
    let out = (b - a).cross(&(c - a)).try_normalize(0.0)?;
    // Away from the edge that the point may lie on.
    let middle = Point3::from((a.coords + b.coords + c.coords) / 3.0);
    let aside = (middle - at).cap_magnitude(2.0 * UNDER);
    within(solid, &(at + aside - out * UNDER), &out, reach)
}

/// A rectangle inside a closed body through a point and square to a direction.
fn within(solid: &Solid, at: &Point3<f64>, out: &Vector3<f64>, reach: f64) -> Option<Rectangle> {
    if !solid.is_closed() || gap::locate(solid, at) != Location::Inside {
        return None;
    }
    // Walls stand upright and floors are level, mostly.
    let level = Vector3::z().cross(out).try_normalize(1e-3);
    let sides = level.map_or([Vector3::x(), Vector3::y()], |u| [u, out.cross(&u)]);
    let sides = sides.map(|s| (s - out * out.dot(&s)).normalize());
    let mut free = [[0.0; 2]; 2];
    for (side, free) in sides.iter().zip(&mut free) {
        for (way, free) in [side, &-side].into_iter().zip(free) {
            let hits = gap::ray_hits(solid, at, way).ok()?;
            let wall = hits.first().map_or(f64::INFINITY, |hit| hit.distance);
            *free = (wall - 2.0 * CLEAR).min(reach).max(0.0);
        }
    }
    for _ in 0..=HALVINGS {
        let middle = |i: usize| 0.5 * (free[i][0] - free[i][1]);
        let half = |i: usize| 0.5 * (free[i][0] + free[i][1]);
        if half(0).max(half(1)) < SMALLEST {
            return None;
        }
        let rectangle = Rectangle {
            middle: at.coords + sides[0] * middle(0) + sides[1] * middle(1),
            half: [sides[0] * half(0), sides[1] * half(1)],
        };
        if is_clear(solid, &rectangle) {
            return Some(rectangle);
        }
        free = free.map(|f| f.map(|f| 0.5 * f));
    }
    None
}

/// Whether the surface is nowhere near a rectangle.
fn is_clear(solid: &Solid, rectangle: &Rectangle) -> bool {
    let Rectangle { middle, half: [u, v] } = rectangle;
    let vertices = [-u - v, u - v, u + v, v - u].map(|c| Point3::from(middle + c)).to_vec();
    let sheet = Solid::new(&Mesh { vertices, triangles: vec![[0, 1, 2], [0, 2, 3]] });
    matches!(gap::surface_gap(solid, &sheet, &Isometry3::identity(), CLEAR), Ok(None))
}

#[cfg(test)]
mod tests {
    use super::*;
    use solids::build::block;

    #[test]
    fn under_the_top_of_a_block_it_reaches_to_the_block_s_sides() {
        let block = block(Point3::origin(), Point3::new(40.0, 30.0, 20.0)).unwrap();
        let top = (0..12).find(|t| block.corners(*t).iter().all(|p| p.z > 19.9)).unwrap();
        let solid = Solid::new(&block);
        let at = Point3::new(10.0, 12.0, 20.0);
        let found = under(&solid, u32::try_from(top).unwrap(), &at, 100.0).unwrap();
        assert!((found.middle - Vector3::new(20.0, 15.0, 20.0)).norm() < 2.0 * UNDER, "{found:?}");
        let [u, v] = found.half.map(|h| h.norm());
        assert!((u - 20.0).abs() < 1e-2 && (v - 15.0).abs() < 1e-2, "{found:?}");
        // Sliding along it costs nothing.
        for x in [0.5, 20.0, 39.0] {
            let off = Vector3::new(x, 9.0, 24.0) - found.middle;
            assert!((distance(&off, &found.half) - 4.0).abs() < 2.0 * UNDER);
        }
        let short = under(&solid, u32::try_from(top).unwrap(), &at, 5.0).unwrap();
        assert!((short.half[0].norm() - 5.0).abs() < 1e-9, "{short:?}");
    }

    #[test]
    fn distance_from_a_rectangle_is_that_of_its_nearest_point() {
        let half = [Vector3::new(3.0, 0.0, 0.0), Vector3::new(0.0, 0.0, 2.0)];
        let is = |x, y, z, mm: f64| (distance(&Vector3::new(x, y, z), &half) - mm).abs() < 1e-12;
        assert!(is(1.0, -5.0, 0.5, 5.0));
        assert!(is(6.0, 0.0, 6.0, 5.0));
        assert!(is(-3.0, 0.0, 2.0, 0.0));
        let point = [Vector3::zeros(); 2];
        assert!((distance(&Vector3::new(0.0, 3.0, 4.0), &point) - 5.0).abs() < 1e-12);
    }
}
