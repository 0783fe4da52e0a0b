//! A run of round pieces through one square elbow.

use super::{BuildError, ChordError, index, positive, unit};
use crate::Mesh;
use nalgebra::Point3;
use std::f64::consts::FRAC_PI_2;

/// A round piece of a run of pipe.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Run {
    /// Outside diameter, mm.
    pub diameter: f64,
    /// Length along the run, mm.
    pub length: f64,
}

/// A solid run of round pieces through a square elbow: `before` along +x from the origin, the
/// elbow, then `after` along +z.
///
/// The elbow is two cylinders of its diameter that end `centre_to_end` from where their axes meet,
/// mitred on the inside of the bend and closed by a ball of that diameter on the outside: the
/// envelope of a threaded elbow whose bands have that diameter. Departs from the true surface by at
/// most the chord error.
///
/// # Errors
/// When a size is not greater than zero, or the elbow is fatter than it is long (its radius must be
/// less than centre to end).
pub fn bent_run(
    before: &[Run],
    elbow_diameter: f64,
    centre_to_end: f64,
    after: &[Run],
    chord: ChordError,
) -> Result<Mesh, BuildError> {
    let pieces = before.iter().chain(after);
    positive(pieces.clone().flat_map(|p| [p.diameter, p.length]))?;
    positive([elbow_diameter, centre_to_end, centre_to_end - 0.5 * elbow_diameter])?;
    let chord = chord.half();
    let n = chord.chords_in_circle(0.5 * pieces.map(|p| p.diameter).fold(elbow_diameter, f64::max));
    let heel = chord.chords_in_arc(0.5 * elbow_diameter, FRAC_PI_2);
    let centre = before.iter().map(|p| p.length).sum::<f64>() + centre_to_end;

    let mut loft = Loft { mesh: Mesh::default(), rings: Vec::new(), n };
    let across = |radius: f64, x: f64| {
        move |i: usize| {
            let o = radius * unit(i, n);
            Point3::new(x, o.y, o.x)
        }
    };
    let along = |radius: f64, z: f64| {
        move |i: usize| {
            let o = radius * unit(i, n);
            Point3::new(centre - o.x, o.y, z)
        }
    };
    let mut x = 0.0;
    for piece in before {
        loft.ring(across(0.5 * piece.diameter, x));
        x += piece.length;
        loft.ring(across(0.5 * piece.diameter, x));
    }
    let radius = 0.5 * elbow_diameter;
    loft.ring(across(radius, x));
    let mut first = None;
    for k in 0..=heel {
        let (sin, cos) = (FRAC_PI_2 * k as f64 / heel as f64).sin_cos();
        let inside = first;
        let at = |i: usize| {
            // `inward` is toward the inside of the bend: +z before it, -x after it.
            let inward = radius * unit(i, n).x;
            let y = radius * unit(i, n).y;
            if inward >= 0.0 {
                Point3::new(centre - inward, y, inward)
            } else {
                Point3::new(centre - inward * sin, y, inward * cos)
            }
        };
        // Inside the bend the stations share the points of the mitre.
        let shared =
            |i: usize| inside.filter(|_| radius * unit(i, n).x >= 0.0).map(|ring: usize| (ring, i));
        let ring = loft.ring_sharing(at, shared);
        first = first.or(Some(ring));
    }
    let mut z = centre_to_end;
    loft.ring(along(radius, z));
    for piece in after {
        loft.ring(along(0.5 * piece.diameter, z));
        z += piece.length;
        loft.ring(along(0.5 * piece.diameter, z));
    }
    loft.cap(0, true);
    loft.cap(loft.rings.len() - 1, false);
    Ok(loft.mesh)
}

/// Rings of `n` points, each joined to the one before.
struct Loft {
    mesh: Mesh,
    rings: Vec<Vec<u32>>,
    n: usize,
}

impl Loft {
    fn ring(&mut self, at: impl Fn(usize) -> Point3<f64>) -> usize {
        self.ring_sharing(at, |_| None)
    }

    /// Adds a ring; `shared` names a point `(ring, i)` to use again. Returns the ring's index.
    fn ring_sharing(
        &mut self,
        at: impl Fn(usize) -> Point3<f64>,
        shared: impl Fn(usize) -> Option<(usize, usize)>,
    ) -> usize {
        let ring: Vec<u32> = (0..self.n)
            .map(|i| {
                if let Some((ring, i)) = shared(i) {
                    return self.rings[ring][i];
                }
                self.mesh.vertices.push(at(i));
                index(self.mesh.vertices.len() - 1)
            })
            .collect();
        if let Some(last) = self.rings.last() {
            // A piece of the same size as the last one starts on the same ring.
            let corner = |v: u32| self.mesh.vertices[v as usize];
            if last.iter().zip(&ring).all(|(a, b)| a != b && corner(*a) == corner(*b)) {
                self.mesh.vertices.truncate(self.mesh.vertices.len() - self.n);
                return self.rings.len() - 1;
            }
            for i in 0..self.n {
                let j = (i + 1) % self.n;
                let (a, b, c, d) = (last[i], last[j], ring[i], ring[j]);
                for t in [[a, c, d], [a, d, b]] {
                    if t[0] != t[1] && t[1] != t[2] && t[2] != t[0] {
                        self.mesh.triangles.push(t);
                    }
                }
            }
        }
        self.rings.push(ring);
        self.rings.len() - 1
    }

    /// Closes a ring with a fan, facing back along the run or onward.
    fn cap(&mut self, ring: usize, back: bool) {
        let ring = &self.rings[ring];
        for i in 1..self.n - 1 {
            let (a, b, c) = (ring[0], ring[i], ring[i + 1]);
            self.mesh.triangles.push(if back { [a, b, c] } else { [a, c, b] });
        }
    }
}
