//! Whether a place lies in a mesh, and how far it is from it, by plain counting over triangles in
//! columns: none of the room's own code.

use nalgebra::{Point3, Vector3};
use solids::Mesh;
use std::collections::HashMap;

pub(crate) struct Beside<'a> {
    mesh: &'a Mesh,
    columns: HashMap<(i64, i64), Vec<usize>>,
}

const COLUMN: f64 = 8.0;

#[expect(clippy::cast_possible_truncation, reason = "columns are few")]
fn cell(x: f64) -> i64 {
    (x / COLUMN).floor() as i64
}

impl<'a> Beside<'a> {
    pub(crate) fn new(mesh: &'a Mesh) -> Self {
        let mut columns: HashMap<(i64, i64), Vec<usize>> = HashMap::new();
        for t in 0..mesh.triangles.len() {
            let [a, b, c] = mesh.corners(t);
            let (low, high) = (a.inf(&b).inf(&c), a.sup(&b).sup(&c));
            for x in cell(low.x)..=cell(high.x) {
                for y in cell(low.y)..=cell(high.y) {
                    columns.entry((x, y)).or_default().push(t);
                }
            }
        }
        Self { mesh, columns }
    }

    /// How often the mesh is wound around a place.
    pub(crate) fn winding(&self, p: &Point3<f64>) -> i32 {
        let key = (cell(p.x), cell(p.y));
        let Some(of) = self.columns.get(&key) else { return 0 };
        let mut sum = 0;
        for t in of {
            let [a, b, c] = self.mesh.corners(*t);
            let side = |a: &Point3<f64>, b: &Point3<f64>| {
                (b.x - a.x) * (p.y - a.y) - (b.y - a.y) * (p.x - a.x)
            };
            let (u, v, w) = (side(&b, &c), side(&c, &a), side(&a, &b));
            let turned = u + v + w;
            let inside = (u > 0.0 && v > 0.0 && w > 0.0) || (u < 0.0 && v < 0.0 && w < 0.0);
            if inside && (a.z * u + b.z * v + c.z * w) / turned > p.z {
                sum += if turned > 0.0 { 1 } else { -1 };
            }
        }
        sum
    }

    /// The distance to the nearest triangle within `reach`.
    pub(crate) fn distance(&self, p: &Point3<f64>, reach: f64) -> f64 {
        let mut best = f64::INFINITY;
        for x in cell(p.x - reach)..=cell(p.x + reach) {
            for y in cell(p.y - reach)..=cell(p.y + reach) {
                for t in self.columns.get(&(x, y)).into_iter().flatten() {
                    best = best.min(to_triangle(p, &self.mesh.corners(*t)));
                }
            }
        }
        best
    }
}

/// By going down the quadratic in the two coordinates of the triangle, edge by edge.
fn to_triangle(p: &Point3<f64>, [a, b, c]: &[Point3<f64>; 3]) -> f64 {
    let edge = |a: &Point3<f64>, b: &Point3<f64>| {
        let d: Vector3<f64> = b - a;
        let t = ((p - a).dot(&d) / d.norm_squared().max(1e-300)).clamp(0.0, 1.0);
        (p - (a + d * t)).norm()
    };
    let least = edge(a, b).min(edge(b, c)).min(edge(c, a));
    let n = (b - a).cross(&(c - a));
    let Some(n) = n.try_normalize(1e-12) else { return least };
    let q = p - n * (p - a).dot(&n);
    let inside =
        [(a, b), (b, c), (c, a)].iter().all(|(a, b)| (*b - *a).cross(&(q - *a)).dot(&n) >= 0.0);
    if inside { least.min((p - a).dot(&n).abs()) } else { least }
}
