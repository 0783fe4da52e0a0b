//! How far a part can move between two poses.
//!
//! When no point of a part moves farther than `mu`, the gap changes by at most `mu` and so does
//! the depth of an overlap. So a gap of `need + e` at one pose clears every pose reached by a
//! motion of bound `mu <= e`, and a depth of `e` blocks every pose reached with `mu < e`. Bounds
//! of motions done one after the other add.

use nalgebra::{Point3, Vector3};

use crate::solid::Solid;

/// Room for the rounding of a few operations, so that a bound is never short.
const ROUNDING: f64 = 1.0 + 8.0 * f64::EPSILON;

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
    let axis = direction.try_normalize(f64::MIN_POSITIVE)?;
    if solid.usable().is_err() || !through.iter().all(|c| c.is_finite()) {
        return None;
    }
    // A triangle's farthest point from a line is a corner: the distance is a convex function.
    let farthest = solid
        .corners()
        .iter()
        .flatten()
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
