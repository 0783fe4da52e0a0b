//! A query at one pose that holds for every pose near it.

use nalgebra::Isometry3;

use crate::motion;
use crate::overlap::least_depth;
use crate::query::{Proximity, gap};
use crate::solid::{Solid, Undecided};

/// How far `b` may move from `a_from_b` and still be clear of `a`, millimetres: at every pose to
/// which no point of `b` moves farther than this, the gap is at least `need`. Compare with
/// [`motion::end_bound`] for a pose and [`motion::way_bound`] or [`motion::Travel::between`] for
/// a way. `None` when the pose itself is not clear: the gap is less, or they overlap or touch.
///
/// `enough` is the radius beyond which no more is wanted, infinity for all there is: a small one
/// makes the query some twenty times cheaper. A need below zero is zero, and then the bodies stay
/// apart, not even touching.
///
/// The proof is one of solids. Where a body is open, inside and outside shade into one another:
/// there the surfaces keep the distance all the same, but that neither body holds the other is
/// known at `a_from_b` only.
///
/// # Errors
/// When it cannot be decided; [`Undecided::BadPoint`] for a need or `enough` that is not a number.
pub fn certified_clear(
    a: &Solid,
    b: &Solid,
    a_from_b: &Isometry3<f64>,
    need: f64,
    enough: f64,
) -> Result<Option<f64>, Undecided> {
    if need.is_nan() || enough.is_nan() {
        return Err(Undecided::BadPoint);
    }
    let need = need.max(0.0);
    let rounding = rounding(a, b, a_from_b);
    match gap(a, b, a_from_b, need + enough.max(0.0) + rounding) {
        Proximity::Apart(gap) if gap.distance < need => Ok(None),
        Proximity::Apart(gap) => {
            Ok(Some((gap.distance - need - rounding).clamp(0.0, enough.max(0.0))))
        }
        Proximity::AtLeast(_) => Ok(Some(enough.max(0.0))),
        Proximity::Overlapping => Ok(None),
        Proximity::CannotDecide(why) => Err(why),
    }
}

/// How far `b` may move from `a_from_b` and still overlap `a`, millimetres: at every pose to which
/// all points of `b` move less than this, the bodies overlap. It is the certified depth of
/// [`least_depth`], whose search ends at `enough`: a point of one body that deep inside the other
/// cannot get out by less. Zero when they overlap but no such point is found, `None` when they do
/// not overlap.
///
/// # Errors
/// When it cannot be decided, and [`Undecided::Open`] when they overlap but one of them is open:
/// a point can leave an open body without meeting its surface.
pub fn certified_blocked(
    a: &Solid,
    b: &Solid,
    a_from_b: &Isometry3<f64>,
    enough: f64,
) -> Result<Option<f64>, Undecided> {
    match gap(a, b, a_from_b, 0.0) {
        Proximity::Overlapping if !(a.is_closed() && b.is_closed()) => Err(Undecided::Open),
        Proximity::Overlapping => {
            let depth = least_depth(a, b, a_from_b, enough).map_or(0.0, |(depth, _)| depth);
            Ok(Some((depth - rounding(a, b, a_from_b)).max(0.0)))
        }
        Proximity::Apart(_) | Proximity::AtLeast(_) => Ok(None),
        Proximity::CannotDecide(why) => Err(why),
    }
}

/// What rounding can make of a distance, of the query or of two poses, millimetres.
pub(crate) fn rounding(a: &Solid, b: &Solid, a_from_b: &Isometry3<f64>) -> f64 {
    let reach = |solid: &Solid| {
        let bounds = solid.bounds().map(|bounds| motion::corners(&bounds));
        bounds.iter().flatten().fold(0.0_f64, |most, c| most.max(c.coords.norm()))
    };
    let shift = a_from_b.translation.vector.norm();
    512.0 * f64::EPSILON * (reach(a) + 3.0 * reach(b) + 2.0 * shift)
}
