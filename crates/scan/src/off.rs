//! How far a place is from a mesh.
#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "boxes and triangles stay far below 2^31"
)]

use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use solids::Mesh;
use std::sync::atomic::{AtomicU64, Ordering};

/// Triangles by boxes.
#[derive(Debug)]
pub(crate) struct Near<'a> {
    mesh: &'a Mesh,
    low: Point3<f64>,
    side: f64,
    size: [usize; 3],
    starts: Vec<u32>,
    triangles: Vec<u32>,
}

/// No more boxes than this.
const BOXES: f64 = 2e6;

impl<'a> Near<'a> {
    /// Of all triangles, or of those that are marked.
    pub(crate) fn new(mesh: &'a Mesh, of: Option<&[bool]>) -> Self {
        let counted = |t: usize| of.is_none_or(|of| of[t]);
        let (low, high) = mesh.bounds().unwrap_or_default();
        let span = high - low;
        let volume = span.iter().map(|s| s.max(1.0)).product::<f64>();
        // About as many boxes as a fine mesh has triangles on its surface.
        let side = (volume / BOXES).cbrt().max(3.0);
        let size = [span.x, span.y, span.z].map(|s| (s / side).floor() as usize + 1);
        let mut near = Self { mesh, low, side, size, starts: Vec::new(), triangles: Vec::new() };
        let mut counts = vec![0_u32; size[0] * size[1] * size[2] + 1];
        let each = |f: &mut dyn FnMut(usize, u32)| {
            for t in (0..mesh.triangles.len()).filter(|t| counted(*t)) {
                let [a, b, c] = mesh.corners(t);
                let (from, to) = (near.place(&a.inf(&b).inf(&c)), near.place(&a.sup(&b).sup(&c)));
                for z in from[2]..=to[2] {
                    for y in from[1]..=to[1] {
                        for x in from[0]..=to[0] {
                            f((z * size[1] + y) * size[0] + x, t as u32);
                        }
                    }
                }
            }
        };
        each(&mut |n, _| counts[n + 1] += 1);
        for n in 1..counts.len() {
            counts[n] += counts[n - 1];
        }
        let mut triangles = vec![0_u32; counts.last().map_or(0, |n| *n as usize)];
        let mut next = counts.clone();
        each(&mut |n, t| {
            triangles[next[n] as usize] = t;
            next[n] += 1;
        });
        near.starts = counts;
        near.triangles = triangles;
        near
    }

    fn place(&self, p: &Point3<f64>) -> [usize; 3] {
        let d = (p - self.low) / self.side;
        [0, 1, 2].map(|a| (d[a].floor().max(0.0) as usize).min(self.size[a] - 1))
    }

    /// The distance to the nearest triangle, mm; infinite where there is none.
    pub(crate) fn distance(&self, p: &Point3<f64>) -> f64 {
        let at = self.place(p);
        let mut best = f64::INFINITY;
        for ring in 0..=self.size.iter().copied().max().unwrap_or(0) {
            // What lies in boxes of the rings up to here is nearest if it is nearer than the next.
            if best <= self.beyond(p, at, ring) {
                return best.sqrt();
            }
            let range =
                |a: usize| (at[a].saturating_sub(ring), (at[a] + ring).min(self.size[a] - 1));
            let ((x0, x1), (y0, y1), (z0, z1)) = (range(0), range(1), range(2));
            for z in z0..=z1 {
                for y in y0..=y1 {
                    let edge = z.abs_diff(at[2]) == ring || y.abs_diff(at[1]) == ring;
                    let row = (z * self.size[1] + y) * self.size[0];
                    let mut x = x0;
                    while x <= x1 {
                        if edge || x.abs_diff(at[0]) == ring {
                            best = best.min(self.in_box(p, row + x));
                            x += 1;
                        } else {
                            // Over the boxes of earlier rings.
                            x = (at[0] + ring).max(x + 1);
                        }
                    }
                }
            }
        }
        best.sqrt()
    }

    /// The squared distance from `p` below which no box of ring `ring` or farther comes.
    fn beyond(&self, p: &Point3<f64>, at: [usize; 3], ring: usize) -> f64 {
        if ring == 0 {
            return -1.0;
        }
        // Where there are no boxes farther on, nothing can be nearer.
        let least = (0..3)
            .flat_map(|a| {
                let x = p[a] - self.low[a];
                let low = x - (at[a] as f64 - ring as f64 + 1.0) * self.side;
                let high = (at[a] as f64 + ring as f64) * self.side - x;
                let (more_low, more_high) = (at[a] >= ring, at[a] + ring < self.size[a]);
                [more_low.then_some(low), more_high.then_some(high)]
            })
            .flatten()
            .fold(f64::INFINITY, f64::min);
        if least <= 0.0 { -1.0 } else { least * least }
    }

