//! Routes: straight stretches and turns, one after the other.

use gap::motion::{BadMotion, Motion};
use nalgebra::{Isometry3, Point3, Translation3, Unit, UnitQuaternion, Vector3};

/// One stretch of a route, plate frame, millimetres and radians.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Leg {
    /// Straight on by this much.
    Straight(Vector3<f64>),
    /// A turn about an axis that stands still, right-handed.
    Turn {
        /// A point on the axis.
        through: Point3<f64>,
        /// The axis.
        axis: Unit<Vector3<f64>>,
        /// How far.
        angle: f64,
        /// Advance along the axis meanwhile.
        advance: f64,
    },
}

impl Leg {
    /// What the whole leg does to a part.
    pub fn displacement(&self) -> Isometry3<f64> {
        self.part(1.0)
    }

    /// What the leg has done to a part after the share `t` of it, 0 to 1.
    pub fn part(&self, t: f64) -> Isometry3<f64> {
        match self {
            Self::Straight(by) => Isometry3::from(Translation3::from(by * t)),
            Self::Turn { through, axis, angle, advance } => {
                let turn = UnitQuaternion::from_axis_angle(axis, angle * t);
                let back = through.coords - turn * through.coords;
                let shift = back + axis.into_inner() * (advance * t);
                Isometry3::from_parts(Translation3::from(shift), turn)
            }
        }
    }

    /// The same leg run through backward.
    fn back(&self) -> Self {
        match *self {
            Self::Straight(by) => Self::Straight(-by),
            Self::Turn { through, axis, angle, advance } => {
                Self::Turn { through, axis, angle: -angle, advance: -advance }
            }
        }
    }

    /// The motion in the frame of a body that stands at `plate_from_body`.
    fn motion(&self, plate_from_body: &Isometry3<f64>) -> Result<Motion, BadMotion> {
        match self {
            Self::Straight(by) => {
                Motion::straight(plate_from_body.rotation.inverse_transform_vector(by))
            }
            Self::Turn { through, axis, angle, advance } => Motion::screw(
                plate_from_body.inverse_transform_point(through),
                plate_from_body.rotation.inverse_transform_vector(axis),
                *angle,
                *advance,
            ),
        }
    }
}

/// Legs from a part's place out; carried in, they are run through backward, the last one first.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Route(pub Vec<Leg>);

impl Route {
    /// The motion along some legs in the frame of a body at `plate_from_body`; `None` without legs
    /// or with numbers that are not finite.
    pub(crate) fn motion_of(legs: &[Leg], plate_from_body: &Isometry3<f64>) -> Option<Motion> {
        let mut legs = legs.iter().map(|leg| leg.motion(plate_from_body).ok());
        let first = legs.next()??;
        legs.try_fold(first, |motion, leg| Some(motion.then(&leg?)))
    }

    /// What the route has done to a part after the share `s` of it, 0 at the place and 1 at the far
    /// end; every leg takes an equal share.
    pub fn displacement_at(&self, s: f64) -> Isometry3<f64> {
        let whole = s.clamp(0.0, 1.0) * self.0.len() as f64;
        let mut done = Isometry3::identity();
        for (number, leg) in self.0.iter().enumerate() {
            let share = (whole - number as f64).clamp(0.0, 1.0);
            done = leg.part(share) * done;
        }
        done
    }

    /// The displacements of a part from its place at the ends of the legs, the far end first and
    /// the place last.
    pub fn waypoints(&self) -> Vec<Isometry3<f64>> {
        let mut points = vec![Isometry3::identity()];
        let mut done = Isometry3::identity();
        for leg in &self.0 {
            done = leg.displacement() * done;
            points.push(done);
        }
        points.reverse();
        points
    }

    /// The route from the far end to the place, as a part is carried.
    #[must_use]
    pub fn inward(&self) -> Self {
        Self(self.0.iter().rev().map(Leg::back).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_route_carried_inward_ends_at_the_place() {
        let turn = Leg::Turn {
            through: Point3::new(3.0, -2.0, 7.0),
            axis: Unit::new_normalize(Vector3::new(1.0, 2.0, -0.5)),
            angle: 0.8,
            advance: 4.0,
        };
        let route = Route(vec![Leg::Straight(Vector3::new(0.0, 1.0, 5.0)), turn]);
        let there_and_back = route.inward().displacement_at(1.0) * route.displacement_at(1.0);
        assert!(there_and_back.translation.vector.norm() < 1e-12);
        assert!(there_and_back.rotation.angle() < 1e-12);
        let first = route.waypoints()[0];
        assert!((first.inverse() * route.displacement_at(1.0)).translation.vector.norm() < 1e-12);
    }

    #[test]
    fn a_route_and_the_engines_motion_agree() {
        let turn = Leg::Turn {
            through: Point3::new(3.0, -2.0, 7.0),
            axis: Vector3::y_axis(),
            angle: 1.1,
            advance: 0.0,
        };
        let route = Route(vec![turn, Leg::Straight(Vector3::new(0.0, 1.0, 5.0)), turn]);
        let body = Isometry3::new(Vector3::new(1.0, 2.0, 3.0), Vector3::new(0.3, 0.1, -0.4));
        let motion = Route::motion_of(&route.0, &body).unwrap();
        for s in [0.0, 0.2, 0.5, 0.9, 1.0] {
            let plate = body * motion.pose_at(s) * body.inverse();
            let off = plate.inverse() * route.displacement_at(s);
            assert!(off.translation.vector.norm() < 1e-9 && off.rotation.angle() < 1e-9, "{s}");
        }
    }
}
