//! Motions of a part, and how far one takes any point of it.
//!
//! When no point of a part moves farther than `mu`, the gap changes by at most `mu` and so does
//! the depth of an overlap. So a gap of `need + e` at one pose clears every pose reached by a
//! motion of bound `mu <= e`, and a depth of `e` blocks every pose reached with `mu < e`. Bounds
//! of motions done one after the other add. [`certified_clear`](crate::certified_clear) and
//! [`certified_blocked`](crate::certified_blocked) give that `e`.
//!
//! | bound | of what |
//! |---|---|
//! | [`end_bound`] | one pose against another, however the part got there |
//! | [`way_bound`] | every pose on the direct way between two poses, [`on_the_way`] |
//! | [`Travel::between`] | every pose of a [`Motion`] between two of its parameters |
//!
//! All are rounded up.

use nalgebra::{Isometry3, Point3, Translation3, Unit, UnitQuaternion, Vector3};
use thiserror::Error;

use crate::pose::{Pose, unit};
use crate::solid::{Bounds, Ready, Solid, Undecided};

/// Room for the rounding of a few operations, so that a bound is never short.
const ROUNDING: f64 = 1.0 + 32.0 * f64::EPSILON;
/// Turn, radians, up to which the chord is as good as the arc.
const SMALL_TURN: f64 = 0.1;
/// Halvings when a parameter is looked for along a wide turn.
const HALVINGS: u32 = 24;

/// Why a motion cannot be made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum BadMotion {
    /// A number is not finite.
    #[error("a number of the motion is not finite")]
    NotFinite,
    /// The direction of an axis has no length.
    #[error("the direction of the axis has no length")]
    NoDirection,
}

/// How a part moves, in the frame of the body that stands still: one or more legs, each straight
/// or about an axis. The parameter runs from 0 to 1; every leg takes an equal share of it and is
/// run through evenly.
#[derive(Debug, Clone, PartialEq)]
pub struct Motion {
    legs: Vec<Leg>,
}

/// One leg and the displacement that the legs before it made.
#[derive(Debug, Clone, PartialEq)]
struct Leg {
    path: Path,
    before: Isometry3<f64>,
}

#[derive(Debug, Clone, PartialEq)]
enum Path {
    Straight(Vector3<f64>),
    Screw { through: Point3<f64>, axis: Unit<Vector3<f64>>, angle: f64, advance: f64 },
}

impl Path {
    /// The displacement after the share `t` of the leg, 0 to 1.
    fn at(&self, t: f64) -> Isometry3<f64> {
        match self {
            Self::Straight(by) => Isometry3::from(Translation3::from(by * t)),
            Self::Screw { through, axis, angle, advance } => {
                let turn = UnitQuaternion::from_axis_angle(axis, angle * t);
                let back = through.coords - turn * through.coords;
                let shift = back + axis.into_inner() * (advance * t);
                Isometry3::from_parts(Translation3::from(shift), turn)
            }
        }
    }
}

impl Motion {
    /// Straight on, by a vector in millimetres.
    pub fn straight(by: Vector3<f64>) -> Result<Self, BadMotion> {
        if by.iter().all(|c| c.is_finite()) {
            Ok(Self::of(Path::Straight(by)))
        } else {
            Err(BadMotion::NotFinite)
        }
    }

    /// A turn about the axis through the point `through` along `direction`, right-handed, by
    /// `angle` radians: negative the other way, and any number of turns.
    pub fn turn(
        through: Point3<f64>,
        direction: Vector3<f64>,
        angle: f64,
    ) -> Result<Self, BadMotion> {
        Self::screw(through, direction, angle, 0.0)
    }

    /// A turn as in [`Motion::turn`] with an advance of `advance` millimetres along `direction`
    /// meanwhile. A right-hand thread going in has both of one sign: its lead is
    /// `advance / (angle / TAU)`; a left-hand thread has a negative lead.
    pub fn screw(
        through: Point3<f64>,
        direction: Vector3<f64>,
        angle: f64,
        advance: f64,
    ) -> Result<Self, BadMotion> {
        let numbers = through.iter().chain(direction.iter()).chain([&angle, &advance]);
        if !numbers.copied().all(f64::is_finite) {
            return Err(BadMotion::NotFinite);
        }
        let axis = unit(&direction).map(Unit::new_unchecked).ok_or(BadMotion::NoDirection)?;
        Ok(Self::of(Path::Screw { through, axis, angle, advance }))
    }

    fn of(path: Path) -> Self {
        Self { legs: vec![Leg { path, before: Isometry3::identity() }] }
    }

