//! A body of revolution with a round port in its side.

use super::extrude::triangulate;
use super::revolve::Turned;
use super::{BuildError, ChordError, index, positive};
use crate::Mesh;
use nalgebra::{Point2, Point3};
use std::f64::consts::{PI, TAU};

/// A round boss with a bore that goes along +x through an upright wall.
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

/// Turns a closed profile about the z axis, as [`super::revolve`] does, and adds a boss with a bore
/// through the wall. The curves in which boss and bore meet the wall lie on both true surfaces; the
/// whole departs from the true surface by at most the chord error.
///
/// # Errors
/// As for [`super::revolve`], and when boss and bore do not lie within one upright outer and one
/// upright inner edge of the profile.
pub fn revolve_with_side_port(
    profile: &[Point2<f64>],
    port: &SidePort,
    chord: ChordError,
) -> Result<Mesh, BuildError> {
    positive([port.boss, port.bore, port.face])?;
    let turned = Turned::new(profile, chord)?;
    let outer = Patch::new(&turned, true, port.height, 0.5 * port.boss)?;
    let inner = Patch::new(&turned, false, port.height, 0.5 * port.bore)?;
    if port.bore >= port.boss || outer.radius <= inner.radius || port.face <= outer.radius {
        return Err(BuildError::BadPort);
    }
    let mut mesh = turned.mesh(|edge, column| {
        [&outer, &inner].iter().all(|p| p.edge != edge || !p.covers(column, turned.n))
    });
    let boss = outer.fill(&turned, &mut mesh, port.face, chord)?;
    let bore = inner.fill(&turned, &mut mesh, port.face, chord)?;

    let ring = |curve: &[usize]| -> Vec<Point2<f64>> {
        curve.iter().map(|v| mesh.vertices[*v].yz()).collect()
    };
    let rings = [ring(&boss), ring(&bore).into_iter().rev().collect()];
    let vertices: Vec<usize> = boss.iter().copied().chain(bore.iter().rev().copied()).collect();
    let face = triangulate(&rings, &rings.concat(), &[])?;
    mesh.triangles.extend(face.into_iter().map(|t| t.map(|corner| index(vertices[corner]))));
    Ok(mesh)
}

/// The part of an upright wall around the hole in it, unrolled.
struct Patch {
    /// The profile edge that makes the wall.
    edge: usize,
    outside: bool,
    /// Radius of the wall.
    radius: f64,
    /// Radius of the hole.
    hole: f64,
    /// Height of the hole's axis.
    height: f64,
    /// The patch spans columns `-columns ..= columns` about +x.
    columns: usize,
}

impl Patch {
    /// The wall of `turned` in which a hole lies, seen from `outside` or from the axis.
    fn new(turned: &Turned, outside: bool, height: f64, hole: f64) -> Result<Self, BuildError> {
        let profile = &turned.profile;
        let edge = (0..profile.len())
            .find(|k| {
                // An upright edge is one whose ends were given the same radius.
                #[expect(clippy::float_cmp)]
                let upright = |a: Point2<f64>, b: Point2<f64>| a.x == b.x;
                let (a, b) = (profile[*k], profile[(k + 1) % profile.len()]);
                let (low, high) = if outside { (a.y, b.y) } else { (b.y, a.y) };
                upright(a, b) && hole < a.x && low < height - hole && height + hole < high
            })
            .ok_or(BuildError::BadPort)?;
        let radius = profile[edge].x;
        let mut columns = 1;
        while radius * (TAU * columns as f64 / turned.n as f64).sin() <= hole * (1.0 + TOUCH) {
            columns += 1;
            if 4 * columns >= turned.n {
                return Err(BuildError::BadPort);
            }
        }
        Ok(Self { edge, outside, radius, hole, height, columns })
    }

    fn covers(&self, column: usize, n: usize) -> bool {
        column < self.columns || column + self.columns >= n
    }

