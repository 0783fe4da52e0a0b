//! What was found between two solids, and the kit's contacts, which are the same in every placement.

use crate::scene::Shape;
use crate::situation::boxes_meet;
use gap::{Gap, Proximity, Solid, Undecided};
use measure::Interval;
use nalgebra::{Isometry3, Point3, Quaternion, Translation3, UnitQuaternion};
use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};

/// What a query found between two solids `a` and `b`, in the frame of `a`, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Found {
    /// At least so far apart.
    Beyond(f64),
    /// Apart.
    Apart(Gap),
    /// They overlap: minus the depth, and where. Touching without depth has no place.
    Deep(Interval, Option<Point3<f64>>),
    /// The meshes do not let the query decide.
    Undecided(Undecided),
}

impl Found {
    /// Asks for the distance as far as `cap`, and for the `depth` of an overlap.
    pub(crate) fn between(
        [a, b]: [&Solid; 2],
        a_from_b: &Isometry3<f64>,
        cap: f64,
        depth: impl Fn(&Solid, &Solid, &Isometry3<f64>) -> Option<(Interval, Point3<f64>)>,
    ) -> Self {
        match gap::gap(a, b, a_from_b, cap) {
            Proximity::AtLeast(least) => Self::Beyond(least),
            Proximity::Apart(found) => Self::Apart(found),
            Proximity::CannotDecide(why) => Self::Undecided(why),
            Proximity::Overlapping => depth(a, b, a_from_b)
                .map_or(Self::Deep(Interval::exactly(0.0), None), |(depth, at)| {
                    Self::Deep(depth, Some(at))
                }),
        }
    }

    /// A contact by design: of an overlap only the certified least depth is measured, since surfaces
    /// that lie on each other have no short way out to be found.
    pub(crate) fn contact(solids: [&Solid; 2], a_from_b: &Isometry3<f64>, cap: f64) -> Self {
        Self::touching(solids, a_from_b, cap, f64::INFINITY)
    }

    /// The same of a part that stands on a body of the car top. Where not even the boxes around them run
    /// into each other there is no depth to be looked for, which would take the longest just there.
    pub(crate) fn standing(solids: [&Solid; 2], a_from_b: &Isometry3<f64>, cap: f64) -> Self {
        let [a, b] = solids.map(Solid::bounds);
        let may_be_deep = match (a, b) {
            (Some(a), Some(b)) => boxes_meet(&a, &b, &a_from_b.inverse(), -Contacts::NOTHING),
            _ => true,
        };
        Self::touching(solids, a_from_b, cap, if may_be_deep { f64::INFINITY } else { 0.0 })
    }

    /// A contact whose depth is looked for as far as `enough`, mm.
    fn touching(solids: [&Solid; 2], a_from_b: &Isometry3<f64>, cap: f64, enough: f64) -> Self {
        Self::between(solids, a_from_b, cap, |a, b, a_from_b| {
            let (depth, at) = gap::least_depth(a, b, a_from_b, enough)?;
            Some((Interval::exactly(-depth), at))
        })
    }
}

/// Steps to which the pose between two parts in contact is rounded, mm and as the components of a
/// quaternion. No point of a part as long as the clamp bar moves by [`Contacts::ROUNDING`].
const STEPS: (f64, f64) = (1e-6, 1e-10);

/// Two shapes, the pose between them in [`STEPS`], how far is looked.
type Key = (Shape, Shape, [i64; 7], u64);

/// The contacts between the shapes of a kit that were measured so far. Most parts of a rig that touch
/// stand to each other in the same way in every placement.
#[derive(Debug, Default)]
pub(crate) struct Contacts {
    known: Mutex<HashMap<Key, Found>>,
}

impl Contacts {
    /// What is found may be off by this much for the rounding of the pose, mm.
    pub(crate) const ROUNDING: f64 = 2e-6;
    /// A depth that is none, mm: what rounding may do to boxes.
    const NOTHING: f64 = 1e-9;

    /// The contact of two shapes. It depends on the arguments alone, not on what was measured before.
    pub(crate) fn of(
        &self,
        shapes: [Shape; 2],
        solids: [&Solid; 2],
        a_from_b: &Isometry3<f64>,
        cap: f64,
    ) -> Found {
        let Some((steps, a_from_b)) = rounded(a_from_b) else {
            return Found::contact(solids, a_from_b, cap);
        };
        let key = (shapes[0], shapes[1], steps, cap.to_bits());
        let known = || self.known.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(found) = known().get(&key) {
            return *found;
        }
        let found = Found::contact(solids, &a_from_b, cap);
        known().insert(key, found);
        found
    }
}

/// A pose rounded to [`STEPS`]; `None` if it is not finite or too far out for that.
#[expect(clippy::cast_possible_truncation, reason = "checked to be far within an i64's range")]
fn rounded(pose: &Isometry3<f64>) -> Option<([i64; 7], Isometry3<f64>)> {
    const FARTHEST: f64 = 1e15;
    let shift = pose.translation.vector / STEPS.0;
    let turn = pose.rotation.coords / STEPS.1;
    // A turn and its negative are the same.
    let turn = if turn.w < 0.0 { -turn } else { turn };
    let within = |c: &f64| c.abs() < FARTHEST;
    if !(shift.iter().all(within) && turn.iter().all(within)) {
        return None;
    }
    let (shift, turn) = (shift.map(f64::round), turn.map(f64::round));
    let steps = [shift.x, shift.y, shift.z, turn.x, turn.y, turn.z, turn.w].map(|c| c as i64);
    let rotation = UnitQuaternion::new_normalize(Quaternion::from_vector(turn));
    Some((steps, Isometry3::from_parts(Translation3::from(shift * STEPS.0), rotation)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{Vector3, vector};

    #[test]
    fn rounding_moves_no_point_by_what_is_allowed_for_it() {
        for i in 0..1000 {
            let i = f64::from(i);
            let pose = Isometry3::new(
                vector![(i * 0.37).sin(), i.cos(), (1.3 * i).sin()] * 400.0,
                vector![i.sin(), (2.1 * i).cos(), (0.7 * i).sin()] * 3.0,
            );
            let (_, near) = rounded(&pose).unwrap();
            let far = Point3::from(vector![i.cos(), (0.9 * i).sin(), 1.0].normalize() * 900.0);
            assert!((pose * far - near * far).norm() < Contacts::ROUNDING);
        }
    }

    #[test]
    fn a_pose_off_by_rounding_is_the_same_pose() {
        let pose = Isometry3::new(vector![10.0, -3.25, 1e-13], Vector3::zeros());
        let mut off = pose;
        off.translation.x += 1e-13;
        off.rotation = UnitQuaternion::new_normalize(Quaternion::new(-1.0, 1e-16, -1e-16, 0.0));
        assert_eq!(rounded(&pose).unwrap().0, rounded(&off).unwrap().0);
    }

    #[test]
    fn a_pose_that_is_no_number_is_not_rounded() {
        let pose = Isometry3::translation(f64::NAN, 0.0, 0.0);
        assert!(rounded(&pose).is_none());
    }
}