    /// This motion and then `next`, whose axes and vectors are in the same frame: that of the
    /// body that stands still, not carried along.
    #[must_use]
    pub fn then(mut self, next: &Self) -> Self {
        let before = self.pose_at(1.0);
        self.legs.extend(
            next.legs.iter().map(|leg| Leg { path: leg.path.clone(), before: leg.before * before }),
        );
        self
    }

    /// The displacement at parameter `s`, taken as 0 below and 1 above its range: `pose_at(s) *
    /// a_from_b` is the pose of a part that started at `a_from_b`.
    pub fn pose_at(&self, s: f64) -> Isometry3<f64> {
        let (leg, t) = self.place(s);
        self.legs.get(leg).map_or_else(Isometry3::identity, |leg| leg.path.at(t) * leg.before)
    }

    /// The leg that `s` falls in and the share of it that is done.
    fn place(&self, s: f64) -> (usize, f64) {
        let whole = s.clamp(0.0, 1.0) * self.legs.len() as f64;
        let leg = (0..self.legs.len()).rev().find(|leg| *leg as f64 <= whole).unwrap_or(0);
        (leg, (whole - leg as f64).min(1.0))
    }

    /// How far this motion takes the points of `solid`, which starts at the pose `a_from_b`.
    pub fn travel(&self, solid: &Solid, a_from_b: &Isometry3<f64>) -> Result<Travel, Undecided> {
        let bounds = solid.bounds().ok_or_else(|| why_unusable(solid))?;
        Pose::new(a_from_b)?;
        let mut reach = corners(&bounds).iter().fold(0.0, |most: f64, c| most.max(c.coords.norm()));
        let mut legs = Vec::with_capacity(self.legs.len());
        let mut total = 0.0;
        for leg in &self.legs {
            let pose = leg.before * a_from_b;
            let stretch = match &leg.path {
                Path::Straight(by) => Stretch { radius: 0.0, angle: 0.0, advance: by.norm() },
                Path::Screw { through, axis, angle, advance } => {
                    reach = reach.max(through.coords.norm());
                    let (through, axis) = (
                        pose.inverse_transform_point(through),
                        pose.inverse_transform_unit_vector(axis),
                    );
                    let radius = radius_about(solid, &through, &axis).ok_or(Undecided::BadPose)?;
                    let off = 32.0 * f64::EPSILON * (through.coords.norm() + reach);
                    Stretch { radius: radius + off, angle: angle.abs(), advance: advance.abs() }
                }
            };
            total += stretch.rate();
            reach = reach.max(pose.translation.vector.norm());
            legs.push(stretch);
        }
        let most = reach + total;
        if most > f64::MAX {
            return Err(Undecided::BadPose);
        }
        let rounding = 256.0 * f64::EPSILON * (legs.len() as f64 + 3.0) * most;
        Ok(Travel { legs, rounding })
    }
}

/// How far a [`Motion`] takes the points of one solid.
#[derive(Debug, Clone, PartialEq)]
pub struct Travel {
    legs: Vec<Stretch>,
    rounding: f64,
}

/// One leg: turn by `angle` with the farthest point at `radius`, and an advance along the axis.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Stretch {
    radius: f64,
    angle: f64,
    advance: f64,
}

impl Stretch {
    /// The farthest way over the share `t` of the leg. The chord and the advance stand square to
    /// each other, and both only grow with `t`.
    fn over(&self, t: f64) -> f64 {
        turn_bound(self.radius, self.angle * t).hypot(self.advance * t) * ROUNDING
    }

    /// Millimetres along the arc per leg: no less than [`Stretch::over`] per share.
    fn rate(&self) -> f64 {
        (self.radius * self.angle).hypot(self.advance)
    }

    /// The greatest share, at most `most`, found to keep [`Stretch::over`] within `way`.
    fn share(&self, way: f64, most: f64) -> f64 {
        if self.over(most) <= way {
            return most;
        }
        let even = (way / self.rate() * (1.0 - 256.0 * f64::EPSILON)).min(most);
        if self.angle * even < SMALL_TURN {
            return if self.over(even) <= way { even } else { 0.0 };
        }
        let (mut within, mut beyond) = (even, most);
        for _ in 0..HALVINGS {
            let middle = 0.5 * (within + beyond);
            if self.over(middle) <= way {
                within = middle;
            } else {
                beyond = middle;
            }
        }
        within
    }
}

