//! A checked rigid pose in the form the inner loops want: a matrix and a translation.

use nalgebra::{Isometry3, Matrix3, Point3, UnitQuaternion, Vector3};

use crate::solid::{LARGEST, Undecided};

/// How far the squared norm of a pose's quaternion may be from one before it is refused.
const UNIT_TOLERANCE: f64 = 1e-9;

/// A vector of length one along `v`, however short or long that is; `None` for one without a length
/// or with a component that is not finite.
pub(crate) fn unit(v: &Vector3<f64>) -> Option<Vector3<f64>> {
    let largest = v.amax();
    // Scaled first, so that the squares neither vanish nor overflow.
    (largest > 0.0 && v.iter().all(|c| c.is_finite())).then(|| (v / largest).normalize())
}

/// Takes points of one frame into another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Pose {
    pub(crate) turn: Matrix3<f64>,
    pub(crate) shift: Vector3<f64>,
}

impl Pose {
    /// The pose, or [`Undecided::BadPose`] when it is not finite, not a rotation, or farther away
    /// than [`LARGEST`].
    pub(crate) fn new(isometry: &Isometry3<f64>) -> Result<Self, Undecided> {
        let shift = isometry.translation.vector;
        let norm = isometry.rotation.as_ref().norm_squared();
        let usable =
            (norm - 1.0).abs() <= UNIT_TOLERANCE && shift.iter().all(|c| c.abs() <= LARGEST);
        if !usable {
            return Err(Undecided::BadPose);
        }
        let rotation = UnitQuaternion::new_normalize(*isometry.rotation.as_ref());
        Ok(Self { turn: *rotation.to_rotation_matrix().matrix(), shift })
    }

    pub(crate) fn inverse(&self) -> Self {
        let back = self.turn.transpose();
        Self { turn: back, shift: -(back * self.shift) }
    }

    /// This pose done after `first`.
    #[inline]
    pub(crate) fn after(&self, first: &Self) -> Self {
        Self { turn: self.turn * first.turn, shift: self.turn * first.shift + self.shift }
    }

    /// The same pose followed by a translation.
    pub(crate) fn moved(&self, by: &Vector3<f64>) -> Self {
        Self { turn: self.turn, shift: self.shift + by }
    }

    #[inline]
    pub(crate) fn apply(&self, point: &Point3<f64>) -> Point3<f64> {
        Point3::from(self.turn * point.coords + self.shift)
    }

    #[inline]
    pub(crate) fn apply_all(&self, corners: &[Point3<f64>; 3]) -> [Point3<f64>; 3] {
        [self.apply(&corners[0]), self.apply(&corners[1]), self.apply(&corners[2])]
    }
}
