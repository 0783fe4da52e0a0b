//! Where a body is straight up and down, so that it can be made longer or shorter there.

use crate::{Body, Mesh};
use std::cmp::Ordering;

/// The ranges of height, `[low, high]` in mm, in which a body's surface is upright: no vertex lies
/// between and every triangle that reaches across leans by no more than the body's deviation. A
/// body without triangles has none.
///
/// Within such a range the true body is the same at every height, as far as its deviation tells, so
/// that moving all that lies above by less than the range is long gives the longer or shorter body
/// within the same deviation.
pub fn straight_ranges(body: &Body) -> Vec<[f64; 2]> {
    /// Bodies that are given as exact still have the rounding of their coordinates.
    const ROUNDING: f64 = 1e-6;
    let mesh = &body.mesh;
    let mut heights: Vec<f64> = corners(mesh).map(|[a, ..]| a.z).collect();
    heights.extend(corners(mesh).flat_map(|[_, b, c]| [b.z, c.z]));
    if heights.iter().any(|z| !z.is_finite()) {
        return Vec::new();
    }
    heights.sort_by(f64::total_cmp);
    heights.dedup();
    let ranges = heights.windows(2).map(|w| [w[0], w[1]]);
    let mut lean: Vec<f64> = ranges.clone().map(|_| 0.0).collect();
    for [a, b, c] in corners(mesh) {
        let (low, high) = (a.z.min(b.z).min(c.z), a.z.max(b.z).max(c.z));
        let normal = (b - a).cross(&(c - a));
        let level = normal.xy().norm();
        let slope = if level > 0.0 { normal.z.abs() / level } else { f64::INFINITY };
        let from = heights.partition_point(|z| z.total_cmp(&low) == Ordering::Less);
        let to = heights.partition_point(|z| z.total_cmp(&high) == Ordering::Less);
        for range in from..to {
            lean[range] = lean[range].max(slope * (heights[range + 1] - heights[range]));
        }
    }
    let most = body.deviation.bound.max(ROUNDING);
    ranges.zip(lean).filter(|(_, lean)| *lean <= most).map(|(range, _)| range).collect()
}

fn corners(mesh: &Mesh) -> impl Iterator<Item = [nalgebra::Point3<f64>; 3]> + '_ {
    (0..mesh.triangles.len()).map(|t| mesh.corners(t))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::build::{ChordError, block, cylinder, revolve};
    use crate::{Deviation, soundness, volume};
    use nalgebra::{Point2, Point3};

    fn body(mesh: Mesh, bound: f64) -> Body {
        Body { name: String::new(), mesh, deviation: Deviation { bound, basis: String::new() } }
    }

    #[test]
    fn a_stem_on_a_flange_is_straight_in_both() {
        let chord = ChordError::from_mm(0.05).unwrap();
        let mut mesh =
            cylinder(Point3::origin(), Point3::new(0.0, 0.0, 20.0), 60.0, chord).unwrap();
        let stem = cylinder(Point3::new(0.0, 0.0, 20.0), Point3::new(0.0, 0.0, 90.0), 10.0, chord);
        mesh.append(&stem.unwrap());
        assert_eq!(straight_ranges(&body(mesh, 0.0)), [[0.0, 20.0], [20.0, 90.0]]);
    }

    #[test]
    fn a_cone_is_not_straight_unless_it_leans_less_than_it_may_be_off() {
        let chord = ChordError::from_mm(0.05).unwrap();
        let p = Point2::new;
        let cone =
            revolve(&[p(0.0, 0.0), p(10.0, 0.0), p(9.0, 50.0), p(0.0, 50.0)], chord).unwrap();
        assert_eq!(straight_ranges(&body(cone.clone(), 0.9)), Vec::<[f64; 2]>::new());
        assert_eq!(straight_ranges(&body(cone, 1.1)), [[0.0, 50.0]]);
    }

    #[test]
    fn what_is_moved_within_a_range_stays_sound_and_grows_by_its_section() {
        let mut mesh = block(Point3::origin(), Point3::new(4.0, 5.0, 10.0)).unwrap();
        let [low, high] = straight_ranges(&body(mesh.clone(), 0.0))[0];
        assert!(low.abs() < 1e-12 && (high - 10.0).abs() < 1e-12);
        for v in mesh.vertices.iter_mut().filter(|v| v.z >= high) {
            v.z -= 3.0;
        }
        assert!(soundness(&mesh).is_sound());
        assert!((volume(&mesh) - 4.0 * 5.0 * 7.0).abs() < 1e-9);
    }
}