impl Travel {
    /// No point of the solid is ever farther, millimetres, from where it is at one of the two
    /// parameters, at any parameter between them. Turning by `t` takes a point at radius `r` the
    /// chord `2 r sin(t / 2)`, up to the diameter from half a turn on; the advance stands square
    /// to it; legs add. Infinity for arguments that are not numbers.
    pub fn between(&self, s0: f64, s1: f64) -> f64 {
        if s0.is_nan() || s1.is_nan() {
            return f64::INFINITY;
        }
        let count = self.legs.len() as f64;
        let (from, to) = (s0.min(s1).clamp(0.0, 1.0) * count, s0.max(s1).clamp(0.0, 1.0) * count);
        let mut way = 0.0;
        for (number, leg) in self.legs.iter().enumerate() {
            let share = to.min(number as f64 + 1.0) - from.max(number as f64);
            if share > 0.0 {
                way += leg.over(share);
            }
        }
        way * ROUNDING
    }

    /// A parameter up to which [`Travel::between`] from `s` stays within `way` millimetres, as far
    /// on as can be found cheaply; at most 1.
    pub fn ahead(&self, s: f64, way: f64) -> f64 {
        let count = self.legs.len() as f64;
        let mut at = s.clamp(0.0, 1.0) * count;
        let mut left = way / (ROUNDING * ROUNDING);
        for (number, leg) in self.legs.iter().enumerate() {
            let end = number as f64 + 1.0;
            if at >= end {
                continue;
            }
            let share = leg.share(left, end - at);
            let reached = share >= end - at;
            left -= leg.over(share);
            at = if reached { end } else { at + share };
            if !reached {
                break;
            }
        }
        self.checked(s, (at / count).min(1.0), way)
    }

    /// As [`Travel::ahead`], the other way; at least 0.
    pub fn behind(&self, s: f64, way: f64) -> f64 {
        let count = self.legs.len() as f64;
        let mut at = s.clamp(0.0, 1.0) * count;
        let mut left = way / (ROUNDING * ROUNDING);
        for (number, leg) in self.legs.iter().enumerate().rev() {
            let begin = number as f64;
            if at <= begin {
                continue;
            }
            let share = leg.share(left, at - begin);
            let reached = share >= at - begin;
            left -= leg.over(share);
            at = if reached { begin } else { at - share };
            if !reached {
                break;
            }
        }
        self.checked(s, (at / count).max(0.0), way)
    }

    /// Millimetres that rounding can put a pose of the motion off, everything counted.
    pub(crate) fn rounding(&self) -> f64 {
        self.rounding
    }

    /// `found`, drawn toward `s` by as little as brings it within `way` in spite of rounding.
    fn checked(&self, s: f64, found: f64, way: f64) -> f64 {
        let drawn = [0.0, 1e-12, 1e-9, 1e-6, 1e-3, 1.0].map(|part| found + (s - found) * part);
        drawn.into_iter().find(|at| self.between(s, *at) <= way).unwrap_or(s)
    }
}

/// No point of `solid` lies farther, millimetres, from where it is at pose `p` when the solid is
/// at pose `q`. On the way there it may: that is [`way_bound`]. The greatest over the box around
/// the solid, found at a corner, since how far a point goes is a convex function of the point.
///
/// # Errors
/// When the solid or a pose cannot be used.
pub fn end_bound(solid: &Solid, p: &Isometry3<f64>, q: &Isometry3<f64>) -> Result<f64, Undecided> {
    let body = solid.ready()?;
    Ok(end_bound_of(body, &Pose::new(p)?, &Pose::new(q)?))
}

pub(crate) fn end_bound_of(body: &Ready, p: &Pose, q: &Pose) -> f64 {
    let (turn, shift) = (q.turn - p.turn, q.shift - p.shift);
    let corners = corners(&body.bounds);
    let farthest = corners
        .iter()
        .map(|c| (turn * c.coords + shift).norm_squared())
        .fold(0.0_f64, f64::max)
        .sqrt();
    farthest * ROUNDING + pose_rounding(&corners, p, q)
}

/// No point of `solid` is ever farther, millimetres, from where it is at pose `p` on the direct
/// way from `p` to `q`, [`on_the_way`]; nor from where it is at `q`. The turn's chord at the
/// farthest corner of the solid from the turn's axis through the middle of its box, and the way of
/// that middle.
///
/// # Errors
/// When the solid or a pose cannot be used.
pub fn way_bound(solid: &Solid, p: &Isometry3<f64>, q: &Isometry3<f64>) -> Result<f64, Undecided> {
    let bounds = solid.bounds().ok_or_else(|| why_unusable(solid))?;
    let middle = nalgebra::center(&bounds.low, &bounds.high);
    let shift = shift_bound(&(q * middle - p * middle));
    let (p_checked, q_checked) = (Pose::new(p)?, Pose::new(q)?);
    let turned = p.rotation.rotation_to(&q.rotation);
    // The axis stands in the frame of the still body; the solid sees it from its pose.
    let chord = match turned.axis_angle() {
        Some((axis, angle)) => {
            let axis = p.rotation.inverse_transform_unit_vector(&axis);
            turn_bound(radius_about(solid, &middle, &axis).ok_or(Undecided::BadPose)?, angle)
        }
        None => 0.0,
    };
    let rounding = pose_rounding(&corners(&bounds), &p_checked, &q_checked);
    Ok((chord + shift) * ROUNDING + rounding)
}

