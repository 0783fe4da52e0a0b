//! A boss with a bore on the side of an upright cylinder.

use super::{BuildError, ChordError, index, positive, unit};
use crate::Mesh;
use nalgebra::{Point2, Point3};

/// A round boss with a bore that goes along +x out of an upright wall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SidePort {
    /// Height of its axis, z, mm.
    pub height: f64,
    /// Outside diameter of the boss, mm.
    pub boss: f64,
    /// Diameter of the bore, mm.
    pub bore: f64,
    /// Distance from the z axis to the boss's face, mm.
    pub face: f64,
}

/// The boss alone, from the cylinder of radius `from` about the z axis out to its face: a tube whose
/// inner end follows that cylinder. With `from` inside a wall, the two together are the wall with
/// its boss, the bore closed by the wall.
///
/// Departs from the true surface by at most the chord error.
///
/// # Errors
/// When a size is not greater than zero, the bore is not less than the boss, the boss not less than
/// the cylinder, or the face not outside of it.
pub fn side_port(port: &SidePort, from: f64, chord: ChordError) -> Result<Mesh, BuildError> {
    positive([port.boss, port.bore, port.face, from])?;
    let (boss, bore) = (0.5 * port.boss, 0.5 * port.bore);
    if bore >= boss || boss >= from || port.face <= from {
        return Err(BuildError::BadPort);
    }
    let n = chord.chords_in_circle(boss);
    // Between bore and boss the inner end bends along the cylinder.
    let bend = (boss / from).asin() - (bore / from).asin();
    let steps = chord.chords_in_arc(from, bend);
    let radius = |s: usize| bore + (boss - bore) * s as f64 / steps as f64;
    let at = |r: f64, i: usize| {
        let p: Point2<f64> = Point2::from(r * unit(i, n));
        (p.x, p.y)
    };
    let mut vertices = Vec::with_capacity((steps + 3) * n);
    for s in 0..=steps {
        vertices.extend((0..n).map(|i| {
            let (y, z) = at(radius(s), i);
            Point3::new(((from - y) * (from + y)).sqrt(), y, port.height + z)
        }));
    }
    for r in [boss, bore] {
        vertices.extend((0..n).map(|i| {
            let (y, z) = at(r, i);
            Point3::new(port.face, y, port.height + z)
        }));
    }
    // Rings in order round the tube's section: inner end from bore to boss, boss's side, face, bore.
    let rings = steps + 3;
    let mut triangles = Vec::with_capacity(2 * rings * n);
    for ring in 0..rings {
        let next = (ring + 1) % rings;
        for i in 0..n {
            let j = (i + 1) % n;
            let [a, b] = [ring * n + i, ring * n + j];
            let [c, d] = [next * n + i, next * n + j];
            triangles.push([a, b, d].map(index));
            triangles.push([a, d, c].map(index));
        }
    }
    Ok(Mesh { vertices, triangles })
}