    /// The greatest distance of any of some places, mm; 0 of none. Most are within what another is off,
    /// and one triangle shows it.
    pub(crate) fn farthest(&self, of: impl ParallelIterator<Item = Point3<f64>>) -> f64 {
        // Bits of numbers that are not negative are in the order of the numbers.
        let most = AtomicU64::new(0.0_f64.to_bits());
        of.for_each(|p| {
            let known = f64::from_bits(most.load(Ordering::Relaxed));
            if !self.is_within(&p, known * known) {
                most.fetch_max(self.distance(&p).to_bits(), Ordering::Relaxed);
            }
        });
        f64::from_bits(most.into_inner())
    }

    /// Which of some places are farther than `least`, mm, in their order.
    pub(crate) fn farther(
        &self,
        of: impl ParallelIterator<Item = Point3<f64>>,
        least: f64,
    ) -> Vec<Point3<f64>> {
        of.filter(|p| !self.is_within(p, least * least) && self.distance(p) > least).collect()
    }

    /// Whether a triangle in the place's own box is within a distance, squared. None need be.
    fn is_within(&self, p: &Point3<f64>, square: f64) -> bool {
        let [x, y, z] = self.place(p);
        let own = self.of_box((z * self.size[1] + y) * self.size[0] + x);
        own.iter().any(|t| squared(p, &self.mesh.corners(*t as usize)) <= square)
    }

    fn of_box(&self, n: usize) -> &[u32] {
        &self.triangles[self.starts[n] as usize..self.starts[n + 1] as usize]
    }

    fn in_box(&self, p: &Point3<f64>, n: usize) -> f64 {
        let of = self.of_box(n);
        of.iter().map(|t| squared(p, &self.mesh.corners(*t as usize))).fold(f64::INFINITY, f64::min)
    }
}

/// The squared distance from a point to a triangle.
fn squared(p: &Point3<f64>, [a, b, c]: &[Point3<f64>; 3]) -> f64 {
    let (ab, ac) = (b - a, c - a);
    let normal = ab.cross(&ac);
    let square = normal.norm_squared();
    if square > 0.0 {
        // Within the triangle seen along its normal, the plane is nearest.
        let ap = p - a;
        let (v, w) = (ap.cross(&ac).dot(&normal) / square, ab.cross(&ap).dot(&normal) / square);
        if v >= 0.0 && w >= 0.0 && v + w <= 1.0 {
            let off = ap.dot(&normal);
            return off * off / square;
        }
    }
    let side = |a: &Point3<f64>, b: &Point3<f64>| {
        let d: Vector3<f64> = b - a;
        let long = d.norm_squared();
        let share = if long > 0.0 { ((p - a).dot(&d) / long).clamp(0.0, 1.0) } else { 0.0 };
        (p - (a + d * share)).norm_squared()
    };
    side(a, b).min(side(b, c)).min(side(c, a))
}

#[cfg(test)]
mod tests {
    use super::*;
    use solids::build::block;

    /// Against the least over all triangles, each by a fine sampling of its face: no formula shared.
    #[test]
    fn the_nearest_triangle_is_found_from_anywhere() {
        let mesh = block(Point3::new(-10.0, -20.0, 0.0), Point3::new(30.0, 5.0, 40.0)).unwrap();
        let near = Near::new(&mesh, None);
        for p in [
            Point3::new(0.0, 0.0, 10.0),
            Point3::new(100.0, 7.0, 10.0),
            Point3::new(-50.0, -60.0, -70.0),
            Point3::new(31.0, 6.0, 41.0),
            Point3::new(12.0, -3.0, 500.0),
        ] {
            let mut least = f64::INFINITY;
            for t in 0..mesh.triangles.len() {
                let [a, b, c] = mesh.corners(t);
                for u in 0..=200 {
                    for v in 0..=200 - u {
                        let q =
                            a + (b - a) * (f64::from(u) / 200.0) + (c - a) * (f64::from(v) / 200.0);
                        least = least.min((p - q).norm());
                    }
                }
            }
            let found = near.distance(&p);
            assert!(found <= least + 1e-9 && found >= least - 0.25, "{p} {found} {least}");
        }
        let places: Vec<Point3<f64>> = (0..1000_u32)
            .map(|n| {
                let at = f64::from(n);
                Point3::new(60.0 * (at * 0.7).sin(), 50.0 * (at * 1.3).cos(), at * 0.05)
            })
            .collect();
        let most = places.iter().map(|p| near.distance(p)).fold(0.0, f64::max);
        assert_eq!(near.farthest(places.par_iter().copied()).to_bits(), most.to_bits());
    }
}
