//! Prisms.

use super::{BuildError, doubled_area, edges, finite, index, positive, simple};
use crate::Mesh;
use nalgebra::{Point2, Point3, Vector3};
use spade::{ConstrainedDelaunayTriangulation, Triangulation};
use std::f64::consts::{FRAC_PI_3, FRAC_PI_6};

/// A straight prism over an outline with holes, from height `low` to height `high` along z.
/// Outlines run in either direction and lie in the xy plane.
///
/// # Errors
/// When outlines cross or touch, a hole lies outside the outline, or `high <= low`.
pub fn extrude(
    outline: &[Point2<f64>],
    holes: &[Vec<Point2<f64>>],
    low: f64,
    high: f64,
) -> Result<Mesh, BuildError> {
    finite([low, high])?;
    positive([high - low])?;
    let rings = oriented(outline, holes)?;
    let corners: Vec<Point2<f64>> = rings.concat();
    let lid = triangulate(&rings, &corners)?;

    let n = corners.len();
    let at = |z: f64| corners.iter().map(move |p| Point3::new(p.x, p.y, z));
    let mut mesh = Mesh { vertices: at(low).chain(at(high)).collect(), triangles: Vec::new() };
    for [a, b, c] in lid {
        mesh.triangles.push([index(c), index(b), index(a)]);
        mesh.triangles.push([index(n + a), index(n + b), index(n + c)]);
    }
    let mut first = 0;
    for ring in &rings {
        for i in 0..ring.len() {
            let (a, b) = (first + i, first + (i + 1) % ring.len());
            mesh.triangles.push([index(a), index(b), index(n + b)]);
            mesh.triangles.push([index(a), index(n + b), index(n + a)]);
        }
        first += ring.len();
    }
    Ok(mesh)
}

/// Outline counter-clockwise, holes clockwise, after checking that they are what they should be.
fn oriented(
    outline: &[Point2<f64>],
    holes: &[Vec<Point2<f64>>],
) -> Result<Vec<Vec<Point2<f64>>>, BuildError> {
    let given: Vec<&[Point2<f64>]> =
        std::iter::once(outline).chain(holes.iter().map(Vec::as_slice)).collect();
    finite(given.iter().flat_map(|r| r.iter()).flat_map(|p| [p.x, p.y]))?;
    if !simple(&given) {
        return Err(BuildError::BadOutline);
    }
    // Outlines do not touch, so one corner tells on which side of another outline a ring lies.
    let nested = |k: usize| {
        given
            .iter()
            .enumerate()
            .filter(|(j, _)| *j != k)
            .all(|(j, other)| given[k].first().is_some_and(|p| encloses(other, *p) == (j == 0)))
    };
    if !(1..given.len()).all(nested) {
        return Err(BuildError::BadOutline);
    }
    Ok(given
        .iter()
        .enumerate()
        .map(|(k, ring)| {
            let mut ring = ring.to_vec();
            if (doubled_area(&ring) > 0.0) != (k == 0) {
                ring.reverse();
            }
            ring
        })
        .collect())
}

/// Whether a point off the outline lies inside it: how often a ray to +x crosses it.
fn encloses(outline: &[Point2<f64>], p: Point2<f64>) -> bool {
    edges(outline)
        .filter(|(a, b)| {
            (a.y > p.y) != (b.y > p.y) && p.x < a.x + (p.y - a.y) / (b.y - a.y) * (b.x - a.x)
        })
        .count()
        % 2
        == 1
}

/// Triangles, counter-clockwise, of the area between an outline and its holes, as indices into the
/// corners of all rings one after the other.
fn triangulate(
    rings: &[Vec<Point2<f64>>],
    corners: &[Point2<f64>],
) -> Result<Vec<[usize; 3]>, BuildError> {
    let mut flat = ConstrainedDelaunayTriangulation::<spade::Point2<f64>>::new();
    let mut handles = Vec::with_capacity(corners.len());
    for p in corners {
        // Spade refuses numbers between zero and 1e-43; they are zero here.
        let snap = |v: f64| if v.abs() < 1e-30 { 0.0 } else { v };
        let handle = flat.insert(spade::Point2::new(snap(p.x), snap(p.y)));
        handles.push(handle.map_err(|_| BuildError::NotANumber)?);
    }
    if flat.num_vertices() != corners.len() {
        return Err(BuildError::BadOutline);
    }
    let mut first = 0;
    for ring in rings {
        for i in 0..ring.len() {
            let (a, b) = (handles[first + i], handles[first + (i + 1) % ring.len()]);
            if !flat.can_add_constraint(a, b) {
                return Err(BuildError::BadOutline);
            }
            flat.add_constraint(a, b);
        }
        first += ring.len();
    }
    Ok(flat
        .inner_faces()
        .filter(|face| {
            let centre = face.center();
            let centre = Point2::new(centre.x, centre.y);
            rings.iter().filter(|r| encloses(r, centre)).count() == 1
        })
        .map(|face| face.vertices().map(|v| v.index()))
        .collect())
}

/// A box with edges along the axes.
///
/// # Errors
/// When a side is not greater than zero.
pub fn block(low: Point3<f64>, high: Point3<f64>) -> Result<Mesh, BuildError> {
    let size: Vector3<f64> = high - low;
    positive(size.iter().copied())?;
    let outline = [low.xy(), Point2::new(high.x, low.y), high.xy(), Point2::new(low.x, high.y)];
    extrude(&outline, &[], low.z, high.z)
}

/// An upright hexagonal prism on the xy plane about the z axis, two of its flats facing ±y.
/// Across corners it measures `across_flats / cos(30 deg)`.
///
/// # Errors
/// When a size is not greater than zero.
pub fn hexagonal_prism(across_flats: f64, height: f64) -> Result<Mesh, BuildError> {
    positive([across_flats, height])?;
    let corner = 0.5 * across_flats / FRAC_PI_6.cos();
    let outline: Vec<_> = (0..6)
        .map(|k| {
            let (sin, cos) = (FRAC_PI_3 * f64::from(k)).sin_cos();
            Point2::new(corner * cos, corner * sin)
        })
        .collect();
    extrude(&outline, &[], 0.0, height)
}
