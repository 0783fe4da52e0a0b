//! A boss on the side of an upright cylinder.

use super::{BuildError, ChordError, index, positive, unit};
use crate::Mesh;
use nalgebra::Point3;

/// A round boss that goes along +x out of an upright cylinder about the z axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Boss {
    /// Radius of the cylinder, mm.
    pub from: f64,
    /// Height of the boss's axis, z, mm.
    pub height: f64,
    /// Diameter of the boss, mm.
    pub diameter: f64,
    /// Distance from the z axis to the boss's face, mm.
    pub face: f64,
}

/// A solid boss, from its cylinder out to its face: its inner end follows the cylinder. With the
/// cylinder inside a wall, the two together are the wall with its boss.
///
/// Departs from the true surface by at most the chord error.
///
/// # Errors
/// When a size is not greater than zero, the boss is not narrower than the cylinder, or its face not
/// outside of it.
pub fn boss(boss: &Boss, chord: ChordError) -> Result<Mesh, BuildError> {
    let Boss { from, height, diameter, face } = *boss;
    positive([from, diameter, face])?;
    let radius = 0.5 * diameter;
    if radius >= from || face <= from {
        return Err(BuildError::BadBoss);
    }
    // Around the boss, along its inner end, and a little for chords that run aslant over both.
    let chord = ChordError(chord.mm() / 3.0);
    let n = chord.chords_in_circle(radius);
    // Outward from the boss's axis the inner end bends along the cylinder.
    let bend = (radius / from).asin();
    let steps = chord.chords_in_arc(from, bend);
    let mut vertices = vec![Point3::new(from, 0.0, height)];
    for s in 1..=steps {
        let r = if s == steps { radius } else { from * (bend * s as f64 / steps as f64).sin() };
        vertices.extend((0..n).map(|i| {
            let at = r * unit(i, n);
            Point3::new(((from - at.x) * (from + at.x)).sqrt(), at.x, height + at.y)
        }));
    }
    vertices.extend((0..n).map(|i| {
        let at = radius * unit(i, n);
        Point3::new(face, at.x, height + at.y)
    }));
    let tip = vertices.len();
    vertices.push(Point3::new(face, 0.0, height));
    let at = |ring: usize, i: usize| 1 + ring * n + i % n;
    let mut triangles = Vec::with_capacity(2 * n * (steps + 1));
    for i in 0..n {
        triangles.push([0, at(0, i + 1), at(0, i)].map(index));
        for ring in 0..steps {
            let [a, b] = [at(ring, i), at(ring, i + 1)];
            let [c, d] = [at(ring + 1, i), at(ring + 1, i + 1)];
            triangles.push([a, b, d].map(index));
            triangles.push([a, d, c].map(index));
        }
        triangles.push([tip, at(steps, i), at(steps, i + 1)].map(index));
    }
    Ok(Mesh { vertices, triangles })
}