    /// Adds the patch with its hole, and the tube from the hole's edge to the plane `x = face`.
    /// Returns the vertices of the tube's end, counter-clockwise seen from +x.
    fn fill(
        &self,
        turned: &Turned,
        mesh: &mut Mesh,
        face: f64,
        chord: ChordError,
    ) -> Result<Vec<usize>, BuildError> {
        let (n, m) = (turned.n, self.columns);
        let (start, end) = (self.edge, (self.edge + 1) % turned.profile.len());
        let (low, high) = if self.outside { (start, end) } else { (end, start) };
        let width = 2 * m + 1;
        let angle = |c: usize| TAU * (c as f64 - m as f64) / n as f64;
        let column = |c: usize| c + n - m;

        // The unrolled frame: (radius * angle, z). Bottom from left to right, top from right to left.
        let flat = |c: usize, k: usize| Point2::new(self.radius * angle(c), turned.profile[k].y);
        let mut vertices: Vec<usize> = (0..width).map(|c| turned.vertex(low, column(c))).collect();
        vertices.extend((0..width).rev().map(|c| turned.vertex(high, column(c))));
        let border: Vec<_> = (0..width)
            .map(|c| flat(c, low))
            .chain((0..width).rev().map(|c| flat(c, high)))
            .collect();

        let curve = self.curve(n, chord);
        let mut uprights = Vec::new();
        for c in 1..width - 1 {
            let (bottom, top) = (c, 2 * width - 1 - c);
            let crossings: Vec<_> =
                (0..curve.len()).filter(|i| curve[*i].column == Some(c)).collect();
            // In order round the curve the upper crossing, if any, comes before the lower one.
            match (crossings.first(), crossings.last()) {
                (Some(&upper), Some(&lower)) => {
                    uprights.push([bottom, border.len() + lower]);
                    uprights.push([border.len() + upper, top]);
                }
                _ => uprights.push([bottom, top]),
            }
        }
        let hole: Vec<_> = curve.iter().map(|p| Point2::new(self.radius * p.angle, p.z)).collect();
        let near = mesh.vertices.len();
        mesh.vertices.extend(curve.iter().map(|p| {
            let (sin, cos) = p.angle.sin_cos();
            Point3::new(self.radius * cos, self.radius * sin, p.z)
        }));
        vertices.extend(near..near + curve.len());
        let far = mesh.vertices.len();
        mesh.vertices
            .extend(curve.iter().map(|p| Point3::new(face, self.radius * p.angle.sin(), p.z)));

        let mut add = |a: usize, b: usize, c: usize| {
            let t = [a, b, c].map(index);
            mesh.triangles.push(if self.outside { t } else { [t[0], t[2], t[1]] });
        };
        let rings = [border, hole];
        for [a, b, c] in triangulate(&rings, &rings.concat(), &uprights)? {
            add(vertices[a], vertices[b], vertices[c]);
        }
        for i in 0..curve.len() {
            let j = (i + 1) % curve.len();
            add(near + i, near + j, far + j);
            add(near + i, far + j, far + i);
        }
        Ok((far..far + curve.len()).collect())
    }

    /// The edge of the hole on the wall, counter-clockwise seen from +x, starting at the upper half
    /// of the +y side; with a point wherever it meets a column of the wall.
    fn curve(&self, n: usize, chord: ChordError) -> Vec<OnCurve> {
        // Samples next to a crossing are left out, which may widen a chord by SNAP of its length:
        // hence a little more chords than the error asks for.
        let steps = ChordError(chord.mm() * (1.0 - 3.0 * SNAP)).chords_in_circle(self.hole);
        let step = TAU / steps as f64;
        let mut curve = Vec::new();
        for c in 1..2 * self.columns {
            let angle = TAU * (c as f64 - self.columns as f64) / n as f64;
            let y = self.radius * angle.sin();
            if y.abs() > self.hole * (1.0 + TOUCH) {
                continue;
            }
            let rise = ((self.hole - y) * (self.hole + y)).max(0.0).sqrt();
            let turn = rise.atan2(y);
            let crossing = |turn: f64, z: f64| OnCurve { turn, angle, z, column: Some(c) };
            if y.abs() >= self.hole * (1.0 - TOUCH) {
                curve.push(crossing(if y > 0.0 { 0.0 } else { PI }, self.height));
            } else {
                curve.push(crossing(turn, self.height + rise));
                curve.push(crossing(TAU - turn, self.height - rise));
            }
        }
        let crossings: Vec<f64> = curve.iter().map(|p| p.turn).collect();
        for i in 0..steps {
            let turn = step * i as f64;
            let apart = |t: &f64| {
                let d = (turn - t).abs();
                d.min(TAU - d)
            };
            if crossings.iter().map(apart).all(|d| d > SNAP * step) {
                let (sin, cos) = turn.sin_cos();
                let angle = (self.hole * cos / self.radius).asin();
                curve.push(OnCurve { turn, angle, z: self.height + self.hole * sin, column: None });
            }
        }
        curve.sort_by(|a, b| a.turn.total_cmp(&b.turn));
        curve
    }
}

/// A point on the edge of the hole.
struct OnCurve {
    /// Angle round the port's axis from +y toward +z, `0 .. 2 pi`.
    turn: f64,
    /// Angle round the z axis from +x.
    angle: f64,
    z: f64,
    /// The column of the wall on which it lies.
    column: Option<usize>,
}

/// A column that passes the hole's side within this fraction of its radius touches it.
const TOUCH: f64 = 1e-6;
/// Samples this close to a crossing, as a fraction of the step between samples, are left out.
const SNAP: f64 = 0.01;