/// The pose at `s`, 0 to 1, of the direct way from `p` to `q`: the middle of the solid's box goes
/// straight, and the solid turns about it evenly, by the smaller angle. `None` for a solid that
/// cannot be used.
pub fn on_the_way(
    solid: &Solid,
    p: &Isometry3<f64>,
    q: &Isometry3<f64>,
    s: f64,
) -> Option<Isometry3<f64>> {
    let bounds = solid.bounds()?;
    let middle = nalgebra::center(&bounds.low, &bounds.high);
    let (from, to) = (p * middle, q * middle);
    let turn = p.rotation.rotation_to(&q.rotation).powf(s) * p.rotation;
    let shift = from.coords + (to - from) * s - turn * middle.coords;
    Some(Isometry3::from_parts(Translation3::from(shift), turn))
}

/// Millimetres that the roundings of two poses can put a corner off.
fn pose_rounding(corners: &[Point3<f64>; 8], p: &Pose, q: &Pose) -> f64 {
    let reach = corners.iter().fold(0.0, |most: f64, c| most.max(c.coords.norm()));
    64.0 * f64::EPSILON * (reach + p.shift.norm() + q.shift.norm())
}

fn why_unusable(solid: &Solid) -> Undecided {
    solid.usable().err().unwrap_or(Undecided::Empty)
}

pub(crate) fn corners(bounds: &Bounds) -> [Point3<f64>; 8] {
    std::array::from_fn(|corner| {
        let pick = |axis: usize| {
            if corner >> axis & 1 == 0 { bounds.low[axis] } else { bounds.high[axis] }
        };
        Point3::new(pick(0), pick(1), pick(2))
    })
}

/// The farthest a point can move, millimetres, when its part turns by `turn` radians about an
/// axis from which the point is at most `radius` millimetres away: the chord `2 r sin(turn / 2)`,
/// and the diameter from half a turn on, where the part has passed through every nearer chord.
///
/// This bounds every pose on the way as well. Not-a-number arguments give infinity.
pub fn turn_bound(radius: f64, turn: f64) -> f64 {
    if radius.is_nan() || turn.is_nan() {
        return f64::INFINITY;
    }
    let half = (turn.abs() / 2.0).min(std::f64::consts::FRAC_PI_2);
    2.0 * radius.abs() * half.sin() * ROUNDING
}

/// The distance every point moves, millimetres, under a translation. Not-a-number components give
/// infinity.
pub fn shift_bound(shift: &Vector3<f64>) -> f64 {
    let length = shift.norm();
    if length.is_nan() { f64::INFINITY } else { length * ROUNDING }
}

/// The greatest distance of any point of `solid` from the axis through `through` along
/// `direction`, millimetres: the `radius` of [`turn_bound`].
///
/// `None` for a body without usable triangles or a direction without length.
pub fn radius_about(solid: &Solid, through: &Point3<f64>, direction: &Vector3<f64>) -> Option<f64> {
    let axis = unit(direction)?;
    if solid.usable().is_err() || !through.iter().all(|c| c.is_finite()) {
        return None;
    }
    // A triangle's farthest point from a line is a corner: the distance is a convex function.
    let farthest = solid
        .vertices()
        .iter()
        .map(|p| (p - through).cross(&axis).norm_squared())
        .fold(0.0_f64, f64::max);
    Some(farthest.sqrt() * ROUNDING)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quarter_turn_moves_a_point_by_the_chord() {
        let bound = turn_bound(10.0, std::f64::consts::FRAC_PI_2);
        assert!((bound - 200.0_f64.sqrt()).abs() < 1e-12);
        assert!((turn_bound(10.0, -7.0) - 20.0).abs() < 1e-12);
        assert!(turn_bound(f64::NAN, 1.0).is_infinite());
        assert!(shift_bound(&Vector3::new(3.0, 4.0, 0.0)) >= 5.0);
    }

    #[test]
    fn no_point_on_the_way_moves_farther_than_the_bound() {
        for step in 0..=200 {
            let turn = f64::from(step) * 0.05;
            for part in 0..=20 {
                let angle = turn * f64::from(part) / 20.0;
                let moved = 2.0 * 7.0 * (angle / 2.0).sin().abs();
                assert!(moved <= turn_bound(7.0, turn));
            }
        }
    }
}
