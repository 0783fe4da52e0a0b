//! Inside or outside: the winding number of a body about a point.
//!
//! The winding number of a closed surface is the signed number of its crossings by any ray from
//! the point, counted here with exact predicates along +z. An open shell is first closed by caps
//! from its border edges to one point; the winding number of the closed surface is counted, and
//! the caps' share, their solid angle, is taken off again. That gives the generalised winding
//! number of the open surface (Jacobson, Kavan, Sorkine-Hornung, "Robust inside-outside
//! segmentation using generalized winding numbers", ACM TOG 32(4), 2013; from memory) at the cost
//! of its border instead of its area. Solid angles are those of van Oosterom and Strackee, "The
//! solid angle of a plane triangle", IEEE Trans. Biomed. Eng. 30(2), 1983 (from memory).

use nalgebra::{Point3, Vector3};
use robust::{Coord, orient2d};

use crate::solid::{LARGEST, Ready, Solid, Undecided};
use crate::triangle::{Triangle, holds, side, turns_round};

/// How far from a whole number the winding number of an open surface may be and still count.
const CERTAIN: f64 = 0.25;

/// Where a point lies of a body.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Location {
    /// Within the body: the winding number is at least one half either way.
    Inside,
    /// Out of the body.
    Outside,
    /// Exactly on a triangle.
    OnSurface,
    /// The surface is open or faces both ways there, or the body or the point cannot be used.
    CannotDecide,
}

/// Where `point`, in the frame of `solid`, lies of it.
pub fn locate(solid: &Solid, point: &Point3<f64>) -> Location {
    let Ok(ready) = solid.ready() else { return Location::CannotDecide };
    if !usable(point) {
        return Location::CannotDecide;
    }
    if !ready.bounds.hold(point) {
        return Location::Outside;
    }
    if ready.on_surface(point) {
        return Location::OnSurface;
    }
    match ready.is_inside(point) {
        Ok(true) => Location::Inside,
        Ok(false) => Location::Outside,
        Err(_) => Location::CannotDecide,
    }
}

/// The winding number of `solid` about `point`, in its frame: how often its surface wraps round
/// the point. A whole number on a closed surface; 1 inside a shell whose triangles face outward.
/// On the surface itself it is that of one of the sides. [`Undecided::Open`] where rounding spoils
/// it: a hair from the border of an open surface, or from a line to the middle of that border.
pub fn winding_number(solid: &Solid, point: &Point3<f64>) -> Result<f64, Undecided> {
    let ready = solid.ready()?;
    if usable(point) { ready.winding_number(point) } else { Err(Undecided::BadPoint) }
}

pub(crate) fn usable(point: &Point3<f64>) -> bool {
    point.iter().all(|c| c.abs() <= LARGEST)
}

impl Ready {
    /// Whether a point that is not on the surface is inside.
    pub(crate) fn is_inside(&self, point: &Point3<f64>) -> Result<bool, Undecided> {
        if !self.bounds.hold(point) {
            return Ok(false);
        }
        if self.two_faced.iter().any(|shell| shell.hold(point)) {
            return Err(Undecided::FacesBothWays);
        }
        let winding = self.winding_number(point)?;
        if (winding - winding.round()).abs() > CERTAIN {
            return Err(Undecided::Open);
        }
        Ok(winding.abs() >= 0.5)
    }

    fn on_surface(&self, point: &Point3<f64>) -> bool {
        let mut found = false;
        self.tree.at_point(point, |slot| {
            found = holds(&self.soup.corners(slot), point);
            !found
        });
        found
    }

    fn winding_number(&self, point: &Point3<f64>) -> Result<f64, Undecided> {
        let mut crossings = 0;
        let height = (self.bounds.high.z - point.z).max(0.0);
        self.tree.along_ray(point, &Vector3::z(), height, |slot| {
            crossings += crossing_above(&self.soup.corners(slot), point);
            true
        });
        let mut share = 0.0;
        for cap in &self.caps {
            crossings += crossing_above(cap, point);
            share += solid_angle(cap, point).ok_or(Undecided::Open)?;
        }
        Ok(f64::from(crossings) - share / (4.0 * std::f64::consts::PI))
    }
}

/// How often, with sign, the ray from `point` toward +z leaves through the front of `t`. A point
/// on the triangle counts as above it.
fn crossing_above(t: &Triangle, point: &Point3<f64>) -> i32 {
    let turns = turns_round(t, point);
    if turns != 0 && side(t, point) * f64::from(turns) < 0.0 { turns } else { 0 }
}

/// The signed solid angle of `t` seen from `point`, positive when the point is behind it. Its
/// sign is exact, and a point in the triangle's plane is taken as an infinitesimal step above it,
/// like in [`crossing_above`], or toward +x, or +y, where the plane stands upright. `None` a hair
/// from an edge, where rounding decides the size.
fn solid_angle(t: &Triangle, point: &Point3<f64>) -> Option<f64> {
    /// Squared sine of the angle off an edge below which a size is not trusted.
    const SPOILT: f64 = 1e-14;
    let [a, b, c] = t.map(|corner| corner - point);
    let (la, lb, lc) = (a.norm(), b.norm(), c.norm());
    let volume = a.dot(&b.cross(&c)).abs();
    let whole = la * lb * lc;
    let cosine = whole + a.dot(&b) * lc + b.dot(&c) * la + c.dot(&a) * lb;
    let trusted = volume * volume + cosine * cosine > SPOILT * whole * whole;
    if !trusted {
        return None;
    }
    let behind = -side(t, point);
    if behind == 0.0 {
        let inside = cosine < 0.0;
        return Some(if inside { -std::f64::consts::TAU * faces(t) } else { 0.0 });
    }
    Some((2.0 * volume.atan2(cosine)).copysign(behind))
}

/// 1 when the front of `t` looks up, or else toward +x, or else toward +y; -1 when its back does.
fn faces(t: &Triangle) -> f64 {
    let along = |axis: usize| {
        let shadow = |p: &Point3<f64>| Coord { x: p[(axis + 1) % 3], y: p[(axis + 2) % 3] };
        orient2d(shadow(&t[0]), shadow(&t[1]), shadow(&t[2]))
    };
    [2, 0, 1].map(along).into_iter().find(|n| *n != 0.0).map_or(0.0, f64::signum)
}
